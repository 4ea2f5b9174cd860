/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the currents of a device depend on its parameters. One reading asks for the slopes of every parameter of the board, and most devices
 * stand where they stood at the reading before: what was found is kept, and found again by its exact place. */
#include "nodal/solver.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define N_STEPS 2
#define N_PLACES ML_NODAL_SLOPE_PLACES

/* Voltages are taken from the last pin, since only differences matter to a device, and to 60 nanovolts, which leaves 1e-6 of a junction's slope, or
 * where they are small to as much of themselves, but no finer than half a nanovolt; branch currents to 1e-9 of themselves. So a device that a meter elsewhere or a distant fault hardly moves is found again, and what is found does
 * not depend on what was asked before. */
static const double grid_v = 0x1p-24, fine_grid_v = 0x1p-31, small_v = 0x1p-5, steep_grid_v = 0x1p-38; /* 4 pV: an amplifier takes half a nanovolt to 10 uV */
#define CURRENT_BITS 30 /* of 52 after the point */
#define VOLTAGE_BITS 19

/* What is kept of one device: its parameters and those beside each; then for each place the local unknowns, and the slopes. */
typedef struct
{
  double *parameters; /* n_parameters */
  double *derived;    /* n_parameters x N_STEPS x n_derived: beside each; or those at the place, and the slopes of them in each */
  double *places;     /* N_PLACES x (n_local + 1 + n_parameters n_local): unknowns, opened elements, slopes */
  int per_place;
} Kept;

static size_t
per_place (const MlNodalType *type)
{
  size_t n = (size_t) ml_nodal_type_n_local (type);
  return n + 1 + (size_t) type->n_parameters * n;
}

static size_t
kept_doubles (const MlNodalType *type)
{
  if (type->flags & (ML_NODAL_CONDUCTANCE | ML_NODAL_CURRENT) && type->n_parameters == 1)
    return 0; /* a resistance, a current: known without differences */
  return (size_t) (type->n_parameters * (1 + N_STEPS * type->n_derived)) + N_PLACES * per_place (type);
}

MlNodalStatus
ml_nodal_slopes_make_room (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;
  size_t total = 0;

  if (solver->slopes)
    return ML_NODAL_OK;
  for (int d = 0; d < circuit->n_devices; d++)
    total += kept_doubles (circuit->devices[d].type);
  double *slopes = malloc ((total + 1) * sizeof *slopes);
  size_t *first = malloc (((size_t) circuit->n_devices + 1) * sizeof *first);
  MlNodalSlopesKnown *n = calloc ((size_t) circuit->n_devices + 1, sizeof *n);
  if (!slopes || !first || !n)
    {
      free (slopes);
      free (first);
      free (n);
      return ML_NODAL_NO_MEMORY;
    }
  total = 0;
  for (int d = 0; d < circuit->n_devices; d++)
    {
      first[d] = total;
      total += kept_doubles (circuit->devices[d].type);
    }
  solver->slopes = slopes;
  solver->slopes_first = first;
  solver->slopes_known = n;
  return ML_NODAL_OK;
}

/* Of what is usually zero (an offset) no share serves: a nanovolt, which a gain of 2e4 takes to a tenth of the narrowest width. */
static double
step_of (const MlNodalType *type, int parameter, double at)
{
  double step = fabs (at) * 1e-7;

  return type->parameters[parameter].initial == 0 ? fmax (step, 1e-9) : step > 0 ? step : 1e-9;
}

/* The device's derived quantities beside the parameter's value. */
static void
prepare_steps (const MlNodalType *type, int parameter, const Kept *kept)
{
  static const double steps[N_STEPS] = { -1, 1 };
  double parameters[ML_NODAL_MAX_PARAMETERS];
  double *derived = kept->derived + parameter * N_STEPS * type->n_derived;

  memcpy (parameters, kept->parameters, (size_t) type->n_parameters * sizeof *parameters);
  for (int s = 0; s < N_STEPS; s++)
    {
      parameters[parameter] = kept->parameters[parameter] + steps[s] * step_of (type, parameter, kept->parameters[parameter]);
      type->prepare (parameters, derived + s * type->n_derived);
    }
}

/* All at once, where the device knows how its currents depend on its parameters: in their place lie the derived quantities there, and behind them their
 * slopes. */
static void
prepare_all (const MlNodalType *type, const Kept *kept)
{
  type->prepare (kept->parameters, kept->derived);
  memset (kept->derived + type->n_derived, 0, (size_t) (type->n_parameters * type->n_derived) * sizeof (double));
  if (type->prepare_slopes)
    type->prepare_slopes (kept->parameters, kept->derived + type->n_derived);
}

/* By central differences. The step is a hundredth of the narrowest smooth width, a regulator's of some 1e-5 of its voltage, which leaves 2e-5
 * of the slope; rounding leaves less. */
