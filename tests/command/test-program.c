/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program as a person runs it: what it prints, where, and its exit status. */
#include "support/near.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

typedef struct
{
  char *out, *err;
  int status;
} Run;

static char *folder;

static void
run_clear (Run *run)
{
  g_clear_pointer (&run->out, g_free);
  g_clear_pointer (&run->err, g_free);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC (Run, run_clear)

static Run
run (const char *first, ...)
{
  g_autoptr (GPtrArray) argv = g_ptr_array_new ();
  g_autofree char *program = g_build_filename (g_getenv ("METERLEAF_BUILD"), "src", "command", "meterleaf", NULL);
  g_autoptr (GError) error = NULL;
  Run result = { 0 };
  va_list more;
  int wait = 0;

  g_ptr_array_add (argv, program);
  va_start (more, first);
  for (const char *word = first; word != NULL; word = va_arg (more, const char *))
    g_ptr_array_add (argv, (char *) word);
  va_end (more);
  g_ptr_array_add (argv, NULL);
  if (!g_spawn_sync (folder, (char **) argv->pdata, NULL, G_SPAWN_DEFAULT, NULL, NULL, &result.out, &result.err, &wait, &error))
    fail_msg ("%s", error->message);
  assert_true (WIFEXITED (wait));
  result.status = WEXITSTATUS (wait);
  return result;
}

/* The program in a shell's line, where $M stands for it; returns what it printed, both streams of one. */
static char *
shell (const char *line, int *ret_status)
{
  g_autofree char *program = g_build_filename (g_getenv ("METERLEAF_BUILD"), "src", "command", "meterleaf", NULL);
  g_autofree char *script = g_strdup_printf ("M='%s'; { %s; } 2>&1", program, line);
  const char *argv[] = { "/bin/sh", "-c", script, NULL };
  char *out = NULL;
  int wait = 0;

  assert_true (g_spawn_sync (folder, (char **) argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &out, NULL, &wait, NULL));
  *ret_status = WEXITSTATUS (wait);
  return out;
}

static void
write_file (const char *name, const char *content)
{
  g_autofree char *path = g_build_filename (folder, name, NULL);
  assert_true (g_file_set_contents (path, content, -1, NULL));
}

static JsonObject *
parse (JsonParser *parser, const char *text)
{
  assert_true (json_parser_load_from_data (parser, text, -1, NULL));
  return json_node_get_object (json_parser_get_root (parser));
}

static void
test_help_names_every_command_and_ends_well (void **state)
{
  g_auto (Run) help = run ("--help", NULL);
  g_auto (Run) version = run ("--version", NULL);
  const char *const names[] = { "check", "solve", "judge", "draw", "report" };

  assert_int_equal (help.status, 0);
  assert_string_equal (help.err, "");
  for (gsize i = 0; i < G_N_ELEMENTS (names); i++)
    {
      g_auto (Run) one = run (names[i], "--help", NULL);
      assert_non_null (strstr (help.out, names[i]));
      assert_int_equal (one.status, 0);
      assert_non_null (strstr (one.out, names[i]));
    }
  assert_int_equal (version.status, 0);
  assert_true (g_str_has_prefix (version.out, "Meterleaf "));
}

/* Over a plain remote shell the window cannot open: that is said in words of ours, with what serves instead. */
static void
test_without_a_display_the_window_says_so (void **state)
{
  int status;
  g_autofree char *said = shell ("env -u DISPLAY -u WAYLAND_DISPLAY -u GDK_BACKEND XDG_RUNTIME_DIR=/nonexistent $M", &status);

  assert_int_equal (status, 4);
  assert_true (g_str_has_prefix (said, "meterleaf: there is no display"));
  assert_non_null (strstr (said, "meterleaf --help"));
}

static void
test_usage_errors_end_with_two (void **state)
{
  g_auto (Run) unknown = run ("--frobnicate", NULL);
  g_auto (Run) no_file = run ("solve", NULL);
  g_auto (Run) too_many = run ("judge", "a.leafjob", "b.leafjob", NULL);
  g_auto (Run) no_output = run ("draw", "a.leafboard", NULL);
  g_auto (Run) neither = run ("no-such-command-or-file", NULL);

  assert_int_equal (unknown.status, 2);
  assert_int_equal (no_file.status, 2);
  assert_int_equal (too_many.status, 2);
  assert_int_equal (no_output.status, 2);
  assert_int_equal (neither.status, 2);
  assert_non_null (strstr (unknown.err, "--frobnicate"));
  assert_non_null (strstr (no_output.err, "-o"));
  assert_string_equal (unknown.out, "");
}

static void
test_a_slip_of_the_command_is_named (void **state)
{
  g_auto (Run) command = run ("chek", "a.leafboard", NULL);
  g_auto (Run) helped = run ("help", NULL);

  assert_int_equal (command.status, 2);
  assert_non_null (strstr (command.err, "did you mean check?"));
  assert_int_equal (helped.status, 0);
  assert_true (g_str_has_prefix (helped.out, "Usage:"));
}

static void
test_check_counts_the_errors_of_a_file (void **state)
{
  g_auto (Run) checked = { 0 };

  write_file ("errors.leafboard", "part R1 resistr 1=A 2=B\npart R2 resistor 1=A 2=B valu=4k7\n");
  checked = run ("check", "errors.leafboard", NULL);
  assert_int_equal (checked.status, 3);
  assert_string_equal (checked.out, "errors.leafboard: 2 errors\n");
}

static void
test_counts_are_said_in_the_singular_too (void **state)
{
  g_auto (Run) checked = { 0 };

  write_file ("one.leafboard", "part R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=1 limit=1\n");
  checked = run ("check", "one.leafboard", NULL);
  assert_int_equal (checked.status, 0);
  assert_non_null (strstr (checked.out, "one.leafboard: 1 part, 2 nets, 1 condition, no errors\n"));
}

static void
test_check_tells_file_line_and_column_of_every_error (void **state)
{
  g_auto (Run) checked = { 0 };

  write_file ("broken.leafboard", "board \"x\"\npart R1 resistr 1=A 2=B\nreference A\npart R2 resistor 1=A 2=B valu=4k7\n");
  checked = run ("check", "broken.leafboard", NULL);
  assert_int_equal (checked.status, 3);
  assert_non_null (strstr (checked.err, "broken.leafboard:2:9: "));
  assert_non_null (strstr (checked.err, "resistor"));
  assert_non_null (strstr (checked.err, "broken.leafboard:4:"));
  assert_non_null (strstr (checked.err, "value"));
}

static void
test_a_missing_file_ends_with_three (void **state)
{
  static const char *const names[] = { "nowhere.leafjob", "nowhere.leafboard", "./judge" };
  g_auto (Run) missing = run ("solve", "nowhere.leafboard", NULL);

  assert_int_equal (missing.status, 3);
  assert_string_equal (missing.err, "meterleaf: nowhere.leafboard cannot be read: No such file or directory\n");
  for (guint i = 0; i < G_N_ELEMENTS (names); i++)
    {
      g_auto (Run) window = run (names[i], NULL);
      g_autofree char *expected = g_strdup_printf ("meterleaf: %s cannot be read: No such file or directory\n", names[i]);

      assert_int_equal (window.status, 3);
      assert_string_equal (window.err, expected);
    }
}

/* A slip in the name, and a board that was renamed where there is no other. */
static void
test_a_misspelt_board_is_pointed_to (void **state)
{
  g_auto (Run) near = { 0 }, only = { 0 };
  g_autofree char *alone = g_build_filename (folder, "alone", NULL);

  assert_int_equal (g_mkdir (alone, 0700), 0);
  write_file ("lamp.leafboard", "part R1 resistor 1=A 2=B\n");
  write_file ("lamp.leafjob", "meterleaf 1\nboard \"lmp.leafboard\"\nunit u suspect\n");
  near = run ("check", "lamp.leafjob", NULL);
  assert_int_equal (near.status, 3);
  assert_string_equal (near.err, "lamp.leafjob:2: error: this names its board; ./lmp.leafboard cannot be read: No such file or directory; did you mean lamp.leafboard?\n");
  write_file ("alone/siren.leafboard", "part R1 resistor 1=A 2=B\n");
  write_file ("alone/one.leafjob", "meterleaf 1\nboard \"pump.leafboard\"\nunit u suspect\n");
  only = run ("check", "alone/one.leafjob", NULL);
  assert_non_null (strstr (only.err, "did you mean siren.leafboard?"));
}

/* One cause, one message: what follows from a missing board is not said too. */
static void
test_a_missing_board_is_said_once (void **state)
{
  g_auto (Run) judged = { 0 };

  write_file ("lost.leafjob", "board \"lost.leafboard\"\nunit u suspect\n");
  judged = run ("judge", "lost.leafjob", NULL);
  assert_int_equal (judged.status, 3);
  assert_true (g_str_has_prefix (judged.err, "lost.leafjob:1: error: "));
  assert_ptr_equal (strchr (judged.err, '\n'), judged.err + strlen (judged.err) - 1);
}

/* Kuphaldt, Lessons in Electric Circuits, vol. I DC, ch. 7: 24 V; 100 || 250 in series with 350 || 200 ohm: 8.6275 V and 15.373 V, 120.78 mA. */
static const char *const ladder = "board \"Series-parallel\"\nreference G\n"
                                  "part R1 resistor 1=P 2=M value=100\npart R2 resistor 1=P 2=M value=250\n"
                                  "part R3 resistor 1=M 2=G value=350\npart R4 resistor 1=M 2=G value=200\n"
                                  "condition on\n  supply plus=P minus=G voltage=24 limit=1\n";

static void
test_solve_agrees_with_the_published_circuit (void **state)
{
  g_autoptr (JsonParser) parser = json_parser_new ();
  g_auto (Run) solved = { 0 };
  JsonObject *condition, *supply, *part;

  write_file ("ladder.leafboard", ladder);
  solved = run ("solve", "ladder.leafboard", "--json", NULL);
  assert_int_equal (solved.status, 0);
  condition = json_array_get_object_element (json_object_get_array_member (parse (parser, solved.out), "conditions"), 0);
  assert_near (json_object_get_double_member (json_object_get_object_member (condition, "nets"), "M"), 15.373, 1e-4, 0);
  supply = json_array_get_object_element (json_object_get_array_member (condition, "supplies"), 0);
  assert_near (json_object_get_double_member (supply, "amps"), 0.12078, 1e-4, 0);
  assert_false (json_object_get_boolean_member (supply, "limiting"));
  part = json_array_get_object_element (json_object_get_array_member (condition, "parts"), 0);
  assert_near (json_object_get_double_member (part, "volts"), 8.6275, 1e-4, 0);
  assert_true (json_object_get_null_member (condition, "error"));
}

/* With R2 open the circuit is 100 ohm in series with 350 || 200 ohm: a divider, by Ohm's law. */
static void
test_suppose_changes_what_solve_computes (void **state)
{
  g_autoptr (JsonParser) parser = json_parser_new ();
  g_auto (Run) solved = { 0 };
  g_auto (Run) wrong = { 0 };
  JsonObject *condition;
  const double lower_ohm = 350.0 * 200.0 / 550.0;

  write_file ("ladder.leafboard", ladder);
  solved = run ("solve", "ladder.leafboard", "--json", "--suppose", "R2 open", NULL);
  assert_int_equal (solved.status, 0);
  condition = json_array_get_object_element (json_object_get_array_member (parse (parser, solved.out), "conditions"), 0);
  assert_near (json_object_get_double_member (json_object_get_object_member (condition, "nets"), "M"), 24 * lower_ohm / (100 + lower_ohm), 1e-6, 0);
  wrong = run ("solve", "ladder.leafboard", "--suppose", "R2 opne", NULL);
  assert_int_equal (wrong.status, 3);
  assert_non_null (strstr (wrong.err, "opne"));
}

/* What a part cannot have is a slip of the person, not a failure of the computation. */
static void
test_suppose_refuses_what_cannot_be (void **state)
{
  g_auto (Run) stuck = { 0 };
  g_auto (Run) part = { 0 };

  write_file ("ladder.leafboard", ladder);
  stuck = run ("solve", "ladder.leafboard", "--suppose", "R2 stuck-high", NULL);
  assert_int_equal (stuck.status, 3);
  assert_non_null (strstr (stuck.err, "only a part with an output"));
  part = run ("solve", "ladder.leafboard", "--suppose", "r2 open", NULL);
  assert_int_equal (part.status, 3);
  assert_non_null (strstr (part.err, "did you mean R2?"));
}

/* 230 V is above 60 V d.c. (a commonly cited limit of IEC 61010-1); a board without a supply needs no list of zeros. */
static void
test_solve_flags_what_is_dangerous_and_skips_what_is_dead (void **state)
{
  g_auto (Run) solved = { 0 };

  write_file ("high.leafboard", "reference G\npart R1 resistor 1=A 2=B value=100k\npart R2 resistor 1=B 2=G value=1k\npart U1 block 1=B 2=G\n"
                                "condition on\n  supply plus=A minus=G voltage=230 limit=1\ncondition cold\n");
  solved = run ("solve", "high.leafboard", NULL);
  assert_int_equal (solved.status, 0);
  assert_non_null (strstr (solved.out, "net A                  230 V   above 60 V: dangerous to touch\n"));
  assert_non_null (strstr (solved.out, "unknown inside: U1;"));
  assert_non_null (strstr (solved.out, "cold\n  no supply: 0 V everywhere\n"));
}

/* Grob, Basic Electronics, ex. 4-6: 24 V; series 150, 120, 180, 150 ohm; readings 0, 0, 24, 0 V: the third resistor is open. */
static const char *const series = "board \"Series\"\nreference G\n"
                                  "part R1 resistor 1=A 2=B value=150\npart R2 resistor 1=B 2=C value=120\n"
                                  "part R3 resistor 1=C 2=D value=180\npart R4 resistor 1=D 2=G value=150\n"
                                  "condition on\n  supply plus=A minus=G voltage=24 limit=1\n";
static const char *const series_job = "job \"Series\"\nboard \"series.leafboard\"\nunit u suspect\n"
                                      "reading u on across=R1 volts=0.00\nreading u on across=R2 volts=0.00\n"
                                      "reading u on across=R3 volts=24.00\nreading u on across=R4 volts=0.00\n";

static void
test_judge_names_the_published_fault (void **state)
{
  g_autoptr (JsonParser) parser = json_parser_new ();
  g_auto (Run) judged = { 0 };
  g_auto (Run) again = { 0 };
  JsonObject *verdict, *part;
  double sum;
  JsonArray *explanations;

  write_file ("series.leafboard", series);
  write_file ("series.leafjob", series_job);
  judged = run ("judge", "series.leafjob", "--json", NULL);
  again = run ("judge", "series.leafjob", "--json", NULL);
  assert_int_equal (judged.status, 0);
  assert_string_equal (judged.out, again.out);
  verdict = parse (parser, judged.out);
  part = json_array_get_object_element (json_object_get_array_member (verdict, "parts"), 2);
  assert_string_equal (json_object_get_string_member (part, "part"), "R3");
  assert_string_equal (json_object_get_string_member (part, "verdict"), "suspect");
  explanations = json_object_get_array_member (verdict, "explanations");
  sum = json_object_get_double_member (verdict, "rest_probability");
  for (guint i = 0; i < json_array_get_length (explanations); i++)
    sum += json_object_get_double_member (json_array_get_object_element (explanations, i), "probability");
  assert_near (sum, 1, 1e-9, 0);
  assert_int_equal (json_array_get_length (json_object_get_array_member (verdict, "readings")), 4);
  assert_int_equal (json_array_get_length (json_object_get_array_member (verdict, "links")), 0);
  assert_int_equal (json_array_get_length (json_object_get_array_member (verdict, "compared")), 0);
  assert_true (json_object_has_member (verdict, "readings_left"));
}

/* Standard input, and files under any name: what they say tells what they are. */
static void
test_a_file_is_what_it_says (void **state)
{
  g_auto (Run) board = { 0 };
  g_auto (Run) job = { 0 };
  g_autofree char *out = NULL, *said = NULL;
  int status = 0;

  write_file ("series.leafboard", series);
  write_file ("ladder.txt", ladder);
  write_file ("series.txt", series_job);
  board = run ("check", "ladder.txt", NULL);
  assert_int_equal (board.status, 0);
  assert_non_null (strstr (board.out, "4 parts"));
  job = run ("check", "series.txt", NULL);
  assert_int_equal (job.status, 0);
  assert_non_null (strstr (job.out, "1 unit, 4 readings"));
  out = shell ("$M judge - <series.txt", &status);
  assert_int_equal (status, 0);
  assert_true (g_str_has_prefix (out, "Series: unit u, pass 1\nProbably: R3 open.\n"));
  said = shell ("echo 'part R1 resistr' | $M check -", &status);
  assert_int_equal (status, 3);
  assert_non_null (strstr (said, "stdin:1:9: error: "));
}

/* In the C locale of a plain shell, and where the comma is the decimal mark, names and figures are those of the files. */
static void
test_every_locale_prints_the_same (void **state)
{
  g_autofree char *plain = NULL, *comma = NULL, *json = NULL;
  int status = 0;

  write_file ("names.leafboard", "part R1 resistor 1=Überlauf 2=扇 value=4k7\npart R2 resistor 1=Überlauf 2=扇 value=1M\nreference 扇\n"
                                 "condition größe\n  supply plus=Überlauf minus=扇 voltage=1.5 limit=1\n");
  plain = shell ("LC_ALL=C $M solve names.leafboard --condition größe", &status);
  assert_int_equal (status, 0);
  assert_non_null (strstr (plain, "net Überlauf           1.5 V\n"));
  assert_non_null (strstr (plain, "1.5 µA"));
  comma = shell ("LC_ALL=de_DE.UTF-8 $M solve names.leafboard --condition größe", &status);
  assert_int_equal (status, 0);
  assert_string_equal (comma, plain);
  json = shell ("LC_ALL=C $M solve names.leafboard --json", &status);
  assert_int_equal (status, 0);
  assert_non_null (strstr (json, "\"扇\" : 0"));
}

static void
test_a_pass_that_is_not_there_is_refused (void **state)
{
  g_auto (Run) third = { 0 };
  g_auto (Run) zero = { 0 };
  g_auto (Run) second = { 0 };
  g_auto (Run) drawn = { 0 };

  write_file ("series.leafboard", series);
  write_file ("series.leafjob", series_job);
  third = run ("judge", "series.leafjob", "--pass", "3", NULL);
  assert_int_equal (third.status, 3);
  assert_non_null (strstr (third.err, "unit u has 1 pass, not 3"));
  zero = run ("judge", "series.leafjob", "--pass", "0", NULL);
  assert_int_equal (zero.status, 2);
  write_file ("second.leafjob", "board \"series.leafboard\"\nunit u suspect\nreading u on across=R1 volts=5.99\npass u 2\n");
  second = run ("judge", "second.leafjob", "--pass", "2", NULL);
  assert_int_equal (second.status, 0);
  assert_non_null (strstr (second.out, "there are no readings of u in pass 2 yet"));
  drawn = run ("draw", "series.leafjob", "--pass", "3", "-o", "never.png", NULL);
  assert_int_equal (drawn.status, 3);
}

/* A full disk: Linux' /dev/full refuses every byte. A picture never takes the place of a device or a folder, nor of a link to one. */
static void
test_output_that_cannot_be_written_is_said (void **state)
{
  g_autofree char *said = NULL;
  g_autofree char *link = g_build_filename (folder, "full.png", NULL), *sub = g_build_filename (folder, "sub.png", NULL);
  g_auto (Run) device = { 0 };
  g_auto (Run) inside = { 0 };
  g_auto (Run) nowhere = { 0 };
  g_auto (Run) strange = { 0 };
  int status = 0;

  write_file ("ladder.leafboard", ladder);
  said = shell ("$M solve ladder.leafboard >/dev/full", &status);
  assert_int_equal (status, 4);
  assert_non_null (strstr (said, "the output could not be written"));
  assert_int_equal (symlink ("/dev/full", link), 0);
  device = run ("draw", "ladder.leafboard", "-o", "full.png", NULL);
  assert_int_equal (device.status, 4);
  assert_non_null (strstr (device.err, "a device or a pipe"));
  assert_true (g_file_test (link, G_FILE_TEST_IS_SYMLINK));
  assert_int_equal (g_mkdir (sub, 0700), 0);
  inside = run ("draw", "ladder.leafboard", "-o", "sub.png", NULL);
  assert_int_equal (inside.status, 4);
  assert_non_null (strstr (inside.err, "sub.png could not be saved: it is a folder"));
  assert_int_equal (g_rmdir (sub), 0);
  nowhere = run ("draw", "ladder.leafboard", "-o", "no/such/folder/p.png", NULL);
  assert_int_equal (nowhere.status, 4);
  assert_non_null (strstr (nowhere.err, "no/such/folder/p.png could not be saved"));
  strange = run ("draw", "ladder.leafboard", "-o", "p.bmp", NULL);
  assert_int_equal (strange.status, 2);
}

/* What is worked on side by side must not show: to the last digit the answer of one thread, which does it all in order. */
static void
test_judge_answers_the_same_on_any_number_of_threads (void **state)
{
  const char *source = g_getenv ("METERLEAF_SOURCE");
  g_autofree char *job = g_build_filename (source, "boards", "dust-switch.leafjob", NULL);
  g_autofree char *alone_line = g_strdup_printf ("METERLEAF_THREADS=1 $M judge --json '%s'", job);
  g_autofree char *alone = NULL;
  int status;

  alone = shell (alone_line, &status);
  assert_int_equal (status, 0);
  for (guint n = 2; n <= 8; n += 3)
    {
      g_autofree char *line = g_strdup_printf ("METERLEAF_THREADS=%u $M judge --json '%s'", n, job), *together = shell (line, &status);

      assert_int_equal (status, 0);
      assert_string_equal (together, alone);
    }
}

/* A resistor that is seen lit tells nothing; that its line does not count is said with its number. */
static void
test_judge_says_what_it_leaves_out (void **state)
{
  g_auto (Run) judged = { 0 };

  write_file ("series.leafboard", series);
  write_file ("lit.leafjob", "board \"series.leafboard\"\nunit u suspect\nreading u on across=R1 volts=5.99\nseen u on R2 lit\n");
  judged = run ("judge", "lit.leafjob", NULL);
  assert_int_equal (judged.status, 0);
  assert_true (g_str_has_prefix (judged.err, "lit.leafjob:4: warning: R2 is a resistor"));
}

/* A heater does not click, and a motor has brushes. */
static void
test_what_is_not_seen_suits_the_part (void **state)
{
  g_auto (Run) judged = { 0 };

  write_file ("coils.leafboard", "reference G\npart M1 coil 1=A 2=G show=motor\npart H1 coil 1=A 2=G show=heater\npart K1 coil 1=A 2=G\n"
                                 "condition on\n  supply plus=A minus=G voltage=12 limit=1\n");
  write_file ("coils.leafjob", "board \"coils.leafboard\"\nunit u suspect\nreading u on red=A volts=12.0\n");
  judged = run ("judge", "coils.leafjob", NULL);
  assert_int_equal (judged.status, 0);
  assert_non_null (strstr (judged.out, "  M1: a few shorted turns, worn brushes"));
  assert_non_null (strstr (judged.out, "  H1: a few shorted turns do not show"));
  assert_non_null (strstr (judged.out, "  K1: a few shorted turns, or a sticking armature"));
}

static void
test_a_job_without_a_suspect_ends_with_three (void **state)
{
  g_auto (Run) judged = { 0 };
  g_auto (Run) not_a_job = { 0 };

  write_file ("series.leafboard", series);
  write_file ("good.leafjob", "job \"x\"\nboard \"series.leafboard\"\nunit u good\nreading u on across=R1 volts=6.00\n");
  judged = run ("judge", "good.leafjob", NULL);
  assert_int_equal (judged.status, 3);
  assert_non_null (strstr (judged.err, "suspect"));
  not_a_job = run ("judge", "series.leafboard", NULL);
  assert_int_equal (not_a_job.status, 3);
}

static void
test_draw_writes_each_kind_of_picture (void **state)
{
  const struct { const char *name, *magic; } pictures[] = { { "p.png", "\x89PNG" }, { "p.svg", "<?xml" }, { "p.pdf", "%PDF-" } };

  write_file ("series.leafboard", series);
  write_file ("series.leafjob", series_job);
  for (gsize i = 0; i < G_N_ELEMENTS (pictures); i++)
    {
      g_auto (Run) drawn = run ("draw", "series.leafjob", "-o", pictures[i].name, "--flow", NULL);
      g_autofree char *path = g_build_filename (folder, pictures[i].name, NULL);
      g_autofree char *content = NULL;
      gsize length = 0;

      assert_int_equal (drawn.status, 0);
      assert_true (g_file_get_contents (path, &content, &length, NULL));
      assert_true (length > 500);
      assert_memory_equal (content, pictures[i].magic, strlen (pictures[i].magic));
    }
  {
    g_auto (Run) strange = run ("draw", "series.leafjob", "-o", "p.bmp", NULL);
    g_auto (Run) nowhere = run ("draw", "series.leafjob", "-o", "no/such/folder/p.png", NULL);

    assert_int_not_equal (strange.status, 0);
    assert_int_not_equal (nowhere.status, 0);
    assert_non_null (strstr (strange.err, "bmp"));
  }
}

static char *
printed_by (const char *program, const char *file)
{
  g_autofree char *path = g_build_filename (folder, file, NULL), *command = g_strdup_printf ("%s '%s'%s", program, path, strcmp (program, "pdftotext") == 0 ? " -" : "");
  char *text = NULL;

  assert_true (g_spawn_command_line_sync (command, &text, NULL, NULL, NULL));
  return text;
}

static void
assert_says (const char *text, const char *words)
{
  if (strstr (text, words) == NULL)
    fail_msg ("'%s' is not in:\n%s", words, text);
}

/* What a board does not have, and a unit beside itself, is refused, not left away without a word. */
static void
test_draw_refuses_what_it_would_leave_away (void **state)
{
  static const struct { const char *file, *option, *value, *words; } table[] = {
    { "series.leafboard", "--pass", "1", "--pass needs a job" }, { "series.leafboard", "--unit", "u", "--unit needs a job" },
    { "series.leafboard", "--compare", "u", "--compare needs a job" }, { "series.leafjob", "--compare", "u", "name another one" },
    { "series.leafjob", "--compare", "nobody", "the job has: u" }, { "good.leafjob", "--pass", "1", "marked suspect" },
    { "good.leafjob", "--compare", "u", "marked suspect" },
  };

  write_file ("series.leafboard", series);
  write_file ("series.leafjob", series_job);
  write_file ("good.leafjob", "board \"series.leafboard\"\nunit u good\n");
  for (gsize i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_auto (Run) drawn = run ("draw", table[i].file, "-o", "refused.png", table[i].option, table[i].value, NULL);
      g_autofree char *path = g_build_filename (folder, "refused.png", NULL);

      assert_int_equal (drawn.status, 3);
      assert_says (drawn.err, table[i].words);
      assert_false (g_file_test (path, G_FILE_TEST_EXISTS));
    }
}

/* 12 V here, 11.5 V there, taken the other way round: the difference is 500 mV. */
static void
test_draw_compares_with_another_unit (void **state)
{
  g_auto (Run) drawn = { 0 };
  g_autofree char *text = NULL;

  write_file ("series.leafboard", series);
  write_file ("two.leafjob", "board \"series.leafboard\"\nunit u suspect\nunit spare good\nreading u on red=A black=G volts=12.0\n"
                             "reading spare on red=G black=A volts=-11.5\n");
  drawn = run ("draw", "two.leafjob", "-o", "two.pdf", "--compare", "spare", NULL);
  assert_string_equal (drawn.err, "");
  assert_int_equal (drawn.status, 0);
  text = printed_by ("pdftotext", "two.pdf");
  assert_says (text, "spare 11.5 V (+500 mV)");
}

/* poppler, a reader that is not ours, finds the words and measures the pages; 595.276 x 841.89 pt is A4 (210 x 297 mm, ISO 216). */
static void
test_report_keeps_what_was_measured_and_done (void **state)
{
  static const char *const words[] = {
    "Two passes", "Unit u: no output", "Compared with unit spare", "new R2", "2026-03-04 10:22", "replaced", "band checked", "Before and after the repair",
    "across R2", "12.00 V", "6.01 V", "Difference", "unplug first", "page 1 of",
  };
  g_autofree char *first = NULL, *second = NULL, *text = NULL, *info = NULL, *a = g_build_filename (folder, "a.pdf", NULL),
                  *b = g_build_filename (folder, "b.pdf", NULL);
  gsize n_first = 0, n_second = 0;

  write_file ("hazard.leafboard", "board \"Divider\"\nreference G\nhazard mains \"unplug first\"\npart R1 resistor 1=P 2=M value=10k\n"
                                  "part R2 resistor 1=M 2=G value=10k\ncondition on\n  supply plus=P minus=G voltage=12 limit=1\n");
  write_file ("passes.leafjob", "job \"Two passes\"\nboard \"hazard.leafboard\"\nunit u suspect \"no output\"\nunit spare good\n"
                                "reading u on across=R2 volts=12.00\nreading spare on across=R2 volts=6.01\n"
                                "log 2026-03-04T10:22 u replaced R2 \"band checked\"\npass u 2 \"new R2\"\nreading u on across=R2 volts=5.99\n");
  g_auto (Run) written = run ("report", "passes.leafjob", "-o", "a.pdf", NULL);
  g_auto (Run) again = run ("report", "passes.leafjob", "-o", "b.pdf", NULL);

  assert_int_equal (written.status, 0);
  assert_int_equal (again.status, 0);
  assert_true (g_file_get_contents (a, &first, &n_first, NULL) && g_file_get_contents (b, &second, &n_second, NULL));
  assert_int_equal (n_first, n_second);
  assert_memory_equal (first, second, n_first);
  text = printed_by ("pdftotext", "a.pdf");
  for (gsize i = 0; i < G_N_ELEMENTS (words); i++)
    assert_says (text, words[i]);
  info = printed_by ("pdfinfo", "a.pdf");
  assert_says (info, "595.276 x 841.89 pts (A4)");
  assert_says (info, "2026");
}

/* On each page it is said of what condition the readings are. */
static void
test_report_tells_on_each_page_what_it_is_about (void **state)
{
  g_autoptr (GString) board = g_string_new ("board \"Ladder\"\nreference N0\n");
  g_autoptr (GString) job = g_string_new ("board \"ladder.leafboard\"\nunit u suspect\n");
  g_autofree char *text = NULL;
  guint n_pages = 0;

  for (guint i = 1; i <= 40; i++)
    {
      g_string_append_printf (board, "part R%u resistor 1=N%u 2=N%u value=10k\n", i, i, i - 1);
      g_string_append_printf (job, "reading u hot across=R%u volts=300m\n", i);
    }
  g_string_append (board, "condition hot\n  supply plus=N40 minus=N0 voltage=12 limit=1\n");
  write_file ("ladder.leafboard", board->str);
  write_file ("ladder.leafjob", job->str);
  g_auto (Run) written = run ("report", "ladder.leafjob", "-o", "ladder.pdf", "--page", "a5", NULL);

  assert_int_equal (written.status, 0);
  text = printed_by ("pdftotext", "ladder.pdf");
  g_auto (GStrv) pages = g_strsplit (text, "\f", -1);
  for (guint i = 0; pages[i] != NULL; i++)
    if (strstr (pages[i], "across R") != NULL)
      {
        n_pages++;
        assert_non_null (strstr (pages[i], "Condition hot"));
      }
  assert_true (n_pages > 1);
  /* a job without a title of its own is called as its board, once */
  assert_true (g_str_has_prefix (text, "Ladder\n"));
  assert_null (strstr (text + strlen ("Ladder"), "\nLadder\n"));
  assert_non_null (strstr (text, "Ladder, unit u"));
}

/* Nobody named anything: places are told by pins that the drawing shows, and paper bears the file's name. */
static void
test_what_nobody_named_is_told_by_what_can_be_seen (void **state)
{
  write_file ("pump.leafboard", "reference M\npart J1 connector 1=N1 2=M\npart R1 resistor 1=N1 2=N2 value=10k\npart R2 resistor 1=N2 2=M value=10k\n"
                                "condition on\n  supply plus=N1 minus=M voltage=12 limit=1\n  load plus=N2 minus=M value=100k\n");
  write_file ("pump.leafjob", "board \"pump.leafboard\"\nunit u suspect\nreading u on red=N1 volts=12.00\nreading u on red=N2 volts=11.98\n");
  g_auto (Run) report = run ("report", "pump.leafjob", "-o", "pump.pdf", NULL);
  g_auto (Run) draw = run ("draw", "pump.leafjob", "-o", "drawn.pdf", NULL);
  g_auto (Run) judge = run ("judge", "pump.leafjob", NULL);
  g_auto (Run) json = run ("judge", "pump.leafjob", "--json", NULL);
  g_autofree char *text = printed_by ("pdftotext", "pump.pdf"), *drawn = printed_by ("pdftotext", "drawn.pdf");

  assert_int_equal (report.status, 0);
  assert_true (g_str_has_prefix (text, "pump\n"));
  assert_non_null (strstr (text, "from J1.1 to M, limit"));
  assert_non_null (strstr (text, "from R1.2 to M")); /* the load */
  assert_null (strstr (text, "N1"));
  assert_null (strstr (text, "N2"));
  assert_non_null (strstr (drawn, "pump: unit u, condition on"));
  assert_null (strstr (judge.out, "N1"));
  assert_null (strstr (judge.out, "N2"));
  assert_non_null (strstr (json.out, "\"red\" : \"N1\"")); /* as the file names it, and 'solve' */
  /* and what is told so is understood */
  g_auto (Run) by_pin = run ("solve", "pump.leafboard", "--suppose", "stray-link nets=J1.1,R1.2", "--json", NULL);
  g_auto (Run) by_name = run ("solve", "pump.leafboard", "--suppose", "stray-link nets=N1,N2", "--json", NULL);
  assert_int_equal (by_pin.status, 0);
  assert_string_equal (by_pin.out, by_name.out);
  g_auto (Run) solved = run ("solve", "pump.leafboard", NULL);
  assert_non_null (strstr (solved.out, "12 V   at J1.1\n"));
}

/* A job is UTF-8 text, the name of a file any bytes: which line it is, and the way out. */
static void
test_a_board_file_whose_name_is_no_text_is_to_be_renamed (void **state)
{
  int status = 0;

  write_file ("bytes.leafjob", "job \"x\"\nboard \"valve\377.leafboard\"\nunit a suspect\n");
  g_autofree char *said = shell ("$M check bytes.leafjob 2>&1", &status);
  assert_int_equal (status, 3);
  assert_non_null (strstr (said, "bytes.leafjob:2: error: "));
  assert_non_null (strstr (said, "rename the board's file"));
  assert_null (strstr (said, "names no board"));
}

static void
test_draw_says_what_it_cannot_take (void **state)
{
  write_file ("series.leafboard", series);
  g_auto (Run) dots = run ("draw", "series.leafboard", "-o", "p.png", "--dpi", "0", NULL);
  g_auto (Run) nameless = run ("draw", "series.leafboard", "-o", "", NULL);
  g_auto (Run) nothing = run ("draw", "", "-o", "p.png", NULL);

  assert_int_equal (dots.status, 2);
  assert_non_null (strstr (dots.err, "72 to 600"));
  assert_int_equal (nameless.status, 2);
  assert_non_null (strstr (nameless.err, "-o names no file"));
  assert_int_equal (nothing.status, 3);
  assert_non_null (strstr (nothing.err, "the name of the file is empty"));
}

static void
test_report_says_what_it_cannot_take (void **state)
{
  write_file ("series.leafboard", series);
  write_file ("series.leafjob", series_job);
  g_auto (Run) nowhere = run ("report", "series.leafjob", NULL);
  g_auto (Run) strange = run ("report", "series.leafjob", "-o", "r.png", NULL);
  g_auto (Run) page = run ("report", "series.leafjob", "-o", "r.pdf", "--page", "a3", NULL);
  g_auto (Run) both = run ("report", "series.leafjob", "-o", "r.pdf", "--portrait", "--landscape", NULL);
  g_auto (Run) board = run ("report", "series.leafboard", "-o", "r.pdf", NULL);
  g_auto (Run) unit = run ("report", "series.leafjob", "-o", "r.pdf", "--unit", "nobody", NULL);
  g_auto (Run) turned = run ("draw", "series.leafjob", "-o", "p.png", "--landscape", NULL);
  g_auto (Run) dots = run ("draw", "series.leafjob", "-o", "p.png", "--dpi", "nan", NULL);

  assert_int_equal (nowhere.status, 2);
  assert_int_equal (strange.status, 2);
  assert_non_null (strstr (strange.err, ".pdf"));
  assert_int_equal (page.status, 2);
  assert_non_null (strstr (page.err, "a4, a5 or letter"));
  assert_int_equal (both.status, 2);
  assert_int_equal (board.status, 3);
  assert_int_equal (unit.status, 3);
  assert_non_null (strstr (unit.err, "nobody"));
  assert_int_equal (turned.status, 2);
  assert_non_null (strstr (turned.err, "--page"));
  assert_int_equal (dots.status, 2);
}

/* The picture is looked for beside the board, not in the current folder; the SVG written holds the picture's own red. */
static void
test_draw_on_the_picture_of_the_board (void **state)
{
  g_autofree char *path = g_build_filename (folder, "p.svg", NULL), *content = NULL, *sub = g_build_filename (folder, "sub", NULL);

  write_file ("plain.leafboard", "board \"x\"\nreference G\npart R1 resistor 1=A 2=G value=1k\n");
  assert_int_equal (g_mkdir (sub, 0700), 0);
  write_file ("sub/board.leafboard", "board \"x\"\nreference G\npart R1 resistor 1=A 2=G value=1k\npicture \"red.svg\" scale=10/mm\n"
                                     "  pad R1.1 x=20 y=50\n  pad R1.2 x=180 y=50\npicture \"gone.png\" side=bottom mirror\n"
                                     "condition on\n  supply plus=A minus=G voltage=5 limit=1\n");
  write_file ("sub/red.svg", "<svg xmlns='http://www.w3.org/2000/svg' width='200' height='100'><rect width='200' height='100' fill='#f00'/></svg>");
  {
    g_auto (Run) drawn = run ("draw", "sub/board.leafboard", "--picture", "-o", "p.svg", NULL);
    g_auto (Run) none = run ("draw", "plain.leafboard", "--picture", "-o", "q.svg", NULL);
    g_auto (Run) gone = run ("draw", "sub/board.leafboard", "--picture", "--side", "bottom", "-o", "q.svg", NULL);
    g_auto (Run) usage = run ("draw", "sub/board.leafboard", "--side", "bottom", "-o", "q.svg", NULL);

    assert_int_equal (drawn.status, 0);
    assert_true (g_file_get_contents (path, &content, NULL, NULL));
    assert_non_null (strstr (content, "rgb(100%,0%,0%)"));
    assert_int_equal (none.status, 3);
    assert_non_null (strstr (none.err, "no picture"));
    assert_int_equal (gone.status, 3);
    assert_non_null (strstr (gone.err, "gone.png"));
    assert_int_equal (usage.status, 2);
  }
  write_file ("sub/job.leafjob", "job \"x\"\nboard \"board.leafboard\"\nunit u suspect\nreading u on across=R1 volts=5\n");
  {
    g_auto (Run) checked = run ("check", "sub/board.leafboard", NULL);
    g_auto (Run) reported = run ("report", "sub/job.leafjob", "-o", "r.pdf", NULL);
    g_autofree char *text = printed_by ("pdftotext", "r.pdf");

    assert_int_equal (checked.status, 0);
    assert_non_null (strstr (checked.err, "gone.png"));
    assert_null (strstr (checked.err, "red.svg"));
    assert_int_equal (reported.status, 0);
    assert_says (text, "On the board, condition on");
  }
  for (const char *const *name = (const char *const[]) { "board.leafboard", "red.svg", "job.leafjob", NULL }; *name != NULL; name++)
    {
      g_autofree char *file = g_build_filename (sub, *name, NULL);
      g_unlink (file);
    }
  g_rmdir (sub);
}

static void
test_a_net_that_floats_is_null_and_the_rest_is_solved (void **state)
{
  g_autoptr (JsonParser) parser = json_parser_new ();
  g_auto (Run) solved = { 0 };
  JsonObject *condition, *nets;

  write_file ("floating.leafboard", "board \"x\"\nreference G\npart R1 resistor 1=A 2=G value=1k\npart R2 resistor 1=X 2=Y value=1k\n"
                                    "condition on\n  supply plus=A minus=G voltage=5 limit=1\n");
  solved = run ("solve", "floating.leafboard", "--json", NULL);
  assert_int_equal (solved.status, 0);
  condition = json_array_get_object_element (json_object_get_array_member (parse (parser, solved.out), "conditions"), 0);
  nets = json_object_get_object_member (condition, "nets");
  assert_near (json_object_get_double_member (nets, "A"), 5, 1e-3, 0);
  assert_true (json_object_get_null_member (nets, "X"));
  assert_true (json_object_get_null_member (nets, "Y"));
}

static int
set_up (void **state)
{
  folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  return folder == NULL;
}

static int
tear_down (void **state)
{
  g_autoptr (GDir) dir = g_dir_open (folder, 0, NULL);
  const char *name;

  while ((name = g_dir_read_name (dir)) != NULL)
    {
      g_autofree char *path = g_build_filename (folder, name, NULL);
      g_unlink (path);
    }
  g_rmdir (folder);
  g_clear_pointer (&folder, g_free);
  return 0;
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_help_names_every_command_and_ends_well),
    cmocka_unit_test (test_usage_errors_end_with_two),
    cmocka_unit_test (test_without_a_display_the_window_says_so),
    cmocka_unit_test (test_a_slip_of_the_command_is_named),
    cmocka_unit_test (test_check_counts_the_errors_of_a_file),
    cmocka_unit_test (test_counts_are_said_in_the_singular_too),
    cmocka_unit_test (test_check_tells_file_line_and_column_of_every_error),
    cmocka_unit_test (test_a_missing_file_ends_with_three),
    cmocka_unit_test (test_a_misspelt_board_is_pointed_to),
    cmocka_unit_test (test_a_missing_board_is_said_once),
    cmocka_unit_test (test_solve_agrees_with_the_published_circuit),
    cmocka_unit_test (test_suppose_changes_what_solve_computes),
    cmocka_unit_test (test_suppose_refuses_what_cannot_be),
    cmocka_unit_test (test_solve_flags_what_is_dangerous_and_skips_what_is_dead),
    cmocka_unit_test (test_judge_names_the_published_fault),
    cmocka_unit_test (test_a_file_is_what_it_says),
    cmocka_unit_test (test_every_locale_prints_the_same),
    cmocka_unit_test (test_a_pass_that_is_not_there_is_refused),
    cmocka_unit_test (test_output_that_cannot_be_written_is_said),
    cmocka_unit_test (test_judge_answers_the_same_on_any_number_of_threads),
    cmocka_unit_test (test_judge_says_what_it_leaves_out),
    cmocka_unit_test (test_what_is_not_seen_suits_the_part),
    cmocka_unit_test (test_a_job_without_a_suspect_ends_with_three),
    cmocka_unit_test (test_draw_writes_each_kind_of_picture),
    cmocka_unit_test (test_draw_refuses_what_it_would_leave_away),
    cmocka_unit_test (test_draw_compares_with_another_unit),
    cmocka_unit_test (test_report_keeps_what_was_measured_and_done),
    cmocka_unit_test (test_report_tells_on_each_page_what_it_is_about),
    cmocka_unit_test (test_what_nobody_named_is_told_by_what_can_be_seen),
    cmocka_unit_test (test_a_board_file_whose_name_is_no_text_is_to_be_renamed),
    cmocka_unit_test (test_draw_says_what_it_cannot_take),
    cmocka_unit_test (test_report_says_what_it_cannot_take),
    cmocka_unit_test (test_draw_on_the_picture_of_the_board),
    cmocka_unit_test (test_a_net_that_floats_is_null_and_the_rest_is_solved),
  };
  return cmocka_run_group_tests (tests, set_up, tear_down);
}
