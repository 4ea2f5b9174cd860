/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fit finds the nearest hill of several. Where values are unread or a chip unknown there often are more: a zener without a figure conducts, or what
 * hangs on it takes all the current. What two explanations have in common they must not be told apart by: where one was found is where
 * the others begin once more, and each keeps the better of its fits. The sound board always takes part, since all are measured against it. */
#include "verdict/case.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

#define LEAST_GAIN 0.5 /* nats: less is not worth a fit */

/* A hill: an item whose fit stands there. */
typedef struct { guint item; MlExpansion *at; } Hill;

/* Two fits stand on one hill when neither unread values, chips nor anything else is further apart than fits move by themselves. */
static gboolean
is_same_hill (const MlCase *own, const MlExpansion *a, const MlExpansion *b, guint node_a, guint node_b)
{
  const double least = ml_assumption ("refine.unread-moved");

  if (node_a != node_b)
    return FALSE;
  for (guint i = 0; i < own->dictionary->model->n_unknowns; i++)
    if (fabs ((a->z ? a->z[i] : 0) - (b->z ? b->z[i] : 0)) >= least)
      return FALSE;
  return TRUE;
}

/* The likeliest item of a hypothesis. */
static guint
best_of (const MlCase *own, guint hypothesis)
{
  guint best = own->dictionary->n_items;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (own->dictionary->items[i].hypothesis == hypothesis && (best == own->dictionary->n_items || own->probability[i] > own->probability[best]))
      best = i;
  return best;
}

/* Hypotheses likelier than `least`, likeliest first, at most so many; the sound board before all, however unlikely. */
static GArray *
find_likely (const MlCase *own, double least, guint most)
{
  GArray *likely = g_array_new (FALSE, FALSE, sizeof (MlScored));

  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (h == 0 || own->hypothesis_probability[h] >= least)
      {
        MlScored likeliest = { h, h == 0 ? 1 : own->hypothesis_probability[h] };
        g_array_append_val (likely, likeliest);
      }
  g_array_sort (likely, ml_scored_best_first);
  g_array_set_size (likely, MIN (likely->len, most));
  return likely;
}

static gboolean
is_known (const MlCase *own, const GArray *hills, const Hill *hill)
{
  for (guint k = 0; k < hills->len; k++)
    {
      const Hill *other = &g_array_index (hills, Hill, k);

      if (is_same_hill (own, hill->at, other->at, own->dictionary->items[hill->item].node, own->dictionary->items[other->item].node))
        return TRUE;
    }
  return FALSE;
}

/* The leaders' hills, each once. */
static GArray *
find_hills (const MlCase *own, const GArray *leaders)
{
  GArray *hills = g_array_new (FALSE, FALSE, sizeof (Hill));

  for (guint i = 0; i < leaders->len; i++)
    {
      guint item = best_of (own, g_array_index (leaders, MlScored, i).index);
      Hill hill = { item, ml_case_expansion (own, item) };

      if (hill.at->z && !is_known (own, hills, &hill))
        g_array_append_val (hills, hill);
    }
  return hills;
}

/* The item of the same hypothesis and size at another node. */
static guint
at_node (const MlCase *own, guint item, guint node)
{
  const MlItem *items = own->dictionary->items;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (items[i].hypothesis == items[item].hypothesis && items[i].cell == items[item].cell && items[i].node == node)
      return i;
  return item;
}

double *
ml_case_z_from (const MlCase *own, const MlExpansion *at, const MlExpansion *sizes)
{
  const guint n = own->dictionary->n_columns, first = own->dictionary->model->n_z, end = n - own->dictionary->model->n_deviations;
  double *z = g_memdup2 (at->z, n * sizeof *z);

  for (guint i = first; i < end; i++)
    z[i] = sizes->z ? sizes->z[i] : 0;
  return z;
}

/* least_gain: begun from there only where the readings are already so much likelier as they stand; -INFINITY: in any case. */
static void
try_hill (MlCase *own, guint item, const Hill *hill, double least_gain)
{
  guint node = own->dictionary->items[hill->item].node, to = at_node (own, item, node);
  MlWeighed *weighed = &own->items[to];
  g_autofree double *z = NULL;
  MlExpansion *start;

  if (own->dictionary->items[to].node != node || ml_case_same_as_twin (own, to)
      || is_same_hill (own, ml_case_expansion (own, to), hill->at, node, node))
    return;
  z = ml_case_z_from (own, hill->at, ml_case_expansion (own, item));
  start = ml_expansion_new (own->dictionary, (int) to, -1, z);
  if (isfinite (least_gain) && !(ml_case_ln_at (own, start, NULL) > weighed->ln + least_gain))
    ml_expansion_free (own->dictionary, start);
  else
    ml_case_keep_better_fit (own, to, start);
}

/* One state of affairs at the other nodes: what unknown chips do was found at one of them, the same is possible at each, only more or less far
 * from its middle there. */
static void
try_nodes (MlCase *own, guint hypothesis)
{
  const MlModel *model = own->dictionary->model;
  guint best = best_of (own, hypothesis), from = own->dictionary->items[best].node;

  for (guint node = 0; node < model->n_nodes; node++)
    {
      guint to = at_node (own, best, node);
      const MlExpansion *found = ml_case_expansion (own, best); /* fits of it may have become better ones */
      g_autofree double *z = NULL;

      if (node / model->n_levels != from / model->n_levels || to == best || ml_case_same_as_twin (own, to) || !found->z)
        continue;
      z = g_memdup2 (found->z, own->dictionary->n_columns * sizeof *z);
      for (guint i = 0; i < model->n_unknowns; i++)
        z[i] += ml_model_node_shift (model, i, from, node);
      ml_case_keep_better_fit (own, to, ml_expansion_new (own->dictionary, (int) to, -1, z));
    }
}

