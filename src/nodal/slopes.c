/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the currents of a device depend on its parameters. One reading asks for the slopes of every parameter of the board, and most devices
 * stand where they stood at the reading before: what was found is kept, and found again by its exact place. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define N_STEPS 4
#define N_PLACES 2 /* kept per parameter: where it is in the healthy circuit, and where it was last */

/* Voltages are taken to half a nanovolt, 1e-8 of any junction's width, and branch currents to 1e-9 of themselves: a device that has only
 * moved by what Newton leaves open is found again, and what is found does not depend on what was asked before. */
static const double grid_v = 0x1p-31, grid_share = 0x1p-30;

/* What is kept of one parameter: that of the device with all its parameters, then for each place the local unknowns and the slopes. */
typedef struct
{
  double *parameters; /* n_parameters of the device */
  double *derived;    /* N_STEPS x n_derived */
  double *places;     /* N_PLACES x (n_local + 1 + n_local): unknowns, opened elements, slopes */
} Kept;

static size_t
kept_doubles (const MlNodalType *type)
{
  if (type->flags & ML_NODAL_CONDUCTANCE && type->n_parameters == 1)
    return 0; /* a resistance: known without differences */
  return (size_t) (type->n_parameters + N_STEPS * type->n_derived + N_PLACES * (2 * ml_nodal_type_n_local (type) + 1));
}

MlNodalStatus
ml_nodal_slopes_make_room (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;
  size_t total = 0;

  if (solver->slopes)
    return ML_NODAL_OK;
  for (int d = 0; d < circuit->n_devices; d++)
    total += kept_doubles (circuit->devices[d].type) * (size_t) circuit->devices[d].type->n_parameters;
  double *slopes = malloc ((total + 1) * sizeof *slopes);
  size_t *first = malloc (((size_t) circuit->n_devices + 1) * sizeof *first);
  signed char *n = calloc ((size_t) circuit->n_parameters + 1, 1);
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
      total += kept_doubles (circuit->devices[d].type) * (size_t) circuit->devices[d].type->n_parameters;
    }
  solver->slopes = slopes;
  solver->slopes_first = first;
  solver->slopes_kept = n;
  return ML_NODAL_OK;
}

static double
step_of (double at)
{
  return at != 0 ? fabs (at) * 1e-6 : 1e-6;
}

/* The device's derived quantities beside the parameter's value. */
static void
prepare_steps (const MlNodalType *type, int parameter, const Kept *kept)
{
  static const double steps[N_STEPS] = { -2, -1, 1, 2 };
  double parameters[ML_NODAL_MAX_PARAMETERS];

  memcpy (parameters, kept->parameters, (size_t) type->n_parameters * sizeof *parameters);
  for (int s = 0; s < N_STEPS; s++)
    {
      parameters[parameter] = kept->parameters[parameter] + steps[s] * step_of (kept->parameters[parameter]);
      type->prepare (parameters, kept->derived + s * type->n_derived);
    }
}

/* By central differences of fourth order. The step is small beside the narrowest smooth width, a regulator's of some 1e-5 of its voltage. */
static void
find_slopes (const MlNodalType *type, unsigned open, int parameter, const Kept *kept, const double *x, double *ret_slope)
{
  static const double weights[N_STEPS] = { 1, -8, 8, -1 };
  double f[ML_NODAL_MAX_LOCAL], jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];
  double h = step_of (kept->parameters[parameter]);
  int n = ml_nodal_type_n_local (type);

  memset (ret_slope, 0, (size_t) n * sizeof *ret_slope);
  for (int s = 0; s < N_STEPS; s++)
    {
      memset (f, 0, (size_t) n * sizeof *f);
      memset (jacobian, 0, (size_t) (n * n) * sizeof *jacobian);
      type->eval (kept->derived + s * type->n_derived, open, x, f, jacobian);
      for (int k = 0; k < n; k++)
        ret_slope[k] += weights[s] * f[k] / (12 * h);
    }
}

static void
round_unknowns (const MlNodalSolver *solver, int d, double *x)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const int *node = solver->node + device->first_local;

  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    {
      double at = solver->x[node[k]], grid = grid_v;
      if (k >= device->type->n_pins && at != 0)
        grid = exp2 (floor (log2 (fabs (at)))) * grid_share;
      x[k] = grid * rint (at / grid);
    }
}

static Kept
kept_of (const MlNodalSolver *solver, int d, int parameter)
{
  const MlNodalType *type = solver->circuit->devices[d].type;
  double *own = solver->slopes + solver->slopes_first[d] + (size_t) parameter * kept_doubles (type);

  return (Kept){ own, own + type->n_parameters, own + type->n_parameters + N_STEPS * type->n_derived };
}

const double *
ml_nodal_slopes_of_parameter (MlNodalSolver *solver, int d, int parameter)
{
  static const double none[ML_NODAL_MAX_LOCAL];
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const MlNodalType *type = device->type;
  const double *parameters = solver->parameters + device->first_parameter;
  Kept kept = kept_of (solver, d, parameter);
  signed char *n_kept = &solver->slopes_kept[device->first_parameter + parameter];
  int n = ml_nodal_type_n_local (type), place = 2 * n + 1;
  double x[ML_NODAL_MAX_LOCAL + 1];
  size_t same = ((size_t) n + 1) * sizeof *x;

  if (!isfinite (parameters[parameter]))
    return none;
  if (*n_kept == 0 || memcmp (kept.parameters, parameters, (size_t) type->n_parameters * sizeof *parameters) != 0)
    {
      memcpy (kept.parameters, parameters, (size_t) type->n_parameters * sizeof *parameters);
      prepare_steps (type, parameter, &kept);
      *n_kept = 1;
    }
  round_unknowns (solver, d, x);
  x[n] = solver->open[d];
  for (int i = 0; i + 1 < *n_kept; i++)
    if (memcmp (kept.places + i * place, x, same) == 0)
      return kept.places + i * place + n + 1;
  /* The first one stays: where the parameters are the healthy ones, most solutions have the device stand there. */
  double *own = kept.places + (*n_kept <= N_PLACES ? *n_kept - 1 : N_PLACES - 1) * place;
  *n_kept += *n_kept <= N_PLACES;
  memcpy (own, x, same);
  find_slopes (type, solver->open[d], parameter, &kept, x, own + n + 1);
  return own + n + 1;
}
