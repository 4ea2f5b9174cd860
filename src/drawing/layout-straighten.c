/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts that stand nearly in line come to stand in line: where a wire steps sideways by a little, what hangs on one side of the step moves
 * over, and pushes along what stands in its way. One axis at a time: copper that runs across the axis and the parts on it are rigid groups,
 * wires along the axis give way between them. */
#include "drawing/groups.h"
#include "drawing/layout-plan.h"

#include <math.h>
#include <string.h>

#define LONGEST_STEP 2   /* g */
#define MOST_SPOTS 250   /* beyond it, weighing everything against everything takes too long */
#define MOST_STEPS 40
#define FREE G_MAXINT
#define BESIDE_A_FLAG 0.2
#define STEP_SAVED 4.0   /* the measure of two bends */
#define WIRE_PER_G 0.15
#define AREA_PER_SQUARE 0.02

typedef enum { ITEM_CORE, ITEM_COPPER, ITEM_FLAG, ITEM_ROOM } ItemKind;

/* What must not be run into: a0 to a1 along the axis, c0 to c1 across it, all inclusive. */
typedef struct { ItemKind kind; guint node; int net; double a0, a1, c0, c1; } Item;

typedef struct
{
  MlLayoutPlan *plan;
  int axis;
  gboolean parts_move;
  guint n_spots, n_wires, n_flags, n_dots, n; /* nodes: spots; two ends of each wire; flags; dots */
  guint *parent;
  guint n_groups, *group;  /* per node */
  GArray *items;
  int *gap;                /* [from * n_groups + to]: how far `from` may go up the axis before `to` must go along; FREE */
  gboolean *stays;         /* per group: it holds a part, and parts may not move */
  int *shift;              /* per group, of the step in question */
} Straighten;

static int
along (const Straighten *s, int x, int y)
{
  return s->axis == 0 ? x : y;
}

static int
across (const Straighten *s, int x, int y)
{
  return s->axis == 0 ? y : x;
}

static MlPlanWire *
wire_at (const Straighten *s, guint i)
{
  return &g_array_index (s->plan->wires, MlPlanWire, i);
}

static gboolean
runs_along (const Straighten *s, const MlPlanWire *wire)
{
  return across (s, wire->x0, wire->y0) == across (s, wire->x1, wire->y1);
}

static guint
node_of_end (const Straighten *s, guint wire, int end)
{
  return s->n_spots + 2 * wire + (guint) end;
}

static guint
node_of_flag (const Straighten *s, guint flag)
{
  return s->n_spots + 2 * s->n_wires + flag;
}

static guint
node_of_dot (const Straighten *s, guint dot)
{
  return s->n_spots + 2 * s->n_wires + s->n_flags + dot;
}

/* ---- what moves as one ---- */

static void
join_nodes (Straighten *s)
{
  const MlKit *kit = s->plan->sheet->kit;
  guint i, k;

  ml_layout_plan_join_touching (s->plan, 2, s->parent);
  for (i = 0; i < s->n_wires; i++)
    if (!runs_along (s, wire_at (s, i)))
      ml_group_join (s->parent, node_of_end (s, i, 0), node_of_end (s, i, 1));
  for (i = 0; i < kit->composites->len; i++) /* units alike stay at their pitch, halves face to face */
    {
      const MlPiece *composite = g_ptr_array_index (kit->composites, i);
      for (k = 1; k < composite->n_members && (composite->is_bank || composite->is_kept); k++)
        ml_group_join (s->parent, (guint) composite->members[0], (guint) composite->members[k]);
    }
  for (i = 0; i < kit->mates->len; i++)
    {
      const MlMate *mate = &g_array_index (kit->mates, MlMate, i);
      const MlSpot *a = &s->plan->sheet->spots[mate->a], *b = &s->plan->sheet->spots[mate->b];
      if (mate->level && s->axis == 1 && a->y + a->form->pin_hull.y0 == b->y + b->form->pin_hull.y0)
        ml_group_join (s->parent, (guint) mate->a, (guint) mate->b);
    }
}

static void
number_groups (Straighten *s)
{
  guint i, *number = g_new (guint, s->n);

  for (i = 0; i < s->n; i++)
    number[i] = G_MAXUINT;
  for (i = 0; i < s->n; i++)
    {
      guint root = ml_group_of (s->parent, i);
      if (number[root] == G_MAXUINT)
        number[root] = s->n_groups++;
      s->group[i] = number[root];
    }
  g_free (number);
}

/* ---- what stands in the way of what ---- */

