/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The computing behind the window: what arrives, in which order, and what no longer does. Expected verdicts are those of a judge of its own, asked
 * in this thread; expected voltages those of a divider (Ohm's law). */
#include "support/models.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

#include "desktop/analysis.h"

#define PATIENCE_S 60

/* 12 V over 1k and 2k, and 3k of its own to the reference: A at 8 V. */
static const char board_text[] = "reference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
                                 "part R3 resistor 1=P 2=G value=3k\n"
                                 "condition on\n  supply plus=P minus=G voltage=12 limit=100m\n"
                                 "condition low\n  supply plus=P minus=G voltage=6 limit=100m\n";

typedef struct
{
  MlBoard *board;
  MlAnalysis *analysis;
  GArray *conditions; /* int, of the points that came */
  double a_v;         /* net A of the last point */
  gboolean supposed;
  GArray *stages;     /* guint, of the verdicts that came */
  MlVerdict *verdict; /* the last */
  gboolean idle, failed, late, foretold;
  MlLikelyPlace foretold_at;
  double foretold_v, foretold_sigma;
} Fixture;

static gboolean
late_cb (gpointer data)
{
  ((Fixture *) data)->late = TRUE;
  return G_SOURCE_CONTINUE;
}

/* Runs the main loop until *flag, and no longer than a patient person waits. */
static void
wait_for (Fixture *fixture, const gboolean *flag)
{
  guint timer = g_timeout_add_seconds (PATIENCE_S, late_cb, fixture);

  while (!*flag && !fixture->late)
    g_main_context_iteration (NULL, TRUE);
  g_source_remove (timer);
  assert_false (fixture->late);
}

static void
wait_for_points (Fixture *fixture, guint n)
{
  guint timer = g_timeout_add_seconds (PATIENCE_S, late_cb, fixture);

  while (fixture->conditions->len < n && !fixture->late)
    g_main_context_iteration (NULL, TRUE);
  g_source_remove (timer);
  assert_false (fixture->late);
}

static void
point_cb (MlOperatingPoint *point, gboolean supposed, gpointer data)
{
  Fixture *fixture = data;

  assert_true (point->solved);
  g_array_append_val (fixture->conditions, point->condition);
  fixture->a_v = point->net_v[ml_board_find_net (fixture->board, "A")];
  fixture->supposed = supposed;
  ml_operating_point_free (point);
}

static void
verdict_cb (MlVerdict *verdict, gpointer data)
{
  Fixture *fixture = data;

  g_array_append_val (fixture->stages, verdict->stage);
  g_clear_pointer (&fixture->verdict, ml_verdict_unref);
  fixture->verdict = verdict;
}

static void
progress_cb (double share, gpointer data)
{
  assert_true (share <= 1);
  ((Fixture *) data)->idle = share < 0;
}

static void
foretold_cb (const MlLikelyPlace *place, double value, double sigma, gpointer data)
{
  Fixture *fixture = data;

  fixture->foretold = TRUE;
  fixture->foretold_at = *place;
  fixture->foretold_v = value;
  fixture->foretold_sigma = sigma;
}

static void
failed_cb (const GError *error, gpointer data)
{
  ((Fixture *) data)->failed = TRUE;
}

static int
set_up (void **state)
{
  static const MlAnalysisCalls calls = { point_cb, verdict_cb, progress_cb, foretold_cb, failed_cb };
  Fixture *fixture = g_new0 (Fixture, 1);

  fixture->board = ml_test_board (board_text);
  fixture->conditions = g_array_new (FALSE, FALSE, sizeof (int));
  fixture->stages = g_array_new (FALSE, FALSE, sizeof (guint));
  fixture->analysis = ml_analysis_new (&calls, fixture);
  *state = fixture;
  return 0;
}

static int
tear_down (void **state)
{
  Fixture *fixture = *state;

  ml_analysis_free (fixture->analysis);
  ml_board_unref (fixture->board);
  g_array_unref (fixture->conditions);
  g_array_unref (fixture->stages);
  g_clear_pointer (&fixture->verdict, ml_verdict_unref);
  g_free (fixture);
  return 0;
}

/* Job on the fixture's board, judged to the end in the background. */
static void
judge (Fixture *fixture, MlJob *job)
{
  g_array_set_size (fixture->stages, 0);
  fixture->idle = FALSE;
  ml_analysis_judge (fixture->analysis, job, 0, 1, TRUE);
  wait_for (fixture, &fixture->idle);
  assert_false (fixture->failed);
}

static void
assert_judged_as_alone (const Fixture *fixture, MlJob *job)
{
  g_autoptr (MlJudge) alone = ml_judge_new (fixture->board);
  g_autoptr (GError) error = NULL;

  assert_true (ml_judge_prepare (alone, NULL, NULL, NULL, &error));
  g_autoptr (MlVerdict) expected = ml_judge_run (alone, job, 0, 1, 2, NULL, &error);
  assert_non_null (expected);
  assert_string_equal (fixture->verdict->sentence, expected->sentence);
  assert_int_equal (fixture->verdict->n_explanations, expected->n_explanations);
  for (guint i = 0; i < expected->n_parts; i++)
    assert_true (fixture->verdict->parts[i].probability == expected->parts[i].probability);
}

static const char readings[] = "unit u suspect\nreading u on red=A volts=0.01\n";
static const char more_readings[] = "unit u suspect\nreading u on red=A volts=0.01\nreading u low red=A volts=0.01\n";

static void
test_the_condition_at_hand_is_solved_first (void **state)
{
  Fixture *fixture = *state;

  ml_analysis_set_board (fixture->analysis, fixture->board, 1);
  assert_null (ml_analysis_bench_judge (fixture->analysis));
  wait_for_points (fixture, 2);
  assert_int_equal (g_array_index (fixture->conditions, int, 0), 1);
  assert_int_equal (g_array_index (fixture->conditions, int, 1), 0);
  assert_near (fixture->a_v, 8, 1e-4, 0);
  assert_false (fixture->supposed);
}

/* R2 open: A stands at the supply's 12 V. */
static void
test_what_is_supposed_is_told_apart (void **state)
{
  Fixture *fixture = *state;
  MlFault fault;

  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  wait_for_points (fixture, 2);
  assert_true (ml_fault_parse (fixture->board, "R2 open", &fault, NULL));
  g_array_set_size (fixture->conditions, 0);
  ml_analysis_suppose (fixture->analysis, 0, &fault, NULL);
  ml_fault_clear (&fault); /* a copy is kept */
  wait_for_points (fixture, 1);
  assert_true (fixture->supposed);
  assert_near (fixture->a_v, 12, 1e-4, 0);
  g_array_set_size (fixture->conditions, 0);
  ml_analysis_suppose (fixture->analysis, 1, NULL, NULL);
  wait_for_points (fixture, 2);
  assert_false (fixture->supposed);
  assert_near (fixture->a_v, 8, 1e-4, 0);
}

static void
test_a_verdict_comes_in_three_stages (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) job = ml_test_job (fixture->board, readings);

  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  judge (fixture, job);
  assert_int_equal (fixture->stages->len, 3);
  for (guint i = 0; i < 3; i++)
    assert_int_equal (g_array_index (fixture->stages, guint, i), i);
  assert_judged_as_alone (fixture, job);
}

