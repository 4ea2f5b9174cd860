/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the painter's files share. */
#pragma once

#include "drawing/paint-text.h"
#include "drawing/symbol-geometry.h"

G_BEGIN_DECLS

#define ML_WIRE_WIDTH 0.13   /* g */
#define ML_LEAD_WIDTH 0.07
#define ML_LEAD_DOT_RADIUS 0.16
#define ML_SYMBOL_WIDTH 0.14
#define ML_BAR_WIDTH 0.22
#define ML_DOT_RADIUS 0.28

static inline void
ml_paint_colour (cairo_t *cr, const MlColour *colour)
{
  cairo_set_source_rgb (cr, colour->r, colour->g, colour->b);
}

/** ml_paint_palette: for the marks on a scene: on the picture of a board they are cased. */
static inline const MlPalette *
ml_paint_palette (const MlScene *scene, const MlPaintStyle *style)
{
  return scene->picture != NULL ? ml_palette_over_photo (style->paper) : ml_palette (style->paper);
}

static inline MlBox
ml_box_grown (MlBox box, double by)
{
  return (MlBox) { box.x0 - by, box.y0 - by, box.x1 + by, box.y1 + by };
}

static inline MlBox
ml_box_union (MlBox a, MlBox b)
{
  return (MlBox) { MIN (a.x0, b.x0), MIN (a.y0, b.y0), MAX (a.x1, b.x1), MAX (a.y1, b.y1) };
}

static inline gboolean
ml_box_meets (const MlBox *a, const MlBox *b)
{
  return a->x0 < b->x1 && b->x0 < a->x1 && a->y0 < b->y1 && b->y0 < a->y1;
}

static inline MlBox
ml_box_of_points (MlPoint a, MlPoint b)
{
  return (MlBox) { MIN (a.x, b.x), MIN (a.y, b.y), MAX (a.x, b.x), MAX (a.y, b.y) };
}

/** ml_paint_inner_end: where the lead of a pin ends at the body or box of its symbol; the pin itself when it lies within. */
MlPoint ml_paint_inner_end (const MlScene *scene, const MlScenePin *pin);
/** ml_paint_link_points: where the mark of a suspected or possible link runs; FALSE when there is none or its nets are not drawn. */
gboolean ml_paint_link_points (const MlScene *scene, const MlLinkVerdict *link, MlPoint *ret_a, MlPoint *ret_b);
/** ml_paint_rounded: a rounded rectangle as a path. */
void ml_paint_rounded (cairo_t *cr, const MlBox *box, double radius);
/** ml_paint_label_on_patch: a label again, on a patch of paper, where a mark or a band has been laid over it. */
void ml_paint_label_on_patch (cairo_t *cr, const MlScene *scene, guint index, const MlPaintStyle *style);
/** ml_paint_artwork: the file that stands for a symbol of the scene: finer than its geometry, which many files share. Switches and contacts as
 *  they stand in style's condition. */
const char *ml_paint_artwork (const MlScene *scene, const MlSceneSymbol *symbol, const MlPaintStyle *style);
/** ml_paint_link_end: where the dashed link from a coil ends: at the blade of its contact, wherever that stands. */
MlPoint ml_paint_link_end (const MlScene *scene, const MlSceneLink *link, const MlPaintStyle *style);

G_END_DECLS
