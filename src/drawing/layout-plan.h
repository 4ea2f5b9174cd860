/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A plan: pieces with their routed wires as plain geometry, which can still be pushed together. */
#pragma once

#include "drawing/route.h"

G_BEGIN_DECLS

typedef struct { int net, x0, y0, x1, y1; } MlPlanWire; /* x0 <= x1, y0 <= y1; from vertex to vertex */
typedef struct { int net, x, y; } MlPlanDot;
typedef struct { int net, x, y; MlSide side; MlFlagKind kind; } MlPlanFlag;

typedef struct
{
  MlSheet *sheet;  /* borrowed */
  GArray *wires, *dots, *flags;
} MlLayoutPlan;

MlLayoutPlan *ml_layout_plan_new (MlSheet *sheet, const MlRouter *router);
void ml_layout_plan_free (MlLayoutPlan *plan);
/** ml_layout_plan_router: a router with the plan's wires as they lie now; their costs are not known. */
MlRouter *ml_layout_plan_router (const MlLayoutPlan *plan, GCancellable *cancellable);
/** ml_layout_plan_compact: takes out grid lines that nothing but crossing wires need. ml_layout_plan_slide: loose clusters move up and left. */
void ml_layout_plan_compact (MlLayoutPlan *plan);
void ml_layout_plan_slide (MlLayoutPlan *plan);
/**
 * ml_layout_plan_join_touching: groups (drawing/groups.h) of what shares a grid point of the same net. Numbered: spots; wires, per_wire (1, or 2: each end
 * for itself) each; flags; dots.
 */
void ml_layout_plan_join_touching (const MlLayoutPlan *plan, guint per_wire, guint *parent);
/** ml_layout_plan_straighten: takes out small steps of wires by moving what hangs on one side of them; unless parts may move, wires and flags only. */
void ml_layout_plan_straighten (MlLayoutPlan *plan, gboolean parts_move);
MlBox ml_layout_plan_flag_box (const MlCircuit *circuit, const MlPlanFlag *flag);

/** ml_layout_plan_to_scene: everything but the labels. */
MlScene *ml_layout_plan_to_scene (const MlLayoutPlan *plan);
typedef enum
{
  ML_LABELS_CHOOSY,     /* a text far from its part, or behind something, has failed like one that lies on something */
  ML_LABELS_CONTENT,
  ML_LABELS_LAST_RESORT /* a text that lies on something loses its value, or goes */
} MlLabelsCare;
/**
 * ml_labels_place: gives a scene its labels anew. Returns the parts (board's) whose label has failed, -1 terminated, new; NULL when there
 * are none.
 */
int *ml_labels_place (MlScene *scene, gboolean show_generated, MlLabelsCare care);
/** ml_scene_inks: boxes of a symbol that text must keep off, leads too; of MlBox, appended. */
void ml_scene_inks (const MlScene *scene, guint symbol, GArray *ret_boxes);
void ml_scene_extend (MlScene *scene);

G_END_DECLS
