/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a job as pairs of texts; the expected ones follow from the rule that an edit changes only what it must. */
#include "support/edits.h"
#include "support/models.h"
#include "support/near.h"

#include <string.h>

#include "job/edit.h"

static const char board_bytes[] = "reference M\n"
                                  "part R4 resistor 1=A 2=B\n"
                                  "part Q2 npn collector=A base=B emitter=M\n"
                                  "part LED1 led anode=A cathode=M\n"
                                  "part C1 capacitor 1=A 2=M\n"
                                  "condition running\n"
                                  "  supply plus=A minus=M voltage=12\n"
                                  "  supply aux plus=B minus=M voltage=5\n"
                                  "condition cold\n";

static MlJob *
read_job (const char *bytes)
{
  g_autoptr (MlBoard) board = ml_test_board (board_bytes);

  return ml_test_job (board, bytes);
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

/* Only what spoke of the part that is gone goes, and it is counted; what was wrong before stays for the person to mend. */
static void
test_a_unit_is_called_otherwise_wherever_it_is_named (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1 suspect \"dead\" # left\nunit u2 good\nreading u1 running red=A volts=2\nseen u1 running LED1 lit\n"
                                    "log 2026-03-04T10:22 u1 replaced Q2\npass u1 2 \"u1\"\n");
  GError *error = NULL;

  assert_text (ml_job_edit_set_unit (job, 0, "bay7", "hums", &error), &error,
               "unit bay7 suspect \"hums\" # left\nunit u2 good\nreading bay7 running red=A volts=2\nseen bay7 running LED1 lit\n"
               "log 2026-03-04T10:22 bay7 replaced Q2\npass bay7 2 \"u1\"\n");
  assert_text (ml_job_edit_set_unit (job, 0, "u1", "", &error), &error,
               "unit u1 suspect # left\nunit u2 good\nreading u1 running red=A volts=2\nseen u1 running LED1 lit\n"
               "log 2026-03-04T10:22 u1 replaced Q2\npass u1 2 \"u1\"\n");
  assert_text (ml_job_edit_set_unit (job, 1, "spare", "shelf", &error), &error,
               "unit u1 suspect \"dead\" # left\nunit spare good \"shelf\"\nreading u1 running red=A volts=2\nseen u1 running LED1 lit\n"
               "log 2026-03-04T10:22 u1 replaced Q2\npass u1 2 \"u1\"\n");
  assert_refused (ml_job_edit_set_unit (job, 0, "u2", "dead", &error), &error, "u2 already");
  assert_refused (ml_job_edit_set_unit (job, 0, "a b", "dead", &error), &error, "a b");
}

static void
test_a_unit_goes_with_all_that_is_its_own (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1 suspect\n  removed R4\nunit u2 good\nreading u1 running red=A volts=2\nreading u2 running red=A \\\n volts=3 # kept\n"
                                    "seen u1 running LED1 lit\nlog 2026-03-04T10:22 u1 noted \"u2 is better\"\npass u1 2\n  removed R4\nreading u1 running red=B volts=1\n");
  GError *error = NULL;
  MlDropped dropped;

  assert_text (ml_job_edit_drop_unit (job, 0, &dropped), &error, "unit u2 good\nreading u2 running red=A \\\n volts=3 # kept\n");
  assert_int_equal (dropped.n_readings, 2);
  assert_int_equal (dropped.n_observations, 1);
  assert_int_equal (dropped.n_others, 4); /* twice what is removed from it, its log and its pass */
}

static void
test_job_lets_go_what_no_longer_fits (void **state)
{
  g_autoptr (MlJob) job = read_job ("# bench\nunit u1\n  fitted R4 value=820\nreading u1 running across=R4 volts=1 # first\n"
                                    "reading u1 running \\\n  red=A volts=2\nseen u1 running LED1 lit\nreading u1 running across=R4 volts=3\n");
  g_autoptr (MlBoard) smaller = ml_test_board ("reference M\npart Q2 npn collector=A base=B emitter=M\ncondition running\n");
  g_autoptr (MlText) same = NULL;
  g_autoptr (GError) error = NULL;
  MlDropped dropped;

  same = ml_job_edit_drop_unfit (job, job->board, &dropped);
  assert_int_equal (dropped.n_readings + dropped.n_observations + dropped.n_others, 0);
  assert_true (ml_text_equal (same, job->text));
  assert_text (ml_job_edit_drop_unfit (job, smaller, &dropped), &error, "# bench\nunit u1\nreading u1 running \\\n  red=A volts=2\n");
  assert_int_equal (dropped.n_readings, 2);
  assert_int_equal (dropped.n_observations, 1);
  assert_int_equal (dropped.n_others, 1);
}

