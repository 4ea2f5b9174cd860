/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-sheet.h"

#include <string.h>

#define CORE_ON_CORE ML_COST (40)
#define CORE_ON_ROOM ML_COST (5)
#define CORE_ON_WIRE ML_COST (5)
#define CORE_BESIDE_CORE ML_COST (3)
#define ROOM_ON_ROOM ML_COST (2)
#define ROOM_ON_WIRE ML_COST (1.2)
#define CROSSING ML_COST (6)
#define SHARED_RUN ML_COST (2.5)
#define PINS_TOUCH ML_COST (40)
#define RING_ON_PIN ML_COST (8)
#define BEND 3
#define OUT_OF_LINE ML_COST (2.5)
#define CONNECTION_LIMIT ML_COST (70)
#define MARGIN 12

guint
ml_sheet_random (MlSheet *sheet, guint below)
{
  guint64 x = sheet->random;

  x ^= x << 13;
  x ^= x >> 7;
  x ^= x << 17;
  sheet->random = x;
  return below == 0 ? 0 : (guint) ((x >> 32) % below);
}

static inline MlCell *
cell_at (MlSheet *sheet, int x, int y)
{
  return &sheet->cells[(gsize) y * (gsize) sheet->width + (gsize) x];
}

MlFormPin
ml_sheet_pin (const MlSheet *sheet, int i, int pin)
{
  const MlSpot *spot = &sheet->spots[i];
  MlFormPin at = spot->form->pins[pin];

  at.x += spot->x;
  at.y += spot->y;
  return at;
}

gboolean
ml_sheet_inside (const MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  const MlCells *hull = &spot->form->hull, *pins = &spot->form->pin_hull;

  return spot->x + MIN (hull->x0, pins->x0) > MARGIN && spot->y + MIN (hull->y0, pins->y0) > MARGIN
         && spot->x + MAX (hull->x1, pins->x1) < sheet->width - MARGIN && spot->y + MAX (hull->y1, pins->y1) < sheet->height - MARGIN;
}

/* ---- boxes ---- */

static int
stamp_core (MlSheet *sheet, const MlCells *core, int dx, int dy, int sign)
{
  int cost = 0, x, y;

  for (y = core->y0 - 1 + dy; y <= core->y1 + 1 + dy; y++)
    for (x = core->x0 - 1 + dx; x <= core->x1 + 1 + dx; x++)
      {
        MlCell *cell = cell_at (sheet, x, y);
        gboolean inside = x >= core->x0 + dx && x <= core->x1 + dx && y >= core->y0 + dy && y <= core->y1 + dy;
        if (!inside)
          {
            cost += CORE_BESIDE_CORE * cell->core;
            continue;
          }
        if (sign < 0)
          cell->core--;
        cost += CORE_ON_CORE * cell->core + CORE_ON_ROOM * cell->room + CORE_ON_WIRE * (cell->across + cell->down)
                + PINS_TOUCH * cell->pins;
        if (sign > 0)
          cell->core++;
      }
  return cost;
}

static int
stamp_room (MlSheet *sheet, const MlCells *room, int dx, int dy, int sign)
{
  int cost = 0, x, y;

  for (y = room->y0 + dy; y <= room->y1 + dy; y++)
    for (x = room->x0 + dx; x <= room->x1 + dx; x++)
      {
        MlCell *cell = cell_at (sheet, x, y);
        if (sign < 0)
          cell->room--;
        cost += CORE_ON_ROOM * cell->core + ROOM_ON_ROOM * cell->room + ROOM_ON_WIRE * (cell->across + cell->down);
        if (sign > 0)
          cell->room++;
      }
  return cost;
}

static int
stamp_pins (MlSheet *sheet, const MlSpot *spot, int sign)
{
  int cost = 0;
  guint i;

  for (i = 0; i < spot->piece->n_pins; i++)
    {
      MlCell *cell = cell_at (sheet, spot->form->pins[i].x + spot->x, spot->form->pins[i].y + spot->y);
      int mark = spot->piece->pins[i].net < 0 ? 100003 + (int) i : spot->piece->pins[i].net + 1;
      if (sign < 0)
        {
          cell->pins--;
          cell->pin_sum -= mark;
        }
      if (cell->pins > 0 && cell->pin_sum != cell->pins * mark)
        cost += PINS_TOUCH;
      else if (cell->pins > 0 && spot->piece->kind == ML_PIECE_TERMINAL)
        cost += RING_ON_PIN;
      cost += PINS_TOUCH * cell->core;
      if (sign > 0)
        {
          cell->pins++;
          cell->pin_sum += mark;
        }
    }
  return cost;
}

