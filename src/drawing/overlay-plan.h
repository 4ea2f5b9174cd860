/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything an overlay puts on a scene, placed: made once per painting, so that extent and painting agree. */
#pragma once

#include "drawing/note-text.h"
#include "drawing/notes.h"

G_BEGIN_DECLS

typedef struct { guint part; MlBox body; MlVerdictWord verdict; } MlPlanMark;
typedef struct { MlPoint at, point; double angle; gboolean red, taken; } MlPlanTip; /* point: where its tip is drawn */

typedef struct
{
  GArray *marks; /* MlPlanMark */
  GArray *tips;  /* MlPlanTip */
  GArray *notes; /* MlNote, beside texts */
  GArray *texts; /* MlNoteText */
  GArray *flow;  /* MlFlowPiece; NULL when no flow is shown */
  guint legend;  /* MlLegend */
  MlBox extent;  /* of scene, marks, tips and notes */
  MlBox ribbon;  /* empty when there is none */
} MlPlan;

MlPlan *ml_plan_new (const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style);
void ml_plan_free (MlPlan *plan);
/** ml_plan_paint: everything of the overlay but what the hand and the eye are at (selection, hover): lies still between changes. */
void ml_plan_paint (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPlan *plan, const MlPaintStyle *style);
/** ml_plan_paint_pointing: selection, what lies under the pointer, the parts of the explanation chosen. */
void ml_plan_paint_pointing (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style);
/** ml_plan_probe_point: where on the sheet a probe stands; one that may stand anywhere on its net goes close to its partner (or NULL), as a hand would
 * put it. FALSE when its net or part is not drawn. */
gboolean ml_plan_probe_point (const MlScene *scene, const MlProbe *probe, const MlProbe *partner, MlPoint *ret_point);
/** ml_plan_part_body: the nth of a part's symbols: one, or that of each pin of a connector drawn pin by pin; FALSE when there are not so many. */
gboolean ml_plan_part_body (const MlScene *scene, int part, guint nth, MlBox *ret_body);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlPlan, ml_plan_free)
G_END_DECLS