/* Supplies without a name count 1, 2, …: when one goes those behind it move up, and what was read of them with them. */
static void
test_readings_follow_supplies_that_move_up (void **state)
{
  static const char three[] = "reference M\npart R4 resistor 1=A 2=B\ncondition running\n  supply plus=A minus=M voltage=12\n"
                              "  supply plus=B minus=M voltage=5\n  supply aux plus=B minus=A voltage=3\n  supply plus=A minus=B voltage=1\n"
                              "condition other\n  supply plus=A minus=M voltage=12\n  supply plus=B minus=M voltage=5\n";
  static const char words[] = "unit u1\nreading u1 running supply=1 amps=10m\nreading u1 running supply=2 amps=20m volts=4.9\n"
                              "reading u1 running supply=aux amps=30m\nreading u1 running supply=3 amps=40m\nreading u1 other supply=2 amps=50m\n"
                              "seen u1 running supply limiting\nseen u1 running supply 3 limiting\n";
  static const struct { int supply; const char *line; guint n_readings, n_observations; const char *left; } table[] = {
    { 0, "  supply plus=A minus=M voltage=12\n", 1, 1, "unit u1\nreading u1 running supply=1 amps=20m volts=4.9\nreading u1 running supply=aux amps=30m\n"
      "reading u1 running supply=2 amps=40m\nreading u1 other supply=2 amps=50m\nseen u1 running supply 2 limiting\n" },
    { 1, "  supply plus=B minus=M voltage=5\n", 1, 0, "unit u1\nreading u1 running supply=1 amps=10m\nreading u1 running supply=aux amps=30m\n"
      "reading u1 running supply=2 amps=40m\nreading u1 other supply=2 amps=50m\nseen u1 running supply limiting\nseen u1 running supply 2 limiting\n" },
    { 2, "  supply aux plus=B minus=A voltage=3\n", 1, 0, "unit u1\nreading u1 running supply=1 amps=10m\nreading u1 running supply=2 amps=20m volts=4.9\n"
      "reading u1 running supply=3 amps=40m\nreading u1 other supply=2 amps=50m\nseen u1 running supply limiting\nseen u1 running supply 3 limiting\n" },
  };
  g_autoptr (MlBoard) before = ml_test_board (three);
  g_autoptr (MlJob) job = ml_test_job (before, words);
  g_autoptr (GError) error = NULL;

  assert_int_equal (job->n_readings, 5);
  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      const char *line = strstr (three, table[i].line);
      g_autofree char *start = g_strndup (three, (gsize) (line - three)), *without = g_strconcat (start, line + strlen (table[i].line), NULL);
      g_autoptr (MlBoard) after = ml_test_board (without);
      MlDropped dropped;
      assert_text (ml_job_edit_drop_supply (job, 0, table[i].supply, after, &dropped), &error, table[i].left);
      assert_int_equal (dropped.n_readings, table[i].n_readings);
      assert_int_equal (dropped.n_observations, table[i].n_observations);
      assert_int_equal (dropped.n_others, 0);
    }
}

/* What was typed at the wrong place goes with what it had replaced, and nothing else does. */
static void
test_a_reading_goes_with_those_it_replaced (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\nreading u1 running across=R4 volts=1\nreading u1 cold across=R4 ohms=1k\n"
                                    "reading u1 running red=B black=A volts=-2\nreading u1 running red=A volts=3\n"
                                    "reading u1 running supply=1 amps=1m\nseen u1 running LED1 lit\nseen u1 running LED1 dim\nseen u1 cold LED1 dark\n");
  g_autoptr (GError) error = NULL;
  MlDropped dropped;

  assert_text (ml_job_edit_drop_reading (job, 2, &dropped), &error,
               "unit u1\nreading u1 cold across=R4 ohms=1k\nreading u1 running red=A volts=3\nreading u1 running supply=1 amps=1m\n"
               "seen u1 running LED1 lit\nseen u1 running LED1 dim\nseen u1 cold LED1 dark\n");
  assert_int_equal (dropped.n_readings, 2);
  assert_text (ml_job_edit_drop_seen (job, 0, 1, 0, ml_board_find_part (job->board, "LED1"), &dropped), &error,
               "unit u1\nreading u1 running across=R4 volts=1\nreading u1 cold across=R4 ohms=1k\nreading u1 running red=B black=A volts=-2\n"
               "reading u1 running red=A volts=3\nreading u1 running supply=1 amps=1m\nseen u1 cold LED1 dark\n");
  assert_int_equal (dropped.n_observations, 2);
}

