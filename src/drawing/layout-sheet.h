/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Placement: pieces on a raster with estimated wires. Adding or taking away a piece costs what it covers, never the number of parts. */
#pragma once

#include "drawing/layout-piece.h"

G_BEGIN_DECLS

/* What a body or its room costs on a wire: asked for when either comes second. */
#define ML_CORE_ON_CORE ML_COST (40)        /* per node, while moves are to come that may part them again */
#define ML_CORE_NEVER_ON_CORE ML_COST (400) /* when none are */
#define ML_CORE_ON_WIRE ML_COST (5)
#define ML_ROOM_ON_WIRE ML_COST (1.2)

typedef struct { gint16 across, down, core, room, pins, spare; int pin_sum; } MlCell;
typedef struct { gint16 x0, y0, x1, y1; } MlSegment;
typedef struct { MlSegment *segments; guint n, room; int cost; } MlEstimate;
typedef struct { int piece, pin; } MlPiecePinRef;
typedef struct { int piece, sign; } MlFlowTo; /* sign +1: that piece belongs to the right of this one */

typedef struct
{
  MlPiecePinRef *pins; guint n_pins; /* rails: kept sorted from left to right */
  MlRail rail;
  MlEstimate now, before;
} MlSheetNet;

typedef struct
{
  MlPiece *piece;
  int x, y;
  MlForm *form;
  gboolean on, fixed;
  gboolean pins_free;        /* a block that is fixed, but of which nothing says in which order its pins stand */
  int *nets; guint n_nets;   /* each once */
  GArray *flows;             /* of MlFlowTo */
  GArray *mates;             /* of MlFlowTo: piece, sign 1 when level */
  GArray *ties;              /* of int */
  GArray *fans;              /* of MlFlowTo: a chip and the bank that hangs on it; sign: how many wires lead from one to the other */
  GArray *like;              /* of int: terminals of the same connector at parts that stand alike */
  MlPiecePinRef end_of;      /* terminals with like ones: the pin that they belong to */
  int wanted_x;              /* from its flow level */
  int pull_x, pull_y;        /* x 20 per g */
} MlSpot;

typedef struct
{
  const MlCircuit *circuit;
  MlKit *kit;
  MlSpot *spots; guint n;
  MlSheetNet *nets; guint n_nets;
  MlCell *cells;
  int width, height;  /* raster */
  int origin_x, origin_y; /* a scene's (0,0) on the raster */
  int supply_spot;    /* the supply chain, or -1 */
  GArray *connectors; /* of int: boxes that look to one side of the sheet */
  guint64 random;
  int above_weight;
  int core_on_core;
} MlSheet;

static inline MlCell *
ml_sheet_cell (MlSheet *sheet, int x, int y)
{
  return &sheet->cells[(gsize) y * (gsize) sheet->width + (gsize) x];
}

/** ml_sheet_new: an empty sheet for pieces; levels as ml_flow_levels gives them. */
MlSheet *ml_sheet_new (MlKit *kit, GPtrArray *pieces, guint64 seed, int span);
void ml_sheet_free (MlSheet *sheet);
/** ml_sheet_take_places: where everything stands on another sheet of the same kit, (dx, dy) off; composites taken apart into the pieces of `finer`. */
void ml_sheet_take_places (MlSheet *finer, const MlSheet *from, int dx, int dy);
guint ml_sheet_random (MlSheet *sheet, guint below);