int
ml_sheet_box (MlSheet *sheet, int i, int sign)
{
  const MlSpot *spot = &sheet->spots[i];
  int cost = 0;
  guint k;

  for (k = 0; k < spot->form->n_cores; k++)
    cost += stamp_core (sheet, &spot->form->cores[k], spot->x, spot->y, sign);
  for (k = 0; k < spot->form->n_rooms; k++)
    cost += stamp_room (sheet, &spot->form->rooms[k], spot->x, spot->y, sign);
  return cost + stamp_pins (sheet, spot, sign);
}

/* ---- wires ---- */

int
ml_sheet_wire (MlSheet *sheet, const MlEstimate *estimate, int sign)
{
  int cost = 0;
  guint i;

  for (i = 0; i < estimate->n; i++)
    {
      const MlSegment *s = &estimate->segments[i];
      gboolean level = s->y0 == s->y1;
      int from = level ? MIN (s->x0, s->x1) : MIN (s->y0, s->y1), to = level ? MAX (s->x0, s->x1) : MAX (s->y0, s->y1), at;
      MlCell *cell = level ? cell_at (sheet, from, s->y0) : cell_at (sheet, s->x0, from);
      gsize stride = level ? 1 : (gsize) sheet->width;
      for (at = from; at <= to; at++, cell += stride)
        {
          gint16 *along = level ? &cell->across : &cell->down;
          int other = level ? cell->down : cell->across;
          if (sign < 0)
            (*along)--;
          cost += CORE_ON_WIRE * cell->core + ROOM_ON_WIRE * cell->room + SHARED_RUN * *along
                  + (at > from && at < to ? CROSSING : CORE_ON_WIRE) * other;
          if (sign > 0)
            (*along)++;
        }
    }
  return cost;
}

static int
probe_wire (MlSheet *sheet, const MlSegment *segments, guint n)
{
  int cost = 0;
  guint i;

  for (i = 0; i < n; i++)
    {
      const MlSegment *s = &segments[i];
      gboolean level = s->y0 == s->y1;
      int from = level ? MIN (s->x0, s->x1) : MIN (s->y0, s->y1), to = level ? MAX (s->x0, s->x1) : MAX (s->y0, s->y1), at;
      const MlCell *cell = level ? cell_at (sheet, from, s->y0) : cell_at (sheet, s->x0, from);
      gsize stride = level ? 1 : (gsize) sheet->width;
      for (at = from; at <= to; at++, cell += stride)
        cost += CORE_ON_WIRE * cell->core + ROOM_ON_WIRE * cell->room + CROSSING * (level ? cell->down : cell->across)
                + SHARED_RUN * (level ? cell->across : cell->down);
    }
  return cost;
}

static void
add_segments (MlEstimate *estimate, const MlSegment *segments, guint n)
{
  if (estimate->n + n > estimate->room)
    {
      estimate->room = MAX (2 * estimate->room, estimate->n + n + 4);
      estimate->segments = g_renew (MlSegment, estimate->segments, estimate->room);
    }
  if (n > 0)
    memcpy (estimate->segments + estimate->n, segments, n * sizeof *segments);
  estimate->n += n;
}

typedef struct { int cost; MlSegment segments[3]; guint n; } Way;

/* Bends that it takes to leave a pin towards `need`; 10 per bend. */
static int
leaving (int side, int need)
{
  if (side < 0 || side == need)
    return 0;
  return ((side + need) & 1) != 0 ? 10 : 40;
}

static void
consider (Way *best, int tenths, int length, const MlSegment *segments, guint n)
{
  int cost = ML_COST (BEND) * tenths / 10 + ML_COST (1) * length;

  if (best->cost >= 0 && cost >= best->cost)
    return;
  best->cost = cost;
  best->n = n;
  if (n > 0)
    memcpy (best->segments, segments, n * sizeof *segments);
}

#define SEGMENT(a, b, c, d) { (gint16) (a), (gint16) (b), (gint16) (c), (gint16) (d) }

