/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/dictionary.h"

#include "verdict/assumptions.h"
#include "verdict/expansion-private.h"
#include "verdict/glance.h"
#include "verdict/remember.h"
#include "verdict/side-by-side.h"

#include <math.h>
#include <string.h>

#define N_TOGETHER 64
#define MOST_WHOLE_BYTES (512u << 20)

/* ---- items ---- */

static guint
n_extra_columns (const MlModel *model)
{
  guint most = 0;

  for (guint i = 0; i < model->board->n_parts; i++)
    if (model->block_current[i])
      most = MAX (most, model->board->parts[i].n_pins);
  return most;
}

/* What the solutions of all items that are always solved would hold. */
static gsize
whole_bytes (const MlDictionary *dictionary)
{
  gsize sum = 0;

  for (guint c = 0; c < dictionary->model->board->n_conditions; c++)
    if (dictionary->model->conditions[c].solver)
      sum += dictionary->n_early * ml_nodal_solution_bytes (dictionary->model->conditions[c].circuit);
  return sum;
}

guint
ml_dictionary_test_column (const MlDictionary *dictionary)
{
  return dictionary->n_columns - dictionary->model->n_deviations - 1;
}

MlDictionary *
ml_dictionary_new (MlModel *model)
{
  MlDictionary *dictionary = g_new0 (MlDictionary, 1);
  g_autofree guint *first = NULL;
  guint n = 0;

  dictionary->model = model;
  dictionary->hypotheses = ml_modes_list (model);
  dictionary->places = g_array_new (FALSE, FALSE, sizeof (MlReadingPlace));
  dictionary->built = g_new0 (MlBuilt, MAX (model->board->n_conditions, 1));
  for (guint c = 0; c < model->board->n_conditions; c++)
    dictionary->built[c].changes = ml_changes_new ();
  dictionary->foreseen = g_array_new (FALSE, FALSE, sizeof (guint));
  dictionary->centred = g_new0 (MlChanges *, model->board->n_conditions * model->n_nodes + 1);
  dictionary->centred_values = g_new0 (double *, model->board->n_conditions * model->n_nodes + 1);
  dictionary->n_columns = model->n_z + 2 + n_extra_columns (model) + 1 + model->n_deviations;
  dictionary->misfit_prior = ml_assumption ("prior.misfit");
  for (guint h = 0; h < dictionary->hypotheses->len; h++)
    if (g_array_index (dictionary->hypotheses, MlHypothesis, h).late)
      dictionary->misfit_prior -= g_array_index (dictionary->hypotheses, MlHypothesis, h).prior;
  first = g_new (guint, dictionary->hypotheses->len);
  for (guint h = 0; h < dictionary->hypotheses->len; h++)
    n += g_array_index (dictionary->hypotheses, MlHypothesis, h).n_cells * model->n_nodes;
  dictionary->items = g_new (MlItem, n);
  dictionary->expansions = g_new (MlExpansion *, n);
  dictionary->more = g_new0 (double *, MAX (n, 1));
  /* The items of a hypothesis stand together, cell by cell; healthy is first, so that item `node` is the healthy one of that node. */
  for (guint h = 0; h < dictionary->hypotheses->len; h++)
    {
      const MlHypothesis *own = &g_array_index (dictionary->hypotheses, MlHypothesis, h);

      first[h] = dictionary->n_items;
      if (!own->late)
        dictionary->n_early = dictionary->n_items + own->n_cells * model->n_nodes;
      for (guint c = 0; c < own->n_cells; c++)
        for (guint k = 0; k < model->n_nodes; k++)
          {
            guint i = dictionary->n_items++;
            int twin = own->twin >= 0 ? (int) (first[own->twin] + c * model->n_nodes + k) : -1;
            double node_share = ml_model_state_share (model, own->explains, own->fault.kind, k / model->n_levels) / model->n_levels;
            dictionary->items[i] = (MlItem){ h, c, k, own->cells[c].share * node_share, twin, i };
            dictionary->expansions[i] = ml_expansion_new (dictionary, i, -1, NULL);
          }
    }
  ml_dictionary_find_same (dictionary);
  dictionary->packs = whole_bytes (dictionary) > MOST_WHOLE_BYTES;
  dictionary->rooms = g_new0 (MlNodalRoom *, MAX (model->board->n_conditions, 1));
  return dictionary;
}

