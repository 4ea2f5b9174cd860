/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Marking answers with the truth program. A group is right only when every member is a faulty part or tied with one. */
#include "bench/bench.h"

#include "support/near.h"
#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

#define HEALTHY_PRIOR 0.08
#define GROUP_FACTOR 3.0

/* Who is named, whatever named him: probabilities per part and of a sound board, and which parts are tied with a true fault. */
typedef struct
{
  const char *who;
  guint n;
  double *parts;
  double healthy;
  gboolean sound;   /* a sound board leads */
  int first;        /* -1: healthy, misfit or a drawing slip leads */
  gboolean all_tied, first_tied;
  guint n_group;
} Answer;

static const char NEAREST_WHO[] = "nearest signature", CAUTIOUS[] = "Bayes, healthy as likely as in the verdict",
  ALIKE[] = "Bayes, all priors as in the verdict";
enum { VERDICT, NEAREST, BAYES, BAYES_AS_CAUTIOUS, BAYES_ALIKE, N_ANSWERS };

static gboolean
is_faulty (const MlBenchJob *job, int part)
{
  return (job->fault && job->fault->part == part) || (job->second && job->second->part == part);
}

/* -1 not asked, 0, 1: ties are dear, and asked for again and again. */
static gboolean
is_tied (const MlBenchJob *job, int part, int *asked)
{
  if (part < 0 || !job->fault)
    return FALSE;
  if (asked[part] < 0)
    asked[part] = is_faulty (job, part) || ml_truth_case_tied (job->given, job->fault, part)
                  || (job->second && ml_truth_case_tied (job->given, job->second, part));
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

static void
lead (Answer *answer)
{
  answer->first = -1;
  for (guint i = 0; i < answer->n; i++)
    if (answer->parts[i] > (answer->first < 0 ? answer->healthy : answer->parts[answer->first]))
      answer->first = i;
  answer->sound = answer->first < 0;
}

/* ---- the three that are asked ---- */

static Answer
answer_of (const MlVerdict *verdict)
{
  Answer answer = { .who = "verdict", .n = verdict->n_parts, .parts = g_new0 (double, verdict->n_parts + 1), .healthy = verdict->healthy_probability };
  MlExamAnswer named;
  for (guint i = 0; i < answer.n; i++)
    answer.parts[i] = verdict->parts[i].probability;
  ml_exam_answer (verdict, &named);
  answer.first = named.leads == ML_EXPLAINS_FAULT ? named.group[0] : -1;
  answer.sound = named.leads == ML_EXPLAINS_HEALTHY;
  ml_exam_answer_clear (&named);
  return answer;
}

static Answer
answer_of_bayes (const MlBench *bench, const MlBenchJob *job, double prior, gboolean weighted, const char *who)
{
  Answer answer = { .who = who, .n = bench->actual->n_parts, .parts = g_new0 (double, bench->actual->n_parts + 1) };
  ml_rivals_bayes (bench->rivals, (const guint *) job->which->data, job->y, job->which->len, prior, weighted, answer.parts, &answer.healthy);
  lead (&answer);
  return answer;
}

/* A dictionary looked up for its nearest entry knows no probabilities: the nearest is taken for certain, the others keep their order. */
static Answer
answer_of_nearest (const MlBench *bench, const MlBenchJob *job)
{
  guint n = bench->actual->n_parts;
  Answer answer = { .who = NEAREST_WHO, .n = n, .parts = g_new0 (double, n + 1) };
  g_autofree double *distance = g_new0 (double, n + 1);
  double healthy;
  ml_rivals_nearest (bench->rivals, (const guint *) job->which->data, job->y, job->which->len, distance, &healthy);
  for (guint i = 0; i < n; i++)
    answer.parts[i] = 1e-6 / (1 + distance[i]);
  answer.healthy = 1e-6 / (1 + healthy);
  lead (&answer);
  *(answer.first < 0 ? &answer.healthy : &answer.parts[answer.first]) = 1;
  return answer;
}

/* ---- counting ---- */

static double
brier (const MlBenchJob *job, const Answer *answer)
{
  double sum = pow (answer->healthy - !job->fault, 2);
  for (guint i = 0; i < answer->n; i++)
    sum += pow (answer->parts[i] - is_faulty (job, i), 2);
  return sum;
}

static gboolean
in_first_three (const MlBenchJob *job, const Answer *answer)
{
  for (guint part = 0; part < answer->n; part++)
    {
      guint ahead = 0;
      for (guint i = 0; i < answer->n; i++)
        ahead += answer->parts[i] > answer->parts[part];
      if (is_faulty (job, part) && ahead < 3 && answer->parts[part] > 0)
        return TRUE;
    }
  return answer->first_tied;
}

static void
count (MlTally *tally, const char *what, const Answer *answer, gboolean right)
{
  g_autofree char *line = g_strdup_printf ("%s: %s", what, answer->who);
  ml_tally_count (tally, line, right);
}

static void
add (MlTally *tally, const char *what, const Answer *answer, double value)
{
  g_autofree char *line = g_strdup_printf ("%s: %s", what, answer->who);
  ml_tally_add (tally, line, value);
}

static void
state (MlTally *tally, const char *what, const Answer *answer, double stated, gboolean right)
{
  g_autofree char *line = g_strdup_printf ("%s: %s", what, answer->who);
  ml_tally_state (tally, line, stated, right);
}

static void
mark_reliability (const MlBenchJob *job, const Answer *answer, MlTally *tally)
{
  if (answer->first >= 0)
    {
      state (tally, "reliability of the first part", answer, answer->parts[answer->first], is_faulty (job, answer->first));
      if (answer->parts[answer->first] >= 0.9)
        count (tally, "said 0.9 or more, right or tied", answer, answer->first_tied);
    }
  else if (answer->sound)
    state (tally, "reliability of \"nothing is wrong\"", answer, answer->healthy, !job->fault);
}

static void
mark_answer (const MlBenchJob *job, const Answer *answer, MlTally *tally)
{
  add (tally, "Brier score", answer, brier (job, answer));
  if (!job->fault)
    count (tally, "healthy called healthy", answer, answer->sound);
  else
    {
      count (tally, "right group first", answer, answer->all_tied);
      count (tally, "first part right or tied", answer, answer->first_tied);
      count (tally, "exact part first", answer, answer->first >= 0 && is_faulty (job, answer->first));
      count (tally, "within the first three", answer, in_first_three (job, answer));
      if (answer->first >= 0 && answer->who != NEAREST_WHO)
        add (tally, "size of the leading group", answer, answer->n_group);
    }
  if (answer->who != NEAREST_WHO)
    mark_reliability (job, answer, tally);
}

static void
mark_cleared (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  for (guint i = 0; i < verdict->n_parts && job->fault; i++)
    {
      gboolean cleared = verdict->parts[i].verdict == ML_VERDICT_CLEARED, faulty = is_faulty (job, i);
      if (bench->verbose && faulty && cleared)
        print_message ("  faulty part cleared: %s job %" G_GUINT64_FORMAT ": %s\n", bench->name, job->seed, bench->drawn->parts[i].name);
      ml_tally_count (tally, faulty ? "faulty part called cleared" : "good part called cleared", cleared);
    }
}

/* The suspect's readings come first in the job, in the order in which they were chosen. */
static void
mark_slips (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  const MlReadingVerdict *slipped = NULL;
  guint n_false = 0;
  for (guint i = 0; i < verdict->n_readings; i++)
    if (job->slip && verdict->readings[i].reading == job->slip->at)
      slipped = &verdict->readings[i];
    else
      n_false += verdict->readings[i].slip != ML_SLIP_NONE;
  ml_tally_count (tally, "a sound reading flagged as a slip", n_false > 0);
  if (!job->slip)
    return;
  gboolean found = slipped && slipped->slip != ML_SLIP_NONE;
  if (bench->verbose && !found)
    print_message ("  slip not found: %s job %" G_GUINT64_FORMAT ": at reading %d: %s\n", bench->name, job->seed, job->slip->at,
                   ml_slip_word (job->slip->slip));
  ml_tally_count (tally, "slip found at its reading", found);
  if (found)
    ml_tally_count (tally, "slip found, and named rightly", slipped->slip == job->slip->slip);
  if (found)
    ml_tally_count (tally, "slip found, but named wrongly", slipped->slip != job->slip->slip && slipped->slip != ML_SLIP_UNCLEAR);
}

/* ---- telling ---- */

/* As `solve --suppose` takes it. */
static char *
suppose_words (const MlBoard *board, const MlFault *fault)
{
  GString *words = g_string_new (NULL);
  if (!fault)
    return g_string_free (g_string_append (words, "healthy"), FALSE);
  const MlPart *part = &board->parts[fault->part];
  g_string_printf (words, "%s %s", part->name, ml_fault_word (fault->kind));
  for (guint k = 0; k < fault->n_pins && fault->kind != ML_FAULT_HIGH && fault->kind != ML_FAULT_LOW; k++)
    g_string_append_printf (words, "%s%s", k ? "," : " pins=", part->pins[fault->pins[k]].name);
  if (isfinite (fault->size))
    g_string_append_printf (words, " size=%.3g", fault->size);
  return g_string_free (words, FALSE);
}

static void
tell_answer (const MlBench *bench, const Answer *answer)
{
  print_message (" | %s: healthy %.3f", answer->who, answer->healthy);
  for (guint i = 0; i < answer->n; i++)
    if (answer->parts[i] > 0.03)
      print_message (" %s %.3f", bench->drawn->parts[i].name, answer->parts[i]);
}

static void
tell (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, const Answer *answers, const char *what)
{
  if (!bench->verbose)
    return;
  g_autofree char *words = suppose_words (bench->actual, job->fault), *more = job->second ? suppose_words (bench->actual, job->second) : NULL;
  print_message ("  %s: %s job %" G_GUINT64_FORMAT ": \"%s\"%s%s", what, bench->name, job->seed, words, more ? " and " : "", more ? more : "");
  if (job->slip)
    print_message (" (slip at reading %d: %s)", job->slip->at, ml_slip_word (job->slip->slip));
  print_message (": misfit %.3f, %s", verdict->misfit_probability, verdict->n_explanations ? verdict->explanations[0].title : "");
  tell_answer (bench, &answers[VERDICT]);
  tell_answer (bench, &answers[BAYES]);
  tell_answer (bench, &answers[BAYES_AS_CAUTIOUS]);
  tell_answer (bench, &answers[BAYES_ALIKE]);
  print_message ("\n");
}

static void
compare (const MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, const Answer *answers, MlTally *tally)
{
  /* With the verdict's own priors: with others Bayes would be right for calling sound boards faulty, and for knowing how often each fault is drawn here. */
  const Answer *own = &answers[VERDICT], *bayes = &answers[BAYES_ALIKE];
  if (!job->fault)
    {
      if (!own->sound)
        tell (bench, job, verdict, answers, "not healthy");
      return;
    }
  gboolean exact = own->first >= 0 && is_faulty (job, own->first), bayes_exact = bayes->first >= 0 && is_faulty (job, bayes->first);
  ml_tally_count (tally, "group: only the verdict right", own->all_tied && !bayes->all_tied);
  ml_tally_count (tally, "group: only Bayes right", !own->all_tied && bayes->all_tied);
  ml_tally_count (tally, "exact: only the verdict right", exact && !bayes_exact);
  ml_tally_count (tally, "exact: only Bayes right", !exact && bayes_exact);
  if (!own->all_tied)
    tell (bench, job, verdict, answers,
          bayes->all_tied ? "wrong, Bayes right" : answers[BAYES].all_tied ? "wrong, Bayes right by its priors" : "wrong, Bayes too");
  else if (bayes_exact && !exact)
    tell (bench, job, verdict, answers, "not exact, Bayes is");
}

void
ml_bench_mark (MlBench *bench, const MlBenchJob *job, const MlVerdict *verdict, MlTally *tally)
{
  g_autofree int *asked = g_new (int, verdict->n_parts + 1);
  Answer answers[N_ANSWERS] = {
    answer_of (verdict), answer_of_nearest (bench, job), answer_of_bayes (bench, job, HEALTHY_PRIOR, FALSE, "Bayes, true spreads"),
    answer_of_bayes (bench, job, ml_assumption ("prior.healthy"), FALSE, CAUTIOUS), answer_of_bayes (bench, job, ml_assumption ("prior.healthy"), TRUE, ALIKE),
  };
  for (guint i = 0; i < verdict->n_parts; i++)
    asked[i] = -1;
  for (guint i = 0; i < N_ANSWERS; i++)
    mark_group (job, &answers[i], asked);
  for (guint i = 0; i < N_ANSWERS; i++)
    mark_answer (job, &answers[i], tally);
  if (!job->second)
    ml_tally_count (tally, job->fault ? "one fault called two" : "none called two",
                    verdict->n_explanations && verdict->explanations[0].n_faults > 1);
  compare (bench, job, verdict, answers, tally);
  mark_cleared (bench, job, verdict, tally);
  mark_slips (bench, job, verdict, tally);
  for (guint i = 0; i < N_ANSWERS; i++)
    g_free (answers[i].parts);
}
