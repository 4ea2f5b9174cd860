/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/errors.h"

#include <string.h>

#include "desktop/actions.h"
#include "desktop/errors-text.h"
#include "desktop/glyph.h"

typedef enum { FILE_BOARD, FILE_JOB } WhichFile;

struct _MlErrorsView
{
  GtkWidget parent_instance;

  /* owned */
  MlDocument *document;
  MlText *shown_text; /* what the buffer was filled from */

  /* template */
  GtkWidget *column, *summary, *list, *view, *numbers, *board_button, *job_button, *read, *find;
  GtkTextBuffer *buffer; /* borrowed from view */

  WhichFile file;
  gboolean filling;
};

G_DEFINE_FINAL_TYPE (MlErrorsView, ml_errors_view, GTK_TYPE_WIDGET)

static guint closed_signal;

static const char *const severity_words[] = { "note", "warning", "error" };

/* ---- the text ---- */

static MlText *
document_text (MlErrorsView *self, WhichFile file)
{
  return file == FILE_BOARD ? ml_document_board (self->document)->text : ml_document_job (self->document)->text;
}

static WhichFile
file_of (MlErrorsView *self, const MlDiagnostic *diagnostic)
{
  MlText *job = document_text (self, FILE_JOB);

  return job != NULL && g_strcmp0 (ml_text_name (job), diagnostic->file) == 0 ? FILE_JOB : FILE_BOARD;
}

static void
mark_lines (MlErrorsView *self)
{
  MlDiagnostics *diagnostics = ml_document_diagnostics (self->document);
  GtkTextIter start, end;

  gtk_text_buffer_get_bounds (self->buffer, &start, &end);
  gtk_text_buffer_remove_tag_by_name (self->buffer, "error", &start, &end);
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      const MlDiagnostic *diagnostic = ml_diagnostics_get (diagnostics, i);
      if (diagnostic->line == 0 || diagnostic->severity == ML_SEVERITY_NOTE || file_of (self, diagnostic) != self->file)
        continue;
      gtk_text_buffer_get_iter_at_line (self->buffer, &start, (int) diagnostic->line - 1);
      end = start;
      gtk_text_iter_forward_to_line_end (&end);
      gtk_text_buffer_apply_tag_by_name (self->buffer, "error", &start, &end);
    }
}

/* The text without the carriage returns of line ends; new string. */
static char *
bare_lines (const char *text)
{
  g_auto (GStrv) lines = g_strsplit (text, "\r\n", -1);

  return g_strjoinv ("\n", lines);
}

/* As the file has its line ends: what is typed here ends lines with a line feed only. new string. */
static char *
with_line_ends (const char *typed, const char *old)
{
  g_autofree char *bare = bare_lines (old), *plain = bare_lines (typed);
  gsize n_ends = strlen (old) - strlen (bare), n_lines = 0;

  for (const char *c = bare; *c != '\0'; c++)
    n_lines += *c == '\n';
  if (n_lines == 0 || n_ends != n_lines) /* mixed ones stay as they are */
    return g_strdup (typed);
  g_auto (GStrv) lines = g_strsplit (plain, "\n", -1);
  return g_strjoinv ("\r\n", lines);
}

static gboolean
stands_here (MlErrorsView *self, const char *text)
{
  GtkTextIter start, end;

  gtk_text_buffer_get_bounds (self->buffer, &start, &end);
  g_autofree char *here = gtk_text_buffer_get_text (self->buffer, &start, &end, TRUE);
  g_autofree char *bare_here = bare_lines (here), *bare_text = bare_lines (text);
  return strcmp (bare_here, bare_text) == 0;
}

static void
show_text (MlErrorsView *self)
{
  MlText *text = document_text (self, self->file);
  g_autoptr (GBytes) bytes = text != NULL ? ml_text_to_bytes (text) : g_bytes_new_static ("", 0);
  gsize size; /* 0: there are no data at all */
  const char *data = g_bytes_get_data (bytes, &size);
  g_autofree char *shown = g_utf8_make_valid (size > 0 ? data : "", (gssize) size);

  self->filling = TRUE;
  g_clear_pointer (&self->shown_text, ml_text_unref);
  self->shown_text = text != NULL ? ml_text_ref (text) : NULL;
  if (!stands_here (self, shown)) /* the cursor stays where it is in what was typed here itself */
    gtk_text_buffer_set_text (self->buffer, shown, -1);
  mark_lines (self);
  gtk_toggle_button_set_active (GTK_TOGGLE_BUTTON (self->file == FILE_BOARD ? self->board_button : self->job_button), TRUE);
  gtk_widget_set_sensitive (self->read, FALSE);
  self->filling = FALSE;
}

