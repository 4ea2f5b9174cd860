/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The single faults that the truth program puts into a board. */
#pragma once

#include "support/random.h"
#include "support/truth.h"

G_BEGIN_DECLS

/* One way a part can be faulty; low and high bound its size (both NAN when it has none). */
typedef struct { MlFault fault; double low, high; } MlTruthMode;

/** ml_truth_modes: every mode of every part, in the board's order. Elements are MlTruthMode. */
GArray *ml_truth_modes (const MlBoard *board);
/** ml_truth_seldom_modes: what is no usual way to fail but can be: any two of three to eight pins of a part short or leaking. Elements are MlTruthMode. */
GArray *ml_truth_seldom_modes (const MlBoard *board);
/** ml_truth_mode_sizes: what sizes of it somebody who looks for it has to think of; FALSE: it has none. A short is drawn as it usually is, but nobody knows
 *  beforehand how good it is: from some tens of milliohms, a blob of solder, to about an ohm, a molten junction (common practice, no source). */
gboolean ml_truth_mode_sizes (const MlTruthMode *mode, double *ret_low, double *ret_high);
/** ml_truth_mode_draw: the fault with a size drawn evenly over the logarithm. */
MlFault ml_truth_mode_draw (const MlTruthMode *mode, MlRandom *random);

G_END_DECLS
