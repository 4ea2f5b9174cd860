/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is painted: the scene with the marks of job and verdict, placed once and kept, and over them what the hand and the eye are at. */
#include <string.h>

#include "desktop/canvas-private.h"
#include "desktop/glyph.h"
#include "drawing/marks.h"

#define SHEET_MARGIN_G 1.0
#define LARGEST_TEXT 1.5 /* what is written beside the parts follows the desktop's text so far: beyond that there is no room for it */
#define WORTH_MOVING 1.15 /* room that notes took once is given back when all can be so much larger without it */
#define LEGEND_ROOM_G 10.0 /* below the marks, when the legend is shown */

/* The suggestion, if it is of that condition. */
static const MlNextReading *
next_in (MlCanvas *self, int condition)
{
  int at = ml_document_next (self->document);
  if (at < 0 || self->mode != ML_CANVAS_MEASURE)
    return NULL;
  const MlNextReading *next = &ml_document_verdict (self->document)->next[at];
  return next->condition == condition ? next : NULL;
}

/* The marks that belong to the job, without what the hand and the eye are at. While drawing, the sheet is kept free of judgement. */
static MlOverlay
overlay_of (MlCanvas *self)
{
  gboolean show_verdict = (self->show & ML_CANVAS_SHOW_VERDICT) && self->mode == ML_CANVAS_MEASURE;
  gboolean pins = ml_canvas_pins (self); /* then the solder must be seen, not what was read there */
  return (MlOverlay){
    .verdict = show_verdict ? ml_document_verdict (self->document) : NULL,
    .job = pins ? NULL : ml_document_job (self->document),
    .unit = ml_document_unit (self->document),
    .pass = ml_document_pass (self->document),
    .condition = ml_document_condition (self->document),
    .other_unit = self->other_unit,
    .point = pins ? NULL : ml_document_point (self->document),
    .supposing = ml_document_supposed (self->document) != NULL, /* what, is said over the canvas at any zoom */
    .show_flow = (self->show & ML_CANVAS_SHOW_FLOW) != 0,
    .show_expected = (self->show & ML_CANVAS_SHOW_EXPECTED) != 0,
    .selected_part = -1,
    .selected_pin = -1,
    .hover_part = -1,
    .hover_pin = -1,
  };
}

/* All of the marks, with what the hand and the eye are at. */
static MlOverlay
whole_overlay (MlCanvas *self)
{
  MlOverlay overlay = overlay_of (self);
  gboolean on_part = self->hover.kind == ML_HIT_PART || self->hover.kind == ML_HIT_PIN;
  overlay.hover_part = on_part ? self->hover.part : -1;
  overlay.hover_pin = self->hover.kind == ML_HIT_PIN ? self->hover.pin : -1;
  overlay.red = ml_document_red (self->document);
  overlay.black = ml_document_black (self->document);
  overlay.next = overlay.red ? NULL : next_in (self, overlay.condition); /* while nothing else is being read */
  overlay.chosen = overlay.verdict && self->chosen && self->n_chosen == ml_document_board (self->document)->n_parts ? self->chosen : NULL;
  ml_document_selected (self->document, &overlay.selected_part, &overlay.selected_pin);
  return overlay;
}

typedef struct { MlCanvas *canvas; const MlOverlay *overlay; } Still;

static MlPaintStyle
paint_style (MlCanvas *self, double scale, const MlOverlay *overlay)
{
  const MlPaintStyle style = { .paper = self->paper, .scale = scale, .legend = (self->show & ML_CANVAS_SHOW_LEGEND) != 0,
                               .text_scale = MIN (ml_glyph_text_scale (), LARGEST_TEXT) };
  return ml_paint_style_take (style, ml_canvas_scene (self), overlay);
}

static void
paint_still (cairo_t *cr, double device_px_per_g, gpointer data)
{
  const Still *still = data;
  MlPaintStyle style = paint_style (still->canvas, device_px_per_g, still->overlay);
  ml_paint_scene (cr, ml_canvas_scene (still->canvas), &style);
  ml_plan_paint (cr, ml_canvas_scene (still->canvas), still->overlay, still->canvas->plan, &style);
}

static void
make_plan (MlCanvas *self, const MlOverlay *overlay)
{
  MlPaintStyle style = paint_style (self, self->viewport.zoom, overlay);
  if (self->plan && self->plan_version == self->marks_version)
    return;
  g_clear_pointer (&self->plan, ml_plan_free);
  self->plan = ml_plan_new (ml_canvas_scene (self), overlay, &style);
  self->plan_version = self->marks_version;
}

