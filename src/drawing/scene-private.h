/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a scene is made: for the layout only. */
#pragma once

#include <math.h>

#include "drawing/scene.h"
#include "drawing/symbol-geometry.h"

G_BEGIN_DECLS

/* A scene with what the layout keeps beside it for the next edit. */
typedef struct
{
  MlScene scene; /* first: a scene is its own box */
  gpointer state;
  GDestroyNotify free_state;
} MlSceneOwned;

/** ml_scene_new: an empty scene of a board; arrays are filled in by the layout before anyone else sees it. */
MlScene *ml_scene_new (MlBoard *board);

static inline gboolean
ml_boxes_meet (const MlBox *a, const MlBox *b)
{
  return a->x0 < b->x1 - 1e-6 && b->x0 < a->x1 - 1e-6 && a->y0 < b->y1 - 1e-6 && b->y0 < a->y1 - 1e-6;
}

/** ml_boxes_gap: from one box to the other on the shortest way, g; 0 where they meet. */
static inline double
ml_boxes_gap (const MlBox *a, const MlBox *b)
{
  double x = MAX (MAX (a->x0 - b->x1, b->x0 - a->x1), 0), y = MAX (MAX (a->y0 - b->y1, b->y0 - a->y1), 0);

  return sqrt (x * x + y * y); /* asked for very often, of figures that hypot () would not square differently */
}

/** ml_box_meets_line: whether the straight line from a to b passes through the box. */
gboolean ml_box_meets_line (const MlBox *box, MlPoint a, MlPoint b);

G_END_DECLS
