/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Evidence against dense computations by LAPACK on the same numbers, and integrals done the long way. */
#include "support/near.h"

#include "verdict/case.h"
#include "verdict/exps.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

#define N 4

static const double difference[N] = { 0.12, -0.31, 0.04, 1.9 };

static MlReadingClass
plain (double mild_variance, double span, double seldom)
{
  return (MlReadingClass){ .mild_variance = mild_variance, .span = span, .seldom = seldom };
}

static void
fill_covariance (double *c)
{
  static const double j[N][3] = { { 0.2, 0.1, 0 }, { 0.05, -0.3, 0.1 }, { 0, 0.02, 0.4 }, { 0.3, 0.3, -0.2 } };

  for (guint i = 0; i < N; i++)
    for (guint k = 0; k < N; k++)
      {
        c[i * N + k] = i == k ? 0.01 * (1 + i) : 0;
        for (guint m = 0; m < 3; m++)
          c[i * N + k] += j[i][m] * j[k][m];
      }
}

/* ln N(d; 0, C) over the rows in keep, by LAPACK's Cholesky factorisation. */
static double
dense_ln (const double *d, const double *c, const gboolean *keep)
{
  double a[N * N], x[N], ln = 0;
  int n = 0, rows[N];

  for (int i = 0; i < N; i++)
    if (keep[i])
      rows[n++] = i;
  for (int i = 0; i < n; i++)
    {
      x[i] = d[rows[i]];
      for (int k = 0; k < n; k++)
        a[i * n + k] = c[rows[i] * N + rows[k]];
    }
  if (!n)
    return 0;
  assert_int_equal (LAPACKE_dpotrf (LAPACK_ROW_MAJOR, 'L', n, a, n), 0);
  for (int i = 0; i < n; i++)
    ln -= log (a[i * n + i]);
  assert_int_equal (LAPACKE_dpotrs (LAPACK_ROW_MAJOR, 'L', n, 1, a, n, x, 1), 0);
  for (int i = 0; i < n; i++)
    ln -= d[rows[i]] * x[i] / 2;
  return ln - n * log (2 * G_PI) / 2;
}

/* The density when reading r has class k (1 mild, 2 gross), by building that circumstance and factorising anew. */
static double
dense_with (const double *c, const MlReadingClass *classes, const int *class)
{
  double own[N * N], ln;
  gboolean keep[N];

  memcpy (own, c, sizeof own);
  ln = 0;
  for (guint i = 0; i < N; i++)
    {
      keep[i] = class[i] != 2;
      if (class[i] == 1)
        own[i * N + i] += classes[i].mild_variance;
      if (class[i] == 2)
        ln -= log (classes[i].span * MAX (classes[i].seldom, 1));
    }
  return ln + dense_ln (difference, own, keep);
}

static double
ln_weight (const int *class, double mild, double gross)
{
  double ln = 0;

  for (guint i = 0; i < N; i++)
    ln += log (class[i] == 0 ? 1 - mild - gross : class[i] == 1 ? mild : gross);
  return ln;
}

static void
test_evidence_equals_dense_mixture (void **state)
{
  const double mild = 0.04, gross = 0.005;
  MlReadingClass classes[N] = { plain (0.01, 30, 0), plain (0.02, 30, 0), plain (0.03, 24, 10), plain (0.04, 30, 0) };
  double c[N * N], expected, best = -INFINITY;
  int class[N] = { 0 }, best_r = 0, best_k = 0;
  MlEvidence evidence;

  fill_covariance (c);
  assert_true (ml_evidence_weigh (difference, c, classes, N, mild, gross, &evidence));
  assert_near (evidence.ln_good, dense_with (c, classes, class), 1e-10, 0);
  expected = dense_with (c, classes, class) + ln_weight (class, mild, gross);
  for (int r = 0; r < N; r++)
    for (int k = 1; k <= 2; k++)
      {
        double ln;
        class[r] = k;
        ln = dense_with (c, classes, class) + ln_weight (class, mild, gross);
        class[r] = 0;
        expected = ml_ln_add (expected, ln);
        if (ln > best)
          {
            best = ln;
            best_r = r;
            best_k = k;
          }
      }
  class[best_r] = best_k;
  for (int r = 0; r < N; r++)
    for (int k = 1; k <= 2 && r != best_r; k++)
      {
        class[r] = k;
        expected = ml_ln_add (expected, dense_with (c, classes, class) + ln_weight (class, mild, gross));
        class[r] = 0;
      }
  assert_near (evidence.ln, expected, 1e-9, 1e-9);
  ml_evidence_clear (&evidence);
}

