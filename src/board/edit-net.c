/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of pins and nets, and of the statements about the board as a whole. */
#include "board/edit-private.h"

#include <string.h>

static gboolean
is_pin_word (const MlWord *word, const MlPart *part, const char *name)
{
  if (word->key == NULL)
    return FALSE;
  if (g_str_has_prefix (word->key, ML_PIN_PREFIX))
    return strcmp (word->key + strlen (ML_PIN_PREFIX), name) == 0;
  return strcmp (word->key, name) == 0 && ml_kind_key (part->kind, word->key) == NULL;
}

static const MlWord *
find_pin_word (const MlStatement *statement, const MlPart *part, int pin)
{
  for (guint i = 3; pin >= 0 && i < statement->n_words; i++)
    if (is_pin_word (&statement->words[i], part, part->pins[pin].name))
      return &statement->words[i];
  return NULL;
}

void
ml_board_edit_set_pin (MlPatch *patch, const MlStatement *statement, const MlPart *part, int pin, const char *net)
{
  const MlWord *word = find_pin_word (statement, part, pin), *behind = NULL;
  g_autofree char *whole = NULL;

  if (word != NULL)
    {
      ml_patch_replace_value (patch, word, net);
      return;
    }
  /* In the order of the kind's pins: behind the nearest one before it. */
  for (int before = pin - 1; behind == NULL && before >= 0; before--)
    behind = find_pin_word (statement, part, before);
  whole = g_strdup_printf ("%s=%s", part->pins[pin].name, net);
  ml_patch_add_word (patch, behind != NULL ? behind : &statement->words[2], whole);
}

static void
patch_pin (MlPatch *patch, const MlBoard *board, int part, int pin, const char *net)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);

  ml_board_edit_set_pin (patch, ml_edit_statement_at (scanner, board->parts[part].line), &board->parts[part], pin, net);
}

/* ---- join ---- */

static char *
free_net_name (const MlBoard *board)
{
  g_autoptr (GHashTable) taken = g_hash_table_new (g_str_hash, g_str_equal);

  for (guint i = 0; i < board->n_nets; i++)
    g_hash_table_add (taken, board->nets[i].name);
  for (guint n = 1;; n++)
    {
      char *name = g_strdup_printf ("N%u", n);

      if (!g_hash_table_contains (taken, name))
        return name;
      g_free (name);
    }
}

/* Which of two nets gives its name to both: the reference, then one a person named, then the one with a statement, then the first. */
static gboolean
second_wins (const MlBoard *board, int a, int b)
{
  const MlNet *first = &board->nets[a], *second = &board->nets[b];

  if ((board->reference == a) != (board->reference == b))
    return board->reference == b;
  if (first->generated != second->generated)
    return first->generated;
  return first->line == 0 && second->line > 0;
}

typedef struct
{
  MlPatch *patch;
  const MlBoard *board;
  const char *from, *to;
  guint line;  /* of the statement that names `from` or `to` already, + 1 */
} Merging;

/* What can be said of a net only once, and is said of the one that stays: `net` and `prefer`. */
static gboolean
is_said_of_both (const Merging *merging, const MlMention *it)
{
  const MlNet *stays = &merging->board->nets[ml_board_find_net (merging->board, merging->to)];

  if (it->in_part)
    return FALSE;
  return (ml_edit_is (it->statement, "net") && stays->line > 0) || (ml_edit_is (it->statement, "prefer") && stays->prefer != 0);
}

/* `near` and `connect` of the two nets: both ends are one now, the statement says nothing any more. */
static gboolean
closes_a_pair (const Merging *merging, const MlMention *it)
{
  return merging->line == it->statement->line + 1 && (ml_edit_is (it->statement, "near") || ml_edit_is (it->statement, "connect"));
}

static void
merge_mention (const MlMention *it, gpointer data)
{
  Merging *merging = data;
  gboolean from = strcmp (it->name, merging->from) == 0;

  if (it->names != ML_NAMES_NET || (!from && strcmp (it->name, merging->to) != 0))
    return;
  if (closes_a_pair (merging, it) || (from && is_said_of_both (merging, it)))
    ml_board_edit_drop_statement (merging->patch, merging->board->text, it->statement);
  else if (from)
    ml_patch_replace (merging->patch, it->word->line, it->offset, it->length, merging->to);
  merging->line = it->statement->line + 1;
}

