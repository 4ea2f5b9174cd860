/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of the linear system: what one right-hand side and several side by side have in common. A is n x n, the border left out. */
#pragma once

#include "nodal/matrix.h"

/** ml_nodal_matrix_solve_one: x[n] = A^-1 x with the factors at hand. False: there are none. */
bool ml_nodal_matrix_solve_one (MlNodalMatrix *matrix, double *x);
/** ml_nodal_matrix_column_is_well: of A w = sign b, n entries each: the residual, and whether it is as small as ML_NODAL_MOST_BACKWARD_ERROR asks. */
bool ml_nodal_matrix_column_is_well (const MlNodalMatrix *matrix, const double *b, double sign, const double *w, double *residual);
/** ml_nodal_matrix_refine_column: w until it is, by a few corrections. False: it does not get there. residual[n] is scratch. */
bool ml_nodal_matrix_refine_column (MlNodalMatrix *matrix, const double *b, double sign, double *w, double *residual);
/** ml_nodal_matrix_refine_transposed: x of A' x = b alike. False: no factors. */
bool ml_nodal_matrix_refine_transposed (MlNodalMatrix *matrix, const double *b, double *x, double *residual);
