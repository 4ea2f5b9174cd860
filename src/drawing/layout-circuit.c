/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-circuit.h"

#include <string.h>

static const struct { const char *name; MlPinWord word; } pin_words[] = {
  { "1", ML_PIN_WORD_ONE },           { "2", ML_PIN_WORD_TWO },
  { "anode", ML_PIN_WORD_ANODE },     { "cathode", ML_PIN_WORD_CATHODE },
  { "collector", ML_PIN_WORD_COLLECTOR }, { "base", ML_PIN_WORD_BASE },
  { "emitter", ML_PIN_WORD_EMITTER }, { "drain", ML_PIN_WORD_DRAIN },
  { "gate", ML_PIN_WORD_GATE },       { "source", ML_PIN_WORD_SOURCE },
  { "in", ML_PIN_WORD_IN },           { "out", ML_PIN_WORD_OUT },
  { "ground", ML_PIN_WORD_GROUND },   { "adjust", ML_PIN_WORD_ADJUST },
  { "reference", ML_PIN_WORD_REFERENCE }, { "noninverting", ML_PIN_WORD_NONINVERTING },
  { "inverting", ML_PIN_WORD_INVERTING }, { "positive", ML_PIN_WORD_POSITIVE },
  { "negative", ML_PIN_WORD_NEGATIVE },   { "plus", ML_PIN_WORD_PLUS },
  { "minus", ML_PIN_WORD_MINUS },     { "wiper", ML_PIN_WORD_WIPER },
  { "common", ML_PIN_WORD_COMMON },   { "no", ML_PIN_WORD_NO },
  { "nc", ML_PIN_WORD_NC },           { "a", ML_PIN_WORD_A },
  { "b", ML_PIN_WORD_B },             { "ac1", ML_PIN_WORD_AC1 },
  { "ac2", ML_PIN_WORD_AC2 },
};

gboolean
ml_circuit_is_control (MlPinWord word)
{
  return word == ML_PIN_WORD_BASE || word == ML_PIN_WORD_GATE || word == ML_PIN_WORD_INVERTING || word == ML_PIN_WORD_NONINVERTING
         || word == ML_PIN_WORD_REFERENCE || word == ML_PIN_WORD_ADJUST;
}

gboolean
ml_circuit_is_transistor (MlKind kind)
{
  return kind >= ML_KIND_NPN && kind <= ML_KIND_PJFET;
}

gboolean
ml_circuit_is_regulator (MlKind kind)
{
  return kind == ML_KIND_REGULATOR || kind == ML_KIND_ADJUSTABLE || kind == ML_KIND_CONVERTER;
}

gboolean
ml_circuit_is_amplifier (MlKind kind)
{
  return kind == ML_KIND_OPAMP || kind == ML_KIND_COMPARATOR;
}

gboolean
ml_circuit_is_free_box (MlKind kind)
{
  return kind == ML_KIND_CONNECTOR || kind == ML_KIND_TESTPOINT || kind == ML_KIND_BLOCK;
}

const MlCircuitPin *
ml_circuit_pin (const MlCircuitPart *part, MlPinWord word)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (part->pins[i].word == word)
      return &part->pins[i];
  return NULL;
}

gboolean
ml_circuit_has_pin_at (const MlCircuitPart *part, int net)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (part->pins[i].net == net)
      return TRUE;
  return FALSE;
}

int
ml_circuit_other (const MlCircuitPart *part, int net)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (part->pins[i].net != net)
      return part->pins[i].net;
  return -1;
}

/* ---- taking over the board, sorted by name ---- */

static MlPinWord
word_of (const char *name)
{
  guint i;

  for (i = 0; i < G_N_ELEMENTS (pin_words); i++)
    if (strcmp (pin_words[i].name, name) == 0)
      return pin_words[i].word;
  return ML_PIN_WORD_OTHER;
}

static int
by_part_name (gconstpointer a, gconstpointer b)
{
  return strcmp (((const MlCircuitPart *) a)->part->name, ((const MlCircuitPart *) b)->part->name);
}

static int
by_net_name (gconstpointer a, gconstpointer b)
{
  return strcmp (((const MlCircuitNet *) a)->name, ((const MlCircuitNet *) b)->name);
}

static int
by_word (gconstpointer a, gconstpointer b)
{
  const MlCircuitPin *pin_a = a, *pin_b = b;

  if (pin_a->word != pin_b->word)
    return pin_a->word < pin_b->word ? -1 : 1;
  return pin_a->pin - pin_b->pin;
}

