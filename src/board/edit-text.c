/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "board/edit-text.h"

#include <math.h>
#include <string.h>

#define NUMBER_SIZE 48

typedef enum { CHANGE_INSERT, CHANGE_REPLACE, CHANGE_REMOVE } ChangeKind;

typedef struct
{
  ChangeKind kind;
  guint line, offset, length;
  guint order; /* in which it was asked for */
  char *with;
} Change;

struct _MlPatch
{
  const MlText *text;
  GArray *changes; /* Change */
};

G_DEFINE_QUARK (ml-edit-error-quark, ml_edit_error)

static void
clear_change (gpointer data)
{
  g_free (((Change *) data)->with);
}

MlPatch *
ml_patch_new (const MlText *text)
{
  MlPatch *patch = g_new0 (MlPatch, 1);

  patch->text = text;
  patch->changes = g_array_new (FALSE, FALSE, sizeof (Change));
  g_array_set_clear_func (patch->changes, clear_change);
  return patch;
}

void
ml_patch_free (MlPatch *patch)
{
  g_array_unref (patch->changes);
  g_free (patch);
}

static void
add_change (MlPatch *patch, ChangeKind kind, guint line, guint offset, guint length, const char *with)
{
  Change change = { kind, line, offset, length, patch->changes->len, g_strdup (with) };

  g_array_append_val (patch->changes, change);
}

void
ml_patch_replace (MlPatch *patch, guint line, guint offset, guint length, const char *with)
{
  add_change (patch, CHANGE_REPLACE, line, offset, length, with);
}

void
ml_patch_replace_value (MlPatch *patch, const MlWord *word, const char *text)
{
  g_autofree char *quoted = word->quoted ? ml_text_quote (text) : ml_word_quote (text);

  ml_patch_replace (patch, word->line, word->text_offset, word->offset + word->length - word->text_offset, quoted);
}

void
ml_patch_remove_word (MlPatch *patch, const MlWord *word)
{
  const char *line = ml_text_line (patch->text, word->line, NULL);
  guint start = word->offset;

  while (start > 0 && (line[start - 1] == ' ' || line[start - 1] == '\t'))
    start--;
  ml_patch_replace (patch, word->line, start, word->offset + word->length - start, "");
}

void
ml_patch_add_word (MlPatch *patch, const MlWord *behind, const char *text)
{
  g_autofree char *spaced = g_strconcat (" ", text, NULL);

  ml_patch_replace (patch, behind->line, behind->offset + behind->length, 0, spaced);
}

void
ml_patch_remove_lines (MlPatch *patch, guint first, guint n)
{
  for (guint i = first; i < first + n; i++)
    add_change (patch, CHANGE_REMOVE, i, 0, 0, NULL);
}

void
ml_patch_insert_line (MlPatch *patch, guint line, const char *text)
{
  add_change (patch, CHANGE_INSERT, line, 0, 0, text);
}

static int
compare_changes (gconstpointer a, gconstpointer b)
{
  const Change *one = a, *other = b;

  if (one->line != other->line)
    return one->line < other->line ? -1 : 1;
  if (one->kind != other->kind)
    return one->kind < other->kind ? -1 : 1;
  if (one->offset != other->offset)
    return one->offset < other->offset ? -1 : 1;
  return one->order < other->order ? -1 : one->order > other->order;
}

/* One line and its changes, which are sorted; the inserted lines come first. */
static char *
changed_line (const MlText *text, guint line, const Change *changes, guint n)
{
  gsize length;
  const char *bytes = ml_text_line (text, line, &length);
  const char *ending = length >= 2 && bytes[length - 2] == '\r' ? "\r\n" : "\n";
  GString *out = g_string_new (NULL);
  gsize at = 0;
  gboolean removed = FALSE;

  for (guint i = 0; i < n; i++)
    if (changes[i].kind == CHANGE_INSERT)
      g_string_append_printf (out, "%s%s", changes[i].with, ending);
    else if (changes[i].kind == CHANGE_REMOVE)
      removed = TRUE;
  if (removed)
    return g_string_free (out, FALSE);
  for (guint i = 0; i < n; i++)
    if (changes[i].kind == CHANGE_REPLACE && changes[i].offset >= at)
      {
        g_string_append_len (out, bytes + at, (gssize) (changes[i].offset - at));
        g_string_append (out, changes[i].with);
        at = changes[i].offset + changes[i].length;
      }
  g_string_append_len (out, bytes + at, (gssize) (length - at));
  return g_string_free (out, FALSE);
}

static MlText *
append_lines (MlText *text, const Change *changes, guint n)
{
  g_autoptr (GPtrArray) lines = g_ptr_array_new ();

  for (guint i = 0; i < n; i++)
    g_ptr_array_add (lines, changes[i].with);
  g_ptr_array_add (lines, NULL);
  return ml_text_splice (text, ml_text_n_lines (text), 0, (const char *const *) lines->pdata);
}

