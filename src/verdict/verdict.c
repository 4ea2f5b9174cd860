/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/verdict.h"

#include "verdict/judge.h"
#include "verdict/verdict-private.h"

void
ml_fault_clear (MlFault *fault)
{
  g_clear_pointer (&fault->as, g_free);
}

MlFault
ml_fault_copy (const MlFault *fault)
{
  MlFault copy = *fault;

  copy.as = g_strdup (fault->as);
  return copy;
}

void
ml_operating_point_free (MlOperatingPoint *point)
{
  if (!point)
    return;
  g_free (point->error);
  g_free (point->net_v);
  for (guint i = 0; point->pin_a && point->pin_a[i]; i++)
    g_free (point->pin_a[i]);
  g_free (point->pin_a);
  g_free (point->part_w);
  g_free (point->pulled);
  g_free (point->supply_v);
  g_free (point->supply_a);
  g_free (point->limiting);
  g_free (point);
}

MlVerdict *
ml_verdict_new (MlJob *job, int unit, guint pass)
{
  MlVerdict *verdict = g_rc_box_new0 (MlVerdict);

  verdict->job = ml_job_ref (job);
  verdict->unit = unit;
  verdict->pass = pass;
  return verdict;
}

static void
clear_explanation (MlExplanation *explanation)
{
  for (guint i = 0; i < explanation->n_faults; i++)
    ml_fault_clear (&explanation->faults[i]);
  g_free (explanation->faults);
  g_free (explanation->tied);
  g_free (explanation->title);
  g_strfreev (explanation->reasons);
  g_free (explanation->refusing);
}

static void
clear_verdict (gpointer data)
{
  MlVerdict *verdict = data;

  for (guint i = 0; i < verdict->n_explanations; i++)
    clear_explanation (&verdict->explanations[i]);
  for (guint i = 0; i < verdict->n_readings; i++)
    g_free (verdict->readings[i].slip_text);
  g_free (verdict->condition_slip);
  for (guint i = 0; i < verdict->n_next; i++)
    {
      g_free (verdict->next[i].step);
      g_free (verdict->next[i].expect);
    }
  for (guint i = 0; i < verdict->n_fine; i++)
    ml_operating_point_free (verdict->fine[i]);
  g_free (verdict->fine);
  ml_found_unref (verdict->found);
  for (guint i = 0; i < verdict->n_blind; i++)
    g_free (verdict->blind[i].why);
  g_free (verdict->sentence);
  g_free (verdict->explanations);
  g_free (verdict->parts);
  g_free (verdict->links);
  g_free (verdict->readings);
  g_free (verdict->next);
  g_free (verdict->blind);
  g_free (verdict->compared);
  g_strfreev (verdict->cautions);
  ml_job_unref (verdict->job);
}

MlOperatingPoint *
ml_verdict_point (const MlVerdict *verdict, int condition)
{
  return verdict && condition >= 0 && (guint) condition < verdict->n_fine ? verdict->fine[condition] : NULL;
}

void
ml_verdict_unref (MlVerdict *verdict)
{
  if (verdict)
    g_rc_box_release_full (verdict, clear_verdict);
}
