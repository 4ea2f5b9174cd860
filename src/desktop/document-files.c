/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opening, saving, and taking up what a killed program left. */
#include <string.h>

#include "board/edit.h"
#include "board/file.h"
#include "desktop/document-private.h"

static void
set_file (MlDocumentFile *file, const char *path, const char *fingerprint)
{
  MlDocumentFile old = *file;
  file->path = g_strdup (path);
  file->fingerprint = g_strdup (fingerprint);
  g_free (old.path);
  g_free (old.fingerprint);
}

/* As ml_file_fingerprint has it, but of the very bytes that were read: the file may have changed since. */
static char *
fingerprint_of (MlText *text)
{
  g_autoptr (GBytes) bytes = ml_text_to_bytes (text);
  return g_compute_checksum_for_bytes (G_CHECKSUM_SHA256, bytes);
}

static char *
absolute (const char *path)
{
  return g_canonicalize_filename (path, NULL);
}

/* ---- opening ---- */

/* The first statement tells what an oddly named file is. */
static gboolean
speaks_of_job (MlText *text)
{
  for (guint i = 0; i < ml_text_n_lines (text); i++)
    {
      const char *line = ml_text_line (text, i, NULL);
      if (g_str_has_prefix (line, "job "))
        return TRUE;
      if (g_str_has_prefix (line, "part ") || g_str_has_prefix (line, "reference "))
        return FALSE;
    }
  return FALSE;
}

static gboolean
is_job_file (const char *path, MlText *text)
{
  if (g_str_has_suffix (path, ".leafjob"))
    return TRUE;
  return !g_str_has_suffix (path, ".leafboard") && speaks_of_job (text);
}

static MlText *
empty_board_text (void)
{
  return ml_text_new ("", "meterleaf 1\n", -1);
}

/* What stands in the job's `board` statement, without the board. */
static char *
board_file_of (MlText *job_text)
{
  g_autoptr (MlJob) job = ml_job_read (job_text, NULL, NULL);
  return g_strdup (job->board_file);
}

static char *
board_path_of (MlText *job_text, const char *job_path)
{
  g_autofree char *file = board_file_of (job_text);
  if (!file)
    return NULL;
  g_autofree char *folder = g_path_get_dirname (job_path);
  return g_canonicalize_filename (file, folder);
}

static void
open_texts (MlDocument *self, MlText *board, const char *board_path, MlText *job, const char *job_path)
{
  g_autofree char *board_print = board_path ? fingerprint_of (board) : NULL;
  g_autofree char *job_print = job_path ? fingerprint_of (job) : NULL;
  ml_document_end_journal (self); /* before the paths that it would be kept under are gone */
  set_file (&self->board_file, board_path, board_print);
  set_file (&self->job_file, job_path, job_print);
  ml_document_begin (self, board, job);
  ml_document_tell (self);
}

static void
open_job (MlDocument *self, MlText *job, const char *path)
{
  g_autofree char *board_path = board_path_of (job, path);
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) board = board_path ? ml_text_load (board_path, &error) : NULL;
  g_clear_pointer (&self->file_trouble, g_free);
  if (!board_path)
    self->file_trouble = g_strdup ("the job names no board; write a line: board \"FILE.leafboard\"");
  else if (!board)
    self->file_trouble = g_strdup (error->message);
  g_autoptr (MlText) shown = board ? ml_text_ref (board) : empty_board_text ();
  open_texts (self, shown, board ? board_path : NULL, job, path);
}

static void
open_board (MlDocument *self, MlText *text, const char *path)
{
  g_autofree char *file = g_filename_display_basename (path); /* a job is UTF-8 text, whatever the name of the board's file is */
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  g_autoptr (MlJob) job = ml_job_new_for_board (board, file);
  g_clear_pointer (&self->file_trouble, g_free);
  open_texts (self, text, path, job->text, NULL);
}

