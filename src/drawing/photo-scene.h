/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of the real board as a scene: pins where their pads lie, parts about their pads, no wires. Everything that works on a circuit
 * drawing (marks, readings, probes, the hit test, the walk with the arrow keys, export) works on it too. */
#pragma once

#include "drawing/photo.h"
#include "drawing/scene.h"

G_BEGIN_DECLS

/* The way from the picture's pixels to the sheet: x = xx px + xy py + x0, y = yx px + yy py + y0, in g. */
struct _MlScenePicture
{
  int picture;    /* of board->pictures; -1: the board has none */
  MlPhoto *photo; /* NULL: not there yet, or not to be had */
  double xx, yx, xy, yy, x0, y0;
  MlBox sheet;    /* the picture turned, in g */
};

/** ml_photo_scene: board->pictures[picture] (-1: an empty sheet that says so) with its pads. photo (may be NULL: a blank sheet stands for it) is referenced. */
MlScene *ml_photo_scene (MlBoard *board, int picture, MlPhoto *photo);

/**
 * ml_photo_scene_magnified: the same on a sheet that many times as large: pads move apart while letters, names and marks keep their size.
 * What lay at (x, y) lies at (magnify x, magnify y).
 */
MlScene *ml_photo_scene_magnified (const MlScene *scene, double magnify);

/** ml_photo_to_sheet, ml_photo_to_pixels: between the picture's pixels and g on the sheet. Scenes of pictures only. */
MlPoint ml_photo_to_sheet (const MlScene *scene, double x_px, double y_px);
MlPoint ml_photo_to_pixels (const MlScene *scene, MlPoint at);

#define ML_PAD_RADIUS 0.62 /* g */
/** ml_photo_pad_letters: what stands in a pad so that a part goes in the right way round: "K", "+", "B", "1"; "" where it does not matter. New string. */
char *ml_photo_pad_letters (const MlPart *part, int pin);
/** ml_photo_pad_box: what a pad at that place covers: a disc, longer where its letters are. */
MlBox ml_photo_pad_box (const MlPart *part, int pin, MlPoint at);
#define ML_PAD_LETTER_HEIGHT 0.85 /* g */

/** ml_photo_next_unpinned: the next pin after (part, pin) that has no place on the picture, step 1 or -1, round the end; FALSE: all are pinned.
 * part -1: from the beginning. Only pins on a net count, of all kinds but those without metal of their own; a part whose middle is pinned counts as pinned. */
gboolean ml_photo_next_unpinned (const MlBoard *board, int picture, int part, int pin, int step, int *ret_part, int *ret_pin);
/** ml_photo_n_unpinned: how many there are. */
guint ml_photo_n_unpinned (const MlBoard *board, int picture);

/* Two nets whose pads lie near each other. */
typedef struct
{
  int net_a, net_b;
  int part_a, pin_a, part_b, pin_b; /* where they come nearest */
  double distance_mm;
} MlPhotoNear;

/**
 * ml_photo_nears: pairs of nets with pads within limit_mm (middle to middle), nearest first, each pair once, those the board calls
 * neighbours already left out. New array of *ret_n; NULL when there are none or the scale is not known.
 */
MlPhotoNear *ml_photo_nears (const MlBoard *board, int picture, double limit_mm, guint *ret_n);

/** ml_photo_path: where the picture's file is, seen from the board's file; board_path NULL: from the current folder. New string. */
char *ml_photo_path (const char *board_path, const char *file);
/** ml_photo_relative: how a board at board_path (NULL: not saved yet) should name the picture at path. New string. */
char *ml_photo_relative (const char *board_path, const char *path);

G_END_DECLS