/* The cheapest straight, L or Z between two pins; side -1: a point of wire already there; tee: arriving costs less. */
static Way
connect_pins (MlFormPin p, MlFormPin q, int side_p, int side_q, gboolean tee)
{
  int x1 = p.x, y1 = p.y, x2 = q.x, y2 = q.y, dx = x2 - x1, dy = y2 - y1, length = ABS (dx) + ABS (dy);
  int h = dx > 0 ? ML_SIDE_RIGHT : ML_SIDE_LEFT, v = dy > 0 ? ML_SIDE_DOWN : ML_SIDE_UP;
  int h_back = h ^ 2, v_back = v ^ 2, part = tee ? 4 : 10;
  Way best = { -1, { { 0 } }, 0 };

  if (length == 0)
    {
      best.cost = 0;
      return best;
    }
  if (dy == 0 || dx == 0)
    {
      MlSegment s[] = { SEGMENT (x1, y1, x2, y2) };
      consider (&best, leaving (side_p, dy == 0 ? h : v) + part * leaving (side_q, dy == 0 ? h_back : v_back) / 10, length, s, 1);
      return best;
    }
  {
    MlSegment s[] = { SEGMENT (x1, y1, x2, y1), SEGMENT (x2, y1, x2, y2) };
    consider (&best, 10 + leaving (side_p, h) + part * leaving (side_q, v_back) / 10, length, s, 2);
  }
  {
    MlSegment s[] = { SEGMENT (x1, y1, x1, y2), SEGMENT (x1, y2, x2, y2) };
    consider (&best, 10 + leaving (side_p, v) + part * leaving (side_q, h_back) / 10, length, s, 2);
  }
  if (ABS (dx) > 1)
    {
      int m = (x1 + x2) / 2;
      MlSegment s[] = { SEGMENT (x1, y1, m, y1), SEGMENT (m, y1, m, y2), SEGMENT (m, y2, x2, y2) };
      consider (&best, 20 + leaving (side_p, h) + part * leaving (side_q, h_back) / 10, length, s, 3);
    }
  if (ABS (dy) > 1)
    {
      int m = (y1 + y2) / 2;
      MlSegment s[] = { SEGMENT (x1, y1, x1, m), SEGMENT (x1, m, x2, m), SEGMENT (x2, m, x2, y2) };
      consider (&best, 20 + leaving (side_p, v) + part * leaving (side_q, v_back) / 10, length, s, 3);
    }
  return best;
}

/* ---- rails: neighbours from left to right, or flags ---- */

static void
sort_rail (MlSheet *sheet, MlSheetNet *net)
{
  guint i;

  for (i = 1; i < net->n_pins; i++)
    {
      MlPiecePinRef ref = net->pins[i];
      MlFormPin at = ml_sheet_pin (sheet, ref.piece, ref.pin);
      guint k = i;
      while (k > 0)
        {
          MlFormPin before = ml_sheet_pin (sheet, net->pins[k - 1].piece, net->pins[k - 1].pin);
          if (before.x < at.x || (before.x == at.x && before.y < at.y)
              || (before.x == at.x && before.y == at.y && (net->pins[k - 1].piece < ref.piece
                                                           || (net->pins[k - 1].piece == ref.piece && net->pins[k - 1].pin < ref.pin))))
            break;
          net->pins[k] = net->pins[k - 1];
          k--;
        }
      net->pins[k] = ref;
    }
}

static void
estimate_rail_step (MlSheet *sheet, MlSheetNet *net, MlFormPin a, MlFormPin c)
{
  gboolean up = net->rail == ML_RAIL_UP;
  int per_g = up ? ML_COST (0.15) : ML_COST (0.4), limit = up ? ML_COST (16) : ML_COST (6);
  int dx = c.x - a.x, dy = c.y - a.y, base, y = up ? MIN (a.y, c.y) : MAX (a.y, c.y);
  MlSegment s[3];
  guint n = 0;

  if (dy == 0 || dx == 0)
    {
      base = dy == 0 ? per_g * dx : ML_COST (0.5) * ABS (dy) + ML_COST (1);
      if (dx != 0 || dy != 0)
        s[n++] = (MlSegment) SEGMENT (a.x, a.y, c.x, c.y);
    }
  else
    {
      base = per_g * dx + ML_COST (0.6) * ABS (dy) + ML_COST (6);
      s[n++] = (MlSegment) SEGMENT (a.x, y, c.x, y);
      if (a.y != y)
        s[n++] = (MlSegment) SEGMENT (a.x, a.y, a.x, y);
      if (c.y != y)
        s[n++] = (MlSegment) SEGMENT (c.x, c.y, c.x, y);
    }
  if (base < limit)
    base += probe_wire (sheet, s, n);
  if (base < limit)
    add_segments (&net->now, s, n);
  net->now.cost += MIN (base, limit);
}

