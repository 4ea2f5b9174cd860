/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A generated board as the benchmarks of one part of the verdict use it: as drawn, as it really is, its judge, and the faults that show. */
#pragma once

#include "support/exam.h"

G_BEGIN_DECLS

typedef struct
{
  guint64 seed;
  MlBoard *drawn, *actual;
  MlJudge *judge;
  MlTruthCase *all; /* every net in every condition, and the supplies' currents */
  GArray *visible;  /* MlFault: one of each mode that all readings together show */
} MlTrial;

/** ml_trial_open: more (may be NULL) is added to both board files. Ends the program when the board cannot be judged. */
void ml_trial_open (MlTrial *trial, guint64 seed, guint n_parts, const char *more);
void ml_trial_close (MlTrial *trial);

G_END_DECLS
