/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Greedy insertion: the piece with the strongest tie to what stands already comes next, at the cheapest of the places that line up
 * one of its pins with a placed one (greedy construction followed by local search: Feo and Resende 1995, from memory). */
#include "drawing/layout-sheet.h"

#include <string.h>

typedef struct { int x, y, form; } Place;
typedef struct { Place place; int cost; } Tried;

#define BEST_KEPT 8
#define RAIL_PARTNERS 8
#define FEW_RAIL_PARTNERS 3 /* of large boards */
#define LARGE 150 /* pieces */
#define BAR_ABOVE_CHIP 7 /* g: a capacitor and its flag hang between */

void
ml_sheet_candidates (const MlForm *form, int pin, MlFormPin to, GArray *out)
{
  static const int ahead[] = { 2, 1, 4, 3, 6, 8 }, level[] = { 4, 6, 8, 10, 12 }, above[] = { 2, 4, 6 }, off_x[] = { 3, 5, 8 };
  int px = form->pins[pin].x, py = form->pins[pin].y, x = to.x - px, y = to.y - py, k;
  MlPoint step = ml_side_step (to.side);
  guint i;

#define CANDIDATE(a, b) G_STMT_START { int c_[2] = { (a), (b) }; g_array_append_val (out, c_); } G_STMT_END
  for (i = 0; i < G_N_ELEMENTS (ahead); i++)
    CANDIDATE (x + (int) step.x * ahead[i], y + (int) step.y * ahead[i]);
  for (i = 0; i < G_N_ELEMENTS (level); i++)
    {
      CANDIDATE (x + level[i], y);
      CANDIDATE (x - level[i], y);
    }
  for (i = 0; i < G_N_ELEMENTS (above); i++)
    {
      CANDIDATE (x, y + above[i]);
      CANDIDATE (x, y - above[i]);
    }
  for (i = 0; i < G_N_ELEMENTS (off_x); i++)
    for (k = 1; k <= 3; k++)
      {
        CANDIDATE (x + off_x[i], y + k);
        CANDIDATE (x + off_x[i], y - k);
        CANDIDATE (x - off_x[i], y + k);
        CANDIDATE (x - off_x[i], y - k);
      }
}

static gboolean
is_at_its_chip (const MlSpot *capacitor, const MlSpot *chip)
{
  return capacitor->piece->kind == ML_PIECE_PART && capacitor->piece->part_kind == ML_KIND_CAPACITOR && chip->piece->is_box;
}

/* The supply's wire comes down to the chip from a bar; the capacitor hangs from the bar beside it, its own flag still above the box. */
static void
bar_candidates (const MlSheet *sheet, int i, int tied, const MlForm *form, GArray *out)
{
  static const int beside[] = { 4, -4, 6, -6, 8, -8 };
  const MlSpot *spot = &sheet->spots[i], *other = &sheet->spots[tied];
  const gboolean is_capacitor = spot->piece->part_kind == ML_KIND_CAPACITOR;
  const MlSpot *chip = is_capacitor ? other : spot, *capacitor = is_capacitor ? spot : other;
  const MlForm *chip_form = is_capacitor ? other->form : form, *capacitor_form = is_capacitor ? form : other->form;
  guint p, q, k;

  for (p = 0; p < chip->piece->n_pins; p++)
    for (q = 0; q < capacitor->piece->n_pins; q++)
      {
        MlFormPin supply = chip_form->pins[p], end = capacitor_form->pins[q];
        if (chip->piece->pins[p].net < 0 || chip->piece->pins[p].net != capacitor->piece->pins[q].net || supply.side != ML_SIDE_UP
            || end.side != ML_SIDE_UP)
          continue;
        for (k = 0; k < G_N_ELEMENTS (beside); k++)
          {
            int dx = supply.x + beside[k] - end.x, dy = supply.y - BAR_ABOVE_CHIP - end.y; /* the capacitor as seen from the chip */
            CANDIDATE (is_capacitor ? chip->x + dx : capacitor->x - dx, is_capacitor ? chip->y + dy : capacitor->y - dy);
          }
      }
}

