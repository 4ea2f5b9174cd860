/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of parts: add, remove, rename, change kind, keys, place. */
#include "board/edit-private.h"

#include <string.h>

#include "board/board-private.h"

/* ---- the check behind every edit ---- */

MlText *
ml_board_edit_finish (const MlBoard *board, MlPatch *patch, GError **error)
{
  MlText *text = ml_patch_finish (patch);
  g_autoptr (MlDiagnostics) before = ml_diagnostics_new ();
  g_autoptr (MlDiagnostics) after = ml_diagnostics_new ();
  G_GNUC_UNUSED g_autoptr (MlBoard) changed = ml_board_read (text, after);
  g_autoptr (MlBoard) again = NULL;

  if (ml_diagnostics_n_errors (after) == 0)
    return text;
  again = ml_board_read (board->text, before);
  return ml_edit_accept (text, before, after, error);
}

void
ml_board_edit_drop_statement (MlPatch *patch, const MlText *text, const MlStatement *statement)
{
  guint end = ml_edit_end_at (text, statement->line + 1, !statement->indented);

  ml_patch_remove_lines (patch, statement->line, end - statement->line);
}

/* ---- add ---- */

static char *
free_name (const MlBoard *board, const char *letter)
{
  for (guint n = 1;; n++)
    {
      char *name = g_strdup_printf ("%s%u", letter, n);

      if (ml_board_find_part (board, name) < 0)
        return name;
      g_free (name);
    }
}

static gboolean
want_free_part_name (const MlBoard *board, const char *name, GError **error)
{
  if (!ml_edit_check_name (name, "part", error))
    return FALSE;
  if (ml_board_find_part (board, name) < 0)
    return TRUE;
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_NAME, "there is a part %s already", name);
  return FALSE;
}

/* pins: "left=1,2 right=3", or NULL. */
static char *
place_words (const char *part, const MlPlace *place, const char *pins)
{
  char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
  GString *words = g_string_new (NULL);

  g_ascii_formatd (x, sizeof x, "%.9g", place->x + 0.0); /* never "-0" */
  g_ascii_formatd (y, sizeof y, "%.9g", place->y + 0.0);
  g_string_append_printf (words, "place %s x=%s y=%s", part, x, y);
  if (place->turn != 0)
    g_string_append_printf (words, " turn=%d", 90 * place->turn);
  if (place->mirror)
    g_string_append (words, " mirror");
  if (pins != NULL && *pins != '\0')
    g_string_append_printf (words, " %s", pins);
  return g_string_free (words, FALSE);
}

MlText *
ml_board_edit_add_part (const MlBoard *board, const MlKindInfo *kind, const char *name, guint n_pins, const MlPlace *place, char **ret_name,
                        GError **error)
{
  g_autofree char *chosen = name != NULL ? g_strdup (name) : free_name (board, kind->letter);
  g_autoptr (GString) line = g_string_new (NULL);
  MlText *text;
  MlPatch *patch;

  if (!want_free_part_name (board, chosen, error))
    return NULL;
  patch = ml_patch_new (board->text);
  g_string_append_printf (line, "part %s %s", chosen, kind->word);
  for (guint i = 0; kind->any_pins && i < n_pins; i++)
    g_string_append_printf (line, " %u=-", i + 1);
  for (guint i = 0; kind->pins_also != NULL && n_pins == 2 && i < n_pins; i++)
    g_string_append_printf (line, " %s=-", kind->pins_also[i]);
  ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "part datasheet reference board meterleaf", 0), line->str);
  if (place != NULL)
    {
      g_autofree char *words = place_words (chosen, place, NULL);
      ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "place", ml_text_n_lines (board->text)), words);
    }
  text = ml_board_edit_finish (board, patch, error);
  if (text != NULL && ret_name != NULL)
    *ret_name = g_steal_pointer (&chosen);
  return text;
}

/* ---- remove ---- */

typedef struct
{
  MlPatch *patch;
  const MlBoard *board;
  const char *name;       /* of the part */
  GHashTable *nets;       /* names of nets that vanish */
  guint dropped;          /* line + 1 of the statement dropped last */
} Dropping;

