/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The invented readings of the demo jobs, computed from the documented fault. */
#pragma once

#include "support/truth.h"

G_BEGIN_DECLS

typedef struct
{
  const char *name;     /* of the files in boards/, without ending */
  const char *culprit;  /* the part at fault */
} MlDemo;

#define ML_N_DEMOS 3
extern const MlDemo ML_DEMOS[ML_N_DEMOS];

/** ml_demo_fill: the job's text with the value of every reading computed anew; everything else as it stands. New string. */
char *ml_demo_fill (guint demo, MlBoard *board, const char *job_text);
/** ml_demo_truth: that unit of the demo job as a truth board. */
MlTruth *ml_demo_truth (guint demo, MlBoard *board, const char *unit);

G_END_DECLS