/* At the edge, each of its signals straight in front of what it leads to. */
static void
cable_candidates (const MlSheet *sheet, int i, const MlForm *form, const MlCells *rest, GArray *out)
{
  const MlSpot *spot = &sheet->spots[i];
  guint pin, k;
  int x;

  if (rest->x1 < rest->x0) /* nothing else stands */
    return;
  x = spot->piece->pull > 0 ? rest->x0 - 2 - form->hull.x1 : rest->x1 + 2 - form->hull.x0;
  for (pin = 0; pin < spot->piece->n_pins; pin++)
    {
      int net = spot->piece->pins[pin].net;
      for (k = 0; net >= 0 && sheet->nets[net].rail == ML_RAIL_NONE && k < sheet->nets[net].n_pins; k++)
        {
          MlPiecePinRef ref = sheet->nets[net].pins[k];
          if (ref.piece != i && sheet->spots[ref.piece].on)
            CANDIDATE (x, ml_sheet_pin (sheet, ref.piece, ref.pin).y - form->pins[pin].y);
        }
    }
}
#undef CANDIDATE

void
ml_sheet_special_candidates (const MlSheet *sheet, int i, const MlForm *form, const MlCells *rest, GArray *out)
{
  const MlSpot *spot = &sheet->spots[i];
  guint k;

  for (k = 0; k < spot->ties->len; k++)
    {
      int tied = g_array_index (spot->ties, int, k);
      if (sheet->spots[tied].on && (is_at_its_chip (spot, &sheet->spots[tied]) || is_at_its_chip (&sheet->spots[tied], spot)))
        bar_candidates (sheet, i, tied, form, out);
    }
  for (k = 0; k < sheet->connectors->len; k++)
    if (g_array_index (sheet->connectors, int, k) == i)
      cable_candidates (sheet, i, form, rest, out);
}

static int
by_place (gconstpointer a, gconstpointer b)
{
  const Place *p = a, *q = b;

  if (p->x != q->x)
    return p->x < q->x ? -1 : 1;
  if (p->y != q->y)
    return p->y < q->y ? -1 : 1;
  return p->form - q->form;
}

static gboolean
is_tied (const MlSpot *spot, int other)
{
  guint i;

  for (i = 0; i < spot->ties->len; i++)
    if (g_array_index (spot->ties, int, i) == other)
      return TRUE;
  return FALSE;
}

/* Of a long rail only the pins of tied chips and the last few that were placed count as partners. */
static void
aligned_places (MlSheet *sheet, int i, int form_index, GArray *ret_places)
{
  MlSpot *spot = &sheet->spots[i];
  const MlForm *form = g_ptr_array_index (spot->piece->forms, (guint) form_index);
  GArray *found = g_array_new (FALSE, FALSE, 2 * sizeof (int));
  guint pin, k, at, most = sheet->n > LARGE ? FEW_RAIL_PARTNERS : RAIL_PARTNERS;

  for (pin = 0; pin < spot->piece->n_pins; pin++)
    {
      int net = spot->piece->pins[pin].net;
      guint n_on = 0, seen = 0;
      if (net < 0)
        continue;
      for (k = 0; k < sheet->nets[net].n_pins; k++)
        n_on += sheet->spots[sheet->nets[net].pins[k].piece].on;
      for (k = 0; k < sheet->nets[net].n_pins; k++)
        {
          MlPiecePinRef ref = sheet->nets[net].pins[k];
          if (!sheet->spots[ref.piece].on)
            continue;
          seen++;
          if (n_on > most && seen + most <= n_on && !is_tied (spot, ref.piece))
            continue;
          g_array_set_size (found, 0);
          ml_sheet_candidates (form, (int) pin, ml_sheet_pin (sheet, ref.piece, ref.pin), found);
          for (at = 0; at < found->len; at++)
            {
              const int *xy = &((int *) (gpointer) found->data)[2 * at];
              Place place = { xy[0], xy[1], form_index };
              g_array_append_val (ret_places, place);
            }
        }
    }
  g_array_unref (found);
}

