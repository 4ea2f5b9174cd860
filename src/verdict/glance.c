/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The first answer to one more reading. The last verdict's evidence of everything, refined where it was, is multiplied by how likely the new reading is
 * given all others. For what may still lead that is found as always, from the reading's slopes in every unknown. Most of the thousands of other states of
 * affairs are far behind and stay so: for them it is told from the voltages that the dictionary holds, with the spread that the sound board has there. */
#include "verdict/glance.h"

#include "verdict/assumptions.h"
#include "verdict/judge-private.h"
#include "verdict/misread.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"
#include "verdict/remember.h"

#include <math.h>
#include <string.h>

#define MOST_NEW 4      /* readings at once */
#define BATCH 32        /* items looked at closely before it is seen whether more are needed */
#define MOST_BATCHES 2
#define MOST_PAIRS 16   /* looked at closely */
#define REACH 14        /* nats behind the best: nothing nearer is left to the rough figures … */
#define ENOUGH 0.02     /* … until all that is left to them is no larger a share than this; */
#define TOO_MUCH 0.2    /* and above this, where there are no rough figures, nothing is said */

/* ---- kept ---- */

void
ml_judged_free (MlDictionary *dictionary, MlJudged *judged)
{
  if (!judged)
    return;
  for (guint i = 0; i < dictionary->n_items; i++)
    if (!judged->lent[i])
      ml_expansion_free (dictionary, judged->at[i]);
  ml_pairs_free (dictionary, judged->pairs);
  ml_remembered_release (dictionary, judged->remembered);
  g_bytes_unref (judged->heard);
  g_bytes_unref (judged->seen);
  g_free (judged->ln);
  g_free (judged->heard_ln);
  g_free (judged->at);
  g_free (judged->lent);
  g_free (judged->at_ln);
  g_free (judged->centre_ln);
  g_free (judged->pair_at_ln);
  g_free (judged->misread);
  g_free (judged);
}

static void
keep_item (MlCase *own, MlJudged *judged, guint i)
{
  MlWeighed *weighed = &own->items[i];

  judged->ln[i] = weighed->ln;
  judged->heard_ln[i] = weighed->heard;
  judged->at[i] = weighed->refined;
  judged->lent[i] = weighed->lent;
  judged->at_ln[i] = NAN;
  if (isfinite (weighed->ln) && (weighed->refined || i >= own->dictionary->n_early))
    judged->at_ln[i] = ml_case_ln_at (own, ml_case_expansion (own, i), NULL);
  weighed->refined = NULL;
}

void
ml_case_keep_judged (MlCase *own)
{
  MlDictionary *dictionary = own->dictionary;
  MlJudged *judged;

  ml_judged_free (dictionary, g_steal_pointer (&dictionary->judged));
  if (own->condition_slip->slip != ML_SLIP_NONE)
    return;
  judged = g_new0 (MlJudged, 1);
  judged->heard = ml_case_list_heard (own);
  judged->seen = ml_case_list_seen (own);
  judged->n_taken = own->taken->len;
  judged->remembered = ml_case_remember (own);
  judged->remembered->n_held++;
  judged->ln = g_new (double, MAX (dictionary->n_items, 1));
  judged->heard_ln = g_new (double, MAX (dictionary->n_items, 1));
  judged->at = g_new (MlExpansion *, MAX (dictionary->n_items, 1));
  judged->lent = g_new (gboolean, MAX (dictionary->n_items, 1));
  judged->at_ln = g_new (double, MAX (dictionary->n_items, 1));
  judged->centre_ln = g_memdup2 (judged->remembered->ln, MAX (dictionary->n_early, 1) * sizeof (double));
  for (guint i = 0; i < dictionary->n_items; i++)
    keep_item (own, judged, i);
  judged->pair_at_ln = g_new (double, MAX (own->pairs->len, 1));
  for (guint i = 0; i < own->pairs->len; i++)
    judged->pair_at_ln[i] = i < MOST_PAIRS ? ml_case_ln_at (own, g_array_index (own->pairs, MlPair, i).at, NULL) : NAN;
  judged->pairs = own->pairs;
  own->pairs = ml_pairs_new ();
  judged->misread = g_memdup2 (own->misread, MAX (own->taken->len, 1) * sizeof *own->misread);
  judged->misfit_ln = own->misfit_ln;
  judged->looked_late = own->looked_late;
  dictionary->judged = judged;
}

