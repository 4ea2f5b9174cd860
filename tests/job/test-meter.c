/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a reading is worth. Accuracy to half-width to standard uncertainty: JCGM 100:2008 4.3.7 (a / sqrt 3), from memory.
 * +-(1 % + 2) at 100.0 V means 98.8 to 101.2 V: Kuphaldt, Lessons in Electric Circuits. */
#include "support/near.h"

#include <math.h>

#include "job/job.h"

static MlJob *
read_job (const char *lines)
{
  g_autoptr (MlText) board_text = ml_text_new ("board", "reference M\npart R1 resistor 1=A 2=M\ncondition on\n  supply plus=A minus=M voltage=5\n", -1);
  g_autofree char *bytes = g_strconcat ("unit u\n", lines, NULL);
  g_autoptr (MlText) text = ml_text_new ("test", bytes, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlBoard) board = ml_board_read (board_text, diagnostics);
  MlJob *job = ml_job_read (text, board, diagnostics);

  assert_int_equal (ml_diagnostics_n (diagnostics), 0);
  return job;
}

/* The display moves up a range where its counts are used up: common practice of autoranging meters. */
static void
test_resolution_follows_the_counts (void **state)
{
  static const struct { double counts, value, step; } table[] = {
    { 6000, 0, 1e-4 },     { 6000, 0.27, 1e-4 }, { 6000, 0.5999, 1e-4 }, { 6000, 0.6, 1e-3 }, { 6000, 2.91, 1e-3 },
    { 6000, 5.999, 1e-3 }, { 6000, 6, 1e-2 },    { 6000, -12, 1e-2 },    { 6000, 4700, 1 },   { 2000, 12, 1e-2 },
    { 2000, 199.9, 0.1 },  { 2000, 200, 1 },     { 6000, 1.2e6, 1e3 },
  };
  MlMeter meter = { 0 };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      meter.counts = table[i].counts;
      assert_near (ml_meter_resolution (&meter, table[i].value), table[i].step, 1e-12, 0);
    }
}

