/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The window as an object: its actions against the table, its errors view, and that it goes away. */
#include "support/near.h"
#include "support/size.h"

#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "board/edit.h"
#include "desktop/actions.h"
#include "desktop/application.h"
#include "desktop/bench-card.h"
#include "desktop/errors.h"
#include "desktop/settings.h"
#include "desktop/title.h"
#include "desktop/window-private.h"

static MlApplication *application;

static void
spin (void)
{
  while (g_main_context_iteration (NULL, FALSE))
    continue;
}

/* Destroys the window; it must be finalised. */
static void
window_end (MlWindow *window)
{
  gpointer weak = window;

  g_object_add_weak_pointer (G_OBJECT (window), &weak);
  ml_document_abandon (ml_window_document (window));
  gtk_window_destroy (GTK_WINDOW (window));
  for (int i = 0; weak != NULL && i < 1000; i++) /* idle handlers may still hold it for a moment */
    {
      spin ();
      g_usleep (1000);
    }
  assert_null (weak);
}

static GtkWidget *
find_named (GtkWidget *widget, const char *name)
{
  GtkWidget *found = g_str_equal (gtk_widget_get_name (widget), name) ? widget : NULL;

  for (GtkWidget *child = gtk_widget_get_first_child (widget); child != NULL && found == NULL; child = gtk_widget_get_next_sibling (child))
    found = find_named (child, name);
  return found;
}

static gboolean
enabled (MlWindow *window, const char *name)
{
  return g_action_group_get_action_enabled (G_ACTION_GROUP (window), name);
}

static void
test_every_action_of_the_table_exists (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  guint n;
  const MlActionInfo *table = ml_actions_table (&n);

  for (guint i = 0; i < n; i++)
    {
      g_autofree char *name = NULL;
      g_autoptr (GVariant) target = NULL;
      if (table[i].id == NULL)
        continue;
      assert_true (g_action_parse_detailed_name (table[i].id, &name, &target, NULL));
      GActionGroup *group = g_str_has_prefix (name, "app.") ? G_ACTION_GROUP (application) : G_ACTION_GROUP (window);
      if (!g_action_group_has_action (group, name + strlen ("win.")))
        fail_msg ("%s does nothing", table[i].id);
      if (target != NULL)
        assert_true (g_variant_type_equal (g_variant_get_type (target), g_action_group_get_action_parameter_type (group, name + strlen ("win."))));
    }
  window_end (window);
}

/* What a tip of the start page would say stands on the card: the tip lay over the card beside it. */
static void
test_the_start_page_needs_no_tips (void **state)
{
  static const char *const ways[] = { "start-draw", "start-open", "start-demo" };
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));

  for (guint i = 0; i < G_N_ELEMENTS (ways); i++)
    assert_false (gtk_widget_get_has_tooltip (find_named (GTK_WIDGET (window), ways[i])));
  GtkWidget *words = gtk_widget_get_last_child (gtk_button_get_child (GTK_BUTTON (find_named (GTK_WIDGET (window), "start-draw"))));
  assert_non_null (strstr (gtk_label_get_text (GTK_LABEL (words)), "(Ctrl+N)"));
  window_end (window);
}

static void
test_empty_window_offers_only_what_makes_sense (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));

  assert_true (ml_window_is_untouched (window));
  assert_false (enabled (window, "undo"));
  assert_false (enabled (window, "save"));
  assert_true (enabled (window, "open"));
  ml_window_begin_drawing (window);
  assert_false (ml_window_is_untouched (window));
  assert_true (enabled (window, "add-part"));
  assert_true (enabled (window, "save"));
  assert_false (enabled (window, "arrange")); /* there are no parts yet */
  assert_false (enabled (window, "turn"));
  ml_canvas_add_part (window->circuit_canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
  assert_true (enabled (window, "turn")); /* the one in hand */
  g_action_group_activate_action (G_ACTION_GROUP (window), "cancel", NULL);
  assert_false (enabled (window, "turn"));
  window_end (window);
}

static void
test_errors_view_reads_the_mended_text (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  MlDocument *document = ml_document_new (folder);
  GtkWidget *view = g_object_ref_sink (ml_errors_view_new (document));
  GtkTextBuffer *buffer = ml_errors_view_buffer (ML_ERRORS_VIEW (view));

  gtk_text_buffer_set_text (buffer, "meterleaf 1\npart R1 resistr 1=A 2=B\n", -1);
  ml_errors_view_read_again (ML_ERRORS_VIEW (view));
  assert_int_equal (ml_document_board (document)->n_parts, 0);
  assert_int_equal (ml_diagnostics_n_errors (ml_document_diagnostics (document)), 1);
  gtk_text_buffer_set_text (buffer, "meterleaf 1\npart R1 resistor 1=A 2=B\n", -1);
  ml_errors_view_read_again (ML_ERRORS_VIEW (view));
  assert_int_equal (ml_document_board (document)->n_parts, 1);
  assert_int_equal (ml_diagnostics_n_errors (ml_document_diagnostics (document)), 0);
  assert_string_equal (ml_document_undo_label (document), "Change the text");
  ml_document_undo (document);
  assert_int_equal (ml_document_board (document)->n_parts, 0);
  ml_document_abandon (document);
  g_object_unref (view);
  g_object_unref (document);
}

/* A file keeps its line ends where lines are typed into it, the cursor stays where it is meanwhile, and what is taken bit by bit is one step. */
static void
test_errors_view_keeps_line_ends_cursor_and_one_step (void **state)
{
  static const char before[] = "meterleaf 1\r\npart R1 resistor 1=A 2=B\r\n", after[] = "meterleaf 1\r\npart R2 resistor 1=A 2=B\r\npart R1 resistor 1=A 2=B\r\n";
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  MlDocument *document = ml_document_new (folder);
  GtkWidget *view = g_object_ref_sink (ml_errors_view_new (document));
  GtkTextBuffer *buffer = ml_errors_view_buffer (ML_ERRORS_VIEW (view));
  GtkTextIter at;

  gtk_text_buffer_set_text (buffer, before, -1);
  ml_errors_view_read_again (ML_ERRORS_VIEW (view));
  gtk_text_buffer_get_iter_at_line (buffer, &at, 1);
  gtk_text_buffer_place_cursor (buffer, &at);
  gtk_text_buffer_insert_at_cursor (buffer, "part R2 resis", -1);
  ml_errors_view_take (ML_ERRORS_VIEW (view));
  gtk_text_buffer_insert_at_cursor (buffer, "tor 1=A 2=B\n", -1);
  ml_errors_view_take (ML_ERRORS_VIEW (view));
  g_autoptr (GBytes) bytes = ml_text_to_bytes (ml_document_board (document)->text);
  assert_int_equal (g_bytes_get_size (bytes), strlen (after));
  assert_memory_equal (g_bytes_get_data (bytes, NULL), after, strlen (after));
  gtk_text_buffer_get_iter_at_mark (buffer, &at, gtk_text_buffer_get_insert (buffer));
  assert_int_equal (gtk_text_iter_get_line (&at), 2);
  ml_document_undo (document);
  g_autoptr (GBytes) undone = ml_text_to_bytes (ml_document_board (document)->text);
  assert_int_equal (g_bytes_get_size (undone), strlen (before));
  ml_document_abandon (document);
  g_object_unref (view);
  g_object_unref (document);
}

/* The question that the window has just asked must be there, and goes unanswered. */
static void
leave_question (MlWindow *window)
{
  g_autoptr (GtkWindow) question = NULL;
  GListModel *windows = gtk_window_get_toplevels ();
  for (guint i = 0; i < g_list_model_get_n_items (windows); i++)
    {
      g_autoptr (GtkWindow) one = g_list_model_get_item (windows, i);
      if (gtk_window_get_transient_for (one) == GTK_WINDOW (window))
        g_set_object (&question, one);
    }
  assert_non_null (question);
  gtk_window_destroy (question);
}

