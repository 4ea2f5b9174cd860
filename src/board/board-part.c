/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading `part` and `datasheet`. */
#include "board/board-private.h"

#include <math.h>
#include <string.h>

/* ---- key=value ---- */

static gboolean
read_at (MlBoardReader *reader, const MlWord *word, const MlKeyInfo *info, MlAttribute *attribute)
{
  const char *at = strchr (word->text, '@');
  g_autofree char *before = NULL;

  if (at == NULL)
    {
      attribute->at = (MlQuantity) { .value = NAN, .tolerance = NAN };
      return ml_board_reader_quantity (reader, word, word->text, info->unit, &attribute->quantity);
    }
  before = g_strndup (word->text, (gsize) (at - word->text));
  if (!ml_board_reader_quantity (reader, word, before, info->unit, &attribute->quantity)
      || !ml_board_reader_quantity (reader, word, at + 1, info->at_unit, &attribute->at))
    return FALSE;
  /* a p-channel transistor's gate voltage is negative; a junction's current is not */
  if (attribute->at.value > 0 || (attribute->at.value < 0 && info->key == ML_KEY_ON))
    return TRUE;
  SAID_AT (reader, word->line, ml_word_column (word, at + 1, 0), "%s=%s: expected a value above zero behind @", word->key, word->text);
  return FALSE;
}

static gboolean
read_key_choice (MlBoardReader *reader, const MlWord *word, const MlKeyInfo *info)
{
  g_auto (GStrv) choices = g_strsplit (info->choices, "|", -1);
  MlNearest nearest;
  g_autofree char *meant = NULL;

  if (g_strv_contains ((const char *const *) choices, word->text))
    return TRUE;
  ml_nearest_start (&nearest, word->text);
  for (guint i = 0; choices[i] != NULL; i++)
    ml_nearest_offer (&nearest, choices[i]);
  meant = ml_meant (&nearest);
  SAID_AT (reader, word->line, word->text_column, "%s takes %s, not '%s'%s", info->word, info->choices, word->text, meant);
  return FALSE;
}

/* What no part on any board lies outside of: a figure beyond is a slip of the pen, and the equations would lose their digits on it. From memory:
 * current shunts go down to about 10 µΩ, glass and porcelain up to some hundred GΩ. */
gboolean
ml_board_reader_plausible (MlBoardReader *reader, const MlWord *word, MlUnit unit, double value)
{
  static const struct { double least, most; } bounds[ML_N_UNITS] = {
    [ML_UNIT_OHM] = { 1e-6, 1e12 },  [ML_UNIT_FARAD] = { 1e-15, 1e5 },  [ML_UNIT_HENRY] = { 1e-12, 1e5 },
    [ML_UNIT_VOLT] = { 1e-9, 1e6 },  [ML_UNIT_AMPERE] = { 1e-12, 1e6 }, [ML_UNIT_WATT] = { 1e-9, 1e9 },
  };
  char least[48], most[48];

  if (value == 0 || bounds[unit].most == 0 || (fabs (value) >= bounds[unit].least && fabs (value) <= bounds[unit].most))
    return TRUE;
  ml_quantity_format (bounds[unit].least, unit, 1, false, least, sizeof least);
  ml_quantity_format (bounds[unit].most, unit, 1, false, most, sizeof most);
  SAID_AT (reader, word->line, word->text_column, "%s=%s: no part is like that; expected %s to %s%s", word->key, word->text, least, most,
           unit == ML_UNIT_OHM ? ". A wire is a link, not a resistor" : "");
  return FALSE;
}

