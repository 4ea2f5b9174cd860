/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A push-pull output: two followers of opposite polarity in one column between the rails, the resistors at their emitters between them, the
 * output in the middle:
 *
 *        high
 *   -( T )
 *      R
 *      +---- out
 *      R
 *   -( T )
 *        low
 */
#include "drawing/layout-idioms.h"

#define COLUMN_X 3      /* of the main path, right of the base */
#define LENGTH 4        /* g from collector to emitter, and of a resistor */
#define WIRE 1          /* g between them */

enum { COLLECTOR_PIN, BASE_PIN, EMITTER_PIN };

/* A follower, what its emitter has in its way to the output (-1: nothing), and the output. */
typedef struct { int transistor, resistor, out; } Follower;

static gboolean
is_follower (const MlFinder *finder, int i, gboolean upper)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  MlKind bipolar = upper ? ML_KIND_NPN : ML_KIND_PNP, field = upper ? ML_KIND_NMOS : ML_KIND_PMOS;

  return !finder->used[i] && (piece->part_kind == bipolar || piece->part_kind == field) && piece->n_pins == 3
         && (upper ? ml_idiom_up (finder, piece->pins[COLLECTOR_PIN].net) : ml_idiom_down (finder, piece->pins[COLLECTOR_PIN].net))
         && ml_idiom_signal (finder, piece->pins[EMITTER_PIN].net) && ml_idiom_signal (finder, piece->pins[BASE_PIN].net);
}

static Follower
follower_of (const MlFinder *finder, int i)
{
  int net = ml_idiom_net (finder, i, EMITTER_PIN), piece, pin;
  Follower follower = { i, -1, net };
  guint k;

  for (k = 0; ml_idiom_n_at (finder, net) == 2 && k < 2; k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_two (finder, piece))
      {
        follower.resistor = piece;
        follower.out = ml_idiom_other (finder, piece, net);
      }
  return follower;
}

/* Returns where the column goes on. */
static int
put_resistor (MlFinder *finder, MlMemberList *list, int resistor, int net_above, int y)
{
  if (resistor < 0)
    return y;
  ml_idiom_put (finder, list, resistor, ml_idiom_standing (finder, resistor, net_above), ml_idiom_pin_on (finder, resistor, net_above), COLUMN_X, y);
  return y + LENGTH + WIRE;
}

static gboolean
stands (const MlFinder *finder, int resistor, int net_above)
{
  return resistor < 0 || ml_idiom_standing (finder, resistor, net_above) != NULL;
}

static gboolean
add_push_pull (MlFinder *finder, const Follower *upper, const Follower *lower)
{
  int emitter = ml_idiom_net (finder, upper->transistor, EMITTER_PIN), y;
  MlMemberList *list;

  if (!stands (finder, upper->resistor, emitter) || !stands (finder, lower->resistor, upper->out))
    return FALSE;
  list = ml_idiom_list ();
  ml_idiom_put (finder, list, upper->transistor, ml_idiom_cheapest (finder, upper->transistor), COLLECTOR_PIN, COLUMN_X, 0);
  y = put_resistor (finder, list, upper->resistor, emitter, LENGTH + WIRE);
  y = put_resistor (finder, list, lower->resistor, upper->out, y + WIRE);
  ml_idiom_put (finder, list, lower->transistor, ml_idiom_cheapest (finder, lower->transistor), EMITTER_PIN, COLUMN_X, y);
  ml_idiom_keep (ml_idiom_add (finder, list, NULL, TRUE, 0));
  return TRUE;
}

static void
find_lower (MlFinder *finder, const Follower *upper)
{
  guint k;

  for (k = 0; k < finder->kit->plain->len; k++)
    {
      Follower lower;
      if (!is_follower (finder, (int) k, FALSE))
        continue;
      lower = follower_of (finder, (int) k);
      if (lower.out == upper->out && ml_idiom_signal (finder, lower.out) && (upper->resistor >= 0 || lower.resistor >= 0) /* else it is a half bridge */
          && add_push_pull (finder, upper, &lower))
        return;
    }
}

void
ml_idiom_find_push_pulls (MlFinder *finder)
{
  guint i;

  for (i = 0; i < finder->kit->plain->len; i++)
    if (is_follower (finder, (int) i, TRUE))
      {
        Follower upper = follower_of (finder, (int) i);
        find_lower (finder, &upper);
      }
}