/* Being ready for a reading brings no verdict of its own and changes none: not while that work is under way, nor when it was done. */
static void
test_what_is_expected_changes_no_verdict (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) job = ml_test_job (fixture->board, readings), more = ml_test_job (fixture->board, more_readings);
  MlLikelyPlace place = { .condition = 1, .reads = ML_READS_VOLTS, .red = more->readings[1].red, .black = more->readings[1].black, .supply = -1 };

  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  ml_analysis_expect (fixture->analysis, &place); /* before anything is judged */
  judge (fixture, job);
  ml_analysis_expect (fixture->analysis, &place);
  ml_analysis_expect (fixture->analysis, &place); /* the work on the first is under way */
  assert_int_equal (fixture->stages->len, 3);
  judge (fixture, more);
  assert_int_equal (fixture->stages->len, 3);
  assert_judged_as_alone (fixture, more);
  judge (fixture, job);
  assert_judged_as_alone (fixture, job);
}

/* Where somebody is about to measure it is told what comes: the same share of 6 V that stands at A of 12 V (Ohm's law). */
static void
test_what_is_expected_is_foretold (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) job = ml_test_job (fixture->board, "unit u suspect\nreading u on red=A volts=8.00\n");
  MlLikelyPlace place = { .condition = 1, .reads = ML_READS_VOLTS, .supply = -1 };

  assert_true (ml_probe_parse (fixture->board, "A", &place.red) && ml_probe_parse (fixture->board, "G", &place.black));
  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  judge (fixture, job);
  assert_false (fixture->foretold); /* nobody has asked */
  ml_analysis_expect (fixture->analysis, &place);
  wait_for (fixture, &fixture->foretold);
  assert_true (ml_probe_equal (&fixture->foretold_at.red, &place.red) && fixture->foretold_at.condition == 1);
  assert_near (fixture->foretold_v, 4, 0.02, 0);
  assert_true (fixture->foretold_sigma > 0 && fixture->foretold_sigma < 0.5);
}

static void
test_the_latest_job_is_judged (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) job = ml_test_job (fixture->board, readings), more = ml_test_job (fixture->board, more_readings);

  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  ml_analysis_judge (fixture->analysis, job, 0, 1, TRUE);
  judge (fixture, more);
  assert_int_equal (fixture->verdict->n_readings, 2);
  assert_judged_as_alone (fixture, more);
}

/* What was stopped tells nothing more, and the next question is answered all the same. */
static void
test_work_that_is_stopped_tells_nothing (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) job = ml_test_job (fixture->board, readings);

  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  ml_analysis_judge (fixture->analysis, job, 0, 1, TRUE);
  ml_analysis_stop (fixture->analysis);
  wait_for (fixture, &fixture->idle);
  assert_int_equal (fixture->stages->len, 0);
  assert_false (fixture->failed);
  judge (fixture, job);
  assert_int_equal (fixture->stages->len, 3);
}

/* No unit, no verdict: neither of what was asked before nor another. */
static void
test_a_question_can_be_taken_back (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) job = ml_test_job (fixture->board, readings);

  ml_analysis_set_board (fixture->analysis, fixture->board, 0);
  ml_analysis_judge (fixture->analysis, job, 0, 1, TRUE);
  ml_analysis_judge (fixture->analysis, job, -1, 1, TRUE);
  wait_for (fixture, &fixture->idle);
  ml_analysis_judge (fixture->analysis, job, 0, 1, FALSE); /* it waits a moment: nothing is at work yet */
  ml_analysis_judge (fixture->analysis, NULL, 0, 1, TRUE);
  wait_for_points (fixture, 2);
  assert_int_equal (fixture->stages->len, 0);
  assert_false (fixture->failed);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_the_condition_at_hand_is_solved_first, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_what_is_supposed_is_told_apart, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_a_verdict_comes_in_three_stages, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_what_is_expected_changes_no_verdict, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_what_is_expected_is_foretold, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_the_latest_job_is_judged, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_work_that_is_stopped_tells_nothing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_a_question_can_be_taken_back, set_up, tear_down),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
