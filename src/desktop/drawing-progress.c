/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/drawing-progress.h"

typedef struct
{
  GtkWidget *label, *bar; /* borrowed: children */
  void (*stop) (gpointer data);
  gpointer data;
} Progress;

static void
stop_cb (GtkButton *button, gpointer data)
{
  Progress *progress = data;
  progress->stop (progress->data);
}

GtkWidget *
ml_drawing_progress_new (void (*stop) (gpointer data), gpointer data)
{
  GtkWidget *self = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 10), *button = gtk_button_new_with_label ("Stop");
  Progress *progress = g_new0 (Progress, 1);

  progress->stop = stop;
  progress->data = data;
  progress->label = gtk_label_new ("");
  progress->bar = gtk_progress_bar_new ();
  gtk_widget_set_name (progress->label, "drawing-progress");
  gtk_widget_set_name (button, "drawing-stop");
  gtk_widget_set_tooltip_text (button, "Keep the drawing as it is");
  gtk_widget_set_focus_on_click (button, FALSE);
  gtk_widget_set_valign (progress->bar, GTK_ALIGN_CENTER);
  gtk_widget_set_valign (button, GTK_ALIGN_CENTER);
  gtk_widget_add_css_class (self, "notice");
  gtk_widget_set_halign (self, GTK_ALIGN_CENTER);
  gtk_widget_set_valign (self, GTK_ALIGN_END);
  gtk_box_append (GTK_BOX (self), progress->label);
  gtk_box_append (GTK_BOX (self), progress->bar);
  gtk_box_append (GTK_BOX (self), button);
  g_signal_connect (button, "clicked", G_CALLBACK (stop_cb), progress);
  g_object_set_data_full (G_OBJECT (self), "progress", progress, g_free);
  gtk_widget_set_visible (self, FALSE);
  return self;
}

void
ml_drawing_progress_show (GtkWidget *self, double share, guint n_parts)
{
  Progress *progress = g_object_get_data (G_OBJECT (self), "progress");

  gtk_widget_set_visible (self, share >= 0);
  if (share < 0)
    return;
  g_autofree char *text = g_strdup_printf ("Arranging the drawing of %u parts…", n_parts);
  if (g_strcmp0 (text, gtk_label_get_text (GTK_LABEL (progress->label))) != 0)
    gtk_label_set_text (GTK_LABEL (progress->label), text);
  gtk_progress_bar_set_fraction (GTK_PROGRESS_BAR (progress->bar), MIN (share, 1));
}