/* Where a terminal stands that is like this one, seen from what it belongs to. */
static void
like_places (const MlSheet *sheet, int i, const MlForm *form, int form_index, GArray *places)
{
  const MlSpot *spot = &sheet->spots[i];
  guint k;

  for (k = 0; k < spot->like->len; k++)
    {
      const MlSpot *other = &sheet->spots[g_array_index (spot->like, int, k)];
      MlFormPin end, other_end;
      Place place;
      if (!other->on || !sheet->spots[other->end_of.piece].on || !sheet->spots[spot->end_of.piece].on 
          || other->form->pins[0].side != form->pins[0].side)
        continue;
      end = ml_sheet_pin (sheet, spot->end_of.piece, spot->end_of.pin);
      other_end = ml_sheet_pin (sheet, other->end_of.piece, other->end_of.pin);
      place = (Place){ other->x + end.x - other_end.x, other->y + end.y - other_end.y, form_index };
      g_array_append_val (places, place);
    }
}

static void
special_places (const MlSheet *sheet, int i, const MlCells *hull, const MlForm *form, int form_index, GArray *places)
{
  GArray *found = g_array_new (FALSE, FALSE, 2 * sizeof (int));
  guint at;

  ml_sheet_special_candidates (sheet, i, form, hull, found);
  for (at = 0; at < found->len; at++)
    {
      const int *xy = &((int *) (gpointer) found->data)[2 * at];
      Place place = { xy[0], xy[1], form_index };
      g_array_append_val (places, place);
    }
  g_array_unref (found);
}

static void
edge_places (const MlCells *hull, const MlForm *form, int form_index, GArray *places)
{
  int middle = (hull->y0 + hull->y1) / 2;
  Place all[] = { { hull->x1 + 3, middle, form_index },
                  { hull->x0 - 8, middle, form_index },
                  { hull->x0, hull->y1 + 6, form_index },
                  { hull->x1 + 3, hull->y0, form_index },
                  { hull->x0 - form->hull.x0, hull->y1 + 4 - form->hull.y0, form_index },
                  { hull->x1 + 4 - form->hull.x0, hull->y0 - form->hull.y0, form_index } };

  g_array_append_vals (places, all, G_N_ELEMENTS (all));
}

static void
sort_unique (GArray *places)
{
  guint i, n = 0;

  g_array_sort (places, by_place);
  for (i = 0; i < places->len; i++)
    if (i == 0 || by_place (&g_array_index (places, Place, i), &g_array_index (places, Place, n - 1)) != 0)
      g_array_index (places, Place, n++) = g_array_index (places, Place, i);
  g_array_set_size (places, n);
}

/* The spot, which is on, where it stands now: what that costs without its wires, nothing being put yet. */
static int
standing_cost (MlSheet *sheet, int i, const MlCells *rest, int limit)
{
  MlCells hull = ml_sheet_hull_with (sheet, rest, i);
  int cost = ml_sheet_shape_cost (&hull) + ml_sheet_own_cost (sheet, i);

  return cost >= limit || cost + ml_sheet_box_at_least (sheet, i, limit - cost) >= limit ? G_MAXINT : cost;
}

