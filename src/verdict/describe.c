/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults in a technician's words. */
#include "verdict/verdict-private.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

char *
ml_say_quantity (double value, MlUnit unit)
{
  char buffer[64];

  ml_quantity_format (value, unit, 3, false, buffer, sizeof buffer);
  return g_strdup (buffer);
}

static const char *
net_name (const MlBoard *board, int net)
{
  const MlNet *own = net >= 0 ? &board->nets[net] : NULL;

  return own ? (own->label ? own->label : own->words) : "?";
}

static const char *
pin_name (const MlPart *part, const MlFault *fault, guint i)
{
  return i < fault->n_pins && fault->pins[i] >= 0 && (guint) fault->pins[i] < part->n_pins ? part->pins[fault->pins[i]].name : "?";
}

/* "collector to emitter", nothing for parts with two pins. */
static char *
between (const MlPart *part, const MlFault *fault)
{
  if (part->n_pins <= 2 || fault->n_pins < 2)
    return g_strdup ("");
  return g_strdup_printf (" from %s to %s", pin_name (part, fault, 0), pin_name (part, fault, 1));
}

static char *
describe_open (const MlPart *part, const MlFault *fault)
{
  g_autofree char *pins = between (part, fault);

  if (fault->n_pins == 1)
    return g_strdup_printf ("%s open at its %s", part->name, pin_name (part, fault, 0));
  return g_strdup_printf ("%s open%s", part->name, pins);
}

gboolean
ml_part_wears (const MlPart *part)
{
  return part->kind->kind == ML_KIND_SWITCH || part->kind->kind == ML_KIND_CHANGEOVER || part->kind->kind == ML_KIND_CONTACT;
}

gboolean
ml_fault_is_worn_contact (const MlFault *fault)
{
  return fault->kind == ML_FAULT_JOINT && fault->n_pins > 1;
}

static char *
describe_joint (const MlPart *part, const MlFault *fault)
{
  const char *pin = fault->n_pins ? pin_name (part, fault, 0) : part->n_pins ? part->pins[0].name : "?";
  g_autofree char *pins = between (part, fault);

  if (ml_fault_is_worn_contact (fault))
    return g_strdup_printf ("worn contact in %s%s", part->name, pins);
  if (g_ascii_isdigit (pin[0]))
    return g_strdup_printf ("solder joint at %s, pin %s", part->name, pin);
  return g_strdup_printf ("solder joint at %s's %s", part->name, pin);
}

static char *
describe_drift (const MlPart *part, const MlFault *fault)
{
  const char *way = fault->kind == ML_FAULT_HIGH ? "high" : "low";

  switch (part->kind->kind)
    {
    case ML_KIND_RESISTOR:
    case ML_KIND_POTENTIOMETER:
    case ML_KIND_THERMISTOR: return g_strdup_printf ("%s drifted %s", part->name, way);
    case ML_KIND_COIL: return g_strdup_printf ("%s too %s in resistance (shorted turns)", part->name, way);
    default: return g_strdup_printf ("%s giving too %s a voltage", part->name, way);
    }
}

static char *
describe_cut (const MlBoard *board, const MlFault *fault)
{
  GString *text = g_string_new (NULL);

  for (guint i = 0; i < fault->n_cut; i++)
    {
      const MlPart *part = &board->parts[fault->cut_parts[i]];
      g_string_append_printf (text, "%s%s.%s", i ? ", " : "", part->name, part->pins[fault->cut_pins[i]].name);
    }
  return g_string_free (text, FALSE);
}

static char *
describe_exchange (const MlPart *part, const MlFault *fault)
{
  if (fault->n_pins == 2)
    return g_strdup_printf ("%s's %s and %s are drawn exchanged", part->name, pin_name (part, fault, 0), pin_name (part, fault, 1));
  return g_strdup_printf ("%s's pins are drawn in the wrong order", part->name);
}

static char *
describe_other_part (const MlPart *part, const MlFault *fault)
{
  if (part->kind->kind == ML_KIND_DIODE)
    return g_strdup_printf ("%s is a Schottky diode, which the drawing does not say", part->name);
  if (part->kind->kind == ML_KIND_LED)
    return g_strdup_printf ("%s is of the newer, true green, which drops about 3 V", part->name);
  return g_strdup_printf ("wrong part fitted as %s%s%s", part->name, fault->as ? ": " : "", fault->as ? fault->as : "");
}

static char *
describe_wrong_net (const MlBoard *board, const MlPart *part, const MlFault *fault)
{
  const char *pin = pin_name (part, fault, 0), *gap = g_ascii_isdigit (pin[0]) ? " pin " : "'s ";

  if (fault->net_b < 0)
    return g_strdup_printf ("%s%s%s is on net %s", part->name, gap, pin, net_name (board, fault->net_a));
  return g_strdup_printf ("%s%s%s is on net %s, not on %s as drawn", part->name, gap, pin, net_name (board, fault->net_a),
                          net_name (board, fault->net_b));
}

