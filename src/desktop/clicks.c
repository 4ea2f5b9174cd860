/* SPDX-License-Identifier: GPL-3.0-or-later */
/* After each layout GDK asks the server where the pointer is and makes a motion of the answer, with the buttons as they are by then. Where a click's release
 * is still waiting behind that layout, the motion says that no button is held, and every gesture drops the click that it had begun (GtkGestureSingle
 * of GTK 4.8): on a busy machine buttons and pins seem to take no note. Such a motion is news about nothing: the release is on its way. */
#include "desktop/clicks.h"

#include <gtk/gtk.h>

#define LATE_US 1000000 /* a release that goes elsewhere, as to a menu that the press has opened, holds motions back no longer */
#define BUTTONS (GDK_BUTTON1_MASK | GDK_BUTTON2_MASK | GDK_BUTTON3_MASK)

static gboolean
is_ahead_of_release (GdkEvent *event, gint64 pressed_us)
{
  return pressed_us && g_get_monotonic_time () - pressed_us < LATE_US && (gdk_event_get_modifier_state (event) & BUTTONS) == 0;
}

/* pressed_us: when the press was handled that has not been followed by its release; 0: none. */
static gboolean
event_cb (GtkEventControllerLegacy *controller, GdkEvent *event, gint64 *pressed_us)
{
  const GdkEventType type = gdk_event_get_event_type (event);

  if (type == GDK_BUTTON_PRESS)
    *pressed_us = g_get_monotonic_time ();
  else if (type == GDK_BUTTON_RELEASE)
    *pressed_us = 0;
  return type == GDK_MOTION_NOTIFY && is_ahead_of_release (event, *pressed_us) ? GDK_EVENT_STOP : GDK_EVENT_PROPAGATE;
}

static void
keep_clicks (GtkWidget *surface)
{
  GtkEventController *controller = gtk_event_controller_legacy_new ();
  gint64 *pressed_us = g_new0 (gint64, 1);

  gtk_event_controller_set_propagation_phase (controller, GTK_PHASE_CAPTURE);
  g_signal_connect_data (controller, "event", G_CALLBACK (event_cb), pressed_us, (GClosureNotify) (void (*) (void)) g_free, 0);
  gtk_widget_add_controller (surface, controller);
}

/* A menu takes the events inside it for itself: the window around it does not see them. */
static gboolean
map_cb (GSignalInvocationHint *hint, guint n, const GValue *values, gpointer data)
{
  static const char *const KEPT = "meterleaf-clicks-kept";
  GObject *widget = g_value_get_object (values);

  if (GTK_IS_NATIVE (widget) && !g_object_get_data (widget, KEPT))
    {
      g_object_set_data (widget, KEPT, GINT_TO_POINTER (TRUE));
      keep_clicks (GTK_WIDGET (widget));
    }
  return TRUE; /* the next one, too */
}

void
ml_clicks_keep (void)
{
  g_type_class_unref (g_type_class_ref (GTK_TYPE_WIDGET)); /* the signal is there from now on */
  g_signal_add_emission_hook (g_signal_lookup ("map", GTK_TYPE_WIDGET), 0, map_cb, NULL, NULL);
}
