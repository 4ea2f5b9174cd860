/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What leaves the window for paper or another program: pictures, the clipboard, the printer, the report. */
#include "desktop/window-private.h"

#include <string.h>

#include "desktop/settings.h"
#include "desktop/suppose.h"
#include "drawing/export.h"
#include "drawing/report.h"
#include "verdict/judge.h"

#define SMALL_PICTURE_DPI 40.0
#define COPY_DPI 200.0

static MlOverlay
overlay_of (MlWindow *self)
{
  guint show = ml_canvas_get_show (self->canvas);

  g_free (self->ribbon);
  g_free (self->called);
  self->called = ml_window_file_stem (self);
  self->ribbon = ml_suppose_ribbon (ml_document_board (self->document), ml_document_supposed (self->document));
  MlOverlay overlay = { .verdict = ml_document_verdict (self->document), .job = ml_document_job (self->document),
                        .unit = ml_document_unit (self->document), .condition = ml_document_condition (self->document),
                        .pass = ml_document_pass (self->document), .other_unit = ml_window_other_unit (self),
                        .point = ml_document_point (self->document), .show_flow = (show & ML_CANVAS_SHOW_FLOW) != 0,
                        .show_expected = (show & ML_CANVAS_SHOW_EXPECTED) != 0, .ribbon = self->ribbon, .called = self->called, .supposing = self->ribbon != NULL, .selected_part = -1, .selected_pin = -1, .hover_part = -1,
                        .hover_pin = -1 };

  return overlay;
}

/* What is looked at is what is saved, copied and printed. */
static const MlScene *
scene_of (MlWindow *self)
{
  return ml_canvas_get_view (self->canvas) == ML_CANVAS_PICTURE ? ml_document_picture_scene (self->document) : ml_document_scene (self->document);
}

/* ---- as a file ---- */

/* what: "The picture", "The report". Where it is, and a way to see it. */
static void
say_saved (MlWindow *self, const char *what, const char *path)
{
  g_autofree char *absolute = g_canonicalize_filename (path, NULL), *folder = g_path_get_dirname (absolute);
  g_autofree char *base = g_filename_display_basename (absolute), *where = g_filename_display_name (folder);
  g_autofree char *text = g_strdup_printf ("%s is saved as %s in %s.", what, base, where);
  g_autofree char *uri = g_filename_to_uri (absolute, NULL, NULL);
  g_autofree char *action = uri != NULL ? g_action_print_detailed_name ("win.show-file", g_variant_new_string (uri)) : NULL;

  ml_window_notice (self, text, "Show It", action);
  ml_window_notice_passes (self);
}

/* A page is for a printer, which has its own paper. */
static void
save_picture (MlWindow *self, const char *path, MlPageSize page, double dpi)
{
  g_autoptr (GError) error = NULL;
  MlOverlay overlay = overlay_of (self);
  MlExportOptions options = { .dpi = dpi, .paper = page == ML_PAGE_FIT ? self->paper : ML_PAPER_WHITE, .title_block = TRUE, .page = page };

  if (ml_export_picture (path, scene_of (self), &overlay, &options, &error))
    say_saved (self, "The picture", path);
  else
    ml_window_notice (self, error->message, NULL, NULL);
}

/* "pump.pdf.png": typed with an ending of its own in front of the one that stood there already; new string, or NULL when it is no such name. */
static char *
without_second_ending (const char *path, const char *ending)
{
  static const char *const own[] = { ".png", ".svg", ".pdf" };
  g_autofree char *first = path != NULL && g_str_has_suffix (path, ending) ? g_strndup (path, strlen (path) - strlen (ending)) : NULL;

  for (guint i = 0; first != NULL && i < G_N_ELEMENTS (own); i++)
    if (g_str_has_suffix (first, own[i]) && !g_file_test (first, G_FILE_TEST_EXISTS))
      return g_steal_pointer (&first);
  return NULL;
}

char *
ml_window_with_usual_ending (char *path, const char *ending)
{
  char *typed = without_second_ending (path, ending);
  if (typed != NULL)
    {
      g_free (path);
      return typed;
    }
  g_autofree char *base = path != NULL ? g_path_get_basename (path) : NULL;
  g_autofree char *whole = path != NULL ? g_strconcat (path, ending, NULL) : NULL;

  if (path == NULL || strchr (base, '.') != NULL || g_file_test (whole, G_FILE_TEST_EXISTS))
    return path;
  g_free (path);
  return g_steal_pointer (&whole);
}

