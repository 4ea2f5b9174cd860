/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pads of one picture carried over to a picture of the other side of the same board: legs go through. */
#pragma once

#include "board/board.h"

G_BEGIN_DECLS

#define ML_PHOTO_CARRY_MIN 3u /* pads pinned on both, not in one line */

/**
 * ml_photo_carry: where the pads of picture `from` that are not on `to` yet lie on `to`, by the affine map that fits the pads pinned on both
 * best. Units: pixels of `to`. New array of *ret_n; NULL when there are fewer than ML_PHOTO_CARRY_MIN common pads or they lie in one line.
 * *ret_misfit_px: root mean square of what is left at the common pads; 0 with just three.
 * Source: linear least squares by normal equations about the centroid.
 */
MlPad *ml_photo_carry (const MlBoard *board, int from, int to, guint *ret_n, double *ret_misfit_px);

G_END_DECLS
