/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A block's pins may stand in any order: other orders at random, the order in which the wires come, and the order that costs least where
 * everything else stands already. */
#include "drawing/layout-sheet.h"

#include <string.h>

MlForm *
ml_sheet_permuted (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  MlBoxSides sides = ml_box_sides_of (spot->piece, spot->form);
  guint what = ml_sheet_random (sheet, 100), n[4], a;
  MlForm *form;

  memcpy (n, sides.n, sizeof n);
  a = ml_sheet_random (sheet, 2) ? ML_SIDE_LEFT : ML_SIDE_RIGHT;
  if (n[a] == 0)
    a ^= 2;
  if (what < 55 && n[a] > 1)
    {
      guint p = ml_sheet_random (sheet, n[a]), q = ml_sheet_random (sheet, n[a] - 1);
      int t = sides.pins[a][p];
      q += q >= p;
      sides.pins[a][p] = sides.pins[a][q];
      sides.pins[a][q] = t;
    }
  else if (what < 75 && n[a] > 1)
    {
      guint k;
      for (k = 0; k < n[a] / 2; k++)
        {
          int t = sides.pins[a][k];
          sides.pins[a][k] = sides.pins[a][n[a] - 1 - k];
          sides.pins[a][n[a] - 1 - k] = t;
        }
    }
  else if (n[a] > 0)
    {
      guint p = ml_sheet_random (sheet, n[a]), q = ml_sheet_random (sheet, n[a ^ 2] + 1);
      int pin = sides.pins[a][p];
      memmove (&sides.pins[a][p], &sides.pins[a][p + 1], (n[a] - p - 1) * sizeof (int));
      memmove (&sides.pins[a ^ 2][q + 1], &sides.pins[a ^ 2][q], (n[a ^ 2] - q) * sizeof (int));
      sides.pins[a ^ 2][q] = pin;
      sides.n[a]--;
      sides.n[a ^ 2]++;
    }
  form = ml_box_form (spot->piece, sheet->circuit, &sides, ml_box_cost (spot->piece, &sides));
  ml_box_sides_clear (&sides);
  g_ptr_array_add (spot->piece->forms, form);
  return form;
}

/* ---- a block's pins in the order in which the wires come: nested where they come from above or below ---- */

typedef struct { int of_row, row, key, pin; } PinKey;

static int
by_key (gconstpointer a, gconstpointer b)
{
  const PinKey *p = a, *q = b;

  if (p->of_row != q->of_row)
    return p->of_row < q->of_row ? -1 : 1;
  if (p->row != q->row)
    return p->row < q->row ? -1 : 1;
  return p->key != q->key ? (p->key < q->key ? -1 : 1) : (p->pin < q->pin ? -1 : p->pin > q->pin);
}

/* The nearest pin that stands of the same net, by another piece. */
static gboolean
nearest_partner (const MlSheet *sheet, int i, int pin, MlFormPin *ret_at)
{
  int net = sheet->spots[i].piece->pins[pin].net, best = G_MAXINT;
  MlFormPin own = ml_sheet_pin (sheet, i, pin);
  guint k;

  for (k = 0; net >= 0 && k < sheet->nets[net].n_pins; k++)
    {
      MlPiecePinRef ref = sheet->nets[net].pins[k];
      MlFormPin at;
      int distance;
      if (ref.piece == i || !sheet->spots[ref.piece].on)
        continue;
      at = ml_sheet_pin (sheet, ref.piece, ref.pin);
      distance = ABS (at.x - own.x) + ABS (at.y - own.y);
      if (distance >= best)
        continue;
      best = distance;
      *ret_at = at;
    }
  return best < G_MAXINT;
}

static int
key_of_pin (const MlSheet *sheet, int i, int pin)
{
  const MlSpot *spot = &sheet->spots[i];
  MlFormPin own = ml_sheet_pin (sheet, i, pin), at = own;
  int top = spot->y, bottom = spot->y + spot->form->height;

  if (!nearest_partner (sheet, i, pin, &at))
    return own.y;
  if (at.y < top)
    return top - 1000 + MIN (ABS (at.x - own.x), 900);
  if (at.y > bottom)
    return bottom + 1000 - MIN (ABS (at.x - own.x), 900);
  return at.y;
}

#define ROW 3 /* so many pins that run alike stay together */

