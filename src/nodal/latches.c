/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Contacts that follow coils, parts that latch: what a solution makes of them, the balance of those that rest nowhere, other states. */
#include "nodal/solver.h"

#include <math.h>

/* A coil pulls its contacts in at its pull voltage and lets them go below its release voltage. */
static bool
contact_state (const MlNodalSolver *solver, const MlNodalDevice *contact, bool was)
{
  const MlNodalDevice *coil = &solver->circuit->devices[contact->coil];
  const double *parameters = solver->parameters + coil->first_parameter;
  double v = fabs (parameters[ML_NODAL_COIL_OHM] * solver->x[solver->node[coil->first_local + coil->type->n_pins]]);

  return v >= parameters[was ? ML_NODAL_COIL_RELEASE : ML_NODAL_COIL_PULL];
}

static void
local_voltages (const MlNodalSolver *solver, int d, double *ret_x)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];

  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    ret_x[k] = solver->x[solver->node[device->first_local + k]];
}

static bool
latch_state (const MlNodalSolver *solver, int d, bool was)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];

  local_voltages (solver, d, x);
  ml_nodal_device_eval (solver, d, solver->derived + device->first_derived, f, jacobian);
  return device->type->latch (solver->parameters + device->first_parameter, x, f, was);
}

double
ml_nodal_preference (const MlNodalCircuit *circuit, const MlNodalSolution *solution)
{
  double sum = 0;

  for (int u = 1; u < circuit->n_nets; u++)
    sum += circuit->prefer[u] * solution->net_v[u];
  return sum;
}

/* As built; where more than one state is possible, or a meter is attached to a circuit at work, as the start has them. */
void
ml_nodal_recall_states (MlNodalSolver *solver, const MlNodalSolution *start, bool at_work)
{
  solver->from_several = start && start->status == ML_NODAL_AMBIGUOUS && !at_work;
  for (int d = 0; solver->circuit->n_latching > 0 && d < solver->circuit->n_devices; d++)
    {
      bool whole = start && (at_work ? start->status >= 0 : start->status == ML_NODAL_AMBIGUOUS) && (start->latched[d] == 0 || start->latched[d] == 1);
      bool moves = solver->circuit->devices[d].coil >= 0 || solver->circuit->devices[d].type->latch;
      solver->latched[d] = whole && moves ? start->latched[d] : -1;
    }
}

bool
ml_nodal_keeps_states (const MlNodalSolver *solver)
{
  for (int d = 0; solver->from_several && solver->circuit->n_latching > 0 && d < solver->circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &solver->circuit->devices[d];
      if (solver->latched[d] >= 0 && solver->latched[d] != solver->circuit->parameters[device->first_parameter + device->type->latched - 1])
        return true;
    }
  return false;
}

bool
ml_nodal_recall_other_states (MlNodalSolver *solver, const MlNodalSolution *start)
{
  bool others = false;

  ml_nodal_recall_states (solver, start, true);
  for (int d = 0; solver->circuit->n_latching > 0 && d < solver->circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &solver->circuit->devices[d];
      if (solver->latched[d] >= 0 && solver->latched[d] != solver->circuit->parameters[device->first_parameter + device->type->latched - 1])
        others = true;
    }
  return others;
}

static bool
is_set (const MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, int d)
{
  int parameter = solver->circuit->devices[d].type->latched - 1;

  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_SET_PARAMETER && changes[i].device == d && changes[i].index == parameter)
      return true;
  return false;
}

static bool
is_in_balance (double latched)
{
  return latched > 0 && latched < 1;
}

/* A balance holds for the states of all others as they were: once one of them has moved it is to be found anew. */
static void
leave_balances (MlNodalSolver *solver)
{
  for (int d = 0; d < solver->circuit->n_devices; d++)
    if (is_in_balance (solver->latched[d]))
      solver->latched[d] = 0;
}

