/* SPDX-License-Identifier: GPL-3.0-or-later */
/* evaluation [JOBS-PER-BOARD [BOARDS [FIRST-SEED]]]: how well the verdict names the faulty part, beside a nearest-signature dictionary
 * and a Bayes classifier that knows the true spreads, on the same jobs in one run. Every figure with its 95 % interval. */
#include "bench/rivals.h"
#include "support/exam.h"
#include "support/generate.h"
#include "support/near.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HEALTHY_SHARE 0.08
#define N_SAMPLES 60
#define N_BANDS 5

typedef enum { READ_ALL, READ_HALF, READ_DROPS, N_READ } ReadingSet;
typedef enum { CLEAN, OFF_MODEL, SLIPPED, N_STRATA } Stratum;

static const char *const STRATUM_NAMES[] = { "as stated", "off-model", "one reading with a slip" };
static const double BANDS[N_BANDS + 1] = { 0, 0.5, 0.8, 0.9, 0.97, 1.0001 };

typedef struct
{
  MlExamScore group, exact, three, healthy, nearest_group, nearest_exact, bayes_group, bayes_exact, bayes_healthy, sure;
  MlExamScore cleared_fault, cleared_good;
  double brier, bayes_brier, members;
  MlExamScore bands[N_BANDS];
  double stated[N_BANDS];
} Tally;

typedef struct
{
  guint64 seed;
  guint n_parts;
  MlBoard *drawn, *actual;
  MlJudge *judge;
  MlTruthCase *all;
  MlRivals *rivals;
  GArray *visible; /* MlFault */
} Bench;

static gboolean
is_wanted (const MlTruthCase *c, const MlTruthPlace *place, guint index, ReadingSet set, guint64 seed)
{
  if (set == READ_ALL || place->reads == ML_READS_AMPS)
    return TRUE;
  MlRandom random = ml_random_seeded (seed * 31 + index);
  if (set == READ_HALF)
    return ml_random_chance (&random, 0.5);
  for (guint i = 0; i < c->actual->n_parts; i++)
    {
      MlKind kind = c->actual->parts[i].kind->kind;
      if (kind == ML_KIND_RESISTOR || kind == ML_KIND_CAPACITOR || kind == ML_KIND_COIL)
        continue;
      for (guint k = 0; k < c->actual->parts[i].n_pins; k++)
        if (c->actual->parts[i].pins[k].net == place->red.net)
          return TRUE;
    }
  return FALSE;
}

/* The places of one job, as indices into the case's. */
static GArray *
chosen_places (const MlTruthCase *c, ReadingSet set, guint64 seed)
{
  GArray *which = g_array_new (FALSE, TRUE, sizeof (guint));
  for (guint i = 0; i < c->places->len; i++)
    if (is_wanted (c, &g_array_index (c->places, MlTruthPlace, i), i, set, seed))
      g_array_append_val (which, i);
  return which;
}

/* A slip of the person: sign, factor 1000 or another net's value. */
static double
with_slip (double value, double other, MlRandom *random)
{
  switch (ml_random_below (random, 3))
    {
    case 0: return -value;
    case 1: return value / 1000;
    default: return other;
    }
}

/* Readings as the person types them: the job's text, and the same numbers for the rivals. */
static char *
take_readings (const Bench *b, MlTruth *unit, const GArray *which, guint64 seed, Stratum stratum, double *ret_y)
{
  MlTruthMeter meter = ml_truth_meter (&b->all->meter, seed);
  MlRandom random = ml_random_seeded (seed + 5);
  GString *text = g_string_new ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\nunit u1 suspect\n");
  guint slip = stratum == SLIPPED ? ml_random_below (&random, which->len) : G_MAXUINT;
  for (guint i = 0; i < which->len; i++)
    {
      const MlTruthPlace *place = &g_array_index (b->all->places, MlTruthPlace, g_array_index (which, guint, i));
      g_autofree char *line = ml_truth_reading_line (b->actual, unit, &meter, "u1", place);
      char *mark = line ? strrchr (line, '=') : NULL;
      if (!mark)
        {
          ret_y[i] = NAN;
          continue;
        }
      ret_y[i] = g_ascii_strtod (mark + 1, NULL);
      if (i == slip && place->reads == ML_READS_VOLTS)
        ret_y[i] = with_slip (ret_y[i], i ? ret_y[i - 1] : 0, &random);
      if (i == slip && place->reads == ML_READS_VOLTS)
        g_string_append_printf (text, "%.*s=%.4f\n", (int) (mark - line), line, ret_y[i]);
      else
        g_string_append (text, line);
    }
  return g_string_free (text, FALSE);
}

