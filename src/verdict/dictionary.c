/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/dictionary.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/remember.h"

#include <math.h>
#include <string.h>

#define N_TOGETHER 64
#define LEAST_SLOPE 1e-5 /* V, A or ln ohm per standard deviation: slopes below vanish beside every floor */

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

MlDictionary *
ml_dictionary_new (MlModel *model)
{
  MlDictionary *dictionary = g_new0 (MlDictionary, 1);
  g_autofree guint *first = NULL;
  guint n = 0;

  dictionary->model = model;
  dictionary->hypotheses = ml_modes_list (model);
  dictionary->places = g_array_new (FALSE, FALSE, sizeof (MlReadingPlace));
  dictionary->changes = ml_changes_new ();
  dictionary->foreseen = g_array_new (FALSE, FALSE, sizeof (guint));
  dictionary->centred = g_new0 (MlChanges *, model->board->n_conditions * model->n_nodes + 1);
  dictionary->n_columns = model->n_z + 2 + n_extra_columns (model) + model->n_deviations;
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
            dictionary->items[i] = (MlItem){ h, c, k, own->cells[c].share * node_share, twin };
            dictionary->expansions[i] = ml_expansion_new (dictionary, i, -1, NULL);
          }
    }
  return dictionary;
}

void
ml_dictionary_free (MlDictionary *dictionary)
{
  if (!dictionary)
    return;
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
  ml_changes_free (dictionary->changes);
  for (guint i = 0; i < dictionary->model->board->n_conditions * dictionary->model->n_nodes; i++)
    g_clear_pointer (&dictionary->centred[i], ml_changes_free);
  g_free (dictionary->centred);
  ml_model_free (dictionary->model);
  g_free (dictionary);
}

const MlHypothesis *
ml_dictionary_hypothesis (const MlDictionary *dictionary, guint item)
{
  return &g_array_index (dictionary->hypotheses, MlHypothesis, dictionary->items[item].hypothesis);
}

/* The item whose circuit is the same in that condition, the solder at joints apart: the twin's; that of the state in which all conditions do as this
 * one; and a chip that does not switch is a sound one in the state in which nothing does. */
static guint
solved_as (const MlDictionary *dictionary, guint item, int condition)
{
  const MlModel *model = dictionary->model;
  guint state = dictionary->items[item].node / model->n_levels, level = ml_model_level (model, dictionary->items[item].node);

  if (dictionary->items[item].twin >= 0)
    item = (guint) dictionary->items[item].twin;
  if (model->n_states < 2)
    return item;
  if (ml_dictionary_hypothesis (dictionary, item)->fault.kind == ML_FAULT_STOPPED)
    return model->n_levels + level;
  if (ml_model_runs (model, dictionary->items[item].node, condition) || !ml_model_runs (model, 0, condition))
    return item - state * model->n_levels;
  return item - (state - 1) * model->n_levels;
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

/* Whose predictions serve for an item at that place: a twin reads the same from the solder. */
static MlExpansion *
reads_as (const MlDictionary *dictionary, guint item, guint place)
{
  const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, place);
  int twin = dictionary->items[item].twin;

  if (twin >= 0 && touches_lead (own, ml_dictionary_hypothesis (dictionary, item)->fault.part))
    return dictionary->expansions[item];
  return dictionary->expansions[solved_as (dictionary, item, own->condition)];
}

const MlPrediction *
ml_dictionary_predict (MlDictionary *dictionary, guint item, guint place)
{
  return ml_expansion_predict (dictionary, reads_as (dictionary, item, place), place, NULL);
}

void
ml_dictionary_predict_all (MlDictionary *dictionary, guint item, const guint *places, guint n)
{
  for (guint i = 0, k; i < n; i = k)
    {
      MlExpansion *expansion = reads_as (dictionary, item, places[i]);

      for (k = i + 1; k < n && reads_as (dictionary, item, places[k]) == expansion; k++)
        ;
      ml_expansion_predict_all (dictionary, expansion, places + i, k - i, NULL);
    }
}

/* ---- one expansion ---- */

static void
free_prediction (gpointer data)
{
  MlPrediction *prediction = data;

  if (!prediction)
    return;
  g_free (prediction->column);
  g_free (prediction->slope);
  g_free (prediction);
}

MlExpansion *
ml_expansion_new (const MlDictionary *dictionary, int item, int second, const double *z)
{
  MlExpansion *expansion = g_new0 (MlExpansion, 1);
  guint n = MAX (dictionary->model->board->n_conditions, 1);

  expansion->item = item;
  expansion->second = second;
  if (z)
    expansion->z = g_memdup2 (z, dictionary->n_columns * sizeof *z);
  expansion->at = g_new0 (MlNodalSolution, n);
  expansion->state = g_new0 (guint8, n);
  expansion->predictions = g_ptr_array_new_with_free_func (free_prediction);
  return expansion;
}

