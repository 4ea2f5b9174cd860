/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sentences begin with a capital, names stay as they are. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "board/text.h"
#include "desktop/said.h"

static void
test_sentences_begin_with_a_capital_and_names_stay (void **state)
{
  g_autoptr (MlText) text = ml_text_new ("b", "meterleaf 1\npart lamp lamp 1=rail 2=M\n", -1);
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  static const struct { const char *engine, *said; } cases[] = {
    { "there is a part R1 already", "There is a part R1 already" },
    { "lamp is a lamp: only capacitors come with and without a polarity", "lamp is a lamp: only capacitors come with and without a polarity" },
    { "rail has no pin", "rail has no pin" },
    { "r1 has a pin A already", "r1 has a pin A already" },
    { "pump.leafboard could not be saved", "pump.leafboard could not be saved" },
    { "/home/pump cannot be read", "/home/pump cannot be read" },
    { "'4x' says nothing", "'4x' says nothing" },
    { "größe is a condition", "größe is a condition" },
    { "The picture is copied.", "The picture is copied." },
    { "", "" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      g_autofree char *said = ml_said (board, cases[i].engine);
      assert_string_equal (said, cases[i].said);
    }
  g_autofree char *without = ml_said (NULL, "put the red and the black probe on two different places first");
  assert_string_equal (without, "Put the red and the black probe on two different places first");
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_sentences_begin_with_a_capital_and_names_stay) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
