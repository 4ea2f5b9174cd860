/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A second look at the faults, from where the best fits stand. The dictionary knows an unknown chip only as three rough guesses; a fault whose
 * circuit is strongly nonlinear can look hopeless from all of them and fit at once where the chip does what the other explanations, too,
 * found it to do. So with values that nobody could read: a comparator behind a divider without values is on the wrong side at its centre. */
#include "verdict/remember.h"

#include "verdict/assumptions.h"

#include <math.h>

typedef struct { guint item; double score; } Candidate;

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Candidate *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  return x->item < y->item ? -1 : x->item > y->item;
}

/* What misbehaves has free currents of its own, and slips of the drawing are many: neither is looked at again. Of many sizes every second
 * one will do: a fit reaches beyond the next. */
static gboolean
is_looked_at (const MlCase *own, guint item)
{
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, item);

  return (hypothesis->n_cells < 4 || own->dictionary->items[item].cell % 2 == 1) && hypothesis->explains == ML_EXPLAINS_FAULT && hypothesis->fault.kind != ML_FAULT_MISBEHAVING
         && own->dictionary->items[item].share > 0 && !ml_case_same_as_twin (own, item);
}

static double
score_at (MlCase *own, guint item, MlExpansion *at, const double *extra)
{
  MlEvidence evidence;
  double ln;

  if (!ml_case_weigh (own, at, NULL, extra, &evidence))
    return -INFINITY;
  ln = evidence.ln + log (ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share);
  ml_evidence_clear (&evidence);
  return ln;
}

/* bench NULL: where all were looked at already, by the same score. Of the many that stand on a bench few are fitted: those are solved there again. */
static Candidate
candidate_of (MlCase *own, const MlRemembered *remembered, guint item, const double *bench, const double *extra)
{
  Candidate candidate = { item, remembered->blunt[item] };
  MlExpansion *at = bench ? ml_expansion_new (own->dictionary, (int) item, -1, bench) : own->dictionary->expansions[item];

  if (bench || isnan (candidate.score))
    candidate.score = score_at (own, item, at, extra);
  if (bench)
    ml_expansion_free (own->dictionary, at);
  return candidate;
}

static GArray *
list_candidates (MlCase *own, const MlRemembered *remembered, const double *bench, guint node, GCancellable *cancellable, GError **error)
{
  g_autofree double *extra = ml_case_blunted (own, ml_assumption ("reading.enlarged-volts"), ml_assumption ("reading.enlarged-share"));
  GArray *found = g_array_new (FALSE, FALSE, sizeof (Candidate));

  for (guint i = 0; i < own->dictionary->n_early; i++)
    if (own->dictionary->items[i].node == node && is_looked_at (own, i))
      {
        Candidate candidate;

        if (g_cancellable_set_error_if_cancelled (cancellable, error))
          break;
        candidate = candidate_of (own, remembered, i, bench, extra);
        g_array_append_val (found, candidate);
      }
  g_array_sort (found, best_first);
  return found;
}

/* The best item of each of the best hypotheses, relinearised from the bench, unless it has been from there. Of what leads another
 * size, too: a fit is blind in a size far from the right one, as at a leak so small that it is a short, and lets the reading go that would tell. */
static GArray *
fit_best (MlCase *own, const MlRemembered *remembered, const double *bench, const GArray *candidates, GCancellable *cancellable, GError **error)
{
  g_autofree guint *seen = g_new0 (guint, own->dictionary->hypotheses->len);
  const double near = candidates->len ? g_array_index (candidates, Candidate, 0).score - ml_assumption ("refine.again-near") : 0;
  guint left = (guint) ml_assumption ("refine.again");
  GArray *fitted = g_array_new (FALSE, FALSE, sizeof (MlAgain));
  gboolean going = !g_cancellable_is_cancelled (cancellable);

  for (guint i = 0; i < candidates->len && going && left; i++)
    {
      const Candidate *candidate = &g_array_index (candidates, Candidate, i);
      guint h = own->dictionary->items[candidate->item].hypothesis;
      MlAgain again = { .item = candidate->item };

      if (!isfinite (candidate->score) || seen[h] > (candidate->score > near))
        continue;
      left -= seen[h]++ == 0;
      if (!bench && remembered->fitted[candidate->item])
        continue;
      again.at = ml_case_fit (own, ml_expansion_new (own->dictionary, (int) candidate->item, -1, bench), &again.ln);
      again.least_off = own->least_off;
      g_array_append_val (fitted, again);
      going = !g_cancellable_set_error_if_cancelled (cancellable, error);
    }
  return fitted;
}

