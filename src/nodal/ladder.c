/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where Newton begins, and what is tried in turn when it does not settle from there. */
#include "nodal/solver.h"

#include <math.h>
#include <string.h>

void
ml_nodal_begin_at (MlNodalSolver *solver, const MlNodalSolution *start)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memset (solver->x, 0, (size_t) solver->n_unknowns * sizeof (double));
  solver->have_limited = solver->from_anchor = false;
  solver->from_solution = start != NULL;
  solver->patient = !start;
  solver->loose = 0;
  solver->leak_s = solver->anchor_s = solver->lean_s = 0;
  for (int e = 0; e < solver->n_extras; e++)
    solver->extras[e].last = solver->extras[e].test_a;
  if (!start)
    return;
  memcpy (solver->x, start->net_v, (size_t) circuit->n_nets * sizeof (double));
  memcpy (solver->x + circuit->n_nets, start->state, (size_t) start->n_state * sizeof (double));
  for (int e = 0; e < solver->n_extras; e++)
    {
      const MlNodalExtra *extra = &solver->extras[e];
      double *x = &solver->x[circuit->n_unknowns + e];
      if (extra->kind == ML_NODAL_EXTRA_NODE)
        *x = ml_nodal_solution_metal_v (circuit, start, extra->device, extra->local);
      else if (extra->kind == ML_NODAL_EXTRA_INNER)
        {
          const MlNodalDevice *device = &circuit->devices[extra->device];
          int own = device->first_inner + extra->local - device->type->n_pins;
          *x = solver->x[own];
          solver->x[own] = 0;
        }
      else if (extra->kind == ML_NODAL_EXTRA_METER)
        *x = extra->test_a;
      else if (extra->kind == ML_NODAL_EXTRA_CORRECTION)
        *x = solver->x[extra->a];
    }
}

static MlNodalStatus
climb_leak (MlNodalSolver *solver, double from, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_OK;

  for (double leak = from; leak > 0 && status == ML_NODAL_OK; leak = leak > 2e-12 ? leak * 0.1 : 0)
    {
      solver->leak_s = leak;
      status = ml_nodal_newton (solver, 60, steps, row);
    }
  solver->leak_s = 0;
  return status == ML_NODAL_OK ? ml_nodal_newton (solver, 60, steps, row) : status;
}

static MlNodalStatus
climb_supply (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_OK;
  double scale = 0, stride = 0.1;

  solver->leak_s = 1e-6;
  while (scale < 1.0)
    {
      double to = fmin (scale + stride, 1.0);
      memcpy (solver->anchor, solver->x, (size_t) solver->n_unknowns * sizeof (double));
      ml_nodal_vary_scale (solver, to);
      status = ml_nodal_newton (solver, 40, steps, row);
      if (status == ML_NODAL_OK)
        {
          scale = to;
          stride *= 1.7;
          continue;
        }
      memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
      solver->have_limited = false;
      stride *= 0.3;
      if (stride < 1e-4 || status == ML_NODAL_NO_MEMORY)
        break;
    }
  ml_nodal_vary_scale (solver, 1.0);
  return scale < 1.0 ? status : climb_leak (solver, 1e-7, steps, row);
}

/* Pseudo-transient continuation: every node is held to where it was by a conductance that fades as the circuit settles.
 * Source: Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998). */
static MlNodalStatus
settle (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;
  double hold = 1.0;

  for (int k = 0; k < 120 && hold < 1e12; k++)
    {
      memcpy (solver->anchor, solver->x, (size_t) solver->n_unknowns * sizeof (double));
      solver->anchor_s = hold;
      status = ml_nodal_newton (solver, 25, steps, row);
      if (status == ML_NODAL_NO_MEMORY)
        return status;
      if (status != ML_NODAL_OK)
        {
          memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
          solver->have_limited = false;
          hold *= 8;
          continue;
        }
      hold *= 0.35;
      if (hold < 1e-12)
        break;
    }
  solver->anchor_s = 0;
  return ml_nodal_newton (solver, 60, steps, row);
}

/* From the solution that the fault disturbs: every node is held to where it was, as by capacitors that a short time goes by for, then a longer
 * one. While it is held a step need not be exact. Source: pseudo-transient continuation as in settle (); the figures are those that took the
 * fewest steps over the faults of generated boards. */
static MlNodalStatus
hold (MlNodalSolver *solver, int *steps, int *row)
{
  const double least_s = 1e-5, most_s = 100;
  size_t bytes = (size_t) solver->n_unknowns * sizeof (double);
  MlNodalStatus status = ML_NODAL_OK;
  double held = 1e-2;

  for (int k = 0; k < 30 && held < most_s && status != ML_NODAL_NO_MEMORY; k++)
    {
      int before = *steps;
      memcpy (solver->anchor, solver->x, bytes);
      solver->anchor_s = held > least_s ? held : 0;
      solver->loose = held > least_s ? 0.1 : 0;
      status = ml_nodal_newton (solver, 20, steps, row);
      if (status == ML_NODAL_OK && solver->anchor_s == 0)
        return status;
      if (status == ML_NODAL_OK)
        {
          solver->from_anchor = true;
          solver->from_solution = false;
          held *= *steps - before < 7 ? 0.01 : *steps - before < 14 ? 0.1 : 0.5;
        }
      else
        {
          memcpy (solver->x, solver->anchor, bytes);
          solver->have_limited = false;
          held = 10 * fmax (held, least_s);
        }
    }
  solver->anchor_s = solver->loose = 0;
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_NOT_CONVERGED;
}

