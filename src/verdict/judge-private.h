/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: what the files that make up a verdict share. */
#pragma once

#include "verdict/case.h"
#include "verdict/verdict-private.h"
#include "verdict/which-state.h"

G_BEGIN_DECLS

struct _MlJudge
{
  MlBoard *board;
  MlDictionary *base;      /* the board as drawn */
  gboolean prepared;
  MlDictionary *variant;   /* the last unit that differs from it */
  char *variant_key;
  GHashTable *assumed;     /* what the board assumes in its own way */
  GPtrArray *goods;        /* MlGoodUnit: of the last job */
  MlWhichState *states;    /* NULL: not asked for yet */
};

/** ml_verdict_say_assumed: what the board assumes in its own way, as cautions. */
void ml_verdict_say_assumed (const MlBoard *board, GPtrArray *cautions);
/** ml_judge_base: the dictionary of the board as drawn, its circuits built but not necessarily solved. */
MlDictionary *ml_judge_base (MlJudge *judge);
/** ml_judge_find: the unit and pass that are meant, and the dictionary of the unit's own circuit, solved. Errors as ml_judge_run. */
MlDictionary *ml_judge_find (MlJudge *judge, MlJob *job, int *unit, guint *pass, GCancellable *cancellable, GError **error);

/** ml_case_fit_tail: how likely a worse fit than that of an expansion to n readings is, extra (may be NULL) added to their variances; 1 when that cannot be said. */
double ml_case_fit_tail (MlCase *own, MlExpansion *at, const double *extra, guint n);

/** ml_verdict_fill: explanations, marks, readings, sentence … from the case. cleared may be NULL (not known yet). */
void ml_verdict_fill (MlVerdict *verdict, MlCase *own, const gboolean *cleared);
/** ml_verdict_say: the sentence; after everything else is filled in. */
void ml_verdict_say (MlVerdict *verdict, MlCase *own);
/** ml_verdict_reason: a reason per explanation. */
void ml_verdict_reason (MlVerdict *verdict, MlCase *own, MlExplanation *explanation);
/** ml_verdict_find_fine: the operating points of the sound board on this bench. */
void ml_verdict_find_fine (MlVerdict *verdict, MlCase *own);
/** ml_found_add: the changes that put it into that condition of a model of the same board; none when found is NULL or of other parts. */
void ml_found_add (const MlFound *found, MlChanges *changes, const MlModel *model, int condition);
/** ml_operating_point_of: a solution of that condition as plain arrays. */
MlOperatingPoint *ml_operating_point_of (const MlModel *model, int condition, const MlNodalSolution *at);
void ml_verdict_find_blind (MlVerdict *verdict, MlCase *own);
/** ml_case_touched: per part, whether some fault of it would move some reading taken off what the sound board gives by more than twice its spread. */
const gboolean *ml_case_touched (MlCase *own);
/* ml_verdict_say_unseen: the parts whose faults no reading taken would show, "R3, R4 and 2 more" above most; new string, NULL: none. */
char *ml_verdict_say_unseen (const MlVerdict *verdict, guint most);
void ml_verdict_find_cautions (MlVerdict *verdict, MlCase *own);
/** ml_case_as_reading: a reading that somebody may take there; FALSE: nobody can, or the condition was not solved. */
gboolean ml_case_as_reading (const MlCase *own, const MlLikelyPlace *at, MlReading *ret_reading);
/** ml_case_fitted: what a place reads (V, A or ln ohm) under a state of affairs fitted to all readings, and its spread; NAN: it cannot be computed. */
double ml_case_fitted (MlCase *own, MlExpansion *at, guint place, double *ret_sigma);
/** ml_case_best_of: the likeliest item of a hypothesis. */
guint ml_case_best_of (const MlCase *own, guint hypothesis);
/** ml_verdict_is_odd: whether reading i of the verdict is far from what a sound board gives: what an assumption calls odd. */
gboolean ml_verdict_is_odd (const MlVerdict *verdict, guint i);
/** ml_verdict_say_measured: what reading i of the verdict shows: "2.91 V"; new string. */
char *ml_verdict_say_measured (const MlVerdict *verdict, guint i);
/** ml_verdict_say_at: "at V5", "across R4": where a reading (index of the verdict's) was taken, as it stands behind its value; new string. */
char *ml_verdict_say_at (const MlVerdict *verdict, guint i);

G_END_DECLS
