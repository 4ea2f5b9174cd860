/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pins of unknown chips that take no current. A fit in the logarithm of a pin's two resistances settles where their currents balance, in the
 * middle of a broad distribution; an input lies far out, where no reading depends on them any more, and no step leads there. What then fits
 * as well without any chance is a connection to that pin that is not there. So the pin is put there, and it is looked whether the readings
 * agree; in the fit it stays there, and costs what share of the pins are inputs instead of its distance from the middle. */
#include "verdict/case.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

#define LEAST_GAIN 0.5 /* nats: an input that helps less is not worth a fit */

gboolean
ml_case_is_input (const MlCase *own, guint unknown, const MlExpansion *at)
{
  return unknown < own->dictionary->model->n_unknowns && own->signal_of[unknown] >= 0 && ml_case_weighs_pins (own)
         && ml_model_is_input (own->dictionary->model, unknown, at->z, own->dictionary->items[at->item].node);
}

/* A pin has two resistances in every condition, and is an input in all of them or in none. */
double
ml_case_inputs_ln (const MlCase *own, const MlExpansion *at)
{
  guint n = 0;

  for (guint u = 0; u < own->dictionary->model->n_unknowns; u++)
    n += ml_case_is_input (own, u, at);
  return n ? n * log (own->figures.pins.states[0].share) / (2.0 * own->job->board->n_conditions) : 0;
}

/* Whether that unknown is a resistance of the block's pin; they stand behind its current source. Its supply pin has none. */
static gboolean
is_of_pin (const MlCase *own, guint unknown, guint part, guint pin)
{
  const MlUnknown *it = &own->dictionary->model->unknowns[unknown];
  int current = own->dictionary->model->block_current[part][pin];

  return current >= 0 && (int) pin != own->job->board->parts[part].supply_pin && own->signal_of[unknown] >= 0 && it->part == (int) part
         && (it->device == current + 1 || it->device == current + 2);
}

/* Whether a reading depends on the pin by more than what the model leaves out. */
static gboolean
matters (MlCase *own, MlExpansion *at, guint part, guint pin)
{
  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlPrediction *prediction = ml_case_predict_at (own, at, g_array_index (own->taken, MlTaken, i).place);
      double sum = 0;

      for (guint k = 0; k < prediction->n; k++)
        if (prediction->column[k] < own->dictionary->model->n_unknowns && is_of_pin (own, prediction->column[k], part, pin))
          sum += prediction->slope[k] * prediction->slope[k];
      if (sum > pow (own->figures.volts_v, 2))
        return TRUE;
    }
  return FALSE;
}

/* NULL: it is one already, or has none of these resistances. */
static MlExpansion *
with_input (const MlCase *own, const MlExpansion *from, guint part, guint pin)
{
  g_autofree double *z = g_new0 (double, own->dictionary->n_columns);
  gboolean any = FALSE;

  if (from->z)
    memcpy (z, from->z, own->dictionary->n_columns * sizeof *z);
  for (guint u = 0; u < own->dictionary->model->n_unknowns; u++)
    if (is_of_pin (own, u, part, pin) && !ml_case_is_input (own, u, from))
      {
        z[u] = ml_model_input_z (own->dictionary->model, u, own->dictionary->items[from->item].node);
        any = TRUE;
      }
  return any ? ml_expansion_new (own->dictionary, from->item, from->second, z) : NULL;
}

/* One pin after the other, each kept when the readings are the likelier for it. */
static void
find_of_part (MlCase *own, guint part, MlExpansion *first, MlExpansion **best, double *ln)
{
  for (guint p = 0; p < own->job->board->parts[part].n_pins; p++)
    {
      MlExpansion *next = matters (own, *best, part, p) ? with_input (own, *best, part, p) : NULL;
      double value = next ? ml_case_ln_at (own, next, *best) : -INFINITY;

      if (value > *ln + LEAST_GAIN)
        {
          if (*best != first)
            ml_expansion_free (own->dictionary, *best);
          *best = next;
          *ln = value;
        }
      else
        ml_expansion_free (own->dictionary, next);
    }
}

static void
find_inputs (MlCase *own, guint item)
{
  const MlModel *model = own->dictionary->model;
  int twin = own->dictionary->items[item].twin;
  MlExpansion *first, *best;
  double ln;

  if (!ml_case_weighs_pins (own))
    return;
  if (twin >= 0 && ml_case_expansion (own, item) == ml_case_expansion (own, (guint) twin))
    item = (guint) twin;
  first = best = ml_case_expansion (own, item);
  ln = own->items[item].ln;
  for (guint i = 0; i < model->board->n_parts; i++)
    if (model->block_current[i])
      find_of_part (own, i, first, &best, &ln);
  if (best != first)
    ml_case_keep_better_fit (own, item, best);
}

/* The sound board is what all others are measured against; and what leads, so that none of them is judged where its chips' inputs draw currents
 * and another where they do not. */
gboolean
ml_case_refine_inputs (MlCase *own, GCancellable *cancellable, GError **error)
{
  double least = ml_assumption ("refine.inputs");

  for (guint i = 0; i < own->dictionary->n_items && own->taken->len; i++)
    if (i < own->dictionary->model->n_nodes || i == own->best_item || (own->probability[i] >= least && !ml_case_same_as_twin (own, i)))
      {
        if (g_cancellable_set_error_if_cancelled (cancellable, error))
          return FALSE;
        find_inputs (own, i);
      }
  ml_case_follow_twins (own);
  ml_case_update (own);
  return TRUE;
}
