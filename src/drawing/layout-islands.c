/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Islands: what hangs together by parts but not with the reference, like all behind the secondary of a transformer or beyond optocouplers. One that
 * is supplied has its ground at the supply's minus. One that rectifies has a ground, too, from which its voltages are counted; nothing can compute
 * them, but polarities tell which way they lie. */
#include "drawing/groups.h"
#include "drawing/layout-circuit.h"

#define LEAST_JOINTS 4 /* fewer lead to a ground only when it is not the one everything returns to */

/* The two sides of an optocoupler are apart. */
static int
side_of_pin (const MlCircuitPart *part, guint pin)
{
  return part->kind == ML_KIND_OPTO && (part->pins[pin].word == ML_PIN_WORD_ANODE || part->pins[pin].word == ML_PIN_WORD_CATHODE);
}

static void
join_nets (const MlCircuit *circuit, guint *parent)
{
  guint i, k, j;

  for (i = 0; i < circuit->n_parts; i++)
    for (k = 0; k < circuit->parts[i].n_pins; k++)
      for (j = 0; j < k; j++)
        {
          const MlCircuitPart *part = &circuit->parts[i];
          if (part->pins[k].net >= 0 && part->pins[j].net >= 0 && side_of_pin (part, k) == side_of_pin (part, j))
            ml_group_join (parent, (guint) part->pins[k].net, (guint) part->pins[j].net);
        }
}

/* How many parts with polarity have their lower end at a net, how many their upper. */
static void
count_ends (const MlCircuit *circuit, const MlCircuitNet *net, guint *ret_lower, guint *ret_upper)
{
  guint i;

  *ret_lower = *ret_upper = 0;
  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      MlPinWord word = part->pins[net->joints[i].pin].word;
      gboolean reversed = part->kind == ML_KIND_ZENER || part->kind == ML_KIND_SHUNT; /* in use the cathode lies above */
      *ret_lower += word == ML_PIN_WORD_MINUS || word == ML_PIN_WORD_GROUND || (reversed && word == ML_PIN_WORD_ANODE);
      *ret_upper += word == ML_PIN_WORD_PLUS || (reversed && word == ML_PIN_WORD_CATHODE) || (part->kind == ML_KIND_DIODE && word == ML_PIN_WORD_CATHODE)
                    || (ml_circuit_is_regulator (part->kind) && (word == ML_PIN_WORD_IN || word == ML_PIN_WORD_OUT));
    }
}

static gboolean
rectifies (const MlCircuit *circuit, guint *parent, guint root)
{
  guint i;

  for (i = 0; i < circuit->n_parts; i++)
    if ((circuit->parts[i].kind == ML_KIND_DIODE || circuit->parts[i].kind == ML_KIND_BRIDGE) && circuit->parts[i].pins[0].net >= 0
        && ml_group_of (parent, (guint) circuit->parts[i].pins[0].net) == root)
      return TRUE;
  return FALSE;
}

/* Where the supplies of an island return to; -1 when that is more than one net, or hardly anything does. */
static int
minus_of (const MlCircuit *circuit, guint *parent, guint root)
{
  int minus = -1;
  guint i;

  for (i = 0; i < circuit->n_nets; i++)
    {
      const MlCircuitNet *net = &circuit->nets[i];
      if (ml_group_of (parent, i) != root || !net->supply_minus || net->supply_plus)
        continue;
      if (minus >= 0)
        return -1;
      minus = (int) i;
    }
  return minus >= 0 && circuit->nets[minus].n_joints >= LEAST_JOINTS ? minus : -1;
}

static gboolean
is_supplied (const MlCircuit *circuit, guint *parent, guint root)
{
  guint i;

  for (i = 0; i < circuit->n_nets; i++)
    if (ml_group_of (parent, i) == root && (circuit->nets[i].supply_plus || circuit->nets[i].supply_minus))
      return TRUE;
  return FALSE;
}

/* The busiest net at which things end below and none above; -1. */
static int
ground_of (const MlCircuit *circuit, guint *parent, guint root)
{
  int best = -1;
  guint i, lower, upper;

  for (i = 0; i < circuit->n_nets; i++)
    {
      const MlCircuitNet *net = &circuit->nets[i];
      if (ml_group_of (parent, i) != root || net->n_joints < LEAST_JOINTS || (best >= 0 && net->n_joints <= circuit->nets[best].n_joints))
        continue;
      count_ends (circuit, net, &lower, &upper);
      if (lower > 0 && upper == 0)
        best = (int) i;
    }
  return best;
}

/* Where the rectifier feeds: the busiest net from which a capacitor's plus looks to the ground; -1. */
static int
fed_net (const MlCircuit *circuit, int ground)
{
  const MlCircuitNet *net = &circuit->nets[ground];
  int best = -1;
  guint i;

  for (i = 0; i < net->n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[net->joints[i].part];
      int other = part->kind == ML_KIND_CAPACITOR && part->pins[net->joints[i].pin].word == ML_PIN_WORD_MINUS ? ml_circuit_other (part, ground) : -1;
      if (other >= 0 && (best < 0 || circuit->nets[other].n_joints > circuit->nets[best].n_joints))
        best = other;
    }
  return best;
}

void
ml_circuit_find_islands (MlCircuit *circuit)
{
  guint *parent = g_new (guint, MAX (circuit->n_nets, 1)), i, root, of_reference;

  for (i = 0; i < circuit->n_nets; i++)
    parent[i] = i;
  join_nets (circuit, parent);
  of_reference = circuit->reference < 0 ? G_MAXUINT : ml_group_of (parent, (guint) circuit->reference);
  for (root = 0; root < circuit->n_nets; root++)
    {
      int ground;
      if (ml_group_of (parent, root) != root)
        continue;
      if (root == of_reference)
        ground = circuit->reference;
      else if (is_supplied (circuit, parent, root))
        ground = minus_of (circuit, parent, root);
      else
        ground = rectifies (circuit, parent, root) ? ground_of (circuit, parent, root) : -1;
      for (i = 0; i < circuit->n_nets; i++)
        if (ml_group_of (parent, i) == root)
          circuit->nets[i].ground = ground;
      if (root != of_reference && ground >= 0 && !is_supplied (circuit, parent, root) && fed_net (circuit, ground) >= 0)
        circuit->nets[fed_net (circuit, ground)].island_top = TRUE;
    }
  g_free (parent);
}
