/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pinning the board's parts onto its picture: the program asks for one pin after the other, a click says where its pad is. Also moving pads,
 * turning the picture, and its scale from two points. */
#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/canvas-private.h"
#include "desktop/line-entry.h"
#include "drawing/paint-photo.h"

#define NUDGE_PX 1.0

gboolean
ml_canvas_pins (MlCanvas *self)
{
  return self->view == ML_CANVAS_PICTURE && self->mode == ML_CANVAS_DRAW;
}

static int
picture_of (MlCanvas *self)
{
  int picture = ml_document_picture (self->document);
  if (picture < 0)
    ml_canvas_fail (self, "Load a picture of the board first: drop a photo here, or take it from the menu");
  return picture;
}

/* Text NULL: the edit could not be done, and error says why. Both are given up. */
static gboolean
apply (MlCanvas *self, MlText *text, GError *error, const char *label, const char *merge)
{
  if (!text)
    {
      ml_canvas_fail_error (self, error);
      g_clear_error (&error);
      return FALSE;
    }
  ml_document_apply (self->document, text, NULL, label, merge);
  ml_text_unref (text);
  return TRUE;
}

/* ---- which pin is asked for ---- */

static gboolean
is_pinned (MlCanvas *self, int part, int pin)
{
  return ml_board_find_pad (ml_document_board (self->document), ml_document_picture (self->document), part, pin) >= 0;
}

static gboolean
exists (const MlBoard *board, int part, int pin)
{
  return part >= 0 && (guint) part < board->n_parts && pin >= 0 && (guint) pin < board->parts[part].n_pins;
}

static void
ask (MlCanvas *self, int part, int pin)
{
  self->pinning.part = part;
  self->pinning.pin = pin;
  if (part >= 0)
    ml_document_select (self->document, part, pin);
  ml_canvas_update_hint (self);
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

static void
ask_next (MlCanvas *self, int part, int pin, int step)
{
  int next_part = -1, next_pin = -1;
  if (!ml_photo_next_unpinned (ml_document_board (self->document), ml_document_picture (self->document), part, pin, step, &next_part, &next_pin))
    next_part = next_pin = -1;
  ask (self, next_part, next_pin);
}

/* The selection leads: a pin without a place is asked for, of a part its first such pin. */
static gboolean
follow_selection (MlCanvas *self)
{
  const MlBoard *board = ml_document_board (self->document);
  int part, pin, next_part, next_pin, picture = ml_document_picture (self->document);
  ml_document_selected (self->document, &part, &pin);
  if (part < 0)
    return FALSE;
  if (pin >= 0 && !is_pinned (self, part, pin))
    {
      self->pinning.part = part;
      self->pinning.pin = pin;
      return TRUE;
    }
  if (pin >= 0 || !ml_photo_next_unpinned (board, picture, part, -1, 1, &next_part, &next_pin) || next_part != part)
    return FALSE;
  self->pinning.part = next_part;
  self->pinning.pin = next_pin;
  return TRUE;
}

/* What was placed last is then the nearest pin with a place before that one, in the order in which they are asked for. */
static void
pinned_before (MlCanvas *self, int part, int pin)
{
  const MlBoard *board = ml_document_board (self->document);
  do
    {
      pin--;
      while (pin < 0 && --part >= 0)
        pin = (int) board->parts[part].n_pins - 1;
    }
  while (part >= 0 && !is_pinned (self, part, pin));
  self->pinning.last_part = part;
  self->pinning.last_pin = part >= 0 ? pin : -1;
}

void
ml_canvas_pin_follow (MlCanvas *self)
{
  MlPinning *pinning = &self->pinning;
  const MlBoard *board = ml_document_board (self->document);
  if (pinning->picture != ml_document_picture (self->document))
    *pinning = (MlPinning){ .picture = ml_document_picture (self->document), .part = -1, .pin = -1, .last_part = -1, .last_pin = -1 };
  if (!ml_canvas_pins (self) || ml_document_picture (self->document) < 0)
    {
      pinning->part = pinning->pin = -1;
      return;
    }
  if (exists (board, pinning->last_part, pinning->last_pin) && !is_pinned (self, pinning->last_part, pinning->last_pin))
    {
      int part = pinning->last_part, pin = pinning->last_pin; /* it was taken back: asked for again, and the next to be taken back is the one before */
      pinned_before (self, part, pin);
      ask (self, part, pin);
      return;
    }
  if (follow_selection (self))
    return;
  if (!exists (board, pinning->part, pinning->pin) || is_pinned (self, pinning->part, pinning->pin))
    {
      int part = -1, pin = -1;
      ml_photo_next_unpinned (board, ml_document_picture (self->document), exists (board, pinning->part, pinning->pin) ? pinning->part : -1,
                              pinning->pin, 1, &part, &pin);
      pinning->part = part;
      pinning->pin = pin;
    }
}

void
ml_canvas_pin_step (MlCanvas *self, int step)
{
  if (ml_canvas_pins (self) && picture_of (self) >= 0)
    ask_next (self, self->pinning.part, self->pinning.pin, step);
}

char *
ml_canvas_pin_hint (MlCanvas *self)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlPinning *pinning = &self->pinning;
  int picture = ml_document_picture (self->document);
  if (picture < 0)
    return g_strdup ("Drop a photo of the board here, or load one from the menu");
  if (board->n_parts == 0)
    return g_strdup ("Draw the parts first; then their pins are placed here");
  if (!exists (board, pinning->part, pinning->pin))
    return g_strdup ("Every pin has its place. Drag a pad to correct it, Delete takes it off.");
  return g_strdup_printf ("%s %s?  Click its pad.  %u to go; n skips it, p goes back, Backspace takes the last one off", board->parts[pinning->part].name,
                          board->parts[pinning->part].pins[pinning->pin].name, ml_photo_n_unpinned (board, picture));
}