void
ml_dictionary_free (MlDictionary *dictionary)
{
  if (!dictionary)
    return;
  ml_judged_free (dictionary, dictionary->judged);
  ml_remembered_release (dictionary, dictionary->remembered);
  for (guint i = 0; i < dictionary->n_items; i++)
    ml_expansion_free (dictionary, dictionary->expansions[i]);
  for (guint i = 0; i < dictionary->n_items; i++)
    g_free (dictionary->more[i]);
  g_free (dictionary->more);
  g_free (dictionary->expansions);
  g_free (dictionary->items);
  g_array_unref (dictionary->hypotheses);
  g_array_unref (dictionary->places);
  g_array_unref (dictionary->foreseen);
  for (guint c = 0; c < dictionary->model->board->n_conditions; c++)
    ml_changes_free (dictionary->built[c].changes);
  g_free (dictionary->built);
  ml_nodal_solution_clear (&dictionary->looked_at);
  for (guint i = 0; i < dictionary->model->board->n_conditions * dictionary->model->n_nodes; i++)
    {
      g_clear_pointer (&dictionary->centred[i], ml_changes_free);
      g_free (dictionary->centred_values[i]);
    }
  g_free (dictionary->centred);
  g_free (dictionary->centred_values);
  for (guint c = 0; c < dictionary->model->board->n_conditions; c++)
    ml_nodal_room_free (dictionary->rooms[c]);
  g_free (dictionary->rooms);
  ml_model_free (dictionary->model);
  g_free (dictionary);
}

const MlHypothesis *
ml_dictionary_hypothesis (const MlDictionary *dictionary, guint item)
{
  return &g_array_index (dictionary->hypotheses, MlHypothesis, dictionary->items[item].hypothesis);
}

/* The item whose circuit is the same in that condition, the solder at joints apart: the twin's; the first of those alike; that of the state in which all conditions do as this
 * one; and a chip that does not switch is a sound one in the state in which nothing does. */
static guint
solved_as (const MlDictionary *dictionary, guint item, int condition)
{
  const MlModel *model = dictionary->model;
  guint state = dictionary->items[item].node / model->n_levels, level = ml_model_level (model, dictionary->items[item].node);

  if (dictionary->items[item].twin >= 0)
    item = (guint) dictionary->items[item].twin;
  item = dictionary->items[item].same;
  if (model->n_states < 2)
    return item;
  if (ml_dictionary_hypothesis (dictionary, item)->fault.kind == ML_FAULT_STOPPED)
    return model->n_levels + level;
  if (ml_model_runs (model, dictionary->items[item].node, condition) || !ml_model_runs (model, 0, condition))
    return item - state * model->n_levels;
  return item - (state - 1) * model->n_levels;
}

void
ml_dictionary_neighbours (const MlDictionary *dictionary, guint item, int condition, MlExpansion *ret_neighbours[ML_NODAL_MOST_ALSO])
{
  const MlItem *own = &dictionary->items[item];
  const guint n_nodes = dictionary->model->n_nodes, middle = item - own->node + ml_model_middle (dictionary->model, own->node);
  guint n = 0;

  ret_neighbours[0] = ret_neighbours[1] = NULL;
  if (middle != item && solved_as (dictionary, middle, condition) == middle)
    ret_neighbours[n++] = dictionary->expansions[middle];
  if (own->cell > 0 && solved_as (dictionary, item - n_nodes, condition) == item - n_nodes)
    ret_neighbours[n] = dictionary->expansions[item - n_nodes];
}

/* ---- places ---- */

/* A pin that is not on its drawn net takes a probe along: which pin was named matters. */
static gboolean
same_probe (const MlProbe *a, const MlProbe *b)
{
  return ml_probe_equal (a, b) && a->part == b->part && a->pin == b->pin;
}

static gboolean
same_place (const MlReadingPlace *a, const MlReadingPlace *b)
{
  return a->condition == b->condition && a->reads == b->reads && a->supply == b->supply && a->input_ohm == b->input_ohm
         && a->test_a == b->test_a && a->compliance_v == b->compliance_v && same_probe (&a->red, &b->red)
         && same_probe (&a->black, &b->black);
}

static void
forget_pin (MlProbe *probe)
{
  if (!probe->lead && probe->net >= 0)
    probe->part = probe->pin = -1;
}

guint
ml_dictionary_place (MlDictionary *dictionary, const MlReadingPlace *place)
{
  MlReadingPlace own = *place, plain = *place;

  for (guint i = 0; i < dictionary->places->len; i++)
    if (same_place (&g_array_index (dictionary->places, MlReadingPlace, i), place))
      return i;
  forget_pin (&plain.red);
  forget_pin (&plain.black);
  own.plain = same_place (&plain, place) ? dictionary->places->len : ml_dictionary_place (dictionary, &plain);
  g_array_append_val (dictionary->places, own);
  return dictionary->places->len - 1;
}

static gboolean
touches_lead (const MlReadingPlace *place, int part)
{
  return (place->red.lead && place->red.part == part) || (place->black.lead && place->black.part == part);
}

/* Whether a place is that of nets alone, no pin's own metal, also with what an item's fault does to pins. */
static gboolean
reads_nets (const MlDictionary *dictionary, guint item, guint place)
{
  guint plain = g_array_index (dictionary->places, MlReadingPlace, place).plain;
  const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, plain);

  return !own->red.lead && !own->black.lead && ml_dictionary_read_at (dictionary, item, place) == plain;
}

