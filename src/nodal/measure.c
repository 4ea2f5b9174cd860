/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The meter as part of the circuit, and how its reading depends on every parameter: one transposed solve (Director and Rohrer 1969). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "nodal/solver.h"

#define OVER_SHARE 0.97 /* of the open-circuit voltage: the display shows over-range */
#define OVER_OHM 60e6   /* top range of a common meter, common practice */

typedef struct
{
  int red, black, row; /* unknowns; row: the meter's own current, the supply's for AMPS, -1 */
  double value;
} Reading;

static Reading
take_reading (const MlNodalSystem *system, const MlNodalMeter *meter)
{
  Reading reading = { .red = 0, .black = 0, .row = -1 };
  double v;

  if (meter->reads == ML_NODAL_READ_AMPS)
    {
      reading.row = ml_nodal_system_inner_row (system, meter->device);
      reading.value = -system->x[reading.row];
      return reading;
    }
  reading.red = ml_nodal_system_point (system, &meter->red);
  reading.black = ml_nodal_system_point (system, &meter->black);
  v = system->x[reading.red] - system->x[reading.black];
  if (meter->reads == ML_NODAL_READ_VOLTS)
    {
      reading.value = v;
      return reading;
    }
  reading.row = ml_nodal_system_branch_row (system, system->n_branches - 1);
  reading.value = meter->reads == ML_NODAL_READ_DIODE ? v : v / -system->x[reading.row];
  if (v >= OVER_SHARE * meter->compliance_v || (meter->reads == ML_NODAL_READ_OHMS && reading.value > OVER_OHM))
    reading.value = INFINITY;
  return reading;
}

/* The reading's own derivative with respect to each unknown. */
static void
set_selector (const MlNodalSystem *system, const MlNodalMeter *meter, const Reading *reading, double *selector)
{
  memset (selector, 0, (size_t) system->n_unknowns * sizeof *selector);
  if (meter->reads == ML_NODAL_READ_AMPS)
    {
      selector[reading->row] = -1;
      return;
    }
  double scale = 1;
  if (meter->reads == ML_NODAL_READ_OHMS)
    {
      double i = system->x[reading->row];
      scale = -1 / i;
      selector[reading->row] = (system->x[reading->red] - system->x[reading->black]) / (i * i);
    }
  selector[reading->red] += scale;
  selector[reading->black] -= scale;
  selector[0] = 0;
}

/* lambda' dF/dp for one device parameter, dF/dp by central differences of this device's own equations. */
static double
parameter_slope (const MlNodalSystem *system, const double *lambda, MlNodalParameterRef ref)
{
  MlNodalDevice device = system->devices[ref.device];
  const MlNodalType *type = device.type;
  int n = ml_nodal_type_n_local (type), inner = ml_nodal_system_inner_row (system, ref.device);
  double p = device.parameters[ref.parameter], h = p != 0 ? fabs (p) * 1e-5 : 1e-9, x[ML_NODAL_MAX_LOCAL], sum = 0;

  if (!isfinite (p))
    return 0;
  ml_nodal_system_local (system, ref.device, system->x, x);
  for (int side = 0; side < 2; side++)
    {
      double f[ML_NODAL_MAX_LOCAL] = { 0 }, jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL] = { 0 };
      double sign = side == 0 ? 1 : -1;

      device.parameters[ref.parameter] = p + sign * h;
      ml_nodal_device_prepare (&device);
      type->eval (device.derived, device.open, x, f, jacobian);
      for (int k = 0; k < n; k++)
        {
          int unknown = k < type->n_pins ? system->node[device.first_pin + k] : inner + k - type->n_pins;
          if (unknown != 0)
            sum += sign * lambda[unknown] * f[k];
        }
    }
  return sum / (2 * h);
}

/* d value / d ln (ohm) of the branch that stands for a change: its row is weight (va - vb - ohm i) = 0. */
static double
branch_size_slope (const MlNodalSystem *system, const double *lambda, int change)
{
  for (int b = 0; b < system->n_branches; b++)
    {
      const MlNodalBranch *branch = &system->branches[b];
      int row = ml_nodal_system_branch_row (system, b);

      if (branch->change == change)
        return lambda[row] * branch->ohm * system->x[row] / (1 + branch->ohm);
    }
  return 0;
}

static void
size_slopes (const MlNodalSystem *system, const double *lambda, const MlNodalChange *changes, int n_changes, double *ret_size_slope)
{
  for (int i = 0; i < n_changes; i++)
    {
      const MlNodalChange *change = &changes[i];

      ret_size_slope[i] = 0;
      if (!(change->value > 0) || !isfinite (change->value))
        continue;
      if (change->kind == ML_NODAL_SET_PARAMETER)
        ret_size_slope[i] = -change->value * parameter_slope (system, lambda, (MlNodalParameterRef) { change->device, change->index });
      else
        ret_size_slope[i] = branch_size_slope (system, lambda, i);
    }
}

static MlNodalStatus
find_slopes (MlNodalSolver *solver, const MlNodalMeter *meter, const Reading *reading, double **ret_lambda)
{
  MlNodalSystem *system = &solver->system;
  MlNodalStatus status;
  double *lambda = malloc ((size_t) system->n_unknowns * sizeof *lambda);

  if (!lambda)
    return ML_NODAL_NO_MEMORY;
  ml_nodal_system_assemble (system);
  status = ml_nodal_system_factor (system);
  if (status != ML_NODAL_OK)
    {
      free (lambda);
      return status;
    }
  set_selector (system, meter, reading, lambda);
  ml_nodal_system_solve (system, lambda, true);
  system->counts.transposed_solves++;
  *ret_lambda = lambda;
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_measure (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at, const MlNodalMeter *meter,
                  const MlNodalParameterRef *refs, int n_refs, double *ret_value, double *ret_slope, double *ret_size_slope,
                  MlNodalSolution *loaded)
{
  MlNodalSystem *system = &solver->system;
  MlNodalSolution report = { 0 };
  MlNodalStatus status = ml_nodal_system_apply (system, changes, n_changes, meter);
  Reading reading;
  double *lambda = NULL;

  if (status == ML_NODAL_OK)
    status = ml_nodal_solver_run (solver, at, &report);
  if (status < 0)
    return status;
  reading = take_reading (system, meter);
  if (loaded)
    {
      ml_nodal_solver_store (solver, loaded);
      loaded->status = status;
    }
  if ((ret_slope || ret_size_slope) && isfinite (reading.value))
    {
      status = find_slopes (solver, meter, &reading, &lambda);
      if (status < 0)
        return status;
    }
  *ret_value = reading.value;
  for (int k = 0; ret_slope && k < n_refs; k++)
    ret_slope[k] = lambda ? -parameter_slope (system, lambda, refs[k]) : 0;
  if (ret_size_slope && lambda)
    size_slopes (system, lambda, changes, n_changes, ret_size_slope);
  else if (ret_size_slope)
    memset (ret_size_slope, 0, (size_t) n_changes * sizeof *ret_size_slope);
  free (lambda);
  return status;
}