/* What a place costs in all, or G_MAXINT once it is surely dearer than `limit`. Nets of the spot are off the raster. */
static int
try_place (MlSheet *sheet, int i, const MlCells *rest, int limit)
{
  MlSpot *spot = &sheet->spots[i];
  int cost;
  guint k, done;

  spot->on = TRUE;
  cost = standing_cost (sheet, i, rest, limit);
  if (cost == G_MAXINT)
    {
      spot->on = FALSE;
      return cost;
    }
  cost += ml_sheet_box (sheet, i, 1);
  for (done = 0; done < spot->n_nets && cost < limit; done++)
    {
      ml_sheet_estimate (sheet, spot->nets[done]);
      cost += sheet->nets[spot->nets[done]].now.cost + ml_sheet_wire (sheet, &sheet->nets[spot->nets[done]].now, 1);
    }
  for (k = 0; k < done; k++)
    ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, -1);
  ml_sheet_box (sheet, i, -1);
  spot->on = FALSE;
  return done < spot->n_nets ? G_MAXINT : cost;
}

static void
keep_best (Tried *best, guint *n, Place place, int cost)
{
  guint k;

  if (*n == BEST_KEPT && best[BEST_KEPT - 1].cost <= cost)
    return;
  k = *n < BEST_KEPT ? (*n)++ : BEST_KEPT - 1;
  best[k] = (Tried){ place, cost };
  while (k > 0 && best[k - 1].cost > best[k].cost)
    {
      Tried t = best[k];
      best[k] = best[k - 1];
      best[k - 1] = t;
      k--;
    }
}

static void
try_places (MlSheet *sheet, int i, const GArray *places, const MlCells *rest, Tried *best, guint *n_best)
{
  MlSpot *spot = &sheet->spots[i];
  guint k;

  for (k = 0; k < places->len; k++)
    {
      Place place = g_array_index (places, Place, k);
      int cost;
      spot->x = place.x;
      spot->y = place.y;
      spot->form = g_ptr_array_index (spot->piece->forms, (guint) place.form);
      if (!ml_sheet_inside (sheet, i))
        continue;
      cost = try_place (sheet, i, rest, *n_best == BEST_KEPT ? best[BEST_KEPT - 1].cost : G_MAXINT);
      if (cost < G_MAXINT)
        keep_best (best, n_best, place, cost);
    }
}

/* The best places again with an up-rail pin level with other pins of that rail. */
static void
level_places (MlSheet *sheet, int i, const Tried *best, guint n_best, GArray *ret_places)
{
  MlSpot *spot = &sheet->spots[i];
  guint b, pin, k;

  for (b = 0; b < n_best; b++)
    {
      const MlForm *form = g_ptr_array_index (spot->piece->forms, (guint) best[b].place.form);
      for (pin = 0; pin < spot->piece->n_pins; pin++)
        {
          int net = spot->piece->pins[pin].net, x = form->pins[pin].x + best[b].place.x, y = form->pins[pin].y + best[b].place.y;
          if (net < 0 || sheet->nets[net].rail != ML_RAIL_UP || form->pins[pin].side != ML_SIDE_UP)
            continue;
          for (k = 0; k < sheet->nets[net].n_pins; k++)
            {
              MlPiecePinRef ref = sheet->nets[net].pins[k];
              MlFormPin to;
              Place place = best[b].place;
              if (!sheet->spots[ref.piece].on)
                continue;
              to = ml_sheet_pin (sheet, ref.piece, ref.pin);
              if (to.side != ML_SIDE_UP || to.y == y || ABS (to.y - y) > 12 || ABS (to.x - x) > 30)
                continue;
              place.y += to.y - y;
              g_array_append_val (ret_places, place);
            }
        }
    }
  sort_unique (ret_places);
}

/* No connection to anything: below or beside everything, whatever form is cheapest. */
static void
put_first (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];

  spot->form = g_ptr_array_index (spot->piece->forms, 0);
  spot->x = CLAMP (spot->wanted_x, sheet->width / 4, sheet->width * 3 / 4);
  spot->y = sheet->height * 2 / 5;
  ml_sheet_put (sheet, i);
}

