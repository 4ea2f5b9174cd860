/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Newton's method on Kirchhoff's current law: its steps, and when they have settled or are lost. */
#include "nodal/solver.h"

#include <math.h>
#include <string.h>

static const double step_tolerance = 1e-9, residual_share = 1e-9, residual_floor_a = 1e-12;
static const double rounding_share = 64 * 2.3e-16;
static const int idle_until_half = 6, most_idle = 20; /* fewest steps over generated boards and random circuits */
static const int few_idle = 4; /* the same where an amplifier may have to flip, which is tried next */
static const double nearly_there = 1e-6; /* of a step: from there on rounding decides */
static const double nothing_a = 1e-21; /* over a teraohm, the highest resistance of any law, a nanovolt */

/* Takes the step of unknowns from `first` on; `worst`, or how large it is in units of what is asked of it where that is more, its largest then in
 * worst_step. */
static double
take_steps (MlNodalSolver *solver, int first, int end, double least, double worst)
{
  for (int u = first; u < end; u++)
    {
      double step = fabs (solver->step[u]);
      solver->x[u] += solver->step[u];
      if (step <= worst * least) /* spares the division */
        continue;
      double size = step / (least + fabs (solver->x[u]));
      if (!(size <= worst))
        {
          worst = size;
          solver->worst_step = u;
        }
    }
  return worst;
}

/* All of it. Currents: a microampere counts as a volt does. */
static double
take_step (MlNodalSolver *solver)
{
  int n_nodes = solver->circuit->n_nodes, n_main = solver->circuit->n_unknowns;
  double worst;

  solver->worst_step = 0;
  worst = take_steps (solver, n_nodes, n_main, 1e-3, take_steps (solver, 1, n_nodes, 1.0, 0));
  for (int u = n_main; u < solver->n_unknowns; u++)
    worst = take_steps (solver, u, u + 1, ml_nodal_is_node (solver, u) ? 1.0 : 1e-3, worst);
  return worst;
}

/* The equations of branches are in volts; Newton satisfies the linear ones exactly unless the matrix was all but singular. */
static bool
branches_hold (const MlNodalSolver *solver)
{
  for (int u = solver->circuit->n_nodes; u < solver->n_unknowns; u++)
    if (u < solver->circuit->n_unknowns || !ml_nodal_is_node (solver, u))
      if (!(fabs (solver->f[u]) <= 1e-7))
        return false;
  return true;
}

/* Whether each residual is no more than what rounding the voltages of its own row leaves: an amplifier of 2e5 into a milliohm makes 1e-7 A
 * of the last digit of its input. Row by row, or a large current elsewhere would excuse a net of nanoamperes that has not settled. */
static bool
all_rounding (const MlNodalSolver *solver, double floor_a)
{
  const MlNodalMatrix *matrix = &solver->matrix;
  double *size = matrix->check;
  int n = matrix->n;

  memset (size, 0, (size_t) n * sizeof *size);
  for (int c = 0; c < n; c++)
    for (int k = solver->circuit->column[c]; k < solver->circuit->column[c + 1]; k++)
      size[solver->circuit->row[k]] += fabs (matrix->values[k] * solver->x[c + 1]);
  for (int r = 0; r < n; r++)
    if (!(fabs (solver->f[r + 1]) <= fmax (rounding_share * size[r], floor_a)))
      return false;
  for (int u = n + 1; u < solver->n_unknowns; u++)
    if (!(fabs (solver->f[u]) <= fmax (rounding_share * solver->largest_a, floor_a)))
      return false;
  return true;
}

void
ml_nodal_newton_begin (MlNodalSolver *solver)
{
  solver->newton = (MlNodalNewton){ .last = INFINITY, .size = INFINITY, .least = INFINITY, .least_a = INFINITY };
}

