/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-plan.h"

#include <math.h>
#include <string.h>

/* ---- from the router's raster ---- */

static gboolean
has_edge (const MlRouter *router, int net, int cell, int axis)
{
  return cell >= 0 && cell < router->n_cells && router->edge[2 * cell + axis] == net + 1;
}

/* Sides of a cell on which the net's wire leaves it, as bits 1 << side. */
static guint
wires_at (const MlRouter *router, int net, int cell)
{
  return (guint) has_edge (router, net, cell, 0) << ML_SIDE_RIGHT | (guint) has_edge (router, net, cell, 1) << ML_SIDE_DOWN
         | (guint) has_edge (router, net, cell - 1, 0) << ML_SIDE_LEFT | (guint) has_edge (router, net, cell - router->width, 1) << ML_SIDE_UP;
}

static guint
flags_at (const MlRouteNet *net, int cell)
{
  guint i, n = 0;

  for (i = 0; i < net->flags->len; i++)
    n += g_array_index (net->flags, MlRouteFlag, i).cell == cell;
  return n;
}

static guint
pins_at (const MlRouteNet *net, int cell)
{
  guint i, n = 0;

  for (i = 0; i < net->n_pins; i++)
    n += net->pins[i].cell == cell;
  return n;
}

static gboolean
is_straight (guint sides)
{
  return sides == (1u << ML_SIDE_LEFT | 1u << ML_SIDE_RIGHT) || sides == (1u << ML_SIDE_UP | 1u << ML_SIDE_DOWN);
}

static gboolean
ends_at (const MlRouter *router, int net, int cell)
{
  return !is_straight (wires_at (router, net, cell)) || pins_at (&router->nets[net], cell) > 0 || flags_at (&router->nets[net], cell) > 0;
}

static void
take_wires (MlLayoutPlan *plan, const MlRouter *router, int net)
{
  const GArray *edges = router->nets[net].edges;
  guint i;

  for (i = 0; i < edges->len; i++)
    {
      int edge = g_array_index (edges, int, i), axis = edge & 1, from = edge >> 1, to = from, stride = axis ? router->width : 1;
      MlPlanWire wire;
      if (!ends_at (router, net, from))
        continue;
      do
        to += stride;
      while (!ends_at (router, net, to));
      wire = (MlPlanWire){ net, ml_router_x (router, from), ml_router_y (router, from), ml_router_x (router, to), ml_router_y (router, to) };
      g_array_append_val (plan->wires, wire);
    }
}

static int
by_int (gconstpointer a, gconstpointer b)
{
  const int *p = a, *q = b;

  return *p < *q ? -1 : *p > *q;
}

/* A dot where three or more meet: wires, pins' leads, flags. */
static void
take_dots (MlLayoutPlan *plan, const MlRouter *router, int number)
{
  const MlRouteNet *net = &router->nets[number];
  GArray *cells = g_array_new (FALSE, FALSE, sizeof (int));
  guint i;

  for (i = 0; i < net->edges->len; i++)
    {
      int edge = g_array_index (net->edges, int, i), cell = edge >> 1, far = cell + ((edge & 1) ? router->width : 1);
      g_array_append_val (cells, cell);
      g_array_append_val (cells, far);
    }
  for (i = 0; i < net->n_pins; i++)
    g_array_append_val (cells, net->pins[i].cell);
  g_array_sort (cells, by_int);
  for (i = 0; i < cells->len; i++)
    {
      int cell = g_array_index (cells, int, i);
      guint sides = wires_at (router, number, cell), n;
      if (i > 0 && cell == g_array_index (cells, int, i - 1))
        continue;
      n = (sides & 1) + (sides >> 1 & 1) + (sides >> 2 & 1) + (sides >> 3 & 1) + pins_at (net, cell) + flags_at (net, cell);
      if (n >= 3)
        {
          MlPlanDot dot = { number, ml_router_x (router, cell), ml_router_y (router, cell) };
          g_array_append_val (plan->dots, dot);
        }
    }
  g_array_unref (cells);
}

MlLayoutPlan *
ml_layout_plan_new (MlSheet *sheet, const MlRouter *router)
{
  MlLayoutPlan *plan = g_new0 (MlLayoutPlan, 1);
  guint net, i;

  plan->sheet = sheet;
  plan->wires = g_array_new (FALSE, FALSE, sizeof (MlPlanWire));
  plan->dots = g_array_new (FALSE, FALSE, sizeof (MlPlanDot));
  plan->flags = g_array_new (FALSE, FALSE, sizeof (MlPlanFlag));
  for (net = 0; net < router->n_nets; net++)
    {
      take_wires (plan, router, (int) net);
      take_dots (plan, router, (int) net);
      for (i = 0; i < router->nets[net].flags->len; i++)
        {
          MlRouteFlag from = g_array_index (router->nets[net].flags, MlRouteFlag, i);
          MlPlanFlag flag = { (int) net, ml_router_x (router, from.cell), ml_router_y (router, from.cell), from.side, from.kind };
          g_array_append_val (plan->flags, flag);
        }
    }
  return plan;
}

