/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The geometry of every symbol, shared by layout and painter: pins, cells that no wire may use, ink, and the name of the artwork.
 * Lengths in g, x to the right, y down, before turn and mirror. Proportions from memory of IEC 60617. */
#pragma once

#include "drawing/scene.h"

G_BEGIN_DECLS

#define ML_SYMBOL_MAX_PINS 5
#define ML_SYMBOL_MAX_CORES 5
#define ML_SYMBOL_MAX_INKS 12

#define ML_TEXT_HEIGHT 1.1  /* g: size of designators and values */
#define ML_TEXT_LINE 1.25   /* g: from line to line */
#define ML_TEXT_WIDEST 18.0 /* g: longer names are cut, ml_text_fitted */
#define ML_TERMINAL_RADIUS 0.4  /* g: the ring lies behind `at`, touching it: its centre is at - radius x side */
#define ML_TESTPOINT_RADIUS 0.35

typedef struct
{
  const char *name, *also; /* the part's pin word; also: second word (capacitor: plus, minus), or NULL */
  int x, y;                /* where wires join */
  MlSide side;             /* the way a wire leaves */
} MlSymbolPin;

typedef struct { int x0, y0, x1, y1; } MlCells; /* nodes x0..x1, y0..y1, both ends belong to it */

/** ml_cells_widen: hull, until it holds by too. */
static inline void
ml_cells_widen (MlCells *hull, const MlCells *by)
{
  hull->x0 = MIN (hull->x0, by->x0);
  hull->y0 = MIN (hull->y0, by->y0);
  hull->x1 = MAX (hull->x1, by->x1);
  hull->y1 = MAX (hull->y1, by->y1);
}

typedef struct
{
  const char *name; /* data/symbols/NAME.svg; for ML_SHAPE_BOX no artwork is read */
  MlShape shape;
  guint n_pins, n_cores, n_inks;
  MlSymbolPin pins[ML_SYMBOL_MAX_PINS];
  MlCells cores[ML_SYMBOL_MAX_CORES];
  MlBox inks[ML_SYMBOL_MAX_INKS]; /* what text must keep off, leads left out; ML_SHAPE_BOX: the first one is the rectangle */
} MlSymbolGeometry;

/** ml_symbol_geometry_n / ml_symbol_geometry_at: the whole table. */
guint ml_symbol_geometry_n (void);
const MlSymbolGeometry *ml_symbol_geometry_at (guint i);
/** ml_symbol_geometry: by artwork name; NULL when there is none (a block's or connector's rectangle depends on its pins). */
const MlSymbolGeometry *ml_symbol_geometry (const char *name);
/**
 * ml_symbol_name: the artwork of a part as drawn at `place` (NULL: upright). *ret_place (may be NULL) is the transform under which
 * the artwork is drawn; it differs from `place` for amplifiers only: turned upside down they keep the positive supply on top and
 * exchange the inputs, so that either input can be the upper one. "terminal", "testpoint", "connector", "block" have no artwork file.
 */
const char *ml_symbol_name (const MlPart *part, const MlPlace *place, MlPlace *ret_place);
/** ml_symbol_name_of_kind: the artwork for lists and drag images. */
const char *ml_symbol_name_of_kind (MlKind kind);
/** ml_symbol_place_of: the inverse of what ml_symbol_name does to the place. */
MlPlace ml_symbol_place_of (const char *name, const MlPlace *drawn);
/** ml_symbol_ink: the hull of a symbol's ink. */
MlBox ml_symbol_ink (const MlSymbolGeometry *geometry);

/** ml_place_point: mirrored left to right first, then turned clockwise, then shifted. */
MlPoint ml_place_point (const MlPlace *place, double x, double y);
MlSide ml_place_side (const MlPlace *place, MlSide side);
MlBox ml_place_box (const MlPlace *place, MlBox box);
/** ml_side_step: the unit vector of a side. */
MlPoint ml_side_step (MlSide side);

/**
 * ml_text_width: width in g of UTF-8 text at a height in g, from a table of advance widths of a common sans-serif, so that layout needs
 * no font. The painter scales a text down when its font is wider than the box.
 */
double ml_text_width (const char *text, double height);
/** ml_text_fitted: the text, or so much of its beginning and of its end as is no wider than widest g, with an ellipsis between: names that
 *  begin alike mostly differ at their end. New string. */
char *ml_text_fitted (const char *text, double height, double widest);

G_END_DECLS
