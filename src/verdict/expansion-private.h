/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: how a state of affairs becomes changes of a circuit. */
#pragma once

#include "verdict/dictionary.h"

G_BEGIN_DECLS

/** ml_expansion_faults: those that it has; how many, 1 or 2. */
guint ml_expansion_faults (const MlDictionary *dictionary, const MlExpansion *expansion, const MlFault *ret_faults[2]);
/** ml_expansion_add_item_fault: the fault of an item at its cell's size, moved by z; *ret_sized: the change that carries it, -1. FALSE: not simulated. */
gboolean ml_expansion_add_item_fault (const MlDictionary *dictionary, MlChanges *changes, int item, int condition, double z, int *ret_sized);
/** ml_expansion_list_changes: what differs from the healthy circuit at its centre, into changes; ret_sized: the changes that carry the sizes, -1. FALSE: not simulated. */
gboolean ml_expansion_list_changes (MlDictionary *dictionary, MlChanges *changes, const MlExpansion *expansion, int condition, int ret_sized[2]);
/** ml_expansion_build_changes: the same into dictionary->built, unless they are there already. */
gboolean ml_expansion_build_changes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, int ret_sized[2]);
/** ml_expansion_find_start: where Newton begins; start may be NULL. NULL: from nothing. */
const MlNodalSolution *ml_expansion_find_start (MlDictionary *dictionary, const MlExpansion *expansion, int condition, const MlExpansion *start);
/** ml_dictionary_room: for what stays as long as the dictionary, one per condition: they are worked on side by side. */
MlNodalRoom *ml_dictionary_room (MlDictionary *dictionary, int condition);
/** ml_expansion_stays: whether it is an item's own, as long as the dictionary. */
gboolean ml_expansion_stays (const MlDictionary *dictionary, const MlExpansion *expansion);
/** ml_expansion_make_room: for that condition's solution, not solved as yet. */
void ml_expansion_make_room (MlDictionary *dictionary, MlExpansion *expansion, int condition);
/** ml_expansion_make_packed_room: the same of an item of a dictionary that packs. */
void ml_expansion_make_packed_room (MlDictionary *dictionary, MlExpansion *expansion, int condition);
/** ml_expansion_unknowns: its z, NULL when all are 0; with a good unit's company found from its w and the blocks' deviations. *ret_own: to be freed. */
const double *ml_expansion_unknowns (MlDictionary *dictionary, const MlExpansion *expansion, int condition, double **ret_own);
/** ml_expansion_carry_slopes: slopes in z, dense[n_columns], become slopes in w and in the blocks' deviations. */
void ml_expansion_carry_slopes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, double *dense);
/** ml_expansion_go_side_by_side: has all at hand that its conditions share, so that each can be solved and read on a thread of its own. */
void ml_expansion_go_side_by_side (MlDictionary *dictionary, MlExpansion *expansion);
/** ml_expansion_find_more: what ml_expansion_more asks for, which takes the solvers of all conditions. */
void ml_expansion_find_more (MlDictionary *dictionary, const MlExpansion *expansion);
/** ml_expansion_more: how many times more a free average current is under its faults; 1 or above. */
double ml_expansion_more (MlDictionary *dictionary, const MlExpansion *expansion, guint unknown);

/** ml_dictionary_neighbours: where Newton begins when the healthy point is too far away: the same fault where chips do what they usually do, and its
 *  next smaller size, as far as these are solved themselves; NULL behind the last. */
void ml_dictionary_neighbours (const MlDictionary *dictionary, guint item, int condition, MlExpansion *ret_neighbours[ML_NODAL_MOST_ALSO]);
/** ml_dictionary_find_same: for each item the first one with the same circuits. */
void ml_dictionary_find_same (MlDictionary *dictionary);

G_END_DECLS
