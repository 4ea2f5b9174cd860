/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/circuit.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

MlNodalCircuit *
ml_nodal_circuit_new (void)
{
  MlNodalCircuit *circuit = calloc (1, sizeof *circuit);
  if (circuit)
    circuit->n_nets = 1;
  return circuit;
}

void
ml_nodal_circuit_free (MlNodalCircuit *circuit)
{
  if (!circuit)
    return;
  free (circuit->devices);
  free (circuit->pin_net);
  free (circuit->parameters);
  free (circuit->prefer);
  free (circuit->node);
  free (circuit->position);
  free (circuit->column);
  free (circuit->row);
  free (circuit->diagonal);
  free (circuit->row_start);
  free (circuit->row_entry);
  free (circuit->row_column);
  free (circuit->by_law);
  free (circuit);
}

/* Room for n more entries after used; doubles. */
static bool
grow (void **array, int *room, int used, int n, size_t size)
{
  if (used + n <= *room)
    return true;
  int to = *room * 2 > used + n ? *room * 2 : used + n + 16;
  void *bigger = realloc (*array, (size_t) to * size);
  if (!bigger)
    return false;
  *array = bigger;
  *room = to;
  return true;
}

int
ml_nodal_circuit_add_net (MlNodalCircuit *circuit)
{
  int old = circuit->net_room;

  if (circuit->finished)
    return ML_NODAL_BAD_ARGUMENT;
  if (!grow ((void **) &circuit->prefer, &circuit->net_room, circuit->n_nets, 1, sizeof *circuit->prefer))
    return ML_NODAL_NO_MEMORY;
  memset (circuit->prefer + old, 0, (size_t) (circuit->net_room - old) * sizeof *circuit->prefer);
  return circuit->n_nets++;
}

int
ml_nodal_circuit_add_device (MlNodalCircuit *circuit, const MlNodalType *type, const int *nets, const double *parameters)
{
  if (circuit->finished || !type)
    return ML_NODAL_BAD_ARGUMENT;
  for (int k = 0; k < type->n_pins; k++)
    if (nets[k] < -1 || nets[k] >= circuit->n_nets)
      return ML_NODAL_BAD_ARGUMENT;
  for (int k = 0; k < type->n_parameters; k++)
    if (isnan (parameters[k]))
      return ML_NODAL_BAD_ARGUMENT;
  if (!grow ((void **) &circuit->devices, &circuit->device_room, circuit->n_devices, 1, sizeof *circuit->devices)
      || !grow ((void **) &circuit->pin_net, &circuit->pin_room, circuit->n_pins, type->n_pins, sizeof *circuit->pin_net)
      || !grow ((void **) &circuit->parameters, &circuit->parameter_room, circuit->n_parameters, type->n_parameters,
                sizeof *circuit->parameters))
    return ML_NODAL_NO_MEMORY;

  int n_local = ml_nodal_type_n_local (type);
  circuit->devices[circuit->n_devices] = (MlNodalDevice){
    .type = type, .first_pin = circuit->n_pins, .first_local = circuit->n_locals, .first_position = circuit->n_positions,
    .first_parameter = circuit->n_parameters, .first_derived = circuit->n_derived, .coil = -1,
  };
  memcpy (circuit->pin_net + circuit->n_pins, nets, (size_t) type->n_pins * sizeof *nets);
  memcpy (circuit->parameters + circuit->n_parameters, parameters, (size_t) type->n_parameters * sizeof *parameters);
  circuit->n_pins += type->n_pins;
  circuit->n_locals += n_local;
  circuit->n_positions += n_local * n_local;
  circuit->n_parameters += type->n_parameters;
  circuit->n_derived += type->n_derived;
  circuit->n_latching += type->latch != NULL;
  circuit->n_stateful += type->latched > 0;
  circuit->n_amplifiers += type->put != NULL;
  return circuit->n_devices++;
}

