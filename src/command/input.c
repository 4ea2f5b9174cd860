/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <string.h>
#include <unistd.h>

#include "board/scan.h"
#include "drawing/photo-scene.h"

void
ml_command_say (const char *format, ...)
{
  va_list arguments;
  g_autofree char *message = NULL;

  va_start (arguments, format);
  message = g_strdup_vprintf (format, arguments);
  va_end (arguments);
  g_printerr ("meterleaf: %s\n", message);
}

void
ml_input_say (const MlInput *input, MlSeverity from)
{
  ml_diagnostics_sort (input->diagnostics);
  for (guint i = 0; i < ml_diagnostics_n (input->diagnostics); i++)
    {
      const MlDiagnostic *diagnostic = ml_diagnostics_get (input->diagnostics, i);
      g_autofree char *line = NULL;

      if (diagnostic->severity < from)
        continue;
      line = ml_diagnostic_to_string (diagnostic);
      g_printerr ("%s\n", line);
    }
}

/* A file under another name, or standard input, is what its first telling statement says. */
static gboolean
is_job (const MlText *text)
{
  static const char *const of_jobs[] = { "job", "unit", "meter", "reading", "seen", "pass", "log", NULL };
  static const char *const of_boards[] = { "part", "net", "reference", "condition", "datasheet", NULL };
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement;

  if (g_str_has_suffix (ml_text_name (text), ".leafjob") || g_str_has_suffix (ml_text_name (text), ".leafboard"))
    return g_str_has_suffix (ml_text_name (text), ".leafjob");
  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (!statement->indented && statement->n_words > 0 && g_strv_contains (of_jobs, statement->words[0].text))
      return TRUE;
    else if (!statement->indented && statement->n_words > 0 && g_strv_contains (of_boards, statement->words[0].text))
      return FALSE;
  return FALSE;
}

MlExit
ml_input_read (MlInput *input, const char *path)
{
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text = strcmp (path, "-") == 0 ? ml_text_load_descriptor ("stdin", STDIN_FILENO, &error) : ml_text_load (path, &error);

  *input = (MlInput) { .diagnostics = ml_diagnostics_new () };
  if (*path == '\0')
    {
      ml_command_say ("the name of the file is empty");
      return ML_EXIT_INPUT;
    }
  if (text == NULL)
    {
      ml_command_say ("%s", error->message);
      return ML_EXIT_INPUT;
    }
  if (!is_job (text))
    input->board = ml_board_read (text, input->diagnostics);
  else
    {
      input->job = ml_job_read_with_board (text, input->diagnostics);
      input->board = input->job->board != NULL ? ml_board_ref (input->job->board) : NULL;
    }
  return ML_EXIT_DONE;
}

MlExit
ml_input_load (MlInput *input, const char *path, gboolean needs_job)
{
  const MlExit status = ml_input_read (input, path);

  if (status != ML_EXIT_DONE)
    return status;
  if (ml_diagnostics_n_errors (input->diagnostics) > 0 || input->board == NULL)
    {
      ml_input_say (input, ML_SEVERITY_ERROR);
      return ML_EXIT_INPUT;
    }
  if (needs_job && input->job == NULL)
    {
      ml_command_say ("%s is a board, not a job: give the job with its readings, a file that ends in .leafjob", path);
      return ML_EXIT_INPUT;
    }
  return ML_EXIT_DONE;
}

void
ml_input_clear (MlInput *input)
{
  g_clear_pointer (&input->job, ml_job_unref);
  g_clear_pointer (&input->board, ml_board_unref);
  g_clear_pointer (&input->diagnostics, ml_diagnostics_free);
}

int
ml_input_condition (const MlInput *input, const char *name, int fallback)
{
  g_autoptr (GString) known = NULL;
  int found;

  if (name == NULL)
    return fallback;
  found = ml_board_find_condition (input->board, name);
  if (found >= 0)
    return found;
  known = g_string_new (NULL);
  for (guint i = 0; i < input->board->n_conditions; i++)
    g_string_append_printf (known, "%s%s", i > 0 ? ", " : "", input->board->conditions[i].name);
  ml_command_say ("there is no condition '%s'; the board has: %s", name, known->len > 0 ? known->str : "none");
  return -1;
}

