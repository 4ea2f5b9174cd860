/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading jobs: what a statement means, and what is said of one in error. The language is our own: its description is the source. */
#include "support/near.h"

#include <glib/gstdio.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "job/job.h"

static const char board_bytes[] = "reference MINUS\n"
                                  "part F1 fuse 1=FEED 2=FUSED\n"
                                  "part R4 resistor 1=FUSED 2=ZREF\n"
                                  "part Q2 npn collector=FUSED base=ZREF emitter=V5\n"
                                  "part LED1 led anode=V5 cathode=MINUS\n"
                                  "part S1 switch 1=V5 2=MINUS\n"
                                  "part D9 1N4148 anode=V5\n"
                                  "part U1 block A-B=V5 A=MINUS B=ZREF\n"
                                  "condition running\n  supply plus=FEED minus=MINUS voltage=18 limit=250m\n  supply aux plus=V5 minus=MINUS voltage=5\n"
                                  "condition cold\n";

static MlJob *
read_with (const char *bytes, MlDiagnostics *diagnostics)
{
  g_autoptr (MlText) board_text = ml_text_new ("board", board_bytes, -1);
  g_autoptr (MlText) text = ml_text_new ("test", bytes, -1);
  g_autoptr (MlBoard) board = ml_board_read (board_text, NULL);

  return ml_job_read (text, board, diagnostics);
}

static void
print_all (const MlDiagnostics *diagnostics)
{
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      g_autofree char *line = ml_diagnostic_to_string (ml_diagnostics_get (diagnostics, i));
      print_error ("  %s\n", line);
    }
}

static MlJob *
read_clean (const char *bytes)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  MlJob *job = read_with (bytes, diagnostics);

  print_all (diagnostics);
  assert_int_equal (ml_diagnostics_n (diagnostics), 0);
  return job;
}

static MlJob *
read_corpus (void)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests/fuzz/corpus-job/every-statement", NULL);
  g_autofree char *content = NULL;

  assert_true (g_file_get_contents (path, &content, NULL, NULL));
  return read_clean (content);
}

/* ---- what statements mean ---- */

static void
test_readings_know_their_place (void **state)
{
  static const struct { const char *red, *black; MlReads reads; double value; } expected[] = {
    { "V5", "MINUS", ML_READS_VOLTS, 2.91 },          { "R4.1", "R4.2", ML_READS_VOLTS, 11.9 },
    { "Q2.emitter/lead", "V5", ML_READS_VOLTS, 1.95 }, { "", "", ML_READS_AMPS, 0.085 },
    { "Q2.base", "Q2.emitter", ML_READS_VOLTS, 0.64 }, { "V5", "MINUS", ML_READS_OHMS, INFINITY },
    { "LED1.anode/lead", "LED1.cathode/lead", ML_READS_DIODE, 1.7 },
  };
  g_autoptr (MlJob) job = read_corpus ();

  assert_int_equal (job->n_readings, G_N_ELEMENTS (expected) + 1);
  for (guint i = 0; i < G_N_ELEMENTS (expected); i++)
    {
      const MlReading *reading = &job->readings[i];
      g_autofree char *red = ml_probe_label (job->board, &reading->red);
      g_autofree char *black = ml_probe_label (job->board, &reading->black);

      assert_string_equal (red, expected[i].red);
      assert_string_equal (black, expected[i].black);
      assert_int_equal (reading->reads, expected[i].reads);
      if (isinf (expected[i].value))
        assert_true (reading->measured.over);
      else
        assert_near (reading->measured.value, expected[i].value, 1e-15, 0);
      assert_int_equal (reading->pass, 1);
    }
  assert_true (job->readings[2].measured.range && job->readings[2].measured.low == 1.8 && job->readings[2].measured.high == 2.1);
  assert_int_equal (job->readings[1].across, ml_board_find_part (job->board, "R4"));
  assert_int_equal (job->readings[1].meter, 1);
  assert_int_equal (job->readings[3].supply, 0);
  assert_true (job->readings[3].has_shown && job->readings[3].shown_v.value == 17.6);
  assert_true (job->readings[3].measured.resolution == 1e-3); /* 85m: the last digit is a milliampere */
}

