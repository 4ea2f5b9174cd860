/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One net: it grows like Prim's tree, from pin to pin; what would be too dear to join is named by flags. */
#include "drawing/route-private.h"
#include "drawing/route-search.h"

#include <string.h>

#define SIGNAL_LIMIT ML_COST (80)
#define PATIENT_LIMIT ML_COST (60)
#define PATIENT_PAIR_LIMIT ML_COST (160)
#define UP_RAIL_LIMIT ML_COST (22)
#define REFERENCE_LIMIT ML_COST (7)
#define FLAG_LIMIT ML_COST (90)
#define PATIENT_FLAG_LIMIT ML_COST (600)
#define SIGNAL_FLAG ML_COST (22)
#define RAIL_FLAG ML_COST (2)
#define FLAG_TRIES 8
#define TEE ML_COST (1)
#define FOUR_WAY ML_COST (3.5)
#define NO_FLAG ML_COST (200)

static MlFlagKind
flag_kind (const MlRouteNet *net)
{
  if (net->rail == ML_RAIL_NONE)
    return ML_FLAG_NET;
  if (net->rail == ML_RAIL_UP)
    return ML_FLAG_UP_RAIL;
  return net->is_reference ? ML_FLAG_REFERENCE : ML_FLAG_DOWN_RAIL;
}

/* What a flag at the end of a wire costs there, or -1 when its box is not free. */
static int
flag_cost (MlRouter *router, int number, int cell, MlSide side)
{
  const MlRouteNet *net = &router->nets[number];
  MlRouteFlag flag = { cell, side, flag_kind (net) };
  GArray *cells = ml_route_search_scratch (router->search);
  int cost = 0, x = cell % router->width;
  guint i;

  if (flag.kind == ML_FLAG_NET ? (side & 1) != 0 : side != (flag.kind == ML_FLAG_UP_RAIL ? ML_SIDE_UP : ML_SIDE_DOWN))
    return -1;
  if ((router->cells[cell].line[0] != 0 && router->cells[cell].line[0] != number + 1) || (router->cells[cell].line[1] != 0 && router->cells[cell].line[1] != number + 1))
    return -1;
  for (i = 0; i < router->not_here->len; i++)
    if (g_array_index (router->not_here, int, i) == cell)
      return -1;
  ml_router_flag_cells (router, number, &flag, cells);
  for (i = 0; i < cells->len; i++)
    {
      int c = g_array_index (cells, int, i);
      if (c < router->width || c >= router->n_cells - router->width || ABS (c % router->width - x) > router->width / 2)
        return -1;
      if (router->cells[c].block || router->cells[c].flagged || router->cells[c].pin || router->cells[c].line[0] || router->cells[c].line[1])
        return -1;
      /* Names are a little higher than their rows. */
      if (flag.kind != ML_FLAG_REFERENCE && (router->cells[c - router->width].flagged || router->cells[c + router->width].flagged))
        return -1;
      cost += ML_COST (0.4) * router->cells[c].room;
    }
  return cost;
}

typedef struct
{
  MlRouter *router;
  int net;
  int limit, step_across;
  gint8 *bars;      /* per row */
  GArray *left;     /* of int: pins not joined yet */
  GArray *group;    /* of int: pins of the group that grows */
  guint first_edge, end_edge; /* the group's own */
  int most;         /* what the net may cost: beyond, nobody asks how much */
} Growth;

static void
choose_bars (Growth *growth)
{
  MlRouter *router = growth->router;
  const MlRouteNet *net = &router->nets[growth->net];
  int *count = g_new0 (int, router->height), *ups = g_new0 (int, router->height), *sideways = g_new0 (int, router->height);
  int low = -1, high = -1, row;
  guint i;

  for (i = 0; i < net->n_pins; i++)
    if (net->pins[i].side != ML_SIDE_DOWN)
      {
        row = net->pins[i].cell / router->width;
        count[row]++;
        if (net->pins[i].side == ML_SIDE_UP)
          ups[row]++;
        else
          sideways[row]++;
      }
  for (row = 0; row < router->height; row++)
    if (ups[row] > 0)
      {
        if (low < 0)
          low = row;
        high = row;
      }
  growth->step_across = ML_COST (0.25);
  if (low >= 0)
    {
      gboolean spread = high - low > 14;
      growth->bars = g_new0 (gint8, router->height);
      growth->bars[low] = 1;
      for (row = 0; row < router->height; row++)
        if ((count[row] >= 3 && sideways[row] > 0) || (count[row] >= 2 && spread))
          growth->bars[row] = 1;
      growth->step_across = spread ? ML_COST (0.6) : ML_COST (1.2);
    }
  g_free (count);
  g_free (ups);
  g_free (sideways);
}

