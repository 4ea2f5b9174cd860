/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/system.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TIE_S 1e-9      /* what ties an island that nothing else determines; no current flows in it */
#define INSULATED_S 1e-12

/* ---- memory ---- */

static bool
grow (void *array, size_t n, size_t size)
{
  void **pointer = array;
  void *more = realloc (*pointer, (n ? n : 1) * size);

  if (!more)
    return false;
  *pointer = more;
  return true;
}

MlNodalStatus
ml_nodal_system_init (MlNodalSystem *system, const MlNodalCircuit *circuit)
{
  memset (system, 0, sizeof *system);
  system->circuit = circuit;
  klu_defaults (&system->common);
  system->devices = malloc (((size_t) circuit->n_devices + 1) * sizeof *system->devices);
  system->node = malloc (((size_t) circuit->n_pins + 1) * sizeof *system->node);
  system->limited = malloc ((size_t) circuit->n_devices + 1);
  system->linearised = malloc (((size_t) circuit->n_pins + (size_t) circuit->n_inner + 1) * sizeof (double));
  if (system->devices && system->node && system->limited && system->linearised)
    return ML_NODAL_OK;
  ml_nodal_system_clear (system);
  return ML_NODAL_NO_MEMORY;
}

void
ml_nodal_system_clear (MlNodalSystem *system)
{
  klu_free_numeric (&system->numeric, &system->common);
  klu_free_symbolic (&system->symbolic, &system->common);
  free (system->devices);
  free (system->node);
  free (system->limited);
  free (system->linearised);
  free (system->tie);
  free (system->leak);
  free (system->floating);
  free (system->x);
  free (system->old);
  free (system->residual);
  free (system->step);
  free (system->scratch);
  free (system->pull_to);
  free (system->key_row);
  free (system->key_column);
  free (system->slot);
  free (system->column_start);
  free (system->row);
  free (system->values);
  memset (system, 0, sizeof *system);
}

static bool
make_room (MlNodalSystem *system)
{
  size_t nodes = (size_t) system->n_nodes, unknowns = (size_t) system->n_unknowns;

  if (system->n_nodes > system->node_room)
    {
      if (!grow (&system->tie, nodes, sizeof (int)) || !grow (&system->leak, nodes, sizeof (double))
          || !grow (&system->floating, nodes, sizeof (bool)))
        return false;
      system->node_room = system->n_nodes;
    }
  if (system->n_unknowns > system->unknown_room)
    {
      if (!grow (&system->x, unknowns, sizeof (double)) || !grow (&system->old, unknowns, sizeof (double))
          || !grow (&system->residual, unknowns, sizeof (double)) || !grow (&system->step, unknowns, sizeof (double))
          || !grow (&system->scratch, unknowns, sizeof (double)) || !grow (&system->pull_to, unknowns, sizeof (double))
          || !grow (&system->column_start, unknowns + 1, sizeof (int)))
        return false;
      system->unknown_room = system->n_unknowns;
    }
  return true;
}

/* ---- unknowns ----
 * x[0] is the reference's voltage and stays 0; x[1 … n_nodes-1] nodes; then inner unknowns; then branch currents.
 * Row and column k of the matrix belong to x[k + 1]. */

int
ml_nodal_system_inner_row (const MlNodalSystem *system, int device)
{
  return system->n_nodes + system->devices[device].first_inner;
}

int
ml_nodal_system_branch_row (const MlNodalSystem *system, int branch)
{
  return system->n_nodes + system->circuit->n_inner + branch;
}

void
ml_nodal_system_local (const MlNodalSystem *system, int device, const double *x, double *local)
{
  const MlNodalDevice *d = &system->devices[device];
  int inner = ml_nodal_system_inner_row (system, device);

  for (int k = 0; k < d->type->n_pins; k++)
    local[k] = x[system->node[d->first_pin + k]];
  for (int k = 0; k < d->type->n_inner; k++)
    local[d->type->n_pins + k] = x[inner + k];
}

/* ---- changes ---- */

static bool
device_has_pin (const MlNodalCircuit *circuit, int device, int pin)
{
  return device >= 0 && device < circuit->n_devices && pin >= 0 && pin < circuit->devices[device].type->n_pins;
}

