/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/said.h"

#include <string.h>

static gboolean
is_name (const MlBoard *board, const char *word)
{
  return board != NULL && (ml_board_find_part (board, word) >= 0 || ml_board_find_net (board, word) >= 0 || ml_board_find_condition (board, word) >= 0);
}

/* A file, a value and a part's usual name have more than letters in them. */
char *
ml_said (const MlBoard *board, const char *text)
{
  gsize length = strspn (text, "abcdefghijklmnopqrstuvwxyz");
  g_autofree char *word = g_strndup (text, length);
  char *said = g_strdup (text);

  if (length > 0 && strchr (" ,:;’'", text[length]) != NULL && !is_name (board, word))
    said[0] = g_ascii_toupper (said[0]);
  return said;
}
