/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards with chopped nets. What is read comes from volt-second balance (Erickson and Maksimovic, Fundamentals of Power Electronics, ch. 2, from
 * memory): a coil of 60 ohm on 12 V, pulled to the reference for the share d of the time, has 12 d V on average and carries 12 d / 60 A; the transistor
 * carries d of that, the freewheel diode the rest. Where nothing switches they carry nothing. */
#include "support/exam.h"
#include "support/near.h"
#include "support/size.h"

#include <string.h>

#define BOARD \
  "reference GND\n" \
  "part F1 fuse 1=V12 2=VF current=1\n" \
  "part D1 diode anode=COIL cathode=VF\n" \
  "part K1 coil 1=VF 2=COIL resistance=60\n" \
  "part U1 block VDD=V5 VSS=GND OUT=DRIVE IN=IN supply=VDD ground=VSS\n" \
  "part R1 resistor 1=DRIVE 2=GATE value=100\n" \
  "part R2 resistor 1=GATE 2=GND value=100k\n" \
  "part Q1 nmos drain=COIL gate=GATE source=SENSE\n" \
  "part R3 resistor 1=SENSE 2=GND value=1\n" \
  "part U2 regulator in=VF out=V5 ground=GND voltage=5\n" \
  "part R4 resistor 1=VF 2=IN value=22k\n" \
  "part R5 resistor 1=IN 2=GND value=10k\n" \
  "net COIL switching\n" \
  "net DRIVE switching\n" \
  "condition on\n" \
  "  supply plus=V12 minus=GND voltage=12 limit=500m\n"

/* Readings of the board at duty d: the chip takes 10 mA, the regulator 5 mA itself. */
static char *
readings_at (double d, double in_v, double coil_v, double coil_a)
{
  return g_strdup_printf ("reading u on red=VF volts=11.99\nreading u on red=V5 volts=5.01\nreading u on red=IN volts=%.3f\n"
                          "reading u on red=COIL volts=%.2f\nreading u on across=K1 volts=%.2f\nreading u on red=SENSE volts=%.4f\n"
                          "reading u on supply=1 amps=%.4f\n", in_v, 12 - coil_v, coil_v, d * coil_a, 0.0154 + d * coil_a);
}

static MlVerdict *
judge_at (double d, double in_v, double coil_v, double coil_a)
{
  g_autofree char *lines = readings_at (d, in_v, coil_v, coil_a);

  return ml_exam_judge_readings (BOARD, lines);
}

static double
probability_of (const MlVerdict *verdict, const char *part)
{
  return verdict->parts[ml_board_find_part (verdict->job->board, part)].probability;
}

static double
most_of_any (const MlVerdict *verdict)
{
  double most = 0;

  for (guint i = 0; i < verdict->n_parts; i++)
    most = MAX (most, verdict->parts[i].probability);
  return most;
}

static double
of_fault (const MlVerdict *verdict, const char *part, MlFaultKind kind)
{
  double sum = 0;

  for (guint i = 0; i < verdict->n_explanations; i++)
    if (verdict->explanations[i].explains == ML_EXPLAINS_FAULT && verdict->explanations[i].n_faults == 1 && verdict->explanations[i].faults[0].kind == kind
        && verdict->explanations[i].faults[0].part == ml_board_find_part (verdict->job->board, part))
      sum += verdict->explanations[i].probability;
  return sum;
}

static gboolean
contains (char *const *texts, const char *what)
{
  for (; texts && *texts; texts++)
    if (strstr (*texts, what))
      return TRUE;
  return FALSE;
}

/* By its d.c. law a transistor that is driven at all would hold the coil at all of the supply, and the diode carry nothing. */
static void
test_sound_board_that_switches_is_sound (void **state)
{
  static const double duties[] = { 0.25, 0.4, 0.6 };

  for (guint i = 0; i < ml_test_size (G_N_ELEMENTS (duties), 1); i++)
    {
      double d = duties[i];
      g_autoptr (MlVerdict) verdict = judge_at (d, 3.75, 12 * d, 12 * d / 60);

      assert_true (verdict->healthy_probability > 0.5);
      assert_true (most_of_any (verdict) < 0.1);
      assert_true (verdict->misfit_probability < 0.1);
    }
}

