/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where Newton begins, and what is tried in turn when it does not settle from there. */
#include "nodal/solver.h"

#include <math.h>
#include <string.h>

#define HELD_S 1e-2        /* from a solution that a fault disturbs */
#define SWITCHED_ON_S 1.0  /* from nothing */
#define PATIENT_STEPS 20000 /* judgement: the hardest of 4000 random circuits took some thousands */

void
ml_nodal_begin_at (MlNodalSolver *solver, const MlNodalSolution *start)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memset (solver->x, 0, (size_t) solver->n_unknowns * sizeof (double));
  solver->have_limited = solver->from_anchor = false;
  solver->from_solution = start != NULL;
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
      else if (extra->kind == ML_NODAL_EXTRA_STAND_IN)
        *x = ml_nodal_stand_in_volts (solver, extra) / ML_NODAL_STAND_IN_V;
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

/* Pseudo-transient continuation: every node is held to where it was by a conductance, as by a capacitor that a short time goes by for; it fades
 * as the circuit settles. While it is held a step need not be exact. Where a loop takes off (an optocoupler that lights its own LED, a latch)
 * its currents grow by e for each kT/q: what failed just now is not tried again at once, and given up early.
 * Source: Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998); the figures are those that took the fewest steps over the faults of generated boards and
 * of random circuits. */
static MlNodalStatus
hold (MlNodalSolver *solver, double held, int most_steps, int *steps, int *row)
{
  const double most_s = 1e6, nothing_s = 1e-16, rise = 10, forget = 0.3;
  const int patience = 25, short_patience = 8;
  size_t bytes = (size_t) solver->n_unknowns * sizeof (double);
  MlNodalStatus status = ML_NODAL_OK;
  double least_s = 1e-5, loose = 0.1, failed = 0;
  int begin = *steps;

  while (*steps - begin < most_steps && held < most_s && held > nothing_s && status != ML_NODAL_NO_MEMORY)
    {
      int before = *steps;
      memcpy (solver->anchor, solver->x, bytes);
      solver->anchor_s = held > least_s ? held : 0;
      solver->loose = held > least_s ? loose : 0;
      status = ml_nodal_newton (solver, solver->anchor_s > 0 && failed > 0.01 * held ? short_patience : patience, steps, row);
      if (status == ML_NODAL_OK && solver->anchor_s == 0)
        return status;
      if (status == ML_NODAL_OK)
        {
          int took = *steps - before;
          solver->from_anchor = true;
          solver->from_solution = false;
          held = fmax (failed, held * (took < 5 ? 0.2 : took < 10 ? 0.4 : 0.5));
          failed *= forget;
          continue;
        }
      memcpy (solver->x, solver->anchor, bytes);
      solver->have_limited = false;
      if (solver->anchor_s > 0)
        {
          failed = held;
          held *= rise;
        }
      else
        { /* nearer to where it lets go */
          held = rise * least_s;
          least_s *= 0.01;
          loose *= 0.1;
        }
    }
  solver->anchor_s = solver->loose = 0;
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_NOT_CONVERGED;
}

/* Amplifiers, comparators, regulators and optocouplers with little gain have one gentle answer; their gain then grows to what it is. Where the way turns
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
          status = hold (solver, HELD_S, 600, steps, row);
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

/* Ideal sources in a loop drive a current without end; its unknown, or 0. */
static int
runaway (const MlNodalSolver *solver)
{
  for (int u = solver->circuit->n_nodes; u < solver->n_unknowns; u++)
    if (!ml_nodal_is_node (solver, u) && !(fabs (solver->x[u]) < 1e9))
      return u;
  return 0;
}

MlNodalStatus
ml_nodal_climb (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalRung *ret_rung, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;
  int ran_away = 0;

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
        case ML_NODAL_RUNG_FLIPPED:
          status = ml_nodal_flip (solver, start, steps, row);
          break;
        case ML_NODAL_RUNG_HELD:
          status = hold (solver, HELD_S, 400, steps, row);
          break;
        case ML_NODAL_RUNG_TRANSIENT:
          status = hold (solver, SWITCHED_ON_S, solver->patient ? PATIENT_STEPS : 1000, steps, row);
          break;
        case ML_NODAL_RUNG_GAIN:
          status = climb_gain (solver, steps, row);
          break;
        case ML_NODAL_N_RUNGS:
          break;
        }
      if (status == ML_NODAL_OK || status == ML_NODAL_NO_MEMORY)
        break;
      if (rung == ML_NODAL_RUNG_COLD)
        ran_away = runaway (solver);
    }
  if (status == ML_NODAL_NOT_CONVERGED && ran_away > 0)
    {
      *row = ran_away;
      status = ML_NODAL_SINGULAR;
    }
  return status;
}
