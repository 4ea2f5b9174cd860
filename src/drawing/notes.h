/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Placing notes (readings, expected values, percentages) beside what they belong to, covering nothing. */
#pragma once

#include "drawing/scene.h"

G_BEGIN_DECLS

#define ML_NOTE_MAX_KEEPS 8

typedef struct
{
  MlBox keeps[ML_NOTE_MAX_KEEPS]; /* things it may stand beside, best first: a pin, a body, a straight wire */
  guint n_keeps;
  double width, height;
  double reach;     /* how far from its thing it may stand, in g; a note that finds no place is dropped unless it must be shown */
  gboolean must;    /* else it goes below the drawing, with a leader */
  gboolean beside;  /* right and left before above and below */
  /* found: */
  gboolean placed;
  MlBox box;
  gboolean leader;  /* so far off that a line must lead there */
  MlPoint from, to; /* that line, from the note to its thing */
} MlNote;

/* Everything that a note must keep off: symbols, wires, labels, flags, and what is added. */
typedef struct _MlField MlField;
MlField *ml_field_new (const MlScene *scene);
void ml_field_free (MlField *field);
void ml_field_add (MlField *field, MlBox box);
/** ml_field_line: how much lies on the straight line from a to b, 0.4 g left out at both ends; 0: nothing. */
guint ml_field_line (const MlField *field, MlPoint a, MlPoint b);

/**
 * ml_notes_place: in order, each note where nothing of the field and no earlier note lies.
 * Deterministic. Cost: some hundred positions tried per note.
 */
void ml_notes_place (MlField *field, MlNote *notes, guint n_notes);

G_END_DECLS