/* The pins of a row go where they go in the mean. */
static void
join_rows (const MlPiece *piece, PinKey *keys, guint n)
{
  guint i, k;

  for (i = 0; i < n; i++)
    {
      int like = piece->pins[keys[i].pin].like, sum = 0, n_like = 0;
      keys[i].of_row = keys[i].key;
      for (k = 0; k < n && like != 0; k++)
        if (piece->pins[keys[k].pin].like == like)
          {
            sum += keys[k].key;
            n_like++;
          }
      if (n_like < ROW)
        continue;
      keys[i].of_row = sum / n_like;
      keys[i].row = like;
    }
}

MlForm *
ml_sheet_fitted (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  MlBoxSides sides = ml_box_sides_of (spot->piece, spot->form);
  PinKey *keys = g_new (PinKey, MAX (spot->piece->n_pins, 1));
  gboolean changed = FALSE;
  MlForm *form;
  guint side, k;

  for (side = ML_SIDE_RIGHT; side <= ML_SIDE_LEFT; side += 2)
    {
      for (k = 0; k < sides.n[side]; k++)
        keys[k] = (PinKey){ 0, 0, key_of_pin (sheet, i, sides.pins[side][k]), sides.pins[side][k] };
      join_rows (spot->piece, keys, sides.n[side]);
      qsort (keys, sides.n[side], sizeof *keys, by_key);
      for (k = 0; k < sides.n[side]; k++)
        {
          changed |= sides.pins[side][k] != keys[k].pin;
          sides.pins[side][k] = keys[k].pin;
        }
    }
  form = spot->form;
  if (changed)
    {
      form = ml_box_form (spot->piece, sheet->circuit, &sides, ml_box_cost (spot->piece, &sides));
      g_ptr_array_add (spot->piece->forms, form);
    }
  ml_box_sides_clear (&sides);
  g_free (keys);
  return form;
}

/* ---- where all else stands: the order that costs least ---- */

#define FIT_ROUNDS 4
#define MOST_FITTED 40 /* pins on both sides together; each round tries all that many places for as many pins */

static int
cost_with (MlSheet *sheet, int i, MlForm *form)
{
  int cost;

  sheet->spots[i].form = form;
  cost = ml_sheet_put (sheet, i);
  ml_sheet_lift (sheet, i);
  return cost;
}

/* The form with one pin of a side at another place of either side. */
static MlForm *
with_pin_at (MlSheet *sheet, int i, const MlForm *from, int side, guint at, int to_side, guint to)
{
  MlSpot *spot = &sheet->spots[i];
  MlBoxSides sides = ml_box_sides_of (spot->piece, from);
  int pin = sides.pins[side][at];
  MlForm *form;

  memmove (&sides.pins[side][at], &sides.pins[side][at + 1], (sides.n[side] - at - 1) * sizeof (int));
  sides.n[side]--;
  to = MIN (to, sides.n[to_side]);
  memmove (&sides.pins[to_side][to + 1], &sides.pins[to_side][to], (sides.n[to_side] - to) * sizeof (int));
  sides.pins[to_side][to] = pin;
  sides.n[to_side]++;
  form = ml_box_form (spot->piece, sheet->circuit, &sides, ml_box_cost (spot->piece, &sides));
  ml_box_sides_clear (&sides);
  return form;
}

/* The form with those pins of a side that run alike the other way round; NULL when there are no two. */
static MlForm *
with_likes_reversed (MlSheet *sheet, int i, const MlForm *from, int side, int like)
{
  MlSpot *spot = &sheet->spots[i];
  MlBoxSides sides = ml_box_sides_of (spot->piece, from);
  guint a = 0, b = sides.n[side];
  MlForm *form = NULL;
  gboolean any = FALSE;

  while (TRUE)
    {
      int pin;
      while (a < b && spot->piece->pins[sides.pins[side][a]].like != like)
        a++;
      while (b > a && spot->piece->pins[sides.pins[side][b - 1]].like != like)
        b--;
      if (b <= a + 1)
        break;
      pin = sides.pins[side][a];
      sides.pins[side][a++] = sides.pins[side][b - 1];
      sides.pins[side][--b] = pin;
      any = TRUE;
    }
  if (any)
    form = ml_box_form (spot->piece, sheet->circuit, &sides, ml_box_cost (spot->piece, &sides));
  ml_box_sides_clear (&sides);
  return form;
}

