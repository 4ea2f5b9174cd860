/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The document without any widget: edits, undo, saving, the drawing and the verdict that follow, and ten kills while readings are typed.
 * What must hold is what the program promises (nothing that was entered is lost, no torn file); the texts compared are those put in. */
#include "support/near.h"

#include <glib/gstdio.h>
#include <math.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "board/edit.h"
#include "board/file.h"
#include "desktop/document.h"

#define PATIENCE_S 60

static const char *program; /* this test, to be started again as the child that is killed */

typedef struct
{
  char *folder, *journals, *job, *board;
  MlDocument *document;
} Fixture;

static void
copy (const char *from, const char *to)
{
  g_autofree char *bytes = NULL;
  gsize length = 0;
  assert_true (g_file_get_contents (from, &bytes, &length, NULL));
  assert_true (g_file_set_contents (to, bytes, (gssize) length, NULL));
}

static char *
demo (const char *name)
{
  return g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", name, NULL);
}

static int
set_up (void **state)
{
  Fixture *fixture = g_new0 (Fixture, 1);
  g_autofree char *job = demo ("dust-switch.leafjob"), *board = demo ("dust-switch.leafboard");
  fixture->folder = g_dir_make_tmp ("leaf-document-XXXXXX", NULL);
  fixture->journals = g_build_filename (fixture->folder, "journals", NULL);
  fixture->job = g_build_filename (fixture->folder, "dust-switch.leafjob", NULL);
  fixture->board = g_build_filename (fixture->folder, "dust-switch.leafboard", NULL);
  copy (job, fixture->job);
  copy (board, fixture->board);
  fixture->document = ml_document_new (fixture->journals);
  *state = fixture;
  return 0;
}

static void
remove_folder (const char *folder)
{
  g_autoptr (GDir) dir = g_dir_open (folder, 0, NULL);
  const char *name;
  while (dir && (name = g_dir_read_name (dir)))
    {
      g_autofree char *path = g_build_filename (folder, name, NULL);
      if (g_unlink (path) != 0)
        remove_folder (path);
    }
  g_rmdir (folder);
}

/* Every test ends with the document gone. */
static void
finish_document (Fixture *fixture)
{
  MlDocument *document = fixture->document;
  g_object_add_weak_pointer (G_OBJECT (document), (gpointer *) &fixture->document);
  g_object_unref (document);
  assert_null (fixture->document);
}

static int
tear_down (void **state)
{
  Fixture *fixture = *state;
  if (fixture->document)
    finish_document (fixture);
  remove_folder (fixture->folder);
  char *strings[] = { fixture->folder, fixture->journals, fixture->job, fixture->board };
  for (guint i = 0; i < G_N_ELEMENTS (strings); i++)
    g_free (strings[i]);
  g_free (fixture);
  return 0;
}

static void
open_demo (Fixture *fixture)
{
  g_autoptr (GError) error = NULL;
  assert_true (ml_document_open (fixture->document, fixture->job, &error));
  assert_null (error);
}

static gboolean
wait_for (gboolean (*done) (MlDocument *), MlDocument *document)
{
  gint64 until = g_get_monotonic_time () + PATIENCE_S * G_USEC_PER_SEC;
  while (!done (document) && g_get_monotonic_time () < until)
    if (!g_main_context_iteration (NULL, FALSE))
      g_usleep (1000);
  return done (document);
}

static gboolean
has_final_verdict (MlDocument *document)
{
  MlVerdict *verdict = ml_document_verdict (document);
  return verdict && verdict->stage == 2 && ml_document_progress (document) < 0.0;
}

static gboolean
has_point (MlDocument *document)
{
  return ml_document_point (document) != NULL;
}

static void
add_part (MlDocument *document, MlKind kind, double x, double y)
{
  MlPlace place = { x, y, 0, FALSE };
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) text = ml_board_edit_add_part (ml_document_board (document), ml_kind_info (kind), NULL, 0, &place, NULL, &error);
  assert_non_null (text);
  ml_document_apply (document, text, NULL, "Add", NULL);
}

static void
join (MlDocument *document, int a, int pin_a, int b, int pin_b)
{
  g_autoptr (MlText) text = ml_board_edit_join_pins (ml_document_board (document), a, pin_a, b, pin_b, NULL);
  assert_non_null (text);
  ml_document_apply (document, text, NULL, "Join", NULL);
}

