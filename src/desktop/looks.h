/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The window's style sheet, coloured from the drawing's palette. */
#pragma once

#include <gtk/gtk.h>

#include "drawing/paint.h"

G_BEGIN_DECLS

/** ml_looks_load: makes the window's files (ui, style sheet) known to GTK. May be called again. */
void ml_looks_load (void);
/** ml_looks_apply: for all windows of the display. */
void ml_looks_apply (GdkDisplay *display, MlPaper paper);

G_END_DECLS
