/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a job as pairs of texts; the expected ones follow from the rule that an edit changes only what it must. */
#include "support/edits.h"
#include "support/near.h"

#include <string.h>

#include "job/edit.h"

static const char board_bytes[] = "reference M\n"
                                  "part R4 resistor 1=A 2=B\n"
                                  "part Q2 npn collector=A base=B emitter=M\n"
                                  "part LED1 led anode=A cathode=M\n"
                                  "condition running\n"
                                  "  supply plus=A minus=M voltage=12\n"
                                  "  supply aux plus=B minus=M voltage=5\n"
                                  "condition cold\n";

static MlJob *
read_job (const char *bytes)
{
  g_autoptr (MlText) board_text = ml_text_new ("board", board_bytes, -1);
  g_autoptr (MlText) text = ml_text_new ("test", bytes, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlBoard) board = ml_board_read (board_text, diagnostics);
  MlJob *job = ml_job_read (text, board, diagnostics);

  if (ml_diagnostics_n_errors (diagnostics) > 0)
    {
      g_autofree char *line = ml_diagnostic_to_string (ml_diagnostics_get (diagnostics, 0));
      print_error ("%s\n", line);
    }
  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 0);
  return job;
}

static MlProbe
probe (const MlJob *job, const char *words)
{
  MlProbe it;

  assert_true (ml_probe_parse (job->board, words, &it));
  return it;
}

static void
test_add_reading_writes_the_fewest_words (void **state)
{
  static const struct { const char *red, *black; MlReads reads; const char *typed, *line; } table[] = {
    { "A", "M", ML_READS_VOLTS, "2.91", "reading u1 running red=A volts=2.91\n" },
    { "A", "B", ML_READS_VOLTS, "-1,20", "reading u1 running red=A black=B volts=-1.20\n" },
    { "R4.1", "R4.2", ML_READS_VOLTS, "450 mV", "reading u1 running across=R4 volts=450mV\n" },
    { "R4.2", "R4.1", ML_READS_OHMS, "4k7", "reading u1 running across=R4.2-1 ohms=4k7\n" },
    { "Q2.base", "Q2.emitter", ML_READS_DIODE, "0.650", "reading u1 running across=Q2.base-emitter diode=0.650\n" },
    { "Q2.emitter/lead", "M", ML_READS_VOLTS, "1.8 .. 2.1", "reading u1 running red=Q2.emitter/lead volts=1.8..2.1\n" },
    { "Q2.emitter/lifted", "M", ML_READS_OHMS, "1k2", "reading u1 running red=Q2.emitter/lifted ohms=1k2\n" },
    { "R4.1/lifted", "R4.2", ML_READS_OHMS, "1k2", "reading u1 running red=R4.1/lifted black=R4.2 ohms=1k2\n" },
    { "R4.1/lead", "R4.2/lead", ML_READS_OHMS, "0L", "reading u1 running across=R4/lead ohms=OL\n" },
    { "A", "M", ML_READS_VOLTS, "\xe2\x88\x92" "3", "reading u1 running red=A volts=-3\n" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlJob) job = read_job ("unit u1 suspect\n");
      g_autofree char *expected = g_strconcat ("unit u1 suspect\n", table[i].line, NULL);
      MlProbe red = probe (job, table[i].red), black = probe (job, table[i].black);
      g_autoptr (GError) error = NULL;
      assert_text (ml_job_edit_add_reading (job, 0, 1, 0, table[i].reads, &red, &black, table[i].typed, &error), &error, expected);
    }
}

static void
test_add_reading_goes_behind_those_of_its_pass (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1 suspect\nunit u2 good\nreading u1 running red=A volts=1 # one\nreading u2 running red=A volts=2\n"
                                    "pass u1 2 \"new Q2\"\n  removed Q2\n# end");
  MlProbe red = probe (job, "B"), black = probe (job, "M");
  GError *error = NULL;

  assert_text (ml_job_edit_add_reading (job, 0, 1, 0, ML_READS_VOLTS, &red, &black, "3", &error), &error,
               "unit u1 suspect\nunit u2 good\nreading u1 running red=A volts=1 # one\nreading u1 running red=B volts=3\n"
               "reading u2 running red=A volts=2\npass u1 2 \"new Q2\"\n  removed Q2\n# end");
  assert_text (ml_job_edit_add_reading (job, 0, 2, 1, ML_READS_OHMS, &red, &black, "3", &error), &error,
               "unit u1 suspect\nunit u2 good\nreading u1 running red=A volts=1 # one\nreading u2 running red=A volts=2\n"
               "pass u1 2 \"new Q2\"\n  removed Q2\n# end\nreading u1 cold red=B ohms=3\n");
}

static void
test_first_reading_of_an_earlier_pass_goes_above_the_next_pass (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1 suspect\npass u1 2\nreading u1 running red=A volts=1\n");
  MlProbe red = probe (job, "B"), black = probe (job, "M");
  GError *error = NULL;

  assert_text (ml_job_edit_add_reading (job, 0, 1, 0, ML_READS_VOLTS, &red, &black, "3", &error), &error,
               "unit u1 suspect\nreading u1 running red=B volts=3\npass u1 2\nreading u1 running red=A volts=1\n");
}

