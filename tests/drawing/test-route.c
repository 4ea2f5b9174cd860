/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The router's search, which goes straight for its goal, against a second method that looks everywhere: relaxation over all nodes and directions
 * until nothing gets cheaper (Bellman 1958 and Ford 1956, from memory). */
#include "drawing/route.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "drawing/layout-boards.h"
#include "support/generate.h"
#include "support/size.h"

/* What wires cost, in twentieths of a step. */
#define STEP 20
#define BEND 80
#define SIDEWAYS 64
#define CROSSING 160
#define ON_ROOM 14
#define BESIDE_WIRE 12
#define BESIDE_CORE 3
#define FAR G_MAXINT

typedef struct { MlBoard *board; MlCircuit *circuit; MlKit *kit; MlSheet *sheet; MlRouter *router; } Routed;

static Routed
routed_new (guint64 seed)
{
  g_autofree char *text = ml_generate_board (seed, 20 + (guint) seed % 20);
  Routed routed = { .board = ml_test_board (text) };

  routed.circuit = ml_circuit_new (routed.board, NULL);
  routed.kit = ml_kit_new (routed.circuit, ML_KIT_PLAIN);
  routed.sheet = ml_sheet_new (routed.kit, routed.kit->plain, 1, 600);
  ml_sheet_insert_all (routed.sheet);
  routed.router = ml_router_new (routed.sheet, NULL);
  ml_router_route_all (routed.router, 2);
  return routed;
}

static void
routed_clear (Routed *routed)
{
  ml_router_free (routed->router);
  ml_sheet_free (routed->sheet);
  ml_kit_free (routed->kit);
  ml_circuit_free (routed->circuit);
  ml_board_unref (routed->board);
}

static int
beside_cost (const MlRouteCell *cell, int axis, int mark)
{
  return (cell->line[axis] != 0 && cell->line[axis] != mark ? BESIDE_WIRE : 0) + (cell->block ? BESIDE_CORE : 0);
}

/* Onto a cell in direction d; FAR when it is taken. */
static int
step_cost (const MlRouter *router, int cell, int d, int mark, gboolean *ret_crosses)
{
  const MlRouteCell *at = &router->cells[cell];
  int axis = d & 1, aside = axis ? 1 : router->width, other = at->line[1 - axis];

  if (at->block || at->flagged || (at->pin != 0 && at->pin != mark) || (at->line[axis] != 0 && at->line[axis] != mark)
      || (at->vertex != 0 && at->vertex != mark))
    return FAR;
  *ret_crosses = other != 0 && other != mark;
  return STEP + (*ret_crosses ? CROSSING : 0) + ON_ROOM * MIN (at->room, 2) + beside_cost (at - aside, axis, mark) + beside_cost (at + aside, axis, mark);
}

static int
from_left (const MlRouter *router, const MlRoutePin *pin)
{
  return pin->cell % router->width * router->height + pin->cell / router->width;
}

/* The cheapest wire between the two pins of a net that is not laid, from the left one: the node where a wire begins costs nothing. */
static int
least_by_relaxation (const MlRouter *router, int net)
{
  const MlRoutePin *pins = router->nets[net].pins;
  const gboolean turned = from_left (router, &pins[1]) < from_left (router, &pins[0]);
  const MlRoutePin *from = &pins[turned], *to = &pins[!turned];
  const int stride[] = { 1, router->width, -1, -router->width };
  g_autofree int *cost = g_new (int, 4 * router->n_cells);
  gboolean better = TRUE;
  int i, d, turn, least = FAR;

  for (i = 0; i < 4 * router->n_cells; i++)
    cost[i] = FAR;
  for (d = 0; d < 4; d++)
    if (d != ((int) from->side ^ 2))
      cost[4 * from->cell + d] = d == (int) from->side ? 0 : SIDEWAYS;
  while (better)
    for (better = FALSE, i = 0; i < 4 * router->n_cells; i++)
      {
        int next = (i >> 2) + stride[i & 3], step, here;
        gboolean crosses = FALSE;
        d = i & 3;
        if (cost[i] == FAR || (step = step_cost (router, next, d, net + 1, &crosses)) == FAR)
          continue;
        here = cost[i] + step;
        if (next == to->cell && !crosses && d != (int) to->side)
          least = MIN (least, here + (d == ((int) to->side ^ 2) ? 0 : SIDEWAYS));
        for (turn = 0; turn < 4 && next != to->cell; turn++)
          if (turn != 2 && (turn == 0 || !crosses) && here + (turn == 0 ? 0 : BEND) < cost[4 * next + ((d + turn) & 3)])
            {
              cost[4 * next + ((d + turn) & 3)] = here + (turn == 0 ? 0 : BEND);
              better = TRUE;
            }
      }
  return least;
}

static gboolean
is_wire_of_two (const MlRouter *router, int net)
{
  const MlRouteNet *of = &router->nets[net];

  return of->n_pins == 2 && of->rail == ML_RAIL_NONE && !of->always_flagged && of->flags->len == 0 && of->pins[0].cell != of->pins[1].cell;
}

static void
test_route_of_two_pins_costs_as_little_as_relaxation_finds (void **state)
{
  guint n_nets = 0;
  guint64 seed;
  int net;

  for (seed = 1; seed <= ml_test_size (12, 3); seed++)
    {
      Routed routed = routed_new (seed);
      for (net = 0; net < (int) routed.router->n_nets; net++)
        {
          if (!is_wire_of_two (routed.router, net))
            continue;
          ml_router_erase (routed.router, net);
          /* second method: least_by_relaxation */
          assert_int_equal (ml_router_route (routed.router, net), least_by_relaxation (routed.router, net));
          n_nets++;
        }
      routed_clear (&routed);
    }
  assert_true (n_nets > 3 * seed);
}

static void
test_route_within_gives_up_exactly_where_the_net_costs_more (void **state)
{
  Routed routed = routed_new (5);
  int net;

  for (net = 0; net < (int) routed.router->n_nets; net++)
    {
      const int cost = (ml_router_erase (routed.router, net), ml_router_route (routed.router, net));
      ml_router_erase (routed.router, net);
      assert_int_equal (ml_router_route_within (routed.router, net, cost), cost);
      ml_router_erase (routed.router, net);
      if (cost > 0)
        assert_int_equal (ml_router_route_within (routed.router, net, cost - 1), G_MAXINT);
      ml_router_erase (routed.router, net);
      ml_router_route (routed.router, net);
    }
  assert_true (net > 5);
  routed_clear (&routed);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_route_of_two_pins_costs_as_little_as_relaxation_finds),
    cmocka_unit_test (test_route_within_gives_up_exactly_where_the_net_costs_more),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