static void
test_cautions_name_every_chopped_net (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_at (0.4, 3.75, 4.8, 0.08);

  /* marked ones, the gate behind its resistor, and the source above the sense resistor; in one sentence */
  guint said = 0;
  for (char **one = verdict->cautions; *one; one++)
    said += strstr (*one, "switched: ") != NULL;
  assert_int_equal (said, 1);
  assert_true (contains (verdict->cautions, "COIL, DRIVE, GATE and SENSE are switched: their readings are only averages and weigh little"));
}

/* Nothing flows through the coil: a chip that does not start, by name, and no misfit. */
static void
test_nothing_switches_is_an_explanation (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_at (0, 3.75, 0, 0);
  gboolean said = FALSE;

  assert_true (verdict->misfit_probability < 0.1);
  assert_true (of_fault (verdict, "U1", ML_FAULT_STOPPED) > 0.05);
  for (guint i = 0; i < verdict->n_explanations; i++)
    said |= contains (verdict->explanations[i].reasons, "nothing switches (on)");
  assert_true (said);
  assert_true (probability_of (verdict, "R4") < 0.05 && probability_of (verdict, "U2") < 0.05);
}

static void
test_open_coil_is_found (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_at (0, 3.75, 11.95, 0);

  assert_true (probability_of (verdict, "K1") > 0.8);
}

/* R5 open: the input at the supply, whatever the coil does. */
static void
test_fault_elsewhere_is_found (void **state)
{
  g_autoptr (MlVerdict) verdict = judge_at (0.4, 11.9, 4.8, 0.08);

  assert_true (probability_of (verdict, "R4") + probability_of (verdict, "R5") > 0.6);
  assert_true (probability_of (verdict, "K1") < 0.05 && probability_of (verdict, "Q1") < 0.05 && probability_of (verdict, "D1") < 0.05);
}

/* Pulses before the gate's resistor and none behind it, nothing in the coil (Kirchhoff's laws: the gate takes no current, 100 kohm ties it down). */
static void
test_open_gate_resistor_stops_the_transistor (void **state)
{
  g_autofree char *lines = readings_at (0, 3.75, 0, 0);
  g_autofree char *more = g_strconcat (lines, "reading u on red=DRIVE volts=2.0\nreading u on red=GATE volts=0.000\n", NULL);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (BOARD, more);

  assert_true (probability_of (verdict, "R1") + probability_of (verdict, "Q1") > 0.5);
  assert_true (probability_of (verdict, "R1") > 0.2);
  assert_true (probability_of (verdict, "K1") < 0.1);
}

/* Nobody knows how much would flow: as drawn the board is computed at rest. The freewheel diode is then reversed by whatever the coil drops, and the
 * coil's net not above its supply (Kirchhoff's voltage law). */
static void
test_solve_has_it_at_rest (void **state)
{
  g_autoptr (MlBoard) board = ml_exam_board ("board", BOARD);
  MlJudge *judge = ml_judge_new (board);
  MlOperatingPoint *point = ml_judge_solve (judge, 0, NULL, 0, NULL);

  assert_true (point->solved);
  assert_true (point->net_v[ml_board_find_net (board, "COIL")] <= 12.01);
  assert_near (point->pin_a[ml_board_find_part (board, "D1")][0], 0, 0, 1e-6);
  ml_operating_point_free (point);
  ml_judge_free (judge);
}

/* A freewheel diode that leaks through 30 ohm beside the coil of 60: 20 ohm on the cold board (Ohm's law). At work the coil carries 100 mA, the leak 200 mA at
 * 6 V on average, and the transistor half of 100 mA and half of 12 V / 30 ohm. Coil and diode lie side by side: nothing tells which of them it is. */
