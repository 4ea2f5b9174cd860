/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/small.h"

#include <math.h>

int
ml_nodal_small_factor (double *a, int m, int *pivot)
{
  for (int k = 0; k < m; k++)
    {
      int best = k;
      for (int r = k + 1; r < m; r++)
        if (fabs (a[r * m + k]) > fabs (a[best * m + k]))
          best = r;
      pivot[k] = best;
      if (!(fabs (a[best * m + k]) > 0) || !isfinite (a[best * m + k]))
        return k;
      if (best != k)
        for (int c = 0; c < m; c++)
          {
            double t = a[k * m + c];
            a[k * m + c] = a[best * m + c];
            a[best * m + c] = t;
          }
      for (int r = k + 1; r < m; r++)
        {
          double l = a[r * m + k] /= a[k * m + k];
          for (int c = k + 1; c < m; c++)
            a[r * m + c] -= l * a[k * m + c];
        }
    }
  return -1;
}

void
ml_nodal_small_solve (const double *a, int m, const int *pivot, double *x)
{
  for (int k = 0; k < m; k++)
    {
      double t = x[pivot[k]];
      x[pivot[k]] = x[k];
      x[k] = t;
    }
  for (int r = 1; r < m; r++)
    for (int c = 0; c < r; c++)
      x[r] -= a[r * m + c] * x[c];
  for (int r = m - 1; r >= 0; r--)
    {
      for (int c = r + 1; c < m; c++)
        x[r] -= a[r * m + c] * x[c];
      x[r] /= a[r * m + r];
    }
}

void
ml_nodal_small_solve_transposed (const double *a, int m, const int *pivot, double *x)
{
  for (int r = 0; r < m; r++)
    {
      for (int c = 0; c < r; c++)
        x[r] -= a[c * m + r] * x[c];
      x[r] /= a[r * m + r];
    }
  for (int r = m - 1; r >= 0; r--)
    for (int c = r + 1; c < m; c++)
      x[r] -= a[c * m + r] * x[c];
  for (int k = m - 1; k >= 0; k--)
    {
      double t = x[pivot[k]];
      x[pivot[k]] = x[k];
      x[k] = t;
    }
}
