/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/route.h"
#include "drawing/route-search.h"

#include <math.h>
#include <string.h>

#define MARGIN 14
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

int
ml_router_cell (const MlRouter *router, int x, int y)
{
  return (y - router->y0) * router->width + x - router->x0;
}

int
ml_router_x (const MlRouter *router, int cell)
{
  return cell % router->width + router->x0;
}

int
ml_router_y (const MlRouter *router, int cell)
{
  return cell / router->width + router->y0;
}

double
ml_flag_name_width (const MlCircuitNet *net)
{
  const char *name = net->net->label != NULL ? net->net->label : net->name;

  return MIN (ml_text_width (name, ML_TEXT_HEIGHT), ML_TEXT_WIDEST);
}

/* ---- raster ---- */

static void
stamp_cells (MlRouter *router, gboolean core, const MlCells *cells, const MlSpot *at, int sign)
{
  int x, y;

  for (y = cells->y0 + at->y; y <= cells->y1 + at->y; y++)
    for (x = cells->x0 + at->x; x <= cells->x1 + at->x; x++)
      {
        MlRouteCell *cell = &router->cells[ml_router_cell (router, x, y)];
        gint16 *onto = core ? &cell->block : &cell->room;
        *onto = (gint16) (*onto + sign);
      }
}

gboolean
ml_router_holds (const MlRouter *router, int piece)
{
  const MlSpot *spot = &router->sheet->spots[piece];
  const MlCells *hull = &spot->form->hull, *pins = &spot->form->pin_hull;

  return spot->x + MIN (hull->x0, pins->x0) > router->x0 + 3 && spot->y + MIN (hull->y0, pins->y0) > router->y0 + 3
         && spot->x + MAX (hull->x1, pins->x1) < router->x0 + router->width - 4
         && spot->y + MAX (hull->y1, pins->y1) < router->y0 + router->height - 4;
}

static void
forget_pin (MlRouter *router, MlRouteNet *net, int number, int cell, int piece, int pin)
{
  guint i, k = 0;

  router->cells[cell].pin = 0;
  for (i = 0; i < net->n_pins; i++)
    {
      if (net->pins[i].piece == piece && net->pins[i].pin == pin)
        continue;
      if (net->pins[i].cell == cell)
        router->cells[cell].pin = number + 1;
      net->pins[k++] = net->pins[i];
    }
  net->n_pins = k;
}

static void
stamp_pin (MlRouter *router, int piece, int pin, int sign)
{
  const MlSpot *spot = &router->sheet->spots[piece];
  int number = spot->piece->pins[pin].net;
  MlFormPin at = ml_sheet_pin (router->sheet, piece, pin);
  int cell = ml_router_cell (router, at.x, at.y);
  MlRouteNet *net;

  if (number < 0)
    {
      router->cells[cell].pin = sign > 0 ? -1 : 0;
      return;
    }
  net = &router->nets[number];
  if (sign < 0)
    {
      forget_pin (router, net, number, cell, piece, pin);
      return;
    }
  if (net->n_pins == net->room)
    {
      net->room = 2 * net->room + 4;
      net->pins = g_renew (MlRoutePin, net->pins, net->room);
    }
  net->pins[net->n_pins++] = (MlRoutePin){ cell, at.side, piece, pin };
  router->cells[cell].pin = number + 1;
}

void
ml_router_stamp (MlRouter *router, int piece, int sign)
{
  const MlSpot *spot = &router->sheet->spots[piece];
  guint i;

  for (i = 0; i < spot->form->n_cores; i++)
    stamp_cells (router, TRUE, &spot->form->cores[i], spot, sign);
  for (i = 0; i < spot->form->n_rooms; i++)
    stamp_cells (router, FALSE, &spot->form->rooms[i], spot, sign);
  for (i = 0; i < spot->piece->n_pins; i++)
    stamp_pin (router, piece, (int) i, sign);
}

/* A search must not run off one side and come back on the other, one row lower. */
static void
block_edges (MlRouter *router)
{
  int i;

  for (i = 0; i < router->height; i++)
    {
      router->cells[i * router->width].block++;
      router->cells[i * router->width + router->width - 1].block++;
    }
  for (i = 0; i < router->width; i++)
    {
      router->cells[i].block++;
      router->cells[(router->height - 1) * router->width + i].block++;
    }
}

