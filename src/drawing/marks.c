/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/marks.h"

#include <math.h>

#include "drawing/paint-private.h"

#define SUSPECT_WIDTH 0.5
#define CHOSEN_WIDTH 0.22
#define CHOSEN_CORNER 1.2 /* g: how much of the edge is drawn at each corner */
#define POSSIBLE_WIDTH 0.26
#define CLEARED_WIDTH 0.13
#define CLEARED_GAP 0.3 /* thin and close, so that it stays clear of the part's own label */
#define SELECTION_GAP 0.35
#define SELECTION_WIDTH 0.26

/* The path in that colour, over a photo with an edge of paper on both sides. */
static void
stroke (cairo_t *cr, const MlColour *colour, double width, const MlPalette *palette)
{
  if (palette->casing > 0)
    {
      ml_paint_colour (cr, &palette->paper);
      cairo_set_line_width (cr, width + 2 * palette->casing);
      cairo_stroke_preserve (cr);
    }
  ml_paint_colour (cr, colour);
  cairo_set_line_width (cr, width);
  cairo_stroke (cr);
}

/* The same edge round a shape that is filled next. */
static void
case_shape (cairo_t *cr, const MlPalette *palette)
{
  if (palette->casing <= 0)
    return;
  ml_paint_colour (cr, &palette->paper);
  cairo_set_line_width (cr, 2 * palette->casing + 0.09);
  cairo_stroke_preserve (cr);
}

static void
hatch (cairo_t *cr, const MlBox *box, const MlPalette *palette)
{
  cairo_save (cr);
  ml_paint_rounded (cr, box, 0.9);
  cairo_clip (cr);
  for (double d = box->x0 - (box->y1 - box->y0); d < box->x1; d += 0.62)
    {
      cairo_move_to (cr, d, box->y1);
      cairo_line_to (cr, d + (box->y1 - box->y0), box->y0);
    }
  stroke (cr, &palette->suspect, 0.09, palette);
  cairo_restore (cr);
}

/* A tick on a small patch of paper, where the ring's corner is. */
static void
tick (cairo_t *cr, double x, double y, const MlPalette *palette)
{
  cairo_new_sub_path (cr);
  cairo_arc (cr, x, y, 0.5, 0, 2 * G_PI);
  ml_paint_colour (cr, &palette->paper);
  cairo_fill (cr);
  cairo_move_to (cr, x - 0.34, y + 0.02);
  cairo_line_to (cr, x - 0.08, y + 0.3);
  cairo_line_to (cr, x + 0.4, y - 0.36);
  cairo_set_line_width (cr, 0.18);
  ml_paint_colour (cr, &palette->cleared);
  cairo_stroke (cr);
}

MlBox
ml_mark_extent (const MlBox *body, MlVerdictWord verdict)
{
  switch (verdict)
    {
    case ML_VERDICT_SUSPECT: return ml_box_grown (*body, ML_MARK_GAP + SUSPECT_WIDTH);
    case ML_VERDICT_POSSIBLE: return ml_box_grown (*body, ML_MARK_GAP + POSSIBLE_WIDTH);
    case ML_VERDICT_CLEARED: return ml_box_grown (*body, CLEARED_GAP + CLEARED_WIDTH);
    default: return *body;
    }
}

void
ml_mark_verdict (cairo_t *cr, const MlBox *body, MlVerdictWord verdict, const MlPalette *palette)
{
  static const double dashes[] = { 0.75, 0.45 };
  MlBox ring = ml_box_grown (*body, ML_MARK_GAP);

  cairo_save (cr);
  cairo_new_path (cr);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_BUTT);
  if (verdict == ML_VERDICT_SUSPECT)
    {
      hatch (cr, &ring, palette);
      ring = ml_box_grown (ring, SUSPECT_WIDTH / 2);
      ml_paint_rounded (cr, &ring, 0.9);
      stroke (cr, &palette->suspect, SUSPECT_WIDTH, palette);
    }
  else if (verdict == ML_VERDICT_POSSIBLE)
    {
      ring = ml_box_grown (ring, POSSIBLE_WIDTH / 2);
      ml_paint_rounded (cr, &ring, 0.9);
      if (palette->casing > 0) /* undashed, so that the gaps show paper too */
        {
          ml_paint_colour (cr, &palette->paper);
          cairo_set_line_width (cr, POSSIBLE_WIDTH + 2 * palette->casing);
          cairo_stroke_preserve (cr);
        }
      ml_paint_colour (cr, &palette->possible);
      cairo_set_dash (cr, dashes, 2, 0);
      cairo_set_line_width (cr, POSSIBLE_WIDTH);
      cairo_stroke (cr);
    }
  else if (verdict == ML_VERDICT_CLEARED)
    {
      ring = ml_box_grown (*body, CLEARED_GAP + CLEARED_WIDTH / 2);
      ml_paint_rounded (cr, &ring, 0.9);
      stroke (cr, &palette->cleared, CLEARED_WIDTH, palette);
      cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
      tick (cr, ring.x0 + 0.2, ring.y1 - 0.2, palette);
    }
  cairo_restore (cr);
}

MlBox
ml_mark_selection_box (const MlBox *body)
{
  return ml_box_grown (*body, SELECTION_GAP + SELECTION_WIDTH / 2);
}

