/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-polish.h"
void
ml_polish (MlSheet *sheet, MlRouter *router, guint limit, GCancellable *cancellable)
{
}