static char *
describe_part_fault (const MlPart *part, const MlFault *fault)
{
  g_autofree char *pins = between (part, fault);

  switch (fault->kind)
    {
    case ML_FAULT_OPEN: return describe_open (part, fault);
    case ML_FAULT_JOINT: return describe_joint (part, fault);
    case ML_FAULT_SHORT: return g_strdup_printf ("%s shorted%s", part->name, pins);
    case ML_FAULT_LEAK: return g_strdup_printf ("%s leaking%s", part->name, pins);
    case ML_FAULT_HIGH:
    case ML_FAULT_LOW: return describe_drift (part, fault);
    case ML_FAULT_REVERSED: return g_strdup_printf ("%s the wrong way round", part->name);
    case ML_FAULT_DEAD: return g_strdup_printf ("%s dead", part->name);
    case ML_FAULT_THROUGH: return g_strdup_printf ("%s shorted from input to output", part->name);
    case ML_FAULT_STUCK_HIGH: return g_strdup_printf ("output of %s stuck high", part->name);
    case ML_FAULT_STUCK_LOW: return g_strdup_printf ("output of %s stuck low", part->name);
    case ML_FAULT_MISBEHAVING: return g_strdup_printf ("%s misbehaving", part->name);
    case ML_FAULT_STOPPED: return g_strdup_printf ("%s not switching", part->name);
    case ML_FAULT_WRONG_PART: return describe_other_part (part, fault);
    case ML_FAULT_DRAWN_REVERSED: return g_strdup_printf ("%s is the other way round than drawn", part->name);
    case ML_FAULT_PINS_EXCHANGED: return describe_exchange (part, fault);
    default: return g_strdup_printf ("%s faulty", part->name);
    }
}

char *
ml_fault_describe (const MlBoard *board, const MlFault *fault)
{
  g_autofree char *pins = NULL;

  switch (fault->kind)
    {
    case ML_FAULT_STRAY_LINK:
      return g_strdup_printf ("stray link from %s to %s", net_name (board, fault->net_a), net_name (board, fault->net_b));
    case ML_FAULT_MISSING_LINK:
      return g_strdup_printf ("%s and %s are one net on the board", net_name (board, fault->net_a), net_name (board, fault->net_b));
    case ML_FAULT_BROKEN_TRACK:
      pins = describe_cut (board, fault);
      return g_strdup_printf ("broken track on %s: %s cut off", net_name (board, fault->net_a), pins);
    case ML_FAULT_EXTRA_LINK:
      pins = describe_cut (board, fault);
      return g_strdup_printf ("%s is not on %s on the board", pins, net_name (board, fault->net_a));
    default:
      if (fault->part < 0 || (guint) fault->part >= board->n_parts)
        return g_strdup ("nothing faulty");
      if (fault->kind == ML_FAULT_WRONG_NET)
        return describe_wrong_net (board, &board->parts[fault->part], fault);
      return describe_part_fault (&board->parts[fault->part], fault);
    }
}

char *
ml_fault_title (const MlBoard *board, const MlFault *fault)
{
  g_autofree char *words = ml_fault_describe (board, fault);

  /* A part's name keeps its own case; "solder joint" and its like begin a sentence here. */
  if (fault->part < 0 || !g_str_has_prefix (words, board->parts[fault->part].name))
    words[0] = g_ascii_toupper (words[0]);
  if (!isfinite (fault->size) || fault->size_in == ML_SIZE_NONE || (fault->kind == ML_FAULT_WRONG_PART && fault->as)
      || (fault->kind == ML_FAULT_STRAY_LINK && fault->size < ml_assumption ("size.leak-low-ohm")))
    return g_steal_pointer (&words);
  if (fault->size_in == ML_SIZE_FACTOR)
    {
      char number[G_ASCII_DTOSTR_BUF_SIZE];
      /* two digits, but nobody reads 1.2e+02 */
      g_ascii_formatd (number, sizeof number, "%.1e", fault->size);
      double rounded = g_ascii_strtod (number, NULL);
      g_ascii_formatd (number, sizeof number, rounded < 100 ? "%.2g" : "%.0f", rounded);
      return g_strdup_printf ("%s, about %s times its value", words, number);
    }
  if (fault->kind == ML_FAULT_SHORT || fault->kind == ML_FAULT_THROUGH)
    return g_steal_pointer (&words);
  {
    char buffer[64];
    ml_quantity_format (fault->size, fault->size_in == ML_SIZE_OHM ? ML_UNIT_OHM : ML_UNIT_VOLT, 2, false, buffer, sizeof buffer);
    return g_strdup_printf ("%s, about %s", words, buffer);
  }
}
