/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A second circuit solver, apart from the program's own: dense, node voltages and supply currents, damped Newton, LAPACK's LU.
 * It shares no line with src/nodal, so that the program is not its own witness. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

typedef enum
{
  ML_LAW_RESISTOR,   /* a b;      p: ohm */
  ML_LAW_JUNCTION,   /* a k;      p: saturation current, n Vt, leak ohm */
  ML_LAW_BREAKDOWN,  /* a k;      p: voltage, current at it, n Vt */
  ML_LAW_TRANSISTOR, /* c b e;    p: saturation current, Vt, gain, reverse gain, Early voltage, +1 npn -1 pnp */
  ML_LAW_FET,        /* d g s;    p: threshold, A/V2, +1 n -1 p */
  ML_LAW_SUPPLY,     /* plus minus; p: voltage, limit */
  ML_LAW_SINK,       /* plus minus; p: current, taken while there is voltage */
  ML_LAW_SOURCE,     /* plus minus; p: current, compliance voltage */
  ML_LAW_REGULATOR,  /* in out ground; p: voltage, dropout, quiescent, limit */
  ML_LAW_GATED,      /* a b supply ground; p: ohm, share left when unpowered, voltage needed */
  /* truth-chips.c */
  ML_LAW_AMPLIFIER,  /* plus minus out positive negative; p: offset, gain, lost below positive, lost above negative, output ohm, output limit, input current,
                        its room: no input current any closer to the supply that it comes from */
  ML_LAW_COMPARATOR, /* the same nodes; p: offset, sinking ohm, sinking limit, sourcing ohm, sourcing limit (0: it only sinks), input current, its
                        room */
  ML_LAW_SHUNT,      /* cathode anode reference; p: voltage, slope ohm, reference pin's current */
  ML_LAW_COUPLER,    /* anode cathode collector emitter; p: saturation current, n Vt, ratio */
  ML_LAW_CONVERTER,  /* in out ground; p: voltage, efficiency, limit, start, quiescent */
  ML_LAW_VARISTOR,   /* a b; p: voltage at 1 mA, exponent */
  ML_LAW_FILAMENT,   /* a b; p: voltage, hot ohm */
  /* between the two phases of a chopped circuit, a b in the one, a b in the other; p: share of the time of the first, ohm */
  ML_LAW_HELD,       /* a large capacitor: the same voltage in both phases, no current on average beside its leak */
  ML_LAW_WOUND       /* a large coil: the same current in both phases, on average the voltage that its resistance takes */
} MlTruthLaw;

#define ML_ELEMENT_NODES 5
#define ML_ELEMENT_FIGURES 8

typedef struct
{
  MlTruthLaw law;
  int node[ML_ELEMENT_NODES];      /* 0 is the reference */
  double p[ML_ELEMENT_FIGURES];    /* SI */
  int branch;                      /* supply, held, wound: index of its current; else -1 */
  double held[4];                  /* what its step was limited at: junction voltages; a chip's drive, what its output pushes, room at its inputs */
  int forced;                      /* comparator: +1, -1 while its output is held high, low */
} MlTruthElement;

typedef struct
{
  GArray *elements; /* MlTruthElement */
  int n_nodes;      /* with the reference */
  int n_branches;
} MlTruthNetwork;

void ml_truth_network_init (MlTruthNetwork *network);
void ml_truth_network_clear (MlTruthNetwork *network);
int ml_truth_network_node (MlTruthNetwork *network);
/** ml_truth_network_add: nodes and figures as the law lists them; returns the element's index. */
int ml_truth_network_add (MlTruthNetwork *network, MlTruthLaw law, const int *nodes, const double *figures);

/** ml_truth_network_size: unknowns: node voltages without the reference, then supply currents. */
int ml_truth_network_size (const MlTruthNetwork *network);

/**
 * ml_truth_network_solve: the operating point. x: ml_truth_network_size () entries, the start and, when TRUE is returned, the solution.
 * Units: V, A. Errors: FALSE when neither Newton from the start, nor with a leak taken away in steps, nor with the supplies raised in
 * steps settles; x is then undefined.
 */
gboolean ml_truth_network_solve (MlTruthNetwork *network, double *x);

/* The equations about an operating point, taken apart once for many places. */
typedef struct { int n; double *jacobian; int *pivots; } MlTruthFactors;
/** ml_truth_network_factor: x: a solution. FALSE when the equations are singular there; nothing is then to be cleared. */
gboolean ml_truth_network_factor (MlTruthNetwork *network, const double *x, MlTruthFactors *ret_factors);
void ml_truth_factors_clear (MlTruthFactors *factors);
/** ml_truth_factors_ohm: the small-signal resistance between two nodes. */
double ml_truth_factors_ohm (const MlTruthFactors *factors, int node_a, int node_b);

static inline double
ml_truth_at (const double *x, int node)
{
  return node ? x[node - 1] : 0;
}

G_END_DECLS
