/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the statements of both languages name parts, nets, conditions and units. A new statement that does is one line here. */
#include "board/edit-text.h"

#include <string.h>

#include "board/board-private.h"

/* bare: one letter per bare word behind the keyword; keys: key, blank, letter, blank.
 * n net, p part, r part or pin, x probe (net or pin), c condition, C the condition made here, P the part made here, u unit, U made here, . none */
typedef struct
{
  const char *word;
  gboolean indented;
  const char *bare, *keys;
} Form;

static const Form board_forms[] = {
  { "reference", FALSE, "n", "" },
  { "part", FALSE, "P", "" }, /* and its pins, see below */
  { "net", FALSE, "n", "" },
  { "beep", FALSE, "rr", "" },
  { "near", FALSE, "nn", "" },
  { "place", FALSE, "p", "" },
  { "prefer", FALSE, "n", "" },
  { "condition", FALSE, "C", "" },
  { "supply", TRUE, "", "plus n minus n" },
  { "load", TRUE, "", "plus n minus n" },
  { "set", TRUE, "p", "" },
  { "lift", TRUE, "r", "" },
  { "remove", TRUE, "p", "" },
  { "connect", TRUE, "nn", "" },
  { "pad", TRUE, "r", "" },
};

static const Form job_forms[] = {
  { "unit", FALSE, "U", "" },
  { "fitted", TRUE, "p", "" },
  { "removed", TRUE, "p", "" },
  { "lifted", TRUE, "r", "" },
  { "linked", TRUE, "nn", "" },
  { "reading", FALSE, "uc", "red x black x across r" },
  { "seen", FALSE, "ucp", "" },
  { "pass", FALSE, "u", "" },
  { "log", FALSE, ".u.r", "" },
};

typedef struct
{
  GHashTable *datasheets; /* part numbers of this file -> their kind */
  const MlStatement *statement;
  MlMentionFunc func;
  gpointer data;
} Walk;

static void
mention (const Walk *walk, MlNames names, const MlWord *word, guint length, const char *pins, gboolean defines, gboolean in_part)
{
  g_autofree char *name = g_strndup (word->text, length);
  MlMention it = { names, walk->statement, word, word->text_offset + (word->quoted ? 1 : 0), length, name, pins, defines, in_part };

  walk->func (&it, walk->data);
}

static void
mention_word (const Walk *walk, const MlWord *word, char form)
{
  guint whole = (guint) strlen (word->text), to_dot = (guint) strcspn (word->text, "./");
  const char *pins = word->text[to_dot] == '.' ? word->text + to_dot + 1 : NULL;

  switch (form)
    {
    case 'n':
      mention (walk, ML_NAMES_NET, word, whole, NULL, FALSE, FALSE);
      break;
    case 'p':
    case 'P':
      mention (walk, ML_NAMES_PART, word, whole, NULL, form == 'P', FALSE);
      break;
    case 'r':
      mention (walk, ML_NAMES_PART, word, to_dot, pins, FALSE, FALSE);
      break;
    case 'x':
      mention (walk, pins != NULL ? ML_NAMES_PART : ML_NAMES_NET, word, pins != NULL ? to_dot : whole, pins, FALSE, FALSE);
      break;
    case 'c':
    case 'C':
      mention (walk, ML_NAMES_CONDITION, word, whole, NULL, form == 'C', FALSE);
      break;
    case 'u':
    case 'U':
      mention (walk, ML_NAMES_UNIT, word, whole, NULL, form == 'U', FALSE);
      break;
    default:
      break;
    }
}

static char
key_form (const char *keys, const char *key)
{
  g_auto (GStrv) pairs = g_strsplit (keys, " ", -1);

  for (guint i = 0; pairs[i] != NULL && pairs[i + 1] != NULL; i += 2)
    if (strcmp (pairs[i], key) == 0)
      return *pairs[i + 1];
  return '.';
}

/* The kind of a part statement, also where it is a part number of this file or of data/. */
static const MlKindInfo *
statement_kind (const Walk *walk)
{
  const char *word = walk->statement->n_words > 2 ? walk->statement->words[2].text : "";
  const MlKindInfo *kind = ml_kind_find (word);
  const MlDatasheet *datasheet;

  if (kind == NULL)
    kind = g_hash_table_lookup (walk->datasheets, word);
  if (kind != NULL)
    return kind;
  datasheet = ml_datasheet_find (word);
  return datasheet != NULL ? datasheet->kind : NULL;
}

static GHashTable *
find_datasheets (const MlText *text)
{
  GHashTable *datasheets = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    if (ml_edit_is (statement, "datasheet") && statement->n_words > 2 && ml_kind_find (statement->words[2].text) != NULL)
      g_hash_table_insert (datasheets, g_strdup (statement->words[1].text), (gpointer) ml_kind_find (statement->words[2].text));
  return datasheets;
}

