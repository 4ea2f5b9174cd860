/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A step-down converter: what a chip or a transistor chops flows on through a diode and an inductor (common practice).
 *
 *     chip --+---LLL---+----+--- out
 *            D         C    C
 */
#include "drawing/layout-idioms.h"

#define MOST_CAPACITORS 4
#define BEHIND_CHOKE 3 /* g: room for the name of what comes out */
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

/* No capacitor may hold it, and nothing comes in there. */
static gboolean
is_chopped (const MlCircuit *circuit, int net)
{
  const MlCircuitNet *of = &circuit->nets[net];
  gboolean chip;

  return net != circuit->reference && !of->supply_plus && !of->supply_minus && !of->on_connector && hung_part (circuit, net, ML_KIND_CAPACITOR, 0) < 0
         && has_chopper (circuit, net, &chip) && (chip || hung_part (circuit, net, ML_KIND_DIODE, 0) >= 0);
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
          || hung_part (circuit, out, ML_KIND_CAPACITOR, 0) < 0)
        continue;
      *ret_chopped = chopped;
      *ret_out = out;
      return TRUE;
    }
  return FALSE;
}

/* The free piece of a part, or -1. */
static int
free_piece (const MlFinder *finder, int part)
{
  int piece = part < 0 ? -1 : finder->kit->plain_of_part[part];

  return piece < 0 || finder->used[piece] || !ml_idiom_two (finder, piece) ? -1 : piece;
}

/* Hanging from the line at x; the next place on it. */
static int
put_hanging (MlFinder *finder, MlMemberList *list, int piece, int net, int x)
{
  const MlForm *form = piece < 0 ? NULL : ml_idiom_standing (finder, piece, net);

  if (form == NULL)
    return x;
  ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net), x, 0);
  return x + 3 + ml_idiom_label_w (finder, piece);
}

static void
find_filter (MlFinder *finder, int inductor, int chopped, int out)
{
  const MlForm *lying = ml_idiom_lying (finder, inductor, chopped);
  MlMemberList *list = ml_idiom_list ();
  int x = put_hanging (finder, list, free_piece (finder, hung_part (finder->circuit, chopped, ML_KIND_DIODE, 0)), chopped, 0);
  guint i;

  ml_idiom_put (finder, list, inductor, lying, ml_idiom_pin_on (finder, inductor, chopped), x, 0);
  x += 4 + BEHIND_CHOKE;
  for (i = 0; i < MOST_CAPACITORS; i++)
    x = put_hanging (finder, list, free_piece (finder, hung_part (finder->circuit, out, ML_KIND_CAPACITOR, i)), out, x);
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
    }
}
