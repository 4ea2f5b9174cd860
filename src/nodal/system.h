/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One circuit with its changes as a system of equations: which unknowns there are, which node each pin's metal is, and the sparse
 * Jacobian. Private to the engine.
 *
 * Unknowns: voltages of the nodes 1 … n_nodes-1 (nets, then metal behind joints and opens, then spare nets), inner unknowns of the
 * devices, currents of the extra branches (shorts, links, the meter's own). A pin's joint is an extra branch as well. */
#pragma once

#include <suitesparse/klu.h>

#include "nodal/circuit.h"

typedef struct
{
  int a, b;        /* nodes */
  double ohm;      /* 0: exact short; the branch current is an unknown of its own */
  double test_a;   /* with compliance_v > 0: a meter's test source into a, out of b, instead of the resistance */
  double compliance_v;
  int change;      /* which change it stands for, -1 */
} MlNodalBranch;

#define ML_NODAL_MAX_BRANCHES 256

typedef struct
{
  const MlNodalCircuit *circuit;
  /* with the changes */
  MlNodalDevice *devices;      /* circuit's devices, copied */
  int *node;                   /* n_pins: node of the pin's metal */
  MlNodalBranch branches[ML_NODAL_MAX_BRANCHES];
  int n_branches;
  int n_nodes, n_unknowns;
  int *tie;                    /* n_nodes: node that an undetermined node is tied to, -1: determined */
  double *leak;                /* n_nodes: conductance of that tie */
  bool *floating;              /* n_nodes */
  /* equations */
  double *x, *old, *residual, *step, *scratch;
  bool *limited;               /* n_devices */
  double *linearised;          /* per pin and inner: where the device was last linearised */
  bool has_linearised;
  /* matrix, compressed columns */
  int n_entries, entry_room;
  int *key_row, *key_column;   /* of the assembled entries, in assembly order */
  int *slot;                   /* where each goes in values */
  int *column_start, *row;
  double *values;
  int pattern_n, pattern_entries; /* the pattern that symbolic belongs to */
  klu_common common;
  klu_symbolic *symbolic;
  klu_numeric *numeric;
  /* homotopy */
  double leak_all, pull;
  double *pull_to;             /* n_unknowns: pseudo-transient */
  double link_ohm;             /* regularises loops of exact shorts */
  bool collecting;             /* assembling the pattern, not values */
  MlNodalCounts counts;
  int node_room, unknown_room;
} MlNodalSystem;

MlNodalStatus ml_nodal_system_init (MlNodalSystem *system, const MlNodalCircuit *circuit);
void ml_nodal_system_clear (MlNodalSystem *system);
/** ml_nodal_system_apply: nodes and branches of this variation, with a meter's own branch last (meter may be NULL), and its pattern. */
MlNodalStatus ml_nodal_system_apply (MlNodalSystem *system, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter);
/** ml_nodal_system_point: the node under a probe tip, -1 when the circuit has none such. */
int ml_nodal_system_point (const MlNodalSystem *system, const MlNodalPoint *point);
/** ml_nodal_system_scale_sources: all sources at this share of their value. */
void ml_nodal_system_scale_sources (MlNodalSystem *system, double scale);
/** ml_nodal_system_assemble: residual and Jacobian at x. Returns the largest branch current. */
double ml_nodal_system_assemble (MlNodalSystem *system);
/** ml_nodal_system_factor: ML_NODAL_SINGULAR when there is no solution. */
MlNodalStatus ml_nodal_system_factor (MlNodalSystem *system);
/** ml_nodal_system_solve: in place, transposed or not. */
void ml_nodal_system_solve (MlNodalSystem *system, double *b, bool transposed);
/** ml_nodal_system_local: a device's local unknowns from the vector x. */
void ml_nodal_system_local (const MlNodalSystem *system, int device, const double *x, double *local);
int ml_nodal_system_inner_row (const MlNodalSystem *system, int device);
int ml_nodal_system_branch_row (const MlNodalSystem *system, int branch);
