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
 * A lamp in line with a load stands below its resistor, and all that is lower moves down. What steers a counter's flip-flop hangs below: a diode
 * under each base, under it the capacitor to the line that counts, beside the collector the resistor that arms it:
 *
 *             +--( T1 |
 *             D    |  R
 *             +----|--+
 *             C   ref
 *     count --+------- ...                                                                                                          */
#include "drawing/layout-idioms.h"

#define RESISTOR_FOOT 4   /* g, all below the bar */
#define UPPER_COUPLING 7
#define LOWER_COUPLING 11
#define COLLECTOR 12
#define LAMP_PITCH 5
#define BASE_TO_COLLECTOR 7
#define BASE 2            /* g, below the collector */
#define UNDER_BASE 1
#define BEFORE_REFERENCE 3 /* g from the diode's text to the collector's column: half the reference's sign below it */
#define BETWEEN_PAIRS 4
#define MOST_IN_A_ROW 3   /* pairs: the width of a sheet */
#define COLLECTOR_PIN 0
#define BASE_PIN 1
#define EMITTER_PIN 2

typedef struct { int diode, capacitor, resistor; } Steering; /* diode -1: none; resistor -1: none */

typedef struct
{
  int transistor[2];
  int coupling[2];   /* [0] from the first's collector to the second's base */
  int load[2], bias[2]; /* resistors from the rail; bias -1: none */
  int lamp[2];          /* in line with the load, at the collector; -1: none */
  Steering steering[2];
  int rail;
} Pair;

/* One pair with its places; next: the one that it counts on, -1. */
typedef struct
{
  Pair pair;
  MlMemberList *list;
  int width, lower, next;
  gboolean is_behind; /* another counts on to it */
} Drawn;

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

/* A rail, or a net that a transistor switches to one. */
static gboolean
is_fed_from_above (const MlFinder *finder, int net)
{
  int piece, pin;
  guint k;

  for (k = 0; ml_idiom_signal (finder, net) && k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && pin == COLLECTOR_PIN && ml_idiom_whole_transistor (finder, piece)
        && (ml_idiom_kind (finder, piece) == ML_KIND_PNP || ml_idiom_kind (finder, piece) == ML_KIND_PMOS)
        && ml_idiom_up (finder, ml_idiom_net (finder, piece, EMITTER_PIN)))
      return TRUE;
  return ml_idiom_up (finder, net);
}

/* A resistor from a net to what feeds both, on *rail when that is known; -1. */
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
      if (!is_fed_from_above (finder, other) || (*rail >= 0 && other != *rail))
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

/* What steers from a base: a diode to a node from which a capacitor leads to the line that counts, and perhaps a resistor to the collector. */
static Steering
steering_at (const MlFinder *finder, int base, int collector)
{
  Steering none = { -1, -1, -1 };
  int diode, pin, piece;
  guint k, i;

  for (k = 0; k < ml_idiom_n_at (finder, base); k++)
    {
      Steering found = none;
      int node;
      if (!ml_idiom_at (finder, base, k, &diode, &pin) || ml_idiom_kind (finder, diode) != ML_KIND_DIODE || !ml_idiom_two (finder, diode))
        continue;
      node = ml_idiom_other (finder, diode, base);
      found.diode = diode;
      for (i = 0; ml_idiom_signal (finder, node) && i < ml_idiom_n_at (finder, node); i++)
        {
          if (!ml_idiom_at (finder, node, i, &piece, &pin) || piece == diode || !ml_idiom_two (finder, piece))
            continue;
          if (ml_idiom_kind (finder, piece) == ML_KIND_CAPACITOR && ml_idiom_signal (finder, ml_idiom_other (finder, piece, node)))
            found.capacitor = piece;
          else if (ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_other (finder, piece, node) == collector)
            found.resistor = piece;
        }
      if (found.capacitor >= 0)
        return found;
    }
  return none;
}

static gboolean
is_pair (const MlFinder *finder, int a, int b, Pair *ret_pair)
{
  Pair pair = { { a, b }, { -1, -1 }, { -1, -1 }, { -1, -1 }, { -1, -1 }, { { -1, -1, -1 }, { -1, -1, -1 } }, -1 };
  int k;

  for (k = 0; k < 2; k++)
    {
      int collector = ml_idiom_net (finder, pair.transistor[k], COLLECTOR_PIN), base = ml_idiom_net (finder, pair.transistor[k], BASE_PIN);
      pair.coupling[k] = coupling_between (finder, collector, ml_idiom_net (finder, pair.transistor[1 - k], BASE_PIN));
      if (pair.coupling[k] < 0 || !find_load (finder, &pair, k))
        return FALSE;
      pair.bias[k] = resistor_up (finder, base, &pair.rail);
      pair.steering[k] = steering_at (finder, base, collector);
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

static int
label_w (const MlFinder *finder, int piece)
{
  return piece < 0 ? 0 : ml_idiom_label_w (finder, piece);
}

/* From the collector's column to the resistor that arms a base: past the text of the transistor. */
static int
past_transistor (const MlFinder *finder, const Pair *pair, int k)
{
  return label_w (finder, pair->transistor[k]) + 2;
}

/* Bases and collectors of both, from left to right. */
static void
find_columns (const MlFinder *finder, const Pair *pair, int *ret_columns)
{
  int wide = 4, deep = BASE_TO_COLLECTOR, k;

  for (k = 0; k < 2; k++)
    {
      const Steering *steering = &pair->steering[k];
      const int texts[] = { pair->load[k], pair->transistor[k], pair->lamp[k], pair->bias[k] };
      guint i;
      for (i = 0; i < G_N_ELEMENTS (texts); i++)
        wide = MAX (wide, label_w (finder, texts[i]));
      if (steering->diode >= 0)
        deep = MAX (deep, label_w (finder, steering->diode) + BEFORE_REFERENCE);
      if (steering->resistor >= 0)
        wide = MAX (wide, past_transistor (finder, pair, k) + label_w (finder, steering->resistor) + 1);
    }
  for (k = 0; k < 4; k++)
    ret_columns[k] = k / 2 * (deep + wide + 2) + k % 2 * deep;
}

static void
put_steering (MlFinder *finder, MlMemberList *list, const Pair *pair, int k, const int *columns, int collector_y)
{
  const Steering *steering = &pair->steering[k];
  int base = ml_idiom_net (finder, pair->transistor[k], BASE_PIN), y = collector_y + BASE + UNDER_BASE, node;

  if (steering->diode < 0)
    return;
  node = ml_idiom_other (finder, steering->diode, base);
  put_upright (finder, list, steering->diode, base, columns[2 * k], y);
  put_upright (finder, list, steering->capacitor, node, columns[2 * k], y + 5);
  put_upright (finder, list, steering->resistor, ml_idiom_net (finder, pair->transistor[k], COLLECTOR_PIN),
               columns[2 * k + 1] + past_transistor (finder, pair, k), collector_y);
}

static Drawn
drawn (MlFinder *finder, const Pair *pair)
{
  MlMemberList *list = ml_idiom_list ();
  int columns[4], half, lower = pair->lamp[0] < 0 && pair->lamp[1] < 0 ? 0 : LAMP_PITCH, k;

  find_columns (finder, pair, columns);
  half = (columns[1] + columns[2]) / 2 - 2;
  for (k = 0; k < 2; k++)
    {
      put_upright (finder, list, pair->bias[k], pair->rail, columns[2 * k], RESISTOR_FOOT - 4);
      put_upright (finder, list, pair->load[k], pair->rail, columns[2 * k + 1], RESISTOR_FOOT - 4);
      put_upright (finder, list, pair->lamp[k], pair->lamp[k] < 0 ? -1 : ml_idiom_other (finder, pair->load[k], pair->rail), columns[2 * k + 1],
                   RESISTOR_FOOT - 4 + LAMP_PITCH);
      ml_idiom_put (finder, list, pair->transistor[k], ml_idiom_cheapest (finder, pair->transistor[k]), COLLECTOR_PIN, columns[2 * k + 1],
                    COLLECTOR + lower);
      put_steering (finder, list, pair, k, columns, COLLECTOR + lower);
    }
  put_level (finder, list, pair->coupling[1], ml_idiom_net (finder, pair->transistor[0], BASE_PIN), half, UPPER_COUPLING + lower);
  put_level (finder, list, pair->coupling[0], ml_idiom_net (finder, pair->transistor[0], COLLECTOR_PIN), half, LOWER_COUPLING + lower);
  return (Drawn){ *pair, list, columns[3] + past_transistor (finder, pair, 1) + label_w (finder, pair->steering[1].resistor) + BETWEEN_PAIRS, lower, -1, FALSE };
}

/* ---- flip-flops that count one after the other ---- */

/* A collector of the earlier one switches the later one over. */
static gboolean
counts (const MlFinder *finder, const Drawn *earlier, const Drawn *later)
{
  int capacitor = later->pair.steering[0].capacitor, k;

  for (k = 0; k < 2 && capacitor >= 0 && earlier->lower == later->lower; k++)
    if (ml_idiom_pin_on (finder, capacitor, ml_idiom_net (finder, earlier->pair.transistor[k], COLLECTOR_PIN)) >= 0)
      return TRUE;
  return FALSE;
}

/* Each has one before it at most and one behind it. */
static void
chain (const MlFinder *finder, GArray *all)
{
  guint a, b;

  for (a = 0; a < all->len; a++)
    for (b = 0; b < all->len; b++)
      {
        Drawn *earlier = &g_array_index (all, Drawn, a), *later = &g_array_index (all, Drawn, b);
        if (a == b || earlier->next >= 0 || later->is_behind || !counts (finder, earlier, later))
          continue;
        earlier->next = (int) b;
        later->is_behind = TRUE;
      }
}

/* From the first of a chain: rows of as many as go on a sheet, all of about the same length. */
static void
add_rows (MlFinder *finder, GArray *all, guint first)
{
  int n = 0, rows, per_row, i, k, x;

  for (i = (int) first; i >= 0 && n <= (int) all->len; i = g_array_index (all, Drawn, i).next)
    n++;
  rows = (n + MOST_IN_A_ROW - 1) / MOST_IN_A_ROW;
  per_row = (n + rows - 1) / rows;
  for (i = (int) first; n > 0; n -= per_row)
    {
      MlMemberList *row = ml_idiom_list ();
      for (k = x = 0; k < per_row && i >= 0; k++)
        {
          Drawn *pair = &g_array_index (all, Drawn, i);
          guint m;
          for (m = 0; m < pair->list->len; m++)
            {
              MlMember member = g_array_index (pair->list, MlMember, m);
              member.dx += x;
              g_array_append_val (row, member);
            }
          g_clear_pointer (&pair->list, g_array_unref);
          x += pair->width;
          i = pair->next;
        }
      ml_idiom_keep (ml_idiom_add (finder, row, NULL, FALSE, 0));
    }
}

void
ml_idiom_find_pairs (MlFinder *finder)
{
  g_autoptr (GArray) all = g_array_new (FALSE, FALSE, sizeof (Drawn));
  guint a, b;

  for (a = 0; a < finder->kit->plain->len; a++)
    for (b = a + 1; b < finder->kit->plain->len && is_candidate (finder, (int) a); b++)
      {
        Pair pair;
        Drawn one;
        if (!is_candidate (finder, (int) b) || !is_pair (finder, (int) a, (int) b, &pair))
          continue;
        one = drawn (finder, &pair);
        g_array_append_val (all, one);
      }
  chain (finder, all);
  for (a = 0; a < all->len; a++)
    if (!g_array_index (all, Drawn, a).is_behind)
      add_rows (finder, all, a);
  for (a = 0; a < all->len; a++) /* what is left counts in a ring */
    if (g_array_index (all, Drawn, a).list != NULL)
      {
        g_array_index (all, Drawn, a).next = -1;
        add_rows (finder, all, a);
      }
}
