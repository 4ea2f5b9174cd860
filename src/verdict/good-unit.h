/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Known-good units of the board: judged by themselves first, then what they tell about this one's parts, chips and drawing. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

typedef struct
{
  int unit;
  guint pass;
  char *key;               /* equal for equal readings on equal circuits */
  MlJob *job;              /* that the case refers to */
  MlDictionary *dictionary; /* owned; NULL: the board's as drawn */
  MlCase *own;
  guint item;              /* the sound board as fitted */
  double healthy;          /* probability that it is sound and drawn rightly: below one half what it carries counts by this */
  double fit_tail;         /* chi-squared tail of the sound board's fit */
} MlGoodUnit;

void ml_good_unit_free (MlGoodUnit *good);
/** ml_good_unit_new: base: the board as drawn, for a unit that does not differ from it (own NULL), else own is taken. NULL: cancelled. */
MlGoodUnit *ml_good_unit_new (MlDictionary *base, MlDictionary *own, MlJob *job, int unit, guint pass, GCancellable *cancellable, GError **error);
/** ml_good_units_carry: what they tell about a model not yet in a dictionary, whose unit is `unit`; goods holds MlGoodUnit. as_drawn: that unit's circuit
 *  is the board's. */
void ml_good_units_carry (const GPtrArray *goods, MlModel *model, const MlJob *job, int unit, guint pass, gboolean as_drawn);
/** ml_good_units_doubt: the drawing slips and the misfit as likely as the good units leave them. */
void ml_good_units_doubt (const GPtrArray *goods, MlDictionary *dictionary);
/** ml_good_units_slip_ln: of a slip that ml_good_units_doubt leaves alone, ln of how much likelier it is after their readings; 0 without any. */
double ml_good_units_slip_ln (const GPtrArray *goods, const MlFault *fault);
/** ml_good_units_warn: cautions about good units that are not good. */
void ml_good_units_warn (const GPtrArray *goods, GPtrArray *cautions);

G_END_DECLS
