/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Newton and its ladder; private to the engine. */
#pragma once

#include "nodal/system.h"

struct MlNodalSolver
{
  MlNodalSystem system;
};

/** ml_nodal_solver_run: the operating point of the system as applied, from `start` (NULL: cold), into system.x. */
MlNodalStatus ml_nodal_solver_run (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalSolution *report);
/** ml_nodal_solver_store: voltages and currents of system.x. */
void ml_nodal_solver_store (MlNodalSolver *solver, MlNodalSolution *solution);
