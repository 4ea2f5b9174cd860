/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slopes of readings in the parameters, once the lanes' lambdas are found. */
#include "nodal/readings.h"

#include <math.h>
#include <string.h>

/* How a reading's slope in a parameter comes about. */
typedef enum
{
  SLOPE_NONE,
  SLOPE_CONDUCTANCE, /* (lambda_a - lambda_b) factor (x_a - x_b) */
  SLOPE_LINK,        /* lambda_a x_a */
  SLOPE_CURRENT,     /* lambda_a - lambda_b */
  SLOPE_DEVICE       /* - sum lambda[node[a + k]] slope[first + k], b of them */
} SlopeKind;

struct MlNodalReadingSlope
{
  SlopeKind kind;
  int a, b;      /* unknowns; of a device its first local one, and how many */
  double factor; /* S^2 */
  int first;     /* where its slopes lie */
};

/* Member by member into its place: a struct returned is copied sooner than its members are stored, which stalls. */
static void
plan_slope (const MlNodalReadings *own, MlNodalParameterRef ref, int *n_slopes, MlNodalReadingSlope *ret)
{
  const MlNodalSolver *solver = own->solver;
  const MlNodalCircuit *circuit = solver->circuit;
  const MlNodalDevice *device = &circuit->devices[ref.device];
  const int *node = solver->node + device->first_local;
  double g = solver->derived[device->first_derived];

  ret->kind = SLOPE_NONE;
  if (device->type->flags & ML_NODAL_CONDUCTANCE && (device->type->n_parameters == 1 || !isfinite (g)))
    {
      ret->a = node[0];
      ret->b = node[1];
      ret->factor = g * g; /* i = v / p: di/dp = -g^2 v */
      if (!solver->open[ref.device] && isfinite (g))
        ret->kind = SLOPE_CONDUCTANCE;
      for (int e = 0; !solver->open[ref.device] && !isfinite (g) && e < solver->n_extras; e++) /* p = 0: a link's row v - p j */
        if (solver->extras[e].kind == ML_NODAL_EXTRA_LINK && solver->extras[e].device == ref.device)
          {
            ret->kind = SLOPE_LINK;
            ret->a = circuit->n_unknowns + e;
            return;
          }
      return;
    }
  if (device->type->flags & ML_NODAL_CURRENT)
    {
      ret->kind = SLOPE_CURRENT;
      ret->a = node[1];
      ret->b = node[0];
      return;
    }
  ret->kind = SLOPE_DEVICE;
  ret->a = device->first_local;
  ret->b = ml_nodal_type_n_local (device->type);
  ret->first = *n_slopes;
  *n_slopes += ret->b;
}

/* The slopes of all devices where they stand at the solver's x. False: no memory. */
static bool
plan_slopes (MlNodalReadings *own)
{
  MlNodalReadingRoom *room = own->room;
  int n = 0;

  if (!ml_nodal_room_for ((void **) &room->slopes, &room->slope_room, own->n_refs, sizeof *room->slopes))
    return false;
  for (int i = 0; i < own->n_refs; i++)
    plan_slope (own, own->refs[i], &n, &room->slopes[i]);
  if (!ml_nodal_room_for ((void **) &room->device_slopes, &room->device_slope_room, n, sizeof *room->device_slopes))
    return false;
  for (int i = 0; i < own->n_refs; i++)
    if (room->slopes[i].kind == SLOPE_DEVICE)
      {
        const MlNodalParameterRef ref = own->refs[i];
        size_t n_local = (size_t) ml_nodal_type_n_local (own->solver->circuit->devices[ref.device].type);
        if (i == 0 || own->refs[i - 1].device != ref.device)
          ml_nodal_slopes_find_place (own->solver, ref.device);
        memcpy (room->device_slopes + room->slopes[i].first, ml_nodal_slopes_of_parameter (own->solver, ref.device, ref.parameter), n_local * sizeof (double));
      }
  return true;
}

/* The walk over all slopes, written once for a lane and for all: NUMBER is a double or a part of the lanes, of which `parts` make an entry. */
#define MULTIPLY_SLOPES(NUMBER, parts) \
  const double *device_slopes = own->room->device_slopes; \
  const int *node = own->solver->node; \
