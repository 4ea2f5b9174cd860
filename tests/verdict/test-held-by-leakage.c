/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nets that hardly anything holds: readings there depend on leakage that differs by decades from part to part, or on what an unknown chip happens to do. No
 * sound part may be convicted of that, and a fault must be found beside it. The boards and their readings are made by hand from the laws named at each. */
#include "support/exam.h"
#include "support/near.h"

#include <string.h>

static void
assert_sound (const char *board, const char *lines, double least)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  if (!(verdict->healthy_probability >= least))
    fail_msg ("%s: sound %.3f, misfit %.3f", verdict->sentence, verdict->healthy_probability, verdict->misfit_probability);
  for (guint i = 0; i < verdict->n_parts; i++)
    assert_int_not_equal (verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
}

/* Shockley's law backwards: i = Is (1 - exp (-v / (n Vt))). Of two Schottky diodes in series backwards the one that leaks more has the less voltage: with
 * 5 uA against 3.75 uA, n Vt = 26.5 mV, it has 26.5 mV ln (5 / 1.25) = 36.7 mV. Which of the two that is, the parts decide. */
static void
test_sound_bridge_rests_on_the_leakier_diodes (void **state)
{
  assert_sound ("reference GND\n"
                "part Q1 pmos drain=MA gate=GA1 source=VM\n"
                "part Q2 nmos drain=MA gate=GA2 source=GND\n"
                "part Q3 pmos drain=MB gate=GB1 source=VM\n"
                "part Q4 nmos drain=MB gate=GB2 source=GND\n"
                "part R1 resistor 1=VM 2=GA1 value=10k\n"
                "part R2 resistor 1=VM 2=GB1 value=10k\n"
                "part R5 resistor 1=GND 2=GA2 value=10k\n"
                "part R6 resistor 1=GND 2=GB2 value=10k\n"
                "part D1 SB340 anode=MA cathode=VM\n"
                "part D2 SB340 anode=GND cathode=MA\n"
                "part D3 SB340 anode=MB cathode=VM\n"
                "part D4 SB340 anode=GND cathode=MB\n"
                "part M1 lamp 1=MA 2=MB\n"
                "condition on\n"
                "  supply plus=VM minus=GND voltage=12 limit=1\n",
                "reading u on red=GA1 black=VM volts=0.0002\nreading u on red=GA2 volts=0.0002\nreading u on red=GB1 black=VM volts=0.0002\n"
                "reading u on red=GB2 volts=0.0002\nreading u on red=MA black=VM volts=-11.94\nreading u on red=GND black=MA volts=-0.0348\n"
                "reading u on red=MB black=VM volts=-11.94\nreading u on red=GND black=MB volts=-0.0348\nreading u on red=GA1 volts=11.94\n", 0.5);
}

/* A MOSFET that is off leaks 50 pA: on the 10 Mohm of a meter beside it 0.5 mV, where a 10 Gohm one at 12 V would make 12 mV. The freewheel diode leaks 11 nA
 * into the meter's 10 Mohm to the reference: 0.11 V. */
static void
test_sound_transistor_that_hardly_leaks (void **state)
{
  assert_sound ("reference GND\n"
                "part U1 block VCC=V5 GND=GND OUT=TOUT supply=VCC ground=GND\n"
                "part R8 resistor 1=TOUT 2=G value=470\n"
                "part R9 resistor 1=G 2=GND value=100k\n"
                "part Q3 nmos drain=LN gate=G source=GND\n"
                "part D2 diode anode=LN cathode=VB\n"
                "part J3 connector LP=VB LN=LN\n"
                "condition on\n"
                "  supply plus=VB minus=GND voltage=12 limit=1\n"
                "  supply plus=V5 minus=GND voltage=5 limit=1\n",
                "reading u on red=VB volts=11.99\nreading u on red=V5 volts=5.01\nreading u on red=G volts=0.0000\n"
                "reading u on red=LN volts=0.1142\nreading u on red=LN black=VB volts=-0.0005\n", 0.5);
}

