/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One fault or none, beside both rivals: as the assumptions state it, on boards with unknown blocks, off the model, with a slip. */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>

#define HEALTHY_SHARE 0.08
#define DETECTABLE 3.0

typedef struct { const MlTruthWorld *world; gboolean slips; } Variation;

static gboolean
is_shown (const MlBenchJob *job, MlTally *tally)
{
  gboolean shown = !job->fault || ml_truth_case_shift (job->given, job->fault) > DETECTABLE;
  if (job->fault)
    ml_tally_count (tally, "faults that the readings given cannot show (left out)", !shown);
  return shown;
}

/* METERLEAF_EVALUATION_KEEP=FOLDER keeps board and job of every case as files, to look at with the program itself. */
static void
run_single (MlBench *bench, guint64 seed, const Variation *variation, MlTally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  MlBenchSet set = ml_random_below (&random, ML_BENCH_N_SETS);
  g_autoptr (GArray) which = ml_bench_choose (bench, set, seed);
  gboolean healthy = !bench->visible->len || ml_random_chance (&random, HEALTHY_SHARE);
  MlBenchSlip slip = { -1, 0 };
  MlBenchJob job = { .which = which, .set = ml_bench_set_name (set), .seed = seed };
  g_autofree double *y = g_new0 (double, which->len + 1);
  job.fault = healthy ? NULL : &g_array_index (bench->visible, MlFault, ml_random_below (&random, bench->visible->len));
  job.y = y;
  g_autoptr (MlTruthCase) given = ml_bench_case (bench, which);
  job.given = given;
  if (!given->solved || !is_shown (&job, tally))
    return;
  if (variation->slips)
    slip = (MlBenchSlip) { ml_random_below (&random, which->len), ml_random_below (&random, 3) };
  g_autoptr (MlTruth) unit = ml_truth_new (bench->actual, bench->drawn, ML_TRUTH_UNIT, seed, variation->world);
  ml_truth_set_faults (unit, job.fault, job.fault ? 1 : 0);
  g_autofree char *readings = ml_bench_readings (bench, unit, "u1", which, seed, &slip, y);
  if (!readings)
    return;
  g_autofree char *text = ml_bench_job ("u1", "suspect", readings);
  ml_exam_keep (g_getenv ("METERLEAF_EVALUATION_KEEP"), seed, bench->drawn_text, text);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (bench->judge, bench->drawn, text, 2);
  ml_bench_mark (bench, &job, verdict, tally);
  ml_bench_mark_rivals (bench, &job, verdict, tally);
}

void
ml_stratum_clean (MlBench *bench, guint64 seed, MlTally *tally)
{
  if (!bench->has_block)
    run_single (bench, seed, &(Variation) { NULL, FALSE }, tally);
}

/* Its rival is told what the pins of the block do, the verdict is not. */
void
ml_stratum_blocks (MlBench *bench, guint64 seed, MlTally *tally)
{
  if (bench->has_block)
    run_single (bench, seed, &(Variation) { NULL, FALSE }, tally);
}

void
ml_stratum_off_model (MlBench *bench, guint64 seed, MlTally *tally)
{
  static const MlTruthWorld WORLDS[] = { { 42, 1, 1 }, { 12, 1.15, 2 }, { 25, 0.88, 3 }, { 35, 1.1, 0.4 } };
  MlRandom random = ml_random_seeded (seed + 11);
  run_single (bench, seed, &(Variation) { &WORLDS[ml_random_below (&random, G_N_ELEMENTS (WORLDS))], FALSE }, tally);
}

void
ml_stratum_slip (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_single (bench, seed, &(Variation) { NULL, TRUE }, tally);
}
