/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The entry of a reading, at the place that is read: the number in large digits, what it was understood as, both ends by name, and where
 * the number lies against what is expected. It questions, it never refuses a number; only what is no number stays. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_ENTRY (ml_entry_get_type ())
G_DECLARE_FINAL_TYPE (MlEntry, ml_entry, ML, ENTRY, GtkBox)

/*
 * Signals:
 *   "recorded"   Enter was pressed and the reading is in the job
 *   "left"       Esc was pressed
 *   "swapped"    red and black were exchanged, or stand on a lead now; the document's probes follow
 */

GtkWidget *ml_entry_new (MlDocument *document);
/** ml_entry_open: for the document's unit, pass and condition. typed: what the first key gave. */
void ml_entry_open (MlEntry *self, const MlProbe *red, const MlProbe *black, const char *typed);
/** ml_entry_fit: takes the shape that goes into that room: flat where there is little height. */
void ml_entry_fit (MlEntry *self, double width_px, double height_px);
void ml_entry_swap (MlEntry *self);
/** ml_entry_toggle_lead: that end stands on the part's own metal, or on the solder again; nothing where the end names a net. */
void ml_entry_toggle_lead (MlEntry *self, gboolean red);
/** ml_entry_take: as Enter does; FALSE when what stands there is no reading. */
gboolean ml_entry_take (MlEntry *self);
const char *ml_entry_typed (MlEntry *self);
/** ml_entry_is_empty: nothing was typed yet. */
gboolean ml_entry_is_empty (MlEntry *self);
void ml_entry_places (MlEntry *self, MlProbe *ret_red, MlProbe *ret_black);
/** ml_entry_set_paper: the colours of the scale. */
void ml_entry_set_paper (MlEntry *self, int paper);

G_END_DECLS
