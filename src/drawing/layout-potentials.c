/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which net lies above which: the potentials given, and a proxy network where nothing better is known. */
#include "drawing/layout-circuit.h"

#include <math.h>

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

#define RECTIFIER 20 /* by what it conducts more than a part of the load: next to nothing is lost there */

/* Where a supply comes in, a diode is a rectifier or guards against the wrong polarity. */
static gboolean
is_at_supply (const MlCircuit *circuit, const MlCircuitPart *part)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (part->pins[i].net >= 0 && part->pins[i].net != circuit->reference
        && (circuit->nets[part->pins[i].net].supply_plus || circuit->nets[part->pins[i].net].supply_minus))
      return TRUE;
  return FALSE;
}

static void
add_semiconductor_branches (GArray *branches, const MlCircuit *circuit, const MlCircuitPart *part)
{
  switch (part->kind)
    {
    case ML_KIND_DIODE:
      add_branch (branches, part, ML_PIN_WORD_ANODE, ML_PIN_WORD_CATHODE, is_at_supply (circuit, part) ? RECTIFIER : 1, TRUE);
      break;
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
      add_branch (branches, part, ML_PIN_WORD_AC1, ML_PIN_WORD_PLUS, RECTIFIER, TRUE);
      add_branch (branches, part, ML_PIN_WORD_AC2, ML_PIN_WORD_PLUS, RECTIFIER, TRUE);
      add_branch (branches, part, ML_PIN_WORD_MINUS, ML_PIN_WORD_AC1, RECTIFIER, TRUE);
      add_branch (branches, part, ML_PIN_WORD_MINUS, ML_PIN_WORD_AC2, RECTIFIER, TRUE);
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
        add_semiconductor_branches (branches, circuit, part);
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

/* What no supply reaches: an island's ground lies as low as the reference, its rectified voltage as high as any. */
static void
fix_islands (const MlCircuit *circuit, double *v, gboolean *fixed)
{
  double low = 0, high = 0;
  guint i;

  for (i = 0; i < circuit->n_nets; i++)
    if (fixed[i])
      high = MAX (high, v[i]);
  if (circuit->reference >= 0 && fixed[circuit->reference])
    low = v[circuit->reference];
  for (i = 0; i < circuit->n_nets; i++)
    if (circuit->nets[i].ground >= 0 && circuit->nets[i].ground != circuit->reference)
      {
        fix_potential (v, fixed, circuit->nets[i].ground, low);
        if (circuit->nets[i].island_top)
          fix_potential (v, fixed, (int) i, high > low ? high : low + 10);
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
              g = 2e-3 * MIN (g, 1);
            s += g * v[branch->a == (int) i ? branch->b : branch->a];
            w += g;
          }
        if (w > 0)
          v[i] = s / w;
      }
  g_free (start);
  g_free (of_net);
}

void
ml_circuit_find_potentials (MlCircuit *circuit, const double *net_v)
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
  fix_islands (circuit, v, fixed);
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
