/* SPDX-License-Identifier: GPL-3.0-or-later */
/* misread [JOBS-PER-BOARD [BOARDS [FIRST-SEED]]]: whether slips of the person are found and named, and how often a clean job is blamed
 * for one. Readings come from the truth program; a slip is put in as a person makes it (probes, sockets, pins, conditions, prefixes). */
#include "bench/trial.h"

#include "support/near.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HEALTHY_SHARE 0.3

typedef enum { CLEAN, ONE, TWO, PROBES_OF_A_CONDITION, CONDITIONS_EXCHANGED, N_STRATA } Stratum;

static const char *const NAMES[] = { "clean", "one slip", "two slips", "a condition's probes swapped", "two conditions exchanged" };

typedef struct { guint reading; MlSlip slip; gboolean visible; } Made;

typedef struct
{
  MlExamScore job_flagged, job_named, job_blamed, found[ML_SLIP_UNCLEAR + 1], found_all, right_name, unclear, wrong_name, condition_found, verdict_right, healthy_right;
  guint others, jobs;
} Tally;

/* ---- making slips ---- */

static int
other_condition (const MlBoard *board, int condition, MlRandom *random)
{
  int other = (int) ml_random_below (random, board->n_conditions);
  return other == condition || !board->conditions[other].n_supplies ? -1 : other;
}

static gboolean
share_a_part (const MlBoard *board, int net_a, int net_b)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      gboolean a = FALSE, b = FALSE;
      for (guint p = 0; p < board->parts[i].n_pins; p++)
        {
          a |= board->parts[i].pins[p].net == net_a;
          b |= board->parts[i].pins[p].net == net_b;
        }
      if (a && b)
        return TRUE;
    }
  return FALSE;
}

/* What the meter shows when that slip happens at that place; NAN when it cannot happen there. */
static double
slipped_value (const MlTrial *b, MlTruth *unit, const MlTruthMeter *meter, const MlTruthPlace *place, MlSlip slip, double value, MlRandom *random)
{
  MlTruthPlace other = *place;
  int condition = -1;
  switch (slip)
    {
    case ML_SLIP_SWAPPED: return -value;
    case ML_SLIP_THOUSANDFOLD: return ml_random_chance (random, 0.5) ? value / 1000 : value * 1000;
    case ML_SLIP_WRONG_PIN:
      other.red = (MlProbe) { (int) ml_random_below (random, b->actual->n_nets), -1, -1, FALSE };
      if (other.red.net == place->red.net || other.red.net == place->black.net
          || (!share_a_part (b->actual, other.red.net, place->red.net) && ml_random_chance (random, 0.8)))
        return NAN;
      break;
    case ML_SLIP_WRONG_CONDITION:
      condition = other_condition (b->actual, place->condition, random);
      if (condition < 0)
        return NAN;
      other.condition = condition;
      break;
    default: return NAN;
    }
  g_autofree char *line = ml_truth_reading_line (b->actual, unit, meter, "u1", &other);
  return line && strrchr (line, '=') ? g_ascii_strtod (strrchr (line, '=') + 1, NULL) : NAN;
}

typedef struct { double *value; char **line; guint n; double *sigma; } Readings;

static void
readings_clear (Readings *readings)
{
  for (guint i = 0; i < readings->n; i++)
    g_free (readings->line[i]);
  g_free (readings->line);
  g_free (readings->value);
  g_free (readings->sigma);
}

static gboolean
take (const MlTrial *b, MlTruth *unit, const MlTruthMeter *meter, const GArray *places, Readings *ret)
{
  *ret = (Readings) { g_new0 (double, places->len), g_new0 (char *, places->len), places->len, g_new0 (double, places->len) };
  for (guint i = 0; i < places->len; i++)
    {
      ret->line[i] = ml_truth_reading_line (b->actual, unit, meter, "u1", &g_array_index (places, MlTruthPlace, i));
      if (!ret->line[i] || !strrchr (ret->line[i], '='))
        return FALSE;
      ret->value[i] = g_ascii_strtod (strrchr (ret->line[i], '=') + 1, NULL);
    }
  return TRUE;
}