/* ---- editing ---- */

static guint told;

static void
tell_cb (MlDocument *document, guint changed, gpointer data)
{
  told |= changed;
  /* All is consistent whenever something is told. */
  assert_ptr_equal (ml_document_scene (document)->board, ml_document_board (document));
  assert_ptr_equal (ml_document_job (document)->board, ml_document_board (document));
}

static void
test_document_edits_undo_and_redo (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  g_signal_connect (document, "changed", G_CALLBACK (tell_cb), NULL);
  assert_true (ml_document_is_saved (document));
  assert_false (ml_document_can_undo (document));
  told = 0;
  add_part (document, ML_KIND_RESISTOR, 0, 0);
  assert_true (told & ML_CHANGED_BOARD && told & ML_CHANGED_SCENE && told & ML_CHANGED_HISTORY);
  add_part (document, ML_KIND_LED, 10, 0);
  join (document, 0, 1, 1, 0);
  assert_int_equal (ml_document_board (document)->n_parts, 2);
  assert_int_equal (ml_document_board (document)->parts[0].pins[1].net, ml_document_board (document)->parts[1].pins[0].net);
  assert_string_equal (ml_document_undo_label (document), "Join");
  assert_false (ml_document_is_saved (document));
  ml_document_undo (document);
  assert_int_equal (ml_document_board (document)->parts[0].pins[1].net, -1);
  ml_document_undo (document);
  ml_document_undo (document);
  assert_int_equal (ml_document_board (document)->n_parts, 0);
  assert_true (ml_document_is_saved (document));
  assert_null (ml_document_undo_label (document));
  for (int i = 0; i < 3; i++)
    ml_document_redo (document);
  assert_int_equal (ml_document_board (document)->n_parts, 2);
  assert_null (ml_document_redo_label (document));
}

static void
test_document_drag_stays_where_dropped_and_comes_back_by_undo (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  guint n = ml_document_board (document)->n_parts;
  g_autofree MlPlace *before = g_new (MlPlace, n), *after = g_new (MlPlace, n), *undone = g_new (MlPlace, n);
  ml_layout_places (ml_document_scene (document), before);
  MlPlace place = before[1];
  place.x += 40;
  place.y += 30;
  ml_document_preview_place (document, 1, &place);
  assert_false (ml_document_can_undo (document)); /* nothing is stored while the hand moves */
  ml_document_drop_place (document, 1, &place, "Move");
  ml_layout_places (ml_document_scene (document), after);
  assert_near (after[1].x, place.x, 0, 0);
  assert_near (after[1].y, place.y, 0, 0);
  assert_true (ml_document_board (document)->parts[1].placed);
  for (guint i = 0; i < n; i++)
    if (i != 1)
      assert_memory_equal (&after[i].x, &before[i].x, sizeof (double));
  assert_int_equal (ml_layout_measure (ml_document_scene (document)).misconnected, 0);
  ml_document_undo (document);
  ml_layout_places (ml_document_scene (document), undone);
  assert_near (undone[1].x, before[1].x, 0, 0);
  assert_near (undone[1].y, before[1].y, 0, 0);
}

static void
test_document_selection_and_probes_follow_names (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  for (int i = 0; i < 3; i++)
    add_part (document, ML_KIND_RESISTOR, 8 * i, 0);
  join (document, 1, 0, 2, 0);
  MlProbe red = { ml_document_board (document)->parts[2].pins[0].net, 2, 0, FALSE };
  ml_document_select (document, 2, 0);
  ml_document_set_probes (document, &red, NULL);
  g_autoptr (MlText) text = ml_board_edit_remove_part (ml_document_board (document), 0, NULL);
  ml_document_apply (document, text, NULL, "Remove", NULL);
  int part, pin;
  ml_document_selected (document, &part, &pin);
  assert_int_equal (part, 1);
  assert_int_equal (pin, 0);
  assert_int_equal (ml_document_red (document)->part, 1);
  g_autoptr (MlText) renamed = ml_board_edit_rename_part (ml_document_board (document), 1, "R77", NULL);
  ml_document_apply (document, renamed, NULL, "Rename", NULL);
  ml_document_selected (document, &part, &pin);
  assert_string_equal (ml_document_board (document)->parts[part].name, "R77");
}