/* Whether anything in it, wrong as the rest may be, is a statement of a board or a job. */
static gboolean
says_nothing (MlText *text)
{
  g_autoptr (MlDiagnostics) found = ml_diagnostics_new ();
  g_autoptr (MlBoard) board = ml_board_read (text, found);
  g_autoptr (MlJob) job = ml_job_read (text, NULL, NULL);
  gboolean circuit = board->n_parts || board->n_nets || board->n_conditions || board->title, bench = job->n_units || job->title || job->board_file;
  return ml_diagnostics_n_errors (found) > 0 && !circuit && !bench;
}

static gboolean
is_picture (const char *path)
{
  static const char *const endings[] = { ".png", ".jpg", ".jpeg", ".svg" };
  g_autofree char *lower = g_ascii_strdown (path, -1);
  for (guint i = 0; i < G_N_ELEMENTS (endings); i++)
    if (g_str_has_suffix (lower, endings[i]))
      return TRUE;
  return FALSE;
}

/* A file that is called one is shown with its errors, to be mended; whatever else holds nothing of the language was a slip. */
static gboolean
refuse_other_files (const char *path, MlText *text, GError **error)
{
  if (g_str_has_suffix (path, ".leafboard") || g_str_has_suffix (path, ".leafjob") || !says_nothing (text))
    return FALSE;
  if (is_picture (path))
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_DATA,
                 "%s is a picture. Draw the board first, or open it; then drop the picture on its view Board", path);
  else
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_DATA, "%s holds neither a board nor a job: their files end in .leafboard and .leafjob", path);
  return TRUE;
}

gboolean
ml_document_open (MlDocument *self, const char *path, GError **error)
{
  g_autofree char *whole = absolute (path);
  g_autoptr (MlText) text = ml_text_load (whole, error);
  if (!text || refuse_other_files (whole, text, error))
    return FALSE;
  if (is_job_file (whole, text))
    open_job (self, text, whole);
  else
    open_board (self, text, whole);
  return TRUE;
}

/* ---- saving ---- */

/* The window writes where every part stands when a board is saved: the file is the only place that keeps it. */
static void
write_places (MlDocument *self)
{
  MlBoard *board = self->board;
  g_autofree int *parts = g_new (int, board->n_parts + 1);
  g_autofree MlPlace *places = g_new (MlPlace, board->n_parts + 1);
  g_autoptr (GPtrArray) pins = g_ptr_array_new_with_free_func (g_free);
  const MlScene *scene = ml_desktop_sheet_scene (self->sheet);
  for (guint i = 0; i < board->n_parts; i++)
    {
      parts[i] = (int) i;
      g_ptr_array_add (pins, ml_layout_pin_words (scene, (int) i, NULL));
    }
  ml_layout_places (scene, places);
  g_autoptr (MlText) text = ml_board_edit_place_pins (board, parts, places, (const char *const *) pins->pdata, board->n_parts, NULL);
  if (!text || ml_text_equal (text, board->text))
    return;
  g_autofree char *label = g_strdup (ml_document_undo_label (self)); /* it is undone together with the step before */
  ml_document_apply (self, text, NULL, label ? label : "Keep the drawing", ML_DOCUMENT_KEEPS_PLACES);
}

/* How the job's file names the board's: by name when they lie side by side, else by the whole path. The bytes of a file's name, hence maybe no text. */
static char *
board_file_for (const char *board_path, const char *job_path)
{
  g_autofree char *board_folder = g_path_get_dirname (board_path), *job_folder = job_path ? g_path_get_dirname (job_path) : NULL;
  return !job_folder || strcmp (board_folder, job_folder) == 0 ? g_path_get_basename (board_path) : g_strdup (board_path);
}

static gboolean
names_board (MlDocument *self, const char *board_path, const char *job_path)
{
  if (!self->job->board_file)
    return FALSE;
  g_autofree char *folder = job_path ? g_path_get_dirname (job_path) : g_path_get_dirname (board_path);
  g_autofree char *named = g_canonicalize_filename (self->job->board_file, folder);
  return strcmp (named, board_path) == 0;
}

static void
name_board (MlDocument *self, const char *board_path, const char *job_path)
{
  if (names_board (self, board_path, job_path))
    return;
  g_autofree char *bytes = board_file_for (board_path, job_path), *file = g_filename_display_name (bytes);
  if (g_strcmp0 (file, self->job->board_file) == 0)
    return;
  g_autoptr (MlText) text = ml_job_edit_set_board_file (self->job, file, NULL);
  if (text)
    ml_document_apply (self, NULL, text, "Name the board's file", NULL);
}