static void
merge_nets (MlPatch *patch, const MlBoard *board, int a, int b)
{
  gboolean turn = second_wins (board, a, b);
  Merging merging = { patch, board, board->nets[turn ? a : b].name, board->nets[turn ? b : a].name, 0 };

  ml_edit_mentions (board->text, FALSE, merge_mention, &merging);
}

MlText *
ml_board_edit_join_pins (const MlBoard *board, int part_a, int pin_a, int part_b, int pin_b, GError **error)
{
  int a = board->parts[part_a].pins[pin_a].net, b = board->parts[part_b].pins[pin_b].net;
  gboolean same = part_a == part_b && pin_a == pin_b; /* an open pin with itself: a net of its own, for a lead to be clipped to */
  MlPatch *patch;

  if (a >= 0 && a == b)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "these two are joined already");
      return NULL;
    }
  patch = ml_patch_new (board->text);
  if (a >= 0 && b >= 0)
    merge_nets (patch, board, a, b);
  else
    {
      g_autofree char *fresh = a < 0 && b < 0 ? free_net_name (board) : NULL;
      const char *net = fresh != NULL ? fresh : board->nets[a >= 0 ? a : b].name;

      if (a < 0)
        patch_pin (patch, board, part_a, pin_a, net);
      if (b < 0 && !same)
        patch_pin (patch, board, part_b, pin_b, net);
    }
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_free_pin (const MlBoard *board, int part, int pin, GError **error)
{
  g_autoptr (GHashTable) vanished = g_hash_table_new (g_str_hash, g_str_equal);
  int net = board->parts[part].pins[pin].net;
  guint n = 0;
  MlPatch *patch;

  if (net < 0)
    return ml_text_ref (board->text);
  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      n += board->parts[i].pins[k].net == net;
  if (n == 1)
    g_hash_table_add (vanished, board->nets[net].name);
  patch = ml_patch_new (board->text);
  patch_pin (patch, board, part, pin, "-");
  ml_board_edit_drop_nets (patch, board, vanished);
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_add_pin (const MlBoard *board, int part, const char *pin, GError **error)
{
  const MlPart *it = &board->parts[part];
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, it->line);
  g_autofree char *whole = NULL;
  MlPatch *patch;

  if (!ml_edit_check_name (pin, "pin", error))
    return NULL;
  if (!it->kind->any_pins || ml_part_find_pin (it, pin) >= 0)
    {
      g_set_error (error, ML_EDIT_ERROR, it->kind->any_pins ? ML_EDIT_ERROR_NAME : ML_EDIT_ERROR_TARGET,
                   it->kind->any_pins ? "%s has a pin %s already" : "%s takes no further pin: %s", it->name,
                   it->kind->any_pins ? pin : "its kind has a fixed number");
      return NULL;
    }
  whole = g_strdup_printf ("%s%s=-", ml_kind_reserves (it->kind, pin) ? ML_PIN_PREFIX : "", pin);
  patch = ml_patch_new (board->text);
  ml_patch_add_word (patch, &statement->words[statement->n_words - 1], whole);
  return ml_board_edit_finish (board, patch, error);
}

/* "pin.OUT=20,8,left" of a connector. */
static void
patch_terminal (MlPatch *patch, const MlWord *word, const char *pin, const char *to)
{
  g_autofree char *key = to != NULL ? g_strconcat (ML_PIN_PREFIX, to, NULL) : NULL;

  if (strcmp (word->key + strlen (ML_PIN_PREFIX), pin) != 0)
    return;
  if (key == NULL)
    ml_patch_remove_word (patch, word);
  else
    ml_patch_replace (patch, word->line, word->offset, (guint) strlen (word->key), key);
}

/* Where the part's place says where single pins are: that one is called `to` from then on; NULL: it is no more. */
static void
patch_place (MlPatch *patch, const MlBoard *board, int part, const char *pin, const char *to)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    for (guint i = 2; ml_edit_is (statement, "place") && i < statement->n_words && strcmp (statement->words[1].text, board->parts[part].name) == 0; i++)
      {
        const MlWord *word = &statement->words[i];
        if (word->key != NULL && g_str_has_prefix (word->key, ML_PIN_PREFIX))
          patch_terminal (patch, word, pin, to);
        if (word->key == NULL || !g_strv_contains (ml_edge_names, word->key))
          continue;
        g_auto (GStrv) names = g_strsplit (word->text, ",", -1);
        g_autoptr (GString) list = g_string_new (NULL);
        for (guint k = 0; names[k] != NULL; k++)
          if (strcmp (names[k], pin) != 0 || to != NULL)
            g_string_append_printf (list, "%s%s", list->len > 0 ? "," : "", strcmp (names[k], pin) == 0 ? to : names[k]);
        if (list->len == 0)
          ml_patch_remove_word (patch, word);
        else if (strcmp (list->str, word->text) != 0)
          ml_patch_replace_value (patch, word, list->str);
      }
}

