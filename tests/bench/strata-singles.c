/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One fault or none, beside both rivals: as the assumptions state it, sound boards, with a slip, beside a good unit, on boards with unknown
 * blocks, with cold readings, off the model. */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>

#define HEALTHY_SHARE 0.08
#define DETECTABLE 3.0
#define SLIP_SHOWS 5.0 /* sigma */
#define LEAST_WITH_SLIP 6 /* readings: among fewer a slip cannot be told from a fault */

typedef struct
{
  const MlTruthWorld *world; /* NULL: the usual one */
  MlBenchSet set;
  double healthy_share;
  gboolean slips, good_unit;
} Variation;

static void
count_unseen (const MlVerdict *verdict, MlTally *tally)
{
  double most = 0;
  for (guint i = 0; i < verdict->n_parts; i++)
    most = MAX (most, verdict->parts[i].probability);
  ml_tally_count (tally, "a fault that the readings given cannot show: a part above 0.8", most > 0.8);
}

/* The first of a few places whose value the slip changes for all to see; at -1: none. */
static MlBenchSlip
make_slip (const MlBench *bench, const MlBenchJob *job, MlRandom *random)
{
  g_autofree double *sigma = g_new0 (double, job->which->len + 1);
  ml_truth_case_sigma (job->given, job->fault, sigma);
  for (guint tries = 0; tries < 20; tries++)
    {
      static const MlSlip SLIPS[] = { ML_SLIP_SWAPPED, ML_SLIP_THOUSANDFOLD, ML_SLIP_WRONG_PIN };
      MlBenchSlip slip = { ml_random_below (random, job->which->len), SLIPS[ml_random_below (random, 3)], ml_random_below (random, job->which->len) };
      const MlTruthPlace *place = &g_array_index (bench->all->places, MlTruthPlace, g_array_index (job->which, guint, slip.at));
      const MlTruthPlace *other = &g_array_index (bench->all->places, MlTruthPlace, g_array_index (job->which, guint, slip.other));
      double y = job->y[slip.at], instead = slip.slip == ML_SLIP_SWAPPED ? -y : slip.slip == ML_SLIP_THOUSANDFOLD ? y / 1000 : job->y[slip.other];
      if (place->reads == ML_READS_VOLTS && other->reads == ML_READS_VOLTS && other->condition == place->condition
          && fabs (instead - y) > SLIP_SHOWS * sigma[slip.at])
        return slip;
    }
  return (MlBenchSlip) { -1, ML_SLIP_NONE, 0 };
}

static char *
readings_of_good_unit (const MlBench *bench, guint64 seed, guint64 batch)
{
  g_autoptr (MlTruth) good = ml_truth_new_of_batch (bench->actual, bench->drawn, seed + 500, batch);
  g_autoptr (GArray) which = ml_bench_choose (bench, ML_BENCH_ALL, seed);
  g_autofree double *y = g_new0 (double, which->len + 1);
  g_autofree char *lines = ml_bench_readings (bench, good, "g1", which, seed + 2, NULL, y);
  return lines ? g_strconcat ("unit g1 good\n", lines, NULL) : NULL;
}

/* The job's text, its slip made; NULL: could not be. */
static char *
job_text (const MlBench *bench, MlBenchJob *job, MlTruth *unit, const Variation *variation, MlBenchSlip *slip, MlRandom *random)
{
  g_autofree char *readings = ml_bench_readings (bench, unit, "u1", job->which, job->seed, NULL, (double *) job->y), *good = NULL;
  if (readings && variation->slips)
    {
      *slip = make_slip (bench, job, random);
      job->slip = slip->at >= 0 ? slip : NULL;
      g_free (readings);
      readings = job->slip ? ml_bench_readings (bench, unit, "u1", job->which, job->seed, slip, (double *) job->y) : NULL;
    }
  if (readings && variation->good_unit)
    good = readings_of_good_unit (bench, job->seed, job->seed * 2 + 1);
  if (!readings || (variation->good_unit && !good))
    return NULL;
  g_autofree char *all = g_strconcat (readings, good, NULL);
  return ml_bench_job ("u1", "suspect", all);
}

