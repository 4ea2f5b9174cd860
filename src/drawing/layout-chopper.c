/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Converters: what a chip or a transistor chops flows on through an inductor and a diode (common practice).
 *
 *     chip --+---LLL---+----+--- out        in ---LLL---+---D---+----+--- out
 *            D         C    C                    chip --        C    C
 */
#include "drawing/layout-idioms.h"

#define MOST_CAPACITORS 4
#define BEHIND_CHOKE 3 /* g: room for the name of what comes out */
#define BETWEEN 4      /* g from choke to diode, and room for both texts */
#define MIRRORED 12

/* What hangs between a net and the reference; the n-th, -1. */
static int
hung_part (const MlCircuit *circuit, int net, MlKind kind, guint n)
{
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      if (part->kind == kind && part->two_terminal && ml_circuit_other (part, net) == circuit->reference
          && (kind != ML_KIND_DIODE || part->pins[joint.pin].word == ML_PIN_WORD_CATHODE) && n-- == 0)
        return joint.part;
    }
  return -1;
}

/* A chip's pin, or the path of a transistor. */
static gboolean
has_chopper (const MlCircuit *circuit, int net, gboolean *ret_chip)
{
  gboolean transistor = FALSE;
  guint i;

  *ret_chip = FALSE;
  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      *ret_chip |= part->kind == ML_KIND_BLOCK;
      transistor |= ml_circuit_is_transistor (part->kind) && !ml_circuit_is_control (part->pins[joint.pin].word);
    }
  return transistor || *ret_chip;
}

/* A diode that begins there, and ends where a capacitor holds what it lets through; -1. */
static int
lifting_diode (const MlCircuit *circuit, int net)
{
  guint i;

  for (i = 0; i < circuit->nets[net].n_joints; i++)
    {
      MlCircuitJoint joint = circuit->nets[net].joints[i];
      const MlCircuitPart *part = &circuit->parts[joint.part];
      int out = part->kind == ML_KIND_DIODE && part->pins[joint.pin].word == ML_PIN_WORD_ANODE ? ml_circuit_other (part, net) : -1;
      if (out >= 0 && out != circuit->reference && hung_part (circuit, out, ML_KIND_CAPACITOR, 0) >= 0)
        return joint.part;
    }
  return -1;
}

/* No capacitor may hold it, and nothing comes in there. */
static gboolean
is_chopped (const MlCircuit *circuit, int net)
{
  const MlCircuitNet *of = &circuit->nets[net];
  gboolean chip;

  return net != circuit->reference && !of->supply_plus && !of->supply_minus && !of->on_connector && hung_part (circuit, net, ML_KIND_CAPACITOR, 0) < 0
         && has_chopper (circuit, net, &chip) && (chip || hung_part (circuit, net, ML_KIND_DIODE, 0) >= 0);
}

/* The chip that chops is fed from the other net: there the current comes from. */
static gboolean
feeds_its_chip (const MlCircuit *circuit, int chopped, int net)
{
  guint i, k;

  for (i = 0; i < circuit->nets[chopped].n_joints; i++)
    {
      const MlCircuitPart *part = &circuit->parts[circuit->nets[chopped].joints[i].part];
      for (k = 0; part->kind == ML_KIND_BLOCK && k < part->n_pins; k++)
        if (part->pins[k].net == net && part->pins[k].pin == part->part->supply_pin)
          return TRUE;
    }
  return FALSE;
}

gboolean
ml_circuit_smooths (const MlCircuit *circuit, const MlCircuitPart *part, int *ret_chopped, int *ret_out)
{
  guint end;

  if (part->kind != ML_KIND_INDUCTOR || !part->two_terminal || circuit->reference < 0)
    return FALSE;
  for (end = 0; end < 2; end++)
    {
      int chopped = part->pins[end].net, out = part->pins[1 - end].net;
      if (chopped < 0 || out < 0 || chopped == out || out == circuit->reference || circuit->nets[out].supply_plus || !is_chopped (circuit, chopped)
          || hung_part (circuit, out, ML_KIND_CAPACITOR, 0) < 0 || lifting_diode (circuit, chopped) >= 0 || feeds_its_chip (circuit, chopped, out))
        continue;
      *ret_chopped = chopped;
      *ret_out = out;
      return TRUE;
    }
  return FALSE;
}