MlText *
ml_board_edit_remove_pin (const MlBoard *board, int part, int pin, GError **error)
{
  const MlPart *it = &board->parts[part];
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, it->line);
  g_autofree char *key = g_strdup_printf ("%s%s", ml_kind_reserves (it->kind, it->pins[pin].name) ? ML_PIN_PREFIX : "", it->pins[pin].name);
  const MlWord *word = ml_edit_key (statement, key);
  MlPatch *patch;

  if (!it->kind->any_pins || it->n_pins < 2 || it->pins[pin].net >= 0 || word == NULL)
    {
      const char *why = !it->kind->any_pins ? "its kind has a fixed number of pins" : it->n_pins < 2 ? "it is the last one" : "it is joined to something";
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "pin %s of %s stays: %s", it->pins[pin].name, it->name, why);
      return NULL;
    }
  patch = ml_patch_new (board->text);
  ml_patch_remove_word (patch, word);
  patch_place (patch, board, part, it->pins[pin].name, NULL);
  return ml_board_edit_finish (board, patch, error);
}

static gboolean
want_free_pin_name (const MlPart *part, const char *name, GError **error)
{
  if (!ml_edit_check_name (name, "pin", error))
    return FALSE;
  if (!part->kind->any_pins)
    g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "the pins of %s have fixed names", ml_kind_called (part->kind));
  else if (ml_part_find_pin (part, name) >= 0)
    g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_NAME, "%s has a pin %s already", part->name, name);
  else
    return TRUE;
  return FALSE;
}

MlText *
ml_board_edit_rename_pin (const MlBoard *board, int part, int pin, const char *name, GError **error)
{
  const MlPart *it = &board->parts[part];
  const char *old = it->pins[pin].name;
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, it->line);
  const MlWord *word = find_pin_word (statement, it, pin);
  g_autofree char *key = NULL;
  MlPatch *patch;

  if (strcmp (old, name) == 0)
    return ml_text_ref (board->text);
  if (!want_free_pin_name (it, name, error))
    return NULL;
  key = g_strdup_printf ("%s%s", ml_kind_reserves (it->kind, name) ? ML_PIN_PREFIX : "", name);
  patch = ml_patch_new (board->text);
  ml_patch_replace (patch, word->line, word->offset, (guint) strlen (word->key), key);
  for (guint i = 3; i < statement->n_words; i++)
    {
      const MlWord *other = &statement->words[i];
      const MlKeyInfo *info = other->key != NULL ? ml_kind_key (it->kind, other->key) : NULL;

      if (info != NULL && (info->key == ML_KEY_SUPPLY || info->key == ML_KEY_GROUND) && strcmp (other->text, old) == 0)
        ml_patch_replace_value (patch, other, name);
    }
  ml_edit_rename_pins (patch, board->text, FALSE, it->name, &(MlPinName){ old, name }, 1, NULL);
  patch_place (patch, board, part, old, name);
  return ml_board_edit_finish (board, patch, error);
}

/* ---- polarity ---- */

void
ml_board_polarity_names (const MlPart *capacitor, int plus_pin, MlPinName ret_names[2], const char **ret_pair)
{
  const MlKindInfo *kind = capacitor->kind;

  for (guint i = 0; i < 2; i++)
    ret_names[i] = (MlPinName){ capacitor->pins[i].name, plus_pin < 0 ? kind->pins[i] : kind->pins_also[(int) i == plus_pin ? 0 : 1] };
  *ret_pair = plus_pin == 1 ? "minus-plus" : NULL;
}

