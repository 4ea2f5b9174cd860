/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The window: one board and one job. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_WINDOW (ml_window_get_type ())
G_DECLARE_FINAL_TYPE (MlWindow, ml_window, ML, WINDOW, GtkApplicationWindow)

/** ml_window_new: empty, on its start page. */
MlWindow *ml_window_new (GtkApplication *application);
MlDocument *ml_window_document (MlWindow *self);
/** ml_window_is_untouched: still on the start page: a file may be opened here. */
gboolean ml_window_is_untouched (MlWindow *self);
/** ml_window_open: shows a board or job; what stands in the way is said on the first page, which stays. */
void ml_window_open (MlWindow *self, const char *path);
/** ml_window_open_for: shows a board or job in the window that has it open already, else in `from` while that is untouched, else in a new one, and
 * brings that to the front. from may be NULL. The window is the application's. */
MlWindow *ml_window_open_for (GtkApplication *application, MlWindow *from, const char *path);
/** ml_window_begin_drawing: an empty sheet, ready for the first part. */
void ml_window_begin_drawing (MlWindow *self);

/** ml_window_offer_left_over: says that unsaved work was left by a program that did not end well, with a button to look at it. */
void ml_window_offer_left_over (MlWindow *self);

G_END_DECLS
