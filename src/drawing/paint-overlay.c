/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "drawing/flow.h"
#include "drawing/legend.h"
#include "drawing/marks.h"
#include "drawing/overlay-plan.h"
#include "drawing/paint-photo.h"
#include "drawing/paint-private.h"

#define ARROW_PITCH 6.0 /* g between arrow heads along a wire */

/* The circuit again where a mark has been laid over it: ink stays on top. */
static void
repaint_within (cairo_t *cr, const MlScene *scene, const MlBox *box, const MlPaintStyle *style)
{
  cairo_save (cr);
  cairo_new_path (cr);
  cairo_rectangle (cr, box->x0, box->y0, box->x1 - box->x0, box->y1 - box->y0);
  cairo_clip (cr);
  ml_paint_scene (cr, scene, style);
  cairo_restore (cr);
}

static void
paint_marks (cairo_t *cr, const MlScene *scene, const MlPlan *plan, const MlPaintStyle *style)
{
  for (guint i = 0; i < plan->marks->len; i++)
    {
      const MlPlanMark *mark = &g_array_index (plan->marks, MlPlanMark, i);
      const MlBox covers = ml_mark_extent (&mark->body, mark->verdict);

      ml_mark_verdict (cr, &mark->body, mark->verdict, ml_paint_palette (scene, style));
      if (mark->verdict != ML_VERDICT_CLEARED && scene->picture == NULL)
        repaint_within (cr, scene, &covers, style);
    }
}

/* What a ring or halo crosses stays readable. */
static void
repaint_labels (cairo_t *cr, const MlScene *scene, const MlPlan *plan, const MlPaintStyle *style)
{
  for (guint k = 0; k < scene->n_labels; k++)
    for (guint i = 0; i < plan->marks->len; i++)
      {
        const MlPlanMark *mark = &g_array_index (plan->marks, MlPlanMark, i);
        const MlBox covers = ml_mark_extent (&mark->body, mark->verdict);

        if (scene->labels[k].kind == ML_LABEL_PIN || !ml_box_meets (&scene->labels[k].box, &covers))
          continue;
        ml_paint_label_on_patch (cr, scene, k, style);
        break;
      }
}

static void
band (cairo_t *cr, MlPoint a, MlPoint b, double width)
{
  if (width <= 0)
    return;
  cairo_move_to (cr, a.x, a.y);
  cairo_line_to (cr, b.x, b.y);
  cairo_set_line_width (cr, width);
  cairo_stroke (cr);
}

/* Along the leads too, so that the path does not break off before each part. */
static void
paint_lead_flow (cairo_t *cr, const MlScene *scene, double *const *pin_a)
{
  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      const double current_a = pin->part >= 0 && pin_a[pin->part] != NULL ? pin_a[pin->part][pin->pin] : NAN;

      band (cr, pin->at, ml_paint_inner_end (scene, pin), ml_flow_width (current_a));
    }
}

static void
paint_core (cairo_t *cr, MlPoint a, MlPoint b)
{
  cairo_move_to (cr, a.x, a.y);
  cairo_line_to (cr, b.x, b.y);
}

static gboolean
meets_label (const MlScene *scene, MlPoint at, double size)
{
  const MlBox head = { at.x - size * 0.7, at.y - size * 0.7, at.x + size * 0.7, at.y + size * 0.7 };

  for (guint i = 0; i < scene->n_labels; i++)
    if (ml_box_meets (&scene->labels[i].box, &head))
      return TRUE;
  return FALSE;
}

/* Heads are evenly spaced but give way to a text beside the wire; where there is no room the band alone must do. */
static void
arrow_heads (cairo_t *cr, const MlScene *scene, const MlFlowPiece *piece)
{
  static const double shifts[] = { 0, -1, 1, -2, 2 };
  const double dx = piece->b.x - piece->a.x, dy = piece->b.y - piece->a.y, length = hypot (dx, dy);
  const double width = ml_flow_width (piece->current_a), size = 0.5 + 0.75 * width;
  const double angle = atan2 (dy, dx) + (piece->current_a < 0 ? G_PI : 0);
  const guint n = MAX (1, (guint) floor (length / ARROW_PITCH));

  if (width <= 0 || length < 1.8)
    return;
  for (guint i = 0; i < n; i++)
    for (guint k = 0; k < G_N_ELEMENTS (shifts); k++)
      {
        const double s = (i + 0.5) / n + shifts[k] / length;
        const MlPoint at = { piece->a.x + s * dx, piece->a.y + s * dy };

        if (s * length < 0.8 || (1 - s) * length < 0.8 || meets_label (scene, at, size))
          continue;
        ml_mark_arrow_head (cr, at, angle, size);
        break;
      }
}

