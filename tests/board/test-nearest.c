/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The word a person probably meant. Distances: optimal string alignment (Damerau 1964, Levenshtein 1966), its textbook examples, counted double here
 * so that letter case can count half an edit. */
#include "support/near.h"

#include "board/nearest.h"

static void
test_distance_counts_edits (void **state)
{
  static const struct { const char *a, *b; guint edits_doubled; } table[] = {
    { "", "", 0 },           { "kitten", "kitten", 0 },  { "kitten", "sitting", 6 }, { "saturday", "sunday", 6 }, { "", "abc", 6 },
    { "anode", "anoed", 2 }, { "cahtode", "cathode", 2 }, { "ca", "abc", 6 }, /* no edit within an exchange: that would be 4 */
    { "GND", "gnd", 3 },     { "Gnd", "gnb", 3 },        { "ab", "ba", 2 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      assert_int_equal (ml_nearest_distance (table[i].a, table[i].b), table[i].edits_doubled);
      assert_int_equal (ml_nearest_distance (table[i].b, table[i].a), table[i].edits_doubled);
    }
}

/* An exchange of neighbours is one slip of the hand: nearer than two changed letters. */
static void
test_exchanged_letters_are_nearer_than_two_others (void **state)
{
  MlNearest nearest;

  ml_nearest_start (&nearest, "V21");
  ml_nearest_offer (&nearest, "V12X");
  ml_nearest_offer (&nearest, "V12");
  assert_string_equal (nearest.best, "V12");
}

static void
test_the_first_of_equals_stays (void **state)
{
  MlNearest nearest;

  ml_nearest_start (&nearest, "OUT3");
  ml_nearest_offer (&nearest, "OUT1");
  ml_nearest_offer (&nearest, "OUT2");
  assert_string_equal (nearest.best, "OUT1");
}

static void
test_what_is_far_is_not_offered (void **state)
{
  MlNearest nearest;

  ml_nearest_start (&nearest, "resistor");
  ml_nearest_offer (&nearest, "capacitor");
  ml_nearest_offer (&nearest, "coil");
  assert_null (nearest.best);
}

/* One slip in two letters, two in five, three in more: a slip more, and it is another word (common practice of spelling helps). */
static void
test_long_words_may_hold_more_slips (void **state)
{
  static const struct { const char *word, *candidate; gboolean offered; } table[] = {
    { "R1", "R2", TRUE }, { "R1", "C2", FALSE }, { "ABCDE", "ABCXY", TRUE }, { "ABCDE", "ABXYZ", FALSE },
    { "ABCDEFGHIJ", "ABCDEFGXYZ", TRUE }, { "ABCDEFGHIJ", "ABCDEFWXYZ", FALSE },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlNearest nearest;

      ml_nearest_start (&nearest, table[i].word);
      ml_nearest_offer (&nearest, table[i].candidate);
      assert_int_equal (nearest.best != NULL, table[i].offered);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_distance_counts_edits),
    cmocka_unit_test (test_exchanged_letters_are_nearer_than_two_others),
    cmocka_unit_test (test_the_first_of_equals_stays),
    cmocka_unit_test (test_what_is_far_is_not_offered),
    cmocka_unit_test (test_long_words_may_hold_more_slips),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
