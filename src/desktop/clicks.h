/* SPDX-License-Identifier: GPL-3.0-or-later */
/* No click gets lost while the window is busy. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/** ml_clicks_keep: for everything inside that window. */
void ml_clicks_keep (GtkWindow *window);

G_END_DECLS
