/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Centre and spread of a part's parameters: a row of the table of defaults, changed by what the part or its part number says. */
#include "board/parameters.h"

#include <math.h>
#include <string.h>

#include "board/board-private.h"

#define UNREAD_LEAST 3 /* times as wide as a written value: nothing is known of it */

typedef struct
{
  MlKind kind;
  char *variant; /* NULL: any */
  MlParameter parameter;
} Row;

/* ---- the table ---- */

static MlUnit
unit_named (const char *word)
{
  static const struct { const char *word; MlUnit unit; } units[]
      = { { "ohm", ML_UNIT_OHM }, { "V", ML_UNIT_VOLT }, { "A", ML_UNIT_AMPERE }, { "W", ML_UNIT_WATT }, { "K", ML_UNIT_KELVIN } };

  for (guint i = 0; i < G_N_ELEMENTS (units); i++)
    if (strcmp (units[i].word, word) == 0)
      return units[i].unit;
  return ML_UNIT_NONE;
}

static gboolean
number (const char *word, double *ret_value)
{
  MlQuantity quantity;

  if (strcmp (word, "-") == 0)
    {
      *ret_value = NAN;
      return TRUE;
    }
  if (ml_quantity_parse (word, strlen (word), ML_UNIT_NONE, ML_QUANTITY_PLAIN, &quantity, NULL) != ML_QUANTITY_OK)
    return FALSE;
  *ret_value = quantity.value;
  return TRUE;
}

static gboolean
read_row (const MlStatement *statement, Row *row)
{
  const MlWord *words = statement->words;
  g_auto (GStrv) kind = statement->n_words == 9 ? g_strsplit (words[0].text, ":", 2) : NULL;
  const MlKindInfo *info = kind != NULL ? ml_kind_find (kind[0]) : NULL;

  if (info == NULL)
    return FALSE;
  row->kind = info->kind;
  row->variant = kind[1] != NULL && strcmp (kind[1], "*") != 0 ? g_strdup (kind[1]) : NULL;
  row->parameter = (MlParameter) { .name = g_intern_string (words[1].text), .unit = unit_named (words[2].text),
                                   .log = strcmp (words[5].text, "log") == 0, .origin = ML_ORIGIN_DEFAULT,
                                   .source = g_intern_string (words[8].text) };
  return number (words[3].text, &row->parameter.centre) && number (words[4].text, &row->parameter.spread)
         && number (words[6].text, &row->parameter.shared) && number (words[7].text, &row->parameter.carried);
}

static GArray *
load_rows (void)
{
  g_autofree char *content = ml_data_lookup ("defaults.table");
  g_autoptr (MlText) text = ml_text_new ("defaults.table", content, -1);
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  GArray *rows = g_array_new (FALSE, TRUE, sizeof (Row));
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    {
      Row row = { 0 };

      if (read_row (statement, &row))
        g_array_append_val (rows, row);
      else
        g_critical ("defaults.table:%u: not a row", statement->line + 1);
    }
  return rows;
}

static const GArray *
rows (void)
{
  static gsize once = 0;
  static GArray *loaded;

  if (g_once_init_enter (&once))
    {
      loaded = load_rows ();
      g_once_init_leave (&once, 1);
    }
  return loaded;
}

/* ---- which rows a part has ---- */

static const char *
variant_of (const MlPart *part)
{
  const MlAttribute *attribute;

  switch (part->kind->kind)
    {
    case ML_KIND_CAPACITOR:
      return part->n_pins && g_ascii_isdigit (part->pins[0].name[0]) ? "plain" : "polar";
    case ML_KIND_DIODE:
      attribute = ml_part_attribute (part, ML_KEY_FAMILY);
      return attribute != NULL ? attribute->text : "silicon";
    case ML_KIND_LED:
      attribute = ml_part_attribute (part, ML_KEY_COLOUR);
      return attribute != NULL ? attribute->text : "unknown";
    case ML_KIND_ZENER:
      attribute = ml_part_attribute (part, ML_KEY_VOLTAGE);
      return attribute != NULL && attribute->quantity.value < 5 ? "low" : "high";
    case ML_KIND_COMPARATOR:
      attribute = ml_part_attribute (part, ML_KEY_OUTPUT);
      return attribute != NULL ? attribute->text : "open";
    default:
      return NULL;
    }
}

