/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/second-system.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multiroots.h>
#include <lapacke.h>

typedef MlSecondSystem System;

void
ml_second_finish (MlSecondCircuit *circuit)
{
  circuit->n = circuit->n_nodes;
  for (int d = 0; d < circuit->n_parts; d++)
    for (int k = 0; k < circuit->parts[d].kind->n_inner; k++)
      circuit->parts[d].node[circuit->parts[d].kind->n_pins + k] = circuit->n++;
  for (int k = 0; k < circuit->n_joins; k++)
    circuit->joins[k].current = circuit->n++;
}

static void
part_law (const MlSecondPart *part, const long double *x, long double *at, long double *f)
{
  for (int k = 0; k < part->kind->n_pins + part->kind->n_inner; k++)
    at[k] = x[part->node[k]];
  ml_second_law (part->kind, part->p, part->open, at, f);
}

void
ml_second_residual (const MlSecondCircuit *circuit, const long double *x, long double *f, long double *ret_largest)
{
  long double at[ML_SECOND_LOCAL], own[ML_SECOND_LOCAL];

  memset (f, 0, (size_t) circuit->n * sizeof *f);
  *ret_largest = 0;
  for (int d = 0; d < circuit->n_parts; d++)
    {
      const MlSecondPart *part = &circuit->parts[d];
      part_law (part, x, at, own);
      for (int k = 0; k < part->kind->n_pins + part->kind->n_inner; k++)
        {
          f[part->node[k]] += own[k];
          if (k < part->kind->n_pins)
            *ret_largest = fmaxl (*ret_largest, fabsl (own[k]));
        }
    }
  for (int k = 0; k < circuit->n_joins; k++)
    {
      const MlSecondJoin *join = &circuit->joins[k];
      f[join->a] += x[join->current];
      f[join->b] -= x[join->current];
      f[join->current] = isfinite (join->ohm) ? x[join->a] - x[join->b] - join->ohm * x[join->current] : x[join->current];
      *ret_largest = fmaxl (*ret_largest, fabsl (x[join->current]));
    }
}

/* Row-major, n x n with the reference left in; each part by itself, by differences. */
static void
slopes (const MlSecondCircuit *circuit, const long double *x, double *a)
{
  int n = circuit->n;

  memset (a, 0, (size_t) (n * n) * sizeof *a);
  for (int d = 0; d < circuit->n_parts; d++)
    {
      const MlSecondPart *part = &circuit->parts[d];
      int n_local = part->kind->n_pins + part->kind->n_inner;
      long double at[ML_SECOND_LOCAL], f[ML_SECOND_LOCAL], moved[ML_SECOND_LOCAL];
      part_law (part, x, at, f);
      for (int c = 0; c < n_local; c++)
        {
          long double was = at[c], h = 1e-10L * (1 + fabsl (was));
          at[c] = was + h;
          ml_second_law (part->kind, part->p, part->open, at, moved);
          at[c] = was;
          for (int r = 0; r < n_local; r++)
            a[part->node[r] * n + part->node[c]] += (double) ((moved[r] - f[r]) / h);
        }
    }
  for (int k = 0; k < circuit->n_joins; k++)
    {
      const MlSecondJoin *join = &circuit->joins[k];
      a[join->a * n + join->current] += 1;
      a[join->b * n + join->current] -= 1;
      a[join->current * n + join->current] = isfinite (join->ohm) ? -join->ohm : 1;
      a[join->current * n + join->a] += isfinite (join->ohm);
      a[join->current * n + join->b] -= isfinite (join->ohm);
    }
}

void
ml_second_hold_loose (MlSecondCircuit *circuit, const long double *x)
{
  static double a[ML_SECOND_MOST * ML_SECOND_MOST];

  slopes (circuit, x, a);
  for (int r = 1; r < circuit->n_nodes; r++)
    {
      bool empty = true;
      for (int c = 1; c < circuit->n; c++)
        empty = empty && a[r * circuit->n + c] == 0;
      circuit->held[r] = circuit->held[r] || empty;
    }
}

/* ---- the system as a root finder sees it: unknowns 1..n-1, rows weighted to slopes of order one ---- */

bool
ml_second_system_f (const System *system, const double *at, double *ret_f)
{
  const MlSecondCircuit *circuit = system->circuit;
  long double x[ML_SECOND_MOST] = { 0 }, out[ML_SECOND_MOST], largest;

  for (int k = 1; k < circuit->n; k++)
    x[k] = at[k - 1];
  ml_second_residual (circuit, x, out, &largest);
  for (int k = 1; k < circuit->n; k++)
    {
      long double ladder = k < circuit->n_nodes ? system->leak_s * x[k] : 0;
      if (k < circuit->n_nodes && system->hold_s > 0)
        ladder += system->hold_s * (x[k] - system->anchor[k]);
      ret_f[k - 1] = circuit->held[k] ? (double) (x[k] - system->start[k]) : (double) (out[k] + ladder) * system->weight[k];
      if (!isfinite (ret_f[k - 1]))
        return false;
    }
  return true;
}

static void
full_slopes (const System *system, const long double *x, double *a)
{
  int n = system->circuit->n;

  slopes (system->circuit, x, a);
  for (int r = 1; r < n; r++)
    {
      if (r < system->circuit->n_nodes)
        a[r * n + r] += system->leak_s + system->hold_s;
      for (int c = 1; system->circuit->held[r] && c < n; c++)
        a[r * n + c] = c == r;
    }
}

