/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A part or a pin of the drawing as a widget of its own: it paints nothing and takes no mouse, but has a place, a name and the keyboard
 * focus, because GTK 4.8 can show only widgets to a screen reader. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define ML_TYPE_CANVAS_TARGET (ml_canvas_target_get_type ())
G_DECLARE_FINAL_TYPE (MlCanvasTarget, ml_canvas_target, ML, CANVAS_TARGET, GtkWidget)

/* Signals: "activated": Enter, or the action of a screen reader. */

/** ml_canvas_target_new: pin -1: the part itself. */
GtkWidget *ml_canvas_target_new (int part, int pin);
int ml_canvas_target_part (MlCanvasTarget *self);
int ml_canvas_target_pin (MlCanvasTarget *self);
/** ml_canvas_target_describe: what a screen reader says; description NULL: as before. */
void ml_canvas_target_describe (MlCanvasTarget *self, const char *label, const char *description);

G_END_DECLS
