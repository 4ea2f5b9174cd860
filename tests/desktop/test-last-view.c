/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was looked at last is kept by file, survives nonsense in its own file, and does not grow for ever. */
#include "support/near.h"

#include <glib/gstdio.h>

#include "desktop/last-view.h"

static char *folder;

static void
test_last_view_comes_back_by_file (void **state)
{
  MlLastView view = { (char *) "bay7", (char *) "asked", (char *) "both", { 12.5, { 3.25, -4.0 }, FALSE }, { 1.0, { 0, 0 }, TRUE } }, read;

  assert_false (ml_last_view_read ("/nowhere/ä b.leafjob", &read));
  ml_last_view_write ("/nowhere/ä b.leafjob", &view);
  ml_last_view_write ("/nowhere/other.leafjob", &(MlLastView){ .circuit = { .fitted = TRUE }, .picture = { .fitted = TRUE } });
  assert_true (ml_last_view_read ("/nowhere/../nowhere/ä b.leafjob", &read));
  assert_string_equal (read.unit, "bay7");
  assert_string_equal (read.condition, "asked");
  assert_string_equal (read.view, "both");
  assert_false (read.circuit.fitted);
  assert_near (read.circuit.zoom, 12.5, 0, 0);
  assert_near (read.circuit.middle.x, 3.25, 0, 0);
  assert_near (read.circuit.middle.y, -4.0, 0, 0);
  assert_true (read.picture.fitted);
  ml_last_view_clear (&read);
  assert_true (ml_last_view_read ("/nowhere/other.leafjob", &read));
  assert_null (read.unit);
  assert_true (read.circuit.fitted);
  ml_last_view_clear (&read);
}

static void
test_last_view_nonsense_is_the_whole_drawing (void **state)
{
  g_autofree char *file = g_build_filename (folder, "meterleaf", "last-views", NULL);
  g_autofree char *group = g_compute_checksum_for_string (G_CHECKSUM_SHA256, "/nowhere/x.leafjob", -1);
  g_autofree char *text = g_strdup_printf ("[%s]\ncircuit=nan;1;2\npicture=7\n", group);
  MlLastView read;

  assert_true (g_file_set_contents (file, text, -1, NULL));
  assert_true (ml_last_view_read ("/nowhere/x.leafjob", &read));
  assert_true (read.circuit.fitted && read.picture.fitted);
  ml_last_view_clear (&read);
  assert_true (g_file_set_contents (file, "\x01[no key file", -1, NULL));
  assert_false (ml_last_view_read ("/nowhere/x.leafjob", &read));
}

static void
test_last_view_the_oldest_are_forgotten (void **state)
{
  MlLastView view = { .circuit = { .fitted = TRUE }, .picture = { .fitted = TRUE } }, read;

  for (guint i = 0; i <= ML_LAST_VIEWS_MAX; i++)
    {
      g_autofree char *path = g_strdup_printf ("/nowhere/%u.leafjob", i);
      ml_last_view_write (path, &view);
    }
  assert_false (ml_last_view_read ("/nowhere/0.leafjob", &read));
  assert_true (ml_last_view_read ("/nowhere/1.leafjob", &read));
  ml_last_view_clear (&read);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_last_view_comes_back_by_file),
    cmocka_unit_test (test_last_view_nonsense_is_the_whole_drawing),
    cmocka_unit_test (test_last_view_the_oldest_are_forgotten),
  };

  folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  g_setenv ("XDG_STATE_HOME", folder, TRUE); /* before GLib looks at it for the first time */
  int failed = cmocka_run_group_tests (tests, NULL, NULL);
  g_autofree char *inner = g_build_filename (folder, "meterleaf", NULL), *file = g_build_filename (inner, "last-views", NULL);
  g_unlink (file);
  g_rmdir (inner);
  g_rmdir (folder);
  g_free (folder);
  return failed;
}