/* ---- rough figures ---- */

/* What a new reading is expected to be beyond what the centre of a sound item gives, and how well that is known. */
typedef struct { double shift, sigma; } Reference;

typedef struct
{
  MlCase *own;
  MlJudged *judged;
  guint n_new;
  double *values[MOST_NEW];        /* n_early: by the dictionary's voltages; NAN where it has none */
  gboolean rough[MOST_NEW];        /* there are such values at all */
  Reference *references[MOST_NEW]; /* per node */
  double *more;                    /* per item: ln of how likely the new readings are */
  gboolean *close;                 /* per item: found as exactly as can be */
} Glance;

static const MlTaken *
new_taken (const Glance *glance, guint k)
{
  return &g_array_index (glance->own->taken, MlTaken, glance->judged->n_taken + k);
}

static double
volts_at (const MlNodalCircuit *circuit, const MlNodalSolution *at, const MlNodalPoint *point)
{
  return point->device < 0 ? at->net_v[point->net] : ml_nodal_solution_metal_v (circuit, at, point->device, point->pin);
}

/* Without the meter's own load. NAN: not to be seen in a solution. */
static double
rough_value (const MlModelCondition *condition, const MlNodalSolution *at, const MlNodalMeter *meter)
{
  if (meter->reads == ML_NODAL_READ_VOLTS)
    return volts_at (condition->circuit, at, &meter->red) - volts_at (condition->circuit, at, &meter->black);
  if (meter->reads == ML_NODAL_READ_AMPS && at->pin_a)
    return -at->pin_a[ml_nodal_circuit_first_pin (condition->circuit, meter->device)];
  return NAN;
}

double
ml_dictionary_rough_value (MlDictionary *dictionary, guint item, guint place)
{
  const MlReadingPlace *at = &g_array_index (dictionary->places, MlReadingPlace, place);
  const MlExpansion *expansion = ml_dictionary_reads_as (dictionary, item, place);
  MlNodalMeter meter;

  if (at->red.lead == ML_LEAD_LIFTED || at->black.lead == ML_LEAD_LIFTED || expansion->state[at->condition] != 1
      || !ml_reading_place_meter (dictionary->model, at, &meter))
    return NAN;
  return rough_value (&dictionary->model->conditions[at->condition], &expansion->at[at->condition], &meter);
}

static void
find_values (Glance *glance, guint k)
{
  MlDictionary *dictionary = glance->own->dictionary;

  glance->values[k] = g_new (double, MAX (dictionary->n_early, 1));
  for (guint i = 0; i < dictionary->n_early; i++)
    {
      glance->values[k][i] = ml_dictionary_rough_value (dictionary, i, new_taken (glance, k)->place);
      glance->rough[k] |= isfinite (glance->values[k][i]);
    }
}

/* The sound board at that node, fitted to the readings before. */
static Reference
refer (Glance *glance, guint k, guint node)
{
  MlCase *own = glance->own;
  MlExpansion *at = ml_case_expansion (own, node);
  guint place = new_taken (glance, k)->place;
  const MlPrediction *prediction = ml_case_predict_at (own, at, place);
  double variance, mean = prediction->value + ml_case_fitted_along (own, at, prediction, &variance);

  for (guint i = 0; at->z && i < prediction->n; i++)
    mean -= prediction->slope[i] * at->z[prediction->column[i]];
  if (!prediction->valid || !isfinite (glance->values[k][node]))
    return (Reference){ 0, new_taken (glance, k)->class.span / 4 };
  return (Reference){ mean - glance->values[k][node], sqrt (variance) };
}

static double
normal (double x, double variance)
{
  return exp (-x * x / (2 * variance)) / sqrt (2 * G_PI * variance);
}

static double
rough_ln (const Glance *glance, guint k, guint item)
{
  const MlCase *own = glance->own;
  const MlTaken *taken = new_taken (glance, k);
  MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
  const Reference *reference = &glance->references[k][own->dictionary->items[item].node];
  double value = glance->values[k][item], mild = own->figures.mild, gross = own->figures.gross, off, variance;

  if (!isfinite (value))
    return glance->rough[k] ? -log (taken->class.span) : 0;
  value += reference->shift;
  off = taken->observed - value;
  variance = taken->variance + reference->sigma * reference->sigma + 4 * ml_case_floor (own, reads, value, 0) + pow (0.02 * value, 2);
  return log ((1 - mild - gross) * normal (off, variance) + mild * normal (off, variance + taken->class.mild_variance) + gross / taken->class.span);
}

