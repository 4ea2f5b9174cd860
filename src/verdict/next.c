/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where to measure next: expected information about which part to work on, per effort. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/misread.h"

#include <math.h>

#define MOST_EXACT 14 /* candidates weighed in full after a rough screening */
#define MOST_GIVEN 8
#define TO_SOLDER (G_MAXINT / 2) /* added to a part's number: its joints are what to work on */

/* ---- what is live ---- */

static gboolean
is_middle (const MlCase *own, guint item)
{
  return own->dictionary->items[item].node == ml_model_middle (own->dictionary->model, own->dictionary->items[item].node);
}

/* Where nothing tells what unknown chips do, what they usually do first. */
static gint
by_weight (gconstpointer a, gconstpointer b, gpointer data)
{
  const MlCase *own = data;
  guint x = *(const guint *) a, y = *(const guint *) b;

  if (own->probability[x] != own->probability[y])
    return own->probability[x] < own->probability[y] ? 1 : -1;
  if (is_middle (own, x) != is_middle (own, y))
    return is_middle (own, x) ? -1 : 1;
  return x < y ? -1 : x > y;
}

/* What there would be to work on: a part, nothing, the drawing, or a fault that is no part's, each by itself. */
static int
class_of (const MlCase *own, guint item)
{
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, item);

  if (hypothesis->explains == ML_EXPLAINS_FAULT && hypothesis->fault.part < 0)
    return -3 - (int) own->dictionary->items[item].hypothesis;
  return hypothesis->explains == ML_EXPLAINS_DRAWING ? -2 : hypothesis->fault.part;
}

/* All that is live of the same thing to work on. */
static double
together (const Search *search, int key)
{
  double sum = 0;

  for (guint i = 0; i < search->n; i++)
    sum += search->key[i] == key ? search->weight[i] : 0;
  return sum;
}

static void
find_leaders (Search *search)
{
  for (guint i = 0; i < search->n; i++)
    search->leader = MAX (search->leader, together (search, search->key[i]));
  for (guint i = 0; i < search->n; i++)
    search->leads[i] = together (search, search->key[i]) * ml_assumption ("word.tie") >= search->leader;
}

/* Once it is as good as told which part it is, what is left is whether to solder it again or to replace it: a heat cycle and a part are at stake. */
static void
set_joints_apart (Search *search)
{
  for (guint i = 0; search->leader >= ml_assumption ("word.probably") && i < search->n; i++)
    {
      const MlFault *fault = &ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->fault;

      if (search->key[i] >= 0 && search->leads[i] && fault->kind == ML_FAULT_JOINT && !ml_fault_is_worn_contact (fault))
        search->key[i] += TO_SOLDER;
    }
}

static void
find_live (Search *search)
{
  MlCase *own = search->own;
  g_autofree guint *order = g_new (guint, own->dictionary->n_items);
  double total = 0;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    order[i] = i;
  g_qsort_with_data (order, own->dictionary->n_items, sizeof *order, by_weight, own);
  for (guint i = 0; i < own->dictionary->n_items && search->n < MOST_LIVE; i++)
    if (own->probability[order[i]] > ml_assumption ("next.live"))
      {
        search->item[search->n] = order[i];
        search->key[search->n] = class_of (own, order[i]);
        search->weight[search->n++] = own->probability[order[i]];
        total += own->probability[order[i]];
      }
  for (guint i = 0; i < search->n; i++)
    search->weight[i] /= total;
  find_leaders (search);
  set_joints_apart (search);
}

/* ---- in full ---- */

/* Of the readings taken, under one item; NULL when it has none. Asked for once, used for every candidate. */
static const MlEvidence *
evidence_of (Search *search, guint i)
{
  if (!search->state[i])
    {
      g_autofree double *doubts = ml_case_doubts (search->own);
      search->state[i] = ml_case_weigh (search->own, ml_case_expansion (search->own, search->item[i]), NULL, doubts, &search->evidence[i]) ? 1 : 2;
    }
  return search->state[i] == 1 ? &search->evidence[i] : NULL;
}

