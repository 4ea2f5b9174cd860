/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which items are relinearised: what is likely, and the leaders by either of two scores. */
#include "verdict/judge-private.h"
#include "verdict/remember.h"

#include "verdict/alike.h"
#include "verdict/assumptions.h"
#include "verdict/side-by-side.h"

#include <math.h>

#define N_CHUNK 128 /* items between two looks at whether to go on */
#define N_SLICES 8

/* From its centre. fitted: items that were so before. */
static void
fit_centre (MlCase *own, MlRemembered *remembered, guint item, const GArray *fitted)
{
  MlExpansion *at;
  double ln;

  if (ml_case_fit_alike (own, remembered, fitted, item, &remembered->at[item], &remembered->fitted_ln[item]))
    return;
  at = ml_case_fit_from (own, own->dictionary->expansions[item], &ln);
  if (!at)
    ln = ml_case_settled_ln (own, own->dictionary->expansions[item]);
  if (ln > remembered->fitted_ln[item] || !isfinite (remembered->fitted_ln[item]))
    {
      ml_expansion_free (own->dictionary, remembered->at[item]);
      remembered->at[item] = at;
      remembered->fitted_ln[item] = ln;
    }
  else
    ml_expansion_free (own->dictionary, at);
}

/* From its centre; an earlier stage may have done it. */
static void
refine_once (MlCase *own, MlRemembered *remembered, guint item, GArray *fitted)
{
  MlWeighed *weighed = &own->items[item];

  if (weighed->refined)
    {
      ml_case_refine_item (own, item);
      return;
    }
  if (!remembered->fitted[item])
    {
      fit_centre (own, remembered, item, fitted);
      remembered->least_off[item] = own->least_off;
    }
  g_array_append_val (fitted, item);
  remembered->fitted[item] = TRUE;
  own->least_off = MIN (own->least_off, remembered->least_off[item]);
  if (!remembered->at[item])
    {
      weighed->ln = MIN (weighed->ln, remembered->fitted_ln[item]);
      return;
    }
  weighed->refined = remembered->at[item];
  weighed->lent = TRUE;
  weighed->ln = remembered->fitted_ln[item];
}

gint
ml_scored_best_first (gconstpointer a, gconstpointer b)
{
  const MlScored *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  return x->index < y->index ? -1 : x->index > y->index;
}

static double
prior_of (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share;
}

/* Not yet relinearised, nor judged as another one. */
static gboolean
is_judged_at_centre (const MlCase *own, guint item)
{
  return ml_case_expansion (own, item) == own->dictionary->expansions[item] && !ml_case_same_as_twin (own, item);
}

/* The score with every reading blunted: a right hypothesis with a strongly nonlinear unknown can look hopeless linearly. */
static double
blunt_score (MlCase *own, guint item, const double *extra)
{
  MlEvidence evidence;
  double ln;

  if (!ml_case_weigh (own, own->dictionary->expansions[item], NULL, extra, &evidence))
    return -INFINITY;
  ln = evidence.ln;
  ml_evidence_clear (&evidence);
  return ln + log (prior_of (own, item));
}

typedef struct
{
  MlCase *own;
  MlRemembered *remembered;
  const double *extra;
  const guint *items;
  guint n;
} Blunt;

static void
score_slice_cb (guint slice, gpointer data)
{
  const Blunt *blunt = data;

  for (guint i = slice; i < blunt->n; i += N_SLICES)
    blunt->remembered->blunt[blunt->items[i]] = blunt_score (blunt->own, blunt->items[i], blunt->extra);
}

