/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/model.h"

#include "verdict/assumptions.h"

#include <math.h>

void
ml_model_free (MlModel *model)
{
  if (!model)
    return;
  for (guint c = 0; c < model->board->n_conditions; c++)
    {
      ml_nodal_solver_free (model->conditions[c].solver);
      ml_nodal_circuit_free (model->conditions[c].circuit);
      g_free (model->conditions[c].net_of);
      g_free (model->conditions[c].supply_device);
      g_free (model->conditions[c].refs);
      g_free (model->conditions[c].unknown);
      g_free (model->conditions[c].sway);
      g_free (model->conditions[c].block);
    }
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      g_free (model->pins[i]);
      g_free (model->block_current[i]);
    }
  g_free (model->pins);
  g_free (model->block_current);
  g_free (model->conditions);
  g_free (model->first_device);
  g_free (model->removed);
  g_clear_pointer (&model->preferred, g_array_unref);
  g_free (model->unknowns);
  g_free (model->free_current);
  g_free (model->runs);
  ml_chopped_free (model->chopped);
  ml_carried_free (model->carried);
  ml_board_unref (model->board);
  g_free (model);
}

/* ---- good units ---- */

void
ml_model_carry (MlModel *model, MlCarried *carried)
{
  model->carried = carried;
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].block && carried->known[i])
      {
        model->unknowns[i].spread = ml_model_block_spread (model, i);
        model->unknowns[i].deviation = model->n_deviations++;
      }
}

double
ml_model_block_spread (const MlModel *model, guint unknown)
{
  double step = model->node_step, own = model->unknowns[unknown].spread;

  return model->unknowns[unknown].deviation >= 0 ? own : sqrt (own * own + 2 * step * step / 3);
}

double *
ml_model_pin_volts (const MlModel *model, int condition, const MlNodalSolution *at)
{
  GArray *volts = g_array_new (FALSE, FALSE, sizeof (double));

  for (guint i = 0; i < model->board->n_parts; i++)
    for (guint p = 0; model->block_current[i] && p < model->board->parts[i].n_pins; p++)
      {
        MlDevicePin pin = model->pins[i][p];
        double v = pin.device >= 0 ? ml_nodal_solution_metal_v (model->conditions[condition].circuit, at, pin.device, pin.pin) : NAN;

        g_array_append_val (volts, v);
      }
  return (double *) (gpointer) g_array_free (volts, volts->len == 0);
}

/* ---- asking ---- */

gboolean
ml_model_point (const MlModel *model, int condition, const MlProbe *probe, MlNodalPoint *ret_point)
{
  const MlBoard *board = model->board;
  int net = probe->net;

  if (probe->part >= 0 && probe->pin >= 0)
    {
      MlDevicePin pin = model->pins[probe->part][probe->pin];

      if (probe->lead && pin.device >= 0)
        {
          *ret_point = (MlNodalPoint){ -1, pin.device, pin.pin };
          return TRUE;
        }
      net = board->parts[probe->part].pins[probe->pin].net;
    }
  if (net < 0)
    return FALSE;
  *ret_point = (MlNodalPoint){ model->conditions[condition].net_of[net], -1, -1 };
  return TRUE;
}

const MlNodalType *
ml_model_type (const MlModel *model, int part)
{
  if (model->first_device[part] < 0 || model->board->parts[part].kind->kind == ML_KIND_BLOCK)
    return NULL;
  return ml_nodal_type_find (model->board->parts[part].kind->word);
}

guint
ml_model_level (const MlModel *model, guint node)
{
  return node % model->n_levels;
}

guint
ml_model_usual (const MlModel *model)
{
  return model->n_levels / 2;
}

guint
ml_model_middle (const MlModel *model, guint node)
{
  return node - ml_model_level (model, node) + model->n_levels / 2;
}

gboolean
ml_model_runs (const MlModel *model, guint node, int condition)
{
  return condition < 32 && (model->runs[node / model->n_levels] >> condition & 1u);
}

/* A sound board mostly switches, and a faulty one as often as not; a chip that does not switch does so nowhere. */
double
ml_model_state_share (const MlModel *model, MlExplains explains, MlFaultKind kind, guint state)
{
  gboolean faulty = explains == ML_EXPLAINS_FAULT;
  double stopped = ml_assumption (faulty ? "chopped.fault-stopped" : "chopped.sound-stopped"), mixed = 0;

  if (kind == ML_FAULT_STOPPED)
    return state == 1;
  if (model->n_states > 2)
    mixed = stopped * ml_assumption ("chopped.mixed");
  if (model->n_states < 2)
    return 1;
  return state == 0 ? 1 - stopped : state == 1 ? stopped - mixed : mixed / (model->n_states - 2);
}

static double
bent (const MlUnknown *own, double value)
{
  return own->most > 0 ? value * (own->most + own->centre) / (own->most + value) : value;
}

static gboolean
moves_with_node (const MlModel *model, const MlUnknown *unknown)
{
  return unknown->block && model->n_levels == 3 && unknown->deviation < 0;
}

double
ml_model_node_shift (const MlModel *model, guint unknown, guint from, guint to)
{
  const MlUnknown *own = &model->unknowns[unknown];

  return moves_with_node (model, own) ? ((double) ml_model_level (model, from) - ml_model_level (model, to)) * model->node_step / own->spread : 0;
}

double
ml_model_input_z (const MlModel *model, guint unknown, guint node)
{
  const MlUnknown *own = &model->unknowns[unknown];

  return log (model->input_ohm / own->centre) / own->spread + ml_model_node_shift (model, unknown, ml_model_middle (model, node), node);
}

gboolean
ml_model_is_input (const MlModel *model, guint unknown, const double *z, guint node)
{
  return z && model->unknowns[unknown].signal && fabs (z[unknown] - ml_model_input_z (model, unknown, node)) < 1e-9;
}

double
ml_model_parameter_value (const MlModel *model, guint unknown, const double *z, guint node)
{
  const MlUnknown *own = &model->unknowns[unknown];
  double u = 0, shift = 0;

  if (z && own->group >= 0)
    u = sqrt (1 - own->shared) * z[unknown] + sqrt (own->shared) * z[own->group];
  else if (z)
    u = z[unknown];
  if (own->chopped && !ml_model_runs (model, node, own->condition))
    return 0;
  if (moves_with_node (model, own))
    shift = ((double) ml_model_level (model, node) - 1) * model->node_step;
  if (!own->log)
    return own->centre + own->spread * u;
  return bent (own, own->centre * exp (shift + own->spread * u));
}