/** ml_sheet_put / lift: onto the raster with its wires, or off it; what that costs or saves. ml_sheet_undo: takes back the last put of i, wires as saved. */
int ml_sheet_put (MlSheet *sheet, int i);
int ml_sheet_lift (MlSheet *sheet, int i);
int ml_sheet_box (MlSheet *sheet, int i, int sign);
/** ml_sheet_box_at_least: what ml_sheet_box (sheet, i, 1) would cost at least, looked at only until that is enough; nothing is put. */
int ml_sheet_box_at_least (const MlSheet *sheet, int i, int enough);
int ml_sheet_wire (MlSheet *sheet, const MlEstimate *estimate, int sign);
void ml_sheet_estimate (MlSheet *sheet, int net); /* into nets[net].now */
void ml_sheet_save_nets (MlSheet *sheet, const int *nets, guint n);  /* now -> before */
void ml_sheet_back_nets (MlSheet *sheet, const int *nets, guint n);  /* before -> now */
int ml_sheet_own_cost (MlSheet *sheet, int i); /* of standing there: orientation, flow, ties, pulls */
int ml_sheet_own_cost_at_least (const MlSheet *sheet, int i, int dx, int dy); /* the same (dx, dy) off without what hangs on other parts: that is never below 0 */
int ml_sheet_ties_cost (const MlSheet *sheet, int i); /* of that what is due to a chip being far away */
/** ml_sheet_look: orientations, capacitors far from their chips, what lies left of or above the supply chain; per part, not x 20. */
double ml_sheet_look (const MlSheet *sheet);
int ml_sheet_shape_cost (const MlCells *hull);
MlCells ml_sheet_hull (const MlSheet *sheet, int without);
/** ml_sheet_hull_with: that of all others and of spot i where it stands. */
MlCells ml_sheet_hull_with (const MlSheet *sheet, const MlCells *others, int i);
gboolean ml_sheet_inside (const MlSheet *sheet, int i);
MlFormPin ml_sheet_pin (const MlSheet *sheet, int i, int pin);
void ml_sheet_put_all (MlSheet *sheet);
/** ml_sheet_strip: what is wrong with a drawing's shape, in the score's measure per part: 0 where the width is 1.1 to 1.9 times the height. */
double ml_sheet_strip (double width, double height);
/** ml_sheet_fold: what stands to the right goes into a second row below, from where the fewest wires are cut. FALSE when there is nothing to part. */
gboolean ml_sheet_fold (MlSheet *sheet);

/** ml_sheet_insert_next: places the spot that is not on yet and has the strongest tie; which it was, -1 when all are on. */
int ml_sheet_insert_next (MlSheet *sheet);
/** ml_sheet_insert_all: all of them. */
void ml_sheet_insert_all (MlSheet *sheet);
void ml_sheet_insert (MlSheet *sheet, int i);
/** ml_sheet_insert_at: the same when it is known where it goes. */
void ml_sheet_insert_at (MlSheet *sheet, int i, int x, int y, MlForm *form);
/** ml_sheet_candidates: places of spot i in `form` where pin lines up with a placed pin; appends (x, y) to out. */
void ml_sheet_candidates (const MlForm *form, int pin, MlFormPin to, GArray *out);
/** ml_sheet_special_candidates: what no single pin proposes: a capacitor hangs from the bar above its chip, a connector stands at the sheet's edge
 * level with what it leads to. rest: the hull of all else. */
void ml_sheet_special_candidates (const MlSheet *sheet, int i, const MlForm *form, const MlCells *rest, GArray *out);
/** ml_sheet_anneal: moves per piece, temperatures x 20 (layout-anneal.c). */
void ml_sheet_anneal (MlSheet *sheet, guint moves, double hot, double cold, GCancellable *cancellable);
MlForm *ml_sheet_permuted (MlSheet *sheet, int i);
/** ml_sheet_fitted: a block's form with the pins of its left and right side in the order of what they lead to. */
MlForm *ml_sheet_fitted (MlSheet *sheet, int i);
/** ml_sheet_fit_block: gives a block that stands the order of pins that costs least, all else staying (layout-blocks.c). */
void ml_sheet_fit_block (MlSheet *sheet, int i);

/** ml_flow_find: levels (real) and which piece belongs to the right of which (layout-flow.c). Fills spots' wanted_x, flows and pulls. */
void ml_flow_find (MlSheet *sheet, int origin);

G_END_DECLS