static void
picture_response_cb (GtkNativeDialog *dialog, int response, gpointer data)
{
  MlWindow *self = data;
  g_autofree char *path = response == GTK_RESPONSE_ACCEPT ? ml_window_with_usual_ending (ml_window_chosen_path (dialog), ".png") : NULL;
  const char *page_word = gtk_file_chooser_get_choice (GTK_FILE_CHOOSER (dialog), "page");
  const char *dpi_word = gtk_file_chooser_get_choice (GTK_FILE_CHOOSER (dialog), "dpi");
  MlPageSize page = ML_PAGE_FIT;
  double dpi = dpi_word != NULL ? g_ascii_strtod (dpi_word, NULL) : 0;

  if (page_word != NULL)
    ml_page_find (page_word, &page);
  g_object_set_data (G_OBJECT (self), "chooser", NULL);
  if (path != NULL)
    save_picture (self, path, page, dpi);
}

void
ml_window_choose_picture (MlWindow *self)
{
  static const char *pages[] = { "fit", "a4", "a5", "letter", NULL };
  static const char *page_labels[] = { "As large as the drawing", "A4", "A5", "Letter", NULL };
  /* The usual one first: whatever is chosen here, the toolkit's own dialog begins with the first. */
  static const char *dots[] = { "150", "300", "600", "72", NULL };
  static const char *dot_labels[] = { "150 dots per inch", "300 dots per inch", "600 dots per inch", "72 dots per inch", NULL };
  GtkFileChooserNative *chooser
    = ml_window_chooser_new (self, "Save the picture: its ending says PNG, SVG or PDF", GTK_FILE_CHOOSER_ACTION_SAVE, "Save");
  g_autofree char *name = ml_window_suggested_name (self, ".png");

  gtk_file_chooser_set_current_name (GTK_FILE_CHOOSER (chooser), name);
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "PNG, SVG and PDF", (const char *const[]){ "*.png", "*.svg", "*.pdf", NULL });
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "All files", (const char *const[]){ "*", NULL });
  gtk_file_chooser_add_choice (GTK_FILE_CHOOSER (chooser), "page", "Page", pages, page_labels);
  gtk_file_chooser_set_choice (GTK_FILE_CHOOSER (chooser), "page", "fit");
  gtk_file_chooser_add_choice (GTK_FILE_CHOOSER (chooser), "dpi", "Resolution of a PNG", dots, dot_labels);
  gtk_file_chooser_set_choice (GTK_FILE_CHOOSER (chooser), "dpi", "150");
  g_signal_connect (chooser, "response", G_CALLBACK (picture_response_cb), self);
  gtk_native_dialog_show (GTK_NATIVE_DIALOG (chooser));
}

void
ml_window_keep_picture (MlWindow *self)
{
  const char *path = ml_document_job_path (self->document) != NULL ? ml_document_job_path (self->document)
                                                                   : ml_document_board_path (self->document);
  MlOverlay overlay = overlay_of (self);
  MlExportOptions options = { .dpi = SMALL_PICTURE_DPI, .paper = ML_PAPER_LIGHT, .title_block = FALSE };

  if (path == NULL || ml_document_board (self->document)->n_parts == 0)
    return;
  overlay.show_expected = FALSE;
  overlay.other_unit = -1;
  g_autofree char *picture = ml_recent_picture (path);
  ml_export_picture (picture, ml_document_scene (self->document), &overlay, &options, NULL); /* only a help to the eye: no error worth saying */
}

/* ---- the clipboard ---- */