static void
take_edges (const MlRouter *router, const MlPlanWire *wire, GArray *ret_edges)
{
  int axis = wire->y0 == wire->y1 ? 0 : 1, x = wire->x0, y = wire->y0, edge;

  while (axis == 0 ? x < wire->x1 : y < wire->y1)
    {
      edge = 2 * ml_router_cell (router, x, y) + axis;
      g_array_append_val (ret_edges, edge);
      axis == 0 ? x++ : y++;
    }
}

MlRouter *
ml_layout_plan_router (const MlLayoutPlan *plan, GCancellable *cancellable)
{
  MlRouter *router = ml_router_new (plan->sheet, cancellable);
  GArray *edges = g_array_new (FALSE, FALSE, sizeof (int)), *flags = g_array_new (FALSE, FALSE, sizeof (MlRouteFlag));
  guint net, i;

  for (net = 0; net < router->n_nets; net++)
    {
      g_array_set_size (edges, 0);
      g_array_set_size (flags, 0);
      for (i = 0; i < plan->wires->len; i++)
        if (g_array_index (plan->wires, MlPlanWire, i).net == (int) net)
          take_edges (router, &g_array_index (plan->wires, MlPlanWire, i), edges);
      for (i = 0; i < plan->flags->len; i++)
        {
          const MlPlanFlag *from = &g_array_index (plan->flags, MlPlanFlag, i);
          MlRouteFlag flag = { ml_router_cell (router, from->x, from->y), from->side, from->kind };
          if (from->net == (int) net)
            g_array_append_val (flags, flag);
        }
      ml_router_take (router, (int) net, edges, flags, 0);
    }
  g_array_unref (edges);
  g_array_unref (flags);
  return router;
}

void
ml_layout_plan_free (MlLayoutPlan *plan)
{
  g_array_unref (plan->wires);
  g_array_unref (plan->dots);
  g_array_unref (plan->flags);
  g_free (plan);
}

MlBox
ml_layout_plan_flag_box (const MlCircuit *circuit, const MlPlanFlag *flag)
{
  double w = ml_flag_name_width (&circuit->nets[flag->net]), half = MAX (w / 2, 0.9) + 0.1, x = flag->x, y = flag->y;

  switch (flag->kind)
    {
    case ML_FLAG_REFERENCE:
      return (MlBox){ x - 0.9, y, x + 0.9, y + 1.5 };
    case ML_FLAG_DOWN_RAIL:
      return (MlBox){ x - half, y, x + half, y + 2.4 };
    case ML_FLAG_UP_RAIL:
      return (MlBox){ x - half, y - 2.1, x + half, y };
    case ML_FLAG_NET:
    default:
      return flag->side == ML_SIDE_RIGHT ? (MlBox){ x, y - 0.7, x + w + 1.4, y + 0.7 } : (MlBox){ x - w - 1.4, y - 0.7, x, y + 0.7 };
    }
}

/* ---- compaction ---- */

typedef struct { int low, n; guint8 *held; } Lines; /* grid lines of one axis that must stay */

static void
hold (Lines *lines, int from, int to)
{
  int i;

  for (i = MAX (from, lines->low); i <= to && i < lines->low + lines->n; i++)
    lines->held[i - lines->low] = 1;
}

static const MlSpot *
spot_of (const MlSheet *sheet, const MlPiece *piece)
{
  guint i;

  for (i = 0; i < sheet->n; i++)
    if (sheet->spots[i].piece == piece)
      return &sheet->spots[i];
  return NULL;
}

static void
hold_spots (const MlLayoutPlan *plan, Lines *lines, int axis)
{
  guint i, k;

  for (i = 0; i < plan->sheet->n; i++)
    {
      const MlSpot *spot = &plan->sheet->spots[i];
      int at = axis ? spot->y : spot->x;
      for (k = 0; k < spot->form->n_cores; k++)
        hold (lines, at + (axis ? spot->form->cores[k].y0 : spot->form->cores[k].x0), at + (axis ? spot->form->cores[k].y1 : spot->form->cores[k].x1));
      for (k = 0; k < spot->form->n_rooms; k++)
        hold (lines, at + (axis ? spot->form->rooms[k].y0 : spot->form->rooms[k].x0), at + (axis ? spot->form->rooms[k].y1 : spot->form->rooms[k].x1));
      for (k = 0; k < spot->piece->n_pins; k++)
        hold (lines, at + (axis ? spot->form->pins[k].y : spot->form->pins[k].x), at + (axis ? spot->form->pins[k].y : spot->form->pins[k].x));
    }
}

/* Units alike keep their pitch, whatever runs between two of them. */
static void
hold_banks (const MlLayoutPlan *plan, Lines *lines, int axis)
{
  const MlKit *kit = plan->sheet->kit;
  guint i, k;

  for (i = 0; i < kit->composites->len; i++)
    {
      const MlPiece *bank = g_ptr_array_index (kit->composites, i);
      int low = G_MAXINT, high = G_MININT;
      for (k = 0; k < bank->n_members && bank->is_bank; k++)
        {
          const MlSpot *spot = spot_of (plan->sheet, g_ptr_array_index (kit->plain, (guint) bank->members[k]));
          if (spot == NULL)
            continue;
          low = MIN (low, axis ? spot->y + spot->form->pin_hull.y0 : spot->x + spot->form->pin_hull.x0);
          high = MAX (high, axis ? spot->y + spot->form->pin_hull.y1 : spot->x + spot->form->pin_hull.x1);
        }
      if (low <= high)
        hold (lines, low, high);
    }
}

