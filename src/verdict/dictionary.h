/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fault dictionary: every hypothesis at every size and node, solved once per condition, with the prediction of each reading asked
 * for and its slope in every unknown. What was computed is kept: one more reading costs only its own transposed solves. */
#pragma once

#include "verdict/modes.h"

G_BEGIN_DECLS

/* Where and with what something is read. */
typedef struct
{
  int condition;
  MlReads reads;
  MlProbe red, black;
  int supply;         /* amps: index in the condition, else -1 */
  guint plain;        /* in a dictionary: the same reading by nets alone; itself when no pin was named */
  double input_ohm, test_a, compliance_v;
} MlReadingPlace;

/* What the meter shows there, and the slopes in z; ohms are in ln ohm. Columns n_z and n_z + 1 are the sizes of the first and second
 * fault, those after them a misbehaving block's pin currents; then comes the meter's test current (ml_dictionary_test_column), then what blocks do
 * otherwise than on a good unit. */
typedef struct
{
  double value;
  gboolean valid; /* FALSE: could not be computed; value is then the last good one */
  double chopped; /* V or A per unit of ln ohm: how it hangs on what the unknown chips do, root of the sum of squares */
  guint n;
  gboolean lent;  /* column is that of another item's prediction there */
  gboolean in_room; /* all of it lies in the dictionary's room of the condition, and goes with it */
  guint *column;
  double *slope;  /* V, A or ln ohm per standard deviation */
} MlPrediction;

typedef struct
{
  guint hypothesis, cell, node;
  double share;   /* of the hypothesis' prior; all its items sum to 1 */
  int twin;       /* item with the same circuit seen from the solder; -1 */
  guint same;     /* the first item with the same circuits as seen from the nets; mostly itself */
} MlItem;

/* A state of affairs about which the readings are linear: one item, or two faults at once, at z. */
typedef struct
{
  int item, second;      /* second -1: none */
  double *z;             /* n_columns; NULL: all 0 */
  MlNodalSolution *at;   /* per condition, initialised when tried; may be packed: ml_expansion_at gives all of it */
  guint8 *state;         /* per condition: 0 not tried, 1 solved, 2 failed */
  GPtrArray *predictions; /* MlPrediction by place; NULL: not asked yet */
} MlExpansion;

/* The changes listed last in a condition, and whose they are. */
typedef struct
{
  MlChanges *changes;
  const MlExpansion *expansion; /* NULL: nobody's */
  int sized[2];
  gboolean done;
} MlBuilt;

typedef struct _MlRemembered MlRemembered; /* verdict/remember.h */
typedef struct _MlJudged MlJudged;         /* verdict/glance.h */

typedef struct
{
  MlModel *model;
  GArray *hypotheses; /* MlHypothesis */
  MlItem *items; guint n_items;
  guint n_early;      /* items before the first late one: what is always solved and weighed */
  gboolean prepared;  /* all of those are solved */
  guint n_columns;
  MlExpansion **expansions; /* per item */
  double **more;      /* per item, on the first of its cell's: how many times more each unknown average current is under the fault; NULL: not asked */
  GArray *places;     /* MlReadingPlace */
  MlChanges **centred; /* per condition and node: the unknowns at z = 0, with which most lists begin; NULL: not asked for … */
  double **centred_values; /* … and their values, one after the other of the condition's unknowns; NAN: not asked for yet */
  gboolean packs;     /* the solutions of a large board are kept packed */
  MlNodalRoom **rooms; /* per condition: the items' predictions lie there, and their solutions unless they are packed */
  MlNodalSolution looked_at; /* scratch of ml_expansion_look_at … */
  const MlExpansion *looked_at_of; /* … whose it is, and in which condition; NULL: nobody's */
  int looked_at_in;
  double misfit_prior; /* that the drawing cannot be right, the late slips apart */
  MlBuilt *built;     /* per condition: conditions are worked on side by side */
  MlRemembered *remembered; /* of the last case; NULL: none */
  MlJudged *judged;   /* what the last case that was refined came to; NULL: none */
  GArray *foreseen;   /* guint: places that were predicted before anything was read there … */
  gsize foreseen_bytes; /* … and about how much they hold */
} MlDictionary;

