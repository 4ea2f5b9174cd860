/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of the readings side by side: what readings.c, readings-bent.c and readings-slopes.c share. */
#pragma once

#include "nodal/solver.h"

#define N_LANES ML_NODAL_LANES
#define SAME_V 1e-8           /* a thousandth of the narrowest width, a regulator's: slopes there are those without the meter; currents to as much of themselves */

/* A device that the meter of a lane has moved off its tangent: its law less that tangent. */
typedef struct
{
  double f[ML_NODAL_MAX_LOCAL], jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];
} MlNodalBent;

#define ML_NODAL_MOST_REDUCED 16

/* The devices of a lane that are cut out, and what the circuit looks like to them: readings-reduced.c. */
typedef struct
{
  int n, n_devices; /* 0: none are */
  int unknown[ML_NODAL_MOST_REDUCED], device[ML_NODAL_MOST_REDUCED];  /* n; n_devices: among those that may bend */
  int index[ML_NODAL_MOST_REDUCED][ML_NODAL_MAX_LOCAL];               /* per device: which of the unknowns its local ones are; -1: the reference */
  double ohm[ML_NODAL_MOST_REDUCED * ML_NODAL_MOST_REDUCED];          /* n x n: what an ampere out of each unknown takes from each */
  double last[ML_NODAL_MOST_REDUCED][ML_NODAL_MAX_LOCAL];             /* per device: where it was linearised last */
  MlNodalBent now[ML_NODAL_MOST_REDUCED];                             /* per device */
  double used[ML_NODAL_MOST_REDUCED];                                 /* n: the lambdas that slopes have been taken of */
  double factor[ML_NODAL_MOST_REDUCED * ML_NODAL_MOST_REDUCED];       /* scratch */
  int pivot[ML_NODAL_MOST_REDUCED];
} MlNodalReduced;

typedef struct MlNodalReadingSlope MlNodalReadingSlope; /* readings-slopes.c */

struct MlNodalReadingRoom
{
  double *memory;
  size_t room, room_bent;
  MlNodalBent *bent;
  int *bent_of; /* N_LANES x devices that may bend: index in bent, or -1 */
  int n_bent, bent_room;
  MlNodalReadingSlope *slopes;
  int slope_room;
  double *device_slopes;
  int device_slope_room;
  MlNodalReduced reduced[N_LANES];
};

typedef struct
{
  MlNodalSolver *solver;
  MlNodalReadingRoom *room;
  const MlNodalParameterRef *refs;
  int width;             /* lanes: 1 or N_LANES */
  int n_refs, n_bending; /* devices that may bend: the last of the circuit's by_law */
  bool planned;          /* the room's slopes are found */
  /* n_unknowns */
  double *settled;       /* x without a meter */
  double *lambda, *least; /* of one reading; what a step is measured by */
  bool *bends;           /* a device hangs on it that may bend */
  /* n_unknowns times lanes */
  double *gradient, *drop, *x, *lambdas, *right, *step, *work; /* drop: what an ampere into red and out of black does; work: three times as many */
  double *slopes;        /* n_refs times lanes */
  double *column, *answer, *column_work; /* n_unknowns times N_LANES, the last three times as many: one right-hand side in each lane */
  /* of the lanes at work */
  MlNodalReading *reading[N_LANES]; /* NULL: none */
  int red[N_LANES], black[N_LANES];
  double siemens[N_LANES], between[N_LANES]; /* of the meter; ohm between its probes */
  unsigned poor;         /* lanes that the factors have to be refined for */
  unsigned lost;         /* lanes whose cut out devices have not settled */
} MlNodalReadings;

static inline bool
has (unsigned bits, int lane)
{
  return bits & 1u << lane;
}

static inline void
clear_lane (const MlNodalReadings *own, double *wide, int lane)
{
  for (int u = 0; u < own->solver->n_unknowns; u++)
    wide[u * own->width + lane] = 0;
}

/* The voltage between the probes, or what else a reading's gradient is of. */
static inline double
along (const MlNodalReadings *own, int lane, const double *wide)
{
  return wide[own->red[lane] * own->width + lane] - wide[own->black[lane] * own->width + lane];
}

/** ml_nodal_readings_bending_device: the i-th device that may bend; *ret_d: its number. */
const MlNodalDevice *ml_nodal_readings_bending_device (const MlNodalReadings *own, int i, int *ret_d);
/** ml_nodal_readings_bent_of: what that one of the lane leaves its tangent by; NULL: nothing so far. */
MlNodalBent *ml_nodal_readings_bent_of (const MlNodalReadings *own, int lane, int i);
/** ml_nodal_readings_leave_tangent: what the law leaves its tangent by at x, local unknowns. */
void ml_nodal_readings_leave_tangent (const MlNodalSolver *solver, const MlNodalDevice *device, int d, const double *x, MlNodalBent *ret);
/** ml_nodal_readings_bend: has the lane's devices stand at its x, those cut out where they settle; what that changes of the currents, into right.
 * ret_any: anything. False: no memory. */
bool ml_nodal_readings_bend (MlNodalReadings *own, int lane, bool *ret_any);
/** ml_nodal_readings_multiply_bent: right = -(what bent devices add to the Jacobian)' wide of that lane; whether there are any. */
bool ml_nodal_readings_multiply_bent (MlNodalReadings *own, int lane, const double *wide);
/** ml_nodal_readings_reduce: cuts out what the lane's step moves far off its tangent. False: too much. */
bool ml_nodal_readings_reduce (MlNodalReadings *own, int lane);
/** ml_nodal_readings_bend_reduced: the lane's devices that are cut out as they stand once they settle, in reduced->now. False: they do not. */
bool ml_nodal_readings_bend_reduced (MlNodalReadings *own, int lane);
/** ml_nodal_readings_reduced_lambdas: of the lambdas what those devices have not answered to yet, with their own answer: ret_lambda[n]. False: singular. */
bool ml_nodal_readings_reduced_lambdas (MlNodalReadings *own, int lane, double *ret_lambda);
/** ml_nodal_readings_find_slopes: of the lanes whose lambdas are found. Several readings share the slopes of devices that no meter moves; a single
 * one takes all where its devices stand. False: no memory. */
bool ml_nodal_readings_find_slopes (MlNodalReadings *own, unsigned which, const MlNodalChange *changes, int n_changes);
