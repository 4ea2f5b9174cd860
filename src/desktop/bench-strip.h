/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bench strip: one card a condition, and one more to add another. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/canvas.h"
#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_BENCH_STRIP (ml_bench_strip_get_type ())
G_DECLARE_FINAL_TYPE (MlBenchStrip, ml_bench_strip, ML, BENCH_STRIP, GtkWidget)

/** ml_bench_strip_new: follows the document. Signal "failed" (const char *): something could not be done, in a sentence. */
GtkWidget *ml_bench_strip_new (MlDocument *document, MlCanvas *canvas);
void ml_bench_strip_set_paper (MlBenchStrip *self, MlPaper paper);
/** ml_bench_strip_add: one more condition, with its supply's editor open. */
void ml_bench_strip_add (MlBenchStrip *self);
/** ml_bench_strip_turn: the first supply of the condition shown, turned round. */
void ml_bench_strip_turn (MlBenchStrip *self);
/** ml_bench_strip_read_supply: that condition is shown, and what its supply shows is asked for. */
void ml_bench_strip_read_supply (MlBenchStrip *self, int condition, int supply);
/** ml_bench_strip_set_short: there is little height: the cards show their heads only, and a button unfolds them. */
void ml_bench_strip_set_short (MlBenchStrip *self, gboolean is_short);

G_END_DECLS