/* Amplifiers, comparators and regulators with little gain have one gentle answer; their gain then grows to what it is. Where the way turns
 * back (a latch) the point is held to where it was while it settles on the other side. */
static MlNodalStatus
climb_gain (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;
  double share = 1e-4, stride = 3;

  if (!ml_nodal_vary_soften (solver, share))
    return status;
  for (status = climb_leak (solver, 1e-2, steps, row); share < 1 && (status == ML_NODAL_OK || status == ML_NODAL_NOT_CONVERGED);)
    {
      double to = fmin (share * stride, 1);
      memcpy (solver->anchor, solver->x, (size_t) solver->n_unknowns * sizeof (double));
      ml_nodal_vary_soften (solver, to);
      status = ml_nodal_newton (solver, 40, steps, row);
      if (status == ML_NODAL_NOT_CONVERGED && stride < 1.05)
        {
          memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
          solver->have_limited = false;
          status = settle (solver, steps, row);
          if (status != ML_NODAL_OK)
            break;
          stride = 1.5;
        }
      if (status == ML_NODAL_OK)
        {
          share = to;
          stride = fmin (stride * stride, 10);
          continue;
        }
      memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
      solver->have_limited = false;
      stride = sqrt (stride);
    }
  ml_nodal_vary_soften (solver, 1);
  return share < 1 && status == ML_NODAL_OK ? ML_NODAL_NOT_CONVERGED : status;
}

/* The highest voltage a source of the circuit has. */
static double
source_v (const MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;
  double highest = 1;

  for (int d = 0; d < circuit->n_devices; d++)
    if (circuit->devices[d].type->source && circuit->devices[d].type->n_inner > 0)
      highest = fmax (highest, fabs (solver->parameters[circuit->devices[d].first_parameter + circuit->devices[d].type->source - 1]));
  return highest;
}

/* A cold start with the preferred nets held to one side, then let go. */
static MlNodalStatus
lean (MlNodalSolver *solver, double volts, int *steps, int *row)
{
  ml_nodal_begin_at (solver, NULL);
  solver->lean_v = volts;
  solver->lean_s = 0.1;
  MlNodalStatus status = ml_nodal_newton (solver, 60, steps, row);
  for (; status == ML_NODAL_OK && solver->lean_s > 1e-5; solver->lean_s *= 0.1)
    status = ml_nodal_newton (solver, 40, steps, row);
  solver->lean_s = 0;
  return status == ML_NODAL_OK ? ml_nodal_newton (solver, 60, steps, row) : status;
}

/* Towards the states that were asked for; whether leaning the other way gives others. Where leaning fails the plain ladder goes on. */
static MlNodalStatus
climb_preferred (MlNodalSolver *solver, int *steps, int *row)
{
  const MlNodalCircuit *circuit = solver->circuit;
  size_t bytes = (size_t) solver->n_unknowns * sizeof (double);
  double volts = source_v (solver);

  MlNodalStatus status = lean (solver, -volts, steps, row);
  bool other = status == ML_NODAL_OK, differs = false;
  if (status == ML_NODAL_NO_MEMORY)
    return status;
  memcpy (solver->anchor, solver->x, bytes);
  status = lean (solver, volts, steps, row);
  for (int u = 1; other && status == ML_NODAL_OK && u < circuit->n_nets; u++)
    differs = differs || (circuit->prefer[u] != 0 && fabs (solver->x[u] - solver->anchor[u]) > 1e-3);
  return differs ? ML_NODAL_AMBIGUOUS : status;
}

MlNodalStatus
ml_nodal_climb (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalRung *ret_rung, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;

  if (!start && solver->circuit->n_preferred > 0)
    {
      *ret_rung = ML_NODAL_RUNG_COLD;
      status = climb_preferred (solver, steps, row);
      if (status >= 0 || status == ML_NODAL_NO_MEMORY)
        return status;
    }
  for (int rung = solver->first_rung; rung < ML_NODAL_N_RUNGS && !(solver->only_warm > 0 && rung > ML_NODAL_RUNG_WARM); rung++)
    {
      ml_nodal_begin_at (solver, rung <= ML_NODAL_RUNG_HELD ? start : NULL);
      *ret_rung = (MlNodalRung) rung;
      switch ((MlNodalRung) rung)
        {
        case ML_NODAL_RUNG_WARM:
        case ML_NODAL_RUNG_COLD:
          status = ml_nodal_newton (solver, rung == ML_NODAL_RUNG_COLD ? ML_NODAL_COLD_STEPS : solver->only_warm > 0 ? solver->only_warm : ML_NODAL_WARM_STEPS, steps, row);
          break;
        case ML_NODAL_RUNG_HELD:
          status = hold (solver, steps, row);
          break;
        case ML_NODAL_RUNG_LEAK:
          status = climb_leak (solver, 1e-2, steps, row);
          break;
        case ML_NODAL_RUNG_SUPPLY:
          status = climb_supply (solver, steps, row);
          break;
        case ML_NODAL_RUNG_GAIN:
          status = climb_gain (solver, steps, row);
          break;
        case ML_NODAL_RUNG_TRANSIENT:
          status = settle (solver, steps, row);
          break;
        case ML_NODAL_N_RUNGS:
          break;
        }
      if (status == ML_NODAL_OK || status == ML_NODAL_NO_MEMORY)
        break;
    }
  return status;
}
