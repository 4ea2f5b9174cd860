/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How well one state of affairs fits the readings: residuals, covariance, evidence. */
#include "verdict/case.h"

#include "verdict/dot.h"
#include "verdict/mix.h"
#include "verdict/observe.h"

#include <math.h>

double
ml_prediction_dot (const MlPrediction *a, const MlPrediction *b)
{
  double sum = 0;

  for (guint i = 0, j = 0; i < a->n && j < b->n;)
    if (a->column[i] == b->column[j])
      sum += a->slope[i++] * b->slope[j++];
    else if (a->column[i] < b->column[j])
      i++;
    else
      j++;
  return sum;
}

/* A chip that hiccups gives averages that no fixed conductance gives: what hangs on it is known so much the worse. */
static double
hiccup (const MlCase *own, double value, double chopped)
{
  const MlCaseFigures *figures = &own->figures;
  double most = pow (figures->switching_v, 2) + pow (figures->switching_share * value, 2);

  return own->dictionary->model->any_switching ? most : MIN (most, pow (figures->hiccup * chopped, 2));
}

/* A node that nothing drives stands at 0 V whatever the model thinks of its parts: there it leaves out less. */
static double
volts_floor (const MlCaseFigures *figures, double value)
{
  double away = value * value / (value * value + figures->zero_scale * figures->zero_scale);

  return figures->zero_v * figures->zero_v * (1 - away) + figures->volts_v * figures->volts_v * away;
}

double
ml_case_floor (const MlCase *own, MlReads reads, double value, double chopped)
{
  const MlCaseFigures *figures = &own->figures;

  if (reads == ML_READS_OHMS)
    return 0.02 * 0.02;
  if (reads == ML_READS_AMPS)
    return figures->amps_a * figures->amps_a + figures->amps_share * figures->amps_share * value * value;
  return volts_floor (figures, value) + figures->volts_share * figures->volts_share * value * value + hiccup (own, value, chopped);
}

double
ml_case_spread (const MlCase *own, const MlPrediction *prediction, MlReads reads)
{
  return sqrt (ml_prediction_dot (prediction, prediction) + ml_case_floor (own, reads, prediction->value, prediction->chopped));
}

static const MlPrediction *
predict (MlCase *own, MlExpansion *expansion, const MlExpansion *start, guint place)
{
  if (expansion->second < 0 && expansion == own->dictionary->expansions[expansion->item])
    return ml_dictionary_predict (own->dictionary, expansion->item, place);
  return ml_expansion_predict (own->dictionary, expansion, place, start);
}

const MlPrediction *
ml_case_predict_at (MlCase *own, MlExpansion *at, guint place)
{
  return predict (own, at, NULL, place);
}

void
ml_case_predict_several (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const guint *places, guint n)
{
  if (expansion->second < 0 && expansion == own->dictionary->expansions[expansion->item])
    ml_dictionary_predict_all (own->dictionary, expansion->item, places, n);
  else
    ml_expansion_predict_all (own->dictionary, expansion, places, n, start);
}

static int
condition_of (const MlCase *own, guint taken)
{
  return g_array_index (own->dictionary->places, MlReadingPlace, g_array_index (own->taken, MlTaken, taken).place).condition;
}

/* Of one condition, or with -1 of all. */
static void
predict_taken (MlCase *own, MlExpansion *expansion, const MlExpansion *start, int condition)
{
  g_autofree guint *places = g_new (guint, MAX (own->taken->len, 1));
  guint n = 0;

  for (guint i = 0; i < own->taken->len; i++)
    if (condition < 0 || condition_of (own, i) == condition)
      places[n++] = g_array_index (own->taken, MlTaken, i).place;
  ml_case_predict_several (own, expansion, start, places, n);
}

void
ml_case_predict_taken (MlCase *own, MlExpansion *expansion, const MlExpansion *start)
{
  predict_taken (own, expansion, start, -1);
}

void
ml_case_predict_taken_with (MlCase *own, MlExpansion *expansion, const MlExpansion *start, guint taken)
{
  predict_taken (own, expansion, start, condition_of (own, taken));
}

static double
at_z (const MlPrediction *prediction, const double *z)
{
  return z ? ml_dot_at (prediction->slope, prediction->column, prediction->n, z) : 0;
}

/* J_a . J_b for all b of n, by columns. dense: n_columns, all 0 before and after. */
static void
dot_all (const MlPrediction *a, const MlPrediction **b, guint n, double *dense, double *ret)
{
  for (guint k = 0; k < a->n; k++)
    dense[a->column[k]] = a->slope[k];
  for (guint i = 0; i < n; i++)
    ret[i] = ml_dot_at (b[i]->slope, b[i]->column, b[i]->n, dense);
  for (guint k = 0; k < a->n; k++)
    dense[a->column[k]] = 0;
}

