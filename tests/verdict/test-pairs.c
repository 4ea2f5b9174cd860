/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two faults at once. Readings are closed forms: two dividers on one supply do not touch each other, so each tap is V R2 / (R1 + R2). */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

static const char BOARD[] = "meterleaf 1\nboard \"Two dividers for a test jig\"\nreference G\n"
                            "part R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
                            "part R3 resistor 1=P 2=B value=3k tolerance=1%\npart R4 resistor 1=B 2=G value=1k tolerance=1%\n"
                            "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";

/* The job of a board whose resistors have these values in kilohm. */
static MlVerdict *
judge (MlBoard *board, MlJudge *judge_of, double r1, double r2, double r3, double r4)
{
  g_autofree char *text = g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 counts=6000 input=10M\nunit u suspect\n"
                                           "reading u on red=P volts=12.00\nreading u on red=A volts=%.3f\nreading u on red=B volts=%.3f\n"
                                           "reading u on supply=1 amps=%.6f\n",
                                           12 * r2 / (r1 + r2), 12 * r4 / (r3 + r4), 12e-3 / (r1 + r2) + 12e-3 / (r3 + r4));
  return ml_exam_judge_text (judge_of, board, text, 2);
}

static gboolean
names_one_of (const MlVerdict *verdict, const char *a, const char *b)
{
  const MlExplanation *first = &verdict->explanations[0];
  for (guint k = 0; k < first->n_faults; k++)
    {
      const char *name = verdict->job->board->parts[first->faults[k].part].name;
      if (g_str_equal (name, a) || g_str_equal (name, b))
        return TRUE;
    }
  return FALSE;
}

static void
test_pairs_two_faults_are_named_together (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = judge (board, own, 4, 2, 3, 3);
  assert_int_equal (verdict->explanations[0].n_faults, 2);
  assert_true (names_one_of (verdict, "R1", "R2"));
  assert_true (names_one_of (verdict, "R3", "R4"));
  assert_non_null (strstr (verdict->sentence, "two faults"));
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_CLEARED);
}

static void
test_pairs_one_fault_stays_one (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = judge (board, own, 4, 2, 3, 1);
  assert_int_equal (verdict->explanations[0].n_faults, 1);
  assert_string_equal (board->parts[verdict->explanations[0].faults[0].part].name, "R1");
}

static void
test_pairs_sound_board_stays_sound (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = judge (board, own, 1, 2, 3, 1);
  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
}

/* A third divider that reads as it should: cleared beside one fault; beside two of them a third would have to be tried, so it is left open. */
static void
test_pairs_beside_two_faults_nothing_is_cleared (void **state)
{
  static const struct { const char *readings; MlVerdictWord word; } table[] = {
    { "reading u on red=A volts=4.00\nreading u on red=B volts=3.00\n", ML_VERDICT_CLEARED },  /* R1 of 4 k */
    { "reading u on red=A volts=4.00\nreading u on red=B volts=6.00\n", ML_VERDICT_UNPROVEN }, /* and R4 of 3 k */
  };
  g_autofree char *text = g_strconcat (BOARD, "part R5 resistor 1=P 2=C value=1k tolerance=1%\npart R6 resistor 1=C 2=G value=2k tolerance=1%\n", NULL);

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *lines = g_strconcat ("reading u on red=P volts=12.00\nreading u on red=C volts=8.00\nreading u on across=R5 volts=4.00\n",
                                            table[i].readings, NULL);
      g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (text, lines);
      assert_int_equal (verdict->explanations[0].n_faults, i + 1);
      assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "R5")].verdict, table[i].word);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_pairs_two_faults_are_named_together),
    cmocka_unit_test (test_pairs_one_fault_stays_one),
    cmocka_unit_test (test_pairs_sound_board_stays_sound),
    cmocka_unit_test (test_pairs_beside_two_faults_nothing_is_cleared),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
