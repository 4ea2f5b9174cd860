/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/mix.h"

#include "nodal/factors.h"
#include "verdict/exps.h"

#include <math.h>
#include <string.h>

#define NEAR 2.5 /* standard deviations: a reading nearer to what the others have it be is hardly a slip */
#define FAR 6.0  /* and one farther from what a slip would make of it is not that slip */

MlMixClasses *
ml_mix_classes_new (const MlReadingClass *classes, guint n, double mild, double gross)
{
  MlMixClasses *own = g_new (MlMixClasses, 1);
  double good = 1 - mild - gross;

  *own = (MlMixClasses){ n, g_new (MlMixClass, MAX (n, 1)), g_new (double, MAX (n, 1)), g_new (double, MAX (n, 1)), g_new (double, MAX (n, 1)) };
  for (guint i = 0; i < n; i++)
    {
      double odds = gross / good / (classes[i].seldom > 0 ? classes[i].seldom : 1);

      own->mild_variance[i] = classes[i].mild_variance;
      own->mild[i] = mild / good;
      own->gross[i] = odds * sqrt (2 * G_PI) / classes[i].span;
      own->each[i] = (MlMixClass){ own->gross[i], odds * classes[i].swapped, odds * classes[i].thousandfold, odds * classes[i].thousandth, classes[i].observed,
                                   classes[i].variance };
    }
  return own;
}

void
ml_mix_classes_free (MlMixClasses *classes)
{
  g_free (classes->each);
  g_free (classes->mild_variance);
  g_free (classes->mild);
  g_free (classes->gross);
  g_free (classes);
}

ML_NODAL_WIDE void
ml_mix_column (const double *white, guint n, guint column, double *ret)
{
  memset (ret, 0, n * sizeof *ret);
  for (guint i = column; i < n; i++)
    {
      const double *row = white + ml_white_at (i);
      double at = row[column];

      for (guint k = 0; k <= i; k++)
        ret[k] += at * row[k];
    }
}

/* Density of a unit normal over that at 0. */
static double
bell (double sigmas)
{
  return exp (-sigmas * sigmas / 2);
}

/* Odds of a gross reading, times its density over that of a unit normal at 0: anything, or what a slip makes of what the others have it be. */
static double
gross_odds (double a, double v, const MlMixClass *class)
{
  double y = class->observed, mean, sigma, fine, odds = class->gross;

  if (a * a < NEAR * NEAR * v || (class->swapped == 0 && class->thousandfold == 0 && class->thousandth == 0))
    return odds;
  mean = y - a / v;
  sigma = sqrt (1 / v);
  fine = sqrt (1 / v + 1e6 * class->variance); /* the typed figure's uncertainty grows with it */
  if (fabs (y + mean) < FAR * sigma)
    odds += class->swapped * bell ((y + mean) / sigma) / sigma;
  if (fabs (y / 1000 - mean) < FAR * sigma)
    odds += class->thousandfold * bell ((y / 1000 - mean) / sigma) / sigma / 1000;
  if (fabs (y * 1000 - mean) < FAR * fine)
    odds += class->thousandth * bell ((y * 1000 - mean) / fine) / fine * 1000;
  return odds;
}

double
ml_mix_ln_gross (double a, double v, const MlMixClass *class)
{
  return a * a / (2 * v) - log (v) / 2 + log (gross_odds (a, v, class));
}

/* The alternatives' odds as e^power times factor, for the given a and v: first n mild ones, then n gross ones. Mild: the variance of the reading grows by D, a
 * change of rank one, so only a = (C^-1 d)_r and v = (C^-1)_rr are needed. Gross: it carries no information; its own density taken out, 1 / span put in. */
ML_NODAL_WIDE static void
find_alternatives (const double *a, const double *v, const MlMixClasses *classes, guint n, double *restrict power, double *restrict factor)
{
  const double *mild_variance = classes->mild_variance, *mild = classes->mild, *gross = classes->gross;
  double *restrict gross_power = power + n, *restrict gross_factor = factor + n;

  for (guint r = 0; r < n; r++)
    {
      double left = 1 / (1 + mild_variance[r] * v[r]), over = 1 / v[r];

      power[r] = a[r] * a[r] * mild_variance[r] * left / 2;
      factor[r] = mild[r] * sqrt (left);
      gross_power[r] = a[r] * a[r] * over / 2;
      gross_factor[r] = gross[r] * sqrt (over);
    }
}

/* Few readings look like a slip: what that adds to them. */
static void
add_slips (const double *a, const double *v, const MlMixClasses *classes, guint n, double *factor)
{
  for (guint r = 0; r < n; r++)
    if (!(a[r] * a[r] < NEAR * NEAR * v[r]))
      factor[n + r] = gross_odds (a[r], v[r], &classes->each[r]) * sqrt (1 / v[r]);
}

/* a and v after the variance of the best reading has grown: a_k -= h C^-1_kr a_r, v_k -= h (C^-1_kr)^2. */
ML_NODAL_WIDE static void
grow_best (const double *a, const double *v, const double *column, double h, double a_best, guint n, double *restrict ret_a, double *restrict ret_v)
{
  for (guint r = 0; r < n; r++)
    {
      double left = v[r] - h * column[r] * column[r], least = 1e-12 * v[r];

      ret_a[r] = a[r] - h * column[r] * a_best;
      ret_v[r] = left > least ? left : least;
    }
}

static guint
largest (const double *of, guint n)
{
  guint found = 0;

  for (guint i = 1; i < n; i++)
    if (of[i] > of[found])
      found = i;
  return found;
}

MlMixed
ml_mix (const double *a, const double *v, const double *white, const MlMixClasses *classes, guint n, double mild, double gross, double *memory)
{
  double *column = memory, *power = memory + n, *factor = memory + 3 * n, *a_left = memory + 5 * n, *v_left = memory + 6 * n, most, second, sum, h, twice;
  MlMixed mixed = { .ln = n * log (1 - mild - gross), .odd = -1 };
  guint best, odd;

  if (n == 0)
    return mixed;
  find_alternatives (a, v, classes, n, power, factor);
  add_slips (a, v, classes, n, factor);
  sum = ml_exps_add_up (power, factor, 2 * n, &most);
  best = largest (factor, 2 * n);
  odd = largest (factor + n, n);
  if (factor[n + odd] > exp (-most))
    mixed.odd = (int) odd;
  mixed.best = best % n;
  ml_mix_column (white, n, mixed.best, column);
  h = best < n ? classes->mild_variance[best] / (1 + classes->mild_variance[best] * v[best]) : 1 / v[mixed.best]; /* infinite when gross */
  twice = factor[best];
  sum += exp (-most);
  grow_best (a, v, column, h, a[mixed.best], n, a_left, v_left);
  find_alternatives (a_left, v_left, classes, n, power, factor);
  add_slips (a_left, v_left, classes, n, factor);
  power[mixed.best] = power[n + mixed.best] = factor[mixed.best] = factor[n + mixed.best] = 0; /* it was one already */
  twice *= ml_exps_add_up (power, factor, 2 * n, &second);
  mixed.ln += most + ml_ln_add (log (sum), log (twice) + second);
  return mixed;
}
