/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/judge.h"

static gboolean
judge_passes (MlRecord *self, MlJudge *judge, GCancellable *cancellable, GError **error)
{
  gboolean prepared = FALSE;

  for (guint i = 0; i < self->n_passes; i++)
    {
      g_autoptr (GError) trouble = NULL;

      if (!ml_job_has_readings (self->job, self->unit, i + 1))
        continue;
      if (prepared || (prepared = ml_judge_prepare (judge, NULL, NULL, cancellable, &trouble)))
        self->verdicts[i] = ml_judge_run (judge, self->job, self->unit, i + 1, 2, cancellable, &trouble);
      if (g_error_matches (trouble, G_IO_ERROR, G_IO_ERROR_CANCELLED))
        {
          g_propagate_error (error, g_steal_pointer (&trouble));
          return FALSE;
        }
      if (self->verdicts[i] == NULL)
        self->troubles[i] = g_strdup (trouble->message);
    }
  return TRUE;
}

static void
solve_conditions (MlRecord *self, MlJudge *judge)
{
  for (guint i = 0; i < self->n_points; i++)
    {
      self->points[i] = ml_judge_solve (judge, (int) i, NULL, 0, NULL);
      if (!self->points[i]->solved)
        g_clear_pointer (&self->points[i], ml_operating_point_free);
    }
}

MlRecord *
ml_record_new (MlJudge *judge, MlJob *job, int unit, GCancellable *cancellable, GError **error)
{
  MlRecord *self = g_new0 (MlRecord, 1);

  self->job = ml_job_ref (job);
  self->unit = unit;
  self->n_passes = job->units[unit].n_passes;
  self->verdicts = g_new0 (MlVerdict *, self->n_passes);
  self->troubles = g_new0 (char *, self->n_passes);
  self->n_points = job->board->n_conditions;
  self->points = g_new0 (MlOperatingPoint *, self->n_points);
  solve_conditions (self, judge);
  if (judge_passes (self, judge, cancellable, error))
    return self;
  ml_record_free (self);
  return NULL;
}

void
ml_record_free (MlRecord *self)
{
  for (guint i = 0; i < self->n_passes; i++)
    {
      g_clear_pointer (&self->verdicts[i], ml_verdict_unref);
      g_free (self->troubles[i]);
    }
  for (guint i = 0; i < self->n_points; i++)
    g_clear_pointer (&self->points[i], ml_operating_point_free);
  g_free (self->verdicts);
  g_free (self->troubles);
  g_free (self->points);
  ml_job_unref (self->job);
  g_free (self);
}
