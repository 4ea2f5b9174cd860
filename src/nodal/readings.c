/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several readings of one state of affairs. The meter is one conductance more between two nodes, and mostly a small one: the circuit is
 * varied and factored once, without a meter, and each reading found from there by a rank-one correction of those factors (Sherman and
 * Morrison, Ann. Math. Statist. 21, 1950) and, where devices bend, by chord steps with them. What that does not settle at once is
 * measured alone. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_CHORDS 5
#define MOST_SHIFT_V 0.02     /* by the meter: beyond it Newton is the better way */
#define STEP_TOLERANCE 1e-10  /* of what is left, as Newton's */
#define SLOPE_TOLERANCE 1e-9  /* of the largest, left after the last step */
#define SAME_V 1e-8           /* a thousandth of the narrowest width, a regulator's: slopes there are those without the meter; currents to as much of themselves */

typedef struct
{
  MlNodalSolver *solver;
  double *memory;
  double *settled, *drop, *lambda, *off; /* n_unknowns: x without a meter; what an ampere into red and out of black does; slopes; scratch */
  double *known, *values;                /* the devices' evaluations there, as copy_known lays them out; the matrix */
  long n_factored;                       /* so far: more of it and the factors are no longer those of the settled point */
} Readings;

static size_t
n_known (const MlNodalCircuit *circuit)
{
  return 3 * (size_t) circuit->n_locals + (size_t) circuit->n_positions;
}

/* The devices' last evaluations to or from `known`: each reading begins with those of the settled point, whatever was read before. */
static void
copy_known (MlNodalSolver *solver, double *known, bool back)
{
  size_t n_locals = (size_t) solver->circuit->n_locals;
  double *own[] = { solver->known_x, solver->known_f, solver->limited, solver->known_jacobian };

  for (int k = 0; k < 4; k++, known += n_locals)
    {
      size_t bytes = (k < 3 ? n_locals : (size_t) solver->circuit->n_positions) * sizeof (double);
      memcpy (back ? own[k] : known, back ? known : own[k], bytes);
    }
}

/* ML_NODAL_NOT_CONVERGED: not this way. */
static MlNodalStatus
begin (Readings *own, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at)
{
  MlNodalSolver *solver = own->solver;
  int row;

  MlNodalStatus status = ml_nodal_matrix_usual_pivots (&solver->matrix);
  if (status == ML_NODAL_OK)
    status = ml_nodal_run_begin (solver, changes, n_changes, NULL, at, &solver->scratch);
  if (status != ML_NODAL_OK)
    return status;
  solver->counts.solves++;
  ml_nodal_newton_begin (solver);
  ml_nodal_newton_settled (solver);
  status = ml_nodal_matrix_solve (&solver->matrix, ML_NODAL_FACTOR_FIRST, solver->f, solver->step, &row);
  if (status != ML_NODAL_OK)
    return status;
  ml_nodal_newton_take_step (solver);
  /* What moves here did not belong to these changes. */
  if (!(solver->newton.size <= 1e-5))
    return ML_NODAL_NOT_CONVERGED;
  size_t n = (size_t) solver->n_unknowns;
  size_t n_values = (size_t) ml_nodal_matrix_n_values (&solver->matrix);
  own->memory = malloc ((4 * n + n_known (solver->circuit) + n_values) * sizeof *own->memory);
  if (!own->memory)
    return ML_NODAL_NO_MEMORY;
  own->settled = own->memory;
  own->drop = own->memory + n;
  own->lambda = own->memory + 2 * n;
  own->off = own->memory + 3 * n;
  own->known = own->memory + 4 * n;
  own->values = own->known + n_known (solver->circuit);
  own->n_factored = solver->matrix.n_factors + solver->matrix.n_refactors;
  copy_known (solver, own->known, false);
  memcpy (own->values, solver->matrix.values, n_values * sizeof (double));
  memcpy (own->settled, solver->x, n * sizeof (double));
  return ML_NODAL_OK;
}

/* Jacobian' x with the values as they were assembled last. */
static void
multiply_transposed (const MlNodalMatrix *matrix, const double *x, double *ret)
{
  int n = matrix->n, m = matrix->m;
  const double *b = matrix->values + matrix->n_entries + 1, *c = b + n * m, *d = c + n * m;

  ret[0] = 0;
  for (int col = 0; col < n; col++)
    {
      double sum = 0;
      for (int k = matrix->circuit->column[col]; k < matrix->circuit->column[col + 1]; k++)
        sum += matrix->values[k] * x[matrix->circuit->row[k] + 1];
      for (int r = 0; r < m; r++)
        sum += c[r * n + col] * x[n + 1 + r];
      ret[col + 1] = sum;
    }
  for (int k = 0; k < m; k++)
    {
      double sum = 0;
      for (int r = 0; r < n; r++)
        sum += b[k * n + r] * x[r + 1];
      for (int r = 0; r < m; r++)
        sum += d[r * m + k] * x[n + 1 + r];
      ret[n + 1 + k] = sum;
    }
}

