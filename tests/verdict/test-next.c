/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The next reading: what a meter cannot tell apart is no suggestion. The limit of error is the meter's own, 0.5 % and 2 counts of 6000. */
#include "support/exam.h"
#include "support/near.h"

#include <math.h>

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
      if (next->reads == ML_READS_VOLTS && next->red.net == ml_board_find_net (verdict->job->board, "A") && !next->black.lead)
        {
          found = TRUE;
          assert_near (next->healthy, 6, 0.02, 0);
        }
    }
  assert_true (found);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_next_suggestions_can_be_told_by_the_meter),
    cmocka_unit_test (test_next_sound_so_far_is_still_asked),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
