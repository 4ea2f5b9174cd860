/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the wires of a net would cost, before any is routed: straight, with one corner or two; rails from neighbour to neighbour. */
#include "drawing/layout-sheet.h"

#include <string.h>

#define CROSSING ML_COST (6)
#define SHARED_RUN ML_COST (2.5)
#define BEND 3
#define OUT_OF_LINE ML_COST (2.5)
#define CONNECTION_LIMIT ML_COST (70)

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
      MlCell *cell = level ? ml_sheet_cell (sheet, from, s->y0) : ml_sheet_cell (sheet, s->x0, from);
      gsize stride = level ? 1 : (gsize) sheet->width;
      for (at = from; at <= to; at++, cell += stride)
        {
          gint16 *along = level ? &cell->across : &cell->down;
          int other = level ? cell->down : cell->across;
          if (sign < 0)
            (*along)--;
          cost += ML_CORE_ON_WIRE * cell->core + ML_ROOM_ON_WIRE * cell->room + SHARED_RUN * *along
                  + (at > from && at < to ? CROSSING : ML_CORE_ON_WIRE) * other;
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
      const MlCell *cell = level ? ml_sheet_cell (sheet, from, s->y0) : ml_sheet_cell (sheet, s->x0, from);
      gsize stride = level ? 1 : (gsize) sheet->width;
      for (at = from; at <= to; at++, cell += stride)
        cost += ML_CORE_ON_WIRE * cell->core + ML_ROOM_ON_WIRE * cell->room + CROSSING * (level ? cell->down : cell->across)
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
