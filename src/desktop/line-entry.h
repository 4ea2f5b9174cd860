/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One line to type in, at the place it is about: a part's value, a name. What cannot be is said below it while it stays open. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define ML_TYPE_LINE_ENTRY (ml_line_entry_get_type ())
G_DECLARE_FINAL_TYPE (MlLineEntry, ml_line_entry, ML, LINE_ENTRY, GtkBox)

/* Signals: "left": Esc was pressed, or the text was taken. */

/* Takes the text; FALSE with error: it cannot be, and the line stays open. */
typedef gboolean (*MlLineEntryFunc) (const char *text, gpointer data, GError **error);

GtkWidget *ml_line_entry_new (void);
/** ml_line_entry_open: asks for title; text is there to begin with, marked when select, else with the cursor behind it. */
void ml_line_entry_open (MlLineEntry *self, const char *title, const char *text, gboolean select, MlLineEntryFunc func, gpointer data);
/** ml_line_entry_take: as Enter does; FALSE when the text cannot be. */
gboolean ml_line_entry_take (MlLineEntry *self);
const char *ml_line_entry_typed (MlLineEntry *self);

G_END_DECLS
