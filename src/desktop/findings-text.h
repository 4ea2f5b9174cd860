/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the findings say, as plain text made from a verdict. Knows no widget. */
#pragma once

#include "verdict/verdict.h"

G_BEGIN_DECLS

/** ml_findings_hold_back: whether an early verdict would mislead: it finds no fault that fits, but pairs and slips have not been looked at yet. */
gboolean ml_findings_hold_back (const MlVerdict *verdict, gboolean working);
/** ml_findings_waits: whether a first verdict had better wait for the refined one, which is soon there: it names something else than the refined
 * verdict that is shown (NULL: none), and what is said should not go from one suspect to another and back. */
gboolean ml_findings_waits (const MlVerdict *shown, const MlVerdict *arrived);
/** ml_findings_shorten: a line "R1, R2, …: why" with so many names that nobody reads them: the first ones, and how many more; new string. */
char *ml_findings_shorten (const char *line);
/** ml_findings_joined: what that pin is on, as seen from there: the net's name, or of one that nobody named another pin on it, "nothing"; new string. */
char *ml_findings_joined (const MlBoard *board, const MlPin *pin);
/** ml_findings_probe_words: where a probe goes, for somebody who looks at the board: "V5", "Q1.collector on its leg", and for a net that nobody named,
 * so that its name says nothing, one of its pins: "LED1.anode"; new string. */
char *ml_findings_probe_words (const MlBoard *board, const MlProbe *probe);
/** ml_findings_to_mend: the part that is sure enough to be worked on; -1: none is, or verdict is NULL or of a first look. */
int ml_findings_to_mend (const MlVerdict *verdict);
/** ml_findings_guide: what to do first while there is no verdict (NULL) worth saying; NULL: the verdict's own sentence is. Constant. was_read: the unit's
 * pass has readings or observations. */
const char *ml_findings_guide (const MlBoard *board, int unit, guint pass, const MlVerdict *verdict, gboolean working, gboolean was_read);

/** ml_findings_mend_first: the same for files with errors that leave nothing to judge, where "draw the parts" would mislead; NULL: they leave enough. */
const char *ml_findings_mend_first (const MlBoard *board, guint n_errors, gboolean was_read);
/** ml_findings_none_suggested: why a verdict (may be NULL) suggests no reading; working: it may yet. Constant. */
const char *ml_findings_none_suggested (const MlVerdict *verdict, gboolean working);

/** ml_findings_value: "1.91 V", "0.00 V" rather than "3 nV" for a voltage no meter shows; "?" for NAN; new string. */
char *ml_findings_value (double value, MlReads reads);
/** ml_findings_place: "red on V5, black on MINUS", "the current that supply 1 gives"; new string. */
char *ml_findings_place (const MlBoard *board, MlReads reads, const MlProbe *red, const MlProbe *black, int supply);
/** ml_findings_place_short: "V5", "Q2.base to V5", "supply 1"; new string. */
char *ml_findings_place_short (const MlBoard *board, const MlReading *reading);
/** ml_findings_find: the index of the explanation of that id, or -1. */
int ml_findings_find (const MlVerdict *verdict, guint id);
/** ml_findings_expect: "Expect 1.9 V if Q2, 0.0 V if fine"; new string, "" when nothing is known. */
char *ml_findings_expect (const MlVerdict *verdict, const MlNextReading *next);
/** ml_findings_suggested: the suggestion that is this reading, its probes perhaps the other way round: *ret_sign is then -1, else 1; NULL: none is. */
const MlNextReading *ml_findings_suggested (const MlVerdict *verdict, int condition, MlReads reads, const MlProbe *red, const MlProbe *black, double *ret_sign);
/** ml_findings_foretold: what a suggestion expects under the explanation of that id; NAN: it does not say. */
double ml_findings_foretold (const MlNextReading *next, guint explanation);
/** ml_findings_names: the parts (or nets) that an explanation names: "Q2", "R4 and C3", "A–B"; new string. */
char *ml_findings_names (const MlBoard *board, const MlExplanation *explanation);

/* One line of the table of reasons. */
typedef struct
{
  guint reading;          /* index into the job's readings */
  double measured, fine, faulty; /* SI; NAN where not known */
  double sigma;           /* of `fine`, with the meter's */
  gboolean telling;       /* it speaks: measured is not what a fine board gives, or the fault would show here */
  gboolean doubtful;
} MlFindingsReason;

/** ml_findings_reasons: the readings of the verdict's unit and pass, those that tell most first; elements MlFindingsReason. */
GArray *ml_findings_reasons (const MlVerdict *verdict);

G_END_DECLS
