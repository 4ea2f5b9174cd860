/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/settings.h"

#include <glib/gstdio.h>
#include <string.h>

#define SCHEMA "org.meterleaf.Meterleaf"
#define DEMO "vent-controller.leafjob"
#define FOLDERS_ABOVE 4 /* how far above the executable the build's own files may lie */

static char *
folder_of_program (void)
{
  g_autofree char *exe = g_file_read_link ("/proc/self/exe", NULL);

  return exe != NULL ? g_path_get_dirname (exe) : g_strdup (".");
}

/* The first existing `relative` in the program's folder or one of those above it; new string or NULL. */
static char *
find_above_program (const char *relative)
{
  g_autofree char *folder = folder_of_program ();

  for (int i = 0; i <= FOLDERS_ABOVE; i++)
    {
      g_autofree char *path = g_build_filename (folder, relative, NULL);
      if (g_file_test (path, G_FILE_TEST_EXISTS))
        return g_steal_pointer (&path);
      g_autofree char *up = g_path_get_dirname (folder);
      g_free (folder);
      folder = g_steal_pointer (&up);
    }
  return NULL;
}

static GSettingsSchema *
find_schema (void)
{
  GSettingsSchemaSource *installed = g_settings_schema_source_get_default ();
  GSettingsSchema *schema = installed != NULL ? g_settings_schema_source_lookup (installed, SCHEMA, TRUE) : NULL;

  if (schema != NULL)
    return schema;
  g_autofree char *compiled = find_above_program ("data/gschemas.compiled");
  if (compiled == NULL)
    return NULL;
  g_autofree char *folder = g_path_get_dirname (compiled);
  GSettingsSchemaSource *source = g_settings_schema_source_new_from_directory (folder, installed, FALSE, NULL);
  if (source == NULL)
    return NULL;
  schema = g_settings_schema_source_lookup (source, SCHEMA, FALSE);
  g_settings_schema_source_unref (source);
  return schema;
}

GSettings *
ml_settings_get (void)
{
  static GSettings *settings = NULL;
  static gsize once = 0;

  if (g_once_init_enter (&once))
    {
      GSettingsSchema *schema = find_schema ();
      if (schema != NULL)
        {
          settings = g_settings_new_full (schema, NULL, NULL);
          g_settings_schema_unref (schema);
        }
      g_once_init_leave (&once, 1);
    }
  return settings;
}

gboolean
ml_settings_flag (const char *key, gboolean otherwise)
{
  GSettings *settings = ml_settings_get ();

  return settings != NULL ? g_settings_get_boolean (settings, key) : otherwise;
}

void
ml_settings_set_flag (const char *key, gboolean value)
{
  GSettings *settings = ml_settings_get ();

  if (settings != NULL)
    g_settings_set_boolean (settings, key, value);
}

int
ml_settings_number (const char *key, int otherwise)
{
  GSettings *settings = ml_settings_get ();

  return settings != NULL ? g_settings_get_int (settings, key) : otherwise;
}

void
ml_settings_set_number (const char *key, int value)
{
  GSettings *settings = ml_settings_get ();

  if (settings != NULL)
    g_settings_set_int (settings, key, value);
}

/* A setting is UTF-8 text, the name of a file need not be: such a one is kept as its address. */
static char *
recent_text (const char *path)
{
  return g_utf8_validate (path, -1, NULL) ? g_strdup (path) : g_filename_to_uri (path, NULL, NULL);
}

static char *
recent_path (const char *text)
{
  char *path = g_str_has_prefix (text, "file://") ? g_filename_from_uri (text, NULL, NULL) : NULL;
  return path != NULL ? path : g_strdup (text);
}

void
ml_recent_add (const char *path)
{
  GSettings *settings = ml_settings_get ();

  if (settings == NULL)
    return;
  g_autofree char *whole = g_canonicalize_filename (path, NULL), *absolute = recent_text (whole);
  g_auto (GStrv) old = g_settings_get_strv (settings, "recent");
  g_autoptr (GStrvBuilder) list = g_strv_builder_new ();
  guint n = 1;
  g_strv_builder_add (list, absolute);
  for (char **item = old; *item != NULL && n < ML_RECENT_MAX; item++)
    if (strcmp (*item, absolute) != 0)
      {
        g_strv_builder_add (list, *item);
        n++;
      }
  g_auto (GStrv) all = g_strv_builder_end (list);
  g_settings_set_strv (settings, "recent", (const char *const *) all);
}

GStrv
ml_recent_list (void)
{
  GSettings *settings = ml_settings_get ();
  g_autoptr (GStrvBuilder) list = g_strv_builder_new ();

  if (settings != NULL)
    {
      g_auto (GStrv) all = g_settings_get_strv (settings, "recent");
      for (char **item = all; *item != NULL; item++)
        {
          g_autofree char *path = recent_path (*item);
          if (g_file_test (path, G_FILE_TEST_IS_REGULAR))
            g_strv_builder_add (list, path);
        }
    }
  return g_strv_builder_end (list);
}

char *
ml_recent_picture (const char *path)
{
  g_autofree char *absolute = g_canonicalize_filename (path, NULL);
  g_autofree char *key = g_compute_checksum_for_string (G_CHECKSUM_SHA256, absolute, -1);
  g_autofree char *folder = g_build_filename (g_get_user_cache_dir (), "meterleaf", "pictures", NULL);
  g_autofree char *name = g_strconcat (key, ".png", NULL);

  g_mkdir_with_parents (folder, 0700);
  return g_build_filename (folder, name, NULL);
}

char *
ml_icon_folder (void)
{
  g_autofree char *icon = find_above_program ("data/" SCHEMA ".svg");

  return icon != NULL ? g_path_get_dirname (icon) : NULL;
}

char *
ml_demo_path (void)
{
  const char *source = g_getenv ("METERLEAF_SOURCE");

  if (source != NULL)
    {
      g_autofree char *path = g_build_filename (source, "boards", DEMO, NULL);
      if (g_file_test (path, G_FILE_TEST_IS_REGULAR))
        return g_steal_pointer (&path);
    }
  g_autofree char *installed = find_above_program ("share/meterleaf/boards/" DEMO);
  return installed != NULL ? g_steal_pointer (&installed) : find_above_program ("boards/" DEMO);
}