int
ml_input_unit (const MlInput *input, const char *name)
{
  g_autoptr (GString) known = NULL;
  int found = name != NULL ? ml_job_find_unit (input->job, name) : ml_job_suspect (input->job);

  if (found >= 0)
    return found;
  if (name == NULL)
    {
      ml_command_say ("no unit of this job is marked suspect: write `unit NAME suspect`, or choose one with --unit");
      return -1;
    }
  known = g_string_new (NULL);
  for (guint i = 0; i < input->job->n_units; i++)
    g_string_append_printf (known, "%s%s", i > 0 ? ", " : "", input->job->units[i].name);
  ml_command_say ("there is no unit '%s'; the job has: %s", name, known->len > 0 ? known->str : "none");
  return -1;
}

gboolean
ml_input_pass (const MlInput *input, int unit, int pass)
{
  const MlUnitOnBench *it = &input->job->units[unit];

  if (pass == 0 || (guint) pass <= it->n_passes)
    return TRUE;
  ml_command_say ("unit %s has %u %s, not %d", it->name, it->n_passes, it->n_passes == 1 ? "pass" : "passes", pass);
  return FALSE;
}

gboolean
ml_pass_read (const char *word, int *ret_pass)
{
  guint64 pass = 0;

  if (word != NULL && !g_ascii_string_to_unsigned (word, 10, 1, G_MAXINT, &pass, NULL))
    {
      ml_command_say ("--pass=%s: passes count 1, 2, 3, …", word);
      return FALSE;
    }
  *ret_pass = (int) pass;
  return TRUE;
}

gboolean
ml_page_arguments_read (MlPageArguments *self, MlPageSize fallback)
{
  self->size = fallback;
  if (self->word != NULL && !ml_page_find (self->word, &self->size))
    {
      ml_command_say ("--page takes %s, not '%s'", ml_page_words (), self->word);
      return FALSE;
    }
  if (self->portrait && self->landscape)
    {
      ml_command_say ("--portrait and --landscape exclude each other");
      return FALSE;
    }
  if ((self->portrait || self->landscape) && self->size == ML_PAGE_FIT)
    {
      ml_command_say ("--portrait and --landscape turn a page: say which with --page");
      return FALSE;
    }
  self->turn = self->portrait ? ML_PAGE_PORTRAIT : self->landscape ? ML_PAGE_LANDSCAPE : ML_PAGE_EITHER;
  return TRUE;
}

MlScene *
ml_input_picture (const MlInput *input, const char *side)
{
  MlBoard *board = input->board;
  g_autoptr (GError) error = NULL;
  g_autoptr (MlPhoto) photo = NULL;
  g_autofree char *path = NULL;
  int found = -1;

  for (guint i = 0; found < 0 && i < board->n_pictures; i++)
    if (side == NULL || board->pictures[i].bottom == (strcmp (side, "bottom") == 0))
      found = (int) i;
  if (found < 0)
    {
      ml_command_say ("the board has no picture%s%s: write `picture \"file\"` and its pads in it, or load one in the window",
                      side != NULL ? " of side " : "", side != NULL ? side : "");
      return NULL;
    }
  path = ml_photo_path (ml_text_name (board->text), board->pictures[found].file);
  photo = ml_photo_load (path, &error);
  if (photo != NULL)
    return ml_photo_scene (board, found, photo);
  ml_command_say ("%s", error->message);
  return NULL;
}

void
ml_input_say_rows (const MlInput *input, const MlScene *scene)
{
  if (scene->in_rows)
    ml_command_say ("%u parts are too many to lay out: they stand in rows, in the order of their names", input->board->n_parts);
}
