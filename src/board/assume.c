/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/assume.h"

#include "board/scan.h"
#include "meterleaf-data.h"

#include <math.h>
#include <string.h>

static gboolean
table_has (const char *name)
{
  g_autoptr (GBytes) bytes = g_resource_lookup_data (ml_data_get_resource (), "/org/meterleaf/data/assumptions.table",
                                                     G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  g_autofree char *text = bytes ? g_strndup (g_bytes_get_data (bytes, NULL), g_bytes_get_size (bytes)) : g_strdup ("");
  g_auto (GStrv) lines = g_strsplit (text, "\n", -1);
  gsize length = strlen (name);

  for (guint i = 0; lines[i]; i++)
    if (length && name[0] != '#' && strncmp (lines[i], name, length) == 0 && g_ascii_isspace (lines[i][length]))
      return TRUE;
  return FALSE;
}

static gboolean
read_number (const char *text, double *ret)
{
  char *end;
  double value = g_ascii_strtod (text, &end);

  *ret = value;
  return end != text && *end == '\0' && isfinite (value) && value >= 0;
}

/* Shares of one whole: above 1 they leave nothing for the rest. */
static gboolean
is_share (const char *name)
{
  return g_str_has_prefix (name, "prior.") || g_str_has_prefix (name, "misread.rate") || g_str_equal (name, "reading.mild")
         || g_str_equal (name, "reading.gross");
}

const char *
ml_assume_check (const char *name, const char *value, gboolean *ret_name_wrong)
{
  double number;

  *ret_name_wrong = !table_has (name);
  if (*ret_name_wrong)
    return "there is no such assumption; the names stand in data/assumptions.table";
  if (!read_number (value, &number))
    return "expected a number that is not negative, as 0.3 or 1e-3";
  return is_share (name) && number > 0.9 ? "a share of a whole: at most 0.9" : NULL;
}

GHashTable *
ml_board_assumptions (const MlBoard *board)
{
  GHashTable *table = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, g_free);
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement;
  gboolean name_wrong;

  while ((statement = ml_scanner_next (scanner)))
    {
      const MlWord *words = statement->words;
      double value;

      if (!statement->indented && !statement->broken && statement->n_words == 3 && !words[0].key && !words[0].quoted
          && strcmp (words[0].text, "assume") == 0 && !ml_assume_check (words[1].text, words[2].text, &name_wrong)
          && read_number (words[2].text, &value))
        g_hash_table_insert (table, g_strdup (words[1].text), g_memdup2 (&value, sizeof value));
    }
  return table;
}
