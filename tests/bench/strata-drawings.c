/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of a sound board on a drawing with one wrong connection. Only drawings whose own readings differ are counted. */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>
#include <string.h>

/* The largest difference between what the wrong drawing says and what the board gives; 0 when a reading could not be entered. */
static double
difference (const MlBench *bench, MlBoard *wrong)
{
  g_autoptr (GArray) places = ml_truth_all_places (bench->actual);
  double largest = 0;
  for (guint i = 0; i < places->len; i++)
    {
      MlTruthPlace *place = &g_array_index (places, MlTruthPlace, i);
      if (place->red.net < 0)
        continue;
      place->red.net = ml_board_find_net (wrong, bench->actual->nets[place->red.net].name);
      place->black.net = wrong->reference;
      if (place->red.net < 0)
        return 0;
    }
  g_autoptr (MlTruthCase) as_drawn = ml_truth_case_new (wrong, wrong, places);
  for (guint i = 0; i < places->len && as_drawn->solved; i++)
    largest = MAX (largest, fabs (as_drawn->healthy[i] - bench->all->healthy[i]) / hypot (as_drawn->healthy_sigma[i], bench->all->healthy_sigma[i]));
  return largest;
}

void
ml_stratum_drawings (MlBench *bench, guint64 seed, MlTally *tally)
{
  g_autofree char *slipped = NULL, *wrong_text = ml_exam_misdraw (bench->drawn_text, seed, &slipped);
  g_autoptr (GError) error = NULL;
  if (!wrong_text || !ml_exam_is_readable (wrong_text))
    return;
  g_autoptr (MlBoard) wrong = ml_exam_board ("wrong", wrong_text);
  if (difference (bench, wrong) < 3)
    return;
  g_autoptr (MlJudge) judge = ml_judge_new (wrong);
  g_autoptr (MlTruth) unit = ml_truth_new (bench->actual, bench->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autoptr (GArray) which = ml_bench_choose (bench, ML_BENCH_ALL, seed);
  g_autofree double *y = g_new0 (double, which->len + 1);
  g_autofree char *readings = ml_bench_readings (bench, unit, "u1", which, seed, NULL, y);
  if (!readings || !ml_judge_prepare (judge, NULL, NULL, NULL, &error))
    return;
  g_autofree char *text = ml_bench_job ("u1", "suspect", readings);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, wrong, text, 2);
  double most = 0;
  int worst = -1;
  for (guint i = 0; i < verdict->n_parts; i++)
    if (strcmp (wrong->parts[i].name, slipped) && verdict->parts[i].probability > most)
      most = verdict->parts[worst = i].probability;
  MlExamAnswer answer;
  ml_exam_answer (verdict, &answer);
  ml_tally_count (tally, "a good part above 0.5", most > 0.5);
  ml_tally_count (tally, "a good part above 0.8", most > 0.8);
  ml_tally_count (tally, "misfit or a drawing slip leads", answer.leads == ML_EXPLAINS_MISFIT || answer.leads == ML_EXPLAINS_DRAWING);
  if (most > 0.5 && bench->verbose)
    print_message ("  wrong drawing convicts: %s job %" G_GUINT64_FORMAT ": slip at %s, %s %.3f, misfit %.3f | %s\n", bench->name, seed, slipped,
                   wrong->parts[worst].name, most, verdict->misfit_probability, verdict->explanations[0].title);
  ml_exam_answer_clear (&answer);
}