static void
test_document_arrange_is_one_step (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  for (int i = 0; i < 3; i++)
    add_part (document, ML_KIND_RESISTOR, 40 * i, 25 * i);
  join (document, 0, 1, 1, 0);
  join (document, 1, 1, 2, 0);
  MlPlace placed[3], back[3];
  ml_layout_places (ml_document_scene (document), placed);
  ml_document_arrange (document);
  assert_false (ml_document_board (document)->parts[0].placed);
  MlBox extent = ml_document_scene (document)->extent;
  assert_true (extent.x1 - extent.x0 < 80.0); /* three parts in a row need no 80 g */
  ml_document_undo (document);
  ml_layout_places (ml_document_scene (document), back);
  for (int i = 0; i < 3; i++)
    assert_near (back[i].x, placed[i].x, 0, 0);
}

/* ---- computing ---- */

static void
test_document_demo_gets_points_and_a_verdict (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  assert_true (wait_for (has_point, document));
  assert_true (ml_document_point (document)->solved);
  assert_true (wait_for (has_final_verdict, document));
  assert_int_equal (ml_document_verdict (document)->n_parts, ml_document_board (document)->n_parts);
  assert_null (ml_document_trouble (document));
  assert_non_null (ml_document_judge (document));
}

static void
count_progress_cb (MlDocument *document, guint changed, gpointer data)
{
  if (changed & (ML_CHANGED_PROGRESS | ML_CHANGED_VERDICT | ML_CHANGED_POINT))
    ++*(guint *) data;
}

static gboolean
has_verdict_on_all (MlDocument *document)
{
  return has_final_verdict (document) && ml_document_verdict (document)->job->n_readings == ml_document_job (document)->n_readings;
}

/* Only what the circuit is decides what is found: moving a part or saving, which writes where the parts stand, computes nothing anew, and pads that
 * are placed one after the other do so only once the hand rests. */
static void
test_document_moving_things_about_computes_nothing_anew (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  guint computed = 0;
  open_demo (fixture);
  assert_true (wait_for (has_final_verdict, document));
  MlVerdict *verdict = ml_document_verdict (document);
  g_signal_connect (document, "changed", G_CALLBACK (count_progress_cb), &computed);
  MlPlace place = { 60, 40, 0, FALSE };
  ml_document_preview_place (document, 1, &place);
  ml_document_drop_place (document, 1, &place, "Move");
  ml_document_undo (document);
  const MlBoard *board = ml_document_board (document);
  g_autoptr (MlText) pictured = ml_text_splice (board->text, ml_text_n_lines (board->text), 0,
                                                (const char *const[]){ "picture \"none.png\"", "  pad R1.1 x=10 y=10", "  pad R2.1 x=20 y=10", NULL });
  ml_document_apply (document, pictured, NULL, "Pads", NULL);
  assert_int_equal (ml_document_board (document)->n_pictures, 1);
  for (int i = 0; i < 50; i++)
    {
      while (g_main_context_iteration (NULL, FALSE))
        ;
      g_usleep (1000);
    }
  assert_ptr_equal (ml_document_verdict (document), verdict);
  assert_true (ml_document_progress (document) < 0.0);
  assert_int_equal (computed, 0);
  assert_non_null (ml_document_point (document));
  /* and the next reading is judged by what was found before */
  const MlJob *job = ml_document_job (document);
  g_autoptr (MlText) read = ml_text_splice (job->text, ml_text_n_lines (job->text), 0,
                                            (const char *const[]){ "reading joinery idle red=UREG volts=9.97", NULL });
  ml_document_apply (document, NULL, read, "Reading", NULL);
  assert_int_equal (ml_document_job (document)->n_readings, verdict->job->n_readings + 1);
  assert_true (wait_for (has_verdict_on_all, document));
  assert_null (ml_document_trouble (document));
  verdict = ml_document_verdict (document);
  gint64 until = g_get_monotonic_time () + PATIENCE_S * G_USEC_PER_SEC;
  while (ml_document_verdict (document) == verdict && g_get_monotonic_time () < until)
    g_main_context_iteration (NULL, TRUE);
  assert_true (ml_document_verdict (document) != verdict); /* pads say who neighbours whom */
}

