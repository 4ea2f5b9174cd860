/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Laying out a circuit drawing: placement, routing, labels. Deterministic: the same board gives the same scene. */
#pragma once

#include <gio/gio.h>

#include "drawing/scene.h"

G_BEGIN_DECLS

typedef struct
{
  const double *net_v;   /* board->n_nets potentials of the first condition, NAN where unknown; NULL: those of `previous`, else a proxy */
  guint effort;          /* 0: at once: insertion and router only, or rows where even that takes long; 1: one variant with polish; 2: best of several */
  gboolean show_generated_names;
  const MlScene *previous; /* parts that stand there stay put when they have no `place`; NULL: lay out whole */
  void (*progress) (double share, gpointer data); /* boards of more than 200 parts: how much is done, 0 to 1, never less than before, from the
                                                   * thread that called ml_layout; may cancel. NULL */
  gpointer progress_data;
} MlLayoutOptions;

/**
 * ml_layout: parts with a `place` stay exactly there and the rest flows round them; with none, the whole sheet is laid out: above about 200
 * parts stage by stage, above about 2000 only in rows by name (the scene says so).
 * Never fails on a readable board. NULL only with G_IO_ERROR_CANCELLED.
 */
MlScene *ml_layout (MlBoard *board, const MlLayoutOptions *options, GCancellable *cancellable, GError **error);

/**
 * ml_layout_move: the scene with one part elsewhere; only the wires of that part's nets, and nets its body now covers, are routed anew.
 * settled FALSE while the hand still moves (labels follow, nothing else), TRUE on drop (labels placed anew).
 */
MlScene *ml_layout_move (const MlScene *scene, int part, const MlPlace *place, gboolean settled);

/**
 * ml_layout_settle: the nearest place to `place` where the part lies on no other part's body and its pins on no foreign pin; wires give way.
 * TRUE when that is another place. Within 60 g; when all is taken there, place stays as it is.
 */
gboolean ml_layout_settle (const MlScene *scene, int part, MlPlace *place);

/** ml_layout_places: where every part stands, to be written as `place`. Arrays of board->n_parts. */
void ml_layout_places (const MlScene *scene, MlPlace *ret_places);
/**
 * ml_layout_pin_words: what `place` says of single pins, when the part is to stand at `to` (NULL: where it stands): of a block "left=1,2 right=3", of a
 * connector whose pins are drawn one by one "pin.2=20,8,left" for those behind the first; new string, NULL when there is nothing of the kind.
 */
char *ml_layout_pin_words (const MlScene *scene, int part, const MlPlace *to);

/* How good a drawing is. */
typedef struct
{
  guint through, text_overlaps, symbol_overlaps, shared_runs, slanted, misconnected, unnamed; /* hard faults: all 0 */
  guint crossings, bends, signal_flags, rail_flags, upside_down;
  guint jogs; /* one-step sidesteps of a wire that runs on the same way; part of no score: each is two bends already */
  double length, area, score;
} MlLayoutMeasure;
/** ml_layout_measure: misconnected counts differences between the board's nets and those read back from the geometry alone. */
MlLayoutMeasure ml_layout_measure (const MlScene *scene);
/** ml_layout_hard_faults: how many; a good drawing has none. */
guint ml_layout_hard_faults (const MlLayoutMeasure *measure);

G_END_DECLS
