/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which of several drawings of a board is the best: the measure, and what the eye adds to it. */
#include "drawing/layout-job.h"
#include "drawing/measure-texts.h"

#define ALIKE 0.6 /* for all parts: what is built alike is found by its look */
#define HARD_FAULT 100
#define UNTOLD 2 /* a text left out */
#define STRAY 0.3 /* a name far from its part, or nearer to another */
#define MISREAD 0.6 /* one that the eye would give to another part */
#define INTERRUPTED 5.0 /* a name in the place of a wire, shared out among the parts: the eye must look for where it goes on */
#define STEP_ASIDE 8.0 /* a wire that steps aside by one step, shared out: it looks like a slip */

/* The share of the parts that are drawn like others that are built like them. */
static double
share_alike (const MlLayoutJob *job, const MlKit *kit)
{
  guint n = 0, i;

  for (i = 0; i < kit->composites->len; i++)
    {
      const MlPiece *composite = g_ptr_array_index (kit->composites, i);
      n += composite->is_bank ? composite->n_members : 0;
    }
  return n / (double) MAX (job->circuit->n_parts, 1);
}

double
ml_layout_bonus_alike (const MlLayoutJob *job, const MlKit *kit)
{
  return ALIKE * share_alike (job, kit);
}

double
ml_layout_rating (const MlScene *scene, double look)
{
  MlLayoutMeasure measure = ml_layout_measure (scene);

  return measure.score + look + HARD_FAULT * ml_layout_hard_faults (&measure) + UNTOLD * ml_texts_untold (scene)
         + STRAY * ml_texts_astray (scene) + MISREAD * ml_texts_misread (scene)
         + (INTERRUPTED * measure.signal_flags + STEP_ASIDE * measure.jogs) / MAX (scene->board->n_parts, 1)
         + ml_sheet_strip (scene->extent.x1 - scene->extent.x0, scene->extent.y1 - scene->extent.y0);
}
