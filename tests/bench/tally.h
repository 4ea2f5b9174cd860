/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a stratum of the evaluation has counted: shares, means, and how often what was stated proved right, each with its interval.
 * Lines are printed in the order in which they were first counted. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

typedef struct _MlTally MlTally;

MlTally *ml_tally_new (const char *name);
void ml_tally_free (MlTally *tally);
/** ml_tally_count: one more case of a share, "right group first". */
void ml_tally_count (MlTally *tally, const char *what, gboolean right);
/** ml_tally_add: one more value of a mean, "readings needed". */
void ml_tally_add (MlTally *tally, const char *what, double value);
/** ml_tally_state: for the reliability table `what`: a probability was stated, and it was right or not. */
void ml_tally_state (MlTally *tally, const char *what, double stated, gboolean right);
/** ml_tally_print: shares with Wilson's 95 % interval, means with 1.96 standard errors, reliability by bands. */
void ml_tally_print (const MlTally *tally);
/** ml_tally_reaches: whether the share so called has at least n cases and the wanted share lies at or below the upper end of its 95 % interval. */
gboolean ml_tally_reaches (const MlTally *tally, const char *what, double wanted, guint n);
/** ml_tally_stays_below: the same for a share that should be small: the limit lies at or above the lower end. */
gboolean ml_tally_stays_below (const MlTally *tally, const char *what, double limit, guint n);
const char *ml_tally_name (const MlTally *tally);

G_END_DECLS
