/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "fuzz/whole.h"

#define LINE "\n# ---- job\n"

static gboolean
is_small (const MlBoard *board)
{
  guint n_pins = 0;

  for (guint i = 0; i < board->n_parts; i++)
    n_pins += board->parts[i].n_pins;
  return board->n_parts <= 20 && board->n_nets <= 20 && n_pins <= 60 && board->n_conditions <= 3;
}

MlJob *
whole_read (const uint8_t *data, size_t size)
{
  g_autofree char *bytes = g_strndup ((const char *) data, size);
  char *line = strstr (bytes, LINE);
  g_autoptr (MlText) board_text = NULL;
  g_autoptr (MlText) job_text = NULL;
  g_autoptr (MlBoard) board = NULL;
  g_autoptr (MlJob) job = NULL;

  if (line == NULL || size > 8000)
    return NULL;
  board_text = ml_text_new ("board", bytes, line + 1 - bytes);
  job_text = ml_text_new ("job", line + strlen (LINE), -1);
  /* What is wrong is left out, so that nearly every mutation gives a circuit: that of the file without those lines. */
  board = ml_board_read (board_text, NULL);
  if (!is_small (board))
    return NULL;
  job = ml_job_read (job_text, board, NULL);
  if (job->n_units > 3 || job->n_readings > 20)
    return NULL;
  return g_steal_pointer (&job);
}