static gboolean
write_text (MlText *text, const char *path, const MlDocumentFile *file, gboolean force, GError **error)
{
  gboolean same = file->path && strcmp (file->path, path) == 0;
  g_autoptr (GBytes) bytes = ml_text_to_bytes (text);
  return ml_file_save (path, bytes, same && !force ? file->fingerprint : NULL, error);
}

static gboolean
no_name (const char *what, GError **error)
{
  g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "The %s has no file yet: choose where to save it", what);
  return FALSE;
}

static void
saved (MlDocument *self, gboolean job)
{
  ml_history_mark_saved (self->history, job ? ML_HISTORY_JOB : ML_HISTORY_BOARD);
  ml_document_note_saved (self, job);
  ml_document_note_change (self, ML_CHANGED_HISTORY);
  ml_document_tell (self);
}

gboolean
ml_document_save_board (MlDocument *self, const char *path, gboolean force, GError **error)
{
  if (!path && !self->board_file.path)
    return no_name ("board", error);
  g_autofree char *whole = absolute (path ? path : self->board_file.path);
  /* A job that nobody has written in is made for its board and goes on being so. */
  gboolean job_untouched = !self->job_file.path && ml_history_is_saved (self->history, ML_HISTORY_JOB);
  if (!ml_document_can_redo (self)) /* a new step would take away what can be done again */
    write_places (self);
  if (!write_text (self->board->text, whole, &self->board_file, force, error))
    return FALSE;
  g_autofree char *print = fingerprint_of (self->board->text);
  set_file (&self->board_file, whole, print);
  name_board (self, whole, self->job_file.path);
  if (job_untouched)
    ml_history_mark_saved (self->history, ML_HISTORY_JOB);
  saved (self, FALSE);
  return TRUE;
}

gboolean
ml_document_save_job (MlDocument *self, const char *path, gboolean force, GError **error)
{
  if (!path && !self->job_file.path)
    return no_name ("job", error);
  if (!self->board_file.path)
    return no_name ("board of this job", error);
  g_autofree char *whole = absolute (path ? path : self->job_file.path), *board = board_file_for (self->board_file.path, whole);
  if (!g_utf8_validate (board, -1, NULL))
    {
      g_autofree char *shown = g_filename_display_name (self->board_file.path);
      g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_INVAL,
                   "The job is not saved: the name of its board's file, %s, is no UTF-8 text, so that no job can hold it. Save both under another name.", shown);
      return FALSE;
    }
  name_board (self, self->board_file.path, whole);
  if (!write_text (self->job->text, whole, &self->job_file, force, error))
    return FALSE;
  g_autofree char *print = fingerprint_of (self->job->text);
  set_file (&self->job_file, whole, print);
  saved (self, TRUE);
  return TRUE;
}

const char *
ml_document_board_path (MlDocument *self)
{
  return self->board_file.path;
}

const char *
ml_document_job_path (MlDocument *self)
{
  return self->job_file.path;
}

const char *
ml_document_journal_path (MlDocument *self)
{
  return self->journal ? ml_journal_path (self->journal) : NULL;
}

gboolean
ml_document_has_job (MlDocument *self)
{
  return self->job_file.path || !ml_history_is_saved (self->history, ML_HISTORY_JOB);
}

gboolean
ml_document_is_saved (MlDocument *self)
{
  return ml_history_is_saved (self->history, ML_HISTORY_BOTH);
}

/* ---- files that another program has written meanwhile ---- */

/* What is in the file now, when that is neither what was read from it nor what was written to it last; NULL; new string. A file that is gone takes
 * nothing away: saving writes it again. */
static char *
print_elsewhere (const MlDocumentFile *file)
{
  g_autofree char *now = file->path ? ml_file_fingerprint (file->path) : NULL;
  return now && g_strcmp0 (now, file->fingerprint) != 0 ? g_steal_pointer (&now) : NULL;
}

