/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards too large to weigh every part against every other: laid out stage by stage, the stages set side by side. */
#pragma once

#include "drawing/layout-sheet.h"

G_BEGIN_DECLS

typedef struct
{
  guint most_parts;   /* of a stage */
  gboolean careful;   /* each stage is annealed and polished too */
  GCancellable *cancellable;
  gboolean (*told) (guint done, guint n_stages, gpointer data); /* after each stage; FALSE: stop, with pieces missing */
  gpointer data;
} MlStagesCare;

/**
 * ml_stages_place: puts all pieces of the kit onto an empty sheet of its plain ones. What is joined most closely makes a stage, the supply the
 * first; the time grows with the number of parts, not with its square. *ret_look: the stages' ml_sheet_look. FALSE when it was stopped.
 */
gboolean ml_stages_place (MlSheet *sheet, const MlStagesCare *care, double *ret_look);

G_END_DECLS
