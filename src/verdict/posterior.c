/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From evidence and priors to probabilities. */
#include "verdict/pairs.h"

#include <math.h>
#include <string.h>

#define AS_LIKELY 0.99

static double
ln_prior (const MlCase *own, guint item)
{
  return log (ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share) + own->items[item].heard;
}

/* exp (ln + ln prior - most) of everything, into its probability; their sum. */
static double
add_up (MlCase *own, double misfit)
{
  const MlDictionary *dictionary = own->dictionary;
  double most = misfit, total = 0;

  for (guint i = 0; i < dictionary->n_items; i++)
    most = MAX (most, own->items[i].ln + ln_prior (own, i));
  for (guint i = 0; i < own->pairs->len; i++)
    most = MAX (most, g_array_index (own->pairs, MlPair, i).ln + g_array_index (own->pairs, MlPair, i).ln_prior);
  for (guint i = 0; i < dictionary->n_items; i++)
    total += own->probability[i] = exp (own->items[i].ln + ln_prior (own, i) - most);
  for (guint i = 0; i < own->pairs->len; i++)
    {
      MlPair *pair = &g_array_index (own->pairs, MlPair, i);
      total += pair->probability = exp (pair->ln + pair->ln_prior - most);
    }
  return total + (own->misfit_probability = exp (misfit - most));
}

static gboolean
is_fault (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->explains == ML_EXPLAINS_FAULT;
}

/* What would be mended: the part, or of faults between the parts and slips of the drawing each by itself, numbered below zero. */
static int
mended (const MlCase *own, guint item)
{
  int part = ml_dictionary_hypothesis (own->dictionary, item)->fault.part;

  return part >= 0 && is_fault (own, item) ? part : -1 - (int) own->dictionary->items[item].hypothesis;
}

/* Pairs of the same two parts are one explanation: it leads when together they outweigh the likeliest single one. */
static double
same_parts (const MlCase *own, const MlPair *pair)
{
  int a = mended (own, pair->first), b = mended (own, pair->second);
  double sum = 0;

  for (guint i = 0; i < own->pairs->len; i++)
    {
      const MlPair *other = &g_array_index (own->pairs, MlPair, i);
      int c = mended (own, other->first), d = mended (own, other->second);
      sum += (a == c && b == d) || (a == d && b == c) ? other->probability : 0;
    }
  return sum;
}

static void
update_pairs (MlCase *own, double total)
{
  double best = own->hypothesis_probability[own->dictionary->items[own->best_item].hypothesis];

  own->best_pair = -1;
  for (guint i = 0; i < own->pairs->len; i++)
    g_array_index (own->pairs, MlPair, i).probability /= total;
  for (guint i = 0; i < own->pairs->len; i++)
    {
      const MlPair *pair = &g_array_index (own->pairs, MlPair, i);
      int a = ml_dictionary_hypothesis (own->dictionary, pair->first)->fault.part, b = ml_dictionary_hypothesis (own->dictionary, pair->second)->fault.part;

      if (a >= 0 && is_fault (own, pair->first))
        own->part_probability[a] += pair->probability;
      if (b >= 0 && is_fault (own, pair->second))
        own->part_probability[b] += pair->probability;
      if (ml_pair_is_drawn (own, pair))
        own->drawing_probability += pair->probability;
      if (same_parts (own, pair) > best)
        {
          best = same_parts (own, pair);
          own->best_pair = (int) i;
        }
    }
}

/* What has not been looked at is a drawing that cannot be right, of a kind not known yet. */
double
ml_case_misfit_prior (const MlCase *own)
{
  double prior = own->dictionary->misfit_prior;

  for (guint h = 0; h < own->dictionary->hypotheses->len && !own->looked_late; h++)
    if (g_array_index (own->dictionary->hypotheses, MlHypothesis, h).late)
      prior += g_array_index (own->dictionary->hypotheses, MlHypothesis, h).prior;
  return prior;
}

/* The same state of affairs where unknown chips do what they usually do, when that is as likely: what no reading tells is guessed as where there are none. */
static guint
usual_of (const MlCase *own, guint item)
{
  guint node = own->dictionary->items[item].node, middle = item - node + ml_model_middle (own->dictionary->model, node);

  return own->probability[middle] >= AS_LIKELY * own->probability[item] ? middle : item;
}

void
ml_case_update (MlCase *own)
{
  const MlDictionary *dictionary = own->dictionary;
  double total = add_up (own, own->misfit_ln + log (ml_case_misfit_prior (own)));

  own->misfit_probability /= total;
  memset (own->hypothesis_probability, 0, dictionary->hypotheses->len * sizeof (double));
  memset (own->part_probability, 0, dictionary->model->board->n_parts * sizeof (double));
  own->best_item = 0;
  own->drawing_probability = 0;
  for (guint i = 0; i < dictionary->n_items; i++)
    {
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, i);

      own->probability[i] /= total;
      own->hypothesis_probability[dictionary->items[i].hypothesis] += own->probability[i];
      if (hypothesis->explains == ML_EXPLAINS_FAULT && hypothesis->fault.part >= 0)
        own->part_probability[hypothesis->fault.part] += own->probability[i];
      if (hypothesis->explains == ML_EXPLAINS_DRAWING)
        own->drawing_probability += own->probability[i];
    }
  /* The leading item: the likeliest item of the likeliest hypothesis. */
  for (guint i = 1, best = 0; i < dictionary->n_items; i++)
    {
      guint h = dictionary->items[i].hypothesis, b = dictionary->items[best].hypothesis;
      if (own->hypothesis_probability[h] > own->hypothesis_probability[b] || (h == b && own->probability[i] > own->probability[best]))
        best = i;
      own->best_item = best;
    }
  own->best_item = usual_of (own, own->best_item);
  update_pairs (own, total);
}
