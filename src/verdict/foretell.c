/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the next voltage will be if everything goes on as the readings so far have it. That is narrower than what a sound board may show: they have told
 * what the parts on this one are like. */
#include "verdict/assumptions.h"
#include "verdict/glance.h"
#include "verdict/judge-private.h"
#include "verdict/pairs.h"

#include <math.h>

typedef struct { double weight, sum, square; } Mixture;

static void
add (Mixture *mixture, MlCase *own, MlExpansion *at, guint place, double weight)
{
  double sigma, value;

  if (weight < ml_assumption ("foretell.least"))
    return;
  value = ml_case_fitted (own, at, place, &sigma);
  if (!isfinite (value))
    return;
  mixture->weight += weight;
  mixture->sum += weight * value;
  mixture->square += weight * (value * value + sigma * sigma);
}

static double
foretell (MlCase *own, guint place, double *ret_sigma)
{
  Mixture mixture = { 0 };
  double mean;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (own->probability[i] > 0)
      add (&mixture, own, ml_case_expansion (own, i), place, own->probability[i]);
  for (guint i = 0; i < own->pairs->len; i++)
    add (&mixture, own, g_array_index (own->pairs, MlPair, i).at, place, g_array_index (own->pairs, MlPair, i).probability);
  if (mixture.weight < ml_assumption ("foretell.sure"))
    return NAN;
  mean = mixture.sum / mixture.weight;
  *ret_sigma = sqrt (MAX (mixture.square / mixture.weight - mean * mean, 0));
  return mean;
}

double
ml_judge_foretell (MlJudge *judge, MlJob *job, int unit, guint pass, const MlLikelyPlace *at, double *ret_sigma)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlDictionary *dictionary = at->reads == ML_READS_VOLTS ? ml_judge_find (judge, job, &unit, &pass, NULL, NULL) : NULL;
  MlReading reading;
  MlReadingPlace place;
  double value = NAN;
  MlCase *own;

  *ret_sigma = NAN;
  if (dictionary)
    {
      own = ml_case_new (dictionary, job, unit, pass);
      own->goods = judge->goods;
      if (ml_case_as_reading (own, at, &reading) && ml_case_find_place (own, &reading, FALSE, &place) && ml_case_take_up (own))
        value = foretell (own, ml_dictionary_place (dictionary, &place), ret_sigma);
      ml_case_free (own);
    }
  ml_assumptions_use (before);
  return value;
}
