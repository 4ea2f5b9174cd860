/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which parts the readings speak against. Cleared = beside the leading explanation the readings leave the part's faults, weighed by their
 * prior, at most a share of their likelihood, a fault counting in full that alone lies near the best single explanation; so it is beside what slips of
 * the drawing are likely, and neither they nor the misfit lead. The pair alone would clear a faulty part whose neighbour already explains the shift; the single alone would clear whatever is
 * explained away. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"
#include "verdict/misread.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"

#include <math.h>

#define LEAST_SLIP 0.01 /* a slip less likely is none to hold every fault against … */
#define MOST_SLIPS 4    /* … nor are more than these */

static gboolean
is_solved (MlCase *own, MlExpansion *pair)
{
  for (guint i = 0; i < own->taken->len; i++)
    if (!ml_case_predict_at (own, pair, g_array_index (own->taken, MlTaken, i).place)->valid)
      return FALSE;
  return TRUE;
}

/* Whether the second fault moves any reading by more than what the model leaves out: what moves nothing cannot be spoken against. */
static gboolean
moves_a_reading (MlCase *own, guint leader, MlExpansion *pair)
{
  for (guint i = 0; i < own->taken->len; i++)
    {
      guint place = g_array_index (own->taken, MlTaken, i).place;
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, place).reads;
      const MlPrediction *both = ml_case_predict_at (own, pair, place);
      const MlPrediction *one = ml_case_predict (own, leader, place);

      if (fabs (both->value - one->value) > sqrt (ml_case_floor (own, reads, one->value, one->chopped)))
        return TRUE;
    }
  return FALSE;
}

static double
pair_evidence (MlCase *own, guint leader, guint item)
{
  MlExpansion *at = ml_case_expansion (own, leader);
  MlExpansion *pair = ml_expansion_new (own->dictionary, at->item, item, at->z);
  g_autofree double *doubts = ml_case_doubts (own);
  MlEvidence evidence;
  double ln = INFINITY;

  if (ml_case_weigh (own, pair, at, doubts, &evidence))
    {
      if (is_solved (own, pair) && moves_a_reading (own, leader, pair))
        ln = evidence.ln + ml_case_beside_ln (own, pair, at);
      ml_evidence_clear (&evidence);
    }
  ml_expansion_free (own->dictionary, pair);
  return ln;
}

/* The leader by itself, weighed as the pairs are: without the readings that were misread. */
static double
leader_evidence (MlCase *own, guint leader)
{
  g_autofree double *doubts = ml_case_doubts (own);
  MlEvidence evidence;
  double ln = -INFINITY;

  if (ml_case_weigh (own, ml_case_expansion (own, leader), NULL, doubts, &evidence))
    {
      ln = evidence.ln + ml_case_beside_ln (own, ml_case_expansion (own, leader), NULL);
      ml_evidence_clear (&evidence);
    }
  return ln;
}

static gboolean
was_predicted (MlCase *own, guint item)
{
  for (guint i = 0; i < own->taken->len; i++)
    if (!ml_case_predict (own, item, g_array_index (own->taken, MlTaken, i).place)->valid)
      return FALSE;
  return TRUE;
}

static double
supply_amps (const MlModel *model, const MlNodalSolution *at, guint c, guint supply)
{
  return at->pin_a[ml_nodal_circuit_first_pin (model->conditions[c].circuit, model->conditions[c].supply_device[supply])];
}

static gboolean
differs (MlCase *own, MlReads reads, double sound, double faulty)
{
  return !(fabs (faulty - sound) <= sqrt (ml_case_floor (own, reads, sound, 0)));
}

