/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Right-hand sides side by side, with the factors of the last solve. */
#include "nodal/matrix-private.h"

#include "nodal/small.h"

#include <string.h>

#define FEW_LANES 2 /* so many are solved sooner one by one */

static int
count_lanes (unsigned which)
{
  int n = 0;

  for (int k = 0; k < ML_NODAL_LANES; k++)
    n += which >> k & 1;
  return n;
}

/* One lane: x = A^-1 x, or A^-T x. work[2 n] */
static bool
solve_main_lane (MlNodalMatrix *matrix, bool transposed, int width, int lane, double *x, double *work)
{
  int n = matrix->n;

  for (int r = 0; r < n; r++)
    work[r] = x[r * width + lane];
  if (matrix->current && transposed)
    ml_nodal_schedule_solve_transposed (matrix->schedule, matrix->current, work, work + n);
  else if (matrix->current)
    ml_nodal_schedule_solve (matrix->schedule, matrix->current, work, work + n);
  else if (!(transposed ? klu_tsolve (matrix->symbolic, matrix->numeric, n, 1, work, &matrix->common)
                        : klu_solve (matrix->symbolic, matrix->numeric, n, 1, work, &matrix->common)))
    return false;
  for (int r = 0; r < n; r++)
    x[r * width + lane] = work[r];
  return true;
}

/* x = A^-1 x, or A^-T x: to the last bit as lane by lane. */
static bool
solve_main_columns (MlNodalMatrix *matrix, bool transposed, int width, unsigned which, double *x, double *work)
{
  bool solved = true;

  if (matrix->n == 0)
    return true;
  if (!matrix->current || count_lanes (which) <= FEW_LANES)
    for (int k = 0; k < width; k++)
      solved = solved && (!(which >> k & 1) || solve_main_lane (matrix, transposed, width, k, x, work));
  else if (transposed)
    ml_nodal_schedule_solve_transposed_columns (matrix->schedule, matrix->current, x, work);
  else
    ml_nodal_schedule_solve_columns (matrix->schedule, matrix->current, x, work);
  return solved;
}

/* to -= a from, of n numbers with their lanes. */
static inline void
subtract_lanes (double *to, double a, const double *from, int width)
{
  for (int k = 0; k < width; k++)
    to[k] -= a * from[k];
}

/* y = S^-1 y or S^-T y of m numbers with their lanes. */
static void
small_solve_columns (MlNodalMatrix *matrix, bool transposed, int width, double *y)
{
  for (int k = 0; k < width; k++)
    {
      for (int r = 0; r < matrix->m; r++)
        matrix->small_x[r] = y[r * width + k];
      if (transposed)
        ml_nodal_small_solve_transposed (matrix->small, matrix->m, matrix->pivot, matrix->small_x);
      else
        ml_nodal_small_solve (matrix->small, matrix->m, matrix->pivot, matrix->small_x);
      for (int r = 0; r < matrix->m; r++)
        y[r * width + k] = matrix->small_x[r];
    }
}

/* One lane of b alone, with the numbers of that lane next to each other: to the last bit as side by side. work[3 n]. Whether it is solved well. */
static bool
solve_lane (MlNodalMatrix *matrix, bool careful, int width, int lane, const double *b, double *x, double *work, bool *ret_poor)
{
  int n = matrix->n;
  double *right = work, *own = work + n, *residual = work + 2 * n;
  bool well = true;

  for (int r = 0; r < n; r++)
    own[r] = right[r] = b[r * width + lane];
  *ret_poor = false;
  if (!ml_nodal_matrix_solve_one (matrix, own))
    return false;
  if (careful && !ml_nodal_matrix_column_is_well (matrix, right, 1, own, residual))
    {
      *ret_poor = true;
      well = ml_nodal_matrix_refine_column (matrix, right, 1, own, residual);
    }
  for (int r = 0; r < n; r++)
    x[r * width + lane] = own[r];
  return well;
}

/* Of these lanes, those that are solved well, at last by refinement; *ret_poor: those it was needed for. work holds n numbers, rest as many. */
static unsigned
refine_columns (MlNodalMatrix *matrix, unsigned which, const double *b, double *x, double *work, double *rest, unsigned *ret_poor)
{
  const int width = ML_NODAL_LANES;
  const MlNodalCircuit *circuit = matrix->circuit;
  unsigned left = which;

  for (int round = 0; left; round++)
    {
      left &= ~ml_nodal_columns_solved_well (matrix->n, circuit->row_start, circuit->row_entry, circuit->row_column, matrix->values, x, b,
                                             ML_NODAL_MOST_BACKWARD_ERROR, ML_NODAL_NO_ERROR, rest);
      if (round == 0)
        *ret_poor = left;
      if (!left || round == ML_NODAL_MOST_REFINEMENTS || !solve_main_columns (matrix, false, width, left, rest, work))
        break;
      for (int k = 0; k < width; k++)
        for (int r = 0; left >> k & 1 && r < matrix->n; r++)
          x[r * width + k] += rest[r * width + k];
    }
  return which & ~left;
}