static void
estimate_rail (MlSheet *sheet, MlSheetNet *net)
{
  int want = net->rail == ML_RAIL_UP ? ML_SIDE_UP : ML_SIDE_DOWN;
  MlFormPin last = { 0, 0, ML_SIDE_UP };
  gboolean has_last = FALSE;
  guint i;

  sort_rail (sheet, net);
  for (i = 0; i < net->n_pins; i++)
    {
      MlFormPin at;
      if (!sheet->spots[net->pins[i].piece].on)
        continue;
      at = ml_sheet_pin (sheet, net->pins[i].piece, net->pins[i].pin);
      net->now.cost += (int) at.side == want ? 0 : (int) at.side == (want ^ 2) ? ML_COST (9) : ML_COST (3);
      if (has_last)
        estimate_rail_step (sheet, net, last, at);
      last = at;
      has_last = TRUE;
    }
}

/* ---- signal nets ---- */

/* Nearly but not quite in line. */
static int
out_of_line (const MlFormPin *pins, guint n)
{
  int cost = 0;
  guint i, k;

  for (i = 0; i < n && n <= 8; i++)
    for (k = 0; k < i; k++)
      {
        int dx = ABS (pins[i].x - pins[k].x), dy = ABS (pins[i].y - pins[k].y);
        gboolean down_i = (pins[i].side & 1) != 0, down_k = (pins[k].side & 1) != 0;
        if (down_i && down_k && (dx == 1 || dx == 2))
          cost += OUT_OF_LINE;
        else if (!down_i && !down_k && (dy == 1 || dy == 2))
          cost += OUT_OF_LINE;
      }
  return cost;
}

static MlFormPin
nearest_on (const MlSegment *s, MlFormPin p)
{
  MlFormPin q = p;

  if (s->y0 == s->y1)
    {
      q.x = CLAMP (p.x, MIN (s->x0, s->x1), MAX (s->x0, s->x1));
      q.y = s->y0;
    }
  else
    {
      q.x = s->x0;
      q.y = CLAMP (p.y, MIN (s->y0, s->y1), MAX (s->y0, s->y1));
    }
  return q;
}

/* Length alone: most pairs need no closer look. */
static inline int
least_cost (MlFormPin p, MlFormPin q)
{
  return ML_COST (1) * (ABS (p.x - q.x) + ABS (p.y - q.y));
}

static Way
cheapest_way (const MlSheetNet *net, MlFormPin p, const MlFormPin *tree, guint n_tree)
{
  Way best = { -1, { { 0 } }, 0 };
  guint i;

  for (i = 0; i < n_tree; i++)
    {
      Way way;
      if (best.cost >= 0 && least_cost (p, tree[i]) >= best.cost)
        continue;
      way = connect_pins (p, tree[i], (int) p.side, (int) tree[i].side, TRUE);
      if (best.cost < 0 || way.cost < best.cost)
        best = way;
    }
  for (i = 0; i < net->now.n; i++)
    {
      MlFormPin q = nearest_on (&net->now.segments[i], p);
      Way way;
      if (least_cost (p, q) >= best.cost)
        continue;
      way = connect_pins (p, q, (int) p.side, -1, TRUE);
      if (way.cost < best.cost)
        best = way;
    }
  return best;
}

static void
take_pair (MlFormPin *pins, guint n, guint a, guint b)
{
  MlFormPin pin_a = pins[a], pin_b = pins[b];
  guint i, k = 2;
  MlFormPin *copy = g_newa (MlFormPin, n);

  if (n > 0)
    memcpy (copy, pins, n * sizeof *pins);
  pins[0] = pin_a;
  pins[1] = pin_b;
  for (i = 0; i < n; i++)
    if (i != a && i != b)
      pins[k++] = copy[i];
}

#define FULL_PRIM 24 /* above this many pins the order of x decides what is joined next */

