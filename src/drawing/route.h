/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The orthogonal router: shortest paths over (cell, direction) that grow each net like Prim's tree, flags where a wire would be worse. */
#pragma once

#include "drawing/layout-sheet.h"

G_BEGIN_DECLS

typedef struct { int cell; MlSide side; int piece, pin; } MlRoutePin;
typedef struct { int cell; MlSide side; MlFlagKind kind; } MlRouteFlag;

typedef struct
{
  MlRoutePin *pins; guint n_pins, room;
  GArray *edges; /* of int: 2 cell + 0 to the right, + 1 downwards */
  GArray *flags; /* of MlRouteFlag */
  int cost;
  MlRail rail;
  gboolean is_reference, always_flagged;
  double name_w;
  guint n_missing; /* groups that found no place for their flag */
  MlRoutePin missing; /* a pin of the last of them */
} MlRouteNet;

typedef struct _MlRouteSearch MlRouteSearch;

/* All that a search asks of a node, side by side in memory. */
typedef struct
{
  int line[2], vertex;          /* wires across and down, net + 1 */
  int pin;                      /* net + 1, or -1 for an open pin */
  gint16 block, room, flagged, spare;
} MlRouteCell;

typedef struct
{
  const MlSheet *sheet;
  int x0, y0, width, height, n_cells;
  MlRouteCell *cells;
  int *edge;                    /* [2 cell + axis]: net + 1 */
  MlRouteNet *nets; guint n_nets;
  MlRouteSearch *search;
  GCancellable *cancellable;
  GArray *not_here;   /* of int: cells at which the flag in question found its own wire in its way */
  gboolean patient;   /* rather a long wire than a name */
} MlRouter;

typedef struct { int net; GArray *edges, *flags; int cost; guint n_missing; } MlRouteSaved;

MlRouter *ml_router_new (const MlSheet *sheet, GCancellable *cancellable);
void ml_router_free (MlRouter *router);
int ml_router_cell (const MlRouter *router, int x, int y);
int ml_router_x (const MlRouter *router, int cell);
int ml_router_y (const MlRouter *router, int cell);

/** ml_router_extend: joins some more pins (indices, used up) of a net whose other wires stay. */
void ml_router_extend (MlRouter *router, int net, GArray *pins);
/** ml_router_taken_over: a router on another sheet of the same geometry, with the same wires. */
MlRouter *ml_router_taken_over (const MlSheet *sheet, const MlRouter *from);
/** ml_router_route: one net from scratch; returns its cost. ml_router_erase: takes its wires and flags away. */
int ml_router_route (MlRouter *router, int net);
/** ml_router_route_within: the same, but given up, with the net half laid and G_MAXINT for its cost, when it turns out dearer than `most`. */
int ml_router_route_within (MlRouter *router, int net, int most);
void ml_router_erase (MlRouter *router, int net);
void ml_router_route_all (MlRouter *router, int passes);
void ml_router_rip_up (MlRouter *router, int rounds);
/** ml_router_join_named: signals interrupted by their names are joined by wires where a way is left; how many were. */
guint ml_router_join_named (MlRouter *router);
/** ml_router_least_cost: what a net costs at least wherever its wires run: a step for each along two sides of the hull of its pins, or two names. */
int ml_router_least_cost (const MlRouter *router, int net);
/** ml_router_flag_missing: once more for nets that found no place for a flag, however far away it must stand. */
void ml_router_flag_missing (MlRouter *router);
/** ml_router_unwall: for those that still found none, wires round their pins are laid after them. Slow where there are many. */
void ml_router_unwall (MlRouter *router);
/** ml_router_save / restore: the state of some nets; MlRouteSaved per net in a new GArray. */
GArray *ml_router_save (const MlRouter *router, const int *nets, guint n);
void ml_router_restore (MlRouter *router, const GArray *saved);
/** ml_router_stamp: a piece's cells and pins onto or off the raster. */
void ml_router_stamp (MlRouter *router, int piece, int sign);
gboolean ml_router_holds (const MlRouter *router, int piece);
/** ml_router_flag_cells: the cells that a flag's box covers, from its own cell; n returned. */
guint ml_router_flag_cells (const MlRouter *router, int net, const MlRouteFlag *flag, GArray *ret_cells);
/** ml_router_take: lays a net as given (unit edges and flags of `router`'s cells). */
void ml_router_take (MlRouter *router, int net, const GArray *edges, const GArray *flags, int cost);
double ml_flag_name_width (const MlCircuitNet *net);
/** ml_router_shorten_flags: nets that miss a flag for want of room get short ones when they are joined anew; FALSE: none of them can be shorter. */
gboolean ml_router_shorten_flags (MlRouter *router, MlCircuit *circuit);

G_END_DECLS