/* What was typed into the text of a file counts whatever leads away from it: the other file, the drawing, saving, closing. */
static void
test_text_of_the_file_is_taken_when_it_is_left (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  MlDocument *document = ml_window_document (window);

  ml_window_begin_drawing (window);
  GtkTextBuffer *buffer = ml_errors_view_buffer (ML_ERRORS_VIEW (window->errors));
  g_action_group_activate_action (G_ACTION_GROUP (window), "file-text", NULL);
  gtk_text_buffer_set_text (buffer, "meterleaf 1\npart R1 resistor 1=A 2=B\n", -1);
  g_action_group_activate_action (G_ACTION_GROUP (window), "file-text", NULL);
  assert_int_equal (ml_document_board (document)->n_parts, 1);
  assert_string_equal (ml_document_undo_label (document), "Change the text");
  g_action_group_activate_action (G_ACTION_GROUP (window), "file-text", NULL);
  gtk_text_buffer_set_text (buffer, "meterleaf 1\npart R1 resistor 1=A 2=B\npart R2 resistor 1=A 2=B\n", -1);
  assert_false (ml_window_may_close (window)); /* asks, since something is not saved: what was typed last, too */
  leave_question (window);
  assert_int_equal (ml_document_board (document)->n_parts, 2);
  /* a lead asked for is clicked on the drawing: that is shown then */
  g_action_group_activate_action (G_ACTION_GROUP (window), "add-condition", NULL);
  assert_true (ml_canvas_picks (window->circuit_canvas));
  assert_string_equal (gtk_stack_get_visible_child_name (GTK_STACK (window->drawing_stack)), "drawing");
  /* so does an action that changes the board while the text is still being typed, and what was typed is not thrown away by it */
  static const char supplied[] = "meterleaf 1\npart R1 resistor 1=A 2=B\ncondition on\n  supply plus=A minus=B voltage=5 limit=100m\n";
  g_action_group_activate_action (G_ACTION_GROUP (window), "cancel", NULL);
  g_action_group_activate_action (G_ACTION_GROUP (window), "file-text", NULL);
  gtk_text_buffer_set_text (buffer, supplied, -1);
  ml_errors_view_take (ML_ERRORS_VIEW (window->errors));
  ml_document_set_condition (document, 0);
  g_autofree char *typed = g_strconcat (supplied, "# typed last\n", NULL);
  gtk_text_buffer_set_text (buffer, typed, -1);
  g_action_group_activate_action (G_ACTION_GROUP (window), "turn-supply", NULL);
  GtkTextIter start, end;
  gtk_text_buffer_get_bounds (buffer, &start, &end);
  g_autofree char *now = gtk_text_buffer_get_text (buffer, &start, &end, TRUE);
  assert_non_null (strstr (now, "plus=B minus=A"));
  assert_non_null (strstr (now, "# typed last"));
  window_end (window);
}

/* Who opens a job in which something is wrong sees the job, not the board. */
static void
test_a_broken_job_shows_its_own_text (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL), *path = g_build_filename (folder, "broken.leafjob", NULL);
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  GtkTextIter start, end;

  assert_true (g_file_set_contents (path, "meterleaf 1\nboard \"nowhere.leafboard\"\nunit a suspect\n", -1, NULL));
  ml_window_open (window, path);
  GtkTextBuffer *buffer = ml_errors_view_buffer (ML_ERRORS_VIEW (window->errors));
  gtk_text_buffer_get_bounds (buffer, &start, &end);
  g_autofree char *text = gtk_text_buffer_get_text (buffer, &start, &end, TRUE);
  assert_non_null (strstr (text, "nowhere.leafboard"));
  window_end (window);
  assert_int_equal (g_unlink (path), 0);
  assert_int_equal (g_rmdir (folder), 0);
}

static GtkWidget *
shown_notice (MlWindow *window, const char *words)
{
  return gtk_widget_get_visible (window->notice) && strstr (gtk_label_get_text (GTK_LABEL (window->notice_label)), words) != NULL ? window->notice : NULL;
}

static MlWindow *
window_with_demo (void)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "dust-switch.leafjob", NULL);
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));

  ml_window_open (window, path);
  for (int i = 0; i < 10000 && ml_document_verdict (ml_window_document (window)) == NULL; i++)
    {
      spin ();
      g_usleep (1000);
    }
  return window;
}

static gboolean
focus_in (MlWindow *window, GtkWidget *area)
{
  GtkWidget *focus = gtk_root_get_focus (GTK_ROOT (window));

  return focus != NULL && (focus == area || gtk_widget_is_ancestor (focus, area));
}

static void
test_the_keyboard_gets_from_one_area_to_the_next (void **state)
{
  MlWindow *window = window_with_demo ();
  GtkWidget *const round[] = { GTK_WIDGET (window->strip), window->findings, window->header, GTK_WIDGET (window->canvas) };

  gtk_window_present (GTK_WINDOW (window));
  for (int i = 0; i < 3000 && !gtk_widget_get_mapped (window->findings); i++)
    {
      spin ();
      g_usleep (1000);
    }
  gtk_widget_grab_focus (GTK_WIDGET (window->canvas));
  for (guint i = 0; i < G_N_ELEMENTS (round); i++)
    {
      g_action_group_activate_action (G_ACTION_GROUP (window), "next-area", NULL);
      if (!focus_in (window, round[i]))
        fail_msg ("step %u does not get there", i);
    }
  window_end (window);
}

static char *
words_of (const char *path)
{
  g_autofree char *command = g_strdup_printf ("pdftotext '%s' -", path);
  char *text = NULL;

  assert_true (g_spawn_command_line_sync (command, &text, NULL, NULL, NULL));
  return text;
}