unsigned
ml_nodal_matrix_solve_columns (MlNodalMatrix *matrix, int width, unsigned which, unsigned careful, const double *b, double *ret_x, double *work,
                               unsigned *ret_poor)
{
  int n = matrix->n, m = matrix->m;
  double *x = ret_x + width, *y = x + n * width;
  unsigned poor = 0;

  if (!matrix->factored)
    return 0;
  memcpy (ret_x, b, (size_t) ((n + m + 1) * width) * sizeof (double));
  careful &= matrix->fresh ? 0 : which;
  if (count_lanes (which) <= FEW_LANES)
    {
      for (int k = 0; n > 0 && k < width; k++)
        if (which >> k & 1)
          {
            bool own_poor;
            if (!solve_lane (matrix, careful >> k & 1, width, k, b + width, x, work, &own_poor))
              which &= ~(1u << k);
            poor |= own_poor ? 1u << k : 0;
          }
    }
  else if (!solve_main_columns (matrix, false, width, which, x, work))
    return 0;
  else if (careful && n > 0)
    which = (which & ~careful) | refine_columns (matrix, careful, b + width, x, work, work + (n + m + 1) * width, &poor);
  if (ret_poor)
    *ret_poor = poor;
  const double *c = matrix->values + matrix->n_entries + 1 + n * m;
  for (int r = 0; r < m; r++)
    for (int j = 0; j < n; j++)
      if (c[r * n + j] != 0)
        subtract_lanes (y + r * width, c[r * n + j], x + j * width, width);
  if (m > 0)
    small_solve_columns (matrix, false, width, y);
  for (int r = 0; r < m; r++)
    for (int j = 0; j < n; j++)
      subtract_lanes (x + j * width, matrix->work[n * (r + 1) + j], y + r * width, width);
  return which;
}

/* A' x = b of n numbers with their lanes, refined as one right-hand side alone is. b and x are two arrays; work: 2 n, as many. */
static bool
solve_transposed_well (MlNodalMatrix *matrix, int width, unsigned which, const double *b, double *x, double *work)
{
  const MlNodalCircuit *circuit = matrix->circuit;
  int n = matrix->n;
  double *rest = work + n * width;
  unsigned left = which;

  memcpy (x, b, (size_t) (n * width) * sizeof (double));
  if (!solve_main_columns (matrix, true, width, which, x, work))
    return false;
  if (width == 1)
    return ml_nodal_matrix_refine_transposed (matrix, b, x, matrix->check + n + 1);
  for (int round = 0; round < ML_NODAL_MOST_REFINEMENTS; round++)
    {
      left &= ~ml_nodal_columns_transposed_well (n, circuit->column, circuit->row, matrix->values, x, b, ML_NODAL_MOST_BACKWARD_ERROR, rest);
      if (!left)
        break;
      if (!solve_main_columns (matrix, true, width, left, rest, work))
        return false;
      for (int k = 0; k < width; k++)
        for (int r = 0; left >> k & 1 && r < n; r++)
          x[r * width + k] += rest[r * width + k];
    }
  return true;
}

bool
ml_nodal_matrix_solve_transposed_columns (MlNodalMatrix *matrix, int width, unsigned which, const double *f, double *ret_x, double *work)
{
  int n = matrix->n, m = matrix->m;
  const double *b = matrix->values + matrix->n_entries + 1, *c = b + n * m;
  double *x = ret_x + width, *y = x + n * width, *right = work + 2 * n * width;

  if (!matrix->factored)
    return false;
  matrix->n_transposed++;
  memcpy (ret_x, f, (size_t) width * sizeof (double));
  memcpy (y, f + (n + 1) * width, (size_t) (m * width) * sizeof (double));
  if (!solve_transposed_well (matrix, width, which, f + width, x, work))
    return false;
  if (m == 0)
    return true;
  /* As one right-hand side alone is solved. */
  for (int r = 0; r < m; r++)
    for (int j = 0; j < n; j++)
      if (b[r * n + j] != 0)
        subtract_lanes (y + r * width, b[r * n + j], x + j * width, width);
  small_solve_columns (matrix, true, width, y);
  memcpy (right, f + width, (size_t) (n * width) * sizeof (double));
  for (int r = 0; r < m; r++)
    for (int j = 0; j < n; j++)
      if (c[r * n + j] != 0)
        subtract_lanes (right + j * width, c[r * n + j], y + r * width, width);
  return solve_transposed_well (matrix, width, which, right, x, work);
}