/* Whose predictions serve for an item at that place: a twin reads the same from the solder, what is the same circuit at nets. */
MlExpansion *
ml_dictionary_reads_as (const MlDictionary *dictionary, guint item, guint place)
{
  const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, place);
  int twin = dictionary->items[item].twin;
  guint same;

  if (twin >= 0 && touches_lead (own, ml_dictionary_hypothesis (dictionary, item)->fault.part))
    return dictionary->expansions[item];
  item = twin >= 0 ? (guint) twin : item;
  same = dictionary->items[item].same;
  if (same != item && !(reads_nets (dictionary, item, place) && reads_nets (dictionary, same, place)))
    return dictionary->expansions[item];
  return dictionary->expansions[solved_as (dictionary, item, own->condition)];
}

const MlPrediction *
ml_dictionary_predict (MlDictionary *dictionary, guint item, guint place)
{
  return ml_expansion_predict (dictionary, ml_dictionary_reads_as (dictionary, item, place), place, NULL);
}

void
ml_dictionary_predict_all (MlDictionary *dictionary, guint item, const guint *places, guint n)
{
  for (guint i = 0, k; i < n; i = k)
    {
      MlExpansion *expansion = ml_dictionary_reads_as (dictionary, item, places[i]);

      for (k = i + 1; k < n && ml_dictionary_reads_as (dictionary, item, places[k]) == expansion; k++)
        ;
      ml_expansion_predict_all (dictionary, expansion, places + i, k - i, NULL);
    }
}

/* ---- many items ---- */

typedef struct
{
  MlDictionary *dictionary;
  const guint *items, *places;
  guint n_items, n_places;
} Many;

static void
predict_items_in_cb (guint condition, gpointer data)
{
  const Many *many = data;
  g_autofree guint *places = g_new (guint, MAX (many->n_places, 1));
  guint n = 0;

  for (guint i = 0; i < many->n_places; i++)
    if (g_array_index (many->dictionary->places, MlReadingPlace, many->places[i]).condition == (int) condition)
      places[n++] = many->places[i];
  for (guint i = 0; i < many->n_items && n; i++)
    ml_dictionary_predict_all (many->dictionary, many->items[i], places, n);
}

void
ml_dictionary_predict_items (MlDictionary *dictionary, const guint *items, guint n_items, const guint *places, guint n)
{
  Many many = { dictionary, items, places, n_items, n };

  for (guint i = 0; i < n_items; i++)
    for (guint k = 0; k < n; k++)
      ml_expansion_go_side_by_side (dictionary, ml_dictionary_reads_as (dictionary, items[i], places[k]));
  ml_side_by_side (dictionary->model->board->n_conditions, predict_items_in_cb, &many);
}

/* ---- all of them ---- */

/* Of one condition and node, solved side by side: they all start from that node's healthy point. */
typedef struct
{
  MlChanges *changes[N_TOGETHER];
  MlExpansion *expansion[N_TOGETHER];
  MlNodalVariant variant[N_TOGETHER];
  int n;
} Batch;

static Batch *
batch_new (void)
{
  Batch *batch = g_new0 (Batch, 1);

  for (guint k = 0; k < N_TOGETHER; k++)
    batch->changes[k] = ml_changes_new ();
  return batch;
}

static void
batch_free (Batch *batch)
{
  for (guint k = 0; k < N_TOGETHER; k++)
    ml_changes_free (batch->changes[k]);
  g_free (batch);
}

static void
add_to_batch (MlDictionary *dictionary, guint item, int condition, Batch *batch)
{
  MlExpansion *expansion = dictionary->expansions[item];
  const MlNodalSolution *from = ml_expansion_find_start (dictionary, expansion, condition, NULL);
  MlChanges *changes = batch->changes[batch->n];
  MlExpansion *neighbours[ML_NODAL_MOST_ALSO];
  int sized[2];

  if (!from)
    ml_expansion_solve (dictionary, expansion, condition, NULL);
  if (expansion->state[condition])
    return;
  if (dictionary->packs)
    ml_expansion_make_packed_room (dictionary, expansion, condition);
  else
    ml_expansion_make_room (dictionary, expansion, condition);
  if (!ml_expansion_list_changes (dictionary, changes, expansion, condition, sized))
    return;
  batch->expansion[batch->n] = expansion;
  batch->variant[batch->n] = (MlNodalVariant){ (const MlNodalChange *) (gpointer) changes->array->data, (int) changes->array->len, from,
                                               &expansion->at[condition], { NULL } };
  ml_dictionary_neighbours (dictionary, item, condition, neighbours);
  for (guint i = 0; i < ML_NODAL_MOST_ALSO && neighbours[i]; i++)
    batch->variant[batch->n].also[i] = &neighbours[i]->at[condition];
  batch->n++;
}

