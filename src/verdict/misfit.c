/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How likely the readings are when the drawing is wrong: each by itself, partly anything, partly near what the drawing would give. */
#include "verdict/case.h"

#include "verdict/assumptions.h"

#include <math.h>

static double
normal (double x, double mean, double variance)
{
  return exp (-(x - mean) * (x - mean) / (2 * variance)) / sqrt (2 * G_PI * variance);
}

double
ml_case_misfit_density (MlCase *own, const MlTaken *taken, const double *values)
{
  const MlReadingPlace *place = &g_array_index (own->dictionary->places, MlReadingPlace, taken->place);
  const MlPrediction *healthy = ml_dictionary_predict (own->dictionary, ml_model_usual (own->dictionary->model), taken->place);
  gboolean volts = place->reads == ML_READS_VOLTS || place->reads == ML_READS_DIODE;
  double span = own->dictionary->model->conditions[place->condition].span_v * ml_assumption ("misfit.flat-span");
  double wide = ml_assumption (volts ? "misfit.healthy-volts" : place->reads == ML_READS_AMPS ? "misfit.healthy-amps" : "misfit.healthy-ohm");
  double narrow = ml_assumption (volts ? "misfit.fault-volts" : place->reads == ML_READS_AMPS ? "misfit.fault-amps" : "misfit.fault-ohm");
  double share = ml_assumption ("misfit.healthy-share"), sum = 0, weight = 0;

  if (!volts || span <= 0)
    span = taken->class.span;
  wide = wide * wide + ml_prediction_dot (healthy, healthy) + taken->variance;
  if (place->reads != ML_READS_OHMS)
    wide += share * share * healthy->value * healthy->value;
  share = place->reads == ML_READS_OHMS ? 0 : ml_assumption ("misfit.fault-share");
  for (guint i = 0; i < own->dictionary->n_early; i++)
    {
      double prior = ml_dictionary_hypothesis (own->dictionary, i)->prior * own->dictionary->items[i].share;

      if (isnan (values[i]))
        continue;
      sum += prior * normal (taken->observed, values[i], pow (narrow + share * fabs (values[i]), 2) + taken->variance);
      weight += prior;
    }
  /* Flat as far as the supplies reach: a wrong drawing gives no kilovolts. */
  return (fabs (taken->observed) <= span || !volts ? 1 : ml_assumption ("misread.beyond") * span * span / (taken->observed * taken->observed))
           * ml_assumption ("misfit.flat") / span
         + ml_assumption ("misfit.healthy") * normal (taken->observed, healthy->value, wide)
         + (weight > 0 ? ml_assumption ("misfit.faults") * sum / weight : 0);
}

static double
look_up_density (MlCase *own, const MlTaken *taken)
{
  guint n = own->dictionary->n_early;
  g_autofree double *values = g_new (double, MAX (n, 1));

  for (guint i = 0; i < n; i++)
    {
      const MlPrediction *fault = ml_dictionary_predict (own->dictionary, i, taken->place);
      values[i] = fault->valid ? fault->value : NAN;
    }
  return ml_case_misfit_density (own, taken, values);
}

double
ml_case_misfit (MlCase *own, GArray *known)
{
  double sum = 0;

  for (guint i = 0; i < own->taken->len; i++)
    {
      double ln = i < known->len ? g_array_index (known, double, i) : log (look_up_density (own, &g_array_index (own->taken, MlTaken, i)));

      if (i == known->len)
        g_array_append_val (known, ln);
      sum += ln;
    }
  return sum;
}
