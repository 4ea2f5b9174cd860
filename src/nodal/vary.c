/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A variation of the circuit: changed parameters, cut and moved pins, links. It changes values and borders the matrix, never its pattern. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool
ml_nodal_room_for (void **array, int *room, int n, size_t size)
{
  if (n <= *room)
    return true;
  int to = 2 * n + 8;
  void *bigger = realloc (*array, (size_t) to * size);
  if (!bigger)
    return false;
  *array = bigger;
  *room = to;
  return true;
}

static void
touch (MlNodalSolver *solver, int device)
{
  if (!solver->touched[device])
    solver->touched_list[solver->n_touched++] = device;
  solver->touched[device] = true;
}

/* Unless the device is prepared for just these parameters. */
static void
prepare (MlNodalSolver *solver, int d)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const double *parameters = solver->parameters + device->first_parameter;
  double *prepared = solver->prepared + device->first_parameter;
  size_t bytes = (size_t) device->type->n_parameters * sizeof (double);

  if (solver->known_open[d] != solver->open[d])
    solver->known[d] = false;
  solver->known_open[d] = solver->open[d];
  if (bytes == 0 || memcmp (prepared, parameters, bytes) == 0)
    return;
  memcpy (prepared, parameters, bytes);
  solver->known[d] = false;
  if (device->type->prepare)
    device->type->prepare (parameters, solver->derived + device->first_derived);
}

bool
ml_nodal_vary_soften (MlNodalSolver *solver, double share)
{
  bool any = false;

  for (int d = 0; d < solver->circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &solver->circuit->devices[d];
      if (!device->type->soften)
        continue;
      device->type->prepare (solver->parameters + device->first_parameter, solver->derived + device->first_derived);
      if (share < 1)
        device->type->soften (solver->derived + device->first_derived, share);
      solver->known[d] = false;
      any = true;
    }
  return any;
}

/* Back to the circuit as built. */
static void
restore (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;

  for (int i = 0; i < solver->n_touched; i++)
    {
      int d = solver->touched_list[i];
      const MlNodalDevice *device = &circuit->devices[d];
      size_t n = (size_t) ml_nodal_type_n_local (device->type);
      memcpy (solver->parameters + device->first_parameter, circuit->parameters + device->first_parameter,
              (size_t) device->type->n_parameters * sizeof (double));
      memcpy (solver->node + device->first_local, circuit->node + device->first_local, n * sizeof (int));
      memcpy (solver->position + device->first_position, circuit->position + device->first_position, n * n * sizeof (int));
      solver->open[d] = 0;
      solver->touched[d] = solver->moved[d] = false;
    }
  solver->n_restored = solver->n_touched;
  memcpy (solver->restored_list, solver->touched_list, (size_t) solver->n_touched * sizeof (int));
  solver->n_touched = solver->n_extras = solver->n_conductances = solver->n_gauges = 0;
  solver->attached = -1;
  solver->n_unknowns = solver->circuit->n_unknowns;
}

/* A further unknown; 0 without memory. */
int
ml_nodal_add_extra (MlNodalSolver *solver, MlNodalExtra extra)
{
  if (!ml_nodal_room_for ((void **) &solver->extras, &solver->extra_room, solver->n_extras + 1, sizeof *solver->extras))
    return 0;
  solver->extras[solver->n_extras++] = extra;
  return solver->n_unknowns++;
}

static bool
add_conductance (MlNodalSolver *solver, int a, int b, int device, int change, double siemens)
{
  if (a == b)
    return true;
  if (!ml_nodal_room_for ((void **) &solver->conductances, &solver->conductance_room, solver->n_conductances + 1, sizeof *solver->conductances))
    return false;
  solver->conductances[solver->n_conductances++] = (MlNodalConductance){ a, b, device, change, siemens };
  return true;
}

static bool
add_link (MlNodalSolver *solver, int a, int b, int change, double ohm)
{
  if (a == b || !isfinite (ohm))
    return true;
  return ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_LINK, .a = a, .b = b, .device = -1, .change = change, .ohm = ohm }) > 0;
}

