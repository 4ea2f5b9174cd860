/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards in the board language for the layout tests. */
#pragma once

#include "drawing/layout.h"
#include "support/models.h"

/** ml_test_hard_faults: what must be zero in every drawing; prints what is not. */
guint ml_test_hard_faults (const MlScene *scene, const char *what);
/** ml_test_layout: a fresh layout without anything kept. */
MlScene *ml_test_layout (MlBoard *board, guint effort);
/** ml_test_scene_of_file: the final drawing of a board in tests/drawing/boards, drawn once for all who ask; unref both. At small size the first
 * drawing: it has the same structures, found and built by the same code. */
MlScene *ml_test_scene_of_file (const char *name, MlBoard **ret_board);
/** ml_test_pin: where wires join that pin. ml_test_flags: how many flags of one kind a net has. */
MlPoint ml_test_pin (const MlScene *scene, const char *part, const char *pin);
guint ml_test_flags (const MlScene *scene, const char *net, MlFlagKind kind);
/** ml_test_forget_scenes: what ml_test_scene_of_file keeps; a group teardown. */
int ml_test_forget_scenes (void **state);
/** ml_test_scene_text: everything a scene holds, as text, for comparing two. */
char *ml_test_scene_text (const MlScene *scene);

/** ml_test_layout_score, ml_test_layout_structures, ml_test_layout_places: the tests of the files so called; how many failed. */
int ml_test_layout_score (void);
int ml_test_layout_structures (void);
int ml_test_layout_places (void);
