/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/status-text.h"

#include <math.h>

#include "desktop/findings-text.h"
#include "drawing/throw.h"

char *
ml_status_pin_words (const MlBoard *board, int part, int pin)
{
  const MlPart *chosen = &board->parts[part];
  int net = chosen->pins[pin].net;
  g_autofree char *where = ml_findings_joined (board, &chosen->pins[pin]);

  if (net >= 0 && board->nets[net].label != NULL)
    return g_strdup_printf ("%s’s %s on %s (%s)", chosen->name, chosen->pins[pin].name, where, board->nets[net].label);
  return g_strdup_printf ("%s’s %s%s%s", chosen->name, chosen->pins[pin].name, net < 0 || board->nets[net].generated ? ", joined to " : " on ", where);
}

char *
ml_status_part_words (const MlBoard *board, int part)
{
  const MlPart *chosen = &board->parts[part];
  g_autofree char *value = ml_part_value_text (chosen), *kind = g_strdup (chosen->kind->trade_name);
  GString *words = g_string_new (NULL);

  /* "NPN transistor", "N-channel MOSFET", "LED" keep their capitals, "Resistor" loses its own in the middle of a sentence */
  if (g_ascii_islower (kind[1]))
    kind[0] = g_ascii_tolower (kind[0]);
  g_string_printf (words, "%s, %s", chosen->name, kind);
  if (value[0] != '\0')
    g_string_append_printf (words, " %s", value);
  if (chosen->kind->kind == ML_KIND_CONTACT)
    {
      const MlAttribute *by = ml_part_attribute (chosen, ML_KEY_BY);
      g_string_append_printf (words, by != NULL ? ", worked by %s" : ", worked by no coil", by != NULL ? by->text : "");
    }
  if (chosen->n_pins == 2 && chosen->pins[0].net >= 0 && chosen->pins[1].net >= 0)
    {
      g_autofree char *from = ml_findings_joined (board, &chosen->pins[0]), *to = ml_findings_joined (board, &chosen->pins[1]);
      g_string_append_printf (words, ", from %s to %s", from, to);
    }
  return g_string_free (words, FALSE);
}

const char *
ml_status_stands (MlDocument *document, int part)
{
  const MlBoard *board = ml_document_board (document);
  const int condition = ml_document_condition (document);

  return condition >= 0 ? ml_throw_words (board, part, &board->conditions[condition], ml_document_point (document)) : NULL;
}

/* ---- why ---- */

static const MlExplanation *
explanation_naming (const MlVerdict *verdict, int part)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    for (guint j = 0; j < verdict->explanations[i].n_faults; j++)
      if (verdict->explanations[i].faults[j].part == part)
        return &verdict->explanations[i];
  return NULL;
}

static const char *
blind_why (const MlVerdict *verdict, int part)
{
  for (guint i = 0; i < verdict->n_blind; i++)
    if (verdict->blind[i].part == part)
      return verdict->blind[i].why;
  return NULL;
}

char *
ml_status_why (const MlVerdict *verdict, int part)
{
  if (verdict == NULL || verdict->n_readings == 0 || part < 0 || part >= (int) verdict->n_parts)
    return g_strdup ("");
  const MlPartVerdict *judged = &verdict->parts[part];
  const MlExplanation *explanation = explanation_naming (verdict, part);
  g_autofree char *percent = ml_verdict_percent (judged->probability);
  const char *blind = blind_why (verdict, part);

  switch (judged->verdict)
    {
    case ML_VERDICT_SUSPECT:
    case ML_VERDICT_POSSIBLE:
      return g_strdup_printf ("%s, %s%s%s", ml_verdict_word (judged->verdict), percent, explanation != NULL ? ": " : "",
                              explanation != NULL ? explanation->title : "");
    case ML_VERDICT_CLEARED:
      return blind != NULL ? g_strdup_printf ("cleared as far as readings go; %s", blind) : g_strdup ("cleared: the readings speak against a fault here");
    case ML_VERDICT_UNPROVEN:
    default:
      return blind != NULL ? g_strdup_printf ("unproven: %s", blind) : g_strdup ("unproven: some of its faults would not show");
    }
}