/* What the printer gets, read by poppler: one page, with the parts and the title block on it. */
/* The chooser marks the name without its ending: who types "pump.pdf" over it means a PDF. */
static void
test_a_picture_has_the_ending_that_was_typed (void **state)
{
  static const struct { const char *typed, *usual, *path; } names[] = {
    { "/nowhere/pump.pdf.png", ".png", "/nowhere/pump.pdf" }, { "/nowhere/pump.png.png", ".png", "/nowhere/pump.png" },
    { "/nowhere/pump", ".png", "/nowhere/pump.png" },         { "/nowhere/pump.svg", ".png", "/nowhere/pump.svg" },
    { "/nowhere/pump.v2.png", ".png", "/nowhere/pump.v2.png" }, { "/nowhere/pump.pdf.pdf", ".pdf", "/nowhere/pump.pdf" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (names); i++)
    {
      g_autofree char *path = ml_window_with_usual_ending (g_strdup (names[i].typed), names[i].usual);
      assert_string_equal (path, names[i].path);
    }
}

static void
test_print_puts_drawing_and_title_on_one_page (void **state)
{
  MlWindow *window = window_with_demo ();
  g_autoptr (GtkPrintOperation) operation = ml_window_print_operation (window);
  g_autofree char *path = g_build_filename (g_getenv ("XDG_STATE_HOME"), "printed.pdf", NULL), *text = NULL;
  const MlBoard *board = ml_document_board (ml_window_document (window));
  g_autoptr (GError) error = NULL;

  gtk_print_operation_set_export_filename (operation, path);
  if (gtk_print_operation_run (operation, GTK_PRINT_OPERATION_ACTION_EXPORT, NULL, &error) == GTK_PRINT_OPERATION_RESULT_ERROR)
    fail_msg ("%s", error->message);
  text = words_of (path);
  for (guint i = 0; i < board->n_parts; i++)
    if (strstr (text, board->parts[i].name) == NULL)
      fail_msg ("%s is not on the page", board->parts[i].name);
  assert_non_null (strstr (text, ml_document_job (ml_window_document (window))->title));
  window_end (window);
}

static void
test_copy_offers_image_and_svg (void **state)
{
  MlWindow *window = window_with_demo ();
  GdkClipboard *clipboard = gtk_widget_get_clipboard (GTK_WIDGET (window));
  GdkContentFormats *formats;

  ml_window_copy_picture (window);
  formats = gdk_clipboard_get_formats (clipboard);
  assert_true (gdk_content_formats_contain_mime_type (formats, "image/png"));
  assert_true (gdk_content_formats_contain_mime_type (formats, "image/svg+xml"));
  assert_true (gdk_content_formats_contain_gtype (formats, GDK_TYPE_TEXTURE));
  gdk_clipboard_set_content (clipboard, NULL);
  assert_non_null (shown_notice (window, "The picture is copied."));
  assert_true (window->notice_timeout != 0); /* nothing needs to be done about it: it goes by itself, soon */
  GSource *leaves = g_main_context_find_source_by_id (NULL, window->notice_timeout);
  assert_true (g_source_get_ready_time (leaves) - g_get_monotonic_time () <= 10 * G_TIME_SPAN_SECOND);
  window_end (window);
}

/* A repaired unit becomes one to compare with, and a slip is taken back. */
static void
test_a_unit_is_called_good_and_suspect_again (void **state)
{
  MlWindow *window = window_with_demo ();
  MlDocument *document = ml_window_document (window);
  int unit = ml_document_unit (document);
  g_autofree char *symptom = g_strdup (ml_document_job (document)->units[unit].symptom);

  assert_int_equal (ml_document_job (document)->units[unit].state, ML_UNIT_STATE_SUSPECT);
  assert_true (enabled (window, "call-good") && !enabled (window, "call-suspect"));
  g_action_group_activate_action (G_ACTION_GROUP (window), "call-good", NULL);
  assert_int_equal (ml_document_job (document)->units[unit].state, ML_UNIT_STATE_GOOD);
  assert_string_equal (ml_document_job (document)->units[unit].symptom, symptom);
  assert_true (enabled (window, "call-suspect") && !enabled (window, "call-good"));
  assert_int_equal (ml_document_unit (document), unit);
  g_action_group_activate_action (G_ACTION_GROUP (window), "call-suspect", NULL);
  assert_int_equal (ml_document_job (document)->units[unit].state, ML_UNIT_STATE_SUSPECT);
  ml_document_undo (document);
  assert_int_equal (ml_document_job (document)->units[unit].state, ML_UNIT_STATE_GOOD);
  window_end (window);
}

static void
test_report_is_written_beside_the_window (void **state)
{
  MlWindow *window = window_with_demo ();
  g_autofree char *path = g_build_filename (g_getenv ("XDG_STATE_HOME"), "report.pdf", NULL), *text = NULL;

  ml_window_write_report (window, path);
  for (int i = 0; i < 60000 && !g_file_test (path, G_FILE_TEST_EXISTS); i++)
    {
      spin ();
      g_usleep (1000);
    }
  text = words_of (path);
  assert_non_null (strstr (text, "What was done"));
  window_end (window);
}

/* ---- names for a screen reader ---- */

static gboolean
has_text (GtkWidget *widget)
{
  if (GTK_IS_LABEL (widget) && *gtk_label_get_text (GTK_LABEL (widget)) != '\0')
    return TRUE;
  for (GtkWidget *child = gtk_widget_get_first_child (widget); child != NULL; child = gtk_widget_get_next_sibling (child))
    if (has_text (child))
      return TRUE;
  return FALSE;
}

static gboolean
is_control (GtkWidget *widget)
{
  return GTK_IS_BUTTON (widget) || GTK_IS_CHECK_BUTTON (widget) || GTK_IS_ENTRY (widget) || GTK_IS_SEARCH_ENTRY (widget) || GTK_IS_EDITABLE_LABEL (widget)
         || GTK_IS_FLOW_BOX_CHILD (widget) || GTK_IS_LIST_BOX_ROW (widget) || GTK_IS_TEXT_VIEW (widget)
         || GTK_IS_DRAWING_AREA (widget) || GTK_IS_DROP_DOWN (widget) || GTK_IS_RANGE (widget) || GTK_IS_SWITCH (widget) || ML_IS_CANVAS (widget);
}

/* What is read out for it: a name of its own, or the text that it shows (ARIA: name from content; an entry has none). */
static void
check_names (GtkWidget *widget, GString *nameless)
{
  GtkWidget *parent = gtk_widget_get_parent (widget);

  if (GTK_IS_WINDOW_CONTROLS (widget)) /* the toolkit's own */
    return;
  if (is_control (widget) && gtk_widget_get_focusable (widget) && !gtk_test_accessible_has_property (GTK_ACCESSIBLE (widget), GTK_ACCESSIBLE_PROPERTY_LABEL)
      && !gtk_test_accessible_has_relation (GTK_ACCESSIBLE (widget), GTK_ACCESSIBLE_RELATION_LABELLED_BY) && (GTK_IS_ENTRY (widget) || !has_text (widget)))
    g_string_append_printf (nameless, "%s “%s” in %s “%s”; ", G_OBJECT_TYPE_NAME (widget), gtk_widget_get_name (widget),
                            parent != NULL ? G_OBJECT_TYPE_NAME (parent) : "nothing", parent != NULL ? gtk_widget_get_name (parent) : "");
  for (GtkWidget *child = gtk_widget_get_first_child (widget); child != NULL; child = gtk_widget_get_next_sibling (child))
    check_names (child, nameless);
}

/* In every window there is. */
static void
check_all_names (const char *when)
{
  GListModel *windows = gtk_window_get_toplevels ();
  g_autoptr (GString) nameless = g_string_new (NULL);

  for (guint i = 0; i < g_list_model_get_n_items (windows); i++)
    {
      g_autoptr (GtkWidget) window = g_list_model_get_item (windows, i);
      check_names (window, nameless);
    }
  if (nameless->len > 0)
    fail_msg ("%s, without a name: %s", when, nameless->str);
}

/* What an action opened over the window goes again. */
static void
close_others (MlWindow *window)
{
  g_autoptr (GListModel) windows = g_object_ref (gtk_window_get_toplevels ());

  for (guint i = g_list_model_get_n_items (windows); i-- > 0;)
    {
      g_autoptr (GtkWindow) other = g_list_model_get_item (windows, i);
      if (other != GTK_WINDOW (window))
        gtk_window_destroy (other);
    }
}

static void
test_every_control_has_a_name (void **state)
{
  static const char *const opens[] = { "retitle", "all-conditions", "add-condition", "add-suspect", "rename-unit", "new-pass", "log-replaced", "log-noted",
                                       "shortcuts", "add-part" };
  MlWindow *empty = ml_window_new (GTK_APPLICATION (application));

  check_all_names ("at the start");
  ml_window_begin_drawing (empty);
  check_all_names ("on the empty page");
  window_end (empty);
  MlWindow *window = window_with_demo ();
  gtk_window_present (GTK_WINDOW (window));
  check_all_names ("with the demo");
  g_action_group_activate_action (G_ACTION_GROUP (window), "view", g_variant_new_string ("both"));
  spin ();
  check_all_names ("with both views");
  for (guint i = 0; i < G_N_ELEMENTS (opens); i++)
    {
      g_action_group_activate_action (G_ACTION_GROUP (window), opens[i], NULL);
      spin ();
      check_all_names (opens[i]);
      close_others (window);
    }
  window_end (window);
}

static void
spin_until_still (GtkWidget *widget)
{
  for (int i = 0, still = 0, before = -1; still < 50 && i < 5000; i++)
    {
      spin ();
      g_usleep (1000);
      still = gtk_widget_get_height (widget) == before ? still + 1 : 0;
      before = gtk_widget_get_height (widget);
    }
}

/* A reading added to the job's file by another program is told while the window is open; read, it is there; saving asks nothing then. */
static void
test_a_file_changed_elsewhere_is_told (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL), *path = g_build_filename (folder, "b.leafboard", NULL);
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));

  assert_true (g_file_set_contents (path, "meterleaf 1\npart R1 resistor 1=A 2=B\n", -1, NULL));
  ml_window_open (window, path);
  assert_false (enabled (window, "read-files"));
  spin ();
  assert_true (g_file_set_contents (path, "meterleaf 1\npart R1 resistor 1=A 2=B\npart R2 resistor 1=A 2=B\n", -1, NULL));
  for (int i = 0; i < 10000 && shown_notice (window, "b.leafboard") == NULL; i++)
    {
      spin ();
      g_usleep (1000);
    }
  assert_non_null (shown_notice (window, "b.leafboard"));
  assert_int_equal (ml_document_board (ml_window_document (window))->n_parts, 1);
  assert_true (enabled (window, "read-files"));
  g_action_group_activate_action (G_ACTION_GROUP (window), "read-files", NULL);
  assert_int_equal (ml_document_board (ml_window_document (window))->n_parts, 2);
  assert_false (gtk_widget_get_visible (window->notice));
  assert_false (enabled (window, "read-files"));
  assert_true (ml_document_is_saved (ml_window_document (window)));
  window_end (window);
  assert_int_equal (g_unlink (path), 0);
  assert_int_equal (g_rmdir (folder), 0);
}

/* The name of a file is bytes, not text: one that is no UTF-8 is opened, shown, remembered and saved as any other. The tests end at a critical message. */
static void
test_a_file_whose_name_is_no_text_is_opened_and_saved (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL), *path = g_build_filename (folder, "valve\377.leafboard", NULL), *kept = NULL;
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  MlDocument *document = ml_window_document (window);
  gboolean remembered = FALSE;

  assert_true (g_file_set_contents (path, "meterleaf 1\npart R1 resistor 1=A 2=B\n", -1, NULL));
  ml_window_open (window, path);
  gtk_window_present (GTK_WINDOW (window));
  g_action_group_activate_action (G_ACTION_GROUP (window), "file-text", NULL); /* its warnings name the file */
  spin ();
  g_auto (GStrv) recent = ml_recent_list ();
  for (char **item = recent; *item != NULL; item++)
    remembered |= g_str_equal (*item, path);
  assert_true (remembered);
  g_autoptr (MlText) text = ml_board_edit_set_title (ml_document_board (document), "Valve", NULL);
  ml_document_apply (document, text, NULL, "Name it", NULL);
  ml_window_save (window, FALSE);
  spin ();
  assert_true (ml_document_is_saved (document));
  assert_true (g_file_get_contents (path, &kept, NULL, NULL));
  assert_non_null (strstr (kept, "board \"Valve\""));
  assert_int_equal (ml_diagnostics_n_errors (ml_document_diagnostics (document)), 0);
  /* a job, which is UTF-8 text, cannot name it: that is said, and nothing is written that could not be read again */
  g_autofree char *job_path = g_build_filename (folder, "valve.leafjob", NULL);
  g_autoptr (GError) error = NULL;
  assert_false (ml_document_save_job (document, job_path, FALSE, &error));
  assert_non_null (strstr (error->message, "another name"));
  assert_non_null (strstr (error->message, "The job is not saved"));
  assert_false (g_file_test (job_path, G_FILE_TEST_EXISTS));
  /* a folder of such a name is no trouble: beside the job the board's own name says it */
  g_autofree char *hall = g_build_filename (folder, "hall\377", NULL), *board = g_build_filename (hall, "valve.leafboard", NULL);
  g_autofree char *job = g_build_filename (hall, "valve.leafjob", NULL), *written = NULL;
  assert_int_equal (g_mkdir (hall, 0700), 0);
  assert_true (ml_document_save_board (document, board, FALSE, NULL));
  assert_true (ml_document_save_job (document, job, FALSE, NULL));
  assert_true (g_file_get_contents (job, &written, NULL, NULL));
  assert_non_null (strstr (written, "board \"valve.leafboard\""));
  window_end (window);
  assert_int_equal (g_unlink (board), 0);
  assert_int_equal (g_unlink (job), 0);
  assert_int_equal (g_rmdir (hall), 0);
  assert_int_equal (g_unlink (path), 0);
  assert_int_equal (g_rmdir (folder), 0);
}

