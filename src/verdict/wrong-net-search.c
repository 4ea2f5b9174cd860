/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which pin may be drawn on the wrong net. There are as many as pins times nets, so they are solved one condition after the other, compared
 * roughly with the readings and given up as soon as they cannot be among the best; those are then weighed and refined like everything else. */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/good-unit.h"
#include "verdict/observe.h"

#include <math.h>

typedef struct { guint item; double score; } Candidate;

typedef struct
{
  MlCase *own;
  double **bench;      /* per node of the blocks: what they, the supplies and values nobody could read are there by the best fit, as z; NULL: the centre */
  double *variance;    /* per taken: how roughly it is compared */
  double most, unknown; /* that one reading may cost in the rough score; one of which nothing is known */
  double least;        /* no candidate below this rough score is looked at further */
  int beside;          /* item of a fault that the board has besides; -1: none */
  GArray *candidates;  /* Candidate */
} Search;

/* ---- the rough score ---- */

static double
point_volts (const MlCase *own, int condition, const MlNodalSolution *at, const MlProbe *probe)
{
  const MlModel *model = own->dictionary->model;
  MlNodalPoint point;

  if (!ml_model_point (model, condition, probe, &point))
    return NAN;
  if (point.device >= 0)
    return ml_nodal_solution_metal_v (model->conditions[condition].circuit, at, point.device, point.pin);
  return at->floating[point.net] ? NAN : at->net_v[point.net];
}

/* Without the meter in the circuit; NAN where nothing can be said. */
static double
rough_value (const MlCase *own, const MlReadingPlace *place, const MlNodalSolution *at)
{
  const MlModelCondition *condition = &own->dictionary->model->conditions[place->condition];
  MlNodalMeter meter;

  if (!ml_reading_place_meter (own->dictionary->model, place, &meter)) /* a whole condition that was mixed up: it may not have that supply */
    return NAN;
  if (place->reads == ML_READS_AMPS)
    return -at->pin_a[ml_nodal_circuit_first_pin (condition->circuit, meter.device)];
  return point_volts (own, place->condition, at, &place->red) - point_volts (own, place->condition, at, &place->black);
}

/* Ohms and diode tests say nothing here: their circuit is another one with the meter in it. */
static gboolean
is_rough (MlReads reads)
{
  return reads == ML_READS_VOLTS || reads == ML_READS_AMPS;
}

static double
rough_score_in (const Search *search, MlExpansion *at, int condition)
{
  MlCase *own = search->own;
  gboolean solved = ml_expansion_solve (own->dictionary, at, condition, NULL);
  double sum = 0;

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlReadingPlace *place = &g_array_index (own->dictionary->places, MlReadingPlace, taken->place);
      double off;

      if (place->condition != condition || !is_rough (place->reads))
        continue;
      off = solved ? taken->observed - rough_value (own, place, ml_expansion_at (own->dictionary, at, condition)) : NAN;
      sum -= isfinite (off) ? MIN (off * off / (2 * search->variance[i]), search->most) : search->unknown;
    }
  return sum;
}

/* ln prior and rough score; given up, at minus infinity, once it falls below `least`. */
static double
rough_score (const Search *search, guint item, MlExpansion *at)
{
  const MlCase *own = search->own;
  double score = log (ml_dictionary_hypothesis (own->dictionary, item)->prior);

  for (guint c = 0; c < own->job->board->n_conditions && score >= search->least; c++)
    score += rough_score_in (search, at, (int) c);
  return score >= search->least ? score : -INFINITY;
}

/* ---- the search ---- */

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Candidate *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  return x->item < y->item ? -1 : x->item > y->item;
}

static void
begin (Search *search)
{
  MlCase *own = search->own;
  double volts = ml_assumption ("reading.enlarged-volts"), share = ml_assumption ("reading.enlarged-share");

  search->bench = search->beside < 0 ? ml_case_benches (own) : NULL;
  search->variance = ml_case_blunted (own, volts, share);
  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlPrediction *sound = ml_dictionary_predict (own->dictionary, own->dictionary->items[own->best_item].node, taken->place);

      search->variance[i] += taken->variance + ml_prediction_dot (sound, sound);
    }
  search->candidates = g_array_new (FALSE, FALSE, sizeof (Candidate));
  search->least = -INFINITY;
  if (search->beside < 0)
    search->least = rough_score (search, own->best_item, ml_case_expansion (own, own->best_item)) - ml_assumption ("slip.margin");
}

static void
end (Search *search)
{
  if (search->bench)
    ml_case_benches_free (search->own, search->bench);
  g_array_unref (search->candidates);
  g_free (search->variance);
}

/* Where a candidate is judged: its centre, or at what the blocks do by the bench, or by the fault beside it; the latter two are the caller's. */
static MlExpansion *
stand_at (const Search *search, guint item)
{
  const double *bench = search->bench ? search->bench[search->own->dictionary->items[item].node] : NULL;

  if (search->beside >= 0)
    return ml_expansion_new (search->own->dictionary, search->beside, (int) item, ml_case_expansion (search->own, (guint) search->beside)->z);
  return bench ? ml_expansion_new (search->own->dictionary, (int) item, -1, bench) : search->own->dictionary->expansions[item];
}