void
ml_expansion_free (MlDictionary *dictionary, MlExpansion *expansion)
{
  if (!expansion)
    return;
  if (dictionary->built.expansion == expansion)
    dictionary->built.expansion = NULL;
  for (guint c = 0; c < dictionary->model->board->n_conditions; c++)
    if (expansion->state[c])
      ml_nodal_solution_clear (&expansion->at[c]);
  g_free (expansion->at);
  g_free (expansion->state);
  g_free (expansion->z);
  g_ptr_array_unref (expansion->predictions);
  g_free (expansion);
}

/* The fault of an item at its cell's size, moved by z; *ret_sized: the change that carries it. */
static gboolean
add_item_fault (const MlDictionary *dictionary, MlChanges *changes, int item, int condition, double z, int *ret_sized)
{
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, item);
  const MlCell *cell = &hypothesis->cells[dictionary->items[item].cell];
  MlFault fault = hypothesis->fault;
  double reach = hypothesis->n_cells > 1 ? 1 / ml_assumption ("size.cell-share") : 4;

  *ret_sized = -1;
  if (hypothesis->explains == ML_EXPLAINS_HEALTHY || fault.kind == ML_FAULT_MISBEHAVING || fault.kind == ML_FAULT_STOPPED)
    return TRUE;
  /* A cell reaches at most half a neighbour's width beyond its edges, so that a size stays within its fault's partition. */
  fault.size = isfinite (cell->size) ? cell->size * exp (CLAMP (cell->spread * z, -cell->spread * reach, cell->spread * reach)) : NAN;
  if (!ml_changes_add_fault (changes, dictionary->model, condition, &fault, ret_sized, NULL))
    return FALSE;
  if (ml_changes_add_free_joint (changes, dictionary->model, condition, dictionary->items[item].node, &fault))
    *ret_sized = (int) changes->array->len - 1; /* the part's own law carries next to nothing beside it */
  return TRUE;
}

/* A misbehaving block pushes a current at each pin. */
static void
add_block_currents (const MlDictionary *dictionary, MlChanges *changes, const MlExpansion *expansion)
{
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, expansion->item);
  const MlCell *cell = &hypothesis->cells[dictionary->items[expansion->item].cell];
  int part = hypothesis->fault.part;
  int parameter = ml_nodal_type_find_parameter (ml_nodal_type_find ("current-source"), "current");

  for (guint p = 0; expansion->z && p < dictionary->model->board->parts[part].n_pins; p++)
    {
      double value = cell->size * expansion->z[dictionary->model->n_z + 2 + p];
      if (value != 0 && dictionary->model->block_current[part][p] >= 0)
        ml_changes_add (changes, ML_NODAL_SET_PARAMETER, dictionary->model->block_current[part][p], parameter, 0, value);
    }
}

/* ---- good units: from w to z ---- */

static guint
deviation_column (const MlDictionary *dictionary, guint unknown)
{
  return dictionary->n_columns - dictionary->model->n_deviations + (guint) dictionary->model->unknowns[unknown].deviation;
}

/* How far the pins of a block lie elsewhere than on the good unit, as a share of the largest voltage there. */
static double
pin_difference (const MlModel *model, int part, const double *here, const double *there)
{
  guint first = 0, n = model->board->parts[part].n_pins, ground = (guint) MAX (model->board->parts[part].ground_pin, 0);
  double most = ml_assumption ("carried.least-volts"), off = 0;

  for (int i = 0; i < part; i++)
    first += model->block_current[i] ? model->board->parts[i].n_pins : 0;
  for (guint p = 0; p < n; p++)
    {
      double a = here[first + p] - here[first + ground], b = there[first + p] - there[first + ground];

      if (isfinite (b))
        most = MAX (most, fabs (b));
      if (isfinite (a) && isfinite (b))
        off = MAX (off, fabs (a - b));
    }
  return off / most;
}

/* Standard deviation, in ln ohm, of what a block does here otherwise than on the good unit: nothing while its pins see the same voltages,
 * anything once they see others. Found at the middle node, about which the other nodes are then spread. */
static double
deviation_of (MlDictionary *dictionary, guint item, int condition, guint unknown)
{
  const MlModel *model = dictionary->model;
  double spread = model->unknowns[unknown].spread, half = ml_assumption ("carried.half-difference"), off;
  guint middle = item - dictionary->items[item].node + ml_model_middle (model, dictionary->items[item].node);
  g_autofree double *here = NULL;

  if (dictionary->items[middle].twin >= 0)
    middle = (guint) dictionary->items[middle].twin;
  if (!model->carried->pin_v[condition] || !ml_expansion_solve (dictionary, dictionary->expansions[middle], condition, NULL))
    return spread;
  here = ml_model_pin_volts (model, condition, &dictionary->expansions[middle]->at[condition]);
  off = pin_difference (model, model->unknowns[unknown].part, here, model->carried->pin_v[condition]);
  return spread * off * off / (off * off + half * half);
}

