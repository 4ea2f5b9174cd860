/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/popovers.h"

/* The toolkit looks anew for what is under the pointer when a state changes: whatever it finds, it is nothing in the popover. */
static void
take_pointer_away (GtkWidget *popover)
{
  gboolean sensitive = gtk_widget_get_sensitive (popover);

  gtk_widget_set_sensitive (popover, !sensitive);
  gtk_widget_set_sensitive (popover, sensitive);
}

/* Without its surface nothing can be told to it; it gets another one when it is opened again. */
static gboolean
give_surface_back (gpointer data)
{
  GtkWidget *popover = data;

  if (gtk_widget_get_realized (popover) && !gtk_widget_get_visible (popover))
    {
      take_pointer_away (popover);
      gtk_widget_unrealize (popover);
    }
  return G_SOURCE_REMOVE;
}

/* Not at once, since it is being closed right now, but before any other event and the next frame, which bring the motion. */
static gboolean
closed_cb (GSignalInvocationHint *hint, guint n, const GValue *values, gpointer data)
{
  g_idle_add_full (G_PRIORITY_HIGH, give_surface_back, g_value_dup_object (values), g_object_unref);
  return TRUE; /* the next one, too */
}

void
ml_popovers_mend (void)
{
  g_type_class_unref (g_type_class_ref (GTK_TYPE_POPOVER)); /* the signal is there from now on */
  g_signal_add_emission_hook (g_signal_lookup ("closed", GTK_TYPE_POPOVER), 0, closed_cb, NULL, NULL);
}
