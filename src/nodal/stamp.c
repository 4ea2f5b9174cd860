/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What of the varied circuit's matrix does not change from step to step. */
#include "nodal/solver.h"

#include <string.h>

static void
add_value (MlNodalSolver *solver, int row, int column, double value)
{
  solver->base[ml_nodal_matrix_position (&solver->matrix, row, column)] += value;
}

static void
stamp_conductance (MlNodalSolver *solver, int a, int b, double g)
{
  add_value (solver, a, a, g);
  add_value (solver, b, b, g);
  add_value (solver, a, b, -g);
  add_value (solver, b, a, -g);
}

/* The branch where it was, in the place of the one that has an unknown stay at zero. */
static void
stamp_stand_in (MlNodalSolver *solver, const MlNodalExtra *extra, int u)
{
  const MlNodalDevice *device = &solver->circuit->devices[extra->device];
  const int *position = solver->circuit->position + device->first_position;
  const double *jacobian = ml_nodal_linear_jacobian (solver, extra->device);
  int n = ml_nodal_type_n_local (device->type), i = extra->local, old = device->first_inner;

  for (int k = 0; k < device->type->n_pins; k++)
    {
      solver->base[position[k * n + i]] += jacobian[k * n + i];
      solver->base[position[i * n + k]] += jacobian[i * n + k];
    }
  solver->base[position[i * n + i]] += jacobian[i * n + i] - ML_NODAL_PERTURBATION_OHM - 1;
  add_value (solver, old, u, -ML_NODAL_STAND_IN_V);
  add_value (solver, u, old, 1);
}

static void
stamp_extra (MlNodalSolver *solver, int e)
{
  const MlNodalExtra *extra = &solver->extras[e];
  int u = solver->circuit->n_unknowns + e;

  switch (extra->kind)
    {
    case ML_NODAL_EXTRA_LINK:
      add_value (solver, extra->a, u, 1);
      add_value (solver, extra->b, u, -1);
      add_value (solver, u, extra->a, 1);
      add_value (solver, u, extra->b, -1);
      add_value (solver, u, u, -extra->ohm - ML_NODAL_PERTURBATION_OHM);
      break;
    case ML_NODAL_EXTRA_METER:
      add_value (solver, extra->a, u, -1);
      add_value (solver, extra->b, u, 1);
      add_value (solver, u, extra->a, 1);
      add_value (solver, u, extra->b, -1);
      break;
    case ML_NODAL_EXTRA_STAND_IN:
      stamp_stand_in (solver, extra, u);
      break;
    case ML_NODAL_EXTRA_CORRECTION:
      add_value (solver, u, extra->a, 1);
      add_value (solver, u, u, -1);
      add_value (solver, extra->a, u, -ML_NODAL_GAUGE_S);
      break;
    case ML_NODAL_EXTRA_NODE:
    case ML_NODAL_EXTRA_INNER:
      break;
    }
}

void
ml_nodal_stamp_base (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memset (solver->base, 0, (size_t) ml_nodal_matrix_n_values (&solver->matrix) * sizeof (double));
  for (int i = 0; i < solver->n_touched; i++)
    {
      int d = solver->touched_list[i];
      const MlNodalDevice *device = &circuit->devices[d];
      int n = ml_nodal_type_n_local (device->type);
      const int *node = solver->node + device->first_local;
      if (!solver->moved[d])
        continue;
      for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++)
          solver->position[device->first_position + r * n + c] = ml_nodal_matrix_position (&solver->matrix, node[r], node[c]);
      for (int k = 0; k < device->type->n_inner; k++) /* the unknown left behind stays at zero */
        add_value (solver, device->first_inner + k, device->first_inner + k, 1);
    }
  for (int i = 0; i < solver->n_conductances; i++)
    {
      const MlNodalConductance *c = &solver->conductances[i];
      if (c->device < 0)
        {
          stamp_conductance (solver, c->a, c->b, c->siemens);
          continue;
        }
      const int *position = solver->position + circuit->devices[c->device].first_position;
      solver->base[position[0]] += c->siemens;
      solver->base[position[3]] += c->siemens;
      solver->base[position[1]] -= c->siemens;
      solver->base[position[2]] -= c->siemens;
    }
  for (int i = circuit->law_start[ML_NODAL_LAW_BRANCH]; i < circuit->n_devices; i++)
    {
      const MlNodalDevice *device = &circuit->devices[circuit->by_law[i]];
      if (!(device->type->flags & ML_NODAL_LINEAR))
        continue;
      const double *jacobian = ml_nodal_linear_jacobian (solver, circuit->by_law[i]);
      int n = ml_nodal_type_n_local (device->type);
      for (int k = 0; k < n * n; k++)
        solver->base[solver->position[device->first_position + k]] += jacobian[k];
    }
  /* Branches without resistance in parallel share their current in any way, and one with both ends on a net carries any: a picoohm in
   * the Jacobian, not in the equations, makes the choice without moving a voltage. */
  for (int i = circuit->law_start[ML_NODAL_LAW_BRANCH]; i < circuit->n_devices; i++)
    {
      const MlNodalDevice *device = &circuit->devices[circuit->by_law[i]];
      int n = ml_nodal_type_n_local (device->type);
      for (int k = device->type->n_pins; k < n; k++)
        solver->base[solver->position[device->first_position + k * n + k]] -= ML_NODAL_PERTURBATION_OHM;
    }
  for (int e = 0; e < solver->n_extras; e++)
    stamp_extra (solver, e);
  for (int i = 0; i < solver->n_gauges; i++)
    stamp_conductance (solver, solver->gauges[i].a, solver->gauges[i].b, ML_NODAL_GAUGE_S);
}