/* d ln ohm of a block / d its deviation's z, and its shift at this node. */
static double
deviation_at (MlDictionary *dictionary, const MlExpansion *expansion, int condition, guint unknown, double *ret_shift)
{
  double spread = dictionary->model->unknowns[unknown].spread, step = ml_assumption ("block.node-step") / spread;
  int node = (int) ml_model_level (dictionary->model, dictionary->items[expansion->item].node) - (int) dictionary->model->n_levels / 2;
  gboolean plain = !expansion->z && expansion->second < 0 && node == 0;
  double deviation = plain ? 0 : deviation_of (dictionary, (guint) expansion->item, condition, unknown);

  if (expansion->second >= 0)
    deviation = MAX (deviation, deviation_of (dictionary, (guint) expansion->second, condition, unknown));
  *ret_shift = node * step * deviation;
  return deviation * sqrt (MAX (1 - 2 * step * step / 3, 0.1));
}

/* The z of an expansion; of a good unit's company from its w and the blocks' deviations. *ret_own: to be freed. */
static const double *
unknowns_of (MlDictionary *dictionary, const MlExpansion *expansion, int condition, double **ret_own)
{
  const MlModel *model = dictionary->model;
  double *z;

  *ret_own = NULL;
  if (!model->carried)
    return expansion->z;
  z = *ret_own = g_new0 (double, dictionary->n_columns);
  if (expansion->z)
    memcpy (z, expansion->z, dictionary->n_columns * sizeof *z);
  ml_carried_to_z (model->carried, expansion->z, z);
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].deviation >= 0 && model->unknowns[i].condition == condition)
      {
        double shift, share = deviation_at (dictionary, expansion, condition, i, &shift);
        double moved = expansion->z ? expansion->z[deviation_column (dictionary, i)] : 0;
        z[i] += (shift + share * moved) / model->unknowns[i].spread;
      }
  return z;
}

/* Slopes in z become slopes in w and in the blocks' deviations. */
static void
carry_slopes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, double *dense)
{
  const MlModel *model = dictionary->model;

  if (!model->carried)
    return;
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].deviation >= 0 && model->unknowns[i].condition == condition && dense[i] != 0)
      {
        double shift, spread = model->unknowns[i].spread, share = deviation_at (dictionary, expansion, condition, i, &shift);

        if (!expansion->z && expansion->second < 0 && shift == 0) /* the middle node is solved by now */
          share = deviation_of (dictionary, (guint) expansion->item, condition, i) * sqrt (MAX (1 - 2 * pow (ml_assumption ("block.node-step") / spread, 2) / 3, 0.1));
        dense[deviation_column (dictionary, i)] = dense[i] * share / spread;
      }
  ml_carried_slopes (model->carried, dense);
}

/* Of an expansion; how many. */
static guint
faults_of (const MlDictionary *dictionary, const MlExpansion *expansion, const MlFault *ret_faults[2])
{
  ret_faults[0] = &ml_dictionary_hypothesis (dictionary, (guint) expansion->item)->fault;
  if (expansion->second < 0)
    return 1;
  ret_faults[1] = &ml_dictionary_hypothesis (dictionary, (guint) expansion->second)->fault;
  return 2;
}

static gboolean
bridges_chopped (const MlModel *model, const MlFault *fault)
{
  const gboolean *nets = model->chopped->nets;

  if (fault->kind == ML_FAULT_STRAY_LINK || fault->kind == ML_FAULT_MISSING_LINK)
    return nets[fault->net_a] || nets[fault->net_b];
  if (fault->kind != ML_FAULT_SHORT && fault->kind != ML_FAULT_LEAK)
    return FALSE;
  for (guint i = 0; i < fault->n_pins; i++)
    {
      int net = model->board->parts[fault->part].pins[fault->pins[i]].net;
      if (net >= 0 && nets[net])
        return TRUE;
    }
  return FALSE;
}

/* A fault that bridges lets more flow: a chip that chops a shorted coil carries what the supply gives. How many times more each free current is, per
 * unknown; NULL: none is. Kept per item. */
static const double *
more_of (MlDictionary *dictionary, guint item)
{
  const MlModel *model = dictionary->model;
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, item);
  guint cell_first = item - dictionary->items[item].node;
  double *more = dictionary->more[cell_first];

  if (more || !bridges_chopped (model, &hypothesis->fault))
    return more;
  more = dictionary->more[cell_first] = g_new (double, model->n_unknowns);
  for (guint i = 0; i < model->n_unknowns; i++)
    {
      MlFault fault = hypothesis->fault;
      MlChanges *added;

      more[i] = 1;
      if (!model->unknowns[i].chopped || !model->conditions[model->unknowns[i].condition].solver)
        continue;
      fault.size = hypothesis->cells[dictionary->items[item].cell].size;
      added = ml_changes_new ();
      if (ml_changes_add_fault (added, model, model->unknowns[i].condition, &fault, NULL, NULL))
        more[i] = MAX (ml_assumption ("chopped.share") * ml_model_most_amps (model, i, added) / model->unknowns[i].centre, 1);
      ml_changes_free (added);
    }
  return more;
}

