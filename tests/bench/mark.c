/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Marking answers with the truth program. A group is right only when every member is the faulty part or tied with it. */
#include "bench/bench.h"

#include "support/near.h"

#include <math.h>
#include <string.h>

#define HEALTHY_PRIOR 0.08
#define GROUP_FACTOR 3.0

/* Who is named, whatever named him: probabilities per part and of a sound board, and which parts are tied with the true fault. */
typedef struct
{
  guint n;
  double *parts;
  double healthy;
  int first;        /* -1: healthy, misfit or a drawing slip leads */
  gboolean all_tied, first_tied;
  guint n_group;
} Answer;

/* -1 not asked, 0, 1: ties are dear, and asked for again and again. */
static gboolean
is_tied (const MlBenchJob *job, int part, int *asked)
{
  if (part < 0 || !job->fault)
    return FALSE;
  if (asked[part] < 0)
    asked[part] = ml_truth_case_tied (job->given, job->fault, part);
  return asked[part] == 1;
}

static void
mark_group (const MlBenchJob *job, Answer *answer, int *asked)
{
  answer->first_tied = is_tied (job, answer->first, asked);
  answer->all_tied = answer->first_tied;
  for (guint i = 0; i < answer->n && answer->first >= 0; i++)
    if (answer->parts[i] * GROUP_FACTOR >= answer->parts[answer->first])
      {
        answer->n_group++;
        answer->all_tied = answer->all_tied && is_tied (job, i, asked);
      }
}

static int
likeliest (const double *parts, guint n, double healthy)
{
  int best = -1;
  for (guint i = 0; i < n; i++)
    if (parts[i] > (best < 0 ? healthy : parts[best]))
      best = i;
  return best;
}

static Answer
answer_of (const MlBenchJob *job, const MlVerdict *verdict, int *asked)
{
  Answer answer = { .n = verdict->n_parts, .parts = g_new0 (double, verdict->n_parts + 1), .healthy = verdict->healthy_probability };
  MlExamAnswer named;
  for (guint i = 0; i < answer.n; i++)
    answer.parts[i] = verdict->parts[i].probability;
  ml_exam_answer (verdict, &named);
  answer.first = named.leads == ML_EXPLAINS_FAULT ? named.group[0] : -1;
  ml_exam_answer_clear (&named);
  mark_group (job, &answer, asked);
  return answer;
}

static Answer
answer_of_bayes (const MlBench *bench, const MlBenchJob *job, int *asked)
{
  Answer answer = { .n = bench->actual->n_parts, .parts = g_new0 (double, bench->actual->n_parts + 1) };
  ml_rivals_bayes (bench->rivals, (const guint *) job->which->data, job->y, job->which->len, HEALTHY_PRIOR, answer.parts, &answer.healthy);
  answer.first = likeliest (answer.parts, answer.n, answer.healthy);
  mark_group (job, &answer, asked);
  return answer;
}

static double
brier (const Answer *answer, int truth)
{
  double sum = (answer->healthy - (truth < 0)) * (answer->healthy - (truth < 0));
  for (guint i = 0; i < answer->n; i++)
    sum += (answer->parts[i] - ((int) i == truth)) * (answer->parts[i] - ((int) i == truth));
  return sum;
}

static gboolean
in_first_three (const Answer *answer, int truth)
{
  guint ahead = 0;
  for (guint i = 0; i < answer->n; i++)
    ahead += answer->parts[i] > answer->parts[truth];
  return ahead < 3;
}

static int *
nothing_asked (guint n)
{
  int *asked = g_new (int, n + 1);
  for (guint i = 0; i < n; i++)
    asked[i] = -1;
  return asked;
}

static void
tell (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, const Answer *bayes, const char *what)
{
  if (!bench->verbose)
    return;
  g_autofree char *words = job->fault ? ml_fault_describe (bench->actual, job->fault) : g_strdup ("healthy");
  print_message ("  %s: %s job %" G_GUINT64_FORMAT ", %s: %s, size %g; healthy %.3f misfit %.3f", what, bench->name, job->seed, job->set, words,
                 job->fault ? job->fault->size : NAN, verdict->healthy_probability, verdict->misfit_probability);
  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].probability > 0.03)
      print_message (" %s %.3f", bench->drawn->parts[i].name, verdict->parts[i].probability);
  print_message (" | %s | Bayes: healthy %.3f", verdict->n_explanations ? verdict->explanations[0].title : "", bayes->healthy);
  for (guint i = 0; i < bayes->n; i++)
    if (bayes->parts[i] > 0.03)
      print_message (" %s %.3f", bench->actual->parts[i].name, bayes->parts[i]);
  print_message ("\n");
}

