/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A second look at the faults, from where the best fits stand. The dictionary knows an unknown chip only as three rough guesses; a fault whose
 * circuit is strongly nonlinear can look hopeless from all of them and fit at once where the chip does what the other explanations, too,
 * found it to do. */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/observe.h"

#include <math.h>

typedef struct { guint item; double score; MlExpansion *at; } Again;

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Again *x = a, *y = b;

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
         && own->dictionary->items[item].share > 0 && own->dictionary->items[item].twin < 0;
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

static gboolean
look_again (MlCase *own, const double *bench, guint node, GArray *found, GCancellable *cancellable, GError **error)
{
  g_autofree double *extra = ml_case_blunted (own, ml_assumption ("reading.enlarged-volts"), ml_assumption ("reading.enlarged-share"));

  for (guint i = 0; i < own->dictionary->n_early; i++)
    {
      Again again = { .item = i };

      if (own->dictionary->items[i].node != node || !is_looked_at (own, i))
        continue;
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      again.at = ml_expansion_new (own->dictionary, (int) i, -1, bench);
      again.score = score_at (own, i, again.at, extra);
      g_array_append_val (found, again);
    }
  return TRUE;
}

gboolean
ml_case_refine_on_bench (MlCase *own, GCancellable *cancellable, GError **error)
{
  const guint node = own->dictionary->items[own->best_item].node;
  g_autofree gboolean *seen = g_new0 (gboolean, own->dictionary->hypotheses->len);
  guint left = (guint) ml_assumption ("refine.again");
  double **benches;
  GArray *found;
  gboolean done;

  if (!own->taken->len || own->dictionary->model->n_nodes < 2)
    return TRUE;
  benches = ml_case_benches (own);
  found = g_array_new (FALSE, FALSE, sizeof (Again));
  done = look_again (own, benches[node], node, found, cancellable, error);
  g_array_sort (found, best_first);
  for (guint i = 0; i < found->len; i++)
    {
      Again *again = &g_array_index (found, Again, i);
      guint h = own->dictionary->items[again->item].hypothesis;

      if (!done || !left || !isfinite (again->score) || seen[h])
        {
          ml_expansion_free (own->dictionary, again->at);
          continue;
        }
      seen[h] = TRUE;
      left--;
      ml_case_refine_from (own, again->item, again->at);
      done = !g_cancellable_set_error_if_cancelled (cancellable, error);
    }
  g_array_unref (found);
  ml_case_benches_free (own, benches);
  ml_case_update (own);
  return done;
}
