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
  gboolean close;   /* whose it is must be seen at a glance: it has its place before all that are not, unless their lines would run through something,
                     * and not off a corner if it can */
  /* found: */
  gboolean placed;
  MlBox box;
  gboolean leader;  /* so far off that a line must lead there */
  MlPoint from, via, to; /* that line, from the note to its thing; via: its corner, or `to` when it is straight */
} MlNote;

/* What a line to a note crosses, from a trifle to what it must never run through. */
typedef enum
{
  ML_FIELD_HULL, /* empty corners of a symbol: no note stands there, but a line may cross */
  ML_FIELD_WIRE,
  ML_FIELD_LINE, /* to another note */
  ML_FIELD_MARK, /* a ring, a halo, a probe */
  ML_FIELD_BODY,
  ML_FIELD_TEXT
} MlFieldIs;

/* Everything that a note must keep off: symbols, wires, labels, flags, and what is added. */
typedef struct _MlField MlField;
MlField *ml_field_new (const MlScene *scene);
void ml_field_free (MlField *field);
void ml_field_add (MlField *field, MlFieldIs is, MlBox box);
/** ml_field_line: what a straight line from a note at a to its thing at b would cross, as the detour in g that is better than that; 0: nothing. */
double ml_field_line (const MlField *field, MlPoint a, MlPoint b);

/**
 * ml_notes_place: in order, each note where nothing of the field and no earlier note lies; those that stood badly once more, before the
 * others, while that is better for all together. Deterministic. Cost: some hundred positions tried per note and round.
 */
void ml_notes_place (MlField *field, MlNote *notes, guint n_notes);

G_END_DECLS
