/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/focus-seen.h"

#define BY_KEYS "ml-by-keys"

static gboolean
event_cb (GtkEventControllerLegacy *controller, GdkEvent *event, gpointer window)
{
  GdkEventType type = gdk_event_get_event_type (event);

  if (type == GDK_KEY_PRESS || type == GDK_BUTTON_PRESS || type == GDK_TOUCH_BEGIN)
    g_object_set_data (window, BY_KEYS, GINT_TO_POINTER (type == GDK_KEY_PRESS));
  return FALSE;
}

static void
hidden_cb (GtkWindow *window, GParamSpec *spec, gpointer data)
{
  if (!gtk_window_get_focus_visible (window) && g_object_get_data (G_OBJECT (window), BY_KEYS) != NULL)
    gtk_window_set_focus_visible (window, TRUE);
}

void
ml_focus_seen_keep (GtkWindow *window)
{
  GtkEventController *events = gtk_event_controller_legacy_new ();

  gtk_event_controller_set_propagation_phase (events, GTK_PHASE_CAPTURE);
  g_signal_connect (events, "event", G_CALLBACK (event_cb), window);
  gtk_widget_add_controller (GTK_WIDGET (window), events);
  g_signal_connect (window, "notify::focus-visible", G_CALLBACK (hidden_cb), NULL);
}
