/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Moving one piece at a time, judged by the real router. */
#pragma once

#include "drawing/route.h"

G_BEGIN_DECLS

/** ml_polish: at most `limit` trials (0: max (100, 2 per part)). */
void ml_polish (MlSheet *sheet, MlRouter *router, guint limit, GCancellable *cancellable);

G_END_DECLS
