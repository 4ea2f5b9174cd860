/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/paint-photo.h"

#include <math.h>

#include "drawing/marks.h"
#include "drawing/paint-private.h"
#include "drawing/photo-scene.h"

#define PAD_LINE 0.14
#define PATCH_RADIUS 0.3

void
ml_paint_patch (cairo_t *cr, MlBox box, const MlPaintStyle *style)
{
  const MlColour *paper = &ml_palette (style->paper)->paper;

  cairo_new_path (cr);
  ml_paint_rounded (cr, &box, PATCH_RADIUS);
  cairo_set_source_rgba (cr, paper->r, paper->g, paper->b, ML_PATCH_ALPHA);
  cairo_fill (cr);
}

static void
paint_blank (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style)
{
  static const double dashes[] = { 0.8, 0.6 };
  const MlPalette *palette = ml_palette (style->paper);
  const MlBox *sheet = &scene->picture->sheet;
  const int picture = scene->picture->picture;
  const MlTextStyle text = { .font = style->font, .height = 1.4, .colour = palette->faint, .width = sheet->x1 - sheet->x0 - 2 };
  g_autofree char *words = picture < 0
                             ? g_strdup ("There is no picture of this board yet. Click to choose a photo (PNG, JPEG) or an SVG, or drop it here.")
                             : g_strdup_printf ("The picture \342\200\234%s\342\200\235 is not shown; its pads are.", scene->board->pictures[picture].file);

  cairo_rectangle (cr, sheet->x0, sheet->y0, sheet->x1 - sheet->x0, sheet->y1 - sheet->y0);
  cairo_set_dash (cr, dashes, 2, 0);
  cairo_set_line_width (cr, 0.12);
  ml_paint_colour (cr, &palette->faint);
  cairo_stroke (cr);
  cairo_set_dash (cr, NULL, 0, 0);
  ml_text_draw (cr, words, sheet->x0 + 1, sheet->y0 + 0.8, &text);
}

void
ml_paint_photo (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style)
{
  const MlScenePicture *way = scene->picture;
  const cairo_matrix_t matrix = { way->xx, way->yx, way->xy, way->yy, way->x0, way->y0 };

  cairo_save (cr);
  cairo_new_path (cr);
  if (way->photo != NULL)
    {
      cairo_transform (cr, &matrix);
      ml_photo_paint (cr, way->photo);
    }
  else
    paint_blank (cr, scene, style);
  cairo_restore (cr);
}

/* ---- pads ---- */

static void
pad_path (cairo_t *cr, const MlBox *box)
{
  cairo_new_path (cr);
  ml_paint_rounded (cr, box, (box->y1 - box->y0) / 2);
}

/* A disc of paper with an outline in ink and the letters in it; on any ground one of the two stands out. */
void
ml_paint_pad (cairo_t *cr, const MlPart *part, int pin, MlPoint at, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette (style->paper);
  const MlTextStyle text = { .font = style->font, .height = ML_PAD_LETTER_HEIGHT, .bold = TRUE, .colour = palette->ink };
  g_autofree char *letters = ml_photo_pad_letters (part, pin);
  const MlBox box = ml_photo_pad_box (part, pin, at), edge = ml_box_grown (box, PAD_LINE * 1.4);
  const MlBox room = { box.x0 + 0.2, box.y0, box.x1 - 0.2, box.y1 };

  pad_path (cr, &edge);
  ml_paint_colour (cr, &palette->paper);
  cairo_fill (cr);
  pad_path (cr, &box);
  ml_paint_colour (cr, &palette->ink);
  cairo_set_line_width (cr, PAD_LINE);
  cairo_stroke (cr);
  if (g_utf8_strlen (letters, -1) > 1)
    ml_text_draw_in (cr, letters, &room, 0, &text);
  else if (*letters != '\0')
    ml_text_draw_middle (cr, letters, at.x, at.y, &text);
}