static void
test_add_reading_refuses (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1 suspect\n");
  MlProbe a = probe (job, "A"), m = probe (job, "M"), same = probe (job, "R4.1");
  GError *error = NULL;

  assert_refused (ml_job_edit_add_reading (job, 0, 1, 0, ML_READS_VOLTS, &a, &m, "abc", &error), &error, "no number");
  assert_refused (ml_job_edit_add_reading (job, 0, 1, 0, ML_READS_VOLTS, &a, &m, "5 A", &error), &error, "unit");
  assert_refused (ml_job_edit_add_reading (job, 0, 1, 0, ML_READS_VOLTS, &a, &same, "5", &error), &error, "different places");
  assert_refused (ml_job_edit_add_reading (job, 0, 2, 0, ML_READS_VOLTS, &a, &m, "5", &error), &error, "pass 2");
  assert_refused (ml_job_edit_add_reading (job, 3, 1, 0, ML_READS_VOLTS, &a, &m, "5", &error), &error, "unit");
  assert_refused (ml_job_edit_add_reading (job, 0, 1, 7, ML_READS_VOLTS, &a, &m, "5", &error), &error, "condition");
}

static void
test_supply_readings_and_observations (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\n");
  GError *error = NULL;

  assert_text (ml_job_edit_add_supply_reading (job, 0, 1, 0, 0, "85m", "17.6", &error), &error,
               "unit u1\nreading u1 running supply=1 amps=85m volts=17.6\n");
  assert_text (ml_job_edit_add_supply_reading (job, 0, 1, 0, 1, "85 mA", NULL, &error), &error, "unit u1\nreading u1 running supply=aux amps=85mA\n");
  assert_refused (ml_job_edit_add_supply_reading (job, 0, 1, 1, 0, "85m", NULL, &error), &error, "no such supply");
  assert_text (ml_job_edit_add_observation (job, 0, 1, 0, ml_board_find_part (job->board, "LED1"), -1, "dim", &error), &error,
               "unit u1\nseen u1 running LED1 dim\n");
  assert_text (ml_job_edit_add_observation (job, 0, 1, 0, -1, 1, "limiting", &error), &error, "unit u1\nseen u1 running supply aux limiting\n");
  assert_refused (ml_job_edit_add_observation (job, 0, 1, 0, 2, -1, "dimm", &error), &error, "dim?");
}

static void
test_remove_reading_takes_its_lines (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\nreading u1 running red=A \\\n volts=1\nreading u1 running red=B volts=2\n");
  GError *error = NULL;

  assert_text (ml_job_edit_remove_reading (job, 0, &error), &error, "unit u1\nreading u1 running red=B volts=2\n");
}

static void
test_unit_pass_log_and_title (void **state)
{
  static const char before[] = "meterleaf 1\njob \"Old\" # j\nunit u1 suspect \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\n";
  g_autoptr (MlJob) job = read_job (before);
  GError *error = NULL;

  assert_text (ml_job_edit_add_unit (job, "spare", ML_UNIT_STATE_GOOD, NULL, &error), &error,
               "meterleaf 1\njob \"Old\" # j\nunit u1 suspect \"s\"\n  removed LED1\nunit spare good\nreading u1 cold red=A ohms=1\n");
  assert_refused (ml_job_edit_add_unit (job, "u1", ML_UNIT_STATE_GOOD, NULL, &error), &error, "already");
  assert_text (ml_job_edit_set_unit_state (job, 0, ML_UNIT_STATE_GOOD, &error), &error,
               "meterleaf 1\njob \"Old\" # j\nunit u1 good \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\n");
  assert_text (ml_job_edit_set_unit_state (job, 0, ML_UNIT_STATE_UNKNOWN, &error), &error,
               "meterleaf 1\njob \"Old\" # j\nunit u1 \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\n");
  assert_text (ml_job_edit_add_pass (job, 0, "new LED", &error), &error,
               "meterleaf 1\njob \"Old\" # j\nunit u1 suspect \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\npass u1 2 \"new LED\"\n");
  assert_text (ml_job_edit_add_log (job, "2026-03-04T10:22", 0, "replaced", "Q2", "band \"checked\"", &error), &error,
               "meterleaf 1\njob \"Old\" # j\nunit u1 suspect \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\n"
               "log 2026-03-04T10:22 u1 replaced Q2 \"band \\\"checked\\\"\"\n");
  assert_refused (ml_job_edit_add_log (job, "yesterday", 0, "replaced", "Q2", NULL, &error), &error, "time");
  assert_text (ml_job_edit_set_title (job, "New", &error), &error,
               "meterleaf 1\njob \"New\" # j\nunit u1 suspect \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\n");
  assert_text (ml_job_edit_set_board_file (job, "my board.leafboard", &error), &error,
               "meterleaf 1\njob \"Old\" # j\nboard \"my board.leafboard\"\nunit u1 suspect \"s\"\n  removed LED1\nreading u1 cold red=A ohms=1\n");
}

