/* SPDX-License-Identifier: GPL-3.0-or-later */
/* In which order the nets are routed, and which are torn up again. */
#include "drawing/route.h"

#include <stdlib.h>

#define RIP_UPS_A_ROUND 16
#define TWO_FLAGS 44 /* what the names of two groups cost at least, in steps */

static int
span_of (const MlRouteNet *net, int width)
{
  int x0 = G_MAXINT, x1 = 0, y0 = G_MAXINT, y1 = 0;
  guint i;

  for (i = 0; i < net->n_pins; i++)
    {
      x0 = MIN (x0, net->pins[i].cell % width);
      x1 = MAX (x1, net->pins[i].cell % width);
      y0 = MIN (y0, net->pins[i].cell / width);
      y1 = MAX (y1, net->pins[i].cell / width);
    }
  return net->n_pins == 0 ? 0 : x1 - x0 + y1 - y0;
}

int
ml_router_least_cost (const MlRouter *router, int net)
{
  const MlRouteNet *of = &router->nets[net];

  return of->rail != ML_RAIL_NONE || of->always_flagged ? 0 : ML_COST (1) * MIN (span_of (of, router->width), TWO_FLAGS);
}

typedef struct { int key_a, key_b, net; } Order;

static int
by_order (gconstpointer a, gconstpointer b)
{
  const Order *p = a, *q = b;

  if (p->key_a != q->key_a)
    return p->key_a < q->key_a ? -1 : 1;
  if (p->key_b != q->key_b)
    return p->key_b < q->key_b ? -1 : 1;
  return p->net - q->net;
}

/* Short signals first, then rails, then long signals. */
static Order *
order_nets (const MlRouter *router)
{
  Order *order = g_new (Order, MAX (router->n_nets, 1));
  guint i;

  for (i = 0; i < router->n_nets; i++)
    {
      const MlRouteNet *net = &router->nets[i];
      int span = span_of (net, router->width);
      order[i] = (Order){ net->rail != ML_RAIL_NONE ? 1 : span <= 8 ? 0 : 2, span, (int) i };
    }
  qsort (order, router->n_nets, sizeof *order, by_order);
  return order;
}

static gboolean
is_cancelled (const MlRouter *router)
{
  return router->cancellable != NULL && g_cancellable_is_cancelled (router->cancellable);
}

static void
route_again (MlRouter *router, int net, gboolean keep_better)
{
  GArray *saved = ml_router_save (router, &net, 1);
  int before = router->nets[net].cost;

  ml_router_erase (router, net);
  if (ml_router_route_within (router, net, keep_better ? before : G_MAXINT) > before && keep_better)
    ml_router_restore (router, saved);
  g_array_unref (saved);
}

void
ml_router_route_all (MlRouter *router, int passes)
{
  Order *order = order_nets (router);
  guint i;
  int pass;

  for (i = 0; i < router->n_nets && !is_cancelled (router); i++)
    ml_router_route (router, order[i].net);
  for (pass = 0; pass < passes && !is_cancelled (router); pass++)
    {
      Order *again = g_memdup2 (order, sizeof *order * MAX (router->n_nets, 1));
      for (i = 0; i < router->n_nets && pass % 2 == 0; i++)
        again[i] = (Order){ -router->nets[i].cost, 0, (int) i };
      if (pass % 2 == 0)
        qsort (again, router->n_nets, sizeof *again, by_order);
      for (i = 0; i < router->n_nets && !is_cancelled (router); i++)
        route_again (router, again[i].net, pass > 0);
      g_free (again);
    }
  g_free (order);
}

/* ---- rip-up: a net that was split or goes a long way round is routed before everything near it ---- */

typedef struct { int x0, y0, x1, y1; } Window;

static Window
window_of (const MlRouter *router, const MlRouteNet *net, int by)
{
  Window window = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint i;

  for (i = 0; i < net->n_pins; i++)
    {
      int x = net->pins[i].cell % router->width, y = net->pins[i].cell / router->width;
      window.x0 = MIN (window.x0, x - by);
      window.y0 = MIN (window.y0, y - by);
      window.x1 = MAX (window.x1, x + by);
      window.y1 = MAX (window.y1, y + by);
    }
  return window;
}

