/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-way.h"

#include <math.h>

#define LANE 2       /* g: room for one wire, apart from its neighbours */
#define BEYOND 3     /* g outside the hull of a net's pins */
#define WAYS_EACH 2  /* of one net */
#define MOST_NETS 6

typedef struct
{
  const MlScene *scene;
  const MlCircuit *circuit;
  MlSheet *sheet; /* as the scene stands */
  GCancellable *cancellable;
} Ways;

typedef struct { MlParting parting; int cost, net; } Way;

/* A name at one place tells where a supply comes in; at two it interrupts. */
static gboolean
is_interrupted (const Ways *ways, int net)
{
  guint i, n = 0;

  for (i = 0; i < ways->scene->n_flags; i++)
    n += ways->scene->flags[i].net == ways->circuit->nets[net].index && ways->scene->flags[i].kind == ML_FLAG_NET;
  return n > 1;
}

static int
moved (const MlParting *parting, int axis, int at)
{
  return at + (axis == parting->axis && at >= parting->line ? parting->by : 0);
}

/* On the raster of a sheet that was parted. */
static int
cell_of (const Ways *ways, const MlRouter *router, const MlParting *parting, MlPoint at)
{
  return ml_router_cell (router, moved (parting, 0, (int) lround (at.x) + ways->sheet->origin_x), moved (parting, 1, (int) lround (at.y) + ways->sheet->origin_y));
}

static void
append_edges (const MlRouter *router, int from, int to, GArray *edges)
{
  int axis = ABS (to - from) < router->width ? 0 : 1, stride = axis ? router->width : 1, at;

  for (at = MIN (from, to); at < MAX (from, to); at += stride)
    {
      int edge = 2 * at + axis;
      g_array_append_val (edges, edge);
    }
}

/* The net's wires as the scene has them, drawn out where the sheet was parted. */
static void
take_net (const Ways *ways, MlRouter *router, const MlParting *parting, int net)
{
  g_autoptr (GArray) edges = g_array_new (FALSE, FALSE, sizeof (int)), flags = g_array_new (FALSE, FALSE, sizeof (MlRouteFlag));
  int index = ways->circuit->nets[net].index;
  guint i;

  for (i = 0; i < ways->scene->n_wires; i++)
    {
      const MlSceneWire *wire = &ways->scene->wires[i];
      if (wire->net == index)
        append_edges (router, cell_of (ways, router, parting, wire->a), cell_of (ways, router, parting, wire->b), edges);
    }
  for (i = 0; i < ways->scene->n_flags; i++)
    {
      const MlSceneFlag *from = &ways->scene->flags[i];
      MlRouteFlag flag = { 0, from->side, from->kind };
      if (from->net != index)
        continue;
      flag.cell = cell_of (ways, router, parting, from->at);
      g_array_append_val (flags, flag);
    }
  ml_router_take (router, net, edges, flags, 0);
}

/* A piece that the line cuts stays, and what leaves it beyond the line is torn off. */
static void
mark_torn (const MlSheet *sheet, const MlParting *parting, gboolean *torn)
{
  guint i, k;

  for (i = 0; i < sheet->n; i++)
    {
      const MlSpot *spot = &sheet->spots[i];
      if (ml_parting_moves (parting, spot))
        continue;
      for (k = 0; k < spot->piece->n_pins; k++)
        {
          MlFormPin at = ml_sheet_pin (sheet, (int) i, (int) k);
          if (spot->piece->pins[k].net >= 0 && (parting->axis == 0 ? at.x : at.y) >= parting->line)
            torn[spot->piece->pins[k].net] = TRUE;
        }
    }
}

static guint
n_names (const Ways *ways, int net)
{
  guint i, n = 0;

  for (i = 0; i < ways->scene->n_flags; i++)
    n += ways->scene->flags[i].net == ways->circuit->nets[net].index;
  return n;
}