/* A coloured band under every wire that carries current, as wide as the logarithm of the current; the wire itself stays visible on it. */
static void
paint_flow (cairo_t *cr, const MlScene *scene, const GArray *pieces, double *const *pin_a, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette (style->paper);

  cairo_save (cr);
  cairo_new_path (cr);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  ml_paint_colour (cr, &palette->flow);
  for (guint i = 0; i < pieces->len; i++)
    {
      const MlFlowPiece *piece = &g_array_index (pieces, MlFlowPiece, i);

      band (cr, piece->a, piece->b, ml_flow_width (piece->current_a));
    }
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_BUTT);
  paint_lead_flow (cr, scene, pin_a);
  ml_paint_colour (cr, &palette->ink);
  for (guint i = 0; i < scene->n_wires; i++)
    paint_core (cr, scene->wires[i].a, scene->wires[i].b);
  for (guint i = 0; i < scene->n_pins; i++)
    if (scene->symbols[scene->pins[i].symbol].shape != ML_SHAPE_TERMINAL)
      paint_core (cr, scene->pins[i].at, ml_paint_inner_end (scene, &scene->pins[i]));
  cairo_set_line_width (cr, ML_WIRE_WIDTH);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_stroke (cr);
  for (guint i = 0; i < scene->n_dots; i++)
    {
      cairo_new_sub_path (cr);
      cairo_arc (cr, scene->dots[i].at.x, scene->dots[i].at.y, ML_DOT_RADIUS, 0, 2 * G_PI);
    }
  cairo_fill (cr);
  ml_paint_colour (cr, &palette->flow);
  for (guint i = 0; i < pieces->len; i++)
    arrow_heads (cr, scene, &g_array_index (pieces, MlFlowPiece, i));
  cairo_fill (cr);
  cairo_restore (cr);
}

static void
paint_note (cairo_t *cr, const MlScene *scene, const MlNote *note, const MlNoteText *text, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_paint_palette (scene, style);
  const double frame = text->framed ? 0.4 : 0;
  double y = note->box.y0 + frame;

  if (note->leader)
    {
      cairo_move_to (cr, note->from.x, note->from.y);
      cairo_line_to (cr, note->via.x, note->via.y);
      cairo_line_to (cr, note->to.x, note->to.y);
      if (scene->picture != NULL)
        {
          ml_paint_colour (cr, &palette->paper);
          cairo_set_line_width (cr, 0.08 + 2 * palette->casing);
          cairo_stroke_preserve (cr);
        }
      cairo_set_line_width (cr, scene->picture != NULL ? 0.12 : 0.08);
      ml_paint_colour (cr, &palette->faint);
      cairo_stroke (cr);
    }
  if (scene->picture != NULL)
    ml_paint_patch (cr, ml_box_grown (note->box, 0.15), style);
  if (text->framed)
    {
      ml_paint_rounded (cr, &note->box, 0.5);
      ml_paint_colour (cr, &palette->selection);
      cairo_set_line_width (cr, 0.12);
      cairo_stroke (cr);
    }
  for (guint i = 0; i < text->n_lines; i++)
    {
      const MlTextStyle line = { .font = style->font, .height = text->lines[i].height, .bold = text->lines[i].bold,
                                 .colour = text->lines[i].faint ? palette->faint : palette->ink };

      ml_text_draw (cr, text->lines[i].text, note->box.x0 + frame, y, &line);
      y += 1.16 * text->lines[i].height;
    }
}

/* What the ring of a selected pin goes round, else the nth of a part. */
static gboolean
ringed (const MlScene *scene, int part, int pin, guint nth, MlBox *ret_body)
{
  const int found = part >= 0 && pin >= 0 ? ml_scene_pin (scene, part, pin) : -1;

  if (found < 0)
    return part >= 0 && ml_plan_part_body (scene, part, nth, ret_body);
  if (nth > 0)
    return FALSE;
  const MlPoint at = scene->pins[found].at;
  *ret_body = (MlBox) { at.x - 0.3, at.y - 0.3, at.x + 0.3, at.y + 0.3 };
  return TRUE;
}

