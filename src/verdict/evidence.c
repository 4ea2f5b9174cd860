/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/evidence.h"

#include "nodal/factors.h"
#include "verdict/mix.h"

#include <math.h>
#include <string.h>

double
ml_ln_add (double a, double b)
{
  double high = MAX (a, b), low = MIN (a, b);

  return isfinite (high) ? high + log1p (exp (low - high)) : high;
}

static gboolean
factorise (const double *covariance, guint n, double *l)
{
  for (guint i = 0; i < n; i++)
    for (guint j = 0; j <= i; j++)
      {
        double sum = covariance[i * n + j];

        for (guint k = 0; k < j; k++)
          sum -= l[i * n + k] * l[j * n + k];
        if (i == j && !(sum > 0))
          return FALSE;
        l[i * n + j] = i == j ? sqrt (sum) : sum / l[j * n + j];
      }
  return TRUE;
}

static void
solve_factor (const double *l, guint n, const double *b, double *x)
{
  for (guint i = 0; i < n; i++)
    {
      double sum = b[i];
      for (guint k = 0; k < i; k++)
        sum -= l[i * n + k] * x[k];
      x[i] = sum / l[i * n + i];
    }
  for (guint i = n; i-- > 0;)
    {
      double sum = x[i];
      for (guint k = i + 1; k < n; k++)
        sum -= l[k * n + i] * x[k];
      x[i] = sum / l[i * n + i];
    }
}

void
ml_evidence_solve (const MlEvidence *evidence, const double *b, double *ret_x)
{
  g_autofree double *x = g_new (double, MAX (evidence->n, 1));

  solve_factor (evidence->factor, evidence->n, b, x);
  if (evidence->n)
    memcpy (ret_x, x, evidence->n * sizeof *x);
}

/* The rows of L^-1, one behind the other; white is 0. */
ML_NODAL_WIDE static void
invert (const double *l, guint n, double *white)
{
  for (guint i = 0; i < n; i++)
    {
      double *restrict row = white + ml_white_at (i);

      for (guint j = 0; j < i; j++)
        {
          const double *above = white + ml_white_at (j);

          for (guint k = 0; k <= j; k++)
            row[k] -= l[i * n + j] * above[k];
        }
      for (guint k = 0; k < i; k++)
        row[k] /= l[i * n + i];
      row[i] = 1 / l[i * n + i];
    }
}

static void
mix_in (MlEvidence *own, const MlReadingClass *classes, double mild, double gross)
{
  guint n = own->n;
  g_autoptr (MlMixClasses) mixed = ml_mix_classes_new (classes, n, mild, gross);
  g_autofree double *memory = g_new0 (double, 8 * n + 2);
  double *v = memory + 7 * n + 2;

  for (guint i = 0; i < n; i++)
    for (guint k = 0; k <= i; k++)
      v[k] += own->white[ml_white_at (i) + k] * own->white[ml_white_at (i) + k];
  own->ln = own->ln_good + ml_mix (own->a, v, own->white, mixed, n, mild, gross, memory).ln;
  for (guint i = 0; i < n; i++)
    own->ln_gross[i] = ml_mix_ln_gross (own->a[i], v[i], &mixed->each[i]);
}

gboolean
ml_evidence_weigh (const double *d, const double *covariance, const MlReadingClass *classes, guint n, double mild, double gross,
                   MlEvidence *ret_evidence)
{
  g_autofree double *l = g_new0 (double, MAX (n * n, 1));
  MlEvidence own = { .n = n };

  if (!factorise (covariance, n, l))
    return FALSE;
  own.a = g_new0 (double, MAX (n, 1));
  own.ln_gross = g_new0 (double, MAX (n, 1));
  own.factor = g_steal_pointer (&l);
  solve_factor (own.factor, n, d, own.a);
  own.ln_good = -(double) n / 2 * log (2 * G_PI);
  for (guint i = 0; i < n; i++)
    {
      own.chi2 += d[i] * own.a[i];
      own.ln_good -= log (own.factor[i * n + i]);
    }
  own.ln_good -= own.chi2 / 2;
  own.white = g_new0 (double, MAX (ml_white_at (n), 1));
  invert (own.factor, n, own.white);
  mix_in (&own, classes, mild, gross);
  *ret_evidence = own;
  return TRUE;
}

void
ml_evidence_clear (MlEvidence *evidence)
{
  g_clear_pointer (&evidence->a, g_free);
  g_clear_pointer (&evidence->factor, g_free);
  g_clear_pointer (&evidence->white, g_free);
  g_clear_pointer (&evidence->ln_gross, g_free);
}

double
ml_chi2_tail (double x, guint n)
{
  double half = x / 2, sum, term;

  if (x <= 0 || n == 0)
    return 1;
  if (n % 2 == 0)
    {
      sum = term = exp (-half);
      for (guint k = 1; k < n / 2; k++)
        sum += term *= half / k;
      return MIN (sum, 1);
    }
  sum = erfc (sqrt (half));
  term = 2 * sqrt (half / G_PI) * exp (-half);
  for (guint k = 1; k <= (n - 1) / 2; k++)
    {
      sum += term;
      term *= half / (k + 0.5);
    }
  return MIN (sum, 1);
}
