/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is wrong with the files, in one line. Knows no widget. */
#pragma once

#include "board/diagnostics.h"

G_BEGIN_DECLS

/** ml_errors_summary: "2 errors and 1 warning in vent.leafboard"; NULL when there are none of either; new string. */
char *ml_errors_summary (const MlDiagnostics *diagnostics);

G_END_DECLS