static void
test_units_passes_and_log (void **state)
{
  g_autoptr (MlJob) job = read_corpus ();
  const MlUnitOnBench *a = &job->units[0];

  assert_int_equal (job->n_units, 2);
  assert_int_equal (a->state, ML_UNIT_STATE_SUSPECT);
  assert_string_equal (a->symptom, "dim");
  assert_int_equal (job->units[1].state, ML_UNIT_STATE_GOOD);
  assert_int_equal (ml_job_suspect (job), 0);
  assert_int_equal (a->n_passes, 2);
  assert_int_equal (job->readings[job->n_readings - 1].pass, 2);
  assert_int_equal (ml_job_last_pass (job, 0), 2);
  assert_int_equal (ml_job_last_pass (job, 1), 1);
  assert_true (ml_job_has_readings (job, 0, 2));
  assert_false (ml_job_has_readings (job, 0, 3));
  assert_int_equal (a->n_differences, 4);
  assert_int_equal (a->differences[0].what, ML_DIFFERS_FITTED);
  assert_true (a->differences[0].attributes[0].quantity.value == 820 && a->differences[0].pass == 1);
  assert_int_equal (a->differences[1].what, ML_DIFFERS_REMOVED);
  assert_int_equal (a->differences[2].what, ML_DIFFERS_LIFTED);
  assert_int_equal (a->differences[2].pass, 2);
  assert_int_equal (a->differences[3].what, ML_DIFFERS_LINKED);
  assert_int_equal (job->n_observations, 2);
  assert_string_equal (job->observations[0].what, "dim");
  assert_true (job->observations[1].part == -1 && job->observations[1].supply == 0);
  assert_int_equal (job->n_log, 3);
  assert_string_equal (job->log[0].subject, "Q2");
  assert_string_equal (job->log[0].text, "band checked");
  assert_string_equal (job->log[1].text, "fine");
  assert_null (job->log[1].subject);
  assert_string_equal (job->log[2].text, "a b.jpg");
}

static void
test_a_later_reading_of_the_same_place_stands (void **state)
{
  g_autoptr (MlJob) job = read_clean ("unit a\nunit b\n"
                                      "reading a running red=V5 volts=1\n"                      /* 0: replaced by 1 */
                                      "reading a running red=MINUS black=Q2.emitter volts=-2\n" /* 1: replaced by 6 */
                                      "reading a running red=V5 black=ZREF volts=3\n"           /* 2: another place */
                                      "reading b running red=V5 volts=4\n"                      /* 3: another unit */
                                      "reading a cold red=V5 ohms=5\n"                          /* 4: another quantity */
                                      "reading a running red=Q2.emitter/lead volts=6\n"         /* 5: the part's own metal is another place */
                                      "reading a running red=LED1.anode volts=7\n"
                                      "reading a cold across=LED1 diode=1.7\nreading a cold across=LED1.cathode-anode diode=OL\n" /* both ways */
                                      "pass a 2\nreading a running red=V5 volts=8\n");
  static const gboolean replaced[] = { TRUE, TRUE, FALSE, FALSE, FALSE, FALSE, FALSE, FALSE, FALSE, FALSE };
  MlProbe v5, minus, led;
  gboolean swapped = FALSE;

  assert_int_equal (job->n_readings, G_N_ELEMENTS (replaced));
  for (guint i = 0; i < job->n_readings; i++)
    assert_int_equal (job->readings[i].replaced, replaced[i]);
  assert_true (ml_probe_parse (job->board, "V5", &v5) && ml_probe_parse (job->board, "MINUS", &minus)
               && ml_probe_parse (job->board, "LED1.anode", &led));
  assert_true (ml_probe_equal (&v5, &led));
  assert_int_equal (ml_job_find_reading (job, 0, 1, 0, ML_READS_VOLTS, &v5, &minus, &swapped), 6);
  assert_false (swapped);
  assert_int_equal (ml_job_find_reading (job, 0, 1, 0, ML_READS_VOLTS, &minus, &v5, &swapped), 6);
  assert_true (swapped);
  assert_int_equal (ml_job_find_reading (job, 1, 2, 0, ML_READS_VOLTS, &v5, &minus, NULL), -1);
}