/* From item `first` on, those of the same node that follow; the next one left. */
static guint
solve_batch (MlDictionary *dictionary, guint first, int condition, Batch *batch)
{
  guint i = first;

  for (batch->n = 0; batch->n < N_TOGETHER && i < dictionary->n_early; i += dictionary->model->n_nodes)
    if (solved_as (dictionary, i, condition) == i)
      add_to_batch (dictionary, i, condition, batch);
  if (batch->n && ml_nodal_solve_variants (dictionary->model->conditions[condition].solver, batch->variant, batch->n) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  for (int k = 0; k < batch->n; k++)
    if (batch->expansion[k]->at[condition].status >= 0)
      batch->expansion[k]->state[condition] = 1;
  for (int k = 0; dictionary->packs && k < batch->n; k++)
    if (ml_nodal_solution_pack (&batch->expansion[k]->at[condition], dictionary->model->conditions[condition].circuit) != ML_NODAL_OK)
      g_error ("out of memory"); /* as g_malloc does */
  return i;
}

/* The middle ones first: others ask for them. */
static guint *
order_nodes (const MlModel *model)
{
  guint *nodes = g_new (guint, model->n_nodes), n = 0;

  for (guint pass = 0; pass < 2; pass++)
    for (guint k = 0; k < model->n_nodes; k++)
      if ((ml_model_middle (model, k) == k) == (pass == 0))
        nodes[n++] = k;
  return nodes;
}

/* The conditions side by side, a batch of each at a time. */
typedef struct
{
  MlDictionary *dictionary;
  guint *next;    /* per condition: the first item of the node that is still to be solved */
  Batch **batches; /* per condition */
} Round;

static void
solve_round_cb (guint condition, gpointer data)
{
  const Round *round = data;

  if (!round->dictionary->model->conditions[condition].solver)
    round->next[condition] = round->dictionary->n_early;
  if (round->next[condition] < round->dictionary->n_early)
    round->next[condition] = solve_batch (round->dictionary, round->next[condition], (int) condition, round->batches[condition]);
}

static void
solve_sound_cb (guint condition, gpointer data)
{
  MlDictionary *dictionary = ((const Round *) data)->dictionary;

  for (guint i = 0; i < dictionary->model->n_nodes; i++)
    if (solved_as (dictionary, i, (int) condition) == i)
      ml_expansion_solve (dictionary, dictionary->expansions[i], (int) condition, NULL);
}

static guint
least_of (const guint *of, guint n)
{
  guint least = of[0];

  for (guint i = 1; i < n; i++)
    least = MIN (least, of[i]);
  return least;
}

/* All items of a node. FALSE: cancelled. */
static gboolean
solve_node (Round *round, guint k, guint node, void (*progress) (double share, gpointer data), gpointer data, GCancellable *cancellable, GError **error)
{
  MlDictionary *dictionary = round->dictionary;
  guint n_conditions = dictionary->model->board->n_conditions, left;

  for (guint c = 0; c < n_conditions; c++)
    round->next[c] = node;
  while ((left = least_of (round->next, n_conditions)) < dictionary->n_early)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (progress)
        progress ((k + (double) left / dictionary->n_early) / dictionary->model->n_nodes, data);
      ml_side_by_side (n_conditions, solve_round_cb, round);
    }
  return TRUE;
}

gboolean
ml_dictionary_prepare (MlDictionary *dictionary, void (*progress) (double share, gpointer data), gpointer data,
                       GCancellable *cancellable, GError **error)
{
  guint n_nodes = dictionary->model->n_nodes, n_conditions = dictionary->model->board->n_conditions;
  g_autofree guint *nodes = order_nodes (dictionary->model), *next = g_new (guint, MAX (n_conditions, 1));
  g_autofree Batch **batches = g_new (Batch *, MAX (n_conditions, 1));
  Round round = { dictionary, next, batches };

  if (dictionary->prepared || !n_conditions)
    return !g_cancellable_set_error_if_cancelled (cancellable, error);
  for (guint c = 0; c < n_conditions; c++)
    batches[c] = batch_new ();
  for (guint i = 0; i < dictionary->n_early; i++)
    ml_expansion_find_more (dictionary, dictionary->expansions[i]);
  ml_side_by_side (n_conditions, solve_sound_cb, &round); /* the points which all others start from */
  dictionary->prepared = TRUE;
  for (guint k = 0; k < n_nodes && dictionary->prepared; k++)
    dictionary->prepared = solve_node (&round, k, nodes[k], progress, data, cancellable, error);
  for (guint c = 0; c < n_conditions; c++)
    batch_free (batches[c]);
  if (progress && dictionary->prepared)
    progress (1, data);
  return dictionary->prepared;
}
