/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The computing behind the window, in threads: operating points on one lane, the verdict on another, so that looking at a condition never
 * waits for the verdict. Each lane does the latest thing asked for; what is older is cancelled and its results never arrive. */
#pragma once

#include "verdict/judge.h"

G_BEGIN_DECLS

typedef struct _MlAnalysis MlAnalysis;

/* All called on the main context of ml_analysis_new, never from within a function below. */
typedef struct
{
  /* The point of point->condition, as drawn or (supposed) with the fault asked for; taken over. */
  void (*point) (MlOperatingPoint *point, gboolean supposed, gpointer data);
  /* A verdict, better each time: stage 0, 1, 2. Taken over. */
  void (*verdict) (MlVerdict *verdict, gpointer data);
  void (*progress) (double share, gpointer data); /* negative: idle */
  /* Of a place that ml_analysis_expect told of: what it will read, V, and the spread of that, as ml_judge_foretell; not told where nobody knows. */
  void (*foretold) (const MlLikelyPlace *place, double value, double sigma, gpointer data);
  void (*failed) (const GError *error, gpointer data);
} MlAnalysisCalls;

MlAnalysis *ml_analysis_new (const MlAnalysisCalls *calls, gpointer data);
/** ml_analysis_free: nothing is called any more; threads still at work end by themselves. */
void ml_analysis_free (MlAnalysis *self);

/** ml_analysis_set_board: everything about the board before is dropped. Its conditions are solved, `first` (or -1) before the others. */
void ml_analysis_set_board (MlAnalysis *self, MlBoard *board, int first);
/** ml_analysis_suppose: solves one condition with a fault, unknown chips doing what was found (may be NULL). fault NULL: nothing is supposed any more. */
void ml_analysis_suppose (MlAnalysis *self, int condition, const MlFault *fault, MlFound *found);
/** ml_analysis_judge: job must be of the board. soon FALSE: waits a moment for further changes. unit -1 or job NULL: no verdict is wanted. */
void ml_analysis_judge (MlAnalysis *self, MlJob *job, int unit, guint pass, gboolean soon);
/** ml_analysis_expect: somebody is about to measure there; the verdict on that reading is to come at once, and what it will be is told. Costs nothing
 * that is waited for. */
void ml_analysis_expect (MlAnalysis *self, const MlLikelyPlace *place);
/** ml_analysis_stop: leaves the verdict as far as it is. */
void ml_analysis_stop (MlAnalysis *self);
/** ml_analysis_bench_judge: for questions on the main context; NULL while a point is being solved with it. */
MlJudge *ml_analysis_bench_judge (MlAnalysis *self);

/** ml_analysis_copy_fault: into *ret_copy, to be freed with ml_fault_clear. */
void ml_analysis_copy_fault (const MlFault *fault, MlFault *ret_copy);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlAnalysis, ml_analysis_free)
G_END_DECLS
