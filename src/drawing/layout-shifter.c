/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A line between two voltages: a field-effect transistor lies in it, its gate up to the lower rail, each end held up by a resistor:
 *
 *       low   low       high
 *        R     |         R
 *        +---( T )-------+
 */
#include "drawing/layout-idioms.h"

#define DRAIN_PIN 0
#define GATE_PIN 1
#define SOURCE_PIN 2
#define LENGTH 4 /* g from source to drain */
#define ABOVE 2

/* The one resistor from a net up to a rail; -1. */
static int
pull_up_of (const MlFinder *finder, int net)
{
  int piece, pin, found = -1;
  guint k, n = 0;

  for (k = 0; ml_idiom_signal (finder, net) && k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_two (finder, piece)
        && ml_idiom_up (finder, ml_idiom_other (finder, piece, net)))
      {
        found = piece;
        n++;
      }
  return n == 1 ? found : -1;
}

static void
put_pull_up (MlFinder *finder, MlMemberList *list, int resistor, int net, int x)
{
  MlForm *form = ml_idiom_hanging_from (finder, resistor, net, FALSE);

  if (form != NULL)
    ml_idiom_put (finder, list, resistor, form, ml_idiom_pin_on (finder, resistor, net), x, -ABOVE);
}

static void
find_shifter (MlFinder *finder, int i)
{
  MlPiece *piece = ml_idiom_piece (finder, i);
  int low, high;
  MlForm *form;
  MlMemberList *list;

  if (piece->n_pins != 3 || !ml_idiom_up (finder, piece->pins[GATE_PIN].net))
    return;
  low = pull_up_of (finder, piece->pins[SOURCE_PIN].net);
  high = pull_up_of (finder, piece->pins[DRAIN_PIN].net);
  if (low < 0 || high < 0 || low == high || ml_idiom_other (finder, low, piece->pins[SOURCE_PIN].net) != piece->pins[GATE_PIN].net)
    return;
  form = ml_piece_form_at (piece, finder->circuit, ((MlForm *) g_ptr_array_index (piece->forms, 0))->symbol, 1, FALSE);
  if (form->pins[GATE_PIN].side != ML_SIDE_UP || form->pins[SOURCE_PIN].side != ML_SIDE_LEFT)
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, i, form, SOURCE_PIN, 0, 0);
  put_pull_up (finder, list, low, piece->pins[SOURCE_PIN].net, -ABOVE - ml_idiom_label_w (finder, low));
  put_pull_up (finder, list, high, piece->pins[DRAIN_PIN].net, LENGTH + ABOVE);
  ml_idiom_add (finder, list, NULL, TRUE, 0);
}

void
ml_idiom_find_shifters (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_idiom_kind (finder, (int) i) == ML_KIND_NMOS)
      find_shifter (finder, (int) i);
}
