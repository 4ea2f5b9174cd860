/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-circuit.h"

#include <math.h>
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

/* ---- potentials: a proxy network where nothing better is known ---- */

typedef struct { int a, b; double conductance; gboolean diode; } Branch; /* diode: conducts from a to b */

static void
add_branch (GArray *branches, const MlCircuitPart *part, MlPinWord word_a, MlPinWord word_b, double conductance, gboolean diode)
{
  const MlCircuitPin *a = ml_circuit_pin (part, word_a), *b = ml_circuit_pin (part, word_b);
  Branch branch;

  if (a == NULL || b == NULL || a->net < 0 || b->net < 0 || a->net == b->net)
    return;
  branch = (Branch){ a->net, b->net, conductance, diode };
  g_array_append_val (branches, branch);
}

static void
add_two_terminal (GArray *branches, const MlCircuitPart *part, double conductance)
{
  Branch branch;

  if (part->n_pins < 2 || part->pins[0].net < 0 || part->pins[1].net < 0 || part->pins[0].net == part->pins[1].net)
    return;
  branch = (Branch){ part->pins[0].net, part->pins[1].net, conductance, FALSE };
  g_array_append_val (branches, branch);
}

static void
add_box_branches (GArray *branches, const MlCircuit *circuit, const MlCircuitPart *part, double conductance)
{
  guint i;

  for (i = 0; i < part->n_pins && circuit->reference >= 0; i++)
    {
      Branch branch = { part->pins[i].net, circuit->reference, conductance, FALSE };
      if (branch.a >= 0 && branch.a != branch.b)
        g_array_append_val (branches, branch);
    }
}

static void
add_semiconductor_branches (GArray *branches, const MlCircuitPart *part)
{
  switch (part->kind)
    {
    case ML_KIND_DIODE:
    case ML_KIND_LED:
    case ML_KIND_THYRISTOR:
      add_branch (branches, part, ML_PIN_WORD_ANODE, ML_PIN_WORD_CATHODE, 1, TRUE);
      add_branch (branches, part, ML_PIN_WORD_GATE, ML_PIN_WORD_CATHODE, 0.2, FALSE);
      break;
    case ML_KIND_ZENER:
    case ML_KIND_SHUNT:
      add_branch (branches, part, ML_PIN_WORD_CATHODE, ML_PIN_WORD_ANODE, 0.3, FALSE);
      add_branch (branches, part, ML_PIN_WORD_REFERENCE, ML_PIN_WORD_ANODE, 0.01, FALSE);
      break;
    case ML_KIND_NPN:
    case ML_KIND_PNP:
      add_branch (branches, part, ML_PIN_WORD_COLLECTOR, ML_PIN_WORD_EMITTER, 0.5, FALSE);
      add_branch (branches, part, ML_PIN_WORD_BASE, ML_PIN_WORD_EMITTER, 0.2, FALSE);
      break;
    case ML_KIND_NMOS:
    case ML_KIND_PMOS:
    case ML_KIND_NJFET:
    case ML_KIND_PJFET:
      add_branch (branches, part, ML_PIN_WORD_DRAIN, ML_PIN_WORD_SOURCE, 0.5, FALSE);
      add_branch (branches, part, ML_PIN_WORD_GATE, ML_PIN_WORD_SOURCE, 1e-3, FALSE);
      break;
    case ML_KIND_OPTO:
      add_branch (branches, part, ML_PIN_WORD_ANODE, ML_PIN_WORD_CATHODE, 1, TRUE);
      add_branch (branches, part, ML_PIN_WORD_COLLECTOR, ML_PIN_WORD_EMITTER, 0.3, FALSE);
      break;
    case ML_KIND_BRIDGE:
      add_branch (branches, part, ML_PIN_WORD_AC1, ML_PIN_WORD_PLUS, 1, TRUE);
      add_branch (branches, part, ML_PIN_WORD_AC2, ML_PIN_WORD_PLUS, 1, TRUE);
      add_branch (branches, part, ML_PIN_WORD_MINUS, ML_PIN_WORD_AC1, 1, TRUE);
      add_branch (branches, part, ML_PIN_WORD_MINUS, ML_PIN_WORD_AC2, 1, TRUE);
      break;
    default:
      break;
    }
}