static void
show_file (MlErrorsView *self, WhichFile file)
{
  if (self->file == file && self->shown_text == document_text (self, file))
    return;
  self->file = file;
  show_text (self);
}

static void
go_to (MlErrorsView *self, guint line, guint column)
{
  GtkTextIter place;

  gtk_text_buffer_get_iter_at_line (self->buffer, &place, line > 0 ? (int) line - 1 : 0);
  for (guint i = 1; i < column && !gtk_text_iter_ends_line (&place); i++)
    gtk_text_iter_forward_char (&place);
  gtk_text_buffer_place_cursor (self->buffer, &place);
  gtk_text_view_scroll_to_mark (GTK_TEXT_VIEW (self->view), gtk_text_buffer_get_insert (self->buffer), 0.1, TRUE, 0.0, 0.3);
  gtk_widget_grab_focus (self->view);
}

void
ml_errors_view_open (MlErrorsView *self, guint diagnostic)
{
  MlDiagnostics *diagnostics = ml_document_diagnostics (self->document);

  if (diagnostic >= ml_diagnostics_n (diagnostics))
    return;
  const MlDiagnostic *chosen = ml_diagnostics_get (diagnostics, diagnostic);
  if (file_of (self, chosen) != self->file)
    ml_errors_view_take (self); /* the list is made anew by it: what was chosen is found again */
  diagnostics = ml_document_diagnostics (self->document);
  if (diagnostic >= ml_diagnostics_n (diagnostics))
    return;
  chosen = ml_diagnostics_get (diagnostics, diagnostic);
  show_file (self, file_of (self, chosen));
  go_to (self, chosen->line, chosen->column);
}

void
ml_errors_view_show_first (MlErrorsView *self)
{
  MlDiagnostics *diagnostics = ml_document_diagnostics (self->document);

  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    if (ml_diagnostics_get (diagnostics, i)->severity == ML_SEVERITY_ERROR)
      {
        show_file (self, file_of (self, ml_diagnostics_get (diagnostics, i)));
        return;
      }
}

/* merge: NULL, or what one step back takes back together. */
static void
read_typed (MlErrorsView *self, const char *merge)
{
  GtkTextIter start, end;
  MlText *old = document_text (self, self->file);
  g_autoptr (GBytes) bytes = old != NULL ? ml_text_to_bytes (old) : g_bytes_new_static ("", 0);
  gsize size;
  const char *data = g_bytes_get_data (bytes, &size);
  g_autofree char *before = g_utf8_make_valid (size > 0 ? data : "", (gssize) size);

  gtk_text_buffer_get_bounds (self->buffer, &start, &end);
  g_autofree char *typed = gtk_text_buffer_get_text (self->buffer, &start, &end, TRUE);
  g_autofree char *content = with_line_ends (typed, before);
  MlText *text = ml_text_new (old != NULL ? ml_text_name (old) : "unsaved", content, -1);
  gboolean is_board = self->file == FILE_BOARD;
  ml_document_apply (self->document, is_board ? text : NULL, is_board ? NULL : text, "Change the text", merge);
  ml_text_unref (text);
  show_text (self);
}

void
ml_errors_view_read_again (MlErrorsView *self)
{
  ml_document_barrier (self->document);
  read_typed (self, NULL);
}

/* Half a line may be taken when the pointer leaves for a moment: it is one step with its rest. */
void
ml_errors_view_take (MlErrorsView *self)
{
  if (gtk_widget_get_sensitive (self->read))
    read_typed (self, self->file == FILE_BOARD ? "text of the board" : "text of the job");
}

/* ---- the list ---- */

