/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts that stay where they are: by their `place`, or because they stood there in the scene before. */
#pragma once

#include "drawing/layout-plan.h"

G_BEGIN_DECLS

typedef struct _MlKept MlKept;

/* Everything from a grid line on stands further to the right (axis 0) or further down (1). */
typedef struct { int axis, line, by; } MlParting;

/** ml_kept_new: for the plain pieces of kit. previous may be NULL. */
MlKept *ml_kept_new (const MlKit *kit, const MlScene *previous);
/** ml_kept_reopened: as ml_kept_new would find them once the scene's places, and the pins of its blocks, were written and read. */
MlKept *ml_kept_reopened (const MlKit *kit, const MlScene *scene);
void ml_kept_free (MlKept *kept);
guint ml_kept_n (const MlKept *kept);
/** ml_kept_span: the longer side of what is kept, g. */
int ml_kept_span (const MlKept *kept);
/** ml_kept_apply: puts the kept pieces onto a sheet of plain pieces, fixed. */
void ml_kept_apply (const MlKept *kept, MlSheet *sheet);
/** ml_kept_part: what is kept is parted at a line of the scene's. Apply, undo: on a sheet, whose raster does not see it; moves: whether that piece does. */
void ml_kept_part (MlKept *kept, const MlParting *parting);
void ml_parting_apply (const MlParting *parting, MlSheet *sheet);
void ml_parting_undo (const MlParting *parting, MlSheet *sheet);
gboolean ml_parting_moves (const MlParting *parting, const MlSpot *spot);
/** ml_kept_override: part (circuit's) is to stand at place. */
void ml_kept_override (MlKept *kept, const MlKit *kit, int part, const MlPlace *place);

/* What the layout keeps beside a scene. */
typedef struct { double *net_v; gboolean show_generated; } MlSceneState;
void ml_scene_state_set (MlScene *scene, const double *net_v, gboolean show_generated);
const MlSceneState *ml_scene_state_get (const MlScene *scene);

G_END_DECLS
