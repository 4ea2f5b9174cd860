/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/suppose.h"

#include <math.h>
#include <string.h>

#include "board/parameters.h"
#include "verdict/modes.h"

#define JOINT_OHM "300"
#define LEAK_OHM "1k"
#define VALUE_WORD "value" /* not a fault yet: the size says whether it drifted high or low */

/* One thing to suppose. pins: the pins it is about, comma-separated; NULL: none are named. size: what its size is asked for with; NULL: it has none. */
typedef struct { MlKind first, last; const char *label, *fault, *pins, *size; } Rule;

static const Rule rules[] = {
  { ML_KIND_RESISTOR, ML_KIND_RESISTOR, "Open", "open", NULL, NULL },
  { ML_KIND_RESISTOR, ML_KIND_RESISTOR, "Shorted", "short", NULL, NULL },
  { ML_KIND_RESISTOR, ML_KIND_RESISTOR, "Of another value…", VALUE_WORD, NULL, "" },
  { ML_KIND_POTENTIOMETER, ML_KIND_POTENTIOMETER, "Of another value…", VALUE_WORD, NULL, "" },
  { ML_KIND_LINK, ML_KIND_INDUCTOR, "Open", "open", NULL, NULL },
  { ML_KIND_CAPACITOR, ML_KIND_CAPACITOR, "Shorted", "short", NULL, NULL },
  { ML_KIND_CAPACITOR, ML_KIND_CAPACITOR, "Leaky…", "leak", NULL, LEAK_OHM },
  { ML_KIND_THERMISTOR, ML_KIND_TVS, "Open", "open", NULL, NULL },
  { ML_KIND_THERMISTOR, ML_KIND_TVS, "Shorted", "short", NULL, NULL },
  { ML_KIND_FUSE, ML_KIND_FUSE, "Blown", "open", NULL, NULL },
  { ML_KIND_COIL, ML_KIND_COIL, "Open winding", "open", NULL, NULL },
  { ML_KIND_COIL, ML_KIND_COIL, "Shorted", "short", NULL, NULL },
  { ML_KIND_SWITCH, ML_KIND_SWITCH, "Does not close", "open", NULL, NULL },
  { ML_KIND_SWITCH, ML_KIND_SWITCH, "Does not open", "short", NULL, NULL },
  { ML_KIND_LAMP, ML_KIND_LAMP, "Burnt out", "open", NULL, NULL },
  { ML_KIND_DIODE, ML_KIND_ZENER, "Open", "open", NULL, NULL },
  { ML_KIND_DIODE, ML_KIND_ZENER, "Shorted", "short", NULL, NULL },
  { ML_KIND_DIODE, ML_KIND_ZENER, "Leaky…", "leak", NULL, LEAK_OHM },
  { ML_KIND_DIODE, ML_KIND_ZENER, "The wrong way round", "reversed", NULL, NULL },
  { ML_KIND_NPN, ML_KIND_PNP, "Collector to emitter shorted", "short", "collector,emitter", NULL },
  { ML_KIND_NPN, ML_KIND_PNP, "Base to emitter shorted", "short", "base,emitter", NULL },
  { ML_KIND_NPN, ML_KIND_PNP, "Base to collector shorted", "short", "base,collector", NULL },
  { ML_KIND_NPN, ML_KIND_PNP, "Base to emitter open", "open", "base,emitter", NULL },
  { ML_KIND_NPN, ML_KIND_PNP, "Collector to emitter leaky…", "leak", "collector,emitter", LEAK_OHM },
  { ML_KIND_NPN, ML_KIND_NPN, "A pnp in its place", "wrong-part", NULL, NULL },
  { ML_KIND_PNP, ML_KIND_PNP, "An npn in its place", "wrong-part", NULL, NULL },
  { ML_KIND_OPTO, ML_KIND_OPTO, "Collector to emitter shorted", "short", "collector,emitter", NULL },
  { ML_KIND_OPTO, ML_KIND_OPTO, "Anode to cathode shorted", "short", "anode,cathode", NULL },
  { ML_KIND_CONVERTER, ML_KIND_CONVERTER, "Dead", "dead", NULL, NULL },
  { ML_KIND_REGULATOR, ML_KIND_REGULATOR, "Dead", "dead", NULL, NULL },
  { ML_KIND_REGULATOR, ML_KIND_REGULATOR, "Input through to output", "through", NULL, NULL },
};