/* Zero or negative where only positive makes a part. */
static gboolean
is_sensible (MlBoardReader *reader, const MlWord *word, const MlKeyInfo *info, double value)
{
  gboolean may_be_zero = info->key == ML_KEY_RESISTANCE || info->key == ML_KEY_POSITION || info->key == ML_KEY_OFFSET
                         || info->key == ML_KEY_TOLERANCE || info->key == ML_KEY_DROPOUT || info->key == ML_KEY_HEADROOM
                         || info->key == ML_KEY_FOOTROOM || info->key == ML_KEY_BIAS;
  gboolean may_be_negative = info->key == ML_KEY_OFFSET || info->key == ML_KEY_BIAS || info->key == ML_KEY_THRESHOLD || info->key == ML_KEY_VOLTAGE;

  if (info->key == ML_KEY_GAIN && !(value >= 1 && value <= 1e7)) /* 0.71 is a junction's volts that went astray */
    {
      SAID_AT (reader, word->line, word->text_column, "%s=%s: no gain is like that; expected 1 to 10 million. A reading in volts belongs in the job",
               word->key, word->text);
      return FALSE;
    }
  if ((value > 0 || (value == 0 && may_be_zero) || (value < 0 && may_be_negative)) && !(info->unit == ML_UNIT_PERCENT && value > 1))
    return ml_board_reader_plausible (reader, word, info->unit, value);
  SAID_AT (reader, word->line, word->text_column, "%s=%s: expected a value %s", word->key, word->text,
                        info->unit == ML_UNIT_PERCENT ? "from 0% to 100%" : "above zero");
  return FALSE;
}

gboolean
ml_board_reader_attribute (MlBoardReader *reader, const MlWord *word, const MlKeyInfo *info, GArray *attributes)
{
  MlAttribute attribute = { .info = info, .line = word->line + 1, .column = word->column };
  gboolean fine = TRUE;

  for (guint i = 0; i < attributes->len; i++)
    if (g_array_index (attributes, MlAttribute, i).info->key == info->key)
      {
        SAID (reader, word, "%s= is given twice", info->word);
        return FALSE;
      }
  attribute.quantity.tolerance = NAN;
  switch (info->shape)
    {
    case ML_KEY_IS_QUANTITY:
      fine = ml_board_reader_quantity (reader, word, word->text, info->unit, &attribute.quantity)
             && is_sensible (reader, word, info, attribute.quantity.value);
      break;
    case ML_KEY_IS_AT:
      fine = read_at (reader, word, info, &attribute) && is_sensible (reader, word, info, attribute.quantity.value);
      break;
    case ML_KEY_IS_CHOICE:
      fine = read_key_choice (reader, word, info);
      break;
    case ML_KEY_IS_WORD:
      break;
    }
  if (!fine)
    return FALSE;
  attribute.text = g_strdup (word->text);
  g_array_append_val (attributes, attribute);
  return TRUE;
}

/* ---- kinds ---- */

static const MlDatasheet *
find_datasheet (MlBoardReader *reader, const char *name)
{
  const MlDatasheet *own = g_hash_table_lookup (reader->datasheet_index, name);

  return own != NULL ? own : ml_datasheet_find (name);
}

static void
offer_datasheets (MlNearest *nearest, const GPtrArray *datasheets)
{
  for (guint i = 0; i < datasheets->len; i++)
    ml_nearest_offer (nearest, ((const MlDatasheet *) g_ptr_array_index (datasheets, i))->name);
}

/* A number beside a known one need be no slip: the 1N5401 beside the 1N5400. new string. */
static char *
offer_own_datasheet (MlBoardReader *reader, const char *found, const char *near)
{
  const MlDatasheet *sheet = ml_kind_find (near) == NULL ? find_datasheet (reader, near) : NULL;

  if (sheet == NULL || g_ascii_strcasecmp (found, near) == 0)
    return g_strdup ("");
  return g_strdup_printf (" If not, add a line: datasheet %s %s", found, sheet->kind->word);
}

static void
say_unknown_kind (MlBoardReader *reader, const MlWord *word)
{
  const MlKindInfo *called = ml_kind_by_trade_word (word->text);
  MlNearest nearest;
  g_autofree char *meant = NULL, *own = NULL;

  ml_nearest_start (&nearest, word->text);
  for (guint i = 0; called == NULL && i < ML_N_KINDS; i++)
    ml_nearest_offer_whole (&nearest, ml_kind_info (i)->word);
  if (called == NULL && !ml_diagnostics_is_full (reader->diagnostics))
    {
      offer_datasheets (&nearest, reader->datasheets);
      offer_datasheets (&nearest, ml_datasheets_shipped ());
    }
  if (called != NULL)
    nearest.best = called->word;
  meant = ml_meant (&nearest);
  own = nearest.best != NULL ? offer_own_datasheet (reader, word->text, nearest.best) : g_strdup ("; one that is not in the list is drawn as a block");
  SAID (reader, word, "'%s' is neither a kind of part nor a known part number%s%s", word->text, meant, own);
}

