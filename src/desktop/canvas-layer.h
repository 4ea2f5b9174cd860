/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The circuit painted once and kept, so that moving the pointer, the marks and the view cost no painting of symbols. */
#pragma once

#include "desktop/viewport.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

typedef struct
{
  cairo_surface_t *surface; /* in device pixels */
  MlBox box;                /* what it shows, in g */
  /* what it was painted from */
  const MlScene *scene; /* compared, never followed */
  guint version;
  double zoom;
  int scale;
  MlPaper paper;
} MlCanvasLayer;

/* The largest surface kept, in device pixels a side: beyond it only what is in view is painted. */
#define ML_CANVAS_LAYER_MAX 4096

/** ml_canvas_layer_paint: the scene onto cr, whose unit is the view's pixel; from the kept surface when it still serves. */
void ml_canvas_layer_paint (MlCanvasLayer *self, cairo_t *cr, const MlScene *scene, guint version, const MlViewport *viewport, int scale,
                            MlPaper paper);
void ml_canvas_layer_clear (MlCanvasLayer *self);

G_END_DECLS
