/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The name of what is open and, below it, its file: in the middle of the header, set so that the name is read whole. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define ML_TYPE_TITLE (ml_title_get_type ())
G_DECLARE_FINAL_TYPE (MlTitle, ml_title, ML, TITLE, GtkWidget)

/** ml_title_set: what it says; file NULL: the name alone. */
void ml_title_set (MlTitle *self, const char *name, const char *file);
/** ml_title_is_cut: whether even the closest setting had no room for the name. */
gboolean ml_title_is_cut (MlTitle *self);

G_END_DECLS
