/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the meter moves a device far off its tangent (a base that only leakage holds, the net behind a part that blocks) chord steps do not settle. Mostly
 * it moves one or two so: they are cut out, and what the rest of the circuit with its meter looks like to the unknowns they hang on, as linear as it is,
 * is a source and a matrix of resistances (Thevenin's theorem for several terminals). Newton then runs on those few unknowns:
 *
 *     y + K phi (y) = open      y[n] the unknowns; phi what the devices leave their tangents by; K rows and columns of the inverse; open: y with phi 0
 */
#include "nodal/readings.h"

#include "nodal/small.h"

#include <math.h>
#include <string.h>

#define FAR_OFF 2e4           /* of what a device may be moved along its tangent: 2 mV of a junction */
#define MOST_STEPS 25
#define STEP_TOLERANCE 1e-10  /* of what is left, as Newton's */
#define LIMIT_TOLERANCE 1e-9
#define STEEPEST 1e3          /* curvature, in units of a step: steeper than any junction */

/* ---- cutting out ---- */

/* The largest voltage between two of its pins that the lane's step adds. */
static double
spread_of_step (const MlNodalReadings *own, int lane, const MlNodalDevice *device)
{
  const int *node = own->solver->node + device->first_local;
  double least = INFINITY, most = -INFINITY;

  for (int k = 0; k < device->type->n_pins; k++)
    {
      double v = own->step[node[k] * own->width + lane];
      least = fmin (least, v);
      most = fmax (most, v);
    }
  return most - least;
}

/* Its index among the unknowns cut out, where it is put if there is room; -1: there is none. */
static int
add_unknown (MlNodalReduced *reduced, int unknown)
{
  int i = 0;

  while (i < reduced->n && reduced->unknown[i] != unknown)
    i++;
  if (i == ML_NODAL_MOST_REDUCED)
    return -1;
  reduced->unknown[i] = unknown;
  reduced->n = i < reduced->n ? reduced->n : i + 1;
  return i;
}

/* False: there is no room for more. */
static bool
cut_out (const MlNodalReadings *own, MlNodalReduced *reduced, int i)
{
  int d;
  const MlNodalDevice *device = ml_nodal_readings_bending_device (own, i, &d);
  int *index = reduced->index[reduced->n_devices];

  if (reduced->n_devices == ML_NODAL_MOST_REDUCED)
    return false;
  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    {
      int u = own->solver->node[device->first_local + k];
      index[k] = u == 0 ? -1 : add_unknown (reduced, u);
      if (u != 0 && index[k] < 0)
        return false;
    }
  reduced->device[reduced->n_devices++] = i;
  return true;
}

/* Columns of K: what an ampere out of each of some unknowns does to all of them, the meter attached. */
static bool
find_columns (MlNodalReadings *own, int lane, MlNodalReduced *reduced, int first)
{
  const int most = N_LANES < reduced->n - first ? N_LANES : reduced->n - first;
  const unsigned which = (1u << most) - 1;

  memset (own->column, 0, (size_t) (own->solver->n_unknowns * N_LANES) * sizeof (double));
  for (int k = 0; k < most; k++)
    own->column[reduced->unknown[first + k] * N_LANES + k] = 1;
  if (ml_nodal_matrix_solve_columns (&own->solver->matrix, N_LANES, which, which, own->column, own->answer, own->column_work, NULL) != which)
    return false;
  for (int k = 0; k < N_LANES; k++)
    own->answer[k] = 0;
  for (int k = 0; k < most; k++)
    {
      double between = own->answer[own->red[lane] * N_LANES + k] - own->answer[own->black[lane] * N_LANES + k];
      double share = -between * own->siemens[lane] / (1 + own->siemens[lane] * own->between[lane]);
      for (int r = 0; r < reduced->n; r++)
        {
          int u = reduced->unknown[r];
          reduced->ohm[r * reduced->n + first + k] = own->answer[u * N_LANES + k] + share * own->drop[u * own->width + lane];
        }
    }
  return true;
}

bool
ml_nodal_readings_reduce (MlNodalReadings *own, int lane)
{
  MlNodalReduced *reduced = &own->room->reduced[lane];
  bool fits = true;
  int d;

  memset (reduced->used, 0, sizeof reduced->used);
  for (int i = 0; fits && i < own->n_bending; i++)
    {
      const MlNodalDevice *device = ml_nodal_readings_bending_device (own, i, &d);
      if (!(spread_of_step (own, lane, device) <= FAR_OFF * ml_nodal_near_v (device->type)))
        fits = cut_out (own, reduced, i);
    }
  for (int first = 0; fits && first < reduced->n; first += N_LANES)
    fits = find_columns (own, lane, reduced, first);
  if (!fits)
    reduced->n = reduced->n_devices = 0;
  return fits;
}

/* ---- Newton ---- */

/* One of them at y, linearised where its law lets it go, in reduced->now; how far that is from y. */
static double
evaluate_device (const MlNodalReadings *own, MlNodalReduced *reduced, int i, const double *y)
{
  const MlNodalSolver *solver = own->solver;
  MlNodalBent *now = &reduced->now[i];
  double gap = 0, x[ML_NODAL_MAX_LOCAL] = { 0 }, at[ML_NODAL_MAX_LOCAL];
  int d;
  const MlNodalDevice *device = ml_nodal_readings_bending_device (own, reduced->device[i], &d);
  int n = ml_nodal_type_n_local (device->type);

  for (int k = 0; k < n; k++)
    x[k] = reduced->index[i][k] < 0 ? 0 : y[reduced->index[i][k]];
  memcpy (at, x, sizeof at);
  if (device->type->limit)
    device->type->limit (solver->derived + device->first_derived, solver->open[d], reduced->last[i], at);
  memcpy (reduced->last[i], at, sizeof at);
  ml_nodal_readings_leave_tangent (solver, device, d, at, now);
  for (int c = 0; c < n; c++)
    {
      for (int r = 0; r < n; r++)
        now->f[r] += now->jacobian[r * n + c] * (x[c] - at[c]);
      gap = fmax (gap, fabs (x[c] - at[c]) / (1 + fabs (x[c])));
    }
  return gap;
}

/* What all of them leave their tangents by: phi[n] (may be NULL) and its slopes[n * n]. bent: of each device. */
static void
add_up (const MlNodalReadings *own, const MlNodalReduced *reduced, const MlNodalBent *const *bent, double *phi, double *slopes)
{
  int n = reduced->n, d;

  memset (slopes, 0, (size_t) (n * n) * sizeof *slopes);
  for (int r = 0; phi && r < n; r++)
    phi[r] = 0;
  for (int i = 0; i < reduced->n_devices; i++)
    {
      const int *index = reduced->index[i];
      int n_local = ml_nodal_type_n_local (ml_nodal_readings_bending_device (own, reduced->device[i], &d)->type);

      for (int r = 0; r < n_local; r++)
        if (index[r] >= 0)
          {
            if (phi)
              phi[index[r]] += bent[i]->f[r];
            for (int c = 0; c < n_local; c++)
              if (index[c] >= 0)
                slopes[index[r] * n + index[c]] += bent[i]->jacobian[r * n_local + c];
          }
    }
}

/* I + left right, n x n each, factored into reduced->factor. */
static bool
factor_one_and_product (MlNodalReduced *reduced, const double *left, const double *right)
{
  int n = reduced->n;

  for (int r = 0; r < n; r++)
    for (int c = 0; c < n; c++)
      {
        double sum = r == c ? 1 : 0;
        for (int k = 0; k < n; k++)
          sum += left[r * n + k] * right[k * n + c];
        reduced->factor[r * n + c] = sum;
      }
  return ml_nodal_small_factor (reduced->factor, n, reduced->pivot) < 0;
}

/* to[n] += K from[n] */
static void
add_drops (const MlNodalReduced *reduced, double *to, const double *from)
{
  int n = reduced->n;

  for (int r = 0; r < n; r++)
    for (int k = 0; k < n; k++)
      to[r] += reduced->ohm[r * n + k] * from[k];
}

/* The devices along their tangents by a step of y down. */
static void
go_along (const MlNodalReadings *own, MlNodalReduced *reduced, const double *step)
{
  int d;

  for (int i = 0; i < reduced->n_devices; i++)
    {
      const int *index = reduced->index[i];
      int n = ml_nodal_type_n_local (ml_nodal_readings_bending_device (own, reduced->device[i], &d)->type);

      for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++)
          if (index[c] >= 0)
            reduced->now[i].f[r] -= reduced->now[i].jacobian[r * n + c] * step[index[c]];
    }
}

