/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the root finders of the second solution share: the equations of a circuit as weighted rows. */
#pragma once

#include "support/second-solve.h"

typedef struct
{
  const MlSecondCircuit *circuit;
  double leak_s;                 /* from every node to the reference */
  double hold_s;                 /* from every node to where it was */
  const long double *start;      /* n: where held nodes are */
  const long double *anchor;     /* n: where nodes were; may be NULL when hold_s is 0 */
  double weight[ML_SECOND_MOST]; /* of the rows */
} MlSecondSystem;

/** ml_second_system_weigh: rows to slopes of order one at x[n]. */
void ml_second_system_weigh (MlSecondSystem *system, const long double *x);
/** ml_second_system_f: weighted rows at[n - 1], unknown k at k - 1; false when one is not finite. */
bool ml_second_system_f (const MlSecondSystem *system, const double *at, double *ret_f);
/** ml_second_system_slopes: their slopes, (n - 1) x (n - 1) row-major; false when one is not finite. */
bool ml_second_system_slopes (const MlSecondSystem *system, const double *at, double *ret_slopes);
/** ml_second_system_sharpen: Newton's corrections of a root in long double. False when the last is above a tenth of 1e-6 |x| + 1 uV. */
bool ml_second_system_sharpen (MlSecondSystem *system, long double *x);