static gboolean
row_is_of (const Row *row, const MlPart *part, const char *variant)
{
  return row->kind == part->kind->kind && (row->variant == NULL || (variant != NULL && strcmp (row->variant, variant) == 0));
}

static const Row *
row_at (const MlPart *part, guint i)
{
  const char *variant = variant_of (part);
  const GArray *all = rows ();

  for (guint k = 0; k < all->len; k++)
    if (row_is_of (&g_array_index (all, Row, k), part, variant) && i-- == 0)
      return &g_array_index (all, Row, k);
  return NULL;
}

guint
ml_part_n_parameters (const MlPart *part)
{
  const char *variant = variant_of (part);
  const GArray *all = rows ();
  guint n = 0;

  for (guint k = 0; k < all->len; k++)
    n += row_is_of (&g_array_index (all, Row, k), part, variant);
  return n;
}

/* ---- what the part says ---- */

typedef struct
{
  MlKind kind; /* ML_N_KINDS: every kind that has the parameter */
  const char *parameter;
  MlKey key;
  gboolean at;      /* the quantity behind @ */
  double tolerance; /* half-width as a fraction when none is written; 0: the row's own spread stays */
} Written;

/* Which key gives which parameter, and how exact a written value is (half-widths: common practice). */
static const Written written[] = {
  { ML_KIND_RESISTOR, "value", ML_KEY_VALUE, FALSE, 0.05 },
  { ML_KIND_POTENTIOMETER, "value", ML_KEY_VALUE, FALSE, 0.20 },
  { ML_KIND_POTENTIOMETER, "position", ML_KEY_POSITION, FALSE, 0.1 }, /* of the whole travel */
  { ML_KIND_THERMISTOR, "value", ML_KEY_VALUE, FALSE, 0.20 },
  { ML_KIND_THERMISTOR, "beta", ML_KEY_BETA, FALSE, 0 },
  { ML_KIND_COIL, "resistance", ML_KEY_RESISTANCE, FALSE, 0.10 },
  { ML_N_KINDS, "resistance", ML_KEY_RESISTANCE, FALSE, 0.3 },
  { ML_KIND_COIL, "pull", ML_KEY_PULL, FALSE, 0.2 },
  { ML_KIND_COIL, "release", ML_KEY_RELEASE, FALSE, 0.3 },
  { ML_N_KINDS, "clamp", ML_KEY_CLAMP, FALSE, 0.1 },
  { ML_KIND_LAMP, "power", ML_KEY_POWER, FALSE, 0.2 },
  { ML_N_KINDS, "drop", ML_KEY_DROP, FALSE, 0 },
  { ML_KIND_ZENER, "at", ML_KEY_VOLTAGE, TRUE, 0 },
  { ML_N_KINDS, "at", ML_KEY_DROP, TRUE, 0 },
  { ML_KIND_ZENER, "voltage", ML_KEY_VOLTAGE, FALSE, 0.05 },
  { ML_KIND_BATTERY, "voltage", ML_KEY_VOLTAGE, FALSE, 0.05 },
  { ML_N_KINDS, "voltage", ML_KEY_VOLTAGE, FALSE, 0.03 },
  { ML_N_KINDS, "gain", ML_KEY_GAIN, FALSE, 0 },
  { ML_N_KINDS, "threshold", ML_KEY_THRESHOLD, FALSE, 0 },
  { ML_N_KINDS, "idss", ML_KEY_IDSS, FALSE, 0 },
  { ML_N_KINDS, "trigger", ML_KEY_TRIGGER, FALSE, 0 },
  { ML_N_KINDS, "hold", ML_KEY_HOLD, FALSE, 0 },
  { ML_N_KINDS, "dropout", ML_KEY_DROPOUT, FALSE, 0 },
  { ML_N_KINDS, "limit", ML_KEY_LIMIT, FALSE, 0 },
  { ML_N_KINDS, "reference", ML_KEY_REFERENCE, FALSE, 0.02 },
  { ML_N_KINDS, "offset", ML_KEY_OFFSET, FALSE, 0 },
  { ML_N_KINDS, "bias", ML_KEY_BIAS, FALSE, 0.8 },
  /* Twice the typical at most (TL07x at 10 kohm: 1.5 V, at most 3 V), even four times near a rail (LM358: 5 mV, at most 20 mV; data sheets, from memory). */
  { ML_KIND_OPAMP, "upper_loss", ML_KEY_HEADROOM, FALSE, 0.6 },
  { ML_KIND_OPAMP, "lower_loss", ML_KEY_FOOTROOM, FALSE, 0.8 },
  { ML_N_KINDS, "ratio", ML_KEY_RATIO, FALSE, 0 },
  { ML_N_KINDS, "efficiency", ML_KEY_EFFICIENCY, FALSE, 0 },
  { ML_N_KINDS, "start", ML_KEY_START, FALSE, 0 },
};

