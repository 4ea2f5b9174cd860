/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The drawing of the current board: a quick one at once, a better one from a thread, put in its place only when nobody has touched the
 * board or the drawing meanwhile; never later, because a drawing that moves under the hand is worse than a plain one. */
#pragma once

#include "drawing/layout.h"

G_BEGIN_DECLS

typedef struct _MlSheet MlSheet;

/** ml_desktop_sheet_new: changed is called when the scene was replaced from the background, progressed when that came nearer; on the main context. */
MlSheet *ml_desktop_sheet_new (MlBoard *board, void (*changed) (gpointer data), void (*progressed) (gpointer data), gpointer data);
void ml_desktop_sheet_free (MlSheet *self);
MlScene *ml_desktop_sheet_scene (MlSheet *self); /* borrowed, never NULL, of the current board */

/** ml_desktop_sheet_set_board: parts that were on the sheet stay where they are unless the board places them. known (may be NULL): the drawing this board had. */
void ml_desktop_sheet_set_board (MlSheet *self, MlBoard *board, const MlScene *known);
/** ml_desktop_sheet_lay_out: the board is laid out whole; ml_desktop_sheet_improve may then better it. */
void ml_desktop_sheet_lay_out (MlSheet *self, MlBoard *board);
/** ml_desktop_sheet_improve: begins the better drawing, if the quick one still stands untouched. net_v: potentials of the first condition, or NULL. */
void ml_desktop_sheet_improve (MlSheet *self, const double *net_v);
/** ml_desktop_sheet_awaits_better: the quick drawing still stands untouched; a better one is on its way or will be begun. */
gboolean ml_desktop_sheet_awaits_better (MlSheet *self);
/** ml_desktop_sheet_progress: how much of the better drawing is done, 0 to 1, of boards so large that it takes long; negative for others and when none is made. */
double ml_desktop_sheet_progress (MlSheet *self);
/** ml_desktop_sheet_keep: no better drawing is wanted; this one stays. */
void ml_desktop_sheet_keep (MlSheet *self);

/** ml_desktop_sheet_preview: part follows the hand, from where the board has it. */
void ml_desktop_sheet_preview (MlSheet *self, int part, const MlPlace *place);
/** ml_desktop_sheet_end_preview: back to the drawing before the hand took the part. */
void ml_desktop_sheet_end_preview (MlSheet *self);
/** ml_desktop_sheet_drop: the part stays at place. board is the new one, which differs from the old only by `place` statements. */
void ml_desktop_sheet_drop (MlSheet *self, MlBoard *board, int part, const MlPlace *place);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlSheet, ml_desktop_sheet_free)
G_END_DECLS
