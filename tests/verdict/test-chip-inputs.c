/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pin of an unknown chip that takes no current leaves the divider before it alone: V R2 / (R1 + R2), in every condition. That it is an input
 * explains it; that it is not connected is far-fetched. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

static const char BOARD[] = "meterleaf 1\nboard \"Level sensor of a rain barrel\"\nreference N\npart R0 resistor 1=IN 2=V value=100\n"
                            "part U1 block vcc=V gnd=N in=A supply=vcc ground=gnd\npart R1 resistor 1=V 2=A value=10k\npart R2 resistor 1=A 2=N value=33k\n"
                            "condition low\n  supply plus=IN minus=N voltage=5 limit=1\ncondition high\n  supply plus=IN minus=N voltage=5 limit=1\n";

/* The chip draws what it likes; at A stands `share` of its supply. */
static MlVerdict *
judge (double share)
{
  g_autofree char *lines = g_strdup_printf ("reading u low red=IN volts=5.003\nreading u low red=V volts=4.012\nreading u low red=A volts=%.3f\n"
                                            "reading u high red=IN volts=5.003\nreading u high red=V volts=3.021\nreading u high red=A volts=%.3f\n",
                                            4.012 * share, 3.021 * share);
  return ml_exam_judge_readings (BOARD, lines);
}

static void
test_inputs_are_no_missing_connection (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (33 / 43.0);

  assert_true (verdict->healthy_probability > 0.9);
}

/* With R1 open only R2 is left at the input: 0 V (no current through it), which a chip that drives its pin to ground gives as well. */
static void
test_inputs_leave_faults_in_play (void **state)
{
  g_autoptr (MlVerdict) verdict = judge (0);

  assert_true (verdict->healthy_probability < 0.9);
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict == ML_VERDICT_CLEARED && !strcmp (verdict->job->board->parts[i].name, "R1"), TRUE);
}

/* Two regulators of 5 V, one of which nobody knows: their rails are alike because both are 5 V. Readings of sound boards from the truth program. */
static void
test_alike_rails_are_not_one_net (void **state)
{
  static const char board[] = "reference N\npart U1 regulator in=IN out=A ground=N voltage=5\npart U2 block 1=IN 2=N 3=B\n"
                              "part R1 resistor 1=B 2=C value=10k tolerance=5%\npart R2 resistor 1=C 2=D\npart S1 switch 1=D 2=N\n"
                              "part Q1 pnp collector=K base=C emitter=B\npart R3 resistor 1=K 2=L\npart LED1 led anode=L cathode=N colour=red\n"
                              "condition c1\n  supply plus=IN minus=N voltage=18 limit=500m\n  set S1 open\n"
                              "condition c2\n  supply plus=IN minus=N voltage=18 limit=500m\n  set S1 closed\n";
  static const char *const LINES[] = {
    "reading u c1 red=IN volts=17.98\nreading u c1 red=A volts=5.025\nreading u c1 red=B volts=5.025\nreading u c1 red=C volts=5.020\n"
    "reading u c1 red=D volts=5.017\nreading u c1 red=K volts=0.0051\nreading u c1 red=L volts=0.0051\n"
    "reading u c2 red=IN volts=17.97\nreading u c2 red=A volts=5.025\nreading u c2 red=B volts=5.025\nreading u c2 red=C volts=4.366\n"
    "reading u c2 red=D volts=0.0001\nreading u c2 red=K volts=4.976\nreading u c2 red=L volts=1.928\n",
    "reading u c1 red=IN volts=17.92\nreading u c1 red=A volts=5.110\nreading u c1 red=B volts=5.062\nreading u c1 red=C volts=5.057\n"
    "reading u c1 red=D volts=5.055\nreading u c1 red=K volts=0.0049\nreading u c1 red=L volts=0.0049\n"
    "reading u c2 red=IN volts=17.91\nreading u c2 red=A volts=5.110\nreading u c2 red=B volts=5.062\nreading u c2 red=C volts=4.364\n"
    "reading u c2 red=D volts=-0.0001\nreading u c2 red=K volts=5.030\nreading u c2 red=L volts=1.895\n" };

  for (guint i = 0; i < G_N_ELEMENTS (LINES); i++)
    {
      g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, LINES[i]);

      assert_true (verdict->healthy_probability > 0.8);
    }
  /* That it is so on a good unit, too, is the same design and no second sign. */
  g_auto (GStrv) there = g_strsplit (LINES[1], "reading u ", -1);
  g_autofree char *good = g_strjoinv ("reading g ", there), *both = g_strconcat (LINES[0], "unit g good\n", good, NULL);
  g_autoptr (MlVerdict) beside = ml_exam_judge_readings (board, both);
  assert_true (beside->healthy_probability > 0.5);
}

/* A regulator that nobody knows gives the same volts in two conditions. One that misbehaves the same way in both would, too, and asks for nothing more;
 * but there is nothing to be explained. 5.08 V (56 / (68 + 56)) = 2.29 V at the tap. */
static void
test_steady_chip_does_not_misbehave (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "reference N\npart D1 diode anode=IN cathode=VP family=schottky\npart U1 block 1=VP 2=N 3=B\npart R1 resistor 1=B 2=C value=68k tolerance=1%\n"
    "part R2 resistor 1=C 2=N value=56k tolerance=1%\npart R3 resistor 1=B 2=L\npart LED1 led anode=L cathode=N colour=blue\n"
    "condition c1\n  supply plus=IN minus=N voltage=24 limit=500m\ncondition c2\n  supply plus=IN minus=N voltage=23 limit=500m\n",
    "reading u c1 red=IN volts=24.01\nreading u c1 red=VP volts=23.68\nreading u c1 red=B volts=5.078\nreading u c1 red=C volts=2.293\n"
    "reading u c1 red=L volts=2.916\nreading u c1 supply=1 amps=0.01006\nreading u c2 red=IN volts=23.01\nreading u c2 red=VP volts=22.68\n"
    "reading u c2 red=B volts=5.078\nreading u c2 red=C volts=2.293\nreading u c2 red=L volts=2.916\nreading u c2 supply=1 amps=0.01006\n");

  assert_true (verdict->healthy_probability > 0.5);
}

