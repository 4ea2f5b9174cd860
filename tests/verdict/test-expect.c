/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a meter would show: ml_judge_expect. Expected values are published, or closed forms that stand beside them. */
#include "support/models.h"
#include "support/near.h"

#include "verdict/assumptions.h"
#include "verdict/judge.h"

#include <math.h>

typedef struct
{
  MlBoard *board;
  MlJob *job;
  MlJudge *judge;
} Bench;

static Bench
bench_on (const char *text)
{
  Bench bench = { .board = ml_test_board (text) };

  bench.job = ml_job_new_for_board (bench.board, NULL);
  bench.judge = ml_judge_new (bench.board);
  return bench;
}

static void
bench_end (Bench *bench)
{
  ml_judge_free (bench->judge);
  ml_job_unref (bench->job);
  ml_board_unref (bench->board);
}

static double
expect (const Bench *bench, const char *condition, const char *suppose, MlReads reads, const char *red, const char *black, double *ret_sigma)
{
  MlProbe at, against;
  MlFault fault = { 0 };

  assert_true (ml_probe_parse (bench->board, red, &at) && ml_probe_parse (bench->board, black, &against));
  if (suppose != NULL)
    assert_true (ml_fault_parse (bench->board, suppose, &fault, NULL));
  double value = ml_judge_expect (bench->judge, ml_board_find_condition (bench->board, condition), &fault, suppose != NULL, NULL, reads, &at, &against, -1,
                                  &bench->job->meters[0], ret_sigma);
  if (suppose != NULL)
    ml_fault_clear (&fault);
  return value;
}

/* Kuphaldt, Lessons in Electric Circuits, vol. I DC, ch. 8: 24 V over two resistors of 250 Mohm reads 0.8889 V on a meter of 10 Mohm. */
static void
test_the_meter_loads_the_circuit (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=P 2=A value=250M\npart R2 resistor 1=A 2=G value=250M\n"
                          "condition on\n  supply plus=P minus=G voltage=24 limit=1\n");

  assert_near (expect (&bench, "on", NULL, ML_READS_VOLTS, "A", "G", NULL), 0.8889, 1e-4, 0);
  bench_end (&bench);
}

/* Law of propagation of uncertainty (JCGM 100:2008, 5.1.2) for u = s R2 / (R1 + R2) with R1 = R2 = 1k, tolerance 1 % as a rectangular distribution
 * (4.3.7), s = 10 V with the spread of a bench supply: du / dlnR2 = -du / dlnR1 = s / 4, du / dlns = s / 2. The meter's 10 Mohm take 5e-5 of it. */
static void
test_sigma_is_that_of_the_tolerances (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G value=1k tolerance=1%\n"
                          "condition on\n  supply plus=P minus=G voltage=10 limit=1\n");
  double sigma, part = 10.0 / 4 * 0.01 / sqrt (3), supply = 10.0 / 2 * ml_assumption ("supply.spread");

  assert_near (expect (&bench, "on", NULL, ML_READS_VOLTS, "A", "G", &sigma), 5, 1e-4, 0);
  assert_near (sigma, sqrt (2 * part * part + supply * supply), 1e-3, 0);
  /* R2 open: all of the supply's voltage and of its spread, and R1 carries the meter's current only */
  assert_near (expect (&bench, "on", "R2 open", ML_READS_VOLTS, "A", "G", &sigma), 10, 2e-4, 0);
  assert_near (sigma, 2 * supply, 1e-3, 0);
  bench_end (&bench);
}

/* What the two legs of a dry joint show between them: 10 V over 1k + 1k + 500 ohm (Ohm's law), the joint's share of it. */
static void
test_a_joint_shows_on_the_leg (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=A 2=G value=1k\n"
                          "condition on\n  supply plus=P minus=G voltage=10 limit=1\n");

  assert_near (expect (&bench, "on", "R2 joint pins=1 size=500", ML_READS_VOLTS, "A", "R2.1/lead", NULL), 10 * 500 / 2500.0, 1e-3, 0);
  assert_near (expect (&bench, "on", NULL, ML_READS_VOLTS, "A", "R2.1/lead", NULL), 0, 0, 1e-9);
  bench_end (&bench);
}