static GtkWidget *
row_new (const MlDiagnostic *diagnostic)
{
  g_autofree char *base = diagnostic->file[0] != '\0' ? g_filename_display_basename (diagnostic->file) : g_strdup ("the board");
  g_autofree char *place = diagnostic->line > 0 ? g_strdup_printf ("%s, line %u", base, diagnostic->line) : g_strdup (base);
  g_autofree char *head = g_strdup_printf ("%s: %s", severity_words[diagnostic->severity], place);
  GtkWidget *row = gtk_list_box_row_new (), *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 2), *where = gtk_label_new (head);
  GtkWidget *what = gtk_label_new (diagnostic->message);

  gtk_label_set_xalign (GTK_LABEL (where), 0.0f);
  gtk_label_set_xalign (GTK_LABEL (what), 0.0f);
  gtk_label_set_wrap (GTK_LABEL (what), TRUE);
  gtk_label_set_wrap_mode (GTK_LABEL (what), PANGO_WRAP_WORD_CHAR);
  gtk_widget_add_css_class (where, "faint");
  gtk_box_append (GTK_BOX (box), where);
  gtk_box_append (GTK_BOX (box), what);
  gtk_list_box_row_set_child (GTK_LIST_BOX_ROW (row), box);
  gtk_widget_add_css_class (row, severity_words[diagnostic->severity]);
  return row;
}

static void
add_row (MlErrorsView *self, const MlDiagnostic *diagnostic, guint index, guint number)
{
  GtkWidget *row = row_new (diagnostic);
  g_autofree char *name = g_strdup_printf ("diagnostic-%u", number);

  gtk_widget_set_name (row, name);
  g_object_set_data (G_OBJECT (row), "diagnostic", GUINT_TO_POINTER (index));
  gtk_list_box_append (GTK_LIST_BOX (self->list), row);
}

/* What stops the file first, then what may be meant otherwise, then notes; each in the order of the file. */
static void
fill_list (MlErrorsView *self)
{
  MlDiagnostics *diagnostics = ml_document_diagnostics (self->document);
  g_autofree char *summary = ml_errors_summary (diagnostics);
  GtkWidget *child;
  guint row = 0;

  while ((child = gtk_widget_get_first_child (self->list)) != NULL && GTK_IS_LIST_BOX_ROW (child))
    gtk_list_box_remove (GTK_LIST_BOX (self->list), child);
  for (int severity = ML_SEVERITY_ERROR; severity >= ML_SEVERITY_NOTE; severity--)
    for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
      if ((int) ml_diagnostics_get (diagnostics, i)->severity == severity)
        add_row (self, ml_diagnostics_get (diagnostics, i), i, row++);
  gtk_widget_set_visible (self->find, ml_document_lacks_board (self->document));
  gtk_label_set_text (GTK_LABEL (self->summary), summary != NULL ? summary : "The files read without errors");
}

static void
row_activated_cb (GtkListBox *list, GtkListBoxRow *row, gpointer data)
{
  ml_errors_view_open (data, GPOINTER_TO_UINT (g_object_get_data (G_OBJECT (row), "diagnostic")));
}

/* ---- line numbers ---- */

static void
draw_numbers_cb (GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  MlErrorsView *self = data;
  GtkTextView *view = GTK_TEXT_VIEW (self->view);
  GdkRectangle visible;
  GtkTextIter line;
  GdkRGBA colour;
  g_autoptr (PangoLayout) layout = gtk_widget_create_pango_layout (GTK_WIDGET (area), NULL);

  gtk_style_context_get_color (gtk_widget_get_style_context (GTK_WIDGET (area)), &colour);
  gdk_cairo_set_source_rgba (cr, &colour);
  gtk_text_view_get_visible_rect (view, &visible);
  gtk_text_view_get_line_at_y (view, &line, visible.y, NULL);
  do
    {
      int y, line_height, text_width, window_y;
      char number[16];
      gtk_text_view_get_line_yrange (view, &line, &y, &line_height);
      gtk_text_view_buffer_to_window_coords (view, GTK_TEXT_WINDOW_LEFT, 0, y, NULL, &window_y);
      if (window_y > height)
        break;
      g_snprintf (number, sizeof number, "%d", gtk_text_iter_get_line (&line) + 1);
      pango_layout_set_text (layout, number, -1);
      pango_layout_get_pixel_size (layout, &text_width, NULL);
      cairo_move_to (cr, width - text_width - 6, window_y);
      pango_cairo_show_layout (cr, layout);
    }
  while (gtk_text_iter_forward_line (&line));
}

static void
scrolled_cb (GtkAdjustment *adjustment, gpointer data)
{
  gtk_widget_queue_draw (ML_ERRORS_VIEW (data)->numbers);
}

/* ---- following ---- */

static void
buffer_changed_cb (GtkTextBuffer *buffer, gpointer data)
{
  MlErrorsView *self = data;

  gtk_widget_queue_draw (self->numbers);
  if (!self->filling)
    gtk_widget_set_sensitive (self->read, TRUE);
}