/* A Newton step of y, taken; its size as Newton measures it, infinite when it cannot be taken. ret_gap: from where a device was linearised. */
static double
take_step (const MlNodalReadings *own, MlNodalReduced *reduced, const double *open, double *y, double *ret_step, double *ret_gap)
{
  const MlNodalBent *bent[ML_NODAL_MOST_REDUCED];
  double phi[ML_NODAL_MOST_REDUCED], slopes[ML_NODAL_MOST_REDUCED * ML_NODAL_MOST_REDUCED], size = 0;

  *ret_gap = 0;
  for (int i = 0; i < reduced->n_devices; i++)
    {
      *ret_gap = fmax (*ret_gap, evaluate_device (own, reduced, i, y));
      bent[i] = &reduced->now[i];
    }
  add_up (own, reduced, bent, phi, slopes);
  for (int r = 0; r < reduced->n; r++)
    ret_step[r] = y[r] - open[r];
  add_drops (reduced, ret_step, phi);
  if (!factor_one_and_product (reduced, reduced->ohm, slopes))
    return INFINITY;
  ml_nodal_small_solve (reduced->factor, reduced->n, reduced->pivot, ret_step);
  for (int r = 0; r < reduced->n; r++)
    {
      y[r] -= ret_step[r];
      if (!isfinite (y[r]))
        return INFINITY;
      size = fmax (size, fabs (ret_step[r]) / (own->least[reduced->unknown[r]] + fabs (y[r])));
    }
  return size;
}