static void
add_box (MlCanvas *self, MlBox box, int dx, int dy, GArray *busy)
{
  MlPoint low = ml_viewport_to_view (&self->viewport, box.x0, box.y0), high = ml_viewport_to_view (&self->viewport, box.x1, box.y1);
  MlBusy one = { { (int) low.x + dx, (int) low.y + dy, (int) (high.x - low.x) + 1, (int) (high.y - low.y) + 1 }, FALSE };
  g_array_append_val (busy, one);
}

void
ml_canvas_add_written (MlCanvas *self, int dx, int dy, GArray *busy)
{
  const MlScene *scene = ml_canvas_scene (self);
  MlOverlay overlay = whole_overlay (self);
  make_plan (self, &overlay);
  for (guint i = 0; i < scene->n_labels; i++)
    add_box (self, scene->labels[i].box, dx, dy, busy);
  for (guint i = 0; i < scene->n_flags; i++)
    add_box (self, scene->flags[i].box, dx, dy, busy);
  for (guint i = 0; i < self->plan->notes->len; i++)
    if (g_array_index (self->plan->notes, MlNote, i).placed)
      add_box (self, g_array_index (self->plan->notes, MlNote, i).box, dx, dy, busy);
  for (guint i = 0; i < self->plan->tips->len; i++)
    {
      const MlPlanTip *tip = &g_array_index (self->plan->tips, MlPlanTip, i);
      if (!tip->taken)
        add_box (self, ml_mark_tip_box (tip->point, tip->angle), dx, dy, busy);
    }
  add_box (self, self->plan->ribbon, dx, dy, busy);
}

void
ml_canvas_marks_changed (MlCanvas *self)
{
  self->marks_version++;
  gtk_widget_queue_draw (GTK_WIDGET (self));
}

void
ml_canvas_paint (MlCanvas *self, cairo_t *cr)
{
  const MlPalette *palette = ml_palette (self->paper);
  MlOverlay overlay = whole_overlay (self);
  MlPaintStyle style = paint_style (self, self->viewport.zoom, &overlay);
  Still still = { self, &overlay };
  make_plan (self, &overlay);
  MlCanvasLayerSource source = { self->plan->extent, self->marks_version, self->paper, paint_still, &still };
  source.extent.y1 += style.legend ? LEGEND_ROOM_G : 0;
  cairo_set_source_rgb (cr, palette->paper.r, palette->paper.g, palette->paper.b);
  cairo_paint (cr);
  ml_canvas_layer_paint (&self->layer, cr, &source, &self->viewport, gtk_widget_get_scale_factor (GTK_WIDGET (self)), self->zooming != 0);
  MlPoint origin = ml_viewport_to_view (&self->viewport, 0.0, 0.0);
  cairo_save (cr);
  cairo_translate (cr, origin.x, origin.y);
  cairo_scale (cr, self->viewport.zoom, self->viewport.zoom);
  ml_plan_paint_pointing (cr, ml_canvas_scene (self), &overlay, &style);
  ml_canvas_draw_paint (self, cr);
  ml_canvas_pin_paint (self, cr);
  cairo_restore (cr);
}

/* ---- following verdict and drawing ---- */

static MlBox
union_of (MlBox a, MlBox b)
{
  return (MlBox){ MIN (a.x0, b.x0), MIN (a.y0, b.y0), MAX (a.x1, b.x1), MAX (a.y1, b.y1) };
}

static MlBox
room_of (MlCanvas *self, const MlOverlay *overlay)
{
  MlPaintStyle style = paint_style (self, self->viewport.zoom, overlay);
  style.legend = FALSE; /* it has room of its own */
  return ml_paint_extent (ml_canvas_scene (self), overlay, &style);
}

/* ---- the room of every condition ---- */

/* The marks in that condition, probes and suggestion aside. */
static MlOverlay
overlay_of_condition (MlCanvas *self, int condition)
{
  MlOverlay overlay = overlay_of (self);
  if (condition == overlay.condition)
    return overlay;
  overlay.condition = condition;
  overlay.point = ml_canvas_pins (self) ? NULL : ml_document_point_of (self->document, condition); /* where a fault is supposed it is about as wide */
  return overlay;
}

static MlCanvasRoom *
room_of_condition (MlCanvas *self, int condition)
{
  return &g_array_index (self->rooms, MlCanvasRoom, condition + 1);
}

static void
take_room (MlCanvas *self, int condition)
{
  MlOverlay overlay = overlay_of_condition (self, condition);
  MlBox box = room_of (self, &overlay);
  overlay.next = next_in (self, condition); /* it has room while something else is read, too: it comes back after that */
  *room_of_condition (self, condition) = (MlCanvasRoom){ overlay.next ? union_of (box, room_of (self, &overlay)) : box, TRUE, TRUE };
}