/* x += step; how large it is in units of what is asked of it, as Newton measures it. */
static double
take (MlNodalSolver *solver, const double *step, double share)
{
  double worst = 0;

  for (int u = 1; u < solver->n_unknowns; u++)
    {
      double moved = share * step[u], least = ml_nodal_is_node (solver, u) ? 1.0 : 1e-3;
      solver->x[u] += moved;
      if (fabs (moved) > worst * (least + fabs (solver->x[u])))
        worst = fabs (moved) / (least + fabs (solver->x[u]));
    }
  return worst;
}

/* Back to the settled point. The border is factored with every solve: a pin's metal may have devices that bend. */
static void
settle (Readings *own)
{
  MlNodalSolver *solver = own->solver;

  memcpy (solver->x, own->settled, (size_t) solver->n_unknowns * sizeof (double));
  memcpy (solver->matrix.values, own->values, (size_t) ml_nodal_matrix_n_values (&solver->matrix) * sizeof (double));
  copy_known (solver, own->known, true);
}

/* The circuit with the meter between two nodes: x. False: not this way. */
static bool
load (Readings *own, int red, int black, double input_ohm)
{
  MlNodalSolver *solver = own->solver;
  int row;

  memset (own->off, 0, (size_t) solver->n_unknowns * sizeof (double));
  own->off[red] -= 1; /* solving turns the sign */
  own->off[black] += 1;
  if (ml_nodal_matrix_solve (&solver->matrix, ML_NODAL_FACTOR_SAME, own->off, own->drop, &row) != ML_NODAL_OK)
    return false;
  double total = input_ohm + own->drop[red] - own->drop[black], shift = 0;
  double amps = (own->settled[red] - own->settled[black]) / total;
  if (!(total > 0.5 * input_ohm))
    return false;
  for (int u = 1; u < solver->circuit->n_nodes; u++)
    shift = fmax (shift, fabs (own->drop[u] * amps));
  if (!(shift <= MOST_SHIFT_V))
    return false;
  double last = take (solver, own->drop, -amps);
  for (int k = 0; k < MOST_CHORDS; k++)
    {
      if (last * last <= STEP_TOLERANCE * STEP_TOLERANCE || (k == 0 && !solver->nonlinear))
        return true;
      ml_nodal_assemble (solver);
      if (solver->limit_gap > 1e-9)
        return false;
      double a = (solver->x[red] - solver->x[black]) / input_ohm;
      solver->f[red] += a;
      solver->f[black] -= a;
      if (ml_nodal_matrix_solve (&solver->matrix, ML_NODAL_FACTOR_SAME, solver->f, own->off, &row) != ML_NODAL_OK)
        return false;
      double back = (own->off[red] - own->off[black]) / total;
      for (int u = 1; u < solver->n_unknowns; u++)
        own->off[u] -= back * own->drop[u];
      double size = take (solver, own->off, 1);
      solver->counts.newton_steps++;
      if (!(size <= 0.2 * last) && size > STEP_TOLERANCE)
        return false;
      if (size * size <= STEP_TOLERANCE * last) /* the next one, as chords converge */
        {
          if (size > SAME_V) /* the slopes are asked here */
            ml_nodal_assemble (solver);
          return true;
        }
      last = size;
    }
  return false;
}

/* lambda' (J + meter) = e_red - e_black at x, from the factors at the settled point. */
static bool
find_lambda (Readings *own, const double *gradient, int red, int black, double siemens, double ohm_between)
{
  MlNodalSolver *solver = own->solver;
  double *lambda = own->lambda, share = 1 / (1 + siemens * ohm_between);

  if (ml_nodal_matrix_solve_transposed (&solver->matrix, gradient, lambda) != ML_NODAL_OK)
    return false;
  if (siemens == 0)
    return true;
  for (int u = 0; u < solver->n_unknowns; u++)
    lambda[u] *= share;
  double last = INFINITY;
  for (int k = 0; solver->nonlinear && k < MOST_CHORDS; k++)
    {
      double most = 0, moved = 0;
      multiply_transposed (&solver->matrix, lambda, own->off);
      double through = siemens * (lambda[red] - lambda[black]);
      for (int u = 0; u < solver->n_unknowns; u++)
        own->off[u] = gradient[u] - own->off[u];
      own->off[red] -= through;
      own->off[black] += through;
      if (ml_nodal_matrix_solve_transposed (&solver->matrix, own->off, solver->step) != ML_NODAL_OK)
        return false;
      for (int u = 1; u < solver->n_unknowns; u++)
        {
          lambda[u] += solver->step[u];
          most = fmax (most, fabs (lambda[u]));
          moved = fmax (moved, fabs (solver->step[u]));
        }
      if (moved * fmin (moved / fmin (last, most), 1) <= SLOPE_TOLERANCE * most) /* the next one, as chords converge */
        return true;
      if (!(moved <= 0.2 * most))
        return false;
      last = moved;
    }
  return !solver->nonlinear;
}

