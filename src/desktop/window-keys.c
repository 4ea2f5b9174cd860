/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Single keys and digits mean the drawing also while the focus rests on a button beside it, as after a click there: a button has no use for letters. */
#include "desktop/window-private.h"

#include "desktop/focus-seen.h"

static gboolean
is_written (guint keyval, GdkModifierType state)
{
  gunichar typed = gdk_keyval_to_unicode (keyval);

  return (state & (GDK_CONTROL_MASK | GDK_ALT_MASK | GDK_SUPER_MASK)) == 0 && typed != 0 && g_unichar_isgraph (typed);
}

/* What is typed there is meant for what has the focus: text, and menus that hang on the drawing. */
static gboolean
takes_letters (GtkWidget *focus)
{
  return GTK_IS_EDITABLE (focus) || GTK_IS_TEXT_VIEW (focus) || gtk_widget_get_ancestor (focus, GTK_TYPE_POPOVER) != NULL;
}

/* Only what nobody wanted comes as far as the window. */
static gboolean
key_cb (GtkEventControllerKey *keys, guint keyval, guint keycode, GdkModifierType state, gpointer data)
{
  MlWindow *self = data;
  GtkWidget *canvas = GTK_WIDGET (self->canvas), *focus = gtk_root_get_focus (GTK_ROOT (self));

  if (!is_written (keyval, state) || !gtk_widget_get_mapped (canvas))
    return FALSE;
  if (focus != NULL && (focus == canvas || gtk_widget_is_ancestor (focus, canvas) || takes_letters (focus)))
    return FALSE;
  return gtk_event_controller_key_forward (keys, canvas);
}

void
ml_window_build_keys (MlWindow *self)
{
  GtkEventController *keys = gtk_event_controller_key_new ();

  g_signal_connect (keys, "key-pressed", G_CALLBACK (key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), keys);
  ml_focus_seen_keep (GTK_WINDOW (self));
}

void
ml_window_focus_canvas (MlWindow *self)
{
  GtkWidget *canvas = GTK_WIDGET (self->canvas), *focus = gtk_root_get_focus (GTK_ROOT (self));

  if (gtk_widget_get_mapped (canvas) && focus != self->draw_button && focus != self->measure_button
      && (focus == NULL || !gtk_widget_is_ancestor (focus, canvas)))
    gtk_widget_grab_focus (canvas);
}
