/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two transistors, each of which drives the base of the other: multivibrators and flip-flops. Drawn with the four resistors in a row under
 * one bar and the two coupling parts level between the columns, one above the other:
 *
 *     bar ----+-------+-------+-------+
 *             Rb      Rc      Rb      Rc
 *             |-------|--(C)--|-------|       base of the first, collector of the second
 *             |       |-(C)---|       |       collector of the first, base of the second
 *             +--( T1         +--( T2
 *
 * A lamp in line with a load stands below its resistor, and all that is lower moves down. */
#include "drawing/layout-idioms.h"

#define RESISTOR_FOOT 4   /* g, all below the bar */
#define UPPER_COUPLING 7
#define LOWER_COUPLING 11
#define COLLECTOR 12
#define LAMP_PITCH 5
#define BASE_TO_COLLECTOR 7
#define COLLECTOR_PIN 0
#define BASE_PIN 1
#define EMITTER_PIN 2

typedef struct
{
  int transistor[2];
  int coupling[2];   /* [0] from the first's collector to the second's base */
  int load[2], bias[2]; /* resistors from the rail; bias -1: none */
  int lamp[2];          /* in line with the load, at the collector; -1: none */
  int rail;
} Pair;

static gboolean
is_candidate (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  MlKind kind = piece->part_kind;
  guint k;

  if (finder->used[i] || (kind != ML_KIND_NPN && kind != ML_KIND_NMOS) || piece->n_pins != 3)
    return FALSE;
  for (k = 0; k < 2; k++)
    if (!ml_idiom_signal (finder, piece->pins[k].net))
      return FALSE;
  return ml_idiom_down (finder, piece->pins[EMITTER_PIN].net) && piece->pins[COLLECTOR_PIN].net != piece->pins[BASE_PIN].net;
}

/* An unused capacitor or resistor from one net to another; -1. */
static int
coupling_between (const MlFinder *finder, int a, int b)
{
  int piece, pin, found = -1;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, a); k++)
    if (ml_idiom_at (finder, a, k, &piece, &pin) && ml_idiom_two (finder, piece) && ml_idiom_other (finder, piece, a) == b
        && (ml_idiom_kind (finder, piece) == ML_KIND_CAPACITOR || (found < 0 && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR)))
      found = piece;
  return found;
}

/* A resistor from a net to a rail above, on *rail when that is known; -1. */
static int
resistor_up (const MlFinder *finder, int net, int *rail)
{
  int piece, pin;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || ml_idiom_kind (finder, piece) != ML_KIND_RESISTOR || !ml_idiom_two (finder, piece))
        continue;
      other = ml_idiom_other (finder, piece, net);
      if (!ml_idiom_up (finder, other) || (*rail >= 0 && other != *rail))
        continue;
      *rail = other;
      return piece;
    }
  return -1;
}

/* What lights between a collector and the resistor that leads up: its piece, and the net between the two; -1. */
static int
lamp_at (const MlFinder *finder, int collector, int *ret_between)
{
  int piece, pin;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, collector); k++)
    {
      MlKind kind;
      if (!ml_idiom_at (finder, collector, k, &piece, &pin) || !ml_idiom_two (finder, piece))
        continue;
      kind = ml_idiom_kind (finder, piece);
      *ret_between = ml_idiom_other (finder, piece, collector);
      if ((kind == ML_KIND_LED || kind == ML_KIND_LAMP) && ml_idiom_n_at (finder, *ret_between) == 2)
        return piece;
    }
  return -1;
}

static gboolean
find_load (const MlFinder *finder, Pair *pair, int k)
{
  int collector = ml_idiom_net (finder, pair->transistor[k], COLLECTOR_PIN), between;

  pair->load[k] = resistor_up (finder, collector, &pair->rail);
  if (pair->load[k] >= 0)
    return TRUE;
  pair->lamp[k] = lamp_at (finder, collector, &between);
  if (pair->lamp[k] >= 0)
    pair->load[k] = resistor_up (finder, between, &pair->rail);
  return pair->load[k] >= 0;
}