/* The smallest window that shall be useful, with the largest text: the drawing gets half of what lies below the header, and supplies and switches
 * can be reached all the same. */
static void
test_large_text_in_a_small_window_leaves_the_drawing_its_room (void **state)
{
  GtkSettings *settings = gtk_settings_get_default ();
  MlWindow *window = window_with_demo ();
  int dpi, least;

  g_object_get (settings, "gtk-xft-dpi", &dpi, NULL);
  g_object_set (settings, "gtk-xft-dpi", 2 * 96 * 1024, NULL);
  gtk_window_set_default_size (GTK_WINDOW (window), 1024, 600);
  gtk_window_present (GTK_WINDOW (window));
  spin_until_still (window->drawing_slot);
  gtk_widget_measure (GTK_WIDGET (window), GTK_ORIENTATION_HORIZONTAL, -1, &least, NULL, NULL, NULL);
  assert_true (least <= 1024);
  assert_true (2 * gtk_widget_get_height (window->drawing_slot) > gtk_widget_get_height (window->stack));
  g_action_group_activate_action (G_ACTION_GROUP (window), "mode", g_variant_new_string ("draw"));
  spin_until_still (window->draw_bar);
  int bar_px;
  gtk_widget_measure (window->draw_row, GTK_ORIENTATION_VERTICAL, -1, &bar_px, NULL, NULL, NULL);
  assert_true (gtk_widget_get_height (gtk_widget_get_parent (window->draw_row)) >= bar_px); /* no scroll bar lies over its words */
  g_action_group_activate_action (G_ACTION_GROUP (window), "mode", g_variant_new_string ("measure"));
  spin_until_still (window->drawing_slot);
  GtkWidget *unfold = find_named (GTK_WIDGET (window->strip), "unfold-conditions"), *turn = find_named (GTK_WIDGET (window->strip), "turn-supply");
  assert_non_null (turn);
  assert_true (gtk_widget_get_visible (unfold));
  assert_false (gtk_widget_get_mapped (turn));
  gtk_toggle_button_set_active (GTK_TOGGLE_BUTTON (unfold), TRUE);
  spin_until_still (window->drawing_slot);
  assert_true (gtk_widget_get_mapped (turn));
  /* with text as usual there is room for all */
  g_object_set (settings, "gtk-xft-dpi", dpi, NULL);
  spin_until_still (window->drawing_slot);
  assert_false (gtk_widget_get_visible (unfold));
  assert_true (gtk_widget_get_mapped (turn));
  window_end (window);
}

/* The probes go there in the second condition, and the hint says what can be done. */
static void
probe (MlWindow *window, const char *part_name, const char *pin_name)
{
  const MlBoard *board = ml_document_board (ml_window_document (window));
  const int part = ml_board_find_part (board, part_name), pin = ml_part_find_pin (&board->parts[part], pin_name);
  const MlProbe red = { .net = board->parts[part].pins[pin].net, .part = part, .pin = pin };

  ml_canvas_focus_place (window->circuit_canvas, &red, NULL, 1);
  spin_until_still (window->drawing_slot);
}

/* One of the demos, in a window of that size. */
static MlWindow *
window_with_board (const char *name, int width, int height)
{
  g_autofree char *file = g_strconcat (name, ".leafjob", NULL), *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", file, NULL);
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));

  ml_window_open (window, path);
  gtk_window_set_default_size (GTK_WINDOW (window), width, height);
  gtk_window_present (GTK_WINDOW (window));
  return window;
}

static gboolean
entry_is_over (MlWindow *window, int part, int pin, GdkRectangle *ret_entry, GdkRectangle *ret_place)
{
  gtk_widget_get_allocation (ml_canvas_open_panel (window->circuit_canvas), ret_entry);
  assert_true (ml_canvas_place_rect (window->circuit_canvas, part, pin, ret_place));
  return gdk_rectangle_intersect (ret_entry, ret_place, NULL);
}

/* The demo in the smallest window that shall be useful, text at 200 %; ret_dpi: what the setting is to become again. */
static MlWindow *
small_window_with_large_text (int *ret_dpi)
{
  GtkSettings *settings = gtk_settings_get_default ();

  g_object_get (settings, "gtk-xft-dpi", ret_dpi, NULL);
  g_object_set (settings, "gtk-xft-dpi", 2 * 96 * 1024, NULL);
  return window_with_board ("vent-controller", 1024, 600);
}

static void
spin_until_nothing_is_on_its_way (MlWindow *window)
{
  for (int wait = 0; wait < 30000 && (ml_document_is_drawing (ml_window_document (window)) || ml_document_progress (ml_window_document (window)) >= 0); wait++)
    {
      spin ();
      g_usleep (1000);
    }
  spin_until_still (window->drawing_slot);
}

/* With the largest text in the smallest window an entry takes most of the drawing's room. What is read there stays in sight all the same, and the
 * drawing is where it was when the entry is left. */
static void
test_large_text_in_a_small_window_covers_no_place_that_is_read (void **state)
{
  static const char *const places[][2] = { { "Q2", "base" }, { "J1", "FEED" }, { "LED1", "anode" }, { "U1", "3" }, { "D3", "anode" } };
  int dpi;
  MlWindow *window = small_window_with_large_text (&dpi);

  spin_until_nothing_is_on_its_way (window); /* then nothing moves but for the entry */
  for (guint i = 0; i < G_N_ELEMENTS (places); i++)
    {
      GdkRectangle place, entry, after;
      int part, pin;
      probe (window, places[i][0], places[i][1]);
      ml_document_selected (ml_window_document (window), &part, &pin);
      assert_true (ml_canvas_place_rect (window->circuit_canvas, part, pin, &place));
      ml_canvas_open_entry (window->circuit_canvas);
      gtk_editable_set_text (GTK_EDITABLE (find_named (GTK_WIDGET (window), "entry-text")), "1.25");
      spin_until_still (window->drawing_slot);
      for (int wait = 0; wait < 5000 && entry_is_over (window, part, pin, &entry, &after); wait++)
        {
          spin ();
          g_usleep (1000);
        }
      if (gdk_rectangle_intersect (&entry, &after, NULL))
        fail_msg ("the entry (%d %d, %d x %d) lies over %s.%s (%d %d) in %d x %d", entry.x, entry.y, entry.width, entry.height, places[i][0], places[i][1], after.x, after.y,
                  gtk_widget_get_width (GTK_WIDGET (window->circuit_canvas)), gtk_widget_get_height (GTK_WIDGET (window->circuit_canvas)));
      assert_true (entry.x >= 0 && entry.y >= 0 && entry.x + entry.width <= gtk_widget_get_width (GTK_WIDGET (window->circuit_canvas)));
      gtk_editable_set_text (GTK_EDITABLE (find_named (GTK_WIDGET (window), "entry-text")), "");
      g_action_group_activate_action (G_ACTION_GROUP (window), "cancel", NULL);
      assert_null (ml_canvas_open_panel (window->circuit_canvas));
      spin_until_still (window->drawing_slot);
      assert_true (ml_canvas_place_rect (window->circuit_canvas, part, pin, &after));
      assert_true (gdk_rectangle_equal (&place, &after));
    }
  g_object_set (gtk_settings_get_default (), "gtk-xft-dpi", dpi, NULL);
  window_end (window);
}

/* Where the drawing is hardly higher than the hint, the hint stands in the line below it: the pin it asks for must be seen. */
static void
test_large_text_in_a_small_window_keeps_the_hint_off_the_drawing (void **state)
{
  int dpi;
  MlWindow *window = small_window_with_large_text (&dpi);

  g_action_group_change_action_state (G_ACTION_GROUP (window), "mode", g_variant_new_string ("draw"));
  spin_until_still (window->drawing_slot);
  g_action_group_activate_action (G_ACTION_GROUP (window), "add-condition", NULL);
  for (int wait = 0; wait < 5000 && !window->hint_below; wait++)
    {
      spin ();
      g_usleep (1000);
    }
  spin_until_still (window->drawing_slot);
  assert_true (window->hint_below);
  assert_false (gtk_widget_get_child_visible (window->hint));
  assert_non_null (strstr (gtk_label_get_text (GTK_LABEL (window->status)), "where the red lead goes"));
  assert_false (gtk_widget_get_visible (window->draw_bar)); /* its tools are of no use meanwhile, its room is */
  g_action_group_activate_action (G_ACTION_GROUP (window), "cancel", NULL);
  spin_until_still (window->drawing_slot);
  assert_null (strstr (gtk_label_get_text (GTK_LABEL (window->status)), "where the red lead goes"));
  assert_true (gtk_widget_get_visible (window->draw_bar));
  g_object_set (gtk_settings_get_default (), "gtk-xft-dpi", dpi, NULL);
  window_end (window);
}

