/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a repair needs to know of the circuit: what the new part has to stand and which way round it goes, how far to open the supply's limit
 * at the first power-up. Knows no widget. */
#pragma once

#include "verdict/verdict.h"

G_BEGIN_DECLS

/**
 * ml_repair_new_part: what the new one gets in these conditions, and its polarity: "The new one gets up to 9.5 V, 2.0 mA, 19 mW here: fit one that stands twice
 * that. Its cathode goes to V12."; new string, "" when nothing is known. points: n of them, each NULL or an operating point of the sound board.
 */
char *ml_repair_new_part (const MlBoard *board, int part, const MlOperatingPoint *const *points, guint n);
/**
 * ml_repair_power_up: "For the first power-up set the limit to 65 mA: in warm a sound board draws 41 mA."; new string, NULL: the condition has no supply, its
 * point is not known, or its own limit is as low.
 */
char *ml_repair_power_up (const MlBoard *board, const MlOperatingPoint *point);

/** ml_repair_pass_begun: the line of the job at which the unit's last pass begins; 0: it has one only. */
guint ml_repair_pass_begun (const MlJob *job, int unit);
/** ml_repair_logged: what the log says was done to that part ("replaced", "resoldered") since the unit's last pass began; NULL: nothing. Borrowed. */
const char *ml_repair_logged (const MlJob *job, int unit, const char *part);

G_END_DECLS
