/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A picture of the real board as pixels: read once, at full size only as large as a screen can use, painted at any scale. Immutable. */
#pragma once

#include <cairo.h>
#include <glib.h>

G_BEGIN_DECLS

typedef struct _MlPhoto MlPhoto;

/* Beyond these a file is refused, before anything of its size is allocated. */
#define ML_PHOTO_MAX_SIDE_PX 30000
#define ML_PHOTO_MAX_PX 120e6
#define ML_PHOTO_MAX_BYTES (64 * 1024 * 1024)

/**
 * ml_photo_load: PNG, JPEG (turned as its camera says) or SVG, told apart by content. Takes up to seconds for a large one: call it off the
 * main thread. Errors: G_FILE_ERROR when the file cannot be read, G_IO_ERROR_INVALID_DATA when it is no such picture or damaged,
 * G_IO_ERROR_NO_SPACE beyond the limits; the message names the file and says what to do.
 */
MlPhoto *ml_photo_load (const char *path, GError **error);
/** ml_photo_check: whether the file begins as such a picture does; fast. Errors as ml_photo_load, which may still find it damaged. */
gboolean ml_photo_check (const char *path, GError **error);
MlPhoto *ml_photo_ref (MlPhoto *self);
void ml_photo_unref (MlPhoto *self);

/** ml_photo_size: of the picture as it was taken, in its own pixels: the unit in which pads are written. */
void ml_photo_size (const MlPhoto *self, double *ret_width_px, double *ret_height_px);
/** ml_photo_paint: the whole picture; the context's unit is the picture's pixel, its origin the picture's upper left corner. */
void ml_photo_paint (cairo_t *cr, const MlPhoto *self);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlPhoto, ml_photo_unref)
G_END_DECLS
