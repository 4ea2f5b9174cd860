/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/assume.h"

#include "board/scan.h"
#include "meterleaf-data.h"

#include <math.h>
#include <string.h>

/* The table's own values by name; each line begins with both. */
static GHashTable *
usual_values (void)
{
  static GHashTable *table;
  static gsize once;

  if (g_once_init_enter (&once))
    {
      g_autoptr (GBytes) bytes = g_resource_lookup_data (ml_data_get_resource (), "/org/meterleaf/data/assumptions.table",
                                                         G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
      g_autofree char *text = bytes ? g_strndup (g_bytes_get_data (bytes, NULL), g_bytes_get_size (bytes)) : g_strdup ("");
      g_auto (GStrv) lines = g_strsplit (text, "\n", -1);

      table = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, g_free);
      for (guint i = 0; lines[i]; i++)
        {
          gsize length = strcspn (lines[i], " \t");
          double value = g_ascii_strtod (lines[i] + length, NULL);

          if (length && lines[i][0] != '#')
            g_hash_table_insert (table, g_strndup (lines[i], length), g_memdup2 (&value, sizeof value));
        }
      g_once_init_leave (&once, 1);
    }
  return table;
}

void
ml_assume_offer (MlNearest *nearest)
{
  g_autoptr (GList) names = g_list_sort (g_hash_table_get_keys (usual_values ()), (GCompareFunc) strcmp);

  for (const GList *link = names; link != NULL; link = link->next)
    ml_nearest_offer (nearest, link->data);
}

double
ml_assume_usual (const char *name)
{
  const double *value = g_hash_table_lookup (usual_values (), name);

  return value ? *value : NAN;
}

static gboolean
read_number (const char *text, double *ret)
{
  char *end;
  double value = g_ascii_strtod (text, &end);

  *ret = value;
  return end != text && *end == '\0' && isfinite (value) && value >= 0;
}

static gboolean
is_one_of (const char *name, const char *const *names)
{
  for (; *names; names++)
    if (g_str_has_prefix (name, *names))
      return TRUE;
  return FALSE;
}

/* Shares of one whole: above 1 they leave nothing for the rest. */
static gboolean
is_share (const char *name, double usual)
{
  static const char *const names[] = { "prior.", "misread.", "reading.mild", "reading.gross", "slip.", "misfit.flat", "misfit.healthy", "misfit.faults",
                                       "block.input", "block.output", "leak.none", "wrong-part.decade", "seen.miss", "good.", "gate.", NULL };

  return usual < 1 && is_one_of (name, names);
}

/* How many of something are looked at: work and memory grow with it. A grid has as many shares in the table as it has cells. */
static gboolean
is_count (const char *name)
{
  static const char *const names[] = { "refine.again", "refine.leaders", "refine.slip-leaders", "refine.most", "refine.steps", "refine.blunt-steps",
                                       "slip.weighed", "slip.refined", "pairs.seeds", "pairs.solved", "pairs.kept", "pairs.refined", "misread.leaders", NULL };

  return g_str_has_suffix (name, "-cells") || is_one_of (name, names);
}

static const char *
check_range (const char *name, double number, double usual)
{
  if (is_share (name, usual) && number > 0.9)
    return "a share of a whole: at most 0.9";
  if (g_str_has_prefix (name, "carried.") && usual <= 1 && number > 1)
    return "a correlation: at most 1";
  if (is_count (name) && !(number >= 1 && number <= (g_str_has_suffix (name, "-cells") ? usual : 10 * usual)))
    return g_str_has_suffix (name, "-cells") ? "how many: from 1 to the number in the table" : "how many: from 1 to ten times the number in the table";
  if (g_str_has_prefix (name, "prior.") && number <= 0)
    return "nothing is quite impossible: above 0";
  return number > 1e4 * MAX (usual, 1e-3) ? "far beyond the value in the table" : NULL;
}

const char *
ml_assume_check (const char *name, const char *value, gboolean *ret_name_wrong)
{
  double number, usual = ml_assume_usual (name);

  *ret_name_wrong = !isfinite (usual);
  if (*ret_name_wrong)
    return "there is no such assumption; the names stand in data/assumptions.table";
  if (!read_number (value, &number))
    return "expected a number that is not negative, as 0.3 or 1e-3";
  return check_range (name, number, usual);
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