static void
open_bench (Bench *b, guint64 seed, guint n_parts)
{
  g_autofree char *drawn = NULL, *actual = NULL;
  g_autoptr (GError) error = NULL;
  MlRandom random = ml_random_seeded (seed + 3);
  ml_generate_pair (seed, n_parts, &drawn, &actual);
  b->seed = seed;
  b->n_parts = n_parts;
  b->drawn = ml_exam_board ("drawn", drawn);
  b->actual = ml_exam_board ("actual", actual);
  b->judge = ml_judge_new (b->drawn);
  if (!ml_judge_prepare (b->judge, NULL, NULL, NULL, &error))
    g_error ("board %" G_GUINT64_FORMAT ": %s", seed, error->message);
  g_autoptr (GArray) places = ml_truth_all_places (b->actual);
  b->all = ml_truth_case_new (b->drawn, b->actual, places);
  b->rivals = ml_rivals_new (b->all, N_SAMPLES);
  b->visible = g_array_new (FALSE, TRUE, sizeof (MlFault));
  for (guint round = 0; round < 3; round++)
    for (guint i = 0; i < b->all->modes->len; i++)
      {
        MlFault fault = ml_truth_mode_draw (&g_array_index (b->all->modes, MlTruthMode, i), &random);
        if (ml_truth_case_shift (b->all, &fault) > 3)
          g_array_append_val (b->visible, fault);
      }
}

static void
close_bench (Bench *b)
{
  ml_rivals_free (b->rivals);
  ml_truth_case_free (b->all);
  ml_judge_free (b->judge);
  ml_board_unref (b->drawn);
  ml_board_unref (b->actual);
  g_array_unref (b->visible);
}

/* ---- marking ---- */

static int
likeliest (const double *parts, guint n, double healthy)
{
  int best = -1;
  for (guint i = 0; i < n; i++)
    if (parts[i] > (best < 0 ? healthy : parts[best]))
      best = i;
  return best;
}

static double
brier (const double *parts, guint n, double healthy, int truth)
{
  double sum = (healthy - (truth < 0)) * (healthy - (truth < 0));
  for (guint i = 0; i < n; i++)
    sum += (parts[i] - ((int) i == truth)) * (parts[i] - ((int) i == truth));
  return sum;
}

static gboolean
in_first_three (const double *parts, guint n, int truth)
{
  guint ahead = 0;
  for (guint i = 0; i < n; i++)
    ahead += parts[i] > parts[truth];
  return ahead < 3;
}

static void
mark_band (Tally *tally, double stated, gboolean right)
{
  for (guint i = 0; i < N_BANDS; i++)
    if (stated >= BANDS[i] && stated < BANDS[i + 1])
      {
        ml_exam_count (&tally->bands[i], right);
        tally->stated[i] += stated;
      }
}

static gboolean
is_tied (MlTruthCase *given, const MlFault *fault, int part)
{
  return part >= 0 && ml_truth_case_tied (given, fault, part);
}

