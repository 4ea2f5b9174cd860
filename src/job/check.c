/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a job says that can hardly be meant: readings and observations that the condition or the part does not allow. */
#include "job/job-private.h"

#include <string.h>

static void
warn (const MlJob *job, MlDiagnostics *diagnostics, guint line, const char *text)
{
  ml_diagnostics_add (diagnostics, ml_text_name (job->text), line, 0, ML_SEVERITY_WARNING, "%s", text);
}

gboolean
ml_reading_needs_cold (const MlReading *reading)
{
  return reading->reads == ML_READS_OHMS || reading->reads == ML_READS_DIODE;
}

/* The meter sends its own current and takes every other for it; under power it shows anything, and may be harmed (common practice). */
static void
check_reading (const MlJob *job, const MlReading *reading, MlDiagnostics *diagnostics)
{
  const MlCondition *condition = &job->board->conditions[reading->condition];
  g_autofree char *text = NULL;

  if (!ml_reading_needs_cold (reading) || ml_condition_is_cold (condition))
    return;
  text = g_strdup_printf ("%s taken in condition %s, which has a supply: the verdict leaves it out. Take it in a condition without a supply, "
                          "with the capacitors discharged", reading->reads == ML_READS_OHMS ? "ohms" : "a diode test", condition->name);
  warn (job, diagnostics, reading->line, text);
}

static gboolean
lights (MlKind kind)
{
  return kind == ML_KIND_LED || kind == ML_KIND_LAMP || kind == ML_KIND_BLOCK;
}

static gboolean
moves (MlKind kind)
{
  return kind == ML_KIND_COIL || kind == ML_KIND_CONTACT || kind == ML_KIND_BLOCK;
}

gboolean
ml_observation_suits (MlKind kind, const char *what)
{
  if (g_str_equal (what, "lit") || g_str_equal (what, "dim") || g_str_equal (what, "dark"))
    return lights (kind);
  if (g_str_equal (what, "clicks") || g_str_equal (what, "silent"))
    return moves (kind);
  return TRUE;
}

static void
check_observation (const MlJob *job, const MlObservation *seen, MlDiagnostics *diagnostics)
{
  const MlPart *part = seen->part >= 0 ? &job->board->parts[seen->part] : NULL;
  g_autofree char *text = NULL;

  if (part == NULL || ml_observation_suits (part->kind->kind, seen->what))
    return;
  text = g_strdup_printf ("%s is %s, and '%s' is never seen of one: the verdict leaves this out", part->name, ml_kind_called (part->kind), seen->what);
  warn (job, diagnostics, seen->line, text);
}

void
ml_job_check (const MlJob *job, MlDiagnostics *diagnostics)
{
  for (guint i = 0; i < job->n_readings; i++)
    check_reading (job, &job->readings[i], diagnostics);
  for (guint i = 0; i < job->n_observations; i++)
    check_observation (job, &job->observations[i], diagnostics);
  ml_diagnostics_sort (diagnostics);
}
