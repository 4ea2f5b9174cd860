/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: making verdicts and saying faults in words. */
#pragma once

#include "verdict/verdict.h"

G_BEGIN_DECLS

MlVerdict *ml_verdict_new (MlJob *job, int unit, guint pass);
MlFault ml_fault_copy (const MlFault *fault);
/** ml_say_quantity: "4.93 V", three significant digits; new string. */
char *ml_say_quantity (double value, MlUnit unit);

G_END_DECLS