static gboolean
is_drawn (const MlSymbolGeometry *geometry, const char *pin)
{
  guint i;

  for (i = 0; geometry != NULL && i < geometry->n_pins; i++)
    if (strcmp (geometry->pins[i].name, pin) == 0 || (geometry->pins[i].also != NULL && strcmp (geometry->pins[i].also, pin) == 0))
      return TRUE;
  return geometry == NULL;
}

/* A contact that only makes is drawn without its open break pin, and the other way round. */
static void
take_pins (MlCircuit *circuit, MlCircuitPart *part, const MlSymbolGeometry *geometry)
{
  gboolean any = ml_circuit_is_free_box (part->kind);
  guint i;

  part->pins = g_new0 (MlCircuitPin, MAX (part->part->n_pins, 1));
  for (i = 0; i < part->part->n_pins; i++)
    {
      const MlPin *pin = &part->part->pins[i];
      MlCircuitPin *to = &part->pins[part->n_pins];
      if (!is_drawn (geometry, pin->name))
        continue;
      to->name = pin->name;
      to->word = any ? ML_PIN_WORD_OTHER : word_of (pin->name);
      to->net = pin->net < 0 ? -1 : circuit->net_of_board[pin->net];
      to->pin = (int) i;
      part->n_pins++;
    }
  if (!any)
    qsort (part->pins, part->n_pins, sizeof *part->pins, by_word);
}

static void
take_parts (MlCircuit *circuit)
{
  const MlBoard *board = circuit->board;
  guint i;

  circuit->n_parts = board->n_parts;
  circuit->parts = g_new0 (MlCircuitPart, MAX (board->n_parts, 1));
  circuit->part_of_board = g_new0 (int, MAX (board->n_parts, 1));
  for (i = 0; i < board->n_parts; i++)
    {
      circuit->parts[i].part = &board->parts[i];
      circuit->parts[i].index = (int) i;
      circuit->parts[i].kind = board->parts[i].kind->kind;
    }
  qsort (circuit->parts, circuit->n_parts, sizeof *circuit->parts, by_part_name);
  for (i = 0; i < circuit->n_parts; i++)
    {
      MlCircuitPart *part = &circuit->parts[i];
      const MlSymbolGeometry *geometry;
      circuit->part_of_board[part->index] = (int) i;
      part->value = ml_part_value_text (part->part);
      part->label_w = MAX (ml_text_width (part->part->name, ML_TEXT_HEIGHT), ml_text_width (part->value, ML_TEXT_HEIGHT));
      geometry = ml_symbol_geometry (ml_symbol_name (part->part, NULL, NULL));
      take_pins (circuit, part, geometry);
      part->two_terminal = geometry != NULL && geometry->n_pins == 2 && part->n_pins == 2;
    }
}

/* The supply pins of a section are legs of its package: two sections on the same nets have them in common. */
static gboolean
share_supply (const MlCircuitPart *a, const MlCircuitPart *b)
{
  static const MlPinWord words[] = { ML_PIN_WORD_POSITIVE, ML_PIN_WORD_NEGATIVE };
  guint i;

  if (!ml_circuit_is_amplifier (a->kind) || !ml_circuit_is_amplifier (b->kind) || a->part->package == NULL
      || g_strcmp0 (a->part->package, b->part->package) != 0)
    return FALSE;
  for (i = 0; i < G_N_ELEMENTS (words); i++)
    {
      const MlCircuitPin *pin_a = ml_circuit_pin (a, words[i]), *pin_b = ml_circuit_pin (b, words[i]);
      if (pin_a == NULL || pin_b == NULL || pin_a->net < 0 || pin_a->net != pin_b->net)
        return FALSE;
    }
  return TRUE;
}

/* The first section of a package has the supply pins, as is usual in the trade. */
static void
find_sections (MlCircuit *circuit)
{
  guint i, k;

  for (i = 0; i < circuit->n_parts; i++)
    {
      circuit->parts[i].supplied_by = -1;
      for (k = 0; k < i && circuit->parts[i].supplied_by < 0; k++)
        if (circuit->parts[k].supplied_by < 0 && share_supply (&circuit->parts[i], &circuit->parts[k]))
          circuit->parts[i].supplied_by = (int) k;
    }
}

