/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A board that can rest in more than one state. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

/* Two transistors, each with the other's collector behind its base resistor: Eccles and Jordan's trigger circuit, on or off by turns. */
#define FLIP_FLOP "meterleaf 1\nboard \"Flip-flop\"\nreference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=P 2=B value=1k\n" \
                  "part R3 resistor 1=A 2=BB value=22k\npart R4 resistor 1=B 2=BA value=22k\npart Q1 npn collector=A base=BA emitter=G\n" \
                  "part Q2 npn collector=B base=BB emitter=G\ncondition on\n  supply plus=P minus=G voltage=9 limit=100m\ncondition cold\n"
#define DIVIDER "meterleaf 1\nboard \"Divider\"\nreference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=A 2=G value=1k\n" \
                "condition on\n  supply plus=P minus=G voltage=9 limit=100m\n"
#define JOB "meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\nmeter bench dc=0.5%+2 counts=6000 input=10M\nunit u suspect\n"

static gboolean
is_warned (const char *board_text, const char *job)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", board_text);
  g_autoptr (MlJudge) judge = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, board, job, 2);
  gboolean said = FALSE;

  for (guint i = 0; verdict->cautions[i]; i++)
    said |= strstr (verdict->cautions[i], "condition on the board as drawn can rest in more than one state") != NULL;
  return said;
}

static void
test_states_another_one_is_said_unless_the_board_says_which (void **state)
{
  assert_true (is_warned (FLIP_FLOP, JOB "reading u on red=A volts=8.7\n"));
  assert_false (is_warned (FLIP_FLOP "prefer A high\n", JOB "reading u on red=A volts=8.7\n"));
}

static void
test_states_nothing_is_said_where_it_does_not_matter (void **state)
{
  assert_false (is_warned (FLIP_FLOP, JOB)); /* nothing was read */
  assert_false (is_warned (FLIP_FLOP, JOB "reading u cold across=R1 ohms=1000\n"));
  assert_false (is_warned (DIVIDER, JOB "reading u on red=A volts=4.5\n"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_states_another_one_is_said_unless_the_board_says_which),
    cmocka_unit_test (test_states_nothing_is_said_where_it_does_not_matter),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
