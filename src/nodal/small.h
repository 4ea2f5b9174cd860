/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small dense systems, row by row: LU with row exchanges (Golub and Van Loan, Matrix Computations, 3.4). */
#pragma once

/** ml_nodal_small_factor: in place of a[m * m]; pivot[m]. The index of a zero pivot, or -1. */
int ml_nodal_small_factor (double *a, int m, int *pivot);
/** ml_nodal_small_solve: x[m] from the right-hand side to the solution. */
void ml_nodal_small_solve (const double *a, int m, const int *pivot, double *x);
void ml_nodal_small_solve_transposed (const double *a, int m, const int *pivot, double *x);
