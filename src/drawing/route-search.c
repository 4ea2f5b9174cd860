/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dijkstra over states (cell, direction of travel), after Wybrow, Marriott and Stuckey 2009 (from memory): bends cost at the cell. */
#include "drawing/route-search.h"

#define STEP ML_COST (1)
#define BEND ML_COST (4)
#define SIDEWAYS ML_COST (3.2)
#define CROSSING ML_COST (8)
#define ON_ROOM ML_COST (0.7)
#define BESIDE_WIRE ML_COST (0.6)
#define BESIDE_CORE ML_COST (0.15)
#define BAR_STEP ML_COST (0.2)
#define ANY_SIDE 5

typedef struct { int cost, state; } Entry;

struct _MlRouteSearch
{
  MlRouter *router;
  int *best, *from;   /* 4 cell + side, and the same beyond 4 n_cells for arrivals */
  guint32 *seen;      /* generation in which best and from were written */
  guint8 *goal;       /* side + 1, or ANY_SIDE */
  guint32 *goal_seen;
  guint32 generation;
  int goal_x0, goal_y0, goal_x1, goal_y1; /* hull of the goals: the way to it is a lower bound of what is left (A*) */
  int least_across;
  gboolean has_goals;
  GArray *heap;       /* of Entry */
  GArray *scratch;
};

MlRouteSearch *
ml_route_search_new (MlRouter *router)
{
  MlRouteSearch *search = g_new0 (MlRouteSearch, 1);
  gsize n = (gsize) router->n_cells;

  search->router = router;
  search->best = g_new (int, 8 * n);
  search->from = g_new (int, 8 * n);
  search->seen = g_new0 (guint32, 8 * n);
  search->goal = g_new (guint8, n);
  search->goal_seen = g_new0 (guint32, n);
  search->heap = g_array_new (FALSE, FALSE, sizeof (Entry));
  search->scratch = g_array_new (FALSE, FALSE, sizeof (int));
  return search;
}

void
ml_route_search_free (MlRouteSearch *search)
{
  g_free (search->best);
  g_free (search->from);
  g_free (search->seen);
  g_free (search->goal);
  g_free (search->goal_seen);
  g_array_unref (search->heap);
  g_array_unref (search->scratch);
  g_free (search);
}

GArray *
ml_route_search_scratch (MlRouteSearch *search)
{
  return search->scratch;
}

/* ---- heap: by cost, then by state, so that ties fall the same way everywhere ---- */

static inline gboolean
comes_before (Entry a, Entry b)
{
  return a.cost < b.cost || (a.cost == b.cost && a.state < b.state);
}

static void
heap_push (GArray *heap, Entry entry)
{
  guint i = heap->len;
  Entry *e;

  g_array_append_val (heap, entry);
  e = (Entry *) (gpointer) heap->data;
  while (i > 0 && comes_before (entry, e[(i - 1) / 2]))
    {
      e[i] = e[(i - 1) / 2];
      i = (i - 1) / 2;
    }
  e[i] = entry;
}

static Entry
heap_pop (GArray *heap)
{
  Entry *e = (Entry *) (gpointer) heap->data, top = e[0], last = e[heap->len - 1];
  guint n = heap->len - 1, i = 0;

  g_array_set_size (heap, n);
  while (2 * i + 1 < n)
    {
      guint child = 2 * i + 1;
      if (child + 1 < n && comes_before (e[child + 1], e[child]))
        child++;
      if (!comes_before (e[child], last))
        break;
      e[i] = e[child];
      i = child;
    }
  if (n > 0)
    e[i] = last;
  return top;
}

/* What is left at least, from a cell to the hull of the goals. */
static inline int
least_left (const MlRouteSearch *search, int state)
{
  int cell, x, y, dx, dy;

  if (!search->has_goals)
    return 0;
  cell = (state >= 4 * search->router->n_cells ? state - 4 * search->router->n_cells : state) >> 2;
  x = cell % search->router->width;
  y = cell / search->router->width;
  dx = x < search->goal_x0 ? search->goal_x0 - x : x > search->goal_x1 ? x - search->goal_x1 : 0;
  dy = y < search->goal_y0 ? search->goal_y0 - y : y > search->goal_y1 ? y - search->goal_y1 : 0;
  return search->least_across * dx + STEP * dy;
}

static void
reach (MlRouteSearch *search, int state, int cost, int from)
{
  if (search->seen[state] == search->generation && search->best[state] <= cost)
    return;
  search->seen[state] = search->generation;
  search->best[state] = cost;
  search->from[state] = from;
  heap_push (search->heap, (Entry){ cost + least_left (search, state), state });
}

void
ml_route_search_begin (MlRouteSearch *search, const MlRouteQuery *query)
{
  search->generation++;
  search->has_goals = FALSE;
  search->goal_x0 = search->goal_y0 = G_MAXINT;
  search->goal_x1 = search->goal_y1 = 0;
  search->least_across = query->bars != NULL ? MIN (BAR_STEP, query->step_across) : query->step_across;
  g_array_set_size (search->heap, 0);
}

void
ml_route_search_source (MlRouteSearch *search, int cell, int side, int cost)
{
  int d;

  for (d = 0; d < 4; d++)
    if (side < 0 || d == side)
      reach (search, 4 * cell + d, cost, -1);
    else if (((d + side) & 1) != 0)
      reach (search, 4 * cell + d, cost + SIDEWAYS, -1);
}

