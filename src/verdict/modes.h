/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be wrong with a board: every hypothesis with its fault, its grid of sizes and its share of the prior. */
#pragma once

#include "verdict/model.h"

G_BEGIN_DECLS

typedef struct
{
  double size;     /* in the fault's own measure; NAN when it has none */
  double spread;   /* in ln size; 0 when it has none */
  double share;    /* of the hypothesis' prior; all cells sum to 1 */
} MlCell;

typedef struct
{
  MlExplains explains;
  MlFault fault;   /* part -1 and kind ML_N_FAULTS for healthy */
  double prior;    /* all hypotheses with misfit sum to 1 */
  MlCell *cells; guint n_cells;
  gboolean late;   /* one of very many: not in the dictionary before the final stage asks for it */
  int twin;        /* an earlier hypothesis with the same circuit as seen from the solder (the other pin's joint of a two-pin part); -1 */
} MlHypothesis;

/** ml_modes_list: healthy first, then every part's faults in the order of the board, then those of no part, then drawing slips, the late
 *  ones last. Elements are MlHypothesis, freed with the array. */
GArray *ml_modes_list (const MlModel *model);
/** ml_modes_net_of_pad: the net at a pad of a picture, -1 when its pin is open or not known. */
int ml_modes_net_of_pad (const MlBoard *board, const MlPad *pad);
/** ml_modes_list_links: appends stray links and broken tracks, by weight among the faults. */
void ml_modes_list_links (GArray *list, const MlModel *model);
/** ml_modes_new_slip: of that weight among its class; its further fields to be filled in. */
MlHypothesis ml_modes_new_slip (MlFaultKind kind, int part, double weight);
/** ml_modes_list_slips: appends what may be drawn wrongly, each with its prior. */
void ml_modes_list_slips (GArray *list, const MlModel *model);
/** ml_modes_list_late_slips: appends those that are very many, with their priors, which are part of the misfit's. */
void ml_modes_list_late_slips (GArray *list, const MlModel *model);
/** ml_modes_list_wrong_nets: appends every pin on every net where somebody may have overlooked it to be. */
void ml_modes_list_wrong_nets (GArray *list, const MlModel *model);
/** ml_modes_main_parameter: what HIGH and LOW scale: "resistance", "voltage"; NULL when the kind has none. */
const char *ml_modes_main_parameter (MlKind kind);
/** ml_modes_reversal: pins as they lie when a part with more than two pins is fitted turned round; FALSE when that is not one order. */
gboolean ml_modes_reversal (const MlNodalType *type, int *permutation);

G_END_DECLS