/* What is pinned by its middle only: a cross. */
static void
paint_middle (cairo_t *cr, const MlSceneSymbol *symbol, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette (style->paper);
  const MlPoint at = { (symbol->body.x0 + symbol->body.x1) / 2, (symbol->body.y0 + symbol->body.y1) / 2 };
  const MlColour *colours[] = { &palette->paper, &palette->ink };

  for (guint i = 0; i < 2; i++)
    {
      cairo_new_path (cr);
      cairo_move_to (cr, at.x - 0.5, at.y);
      cairo_line_to (cr, at.x + 0.5, at.y);
      cairo_move_to (cr, at.x, at.y - 0.5);
      cairo_line_to (cr, at.x, at.y + 0.5);
      ml_paint_colour (cr, colours[i]);
      cairo_set_line_width (cr, i == 0 ? 3 * PAD_LINE : PAD_LINE);
      cairo_stroke (cr);
    }
}

static void
paint_name (cairo_t *cr, const MlScene *scene, const MlSceneLabel *label, const MlPaintStyle *style)
{
  const MlTextStyle text = { .font = style->font, .height = ML_TEXT_HEIGHT, .bold = TRUE, .colour = ml_palette (style->paper)->ink };
  const MlBox room = { label->box.x0 + 0.1, label->box.y0, label->box.x1 - 0.1, label->box.y1 };

  ml_paint_patch (cr, label->box, style);
  ml_text_draw_in (cr, label->text, &room, 0, &text);
}

void
ml_paint_pads (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style)
{
  cairo_save (cr);
  for (guint i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[i].n_pins == 0)
      paint_middle (cr, &scene->symbols[i], style);
  for (guint i = 0; i < scene->n_pins; i++)
    ml_paint_pad (cr, &scene->board->parts[scene->pins[i].part], scene->pins[i].pin, scene->pins[i].at, style);
  for (guint i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].text != NULL)
      paint_name (cr, scene, &scene->labels[i], style);
  cairo_restore (cr);
}

/* ---- flow ---- */

static double
pin_current (double *const *pin_a, const MlScenePin *pin)
{
  return pin_a[pin->part] != NULL ? pin_a[pin->part][pin->pin] : NAN;
}

/* From each pad to the part's middle: the bands of a part meet there, and what goes in comes out. */
static void
lead (cairo_t *cr, const MlScene *scene, const MlScenePin *pin, double current_a, const MlPalette *palette)
{
  const MlPoint inner = ml_paint_inner_end (scene, pin);
  const double width = ml_flow_width (current_a);

  if (width <= 0)
    return;
  cairo_move_to (cr, pin->at.x, pin->at.y);
  cairo_line_to (cr, inner.x, inner.y);
  ml_paint_colour (cr, &palette->paper);
  cairo_set_line_width (cr, width + 2 * palette->casing);
  cairo_stroke_preserve (cr);
  ml_paint_colour (cr, &palette->flow);
  cairo_set_line_width (cr, width);
  cairo_stroke (cr);
}

static void
head (cairo_t *cr, const MlScene *scene, const MlScenePin *pin, double current_a, const MlPalette *palette)
{
  const MlPoint inner = ml_paint_inner_end (scene, pin), a = pin->at;
  const double width = ml_flow_width (current_a), length = hypot (inner.x - a.x, inner.y - a.y);
  const double angle = atan2 (inner.y - a.y, inner.x - a.x) + (current_a < 0 ? G_PI : 0);

  if (width <= 0 || length < 2 * ML_PAD_RADIUS + 0.6)
    return;
  ml_mark_arrow_head (cr, (MlPoint) { (a.x + inner.x) / 2, (a.y + inner.y) / 2 }, angle, 0.6 + 0.8 * width);
  ml_paint_colour (cr, &palette->paper);
  cairo_set_line_width (cr, 2 * palette->casing);
  cairo_stroke_preserve (cr);
  ml_paint_colour (cr, &palette->flow);
  cairo_fill (cr);
}

void
ml_paint_photo_flow (cairo_t *cr, const MlScene *scene, double *const *pin_a, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette_over_photo (style->paper);

  cairo_save (cr);
  cairo_new_path (cr);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_set_line_join (cr, CAIRO_LINE_JOIN_ROUND);
  for (guint i = 0; i < scene->n_pins; i++)
    lead (cr, scene, &scene->pins[i], pin_current (pin_a, &scene->pins[i]), palette);
  for (guint i = 0; i < scene->n_pins; i++)
    head (cr, scene, &scene->pins[i], pin_current (pin_a, &scene->pins[i]), palette);
  cairo_restore (cr);
}
