/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the engine knows of a kind of device. A new kind is one file that fills in an MlNodalType, and one line in the table of type.c.
 *
 * A device sees its local unknowns x: first the voltages of its pins' metal, then its inner unknowns (branch currents). It answers with
 * f: first the currents into its pins (they sum to zero), then one residual for each inner unknown; and with the dense Jacobian of f.
 * `eval` is a pure function of x, so that derivatives, passivity and limits are tested on it alone. Joints, opens, shorts and
 * exchanged pins are the engine's business: a device never hears of them. */
#pragma once

#include <math.h>

#include "nodal/nodal.h"

#define ML_NODAL_MAX_LOCAL 8       /* pins and inner unknowns of one device */
#define ML_NODAL_MAX_PARAMETERS 8
#define ML_NODAL_MAX_DERIVED 32
#define ML_NODAL_THERMAL_V 0.025692579121493725 /* kT/q at 25 C; k and q exact, SI 2019 */

/* Parameters the engine itself knows by number. */
#define ML_NODAL_COIL_OHM 0
#define ML_NODAL_COIL_PULL 1
#define ML_NODAL_COIL_RELEASE 2

/* initial: for tests and benchmarks, and for what the board language has no key for; the program takes its values, with their sources, from
 * the board and data/defaults.table. */
typedef struct
{
  const char *name;
  double initial;
} MlNodalParameterInfo;

typedef struct
{
  int pin_a, pin_b;
} MlNodalPair;

typedef enum
{
  ML_NODAL_CONDUCTANCE = 1, /* two pins, i = derived[0] v; derived[0] may be INFINITY (an exact short) */
  ML_NODAL_LINEAR = 2,      /* the Jacobian does not depend on x */
  ML_NODAL_STEEP = 4,       /* it bends within less than a junction's 25 mV: where gain makes it switch within a millivolt */
  ML_NODAL_CURRENT = 8      /* two pins, i = derived[0] whatever the voltage */
} MlNodalTypeFlags;

struct MlNodalType
{
  const char *word;
  unsigned flags;
  int n_pins;
  const char *pins[ML_NODAL_MAX_LOCAL];
  int n_parameters;
  MlNodalParameterInfo parameters[ML_NODAL_MAX_PARAMETERS];
  int n_elements; /* each can be opened; all are d.c. paths */
  MlNodalPair elements[8];
  int n_paths; /* further d.c. paths between pins; a pin without any is an insulated input */
  MlNodalPair paths[8];
  int rest[ML_NODAL_MAX_LOCAL]; /* for an insulated pin: 1 + the pin whose voltage it takes when cut off; 0 for the reference */
  int n_inner;
  int n_derived;
  int output; /* 1 + the pin that a device with gain drives; 0: none */
  int source; /* 1 + the parameter that says how much it drives; 0 when it is no source */

  /** prepare: derived quantities from parameters, so that eval takes no logarithm of a constant. May be NULL when n_derived is 0. */
  void (*prepare) (const double *parameters, double *derived);
  /** soften: a device with gain, made gentler: its gain taken to that share (0 to 1) of what it is. NULL: none. */
  void (*soften) (double *derived, double share);
  /** put: an amplifier whose output stands low (-1) or high (1) whatever its inputs say; 0: as they say. NULL: none. */
  void (*put) (double *derived, int side);
  /** lean: how far its inputs are out of balance, positive towards high; beyond some units the output stands still. With put. */
  double (*lean) (const double *derived, const double *x);
  /** conducts: whether path (elements first) couples its pins at d.c. NULL: yes unless the element is open. */
  bool (*conducts) (const double *derived, unsigned open, int path);
  /** eval: f[n_local] and jacobian[n_local * n_local], row-major, both zeroed before. Bit e of open: element e is open. */
  void (*eval) (const double *derived, unsigned open, const double *x, double *f, double *jacobian);
  /** prepare_slopes: d derived / d parameter, ret[n_parameters * n_derived], zeroed before: as much of it as slopes looks at. NULL: none of it. */
  void (*prepare_slopes) (const double *parameters, double *ret);
  /** slopes: d f / d parameter from those, ret[n_parameters * n_local], zeroed before. NULL: found by differences of f. */
  void (*slopes) (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret);
  /** limit: moves x (a copy) to where the device may be linearised, given the last such point (NULL at a start). NULL: no limiting. */
  void (*limit) (const double *derived, unsigned open, const double *old, double *x);
  /** latch: for a device that latches: whether it is on (parameter latched - 1 set to 1), given its solved local unknowns, its pin currents
   * and whether it was. NULL: none. */
  bool (*latch) (const double *parameters, const double *x, const double *pin_a, bool was);
  int latched; /* 1 + the parameter that holds its state */
};

/** ml_nodal_type_at: the i-th kind of the table, from 0; NULL beyond the last one. */
const MlNodalType *ml_nodal_type_at (int i);

static inline int
ml_nodal_type_n_local (const MlNodalType *type)
{
  return type->n_pins + type->n_inner;
}

/** ml_nodal_type_is_plain_branch: two pins and the current from the first to the second, which alone flows there; its own row is linear. */
static inline bool
ml_nodal_type_is_plain_branch (const MlNodalType *type)
{
  return type->flags & ML_NODAL_LINEAR && type->n_pins == 2 && type->n_inner == 1;
}

/** ml_nodal_stamp_branch: a current i(v_a - v_b) of slope g from a to b, into f and the n x n jacobian. */
static inline void
ml_nodal_stamp_branch (double *f, double *jacobian, int n, int a, int b, double i, double g)
{
  f[a] += i;
  f[b] -= i;
  jacobian[a * n + a] += g;
  jacobian[a * n + b] -= g;
  jacobian[b * n + a] -= g;
  jacobian[b * n + b] += g;
}

/** ml_nodal_own_share: what a chip draws itself at u, over its quiescent current: u / sqrt (u^2 + 1 V^2) + 1e-6 u / 1 V. The second term is the slope that
 * real ones have: it keeps a net determined that only such chips hang on. */
static inline double
ml_nodal_own_share (double u)
{
  return u / sqrt (u * u + 1.0) + 1e-6 * u;
}

/** ml_nodal_stamp_own: that from a to b at u = v_a - v_b. */
static inline void
ml_nodal_stamp_own (double *f, double *jacobian, int n, int a, int b, double quiescent, double u)
{
  const double root = sqrt (u * u + 1.0);

  ml_nodal_stamp_branch (f, jacobian, n, a, b, quiescent * ml_nodal_own_share (u), quiescent * (1.0 / (root * root * root) + 1e-6));
}

/** ml_nodal_add_slope: of n currents' slopes in one parameter, those of a current from a to b. */
static inline void
ml_nodal_add_slope (double *slope, int a, int b, double by)
{
  slope[a] += by;
  slope[b] -= by;
}