static bool
change_is_valid (const MlNodalCircuit *circuit, const MlNodalChange *change)
{
  const MlNodalType *type = change->device >= 0 && change->device < circuit->n_devices ? circuit->devices[change->device].type : NULL;

  switch (change->kind)
    {
    case ML_NODAL_SET_PARAMETER:
      return type && change->index >= 0 && change->index < type->n_parameters && !isnan (change->value);
    case ML_NODAL_PIN_RESISTANCE:
      return device_has_pin (circuit, change->device, change->index) && change->value >= 0;
    case ML_NODAL_BRIDGE_PINS:
      return device_has_pin (circuit, change->device, change->index) && device_has_pin (circuit, change->device, change->index_b)
             && change->value >= 0;
    case ML_NODAL_OPEN_ELEMENT:
      return type && change->index >= 0 && change->index < type->n_elements;
    case ML_NODAL_LINK_NETS:
      return change->index >= 0 && change->index < circuit->n_nets && change->index_b >= 0 && change->index_b < circuit->n_nets
             && change->value >= 0;
    case ML_NODAL_PERMUTE_PINS:
      return type && change->permutation;
    case ML_NODAL_DETACH:
      return device_has_pin (circuit, change->device, change->index) && change->index_b >= 0 && change->index_b < ML_NODAL_MAX_SPARE;
    }
  return false;
}

static bool
add_branch (MlNodalSystem *system, int a, int b, double ohm, int change)
{
  if (system->n_branches == ML_NODAL_MAX_BRANCHES)
    return false;
  if (!isfinite (ohm) || a == b)
    return true;
  system->branches[system->n_branches++] = (MlNodalBranch) { .a = a, .b = b, .ohm = ohm, .change = change };
  return true;
}

static void
apply_to_device (MlNodalSystem *system, const MlNodalChange *change)
{
  MlNodalDevice *device = &system->devices[change->device];

  switch (change->kind)
    {
    case ML_NODAL_SET_PARAMETER:
      device->parameters[change->index] = change->value;
      ml_nodal_device_prepare (device);
      break;
    case ML_NODAL_OPEN_ELEMENT:
      device->open |= 1u << change->index;
      break;
    case ML_NODAL_PERMUTE_PINS:
      {
        const MlNodalDevice *was = &system->circuit->devices[change->device];
        for (int k = 0; k < device->type->n_pins; k++)
          device->nets[k] = was->nets[change->permutation[k]];
        break;
      }
    default:
      break;
    }
}

/* Nets of the pins, pins that are open nowhere or detached, then joints. */
static bool
place_pins (MlNodalSystem *system, const MlNodalChange *changes, int n_changes)
{
  const MlNodalCircuit *circuit = system->circuit;
  int spare[ML_NODAL_MAX_SPARE];

  system->n_nodes = circuit->n_nets;
  for (int s = 0; s < ML_NODAL_MAX_SPARE; s++)
    spare[s] = -1;
  for (int d = 0; d < circuit->n_devices; d++)
    for (int k = 0; k < system->devices[d].type->n_pins; k++)
      {
        int net = system->devices[d].nets[k];
        system->node[system->devices[d].first_pin + k] = net >= 0 ? net : system->n_nodes++;
      }
  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_DETACH)
      {
        if (spare[changes[i].index_b] < 0)
          spare[changes[i].index_b] = system->n_nodes++;
        system->node[system->devices[changes[i].device].first_pin + changes[i].index] = spare[changes[i].index_b];
      }
  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_PIN_RESISTANCE)
      {
        int *node = &system->node[system->devices[changes[i].device].first_pin + changes[i].index];
        int solder = *node;
        *node = system->n_nodes++;
        if (!add_branch (system, solder, *node, changes[i].value, i))
          return false;
      }
  return true;
}

static bool
place_branches (MlNodalSystem *system, const MlNodalChange *changes, int n_changes)
{
  for (int i = 0; i < n_changes; i++)
    {
      const MlNodalChange *change = &changes[i];

      if (change->kind == ML_NODAL_LINK_NETS && !add_branch (system, change->index, change->index_b, change->value, i))
        return false;
      if (change->kind == ML_NODAL_BRIDGE_PINS)
        {
          const int *node = &system->node[system->devices[change->device].first_pin];
          if (!add_branch (system, node[change->index], node[change->index_b], change->value, i))
            return false;
        }
    }
  return true;
}

