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

static void
assert_no_suspect (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

static gboolean
is_said (const MlVerdict *verdict, const char *words)
{
  gboolean said = FALSE;

  for (guint i = 0; verdict->cautions[i]; i++)
    said |= strstr (verdict->cautions[i], words) != NULL;
  return said;
}

/* The collector of the transistor that is off stands at the divider of 1 k and 22 k between 9 V and the other's base, 0.7 V: 8.64 V (Ohm's law). Whatever
 * state the engine finds first, one of the two is not it. */
static void
test_states_a_sound_board_is_sound_in_either (void **state)
{
  g_autoptr (MlVerdict) a = ml_exam_judge_readings (FLIP_FLOP, "reading u on red=P volts=9\nreading u on red=A volts=8.64\nreading u on red=B volts=30m\n"
                                                               "reading u on red=BB volts=0.7\nreading u on red=BA volts=29m\n");
  g_autoptr (MlVerdict) b = ml_exam_judge_readings (FLIP_FLOP, "reading u on red=P volts=9\nreading u on red=B volts=8.64\nreading u on red=A volts=30m\n"
                                                               "reading u on red=BA volts=0.7\nreading u on red=BB volts=29m\n");

  assert_int_equal (a->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_int_equal (b->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_near (a->healthy_probability, b->healthy_probability, 0, 0.05); /* the board is symmetric */
  assert_no_suspect (a);
  assert_no_suspect (b);
  assert_true (is_said (a, "nearest to the readings, with A high") != is_said (b, "nearest to the readings, with B high"));
}

/* What the board file says is meant is not overruled: in the other state something holds A down. */
static void
test_states_what_the_board_file_says_holds (void **state)
{
  g_autoptr (MlVerdict) verdict =
    ml_exam_judge_readings (FLIP_FLOP "prefer A high\n", "reading u on red=P volts=9\nreading u on red=B volts=8.64\nreading u on red=A volts=30m\n"
                                                          "reading u on red=BA volts=0.7\nreading u on red=BB volts=29m\n");

  assert_int_not_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
}

/* On in one condition and off in the other, each with a lamp; the lamp of the one that is on in both is open: no current, so 9 V before it. A lit red
 * lamp holds 1.9 V, the transistor that is off 8.64 V. */
static void
test_states_a_fault_is_found_in_any (void **state)
{
  static const char board[] =
    "reference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=P 2=B value=1k\npart R3 resistor 1=A 2=BB value=22k\n"
    "part R4 resistor 1=B 2=BA value=22k\npart Q1 npn collector=A base=BA emitter=G\npart Q2 npn collector=B base=BB emitter=G\n"
    "part R5 resistor 1=P 2=L1 value=1k\npart LED1 led anode=L1 cathode=A colour=red drop=1.9@7m\n"
    "part R6 resistor 1=P 2=L2 value=1k\npart LED2 led anode=L2 cathode=B colour=red drop=1.9@7m\n"
    "condition on\n  supply plus=P minus=G voltage=9 limit=100m\ncondition turned\n  supply plus=P minus=G voltage=9 limit=100m\n";
  g_autoptr (MlVerdict) verdict =
    ml_exam_judge_readings (board, "reading u on red=P volts=9\nreading u on red=A volts=8.64\nreading u on red=B volts=70m\nreading u on red=L2 volts=9\n"
                                   "reading u turned red=P volts=9\nreading u turned red=A volts=88m\nreading u turned red=B volts=8.64\n"
                                   "reading u turned red=L1 volts=1.97\n");

  assert_int_equal (verdict->explanations[0].n_faults, 1);
  assert_int_equal (verdict->explanations[0].faults[0].kind, ML_FAULT_OPEN);
  assert_int_equal (verdict->explanations[0].faults[0].part, ml_board_find_part (verdict->job->board, "LED2"));
}

/* Once started it holds itself: the whole supply stands at its coil. As built it is not. */
static void
test_states_a_relay_that_holds_itself_may_be_held (void **state)
{
  g_autoptr (MlVerdict) verdict =
    ml_exam_judge_readings ("reference G\npart S1 switch 1=P 2=C\npart K1A contact common=P no=C by=K1\npart K1 coil 1=C 2=G resistance=320\n"
                            "part D1 diode anode=G cathode=C\npart R1 resistor 1=C 2=L value=1k\npart LED1 led anode=L cathode=G colour=red\n"
                            "condition on\n  supply plus=P minus=G voltage=12 limit=100m\n  set S1 open\n",
                            "reading u on red=P volts=12\nreading u on red=C volts=11.98\nreading u on red=L volts=1.9\n");

  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_no_suspect (verdict);
  assert_true (is_said (verdict, "nearest to the readings, with C high"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_states_another_one_is_said_unless_the_board_says_which),
    cmocka_unit_test (test_states_nothing_is_said_where_it_does_not_matter),
    cmocka_unit_test (test_states_a_sound_board_is_sound_in_either),
    cmocka_unit_test (test_states_what_the_board_file_says_holds),
    cmocka_unit_test (test_states_a_fault_is_found_in_any),
    cmocka_unit_test (test_states_a_relay_that_holds_itself_may_be_held),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
