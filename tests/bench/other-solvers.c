/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/other-solvers.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multiroots.h>
#include <kinsol/kinsol.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_klu.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunmatrix/sunmatrix_sparse.h>

#define MOST_STEPS 200

/* f and the Jacobian at x, a pure function of x. */
static void
assemble_at (MlNodalSolver *solver, const double *x)
{
  memcpy (solver->x + 1, x, (size_t) (solver->n_unknowns - 1) * sizeof *x);
  solver->have_limited = false;
  ml_nodal_assemble (solver);
}

/* Entry by entry to set (data, row, column, value). */
static void
walk_jacobian (const MlNodalSolver *solver, void (*set) (void *data, int row, int column, double value), void *data)
{
  const MlNodalMatrix *matrix = &solver->matrix;
  int n = matrix->n, m = matrix->m;
  const double *b = matrix->values + matrix->n_entries + 1, *c = b + n * m, *d = c + n * m;

  for (int k = 0; k < n; k++)
    for (int e = matrix->circuit->column[k]; e < matrix->circuit->column[k + 1]; e++)
      set (data, matrix->circuit->row[e], k, matrix->values[e]);
  for (int k = 0; k < m; k++)
    for (int r = 0; r < n; r++)
      {
        set (data, r, n + k, b[k * n + r]);
        set (data, n + k, r, c[k * n + r]);
      }
  for (int k = 0; k < m * m; k++)
    set (data, n + k / m, n + k % m, d[k]);
}

/* ---- GSL ---- */

static int
gsl_f (const gsl_vector *x, void *data, gsl_vector *f)
{
  MlNodalSolver *solver = data;
  assemble_at (solver, x->data);
  memcpy (f->data, solver->f + 1, f->size * sizeof (double));
  return GSL_SUCCESS;
}

static void
set_gsl (void *data, int row, int column, double value)
{
  gsl_matrix_set (data, (size_t) row, (size_t) column, value);
}

static int
gsl_fdf (const gsl_vector *x, void *data, gsl_vector *f, gsl_matrix *jacobian)
{
  gsl_f (x, data, f);
  gsl_matrix_set_zero (jacobian);
  walk_jacobian (data, set_gsl, jacobian);
  return GSL_SUCCESS;
}

static int
gsl_df (const gsl_vector *x, void *data, gsl_matrix *jacobian)
{
  assemble_at (data, x->data);
  gsl_matrix_set_zero (jacobian);
  walk_jacobian (data, set_gsl, jacobian);
  return GSL_SUCCESS;
}

int
bench_gsl_solve (MlNodalSolver *solver, double *ret_x)
{
  size_t n = (size_t) solver->n_unknowns - 1;
  gsl_multiroot_function_fdf functions = { gsl_f, gsl_df, gsl_fdf, n, solver };
  gsl_multiroot_fdfsolver *method = gsl_multiroot_fdfsolver_alloc (gsl_multiroot_fdfsolver_hybridsj, n);
  gsl_vector *start = gsl_vector_calloc (n);
  int steps = 0, status = GSL_CONTINUE;

  gsl_set_error_handler_off ();
  if (gsl_multiroot_fdfsolver_set (method, &functions, start) != GSL_SUCCESS)
    status = GSL_FAILURE;
  while (status == GSL_CONTINUE && steps < MOST_STEPS)
    {
      steps++;
      status = gsl_multiroot_fdfsolver_iterate (method);
      if (status == GSL_SUCCESS)
        status = gsl_multiroot_test_delta (method->dx, method->x, 1e-9, 1e-9);
    }
  memcpy (ret_x + 1, method->x->data, n * sizeof (double));
  gsl_multiroot_fdfsolver_free (method);
  gsl_vector_free (start);
  return status == GSL_SUCCESS ? steps : 0;
}

/* ---- KINSOL ---- */

static int
kinsol_f (N_Vector x, N_Vector f, void *data)
{
  MlNodalSolver *solver = data;
  assemble_at (solver, N_VGetArrayPointer (x));
  memcpy (N_VGetArrayPointer (f), solver->f + 1, (size_t) (solver->n_unknowns - 1) * sizeof (double));
  return 0;
}

static void
set_kinsol (void *data, int row, int column, double value)
{
  SUNMatrix jacobian = data;
  SM_ELEMENT_D (jacobian, row, column) = value;
}

static int
kinsol_dense (N_Vector x, N_Vector f, SUNMatrix jacobian, void *data, N_Vector one, N_Vector two)
{
  assemble_at (data, N_VGetArrayPointer (x));
  SUNMatZero (jacobian);
  walk_jacobian (data, set_kinsol, jacobian);
  return 0;
}

static int
kinsol_sparse (N_Vector x, N_Vector f, SUNMatrix jacobian, void *data, N_Vector one, N_Vector two)
{
  MlNodalSolver *solver = data;
  const MlNodalCircuit *circuit = solver->circuit;

  assemble_at (solver, N_VGetArrayPointer (x));
  SUNMatZero (jacobian);
  for (int c = 0; c <= solver->matrix.n; c++)
    SUNSparseMatrix_IndexPointers (jacobian)[c] = circuit->column[c];
  for (int e = 0; e < circuit->n_entries; e++)
    SUNSparseMatrix_IndexValues (jacobian)[e] = circuit->row[e];
  memcpy (SUNSparseMatrix_Data (jacobian), solver->matrix.values, (size_t) circuit->n_entries * sizeof (double));
  return 0;
}

int
bench_kinsol_solve (MlNodalSolver *solver, bool dense, double *ret_x)
{
  sunindextype n = solver->n_unknowns - 1;
  SUNContext context;
  long calls = 0;

  SUNContext_Create (NULL, &context);
  N_Vector x = N_VNew_Serial (n, context), scale = N_VNew_Serial (n, context);
  N_VConst (0, x);
  N_VConst (1, scale);
  SUNMatrix jacobian = dense ? SUNDenseMatrix (n, n, context) : SUNSparseMatrix (n, n, solver->circuit->n_entries, CSC_MAT, context);
  SUNLinearSolver linear = dense ? SUNLinSol_Dense (x, jacobian, context) : SUNLinSol_KLU (x, jacobian, context);
  void *memory = KINCreate (context);
  KINInit (memory, kinsol_f, x);
  KINSetUserData (memory, solver);
  KINSetLinearSolver (memory, linear, jacobian);
  KINSetJacFn (memory, dense ? kinsol_dense : kinsol_sparse);
  KINSetFuncNormTol (memory, 1e-12);
  KINSetScaledStepTol (memory, 1e-13);
  KINSetNumMaxIters (memory, MOST_STEPS);
  KINSetMaxSetupCalls (memory, 1); /* the exact Jacobian in every step */
  KINSetMaxNewtonStep (memory, 1e4);
  KINSetErrFile (memory, NULL);
  KINSetPrintLevel (memory, 0);
  int status = KINSol (memory, x, KIN_LINESEARCH, scale, scale);
  KINGetNumFuncEvals (memory, &calls);
  memcpy (ret_x + 1, N_VGetArrayPointer (x), (size_t) n * sizeof (double));
  KINFree (&memory);
  SUNLinSolFree (linear);
  SUNMatDestroy (jacobian);
  N_VDestroy (x);
  N_VDestroy (scale);
  SUNContext_Free (&context);
  return status >= 0 ? (int) calls : 0;
}