void
ml_route_search_goal (MlRouteSearch *search, int cell, int side)
{
  int x = cell % search->router->width, y = cell / search->router->width;

  search->has_goals = TRUE;
  search->goal_x0 = MIN (search->goal_x0, x);
  search->goal_y0 = MIN (search->goal_y0, y);
  search->goal_x1 = MAX (search->goal_x1, x);
  search->goal_y1 = MAX (search->goal_y1, y);
  search->goal[cell] = (guint8) (side < 0 ? ANY_SIDE : side + 1);
  search->goal_seen[cell] = search->generation;
}

/* ---- steps ---- */

static const int to_right[] = { 1, 0, -1, 0 }, downwards[] = { 0, 1, 0, -1 };

static int
beside_cost (const MlRouter *router, int cell, int d, int mark)
{
  const int *line = (d & 1) ? router->down : router->across;
  int stride = (d & 1) ? 1 : router->width, cost = 0, sign;

  for (sign = -1; sign <= 1; sign += 2)
    {
      int beside = cell + sign * stride;
      if (beside < 0 || beside >= router->n_cells)
        continue;
      if (line[beside] != 0 && line[beside] != mark)
        cost += BESIDE_WIRE;
      if (router->block[beside])
        cost += BESIDE_CORE;
    }
  return cost;
}

/* Cost of stepping onto a cell, -1 when a wire of the net may not go there. *ret_crosses: only straight on from there. */
static int
step_cost (const MlRouter *router, const MlRouteQuery *query, int cell, int d, gboolean *ret_crosses)
{
  int mark = query->net + 1;
  int same = (d & 1) ? router->down[cell] : router->across[cell], other = (d & 1) ? router->across[cell] : router->down[cell];
  int cost = (d & 1) ? STEP : query->bars != NULL && query->bars[cell / router->width] ? BAR_STEP : query->step_across;

  if (router->block[cell] || router->flagged[cell] || (router->pin[cell] != 0 && router->pin[cell] != mark))
    return -1;
  if ((same != 0 && same != mark) || (router->vertex[cell] != 0 && router->vertex[cell] != mark))
    return -1;
  *ret_crosses = other != 0 && other != mark;
  if (*ret_crosses)
    cost += CROSSING;
  cost += ON_ROOM * MIN (router->room[cell], 2);
  return cost + beside_cost (router, cell, d, mark);
}

static void
arrive (MlRouteSearch *search, int cell, int d, int cost, int from)
{
  int side = search->goal[cell] == ANY_SIDE ? -1 : search->goal[cell] - 1;

  if (side == d) /* through the part's back */
    return;
  if (side >= 0 && side != (d ^ 2))
    cost += SIDEWAYS;
  reach (search, 4 * search->router->n_cells + 4 * cell + d, cost, from);
}

static void
expand (MlRouteSearch *search, const MlRouteQuery *query, Entry entry)
{
  MlRouter *router = search->router;
  int cell = entry.state >> 2, d = entry.state & 3, next = cell + to_right[d] + downwards[d] * router->width, cost;
  gboolean crosses = FALSE;

  if (query->flag_cost != NULL)
    {
      int flag = query->flag_cost (router, query->net, cell, (MlSide) d);
      if (flag >= 0)
        reach (search, 4 * router->n_cells + entry.state, entry.cost + flag, entry.state);
    }
  if (next < 0 || next >= router->n_cells)
    return;
  cost = step_cost (router, query, next, d, &crosses);
  if (cost < 0)
    return;
  cost += entry.cost;
  if (search->goal_seen[next] == search->generation)
    {
      if (!crosses)
        arrive (search, next, d, cost, entry.state);
      return;
    }
  reach (search, 4 * next + d, cost, entry.state);
  if (crosses)
    return;
  reach (search, 4 * next + ((d + 1) & 3), cost + BEND, entry.state);
  reach (search, 4 * next + ((d + 3) & 3), cost + BEND, entry.state);
}

static void
trace (const MlRouteSearch *search, int state, GArray *ret_path)
{
  int beyond = 4 * search->router->n_cells;

  while (state >= 0)
    {
      int cell = (state >= beyond ? state - beyond : state) >> 2;
      if (ret_path->len == 0 || g_array_index (ret_path, int, ret_path->len - 1) != cell)
        g_array_append_val (ret_path, cell);
      state = search->from[state];
    }
}

int
ml_route_search_run (MlRouteSearch *search, const MlRouteQuery *query, GArray *ret_path, int *ret_state)
{
  int beyond = 4 * search->router->n_cells;

  while (search->heap->len > 0)
    {
      Entry entry = heap_pop (search->heap);
      int cost = search->best[entry.state];
      if (entry.cost > cost + least_left (search, entry.state))
        continue;
      if (entry.cost > query->limit)
        return -1;
      entry.cost = cost;
      if (entry.state >= beyond)
        {
          trace (search, entry.state, ret_path);
          if (ret_state != NULL)
            *ret_state = entry.state - beyond;
          return entry.cost;
        }
      expand (search, query, entry);
    }
  return -1;
}
