/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a circuit holds; private to the engine. */
#pragma once

#include "nodal/device.h"

typedef struct
{
  const MlNodalType *type;
  int nets[ML_NODAL_MAX_LOCAL]; /* -1: open */
  double parameters[ML_NODAL_MAX_PARAMETERS];
  double derived[ML_NODAL_MAX_DERIVED];
  unsigned open;                /* elements opened */
  int first_pin, first_inner;   /* among all pins, all inner unknowns */
  int coil;                     /* the device that drives it, -1 */
} MlNodalDevice;

struct MlNodalCircuit
{
  int n_nets, n_devices, n_pins, n_inner;
  int room;
  MlNodalDevice *devices;
  signed char *prefer; /* per net, n_prefer entries */
  int n_prefer;
  bool finished;
};

/** ml_nodal_device_prepare: derived quantities anew after a parameter changed. */
void ml_nodal_device_prepare (MlNodalDevice *device);
