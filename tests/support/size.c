/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/size.h"

gboolean
ml_test_is_small (void)
{
  const char *size = g_getenv ("METERLEAF_TEST_SIZE");

  if (size == NULL || g_str_equal (size, "full"))
    return FALSE;
  if (!g_str_equal (size, "small"))
    g_error ("METERLEAF_TEST_SIZE=%s: it is small or full", size);
  return TRUE;
}

guint
ml_test_size (guint full, guint small)
{
  return ml_test_is_small () ? small : full;
}
