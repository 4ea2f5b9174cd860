/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Room for a wire where a name stands in its place, or for a rail's sign straight before its pin: a finished drawing is parted along a grid line. */
#pragma once

#include "drawing/layout-keep.h"

G_BEGIN_DECLS

/**
 * ml_ways_find: lines at which the sheet may be parted: before pins whose lead to their sign is bent, then so that a signal that its name interrupts finds
 * a way, those that cost least first; each signal has a few. kept: as ml_kept_reopened gives it for that scene. GArray of MlParting, new.
 */
GArray *ml_ways_find (MlKit *kit, const MlKept *kept, const MlScene *scene, int span, GCancellable *cancellable);

G_END_DECLS