static void
test_rename_follows_every_mention (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\n  removed Q2\n  lifted Q2.base\n  linked A B\nreading u1 running red=A black=Q2.base/lead volts=1\n"
                                    "reading u1 running across=Q2.base-emitter volts=1\nseen u1 running LED1 dim\n"
                                    "log 2026-03-04 u1 replaced Q2 \"Q2 A\"\nlog 2026-03-04 u1 noted \"Q2\"\n");
  GError *error = NULL;

  assert_text (ml_job_edit_rename (job, "part", "Q2", "T7", &error), &error,
               "unit u1\n  removed T7\n  lifted T7.base\n  linked A B\nreading u1 running red=A black=T7.base/lead volts=1\n"
               "reading u1 running across=T7.base-emitter volts=1\nseen u1 running LED1 dim\n"
               "log 2026-03-04 u1 replaced T7 \"Q2 A\"\nlog 2026-03-04 u1 noted \"Q2\"\n");
  assert_text (ml_job_edit_rename (job, "net", "A", "V12", &error), &error,
               "unit u1\n  removed Q2\n  lifted Q2.base\n  linked V12 B\nreading u1 running red=V12 black=Q2.base/lead volts=1\n"
               "reading u1 running across=Q2.base-emitter volts=1\nseen u1 running LED1 dim\n"
               "log 2026-03-04 u1 replaced Q2 \"Q2 A\"\nlog 2026-03-04 u1 noted \"Q2\"\n");
  assert_text (ml_job_edit_rename (job, "condition", "running", "on", &error), &error,
               "unit u1\n  removed Q2\n  lifted Q2.base\n  linked A B\nreading u1 on red=A black=Q2.base/lead volts=1\n"
               "reading u1 on across=Q2.base-emitter volts=1\nseen u1 on LED1 dim\n"
               "log 2026-03-04 u1 replaced Q2 \"Q2 A\"\nlog 2026-03-04 u1 noted \"Q2\"\n");
  assert_refused (ml_job_edit_rename (job, "part", "Q2", "a b", &error), &error, "a b");
}

static void
test_rename_pin_follows_every_mention (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\n  lifted Q2.base\nreading u1 running red=A black=Q2.base/lead volts=1\n"
                                    "reading u1 running across=Q2.base-emitter volts=1\nreading u1 running across=Q2.emitter-base volts=1\n");
  GError *error = NULL;

  assert_text (ml_job_edit_rename_pin (job, "Q2", "base", "B1", &error), &error,
               "unit u1\n  lifted Q2.B1\nreading u1 running red=A black=Q2.B1/lead volts=1\n"
               "reading u1 running across=Q2.B1-emitter volts=1\nreading u1 running across=Q2.emitter-B1 volts=1\n");
  assert_refused (ml_job_edit_rename_pin (job, "Q2", "base", "", &error), &error, "name");
}

/* What follows from the rule that nothing said is lost: a board without the part, or with renumbered supplies, does not fit. */
static void
test_job_keeps_what_it_speaks_of (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\nreading u1 running across=R4 volts=1\nreading u1 running across=R4 volts=2\n");
  g_autoptr (MlText) without = ml_text_new ("board", "reference M\npart Q2 npn collector=A base=B emitter=M\ncondition running\n", -1);
  g_autoptr (MlBoard) smaller = ml_board_read (without, NULL);
  g_autoptr (GError) error = NULL;

  assert_true (ml_job_edit_fits (job, job->board, NULL));
  assert_false (ml_job_edit_fits (job, smaller, &error));
  assert_non_null (strstr (error->message, "line 2"));
  assert_non_null (strstr (error->message, "1 more"));
}

static void
test_supplies_that_readings_name_are_kept (void **state)
{
  g_autoptr (MlJob) first = read_job ("unit u1\nreading u1 running supply=1 amps=10m\n");
  g_autoptr (MlJob) named = read_job ("unit u1\nreading u1 running supply=aux amps=10m\n");
  g_autoptr (GError) error = NULL;

  assert_false (ml_job_edit_spares_supply (first, 0, 0, &error));
  assert_non_null (strstr (error->message, "supply 1 in running (line 2)"));
  assert_true (ml_job_edit_spares_supply (first, 0, 1, NULL));
  assert_true (ml_job_edit_spares_supply (named, 0, 0, NULL)); /* a name stays when numbers move up */
  assert_false (ml_job_edit_spares_supply (named, 0, 1, NULL));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_add_reading_writes_the_fewest_words),
    cmocka_unit_test (test_add_reading_goes_behind_those_of_its_pass),
    cmocka_unit_test (test_first_reading_of_an_earlier_pass_goes_above_the_next_pass),
    cmocka_unit_test (test_add_reading_refuses),
    cmocka_unit_test (test_supply_readings_and_observations),
    cmocka_unit_test (test_remove_reading_takes_its_lines),
    cmocka_unit_test (test_unit_pass_log_and_title),
    cmocka_unit_test (test_rename_follows_every_mention),
    cmocka_unit_test (test_rename_pin_follows_every_mention),
    cmocka_unit_test (test_job_keeps_what_it_speaks_of),
    cmocka_unit_test (test_supplies_that_readings_name_are_kept),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
