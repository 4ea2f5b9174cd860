/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pin drawn on the wrong net. The board: two dividers on one supply, R1 over R2 with tap A, R3 over R4 with tap B; they do not touch each
 * other, so each tap is V R2 / (R1 + R2). In the drawing R2's upper end is on B. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

#define DRAWN(r2, more) \
  "meterleaf 1\nboard \"Two dividers for a test jig\"\nreference G\n" \
  "part R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=" r2 " 2=G value=2k tolerance=1%\n" \
  "part R3 resistor 1=P 2=B value=3k tolerance=1%\npart R4 resistor 1=B 2=G value=1k tolerance=1%\n" more \
  "condition on\n  supply plus=P minus=G voltage=12 limit=1\n"

static const double V = 12, R1 = 1e3, R2 = 2e3, R3 = 3e3, R4 = 1e3;

/* The job of the real board with this R4; the tap A named by the net or by R2's pin. */
static MlVerdict *
judge (const char *drawn, double r4, const char *tap, guint stage)
{
  g_autoptr (MlBoard) board = ml_exam_board ("dividers", drawn);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autofree char *text = g_strdup_printf ("meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%%+2 counts=6000 input=10M\nunit u suspect\n"
                                           "reading u on red=P volts=12.00\nreading u on red=%s volts=%.3f\nreading u on red=B volts=%.3f\n"
                                           "reading u on supply=1 amps=%.6f\n",
                                           tap, V * R2 / (R1 + R2), V * r4 / (R3 + r4), V / (R1 + R2) + V / (R3 + r4));
  return ml_exam_judge_text (own, board, text, stage);
}

/* The likeliest explanation of that kind; 0 when none is listed. */
static double
probability_of (const MlVerdict *verdict, MlFaultKind kind)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].n_faults == 1 && verdict->explanations[i].faults[0].kind == kind)
      return verdict->explanations[i].probability;
  return 0;
}

static void
check_named (const MlVerdict *verdict)
{
  const MlExplanation *first = &verdict->explanations[0];
  assert_int_equal (first->explains, ML_EXPLAINS_DRAWING);
  assert_int_equal (first->faults[0].kind, ML_FAULT_WRONG_NET);
  assert_string_equal (first->title, "R2 pin 1 is on net A, not on B as drawn");
  assert_string_equal (verdict->sentence, "Look at the drawing: R2 pin 1 is on net A, not on B as drawn.");
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
      assert_true (verdict->parts[i].probability < 0.5);
    }
}

static void
test_wrong_net_is_named_and_convicts_nobody (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRAWN ("B", ""), R4, "A", 2);
  check_named (verdict);
}

/* A probe on the pin stands where the pin is, not where it is drawn. */
static void
test_wrong_net_takes_a_probe_on_its_pin_along (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRAWN ("B", ""), R4, "R2.1", 2);
  check_named (verdict);
}

static void
test_wrong_net_stays_out_of_a_right_drawing (void **state)
{
  g_autoptr (MlVerdict) sound = judge (DRAWN ("A", ""), R4, "A", 2), faulty = judge (DRAWN ("A", ""), 3 * R4, "A", 2);
  assert_int_equal (sound->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_true (sound->healthy_probability > 0.8);
  assert_int_equal (faulty->explanations[0].explains, ML_EXPLAINS_FAULT);
  assert_string_equal (faulty->job->board->parts[faulty->explanations[0].faults[0].part].name, "R4");
  assert_true (probability_of (faulty, ML_FAULT_WRONG_NET) < 0.05);
}

/* It belongs to the final stage: the earlier ones must be quick. */
static void
test_wrong_net_is_looked_for_in_the_final_stage (void **state)
{
  g_autoptr (MlVerdict) refined = judge (DRAWN ("B", ""), R4, "A", 1);
  assert_near (probability_of (refined, ML_FAULT_WRONG_NET), 0, 0, 0);
}

/* Somebody heard with the beeper that R2's and R4's upper ends are joined: the more likely the drawing, and the less likely this slip. */
static void
test_wrong_net_heard_with_the_beeper_is_less_likely (void **state)
{
  g_autoptr (MlVerdict) plain = judge (DRAWN ("B", ""), R4, "A", 2), heard = judge (DRAWN ("B", "beep R2.1 R4.1 yes\n"), R4, "A", 2);
  assert_true (probability_of (heard, ML_FAULT_WRONG_NET) < probability_of (plain, ML_FAULT_WRONG_NET));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_wrong_net_is_named_and_convicts_nobody),
    cmocka_unit_test (test_wrong_net_takes_a_probe_on_its_pin_along),
    cmocka_unit_test (test_wrong_net_stays_out_of_a_right_drawing),
    cmocka_unit_test (test_wrong_net_is_looked_for_in_the_final_stage),
    cmocka_unit_test (test_wrong_net_heard_with_the_beeper_is_less_likely),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
