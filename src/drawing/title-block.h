/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a picture on paper says about itself: job, unit, condition, verdict, cautions. Also as plain text, for readers who cannot see it. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

/** ml_title_text: the picture's title in one line: "Vent controller, bay 7: unit bay7, condition running". New string. */
char *ml_title_text (const MlScene *scene, const MlOverlay *overlay);
/** ml_title_description: board, parts with values and verdicts, readings, verdict, cautions, one a line. New string. */
char *ml_title_description (const MlScene *scene, const MlOverlay *overlay);
/** ml_title_condition: "running: supply on, supply 18.0 V from FEED to MINUS, limit 250 mA"; new string. */
char *ml_title_condition (const MlBoard *board, int condition);
/** ml_title_date: ISO 8601 date of the job's last log entry; a fixed day when there is none, so that files repeat byte for byte. New string. */
char *ml_title_date (const MlOverlay *overlay);
gboolean ml_title_is_undated (const char *date);
/** ml_title_block_paint: below a drawing, with a legend of those entries (MlLegend); cr NULL only measures. Returns the height in g. */
double ml_title_block_paint (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, guint legend, MlPoint corner, double width,
                             const MlPaintStyle *style);

G_END_DECLS
