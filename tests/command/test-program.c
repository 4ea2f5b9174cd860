/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program as a person runs it: what it prints, where, and its exit status. */
#include "support/near.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>

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
  g_auto (Run) missing = run ("solve", "nowhere.leafboard", NULL);

  assert_int_equal (missing.status, 3);
  assert_non_null (strstr (missing.err, "nowhere.leafboard"));
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
  gsize n_first, n_second;

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
    cmocka_unit_test (test_counts_are_said_in_the_singular_too),
    cmocka_unit_test (test_check_tells_file_line_and_column_of_every_error),
    cmocka_unit_test (test_a_missing_file_ends_with_three),
    cmocka_unit_test (test_solve_agrees_with_the_published_circuit),
    cmocka_unit_test (test_suppose_changes_what_solve_computes),
    cmocka_unit_test (test_judge_names_the_published_fault),
    cmocka_unit_test (test_a_job_without_a_suspect_ends_with_three),
    cmocka_unit_test (test_draw_writes_each_kind_of_picture),
    cmocka_unit_test (test_report_keeps_what_was_measured_and_done),
    cmocka_unit_test (test_report_says_what_it_cannot_take),
    cmocka_unit_test (test_draw_on_the_picture_of_the_board),
    cmocka_unit_test (test_a_net_that_floats_is_null_and_the_rest_is_solved),
  };
  return cmocka_run_group_tests (tests, set_up, tear_down);
}