static void
test_chopped_a_leaking_freewheel_diode_shows_on_the_cold_board (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (
    BOARD "condition cold\n", "reading u on red=VF volts=11.98\nreading u on red=V5 volts=5.01\nreading u on red=IN volts=3.744\nreading u on red=COIL volts=6.00\n"
                              "reading u on across=K1 volts=6.00\nreading u on red=SENSE volts=0.250\nreading u on supply=1 amps=0.2654\n"
                              "reading u cold across=K1 ohms=20.0\n");

  assert_true (probability_of (verdict, "D1") > 0.2);
  assert_true (probability_of (verdict, "D1") + probability_of (verdict, "K1") > 0.9);
  assert_int_equal (verdict->parts[ml_board_find_part (verdict->job->board, "D1")].verdict, ML_VERDICT_SUSPECT);
}

/* Whether the verdict takes the board as sound and drawn right, with those nets told as averages. */
static void
assert_runs_sound (const char *board, const char *lines, const char *averages)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings (board, lines);

  if (verdict->explanations[0].explains != ML_EXPLAINS_HEALTHY || verdict->misfit_probability >= 0.1 || most_of_any (verdict) >= 0.5)
    fail_msg ("%s: sound %.3f, misfit %.3f", verdict->sentence, verdict->healthy_probability, verdict->misfit_probability);
  assert_true (contains (verdict->cautions, averages));
}

/* An astable (Horowitz and Hill, The Art of Electronics, ch. on oscillators, from memory): a base that is off goes from 0.65 V - 9 V towards 9 V and is back at
 * 0.65 V after RC ln 2, in which time it averages 9 - 17.35 (1 - 1/2) / ln 2 = -3.5 V; the other half it has 0.65 V: -1.4 V in all. Each collector has 9 V
 * half of the time, and 50 mV the other. On average each 1 kohm carries 4.5 mA, each 47 kohm 10.4 V / 47 kohm. */
static void
test_chopped_an_astables_bases_are_below_ground (void **state)
{
  assert_runs_sound ("reference GND\n"
                     "part R1 resistor 1=V9 2=COLA value=1k\n"
                     "part R2 resistor 1=V9 2=BASEB value=47k\n"
                     "part R3 resistor 1=V9 2=BASEA value=47k\n"
                     "part R4 resistor 1=V9 2=COLB value=1k\n"
                     "part C4 capacitor plus=COLA minus=BASEB value=10u\n"
                     "part C5 capacitor plus=COLB minus=BASEA value=10u\n"
                     "part Q1 npn collector=COLA base=BASEA emitter=GND\n"
                     "part Q2 npn collector=COLB base=BASEB emitter=GND\n"
                     "net COLA switching\n"
                     "net COLB switching\n"
                     "condition on\n"
                     "  supply plus=V9 minus=GND voltage=9 limit=100m\n",
                     "reading u on red=V9 volts=8.99\nreading u on red=COLA volts=4.5\nreading u on red=COLB volts=4.5\n"
                     "reading u on red=BASEA volts=-1.42\nreading u on red=BASEB volts=-1.40\nreading u on supply=1 amps=0.0094\n",
                     "COLA, BASEB, BASEA and COLB are switched: their readings are only averages");
}

/* A comparator that oscillates: its output has 0.1 V and 12 V by turns, its timing capacitor goes between a third and two thirds of the supply, its inputs'
 * averages tell nothing of the output's. (An inverting input shorted to the output would follow the other one, and read nearly alike.) */
static void
test_chopped_a_comparator_that_oscillates (void **state)
{
  assert_runs_sound ("reference GND\n"
                     "part U1 comparator noninverting=TP inverting=TN out=SQ positive=V12 negative=GND\n"
                     "part R1 resistor 1=V12 2=TP value=100k\n"
                     "part R2 resistor 1=TP 2=GND value=100k\n"
                     "part R3 resistor 1=SQ 2=TP value=100k\n"
                     "part R4 resistor 1=SQ 2=TN value=47k\n"
                     "part R5 resistor 1=V12 2=SQ value=2k2\n"
                     "part C1 capacitor 1=TN 2=GND value=10n\n"
                     "net SQ switching\n"
                     "condition on\n"
                     "  supply plus=V12 minus=GND voltage=12 limit=100m\n",
                     "reading u on red=V12 volts=11.98\nreading u on red=SQ volts=6.1\nreading u on red=TP volts=6.02\nreading u on red=TN volts=6.05\n",
                     "SQ is switched");
}

