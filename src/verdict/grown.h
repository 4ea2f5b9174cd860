/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The evidence of one item at its centre, grown reading by reading: with the leakage that boards may have and, once it matters, without; the
 * pins of unknown chips watched along. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

typedef struct
{
  MlWhitened with, without; /* leakage; without is empty until leakage matters */
  gboolean leaks;           /* it does more to a reading than half of what the model leaves out */
  gboolean lost, dry_lost;  /* no usable covariance */
} MlGrown;

/* One more reading of an item, before it is taken. */
typedef struct
{
  double value, floor; /* predicted; variance of what the model leaves out */
  gboolean valid, leaks, ready;
  MlStep with, without; /* without only where leakage matters already */
} MlPrepared;

#define ML_N_SLICES 8 /* of the items of a dictionary; what is grown in one of them is grown in that one later on, too */

/* Memory for the work on one item after the other. */
typedef struct
{
  MlCase *own;
  MlMixClasses *classes;
  double *dense, *dense_leak;         /* n_columns, all 0 between uses */
  double *covariance, *dry_covariance; /* n_taken */
  double *h;                          /* n_columns */
  guint *unknown, *where;             /* where: all 0 between uses */
  GArray *numbers, *fresh;            /* double, guint: of steps that are taken at once */
} MlGrowing;

void ml_growing_init (MlGrowing *growing, MlCase *own);
void ml_growing_clear (MlGrowing *growing);
/** ml_grown_step_room: doubles that the steps of a prepared reading take at most, and unknowns. */
void ml_grown_step_room (const MlGrowing *growing, const MlGrown *grown, guint *ret_numbers, guint *ret_fresh);
/** ml_grown_prepare: a reading at that place after the grown ones, which are the first of those taken. Its steps lie in numbers and fresh. */
void ml_grown_prepare (MlGrowing *growing, guint item, const MlGrown *grown, guint place, double *numbers, guint *fresh, MlPrepared *ret);
/** ml_grown_take: the next of the readings taken, as prepared. */
void ml_grown_take (MlGrowing *growing, guint item, MlGrown *grown, const MlPrepared *prepared);
/** ml_grown_next: the same, not prepared yet. */
void ml_grown_next (MlGrowing *growing, guint item, MlGrown *grown);
/** ml_grown_ln: ln density of the readings. */
double ml_grown_ln (MlGrowing *growing, guint item, const MlGrown *grown);
void ml_grown_clear (MlGrown *grown);

G_END_DECLS
