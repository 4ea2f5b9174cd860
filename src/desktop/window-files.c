/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opening and saving from the window: dialogs, someone else's changes, what becomes of unsaved work. */
#include "desktop/window-private.h"

#include <stdlib.h>
#include <string.h>

#include "board/file.h"
#include "desktop/ask.h"
#include "desktop/errors.h"
#include "desktop/settings.h"

#define BOARD_ENDING ".leafboard"
#define JOB_ENDING ".leafjob"

/* What to do once everything is saved. */
typedef struct { MlWindow *window; gboolean close; char *path; } Saving;

static Saving *
saving_new (MlWindow *window, gboolean close, const char *path)
{
  Saving *saving = g_new (Saving, 1);

  *saving = (Saving){ .window = g_object_ref (window), .close = close, .path = g_strdup (path) };
  return saving;
}

static void
saving_free (Saving *saving)
{
  g_object_unref (saving->window);
  g_free (saving->path);
  g_free (saving);
}

/* ---- choosing a file ---- */

void
ml_window_add_filter (GtkFileChooser *chooser, const char *name, const char *const *patterns)
{
  g_autoptr (GtkFileFilter) filter = gtk_file_filter_new ();

  gtk_file_filter_set_name (filter, name);
  for (int i = 0; patterns[i] != NULL; i++)
    gtk_file_filter_add_pattern (filter, patterns[i]);
  gtk_file_chooser_add_filter (chooser, filter);
}

/* The native dialog vanishes with its last reference: the window keeps it until it has answered. */
GtkFileChooserNative *
ml_window_chooser_new (MlWindow *self, const char *title, GtkFileChooserAction action, const char *accept)
{
  GtkFileChooserNative *chooser = gtk_file_chooser_native_new (title, GTK_WINDOW (self), action, accept, "Cancel");
  const char *path = ml_document_job_path (self->document) != NULL ? ml_document_job_path (self->document)
                                                                   : ml_document_board_path (self->document);

  gtk_native_dialog_set_modal (GTK_NATIVE_DIALOG (chooser), TRUE);
  if (path != NULL)
    {
      g_autofree char *folder = g_path_get_dirname (path);
      g_autoptr (GFile) file = g_file_new_for_path (folder);
      gtk_file_chooser_set_current_folder (GTK_FILE_CHOOSER (chooser), file, NULL);
    }
  g_object_set_data_full (G_OBJECT (self), "chooser", chooser, g_object_unref);
  return chooser;
}

char *
ml_window_chosen_path (GtkNativeDialog *dialog)
{
  g_autoptr (GFile) file = gtk_file_chooser_get_file (GTK_FILE_CHOOSER (dialog));

  return file != NULL ? g_file_get_path (file) : NULL;
}

/* Two windows with one file would each save over the other's work. */
static MlWindow *
window_with (GtkApplication *application, const char *path)
{
  g_autofree char *real = realpath (path, NULL);

  for (GList *link = gtk_application_get_windows (application); link != NULL && real != NULL; link = link->next)
    {
      MlDocument *document = ML_IS_WINDOW (link->data) ? ml_window_document (link->data) : NULL;
      const char *job = document != NULL ? ml_document_job_path (document) : NULL;
      const char *shown = document == NULL ? NULL : job != NULL ? job : ml_document_board_path (document);
      g_autofree char *shown_real = shown != NULL ? realpath (shown, NULL) : NULL;
      if (g_strcmp0 (shown_real, real) == 0)
        return link->data;
    }
  return NULL;
}

MlWindow *
ml_window_open_for (GtkApplication *application, MlWindow *from, const char *path)
{
  MlWindow *window = window_with (application, path);

  if (window != NULL)
    {
      gtk_window_present (GTK_WINDOW (window));
      return window;
    }
  window = from != NULL && ml_window_is_untouched (from) ? from : ml_window_new (application);
  gtk_window_present (GTK_WINDOW (window));
  ml_window_open (window, path);
  return window;
}

