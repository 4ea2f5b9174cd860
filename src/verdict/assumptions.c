/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/assumptions.h"

#include "meterleaf-data.h"

#include <math.h>
#include <string.h>

/* "name value "source"": fields of one line, or FALSE. The source is demanded so that no figure slips in without one. */
static gboolean
read_line (const char *line, char **ret_name, double *ret_value)
{
  g_auto (GStrv) words = NULL;
  char *end;
  double value;

  if (!g_shell_parse_argv (line, NULL, &words, NULL) || g_strv_length (words) != 3 || !*words[2])
    return FALSE;
  value = g_ascii_strtod (words[1], &end);
  if (end == words[1] || *end || !isfinite (value))
    return FALSE;
  *ret_name = g_strdup (words[0]);
  *ret_value = value;
  return TRUE;
}

GHashTable *
ml_assumptions_read (const char *text, GError **error)
{
  g_autoptr (GHashTable) table = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, g_free);
  g_auto (GStrv) lines = g_strsplit (text, "\n", -1);

  for (guint i = 0; lines[i]; i++)
    {
      char *name;
      double value;
      char *line = g_strstrip (lines[i]);

      if (!*line || *line == '#')
        continue;
      if (!read_line (line, &name, &value))
        {
          g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "line %u: expected: name value \"source\"", i + 1);
          return NULL;
        }
      if (!g_hash_table_insert (table, name, g_memdup2 (&value, sizeof value)))
        {
          g_set_error (error, G_FILE_ERROR, G_FILE_ERROR_INVAL, "line %u: the name stands in the table twice", i + 1);
          return NULL;
        }
    }
  return g_steal_pointer (&table);
}

static GHashTable *
assumptions (void)
{
  static GHashTable *table;
  static gsize once;

  if (g_once_init_enter (&once))
    {
      g_autoptr (GError) error = NULL;
      g_autoptr (GBytes) bytes = g_resource_lookup_data (ml_data_get_resource (), "/org/meterleaf/data/assumptions.table",
                                                         G_RESOURCE_LOOKUP_FLAGS_NONE, &error);
      if (bytes)
        {
          g_autofree char *text = g_strndup (g_bytes_get_data (bytes, NULL), g_bytes_get_size (bytes));
          table = ml_assumptions_read (text, &error);
        }
      if (!table)
        g_error ("data/assumptions.table: %s", error->message);
      g_once_init_leave (&once, 1);
    }
  return table;
}

/* What the board at hand assumes in its own way; of this thread, since several boards may be judged side by side. */
static GPrivate in_use;

GHashTable *
ml_assumptions_use (GHashTable *own)
{
  GHashTable *before = g_private_get (&in_use);

  g_private_set (&in_use, own);
  return before;
}

static const double *
find (const char *name)
{
  GHashTable *own = g_private_get (&in_use);
  const double *value = own ? g_hash_table_lookup (own, name) : NULL;

  return value ? value : g_hash_table_lookup (assumptions (), name);
}

double
ml_assumption_usual (const char *name)
{
  const double *value = g_hash_table_lookup (assumptions (), name);

  return value ? *value : NAN;
}

double
ml_assumption (const char *name)
{
  const double *value = find (name);

  if (!value)
    g_error ("data/assumptions.table has no line \"%s\"", name);
  return *value;
}

double
ml_assumption_weight (MlKind kind, MlFaultKind fault)
{
  g_autofree char *own = g_strdup_printf ("weight.%s.%s", ml_kind_info (kind)->word, ml_fault_word (fault));
  g_autofree char *common = g_strdup_printf ("weight.%s", ml_fault_word (fault));
  const double *value = find (own);

  if (!value)
    value = find (common);
  return value ? *value : 0;
}

double
ml_assumption_carried (MlKind kind, const char *parameter, double usual)
{
  g_autofree char *name = g_strdup_printf ("carried.%s.%s", ml_kind_info (kind)->word, parameter);
  const double *value = find (name);

  return value ? *value : usual;
}
