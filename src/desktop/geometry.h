/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For tests that click: with METERLEAF_TEST_GEOMETRY=FILE in the environment, the screen places of everything that can be clicked stand in
 * FILE, written anew up to twenty times a second, when there is nothing else to do. Does nothing otherwise. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

/**
 * ml_geometry_watch: for all windows of the program, from the first call on. Lines "NAME X Y WIDTH HEIGHT" in screen pixels, for each visible widget that
 * has a name of its own (gtk_widget_set_name), in all windows and popovers; "text NAME words" for labels and entries among them.
 * "beat N" counts how often it was written: what was sent to the window two beats ago is done.
 * A line ends in " off" for what cannot be used now, in " moving" for a drawing that a better one will take the place of.
 */
void ml_geometry_watch (GtkWindow *window);

G_END_DECLS