static void
open_response_cb (GtkNativeDialog *dialog, int response, gpointer data)
{
  MlWindow *self = data;
  g_autofree char *path = response == GTK_RESPONSE_ACCEPT ? ml_window_chosen_path (dialog) : NULL;

  g_object_set_data (G_OBJECT (self), "chooser", NULL);
  if (path == NULL)
    return;
  ml_window_open_for (gtk_window_get_application (GTK_WINDOW (self)), self, path);
}

void
ml_window_choose_open (MlWindow *self)
{
  GtkFileChooserNative *chooser = ml_window_chooser_new (self, "Open a board or a job", GTK_FILE_CHOOSER_ACTION_OPEN, "Open");

  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "Boards and jobs", (const char *const[]){ "*" BOARD_ENDING, "*" JOB_ENDING, NULL });
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "All files", (const char *const[]){ "*", NULL });
  g_signal_connect (chooser, "response", G_CALLBACK (open_response_cb), self);
  gtk_native_dialog_show (GTK_NATIVE_DIALOG (chooser));
}

/* ---- a job whose board is not where it says ---- */

void
ml_window_find_board (MlWindow *self, const char *path)
{
  g_autoptr (GError) error = NULL;

  if (!ml_document_find_board (self->document, path, &error))
    {
      ml_window_notice (self, error->message, "Find the Board…", "win.find-board");
      return;
    }
  ml_window_opened (self);
}

static void
find_response_cb (GtkNativeDialog *dialog, int response, gpointer data)
{
  MlWindow *self = data;
  g_autofree char *path = response == GTK_RESPONSE_ACCEPT ? ml_window_chosen_path (dialog) : NULL;

  g_object_set_data (G_OBJECT (self), "chooser", NULL);
  if (path != NULL)
    ml_window_find_board (self, path);
}

void
ml_window_choose_board (MlWindow *self)
{
  GtkFileChooserNative *chooser = ml_window_chooser_new (self, "Find the board of this job", GTK_FILE_CHOOSER_ACTION_OPEN, "Take It");

  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "Boards", (const char *const[]){ "*" BOARD_ENDING, NULL });
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "All files", (const char *const[]){ "*", NULL });
  g_signal_connect (chooser, "response", G_CALLBACK (find_response_cb), self);
  gtk_native_dialog_show (GTK_NATIVE_DIALOG (chooser));
}

/* ---- saving ---- */

static void
saved (MlWindow *self, gboolean close)
{
  const char *path = ml_document_job_path (self->document) != NULL ? ml_document_job_path (self->document)
                                                                   : ml_document_board_path (self->document);

  ml_window_notice_over (self, "save");
  if (path != NULL)
    ml_recent_add (path);
  ml_window_keep_picture (self);
  ml_window_keep_look (self);
  if (close)
    {
      self->closing = TRUE;
      gtk_window_close (GTK_WINDOW (self));
    }
}

static void
save_under (MlWindow *self, const char *path, gboolean force, gboolean close);

static void
changed_elsewhere_cb (int choice, gpointer data)
{
  Saving *saving = data;

  if (choice == 2)
    ml_window_save (saving->window, TRUE);
  else if (choice == 1)
    save_under (saving->window, saving->path, TRUE, saving->close);
  saving_free (saving);
}

/* Says why it was not saved; a file that someone else has changed, or that is there although nobody chose it by that name, is asked about. */
static void
not_saved (MlWindow *self, const GError *error, const char *path, gboolean close)
{
  gboolean exists = g_error_matches (error, G_FILE_ERROR, G_FILE_ERROR_EXIST);

  if (!exists && !g_error_matches (error, ML_FILE_ERROR, ML_FILE_ERROR_CHANGED))
    {
      ml_window_notice_until (self, "save", error->message, "Save As…", "win.save-as");
      return;
    }
  g_autofree char *words = g_strdup_printf ("%s. Saving now puts this version in its place.", error->message); /* the message names the file */
  ml_choose (GTK_WINDOW (self), exists ? "The file exists already" : "Someone else changed the file", words, (const char *const[]){ "Cancel", "Replace It", "Save As…", NULL }, changed_elsewhere_cb, saving_new (self, close, path));
}

