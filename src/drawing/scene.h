/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The scene: the geometry of one circuit drawing, made by layout, read by the painter, the hit test and the tests. Immutable once made.
 * Lengths in grid units g (2.5 mm), x to the right, y down; pins and wires lie on integers. */
#pragma once

#include <glib.h>

#include "board/board.h"

G_BEGIN_DECLS

typedef struct { double x, y; } MlPoint;
typedef struct { double x0, y0, x1, y1; } MlBox;
typedef enum { ML_SIDE_RIGHT, ML_SIDE_DOWN, ML_SIDE_LEFT, ML_SIDE_UP } MlSide;

typedef struct
{
  int part, pin, net; /* net -1: open */
  MlPoint at;         /* where wires join */
  MlSide side;        /* the way a wire leaves */
  int symbol;         /* index into symbols; of another section of the same chip where the two have a supply pin in common */
} MlScenePin;

typedef enum
{
  ML_SHAPE_SYMBOL,   /* data/symbols/NAME.svg under the transform of place */
  ML_SHAPE_BOX,      /* block, connector, regulator, ...: a rectangle with pin names inside */
  ML_SHAPE_TERMINAL, /* one pin of a connector drawn by itself: a ring with its name */
  ML_SHAPE_PADS      /* on a picture of the real board: the pads that are pinned */
} MlShape;

typedef struct
{
  int part;
  MlShape shape;
  const char *name;   /* symbol file without .svg: "npn", "capacitor-polar", "coil-motor" */
  MlPlace place;      /* origin: pin 1 of two-pin kinds, see symbol-geometry.h */
  MlBox body;         /* ink of the body, without labels */
  MlBox box;          /* ML_SHAPE_BOX: the rectangle */
  guint first_pin, n_pins; /* into pins */
} MlSceneSymbol;

typedef struct { int net; MlPoint a, b; guint group; } MlSceneWire; /* horizontal or vertical; pieces of one net joined by copper on the sheet share a group */
typedef struct { int net; MlPoint at; } MlSceneDot;

typedef enum { ML_FLAG_REFERENCE, ML_FLAG_UP_RAIL, ML_FLAG_DOWN_RAIL, ML_FLAG_NET } MlFlagKind;
typedef struct { int net; MlFlagKind kind; MlPoint at; MlSide side; guint group; MlBox box; gboolean short_name; } MlSceneFlag; /* box: with its text */

typedef enum { ML_LABEL_NAME, ML_LABEL_VALUE, ML_LABEL_NET, ML_LABEL_PIN } MlLabelKind;
typedef struct
{
  MlLabelKind kind;
  int part, pin, net; /* -1 where it does not apply */
  char *text;
  MlBox box;
  int align;          /* -1 left, 0 middle, 1 right within box */
  gboolean led;       /* a thin line leads to the part, which is too far off, or not the nearest */
  MlPoint lead[2];    /* from the text to a dot within the part */
} MlSceneLabel;

typedef struct { int part_a, part_b; MlPoint a, b; } MlSceneLink; /* dashed: a contact and its coil */

typedef struct _MlScenePicture MlScenePicture; /* drawing/photo-scene.h */

typedef struct _MlScene
{
  /*< read-only >*/
  MlBoard *board;
  MlSceneSymbol *symbols; guint n_symbols;
  MlScenePin *pins;       guint n_pins;
  MlSceneWire *wires;     guint n_wires;
  MlSceneDot *dots;       guint n_dots;
  MlSceneFlag *flags;     guint n_flags;
  MlSceneLabel *labels;   guint n_labels;
  MlSceneLink *links;     guint n_links;
  MlBox extent;           /* everything, labels too */
  gboolean in_rows;       /* so many parts that they were not laid out: they stand in rows, by name */
  MlScenePicture *picture; /* the picture of the real board that pins and parts lie on; NULL: a circuit drawing */
} MlScene;

MlScene *ml_scene_ref (MlScene *scene);
void ml_scene_unref (MlScene *scene);

/** ml_scene_pin: index of a part's pin in scene->pins, or -1. ml_scene_symbol: first symbol of a part, or -1. */
int ml_scene_pin (const MlScene *scene, int part, int pin);
int ml_scene_symbol (const MlScene *scene, int part);

typedef enum { ML_HIT_NOTHING, ML_HIT_PIN, ML_HIT_PART, ML_HIT_WIRE, ML_HIT_FLAG } MlHitKind;
typedef struct { MlHitKind kind; int part, pin, net; } MlHit;
/** ml_scene_hit: what lies at a point, pins before parts before wires; reach in g. */
MlHit ml_scene_hit (const MlScene *scene, double x, double y, double reach);
/** ml_scene_neighbour: the part or pin next to (part, pin) in a direction, for the arrow keys: along wires first; FALSE when there is none. */
gboolean ml_scene_neighbour (const MlScene *scene, int part, int pin, MlSide side, int *ret_part, int *ret_pin);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlScene, ml_scene_unref)
G_END_DECLS