/* The form with those pins of a side that run alike one behind the other, so many others before them; NULL when there are no two. */
static MlForm *
with_likes_gathered (MlSheet *sheet, int i, const MlForm *from, int side, int like, guint n_before)
{
  MlSpot *spot = &sheet->spots[i];
  MlBoxSides sides = ml_box_sides_of (spot->piece, from);
  int *gathered = g_new (int, MAX (sides.n[side], 1));
  guint n_like = 0, others = 0, liked = 0, k;
  MlForm *form = NULL;

  for (k = 0; k < sides.n[side]; k++)
    n_like += spot->piece->pins[sides.pins[side][k]].like == like;
  n_before = MIN (n_before, sides.n[side] - n_like);
  for (k = 0; k < sides.n[side]; k++)
    if (spot->piece->pins[sides.pins[side][k]].like == like)
      gathered[n_before + liked++] = sides.pins[side][k];
    else
      {
        gathered[others < n_before ? others : others + n_like] = sides.pins[side][k];
        others++;
      }
  if (n_like > 1)
    {
      memcpy (sides.pins[side], gathered, sides.n[side] * sizeof *gathered);
      form = ml_box_form (spot->piece, sheet->circuit, &sides, ml_box_cost (spot->piece, &sides));
    }
  g_free (gathered);
  ml_box_sides_clear (&sides);
  return form;
}

/* Takes trial over: it is the best so far, or gone. */
static void
keep_better (MlSheet *sheet, int i, MlForm *trial, const MlForm *from, MlForm **best, int *cost)
{
  int with_trial = cost_with (sheet, i, trial);

  if (with_trial >= *cost)
    {
      ml_form_free (trial);
      return;
    }
  if (*best != from)
    ml_form_free (*best);
  *best = trial;
  *cost = with_trial;
}

/* TRUE when some pin, or a row of pins, found a better place. */
static gboolean
fit_once (MlSheet *sheet, int i, int *cost)
{
  MlSpot *spot = &sheet->spots[i];
  MlForm *best = spot->form, *from = spot->form;
  MlBoxSides sides = ml_box_sides_of (spot->piece, from);
  int side, to_side;
  guint at, to, like;

  for (side = ML_SIDE_RIGHT; side <= ML_SIDE_LEFT; side += 2)
    for (at = 0; at < sides.n[side]; at++)
      for (to_side = ML_SIDE_RIGHT; to_side <= ML_SIDE_LEFT; to_side += 2)
        for (to = 0; to <= sides.n[to_side] - (to_side == side); to++)
          if (to_side != side || to != at)
            keep_better (sheet, i, with_pin_at (sheet, i, from, side, at, to_side, to), from, &best, cost);
  for (side = ML_SIDE_RIGHT; side <= ML_SIDE_LEFT && spot->piece->has_likes; side += 2)
    for (like = 1; like <= spot->piece->n_pins; like++)
      {
        MlForm *reversed = with_likes_reversed (sheet, i, from, side, (int) like), *gathered = from;
        if (reversed != NULL)
          keep_better (sheet, i, reversed, from, &best, cost);
        for (to = 0; to < sides.n[side] && gathered != NULL; to++)
          if ((gathered = with_likes_gathered (sheet, i, from, side, (int) like, to)) != NULL)
            keep_better (sheet, i, gathered, from, &best, cost);
      }
  ml_box_sides_clear (&sides);
  spot->form = best;
  if (best != from)
    g_ptr_array_add (spot->piece->forms, best);
  return best != from;
}

void
ml_sheet_fit_block (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  MlForm *listed = spot->form, *fitted;
  MlBoxSides sides = ml_box_sides_of (spot->piece, listed);
  gboolean few = sides.n[ML_SIDE_LEFT] + sides.n[ML_SIDE_RIGHT] <= MOST_FITTED;
  int cost, other, round;

  ml_box_sides_clear (&sides);
  ml_sheet_lift (sheet, i);
  cost = cost_with (sheet, i, listed);
  spot->form = listed;
  fitted = ml_sheet_fitted (sheet, i);
  other = cost_with (sheet, i, fitted);
  spot->form = other < cost ? fitted : listed;
  cost = MIN (cost, other);
  for (round = 0; few && round < FIT_ROUNDS && fit_once (sheet, i, &cost); round++)
    ;
  ml_sheet_put (sheet, i);
}