/* A meter zeroed with its leads shows a little below nothing; the short it stands on is taken as read (common practice). */
static void
test_a_short_may_read_a_little_below_nothing (void **state)
{
  g_autoptr (MlJob) job = read_clean ("unit a\nreading a cold red=V5 ohms=-0.2\n");

  assert_near (job->readings[0].measured.value, -0.2, 1e-15, 0);
}

/* A pin's name may hold a hyphen itself. */
static void
test_pairs_of_pins_with_hyphens (void **state)
{
  g_autoptr (MlJob) job = read_clean ("unit a\nreading a running across=U1.A-B-A volts=1\nreading a running across=U1.A-B volts=2\n");

  assert_int_equal (job->readings[0].red.pin, 0);
  assert_int_equal (job->readings[0].black.pin, 1);
  assert_int_equal (job->readings[1].red.pin, 1);
  assert_int_equal (job->readings[1].black.pin, 2);
}

static void
test_fitted_by_part_number (void **state)
{
  g_autoptr (MlJob) job = read_clean ("unit a\n  fitted D9 1N4007\n");

  assert_true (job->units[0].differences[0].n_attributes > 0);
  assert_true (job->units[0].differences[0].attributes[0].from_datasheet);
}

static void
test_new_job_for_a_board (void **state)
{
  g_autoptr (MlText) text = ml_text_new ("board", board_bytes, -1);
  g_autoptr (MlBoard) board = ml_board_read (text, NULL);
  g_autoptr (MlJob) job = ml_job_new_for_board (board, "my \"board\".leafboard");

  assert_string_equal (job->board_file, "my \"board\".leafboard");
  assert_int_equal (ml_job_suspect (job), 0);
  assert_string_equal (job->units[0].name, "unit1");
  assert_int_equal (job->n_meters, 1);
  assert_ptr_equal (job->board, board);
}

/* ---- what is said of errors ---- */