static void
add_part_branches (GArray *branches, const MlCircuit *circuit, const MlCircuitPart *part)
{
  switch (part->kind)
    {
    case ML_KIND_CAPACITOR:
      add_two_terminal (branches, part, 1e-3);
      break;
    case ML_KIND_POTENTIOMETER:
      add_branch (branches, part, ML_PIN_WORD_ONE, ML_PIN_WORD_TWO, 1, FALSE);
      add_branch (branches, part, ML_PIN_WORD_WIPER, ML_PIN_WORD_ONE, 1, FALSE);
      add_branch (branches, part, ML_PIN_WORD_WIPER, ML_PIN_WORD_TWO, 1, FALSE);
      break;
    case ML_KIND_CONTACT:
    case ML_KIND_CHANGEOVER:
      add_branch (branches, part, ML_PIN_WORD_COMMON, ML_PIN_WORD_NO, 0.5, FALSE);
      add_branch (branches, part, ML_PIN_WORD_COMMON, ML_PIN_WORD_NC, 0.5, FALSE);
      add_branch (branches, part, ML_PIN_WORD_COMMON, ML_PIN_WORD_A, 0.5, FALSE);
      add_branch (branches, part, ML_PIN_WORD_COMMON, ML_PIN_WORD_B, 0.5, FALSE);
      break;
    case ML_KIND_REGULATOR:
    case ML_KIND_ADJUSTABLE:
    case ML_KIND_CONVERTER:
      add_branch (branches, part, ML_PIN_WORD_IN, ML_PIN_WORD_OUT, 2, FALSE);
      add_branch (branches, part, ML_PIN_WORD_OUT, ML_PIN_WORD_GROUND, 0.05, FALSE);
      add_branch (branches, part, ML_PIN_WORD_OUT, ML_PIN_WORD_ADJUST, 0.05, FALSE);
      break;
    case ML_KIND_OPAMP:
    case ML_KIND_COMPARATOR:
      add_branch (branches, part, ML_PIN_WORD_OUT, ML_PIN_WORD_POSITIVE, 0.1, FALSE);
      add_branch (branches, part, ML_PIN_WORD_OUT, ML_PIN_WORD_NEGATIVE, 0.1, FALSE);
      add_branch (branches, part, ML_PIN_WORD_INVERTING, ML_PIN_WORD_OUT, 1e-4, FALSE);
      break;
    case ML_KIND_BLOCK:
      add_box_branches (branches, circuit, part, 0.02);
      break;
    case ML_KIND_CONNECTOR:
      add_box_branches (branches, circuit, part, 1e-4);
      break;
    case ML_KIND_BATTERY:
    case ML_KIND_TESTPOINT:
      break;
    default:
      if (part->two_terminal && part->kind != ML_KIND_DIODE && part->kind != ML_KIND_LED && part->kind != ML_KIND_ZENER)
        add_two_terminal (branches, part, 1);
      else
        add_semiconductor_branches (branches, part);
      break;
    }
}

static void
fix_potential (double *v, gboolean *fixed, int net, double value)
{
  if (net < 0 || fixed[net])
    return;
  v[net] = value;
  fixed[net] = TRUE;
}