MlText *
ml_patch_finish (MlPatch *patch)
{
  guint n_lines = ml_text_n_lines (patch->text), n = patch->changes->len, i = 0;
  g_autofree char **replaced = g_new0 (char *, n_lines + 1);
  g_autoptr (MlText) changed = NULL;
  MlText *result;

  g_array_sort (patch->changes, compare_changes);
  while (i < n && g_array_index (patch->changes, Change, i).line < n_lines)
    {
      const Change *first = &g_array_index (patch->changes, Change, i);
      guint same = 1;

      while (i + same < n && first[same].line == first->line)
        same++;
      replaced[first->line] = changed_line (patch->text, first->line, first, same);
      i += same;
    }
  changed = ml_text_replace_lines (patch->text, replaced);
  result = i < n ? append_lines (changed, &g_array_index (patch->changes, Change, i), n - i) : ml_text_ref (changed);
  for (guint k = 0; k < n_lines; k++)
    g_free (replaced[k]);
  ml_patch_free (patch);
  return result;
}

void
ml_patch_set_key (MlPatch *patch, const MlStatement *statement, const char *key, const char *value)
{
  const MlWord *word = ml_edit_key (statement, key);
  g_autofree char *quoted = value != NULL ? ml_word_quote (value) : NULL;
  g_autofree char *whole = value != NULL ? g_strconcat (key, "=", quoted, NULL) : NULL;

  if (word != NULL && value == NULL)
    ml_patch_remove_word (patch, word);
  else if (word != NULL && strcmp (word->text, value) != 0)
    ml_patch_replace_value (patch, word, value);
  else if (word == NULL && value != NULL)
    ml_patch_add_word (patch, &statement->words[statement->n_words - 1], whole);
}

void
ml_patch_set_number (MlPatch *patch, const MlStatement *statement, const char *key, double value, gboolean same)
{
  char text[NUMBER_SIZE];

  if (same)
    return;
  ml_quantity_format_file (value, text, sizeof text);
  ml_patch_set_key (patch, statement, key, isnan (value) ? NULL : text);
}

/* ---- finding places ---- */

const MlStatement *
ml_edit_statement_at (MlScanner *scanner, guint line)
{
  ml_scanner_seek (scanner, line - 1);
  return ml_scanner_next (scanner);
}

guint
ml_edit_end_at (const MlText *text, guint line, gboolean with_below)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, line);
  guint end = statement->line + statement->n_lines;

  while (with_below && (statement = ml_scanner_next (scanner)) != NULL && statement->indented)
    end = statement->line + statement->n_lines;
  return end;
}

guint
ml_edit_line_behind (const MlText *text, const char *words, guint otherwise)
{
  g_auto (GStrv) wanted = g_strsplit (words, " ", -1);
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement;
  guint best = g_strv_length (wanted), end = otherwise;
  gboolean below = FALSE;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    {
      guint rank = 0;

      if (statement->indented)
        {
          end = below ? statement->line + statement->n_lines : end;
          continue;
        }
      while (wanted[rank] != NULL && !ml_edit_is (statement, wanted[rank]))
        rank++;
      below = wanted[rank] != NULL && rank <= best;
      if (below)
        {
          best = rank;
          end = statement->line + statement->n_lines;
        }
    }
  return end;
}

char *
ml_edit_indent (const MlText *text, guint line)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement;
  const char *bytes;

  ml_edit_statement_at (scanner, line);
  statement = ml_scanner_next (scanner);
  if (statement == NULL || !statement->indented)
    return g_strdup ("  ");
  bytes = ml_text_line (text, statement->line, NULL);
  return g_strndup (bytes, strspn (bytes, " \t"));
}

const MlWord *
ml_edit_key (const MlStatement *statement, const char *key)
{
  for (guint i = 1; i < statement->n_words; i++)
    if (g_strcmp0 (statement->words[i].key, key) == 0)
      return &statement->words[i];
  return NULL;
}

const MlWord *
ml_edit_kind_key (const MlStatement *statement, const MlKindInfo *kind, const MlKeyInfo *info)
{
  for (guint i = 1; i < statement->n_words; i++)
    if (statement->words[i].key != NULL && ml_kind_key (kind, statement->words[i].key) == info)
      return &statement->words[i];
  return NULL;
}

gboolean
ml_edit_is (const MlStatement *statement, const char *word)
{
  return !statement->broken && statement->n_words > 0 && statement->words[0].key == NULL && strcmp (statement->words[0].text, word) == 0;
}

gboolean
ml_edit_check_name (const char *name, const char *what, GError **error)
{
  const char *wrong = name != NULL ? ml_name_check (name) : "a name is missing";

  if (wrong != NULL)
    g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_NAME, "'%s' cannot be the name of a %s: %s", name != NULL ? name : "", what, wrong);
  return wrong == NULL;
}

/* ---- judging the result ---- */

static gboolean
was_said (const MlDiagnostics *diagnostics, const char *message)
{
  for (guint i = 0; i < ml_diagnostics_n (diagnostics); i++)
    if (strcmp (ml_diagnostics_get (diagnostics, i)->message, message) == 0)
      return TRUE;
  return FALSE;
}

static const char *
new_error (const MlDiagnostics *before, const MlDiagnostics *after)
{
  for (guint i = 0; i < ml_diagnostics_n (after); i++)
    {
      const MlDiagnostic *one = ml_diagnostics_get (after, i);

      if (one->severity == ML_SEVERITY_ERROR && !was_said (before, one->message))
        return one->message;
    }
  return "the file would be in error";
}

MlText *
ml_edit_accept (MlText *text, const MlDiagnostics *before, const MlDiagnostics *after, GError **error)
{
  if (ml_diagnostics_n_errors (after) <= ml_diagnostics_n_errors (before))
    return text;
  g_set_error_literal (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, new_error (before, after));
  ml_text_unref (text);
  return NULL;
}