/* The untaken reading under one item, given those taken: mean y_c - J_c z + k' C^-1 d, variance J_c J_c' - k' C^-1 k + R, k_r = J_c J_r'. */
static void
conditional (Search *search, guint i, guint place, double *ret_mean, double *ret_sigma)
{
  MlCase *own = search->own;
  guint n = own->taken->len;
  MlExpansion *at = ml_case_expansion (own, search->item[i]);
  const MlReadingPlace where = g_array_index (own->dictionary->places, MlReadingPlace, place);
  const MlPrediction *next = ml_case_predict (own, search->item[i], place);
  g_autofree double *k = g_new0 (double, MAX (n, 1));
  g_autofree double *solved = g_new0 (double, MAX (n, 1));
  const MlEvidence *evidence = evidence_of (search, i);
  double mean = next->value, variance = ml_prediction_dot (next, next);

  for (guint j = 0; at->z && j < next->n; j++)
    mean -= next->slope[j] * at->z[next->column[j]];
  if (evidence)
    {
      for (guint j = 0; j < n; j++)
        k[j] = ml_prediction_dot (next, ml_case_predict (own, search->item[i], g_array_index (own->taken, MlTaken, j).place));
      ml_evidence_solve (evidence, k, solved);
      for (guint j = 0; j < n; j++)
        {
          mean += k[j] * evidence->a[j];
          variance -= k[j] * solved[j];
        }
    }
  if (!next->valid)
    variance += pow (own->figures.unsolved_share * MAX (own->dictionary->model->conditions[where.condition].span_v, 1), 2);
  *ret_mean = mean;
  *ret_sigma = sqrt (MAX (variance, 0) + ml_case_left_out (own, place, next->value, next->chopped) + pow (ml_next_meter_error (search, where.reads, next->value), 2) / 3);
}

static void
predict_all (Search *search, guint place, Prospect *prospect)
{
  const MlReadingPlace at = g_array_index (search->own->dictionary->places, MlReadingPlace, place);
  int alone = -1;

  for (guint i = 0; i < search->n; i++)
    if (alone >= 0 && ml_next_stands_alone (search, &at, i))
      {
        prospect->mean[i] = prospect->mean[alone];
        prospect->sigma[i] = prospect->sigma[alone];
      }
    else
      {
        conditional (search, i, place, &prospect->mean[i], &prospect->sigma[i]);
        if (ml_next_stands_alone (search, &at, i))
          alone = (int) i;
      }
}

static gboolean
leads_healthy (const Search *search)
{
  return ml_dictionary_hypothesis (search->own->dictionary, search->own->best_item)->explains == ML_EXPLAINS_HEALTHY;
}

static void
weigh_candidate (Search *search, Candidate *candidate, GArray *given)
{
  guint place = ml_dictionary_place (search->own->dictionary, &candidate->place);
  Prospect prospect = { .effort = candidate->effort };
  double *mean = prospect.mean, fine_sigma;
  MlNextReading next = { .condition = candidate->place.condition, .reads = candidate->place.reads, .red = candidate->place.red,
                         .black = candidate->place.black, .supply = candidate->place.supply, .effort = candidate->effort };

  predict_all (search, place, &prospect);
  next.bits = ml_information (search->weight, search->key, mean, prospect.sigma, search->n);
  if (next.bits < ml_assumption ("next.least-bits") || !ml_next_can_be_told (search, place, mean))
    return;
  search->tells_leaders |= ml_next_tells_leaders (search, place, mean);
  g_array_append_val (search->prospects, prospect);
  next.step = ml_next_say_step (search, &candidate->place);
  next.healthy = ml_case_predict_fine (search->own, place, &fine_sigma);
  for (guint i = 0; i < search->n && leads_healthy (search); i++) /* as fitted to what was read: one case, one prediction */
    if (search->item[i] == search->own->best_item)
      {
        next.healthy = mean[i];
        break;
      }
  next.healthy = ml_shown_of (next.reads, next.healthy, search->meter->diode_v);
  ml_next_add_expectations (search, &next, place, mean);
  g_array_append_val (given, next);
}

/* Like parts gain alike but for rounding, and then stay in the order of the board. */
static gint
by_gain (gconstpointer a, gconstpointer b)
{
  const MlNextReading *x = a, *y = b;
  double gain_x = round (1e9 * x->bits / x->effort), gain_y = round (1e9 * y->bits / y->effort);

  return gain_x == gain_y ? 0 : gain_x < gain_y ? 1 : -1;
}

