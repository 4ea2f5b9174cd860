/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/compare.h"

#include "verdict/assumptions.h"
#include "verdict/verdict-private.h"

#include <math.h>

#define MOST_PLACES 3

typedef struct { int reading, other; double there, off; } Difference;

static gint
by_difference (gconstpointer a, gconstpointer b)
{
  const Difference *x = a, *y = b;

  if (x->off != y->off)
    return x->off < y->off ? 1 : -1;
  return x->reading - y->reading;
}

/* Difference over spread: both meters' and what sound units differ by. */
static double
apart (const MlJob *job, const MlReading *a, const MlReading *b, double there)
{
  double least = ml_assumption (a->reads == ML_READS_AMPS ? "compare.amps" : "compare.volts"), share = ml_assumption ("compare.share");
  double size = MAX (fabs (a->measured.value), fabs (there));

  return fabs (a->measured.value - there)
         / sqrt (least * least + share * share * size * size + pow (ml_reading_sigma (job, a), 2) + pow (ml_reading_sigma (job, b), 2));
}

static void
compare_with (const MlCase *own, int unit, GArray *found)
{
  const MlJob *job = own->job;
  guint pass = ml_job_last_pass (job, unit);

  for (guint i = 0; i < own->taken->len; i++)
    {
      Difference difference = { .reading = g_array_index (own->taken, MlTaken, i).reading };
      const MlReading *here = &job->readings[difference.reading];
      gboolean swapped = FALSE;

      if (here->reads != ML_READS_VOLTS || g_array_index (own->taken, MlTaken, i).shown)
        continue;
      difference.other = ml_job_find_reading (job, unit, pass, here->condition, here->reads, &here->red, &here->black, &swapped);
      if (difference.other < 0 || job->readings[difference.other].measured.over)
        continue;
      difference.there = (swapped ? -1 : 1) * job->readings[difference.other].measured.value;
      difference.off = apart (job, here, &job->readings[difference.other], difference.there);
      if (difference.off > ml_assumption ("compare.differs"))
        g_array_append_val (found, difference);
    }
}

char *
ml_case_say_compared (const MlCase *own)
{
  g_autoptr (GArray) found = g_array_new (FALSE, FALSE, sizeof (Difference));
  GString *text;

  /* Units with other parts fitted differ rightly. */
  for (guint u = 0; u < own->job->n_units && !own->job->units[own->unit].n_differences; u++)
    if ((int) u != own->unit && own->job->units[u].state == ML_UNIT_STATE_GOOD && !own->job->units[u].n_differences)
      compare_with (own, (int) u, found);
  if (!found->len)
    return NULL;
  g_array_sort (found, by_difference);
  text = g_string_new ("These readings differ most between the units:");
  for (guint i = 0; i < MIN (found->len, MOST_PLACES); i++)
    {
      const Difference *difference = &g_array_index (found, Difference, i);
      const MlReading *here = &own->job->readings[difference->reading];
      g_autofree char *place = ml_reading_label (own->job, here), *value = ml_say_quantity (here->measured.value, ML_UNIT_VOLT);
      g_autofree char *there = ml_say_quantity (difference->there, ML_UNIT_VOLT);

      g_string_append_printf (text, "%s %s (%s here, %s on %s)", i ? "," : "", place, value, there,
                              own->job->units[own->job->readings[difference->other].unit].name);
    }
  g_string_append (text, "; look there.");
  return g_string_free (text, FALSE);
}