static void
paint_body_ring (cairo_t *cr, const MlScene *scene, int part, int pin, gboolean strong, const MlPalette *palette)
{
  MlBox body;

  for (guint nth = 0; ringed (scene, part, pin, nth, &body); nth++)
    ml_mark_selection (cr, &body, strong, palette);
}

/* The ring lies over names that stand close: a part's own name and value, at a pin the name of its net. What is selected has to be read. */
static void
paint_names_over_ring (cairo_t *cr, const MlScene *scene, int part, int pin, const MlPaintStyle *style)
{
  MlBox body;

  for (guint nth = 0; scene->picture == NULL && ringed (scene, part, pin, nth, &body); nth++)
    {
      const MlBox ring = ml_mark_selection_box (&body);
      for (guint i = 0; i < scene->n_labels; i++)
        {
          const MlSceneLabel *label = &scene->labels[i];
          const gboolean inside = label->box.x0 >= body.x0 && label->box.x1 <= body.x1 && label->box.y0 >= body.y0 && label->box.y1 <= body.y1;
          const gboolean said = pin >= 0 ? label->kind != ML_LABEL_PIN : label->part == part && label->pin < 0;
          if (said && !inside && ml_box_meets (&label->box, &ring))
            ml_paint_label_on_patch (cr, scene, i, style);
        }
    }
}

static void
paint_selection (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_paint_palette (scene, style);
  MlBox body;

  for (guint i = 0; overlay->chosen != NULL && i < scene->board->n_parts; i++)
    for (guint nth = 0; overlay->chosen[i] && ml_plan_part_body (scene, (int) i, nth, &body); nth++)
      ml_mark_chosen (cr, &body, palette);
  if (overlay->hover_part != overlay->selected_part || overlay->hover_pin != overlay->selected_pin)
    paint_body_ring (cr, scene, overlay->hover_part, overlay->hover_pin, FALSE, palette);
  paint_body_ring (cr, scene, overlay->selected_part, overlay->selected_pin, TRUE, palette);
  paint_names_over_ring (cr, scene, overlay->selected_part, overlay->selected_pin, style);
}

/* The shortest way between two drawn nets, for a stray link between them. */
static gboolean
nearest_points (const MlScene *scene, int net_a, int net_b, MlPoint *ret_a, MlPoint *ret_b)
{
  double best = INFINITY;

  for (guint i = 0; i < scene->n_wires; i++)
    for (guint k = 0; k < scene->n_wires; k++)
      {
        const MlSceneWire *p = &scene->wires[i], *q = &scene->wires[k];
        const MlBox a = ml_box_of_points (p->a, p->b), b = ml_box_of_points (q->a, q->b);
        const double dx = MAX (0, MAX (a.x0 - b.x1, b.x0 - a.x1)), dy = MAX (0, MAX (a.y0 - b.y1, b.y0 - a.y1));

        if (p->net != net_a || q->net != net_b || hypot (dx, dy) >= best)
          continue;
        best = hypot (dx, dy);
        *ret_a = (MlPoint) { CLAMP ((MAX (a.x0, b.x0) + MIN (a.x1, b.x1)) / 2, a.x0, a.x1), CLAMP ((MAX (a.y0, b.y0) + MIN (a.y1, b.y1)) / 2, a.y0, a.y1) };
        *ret_b = (MlPoint) { CLAMP (ret_a->x, b.x0, b.x1), CLAMP (ret_a->y, b.y0, b.y1) };
      }
  return isfinite (best);
}

/* The same on the picture of a board, from pad to pad. */
static gboolean
nearest_pads (const MlScene *scene, int net_a, int net_b, MlPoint *ret_a, MlPoint *ret_b)
{
  double best = INFINITY;

  for (guint i = 0; i < scene->n_pins; i++)
    for (guint k = 0; k < scene->n_pins; k++)
      {
        const MlScenePin *p = &scene->pins[i], *q = &scene->pins[k];
        const double distance = hypot (p->at.x - q->at.x, p->at.y - q->at.y);

        if (p->net != net_a || q->net != net_b || distance >= best)
          continue;
        best = distance;
        *ret_a = p->at;
        *ret_b = q->at;
      }
  return isfinite (best);
}

