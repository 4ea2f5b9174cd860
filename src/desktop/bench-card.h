/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One card of the bench strip: a condition, drawn as what stands on the bench, and changed right there. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/canvas.h"
#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_BENCH_CARD (ml_bench_card_get_type ())
G_DECLARE_FINAL_TYPE (MlBenchCard, ml_bench_card, ML, BENCH_CARD, GtkWidget)

/** ml_bench_card_new: canvas is where the leads of a supply are clicked on; NULL: leads can then only be named. Signal "failed" (const char *). */
GtkWidget *ml_bench_card_new (MlDocument *document, MlCanvas *canvas, int condition);
void ml_bench_card_set_paper (MlBenchCard *self, MlPaper paper);
/** ml_bench_card_update: the document changed; an open supply editor stays open. */
void ml_bench_card_update (MlBenchCard *self);
/** ml_bench_card_edit_supply: opens the editor; supply -1: a new one. */
void ml_bench_card_edit_supply (MlBenchCard *self, int supply);
/** ml_bench_card_begin: the condition was just added under a name that nobody chose: its first supply is asked for; left without one it is the cold one. */
void ml_bench_card_begin (MlBenchCard *self);
/** ml_bench_card_read_supply: its condition is shown, and what the supply shows is asked for. */
void ml_bench_card_read_supply (MlBenchCard *self, int supply);
/** ml_bench_card_set_folded: only its head is shown, but for what is being edited. */
void ml_bench_card_set_folded (MlBenchCard *self, gboolean folded);
/** ml_bench_card_set_short: there is little room: the count of readings leaves away what is less important. */
void ml_bench_card_set_short (MlBenchCard *self, gboolean is_short);
gboolean ml_bench_card_is_editing (MlBenchCard *self);

/** ml_bench_count: how many readings of the document's unit and pass were taken in a condition, and how many more are suggested there. */
void ml_bench_count (MlDocument *document, int condition, guint *ret_taken, guint *ret_suggested);

G_END_DECLS
