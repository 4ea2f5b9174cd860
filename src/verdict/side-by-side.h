/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Work in parts of which none hangs on another, on as many threads as there are processors. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/**
 * ml_side_by_side: calls each (i, data) once for every i below n and returns when all are done. The caller's thread works along; what the board
 * assumes in its own way holds in all of them. Which thread does which part, and when, is left open: a part may write only what is its own.
 */
void ml_side_by_side (guint n, void (*each) (guint i, gpointer data), gpointer data);
/** ml_side_by_side_threads: how many work together; METERLEAF_THREADS in the environment says otherwise than the number of processors. */
guint ml_side_by_side_threads (void);

G_END_DECLS
