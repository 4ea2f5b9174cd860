/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/route-private.h"
#include "drawing/route-search.h"

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
  const char *name = net->net->label != NULL ? net->net->label : net->short_flags ? net->name : net->net->words;

  return MIN (ml_text_width (name, ML_TEXT_HEIGHT), ML_TEXT_WIDEST);
}

gboolean
ml_router_shorten_flags (MlRouter *router, MlCircuit *circuit)
{
  gboolean any = FALSE;
  guint i;

  for (i = 0; i < router->n_nets; i++)
    {
      MlCircuitNet *net = &circuit->nets[i];
      if (router->nets[i].n_missing == 0 || net->short_flags || !net->net->generated)
        continue;
      net->short_flags = any = TRUE;
      router->nets[i].name_w = ml_flag_name_width (net);
    }
  return any;
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
  router->x0 = hull.x0 - ML_ROUTER_MARGIN;
  router->y0 = hull.y0 - ML_ROUTER_MARGIN;
  router->width = hull.x1 - hull.x0 + 1 + 2 * ML_ROUTER_MARGIN;
  router->height = hull.y1 - hull.y0 + 1 + 2 * ML_ROUTER_MARGIN;
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

int
ml_router_far_end (const MlRouter *router, int edge)
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

void
ml_router_add_edge (MlRouter *router, int net, int edge)
{
  int axis = edge & 1;

  if (router->edge[edge] == net + 1)
    return;
  router->edge[edge] = net + 1;
  router->cells[edge >> 1].line[axis] = router->cells[ml_router_far_end (router, edge)].line[axis] = net + 1;
  g_array_append_val (router->nets[net].edges, edge);
}

void
ml_router_mark_nodes (MlRouter *router, int net)
{
  const GArray *edges = router->nets[net].edges;
  guint i;

  for (i = 0; i < edges->len; i++)
    {
      int edge = g_array_index (edges, int, i);
      mark_node (router, edge >> 1, net + 1);
      mark_node (router, ml_router_far_end (router, edge), net + 1);
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

void
ml_router_cover_flag (MlRouter *router, int net, const MlRouteFlag *flag, int sign)
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
      forget_node (router, ml_router_far_end (router, edge), edge & 1, number + 1);
    }
  for (i = 0; i < net->flags->len; i++)
    ml_router_cover_flag (router, number, &g_array_index (net->flags, MlRouteFlag, i), -1);
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
    ml_router_add_edge (router, number, g_array_index (edges, int, i));
  ml_router_mark_nodes (router, number);
  for (i = 0; i < flags->len; i++)
    {
      MlRouteFlag flag = g_array_index (flags, MlRouteFlag, i);
      g_array_append_val (net->flags, flag);
      ml_router_cover_flag (router, number, &flag, 1);
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