/* ---- placing ---- */

static gboolean
on_sheet (MlCanvas *self, MlPoint at)
{
  const MlBox *sheet = &ml_canvas_scene (self)->picture->sheet;
  return at.x >= sheet->x0 && at.x <= sheet->x1 && at.y >= sheet->y0 && at.y <= sheet->y1;
}

static void
pin_at (MlCanvas *self, MlPoint at)
{
  const MlBoard *board = ml_document_board (self->document);
  MlPinning *pinning = &self->pinning;
  int picture = picture_of (self), part = pinning->part, pin = pinning->pin;
  if (picture < 0)
    return;
  if (!exists (board, part, pin))
    {
      ml_canvas_fail (self, "Every pin of the drawing has its place already; drag a pad to correct it");
      return;
    }
  if (!on_sheet (self, at))
    {
      ml_canvas_fail (self, "That is beside the picture");
      return;
    }
  MlPoint px = ml_photo_to_pixels (ml_canvas_scene (self), at);
  g_autofree char *label = g_strdup_printf ("Place %s.%s on the picture", board->parts[part].name, board->parts[part].pins[pin].name);
  GError *error = NULL;
  MlText *text = ml_board_edit_set_pad (board, picture, part, pin, px.x, px.y, &error);
  ml_viewport_hold (&self->viewport);
  if (!apply (self, text, error, label, NULL))
    return;
  pinning->last_part = part;
  pinning->last_pin = pin;
  ask_next (self, part, pin, 1);
  ml_canvas_focus_selection (self); /* for n and Backspace */
  if (pinning->part < 0)
    ml_canvas_pictured (self);
}

static void
take_scale_point (MlCanvas *self, MlPoint at);

void
ml_canvas_pin_click (MlCanvas *self, const MlHit *hit, gboolean more)
{
  MlPoint at = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  if (self->doing == ML_DOING_SCALE)
    {
      take_scale_point (self, at);
      return;
    }
  /* A pad is taken for what it is only where it is drawn; beside it the next one can lie. */
  MlHit pad = ml_scene_hit (ml_canvas_scene (self), at.x, at.y, ML_PAD_RADIUS);
  if (pad.kind == ML_HIT_PIN && !more)
    ml_canvas_select_and_focus (self, pad.part, pad.pin);
  else
    pin_at (self, at);
}