static const MlKindInfo *
want_kind (MlBoardReader *reader, const MlStatement *statement, const MlDatasheet **ret_datasheet)
{
  const MlWord *word = statement->n_words > 2 ? &statement->words[2] : NULL;
  const MlKindInfo *kind;

  if (word == NULL || word->key != NULL)
    {
      const MlWord *last = word != NULL ? word : &statement->words[statement->n_words - 1];
      SAID (reader, last, "the kind of part is missing: part NAME KIND pin=net …");
      return NULL;
    }
  kind = ml_kind_find (word->text);
  if (kind != NULL)
    return kind;
  *ret_datasheet = find_datasheet (reader, word->text);
  if (*ret_datasheet != NULL)
    return (*ret_datasheet)->kind;
  say_unknown_kind (reader, word);
  return NULL;
}

/* ---- pins ---- */

static int
pin_position (const char *const *pins, const char *name)
{
  for (int i = 0; pins != NULL && pins[i] != NULL; i++)
    if (strcmp (pins[i], name) == 0)
      return i;
  return -1;
}

/* All pins of a kind with fixed pins, those left out open. */
static void
make_fixed_pins (MlPart *part, const char *const *names)
{
  part->n_pins = g_strv_length ((char **) names);
  part->pins = g_new0 (MlPin, part->n_pins);
  for (guint i = 0; i < part->n_pins; i++)
    part->pins[i] = (MlPin) { .name = g_strdup (names[i]), .net = -1 };
}

static gboolean
want_pin_net (MlBoardReader *reader, const MlWord *word, int *ret_net)
{
  const char *wrong;

  if (strcmp (word->text, "-") == 0)
    {
      *ret_net = -1;
      return TRUE;
    }
  wrong = word->quoted ? "a name is never quoted" : ml_name_check (word->text);
  if (wrong != NULL)
    {
      SAID_AT (reader, word->line, word->text_column, "'%s' cannot be the name of a net: %s", word->text, wrong);
      return FALSE;
    }
  *ret_net = ml_board_reader_net (reader, word->text, TRUE);
  return TRUE;
}

static void
add_any_pin (MlBoardReader *reader, GArray *pins, GHashTable *names, const MlWord *word, const char *name)
{
  MlPin pin = { .line = word->line + 1, .column = word->column };
  const char *wrong = ml_name_check (name);

  if (wrong != NULL)
    {
      SAID (reader, word, "'%s' cannot be the name of a pin: %s", name, wrong);
      return;
    }
  if (g_hash_table_contains (names, name))
    {
      SAID (reader, word, "pin %s is given twice", name);
      return;
    }
  if (pins->len == ML_BOARD_MAX_PINS)
    {
      SAID (reader, word, "a part has at most %u pins", ML_BOARD_MAX_PINS);
      return;
    }
  if (!want_pin_net (reader, word, &pin.net))
    return;
  pin.name = g_strdup (name);
  g_array_append_val (pins, pin);
  g_hash_table_add (names, pin.name);
}

/* `value` where the trade knows none. */
static void
say_no_value (MlBoardReader *reader, const MlWord *word, const MlKindInfo *kind)
{
  g_autofree char *keys = ml_kind_key_words (kind);

  if (kind->any_pins)
    SAID (reader, word, "%s has no value=; a pin of that name is written pin.value=NET", ml_kind_called (kind));
  else if (ml_kind_has_part_number (kind->kind))
    SAID (reader, word, "%s has no value=: a part number stands in place of its kind, as in `part NAME 1N4148 …`; its keys are: %s", ml_kind_called (kind), keys);
  else
    SAID (reader, word, "%s has no value=; its keys are: %s", ml_kind_called (kind), keys);
}

