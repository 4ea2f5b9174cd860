/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain comparison with a good unit, for when the drawing does not decide. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

/** ml_case_say_compared: "These readings differ most between the units: V5 (2.91 V here, 4.98 V on spare); look there."; NULL when none differs. New string. */
char *ml_case_say_compared (const MlCase *own);

G_END_DECLS
