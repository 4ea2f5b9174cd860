/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The circuit with its marks painted once and kept, so that moving the pointer and the view cost no painting of symbols and texts. */
#pragma once

#include "desktop/viewport.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

/* What can be painted: version changes whenever it looks different. */
typedef struct
{
  MlBox extent; /* in g */
  guint version;
  MlPaper paper;
  void (*paint) (cairo_t *cr, double device_px_per_g, gpointer data); /* the context's unit is g */
  gpointer data;
} MlCanvasLayerSource;

typedef struct
{
  cairo_surface_t *surface; /* in device pixels */
  MlBox box;                /* what it shows, in g */
  /* what it was painted from */
  guint version;
  double zoom;
  int scale;
  MlPaper paper;
} MlCanvasLayer;

/**
 * ml_canvas_layer_paint: the source onto cr, whose unit is the view's pixel; from the kept surface when it still serves. moving: the zoom goes on
 * changing, so what was painted at another zoom is stretched rather than painted anew; to be painted once more when it has come to rest.
 */
void ml_canvas_layer_paint (MlCanvasLayer *self, cairo_t *cr, const MlCanvasLayerSource *source, const MlViewport *viewport, int scale,
                            gboolean moving);
void ml_canvas_layer_clear (MlCanvasLayer *self);

G_END_DECLS
