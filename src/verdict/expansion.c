/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One state of affairs about which the readings are linear: what it changes in the circuit, and the circuit solved with that. */
#include "verdict/expansion-private.h"

#include "verdict/assumptions.h"
#include "verdict/room.h"

#include <math.h>
#include <string.h>

/* ---- one expansion ---- */

static void
free_prediction (gpointer data)
{
  MlPrediction *prediction = data;

  if (!prediction || prediction->in_room)
    return;
  if (!prediction->lent)
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
  if (dictionary->looked_at_of == expansion)
    dictionary->looked_at_of = NULL;
  for (guint c = 0; c < dictionary->model->board->n_conditions; c++)
    {
      if (dictionary->built[c].expansion == expansion)
        dictionary->built[c].expansion = NULL;
      if (expansion->state[c])
        ml_nodal_solution_clear (&expansion->at[c]);
    }
  g_free (expansion->at);
  g_free (expansion->state);
  g_free (expansion->z);
  g_ptr_array_unref (expansion->predictions);
  g_free (expansion);
}

/* ---- its changes ---- */

/* The fault of an item at its cell's size, moved by z; *ret_sized: the change that carries it. */
gboolean
ml_expansion_add_item_fault (const MlDictionary *dictionary, MlChanges *changes, int item, int condition, double z, int *ret_sized)
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

/* Of an expansion; how many. */
guint
ml_expansion_faults (const MlDictionary *dictionary, const MlExpansion *expansion, const MlFault *ret_faults[2])
{
  ret_faults[0] = &ml_dictionary_hypothesis (dictionary, (guint) expansion->item)->fault;
  if (expansion->second < 0)
    return 1;
  ret_faults[1] = &ml_dictionary_hypothesis (dictionary, (guint) expansion->second)->fault;
  return 2;
}

static void
add_switching (MlDictionary *dictionary, MlChanges *changes, const MlExpansion *expansion, int condition, const double *z)
{
  const MlModel *model = dictionary->model;
  g_autofree double *more = g_new (double, MAX (model->n_unknowns, 1));
  const MlFault *faults[2];
  guint n = ml_expansion_faults (dictionary, expansion, faults);

  for (guint i = 0; i < model->n_unknowns; i++)
    more[i] = model->unknowns[i].chopped && model->unknowns[i].condition == condition ? ml_expansion_more (dictionary, expansion, i) : 1;
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

gboolean
ml_expansion_list_changes (MlDictionary *dictionary, MlChanges *changes, const MlExpansion *expansion, int condition, int ret_sized[2])
{
  guint n_z = dictionary->model->n_z;
  g_autofree double *own = NULL;
  const double *z = ml_expansion_unknowns (dictionary, expansion, condition, &own);

  ml_changes_clear (changes);
  add_unknowns (dictionary, changes, condition, dictionary->items[expansion->item].node, z);
  if (dictionary->model->n_states > 1)
    add_switching (dictionary, changes, expansion, condition, z);
  if (ml_dictionary_hypothesis (dictionary, expansion->item)->fault.kind == ML_FAULT_MISBEHAVING)
    add_block_currents (dictionary, changes, expansion);
  ret_sized[1] = -1;
  return ml_expansion_add_item_fault (dictionary, changes, expansion->item, condition, z ? z[n_z] : 0, &ret_sized[0])
         && (expansion->second < 0 || ml_expansion_add_item_fault (dictionary, changes, expansion->second, condition, z ? z[n_z + 1] : 0, &ret_sized[1]));
}

/* Has dictionary->built hold those of the expansion; readings are mostly asked one after the other of the same one. Where blocks carry

 * over from a good unit the list also depends on what else is solved by now. */
gboolean
ml_expansion_build_changes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, int ret_sized[2])
{
  MlBuilt *built = &dictionary->built[condition];

  if (built->expansion != expansion || dictionary->model->carried)
    {
      built->done = ml_expansion_list_changes (dictionary, built->changes, expansion, condition, built->sized);
      built->expansion = expansion;
    }
  memcpy (ret_sized, built->sized, sizeof built->sized);
  return built->done;
}

/* Newton's start: what the caller knows, else the healthy point of the node, else of the middle node. */
const MlNodalSolution *
ml_expansion_find_start (MlDictionary *dictionary, const MlExpansion *expansion, int condition, const MlExpansion *start)
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

/* ---- what stays ---- */

MlNodalRoom *
ml_dictionary_room (MlDictionary *dictionary, int condition)
{
  return ml_room_at (&dictionary->rooms[condition]);
}

gboolean
ml_expansion_stays (const MlDictionary *dictionary, const MlExpansion *expansion)
{
  return expansion->second < 0 && expansion == dictionary->expansions[expansion->item];
}

/* ---- packed and unpacked ---- */

