/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Charge pumps: what a chip's pin swings goes through a capacitor to a node between two diodes, and from there into a capacitor that keeps it
 * (common practice):
 *
 *            in
 *            D                                      out ---+---D<--+---C--- R --- chip
 *   R ---C---+---D>---+--- out     or, downwards           C       D
 *                     C                                            ref
 */
#include "drawing/layout-idioms.h"

#define RAISED 3       /* g: the text of the level diode stands below that of the upright one */
#define LOWERED 1      /* g: its body keeps off that of the capacitor */
#define BEHIND_NODE 2  /* g from the node to the level diode */
#define BEHIND_DIODE 3 /* g: room for the name of what comes out */
#define BETWEEN 2      /* g from resistor to capacitor */
#define MIRRORED 12

typedef struct
{
  int capacitor, resistor; /* circuit's parts; resistor -1: none */
  int driven, node;        /* nets: what is swung, what follows between the diodes */
  int upright, level;      /* circuit's parts: the diode that charges, the one that lets out */
  int out;                 /* net that keeps the charge */
  int kept_by;             /* circuit's part: the capacitor there */
} Pump;

/* The one diode with that end on a net; -1. */
static int
diode_at (const MlCircuit *circuit, int net, MlPinWord word)
{
  int found = -1;
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      if (circuit->parts[joint.part].kind == ML_KIND_DIODE && circuit->parts[joint.part].pins[joint.pin].word == word)
        {
          if (found >= 0)
            return -1;
          found = joint.part;
        }
    }
  return found;
}

/* A capacitor from a net to one that is neither swung nor the pump's own: -1. */
static int
keeper_at (const MlCircuit *circuit, int net)
{
  guint i;

  for (i = 0; net >= 0 && i < circuit->nets[net].n_joints; i++)
    {
      int part = circuit->nets[net].joints[i].part, other;
      if (circuit->parts[part].kind != ML_KIND_CAPACITOR || !circuit->parts[part].two_terminal)
        continue;
      other = ml_circuit_other (&circuit->parts[part], net);
      if (other >= 0 && (other == circuit->reference || circuit->nets[other].rail != ML_RAIL_NONE))
        return part;
    }
  return -1;
}

/* What swings there: a chip's pin, an output, the path of a transistor. */
static gboolean
is_swung (const MlCircuit *circuit, int net)
{
  guint i;

  if (net < 0 || net == circuit->reference || circuit->nets[net].on_connector)
    return FALSE;
  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      if (part->kind == ML_KIND_BLOCK || part->pins[joint.pin].word == ML_PIN_WORD_OUT
          || (ml_circuit_is_transistor (part->kind) && !ml_circuit_is_control (part->pins[joint.pin].word)))
        return TRUE;
    }
  return FALSE;
}

/* The net is swung, straight or through a resistor that nothing else hangs on. */
static gboolean
find_drive (const MlCircuit *circuit, int net, int *ret_resistor)
{
  guint i;

  *ret_resistor = -1;
  if (is_swung (circuit, net))
    return TRUE;
  for (i = 0; circuit->nets[net].n_joints == 2 && i < 2; i++)
    {
      int part = circuit->nets[net].joints[i].part;
      if (circuit->parts[part].kind == ML_KIND_RESISTOR && is_swung (circuit, ml_circuit_other (&circuit->parts[part], net)))
        {
          *ret_resistor = part;
          return TRUE;
        }
    }
  return FALSE;
}

static gboolean
is_pump (const MlCircuit *circuit, int part, int node, Pump *ret_pump)
{
  Pump pump = { .capacitor = part, .node = node, .driven = ml_circuit_other (&circuit->parts[part], node) };
  int from, to;

  if (pump.driven < 0 || circuit->nets[node].n_joints != 3 || circuit->nets[node].supply_plus || circuit->nets[node].supply_minus
      || !find_drive (circuit, pump.driven, &pump.resistor))
    return FALSE;
  from = diode_at (circuit, node, ML_PIN_WORD_CATHODE);
  to = diode_at (circuit, node, ML_PIN_WORD_ANODE);
  if (from < 0 || to < 0)
    return FALSE;
  pump.upright = from;
  pump.level = to;
  pump.out = ml_circuit_other (&circuit->parts[to], node);
  if (pump.out == circuit->reference) /* downwards */
    {
      pump.upright = to;
      pump.level = from;
      pump.out = ml_circuit_other (&circuit->parts[from], node);
    }
  pump.kept_by = keeper_at (circuit, pump.out);
  if (pump.out < 0 || pump.kept_by < 0 || pump.out == ml_circuit_other (&circuit->parts[pump.upright], node))
    return FALSE;
  *ret_pump = pump;
  return TRUE;
}

gboolean
ml_circuit_pumps (const MlCircuit *circuit, const MlCircuitPart *part, int driven)
{
  Pump pump;
  int node = part->kind == ML_KIND_CAPACITOR && part->two_terminal ? ml_circuit_other (part, driven) : -1;

  return node >= 0 && is_pump (circuit, (int) (part - circuit->parts), node, &pump);
}

/* Level, its pin on `net_right` at x. */
static int
put_before (MlFinder *finder, MlMemberList *list, int piece, int net_right, int x)
{
  int net_left = ml_idiom_other (finder, piece, net_right);

  ml_idiom_put (finder, list, piece, ml_idiom_lying (finder, piece, net_left), ml_idiom_pin_on (finder, piece, net_right), x, 0);
  return x - 4;
}

static void
add_pump (MlFinder *finder, const Pump *pump)
{
  int capacitor = ml_idiom_free (finder, pump->capacitor), resistor = ml_idiom_free (finder, pump->resistor);
  int upright = ml_idiom_free (finder, pump->upright), level = ml_idiom_free (finder, pump->level), kept_by = ml_idiom_free (finder, pump->kept_by);
  int in = upright < 0 ? -1 : ml_idiom_other (finder, upright, pump->node), x;
  gboolean from_above = in >= 0 && !ml_idiom_down (finder, in);
  MlMemberList *list;

  if (capacitor < 0 || upright < 0 || level < 0 || in < 0)
    return;
  list = ml_idiom_list ();
  x = put_before (finder, list, capacitor, pump->node, 0);
  if (resistor >= 0)
    put_before (finder, list, resistor, pump->driven, x - BETWEEN);
  ml_idiom_put (finder, list, upright, ml_idiom_standing (finder, upright, from_above ? in : pump->node), ml_idiom_pin_on (finder, upright, pump->node), 0,
                from_above ? -RAISED : LOWERED);
  ml_idiom_put (finder, list, level, ml_idiom_lying (finder, level, pump->node), ml_idiom_pin_on (finder, level, pump->node), BEHIND_NODE, 0);
  if (kept_by >= 0)
    ml_idiom_hang (finder, list, kept_by, pump->out, BEHIND_NODE + 4 + BEHIND_DIODE);
  ml_idiom_add (finder, list, NULL, TRUE, MIRRORED);
}

void
ml_idiom_find_pumps (MlFinder *finder)
{
  const MlCircuit *circuit = finder->circuit;
  guint i, end;

  for (i = 0; i < circuit->n_parts; i++)
    for (end = 0; end < 2 && circuit->parts[i].kind == ML_KIND_CAPACITOR && circuit->parts[i].two_terminal; end++)
      {
        Pump pump;
        if (circuit->parts[i].pins[end].net >= 0 && is_pump (circuit, (int) i, circuit->parts[i].pins[end].net, &pump))
          add_pump (finder, &pump);
      }
}