/* Lays the nets of one kind that were torn; -1 when one of them would have more names than before. */
static int
lay_torn (const Ways *ways, MlRouter *router, const gboolean *torn, gboolean rails)
{
  int net, cost = 0;

  for (net = 0; net < (int) router->n_nets; net++)
    {
      const MlRouteNet *of = &router->nets[net];
      if (!torn[net] || (of->rail != ML_RAIL_NONE) != rails)
        continue;
      cost += ml_router_route (router, net);
      if (of->n_missing > 0 || (!rails && of->flags->len > n_names (ways, net)))
        return -1;
    }
  return cost;
}

/* Four diodes that touch at their corners stay together. */
static gboolean
tears_diamond (const MlSheet *sheet, const MlParting *parting)
{
  guint i, n = 0, n_moved = 0;

  for (i = 0; i < sheet->n; i++)
    if (g_strcmp0 (sheet->spots[i].form->symbol, "diode-diagonal") == 0)
      {
        n++;
        n_moved += ml_parting_moves (parting, &sheet->spots[i]);
      }
  return n_moved > 0 && n_moved < n;
}

/* The same of a line of the scene's. */
static gboolean
tears_diamond_at (const Ways *ways, const MlParting *of_scene)
{
  MlParting parting = { of_scene->axis, of_scene->line + (of_scene->axis == 0 ? ways->sheet->origin_x : ways->sheet->origin_y), of_scene->by };

  return tears_diamond (ways->sheet, &parting);
}

/* What the wires laid anew cost if the sheet is parted there; -1: that gives the net no way. */
static int
cost_of_parting (const Ways *ways, const MlParting *parting, int net)
{
  gboolean *torn = g_new0 (gboolean, ways->circuit->n_nets);
  MlRouter *router;
  int other, signals, rails = -1, cost = -1;

  mark_torn (ways->sheet, parting, torn);
  torn[net] = FALSE;
  ml_parting_apply (parting, ways->sheet);
  router = ml_router_new (ways->sheet, NULL);
  for (other = 0; other < (int) router->n_nets; other++)
    if (other != net && !torn[other])
      take_net (ways, router, parting, other);
  signals = lay_torn (ways, router, torn, FALSE);
  router->patient = TRUE;
  if (signals >= 0)
    cost = ml_router_route (router, net);
  if (cost >= 0 && router->nets[net].n_missing == 0 && router->nets[net].flags->len == 0)
    rails = lay_torn (ways, router, torn, TRUE);
  ml_router_free (router);
  ml_parting_undo (parting, ways->sheet);
  g_free (torn);
  return rails < 0 ? -1 : cost + signals + rails;
}

static void
add_way (GArray *ways, guint first, const Way *way)
{
  guint at = ways->len;

  while (at > first && g_array_index (ways, Way, at - 1).cost > way->cost)
    at--;
  g_array_insert_val (ways, at, *way);
  if (ways->len > first + WAYS_EACH)
    g_array_set_size (ways, first + WAYS_EACH);
}

static void
find_ways_of (const Ways *ways, int net, GArray *found)
{
  const MlSheetNet *of = &ways->sheet->nets[net];
  MlCells hull = { G_MAXINT, G_MAXINT, G_MININT, G_MININT };
  guint first = found->len, i;
  int axis, line;

  for (i = 0; i < of->n_pins; i++)
    {
      MlFormPin at = ml_sheet_pin (ways->sheet, of->pins[i].piece, of->pins[i].pin);
      hull = (MlCells){ MIN (hull.x0, at.x), MIN (hull.y0, at.y), MAX (hull.x1, at.x), MAX (hull.y1, at.y) };
    }
  for (axis = 0; axis < 2; axis++)
    for (line = (axis ? hull.y0 : hull.x0) - BEYOND; line <= (axis ? hull.y1 : hull.x1) + BEYOND; line++)
      {
        Way way = { { axis, line, LANE }, 0, net };
        if (ways->cancellable != NULL && g_cancellable_is_cancelled (ways->cancellable))
          return;
        way.cost = tears_diamond (ways->sheet, &way.parting) ? -1 : cost_of_parting (ways, &way.parting, net);
        if (way.cost >= 0)
          add_way (found, first, &way);
      }
}