/* A diode test the other way round is another reading of the same two places; a resistance is the same one. */
static void
test_a_diode_test_goes_alone (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\nreading u1 cold across=LED1 diode=1.7\nreading u1 cold across=LED1.cathode-anode diode=OL\n"
                                    "reading u1 cold across=R4 ohms=1k\nreading u1 cold across=R4.2-1 ohms=1.1k\n");
  g_autoptr (GError) error = NULL;
  MlDropped dropped;

  assert_text (ml_job_edit_drop_reading (job, 0, &dropped), &error,
               "unit u1\nreading u1 cold across=LED1.cathode-anode diode=OL\nreading u1 cold across=R4 ohms=1k\nreading u1 cold across=R4.2-1 ohms=1.1k\n");
  assert_int_equal (dropped.n_readings, 1);
  assert_text (ml_job_edit_drop_reading (job, 3, &dropped), &error,
               "unit u1\nreading u1 cold across=LED1 diode=1.7\nreading u1 cold across=LED1.cathode-anode diode=OL\n");
  assert_int_equal (dropped.n_readings, 2);
  assert_int_equal (ml_job_find_reading (job, 0, 1, 1, ML_READS_DIODE, &job->readings[0].red, &job->readings[0].black, NULL), 0);
  assert_int_equal (ml_job_find_reading (job, 0, 1, 1, ML_READS_DIODE, &job->readings[0].black, &job->readings[0].red, NULL), 1);
}

/* Red stays on the leg that it was on: `across=C1` means red on the first pin of README's table (1 or plus). */
static void
test_set_polarity_keeps_readings_at_their_legs (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\n  lifted C1.2\nreading u1 running across=C1 volts=1\nreading u1 running across=C1/lead volts=1\n"
                                    "reading u1 running red=C1.1/lead black=C1.2 volts=1\nreading u1 running across=C1.2-1 volts=-1\n"
                                    "reading u1 running across=R4 volts=1\nseen u1 running C1 hot\n");
  g_autoptr (GError) error = NULL;
  int capacitor = ml_board_find_part (job->board, "C1");

  assert_text (ml_job_edit_set_polarity (job, capacitor, 0), &error,
               "unit u1\n  lifted C1.minus\nreading u1 running across=C1 volts=1\nreading u1 running across=C1/lead volts=1\n"
               "reading u1 running red=C1.plus/lead black=C1.minus volts=1\nreading u1 running across=C1.minus-plus volts=-1\n"
               "reading u1 running across=R4 volts=1\nseen u1 running C1 hot\n");
  assert_text (ml_job_edit_set_polarity (job, capacitor, 1), &error,
               "unit u1\n  lifted C1.plus\nreading u1 running across=C1.minus-plus volts=1\nreading u1 running across=C1.minus-plus/lead volts=1\n"
               "reading u1 running red=C1.minus/lead black=C1.plus volts=1\nreading u1 running across=C1.plus-minus volts=-1\n"
               "reading u1 running across=R4 volts=1\nseen u1 running C1 hot\n");
}

/* A reading without black= is against the board's reference (README): when that moves, the meter's black tip was still where it was. */
static void
test_readings_stay_against_the_reference_they_were_taken_against (void **state)
{
  g_autoptr (MlJob) job = read_job ("unit u1\nreading u1 running red=A volts=5 # c\nreading u1 running red=A black=B volts=3\n"
                                    "reading u1 running across=R4 volts=1\nseen u1 running C1 hot\n");
  g_autoptr (GError) error = NULL;
  const char *reference = job->board->nets[job->board->reference].name;
  g_autofree char *after = g_strdup_printf ("unit u1\nreading u1 running red=A black=%s volts=5 # c\nreading u1 running red=A black=B volts=3\n"
                                            "reading u1 running across=R4 volts=1\nseen u1 running C1 hot\n", reference);

  assert_text (ml_job_edit_keep_reference (job), &error, after);
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
    cmocka_unit_test (test_unit_pass_log_and_title),
    cmocka_unit_test (test_rename_follows_every_mention),
    cmocka_unit_test (test_rename_pin_follows_every_mention),
    cmocka_unit_test (test_a_unit_is_called_otherwise_wherever_it_is_named),
    cmocka_unit_test (test_a_unit_goes_with_all_that_is_its_own),
    cmocka_unit_test (test_set_polarity_keeps_readings_at_their_legs),
    cmocka_unit_test (test_readings_stay_against_the_reference_they_were_taken_against),
    cmocka_unit_test (test_job_lets_go_what_no_longer_fits),
    cmocka_unit_test (test_a_reading_goes_with_those_it_replaced),
    cmocka_unit_test (test_a_diode_test_goes_alone),
    cmocka_unit_test (test_readings_follow_supplies_that_move_up),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
