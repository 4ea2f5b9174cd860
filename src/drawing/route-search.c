/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dijkstra over states (cell, direction of travel), after Wybrow, Marriott and Stuckey 2009 (from memory): bends cost at the cell. */
#include "drawing/route-search.h"

#include <string.h>

#define STEP ML_COST (1)
#define BEND ML_COST (4)
#define SIDEWAYS ML_COST (3.2)
#define CROSSING ML_COST (8)
#define ON_ROOM ML_COST (0.7)
#define BESIDE_WIRE ML_COST (0.6)
#define BESIDE_CORE ML_COST (0.15)
#define BAR_STEP ML_COST (0.2)
#define ANY_SIDE 5

typedef struct { int best, from; guint32 seen; } State; /* seen: twice the generation in which it was written, and one once it is settled */
typedef struct { int *states; guint n, room; } Bucket;  /* a heap: the smallest first */

struct _MlRouteSearch
{
  MlRouter *router;
  State *states;      /* 4 cell + side, and the same beyond 4 n_cells for arrivals */
  guint8 *goal;       /* side + 1, or ANY_SIDE */
  guint32 *goal_seen;
  guint32 generation;
  int limit;
  int goal_x0, goal_y0, goal_x1, goal_y1; /* hull of the goals: the way to it is a lower bound of what is left (A*) */
  int least_across;
  gboolean has_goals;
  Bucket *buckets;    /* by the cost of a path and what is left at least */
  int n_buckets, lowest, highest; /* all between them may hold states */
  GArray *scratch;
};

MlRouteSearch *
ml_route_search_new (MlRouter *router)
{
  MlRouteSearch *search = g_new0 (MlRouteSearch, 1);
  gsize n = (gsize) router->n_cells;

  search->router = router;
  search->states = g_new0 (State, 8 * n);
  search->goal = g_new (guint8, n);
  search->goal_seen = g_new0 (guint32, n);
  search->highest = -1;
  search->scratch = g_array_new (FALSE, FALSE, sizeof (int));
  return search;
}

void
ml_route_search_free (MlRouteSearch *search)
{
  int i;

  g_free (search->states);
  g_free (search->goal);
  g_free (search->goal_seen);
  for (i = 0; i < search->n_buckets; i++)
    g_free (search->buckets[i].states);
  g_free (search->buckets);
  g_array_unref (search->scratch);
  g_free (search);
}

GArray *
ml_route_search_scratch (MlRouteSearch *search)
{
  return search->scratch;
}

/* ---- what is open: a bucket per cost, so that it never takes long to find the cheapest; in a bucket by state, so that ties fall the same way
 * everywhere ---- */

static void
bucket_push (Bucket *bucket, int state)
{
  guint i = bucket->n++;
  int *states;

  if (i == bucket->room)
    {
      bucket->room = MAX (16, 2 * bucket->room);
      bucket->states = g_renew (int, bucket->states, bucket->room);
    }
  states = bucket->states;
  while (i > 0 && state < states[(i - 1) / 2])
    {
      states[i] = states[(i - 1) / 2];
      i = (i - 1) / 2;
    }
  states[i] = state;
}

static int
bucket_pop (Bucket *bucket)
{
  int *states = bucket->states, top = states[0], last = states[--bucket->n];
  guint n = bucket->n, i = 0;

  while (2 * i + 1 < n)
    {
      guint child = 2 * i + 1;
      child += child + 1 < n && states[child + 1] < states[child];
      if (states[child] >= last)
        break;
      states[i] = states[child];
      i = child;
    }
  states[i] = last;
  return top;
}

/* The cheapest state that is open, -1 when none is. */
static int
pop (MlRouteSearch *search)
{
  while (search->lowest <= search->highest && search->buckets[search->lowest].n == 0)
    search->lowest++;
  return search->lowest <= search->highest ? bucket_pop (&search->buckets[search->lowest]) : -1;
}

static void
make_buckets (MlRouteSearch *search, int n)
{
  if (n <= search->n_buckets)
    return;
  search->buckets = g_renew (Bucket, search->buckets, n);
  memset (search->buckets + search->n_buckets, 0, sizeof *search->buckets * (gsize) (n - search->n_buckets));
  search->n_buckets = n;
}

/* What is left at least, from a node to the hull of the goals. */
static inline int
least_left (const MlRouteSearch *search, int x, int y)
{
  int dx, dy;

  if (!search->has_goals)
    return 0;
  dx = x < search->goal_x0 ? search->goal_x0 - x : x > search->goal_x1 ? x - search->goal_x1 : 0;
  dy = y < search->goal_y0 ? search->goal_y0 - y : y > search->goal_y1 ? y - search->goal_y1 : 0;
  return search->least_across * dx + STEP * dy;
}

