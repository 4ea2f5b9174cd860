/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where things are on the sheet and in the view, and moving about: zoom, pan, walking along the wires. */
#include <math.h>

#include "desktop/canvas-private.h"

#define REACH_PX 12.0
#define ZOOM_STEP 1.25
#define REST_MS 120 /* after the last step of a zoom it is painted anew */
#define LARGEST_TEXT_ZOOM 15.0 /* px per g: from here on a picture grows and the text on it does not */
#define MOST_MAGNIFIED 24.0
#define LARGEST_SHEET_G 3000.0 /* a magnified picture's longer side */

MlHit
ml_canvas_hit (MlCanvas *self, double x_px, double y_px)
{
  MlPoint at = ml_viewport_to_sheet (&self->viewport, x_px, y_px);
  return ml_scene_hit (ml_canvas_scene (self), at.x, at.y, REACH_PX / self->viewport.zoom);
}

MlBox
ml_canvas_place_box (MlCanvas *self, int part, int pin)
{
  const MlScene *scene = ml_canvas_scene (self);
  int at = pin >= 0 ? ml_scene_pin (scene, part, pin) : -1;
  if (at >= 0)
    {
      MlPoint p = scene->pins[at].at;
      return (MlBox){ p.x - 0.5, p.y - 0.5, p.x + 0.5, p.y + 0.5 };
    }
  int symbol = part >= 0 ? ml_scene_symbol (scene, part) : -1;
  return symbol >= 0 ? scene->symbols[symbol].body : (MlBox){ 0, 0, 0, 0 };
}

gboolean
ml_canvas_shows (MlCanvas *self, int part, int pin)
{
  const MlScene *scene = ml_canvas_scene (self);
  return pin >= 0 ? ml_scene_pin (scene, part, pin) >= 0 : ml_scene_symbol (scene, part) >= 0;
}

gboolean
ml_canvas_nearest_pin (MlCanvas *self, int net, MlPoint at, int *ret_part, int *ret_pin)
{
  const MlScene *scene = ml_canvas_scene (self);
  double best = INFINITY;
  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      double distance = hypot (pin->at.x - at.x, pin->at.y - at.y);
      if (pin->net != net || distance >= best)
        continue;
      best = distance;
      *ret_part = pin->part;
      *ret_pin = pin->pin;
    }
  return isfinite (best);
}

/* ---- moving about ---- */

