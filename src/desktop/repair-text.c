/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/repair-text.h"

#include <math.h>
#include <string.h>

#include "quantity/quantity.h"

#define LEAST_V 1e-3
#define LEAST_A 1e-6
#define LEAST_W 1e-4
#define LIMIT_MARGIN 1.5 /* judgement: parts differ, and a board that draws half as much again is worth a look */

typedef struct { double volts, amps, watts; } Stress;

static double
greater (double most, double value)
{
  return isfinite (value) && fabs (value) > most ? fabs (value) : most;
}

/* Between any two of its pins, into any of them, in all of it. */
static void
add_stress (Stress *stress, const MlPart *part, int index, const MlOperatingPoint *point)
{
  for (guint i = 0; i < part->n_pins; i++)
    {
      stress->amps = greater (stress->amps, point->pin_a[index][i]);
      for (guint j = 0; j < i; j++)
        if (part->pins[i].net >= 0 && part->pins[j].net >= 0)
          stress->volts = greater (stress->volts, point->net_v[part->pins[i].net] - point->net_v[part->pins[j].net]);
    }
  stress->watts = greater (stress->watts, point->part_w[index]);
}

static void
append_amount (GString *text, double value, double least, MlUnit unit)
{
  char words[48];

  if (value < least)
    return;
  ml_quantity_format (value, unit, 2, false, words, sizeof words);
  g_string_append_printf (text, "%s%s", text->len > 0 ? ", " : "", words);
}

/* The pin that a band, a bar or a plus marks on the part. */
static const MlPin *
marked_pin (const MlPart *part)
{
  for (guint i = 0; i < part->n_pins; i++)
    if (part->pins[i].net >= 0 && (strcmp (part->pins[i].name, "cathode") == 0 || strcmp (part->pins[i].name, "plus") == 0))
      return &part->pins[i];
  return NULL;
}

char *
ml_repair_new_part (const MlBoard *board, int part, const MlOperatingPoint *const *points, guint n)
{
  const MlPart *mended = &board->parts[part];
  const MlPin *marked = marked_pin (mended);
  Stress stress = { 0, 0, 0 };
  g_autoptr (GString) amounts = g_string_new (NULL);
  GString *text = g_string_new (NULL);

  for (guint i = 0; i < n; i++)
    if (points[i] != NULL && points[i]->solved)
      add_stress (&stress, mended, part, points[i]);
  append_amount (amounts, stress.volts, LEAST_V, ML_UNIT_VOLT);
  append_amount (amounts, stress.amps, LEAST_A, ML_UNIT_AMPERE);
  append_amount (amounts, stress.watts, LEAST_W, ML_UNIT_WATT);
  if (amounts->len > 0)
    g_string_append_printf (text, "The new one gets up to %s in these conditions: fit one that stands twice that.", amounts->str);
  if (marked != NULL)
    g_string_append_printf (text, "%sIts %s goes to %s.", text->len > 0 ? " " : "", marked->name, board->nets[marked->net].words);
  return g_string_free (text, FALSE);
}

/* Upwards, to what a knob can be set to: two digits, the second 0 or 5. */
static double
round_up (double value)
{
  double step = pow (10, floor (log10 (value))) / 2;

  return ceil (value / step - 1e-9) * step;
}

char *
ml_repair_power_up (const MlBoard *board, const MlOperatingPoint *point)
{
  if (point == NULL || !point->solved || board->conditions[point->condition].n_supplies != 1 || point->limiting[0])
    return NULL;
  const MlCondition *condition = &board->conditions[point->condition];
  double draws = point->supply_a[0], limit = LIMIT_MARGIN * draws;
  char limit_words[48], draws_words[48];

  if (!isfinite (draws) || draws < LEAST_A || round_up (limit) >= condition->supplies[0].limit_a)
    return NULL;
  ml_quantity_format (round_up (limit), ML_UNIT_AMPERE, 2, false, limit_words, sizeof limit_words);
  ml_quantity_format (draws, ML_UNIT_AMPERE, 2, false, draws_words, sizeof draws_words);
  return g_strdup_printf ("For the first power-up set the limit to %s: in %s a sound board draws %s.", limit_words, condition->name, draws_words);
}

/* Statements of a job stand in the order in which they were written. */
guint
ml_repair_pass_begun (const MlJob *job, int unit)
{
  guint line = 0;

  for (guint i = 0; i < job->n_passes; i++)
    if (job->passes[i].unit == unit)
      line = MAX (line, job->passes[i].line);
  return line;
}

const char *
ml_repair_logged (const MlJob *job, int unit, const char *part)
{
  const guint since = ml_repair_pass_begun (job, unit);

  for (guint i = job->n_log; i > 0; i--)
    {
      const MlLogEntry *entry = &job->log[i - 1];

      if (entry->unit == unit && entry->line > since && g_strcmp0 (entry->subject, part) == 0
          && (g_strcmp0 (entry->what, "replaced") == 0 || g_strcmp0 (entry->what, "resoldered") == 0))
        return entry->what;
    }
  return NULL;
}