/* Supplies are chained: with the plus known, the minus follows. */
static void
fix_supplies (const MlCircuit *circuit, double *v, gboolean *fixed)
{
  guint i;

  for (i = 0; circuit->condition != NULL && i < circuit->condition->n_supplies; i++)
    {
      const MlSupply *supply = &circuit->condition->supplies[i];
      int plus = supply->plus < 0 ? -1 : circuit->net_of_board[supply->plus];
      int minus = supply->minus < 0 ? -1 : circuit->net_of_board[supply->minus];
      if (plus < 0 || minus < 0)
        continue;
      if (fixed[plus])
        fix_potential (v, fixed, minus, v[plus] - supply->voltage_v);
      else
        {
          fix_potential (v, fixed, minus, 0);
          fix_potential (v, fixed, plus, v[minus] + supply->voltage_v);
        }
    }
  for (i = 0; i < circuit->n_parts; i++)
    if (circuit->parts[i].kind == ML_KIND_BATTERY)
      {
        const MlCircuitPin *plus = ml_circuit_pin (&circuit->parts[i], ML_PIN_WORD_PLUS);
        const MlCircuitPin *minus = ml_circuit_pin (&circuit->parts[i], ML_PIN_WORD_MINUS);
        fix_potential (v, fixed, plus == NULL ? -1 : plus->net, 9);
        fix_potential (v, fixed, minus == NULL ? -1 : minus->net, 0);
      }
}

static void
fix_something (const MlCircuit *circuit, double *v, gboolean *fixed)
{
  guint i, most = 0;
  int best = -1;

  for (i = 0; i < circuit->n_nets; i++)
    if (fixed[i])
      return;
  fix_potential (v, fixed, circuit->reference, 0);
  for (i = 0; i < circuit->n_nets; i++)
    if ((int) i != circuit->reference && circuit->nets[i].n_joints > most)
      {
        most = circuit->nets[i].n_joints;
        best = (int) i;
      }
  fix_potential (v, fixed, best, 10);
}

/* Gauss-Seidel; a diode the wrong way round hardly conducts. */
static void
relax (const GArray *branches, guint n, double *v, const gboolean *fixed)
{
  guint *start = g_new0 (guint, n + 1), *of_net = g_new (guint, MAX (2 * branches->len, 1)), i, k;
  int sweep;

  for (i = 0; i < branches->len; i++)
    {
      const Branch *branch = &g_array_index (branches, Branch, i);
      start[branch->a + 1]++;
      start[branch->b + 1]++;
    }
  for (i = 0; i < n; i++)
    start[i + 1] += start[i];
  for (i = branches->len; i-- > 0;)
    {
      const Branch *branch = &g_array_index (branches, Branch, i);
      of_net[--start[branch->a + 1]] = i;
      of_net[--start[branch->b + 1]] = i;
    }
  /* start[j + 1] is now where net j's list begins */
  for (sweep = 0; sweep < 400; sweep++)
    for (i = 0; i < n; i++)
      {
        guint end = i + 1 < n ? start[i + 2] : 2 * branches->len;
        double s = 0, w = 0;
        if (fixed[i])
          continue;
        for (k = start[i + 1]; k < end; k++)
          {
            const Branch *branch = &g_array_index (branches, Branch, of_net[k]);
            double g = branch->conductance;
            if (branch->diode && v[branch->a] < v[branch->b] - 1e-9)
              g *= 2e-3;
            s += g * v[branch->a == (int) i ? branch->b : branch->a];
            w += g;
          }
        if (w > 0)
          v[i] = s / w;
      }
  g_free (start);
  g_free (of_net);
}

static void
find_potentials (MlCircuit *circuit, const double *net_v)
{
  guint n = circuit->n_nets, i;
  double *v = g_new (double, MAX (n, 1)), low = G_MAXDOUBLE, high = -G_MAXDOUBLE, middle = 0;
  gboolean *fixed = g_new0 (gboolean, MAX (n, 1));
  GArray *branches = g_array_new (FALSE, FALSE, sizeof (Branch));

  for (i = 0; i < circuit->n_parts; i++)
    add_part_branches (branches, circuit, &circuit->parts[i]);
  for (i = 0; i < n; i++)
    if (net_v != NULL && isfinite (net_v[circuit->nets[i].index]))
      fix_potential (v, fixed, (int) i, net_v[circuit->nets[i].index]);
  fix_supplies (circuit, v, fixed);
  fix_something (circuit, v, fixed);
  for (i = 0; i < n; i++)
    if (fixed[i])
      {
        low = MIN (low, v[i]);
        high = MAX (high, v[i]);
      }
  middle = low <= high ? (low + high) / 2 : 0;
  for (i = 0; i < n; i++)
    if (!fixed[i])
      v[i] = middle;
  relax (branches, n, v, fixed);
  for (i = 0; i < n; i++)
    {
      low = MIN (low, v[i]);
      high = MAX (high, v[i]);
    }
  for (i = 0; i < n; i++)
    circuit->nets[i].potential = high > low ? (v[i] - low) / (high - low) : 0.5;
  g_array_unref (branches);
  g_free (fixed);
  g_free (v);
}

