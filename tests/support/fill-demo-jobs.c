/* SPDX-License-Identifier: GPL-3.0-or-later */
/* fill-demo-jobs BOARDS-FOLDER: computes the readings of the demo jobs anew and writes them into their files. */
#include "support/demo-jobs.h"

#include <stdio.h>

static gboolean
fill_file (guint demo, const char *folder)
{
  g_autofree char *board_path = g_strdup_printf ("%s/%s.leafboard", folder, ML_DEMOS[demo].name);
  g_autofree char *job_path = g_strdup_printf ("%s/%s.leafjob", folder, ML_DEMOS[demo].name), *job = NULL;
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text = ml_text_load (board_path, &error);
  if (!text || !g_file_get_contents (job_path, &job, NULL, &error))
    {
      fprintf (stderr, "%s\n", error->message);
      return FALSE;
    }
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  g_autofree char *filled = ml_demo_fill (demo, board, job);
  return g_file_set_contents (job_path, filled, -1, NULL);
}

int
main (int argc, char **argv)
{
  gboolean done = argc == 2;
  for (guint i = 0; i < ML_N_DEMOS && argc == 2; i++)
    done = fill_file (i, argv[1]) && done;
  return done ? 0 : 2;
}
