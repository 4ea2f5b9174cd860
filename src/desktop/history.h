/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Undo and redo as a row of states, each the two whole texts (which share their untouched lines) and how it was reached. Knows no widget
 * and no file: the document asks it where to go and does the going. */
#pragma once

#include "board/text.h"

G_BEGIN_DECLS

typedef struct _MlHistory MlHistory;

/* Which of the two texts. */
typedef enum { ML_HISTORY_BOARD = 1 << 0, ML_HISTORY_JOB = 1 << 1, ML_HISTORY_BOTH = 3 } MlHistoryText;

/** ml_history_new: at one state, unsaved nothing, no step to undo. keepsake_free frees what ml_history_set_keepsake is given. */
MlHistory *ml_history_new (MlText *board, MlText *job, GDestroyNotify keepsake_free);
void ml_history_free (MlHistory *self);

/** ml_history_board, ml_history_job: the texts of the current state; borrowed. */
MlText *ml_history_board (const MlHistory *self);
MlText *ml_history_job (const MlHistory *self);

/**
 * ml_history_push: a new state after the current one; states that were undone are forgotten. board or job NULL: as before. With a merge
 * word equal to that of the step before it, and no barrier, undo or save since, the step before is widened instead. Returns whether it was.
 */
gboolean ml_history_push (MlHistory *self, MlText *board, MlText *job, const char *label, const char *merge);
void ml_history_barrier (MlHistory *self);

gboolean ml_history_undo (MlHistory *self); /* FALSE: nothing to undo */
gboolean ml_history_redo (MlHistory *self);
guint ml_history_n_undo (const MlHistory *self); /* how many steps can be taken back */
const char *ml_history_undo_label (const MlHistory *self); /* NULL: nothing to undo */
const char *ml_history_redo_label (const MlHistory *self);
/** ml_history_undo_merge, ml_history_redo_merge: the merge word of the step that would be undone or redone; NULL: none. */
const char *ml_history_undo_merge (const MlHistory *self);
const char *ml_history_redo_merge (const MlHistory *self);

/** ml_history_mark_saved: the current texts are what the files hold. */
void ml_history_mark_saved (MlHistory *self, MlHistoryText which);
/** ml_history_is_saved: every text in which is what its file holds, also after undoing back to it or typing it again. */
gboolean ml_history_is_saved (const MlHistory *self, MlHistoryText which);
/** ml_history_forget_saved: no file holds these texts (after a kill, say). */
void ml_history_forget_saved (MlHistory *self, MlHistoryText which);

/** ml_history_set_keepsake: something that belongs to the current state and is wanted when it comes back (its drawing). Taken over; the
 * oldest go when there are more than ML_HISTORY_MAX_KEEPSAKES. NULL: forget it. */
void ml_history_set_keepsake (MlHistory *self, gpointer keepsake);
gpointer ml_history_keepsake (const MlHistory *self); /* borrowed, NULL: none */

#define ML_HISTORY_MAX_KEEPSAKES 100u

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlHistory, ml_history_free)
G_END_DECLS
