/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job whose board is not where it says: the board is pointed to, and nothing that was written meanwhile is lost. The texts compared are those put in. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "desktop/document.h"

/* A file of boards/ in folder, under that name. New string: its path. */
static char *
copy_of (const char *demo, const char *folder, const char *name)
{
  g_autofree char *from = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", demo, NULL), *bytes = NULL;
  char *to = g_build_filename (folder, name, NULL);
  gsize length = 0;

  assert_true (g_file_get_contents (from, &bytes, &length, NULL));
  assert_true (g_file_set_contents (to, bytes, (gssize) length, NULL));
  return to;
}

/* The job lies without its board; the board lies elsewhere by another name, and a reading was taken out of the job before it was found. */
static void
test_find_board_elsewhere_names_it_and_keeps_changes (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("leaf-find-XXXXXX", NULL), *journals = g_build_filename (folder, "journals", NULL);
  g_autofree char *job = copy_of ("dust-switch.leafjob", folder, "dust-switch.leafjob");
  g_autofree char *elsewhere = copy_of ("dust-switch.leafboard", folder, "found.leafboard");
  g_autofree char *not_there = g_build_filename (folder, "dust-switch.leafboard", NULL);
  g_autoptr (GError) error = NULL;
  MlDocument *document = ml_document_new (journals);

  assert_true (ml_document_open (document, job, NULL));
  assert_true (ml_document_lacks_board (document));
  assert_int_equal (ml_diagnostics_n (ml_document_diagnostics (document)), 1); /* what follows from it is not said as well */
  g_autoptr (MlText) noted = ml_text_ref (ml_document_job (document)->text);
  g_autoptr (GBytes) bytes = ml_text_to_bytes (noted);
  g_autofree char *more = g_strdup_printf ("%.*s# looked at\n", (int) g_bytes_get_size (bytes), (const char *) g_bytes_get_data (bytes, NULL));
  g_autoptr (MlText) changed = ml_text_new (ml_text_name (noted), more, -1);
  ml_document_apply (document, NULL, changed, "Note", NULL);

  assert_false (ml_document_find_board (document, job, &error)); /* a job is no board */
  assert_non_null (strstr (error->message, "is a job"));
  g_clear_error (&error);
  assert_false (ml_document_find_board (document, not_there, &error)); /* nothing is there any more */
  assert_true (ml_document_lacks_board (document));

  assert_true (ml_document_find_board (document, elsewhere, NULL));
  assert_false (ml_document_lacks_board (document));
  assert_int_equal (ml_diagnostics_n_errors (ml_document_diagnostics (document)), 0);
  assert_true (ml_document_board (document)->n_parts > 0);
  assert_string_equal (ml_document_board_path (document), elsewhere);
  assert_string_equal (ml_document_job (document)->board_file, "found.leafboard");
  assert_false (ml_document_is_saved (document));
  g_autoptr (GBytes) kept = ml_text_to_bytes (ml_document_job (document)->text);
  g_autofree char *text = g_strndup (g_bytes_get_data (kept, NULL), g_bytes_get_size (kept));
  assert_non_null (strstr (text, "# looked at\n"));
  assert_true (ml_document_save_board (document, NULL, FALSE, NULL));
  assert_true (ml_document_save_job (document, NULL, FALSE, NULL));
  assert_true (ml_document_open (document, job, NULL));
  assert_false (ml_document_lacks_board (document));
  g_object_add_weak_pointer (G_OBJECT (document), (gpointer *) &document);
  g_object_unref (document);
  assert_null (document);
  g_unlink (job);
  g_unlink (elsewhere);
  g_rmdir (journals);
  g_rmdir (folder);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_find_board_elsewhere_names_it_and_keeps_changes),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