/* ---- the meter ---- */

int
ml_nodal_system_point (const MlNodalSystem *system, const MlNodalPoint *point)
{
  if (point->device < 0)
    return point->net >= 0 && point->net < system->circuit->n_nets ? point->net : -1;
  return device_has_pin (system->circuit, point->device, point->pin) ? system->node[system->devices[point->device].first_pin + point->pin] : -1;
}

static bool
place_meter (MlNodalSystem *system, const MlNodalMeter *meter)
{
  MlNodalBranch branch = { .ohm = meter->input_ohm, .change = -1 };

  if (meter->reads == ML_NODAL_READ_AMPS)
    return meter->device >= 0 && meter->device < system->circuit->n_devices && system->devices[meter->device].type->n_inner == 1;
  branch.a = ml_nodal_system_point (system, &meter->red);
  branch.b = ml_nodal_system_point (system, &meter->black);
  if (branch.a < 0 || branch.b < 0)
    return false;
  if (meter->reads == ML_NODAL_READ_VOLTS && (!isfinite (meter->input_ohm) || branch.a == branch.b))
    return true;
  if (meter->reads != ML_NODAL_READ_VOLTS)
    {
      if (!(meter->test_a > 0) || !(meter->compliance_v > 0))
        return false;
      branch.test_a = meter->test_a;
      branch.compliance_v = meter->compliance_v;
    }
  if (system->n_branches == ML_NODAL_MAX_BRANCHES)
    return false;
  system->branches[system->n_branches++] = branch;
  return true;
}

/* ---- what determines a node ---- */

static int
root_of (int *parent, int k)
{
  while (parent[k] != k)
    k = parent[k] = parent[parent[k]];
  return k;
}

static void
join (int *parent, int a, int b)
{
  a = root_of (parent, a);
  b = root_of (parent, b);
  if (a != b)
    parent[a > b ? a : b] = a > b ? b : a; /* the reference, 0, stays a root */
}

static bool
path_conducts (const MlNodalDevice *device, int path)
{
  if (device->type->conducts)
    return device->type->conducts (device->derived, device->open, path);
  return path >= device->type->n_elements || !(device->open & 1u << path);
}

static void
join_device (const MlNodalSystem *system, const MlNodalDevice *device, int *parent)
{
  const MlNodalType *type = device->type;
  const int *node = &system->node[device->first_pin];

  for (int p = 0; p < type->n_elements + type->n_paths; p++)
    {
      const MlNodalPair *pair = p < type->n_elements ? &type->elements[p] : &type->paths[p - type->n_elements];
      if (path_conducts (device, p))
        join (parent, node[pair->pin_a], node[pair->pin_b]);
    }
}

/* An insulated pin that was cut off takes the voltage of its resting pin. */
static void
tie_insulated (MlNodalSystem *system, const int *uses)
{
  for (int d = 0; d < system->circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &system->devices[d];
      for (int k = 0; k < device->type->n_pins; k++)
        {
          int node = system->node[device->first_pin + k];
          bool insulated = true;

          for (int p = 0; p < device->type->n_elements; p++)
            insulated &= device->type->elements[p].pin_a != k && device->type->elements[p].pin_b != k;
          for (int p = 0; p < device->type->n_paths; p++)
            insulated &= device->type->paths[p].pin_a != k && device->type->paths[p].pin_b != k;
          if (insulated && uses[node] == 1 && system->tie[node] == 0)
            {
              int rest = device->type->rest[k];
              system->tie[node] = rest > 0 ? system->node[device->first_pin + rest - 1] : 0;
              system->leak[node] = INSULATED_S;
            }
        }
    }
}

static MlNodalStatus
find_islands (MlNodalSystem *system)
{
  int *parent = malloc ((size_t) system->n_nodes * 2 * sizeof *parent);
  int *uses = parent + system->n_nodes;

  if (!parent)
    return ML_NODAL_NO_MEMORY;
  for (int k = 0; k < system->n_nodes; k++)
    {
      parent[k] = k;
      uses[k] = 0;
    }
  for (int d = 0; d < system->circuit->n_devices; d++)
    join_device (system, &system->devices[d], parent);
  for (int p = 0; p < system->circuit->n_pins; p++)
    uses[system->node[p]]++;
  for (int b = 0; b < system->n_branches; b++)
    join (parent, system->branches[b].a, system->branches[b].b);
  for (int k = 0; k < system->n_nodes; k++)
    {
      int root = root_of (parent, k);
      system->floating[k] = root != 0;
      system->tie[k] = root == k && k != 0 ? 0 : -1;
      system->leak[k] = TIE_S;
    }
  tie_insulated (system, uses);
  free (parent);
  return ML_NODAL_OK;
}

