/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pictures on a card of the bench strip: each supply as it stands on the bench, its two leads ending at the named nets. */
#pragma once

#include <cairo.h>

#include "board/board.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

/** ml_bench_picture_words: the same in words, for screen readers and tests: "18 V, up to 250 mA, red on FEED, black on MINUS; S1 closed". New string. */
char *ml_bench_picture_words (const MlBoard *board, int condition);
/** ml_bench_load: "load 100 Ω at V5", "load 20 mA, A to B"; new string. */
char *ml_bench_load (const MlBoard *board, const MlLoad *load);
/** ml_bench_besides: what else is done to the board in that condition, a line each: lifted legs, parts taken out, nets joined. */
GPtrArray *ml_bench_besides (const MlBoard *board, int condition);
/** ml_bench_picture_limit: "up to 250 mA", "no limit set: 3 A"; new string. */
char *ml_bench_picture_limit (const MlSupply *supply);
/** ml_bench_setting: how that switch, changeover, contact or potentiometer stands in the condition: "closed"; new string, NULL when it has no setting. */
char *ml_bench_setting (const MlBoard *board, int condition, int part);
/** ml_bench_settings: the parts (int) that have one there, those first that stand otherwise in another condition: what the conditions are about. */
GArray *ml_bench_settings (const MlBoard *board, int condition);

#define ML_BENCH_ROW_HEIGHT 50 /* of one supply, at 100 % text */

/** ml_bench_picture_paint: that supply of the condition (none: the bench without one) into width x height; text_scale 1 at 100 % text. */
void ml_bench_picture_paint (cairo_t *cr, const MlBoard *board, int condition, int supply, MlPaper paper, double width, double height, double text_scale);

G_END_DECLS
