/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The small form on a card of the bench strip in which one thing that is clipped to the board is set: its two leads and its two numbers. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/canvas.h"
#include "desktop/document.h"

G_BEGIN_DECLS

/* A supply has volts and a limit; a load is so many ohms or draws so many amperes. */
typedef enum { ML_CLIPPED_SUPPLY, ML_CLIPPED_LOAD } MlClipped;

#define ML_TYPE_CLIP_EDITOR (ml_clip_editor_get_type ())
G_DECLARE_FINAL_TYPE (MlClipEditor, ml_clip_editor, ML, CLIP_EDITOR, GtkBox)

/** ml_clip_editor_new: canvas (borrowed) is where the leads are clicked on. Signals "closed" () and "failed" (const char *). */
GtkWidget *ml_clip_editor_new (MlDocument *document, MlCanvas *canvas, MlClipped clipped);
/** ml_clip_editor_open: fills the form with that supply or load of the condition; -1: a new one. */
void ml_clip_editor_open (MlClipEditor *self, int condition, int index);
/** ml_clip_editor_update: the document changed. */
void ml_clip_editor_update (MlClipEditor *self);

G_END_DECLS
