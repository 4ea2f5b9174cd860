/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A board as circuits of the engine, one per condition, with the same devices in the same order for the parts; and its unknowns:
 * every part parameter that is only known up to a spread. */
#pragma once

#include <gio/gio.h>

#include "board/parameters.h"
#include "job/job.h"
#include "nodal/nodal.h"
#include "verdict/carried.h"
#include "verdict/chopped.h"
#include "verdict/verdict.h"

G_BEGIN_DECLS

/* One uncertain parameter: p = centre + spread u, or centre exp (shift + spread u) when log; shift only for block conductances.
 * u = sqrt (1 - shared) z[own] + sqrt (shared) z[group]; all z ~ N(0,1). */
typedef struct
{
  int device, parameter;
  int part;        /* -1: a supply or load */
  int condition;   /* -1: the same in all */
  double centre, spread, most; /* most: as in MlParameter */
  gboolean log;
  gboolean block;  /* a block's conductance: centre is moved by the node */
  gboolean signal; /* and it is that of a pin which is neither its supply nor its ground */
  gboolean high;   /* signal: towards the block's supply, not its ground */
  gboolean chopped; /* an average current of a chopped net, none while nothing switches */
  gboolean leak;   /* a leakage current at a net: only ever linear about 0, since a floating net bears none without a meter */
  double shared;
  int group;       /* index of the shared z, -1 when the part has no like */
  double carried;  /* share common to a good unit, 0..1 */
  int deviation;   /* of a block: its column for what this unit does otherwise than the good one; -1 */
} MlUnknown;

typedef struct
{
  MlNodalCircuit *circuit; /* NULL when the engine refused it; status says why */
  MlNodalSolver *solver;
  MlNodalStatus status;
  int *net_of;             /* [board->n_nets]: the engine's net */
  int *supply_device;      /* [condition's supplies] */
  MlNodalParameterRef *refs; guint n_refs; /* the unknowns that act in this condition … */
  guint *unknown;                          /* … and which they are */
  double *sway;                            /* n_refs: how far one standard deviation takes that parameter from its centre */
  guint *block; guint n_blocks;            /* those of the unknowns that are blocks' */
  double span_v;           /* sum of the supplies */
  int low, high;           /* the engine's nets between which chopped nets stay */
  double rails_v;          /* sum of supplies and batteries; 0: nothing can switch here */
} MlModelCondition;

/* A net wanted high (+1) or low (-1) in that condition: which of several states is meant there. */
typedef struct { int condition, net, high; } MlPreferred;

typedef struct { int device, pin; } MlDevicePin; /* device -1: the pin is in no device */

typedef struct
{
  MlBoard *board;
  MlModelCondition *conditions; /* board->n_conditions */
  int *first_device;            /* per part, -1: none (connector, kinds the engine does not simulate) */
  MlDevicePin **pins;           /* [part][pin] */
  int **block_current;          /* [part][pin]: a block's current source at that pin, -1; NULL for other kinds */
  MlUnknown *unknowns; guint n_unknowns;
  guint n_groups;
  guint n_z;                    /* n_unknowns + n_groups */
  guint n_levels;               /* of the blocks' conductances: 3 with unknown blocks, else 1 */
  double node_step, input_ohm;  /* what is assumed of blocks, looked up once: asked at every parameter of every prediction */
  guint32 *runs; guint n_states; /* bit c of a state: condition c is switching; the first: wherever it can, the second: nowhere */
  guint n_nodes;                /* what unknown chips may be doing: state by state the levels */
  gboolean *removed;            /* per part: removed on this unit */
  gboolean any_switching;       /* a switching net somewhere */
  MlChopped *chopped;
  int *free_current;            /* per part: device of its first free average current, the others behind it; -1 */
  guint n_deviations;           /* columns of deviation */
  GArray *preferred;            /* MlPreferred, NULL: none: in which of several states this unit rests */
  MlCarried *carried;           /* from good units; NULL: none. The z of expansions are then its w */
} MlModel;

/* How one unit differs from the board as drawn. */
typedef struct
{
  const MlUnitOnBench *unit; /* NULL: as drawn */
  guint pass;
  double *supply_v;          /* NULL, or per condition and supply (in order) the voltage in place of the board's; NAN keeps it */
  GArray *preferred;         /* MlPreferred, NULL: none; beside what the board file prefers */
} MlVariant;