static void
add_item (Straighten *s, ItemKind kind, guint node, int net, MlBox box)
{
  Item item = { kind, node, net, box.x0, box.x1, box.y0, box.y1 };

  if (s->axis == 1)
    item = (Item){ kind, node, net, box.y0, box.y1, box.x0, box.x1 };

  g_array_append_val (s->items, item);
}

static void
add_spot (Straighten *s, guint i)
{
  const MlSpot *spot = &s->plan->sheet->spots[i];
  guint k;

  for (k = 0; k < spot->form->n_cores; k++)
    {
      const MlCells *c = &spot->form->cores[k];
      add_item (s, ITEM_CORE, i, -1, (MlBox){ spot->x + c->x0, spot->y + c->y0, spot->x + c->x1, spot->y + c->y1 });
    }
  for (k = 0; k < spot->form->n_rooms; k++)
    {
      const MlCells *c = &spot->form->rooms[k];
      add_item (s, ITEM_ROOM, i, -1, (MlBox){ spot->x + c->x0, spot->y + c->y0, spot->x + c->x1, spot->y + c->y1 });
    }
  for (k = 0; k < spot->piece->n_pins; k++)
    {
      MlFormPin at = ml_sheet_pin (s->plan->sheet, (int) i, (int) k);
      add_item (s, ITEM_COPPER, i, spot->piece->pins[k].net, (MlBox){ at.x, at.y, at.x, at.y });
    }
}

static void
list_items (Straighten *s)
{
  guint i;

  for (i = 0; i < s->n_spots; i++)
    add_spot (s, i);
  for (i = 0; i < s->n_wires; i++)
    {
      const MlPlanWire *w = wire_at (s, i);
      if (!runs_along (s, w))
        add_item (s, ITEM_COPPER, node_of_end (s, i, 0), w->net, (MlBox){ w->x0, w->y0, w->x1, w->y1 });
      else
        {
          add_item (s, ITEM_COPPER, node_of_end (s, i, 0), w->net, (MlBox){ w->x0, w->y0, w->x0, w->y0 });
          add_item (s, ITEM_COPPER, node_of_end (s, i, 1), w->net, (MlBox){ w->x1, w->y1, w->x1, w->y1 });
        }
    }
  for (i = 0; i < s->n_flags; i++)
    {
      const MlPlanFlag *flag = &g_array_index (s->plan->flags, MlPlanFlag, i);
      add_item (s, ITEM_FLAG, node_of_flag (s, i), flag->net, ml_layout_plan_flag_box (s->plan->sheet->circuit, flag));
    }
}

/* How far apart two things stay, from the end of the one to the beginning of the other; -1: they do not mind each other. */
static double
distance_wanted (const Item *p, const Item *q)
{
  if (p->kind == ITEM_FLAG || q->kind == ITEM_FLAG)
    return p->kind == ITEM_ROOM || q->kind == ITEM_ROOM ? -1 : BESIDE_A_FLAG;
  return p->kind == ITEM_CORE && q->kind == ITEM_CORE ? 2 : 1;
}

static void
narrow (Straighten *s, guint from, guint to, double gap)
{
  int *at = &s->gap[from * s->n_groups + to];

  *at = MIN (*at, MAX ((int) floor (gap + 1e-6), 0));
}

static void
weigh_pair (Straighten *s, const Item *p, const Item *q)
{
  guint a = s->group[p->node], b = s->group[q->node];
  double wanted = distance_wanted (p, q);

  if (a == b || wanted < 0 || p->c0 > q->c1 || q->c0 > p->c1)
    return;
  if (p->a1 <= q->a0 && (p->a1 < q->a0 || p->a0 < q->a1))
    narrow (s, a, b, q->a0 - p->a1 - wanted);
  else if (q->a1 <= p->a0 && (q->a1 < p->a0 || q->a0 < p->a1))
    narrow (s, b, a, p->a0 - q->a1 - wanted);
  else if (p->kind != ITEM_ROOM && q->kind != ITEM_ROOM)
    {
      narrow (s, a, b, 0);
      narrow (s, b, a, 0);
    }
}

static int
by_row (gconstpointer a, gconstpointer b)
{
  const Item *p = a, *q = b;

  return p->c0 < q->c0 ? -1 : p->c0 > q->c0;
}

static void
weigh (Straighten *s)
{
  guint i, k, n = s->n_groups * s->n_groups;

  s->gap = g_new (int, MAX (n, 1));
  for (i = 0; i < n; i++)
    s->gap[i] = FREE;
  g_array_sort (s->items, by_row);
  for (i = 0; i < s->items->len; i++)
    for (k = i + 1; k < s->items->len && g_array_index (s->items, Item, k).c0 <= g_array_index (s->items, Item, i).c1; k++)
      weigh_pair (s, &g_array_index (s->items, Item, i), &g_array_index (s->items, Item, k));
}

