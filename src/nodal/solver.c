/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Newton's method on the applied system, and the ladder when it fails from where it stands: cold start, ramp of a leak conductance from
 * every node, ramp of the sources, pseudo-transient continuation (every node behind a capacitor whose step grows). */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STEPS_PLAIN 60
#define STEPS_RAMP 40

typedef enum { SETTLED, NOT_YET, BROKEN } Progress;

MlNodalSolver *
ml_nodal_solver_new (const MlNodalCircuit *circuit, MlNodalStatus *ret_status)
{
  MlNodalSolver *solver = circuit->finished ? calloc (1, sizeof *solver) : NULL;
  MlNodalStatus status = !circuit->finished ? ML_NODAL_BAD_ARGUMENT : solver ? ml_nodal_system_init (&solver->system, circuit) : ML_NODAL_NO_MEMORY;

  if (ret_status)
    *ret_status = status;
  if (status == ML_NODAL_OK)
    return solver;
  free (solver);
  return NULL;
}

void
ml_nodal_solver_free (MlNodalSolver *solver)
{
  if (!solver)
    return;
  ml_nodal_system_clear (&solver->system);
  free (solver);
}

MlNodalCounts
ml_nodal_solver_counts (const MlNodalSolver *solver)
{
  return solver->system.counts;
}

/* ---- one Newton step ---- */

static bool
anything_limited (const MlNodalSystem *system)
{
  for (int d = 0; d < system->circuit->n_devices; d++)
    if (system->limited[d])
      return true;
  return false;
}

/* The largest Kirchhoff residual, and where. Rows of branches are in volt and told apart by their own measure. */
static double
kirchhoff_residual (const MlNodalSystem *system, int *ret_node)
{
  double worst = 0;

  for (int k = 1; k < system->n_nodes; k++)
    if (!(fabs (system->residual[k]) <= worst))
      {
        worst = fabs (system->residual[k]);
        *ret_node = k;
      }
  return worst;
}

static bool
branch_rows_hold (const MlNodalSystem *system)
{
  for (int k = system->n_nodes; k < system->n_unknowns; k++)
    if (!(fabs (system->residual[k]) <= 1e-9))
      return false;
  return true;
}

static bool
step_is_small (const MlNodalSystem *system)
{
  for (int k = 1; k < system->n_unknowns; k++)
    if (!(fabs (system->step[k]) <= 1e-9 * (1 + fabs (system->x[k]))))
      return false;
  return true;
}

static MlNodalStatus
take_step (MlNodalSystem *system)
{
  MlNodalStatus status = ml_nodal_system_factor (system);

  if (status != ML_NODAL_OK)
    return status;
  for (int k = 0; k < system->n_unknowns; k++)
    system->step[k] = -system->residual[k];
  system->step[0] = 0;
  ml_nodal_system_solve (system, system->step, false);
  for (int k = 1; k < system->n_unknowns; k++)
    if (!isfinite (system->step[k]))
      return ML_NODAL_SINGULAR;
  for (int k = 1; k < system->n_unknowns; k++)
    system->x[k] += system->step[k];
  return ML_NODAL_OK;
}

/* Newton until it settles or max_steps are done. */
static MlNodalStatus
newton (MlNodalSolver *solver, int max_steps, MlNodalSolution *report)
{
  MlNodalSystem *system = &solver->system;
  bool small = false;
  int held = 0;

  for (int step = 0; step <= max_steps; step++)
    {
      int node = -1;
      double largest = ml_nodal_system_assemble (system);
      double residual = kirchhoff_residual (system, &node);
      bool holds = residual <= fmax (1e-9 * largest, 1e-12) && branch_rows_hold (system) && !anything_limited (system);

      report->residual_a = residual;
      report->failed_net = node >= 0 && node < system->circuit->n_nets ? node : -1;
      /* Where only leakage feeds a node, rounding alone moves its voltage by more than the step asks: four steps that hold are enough. */
      held = holds ? held + 1 : 0;
      if ((holds && small) || held >= 4 || (holds && system->n_unknowns <= 1))
        return ML_NODAL_OK;
      if (step == max_steps)
        break;
      MlNodalStatus status = take_step (system);
      if (status != ML_NODAL_OK)
        return status;
      system->counts.newton_steps++;
      report->iterations++;
      small = step_is_small (system);
    }
  return ML_NODAL_NOT_CONVERGED;
}