static void
take_nets (MlCircuit *circuit)
{
  const MlBoard *board = circuit->board;
  guint i;

  circuit->n_nets = board->n_nets;
  circuit->nets = g_new0 (MlCircuitNet, MAX (board->n_nets, 1));
  circuit->net_of_board = g_new0 (int, MAX (board->n_nets, 1));
  for (i = 0; i < board->n_nets; i++)
    {
      circuit->nets[i].name = board->nets[i].name;
      circuit->nets[i].net = &board->nets[i];
      circuit->nets[i].index = (int) i;
    }
  qsort (circuit->nets, circuit->n_nets, sizeof *circuit->nets, by_net_name);
  for (i = 0; i < circuit->n_nets; i++)
    circuit->net_of_board[circuit->nets[i].index] = (int) i;
}

static void
take_joints (MlCircuit *circuit)
{
  guint *counts = g_new0 (guint, MAX (circuit->n_nets, 1));
  guint i, k;

  for (i = 0; i < circuit->n_parts; i++)
    for (k = 0; k < circuit->parts[i].n_pins; k++)
      if (circuit->parts[i].pins[k].net >= 0)
        counts[circuit->parts[i].pins[k].net]++;
  for (i = 0; i < circuit->n_nets; i++)
    circuit->nets[i].joints = g_new0 (MlCircuitJoint, MAX (counts[i], 1));
  for (i = 0; i < circuit->n_parts; i++)
    for (k = 0; k < circuit->parts[i].n_pins; k++)
      {
        int net = circuit->parts[i].pins[k].net;
        MlCircuitNet *to;
        if (net < 0)
          continue;
        to = &circuit->nets[net];
        to->joints[to->n_joints++] = (MlCircuitJoint){ (int) i, (int) k };
        to->on_connector |= circuit->parts[i].kind == ML_KIND_CONNECTOR || circuit->parts[i].kind == ML_KIND_TESTPOINT;
      }
  g_free (counts);
}

static void
take_supplies (MlCircuit *circuit)
{
  const MlBoard *board = circuit->board;
  guint i;

  for (i = 0; i < board->n_conditions && circuit->condition == NULL; i++)
    if (board->conditions[i].n_supplies > 0)
      circuit->condition = &board->conditions[i];
  for (i = 0; circuit->condition != NULL && i < circuit->condition->n_supplies; i++)
    {
      const MlSupply *supply = &circuit->condition->supplies[i];
      if (supply->plus >= 0)
        circuit->nets[circuit->net_of_board[supply->plus]].supply_plus = TRUE;
      if (supply->minus >= 0)
        circuit->nets[circuit->net_of_board[supply->minus]].supply_minus = TRUE;
    }
}

/* The board's reference, else the minus of the first supply, else the busiest net when one stands out. */
static void
choose_reference (MlCircuit *circuit)
{
  guint i, most = 0, second = 0;

  circuit->reference = -1;
  circuit->reference_given = circuit->board->reference >= 0;
  if (circuit->reference_given)
    circuit->reference = circuit->net_of_board[circuit->board->reference];
  else if (circuit->condition != NULL && circuit->condition->supplies[0].minus >= 0)
    circuit->reference = circuit->net_of_board[circuit->condition->supplies[0].minus];
  else
    {
      for (i = 0; i < circuit->n_nets; i++)
        {
          guint n = circuit->nets[i].n_joints;
          if (n > most)
            {
              second = most;
              most = n;
              circuit->reference = (int) i;
            }
          else if (n > second)
            second = n;
        }
      if (most < 4 || most < second + 2)
        circuit->reference = -1;
    }
}

MlCircuit *
ml_circuit_new (MlBoard *board, const double *net_v)
{
  MlCircuit *circuit = g_new0 (MlCircuit, 1);

  circuit->board = board;
  take_nets (circuit);
  take_parts (circuit);
  find_sections (circuit);
  take_joints (circuit);
  take_supplies (circuit);
  choose_reference (circuit);
  ml_circuit_find_islands (circuit);
  ml_circuit_find_potentials (circuit, net_v);
  ml_circuit_find_rails (circuit);
  ml_circuit_find_colours (circuit);
  return circuit;
}

void
ml_circuit_free (MlCircuit *circuit)
{
  guint i;

  for (i = 0; i < circuit->n_parts; i++)
    {
      g_free (circuit->parts[i].pins);
      g_free (circuit->parts[i].value);
    }
  for (i = 0; i < circuit->n_nets; i++)
    g_free (circuit->nets[i].joints);
  g_free (circuit->parts);
  g_free (circuit->nets);
  g_free (circuit->part_of_board);
  g_free (circuit->net_of_board);
  g_free (circuit);
}
