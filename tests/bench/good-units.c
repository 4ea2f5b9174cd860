/* SPDX-License-Identifier: GPL-3.0-or-later */
/* good-units [JOBS-PER-BOARD [BOARDS [FIRST-SEED]]]: what a known-good unit, cold readings and things seen add to the verdict: the same jobs
 * judged with and without. Boards and units from the truth program. */
#include "bench/trial.h"

#include "support/near.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define HEALTHY_SHARE 0.08

typedef enum { ALONE, SAME_BATCH, OTHER_BATCH, COLD, SEEN, N_WAYS } Way;
static const char *const WAY_NAMES[] = { "alone", "with a good unit of the same batch", "with a good unit of another batch", "with cold readings", "with LEDs looked at" };

typedef struct { MlExamScore group, exact, healthy, sure; double brier; guint jobs, better, worse; } Tally;

typedef struct
{
  MlTrial trial;
  GArray *cold; /* MlTruthPlace: ohms at every net of the unpowered board */
} Bench;

static void
add_cold_places (Bench *b, guint condition)
{
  MlTruthPlace place = { .condition = (int) condition, .reads = ML_READS_OHMS, .red = { -1, -1, -1, FALSE }, .supply = -1 };

  place.black = (MlProbe) { b->trial.actual->reference, -1, -1, FALSE };
  for (guint i = 0; i < b->trial.actual->n_nets; i++)
    if ((int) i != b->trial.actual->reference)
      {
        place.red.net = (int) i;
        g_array_append_val (b->cold, place);
      }
}

static void
open_bench (Bench *b, guint64 seed, guint n_parts)
{
  ml_trial_open (&b->trial, seed, n_parts, "condition unpowered\n");
  b->cold = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  add_cold_places (b, b->trial.actual->n_conditions - 1);
}

static void
close_bench (Bench *b)
{
  ml_trial_close (&b->trial);
  g_array_unref (b->cold);
}

/* FALSE: a reading could not be computed. */
static gboolean
append_readings (GString *text, const Bench *b, MlTruth *unit, const char *name, const GArray *places, guint64 seed)
{
  MlTruthMeter meter = ml_truth_meter (&b->trial.all->meter, seed);

  for (guint i = 0; i < places->len; i++)
    {
      g_autofree char *line = ml_truth_reading_line (b->trial.actual, unit, &meter, name, &g_array_index (places, MlTruthPlace, i));
      if (!line && name[0] == 'u' && places != b->cold)
        return FALSE;
      g_string_append (text, line ? line : ""); /* a cold board may be open anywhere: what cannot be computed is left out */
    }
  return TRUE;
}

/* What eyes see: current of an LED from the drop across a resistor that feeds it is what the truth program's own pin current says. */
static void
append_seen (GString *text, const Bench *b, MlTruth *unit)
{
  for (guint i = 0; i < b->trial.actual->n_parts; i++)
    for (guint c = 0; b->trial.actual->parts[i].kind->kind == ML_KIND_LED && c + 1 < b->trial.actual->n_conditions; c++)
      {
        MlTruthPlace place = { .condition = (int) c, .reads = ML_READS_VOLTS, .supply = -1 };
        place.red = (MlProbe) { b->trial.actual->parts[i].pins[0].net, -1, -1, FALSE };
        place.black = (MlProbe) { b->trial.actual->parts[i].pins[1].net, -1, -1, FALSE };
        if (place.red.net < 0 || place.black.net < 0 || place.red.net == place.black.net)
          continue;
        double v = ml_truth_read (unit, &place, INFINITY);
        if (!isnan (v)) /* well below its drop nothing is to be seen */
          g_string_append_printf (text, "seen u1 %s %s %s\n", b->trial.actual->conditions[c].name, b->trial.actual->parts[i].name, v > 1.55 ? "lit" : v < 1.3 ? "dark" : "dim");
      }
}

static char *
job_text (const Bench *b, Way way, MlTruth *unit, MlTruth *good, const GArray *places, guint64 seed)
{
  GString *text = g_string_new ("meterleaf 1\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\nunit u1 suspect\nunit g1 good\n");
  gboolean fine = append_readings (text, b, unit, "u1", places, seed);

  if (fine && way == COLD)
    fine = append_readings (text, b, unit, "u1", b->cold, seed + 1);
  if (fine && way == SEEN)
    append_seen (text, b, unit);
  if (fine && good)
    fine = append_readings (text, b, good, "g1", b->trial.all->places, seed + 2);
  return g_string_free (text, !fine);
}