static void
hold_copper (const MlLayoutPlan *plan, Lines *lines, int axis)
{
  guint i;

  for (i = 0; i < plan->wires->len; i++)
    {
      const MlPlanWire *wire = &g_array_index (plan->wires, MlPlanWire, i);
      hold (lines, axis ? wire->y0 : wire->x0, axis ? wire->y0 : wire->x0);
      hold (lines, axis ? wire->y1 : wire->x1, axis ? wire->y1 : wire->x1);
    }
  for (i = 0; i < plan->flags->len; i++)
    {
      const MlPlanFlag *flag = &g_array_index (plan->flags, MlPlanFlag, i);
      MlBox box = ml_layout_plan_flag_box (plan->sheet->circuit, flag);
      hold (lines, (int) floor (axis ? box.y0 : box.x0), (int) ceil (axis ? box.y1 : box.x1));
    }
}

/* Where each line goes: of a run of unheld lines one is kept. */
static int *
new_places (const Lines *lines)
{
  int *to = g_new (int, lines->n), i, run = 0, shift = 0;

  for (i = 0; i < lines->n; i++)
    {
      run = lines->held[i] ? 0 : run + 1;
      if (run > 1)
        shift++;
      to[i] = lines->low + i - shift;
    }
  return to;
}

static void
move_all (MlLayoutPlan *plan, const Lines *lines, const int *to, int axis)
{
  guint i;

#define MOVE(v) (v) = to[(v) - lines->low]
  for (i = 0; i < plan->sheet->n; i++)
    {
      MlSpot *spot = &plan->sheet->spots[i];
      int anchor = spot->form->n_cores > 0 ? (axis ? spot->form->cores[0].y0 : spot->form->cores[0].x0) : 0;
      int *at = axis ? &spot->y : &spot->x;
      *at = to[*at + anchor - lines->low] - anchor;
    }
  for (i = 0; i < plan->wires->len; i++)
    {
      MlPlanWire *wire = &g_array_index (plan->wires, MlPlanWire, i);
      if (axis)
        {
          MOVE (wire->y0);
          MOVE (wire->y1);
        }
      else
        {
          MOVE (wire->x0);
          MOVE (wire->x1);
        }
    }
  for (i = 0; i < plan->dots->len; i++)
    {
      MlPlanDot *dot = &g_array_index (plan->dots, MlPlanDot, i);
      int *at = axis ? &dot->y : &dot->x;
      MOVE (*at);
    }
  for (i = 0; i < plan->flags->len; i++)
    {
      MlPlanFlag *flag = &g_array_index (plan->flags, MlPlanFlag, i);
      int *at = axis ? &flag->y : &flag->x;
      MOVE (*at);
    }
#undef MOVE
}

static MlCells
extent_of (const MlLayoutPlan *plan)
{
  MlCells hull = ml_sheet_hull (plan->sheet, -1);
  guint i;

  if (hull.x1 < hull.x0)
    hull = (MlCells){ 0, 0, 0, 0 };
  for (i = 0; i < plan->sheet->n; i++)
    {
      const MlSpot *spot = &plan->sheet->spots[i];
      hull.x0 = MIN (hull.x0, spot->x + spot->form->pin_hull.x0);
      hull.y0 = MIN (hull.y0, spot->y + spot->form->pin_hull.y0);
      hull.x1 = MAX (hull.x1, spot->x + spot->form->pin_hull.x1);
      hull.y1 = MAX (hull.y1, spot->y + spot->form->pin_hull.y1);
    }
  for (i = 0; i < plan->wires->len; i++)
    {
      const MlPlanWire *wire = &g_array_index (plan->wires, MlPlanWire, i);
      hull.x0 = MIN (hull.x0, wire->x0);
      hull.y0 = MIN (hull.y0, wire->y0);
      hull.x1 = MAX (hull.x1, wire->x1);
      hull.y1 = MAX (hull.y1, wire->y1);
    }
  return hull;
}

void
ml_layout_plan_compact (MlLayoutPlan *plan)
{
  int axis;

  for (axis = 0; axis < 2; axis++)
    {
      MlCells hull = extent_of (plan);
      Lines lines;
      int *to;
      lines.low = (axis ? hull.y0 : hull.x0) - 40;
      lines.n = (axis ? hull.y1 : hull.x1) + 40 - lines.low;
      lines.held = g_new0 (guint8, lines.n);
      hold_spots (plan, &lines, axis);
      hold_copper (plan, &lines, axis);
      hold_banks (plan, &lines, axis);
      to = new_places (&lines);
      move_all (plan, &lines, to, axis);
      g_free (to);
      g_free (lines.held);
    }
}