static const struct { const char *bytes; guint line, column; const char *words; } wrong[] = {
  { "unot a\n", 1, 1, "unit" },
  { "unit a suspekt\n", 1, 8, "suspect" },
  { "unit a\nunit a\n", 2, 6, "line 1" },
  { "unit a.b\n", 1, 6, "a.b" },
  { "unit bay7\nreading bay8 running red=V5 volts=1\n", 2, 9, "did you mean bay7" },
  { "unit a\nreading a runing red=V5 volts=1\n", 2, 11, "running" },
  { "unit a\nreading a running red=V6 volts=1\n", 2, 23, "V5" },
  { "unit a\nreading a running red=Q2 volts=1\n", 2, 23, "Q2.collector" },
  { "unit a\nreading a running red=Q2.emiter volts=1\n", 2, 23, "emitter" },
  { "unit a\nreading a running red=Q3.emitter volts=1\n", 2, 23, "Q2" },
  { "unit a\nreading a running red=V5/lead volts=1\n", 2, 23, "behind a pin" },
  { "unit a\nreading a running red=V5/lifted volts=1\n", 2, 23, "behind a pin" },
  { "unit a\nreading a running across=R4/lifted volts=1\n", 2, 26, "which leg" },
  { "unit a\nreading a running red=D9.cathode volts=1\n", 2, 23, "D9.cathode/lead" },
  { "unit a\nreading a running across=Q2 volts=1\n", 2, 26, "3 pins" },
  { "unit a\nreading a running across=Q2.base-emiter volts=1\n", 2, 26, "two pins" },
  { "unit a\nreading a running across=D9 volts=1\n", 2, 26, "D9/lead" },
  { "unit a\nreading a running across=R4 red=V5 volts=1\n", 2, 19, "either" },
  { "unit a\nreading a running red=V5 volts=1x\n", 2, 33, "left over" },
  { "unit a\nreading a running red=V5 volts=2.1..1.8\n", 2, 37, "smaller end" },
  { "unit a\nreading a running red=V5 volts=1,5\n", 2, 33, "point here, not a comma" },
  { "unit a\nreading a running red=V5 mV=450\n", 2, 26, "volts=450" },
  { "unit a\nreading a running red=Q2.b volts=1\n", 2, 23, "did you mean base?" },
  { "unit a\nreading a running red=Q2.base/leed volts=1\n", 2, 23, "/lead and /lifted" },
  { "unit a\nreading a running across=Q2.b-e volts=1\n", 2, 26, "collector base emitter" },
  { "job vent controller\n", 1, 10, "in quotes" },
  { "meter \"my meter\"\n", 1, 7, "never quoted" },
  { "unit a\nreading a running red=V5 volts=1A\n", 2, 33, "unit" },
  { "unit a\nreading a cold red=V5 ohms=-4\n", 2, 28, "discharge it" },
  { "unit a\nreading a cold red=V5 ohms=-4..3\n", 2, 28, "discharge it" },
  { "unit a\nreading a cold across=LED1 diode=-0.61\n", 2, 34, "discharge it" },
  { "unit a\nreading a running red=V5\n", 2, 19, "value is missing" },
  { "unit a\nreading a running red=V5 volts=1 ohms=2\n", 2, 34, "one value" },
  { "unit a\nreading a running red=V5 amps=1\n", 2, 26, "supply" },
  { "unit a\nreading a running volts=1\n", 2, 1, "where" },
  { "unit a\nreading a running red=V5 black=Q2.emitter volts=1\n", 2, 19, "same place, since a pin is the solder there, that is its net; for the part's own metal write Q2.emitter/lead" },
  { "unit a\nreading a running red=V5 black=V5 volts=1\n", 2, 19, "same place" },
  { "unit a\nreading a running supply=2 amps=1\n", 2, 26, "supply '2'" },
  { "unit a\nreading a cold supply=1 amps=1\n", 2, 23, "cold" },
  { "unit a\nreading a running supply=1 volts=1\n", 2, 19, "amps" },
  { "unit a\nreading a running red=V5 rad=V5 volts=1\n", 2, 26, "red" },
  { "unit a\nreading a running red=V5 volts=1 meter=m\n", 2, 40, "meter 'm'" },
  { "unit a\nseen a running LED1 dimm\n", 2, 21, "dim" },
  { "unit a\nseen a running LED2 dim\n", 2, 16, "LED1" },
  { "unit a\nseen a cold supply limiting\n", 2, 20, "no supply" },
  { "unit a\npass a 3\n", 2, 8, "number 2" },
  { "unit a\nlog yesterday a noted \"x\"\n", 2, 5, "time" },
  { "unit a\nlog 2026-13-04 a noted \"x\"\n", 2, 5, "time" },
  { "unit a\nlog 2026-03-04T24:10 a noted \"x\"\n", 2, 5, "time" },
  { "unit a\nlog 2026-03-04 a replaced Q2 band checked\n", 2, 35, "in quotes" },
  { "unit a\nlog 2026-03-04 a repaired Q2\n", 2, 18, "replaced" },
  { "unit a\nlog 2026-03-04 a replaced Q9\n", 2, 27, "Q2" },
  { "unit a\n  fitted R4 valu=820\n", 2, 13, "its keys are: value" },
  { "unit a\n  fitted R4 valu=820\n", 2, 13, "did you mean value?" },
  { "unit a\n  fitted R4 value=x\n", 2, 19, "no number" },
  { "unit a\n  fitted R4 1N4148\n", 2, 13, "resistor" },
  { "unit a\n  lifted V5\n", 2, 10, "net" },
  { "unit a\n  fitted R4 value=820\n  removed R4\n", 3, 11, "line 2" },
  { "unit a\n  fitted R4 value=820\n  fitted R4 value=1k\n", 3, 10, "line 2" },
  { "unit a\n  linked V5 V5\n", 2, 13, "two nets" },
  { "  fitted R4 value=820\n", 1, 3, "needs a unit" },
  { "unit a\n  reading a running red=V5 volts=1\n", 2, 3, "column one" },
  { "unit a\nfitted R4 value=1\n", 2, 1, "indented" },
  { "meter m dc=0.5%+x\n", 1, 17, "no number" },
  { "meter m counts=0\n", 1, 16, "above zero" },
  { "meter m input=5V\n", 1, 16, "unit" },
  { "meter m\nmeter m\n", 2, 7, "line 1" },
  { "meterleaf 9\n", 1, 11, "version 1" },
};