static int
pin_distance (const MlRouter *router, const MlRoutePin *a, const MlRoutePin *b)
{
  return ABS (a->cell % router->width - b->cell % router->width) + ABS (a->cell / router->width - b->cell / router->width);
}

#define NEAR_AT_MOST 70 /* g: on a large sheet the eye does not follow a wire as far as the sheet would have it */

/* Within two fifths of half the sheet's edge. */
static gboolean
is_near (const MlRouter *router, int distance)
{
  return distance <= NEAR_AT_MOST && 5 * distance <= 2 * (router->width + router->height - 4 * ML_ROUTER_MARGIN);
}

/* Two pins near each other are joined by a wire, however it must wind; three and more are better named than woven through others. */
static int
signal_limit (const MlRouter *router, const MlRouteNet *net)
{
  if (!router->patient)
    return SIGNAL_LIMIT;
  return net->n_pins == 2 && is_near (router, pin_distance (router, &net->pins[0], &net->pins[1]))
             ? PATIENT_PAIR_LIMIT
             : PATIENT_LIMIT;
}

static void
choose_limits (Growth *growth)
{
  const MlRouteNet *net = &growth->router->nets[growth->net];

  growth->limit = net->rail == ML_RAIL_NONE ? signal_limit (growth->router, net) : net->is_reference ? REFERENCE_LIMIT : UP_RAIL_LIMIT;
  growth->step_across = net->rail == ML_RAIL_DOWN ? ML_COST (0.5) : ML_COST (1);
  if (net->rail == ML_RAIL_UP)
    choose_bars (growth);
}

/* From left to right; a signal starts with the pin that has the nearest other pin. */
static void
order_pins (Growth *growth)
{
  MlRouter *router = growth->router;
  const MlRouteNet *net = &router->nets[growth->net];
  int *left = (int *) (gpointer) growth->left->data;
  guint i, k, best = 0, n = growth->left->len;
  int best_distance = G_MAXINT;

  for (i = 1; i < n; i++)
    for (k = i; k > 0; k--)
      {
        const MlRoutePin *a = &net->pins[left[k - 1]], *b = &net->pins[left[k]];
        int ka = (a->cell % router->width) * router->height + a->cell / router->width;
        int kb = (b->cell % router->width) * router->height + b->cell / router->width;
        int t = left[k];
        if (ka < kb || (ka == kb && (a->piece < b->piece || (a->piece == b->piece && a->pin < b->pin))))
          break;
        left[k] = left[k - 1];
        left[k - 1] = t;
      }
  if (net->rail != ML_RAIL_NONE || n < 3)
    return;
  for (i = 0; i < n; i++)
    for (k = 0; k < n; k++)
      if (i != k && pin_distance (router, &net->pins[left[i]], &net->pins[left[k]]) < best_distance)
        {
          best_distance = pin_distance (router, &net->pins[left[i]], &net->pins[left[k]]);
          best = i;
        }
  i = (guint) left[best];
  memmove (left + 1, left, best * sizeof *left);
  left[0] = (int) i;
}

static guint
degree_in_group (const Growth *growth, int cell)
{
  const MlRouter *router = growth->router;
  int mark = growth->net + 1;

  return (guint) ((router->edge[2 * cell] == mark) + (cell > 0 && router->edge[2 * (cell - 1)] == mark)
                  + (router->edge[2 * cell + 1] == mark)
                  + (cell >= router->width && router->edge[2 * (cell - router->width) + 1] == mark));
}

static void
add_wire_source (Growth *growth, int cell)
{
  MlRouter *router = growth->router;
  int mark = growth->net + 1;

  /* A branch where a foreign wire crosses would look like a joint. */
  if ((router->cells[cell].line[0] != 0 && router->cells[cell].line[0] != mark) || (router->cells[cell].line[1] != 0 && router->cells[cell].line[1] != mark))
    return;
  ml_route_search_source (router->search, cell, -1, degree_in_group (growth, cell) < 3 ? TEE : FOUR_WAY);
}

/* Everything the group owns is where the next wire may start. */
static void
add_sources (Growth *growth)
{
  MlRouter *router = growth->router;
  const MlRouteNet *net = &router->nets[growth->net];
  guint i;

  for (i = growth->first_edge; i < MIN (growth->end_edge, net->edges->len); i++)
    {
      int edge = g_array_index (net->edges, int, i);
      add_wire_source (growth, edge >> 1);
      add_wire_source (growth, ml_router_far_end (router, edge));
    }
  for (i = 0; i < growth->group->len; i++)
    {
      const MlRoutePin *pin = &net->pins[g_array_index (growth->group, int, i)];
      if (degree_in_group (growth, pin->cell) == 0)
        ml_route_search_source (router->search, pin->cell, (int) pin->side, 0);
    }
}