/* ---- matrix ---- */

static bool
entry_room (MlNodalSystem *system)
{
  int room = system->entry_room ? 2 * system->entry_room : 1024;

  if (system->n_entries < system->entry_room)
    return true;
  if (!grow (&system->key_row, (size_t) room, sizeof (int)) || !grow (&system->key_column, (size_t) room, sizeof (int))
      || !grow (&system->slot, (size_t) room, sizeof (int)) || !grow (&system->row, (size_t) room, sizeof (int))
      || !grow (&system->values, (size_t) room, sizeof (double)))
    return false;
  system->entry_room = room;
  return true;
}

/* Entry (row, column) in x's numbering, in the same order at every assembly. */
static void
put (MlNodalSystem *system, int row, int column, double value)
{
  if (row == 0 || column == 0)
    return;
  if (!system->collecting)
    system->values[system->slot[system->n_entries++]] += value;
  else if (entry_room (system))
    {
      system->key_row[system->n_entries] = row - 1;
      system->key_column[system->n_entries++] = column - 1;
    }
  else
    system->pattern_n = -1; /* no memory; seen by the caller */
}

static void
put_conductance (MlNodalSystem *system, int a, int b, double siemens)
{
  double i = siemens * (system->x[a] - system->x[b]);

  put (system, a, a, siemens);
  put (system, b, b, siemens);
  put (system, a, b, -siemens);
  put (system, b, a, -siemens);
  system->residual[a] += i;
  system->residual[b] -= i;
}

static double
put_device (MlNodalSystem *system, int device)
{
  const MlNodalDevice *d = &system->devices[device];
  const MlNodalType *type = d->type;
  int n = ml_nodal_type_n_local (type), inner = ml_nodal_system_inner_row (system, device), place[ML_NODAL_MAX_LOCAL];
  double x[ML_NODAL_MAX_LOCAL], at[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL] = { 0 };
  double jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL] = { 0 };
  double *linearised = &system->linearised[d->first_pin + d->first_inner], largest = 0;

  for (int k = 0; k < n; k++)
    place[k] = k < type->n_pins ? system->node[d->first_pin + k] : inner + k - type->n_pins;
  if (system->collecting)
    {
      for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++)
          put (system, place[r], place[c], 0);
      return 0;
    }
  ml_nodal_system_local (system, device, system->x, x);
  memcpy (at, x, sizeof at);
  system->limited[device] = false;
  if (type->limit)
    {
      type->limit (d->derived, system->has_linearised ? linearised : NULL, at);
      for (int k = 0; k < n; k++)
        system->limited[device] |= fabs (at[k] - x[k]) > 1e-12 * (1 + fabs (x[k]));
      if (!system->limited[device])
        memcpy (at, x, sizeof at);
    }
  memcpy (linearised, at, (size_t) n * sizeof *at);
  type->eval (d->derived, d->open, at, f, jacobian);
  for (int r = 0; r < n; r++)
    {
      double value = f[r];
      for (int c = 0; c < n; c++)
        {
          put (system, place[r], place[c], jacobian[r * n + c]);
          if (system->limited[device])
            value += jacobian[r * n + c] * (x[c] - at[c]);
        }
      system->residual[place[r]] += value;
      if (r < type->n_pins)
        largest = fmax (largest, fabs (f[r]));
    }
  return largest;
}

/* A meter's source: test_a (1 - e^((v - compliance)/w)) continued linearly: constant current up to its open-circuit voltage. */
static void
put_test_source (MlNodalSystem *system, const MlNodalBranch *branch, int row)
{
  double v = system->x[branch->a] - system->x[branch->b], w = branch->compliance_v / 400.0;
  double u = (v - branch->compliance_v) / w, e = exp (fmin (u, 20.0)), fall = u > 20.0 ? e * (u - 19.0) : e;

  system->residual[row] = system->x[row] + branch->test_a * (1.0 - fall);
  put (system, row, row, 1.0);
  put (system, row, branch->a, -branch->test_a * e / w);
  put (system, row, branch->b, branch->test_a * e / w);
}