/* ---- starts ---- */

static void
start_cold (MlNodalSystem *system)
{
  memset (system->x, 0, (size_t) system->n_unknowns * sizeof (double));
  system->has_linearised = false;
}

static void
start_warm (MlNodalSystem *system, const MlNodalSolution *start)
{
  memset (system->x, 0, (size_t) system->n_unknowns * sizeof (double));
  for (int d = 0; d < system->circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &system->devices[d];
      int inner = ml_nodal_system_inner_row (system, d);

      for (int k = 0; k < device->type->n_pins; k++)
        system->x[system->node[device->first_pin + k]] = start->metal_v[device->first_pin + k];
      for (int k = 0; k < device->type->n_inner; k++)
        system->x[inner + k] = start->state[device->first_inner + k];
    }
  for (int k = 1; k < system->circuit->n_nets; k++)
    system->x[k] = start->net_v[k];
  system->x[0] = 0;
  system->has_linearised = false;
}

/* ---- the ladder ---- */

static MlNodalStatus
ramp_leak (MlNodalSolver *solver, MlNodalSolution *report)
{
  MlNodalSystem *system = &solver->system;
  MlNodalStatus status = ML_NODAL_OK;

  start_cold (system);
  for (double leak = 1e-2; leak > 1e-13 && status == ML_NODAL_OK; leak *= 0.1)
    {
      system->leak_all = leak;
      status = newton (solver, STEPS_RAMP, report);
    }
  system->leak_all = 0;
  return status == ML_NODAL_OK ? newton (solver, STEPS_PLAIN, report) : status;
}

static MlNodalStatus
ramp_sources (MlNodalSolver *solver, MlNodalSolution *report)
{
  MlNodalSystem *system = &solver->system;
  MlNodalStatus status = ML_NODAL_OK;
  double at = 0, step = 0.1;

  start_cold (system);
  system->leak_all = 1e-9;
  while (at < 1 && step > 1e-4)
    {
      double next = fmin (1, at + step);

      memcpy (system->scratch, system->x, (size_t) system->n_unknowns * sizeof (double));
      ml_nodal_system_scale_sources (system, next);
      status = newton (solver, STEPS_RAMP, report);
      if (status == ML_NODAL_OK)
        {
          at = next;
          step *= 1.6;
        }
      else
        {
          memcpy (system->x, system->scratch, (size_t) system->n_unknowns * sizeof (double));
          system->has_linearised = false;
          step *= 0.3;
        }
    }
  system->leak_all = 0;
  ml_nodal_system_scale_sources (system, 1);
  return at >= 1 ? newton (solver, STEPS_PLAIN, report) : ML_NODAL_NOT_CONVERGED;
}

static MlNodalStatus
pseudo_transient (MlNodalSolver *solver, MlNodalSolution *report)
{
  MlNodalSystem *system = &solver->system;
  size_t bytes = (size_t) system->n_unknowns * sizeof (double);
  double pull = 1.0;

  start_cold (system);
  for (int k = 0; k < 200 && pull > 1e-12; k++)
    {
      memcpy (system->pull_to, system->x, bytes);
      system->pull = pull;
      if (newton (solver, STEPS_RAMP, report) == ML_NODAL_OK)
        pull *= 0.4;
      else
        {
          memcpy (system->x, system->pull_to, bytes);
          system->has_linearised = false;
          pull *= 6;
          if (pull > 1e6)
            break;
        }
    }
  system->pull = 0;
  return newton (solver, STEPS_PLAIN, report);
}