/* Resistances in every range are those of the parts between the probes: 470, 4k7 in series with 47k, and beyond the scale where nothing joins. */
static void
test_ohms_of_every_range (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=A 2=G value=470\npart R2 resistor 1=A 2=B value=4k7\npart R3 resistor 1=B 2=C value=47k\n"
                          "part R4 resistor 1=D 2=E value=4M7\npart R5 resistor 1=H 2=I value=39M\npart R6 resistor 1=J 2=K value=47M\ncondition cold\n");

  assert_near (expect (&bench, "cold", NULL, ML_READS_OHMS, "A", "G", NULL), 470, 1e-6, 0);
  assert_near (expect (&bench, "cold", NULL, ML_READS_OHMS, "C", "A", NULL), 51700, 1e-6, 0);
  assert_near (expect (&bench, "cold", NULL, ML_READS_OHMS, "D", "E", NULL), 4.7e6, 1e-6, 0);
  assert_near (expect (&bench, "cold", NULL, ML_READS_OHMS, "H", "I", NULL), 39e6, 1e-6, 0);
  assert_true (isinf (expect (&bench, "cold", NULL, ML_READS_OHMS, "J", "K", NULL))); /* ohms-over of the table of meters: 40 Mohm */
  assert_true (isinf (expect (&bench, "cold", "R3 open", ML_READS_OHMS, "C", "A", NULL)));
  bench_end (&bench);
}

/* An op-amp without feedback stands as far from its supplies as the board says; 0.1 mV for what the tanh of its law leaves. One whose figures are 0
 * reaches them. */
static void
test_opamp_stays_off_its_supplies_as_written (void **state)
{
  Bench bench = bench_on ("reference G\npart U1 opamp noninverting=A inverting=G out=HIGH positive=P negative=G headroom=2.5 footroom=0.75\n"
                          "part U2 opamp noninverting=G inverting=A out=LOW positive=P negative=G headroom=2.5 footroom=0.75\n"
                          "part U3 opamp noninverting=A inverting=G out=FULL positive=P negative=G headroom=0 footroom=0\n"
                          "condition on\n  supply plus=P minus=G voltage=12 limit=1\n  supply plus=A minus=G voltage=3 limit=1\n");

  assert_near (expect (&bench, "on", NULL, ML_READS_VOLTS, "HIGH", "G", NULL), 9.5, 0, 2e-3);
  assert_near (expect (&bench, "on", NULL, ML_READS_VOLTS, "LOW", "G", NULL), 0.75, 0, 2e-3);
  assert_near (expect (&bench, "on", NULL, ML_READS_VOLTS, "FULL", "G", NULL), 12, 0, 2e-3);
  bench_end (&bench);
}

/* A resistor has no output that could be stuck: no number is made up for it. */
static void
test_what_cannot_be_computed_is_no_number (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=P 2=A value=1k\npart R2 resistor 1=A 2=G value=1k\n"
                          "condition on\n  supply plus=P minus=G voltage=10 limit=1\n");
  double sigma = 0;

  assert_true (isnan (expect (&bench, "on", "R1 stuck-high", ML_READS_VOLTS, "A", "G", &sigma)));
  assert_true (isnan (sigma));
  bench_end (&bench);
}

static double
foretell (const Bench *bench, MlJob *job, const char *condition, MlReads reads, const char *red, const char *black, double *ret_sigma)
{
  MlLikelyPlace at = { .condition = ml_board_find_condition (bench->board, condition), .reads = reads, .supply = -1 };

  assert_true (ml_probe_parse (bench->board, red, &at.red) && ml_probe_parse (bench->board, black, &at.black));
  return ml_judge_foretell (bench->judge, job, 0, 1, &at, ret_sigma);
}

/* Nobody could read R2, so a sound board may show nearly anything at A. Once A was read at 10 V, half of that stands there at 5 V: the network is
 * linear. What is left is the two supplies' spread, each by its share (JCGM 100:2008, 5.1.2); meter and model add less than that again. */
