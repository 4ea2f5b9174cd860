/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/errors-text.h"

static void
append_count (GString *text, guint n, const char *word)
{
  if (n > 0)
    g_string_append_printf (text, "%s%u %s%s", text->len > 0 ? " and " : "", n, word, n == 1 ? "" : "s");
}

char *
ml_errors_summary (const MlDiagnostics *diagnostics)
{
  guint n[3] = { 0 };
  const char *file = NULL;
  gboolean one_file = TRUE;

  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    {
      const MlDiagnostic *diagnostic = ml_diagnostics_get (diagnostics, i);
      n[diagnostic->severity]++;
      if (diagnostic->severity == ML_SEVERITY_NOTE)
        continue;
      one_file = one_file && (file == NULL || g_strcmp0 (file, diagnostic->file) == 0);
      file = diagnostic->file;
    }
  if (n[ML_SEVERITY_ERROR] + n[ML_SEVERITY_WARNING] == 0)
    return NULL;
  GString *text = g_string_new (NULL);
  append_count (text, n[ML_SEVERITY_ERROR], "error");
  append_count (text, n[ML_SEVERITY_WARNING], "warning");
  if (one_file && file != NULL)
    {
      g_autofree char *base = *file != '\0' ? g_filename_display_basename (file) : g_strdup ("what is not saved yet");
      g_string_append_printf (text, " in %s", base);
    }
  return g_string_free (text, FALSE);
}