static MlNodalStatus
climb (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalSolution *report)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;

  report->rung = ML_NODAL_RUNG_WARM;
  if (start)
    {
      start_warm (&solver->system, start);
      status = newton (solver, STEPS_PLAIN, report);
    }
  for (int rung = ML_NODAL_RUNG_COLD; rung < ML_NODAL_N_RUNGS && status < 0 && status != ML_NODAL_NO_MEMORY; rung++)
    {
      report->rung = (MlNodalRung) rung;
      solver->system.leak_all = solver->system.pull = 0;
      switch (rung)
        {
        case ML_NODAL_RUNG_COLD:
          start_cold (&solver->system);
          status = newton (solver, STEPS_PLAIN, report);
          break;
        case ML_NODAL_RUNG_LEAK:
          status = ramp_leak (solver, report);
          break;
        case ML_NODAL_RUNG_SUPPLY:
          status = ramp_sources (solver, report);
          break;
        default:
          status = pseudo_transient (solver, report);
          break;
        }
      if (status == ML_NODAL_SINGULAR && solver->system.link_ohm == 0)
        {
          /* a loop of exact shorts: their currents are not determined, anything else is */
          solver->system.link_ohm = 1e-9;
          rung = ML_NODAL_RUNG_COLD - 1;
        }
    }
  return status;
}

/* ---- relays ---- */

/* A coil pulls in at its pull voltage and lets go at its release voltage. TRUE when a contact moved. */
static bool
move_contacts (MlNodalSystem *system)
{
  bool moved = false;

  for (int d = 0; d < system->circuit->n_devices; d++)
    {
      MlNodalDevice *contact = &system->devices[d];
      const MlNodalDevice *coil = contact->coil >= 0 ? &system->devices[contact->coil] : NULL;
      int state, pull, release;
      double v;

      if (!coil)
        continue;
      state = ml_nodal_type_find_parameter (contact->type, "state");
      pull = ml_nodal_type_find_parameter (coil->type, "pull");
      release = ml_nodal_type_find_parameter (coil->type, "release");
      v = fabs (coil->parameters[0] * system->x[ml_nodal_system_inner_row (system, contact->coil)]);
      if ((contact->parameters[state] < 0.5 && v >= coil->parameters[pull]) || (contact->parameters[state] > 0.5 && v <= coil->parameters[release]))
        {
          contact->parameters[state] = contact->parameters[state] < 0.5;
          ml_nodal_device_prepare (contact);
          moved = true;
        }
    }
  return moved;
}

MlNodalStatus
ml_nodal_solver_run (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalSolution *report)
{
  MlNodalStatus status = climb (solver, start, report);

  for (int k = 0; k < 8 && status == ML_NODAL_OK && move_contacts (&solver->system); k++)
    {
      /* moving a contact changes which nodes are determined, not which unknowns there are */
      status = newton (solver, STEPS_PLAIN, report);
      if (status == ML_NODAL_NOT_CONVERGED)
        status = climb (solver, NULL, report);
    }
  solver->system.counts.solves++;
  if (status >= 0)
    solver->system.counts.solved_by[report->rung]++;
  else
    solver->system.counts.failures++;
  return status;
}

/* ---- solutions ---- */

MlNodalStatus
ml_nodal_solution_init (MlNodalSolution *solution, const MlNodalCircuit *circuit)
{
  memset (solution, 0, sizeof *solution);
  solution->n_nets = circuit->n_nets;
  solution->n_pins = circuit->n_pins;
  solution->n_state = circuit->n_inner;
  solution->net_v = calloc ((size_t) circuit->n_nets, sizeof (double));
  solution->floating = calloc ((size_t) circuit->n_nets, sizeof (bool));
  solution->pin_a = calloc ((size_t) circuit->n_pins + 1, sizeof (double));
  solution->metal_v = calloc ((size_t) circuit->n_pins + 1, sizeof (double));
  solution->state = calloc ((size_t) circuit->n_inner + 1, sizeof (double));
  if (solution->net_v && solution->floating && solution->pin_a && solution->metal_v && solution->state)
    return ML_NODAL_OK;
  ml_nodal_solution_clear (solution);
  return ML_NODAL_NO_MEMORY;
}

