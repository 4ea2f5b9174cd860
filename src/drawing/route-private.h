/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The copper of a net on the router's raster: what laying one net (route-net.c) does to it. */
#pragma once

#include "drawing/route.h"

G_BEGIN_DECLS

#define ML_ROUTER_MARGIN 14 /* g: free raster round the pieces */

/** ml_router_far_end: the cell that an edge leads to. ml_router_add_edge: one g of wire. */
int ml_router_far_end (const MlRouter *router, int edge);
void ml_router_add_edge (MlRouter *router, int net, int edge);
/** ml_router_mark_nodes: every cell on the net's wires is its own: others may only cross straight over a straight piece. */
void ml_router_mark_nodes (MlRouter *router, int net);
/** ml_router_cover_flag: its cells are taken (sign 1) or free again (-1). */
void ml_router_cover_flag (MlRouter *router, int net, const MlRouteFlag *flag, int sign);

G_END_DECLS