static void
take_size (MlRouter *router)
{
  MlCells hull = ml_sheet_hull (router->sheet, -1);
  guint i;

  if (hull.x1 < hull.x0)
    hull = (MlCells){ 0, 0, 0, 0 };
  for (i = 0; i < router->sheet->n; i++)
    {
      const MlSpot *spot = &router->sheet->spots[i];
      hull.x0 = MIN (hull.x0, spot->x + spot->form->pin_hull.x0);
      hull.y0 = MIN (hull.y0, spot->y + spot->form->pin_hull.y0);
      hull.x1 = MAX (hull.x1, spot->x + spot->form->pin_hull.x1);
      hull.y1 = MAX (hull.y1, spot->y + spot->form->pin_hull.y1);
    }
  router->x0 = hull.x0 - MARGIN;
  router->y0 = hull.y0 - MARGIN;
  router->width = hull.x1 - hull.x0 + 1 + 2 * MARGIN;
  router->height = hull.y1 - hull.y0 + 1 + 2 * MARGIN;
  router->n_cells = router->width * router->height;
}

MlRouter *
ml_router_new (const MlSheet *sheet, GCancellable *cancellable)
{
  MlRouter *router = g_new0 (MlRouter, 1);
  gsize n;
  guint i;

  router->sheet = sheet;
  router->cancellable = cancellable;
  take_size (router);
  n = (gsize) router->n_cells;
  router->cells = g_new0 (MlRouteCell, n);
  router->edge = g_new0 (int, 2 * n);
  router->n_nets = sheet->n_nets;
  router->nets = g_new0 (MlRouteNet, MAX (sheet->n_nets, 1));
  for (i = 0; i < router->n_nets; i++)
    {
      const MlCircuitNet *from = &sheet->circuit->nets[i];
      MlRouteNet *net = &router->nets[i];
      net->edges = g_array_new (FALSE, FALSE, sizeof (int));
      net->flags = g_array_new (FALSE, FALSE, sizeof (MlRouteFlag));
      net->rail = from->rail;
      net->is_reference = (int) i == sheet->circuit->reference && sheet->circuit->reference_given;
      net->always_flagged = from->rail != ML_RAIL_NONE || ((from->supply_plus || from->supply_minus) && !from->on_connector);
      net->name_w = ml_flag_name_width (from);
    }
  for (i = 0; i < sheet->n; i++)
    ml_router_stamp (router, (int) i, 1);
  block_edges (router);
  router->search = ml_route_search_new (router);
  router->not_here = g_array_new (FALSE, FALSE, sizeof (int));
  return router;
}

void
ml_router_free (MlRouter *router)
{
  guint i;

  for (i = 0; i < router->n_nets; i++)
    {
      g_free (router->nets[i].pins);
      g_array_unref (router->nets[i].edges);
      g_array_unref (router->nets[i].flags);
    }
  ml_route_search_free (router->search);
  g_array_unref (router->not_here);
  g_free (router->nets);
  g_free (router->cells);
  g_free (router->edge);
  g_free (router);
}

/* ---- a net's copper on the raster ---- */

static int
far_end (const MlRouter *router, int edge)
{
  return (edge >> 1) + ((edge & 1) ? router->width : 1);
}

/* A node is a vertex of its net unless the wire runs straight through. */
static void
mark_node (MlRouter *router, int cell, int mark)
{
  gboolean right = router->edge[2 * cell] == mark, left = cell > 0 && router->edge[2 * (cell - 1)] == mark;
  gboolean down = router->edge[2 * cell + 1] == mark;
  gboolean up = cell >= router->width && router->edge[2 * (cell - router->width) + 1] == mark;

  if (!((right && left && !up && !down) || (up && down && !right && !left)))
    router->cells[cell].vertex = mark;
  else if (router->cells[cell].vertex == mark)
    router->cells[cell].vertex = 0;
}

static void
add_edge (MlRouter *router, int net, int edge)
{
  int axis = edge & 1;

  if (router->edge[edge] == net + 1)
    return;
  router->edge[edge] = net + 1;
  router->cells[edge >> 1].line[axis] = router->cells[far_end (router, edge)].line[axis] = net + 1;
  g_array_append_val (router->nets[net].edges, edge);
}

static void
mark_nodes (MlRouter *router, int net)
{
  const GArray *edges = router->nets[net].edges;
  guint i;

  for (i = 0; i < edges->len; i++)
    {
      int edge = g_array_index (edges, int, i);
      mark_node (router, edge >> 1, net + 1);
      mark_node (router, far_end (router, edge), net + 1);
    }
}

static void
forget_node (MlRouter *router, int cell, int axis, int mark)
{
  if (router->cells[cell].line[axis] == mark)
    router->cells[cell].line[axis] = 0;
  if (router->cells[cell].vertex == mark)
    router->cells[cell].vertex = 0;
}

