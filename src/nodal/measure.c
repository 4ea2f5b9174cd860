/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a meter shows, the meter being part of the circuit; and how that depends on every parameter. */
#include "nodal/solver.h"

#include <math.h>
#include <string.h>

#define OVER_SHARE 0.97 /* of the open-circuit voltage: the display shows over-range */

double
ml_nodal_read_slope (MlNodalSolver *solver, const double *lambda, MlNodalParameterRef ref)
{
  const MlNodalCircuit *circuit = solver->circuit;
  const MlNodalDevice *device = &circuit->devices[ref.device];
  const int *node = solver->node + device->first_local;
  double sum = 0;

  double g = solver->derived[device->first_derived];
  if (device->type->flags & ML_NODAL_CONDUCTANCE && (device->type->n_parameters == 1 || !isfinite (g)))
    {
      if (solver->open[ref.device])
        return 0;
      if (isfinite (g)) /* i = v / p: di/dp = -g^2 v */
        return (lambda[node[0]] - lambda[node[1]]) * g * g * (solver->x[node[0]] - solver->x[node[1]]);
      for (int e = 0; e < solver->n_extras; e++) /* p = 0: a link's row v - p j */
        if (solver->extras[e].kind == ML_NODAL_EXTRA_LINK && solver->extras[e].device == ref.device)
          return lambda[circuit->n_unknowns + e] * solver->x[circuit->n_unknowns + e];
      return 0;
    }
  if (device->type->flags & ML_NODAL_CURRENT)
    return lambda[node[1]] - lambda[node[0]];
  const double *slope = ml_nodal_slopes_of_parameter (solver, ref.device, ref.parameter);
  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    sum -= lambda[node[k]] * slope[k];
  return sum;
}

/* d value / d ln (size of the change) */
static double
slope_of_size (MlNodalSolver *solver, const double *lambda, const MlNodalChange *changes, int i)
{
  const double *x = solver->x;

  if (!isfinite (changes[i].value) || !(changes[i].value > 0))
    return 0;
  if (changes[i].kind == ML_NODAL_SET_PARAMETER)
    ml_nodal_slopes_find_place (solver, changes[i].device);
  if (changes[i].kind == ML_NODAL_SET_PARAMETER)
    return changes[i].value
           * ml_nodal_read_slope (solver, lambda, (MlNodalParameterRef){ changes[i].device, changes[i].index });
  for (int k = 0; k < solver->n_conductances; k++)
    {
      const MlNodalConductance *c = &solver->conductances[k];
      if (c->change == i)
        return (lambda[c->a] - lambda[c->b]) * c->siemens * (x[c->a] - x[c->b]);
    }
  for (int e = 0; e < solver->n_extras; e++)
    if (solver->extras[e].kind == ML_NODAL_EXTRA_LINK && solver->extras[e].change == i)
      {
        int u = solver->circuit->n_unknowns + e;
        return lambda[u] * solver->extras[e].ohm * x[u];
      }
  return 0;
}

int
ml_nodal_current_unknown (const MlNodalSolver *solver, int d)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  return device->type->n_inner > 0 ? solver->node[device->first_local + device->type->n_pins] : 0;
}

/* The shown value and its gradient with respect to the unknowns (in solver->anchor, zeroed). False: over-range. */
bool
ml_nodal_read_value (MlNodalSolver *solver, const MlNodalMeter *meter, double *ret_value)
{
  double *gradient = solver->anchor;

  memset (gradient, 0, (size_t) solver->n_unknowns * sizeof (double));
  if (meter->reads == ML_NODAL_READ_AMPS)
    {
      int u = ml_nodal_current_unknown (solver, meter->device);
      gradient[u] = -1;
      *ret_value = -solver->x[u];
      return true;
    }
  int red = ml_nodal_point_node (solver, meter->red), black = ml_nodal_point_node (solver, meter->black);
  double v = solver->x[red] - solver->x[black];
  gradient[red] += 1;
  gradient[black] -= 1;
  *ret_value = v;
  if (meter->reads == ML_NODAL_READ_VOLTS)
    return true;
  if (solver->attached < 0) /* both probes on one net */
    return true;
  int u = solver->circuit->n_unknowns + solver->attached;
  double j = solver->x[u];
  /* Of a meter with a top range the open-circuit voltage is no end: it takes a higher one, and what it then shows is about what flows from there. */
  if (meter->reads == ML_NODAL_READ_OHMS && meter->over_ohm > 0 ? v > meter->over_ohm * j : v >= OVER_SHARE * meter->compliance_v)
    {
      *ret_value = INFINITY;
      return false;
    }
  if (meter->reads == ML_NODAL_READ_OHMS)
    {
      *ret_value = v / j;
      gradient[red] /= j;
      gradient[black] /= j;
      gradient[u] = -v / (j * j);
    }
  return true;
}