/* A leg is worth lifting where nothing else settles the matter, or with the chance to be the better bargain. */
static gboolean
is_lifting_worth_it (Search *search, const GArray *given)
{
  double most = 0;

  for (guint i = 0; i < given->len; i++)
    most = MAX (most, g_array_index (given, MlNextReading, i).bits / g_array_index (given, MlNextReading, i).effort);
  return search->n && search->leader < ml_assumption ("word.probably")
         && (search->own->untold || !isfinite (search->own->readings_left)
             || ml_next_open_bits (search) / (ml_assumption ("next.effort-lift") + ml_assumption ("next.effort-cold")) > most);
}

static void
weigh_lifted (Search *search, GArray *given, GCancellable *cancellable)
{
  g_array_set_size (search->candidates, 0);
  ml_next_collect_lifted (search);
  for (guint i = 0; i < search->candidates->len && !g_cancellable_is_cancelled (cancellable); i++)
    {
      Candidate *candidate = &g_array_index (search->candidates, Candidate, i);

      if (ml_next_is_safe (search, candidate->place.condition, &candidate->place))
        weigh_candidate (search, candidate, given);
    }
}

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Candidate *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  return x->order < y->order ? -1 : x->order > y->order;
}

/* What the first n candidates read under each live item, several at a time: cheaper than one by one. A part's own metal is asked by itself. */
static void
predict_first (Search *search, guint n)
{
  MlCase *own = search->own;
  guint places[MOST_EXACT], n_places = 0;

  for (guint i = 0; i < n; i++)
    {
      const MlReadingPlace *place = &g_array_index (search->candidates, Candidate, i).place;

      if (!place->red.lead && !place->black.lead)
        places[n_places++] = ml_dictionary_place (own->dictionary, place);
    }
  for (guint i = 0; i < search->n; i++)
    ml_case_predict_several (own, ml_case_expansion (own, search->item[i]), NULL, places, n_places);
}

static void
weigh_all (Search *search, GArray *given, GCancellable *cancellable)
{
  guint n;

  MlCase *own = search->own;

  find_live (search);
  ml_next_collect (search);
  for (guint i = 0; i < search->candidates->len && !g_cancellable_is_cancelled (cancellable); i++)
    ml_next_screen (search, &g_array_index (search->candidates, Candidate, i));
  g_array_sort (search->candidates, best_first);
  n = MIN (search->candidates->len, MOST_EXACT);
  if (!g_cancellable_is_cancelled (cancellable))
    predict_first (search, n);
  for (guint i = 0; i < n && !g_cancellable_is_cancelled (cancellable); i++)
    weigh_candidate (search, &g_array_index (search->candidates, Candidate, i), given);
  own->untold = !search->tells_leaders && ml_next_count_leaders (search) > 1;
  own->readings_left = ml_next_readings_left (search);
  if (!is_lifting_worth_it (search, given))
    return;
  weigh_lifted (search, given, cancellable);
  own->readings_left = ml_next_readings_left (search);
}

/* Those beyond `kept` go. */
static void
clear_given (GArray *given, guint kept)
{
  for (guint i = kept; i < given->len; i++)
    {
      g_free (g_array_index (given, MlNextReading, i).expect);
      g_free (g_array_index (given, MlNextReading, i).step);
    }
}

MlNextReading *
ml_case_next (MlCase *own, guint *ret_n, GCancellable *cancellable, GError **error)
{
  Search search = { .own = own, .last_condition = -1, .meter = &own->job->meters[0] };
  GArray *given = g_array_new (FALSE, TRUE, sizeof (MlNextReading));

  search.candidates = g_array_new (FALSE, FALSE, sizeof (Candidate));
  search.prospects = g_array_new (FALSE, FALSE, sizeof (Prospect));
  if (own->taken->len)
    search.last_condition = own->job->readings[g_array_index (own->taken, MlTaken, own->taken->len - 1).reading].condition;
  weigh_all (&search, given, cancellable);
  g_array_unref (search.candidates);
  g_array_unref (search.prospects);
  for (guint i = 0; i < search.n; i++)
    if (search.state[i] == 1)
      ml_evidence_clear (&search.evidence[i]);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    {
      clear_given (given, 0);
      g_array_unref (given);
      return NULL;
    }
  g_array_sort (given, by_gain);
  clear_given (given, MOST_GIVEN);
  *ret_n = MIN (given->len, MOST_GIVEN);
  if (!given->len)
    g_array_set_size (given, 1); /* NULL would mean cancelled */
  return (MlNextReading *) (gpointer) g_array_free (given, FALSE);
}