/* Whether the board with that fault alone differs from the sound one in a condition, at some net or in what a supply gives. */
static gboolean
shows_in (MlCase *own, guint item, guint c)
{
  MlDictionary *dictionary = own->dictionary;
  const MlModel *model = dictionary->model;
  MlExpansion *sound = dictionary->expansions[dictionary->items[item].node], *faulty = dictionary->expansions[item];
  const MlNodalSolution *fine, *at;

  if (!ml_expansion_solve (dictionary, sound, (int) c, NULL) || !ml_expansion_solve (dictionary, faulty, (int) c, NULL))
    return TRUE;
  fine = ml_expansion_at (dictionary, sound, (int) c);
  at = ml_expansion_look_at (dictionary, faulty, (int) c);
  for (guint net = 0; net < model->board->n_nets; net++)
    {
      int own_net = model->conditions[c].net_of[net];

      if (differs (own, ML_READS_VOLTS, fine->net_v[own_net], at->net_v[own_net]))
        return TRUE;
    }
  for (guint k = 0; k < model->board->conditions[c].n_supplies; k++)
    if (differs (own, ML_READS_AMPS, supply_amps (model, fine, c, k), supply_amps (model, at, c, k)))
      return TRUE;
  return FALSE;
}

static gboolean
shows_anywhere (MlCase *own, guint item)
{
  for (guint c = 0; c < own->dictionary->model->board->n_conditions; c++)
    if (own->dictionary->model->conditions[c].solver && shows_in (own, item, c))
      return TRUE;
  return FALSE;
}

typedef struct
{
  guint first, end;   /* items of the part */
  guint node;         /* of the leader */
  double total;       /* prior of those of them at that node that count */
  double may_stand;   /* prior times likelihood that a cleared part may keep */
} PartItems;

static double
prior_of (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share;
}

/* Slight ones that do nothing at all on a board that is otherwise sound, in any of its conditions, are no faults: a leak across a diode that conducts, a
 * joint where a regulator has volts to spare. An open or a shorted part is broken, whether that shows or not. */
static gboolean
counts (MlCase *own, guint item, guint node)
{
  MlFaultKind kind = ml_dictionary_hypothesis (own->dictionary, item)->fault.kind;
  gboolean slight = kind == ML_FAULT_JOINT || kind == ML_FAULT_LEAK || kind == ML_FAULT_HIGH || kind == ML_FAULT_LOW;

  return own->dictionary->items[item].node == node && (!slight || shows_anywhere (own, item));
}

static PartItems
items_of (MlCase *own, int part, guint node)
{
  PartItems items = { .first = own->dictionary->n_items, .node = node };

  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (ml_dictionary_hypothesis (own->dictionary, i)->explains == ML_EXPLAINS_FAULT
        && ml_dictionary_hypothesis (own->dictionary, i)->fault.part == part)
      {
        items.first = MIN (items.first, i);
        items.end = i + 1;
        if (counts (own, i, node))
          items.total += prior_of (own, i);
      }
  items.may_stand = ml_assumption ("cleared.left") * items.total;
  return items;
}

/* A fault alone: the best of the nodes counts, in favour of the fault. */
static double
alone (const MlCase *own, guint item)
{
  guint first = item - own->dictionary->items[item].node;
  double ln = -INFINITY;

  for (guint k = 0; k < own->dictionary->model->n_nodes; k++)
    ln = MAX (ln, own->items[first + k].ln);
  return ln;
}

/* How likely the readings are with a fault beside the leader, against the leader by itself; 1 when nobody knows. */
static double
likelihood_beside (MlCase *own, guint leader, double leader_ln, guint item)
{
  int twin = own->dictionary->items[item].twin;
  gboolean shared = twin >= 0 && ml_case_expansion (own, item) == ml_case_expansion (own, twin);
  double ln = pair_evidence (own, leader, shared ? (guint) twin : item);

  return isfinite (ln) && isfinite (leader_ln) ? exp (ln - leader_ln) : 1;
}

/* The share of the likelihood that the readings leave the part's faults beside an explanation; at least that, once it is above cleared.left. */
static double
share_left (MlCase *own, int part, guint leader, double best)
{
  PartItems items = items_of (own, part, own->dictionary->items[leader].node);
  double leader_ln = leader_evidence (own, leader), most_alone = best - ml_assumption ("cleared.nats"), stands = 0;

  if (items.total <= 0)
    return 1;
  for (guint i = items.first; i < items.end && stands <= items.may_stand; i++)
    if (counts (own, i, items.node) && (alone (own, i) > most_alone || !was_predicted (own, i)))
      stands += prior_of (own, i);
  /* Beside a sound board too the fault is judged where the leader was fitted: what is not fitted looks worse than it is. */
  for (guint i = items.first; i < items.end && stands <= items.may_stand; i++)
    if (counts (own, i, items.node) && alone (own, i) <= most_alone && was_predicted (own, i))
      stands += prior_of (own, i) * likelihood_beside (own, leader, leader_ln, i);
  return MIN (stands / items.total, 1);
}

