/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the readings speak against. Readings by Ohm's and Shockley's laws. */
#include "support/exam.h"
#include "support/near.h"

static MlVerdictWord
word_of (const MlVerdict *verdict, const char *part)
{
  return verdict->parts[ml_board_find_part (verdict->job->board, part)].verdict;
}

/* 2.35 mA through D1 (Schottky, 0.30 V at 10 mA, 1.15 x 25.85 mV x ln (10 / 2.35) less), 1 kohm and R2 at twice its 2 kohm. A leak of 100 ohm across D1 takes
 * most of its current and 20 mV of its drop, less than the 0.1 % of 12 V that the model leaves out counts for with a slighter one: that is no fault of a
 * diode that conducts. D2 blocks: that it is open nobody can see, and it is broken all the same. */
static void
test_cleared_in_spite_of_faults_that_do_nothing (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Level gauge of a rain barrel\"\nreference G\npart D1 diode anode=P cathode=V family=schottky\npart D2 diode anode=G cathode=P family=silicon\n"
    "part R1 resistor 1=V 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
    "condition on\n  supply plus=P minus=G voltage=12 limit=200m\n",
    "reading u on red=P volts=12.00\nreading u on red=V volts=11.74\nreading u on red=A volts=9.39\nreading u on supply=1 amps=0.00235\n");

  assert_int_equal (word_of (verdict, "R2"), ML_VERDICT_SUSPECT);
  assert_int_equal (word_of (verdict, "D1"), ML_VERDICT_CLEARED);
  assert_int_equal (word_of (verdict, "D2"), ML_VERDICT_UNPROVEN);
}

/* 12 V into 1 kohm and R2 at twice its 2 kohm: 9.6 V. With 9.6 V at its pins and no current unaccounted for C1 does not leak; whether it is open nobody
 * can see, and no reading clears it. */
static void
test_a_capacitor_is_never_cleared (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Filter of a moisture probe\"\nreference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
    "part C1 capacitor plus=A minus=G value=10u\ncondition on\n  supply plus=P minus=G voltage=12 limit=200m\n",
    "reading u on red=P volts=12.00\nreading u on red=A volts=9.60\nreading u on supply=1 amps=0.00240\n");

  assert_int_equal (word_of (verdict, "R2"), ML_VERDICT_SUSPECT);
  assert_int_equal (word_of (verdict, "R1"), ML_VERDICT_CLEARED);
  assert_int_equal (word_of (verdict, "C1"), ML_VERDICT_UNPROVEN);
}

/* Nobody said where the black probe rests: the same without a reference. */
static void
test_cleared_without_a_reference (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Divider\"\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=2k tolerance=1%\n"
    "condition on\n  supply plus=P minus=G voltage=12 limit=200m\n",
    "reading u on red=P black=G volts=12.00\nreading u on red=A black=G volts=9.60\nreading u on supply=1 amps=0.00240\n");

  assert_int_equal (word_of (verdict, "R2"), ML_VERDICT_SUSPECT);
  assert_int_equal (word_of (verdict, "R1"), ML_VERDICT_CLEARED);
}

/* The input hangs on R1 alone, 100 ohm: with R1 open its bias current flows through the meter. 26 nA (LM358: 45 nA typical, data sheet, from memory) in 10
 * Mohm are 262 mV; while the meter is at the output the input is near the supply instead, and the output high: 5 V less the volt or more that such
 * amplifiers lose there. No leak inside the chip has to be thought of for that. */
static void
test_an_input_that_floats_shows_its_bias_current (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Current monitor of a lathe\"\nreference G\npart U1 opamp noninverting=S inverting=T out=O positive=V negative=G\n"
    "part R1 resistor 1=S 2=G value=100 tolerance=1%\npart R2 resistor 1=V 2=T value=100k tolerance=1%\npart R3 resistor 1=T 2=G value=11k tolerance=1%\n"
    "part R4 resistor 1=O 2=G value=10k tolerance=1%\ncondition on\n  supply plus=V minus=G voltage=5 limit=200m\n",
    "reading u on red=V volts=5.00\nreading u on red=S volts=0.2620\nreading u on red=T volts=0.4955\nreading u on red=O volts=3.66\n");

  assert_int_equal (word_of (verdict, "R1"), ML_VERDICT_SUSPECT);
  assert_string_equal (verdict->explanations[0].title, "R1 open");
}

/* 200 kohm from drain to gate and R1, 100 kohm: 4.983 V x 100 / 300 = 1.66 V at the gate. With R1 at 200 kohm a leak of 400 kohm gives the same, and on a
 * sound board no fault of R1 shows at all: whatever Q1 does, nothing speaks for R1. */
static void
test_what_no_reading_touches_is_never_cleared (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Gate of a hot-wire cutter\"\nreference G\npart Q1 nmos gate=S drain=D source=G\npart R1 resistor 1=S 2=G value=100k tolerance=1%\n"
    "part R2 resistor 1=V 2=D value=1k tolerance=1%\ncondition on\n  supply plus=V minus=G voltage=5 limit=200m\n",
    "reading u on red=V volts=5.00\nreading u on red=S volts=1.639\nreading u on red=D volts=4.98\nreading u on across=R2 volts=0.0166\n");

  assert_int_equal (word_of (verdict, "Q1"), ML_VERDICT_SUSPECT);
  assert_int_equal (word_of (verdict, "R2"), ML_VERDICT_CLEARED);
  assert_int_equal (word_of (verdict, "R1"), ML_VERDICT_UNPROVEN);
}

/* R5 is the only way to the comparator's input. With R5 open its bias current lifts the input to where its transistors end, a volt or so below 12 V, and the
 * output lets go; a meter at the input pulls that down to 26 nA x 10 Mohm, but then nobody looks at the output. One fault, not R5 and the chip. */
static void
test_an_input_that_hangs_open_takes_the_output_with_it (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    "board \"Frost alarm\"\nreference G\npart U1 comparator noninverting=IN inverting=T out=O positive=V negative=G\n"
    "part R1 resistor 1=V 2=S value=10k tolerance=1%\npart R2 resistor 1=S 2=G value=4k7 tolerance=1%\npart R5 resistor 1=S 2=IN value=22k tolerance=1%\n"
    "part R3 resistor 1=V 2=T value=10k tolerance=1%\npart R4 resistor 1=T 2=G value=10k tolerance=1%\n"
    "part R6 resistor 1=V 2=O value=4k7 tolerance=1%\ncondition on\n  supply plus=V minus=G voltage=12 limit=200m\n",
    "reading u on red=V volts=12.00\nreading u on red=S volts=3.84\nreading u on red=IN volts=0.262\nreading u on red=T volts=6.00\n"
    "reading u on red=O volts=12.00\n");

  assert_string_equal (verdict->explanations[0].title, "R5 open");
  assert_int_equal (word_of (verdict, "R5"), ML_VERDICT_SUSPECT);
  assert_int_not_equal (word_of (verdict, "U1"), ML_VERDICT_SUSPECT);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_an_input_that_floats_shows_its_bias_current),
    cmocka_unit_test (test_an_input_that_hangs_open_takes_the_output_with_it),
    cmocka_unit_test (test_what_no_reading_touches_is_never_cleared),
    cmocka_unit_test (test_a_capacitor_is_never_cleared),
    cmocka_unit_test (test_cleared_without_a_reference),
    cmocka_unit_test (test_cleared_in_spite_of_faults_that_do_nothing),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