static void
test_sigma_of_accuracy_digits_and_range (void **state)
{
  static const struct { const char *reading; double half_width, step, half_range; } table[] = {
    /* 1 % of 100.0 V and 2 counts of 0.1 V: 1.2 V */
    { "red=A volts=100.0", 1.2, 0.1, 0 },
    /* 2000 counts show 2.91 V with two decimals: the count is 10 mV, whatever was typed */
    { "red=A volts=2.91", 0.0291 + 0.02, 0.01, 0 },
    { "red=A volts=-2.910", 0.0291 + 0.02, 0.01, 0 },
    { "red=A volts=2.9", 0.029 + 0.02, 0.1, 0 }, /* rounded by the person: the typed digit is the coarser */
    { "red=A volts=0.021", 0.00021 + 0.002, 1e-3, 0 }, /* a range of volts: its counts are millivolts */
    { "red=A volts=0.02", 0.0002 + 0.02, 0.01, 0 },
    { "red=A volts=12", 0.12 + 0.02, 1, 0 }, /* nobody's meter shows whole volts */
    { "red=A volts=1.80..2.20", 0.02 + 0.02, 0.01, 0.2 },
    { "red=A ohms=1200", 0.02 * 1200 + 3, 1, 0 },
    { "red=A ohms=4.7", 0.02 * 4.7 + 0.3, 0.1, 0 }, /* the lowest range ends at 0.1 ohm */
    { "across=R1 diode=0.650", 0.0065 + 2e-3, 1e-3, 0 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *lines = g_strdup_printf ("meter m dc=1%%+2 ohms=2%%+3 counts=2000\nreading u on %s\n", table[i].reading);
      g_autoptr (MlJob) job = read_job (lines);
      double expected = sqrt (table[i].half_width * table[i].half_width + table[i].step * table[i].step / 4 + table[i].half_range * table[i].half_range);

      assert_near (ml_reading_sigma (job, &job->readings[0]), expected / sqrt (3), 1e-9, 0);
    }
}

static void
test_over_range_has_no_sigma (void **state)
{
  g_autoptr (MlJob) job = read_job ("reading u on red=A ohms=OL\n");

  assert_true (isnan (ml_reading_sigma (job, &job->readings[0])));
}

/* A reading typed with fewer digits is never worth more. */
static void
test_fewer_digits_are_worth_less (void **state)
{
  g_autoptr (MlJob) job = read_job ("reading u on red=A volts=12.00\nreading u on red=A volts=12.0\nreading u on red=A volts=12\n");

  assert_true (ml_reading_sigma (job, &job->readings[0]) < ml_reading_sigma (job, &job->readings[1]));
  assert_true (ml_reading_sigma (job, &job->readings[1]) < ml_reading_sigma (job, &job->readings[2]));
}

/* Nobody writes 0.000: a bare 0 is good to hundredths; 0.0 V says itself what it is worth. */
static void
test_bare_zero_is_not_off_by_half_a_volt (void **state)
{
  g_autoptr (MlJob) job = read_job ("reading u on red=A volts=0\nreading u on supply=1 amps=0\nreading u on red=A volts=0.1\nreading u on red=A volts=3\n");

  assert_true (ml_reading_sigma (job, &job->readings[0]) < 5e-3);
  assert_true (ml_reading_sigma (job, &job->readings[1]) < 0.02);
  assert_true (ml_reading_sigma (job, &job->readings[2]) > 0.02);
  assert_true (ml_reading_sigma (job, &job->readings[3]) > 0.2);
}

/* 10 Mohm input, about 1 mA and 1.5 to 3.2 V for the diode test: Kuphaldt, DC ch. 8 and Semiconductors ch. 3. */
static void
test_default_meter_is_a_common_one (void **state)
{
  g_autoptr (MlJob) job = read_job ("");

  assert_int_equal (job->n_meters, 1);
  assert_true (job->meters[0].input_ohm == 10e6 && job->meters[0].diode_a == 1e-3);
  assert_true (job->meters[0].diode_v >= 1.5 && job->meters[0].diode_v <= 3.2);
}

static void
test_meter_statement_sets_each_figure (void **state)
{
  g_autoptr (MlJob) job = read_job ("meter m dc=0.5%+2 ohms=0.8%+3 counts=4000 input=1M diode=0.5m/2.5V\nmeter n dc=1%\n");
  const MlMeter *m = &job->meters[0];

  assert_true (m->dc_share == 0.005 && m->dc_counts == 2 && m->ohms_share == 0.008 && m->ohms_counts == 3);
  assert_true (m->counts == 4000 && m->input_ohm == 1e6 && m->diode_a == 0.5e-3 && m->diode_v == 2.5);
  assert_true (job->meters[1].dc_share == 0.01 && job->meters[1].dc_counts == 0);
}

/* The same voltage across the probes at the top of each range, 0.6 V where ranges end as the display's counts do, and never more than a milliampere
 * (common practice; Ohm's law). */
static void
test_ohms_are_taken_with_less_current_in_higher_ranges (void **state)
{
  static const struct { double counts, ohm, amps; } table[] = {
    { 6000, 100, 1e-3 },  { 6000, 1e3, 0.1e-3 },      { 6000, 59e3, 10e-6 }, { 6000, 61e3, 1e-6 }, { 6000, INFINITY, 10e-9 },
    { 2000, 1, 1e-3 },    { 2000, 199, 1e-3 },        { 20000, 1, 0.3e-3 }, /* its lowest range ends at 2 kohm: the last digit is 0.1 ohm */
    { 20000, 1e3, 0.3e-3 }, { 20000, 2.1e3, 30e-6 },
  };
  MlMeter meter = { 0 };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      meter.counts = table[i].counts;
      assert_near (ml_meter_ohms_test_a (&meter, table[i].ohm), table[i].amps, 1e-9, 0);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_resolution_follows_the_counts),
    cmocka_unit_test (test_sigma_of_accuracy_digits_and_range),
    cmocka_unit_test (test_over_range_has_no_sigma),
    cmocka_unit_test (test_fewer_digits_are_worth_less),
    cmocka_unit_test (test_bare_zero_is_not_off_by_half_a_volt),
    cmocka_unit_test (test_default_meter_is_a_common_one),
    cmocka_unit_test (test_meter_statement_sets_each_figure),
    cmocka_unit_test (test_ohms_are_taken_with_less_current_in_higher_ranges),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
