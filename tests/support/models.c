/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/models.h"

#include "support/near.h"

static void
fail_on_errors (const MlDiagnostics *diagnostics, const char *text)
{
  if (ml_diagnostics_n_errors (diagnostics) == 0)
    return;
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      g_autofree char *line = ml_diagnostic_to_string (ml_diagnostics_get (diagnostics, i));
      print_error ("%s\n", line);
    }
  print_error ("%s\n", text);
  fail ();
}

MlBoard *
ml_test_board (const char *text)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlText) lines = ml_text_new ("test.leafboard", text, -1);
  MlBoard *board = ml_board_read (lines, diagnostics);

  fail_on_errors (diagnostics, text);
  return board;
}

MlJob *
ml_test_job (MlBoard *board, const char *text)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlText) lines = ml_text_new ("test.leafjob", text, -1);
  MlJob *job = ml_job_read (lines, board, diagnostics);

  fail_on_errors (diagnostics, text);
  return job;
}

char *
ml_test_file (const char *path)
{
  g_autofree char *whole = g_build_filename (g_getenv ("METERLEAF_SOURCE"), path, NULL);
  g_autoptr (GError) error = NULL;
  char *content = NULL;

  if (!g_file_get_contents (whole, &content, NULL, &error))
    fail_msg ("%s", error->message);
  return content;
}

MlBoard *
ml_test_board_of (const char *path)
{
  g_autofree char *text = ml_test_file (path);

  return ml_test_board (text);
}