static void
test_document_suppose_changes_points_and_ends (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  assert_true (wait_for (has_point, document));
  const MlBoard *board = ml_document_board (document);
  int resistor = -1;
  for (guint i = 0; i < board->n_parts && resistor < 0; i++)
    if (board->parts[i].kind->kind == ML_KIND_RESISTOR)
      resistor = (int) i;
  assert_true (resistor >= 0);
  MlFault open = { .part = resistor, .kind = ML_FAULT_OPEN, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  ml_document_suppose (document, &open);
  assert_null (ml_document_point (document)); /* not the old one under a new ribbon */
  assert_true (wait_for (has_point, document));
  /* An open resistor carries nothing (definition). */
  assert_near (ml_document_point (document)->pin_a[resistor][0], 0.0, 0, 1e-9);
  ml_document_suppose (document, NULL);
  assert_null (ml_document_supposed (document));
  assert_true (wait_for (has_point, document));
}

static gboolean
is_judged (MlDocument *document)
{
  return ml_document_verdict (document) && ml_document_progress (document) < 0.0;
}

/* One list for findings, drawing and keys: it goes round, and begins anew with the next reading. */
static void
test_document_next_reading_goes_round_and_begins_anew (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  assert_int_equal (ml_document_next (document), -1);
  g_autofree char *board = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "signal-board.leafboard", NULL);
  g_autoptr (GError) error = NULL;
  assert_true (ml_document_open (document, board, &error));
  assert_true (wait_for (is_judged, document));
  int n = (int) ml_document_verdict (document)->n_next;
  assert_true (n > 1);
  assert_int_equal (ml_document_next (document), 0);
  ml_document_set_next (document, -1);
  assert_int_equal (ml_document_next (document), n - 1);
  ml_document_set_next (document, n);
  assert_int_equal (ml_document_next (document), 0);
  ml_document_set_next (document, 1);
  const MlNextReading next = ml_document_verdict (document)->next[1];
  MlText *text = ml_job_edit_add_reading (ml_document_job (document), 0, 1, next.condition, next.reads, &next.red, &next.black, "1", &error);
  assert_non_null (text);
  ml_document_apply (document, NULL, text, "Read", NULL);
  ml_text_unref (text);
  assert_int_equal (ml_document_next (document), 0);
}

static void
test_document_may_go_while_computing (void **state)
{
  Fixture *fixture = *state;
  open_demo (fixture);
  finish_document (fixture);
  for (int i = 0; i < 200; i++)
    if (!g_main_context_iteration (NULL, FALSE))
      g_usleep (1000);
}

/* ---- files ---- */

/* Every line that was there is there still, in the same order. */
static void
assert_lines_kept (const char *before, const char *after)
{
  g_auto (GStrv) old_lines = g_strsplit (before, "\n", -1), new_lines = g_strsplit (after, "\n", -1);
  guint at = 0;
  for (guint i = 0; old_lines[i]; i++)
    {
      while (new_lines[at] && strcmp (new_lines[at], old_lines[i]) != 0)
        at++;
      assert_non_null (new_lines[at]);
      at++;
    }
}

static void
test_document_save_keeps_bytes_and_writes_places (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  g_autofree char *before = NULL, *after = NULL;
  g_autoptr (GError) error = NULL;
  g_file_get_contents (fixture->board, &before, NULL, NULL);
  open_demo (fixture);
  assert_true (ml_document_save_board (document, NULL, FALSE, &error));
  g_file_get_contents (fixture->board, &after, NULL, NULL);
  assert_lines_kept (before, after);
  for (guint i = 0; i < ml_document_board (document)->n_parts; i++)
    assert_true (ml_document_board (document)->parts[i].placed);
  assert_true (ml_document_is_saved (document));
  g_autoptr (GPtrArray) left = ml_document_recoverable (fixture->journals);
  assert_int_equal (left->len, 0);
}