static void
drop_of (Dropping *dropping, const MlMention *it)
{
  if (dropping->dropped == it->statement->line + 1)
    return;
  dropping->dropped = it->statement->line + 1;
  ml_board_edit_drop_statement (dropping->patch, dropping->board->text, it->statement);
}

static void
drop_net_mention (const MlMention *it, gpointer data)
{
  if (it->names == ML_NAMES_NET && !it->in_part && g_hash_table_contains (((Dropping *) data)->nets, it->name))
    drop_of (data, it);
}

void
ml_board_edit_drop_nets (MlPatch *patch, const MlBoard *board, GHashTable *nets)
{
  Dropping dropping = { patch, board, NULL, nets, 0 };

  if (g_hash_table_size (nets) > 0)
    ml_edit_mentions (board->text, FALSE, drop_net_mention, &dropping);
}

static void
drop_part_mention (const MlMention *it, gpointer data)
{
  Dropping *dropping = data;

  if (it->names != ML_NAMES_PART || strcmp (it->name, dropping->name) != 0)
    return;
  if (it->in_part)
    ml_patch_remove_word (dropping->patch, it->word);
  else
    drop_of (dropping, it);
}

/* Nets that are only on this part: they go with it. */
static GHashTable *
nets_only_on (const MlBoard *board, int part)
{
  GHashTable *nets = g_hash_table_new (g_str_hash, g_str_equal);
  g_autofree guint *pins_elsewhere = g_new0 (guint, board->n_nets + 1);

  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      if ((int) i != part && board->parts[i].pins[k].net >= 0)
        pins_elsewhere[board->parts[i].pins[k].net]++;
  for (guint k = 0; k < board->parts[part].n_pins; k++)
    {
      int net = board->parts[part].pins[k].net;
      if (net >= 0 && pins_elsewhere[net] == 0)
        g_hash_table_add (nets, board->nets[net].name);
    }
  return nets;
}

MlText *
ml_board_edit_remove_part (const MlBoard *board, int part, GError **error)
{
  g_autoptr (GHashTable) nets = nets_only_on (board, part);
  Dropping dropping = { ml_patch_new (board->text), board, board->parts[part].name, nets, 0 };

  ml_edit_mentions (board->text, FALSE, drop_part_mention, &dropping);
  ml_board_edit_drop_nets (dropping.patch, board, nets);
  return ml_board_edit_finish (board, dropping.patch, error);
}

MlText *
ml_board_edit_rename_part (const MlBoard *board, int part, const char *name, GError **error)
{
  MlPatch *patch;

  if (g_strcmp0 (board->parts[part].name, name) == 0)
    return ml_text_ref (board->text);
  if (!want_free_part_name (board, name, error))
    return NULL;
  patch = ml_patch_new (board->text);
  ml_edit_rename_all (patch, board->text, FALSE, ML_NAMES_PART, board->parts[part].name, name);
  return ml_board_edit_finish (board, patch, error);
}

/* ---- keys ---- */

static void
say_unknown_key (const MlPart *part, const char *key, GError **error)
{
  MlNearest nearest;
  g_autofree char *meant = NULL;

  ml_nearest_start (&nearest, key);
  for (guint i = 0; i < part->kind->n_keys; i++)
    ml_nearest_offer (&nearest, part->kind->keys[i].word);
  meant = ml_meant (&nearest);
  g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "%s has no %s%s", ml_kind_called (part->kind), key, meant);
}

