/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What all strata of the evaluation share: a board with its judge, truth and rivals; which readings are taken; jobs typed from them.
 * A stratum is one function and one row in evaluation.c: it makes one job from the board and a seed and counts into its tally. */
#pragma once

#include "bench/rivals.h"
#include "bench/tally.h"
#include "support/exam-unread.h"

G_BEGIN_DECLS

typedef struct
{
  char *name;          /* of the board file, or "generated 101" */
  guint64 seed;
  char *drawn_text, *actual_text;
  MlBoard *drawn, *actual;
  MlJudge *judge;
  MlTruthCase *all;    /* every net in every powered condition and the supplies' currents, then drops, then ohms in cold conditions */
  guint n_powered, n_drops; /* of all->places: those of the first kind, of the second behind them */
  MlRivals *rivals;
  GArray *visible;     /* MlFault: those that all readings together show */
  guint n_drawn;       /* faults tried for it; the others no d.c. reading shows, or they could not be computed */
  gboolean has_block, has_chopped;
  gboolean verbose;    /* tell every miss */
} MlBench;

typedef struct
{
  const char *name;
  void (*run) (MlBench *bench, guint64 seed, MlTally *tally);
  gboolean cold; /* wants a board with an unpowered condition */
} MlStratum;

/**
 * ml_bench_open: a board of the evaluation; n_samples of the Bayes classifier per mode and size; cold: with ohms read on its unpowered condition. NULL:
 * its healthy state cannot be solved.
 */
MlBench *ml_bench_open (const char *name, const char *drawn_text, const char *actual_text, guint64 seed, guint n_samples, gboolean cold);
void ml_bench_free (MlBench *bench);

typedef enum { ML_BENCH_ALL, ML_BENCH_HALF, ML_BENCH_DROPS, ML_BENCH_HALF_AND_COLD, ML_BENCH_ANY } MlBenchSet; /* any: all, half or drops, by the seed */
const char *ml_bench_set_name (MlBenchSet set); /* "all readings" … */
/** ml_bench_choose: the places of one job: all, half of the nets, only drops across semiconductors, half and ohms of the cold board; indices into
 *  bench->all->places. */
GArray *ml_bench_choose (const MlBench *bench, MlBenchSet set, guint64 seed);
/** ml_bench_case: the truth program's view of those readings alone. */
MlTruthCase *ml_bench_case (const MlBench *bench, const GArray *which);

/* A person's slip at one reading. */
typedef struct
{
  int at;      /* index into which; -1: none */
  MlSlip slip; /* swapped, thousandfold, or wrong-pin: the value of another place */
  guint other; /* wrong-pin: index into which */
} MlBenchSlip;

/** ml_bench_readings: the reading lines of a unit, typed as a person would, and the same numbers for the rivals: ret_y[which->len]. NULL: could not be solved. */
char *ml_bench_readings (const MlBench *bench, MlTruth *unit, const char *unit_name, const GArray *which, guint64 seed, const MlBenchSlip *slip,
                         double *ret_y);
/** ml_bench_job: head of the job text with one unit, state "suspect" or "good"; readings follow. New string. */
char *ml_bench_job (const char *unit_name, const char *state, const char *readings);

/* The answers to one job. */
typedef struct
{
  MlTruthCase *given;     /* what the readings show */
  const GArray *which;
  const double *y;
  const MlFault *fault;   /* NULL: healthy */
  const MlFault *second;  /* NULL: at most one */
  const MlBenchSlip *slip; /* NULL: none */
  guint64 seed;
} MlBenchJob;

/** ml_bench_mark: counts the answers to one job, the verdict's beside both rivals'. */
void ml_bench_mark (MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally);

/* ---- strata ---- */

void ml_stratum_all (MlBench *bench, guint64 seed, MlTally *tally);       /* boards without unknown blocks; all readings */
void ml_stratum_half (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_drops (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_healthy (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_slip (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_good_unit (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_blocks (MlBench *bench, guint64 seed, MlTally *tally);    /* boards with one */
void ml_stratum_chopped (MlBench *bench, guint64 seed, MlTally *tally);   /* boards with a chopped net */
void ml_stratum_cold (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_off_model (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_doubles (MlBench *bench, guint64 seed, MlTally *tally);
void ml_stratum_drawings (MlBench *bench, guint64 seed, MlTally *tally);
/** ml_stratum_unread: n faults and some sound units of a board that is half unread. */
void ml_stratum_unread (MlUnreadBoard *board, MlUnreadWay way, guint64 seed, guint n, MlTally *tally);

G_END_DECLS
