/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Assumptions that a board file overrides: counted, said, and nothing of other boards. */
#include "board/assume.h"
#include "support/exam.h"
#include "support/near.h"
#include "verdict/assumptions.h"

#include <string.h>

#define PARTS "meterleaf 1\nboard \"Divider\"\nreference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=A 2=G value=1k\n" \
              "condition on\n  supply plus=P minus=G voltage=10 limit=1\n"
static const char JOB[] = "meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%+2 counts=6000 input=10M\nunit u suspect\n";

/* Without readings the posterior is the prior: what the statement says is what comes out. */
static void
test_assume_healthy_prior_counts_and_is_said (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", PARTS "assume prior.healthy 0.3\n");
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, JOB, 2);
  gboolean said = FALSE;
  assert_near (verdict->healthy_probability, 0.3, 1e-6, 0);
  for (guint i = 0; verdict->cautions[i]; i++)
    said |= strstr (verdict->cautions[i], "prior.healthy = 0.3") != NULL;
  assert_true (said);
}

static void
test_assume_other_boards_keep_the_table (void **state)
{
  g_autoptr (MlBoard) changed = ml_exam_board ("a", PARTS "assume prior.healthy 0.3\n");
  g_autoptr (MlBoard) plain = ml_exam_board ("b", PARTS);
  g_autoptr (MlJudge) one = ml_judge_new (changed);
  g_autoptr (MlJudge) other = ml_judge_new (plain);
  g_autoptr (MlVerdict) first = ml_exam_judge_text (one, changed, JOB, 2);
  g_autoptr (MlVerdict) second = ml_exam_judge_text (other, plain, JOB, 2);
  assert_near (first->healthy_probability, 0.3, 1e-6, 0);
  assert_near (second->healthy_probability, ml_assumption_usual ("prior.healthy"), 1e-6, 0);
  assert_null (second->cautions[0]);
}

static guint
n_errors (const char *text)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlText) lines = ml_text_new ("b", text, -1);
  G_GNUC_UNUSED g_autoptr (MlBoard) board = ml_board_read (lines, diagnostics);
  return ml_diagnostics_n_errors (diagnostics);
}

static void
test_assume_unknown_name_and_bad_value_are_errors (void **state)
{
  assert_int_equal (n_errors (PARTS "assume prior.healthy 0.3\n"), 0);
  assert_int_equal (n_errors (PARTS "assume prior.helthy 0.3\n"), 1);
  assert_int_equal (n_errors (PARTS "assume prior.healthy much\n"), 1);
  assert_int_equal (n_errors (PARTS "assume prior.healthy -1\n"), 1);
  assert_int_equal (n_errors (PARTS "assume prior.healthy 1.5\n"), 1);
  assert_int_equal (n_errors (PARTS "assume prior.healthy\n"), 1);
}

/* What would leave no probability, no work to do or work without end. */
static void
test_assume_values_out_of_reach_are_errors (void **state)
{
  assert_int_equal (n_errors (PARTS "assume prior.healthy 0.6\nassume prior.misfit 0.3\n"), 0);
  assert_int_equal (n_errors (PARTS "assume prior.healthy 0.9\nassume prior.misfit 0.3\n"), 1);
  assert_int_equal (n_errors (PARTS "assume prior.misfit 0\n"), 1);
  assert_int_equal (n_errors (PARTS "assume slip.net 7\n"), 1);
  assert_int_equal (n_errors (PARTS "assume slip.weighed 0\n"), 1);
  assert_int_equal (n_errors (PARTS "assume size.joint-cells 8\n"), 1); /* seven shares stand in the table */
  assert_int_equal (n_errors (PARTS "assume pairs.solved 1e9\n"), 1);
  assert_int_equal (n_errors (PARTS "assume slip.near 1e9\n"), 1);
  assert_int_equal (n_errors (PARTS "assume carried.supply 1.5\n"), 1);
  assert_int_equal (n_errors (PARTS "assume weight.open 0\nassume next.effort-lift 100\nassume size.joint-cells 3\n"), 0);
}

static void
test_assume_classes_of_slips_share_their_prior (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", PARTS "assume slip.link 0.9\nassume slip.split 0.9\nassume slip.pins 0.9\nassume slip.turned 0.9\n");
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, JOB, 2);
  assert_near (verdict->healthy_probability, ml_assumption_usual ("prior.healthy"), 1e-6, 0);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_assume_healthy_prior_counts_and_is_said),
    cmocka_unit_test (test_assume_other_boards_keep_the_table),
    cmocka_unit_test (test_assume_unknown_name_and_bad_value_are_errors),
    cmocka_unit_test (test_assume_values_out_of_reach_are_errors),
    cmocka_unit_test (test_assume_classes_of_slips_share_their_prior),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
