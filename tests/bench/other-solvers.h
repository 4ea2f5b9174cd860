/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine's equations given to general solvers: GSL's hybrid method and SUNDIALS' KINSOL. They get the exact Jacobian, start at zero as
 * the engine does, and see every device as linear beyond what it can be asked, so that no exponential overflows. */
#pragma once

#include "nodal/solver.h"

/** Each: ret_x[n_unknowns] by unknown number; how many times it asked for the currents, 0 when it did not get there. */
int bench_gsl_solve (MlNodalSolver *solver, double *ret_x);
/** dense: with a dense matrix; else sparse with KLU. */
int bench_kinsol_solve (MlNodalSolver *solver, bool dense, double *ret_x);