/* From y to y + K phi (y) = open, the devices as they then are in reduced->now; whether it settles. */
static bool
settle (const MlNodalReadings *own, MlNodalReduced *reduced, const double *open, double *y)
{
  double step[ML_NODAL_MOST_REDUCED], last = INFINITY, size, gap;

  for (int k = 0; k < MOST_STEPS; k++, last = size)
    {
      size = take_step (own, reduced, open, y, step, &gap);
      if (!isfinite (size))
        return false;
      double next = last < 1e-2 ? size * size * fmax (size / (last * last), STEEPEST) : INFINITY; /* Newton converges quadratically */
      if (gap <= LIMIT_TOLERANCE && (size <= STEP_TOLERANCE || next <= STEP_TOLERANCE))
        {
          go_along (own, reduced, step);
          return true;
        }
    }
  return false;
}

bool
ml_nodal_readings_bend_reduced (MlNodalReadings *own, int lane)
{
  MlNodalReduced *reduced = &own->room->reduced[lane];
  const MlNodalSolver *solver = own->solver;
  double open[ML_NODAL_MOST_REDUCED], y[ML_NODAL_MOST_REDUCED], phi[ML_NODAL_MOST_REDUCED] = { 0 };
  int d;

  for (int i = 0; i < reduced->n_devices; i++)
    {
      const MlNodalDevice *device = ml_nodal_readings_bending_device (own, reduced->device[i], &d);
      const MlNodalBent *bent = ml_nodal_readings_bent_of (own, lane, reduced->device[i]);
      const int *node = solver->node + device->first_local;

      for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
        {
          reduced->last[i][k] = bent ? own->x[node[k] * own->width + lane] : solver->known_x[device->first_local + k];
          if (bent && reduced->index[i][k] >= 0)
            phi[reduced->index[i][k]] += bent->f[k];
        }
    }
  for (int r = 0; r < reduced->n; r++)
    open[r] = y[r] = own->x[reduced->unknown[r] * own->width + lane];
  add_drops (reduced, open, phi);
  return settle (own, reduced, open, y);
}

/* ---- slopes ---- */

/* Devices cut out have answered to some of the lambdas; to the rest, with what that answer does to themselves: (1 + K' slopes')^-1 of it. */
bool
ml_nodal_readings_reduced_lambdas (MlNodalReadings *own, int lane, double *ret_lambda)
{
  MlNodalReduced *reduced = &own->room->reduced[lane];
  const MlNodalBent *bent[ML_NODAL_MOST_REDUCED];
  double slopes[ML_NODAL_MOST_REDUCED * ML_NODAL_MOST_REDUCED];

  for (int i = 0; i < reduced->n_devices; i++)
    if (!(bent[i] = ml_nodal_readings_bent_of (own, lane, reduced->device[i])))
      return false;
  add_up (own, reduced, bent, NULL, slopes);
  if (!factor_one_and_product (reduced, slopes, reduced->ohm))
    return false;
  for (int r = 0; r < reduced->n; r++)
    ret_lambda[r] = own->lambdas[reduced->unknown[r] * own->width + lane] - reduced->used[r];
  ml_nodal_small_solve_transposed (reduced->factor, reduced->n, reduced->pivot, ret_lambda);
  for (int r = 0; r < reduced->n; r++)
    reduced->used[r] += ret_lambda[r];
  return true;
}