/* What the fits begin from, and what else they hang on: equal for equal results. */
static GBytes *
list_beginning (const MlCase *own, const double *bench, guint node)
{
  double numbers[] = { node, own->best_item, own->items[own->best_item].ln, own->least_off };
  GByteArray *bytes = g_byte_array_new ();

  g_byte_array_append (bytes, (const guint8 *) numbers, sizeof numbers);
  if (bench)
    g_byte_array_append (bytes, (const guint8 *) bench, own->dictionary->n_columns * sizeof *bench);
  return g_byte_array_free_to_bytes (bytes);
}

/* The better fits take the place of those before; lent: they stay with the remembered, else what is not better is freed. */
static void
keep_better (MlCase *own, const GArray *fitted, gboolean lent)
{
  for (guint i = 0; i < fitted->len; i++)
    {
      const MlAgain *again = &g_array_index (fitted, MlAgain, i);
      MlWeighed *weighed = &own->items[again->item];

      own->least_off = MIN (own->least_off, again->least_off);
      if (!(again->ln > weighed->ln))
        {
          if (!lent)
            ml_expansion_free (own->dictionary, again->at);
          continue;
        }
      if (!weighed->lent)
        ml_expansion_free (own->dictionary, weighed->refined);
      weighed->refined = again->at;
      weighed->lent = lent;
      weighed->ln = again->ln;
    }
}

/* FALSE: cancelled. */
static gboolean
look_again (MlCase *own, MlRemembered *remembered, const double *bench, guint node, GBytes *beginning, GCancellable *cancellable, GError **error)
{
  g_autoptr (GArray) candidates = list_candidates (own, remembered, bench, node, cancellable, error);
  GArray *fitted = fit_best (own, remembered, bench, candidates, cancellable, error);

  ml_remembered_set_again (own->dictionary, remembered, g_bytes_ref (beginning), fitted);
  if (!g_cancellable_is_cancelled (cancellable))
    return TRUE;
  ml_remembered_set_again (own->dictionary, remembered, NULL, NULL);
  return FALSE;
}

gboolean
ml_case_refine_on_bench (MlCase *own, GCancellable *cancellable, GError **error)
{
  MlRemembered *remembered = ml_case_remember (own);
  g_autoptr (GBytes) beginning = NULL;
  double **benches;
  guint node;
  gboolean done;

  if (!own->taken->len)
    return TRUE;
  own->bench_ln = own->items[own->best_item].ln;
  node = own->dictionary->items[own->best_item].node;
  benches = ml_case_benches (own);
  if (own->dictionary->model->n_nodes < 2 && !benches[node])
    {
      ml_case_benches_free (own, benches);
      return TRUE;
    }
  beginning = list_beginning (own, benches[node], node);
  done = (remembered->again_from && g_bytes_equal (remembered->again_from, beginning))
         || look_again (own, remembered, benches[node], node, beginning, cancellable, error);
  ml_case_benches_free (own, benches);
  if (!done)
    return FALSE;
  keep_better (own, remembered->again, TRUE);
  ml_case_follow_twins (own);
  ml_case_update (own);
  return TRUE;
}

/* FALSE: cancelled. */
static gboolean
look_on_new_bench (MlCase *own, GCancellable *cancellable, GError **error)
{
  guint node = own->dictionary->items[own->best_item].node;
  double **benches = ml_case_benches (own);
  gboolean any = benches[node] != NULL;

  if (any)
    {
      g_autoptr (GArray) candidates = list_candidates (own, ml_case_remember (own), benches[node], node, cancellable, error);
      g_autoptr (GArray) fitted = fit_best (own, ml_case_remember (own), benches[node], candidates, cancellable, error);

      keep_better (own, fitted, FALSE);
      ml_case_follow_twins (own);
      ml_case_update (own);
    }
  ml_case_benches_free (own, benches);
  return !any || (!g_cancellable_is_cancelled (cancellable) && ml_case_exchange_fits (own, cancellable, error));
}

gboolean
ml_case_refine_on_new_bench (MlCase *own, GCancellable *cancellable, GError **error)
{
  gboolean going = TRUE;

  for (guint left = (guint) ml_assumption ("refine.new-benches");
       going && left && own->taken->len && own->items[own->best_item].ln > own->bench_ln + ml_assumption ("refine.new-bench"); left--)
    {
      own->bench_ln = own->items[own->best_item].ln;
      going = look_on_new_bench (own, cancellable, error);
    }
  return going;
}
