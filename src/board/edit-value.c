/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person types at a part: "4k7 1%", "1N4148", "5V6", "red", "500mA". */
#include "board/edit-private.h"

#include <string.h>

#include "board/board-private.h"

static const MlKeyInfo *
main_info (const MlKindInfo *kind)
{
  if (kind->kind == ML_KIND_CONTACT) /* not beside the symbol, but asked for */
    return ml_kind_key_info (kind, ML_KEY_BY);
  return ml_kind_key_info (kind, ml_kind_main_key (kind->kind));
}

/* As files want it: the point as decimal mark, no blanks. */
static char *
to_file_form (const char *typed)
{
  char *text = g_strdup (typed);

  for (char *c = text; *c != '\0'; c++)
    if (*c == ',')
      *c = '.';
  return text;
}

static gboolean
reads_as (const char *text, gsize length, MlUnit unit)
{
  MlQuantity quantity;

  return ml_quantity_parse (text, length, unit, ML_QUANTITY_PLAIN, &quantity, NULL) == ML_QUANTITY_OK;
}

static gboolean
fits_key (const MlKeyInfo *info, const char *text)
{
  const char *at = strchr (text, '@');

  if (info->shape == ML_KEY_IS_AT && at != NULL)
    return reads_as (text, (gsize) (at - text), info->unit) && reads_as (at + 1, strlen (at + 1), info->at_unit);
  return (info->shape == ML_KEY_IS_QUANTITY || info->shape == ML_KEY_IS_AT) && reads_as (text, strlen (text), info->unit);
}

static gboolean
says_unit (const char *text)
{
  const char *last = text + strlen (text) - 1;

  return strchr ("VAWFHKs%R", *last) != NULL || g_str_has_suffix (text, "ohm") || (guchar) *last >= 0x80;
}

/* A further quantity is known by the unit it says; these keys only when written out, since others have their unit too. */
static gboolean
is_guessable (MlKey key)
{
  return key == ML_KEY_TOLERANCE || key == ML_KEY_POWER || key == ML_KEY_CURRENT || key == ML_KEY_VOLTAGE || key == ML_KEY_RESISTANCE
         || key == ML_KEY_BETA || key == ML_KEY_DROP;
}

static const MlKeyInfo *
find_quantity_key (const MlKindInfo *kind, const char *text)
{
  const MlKeyInfo *info = main_info (kind);

  if (info != NULL && fits_key (info, text))
    return info;
  for (guint i = 0; says_unit (text) && i < kind->n_keys; i++)
    if (is_guessable (kind->keys[i].key) && fits_key (&kind->keys[i], text))
      return &kind->keys[i];
  return NULL;
}

static const MlKeyInfo *
find_choice_key (const MlKindInfo *kind, const char *text)
{
  for (guint i = 0; i < kind->n_keys; i++)
    if (kind->keys[i].shape == ML_KEY_IS_CHOICE)
      {
        g_auto (GStrv) choices = g_strsplit (kind->keys[i].choices, "|", -1);
        if (g_strv_contains ((const char *const *) choices, text))
          return &kind->keys[i];
      }
  return NULL;
}

/* The kind of a part number of this board or of data/; NULL when unknown. */
static const MlKindInfo *
part_number_kind (const MlBoard *board, const char *name)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  const MlDatasheet *datasheet = ml_datasheet_find (name);
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (ml_edit_is (statement, "datasheet") && statement->n_words > 2 && strcmp (statement->words[1].text, name) == 0)
      return ml_kind_find (statement->words[2].text);
  return datasheet != NULL ? datasheet->kind : NULL;
}

static gboolean
looks_like_part_number (const char *text)
{
  gboolean letter = FALSE, digit = FALSE;

  for (const char *c = text; *c != '\0'; c++)
    {
      letter |= g_ascii_isalpha (*c);
      digit |= g_ascii_isdigit (*c);
    }
  return letter && digit && strlen (text) >= 4 && ml_name_check (text) == NULL;
}

/* "2n2222" is a registered type number (JEDEC JESD370: a digit, N, a serial number), not 2.2222 nano. */
static gboolean
is_registered_number (const char *text)
{
  return (text[0] == '1' || text[0] == '2') && (text[1] == 'n' || text[1] == 'N') && strspn (text + 2, "0123456789") >= 3;
}

/* Part numbers are printed in capitals: "bc547" means BC547 where that is known. */
static char *
to_part_number (const MlBoard *board, const MlKindInfo *kind, const char *typed)
{
  char *capitals = g_ascii_strup (typed, -1);

  if (ml_kind_has_part_number (kind->kind) && part_number_kind (board, typed) == NULL
      && (is_registered_number (typed) || part_number_kind (board, capitals) != NULL))
    return capitals;
  g_free (capitals);
  return g_strdup (typed);
}