static void
lay_path (Growth *growth, const GArray *path)
{
  MlRouter *router = growth->router;
  guint i;

  for (i = 1; i < path->len; i++)
    {
      int a = g_array_index (path, int, i - 1), b = g_array_index (path, int, i), low = MIN (a, b);
      ml_router_add_edge (router, growth->net, 2 * low + (ABS (a - b) == 1 ? 0 : 1));
    }
  ml_router_mark_nodes (router, growth->net);
}

/* Pins that lie on the group's copper or on one of its pins belong to it. */
static void
join_touching (Growth *growth)
{
  MlRouter *router = growth->router;
  const MlRouteNet *net = &router->nets[growth->net];
  guint i, k;

  for (i = 0; i < growth->left->len;)
    {
      int pin = g_array_index (growth->left, int, i), cell = net->pins[pin].cell;
      gboolean touches = FALSE;
      for (k = 0; k < growth->group->len && !touches; k++)
        touches = net->pins[g_array_index (growth->group, int, k)].cell == cell;
      for (k = growth->first_edge; k < net->edges->len && !touches; k++)
        {
          int edge = g_array_index (net->edges, int, k);
          touches = edge >> 1 == cell || ml_router_far_end (router, edge) == cell;
        }
      if (touches)
        {
          g_array_append_val (growth->group, pin);
          g_array_remove_index (growth->left, i);
        }
      else
        i++;
    }
}

/* What a net costs at least, one connection having cost so much and n_groups being named. */
static int
with_names (const MlRouteNet *net, int cost, guint n_groups)
{
  return cost + (int) n_groups * (net->rail != ML_RAIL_NONE ? RAIL_FLAG : SIGNAL_FLAG);
}

/* One more connection of the group; its cost, or -1 when none is cheap enough. */
static int
grow (Growth *growth, int limit)
{
  MlRouter *router = growth->router;
  const MlRouteNet *net = &router->nets[growth->net];
  MlRouteQuery query = { growth->net, limit, growth->step_across, growth->bars, NULL };
  GArray *path = g_array_new (FALSE, FALSE, sizeof (int));
  int cost;
  guint i;

  ml_route_search_begin (router->search, &query);
  for (i = 0; i < growth->left->len; i++)
    {
      const MlRoutePin *pin = &net->pins[g_array_index (growth->left, int, i)];
      ml_route_search_goal (router->search, pin->cell, (int) pin->side);
    }
  add_sources (growth);
  cost = ml_route_search_run (router->search, &query, path, NULL);
  if (cost >= 0)
    lay_path (growth, path);
  g_array_unref (path);
  if (cost >= 0)
    join_touching (growth);
  return cost;
}

static gboolean
lies_on_path (MlRouter *router, int net, const MlRouteFlag *flag, const GArray *path)
{
  GArray *cells = ml_route_search_scratch (router->search);
  guint i, k;

  ml_router_flag_cells (router, net, flag, cells);
  for (i = 0; i < cells->len; i++)
    for (k = 0; k < path->len; k++)
      if (g_array_index (cells, int, i) == g_array_index (path, int, k))
        return TRUE;
  return FALSE;
}

/* The way to the nearest free place for a flag; cost, or -1. A place that its own wire would run through is no place. */
static int
find_flag (Growth *growth, GArray *path, MlRouteFlag *ret_flag)
{
  MlRouter *router = growth->router;
  MlRouteQuery query = { growth->net, router->patient ? PATIENT_FLAG_LIMIT : FLAG_LIMIT, growth->step_across, growth->bars, flag_cost };
  int cost, state = 0, tries;

  g_array_set_size (router->not_here, 0);
  for (tries = 0; tries < FLAG_TRIES; tries++)
    {
      g_array_set_size (path, 0);
      ml_route_search_begin (router->search, &query);
      add_sources (growth);
      cost = ml_route_search_run (router->search, &query, path, &state);
      if (cost < 0)
        return -1;
      *ret_flag = (MlRouteFlag){ state >> 2, (MlSide) (state & 3), flag_kind (&router->nets[growth->net]) };
      if (!lies_on_path (router, growth->net, ret_flag, path))
        return cost;
      g_array_append_val (router->not_here, ret_flag->cell);
    }
  return -1;
}