/* How many of what is written on the drawing the one that says something comes nearer than that. */
static int
n_written_near (MlWindow *window, GtkWidget *said, int near_px)
{
  g_autoptr (GArray) written = g_array_new (FALSE, FALSE, sizeof (MlBusy));
  GdkRectangle box;
  int n = 0;

  gtk_widget_get_allocation (said, &box);
  box = (GdkRectangle){ box.x - near_px, box.y - near_px, box.width + 2 * near_px, box.height + 2 * near_px };
  ml_canvas_add_written (window->circuit_canvas, 0, 0, written);
  for (guint i = 0; i < written->len && gtk_widget_get_mapped (said); i++)
    n += gdk_rectangle_intersect (&box, &g_array_index (written, MlBusy, i).at, NULL);
  return n;
}

/* How many it lies over. */
static int
n_written_below (MlWindow *window, GtkWidget *said)
{
  return n_written_near (window, said, 0);
}

/* In the line below the hint has the room of the button beside it, too: it is read to its end. */
static void
test_large_text_in_a_small_window_cuts_no_hint (void **state)
{
  int dpi;

  g_object_get (gtk_settings_get_default (), "gtk-xft-dpi", &dpi, NULL);
  g_object_set (gtk_settings_get_default (), "gtk-xft-dpi", 2 * 96 * 1024, NULL);
  MlWindow *window = window_with_board ("vent-controller", 1024, 600); /* which leaves a hint no room */

  spin_until_nothing_is_on_its_way (window);
  assert_true (gtk_widget_get_visible (window->all_conditions_button));
  probe (window, "R1", "1");
  for (int wait = 0; wait < 5000 && !window->hint_below; wait++)
    {
      spin ();
      g_usleep (1000);
    }
  spin_until_still (window->drawing_slot);
  assert_true (window->hint_below);
  assert_string_equal (gtk_label_get_text (GTK_LABEL (window->status)), gtk_label_get_text (GTK_LABEL (window->hint)));
  assert_false (pango_layout_is_ellipsized (gtk_label_get_layout (GTK_LABEL (window->status))));
  int height = gtk_widget_get_height (window->drawing_slot);
  g_action_group_activate_action (G_ACTION_GROUP (window), "cancel", NULL);
  g_action_group_activate_action (G_ACTION_GROUP (window), "cancel", NULL);
  spin_until_still (window->drawing_slot);
  assert_true (gtk_widget_get_visible (window->all_conditions_button));
  assert_int_equal (gtk_widget_get_height (window->drawing_slot), height); /* the drawing stays where it is */
  g_object_set (gtk_settings_get_default (), "gtk-xft-dpi", dpi, NULL);
  window_end (window);
}

/* What the unit is and which pass, and how many readings a condition has, is read whole. Of the demos this one leaves the cards the least room. */
static void
test_large_text_in_a_small_window_cuts_no_state_and_no_count (void **state)
{
  GtkSettings *settings = gtk_settings_get_default ();
  graphene_rect_t card, unfold;
  int dpi, natural;

  g_object_get (settings, "gtk-xft-dpi", &dpi, NULL);
  g_object_set (settings, "gtk-xft-dpi", 2 * 96 * 1024, NULL);
  MlWindow *window = window_with_board ("signal-board", 1024, 600);
  spin_until_nothing_is_on_its_way (window);
  GtkWidget *strip = GTK_WIDGET (window->strip), *of_first = find_named (strip, "card-1"), *button = find_named (strip, "unfold-conditions");
  for (int wait = 0; wait < 5000 && !gtk_widget_get_mapped (button); wait++)
    {
      spin ();
      g_usleep (1000);
    }
  spin_until_still (window->drawing_slot);
  assert_string_equal (gtk_label_get_text (GTK_LABEL (window->unit_label)), "east");
  assert_string_equal (gtk_label_get_text (GTK_LABEL (window->unit_state_label)), "suspect, pass 1");
  assert_false (pango_layout_is_ellipsized (gtk_label_get_layout (GTK_LABEL (window->unit_state_label))));
  gtk_widget_measure (window->unit_state_label, GTK_ORIENTATION_HORIZONTAL, -1, NULL, &natural, NULL, NULL);
  assert_true (gtk_widget_get_width (window->unit_state_label) >= natural);
  assert_true (gtk_widget_compute_bounds (of_first, strip, &card));
  assert_true (gtk_widget_compute_bounds (button, strip, &unfold));
  assert_true (card.origin.x >= 0);
  if (card.origin.x + card.size.width > unfold.origin.x)
    fail_msg ("the card ends at %g px, what is seen of it before %g px", card.origin.x + card.size.width, unfold.origin.x);
  g_object_set (settings, "gtk-xft-dpi", dpi, NULL);
  window_end (window);
}

/* The name of what is open is read whole where the file's has to go for it; with text as usual both are. */
static void
test_large_text_in_a_small_window_cuts_no_title (void **state)
{
  static const char *const boards[] = { "vent-controller", "signal-board", "dust-switch" };
  int dpi, least;

  for (guint i = 0; i < G_N_ELEMENTS (boards); i++)
    {
      g_object_get (gtk_settings_get_default (), "gtk-xft-dpi", &dpi, NULL);
      g_object_set (gtk_settings_get_default (), "gtk-xft-dpi", 2 * 96 * 1024, NULL);
      MlWindow *window = window_with_board (boards[i], 1024, 600);
      GtkTooltip *tip = g_object_new (GTK_TYPE_TOOLTIP, NULL);
      gboolean tells = FALSE;

      spin_until_still (window->drawing_slot);
      if (ml_title_is_cut (ML_TITLE (window->title)))
        fail_msg ("%s is cut in %d x %d", boards[i], gtk_widget_get_width (window->title), gtk_widget_get_height (window->title));
      g_signal_emit_by_name (window->title, "query-tooltip", 5, 5, FALSE, tip, &tells);
      assert_true (tells); /* the file */
      gtk_widget_measure (GTK_WIDGET (window), GTK_ORIENTATION_HORIZONTAL, -1, &least, NULL, NULL, NULL);
      assert_true (least <= 1024);
      g_object_set (gtk_settings_get_default (), "gtk-xft-dpi", dpi, NULL);
      spin_until_still (window->drawing_slot);
      assert_false (ml_title_is_cut (ML_TITLE (window->title)));
      g_signal_emit_by_name (window->title, "query-tooltip", 5, 5, FALSE, tip, &tells);
      assert_false (tells);
      ml_title_set (ML_TITLE (window->title), "Unpronounceablylongcompoundwordwithoutanyblanktobreakitatwhatsoeverinthemiddle", NULL);
      spin_until_still (window->drawing_slot);
      assert_true (ml_title_is_cut (ML_TITLE (window->title)));
      g_object_unref (tip);
      window_end (window);
    }
}

/* A card says what it is where the pointer rests, but not over the form that is being filled in. */
static void
test_a_card_being_edited_has_no_tip_over_its_form (void **state)
{
  MlWindow *window = window_with_demo ();
  GtkWidget *card = find_named (GTK_WIDGET (window->strip), "card-1");

  spin_until_still (window->drawing_slot);
  assert_non_null (gtk_widget_get_tooltip_text (gtk_widget_get_first_child (card)));
  ml_bench_card_edit_supply (ML_BENCH_CARD (card), 0);
  assert_null (gtk_widget_get_tooltip_text (gtk_widget_get_first_child (card)));
  g_signal_emit_by_name (find_named (card, "supply-cancel"), "clicked");
  assert_false (ml_bench_card_is_editing (ML_BENCH_CARD (card)));
  assert_non_null (gtk_widget_get_tooltip_text (gtk_widget_get_first_child (card)));
  window_end (window);
}

/* What can be read already is not laid over other things once more. */
static void
test_the_line_below_has_a_tip_only_where_it_is_cut (void **state)
{
  MlWindow *window = window_with_board ("vent-controller", 1024, 600);
  GtkTooltip *tip = g_object_new (GTK_TYPE_TOOLTIP, NULL);
  gboolean tells = TRUE;

  spin_until_still (window->drawing_slot);
  gtk_label_set_text (GTK_LABEL (window->status), "R1, resistor");
  spin_until_still (window->drawing_slot);
  g_signal_emit_by_name (window->status, "query-tooltip", 5, 5, FALSE, tip, &tells);
  assert_false (tells);
  g_autofree char *long_text = g_strnfill (900, 'x');
  for (int i = 7; i < 900; i += 8)
    long_text[i] = ' ';
  gtk_label_set_text (GTK_LABEL (window->status), long_text);
  spin_until_still (window->drawing_slot);
  g_signal_emit_by_name (window->status, "query-tooltip", 5, 5, FALSE, tip, &tells);
  assert_true (tells);
  g_object_unref (tip);
  window_end (window);
}

