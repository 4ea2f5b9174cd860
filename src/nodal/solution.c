/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A solution: its room, and how it is filled in from an accepted point. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define METALS_AT_ONCE 4

MlNodalStatus
ml_nodal_solution_init (MlNodalSolution *solution, const MlNodalCircuit *circuit)
{
  memset (solution, 0, sizeof *solution);
  solution->failed_net = solution->failed_device = -1;
  int n_nets = circuit->n_nets, n_pins = circuit->n_pins, n_state = circuit->n_unknowns - n_nets;
  solution->net_v = calloc ((size_t) n_nets, sizeof (double));
  solution->floating = calloc ((size_t) n_nets, sizeof (bool));
  solution->pin_a = calloc ((size_t) n_pins + 1, sizeof (double));
  solution->metal_v = calloc ((size_t) n_pins + 1, sizeof (double));
  solution->state = calloc ((size_t) n_state + 1, sizeof (double));
  solution->latched = calloc ((size_t) circuit->n_devices + 1, sizeof (double));
  if (!solution->net_v || !solution->floating || !solution->pin_a || !solution->metal_v || !solution->state || !solution->latched)
    {
      ml_nodal_solution_clear (solution);
      return ML_NODAL_NO_MEMORY;
    }
  solution->n_nets = n_nets;
  solution->n_pins = n_pins;
  solution->n_state = n_state;
  solution->n_devices = circuit->n_devices;
  return ML_NODAL_OK;
}

