/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Supposed faults as a person types them: "Q2 joint pins=emitter size=310", "stray-link nets=A,B size=20". */
#include "verdict/judge.h"

#include <math.h>
#include <string.h>

#include "board/nearest.h"

static gboolean
refuse (GError **error, const char *format, ...) G_GNUC_PRINTF (2, 3);

static gboolean
refuse (GError **error, const char *format, ...)
{
  g_autofree char *text = NULL;
  va_list arguments;

  va_start (arguments, format);
  text = g_strdup_vprintf (format, arguments);
  va_end (arguments);
  g_set_error_literal (error, ML_JUDGE_ERROR, ML_JUDGE_ERROR_BAD_SUPPOSE, text);
  return FALSE;
}

/* The kind is -1 where a word is no fault. */
static gboolean
joins_nets (int kind)
{
  return kind == ML_FAULT_STRAY_LINK || kind == ML_FAULT_MISSING_LINK;
}

static gboolean
is_board_fault (int kind)
{
  return joins_nets (kind) || kind == ML_FAULT_BROKEN_TRACK || kind == ML_FAULT_EXTRA_LINK;
}

static gboolean
refuse_pin (const MlPart *part, const char *value, const char *name, GError **error)
{
  g_autoptr (GString) pins = g_string_new (NULL);

  for (guint i = 0; i < part->n_pins; i++)
    g_string_append_printf (pins, " %s", part->pins[i].name);
  return refuse (error, "pins=%s: %s has no pin \"%s\"; its pins are:%s", value, part->name, name, pins->str);
}

static gboolean
parse_pins (const MlBoard *board, MlFault *fault, const char *value, GError **error)
{
  g_auto (GStrv) names = g_strsplit (value, ",", -1);

  for (guint i = 0; names[i]; i++)
    {
      const MlPart *part = &board->parts[fault->part];
      int pin = ml_part_find_pin (part, names[i]);

      if (pin < 0)
        return refuse_pin (part, value, names[i], error);
      if (fault->n_pins == ML_FAULT_MAX_PINS)
        return refuse (error, "pins=%s: at most %d pins", value, ML_FAULT_MAX_PINS);
      fault->pins[fault->n_pins++] = pin;
    }
  return TRUE;
}

static gboolean
parse_cut (const MlBoard *board, MlFault *fault, const char *value, GError **error)
{
  g_auto (GStrv) names = g_strsplit (value, ",", -1);

  for (guint i = 0; names[i]; i++)
    {
      MlProbe probe;

      if (!ml_probe_parse (board, names[i], &probe) || probe.part < 0)
        return refuse (error, "pins=%s: \"%s\" is no pin; write PART.PIN", value, names[i]);
      if (fault->n_cut == ML_FAULT_MAX_PINS)
        return refuse (error, "pins=%s: at most %d pins", value, ML_FAULT_MAX_PINS);
      fault->cut_parts[fault->n_cut] = probe.part;
      fault->cut_pins[fault->n_cut++] = probe.pin;
    }
  return TRUE;
}

static gboolean
parse_nets (const MlBoard *board, MlFault *fault, const char *value, GError **error)
{
  gboolean two = joins_nets ((int) fault->kind);
  g_auto (GStrv) names = g_strsplit (value, ",", -1);
  guint n = g_strv_length (names);

  if (n != (two ? 2u : 1u))
    return refuse (error, "nets=%s: %s needs %s", value, ml_fault_word (fault->kind), two ? "two nets, as in nets=A,B" : "one net");
  for (guint i = 0; i < n; i++)
    {
      MlProbe probe; /* a net, or a pin that is on it, as texts tell a net that nobody named */

      if (!ml_probe_parse (board, names[i], &probe) || probe.net < 0 || probe.lead)
        return refuse (error, "nets=%s: there is no net \"%s\"", value, names[i]);
      *(i ? &fault->net_b : &fault->net_a) = probe.net;
    }
  if (two && fault->net_a == fault->net_b)
    return refuse (error, "nets=%s: two different nets are needed", value);
  return TRUE;
}

static gboolean
parse_size (MlFault *fault, const char *value, GError **error)
{
  MlQuantity quantity;
  gboolean factor = fault->size_in == ML_SIZE_FACTOR;
  MlQuantityStatus status = ml_quantity_parse (value, strlen (value), factor ? ML_UNIT_NONE : ML_UNIT_OHM, ML_QUANTITY_PLAIN, &quantity, NULL);

  if (fault->size_in == ML_SIZE_NONE)
    return refuse (error, "size=%s: %s has no size", value, ml_fault_word (fault->kind));
  if (status != ML_QUANTITY_OK)
    return refuse (error, "size=%s: %s; expected %s such as %s", value, ml_quantity_status_text (status), factor ? "a factor" : "ohms",
                   factor ? "0.5 or 3" : "4k7 or 330");
  if (quantity.value < 0 || (factor && quantity.value <= 0))
    return refuse (error, "size=%s: a size is positive", value);
  fault->size = quantity.value;
  return TRUE;
}