/* Enter: where the pointer is, else in the middle of what is in view. */
gboolean
ml_canvas_pin_enter (MlCanvas *self)
{
  if (!exists (ml_document_board (self->document), self->pinning.part, self->pinning.pin))
    return FALSE;
  MlPoint at_px = self->pointer_inside ? self->pointer : (MlPoint){ self->viewport.width_px / 2.0, self->viewport.height_px / 2.0 };
  pin_at (self, ml_viewport_to_sheet (&self->viewport, at_px.x, at_px.y));
  return TRUE;
}

/* ---- moving ---- */

static void
move_to (MlCanvas *self, int part, int pin, MlPoint at, const char *merge)
{
  const MlBoard *board = ml_document_board (self->document);
  MlPoint px = ml_photo_to_pixels (ml_canvas_scene (self), at);
  g_autofree char *label = g_strdup_printf ("Move the pad of %s.%s", board->parts[part].name, board->parts[part].pins[pin].name);
  GError *error = NULL;
  if (!on_sheet (self, at))
    ml_canvas_fail (self, "That is beside the picture");
  else
    apply (self, ml_board_edit_set_pad (board, ml_document_picture (self->document), part, pin, px.x, px.y, &error), error, label, merge);
}

/* The arrow keys move the selected pad by a pixel of the screen. */
gboolean
ml_canvas_pin_walk (MlCanvas *self, MlSide direction)
{
  static const MlPoint ways[] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 } };
  int part, pin;
  ml_document_selected (self->document, &part, &pin);
  if (!ml_canvas_pins (self) || pin < 0 || !ml_canvas_shows (self, part, pin))
    return FALSE;
  const MlScene *scene = ml_canvas_scene (self);
  MlPoint at = scene->pins[ml_scene_pin (scene, part, pin)].at;
  double step = NUDGE_PX / self->viewport.zoom;
  move_to (self, part, pin, (MlPoint){ at.x + step * ways[direction].x, at.y + step * ways[direction].y }, "nudge");
  return TRUE;
}

gboolean
ml_canvas_pin_drag_begin (MlCanvas *self, MlPoint at_px)
{
  MlPoint at = ml_viewport_to_sheet (&self->viewport, at_px.x, at_px.y);
  const MlScene *scene = ml_canvas_scene (self);
  if (self->pressed.kind != ML_HIT_PIN)
    return FALSE;
  ml_canvas_draw_stop (self);
  MlPoint pad = scene->pins[ml_scene_pin (scene, self->pressed.part, self->pressed.pin)].at;
  self->pinning.dragging = TRUE;
  self->pinning.dragged_part = self->pressed.part;
  self->pinning.dragged_pin = self->pressed.pin;
  self->pinning.grip = (MlPoint){ pad.x - at.x, pad.y - at.y };
  self->doing = ML_DOING_MOVE;
  ml_viewport_hold (&self->viewport);
  return TRUE;
}

static MlPoint
dragged_to (MlCanvas *self)
{
  MlPoint at = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  return (MlPoint){ at.x + self->pinning.grip.x, at.y + self->pinning.grip.y };
}

void
ml_canvas_pin_drag_end (MlCanvas *self)
{
  MlPoint to = dragged_to (self);
  int part = self->pinning.dragged_part, pin = self->pinning.dragged_pin;
  self->pinning.dragging = FALSE;
  self->doing = ML_DOING_NOTHING;
  ml_canvas_select_and_focus (self, part, pin);
  move_to (self, part, pin, to, NULL);
}

void
ml_canvas_pin_stop (MlCanvas *self)
{
  self->pinning.dragging = FALSE;
  self->pinning.n_scale = 0;
}