/* Many exponentials at once against the C library's long double ones. */
static void
test_exponentials_at_once_are_those_of_the_library (void **state)
{
  enum { MANY = 1003 };
  double x[MANY], power[MANY], factor[MANY], bells[MANY], mean[MANY], per_sigma[MANY], most, sum = 0;
  double edge[] = { -INFINITY, -701, -699, 0, 699, 1000, NAN };

  for (guint i = 0; i < MANY; i++)
    {
      power[i] = x[i] = -690 + 1380.0 * i / (MANY - 1);
      factor[i] = 1 + i % 3;
      mean[i] = 0.01 * i;
      per_sigma[i] = 0.5 + 0.01 * (i % 7);
    }
  ml_exps (x, MANY);
  for (guint i = 0; i < MANY; i++)
    assert_near (x[i], (double) expl (power[i]), 4e-16, 0);
  ml_exps_bells (3, mean, per_sigma, factor, MANY, bells);
  for (guint i = 0; i < MANY; i++)
    assert_near (bells[i], (double) ((1 + i % 3) * per_sigma[i] * expl (-powl ((3 - mean[i]) * per_sigma[i], 2) / 2)), 1e-14, 1e-300);
  for (guint i = 0; i < MANY; i++)
    sum += power[i] < 630 ? 0 : (1 + i % 3) * exp (power[i] - 690);
  assert_near (ml_exps_add_up (power, factor, MANY, &most), sum, 1e-14, 0);
  assert_true (most == 690 && factor[0] == 0 && factor[MANY - 1] == 1 + (MANY - 1) % 3);
  ml_exps (edge, G_N_ELEMENTS (edge));
  assert_true (edge[0] == 0 && edge[1] == 0 && edge[2] > 0 && edge[3] == 1 && edge[5] > edge[4] && isfinite (edge[5]) && isnan (edge[6]));
  edge[0] = -3, edge[1] = -1;
  factor[0] = factor[1] = 1;
  assert_near (ml_exps_add_up (edge, factor, 2, &most), exp (-3) + exp (-1), 1e-15, 0); /* none is above 0 */
  assert_true (most == 0);
  edge[1] = NAN; /* is no evidence */
  factor[0] = factor[1] = 1;
  assert_true (isnan (ml_exps_add_up (edge, factor, 2, &most)));
}

/* Mean and variance of unknowns behind the readings: h' C^-1 d and 1 - h' C^-1 h, by LAPACK's solution of C x = h. */
static void
test_posteriors_of_unknowns_against_lapack (void **state)
{
  enum { READINGS = 11, UNKNOWNS = 13 };
  double covariance[READINGS * READINGS], d[READINGS], of[READINGS], slopes[READINGS * 32] = { 0 }, mean[32], variance[32], along[32];
  MlReadingClass classes[READINGS];
  guint room = ml_evidence_posteriors_room (UNKNOWNS);
  MlEvidence evidence;

  assert_true (room >= UNKNOWNS && room <= 32);
  for (guint i = 0; i < READINGS; i++)
    {
      classes[i] = plain (0.01, 30, 0);
      d[i] = sin (3 * i);
      of[i] = cos (i);
      for (guint u = 0; u < UNKNOWNS; u++)
        slopes[i * room + u] = sin (i * 1.7 + u * u) / 4;
    }
  for (guint i = 0; i < READINGS; i++)
    for (guint j = 0; j < READINGS; j++)
      {
        covariance[i * READINGS + j] = i == j ? 0.5 : 0;
        for (guint u = 0; u < UNKNOWNS; u++)
          covariance[i * READINGS + j] += slopes[i * room + u] * slopes[j * room + u];
      }
  assert_true (ml_evidence_weigh (d, covariance, classes, READINGS, 0.04, 0.005, &evidence));
  ml_evidence_posteriors (evidence.white, evidence.a, of, READINGS, slopes, room, mean, variance, along);
  for (guint u = 0; u < UNKNOWNS; u++)
    {
      double c[READINGS * READINGS], x[READINGS], by_d = 0, by_h = 0, by_of = 0;

      memcpy (c, covariance, sizeof c);
      for (guint i = 0; i < READINGS; i++)
        x[i] = slopes[i * room + u];
      assert_int_equal (LAPACKE_dposv (LAPACK_ROW_MAJOR, 'L', READINGS, 1, c, READINGS, x, 1), 0);
      for (guint i = 0; i < READINGS; i++)
        {
          by_d += x[i] * d[i];
          by_h += x[i] * slopes[i * room + u];
          by_of += of[i] * slopes[i * room + u];
        }
      assert_near (mean[u], by_d, 1e-12, 1e-13);
      assert_near (variance[u], 1 - by_h, 1e-12, 1e-13);
      assert_near (along[u], by_of, 1e-12, 1e-14);
    }
  ml_evidence_clear (&evidence);
}