static void
estimate_signal (MlSheet *sheet, MlSheetNet *net)
{
  MlFormPin *pins = g_newa (MlFormPin, MAX (net->n_pins, 1));
  guint n = 0, i, k, in_tree;
  Way first = { -1, { { 0 } }, 0 };
  guint a = 0, b = 1;

  for (i = 0; i < net->n_pins; i++)
    if (sheet->spots[net->pins[i].piece].on)
      pins[n++] = ml_sheet_pin (sheet, net->pins[i].piece, net->pins[i].pin);
  if (n < 2)
    return;
  for (i = 0; i < n; i++)
    for (k = n > FULL_PRIM && i > 0 ? i - 1 : 0; k < i; k++)
      {
        Way way;
        if (first.cost >= 0 && least_cost (pins[i], pins[k]) >= first.cost)
          continue;
        way = connect_pins (pins[i], pins[k], (int) pins[i].side, (int) pins[k].side, FALSE);
        if (first.cost < 0 || way.cost < first.cost)
          {
            first = way;
            a = i;
            b = k;
          }
      }
  if (first.cost > CONNECTION_LIMIT)
    {
      net->now.cost = CONNECTION_LIMIT * (int) (n - 1);
      return;
    }
  net->now.cost = first.cost + out_of_line (pins, n);
  add_segments (&net->now, first.segments, first.n);
  take_pair (pins, n, a, b);
  for (in_tree = 2; in_tree < n; in_tree++)
    {
      Way best = { -1, { { 0 } }, 0 };
      guint next = in_tree;
      for (i = in_tree; i < (n > FULL_PRIM ? in_tree + 1 : n); i++)
        {
          Way way = cheapest_way (net, pins[i], pins, MIN (in_tree, FULL_PRIM));
          if (best.cost < 0 || way.cost < best.cost)
            {
              best = way;
              next = i;
            }
        }
      net->now.cost += MIN (best.cost, CONNECTION_LIMIT);
      if (best.cost <= CONNECTION_LIMIT)
        add_segments (&net->now, best.segments, best.n);
      {
        MlFormPin t = pins[in_tree];
        pins[in_tree] = pins[next];
        pins[next] = t;
      }
    }
}

void
ml_sheet_estimate (MlSheet *sheet, int net)
{
  MlSheetNet *of = &sheet->nets[net];

  of->now.n = 0;
  of->now.cost = 0;
  if (of->rail != ML_RAIL_NONE)
    estimate_rail (sheet, of);
  else
    estimate_signal (sheet, of);
}

void
ml_sheet_save_nets (MlSheet *sheet, const int *nets, guint n)
{
  guint i;

  for (i = 0; i < n; i++)
    {
      MlSheetNet *net = &sheet->nets[nets[i]];
      MlEstimate t = net->before;
      net->before = net->now;
      net->now = t;
    }
}

void
ml_sheet_back_nets (MlSheet *sheet, const int *nets, guint n)
{
  ml_sheet_save_nets (sheet, nets, n);
}

/* ---- what a place costs by itself ---- */

static int
free_gap (int a0, int a1, int b0, int b1)
{
  return MAX (MAX (a0 - b1, b0 - a1), 0);
}

static int
tie_cost (const MlSpot *a, const MlSpot *b)
{
  const MlCells *ha = &a->form->pin_hull, *hb = &b->form->pin_hull;
  int gx = free_gap (a->x + ha->x0, a->x + ha->x1, b->x + hb->x0, b->x + hb->x1);
  int gy = free_gap (a->y + ha->y0, a->y + ha->y1, b->y + hb->y0, b->y + hb->y1);
  int gap = MAX (0, gx - 3) + MAX (0, gy - 2);

  return gap < 12 ? ML_COST (1) * gap : ML_COST (12) + ML_COST (0.4) * (gap - 12);
}

static int
left_of_supply (const MlSheet *sheet, const MlSpot *supply, const MlSpot *spot)
{
  int left = supply->x + supply->form->hull.x0 - (spot->x + spot->form->pin_hull.x0);
  int above = supply->y - 4 - (spot->y + spot->form->pin_hull.y0);

  return ML_COST (1.6) * CLAMP (left, 0, 40) + sheet->above_weight * CLAMP (above, 0, 40);
}

static int
supply_cost (const MlSheet *sheet, int i)
{
  const MlSpot *supply;
  int cost = 0;
  guint k;

  if (sheet->supply_spot < 0 || !sheet->spots[sheet->supply_spot].on)
    return 0;
  supply = &sheet->spots[sheet->supply_spot];
  if (i != sheet->supply_spot)
    return left_of_supply (sheet, supply, &sheet->spots[i]);
  for (k = 0; k < sheet->n; k++)
    if ((int) k != i && sheet->spots[k].on)
      cost += left_of_supply (sheet, supply, &sheet->spots[k]);
  return cost;
}

