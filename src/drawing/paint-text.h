/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text in grid units, set by Pango: the same at every scale, so that a label that fits its box at one zoom fits at all. */
#pragma once

#include <cairo.h>

#include "drawing/paint.h"

G_BEGIN_DECLS

typedef struct
{
  const char *font;  /* NULL: "Sans" */
  double height;     /* em in g */
  gboolean bold;
  double width;      /* lines are broken at this many g; 0: not at all */
  MlColour colour;
} MlTextStyle;

/** ml_text_size: advance width and height of the text's lines, in g. */
void ml_text_size (const char *text, const MlTextStyle *style, double *ret_width, double *ret_height);
/** ml_text_draw: the text's lines with their upper left corner at x, y. */
void ml_text_draw (cairo_t *cr, const char *text, double x, double y, const MlTextStyle *style);
/** ml_text_draw_middle: one line whose ink is centred on x, y. */
void ml_text_draw_middle (cairo_t *cr, const char *text, double x, double y, const MlTextStyle *style);
/** ml_text_draw_in: one line within a box, aligned -1 left, 0 middle, 1 right; made smaller when it would not fit. */
void ml_text_draw_in (cairo_t *cr, const char *text, const MlBox *box, int align, const MlTextStyle *style);

G_END_DECLS