MlModel *ml_model_new (MlBoard *board, const MlVariant *variant);
void ml_model_free (MlModel *model);
/** ml_model_carry: takes what good units tell; before the dictionary is made. */
void ml_model_carry (MlModel *model, MlCarried *carried);
/** ml_model_block_spread: of a block's conductance, in ln, its nodes included. */
double ml_model_block_spread (const MlModel *model, guint unknown);
/** ml_model_pin_volts: at the blocks' pins of one condition, part after part; NAN where there is none. New array; NULL: no blocks. */
double *ml_model_pin_volts (const MlModel *model, int condition, const MlNodalSolution *at);

/** ml_model_point: where a probe stands in that condition's circuit; FALSE when nowhere. */
gboolean ml_model_point (const MlModel *model, int condition, const MlProbe *probe, MlNodalPoint *ret_point);
/** ml_model_supply_index: place of that condition's supply in MlVariant.supply_v. */
guint ml_model_supply_index (const MlBoard *board, int condition, int supply);
/** ml_model_type: the engine's type of a part, NULL when it is not simulated as one device. */
const MlNodalType *ml_model_type (const MlModel *model, int part);
/** ml_model_level: of the blocks' conductances at that node; ml_model_usual: the node where chips are in the middle and switch wherever they can;
 *  ml_model_middle: the one in the middle that switches as `node` does. */
guint ml_model_level (const MlModel *model, guint node);
guint ml_model_usual (const MlModel *model);
guint ml_model_middle (const MlModel *model, guint node);
/** ml_model_runs: whether that node has the condition switching. */
gboolean ml_model_runs (const MlModel *model, guint node, int condition);
/** ml_model_state_share: share of a state in a hypothesis' prior; all of them sum to 1. */
double ml_model_state_share (const MlModel *model, MlExplains explains, MlFaultKind kind, guint state);
/** ml_model_node_shift: by how much an unknown's z is another one at node `to` for the same value as at `from`. */
double ml_model_node_shift (const MlModel *model, guint unknown, guint from, guint to);
/** ml_model_input_z: where the z of a chip's pin is, towards a rail, when it takes no current; ml_model_is_input: whether it is there (z NULL: no). A pin
 *  that is put there stays there: no slope is taken in it. */
double ml_model_input_z (const MlModel *model, guint unknown, guint node);
gboolean ml_model_is_input (const MlModel *model, guint unknown, const double *z, guint node);
/** ml_model_parameter_value: the unknown's value at z (NULL: all 0) and that node. */
double ml_model_parameter_value (const MlModel *model, guint unknown, const double *z, guint node);

/* ---- changes: what differs from the healthy circuit ---- */

typedef struct
{
  GArray *array;    /* MlNodalChange */
  GPtrArray *owned; /* permutations */
} MlChanges;

MlChanges *ml_changes_new (void);
void ml_changes_free (MlChanges *changes);
void ml_changes_clear (MlChanges *changes);
void ml_changes_add (MlChanges *changes, MlNodalChangeKind kind, int device, int index, int index_b, double value);
/** ml_changes_add_unknowns: the parameters of that condition at z (NULL: centres) and node. */
void ml_changes_add_unknowns (MlChanges *changes, const MlModel *model, int condition, guint node, const double *z);
/** ml_changes_add_fault: errors: ML_JUDGE_ERROR_BAD_SUPPOSE, ML_JUDGE_ERROR_NOT_SIMULATED. ret_sized (may be NULL): index of the change whose value is the size, -1. */
gboolean ml_changes_add_fault (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, int *ret_sized,
                               GError **error);
/** ml_changes_add_switching: free average currents at z (NULL: centres), so many times more (per unknown; NULL: once), and their parts' own law out of
 *  the way; faults[n]: of the same state. */
void ml_changes_add_switching (MlChanges *changes, const MlModel *model, int condition, guint node, const double *z, const double *more,
                               const MlFault *const *faults, guint n);
/** ml_model_most_amps: of a free average current, what its net can give at most with these changes added; 0 when that could not be computed. */
double ml_model_most_amps (const MlModel *model, guint unknown, const MlChanges *added);
/** ml_model_is_free: whether a free average current flows there: the node has it switching, and no fault of these takes its part out of it. */
gboolean ml_model_is_free (const MlModel *model, guint unknown, guint node, const MlFault *const *faults, guint n);
/** ml_changes_add_free_joint: the joint also in the way of the part's free current; FALSE when there is none. */
gboolean ml_changes_add_free_joint (MlChanges *changes, const MlModel *model, int condition, guint node, const MlFault *fault);
/** ml_changes_lift: the legs that a reading's probes find lifted, off their pads. */
void ml_changes_lift (MlChanges *changes, const MlModel *model, const MlProbe *red, const MlProbe *black);

G_END_DECLS