static void
mark (Tally *tally, MlTruthCase *given, const MlFault *fault, const MlVerdict *verdict)
{
  guint n = given->actual->n_parts;
  g_autofree double *parts = g_new0 (double, n);
  MlExamAnswer answer;
  for (guint i = 0; i < n; i++)
    parts[i] = verdict->parts[i].probability;
  ml_exam_answer (verdict, &answer);
  int first = answer.leads == ML_EXPLAINS_FAULT ? answer.group[0] : -1;
  tally->brier += brier (parts, n, verdict->healthy_probability, fault ? fault->part : -1);
  if (fault)
    {
      ml_exam_count (&tally->group, ml_exam_is_right (given, fault, &answer));
      ml_exam_count (&tally->exact, first == fault->part);
      ml_exam_count (&tally->three, in_first_three (parts, n, fault->part) || is_tied (given, fault, first));
      tally->members += answer.n_group;
      for (guint i = 0; i < n; i++)
        ml_exam_count ((int) i == fault->part ? &tally->cleared_fault : &tally->cleared_good, verdict->parts[i].verdict == ML_VERDICT_CLEARED);
    }
  else
    ml_exam_count (&tally->healthy, answer.leads == ML_EXPLAINS_HEALTHY);
  if (first >= 0)
    mark_band (tally, parts[first], fault && first == fault->part);
  if (first >= 0 && parts[first] >= 0.9)
    ml_exam_count (&tally->sure, fault && is_tied (given, fault, first));
  ml_exam_answer_clear (&answer);
}

static void
mark_rivals (Tally *tally, const Bench *b, MlTruthCase *given, const MlFault *fault, const GArray *which, const double *y)
{
  guint n = given->actual->n_parts;
  g_autofree double *parts = g_new0 (double, n);
  double healthy;
  int nearest = ml_rivals_nearest (b->rivals, (const guint *) which->data, y, which->len);
  ml_rivals_bayes (b->rivals, (const guint *) which->data, y, which->len, HEALTHY_SHARE, parts, &healthy);
  int bayes = likeliest (parts, n, healthy);
  tally->bayes_brier += brier (parts, n, healthy, fault ? fault->part : -1);
  if (!fault)
    {
      ml_exam_count (&tally->bayes_healthy, bayes < 0);
      return;
    }
  ml_exam_count (&tally->nearest_exact, nearest == fault->part);
  ml_exam_count (&tally->nearest_group, is_tied (given, fault, nearest));
  ml_exam_count (&tally->bayes_exact, bayes == fault->part);
  ml_exam_count (&tally->bayes_group, is_tied (given, fault, bayes));
}

/* ---- one job ---- */

static const MlTruthWorld OFF_WORLDS[] = { { 42, 1, 1 }, { 12, 1.15, 2 }, { 25, 0.88, 3 }, { 35, 1.1, 0.4 } };

static void
run_job (Bench *b, guint64 seed, Stratum stratum, Tally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  g_autoptr (GArray) which = chosen_places (b->all, (ReadingSet) ml_random_below (&random, N_READ), seed);
  gboolean is_healthy = !b->visible->len || ml_random_chance (&random, HEALTHY_SHARE);
  const MlFault *fault = is_healthy ? NULL : &g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len));
  g_autoptr (GArray) places = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  for (guint i = 0; i < which->len; i++)
    g_array_append_val (places, g_array_index (b->all->places, MlTruthPlace, g_array_index (which, guint, i)));
  g_autoptr (MlTruthCase) given = ml_truth_case_new (b->drawn, b->actual, places);
  if (!given->solved || (fault && !(ml_truth_case_shift (given, fault) > 3)))
    return;
  const MlTruthWorld *world = stratum == OFF_MODEL ? &OFF_WORLDS[ml_random_below (&random, G_N_ELEMENTS (OFF_WORLDS))] : NULL;
  g_autoptr (MlTruth) unit = ml_truth_new (b->actual, b->drawn, ML_TRUTH_UNIT, seed, world);
  g_autofree double *y = g_new0 (double, which->len + 1);
  ml_truth_set_faults (unit, fault, fault ? 1 : 0);
  g_autofree char *text = take_readings (b, unit, which, seed, stratum, y);
  for (guint i = 0; i < which->len; i++)
    if (isnan (y[i]))
      return;
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b->judge, b->drawn, text, 2);
  mark (tally, given, fault, verdict);
  mark_rivals (tally, b, given, fault, which, y);
}