/* Where pins' metal is stands in metals, and what latches only where something does: half of a dictionary would be copies of what the nets say, and zeros. */
MlNodalStatus
ml_nodal_solution_init_in (MlNodalSolution *solution, const MlNodalCircuit *circuit, MlNodalRoom *room)
{
  size_t n_nets = (size_t) circuit->n_nets, n_pins = (size_t) circuit->n_pins, n_state = (size_t) circuit->n_unknowns - n_nets;
  size_t n_latched = circuit->n_stateful > 0 ? (size_t) circuit->n_devices : 0;
  double *at = ml_nodal_room_take (room, (n_nets + n_pins + n_state + n_latched) * sizeof *at + n_nets * sizeof (bool));

  *solution = (MlNodalSolution){ .failed_net = -1, .failed_device = -1 };
  if (!at)
    return ML_NODAL_NO_MEMORY;
  *solution = (MlNodalSolution){ .failed_net = -1, .failed_device = -1, .n_nets = circuit->n_nets, .n_pins = circuit->n_pins, .n_state = (int) n_state,
                                 .n_devices = circuit->n_devices, .in_room = true };
  solution->net_v = at;
  solution->state = at + n_nets;
  solution->pin_a = at + n_nets + n_state;
  solution->latched = n_latched > 0 ? solution->pin_a + n_pins : NULL;
  solution->floating = (bool *) (void *) (solution->pin_a + n_pins + n_latched);
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_solution_init_packed_in (MlNodalSolution *solution, const MlNodalCircuit *circuit, MlNodalRoom *room)
{
  size_t n_nets = (size_t) circuit->n_nets, n_state = (size_t) circuit->n_unknowns - n_nets;

  if (circuit->n_latching > 0)
    return ml_nodal_solution_init (solution, circuit);
  double *at = ml_nodal_room_take (room, (n_nets + n_state) * sizeof *at);
  *solution = (MlNodalSolution){ .failed_net = -1, .failed_device = -1 };
  if (!at)
    return ML_NODAL_NO_MEMORY;
  *solution = (MlNodalSolution){ .failed_net = -1, .failed_device = -1, .n_nets = circuit->n_nets, .n_pins = circuit->n_pins, .n_state = (int) n_state,
                                 .n_devices = circuit->n_devices, .in_room = true, .net_v = at, .state = at + n_nets };
  return ML_NODAL_OK;
}

bool
ml_nodal_solution_fits (const MlNodalSolution *solution, const MlNodalCircuit *circuit)
{
  return solution->net_v && solution->n_nets == circuit->n_nets && solution->n_pins == circuit->n_pins && (solution->pin_a || solution->in_room);
}

void
ml_nodal_solution_clear (MlNodalSolution *solution)
{
  if (solution->in_room)
    {
      free (solution->metals);
      memset (solution, 0, sizeof *solution);
      return;
    }
  free (solution->net_v);
  free (solution->floating);
  free (solution->pin_a);
  free (solution->metal_v);
  free (solution->state);
  free (solution->latched);
  free (solution->metals);
  memset (solution, 0, sizeof *solution);
}

size_t
ml_nodal_solution_bytes (const MlNodalCircuit *circuit)
{
  size_t n_doubles = (size_t) (circuit->n_unknowns + circuit->n_pins + (circuit->n_stateful > 0 ? circuit->n_devices : 0));

  return sizeof (MlNodalSolution) + n_doubles * sizeof (double) + (size_t) circuit->n_nets * sizeof (bool);
}

/* Where a pin's metal is as the circuit is built. */
static double
built_metal_v (const MlNodalCircuit *circuit, const MlNodalSolution *solution, const MlNodalDevice *device, int pin)
{
  int u = circuit->node[device->first_local + pin];

  return u < circuit->n_nets ? solution->net_v[u] : solution->state[u - circuit->n_nets];
}

double
ml_nodal_solution_metal_v (const MlNodalCircuit *circuit, const MlNodalSolution *solution, int device, int pin)
{
  const MlNodalDevice *own = &circuit->devices[device];

  if (solution->metal_v)
    return solution->metal_v[own->first_pin + pin];
  for (int i = 0; i < solution->n_metals; i++)
    if (solution->metals[i].pin == own->first_pin + pin)
      return solution->metals[i].v;
  return built_metal_v (circuit, solution, own, pin);
}

static int
list_metals (const MlNodalCircuit *circuit, const MlNodalSolution *solution, MlNodalMetal *ret_metals)
{
  int n = 0;

  for (int d = 0; d < circuit->n_devices; d++)
    for (int k = 0; k < circuit->devices[d].type->n_pins; k++)
      {
        int pin = circuit->devices[d].first_pin + k;
        double v = ml_nodal_solution_metal_v (circuit, solution, d, k);
        if (v == built_metal_v (circuit, solution, &circuit->devices[d], k))
          continue;
        if (ret_metals)
          ret_metals[n] = (MlNodalMetal){ pin, v };
        n++;
      }
  return n;
}

MlNodalStatus
ml_nodal_solution_copy (MlNodalSolution *to, const MlNodalSolution *from, const MlNodalCircuit *circuit)
{
  MlNodalSolution kept = *to;
  int n = 0;

  if (to == from || !to->pin_a || !from->pin_a || to->n_nets != from->n_nets || to->n_pins != from->n_pins || to->n_state != from->n_state || to->n_devices != from->n_devices)
    return ML_NODAL_OK;
  if (!to->metal_v && (n = list_metals (circuit, from, NULL)) > 0)
    {
      kept.metals = realloc (to->metals, (size_t) n * sizeof *kept.metals);
      if (!kept.metals)
        return ML_NODAL_NO_MEMORY;
      list_metals (circuit, from, kept.metals);
    }
  *to = *from;
  to->net_v = kept.net_v;
  to->floating = kept.floating;
  to->pin_a = kept.pin_a;
  to->metal_v = kept.metal_v;
  to->state = kept.state;
  to->latched = kept.latched;
  to->metals = kept.metals;
  to->n_metals = n;
  to->in_room = kept.in_room;
  memcpy (to->net_v, from->net_v, (size_t) from->n_nets * sizeof (double));
  memcpy (to->floating, from->floating, (size_t) from->n_nets * sizeof (bool));
  memcpy (to->pin_a, from->pin_a, (size_t) from->n_pins * sizeof (double));
  memcpy (to->state, from->state, (size_t) from->n_state * sizeof (double));
  if (to->latched && from->latched)
    memcpy (to->latched, from->latched, (size_t) from->n_devices * sizeof (double));
  for (int d = 0; to->metal_v && d < circuit->n_devices; d++)
    for (int k = 0; k < circuit->devices[d].type->n_pins; k++)
      to->metal_v[circuit->devices[d].first_pin + k] = ml_nodal_solution_metal_v (circuit, from, d, k);
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_solution_pack (MlNodalSolution *solution, const MlNodalCircuit *circuit)
{
  int n = solution->metal_v ? list_metals (circuit, solution, NULL) : 0;
  MlNodalMetal *metals = solution->metal_v ? malloc (((size_t) n + 1) * sizeof *metals) : NULL;

  if (!solution->metal_v || solution->in_room)
    {
      free (metals);
      return ML_NODAL_OK;
    }
  if (!metals)
    return ML_NODAL_NO_MEMORY;
  solution->n_metals = list_metals (circuit, solution, metals);
  solution->metals = metals;
  free (solution->floating);
  free (solution->pin_a);
  free (solution->metal_v);
  solution->floating = NULL;
  solution->pin_a = solution->metal_v = NULL;
  if (circuit->n_latching == 0)
    {
      free (solution->latched);
      solution->latched = NULL;
    }
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_solution_unpack (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *packed,
                          MlNodalSolution *ret_solution)
{
  const MlNodalCircuit *circuit = solver->circuit;
  MlNodalStatus status = ml_nodal_solve (solver, changes, n_changes, packed, ret_solution);

  if (status == ML_NODAL_NO_MEMORY || status == ML_NODAL_BAD_ARGUMENT)
    return status;
  memcpy (ret_solution->net_v, packed->net_v, (size_t) packed->n_nets * sizeof (double));
  memcpy (ret_solution->state, packed->state, (size_t) packed->n_state * sizeof (double));
  for (int d = 0; d < circuit->n_devices; d++)
    for (int k = 0; k < circuit->devices[d].type->n_pins; k++)
      ret_solution->metal_v[circuit->devices[d].first_pin + k] = built_metal_v (circuit, packed, &circuit->devices[d], k);
  for (int i = 0; i < packed->n_metals; i++)
    ret_solution->metal_v[packed->metals[i].pin] = packed->metals[i].v;
  ret_solution->status = packed->status;
  ret_solution->rung = packed->rung;
  ret_solution->iterations = packed->iterations;
  ret_solution->residual_a = packed->residual_a;
  return ML_NODAL_OK;
}

void
ml_nodal_name_failure (const MlNodalSolver *solver, int unknown, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;

  if (unknown >= circuit->n_unknowns)
    {
      const MlNodalExtra *extra = &solver->extras[unknown - circuit->n_unknowns];
      if (extra->device >= 0)
        solution->failed_device = extra->device;
      else if (extra->a > 0 && extra->a < circuit->n_nets)
        solution->failed_net = extra->a;
      return;
    }
  if (unknown > 0 && unknown < circuit->n_nets)
    solution->failed_net = unknown;
  for (int d = 0; unknown >= circuit->n_nets && d < circuit->n_devices; d++)
    for (int k = 0; k < ml_nodal_type_n_local (circuit->devices[d].type); k++)
      if (circuit->node[circuit->devices[d].first_local + k] == unknown)
        solution->failed_device = d;
}

/* A gauge that carries current: a current source drives a piece of circuit that has no way out. */
MlNodalStatus
ml_nodal_check_gauges (const MlNodalSolver *solver, MlNodalSolution *solution)
{
  double tolerance = fmax (1e-8 * solver->largest_a, 1e-11);

  for (int i = 0; i < solver->n_gauges; i++)
    {
      const MlNodalGauge *gauge = &solver->gauges[i];
      if (!gauge->correction && fabs (ML_NODAL_GAUGE_S * (solver->x[gauge->a] - solver->x[gauge->b])) > tolerance)
        {
          ml_nodal_name_failure (solver, gauge->a, solution);
          return ML_NODAL_SINGULAR;
        }
    }
  return ML_NODAL_OK;
}

/* Currents of shorts inside a part also flow through its pins. */
static void
add_bridge (const MlNodalSolver *solver, const MlNodalChange *changes, int change, double a, MlNodalSolution *solution)
{
  if (change < 0 || changes[change].kind != ML_NODAL_BRIDGE_PINS)
    return;
  int first = solver->circuit->devices[changes[change].device].first_pin;
  solution->pin_a[first + changes[change].index] += a;
  solution->pin_a[first + changes[change].index_b] -= a;
}

static MlNodalStatus
add_metal (MlNodalSolution *solution, int pin, double v)
{
  if (solution->n_metals % METALS_AT_ONCE == 0)
    {
      MlNodalMetal *more = realloc (solution->metals, (size_t) (solution->n_metals + METALS_AT_ONCE) * sizeof *more);
      if (!more)
        return ML_NODAL_NO_MEMORY;
      solution->metals = more;
    }
  solution->metals[solution->n_metals++] = (MlNodalMetal){ pin, v };
  return ML_NODAL_OK;
}

/* Only a pin that is not on the node it was built on has its metal elsewhere: mostly none. */
static MlNodalStatus
list_moved (const MlNodalSolver *solver, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;
  MlNodalStatus status = ML_NODAL_OK;

  solution->n_metals = 0;
  for (int i = 0; i < solver->n_touched; i++)
    {
      int d = solver->touched_list[i];
      const MlNodalDevice *device = &circuit->devices[d];
      for (int k = 0; solver->moved[d] && k < device->type->n_pins && status == ML_NODAL_OK; k++)
        {
          double v = solver->x[solver->node[device->first_local + k]];
          if (v != built_metal_v (circuit, solution, device, k))
            status = add_metal (solution, device->first_pin + k, v);
        }
    }
  return status;
}

/* Between two pins: what the law of these devices says, without a look at any other. */
static void
fill_flows (const MlNodalSolver *solver, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;

  for (int i = 0; i < circuit->law_start[ML_NODAL_LAW_BRANCH]; i++)
    {
      int d = circuit->by_law[i];
      const MlNodalDevice *device = &circuit->devices[d];
      const int *node = solver->node + device->first_local;
      double a = solver->derived[device->first_derived];
      if (i < circuit->law_start[ML_NODAL_LAW_CURRENT]) /* a short's current is that of its link */
        a = solver->open[d] || !isfinite (a) ? 0 : a * (solver->x[node[0]] - solver->x[node[1]]);
      solution->pin_a[device->first_pin] = a;
      solution->pin_a[device->first_pin + 1] = -a;
    }
}

static MlNodalStatus
fill_pins (MlNodalSolver *solver, const MlNodalChange *changes, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;
  double f[ML_NODAL_MAX_LOCAL];

  fill_flows (solver, solution);
  for (int i = circuit->law_start[ML_NODAL_LAW_BRANCH]; i < circuit->n_devices; i++)
    {
      int d = circuit->by_law[i];
      const MlNodalDevice *device = &circuit->devices[d];
      const int *node = solver->node + device->first_local;
      ml_nodal_device_currents (solver, d, f);
      for (int k = 0; k < device->type->n_pins; k++)
        solution->pin_a[device->first_pin + k] = f[k];
      if (device->type->latched)
        solution->latched[d] = solver->parameters[device->first_parameter + device->type->latched - 1];
      for (int k = 0; k < device->type->n_inner; k++)
        solution->state[device->first_inner + k - circuit->n_nets] = solver->x[node[device->type->n_pins + k]];
    }
  for (int d = 0; solution->metal_v && d < circuit->n_devices; d++)
    for (int k = 0; k < circuit->devices[d].type->n_pins; k++)
      solution->metal_v[circuit->devices[d].first_pin + k] = solver->x[solver->node[circuit->devices[d].first_local + k]];
  for (int e = 0; e < solver->n_extras; e++)
    {
      const MlNodalExtra *extra = &solver->extras[e];
      double j = solver->x[circuit->n_unknowns + e];
      if (extra->kind != ML_NODAL_EXTRA_LINK)
        continue;
      add_bridge (solver, changes, extra->change, j, solution);
      if (extra->device >= 0)
        {
          solution->pin_a[circuit->devices[extra->device].first_pin] += j;
          solution->pin_a[circuit->devices[extra->device].first_pin + 1] -= j;
        }
    }
  for (int i = 0; i < solver->n_conductances; i++)
    {
      const MlNodalConductance *c = &solver->conductances[i];
      add_bridge (solver, changes, c->change, c->siemens * (solver->x[c->a] - solver->x[c->b]), solution);
    }
  return solution->metal_v ? ML_NODAL_OK : list_moved (solver, solution); /* the state is known by now */
}

/* The inner unknowns of devices with moved pins, and where those pins are: all that the unknowns do not say. */
static MlNodalStatus
fill_packed (MlNodalSolver *solver, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;

  for (int i = 0; i < solver->n_touched; i++)
    {
      const MlNodalDevice *device = &circuit->devices[solver->touched_list[i]];
      const int *inner = solver->node + device->first_local + device->type->n_pins;
      for (int k = 0; k < device->type->n_inner; k++)
        solution->state[device->first_inner + k - circuit->n_nets] = solver->x[inner[k]];
    }
  return list_moved (solver, solution);
}

MlNodalStatus
ml_nodal_fill_solution (MlNodalSolver *solver, const MlNodalChange *changes, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memcpy (solution->net_v, solver->x, (size_t) circuit->n_nets * sizeof (double));
  memcpy (solution->state, solver->x + circuit->n_nets, (size_t) solution->n_state * sizeof (double));
  for (int u = 0; solution->floating && u < circuit->n_nets; u++)
    solution->floating[u] = ml_nodal_is_floating (solver, u);
  if (!solution->pin_a && !solver->bare)
    return fill_packed (solver, solution);
  return solver->bare ? ML_NODAL_OK : fill_pins (solver, changes, solution);
}