static void
moved (MlCanvas *self)
{
  gtk_widget_queue_allocate (GTK_WIDGET (self));
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

/* The scene is another one, as much larger. */
static void
magnify_by (MlCanvas *self, double factor, double x_px, double y_px)
{
  self->magnify *= factor;
  if (self->magnify < 1.0 + 1e-9)
    self->magnify = 1.0;
  g_clear_pointer (&self->magnified, ml_scene_unref);
  self->marks_version++;
  ml_viewport_stretch (&self->viewport, factor, x_px, y_px);
  self->panel_at = (MlBox){ factor * self->panel_at.x0, factor * self->panel_at.y0, factor * self->panel_at.x1, factor * self->panel_at.y1 };
  ml_canvas_forget_rooms (self);
  ml_canvas_take_extent (self, ML_EXTENT_ANEW);
}

static double
most_magnified (MlCanvas *self)
{
  const MlBox *sheet = &ml_document_picture_scene (self->document)->picture->sheet;
  return CLAMP (LARGEST_SHEET_G / MAX (sheet->x1, sheet->y1), 1.0, MOST_MAGNIFIED);
}

/* Which share of a zoom goes to the sheet of a picture instead of the view: what would make the text on it larger than it is ever read. */
static double
share_of_sheet (MlCanvas *self, double factor)
{
  if (self->view != ML_CANVAS_PICTURE)
    return 1.0;
  if (factor < 1.0)
    return MAX (factor, 1.0 / self->magnify);
  return MIN (factor / CLAMP (LARGEST_TEXT_ZOOM / self->viewport.zoom, 1.0, factor), MAX (1.0, most_magnified (self) / self->magnify));
}

void
ml_canvas_release (MlCanvas *self)
{
  ml_viewport_release (&self->viewport);
  moved (self);
}

MlLook
ml_canvas_look (MlCanvas *self)
{
  MlLook look = self->wants_look ? self->wanted_look : ml_viewport_look (&self->viewport);
  if (self->magnify > 1.0 && !self->wants_look) /* a photo beyond the viewport's own zoom lies on a larger sheet */
    look = (MlLook){ look.zoom * self->magnify, { look.middle.x / self->magnify, look.middle.y / self->magnify }, look.fitted };
  return look;
}

void
ml_canvas_look_at (MlCanvas *self, const MlLook *look)
{
  self->wanted_look = *look;
  self->wants_look = TRUE;
  gtk_widget_queue_allocate (GTK_WIDGET (self));
}

void
ml_canvas_take_look (MlCanvas *self)
{
  if (!self->wants_look || !gtk_widget_get_mapped (GTK_WIDGET (self)) || (self->view == ML_CANVAS_CIRCUIT && ml_document_is_drawing (self->document)))
    return;
  self->wants_look = FALSE;
  ml_viewport_look_at (&self->viewport, &self->wanted_look);
}

void
ml_canvas_keep_off_corner (MlCanvas *self, int width_px, int height_px)
{
  if (self->viewport.corner_width_px == width_px && self->viewport.corner_height_px == height_px)
    return;
  ml_viewport_set_corner (&self->viewport, width_px, height_px);
  moved (self);
}

void
ml_canvas_fit (MlCanvas *self)
{
  if (self->magnify > 1.0)
    magnify_by (self, 1.0 / self->magnify, 0.0, 0.0);
  ml_viewport_fit (&self->viewport);
  ml_canvas_take_extent (self, ML_EXTENT_ANEW);
  moved (self);
}

static gboolean
at_rest_cb (gpointer data)
{
  MlCanvas *self = data;
  self->zooming = 0;
  gtk_widget_queue_draw (GTK_WIDGET (self)); /* sharp again */
  return G_SOURCE_REMOVE;
}

static void
zoom_changes (MlCanvas *self)
{
  g_clear_handle_id (&self->zooming, g_source_remove);
  self->zooming = g_timeout_add (REST_MS, at_rest_cb, self);
}

void
ml_canvas_zoom_at (MlCanvas *self, double factor, double x_px, double y_px)
{
  double sheet = share_of_sheet (self, factor);
  if (fabs (sheet - 1.0) > 1e-9)
    magnify_by (self, sheet, x_px, y_px);
  if (self->view == ML_CANVAS_CIRCUIT || factor < 1.0 || self->viewport.zoom * factor / sheet <= LARGEST_TEXT_ZOOM * 1.01)
    {
      ml_viewport_zoom_at (&self->viewport, factor / sheet, x_px, y_px);
      zoom_changes (self);
    }
  moved (self);
}

static void
zoom_by (MlCanvas *self, double factor)
{
  MlPoint at = { self->viewport.width_px / 2.0, self->viewport.height_px / 2.0 };
  ml_canvas_zoom_at (self, factor, self->pointer_inside ? self->pointer.x : at.x, self->pointer_inside ? self->pointer.y : at.y);
}

void
ml_canvas_zoom_in (MlCanvas *self)
{
  zoom_by (self, ZOOM_STEP);
}

void
ml_canvas_zoom_out (MlCanvas *self)
{
  zoom_by (self, 1.0 / ZOOM_STEP);
}

void
ml_canvas_pan_by (MlCanvas *self, double dx_px, double dy_px)
{
  ml_viewport_pan_by (&self->viewport, dx_px, dy_px);
  moved (self);
}

void
ml_canvas_reveal_box (MlCanvas *self, MlBox box)
{
  if (ml_viewport_reveal (&self->viewport, box))
    moved (self);
}

void
ml_canvas_reveal (MlCanvas *self, int part, int pin)
{
  if (part >= 0 && ml_canvas_shows (self, part, pin))
    ml_canvas_reveal_box (self, ml_canvas_place_box (self, part, pin));
}

gboolean
ml_canvas_place_rect (MlCanvas *self, int part, int pin, GdkRectangle *ret_rect)
{
  if (part < 0 || !ml_canvas_shows (self, part, pin))
    return FALSE;
  MlBox box = ml_canvas_place_box (self, part, pin);
  MlPoint low = ml_viewport_to_view (&self->viewport, box.x0, box.y0), high = ml_viewport_to_view (&self->viewport, box.x1, box.y1);
  *ret_rect = (GdkRectangle){ (int) low.x, (int) low.y, MAX ((int) (high.x - low.x), 1), MAX ((int) (high.y - low.y), 1) };
  return TRUE;
}

void
ml_canvas_select_and_focus (MlCanvas *self, int part, int pin)
{
  ml_document_select (self->document, part, pin);
  ml_canvas_measure_selected (self);
  ml_canvas_reveal (self, part, pin);
  ml_canvas_focus_selection (self);
}

void
ml_canvas_walk (MlCanvas *self, MlSide direction)
{
  int part, pin, next_part, next_pin;
  const MlScene *scene = ml_canvas_scene (self);
  if (ml_canvas_hand_walk (self, direction) || ml_canvas_pin_walk (self, direction))
    return;
  ml_document_selected (self->document, &part, &pin);
  if (part < 0 || !ml_canvas_shows (self, part, pin))
    {
      if (scene->n_symbols > 0)
        ml_canvas_select_and_focus (self, scene->symbols[0].part, -1);
      return;
    }
  if (ml_scene_neighbour (scene, part, pin, direction, &next_part, &next_pin))
    ml_canvas_select_and_focus (self, next_part, next_pin);
}

gboolean
ml_canvas_cancel (MlCanvas *self)
{
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (ml_canvas_open_panel (self))
    ml_canvas_close_panels (self);
  else if (self->doing == ML_DOING_PICK)
    ml_canvas_end_pick (self, NULL);
  else if (self->doing != ML_DOING_NOTHING)
    ml_canvas_draw_stop (self);
  else if (ml_document_supposed (self->document))
    ml_document_suppose (self->document, NULL);
  else if (part >= 0 || ml_document_red (self->document))
    {
      ml_canvas_measure_stop (self);
      ml_canvas_select_and_focus (self, -1, -1);
    }
  else
    return FALSE;
  return TRUE;
}