/* Of one unknown, under all faults of an expansion. */
static double
more_under (MlDictionary *dictionary, const MlExpansion *expansion, guint unknown)
{
  const double *first = more_of (dictionary, (guint) expansion->item), *second = expansion->second < 0 ? NULL : more_of (dictionary, (guint) expansion->second);

  return MAX (first ? first[unknown] : 1, second ? second[unknown] : 1);
}

static void
add_switching (MlDictionary *dictionary, MlChanges *changes, const MlExpansion *expansion, int condition, const double *z)
{
  const MlModel *model = dictionary->model;
  g_autofree double *more = g_new (double, MAX (model->n_unknowns, 1));
  const MlFault *faults[2];
  guint n = faults_of (dictionary, expansion, faults);

  for (guint i = 0; i < model->n_unknowns; i++)
    more[i] = model->unknowns[i].chopped && model->unknowns[i].condition == condition ? more_under (dictionary, expansion, i) : 1;
  ml_changes_add_switching (changes, model, condition, dictionary->items[expansion->item].node, z, more, faults, n);
}

static const GArray *
centred_unknowns (MlDictionary *dictionary, int condition, guint node)
{
  MlChanges **own = &dictionary->centred[(guint) condition * dictionary->model->n_nodes + node];

  if (!*own)
    {
      *own = ml_changes_new ();
      ml_changes_add_unknowns (*own, dictionary->model, condition, node, NULL);
    }
  return (*own)->array;
}

static void
add_unknowns (MlDictionary *dictionary, MlChanges *changes, int condition, guint node, const double *z)
{
  if (z)
    ml_changes_add_unknowns (changes, dictionary->model, condition, node, z);
  else
    {
      const GArray *centred = centred_unknowns (dictionary, condition, node);
      g_array_append_vals (changes->array, centred->data, centred->len);
    }
}

static gboolean
list_changes (MlDictionary *dictionary, MlChanges *changes, const MlExpansion *expansion, int condition, int ret_sized[2])
{
  guint n_z = dictionary->model->n_z;
  g_autofree double *own = NULL;
  const double *z = unknowns_of (dictionary, expansion, condition, &own);

  ml_changes_clear (changes);
  add_unknowns (dictionary, changes, condition, dictionary->items[expansion->item].node, z);
  if (dictionary->model->n_states > 1)
    add_switching (dictionary, changes, expansion, condition, z);
  if (ml_dictionary_hypothesis (dictionary, expansion->item)->fault.kind == ML_FAULT_MISBEHAVING)
    add_block_currents (dictionary, changes, expansion);
  ret_sized[1] = -1;
  return add_item_fault (dictionary, changes, expansion->item, condition, z ? z[n_z] : 0, &ret_sized[0])
         && (expansion->second < 0 || add_item_fault (dictionary, changes, expansion->second, condition, z ? z[n_z + 1] : 0, &ret_sized[1]));
}

/* Has dictionary->changes hold those of the expansion; readings are mostly asked one after the other of the same one. Where blocks carry
 * over from a good unit the list also depends on what else is solved by now. */
static gboolean
build_changes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, int ret_sized[2])
{
  MlBuilt *built = &dictionary->built;

  if (built->expansion != expansion || built->condition != condition || dictionary->model->carried)
    {
      built->done = list_changes (dictionary, dictionary->changes, expansion, condition, built->sized);
      built->expansion = expansion;
      built->condition = condition;
    }
  memcpy (ret_sized, built->sized, sizeof built->sized);
  return built->done;
}

/* Newton's start: what the caller knows, else the healthy point of the node, else of the middle node. */
static const MlNodalSolution *
find_start (MlDictionary *dictionary, const MlExpansion *expansion, int condition, const MlExpansion *start)
{
  guint node = dictionary->items[expansion->item].node, middle = ml_model_middle (dictionary->model, node);
  const MlExpansion *healthy = dictionary->expansions[node], *mid = dictionary->expansions[middle];

  if (start && start->state[condition] == 1)
    return &start->at[condition];
  if (healthy != expansion && healthy->state[condition] == 1)
    return &healthy->at[condition];
  if (mid != expansion && mid->state[condition] == 1)
    return &mid->at[condition];
  return NULL;
}