MlDictionary *ml_dictionary_new (MlModel *model); /* takes the model */
void ml_dictionary_free (MlDictionary *dictionary);
gboolean ml_dictionary_prepare (MlDictionary *dictionary, void (*progress) (double share, gpointer data), gpointer data,
                                GCancellable *cancellable, GError **error);
const MlHypothesis *ml_dictionary_hypothesis (const MlDictionary *dictionary, guint item);
/** ml_dictionary_test_column: the column of what the test current of a resistance range is beside what it is taken to be. Readings are linear in it about 0. */
guint ml_dictionary_test_column (const MlDictionary *dictionary);
/** ml_dictionary_place: the index of a place, adding it when new. */
guint ml_dictionary_place (MlDictionary *dictionary, const MlReadingPlace *place);
/** ml_dictionary_read_at: the place whose prediction serves for an item there: that of the nets alone, unless its fault moves a pin that was named. */
guint ml_dictionary_read_at (const MlDictionary *dictionary, guint item, guint place);
/** ml_dictionary_reads_as: whose solutions and predictions serve for an item at that place: a twin's, or those of what is the same circuit. */
MlExpansion *ml_dictionary_reads_as (const MlDictionary *dictionary, guint item, guint place);
/** ml_dictionary_predict: of an item, at its centre. */
const MlPrediction *ml_dictionary_predict (MlDictionary *dictionary, guint item, guint place);
/** ml_dictionary_predict_all: of several places, each as ml_dictionary_predict would, at a common cost. */
void ml_dictionary_predict_all (MlDictionary *dictionary, guint item, const guint *places, guint n);

/** ml_dictionary_predict_items: of several items and places. */
void ml_dictionary_predict_items (MlDictionary *dictionary, const guint *items, guint n_items, const guint *places, guint n);

/** ml_expansion_new: not solved yet. second -1: one item alone; z[n_columns] (may be NULL) is copied. */
MlExpansion *ml_expansion_new (const MlDictionary *dictionary, int item, int second, const double *z);
void ml_expansion_free (MlDictionary *dictionary, MlExpansion *expansion);
/** ml_expansion_solve: once; start (may be NULL: the healthy item of that node) gives the solution that Newton begins from. FALSE: it does not solve. */
gboolean ml_expansion_solve (MlDictionary *dictionary, MlExpansion *expansion, int condition, const MlExpansion *start);
/** ml_expansion_at: the solution of a condition that is solved, with its pins; it stays unpacked. */
const MlNodalSolution *ml_expansion_at (MlDictionary *dictionary, MlExpansion *expansion, int condition);
/** ml_expansion_look_at: the same for whoever looks at very many: valid until the next call. */
const MlNodalSolution *ml_expansion_look_at (MlDictionary *dictionary, MlExpansion *expansion, int condition);
/** ml_expansion_solve_lifted: the same with the legs lifted that the place's probes hold; to be cleared by the caller when TRUE. */
gboolean ml_expansion_solve_lifted (MlDictionary *dictionary, MlExpansion *expansion, const MlReadingPlace *place, MlNodalSolution *ret_at);
/** ml_expansion_predict_all: of several places, each as ml_expansion_predict would, at a common cost. */
void ml_expansion_predict_all (MlDictionary *dictionary, MlExpansion *expansion, const guint *places, guint n, const MlExpansion *start);
const MlPrediction *ml_expansion_predict (MlDictionary *dictionary, MlExpansion *expansion, guint place, const MlExpansion *start);

/** ml_reading_place_meter: the engine's meter for that place; FALSE when a probe stands nowhere. */
gboolean ml_reading_place_meter (const MlModel *model, const MlReadingPlace *place, MlNodalMeter *ret_meter);
/** ml_model_scatter_slope: d reading / d parameter into slopes per z, dense[n_z] and more. */
void ml_model_scatter_slope (const MlModel *model, guint unknown, double slope, const double *z, guint node, double *dense);

G_END_DECLS
