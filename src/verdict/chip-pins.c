/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What an unknown chip's pin does. The fit takes the resistance from a pin to the chip's supply and ground as one broad normal distribution of
 * its logarithm, so that it can be linearised. Pins are rather one of two things, an input that takes no current or an output with some
 * tens of ohms, and seldom something between or a dead short. That is put in afterwards: the evidence is multiplied by the mean, over what
 * the readings leave of the resistance, of the density it should have over the one it was given. Both are sums of normal densities, so the
 * mean is a closed form; pins are taken one by one, none for more than a little: it speaks for a chip that does what chips do, but the fit
 * was linear. A pin that the readings say nothing about changes nothing. */
#include "verdict/case.h"

#include "verdict/assumptions.h"

#include <math.h>

typedef struct { double share, mean, sigma; } State; /* in ln ohm */

enum { INPUT, OUTPUT, N_STATES };

static void
pin_states (State states[N_STATES])
{
  states[INPUT] = (State){ ml_assumption ("block.input"), log (ml_assumption ("block.input-ohm")), ml_assumption ("block.input-spread") };
  states[OUTPUT] = (State){ ml_assumption ("block.output"), log (ml_assumption ("block.output-ohm")), ml_assumption ("block.output-spread") };
}

/* Mean of N(z; mean, sigma) / N(z; 0, 1) over z ~ N(m, v), 0 < v <= 1. */
static double
mean_ratio (double m, double v, double mean, double sigma)
{
  double a = 1 / v + 1 / (sigma * sigma) - 1, b = m / v + mean / (sigma * sigma);

  return exp ((b * b / a - m * m / v - mean * mean / (sigma * sigma)) / 2) / sqrt (v * sigma * sigma * a);
}

/* The readings behind an expansion, without the one that seems not to belong to them: it would say something absurd of the pins. */
typedef struct
{
  const MlEvidence *evidence;
  const MlPrediction **predictions;
  int odd;      /* -1: none */
  double *of;   /* C^-1 e_odd */
  double *a;    /* C^-1 d without it */
} Behind;

static void
look_behind (MlCase *own, MlExpansion *at, const MlEvidence *evidence, Behind *ret)
{
  const guint n = evidence->n;

  *ret = (Behind){ evidence, g_new (const MlPrediction *, MAX (n, 1)), -1, g_new0 (double, MAX (n, 1)), g_memdup2 (evidence->a, n * sizeof (double)) };
  for (guint i = 0; i < n; i++)
    {
      ret->predictions[i] = ml_case_predict_at (own, at, g_array_index (own->taken, MlTaken, i).place);
      if (evidence->ln_gross[i] > (ret->odd < 0 ? 0 : evidence->ln_gross[ret->odd]))
        ret->odd = (int) i;
    }
  if (ret->odd < 0)
    return;
  ret->of[ret->odd] = 1;
  ml_evidence_solve (evidence, ret->of, ret->of);
  for (guint i = 0; i < n; i++)
    ret->a[i] -= ret->of[i] / ret->of[ret->odd] * evidence->a[ret->odd];
}

static void
behind_clear (Behind *own)
{
  g_free (own->predictions);
  g_free (own->of);
  g_free (own->a);
}

/* The slopes of the readings in one unknown; FALSE when all are 0. */
static gboolean
find_column (const Behind *own, guint unknown, double *column)
{
  gboolean any = FALSE;

  for (guint i = 0; i < own->evidence->n; i++)
    {
      const MlPrediction *prediction = own->predictions[i];

      column[i] = 0;
      for (guint k = 0; k < prediction->n && prediction->column[k] <= unknown; k++)
        if (prediction->column[k] == unknown)
          column[i] = prediction->slope[k];
      any |= column[i] != 0;
    }
  return any;
}

/* Mean and variance of an unknown's z as the readings leave it. */
static void
find_posterior (const Behind *own, const double *column, double *solved, double *ret_mean, double *ret_variance)
{
  double mean = 0, variance = 1, along = 0;

  ml_evidence_solve (own->evidence, column, solved);
  for (guint i = 0; i < own->evidence->n; i++)
    {
      mean += column[i] * own->a[i];
      variance -= column[i] * solved[i];
      along += column[i] * own->of[i];
    }
  if (own->odd >= 0)
    variance += along * along / own->of[own->odd];
  *ret_mean = mean;
  *ret_variance = CLAMP (variance, 1e-6, 1);
}

double
ml_case_pins_ln (MlCase *own, MlExpansion *at, const MlEvidence *evidence)
{
  const MlModel *model = own->dictionary->model;
  double most = ml_assumption ("block.pin-most"), shift = ((double) ml_model_level (model, own->dictionary->items[at->item].node) - 1) * ml_assumption ("block.node-step"), sum = 0;
  g_autofree double *column = g_new (double, MAX (evidence->n, 1)), *solved = g_new (double, MAX (evidence->n, 1));
  State states[N_STATES];
  Behind behind;

  if (model->n_levels < 2 || model->carried) /* a good unit knows better */
    return 0;
  pin_states (states);
  look_behind (own, at, evidence, &behind);
  for (guint u = 0; u < model->n_unknowns; u++)
    {
      const MlUnknown *unknown = &model->unknowns[u];
      double mean, variance, ratio = 1;

      if (!unknown->signal || !find_column (&behind, u, column))
        continue;
      find_posterior (&behind, column, solved, &mean, &variance);
      for (guint k = 0; k < N_STATES; k++)
        ratio += states[k].share * (mean_ratio (mean, variance, (states[k].mean - log (unknown->centre) - shift) / unknown->spread, states[k].sigma / unknown->spread) - 1);
      sum += MIN (log (ratio), most);
    }
  behind_clear (&behind);
  return sum;
}