static void
put_beyond (MlSheet *sheet, int i, const MlCells *hull)
{
  MlSpot *spot = &sheet->spots[i];

  spot->form = g_ptr_array_index (spot->piece->forms, 0);
  spot->x = hull->x0 - spot->form->hull.x0;
  spot->y = hull->y1 + 4 - spot->form->hull.y0;
  if (!ml_sheet_inside (sheet, i))
    {
      spot->x = sheet->width / 2;
      spot->y = sheet->height / 2;
    }
  ml_sheet_put (sheet, i);
}

void
ml_sheet_insert (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  MlCells rest = ml_sheet_hull (sheet, i);
  GArray *places;
  Tried best[BEST_KEPT];
  guint n_best = 0, k, n_forms;

  if (rest.x1 < rest.x0)
    {
      put_first (sheet, i);
      return;
    }
  places = g_array_new (FALSE, FALSE, sizeof (Place));
  n_forms = spot->piece->is_block ? MIN (spot->piece->forms->len, 4) : spot->piece->n_listed;
  for (k = 0; k < n_forms; k++)
    {
      const MlForm *form = g_ptr_array_index (spot->piece->forms, k);
      if (form->cost >= ML_COST (60))
        continue;
      aligned_places (sheet, i, (int) k, places);
      edge_places (&rest, form, (int) k, places);
      special_places (sheet, i, &rest, form, (int) k, places);
      like_places (sheet, i, form, (int) k, places);
    }
  sort_unique (places);
  for (k = 0; k < spot->n_nets; k++)
    ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, -1);
  try_places (sheet, i, places, &rest, best, &n_best);
  g_array_set_size (places, 0);
  level_places (sheet, i, best, n_best, places);
  try_places (sheet, i, places, &rest, best, &n_best);
  g_array_unref (places);
  if (n_best == 0)
    {
      put_beyond (sheet, i, &rest);
      return;
    }
  spot->x = best[0].place.x;
  spot->y = best[0].place.y;
  spot->form = g_ptr_array_index (spot->piece->forms, (guint) best[0].place.form);
  ml_sheet_put (sheet, i);
}

/* ---- which comes next ---- */

static int
tie_strength (MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  int strength = 0;
  guint k, j;

  for (k = 0; k < spot->n_nets; k++)
    {
      const MlSheetNet *net = &sheet->nets[spot->nets[k]];
      int placed = 0;
      for (j = 0; j < net->n_pins && placed < 2; j++)
        placed += sheet->spots[net->pins[j].piece].on;
      if (placed > 0)
        strength += net->rail != ML_RAIL_NONE ? 15 * placed : 200 * placed / MAX (1, (int) net->n_pins - 1);
    }
  for (k = 0; k < spot->ties->len; k++)
    if (sheet->spots[g_array_index (spot->ties, int, k)].on)
      strength += 150;
  return strength;
}

static int
next_to_insert (MlSheet *sheet)
{
  int best = -1, best_strength = 0;
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      int strength;
      if (sheet->spots[i].on)
        continue;
      strength = tie_strength (sheet, (int) i);
      if (best < 0 || strength > best_strength
          || (strength == best_strength && sheet->spots[i].wanted_x < sheet->spots[best].wanted_x))
        {
          best = (int) i;
          best_strength = strength;
        }
    }
  return best;
}

int
ml_sheet_insert_next (MlSheet *sheet)
{
  int next = next_to_insert (sheet);

  if (next >= 0)
    ml_sheet_insert (sheet, next);
  return next;
}

void
ml_sheet_insert_all (MlSheet *sheet)
{
  while (ml_sheet_insert_next (sheet) >= 0)
    ;
}

void
ml_sheet_insert_at (MlSheet *sheet, int i, int x, int y, MlForm *form)
{
  MlSpot *spot = &sheet->spots[i];
  guint k;

  for (k = 0; k < spot->n_nets; k++)
    ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, -1);
  spot->x = x;
  spot->y = y;
  spot->form = form;
  ml_sheet_put (sheet, i);
}