static void
find_slopes (const MlNodalType *type, unsigned open, int parameter, const Kept *kept, const double *x, double *ret_slope)
{
  static const double weights[N_STEPS] = { -1, 1 };
  const double *derived = kept->derived + parameter * N_STEPS * type->n_derived;
  double f[ML_NODAL_MAX_LOCAL], jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];
  double h = step_of (type, parameter, kept->parameters[parameter]);
  int n = ml_nodal_type_n_local (type);

  for (int k = 0; k < n; k++)
    ret_slope[k] = 0;
  for (int s = 0; s < N_STEPS; s++)
    {
      for (int k = 0; k < n; k++)
        f[k] = 0;
      for (int k = 0; k < n * n; k++)
        jacobian[k] = 0;
      type->eval (derived + s * type->n_derived, open, x, f, jacobian);
      for (int k = 0; k < n; k++)
        ret_slope[k] += weights[s] * f[k] / (2 * h);
    }
}

/* To so many bits after the point of its binary form. */
static double
round_to_bits (double a, int n)
{
  uint64_t bits, last = UINT64_C (1) << (52 - n);

  memcpy (&bits, &a, sizeof bits);
  bits = (bits + last / 2) & ~(last - 1);
  memcpy (&a, &bits, sizeof bits);
  return a;
}

/* The sum rounds to the grid: 1.5 x 2^52 has no bits below one. */
static double
round_to_grid (double v, double grid)
{
  volatile double shifted = v + 0x1.8p52 * grid;
  return shifted - 0x1.8p52 * grid;
}

static double
round_voltage (double v, bool steep)
{
  if (steep || fabs (v) >= small_v)
    return round_to_grid (v, steep ? steep_grid_v : grid_v);
  return round_to_grid (round_to_bits (v, VOLTAGE_BITS), fine_grid_v);
}

static Kept
kept_of (const MlNodalSolver *solver, int d)
{
  const MlNodalType *type = solver->circuit->devices[d].type;
  double *parameters = solver->slopes + solver->slopes_first[d], *derived = parameters + type->n_parameters;

  return (Kept){ parameters, derived, derived + type->n_parameters * N_STEPS * type->n_derived, (int) per_place (type) };
}

static bool
same_numbers (const double *a, const double *b, int n)
{
  for (int k = 0; k < n; k++)
    if (!(a[k] == b[k]))
      return false;
  return true;
}

void
ml_nodal_slopes_find_place (MlNodalSolver *solver, int d)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const MlNodalType *type = device->type;
  const int *node = solver->node + device->first_local;
  const double *parameters = solver->parameters + device->first_parameter;
  Kept kept = kept_of (solver, d);
  MlNodalSlopesKnown *known = &solver->slopes_known[d];
  int n = ml_nodal_type_n_local (type);
  double x[ML_NODAL_MAX_LOCAL + 1];

  if (kept_doubles (type) == 0)
    return;
  if (known->n_places == 0 || !same_numbers (kept.parameters, parameters, type->n_parameters))
    {
      memcpy (kept.parameters, parameters, (size_t) type->n_parameters * sizeof *parameters);
      *known = (MlNodalSlopesKnown){ 0 };
    }
  double last = solver->x[node[type->n_pins - 1]];
  for (int k = 0; k < n; k++)
    x[k] = k < type->n_pins ? round_voltage (solver->x[node[k]] - last, type->flags & ML_NODAL_STEEP) : round_to_bits (solver->x[node[k]], CURRENT_BITS);
  x[n] = solver->open[d];
  for (known->place = 0; known->place < known->n_places; known->place++)
    if (same_numbers (kept.places + known->place * kept.per_place, x, n + 1))
      return;
  /* The first one stays: where the parameters are the healthy ones, most solutions have the device stand there. */
  if (known->n_places < N_PLACES)
    known->n_places++;
  else
    known->place = known->oldest = known->oldest % (N_PLACES - 1) + 1;
  known->slopes[known->place] = 0;
  memcpy (kept.places + known->place * kept.per_place, x, ((size_t) n + 1) * sizeof *x);
}

const double *
ml_nodal_slopes_of_parameter (MlNodalSolver *solver, int d, int parameter)
{
  static const double none[ML_NODAL_MAX_LOCAL];
  const MlNodalType *type = solver->circuit->devices[d].type;
  Kept kept = kept_of (solver, d);
  MlNodalSlopesKnown *known = &solver->slopes_known[d];
  int n = ml_nodal_type_n_local (type);
  double *place = kept.places + known->place * kept.per_place, *slope = place + n + 1 + parameter * n;
  unsigned bit = 1u << parameter;

  if (!isfinite (kept.parameters[parameter]))
    return none;
  if (known->slopes[known->place] & bit)
    return slope;
  if (type->slopes)
    {
      if (!known->derived)
        prepare_all (type, &kept);
      known->derived = known->slopes[known->place] = (unsigned char) ~0u;
      memset (place + n + 1, 0, (size_t) (type->n_parameters * n) * sizeof *place);
      type->slopes (kept.derived, kept.derived + type->n_derived, solver->open[d], place, place + n + 1);
      return slope;
    }
  if (!(known->derived & bit))
    prepare_steps (type, parameter, &kept);
  known->derived |= bit;
  known->slopes[known->place] |= bit;
  find_slopes (type, solver->open[d], parameter, &kept, place, slope);
  return slope;
}