/* The next reading, its own variance the meter's. */
static gboolean
grow (MlWhitened *grown, const double *covariance, double d, const guint *unknown, const double *h, guint n_h)
{
  double memory[64];
  guint fresh[8], where[16] = { 0 };
  MlStep step = ml_whitened_prepare (grown, covariance, 0, unknown, h, n_h, memory, fresh, where);

  assert_true (ml_step_room (grown, n_h) <= G_N_ELEMENTS (memory));
  for (guint i = 0; i < G_N_ELEMENTS (where); i++)
    assert_int_equal (where[i], 0);
  return ml_whitened_take (grown, &step, covariance[grown->n], d);
}

static void
test_evidence_grown_equals_all_at_once (void **state)
{
  const double mild = 0.04, gross = 0.005;
  MlReadingClass classes[N] = { plain (0.01, 30, 0), plain (0.02, 30, 0), plain (0.03, 24, 10), plain (0.04, 30, 0) };
  g_autoptr (MlMixClasses) mixed = ml_mix_classes_new (classes, N, mild, gross);
  double c[N * N], memory[7 * N + 2];
  MlWhitened grown = { 0 };
  MlEvidence evidence;

  fill_covariance (c);
  assert_true (ml_evidence_weigh (difference, c, classes, N, mild, gross, &evidence));
  for (guint i = 0; i < N; i++)
    assert_true (grow (&grown, c + i * N, difference[i], NULL, NULL, 0));
  assert_near (grown.ln_good, evidence.ln_good, 1e-10, 0);
  assert_near (grown.ln_good + ml_whitened_mix (&grown, mixed, mild, gross, memory).ln, evidence.ln, 1e-9, 1e-9);
  for (guint i = 0; i < N; i++)
    assert_near (grown.a[i], evidence.a[i], 1e-9, 1e-9);
  assert_false (grow (&grown, (double[N + 1]){ c[0], c[N], c[2 * N], c[3 * N], c[0] * (1 - 1e-9) }, 0, NULL, NULL, 0)); /* the first one again */
  assert_int_equal (grown.n, N);
  ml_whitened_clear (&grown);
  ml_evidence_clear (&evidence);
}

/* What readings leave of unknowns: mean h' C^-1 d and variance 1 - h' C^-1 h (Gaussian conditioning), C^-1 from LAPACK. The second unknown
 * hangs together with later readings only. */
