/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards too large to weigh every part against every other: laid out stage by stage, the stages set side by side. */
#pragma once

#include "drawing/layout-sheet.h"

G_BEGIN_DECLS

/**
 * ml_stages_place: puts all pieces of the kit onto an empty sheet of its plain ones. What is joined most closely makes a stage, the supply the
 * first; the time grows with the number of parts, not with its square. careful: each stage is annealed and polished too. told is called after each stage; it returns FALSE to stop, and so does
 * this function then, with pieces missing.
 */
gboolean ml_stages_place (MlSheet *sheet, gboolean careful, GCancellable *cancellable, gboolean (*told) (guint done, guint n_stages, gpointer data),
                          gpointer data);

G_END_DECLS
