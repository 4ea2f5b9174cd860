/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Other operating points of circuits with gain: flip-flops, triggers with hysteresis.
 *
 * A person flips such a circuit by touching an output with a wire: to the lowest or the highest net of the board. The engine does the same
 * with each output in turn, lets go, and looks whether the circuit stays where it was put. Where it stays high when put high and low when put
 * low, and the point found first lies between, that point is the balance on the edge which no real circuit keeps (the middle one of three;
 * Chua, Desoer and Kuh, Linear and Nonlinear Circuits, ch. 3, from memory), and one of the two takes its place. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TOUCH_OHM 10.0
#define APART_V 10e-3 /* what is nearer is the same state */

typedef struct
{
  MlNodalSolver *solver;
  MlNodalChange *changes; /* with room for one more */
  int n_changes;
  MlNodalSolution put[2]; /* where the circuit stays when put low, high */
  bool stays[2];
} Seeker;

static bool
apart (const MlNodalSolution *a, const MlNodalSolution *b)
{
  for (int u = 1; u < a->n_nets; u++)
    if (!a->floating[u] && !b->floating[u] && fabs (a->net_v[u] - b->net_v[u]) > APART_V)
      return true;
  return false;
}

static int
outermost_net (const MlNodalSolution *at, int sign)
{
  int net = 0;

  for (int u = 1; u < at->n_nets; u++)
    if (!at->floating[u] && sign * at->net_v[u] > sign * at->net_v[net])
      net = u;
  return net;
}

/* Touches the net with the lowest (0) or highest (1) one and lets go. */
static MlNodalStatus
put (Seeker *seeker, const MlNodalSolution *at, int net, int high)
{
  MlNodalSolution *to = &seeker->put[high];
  int rail = outermost_net (at, high ? 1 : -1);

  seeker->stays[high] = false;
  if (rail == net)
    return ML_NODAL_OK;
  seeker->changes[seeker->n_changes] = (MlNodalChange){ .kind = ML_NODAL_LINK_NETS, .device = -1, .index = net, .index_b = rail, .value = TOUCH_OHM };
  MlNodalStatus status = ml_nodal_solve (seeker->solver, seeker->changes, seeker->n_changes + 1, at, to);
  if (status >= 0)
    status = ml_nodal_solve (seeker->solver, seeker->changes, seeker->n_changes, to, to);
  seeker->stays[high] = status >= 0 && apart (to, at);
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_OK;
}

/* One output both ways; at moves off an edge, or to what is preferred. Whether there are several states. */
static bool
try_output (Seeker *seeker, MlNodalSolution *at, int net, MlNodalStatus *status)
{
  const MlNodalCircuit *circuit = seeker->solver->circuit;
  const MlNodalSolution *low = &seeker->put[0], *high = &seeker->put[1], *best = NULL;

  for (int k = 0; k < 2 && *status == ML_NODAL_OK; k++)
    *status = put (seeker, at, net, k);
  if (*status != ML_NODAL_OK || (!seeker->stays[0] && !seeker->stays[1]))
    return false;
  bool edge = seeker->stays[0] && seeker->stays[1] && low->net_v[net] < at->net_v[net] - APART_V && at->net_v[net] < high->net_v[net] - APART_V;
  for (int k = 0; k < 2; k++)
    if (seeker->stays[k] && ((edge && !best) || ml_nodal_preference (circuit, &seeker->put[k]) > ml_nodal_preference (circuit, best ? best : at)))
      best = &seeker->put[k];
  if (best)
    {
      MlNodalRung rung = at->rung;
      int iterations = at->iterations;
      *status = ml_nodal_solution_copy (at, best, circuit);
      at->rung = rung;
      at->iterations = iterations;
    }
  return true;
}

MlNodalStatus
ml_nodal_seek_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *at)
{
  const MlNodalCircuit *circuit = solver->circuit;
  Seeker seeker = { .solver = solver, .n_changes = n_changes };
  MlNodalStatus status = ML_NODAL_OK;
  bool found = at->status == ML_NODAL_AMBIGUOUS, *seen;

  if (at->status < 0)
    return at->status;
  seen = calloc ((size_t) circuit->n_nets, sizeof *seen);
  seeker.changes = malloc (((size_t) n_changes + 1) * sizeof *changes);
  if (!seen || !seeker.changes)
    status = ML_NODAL_NO_MEMORY;
  for (int k = 0; k < 2 && status == ML_NODAL_OK; k++)
    status = ml_nodal_solution_init (&seeker.put[k], circuit);
  if (status == ML_NODAL_OK && n_changes > 0)
    memcpy (seeker.changes, changes, (size_t) n_changes * sizeof *changes);
  for (int d = 0; status == ML_NODAL_OK && d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      int net = device->type->output ? circuit->pin_net[device->first_pin + device->type->output - 1] : -1;
      if (net <= 0 || seen[net] || at->floating[net])
        continue;
      seen[net] = true;
      found = try_output (&seeker, at, net, &status) || found;
    }
  for (int k = 0; k < 2; k++)
    ml_nodal_solution_clear (&seeker.put[k]);
  free (seeker.changes);
  free (seen);
  if (status != ML_NODAL_OK)
    return status;
  return at->status = found ? ML_NODAL_AMBIGUOUS : at->status;
}