/* A save writes places by itself; undo and redo must show something each time. */
static void
test_document_undo_passes_over_what_a_save_wrote (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  GError *error = NULL;
  MlText *text = ml_board_edit_set_title (ml_document_board (document), "Other", &error);
  ml_document_apply (document, text, NULL, "Name it", NULL);
  ml_text_unref (text);
  assert_true (ml_document_save_board (document, NULL, FALSE, &error));
  assert_true (ml_document_board (document)->parts[0].placed);
  assert_string_equal (ml_document_undo_label (document), "Name it");
  ml_document_undo (document);
  assert_string_not_equal (ml_document_board (document)->title, "Other");
  assert_null (ml_document_undo_label (document));
  ml_document_redo (document);
  assert_string_equal (ml_document_board (document)->title, "Other");
  assert_true (ml_document_board (document)->parts[0].placed);
  assert_true (ml_document_is_saved (document));
  assert_null (ml_document_redo_label (document));
}

/* A save between undo and redo took away what could be done again, and then was a step of its own that nobody had made. */
static void
test_document_a_save_is_no_step_and_leaves_redo (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  g_autoptr (MlText) text = ml_board_edit_set_title (ml_document_board (document), "Other", NULL);
  ml_document_apply (document, text, NULL, "Name it", NULL);
  ml_document_undo (document);
  g_autofree char *before = NULL, *after = NULL;
  assert_true (g_file_get_contents (fixture->board, &before, NULL, NULL));
  assert_true (ml_document_save_board (document, NULL, FALSE, NULL));
  assert_true (g_file_get_contents (fixture->board, &after, NULL, NULL));
  assert_string_equal (after, before); /* nothing was changed */
  assert_string_equal (ml_document_redo_label (document), "Name it");
  ml_document_redo (document);
  assert_string_equal (ml_document_board (document)->title, "Other");
  ml_document_undo (document);
  open_demo (fixture);
  assert_true (ml_document_save_board (document, NULL, FALSE, NULL));
  assert_true (ml_document_board (document)->parts[0].placed);
  assert_false (ml_document_can_undo (document));
  assert_null (ml_document_undo_label (document));
  ml_document_undo (document);
  assert_true (ml_document_is_saved (document));
}

static void
test_document_save_refuses_a_file_changed_by_someone_else (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  g_autoptr (GError) error = NULL;
  open_demo (fixture);
  g_autoptr (MlText) text = ml_board_edit_set_title (ml_document_board (document), "Mine", NULL);
  ml_document_apply (document, text, NULL, "Title", NULL);
  g_file_set_contents (fixture->board, "meterleaf 1\nboard \"Theirs\"\n", -1, NULL);
  assert_false (ml_document_save_board (document, NULL, FALSE, &error));
  assert_true (g_error_matches (error, ML_FILE_ERROR, ML_FILE_ERROR_CHANGED));
  assert_false (ml_document_is_saved (document));
  g_clear_error (&error);
  assert_true (ml_document_save_board (document, NULL, TRUE, &error));
}

/* What another program writes is told, read when that is wanted, and one undo brings back what was here, saved or not. */
static void
test_document_files_changed_elsewhere_are_told_and_read (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  g_autoptr (GError) error = NULL;
  g_autofree char *job = NULL, *first = NULL, *second = NULL;
  open_demo (fixture);
  assert_null (ml_document_changed_elsewhere (document, NULL));
  const guint readings = ml_document_job (document)->n_readings;
  g_autoptr (MlText) mine = ml_board_edit_set_title (ml_document_board (document), "Mine", NULL);
  ml_document_apply (document, mine, NULL, "Title", NULL);
  /* as the command line's README has it: one reading more at the end */
  assert_true (g_file_get_contents (fixture->job, &job, NULL, NULL));
  g_autofree char *longer = g_strconcat (job, "reading ", ml_document_job (document)->units[0].name, " ", ml_document_board (document)->conditions[0].name,
                                         " across=R1 volts=1.5\n", NULL);
  assert_true (g_file_set_contents (fixture->job, longer, -1, NULL));
  g_autofree char *name = ml_document_changed_elsewhere (document, &first);
  assert_string_equal (name, "dust-switch.leafjob");
  assert_true (g_file_set_contents (fixture->board, "meterleaf 1\nboard \"Theirs\"\n", -1, NULL));
  g_autofree char *both = ml_document_changed_elsewhere (document, &second);
  assert_string_equal (both, "dust-switch.leafboard and dust-switch.leafjob");
  assert_string_not_equal (first, second);
  assert_string_equal (ml_document_board (document)->title, "Mine"); /* nothing was taken yet */
  assert_true (ml_document_read_files (document, &error));
  assert_string_equal (ml_document_board (document)->title, "Theirs");
  assert_null (ml_document_changed_elsewhere (document, NULL));
  assert_true (ml_document_is_saved (document));
  ml_document_undo (document);
  assert_string_equal (ml_document_board (document)->title, "Mine");
  assert_int_equal (ml_document_job (document)->n_readings, readings);
  assert_false (ml_document_is_saved (document));
  assert_true (ml_document_save_board (document, NULL, FALSE, &error)); /* it was seen, so nothing is asked any more */
  assert_int_equal (g_unlink (fixture->job), 0);
  assert_null (ml_document_changed_elsewhere (document, NULL)); /* a file that is gone is written again */
}

