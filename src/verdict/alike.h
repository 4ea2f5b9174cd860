/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "verdict/case.h"
#include "verdict/remember.h"

G_BEGIN_DECLS

/** ml_case_fit_alike: an item from the fit of one of those already fitted (guint, from their centres, in `remembered`) that reads as it does at its centre.
 *  FALSE: there is none, or it does worse than that one: to be fitted from its centre, too. ret_at: a new expansion, NULL: its centre; ret_ln: what the
 *  readings say there, -INFINITY: there is none. */
gboolean ml_case_fit_alike (MlCase *own, const MlRemembered *remembered, const GArray *fitted, guint item, MlExpansion **ret_at, double *ret_ln);

G_END_DECLS
