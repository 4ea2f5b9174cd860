/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light or dark: the person's own choice first, then what the desktop says. A small portal of the test's own answers on the session bus, as the
 * settings portal's description has it (org.freedesktop.portal.Settings; color-scheme 0 nothing, 1 dark, 2 light). */
#include "support/near.h"

#include <gtk/gtk.h>

#include "desktop/appearance.h"
#include "desktop/settings.h"

#define PATIENCE_S 20
#define NAMESPACE "org.freedesktop.appearance"

static guint scheme = 1;
static GDBusConnection *bus;
static gboolean named;

static void
call_cb (GDBusConnection *connection, const char *sender, const char *path, const char *interface, const char *method, GVariant *parameters,
         GDBusMethodInvocation *invocation, gpointer data)
{
  const char *space, *key;

  g_variant_get (parameters, "(&s&s)", &space, &key);
  if (g_str_equal (space, NAMESPACE) && g_str_equal (key, "color-scheme"))
    g_dbus_method_invocation_return_value (invocation, g_variant_new ("(v)", g_variant_new_variant (g_variant_new_uint32 (scheme))));
  else
    g_dbus_method_invocation_return_dbus_error (invocation, "org.freedesktop.portal.Error.NotFound", "no such setting");
}

static void
named_cb (GDBusConnection *connection, const char *name, gpointer data)
{
  named = TRUE;
}

static void
open_portal (void)
{
  static const char description[] = "<node><interface name='org.freedesktop.portal.Settings'><method name='Read'><arg type='s' direction='in'/>"
                                    "<arg type='s' direction='in'/><arg type='v' direction='out'/></method></interface></node>";
  static const GDBusInterfaceVTable table = { .method_call = call_cb };
  GDBusNodeInfo *node = g_dbus_node_info_new_for_xml (description, NULL);

  bus = g_bus_get_sync (G_BUS_TYPE_SESSION, NULL, NULL);
  assert_non_null (bus);
  assert_true (g_dbus_connection_register_object (bus, "/org/freedesktop/portal/desktop", node->interfaces[0], &table, NULL, NULL, NULL) > 0);
  g_bus_own_name_on_connection (bus, "org.freedesktop.portal.Desktop", G_BUS_NAME_OWNER_FLAGS_NONE, named_cb, NULL, NULL, NULL);
  while (!named)
    g_main_context_iteration (NULL, TRUE);
  g_dbus_node_info_unref (node);
}

static void
say (const char *space, const char *key, guint value)
{
  g_dbus_connection_emit_signal (bus, NULL, "/org/freedesktop/portal/desktop", "org.freedesktop.portal.Settings", "SettingChanged",
                                 g_variant_new ("(ssv)", space, key, g_variant_new_uint32 (value)), NULL);
}

static void
wait_dark (gboolean dark)
{
  gint64 until = g_get_monotonic_time () + PATIENCE_S * G_USEC_PER_SEC;

  while (ml_appearance_is_dark (ml_appearance_get ()) != dark && g_get_monotonic_time () < until)
    if (!g_main_context_iteration (NULL, FALSE))
      g_usleep (1000);
  assert_int_equal (ml_appearance_is_dark (ml_appearance_get ()), dark);
}

static void
count_cb (MlAppearance *appearance, guint *n)
{
  (*n)++;
}

static void
test_the_desktop_is_followed_until_the_person_chooses (void **state)
{
  MlAppearance *appearance = ml_appearance_get ();
  guint n = 0;

  g_signal_connect (appearance, "changed", G_CALLBACK (count_cb), &n);
  assert_false (ml_appearance_is_dark (appearance)); /* not asked yet; the test's theme is light */
  wait_dark (TRUE);
  assert_int_equal (n, 1);
  say (NAMESPACE, "color-scheme", 2);
  wait_dark (FALSE);

  /* the person's choice stands whatever the desktop says */
  ml_appearance_choose (appearance, TRUE);
  assert_true (ml_appearance_is_dark (appearance));
  assert_non_null (g_settings_get_user_value (ml_settings_get (), "dark-paper"));
  say (NAMESPACE, "color-scheme", 1);
  say (NAMESPACE, "color-scheme", 2);
  say (NAMESPACE, "contrast", 1);
  for (gint64 until = g_get_monotonic_time () + PATIENCE_S * G_USEC_PER_SEC; !ml_appearance_wants_contrast (appearance) && g_get_monotonic_time () < until;)
    g_main_context_iteration (NULL, FALSE);
  assert_true (ml_appearance_wants_contrast (appearance)); /* so the others were heard, too */
  assert_true (ml_appearance_is_dark (appearance));

  /* choosing what the desktop asks for is to follow it again */
  ml_appearance_choose (appearance, FALSE);
  assert_null (g_settings_get_user_value (ml_settings_get (), "dark-paper"));
  say (NAMESPACE, "color-scheme", 1);
  wait_dark (TRUE);
  say ("org.example.other", "color-scheme", 2);
  say (NAMESPACE, "accent-color", 2);
  say (NAMESPACE, "color-scheme", 0); /* no preference: the theme */
  wait_dark (FALSE);
  g_signal_handlers_disconnect_by_data (appearance, &n);
}

int
main (void)
{
  if (!gtk_init_check ())
    return 77; /* no display: skipped */
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_the_desktop_is_followed_until_the_person_chooses) };
  open_portal ();
  return cmocka_run_group_tests (tests, NULL, NULL);
}
