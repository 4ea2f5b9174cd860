/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The small form on a card of the bench strip in which one supply is set: its two leads, its volts and its limit. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/canvas.h"
#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_SUPPLY_EDITOR (ml_supply_editor_get_type ())
G_DECLARE_FINAL_TYPE (MlSupplyEditor, ml_supply_editor, ML, SUPPLY_EDITOR, GtkBox)

/** ml_supply_editor_new: canvas (borrowed) is where the leads are clicked on. Signals "closed" () and "failed" (const char *). */
GtkWidget *ml_supply_editor_new (MlDocument *document, MlCanvas *canvas);
/** ml_supply_editor_open: fills the form with that supply of the condition; -1: a new one. */
void ml_supply_editor_open (MlSupplyEditor *self, int condition, int supply);
/** ml_supply_editor_update: the document changed. */
void ml_supply_editor_update (MlSupplyEditor *self);

G_END_DECLS