/* ---- two faults, wrong drawings ---- */

typedef struct { MlExamScore one_first, both_first, convicted_50, convicted_80, slip_leads; } SpecialTally;

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

static void
run_double (Bench *b, guint64 seed, SpecialTally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  if (b->visible->len < 2)
    return;
  MlFault faults[2] = { g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len)),
                        g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len)) };
  if (faults[0].part == faults[1].part)
    return;
  g_autoptr (GArray) which = chosen_places (b->all, READ_ALL, seed);
  g_autoptr (MlTruth) unit = ml_truth_new (b->actual, b->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autofree double *y = g_new0 (double, which->len + 1);
  ml_truth_set_faults (unit, faults, 2);
  g_autofree char *text = take_readings (b, unit, which, seed, CLEAN, y);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b->judge, b->drawn, text, 2);
  MlExamAnswer answer;
  ml_exam_answer (verdict, &answer);
  gboolean named = answer.leads == ML_EXPLAINS_FAULT;
  ml_exam_count (&tally->one_first, named && (is_tied (b->all, &faults[0], answer.group[0]) || is_tied (b->all, &faults[1], answer.group[0])));
  ml_exam_count (&tally->both_first, names_both (verdict, faults[0].part, faults[1].part));
  ml_exam_answer_clear (&answer);
}

/* Readings of a sound board on a drawing with one wrong connection. Only drawings whose own readings differ are counted. */
static void
run_misdrawn (Bench *b, guint64 seed, SpecialTally *tally)
{
  g_autofree char *drawn = NULL, *actual = NULL, *slipped = NULL;
  g_autoptr (GError) error = NULL;
  ml_generate_pair (b->seed, b->n_parts, &drawn, &actual);
  g_autofree char *text = ml_exam_misdraw (drawn, seed, &slipped);
  g_autoptr (MlBoard) wrong = text ? ml_exam_board ("wrong", text) : NULL;
  if (!wrong || wrong->n_nets != b->drawn->n_nets)
    return;
  g_autoptr (GArray) places = ml_truth_all_places (wrong);
  g_autoptr (MlTruthCase) as_drawn = ml_truth_case_new (wrong, wrong, places);
  double largest = 0;
  for (guint i = 0; i < places->len && as_drawn->solved && places->len == b->all->places->len; i++)
    {
      MlTruthPlace *place = &g_array_index (b->all->places, MlTruthPlace, i);
      if (place->red.net >= 0 && ml_board_find_net (wrong, b->actual->nets[place->red.net].name) != g_array_index (places, MlTruthPlace, i).red.net)
        return;
      largest = MAX (largest, fabs (as_drawn->healthy[i] - b->all->healthy[i]) / hypot (as_drawn->healthy_sigma[i], b->all->healthy_sigma[i]));
    }
  if (largest < 3)
    return;
  g_autoptr (MlJudge) judge = ml_judge_new (wrong);
  g_autoptr (MlTruth) unit = ml_truth_new (b->actual, b->drawn, ML_TRUTH_UNIT, seed, NULL);
  g_autoptr (GArray) which = chosen_places (b->all, READ_ALL, seed);
  g_autofree double *y = g_new0 (double, which->len + 1);
  if (!ml_judge_prepare (judge, NULL, NULL, NULL, &error))
    return;
  g_autofree char *job = take_readings (b, unit, which, seed, CLEAN, y);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (judge, wrong, job, 2);
  double most = 0;
  for (guint i = 0; i < verdict->n_parts; i++)
    if (strcmp (wrong->parts[i].name, slipped))
      most = MAX (most, verdict->parts[i].probability);
  MlExamAnswer answer;
  ml_exam_answer (verdict, &answer);
  ml_exam_count (&tally->convicted_50, most > 0.5);
  ml_exam_count (&tally->convicted_80, most > 0.8);
  ml_exam_count (&tally->slip_leads, answer.leads == ML_EXPLAINS_MISFIT || answer.leads == ML_EXPLAINS_DRAWING);
  ml_exam_answer_clear (&answer);
}