/* The selected pad, else the one placed last. */
void
ml_canvas_pin_remove (MlCanvas *self)
{
  const MlBoard *board = ml_document_board (self->document);
  int part, pin, picture = picture_of (self);
  if (picture < 0)
    return;
  ml_document_selected (self->document, &part, &pin);
  if (!exists (board, part, pin) || !is_pinned (self, part, pin))
    {
      part = self->pinning.last_part;
      pin = self->pinning.last_pin;
    }
  if (!exists (board, part, pin) || !is_pinned (self, part, pin))
    {
      ml_canvas_fail (self, "No pad is selected, and none was placed just now: click the pad that goes, then press Backspace");
      return;
    }
  g_autofree char *label = g_strdup_printf ("Take %s.%s off the picture", board->parts[part].name, board->parts[part].pins[pin].name);
  GError *error = NULL;
  if (apply (self, ml_board_edit_remove_pad (board, picture, part, pin, &error), error, label, NULL))
    ask (self, part, pin);
}

/* ---- the picture itself ---- */

static gboolean
change_picture (MlCanvas *self, const MlPicture *to, const char *label)
{
  GError *error = NULL;
  MlText *text = ml_board_edit_set_picture (ml_document_board (self->document), ml_document_picture (self->document), to, &error);
  return apply (self, text, error, label, NULL);
}

void
ml_canvas_pin_orient (MlCanvas *self, int quarter_turns, gboolean flip)
{
  int picture = picture_of (self);
  if (picture < 0)
    return;
  MlPicture to = ml_document_board (self->document)->pictures[picture];
  /* Seen mirrored, a quarter to the right is one to the left. */
  to.turn_deg = fmod (to.turn_deg + (to.mirror ? -90.0 : 90.0) * quarter_turns, 360.0);
  if (to.turn_deg > 180.0)
    to.turn_deg -= 360.0;
  else if (to.turn_deg <= -180.0)
    to.turn_deg += 360.0;
  to.mirror ^= flip;
  if (change_picture (self, &to, flip ? "Mirror the picture" : "Turn the picture round"))
    ml_canvas_fit (self);
}

/* ---- scale ---- */

static gboolean
take_distance (const char *text, gpointer data, GError **error)
{
  MlCanvas *self = data;
  int picture = ml_document_picture (self->document);
  g_autofree char *trimmed = g_strstrip (g_strdup (text));
  MlQuantity distance;
  if (g_str_has_suffix (trimmed, "mm"))
    trimmed[strlen (trimmed) - 2] = '\0';
  if (ml_quantity_parse (trimmed, strlen (trimmed), ML_UNIT_NONE, ML_QUANTITY_COMMA, &distance, NULL) != ML_QUANTITY_OK || !(distance.value > 0))
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "Type the distance in millimetres: 25.4");
      return FALSE;
    }
  if (picture < 0)
    return TRUE; /* it was taken away meanwhile */
  MlPicture to = ml_document_board (self->document)->pictures[picture];
  const MlPoint *p = self->pinning.scale;
  to.scale_px_per_mm = hypot (p[1].x - p[0].x, p[1].y - p[0].y) / distance.value;
  ml_canvas_draw_stop (self);
  if (change_picture (self, &to, "Scale of the picture"))
    ml_canvas_pictured (self);
  return TRUE;
}

static void
take_scale_point (MlCanvas *self, MlPoint at)
{
  const MlScene *scene = ml_canvas_scene (self);
  MlPoint px = ml_photo_to_pixels (scene, at);
  if (self->pinning.n_scale == 1 && hypot (px.x - self->pinning.scale[0].x, px.y - self->pinning.scale[0].y) < 1)
    {
      ml_canvas_fail (self, "The two points lie on each other: click them far apart");
      return;
    }
  self->pinning.scale[self->pinning.n_scale++] = px;
  gtk_widget_queue_draw (GTK_WIDGET (self));
  if (self->pinning.n_scale < 2)
    return;
  self->doing = ML_DOING_NOTHING;
  ml_canvas_show_panel (self, self->line_entry, (MlBox){ at.x, at.y, at.x, at.y });
  ml_line_entry_open (ML_LINE_ENTRY (self->line_entry), "Distance between the two points, in mm", "", FALSE, take_distance, self);
}