static void
test_the_next_reading_goes_by_those_taken (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=G\n"
                          "condition on\n  supply plus=P minus=G voltage=10 limit=1\ncondition low\n  supply plus=P minus=G voltage=5 limit=1\n");
  g_autoptr (MlJob) job = ml_test_job (bench.board, "unit u suspect\nreading u on red=A volts=3.333\n");
  double sigma, drawn, left = 1.6665 * ml_assumption ("supply.spread") * sqrt (2);

  expect (&bench, "low", NULL, ML_READS_VOLTS, "A", "G", &drawn);
  assert_true (drawn > 1);
  assert_true (isnan (foretell (&bench, job, "low", ML_READS_VOLTS, "A", "G", &sigma))); /* nothing has been judged */
  g_autoptr (MlVerdict) verdict = ml_judge_run (bench.judge, job, 0, 1, 2, NULL, NULL);
  assert_non_null (verdict);
  assert_near (foretell (&bench, job, "low", ML_READS_VOLTS, "A", "G", &sigma), 1.6665, 0.01, 0);
  assert_true (sigma > left && sigma < 2 * left);
  assert_near (foretell (&bench, job, "low", ML_READS_VOLTS, "G", "A", &sigma), -1.6665, 0.01, 0);
  assert_true (isnan (foretell (&bench, job, "low", ML_READS_DIODE, "A", "G", &sigma)));
  MlLikelyPlace nowhere = { .condition = (int) bench.board->n_conditions, .reads = ML_READS_VOLTS, .supply = -1 };
  assert_true (isnan (ml_judge_foretell (bench.judge, job, 0, 1, &nowhere, &sigma)));
  g_autoptr (MlJob) other = ml_test_job (bench.board, "unit u suspect\nreading u on red=A volts=3.334\n");
  assert_true (isnan (foretell (&bench, other, "low", ML_READS_VOLTS, "A", "G", &sigma)));
  bench_end (&bench);
}

/* Nothing stands at B: R1 or R2 is open or R3 shorted, so that nobody knows what A will read. Of a drawing that cannot be right nothing is foretold. */
static void
test_a_mind_not_made_up_is_a_wide_spread (void **state)
{
  Bench bench = bench_on ("reference G\npart R1 resistor 1=P 2=A value=1k tolerance=1%\npart R2 resistor 1=A 2=B value=1k tolerance=1%\n"
                          "part R3 resistor 1=B 2=G value=1k tolerance=1%\ncondition on\n  supply plus=P minus=G voltage=9 limit=1\n");
  g_autoptr (MlJob) open = ml_test_job (bench.board, "unit u suspect\nreading u on red=B volts=0.0000\n");
  g_autoptr (MlJob) wrong = ml_test_job (bench.board, "unit u suspect\nreading u on red=A volts=3.2\nreading u on red=B volts=7.4\nreading u on red=P volts=2.1\n");
  double sigma;

  g_autoptr (MlVerdict) torn = ml_judge_run (bench.judge, open, 0, 1, 2, NULL, NULL);
  assert_non_null (torn);
  const double middle = foretell (&bench, open, "on", ML_READS_VOLTS, "A", "G", &sigma); /* 0: R1 open; 9: R2 open; 4.5: R3 shorted */
  assert_true (middle > 1 && middle < 8 && sigma > 2);
  g_autoptr (MlVerdict) lost = ml_judge_run (bench.judge, wrong, 0, 1, 2, NULL, NULL);
  assert_non_null (lost);
  assert_true (lost->misfit_probability > 0.2);
  assert_true (isnan (foretell (&bench, wrong, "on", ML_READS_VOLTS, "A", "B", &sigma)));
  bench_end (&bench);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_the_meter_loads_the_circuit),
    cmocka_unit_test (test_opamp_stays_off_its_supplies_as_written),
    cmocka_unit_test (test_sigma_is_that_of_the_tolerances),
    cmocka_unit_test (test_a_joint_shows_on_the_leg),
    cmocka_unit_test (test_ohms_of_every_range),
    cmocka_unit_test (test_what_cannot_be_computed_is_no_number),
    cmocka_unit_test (test_the_next_reading_goes_by_those_taken),
    cmocka_unit_test (test_a_mind_not_made_up_is_a_wide_spread),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