/* Not solved until somebody says otherwise. */
static void
make_room (MlDictionary *dictionary, MlExpansion *expansion, int condition)
{
  if (ml_nodal_solution_init (&expansion->at[condition], dictionary->model->conditions[condition].circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  expansion->state[condition] = 2;
}

gboolean
ml_expansion_solve (MlDictionary *dictionary, MlExpansion *expansion, int condition, const MlExpansion *start)
{
  MlModelCondition *own = &dictionary->model->conditions[condition];
  const MlNodalSolution *from;
  MlNodalStatus status;
  int sized[2];

  if (expansion->state[condition] || !own->solver)
    return expansion->state[condition] == 1;
  make_room (dictionary, expansion, condition);
  if (!build_changes (dictionary, expansion, condition, sized))
    return FALSE;
  from = find_start (dictionary, expansion, condition, start);
  status = ml_nodal_solve (own->solver, (const MlNodalChange *) (gpointer) dictionary->changes->array->data, dictionary->changes->array->len, from,
                           &expansion->at[condition]);
  /* All others start from this one and stay in its state. */
  if (status >= 0 && from == NULL
      && ml_nodal_seek_states (own->solver, (const MlNodalChange *) (gpointer) dictionary->changes->array->data,
                               dictionary->changes->array->len, &expansion->at[condition]) == ML_NODAL_NO_MEMORY)
    g_error ("out of memory"); /* as g_malloc does */
  if (status >= 0)
    expansion->state[condition] = 1;
  return status >= 0;
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
  const MlNodalSolution *from = find_start (dictionary, expansion, condition, NULL);
  MlChanges *changes = batch->changes[batch->n];
  int sized[2];

  if (!from)
    ml_expansion_solve (dictionary, expansion, condition, NULL);
  if (expansion->state[condition])
    return;
  make_room (dictionary, expansion, condition);
  if (!list_changes (dictionary, changes, expansion, condition, sized))
    return;
  batch->expansion[batch->n] = expansion;
  batch->variant[batch->n++] = (MlNodalVariant){ (const MlNodalChange *) (gpointer) changes->array->data, (int) changes->array->len, from,
                                                 &expansion->at[condition] };
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

gboolean
ml_dictionary_prepare (MlDictionary *dictionary, void (*progress) (double share, gpointer data), gpointer data,
                       GCancellable *cancellable, GError **error)
{
  guint n_nodes = dictionary->model->n_nodes, n_conditions = dictionary->model->board->n_conditions, n_rounds = n_nodes * n_conditions;
  g_autofree guint *nodes = order_nodes (dictionary->model);
  Batch *batch = batch_new ();
  gboolean cancelled = FALSE;

  for (guint i = 0; i < n_nodes; i++) /* the healthy points, which all others start from */
    for (guint c = 0; c < n_conditions; c++)
      if (solved_as (dictionary, i, (int) c) == i)
        ml_expansion_solve (dictionary, dictionary->expansions[i], (int) c, NULL);
  for (guint round = 0; round < n_rounds; round++)
    {
      guint condition = round % n_conditions;

      for (guint i = nodes[round / n_conditions]; i < dictionary->n_early && dictionary->model->conditions[condition].solver && !cancelled;)
        {
          cancelled = g_cancellable_set_error_if_cancelled (cancellable, error);
          if (!cancelled)
            i = solve_batch (dictionary, i, (int) condition, batch);
          if (progress)
            progress ((round + MIN ((double) i / dictionary->n_early, 1)) / n_rounds, data);
        }
    }
  batch_free (batch);
  if (progress && !cancelled)
    progress (1, data);
  return !cancelled;
}

/* ---- predictions ---- */


void
ml_model_scatter_slope (const MlModel *model, guint unknown, double slope, const double *z, guint node, double *dense)
{
  const MlUnknown *own = &model->unknowns[unknown];

  if (slope == 0) /* most parts are far from most readings */
    return;
  double value = own->log ? ml_model_parameter_value (model, unknown, z, node) : 1, du = slope * own->spread * value;

  /* d p / d ln v = p most / (most + v), and p = v (most + centre) / (most + v) */
  if (own->log && own->most > 0)
    du *= 1 - value / (own->most + own->centre);

  if (own->group >= 0)
    {
      dense[unknown] += sqrt (1 - own->shared) * du;
      dense[own->group] += sqrt (own->shared) * du;
    }
  else
    dense[unknown] += du;
}

static void
keep_columns (MlPrediction *prediction, const double *dense, guint n)
{
  guint kept = 0;

  for (guint i = 0; i < n; i++)
    kept += fabs (dense[i]) >= LEAST_SLOPE;
  prediction->column = g_new (guint, MAX (kept, 1));
  prediction->slope = g_new (double, MAX (kept, 1));
  for (guint i = 0; i < n; i++)
    if (fabs (dense[i]) >= LEAST_SLOPE)
      {
        prediction->column[prediction->n] = i;
        prediction->slope[prediction->n++] = dense[i];
      }
}

/* Resistances span decades: judged in the logarithm, over-range at the end of the scale. */
static void
take_logarithm (MlPrediction *prediction, double *dense, guint n)
{
  gboolean inside;
  double ln = ml_cold_ln (prediction->value, &inside);

  for (guint i = 0; i < n; i++)
    dense[i] = inside ? dense[i] / prediction->value : 0;
  prediction->value = ln;
}

gboolean
ml_reading_place_meter (const MlModel *model, const MlReadingPlace *place, MlNodalMeter *ret_meter)
{
  MlNodalMeter meter = { .reads = ML_NODAL_READ_VOLTS, .device = -1, .input_ohm = place->input_ohm, .test_a = place->test_a,
                         .compliance_v = place->compliance_v };

  meter.reads = place->reads == ML_READS_AMPS    ? ML_NODAL_READ_AMPS
                : place->reads == ML_READS_OHMS  ? ML_NODAL_READ_OHMS
                : place->reads == ML_READS_DIODE ? ML_NODAL_READ_DIODE
                                                 : ML_NODAL_READ_VOLTS;
  if (place->reads == ML_READS_AMPS)
    {
      if (place->supply < 0 || (guint) place->supply >= model->board->conditions[place->condition].n_supplies)
        return FALSE;
      meter.device = model->conditions[place->condition].supply_device[place->supply];
    }
  else if (!ml_model_point (model, place->condition, &place->red, &meter.red)
           || !ml_model_point (model, place->condition, &place->black, &meter.black))
    return FALSE;
  *ret_meter = meter;
  return TRUE;
}

typedef struct
{
  MlNodalParameterRef *refs;
  int n;
} Slopes;

static void
collect_slope_refs (MlDictionary *dictionary, const MlExpansion *expansion, int condition, Slopes *ret)
{
  const MlModelCondition *own = &dictionary->model->conditions[condition];
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, expansion->item);
  int part = hypothesis->fault.part, n = own->n_refs;

  ret->refs = g_new (MlNodalParameterRef, own->n_refs + dictionary->n_columns);
  memcpy (ret->refs, own->refs, own->n_refs * sizeof *own->refs);
  if (hypothesis->fault.kind == ML_FAULT_MISBEHAVING)
    for (guint p = 0; p < dictionary->model->board->parts[part].n_pins; p++)
      if (dictionary->model->block_current[part][p] >= 0)
        ret->refs[n++] = (MlNodalParameterRef){ dictionary->model->block_current[part][p], 0 };
  ret->n = n;
}

/* How the reading hangs on the unknown chips, while dense holds slopes in z still. */
static double
chopped_slope (const MlModel *model, const MlModelCondition *own, const double *dense)
{
  double sum = 0;

  for (guint i = 0; i < own->n_refs; i++)
    if (model->unknowns[own->unknown[i]].block)
      sum += pow (dense[own->unknown[i]] / model->unknowns[own->unknown[i]].spread, 2);
  return sqrt (sum);
}

static void
scatter_slopes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, const Slopes *slopes, const MlNodalReading *reading,
                const int sized[2], double *dense, double *ret_chopped)
{
  const MlModel *model = dictionary->model;
  const MlModelCondition *own = &model->conditions[condition];
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, expansion->item);
  const MlCell *cell = &hypothesis->cells[dictionary->items[expansion->item].cell];
  guint node = dictionary->items[expansion->item].node;
  int next = (int) own->n_refs, part = hypothesis->fault.part;
  g_autofree double *carried = NULL;
  const double *z = unknowns_of (dictionary, expansion, condition, &carried);
  const MlFault *faults[2];
  guint n_faults = faults_of (dictionary, expansion, faults);

  for (guint i = 0; i < own->n_refs; i++)
    if (!model->unknowns[own->unknown[i]].chopped)
      ml_model_scatter_slope (model, own->unknown[i], reading->slope[i], z, node, dense);
    else if (ml_model_is_free (model, own->unknown[i], node, faults, n_faults))
      ml_model_scatter_slope (model, own->unknown[i], reading->slope[i] * more_under (dictionary, expansion, own->unknown[i]), z, node, dense);
  *ret_chopped = chopped_slope (model, own, dense);
  carry_slopes (dictionary, expansion, condition, dense);
  if (sized[0] >= 0)
    dense[model->n_z] = reading->size_slope[sized[0]] * cell->spread;
  if (sized[1] >= 0)
    dense[model->n_z + 1] = reading->size_slope[sized[1]]
                            * ml_dictionary_hypothesis (dictionary, expansion->second)->cells[dictionary->items[expansion->second].cell].spread;
  if (hypothesis->fault.kind == ML_FAULT_MISBEHAVING)
    for (guint p = 0; p < model->board->parts[part].n_pins; p++)
      if (model->block_current[part][p] >= 0)
        dense[model->n_z + 2 + p] = reading->slope[next++] * cell->size;
}

