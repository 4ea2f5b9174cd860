/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One call of ml_layout, for the files that share the work. */
#pragma once

#include "drawing/layout-keep.h"
#include "drawing/layout-plan.h"

G_BEGIN_DECLS

typedef struct
{
  MlCircuit *circuit;
  const MlLayoutOptions *options;
  MlKept *kept;           /* parts that stay where they are */
  GCancellable *cancellable;
  int span;
  GThread *caller;        /* the one thread that tells how far it is */
  double *told;           /* what was told last */
} MlLayoutJob;

#define ML_LAYOUT_LARGE 200 /* parts */
#define ML_LAYOUT_CROWD 560 /* pieces: 500 parts, some of whose pins stand alone; beyond, nothing is put in between what stands */

/* Shares of the whole: when all is placed, routed, and drawn. */
#define ML_LAYOUT_PLACED 0.5
#define ML_LAYOUT_ROUTED 0.8

static inline gboolean
ml_layout_is_cancelled (const MlLayoutJob *job)
{
  return job->cancellable != NULL && g_cancellable_is_cancelled (job->cancellable);
}

/* Boards so large that care costs more than it brings. */
static inline gboolean
ml_layout_is_large (const MlLayoutJob *job)
{
  return job->circuit->n_parts > ML_LAYOUT_LARGE;
}

/* The first drawing of a large board: something to look at while the final one is made. */
static inline gboolean
ml_layout_is_hurried (const MlLayoutJob *job)
{
  return ml_layout_is_large (job) && job->options->effort < 2;
}

/** ml_layout_tell: how much is done, to whoever asked for the drawing; of large boards only, and from the thread that asked only. */
void ml_layout_tell (const MlLayoutJob *job, double share);
/** ml_layout_as_reopened: the scene as a file brings it back, parted along a line if `parting` is given (else NULL). */
MlScene *ml_layout_as_reopened (const MlLayoutJob *job, const MlScene *scene, const MlParting *parting);
/** ml_layout_best_of: the best of so many drawings of the whole sheet and so many, at most ML_LAYOUT_STAGE_SIZES, stage by stage (layout-contest.c). */
MlScene *ml_layout_best_of (const MlLayoutJob *job, guint n_whole, guint n_staged);
#define ML_LAYOUT_STAGE_SIZES 3

/** ml_layout_plain_sheet: all parts by themselves, what is kept in its place. */
MlSheet *ml_layout_plain_sheet (const MlLayoutJob *job, MlKit *kit);

/* From places to a scene: layout-finish.c. */
/** ml_layout_routed: a router that has joined what stands on the sheet; new. */
MlRouter *ml_layout_routed (const MlLayoutJob *job, MlSheet *sheet);
/** ml_layout_finish: the scene, with room made for texts and flags where that may be. Takes router over. */
MlScene *ml_layout_finish (const MlLayoutJob *job, MlSheet *sheet, MlRouter *router);

/* Too many parts to weigh one against the other: layout-rows.c. */
/** ml_layout_put_in_rows: what does not stand yet, in order of name. ml_layout_in_rows: a scene of nothing but that. */
void ml_layout_put_in_rows (MlSheet *sheet);
MlScene *ml_layout_in_rows (const MlLayoutJob *job);

/** ml_layout_rating: which of several drawings of a board is best: the lower the better (layout-rating.c). look: of the pieces it is made of. */
double ml_layout_rating (const MlScene *scene, double look);
/** ml_layout_bonus_alike: what is taken off the look for parts that are drawn like others built like them. */
double ml_layout_bonus_alike (const MlLayoutJob *job, const MlKit *kit);

G_END_DECLS
