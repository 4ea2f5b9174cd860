/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The next reading: what a meter cannot tell apart is no suggestion. The limit of error is the meter's own, 0.5 % and 2 counts of 6000. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

static const char HEAD[] = "meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\nunit u suspect\n";

/* Half of what an autoranging meter of 6000 counts may be off by, volts. */
static double
limit_of_error (double volts)
{
  double range = 0.6;
  while (range < fabs (volts))
    range *= 10;
  return 0.005 * fabs (volts) + 2 * range / 6000;
}

static void
assert_can_be_told (const MlNextReading *next)
{
  double low = next->healthy, high = next->healthy;
  for (guint i = 0; i < next->n_expect; i++)
    {
      low = fmin (low, next->expect[i].value);
      high = fmax (high, next->expect[i].value);
    }
  if (next->reads == ML_READS_VOLTS)
    assert_true (high - low > limit_of_error (fmax (fabs (low), fabs (high))));
}

static MlVerdict *
judge (const char *board_text, const char *readings)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", board_text);
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autofree char *text = g_strconcat (HEAD, readings, NULL);
  return ml_exam_judge_text (own, board, text, 2);
}

/* 12 V over 1k and two of 2k side by side: 6 V at A (Ohm's law); 8 V with one of the two open. Only the divider's tap and the joints are left to read. */
static const char PARALLEL[] = "meterleaf 1\nboard \"Two in parallel\"\nreference G\npart R0 resistor 1=P 2=A value=1k tolerance=1%\n"
                               "part R1 resistor 1=A 2=G value=2k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
                               "condition on\n  supply plus=P minus=G voltage=12 limit=1\n";

static void
test_next_suggestions_can_be_told_by_the_meter (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (PARALLEL, "reading u on red=P volts=12.00\nreading u on red=A volts=8.00\nreading u on supply=1 amps=0.00400\n");
  for (guint i = 0; i < verdict->n_next; i++)
    assert_can_be_told (&verdict->next[i]);
  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "R1")].group, verdict->parts[ml_board_find_part (verdict->job->board, "R2")].group);
}

/* Nothing measured at the tap yet: that is where to measure, and 6 V is what to expect there. */
static void
test_next_sound_so_far_is_still_asked (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (PARALLEL, "reading u on red=P volts=12.00\n");
  assert_true (verdict->n_next > 0);
  gboolean found = FALSE;
  for (guint i = 0; i < verdict->n_next; i++)
    {
      const MlNextReading *next = &verdict->next[i];
      assert_can_be_told (next);
      if (next->reads == ML_READS_VOLTS && next->red.net == ml_board_find_net (verdict->job->board, "A") && !next->red.lead)
        {
          found = TRUE;
          assert_near (next->healthy, 6, 0.02, 0);
        }
    }
  assert_true (found);
}

/* A coil of 48 ohm on 12 V through a MOSFET that does not conduct although its gate has 4.97 V: any of its three pins may be open, and no
 * reading so far tells which. The best test of a joint is from the part's own metal to its solder; the black probe stays on the reference. */
static const char DRIVER[] = "meterleaf 1\nboard \"Driver\"\nreference G\npart L1 coil 1=P 2=D resistance=48\n"
                             "part R1 resistor 1=V5 2=GATE value=100\npart Q1 nmos drain=D gate=GATE source=G threshold=2\n"
                             "condition on\n  supply plus=P minus=G voltage=12 limit=1\n  supply plus=V5 minus=G voltage=5 limit=1\n";

static void
test_next_one_part_with_several_faults_is_said_as_such (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (DRIVER, "reading u on red=P volts=12.00\nreading u on red=GATE volts=5.00\nreading u on red=D volts=12.00\n");
  int q1 = ml_board_find_part (verdict->job->board, "Q1"), reference = verdict->job->board->reference;
  gboolean lead = FALSE;

  assert_int_equal (verdict->parts[q1].verdict, ML_VERDICT_SUSPECT);
  assert_non_null (strstr (verdict->sentence, "Q1 open at its "));
  assert_non_null (strstr (verdict->sentence, ", or open at its "));
  for (guint i = 0; i < verdict->n_next; i++)
    if (verdict->next[i].red.lead || verdict->next[i].black.lead)
      {
        lead = TRUE;
        assert_true (verdict->next[i].red.lead);
        assert_true (verdict->next[i].red.net != reference || verdict->next[i].black.net == reference);
      }
  assert_true (lead);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_next_suggestions_can_be_told_by_the_meter),
    cmocka_unit_test (test_next_sound_so_far_is_still_asked),
    cmocka_unit_test (test_next_one_part_with_several_faults_is_said_as_such),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