static double
put_branch (MlNodalSystem *system, int index)
{
  const MlNodalBranch *branch = &system->branches[index];
  int row = ml_nodal_system_branch_row (system, index);
  double i = system->x[row];

  system->residual[branch->a] += i;
  system->residual[branch->b] -= i;
  put (system, branch->a, row, 1.0);
  put (system, branch->b, row, -1.0);
  if (branch->compliance_v > 0)
    {
      put_test_source (system, branch, row);
      return fabs (i);
    }
  double ohm = fmax (branch->ohm, system->link_ohm);
  /* Divided by 1 + ohm, so that the row stays of order one for any resistance. */
  double weight = 1.0 / (1.0 + ohm);
  system->residual[row] = weight * (system->x[branch->a] - system->x[branch->b] - ohm * i);
  put (system, row, branch->a, weight);
  put (system, row, branch->b, -weight);
  put (system, row, row, -weight * ohm);
  return fabs (i);
}

static void
put_homotopy (MlNodalSystem *system)
{
  for (int k = 1; k < system->n_nodes; k++)
    {
      put_conductance (system, k, 0, system->leak_all);
      put (system, k, k, system->pull);
      system->residual[k] += system->pull * (system->x[k] - system->pull_to[k]);
    }
}

double
ml_nodal_system_assemble (MlNodalSystem *system)
{
  double largest = 0;

  memset (system->residual, 0, (size_t) system->n_unknowns * sizeof (double));
  if (!system->collecting)
    memset (system->values, 0, (size_t) system->column_start[system->n_unknowns - 1] * sizeof (double));
  system->n_entries = 0;
  for (int d = 0; d < system->circuit->n_devices; d++)
    largest = fmax (largest, put_device (system, d));
  for (int b = 0; b < system->n_branches; b++)
    largest = fmax (largest, put_branch (system, b));
  for (int k = 1; k < system->n_nodes; k++)
    if (system->tie[k] >= 0)
      put_conductance (system, k, system->tie[k], system->leak[k]);
  put_homotopy (system);
  /* inner rows of links and open switches may lack a diagonal otherwise */
  for (int k = 1; k < system->n_unknowns; k++)
    put (system, k, k, 0);
  system->residual[0] = 0;
  system->has_linearised = true;
  return largest;
}

static int
compare_keys (const void *a, const void *b, void *data)
{
  const MlNodalSystem *system = data;
  int i = *(const int *) a, k = *(const int *) b;

  if (system->key_column[i] != system->key_column[k])
    return system->key_column[i] < system->key_column[k] ? -1 : 1;
  if (system->key_row[i] != system->key_row[k])
    return system->key_row[i] < system->key_row[k] ? -1 : 1;
  return i < k ? -1 : i > k;
}

/* From the collected keys: compressed columns, and the slot of every entry. */
static MlNodalStatus
make_pattern (MlNodalSystem *system)
{
  int n = system->n_unknowns - 1, filled = 0;
  int *order = malloc (((size_t) system->n_entries + 1) * sizeof *order);

  if (!order)
    return ML_NODAL_NO_MEMORY;
  for (int i = 0; i < system->n_entries; i++)
    order[i] = i;
  qsort_r (order, (size_t) system->n_entries, sizeof *order, compare_keys, system);
  for (int c = 0; c <= n; c++)
    system->column_start[c] = 0;
  for (int i = 0; i < system->n_entries; i++)
    {
      int e = order[i];
      bool again = i > 0 && system->key_row[e] == system->key_row[order[i - 1]] && system->key_column[e] == system->key_column[order[i - 1]];
      if (!again)
        {
          system->row[filled++] = system->key_row[e];
          system->column_start[system->key_column[e] + 1]++;
        }
      system->slot[e] = filled - 1;
    }
  for (int c = 0; c < n; c++)
    system->column_start[c + 1] += system->column_start[c];
  free (order);
  return ML_NODAL_OK;
}