static int
place_flag (Growth *growth)
{
  MlRouter *router = growth->router;
  MlRouteNet *net = &router->nets[growth->net];
  GArray *path = g_array_new (FALSE, FALSE, sizeof (int));
  MlRouteFlag flag;
  int cost = find_flag (growth, path, &flag);

  if (cost >= 0)
    {
      lay_path (growth, path);
      g_array_append_val (net->flags, flag);
      ml_router_cover_flag (router, growth->net, &flag, 1);
    }
  else
    {
      net->n_missing++;
      net->missing = net->pins[g_array_index (growth->group, int, 0)];
    }
  g_array_unref (path);
  return (cost < 0 ? NO_FLAG : cost) + (net->rail != ML_RAIL_NONE ? RAIL_FLAG : SIGNAL_FLAG);
}

typedef struct { GArray *pins; guint first_edge, end_edge; } Group;

/* How dear the next connection may be. A net that may not cost what two groups and their names do has no other way than on. */
static int
limit_now (const Growth *growth, guint n_groups, int cost)
{
  const MlRouteNet *net = &growth->router->nets[growth->net];

  if (with_names (net, cost, n_groups + 2) <= growth->most)
    return growth->limit;
  return MIN (growth->limit, growth->most - with_names (net, cost, n_groups > 0 ? n_groups + 1 : net->always_flagged ? 1 : 0));
}

/* FALSE when the net turns out dearer than it may be. */
static gboolean
grow_group (Growth *growth, guint n_groups, int *cost)
{
  while (growth->left->len > 0)
    {
      int limit = limit_now (growth, n_groups, *cost), more = limit < 0 ? -1 : grow (growth, limit);
      if (more < 0)
        return limit == growth->limit;
      *cost += more;
    }
  return TRUE;
}

static gboolean
grow_groups (Growth *growth, GArray *groups, int *cost)
{
  const MlRouteNet *net = &growth->router->nets[growth->net];
  gboolean affordable = TRUE;

  while (growth->left->len > 0 && affordable)
    {
      int first = g_array_index (growth->left, int, 0);
      Group group;
      growth->group = g_array_new (FALSE, FALSE, sizeof (int));
      g_array_append_val (growth->group, first);
      g_array_remove_index (growth->left, 0);
      growth->first_edge = net->edges->len;
      growth->end_edge = G_MAXUINT;
      join_touching (growth);
      affordable = grow_group (growth, groups->len, cost);
      group = (Group){ growth->group, growth->first_edge, net->edges->len };
      g_array_append_val (groups, group);
    }
  return affordable;
}

/* Joins the pins listed, in groups, each flagged where it must be. G_MAXINT, and the net half laid, when that is dearer than most. */
static int
route_pins (MlRouter *router, int number, GArray *left, int most)
{
  MlRouteNet *net = &router->nets[number];
  Growth growth = { .router = router, .net = number, .left = left, .most = most };
  GArray *groups = g_array_new (FALSE, FALSE, sizeof (Group));
  gboolean affordable;
  int cost = 0;
  guint i;

  choose_limits (&growth);
  order_pins (&growth);
  affordable = grow_groups (&growth, groups, &cost);
  for (i = 0; i < groups->len; i++)
    {
      Group *group = &g_array_index (groups, Group, i);
      growth.group = group->pins;
      growth.first_edge = group->first_edge;
      growth.end_edge = group->end_edge;
      /* Flags come when all groups are known: a net of one group needs none. */
      if (groups->len > 1 || net->always_flagged)
        {
          affordable = affordable && with_names (net, cost, groups->len - i) <= most;
          if (affordable)
            cost += place_flag (&growth);
        }
      g_array_unref (group->pins);
    }
  g_array_unref (groups);
  g_free (growth.bars);
  return affordable && cost <= most ? cost : G_MAXINT;
}

int
ml_router_route_within (MlRouter *router, int number, int most)
{
  MlRouteNet *net = &router->nets[number];
  GArray *left = g_array_new (FALSE, FALSE, sizeof (int));
  guint i;

  net->n_missing = 0;
  for (i = 0; i < net->n_pins; i++)
    g_array_append_val (left, i);
  net->cost = route_pins (router, number, left, most);
  g_array_unref (left);
  return net->cost;
}

int
ml_router_route (MlRouter *router, int number)
{
  return ml_router_route_within (router, number, G_MAXINT);
}

void
ml_router_extend (MlRouter *router, int number, GArray *pins)
{
  router->nets[number].cost += route_pins (router, number, pins, G_MAXINT);
}