/* ---- what it should read, what it does ---- */

static double
potential (const MlOperatingPoint *point, const MlBoard *board, int net)
{
  double zero = board->reference >= 0 ? point->net_v[board->reference] : 0.0;

  return net >= 0 ? point->net_v[net] - (isfinite (zero) ? zero : 0.0) : NAN;
}

static double
expected (const MlOperatingPoint *point, const MlBoard *board, int part, int pin)
{
  const MlPart *chosen = &board->parts[part];

  if (pin >= 0)
    return potential (point, board, chosen->pins[pin].net);
  if (chosen->n_pins != 2)
    return NAN;
  return potential (point, board, chosen->pins[0].net) - potential (point, board, chosen->pins[1].net);
}

static int
find_reading (MlDocument *document, int part, int pin, gboolean *ret_swapped)
{
  const MlBoard *board = ml_document_board (document);
  const MlPart *chosen = &board->parts[part];
  MlProbe red = { .net = pin >= 0 ? chosen->pins[pin].net : -1, .part = -1, .pin = -1 }, black = { .net = board->reference, .part = -1, .pin = -1 };

  if (pin < 0 && chosen->n_pins == 2)
    {
      red.net = chosen->pins[0].net;
      black.net = chosen->pins[1].net;
    }
  if (red.net < 0 || black.net < 0)
    return -1;
  return ml_job_find_reading (ml_document_job (document), ml_document_unit (document), ml_document_pass (document),
                              ml_document_condition (document), ML_READS_VOLTS, &red, &black, ret_swapped);
}

static void
append_values (GString *text, MlDocument *document, int part, int pin)
{
  const MlBoard *board = ml_document_board (document);
  const MlOperatingPoint *point = ml_document_point (document);
  double value = point != NULL && point->solved ? expected (point, board, part, pin) : NAN;
  gboolean swapped = FALSE;
  int condition = ml_document_condition (document), reading = condition >= 0 ? find_reading (document, part, pin, &swapped) : -1;
  gboolean silent = condition >= 0 && ml_condition_is_cold (&board->conditions[condition]) && fabs (value) < 5e-4; /* nobody measures volts there */

  if (isfinite (value) && !silent)
    {
      g_autofree char *words = ml_findings_value (value, ML_READS_VOLTS);
      const char *reads = ml_document_supposed (document) ? "would read" : "should read"; /* supposed: no fault makes it right */
      g_string_append_printf (text, " · %s %s%s", reads, words, pin < 0 ? " across" : "");
    }
  if (reading >= 0)
    {
      double measured = ml_document_job (document)->readings[reading].measured.value;
      g_autofree char *words = ml_findings_value (swapped ? -measured : measured, ML_READS_VOLTS);
      g_string_append_printf (text, " · reads %s", words);
    }
  if (pin < 0 && point != NULL && point->solved && isfinite (point->part_w[part]) && point->part_w[part] > 1e-3)
    {
      char words[48];
      ml_quantity_format (point->part_w[part], ML_UNIT_WATT, 2, false, words, sizeof words);
      g_string_append_printf (text, " · %s", words);
    }
}

char *
ml_status_text (MlDocument *document)
{
  const MlBoard *board = ml_document_board (document);
  int part, pin;

  ml_document_selected (document, &part, &pin);
  if (part < 0 || part >= (int) board->n_parts || pin >= (int) board->parts[part].n_pins)
    return g_strdup ("");
  g_autofree char *what = pin >= 0 ? ml_status_pin_words (board, part, pin) : ml_status_part_words (board, part);
  g_autofree char *why = ml_status_why (ml_document_verdict (document), part);
  const char *stands = pin < 0 ? ml_status_stands (document, part) : NULL;
  GString *text = g_string_new (what);
  if (stands != NULL)
    g_string_append_printf (text, " · %s", stands);
  append_values (text, document, part, pin);
  if (why[0] != '\0')
    g_string_append_printf (text, " · %s", why);
  return g_string_free (text, FALSE);
}
