/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be told apart while values that nobody could read may be anything usual: two states of a board are one when some such values make their
 * readings equal. Pins of unknown chips do what the truth program knows them to do. */
#pragma once

#include "support/truth-case.h"

G_BEGIN_DECLS

typedef struct _MlTruthLoose MlTruthLoose;

/** ml_truth_loose_new: unread are the resistors and zeners with a value on `actual` and none on `drawn`, and regulators that are drawn as blocks.
 *  beside_good: the same readings of a good unit with the same nominal values are at hand, too. */
MlTruthLoose *ml_truth_loose_new (MlBoard *drawn, MlBoard *actual, const GArray *places, gboolean beside_good);
void ml_truth_loose_free (MlTruthLoose *loose);
guint ml_truth_loose_n_unread (const MlTruthLoose *loose);
/** ml_truth_loose_is_unread: whether the part's main value counts as one. */
gboolean ml_truth_loose_is_unread (const MlTruthLoose *loose, int part);
/** ml_truth_loose_shows: no sound board gives the readings of that fault, whatever its unread values: one is more than 3 sigma off. FALSE also
 *  where the faulty board could not be solved. */
gboolean ml_truth_loose_shows (MlTruthLoose *loose, const MlFault *fault);
/** ml_truth_loose_tied: some fault of `part`, with some unread values, gives the readings of `fault`. */
gboolean ml_truth_loose_tied (MlTruthLoose *loose, const MlFault *fault, int part);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlTruthLoose, ml_truth_loose_free)
G_END_DECLS
