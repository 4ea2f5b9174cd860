/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fault that is no part's: two nets joined by stray solder. The readings are closed forms: with both taps of two dividers joined, Kirchhoff's
 * current law at the one node gives V (1/R1 + 1/R3) / (1/R1 + 1/R2 + 1/R3 + 1/R4). The board's missing link is made a fault here, so that
 * these tests hold whatever the list of faults is. */
#include "support/exam.h"
#include "support/near.h"
#include "verdict/judge-private.h"

#include <math.h>
#include <string.h>

static const char BOARD[] = "meterleaf 1\nboard \"Two dividers for a test jig\"\nreference G\n"
                            "part R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
                            "part R3 resistor 1=P 2=B value=3k tolerance=1%\npart R4 resistor 1=B 2=G value=1k tolerance=1%\n"
                            "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";

/* The hypothesis that both taps are one net, from now on a fault as likely as `prior`. */
static void
make_fault (MlJudge *judge, const MlBoard *board, double prior)
{
  GArray *list = ml_judge_base (judge)->hypotheses;
  int a = ml_board_find_net (board, "A"), b = ml_board_find_net (board, "B");
  guint found = 0;
  for (guint h = 0; h < list->len; h++)
    {
      MlHypothesis *own = &g_array_index (list, MlHypothesis, h);
      if (own->fault.kind != ML_FAULT_MISSING_LINK || own->fault.net_a != MIN (a, b) || own->fault.net_b != MAX (a, b))
        continue;
      own->explains = ML_EXPLAINS_FAULT;
      own->fault.kind = ML_FAULT_STRAY_LINK;
      own->prior = prior;
      found++;
    }
  assert_int_equal (found, 1);
}

static char *
job_text (double at_a, double at_b, double supply_a)
{
  return g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 counts=6000 input=10M\nunit u suspect\n"
                          "reading u on red=P volts=12.00\nreading u on red=A volts=%.3f\nreading u on red=B volts=%.3f\nreading u on supply=1 amps=%.6f\n",
                          at_a, at_b, supply_a);
}

static void
test_between_parts_leads_and_convicts_no_part (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  double joined = 12 * (1 + 1 / 3.0) / (1 + 1 / 2.0 + 1 / 3.0 + 1), amps = (12 - joined) * (1 + 1 / 3.0) * 1e-3;
  g_autofree char *text = job_text (joined, joined, amps);
  make_fault (judge, board, 0.05);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, text, 2);
  double sum = verdict->rest_probability;
  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_FAULT);
  assert_int_equal (verdict->explanations[0].faults[0].kind, ML_FAULT_STRAY_LINK);
  assert_true (verdict->explanations[0].probability > 0.8);
  assert_string_equal (verdict->sentence, "Probably: Stray link from A to B.");
  for (guint i = 0; i < verdict->n_explanations; i++)
    sum += verdict->explanations[i].probability;
  assert_near (sum, 1, 0, 1e-9);
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
      assert_true (verdict->parts[i].probability < 0.2);
    }
}

/* With a single tap read the link is one candidate among the parts; at the other tap it would read the joined value, a faulty part of the first
 * divider would leave 12 V R4 / (R3 + R4) = 3 V there. */
static void
test_between_parts_is_told_from_parts_by_the_other_tap (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", BOARD);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  double joined = 12 * (1 + 1 / 3.0) / (1 + 1 / 2.0 + 1 / 3.0 + 1);
  g_autofree char *text = g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 counts=6000 input=10M\nunit u suspect\n"
                                           "reading u on red=A volts=%.3f\n", joined);
  make_fault (judge, board, 0.2);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, text, 2);
  guint told = 0;
  for (guint i = 0; i < verdict->n_next; i++)
    for (guint k = 0; verdict->next[i].red.net == ml_board_find_net (board, "B") && k < verdict->next[i].n_expect; k++)
      {
        const MlExplanation *own = &verdict->explanations[verdict->next[i].expect[k].explanation - 1];
        gboolean link = own->faults[0].kind == ML_FAULT_STRAY_LINK;
        assert_near (verdict->next[i].expect[k].value, link ? joined : 3, 0.03, 0);
        told |= link ? 1 : 2;
      }
  assert_int_equal (told, 3);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_between_parts_leads_and_convicts_no_part),
    cmocka_unit_test (test_between_parts_is_told_from_parts_by_the_other_tap),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