typedef struct
{
  const MlBoard *board;
  const MlPart *part;
  MlPatch *patch;
  const MlStatement *statement;
  GString *added; /* keys that are new, behind the last word */
  gboolean named; /* a part number was typed */
  guint64 typed;  /* the keys that were: one bit each */
} Typing;

/* A contact's value is the coil that works it: its name in the file's letters; NULL: there is none of that name, or it is no contact. */
static const char *
find_coil (const Typing *typing, const char *text)
{
  for (guint i = 0; typing->part->kind->kind == ML_KIND_CONTACT && i < typing->board->n_parts; i++)
    if (typing->board->parts[i].kind->kind == ML_KIND_COIL && g_ascii_strcasecmp (typing->board->parts[i].name, text) == 0)
      return typing->board->parts[i].name;
  return NULL;
}

static gboolean
type_key (Typing *typing, const MlKeyInfo *info, const char *value, GError **error)
{
  guint64 bit = G_GUINT64_CONSTANT (1) << info->key;

  if ((typing->typed & bit) != 0)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "'%s': its %s is typed twice", value, info->word);
      return FALSE;
    }
  typing->typed |= bit;
  const MlWord *word = ml_edit_kind_key (typing->statement, typing->part->kind, info);

  if (word != NULL)
    ml_patch_replace_value (typing->patch, word, value);
  else
    g_string_append_printf (typing->added, "%s%s=%s", typing->added->len > 0 ? " " : "", info->word, value);
  return TRUE;
}

/* A part number nobody has data of is kept as a name: the defaults of its kind serve. */
static void
add_datasheet (Typing *typing, const char *name)
{
  const MlText *text = typing->board->text;
  g_autofree char *line = g_strdup_printf ("datasheet %s %s", name, typing->part->kind->word);
  guint at = ml_edit_line_behind (text, "datasheet reference board meterleaf", 0);

  ml_patch_insert_line (typing->patch, at, line);
}

/* A zener's number typed at a diode makes it one, as a pnp's does an npn: the pins are called alike. What else was said of the part stays where
 * the new kind has it. */
static gboolean
become (Typing *typing, const MlKindInfo *kind, const char *number, GError **error)
{
  const MlPart *part = typing->part;

  if (kind->any_pins || part->kind->any_pins || !g_strv_equal (kind->pins, part->kind->pins) || kind->pins_also != part->kind->pins_also)
    {
      g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "%s is %s, %s is %s with other pins: delete %s and add %s in its place", number,
                   ml_kind_called (kind), part->name, ml_kind_called (part->kind), part->name, number);
      return FALSE;
    }
  for (guint i = 3; i < typing->statement->n_words; i++)
    {
      const MlWord *word = &typing->statement->words[i];
      const MlKeyInfo *was = word->key != NULL ? ml_kind_key (part->kind, word->key) : NULL, *is = was != NULL ? ml_kind_key (kind, word->key) : NULL;

      if (was != NULL && (is == NULL || is->unit != was->unit || is->shape != was->shape))
        ml_patch_remove_word (typing->patch, word);
    }
  return TRUE;
}

static gboolean
type_part_number (Typing *typing, const char *text, GError **error)
{
  const MlKindInfo *kind = part_number_kind (typing->board, text);

  if (kind == NULL && !(ml_kind_has_part_number (typing->part->kind->kind) && looks_like_part_number (text)))
    return FALSE;
  if (kind == NULL)
    add_datasheet (typing, text);
  else if (kind != typing->part->kind && !become (typing, kind, text, error))
    return FALSE;
  ml_patch_replace_value (typing->patch, &typing->statement->words[2], text);
  typing->named = TRUE;
  return TRUE;
}

static void
say_no_value (const MlPart *part, const char *text, GError **error)
{
  const MlKeyInfo *info = main_info (part->kind);
  const char *unit = info != NULL ? ml_quantity_unit_symbol (info->unit) : "";

  if (part->kind->kind == ML_KIND_CONTACT)
    g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "'%s' is no coil of this board; type the name of the one that works %s", text, part->name);
  else if (info == NULL)
    g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "'%s': %s has no value", text, ml_kind_called (part->kind));
  else
    g_set_error (error, ML_EDIT_ERROR, ML_EDIT_ERROR_VALUE, "'%s' says nothing about %s; expected its %s%s%s%s", text, ml_kind_called (part->kind),
                 info->word, *unit != '\0' ? " in " : "", unit,
                 ml_kind_has_part_number (part->kind->kind) ? ", or a part number" : ", as in 4k7 or 270m");
}

