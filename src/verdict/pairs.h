/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Explanations with two faults at once, or with a fault on a board that is drawn wrongly. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

struct _MlPair
{
  guint first, second; /* items of two single faults, or of one and a slip of the drawing, in any order */
  double ln, ln_prior;
  double blunt;        /* ln with every reading blunted, where it was first solved */
  double probability;
  gboolean fitted;     /* relinearised at its fit */
  guint id;            /* of its explanation, 0 when it has none */
  MlExpansion *at;     /* both at once */
};

GArray *ml_pairs_new (void);
void ml_pairs_free (MlDictionary *dictionary, GArray *pairs);
/** ml_case_find_pairs: into own->pairs, when the single faults leave something unexplained; probabilities follow. After ml_case_misread. Errors: cancelled. */
gboolean ml_case_find_pairs (MlCase *own, GCancellable *cancellable, GError **error);
/** ml_pair_is_drawn: whether one of the two is a slip of the drawing. */
gboolean ml_pair_is_drawn (const MlCase *own, const MlPair *pair);
/** ml_case_refine_pair: relinearises it at its fit; ln and at follow. */
void ml_case_refine_pair (MlCase *own, MlPair *pair);
/** ml_case_leader: where the likeliest explanation, single or pair, was last linearised. */
MlExpansion *ml_case_leader (const MlCase *own);
/** ml_case_pair_probability: of all pairs of faults together. */
double ml_case_pair_probability (const MlCase *own);

G_END_DECLS
