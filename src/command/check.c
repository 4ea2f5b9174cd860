/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command/command.h"

#include <string.h>

#include "drawing/photo-scene.h"
#include "nodal/nodal.h"

/* Kinds that carry no current of their own need no device in the engine. */
static gboolean
is_simulated (const MlKindInfo *kind)
{
  return kind->kind == ML_KIND_CONNECTOR || kind->kind == ML_KIND_TESTPOINT || kind->kind == ML_KIND_BLOCK
         || ml_nodal_type_find (kind->word) != NULL;
}

static void
check_simulated (const MlBoard *board, MlDiagnostics *diagnostics)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlPart *part = &board->parts[i];

      if (!is_simulated (part->kind))
        ml_diagnostics_add (diagnostics, ml_text_name (board->text), part->line, 0, ML_SEVERITY_WARNING,
                            "%s is %s, which is not simulated yet: the computation leaves it out", part->name, ml_kind_called (part->kind));
    }
}

/* A picture that is not there is no error of the board: its pads are kept. */
static void
check_pictures (const MlBoard *board, MlDiagnostics *diagnostics)
{
  for (guint i = 0; i < board->n_pictures; i++)
    {
      g_autofree char *path = ml_photo_path (ml_text_name (board->text), board->pictures[i].file);

      if (!g_file_test (path, G_FILE_TEST_IS_REGULAR))
        ml_diagnostics_add (diagnostics, ml_text_name (board->text), board->pictures[i].line, 0, ML_SEVERITY_WARNING,
                            "there is no file %s: the picture is not shown until it is there, its pads are kept", path);
    }
}

/* ", 1 unit", ", 2 units". */
static void
say_count (const char *before, guint n, const char *what)
{
  g_print ("%s%u %s%s", before, n, what, n == 1 ? "" : "s");
}

static MlExit
check_file (const char *path)
{
  g_auto (MlInput) input = { 0 };
  MlExit status = ml_input_read (&input, path);
  guint errors;

  if (status != ML_EXIT_DONE)
    return status;
  errors = ml_diagnostics_n_errors (input.diagnostics);
  if (errors == 0) /* what is half read would be doubted for nothing */
    {
      ml_board_check (input.board, input.diagnostics);
      check_simulated (input.board, input.diagnostics);
      check_pictures (input.board, input.diagnostics);
      if (input.job != NULL)
        ml_job_check (input.job, input.diagnostics);
    }
  ml_input_say (&input, ML_SEVERITY_NOTE);
  g_print ("%s", strcmp (path, "-") == 0 ? "stdin" : path);
  if (errors > 0)
    {
      say_count (": ", errors, "error");
      g_print ("\n");
      return ML_EXIT_INPUT;
    }
  say_count (": ", input.board->n_parts, "part");
  say_count (", ", input.board->n_nets, "net");
  say_count (", ", input.board->n_conditions, "condition");
  if (input.job != NULL)
    {
      say_count (", ", input.job->n_units, "unit");
      say_count (", ", input.job->n_readings, "reading");
    }
  g_print (", no errors\n");
  return ML_EXIT_DONE;
}

MlExit
ml_command_check (int argc, char **argv)
{
  const GOptionEntry entries[] = { G_OPTION_ENTRY_NULL };
  MlExit status = ML_EXIT_DONE;

  if (!ml_command_parse ("check", &argc, &argv, entries, 1, -1))
    return ML_EXIT_USAGE;
  for (int i = 1; i < argc; i++)
    {
      MlExit one = check_file (argv[i]);
      status = MAX (status, one);
    }
  return status;
}
