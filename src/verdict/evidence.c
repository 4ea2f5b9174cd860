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

/* Rows of readings, in steps of as many numbers as are worked on at once. */
#define N ML_NODAL_PART

typedef MlNodalPart Wide;

static inline guint
padded (guint n)
{
  return (n + N - 1) / N * N;
}

/* Column by column, each taken from those after it: the sums that a row would wait for go side by side. columns: n padded (n), of L one behind the other,
 * all 0; what stands above the diagonal means nothing. */
ML_NODAL_WIDE static gboolean
factorise (const double *covariance, guint n, double *columns, double *l)
{
  const guint width = padded (n);

  for (guint i = 0; i < n; i++)
    for (guint j = 0; j <= i; j++)
      columns[j * width + i] = covariance[i * n + j];
  for (guint k = 0; k < n; k++)
    {
      double *own = columns + k * width, root = sqrt (own[k]);
      Wide left, taken;

      if (!(own[k] > 0))
        return FALSE;
      for (guint i = k / N * N; i < width; i += N)
        {
          memcpy (&left, own + i, sizeof left);
          left /= root;
          memcpy (own + i, &left, sizeof left);
        }
      own[k] = root;
      for (guint j = k + 1; j < n; j++)
        for (guint i = j / N * N; i < width; i += N)
          {
            memcpy (&left, columns + j * width + i, sizeof left);
            memcpy (&taken, own + i, sizeof taken);
            left -= own[j] * taken;
            memcpy (columns + j * width + i, &left, sizeof left);
          }
      for (guint i = k; i < n; i++)
        l[i * n + k] = own[i];
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

/* The rows of L^-1, one behind the other. rows: n padded (n), scratch. */
ML_NODAL_WIDE static void
invert (const double *l, guint n, double *rows, double *white)
{
  const guint width = padded (n);

  memset (rows, 0, n * width * sizeof *rows);
  for (guint i = 0; i < n; i++)
    {
      double *row = rows + i * width;
      Wide left, above;

      for (guint k = 0; k < i; k += N)
        {
          memcpy (&left, row + k, sizeof left);
          for (guint j = k; j < i; j++) /* those before it have nothing there */
            {
              memcpy (&above, rows + j * width + k, sizeof above);
              left -= l[i * n + j] * above;
            }
          left /= l[i * n + i];
          memcpy (row + k, &left, sizeof left);
        }
      row[i] = 1 / l[i * n + i];
      memcpy (white + ml_white_at (i), row, (i + 1) * sizeof *row);
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
  g_autofree double *l = g_new0 (double, MAX (n * n, 1)), *columns = g_new0 (double, n * padded (n) + 1);
  MlEvidence own = { .n = n };

  if (!factorise (covariance, n, columns, l))
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
  own.white = g_new (double, MAX (ml_white_at (n), 1));
  invert (own.factor, n, columns, own.white);
  mix_in (&own, classes, mild, gross);
  *ret_evidence = own;
  return TRUE;
}

guint
ml_evidence_posteriors_room (guint n_unknowns)
{
  return padded (n_unknowns);
}

ML_NODAL_WIDE void
ml_evidence_posteriors (const double *white, const double *a, const double *of, guint n, const double *slopes, guint room, double *ret_mean,
                        double *ret_variance, double *ret_along)
{
  for (guint u = 0; u < room; u += N)
    {
      Wide mean = { 0 }, along = { 0 }, variance = mean + 1.0;

      for (guint i = 0; i < n; i++)
        {
          const double *row = white + ml_white_at (i);
          Wide y = { 0 }, slope = { 0 };

          for (guint k = 0; k <= i; k++)
            {
              memcpy (&slope, slopes + k * room + u, sizeof slope);
              y += row[k] * slope;
            }
          variance -= y * y;
          mean += slope * a[i];
          along += slope * of[i];
        }
      memcpy (ret_mean + u, &mean, sizeof mean);
      memcpy (ret_variance + u, &variance, sizeof variance);
      memcpy (ret_along + u, &along, sizeof along);
    }
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
