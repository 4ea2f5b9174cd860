/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/canvas-target.h"

struct _MlCanvasTarget
{
  GtkWidget parent_instance;
  int part, pin;
  char *label, *description;
};

G_DEFINE_FINAL_TYPE (MlCanvasTarget, ml_canvas_target, GTK_TYPE_WIDGET)

static guint activated_signal;

static void
activate_action (GtkWidget *widget, const char *name, GVariant *parameter)
{
  g_signal_emit (widget, activated_signal, 0);
}

static void
ml_canvas_target_finalize (GObject *object)
{
  MlCanvasTarget *self = ML_CANVAS_TARGET (object);
  g_free (self->label);
  g_free (self->description);
  G_OBJECT_CLASS (ml_canvas_target_parent_class)->finalize (object);
}

static void
ml_canvas_target_class_init (MlCanvasTargetClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS (klass);
  G_OBJECT_CLASS (klass)->finalize = ml_canvas_target_finalize;
  gtk_widget_class_set_accessible_role (widget_class, GTK_ACCESSIBLE_ROLE_BUTTON);
  gtk_widget_class_set_css_name (widget_class, "target");
  gtk_widget_class_install_action (widget_class, "target.activate", NULL, activate_action);
  activated_signal
    = g_signal_new ("activated", G_TYPE_FROM_CLASS (klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  gtk_widget_class_set_activate_signal (widget_class, activated_signal);
}

static void
ml_canvas_target_init (MlCanvasTarget *self)
{
  gtk_widget_set_focusable (GTK_WIDGET (self), TRUE);
  gtk_widget_set_can_target (GTK_WIDGET (self), FALSE);
}

GtkWidget *
ml_canvas_target_new (int part, int pin)
{
  MlCanvasTarget *self = g_object_new (ML_TYPE_CANVAS_TARGET, NULL);
  self->part = part;
  self->pin = pin;
  return GTK_WIDGET (self);
}

int
ml_canvas_target_part (MlCanvasTarget *self)
{
  return self->part;
}

int
ml_canvas_target_pin (MlCanvasTarget *self)
{
  return self->pin;
}

static void
tell (MlCanvasTarget *self, GtkAccessibleProperty property, char **slot, const char *text)
{
  if (!text || g_strcmp0 (*slot, text) == 0)
    return;
  g_free (*slot);
  *slot = g_strdup (text);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self), property, text, -1);
}

void
ml_canvas_target_describe (MlCanvasTarget *self, const char *label, const char *description)
{
  tell (self, GTK_ACCESSIBLE_PROPERTY_LABEL, &self->label, label);
  tell (self, GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, &self->description, description);
}
