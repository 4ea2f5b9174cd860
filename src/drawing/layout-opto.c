/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An isolated input: resistor in line with the LED of an opto, a diode the other way round beside the LED, pull-up at the collector. */
#include "drawing/layout-idioms.h"

#define DIODE_X 3    /* g left of the LED's pins: its name stands between */
#define PULL_UP_X 2  /* g right of the collector */
#define FILTER_X 4   /* g right of it: past the emitter's sign of the reference */
#define LED_PITCH 4  /* g between the LED's pins: as long as a diode */

/* Between two nets, free yet; -1. */
static int
diode_across (const MlFinder *finder, int from, int to)
{
  int piece, pin;

  for (guint k = 0; k < ml_idiom_n_at (finder, from); k++)
    if (ml_idiom_at (finder, from, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_DIODE && ml_idiom_two (finder, piece)
        && ml_idiom_net_of_word (finder, piece, ML_PIN_WORD_ANODE) == from && ml_idiom_other (finder, piece, from) == to)
      return piece;
  return -1;
}

/* The one resistor on a net whose other end is a rail, or is none; -1. */
static int
resistor_at (const MlFinder *finder, int net, gboolean to_rail)
{
  int piece, pin, found = -1;

  for (guint k = 0; ml_idiom_signal (finder, net) && k < ml_idiom_n_at (finder, net); k++)
    {
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || ml_idiom_kind (finder, piece) != ML_KIND_RESISTOR || !ml_idiom_two (finder, piece))
        continue;
      other = ml_idiom_other (finder, piece, net);
      if (to_rail ? !ml_idiom_up (finder, other) : !ml_idiom_signal (finder, other))
        continue;
      if (found >= 0)
        return -1;
      found = piece;
    }
  return found;
}

/* A capacitor from a net to a lower rail; -1. */
static int
filter_at (const MlFinder *finder, int net)
{
  int piece, pin;

  for (guint k = 0; ml_idiom_signal (finder, net) && k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_CAPACITOR && ml_idiom_two (finder, piece)
        && ml_idiom_down (finder, ml_idiom_other (finder, piece, net)))
      return piece;
  return -1;
}

/* The LED left with its anode above, the transistor right. */
static gboolean
is_upright (const MlForm *form, int anode, int cathode, int collector)
{
  return form->pins[anode].side == ML_SIDE_LEFT && form->pins[collector].side == ML_SIDE_RIGHT
         && form->pins[cathode].y - form->pins[anode].y == LED_PITCH;
}

static void
find_input (MlFinder *finder, int opto)
{
  const MlForm *form = ml_idiom_cheapest (finder, opto);
  int anode_net = ml_idiom_net_of_word (finder, opto, ML_PIN_WORD_ANODE), cathode_net = ml_idiom_net_of_word (finder, opto, ML_PIN_WORD_CATHODE);
  int collector_net = ml_idiom_net_of_word (finder, opto, ML_PIN_WORD_COLLECTOR), x = -1, anode, cathode, collector, series, diode, pull_up, filter;
  MlForm *lying, *beside, *above, *below;
  MlMemberList *list;

  if (anode_net < 0 || cathode_net < 0 || collector_net < 0 || anode_net == cathode_net || collector_net == anode_net)
    return;
  anode = ml_idiom_pin_on (finder, opto, anode_net);
  cathode = ml_idiom_pin_on (finder, opto, cathode_net);
  collector = ml_idiom_pin_on (finder, opto, collector_net);
  series = resistor_at (finder, anode_net, FALSE);
  diode = diode_across (finder, cathode_net, anode_net);
  pull_up = resistor_at (finder, collector_net, TRUE);
  filter = filter_at (finder, collector_net);
  lying = series < 0 ? NULL : ml_idiom_lying (finder, series, ml_idiom_other (finder, series, anode_net));
  beside = diode < 0 ? NULL : ml_idiom_standing (finder, diode, anode_net);
  above = pull_up < 0 ? NULL : ml_idiom_standing (finder, pull_up, ml_idiom_other (finder, pull_up, collector_net));
  below = filter < 0 ? NULL : ml_idiom_standing (finder, filter, collector_net);
  if (lying == NULL || (beside == NULL && above == NULL) || !is_upright (form, anode, cathode, collector))
    return;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, opto, form, anode, 0, 0);
  if (beside != NULL)
    {
      ml_idiom_put (finder, list, diode, beside, ml_idiom_pin_on (finder, diode, anode_net), -DIODE_X, 0);
      x -= DIODE_X;
    }
  ml_idiom_put (finder, list, series, lying, ml_idiom_pin_on (finder, series, anode_net), x, 0);
  if (above != NULL)
    ml_idiom_put (finder, list, pull_up, above, ml_idiom_pin_on (finder, pull_up, collector_net),
                  form->pins[collector].x - form->pins[anode].x + PULL_UP_X, form->pins[collector].y - form->pins[anode].y);
  if (below != NULL)
    ml_idiom_put (finder, list, filter, below, ml_idiom_pin_on (finder, filter, collector_net),
                  form->pins[collector].x - form->pins[anode].x + FILTER_X, form->pins[collector].y - form->pins[anode].y);
  ml_idiom_add (finder, list, NULL, TRUE, 12);
}

void
ml_idiom_find_isolated (MlFinder *finder)
{
  for (guint i = 0; i < finder->kit->plain->len; i++)
    if (!finder->used[i] && ml_idiom_kind (finder, (int) i) == ML_KIND_OPTO && ml_idiom_piece (finder, (int) i)->kind == ML_PIECE_PART)
      find_input (finder, (int) i);
}