static gboolean
is_within (const MlRouter *router, const Window *window, int cell, int by)
{
  int x = cell % router->width, y = cell / router->width;

  return x >= window->x0 - by && x <= window->x1 + by && y >= window->y0 - by && y <= window->y1 + by;
}

static gboolean
is_near (const MlRouter *router, const MlRouteNet *net, const Window *window)
{
  guint i;

  for (i = 0; i < net->edges->len; i++)
    if (is_within (router, window, g_array_index (net->edges, int, i) >> 1, 0))
      return TRUE;
  for (i = 0; i < net->flags->len; i++)
    if (is_within (router, window, g_array_index (net->flags, MlRouteFlag, i).cell, 2))
      return TRUE;
  return FALSE;
}

static gboolean
route_first (MlRouter *router, int first)
{
  Window window = window_of (router, &router->nets[first], 4);
  Order *order = g_new (Order, router->n_nets);
  int *nets = g_new (int, router->n_nets);
  guint n = 0, i;
  int before = 0, after = 0, left = 0;
  gboolean better;
  GArray *saved;

  order[n++] = (Order){ -1, 0, first };
  for (i = 0; i < router->n_nets; i++)
    if ((int) i != first && is_near (router, &router->nets[i], &window))
      order[n++] = (Order){ router->nets[i].rail == ML_RAIL_NONE, router->nets[i].cost, (int) i };
  qsort (order, n, sizeof *order, by_order);
  for (i = 0; i < n; i++)
    {
      nets[i] = order[i].net;
      before += router->nets[nets[i]].cost;
    }
  saved = ml_router_save (router, nets, n);
  for (i = 0; i < n; i++)
    ml_router_erase (router, nets[i]);
  for (i = 0; i < n; i++)
    left += ml_router_least_cost (router, nets[i]);
  for (i = 0; i < n && after + left < before; i++)
    {
      int most = before - 1 - after - (left -= ml_router_least_cost (router, nets[i]));
      int cost = ml_router_route_within (router, nets[i], most);
      after = cost <= most ? after + cost : before;
    }
  better = i == n && after < before;
  if (!better)
    ml_router_restore (router, saved);
  g_array_unref (saved);
  g_free (order);
  g_free (nets);
  return better;
}

void
ml_router_rip_up (MlRouter *router, int rounds)
{
  Order *worst = g_new (Order, MAX (router->n_nets, 1));
  int round;
  guint i;

  for (round = 0; round < rounds; round++)
    {
      gboolean better = FALSE;
      int tries = 0;
      for (i = 0; i < router->n_nets; i++)
        worst[i] = (Order){ -router->nets[i].cost, 0, (int) i };
      qsort (worst, router->n_nets, sizeof *worst, by_order);
      for (i = 0; i < router->n_nets && tries < RIP_UPS_A_ROUND && !is_cancelled (router); i++)
        {
          const MlRouteNet *net = &router->nets[worst[i].net];
          if (net->n_missing == 0
              && (net->rail != ML_RAIL_NONE || net->n_pins < 2 || net->cost < ML_COST (1) * (span_of (net, router->width) + 9)))
            continue;
          tries++;
          better |= route_first (router, worst[i].net);
        }
      if (!better)
        break;
    }
  g_free (worst);
}

static gboolean
is_named (const MlRouteNet *net)
{
  return net->rail == ML_RAIL_NONE && net->flags->len > 0 && !net->always_flagged;
}

guint
ml_router_join_named (MlRouter *router)
{
  guint i, n = 0;

  router->patient = TRUE;
  for (i = 0; i < router->n_nets && !is_cancelled (router); i++)
    {
      int net = (int) i;
      guint before = router->nets[i].flags->len;
      GArray *saved;
      if (!is_named (&router->nets[i]))
        continue;
      saved = ml_router_save (router, &net, 1);
      ml_router_erase (router, net);
      ml_router_route (router, net);
      if (router->nets[i].n_missing > 0 || router->nets[i].flags->len >= before)
        ml_router_restore (router, saved);
      else
        n++;
      g_array_unref (saved);
    }
  router->patient = FALSE;
  return n;
}

