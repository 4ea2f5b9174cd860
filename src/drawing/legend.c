/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/legend.h"

#include "drawing/marks.h"
#include "drawing/paint-private.h"

#define ROW 2.6
#define SAMPLE 3.6
#define TEXT 1.0

static const char *const words[ML_LEGEND_N] = {
  "suspect, with probability", "possible", "cleared by the readings", "reading", "value to expect", "current", "reading taken, red and black",
  "probes, next reading", "stray link that the readings point to",
};

static void
sample_text (cairo_t *cr, const char *text, double x, double y, gboolean bold, const MlColour *colour, const char *font)
{
  const MlTextStyle style = { .font = font, .height = 1.1, .bold = bold, .colour = *colour };

  ml_text_draw (cr, text, x, y - 0.65, &style);
}

static void
sample (cairo_t *cr, guint entry, double x, double y, const MlPaintStyle *style)
{
  static const MlVerdictWord verdicts[] = { ML_VERDICT_SUSPECT, ML_VERDICT_POSSIBLE, ML_VERDICT_CLEARED };
  const MlPalette *palette = ml_palette (style->paper);
  const MlBox body = { x + 1.1, y - 0.15, x + 2.0, y + 0.15 }; /* its frame keeps off the text */

  switch (1u << entry)
    {
    case ML_LEGEND_SUSPECT:
    case ML_LEGEND_POSSIBLE:
    case ML_LEGEND_CLEARED:
      ml_mark_verdict (cr, &body, verdicts[entry], palette);
      break;
    case ML_LEGEND_READING:
      sample_text (cr, "4.9 V", x, y, TRUE, &palette->ink, style->font);
      break;
    case ML_LEGEND_EXPECTED:
      sample_text (cr, "5.0 V", x, y, FALSE, &palette->faint, style->font);
      break;
    case ML_LEGEND_FLOW:
      ml_paint_colour (cr, &palette->flow);
      cairo_move_to (cr, x, y);
      cairo_line_to (cr, x + 3, y);
      cairo_set_line_width (cr, 0.4);
      cairo_stroke (cr);
      ml_mark_arrow_head (cr, (MlPoint) { x + 1.6, y }, 0, 0.85);
      cairo_fill (cr);
      break;
    case ML_LEGEND_TAKEN:
      ml_mark_taken (cr, (MlPoint) { x + 0.6, y }, 0, TRUE, palette);
      ml_mark_taken (cr, (MlPoint) { x + 2, y }, 0, FALSE, palette);
      break;
    case ML_LEGEND_LINK:
      ml_mark_link (cr, (MlPoint) { x + 0.2, y }, (MlPoint) { x + 2.8, y }, ML_VERDICT_SUSPECT, palette);
      break;
    default:
      ml_mark_tip (cr, (MlPoint) { x - 0.2, y - 0.5 }, 0, TRUE, palette);
      ml_mark_tip (cr, (MlPoint) { x - 0.2, y + 0.5 }, 0, FALSE, palette);
      break;
    }
}

double
ml_legend_paint (cairo_t *cr, guint entries, double x, double y, double width, const MlPaintStyle *style)
{
  const MlTextStyle text = { .font = style->font, .height = TEXT, .colour = ml_palette (style->paper)->ink };
  const double left = x, top = y;

  if (entries == 0)
    return 0;
  for (guint i = 0; i < ML_LEGEND_N; i++)
    {
      double w, h;

      if ((entries & (1u << i)) == 0)
        continue;
      ml_text_size (words[i], &text, &w, &h);
      if (x > left && x + SAMPLE + w > left + width)
        {
          x = left;
          y += ROW;
        }
      if (cr != NULL)
        {
          sample (cr, i, x, y + ROW / 2, style);
          ml_text_draw (cr, words[i], x + SAMPLE, y + ROW / 2 - h / 2, &text);
        }
      x += SAMPLE + w + 1.8;
    }
  return y + ROW - top;
}