static void
test_document_new_board_and_job_are_saved_side_by_side (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  g_autoptr (GError) error = NULL;
  g_autofree char *board = g_build_filename (fixture->folder, "new.leafboard", NULL), *job = g_build_filename (fixture->folder, "new.leafjob", NULL);
  add_part (document, ML_KIND_RESISTOR, 0, 0);
  assert_false (ml_document_save_job (document, job, FALSE, &error)); /* its board has no file to name */
  g_clear_error (&error);
  assert_true (ml_document_save_board (document, board, FALSE, &error));
  assert_true (ml_document_save_job (document, job, FALSE, &error));
  assert_true (ml_document_is_saved (document));
  assert_string_equal (ml_document_job (document)->board_file, "new.leafboard");
  MlDocument *again = ml_document_new (fixture->journals);
  assert_true (ml_document_open (again, job, &error));
  assert_int_equal (ml_document_board (again)->n_parts, 1);
  assert_int_equal (ml_diagnostics_n_errors (ml_document_diagnostics (again)), 0);
  g_object_unref (again);
}

static void
test_document_job_without_its_board_opens_and_says_so (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (GError) error = NULL;
  g_unlink (fixture->board);
  assert_true (ml_document_open (fixture->document, fixture->job, &error));
  assert_true (ml_diagnostics_n_errors (ml_document_diagnostics (fixture->document)) > 0);
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 0);
}

static void
test_document_file_that_is_not_there_is_an_error (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (GError) error = NULL;
  assert_false (ml_document_open (fixture->document, "/nonexistent/x.leafjob", &error));
  assert_non_null (error);
}

/* ---- after a kill ---- */

static void
test_document_recover_gives_back_undo_too (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  add_part (document, ML_KIND_RESISTOR, 0, 0);
  add_part (document, ML_KIND_LED, 10, 0);
  ml_document_undo (document);
  g_autoptr (GPtrArray) in_use = ml_document_recoverable (fixture->journals);
  assert_int_equal (in_use->len, 0); /* held by a running program: this one */
  finish_document (fixture);

  g_autoptr (GPtrArray) left = ml_document_recoverable (fixture->journals);
  assert_int_equal (left->len, 1);
  const MlRecoverable *recoverable = left->pdata[0];
  assert_int_equal (recoverable->n_changes, 1); /* two parts, one of them undone again */
  fixture->document = ml_document_new (fixture->journals);
  g_autoptr (GError) error = NULL;
  assert_true (ml_document_recover (fixture->document, recoverable->journal, &error));
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 1);
  ml_document_redo (fixture->document);
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 2);
  assert_false (ml_document_is_saved (fixture->document));
  ml_document_abandon (fixture->document);
  finish_document (fixture);
  g_autoptr (GPtrArray) nothing = ml_document_recoverable (fixture->journals);
  assert_int_equal (nothing->len, 0);
}

static void
append_to_job (MlDocument *document, const char *line)
{
  const MlJob *job = ml_document_job (document);
  g_autoptr (MlText) text = ml_text_splice (job->text, ml_text_n_lines (job->text), 0, (const char *const[]){ line, NULL });
  ml_document_apply (document, NULL, text, "Type", NULL);
}