static double
screen_item (const Search *search, guint item)
{
  const MlItem *items = search->own->dictionary->items;
  MlExpansion *at;

  if (search->beside >= 0 && (items[item].node != items[search->beside].node || ml_case_is_about_chip (search->own, item)))
    return -INFINITY;
  at = stand_at (search, item);
  double score = rough_score (search, item, at);

  if (at != search->own->dictionary->expansions[item])
    ml_expansion_free (search->own->dictionary, at);
  return score;
}

static gboolean
screen (Search *search, guint most, GCancellable *cancellable, GError **error)
{
  MlDictionary *dictionary = search->own->dictionary;

  for (guint i = dictionary->n_early; i < dictionary->n_items; i++)
    {
      Candidate candidate = { .item = i };

      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      candidate.score = screen_item (search, i);
      if (!isfinite (candidate.score))
        continue;
      g_array_append_val (search->candidates, candidate);
      if (search->candidates->len >= 2 * most) /* the worst of the best is what the rest must beat */
        {
          g_array_sort (search->candidates, best_first);
          g_array_set_size (search->candidates, most);
          search->least = MAX (search->least, g_array_index (search->candidates, Candidate, most - 1).score);
        }
    }
  g_array_sort (search->candidates, best_first);
  g_array_set_size (search->candidates, MIN (search->candidates->len, most));
  return TRUE;
}

/* What good units say of that drawing. */
static double
heard_of (const MlCase *own, guint item)
{
  return own->goods ? ml_good_units_slip_ln (own->goods, &ml_dictionary_hypothesis (own->dictionary, item)->fault) : 0;
}

/* At every node of the blocks, as the items of a hypothesis stand together. */
static void
weigh (Search *search, const Candidate *candidate)
{
  MlCase *own = search->own;
  guint first = candidate->item - own->dictionary->items[candidate->item].node;
  double heard = heard_of (own, candidate->item);

  for (guint k = first; k < first + own->dictionary->model->n_nodes; k++)
    {
      MlExpansion *at = isfinite (own->items[k].ln) ? NULL : stand_at (search, k); /* weighed already for another node */
      MlEvidence evidence;

      own->items[k].heard = heard;
      if (!at)
        continue;
      if (ml_case_weigh (own, at, NULL, NULL, &evidence))
        {
          own->items[k].ln = evidence.ln + ml_case_beside_ln (own, at, NULL);
          ml_evidence_clear (&evidence);
        }
      own->items[k].refined = at != own->dictionary->expansions[k] ? at : NULL;
    }
}

/* What of a candidate is to be relinearised in this round; the first takes the best by the rough score, too: a strongly nonlinear part can look hopeless
 * linearly. Whether any was. */
static gboolean
refine_candidate (Search *search, guint index, gboolean first_round, gboolean *refined)
{
  MlCase *own = search->own;
  guint best = g_array_index (search->candidates, Candidate, index).item, first = best - own->dictionary->items[best].node;
  gboolean any = FALSE;

  for (guint k = first; k < first + own->dictionary->model->n_nodes; k++)
    if (!refined[k - own->dictionary->n_early]
        && ((first_round && k == best && index < ml_assumption ("slip.refined")) || own->probability[k] >= ml_assumption ("refine.probability")))
      {
        any = refined[k - own->dictionary->n_early] = TRUE;
        ml_case_refine_item (own, k);
      }
  return any;
}

/* The likeliest by themselves; what then leads by a straight line alone, because those did not keep what theirs had promised, once more. */
static void
refine (Search *search)
{
  MlCase *own = search->own;
  g_autofree gboolean *refined = g_new0 (gboolean, own->dictionary->n_items - own->dictionary->n_early);
  guint rounds = (guint) ml_assumption ("refine.rounds");
  gboolean any = TRUE;

  for (guint round = 0; any && round < rounds; round++)
    {
      any = FALSE;
      for (guint i = 0; i < search->candidates->len; i++)
        any |= refine_candidate (search, i, round == 0, refined);
      ml_case_update (own);
    }
}

gboolean
ml_case_find_wrong_nets (MlCase *own, GCancellable *cancellable, GError **error)
{
  Search search = { .own = own, .most = ml_assumption ("rough.most"), .unknown = ml_assumption ("rough.unknown"), .beside = -1 };
  gboolean done;

  if (!own->taken->len || own->dictionary->n_early == own->dictionary->n_items || own->hypothesis_probability[0] >= ml_assumption ("slip.doubt"))
    return TRUE;
  begin (&search);
  done = screen (&search, (guint) ml_assumption ("slip.weighed"), cancellable, error);
  for (guint i = 0; done && i < search.candidates->len; i++)
    {
      done = !g_cancellable_set_error_if_cancelled (cancellable, error);
      weigh (&search, &g_array_index (search.candidates, Candidate, i));
    }
  if (done)
    {
      own->looked_late = TRUE;
      ml_case_update (own);
      refine (&search);
    }
  end (&search);
  return done;
}

gboolean
ml_case_screen_wrong_nets (MlCase *own, guint beside, guint most, GArray *ret_items, GCancellable *cancellable, GError **error)
{
  Search search = { .own = own, .most = ml_assumption ("rough.most"), .unknown = ml_assumption ("rough.unknown"), .beside = (int) beside };
  gboolean done;

  if (!own->looked_late)
    return TRUE;
  begin (&search);
  done = screen (&search, most, cancellable, error);
  for (guint i = 0; done && i < search.candidates->len; i++)
    {
      guint item = g_array_index (search.candidates, Candidate, i).item;

      own->items[item].heard = heard_of (own, item);
      g_array_append_val (ret_items, item);
    }
  end (&search);
  return done;
}
