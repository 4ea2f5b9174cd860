/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ohms and diode tests of the unpowered board. Expected values: series and parallel resistances (Ohm's law), the stated point of a diode's
 * data sheet, and Shockley's law with a resistor beside it, solved by GSL's Lambert W. */
#include "support/exam.h"
#include "support/near.h"

#include <gsl/gsl_sf_lambert.h>
#include <math.h>
#include <string.h>

static const char *BOARD = "board bench\nreference N\n"
                           "part R1 resistor 1=A 2=N value=1k tolerance=1%\n"
                           "part R2 resistor 1=A 2=B value=10k tolerance=1%\n"
                           "part R3 resistor 1=B 2=N value=4k7 tolerance=1%\n"
                           "part D1 diode anode=C cathode=N drop=0.62@1m\n"
                           "part R4 resistor 1=D 2=N value=270 tolerance=1%\n"
                           "part D2 diode anode=D cathode=N drop=0.62@1m\n"
                           "part R5 resistor 1=E 2=N value=1k tolerance=1%\n"
                           "part D3 diode anode=E cathode=N drop=0.62@1m\n"
                           "part C1 capacitor 1=F 2=N value=100n\n"
                           "condition cold\n"
                           "condition on\n  supply plus=A minus=N voltage=5 limit=100m\n";

static void
bench_open (MlExamBench *bench, const char *readings)
{
  g_autofree char *words = g_strconcat ("board \"b.leafboard\"\nunit u suspect\n", readings, NULL);

  ml_exam_bench_open (bench, BOARD, words);
}

static double
shown (const MlExamBench *bench, MlReads reads, const char *red, const char *black)
{
  MlProbe at, against;

  assert_true (ml_probe_parse (bench->board, red, &at));
  assert_true (ml_probe_parse (bench->board, black, &against));
  return ml_judge_expect (bench->judge, ml_board_find_condition (bench->board, "cold"), NULL, 0, NULL, reads, &at, &against, -1, &bench->job->meters[0], NULL);
}

static void
test_cold_ohms_of_parallel_paths (void **state)
{
  MlExamBench bench;
  bench_open (&bench, "");
  assert_near (shown (&bench, ML_READS_OHMS, "A", "N"), 1 / (1 / 1e3 + 1 / 14.7e3), 1e-3, 0);
  assert_near (shown (&bench, ML_READS_OHMS, "B", "N"), 1 / (1 / 4.7e3 + 1 / 11e3), 1e-3, 0);
  ml_exam_bench_close (&bench);
}

/* I = V / R + Is (exp (V / n VT) - 1):  V = (I + Is) R - n VT W (Is R / (n VT) exp ((I + Is) R / (n VT)))
 * The series resistance that the diode's table adds is worth a few millivolts at a milliampere. */
static double
beside (double drop, double at, double ohm, double current)
{
  const double nvt = 1.7 * 25.85e-3;
  double is = at / expm1 (drop / nvt);

  return (current + is) * ohm - nvt * gsl_sf_lambert_W0 (is * ohm / nvt * exp ((current + is) * ohm / nvt));
}

static void
test_cold_diode_test (void **state)
{
  MlExamBench bench;
  bench_open (&bench, "");
  assert_near (shown (&bench, ML_READS_DIODE, "C", "N"), 0.62, 0, 2e-3);  /* at 1 mA, as its data sheet says */
  assert_true (shown (&bench, ML_READS_DIODE, "N", "C") > 2.9);           /* the other way round it blocks: over-range */
  assert_near (shown (&bench, ML_READS_DIODE, "D", "N"), 0.27, 1e-2, 0);  /* 270 ohm take the milliampere at 0.27 V */
  assert_near (shown (&bench, ML_READS_DIODE, "E", "N"), beside (0.62, 1e-3, 1e3, 1e-3), 0, 6e-3);
  ml_exam_bench_close (&bench);
}

static const MlPartVerdict *
part (const MlExamBench *bench, const char *name)
{
  return &bench->verdict->parts[ml_board_find_part (bench->board, name)];
}

/* R3 open leaves 11 kohm in series at B (Ohm's law); nothing else on the board can do that. */
static void
test_cold_ohms_convict (void **state)
{
  MlExamBench bench;
  bench_open (&bench, "reading u cold red=A ohms=1.0k\nreading u cold red=B ohms=11.0k\nreading u cold red=A black=B ohms=10.0k\n");
  assert_int_equal (part (&bench, "R3")->verdict, ML_VERDICT_SUSPECT);
  assert_true (part (&bench, "R3")->probability > 0.8);
  assert_int_equal (part (&bench, "D1")->verdict, ML_VERDICT_UNPROVEN); /* no reading touches it */
  ml_exam_bench_close (&bench);
}

static void
test_cold_diode_convicts (void **state)
{
  MlExamBench bench;
  bench_open (&bench, "reading u cold across=D1 diode=0.001\nreading u cold across=D3 diode=0.598\n");
  assert_int_equal (part (&bench, "D1")->verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
  bench_open (&bench, "reading u cold across=D1 diode=OL\n");
  assert_int_equal (part (&bench, "D1")->verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
}

/* Good parts read as they should: nobody is accused. */
static void
test_cold_sound_board (void **state)
{
  MlExamBench bench;
  bench_open (&bench, "reading u cold red=A ohms=937\nreading u cold red=B ohms=3.30k\nreading u cold across=D1 diode=0.615\n"
                      "reading u cold across=C1 ohms=OL\n");
  assert_true (bench.verdict->healthy_probability > 0.5);
  for (guint i = 0; i < bench.verdict->n_parts; i++)
    assert_int_not_equal (bench.verdict->parts[i].verdict, ML_VERDICT_SUSPECT);
  ml_exam_bench_close (&bench);
}

/* What a junction shows hangs on the test current, V (I) / I (Shockley's law with the stated point of D1: 0.62 V at 1 mA, n 1.7), and makers choose
 * 0.25 to 1 V at the top of a range (common practice): none of these meters makes a sound diode faulty. */
static void
test_cold_junction_by_any_meter (void **state)
{
  static const double FULL_V[] = { 0.3, 0.4, 0.5, 0.6, 0.9 };
  for (guint i = 0; i < G_N_ELEMENTS (FULL_V); i++)
    {
      double range = 6e3, ohm = 0;
      MlExamBench bench;
      for (gboolean first = TRUE; first || ohm > range; first = FALSE)
        {
          range *= first ? 1 : 10;
          double current = FULL_V[i] / range, v = 0.62 + 1.7 * 25.85e-3 * log (current / 1e-3);
          ohm = v / current;
        }
      g_autofree char *words = g_strdup_printf ("reading u cold across=D1 ohms=%.4g\nreading u cold red=A ohms=937\n", ohm);
      bench_open (&bench, words);
      assert_true (part (&bench, "D1")->probability < 0.05);
      ml_exam_bench_close (&bench);
    }
}

/* A meter with a range of 60 Mohm shows 56 Mohm where one of 40 Mohm is over its range: both are what a sound capacitor gives, and nothing to tell. */
static void
test_cold_beyond_the_scale_is_no_difference (void **state)
{
  MlExamBench bench;
  bench_open (&bench, "reading u cold red=A ohms=937\nreading u cold across=C1 ohms=56M\n");
  assert_int_equal (bench.verdict->explanations[0].explains, ML_EXPLAINS_HEALTHY);
  for (guint i = 0; bench.verdict->explanations[0].reasons[i]; i++)
    assert_null (strstr (bench.verdict->explanations[0].reasons[i], "56 M"));
  ml_exam_bench_close (&bench);
}

/* Under power an ohmmeter shows anything: a warning, and no evidence. */
static void
test_cold_under_power_is_left_out (void **state)
{
  MlExamBench bench;
  gboolean warned = FALSE;
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  bench_open (&bench, "reading u on red=A ohms=11.0k\n");
  ml_job_check (bench.job, diagnostics);
  assert_int_equal (bench.verdict->n_readings, 0);
  assert_true (strstr (bench.verdict->cautions[0], "left out") != NULL);
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    warned |= ml_diagnostics_get (diagnostics, i)->severity == ML_SEVERITY_WARNING
              && strstr (ml_diagnostics_get (diagnostics, i)->message, "without a supply") != NULL;
  assert_true (warned);
  ml_exam_bench_close (&bench);
}

/* Whatever the chip does between its pins, ASK to G is no more than R1 and what P to G reads, 11.75 kohm (Ohm's law; more paths beside them only lower it).
 * The sound board cannot give 46 kohm there, though the slope of the chip's resistance, in ln ohm, promises it. */
static void
test_cold_ohms_beyond_what_a_chip_can_add (void **state)
{
  g_autoptr (MlVerdict) verdict
    = ml_exam_judge_readings ("reference G\npart R2 resistor 1=IN 2=P value=22 tolerance=5%\npart U1 block 1=P 2=G 3=ASK supply=1 ground=2\n"
                              "part R1 resistor 1=P 2=ASK value=10k tolerance=5%\n"
                              "condition on\n  supply plus=IN minus=G voltage=5 limit=100m\ncondition cold\n",
                              "reading u on red=IN volts=5.00\nreading u on red=P volts=4.82\nreading u on supply=1 amps=8.2m\n"
                              "reading u cold red=IN ohms=1771\nreading u cold red=P ohms=1749\nreading u cold red=ASK ohms=46.1k\n");

  assert_true (verdict->healthy_probability < 0.05);
  assert_int_equal (verdict->explanations[0].n_faults, 1);
  assert_int_equal (verdict->explanations[0].faults[0].part, ml_board_find_part (verdict->job->board, "R1"));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_cold_ohms_of_parallel_paths),
    cmocka_unit_test (test_cold_diode_test),
    cmocka_unit_test (test_cold_ohms_convict),
    cmocka_unit_test (test_cold_diode_convicts),
    cmocka_unit_test (test_cold_sound_board),
    cmocka_unit_test (test_cold_junction_by_any_meter),
    cmocka_unit_test (test_cold_beyond_the_scale_is_no_difference),
    cmocka_unit_test (test_cold_under_power_is_left_out),
    cmocka_unit_test (test_cold_ohms_beyond_what_a_chip_can_add),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
