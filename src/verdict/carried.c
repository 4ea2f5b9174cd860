/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/carried.h"

#include <math.h>
#include <string.h>

static double
dot (const double *a, const double *b, guint n)
{
  double sum = 0;

  for (guint i = 0; i < n; i++)
    sum += a[i] * b[i];
  return sum;
}

/* x -= share (row x) row */
static void
shrink_along (double *x, const double *row, double share, guint n)
{
  double along = share * dot (row, x, n);

  for (guint i = 0; i < n; i++)
    x[i] -= along * row[i];
}

/* One more whitened reading u: B B' - u u' = B (I - v v') B' with v = B^-1 u; the root of I - v v' is I - (1 - sqrt (1 - |v|^2)) v v' / |v|^2. */
static void
add_direction (MlCarried *carried, const double *u)
{
  guint n = carried->n_z;
  double *row = carried->direction + carried->rank * n, length;

  memcpy (row, u, n * sizeof *row);
  for (guint k = 0; k < carried->rank; k++) /* (I - c r r')^-1 = I + c / (1 - c) r r' */
    shrink_along (row, carried->direction + k * n, -carried->shrink[k] / (1 - carried->shrink[k]), n);
  length = sqrt (dot (row, row, n));
  if (length < 1e-9)
    return;
  for (guint i = 0; i < n; i++)
    row[i] /= length;
  carried->shrink[carried->rank++] = 1 - sqrt (MAX (1 - length * length, 1e-6));
}

/* B = product of (I - c r r'), by rows: every prediction is multiplied by it, and most of its slopes are zero. */
static void
multiply_out (MlCarried *carried)
{
  const guint n = carried->n_z;
  g_autofree double *column = g_new (double, MAX (n, 1));

  carried->rows = g_new (double, MAX (n * n, 1));
  for (guint j = 0; j < n; j++)
    {
      memset (column, 0, n * sizeof *column);
      column[j] = 1;
      for (guint k = carried->rank; k-- > 0;)
        shrink_along (column, carried->direction + k * n, carried->shrink[k], n);
      for (guint i = 0; i < n; i++)
        carried->rows[i * n + j] = column[i];
    }
}

MlCarried *
ml_carried_new (guint n_z, guint n, const double *rows, const double *d, const double *covariance)
{
  MlCarried *carried = g_new0 (MlCarried, 1);
  g_autofree double *l = g_memdup2 (covariance, MAX (n * n, 1) * sizeof *l);
  g_autofree double *white = g_memdup2 (rows, MAX (n * n_z, 1) * sizeof *white), *white_d = g_memdup2 (d, MAX (n, 1) * sizeof *white_d);

  carried->n_z = n_z;
  carried->mean = g_new0 (double, MAX (n_z, 1));
  carried->known = g_new0 (gboolean, MAX (n_z, 1));
  carried->direction = g_new0 (double, MAX (n * n_z, 1));
  carried->shrink = g_new0 (double, MAX (n, 1));
  for (guint i = 0; i < n; i++) /* Cholesky, row by row; row i of L^-1 (J F) and L^-1 d on the way */
    {
      for (guint j = 0; j <= i; j++)
        {
          double sum = covariance[i * n + j] - dot (l + i * n, l + j * n, j);

          if (i == j && !(sum > 0))
            {
              ml_carried_free (carried);
              return NULL;
            }
          l[i * n + j] = i == j ? sqrt (sum) : sum / l[j * n + j];
        }
      for (guint j = 0; j < i; j++)
        {
          for (guint k = 0; k < n_z; k++)
            white[i * n_z + k] -= l[i * n + j] * white[j * n_z + k];
          white_d[i] -= l[i * n + j] * white_d[j];
        }
      for (guint k = 0; k < n_z; k++)
        {
          white[i * n_z + k] /= l[i * n + i];
          carried->mean[k] += white[i * n_z + k] * white_d[i] / l[i * n + i];
        }
      white_d[i] /= l[i * n + i];
      add_direction (carried, white + i * n_z);
    }
  multiply_out (carried);
  return carried;
}

void
ml_carried_free (MlCarried *carried)
{
  if (!carried)
    return;
  for (guint c = 0; c < carried->n_conditions; c++)
    g_free (carried->pin_v[c]);
  g_free (carried->pin_v);
  g_free (carried->mean);
  g_free (carried->direction);
  g_free (carried->rows);
  g_free (carried->shrink);
  g_free (carried->known);
  g_free (carried);
}

void
ml_carried_to_z (const MlCarried *carried, const double *w, double *ret_z)
{
  if (w)
    memcpy (ret_z, w, carried->n_z * sizeof *ret_z);
  else
    memset (ret_z, 0, carried->n_z * sizeof *ret_z);
  for (guint k = carried->rank; w && k-- > 0;)
    shrink_along (ret_z, carried->direction + k * carried->n_z, carried->shrink[k], carried->n_z);
  for (guint i = 0; i < carried->n_z; i++)
    ret_z[i] += carried->mean[i];
}

void
ml_carried_slopes (const MlCarried *carried, double *slope)
{
  const guint n = carried->n_z;
  g_autofree double *in_w = g_new0 (double, MAX (n, 1));

  for (guint i = 0; i < n; i++)
    if (slope[i] != 0)
      for (guint k = 0; k < n; k++)
        in_w[k] += slope[i] * carried->rows[i * n + k];
  memcpy (slope, in_w, n * sizeof *slope);
}

double
ml_carried_variance (const MlCarried *carried, guint z)
{
  return dot (carried->rows + z * carried->n_z, carried->rows + z * carried->n_z, carried->n_z);
}