/* left: what is left at least from there. */
static inline void
reach (MlRouteSearch *search, int state, int cost, int left, int from)
{
  State *at = &search->states[state];
  int least = cost + left;

  if ((at->seen >= search->generation && at->best <= cost) || least > search->limit)
    return;
  *at = (State){ cost, from, search->generation };
  bucket_push (&search->buckets[least], state);
  search->lowest = MIN (search->lowest, least);
  search->highest = MAX (search->highest, least);
}

void
ml_route_search_begin (MlRouteSearch *search, const MlRouteQuery *query)
{
  int i;

  for (i = search->lowest; i <= search->highest; i++)
    search->buckets[i].n = 0;
  search->lowest = G_MAXINT;
  search->highest = -1;
  make_buckets (search, query->limit + 1);
  search->generation += 2;
  search->limit = query->limit;
  search->has_goals = FALSE;
  search->goal_x0 = search->goal_y0 = G_MAXINT;
  search->goal_x1 = search->goal_y1 = 0;
  search->least_across = query->bars != NULL ? MIN (BAR_STEP, query->step_across) : query->step_across;
}

void
ml_route_search_source (MlRouteSearch *search, int cell, int side, int cost)
{
  int d, left = least_left (search, cell % search->router->width, cell / search->router->width);

  for (d = 0; d < 4; d++)
    if (side < 0 || d == side)
      reach (search, 4 * cell + d, cost, left, -1);
    else if (((d + side) & 1) != 0)
      reach (search, 4 * cell + d, cost + SIDEWAYS, left, -1);
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
  int axis = d & 1, stride = axis ? 1 : router->width, cost = 0, sign;

  for (sign = -1; sign <= 1; sign += 2)
    {
      int at = cell + sign * stride;
      const MlRouteCell *beside = &router->cells[at];
      if (at < 0 || at >= router->n_cells)
        continue;
      if (beside->line[axis] != 0 && beside->line[axis] != mark)
        cost += BESIDE_WIRE;
      if (beside->block)
        cost += BESIDE_CORE;
    }
  return cost;
}

/* Cost of stepping onto a cell, -1 when a wire of the net may not go there. *ret_crosses: only straight on from there. */
static inline int
step_cost (const MlRouter *router, const MlRouteQuery *query, int cell, int row, int d, gboolean *ret_crosses)
{
  const MlRouteCell *at = &router->cells[cell];
  int mark = query->net + 1, same = at->line[d & 1], other = at->line[1 - (d & 1)];
  int cost = (d & 1) ? STEP : query->bars != NULL && query->bars[row] ? BAR_STEP : query->step_across;

  if (at->block || at->flagged || (at->pin != 0 && at->pin != mark))
    return -1;
  if ((same != 0 && same != mark) || (at->vertex != 0 && at->vertex != mark))
    return -1;
  *ret_crosses = other != 0 && other != mark;
  if (*ret_crosses)
    cost += CROSSING;
  cost += ON_ROOM * MIN (at->room, 2);
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
  reach (search, 4 * search->router->n_cells + 4 * cell + d, cost, 0, from);
}

static inline void
expand (MlRouteSearch *search, const MlRouteQuery *query, int state, int so_far)
{
  MlRouter *router = search->router;
  int cell = state >> 2, d = state & 3, next = cell + to_right[d] + downwards[d] * router->width, row, cost, left;
  gboolean crosses = FALSE;

  if (query->flag_cost != NULL)
    {
      int flag = query->flag_cost (router, query->net, cell, (MlSide) d);
      if (flag >= 0)
        reach (search, 4 * router->n_cells + state, so_far + flag, 0, state);
    }
  if (next < 0 || next >= router->n_cells)
    return;
  row = next / router->width;
  cost = step_cost (router, query, next, row, d, &crosses);
  if (cost < 0)
    return;
  cost += so_far;
  if (search->goal_seen[next] == search->generation)
    {
      if (!crosses)
        arrive (search, next, d, cost, state);
      return;
    }
  left = least_left (search, next - row * router->width, row);
  reach (search, 4 * next + d, cost, left, state);
  if (crosses)
    return;
  reach (search, 4 * next + ((d + 1) & 3), cost + BEND, left, state);
  reach (search, 4 * next + ((d + 3) & 3), cost + BEND, left, state);
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
      state = search->states[state].from;
    }
}

int
ml_route_search_run (MlRouteSearch *search, const MlRouteQuery *query, GArray *ret_path, int *ret_state)
{
  int beyond = 4 * search->router->n_cells, state;

  while ((state = pop (search)) >= 0)
    {
      State *at = &search->states[state];
      if (at->seen > search->generation) /* reached at a lower cost in between */
        continue;
      at->seen = search->generation + 1;
      if (state >= beyond)
        {
          trace (search, state, ret_path);
          if (ret_state != NULL)
            *ret_state = state - beyond;
          return at->best;
        }
      expand (search, query, state, at->best);
    }
  return -1;
}
