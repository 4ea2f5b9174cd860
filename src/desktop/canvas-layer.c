/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/canvas-layer.h"

#include <math.h>

#define ROOM 0.15        /* of the view, kept on each side for panning */
#define ROOM_MOVING 0.35 /* so that zooming out finds something for some steps */

static MlBox
view_box (const MlViewport *viewport)
{
  MlPoint low = viewport->origin, high = ml_viewport_to_sheet (viewport, viewport->width_px, viewport->height_px);
  return (MlBox){ low.x, low.y, high.x, high.y };
}

/* The whole drawing if it is not much larger than the view, else what is in view and some room to pan: each zoom paints it anew. */
static MlBox
box_to_paint (MlBox extent, const MlViewport *viewport, double room)
{
  MlBox whole = { floor (extent.x0) - 1, floor (extent.y0) - 1, ceil (extent.x1) + 1, ceil (extent.y1) + 1 }, view = view_box (viewport);
  double room_x = room * (view.x1 - view.x0), room_y = room * (view.y1 - view.y0);
  MlBox near = { view.x0 - room_x, view.y0 - room_y, view.x1 + room_x, view.y1 + room_y };
  return (MlBox){ MAX (whole.x0, near.x0), MAX (whole.y0, near.y0), MAX (MIN (whole.x1, near.x1), whole.x0), MAX (MIN (whole.y1, near.y1), whole.y0) };
}

/* What must be there for this view. */
static MlBox
box_in_view (MlBox extent, const MlViewport *viewport)
{
  MlBox view = view_box (viewport);
  return (MlBox){ MAX (extent.x0, view.x0), MAX (extent.y0, view.y0), MIN (extent.x1, view.x1), MIN (extent.y1, view.y1) };
}

static gboolean
contains (MlBox outer, MlBox inner)
{
  return inner.x0 >= inner.x1 || inner.y0 >= inner.y1 || (outer.x0 <= inner.x0 && outer.y0 <= inner.y0 && outer.x1 >= inner.x1 && outer.y1 >= inner.y1);
}

static gboolean
serves (const MlCanvasLayer *self, const MlCanvasLayer *wanted, MlBox in_view, gboolean moving)
{
  return self->surface && self->version == wanted->version && (moving || self->zoom == wanted->zoom)
         && self->scale == wanted->scale && self->paper == wanted->paper && contains (self->box, in_view);
}

static void
repaint (MlCanvasLayer *self, const MlCanvasLayerSource *source)
{
  double device = self->zoom * self->scale;
  int width = (int) ceil ((self->box.x1 - self->box.x0) * device), height = (int) ceil ((self->box.y1 - self->box.y0) * device);
  self->surface = cairo_image_surface_create (CAIRO_FORMAT_ARGB32, MAX (width, 1), MAX (height, 1));
  cairo_t *cr = cairo_create (self->surface);
  cairo_scale (cr, device, device);
  cairo_translate (cr, -self->box.x0, -self->box.y0);
  source->paint (cr, device, source->data);
  cairo_destroy (cr);
}

void
ml_canvas_layer_paint (MlCanvasLayer *self, cairo_t *cr, const MlCanvasLayerSource *source, const MlViewport *viewport, int scale, gboolean moving)
{
  MlBox box = box_to_paint (source->extent, viewport, moving ? ROOM_MOVING : ROOM);
  MlCanvasLayer wanted = { NULL, box, source->version, viewport->zoom, scale, source->paper };
  if (!serves (self, &wanted, box_in_view (source->extent, viewport), moving))
    {
      ml_canvas_layer_clear (self);
      *self = wanted;
      repaint (self, source);
    }
  MlPoint at = ml_viewport_to_view (viewport, self->box.x0, self->box.y0);
  double stretch = viewport->zoom / self->zoom;
  cairo_save (cr);
  /* On whole device pixels, so that what was painted sharp stays sharp. */
  cairo_translate (cr, round (at.x * scale) / scale, round (at.y * scale) / scale);
  cairo_scale (cr, stretch / scale, stretch / scale);
  cairo_set_source_surface (cr, self->surface, 0, 0);
  if (stretch != 1.0)
    cairo_pattern_set_filter (cairo_get_source (cr), CAIRO_FILTER_BILINEAR);
  cairo_paint (cr);
  cairo_restore (cr);
}

void
ml_canvas_layer_clear (MlCanvasLayer *self)
{
  g_clear_pointer (&self->surface, cairo_surface_destroy);
}
