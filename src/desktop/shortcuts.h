/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page of all keys, made from the table of actions. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/** ml_shortcuts_present: shows it over parent. */
void ml_shortcuts_present (GtkWindow *parent);

G_END_DECLS