static char *
with_ending (const char *path, const char *ending)
{
  gsize cut = strlen (path);

  for (gsize before = cut + 1; cut < before;) /* twice where it was typed before the one that stood there */
    {
      before = cut;
      if (cut > strlen (BOARD_ENDING) && strncmp (path + cut - strlen (BOARD_ENDING), BOARD_ENDING, strlen (BOARD_ENDING)) == 0)
        cut -= strlen (BOARD_ENDING);
      else if (cut > strlen (JOB_ENDING) && strncmp (path + cut - strlen (JOB_ENDING), JOB_ENDING, strlen (JOB_ENDING)) == 0)
        cut -= strlen (JOB_ENDING);
    }
  return g_strdup_printf ("%.*s%s", (int) cut, path, ending);
}

/* Files that the person was not asked about when choosing the name, since the ending was put to it afterwards. */
static gboolean
is_in_the_way (const char *path, const char *chosen, const char *own)
{
  return path != NULL && g_strcmp0 (path, chosen) != 0 && g_strcmp0 (path, own) != 0 && g_file_test (path, G_FILE_TEST_EXISTS);
}

static gboolean
nothing_in_the_way (MlWindow *self, const char *board_path, const char *job_path, const char *chosen, GError **error)
{
  gboolean board = is_in_the_way (board_path, chosen, ml_document_board_path (self->document));
  gboolean job = is_in_the_way (job_path, chosen, ml_document_job_path (self->document));

  if (board && job)
    g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_EXIST, "%s and %s exist already", board_path, job_path);
  else if (board || job)
    g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_EXIST, "%s exists already", board ? board_path : job_path);
  return !board && !job;
}

/* path NULL: where they came from. A job with something in it goes beside its board. */
static void
save_under (MlWindow *self, const char *path, gboolean force, gboolean close)
{
  g_autoptr (GError) error = NULL;
  const char *own_job = ml_document_job_path (self->document);
  g_autofree char *board_path = path != NULL ? with_ending (path, BOARD_ENDING) : g_strdup (ml_document_board_path (self->document));
  g_autofree char *job_path = !ml_document_has_job (self->document) ? NULL
                              : path != NULL || own_job == NULL     ? with_ending (board_path, JOB_ENDING)
                                                                    : g_strdup (own_job);

  if (!force && !nothing_in_the_way (self, board_path, job_path, path, &error))
    {
      not_saved (self, error, path, close);
      return;
    }
  gboolean rebased = ml_window_rebase_pictures (self, board_path);
  if (!ml_document_save_board (self->document, board_path, force, &error))
    {
      if (rebased)
        ml_document_undo (self->document);
      not_saved (self, error, path, close);
      return;
    }
  if (job_path != NULL)
    ml_document_save_job (self->document, job_path, force, &error);
  if (error != NULL)
    not_saved (self, error, path, close);
  else
    saved (self, close);
}

static void
save_response_cb (GtkNativeDialog *dialog, int response, gpointer data)
{
  MlWindow *self = data;
  g_autofree char *path = response == GTK_RESPONSE_ACCEPT ? ml_window_chosen_path (dialog) : NULL;
  gboolean close = GPOINTER_TO_INT (g_object_get_data (G_OBJECT (dialog), "close"));

  g_object_set_data (G_OBJECT (self), "chooser", NULL);
  if (path != NULL)
    save_under (self, path, FALSE, close);
}

char *
ml_window_file_stem (MlWindow *self)
{
  const char *job = ml_document_job_path (self->document), *path = job != NULL ? job : ml_document_board_path (self->document);

  return ml_file_stem (path);
}

/* What belongs to a file is called as the file is. */
char *
ml_window_suggested_name (MlWindow *self, const char *ending)
{
  const MlBoard *board = ml_document_board (self->document);
  g_autofree char *stem = ml_window_file_stem (self);
  const char *title = board->title != NULL && board->title[0] != '\0' ? board->title : "board";
  g_autofree char *lower = g_utf8_strdown (title, -1);

  if (stem != NULL)
    return g_strconcat (stem, ending, NULL);

  g_strdelimit (lower, " /\\:,.", '-');
  return g_strconcat (lower, ending, NULL);
}