bool
ml_nodal_newton_settled (MlNodalSolver *solver)
{
  MlNodalNewton *newton = &solver->newton;
  double last = newton->last, size = newton->size;

  ml_nodal_assemble (solver);
  if (newton->steps == 0)
    return false;
  if (solver->loose > 0 && size <= solver->loose && solver->limit_gap <= solver->loose)
    return true;
  double tolerance = fmax (residual_share * solver->largest_a, residual_floor_a);
  if (solver->limit_gap <= step_tolerance && solver->residual_a <= tolerance && branches_hold (solver))
    {
      /* Where only leakage determines a net, the rounding of larger currents on it alone can move it by more than the step
       * asks: a step that no longer shrinks, at a residual that is all rounding, is as good as it gets. */
      bool shrinks = size < 0.5 * last;
      newton->stuck = !shrinks && (size < 1e-6 || all_rounding (solver, nothing_a)) ? newton->stuck + 1 : 0;
      /* Newton converges quadratically: steps a, then b show a curvature b / a^2, and the next step is b^2 times that. A floor of
       * 1e3, steeper than any junction, keeps luck from passing for it. */
      double next = last < 1e-2 ? size * size * fmax (size / (last * last), 1e3) : INFINITY;
      if (size <= step_tolerance || next <= 0.1 * step_tolerance || newton->stuck >= 2)
        return true;
    }
  /* All rounding, yet above what is asked: which last digits the next steps end on is chance, and some may do better. */
  return size <= step_tolerance && solver->limit_gap <= step_tolerance && branches_hold (solver) && all_rounding (solver, residual_floor_a)
         && ++newton->rounded > 12;
}

bool
ml_nodal_newton_take_step (MlNodalSolver *solver)
{
  MlNodalNewton *newton = &solver->newton;

  /* Newton has fallen into a cycle: a step of half the way now and then leaves it. */
  double share = newton->idle >= idle_until_half && newton->idle % 2 ? 0.5 : 1;
  for (int u = 1; share < 1 && u < solver->n_unknowns; u++)
    solver->step[u] *= share;
  newton->last = newton->size;
  newton->size = take_step (solver) / share;
  bool better = newton->size < 0.5 * newton->least || solver->residual_a < 0.5 * newton->least_a || newton->size < nearly_there;
  newton->idle = better ? 0 : newton->idle + 1;
  newton->least = fmin (newton->least, newton->size);
  newton->least_a = fmin (newton->least_a, solver->residual_a);
  newton->steps++;
  solver->counts.newton_steps++;
  return isfinite (newton->size);
}

bool
ml_nodal_newton_is_lost (const MlNodalSolver *solver, int most)
{
  bool may_flip = solver->from_solution && solver->anchor_s == 0 && solver->circuit->n_amplifiers > 0;

  return solver->newton.steps >= most || solver->newton.idle > (may_flip ? few_idle : most_idle);
}

MlNodalStatus
ml_nodal_newton (MlNodalSolver *solver, int most, int *ret_steps, int *ret_row)
{
  MlNodalNewton *newton = &solver->newton;
  MlNodalStatus status = ML_NODAL_OK;
  bool finite = true;

  *ret_row = 0;
  ml_nodal_newton_begin (solver);
  while (status == ML_NODAL_OK && finite && !ml_nodal_newton_settled (solver))
    {
      if (ml_nodal_newton_is_lost (solver, most))
        return ML_NODAL_NOT_CONVERGED;
      MlNodalFactoring factoring = newton->steps == 0 ? ML_NODAL_FACTOR_FIRST : solver->nonlinear ? ML_NODAL_FACTOR : ML_NODAL_FACTOR_SAME;
      status = ml_nodal_matrix_solve (&solver->matrix, factoring, solver->f, solver->step, ret_row);
      if (status == ML_NODAL_OK)
        {
          finite = ml_nodal_newton_take_step (solver);
          ++*ret_steps;
        }
    }
  return finite ? status : ML_NODAL_NOT_CONVERGED;
}
