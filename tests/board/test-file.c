/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Saving: what the file system shows afterwards is the check. SHA-256 of "abc": FIPS 180-2, appendix B.1. */
#include "support/near.h"

#include <glib/gstdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "board/file.h"

static char *folder;

static char *
in_folder (const char *name)
{
  return g_build_filename (folder, name, NULL);
}

static void
save (const char *path, const char *text)
{
  g_autoptr (GBytes) bytes = g_bytes_new (text, strlen (text));
  g_autoptr (GError) error = NULL;

  assert_true (ml_file_save (path, bytes, NULL, &error));
  assert_null (error);
}

static void
assert_content (const char *path, const char *expected)
{
  g_autofree char *content = NULL;

  assert_true (g_file_get_contents (path, &content, NULL, NULL));
  assert_string_equal (content, expected);
}

static guint
n_files (void)
{
  g_autoptr (GDir) dir = g_dir_open (folder, 0, NULL);
  guint n = 0;

  while (g_dir_read_name (dir) != NULL)
    n++;
  return n;
}

static void
test_fingerprint_is_sha256 (void **state)
{
  g_autofree char *path = in_folder ("abc");
  g_autofree char *missing = in_folder ("missing");
  g_autofree char *fingerprint = NULL;

  save (path, "abc");
  fingerprint = ml_file_fingerprint (path);
  assert_string_equal (fingerprint, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  assert_null (ml_file_fingerprint (missing));
  g_unlink (path);
}

static void
test_save_replaces_and_leaves_no_litter (void **state)
{
  g_autofree char *path = in_folder ("a.leafboard");

  save (path, "one");
  save (path, "two, longer");
  save (path, "");
  assert_content (path, "");
  assert_int_equal (n_files (), 1);
  g_unlink (path);
}

static void
test_save_keeps_mode_and_symbolic_link (void **state)
{
  g_autofree char *path = in_folder ("real");
  g_autofree char *link_path = in_folder ("link");
  struct stat status;

  save (path, "one");
  assert_int_equal (chmod (path, 0640), 0);
  assert_int_equal (symlink ("real", link_path), 0);
  save (link_path, "two");
  assert_int_equal (lstat (link_path, &status), 0);
  assert_true (S_ISLNK (status.st_mode));
  assert_int_equal (stat (path, &status), 0);
  assert_int_equal (status.st_mode & 07777, 0640);
  assert_content (path, "two");
  g_unlink (path);
  save (link_path, "three"); /* a link to nothing: the file is made where it leads */
  assert_content (path, "three");
  g_unlink (path);
  g_unlink (link_path);
}

static void
test_save_refuses_what_someone_else_changed (void **state)
{
  g_autofree char *path = in_folder ("shared");
  g_autoptr (GBytes) bytes = g_bytes_new ("mine", 4);
  g_autofree char *read_as = NULL;
  g_autoptr (GError) error = NULL;

  save (path, "first");
  read_as = ml_file_fingerprint (path);
  assert_true (ml_file_save (path, bytes, read_as, NULL));
  assert_content (path, "mine");
  assert_false (ml_file_save (path, bytes, read_as, &error));
  assert_true (g_error_matches (error, ML_FILE_ERROR, ML_FILE_ERROR_CHANGED));
  g_clear_error (&error);
  g_unlink (path);
  assert_false (ml_file_save (path, bytes, read_as, &error));
  assert_true (g_error_matches (error, ML_FILE_ERROR, ML_FILE_ERROR_CHANGED));
  assert_int_equal (n_files (), 0);
}

static void
test_save_fails_whole (void **state)
{
  g_autofree char *inside = in_folder ("no-such-folder/file");
  g_autoptr (GBytes) bytes = g_bytes_new ("x", 1);
  g_autoptr (GError) error = NULL;

  assert_false (ml_file_save (inside, bytes, NULL, &error));
  assert_non_null (strstr (error->message, inside));
  g_clear_error (&error);
  assert_false (ml_file_save (folder, bytes, NULL, &error)); /* a folder cannot be replaced by a file */
  assert_non_null (error);
  assert_int_equal (n_files (), 0);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_fingerprint_is_sha256),
    cmocka_unit_test (test_save_replaces_and_leaves_no_litter),
    cmocka_unit_test (test_save_keeps_mode_and_symbolic_link),
    cmocka_unit_test (test_save_refuses_what_someone_else_changed),
    cmocka_unit_test (test_save_fails_whole),
  };
  int failed;

  folder = g_dir_make_tmp ("meterleaf-file-XXXXXX", NULL);
  failed = cmocka_run_group_tests (tests, NULL, NULL);
  g_rmdir (folder);
  g_free (folder);
  return failed;
}
