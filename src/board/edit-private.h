/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the edits of a board share. */
#pragma once

#include "board/edit-text.h"

G_BEGIN_DECLS

/** ml_board_edit_finish: the patched text, when it reads with no more errors than before; else NULL and the new error's words. Frees the patch. */
MlText *ml_board_edit_finish (const MlBoard *board, MlPatch *patch, GError **error);
/** ml_board_edit_set_pin: patches the pin's net ("-": open); part statement as read from the board's text. */
void ml_board_edit_set_pin (MlPatch *patch, const MlStatement *statement, const MlPart *part, int pin, const char *net);
/** ml_board_edit_drop_nets: patches away whatever speaks of nets (names) that no pin is on any more. */
void ml_board_edit_drop_nets (MlPatch *patch, const MlBoard *board, GHashTable *nets);
/** ml_board_edit_drop_statement: patches one statement away, a condition or picture with all below it. */
void ml_board_edit_drop_statement (MlPatch *patch, const MlText *text, const MlStatement *statement);

G_END_DECLS
