/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of the unpowered board: ohms, compared in the logarithm, and diode tests. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

/** ml_cold_ln: resistances span decades: ln ohm, within what a meter can show. *ret_inside (may be NULL): whether it is. */
double ml_cold_ln (double ohm, gboolean *ret_inside);
/** ml_shown_of: a prediction (V, A, ln ohm) as a meter with that open-circuit voltage would show it: V, A, ohm; INFINITY over-range; 0 below what any bench
 * meter shows. */
double ml_shown_of (MlReads reads, double value, double compliance_v);
/** ml_cold_is_beyond: whether a reading is over-range, or so many ohms that most meters would be. */
gboolean ml_cold_is_beyond (const MlReading *reading);
/** ml_taken_cold: what an ohms or diode reading was, its variance and what it may be when it is off; taken->variance holds the meter's on entry. */
void ml_taken_cold (MlTaken *taken, const MlJob *job, const MlReading *reading);
/** ml_verdict_warn_cold: cautions about ohms and diode readings, if there are any. */
void ml_verdict_warn_cold (MlCase *own, GPtrArray *cautions);

G_END_DECLS