static void
test_each_error_is_said_at_its_place (void **state)
{
  guint n_failed = 0;

  for (guint i = 0; i < G_N_ELEMENTS (wrong); i++)
    {
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      G_GNUC_UNUSED g_autoptr (MlJob) job = read_with (wrong[i].bytes, diagnostics);
      const MlDiagnostic *one = ml_diagnostics_n (diagnostics) > 0 ? ml_diagnostics_get (diagnostics, 0) : NULL;

      if (ml_diagnostics_n (diagnostics) == 1 && one->severity == ML_SEVERITY_ERROR && one->line == wrong[i].line
          && one->column == wrong[i].column && strstr (one->message, wrong[i].words) != NULL)
        continue;
      print_error ("%s: expected %u:%u with '%s' and nothing else, found\n", wrong[i].bytes, wrong[i].line, wrong[i].column, wrong[i].words);
      print_all (diagnostics);
      n_failed++;
    }
  assert_int_equal (n_failed, 0);
}

static void
test_without_a_board_one_error (void **state)
{
  g_autoptr (MlText) text = ml_text_new ("test", "unit a\nreading a running red=V5 volts=1\nreading a running red=V6 volts=1\n", -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlJob) job = ml_job_read (text, NULL, diagnostics);

  assert_int_equal (ml_diagnostics_n (diagnostics), 1);
  assert_int_equal (job->n_readings, 0);
  assert_int_equal (job->n_units, 1);
  assert_non_null (job->board);
}

/* A pass in which something was only seen is a pass with evidence. */
static void
test_the_last_pass_may_hold_observations_only (void **state)
{
  g_autoptr (MlJob) job = read_clean ("unit a\nreading a running red=V5 volts=1\npass a 2\nseen a running LED1 lit\npass a 3\n");

  assert_int_equal (ml_job_last_pass (job, 0), 2);
  assert_int_equal (job->units[0].n_passes, 3);
}

static void
test_load_takes_a_whole_path_as_it_is (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-job-XXXXXX", NULL), *other = g_dir_make_tmp ("meterleaf-board-XXXXXX", NULL);
  g_autofree char *board_path = g_build_filename (other, "b.leafboard", NULL), *job_path = g_build_filename (folder, "j.leafjob", NULL);
  g_autofree char *bytes = g_strdup_printf ("board \"%s\"\nunit a suspect\nreading a running red=V5 volts=1\n", board_path);
  g_autoptr (MlDiagnostics) fine = ml_diagnostics_new ();
  g_autoptr (MlJob) job = NULL;

  assert_true (g_file_set_contents (board_path, board_bytes, -1, NULL) && g_file_set_contents (job_path, bytes, -1, NULL));
  job = ml_job_load (job_path, fine, NULL);
  assert_non_null (job);
  assert_int_equal (ml_diagnostics_n (fine), 0);
  assert_int_equal (job->n_readings, 1);
  g_unlink (board_path);
  g_unlink (job_path);
  g_rmdir (other);
  g_rmdir (folder);
}