static int
by_cost (gconstpointer a, gconstpointer b)
{
  const Way *p = a, *q = b;

  if (p->cost != q->cost)
    return p->cost < q->cost ? -1 : 1;
  return p->net != q->net ? p->net - q->net : p->parting.axis != q->parting.axis ? p->parting.axis - q->parting.axis : p->parting.line - q->parting.line;
}

/* ---- signs that found no room straight before their pin ---- */

static gboolean
same_point (MlPoint a, MlPoint b)
{
  return fabs (a.x - b.x) < 1e-6 && fabs (a.y - b.y) < 1e-6;
}

/* The pieces of copper at a pin; G_MAXUINT: none is drawn. */
static guint
group_at (const MlScene *scene, const MlScenePin *pin)
{
  guint i;

  for (i = 0; i < scene->n_wires; i++)
    if (scene->wires[i].net == pin->net && (same_point (scene->wires[i].a, pin->at) || same_point (scene->wires[i].b, pin->at)))
      return scene->wires[i].group;
  return G_MAXUINT;
}

/* Nothing but that pin and one sign hang together, and the wire between them has a bend. */
static gboolean
is_bent (const MlScene *scene, const MlScenePin *pin)
{
  guint group = group_at (scene, pin), i, n_pins = 0, n_flags = 0;
  gboolean straight = FALSE;

  for (i = 0; i < scene->n_pins && group != G_MAXUINT; i++)
    n_pins += scene->pins[i].net == pin->net && group_at (scene, &scene->pins[i]) == group;
  for (i = 0; i < scene->n_flags && n_pins == 1; i++)
    if (scene->flags[i].net == pin->net && scene->flags[i].group == group && scene->flags[i].kind != ML_FLAG_NET)
      {
        n_flags++;
        straight |= fabs (scene->flags[i].at.x - pin->at.x) < 1e-6;
      }
  return n_flags == 1 && !straight;
}

#define MOST_BENT 3
#define SIGN 2 /* g: as high as the reference's sign */

/* The sheet is parted before a pin that looks down or up to its sign. */
static void
list_bent (const Ways *ways, GArray *partings)
{
  const MlScene *scene = ways->scene;
  guint i, n = 0;

  for (i = 0; i < scene->n_pins && n < MOST_BENT; i++)
    {
      const MlScenePin *pin = &scene->pins[i];
      MlParting parting = { 1, (int) lround (pin->at.y) + (pin->side == ML_SIDE_DOWN), SIGN };
      if (pin->net < 0 || (pin->side != ML_SIDE_DOWN && pin->side != ML_SIDE_UP) || !is_bent (scene, pin) || tears_diamond_at (ways, &parting))
        continue;
      g_array_append_val (partings, parting);
      n++;
    }
}

GArray *
ml_ways_find (MlKit *kit, const MlKept *kept, const MlScene *scene, int span, GCancellable *cancellable)
{
  Ways ways = { scene, kit->circuit, ml_sheet_new (kit, kit->plain, 1, span), cancellable };
  GArray *found = g_array_new (FALSE, FALSE, sizeof (Way)), *partings = g_array_new (FALSE, FALSE, sizeof (MlParting));
  guint i, n = 0;

  ml_kept_apply (kept, ways.sheet);
  list_bent (&ways, partings);
  for (i = 0; i < kit->circuit->n_nets && n < MOST_NETS; i++)
    if (kit->circuit->nets[i].rail == ML_RAIL_NONE && is_interrupted (&ways, (int) i))
      {
        find_ways_of (&ways, (int) i, found);
        n++;
      }
  g_array_sort (found, by_cost);
  for (i = 0; i < found->len; i++)
    {
      MlParting parting = g_array_index (found, Way, i).parting;
      parting.line -= parting.axis == 0 ? ways.sheet->origin_x : ways.sheet->origin_y;
      g_array_append_val (partings, parting);
    }
  g_array_unref (found);
  ml_sheet_free (ways.sheet);
  return partings;
}