/* Whether the place lifts a leg: its changes then stand behind those of the expansion, until the caller cuts them off again at *ret_before. */
static gboolean
add_lifts (MlDictionary *dictionary, const MlReadingPlace *place, guint *ret_before)
{
  *ret_before = dictionary->changes->array->len;
  ml_changes_lift (dictionary->changes, dictionary->model, &place->red, &place->black);
  return dictionary->changes->array->len > *ret_before;
}

static gboolean
solve_changed (MlDictionary *dictionary, int condition, const MlNodalSolution *start, MlNodalSolution *ret_at)
{
  MlModelCondition *own = &dictionary->model->conditions[condition];

  if (ml_nodal_solution_init (ret_at, own->circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  if (ml_nodal_solve (own->solver, (const MlNodalChange *) (gpointer) dictionary->changes->array->data, dictionary->changes->array->len, start, ret_at) >= 0)
    return TRUE;
  ml_nodal_solution_clear (ret_at);
  return FALSE;
}

gboolean
ml_expansion_solve_lifted (MlDictionary *dictionary, MlExpansion *expansion, const MlReadingPlace *place, MlNodalSolution *ret_at)
{
  int sized[2];
  guint before;
  gboolean solved;

  if (!ml_expansion_solve (dictionary, expansion, place->condition, NULL) || !build_changes (dictionary, expansion, place->condition, sized))
    return FALSE;
  add_lifts (dictionary, place, &before);
  solved = solve_changed (dictionary, place->condition, &expansion->at[place->condition], ret_at);
  g_array_set_size (dictionary->changes->array, before);
  return solved;
}

static void
measure_at (MlDictionary *dictionary, int condition, const MlNodalSolution *at, const Slopes *slopes, MlNodalReading *readings, guint n)
{
  if (ml_nodal_measure_all (dictionary->model->conditions[condition].solver, (const MlNodalChange *) (gpointer) dictionary->changes->array->data,
                            dictionary->changes->array->len, at, slopes->refs, slopes->n, readings, (int) n) == ML_NODAL_NO_MEMORY)
    g_error ("out of memory"); /* as g_malloc does */
}

/* The circuit with a leg lifted is another one; it is solved for the one reading. FALSE: the place lifts none. */
static gboolean
measure_lifted (MlDictionary *dictionary, const MlExpansion *expansion, const MlReadingPlace *place, const Slopes *slopes, MlNodalReading *reading)
{
  MlNodalSolution lifted;
  guint before;

  if (!add_lifts (dictionary, place, &before))
    return FALSE;
  reading->status = ML_NODAL_NOT_CONVERGED;
  if (solve_changed (dictionary, place->condition, &expansion->at[place->condition], &lifted))
    {
      measure_at (dictionary, place->condition, &lifted, slopes, reading, 1);
      ml_nodal_solution_clear (&lifted);
    }
  g_array_set_size (dictionary->changes->array, before);
  return TRUE;
}

/* A pin that is not on its drawn net takes the solder that a probe stands on along. */
static void
follow_pin (const MlFault *fault, MlProbe *probe)
{
  if (fault->kind == ML_FAULT_WRONG_NET)
    probe->lead |= probe->part == fault->part && probe->pin == fault->pins[0];
  for (guint i = 0; i < fault->n_cut; i++)
    probe->lead |= probe->part == fault->cut_parts[i] && probe->pin == fault->cut_pins[i];
}

static MlReadingPlace
place_under (const MlDictionary *dictionary, const MlExpansion *expansion, const MlReadingPlace *place)
{
  MlReadingPlace own = *place;

  for (guint k = 0; k < (expansion->second < 0 ? 1 : 2); k++)
    {
      const MlFault *fault = &ml_dictionary_hypothesis (dictionary, k ? expansion->second : expansion->item)->fault;

      follow_pin (fault, &own.red);
      follow_pin (fault, &own.black);
    }
  return own;
}

static gboolean
moves_pins (const MlDictionary *dictionary, int item)
{
  const MlFault *fault = item >= 0 ? &ml_dictionary_hypothesis (dictionary, (guint) item)->fault : NULL;

  return fault && (fault->kind == ML_FAULT_WRONG_NET || fault->n_cut);
}

/* The place whose prediction serves there: where no pin leaves its net it is that of the nets. */
static guint
read_at (const MlDictionary *dictionary, const MlExpansion *expansion, guint place)
{
  const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, place);
  MlReadingPlace under;

  if (own->plain == place || (!moves_pins (dictionary, expansion->item) && !moves_pins (dictionary, expansion->second)))
    return own->plain;
  under = place_under (dictionary, expansion, own);
  return under.red.lead == own->red.lead && under.black.lead == own->black.lead ? own->plain : place;
}

guint
ml_dictionary_read_at (const MlDictionary *dictionary, guint item, guint place)
{
  return read_at (dictionary, dictionary->expansions[item], place);
}

/* What the engine made of it, into the prediction. dense: n_columns, all 0 before and after. */
static void
take_reading (MlDictionary *dictionary, const MlExpansion *expansion, const MlReadingPlace *place, const MlNodalReading *reading, const Slopes *slopes,
              const int sized[2], double *dense, MlPrediction *prediction)
{
  prediction->value = reading->status >= 0 ? reading->value : NAN;
  if (reading->status >= 0 && place->reads == ML_READS_DIODE && !isfinite (prediction->value))
    prediction->value = place->compliance_v;
  if (reading->status < 0 || (!isfinite (prediction->value) && place->reads != ML_READS_OHMS))
    {
      prediction->value = NAN;
      return;
    }
  if (isfinite (prediction->value) && prediction->value < place->compliance_v + (place->reads != ML_READS_DIODE) * 1e30)
    scatter_slopes (dictionary, expansion, place->condition, slopes, reading, sized, dense, &prediction->chopped);
  if (place->reads == ML_READS_OHMS)
    take_logarithm (prediction, dense, dictionary->n_columns);
  keep_columns (prediction, dense, dictionary->n_columns);
  memset (dense, 0, dictionary->n_columns * sizeof *dense);
  prediction->valid = TRUE;
}

/* A place to be measured, and its prediction. */
typedef struct
{
  MlReadingPlace place; /* as the hypothesis has it */
  MlNodalMeter meter;
  MlPrediction *prediction;
} Asked;

/* All of one condition. */
static void
measure (MlDictionary *dictionary, const MlExpansion *expansion, int condition, Asked *asked, guint n)
{
  g_autofree double *memory = NULL, *dense = g_new0 (double, dictionary->n_columns);
  g_autofree MlNodalReading *readings = g_new0 (MlNodalReading, n);
  g_autofree guint *which = g_new (guint, n);
  guint together = 0, per_reading;
  Slopes slopes;
  int sized[2];

  if (!build_changes (dictionary, expansion, condition, sized))
    return;
  collect_slope_refs (dictionary, expansion, condition, &slopes);
  per_reading = (guint) slopes.n + dictionary->changes->array->len + 2; /* with two lifted legs */
  memory = g_new0 (double, n * per_reading);
  for (guint i = 0; i < n; i++)
    {
      MlNodalReading *reading = &readings[together];

      *reading = (MlNodalReading){ &asked[i].meter, ML_NODAL_NOT_CONVERGED, NAN, memory + together * per_reading, memory + together * per_reading + slopes.n };
      if (!measure_lifted (dictionary, expansion, &asked[i].place, &slopes, reading))
        which[together++] = i;
      else
        take_reading (dictionary, expansion, &asked[i].place, reading, &slopes, sized, dense, asked[i].prediction);
    }
  if (together)
    measure_at (dictionary, condition, &expansion->at[condition], &slopes, readings, together);
  for (guint k = 0; k < together; k++)
    take_reading (dictionary, expansion, &asked[which[k]].place, &readings[k], &slopes, sized, dense, asked[which[k]].prediction);
  g_free (slopes.refs);
}

/* Where a state of affairs could not be computed, the healthy board's reading stands in; evidence then gives it a wide spread. */
static void
stand_in (MlDictionary *dictionary, const MlExpansion *expansion, guint place, MlPrediction *prediction)
{
  guint middle = ml_model_usual (dictionary->model);

  prediction->value = 0;
  if (expansion != dictionary->expansions[middle])
    prediction->value = ml_expansion_predict (dictionary, dictionary->expansions[middle], place, NULL)->value;
}

/* The places of one condition that have no prediction yet; the others stay. */
static void
predict_condition (MlDictionary *dictionary, MlExpansion *expansion, int condition, const guint *places, guint n, const MlExpansion *start)
{
  g_autofree Asked *asked = g_new (Asked, n);
  g_autofree guint *fresh = g_new (guint, n);
  guint n_asked = 0, n_fresh = 0;

  for (guint i = 0; i < n; i++)
    {
      const MlReadingPlace *own = &g_array_index (dictionary->places, MlReadingPlace, places[i]);
      MlPrediction *prediction;

      if (own->condition != condition || expansion->predictions->pdata[places[i]])
        continue;
      expansion->predictions->pdata[places[i]] = prediction = g_new0 (MlPrediction, 1);
      fresh[n_fresh++] = places[i];
      asked[n_asked].place = place_under (dictionary, expansion, own);
      asked[n_asked].prediction = prediction;
      n_asked += ml_reading_place_meter (dictionary->model, &asked[n_asked].place, &asked[n_asked].meter);
    }
  if (n_asked && ml_expansion_solve (dictionary, expansion, condition, start))
    measure (dictionary, expansion, condition, asked, n_asked);
  for (guint i = 0; i < n_fresh; i++)
    if (!((MlPrediction *) expansion->predictions->pdata[fresh[i]])->valid)
      stand_in (dictionary, expansion, fresh[i], expansion->predictions->pdata[fresh[i]]);
}

void
ml_expansion_predict_all (MlDictionary *dictionary, MlExpansion *expansion, const guint *places, guint n, const MlExpansion *start)
{
  g_autofree guint *at = NULL;

  if (expansion->predictions->len < dictionary->places->len)
    g_ptr_array_set_size (expansion->predictions, (int) dictionary->places->len);
  at = g_new (guint, MAX (n, 1));
  for (guint i = 0; i < n; i++)
    at[i] = read_at (dictionary, expansion, places[i]);
  for (guint i = 0; i < n; i++)
    if (!expansion->predictions->pdata[at[i]])
      predict_condition (dictionary, expansion, g_array_index (dictionary->places, MlReadingPlace, at[i]).condition, at + i, n - i, start);
}

const MlPrediction *
ml_expansion_predict (MlDictionary *dictionary, MlExpansion *expansion, guint place, const MlExpansion *start)
{
  guint at = read_at (dictionary, expansion, place);

  if (at >= expansion->predictions->len || !expansion->predictions->pdata[at])
    ml_expansion_predict_all (dictionary, expansion, &at, 1, start);
  return expansion->predictions->pdata[at];
}