static void
begin (Straighten *s, MlLayoutPlan *plan, int axis, gboolean parts_move)
{
  guint i;

  memset (s, 0, sizeof *s);
  s->plan = plan;
  s->axis = axis;
  s->parts_move = parts_move;
  s->n_spots = plan->sheet->n;
  s->n_wires = plan->wires->len;
  s->n_flags = plan->flags->len;
  s->n_dots = plan->dots->len;
  s->n = s->n_spots + 2 * s->n_wires + s->n_flags + s->n_dots;
  s->parent = g_new (guint, MAX (s->n, 1));
  s->group = g_new (guint, MAX (s->n, 1));
  s->items = g_array_new (FALSE, FALSE, sizeof (Item));
  for (i = 0; i < s->n; i++)
    s->parent[i] = i;
  join_nodes (s);
  number_groups (s);
  list_items (s);
  weigh (s);
  s->shift = g_new0 (int, MAX (s->n_groups, 1));
  s->stays = g_new0 (gboolean, MAX (s->n_groups, 1));
  for (i = 0; i < s->n_spots && !parts_move; i++)
    s->stays[s->group[i]] = TRUE;
}

static void
end (Straighten *s)
{
  g_free (s->parent);
  g_free (s->group);
  g_array_unref (s->items);
  g_free (s->gap);
  g_free (s->shift);
  g_free (s->stays);
}

/* ---- steps ---- */

static MlSide
way_from (const MlPlanWire *w, int x, int y)
{
  if (w->y0 == w->y1)
    return w->x0 == x && w->y0 == y ? ML_SIDE_RIGHT : ML_SIDE_LEFT;
  return w->x0 == x && w->y0 == y ? ML_SIDE_DOWN : ML_SIDE_UP;
}

/* The ways in which copper leaves a node but for one wire, as bits 1 << side; 0 with more than one thing the same way. */
static guint
ways_from (const Straighten *s, guint but, int x, int y)
{
  int net = wire_at (s, but)->net;
  guint i, k, ways = 0;

#define ADD(side) do { guint bit = 1u << (side); if (ways & bit) return 0; ways |= bit; } while (0)
  for (i = 0; i < s->n_wires; i++)
    {
      const MlPlanWire *w = wire_at (s, i);
      if (i != but && w->net == net && ((w->x0 == x && w->y0 == y) || (w->x1 == x && w->y1 == y)))
        ADD (way_from (w, x, y));
    }
  for (i = 0; i < s->n_flags; i++)
    {
      const MlPlanFlag *flag = &g_array_index (s->plan->flags, MlPlanFlag, i);
      if (flag->net == net && flag->x == x && flag->y == y)
        ADD (flag->side);
    }
  for (i = 0; i < s->n_spots; i++)
    for (k = 0; k < s->plan->sheet->spots[i].piece->n_pins; k++)
      {
        MlFormPin at = ml_sheet_pin (s->plan->sheet, (int) i, (int) k);
        if (at.x == x && at.y == y)
          ADD (((int) at.side + 2) % 4);
      }
#undef ADD
  return ways;
}

static guint
n_ways (guint ways)
{
  return (ways & 1) + (ways >> 1 & 1) + (ways >> 2 & 1) + (ways >> 3 & 1);
}

static int
length_along (const Straighten *s, const MlPlanWire *w)
{
  return along (s, w->x1, w->y1) - along (s, w->x0, w->y0);
}

/* A short piece along the axis whose two ends could be one: what leaves them goes different ways. */
static gboolean
is_step (const Straighten *s, guint i)
{
  const MlPlanWire *w = wire_at (s, i);
  guint at_0, at_1, sides = s->axis == 0 ? 1u << ML_SIDE_UP | 1u << ML_SIDE_DOWN : 1u << ML_SIDE_LEFT | 1u << ML_SIDE_RIGHT;

  if (!runs_along (s, w) || length_along (s, w) > LONGEST_STEP)
    return FALSE;
  at_0 = ways_from (s, i, w->x0, w->y0);
  at_1 = ways_from (s, i, w->x1, w->y1);
  return (at_0 & sides) != 0 && (at_1 & sides) != 0 && (at_0 & at_1) == 0 && n_ways (at_0) + n_ways (at_1) <= 3;
}

/* ---- how far everything must go when one group goes ---- */

