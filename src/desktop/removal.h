/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Taking something out of the board of which the job speaks: what was read and seen there goes along in the same step, is named first, and
 * comes back with undo. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"

G_BEGIN_DECLS

/** ml_removal_words: "2 readings, 1 observation and 1 further line"; new string, NULL when nothing goes. */
char *ml_removal_words (const MlDropped *dropped);
/**
 * ml_removal_offer: board_text is the board without `what` ("condition asked"), job_text the job beside it; both are taken (board_text
 * NULL: it stays). Where readings go
 * it asks, over the window of `over`; else it is done at once, as one step called label.
 */
void ml_removal_offer (GtkWidget *over, MlDocument *document, MlText *board_text, MlText *job_text, const MlDropped *dropped, const char *what,
                       const char *label);
/** ml_removal_offer_board: the same with the job as far as it fits the new board. */
void ml_removal_offer_board (GtkWidget *over, MlDocument *document, MlText *board_text, const char *what, const char *label);

G_END_DECLS
