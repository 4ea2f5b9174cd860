/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page an empty window shows: three ways in, what was left from last time, and recent jobs. */
#pragma once

#include <gtk/gtk.h>

G_BEGIN_DECLS

#define ML_TYPE_START_PAGE (ml_start_page_get_type ())
G_DECLARE_FINAL_TYPE (MlStartPage, ml_start_page, ML, START_PAGE, GtkWidget)

/*
 * Signals:
 *   "open"    (const char *path)      a recent job
 *   "recover" (const char *journal)   work left from last time is wanted back
 *   "discard" (const char *journal)   it is not
 */

GtkWidget *ml_start_page_new (void);
/** ml_start_page_refresh: recent jobs and what was left, read anew. */
void ml_start_page_refresh (MlStartPage *self);
/** ml_start_page_say: why a file could not be opened, above the three ways in; NULL: nothing stands in the way any more. */
void ml_start_page_say (MlStartPage *self, const char *text);

G_END_DECLS
