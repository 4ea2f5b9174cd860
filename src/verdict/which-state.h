/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which of its states a board with several rests in, where the board file does not say. */
#pragma once

#include "verdict/dictionary.h"

G_BEGIN_DECLS

typedef struct _MlWhichState MlWhichState;

MlWhichState *ml_which_state_new (MlBoard *board);
void ml_which_state_free (MlWhichState *own);
/**
 * ml_which_state_find: per condition that can rest in more than one state, the one in which the sound board is nearest to that unit's readings:
 * *ret_preferred becomes a new array of MlPreferred, NULL where all is as the engine finds it by itself. base: of the board as drawn; may_solve FALSE:
 * only what was looked for before. FALSE: that does not suffice.
 */
gboolean ml_which_state_find (MlWhichState *own, MlDictionary *base, const MlJob *job, int unit, guint pass, gboolean may_solve, GArray **ret_preferred);

G_END_DECLS
