/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Texts survive byte for byte; expected values follow from the definition of a splice. */
#include "support/near.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <string.h>

#include "board/board.h"
#include "board/text.h"

static void
assert_bytes (const MlText *text, const char *expected, gsize length)
{
  g_autoptr (GBytes) bytes = ml_text_to_bytes (text);

  assert_int_equal (g_bytes_get_size (bytes), length);
  if (length > 0)
    assert_memory_equal (g_bytes_get_data (bytes, NULL), expected, length);
}

static void
test_any_bytes_survive (void **state)
{
  static const struct { const char *bytes; gsize length; guint n_lines; } table[] = {
    { "", 0, 0 }, { "\n", 1, 1 }, { "a", 1, 1 }, { "a\n", 2, 1 }, { "a\nb", 3, 2 }, { "a\r\n\r\nb\r\n", 8, 3 }, { "\xef\xbb\xbf#\n", 5, 1 },
    { "x\0y\n\0", 5, 2 }, { "\xff\xfe\n", 3, 1 }, { "\r\r", 2, 1 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlText) text = ml_text_new ("name", table[i].bytes, (gssize) table[i].length);
      assert_int_equal (ml_text_n_lines (text), table[i].n_lines);
      assert_bytes (text, table[i].bytes, table[i].length);
      assert_string_equal (ml_text_name (text), "name");
    }
}

static void
test_splice_shares_what_it_does_not_touch (void **state)
{
  g_autoptr (MlText) text = ml_text_new ("t", "a\nb\nc\n", -1);
  const char *lines[] = { "x", "y\n", NULL };
  g_autoptr (MlText) spliced = ml_text_splice (text, 1, 1, lines);

  assert_bytes (spliced, "a\nx\ny\nc\n", 8);
  assert_ptr_equal (ml_text_line (spliced, 0, NULL), ml_text_line (text, 0, NULL));
  assert_ptr_equal (ml_text_line (spliced, 3, NULL), ml_text_line (text, 2, NULL));
  assert_bytes (text, "a\nb\nc\n", 6);
}

static void
test_splice_takes_the_files_own_ending (void **state)
{
  const char *lines[] = { "x", NULL };
  g_autoptr (MlText) crlf = ml_text_new ("t", "a\r\nb", -1);
  g_autoptr (MlText) end = ml_text_splice (crlf, 2, 0, lines);
  g_autoptr (MlText) beyond = ml_text_splice (crlf, 99, 99, lines);
  g_autoptr (MlText) removed = ml_text_splice (crlf, 0, 2, NULL);

  assert_bytes (end, "a\r\nb\r\nx\r\n", 9);
  assert_true (ml_text_equal (end, beyond));
  assert_int_equal (ml_text_n_lines (removed), 0);
}

/* difference and splice are each other's inverse, for all pairs of these texts. */
static void
test_difference_is_the_splice_between_two_texts (void **state)
{
  static const char *const bytes[] = { "", "a\n", "a\nb\nc\n", "a\nc\n", "x\na\nb\nc\n", "a\nb\nc\nc\n", "b\n", "a\r\nb\r\n", "c\nb\na\n" };

  for (guint i = 0; i < G_N_ELEMENTS (bytes); i++)
    for (guint k = 0; k < G_N_ELEMENTS (bytes); k++)
      {
        g_autoptr (MlText) a = ml_text_new ("a", bytes[i], -1);
        g_autoptr (MlText) b = ml_text_new ("b", bytes[k], -1);
        g_autoptr (MlText) again = NULL;
        g_auto (GStrv) inserted = NULL;
        guint first, removed;

        ml_text_difference (a, b, &first, &removed, &inserted);
        again = ml_text_splice (a, first, removed, (const char *const *) inserted);
        assert_true (ml_text_equal (again, b));
        if (i == k)
          assert_int_equal (removed + g_strv_length (inserted), 0);
      }
}