/* The pass that is shown and the verdict beside it are of one pass: when a pass is added, taken back and done again, and after a kill. */
static void
test_document_verdict_is_of_the_pass_that_is_shown (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  assert_true (wait_for (has_final_verdict, document));
  assert_int_equal (ml_document_pass (document), 1);
  append_to_job (document, "pass joinery 2 \"new C2\"");
  assert_int_equal (ml_document_pass (document), 2);
  assert_null (ml_document_verdict (document)); /* nothing is known of that one yet */
  append_to_job (document, "reading joinery idle red=UREG volts=9.97");
  ml_document_undo (document);
  ml_document_undo (document);
  assert_int_equal (ml_document_pass (document), 1);
  assert_null (ml_document_verdict (document));
  ml_document_redo (document);
  ml_document_redo (document);
  assert_int_equal (ml_document_pass (document), 2);
  finish_document (fixture);

  g_autoptr (GPtrArray) left = ml_document_recoverable (fixture->journals);
  assert_int_equal (left->len, 1);
  fixture->document = document = ml_document_new (fixture->journals);
  assert_true (ml_document_recover (document, ((MlRecoverable *) left->pdata[0])->journal, NULL));
  assert_int_equal (ml_document_pass (document), 2);
  assert_true (wait_for (has_final_verdict, document));
  assert_int_equal (ml_document_verdict (document)->pass, 2);
  ml_document_abandon (document);
}

/* A repair was made and a pass begun: who opens the job again, or comes back to the unit, is not told once more to make the repair. */
static void
test_document_opens_in_the_pass_that_was_begun (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture);
  append_to_job (document, "pass joinery 2 \"new C2\"");
  finish_document (fixture);
  g_autoptr (GPtrArray) left = ml_document_recoverable (fixture->journals);
  fixture->document = document = ml_document_new (fixture->journals);
  assert_true (ml_document_recover (document, ((MlRecoverable *) left->pdata[0])->journal, NULL));
  assert_int_equal (ml_document_pass (document), 2);
  ml_document_set_pass (document, 1);
  ml_document_set_unit (document, ml_document_unit (document));
  assert_int_equal (ml_document_pass (document), 2);
  ml_document_abandon (document);
}

#define SAVE_EVERY 7

static char *
reading_text (guint i)
{
  return g_strdup_printf ("%u.%03u", i / 1000, i % 1000);
}

/* The child: types readings for ever, says how many are in, saves now and then. */
static int
type_for_ever (const char *journals, const char *job)
{
  MlDocument *document = ml_document_new (journals);
  if (!ml_document_open (document, job, NULL))
    return 1;
  MlBoard *board = ml_document_board (document);
  for (guint i = 1;; i++)
    {
      g_autofree char *typed = reading_text (i);
      g_autoptr (GError) error = NULL;
      int red_net = (int) (i % board->n_nets) == board->reference ? (int) ((i + 1) % board->n_nets) : (int) (i % board->n_nets);
      MlProbe red = { red_net, -1, -1, FALSE }, black = { board->reference, -1, -1, FALSE };
      g_autoptr (MlText) text = ml_job_edit_add_reading (ml_document_job (document), 0, 1, 0, ML_READS_VOLTS, &red, &black, typed, &error);
      if (!text)
        return 1;
      ml_document_apply (document, NULL, text, "Reading", NULL);
      if (i % SAVE_EVERY == 0 && !ml_document_save_job (document, NULL, FALSE, NULL))
        return 1;
      g_autofree char *line = g_strdup_printf ("%u\n", i);
      if (write (STDOUT_FILENO, line, strlen (line)) < 0)
        return 1;
      while (g_main_context_iteration (NULL, FALSE))
        ;
    }
}

static guint
n_lines (const GString *said)
{
  guint n = 0;
  for (const char *c = said->str; *c; c++)
    n += *c == '\n';
  return n;
}

/* How many readings the child said were in before it was killed, a while after it said the `least`th. */
static guint
run_and_kill (Fixture *fixture, guint least, gulong after_us)
{
  const char *argv[] = { program, "--type", fixture->journals, fixture->job, NULL };
  GPid pid = 0;
  int out = -1;
  g_autoptr (GError) error = NULL;
  assert_true (g_spawn_async_with_pipes (NULL, (char **) argv, NULL, G_SPAWN_DO_NOT_REAP_CHILD, NULL, NULL, &pid, NULL, &out, NULL, &error));
  g_autoptr (GString) said = g_string_new (NULL);
  char buffer[4096];
  ssize_t got;
  while (n_lines (said) < least && (got = read (out, buffer, sizeof buffer)) > 0)
    g_string_append_len (said, buffer, got);
  assert_true (n_lines (said) >= least);
  g_usleep (after_us);
  kill (pid, SIGKILL);
  while ((got = read (out, buffer, sizeof buffer)) > 0)
    g_string_append_len (said, buffer, got);
  close (out);
  int status = 0;
  waitpid (pid, &status, 0);
  assert_true (WIFSIGNALED (status));
  return n_lines (said);
}

