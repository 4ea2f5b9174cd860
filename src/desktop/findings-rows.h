/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The explanations of a verdict as rows for a person: those that the readings cannot tell apart in one, with what each row says. Knows no widget. */
#pragma once

#include "verdict/verdict.h"

G_BEGIN_DECLS

/* Explanations that the readings cannot tell apart stand in one row. */
typedef struct
{
  char *title;        /* "Solder joint at Q2's emitter, about 300 Ω", "One of D3, D4: open" */
  double probability; /* of all members together, 0..1 */
  GArray *members;    /* guint: indices into the verdict's explanations, the likeliest first */
} MlFindingsRow;

void ml_findings_row_free (MlFindingsRow *row);
/** ml_findings_rows: at most `most` rows, the one that the verdict's sentence names first, then the likeliest; elements MlFindingsRow. Nothing below
 * 0.5 % but the first is listed. */
GPtrArray *ml_findings_rows (const MlVerdict *verdict, guint most);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlFindingsRow, ml_findings_row_free)
G_END_DECLS