static void
file_toggled_cb (GtkToggleButton *button, gpointer data)
{
  MlErrorsView *self = data;

  if (self->filling || !gtk_toggle_button_get_active (button))
    return;
  ml_errors_view_take (self);
  show_file (self, GTK_WIDGET (button) == self->job_button ? FILE_JOB : FILE_BOARD);
}

static void
changed_cb (MlDocument *document, guint what, gpointer data)
{
  MlErrorsView *self = data;

  if ((what & (ML_CHANGED_DIAGNOSTICS | ML_CHANGED_BOARD | ML_CHANGED_JOB)) == 0)
    return;
  fill_list (self);
  if (self->shown_text != document_text (self, self->file))
    show_text (self);
  else
    mark_lines (self);
}

static void
read_clicked_cb (GtkButton *button, gpointer data)
{
  ml_errors_view_read_again (data);
}

/* Whoever goes on elsewhere may change the board there: what is typed here is in it by then. */
static void
left_cb (GtkEventController *controller, gpointer data)
{
  ml_errors_view_take (data);
}

static void
closed_cb (GtkButton *button, gpointer data)
{
  g_signal_emit (data, closed_signal, 0);
}

static void
ml_errors_view_dispose (GObject *object)
{
  MlErrorsView *self = ML_ERRORS_VIEW (object);

  if (self->document != NULL)
    g_signal_handlers_disconnect_by_data (self->document, self);
  g_clear_object (&self->document);
  g_clear_pointer (&self->shown_text, ml_text_unref);
  g_clear_pointer (&self->column, gtk_widget_unparent);
  G_OBJECT_CLASS (ml_errors_view_parent_class)->dispose (object);
}

static void
ml_errors_view_class_init (MlErrorsViewClass *klass)
{
  G_OBJECT_CLASS (klass)->dispose = ml_errors_view_dispose;
  closed_signal = g_signal_new ("closed", ML_TYPE_ERRORS_VIEW, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  gtk_widget_class_set_layout_manager_type (GTK_WIDGET_CLASS (klass), GTK_TYPE_BIN_LAYOUT);
  gtk_widget_class_set_css_name (GTK_WIDGET_CLASS (klass), "errorsview");
}

/* ---- building ---- */

static void
build_head (MlErrorsView *self)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8), *back = gtk_button_new_with_label ("Back to the Drawing");
  GtkWidget *files = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 0);

  self->summary = gtk_label_new ("");
  gtk_label_set_xalign (GTK_LABEL (self->summary), 0.0f);
  gtk_label_set_ellipsize (GTK_LABEL (self->summary), PANGO_ELLIPSIZE_END);
  gtk_widget_set_hexpand (self->summary, TRUE);
  gtk_widget_add_css_class (self->summary, "heading-small");
  self->board_button = gtk_toggle_button_new_with_label ("Board");
  self->job_button = gtk_toggle_button_new_with_label ("Job");
  gtk_toggle_button_set_group (GTK_TOGGLE_BUTTON (self->job_button), GTK_TOGGLE_BUTTON (self->board_button));
  gtk_widget_add_css_class (files, "linked");
  gtk_box_append (GTK_BOX (files), self->board_button);
  gtk_box_append (GTK_BOX (files), self->job_button);
  self->read = gtk_button_new_with_label ("Read It Again");
  gtk_widget_set_tooltip_text (self->read, "Take what stands here as the board or the job");
  gtk_widget_set_name (self->read, "read-again");
  gtk_widget_set_name (back, "back-to-drawing");
  self->find = gtk_button_new_with_label ("Find the Board…");
  gtk_widget_set_name (self->find, "find-board");
  gtk_widget_add_css_class (self->find, "suggested-action");
  ml_actions_dress_button (self->find, "win.find-board");
  gtk_box_append (GTK_BOX (self->column), self->summary);
  gtk_box_append (GTK_BOX (row), self->find);
  gtk_box_append (GTK_BOX (row), files);
  gtk_box_append (GTK_BOX (row), self->read);
  gtk_box_append (GTK_BOX (row), back);
  gtk_box_append (GTK_BOX (self->column), row);
  g_signal_connect (self->read, "clicked", G_CALLBACK (read_clicked_cb), self);
  g_signal_connect (back, "clicked", G_CALLBACK (closed_cb), self);
  g_signal_connect (self->board_button, "toggled", G_CALLBACK (file_toggled_cb), self);
  g_signal_connect (self->job_button, "toggled", G_CALLBACK (file_toggled_cb), self);
}