char *
ml_document_changed_elsewhere (MlDocument *self, char **ret_state)
{
  g_autofree char *board = print_elsewhere (&self->board_file), *job = print_elsewhere (&self->job_file);
  g_autofree char *board_name = board ? g_filename_display_basename (self->board_file.path) : NULL;
  g_autofree char *job_name = job ? g_filename_display_basename (self->job_file.path) : NULL;
  if (!board && !job)
    return NULL;
  if (ret_state)
    *ret_state = g_strdup_printf ("%s %s", board ? board : "", job ? job : "");
  return board && job ? g_strdup_printf ("%s and %s", board_name, job_name) : g_strdup (board ? board_name : job_name);
}

gboolean
ml_document_read_files (MlDocument *self, GError **error)
{
  g_autofree char *board_print = print_elsewhere (&self->board_file), *job_print = print_elsewhere (&self->job_file);
  g_autoptr (MlText) board = board_print ? ml_text_load (self->board_file.path, error) : NULL;
  if (board_print && !board)
    return FALSE;
  g_autoptr (MlText) job = job_print ? ml_text_load (self->job_file.path, error) : NULL;
  if (job_print && !job)
    return FALSE;
  if (!board && !job)
    return TRUE;
  ml_document_barrier (self);
  ml_document_apply (self, board, job, "Read the files again", NULL);
  MlText *const texts[] = { board, job };
  for (int i = 0; i < 2; i++)
    if (texts[i])
      {
        MlDocumentFile *file = i ? &self->job_file : &self->board_file;
        g_autofree char *path = g_strdup (file->path), *print = fingerprint_of (texts[i]);
        set_file (file, path, print);
        saved (self, i == 1);
      }
  return TRUE;
}

/* ---- the board of a job, somewhere else ---- */

gboolean
ml_document_lacks_board (MlDocument *self)
{
  return self->file_trouble && self->job_file.path && !self->board_file.path && self->board->n_parts == 0;
}

gboolean
ml_document_find_board (MlDocument *self, const char *path, GError **error)
{
  g_autofree char *whole = absolute (path), *job_path = g_strdup (self->job_file.path);
  if (!job_path)
    return no_name ("job", error);
  g_autoptr (MlText) board = ml_text_load (whole, error);
  g_autoptr (MlText) job = board ? ml_text_load (job_path, error) : NULL;
  if (!job)
    return FALSE;
  if (is_job_file (whole, board))
    {
      g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "%s is a job, not a board: choose the file that says what is soldered to what", whole);
      return FALSE;
    }
  g_autoptr (MlText) changed = ml_text_ref (self->job->text);
  g_clear_pointer (&self->file_trouble, g_free);
  open_texts (self, board, whole, job, job_path);
  if (!ml_text_equal (changed, job))
    ml_document_apply (self, NULL, changed, "Changes from before the board was found", NULL);
  name_board (self, whole, job_path);
  return TRUE;
}

/* ---- after a kill ---- */

static void
last_texts (const MlJournalStory *story, MlText **ret_board, MlText **ret_job)
{
  g_autoptr (MlHistory) history = ml_history_new (story->board.text, story->job.text, NULL);
  for (guint i = 0; i < story->records->len; i++)
    {
      const MlJournalRecord *record = story->records->pdata[i];
      if (record->what == ML_JOURNAL_STEP)
        ml_history_push (history, record->board, record->job, record->label, record->merged ? record->merge : NULL);
      else if (record->what == ML_JOURNAL_UNDO)
        ml_history_undo (history);
      else if (record->what == ML_JOURNAL_REDO)
        ml_history_redo (history);
    }
  *ret_board = ml_text_ref (ml_history_board (history));
  *ret_job = ml_text_ref (ml_history_job (history));
}

static char *
title_of (const MlJournalStory *story)
{
  g_autoptr (MlText) board_text = NULL, job_text = NULL;
  last_texts (story, &board_text, &job_text);
  g_autoptr (MlBoard) board = ml_board_read (board_text, NULL);
  g_autoptr (MlJob) job = ml_job_read (job_text, board, NULL);
  const char *path = story->job.path ? story->job.path : story->board.path;
  if (job->title && *job->title)
    return g_strdup (job->title);
  if (board->title && *board->title)
    return g_strdup (board->title);
  return path ? g_filename_display_basename (path) : g_strdup ("A board without a name");
}

