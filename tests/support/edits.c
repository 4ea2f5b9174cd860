/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/edits.h"

#include <string.h>

#include "support/near.h"

void
assert_text (MlText *text, GError **error, const char *expected)
{
  g_autoptr (GBytes) bytes = NULL;
  g_autofree char *found = NULL;

  if (text == NULL)
    print_error ("refused: %s\n", *error != NULL ? (*error)->message : "without an error");
  assert_non_null (text);
  bytes = ml_text_to_bytes (text);
  found = g_strndup (g_bytes_get_data (bytes, NULL), g_bytes_get_size (bytes));
  assert_string_equal (found, expected);
  ml_text_unref (text);
}

void
assert_refused (MlText *text, GError **error, const char *word)
{
  assert_null (text);
  assert_non_null (*error);
  assert_int_equal ((*error)->domain, ML_EDIT_ERROR);
  if (strstr ((*error)->message, word) == NULL)
    print_error ("'%s' does not say '%s'\n", (*error)->message, word);
  assert_non_null (strstr ((*error)->message, word));
  g_clear_error (error);
}
