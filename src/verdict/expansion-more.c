/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fault that bridges a chopped net lets more average current flow than the sound board does. */
#include "verdict/expansion-private.h"

#include "verdict/assumptions.h"

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
double
ml_expansion_more (MlDictionary *dictionary, const MlExpansion *expansion, guint unknown)
{
  const double *first = more_of (dictionary, (guint) expansion->item), *second = expansion->second < 0 ? NULL : more_of (dictionary, (guint) expansion->second);

  return MAX (first ? first[unknown] : 1, second ? second[unknown] : 1);
}

void
ml_expansion_find_more (MlDictionary *dictionary, const MlExpansion *expansion)
{
  if (dictionary->model->n_states < 2)
    return;
  more_of (dictionary, (guint) expansion->item);
  if (expansion->second >= 0)
    more_of (dictionary, (guint) expansion->second);
}
