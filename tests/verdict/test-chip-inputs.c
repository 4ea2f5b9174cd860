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

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_inputs_are_no_missing_connection), cmocka_unit_test (test_inputs_leave_faults_in_play) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