static void
cover_flag (MlRouter *router, int net, const MlRouteFlag *flag, int sign)
{
  GArray *cells = g_array_new (FALSE, FALSE, sizeof (int));
  guint i;

  ml_router_flag_cells (router, net, flag, cells);
  for (i = 0; i < cells->len; i++)
    {
      int cell = g_array_index (cells, int, i);
      router->cells[cell].flagged = (gint16) (router->cells[cell].flagged + sign);
    }
  g_array_unref (cells);
}

void
ml_router_erase (MlRouter *router, int number)
{
  MlRouteNet *net = &router->nets[number];
  guint i;

  for (i = 0; i < net->edges->len; i++)
    {
      int edge = g_array_index (net->edges, int, i);
      router->edge[edge] = 0;
      forget_node (router, edge >> 1, edge & 1, number + 1);
      forget_node (router, far_end (router, edge), edge & 1, number + 1);
    }
  for (i = 0; i < net->flags->len; i++)
    cover_flag (router, number, &g_array_index (net->flags, MlRouteFlag, i), -1);
  g_array_set_size (net->edges, 0);
  g_array_set_size (net->flags, 0);
  net->n_missing = 0;
}

void
ml_router_take (MlRouter *router, int number, const GArray *edges, const GArray *flags, int cost)
{
  MlRouteNet *net = &router->nets[number];
  guint i;

  for (i = 0; i < edges->len; i++)
    add_edge (router, number, g_array_index (edges, int, i));
  mark_nodes (router, number);
  for (i = 0; i < flags->len; i++)
    {
      MlRouteFlag flag = g_array_index (flags, MlRouteFlag, i);
      g_array_append_val (net->flags, flag);
      cover_flag (router, number, &flag, 1);
    }
  net->cost = cost;
}

static void
saved_clear (gpointer data)
{
  MlRouteSaved *saved = data;

  g_array_unref (saved->edges);
  g_array_unref (saved->flags);
}

GArray *
ml_router_save (const MlRouter *router, const int *nets, guint n)
{
  GArray *all = g_array_sized_new (FALSE, FALSE, sizeof (MlRouteSaved), n);
  guint i;

  g_array_set_clear_func (all, saved_clear);
  for (i = 0; i < n; i++)
    {
      const MlRouteNet *net = &router->nets[nets[i]];
      MlRouteSaved saved = { nets[i], g_array_copy (net->edges), g_array_copy (net->flags), net->cost, net->n_missing };
      g_array_append_val (all, saved);
    }
  return all;
}

void
ml_router_restore (MlRouter *router, const GArray *all)
{
  guint i;

  for (i = 0; i < all->len; i++)
    ml_router_erase (router, g_array_index (all, MlRouteSaved, i).net);
  for (i = 0; i < all->len; i++)
    {
      const MlRouteSaved *saved = &g_array_index (all, MlRouteSaved, i);
      ml_router_take (router, saved->net, saved->edges, saved->flags, saved->cost);
      router->nets[saved->net].n_missing = saved->n_missing;
    }
}

/* ---- flags ---- */

guint
ml_router_flag_cells (const MlRouter *router, int number, const MlRouteFlag *flag, GArray *ret_cells)
{
  const MlRouteNet *net = &router->nets[number];
  int half = net->is_reference ? 1 : (int) (MAX (net->name_w, 2.4) / 2 + 0.9), reach = (int) (net->name_w + 2.9), dx, dy;

  g_array_set_size (ret_cells, 0);
#define COVER(x, y) G_STMT_START { int c_ = flag->cell + (x) + (y) * router->width; g_array_append_val (ret_cells, c_); } G_STMT_END
  if (flag->kind == ML_FLAG_NET)
    for (dx = 1; dx <= reach; dx++)
      COVER (flag->side == ML_SIDE_RIGHT ? dx : -dx, 0);
  else
    for (dy = 1; dy <= 2; dy++)
      for (dx = -half; dx <= half; dx++)
        COVER (dx, flag->kind == ML_FLAG_UP_RAIL ? -dy : dy);
#undef COVER
  return ret_cells->len;
}

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

/* ---- one net ---- */