/* The likeliest slips of the drawing; *ret_rest: the probability of all others, and of drawings that are wrong in a way not looked at. */
static GArray *
find_slips (const MlCase *own, double *ret_rest)
{
  GArray *slips = g_array_new (FALSE, FALSE, sizeof (MlScored));

  *ret_rest = own->misfit_probability + own->drawing_probability;
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    {
      MlScored slip = { h, own->hypothesis_probability[h] };

      if (g_array_index (own->dictionary->hypotheses, MlHypothesis, h).explains == ML_EXPLAINS_DRAWING && slip.score >= LEAST_SLIP)
        g_array_append_val (slips, slip);
    }
  g_array_sort (slips, ml_scored_best_first);
  g_array_set_size (slips, MIN (slips->len, MOST_SLIPS));
  for (guint i = 0; i < slips->len; i++)
    *ret_rest -= g_array_index (slips, MlScored, i).score;
  return slips;
}

/* Where the drawing may be wrong a part is cleared only if the readings speak against its faults on the board as it then is, too. */
static gboolean
is_cleared (MlCase *own, int part, double best, const GArray *slips, double rest)
{
  double doubt = rest;

  /* A rare fault may hold less of the part's prior than the share allowed to stand, and yet be what the readings show. */
  if (own->part_probability[part] >= ml_assumption ("cleared.most") || doubt > ml_assumption ("cleared.doubt")
      || share_left (own, part, own->best_item, best) > ml_assumption ("cleared.left"))
    return FALSE;
  for (guint i = 0; i < slips->len && doubt <= ml_assumption ("cleared.doubt"); i++)
    {
      const MlScored *slip = &g_array_index (slips, MlScored, i);

      doubt += slip->score * share_left (own, part, ml_case_best_of (own, slip->index), best);
    }
  return doubt <= ml_assumption ("cleared.doubt");
}

static gboolean
is_in_a_pair (const MlCase *own, int part)
{
  double sum = 0;

  for (guint i = 0; i < own->pairs->len; i++)
    {
      const MlPair *pair = &g_array_index (own->pairs, MlPair, i);
      if (ml_dictionary_hypothesis (own->dictionary, pair->first)->fault.part == part
          || ml_dictionary_hypothesis (own->dictionary, pair->second)->fault.part == part)
        sum += pair->probability;
    }
  return sum > 0.01;
}

/* A capacitor that leaks or is shorted shows in d.c. readings; one that is open or has dried up, which is how most of them fail (common practice, no
 * source), does not. A tick would say more than anybody knows. */
static gboolean
hides_its_usual_fault (const MlPart *part)
{
  return part->kind->kind == ML_KIND_CAPACITOR;
}

gboolean
ml_case_cleared (MlCase *own, gboolean *ret_cleared, GCancellable *cancellable, GError **error)
{
  guint leader = own->best_item, n_parts = own->dictionary->model->board->n_parts;
  double best = -INFINITY, rest;
  g_autoptr (GArray) slips = find_slips (own, &rest);
  const gboolean *touched = ml_case_touched (own);

  for (guint p = 0; p < n_parts; p++)
    ret_cleared[p] = FALSE;
  /* Beside two faults nothing is cleared: a third would have to be tried. */
  if (!own->taken->len || own->best_pair >= 0 || own->misfit_probability + own->drawing_probability >= own->hypothesis_probability[own->dictionary->items[leader].hypothesis])
    return TRUE;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    best = MAX (best, own->items[i].ln);
  for (guint p = 0; p < n_parts; p++)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if ((int) p != ml_dictionary_hypothesis (own->dictionary, leader)->fault.part && !is_in_a_pair (own, (int) p)
          && touched[p] && !hides_its_usual_fault (&own->job->board->parts[p]))
        ret_cleared[p] = is_cleared (own, p, best, slips, rest);
    }
  return TRUE;
}
