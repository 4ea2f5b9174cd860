/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Noting every step in the journal, and what to do when the disk will not take it: go on, say so, and note the whole difference next time. */
#include "desktop/document-private.h"

static void
remember_noted (MlDocument *self)
{
  MlText *board = ml_text_ref (ml_history_board (self->history)), *job = ml_text_ref (ml_history_job (self->history));
  g_clear_pointer (&self->noted_board, ml_text_unref);
  g_clear_pointer (&self->noted_job, ml_text_unref);
  self->noted_board = board;
  self->noted_job = job;
}

static void
forget_noted (MlDocument *self)
{
  g_clear_pointer (&self->noted_board, ml_text_unref);
  g_clear_pointer (&self->noted_job, ml_text_unref);
  self->behind = FALSE;
}

static void
failed (MlDocument *self, const GError *error)
{
  g_autofree char *text = g_strdup_printf ("Changes are not safe until you save: %s", error->message);
  self->behind = TRUE;
  ml_document_set_trouble (self, &self->journal_trouble, text);
}

/* The journal begins with the texts before the step, which are those that ml_document_begin or the last note remembered. */
static gboolean
ensure_journal (MlDocument *self, GError **error)
{
  if (self->journal)
    return TRUE;
  MlJournalText board = { self->noted_board, self->board_file.path, self->board_file.fingerprint };
  MlJournalText job = { self->noted_job, self->job_file.path, self->job_file.fingerprint };
  self->journal = ml_journal_create (self->journal_folder, &board, &job, error);
  return self->journal != NULL;
}

static gboolean
append_step (MlDocument *self, const char *label, const char *merge, gboolean merged, GError **error)
{
  MlJournalStep step = {
    .board_from = self->noted_board, .board_to = ml_history_board (self->history),
    .job_from = self->noted_job,     .job_to = ml_history_job (self->history),
    .label = label,                  .merge = merge,
    .merged = merged && !self->behind,
  };
  return ml_journal_append_step (self->journal, &step, error);
}

static void
noted (MlDocument *self, gboolean done, const GError *error)
{
  if (!done)
    {
      failed (self, error);
      return;
    }
  remember_noted (self);
  ml_document_set_trouble (self, &self->journal_trouble, NULL);
}

void
ml_document_note_step (MlDocument *self, const char *label, const char *merge, gboolean merged)
{
  g_autoptr (GError) error = NULL;
  gboolean done = ensure_journal (self, &error) && append_step (self, label, merge, merged, &error);
  noted (self, done, error);
}

/* Once behind, the journal's row of states is not ours any more: an undo is then noted as a step like any other. */
void
ml_document_note_move (MlDocument *self, MlJournalWhat what, const char *label)
{
  g_autoptr (GError) error = NULL;
  gboolean begun = self->journal != NULL; /* a journal begun now has no state to go back to */
  gboolean done = ensure_journal (self, &error);
  if (done && (self->behind || !begun))
    {
      self->behind = TRUE;
      done = append_step (self, label, NULL, FALSE, &error);
    }
  else if (done)
    done = ml_journal_append_move (self->journal, what, &error);
  noted (self, done, error);
}

void
ml_document_note_saved (MlDocument *self, gboolean job)
{
  if (ml_history_is_saved (self->history, ML_HISTORY_BOTH))
    {
      /* Nothing is left to lose; the next change begins a journal of its own. */
      g_clear_pointer (&self->journal, ml_journal_discard);
      self->behind = FALSE;
      remember_noted (self);
      ml_document_set_trouble (self, &self->journal_trouble, NULL);
      return;
    }
  MlDocumentFile *file = job ? &self->job_file : &self->board_file;
  MlJournalText text = { NULL, file->path, file->fingerprint };
  g_autoptr (GError) error = NULL;
  if (self->journal && !ml_journal_append_saved (self->journal, job, &text, &error))
    failed (self, error);
}

void
ml_document_begin_journal (MlDocument *self)
{
  forget_noted (self);
  remember_noted (self);
}

void
ml_document_end_journal (MlDocument *self)
{
  gboolean wanted = !self->abandoned && self->history && !ml_history_is_saved (self->history, ML_HISTORY_BOTH);
  if (wanted)
    ml_journal_close (self->journal);
  else
    ml_journal_discard (self->journal);
  self->journal = NULL;
  forget_noted (self);
}