typedef struct
{
  MlRouter *router;
  int net;
  int limit, step_across;
  gint8 *bars;      /* per row */
  GArray *left;     /* of int: pins not joined yet */
  GArray *group;    /* of int: pins of the group that grows */
  guint first_edge, end_edge; /* the group's own */
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

/* Two pins near each other are joined by a wire, however it must wind; three and more are better named than woven through others. */
static int
signal_limit (const MlRouter *router, const MlRouteNet *net)
{
  if (!router->patient)
    return SIGNAL_LIMIT;
  return net->n_pins == 2 && 4 * pin_distance (router, &net->pins[0], &net->pins[1]) <= router->width + router->height - 4 * MARGIN
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
      add_wire_source (growth, far_end (router, edge));
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
      add_edge (router, growth->net, 2 * low + (ABS (a - b) == 1 ? 0 : 1));
    }
  mark_nodes (router, growth->net);
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
          touches = edge >> 1 == cell || far_end (router, edge) == cell;
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

/* One more connection of the group; its cost, or -1 when none is cheap enough. */
static int
grow (Growth *growth)
{
  MlRouter *router = growth->router;
  const MlRouteNet *net = &router->nets[growth->net];
  MlRouteQuery query = { growth->net, growth->limit, growth->step_across, growth->bars, NULL };
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
      cover_flag (router, growth->net, &flag, 1);
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

static void
grow_groups (Growth *growth, GArray *groups, int *cost)
{
  const MlRouteNet *net = &growth->router->nets[growth->net];

  while (growth->left->len > 0)
    {
      int first = g_array_index (growth->left, int, 0), more;
      Group group;
      growth->group = g_array_new (FALSE, FALSE, sizeof (int));
      g_array_append_val (growth->group, first);
      g_array_remove_index (growth->left, 0);
      growth->first_edge = net->edges->len;
      growth->end_edge = G_MAXUINT;
      join_touching (growth);
      while (growth->left->len > 0 && (more = grow (growth)) >= 0)
        *cost += more;
      group = (Group){ growth->group, growth->first_edge, net->edges->len };
      g_array_append_val (groups, group);
    }
}

/* Joins the pins listed, in groups, each flagged where it must be. */
static int
route_pins (MlRouter *router, int number, GArray *left)
{
  MlRouteNet *net = &router->nets[number];
  Growth growth = { router, number, 0, 0, NULL, left, NULL, 0, 0 };
  GArray *groups = g_array_new (FALSE, FALSE, sizeof (Group));
  int cost = 0;
  guint i;

  choose_limits (&growth);
  order_pins (&growth);
  grow_groups (&growth, groups, &cost);
  for (i = 0; i < groups->len; i++)
    {
      Group *group = &g_array_index (groups, Group, i);
      growth.group = group->pins;
      growth.first_edge = group->first_edge;
      growth.end_edge = group->end_edge;
      /* Flags come when all groups are known: a net of one group needs none. */
      if (groups->len > 1 || net->always_flagged)
        cost += place_flag (&growth);
      g_array_unref (group->pins);
    }
  g_array_unref (groups);
  g_free (growth.bars);
  return cost;
}

int
ml_router_route (MlRouter *router, int number)
{
  MlRouteNet *net = &router->nets[number];
  GArray *left = g_array_new (FALSE, FALSE, sizeof (int));
  guint i;

  net->n_missing = 0;
  for (i = 0; i < net->n_pins; i++)
    g_array_append_val (left, i);
  net->cost = route_pins (router, number, left);
  g_array_unref (left);
  return net->cost;
}

void
ml_router_extend (MlRouter *router, int number, GArray *pins)
{
  router->nets[number].cost += route_pins (router, number, pins);
}

MlRouter *
ml_router_taken_over (const MlSheet *sheet, const MlRouter *from)
{
  MlRouter *router = ml_router_new (sheet, from->cancellable);
  GArray *edges = g_array_new (FALSE, FALSE, sizeof (int)), *flags = g_array_new (FALSE, FALSE, sizeof (MlRouteFlag));
  guint net, i;

  for (net = 0; net < from->n_nets; net++)
    {
      g_array_set_size (edges, 0);
      g_array_set_size (flags, 0);
      for (i = 0; i < from->nets[net].edges->len; i++)
        {
          int edge = g_array_index (from->nets[net].edges, int, i);
          int to = 2 * ml_router_cell (router, ml_router_x (from, edge >> 1), ml_router_y (from, edge >> 1)) + (edge & 1);
          g_array_append_val (edges, to);
        }
      for (i = 0; i < from->nets[net].flags->len; i++)
        {
          MlRouteFlag flag = g_array_index (from->nets[net].flags, MlRouteFlag, i);
          flag.cell = ml_router_cell (router, ml_router_x (from, flag.cell), ml_router_y (from, flag.cell));
          g_array_append_val (flags, flag);
        }
      ml_router_take (router, (int) net, edges, flags, from->nets[net].cost);
      router->nets[net].n_missing = from->nets[net].n_missing;
    }
  g_array_unref (edges);
  g_array_unref (flags);
  return router;
}