/* ---- rails ---- */

typedef struct
{
  gboolean source, control, driven;
  gboolean fed;     /* by more than resistors and capacitors */
  gboolean output;  /* of an amplifier */
  guint n_positive, n_negative;
} NetRoles;

static gboolean
is_passive (MlKind kind)
{
  return kind == ML_KIND_RESISTOR || kind == ML_KIND_CAPACITOR || kind == ML_KIND_POTENTIOMETER || kind == ML_KIND_THERMISTOR
         || kind == ML_KIND_TESTPOINT;
}

/* The two sides of an optocoupler are apart. */
static int
side_of_pin (const MlCircuitPart *part, guint pin)
{
  return part->kind == ML_KIND_OPTO && (part->pins[pin].word == ML_PIN_WORD_ANODE || part->pins[pin].word == ML_PIN_WORD_CATHODE);
}

/* Nets that some chain of parts joins to the reference; an island without a supply has no rails. */
static gboolean *
reached_nets (const MlCircuit *circuit)
{
  gboolean *reached = g_new0 (gboolean, MAX (circuit->n_nets, 1)), more = TRUE;
  guint i, k, j;

  if (circuit->reference >= 0)
    reached[circuit->reference] = TRUE;
  while (more)
    {
      more = FALSE;
      for (i = 0; i < circuit->n_parts; i++)
        for (k = 0; k < circuit->parts[i].n_pins; k++)
          for (j = 0; circuit->parts[i].pins[k].net >= 0 && reached[circuit->parts[i].pins[k].net] && j < circuit->parts[i].n_pins; j++)
            {
              const MlCircuitPart *part = &circuit->parts[i];
              int net = part->pins[j].net;
              if (net < 0 || reached[net] || side_of_pin (part, j) != side_of_pin (part, k))
                continue;
              reached[net] = TRUE;
              more = TRUE;
            }
    }
  return reached;
}

/* A capacitor to the reference keeps the net from swinging. */
static gboolean
is_steady (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i;

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      if (part->kind == ML_KIND_CAPACITOR && ml_circuit_other (part, (int) (net - circuit->nets)) == circuit->reference)
        return TRUE;
    }
  return FALSE;
}

/* A collector or drain that swings: its other end is the reference or a busy node that no capacitor holds. */
static gboolean
is_swinging (const MlCircuit *circuit, const MlCircuitPart *part)
{
  const MlCircuitPin *low = ml_circuit_pin (part, ML_PIN_WORD_EMITTER);

  if (low == NULL)
    low = ml_circuit_pin (part, ML_PIN_WORD_SOURCE);
  if (part->kind == ML_KIND_PNP || part->kind == ML_KIND_PMOS)
    return TRUE;
  if (low == NULL || low->net < 0)
    return FALSE;
  return low->net == circuit->reference || (circuit->nets[low->net].n_joints > 3 && !is_steady (circuit, &circuit->nets[low->net]));
}