void
ml_canvas_scale_picture (MlCanvas *self)
{
  if (picture_of (self) < 0)
    return;
  ml_canvas_take_panels (self);
  ml_canvas_end_pick (self, NULL);
  ml_canvas_draw_stop (self);
  self->doing = ML_DOING_SCALE;
  gtk_widget_grab_focus (GTK_WIDGET (self));
  ml_canvas_update_hint (self);
}

/* ---- painting what is under way ---- */

static void
stroke_cased (cairo_t *cr, const MlPalette *palette, double width)
{
  cairo_set_source_rgb (cr, palette->paper.r, palette->paper.g, palette->paper.b);
  cairo_set_line_width (cr, width + 2 * palette->casing);
  cairo_stroke_preserve (cr);
  cairo_set_source_rgb (cr, palette->selection.r, palette->selection.g, palette->selection.b);
  cairo_set_line_width (cr, width);
  cairo_stroke (cr);
}

/* Open in the middle, so that the solder under it is seen. */
static void
cross_hair (cairo_t *cr, MlPoint at, double reach, double gap)
{
  cairo_new_path (cr);
  for (int i = 0; i < 4; i++)
    {
      double dx = i == 0 ? 1 : i == 1 ? -1 : 0, dy = i == 2 ? 1 : i == 3 ? -1 : 0;
      cairo_move_to (cr, at.x + gap * dx, at.y + gap * dy);
      cairo_line_to (cr, at.x + reach * dx, at.y + reach * dy);
    }
}

static void
paint_scale (MlCanvas *self, cairo_t *cr, MlPoint pointer, const MlPalette *palette)
{
  MlPoint ends[2];
  guint n = self->pinning.n_scale;
  for (guint i = 0; i < 2; i++)
    ends[i] = i < n ? ml_photo_to_sheet (ml_canvas_scene (self), self->pinning.scale[i].x, self->pinning.scale[i].y) : pointer;
  if (n > 0)
    {
      cairo_new_path (cr);
      cairo_move_to (cr, ends[0].x, ends[0].y);
      cairo_line_to (cr, ends[1].x, ends[1].y);
      stroke_cased (cr, palette, 0.14);
    }
  for (guint i = 0; i < MIN (n + 1, 2); i++)
    {
      cross_hair (cr, ends[i], 1.2, 0.35);
      stroke_cased (cr, palette, 0.14);
    }
}

static void
paint_asked (MlCanvas *self, cairo_t *cr, MlPoint pointer, const MlPalette *palette)
{
  MlPaintStyle style = { .paper = self->paper, .scale = self->viewport.zoom };
  const MlBoard *board = ml_document_board (self->document);
  const MlPinning *pinning = &self->pinning;
  if (!exists (board, pinning->part, pinning->pin) || !on_sheet (self, pointer))
    return;
  cross_hair (cr, pointer, 1.3, 0.4);
  stroke_cased (cr, palette, 0.12);
  ml_paint_pad (cr, &board->parts[pinning->part], pinning->pin, (MlPoint){ pointer.x + 1.9, pointer.y - 1.6 }, &style);
}

void
ml_canvas_pin_paint (MlCanvas *self, cairo_t *cr)
{
  MlPoint pointer = ml_viewport_to_sheet (&self->viewport, self->pointer.x, self->pointer.y);
  const MlPalette *palette = ml_palette_over_photo (self->paper);
  MlPaintStyle style = { .paper = self->paper, .scale = self->viewport.zoom };
  if (self->view != ML_CANVAS_PICTURE)
    return;
  if (self->doing == ML_DOING_SCALE || self->pinning.n_scale == 2)
    paint_scale (self, cr, pointer, palette);
  else if (self->pinning.dragging)
    ml_paint_pad (cr, &ml_document_board (self->document)->parts[self->pinning.dragged_part], self->pinning.dragged_pin, dragged_to (self), &style);
  else if (ml_canvas_pins (self) && self->pointer_inside && self->doing == ML_DOING_NOTHING && self->hover.kind != ML_HIT_PIN)
    paint_asked (self, cr, pointer, palette);
}