static void
say_unknown_key (MlBoardReader *reader, const MlWord *word, const MlKindInfo *kind, gboolean may_be_pin)
{
  MlNearest nearest;
  g_autofree char *meant = NULL;
  g_autofree char *keys = ml_kind_key_words (kind);
  g_autofree char *pins = g_strjoinv (" ", (char **) kind->pins);

  if (strcmp (word->key, "value") == 0)
    {
      say_no_value (reader, word, kind);
      return;
    }
  ml_nearest_start (&nearest, word->key);
  for (guint i = 0; may_be_pin && kind->pins[i] != NULL; i++)
    ml_nearest_offer_whole (&nearest, kind->pins[i]);
  for (guint i = 0; i < kind->n_keys; i++)
    ml_nearest_offer (&nearest, kind->keys[i].word);
  meant = ml_meant (&nearest);
  if (may_be_pin)
    SAID (reader, word, "'%s' is neither a pin nor a key of %s; its pins are: %s; its keys: %s%s", word->key, ml_kind_called (kind), pins, keys, meant);
  else
    SAID (reader, word, "'%s' is not a key of %s; its keys are: %s%s", word->key, ml_kind_called (kind), keys, meant);
}

static void
set_fixed_pin (MlBoardReader *reader, MlPart *part, const MlWord *word, int position)
{
  MlPin *pin = &part->pins[position];

  if (pin->line > 0)
    {
      SAID (reader, word, "pin %s is given twice", pin->name);
      return;
    }
  if (want_pin_net (reader, word, &pin->net))
    {
      pin->line = word->line + 1;
      pin->column = word->column;
    }
}

/* Which set of pin names a statement uses: a capacitor's 1 2 or plus minus. */
static const char *const *
used_pins (MlBoardReader *reader, const MlStatement *statement, const MlKindInfo *kind)
{
  const MlWord *first = NULL, *also = NULL;

  for (guint i = 3; i < statement->n_words; i++)
    if (statement->words[i].key != NULL)
      {
        if (pin_position (kind->pins_also, statement->words[i].key) >= 0)
          also = &statement->words[i];
        else if (pin_position (kind->pins, statement->words[i].key) >= 0)
          first = &statement->words[i];
      }
  if (first != NULL && also != NULL)
    SAID (reader, MAX (first, also), "write either the pins %s %s or %s %s, not both", kind->pins[0], kind->pins[1], kind->pins_also[0],
          kind->pins_also[1]);
  return also != NULL ? kind->pins_also : kind->pins;
}

static void
read_part_words (MlBoardReader *reader, const MlStatement *statement, MlPart *part, GArray *attributes)
{
  const MlKindInfo *kind = part->kind;
  GArray *pins = kind->any_pins ? g_array_new (FALSE, TRUE, sizeof (MlPin)) : NULL;
  g_autoptr (GHashTable) pin_names = g_hash_table_new (g_str_hash, g_str_equal);
  const char *const *names = kind->any_pins ? NULL : used_pins (reader, statement, kind);

  if (!kind->any_pins)
    make_fixed_pins (part, names);
  for (guint i = 3; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];
      const MlKeyInfo *info = word->key != NULL ? ml_kind_key (kind, word->key) : NULL;
      int position = word->key != NULL && names != NULL ? pin_position (names, word->key) : -1;

      if (word->key == NULL)
        SAID (reader, word, "'%s' is not expected here: pins are written pin=net, values key=value", word->text);
      else if (position >= 0)
        set_fixed_pin (reader, part, word, position);
      else if (kind->any_pins && g_str_has_prefix (word->key, ML_PIN_PREFIX))
        add_any_pin (reader, pins, pin_names, word, word->key + strlen (ML_PIN_PREFIX));
      else if (info != NULL)
        ml_board_reader_attribute (reader, word, info, attributes);
      else if (kind->any_pins && ml_kind_reserves (kind, word->key))
        say_no_value (reader, word, kind);
      else if (kind->any_pins)
        add_any_pin (reader, pins, pin_names, word, word->key);
      else if (pin_position (kind->pins_also, word->key) < 0 && pin_position (kind->pins, word->key) < 0)
        say_unknown_key (reader, word, kind, TRUE);
    }
  if (pins != NULL)
    {
      part->n_pins = pins->len;
      part->pins = (MlPin *) g_array_free (pins, FALSE);
    }
}

