/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files that another program writes while they are open here: that is said at once, or when the person comes back to the window, and nothing is taken
 * or lost before the person decides. */
#include "desktop/window-private.h"

#define WORD "elsewhere"

static void
set_string (char **slot, const char *text)
{
  char *old = *slot;

  *slot = g_strdup (text);
  g_free (old);
}

static void
look (MlWindow *self)
{
  g_autofree char *state = NULL, *names = NULL;

  if (ml_window_is_untouched (self))
    return;
  names = ml_document_changed_elsewhere (self->document, &state);
  if (g_strcmp0 (state, self->told_elsewhere) == 0)
    return;
  set_string (&self->told_elsewhere, state);
  ml_window_refresh_actions (self);
  if (names == NULL)
    {
      ml_window_notice_over (self, WORD);
      return;
    }
  g_autofree char *text = g_strdup_printf ("Another program has changed %s. Nothing here is lost by reading it again: undo brings it back.", names);
  ml_window_notice_until (self, WORD, text, "Read Again", "win.read-files");
}

static void
file_changed_cb (GFileMonitor *monitor, GFile *file, GFile *other, GFileMonitorEvent event, gpointer data)
{
  if (event == G_FILE_MONITOR_EVENT_CHANGES_DONE_HINT || event == G_FILE_MONITOR_EVENT_CREATED || event == G_FILE_MONITOR_EVENT_RENAMED
      || event == G_FILE_MONITOR_EVENT_MOVED_IN)
    look (data);
}

static void
active_cb (GObject *window, GParamSpec *spec, gpointer data)
{
  if (gtk_window_is_active (GTK_WINDOW (window)))
    look (ML_WINDOW (window));
}

static void
watch (MlWindow *self, guint which, const char *path)
{
  if (g_strcmp0 (path, self->watched[which]) == 0)
    return;
  g_clear_object (&self->monitors[which]);
  set_string (&self->watched[which], path);
  if (path == NULL)
    return;
  g_autoptr (GFile) file = g_file_new_for_path (path);
  self->monitors[which] = g_file_monitor_file (file, G_FILE_MONITOR_WATCH_MOVES, NULL, NULL); /* NULL where there is none: then on coming back */
  if (self->monitors[which] != NULL)
    g_signal_connect (self->monitors[which], "changed", G_CALLBACK (file_changed_cb), self);
}

void
ml_window_watch_files (MlWindow *self)
{
  watch (self, 0, ml_document_board_path (self->document));
  watch (self, 1, ml_document_job_path (self->document));
  if (self->told_elsewhere != NULL) /* saved, read or opened anew: perhaps it is over */
    look (self);
}

void
ml_window_read_files (MlWindow *self)
{
  g_autoptr (GError) error = NULL;

  if (!ml_document_read_files (self->document, &error))
    ml_window_notice (self, error->message, NULL, NULL);
  look (self);
}

void
ml_window_build_elsewhere (MlWindow *self)
{
  g_signal_connect (self, "notify::is-active", G_CALLBACK (active_cb), NULL);
}

void
ml_window_clear_elsewhere (MlWindow *self)
{
  for (guint i = 0; i < G_N_ELEMENTS (self->monitors); i++)
    {
      g_clear_object (&self->monitors[i]);
      g_clear_pointer (&self->watched[i], g_free);
    }
  g_clear_pointer (&self->told_elsewhere, g_free);
}