/* The choke at a net that a chip chops and a diode lifts; -1. */
static int
lifting_choke (const MlCircuit *circuit, int chopped)
{
  gboolean chip;
  guint i;

  if (!is_chopped (circuit, chopped) || !has_chopper (circuit, chopped, &chip) || !chip || lifting_diode (circuit, chopped) < 0)
    return -1;
  for (i = 0; i < circuit->nets[chopped].n_joints; i++)
    if (circuit->parts[circuit->nets[chopped].joints[i].part].kind == ML_KIND_INDUCTOR)
      return circuit->nets[chopped].joints[i].part;
  return -1;
}

gboolean
ml_circuit_is_converted (const MlCircuit *circuit, int net)
{
  int chopped, out;
  guint i;

  for (i = 0; circuit->reference >= 0 && i < circuit->nets[net].n_joints; i++)
    {
      int part = circuit->nets[net].joints[i].part, other;
      if (ml_circuit_smooths (circuit, &circuit->parts[part], &chopped, &out) && out == net)
        return TRUE;
      other = circuit->parts[part].kind == ML_KIND_DIODE ? ml_circuit_other (&circuit->parts[part], net) : -1;
      if (other >= 0 && lifting_choke (circuit, other) >= 0 && lifting_diode (circuit, other) == part)
        return TRUE;
    }
  return FALSE;
}

static void
find_filter (MlFinder *finder, int inductor, int chopped, int out)
{
  const MlForm *lying = ml_idiom_lying (finder, inductor, chopped);
  MlMemberList *list = ml_idiom_list ();
  int x = ml_idiom_hang (finder, list, ml_idiom_free (finder, hung_part (finder->circuit, chopped, ML_KIND_DIODE, 0)), chopped, 0);
  guint i;

  ml_idiom_put (finder, list, inductor, lying, ml_idiom_pin_on (finder, inductor, chopped), x, 0);
  x += 4 + BEHIND_CHOKE;
  for (i = 0; i < MOST_CAPACITORS; i++)
    x = ml_idiom_hang (finder, list, ml_idiom_free (finder, hung_part (finder->circuit, out, ML_KIND_CAPACITOR, i)), out, x);
  ml_idiom_add (finder, list, NULL, TRUE, MIRRORED);
}

/* A line from left to right; what the chip chops is in the middle of it. */
static void
find_lift (MlFinder *finder, int inductor)
{
  const MlCircuit *circuit = finder->circuit;
  int end, chopped = -1, diode = -1, out, x;
  const MlForm *choke, *rectifier;
  MlMemberList *list;
  guint i;

  for (end = 0; end < 2 && diode < 0; end++)
    {
      chopped = ml_idiom_net (finder, inductor, end);
      diode = lifting_choke (circuit, chopped) != ml_idiom_piece (finder, inductor)->part ? -1 : ml_idiom_free (finder, lifting_diode (circuit, chopped));
    }
  if (diode < 0)
    return;
  out = ml_idiom_other (finder, diode, chopped);
  choke = ml_idiom_lying (finder, inductor, ml_idiom_other (finder, inductor, chopped));
  rectifier = ml_idiom_lying (finder, diode, chopped);
  if (choke == NULL || rectifier == NULL || out == ml_idiom_other (finder, inductor, chopped))
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, inductor, choke, ml_idiom_pin_on (finder, inductor, chopped), 0, 0);
  ml_idiom_put (finder, list, diode, rectifier, ml_idiom_pin_on (finder, diode, chopped), BETWEEN, 0);
  x = BETWEEN + 4 + BEHIND_CHOKE;
  for (i = 0; i < MOST_CAPACITORS; i++)
    x = ml_idiom_hang (finder, list, ml_idiom_free (finder, hung_part (circuit, out, ML_KIND_CAPACITOR, i)), out, x);
  ml_idiom_add (finder, list, NULL, TRUE, MIRRORED);
}

void
ml_idiom_find_choppers (MlFinder *finder)
{
  guint i;
  int chopped, out;

  for (i = 0; i < finder->kit->plain->len; i++)
    {
      const MlPiece *piece = ml_idiom_piece (finder, (int) i);
      if (!finder->used[i] && piece->kind == ML_PIECE_PART && ml_idiom_two (finder, (int) i)
          && ml_circuit_smooths (finder->circuit, &finder->circuit->parts[piece->part], &chopped, &out)
          && ml_idiom_lying (finder, (int) i, chopped) != NULL)
        find_filter (finder, (int) i, chopped, out);
      else if (!finder->used[i] && ml_idiom_kind (finder, (int) i) == ML_KIND_INDUCTOR && ml_idiom_two (finder, (int) i) && finder->reference >= 0)
        find_lift (finder, (int) i);
    }
}