/* In the smallest window the drawing reaches up to the hint's usual place, and leaves it another one. */
static void
test_hint_covers_nothing_that_is_written (void **state)
{
  MlWindow *window = window_with_board ("vent-controller", 1024, 600);
  GdkRectangle hint, slot = { 0 };

  probe (window, "Q2", "base");
  assert_true (gtk_widget_get_mapped (window->hint));
  assert_int_equal (n_written_below (window, window->hint), 0);
  gtk_widget_get_allocation (window->hint, &hint);
  slot.width = gtk_widget_get_width (window->drawing_slot);
  slot.height = gtk_widget_get_height (window->drawing_slot);
  assert_true (gdk_rectangle_intersect (&hint, &slot, NULL));
  window_end (window);
}

/* The sheet is full: the notice keeps off it all the same, and the hint gives way where there is no room for both, but is read on. In the smallest
 * window there is not a free place on every sheet: then one name or value at the most. */
/* With a part in hand the hint's lower edge touched the note above Q1, while there was room below the drawing. */
static void
test_hint_touches_nothing_that_is_written (void **state)
{
  static const int widths[] = { 1184, 1264, 1384 };

  for (guint i = 0; i < G_N_ELEMENTS (widths); i++)
    {
      MlWindow *window = window_with_board ("vent-controller", widths[i], 724);
      spin_until_nothing_is_on_its_way (window);
      ml_document_set_condition (ml_window_document (window), 1);
      g_action_group_change_action_state (G_ACTION_GROUP (window), "mode", g_variant_new_string ("draw"));
      ml_canvas_add_part (window->circuit_canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
      spin_until_still (window->drawing_slot);
      assert_true (gtk_widget_get_mapped (window->hint));
      assert_int_equal (n_written_near (window, window->hint, 7), 0); /* it was at 5 or 6 px */
      window_end (window);
    }
}

static void
test_notice_and_hint_together_keep_off_what_is_written (void **state)
{
  static const char *const boards[][3] = { { "vent-controller", "Q2", "base" }, { "signal-board", "R3", "1" }, { "dust-switch", "C2", "1" } };
  static const struct { int width, height, most; } sizes[] = { { 1024, 600, 1 }, { 1280, 800, 0 } };

  for (guint i = 0; i < ml_test_size (G_N_ELEMENTS (boards), 1); i++) /* each board has GLib keep more words: see main */
    for (guint k = 0; k < G_N_ELEMENTS (sizes); k++)
      {
        MlWindow *window = window_with_board (boards[i][0], sizes[k].width, sizes[k].height);
        spin_until_nothing_is_on_its_way (window);
        probe (window, boards[i][1], boards[i][2]);
        ml_window_notice (window, "The picture is saved as signal-board.png in /home/somebody/Pictures.", "Show It", "win.show-file::file:///tmp/signal-board.png");
        spin_until_still (window->drawing_slot);
        assert_true (gtk_widget_get_mapped (window->notice));
        if (n_written_below (window, window->hint) > 0 || n_written_below (window, window->notice) > sizes[k].most)
          fail_msg ("%s in %d x %d: the hint lies over %d, the notice over %d", boards[i][0], sizes[k].width, sizes[k].height,
                    n_written_below (window, window->hint), n_written_below (window, window->notice));
        if (!gtk_widget_get_mapped (window->hint))
          assert_string_equal (gtk_label_get_text (GTK_LABEL (window->status)), gtk_label_get_text (GTK_LABEL (window->hint)));
        gtk_widget_set_visible (window->notice, FALSE);
        spin_until_still (window->drawing_slot);
        assert_true (gtk_widget_get_mapped (window->hint)); /* back again */
        window_end (window);
      }
}

/* Where there is little on the sheet there is room enough: the notice touches neither pin nor bar nor name. */
static void
test_notice_stands_clear_of_a_board_of_one_part (void **state)
{
  static const char board[] = "meterleaf 1\nreference M\npart U1 block 1=VCC 2=M 3=A 4=B 5=C 6=D 7=E 8=F 9=G 10=H 11=I 12=J 13=K 14=L\n"
                              "condition on\n  supply plus=VCC minus=M voltage=5\n";
  g_autofree char *folder = g_dir_make_tmp ("one-XXXXXX", NULL), *path = g_build_filename (folder, "one.leafboard", NULL);
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  GdkRectangle notice, pin;

  assert_true (g_file_set_contents (path, board, -1, NULL));
  ml_window_open (window, path);
  gtk_window_set_default_size (GTK_WINDOW (window), 1024, 600);
  gtk_window_present (GTK_WINDOW (window));
  spin_until_nothing_is_on_its_way (window);
  ml_window_notice (window, "The picture is saved as one.png in /home/somebody/Pictures.", "Show It", "win.show-file::file:///tmp/one.png");
  spin_until_still (window->drawing_slot);
  gtk_widget_get_allocation (window->notice, &notice);
  notice = (GdkRectangle){ notice.x - 4, notice.y - 4, notice.width + 8, notice.height + 8 };
  for (int i = 0; i < 14; i++)
    {
      assert_true (ml_canvas_place_rect (window->circuit_canvas, 0, i, &pin));
      if (gdk_rectangle_intersect (&notice, &pin, NULL))
        fail_msg ("pin %d at %d %d is %d %d, %d x %d with its air", i, pin.x, pin.y, notice.x, notice.y, notice.width, notice.height);
    }
  assert_int_equal (n_written_below (window, window->notice), 0);
  window_end (window);
  assert_int_equal (g_remove (path), 0);
  assert_int_equal (g_rmdir (folder), 0);
}

/* The tests end at the first critical message. */
static void
test_a_file_with_nothing_in_it_is_an_empty_sheet (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *folder = g_dir_make_tmp ("empty-XXXXXX", NULL), *path = g_build_filename (folder, "empty.leafboard", NULL);

  assert_true (g_file_set_contents (path, "", 0, NULL));
  ml_window_open (window, path);
  g_action_group_change_action_state (G_ACTION_GROUP (window), "file-text", g_variant_new_boolean (TRUE));
  spin ();
  assert_int_equal (ml_document_board (ml_window_document (window))->n_parts, 0);
  window_end (window);
  g_remove (path);
  g_rmdir (folder);
}

static char *
mode_after_opening (const char *text)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *folder = g_dir_make_tmp ("mode-XXXXXX", NULL), *path = g_build_filename (folder, "board.leafboard", NULL);

  assert_true (g_file_set_contents (path, text, -1, NULL));
  ml_window_open (window, path);
  g_autoptr (GVariant) mode = g_action_group_get_action_state (G_ACTION_GROUP (window), "mode");
  char *word = g_variant_dup_string (mode, NULL);
  window_end (window);
  g_remove (path);
  g_rmdir (folder);
  return word;
}

/* Where no condition is told nothing can be measured: whoever opens that board goes on drawing. */
static void
test_a_board_that_is_being_drawn_up_is_opened_for_drawing (void **state)
{
  g_autofree char *begun = mode_after_opening ("meterleaf 1\npart R1 resistor\n");
  g_autofree char *drawn = mode_after_opening ("meterleaf 1\npart R1 resistor 1=A 2=B\ncondition cold\n");
  g_autofree char *wrong = mode_after_opening ("meterleaf 1\npart R1 resistr\n");

  assert_string_equal (begun, "draw");
  assert_string_equal (drawn, "measure");
  assert_string_equal (wrong, "measure");
}

/* Closing asks about what is typed and not yet taken, too. */
static void
test_closing_counts_what_was_typed (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "vent-controller.leafjob", NULL);

  ml_window_open (window, path);
  MlDocument *document = ml_window_document (window);
  guint before = ml_document_job (document)->n_readings;
  const MlBoard *board = ml_document_board (document);
  const int r3 = ml_board_find_part (board, "R3");
  const MlProbe red = { .net = board->parts[r3].pins[0].net, .part = r3, .pin = 0 };
  ml_canvas_focus_place (window->circuit_canvas, &red, NULL, 0);
  ml_canvas_open_entry (window->circuit_canvas);
  gtk_editable_set_text (GTK_EDITABLE (find_named (GTK_WIDGET (window), "entry-text")), "1.25");
  assert_true (ml_document_is_saved (document));
  assert_false (ml_window_may_close (window));
  assert_int_equal (ml_document_job (document)->n_readings, before + 1);
  leave_question (window);
  window_end (window);
}

/* The menu of units is made anew when units or passes are other ones, not at every click on the drawing: with it goes its popover, open or not. */
static void
test_the_menu_of_units_follows_the_job_only (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "vent-controller.leafjob", NULL);
  GtkMenuButton *button = GTK_MENU_BUTTON (window->unit_button);

  ml_window_open (window, path);
  GMenuModel *menu = gtk_menu_button_get_menu_model (button);
  ml_document_select (ml_window_document (window), 1, -1);
  ml_document_set_condition (ml_window_document (window), 1);
  assert_ptr_equal (gtk_menu_button_get_menu_model (button), menu);
  g_autoptr (GError) error = NULL;
  g_autoptr (MlText) one_more = ml_job_edit_add_unit (ml_document_job (ml_window_document (window)), "bay9", ML_UNIT_STATE_SUSPECT, NULL, &error);
  ml_document_apply (ml_window_document (window), NULL, one_more, "Add a unit", NULL);
  g_autoptr (GMenuModel) units = g_menu_model_get_item_link (gtk_menu_button_get_menu_model (button), 0, G_MENU_LINK_SECTION);
  assert_int_equal (g_menu_model_get_n_items (units), (int) ml_document_job (ml_window_document (window))->n_units);
  ml_document_set_unit (ml_window_document (window), 1);
  g_autoptr (GVariant) unit = g_action_group_get_action_state (G_ACTION_GROUP (window), "unit");
  assert_int_equal (g_variant_get_int32 (unit), 1);
  window_end (window);
}

