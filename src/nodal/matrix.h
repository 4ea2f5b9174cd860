/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The linear system of a Newton step: a sparse matrix of constant pattern, bordered by a few dense rows and columns.
 *
 *     [ A  B ] [ x ]   [ f ]      A n x n sparse (KLU), analysed once
 *     [ C  D ] [ y ] = [ g ]      B n x m, C m x n, D m x m dense; m is small
 *
 * A stray link, a cut pin or a meter adds unknowns y and leaves the pattern of A as it is. Solved by block elimination:
 * S = D - C A^-1 B. Source: bordered systems, Golub and Van Loan, Matrix Computations, ch. 3; KLU: Davis and Palamadai Natarajan,
 * Algorithm 907, ACM TOMS 37 (2010). */
#pragma once

#include <suitesparse/klu.h>

#include "nodal/circuit.h"
#include "nodal/factors.h"

typedef struct
{
  const MlNodalCircuit *circuit; /* borrowed: the pattern */
  int n, m, room;                /* rows of A; border; border there is room for */
  int n_entries;                 /* of A */
  double *values;                /* A, one waste entry, B by columns, C by rows, D by rows */
  double *work;                  /* n x (room + 1): right-hand sides */
  double *small;                 /* room x room: S factored */
  double *small_x;               /* room */
  int *pivot;                    /* room */
  double *check;                 /* 4 (n + 1) */
  klu_common common;
  klu_symbolic *symbolic;
  klu_numeric *numeric;
  bool factored, fresh;          /* factors belong to values; pivots were chosen for them */
  double *usual;                 /* n_entries: the values that the usual pivots were chosen for, or NULL */
  bool unusual;                  /* the pivots are others */
  MlNodalSchedule *schedule;     /* elimination with the usual pivots; NULL where KLU does as well */
  double *lu, *first_lu;         /* factors along the schedule: of the last step, of the last first step */
  double *first_values;          /* n_entries: what first_lu is of */
  const double *current;         /* whichever of the two belongs to the last step; NULL: KLU's do */
  bool first_known;
  bool stale;                    /* the factors are of an earlier step's values; refinement made up for it */
  long n_analyses, n_factors, n_refactors, n_transposed;
} MlNodalMatrix;

#define ML_NODAL_MOST_BACKWARD_ERROR 1e-8 /* componentwise: beyond it a solve is repeated better */
#define ML_NODAL_NO_ERROR 1e-24           /* A or V: less is nothing, where a row is left with rounding alone */
#define ML_NODAL_MOST_REFINEMENTS 2

MlNodalStatus ml_nodal_matrix_init (MlNodalMatrix *matrix, const MlNodalCircuit *circuit);
/** ml_nodal_matrix_init_lane: without KLU: what ml_nodal_matrix_solve would factor is factored elsewhere, along the schedule of `of`. */
MlNodalStatus ml_nodal_matrix_init_lane (MlNodalMatrix *matrix, const MlNodalMatrix *of);
/** ml_nodal_matrix_finish_lane: the rest of ml_nodal_matrix_solve, once work holds A^-1 (-f) and A^-1 B. False: singular. */
bool ml_nodal_matrix_finish_lane (MlNodalMatrix *matrix, const double *f, double *ret_x);
void ml_nodal_matrix_clear (MlNodalMatrix *matrix);
/** ml_nodal_matrix_set_border: m further unknowns; positions of earlier borders become invalid. */
MlNodalStatus ml_nodal_matrix_set_border (MlNodalMatrix *matrix, int m);
/** ml_nodal_matrix_keep_pivots: from now on the pivots for the current values are the usual ones. */
MlNodalStatus ml_nodal_matrix_keep_pivots (MlNodalMatrix *matrix);
/** ml_nodal_matrix_usual_pivots: back to them, so that a solution does not depend on what was solved before it. */
MlNodalStatus ml_nodal_matrix_usual_pivots (MlNodalMatrix *matrix);
int ml_nodal_matrix_n_values (const MlNodalMatrix *matrix);
/** ml_nodal_matrix_position: where entry (row, column) lies in values; unknown numbers, 0 the reference, from n + 1 the border. */
int ml_nodal_matrix_position (const MlNodalMatrix *matrix, int row, int column);

typedef enum
{
  ML_NODAL_FACTOR,       /* the current values */
  ML_NODAL_FACTOR_FIRST, /* the same; of a first step, which the next reading at the same point begins with again */
  ML_NODAL_FACTOR_SAME   /* not: those of the last step serve */
} MlNodalFactoring;

/**
 * ml_nodal_matrix_solve: factors the current values unless told otherwise, then x = -(matrix)^-1 f.
 * Shapes: f and ret_x hold n + m + 1 entries, indexed by unknown; entry 0 is not used. They may not be the same array.
 * Errors: ML_NODAL_SINGULAR with *ret_row the unknown at fault (0: not known), ML_NODAL_NO_MEMORY.
 */
MlNodalStatus ml_nodal_matrix_solve (MlNodalMatrix *matrix, MlNodalFactoring factoring, const double *f, double *ret_x, int *ret_row);
/** ml_nodal_matrix_solve_transposed: matrix' x = f with the factors of the last solve; f and ret_x are two arrays. */
MlNodalStatus ml_nodal_matrix_solve_transposed (MlNodalMatrix *matrix, const double *f, double *ret_x);

/**
 * ml_nodal_matrix_solve_columns: matrix x = b for several right-hand sides with the factors of the last ml_nodal_matrix_solve.
 * Shapes: width lanes, 1 or ML_NODAL_LANES; b and ret_x hold n + m + 1 entries, the lanes of each together, at 64 bytes, entry 0 not used; work
 * three times as many. Three arrays.
 * which: the lanes that are asked for, bit by bit; others hold anything afterwards. careful: of these, those to be refined where the factors are poor;
 * *ret_poor (may be NULL): those that needed it. Returns which, without the careful ones that are not solved well.
 */
unsigned ml_nodal_matrix_solve_columns (MlNodalMatrix *matrix, int width, unsigned which, unsigned careful, const double *b, double *ret_x, double *work,
                                        unsigned *ret_poor);
/** ml_nodal_matrix_solve_transposed_columns: matrix' x = b alike. False: no factors. */
bool ml_nodal_matrix_solve_transposed_columns (MlNodalMatrix *matrix, int width, unsigned which, const double *b, double *ret_x, double *work);
