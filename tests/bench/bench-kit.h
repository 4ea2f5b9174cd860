/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the benchmarks of the engine share: a clock, circuits of any size, the bare cost of linear algebra. */
#pragma once

#include "nodal/solver.h"

/** bench_now_s: processor time of this process. */
double bench_now_s (void);
/** bench_bare_step_s: seconds of one klu_refactor and klu_solve of the solver's current matrix, with KLU's own pivots. */
double bench_bare_step_s (MlNodalSolver *solver, int rounds);
/** bench_compare: doubles, for qsort. */
int bench_compare (const void *a, const void *b);
/** bench_stages: stages fed from one rail, each with resistors, a diode or LED or zener, and a transistor with a relay coil: the mix of small boards. */
MlNodalCircuit *bench_stages (int n_nets);
/** bench_grid: a square grid of resistors with a diode to the reference at every fourth net. */
MlNodalCircuit *bench_grid (int side);
/** bench_faults: five changes of every device but the first: open, joint, short, leak, drift; changes[5 (n_devices - 1)]. Returns how many. */
int bench_faults (const MlNodalCircuit *circuit, MlNodalChange *changes);
