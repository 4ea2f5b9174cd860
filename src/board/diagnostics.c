/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/diagnostics.h"

struct _MlDiagnostics
{
  GPtrArray *all; /* MlDiagnostic */
  guint n_errors;
};

static void
diagnostic_free (gpointer data)
{
  MlDiagnostic *diagnostic = data;

  g_free (diagnostic->file);
  g_free (diagnostic->message);
  g_free (diagnostic);
}

MlDiagnostics *
ml_diagnostics_new (void)
{
  MlDiagnostics *diagnostics = g_new0 (MlDiagnostics, 1);

  diagnostics->all = g_ptr_array_new_with_free_func (diagnostic_free);
  return diagnostics;
}

void
ml_diagnostics_free (MlDiagnostics *diagnostics)
{
  if (diagnostics == NULL)
    return;
  g_ptr_array_unref (diagnostics->all);
  g_free (diagnostics);
}

static void
take_message (MlDiagnostics *diagnostics, const char *file, guint line, guint column, MlSeverity severity, char *message)
{
  MlDiagnostic *diagnostic = g_new0 (MlDiagnostic, 1);

  *diagnostic = (MlDiagnostic) { g_strdup (file), line, column, severity, message };
  g_ptr_array_add (diagnostics->all, diagnostic);
}

void
ml_diagnostics_add (MlDiagnostics *diagnostics, const char *file, guint line, guint column, MlSeverity severity, const char *format, ...)
{
  va_list arguments;

  if (diagnostics == NULL)
    return;
  if (severity == ML_SEVERITY_ERROR)
    diagnostics->n_errors++;
  if (diagnostics->all->len > ML_DIAGNOSTICS_MAX)
    return;
  if (diagnostics->all->len == ML_DIAGNOSTICS_MAX)
    {
      take_message (diagnostics, file, line, 0, severity, g_strdup ("there are more messages; mend these first"));
      return;
    }
  va_start (arguments, format);
  take_message (diagnostics, file, line, column, severity, g_strdup_vprintf (format, arguments));
  va_end (arguments);
}

static int
compare_places (gconstpointer a, gconstpointer b)
{
  const MlDiagnostic *one = *(MlDiagnostic *const *) a, *other = *(MlDiagnostic *const *) b;
  int files = g_strcmp0 (one->file, other->file);

  if (files != 0)
    return files;
  if (one->line != other->line)
    return one->line < other->line ? -1 : 1;
  return one->column < other->column ? -1 : one->column > other->column;
}

/* The array's sort is a stable merge sort, so that messages of one place stay in the order they were said. */
void
ml_diagnostics_sort (MlDiagnostics *diagnostics)
{
  g_ptr_array_sort (diagnostics->all, compare_places);
}

gboolean
ml_diagnostics_is_full (const MlDiagnostics *diagnostics)
{
  return diagnostics == NULL || diagnostics->all->len > ML_DIAGNOSTICS_MAX;
}

guint
ml_diagnostics_n (const MlDiagnostics *diagnostics)
{
  return diagnostics->all->len;
}

guint
ml_diagnostics_n_errors (const MlDiagnostics *diagnostics)
{
  return diagnostics->n_errors;
}

const MlDiagnostic *
ml_diagnostics_get (const MlDiagnostics *diagnostics, guint i)
{
  return g_ptr_array_index (diagnostics->all, i);
}

char *
ml_diagnostic_to_string (const MlDiagnostic *diagnostic)
{
  static const char *const words[] = { "note", "warning", "error" };
  g_autoptr (GString) text = g_string_new (diagnostic->file);

  if (diagnostic->line > 0)
    g_string_append_printf (text, ":%u", diagnostic->line);
  if (diagnostic->line > 0 && diagnostic->column > 0)
    g_string_append_printf (text, ":%u", diagnostic->column);
  g_string_append_printf (text, ": %s: %s", words[diagnostic->severity], diagnostic->message);
  return g_strdup (text->str);
}
