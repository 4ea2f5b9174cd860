/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/mix.h"

#include <math.h>
#include <string.h>

#define NEAR 2.5 /* standard deviations: a reading nearer to what the others have it be is hardly a slip */
#define FAR 6.0  /* and one farther from what a slip would make of it is not that slip */
#define TOO_SMALL 60.0 /* nats below the largest: e^-60 of it; the factors before the exponentials are within e^15 of each other */

MlMixClass *
ml_mix_classes (const MlReadingClass *classes, guint n, double mild, double gross)
{
  MlMixClass *own = g_new (MlMixClass, MAX (n, 1));
  double good = 1 - mild - gross;

  for (guint i = 0; i < n; i++)
    {
      double odds = gross / good / (classes[i].seldom > 0 ? classes[i].seldom : 1);

      own[i] = (MlMixClass){ classes[i].mild_variance, mild / good, odds * sqrt (2 * G_PI) / classes[i].span,
                             odds * classes[i].swapped, odds * classes[i].thousandfold, classes[i].observed, classes[i].variance };
    }
  return own;
}

void
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

  if (a * a < NEAR * NEAR * v || (class->swapped == 0 && class->thousandfold == 0))
    return odds;
  mean = y - a / v;
  sigma = sqrt (1 / v);
  fine = sqrt (1 / v + 1e6 * class->variance); /* the typed figure's uncertainty grows with it */
  if (fabs (y + mean) < FAR * sigma)
    odds += class->swapped * bell ((y + mean) / sigma) / sigma;
  if (fabs (y / 1000 - mean) < FAR * sigma)
    odds += class->thousandfold / 2 * bell ((y / 1000 - mean) / sigma) / sigma / 1000;
  if (fabs (y * 1000 - mean) < FAR * fine)
    odds += class->thousandfold / 2 * bell ((y * 1000 - mean) / fine) / fine * 1000;
  return odds;
}

double
ml_mix_ln_gross (double a, double v, const MlMixClass *class)
{
  return a * a / (2 * v) - log (v) / 2 + log (gross_odds (a, v, class));
}

/* An alternative's odds as e^power times factor, for the given a and v. Mild: the variance of the reading grows by D, a change of rank one, so
 * only a = (C^-1 d)_r and v = (C^-1)_rr are needed. Gross: it carries no information; its own density taken out, 1 / span put in. */
static void
alternatives (double a, double v, const MlMixClass *class, double *power, double *factor)
{
  double left = 1 / (1 + class->mild_variance * v), over = 1 / v;

  power[0] = a * a * class->mild_variance * left / 2;
  factor[0] = class->mild * sqrt (left);
  power[1] = a * a * over / 2;
  factor[1] = gross_odds (a, v, class) * sqrt (over);
}

/* factor[n] e^power[n] over e^*ret_most, the largest power and at least 0, into factor; their sum. */
static double
add_up (const double *power, double *factor, guint n, double *ret_most)
{
  double most = 0, sum = 0;

  for (guint i = 0; i < n; i++)
    most = MAX (most, power[i]);
  for (guint i = 0; i < n; i++)
    {
      factor[i] = power[i] < most - TOO_SMALL ? 0 : factor[i] * exp (power[i] - most);
      sum += factor[i];
    }
  *ret_most = most;
  return sum;
}

static guint
largest (const double *of, guint first, guint step, guint n)
{
  guint found = first;

  for (guint i = first; i < n; i += step)
    if (of[i] > of[found])
      found = i;
  return found;
}

MlMixed
ml_mix (const double *a, const double *v, const double *white, const MlMixClass *classes, guint n, double mild, double gross, double *memory)
{
  double *column = memory, *power = memory + n, *factor = memory + 3 * n, most, second, sum, h, twice;
  MlMixed mixed = { .ln = n * log (1 - mild - gross), .odd = -1 };
  guint best, odd;

  if (n == 0)
    return mixed;
  for (guint r = 0; r < n; r++)
    alternatives (a[r], v[r], &classes[r], power + 2 * r, factor + 2 * r);
  sum = add_up (power, factor, 2 * n, &most);
  best = largest (factor, 0, 1, 2 * n);
  odd = largest (factor, 1, 2, 2 * n);
  if (factor[odd] > exp (-most))
    mixed.odd = (int) (odd / 2);
  mixed.best = best / 2;
  ml_mix_column (white, n, mixed.best, column);
  /* C^-1 after the best reading's variance has grown by D (infinite when gross): a_k -= h C^-1_kr a_r, v_k -= h (C^-1_kr)^2 */
  h = best % 2 ? 1 / v[mixed.best] : classes[mixed.best].mild_variance / (1 + classes[mixed.best].mild_variance * v[mixed.best]);
  twice = factor[best];
  sum += exp (-most);
  for (guint r = 0, k = 0; r < n; r++)
    if (r != mixed.best)
      {
        double left = v[r] - h * column[r] * column[r];

        alternatives (a[r] - h * column[r] * a[mixed.best], MAX (left, 1e-12 * v[r]), &classes[r], power + 2 * k, factor + 2 * k);
        k++;
      }
  twice *= add_up (power, factor, 2 * (n - 1), &second);
  mixed.ln += most + ml_ln_add (log (sum), log (twice) + second);
  return mixed;
}