static bool
valid (const MlNodalSolver *solver, const MlNodalChange *change)
{
  const MlNodalCircuit *circuit = solver->circuit;

  if (change->kind == ML_NODAL_LINK_NETS)
    return change->index >= 0 && change->index < circuit->n_nets && change->index_b >= 0 && change->index_b < circuit->n_nets
           && change->value >= 0;
  if (change->device < 0 || change->device >= circuit->n_devices)
    return false;
  const MlNodalType *type = circuit->devices[change->device].type;
  bool pin = change->index >= 0 && change->index < type->n_pins;
  switch (change->kind)
    {
    case ML_NODAL_SET_PARAMETER:
      return change->index >= 0 && change->index < type->n_parameters && !isnan (change->value);
    case ML_NODAL_PIN_RESISTANCE:
      return pin && change->value >= 0;
    case ML_NODAL_BRIDGE_PINS:
      return pin && change->index_b >= 0 && change->index_b < type->n_pins && change->value >= 0;
    case ML_NODAL_OPEN_ELEMENT:
      return change->index >= 0 && change->index < type->n_elements;
    case ML_NODAL_DETACH:
      return pin && change->index_b >= 0 && change->index_b < ML_NODAL_MAX_SPARE;
    case ML_NODAL_MOVE_PIN:
      return pin && change->index_b >= 0 && change->index_b < circuit->n_nets;
    case ML_NODAL_PERMUTE_PINS:
      if (!change->permutation)
        return false;
      for (int k = 0; k < type->n_pins; k++)
        if (change->permutation[k] < 0 || change->permutation[k] >= type->n_pins)
          return false;
      return true;
    case ML_NODAL_LINK_NETS:
      break;
    }
  return false;
}

static void
permute (MlNodalSolver *solver, const MlNodalChange *change)
{
  const MlNodalDevice *device = &solver->circuit->devices[change->device];
  int *node = solver->node + device->first_local;
  int old[ML_NODAL_MAX_LOCAL];

  memcpy (old, node, (size_t) device->type->n_pins * sizeof *old);
  for (int k = 0; k < device->type->n_pins; k++)
    node[k] = old[change->permutation[k]];
}

/* The pin on a node of its own that is one with the other net: what the border holds fits any pattern. */
static bool
move_pin (MlNodalSolver *solver, const MlNodalChange *change)
{
  const MlNodalDevice *device = &solver->circuit->devices[change->device];
  int to = ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_NODE, .device = change->device, .local = change->index,
                                              .pin = device->first_pin + change->index, .change = -1 });

  solver->node[device->first_local + change->index] = to;
  return to && add_link (solver, to, change->index_b, -1, 0);
}

/* In the order exchange, broken track or other net, joint: a joint lies between whatever the pin hangs on and its metal. */
static MlNodalStatus
move_pins (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes)
{
  int spare[ML_NODAL_MAX_SPARE] = { 0 };

  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_PERMUTE_PINS)
      permute (solver, &changes[i]);
  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_DETACH)
      {
        const MlNodalDevice *device = &solver->circuit->devices[changes[i].device];
        int *to = &spare[changes[i].index_b];
        if (!*to)
          *to = ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_NODE, .device = changes[i].device, .local = changes[i].index,
                                                   .pin = device->first_pin + changes[i].index, .change = -1 });
        if (!*to)
          return ML_NODAL_NO_MEMORY;
        solver->node[device->first_local + changes[i].index] = *to;
      }
    else if (changes[i].kind == ML_NODAL_MOVE_PIN && !move_pin (solver, &changes[i]))
      return ML_NODAL_NO_MEMORY;
  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_PIN_RESISTANCE && changes[i].value > 0)
      {
        const MlNodalDevice *device = &solver->circuit->devices[changes[i].device];
        int *node = solver->node + device->first_local + changes[i].index;
        int metal = ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_NODE, .device = changes[i].device,
                                                       .local = changes[i].index, .pin = device->first_pin + changes[i].index, .change = -1 });
        if (!metal || (isfinite (changes[i].value) && !add_conductance (solver, *node, metal, -1, i, 1.0 / changes[i].value)))
          return ML_NODAL_NO_MEMORY;
        *node = metal;
      }
  return ML_NODAL_OK;
}

