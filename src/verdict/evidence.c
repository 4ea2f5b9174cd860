/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/evidence.h"

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

/* Change of ln density when the variance of a reading grows by D: rank one, so only a = (C^-1 d)_r and v = (C^-1)_rr are needed. */
static double
ln_mild (double a, double v, double added)
{
  return -log1p (added * v) / 2 + a * a * added / (2 * (1 + added * v));
}

/* The same when the reading carries no information: its own density taken out, 1/span put in. */
static double
ln_gross (double a, double v, double span)
{
  return a * a / (2 * v) - log (v) / 2 + log (2 * G_PI) / 2 - log (span);
}

/* ln of "this reading is mild" and "gross" relative to good, for the given a and v. */
static void
alternatives (double a, double v, const MlReadingClass *class, const double ln_odds[2], double ret[2])
{
  ret[0] = ln_mild (a, v, class->mild_variance) + ln_odds[0];
  ret[1] = ln_gross (a, v, class->span) + ln_odds[1] - (class->seldom > 0 ? log (class->seldom) : 0);
}

/* ln of the sum of e^ln[n] */
static double
ln_sum (const double *ln, guint n)
{
  double most = -INFINITY, sum = 0;

  for (guint i = 0; i < n; i++)
    most = MAX (most, ln[i]);
  if (!isfinite (most))
    return most;
  for (guint i = 0; i < n; i++)
    sum += exp (ln[i] - most);
  return most + log (sum);
}

/* Where row i of L^-1 begins: rows one behind the other, each to its diagonal. */
static guint
row_at (guint i)
{
  return i * (i + 1) / 2;
}

/* C^-1 = L^-T L^-1: its diagonal, or one column, from the rows of L^-1. */
static void
diagonal_of_inverse (const double *white, guint n, double *ret)
{
  memset (ret, 0, n * sizeof *ret);
  for (guint i = 0; i < n; i++)
    for (guint k = 0; k <= i; k++)
      ret[k] += white[row_at (i) + k] * white[row_at (i) + k];
}

static void
column_of_inverse (const double *white, guint n, guint column, double *ret)
{
  memset (ret, 0, n * sizeof *ret);
  for (guint i = column; i < n; i++)
    for (guint k = 0; k <= i; k++)
      ret[k] += white[row_at (i) + column] * white[row_at (i) + k];
}

/* Row n of L^-1 from row n of L, the earlier ones being there. */
static void
invert_row (const double *l, guint n, double *white)
{
  double *row = white + row_at (n);

  for (guint k = 0; k <= n; k++)
    row[k] = 0;
  for (guint j = 0; j < n; j++)
    for (guint k = 0; k <= j; k++)
      row[k] -= l[j] * white[row_at (j) + k];
  for (guint k = 0; k < n; k++)
    row[k] /= l[n];
  row[n] = 1 / l[n];
}

/* Sum over "all good", every single alternative, and every second alternative on top of the best first one. scratch: 6 n + 1. */
static void
mix (MlEvidence *own, const double *white, const MlReadingClass *classes, double mild, double gross, double *scratch)
{
  guint n = own->n, best = 0, n_ln = 0;
  double ln_odds[2] = { log (mild / (1 - mild - gross)), log (gross / (1 - mild - gross)) }, best_ln = -INFINITY;
  double *v = scratch, *c = scratch + n, *ln = scratch + 2 * n;
  gboolean best_gross = FALSE;

  diagonal_of_inverse (white, n, v);
  ln[n_ln++] = 0;
  for (guint r = 0; r < n; r++)
    {
      alternatives (own->a[r], v[r], &classes[r], ln_odds, ln + n_ln);
      own->ln_gross[r] = ln[n_ln + 1];
      for (guint k = 0; k < 2; k++, n_ln++)
        if (ln[n_ln] > best_ln)
          {
            best_ln = ln[n_ln];
            best = r;
            best_gross = k == 1;
          }
    }
  if (n > 1)
    {
      /* C^-1 after the best reading's variance has grown by D (infinite when gross): a_k -= h C^-1_kr a_r, v_k -= h (C^-1_kr)^2 */
      double h = best_gross ? 1 / v[best] : classes[best].mild_variance / (1 + classes[best].mild_variance * v[best]);

      column_of_inverse (white, n, best, c);
      for (guint r = 0; r < n; r++)
        if (r != best)
          {
            double left = v[r] - h * c[r] * c[r];

            alternatives (own->a[r] - h * c[r] * own->a[best], MAX (left, 1e-12 * v[r]), &classes[r], ln_odds, ln + n_ln);
            ln[n_ln++] += best_ln;
            ln[n_ln++] += best_ln;
          }
    }
  own->ln = own->ln_good + n * log (1 - mild - gross) + ln_sum (ln, n_ln);
}

gboolean
ml_evidence_weigh (const double *d, const double *covariance, const MlReadingClass *classes, guint n, double mild, double gross,
                   MlEvidence *ret_evidence)
{
  g_autofree double *l = g_new0 (double, MAX (n * n, 1));
  g_autofree double *white = NULL;
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
  white = g_new0 (double, row_at (n) + 6 * n + 1);
  for (guint i = 0; i < n; i++)
    invert_row (own.factor + i * n, i, white);
  mix (&own, white, classes, mild, gross, white + row_at (n));
  *ret_evidence = own;
  return TRUE;
}

/* ---- reading by reading ---- */

gboolean
ml_whitened_add (MlWhitened *own, const double *covariance, double d)
{
  guint n = own->n;
  g_autofree double *l = g_new (double, n + 1);
  double left = covariance[n], white_d = d;

  for (guint i = 0; i < n; i++)
    {
      l[i] = 0;
      for (guint k = 0; k <= i; k++)
        l[i] += own->rows[row_at (i) + k] * covariance[k];
      left -= l[i] * l[i];
      white_d -= l[i] * own->d[i];
    }
  if (!(left > 0))
    return FALSE;
  l[n] = sqrt (left);
  own->rows = g_renew (double, own->rows, row_at (n + 1));
  own->d = g_renew (double, own->d, n + 1);
  invert_row (l, n, own->rows);
  own->d[n] = white_d / l[n];
  own->n++;
  return TRUE;
}

double
ml_whitened_ln (const MlWhitened *own, const MlReadingClass *classes, double mild, double gross)
{
  guint n = own->n;
  g_autofree double *scratch = g_new0 (double, 8 * n + 1);
  MlEvidence evidence = { .n = n, .a = scratch + 6 * n + 1, .ln_gross = scratch + 7 * n + 1 };

  evidence.ln_good = -(double) n / 2 * log (2 * G_PI);
  for (guint i = 0; i < n; i++)
    {
      evidence.ln_good += log (own->rows[row_at (i) + i]) - own->d[i] * own->d[i] / 2;
      for (guint k = 0; k <= i; k++)
        evidence.a[k] += own->rows[row_at (i) + k] * own->d[i];
    }
  mix (&evidence, own->rows, classes, mild, gross, scratch);
  return evidence.ln;
}

void
ml_whitened_clear (MlWhitened *own)
{
  g_clear_pointer (&own->rows, g_free);
  g_clear_pointer (&own->d, g_free);
  own->n = 0;
}

void
ml_evidence_clear (MlEvidence *evidence)
{
  g_clear_pointer (&evidence->a, g_free);
  g_clear_pointer (&evidence->factor, g_free);
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
