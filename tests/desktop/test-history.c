/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The history against a table of commands and the states they must lead to. The expected states follow from what undo and redo mean in
 * any editor (common practice, no source); none of them comes from this program. */
#include "support/near.h"

#include "desktop/history.h"

static MlText *
text (const char *bytes)
{
  return ml_text_new ("test", bytes, -1);
}

static void
push (MlHistory *history, const char *board, const char *job, const char *label, const char *merge)
{
  g_autoptr (MlText) board_text = board ? text (board) : NULL;
  g_autoptr (MlText) job_text = job ? text (job) : NULL;
  ml_history_push (history, board_text, job_text, label, merge);
}

static void
assert_text (MlText *actual, const char *expected)
{
  g_autoptr (GBytes) bytes = ml_text_to_bytes (actual);
  gsize length = 0;
  const char *data = g_bytes_get_data (bytes, &length);
  g_autofree char *copy = g_strndup (data ? data : "", length);
  assert_string_equal (copy, expected);
}

/* One letter per command: lower case a..z pushes that letter as the board with label and no merge word; A..Z pushes it with merge word "m";
 * < undo, > redo, | barrier, ! save, ? forget that anything was saved. */
static void
run (MlHistory *history, const char *commands)
{
  for (const char *c = commands; *c; c++)
    {
      char word[] = { *c, '\0' };
      switch (*c)
        {
        case '<': ml_history_undo (history); break;
        case '>': ml_history_redo (history); break;
        case '|': ml_history_barrier (history); break;
        case '!': ml_history_mark_saved (history, ML_HISTORY_BOTH); break;
        case '?': ml_history_forget_saved (history, ML_HISTORY_BOTH); break;
        default: push (history, word, NULL, word, g_ascii_isupper (*c) ? "m" : NULL); break;
        }
    }
}

typedef struct
{
  const char *commands, *board, *undo, *redo; /* labels, NULL: nothing to undo or redo */
  gboolean saved;
} Case;

static const Case cases[] = {
  { "", "0", NULL, NULL, TRUE },
  { "<", "0", NULL, NULL, TRUE },          /* nothing to undo: nothing happens */
  { ">", "0", NULL, NULL, TRUE },
  { "a", "a", "a", NULL, FALSE },
  { "a<", "0", NULL, "a", TRUE },          /* undone to what the file holds: saved */
  { "a<>", "a", "a", NULL, FALSE },
  { "ab<", "a", "a", "b", FALSE },
  { "ab<<", "0", NULL, "a", TRUE },
  { "ab<c", "c", "c", NULL, FALSE },       /* what was undone is forgotten */
  { "ab<c<", "a", "a", "c", FALSE },
  { "ab<c>", "c", "c", NULL, FALSE },
  { "AB", "B", "A", NULL, FALSE },         /* merged: one step, with its first label */
  { "AB<", "0", NULL, "A", TRUE },
  { "AB<>", "B", "A", NULL, FALSE },
  { "A|B<", "A", "A", "B", FALSE },        /* barrier */
  { "AbC<", "b", "b", "C", FALSE },        /* another step between: not merged */
  { "AB<>C<", "B", "A", "C", FALSE },      /* after undo and redo a new step begins */
  { "a!", "a", "a", NULL, TRUE },
  { "a!<", "0", NULL, "a", FALSE },        /* undone past the save */
  { "a!<>", "a", "a", NULL, TRUE },
  { "a!b<", "a", "a", "b", TRUE },
  { "A!B<", "A", "A", "B", TRUE },         /* a save keeps its state */
  { "a!ba", "a", "a", NULL, TRUE },        /* typed again what the file holds */
  { "?", "0", NULL, NULL, FALSE },
  { "a?<", "0", NULL, "a", FALSE },
};

static void
test_history_commands_lead_to_expected_states (void **state)
{
  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      const Case *c = &cases[i];
      g_autoptr (MlText) board = text ("0"), job = text ("j");
      g_autoptr (MlHistory) history = ml_history_new (board, job, NULL);
      run (history, c->commands);
      print_message ("case %u: %s\n", i, c->commands);
      assert_text (ml_history_board (history), c->board);
      assert_text (ml_history_job (history), "j");
      assert_int_equal (g_strcmp0 (ml_history_undo_label (history), c->undo), 0);
      assert_int_equal (g_strcmp0 (ml_history_redo_label (history), c->redo), 0);
      assert_int_equal (ml_history_is_saved (history, ML_HISTORY_BOTH), c->saved);
    }
}

static void
test_history_texts_are_saved_apart (void **state)
{
  g_autoptr (MlText) board = text ("0"), job = text ("j");
  g_autoptr (MlHistory) history = ml_history_new (board, job, NULL);
  push (history, "1", "k", "both", NULL);
  ml_history_mark_saved (history, ML_HISTORY_JOB);
  assert_true (ml_history_is_saved (history, ML_HISTORY_JOB));
  assert_false (ml_history_is_saved (history, ML_HISTORY_BOARD));
  assert_false (ml_history_is_saved (history, ML_HISTORY_BOTH));
  ml_history_undo (history);
  assert_false (ml_history_is_saved (history, ML_HISTORY_JOB));
  assert_true (ml_history_is_saved (history, ML_HISTORY_BOARD));
}

static guint n_freed;

static void
count_free (gpointer keepsake)
{
  n_freed++;
  g_free (keepsake);
}

static void
test_history_keepsake_comes_back_with_its_state (void **state)
{
  g_autoptr (MlText) board = text ("0"), job = text ("j");
  MlHistory *history = ml_history_new (board, job, count_free);
  n_freed = 0;
  ml_history_set_keepsake (history, g_strdup ("first"));
  run (history, "a");
  assert_null (ml_history_keepsake (history));
  ml_history_set_keepsake (history, g_strdup ("second"));
  run (history, "<");
  assert_string_equal (ml_history_keepsake (history), "first");
  run (history, ">");
  assert_string_equal (ml_history_keepsake (history), "second");
  ml_history_set_keepsake (history, g_strdup ("third"));
  assert_int_equal (n_freed, 1);
  ml_history_free (history);
  assert_int_equal (n_freed, 3);
}

static void
test_history_old_keepsakes_go_and_states_stay (void **state)
{
  g_autoptr (MlText) board = text ("0"), job = text ("j");
  MlHistory *history = ml_history_new (board, job, count_free);
  guint n = ML_HISTORY_MAX_KEEPSAKES + 20;
  n_freed = 0;
  for (guint i = 0; i < n; i++)
    {
      run (history, "a");
      ml_history_set_keepsake (history, g_strdup ("kept"));
    }
  assert_int_equal (n_freed, 20);
  for (guint i = 0; i < n; i++)
    assert_true (ml_history_undo (history));
  assert_text (ml_history_board (history), "0");
  ml_history_free (history);
  assert_int_equal (n_freed, n);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_history_commands_lead_to_expected_states),
    cmocka_unit_test (test_history_texts_are_saved_apart),
    cmocka_unit_test (test_history_keepsake_comes_back_with_its_state),
    cmocka_unit_test (test_history_old_keepsakes_go_and_states_stay),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
