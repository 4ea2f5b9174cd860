/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Free average currents: what flows on a chopped net is known to no d.c. law. */
#include "verdict/translate-private.h"

#include "verdict/assumptions.h"

#include <math.h>

/* From one net of each condition to another. A chopped net stays between the rails, one at the other end may lie as far beyond them as a converter
 * takes it. The circuits hold them at 0 A: nothing switches. */
void
ml_builder_add_free_current (MlBuilder *builder, int part, const MlChoppedPath *path, const int *from, const int *to)
{
  const MlNodalType *type = ml_nodal_type_find ("chopped-current");
  const MlModel *model = builder->model;
  const MlPart *own = &model->board->parts[part];
  double beyond = ml_assumption ("chopped.beyond");
  int current = ml_nodal_type_find_parameter (type, "current");
  gboolean transistor = own->kind->kind != ML_KIND_DIODE && own->kind->kind != ML_KIND_BLOCK;

  for (guint c = 0; c < model->board->n_conditions; c++)
    {
      const MlModelCondition *condition = &model->conditions[c];
      int nets[4] = { from[c], to[c], condition->low, condition->high };
      double values[8] = { 0 };
      MlUnknown unknown = { .device = builder->n_devices, .parameter = current, .part = part, .condition = (int) c, .log = TRUE, .chopped = TRUE,
                            .spread = ml_assumption ("chopped.spread"), .group = -1, .deviation = -1, .carried = ml_assumption ("carried.chopped") };

      ml_builder_set_parameter (type, values, "width", transistor ? ml_nodal_type_default (type, ml_nodal_type_find_parameter (type, "width"))
                                                        : ml_assumption ("chopped.width") * MAX (condition->rails_v, 1));
      ml_builder_set_parameter (type, values, "reach", model->chopped->nets[own->pins[path->to].net] ? 0 : beyond * condition->rails_v);
      ml_builder_set_parameter (type, values, "depth", model->chopped->nets[own->pins[path->from].net] ? 0 : beyond * condition->rails_v);
      ml_builder_note_status (&model->conditions[c], ml_nodal_circuit_add_device (condition->circuit, type, nets, values));
      if (condition->rails_v > 0)
        g_array_append_val (builder->unknowns, unknown);
    }
  if (model->free_current[part] < 0)
    model->free_current[part] = builder->n_devices;
  builder->n_devices++;
}

void
ml_builder_add_free_currents (MlBuilder *builder, int part)
{
  const MlModel *model = builder->model;
  guint n = model->board->n_conditions;
  g_autofree int *from = g_new0 (int, MAX (n, 1)), *to = g_new0 (int, MAX (n, 1));

  for (guint k = 0; model->chopped->paths[part] && k < model->chopped->paths[part]->len; k++)
    {
      const MlChoppedPath *path = &g_array_index (model->chopped->paths[part], MlChoppedPath, k);

      for (guint c = 0; c < n; c++)
        {
          from[c] = ml_builder_net_at (builder, (int) c, part, path->from);
          to[c] = ml_builder_net_at (builder, (int) c, part, path->to);
        }
      ml_builder_add_free_current (builder, part, path, from, to);
    }
}

/* What a net can give at most, nothing else in the way: so much that the rails end it. */
double
ml_model_most_amps (const MlModel *model, guint unknown, const MlChanges *added)
{
  const MlUnknown *own = &model->unknowns[unknown];
  const MlModelCondition *condition = &model->conditions[own->condition];
  MlChanges *changes = ml_changes_new ();
  MlNodalSolution at;
  double most = 0;

  if (ml_nodal_solution_init (&at, condition->circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  ml_changes_add_switching (changes, model, own->condition, 0, NULL, NULL, NULL, 0);
  for (guint i = 0; i < model->n_unknowns; i++) /* alone */
    if (model->unknowns[i].chopped && model->unknowns[i].condition == own->condition)
      ml_changes_add (changes, ML_NODAL_SET_PARAMETER, model->unknowns[i].device, model->unknowns[i].parameter, 0, 0);
  if (added)
    g_array_append_vals (changes->array, added->array->data, added->array->len);
  ml_changes_add (changes, ML_NODAL_SET_PARAMETER, own->device, own->parameter, 0, ml_assumption ("chopped.most-amps"));
  if (ml_nodal_solve (condition->solver, (const MlNodalChange *) (gpointer) changes->array->data, (int) changes->array->len, NULL, &at) >= 0)
    most = fabs (at.pin_a[ml_nodal_circuit_first_pin (condition->circuit, own->device)]);
  ml_nodal_solution_clear (&at);
  ml_changes_free (changes);
  return most;
}

/* By volt-second balance a switch at duty d carries d^2 of it and the diode d (1 - d). */
void
ml_builder_find_free_centres (MlModel *model)
{
  g_autofree double *most = g_new0 (double, MAX (model->n_unknowns, 1)); 

  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].chopped && model->conditions[model->unknowns[i].condition].solver)
      most[i] = ml_model_most_amps (model, i, NULL);
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].chopped)
      model->unknowns[i].centre = MAX (ml_assumption ("chopped.share") * most[i], ml_assumption ("chopped.least-amps"));
}

/* Switching wherever there is a supply, nowhere, and with several conditions one or all but one of them. */
void
ml_builder_list_states (MlModel *model)
{
  guint32 can = 0;
  g_autoptr (GArray) states = g_array_new (FALSE, FALSE, sizeof (guint32));

  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].chopped && model->unknowns[i].condition < 32)
      can |= 1u << model->unknowns[i].condition;
  g_array_append_val (states, can);
  for (guint c = 0; can && c <= 2 * 32; c++)
    {
      guint32 one = c < 1 ? 0 : 1u << ((c - 1) % 32), state = c < 1 ? 0 : c < 33 ? can & one : can & ~one;
      gboolean listed = FALSE;

      for (guint k = 0; k < states->len; k++)
        listed |= g_array_index (states, guint32, k) == state;
      if (!listed && (c < 1 || (can & one)))
        g_array_append_val (states, state);
    }
  model->n_states = states->len;
  model->runs = g_memdup2 (states->data, states->len * sizeof (guint32));
  model->n_nodes = model->n_levels * model->n_states;
}