\
  for (int p = 0; p < (parts); p++) \
    { \
      const NUMBER *lambda = (const NUMBER *) (const void *) own->lambdas + p, *x = (const NUMBER *) (const void *) own->x + p; \
      NUMBER *to = (NUMBER *) (void *) own->slopes + p; \
      for (int i = 0; i < own->n_refs; i++) \
        { \
          const MlNodalReadingSlope *slope = &own->room->slopes[i]; \
          const int a = slope->a * (parts), b = slope->b * (parts); \
          NUMBER sum = { 0 }; \
          switch (slope->kind) \
            { \
            case SLOPE_CONDUCTANCE: \
              sum = (lambda[a] - lambda[b]) * slope->factor * (x[a] - x[b]); \
              break; \
            case SLOPE_LINK: \
              sum = lambda[a] * x[a]; \
              break; \
            case SLOPE_CURRENT: \
              sum = lambda[a] - lambda[b]; \
              break; \
            case SLOPE_DEVICE: \
              for (int k = 0; k < slope->b; k++) \
                sum -= lambda[node[slope->a + k] * (parts)] * device_slopes[slope->first + k]; \
              break; \
            case SLOPE_NONE: \
              break; \
            } \
          to[i * (parts)] = sum; \
        } \
    }

static void
multiply_slopes_of_one (const MlNodalReadings *own)
{
  MULTIPLY_SLOPES (double, 1)
}

ML_NODAL_WIDE static void
multiply_slopes_of_all (const MlNodalReadings *own)
{
  MULTIPLY_SLOPES (MlNodalPart, N_LANES / ML_NODAL_PART)
}

/* x and lambda of a lane, as one reading alone has them. Far from the probes a meter moves next to nothing: there x goes back to the settled point. */
static void
take_lane (MlNodalReadings *own, int lane)
{
  MlNodalSolver *solver = own->solver;

  for (int u = 0; u < solver->n_unknowns; u++)
    {
      double x = own->x[u * own->width + lane], least = own->least[u] == 1.0 ? 1 : fabs (own->settled[u]); /* a node; a branch's current */
      solver->x[u] = fabs (x - own->settled[u]) <= SAME_V * least ? own->settled[u] : x;
      own->lambda[u] = own->lambdas[u * own->width + lane];
    }
}

static bool
stands_elsewhere (const MlNodalReadings *own, int d)
{
  const MlNodalDevice *device = &own->solver->circuit->devices[d];
  const int *node = own->solver->node + device->first_local;

  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    if (own->solver->x[node[k]] != own->settled[node[k]])
      return true;
  return false;
}

/* Of devices that stand elsewhere than without a meter. The lane is taken. */
static void
correct_slopes (MlNodalReadings *own, const MlNodalReading *reading)
{
  bool elsewhere = false;

  for (int i = 0; reading->slope && i < own->n_refs; i++)
    if (own->room->slopes[i].kind == SLOPE_DEVICE)
      {
        if (i == 0 || own->refs[i - 1].device != own->refs[i].device)
          {
            elsewhere = stands_elsewhere (own, own->refs[i].device);
            if (elsewhere)
              ml_nodal_slopes_find_place (own->solver, own->refs[i].device);
          }
        if (elsewhere)
          reading->slope[i] = ml_nodal_read_slope (own->solver, own->lambda, own->refs[i]);
      }
}

bool
ml_nodal_readings_find_slopes (MlNodalReadings *own, unsigned which, const MlNodalChange *changes, int n_changes)
{
  for (int k = 0; k < own->width; k++)
    own->lambdas[k] = own->x[k] = 0;
  if (own->width == 1)
    take_lane (own, 0);
  else if (!own->planned)
    memcpy (own->solver->x, own->settled, (size_t) own->solver->n_unknowns * sizeof (double));
  if (!own->planned && !plan_slopes (own))
    return false;
  own->planned = true;
  if (own->width > 1)
    multiply_slopes_of_all (own);
  else
    multiply_slopes_of_one (own);
  for (int k = 0; k < own->width; k++)
    if (has (which, k))
      {
        MlNodalReading *reading = own->reading[k];
        for (int i = 0; reading->slope && i < own->n_refs; i++)
          reading->slope[i] = own->slopes[i * own->width + k];
        if (own->width > 1)
          {
            take_lane (own, k);
            correct_slopes (own, reading);
          }
        ml_nodal_read_sizes (own->solver, own->lambda, changes, n_changes, reading->sized, reading->size_slope);
      }
  return true;
}