MlNodalStatus
ml_nodal_circuit_drive (MlNodalCircuit *circuit, int device, int coil)
{
  if (circuit->finished || device < 0 || device >= circuit->n_devices || coil < 0 || coil >= circuit->n_devices
      || strcmp (circuit->devices[device].type->word, "contact") != 0 || strcmp (circuit->devices[coil].type->word, "coil") != 0)
    return ML_NODAL_BAD_ARGUMENT;
  if (circuit->devices[device].coil < 0)
    circuit->n_latching++;
  circuit->devices[device].coil = coil;
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_circuit_prefer (MlNodalCircuit *circuit, int net, int high)
{
  if (net <= 0 || net >= circuit->n_nets)
    return ML_NODAL_BAD_ARGUMENT;
  circuit->n_preferred += (high != 0) - (circuit->prefer[net] != 0);
  circuit->prefer[net] = (high > 0) - (high < 0);
  return ML_NODAL_OK;
}

static int
compare_int (const void *a, const void *b)
{
  int x = *(const int *) a, y = *(const int *) b;
  return (x > y) - (x < y);
}

static void
number_unknowns (MlNodalCircuit *circuit)
{
  int node = circuit->n_nets;

  for (int d = 0; d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      for (int k = 0; k < device->type->n_pins; k++)
        {
          int net = circuit->pin_net[device->first_pin + k];
          circuit->node[device->first_local + k] = net >= 0 ? net : node++;
        }
    }
  circuit->n_nodes = node;
  for (int d = 0; d < circuit->n_devices; d++)
    {
      MlNodalDevice *device = &circuit->devices[d];
      device->first_inner = node;
      for (int k = device->type->n_pins; k < ml_nodal_type_n_local (device->type); k++)
        circuit->node[device->first_local + k] = node++;
    }
  circuit->n_unknowns = node;
}

/* Every device couples all its local unknowns: a fault then changes values and never the pattern. */
static bool
build_pattern (MlNodalCircuit *circuit)
{
  int n = circuit->n_unknowns;
  int64_t total = n - 1;

  for (int d = 0; d < circuit->n_devices; d++)
    {
      int n_local = ml_nodal_type_n_local (circuit->devices[d].type);
      total += n_local * n_local;
    }
  if (total > INT32_MAX / 2)
    return false;
  int *start = calloc ((size_t) n + 1, sizeof *start);
  int *rows = malloc ((size_t) (total + 1) * sizeof *rows);
  if (!start || !rows)
    {
      free (start);
      free (rows);
      return false;
    }
  for (int pass = 0; pass < 2; pass++)
    {
      for (int u = 1; u < n; u++)
        if (pass == 0)
          start[u]++;
        else
          rows[--start[u]] = u;
      for (int d = 0; d < circuit->n_devices; d++)
        {
          const int *node = circuit->node + circuit->devices[d].first_local;
          int n_local = ml_nodal_type_n_local (circuit->devices[d].type);
          for (int c = 0; c < n_local; c++)
            for (int r = 0; r < n_local; r++)
              if (node[c] && node[r])
                {
                  if (pass == 0)
                    start[node[c]]++;
                  else
                    rows[--start[node[c]]] = node[r];
                }
        }
      if (pass == 0)
        for (int u = 1; u <= n; u++) /* start[u] becomes the end of column u; filling walks it down to its beginning */
          start[u] += start[u - 1];
    }
  int kept = 0;
  circuit->column[0] = 0;
  for (int u = 1; u < n; u++)
    {
      int from = start[u], to = start[u + 1], first = kept;
      qsort (rows + from, (size_t) (to - from), sizeof *rows, compare_int);
      for (int k = from; k < to; k++)
        if (kept == first || rows[kept - 1] != rows[k] - 1)
          rows[kept++] = rows[k] - 1;
      circuit->column[u] = kept;
    }
  circuit->n_entries = kept;
  circuit->row = rows;
  free (start);
  return true;
}

static bool
list_by_rows (MlNodalCircuit *circuit)
{
  int n = circuit->n_unknowns - 1;

  circuit->row_start = calloc ((size_t) n + 2, sizeof *circuit->row_start);
  circuit->row_entry = malloc (((size_t) circuit->n_entries + 1) * sizeof *circuit->row_entry);
  circuit->row_column = malloc (((size_t) circuit->n_entries + 1) * sizeof *circuit->row_column);
  if (!circuit->row_start || !circuit->row_entry || !circuit->row_column)
    return false;
  for (int e = 0; e < circuit->n_entries; e++)
    circuit->row_start[circuit->row[e] + 2]++;
  for (int r = 2; r <= n + 1; r++)
    circuit->row_start[r] += circuit->row_start[r - 1];
  for (int c = 0; c < n; c++) /* row_start[r + 1] begins where row r does; filling walks it up to its end */
    for (int e = circuit->column[c]; e < circuit->column[c + 1]; e++)
      {
        int to = circuit->row_start[circuit->row[e] + 1]++;
        circuit->row_entry[to] = e;
        circuit->row_column[to] = c;
      }
  return true;
}

int
ml_nodal_circuit_entry (const MlNodalCircuit *circuit, int row, int column)
{
  if (row <= 0 || column <= 0)
    return circuit->n_entries;
  int low = circuit->column[column - 1], high = circuit->column[column];
  while (low < high)
    {
      int middle = low + (high - low) / 2;
      if (circuit->row[middle] < row - 1)
        low = middle + 1;
      else
        high = middle;
    }
  return low < circuit->column[column] && circuit->row[low] == row - 1 ? low : circuit->n_entries;
}

static MlNodalLaw
law_of (const MlNodalType *type)
{
  if (type->flags & ML_NODAL_CONDUCTANCE)
    return ML_NODAL_LAW_CONDUCTANCE;
  if (type->flags & ML_NODAL_CURRENT)
    return ML_NODAL_LAW_CURRENT;
  return type->flags & ML_NODAL_LINEAR && type->n_inner > 0 ? ML_NODAL_LAW_BRANCH : ML_NODAL_LAW_OTHER;
}

static bool
sort_by_law (MlNodalCircuit *circuit)
{
  int n = 0;

  circuit->by_law = malloc (((size_t) circuit->n_devices + 1) * sizeof *circuit->by_law);
  if (!circuit->by_law)
    return false;
  for (int law = 0; law < ML_NODAL_N_LAWS; law++)
    {
      circuit->law_start[law] = n;
      for (int d = 0; d < circuit->n_devices; d++)
        if (law_of (circuit->devices[d].type) == (MlNodalLaw) law)
          circuit->by_law[n++] = d;
    }
  circuit->law_start[ML_NODAL_N_LAWS] = n;
  return true;
}

MlNodalStatus
ml_nodal_circuit_finish (MlNodalCircuit *circuit)
{
  if (circuit->finished)
    return ML_NODAL_BAD_ARGUMENT;
  circuit->node = calloc ((size_t) circuit->n_locals + 1, sizeof *circuit->node);
  circuit->position = calloc ((size_t) circuit->n_positions + 1, sizeof *circuit->position);
  if (!circuit->node || !circuit->position)
    return ML_NODAL_NO_MEMORY;
  number_unknowns (circuit);
  circuit->column = calloc ((size_t) circuit->n_unknowns + 1, sizeof *circuit->column);
  circuit->diagonal = calloc ((size_t) circuit->n_unknowns + 1, sizeof *circuit->diagonal);
  if (!circuit->column || !circuit->diagonal || !build_pattern (circuit) || !list_by_rows (circuit) || !sort_by_law (circuit))
    return ML_NODAL_NO_MEMORY;
  for (int u = 0; u < circuit->n_unknowns; u++)
    circuit->diagonal[u] = ml_nodal_circuit_entry (circuit, u, u);
  for (int d = 0; d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      const int *node = circuit->node + device->first_local;
      int n = ml_nodal_type_n_local (device->type);
      for (int r = 0; r < n; r++)
        for (int c = 0; c < n; c++)
          circuit->position[device->first_position + r * n + c] = ml_nodal_circuit_entry (circuit, node[r], node[c]);
    }
  circuit->finished = true;
  return ML_NODAL_OK;
}

int
ml_nodal_circuit_n_nets (const MlNodalCircuit *circuit)
{
  return circuit->n_nets;
}

int
ml_nodal_circuit_n_devices (const MlNodalCircuit *circuit)
{
  return circuit->n_devices;
}

int
ml_nodal_circuit_n_pins (const MlNodalCircuit *circuit)
{
  return circuit->n_pins;
}

int
ml_nodal_circuit_first_pin (const MlNodalCircuit *circuit, int device)
{
  return circuit->devices[device].first_pin;
}

int
ml_nodal_circuit_pin_net (const MlNodalCircuit *circuit, int device, int pin)
{
  return circuit->pin_net[circuit->devices[device].first_pin + pin];
}

double
ml_nodal_circuit_parameter (const MlNodalCircuit *circuit, int device, int parameter)
{
  return circuit->parameters[circuit->devices[device].first_parameter + parameter];
}

const MlNodalType *
ml_nodal_circuit_type (const MlNodalCircuit *circuit, int device)
{
  return circuit->devices[device].type;
}
