/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two faults at once, all readings taken. */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>

#define DETECTABLE 3.0

#define FEW 5 /* explanations that a person reads */

/* One of the explanation's faults is on the part, or on one that the readings cannot tell from this fault. */
static gboolean
names (MlTruthCase *given, const MlExplanation *explanation, const MlFault *fault)
{
  for (guint k = 0; k < explanation->n_faults; k++)
    if (explanation->faults[k].part >= 0
        && (explanation->faults[k].part == fault->part || ml_truth_case_tied (given, fault, explanation->faults[k].part)))
      return TRUE;
  return FALSE;
}

static gboolean
cuts (const MlFault *track, const MlFault *fault)
{
  for (guint i = 0; i < track->n_cut; i++)
    if (track->cut_parts[i] == fault->part && fault->n_pins && (fault->kind == ML_FAULT_OPEN || fault->kind == ML_FAULT_JOINT))
      return TRUE;
  return FALSE;
}

/* Two pins off one net read as one broken track before both, and whoever looks there sees either. */
static gboolean
cuts_both (const MlExplanation *explanation, const MlFault faults[2])
{
  const MlFault *own = explanation->faults;
  return explanation->n_faults == 1 && own->kind == ML_FAULT_BROKEN_TRACK && cuts (own, &faults[0]) && cuts (own, &faults[1]);
}

/* The explanation itself, or one that the program calls tied with it. */
static gboolean
names_both (MlTruthCase *given, const MlVerdict *verdict, guint i, const MlFault faults[2])
{
  const MlExplanation *own = &verdict->explanations[i];
  for (guint k = 0; k <= own->n_tied; k++)
    {
      const MlExplanation *one = k ? &verdict->explanations[own->tied[k - 1] - 1] : own;
      if (cuts_both (one, faults) || (one->n_faults == 2 && names (given, one, &faults[0]) && names (given, one, &faults[1])))
        return TRUE;
    }
  return FALSE;
}

static void
mark_pair (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  const MlFault faults[2] = { *job->fault, *job->second };
  guint n = MIN (verdict->n_explanations, FEW), at = 0;
  while (at < n && !names_both (job->given, verdict, at, faults))
    at++;
  gboolean one = n && (names (job->given, &verdict->explanations[0], &faults[0]) || names (job->given, &verdict->explanations[0], &faults[1]));
  ml_tally_count (tally, "one of them, or tied, in the first explanation", one);
  ml_tally_count (tally, "both, or tied, in the first explanation", n && at == 0);
  /* A chip that may do anything excuses what a second fault does at its pins: the criterion of what shows knows what the chip does, nobody else. */
  ml_tally_count (tally, bench->has_block ? "… beside an unknown chip: both, or tied, in the first explanation"
                                          : "… without an unknown chip: both, or tied, in the first explanation", n && at == 0);
  gboolean as_one = ml_truth_case_reads_as_one (job->given, faults, 2);
  ml_tally_count (tally, "… of those that read as one fault alone", as_one);
  if (!as_one)
    ml_tally_count (tally, "… of the others: both, or tied, in the first explanation", n && at == 0);
  ml_tally_count (tally, "both, or tied, in the first five explanations", at < n);
  if (!bench->verbose || (n && at == 0))
    return;
  g_autofree char *a = ml_fault_describe (bench->actual, &faults[0]), *b = ml_fault_describe (bench->actual, &faults[1]);
  print_message ("  not both%s: %s job %" G_GUINT64_FORMAT ": %s and %s; %s\n", as_one ? " (reads as one)" : "", bench->name, job->seed, a, b, verdict->sentence);
  for (guint i = 0; i < n; i++)
    print_message ("    %.3f %s\n", verdict->explanations[i].probability, verdict->explanations[i].title);
}

/* Each shows beside the other: some reading moves by more than 3 sigma when it is taken away. */
static gboolean
both_show (MlTruthCase *given, const MlFault faults[2])
{
  guint n = given->places->len;
  g_autofree double *two = g_new0 (double, n + 1), *one = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  if (!ml_truth_case_read (given, given->nominal, faults, 2, two))
    return FALSE;
  for (guint k = 0; k < 2; k++)
    {
      double most = 0;
      if (!ml_truth_case_read (given, given->nominal, &faults[k], 1, one))
        return FALSE;
      ml_truth_case_sigma (given, &faults[k], sigma);
      for (guint i = 0; i < n; i++)
        most = MAX (most, fabs (two[i] - one[i]) / sigma[i]);
      if (!(most > DETECTABLE))
        return FALSE;
    }
  return TRUE;
}

void
ml_stratum_doubles (MlBench *bench, guint64 seed, MlTally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  if (bench->visible->len < 2)
    return;
  MlFault faults[2] = { g_array_index (bench->visible, MlFault, ml_random_below (&random, bench->visible->len)),
                        g_array_index (bench->visible, MlFault, ml_random_below (&random, bench->visible->len)) };
  if (faults[0].part == faults[1].part)
    return;
  g_autoptr (GArray) which = ml_bench_choose (bench, ML_BENCH_ALL, seed);
  g_autoptr (MlTruthCase) given = ml_bench_case (bench, which);
  gboolean shown = given->solved && both_show (given, faults);
  ml_tally_count (tally, "pairs of which one hides the other (left out)", !shown);
  if (!shown)
    return;
  g_autoptr (MlTruth) unit = ml_truth_new (bench->actual, bench->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autofree double *y = g_new0 (double, which->len + 1);
  ml_truth_set_faults (unit, faults, 2);
  g_autofree char *readings = ml_bench_readings (bench, unit, "u1", which, seed, NULL, y);
  if (!readings)
    return;
  g_autofree char *text = ml_bench_job ("u1", "suspect", readings);
  ml_exam_keep (g_getenv ("METERLEAF_EVALUATION_KEEP"), seed, bench->drawn_text, text);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (bench->judge, bench->drawn, text, 2);
  MlBenchJob job = { .given = given, .which = which, .y = y, .fault = &faults[0], .second = &faults[1], .seed = seed };
  mark_pair (bench, &job, verdict, tally);
  ml_bench_mark (bench, &job, verdict, tally);
}