static gboolean
parse_key (const MlBoard *board, MlFault *fault, const char *word, GError **error)
{
  const char *equals = strchr (word, '=');
  const char *value = equals ? equals + 1 : "";

  if (g_str_has_prefix (word, "pins=") || g_str_has_prefix (word, "pin="))
    return fault->part >= 0 ? parse_pins (board, fault, value, error) : parse_cut (board, fault, value, error);
  if (g_str_has_prefix (word, "nets=") || g_str_has_prefix (word, "net="))
    return fault->part < 0 || fault->kind == ML_FAULT_WRONG_NET ? parse_nets (board, fault, value, error)
                           : refuse (error, "%s: a part's fault has pins, not nets", word);
  if (g_str_has_prefix (word, "size="))
    return parse_size (fault, value, error);
  if (g_str_has_prefix (word, "as=") && fault->kind == ML_FAULT_WRONG_PART)
    {
      g_free (fault->as);
      fault->as = g_strdup (value);
      return TRUE;
    }
  return refuse (error, "\"%s\" is not understood; expected pins=, nets=, size= or (of a wrong part) as=", word);
}

static gboolean
is_complete (const MlFault *fault, GError **error)
{
  if (joins_nets ((int) fault->kind) && fault->net_b < 0)
    return refuse (error, "%s: say which nets, as in nets=A,B", ml_fault_word (fault->kind));
  if ((fault->kind == ML_FAULT_BROKEN_TRACK || fault->kind == ML_FAULT_EXTRA_LINK) && !fault->n_cut)
    return refuse (error, "%s: say which pins are cut off, as in pins=U1.1,C3.1", ml_fault_word (fault->kind));
  if (fault->kind == ML_FAULT_WRONG_NET && (fault->n_pins != 1 || fault->net_a < 0))
    return refuse (error, "%s: say which pin is on which net, as in pins=1 nets=A", ml_fault_word (fault->kind));
  return TRUE;
}

static MlSizeIn
size_in (MlFaultKind kind)
{
  switch (kind)
    {
    case ML_FAULT_HIGH:
    case ML_FAULT_LOW:
    case ML_FAULT_WRONG_PART: return ML_SIZE_FACTOR;
    case ML_FAULT_JOINT:
    case ML_FAULT_SHORT:
    case ML_FAULT_LEAK:
    case ML_FAULT_THROUGH:
    case ML_FAULT_STUCK_HIGH:
    case ML_FAULT_STUCK_LOW:
    case ML_FAULT_STRAY_LINK:
    case ML_FAULT_MISSING_LINK: return ML_SIZE_OHM;
    default: return ML_SIZE_NONE;
    }
}

static gboolean
refuse_part (const MlBoard *board, const char *word, GError **error)
{
  MlNearest nearest;

  ml_nearest_start (&nearest, word);
  for (guint i = 0; i < board->n_parts; i++)
    ml_nearest_offer (&nearest, board->parts[i].name);
  for (int kind = 0; kind < ML_N_FAULTS; kind++)
    if (is_board_fault (kind))
      ml_nearest_offer (&nearest, ml_fault_word (kind));
  return refuse (error, "there is no part \"%s\"%s%s%s", word, nearest.best ? "; did you mean " : "", nearest.best ? nearest.best : "",
                 nearest.best ? "?" : "");
}

static gboolean
refuse_fault (const char *part, const char *word, GError **error)
{
  g_autoptr (GString) known = g_string_new (NULL);
  MlNearest nearest;

  if (is_board_fault (ml_fault_find (word)))
    return refuse (error, "%s is no fault of a part: leave %s away, as in \"%s %s\"", word, part, word,
                   joins_nets (ml_fault_find (word)) ? "nets=A,B" : "pins=U1.1");
  ml_nearest_start (&nearest, word);
  for (int kind = 0; kind < ML_N_FAULTS; kind++)
    if (!is_board_fault (kind))
      {
        g_string_append_printf (known, "%s%s", known->len ? ", " : "", ml_fault_word (kind));
        ml_nearest_offer (&nearest, ml_fault_word (kind));
      }
  return refuse (error, "\"%s\" is not a fault of a part; expected one of: %s%s%s%s", word, known->str, nearest.best ? "; did you mean " : "",
                 nearest.best ? nearest.best : "", nearest.best ? "?" : "");
}

static gboolean
parse_words (const MlBoard *board, char **words, MlFault *fault, GError **error)
{
  guint next = 0;
  int kind = words[0] ? ml_fault_find (words[0]) : -1;

  if (!words[0])
    return refuse (error, "a fault is missing, as in \"R4 open\"");
  if (!is_board_fault (kind))
    {
      fault->part = ml_board_find_part (board, words[next++]);
      if (fault->part < 0)
        return refuse_part (board, words[0], error);
      if (!words[next])
        return refuse (error, "say what is wrong with %s, as in \"%s open\"", words[0], words[0]);
      kind = ml_fault_find (words[next]);
      if (kind < 0 || is_board_fault (kind))
        return refuse_fault (words[0], words[next], error);
    }
  next++;
  fault->kind = kind;
  fault->size_in = size_in (kind);
  for (; words[next]; next++)
    if (!parse_key (board, fault, words[next], error))
      return FALSE;
  if (!is_complete (fault, error))
    return FALSE;
  if (fault->kind == ML_FAULT_WRONG_NET)
    fault->net_b = board->parts[fault->part].pins[fault->pins[0]].net;
  return TRUE;
}

gboolean
ml_fault_parse (const MlBoard *board, const char *words, MlFault *ret_fault, GError **error)
{
  MlFault fault = { .part = -1, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  g_auto (GStrv) split = g_strsplit_set (words, " \t", -1);
  guint n = 0;

  for (guint i = 0; split[i]; i++) /* drop the empty words between several blanks */
    if (*split[i])
      split[n++] = split[i];
    else
      g_free (split[i]);
  split[n] = NULL;
  if (!parse_words (board, split, &fault, error))
    {
      ml_fault_clear (&fault);
      return FALSE;
    }
  *ret_fault = fault;
  return TRUE;
}