static bool
factor_border (Readings *own)
{
  MlNodalSolver *solver = own->solver;
  int row;

  memset (own->off, 0, (size_t) solver->n_unknowns * sizeof (double));
  return ml_nodal_matrix_solve (&solver->matrix, ML_NODAL_FACTOR_SAME, own->off, own->drop, &row) == ML_NODAL_OK;
}

/* Far from the probes a meter moves next to nothing: there x goes back to the settled point, where slopes are known from reading to reading. */
static void
forget_small_shifts (Readings *own)
{
  double *x = own->solver->x;

  for (int u = 1; u < own->solver->n_unknowns; u++)
    {
      double least = ml_nodal_is_node (own->solver, u) ? 1 : fabs (own->settled[u]);
      if (fabs (x[u] - own->settled[u]) <= SAME_V * least)
        x[u] = own->settled[u];
    }
}

/* One reading from the settled point. False: not this way. */
static bool
read_one (Readings *own, const MlNodalChange *changes, int n_changes, const MlNodalParameterRef *refs, int n_refs, MlNodalReading *reading)
{
  MlNodalSolver *solver = own->solver;
  const MlNodalMeter *meter = reading->meter;
  int red = 0, black = 0;
  double siemens = 0, between = 0;

  settle (own);
  if (meter->reads == ML_NODAL_READ_VOLTS)
    {
      red = ml_nodal_point_node (solver, meter->red);
      black = ml_nodal_point_node (solver, meter->black);
      if (red == black || ml_nodal_is_floating (solver, red) || ml_nodal_is_floating (solver, black))
        return false;
      if (isfinite (meter->input_ohm))
        {
          if (!load (own, red, black, meter->input_ohm))
            return false;
          siemens = 1 / meter->input_ohm;
          between = own->drop[red] - own->drop[black];
        }
    }
  else if (meter->reads != ML_NODAL_READ_AMPS)
    return false;
  if (siemens == 0 && solver->matrix.m > 0 && !factor_border (own))
    return false;
  ml_nodal_read_value (solver, meter, &reading->value);
  if (!reading->slope && !reading->size_slope)
    return true;
  if (!find_lambda (own, solver->anchor, red, black, siemens, between))
    return false;
  forget_small_shifts (own);
  ml_nodal_read_slopes (solver, own->lambda, changes, n_changes, refs, n_refs, reading->slope, reading->size_slope);
  return true;
}

MlNodalStatus
ml_nodal_measure_all (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at,
                      const MlNodalParameterRef *refs, int n_refs, MlNodalReading *readings, int n_readings)
{
  Readings own = { .solver = solver };
  MlNodalStatus status = ML_NODAL_OK;
  bool any = false;

  for (int i = 0; i < n_readings; i++)
    {
      bool valid = ml_nodal_meter_is_valid (solver->circuit, readings[i].meter, refs, n_refs);
      readings[i].status = valid ? ML_NODAL_NOT_CONVERGED : ML_NODAL_BAD_ARGUMENT;
      any = any || valid;
    }
  if (!solver->scratch.net_v)
    status = ml_nodal_solution_init (&solver->scratch, solver->circuit);
  if (status == ML_NODAL_OK)
    status = ml_nodal_slopes_make_room (solver);
  if (status != ML_NODAL_OK)
    return status;
  /* A contact or a part that latches may move when a meter is attached; where a state is one of several, only that way is known. */
  if (any && solver->circuit->n_latching == 0 && at->status == ML_NODAL_OK)
    {
      for (int i = 0; status == ML_NODAL_OK && i < n_readings; i++)
        {
          if (!own.memory || own.n_factored != solver->matrix.n_factors + solver->matrix.n_refactors)
            {
              free (own.memory);
              own.memory = NULL;
              status = begin (&own, changes, n_changes, at);
            }
          if (status == ML_NODAL_OK && readings[i].status == ML_NODAL_NOT_CONVERGED && read_one (&own, changes, n_changes, refs, n_refs, &readings[i]))
            readings[i].status = ML_NODAL_OK;
        }
      free (own.memory);
    }
  for (int i = 0; i < n_readings; i++)
    readings[i].test_slope = 0;
  for (int i = 0; status != ML_NODAL_NO_MEMORY && i < n_readings; i++)
    if (readings[i].status == ML_NODAL_NOT_CONVERGED)
      {
        readings[i].status = ml_nodal_measure (solver, changes, n_changes, at, readings[i].meter, refs, n_refs, &readings[i].value, readings[i].slope,
                                               readings[i].size_slope, NULL);
        if (readings[i].status >= 0 && isfinite (readings[i].value) && (readings[i].slope || readings[i].size_slope))
          readings[i].test_slope = ml_nodal_read_test_slope (solver, readings[i].meter);
        status = readings[i].status == ML_NODAL_NO_MEMORY ? ML_NODAL_NO_MEMORY : status;
      }
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_OK;
}