static void
test_evidence_grown_leaves_of_unknowns_what_conditioning_leaves (void **state)
{
  static const double h[2][N] = { { 0.2, 0.05, 0, 0.3 }, { 0, 0, 0.4, -0.2 } };
  double c[N * N], inverse[N * N], along[2];
  MlWhitened grown = { 0 };

  fill_covariance (c);
  memcpy (inverse, c, sizeof c);
  assert_int_equal (LAPACKE_dpotrf (LAPACK_ROW_MAJOR, 'L', N, inverse, N), 0);
  assert_int_equal (LAPACKE_dpotri (LAPACK_ROW_MAJOR, 'L', N, inverse, N), 0);
  for (guint i = 0; i < N; i++)
    for (guint k = i + 1; k < N; k++)
      inverse[i * N + k] = inverse[k * N + i];
  for (guint i = 0; i < N; i++)
    {
      const guint both[] = { 7, 3 };
      guint n = i < 2 ? 1 : 2;

      assert_true (grow (&grown, c + i * N, difference[i], both, (double[]){ h[0][i], h[1][i] }, n));
    }
  assert_int_equal (grown.n_watched, 2);
  assert_int_equal (grown.watched[1], 3);
  ml_whitened_along (&grown, 1, along);
  for (guint u = 0; u < 2; u++)
    {
      double mean = 0, variance = 1, column = 0;

      for (guint i = 0; i < N; i++)
        for (guint k = 0; k < N; k++)
          {
            mean += h[u][i] * inverse[i * N + k] * difference[k];
            variance -= h[u][i] * inverse[i * N + k] * h[u][k];
            column += k == 1 ? h[u][i] * inverse[i * N + k] : 0;
          }
      assert_near (grown.mean[u], mean, 1e-9, 1e-9);
      assert_near (grown.variance[u], variance, 1e-9, 1e-9);
      assert_near (along[u], column, 1e-9, 1e-9);
    }
  ml_whitened_clear (&grown);
}

static void
test_evidence_one_gross_reading_does_not_decide (void **state)
{
  /* A reading 50 sigma off costs about ln (gross x sigma / span), whatever its size (arithmetic of the mixture). */
  MlReadingClass classes[2] = { plain (0.0016, 30, 0), plain (0.0016, 30, 0) };
  double c[4] = { 1e-4, 0, 0, 1e-4 }, near[2] = { 0, 5 }, far[2] = { 0, 20 };
  MlEvidence a, b;

  assert_true (ml_evidence_weigh (near, c, classes, 2, 0.04, 0.005, &a));
  assert_true (ml_evidence_weigh (far, c, classes, 2, 0.04, 0.005, &b));
  assert_near (a.ln, b.ln, 0, 1e-6);
  assert_true (a.ln_gross[1] > 5 && a.ln_gross[0] < 0);
  ml_evidence_clear (&a);
  ml_evidence_clear (&b);
}

/* ln of the mixture's only term that matters: the first reading fits, the second is gross; its density there by hand. */
static double
with_slip (const MlReadingClass *classes, double sigma, double density)
{
  double first = (1 - 0.04 - 0.005) / (sigma * sqrt (2 * G_PI)) + 0.04 / sqrt (2 * G_PI * (sigma * sigma + classes[0].mild_variance)) + 0.005 / classes[0].span;

  return log (first) + log (0.005 * density);
}

/* Two readings that have nothing to do with each other, the second expected at 5 V, give or take 10 mV: what swapped probes or a lost m are
 * worth, against anything within 30 V. */
static void
test_evidence_slip_that_leaves_a_mark_costs_less (void **state)
{
  static const struct { double typed, meter_v, swapped, thousandfold, density; } table[] = {
    { -5, 1e-3, 0.25, 0.25, 1 / 30. + 0.25 * 39.894228 },                  /* N(5; 5, 10 mV), its top */
    { -5.01, 1e-3, 0.25, 0.25, 1 / 30. + 0.25 * 24.197072 },               /* one standard deviation from it */
    { 5e-3, 1e-5, 0.25, 0.25, 1 / 30. + 0.125 * 1000 * 28.209479 },        /* 5 V typed as 5 mV, known to 10 mV, too: hypot, its top */
    { 5000, 1e-3, 0.25, 0.25, 1 / 30. + 0.125 / 1000 * 39.894228 },        /* typed with a k too many */
    { 3, 1e-3, 0.25, 0.25, 1 / 30. },                                      /* none of these */
    { -5, 1e-3, 0, 0, 1 / 30. },                                           /* ohms cannot be swapped */
  };
  double c[4] = { 1e-4, 0, 0, 1e-4 };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlReadingClass classes[2] = { plain (0.0016, 30, 0), plain (0.0016, 30, 0) };
      double d[2] = { 0, table[i].typed - 5 };
      MlEvidence evidence;

      classes[1].observed = table[i].typed;
      classes[1].variance = table[i].meter_v * table[i].meter_v;
      classes[1].swapped = table[i].swapped;
      classes[1].thousandfold = classes[1].thousandth = table[i].thousandfold / 2;
      assert_true (ml_evidence_weigh (d, c, classes, 2, 0.04, 0.005, &evidence));
      assert_near (evidence.ln, with_slip (classes, 0.01, table[i].density), 0, 1e-4); /* of exponents of 1e11 */
      ml_evidence_clear (&evidence);
    }
}