/* Whether joints are all that moves its pins, none of them so poor that the circuit without the branch might be another one to solve. */
static bool
has_joints_only (const MlNodalChange *changes, int n_changes, int d)
{
  const double most_ohm = 1e7;

  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind != ML_NODAL_SET_PARAMETER && changes[i].kind != ML_NODAL_LINK_NETS && changes[i].device == d
        && !(changes[i].kind == ML_NODAL_PIN_RESISTANCE && changes[i].value <= most_ohm))
      return false;
  return true;
}

/* A device with a moved pin takes its branch currents along into the border: otherwise the matrix without border could hold a branch
 * whose both ends are gone. A plain branch behind a joint leaves one like it: the usual pivots are no good without it. */
static bool
move_inner (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes)
{
  const MlNodalCircuit *circuit = solver->circuit;

  for (int i = 0; i < solver->n_touched; i++)
    {
      int d = solver->touched_list[i];
      const MlNodalDevice *device = &circuit->devices[d];
      int n_pins = device->type->n_pins;
      const int *node = solver->node + device->first_local, *was = circuit->node + device->first_local;
      for (int k = 0; k < n_pins; k++)
        if (node[k] != was[k])
          solver->moved[d] = true;
      for (int k = n_pins; solver->moved[d] && k < ml_nodal_type_n_local (device->type); k++)
        {
          int to = ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_INNER, .device = d, .local = k, .change = -1 });
          if (!to)
            return false;
          solver->node[device->first_local + k] = to;
        }
      if (solver->moved[d] && ml_nodal_type_is_plain_branch (device->type) && has_joints_only (changes, n_changes, d)
          && !ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_STAND_IN, .device = d, .local = n_pins, .change = -1 }))
        return false;
    }
  return true;
}

static bool
add_links (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes)
{
  for (int i = 0; i < n_changes; i++)
    {
      const MlNodalChange *change = &changes[i];
      bool done = true;
      if (change->kind == ML_NODAL_LINK_NETS)
        done = add_link (solver, change->index, change->index_b, i, change->value);
      else if (change->kind == ML_NODAL_BRIDGE_PINS && isfinite (change->value))
        {
          const int *node = solver->node + solver->circuit->devices[change->device].first_local;
          int a = node[change->index], b = node[change->index_b];
          /* Very small values as a branch: a huge conductance would drown its neighbours' digits. */
          if (change->value < 1e-6)
            done = add_link (solver, a, b, i, change->value);
          else
            done = add_conductance (solver, a, b, -1, i, 1.0 / change->value);
        }
      if (!done)
        return false;
    }
  return true;
}

/* The conductances and the currents, and whether anything bends. */
static bool
collect (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;

  solver->nonlinear = solver->attached >= 0 && solver->extras[solver->attached].kind == ML_NODAL_EXTRA_METER;
  for (int i = circuit->law_start[ML_NODAL_LAW_OTHER]; i < circuit->n_devices; i++)
    solver->nonlinear = solver->nonlinear || !(circuit->devices[circuit->by_law[i]].type->flags & ML_NODAL_LINEAR);
  solver->n_flowing = 0;
  for (int i = circuit->law_start[ML_NODAL_LAW_CURRENT]; i < circuit->law_start[ML_NODAL_LAW_CURRENT + 1]; i++)
    if (solver->derived[circuit->devices[circuit->by_law[i]].first_derived] != 0)
      solver->flowing[solver->n_flowing++] = circuit->by_law[i];
  for (int i = 0; i < circuit->law_start[ML_NODAL_LAW_CONDUCTANCE + 1]; i++)
    {
      int d = circuit->by_law[i];
      const MlNodalDevice *device = &circuit->devices[d];
      const int *node = solver->node + device->first_local;
      double g = solver->open[d] ? 0.0 : solver->derived[device->first_derived];
      if (isfinite (g) ? !add_conductance (solver, node[0], node[1], d, -1, g) : !add_link (solver, node[0], node[1], -1, 0.0))
        return false;
      if (!isfinite (g) && node[0] != node[1])
        solver->extras[solver->n_extras - 1].device = d;
    }
  return true;
}

static bool
make_room (MlNodalSolver *solver, int n)
{
  if (n <= solver->unknown_room)
    return true;
  int to = n + 16;
  double **arrays[] = { &solver->x, &solver->step, &solver->f, &solver->anchor };
  for (size_t i = 0; i < sizeof arrays / sizeof arrays[0]; i++)
    {
      double *bigger = realloc (*arrays[i], (size_t) to * sizeof (double));
      if (!bigger)
        return false;
      *arrays[i] = bigger;
    }
  int *group = realloc (solver->group, (size_t) to * sizeof (int));
  if (!group)
    return false;
  solver->group = group;
  int *core = realloc (solver->core, 2 * (size_t) to * sizeof (int));
  if (!core)
    return false;
  solver->core = core;
  solver->unknown_room = to;
  return true;
}