/* The tips of the meter were where they were: a reference that moves afterwards changes no reading, and undo is one step. */
static void
test_moving_the_reference_changes_no_reading (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "vent-controller.leafjob", NULL);

  ml_window_open (window, path);
  MlDocument *document = ml_window_document (window);
  const int r3 = ml_board_find_part (ml_document_board (document), "R3");
  g_autoptr (MlJob) before = ml_job_ref (ml_document_job (document));
  ml_document_select (document, r3, 0);
  g_action_group_activate_action (G_ACTION_GROUP (window), "set-reference", NULL);
  const MlJob *after = ml_document_job (document);
  assert_string_equal (after->board->nets[after->board->reference].name, "BASE");
  assert_int_equal (after->n_readings, before->n_readings);
  for (guint i = 0; i < after->n_readings; i++)
    {
      const MlReading *was = &before->readings[i], *is = &after->readings[i];
      if (was->supply >= 0)
        continue;
      g_autofree char *was_red = ml_probe_label (before->board, &was->red), *is_red = ml_probe_label (after->board, &is->red);
      g_autofree char *was_black = ml_probe_label (before->board, &was->black), *is_black = ml_probe_label (after->board, &is->black);
      assert_string_equal (is_red, was_red);
      assert_string_equal (is_black, was_black);
    }
  ml_document_undo (document);
  assert_true (ml_text_equal (ml_document_board (document)->text, before->board->text));
  assert_true (ml_text_equal (ml_document_job (document)->text, before->text));
  window_end (window);
}

/* A file that is not there, a folder, a picture, some other text: the first page stays, says which file and why, and has the ways on. One that calls
 * itself a board is shown with its errors instead, to be mended. */
static void
test_what_cannot_be_opened_is_said_on_the_first_page (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("wrong-XXXXXX", NULL), *picture = g_build_filename (folder, "board.png", NULL);
  g_autofree char *letter = g_build_filename (folder, "letter.txt", NULL), *missing = g_build_filename (folder, "gone.leafjob", NULL);
  g_autofree char *broken = g_build_filename (folder, "broken.leafboard", NULL);
  const struct { const char *path, *words; } cases[] = {
    { missing, "No such file" }, { folder, "is a folder" }, { picture, "is a picture" }, { letter, "neither a board nor a job" },
  };

  assert_true (g_file_set_contents (picture, "\211PNG\r\n\032\n\0\0", 10, NULL));
  assert_true (g_file_set_contents (letter, "Dear neighbour,\nthe sander is mended.\n", -1, NULL));
  assert_true (g_file_set_contents (broken, "prat R1 resistor\n", -1, NULL));
  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      MlWindow *window = ml_window_open_for (GTK_APPLICATION (application), NULL, cases[i].path);
      GtkWidget *label = find_named (GTK_WIDGET (window), "start-trouble");

      spin ();
      assert_true (ml_window_is_untouched (window));
      assert_true (gtk_widget_get_mapped (label) && gtk_widget_get_mapped (find_named (GTK_WIDGET (window), "start-draw")));
      assert_non_null (strstr (gtk_label_get_text (GTK_LABEL (label)), cases[i].path));
      assert_non_null (strstr (gtk_label_get_text (GTK_LABEL (label)), cases[i].words));
      assert_true (gtk_test_accessible_has_role (GTK_ACCESSIBLE (gtk_widget_get_parent (label)), GTK_ACCESSIBLE_ROLE_ALERT));
      window_end (window);
    }
  MlWindow *mending = ml_window_open_for (GTK_APPLICATION (application), NULL, broken);
  assert_false (ml_window_is_untouched (mending));
  assert_true (ml_diagnostics_n_errors (ml_document_diagnostics (ml_window_document (mending))) > 0);
  window_end (mending);
  g_remove (picture);
  g_remove (letter);
  g_remove (broken);
  g_rmdir (folder);
}

static void
test_a_file_that_is_open_is_shown_where_it_is (void **state)
{
  MlWindow *first = ml_window_new (GTK_APPLICATION (application)), *second = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *folder = g_dir_make_tmp ("twice-XXXXXX", NULL), *path = g_build_filename (folder, "chime.leafboard", NULL);
  g_autofree char *link = g_build_filename (folder, "link.leafboard", NULL);

  assert_true (g_file_set_contents (path, "meterleaf 1\npart R1 resistor 1=A 2=M\n", -1, NULL));
  assert_int_equal (symlink ("chime.leafboard", link), 0);
  assert_ptr_equal (ml_window_open_for (GTK_APPLICATION (application), first, path), first);
  assert_ptr_equal (ml_window_open_for (GTK_APPLICATION (application), second, path), first);
  assert_ptr_equal (ml_window_open_for (GTK_APPLICATION (application), second, link), first);
  assert_true (ml_window_is_untouched (second));
  assert_true (g_file_set_contents (path, "meterleaf 1\n", -1, NULL));
  window_end (first);
  assert_ptr_equal (ml_window_open_for (GTK_APPLICATION (application), second, path), second);
  window_end (second);
  g_remove (link);
  g_remove (path);
  g_rmdir (folder);
}

/* ---- names ---- */

static void
test_what_nobody_named_is_called_as_its_file (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  g_autofree char *folder = g_dir_make_tmp ("names-XXXXXX", NULL), *path = g_build_filename (folder, "Hall timer.leafboard", NULL);

  assert_true (g_file_set_contents (path, "meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\n", -1, NULL));
  ml_window_begin_drawing (window);
  g_autofree char *unsaved = ml_window_suggested_name (window, ".png");
  assert_string_equal (unsaved, "board.png");
  assert_string_equal (gtk_window_get_title (GTK_WINDOW (window)), "Board without a name");
  assert_true (ml_document_open (ml_window_document (window), path, NULL));
  g_autofree char *saved = ml_window_suggested_name (window, "-report.pdf");
  assert_string_equal (saved, "Hall timer-report.pdf");
  assert_string_equal (gtk_window_get_title (GTK_WINDOW (window)), "Hall timer");
  window_end (window);
  g_remove (path);
  g_rmdir (folder);
}

/* ---- polarity ---- */

/* C1 of that board is drawn without a polarity; where its legs are soldered follows from the file. Undo brings back every byte. */
static gboolean
keeps_clicks (GtkWidget *surface)
{
  g_autoptr (GListModel) controllers = gtk_widget_observe_controllers (surface);
  gboolean keeps = FALSE;

  for (guint i = 0; i < g_list_model_get_n_items (controllers); i++)
    {
      g_autoptr (GtkEventController) controller = g_list_model_get_item (controllers, i);
      keeps |= GTK_IS_EVENT_CONTROLLER_LEGACY (controller) && gtk_event_controller_get_propagation_phase (controller) == GTK_PHASE_CAPTURE;
    }
  return keeps;
}

/* A click itself cannot be made here: the tests that drive the pointer do. */
static void
test_clicks_are_kept_in_window_and_menus (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  GtkWidget *menu = gtk_popover_new ();

  gtk_window_present (GTK_WINDOW (window));
  gtk_widget_set_parent (menu, gtk_window_get_child (GTK_WINDOW (window)));
  spin ();
  assert_true (keeps_clicks (GTK_WIDGET (window)));
  gtk_popover_popup (GTK_POPOVER (menu));
  for (int i = 0; i < 1000 && !gtk_widget_get_mapped (menu); i++)
    {
      spin ();
      g_usleep (1000);
    }
  assert_true (keeps_clicks (menu));
  gtk_widget_unparent (menu);
  window_end (window);
}

static void
test_polarity_keeps_legs_readings_and_place (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  MlDocument *document = ml_window_document (window);
  g_autoptr (MlText) board_text = ml_text_new ("b", "meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\npart C1 capacitor 1=A 2=M\nplace C1 x=10 y=4\n"
                                                    "condition on\n  supply plus=A minus=M voltage=5\n", -1);
  g_autoptr (MlText) job_text = ml_text_new ("j", "meterleaf 1\nboard \"b\"\nunit one suspect\nreading one on across=C1 volts=4.9\n", -1);

  ml_window_begin_drawing (window);
  ml_document_apply (document, board_text, job_text, "Begin", NULL);
  ml_document_select (document, 1, 0);
  g_action_group_change_action_state (G_ACTION_GROUP (window), "polarity", g_variant_new_int32 (1));
  const MlBoard *board = ml_document_board (document);
  const MlPart *capacitor = &board->parts[1];
  assert_string_equal (capacitor->pins[0].name, "plus");
  assert_string_equal (board->nets[capacitor->pins[0].net].name, "M");
  assert_string_equal (board->nets[capacitor->pins[1].net].name, "A");
  /* turned end for end: the leg that was below, 4 g under the other one, is plus now */
  assert_near (capacitor->place.x, 10, 0, 1e-9);
  assert_near (capacitor->place.y, 8, 0, 1e-9);
  assert_int_equal (capacitor->place.turn, 2);
  const MlReading *reading = &ml_document_job (document)->readings[0];
  assert_string_equal (board->nets[reading->red.net].name, "A");
  assert_string_equal (board->nets[reading->black.net].name, "M");
  ml_document_undo (document);
  assert_true (ml_text_equal (ml_document_board (document)->text, board_text));
  assert_true (ml_text_equal (ml_document_job (document)->text, job_text));
  window_end (window);
}

