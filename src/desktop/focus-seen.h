/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the keyboard is stays to be seen: GTK takes the frame round it away three seconds after the last key, while a person looks at the board. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/** ml_focus_seen_keep: from a key on until the pointer is pressed the window shows where the keyboard is, however long that takes. */
void ml_focus_seen_keep (GtkWindow *window);

G_END_DECLS
