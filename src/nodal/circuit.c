/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/circuit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *
ml_nodal_status_text (MlNodalStatus status)
{
  switch (status)
    {
    case ML_NODAL_OK: return "solved";
    case ML_NODAL_AMBIGUOUS: return "solved, but more than one state is possible";
    case ML_NODAL_NO_MEMORY: return "not enough memory";
    case ML_NODAL_SINGULAR: return "nothing determines a voltage or current: a loop of ideal sources or links";
    case ML_NODAL_NOT_CONVERGED: return "the operating point would not settle";
    case ML_NODAL_BAD_ARGUMENT: return "a net, device, pin or parameter that the circuit does not have";
    }
  return "unknown status";
}

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
  free (circuit->prefer);
  free (circuit);
}

int
ml_nodal_circuit_add_net (MlNodalCircuit *circuit)
{
  return circuit->finished ? (int) ML_NODAL_BAD_ARGUMENT : circuit->n_nets++;
}

void
ml_nodal_device_prepare (MlNodalDevice *device)
{
  if (device->type->prepare)
    device->type->prepare (device->parameters, device->derived);
}

static bool
make_room (MlNodalCircuit *circuit)
{
  int room = circuit->room ? 2 * circuit->room : 32;
  MlNodalDevice *devices;

  if (circuit->n_devices < circuit->room)
    return true;
  devices = realloc (circuit->devices, (size_t) room * sizeof *devices);
  if (!devices)
    return false;
  circuit->devices = devices;
  circuit->room = room;
  return true;
}

int
ml_nodal_circuit_add_device (MlNodalCircuit *circuit, const MlNodalType *type, const int *nets, const double *parameters)
{
  MlNodalDevice *device;

  if (circuit->finished || !type)
    return ML_NODAL_BAD_ARGUMENT;
  for (int k = 0; k < type->n_pins; k++)
    if (nets[k] < -1 || nets[k] >= circuit->n_nets)
      return ML_NODAL_BAD_ARGUMENT;
  for (int k = 0; k < type->n_parameters; k++)
    if (isnan (parameters[k]))
      return ML_NODAL_BAD_ARGUMENT;
  if (!make_room (circuit))
    return ML_NODAL_NO_MEMORY;
  device = &circuit->devices[circuit->n_devices];
  memset (device, 0, sizeof *device);
  device->type = type;
  device->coil = -1;
  device->first_pin = circuit->n_pins;
  device->first_inner = circuit->n_inner;
  memcpy (device->nets, nets, (size_t) type->n_pins * sizeof *nets);
  memcpy (device->parameters, parameters, (size_t) type->n_parameters * sizeof *parameters);
  ml_nodal_device_prepare (device);
  circuit->n_pins += type->n_pins;
  circuit->n_inner += type->n_inner;
  return circuit->n_devices++;
}

MlNodalStatus
ml_nodal_circuit_drive (MlNodalCircuit *circuit, int device, int coil)
{
  if (device < 0 || device >= circuit->n_devices || coil < 0 || coil >= circuit->n_devices
      || strcmp (circuit->devices[device].type->word, "contact") != 0 || strcmp (circuit->devices[coil].type->word, "coil") != 0)
    return ML_NODAL_BAD_ARGUMENT;
  circuit->devices[device].coil = coil;
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_circuit_prefer (MlNodalCircuit *circuit, int net, int high)
{
  if (net < 1 || net >= circuit->n_nets)
    return ML_NODAL_BAD_ARGUMENT;
  if (net >= circuit->n_prefer)
    {
      signed char *prefer = realloc (circuit->prefer, (size_t) circuit->n_nets);
      if (!prefer)
        return ML_NODAL_NO_MEMORY;
      memset (prefer + circuit->n_prefer, 0, (size_t) (circuit->n_nets - circuit->n_prefer));
      circuit->prefer = prefer;
      circuit->n_prefer = circuit->n_nets;
    }
  circuit->prefer[net] = high > 0 ? 1 : high < 0 ? -1 : 0;
  return ML_NODAL_OK;
}

MlNodalStatus
ml_nodal_circuit_finish (MlNodalCircuit *circuit)
{
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

double
ml_nodal_circuit_parameter (const MlNodalCircuit *circuit, int device, int parameter)
{
  return circuit->devices[device].parameters[parameter];
}

const MlNodalType *
ml_nodal_circuit_type (const MlNodalCircuit *circuit, int device)
{
  return circuit->devices[device].type;
}