static bool
attach (MlNodalSolver *solver, const MlNodalMeter *meter)
{
  int red = ml_nodal_point_node (solver, meter->red), black = ml_nodal_point_node (solver, meter->black);

  if (red == black)
    return true;
  int e = solver->n_extras;
  if (meter->reads == ML_NODAL_READ_VOLTS)
    {
      if (!isfinite (meter->input_ohm))
        return true;
      if (!add_link (solver, red, black, -1, meter->input_ohm))
        return false;
    }
  else if (!ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_METER, .a = red, .b = black, .device = -1, .change = -1,
                                               .test_a = meter->test_a, .compliance_v = meter->compliance_v, .last = meter->test_a }))
    return false;
  solver->attached = e;
  return true;
}

int
ml_nodal_point_node (const MlNodalSolver *solver, MlNodalPoint point)
{
  if (point.device >= 0)
    return solver->node[solver->circuit->devices[point.device].first_local + point.pin];
  return point.net;
}

bool
ml_nodal_is_node (const MlNodalSolver *solver, int unknown)
{
  int n_main = solver->circuit->n_unknowns;
  if (unknown < n_main)
    return unknown < solver->circuit->n_nodes;
  return solver->extras[unknown - n_main].kind == ML_NODAL_EXTRA_NODE;
}

/* Contacts where their coils have put them, thyristors as they latched, unless a change says so; then the changed parameters. */
static void
place_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes)
{
  for (int d = 0; solver->circuit->n_latching > 0 && d < solver->circuit->n_devices; d++)
    if (solver->latched[d] >= 0)
      {
        const MlNodalDevice *device = &solver->circuit->devices[d];
        touch (solver, d);
        solver->parameters[device->first_parameter + device->type->latched - 1] = solver->latched[d];
      }
  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_SET_PARAMETER)
      solver->parameters[solver->circuit->devices[changes[i].device].first_parameter + changes[i].index] = changes[i].value;
}

MlNodalStatus
ml_nodal_vary (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter)
{
  restore (solver);
  for (int i = 0; i < n_changes; i++)
    if (!valid (solver, &changes[i]))
      {
        for (int k = 0; k < solver->n_restored; k++)
          prepare (solver, solver->restored_list[k]);
        return ML_NODAL_BAD_ARGUMENT;
      }
  for (int i = 0; i < n_changes; i++)
    {
      const MlNodalChange *change = &changes[i];
      if (change->kind == ML_NODAL_LINK_NETS)
        continue;
      touch (solver, change->device);
      if (change->kind == ML_NODAL_OPEN_ELEMENT)
        solver->open[change->device] |= 1u << change->index;
    }
  place_states (solver, changes, n_changes);
  for (int i = 0; i < solver->n_restored; i++)
    prepare (solver, solver->restored_list[i]);
  for (int i = 0; i < solver->n_touched; i++)
    prepare (solver, solver->touched_list[i]);
  MlNodalStatus status = move_pins (solver, changes, n_changes);
  if (status != ML_NODAL_OK)
    return status;
  if (!move_inner (solver, changes, n_changes) || !add_links (solver, changes, n_changes) || (meter && !attach (solver, meter)) || !collect (solver)
      || !make_room (solver, solver->n_unknowns + solver->circuit->n_nodes) || !ml_nodal_find_floating (solver))
    return ML_NODAL_NO_MEMORY;
  status = ml_nodal_matrix_set_border (&solver->matrix, solver->n_extras);
  if (status != ML_NODAL_OK)
    return status;
  if (!ml_nodal_room_for ((void **) &solver->base, &solver->base_room, ml_nodal_matrix_n_values (&solver->matrix), sizeof (double)))
    return ML_NODAL_NO_MEMORY;
  for (int u = 0; u < solver->n_unknowns; u++)
    solver->x[u] = 0;
  ml_nodal_stamp_base (solver);
  return ML_NODAL_OK;
}