MlText *
ml_board_edit_set_polarity (const MlBoard *board, int part, int plus_pin, GError **error)
{
  const MlPart *it = &board->parts[part];
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, it->line);
  MlPinName names[2];
  const char *pair;
  gboolean written = FALSE;

  if (it->kind->pins_also == NULL)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_TARGET, "%s is a %s: only capacitors come with and without a polarity", it->name, it->kind->word);
      return NULL;
    }
  ml_board_polarity_names (it, plus_pin, names, &pair);
  MlPatch *patch = ml_patch_new (board->text);
  for (int i = 0; i < 2; i++)
    {
      const MlWord *word = find_pin_word (statement, it, i);

      if (word != NULL)
        ml_patch_replace (patch, word->line, word->offset, (guint) strlen (word->key), names[i].to);
      written |= word != NULL;
    }
  if (!written && plus_pin >= 0)
    ml_patch_add_word (patch, &statement->words[2], "plus=- minus=-");
  ml_edit_rename_pins (patch, board->text, FALSE, it->name, names, 2, NULL);
  return ml_board_edit_finish (board, patch, error);
}

/* ---- nets ---- */

MlText *
ml_board_edit_rename_net (const MlBoard *board, int net, const char *name, GError **error)
{
  MlPatch *patch;

  if (g_strcmp0 (board->nets[net].name, name) == 0)
    return ml_text_ref (board->text);
  if (!ml_edit_check_name (name, "net", error))
    return NULL;
  if (ml_board_find_net (board, name) >= 0)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_NAME, "there is a net %s already: to make one net of two, join their pins", name);
      return NULL;
    }
  patch = ml_patch_new (board->text);
  ml_edit_rename_all (patch, board->text, FALSE, ML_NAMES_NET, board->nets[net].name, name);
  return ml_board_edit_finish (board, patch, error);
}

static void
patch_switching (MlPatch *patch, const MlBoard *board, int net)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = ml_edit_statement_at (scanner, board->nets[net].line);

  if (!board->nets[net].switching)
    ml_patch_add_word (patch, &statement->words[statement->n_words - 1], "switching");
  else if (statement->n_words == 3)
    ml_board_edit_drop_statement (patch, board->text, statement);
  else
    for (guint i = 2; i < statement->n_words; i++)
      if (!statement->words[i].quoted && strcmp (statement->words[i].text, "switching") == 0)
        ml_patch_remove_word (patch, &statement->words[i]);
}

MlText *
ml_board_edit_set_switching (const MlBoard *board, int net, gboolean switching, GError **error)
{
  MlPatch *patch;

  if (!board->nets[net].switching == !switching)
    return ml_text_ref (board->text);
  patch = ml_patch_new (board->text);
  if (board->nets[net].line > 0)
    patch_switching (patch, board, net);
  else
    {
      g_autofree char *line = g_strdup_printf ("net %s switching", board->nets[net].name);
      ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "net part", ml_text_n_lines (board->text)), line);
    }
  return ml_board_edit_finish (board, patch, error);
}

/* ---- the board as a whole ---- */

/* Finds the statement in column one that starts with that word; valid until the scanner goes on. */
static const MlStatement *
find_statement (MlScanner *scanner, const char *word)
{
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (!statement->indented && ml_edit_is (statement, word))
      return statement;
  return NULL;
}

MlText *
ml_board_edit_set_reference (const MlBoard *board, int net, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = find_statement (scanner, "reference");
  MlPatch *patch = ml_patch_new (board->text);

  if (statement != NULL && net < 0)
    ml_board_edit_drop_statement (patch, board->text, statement);
  else if (statement != NULL && statement->n_words > 1)
    ml_patch_replace_value (patch, &statement->words[1], board->nets[net].name);
  else if (net >= 0)
    {
      g_autofree char *line = g_strdup_printf ("reference %s", board->nets[net].name);
      ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "board meterleaf", 0), line);
    }
  return ml_board_edit_finish (board, patch, error);
}

MlText *
ml_board_edit_set_title (const MlBoard *board, const char *title, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlStatement *statement = find_statement (scanner, "board");
  g_autofree char *quoted = ml_text_quote (title != NULL ? title : "");
  g_autofree char *line = g_strdup_printf ("board %s", quoted);
  MlPatch *patch = ml_patch_new (board->text);

  if (statement != NULL && statement->n_words > 1 && statement->words[1].key == NULL)
    ml_patch_replace (patch, statement->words[1].line, statement->words[1].offset, statement->words[1].length, quoted);
  else
    ml_patch_insert_line (patch, ml_edit_line_behind (board->text, "meterleaf", 0), line);
  return ml_board_edit_finish (board, patch, error);
}