static void
mark_cleared (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  if (bench->verbose && job->fault && verdict->parts[job->fault->part].verdict == ML_VERDICT_CLEARED)
    print_message ("  faulty part cleared: %s job %" G_GUINT64_FORMAT ": %s\n", bench->name, job->seed, bench->drawn->parts[job->fault->part].name);
  for (guint i = 0; i < verdict->n_parts && job->fault; i++)
    ml_tally_count (tally, (int) i == job->fault->part ? "faulty part called cleared" : "good part called cleared",
                    verdict->parts[i].verdict == ML_VERDICT_CLEARED);
}

void
ml_bench_mark (MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  g_autofree int *asked = nothing_asked (verdict->n_parts);
  Answer answer = answer_of (job, verdict, asked);
  g_autofree char *by_set = g_strdup_printf ("right group first: verdict, %s", job->set);
  ml_tally_add (tally, "Brier score: verdict", brier (&answer, job->fault ? job->fault->part : -1));
  if (!job->fault)
    ml_tally_count (tally, "healthy called healthy: verdict", answer.healthy > 0 && answer.first < 0 && likeliest (answer.parts, answer.n, answer.healthy) < 0
                                                                && verdict->misfit_probability < answer.healthy);
  else
    {
      ml_tally_count (tally, "right group first: verdict", answer.all_tied);
      ml_tally_count (tally, "first part right or tied: verdict", answer.first_tied);
      ml_tally_count (tally, "exact part first: verdict", answer.first == job->fault->part);
      ml_tally_count (tally, "within the first three: verdict", answer.first_tied || in_first_three (&answer, job->fault->part));
      ml_tally_count (tally, by_set, answer.all_tied);
      if (answer.first >= 0)
        ml_tally_add (tally, "size of the leading group: verdict", answer.n_group);
    }
  if (answer.first >= 0)
    {
      ml_tally_state (tally, "reliability of the first part", answer.parts[answer.first], job->fault && answer.first == job->fault->part);
      if (answer.parts[answer.first] >= 0.9)
        ml_tally_count (tally, "said 0.9 or more: right or tied", answer.first_tied);
    }
  else if (answer.healthy > 0.5)
    ml_tally_state (tally, "reliability of \"nothing is wrong\"", answer.healthy, !job->fault);
  mark_cleared (bench, job, verdict, tally);
  g_free (answer.parts);
}

void
ml_bench_mark_rivals (MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  g_autofree int *asked = nothing_asked (verdict->n_parts);
  Answer answer = answer_of (job, verdict, asked), bayes = answer_of_bayes (bench, job, asked);
  int nearest = ml_rivals_nearest (bench->rivals, (const guint *) job->which->data, job->y, job->which->len);
  ml_tally_add (tally, "Brier score: Bayes with true spreads", brier (&bayes, job->fault ? job->fault->part : -1));
  if (!job->fault)
    {
      ml_tally_count (tally, "healthy called healthy: nearest signature", nearest < 0);
      ml_tally_count (tally, "healthy called healthy: Bayes with true spreads", bayes.first < 0);
      if (answer.first >= 0)
        tell (bench, job, verdict, &bayes, "not healthy");
    }
  else
    {
      ml_tally_count (tally, "right group first: Bayes with true spreads", bayes.all_tied);
      ml_tally_count (tally, "first part right or tied: Bayes with true spreads", bayes.first_tied);
      ml_tally_count (tally, "first part right or tied: nearest signature", is_tied (job, nearest, asked));
      ml_tally_count (tally, "exact part first: Bayes with true spreads", bayes.first == job->fault->part);
      ml_tally_count (tally, "exact part first: nearest signature", nearest == job->fault->part);
      ml_tally_count (tally, "group: only the verdict right", answer.all_tied && !bayes.all_tied);
      ml_tally_count (tally, "group: only Bayes right", !answer.all_tied && bayes.all_tied);
      ml_tally_count (tally, "exact: only the verdict right", answer.first == job->fault->part && bayes.first != job->fault->part);
      ml_tally_count (tally, "exact: only Bayes right", answer.first != job->fault->part && bayes.first == job->fault->part);
      if (!answer.all_tied)
        tell (bench, job, verdict, &bayes, bayes.all_tied ? "wrong, Bayes right" : "wrong, Bayes too");
      else if (bayes.first == job->fault->part && answer.first != job->fault->part)
        tell (bench, job, verdict, &bayes, "not exact, Bayes is");
    }
  g_free (answer.parts);
  g_free (bayes.parts);
}
