/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The circuits of a board, one per condition, built device by device. */
#include "verdict/translate-private.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

/* ---- one condition ---- */

static int
reference_net (const MlBoard *board, const MlCondition *condition)
{
  if (board->reference >= 0)
    return board->reference;
  return condition->n_supplies ? condition->supplies[0].minus : 0;
}

/* Voltages of supplies and batteries in sum; the nets at the top and the bottom of them. */
static void
find_rails (MlModelCondition *own, const MlBoard *board, const MlCondition *condition)
{
  double least = 0, most = 0;

  for (guint i = 0; i < condition->n_supplies; i++)
    {
      const MlSupply *supply = &condition->supplies[i];
      double top = own->net_of[supply->plus] ? supply->voltage_v : 0, bottom = own->net_of[supply->plus] ? 0 : -supply->voltage_v;

      own->rails_v += fabs (supply->voltage_v);
      if (top > most)
        {
          most = top;
          own->high = own->net_of[supply->plus];
        }
      if (bottom < least)
        {
          least = bottom;
          own->low = own->net_of[supply->minus];
        }
    }
  for (guint i = 0; i < board->n_parts; i++)
    {
      MlParameter volts;
      int plus = board->parts[i].kind->kind == ML_KIND_BATTERY ? ml_part_find_pin (&board->parts[i], "plus") : -1;

      if (plus < 0 || board->parts[i].pins[plus].net < 0 || !ml_part_parameter (&board->parts[i], "voltage", &volts))
        continue;
      own->rails_v += fabs (volts.centre);
      if (volts.centre > most)
        {
          most = volts.centre;
          own->high = own->net_of[board->parts[i].pins[plus].net];
        }
    }
}

static void
add_nets (MlModelCondition *own, const MlBoard *board, const MlCondition *condition)
{
  int reference = reference_net (board, condition);

  own->net_of = g_new (int, MAX (board->n_nets, 1));
  for (guint i = 0; i < board->n_nets; i++)
    own->net_of[i] = (int) i == reference ? 0 : ml_nodal_circuit_add_net (own->circuit);
  find_rails (own, board, condition);
}

static gboolean
is_lifted (const MlBuilder *builder, const MlCondition *condition, int part, int pin)
{
  const MlUnitOnBench *unit = builder->variant ? builder->variant->unit : NULL;

  for (guint i = 0; i < condition->n_removals; i++)
    if (condition->removals[i].part == part)
      return TRUE;
  for (guint i = 0; i < condition->n_lifts; i++)
    if (condition->lifts[i].part == part && condition->lifts[i].pin == pin)
      return TRUE;
  for (guint i = 0; unit && i < unit->n_differences; i++)
    {
      const MlDifference *difference = &unit->differences[i];
      if (difference->pass > builder->variant->pass || difference->part != part)
        continue;
      if (difference->what == ML_DIFFERS_REMOVED || (difference->what == ML_DIFFERS_LIFTED && difference->pin == pin))
        return TRUE;
    }
  return FALSE;
}

/* The engine's net at a part's pin in one condition, -1 when the pin is open there. */
int
ml_builder_net_at (const MlBuilder *builder, int condition, int part, int pin)
{
  const MlBoard *board = builder->model->board;
  int net = board->parts[part].pins[pin].net;

  if (net < 0 || is_lifted (builder, &board->conditions[condition], part, pin))
    return -1;
  return builder->model->conditions[condition].net_of[net];
}

void
ml_builder_note_status (MlModelCondition *own, int device)
{
  if (device < 0 && own->status == ML_NODAL_OK)
    own->status = device;
}

void
ml_builder_set_parameter (const MlNodalType *type, double *parameters, const char *name, double value)
{
  int i = ml_nodal_type_find_parameter (type, name);

  if (i >= 0)
    parameters[i] = value;
}

/* ---- like parts ---- */

static gboolean
are_alike (const MlModel *model, const MlUnknown *a, const MlUnknown *b)
{
  const MlPart *part_a, *part_b;

  if (a->block || b->block || a->chopped || b->chopped || a->leak || a->part < 0 || b->part < 0 || a->parameter != b->parameter || a->shared <= 0)
    return FALSE;
  part_a = &model->board->parts[a->part];
  part_b = &model->board->parts[b->part];
  return part_a->kind == part_b->kind && a->centre == b->centre && g_strcmp0 (part_a->datasheet, part_b->datasheet) == 0;
}

/* Like parts share one z; a part without a like keeps all its spread to itself. */
static void
group_unknowns (MlModel *model)
{
  for (guint i = 0; i < model->n_unknowns; i++)
    for (guint j = 0; j < i && model->unknowns[i].group < 0; j++)
      if (are_alike (model, &model->unknowns[i], &model->unknowns[j]))
        {
          if (model->unknowns[j].group < 0)
            model->unknowns[j].group = model->n_unknowns + model->n_groups++;
          model->unknowns[i].group = model->unknowns[j].group;
        }
  model->n_z = model->n_unknowns + model->n_groups;
}

/* ---- finishing ---- */

