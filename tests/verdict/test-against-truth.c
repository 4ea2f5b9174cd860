/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the program expects to read, on sound and on faulty boards, against the truth program: a second solver with device laws written
 * apart, part values drawn within tolerance. Expected values are the truth program's; the margin is the program's own sigma and the
 * meter's. Seeds from 201, which are for tuning. */
#include "support/exam.h"
#include "support/generate.h"
#include "support/near.h"

#include <math.h>

#define FIRST_SEED 201
#define N_BOARDS 16

typedef struct { guint asked, beyond_3, beyond_6, unsolved; double squares; } Deviations;

static void
compare_reading (MlJudge *judge, const MlFault *fault, const MlTruthPlace *place, double truth, const MlMeter *meter, Deviations *d)
{
  double sigma = 0;
  double expected = ml_judge_expect (judge, place->condition, fault, fault ? 1 : 0, NULL, place->reads, &place->red, &place->black, place->supply, meter, &sigma);
  double z = (truth - expected) / hypot (sigma, ml_truth_meter_sigma (meter, place->reads, truth) + 2e-3 * (place->reads == ML_READS_VOLTS));
  d->asked++;
  d->unsolved += !isfinite (expected);
  d->beyond_3 += fabs (z) > 3;
  d->beyond_6 += fabs (z) > 6;
  d->squares += isfinite (z) ? MIN (z * z, 25) : 0;
  if (fabs (z) > 6 && g_getenv ("METERLEAF_EXAM_VERBOSE"))
    print_message ("  condition %d net %d: truth %.4f expected %.4f +- %.4f\n", place->condition, place->red.net, truth, expected, sigma);
}

static void
compare_board (MlTruthCase *c, MlJudge *judge, const MlFault *fault, guint64 seed, Deviations *d)
{
  g_autoptr (MlTruth) unit = ml_truth_new (c->actual, c->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autofree double *y = g_new0 (double, c->places->len + 1);
  if (!ml_truth_case_read (c, unit, fault, fault ? 1 : 0, y))
    return;
  for (guint i = 0; i < c->places->len; i++)
    compare_reading (judge, fault, &g_array_index (c->places, MlTruthPlace, i), y[i], &c->meter, d);
}

static void
compare_boards (gboolean faulty, Deviations *d)
{
  for (guint i = 0; i < N_BOARDS; i++)
    {
      char *drawn_text, *actual_text;
      g_autoptr (GError) error = NULL;
      ml_generate_pair (FIRST_SEED + i, 5 + i % 11, &drawn_text, &actual_text);
      g_autoptr (MlBoard) drawn = ml_exam_board ("drawn", drawn_text), actual = ml_exam_board ("actual", actual_text);
      g_autoptr (MlJudge) judge = ml_judge_new (drawn);
      g_autoptr (GArray) places = ml_truth_all_places (actual);
      g_autoptr (MlTruthCase) c = ml_truth_case_new (drawn, actual, places);
      MlRandom random = ml_random_seeded (i);
      assert_true (ml_judge_prepare (judge, NULL, NULL, NULL, &error));
      for (guint k = 0; k < c->modes->len && faulty; k += 3)
        {
          MlFault fault = ml_truth_mode_draw (&g_array_index (c->modes, MlTruthMode, k), &random);
          Deviations own = { 0 };
          if (fault.kind == ML_FAULT_SHORT)
            fault.size = 0.3;
          compare_board (c, judge, &fault, 900 + k, &own);
          if ((own.beyond_6 || own.unsolved) && g_getenv ("METERLEAF_EXAM_VERBOSE"))
            {
              g_autofree char *words = ml_fault_describe (drawn, &fault);
              print_message ("board %u: %s size %g: %u of %u beyond 6, %u unsolved\n", FIRST_SEED + i, words, fault.size, own.beyond_6, own.asked, own.unsolved);
            }
          d->asked += own.asked;
          d->beyond_3 += own.beyond_3;
          d->beyond_6 += own.beyond_6;
          d->unsolved += own.unsolved;
          d->squares += own.squares;
        }
      if (!faulty)
        compare_board (c, judge, NULL, 900, d);
      g_free (drawn_text);
      g_free (actual_text);
    }
}

static void
report (const char *what, const Deviations *d)
{
  print_message ("%s: %u readings, root mean square deviation %.2f sigma, beyond 3 sigma %.4f, beyond 6 sigma %.4f, not solved %u\n", what, d->asked,
                 sqrt (d->squares / d->asked), (double) d->beyond_3 / d->asked, (double) d->beyond_6 / d->asked, d->unsolved);
}

static void
test_against_truth_healthy_boards_agree (void **state)
{
  Deviations d = { 0 };
  compare_boards (FALSE, &d);
  report ("healthy", &d);
  assert_int_equal (d.unsolved, 0);
  assert_true (d.beyond_3 <= 0.02 * d.asked);
}

static void
test_against_truth_faulty_boards_agree (void **state)
{
  Deviations d = { 0 };
  compare_boards (TRUE, &d);
  report ("faulty", &d);
  assert_true (d.unsolved <= 0.01 * d.asked);
  assert_true (d.beyond_3 <= 0.05 * d.asked);
  assert_true (d.beyond_6 <= 0.02 * d.asked);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_against_truth_healthy_boards_agree),
    cmocka_unit_test (test_against_truth_faulty_boards_agree),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