/* Before the new readings are among those taken. */
static void
find_rough (Glance *glance)
{
  MlDictionary *dictionary = glance->own->dictionary;
  guint n_nodes = dictionary->model->n_nodes;

  for (guint k = 0; k < glance->n_new; k++)
    {
      find_values (glance, k);
      glance->references[k] = g_new (Reference, n_nodes);
      for (guint node = 0; node < n_nodes; node++)
        glance->references[k][node] = refer (glance, k, node);
    }
  for (guint i = 0; i < dictionary->n_early; i++)
    for (guint k = 0; k < glance->n_new && isfinite (glance->judged->ln[i]); k++)
      glance->more[i] += rough_ln (glance, k, i);
}

/* ---- close figures ---- */

static double
score (const Glance *glance, guint item)
{
  const MlDictionary *dictionary = glance->own->dictionary;

  return glance->judged->ln[item] + glance->judged->heard_ln[item] + glance->more[item]
         + log (ml_dictionary_hypothesis (dictionary, item)->prior * dictionary->items[item].share);
}

static void
look_closely (Glance *glance, const guint *items, guint n)
{
  MlCase *own = glance->own;
  g_autofree guint *centred = g_new (guint, MAX (n, 1));
  guint n_centred = 0;

  for (guint i = 0; i < n; i++)
    if (isnan (glance->judged->at_ln[items[i]]))
      centred[n_centred++] = items[i];
    else
      glance->more[items[i]] = ml_case_ln_at (own, ml_case_expansion (own, items[i]), NULL) - glance->judged->at_ln[items[i]];
  ml_case_fill_some (own, centred, n_centred);
  for (guint i = 0; i < n_centred; i++)
    glance->more[centred[i]] = own->items[centred[i]].ln - glance->judged->centre_ln[centred[i]];
  for (guint i = 0; i < n; i++)
    glance->close[items[i]] = TRUE;
}

/* All that may matter, best first. */
static GArray *
list_within_reach (const Glance *glance)
{
  const MlDictionary *dictionary = glance->own->dictionary;
  GArray *list = g_array_new (FALSE, FALSE, sizeof (MlScored));
  double best = -INFINITY;

  for (guint i = 0; i < dictionary->n_items; i++)
    best = MAX (best, score (glance, i));
  for (guint i = 0; i < dictionary->n_items; i++)
    {
      MlScored scored = { i, score (glance, i) };

      if (scored.score > best - REACH && !ml_case_same_as_twin (glance->own, i))
        g_array_append_val (list, scored);
    }
  g_array_sort (list, ml_scored_best_first);
  return list;
}

/* The share of what is left to the rough figures in all. */
static double
share_left (const Glance *glance, const GArray *list)
{
  double best = -INFINITY, all = 0, left = 0;

  for (guint i = 0; i < list->len; i++)
    best = MAX (best, score (glance, g_array_index (list, MlScored, i).index));
  for (guint i = 0; i < list->len; i++)
    {
      guint item = g_array_index (list, MlScored, i).index;
      double weight = exp (score (glance, item) - best);

      all += weight;
      left += glance->close[item] ? 0 : weight;
    }
  return left / all;
}

/* Those that lead by the rough figures, and the sound board at every node, which all is measured against. FALSE: too much is left without any. */
static gboolean
find_close (Glance *glance)
{
  g_autoptr (GArray) list = list_within_reach (glance);
  g_autofree guint *items = g_new (guint, glance->own->dictionary->model->n_nodes + BATCH);
  guint n = 0, next = 0;
  gboolean rough = TRUE;
  double left = 1;

  for (guint node = 0; node < glance->own->dictionary->model->n_nodes; node++)
    items[n++] = node;
  for (guint k = 0; k < glance->n_new; k++)
    rough &= glance->rough[k];
  for (guint round = 0; round < MOST_BATCHES && left > ENOUGH && (round == 0 || next < list->len); round++)
    {
      for (guint taken = 0; taken < BATCH && next < list->len; next++)
        if (g_array_index (list, MlScored, next).index >= glance->own->dictionary->model->n_nodes)
          {
            items[n++] = g_array_index (list, MlScored, next).index;
            taken++;
          }
      look_closely (glance, items, n);
      n = 0;
      left = share_left (glance, list);
    }
  return rough || left < TOO_MUCH;
}

