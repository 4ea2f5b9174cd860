/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Devices that bend, and stand elsewhere with the meter attached. */
#include "nodal/readings.h"

#include <math.h>
#include <string.h>

const MlNodalDevice *
ml_nodal_readings_bending_device (const MlNodalReadings *own, int i, int *ret_d)
{
  const MlNodalCircuit *circuit = own->solver->circuit;

  *ret_d = circuit->by_law[circuit->law_start[ML_NODAL_LAW_OTHER] + i];
  return &circuit->devices[*ret_d];
}

MlNodalBent *
ml_nodal_readings_bent_of (const MlNodalReadings *own, int lane, int i)
{
  int index = own->room->bent_of[lane * own->n_bending + i];
  return index < 0 ? NULL : &own->room->bent[index];
}

static MlNodalBent *
add_bent (const MlNodalReadings *own, int lane, int i)
{
  MlNodalReadingRoom *room = own->room;

  if (!ml_nodal_room_for ((void **) &room->bent, &room->bent_room, room->n_bent + 1, sizeof *room->bent))
    return NULL;
  room->bent_of[lane * own->n_bending + i] = room->n_bent;
  memset (&room->bent[room->n_bent], 0, sizeof *room->bent);
  return &room->bent[room->n_bent++];
}

void
ml_nodal_readings_leave_tangent (const MlNodalSolver *solver, const MlNodalDevice *device, int d, const double *x, MlNodalBent *ret)
{
  const double *known_x = solver->known_x + device->first_local, *known_f = solver->known_f + device->first_local;
  const double *known_jacobian = solver->known_jacobian + device->first_position;
  int n = ml_nodal_type_n_local (device->type);

  memset (ret->f, 0, (size_t) n * sizeof (double));
  memset (ret->jacobian, 0, (size_t) (n * n) * sizeof (double));
  device->type->eval (solver->derived + device->first_derived, solver->open[d], x, ret->f, ret->jacobian);
  for (int r = 0; r < n; r++)
    {
      ret->f[r] -= known_f[r];
      for (int c = 0; c < n; c++)
        {
          ret->f[r] -= known_jacobian[r * n + c] * (x[c] - known_x[c]);
          ret->jacobian[r * n + c] -= known_jacobian[r * n + c];
        }
    }
}

/* Which of the devices cut out it is, or -1. */
static int
reduced_index (const MlNodalReduced *reduced, int i)
{
  for (int k = 0; k < reduced->n_devices; k++)
    if (reduced->device[k] == i)
      return k;
  return -1;
}

bool
ml_nodal_readings_bend (MlNodalReadings *own, int lane, bool *ret_any)
{
  const MlNodalSolver *solver = own->solver;
  const MlNodalReduced *reduced = &own->room->reduced[lane];
  double x[ML_NODAL_MAX_LOCAL];
  int d;

  *ret_any = false;
  if (reduced->n_devices > 0 && !ml_nodal_readings_bend_reduced (own, lane))
    {
      own->lost |= 1u << lane;
      return true;
    }
  for (int i = 0; i < own->n_bending; i++)
    {
      const MlNodalDevice *device = ml_nodal_readings_bending_device (own, i, &d);
      const int *node = solver->node + device->first_local;
      const double *known_x = solver->known_x + device->first_local;
      double most = ml_nodal_near_v (device->type);
      int n = ml_nodal_type_n_local (device->type);
      MlNodalBent *bent = ml_nodal_readings_bent_of (own, lane, i), now;
      int cut_out = reduced_index (reduced, i);
      bool near = cut_out < 0;

      for (int k = 0; k < n; k++)
        {
          x[k] = own->x[node[k] * own->width + lane];
          near = near && fabs (x[k] - known_x[k]) <= most;
        }
      if (near && !bent)
        continue;
      if (!bent && !(bent = add_bent (own, lane, i)))
        return false;
      if (cut_out >= 0)
        now = reduced->now[cut_out];
      else if (near)
        memset (&now, 0, sizeof now);
      else
        ml_nodal_readings_leave_tangent (solver, device, d, x, &now);
      for (int k = 0; k < n; k++)
        own->right[node[k] * own->width + lane] += now.f[k] - bent->f[k];
      *bent = now;
      *ret_any = true;
    }
  return true;
}

bool
ml_nodal_readings_multiply_bent (MlNodalReadings *own, int lane, const double *wide)
{
  const MlNodalSolver *solver = own->solver;
  const MlNodalReduced *reduced = &own->room->reduced[lane];
  double lambda[ML_NODAL_MOST_REDUCED];
  bool any = false;
  int d;

  clear_lane (own, own->right, lane);
  if (reduced->n_devices > 0 && !ml_nodal_readings_reduced_lambdas (own, lane, lambda))
    {
      own->lost |= 1u << lane;
      return false;
    }
  for (int i = 0; i < own->n_bending; i++)
    {
      const MlNodalBent *bent = ml_nodal_readings_bent_of (own, lane, i);
      if (!bent)
        continue;
      const MlNodalDevice *device = ml_nodal_readings_bending_device (own, i, &d);
      const int *node = solver->node + device->first_local;
      int n = ml_nodal_type_n_local (device->type), cut_out = reduced_index (reduced, i);
      double of[ML_NODAL_MAX_LOCAL];
      for (int r = 0; r < n; r++)
        if (cut_out < 0)
          of[r] = wide[node[r] * own->width + lane];
        else
          of[r] = reduced->index[cut_out][r] < 0 ? 0 : lambda[reduced->index[cut_out][r]];
      for (int c = 0; c < n; c++)
        {
          double sum = 0;
          for (int r = 0; r < n; r++)
            sum += bent->jacobian[r * n + c] * of[r];
          own->right[node[c] * own->width + lane] -= sum;
        }
      any = true;
    }
  return any;
}
