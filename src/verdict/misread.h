/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slips of the person: readings that were taken or typed wrongly, and what they seem to be. */
#pragma once

#include "verdict/case.h"
#include "verdict/verdict-private.h"

G_BEGIN_DECLS

/* What seems to have happened with one reading. */
struct _MlMisread
{
  double probability;   /* that it was misread at all, 0..1 */
  MlSlip slip;          /* ML_SLIP_NONE: not flagged */
  double fitting;       /* what would have fitted at the place named: V, A or ln ohm */
  MlProbe at;           /* wrong-pin: where that probe seems to have stood; net -1 otherwise */
  gboolean at_black;    /* wrong-pin: the black probe */
  int condition;        /* wrong-condition: the one it seems to have been taken in, else -1 */
};

/* A whole condition whose readings fit only when taken otherwise. */
struct _MlConditionSlip
{
  MlSlip slip;          /* ML_SLIP_NONE: none; swapped: its probes; wrong-condition: it was really `other` */
  int condition, other; /* other -1 when swapped */
  gboolean exchanged;   /* the readings named `other` were taken in `condition` too */
  double probability;
};

/**
 * ml_case_misread_conditions: looks whether the readings of a whole condition fit far better with the probes swapped or under another
 * condition's name. When that is likelier than not the case is changed to it (own->taken, own->condition_slip) and weighed anew.
 * After ml_case_update, before ml_case_refine. Errors: cancelled.
 */
gboolean ml_case_misread_conditions (MlCase *own, GCancellable *cancellable, GError **error);
/**
 * ml_case_doubt_conditions: the same beside a fault: where nothing explains the readings well with the board as drawn, which such slip the whole
 * dictionary, by a rough look, makes likelier than none. *ret_what: its slip ML_SLIP_NONE where there is none. After refinement. Errors: cancelled.
 */
gboolean ml_case_doubt_conditions (MlCase *own, MlConditionSlip *ret_what, double *ret_ln_prior, GCancellable *cancellable, GError **error);
/** ml_case_take_otherwise: the readings taken as if that had happened; before ml_case_fill. */
void ml_case_take_otherwise (MlCase *own, const MlConditionSlip *what);
/** ml_case_condition_of: the condition that a reading is judged in: the one named, unless a whole condition was mixed up. */
int ml_case_condition_of (const MlCase *own, const MlReading *reading);
/** ml_case_ln_total: ln density of the readings over everything that may be the case. */
double ml_case_ln_total (const MlCase *own);

/**
 * ml_case_misread: which readings are slips, and which, into own->misread[taken]. The evidence stays as it is: it bears a reading that
 * means nothing, whatever went wrong with it; a slip's exact value as further evidence would excuse readings that a fault explains
 * (a shorted part shows what its other end shows). After ml_case_refine. Errors: cancelled.
 */
gboolean ml_case_misread (MlCase *own, GCancellable *cancellable, GError **error);

/** ml_slip_leaves_mark: swapped probes, a lost m and another condition show in the value; a reading that another pin would have given, or that
 * nothing explains, looks just like a wrong drawing. */
gboolean ml_slip_leaves_mark (MlSlip slip);
/** ml_case_doubts: variances that take the readings found to be slips out of a fit; new array of the readings taken. */
double *ml_case_doubts (const MlCase *own);
/** ml_misread_say: "probes swapped? 4.93 V would fit"; new string, NULL when it is not flagged. */
char *ml_misread_say (const MlCase *own, guint taken);
/** ml_misread_say_condition: "All readings in rest: …"; new string, NULL when there is no such slip. */
char *ml_misread_say_condition (const MlCase *own);
/** ml_misread_fill: a reading's doubt, slip and words, into its verdict. */
void ml_misread_fill (MlCase *own, guint taken, MlReadingVerdict *reading);

G_END_DECLS