/* What the part number says, where the statement does not say otherwise. */
static void
add_datasheet (MlPart *part, GArray *attributes, const MlDatasheet *datasheet)
{
  guint written = attributes->len;

  part->datasheet = g_strdup (datasheet->name);
  for (guint i = 0; i < datasheet->n_attributes; i++)
    {
      MlAttribute attribute = datasheet->attributes[i];
      gboolean overridden = FALSE;

      for (guint k = 0; k < written; k++)
        overridden |= g_array_index (attributes, MlAttribute, k).info->key == attribute.info->key;
      if (overridden)
        continue;
      attribute.text = g_strdup (attribute.text);
      attribute.from_datasheet = TRUE;
      g_array_append_val (attributes, attribute);
    }
}

void
ml_board_reader_part_statement (MlBoardReader *reader, const MlStatement *statement)
{
  const MlDatasheet *datasheet = NULL;
  GArray *attributes;
  MlPart part = { .by = -1, .supply_pin = -1, .ground_pin = -1, .line = statement->line + 1 };
  const MlAttribute *package;
  int known;

  if (!ml_board_reader_name (reader, statement, 1, "part"))
    return;
  known = ml_board_reader_part (reader, statement->words[1].text);
  if (known >= 0)
    {
      SAID (reader, &statement->words[1], "there is a part %s already, in line %u", statement->words[1].text,
            g_array_index (reader->parts, MlPart, known).line);
      return;
    }
  if (reader->parts->len == ML_BOARD_MAX_PARTS)
    {
      SAID (reader, &statement->words[1], "a board has at most %u parts", ML_BOARD_MAX_PARTS);
      return;
    }
  part.kind = want_kind (reader, statement, &datasheet);
  if (part.kind == NULL)
    return;
  part.name = g_strdup (statement->words[1].text);
  attributes = g_array_new (FALSE, TRUE, sizeof (MlAttribute));
  read_part_words (reader, statement, &part, attributes);
  if (datasheet != NULL)
    add_datasheet (&part, attributes, datasheet);
  part.n_attributes = attributes->len;
  part.attributes = (MlAttribute *) g_array_free (attributes, FALSE);
  package = ml_part_attribute (&part, ML_KEY_PACKAGE);
  part.package = package != NULL ? g_strdup (package->text) : NULL;
  g_array_append_val (reader->parts, part);
  g_hash_table_insert (reader->part_index, part.name, GINT_TO_POINTER (reader->parts->len - 1));
}

/* ---- part numbers ---- */

void
ml_board_reader_datasheet (MlBoardReader *reader, const MlStatement *statement)
{
  MlDatasheet *datasheet;
  const MlKindInfo *kind;
  GArray *attributes;

  if (!ml_board_reader_name (reader, statement, 1, "part number"))
    return;
  if (ml_kind_find (statement->words[1].text) != NULL)
    {
      SAID (reader, &statement->words[1], "'%s' is the name of a kind and cannot be a part number", statement->words[1].text);
      return;
    }
  if (g_hash_table_contains (reader->datasheet_index, statement->words[1].text))
    {
      SAID (reader, &statement->words[1], "part number %s is given twice", statement->words[1].text);
      return;
    }
  kind = statement->n_words > 2 && statement->words[2].key == NULL ? ml_kind_find (statement->words[2].text) : NULL;
  if (kind == NULL)
    {
      if (statement->n_words > 2)
        say_unknown_kind (reader, &statement->words[2]);
      else
        SAID (reader, &statement->words[1], "the kind is missing: datasheet NAME KIND key=value …");
      return;
    }
  attributes = g_array_new (FALSE, TRUE, sizeof (MlAttribute));
  for (guint i = 3; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];
      const MlKeyInfo *info = word->key != NULL ? ml_kind_key (kind, word->key) : NULL;

      if (info != NULL)
        ml_board_reader_attribute (reader, word, info, attributes);
      else if (word->key != NULL)
        say_unknown_key (reader, word, kind, FALSE);
      else
        SAID (reader, word, "'%s' is not expected here: values are written key=value", word->text);
    }
  datasheet = g_new0 (MlDatasheet, 1);
  datasheet->name = g_strdup (statement->words[1].text);
  datasheet->kind = kind;
  datasheet->n_attributes = attributes->len;
  datasheet->attributes = (MlAttribute *) g_array_free (attributes, FALSE);
  g_ptr_array_add (reader->datasheets, datasheet);
  g_hash_table_insert (reader->datasheet_index, datasheet->name, datasheet);
}
