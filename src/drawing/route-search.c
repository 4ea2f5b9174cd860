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
#define MOST_POINTS 8 /* goals whose way left is looked at one by one; of more, that to their hull */

/* seen: twice the generation in which it was written, and one once it is settled. Four of them, those of a node, lie in half a cache line. */
typedef struct { guint32 seen; guint16 best; guint8 from; } State;
typedef struct { int *states; guint n, room; } Bucket;

/* Where a state was reached from: at the node behind, in one of the four directions; or: */
enum { FROM_NOWHERE = 4, FROM_BEHIND, FROM_HERE };

typedef struct { int x, y, side; } Goal; /* side as in MlSide, 4 where any will do */
typedef struct { int cell, side, cost; } Source;
typedef struct { int x0, y0, x1, y1; } Hull;

typedef guint16 Turns[5][3][3][4]; /* by the goal's side, 1 + the signs of where one is from there, and one's direction */

struct _MlRouteSearch
{
  MlRouter *router;
  const Turns *turns;
  State *states;      /* 4 cell + side, and the same beyond 4 n_cells for arrivals */
  guint8 *goal;       /* side + 1, or ANY_SIDE */
  guint32 *goal_seen;
  guint32 generation;
  int limit;
  GArray *goals;      /* of Goal: once the search runs, those that are near enough. The way left to them is a lower bound (A*) */
  GArray *sources;    /* of Source */
  Hull goal_hull, source_hull;
  int step_across;
  const gint8 *bars;
  int *by_bar;        /* [(MOST_POINTS + 1) height]: rows to go up and down from a row to a goal by way of a bar; the last for one more goal */
  Bucket *buckets;    /* by the cost of a path and what is left at least */
  int n_buckets, lowest, highest; /* all between them may hold states */
  GArray *scratch;
};

/* ---- the bends that a way in an empty plane has ---- */

#define PLANE 3 /* g round the goal: beyond, nothing changes any more */
#define PLANE_NODES (2 * PLANE + 1)

typedef int Plane[PLANE_NODES][PLANE_NODES][4]; /* by row, column and direction, the goal in the middle */

static const int to_right[] = { 1, 0, -1, 0 }, downwards[] = { 0, 1, 0, -1 };

/* A step on from a node, bends and all, or G_MAXINT. */
static int
cheapest_on (Plane plane, int x, int y, int d)
{
  int least = G_MAXINT, turn;

  for (turn = 0; turn < 4; turn++)
    {
      int to = (d + turn) & 3, next_x = x + to_right[to], next_y = y + downwards[to];
      if (turn == 2 || next_x < 0 || next_y < 0 || next_x >= PLANE_NODES || next_y >= PLANE_NODES || plane[next_y][next_x][to] == G_MAXINT)
        continue;
      least = MIN (least, plane[next_y][next_x][to] + (turn == 0 ? 0 : BEND));
    }
  return least;
}

/* What bends and arriving sideways cost from every node of an empty plane at least, once one has got there in direction d. */
static void
relax_plane (Plane plane, int side)
{
  gboolean better = TRUE;
  int x, y, d;

  for (y = 0; y < PLANE_NODES; y++)
    for (x = 0; x < PLANE_NODES; x++)
      for (d = 0; d < 4; d++)
        plane[y][x][d] = G_MAXINT;
  for (d = 0; d < 4; d++)
    if (side != d)
      plane[PLANE][PLANE][d] = side == 4 || side == (d ^ 2) ? 0 : SIDEWAYS;
  while (better)
    for (better = FALSE, y = 0; y < PLANE_NODES; y++)
      for (x = 0; x < PLANE_NODES; x++)
        for (d = 0; d < 4; d++)
          if ((x != PLANE || y != PLANE) && cheapest_on (plane, x, y, d) < plane[y][x][d])
            {
              plane[y][x][d] = cheapest_on (plane, x, y, d);
              better = TRUE;
            }
}

static gpointer
make_turns (gpointer data)
{
  static Turns turns;
  Plane plane;
  int side, x, y, d;

  for (side = 0; side < 5; side++)
    {
      relax_plane (plane, side);
      for (y = 0; y < 3; y++)
        for (x = 0; x < 3; x++)
          for (d = 0; d < 4; d++)
            turns[side][y][x][d] = (guint16) MIN (plane[PLANE - 1 + y][PLANE - 1 + x][d], G_MAXUINT16);
    }
  return turns;
}

static const Turns *
turns_get (void)
{
  static GOnce once = G_ONCE_INIT;

  return g_once (&once, make_turns, NULL);
}