/* What the two sides of a step ask of each other, the step itself left out. */
static int
gap_beside_step (const Straighten *s, guint step, guint low, guint high)
{
  const MlPlanWire *w = wire_at (s, step);
  int a0 = along (s, w->x0, w->y0), a1 = along (s, w->x1, w->y1), c = across (s, w->x0, w->y0), least = FREE;
  guint i, k;

  for (i = 0; i < s->items->len; i++)
    {
      const Item *p = &g_array_index (s->items, Item, i);
      if (s->group[p->node] != low || p->kind == ITEM_ROOM)
        continue;
      for (k = 0; k < s->items->len; k++)
        {
          const Item *q = &g_array_index (s->items, Item, k);
          gboolean at_step = p->net == w->net && q->net == w->net && p->a0 <= a0 && p->a1 >= a0 && p->c0 <= c && p->c1 >= c && q->a0 <= a1 && q->a1 >= a1
                             && q->c0 <= c && q->c1 >= c;
          if (s->group[q->node] != high || q->kind == ITEM_ROOM || at_step || p->c0 > q->c1 || q->c0 > p->c1 || p->a1 > q->a0)
            continue;
          least = MIN (least, MAX ((int) floor (q->a0 - p->a1 - distance_wanted (p, q) + 1e-6), 0));
        }
    }
  return least;
}

/* sign +1: up the axis. FALSE when the other side would have to go along. */
static gboolean
push (Straighten *s, guint first, guint other, int gap_between, int by, int sign)
{
  gboolean again = TRUE;
  guint i, k;

  if (s->stays[first])
    return FALSE;
  memset (s->shift, 0, s->n_groups * sizeof *s->shift);
  s->shift[first] = by;
  while (again)
    {
      again = FALSE;
      for (i = 0; i < s->n_groups; i++)
        for (k = 0; s->shift[i] > 0 && k < s->n_groups; k++)
          {
            int gap = i == first && k == other ? gap_between : sign > 0 ? s->gap[i * s->n_groups + k] : s->gap[k * s->n_groups + i];
            if (gap == FREE || s->shift[i] - gap <= s->shift[k])
              continue;
            s->shift[k] = s->shift[i] - gap;
            if (k == other || s->stays[k] || s->shift[k] > by)
              return FALSE;
            again = TRUE;
          }
    }
  for (i = 0; i < s->n_groups; i++)
    s->shift[i] *= sign;
  return TRUE;
}

/* ---- what that is worth ---- */

static guint
n_steps_after (const Straighten *s)
{
  guint i, n = 0;

  for (i = 0; i < s->n_wires; i++)
    {
      const MlPlanWire *w = wire_at (s, i);
      int length = length_along (s, w) + s->shift[s->group[node_of_end (s, i, 1)]] - s->shift[s->group[node_of_end (s, i, 0)]];
      n += runs_along (s, w) && length > 0 && length <= 1 && (length_along (s, w) <= 1 || is_step (s, i));
    }
  return n;
}

static double
wire_after (const Straighten *s)
{
  double sum = 0;
  guint i;

  for (i = 0; i < s->n_wires; i++)
    if (runs_along (s, wire_at (s, i)))
      sum += length_along (s, wire_at (s, i)) + s->shift[s->group[node_of_end (s, i, 1)]] - s->shift[s->group[node_of_end (s, i, 0)]];
  return sum;
}

static double
area_after (const Straighten *s)
{
  double a0 = G_MAXINT, a1 = G_MININT, c0 = G_MAXINT, c1 = G_MININT;
  guint i;

  for (i = 0; i < s->items->len; i++)
    {
      const Item *item = &g_array_index (s->items, Item, i);
      int by = s->shift[s->group[item->node]];
      a0 = MIN (a0, item->a0 + by);
      a1 = MAX (a1, item->a1 + by);
      c0 = MIN (c0, item->c0);
      c1 = MAX (c1, item->c1);
    }
  return (a1 - a0) * (c1 - c0);
}

static double
cost_after (const Straighten *s)
{
  return STEP_SAVED * n_steps_after (s) + WIRE_PER_G * wire_after (s) + AREA_PER_SQUARE * area_after (s);
}

/* ---- doing it ---- */

static void
move_point (const Straighten *s, guint node, int *x, int *y)
{
  *(s->axis == 0 ? x : y) += s->shift[s->group[node]];
}

