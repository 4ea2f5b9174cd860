/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The laws of all kinds of parts written a second time, straight from their stated equations and without a derivative, in long double; and
 * circuits of them solved by GSL's multidimensional root finder. Nothing of the engine is used here, so that a slip in it cannot confirm
 * itself. */
#pragma once

#include <stdbool.h>

#define ML_SECOND_LOCAL 8
#define ML_SECOND_PARAMETERS 8

typedef struct
{
  const char *word; /* the board language's kind, or "supply" "load-current" "current-source" "chopped-current" */
  int n_pins, n_inner, n_parameters;
} MlSecondKind;

/** ml_second_kind_find: NULL when there is none. */
const MlSecondKind *ml_second_kind_find (const char *word);
/**
 * ml_second_law: x: the voltages of the pins, then the branch currents; f: the currents into the pins, then what must vanish for each branch.
 * p in the order of the kind's parameters; element e of the part is open where bit e of open is set.
 */
void ml_second_law (const MlSecondKind *kind, const double *p, unsigned open, const long double *x, long double *f);
/** ml_second_stays: whether a thyristor, triac or contact stays in the state that p gives it; coil_v the voltage across a contact's coil. */
bool ml_second_stays (const MlSecondKind *kind, const double *p, const double *coil, double coil_v, const long double *x, const long double *f);
