/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fault of a part whose value nobody could read may be that value: a joint of 470 kohm at a resistor taken for 2.2 kohm is a resistor of 470 kohm. A fit
 * of the sound part does not find that by itself: between the two lie values that nothing speaks for. */
#include "verdict/case.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

/* The unknown that is the part's resistance, -1 when it was read or is none. */
static int
unread_value (const MlModel *model, int part)
{
  const double least = ml_assumption ("found.unread");
  const char *name = part >= 0 ? ml_modes_main_parameter (model->board->parts[part].kind->kind) : NULL;
  const MlNodalType *type = name ? ml_nodal_type_find (model->board->parts[part].kind->word) : NULL;
  int parameter = type ? ml_nodal_type_find_parameter (type, name) : -1;

  for (guint i = 0; i < model->n_unknowns && parameter >= 0; i++)
    if (model->unknowns[i].part == part && model->unknowns[i].device == model->first_device[part] && model->unknowns[i].parameter == parameter
        && model->unknowns[i].log && model->unknowns[i].spread >= least)
      return (int) i;
  return -1;
}

gboolean
ml_case_fault_as_value (const MlCase *own, guint item, double *z)
{
  const MlModel *model = own->dictionary->model;
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, item);
  const MlCell *cell = &hypothesis->cells[own->dictionary->items[item].cell];
  int at = model->carried ? -1 : unread_value (model, hypothesis->fault.part);
  double size = cell->size * exp (cell->spread * z[model->n_z]), value;

  if (at < 0 || hypothesis->explains != ML_EXPLAINS_FAULT || !isfinite (size))
    return FALSE;
  value = model->unknowns[at].centre * exp (model->unknowns[at].spread * z[at]);
  if (hypothesis->fault.kind == ML_FAULT_JOINT && model->board->parts[hypothesis->fault.part].n_pins == 2)
    value += size;
  else if (hypothesis->fault.kind == ML_FAULT_HIGH || hypothesis->fault.kind == ML_FAULT_LOW)
    value *= size;
  else
    return FALSE;
  z[at] = log (value / model->unknowns[at].centre) / model->unknowns[at].spread;
  return TRUE;
}