static void
move_everything (Straighten *s)
{
  guint i;

  for (i = 0; i < s->n_spots; i++)
    move_point (s, i, &s->plan->sheet->spots[i].x, &s->plan->sheet->spots[i].y);
  for (i = 0; i < s->n_wires; i++)
    {
      MlPlanWire *w = wire_at (s, i);
      move_point (s, node_of_end (s, i, 0), &w->x0, &w->y0);
      move_point (s, node_of_end (s, i, 1), &w->x1, &w->y1);
    }
  for (i = 0; i < s->n_flags; i++)
    {
      MlPlanFlag *flag = &g_array_index (s->plan->flags, MlPlanFlag, i);
      move_point (s, node_of_flag (s, i), &flag->x, &flag->y);
    }
  for (i = 0; i < s->n_dots; i++)
    {
      MlPlanDot *dot = &g_array_index (s->plan->dots, MlPlanDot, i);
      move_point (s, node_of_dot (s, i), &dot->x, &dot->y);
    }
}

static gboolean
is_vertex (const Straighten *s, int net, int x, int y)
{
  guint i, k;

  for (i = 0; i < s->n_flags; i++)
    {
      const MlPlanFlag *flag = &g_array_index (s->plan->flags, MlPlanFlag, i);
      if (flag->net == net && flag->x == x && flag->y == y)
        return TRUE;
    }
  for (i = 0; i < s->n_dots; i++)
    {
      const MlPlanDot *dot = &g_array_index (s->plan->dots, MlPlanDot, i);
      if (dot->net == net && dot->x == x && dot->y == y)
        return TRUE;
    }
  for (i = 0; i < s->n_spots; i++)
    for (k = 0; k < s->plan->sheet->spots[i].piece->n_pins; k++)
      {
        MlFormPin at = ml_sheet_pin (s->plan->sheet, (int) i, (int) k);
        if (at.x == x && at.y == y)
          return TRUE;
      }
  return FALSE;
}

/* The step has no length any more; what ran up to it and on from it across the axis is one wire. */
static void
drop_step (Straighten *s, guint step)
{
  GArray *wires = s->plan->wires;
  MlPlanWire gone = *wire_at (s, step);
  guint i, before = G_MAXUINT, behind = G_MAXUINT;

  g_array_remove_index (wires, step);
  if (is_vertex (s, gone.net, gone.x0, gone.y0))
    return;
  for (i = 0; i < wires->len; i++)
    {
      const MlPlanWire *w = wire_at (s, i);
      if (w->net == gone.net && w->x1 == gone.x0 && w->y1 == gone.y0)
        before = i;
      if (w->net == gone.net && w->x0 == gone.x0 && w->y0 == gone.y0)
        behind = i;
    }
  if (before == G_MAXUINT || behind == G_MAXUINT || runs_along (s, wire_at (s, before)) != runs_along (s, wire_at (s, behind)))
    return;
  wire_at (s, before)->x1 = wire_at (s, behind)->x1;
  wire_at (s, before)->y1 = wire_at (s, behind)->y1;
  g_array_remove_index (wires, behind);
}

/* The step that is best taken out is; FALSE when none can be. */
static gboolean
take_one_out (MlLayoutPlan *plan, int axis, gboolean parts_move)
{
  Straighten s;
  guint i, best_step = G_MAXUINT;
  double now, best = 0;
  int *best_shift, sign;

  begin (&s, plan, axis, parts_move);
  now = cost_after (&s);
  best_shift = g_new (int, MAX (s.n_groups, 1));
  for (i = 0; i < s.n_wires; i++)
    {
      guint low, high;
      int gap, by;
      if (!is_step (&s, i))
        continue;
      low = s.group[node_of_end (&s, i, 0)];
      high = s.group[node_of_end (&s, i, 1)];
      by = length_along (&s, wire_at (&s, i));
      if (low == high)
        continue;
      gap = gap_beside_step (&s, i, low, high);
      for (sign = -1; sign <= 1; sign += 2)
        {
          double saved;
          if (!push (&s, sign > 0 ? low : high, sign > 0 ? high : low, gap, by, sign))
            continue;
          saved = now - cost_after (&s) + (by > 1 ? STEP_SAVED : 0);
          if (saved <= best + 1e-9)
            continue;
          best = saved;
          best_step = i;
          memcpy (best_shift, s.shift, s.n_groups * sizeof *s.shift);
        }
    }
  if (best_step != G_MAXUINT)
    {
      memcpy (s.shift, best_shift, s.n_groups * sizeof *s.shift);
      move_everything (&s);
      drop_step (&s, best_step);
    }
  g_free (best_shift);
  end (&s);
  return best_step != G_MAXUINT;
}

void
ml_layout_plan_straighten (MlLayoutPlan *plan, gboolean parts_move)
{
  int axis;
  guint n;

  if (plan->sheet->n == 0 || plan->sheet->n > MOST_SPOTS)
    return;
  for (axis = 0; axis < 2; axis++)
    for (n = 0; n < MOST_STEPS && take_one_out (plan, axis, parts_move); n++)
      ;
}