/* A part's words behind its kind that are no key of it are its pins. */
static void
mention_pins (const Walk *walk)
{
  const MlStatement *statement = walk->statement;
  const MlKindInfo *kind = statement_kind (walk);
  gboolean contact = kind != NULL && kind->kind == ML_KIND_CONTACT;

  if (kind == NULL)
    return;
  for (guint i = 3; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word->key == NULL || strcmp (word->text, "-") == 0)
        continue;
      if (contact && strcmp (word->key, "by") == 0)
        mention (walk, ML_NAMES_PART, word, (guint) strlen (word->text), NULL, FALSE, TRUE);
      else if (ml_kind_key (kind, word->key) == NULL)
        mention (walk, ML_NAMES_NET, word, (guint) strlen (word->text), NULL, FALSE, TRUE);
    }
}

static void
mention_statement (const Walk *walk, const Form *form)
{
  const MlStatement *statement = walk->statement;
  const char *bare = form->bare;

  for (guint i = 1; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word->key != NULL)
        mention_word (walk, word, key_form (form->keys, word->key));
      else if (*bare != '\0' && !(word->quoted && *bare == 'r'))
        mention_word (walk, word, *bare++);
    }
  if (strcmp (form->word, "part") == 0)
    mention_pins (walk);
}

void
ml_edit_mentions (const MlText *text, gboolean job, MlMentionFunc func, gpointer data)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  const Form *forms = job ? job_forms : board_forms;
  guint n = job ? G_N_ELEMENTS (job_forms) : G_N_ELEMENTS (board_forms);
  g_autoptr (GHashTable) datasheets = find_datasheets (text);
  Walk walk = { datasheets, NULL, func, data };

  while ((walk.statement = ml_scanner_next (scanner)) != NULL)
    for (guint i = 0; i < n; i++)
      if (ml_edit_is (walk.statement, forms[i].word) && walk.statement->indented == forms[i].indented)
        mention_statement (&walk, &forms[i]);
}

typedef struct
{
  MlPatch *patch;
  MlNames names;
  const char *from, *to;
} Renaming;

static void
rename_mention (const MlMention *it, gpointer data)
{
  const Renaming *renaming = data;

  if (it->names == renaming->names && strcmp (it->name, renaming->from) == 0)
    ml_patch_replace (renaming->patch, it->word->line, it->offset, it->length, renaming->to);
}

void
ml_edit_rename_all (MlPatch *patch, const MlText *text, gboolean job, MlNames names, const char *from, const char *to)
{
  Renaming renaming = { patch, names, from, to };

  ml_edit_mentions (text, job, rename_mention, &renaming);
}

typedef struct
{
  MlPatch *patch;
  const char *part, *pair;
  const MlPinName *names;
  guint n;
} PinRenaming;

static void
rename_pin_at (const PinRenaming *renaming, const MlMention *it, gsize from, gsize length)
{
  for (guint i = 0; i < renaming->n; i++)
    if (strlen (renaming->names[i].from) == length && strncmp (it->pins + from, renaming->names[i].from, length) == 0)
      {
        ml_patch_replace (renaming->patch, it->word->line, it->offset + it->length + 1 + (guint) from, (guint) length, renaming->names[i].to);
        return;
      }
}

static gboolean
is_renamed (const PinRenaming *renaming, const char *pin, gsize length)
{
  for (guint i = 0; i < renaming->n; i++)
    if (strlen (renaming->names[i].from) == length && strncmp (pin, renaming->names[i].from, length) == 0)
      return TRUE;
  return FALSE;
}

/* `across=C3` means its first pin and its second one: once the others are first and second, it has to say so. */
static void
name_pair (const PinRenaming *renaming, const MlMention *it)
{
  if (renaming->pair == NULL || it->word->key == NULL || strcmp (it->word->key, "across") != 0)
    return;
  g_autofree char *whole = g_strdup_printf ("%s.%s", it->name, renaming->pair);
  ml_patch_replace (renaming->patch, it->word->line, it->offset, it->length, whole);
}

/* The pin alone, with /lead, or as one of a pair ("base-emitter"). */
static void
rename_pin_mention (const MlMention *it, gpointer data)
{
  const PinRenaming *renaming = data;

  if (it->names != ML_NAMES_PART || strcmp (it->name, renaming->part) != 0)
    return;
  if (it->pins == NULL)
    {
      name_pair (renaming, it);
      return;
    }
  gsize whole = strcspn (it->pins, "/");
  if (is_renamed (renaming, it->pins, whole))
    {
      rename_pin_at (renaming, it, 0, whole);
      return;
    }
  for (gsize at = 0; at < whole; at++)
    if (it->pins[at] == '-' && (is_renamed (renaming, it->pins, at) || is_renamed (renaming, it->pins + at + 1, whole - at - 1)))
      {
        rename_pin_at (renaming, it, 0, at);
        rename_pin_at (renaming, it, at + 1, whole - at - 1);
        return;
      }
}

void
ml_edit_rename_pins (MlPatch *patch, const MlText *text, gboolean job, const char *part, const MlPinName *names, guint n, const char *pair)
{
  PinRenaming renaming = { patch, part, pair, names, n };

  ml_edit_mentions (text, job, rename_pin_mention, &renaming);
}
