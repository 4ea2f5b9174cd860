/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of a board, sound or with one fault, on a drawing with one wrong connection. Only drawings whose own readings differ are counted. */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>
#include <string.h>

#define N_SAMPLES 12
#define DETECTABLE 3.0
#define HEALTHY_SHARE 0.6

/* One wrong drawing as the truth program sees it; its places are those of the board, in the same order. NULL: its readings do not differ. */
static MlTruthCase *
as_drawn_wrongly (const MlBench *bench, MlBoard *wrong)
{
  g_autoptr (GArray) places = ml_truth_all_places (bench->actual);
  double largest = 0;
  if (!ml_truth_knows (wrong))
    return NULL;
  for (guint i = 0; i < places->len; i++)
    {
      MlTruthPlace *place = &g_array_index (places, MlTruthPlace, i);
      if (place->red.net < 0)
        continue;
      place->red.net = ml_board_find_net (wrong, bench->actual->nets[place->red.net].name);
      place->black.net = wrong->reference;
      if (place->red.net < 0)
        return NULL;
    }
  MlTruthCase *c = ml_truth_case_new (wrong, wrong, places);
  for (guint i = 0; i < places->len && c->solved; i++)
    largest = MAX (largest, fabs (c->healthy[i] - bench->all->healthy[i]) / hypot (c->healthy_sigma[i], bench->all->healthy_sigma[i]));
  if (largest > DETECTABLE)
    return c;
  ml_truth_case_free (c);
  return NULL;
}

static int
most_suspected (const MlBoard *board, const double *parts, const char *slipped, const char *faulty)
{
  int worst = -1;
  for (guint i = 0; i < board->n_parts; i++)
    if (strcmp (board->parts[i].name, slipped) && g_strcmp0 (board->parts[i].name, faulty) && (worst < 0 || parts[i] > parts[worst]))
      worst = i;
  return worst;
}

/* A fault of that part, on the board as drawn, reads the same as the board as it is: no reading tells it from the slip, and they count as one row. */
static gboolean
reads_the_same (const MlBench *bench, MlTruthCase *as_drawn, const MlFault *fault, int part)
{
  guint n = bench->all->places->len;
  g_autofree double *y = g_new0 (double, n + 1), *sigma = g_new0 (double, n + 1);
  ml_truth_case_sigma (bench->all, fault, sigma);
  return part >= 0 && ml_truth_case_predict (bench->all, fault, y)
         && (ml_truth_case_gives (as_drawn, part, NULL, y, sigma) || (fault && ml_truth_case_gives (as_drawn, part, fault, y, sigma)));
}

static void
mark_rivals (const MlBench *bench, MlTruthCase *as_drawn, const MlFault *fault, const char *slipped, const char *faulty, const GArray *which, const double *y,
             MlTally *tally)
{
  MlRivals *rivals = ml_rivals_new (as_drawn, N_SAMPLES);
  guint n = as_drawn->actual->n_parts;
  g_autofree double *parts = g_new0 (double, n + 1);
  double healthy;
  int nearest = -1, worst;
  ml_rivals_bayes (rivals, (const guint *) which->data, y, which->len, 0.08, FALSE, parts, &healthy);
  worst = most_suspected (as_drawn->actual, parts, slipped, faulty);
  ml_tally_count (tally, "a good part above 0.8: Bayes, true spreads", parts[worst] > 0.8 && !reads_the_same (bench, as_drawn, fault, worst));
  ml_rivals_nearest (rivals, (const guint *) which->data, y, which->len, parts, &healthy);
  for (guint i = 0; i < n; i++)
    nearest = parts[i] < healthy && (nearest < 0 || parts[i] < parts[nearest]) ? (int) i : nearest;
  ml_tally_count (tally, "a good part named: nearest signature",
                  nearest >= 0 && strcmp (as_drawn->actual->parts[nearest].name, slipped) && g_strcmp0 (as_drawn->actual->parts[nearest].name, faulty));
  ml_rivals_free (rivals);
}

static gboolean
leads_with_slip_at (const MlVerdict *verdict, const MlBoard *board, const char *slipped)
{
  const MlExplanation *first = verdict->n_explanations ? &verdict->explanations[0] : NULL;
  return first && first->explains == ML_EXPLAINS_DRAWING && first->n_faults && first->faults[0].part >= 0
         && !strcmp (board->parts[first->faults[0].part].name, slipped);
}

/* Whether one of the explanations has to do with the part that is drawn wrongly. */
static gboolean
mentions (const MlVerdict *verdict, const MlBoard *board, const char *slipped)
{
  for (guint i = 0; i < verdict->n_explanations; i++)
    for (guint k = 0; k < verdict->explanations[i].n_faults; k++)
      if (verdict->explanations[i].faults[k].part >= 0 && !strcmp (board->parts[verdict->explanations[i].faults[k].part].name, slipped))
        return TRUE;
  return FALSE;
}

