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
  /* of the lanes at work */
  MlNodalReading *reading[N_LANES]; /* NULL: none */
  int red[N_LANES], black[N_LANES];
  double siemens[N_LANES], between[N_LANES]; /* of the meter; ohm between its probes */
  unsigned poor;         /* lanes that the factors have to be refined for */
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
/** ml_nodal_readings_bend: has the lane's devices stand at its x; what that changes of the currents, into right. ret_any: anything. False: no memory. */
bool ml_nodal_readings_bend (MlNodalReadings *own, int lane, bool *ret_any);
/** ml_nodal_readings_multiply_bent: right = -(what bent devices add to the Jacobian)' wide of that lane; whether there are any. */
bool ml_nodal_readings_multiply_bent (MlNodalReadings *own, int lane, const double *wide);
/** ml_nodal_readings_find_slopes: of the lanes whose lambdas are found. Several readings share the slopes of devices that no meter moves; a single
 * one takes all where its devices stand. False: no memory. */
bool ml_nodal_readings_find_slopes (MlNodalReadings *own, unsigned which, const MlNodalChange *changes, int n_changes);
