/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/history.h"

typedef struct
{
  MlText *board, *job;
  char *label, *merge; /* of the step that led here; NULL for the first state */
  gpointer keepsake;
  GDestroyNotify keepsake_free; /* template of the history */
} State;

struct _MlHistory
{
  GPtrArray *states; /* State, oldest first */
  guint at;          /* the current one */
  gboolean barrier;
  GDestroyNotify keepsake_free;
  MlText *saved_board, *saved_job; /* NULL: no file holds it */
};

static void
state_drop_keepsake (State *state)
{
  if (state->keepsake)
    state->keepsake_free (state->keepsake);
  state->keepsake = NULL;
}

static void
state_free (gpointer data)
{
  State *state = data;
  state_drop_keepsake (state);
  ml_text_unref (state->board);
  ml_text_unref (state->job);
  g_free (state->label);
  g_free (state->merge);
  g_free (state);
}

static State *
state_new (MlHistory *self, MlText *board, MlText *job, const char *label, const char *merge)
{
  State *state = g_new0 (State, 1);
  state->board = ml_text_ref (board);
  state->job = ml_text_ref (job);
  state->label = g_strdup (label);
  state->merge = g_strdup (merge);
  state->keepsake_free = self->keepsake_free;
  return state;
}

static State *
state_at (const MlHistory *self, guint at)
{
  return g_ptr_array_index (self->states, at);
}

static State *
current (const MlHistory *self)
{
  return state_at (self, self->at);
}

static void
replace_text (MlText **slot, MlText *text)
{
  MlText *old = *slot;
  *slot = text ? ml_text_ref (text) : NULL;
  if (old)
    ml_text_unref (old);
}

static void
forget_redo (MlHistory *self)
{
  g_ptr_array_set_size (self->states, (int) self->at + 1);
}

static gboolean
can_merge (const MlHistory *self, const char *merge)
{
  return merge && !self->barrier && self->at > 0 && g_strcmp0 (current (self)->merge, merge) == 0;
}

MlHistory *
ml_history_new (MlText *board, MlText *job, GDestroyNotify keepsake_free)
{
  MlHistory *self = g_new0 (MlHistory, 1);
  self->keepsake_free = keepsake_free;
  self->states = g_ptr_array_new_with_free_func (state_free);
  g_ptr_array_add (self->states, state_new (self, board, job, NULL, NULL));
  ml_history_mark_saved (self, ML_HISTORY_BOTH);
  return self;
}

void
ml_history_free (MlHistory *self)
{
  if (!self)
    return;
  g_ptr_array_unref (self->states);
  replace_text (&self->saved_board, NULL);
  replace_text (&self->saved_job, NULL);
  g_free (self);
}

MlText *
ml_history_board (const MlHistory *self)
{
  return current (self)->board;
}

MlText *
ml_history_job (const MlHistory *self)
{
  return current (self)->job;
}

gboolean
ml_history_push (MlHistory *self, MlText *board, MlText *job, const char *label, const char *merge)
{
  State *state = current (self);
  gboolean merged = can_merge (self, merge);
  if (!board)
    board = state->board;
  if (!job)
    job = state->job;

  forget_redo (self);
  if (merged)
    {
      replace_text (&state->board, board);
      replace_text (&state->job, job);
      state_drop_keepsake (state);
    }
  else
    {
      g_ptr_array_add (self->states, state_new (self, board, job, label, merge));
      self->at++;
    }
  self->barrier = FALSE;
  return merged;
}

void
ml_history_barrier (MlHistory *self)
{
  self->barrier = TRUE;
}

gboolean
ml_history_undo (MlHistory *self)
{
  if (self->at == 0)
    return FALSE;
  self->at--;
  self->barrier = TRUE;
  return TRUE;
}

gboolean
ml_history_redo (MlHistory *self)
{
  if (self->at + 1 >= self->states->len)
    return FALSE;
  self->at++;
  self->barrier = TRUE;
  return TRUE;
}

guint
ml_history_n_undo (const MlHistory *self)
{
  return self->at;
}

const char *
ml_history_undo_label (const MlHistory *self)
{
  return self->at > 0 ? current (self)->label : NULL;
}

const char *
ml_history_redo_label (const MlHistory *self)
{
  return self->at + 1 < self->states->len ? state_at (self, self->at + 1)->label : NULL;
}

const char *
ml_history_undo_merge (const MlHistory *self)
{
  return self->at > 0 ? current (self)->merge : NULL;
}

const char *
ml_history_redo_merge (const MlHistory *self)
{
  return self->at + 1 < self->states->len ? state_at (self, self->at + 1)->merge : NULL;
}

void
ml_history_mark_saved (MlHistory *self, MlHistoryText which)
{
  if (which & ML_HISTORY_BOARD)
    replace_text (&self->saved_board, current (self)->board);
  if (which & ML_HISTORY_JOB)
    replace_text (&self->saved_job, current (self)->job);
  self->barrier = TRUE;
}

static gboolean
same_text (MlText *a, MlText *b)
{
  return a == b || (a && b && ml_text_equal (a, b));
}

gboolean
ml_history_is_saved (const MlHistory *self, MlHistoryText which)
{
  return (!(which & ML_HISTORY_BOARD) || same_text (current (self)->board, self->saved_board))
         && (!(which & ML_HISTORY_JOB) || same_text (current (self)->job, self->saved_job));
}

void
ml_history_forget_saved (MlHistory *self, MlHistoryText which)
{
  if (which & ML_HISTORY_BOARD)
    replace_text (&self->saved_board, NULL);
  if (which & ML_HISTORY_JOB)
    replace_text (&self->saved_job, NULL);
}

void
ml_history_set_keepsake (MlHistory *self, gpointer keepsake)
{
  State *state = current (self);
  if (state->keepsake == keepsake)
    return;
  state_drop_keepsake (state);
  state->keepsake = keepsake;

  guint kept = 0;
  for (guint i = self->states->len; i-- > 0;)
    if (state_at (self, i)->keepsake && ++kept > ML_HISTORY_MAX_KEEPSAKES && i != self->at)
      state_drop_keepsake (state_at (self, i));
}

gpointer
ml_history_keepsake (const MlHistory *self)
{
  return current (self)->keepsake;
}