/* Whoever pastes takes the form it knows: an image, PNG or SVG. */
static GdkContentProvider *
content_of (MlWindow *self, GError **error)
{
  MlOverlay overlay = overlay_of (self);
  MlExportOptions options = { .dpi = COPY_DPI, .paper = self->paper, .title_block = TRUE };
  g_autoptr (GBytes) png = ml_export_bytes (".png", scene_of (self), &overlay, &options, error);
  g_autoptr (GBytes) svg = png != NULL ? ml_export_bytes (".svg", scene_of (self), &overlay, &options, error) : NULL;
  g_autoptr (GdkTexture) texture = svg != NULL ? gdk_texture_new_from_bytes (png, error) : NULL;

  if (texture == NULL)
    return NULL;
  return gdk_content_provider_new_union ((GdkContentProvider *[]){ gdk_content_provider_new_for_bytes ("image/png", png),
                                                                   gdk_content_provider_new_for_bytes ("image/svg+xml", svg),
                                                                   gdk_content_provider_new_typed (GDK_TYPE_TEXTURE, texture) },
                                         3);
}

void
ml_window_copy_picture (MlWindow *self)
{
  g_autoptr (GError) error = NULL;
  g_autoptr (GdkContentProvider) content = content_of (self, &error);

  if (content == NULL)
    {
      ml_window_notice (self, error->message, NULL, NULL);
      return;
    }
  gdk_clipboard_set_content (gtk_widget_get_clipboard (GTK_WIDGET (self)), content);
  ml_window_notice (self, "The picture is copied.", NULL, NULL);
  ml_window_notice_passes (self);
}

/* ---- the printer ---- */

static void
draw_page_cb (GtkPrintOperation *operation, GtkPrintContext *context, int page, gpointer data)
{
  MlWindow *self = data;
  MlOverlay overlay = overlay_of (self);
  MlExportOptions options = { .paper = ML_PAPER_WHITE, .title_block = TRUE };

  ml_export_paint_on (gtk_print_context_get_cairo_context (context), gtk_print_context_get_width (context), gtk_print_context_get_height (context),
                      scene_of (self), &overlay, &options);
}

GtkPrintOperation *
ml_window_print_operation (MlWindow *self)
{
  GtkPrintOperation *operation = gtk_print_operation_new ();
  g_autoptr (GtkPageSetup) setup = gtk_page_setup_new ();
  const MlScene *scene = scene_of (self);
  gboolean lies = scene->extent.x1 - scene->extent.x0 > scene->extent.y1 - scene->extent.y0;

  gtk_page_setup_set_orientation (setup, lies ? GTK_PAGE_ORIENTATION_LANDSCAPE : GTK_PAGE_ORIENTATION_PORTRAIT);
  gtk_print_operation_set_default_page_setup (operation, setup);
  gtk_print_operation_set_embed_page_setup (operation, TRUE);
  gtk_print_operation_set_unit (operation, GTK_UNIT_MM);
  gtk_print_operation_set_n_pages (operation, 1);
  gtk_print_operation_set_job_name (operation, gtk_window_get_title (GTK_WINDOW (self)));
  g_signal_connect (operation, "draw-page", G_CALLBACK (draw_page_cb), self);
  return operation;
}

void
ml_window_print (MlWindow *self)
{
  g_autoptr (GtkPrintOperation) operation = ml_window_print_operation (self);
  g_autoptr (GError) error = NULL;

  if (gtk_print_operation_run (operation, GTK_PRINT_OPERATION_ACTION_PRINT_DIALOG, GTK_WINDOW (self), &error) == GTK_PRINT_OPERATION_RESULT_ERROR)
    ml_window_notice (self, error->message, NULL, NULL);
}

/* ---- the report ---- */

/* What the thread needs: nothing of the window. */
typedef struct
{
  char *path, *called;
  MlJob *job;
  MlScene *scene;
  int picture;        /* of the real board; -1: none */
  char *picture_path;
  int unit, other_unit;
  MlPageSize page;
} Writing;

static void
writing_free (gpointer data)
{
  Writing *writing = data;

  ml_job_unref (writing->job);
  ml_scene_unref (writing->scene);
  g_free (writing->picture_path);
  g_free (writing->path);
  g_free (writing->called);
  g_free (writing);
}

