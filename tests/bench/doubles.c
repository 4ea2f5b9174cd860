/* SPDX-License-Identifier: GPL-3.0-or-later */
/* doubles [JOBS-PER-BOARD [BOARDS [FIRST-SEED]]]: boards with two faults at once, each of which moves a reading by more than 3 sigma
 * beside the other; and how often one fault alone is called two. Readings come from the truth program, all of them. */
#include "bench/trial.h"

#include "support/near.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct { MlExamScore one_first, both_first, both_five, single_called_two, single_right; double seconds, longest; guint jobs; } Tally;

/* Each fault shows beside the other: some reading moves by more than 3 sigma when it is taken away. */
static gboolean
both_show (MlTrial *b, const MlFault faults[2])
{
  guint n = b->all->places->len;
  g_autofree double *two = g_new0 (double, n), *one = g_new0 (double, n), *sigma = g_new0 (double, n);
  if (!ml_truth_case_read (b->all, b->all->nominal, faults, 2, two))
    return FALSE;
  for (guint k = 0; k < 2; k++)
    {
      double most = 0;
      if (!ml_truth_case_read (b->all, b->all->nominal, &faults[k], 1, one))
        return FALSE;
      ml_truth_case_sigma (b->all, &faults[k], sigma);
      for (guint i = 0; i < n; i++)
        most = MAX (most, fabs (two[i] - one[i]) / sigma[i]);
      if (most < 3)
        return FALSE;
    }
  return TRUE;
}

static char *
job_text (MlTrial *b, guint64 seed, const MlFault *faults, guint n_faults)
{
  g_autoptr (MlTruth) unit = ml_truth_new (b->actual, b->drawn, ML_TRUTH_UNIT, seed, NULL);
  MlTruthMeter meter = ml_truth_meter (&b->all->meter, seed);
  g_autoptr (GString) text = g_string_new ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\nunit u1 suspect\n");
  ml_truth_set_faults (unit, faults, n_faults);
  for (guint i = 0; i < b->all->places->len; i++)
    {
      g_autofree char *line = ml_truth_reading_line (b->actual, unit, &meter, "u1", &g_array_index (b->all->places, MlTruthPlace, i));
      if (!line)
        return NULL;
      g_string_append (text, line);
    }
  return g_strdup (text->str);
}

/* Whether an explanation names the part, or one that the truth program cannot tell from that fault. */
static gboolean
names (MlTrial *b, const MlExplanation *explanation, const MlFault *fault)
{
  for (guint k = 0; k < explanation->n_faults; k++)
    if (explanation->faults[k].part >= 0
        && (explanation->faults[k].part == fault->part || ml_truth_case_tied (b->all, fault, explanation->faults[k].part)))
      return TRUE;
  return FALSE;
}

/* The explanation itself, or one that the program calls tied with it. */
static gboolean
names_both (MlTrial *b, const MlVerdict *verdict, guint i, const MlFault faults[2])
{
  const MlExplanation *own = &verdict->explanations[i];
  if (own->n_faults == 2 && names (b, own, &faults[0]) && names (b, own, &faults[1]))
    return TRUE;
  for (guint k = 0; k < own->n_tied; k++)
    {
      const MlExplanation *tied = &verdict->explanations[own->tied[k] - 1];
      if (tied->n_faults == 2 && names (b, tied, &faults[0]) && names (b, tied, &faults[1]))
        return TRUE;
    }
  return FALSE;
}

static void
tell (const char *what, const MlBoard *board, const MlFault *faults, guint n, const MlVerdict *verdict)
{
  g_autofree char *a = ml_fault_describe (board, &faults[0]), *c = n > 1 ? ml_fault_describe (board, &faults[1]) : g_strdup ("-");
  print_message ("-- %s: %s + %s\n   %s\n", what, a, c, verdict->sentence);
  for (guint i = 0; i < MIN (verdict->n_explanations, 5); i++)
    print_message ("   %.3f %s\n", verdict->explanations[i].probability, verdict->explanations[i].title);
}

static void
run_double (MlTrial *b, guint64 seed, Tally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  if (b->visible->len < 2)
    return;
  MlFault faults[2] = { g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len)),
                        g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len)) };
  if (faults[0].part == faults[1].part || !both_show (b, faults))
    return;
  g_autofree char *text = job_text (b, seed, faults, 2);
  if (!text)
    return;
  gint64 start = g_get_monotonic_time ();
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b->judge, b->drawn, text, 2);
  double took = (g_get_monotonic_time () - start) * 1e-6;
  gboolean right = verdict->n_explanations && names_both (b, verdict, 0, faults), five = FALSE;
  tally->seconds += took;
  tally->longest = MAX (tally->longest, took);
  tally->jobs++;
  for (guint i = 0; i < MIN (verdict->n_explanations, 5); i++)
    five |= names_both (b, verdict, i, faults);
  ml_exam_count (&tally->one_first, verdict->n_explanations && (names (b, &verdict->explanations[0], &faults[0]) || names (b, &verdict->explanations[0], &faults[1])));
  ml_exam_count (&tally->both_first, right);
  ml_exam_count (&tally->both_five, five);
  if (g_getenv ("DOUBLES_VERBOSE") && !right)
    tell ("double", b->actual, faults, 2, verdict);
}

static void
run_single (MlTrial *b, guint64 seed, Tally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  if (!b->visible->len)
    return;
  MlFault fault = g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len));
  g_autofree char *text = job_text (b, seed, &fault, 1);
  if (!text)
    return;
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b->judge, b->drawn, text, 2);
  gboolean two = verdict->n_explanations && verdict->explanations[0].n_faults > 1;
  ml_exam_count (&tally->single_called_two, two);
  ml_exam_count (&tally->single_right, verdict->n_explanations && names (b, &verdict->explanations[0], &fault));
  if (g_getenv ("DOUBLES_VERBOSE") && two)
    tell ("single", b->actual, &fault, 1, verdict);
}

int
main (int argc, char **argv)
{
  guint per_board = argc > 1 ? atoi (argv[1]) : 3, n_boards = argc > 2 ? atoi (argv[2]) : 6;
  guint64 first = argc > 3 ? g_ascii_strtoull (argv[3], NULL, 10) : 401;
  Tally tally = { 0 };
  for (guint i = 0; i < n_boards; i++)
    {
      MlTrial b;
      ml_trial_open (&b, first + i, 6 + i % 11, NULL);
      for (guint k = 0; k < per_board; k++)
        {
          run_double (&b, (first + i) * 10000 + k, &tally);
          run_single (&b, (first + i) * 10000 + 5000 + k, &tally);
        }
      ml_trial_close (&b);
    }
  ml_exam_print ("two faults: one of them, or tied, in the first explanation", &tally.one_first);
  ml_exam_print ("two faults: both, or tied, in the first explanation", &tally.both_first);
  ml_exam_print ("two faults: both among the first five", &tally.both_five);
  ml_exam_print ("one fault: called two", &tally.single_called_two);
  ml_exam_print ("one fault: named, or tied, first", &tally.single_right);
  print_message ("judging a double: %.3f s on average, %.3f s at most\n", tally.jobs ? tally.seconds / tally.jobs : NAN, tally.longest);
  return tally.jobs ? 0 : 1;
}
