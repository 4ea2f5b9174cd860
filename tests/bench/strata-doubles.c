/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two faults at once, all readings taken. */
#include "bench/bench.h"

#include "support/near.h"

static gboolean
names_both (const MlVerdict *verdict, int part_a, int part_b)
{
  gboolean a = FALSE, b = FALSE;
  for (guint k = 0; verdict->n_explanations && k < verdict->explanations[0].n_faults; k++)
    {
      a = a || verdict->explanations[0].faults[k].part == part_a;
      b = b || verdict->explanations[0].faults[k].part == part_b;
    }
  return a && b;
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
  g_autoptr (MlTruth) unit = ml_truth_new (bench->actual, bench->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autofree double *y = g_new0 (double, which->len + 1);
  ml_truth_set_faults (unit, faults, 2);
  g_autofree char *readings = ml_bench_readings (bench, unit, "u1", which, seed, NULL, y);
  if (!readings)
    return;
  g_autofree char *text = ml_bench_job ("u1", "suspect", readings);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (bench->judge, bench->drawn, text, 2);
  MlExamAnswer answer;
  ml_exam_answer (verdict, &answer);
  gboolean named = answer.leads == ML_EXPLAINS_FAULT;
  ml_tally_count (tally, "one of the two, or tied with one, first",
                  named && (ml_truth_case_tied (bench->all, &faults[0], answer.group[0]) || ml_truth_case_tied (bench->all, &faults[1], answer.group[0])));
  ml_tally_count (tally, "both in the first explanation", names_both (verdict, faults[0].part, faults[1].part));
  ml_exam_answer_clear (&answer);
}
