/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The marks laid over parts: each verdict has its own outline and glyph beside its colour. They work on any box, so that the picture of the
 * real board carries the same ones. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

#define ML_MARK_GAP 0.55 /* g: between a body and its mark */

/** ml_mark_verdict: the halo or ring round a body. Unproven: nothing. */
void ml_mark_verdict (cairo_t *cr, const MlBox *body, MlVerdictWord verdict, const MlPalette *palette);
/** ml_mark_extent: what that mark covers. */
MlBox ml_mark_extent (const MlBox *body, MlVerdictWord verdict);
/** ml_mark_selection: strong for the selection, thin for what lies under the pointer. */
MlBox ml_mark_selection_box (const MlBox *body); /* what the strong one covers, its inside too */
void ml_mark_selection (cairo_t *cr, const MlBox *body, gboolean strong, const MlPalette *palette);
/** ml_mark_chosen: corners round a part of the explanation being looked at. */
void ml_mark_chosen (cairo_t *cr, const MlBox *body, const MlPalette *palette);

#define ML_TIP_LENGTH 3.4 /* g: point to the end of the handle */
/** ml_mark_link: a link that is not drawn but may be there, from a to b; suspect or possible. */
void ml_mark_link (cairo_t *cr, MlPoint a, MlPoint b, MlVerdictWord verdict, const MlPalette *palette);
/** ml_mark_tip: a probe whose point is at `at` and whose handle goes off at an angle (radians, clockwise from the right). */
void ml_mark_tip (cairo_t *cr, MlPoint at, double angle, gboolean red, const MlPalette *palette);
/** ml_mark_tip_box: what the tip covers. */
MlBox ml_mark_tip_box (MlPoint at, double angle);
/** ml_mark_taken: the small wedge that says a reading was taken here. */
void ml_mark_taken (cairo_t *cr, MlPoint at, double angle, gboolean red, const MlPalette *palette);

/** ml_flow_width: line weight in g for a current: logarithmic from 10 uA to 3 A; 0 below 1 uA. */
double ml_flow_width (double current_a);
/** ml_mark_arrow_head: a filled head in the flow's colour, its middle at `at`. */
void ml_mark_arrow_head (cairo_t *cr, MlPoint at, double angle, double size);

G_END_DECLS