bool
ml_second_system_slopes (const System *system, const double *at, double *ret_slopes)
{
  static double a[ML_SECOND_MOST * ML_SECOND_MOST];
  long double x[ML_SECOND_MOST] = { 0 };
  int n = system->circuit->n;

  for (int k = 1; k < n; k++)
    x[k] = at[k - 1];
  full_slopes (system, x, a);
  for (int r = 1; r < n; r++)
    for (int c = 1; c < n; c++)
      {
        double value = a[r * n + c] * (system->circuit->held[r] ? 1 : system->weight[r]);
        if (!isfinite (value))
          return false;
        ret_slopes[(r - 1) * (n - 1) + c - 1] = value;
      }
  return true;
}

/* ---- GSL ---- */

static int
gsl_f (const gsl_vector *at, void *data, gsl_vector *f)
{
  return ml_second_system_f (data, at->data, f->data) ? GSL_SUCCESS : GSL_EBADFUNC;
}

static int
gsl_df (const gsl_vector *at, void *data, gsl_matrix *jacobian)
{
  return ml_second_system_slopes (data, at->data, jacobian->data) ? GSL_SUCCESS : GSL_EBADFUNC;
}

static int
gsl_fdf (const gsl_vector *at, void *data, gsl_vector *f, gsl_matrix *jacobian)
{
  int status = gsl_f (at, data, f);
  return status == GSL_SUCCESS ? gsl_df (at, data, jacobian) : status;
}

void
ml_second_system_weigh (System *system, const long double *x)
{
  static double a[ML_SECOND_MOST * ML_SECOND_MOST];
  int n = system->circuit->n;

  full_slopes (system, x, a);
  for (int r = 1; r < n; r++)
    {
      double largest = 0;
      for (int c = 1; c < n; c++)
        largest = fmax (largest, fabs (a[r * n + c]));
      system->weight[r] = largest > 0 && isfinite (largest) ? 1 / largest : 1;
    }
}

/* One run of GSL; x moves to where it ends. True at a root as far as double precision goes. */
static bool
run (System *system, long double *x)
{
  int n = system->circuit->n - 1, status = GSL_SUCCESS;
  gsl_multiroot_function_fdf function = { gsl_f, gsl_df, gsl_fdf, (size_t) n, system };
  gsl_multiroot_fdfsolver *solver = gsl_multiroot_fdfsolver_alloc (gsl_multiroot_fdfsolver_hybridsj, (size_t) n);
  gsl_vector *start = gsl_vector_alloc ((size_t) n);
  bool found = false;

  ml_second_system_weigh (system, x);
  for (int k = 0; k < n; k++)
    gsl_vector_set (start, (size_t) k, (double) x[k + 1]);
  if (gsl_multiroot_fdfsolver_set (solver, &function, start) == GSL_SUCCESS)
    {
      for (int k = 0; k < 200 && status == GSL_SUCCESS && !found; k++)
        {
          status = gsl_multiroot_fdfsolver_iterate (solver);
          found = gsl_multiroot_test_residual (solver->f, 1e-9) == GSL_SUCCESS;
        }
      for (int k = 0; k < n; k++)
        x[k + 1] = gsl_vector_get (solver->x, (size_t) k);
    }
  gsl_vector_free (start);
  gsl_multiroot_fdfsolver_free (solver);
  return found;
}

bool
ml_second_system_sharpen (System *system, long double *x)
{
  static double a[ML_SECOND_MOST * ML_SECOND_MOST], m[ML_SECOND_MOST * ML_SECOND_MOST];
  int n = system->circuit->n;
  double b[ML_SECOND_MOST];
  lapack_int pivots[ML_SECOND_MOST];
  long double f[ML_SECOND_MOST], largest;
  double last = INFINITY;

  for (int k = 0; k < 8; k++)
    {
      ml_second_system_weigh (system, x);
      full_slopes (system, x, a);
      ml_second_residual (system->circuit, x, f, &largest);
      for (int r = 1; r < n; r++)
        {
          double weight = system->circuit->held[r] ? 1 : system->weight[r];
          b[r - 1] = system->circuit->held[r] ? (double) (system->start[r] - x[r]) : (double) (-f[r] * weight);
          for (int c = 1; c < n; c++)
            m[(r - 1) * (n - 1) + c - 1] = a[r * n + c] * weight;
        }
      if (LAPACKE_dgesv (LAPACK_ROW_MAJOR, n - 1, 1, m, n - 1, pivots, b, 1) != 0)
        return false;
      last = 0;
      for (int r = 1; r < n; r++)
        {
          x[r] += b[r - 1];
          if (!isfinite (b[r - 1]))
            return false;
          if (r < system->circuit->n_nodes)
            last = fmax (last, fabs (b[r - 1]) / (1e-6 + 1e-6 * fabs ((double) x[r])));
        }
      if (last < 1e-3)
        return true;
    }
  return last < 0.1;
}

bool
ml_second_solve (const MlSecondCircuit *circuit, double leak_s, long double *x)
{
  long double start[ML_SECOND_MOST];
  System system = { .circuit = circuit, .start = start };

  gsl_set_error_handler_off ();
  memcpy (start, x, (size_t) circuit->n * sizeof *start);
  for (double leak = leak_s; leak > 1e-13; leak /= 10)
    {
      system.leak_s = leak;
      run (&system, x); /* what stops short is a start for the next all the same */
    }
  system.leak_s = 0;
  run (&system, x);
  return ml_second_system_sharpen (&system, x);
}
