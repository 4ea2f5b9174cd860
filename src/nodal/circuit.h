/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of a circuit. Unknown 0 is the reference (always zero volts); 1..n_nodes-1 are node voltages: first the nets, then a private
 * node for each pin left open; from n_nodes on the devices' inner unknowns. Matrix column c belongs to unknown c + 1. */
#pragma once

#include "nodal/device.h"

typedef struct
{
  const MlNodalType *type;
  int first_pin, first_local, first_position, first_parameter, first_derived;
  int first_inner; /* unknown number of its first inner unknown */
  int coil;        /* the device that drives it, or -1 */
} MlNodalDevice;

/* What assembling has to do for a device. */
typedef enum
{
  ML_NODAL_LAW_CONDUCTANCE, /* ML_NODAL_CONDUCTANCE */
  ML_NODAL_LAW_CURRENT,     /* ML_NODAL_CURRENT */
  ML_NODAL_LAW_BRANCH,      /* linear, with currents among its unknowns */
  ML_NODAL_LAW_OTHER,       /* to be evaluated */
  ML_NODAL_N_LAWS
} MlNodalLaw;

struct MlNodalCircuit
{
  bool finished;
  int n_nets, n_nodes, n_unknowns; /* each with the reference */
  int n_devices, n_pins, n_locals, n_positions, n_parameters, n_derived;
  int n_latching; /* contacts that follow a coil, devices that latch */
  int n_amplifiers; /* whose output can be put */
  int n_stateful; /* those, and what is set in one of two positions */
  int device_room, pin_room, parameter_room, net_room;
  MlNodalDevice *devices;
  int *pin_net;       /* n_pins, as given */
  double *parameters; /* n_parameters */
  int *prefer;        /* n_nets: +1, -1, 0 */
  int n_preferred;
  /* after finish */
  int *node;      /* n_locals: unknown of each local unknown of each device */
  int *position;  /* n_positions: where each entry of each device's Jacobian goes among the matrix values; n_entries for none */
  int n_entries;
  int *column;    /* n_unknowns: compressed columns */
  int *row;       /* n_entries, sorted in each column */
  int *diagonal;  /* n_unknowns: position of the diagonal entry; [0] = n_entries */
  int *row_start; /* n_unknowns: the same entries by rows: where in the two below */
  int *row_entry, *row_column; /* n_entries */
  int *by_law;    /* n_devices: sorted by what assembling has to do for them */
  int law_start[ML_NODAL_N_LAWS + 1];
};

/** ml_nodal_circuit_entry: position of (row, column), unknown numbers; n_entries when the pattern has none or either is 0. */
int ml_nodal_circuit_entry (const MlNodalCircuit *circuit, int row, int column);
