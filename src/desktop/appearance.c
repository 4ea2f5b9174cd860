/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/appearance.h"

#include <gtk/gtk.h>
#include <string.h>

#include "desktop/settings.h"

#define PORTAL "org.freedesktop.portal.Desktop"
#define PORTAL_PATH "/org/freedesktop/portal/desktop"
#define PORTAL_SETTINGS "org.freedesktop.portal.Settings"
#define NAMESPACE "org.freedesktop.appearance"
#define CHOICE "dark-paper"

enum { SCHEME_OPEN, SCHEME_DARK, SCHEME_LIGHT };

struct _MlAppearance
{
  GObject parent_instance;

  guint scheme, contrast; /* as the desktop says; 0: it says nothing */
  gboolean theme_is_dark, theme_has_contrast;
  int chosen; /* where settings cannot be kept: 0 or 1; -1: nothing */
};

G_DEFINE_FINAL_TYPE (MlAppearance, ml_appearance, G_TYPE_OBJECT)

static guint changed_signal;

/* ---- the theme ---- */

static char *
theme_name (GtkSettings *settings)
{
  const char *forced = g_getenv ("GTK_THEME");
  char *name = NULL;

  if (forced != NULL)
    return g_strdup (forced);
  g_object_get (settings, "gtk-theme-name", &name, NULL);
  return name != NULL ? name : g_strdup ("");
}

static void
look_at_theme (MlAppearance *self)
{
  GtkSettings *settings = gtk_settings_get_for_display (gdk_display_get_default ());
  g_autofree char *name = theme_name (settings);
  gboolean asked = FALSE;

  g_object_get (settings, "gtk-application-prefer-dark-theme", &asked, NULL); /* from the person's settings.ini: nobody has set it here yet */
  self->theme_is_dark = asked || g_str_has_suffix (name, ":dark") || g_str_has_suffix (name, "-dark");
  self->theme_has_contrast = strstr (name, "HighContrast") != NULL || strstr (name, "-hc") != NULL;
}

/* ---- the desktop ---- */

static void
take (MlAppearance *self, const char *key, GVariant *said)
{
  g_autoptr (GVariant) value = g_variant_ref (said);
  guint *kept = g_str_equal (key, "color-scheme") ? &self->scheme : g_str_equal (key, "contrast") ? &self->contrast : NULL;

  while (g_variant_is_of_type (value, G_VARIANT_TYPE_VARIANT)) /* an old portal wraps it twice */
    {
      GVariant *inner = g_variant_get_variant (value);
      g_variant_unref (value);
      value = inner;
    }
  if (kept == NULL || !g_variant_is_of_type (value, G_VARIANT_TYPE_UINT32) || g_variant_get_uint32 (value) == *kept)
    return;
  *kept = g_variant_get_uint32 (value);
  g_signal_emit (self, changed_signal, 0);
}

static void
said_cb (GDBusConnection *bus, const char *sender, const char *path, const char *interface, const char *signal, GVariant *parameters, gpointer data)
{
  const char *space, *key;
  g_autoptr (GVariant) value = NULL;

  if (!g_variant_is_of_type (parameters, G_VARIANT_TYPE ("(ssv)")))
    return;
  g_variant_get (parameters, "(&s&sv)", &space, &key, &value);
  if (g_str_equal (space, NAMESPACE))
    take (data, key, value);
}

static void
answered_cb (GObject *bus, GAsyncResult *result, gpointer data)
{
  g_autoptr (GVariant) reply = g_dbus_connection_call_finish (G_DBUS_CONNECTION (bus), result, NULL);
  g_autoptr (GVariant) value = NULL;

  if (reply == NULL) /* there is no portal, or it does not know */
    return;
  g_variant_get (reply, "(v)", &value);
  take (ml_appearance_get (), data, value);
}

static void
connected_cb (GObject *source, GAsyncResult *result, gpointer data)
{
  static const char *const keys[] = { "color-scheme", "contrast" };
  g_autoptr (GDBusConnection) bus = g_bus_get_finish (result, NULL);

  if (bus == NULL)
    return;
  g_dbus_connection_signal_subscribe (bus, PORTAL, PORTAL_SETTINGS, "SettingChanged", PORTAL_PATH, NAMESPACE, G_DBUS_SIGNAL_FLAGS_NONE, said_cb, data, NULL);
  for (guint i = 0; i < G_N_ELEMENTS (keys); i++)
    g_dbus_connection_call (bus, PORTAL, PORTAL_PATH, PORTAL_SETTINGS, "Read", g_variant_new ("(ss)", NAMESPACE, keys[i]), G_VARIANT_TYPE ("(v)"),
                            G_DBUS_CALL_FLAGS_NONE, -1, NULL, answered_cb, (gpointer) keys[i]);
}

/* ---- the object ---- */

static void
ml_appearance_class_init (MlAppearanceClass *klass)
{
  changed_signal = g_signal_new ("changed", G_TYPE_FROM_CLASS (klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
}

static void
ml_appearance_init (MlAppearance *self)
{
  self->chosen = -1;
  look_at_theme (self);
  g_bus_get (G_BUS_TYPE_SESSION, NULL, connected_cb, self);
}

MlAppearance *
ml_appearance_get (void)
{
  static MlAppearance *own = NULL; /* lives as long as the program, as what it listens to does */

  if (own == NULL)
    own = g_object_new (ML_TYPE_APPEARANCE, NULL);
  return own;
}

static gboolean
desktop_is_dark (MlAppearance *self)
{
  return self->scheme == SCHEME_OPEN ? self->theme_is_dark : self->scheme == SCHEME_DARK;
}

gboolean
ml_appearance_is_dark (MlAppearance *self)
{
  GSettings *settings = ml_settings_get ();
  g_autoptr (GVariant) chosen = settings != NULL ? g_settings_get_user_value (settings, CHOICE) : NULL;

  if (chosen != NULL)
    return g_variant_get_boolean (chosen);
  return self->chosen >= 0 ? self->chosen > 0 : desktop_is_dark (self);
}

gboolean
ml_appearance_wants_contrast (MlAppearance *self)
{
  return self->contrast == 1 || self->theme_has_contrast;
}

void
ml_appearance_choose (MlAppearance *self, gboolean dark)
{
  GSettings *settings = ml_settings_get ();

  if (settings != NULL && dark == desktop_is_dark (self))
    g_settings_reset (settings, CHOICE);
  else if (settings != NULL)
    g_settings_set_boolean (settings, CHOICE, dark);
  else
    self->chosen = dark;
  g_signal_emit (self, changed_signal, 0);
}