void
ml_suppose_free (MlSuppose *suppose)
{
  g_free (suppose->label);
  g_free (suppose->words);
  g_free (suppose);
}

static void
add (GPtrArray *list, char *label, char *words, const char *size)
{
  MlSuppose *suppose = g_new (MlSuppose, 1);

  *suppose = (MlSuppose){ label, words, size };
  g_ptr_array_add (list, suppose);
}

static char *
rule_words (const char *part, const Rule *rule)
{
  GString *words = g_string_new (NULL);

  g_string_printf (words, "%s %s", part, rule->fault);
  if (rule->pins != NULL)
    g_string_append_printf (words, " pins=%s", rule->pins);
  return g_string_free (words, FALSE);
}

/* Between each two pins, where the rules do not say which. */
static void
add_shorts (GPtrArray *list, const MlPart *part)
{
  gboolean said = part->kind->kind == ML_KIND_NPN || part->kind->kind == ML_KIND_PNP;

  for (guint i = 0; i < part->n_pins && part->n_pins == 3 && !said; i++)
    for (guint k = i + 1; k < part->n_pins; k++)
      if (part->pins[i].net >= 0 && part->pins[k].net >= 0)
        {
          char *label = g_strdup_printf ("%s to %s shorted", part->pins[i].name, part->pins[k].name);
          label[0] = g_ascii_toupper (label[0]);
          add (list, label, g_strdup_printf ("%s short pins=%s,%s", part->name, part->pins[i].name, part->pins[k].name), NULL);
        }
}

/* A part of two pins is open between them: a rule says so. */
static void
add_opens (GPtrArray *list, const MlPart *part)
{
  for (guint i = 0; i < part->n_pins && part->n_pins > 2; i++)
    if (part->pins[i].net >= 0)
      add (list, g_strdup_printf ("Open at its %s", part->pins[i].name), g_strdup_printf ("%s open pins=%s", part->name, part->pins[i].name), NULL);
}

static void
add_worn_contacts (GPtrArray *list, const MlPart *part)
{
  for (guint i = 1; ml_part_wears (part) && i < part->n_pins; i++)
    if (part->pins[0].net >= 0 && part->pins[i].net >= 0)
      add (list, part->n_pins > 2 ? g_strdup_printf ("Worn contact to %s…", part->pins[i].name) : g_strdup ("Worn contact…"),
           g_strdup_printf ("%s joint pins=%s,%s", part->name, part->pins[0].name, part->pins[i].name), JOINT_OHM);
}

GPtrArray *
ml_suppose_list (const MlBoard *board, int part)
{
  GPtrArray *list = g_ptr_array_new_with_free_func ((GDestroyNotify) ml_suppose_free);
  const MlPart *chosen = &board->parts[part];

  for (guint i = 0; i < G_N_ELEMENTS (rules); i++)
    if (chosen->kind->kind >= rules[i].first && chosen->kind->kind <= rules[i].last)
      add (list, g_strdup (rules[i].label), rule_words (chosen->name, &rules[i]), rules[i].size);
  if (!chosen->kind->any_pins)
    {
      add_shorts (list, chosen);
      add_opens (list, chosen);
    }
  add_worn_contacts (list, chosen);
  for (guint i = 0; i < chosen->n_pins && chosen->kind->kind != ML_KIND_BLOCK && !chosen->kind->any_pins; i++)
    if (chosen->pins[i].net >= 0)
      add (list, g_strdup_printf ("Bad solder joint at %s…", chosen->pins[i].name),
           g_strdup_printf ("%s joint pins=%s", chosen->name, chosen->pins[i].name), JOINT_OHM);
  return list;
}