static const Written *
written_as (const MlPart *part, const char *name)
{
  /* The engine's opamp gain is no transistor's gain, and an npn's is its own. */
  for (guint i = 0; i < G_N_ELEMENTS (written); i++)
    if ((written[i].kind == part->kind->kind || written[i].kind == ML_N_KINDS) && strcmp (written[i].parameter, name) == 0)
      return &written[i];
  return NULL;
}

/* Half-width: what the part says, else IEC 60062's letter, else the usual one. */
static double
half_width (const MlPart *part, const MlAttribute *attribute, double usual)
{
  const MlAttribute *tolerance = ml_part_attribute (part, ML_KEY_TOLERANCE);

  if (tolerance != NULL && (attribute->info->key == ml_kind_main_key (part->kind->kind) || attribute->info->key == ML_KEY_VOLTAGE
                            || attribute->info->key == ML_KEY_RESISTANCE || attribute->info->key == ML_KEY_REFERENCE
                            || attribute->info->key == ML_KEY_CLAMP))
    return tolerance->quantity.value;
  return isnan (attribute->quantity.tolerance) ? usual : attribute->quantity.tolerance;
}

double
ml_position_spread (void)
{
  for (guint i = 0; i < G_N_ELEMENTS (written); i++)
    if (written[i].key == ML_KEY_POSITION)
      return written[i].tolerance / sqrt (3);
  g_return_val_if_reached (0);
}

/* The models count a p-channel transistor's threshold and a junction FET's pinch-off as positive figures; data sheets give most of them with
 * the sign of the gate voltage (-2 V). Only an nmos means its sign: a negative one is a depletion type. */
static gboolean
means_its_size (MlKind kind, MlKey key)
{
  return key == ML_KEY_THRESHOLD && (kind == ML_KIND_PMOS || kind == ML_KIND_NJFET || kind == ML_KIND_PJFET);
}

static void
apply_written (const MlPart *part, MlParameter *parameter)
{
  const Written *how = written_as (part, parameter->name);
  const MlAttribute *attribute = how != NULL ? ml_part_attribute (part, how->key) : NULL;
  double value, width;

  if (attribute == NULL)
    return;
  value = how->at ? attribute->at.value : attribute->quantity.value;
  if (isnan (value))
    return;
  if (means_its_size (part->kind->kind, how->key))
    value = fabs (value);
  parameter->centre = value;
  parameter->origin = attribute->from_datasheet ? ML_ORIGIN_DATASHEET : ML_ORIGIN_WRITTEN;
  parameter->source = NULL;
  width = how->at ? 0 : half_width (part, attribute, how->tolerance);
  /* JCGM 100:2008 4.3.7: a rectangular distribution of half-width a has the standard uncertainty a / sqrt 3. */
  if (how->key == ML_KEY_POSITION)
    parameter->spread = ml_position_spread ();
  else if (width > 0)
    parameter->spread = width / sqrt (3) * (parameter->log ? 1 : fabs (value));
  if (parameter->log && value <= 0) /* "resistance=0" is exact, and negative voltages have no logarithm */
    {
      parameter->log = FALSE;
      parameter->spread = fabs (value) * width / sqrt (3);
    }
}

