/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finding a part kind by what the trade calls it (common practice, no source). */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "desktop/add-list.h"

/* The kind that stands first in the list after that was typed. */
static MlKind
best (const char *typed)
{
  guint best_rank = G_MAXUINT;
  MlKind found = ML_N_KINDS;

  for (int i = 0; i < ML_N_KINDS; i++)
    {
      guint rank = ml_add_list_rank (ml_kind_info (i), typed);
      if (rank > 0 && rank < best_rank)
        {
          best_rank = rank;
          found = (MlKind) i;
        }
    }
  return found;
}

static void
test_rank_trade_words_find_their_kind (void **state)
{
  static const struct { const char *typed; MlKind kind; } cases[] = {
    { "resistor", ML_KIND_RESISTOR }, { "res", ML_KIND_RESISTOR }, { "sch", ML_KIND_DIODE },       { "SCHOTTKY", ML_KIND_DIODE },
    { "diode", ML_KIND_DIODE },       { "led", ML_KIND_LED },      { "zener", ML_KIND_ZENER },     { "npn", ML_KIND_NPN },
    { "npn tr", ML_KIND_NPN },        { "relay", ML_KIND_COIL }, { "relay contact", ML_KIND_CONTACT }, { "coil", ML_KIND_COIL },      { "electrolytic", ML_KIND_CAPACITOR },
    { "trimmer", ML_KIND_POTENTIOMETER }, { "fuse", ML_KIND_FUSE }, { "plug", ML_KIND_CONNECTOR }, { "chip", ML_KIND_BLOCK },
    { "n-channel mos", ML_KIND_NMOS },
  };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    assert_int_equal (best (cases[i].typed), cases[i].kind);
}

static void
test_rank_nonsense_finds_nothing (void **state)
{
  assert_int_equal (best ("xyzzy"), ML_N_KINDS);
  assert_int_equal (best ("npn xyzzy"), ML_N_KINDS);
}

static void
test_rank_nothing_typed_lists_all (void **state)
{
  for (int i = 0; i < ML_N_KINDS; i++)
    assert_true (ml_add_list_rank (ml_kind_info (i), "") > 0);
}

/* Markings as they stand on parts: with the maker's prefix and the package's suffix round the number (common practice). */
static void
test_rank_number_is_found_by_its_beginning_or_inside_a_marking (void **state)
{
  assert_int_equal (ml_add_list_rank_number ("1N4148", "1n41"), 1);
  assert_int_equal (ml_add_list_rank_number ("1N4148", " 1N4148"), 1);
  assert_int_equal (ml_add_list_rank_number ("7805", "L7805CV"), 2);
  assert_int_equal (ml_add_list_rank_number ("BC547", "BC547B"), 2);
  assert_int_equal (ml_add_list_rank_number ("BC547", "BC557"), 0);
  assert_int_equal (ml_add_list_rank_number ("1N4148", "1"), 0); /* too little to go by */
  assert_int_equal (ml_add_list_rank_number ("1N4148", ""), 0);
}

static void
test_print_begins_with_the_letter_that_opened_the_list (void **state)
{
  static const struct { const char *typed, *print; } cases[] = { { "c128", "ac128" }, { "tmega8", "atmega8" }, { "ac128", "ac128" }, { "AD820", "AD820" } };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      g_autofree char *print = ml_add_list_print (cases[i].typed);
      assert_string_equal (print, cases[i].print);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_rank_trade_words_find_their_kind),
    cmocka_unit_test (test_rank_nonsense_finds_nothing),
    cmocka_unit_test (test_rank_nothing_typed_lists_all),
    cmocka_unit_test (test_rank_number_is_found_by_its_beginning_or_inside_a_marking),
    cmocka_unit_test (test_print_begins_with_the_letter_that_opened_the_list),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