static void
test_evidence_singular_covariance_is_refused (void **state)
{
  MlReadingClass classes[2] = { plain (1, 30, 0), plain (1, 30, 0) };
  double c[4] = { 1, 1, 1, 1 - 1e-9 }, d[2] = { 0, 0 };
  MlEvidence evidence;

  assert_false (ml_evidence_weigh (d, c, classes, 2, 0.04, 0.005, &evidence));
}

static void
test_chi2_tail_table (void **state)
{
  /* Upper 5 % and 0.1 % points, Abramowitz and Stegun table 26.8 (from memory). */
  assert_near (ml_chi2_tail (3.84146, 1), 0.05, 1e-4, 0);
  assert_near (ml_chi2_tail (5.99146, 2), 0.05, 1e-4, 0);
  assert_near (ml_chi2_tail (11.0705, 5), 0.05, 1e-4, 0);
  assert_near (ml_chi2_tail (29.588, 10), 0.001, 1e-3, 0);
  assert_near (ml_chi2_tail (37.697, 15), 0.001, 1e-3, 0);
}

/* H(classes) - integral p(y) H(classes | y) dy by the trapezoidal rule. */
static double
brute_information (const double *w, const int *key, const double *m, const double *s, guint n)
{
  double before = 0, after = 0, step = 1e-3, p[8] = { 0 };

  for (guint i = 0; i < n; i++)
    p[key[i]] += w[i];
  for (guint k = 0; k < 8; k++)
    before -= p[k] > 0 ? p[k] * log2 (p[k]) : 0;
  for (double y = -10; y < 20; y += step)
    {
      double total = 0, q[8] = { 0 };
      for (guint i = 0; i < n; i++)
        {
          double f = w[i] * exp (-(y - m[i]) * (y - m[i]) / (2 * s[i] * s[i])) / (s[i] * sqrt (2 * G_PI));
          q[key[i]] += f;
          total += f;
        }
      for (guint k = 0; k < 8; k++)
        after -= q[k] > 0 ? step * q[k] * log2 (q[k] / total) : 0;
    }
  return before - after;
}

static void
test_information_equals_numeric_integration (void **state)
{
  static const double w[4] = { 0.4, 0.3, 0.2, 0.1 }, s[4] = { 0.5, 0.4, 0.8, 0.6 };
  static const int key[4] = { 0, 1, 1, 2 };
  static const double near[4] = { 2, 2.6, 3.5, 4 }, apart[4] = { 0, 5, 6, 12 }, same[4] = { 3, 3, 3, 3 };

  /* Five nodes integrate smooth mixtures to a few per cent of a bit. */
  assert_near (ml_information (w, key, near, s, 4), brute_information (w, key, near, s, 4), 0, 0.06);
  assert_near (ml_information (w, key, apart, s, 4), brute_information (w, key, apart, s, 4), 0, 0.03);
  /* Fully told apart: the entropy of (0.4, 0.5, 0.1) itself (closed form). */
  assert_near (ml_information (w, key, apart, s, 4), -0.4 * log2 (0.4) - 0.5 * log2 (0.5) - 0.1 * log2 (0.1), 0, 0.02);
  {
    static const double one[4] = { 1, 1, 1, 1 };
    assert_near (ml_information (w, key, same, one, 4), 0, 0, 1e-12);
  }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_evidence_equals_dense_mixture),
    cmocka_unit_test (test_evidence_grown_equals_all_at_once),
    cmocka_unit_test (test_evidence_grown_leaves_of_unknowns_what_conditioning_leaves),
    cmocka_unit_test (test_evidence_one_gross_reading_does_not_decide),
    cmocka_unit_test (test_evidence_slip_that_leaves_a_mark_costs_less),
    cmocka_unit_test (test_evidence_singular_covariance_is_refused),
    cmocka_unit_test (test_chi2_tail_table),
    cmocka_unit_test (test_exponentials_at_once_are_those_of_the_library), cmocka_unit_test (test_posteriors_of_unknowns_against_lapack),
    cmocka_unit_test (test_information_equals_numeric_integration),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