static void
print_special (const SpecialTally *t)
{
  print_message ("== two faults, wrong drawings\n");
  ml_exam_print ("two faults: one of them, or tied, first", &t->one_first);
  ml_exam_print ("two faults: both in the first explanation", &t->both_first);
  ml_exam_print ("wrong drawing: a good part above 0.5", &t->convicted_50);
  ml_exam_print ("wrong drawing: a good part above 0.8", &t->convicted_80);
  ml_exam_print ("wrong drawing: misfit or a drawing slip leads", &t->slip_leads);
}

/* ---- the report ---- */

static void
print_bands (const Tally *tally)
{
  print_message ("  stated for the first part       mean    right\n");
  for (guint i = 0; i < N_BANDS; i++)
    {
      double low, high, share = ml_exam_share (&tally->bands[i], &low, &high);
      if (tally->bands[i].asked)
        print_message ("  %.2f to %.2f  %5u answers   %.3f   %.3f  (%.3f to %.3f)\n", BANDS[i], MIN (BANDS[i + 1], 1), tally->bands[i].asked,
                       tally->stated[i] / tally->bands[i].asked, share, low, high);
    }
}

static void
print_tally (const Tally *t, const char *name)
{
  guint jobs = t->group.asked + t->healthy.asked;
  print_message ("== %s: %u jobs\n", name, jobs);
  if (!jobs)
    return;
  ml_exam_print ("right group first: nearest signature", &t->nearest_group);
  ml_exam_print ("right group first: verdict (every member tied)", &t->group);
  ml_exam_print ("right group first: Bayes with true spreads", &t->bayes_group);
  ml_exam_print ("exact part first: nearest signature", &t->nearest_exact);
  ml_exam_print ("exact part first: verdict", &t->exact);
  ml_exam_print ("exact part first: Bayes with true spreads", &t->bayes_exact);
  ml_exam_print ("within the first three: verdict", &t->three);
  ml_exam_print ("healthy called healthy: verdict", &t->healthy);
  ml_exam_print ("healthy called healthy: Bayes with true spreads", &t->bayes_healthy);
  ml_exam_print ("said 0.9 or more: right or tied", &t->sure);
  ml_exam_print ("faulty part called cleared", &t->cleared_fault);
  ml_exam_print ("good part called cleared", &t->cleared_good);
  print_message ("mean group size %.2f; Brier score verdict %.3f, Bayes %.3f\n", t->group.asked ? t->members / t->group.asked : NAN, t->brier / jobs,
                 t->bayes_brier / jobs);
  print_bands (t);
}

int
main (int argc, char **argv)
{
  guint per_board = argc > 1 ? atoi (argv[1]) : 3, n_boards = argc > 2 ? atoi (argv[2]) : 6;
  guint64 first = argc > 3 ? g_ascii_strtoull (argv[3], NULL, 10) : 101;
  Tally tallies[N_STRATA] = { 0 };
  SpecialTally special = { 0 };
  for (guint i = 0; i < n_boards; i++)
    {
      Bench b;
      open_bench (&b, first + i, 5 + i % 11);
      for (guint stratum = 0; stratum < N_STRATA; stratum++)
        for (guint k = 0; k < per_board; k++)
          run_job (&b, b.seed * 10000 + stratum * 1000 + k, stratum, &tallies[stratum]);
      for (guint k = 0; k < per_board; k++)
        {
          run_double (&b, b.seed * 10000 + 7000 + k, &special);
          run_misdrawn (&b, b.seed * 10000 + 8000 + k, &special);
        }
      close_bench (&b);
    }
  for (guint stratum = 0; stratum < N_STRATA; stratum++)
    print_tally (&tallies[stratum], STRATUM_NAMES[stratum]);
  print_special (&special);
  return tallies[CLEAN].group.asked ? 0 : 1;
}
