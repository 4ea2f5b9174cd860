/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Circuits of the laws written again, solved by GSL's hybrid method of Powell (gsl_multiroot, hybridsj). */
#pragma once

#include "support/second-laws.h"

#define ML_SECOND_MOST 240 /* unknowns */
#define ML_SECOND_PARTS 120

typedef struct
{
  const MlSecondKind *kind;
  double p[ML_SECOND_PARAMETERS];
  unsigned open;
  int node[ML_SECOND_LOCAL]; /* of the pins and, filled in by ml_second_finish, the branch currents */
  int coil;                  /* part that drives it, or -1 */
} MlSecondPart;

/* A resistance between two nodes; 0 is exact, INFINITY carries nothing. */
typedef struct
{
  int a, b, current;
  double ohm;
} MlSecondJoin;

typedef struct
{
  int n_nodes, n_parts, n_joins, n; /* node 0 is the reference; n: unknowns with it */
  MlSecondPart parts[ML_SECOND_PARTS];
  MlSecondJoin joins[4];
  bool held[ML_SECOND_MOST]; /* nothing determines this node: it stays where it is */
} MlSecondCircuit;

/** ml_second_finish: numbers the branch currents behind the nodes. */
void ml_second_finish (MlSecondCircuit *circuit);
/** ml_second_residual: f[n]: what leaves each node, and the branch equations; ret_largest: the largest current into a pin. */
void ml_second_residual (const MlSecondCircuit *circuit, const long double *x, long double *f, long double *ret_largest);
/** ml_second_hold_loose: holds the nodes whose row the circuit leaves empty at x (a gate whose lead is open). */
void ml_second_hold_loose (MlSecondCircuit *circuit, const long double *x);
/**
 * ml_second_solve: from x; with a leak from every node to the reference that starts at leak_s and is taken away in steps of ten (0: none).
 * False when GSL stops short of a root, or when the root is not sharp enough to compare with.
 */
bool ml_second_solve (const MlSecondCircuit *circuit, double leak_s, long double *x);
/**
 * ml_second_solve_from_nothing: by SUNDIALS' KINSOL with line search, all nodes at zero to begin with (held ones at x). ways: a leak taken away in
 * steps (0); the sources brought up from nothing beside a small (1) or large leak (3); every node held to where it was by a conductance,
 * large (2) or small (4) at first, that fades. False when that way does not end at a root that is sharp enough.
 */
#define ML_SECOND_WAYS 5
bool ml_second_solve_from_nothing (const MlSecondCircuit *circuit, int way, long double *x);
