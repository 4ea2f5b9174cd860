/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An amplifier that feeds back to its noninverting input keeps its output at one end until nothing holds it there, and goes to the other. Newton does not
 * find over: between the two its steps lead back. So the outputs are put where they stood, the rest settles, and those whose inputs say otherwise are
 * put to the other end, until all agree; then they are let go. */
#include "nodal/solver.h"

#include <math.h>

static const double stands_still = 2;      /* of a lean: tanh 2 = 0.96 */
static const double stays = 4;             /* a loop of gain 700 lets go there: sech^2 4 = 1 / 750 */
static const double loose = 1e-3;          /* of a step: which end is seen by then */
static const int most_rounds = 8, most_steps = 30;

static void
put (MlNodalSolver *solver, int d, int side)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];

  solver->put[d] = (signed char) side;
  solver->known[d] = false;
  device->type->put (solver->derived + device->first_derived, (side > 0) - (side < 0));
}

static double
lean (const MlNodalSolver *solver, int d)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const int *node = solver->node + device->first_local;
  double x[ML_NODAL_MAX_LOCAL];

  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    x[k] = solver->x[node[k]];
  return device->type->lean (solver->derived + device->first_derived, x);
}

/* Those that lean so far. */
static bool
put_where_they_lean (MlNodalSolver *solver, double least)
{
  bool any = false;

  for (int d = 0; d < solver->circuit->n_devices; d++)
    {
      double a = solver->circuit->devices[d].type->put && !solver->open[d] ? lean (solver, d) : 0;
      if (!(fabs (a) > least))
        continue;
      put (solver, d, a > 0 ? 1 : -1);
      any = true;
    }
  return any;
}

/* One that agrees with neither end is let go: it stands between them. */
static bool
put_others (MlNodalSolver *solver)
{
  bool any = false;

  for (int d = 0; d < solver->circuit->n_devices; d++)
    {
      int was = solver->put[d];
      if (was == 0 || lean (solver, d) * (was > 0 ? 1 : -1) > stays)
        continue;
      put (solver, d, was == 1 || was == -1 ? -2 * was : 0);
      any = true;
    }
  return any;
}

static void
let_all_go (MlNodalSolver *solver)
{
  for (int d = 0; d < solver->circuit->n_devices; d++)
    if (solver->put[d] != 0)
      put (solver, d, 0);
}

/* From x, with outputs put. */
static MlNodalStatus
settle (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_OK;
  bool agree = false;

  solver->from_solution = false;
  solver->loose = loose;
  for (int round = 0; round < most_rounds && !agree && status == ML_NODAL_OK; round++)
    {
      status = ml_nodal_newton (solver, most_steps, steps, row);
      solver->from_anchor = true;
      solver->have_limited = false;
      agree = status == ML_NODAL_OK && !put_others (solver);
    }
  solver->loose = 0;
  let_all_go (solver);
  if (status == ML_NODAL_OK)
    status = agree ? ml_nodal_newton (solver, most_steps, steps, row) : ML_NODAL_NOT_CONVERGED;
  return status;
}

MlNodalStatus
ml_nodal_flip (MlNodalSolver *solver, const MlNodalSolution *start, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;

  if (put_where_they_lean (solver, stands_still))
    status = settle (solver, steps, row);
  if (status == ML_NODAL_OK || status == ML_NODAL_NO_MEMORY)
    return status;
  ml_nodal_begin_at (solver, start); /* it may have stood in a balance that no circuit keeps */
  return put_where_they_lean (solver, 0) ? settle (solver, steps, row) : status;
}