static GDateTime *
when_written (const char *path)
{
  g_autoptr (GFile) file = g_file_new_for_path (path);
  g_autoptr (GFileInfo) info = g_file_query_info (file, G_FILE_ATTRIBUTE_TIME_MODIFIED, G_FILE_QUERY_INFO_NONE, NULL, NULL);
  return info ? g_file_info_get_modification_date_time (info) : NULL;
}

static MlRecoverable *
recoverable_new (const char *journal, const MlJournalStory *story)
{
  MlRecoverable *recoverable = g_new0 (MlRecoverable, 1);
  recoverable->journal = g_strdup (journal);
  recoverable->title = title_of (story);
  recoverable->path = g_strdup (story->job.path ? story->job.path : story->board.path);
  recoverable->when = when_written (journal);
  recoverable->n_changes = story->n_apart;
  return recoverable;
}

void
ml_recoverable_free (MlRecoverable *recoverable)
{
  g_free (recoverable->journal);
  g_free (recoverable->title);
  g_free (recoverable->path);
  g_clear_pointer (&recoverable->when, g_date_time_unref);
  g_free (recoverable);
}

GPtrArray *
ml_document_recoverable (const char *journal_folder)
{
  g_autofree char *folder = journal_folder ? g_strdup (journal_folder) : ml_journal_folder ();
  g_autoptr (GPtrArray) journals = ml_journal_list (folder);
  GPtrArray *found = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_recoverable_free);
  for (guint i = 0; i < journals->len; i++)
    {
      const char *journal = journals->pdata[i];
      g_autoptr (MlJournalStory) story = ml_journal_peek (journal, NULL);
      if (story && story->n_unsaved > 0)
        g_ptr_array_add (found, recoverable_new (journal, story));
      else if (story)
        ml_document_discard (journal);
    }
  return found;
}

static void
replay (MlDocument *self, const MlJournalRecord *record)
{
  switch (record->what)
    {
    case ML_JOURNAL_STEP:
      if (!record->merged)
        ml_history_barrier (self->history);
      ml_history_push (self->history, record->board, record->job, record->label, record->merge);
      break;
    case ML_JOURNAL_UNDO:
      ml_history_undo (self->history);
      break;
    case ML_JOURNAL_REDO:
      ml_history_redo (self->history);
      break;
    case ML_JOURNAL_SAVED:
      for (int i = 0; i < 2; i++)
        if (record->path[i])
          {
            set_file (i ? &self->job_file : &self->board_file, record->path[i], record->fingerprint[i]);
            ml_history_mark_saved (self->history, i ? ML_HISTORY_JOB : ML_HISTORY_BOARD);
          }
      break;
    }
}

gboolean
ml_document_recover (MlDocument *self, const char *journal, GError **error)
{
  g_autoptr (MlJournalStory) story = NULL;
  MlJournal *taken = ml_journal_take (journal, &story, error);
  if (!taken)
    return FALSE;
  g_clear_pointer (&self->file_trouble, g_free);
  ml_document_end_journal (self);
  set_file (&self->board_file, story->board.path, story->board.fingerprint);
  set_file (&self->job_file, story->job.path, story->job.fingerprint);
  ml_document_begin (self, story->board.text, story->job.text);
  for (guint i = 0; i < story->records->len; i++)
    replay (self, story->records->pdata[i]);
  self->journal = taken;
  ml_document_begin_journal (self); /* what the journal has is what the history has now */
  ml_document_refresh (self, ML_REFRESH_LAY_OUT);
  ml_document_view_reset (self);
  ml_document_judge_again (self); /* what is looked at now, not what was when the file was read */
  ml_document_note_change (self, ML_CHANGED_ALL);
  ml_document_tell (self);
  return TRUE;
}

void
ml_document_discard (const char *journal)
{
  g_autoptr (MlJournalStory) story = NULL;
  MlJournal *taken = ml_journal_take (journal, &story, NULL);
  ml_journal_discard (taken);
}