static gboolean
mark (Tally *tally, MlTruthCase *given, const MlFault *fault, const MlVerdict *verdict)
{
  MlExamAnswer answer;
  gboolean right;

  ml_exam_answer (verdict, &answer);
  right = fault ? ml_exam_is_right (given, fault, &answer) : answer.leads == ML_EXPLAINS_HEALTHY;
  tally->jobs++;
  if (fault)
    {
      ml_exam_count (&tally->group, right);
      ml_exam_count (&tally->exact, answer.leads == ML_EXPLAINS_FAULT && answer.group[0] == fault->part);
      if (answer.leads == ML_EXPLAINS_FAULT && answer.largest >= 0.9)
        ml_exam_count (&tally->sure, ml_truth_case_tied (given, fault, answer.group[0]));
    }
  else
    ml_exam_count (&tally->healthy, right);
  tally->brier += pow (verdict->healthy_probability - !fault, 2);
  for (guint i = 0; i < verdict->n_parts; i++)
    tally->brier += pow (verdict->parts[i].probability - (fault && fault->part == (int) i), 2);
  ml_exam_answer_clear (&answer);
  return right;
}

static void
run_job (Bench *b, guint64 seed, Tally *tallies)
{
  MlRandom random = ml_random_seeded (seed);
  gboolean is_healthy = !b->trial.visible->len || ml_random_chance (&random, HEALTHY_SHARE);
  const MlFault *fault = is_healthy ? NULL : &g_array_index (b->trial.visible, MlFault, ml_random_below (&random, b->trial.visible->len));
  g_autoptr (GArray) places = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  gboolean alone = FALSE;

  for (guint i = 0; i < b->trial.all->places->len; i++)
    if (ml_random_chance (&random, 0.6))
      g_array_append_val (places, g_array_index (b->trial.all->places, MlTruthPlace, i));
  g_autoptr (MlTruthCase) given = ml_truth_case_new (b->trial.drawn, b->trial.actual, places);
  if (!given->solved || (fault && !(ml_truth_case_shift (given, fault) > 3)))
    return;
  g_autoptr (MlTruth) unit = ml_truth_new_of_batch (b->trial.actual, b->trial.drawn, seed, seed * 2 + 1);
  g_autoptr (MlTruth) like = ml_truth_new_of_batch (b->trial.actual, b->trial.drawn, seed + 500, seed * 2 + 1);
  g_autoptr (MlTruth) unlike = ml_truth_new_of_batch (b->trial.actual, b->trial.drawn, seed + 500, seed * 2 + 2);
  ml_truth_set_faults (unit, fault, fault ? 1 : 0);
  for (Way way = ALONE; way < N_WAYS; way++)
    {
      g_autofree char *text = job_text (b, way, unit, way == SAME_BATCH ? like : way == OTHER_BATCH ? unlike : NULL, places, seed);
      if (!text)
        return;
      g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b->trial.judge, b->trial.drawn, text, 1);
      gboolean right = mark (&tallies[way], given, fault, verdict);
      alone = way == ALONE ? right : alone;
      tallies[way].better += right && !alone;
      tallies[way].worse += !right && alone;
    }
}

int
main (int argc, char **argv)
{
  guint per_board = argc > 1 ? (guint) atoi (argv[1]) : 6, n_boards = argc > 2 ? (guint) atoi (argv[2]) : 12;
  guint64 first = argc > 3 ? g_ascii_strtoull (argv[3], NULL, 10) : 501;
  Tally tallies[N_WAYS] = { 0 };

  for (guint i = 0; i < n_boards; i++)
    {
      Bench b;
      open_bench (&b, first + i, 6 + i % 9);
      for (guint k = 0; k < per_board; k++)
        run_job (&b, (first + i) * 1000 + k, tallies);
      close_bench (&b);
    }
  for (Way way = ALONE; way < N_WAYS; way++)
    {
      const Tally *t = &tallies[way];
      print_message ("== %s: %u jobs; %u right here only, %u right alone only; Brier score %.3f\n", WAY_NAMES[way], t->jobs, t->better, t->worse,
                     t->jobs ? t->brier / t->jobs : NAN);
      ml_exam_print ("right group first", &t->group);
      ml_exam_print ("exact part first", &t->exact);
      ml_exam_print ("healthy called healthy", &t->healthy);
      ml_exam_print ("said 0.9 or more: right or tied", &t->sure);
    }
  return tallies[ALONE].jobs ? 0 : 1;
}
