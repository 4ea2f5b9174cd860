/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/line-entry.h"
#include "desktop/said.h"

struct _MlLineEntry
{
  GtkBox parent_instance;
  GtkWidget *title, *text, *trouble; /* template */
  MlLineEntryFunc func;
  gpointer data;
};

G_DEFINE_FINAL_TYPE (MlLineEntry, ml_line_entry, GTK_TYPE_BOX)

static guint left_signal;

static void
say (MlLineEntry *self, const char *trouble)
{
  g_autofree char *said = ml_said (NULL, trouble ? trouble : "");
  gtk_label_set_text (GTK_LABEL (self->trouble), said);
  gtk_widget_set_visible (self->trouble, trouble != NULL);
}

gboolean
ml_line_entry_take (MlLineEntry *self)
{
  g_autofree char *text = g_strstrip (g_strdup (gtk_editable_get_text (GTK_EDITABLE (self->text))));
  g_autoptr (GError) error = NULL;
  if (self->func && !self->func (text, self->data, &error))
    {
      say (self, error ? error->message : "That cannot be");
      return FALSE;
    }
  g_signal_emit (self, left_signal, 0);
  return TRUE;
}

const char *
ml_line_entry_typed (MlLineEntry *self)
{
  return gtk_editable_get_text (GTK_EDITABLE (self->text));
}

static void
activate_cb (GtkWidget *text, MlLineEntry *self)
{
  ml_line_entry_take (self);
}

static void
changed_cb (GtkWidget *text, MlLineEntry *self)
{
  say (self, NULL);
}

/* What the line does not use must not reach the drawing's single keys. */
static gboolean
key_cb (GtkEventControllerKey *controller, guint keyval, guint keycode, GdkModifierType state, MlLineEntry *self)
{
  if (keyval == GDK_KEY_Escape)
    {
      g_signal_emit (self, left_signal, 0);
      return TRUE;
    }
  return keyval != GDK_KEY_Tab && keyval != GDK_KEY_ISO_Left_Tab && !(state & (GDK_CONTROL_MASK | GDK_ALT_MASK));
}

static void
ml_line_entry_class_init (MlLineEntryClass *klass)
{
  gtk_widget_class_set_css_name (GTK_WIDGET_CLASS (klass), "lineentry");
  left_signal = g_signal_new ("left", G_TYPE_FROM_CLASS (klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static GtkWidget *
add_label (MlLineEntry *self)
{
  GtkWidget *label = gtk_label_new (NULL);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (label), 32);
  gtk_box_append (GTK_BOX (self), label);
  return label;
}

static void
ml_line_entry_init (MlLineEntry *self)
{
  gtk_orientable_set_orientation (GTK_ORIENTABLE (self), GTK_ORIENTATION_VERTICAL);
  gtk_box_set_spacing (GTK_BOX (self), 4);
  gtk_widget_add_css_class (GTK_WIDGET (self), "at-place");
  self->title = add_label (self);
  gtk_widget_set_name (self->title, "line-title");
  self->text = gtk_entry_new ();
  gtk_editable_set_width_chars (GTK_EDITABLE (self->text), 14);
  gtk_box_append (GTK_BOX (self), self->text);
  self->trouble = add_label (self);
  gtk_widget_set_name (self->trouble, "line-trouble");
  gtk_widget_set_visible (self->trouble, FALSE);
  g_signal_connect (self->text, "activate", G_CALLBACK (activate_cb), self);
  g_signal_connect (self->text, "changed", G_CALLBACK (changed_cb), self);
  GtkEventController *keys = gtk_event_controller_key_new ();
  g_signal_connect (keys, "key-pressed", G_CALLBACK (key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), keys);
}

GtkWidget *
ml_line_entry_new (void)
{
  return g_object_new (ML_TYPE_LINE_ENTRY, NULL);
}

void
ml_line_entry_open (MlLineEntry *self, const char *title, const char *text, gboolean select, MlLineEntryFunc func, gpointer data)
{
  self->func = func;
  self->data = data;
  gtk_label_set_text (GTK_LABEL (self->title), title);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->text), GTK_ACCESSIBLE_PROPERTY_LABEL, title, -1);
  gtk_editable_set_text (GTK_EDITABLE (self->text), text);
  say (self, NULL);
  gtk_widget_grab_focus (self->text);
  if (select)
    gtk_editable_select_region (GTK_EDITABLE (self->text), 0, -1);
  else
    gtk_editable_set_position (GTK_EDITABLE (self->text), -1);
}