const MlSuppose *
ml_suppose_find (GPtrArray *list, const char *words)
{
  for (guint i = 0; i < list->len; i++)
    if (strcmp (((MlSuppose *) list->pdata[i])->words, words) == 0)
      return list->pdata[i];
  return NULL;
}

/* "×10", "x10", "10 times", "/10": how many times the value; NAN when it is no such thing. */
static double
typed_factor (const char *typed)
{
  static const struct { const char *before, *behind; gboolean divides; } ways[]
      = { { "×", "", FALSE }, { "x", "", FALSE }, { "X", "", FALSE }, { "*", "", FALSE }, { "/", "", TRUE }, { "", "×", FALSE }, { "", "x", FALSE },
          { "", "times", FALSE } };
  MlQuantity factor;

  for (guint i = 0; i < G_N_ELEMENTS (ways); i++)
    {
      gsize before = strlen (ways[i].before), behind = strlen (ways[i].behind), length = strlen (typed);
      if (length > before + behind && g_str_has_prefix (typed, ways[i].before) && g_str_has_suffix (typed, ways[i].behind)
          && ml_quantity_parse (typed + before, length - before - behind, ML_UNIT_NONE, ML_QUANTITY_COMMA, &factor, NULL) == ML_QUANTITY_OK)
        return ways[i].divides ? 1.0 / factor.value : factor.value;
    }
  return NAN;
}

static char *
value_words (const MlPart *part, const char *typed, GError **error)
{
  MlParameter nominal;
  MlQuantity ohms;
  double factor = typed_factor (typed);
  char size[G_ASCII_DTOSTR_BUF_SIZE];

  if (isnan (factor) && ml_quantity_parse (typed, strlen (typed), ML_UNIT_OHM, ML_QUANTITY_COMMA, &ohms, NULL) == ML_QUANTITY_OK
      && ml_part_parameter (part, ml_modes_main_parameter (part->kind->kind), &nominal) && nominal.centre > 0)
    factor = ohms.value / nominal.centre;
  if (!(factor > 0) || !isfinite (factor) || fabs (factor - 1.0) < 1e-9)
    {
      g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_ARGUMENT, "Type another value in ohms, such as 47k, or how many times its own, such as ×10 or /10.");
      return NULL;
    }
  g_ascii_formatd (size, sizeof size, "%.6g", factor);
  return g_strdup_printf ("%s %s size=%s", part->name, factor > 1.0 ? "high" : "low", size);
}

char *
ml_suppose_sized (const MlBoard *board, int part, const MlSuppose *suppose, const char *typed, GError **error)
{
  g_autofree char *plain = g_strstrip (g_strdup (typed));
  MlQuantity ohms;
  char size[G_ASCII_DTOSTR_BUF_SIZE];

  if (g_str_has_suffix (suppose->words, " " VALUE_WORD))
    return value_words (&board->parts[part], plain, error);
  if (ml_quantity_parse (plain, strlen (plain), ML_UNIT_OHM, ML_QUANTITY_COMMA, &ohms, NULL) != ML_QUANTITY_OK || !(ohms.value > 0))
    {
      g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_ARGUMENT, "Type how many ohms, such as 2R2, 300 or 4k7.");
      return NULL;
    }
  g_ascii_formatd (size, sizeof size, "%.6g", ohms.value);
  return g_strdup_printf ("%s size=%s", suppose->words, size);
}

char *
ml_suppose_ribbon (const MlBoard *board, const MlFault *fault)
{
  if (fault == NULL)
    return NULL;
  g_autofree char *words = ml_fault_title (board, fault), *plain = ml_fault_describe (board, fault);

  words[0] = plain[0]; /* not the beginning of a sentence */
  return g_strdup_printf ("supposing %s", words);
}