static gboolean
type_one (Typing *typing, const char *typed, GError **error)
{
  const MlKindInfo *kind = typing->part->kind;
  g_autofree char *text = to_file_form (typed);
  g_autofree char *token = to_part_number (typing->board, kind, typed);
  const char *equals = strchr (token, '=');
  g_autofree char *key = equals != NULL ? g_strndup (token, (gsize) (equals - token)) : NULL;
  gboolean numbered = part_number_kind (typing->board, token) != NULL || (ml_kind_has_part_number (kind->kind) && is_registered_number (token));
  const char *coil = find_coil (typing, token);
  const MlKeyInfo *info;
  GError *refused = NULL;

  if (coil != NULL)
    return type_key (typing, main_info (kind), coil, error);

  if (key != NULL)
    info = ml_kind_key (kind, key);
  else if ((info = find_choice_key (kind, text)) == NULL)
    info = !numbered ? find_quantity_key (kind, text) : NULL;
  if (info != NULL)
    return type_key (typing, info, key != NULL ? equals + 1 : text, error);
  if (key == NULL && !typing->named && type_part_number (typing, token, &refused))
    return TRUE;
  if (refused != NULL)
    g_propagate_error (error, refused);
  else
    say_no_value (typing->part, token, error);
  return FALSE;
}

/* "5.6 V" is one quantity, "4k7 1%" are two: a word without a digit that is a unit goes with the number before it. */
static GPtrArray *
split_typed (const char *typed)
{
  g_auto (GStrv) words = g_strsplit_set (typed, " \t", -1);
  GPtrArray *tokens = g_ptr_array_new_with_free_func (g_free);

  for (guint i = 0; words[i] != NULL; i++)
    {
      char *last = tokens->len > 0 ? g_ptr_array_index (tokens, tokens->len - 1) : NULL;
      gboolean digits = strpbrk (words[i], "0123456789") != NULL;

      if (*words[i] == '\0')
        continue;
      if (!digits && last != NULL && g_ascii_isdigit (last[strlen (last) - 1]) && says_unit (words[i]) && strlen (words[i]) <= 5)
        {
          char *joined = g_strconcat (last, words[i], NULL);
          g_free (last);
          g_ptr_array_index (tokens, tokens->len - 1) = joined;
        }
      else
        g_ptr_array_add (tokens, g_strdup (words[i]));
    }
  return tokens;
}

/* Nothing typed: the value is not known any more. */
static void
forget_value (Typing *typing)
{
  const MlKeyInfo *info = main_info (typing->part->kind);
  const MlWord *word = info != NULL ? ml_edit_kind_key (typing->statement, typing->part->kind, info) : NULL;

  if (word != NULL)
    ml_patch_remove_word (typing->patch, word);
  if (typing->part->datasheet != NULL)
    ml_patch_replace_value (typing->patch, &typing->statement->words[2], typing->part->kind->word);
}

/* Of an unknown chip nothing but the print can be known: all of it, be it of digits only or in two lines. */
static gboolean
is_print_of_chip (const MlPart *part, const char *typed)
{
  return part->kind->kind == ML_KIND_BLOCK && strchr (typed, '=') == NULL && strspn (typed, " \t") < strlen (typed);
}

static gboolean
type_print (Typing *typing, const char *typed, GError **error)
{
  g_autofree char *name = ml_name_typed (typed);

  if (!ml_edit_check_name (name, "chip", error))
    return FALSE;
  if (part_number_kind (typing->board, name) != NULL)
    return type_part_number (typing, name, error);
  add_datasheet (typing, name);
  ml_patch_replace_value (typing->patch, &typing->statement->words[2], name);
  return TRUE;
}

static gboolean
type_all (Typing *typing, const char *typed, GError **error)
{
  g_autoptr (GPtrArray) tokens = split_typed (typed);

  if (is_print_of_chip (typing->part, typed))
    return type_print (typing, typed, error);
  for (guint i = 0; i < tokens->len; i++)
    if (!type_one (typing, g_ptr_array_index (tokens, i), error))
      return FALSE;
  if (tokens->len == 0)
    forget_value (typing);
  return TRUE;
}

MlText *
ml_board_edit_set_value (const MlBoard *board, int part, const char *typed, GError **error)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (board->text, NULL);
  g_autoptr (GString) added = g_string_new (NULL);
  Typing typing = { board, &board->parts[part], ml_patch_new (board->text), ml_edit_statement_at (scanner, board->parts[part].line), added,
                    FALSE, 0 };

  if (!type_all (&typing, typed, error))
    {
      ml_patch_free (typing.patch);
      return NULL;
    }
  if (added->len > 0)
    ml_patch_add_word (typing.patch, &typing.statement->words[typing.statement->n_words - 1], added->str);
  return ml_board_edit_finish (board, typing.patch, error);
}
