/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a board takes for granted in its own way: its `assume NAME VALUE` statements, each in place of a line of data/assumptions.table. */
#pragma once

#include "board/board.h"
#include "board/nearest.h"

G_BEGIN_DECLS

/** ml_board_assumptions: name (owned string) to value (double *), of the board's statements; the last of a name counts. Unref the table. */
GHashTable *ml_board_assumptions (const MlBoard *board);
/** ml_assume_check: NULL when the table has such a line and the value can stand there, else what is wrong with which of the two (constant). */
const char *ml_assume_check (const char *name, const char *value, gboolean *ret_name_wrong);
/** ml_assume_offer: offers every name of the table, in alphabetical order. */
void ml_assume_offer (MlNearest *nearest);
/** ml_assume_usual: the table's value of that name; NAN when it has none. */
double ml_assume_usual (const char *name);

G_END_DECLS
