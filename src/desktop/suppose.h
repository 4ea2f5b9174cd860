/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a part can be supposed to be, in trade words. */
#pragma once

#include <gio/gio.h>

#include "verdict/judge.h"

G_BEGIN_DECLS

typedef struct
{
  char *label; /* "Open", "Bad solder joint at emitter, 300 Ω" */
  char *words; /* what ml_fault_parse understands: "Q2 joint pins=emitter size=300" */
} MlSuppose;

void ml_suppose_free (MlSuppose *suppose);
/** ml_suppose_list: all that makes sense for a part; elements MlSuppose. */
GPtrArray *ml_suppose_list (const MlBoard *board, int part);
/** ml_suppose_ribbon: "supposing Q2 open", "supposing solder joint at Q2's emitter, about 300 Ω"; NULL when fault is; new string. */
char *ml_suppose_ribbon (const MlBoard *board, const MlFault *fault);

G_END_DECLS