MlRouteSearch *
ml_route_search_new (MlRouter *router)
{
  MlRouteSearch *search = g_new0 (MlRouteSearch, 1);
  gsize n = (gsize) router->n_cells;

  search->router = router;
  search->turns = turns_get ();
  search->states = g_new0 (State, 8 * n);
  search->goal = g_new (guint8, n);
  search->goal_seen = g_new0 (guint32, n);
  search->highest = -1;
  search->by_bar = g_new (int, (MOST_POINTS + 1) * router->height);
  search->goals = g_array_new (FALSE, FALSE, sizeof (Goal));
  search->sources = g_array_new (FALSE, FALSE, sizeof (Source));
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
  g_free (search->by_bar);
  g_array_unref (search->goals);
  g_array_unref (search->sources);
  g_array_unref (search->scratch);
  g_free (search);
}

GArray *
ml_route_search_scratch (MlRouteSearch *search)
{
  return search->scratch;
}

/* ---- what is open: a bucket per cost, so that it never takes long to find the cheapest; of those as cheap the last one, which is on its way to the
 * goal ---- */

static void
bucket_push (Bucket *bucket, int state)
{
  if (bucket->n == bucket->room)
    {
      bucket->room = MAX (16, 2 * bucket->room);
      bucket->states = g_renew (int, bucket->states, bucket->room);
    }
  bucket->states[bucket->n++] = state;
}

/* The cheapest state that is open, -1 when none is. */
static int
pop (MlRouteSearch *search)
{
  Bucket *bucket;

  while (search->lowest <= search->highest && search->buckets[search->lowest].n == 0)
    search->lowest++;
  if (search->lowest > search->highest)
    return -1;
  bucket = &search->buckets[search->lowest];
  return bucket->states[--bucket->n];
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

/* ---- what is left at least ---- */

static inline int
sign (int x)
{
  return (x > 0) - (x < 0);
}

/* Steps across and down: straight, or where almost nothing is asked for the way across. */
static inline int
least_steps (const MlRouteSearch *search, int dx, int dy, int rows_by_bar)
{
  int straight = search->step_across * dx + STEP * dy;

  return search->bars == NULL ? straight : MIN (straight, BAR_STEP * dx + STEP * rows_by_bar);
}

/* From a node that is left in direction d to one of the goals. */
static inline int
left_to_goal (const MlRouteSearch *search, guint i, int x, int y, int d)
{
  const Goal *goal = &g_array_index (search->goals, Goal, i);
  int dx = x - goal->x, dy = y - goal->y;

  return least_steps (search, ABS (dx), ABS (dy), search->by_bar[(int) i * search->router->height + y])
         + (*search->turns)[goal->side][1 + sign (dy + downwards[d])][1 + sign (dx + to_right[d])][d];
}

static const Hull no_hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };

static void
hull_add (Hull *hull, int x, int y)
{
  *hull = (Hull){ MIN (hull->x0, x), MIN (hull->y0, y), MAX (hull->x1, x), MAX (hull->y1, y) };
}

static inline int
left_to_hull (const MlRouteSearch *search, const Hull *hull, int x, int y)
{
  int dx = x < hull->x0 ? hull->x0 - x : x > hull->x1 ? x - hull->x1 : 0;
  int dy = y < hull->y0 ? hull->y0 - y : y > hull->y1 ? y - hull->y1 : 0;

  return (search->bars == NULL ? search->step_across : MIN (BAR_STEP, search->step_across)) * dx + STEP * dy;
}

static inline int
least_left (const MlRouteSearch *search, int x, int y, int d)
{
  guint n = search->goals->len, i;
  int least = G_MAXUINT16;

  if (n == 0)
    return 0;
  if (n > MOST_POINTS)
    return left_to_hull (search, &search->goal_hull, x, y);
  for (i = 0; i < n; i++)
    {
      int left = left_to_goal (search, i, x, y, d);
      least = MIN (least, left);
    }
  return least;
}

/* left: what is left at least from there. */
static inline void
reach (MlRouteSearch *search, int state, int cost, int left, guint8 from)
{
  State *at = &search->states[state];
  int least = cost + left;

  if ((at->seen >= search->generation && at->best <= cost) || least > search->limit)
    return;
  *at = (State){ search->generation, (guint16) cost, from };
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
  g_array_set_size (search->goals, 0);
  g_array_set_size (search->sources, 0);
  search->source_hull = no_hull;
  search->step_across = query->step_across;
  search->bars = query->bars;
}

void
ml_route_search_source (MlRouteSearch *search, int cell, int side, int cost)
{
  Source source = { cell, side, cost };

  g_array_append_val (search->sources, source);
  hull_add (&search->source_hull, cell % search->router->width, cell / search->router->width);
}

void
ml_route_search_goal (MlRouteSearch *search, int cell, int side)
{
  Goal goal = { cell % search->router->width, cell / search->router->width, side < 0 ? 4 : side };

  g_array_append_val (search->goals, goal);
  search->goal[cell] = (guint8) (side < 0 ? ANY_SIDE : side + 1);
  search->goal_seen[cell] = search->generation;
}