static void
mark (const MlBench *bench, MlTruthCase *as_drawn, const MlVerdict *verdict, const MlBoard *wrong, guint64 seed, const char *slipped, const MlFault *fault,
      MlTally *tally)
{
  const char *faulty = fault ? bench->actual->parts[fault->part].name : NULL;
  g_autofree double *parts = g_new0 (double, verdict->n_parts + 1);
  double brier = pow (verdict->healthy_probability, 2);
  MlExamAnswer answer;
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      gboolean is_faulty = !g_strcmp0 (wrong->parts[i].name, faulty);
      parts[i] = verdict->parts[i].probability;
      brier += pow (parts[i] - is_faulty, 2);
      ml_tally_count (tally, is_faulty ? "faulty part called cleared" : "good part called cleared", verdict->parts[i].verdict == ML_VERDICT_CLEARED);
      if (is_faulty && verdict->parts[i].verdict == ML_VERDICT_CLEARED && bench->verbose)
        print_message ("  faulty part cleared: %s job %" G_GUINT64_FORMAT ": slip at %s, fault at %s, misfit %.3f | %.3f %s\n", bench->name, seed, slipped, faulty,
                       verdict->misfit_probability, verdict->explanations[0].probability, verdict->explanations[0].title);
    }
  int worst = most_suspected (wrong, parts, slipped, faulty);
  double most = worst < 0 ? 0 : parts[worst];
  ml_exam_answer (verdict, &answer);
  gboolean drawing = answer.leads == ML_EXPLAINS_MISFIT || answer.leads == ML_EXPLAINS_DRAWING;
  gboolean same = most > 0.5 && mentions (verdict, wrong, slipped) && reads_the_same (bench, as_drawn, fault, worst);
  ml_tally_count (tally, "a good part above 0.5: verdict", most > 0.5 && !same);
  ml_tally_count (tally, "a good part above 0.8: verdict", most > 0.8 && !same);
  ml_tally_count (tally, "a good part above 0.5, whose fault reads the same, the slip beside it (apart)", same);
  ml_tally_count (tally, faulty ? "faulty board: misfit or a drawing slip leads" : "sound board: misfit or a drawing slip leads", drawing);
  ml_tally_count (tally, faulty ? "faulty board: the part drawn wrongly is named for it first" : "sound board: the part drawn wrongly is named for it first",
                  leads_with_slip_at (verdict, wrong, slipped));
  if (faulty)
    ml_tally_count (tally, "faulty board: the faulty part leads", answer.leads == ML_EXPLAINS_FAULT && !strcmp (wrong->parts[answer.group[0]].name, faulty));
  ml_tally_add (tally, "Brier score, over parts: verdict", brier);
  if (answer.leads == ML_EXPLAINS_FAULT)
    ml_tally_state (tally, "reliability of the first part: verdict", answer.largest, !g_strcmp0 (wrong->parts[answer.group[0]].name, faulty)
                                                                                      || !strcmp (wrong->parts[answer.group[0]].name, slipped));
  if (most > 0.5 && bench->verbose)
    print_message ("  wrong drawing %s: %s job %" G_GUINT64_FORMAT ": slip at %s, fault at %s, %s %.3f, misfit %.3f | %s\n",
                   same ? "reads the same" : "convicts", bench->name, seed, slipped, faulty ? faulty : "none", wrong->parts[worst].name, most,
                   verdict->misfit_probability, verdict->explanations[0].title);
  ml_exam_answer_clear (&answer);
}

void
ml_stratum_drawings (MlBench *bench, guint64 seed, MlTally *tally)
{
  MlRandom random = ml_random_seeded (seed + 1);
  g_autofree char *slipped = NULL, *wrong_text = ml_exam_misdraw (bench->drawn_text, seed, &slipped);
  g_autoptr (GError) error = NULL;
  gboolean healthy = ml_random_chance (&random, HEALTHY_SHARE) || !bench->visible->len;
  const MlFault *fault = healthy ? NULL : &g_array_index (bench->visible, MlFault, ml_random_below (&random, bench->visible->len));
  const char *faulty = fault ? bench->actual->parts[fault->part].name : NULL;
  if (!wrong_text || !ml_exam_is_readable (wrong_text) || !g_strcmp0 (faulty, slipped))
    return;
  g_autoptr (MlBoard) wrong = ml_exam_board ("wrong", wrong_text);
  g_autoptr (MlTruthCase) as_drawn = as_drawn_wrongly (bench, wrong);
  if (!as_drawn)
    return;
  g_autoptr (MlJudge) judge = ml_judge_new (wrong);
  g_autoptr (MlTruth) unit = ml_truth_new (bench->actual, bench->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autoptr (GArray) which = ml_bench_choose (bench, ML_BENCH_ALL, seed);
  g_autofree double *y = g_new0 (double, which->len + 1);
  ml_truth_set_faults (unit, fault, fault ? 1 : 0);
  g_autofree char *readings = ml_bench_readings (bench, unit, "u1", which, seed, NULL, y);
  if (!readings || !ml_judge_prepare (judge, NULL, NULL, NULL, &error))
    return;
  g_autofree char *text = ml_bench_job ("u1", "suspect", readings);
  ml_exam_keep (g_getenv ("METERLEAF_EVALUATION_KEEP"), seed, wrong_text, text);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, wrong, text, 2);
  mark (bench, as_drawn, verdict, wrong, seed, slipped, fault, tally);
  mark_rivals (bench, as_drawn, fault, slipped, faulty, which, y, tally);
}
