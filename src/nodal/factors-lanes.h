/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is done to all lanes at once, written once and made for each width of a processor's registers: PART_LANES of the lanes are one number there, and
 * an entry is as many of them as it takes. Wider than a register it would be taken apart and put together again at every step. MADE_FOR says which
 * processors it is for, BY (name) names it. Included by factors.c only. */

typedef double BY (Part) __attribute__ ((vector_size (PART_LANES * sizeof (double))));
typedef long long BY (PartMask) __attribute__ ((vector_size (PART_LANES * sizeof (long long))));

#define PARTS (ML_NODAL_LANES / PART_LANES)
#define NUMBER BY (Part)
#define MASK BY (PartMask)
#define WIDE MADE_FOR static

/* ---- as many matrices ---- */

#define FACTOR NUMBER
#define FACTOR_PARTS PARTS
#define NAMED(name) BY (name##_lanes)
#define FACTORS
#include "nodal/factors-walk.h"
#undef FACTOR
#undef FACTOR_PARTS
#undef NAMED
#undef FACTORS

/* ---- one matrix, right-hand sides side by side ---- */

#define FACTOR double
#define FACTOR_PARTS 1
#define NAMED(name) BY (name##_columns)
#include "nodal/factors-walk.h"
#undef FACTOR
#undef FACTOR_PARTS
#undef NAMED

/* ---- whether they are solved well ---- */

/* Macros, no functions: passing lanes on is not the same on every processor. Comparisons are made of sign bits and whole numbers: not every processor
 * has others for so many lanes. */
#define SIZE_OF(x) ((NUMBER) ((MASK) (x) & 0x7fffffffffffffffLL))
#define IS_NEGATIVE(x) ((MASK) (x))                             /* in its sign bit; a difference of finite numbers is 0 or above just where it is in truth */
#define IS_FINITE(size) ((MASK) SIZE_OF (size) - INFINITE_BITS) /* in its sign bit */
#define EACH_PART for (int p = 0; p < PARTS; p++)

static inline unsigned
BY (lanes_with_sign) (const MASK *mask)
{
  unsigned bits = 0;

  for (int k = 0; k < ML_NODAL_LANES; k++)
    bits |= mask[k / PART_LANES][k % PART_LANES] < 0 ? 1u << k : 0;
  return bits;
}

/* Of the rows start[r] to start[r + 1], A's entries and the unknowns they belong to: VALUE (k, p) and COLUMN (k). WELL (size, rest): in its sign bit. */
#define SOLVED_WELL(start, VALUE, COLUMN, WELL) \
  NUMBER *left = (NUMBER *) (void *) ret_rest; \
  const NUMBER *at = (const NUMBER *) (const void *) x, *right = (const NUMBER *) (const void *) b; \
  MASK well[PARTS]; \
\
  EACH_PART \
    well[p] = ~(MASK){ 0 }; \
  for (int r = 0; r < n; r++) \
    { \
      NUMBER rest[PARTS], size[PARTS]; \
      EACH_PART \
        { \
          rest[p] = right[r * PARTS + p]; \
          size[p] = SIZE_OF (rest[p]); \
        } \
      for (int k = start[r]; k < start[r + 1]; k++) \
        EACH_PART \
          { \
            NUMBER t = VALUE (k, p) * at[COLUMN (k) * PARTS + p]; \
            rest[p] -= t; \
            size[p] += SIZE_OF (t); \
          } \
      EACH_PART \
        { \
          left[r * PARTS + p] = rest[p]; \
          well[p] &= WELL (size[p], rest[p]); \
        } \
    } \
  return BY (lanes_with_sign) (well);

#define WITHIN_OR_NOTHING(size, rest) \
  (~(IS_NEGATIVE (limit * (size) - SIZE_OF (rest)) & IS_NEGATIVE (least - SIZE_OF (rest))) & IS_FINITE (size))
#define WITHIN_OR_INFINITE(size, rest) ~(IS_NEGATIVE (limit * (size) - SIZE_OF (rest)) & IS_FINITE (size))
#define ROW_COLUMN(k) row_column[k]
#define ROW_VALUE(k, p) values[row_entry[k]]
#define ROW_LANES(k, p) ((const NUMBER *) (const void *) values)[row_entry[k] * PARTS + p]
#define COLUMN_ROW(k) row[k]
#define COLUMN_VALUE(k, p) values[k]

WIDE unsigned
BY (ml_nodal_columns_solved_well) (int n, const int *row_start, const int *row_entry, const int *row_column, const double *values, const double *x,
                                   const double *b, double limit, double least, double *ret_rest)
{
  SOLVED_WELL (row_start, ROW_VALUE, ROW_COLUMN, WITHIN_OR_NOTHING)
}

WIDE unsigned
BY (ml_nodal_lanes_solved_well) (int n, const int *row_start, const int *row_entry, const int *row_column, const double *values, const double *x,
                                 const double *b, double limit, double least, double *ret_rest)
{
  SOLVED_WELL (row_start, ROW_LANES, ROW_COLUMN, WITHIN_OR_NOTHING)
}

/* Written for the matrix whose columns are these rows: of its transpose. */
WIDE unsigned
BY (ml_nodal_columns_transposed_well) (int n, const int *column, const int *row, const double *values, const double *x, const double *b, double limit,
                                       double *ret_rest)
{
  SOLVED_WELL (column, COLUMN_VALUE, COLUMN_ROW, WITHIN_OR_INFINITE)
}

#undef PARTS
#undef NUMBER
#undef MASK
#undef WIDE
#undef SIZE_OF
#undef IS_NEGATIVE
#undef IS_FINITE
#undef EACH_PART
#undef SOLVED_WELL
#undef WITHIN_OR_NOTHING
#undef WITHIN_OR_INFINITE
#undef ROW_COLUMN
#undef ROW_VALUE
#undef ROW_LANES
#undef COLUMN_ROW
#undef COLUMN_VALUE
#undef PART_LANES
#undef MADE_FOR
#undef BY
