/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The verdict's assumptions: priors, spreads, slip rates, thresholds; read once from data/assumptions.table. */
#pragma once

#include <glib.h>

#include "board/kinds.h"
#include "verdict/verdict.h"

G_BEGIN_DECLS

/** ml_assumption: the value on the line of that name; a name that the table lacks is a programming error and ends the program. */
double ml_assumption (const char *name);
/** ml_assumption_weight: how often this fault among those of its kind: weight.KIND.FAULT, else weight.FAULT, else 0. */
double ml_assumption_weight (MlKind kind, MlFaultKind fault);
/** ml_assumption_carried: share of a parameter's spread common to a good unit's part and this one's: carried.KIND.PARAMETER, else usual. */
double ml_assumption_carried (MlKind kind, const char *parameter, double usual);
/**
 * ml_assumptions_use: from here on this thread takes `own` (name to double *, not owned; NULL: nothing) before the table. Returns what it
 * took before, to be used again afterwards.
 */
GHashTable *ml_assumptions_use (GHashTable *own);
/** ml_assumption_usual: the table's own value, whatever is in use. */
double ml_assumption_usual (const char *name);
/** ml_assumptions_read: name and value of every line of a table text; NULL with the first error ("line 3: …"). For tests of the table. */
GHashTable *ml_assumptions_read (const char *text, GError **error);

G_END_DECLS
