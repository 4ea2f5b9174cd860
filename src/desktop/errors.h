/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files themselves with what is wrong in them: a list beside the text; each entry opens its place; the text can be mended there. */
#pragma once

#include <gtk/gtk.h>

#include "desktop/document.h"

G_BEGIN_DECLS

#define ML_TYPE_ERRORS_VIEW (ml_errors_view_get_type ())
G_DECLARE_FINAL_TYPE (MlErrorsView, ml_errors_view, ML, ERRORS_VIEW, GtkWidget)

/** ml_errors_view_new: follows the document. Signal "closed": the person wants the drawing back. */
GtkWidget *ml_errors_view_new (MlDocument *document);
/** ml_errors_view_show_first: the text of the file in which the first error is. */
void ml_errors_view_show_first (MlErrorsView *self);
/** ml_errors_view_open: goes to the place of a diagnostic (an index into the document's). */
void ml_errors_view_open (MlErrorsView *self, guint diagnostic);
/** ml_errors_view_read_again: what stands in the text becomes the board or the job, as one step. */
void ml_errors_view_read_again (MlErrorsView *self);
/** ml_errors_view_take: reads it again if anything was typed since: what leads away from the text loses nothing. */
void ml_errors_view_take (MlErrorsView *self);
GtkTextBuffer *ml_errors_view_buffer (MlErrorsView *self);

G_END_DECLS