static void
replace_value (Readings *readings, guint i, double value)
{
  char *mark = strrchr (readings->line[i], '=');
  char *line = g_strdup_printf ("%.*s=%.6g\n", (int) (mark - readings->line[i]), readings->line[i], value);
  g_free (readings->line[i]);
  readings->line[i] = line;
}

static void
make_slips (const MlTrial *b, MlTruth *unit, const MlTruthMeter *meter, const GArray *places, Readings *readings, guint wanted, MlRandom *random,
            GArray *made)
{
  for (guint tries = 0; tries < 60 && made->len < wanted; tries++)
    {
      Made own = { ml_random_below (random, places->len), ML_SLIP_SWAPPED + ml_random_below (random, 4), FALSE };
      const MlTruthPlace *place = &g_array_index (places, MlTruthPlace, own.reading);
      gboolean again = place->reads != ML_READS_VOLTS;
      for (guint k = 0; k < made->len; k++)
        again = again || g_array_index (made, Made, k).reading == own.reading;
      double value = again ? NAN : slipped_value (b, unit, meter, place, own.slip, readings->value[own.reading], random);
      if (!isfinite (value))
        continue;
      own.visible = fabs (value - readings->value[own.reading]) > 5 * readings->sigma[own.reading];
      if (!own.visible)
        continue;
      replace_value (readings, own.reading, value);
      g_array_append_val (made, own);
    }
}

/* ---- marking ---- */

static const MlReadingVerdict *
verdict_on (const MlVerdict *verdict, guint reading)
{
  for (guint i = 0; i < verdict->n_readings; i++)
    if (verdict->readings[i].reading == (int) reading)
      return &verdict->readings[i];
  return NULL;
}

static void
mark (Tally *tally, const MlVerdict *verdict, const GArray *made)
{
  guint flagged = 0, named = 0, hit = 0;
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      flagged += verdict->readings[i].slip != ML_SLIP_NONE;
      named += verdict->readings[i].slip != ML_SLIP_NONE && verdict->readings[i].slip != ML_SLIP_UNCLEAR;
    }
  for (guint k = 0; k < made->len; k++)
    {
      const Made *own = &g_array_index (made, Made, k);
      const MlReadingVerdict *seen = verdict_on (verdict, own->reading);
      gboolean found = seen && seen->slip != ML_SLIP_NONE;
      ml_exam_count (&tally->found[own->slip], found);
      ml_exam_count (&tally->found_all, found);
      hit += found;
      if (!found)
        continue;
      ml_exam_count (&tally->right_name, seen->slip == own->slip);
      ml_exam_count (&tally->unclear, seen->slip == ML_SLIP_UNCLEAR);
      ml_exam_count (&tally->wrong_name, seen->slip != own->slip && seen->slip != ML_SLIP_UNCLEAR);
    }
  tally->jobs++;
  tally->others += flagged - hit;
  ml_exam_count (&tally->job_flagged, flagged > 0);
  ml_exam_count (&tally->job_named, named > 0);
}

static char *
job_text (const Readings *readings)
{
  GString *text = g_string_new ("meterleaf 1\njob \"Bench\"\nboard \"bench.leafboard\"\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\nunit u1 suspect\n");
  for (guint i = 0; i < readings->n; i++)
    g_string_append (text, readings->line[i]);
  return g_string_free (text, FALSE);
}

