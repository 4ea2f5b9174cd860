/* SPDX-License-Identifier: GPL-3.0-or-later */
/* README.md as a stranger uses it: its files and commands work as printed, and it names every kind, key, fault and option there is. */
#include "support/near.h"

#include <glib/gstdio.h>
#include <string.h>

#include "board/board.h"
#include "verdict/verdict.h"

#define INDENT "    "

static char *folder, *readme, *manual;

static char *
source_file (const char *name)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), name, NULL);
  char *content = NULL;

  assert_true (g_file_get_contents (path, &content, NULL, NULL));
  return content;
}

/* ---- the examples ---- */

/* The command as printed, with the build's program under its name. */
static char *
run (const char *line)
{
  g_autofree char *script = g_strdup_printf ("meterleaf () { '%s/src/command/meterleaf' \"$@\"; }; %s", g_getenv ("METERLEAF_BUILD"), line);
  const char *argv[] = { "/bin/sh", "-c", script, NULL };
  g_autofree char *err = NULL;
  char *out = NULL;
  int wait = 0;

  assert_true (g_spawn_sync (folder, (char **) argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &out, &err, &wait, NULL));
  if (wait != 0 || *err != '\0')
    fail_msg ("%s: status %d\n%s", line, WEXITSTATUS (wait), err);
  return out;
}

/* Figures are no promise of a README: its words are. */
static char *
without_figures (const char *line)
{
  g_autoptr (GRegex) figure = g_regex_new ("[0-9]+(\\.[0-9]+)?", 0, 0, NULL);

  return g_regex_replace_literal (figure, line, -1, 0, "#", 0, NULL);
}

/* The lines shown stand in what was printed, in order; between them only where … is shown. */
static void
assert_printed (const char *command, const GPtrArray *shown, const char *printed)
{
  g_auto (GStrv) lines = g_strsplit (printed, "\n", -1);
  guint at = 0;

  for (guint i = 0; i < shown->len; i++)
    {
      g_autofree char *expected = without_figures (g_ptr_array_index (shown, i));
      const gboolean skip = i > 0 && strcmp (g_ptr_array_index (shown, i - 1), "…") == 0;
      gboolean found = strcmp (expected, "…") == 0;

      while (!found && lines[at] != NULL)
        {
          g_autofree char *line = without_figures (lines[at++]);
          found = strcmp (line, expected) == 0;
          if (!found && !skip)
            break;
        }
      if (!found)
        fail_msg ("%s does not print \"%s\" there but:\n%s", command, (const char *) g_ptr_array_index (shown, i), printed);
    }
}

/* One block of indented lines: a file, or commands with what they print. */
static void
try_block (const GPtrArray *block, guint *n_files, guint *n_commands)
{
  const char *first = g_ptr_array_index (block, 0);

  if (g_str_has_prefix (first, "# ") && (g_str_has_suffix (first, ".leafboard") || g_str_has_suffix (first, ".leafjob")))
    {
      g_autofree char *path = g_build_filename (folder, first + 2, NULL);
      g_autoptr (GString) content = g_string_new (NULL);

      for (guint i = 0; i < block->len; i++)
        g_string_append_printf (content, "%s\n", (const char *) g_ptr_array_index (block, i));
      assert_true (g_file_set_contents (path, content->str, -1, NULL));
      (*n_files)++;
    }
  for (guint i = 0; i < block->len; i++)
    {
      g_autoptr (GPtrArray) shown = g_ptr_array_new ();
      const char *line = g_ptr_array_index (block, i);
      g_autofree char *printed = NULL;

      if (!g_str_has_prefix (line, "$ "))
        continue;
      for (guint k = i + 1; k < block->len && !g_str_has_prefix (g_ptr_array_index (block, k), "$ "); k++)
        g_ptr_array_add (shown, g_ptr_array_index (block, k));
      printed = run (line + 2);
      assert_printed (line, shown, printed);
      (*n_commands)++;
    }
}

static void
test_every_example_works_as_printed (void **state)
{
  g_auto (GStrv) lines = g_strsplit (readme, "\n", -1);
  g_autoptr (GPtrArray) block = g_ptr_array_new ();
  guint n_files = 0, n_commands = 0;

  for (guint i = 0; lines[i] != NULL; i++)
    if (g_str_has_prefix (lines[i], INDENT))
      g_ptr_array_add (block, lines[i] + strlen (INDENT));
    else if (block->len > 0)
      {
        try_block (block, &n_files, &n_commands);
        g_ptr_array_set_size (block, 0);
      }
  assert_true (n_files >= 2 && n_commands >= 7);
}

/* Base names of everything below that folder. */
static void
collect_names (GHashTable *names, const char *path)
{
  g_autoptr (GDir) dir = g_dir_open (path, 0, NULL);
  const char *name;

  while (dir != NULL && (name = g_dir_read_name (dir)) != NULL)
    {
      g_autofree char *inner = g_build_filename (path, name, NULL);

      g_hash_table_add (names, g_strdup (name));
      if (g_file_test (inner, G_FILE_TEST_IS_DIR))
        collect_names (names, inner);
    }
}

