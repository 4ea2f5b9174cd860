/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a board: read, check, and change it as a window would. */
#include "fuzz/fuzz.h"

#include "board/edit.h"
#include "board/parameters.h"

static void
edit_all (const MlBoard *board)
{
  MlPlace place = { 1, 2, 3, TRUE };
  int part = 0;

  ml_text_unref (ml_board_edit_set_title (board, "t", NULL));
  ml_text_unref (ml_board_edit_add_part (board, ml_kind_info (ML_KIND_BLOCK), NULL, 3, &place, NULL, NULL));
  if (board->n_nets > 0)
    ml_text_unref (ml_board_edit_rename_net (board, 0, "renamed", NULL));
  if (board->n_conditions > 0)
    ml_text_unref (ml_board_edit_remove_condition (board, 0, NULL));
  if (board->n_parts == 0)
    return;
  ml_text_unref (ml_board_edit_set_value (board, 0, "4k7 1%", NULL));
  ml_text_unref (ml_board_edit_set_value (board, 0, "BC557", NULL));
  ml_text_unref (ml_board_edit_place (board, &part, &place, 1, NULL));
  ml_text_unref (ml_board_edit_rename_part (board, 0, "renamed", NULL));
  ml_text_unref (ml_board_edit_remove_part (board, 0, NULL));
  if (board->parts[0].n_pins > 1)
    ml_text_unref (ml_board_edit_join_pins (board, 0, 0, 0, 1, NULL));
  if (board->parts[0].n_pins > 0)
    ml_text_unref (ml_board_edit_free_pin (board, 0, 0, NULL));
}

int
LLVMFuzzerTestOneInput (const uint8_t *data, size_t size)
{
  g_autoptr (MlText) text = ml_text_new ("fuzz", (const char *) data, (gssize) size);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlBoard) board = ml_board_read (text, diagnostics);
  g_autoptr (GBytes) bytes = ml_text_to_bytes (text);
  MlParameter parameter;

  g_assert_cmpmem (data, size, g_bytes_get_data (bytes, NULL), g_bytes_get_size (bytes));
  ml_board_check (board, diagnostics);
  for (guint i = 0; i < board->n_parts && i < 50; i++)
    for (guint k = 0; k < ml_part_n_parameters (&board->parts[i]); k++)
      {
        parameter = ml_part_parameter_at (&board->parts[i], k);
        g_assert_true (parameter.spread >= 0);
      }
  if (size < 4000)
    edit_all (board);
  return 0;
}