/* ---- all of it ---- */

static void
take_items (Glance *glance)
{
  MlCase *own = glance->own;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      int twin = own->dictionary->items[i].twin;
      double more = twin >= 0 && ml_case_same_as_twin (own, i) ? glance->more[twin] : glance->more[i];

      own->items[i].ln = glance->judged->ln[i] + more;
      own->items[i].heard = glance->judged->heard_ln[i];
    }
}

/* Pairs beyond those looked at are as likely as the rough figure of their first fault has it. */
static void
take_pairs (Glance *glance)
{
  const MlJudged *judged = glance->judged;

  for (guint i = 0; i < judged->pairs->len; i++)
    {
      MlPair pair = g_array_index (judged->pairs, MlPair, i);

      pair.id = 0;
      pair.ln += i < MOST_PAIRS ? ml_case_ln_at (glance->own, pair.at, NULL) - judged->pair_at_ln[i] : glance->more[pair.first];
      g_array_append_val (glance->own->pairs, pair);
    }
}

static void
take_misfit (Glance *glance)
{
  MlCase *own = glance->own;

  own->misfit_ln = glance->judged->misfit_ln;
  own->looked_late = glance->judged->looked_late;
  for (guint k = 0; k < glance->n_new; k++)
    own->misfit_ln += log (ml_case_misfit_density (own, new_taken (glance, k), glance->values[k]));
}

/* How many readings came behind those judged last, after which everything was seen as it is seen now; negative: other ones were judged. */
static int
count_new (MlCase *own, const MlJudged *judged)
{
  g_autoptr (GBytes) heard = ml_case_list_heard (own), seen = ml_case_list_seen (own);
  gsize n, n_before;
  const char *bytes = g_bytes_get_data (heard, &n), *before = g_bytes_get_data (judged->heard, &n_before);
  const gboolean same = n_before <= n && (!n_before || memcmp (bytes, before, n_before) == 0) && g_bytes_equal (judged->seen, seen);

  return same && own->taken->len >= judged->n_taken ? (int) (own->taken->len - judged->n_taken) : -1;
}

static void
glance_free (Glance *glance)
{
  for (guint k = 0; k < glance->n_new; k++)
    {
      g_free (glance->values[k]);
      g_free (glance->references[k]);
    }
  g_free (glance->more);
  g_free (glance->close);
}

static void
take_fits (MlCase *own, const MlJudged *judged)
{
  own->glancing = TRUE;
  memcpy (own->misread, judged->misread, judged->n_taken * sizeof *own->misread);
  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      own->items[i].refined = judged->at[i];
      own->items[i].lent = TRUE;
    }
}

gboolean
ml_case_glance (MlCase *own)
{
  MlDictionary *dictionary = own->dictionary;
  MlJudged *judged = dictionary->judged;
  Glance glance = { .own = own, .judged = judged };
  MlTaken news[MOST_NEW];
  gboolean found;
  const int n_new = judged ? count_new (own, judged) : -1;

  if (n_new <= 0 || n_new > MOST_NEW || ml_case_remember (own)->filled)
    return FALSE;
  take_fits (own, judged);
  glance.n_new = (guint) n_new;
  glance.more = g_new0 (double, MAX (dictionary->n_items, 1));
  glance.close = g_new0 (gboolean, MAX (dictionary->n_items, 1));
  for (guint k = 0; k < glance.n_new; k++)
    news[k] = *new_taken (&glance, k);
  g_array_set_size (own->taken, judged->n_taken);
  find_rough (&glance);
  g_array_append_vals (own->taken, news, glance.n_new);
  found = find_close (&glance);
  if (found)
    {
      take_items (&glance);
      take_pairs (&glance);
      take_misfit (&glance);
      ml_case_update (own);
    }
  glance_free (&glance);
  return found;
}

gboolean
ml_case_take_up (MlCase *own)
{
  MlJudged *judged = own->dictionary->judged;
  Glance glance = { .own = own, .judged = judged };

  if (!judged || count_new (own, judged) != 0)
    return FALSE;
  take_fits (own, judged);
  glance.more = g_new0 (double, MAX (own->dictionary->n_items, 1));
  take_items (&glance);
  take_pairs (&glance);
  take_misfit (&glance);
  ml_case_update (own);
  glance_free (&glance);
  return TRUE;
}