static MlNodalStatus
collect_pattern (MlNodalSystem *system)
{
  MlNodalStatus status;
  int n = system->n_unknowns - 1;

  klu_free_numeric (&system->numeric, &system->common);
  klu_free_symbolic (&system->symbolic, &system->common);
  system->pattern_n = 0;
  system->collecting = true;
  memset (system->x, 0, (size_t) system->n_unknowns * sizeof (double));
  memset (system->pull_to, 0, (size_t) system->n_unknowns * sizeof (double));
  ml_nodal_system_assemble (system);
  system->collecting = false;
  if (system->pattern_n < 0 || n < 0)
    return ML_NODAL_NO_MEMORY;
  status = make_pattern (system);
  if (status != ML_NODAL_OK || n == 0)
    return status;
  system->symbolic = klu_analyze (n, system->column_start, system->row, &system->common);
  system->counts.analyses++;
  return system->symbolic ? ML_NODAL_OK : system->common.status == KLU_OUT_OF_MEMORY ? ML_NODAL_NO_MEMORY : ML_NODAL_SINGULAR;
}

MlNodalStatus
ml_nodal_system_apply (MlNodalSystem *system, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter)
{
  const MlNodalCircuit *circuit = system->circuit;
  MlNodalStatus status;

  for (int i = 0; i < n_changes; i++)
    if (!change_is_valid (circuit, &changes[i]))
      return ML_NODAL_BAD_ARGUMENT;
  memcpy (system->devices, circuit->devices, (size_t) circuit->n_devices * sizeof *system->devices);
  system->n_branches = 0;
  system->has_linearised = false;
  system->link_ohm = 0;
  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind != ML_NODAL_LINK_NETS)
      apply_to_device (system, &changes[i]);
  if (!place_pins (system, changes, n_changes) || !place_branches (system, changes, n_changes))
    return ML_NODAL_BAD_ARGUMENT;
  if (meter && !place_meter (system, meter))
    return ML_NODAL_BAD_ARGUMENT;
  system->n_unknowns = system->n_nodes + circuit->n_inner + system->n_branches;
  if (!make_room (system))
    return ML_NODAL_NO_MEMORY;
  status = find_islands (system);
  return status == ML_NODAL_OK ? collect_pattern (system) : status;
}

void
ml_nodal_system_scale_sources (MlNodalSystem *system, double scale)
{
  for (int d = 0; d < system->circuit->n_devices; d++)
    {
      MlNodalDevice *device = &system->devices[d];
      int parameter = device->type->source - 1;
      double whole;

      if (parameter < 0)
        continue;
      whole = device->parameters[parameter];
      device->parameters[parameter] = whole * scale;
      ml_nodal_device_prepare (device);
      device->parameters[parameter] = whole;
    }
}

/* ---- factors ---- */

static bool
factors_are_good (MlNodalSystem *system)
{
  return system->common.status == KLU_OK && klu_rcond (system->symbolic, system->numeric, &system->common)
         && system->common.rcond > 1e-17;
}

MlNodalStatus
ml_nodal_system_factor (MlNodalSystem *system)
{
  if (system->n_unknowns <= 1)
    return ML_NODAL_OK;
  if (system->numeric)
    {
      system->counts.refactors++;
      if (klu_refactor (system->column_start, system->row, system->values, system->symbolic, system->numeric, &system->common)
          && factors_are_good (system))
        return ML_NODAL_OK;
      klu_free_numeric (&system->numeric, &system->common);
    }
  system->counts.factors++;
  system->numeric = klu_factor (system->column_start, system->row, system->values, system->symbolic, &system->common);
  if (system->numeric && system->common.status == KLU_OK)
    return ML_NODAL_OK;
  klu_free_numeric (&system->numeric, &system->common);
  return system->common.status == KLU_OUT_OF_MEMORY ? ML_NODAL_NO_MEMORY : ML_NODAL_SINGULAR;
}

void
ml_nodal_system_solve (MlNodalSystem *system, double *b, bool transposed)
{
  int n = system->n_unknowns - 1;

  if (n == 0)
    return;
  if (transposed)
    klu_tsolve (system->symbolic, system->numeric, n, 1, b + 1, &system->common);
  else
    klu_solve (system->symbolic, system->numeric, n, 1, b + 1, &system->common);
}