/* Contacts and latching devices after a solution. True when one changed. */
bool
ml_nodal_move_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, int *ret_device)
{
  const MlNodalCircuit *circuit = solver->circuit;
  bool moved = false;

  for (int d = 0; circuit->n_latching > 0 && d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      int parameter = device->type->latched - 1;
      if ((device->coil < 0 && !device->type->latch) || is_in_balance (solver->latched[d]))
        continue;
      bool was = solver->parameters[device->first_parameter + parameter] > 0.5;
      bool is = device->coil >= 0 ? contact_state (solver, device, was) : latch_state (solver, d, was);
      if (is != was && !is_set (solver, changes, n_changes, d))
        {
          solver->latched[d] = is;
          *ret_device = d;
          moved = true;
        }
    }
  if (moved)
    leave_balances (solver);
  return moved;
}

/* A thyristor that takes its own gate current away when it fires, and then its holding current, neither stays on nor off. In between, where
 * its gate gets just what fires it, there is a balance: the share of the latched law that it conducts there, by bisection. Where the circuit
 * jumps instead of passing through, there is none. */
MlNodalStatus
ml_nodal_balance (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, int device,
                  MlNodalSolution *ret_solution)
{
  double low = log (1e-9), high = 0, x[2][ML_NODAL_MAX_LOCAL] = { { 0 } };
  MlNodalStatus status = ML_NODAL_OK;

  if (!solver->circuit->devices[device].type->latch)
    return ML_NODAL_NOT_CONVERGED;
  while (high - low > 1e-13 && status >= 0)
    {
      double middle = 0.5 * (low + high);
      solver->latched[device] = exp (middle);
      status = ml_nodal_run_once (solver, changes, n_changes, meter, ret_solution->status >= 0 ? ret_solution : NULL, ret_solution);
      bool fires = status >= 0 && latch_state (solver, device, false);
      *(fires ? &low : &high) = middle;
      local_voltages (solver, device, x[fires]);
    }
  for (int k = 0; status >= 0 && k < ml_nodal_type_n_local (solver->circuit->devices[device].type); k++)
    if (fabs (x[1][k] - x[0][k]) > 1e-3)
      status = ML_NODAL_NOT_CONVERGED;
  return status >= 0 ? ML_NODAL_AMBIGUOUS : status;
}

/* Whether a contact or a part that latches would also stay in its other position, one after the other; the state that is preferred. */
MlNodalStatus
ml_nodal_look_for_other_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *ret_solution)
{
  const MlNodalCircuit *circuit = solver->circuit;
  MlNodalSolution other;
  MlNodalStatus status = ml_nodal_solution_init (&other, circuit);
  bool found = false;
  int waste;

  for (int d = 0; status == ML_NODAL_OK && d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      if ((device->coil < 0 && !device->type->latch) || is_set (solver, changes, n_changes, d))
        continue;
      for (int k = 0; k < circuit->n_devices; k++)
        solver->latched[k] = circuit->devices[k].type->latched ? ret_solution->latched[k] : -1;
      leave_balances (solver);
      solver->latched[d] = ret_solution->latched[d] > 0.5 ? 0 : 1;
      solver->first_rung = ML_NODAL_RUNG_WARM;
      MlNodalStatus tried = ml_nodal_run_once (solver, changes, n_changes, NULL, ret_solution, &other);
      for (int k = 0; k < ML_NODAL_MOST_MOVES && tried >= 0 && solver->latched[d] == !(ret_solution->latched[d] > 0.5)
                      && ml_nodal_move_states (solver, changes, n_changes, &waste); k++)
        tried = ml_nodal_run_once (solver, changes, n_changes, NULL, &other, &other);
      if (tried == ML_NODAL_NO_MEMORY)
        status = tried;
      if (tried < 0 || solver->latched[d] != !(ret_solution->latched[d] > 0.5) || ml_nodal_move_states (solver, changes, n_changes, &waste))
        continue;
      found = true;
      other.iterations = ret_solution->iterations;
      other.rung = ret_solution->rung;
      if (ml_nodal_preference (circuit, &other) > ml_nodal_preference (circuit, ret_solution)
          && ml_nodal_solution_copy (ret_solution, &other, circuit) != ML_NODAL_OK)
        status = ML_NODAL_NO_MEMORY;
    }
  ml_nodal_solution_clear (&other);
  return status == ML_NODAL_OK && found ? ML_NODAL_AMBIGUOUS : status;
}