/* `kinds.c`, `tests/fuzz/replay.c`, `data/assumptions.table`: what README.md and DEVELOPERS.md send the reader to is there. */
static void
test_every_file_that_is_named_is_there (void **state)
{
  static const char *const folders[] = { "src", "tests", "data", "boards", "ui" };
  g_autoptr (GHashTable) names = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);
  g_autoptr (GRegex) file = g_regex_new ("`([a-z][a-zA-Z0-9/_-]*\\.(?:c|h|sh|table|svg))`", 0, 0, NULL);
  g_autofree char *developers = source_file ("DEVELOPERS.md");
  g_autofree char *both = g_strconcat (readme, developers, NULL);
  g_autoptr (GMatchInfo) match = NULL;
  guint n = 0;

  for (guint i = 0; i < G_N_ELEMENTS (folders); i++)
    {
      g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), folders[i], NULL);
      collect_names (names, path);
    }
  for (g_regex_match (file, both, 0, &match); g_match_info_matches (match); g_match_info_next (match, NULL))
    {
      g_autofree char *name = g_match_info_fetch (match, 1);
      g_autofree char *base = g_path_get_basename (name);
      g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), name, NULL);

      if (strstr (name, "NAME") != NULL) /* stands for any */
        continue;
      if (!g_hash_table_contains (names, base) || (strchr (name, '/') != NULL && !g_file_test (path, G_FILE_TEST_EXISTS)))
        fail_msg ("there is no %s", name);
      n++;
    }
  assert_true (n >= 30);
}

/* ---- nothing left out ---- */

static gboolean
has_word (const char *text, const char *word)
{
  g_autofree char *quoted = g_regex_escape_string (word, -1);
  g_autofree char *pattern = g_strdup_printf ("(?<![\\w-])%s(?![\\w-])", quoted);

  return g_regex_match_simple (pattern, text, 0, 0);
}

/* The row of the table of kinds in whose first cell the word stands; NULL: none. */
static char *
row_of (const char *word)
{
  g_auto (GStrv) lines = g_strsplit (readme, "\n", -1);

  for (guint i = 0; lines[i] != NULL; i++)
    if (g_str_has_prefix (lines[i], "| "))
      {
        g_autofree char *cell = g_strndup (lines[i] + 2, strcspn (lines[i] + 2, "|"));
        if (has_word (cell, word))
          return g_strdup (lines[i]);
      }
  return NULL;
}

static void
test_every_kind_stands_in_the_table_with_pins_and_keys (void **state)
{
  static const char *const common[] = { "value", "tolerance", "power", "current", "reverse", "package", NULL };

  for (guint i = 0; i < ML_N_KINDS; i++)
    {
      const MlKindInfo *kind = ml_kind_info (i);
      g_autofree char *row = row_of (kind->word);

      if (row == NULL)
        fail_msg ("there is no row for %s", kind->word);
      for (guint k = 0; kind->pins[k] != NULL; k++)
        if (!has_word (row, kind->pins[k]))
          fail_msg ("the row of %s lacks the pin %s", kind->word, kind->pins[k]);
      for (guint k = 0; k < kind->n_keys && strstr (row, "as diode") == NULL; k++)
        if (!g_strv_contains (common, kind->keys[k].word) && !has_word (row, kind->keys[k].word))
          fail_msg ("the row of %s lacks the key %s", kind->word, kind->keys[k].word);
    }
  for (guint i = 0; common[i] != NULL; i++)
    {
      g_autofree char *quoted = g_strdup_printf ("`%s`", common[i]);
      assert_non_null (strstr (readme, quoted));
    }
}

static void
test_every_fault_can_be_found (void **state)
{
  for (int kind = 0; kind < ML_N_FAULTS; kind++)
    {
      g_autofree char *quoted = g_strdup_printf ("`%s`", ml_fault_word (kind));

      if (strstr (readme, quoted) == NULL)
        fail_msg ("%s is not explained", quoted);
    }
}

/* The manual page writes its hyphens \-. */
static void
test_every_option_stands_in_readme_and_manual (void **state)
{
  static const char *const commands[] = { "check", "solve", "judge", "draw", "report" };
  g_autoptr (GRegex) option = g_regex_new ("--[a-z]+", 0, 0, NULL);

  for (guint i = 0; i < G_N_ELEMENTS (commands); i++)
    {
      g_autofree char *line = g_strdup_printf ("meterleaf %s --help", commands[i]);
      g_autofree char *help = run (line);
      g_autoptr (GMatchInfo) match = NULL;

      for (g_regex_match (option, help, 0, &match); g_match_info_matches (match); g_match_info_next (match, NULL))
        {
          g_autofree char *word = g_match_info_fetch (match, 0);

          if (strcmp (word, "--help") == 0 || strcmp (word, "--output") == 0) /* that one is always written -o */
            continue;
          if (strstr (readme, word) == NULL || strstr (manual, word) == NULL)
            fail_msg ("%s of %s is not in README.md or not in the manual page", word, commands[i]);
        }
    }
}

static int
set_up (void **state)
{
  g_autofree char *page = source_file ("data/man/meterleaf.1");
  g_auto (GStrv) pieces = g_strsplit (page, "\\-", -1);

  readme = source_file ("README.md");
  manual = g_strjoinv ("-", pieces);
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
  g_clear_pointer (&readme, g_free);
  g_clear_pointer (&manual, g_free);
  return 0;
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_every_example_works_as_printed),
    cmocka_unit_test (test_every_file_that_is_named_is_there),
    cmocka_unit_test (test_every_kind_stands_in_the_table_with_pins_and_keys),
    cmocka_unit_test (test_every_fault_can_be_found),
    cmocka_unit_test (test_every_option_stands_in_readme_and_manual),
  };

  return cmocka_run_group_tests (tests, set_up, tear_down);
}