/* The first condition of which there is no room, or one of what was there before; -1: none. */
static int
stale_room (MlCanvas *self)
{
  for (int condition = 0; condition + 1 < (int) self->rooms->len; condition++)
    if (!room_of_condition (self, condition)->fresh)
      return condition;
  return -1;
}

/* One condition at a time, and only while nobody waits: to place all notes of one takes as long as a frame. */
static gboolean
take_rooms_cb (gpointer data)
{
  MlCanvas *self = data;
  int stale = stale_room (self);
  if (stale >= 0)
    {
      take_room (self, stale);
      return G_SOURCE_CONTINUE;
    }
  self->taking_rooms = 0;
  ml_canvas_take_extent (self, ML_EXTENT_GROWS);
  return G_SOURCE_REMOVE;
}

gboolean
ml_canvas_forget_rooms (MlCanvas *self)
{
  const MlBox *sheet = &ml_canvas_scene (self)->extent;
  gboolean other = memcmp (sheet, &self->rooms_sheet, sizeof *sheet) != 0;
  if (other)
    g_array_set_size (self->rooms, 0);
  self->rooms_sheet = *sheet;
  for (guint i = 0; i < self->rooms->len; i++)
    g_array_index (self->rooms, MlCanvasRoom, i).fresh = FALSE;
  return other;
}

/* With the probes or the next suggestion there a reading's text may have to stand farther out than without them, and the suggestion has words of its
 * own: no text may be cut off at the window's edge. The marks of the other conditions, as far as they are known, have room too: choosing one of them
 * must not move what the eye is at. */
static MlBox
marks_extent (MlCanvas *self)
{
  int here = ml_document_condition (self->document);
  g_array_set_size (self->rooms, ml_document_board (self->document)->n_conditions + 1);
  if (!room_of_condition (self, here)->fresh)
    take_room (self, here);
  MlBox box = room_of_condition (self, here)->box;
  for (guint i = 0; i < self->rooms->len; i++)
    if (g_array_index (self->rooms, MlCanvasRoom, i).known)
      box = union_of (box, g_array_index (self->rooms, MlCanvasRoom, i).box);
  if (self->taking_rooms == 0 && self->doing != ML_DOING_MOVE && stale_room (self) >= 0)
    self->taking_rooms = g_idle_add (take_rooms_cb, self);
  if (!ml_document_red (self->document) && !ml_document_black (self->document))
    return box;
  MlOverlay whole = whole_overlay (self);
  return union_of (box, room_of (self, &whole));
}

/* How large the view could show it. */
static double
largest (const MlViewport *view, const MlBox *box)
{
  return MIN (view->width_px / MAX (box->x1 - box->x0, 1e-6), view->height_px / MAX (box->y1 - box->y0, 1e-6));
}

void
ml_canvas_take_extent (MlCanvas *self, MlExtent how)
{
  const MlScene *scene = ml_canvas_scene (self);
  static const MlBox empty_sheet = { -20.0, -12.0, 20.0, 12.0 };
  MlBox box = scene->n_symbols > 0 || scene->picture ? marks_extent (self) : empty_sheet, old = self->viewport.content;
  box = (MlBox){ box.x0 - SHEET_MARGIN_G, box.y0 - SHEET_MARGIN_G, box.x1 + SHEET_MARGIN_G, box.y1 + SHEET_MARGIN_G };
  gboolean anew = how == ML_EXTENT_ANEW || (how == ML_EXTENT_FOLLOWS && largest (&self->viewport, &box) > WORTH_MOVING * largest (&self->viewport, &old));
  if (!anew)
    box = union_of (box, old);
  if (!anew && memcmp (&box, &old, sizeof box) == 0)
    return;
  ml_viewport_set_content (&self->viewport, box);
  gtk_widget_queue_allocate (GTK_WIDGET (self));
}

void
ml_canvas_take_chosen (MlCanvas *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);
  g_clear_pointer (&self->chosen, g_free);
  if (!verdict || self->explanation == 0)
    return;
  self->chosen = g_new0 (gboolean, verdict->n_parts + 1);
  self->n_chosen = verdict->n_parts;
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].id == self->explanation)
      for (guint j = 0; j < verdict->explanations[i].n_faults; j++)
        if (verdict->explanations[i].faults[j].part >= 0)
          self->chosen[verdict->explanations[i].faults[j].part] = TRUE;
}
