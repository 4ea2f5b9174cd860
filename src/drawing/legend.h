/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The legend below a drawing: only the marks that are on it. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

typedef enum
{
  ML_LEGEND_SUSPECT = 1 << 0,
  ML_LEGEND_POSSIBLE = 1 << 1,
  ML_LEGEND_CLEARED = 1 << 2,
  ML_LEGEND_READING = 1 << 3,
  ML_LEGEND_EXPECTED = 1 << 4,
  ML_LEGEND_FLOW = 1 << 5,
  ML_LEGEND_TAKEN = 1 << 6,
  ML_LEGEND_PROBES = 1 << 7,
  ML_LEGEND_LINK = 1 << 8
} MlLegend;
#define ML_LEGEND_N 9

/** ml_legend_paint: entries in rows no wider than width, from the upper left corner; cr NULL only measures. Returns the height in g. */
double ml_legend_paint (cairo_t *cr, guint entries, double x, double y, double width, const MlPaintStyle *style);

G_END_DECLS