/* METERLEAF_EVALUATION_KEEP=FOLDER keeps board and job of every case as files, to look at with the program itself. */
static void
run_single (MlBench *bench, guint64 seed, const Variation *variation, MlTally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  g_autoptr (GArray) which = ml_bench_choose (bench, variation->set, seed);
  g_autofree double *y = g_new0 (double, which->len + 1);
  gboolean healthy = !bench->visible->len || ml_random_chance (&random, variation->healthy_share);
  MlBenchSlip slip;
  MlBenchJob job = { .which = which, .y = y, .seed = seed };
  if (which->len < (variation->slips ? LEAST_WITH_SLIP : 2))
    return;
  job.fault = healthy ? NULL : &g_array_index (bench->visible, MlFault, ml_random_below (&random, bench->visible->len));
  g_autoptr (MlTruthCase) given = ml_bench_case (bench, which);
  job.given = given;
  if (!given->solved)
    return;
  gboolean shown = !job.fault || ml_truth_case_shift (given, job.fault) > DETECTABLE;
  g_autoptr (MlTruth) unit = variation->good_unit ? ml_truth_new_of_batch (bench->actual, bench->drawn, seed, seed * 2 + 1)
                                                  : ml_truth_new (bench->actual, bench->drawn, ML_TRUTH_UNIT, seed, variation->world);
  ml_truth_set_faults (unit, job.fault, job.fault ? 1 : 0);
  g_autofree char *text = job_text (bench, &job, unit, variation, &slip, &random);
  if (!text)
    return;
  ml_exam_keep (g_getenv ("METERLEAF_EVALUATION_KEEP"), seed, bench->drawn_text, text);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (bench->judge, bench->drawn, text, 2);
  if (job.fault)
    ml_tally_count (tally, "faults that the readings given cannot show (apart)", !shown);
  if (shown)
    ml_bench_mark (bench, &job, verdict, tally);
  else
    count_unseen (verdict, tally);
}

static void
run_clean (MlBench *bench, guint64 seed, MlBenchSet set, MlTally *tally)
{
  if (!bench->has_block && !bench->has_chopped)
    run_single (bench, seed, &(Variation) { .set = set, .healthy_share = HEALTHY_SHARE }, tally);
}

void
ml_stratum_all (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_clean (bench, seed, ML_BENCH_ALL, tally);
}

void
ml_stratum_half (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_clean (bench, seed, ML_BENCH_HALF, tally);
}

void
ml_stratum_drops (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_clean (bench, seed, ML_BENCH_DROPS, tally);
}

void
ml_stratum_healthy (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_single (bench, seed, &(Variation) { .set = ML_BENCH_ANY, .healthy_share = 1 }, tally);
}

void
ml_stratum_slip (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_single (bench, seed, &(Variation) { .set = seed % 2 ? ML_BENCH_HALF : ML_BENCH_ALL, .healthy_share = HEALTHY_SHARE, .slips = TRUE }, tally);
}

/* All readings of a good unit of the same batch; the rivals do not use it. */
void
ml_stratum_good_unit (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_single (bench, seed, &(Variation) { .set = ML_BENCH_ANY, .healthy_share = HEALTHY_SHARE, .good_unit = TRUE }, tally);
}

/* Its rivals are told what the pins of the block do, the verdict is not. */
void
ml_stratum_blocks (MlBench *bench, guint64 seed, MlTally *tally)
{
  if (bench->has_block && !bench->has_chopped)
    run_single (bench, seed, &(Variation) { .set = ML_BENCH_ANY, .healthy_share = HEALTHY_SHARE }, tally);
}

/* Chopped nets, of whose pulses the rivals are told and the verdict is not; also a chip that does not switch. */
void
ml_stratum_chopped (MlBench *bench, guint64 seed, MlTally *tally)
{
  if (bench->has_chopped)
    run_single (bench, seed, &(Variation) { .set = seed % 2 ? ML_BENCH_ALL : ML_BENCH_ANY, .healthy_share = 2 * HEALTHY_SHARE }, tally);
}

void
ml_stratum_cold (MlBench *bench, guint64 seed, MlTally *tally)
{
  run_single (bench, seed, &(Variation) { .set = ML_BENCH_HALF_AND_COLD, .healthy_share = HEALTHY_SHARE }, tally);
}

void
ml_stratum_off_model (MlBench *bench, guint64 seed, MlTally *tally)
{
  static const MlTruthWorld WORLDS[] = { { 42, 1, 1 }, { 12, 1.15, 2 }, { 25, 0.88, 3 }, { 35, 1.1, 0.4 } };
  MlRandom random = ml_random_seeded (seed + 11);
  run_single (bench, seed, &(Variation) { .world = &WORLDS[ml_random_below (&random, G_N_ELEMENTS (WORLDS))], .set = ML_BENCH_ANY,
                                          .healthy_share = HEALTHY_SHARE }, tally);
}
