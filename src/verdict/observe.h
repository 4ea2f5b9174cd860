/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What eyes, ears and fingers tell: lit, dim, dark, warm, hot, clicks, silent, the supply limiting. Weighed beside the readings, but never
 * as strongly as one. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

/** ml_case_seen_ln: ln of the probability of this unit's observations under an expansion; 0 when there are none. start as in ml_case_weigh. */
double ml_case_seen_ln (MlCase *own, MlExpansion *expansion, const MlExpansion *start);
/** ml_case_n_seen: how many of this unit's observations are weighed. */
guint ml_case_n_seen (const MlCase *own);
/** ml_case_seen_misfit_ln: the same when the drawing is wrong. */
double ml_case_seen_misfit_ln (const MlCase *own);
/** ml_case_say_seen: reasons that observations give for an item against the sound board ("LED1 is seen dim (rest): 0.6 mA with this fault, 2.7 mA if all were fine"). */
void ml_case_say_seen (MlCase *own, guint item, GPtrArray *reasons);
/** ml_model_watts: what a part turns into heat or light in that condition, W; 0 when it is not simulated. */
double ml_model_watts (const MlModel *model, const MlNodalSolution *at, int condition, int part);
/** ml_model_is_limiting: whether a supply of that condition is in its current limit there. */
gboolean ml_model_is_limiting (const MlModel *model, const MlNodalSolution *at, int condition);
/** ml_expansion_on_usual_board: the same faults on a board of usual values; new. NULL when it is so already, and beside a good unit: then that tells. */
MlExpansion *ml_expansion_on_usual_board (const MlDictionary *dictionary, const MlExpansion *expansion);

G_END_DECLS
