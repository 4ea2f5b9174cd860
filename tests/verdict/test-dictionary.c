/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The dictionary solves its faults side by side, node by node: each comes out as it does alone, to the last bit, in whatever order. Items of
 * the same circuit share what is computed. */
#include "support/exam.h"
#include "support/generate.h"
#include "support/near.h"
#include "verdict/dictionary.h"

#include <math.h>
#include <string.h>

static void
assert_same_bytes (const double *a, const double *b, int n)
{
  assert_memory_equal (a, b, (size_t) n * sizeof *a);
}

static void
assert_same_solution (const MlNodalSolution *a, const MlNodalSolution *b)
{
  assert_int_equal (a->status, b->status);
  assert_int_equal (a->iterations, b->iterations);
  assert_same_bytes (a->net_v, b->net_v, a->n_nets);
  assert_same_bytes (a->pin_a, b->pin_a, a->n_pins);
  assert_int_equal (a->n_metals, b->n_metals);
  for (int i = 0; i < a->n_metals; i++)
    {
      assert_int_equal (a->metals[i].pin, b->metals[i].pin);
      assert_true (a->metals[i].v == b->metals[i].v);
    }
  assert_same_bytes (a->state, b->state, a->n_state);
}

static guint
compare (const MlDictionary *together, MlDictionary *alone)
{
  guint n = 0;

  for (guint i = 0; i < together->n_early; i++)
    for (guint c = 0; c < together->model->board->n_conditions; c++)
      {
        const MlExpansion *own = together->expansions[i];
        MlExpansion *other = alone->expansions[i];

        if (!own->state[c])
          continue;
        ml_expansion_solve (alone, other, (int) c, NULL);
        assert_int_equal (own->state[c], other->state[c]);
        assert_same_solution (&own->at[c], &other->at[c]);
        n++;
      }
  return n;
}

static void
check (const char *name, const char *text)
{
  MlBoard *board = ml_exam_board (name, text);
  MlDictionary *together = ml_dictionary_new (ml_model_new (board, NULL)), *alone = ml_dictionary_new (ml_model_new (board, NULL));

  assert_true (ml_dictionary_prepare (together, NULL, NULL, NULL, NULL));
  assert_true (compare (together, alone) > 100);
  ml_dictionary_free (together);
  ml_dictionary_free (alone);
  ml_board_unref (board);
}

static double
square_sum (const MlPrediction *prediction)
{
  double sum = 0;

  for (guint k = 0; k < prediction->n; k++)
    sum += prediction->slope[k] * prediction->slope[k];
  return sum;
}

static void
test_faults_side_by_side_are_those_one_by_one (void **state)
{
  static const char *const demos[] = { "dust-switch.leafboard", "signal-board.leafboard", "vent-controller.leafboard" };

  for (guint i = 0; i < G_N_ELEMENTS (demos); i++)
    {
      g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", demos[i], NULL), *text = NULL;

      assert_true (g_file_get_contents (path, &text, NULL, NULL));
      check (demos[i], text);
    }
  for (guint64 seed = 1; seed <= 3; seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 25);
      check ("generated", text);
    }
}

/* What items share is what each gives when its own changes are solved and read by themselves (second way: no item's predictions but its own). */
static void
test_items_of_the_same_circuit_read_alike (void **state)
{
  g_autofree char *text = ml_generate_conditions (3, 12, 2);
  MlBoard *board = ml_exam_board ("same.leafboard", text);
  MlDictionary *dictionary = ml_dictionary_new (ml_model_new (board, NULL));
  guint n = 0;

  assert_true (ml_dictionary_prepare (dictionary, NULL, NULL, NULL, NULL));
  for (guint i = 0; i < dictionary->n_early; i++)
    {
      MlExpansion *alone = dictionary->items[i].same == i ? NULL : ml_expansion_new (dictionary, (int) i, -1, NULL);

      for (guint net = 1; alone && net < board->n_nets; net++)
        {
          MlReadingPlace place = { .condition = (int) (net % board->n_conditions), .reads = ML_READS_VOLTS, .supply = -1, .input_ohm = 10e6,
                                   .red = { .net = (int) net, .part = -1, .pin = -1 }, .black = { .net = board->reference, .part = -1, .pin = -1 } };
          guint at = ml_dictionary_place (dictionary, &place);
          const MlPrediction *shared = ml_dictionary_predict (dictionary, i, at), *own = ml_expansion_predict (dictionary, alone, at, NULL);

          assert_int_equal (shared->valid, own->valid);
          assert_near (shared->value, own->value, 1e-6, 1e-6);
          assert_near (sqrt (square_sum (shared)), sqrt (square_sum (own)), 1e-4, 2e-5);
          n++;
        }
      ml_expansion_free (dictionary, alone);
    }
  assert_true (n > 50);
  ml_dictionary_free (dictionary);
  ml_board_unref (board);
}

/* What is tied to the reference reads 0 V, not what rounding leaves of it: no meter shows a picovolt. */
static void
test_no_reading_is_what_rounding_leaves (void **state)
{
  g_autofree char *text = ml_generate_conditions (2, 25, 2);
  MlBoard *board = ml_exam_board ("rounding.leafboard", text);
  MlDictionary *dictionary = ml_dictionary_new (ml_model_new (board, NULL));
  guint n_zero = 0;

  assert_true (ml_dictionary_prepare (dictionary, NULL, NULL, NULL, NULL));
  for (guint net = 0; net < board->n_nets; net++)
    for (guint i = 0; (int) net != board->reference && i < dictionary->n_early; i++)
      {
        MlReadingPlace place = { .condition = 0, .reads = ML_READS_VOLTS, .supply = -1, .input_ohm = 10e6, .red = { .net = (int) net, .part = -1, .pin = -1 },
                                 .black = { .net = board->reference, .part = -1, .pin = -1 } };
        double value = ml_dictionary_predict (dictionary, i, ml_dictionary_place (dictionary, &place))->value;

        assert_true (value == 0 || fabs (value) >= 1e-12);
        n_zero += value == 0;
      }
  assert_true (n_zero > 10);
  ml_dictionary_free (dictionary);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_faults_side_by_side_are_those_one_by_one),
                                      cmocka_unit_test (test_items_of_the_same_circuit_read_alike),
                                      cmocka_unit_test (test_no_reading_is_what_rounding_leaves) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