/* An amplifier's output at its lower end sinks an LED's 8 mA: 0.1 V and 55 ohm (data sheets of common types: 0.3 to 1 V there, from memory). */
static void
test_sound_amplifier_sinks_an_led (void **state)
{
  assert_sound ("reference GND\n"
                "part U4 opamp noninverting=LIM inverting=AV out=OVR positive=V8 negative=GND\n"
                "part R12 resistor 1=V8 2=LIM value=22k\n"
                "part R13 resistor 1=LIM 2=GND value=33k\n"
                "part R9 resistor 1=V8 2=AV value=10k\n"
                "part R10 resistor 1=AV 2=GND value=47k\n"
                "part R14 resistor 1=V8 2=LK value=680\n"
                "part LED1 led anode=LK cathode=OVR colour=red\n"
                "condition on\n"
                "  supply plus=V8 minus=GND voltage=8 limit=200m\n",
                "reading u on red=V8 volts=8.01\nreading u on red=LIM volts=4.81\nreading u on red=AV volts=6.60\n"
                "reading u on red=OVR volts=0.524\nreading u on red=LK volts=2.389\nreading u on supply=1 amps=0.0099\n", 0.5);
}

/* A display whose supply pin nobody knows, scanned by transistors: the digit that is off hangs on nothing but the display's leakage. A saturated transistor
 * without collector current has kT/q ln (1 + 1 / reverse gain) (Ebers and Moll, 1954): 8.5 mV at a gain of 2.6. */
static void
test_sound_display_digit_that_is_off (void **state)
{
  assert_sound ("reference GND\n"
                "part U2 block VCC=V5 GND=GND D1=DG1 D2=DG2 D3=DG3 supply=VCC ground=GND\n"
                "part U3 block A=A B=B K1=K1 K2=K2 K3=K3\n"
                "part R1 resistor 1=V5 2=A value=150k\n"
                "part R2 resistor 1=V5 2=B value=150k\n"
                "part R8 resistor 1=DG1 2=B1 value=1k\n"
                "part R9 resistor 1=DG2 2=B2 value=1k\n"
                "part R10 resistor 1=DG3 2=B3 value=1k\n"
                "part Q1 npn collector=K1 base=B1 emitter=GND\n"
                "part Q2 npn collector=K2 base=B2 emitter=GND\n"
                "part Q3 npn collector=K3 base=B3 emitter=GND\n"
                "condition on\n"
                "  supply plus=V5 minus=GND voltage=5 limit=300m\n",
                "reading u on red=V5 volts=5.01\nreading u on red=B1 volts=0.677\nreading u on red=B2 volts=0.691\nreading u on red=K1 volts=0.0085\n"
                "reading u on red=K2 volts=0.0085\nreading u on red=B3 volts=0.0000\nreading u on red=K3 volts=0.0007\n", 0.5);
}

