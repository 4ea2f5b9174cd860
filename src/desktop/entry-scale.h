/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The thin scale of an entry: what is expected at the place, and the number being typed as a dot among it. */
#pragma once

#include <gdk/gdk.h>

#include "desktop/reading-text.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

/** ml_entry_scale_draw: n expectations, "fine" first; typed: the number typed, in the same unit, NAN: none yet. Width and height in pixels. */
void ml_entry_scale_draw (cairo_t *cr, int width, int height, const MlExpectation *expected, guint n, double typed, const GdkRGBA *ink, MlPaper paper);

G_END_DECLS