void
ml_router_flag_missing (MlRouter *router)
{
  guint i;

  router->patient = TRUE;
  for (i = 0; i < router->n_nets && !is_cancelled (router); i++)
    if (router->nets[i].n_missing > 0)
      {
        ml_router_erase (router, (int) i);
        ml_router_route (router, (int) i);
      }
  router->patient = FALSE;
}

/* ---- nothing may move, and a pin is walled in ---- */

#define WALL_REACH 5 /* g round a pin that is walled in */
#define MOST_TURNS 4u

static guint
n_missing_of (const MlRouter *router, const GArray *nets)
{
  guint i, n = 0;

  for (i = 0; i < nets->len; i++)
    n += router->nets[g_array_index (nets, int, i)].n_missing;
  return n;
}

/* The nets laid anew: the first one first, the others in an order that the way tells. A long wire may wall in the next pin where a name would not. */
static guint
lay_anew (MlRouter *router, const GArray *nets, guint way)
{
  const guint others = nets->len - 1;
  guint i;

  for (i = 0; i < nets->len; i++)
    ml_router_erase (router, g_array_index (nets, int, i));
  router->patient = (way & 1) == 0;
  ml_router_route (router, g_array_index (nets, int, 0));
  for (i = 0; i < others; i++)
    {
      const guint turned = (i + way / 4) % others;
      ml_router_route (router, g_array_index (nets, int, 1 + ((way & 2) != 0 ? others - 1 - turned : turned)));
    }
  router->patient = TRUE;
  return n_missing_of (router, nets);
}

/* A pin whose net is neither seen nor named there, because other wires run all round it: those round it are laid after it. It may be another pin that
 * is walled in then, never one more. */
static void
make_way (MlRouter *router, int net, guint first_way)
{
  const int cell = router->nets[net].missing.cell, x = cell % router->width, y = cell / router->width;
  const Window window = { x - WALL_REACH, y - WALL_REACH, x + WALL_REACH, y + WALL_REACH };
  g_autoptr (GArray) nets = g_array_new (FALSE, FALSE, sizeof (int)), saved = NULL;
  guint before, way, n_ways;

  g_array_append_val (nets, net);
  for (int other = 0; other < (int) router->n_nets; other++)
    if (other != net && is_near (router, &router->nets[other], &window))
      g_array_append_val (nets, other);
  before = n_missing_of (router, nets);
  n_ways = 4 * MIN (MAX (nets->len - 1, 1), MOST_TURNS);
  saved = ml_router_save (router, (const int *) (gpointer) nets->data, nets->len);
  for (guint limit = before - 1; limit <= before; limit++) /* fewer if one of the ways leaves fewer, else as many */
    for (way = 0; way < n_ways; way++)
      if (lay_anew (router, nets, (way + first_way) % n_ways) <= limit)
        return;
  ml_router_restore (router, saved);
}

#define MOST_WAYS 12u

/* The n-th net of those that miss a name somewhere, counted round; -1: none does. */
static int
missing_net (const MlRouter *router, guint n)
{
  guint i, many = 0;

  for (i = 0; i < router->n_nets; i++)
    many += router->nets[i].n_missing > 0;
  n = many == 0 ? 0 : n % many;
  for (i = 0; i < router->n_nets; i++)
    if (router->nets[i].n_missing > 0 && n-- == 0)
      return (int) i;
  return -1;
}

void
ml_router_unwall (MlRouter *router)
{
  guint i;

  for (i = 0; i < MOST_WAYS && missing_net (router, i) >= 0 && !is_cancelled (router); i++)
    make_way (router, missing_net (router, i), i);
  router->patient = FALSE;
}