static void
test_load_finds_the_board_beside_the_job (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-job-XXXXXX", NULL);
  g_autofree char *board_path = g_build_filename (folder, "b.leafboard", NULL);
  g_autofree char *job_path = g_build_filename (folder, "j.leafjob", NULL);
  static const char bytes[] = "board \"b.leafboard\"\nunit a suspect\nreading a running red=V5 volts=1\n";
  g_autoptr (MlDiagnostics) fine = ml_diagnostics_new ();
  g_autoptr (MlDiagnostics) missing = ml_diagnostics_new ();
  g_autoptr (MlJob) job = NULL;
  g_autoptr (MlJob) lonely = NULL;
  g_autoptr (GError) error = NULL;

  assert_true (g_file_set_contents (board_path, board_bytes, -1, NULL) && g_file_set_contents (job_path, bytes, -1, NULL));
  job = ml_job_load (job_path, fine, &error);
  assert_non_null (job);
  assert_int_equal (ml_diagnostics_n (fine), 0);
  assert_int_equal (job->n_readings, 1);
  g_unlink (board_path);
  lonely = ml_job_load (job_path, missing, &error);
  assert_non_null (lonely);
  assert_true (ml_diagnostics_n_errors (missing) >= 1);
  g_unlink (job_path);
  assert_null (ml_job_load (job_path, missing, &error));
  assert_non_null (error);
  g_rmdir (folder);
}

/* As many readings as a file may have lines, each correct: 20 s leave room for a loaded machine and a sanitizer. */
static void
test_huge_jobs_end_soon (void **state)
{
  static const char *const lines[] = { "reading a running red=V5 volts=1\n", "reading a running red=V6 volts=1\n", "unit a\n", "  removed Q2\n", "meter m\n" };

  for (guint i = 0; i < G_N_ELEMENTS (lines); i++)
    {
      GString *bytes = g_string_new ("unit a\n");
      g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
      g_autoptr (MlJob) job = NULL;
      g_autoptr (GTimer) timer = g_timer_new ();

      for (guint k = 0; k < 150000; k++)
        g_string_append (bytes, lines[i]);
      job = read_with (bytes->str, diagnostics);
      assert_true (g_timer_elapsed (timer, NULL) < 20);
      g_string_free (bytes, TRUE);
    }
}

/* What can be seen or heard of a part (common practice): lamps and lit chips give light, armatures click, and so may a chip with a relay or a sounder inside;
 * anything may be warm. */
static void
test_observations_suit_the_kind (void **state)
{
  static const struct { MlKind kind; const char *what; gboolean suits; } table[] = {
    { ML_KIND_LED, "dim", TRUE },      { ML_KIND_LAMP, "lit", TRUE },       { ML_KIND_BLOCK, "dark", TRUE },      { ML_KIND_RESISTOR, "lit", FALSE },
    { ML_KIND_COIL, "clicks", TRUE },  { ML_KIND_CONTACT, "silent", TRUE }, { ML_KIND_BLOCK, "clicks", TRUE },    { ML_KIND_BLOCK, "silent", TRUE },
    { ML_KIND_LED, "clicks", FALSE },  { ML_KIND_COIL, "lit", FALSE },      { ML_KIND_CAPACITOR, "hot", TRUE },   { ML_KIND_RESISTOR, "warm", TRUE },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    assert_int_equal (ml_observation_suits (table[i].kind, table[i].what), table[i].suits);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_observations_suit_the_kind),
    cmocka_unit_test (test_readings_know_their_place),
    cmocka_unit_test (test_units_passes_and_log),
    cmocka_unit_test (test_a_later_reading_of_the_same_place_stands),
    cmocka_unit_test (test_a_short_may_read_a_little_below_nothing),
    cmocka_unit_test (test_pairs_of_pins_with_hyphens),
    cmocka_unit_test (test_fitted_by_part_number),
    cmocka_unit_test (test_new_job_for_a_board),
    cmocka_unit_test (test_each_error_is_said_at_its_place),
    cmocka_unit_test (test_without_a_board_one_error),
    cmocka_unit_test (test_the_last_pass_may_hold_observations_only),
    cmocka_unit_test (test_load_takes_a_whole_path_as_it_is),
    cmocka_unit_test (test_load_finds_the_board_beside_the_job),
    cmocka_unit_test (test_huge_jobs_end_soon),
  };

  if (setlocale (LC_ALL, "de_DE.UTF-8") == NULL)
    fprintf (stderr, "the locale de_DE.UTF-8 is not installed: tested in the C locale\n");
  return cmocka_run_group_tests (tests, NULL, NULL);
}
