/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Generated boards read without errors, keep to their size, and the truth program can solve them. */
#include "support/generate.h"
#include "support/models.h"
#include "support/near.h"
#include "support/truth-case.h"

static void
test_generate_boards_of_all_sizes_read_without_errors (void **state)
{
  static const guint SIZES[] = { 5, 6, 9, 12, 15, 30, 60, 120 };
  for (guint64 seed = 1; seed <= 60; seed++)
    for (guint i = 0; i < G_N_ELEMENTS (SIZES); i++)
      {
        g_autofree char *text = ml_generate_board (seed, SIZES[i]), *again = ml_generate_board (seed, SIZES[i]);
        g_autoptr (MlBoard) board = ml_test_board (text);
        assert_string_equal (text, again);
        assert_in_range (board->n_parts, MIN (SIZES[i], 5), SIZES[i] + 3);
        assert_true (board->n_conditions >= 1);
      }
}

static void
test_generate_pair_differs_in_values_alone (void **state)
{
  guint left_out = 0;
  for (guint64 seed = 1; seed <= 60; seed++)
    {
      char *drawn_text, *actual_text;
      ml_generate_pair (seed, 12, &drawn_text, &actual_text);
      g_autoptr (MlBoard) drawn = ml_test_board (drawn_text), actual = ml_test_board (actual_text);
      assert_int_equal (drawn->n_parts, actual->n_parts);
      assert_int_equal (drawn->n_nets, actual->n_nets);
      for (guint i = 0; i < drawn->n_parts; i++)
        {
          assert_string_equal (drawn->parts[i].name, actual->parts[i].name);
          left_out += ml_part_attribute (&actual->parts[i], ML_KEY_VALUE) && !ml_part_attribute (&drawn->parts[i], ML_KEY_VALUE);
        }
      g_free (drawn_text);
      g_free (actual_text);
    }
  assert_true (left_out > 20);
}

static gboolean
has_unknown_chip (const MlBoard *drawn, const MlBoard *actual)
{
  for (guint i = 0; i < drawn->n_parts; i++)
    if (drawn->parts[i].kind->kind == ML_KIND_BLOCK
        && (actual->parts[i].kind->kind != ML_KIND_BLOCK || !ml_part_attribute (&drawn->parts[i], ML_KEY_SUPPLY)))
      return TRUE;
  return FALSE;
}

/* Half of the values, to three standard deviations of a binomial (about 400 of them: 0.075), besides the 8 % of every board; a chip without a
 * number on each. */
static void
test_generate_unread_pair_leaves_out_half_of_the_values (void **state)
{
  guint asked = 0, unread = 0;
  for (guint64 seed = 1; seed <= 60; seed++)
    {
      g_autofree char *drawn_text = NULL, *actual_text = NULL;
      ml_generate_unread_pair (seed, 12, &drawn_text, &actual_text);
      g_autoptr (MlBoard) drawn = ml_test_board (drawn_text), actual = ml_test_board (actual_text);
      assert_int_equal (drawn->n_parts, actual->n_parts);
      assert_int_equal (drawn->n_nets, actual->n_nets);
      assert_true (has_unknown_chip (drawn, actual));
      for (guint i = 0; i < drawn->n_parts; i++)
        {
          MlKey key = actual->parts[i].kind->kind == ML_KIND_ZENER ? ML_KEY_VOLTAGE : ML_KEY_VALUE;
          if (actual->parts[i].kind->kind != ML_KIND_ZENER && actual->parts[i].kind->kind != ML_KIND_RESISTOR)
            continue;
          asked++;
          unread += !ml_part_attribute (&drawn->parts[i], key);
        }
    }
  assert_near (unread / (double) asked, 0.5 + 0.5 * 0.08, 0, 0.075);
}

/* A witness that cannot testify is no use: the healthy board always, a faulty one nearly always. */
static void
test_generate_boards_solve_in_the_truth_program (void **state)
{
  guint tried = 0, unsolved = 0;
  for (guint64 seed = 1; seed <= 60; seed++)
    {
      char *drawn_text, *actual_text;
      ml_generate_pair (seed, 5 + seed % 11, &drawn_text, &actual_text);
      g_autoptr (MlBoard) drawn = ml_test_board (drawn_text), actual = ml_test_board (actual_text);
      g_autoptr (GArray) places = ml_truth_all_places (actual);
      g_autoptr (MlTruthCase) c = ml_truth_case_new (drawn, actual, places);
      MlRandom random = ml_random_seeded (seed);
      assert_true (c->solved);
      for (guint i = 0; i < c->modes->len; i++, tried++)
        {
          MlFault fault = ml_truth_mode_draw (&g_array_index (c->modes, MlTruthMode, i), &random);
          unsolved += ml_truth_case_shift (c, &fault) >= 0 ? 0 : 1;
        }
      g_free (drawn_text);
      g_free (actual_text);
    }
  print_message ("faulty boards that the truth program could not solve: %u of %u\n", unsolved, tried);
  assert_true (unsolved * 200 < tried);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_generate_boards_of_all_sizes_read_without_errors),
    cmocka_unit_test (test_generate_pair_differs_in_values_alone),
    cmocka_unit_test (test_generate_unread_pair_leaves_out_half_of_the_values),
    cmocka_unit_test (test_generate_boards_solve_in_the_truth_program),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
