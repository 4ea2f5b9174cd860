/* SPDX-License-Identifier: GPL-3.0-or-later */
/* drop-source FILE: a small window from which that file can be dragged, as from a file manager. For tests of dropping. */
#include <gtk/gtk.h>

static GdkContentProvider *
prepare_cb (GtkDragSource *source, double x, double y, gpointer data)
{
  g_autoptr (GFile) file = g_file_new_for_commandline_arg (data);

  return gdk_content_provider_new_typed (G_TYPE_FILE, file);
}

int
main (int argc, char **argv)
{
  GtkWidget *window;
  GtkDragSource *source;

  if (argc != 2)
    return 2;
  gtk_init ();
  window = gtk_window_new ();
  source = gtk_drag_source_new ();
  gtk_window_set_title (GTK_WINDOW (window), "drop source");
  gtk_window_set_decorated (GTK_WINDOW (window), FALSE);
  gtk_window_set_default_size (GTK_WINDOW (window), 80, 80);
  gtk_window_set_child (GTK_WINDOW (window), gtk_label_new ("drag me"));
  gtk_drag_source_set_actions (source, GDK_ACTION_COPY);
  g_signal_connect (source, "prepare", G_CALLBACK (prepare_cb), argv[1]);
  gtk_widget_add_controller (window, GTK_EVENT_CONTROLLER (source));
  gtk_window_present (GTK_WINDOW (window));
  while (g_list_model_get_n_items (gtk_window_get_toplevels ()) > 0)
    g_main_context_iteration (NULL, TRUE);
  return 0;
}
