/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What sets a chip's pace: a crystal stands on end between two lines of the chip, its load capacitors lie beyond it (common practice).
 *
 *     --||--+------- chip
 *          [ ]
 *     --||--+------- chip
 */
#include "drawing/layout-idioms.h"

#define ASIDE 4 /* g from the crystal's pin to the capacitor's: past the corner of its box */
#define MIRRORED 10 /* beyond it: chips have such pins at the left */

/* A box with two pins at signals, as it is typed when its kind is not known to the program. */
static gboolean
is_box_of_two (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);

  return !finder->used[i] && piece->kind == ML_PIECE_PART && piece->is_block && piece->n_pins == 2 && ml_idiom_signal (finder, piece->pins[0].net)
         && ml_idiom_signal (finder, piece->pins[1].net) && piece->pins[0].net != piece->pins[1].net;
}

/* Another box that both lines lead to. */
static gboolean
serves_a_chip (const MlFinder *finder, int i, int a, int b)
{
  const MlCircuitNet *net = &finder->circuit->nets[a];
  guint k;

  for (k = 0; k < net->n_joints; k++)
    {
      int part = net->joints[k].part;
      if (part != ml_idiom_piece (finder, i)->part && finder->circuit->parts[part].kind == ML_KIND_BLOCK && ml_circuit_has_pin_at (&finder->circuit->parts[part], b))
        return TRUE;
    }
  return FALSE;
}

/* The one capacitor from a line to the reference; -1. */
static int
load_at (const MlFinder *finder, int net)
{
  int piece, pin, found = -1;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_two (finder, piece) && ml_idiom_kind (finder, piece) == ML_KIND_CAPACITOR
        && ml_idiom_down (finder, ml_idiom_other (finder, piece, net)))
      {
        if (found >= 0)
          return -1;
        found = piece;
      }
  return found;
}

/* The box with one pin above, the other below. */
static MlForm *
on_end (const MlFinder *finder, int i, int above)
{
  MlPiece *piece = ml_idiom_piece (finder, i);
  int up[] = { above }, down[] = { 1 - above }, none[] = { 0 };
  MlBoxSides sides = { { none, down, none, up }, { 0, 1, 0, 1 } };
  MlForm *form = ml_box_form (piece, finder->circuit, &sides, 0);

  g_ptr_array_add (piece->forms, form);
  return form;
}

static MlMemberList *
drawn (MlFinder *finder, int i, const int *loads, int above)
{
  const MlForm *form = on_end (finder, i, above);
  MlMemberList *list = ml_idiom_list ();
  int end;

  ml_idiom_put (finder, list, i, form, above, 0, 0);
  for (end = 0; end < 2; end++)
    {
      int net = ml_idiom_net (finder, i, end);
      const MlForm *lying = ml_idiom_lying (finder, loads[end], ml_idiom_other (finder, loads[end], net));
      ml_idiom_put (finder, list, loads[end], lying, ml_idiom_pin_on (finder, loads[end], net), -ASIDE, form->pins[end].y - form->pins[above].y);
    }
  return list;
}

static void
find_crystal (MlFinder *finder, int i)
{
  int nets[] = { ml_idiom_net (finder, i, 0), ml_idiom_net (finder, i, 1) }, loads[2], end;

  for (end = 0; end < 2; end++)
    {
      loads[end] = load_at (finder, nets[end]);
      if (loads[end] < 0 || ml_idiom_lying (finder, loads[end], ml_idiom_other (finder, loads[end], nets[end])) == NULL)
        return;
    }
  if (serves_a_chip (finder, i, nets[0], nets[1]))
    ml_idiom_add (finder, drawn (finder, i, loads, 0), drawn (finder, i, loads, 1), TRUE, MIRRORED);
}

void
ml_idiom_find_crystals (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    if (is_box_of_two (finder, (int) i))
      find_crystal (finder, (int) i);
}