static void
choose_save (MlWindow *self, gboolean close)
{
  GtkFileChooserNative *chooser = ml_window_chooser_new (self, "Save the board and its job", GTK_FILE_CHOOSER_ACTION_SAVE, "Save");
  g_autofree char *name = ml_window_suggested_name (self, BOARD_ENDING);

  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "Boards and jobs", (const char *const[]){ "*" BOARD_ENDING, "*" JOB_ENDING, NULL });
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "All files", (const char *const[]){ "*", NULL });
  gtk_file_chooser_set_current_name (GTK_FILE_CHOOSER (chooser), name);
  g_object_set_data (G_OBJECT (chooser), "close", GINT_TO_POINTER (close));
  g_signal_connect (chooser, "response", G_CALLBACK (save_response_cb), self);
  gtk_native_dialog_show (GTK_NATIVE_DIALOG (chooser));
}

/* The demo is there to be tried out: what is made of it is kept elsewhere, so that it is the same the next time. */
static gboolean
is_demo (MlWindow *self)
{
  g_autofree char *demo = ml_demo_path ();
  const char *job = ml_document_job_path (self->document);

  return demo != NULL && job != NULL && strcmp (demo, job) == 0;
}

static void
save (MlWindow *self, gboolean under_new_name, gboolean close)
{
  ml_errors_view_take (ML_ERRORS_VIEW (self->errors));
  if (under_new_name || ml_document_board_path (self->document) == NULL || is_demo (self))
    choose_save (self, close);
  else
    save_under (self, NULL, FALSE, close);
}

void
ml_window_save (MlWindow *self, gboolean under_new_name)
{
  save (self, under_new_name, FALSE);
}

/* ---- closing ---- */

static void
close_choice_cb (int choice, gpointer data)
{
  Saving *saving = data;

  if (choice == 1)
    {
      ml_document_abandon (saving->window->document);
      saving->window->closing = TRUE;
      gtk_window_close (GTK_WINDOW (saving->window));
    }
  else if (choice == 2)
    save (saving->window, FALSE, TRUE);
  saving_free (saving);
}

gboolean
ml_window_may_close (MlWindow *self)
{
  ml_canvas_take_panels (self->circuit_canvas);
  ml_canvas_take_panels (self->picture_canvas);
  ml_errors_view_take (ML_ERRORS_VIEW (self->errors));
  if (ml_window_is_untouched (self) || ml_document_is_saved (self->document))
    return TRUE;
  ml_choose (GTK_WINDOW (self), "Save before closing?", "Some changes are not saved yet.",
             (const char *const[]){ "Cancel", "Close Without Saving", "Save", NULL }, close_choice_cb, saving_new (self, TRUE, NULL));
  return FALSE;
}

/* ---- the picture of the real board ---- */

static void
board_picture_response_cb (GtkNativeDialog *dialog, int response, gpointer data)
{
  MlWindow *self = data;
  g_autofree char *path = response == GTK_RESPONSE_ACCEPT ? ml_window_chosen_path (dialog) : NULL;

  g_object_set_data (G_OBJECT (self), "chooser", NULL);
  if (path != NULL)
    ml_window_load_picture (self, path);
}

void
ml_window_choose_board_picture (MlWindow *self)
{
  GtkFileChooserNative *chooser = ml_window_chooser_new (self, "A photo or an SVG of the board", GTK_FILE_CHOOSER_ACTION_OPEN, "Load");

  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "Pictures",
              (const char *const[]){ "*.png", "*.jpg", "*.jpeg", "*.svg", "*.PNG", "*.JPG", "*.JPEG", "*.SVG", NULL });
  ml_window_add_filter (GTK_FILE_CHOOSER (chooser), "All files", (const char *const[]){ "*", NULL });
  g_signal_connect (chooser, "response", G_CALLBACK (board_picture_response_cb), self);
  gtk_native_dialog_show (GTK_NATIVE_DIALOG (chooser));
}
