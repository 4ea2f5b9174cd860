/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Over the drawing of a large board, while a better one is on its way: how far it is, and a button that does without it. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/** ml_drawing_progress_new: hidden. stop is called when the person wants no better drawing. */
GtkWidget *ml_drawing_progress_new (void (*stop) (gpointer data), gpointer data);
/** ml_drawing_progress_show: share 0 to 1 of a board of n_parts; negative hides it. */
void ml_drawing_progress_show (GtkWidget *self, double share, guint n_parts);

G_END_DECLS