static void
test_load_says_what_is_wrong (void **state)
{
  g_autofree char *folder = g_dir_make_tmp ("meterleaf-text-XXXXXX", NULL);
  g_autofree char *path = g_build_filename (folder, "huge", NULL);
  g_autofree char *huge = g_malloc0 (ML_TEXT_MAX_BYTES + 1);
  g_autoptr (GError) error = NULL;
  MlText *text;

  assert_null (ml_text_load (path, &error));
  assert_non_null (strstr (error->message, "huge"));
  g_clear_error (&error);
  assert_null (ml_text_load (folder, &error));
  assert_non_null (strstr (error->message, "folder"));
  g_clear_error (&error);
  assert_null (ml_text_load ("/dev/zero", &error)); /* a device without an end */
  assert_non_null (error);
  g_clear_error (&error);
  assert_true (g_file_set_contents (path, huge, ML_TEXT_MAX_BYTES + 1, NULL));
  assert_null (ml_text_load (path, &error));
  assert_non_null (strstr (error->message, "larger than 8 MiB"));
  assert_true (g_file_set_contents (path, huge, ML_TEXT_MAX_BYTES, NULL));
  text = ml_text_load (path, NULL);
  assert_non_null (text);
  ml_text_unref (text);
  g_unlink (path);
  g_rmdir (folder);
}

/* ---- what is computed anew ---- */

static MlBoard *
board_of (const char *text)
{
  g_autoptr (MlText) lines = ml_text_new ("test", text, -1);

  return ml_board_read (lines, NULL);
}

/* Places and pictures say where things are, all other statements what the circuit is. */
static void
test_the_same_circuit_elsewhere_on_the_sheet (void **state)
{
  static const char old[] = "board \"Sander\"\npart R1 resistor 1=A 2=B\nplace R1 x=1 y=2\npicture \"a.png\"\n  pad R1.1 x=3 y=4\nnear A B\n";
  static const struct { const char *text; gboolean circuit, pictures; } cases[] = {
    { "board \"Sander\"\npart R1 resistor 1=A 2=B\nplace R1 x=1 y=2\npicture \"a.png\"\n  pad R1.1 x=3 y=4\nnear A B\n", TRUE, TRUE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=B\nplace R1 x=9 \\\n  y=2 turn=90\npicture \"a.png\"\n  pad R1.1 x=3 y=4\nnear A B\n", TRUE, TRUE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=B\npicture \"a.png\"\n  pad R1.1 x=3 y=4\nnear A B\n", TRUE, TRUE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=B\nplace R1 x=1 y=2\npicture \"a.png\"\n  pad R1.1 x=3 y=5\nnear A B\n", TRUE, FALSE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=B\nplace R1 x=1 y=2\nnear A B\n", TRUE, FALSE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=C\nplace R1 x=1 y=2\npicture \"a.png\"\n  pad R1.1 x=3 y=4\nnear A B\n", FALSE, TRUE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=B\nplace R1 x=1 y=2\npicture \"a.png\"\n  pad R1.1 x=3 y=4\n", FALSE, TRUE },
    { "board \"Sander\"\npart R1 resistor 1=A 2=B \\\n  value=1k\nplace R1 x=1 y=2\npicture \"a.png\"\n  pad R1.1 x=3 y=4\nnear A B\n", FALSE, TRUE },
  };
  g_autoptr (MlBoard) before = board_of (old);

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      g_autoptr (MlBoard) after = board_of (cases[i].text);

      if (ml_board_same_circuit (before, after) != cases[i].circuit || ml_board_same_pictures (before, after) != cases[i].pictures)
        fail_msg ("case %u", i);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_the_same_circuit_elsewhere_on_the_sheet),
    cmocka_unit_test (test_any_bytes_survive),
    cmocka_unit_test (test_splice_shares_what_it_does_not_touch),
    cmocka_unit_test (test_splice_takes_the_files_own_ending),
    cmocka_unit_test (test_difference_is_the_splice_between_two_texts),
    cmocka_unit_test (test_load_says_what_is_wrong),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