/* Whose value nobody could read is of the same value on every unit, whatever that is: only tolerances differ. Of the variance (spread^2) all is common but
 * the share of a tolerance, of which `carried` is common as well. Settings are no values. */
static void
apply_unread (const MlPart *part, MlParameter *parameter)
{
  const Written *how = written_as (part, parameter->name);
  double width = how != NULL && how->key != ML_KEY_POSITION ? how->tolerance / sqrt (3) * (parameter->log ? 1 : fabs (parameter->centre)) : 0;

  if (parameter->origin == ML_ORIGIN_DEFAULT && width > 0 && parameter->spread > UNREAD_LEAST * width)
    parameter->carried = 1 - (1 - parameter->carried) * pow (width / parameter->spread, 2);
}

/* Series resistance of a junction: 0.6 x share of the drop at the stated current; the shares are judgement. *ret_most: the junction itself
 * keeps most of the drop whatever the part (judgement), or a sound blue lamp could show 1.5 V. */
static double
series_ohm (const MlPart *part, double *ret_most)
{
  MlParameter drop, at;
  const char *variant = variant_of (part);
  double share = 0.03;

  if (part->kind->kind == ML_KIND_LED)
    share = 0.02;
  else if (variant != NULL && strcmp (variant, "schottky") == 0)
    share = 0.05;
  else if (variant != NULL && strcmp (variant, "germanium") == 0)
    share = 0.2;
  *ret_most = 0.35 * 65;
  if (!ml_part_parameter (part, "drop", &drop) || !ml_part_parameter (part, "at", &at))
    return 0.6 * share * 65;
  *ret_most = 0.35 * drop.centre / at.centre;
  return 0.6 * share * drop.centre / at.centre;
}

/* on=OHM@V: in the triode region with a small drain voltage r = 1 / (2 k (v - threshold)), i = k (2 (v - t) u - u^2). */
static void
apply_on (const MlPart *part, MlParameter *parameter)
{
  const MlAttribute *on = ml_part_attribute (part, ML_KEY_ON);
  MlParameter threshold;

  if (on == NULL || isnan (on->at.value) || !ml_part_parameter (part, "threshold", &threshold))
    return;
  if (fabs (on->at.value) <= threshold.centre || on->quantity.value <= 0)
    return;
  parameter->centre = 1 / (2 * on->quantity.value * (fabs (on->at.value) - threshold.centre));
  parameter->spread = 0.4;
  parameter->origin = on->from_datasheet ? ML_ORIGIN_DATASHEET : ML_ORIGIN_WRITTEN;
  parameter->source = NULL;
}

static MlParameter
parameter_of (const MlPart *part, const Row *row)
{
  MlParameter parameter = row->parameter;

  apply_written (part, &parameter);
  apply_unread (part, &parameter);
  if (strcmp (parameter.name, "k") == 0)
    apply_on (part, &parameter);
  if (isnan (parameter.centre))
    parameter.centre = series_ohm (part, &parameter.most);
  return parameter;
}

MlParameter
ml_part_parameter_at (const MlPart *part, guint i)
{
  const Row *row = row_at (part, i);

  g_return_val_if_fail (row != NULL, (MlParameter) { 0 });
  return parameter_of (part, row);
}

gboolean
ml_part_parameter (const MlPart *part, const char *name, MlParameter *ret_parameter)
{
  const char *variant = variant_of (part);
  const GArray *all = rows ();

  for (guint k = 0; k < all->len; k++)
    {
      const Row *row = &g_array_index (all, Row, k);

      if (row_is_of (row, part, variant) && strcmp (row->parameter.name, name) == 0)
        {
          *ret_parameter = parameter_of (part, row);
          return TRUE;
        }
    }
  return FALSE;
}
