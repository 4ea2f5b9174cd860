/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How many more readings it may take: each likely state of affairs in turn is taken for true, and the best readings are taken from it. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"

#include <math.h>

#define MOST_TRUE 12
#define MOST_RIVALS 16
#define MOST_STEPS 6

static double
probability_of_first (const double *weight, const int *key, guint n)
{
  double most = 0, total = 0;

  for (guint i = 0; i < n; i++)
    {
      double sum = 0;

      for (guint j = 0; j < n; j++)
        sum += key[j] == key[i] ? weight[j] : 0;
      most = MAX (most, sum);
      total += weight[i];
    }
  return total > 0 ? most / total : 1;
}

static int
best_prospect (const Search *search, const double *weight, guint n, const gboolean *used)
{
  double most = 0;
  int best = -1;

  for (guint k = 0; k < search->prospects->len; k++)
    {
      const Prospect *prospect = &g_array_index (search->prospects, Prospect, k);
      double bits = used[k] ? 0 : ml_information (weight, search->key, prospect->mean, prospect->sigma, n);

      if (bits > ml_assumption ("next.least-bits") && bits / prospect->effort > most)
        {
          most = bits / prospect->effort;
          best = (int) k;
        }
    }
  return best;
}

/* The reading comes out as the true one has it. */
static void
take (const Prospect *prospect, guint is_true, double *weight, guint n)
{
  double total = 0;

  for (guint i = 0; i < n; i++)
    {
      double off = (prospect->mean[is_true] - prospect->mean[i]) / prospect->sigma[i];
      total += weight[i] *= exp (-off * off / 2) / prospect->sigma[i];
    }
  for (guint i = 0; i < n; i++)
    weight[i] /= total;
}

/* -1: the readings at hand do not settle it. */
static int
count_steps (const Search *search, guint is_true, guint n)
{
  g_autofree gboolean *used = g_new0 (gboolean, MAX (search->prospects->len, 1));
  double weight[MOST_RIVALS], total = 0;
  int steps = 0;

  for (guint i = 0; i < n; i++)
    total += search->weight[i];
  for (guint i = 0; i < n; i++)
    weight[i] = search->weight[i] / total;
  while (probability_of_first (weight, search->key, n) < ml_assumption ("word.probably"))
    {
      int k = steps < MOST_STEPS ? best_prospect (search, weight, n, used) : -1;

      if (k < 0)
        return -1;
      used[k] = TRUE;
      take (&g_array_index (search->prospects, Prospect, k), is_true, weight, n);
      steps++;
    }
  return steps;
}

double
ml_next_readings_left (const Search *search)
{
  guint n = MIN (search->n, MOST_RIVALS);
  double settled = 0, open = 0, sum = 0;

  for (guint i = 0; i < MIN (n, MOST_TRUE); i++)
    {
      int steps = count_steps (search, i, n);

      if (steps < 0)
        open += search->weight[i];
      else
        {
          settled += search->weight[i];
          sum += search->weight[i] * steps;
        }
    }
  return settled > open ? sum / settled : NAN;
}
