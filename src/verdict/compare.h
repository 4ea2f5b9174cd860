/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain comparison with a good unit, for when the drawing does not decide: nothing is computed but differences of readings. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

/**
 * ml_case_compare: the parts about which the units differ, most first: the voltage across a part, between two of its pins whose nets were read
 * on both units, or at its one such pin. New array of *ret_n; NULL when nothing differs or the units are not alike.
 */
MlCompared *ml_case_compare (const MlCase *own, guint *ret_n);
/** ml_case_say_compared: "Compared with spare, the units differ most at U2, U3 (V5: 2.91 V here, 4.98 V there), then at …"; NULL for none. New string. */
char *ml_case_say_compared (const MlCase *own, const MlCompared *compared, guint n);

G_END_DECLS