/* An amplifier whose inputs have the same voltage: its offset, some millivolts (data sheets), decides where the output is. 0.33 V is as sound as 7 V. */
static void
test_sound_amplifier_in_balance_is_said_to_read_so (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings ("reference GND\n"
                                                          "part R4 resistor 1=GND 2=QB value=100\n"
                                                          "part U2 opamp noninverting=QB inverting=GND out=CHG positive=VR negative=GND\n"
                                                          "part R6 resistor 1=CHG 2=L2A value=2k2\n"
                                                          "part LED2 led anode=L2A cathode=GND colour=yellow\n"
                                                          "condition on\n"
                                                          "  supply plus=VR minus=GND voltage=15 limit=1\n",
                                                          "reading u on red=VR volts=15.02\nreading u on red=QB volts=-0.0002\nreading u on red=CHG volts=0.0900\n"
                                                          "reading u on red=L2A volts=0.0900\n");

  assert_int_equal (verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  assert_null (strstr (verdict->sentence, "not every reading"));
  for (char **reason = verdict->explanations[0].reasons; *reason; reason++)
    assert_null (strstr (*reason, "misread"));
}

/* Behind an open coil the thyristor's anode hangs on its own leakage, 20 Mohm, and the meter's 10 Mohm to the coil's other end: Ohm's law gives
 * 13.8 V 10 / 30. */
static void
test_open_coil_before_a_thyristor_that_is_off (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings ("reference GND\n"
                                                          "part R2 resistor 1=VP 2=CAP value=47\n"
                                                          "part C1 capacitor plus=CAP minus=GND value=2200u\n"
                                                          "part K1 coil 1=CAP 2=LEFT resistance=8\n"
                                                          "part D6 diode anode=LEFT cathode=CAP\n"
                                                          "part T1 thyristor anode=LEFT gate=GL cathode=GND\n"
                                                          "part R4 resistor 1=GL 2=GND value=1k\n"
                                                          "part R8 resistor 1=CAP 2=LA value=4k7\n"
                                                          "part LED1 led anode=LA cathode=GND colour=yellow\n"
                                                          "condition on\n"
                                                          "  supply plus=VP minus=GND voltage=14 limit=200m\n",
                                                          "reading u on red=VP volts=13.98\nreading u on red=CAP volts=13.8\nreading u on red=GL volts=0.0000\n"
                                                          "reading u on red=LEFT black=CAP volts=-4.6\nreading u on red=LA volts=1.98\n");

  assert_int_equal (verdict->explanations[0].faults[0].part, ml_board_find_part (verdict->job->board, "K1"));
  assert_true (verdict->explanations[0].probability > 0.5);
}

/* A timing capacitor of megohms of leakage: 1 Mohm from 12 V, 2.6 Mohm and the meter's 10 Mohm to ground are 8.1 V; across the resistor the meter reads
 * 12 V 0.909 / (0.909 + 2.6) = 3.1 V (Ohm's law). A resistor of 4.9 Mohm gives 8.1 V as well, but nothing across itself. */
static void
test_held_by_leakage_a_timing_capacitor_leaks_megohms (void **state)
{
  static const char board[] = "reference GND\npart R1 resistor 1=V12 2=T value=1M\npart C1 capacitor 1=T 2=GND value=4u7\n"
                              "part R2 resistor 1=T 2=B value=100k\npart U1 comparator noninverting=B inverting=REF out=OUT positive=V12 negative=GND\n"
                              "part R3 resistor 1=V12 2=REF value=10k\npart R4 resistor 1=REF 2=GND value=10k\npart R5 resistor 1=V12 2=OUT value=4k7\n"
                              "condition on\n  supply plus=V12 minus=GND voltage=12 limit=100m\n";
  static const char lines[] = "reading u on red=V12 volts=12.01\nreading u on red=T volts=8.10\nreading u on red=REF volts=6.01\nreading u on red=OUT volts=11.99\n";
  g_autofree char *across_leaking = g_strconcat (lines, "reading u on red=V12 black=T volts=3.10\n", NULL);
  g_autofree char *across_drifted = g_strconcat (lines, "reading u on red=V12 black=T volts=0.04\n", NULL);
  g_autoptr (MlVerdict) before = ml_exam_judge_readings (board, lines), leaking = ml_exam_judge_readings (board, across_leaking);
  g_autoptr (MlVerdict) drifted = ml_exam_judge_readings (board, across_drifted);
  int c1 = ml_board_find_part (before->job->board, "C1"), r1 = ml_board_find_part (before->job->board, "R1");

  assert_true (before->parts[c1].probability > 0.1);
  assert_true (leaking->parts[c1].probability > 0.7 && leaking->parts[r1].probability < 0.05);
  assert_true (drifted->parts[r1].probability > 0.8);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_held_by_leakage_a_timing_capacitor_leaks_megohms),
    cmocka_unit_test (test_sound_bridge_rests_on_the_leakier_diodes),
    cmocka_unit_test (test_sound_transistor_that_hardly_leaks),
    cmocka_unit_test (test_sound_amplifier_sinks_an_led),
    cmocka_unit_test (test_sound_display_digit_that_is_off),
    cmocka_unit_test (test_sound_amplifier_in_balance_is_said_to_read_so),
    cmocka_unit_test (test_open_coil_before_a_thyristor_that_is_off),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