void
ml_mark_selection (cairo_t *cr, const MlBox *body, gboolean strong, const MlPalette *palette)
{
  MlBox ring = ml_box_grown (*body, SELECTION_GAP);

  cairo_save (cr);
  cairo_new_path (cr);
  ml_paint_rounded (cr, &ring, 0.45);
  stroke (cr, &palette->selection, strong ? SELECTION_WIDTH : 0.12, palette);
  cairo_restore (cr);
}

void
ml_mark_chosen (cairo_t *cr, const MlBox *body, const MlPalette *palette)
{
  const MlBox edge = ml_mark_extent (body, ML_VERDICT_SUSPECT), line = ml_box_grown (edge, -CHOSEN_WIDTH / 2);

  cairo_save (cr);
  cairo_new_path (cr);
  for (int i = 0; i < 4; i++)
    cairo_rectangle (cr, i & 1 ? edge.x1 : edge.x0, i & 2 ? edge.y1 : edge.y0, i & 1 ? -CHOSEN_CORNER : CHOSEN_CORNER, i & 2 ? -CHOSEN_CORNER : CHOSEN_CORNER);
  cairo_clip (cr);
  ml_paint_rounded (cr, &line, 0.9 + SUSPECT_WIDTH / 2);
  stroke (cr, &palette->ink, CHOSEN_WIDTH, palette);
  cairo_restore (cr);
}

void
ml_mark_link (cairo_t *cr, MlPoint a, MlPoint b, MlVerdictWord verdict, const MlPalette *palette)
{
  static const double dashes[] = { 0.4, 0.6 };
  const MlColour *colour = verdict == ML_VERDICT_SUSPECT ? &palette->suspect : &palette->possible;

  cairo_save (cr);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_set_dash (cr, dashes, 2, 0);
  cairo_set_line_width (cr, verdict == ML_VERDICT_SUSPECT ? 0.5 : 0.26);
  cairo_set_source_rgb (cr, colour->r, colour->g, colour->b);
  cairo_move_to (cr, a.x, a.y);
  cairo_line_to (cr, b.x, b.y);
  cairo_stroke (cr);
  cairo_restore (cr);
}

void
ml_mark_tip (cairo_t *cr, MlPoint at, double angle, gboolean red, const MlPalette *palette)
{
  cairo_save (cr);
  cairo_new_path (cr);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_set_line_join (cr, CAIRO_LINE_JOIN_ROUND);
  cairo_translate (cr, at.x, at.y);
  cairo_rotate (cr, angle);
  cairo_move_to (cr, 0.1, 0);
  cairo_line_to (cr, 1.3, 0);
  stroke (cr, &palette->ink, 0.16, palette);
  /* A collar, then the handle that widens to its round end. */
  cairo_move_to (cr, 1.1, -0.26);
  cairo_line_to (cr, 1.1, 0.26);
  cairo_line_to (cr, 1.4, 0.26);
  cairo_line_to (cr, ML_TIP_LENGTH - 0.4, 0.4);
  cairo_arc_negative (cr, ML_TIP_LENGTH - 0.45, 0, 0.4, G_PI / 2, -G_PI / 2);
  cairo_line_to (cr, 1.4, -0.26);
  cairo_close_path (cr);
  case_shape (cr, palette);
  ml_paint_colour (cr, red ? &palette->red_probe : &palette->black_probe);
  cairo_fill_preserve (cr);
  ml_paint_colour (cr, &palette->ink);
  cairo_set_line_width (cr, 0.09);
  cairo_stroke (cr);
  cairo_restore (cr);
}

MlBox
ml_mark_tip_box (MlPoint at, double angle)
{
  const MlPoint end = { at.x + (ML_TIP_LENGTH - 0.4) * cos (angle), at.y + (ML_TIP_LENGTH - 0.4) * sin (angle) };
  const MlPoint collar = { at.x + 0.5 * cos (angle), at.y + 0.5 * sin (angle) };

  return ml_box_grown (ml_box_of_points (collar, end), 0.45);
}

void
ml_mark_taken (cairo_t *cr, MlPoint at, double angle, gboolean red, const MlPalette *palette)
{
  cairo_save (cr);
  cairo_new_path (cr);
  cairo_translate (cr, at.x, at.y);
  cairo_rotate (cr, angle);
  cairo_move_to (cr, 0.05, 0);
  cairo_line_to (cr, 0.85, -0.3);
  cairo_line_to (cr, 0.85, 0.3);
  cairo_close_path (cr);
  case_shape (cr, palette);
  ml_paint_colour (cr, red ? &palette->red_probe : &palette->black_probe);
  cairo_fill_preserve (cr);
  ml_paint_colour (cr, red ? &palette->paper : &palette->ink);
  cairo_set_line_width (cr, 0.07);
  cairo_stroke (cr);
  cairo_restore (cr);
}

double
ml_flow_width (double current_a)
{
  const double i = fabs (current_a);

  if (!(i >= 1e-6))
    return 0;
  return 0.18 + 0.42 * CLAMP ((log10 (i) + 5) / (log10 (3) + 5), 0, 1);
}

void
ml_mark_arrow_head (cairo_t *cr, MlPoint at, double angle, double size)
{
  cairo_save (cr);
  cairo_translate (cr, at.x, at.y);
  cairo_rotate (cr, angle);
  cairo_move_to (cr, size * 0.75, 0);
  cairo_line_to (cr, -size * 0.55, -size * 0.62);
  cairo_line_to (cr, -size * 0.25, 0);
  cairo_line_to (cr, -size * 0.55, size * 0.62);
  cairo_close_path (cr);
  cairo_restore (cr);
}
