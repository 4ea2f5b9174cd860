/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/matrix-private.h"

#include "nodal/small.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_STALE_ROUNDS 8
#define MOST_ADDITIONS 40 /* for each entry: beyond it the fill is such that KLU does as well */

MlNodalStatus
ml_nodal_matrix_init (MlNodalMatrix *matrix, const MlNodalCircuit *circuit)
{
  memset (matrix, 0, sizeof *matrix);
  matrix->circuit = circuit;
  matrix->n = circuit->n_unknowns - 1;
  matrix->n_entries = circuit->n_entries;
  if (!klu_defaults (&matrix->common))
    return ML_NODAL_NO_MEMORY;
  matrix->check = malloc (4 * ((size_t) matrix->n + 1) * sizeof (double));
  MlNodalStatus status = matrix->check ? ml_nodal_matrix_set_border (matrix, 0) : ML_NODAL_NO_MEMORY;
  if (status != ML_NODAL_OK || matrix->n == 0)
    return status;
  matrix->symbolic = klu_analyze (matrix->n, circuit->column, circuit->row, &matrix->common);
  matrix->n_analyses++;
  if (!matrix->symbolic)
    return matrix->common.status == KLU_SINGULAR ? ML_NODAL_SINGULAR : ML_NODAL_NO_MEMORY;
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_matrix_init_lane (MlNodalMatrix *matrix, const MlNodalMatrix *of)
{
  memset (matrix, 0, sizeof *matrix);
  matrix->circuit = of->circuit;
  matrix->n = of->n;
  matrix->n_entries = of->n_entries;
  matrix->check = malloc (4 * ((size_t) matrix->n + 1) * sizeof (double));
  return matrix->check ? ml_nodal_matrix_set_border (matrix, 0) : ML_NODAL_NO_MEMORY;
}

static void
free_schedule (MlNodalMatrix *matrix)
{
  ml_nodal_schedule_free (matrix->schedule);
  free (matrix->lu);
  free (matrix->first_lu);
  free (matrix->first_values);
  matrix->schedule = NULL;
  matrix->lu = matrix->first_lu = matrix->first_values = NULL;
  matrix->current = NULL;
  matrix->first_known = false;
}

void
ml_nodal_matrix_clear (MlNodalMatrix *matrix)
{
  klu_free_numeric (&matrix->numeric, &matrix->common);
  klu_free_symbolic (&matrix->symbolic, &matrix->common);
  free (matrix->values);
  free (matrix->work);
  free (matrix->small);
  free (matrix->small_x);
  free (matrix->pivot);
  free (matrix->check);
  free (matrix->usual);
  free_schedule (matrix);
  memset (matrix, 0, sizeof *matrix);
}

int
ml_nodal_matrix_n_values (const MlNodalMatrix *matrix)
{
  return matrix->n_entries + 1 + 2 * matrix->n * matrix->m + matrix->m * matrix->m;
}

MlNodalStatus
ml_nodal_matrix_set_border (MlNodalMatrix *matrix, int m)
{
  if (!matrix->values || m > matrix->room)
    {
      int room = m > 0 ? m + 4 : 0;
      size_t n = (size_t) matrix->n, r = (size_t) room;
      double *values = malloc (((size_t) matrix->n_entries + 1 + 2 * n * r + r * r) * sizeof (double));
      double *work = malloc ((n + 1) * (r + 1) * sizeof (double));
      double *small = malloc ((r * r + 1) * sizeof (double));
      double *small_x = malloc ((r + 1) * sizeof (double));
      int *pivot = malloc ((r + 1) * sizeof (int));
      if (!values || !work || !small || !small_x || !pivot)
        {
          free (values);
          free (work);
          free (small);
          free (small_x);
          free (pivot);
          return ML_NODAL_NO_MEMORY;
        }
      free (matrix->values);
      free (matrix->work);
      free (matrix->small);
      free (matrix->small_x);
      free (matrix->pivot);
      matrix->values = values;
      matrix->work = work;
      matrix->small = small;
      matrix->small_x = small_x;
      matrix->pivot = pivot;
      matrix->room = room;
    }
  matrix->m = m;
  matrix->factored = false;
  return ML_NODAL_OK;
}

int
ml_nodal_matrix_position (const MlNodalMatrix *matrix, int row, int column)
{
  int n = matrix->n, m = matrix->m, b = matrix->n_entries + 1;

  if (row == 0 || column == 0)
    return matrix->n_entries;
  if (row <= n && column <= n)
    return ml_nodal_circuit_entry (matrix->circuit, row, column);
  if (row <= n)
    return b + (column - n - 1) * n + row - 1;
  if (column <= n)
    return b + n * m + (row - n - 1) * n + column - 1;
  return b + 2 * n * m + (row - n - 1) * m + column - n - 1;
}

/* New pivots (fresh) or the old ones for the current values. */
static MlNodalStatus
factor (MlNodalMatrix *matrix, bool fresh, int *ret_row)
{
  int *column = matrix->circuit->column, *row = matrix->circuit->row;

  if (matrix->n == 0)
    return ML_NODAL_OK;
  if (!fresh && matrix->numeric)
    {
      matrix->n_refactors++;
      if (klu_refactor (column, row, matrix->values, matrix->symbolic, matrix->numeric, &matrix->common)
          && matrix->common.status == KLU_OK)
        {
          matrix->fresh = false;
          return ML_NODAL_OK;
        }
    }
  klu_free_numeric (&matrix->numeric, &matrix->common);
  matrix->n_factors++;
  matrix->fresh = matrix->unusual = true;
  matrix->numeric = klu_factor (column, row, matrix->values, matrix->symbolic, &matrix->common);
  if (matrix->common.status == KLU_SINGULAR || (matrix->numeric && matrix->common.status != KLU_OK))
    {
      int c = matrix->common.singular_col;
      *ret_row = c >= 0 && c < matrix->n ? c + 1 : 0;
      return ML_NODAL_SINGULAR;
    }
  return matrix->numeric ? ML_NODAL_OK : matrix->common.status == KLU_OUT_OF_MEMORY ? ML_NODAL_NO_MEMORY : ML_NODAL_SINGULAR;
}

/* A schedule for the pivots that KLU has chosen, where it is short enough to be quicker. */
static MlNodalStatus
make_schedule (MlNodalMatrix *matrix)
{
  bool too_long;

  free_schedule (matrix);
  matrix->schedule = ml_nodal_schedule_new (matrix->n, matrix->circuit->column, matrix->circuit->row, matrix->numeric->Pnum,
                                            matrix->symbolic->Q, MOST_ADDITIONS * matrix->n_entries, &too_long);
  if (!matrix->schedule)
    return too_long ? ML_NODAL_OK : ML_NODAL_NO_MEMORY;
  matrix->lu = malloc ((size_t) matrix->schedule->n_slots * sizeof (double));
  matrix->first_lu = malloc ((size_t) matrix->schedule->n_slots * sizeof (double));
  matrix->first_values = malloc ((size_t) matrix->n_entries * sizeof (double));
  return matrix->lu && matrix->first_lu && matrix->first_values ? ML_NODAL_OK : ML_NODAL_NO_MEMORY;
}

MlNodalStatus
ml_nodal_matrix_keep_pivots (MlNodalMatrix *matrix)
{
  int row;

  if (!matrix->usual)
    matrix->usual = malloc (((size_t) matrix->n_entries + 1) * sizeof (double));
  if (!matrix->usual)
    return ML_NODAL_NO_MEMORY;
  memcpy (matrix->usual, matrix->values, (size_t) matrix->n_entries * sizeof (double));
  if (factor (matrix, true, &row) == ML_NODAL_OK)
    {
      matrix->unusual = false;
      return matrix->n > 0 ? make_schedule (matrix) : ML_NODAL_OK;
    }
  free (matrix->usual); /* no such pivots: then none are usual */
  matrix->usual = NULL;
  return matrix->common.status == KLU_OUT_OF_MEMORY ? ML_NODAL_NO_MEMORY : ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_matrix_usual_pivots (MlNodalMatrix *matrix)
{
  int row;

  matrix->factored = false;
  if (!matrix->usual)
    {
      klu_free_numeric (&matrix->numeric, &matrix->common);
      return ML_NODAL_OK;
    }
  if (matrix->schedule)
    matrix->unusual = false;
  if (!matrix->unusual && matrix->numeric)
    return ML_NODAL_OK;
  memcpy (matrix->values, matrix->usual, (size_t) matrix->n_entries * sizeof (double));
  MlNodalStatus status = factor (matrix, true, &row);
  matrix->unusual = status != ML_NODAL_OK;
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_OK;
}

/* Whether work (column 0) = A^-1 f to a decent componentwise backward error: |A w - f| / (|A| |w| + |f|) in every row.
 * Source: Oettli and Prager, Numerische Mathematik 6 (1964); Arioli, Demmel, Duff, SIAM J. Matrix Anal. Appl. 10 (1989). */
static bool
solved_well (MlNodalMatrix *matrix, const double *f, double *residual, double *size)
{
  const int *start = matrix->circuit->row_start, *entry = matrix->circuit->row_entry, *column = matrix->circuit->row_column;
  bool well = true;

  for (int r = 0; r < matrix->n; r++)
    {
      double rest = -f[r + 1], own = fabs (rest);
      for (int k = start[r]; k < start[r + 1]; k++)
        {
          double t = matrix->values[entry[k]] * matrix->work[column[k]];
          rest -= t;
          own += fabs (t);
        }
      residual[r] = rest;
      size[r] = own;
      well = well && fabs (rest) <= fmax (ML_NODAL_MOST_BACKWARD_ERROR * own, ML_NODAL_NO_ERROR) && isfinite (own);
    }
  return well;
}

/* Along the schedule: the factors, unless they are at hand. */
static void
factor_scheduled (MlNodalMatrix *matrix, MlNodalFactoring factoring)
{
  size_t bytes = (size_t) matrix->n_entries * sizeof (double);

  if (factoring == ML_NODAL_FACTOR)
    {
      matrix->n_refactors++;
      ml_nodal_schedule_factor (matrix->schedule, matrix->values, matrix->lu);
      matrix->current = matrix->lu;
      return;
    }
  matrix->current = matrix->first_lu;
  if (matrix->first_known && memcmp (matrix->first_values, matrix->values, bytes) == 0)
    return;
  matrix->n_refactors++;
  memcpy (matrix->first_values, matrix->values, bytes);
  matrix->first_known = true;
  ml_nodal_schedule_factor (matrix->schedule, matrix->values, matrix->first_lu);
}

static MlNodalStatus
solve_main (MlNodalMatrix *matrix, const double *f)
{
  int n = matrix->n, m = matrix->m;

  for (int r = 0; r < n; r++)
    matrix->work[r] = -f[r + 1];
  memcpy (matrix->work + n, matrix->values + matrix->n_entries + 1, (size_t) n * (size_t) m * sizeof (double));
  if (matrix->current)
    for (int k = 0; k <= m; k++)
      ml_nodal_schedule_solve (matrix->schedule, matrix->current, matrix->work + (size_t) n * (size_t) k, matrix->check);
  else if (n > 0 && !klu_solve (matrix->symbolic, matrix->numeric, n, m + 1, matrix->work, &matrix->common))
    return ML_NODAL_SINGULAR;
  return ML_NODAL_OK;
}

bool
ml_nodal_matrix_solve_one (MlNodalMatrix *matrix, double *x)
{
  if (!matrix->current)
    return klu_solve (matrix->symbolic, matrix->numeric, matrix->n, 1, x, &matrix->common);
  ml_nodal_schedule_solve (matrix->schedule, matrix->current, x, matrix->check);
  return true;
}

bool
ml_nodal_matrix_column_is_well (const MlNodalMatrix *matrix, const double *b, double sign, const double *w, double *residual)
{
  const int *start = matrix->circuit->row_start, *entry = matrix->circuit->row_entry, *column = matrix->circuit->row_column;
  bool well = true;

  for (int r = 0; r < matrix->n; r++)
    {
      double rest = sign * b[r], own = fabs (rest);
      for (int k = start[r]; k < start[r + 1]; k++)
        {
          double t = matrix->values[entry[k]] * w[column[k]];
          rest -= t;
          own += fabs (t);
        }
      residual[r] = rest;
      well = well && fabs (rest) <= fmax (ML_NODAL_MOST_BACKWARD_ERROR * own, ML_NODAL_NO_ERROR) && isfinite (own);
    }
  return well;
}

bool
ml_nodal_matrix_refine_column (MlNodalMatrix *matrix, const double *b, double sign, double *w, double *residual)
{
  for (int round = 0;; round++)
    {
      if (ml_nodal_matrix_column_is_well (matrix, b, sign, w, residual))
        return true;
      for (int k = 0; k < matrix->n; k++)
        if (!isfinite (residual[k]))
          return false;
      if (round == ML_NODAL_MOST_REFINEMENTS || !ml_nodal_matrix_solve_one (matrix, residual))
        return false;
      for (int k = 0; k < matrix->n; k++)
        w[k] += residual[k];
    }
}

/* Pivots that are only fair lose some digits, which refinement gives back: X. S. Li and J. W. Demmel, ACM TOMS 29 (2003). The border's
 * columns are seen to as well: they have lost as many. */
static bool
refined (MlNodalMatrix *matrix, const double *f, double *residual)
{
  size_t n = (size_t) matrix->n;
  const double *border = matrix->values + matrix->n_entries + 1;

  if (!ml_nodal_matrix_refine_column (matrix, f + 1, -1, matrix->work, residual))
    return false;
  for (int k = 0; k < matrix->m; k++)
    if (!ml_nodal_matrix_refine_column (matrix, border + n * (size_t) k, 1, matrix->work + n * (size_t) (k + 1), residual))
      return false;
  return true;
}

/* The largest componentwise backward error, as in solved_well. */
static double
backward_error (const MlNodalMatrix *matrix, const double *residual)
{
  double worst = 0;

  for (int r = 0; r < matrix->n; r++)
    if (!(fabs (residual[r]) <= worst * matrix->check[r]))
      worst = fabs (residual[r]) / matrix->check[r];
  return worst;
}

/* Where factoring is much dearer than solving, the factors of the step before serve as long as refinement gains a digit each time. The
 * last steps of Newton hardly change the matrix. */
static bool
solved_with_stale (MlNodalMatrix *matrix, const double *f, double *residual)
{
  double last = INFINITY;

  if (matrix->schedule || matrix->m > 0 || matrix->n == 0 || !matrix->factored)
    return false;
  memset (matrix->work, 0, (size_t) matrix->n * sizeof (double));
  for (int r = 0; r < matrix->n; r++)
    residual[r] = -f[r + 1];
  for (int round = 0; round < MOST_STALE_ROUNDS; round++)
    {
      if (!klu_solve (matrix->symbolic, matrix->numeric, matrix->n, 1, residual, &matrix->common))
        return false;
      for (int k = 0; k < matrix->n; k++)
        matrix->work[k] += residual[k];
      if (solved_well (matrix, f, residual, matrix->check))
        return matrix->stale = true;
      double error = backward_error (matrix, residual);
      if (!(error <= 0.1 * last))
        return false;
      last = error;
    }
  return false;
}

/* Factors and solves the sparse part for f and the border's columns; with new pivots when the usual ones are no good for these values. */
static MlNodalStatus
factor_and_solve (MlNodalMatrix *matrix, MlNodalFactoring factoring, const double *f, double *residual, int *ret_row)
{
  bool have = factoring == ML_NODAL_FACTOR_SAME && matrix->factored;

  if (factoring == ML_NODAL_FACTOR && solved_with_stale (matrix, f, residual))
    return ML_NODAL_OK;
  matrix->stale = matrix->stale && have;
  for (int attempt = 0; attempt < 2; attempt++)
    {
      MlNodalStatus status = ML_NODAL_OK;
      if (attempt > 0 || !have)
        {
          matrix->factored = false;
          if (attempt == 0 && matrix->schedule && !matrix->unusual)
            {
              factor_scheduled (matrix, factoring);
              matrix->fresh = false;
            }
          else
            {
              matrix->current = NULL;
              status = factor (matrix, attempt > 0, ret_row);
            }
        }
      if (status == ML_NODAL_OK)
        status = solve_main (matrix, f);
      if (status != ML_NODAL_OK)
        return status;
      if (matrix->fresh || matrix->n == 0 || solved_well (matrix, f, residual, matrix->check) || refined (matrix, f, residual))
        break;
    }
  return ML_NODAL_OK;
}

static MlNodalStatus
factor_border (MlNodalMatrix *matrix, int *ret_row)
{
  int n = matrix->n, m = matrix->m;
  const double *c = matrix->values + matrix->n_entries + 1 + n * m, *d = c + n * m;

  for (int r = 0; r < m; r++)
    for (int k = 0; k < m; k++)
      {
        double s = d[r * m + k];
        const double *b = matrix->work + n * (k + 1);
        for (int j = 0; j < n; j++)
          s -= c[r * n + j] * b[j];
        matrix->small[r * m + k] = s;
      }
  int bad = ml_nodal_small_factor (matrix->small, m, matrix->pivot);
  if (bad >= 0)
    *ret_row = n + 1 + bad;
  return bad >= 0 ? ML_NODAL_SINGULAR : ML_NODAL_OK;
}

/* The border's part, from work to x. */
static MlNodalStatus
solve_border (MlNodalMatrix *matrix, const double *f, double *ret_x, int *ret_row)
{
  int n = matrix->n, m = matrix->m;

  if (m > 0)
    {
      const double *c = matrix->values + matrix->n_entries + 1 + n * m;
      MlNodalStatus status = factor_border (matrix, ret_row);
      if (status != ML_NODAL_OK)
        return status;
      for (int r = 0; r < m; r++)
        {
          double s = -f[n + 1 + r];
          for (int j = 0; j < n; j++)
            s -= c[r * n + j] * matrix->work[j];
          matrix->small_x[r] = s;
        }
      ml_nodal_small_solve (matrix->small, m, matrix->pivot, matrix->small_x);
    }
  ret_x[0] = 0;
  memcpy (ret_x + 1, matrix->work, (size_t) n * sizeof (double));
  for (int k = 0; k < m; k++)
    {
      double y = matrix->small_x[k];
      const double *b = matrix->work + n * (k + 1);
      for (int j = 0; j < n; j++)
        ret_x[1 + j] -= b[j] * y;
      ret_x[n + 1 + k] = y;
    }
  return ML_NODAL_OK;
}

bool
ml_nodal_matrix_finish_lane (MlNodalMatrix *matrix, const double *f, double *ret_x)
{
  int row;

  return solve_border (matrix, f, ret_x, &row) == ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_matrix_solve (MlNodalMatrix *matrix, MlNodalFactoring factoring, const double *f, double *ret_x, int *ret_row)
{
  *ret_row = 0;
  MlNodalStatus status = factor_and_solve (matrix, factoring, f, ret_x + 1, ret_row);
  if (status == ML_NODAL_OK)
    status = solve_border (matrix, f, ret_x, ret_row);
  matrix->factored = status == ML_NODAL_OK;
  return status;
}

/* x = A^-T x */
static bool
solve_main_transposed (MlNodalMatrix *matrix, double *x)
{
  if (!matrix->current)
    return matrix->n == 0 || klu_tsolve (matrix->symbolic, matrix->numeric, matrix->n, 1, x, &matrix->common);
  ml_nodal_schedule_solve_transposed (matrix->schedule, matrix->current, x, matrix->check);
  return true;
}

/* residual = b - A' x; whether it is as small, in every column of A, as solved_well asks. */
static bool
transposed_is_well (const MlNodalMatrix *matrix, const double *b, const double *x, double *residual)
{
  const int *column = matrix->circuit->column, *row = matrix->circuit->row;
  bool well = true;

  for (int c = 0; c < matrix->n; c++)
    {
      double rest = b[c], size = fabs (rest);
      for (int k = column[c]; k < column[c + 1]; k++)
        {
          double t = matrix->values[k] * x[row[k]];
          rest -= t;
          size += fabs (t);
        }
      residual[c] = rest;
      well = well && (fabs (rest) <= ML_NODAL_MOST_BACKWARD_ERROR * size || !isfinite (size));
    }
  return well;
}

/* What slopes are made of has to be as exact as the solution: where a net floats, the last digits of the rest are volts there. */
bool
ml_nodal_matrix_refine_transposed (MlNodalMatrix *matrix, const double *b, double *x, double *residual)
{
  for (int round = 0; round < ML_NODAL_MOST_REFINEMENTS && !transposed_is_well (matrix, b, x, residual); round++)
    {
      if (!solve_main_transposed (matrix, residual))
        return false;
      for (int r = 0; r < matrix->n; r++)
        x[r] += residual[r];
    }
  return true;
}

/* f1 - C' y: valid until the next call. */
static const double *
right_of_border (MlNodalMatrix *matrix, const double *f, const double *y)
{
  const double *c = matrix->values + matrix->n_entries + 1 + matrix->n * matrix->m;
  double *right = matrix->check + 2 * (matrix->n + 1);

  memcpy (right, f, (size_t) matrix->n * sizeof *right);
  for (int k = 0; k < matrix->m; k++)
    for (int j = 0; j < matrix->n; j++)
      right[j] -= c[k * matrix->n + j] * y[k];
  return right;
}

MlNodalStatus
ml_nodal_matrix_solve_transposed (MlNodalMatrix *matrix, const double *f, double *ret_x)
{
  int n = matrix->n, m = matrix->m;
  const double *b = matrix->values + matrix->n_entries + 1;

  int row;
  if (!matrix->factored)
    return ML_NODAL_SINGULAR;
  if (matrix->stale && factor (matrix, false, &row) != ML_NODAL_OK)
    return ML_NODAL_SINGULAR;
  matrix->stale = false;
  matrix->n_transposed++;
  memcpy (ret_x, f, (size_t) (n + m + 1) * sizeof (double));
  double *residual = matrix->check + n + 1;
  /* A' u = f1, then S' y = f2 - B' u, then x = u - A^-T C' y */
  if (!solve_main_transposed (matrix, ret_x + 1) || !ml_nodal_matrix_refine_transposed (matrix, f + 1, ret_x + 1, residual))
    return ML_NODAL_SINGULAR;
  if (m == 0)
    return ML_NODAL_OK;
  for (int k = 0; k < m; k++)
    {
      double s = f[n + 1 + k];
      for (int j = 0; j < n; j++)
        s -= b[k * n + j] * ret_x[1 + j];
      matrix->small_x[k] = s;
    }
  ml_nodal_small_solve_transposed (matrix->small, m, matrix->pivot, matrix->small_x);
  for (int k = 0; k < m; k++)
    ret_x[n + 1 + k] = matrix->small_x[k];
  const double *right = right_of_border (matrix, f + 1, matrix->small_x);
  memcpy (ret_x + 1, right, (size_t) n * sizeof (double));
  if (!solve_main_transposed (matrix, ret_x + 1) || !ml_nodal_matrix_refine_transposed (matrix, right, ret_x + 1, residual))
    return ML_NODAL_SINGULAR;
  return ML_NODAL_OK;
}