void
ml_nodal_solution_copy (MlNodalSolution *to, const MlNodalSolution *from)
{
  to->status = from->status;
  to->rung = from->rung;
  to->iterations = from->iterations;
  to->residual_a = from->residual_a;
  to->failed_net = from->failed_net;
  to->failed_device = from->failed_device;
  memcpy (to->net_v, from->net_v, (size_t) from->n_nets * sizeof (double));
  memcpy (to->floating, from->floating, (size_t) from->n_nets * sizeof (bool));
  memcpy (to->pin_a, from->pin_a, (size_t) from->n_pins * sizeof (double));
  memcpy (to->metal_v, from->metal_v, (size_t) from->n_pins * sizeof (double));
  memcpy (to->state, from->state, (size_t) from->n_state * sizeof (double));
}

void
ml_nodal_solution_clear (MlNodalSolution *solution)
{
  free (solution->net_v);
  free (solution->floating);
  free (solution->pin_a);
  free (solution->metal_v);
  free (solution->state);
  memset (solution, 0, sizeof *solution);
}

void
ml_nodal_solver_store (MlNodalSolver *solver, MlNodalSolution *solution)
{
  MlNodalSystem *system = &solver->system;

  for (int d = 0; d < system->circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &system->devices[d];
      double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL] = { 0 }, jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL] = { 0 };

      ml_nodal_system_local (system, d, system->x, x);
      device->type->eval (device->derived, device->open, x, f, jacobian);
      for (int k = 0; k < device->type->n_pins; k++)
        {
          solution->pin_a[device->first_pin + k] = f[k];
          solution->metal_v[device->first_pin + k] = x[k];
        }
      for (int k = 0; k < device->type->n_inner; k++)
        solution->state[device->first_inner + k] = x[device->type->n_pins + k];
    }
  for (int k = 0; k < system->circuit->n_nets; k++)
    {
      solution->net_v[k] = system->x[k];
      solution->floating[k] = system->floating[k];
    }
}

/* What a short inside a part carries flows through its pins too. */
static void
add_bridge_currents (MlNodalSolver *solver, const MlNodalChange *changes, MlNodalSolution *solution)
{
  MlNodalSystem *system = &solver->system;

  for (int b = 0; b < system->n_branches; b++)
    {
      const MlNodalChange *change = system->branches[b].change >= 0 ? &changes[system->branches[b].change] : NULL;

      if (!change || change->kind != ML_NODAL_BRIDGE_PINS)
        continue;
      double i = system->x[ml_nodal_system_branch_row (system, b)];
      int first = system->devices[change->device].first_pin;
      solution->pin_a[first + change->index] += i;
      solution->pin_a[first + change->index_b] -= i;
    }
}

MlNodalStatus
ml_nodal_solve (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start, MlNodalSolution *ret_solution)
{
  MlNodalStatus status = ml_nodal_system_apply (&solver->system, changes, n_changes, NULL);
  bool applied = status == ML_NODAL_OK;

  ret_solution->iterations = 0;
  ret_solution->failed_net = ret_solution->failed_device = -1;
  if (applied)
    {
      status = ml_nodal_solver_run (solver, start, ret_solution);
      ml_nodal_solver_store (solver, ret_solution);
      add_bridge_currents (solver, changes, ret_solution);
    }
  if (status >= 0)
    ret_solution->failed_net = -1;
  ret_solution->status = status;
  return status;
}