static NetRoles
roles_of (const MlCircuit *circuit, const MlCircuitNet *net)
{
  NetRoles roles = { 0 };
  guint i;

  roles.source = net->supply_plus || net->supply_minus;
  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      MlPinWord word = part->pins[net->joints[i].pin].word;
      roles.source |= ml_circuit_is_regulator (part->kind) && word == ML_PIN_WORD_OUT;
      roles.source |= (part->kind == ML_KIND_BRIDGE || part->kind == ML_KIND_BATTERY) && word == ML_PIN_WORD_PLUS;
      roles.control |= ml_circuit_is_control (word);
      roles.fed |= !is_passive (part->kind);
      roles.output |= ml_circuit_is_amplifier (part->kind) && word == ML_PIN_WORD_OUT;
      roles.driven |= (word == ML_PIN_WORD_COLLECTOR || word == ML_PIN_WORD_DRAIN) && is_swinging (circuit, part);
      roles.n_positive += word == ML_PIN_WORD_POSITIVE;
      roles.n_negative += word == ML_PIN_WORD_NEGATIVE;
    }
  roles.driven &= !roles.source;
  return roles;
}

static gboolean
is_minus_below_reference (const MlCircuit *circuit, const MlCircuitNet *net)
{
  guint i;

  for (i = 0; circuit->condition != NULL && i < circuit->condition->n_supplies; i++)
    {
      const MlSupply *supply = &circuit->condition->supplies[i];
      if (supply->minus == net->index && supply->plus >= 0 && circuit->net_of_board[supply->plus] == circuit->reference)
        return TRUE;
    }
  return FALSE;
}

/* A bench supply that only stands in for a signal: it feeds resistors and diodes, and another supply gives more. */
static gboolean
is_signal_source (const MlCircuit *circuit, const MlCircuitNet *net)
{
  gboolean more = FALSE;
  guint i;

  for (i = 0; circuit->condition != NULL && i < circuit->condition->n_supplies; i++)
    {
      int plus = circuit->condition->supplies[i].plus;
      more |= plus >= 0 && circuit->nets[circuit->net_of_board[plus]].potential > net->potential + 0.02;
    }
  for (i = 0; net->supply_plus && more && i < net->n_joints; i++)
    {
      MlKind kind = circuit->parts[net->joints[i].part].kind;
      if (kind != ML_KIND_RESISTOR && kind != ML_KIND_DIODE && kind != ML_KIND_CONNECTOR && kind != ML_KIND_TESTPOINT)
        return FALSE;
    }
  return net->supply_plus && more;
}

static MlRail
rail_of (const MlCircuit *circuit, const MlCircuitNet *net, gboolean reached)
{
  double ground = circuit->reference < 0 ? 0 : circuit->nets[circuit->reference].potential;
  NetRoles roles = roles_of (circuit, net);
  guint n = net->n_joints;
  gboolean supplied = roles.fed && reached && !roles.driven && !roles.output, up;

  if (((roles.n_negative > 0 && roles.n_positive == 0) || is_minus_below_reference (circuit, net)) && n >= 2
      && net->potential < ground - 0.02)
    return ML_RAIL_DOWN;
  if (is_signal_source (circuit, net))
    return ML_RAIL_NONE;
  up = (roles.source && n >= 3) || (net->potential >= 0.88 && n >= 4 && supplied)
       || (!roles.control && supplied && n >= 5 && net->potential > ground + 0.2) || (roles.n_positive > 0 && n >= 3);
  return up && net->potential > ground + 0.02 ? ML_RAIL_UP : ML_RAIL_NONE;
}

static void
find_rails (MlCircuit *circuit)
{
  gboolean *reached = reached_nets (circuit);
  guint i;

  for (i = 0; i < circuit->n_nets; i++)
    circuit->nets[i].rail = (int) i == circuit->reference ? ML_RAIL_DOWN : rail_of (circuit, &circuit->nets[i], reached[i]);
  g_free (reached);
}

MlCircuit *
ml_circuit_new (MlBoard *board, const double *net_v)
{
  MlCircuit *circuit = g_new0 (MlCircuit, 1);

  circuit->board = board;
  take_nets (circuit);
  take_parts (circuit);
  take_joints (circuit);
  take_supplies (circuit);
  choose_reference (circuit);
  find_potentials (circuit, net_v);
  find_rails (circuit);
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