gboolean
ml_paint_link_points (const MlScene *scene, const MlLinkVerdict *link, MlPoint *ret_a, MlPoint *ret_b)
{
  return link->verdict >= ML_VERDICT_POSSIBLE
         && (scene->picture != NULL ? nearest_pads : nearest_points) (scene, link->net_a, link->net_b, ret_a, ret_b);
}

static void
paint_links (cairo_t *cr, const MlScene *scene, const MlVerdict *verdict, const MlPalette *palette)
{
  for (guint i = 0; verdict != NULL && i < verdict->n_links; i++)
    {
      const MlLinkVerdict *link = &verdict->links[i];
      MlPoint a = { 0 }, b = { 0 };

      if (ml_paint_link_points (scene, link, &a, &b))
        ml_mark_link (cr, a, b, link->verdict, palette);
    }
}

static void
paint_ribbon (cairo_t *cr, const MlPlan *plan, const MlOverlay *overlay, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette (style->paper);
  const MlTextStyle text = { .font = style->font, .height = 1.4, .bold = TRUE, .colour = palette->ink };
  MlBox room = plan->ribbon;

  cairo_rectangle (cr, room.x0, room.y0, room.x1 - room.x0, room.y1 - room.y0);
  cairo_set_line_width (cr, 0.2);
  ml_paint_colour (cr, &palette->warn);
  cairo_stroke (cr);
  cairo_rectangle (cr, room.x0, room.y0, 0.8, room.y1 - room.y0);
  cairo_fill (cr);
  room.x0 += 1.6;
  ml_text_draw_in (cr, overlay->ribbon, &room, -1, &text);
}

static void
paint_tips (cairo_t *cr, const MlPlan *plan, const MlPalette *palette)
{
  for (guint i = plan->tips->len; i-- > 0;) /* the large ones, which come first, on top */
    {
      const MlPlanTip *tip = &g_array_index (plan->tips, MlPlanTip, i);

      if (tip->taken)
        ml_mark_taken (cr, tip->point, tip->angle, tip->red, palette);
      else
        ml_mark_tip (cr, tip->point, tip->angle, tip->red, palette);
    }
}

void
ml_plan_paint (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPlan *plan, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_paint_palette (scene, style);
  const gboolean flows = overlay->show_flow && overlay->point != NULL && overlay->point->pin_a != NULL;

  cairo_save (cr);
  cairo_new_path (cr);
  paint_marks (cr, scene, plan, style);
  if (flows && scene->picture != NULL)
    ml_paint_photo_flow (cr, scene, overlay->point->pin_a, style);
  else if (flows)
    paint_flow (cr, scene, plan->flow, overlay->point->pin_a, style);
  if (scene->picture != NULL)
    ml_paint_pads (cr, scene, style);
  else
    repaint_labels (cr, scene, plan, style);
  paint_links (cr, scene, overlay->verdict, palette);
  for (guint i = 0; i < plan->notes->len; i++)
    if (g_array_index (plan->notes, MlNote, i).placed)
      paint_note (cr, scene, &g_array_index (plan->notes, MlNote, i), &g_array_index (plan->texts, MlNoteText, i), style);
  paint_tips (cr, plan, palette);
  if (overlay->ribbon != NULL)
    paint_ribbon (cr, plan, overlay, style);
  if (style->legend)
    ml_legend_paint (cr, plan->legend, plan->extent.x0, plan->extent.y1 + 0.6, plan->extent.x1 - plan->extent.x0, style);
  cairo_restore (cr);
}

void
ml_plan_paint_pointing (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style)
{
  cairo_save (cr);
  cairo_new_path (cr);
  paint_selection (cr, scene, overlay, style);
  cairo_restore (cr);
}

void
ml_paint_overlay (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style)
{
  g_autoptr (MlPlan) plan = ml_plan_new (scene, overlay, style);

  ml_plan_paint (cr, scene, overlay, plan, style);
  ml_plan_paint_pointing (cr, scene, overlay, style);
}

MlBox
ml_paint_extent (const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style)
{
  g_autoptr (MlPlan) plan = NULL;
  MlBox extent;

  if (overlay == NULL)
    return ml_box_grown (scene->extent, 0.5);
  plan = ml_plan_new (scene, overlay, style);
  extent = plan->extent;
  if (style->legend && plan->legend != 0)
    extent.y1 += 0.6 + ml_legend_paint (NULL, plan->legend, extent.x0, extent.y1, extent.x1 - extent.x0, style);
  return extent;
}