/* Of all items that are to be judged and have none yet. FALSE: cancelled. */
static gboolean
find_blunt_scores (MlCase *own, MlRemembered *remembered, GCancellable *cancellable, GError **error)
{
  g_autofree double *extra = ml_case_blunted (own, ml_assumption ("reading.enlarged-volts"), ml_assumption ("reading.enlarged-share"));
  g_autofree guint *items = g_new (guint, MAX (own->dictionary->n_early, 1)), *places = g_new (guint, MAX (own->taken->len, 1));
  guint n = 0;

  for (guint i = 0; i < own->taken->len; i++)
    places[i] = g_array_index (own->taken, MlTaken, i).place;
  for (guint i = 0; i < own->dictionary->n_early; i++)
    if (is_judged_at_centre (own, i) && isnan (remembered->blunt[i]))
      items[n++] = i;
  for (guint i = 0; i < n; i += N_CHUNK)
    {
      Blunt blunt = { own, remembered, extra, items + i, MIN (n - i, N_CHUNK) };

      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      ml_dictionary_predict_items (own->dictionary, blunt.items, blunt.n, places, own->taken->len);
      ml_side_by_side (N_SLICES, score_slice_cb, &blunt);
    }
  return TRUE;
}

double *
ml_case_blunted (const MlCase *own, double volts, double share)
{
  double *extra = g_new0 (double, MAX (own->taken->len, 1));

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;

      if (reads == ML_READS_OHMS)
        extra[i] = pow (2 * share, 2);
      else
        extra[i] = pow (reads == ML_READS_AMPS ? volts / 50 : volts, 2) + pow (share * taken->observed, 2);
    }
  return extra;
}

/* The best item, at each node of the blocks, of each of the best hypotheses by this score. */
static void
choose (MlCase *own, MlScored *scored, guint n, gboolean slips, guint left, gboolean *chosen)
{
  const guint n_nodes = own->dictionary->model->n_nodes;
  g_autofree gboolean *seen = g_new0 (gboolean, own->dictionary->hypotheses->len);             /* at any node */
  g_autofree gboolean *seen_at = g_new0 (gboolean, own->dictionary->hypotheses->len * n_nodes); /* at this one */

  qsort (scored, n, sizeof *scored, ml_scored_best_first);
  for (guint i = 0; i < n && isfinite (scored[i].score); i++)
    {
      guint h = own->dictionary->items[scored[i].index].hypothesis, at = h * n_nodes + own->dictionary->items[scored[i].index].node;
      gboolean slip = g_array_index (own->dictionary->hypotheses, MlHypothesis, h).explains == ML_EXPLAINS_DRAWING;

      if (seen_at[at] || slip != slips || (!seen[h] && left == 0))
        continue;
      left -= !seen[h];
      seen[h] = seen_at[at] = TRUE;
      chosen[scored[i].index] = TRUE;
    }
}

/* The other end's joint of a two-pin part. */
void
ml_case_follow_twins (MlCase *own)
{
  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (ml_case_same_as_twin (own, i) && !own->items[i].refined)
      own->items[i].ln = own->items[own->dictionary->items[i].twin].ln;
}

/* What has been done in the rounds so far. */
typedef struct
{
  MlRemembered *remembered;
  gboolean *looked; /* n_items */
  GArray *fitted;   /* guint: items, in order */
} Rounds;

static void
rounds_init (Rounds *rounds, MlCase *own)
{
  *rounds = (Rounds){ ml_case_remember (own), g_new0 (gboolean, own->dictionary->n_items), g_array_new (FALSE, FALSE, sizeof (guint)) };
}

