/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The workspace: its arrays, and the pivots that serve the healthy circuit and its variations. */
#include "nodal/solver.h"

#include <stdlib.h>
#include <string.h>

#define LARGE 10000 /* unknowns */

void
ml_nodal_solver_free (MlNodalSolver *solver)
{
  if (!solver)
    return;
  ml_nodal_matrix_clear (&solver->matrix);
  ml_nodal_solution_clear (&solver->scratch);
  ml_nodal_lanes_free (solver->lanes);
  ml_nodal_reading_room_free (solver->reading_room);
  void *arrays[] = { solver->parameters, solver->derived, solver->prepared, solver->open, solver->known_open, solver->node,
                     solver->position, solver->touched, solver->moved, solver->latched, solver->put, solver->touched_list, solver->restored_list,
                     solver->flowing, solver->limited, solver->extras, solver->conductances, solver->gauges, solver->base, solver->group,
                     solver->core, solver->x, solver->step, solver->f, solver->anchor, solver->known, solver->known_x, solver->known_f,
                     solver->known_jacobian, solver->home, solver->home_x, solver->home_f, solver->home_jacobian, solver->slopes,
                     solver->slopes_first, solver->slopes_known };
  for (size_t i = 0; i < sizeof arrays / sizeof arrays[0]; i++)
    free (arrays[i]);
  free (solver);
}

/* of: NULL, or the solver it is to be a lane of. */
static MlNodalSolver *
solver_alloc (const MlNodalCircuit *circuit, const MlNodalMatrix *of, MlNodalStatus *ret_status)
{
  MlNodalSolver *solver = circuit && circuit->finished ? calloc (1, sizeof *solver) : NULL;

  *ret_status = circuit && circuit->finished ? ML_NODAL_NO_MEMORY : ML_NODAL_BAD_ARGUMENT;
  if (!solver)
    return NULL;
  solver->circuit = circuit;
  solver->attached = -1;
  size_t n = (size_t) circuit->n_devices + 1;
  solver->parameters = malloc (((size_t) circuit->n_parameters + 1) * sizeof (double));
  solver->derived = calloc ((size_t) circuit->n_derived + 1, sizeof (double));
  solver->prepared = malloc (((size_t) circuit->n_parameters + 1) * sizeof (double));
  solver->open = calloc (n, sizeof *solver->open);
  solver->known_open = calloc (n, sizeof *solver->known_open);
  solver->node = malloc (((size_t) circuit->n_locals + 1) * sizeof (int));
  solver->position = malloc (((size_t) circuit->n_positions + 1) * sizeof (int));
  solver->touched = calloc (n, sizeof (bool));
  solver->moved = calloc (n, sizeof (bool));
  solver->latched = malloc (n * sizeof (double));
  solver->put = calloc (n, sizeof *solver->put);
  solver->touched_list = malloc (n * sizeof (int));
  solver->restored_list = malloc (n * sizeof (int));
  solver->flowing = malloc (n * sizeof (int));
  solver->limited = calloc ((size_t) circuit->n_locals + 1, sizeof (double));
  solver->known = calloc (n, sizeof (bool));
  solver->known_x = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->known_f = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->known_jacobian = malloc (((size_t) circuit->n_positions + 1) * sizeof (double));
  solver->home = calloc (n, sizeof (bool));
  solver->home_x = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->home_f = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->home_jacobian = malloc (((size_t) circuit->n_positions + 1) * sizeof (double));
  if (!solver->home || !solver->home_x || !solver->home_f || !solver->home_jacobian || !solver->prepared || !solver->known_open
      || !solver->known || !solver->known_x || !solver->known_f || !solver->known_jacobian || !solver->parameters || !solver->derived
      || !solver->open || !solver->node || !solver->position || !solver->touched || !solver->moved || !solver->latched || !solver->put
      || !solver->touched_list || !solver->restored_list || !solver->flowing || !solver->limited
      || (*ret_status = of ? ml_nodal_matrix_init_lane (&solver->matrix, of) : ml_nodal_matrix_init (&solver->matrix, circuit)) != ML_NODAL_OK)
    {
      ml_nodal_solver_free (solver);
      return NULL;
    }
  if (circuit->n_parameters > 0)
    {
      memcpy (solver->parameters, circuit->parameters, (size_t) circuit->n_parameters * sizeof (double));
      memcpy (solver->prepared, circuit->parameters, (size_t) circuit->n_parameters * sizeof (double));
    }
  if (circuit->n_locals > 0)
    memcpy (solver->node, circuit->node, (size_t) circuit->n_locals * sizeof (int));
  if (circuit->n_positions > 0)
    memcpy (solver->position, circuit->position, (size_t) circuit->n_positions * sizeof (int));
  for (int d = 0; d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      if (device->type->prepare)
        device->type->prepare (solver->parameters + device->first_parameter, solver->derived + device->first_derived);
    }
  return solver;
}

MlNodalSolver *
ml_nodal_solver_new_lane (const MlNodalSolver *solver)
{
  MlNodalStatus status;

  return solver_alloc (solver->circuit, &solver->matrix, &status);
}

MlNodalCounts
ml_nodal_solver_counts (const MlNodalSolver *solver)
{
  MlNodalCounts counts = solver->counts;
  counts.refactors = solver->matrix.n_refactors;
  counts.factors = solver->matrix.n_factors;
  counts.analyses = solver->matrix.n_analyses;
  counts.transposed_solves = solver->matrix.n_transposed;
  return counts;
}

/* The pivots of the healthy circuit serve every variation of it, unless the check of a step says otherwise. */
static MlNodalStatus
choose_pivots (MlNodalSolver *solver)
{
  MlNodalSolution healthy;
  MlNodalStatus status = ml_nodal_solution_init (&healthy, solver->circuit);

  /* In a large circuit a solution costs more than poorer pivots do. */
  if (status == ML_NODAL_OK && solver->circuit->n_unknowns > LARGE)
    status = ml_nodal_run_begin (solver, NULL, 0, NULL, NULL, &healthy);
  else if (status == ML_NODAL_OK)
    status = ml_nodal_run (solver, NULL, 0, NULL, NULL, &healthy);
  if (status != ML_NODAL_NO_MEMORY && solver->x)
    {
      ml_nodal_assemble (solver);
      status = ml_nodal_matrix_keep_pivots (&solver->matrix);
    }
  ml_nodal_solution_clear (&healthy);
  solver->counts = (MlNodalCounts){ 0 };
  solver->matrix.n_factors = solver->matrix.n_refactors = 0;
  return status;
}

MlNodalSolver *
ml_nodal_solver_new (const MlNodalCircuit *circuit, MlNodalStatus *ret_status)
{
  MlNodalSolver *solver = solver_alloc (circuit, NULL, ret_status);

  if (solver && (*ret_status = choose_pivots (solver)) == ML_NODAL_OK)
    return solver;
  ml_nodal_solver_free (solver);
  return NULL;
}
