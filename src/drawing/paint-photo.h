/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Painting a scene that is a picture of the real board. What the painter's files share, and the pad at the pointer. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

/** ml_paint_photo: the picture itself, or the blank sheet that stands for it. ml_paint_pads: pads with their letters and the parts' names. */
void ml_paint_photo (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style);
void ml_paint_pads (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style);
/** ml_paint_pad: one pad with its letters (drawn under the pointer while pins are placed). */
void ml_paint_pad (cairo_t *cr, const MlPart *part, int pin, MlPoint at, const MlPaintStyle *style);
/** ml_paint_photo_flow: the current through each part, pad to pad. pin_a: [part][pin], into the part. */
void ml_paint_photo_flow (cairo_t *cr, const MlScene *scene, double *const *pin_a, const MlPaintStyle *style);
/** ml_paint_patch: a patch of paper that text stands on, whatever lies under it. */
void ml_paint_patch (cairo_t *cr, MlBox box, const MlPaintStyle *style);

/* How much of the picture shines through a patch: faint text on it keeps 4.5:1 over black and over white. */
#define ML_PATCH_ALPHA 0.94

G_END_DECLS