int
ml_sheet_own_cost (MlSheet *sheet, int i)
{
  const MlSpot *spot = &sheet->spots[i];
  int cost = spot->form->cost + spot->pull_x * spot->x + spot->pull_y * spot->y + (ML_COST (7) * ABS (spot->x - spot->wanted_x)) / 100;
  guint k;

  for (k = 0; k < spot->flows->len; k++)
    {
      MlFlowTo to = g_array_index (spot->flows, MlFlowTo, k);
      int gap;
      if (!sheet->spots[to.piece].on)
        continue;
      gap = (sheet->spots[to.piece].x - spot->x) * to.sign;
      if (gap < 6)
        cost += ML_COST (0.5) * MIN (6 - gap, 30);
    }
  for (k = 0; k < spot->mates->len; k++)
    {
      MlFlowTo to = g_array_index (spot->mates, MlFlowTo, k);
      const MlSpot *mate = &sheet->spots[to.piece];
      if (mate->on && (to.sign ? mate->y + mate->form->pin_hull.y0 != spot->y + spot->form->pin_hull.y0 : mate->x != spot->x))
        cost += ML_COST (7);
    }
  for (k = 0; k < spot->ties->len; k++)
    {
      const MlSpot *chip = &sheet->spots[g_array_index (spot->ties, int, k)];
      if (chip->on)
        cost += tie_cost (spot, chip);
    }
  return cost + supply_cost (sheet, i);
}

double
ml_sheet_look (const MlSheet *sheet)
{
  gint64 cost = sheet->supply_spot < 0 ? 0 : supply_cost (sheet, sheet->supply_spot);
  guint i, k;

  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      cost += spot->form->cost;
      for (k = 0; k < spot->ties->len; k++)
        if (g_array_index (spot->ties, int, k) > (int) i)
          cost += tie_cost (spot, &sheet->spots[g_array_index (spot->ties, int, k)]) / 2;
    }
  return (double) cost / 20 / MAX (sheet->circuit->n_parts, 1);
}

int
ml_sheet_shape_cost (const MlCells *hull)
{
  int w = hull->x1 - hull->x0 + 1, h = hull->y1 - hull->y0 + 1;

  return ML_COST (0.5) * (w + h) + ML_COST (0.9) * MAX (0, 4 * h - 3 * w) / 4 + ML_COST (0.3) * MAX (0, 10 * w - 21 * h) / 10;
}

MlCells
ml_sheet_hull (const MlSheet *sheet, int without)
{
  MlCells hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i;

  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      if (!spot->on || (int) i == without)
        continue;
      hull.x0 = MIN (hull.x0, spot->x + spot->form->hull.x0);
      hull.y0 = MIN (hull.y0, spot->y + spot->form->hull.y0);
      hull.x1 = MAX (hull.x1, spot->x + spot->form->hull.x1);
      hull.y1 = MAX (hull.y1, spot->y + spot->form->hull.y1);
    }
  return hull;
}

/* ---- putting and lifting ---- */

int
ml_sheet_put (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  int cost;
  guint k;

  spot->on = TRUE;
  cost = ml_sheet_box (sheet, i, 1);
  for (k = 0; k < spot->n_nets; k++)
    {
      ml_sheet_estimate (sheet, spot->nets[k]);
      cost += sheet->nets[spot->nets[k]].now.cost + ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, 1);
    }
  return cost + ml_sheet_own_cost (sheet, i);
}

int
ml_sheet_lift (MlSheet *sheet, int i)
{
  MlSpot *spot = &sheet->spots[i];
  int cost = ml_sheet_own_cost (sheet, i);
  guint k;

  for (k = 0; k < spot->n_nets; k++)
    cost += sheet->nets[spot->nets[k]].now.cost + ml_sheet_wire (sheet, &sheet->nets[spot->nets[k]].now, -1);
  cost += ml_sheet_box (sheet, i, -1);
  spot->on = FALSE;
  return cost;
}

void
ml_sheet_put_all (MlSheet *sheet)
{
  guint i;

  memset (sheet->cells, 0, sizeof *sheet->cells * (gsize) sheet->width * (gsize) sheet->height);
  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].on)
      ml_sheet_box (sheet, (int) i, 1);
  for (i = 0; i < sheet->n_nets; i++)
    {
      ml_sheet_estimate (sheet, (int) i);
      ml_sheet_wire (sheet, &sheet->nets[i].now, 1);
    }
}
