/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Judging a job, and solving a board as drawn or with a supposed fault. */
#pragma once

#include <gio/gio.h>

#include "verdict/verdict.h"

G_BEGIN_DECLS

#define ML_JUDGE_ERROR ml_judge_error_quark ()
GQuark ml_judge_error_quark (void);
typedef enum { ML_JUDGE_ERROR_NO_UNIT, ML_JUDGE_ERROR_NOT_SOLVED, ML_JUDGE_ERROR_BAD_SUPPOSE, ML_JUDGE_ERROR_NOT_SIMULATED } MlJudgeError;

/* What is computed once per board (its circuits, healthy operating points, fault dictionary) and used for every job on it.
 * Thread: any one at a time. Building the dictionary is the slow part and happens in ml_judge_prepare. */
typedef struct _MlJudge MlJudge;

/* Where somebody may measure next. */
typedef struct
{
  int condition;
  MlReads reads;
  MlProbe red, black;
  int supply; /* amps: index in the condition, else -1 */
  double ohm; /* about what an ohmmeter would show: its range sets its current */
} MlLikelyPlace;

MlJudge *ml_judge_new (MlBoard *board);
void ml_judge_free (MlJudge *judge);
/** ml_judge_prepare: healthy points and fault dictionary. progress (may be NULL) is told 0..1. Errors: G_IO_ERROR_CANCELLED. */
gboolean ml_judge_prepare (MlJudge *judge, void (*progress) (double share, gpointer data), gpointer data, GCancellable *cancellable,
                           GError **error);

/**
 * ml_judge_run: the verdict on one unit and pass (unit -1: the first marked suspect; pass 0: the last with readings). job->board must be
 * the judge's board. stage: 0 stops after the dictionary, 1 after refinement and the next reading, 2 runs to the end.
 * The same input gives the same result, byte for byte. Errors: ML_JUDGE_ERROR, G_IO_ERROR_CANCELLED.
 */
MlVerdict *ml_judge_run (MlJudge *judge, MlJob *job, int unit, guint pass, guint stage, GCancellable *cancellable, GError **error);

/**
 * ml_judge_glance: the first answer to a reading, or a few, taken after a refined verdict on the same unit and pass: that verdict's explanations by how
 * likely the new readings are under each. A small part of stage 0's time, and mostly nearer to the final verdict; but it goes by what was judged before,
 * and no other stage takes notice of it. Of stage 0. NULL: nothing was judged that the readings follow upon; begin with stage 0.
 */
MlVerdict *ml_judge_glance (MlJudge *judge, MlJob *job, int unit, guint pass);

/**
 * ml_judge_foresee: for idle time after a verdict: works out what readings at likely places would show under everything that may be wrong, those
 * asked for first (may be NULL), then all of that condition, then of the others, so that the verdict after the next reading has little left to do. Verdicts stay the same to the last
 * bit. Soon back once cancelled, what it has found by then stays. Errors: G_IO_ERROR_CANCELLED.
 */
gboolean ml_judge_foresee (MlJudge *judge, MlJob *job, int unit, guint pass, const MlLikelyPlace *asked, guint n_asked, GCancellable *cancellable,
                           GError **error);
/**
 * ml_judge_foretell: what a voltage at a place would be, going by all readings taken and by everything that may be the case after them: the mean, V, and in
 * *ret_sigma its spread, the meter's own error not in it. A mind not made up shows as a wide spread. NAN: that unit and pass were not what was judged last,
 * or the drawing may be wrong, or it cannot be computed.
 */
double ml_judge_foretell (MlJudge *judge, MlJob *job, int unit, guint pass, const MlLikelyPlace *at, double *ret_sigma);
/** ml_verdict_likely: where the verdict suggests to measure next, to be asked for; new array of MlLikelyPlace. */
GArray *ml_verdict_likely (const MlVerdict *verdict);

/**
 * ml_record_new: every pass of a unit that has readings judged to the end, every condition solved as drawn. job->board must be the judge's.
 * A pass that cannot be judged has its trouble. Errors: G_IO_ERROR_CANCELLED.
 */
MlRecord *ml_record_new (MlJudge *judge, MlJob *job, int unit, GCancellable *cancellable, GError **error);

/**
 * ml_judge_solve: one condition as drawn, or with supposed faults (n_faults may be 0). found (may be NULL: nobody knows) of a verdict on the same board
 * says what unknown chips do there. Never NULL; see ->solved and ->error.
 */
MlOperatingPoint *ml_judge_solve (MlJudge *judge, int condition, const MlFault *faults, guint n_faults, const MlFound *found);
/**
 * ml_judge_expect: what the meter would show at a place under that state of affairs, found as above; NAN when it cannot be computed. *ret_sigma (may be
 * NULL) from the part tolerances.
 */
double ml_judge_expect (MlJudge *judge, int condition, const MlFault *faults, guint n_faults, const MlFound *found, MlReads reads, const MlProbe *red,
                        const MlProbe *black, int supply, const MlMeter *meter, double *ret_sigma);
void ml_operating_point_free (MlOperatingPoint *point);
/** ml_judge_check_fault: whether that fault can be put into the circuit at all. Errors: ML_JUDGE_ERROR_BAD_SUPPOSE, ML_JUDGE_ERROR_NOT_SIMULATED. */
gboolean ml_judge_check_fault (MlJudge *judge, int condition, const MlFault *fault, GError **error);
/** ml_fault_parse: `--suppose`: "Q2 joint pins=emitter size=310", "stray-link nets=A,B size=20". */
gboolean ml_fault_parse (const MlBoard *board, const char *words, MlFault *ret_fault, GError **error);
void ml_fault_clear (MlFault *fault);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlJudge, ml_judge_free)
G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlOperatingPoint, ml_operating_point_free)
G_END_DECLS