static gboolean
is_pair (const MlFinder *finder, int a, int b, Pair *ret_pair)
{
  Pair pair = { { a, b }, { -1, -1 }, { -1, -1 }, { -1, -1 }, { -1, -1 }, -1 };
  int k;

  for (k = 0; k < 2; k++)
    {
      int collector = ml_idiom_net (finder, pair.transistor[k], COLLECTOR_PIN), base = ml_idiom_net (finder, pair.transistor[k], BASE_PIN);
      pair.coupling[k] = coupling_between (finder, collector, ml_idiom_net (finder, pair.transistor[1 - k], BASE_PIN));
      if (pair.coupling[k] < 0 || !find_load (finder, &pair, k))
        return FALSE;
      pair.bias[k] = resistor_up (finder, base, &pair.rail);
    }
  *ret_pair = pair;
  return pair.coupling[0] != pair.coupling[1];
}

static void
put_level (MlFinder *finder, MlMemberList *list, int piece, int net_left, int x, int y)
{
  MlForm *form = ml_idiom_lying (finder, piece, net_left);

  if (form != NULL)
    ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net_left), x, y);
}

static void
put_upright (MlFinder *finder, MlMemberList *list, int piece, int net_above, int x, int y)
{
  MlForm *form = piece < 0 ? NULL : ml_idiom_standing (finder, piece, net_above);

  if (form != NULL)
    ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net_above), x, y);
}

static void
add_pair (MlFinder *finder, const Pair *pair)
{
  MlMemberList *list = ml_idiom_list ();
  int wide = 3, side, columns[4], half, lower = 0, k;

  for (k = 0; k < 2; k++)
    {
      wide = MAX (wide, ml_idiom_label_w (finder, pair->load[k]));
      wide = MAX (wide, ml_idiom_label_w (finder, pair->transistor[k]));
      wide = pair->lamp[k] < 0 ? wide : MAX (wide, ml_idiom_label_w (finder, pair->lamp[k]));
      lower = pair->lamp[k] < 0 ? lower : LAMP_PITCH;
      wide = pair->bias[k] < 0 ? wide : MAX (wide, ml_idiom_label_w (finder, pair->bias[k]));
    }
  side = MAX (wide + 2, 6);
  for (k = 0; k < 4; k++)
    columns[k] = k / 2 * (BASE_TO_COLLECTOR + side) + k % 2 * BASE_TO_COLLECTOR;
  half = (columns[1] + columns[2]) / 2 - 2;
  for (k = 0; k < 2; k++)
    {
      put_upright (finder, list, pair->bias[k], pair->rail, columns[2 * k], RESISTOR_FOOT - 4);
      put_upright (finder, list, pair->load[k], pair->rail, columns[2 * k + 1], RESISTOR_FOOT - 4);
      put_upright (finder, list, pair->lamp[k], pair->lamp[k] < 0 ? -1 : ml_idiom_other (finder, pair->load[k], pair->rail), columns[2 * k + 1],
                   RESISTOR_FOOT - 4 + LAMP_PITCH);
      ml_idiom_put (finder, list, pair->transistor[k], ml_idiom_cheapest (finder, pair->transistor[k]), COLLECTOR_PIN, columns[2 * k + 1],
                    COLLECTOR + lower);
    }
  put_level (finder, list, pair->coupling[1], ml_idiom_net (finder, pair->transistor[0], BASE_PIN), half, UPPER_COUPLING + lower);
  put_level (finder, list, pair->coupling[0], ml_idiom_net (finder, pair->transistor[0], COLLECTOR_PIN), half, LOWER_COUPLING + lower);
  ml_idiom_keep (ml_idiom_add (finder, list, NULL, FALSE, 0));
}

void
ml_idiom_find_pairs (MlFinder *finder)
{
  Pair pair;
  guint a, b;

  for (a = 0; a < finder->kit->plain->len; a++)
    for (b = a + 1; b < finder->kit->plain->len && is_candidate (finder, (int) a); b++)
      if (is_candidate (finder, (int) b) && is_pair (finder, (int) a, (int) b, &pair))
        add_pair (finder, &pair);
}