static void
rounds_clear (Rounds *rounds)
{
  g_free (rounds->looked);
  g_array_unref (rounds->fitted);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC (Rounds, rounds_clear)

/* What the straight line of an item may gain by a fit: mostly what that of the sound board did at the same node. */
static double
promise_of (const MlCase *own, const Rounds *rounds, guint item)
{
  const MlRemembered *remembered = rounds->remembered;
  const guint sound = own->dictionary->items[item].node;

  return remembered->ln[item] + (rounds->looked[sound] ? remembered->fitted_ln[sound] - remembered->ln[sound] : 0);
}

/* Whether the same state of affairs is so much likelier, by both scores, with unknown chips doing something else. */
static gboolean
is_hopeless_at_node (const MlCase *own, const Rounds *rounds, guint item)
{
  const double *blunts = rounds->remembered->blunt;
  const MlItem *items = own->dictionary->items;
  const double most = ml_assumption ("refine.node-behind");
  guint first = item;
  double best = -INFINITY, blunt = -INFINITY;

  while (first > 0 && items[first - 1].hypothesis == items[item].hypothesis)
    first--;
  for (guint i = first; i < own->dictionary->n_early && items[i].hypothesis == items[item].hypothesis; i++)
    {
      best = MAX (best, promise_of (own, rounds, i));
      blunt = MAX (blunt, blunts[i]);
    }
  return items[item].hypothesis && promise_of (own, rounds, item) < best - most && blunts[item] < blunt - most;
}

/* Relinearises what is likely, and the leaders by either score, of what has not been looked at. FALSE: cancelled. */
static gboolean
refine_leaders (MlCase *own, Rounds *rounds, guint faults, guint slips, GCancellable *cancellable, GError **error)
{
  MlRemembered *remembered = rounds->remembered;
  guint n = 0, left = (guint) ml_assumption ("refine.most");
  g_autofree MlScored *plain = g_new (MlScored, own->dictionary->n_items);
  g_autofree MlScored *blunt = g_new (MlScored, own->dictionary->n_items);
  g_autofree gboolean *chosen = g_new0 (gboolean, own->dictionary->n_items);

  for (guint i = 0; i < own->dictionary->n_early; i++)
    {
      if (!is_judged_at_centre (own, i) || rounds->looked[i])
        continue;
      plain[n] = (MlScored){ i, own->items[i].ln + log (prior_of (own, i)) };
      blunt[n++] = (MlScored){ i, remembered->blunt[i] };
      /* The healthy board at every node: it is what all others are measured against. */
      chosen[i] = own->probability[i] >= ml_assumption ("refine.probability")
                  || ml_dictionary_hypothesis (own->dictionary, i)->explains == ML_EXPLAINS_HEALTHY;
    }
  /* Faults and slips apart: there are many more slips, and what is not refined cannot be compared with what is. */
  choose (own, plain, n, FALSE, faults, chosen);
  choose (own, blunt, n, FALSE, faults, chosen);
  choose (own, plain, n, TRUE, slips, chosen);
  choose (own, blunt, n, TRUE, slips, chosen);
  for (guint i = 0; i < n; i++) /* plain is in order of score now */
    if (chosen[plain[i].index] && (left || plain[i].index < own->dictionary->model->n_nodes) && !is_hopeless_at_node (own, rounds, plain[i].index))
      {
        if (g_cancellable_set_error_if_cancelled (cancellable, error))
          return FALSE;
        refine_once (own, remembered, plain[i].index, rounds->fitted);
        rounds->looked[plain[i].index] = TRUE;
        left -= left > 0;
      }
  ml_case_follow_twins (own);
  ml_case_update (own);
  return TRUE;
}

/* What is likely by a straight line alone, where what was looked at did not keep what its own had promised. */
static gboolean
leads_unlooked (const MlCase *own, const gboolean *looked)
{
  double sum = 0;

  for (guint i = 0; i < own->dictionary->n_early; i++)
    if (is_judged_at_centre (own, i) && !looked[i])
      sum += own->probability[i];
  return sum > ml_assumption ("refine.unlooked");
}

gboolean
ml_case_refine (MlCase *own, GCancellable *cancellable, GError **error)
{
  g_auto (Rounds) rounds;
  guint most = (guint) ml_assumption ("refine.rounds");
  gboolean done;

  rounds_init (&rounds, own);
  done = !own->taken->len || find_blunt_scores (own, rounds.remembered, cancellable, error);
  for (guint round = 0; done && own->taken->len && round < most && (round == 0 || leads_unlooked (own, rounds.looked)); round++)
    done = refine_leaders (own, &rounds, (guint) ml_assumption ("refine.leaders"), (guint) ml_assumption ("refine.slip-leaders"), cancellable, error);
  return done;
}

gboolean
ml_case_refine_more (MlCase *own, GCancellable *cancellable, GError **error)
{
  g_auto (Rounds) rounds;

  rounds_init (&rounds, own);
  return !own->taken->len || ml_case_fit_tail (own, ml_case_expansion (own, own->best_item), NULL, own->taken->len) >= ml_assumption ("gate.probability")
         || refine_leaders (own, &rounds, (guint) ml_assumption ("refine.more"), 0, cancellable, error);
}
