/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who gets which part of the room over the drawing: the notice beside what is worked on, two views side by side or one above the other.
 * Lengths in logical pixels. */
#pragma once

#include <gdk/gdk.h>

G_BEGIN_DECLS

typedef struct
{
  GdkRectangle at;
  gboolean must; /* it must stay seen; else only rather it than bare paper */
} MlBusy;

/** ml_room_covered: what of those a box covers, in square pixels; what must stay seen counts many times. */
double ml_room_covered (const GdkRectangle *box, const MlBusy *busy, guint n);

/** ml_room_beside: where a box of that size covers the least of what is there: below in the middle if it can, else above, else a corner or a side;
 * with `above` first above, then below. It always lies within the room, made smaller if it must. */
GdkRectangle ml_room_beside (int room_width, int room_height, int width, int height, int margin, gboolean above, const MlBusy *busy, guint n);

/**
 * ml_room_share: how two pictures share the room so that the smaller one is shown as large as can be.
 * first, second: their width per height, above 0. *ret_stacked: one above the other. Returns what the first one gets, of the width, or of the
 * height when stacked.
 */
int ml_room_share (double first, double second, int room_width, int room_height, gboolean *ret_stacked);

G_END_DECLS