/* Where a fault of a part leads whose value is unread, there also with that value in its place; it may fit as it is, without having been moved. */
static void
add_as_values (const MlCase *own, const GArray *leaders, GArray *hills)
{
  const guint n = own->dictionary->n_columns;

  for (guint i = 0; i < leaders->len; i++)
    {
      guint item = best_of (own, g_array_index (leaders, MlScored, i).index);
      const MlExpansion *at = ml_case_expansion (own, item);
      g_autofree double *z = at->z ? g_memdup2 (at->z, n * sizeof *z) : g_new0 (double, n);
      Hill hill = { item, NULL };

      if (!ml_case_fault_as_value (own, item, z))
        continue;
      hill.at = ml_expansion_new (own->dictionary, (int) item, -1, z);
      if (is_known (own, hills, &hill))
        ml_expansion_free (own->dictionary, hill.at);
      else
        g_array_append_val (hills, hill);
    }
}

/* The other sizes of a fault from a hill: a fit is blind in a size far from the right one, and may have let the reading go that would tell. */
static void
try_sizes (MlCase *own, guint hypothesis, const Hill *hill)
{
  const MlItem *items = own->dictionary->items;
  guint best = best_of (own, hypothesis), node = items[hill->item].node;
  const double least = own->items[best].ln - ml_assumption ("refine.again-near");
  const MlExpansion middle = { 0 }; /* of a size */

  for (guint i = 0; i < own->dictionary->n_items; i++)
    if (items[i].hypothesis == hypothesis && items[i].cell != items[best].cell && items[i].node == node && !ml_case_same_as_twin (own, i))
      {
        g_autofree double *z = ml_case_z_from (own, hill->at, &middle);
        MlExpansion *start = ml_expansion_new (own->dictionary, (int) i, -1, z);

        if (ml_case_ln_at (own, start, NULL) > least)
          ml_case_keep_better_fit (own, i, start);
        else
          ml_expansion_free (own->dictionary, start);
      }
}

/* The leaders' other sizes from where the first one stands. */
static void
exchange_sizes (MlCase *own, const GArray *leaders, GCancellable *cancellable)
{
  Hill hill = { own->best_item, ml_case_expansion (own, own->best_item) };

  if (!hill.at->z)
    return;
  hill.at = ml_expansion_new (own->dictionary, (int) hill.item, -1, hill.at->z);
  for (guint i = 0; i < leaders->len && !g_cancellable_is_cancelled (cancellable); i++)
    {
      guint h = g_array_index (leaders, MlScored, i).index;

      if (g_array_index (own->dictionary->hypotheses, MlHypothesis, h).n_cells > 1)
        try_sizes (own, h, &hill);
    }
  ml_expansion_free (own->dictionary, hill.at);
  ml_case_update (own);
}

/* The leaders from each other's hills. */
static void
exchange (MlCase *own, const GArray *leaders, GCancellable *cancellable)
{
  g_autoptr (GArray) hills = NULL;

  for (guint i = 0; i < leaders->len && !g_cancellable_is_cancelled (cancellable); i++)
    try_nodes (own, g_array_index (leaders, MlScored, i).index);
  hills = find_hills (own, leaders);
  for (guint i = 0; i < hills->len; i++)
    { /* its own item may be given a better fit while the others begin from it */
      Hill *hill = &g_array_index (hills, Hill, i);
      hill->at = ml_expansion_new (own->dictionary, (int) hill->item, -1, hill->at->z);
    }
  add_as_values (own, leaders, hills);
  for (guint i = 0; i < leaders->len && !g_cancellable_is_cancelled (cancellable); i++)
    for (guint k = 0; k < hills->len; k++)
      try_hill (own, best_of (own, g_array_index (leaders, MlScored, i).index), &g_array_index (hills, Hill, k), -INFINITY);
  for (guint i = 0; i < hills->len; i++)
    ml_expansion_free (own->dictionary, g_array_index (hills, Hill, i).at);
  ml_case_update (own);
  exchange_sizes (own, leaders, cancellable);
  try_nodes (own, 0); /* it may have found another hill at one of them */
}

/* The others from the first one's. */
static void
follow (MlCase *own, const GArray *others, GCancellable *cancellable)
{
  Hill hill = { own->best_item, ml_case_expansion (own, own->best_item) };

  if (!hill.at->z)
    return;
  hill.at = ml_expansion_new (own->dictionary, (int) hill.item, -1, hill.at->z);
  for (guint i = 0; i < others->len && !g_cancellable_is_cancelled (cancellable); i++)
    try_hill (own, best_of (own, g_array_index (others, MlScored, i).index), &hill, LEAST_GAIN);
  ml_expansion_free (own->dictionary, hill.at);
}

gboolean
ml_case_exchange_fits (MlCase *own, GCancellable *cancellable, GError **error)
{
  g_autoptr (GArray) leaders = find_likely (own, ml_assumption ("refine.exchange"), (guint) ml_assumption ("refine.exchanged"));
  g_autoptr (GArray) others = find_likely (own, ml_assumption ("refine.follow"), (guint) ml_assumption ("refine.following"));

  if (!own->taken->len)
    return TRUE;
  exchange (own, leaders, cancellable);
  ml_case_update (own);
  follow (own, others, cancellable);
  if (g_cancellable_set_error_if_cancelled (cancellable, error))
    return FALSE;
  ml_case_follow_twins (own);
  ml_case_update (own);
  return TRUE;
}