static GtkWidget *
build_list (MlErrorsView *self)
{
  GtkWidget *scrolled = gtk_scrolled_window_new ();

  self->list = gtk_list_box_new ();
  gtk_list_box_set_activate_on_single_click (GTK_LIST_BOX (self->list), TRUE);
  gtk_list_box_set_placeholder (GTK_LIST_BOX (self->list), gtk_label_new ("Nothing to say"));
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->list), GTK_ACCESSIBLE_PROPERTY_LABEL, "Errors and warnings", -1);
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (scrolled), self->list);
  gtk_widget_set_size_request (scrolled, 220, -1);
  g_signal_connect (self->list, "row-activated", G_CALLBACK (row_activated_cb), self);
  return scrolled;
}

static GtkWidget *
build_text (MlErrorsView *self)
{
  GtkWidget *scrolled = gtk_scrolled_window_new ();

  self->view = gtk_text_view_new ();
  self->buffer = gtk_text_view_get_buffer (GTK_TEXT_VIEW (self->view));
  gtk_text_view_set_monospace (GTK_TEXT_VIEW (self->view), TRUE);
  gtk_text_view_set_left_margin (GTK_TEXT_VIEW (self->view), 6);
  gtk_text_view_set_accepts_tab (GTK_TEXT_VIEW (self->view), FALSE);
  gtk_widget_set_name (self->view, "file-text");
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->view), GTK_ACCESSIBLE_PROPERTY_LABEL, "Text of the file", -1);
  gtk_text_buffer_create_tag (self->buffer, "error", "underline", PANGO_UNDERLINE_ERROR, "background", "rgba(213,94,0,0.16)", NULL);
  self->numbers = g_object_new (GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_PRESENTATION, NULL);
  gtk_drawing_area_set_content_width (GTK_DRAWING_AREA (self->numbers), (int) (40 * ml_glyph_text_scale ()));
  gtk_drawing_area_set_draw_func (GTK_DRAWING_AREA (self->numbers), draw_numbers_cb, self, NULL);
  gtk_widget_add_css_class (self->numbers, "line-numbers");
  gtk_text_view_set_gutter (GTK_TEXT_VIEW (self->view), GTK_TEXT_WINDOW_LEFT, self->numbers);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (scrolled), self->view);
  gtk_widget_set_hexpand (scrolled, TRUE);
  g_signal_connect (self->buffer, "changed", G_CALLBACK (buffer_changed_cb), self);
  g_signal_connect (gtk_scrolled_window_get_vadjustment (GTK_SCROLLED_WINDOW (scrolled)), "value-changed", G_CALLBACK (scrolled_cb), self);
  return scrolled;
}

static void
ml_errors_view_init (MlErrorsView *self)
{
  GtkWidget *paned = gtk_paned_new (GTK_ORIENTATION_HORIZONTAL);

  self->column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 8);
  gtk_widget_set_vexpand (GTK_WIDGET (self), TRUE);
  build_head (self);
  gtk_paned_set_start_child (GTK_PANED (paned), build_list (self));
  gtk_paned_set_resize_start_child (GTK_PANED (paned), FALSE);
  gtk_paned_set_shrink_start_child (GTK_PANED (paned), FALSE);
  gtk_paned_set_end_child (GTK_PANED (paned), build_text (self));
  gtk_widget_set_vexpand (paned, TRUE);
  gtk_box_append (GTK_BOX (self->column), paned);
  gtk_widget_set_parent (self->column, GTK_WIDGET (self));
  GtkEventController *pointer = gtk_event_controller_motion_new (), *focus = gtk_event_controller_focus_new ();
  g_signal_connect (pointer, "leave", G_CALLBACK (left_cb), self);
  g_signal_connect (focus, "leave", G_CALLBACK (left_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), pointer);
  gtk_widget_add_controller (GTK_WIDGET (self), focus);
}

GtkWidget *
ml_errors_view_new (MlDocument *document)
{
  MlErrorsView *self = g_object_new (ML_TYPE_ERRORS_VIEW, NULL);

  self->document = g_object_ref (document);
  g_signal_connect (document, "changed", G_CALLBACK (changed_cb), self);
  fill_list (self);
  show_text (self);
  return GTK_WIDGET (self);
}

GtkTextBuffer *
ml_errors_view_buffer (MlErrorsView *self)
{
  return self->buffer;
}
