/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the notes say: readings with the digits of the meter, expected values, percentages, the next reading. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

#define ML_NOTE_MAX_LINES 16

typedef struct
{
  struct { char *text; gboolean bold, faint; double height; } lines[ML_NOTE_MAX_LINES];
  guint n_lines;
  gboolean framed;
} MlNoteText;

void ml_note_text_clear (MlNoteText *note);
/** ml_note_text_size: in g, lines below one another. */
void ml_note_text_size (const MlNoteText *note, const char *font, double *ret_width, double *ret_height);

/** ml_note_value: "2.91 V" with the digits that were typed; "1.80 to 2.10 V", "OL"; new string. */
char *ml_note_value (const MlQuantity *measured, MlUnit unit);
/** ml_note_expected: three digits, "0 V" for what no meter would show; new string. */
char *ml_note_expected (double value, MlUnit unit);
MlUnit ml_note_unit (MlReads reads);

/** ml_note_expected_of: what a reading should be, all being fine or the supposed fault being there; NAN when not known. */
double ml_note_expected_of (const MlOverlay *overlay, guint reading);
/** ml_note_doubt: "probes swapped? 4.93 V fits": short enough to stand under a reading; new string. */
char *ml_note_doubt (const MlReadingVerdict *reading, MlUnit unit);
/** ml_note_other_unit: the same place on another unit, and this reading less that one; new strings. FALSE: not measured there. */
gboolean ml_note_other_unit (const MlJob *job, int other_unit, const MlReading *reading, char **ret_value, char **ret_difference);

MlNoteText ml_note_of_reading (const MlScene *scene, const MlOverlay *overlay, guint reading);
MlNoteText ml_note_of_next (const MlScene *scene, const MlOverlay *overlay);
MlNoteText ml_note_of_part (const MlScene *scene, const MlVerdict *verdict, guint part);
/** ml_note_plain: one line. */
MlNoteText ml_note_plain (const char *text, gboolean bold, gboolean faint, double height);

G_END_DECLS
