/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One search of the router. */
#pragma once

#include "drawing/route.h"

G_BEGIN_DECLS

typedef struct
{
  int net, limit, step_across;
  const gint8 *bars; /* per row: 1 where stepping across is almost free; NULL */
  int (*flag_cost) (MlRouter *router, int net, int cell, MlSide side); /* the search may end in a flag; -1: not here. NULL */
} MlRouteQuery;

MlRouteSearch *ml_route_search_new (MlRouter *router);
void ml_route_search_free (MlRouteSearch *search);
/** ml_route_search_begin, then goals, then sources: side -1 where any direction will do. */
void ml_route_search_begin (MlRouteSearch *search, const MlRouteQuery *query);
void ml_route_search_source (MlRouteSearch *search, int cell, int side, int cost);
void ml_route_search_goal (MlRouteSearch *search, int cell, int side);
/** ml_route_search_run: cost of the cheapest path (cells into ret_path), -1 when none is within the limit. *ret_state: 4 cell + side at its end. */
int ml_route_search_run (MlRouteSearch *search, const MlRouteQuery *query, GArray *ret_path, int *ret_state);
GArray *ml_route_search_scratch (MlRouteSearch *search);

G_END_DECLS