/* The readings typed by the child, in order: 1, 2, 3 … after those of the demo. */
static guint
count_typed (const MlJob *job, guint n_before)
{
  guint n = 0;
  for (guint i = n_before; i < job->n_readings; i++)
    {
      g_autofree char *expected = reading_text (++n);
      assert_near (job->readings[i].measured.value, g_ascii_strtod (expected, NULL), 1e-12, 0);
    }
  return n;
}

static guint
readings_in_file (const char *path, guint n_before)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  g_autoptr (MlJob) job = ml_job_load (path, diagnostics, NULL);
  assert_non_null (job);
  assert_int_equal (ml_diagnostics_n_errors (diagnostics), 0); /* not torn */
  return count_typed (job, n_before);
}

static guint
readings_recovered (Fixture *fixture, guint n_before)
{
  g_autoptr (GPtrArray) left = ml_document_recoverable (fixture->journals);
  assert_true (left->len <= 1);
  if (left->len == 0)
    return 0;
  g_autoptr (GError) error = NULL;
  const MlRecoverable *recoverable = left->pdata[0];
  assert_true (ml_document_recover (fixture->document, recoverable->journal, &error));
  return count_typed (ml_document_job (fixture->document), n_before);
}

static void
test_document_ten_kills_lose_nothing_entered (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlJob) demo_job = ml_job_load (fixture->job, NULL, NULL);
  guint n_before = demo_job->n_readings, most = 0;
  g_autofree char *original = demo ("dust-switch.leafjob");
  srandom ((unsigned) g_get_monotonic_time ());
  for (int i = 0; i < 10; i++)
    {
      copy (original, fixture->job);
      /* every other one after a save, however slow the machine */
      guint said = run_and_kill (fixture, i % 2 == 0 ? 1 : SAVE_EVERY + 1, (gulong) (random () % 60000));
      guint in_file = readings_in_file (fixture->job, n_before), recovered = readings_recovered (fixture, n_before);
      guint kept = MAX (in_file, recovered);
      print_message ("kill %d: %u said to be in, %u in the file, %u recovered\n", i, said, in_file, recovered);
      assert_true (kept >= said && kept <= said + 1); /* at most the one whose word was not out yet */
      most = MAX (most, kept);
      ml_document_abandon (fixture->document);
      finish_document (fixture);
      fixture->document = ml_document_new (fixture->journals);
    }
  assert_true (most > SAVE_EVERY); /* the kills came after real work, with a save in it */
}

int
main (int argc, char **argv)
{
  program = argv[0];
  if (argc == 4 && strcmp (argv[1], "--type") == 0)
    return type_for_ever (argv[2], argv[3]);
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_document_edits_undo_and_redo, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_drag_stays_where_dropped_and_comes_back_by_undo, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_selection_and_probes_follow_names, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_arrange_is_one_step, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_demo_gets_points_and_a_verdict, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_moving_things_about_computes_nothing_anew, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_suppose_changes_points_and_ends, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_next_reading_goes_round_and_begins_anew, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_may_go_while_computing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_save_keeps_bytes_and_writes_places, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_a_save_is_no_step_and_leaves_redo, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_undo_passes_over_what_a_save_wrote, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_save_refuses_a_file_changed_by_someone_else, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_files_changed_elsewhere_are_told_and_read, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_new_board_and_job_are_saved_side_by_side, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_job_without_its_board_opens_and_says_so, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_file_that_is_not_there_is_an_error, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_recover_gives_back_undo_too, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_verdict_is_of_the_pass_that_is_shown, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_opens_in_the_pass_that_was_begun, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_document_ten_kills_lose_nothing_entered, set_up, tear_down),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