MlText *
ml_board_edit_set_key (const MlBoard *board, int part, const char *key, const char *value, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, board->parts[part].line);
  const MlKeyInfo *info = ml_kind_key (board->parts[part].kind, key);
  const MlWord *word = info != NULL ? ml_edit_kind_key (statement, board->parts[part].kind, info) : NULL;
  MlPatch *patch;

  if (info == NULL)
    {
      say_unknown_key (&board->parts[part], key, error);
      return NULL;
    }
  if (value == NULL && word == NULL)
    return ml_text_ref (board->text);
  if (value != NULL && *value == '\0')
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "%s: a value is missing", key);
      return NULL;
    }
  patch = ml_patch_new (board->text);
  if (value == NULL)
    ml_patch_remove_word (patch, word);
  else if (word != NULL)
    ml_patch_replace_value (patch, word, value);
  else
    {
      g_autofree char *quoted = ml_word_quote (value);
      g_autofree char *whole = g_strconcat (key, "=", quoted, NULL);
      ml_patch_add_word (patch, &statement->words[statement->n_words - 1], whole);
    }
  return ml_board_edit_finish (board, patch, error);
}

/* ---- place ---- */

/* The `place` statement of each part, as line + 1; 0 where there is none. */
static guint *
place_lines (const MlBoard *board)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  g_autoptr (GHashTable) parts = g_hash_table_new (g_str_hash, g_str_equal);
  guint *lines = g_new0 (guint, board->n_parts + 1);
  const MlStatement *statement;

  for (guint i = 0; i < board->n_parts; i++)
    g_hash_table_insert (parts, board->parts[i].name, GUINT_TO_POINTER (i + 1));
  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (!statement->indented && ml_edit_is (statement, "place") && statement->n_words > 1)
      {
        guint part = GPOINTER_TO_UINT (g_hash_table_lookup (parts, statement->words[1].text));
        if (part > 0)
          lines[part - 1] = statement->line + 1;
      }
  return lines;
}

/* The words of one statement become others; what stands around them on the line (a comment) stays. */
static void
replace_words (MlPatch *patch, const MlText *text, guint line, const char *words)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, line);
  const MlWord *first = &statement->words[0], *last = &statement->words[statement->n_words - 1];

  if (first->line == last->line)
    {
      ml_patch_replace (patch, first->line, first->offset, last->offset + last->length - first->offset, words);
      return;
    }
  ml_patch_insert_line (patch, statement->line, words);
  ml_patch_remove_lines (patch, statement->line, statement->n_lines);
}

/* What a `place` statement says of single pins; new string, "" for nothing. */
static char *
pin_words (const MlText *text, guint line)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement = line > 0 ? ml_edit_statement_at (scanner, line) : NULL;
  GString *words = g_string_new (NULL);

  for (guint i = 2; statement != NULL && i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];
      if (word->key != NULL && (g_strv_contains (ml_edge_names, word->key) || g_str_has_prefix (word->key, ML_PIN_PREFIX)))
        g_string_append_printf (words, "%s%s=%s", words->len > 0 ? " " : "", word->key, word->text);
    }
  return g_string_free (words, FALSE);
}

MlText *
ml_board_edit_place (const MlBoard *board, const int *parts, const MlPlace *places, guint n, GError **error)
{
  return ml_board_edit_place_pins (board, parts, places, NULL, n, error);
}

MlText *
ml_board_edit_place_pins (const MlBoard *board, const int *parts, const MlPlace *places, const char *const *pins, guint n, GError **error)
{
  g_autofree guint *lines = place_lines (board);
  guint end = ml_edit_line_behind (board->text, "place", ml_text_n_lines (board->text));
  MlPatch *patch = ml_patch_new (board->text);

  for (guint i = 0; i < n; i++)
    {
      guint line = lines[parts[i]];
      g_autofree char *standing = pins == NULL || pins[i] == NULL ? pin_words (board->text, line) : NULL;
      g_autofree char *words = places != NULL ? place_words (board->parts[parts[i]].name, &places[i], standing != NULL ? standing : pins[i]) : NULL;

      if (words != NULL && line > 0)
        replace_words (patch, board->text, line, words);
      else if (words != NULL)
        ml_patch_insert_line (patch, end, words);
      else if (line > 0)
        ml_patch_remove_lines (patch, line - 1, ml_edit_end_at (board->text, line, FALSE) - (line - 1));
    }
  return ml_board_edit_finish (board, patch, error);
}
