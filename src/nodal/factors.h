/* SPDX-License-Identifier: GPL-3.0-or-later */
/* LU factors of a matrix of constant pattern and constant pivots, one or several matrices side by side.
 *
 * With pivots fixed, every addition of the elimination is known beforehand: a schedule lists where each goes, and a factorisation is one
 * walk along it, without searching, scaling or gathering. Rows are eliminated in turn by those above them (the up-looking order of T. A.
 * Davis, Direct Methods for Sparse Linear Systems, ch. 6). Side by side, each entry is ML_NODAL_LANES numbers, one of each matrix: one
 * walk serves all, and one instruction several lanes. Each lane sees the same operations in the same order as a
 * matrix alone, so that its result is the same to the bit. */
#pragma once

#include <stdbool.h>

#define ML_NODAL_LANES 8

/* What works on lanes is made for each width of the processor's registers; each lane sees the same operations whatever the width. ML_NODAL_WIDE stands
 * before a function of plain loops. One that holds lanes in variables is written in a file of its own (factors-lanes.h), or for ML_NODAL_PART lanes at
 * once, which most processors have registers for. Such a function takes and returns no lanes: that is not the same on every processor. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define ML_NODAL_WIDTHS
#define ML_NODAL_WIDE __attribute__ ((target_clones ("avx512f", "avx2", "default")))
#else
#define ML_NODAL_WIDE
#endif

#define ML_NODAL_PART 4

typedef double MlNodalPart __attribute__ ((vector_size (ML_NODAL_PART * sizeof (double))));
typedef long long MlNodalPartBits __attribute__ ((vector_size (ML_NODAL_PART * sizeof (long long))));

typedef struct
{
  int n, n_entries, n_slots;
  int n_lower, n_upper;
  int *row, *column;          /* n: of the matrix, that stand at pivot k */
  int *slot;                  /* n_entries: where an entry of the matrix goes */
  int *lower_start, *lower;   /* n + 1; pivots that eliminate in row k, ascending; slot n_upper + index */
  int *upper_start, *upper;   /* n + 1; pivots right of the diagonal, ascending; slot = index. Diagonals: slot n_upper + n_lower + k */
  int *target;                /* for each lower entry in turn, for each upper entry of its pivot's row: the slot it is subtracted at */
} MlNodalSchedule;

/**
 * ml_nodal_schedule_new: column[n + 1], row[] the pattern by columns; pivot_row[k], pivot_column[k] what stands at pivot k. NULL without
 * memory; also, and then *ret_too_long, when the elimination has more than `most` additions.
 */
MlNodalSchedule *ml_nodal_schedule_new (int n, const int *column, const int *row, const int *pivot_row, const int *pivot_column, int most,
                                        bool *ret_too_long);
void ml_nodal_schedule_free (MlNodalSchedule *schedule);

/** ml_nodal_schedule_factor: values[n_entries] to factors[n_slots]; the diagonal's are inverted. Zero pivots give infinities. */
void ml_nodal_schedule_factor (const MlNodalSchedule *schedule, const double *values, double *factors);
/** ml_nodal_schedule_solve: x[n] from the right-hand side to the solution, in place; work[n]. */
void ml_nodal_schedule_solve (const MlNodalSchedule *schedule, const double *factors, double *x, double *work);
void ml_nodal_schedule_solve_transposed (const MlNodalSchedule *schedule, const double *factors, double *x, double *work);

/* The same of ML_NODAL_LANES matrices at once: each array is that many times as long, the lanes of an entry together, at 64 bytes. */
void ml_nodal_schedule_factor_lanes (const MlNodalSchedule *schedule, const double *values, double *factors);
void ml_nodal_schedule_solve_lanes (const MlNodalSchedule *schedule, const double *factors, double *x, double *work);
void ml_nodal_schedule_solve_transposed_lanes (const MlNodalSchedule *schedule, const double *factors, double *x, double *work);
/** ml_nodal_lanes_solved_well: bit k: in lane k |A x - b| <= max (limit (|A| |x| + |b|), least) in each of n rows; the entries by rows: row_start[n + 1], the
 * index among values and the column of each. ret_rest[n], lanes together: b - A x. */
unsigned ml_nodal_lanes_solved_well (int n, const int *row_start, const int *row_entry, const int *row_column, const double *values, const double *x,
                                     const double *b, double limit, double least, double *ret_rest);

/* One matrix, ML_NODAL_LANES right-hand sides: x and work as above, factors and values of the one. */
void ml_nodal_schedule_solve_columns (const MlNodalSchedule *schedule, const double *factors, double *x, double *work);
void ml_nodal_schedule_solve_transposed_columns (const MlNodalSchedule *schedule, const double *factors, double *x, double *work);
unsigned ml_nodal_columns_solved_well (int n, const int *row_start, const int *row_entry, const int *row_column, const double *values, const double *x,
                                       const double *b, double limit, double least, double *ret_rest);
/** ml_nodal_columns_transposed_well: bit k: in lane k |A' x - b| <= limit (|A'| |x| + |b|) in each row of A', or that is not finite; A by columns, column[n + 1], row[]. */
unsigned ml_nodal_columns_transposed_well (int n, const int *column, const int *row, const double *values, const double *x, const double *b, double limit,
                                           double *ret_rest);