/* All volts of a condition negated, or its name exchanged with another's; FALSE when the board has nothing to exchange. */
static gboolean
spoil_condition (const MlTrial *b, const GArray *places, Readings *readings, Stratum stratum, MlRandom *random)
{
  int first = g_array_index (places, MlTruthPlace, ml_random_below (random, places->len)).condition, second = other_condition (b->actual, first, random);
  guint moved = 0;
  if (stratum == CONDITIONS_EXCHANGED && second < 0)
    return FALSE;
  for (guint i = 0; i < places->len; i++)
    {
      const MlTruthPlace *place = &g_array_index (places, MlTruthPlace, i);
      if (stratum == PROBES_OF_A_CONDITION && place->condition == first && place->reads == ML_READS_VOLTS)
        {
          replace_value (readings, i, -readings->value[i]);
          moved += fabs (readings->value[i]) > 2.5 * readings->sigma[i];
        }
      if (stratum == CONDITIONS_EXCHANGED && (place->condition == first || place->condition == second))
        {
          g_auto (GStrv) words = g_strsplit (readings->line[i], " ", 4);
          g_free (words[2]);
          words[2] = g_strdup (b->actual->conditions[place->condition == first ? second : first].name);
          g_free (readings->line[i]);
          readings->line[i] = g_strjoinv (" ", words);
          for (guint k = 0; k < places->len; k++)
            {
              const MlTruthPlace *twin = &g_array_index (places, MlTruthPlace, k);
              if (twin->condition == (place->condition == first ? second : first) && twin->reads == place->reads && twin->red.net == place->red.net)
                moved += fabs (readings->value[i] - readings->value[k]) > 5 * readings->sigma[i];
            }
        }
    }
  return moved >= 2;
}

static void
mark_verdict (Tally *tally, MlTruthCase *given, const MlFault *fault, const MlVerdict *verdict)
{
  MlExamAnswer answer;
  ml_exam_answer (verdict, &answer);
  if (fault)
    ml_exam_count (&tally->verdict_right, ml_exam_is_right (given, fault, &answer));
  else
    {
      ml_exam_count (&tally->healthy_right, answer.leads == ML_EXPLAINS_HEALTHY);
      ml_exam_count (&tally->job_blamed, answer.leads == ML_EXPLAINS_FAULT && answer.largest > 0.8);
    }
  ml_exam_answer_clear (&answer);
}

static void
run_job (MlTrial *b, guint64 seed, Stratum stratum, Tally *tally)
{
  MlRandom random = ml_random_seeded (seed);
  gboolean is_healthy = !b->visible->len || ml_random_chance (&random, HEALTHY_SHARE);
  const MlFault *fault = is_healthy ? NULL : &g_array_index (b->visible, MlFault, ml_random_below (&random, b->visible->len));
  gboolean half = ml_random_chance (&random, 0.5);
  g_autoptr (GArray) places = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  for (guint i = 0; i < b->all->places->len; i++)
    if (!half || ml_random_chance (&random, 0.5))
      g_array_append_val (places, g_array_index (b->all->places, MlTruthPlace, i));
  if (places->len < 4)
    return;
  g_autoptr (MlTruthCase) given = ml_truth_case_new (b->drawn, b->actual, places);
  if (!given->solved || (fault && !(ml_truth_case_shift (given, fault) > 3)))
    return;
  g_autoptr (MlTruth) unit = ml_truth_new (b->actual, b->drawn, ML_TRUTH_UNIT, seed, NULL);
  MlTruthMeter meter = ml_truth_meter (&b->all->meter, seed);
  g_autoptr (GArray) made = g_array_new (FALSE, TRUE, sizeof (Made));
  Readings readings;
  ml_truth_set_faults (unit, fault, fault ? 1 : 0);
  gboolean ready = take (b, unit, &meter, places, &readings);
  if (ready)
    ml_truth_case_sigma (given, fault, readings.sigma);
  if (ready && (stratum == ONE || stratum == TWO))
    {
      make_slips (b, unit, &meter, places, &readings, stratum == ONE ? 1 : 2, &random, made);
      ready = made->len == (stratum == ONE ? 1u : 2u);
    }
  if (ready && stratum >= PROBES_OF_A_CONDITION)
    ready = spoil_condition (b, places, &readings, stratum, &random);
  if (ready)
    {
      g_autofree char *text = job_text (&readings);
      g_autoptr (MlVerdict) verdict = ml_exam_judge_text (b->judge, b->drawn, text, 2);
      mark (tally, verdict, made);
      mark_verdict (tally, given, fault, verdict);
      if (stratum >= PROBES_OF_A_CONDITION)
        ml_exam_count (&tally->condition_found, verdict->condition_slip != NULL);
      else if (verdict->condition_slip)
        print_message ("seed %" G_GUINT64_FORMAT " %s: %s\n", seed, NAMES[stratum], verdict->condition_slip);
      if (g_getenv ("MISREAD_VERBOSE"))
        {
          g_autofree char *said = fault ? ml_fault_describe (b->actual, fault) : g_strdup ("healthy");
          print_message ("-- board %" G_GUINT64_FORMAT " job %" G_GUINT64_FORMAT " %s, %s\n%s   %s\n", b->seed, seed, NAMES[stratum], said, stratum && made->len ? readings.line[g_array_index (made, Made, 0).reading] : "",
                         verdict->sentence);
          for (guint i = 0; i < verdict->n_explanations && i < 4; i++)
            print_message ("   %.3f %s\n", verdict->explanations[i].probability, verdict->explanations[i].title);
          if (g_str_equal (g_getenv ("MISREAD_VERBOSE"), "job"))
            print_message ("%s", text);
          for (guint i = 0; i < verdict->n_readings; i++)
            if (verdict->readings[i].slip_text)
              print_message ("   %s   %s\n", readings.line[verdict->readings[i].reading], verdict->readings[i].slip_text);
        }
    }
  readings_clear (&readings);
}