static bool
valid_point (const MlNodalCircuit *circuit, MlNodalPoint point)
{
  if (point.device >= 0)
    return point.device < circuit->n_devices && point.pin >= 0 && point.pin < circuit->devices[point.device].type->n_pins;
  return point.net >= 0 && point.net < circuit->n_nets;
}

bool
ml_nodal_refs_are_valid (const MlNodalCircuit *circuit, const MlNodalParameterRef *refs, int n_refs)
{
  for (int i = 0; i < n_refs; i++)
    if (refs[i].device < 0 || refs[i].device >= circuit->n_devices || refs[i].parameter < 0
        || refs[i].parameter >= circuit->devices[refs[i].device].type->n_parameters)
      return false;
  return true;
}

bool
ml_nodal_meter_is_valid (const MlNodalCircuit *circuit, const MlNodalMeter *meter)
{
  if (meter->reads == ML_NODAL_READ_AMPS)
    return meter->device >= 0 && meter->device < circuit->n_devices && circuit->devices[meter->device].type->n_inner > 0;
  if (!valid_point (circuit, meter->red) || !valid_point (circuit, meter->black))
    return false;
  return meter->reads == ML_NODAL_READ_VOLTS ? meter->input_ohm > 0 : meter->test_a > 0 && meter->compliance_v > 0;
}

/* Red and black in pieces of circuit that nothing holds together: an ideal meter has nothing to show. */
static bool
undetermined (MlNodalSolver *solver, const MlNodalMeter *meter)
{
  if (meter->reads == ML_NODAL_READ_AMPS)
    return false;
  int red = ml_nodal_point_node (solver, meter->red), black = ml_nodal_point_node (solver, meter->black);
  while (solver->group[red] != red)
    red = solver->group[red];
  while (solver->group[black] != black)
    black = solver->group[black];
  return red != black;
}

void
ml_nodal_read_sizes (MlNodalSolver *solver, const double *lambda, const MlNodalChange *changes, int n_changes, const int *sized, double *ret_size_slope)
{
  for (int i = 0; ret_size_slope && (sized ? sized[i] >= 0 : i < n_changes); i++)
    {
      int change = sized ? sized[i] : i;
      ret_size_slope[change] = slope_of_size (solver, lambda, changes, change);
    }
}

static void
read_slopes (MlNodalSolver *solver, double *lambda, const MlNodalParameterRef *refs, int n_refs, double *ret_slope)
{
  lambda[0] = 0;
  for (int i = 0; ret_slope && i < n_refs; i++)
    {
      if (i == 0 || refs[i].device != refs[i - 1].device)
        ml_nodal_slopes_find_place (solver, refs[i].device);
      ret_slope[i] = ml_nodal_read_slope (solver, lambda, refs[i]);
    }
}

/* The source's row, as it is assembled, is -slope (current - test_a) away from its sharp corner: with lambda of that row, -lambda dF / d ln test_a. */
double
ml_nodal_read_test_slope (const MlNodalSolver *solver, const MlNodalMeter *meter)
{
  if (solver->attached < 0 || (meter->reads != ML_NODAL_READ_OHMS && meter->reads != ML_NODAL_READ_DIODE))
    return 0;
  int u = solver->circuit->n_unknowns + solver->attached;
  double v = solver->x[ml_nodal_point_node (solver, meter->red)] - solver->x[ml_nodal_point_node (solver, meter->black)];
  return solver->step[u] * (meter->compliance_v - v) / ML_NODAL_METER_WIDTH;
}