/* A step-up converter with nothing on its output but the capacitor: that keeps its voltage, and a reading there is no average. */
static void
test_chopped_an_output_that_a_capacitor_holds_is_no_average (void **state)
{
  g_autoptr (MlVerdict) verdict = ml_exam_judge_readings ("reference GND\n"
                                                          "part U1 block VDD=V5 VSS=GND SW=SW supply=VDD ground=VSS\n"
                                                          "part L1 inductor 1=V5 2=SW resistance=1\n"
                                                          "part D1 diode anode=SW cathode=OUT family=schottky\n"
                                                          "part C1 capacitor plus=OUT minus=GND value=100u\n"
                                                          "part J1 connector OUT=OUT GND=GND\n"
                                                          "net SW switching\n"
                                                          "condition on\n"
                                                          "  supply plus=V5 minus=GND voltage=5 limit=300m\n",
                                                          "reading u on red=V5 volts=5.01\nreading u on red=OUT volts=4.9\nreading u on supply=1 amps=0.010\n");

  assert_true (contains (verdict->cautions, "SW is switched"));
  assert_false (contains (verdict->cautions, "OUT"));
}

/* A snubber: what only a resistor and a capacitor hang on is at the resistor's other end on average, whatever the pulses. 5.6 V there, and the capacitor
 * leaks: 8.97 V at the coil, 60 kohm beside 100 kohm. */
static void
test_chopped_a_snubber_keeps_its_resistors_average (void **state)
{
  static const char board[] = BOARD "part C1 capacitor 1=COIL 2=SNUB value=10n\npart R6 resistor 1=SNUB 2=GND value=100k\n";
  static const char lines[] = "reading u on red=V12 volts=12.01\nreading u on red=VF volts=11.99\nreading u on red=V5 volts=5.01\n"
                              "reading u on red=COIL volts=8.97\nreading u on red=SNUB volts=5.6\n";
  g_autofree char *twice = g_strconcat (lines, "reading u on across=C1 volts=3.37\n", NULL);
  g_autoptr (MlVerdict) once = ml_exam_judge_readings (board, lines), verdict = ml_exam_judge_readings (board, twice);

  assert_true (probability_of (once, "C1") > 0.2);
  assert_int_not_equal (once->readings[4].slip, ML_SLIP_NONE); /* misread, or the capacitor: of a sound board 0 V would fit */
  assert_near (once->readings[4].fits, 0, 0, 1e-3);
  assert_true (probability_of (verdict, "C1") > 0.6);
  assert_true (contains (verdict->cautions, "COIL"));
  assert_false (contains (verdict->cautions, "SNUB"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_sound_board_that_switches_is_sound), cmocka_unit_test (test_cautions_name_every_chopped_net),
    cmocka_unit_test (test_nothing_switches_is_an_explanation), cmocka_unit_test (test_open_coil_is_found),
    cmocka_unit_test (test_fault_elsewhere_is_found),           cmocka_unit_test (test_open_gate_resistor_stops_the_transistor),
    cmocka_unit_test (test_solve_has_it_at_rest),
    cmocka_unit_test (test_chopped_a_leaking_freewheel_diode_shows_on_the_cold_board),
    cmocka_unit_test (test_chopped_an_astables_bases_are_below_ground),
    cmocka_unit_test (test_chopped_a_comparator_that_oscillates),
    cmocka_unit_test (test_chopped_an_output_that_a_capacitor_holds_is_no_average),
    cmocka_unit_test (test_chopped_a_snubber_keeps_its_resistors_average),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