static void
apply_relations (const MlModel *model, int c)
{
  const MlBoard *board = model->board;
  MlModelCondition *own = &model->conditions[c];

  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].by >= 0 && model->first_device[i] >= 0 && model->first_device[board->parts[i].by] >= 0
        && !ml_condition_setting (&board->conditions[c], i))
      ml_builder_note_status (own, ml_nodal_circuit_drive (own->circuit, model->first_device[i], model->first_device[board->parts[i].by]));
  for (guint i = 0; i < board->n_nets; i++)
    if (board->nets[i].prefer)
      ml_builder_note_status (own, ml_nodal_circuit_prefer (own->circuit, own->net_of[i], board->nets[i].prefer));
  for (guint i = 0; model->preferred && i < model->preferred->len; i++)
    {
      const MlPreferred *one = &g_array_index (model->preferred, MlPreferred, i);

      if (one->condition == c)
        ml_builder_note_status (own, ml_nodal_circuit_prefer (own->circuit, own->net_of[one->net], one->high));
    }
}

/* Of an average current nobody knows as yet where its centre will be. */
static double
sway_of (const MlUnknown *unknown)
{
  return unknown->chopped ? INFINITY : unknown->spread * (unknown->log ? fabs (unknown->centre) : 1);
}

static void
collect_refs (const MlModel *model, int c)
{
  MlModelCondition *own = &model->conditions[c];

  own->refs = g_new (MlNodalParameterRef, MAX (model->n_unknowns, 1));
  own->unknown = g_new (guint, MAX (model->n_unknowns, 1));
  own->sway = g_new (double, MAX (model->n_unknowns, 1));
  own->block = g_new (guint, MAX (model->n_unknowns, 1));
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].condition < 0 || model->unknowns[i].condition == c)
      {
        own->refs[own->n_refs] = (MlNodalParameterRef){ model->unknowns[i].device, model->unknowns[i].parameter };
        own->sway[own->n_refs] = sway_of (&model->unknowns[i]);
        own->unknown[own->n_refs++] = i;
        if (model->unknowns[i].block)
          own->block[own->n_blocks++] = i;
      }
}

static void
finish_condition (const MlModel *model, int c)
{
  MlModelCondition *own = &model->conditions[c];

  apply_relations (model, c);
  collect_refs (model, c);
  if (own->status >= 0)
    own->status = ml_nodal_circuit_finish (own->circuit);
  if (own->status >= 0)
    own->solver = ml_nodal_solver_new (own->circuit, &own->status);
}

MlModel *
ml_model_new (MlBoard *board, const MlVariant *variant)
{
  MlModel *model = g_new0 (MlModel, 1);
  MlBuilder builder = { .model = model, .variant = variant, .unknowns = g_array_new (FALSE, FALSE, sizeof (MlUnknown)) };

  model->board = ml_board_ref (board);
  model->conditions = g_new0 (MlModelCondition, MAX (board->n_conditions, 1));
  model->first_device = g_new (int, MAX (board->n_parts, 1));
  model->pins = g_new0 (MlDevicePin *, MAX (board->n_parts, 1));
  model->block_current = g_new0 (int *, MAX (board->n_parts, 1));
  model->removed = g_new0 (gboolean, MAX (board->n_parts, 1));
  model->n_levels = 1;
  model->node_step = ml_assumption ("block.node-step");
  model->input_ohm = ml_assumption ("block.input-ohm");
  model->preferred = variant && variant->preferred ? g_array_copy (variant->preferred) : NULL;
  model->chopped = ml_chopped_find (board);
  model->free_current = g_new (int, MAX (board->n_parts, 1));
  for (guint c = 0; c < board->n_conditions; c++)
    {
      model->conditions[c].circuit = ml_nodal_circuit_new ();
      if (!model->conditions[c].circuit)
        g_error ("out of memory"); /* as g_malloc does */
      add_nets (&model->conditions[c], board, &board->conditions[c]);
    }
  for (guint i = 0; i < board->n_parts; i++)
    {
      model->first_device[i] = model->free_current[i] = -1;
      model->pins[i] = g_new0 (MlDevicePin, MAX (board->parts[i].n_pins, 1));
      ml_builder_add_part (&builder, i);
      if (board->parts[i].kind->kind == ML_KIND_BLOCK)
        model->n_levels = 3;
    }
  for (guint i = 0; variant && variant->unit && i < variant->unit->n_differences; i++)
    if (variant->unit->differences[i].what == ML_DIFFERS_REMOVED && variant->unit->differences[i].pass <= variant->pass)
      model->removed[variant->unit->differences[i].part] = TRUE;
  for (guint i = 0; i < board->n_nets; i++)
    model->any_switching |= board->nets[i].switching;
  for (guint c = 0; c < board->n_conditions; c++)
    {
      ml_builder_add_supplies (&builder, c);
      ml_builder_add_loads_and_links (&builder, c);
      ml_builder_add_leaks (&builder, c);
    }
  model->n_unknowns = builder.unknowns->len;
  model->unknowns = (MlUnknown *) (gpointer) g_array_free (builder.unknowns, FALSE);
  group_unknowns (model);
  ml_builder_list_states (model);
  for (guint c = 0; c < board->n_conditions; c++)
    finish_condition (model, c);
  ml_builder_find_free_centres (model);
  return model;
}