static void
init_solution (const MlDictionary *dictionary, int condition, MlNodalSolution *ret_at)
{
  if (ml_nodal_solution_init (ret_at, dictionary->model->conditions[condition].circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
}

static void
init_solution_in_room (MlDictionary *dictionary, int condition, MlNodalSolution *ret_at)
{
  if (ml_nodal_solution_init_in (ret_at, dictionary->model->conditions[condition].circuit, ml_dictionary_room (dictionary, condition)) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
}

/* It takes a step or two. */
static void
unpack (MlDictionary *dictionary, MlExpansion *expansion, int condition, MlNodalSolution *ret_at)
{
  MlChanges *changes = ml_changes_new (); /* not the dictionary's: somebody may be about to use those */
  int sized[2];

  init_solution (dictionary, condition, ret_at);
  if (ml_expansion_list_changes (dictionary, changes, expansion, condition, sized)
      && ml_nodal_solution_unpack (dictionary->model->conditions[condition].solver, (const MlNodalChange *) (gpointer) changes->array->data,
                                   (int) changes->array->len, &expansion->at[condition], ret_at) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  ml_changes_free (changes);
}

const MlNodalSolution *
ml_expansion_at (MlDictionary *dictionary, MlExpansion *expansion, int condition)
{
  MlNodalSolution whole;

  if (expansion->at[condition].pin_a)
    return &expansion->at[condition];
  unpack (dictionary, expansion, condition, &whole);
  ml_nodal_solution_clear (&expansion->at[condition]);
  expansion->at[condition] = whole;
  return &expansion->at[condition];
}

const MlNodalSolution *
ml_expansion_look_at (MlDictionary *dictionary, MlExpansion *expansion, int condition)
{
  if (expansion->at[condition].pin_a)
    return &expansion->at[condition];
  if (dictionary->looked_at_of == expansion && dictionary->looked_at_in == condition)
    return &dictionary->looked_at;
  ml_nodal_solution_clear (&dictionary->looked_at);
  dictionary->looked_at_of = NULL; /* unpacking may look at others */
  unpack (dictionary, expansion, condition, &dictionary->looked_at);
  dictionary->looked_at_of = expansion;
  dictionary->looked_at_in = condition;
  return &dictionary->looked_at;
}

/* ---- solving ---- */

void
ml_expansion_make_packed_room (MlDictionary *dictionary, MlExpansion *expansion, int condition)
{
  if (ml_nodal_solution_init_packed_in (&expansion->at[condition], dictionary->model->conditions[condition].circuit,
                                        ml_dictionary_room (dictionary, condition)) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  expansion->state[condition] = 2;
}

/* Not solved until somebody says otherwise. */
void
ml_expansion_make_room (MlDictionary *dictionary, MlExpansion *expansion, int condition)
{
  if (!dictionary->packs && ml_expansion_stays (dictionary, expansion))
    init_solution_in_room (dictionary, condition, &expansion->at[condition]);
  else
    init_solution (dictionary, condition, &expansion->at[condition]);
  expansion->state[condition] = 2;
}

/* An item of the dictionary just as ml_dictionary_prepare has it: what does not settle from the healthy point is tried from its neighbours. */
static MlNodalStatus
solve_item (MlDictionary *dictionary, MlExpansion *expansion, int condition, const MlNodalSolution *from)
{
  MlNodalSolver *solver = dictionary->model->conditions[condition].solver;
  MlNodalVariant variant = { .start = from, .ret_solution = &expansion->at[condition] };
  MlExpansion *neighbours[ML_NODAL_MOST_ALSO];
  const GArray *changes = dictionary->built[condition].changes->array;
  MlNodalStatus status = ml_nodal_solve_warm (solver, (const MlNodalChange *) (gpointer) changes->data, (int) changes->len, from, variant.ret_solution);
  int sized[2];

  if (status >= 0)
    return status;
  ml_dictionary_neighbours (dictionary, (guint) expansion->item, condition, neighbours);
  for (guint i = 0; i < ML_NODAL_MOST_ALSO && neighbours[i]; i++)
    {
      ml_expansion_solve (dictionary, neighbours[i], condition, NULL);
      variant.also[i] = &neighbours[i]->at[condition];
    }
  ml_expansion_build_changes (dictionary, expansion, condition, sized); /* those of the neighbours may lie there */
  variant.changes = (const MlNodalChange *) (gpointer) changes->data;
  variant.n_changes = (int) changes->len;
  if (ml_nodal_solve_variants (solver, &variant, 1) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  return variant.ret_solution->status;
}

gboolean
ml_expansion_solve (MlDictionary *dictionary, MlExpansion *expansion, int condition, const MlExpansion *start)
{
  MlModelCondition *own = &dictionary->model->conditions[condition];
  const MlNodalSolution *from;
  const GArray *changes;
  MlNodalStatus status;
  int sized[2];

  if (expansion->state[condition] || !own->solver)
    return expansion->state[condition] == 1;
  ml_expansion_make_room (dictionary, expansion, condition);
  if (!ml_expansion_build_changes (dictionary, expansion, condition, sized))
    return FALSE;
  from = ml_expansion_find_start (dictionary, expansion, condition, start);
  changes = dictionary->built[condition].changes->array;
  if (from && !start && expansion->second < 0 && expansion->item >= (int) dictionary->model->n_nodes && expansion == dictionary->expansions[expansion->item])
    status = solve_item (dictionary, expansion, condition, from);
  else if (expansion->second < 0 && expansion->item < (int) dictionary->model->n_nodes && expansion == dictionary->expansions[expansion->item])
    status = ml_nodal_solve_patiently (own->solver, (const MlNodalChange *) (gpointer) changes->data, (int) changes->len, from, &expansion->at[condition]);
  else
    status = ml_nodal_solve (own->solver, (const MlNodalChange *) (gpointer) changes->data, (int) changes->len, from, &expansion->at[condition]);
  /* All others start from this one and stay in its state. */
  if (status >= 0 && from == NULL
      && ml_nodal_seek_states (own->solver, (const MlNodalChange *) (gpointer) changes->data, (int) changes->len, &expansion->at[condition])
           == ML_NODAL_NO_MEMORY)
    g_error ("out of memory"); /* as g_malloc does */
  if (status >= 0)
    expansion->state[condition] = 1;
  return status >= 0;
}