static void
print_tally (const Tally *t, const char *name)
{
  print_message ("== %s: %u jobs\n", name, t->jobs);
  if (!t->jobs)
    return;
  ml_exam_print ("jobs with a flagged reading", &t->job_flagged);
  ml_exam_print ("jobs with a named slip", &t->job_named);
  ml_exam_print ("right group first", &t->verdict_right);
  ml_exam_print ("healthy called healthy", &t->healthy_right);
  ml_exam_print ("healthy, but a part said above 0.8", &t->job_blamed);
  if (t->condition_found.asked)
    ml_exam_print ("whole condition found", &t->condition_found);
  if (!t->found_all.asked)
    return;
  ml_exam_print ("slips found", &t->found_all);
  for (guint k = ML_SLIP_SWAPPED; k < ML_SLIP_UNCLEAR; k++)
    ml_exam_print (ml_slip_word (k), &t->found[k]);
  ml_exam_print ("of those found, named rightly", &t->right_name);
  ml_exam_print ("of those found, unclear", &t->unclear);
  ml_exam_print ("of those found, named wrongly", &t->wrong_name);
  print_message ("other readings flagged per job %.3f\n", (double) t->others / t->jobs);
}

int
main (int argc, char **argv)
{
  guint per_board = argc > 1 ? atoi (argv[1]) : 3, n_boards = argc > 2 ? atoi (argv[2]) : 6;
  guint64 first = argc > 3 ? g_ascii_strtoull (argv[3], NULL, 10) : 301;
  Tally tallies[N_STRATA] = { 0 };
  for (guint i = 0; i < n_boards; i++)
    {
      MlTrial b;
      ml_trial_open (&b, first + i, 5 + i % 11, NULL);
      for (guint stratum = 0; stratum < N_STRATA; stratum++)
        for (guint k = 0; k < per_board * (stratum == CLEAN ? 3 : 1); k++)
          run_job (&b, b.seed * 10000 + stratum * 1000 + k, stratum, &tallies[stratum]);
      ml_trial_close (&b);
    }
  for (guint stratum = 0; stratum < N_STRATA; stratum++)
    print_tally (&tallies[stratum], NAMES[stratum]);
  return tallies[CLEAN].jobs ? 0 : 1;
}