static void
write_report_in_thread (GTask *task, gpointer source, gpointer data, GCancellable *cancellable)
{
  Writing *writing = data;
  GError *error = NULL;
  g_autoptr (MlJudge) judge = ml_judge_new (writing->job->board);
  g_autoptr (MlRecord) record = ml_record_new (judge, writing->job, writing->unit, cancellable, &error);
  g_autoptr (MlPhoto) photo = writing->picture_path != NULL ? ml_photo_load (writing->picture_path, NULL) : NULL; /* its view says what is wrong */
  g_autoptr (MlScene) picture = photo != NULL ? ml_photo_scene (writing->job->board, writing->picture, photo) : NULL;
  MlReport report = { .record = record, .called = writing->called, .scene = writing->scene, .picture = picture, .other_unit = writing->other_unit, .page = writing->page };

  if (record != NULL && ml_report_write (writing->path, &report, &error))
    g_task_return_boolean (task, TRUE);
  else
    g_task_return_error (task, error);
}

static void
report_written_cb (GObject *source, GAsyncResult *result, gpointer data)
{
  MlWindow *self = ML_WINDOW (source);
  Writing *writing = g_task_get_task_data (G_TASK (result));
  g_autoptr (GError) error = NULL;
  gboolean written = g_task_propagate_boolean (G_TASK (result), &error);

  if (self->document == NULL) /* the window may have been closed meanwhile */
    return;
  if (written)
    say_saved (self, "The report", writing->path);
  else
    ml_window_notice (self, error->message, NULL, NULL);
}

static void
write_report (MlWindow *self, const char *path, MlPageSize page)
{
  g_autoptr (GTask) task = g_task_new (self, NULL, report_written_cb, NULL);
  Writing *writing = g_new (Writing, 1);
  gboolean compare = self->compare;

  self->compare = TRUE; /* a record compares whether or not the view does */
  *writing = (Writing){ .path = g_strdup (path), .called = ml_window_file_stem (self), .job = ml_job_ref (ml_document_job (self->document)),
                        .scene = ml_scene_ref (ml_document_scene (self->document)), .picture = ml_document_picture (self->document), .unit = ml_document_unit (self->document),
                        .other_unit = ml_window_other_unit (self), .page = page };
  self->compare = compare;
  if (writing->picture >= 0)
    writing->picture_path = ml_photo_path (ml_document_board_path (self->document), ml_document_board (self->document)->pictures[writing->picture].file);
  g_task_set_task_data (task, writing, writing_free);
  g_task_run_in_thread (task, write_report_in_thread);
  ml_window_notice (self, "Writing the report…", NULL, NULL);
}

void
ml_window_write_report (MlWindow *self, const char *path)
{
  write_report (self, path, ML_PAGE_A4);
}

static void
report_response_cb (GtkNativeDialog *dialog, int response, gpointer data)
{
  MlWindow *self = data;
  g_autofree char *path = response == GTK_RESPONSE_ACCEPT ? ml_window_with_usual_ending (ml_window_chosen_path (dialog), ".pdf") : NULL;
  const char *word = gtk_file_chooser_get_choice (GTK_FILE_CHOOSER (dialog), "page");
  MlPageSize page = ML_PAGE_A4;

  if (word != NULL)
    ml_page_find (word, &page);
  g_object_set_data (G_OBJECT (self), "chooser", NULL);
  if (path != NULL)
    write_report (self, path, page);
}

void
ml_window_choose_report (MlWindow *self)
{
  static const char *pages[] = { "a4", "a5", "letter", NULL };
  static const char *labels[] = { "A4", "A5", "Letter", NULL };
  GtkFileChooserNative *chooser = ml_window_chooser_new (self, "Save the record of this repair as PDF", GTK_FILE_CHOOSER_ACTION_SAVE, "Save");
  g_autofree char *name = ml_window_suggested_name (self, "-report.pdf");

  gtk_file_chooser_set_current_name (GTK_FILE_CHOOSER (chooser), name);
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "PDF", (const char *const[]){ "*.pdf", NULL });
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "All files", (const char *const[]){ "*", NULL });
  gtk_file_chooser_add_choice (GTK_FILE_CHOOSER (chooser), "page", "Page", pages, labels);
  gtk_file_chooser_set_choice (GTK_FILE_CHOOSER (chooser), "page", "a4");
  g_signal_connect (chooser, "response", G_CALLBACK (report_response_cb), self);
  gtk_native_dialog_show (GTK_NATIVE_DIALOG (chooser));
}