/* A click on a condition's name edits it; the next one, on the drawing, leaves it, and what is typed then is meant for the drawing. */
static void
test_a_name_that_is_left_keeps_no_keys (void **state)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "vent-controller.leafjob", NULL);
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));

  ml_window_open (window, path);
  gtk_window_present (GTK_WINDOW (window));
  spin_until_still (window->drawing_slot);
  GtkWidget *name = find_named (GTK_WIDGET (window), "card-name-2");
  gtk_editable_label_start_editing (GTK_EDITABLE_LABEL (name));
  spin ();
  gtk_widget_grab_focus (GTK_WIDGET (window->circuit_canvas));
  for (int wait = 0; wait < 400; wait++) /* the label ends a tenth of a second after it was left */
    {
      spin ();
      g_usleep (1000);
    }
  assert_false (gtk_editable_label_get_editing (GTK_EDITABLE_LABEL (name)));
  assert_ptr_equal (gtk_root_get_focus (GTK_ROOT (window)), window->circuit_canvas);
  window_end (window);
}

/* Six switches, of which the conditions differ by the last: that one and two more stand in the card's row, the others behind its last button, and
 * can be worked there. */
static void
test_a_card_with_many_switches_keeps_some_behind_a_button (void **state)
{
  MlWindow *window = ml_window_new (GTK_APPLICATION (application));
  MlDocument *document = ml_window_document (window);
  g_autoptr (GString) text = g_string_new ("meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\n");

  for (int i = 1; i <= 6; i++)
    g_string_append_printf (text, "part S%d switch 1=A 2=M\n", i);
  g_string_append (text, "condition off\n  supply plus=A minus=M voltage=5\ncondition on\n  supply plus=A minus=M voltage=5\n  set S6 closed\n");
  g_autoptr (MlText) board_text = ml_text_new ("b", text->str, -1), job_text = ml_text_new ("j", "meterleaf 1\nboard \"b\"\nunit one suspect\n", -1);
  ml_window_begin_drawing (window);
  ml_document_apply (document, board_text, job_text, "Begin", NULL);
  gtk_window_present (GTK_WINDOW (window));
  spin_until_still (window->drawing_slot);

  GtkWidget *more = find_named (GTK_WIDGET (window->strip), "more-settings-1");
  assert_non_null (more);
  for (int i = 1; i <= 6; i++)
    {
      g_autofree char *name = g_strdup_printf ("setting-1-S%d", i);
      GtkWidget *button = find_named (GTK_WIDGET (window->strip), name);
      assert_non_null (button);
      assert_int_equal (gtk_widget_is_ancestor (button, more), i != 6 && i > 2);
    }
  g_signal_emit_by_name (find_named (GTK_WIDGET (window->strip), "setting-1-S4"), "clicked");
  const MlBoard *board = ml_document_board (document);
  const MlSetting *set = ml_condition_setting (&board->conditions[0], ml_board_find_part (board, "S4"));
  assert_non_null (set);
  assert_int_equal (set->state, ML_SETTING_CLOSED);
  window_end (window);
}

/* window [names|room|notices|files|paper|large]: in parts, each by itself: more than 2048 interned strings in one process, and GLib lets go of its first table of
 * them, which a leak checker sees. */
int
main (int argc, char **argv)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_every_control_has_a_name),
    cmocka_unit_test (test_closing_counts_what_was_typed),
    cmocka_unit_test (test_the_menu_of_units_follows_the_job_only),
    cmocka_unit_test (test_moving_the_reference_changes_no_reading),
    cmocka_unit_test (test_a_board_that_is_being_drawn_up_is_opened_for_drawing),
    cmocka_unit_test (test_polarity_keeps_legs_readings_and_place),
    cmocka_unit_test (test_a_name_that_is_left_keeps_no_keys),
    cmocka_unit_test (test_every_action_of_the_table_exists),
    cmocka_unit_test (test_the_start_page_needs_no_tips),
    cmocka_unit_test (test_empty_window_offers_only_what_makes_sense),
    cmocka_unit_test (test_the_keyboard_gets_from_one_area_to_the_next),
    cmocka_unit_test (test_a_unit_is_called_good_and_suspect_again),
  };
  const struct CMUnitTest on_notices[] = {
    cmocka_unit_test (test_notice_stands_clear_of_a_board_of_one_part),
    cmocka_unit_test (test_notice_and_hint_together_keep_off_what_is_written),
    cmocka_unit_test (test_a_card_with_many_switches_keeps_some_behind_a_button),
    cmocka_unit_test (test_clicks_are_kept_in_window_and_menus),
  };
  const struct CMUnitTest on_room[] = {
    cmocka_unit_test (test_hint_covers_nothing_that_is_written),
    cmocka_unit_test (test_hint_touches_nothing_that_is_written),
    cmocka_unit_test (test_a_card_being_edited_has_no_tip_over_its_form),
    cmocka_unit_test (test_the_line_below_has_a_tip_only_where_it_is_cut),
  };
  const struct CMUnitTest on_files[] = {
    cmocka_unit_test (test_a_file_whose_name_is_no_text_is_opened_and_saved),
    cmocka_unit_test (test_a_file_changed_elsewhere_is_told),
    cmocka_unit_test (test_a_file_with_nothing_in_it_is_an_empty_sheet),
    cmocka_unit_test (test_what_cannot_be_opened_is_said_on_the_first_page),
    cmocka_unit_test (test_a_file_that_is_open_is_shown_where_it_is),
    cmocka_unit_test (test_what_nobody_named_is_called_as_its_file),
    cmocka_unit_test (test_a_broken_job_shows_its_own_text),
    cmocka_unit_test (test_errors_view_reads_the_mended_text),
    cmocka_unit_test (test_errors_view_keeps_line_ends_cursor_and_one_step),
    cmocka_unit_test (test_text_of_the_file_is_taken_when_it_is_left),
  };
  const struct CMUnitTest on_paper[] = {
    cmocka_unit_test (test_a_picture_has_the_ending_that_was_typed),
    cmocka_unit_test (test_print_puts_drawing_and_title_on_one_page),
    cmocka_unit_test (test_copy_offers_image_and_svg),
    cmocka_unit_test (test_report_is_written_beside_the_window),
  };
  g_autofree char *scratch = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);

  const struct CMUnitTest large_text[] = {
    cmocka_unit_test (test_large_text_in_a_small_window_leaves_the_drawing_its_room),
    cmocka_unit_test (test_large_text_in_a_small_window_covers_no_place_that_is_read),
    cmocka_unit_test (test_large_text_in_a_small_window_keeps_the_hint_off_the_drawing),
    cmocka_unit_test (test_large_text_in_a_small_window_cuts_no_state_and_no_count),
    cmocka_unit_test (test_large_text_in_a_small_window_cuts_no_title),
    cmocka_unit_test (test_large_text_in_a_small_window_cuts_no_hint), /* last: the board is opened again as it is left */
  };
  g_setenv ("XDG_STATE_HOME", scratch, TRUE);
  g_setenv ("XDG_CACHE_HOME", scratch, TRUE);
  if (!gtk_init_check ())
    return 77;
  application = ml_application_new ();
  g_object_set (application, "flags", G_APPLICATION_HANDLES_OPEN | G_APPLICATION_NON_UNIQUE, NULL);
  if (!g_application_register (G_APPLICATION (application), NULL, NULL))
    return 77;
  if (argc > 1 && g_str_equal (argv[1], "notices"))
    return cmocka_run_group_tests (on_notices, NULL, NULL);
  if (argc > 1 && g_str_equal (argv[1], "room"))
    return cmocka_run_group_tests (on_room, NULL, NULL);
  if (argc > 1 && g_str_equal (argv[1], "files"))
    return cmocka_run_group_tests (on_files, NULL, NULL);
  if (argc > 1 && g_str_equal (argv[1], "paper"))
    return cmocka_run_group_tests (on_paper, NULL, NULL);
  if (argc > 1 && g_str_equal (argv[1], "large"))
    return cmocka_run_group_tests (large_text, NULL, NULL);
  if (argc > 1 && g_str_equal (argv[1], "names"))
    cmocka_set_test_filter ("*_has_a_name");
  else if (argc > 1) /* by hand: some of them */
    cmocka_set_test_filter (argv[1]);
  else
    cmocka_set_skip_filter ("*_has_a_name");
  return cmocka_run_group_tests (tests, NULL, NULL);
}