void
ml_case_residual (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const double *extra, double *ret_d, double *ret_covariance)
{
  guint n = own->taken->len;
  g_autofree const MlPrediction **predictions = g_new (const MlPrediction *, MAX (n, 1));
  g_autofree double *dense = g_new0 (double, own->dictionary->n_columns);

  ml_case_predict_taken (own, expansion, start);
  for (guint i = 0; i < n; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;

      predictions[i] = predict (own, expansion, start, taken->place);
      ret_d[i] = taken->observed - predictions[i]->value + at_z (predictions[i], expansion->z);
      dot_all (predictions[i], predictions, i + 1, dense, ret_covariance + i * n);
      for (guint j = 0; j < i; j++)
        ret_covariance[j * n + i] = ret_covariance[i * n + j];
      ret_covariance[i * n + i] += taken->variance + ml_case_floor (own, reads, predictions[i]->value, predictions[i]->chopped) + (extra ? extra[i] : 0);
      if (!predictions[i]->valid)
        ret_covariance[i * n + i] += pow (own->figures.unsolved_share * taken->class.span, 2);
    }
}

/* The slopes of a prediction in leakages, as one of them alone. */
static MlPrediction
leaks_of (const MlModel *model, const MlPrediction *prediction, guint *column, double *slope)
{
  MlPrediction leaks = { .column = column, .slope = slope };

  for (guint k = 0; k < prediction->n; k++)
    if (prediction->column[k] < model->n_unknowns && model->unknowns[prediction->column[k]].leak)
      {
        column[leaks.n] = prediction->column[k];
        slope[leaks.n++] = prediction->slope[k];
      }
  return leaks;
}

/* Whether leakage does more to a reading than half of what the model leaves out. */
static gboolean
leaks_matter (MlCase *own, MlExpansion *expansion)
{
  const double least = pow (own->figures.volts_v, 2) / 4;
  const MlModel *model = own->dictionary->model;

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlPrediction *prediction = predict (own, expansion, NULL, g_array_index (own->taken, MlTaken, i).place);
      double sum = 0;

      for (guint k = 0; k < prediction->n; k++)
        if (prediction->column[k] < model->n_unknowns && model->unknowns[prediction->column[k]].leak)
          sum += prediction->slope[k] * prediction->slope[k];
      if (sum > least)
        return TRUE;
    }
  return FALSE;
}

static void
take_leaks_out (MlCase *own, MlExpansion *expansion, double *covariance)
{
  guint n = own->taken->len, most = own->dictionary->n_columns;
  g_autofree const MlPrediction **predictions = g_new (const MlPrediction *, MAX (n, 1));
  g_autofree guint *column = g_new (guint, most);
  g_autofree double *slope = g_new (double, most), *off = g_new (double, MAX (n, 1)), *dense = g_new0 (double, most);

  for (guint i = 0; i < n; i++)
    {
      predictions[i] = predict (own, expansion, NULL, g_array_index (own->taken, MlTaken, i).place);
      MlPrediction leaks = leaks_of (own->dictionary->model, predictions[i], column, slope);

      dot_all (&leaks, predictions, i + 1, dense, off);
      for (guint j = 0; j <= i; j++)
        covariance[i * n + j] = covariance[j * n + i] -= off[j];
    }
}

/* Most boards leak nothing worth mentioning, some do: a net that floats at 0 V must not lose against one that is tied there. */
static void
mix_in_dry (MlCase *own, MlExpansion *expansion, const double *d, double *covariance, const MlReadingClass *classes, MlEvidence *evidence)
{
  double dry = own->figures.dry;
  MlEvidence without;

  if (!leaks_matter (own, expansion))
    return;
  take_leaks_out (own, expansion, covariance);
  if (!ml_evidence_weigh (d, covariance, classes, own->taken->len, own->figures.mild, own->figures.gross, &without))
    return;
  evidence->ln = ml_ln_add (evidence->ln + log (1 - dry), without.ln + log (dry));
  ml_evidence_clear (&without);
}

gboolean
ml_case_weigh (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const double *extra, MlEvidence *ret_evidence)
{
  guint n = own->taken->len;
  g_autofree double *d = g_new0 (double, MAX (n, 1));
  g_autofree double *covariance = g_new0 (double, MAX (n * n, 1));
  g_autofree MlReadingClass *classes = g_new0 (MlReadingClass, MAX (n, 1));

  ml_case_residual (own, expansion, start, extra, d, covariance);
  for (guint i = 0; i < n; i++)
    classes[i] = g_array_index (own->taken, MlTaken, i).class;
  if (!ml_evidence_weigh (d, covariance, classes, n, own->figures.mild, own->figures.gross, ret_evidence))
    return FALSE;
  mix_in_dry (own, expansion, d, covariance, classes, ret_evidence);
  ret_evidence->ln += ml_case_pins_ln (own, expansion, ret_evidence);
  return TRUE;
}
