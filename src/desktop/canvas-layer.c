/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/canvas-layer.h"

#include <math.h>

static MlBox
view_box (const MlViewport *viewport)
{
  MlPoint low = viewport->origin, high = ml_viewport_to_sheet (viewport, viewport->width_px, viewport->height_px);
  return (MlBox){ low.x, low.y, high.x, high.y };
}

/* The whole drawing if it is small enough at this zoom, else what is in view. */
static MlBox
box_to_paint (const MlScene *scene, const MlViewport *viewport, int scale)
{
  MlBox extent = scene->extent;
  MlBox whole = { floor (extent.x0) - 1, floor (extent.y0) - 1, ceil (extent.x1) + 1, ceil (extent.y1) + 1 };
  double device = viewport->zoom * scale;
  gboolean small = (whole.x1 - whole.x0) * device <= ML_CANVAS_LAYER_MAX && (whole.y1 - whole.y0) * device <= ML_CANVAS_LAYER_MAX;
  return small ? whole : view_box (viewport);
}

static gboolean
contains (MlBox outer, MlBox inner)
{
  return outer.x0 <= inner.x0 && outer.y0 <= inner.y0 && outer.x1 >= inner.x1 && outer.y1 >= inner.y1;
}

static gboolean
serves (const MlCanvasLayer *self, const MlCanvasLayer *wanted)
{
  return self->surface && self->scene == wanted->scene && self->version == wanted->version && self->zoom == wanted->zoom
         && self->scale == wanted->scale && self->paper == wanted->paper && contains (self->box, wanted->box);
}

static void
repaint (MlCanvasLayer *self)
{
  double device = self->zoom * self->scale;
  int width = (int) ceil ((self->box.x1 - self->box.x0) * device), height = (int) ceil ((self->box.y1 - self->box.y0) * device);
  self->surface = cairo_image_surface_create (CAIRO_FORMAT_ARGB32, MAX (width, 1), MAX (height, 1));
  cairo_t *cr = cairo_create (self->surface);
  MlPaintStyle style = { .paper = self->paper, .scale = device };
  cairo_scale (cr, device, device);
  cairo_translate (cr, -self->box.x0, -self->box.y0);
  ml_paint_scene (cr, self->scene, &style);
  cairo_destroy (cr);
}

void
ml_canvas_layer_paint (MlCanvasLayer *self, cairo_t *cr, const MlScene *scene, guint version, const MlViewport *viewport, int scale,
                       MlPaper paper)
{
  MlCanvasLayer wanted
    = { NULL, box_to_paint (scene, viewport, scale), scene, version, viewport->zoom, scale, paper };
  if (!serves (self, &wanted))
    {
      ml_canvas_layer_clear (self);
      *self = wanted;
      repaint (self);
    }
  MlPoint at = ml_viewport_to_view (viewport, self->box.x0, self->box.y0);
  cairo_save (cr);
  /* On whole device pixels, so that what was painted sharp stays sharp. */
  cairo_translate (cr, round (at.x * scale) / scale, round (at.y * scale) / scale);
  cairo_scale (cr, 1.0 / scale, 1.0 / scale);
  cairo_set_source_surface (cr, self->surface, 0, 0);
  cairo_paint (cr);
  cairo_restore (cr);
}

void
ml_canvas_layer_clear (MlCanvasLayer *self)
{
  g_clear_pointer (&self->surface, cairo_surface_destroy);
}