/* For every row how many rows up and down it is to a goal's row by way of a bar. */
static void
find_rows_by_bar (const MlRouteSearch *search, int goal_y, int *ret_rows)
{
  const int n = search->router->height;
  int y, rows = n * 2;

  for (y = 0; y < n; y++)
    ret_rows[y] = rows = search->bars[y] ? MIN (rows + 1, ABS (y - goal_y)) : rows + 1;
  for (rows = n * 2, y = n - 1; y >= 0; y--)
    ret_rows[y] = rows = MIN (rows + 1, ret_rows[y]);
}

/* From the hull of all sources to a goal. */
static int
left_from_sources (const MlRouteSearch *search, const Goal *goal, const int *rows)
{
  const Hull *from = &search->source_hull;
  int dx = MAX (MAX (from->x0 - goal->x, goal->x - from->x1), 0), least = G_MAXINT, y;

  if (search->bars == NULL)
    return left_to_hull (search, from, goal->x, goal->y);
  for (y = from->y0; y <= from->y1; y++)
    {
      int left = least_steps (search, dx, ABS (y - goal->y), rows[y]);
      least = MIN (least, left);
    }
  return least;
}

/* Of the goals only those that may be reached within the limit. FALSE when there are none. */
static gboolean
keep_near_goals (MlRouteSearch *search)
{
  guint i, n = 0;

  search->goal_hull = no_hull;
  for (i = 0; i < search->goals->len; i++)
    {
      Goal goal = g_array_index (search->goals, Goal, i);
      int *rows = search->by_bar + (int) MIN (n, MOST_POINTS) * search->router->height;
      if (search->bars != NULL)
        find_rows_by_bar (search, goal.y, rows);
      if (left_from_sources (search, &goal, rows) > search->limit)
        continue;
      g_array_index (search->goals, Goal, n++) = goal;
      hull_add (&search->goal_hull, goal.x, goal.y);
    }
  g_array_set_size (search->goals, n);
  return n > 0;
}

static void
open_source (MlRouteSearch *search, const Source *source)
{
  int d, x = source->cell % search->router->width, y = source->cell / search->router->width, side = source->side;

  for (d = 0; d < 4; d++)
    if (side < 0 || d == side)
      reach (search, 4 * source->cell + d, source->cost, least_left (search, x, y, d), FROM_NOWHERE);
    else if (((d + side) & 1) != 0)
      reach (search, 4 * source->cell + d, source->cost + SIDEWAYS, least_left (search, x, y, d), FROM_NOWHERE);
}

/* ---- steps ---- */

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
arrive (MlRouteSearch *search, int cell, int d, int cost)
{
  int side = search->goal[cell] == ANY_SIDE ? -1 : search->goal[cell] - 1;

  if (side == d) /* through the part's back */
    return;
  if (side >= 0 && side != (d ^ 2))
    cost += SIDEWAYS;
  reach (search, 4 * search->router->n_cells + 4 * cell + d, cost, 0, FROM_BEHIND);
}

static inline void
expand (MlRouteSearch *search, const MlRouteQuery *query, int state, int so_far)
{
  MlRouter *router = search->router;
  int cell = state >> 2, d = state & 3, next = cell + to_right[d] + downwards[d] * router->width, row, column, cost, turn;
  gboolean crosses = FALSE;

  if (query->flag_cost != NULL)
    {
      int flag = query->flag_cost (router, query->net, cell, (MlSide) d);
      if (flag >= 0)
        reach (search, 4 * router->n_cells + state, so_far + flag, 0, FROM_HERE);
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
        arrive (search, next, d, cost);
      return;
    }
  column = next - row * router->width;
  for (turn = 3; turn > 0 && !crosses; turn -= 2) /* straight on last, to be looked at first */
    reach (search, 4 * next + ((d + turn) & 3), cost + BEND, least_left (search, column, row, (d + turn) & 3), (guint8) d);
  reach (search, 4 * next + d, cost, least_left (search, column, row, d), (guint8) d);
}

/* The state before that of a path, -1 at its begin. */
static int
state_before (const MlRouteSearch *search, int state)
{
  const MlRouter *router = search->router;
  guint8 from = search->states[state].from;
  int beyond = 4 * router->n_cells, at = state >= beyond ? state - beyond : state, d = from < 4 ? from : at & 3;

  if (from == FROM_NOWHERE)
    return -1;
  return from == FROM_HERE ? at : 4 * ((at >> 2) - to_right[d] - downwards[d] * router->width) + d;
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
      state = state_before (search, state);
    }
}

int
ml_route_search_run (MlRouteSearch *search, const MlRouteQuery *query, GArray *ret_path, int *ret_state)
{
  int beyond = 4 * search->router->n_cells, state;
  guint i;

  if (query->flag_cost == NULL && !keep_near_goals (search))
    return -1;
  for (i = 0; i < search->sources->len; i++)
    open_source (search, &g_array_index (search->sources, Source, i));
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