static MlNodalStatus
find_slopes (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalParameterRef *refs, int n_refs,
             const int *sized, double *ret_slope, double *ret_size_slope)
{
  double *lambda = solver->step;
  int row;

  /* lambda' J = gradient: one transposed solve for all parameters. The factors are those of the point before the last step, the matrix is
   * that of the point itself: where that step was seen in the slopes of anything (1e-8 is 4e-5 of a regulator's width) it is factored. */
  MlNodalStatus status = ml_nodal_slopes_make_room (solver);
  if (status == ML_NODAL_OK && solver->nonlinear && solver->newton.size > 1e-8)
    status = ml_nodal_matrix_solve (&solver->matrix, ML_NODAL_FACTOR, solver->f, solver->step, &row);
  if (status == ML_NODAL_OK)
    status = ml_nodal_matrix_solve_transposed (&solver->matrix, solver->anchor, lambda);
  if (status != ML_NODAL_OK)
    return status;
  read_slopes (solver, lambda, refs, n_refs, ret_slope);
  ml_nodal_read_sizes (solver, lambda, changes, n_changes, sized, ret_size_slope);
  return ML_NODAL_OK;
}

/* One reading; loaded may be NULL. */
static MlNodalStatus
measure (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at, const MlNodalParameterRef *refs, int n_refs,
         MlNodalReading *reading, MlNodalSolution *loaded)
{
  const MlNodalMeter *meter = reading->meter;
  MlNodalStatus status = ML_NODAL_OK;

  if (!ml_nodal_meter_is_valid (solver->circuit, meter) || !ml_nodal_refs_are_valid (solver->circuit, refs, n_refs))
    return ML_NODAL_BAD_ARGUMENT;
  solver->bare = !loaded && solver->circuit->n_latching == 0;
  if (!loaded)
    {
      if (!solver->scratch.net_v)
        status = ml_nodal_solution_init (&solver->scratch, solver->circuit);
      loaded = &solver->scratch;
    }
  solver->measuring = true;
  if (status == ML_NODAL_OK)
    status = ml_nodal_run (solver, changes, n_changes, meter->reads == ML_NODAL_READ_AMPS ? NULL : meter, at, loaded);
  solver->measuring = false;
  if (status >= 0 && undetermined (solver, meter))
    status = ML_NODAL_SINGULAR;
  if (status >= 0)
    {
      bool shown = ml_nodal_read_value (solver, meter, &reading->value);
      for (int i = 0; reading->slope && i < n_refs; i++)
        reading->slope[i] = 0;
      for (int i = 0; reading->size_slope && i < n_changes; i++)
        reading->size_slope[i] = 0;
      if (shown && (reading->slope || reading->size_slope))
        status = find_slopes (solver, changes, n_changes, refs, n_refs, reading->sized, reading->slope, reading->size_slope);
    }
  solver->bare = false;
  return reading->status = status;
}

MlNodalStatus
ml_nodal_measure_reading (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at, const MlNodalParameterRef *refs,
                          int n_refs, MlNodalReading *reading)
{
  return measure (solver, changes, n_changes, at, refs, n_refs, reading, NULL);
}

MlNodalStatus
ml_nodal_measure (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at, const MlNodalMeter *meter,
                  const MlNodalParameterRef *refs, int n_refs, double *ret_value, double *ret_slope, double *ret_size_slope,
                  MlNodalSolution *loaded)
{
  MlNodalReading reading = { .meter = meter, .slope = ret_slope, .size_slope = ret_size_slope };
  MlNodalStatus status = measure (solver, changes, n_changes, at, refs, n_refs, &reading, loaded);

  if (status >= 0)
    *ret_value = reading.value;
  return status;
}
