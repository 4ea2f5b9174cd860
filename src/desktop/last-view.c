/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/last-view.h"

#include <gio/gio.h>
#include <math.h>

/* One group a file, named by the checksum of its path. */

static char *
file_of_views (void)
{
  return g_build_filename (g_get_user_state_dir (), "meterleaf", "last-views", NULL);
}

static GKeyFile *
load (void)
{
  g_autofree char *path = file_of_views ();
  GKeyFile *views = g_key_file_new ();

  g_key_file_load_from_file (views, path, G_KEY_FILE_NONE, NULL);
  return views;
}

static char *
group_of (const char *path)
{
  g_autofree char *absolute = g_canonicalize_filename (path, NULL);

  return g_compute_checksum_for_string (G_CHECKSUM_SHA256, absolute, -1);
}

static MlLook
read_look (GKeyFile *views, const char *group, const char *key)
{
  const MlLook whole = { ML_VIEWPORT_FIT_ZOOM, { 0.0, 0.0 }, TRUE };
  gsize n = 0;
  g_autofree double *numbers = g_key_file_get_double_list (views, group, key, &n, NULL);

  if (numbers == NULL || n != 3 || !isfinite (numbers[0]) || !isfinite (numbers[1]) || !isfinite (numbers[2]) || numbers[0] <= 0.0)
    return whole;
  return (MlLook){ numbers[0], { numbers[1], numbers[2] }, FALSE };
}

static void
write_look (GKeyFile *views, const char *group, const char *key, const MlLook *look)
{
  double numbers[] = { look->zoom, look->middle.x, look->middle.y };

  if (look->fitted)
    g_key_file_remove_key (views, group, key, NULL);
  else
    g_key_file_set_double_list (views, group, key, numbers, G_N_ELEMENTS (numbers));
}

static void
write_word (GKeyFile *views, const char *group, const char *key, const char *word)
{
  if (word != NULL)
    g_key_file_set_string (views, group, key, word);
  else
    g_key_file_remove_key (views, group, key, NULL);
}

/* The one that was looked at longest ago goes. */
static void
forget_oldest (GKeyFile *views)
{
  gsize n = 0;
  g_auto (GStrv) groups = g_key_file_get_groups (views, &n);
  const char *oldest = NULL;
  gint64 least = G_MAXINT64;

  if (n <= ML_LAST_VIEWS_MAX)
    return;
  for (char **group = groups; *group != NULL; group++)
    {
      gint64 when = g_key_file_get_int64 (views, *group, "when", NULL);
      if (when < least)
        {
          least = when;
          oldest = *group;
        }
    }
  if (oldest != NULL)
    g_key_file_remove_group (views, oldest, NULL);
}

gboolean
ml_last_view_read (const char *path, MlLastView *ret_view)
{
  g_autoptr (GKeyFile) views = load ();
  g_autofree char *group = group_of (path);

  if (!g_key_file_has_group (views, group))
    return FALSE;
  *ret_view = (MlLastView){ .unit = g_key_file_get_string (views, group, "unit", NULL),
                            .condition = g_key_file_get_string (views, group, "condition", NULL),
                            .view = g_key_file_get_string (views, group, "view", NULL),
                            .circuit = read_look (views, group, "circuit"),
                            .picture = read_look (views, group, "picture") };
  return TRUE;
}

void
ml_last_view_write (const char *path, const MlLastView *view)
{
  g_autoptr (GKeyFile) views = load ();
  g_autofree char *group = group_of (path), *file = file_of_views (), *folder = g_path_get_dirname (file);

  write_word (views, group, "unit", view->unit);
  write_word (views, group, "condition", view->condition);
  write_word (views, group, "view", view->view);
  write_look (views, group, "circuit", &view->circuit);
  write_look (views, group, "picture", &view->picture);
  g_key_file_set_int64 (views, group, "when", g_get_real_time ());
  forget_oldest (views);
  g_mkdir_with_parents (folder, 0700);
  g_key_file_save_to_file (views, file, NULL);
}

void
ml_last_view_clear (MlLastView *view)
{
  g_clear_pointer (&view->unit, g_free);
  g_clear_pointer (&view->condition, g_free);
  g_clear_pointer (&view->view, g_free);
}
