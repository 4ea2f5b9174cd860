/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a reading is expected to tell. */
#include "verdict/exps.h"
#include "verdict/next-private.h"

#include <math.h>
#include <string.h>

static double
entropy_bits (const double *p, guint n)
{
  double sum = 0;

  for (guint i = 0; i < n; i++)
    if (p[i] > 0)
      sum -= p[i] * log2 (p[i]);
  return sum;
}

/* Classes renumbered 0 … so that sums per class are arrays. */
static guint
renumber (const int *key, guint n, guint *ret_class)
{
  guint n_classes = 0;

  for (guint i = 0; i < n; i++)
    {
      guint j = 0;
      while (j < i && key[j] != key[i])
        j++;
      ret_class[i] = j < i ? ret_class[j] : n_classes++;
    }
  return n_classes;
}

double
ml_information (const double *weight, const int *key, const double *mean, const double *sigma, guint n)
{
  static const double node[5] = { 0, 0.958572464613819, -0.958572464613819, 2.020182870456086, -2.020182870456086 };
  static const double share[5] = { 0.5333333333333333, 0.2220759220056126, 0.2220759220056126, 0.0112574113277207, 0.0112574113277207 };
  g_autofree guint *class = g_new (guint, MAX (n, 1));
  g_autofree double *p = g_new0 (double, MAX (n, 1)), *likely = g_new (double, MAX (n, 1)), *per_sigma = g_new (double, MAX (n, 1));
  guint n_classes = renumber (key, n, class);
  double before, after = 0;

  for (guint i = 0; i < n; i++)
    {
      p[class[i]] += weight[i];
      per_sigma[i] = 1 / sigma[i];
    }
  before = entropy_bits (p, n_classes);
  for (guint i = 0; i < n; i++)
    for (guint k = 0; k < 5; k++)
      {
        double y = mean[i] + sigma[i] * G_SQRT2 * node[k], total = 0;

        memset (p, 0, n_classes * sizeof *p);
        ml_exps_bells (y, mean, per_sigma, weight, n, likely);
        for (guint j = 0; j < n; j++)
          {
            p[class[j]] += likely[j];
            total += likely[j];
          }
        for (guint j = 0; j < n_classes; j++)
          p[j] /= total;
        after += weight[i] * share[k] * entropy_bits (p, n_classes);
      }
  return MAX (before - after, 0);
}

/* The most that any reading can tell: which of the things to work on it is. */
double
ml_next_open_bits (const Search *search)
{
  g_autofree guint *class = g_new (guint, MAX (search->n, 1));
  double p[MOST_LIVE] = { 0 };
  guint n = renumber (search->key, search->n, class);

  for (guint i = 0; i < search->n; i++)
    p[class[i]] += search->weight[i];
  return entropy_bits (p, n);
}