/* An output that nothing else hangs on sets its net. As an input it would leave that to the meter: no explanation, and the reading no slip.
 * 12 V 4.7 / 14.7 = 3.84 V at the base, less the base current's share; .65 V less at the emitter. */
static void
test_output_alone_is_no_slip (void **state)
{
  static const char board[] = "reference N\npart U1 block 1=VP 2=N 3=B\npart R1 resistor 1=VP 2=C value=1k\npart LED1 led anode=C cathode=N colour=red\n"
                              "part R2 resistor 1=VP 2=D value=10k\npart R3 resistor 1=D 2=N value=4k7\npart Q1 npn base=D collector=E emitter=F\n"
                              "part R4 resistor 1=F 2=N value=1k\npart R5 resistor 1=E 2=VP value=1k\n"
                              "condition a\n  supply plus=VP minus=N voltage=12 limit=200m\ncondition b\n  supply plus=VP minus=N voltage=12 limit=200m\n";
  static const char each[] = "reading @red=VP volts=11.96\nreading @red=B volts=5.111\nreading @red=C volts=1.92\n"
                             "reading @red=D volts=3.70\nreading @red=F volts=3.05\nreading @red=E volts=8.95\n";
  g_auto (GStrv) there = g_strsplit (each, "@", -1);
  g_autofree char *a = g_strjoinv ("u a ", there), *b = g_strjoinv ("u b ", there), *lines = g_strconcat (a, b, NULL);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_true (verdict->healthy_probability > 0.8);
  assert_null (verdict->explanations[0].reasons[1]);
  assert_non_null (strstr (verdict->explanations[0].reasons[0], "every reading is what the board as drawn gives"));
}

/* Fed over 120 ohm, held by a zener diode that stands the wrong way round: (9 V - 0.96 V) / 120 ohm = 67 mA at 0.96 V. That no chip runs below two junctions'
 * voltage is common practice, no source. */
static void
test_starved_chip_takes_nothing (void **state)
{
  static const char board[] = "reference N\npart R1 resistor 1=P 2=V value=120 tolerance=5%\npart D1 zener anode=N cathode=V voltage=6.2\n"
                              "part U1 block 1=V 2=N 3=A supply=1 ground=2\npart R2 resistor 1=V 2=A value=10k tolerance=5%\n"
                              "part R3 resistor 1=V 2=T value=2k7 tolerance=5%\npart R4 resistor 1=T 2=N value=1k5 tolerance=5%\n"
                              "condition on\n  supply plus=P minus=N voltage=9 limit=500m\n";
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, "reading u on red=P volts=8.96\nreading u on red=V volts=0.962\nreading u on red=T volts=0.3406\n"
                                                                 "reading u on supply=1 amps=0.0670\n");

  assert_int_not_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY); /* which it was, at 71 % */
  assert_true (verdict->healthy_probability < 0.3);
  assert_true (verdict->parts[ml_board_find_part (verdict->job->board, "D1")].probability > 0.25);
}

/* What no reading tells of a chip is guessed alike by whoever asks. Fed over 100 ohm it takes the supply into its limit where it is taken for 30 ohm, and
 * less than that in the middle, as `solve` has it: 18 V / (100 + 300) ohm = 45 mA. */
static void
test_chip_without_readings_is_guessed_as_solve_does (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("b", "meterleaf 1\nboard \"chip\"\nreference G\npart R9 resistor 1=IN 2=VP value=100\n"
                                                  "part U1 block VCC=VP GND=G OUT=O A=A\npart R1 resistor 1=O 2=G value=10k\npart R2 resistor 1=A 2=B value=10k\n"
                                                  "part R3 resistor 1=B 2=G value=1k\ncondition on\n  supply plus=IN minus=G voltage=18 limit=50m\n");
  g_autoptr (MlJudge) own = ml_judge_new (board);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (own, board, "meterleaf 1\njob \"T\"\nboard \"b.leafboard\"\n"
                                                                  "meter bench dc=0.5%+2 counts=6000 input=10M\nunit u suspect\n", 2);
  g_autoptr (MlOperatingPoint) solved = ml_judge_solve (own, 0, NULL, 0, NULL);
  guint seen = 0;

  for (guint i = 0; i < verdict->n_next; i++)
    if (verdict->next[i].reads == ML_READS_VOLTS && verdict->next[i].black.net == board->reference)
      {
        assert_near (verdict->next[i].healthy, solved->net_v[verdict->next[i].red.net], 0.01, 0.01);
        seen++;
      }
  assert_true (seen >= 3);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_inputs_are_no_missing_connection), cmocka_unit_test (test_inputs_leave_faults_in_play),
                                      cmocka_unit_test (test_alike_rails_are_not_one_net), cmocka_unit_test (test_steady_chip_does_not_misbehave),
                                      cmocka_unit_test (test_output_alone_is_no_slip),
                                      cmocka_unit_test (test_starved_chip_takes_nothing),
                                      cmocka_unit_test (test_chip_without_readings_is_guessed_as_solve_does) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
