/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts and blocks as devices, and what is uncertain about each. */
#include "verdict/translate-private.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

/* ---- unknowns ---- */

static void
add_unknown (MlBuilder *builder, int device, int parameter, int part, const MlParameter *from)
{
  MlUnknown unknown = { .device = device, .parameter = parameter, .part = part, .condition = -1, .centre = from->centre,
                        .spread = from->spread, .most = from->most, .log = from->log, .shared = from->shared, .group = -1, .deviation = -1,
                        .carried = ml_assumption_carried (builder->model->board->parts[part].kind->kind, from->name, from->carried) };

  if (from->spread > 0 && isfinite (from->spread) && isfinite (from->centre) && (!from->log || from->centre > 0))
    g_array_append_val (builder->unknowns, unknown);
}

/* A knob is turned from condition to condition: how far is one unknown in each of them, little where the condition says how far. */
static void
add_position_unknowns (MlBuilder *builder, int device, int parameter, int part, const MlParameter *from)
{
  const MlBoard *board = builder->model->board;

  for (guint c = 0; c < board->n_conditions; c++)
    {
      const MlSetting *setting = ml_condition_setting (&board->conditions[c], part);
      MlUnknown unknown = { .device = device, .parameter = parameter, .part = part, .condition = (int) c, .group = -1, .deviation = -1 };

      unknown.centre = setting ? setting->position : from->centre;
      unknown.spread = setting ? ml_position_spread () : from->spread;
      g_array_append_val (builder->unknowns, unknown);
    }
}

static gboolean
is_set_somewhere (const MlBoard *board, int part)
{
  for (guint c = 0; c < board->n_conditions; c++)
    if (ml_condition_setting (&board->conditions[c], part))
      return TRUE;
  return FALSE;
}

static void
add_block_unknowns (MlBuilder *builder, int device, int parameter, int part, const double *centres, const double *spreads, gboolean signal,
                    gboolean high)
{
  double step = ml_assumption ("block.node-step");

  for (guint c = 0; c < builder->model->board->n_conditions; c++)
    {
      double spread = spreads[c];
      MlUnknown unknown = { .device = device, .parameter = parameter, .part = part, .condition = c, .centre = centres[c], .log = TRUE,
                            .block = TRUE, .signal = signal, .high = high, .group = -1, .deviation = -1,
                            .carried = ml_assumption (signal ? "carried.block" : "carried.draws") };
      /* Three equally likely nodes one step apart already hold 2/3 step^2 of the variance. */
      unknown.spread = sqrt (MAX (spread * spread - 2 * step * step / 3, 0.25));
      g_array_append_val (builder->unknowns, unknown);
    }
}

/* ---- parts ---- */

/* The part as fitted on this unit: the attributes of the difference come before those of the board. */
static MlPart
fitted_part (const MlBuilder *builder, int part, MlAttribute **ret_attributes)
{
  const MlUnitOnBench *unit = builder->variant ? builder->variant->unit : NULL;
  MlPart copy = builder->model->board->parts[part];

  *ret_attributes = NULL;
  for (guint i = 0; unit && i < unit->n_differences; i++)
    {
      const MlDifference *difference = &unit->differences[i];
      MlAttribute *all;

      if (difference->what != ML_DIFFERS_FITTED || difference->part != part || difference->pass > builder->variant->pass)
        continue;
      all = g_new (MlAttribute, difference->n_attributes + copy.n_attributes);
      memcpy (all, difference->attributes, difference->n_attributes * sizeof *all);
      if (copy.n_attributes)
        memcpy (all + difference->n_attributes, copy.attributes, copy.n_attributes * sizeof *all);
      copy.n_attributes += difference->n_attributes;
      copy.attributes = all;
      g_free (*ret_attributes);
      *ret_attributes = all;
    }
  return copy;
}

/* Switch positions of the condition. The engine's "state": of a switch or contact 1 closed, 0 open; of a changeover 0 a, 1 b, 2 neither. */
static void
apply_setting (const MlNodalType *type, const MlPart *part, const MlSetting *setting, double *parameters)
{
  if (!setting)
    return;
  switch (setting->state)
    {
    case ML_SETTING_OPEN: ml_builder_set_parameter (type, parameters, "state", 0); break;
    case ML_SETTING_CLOSED: ml_builder_set_parameter (type, parameters, "state", 1); break;
    case ML_SETTING_A: ml_builder_set_parameter (type, parameters, "state", 0); break;
    case ML_SETTING_B: ml_builder_set_parameter (type, parameters, "state", 1); break;
    case ML_SETTING_MIDDLE: ml_builder_set_parameter (type, parameters, "state", 2); break;
    case ML_SETTING_POSITION: ml_builder_set_parameter (type, parameters, "position", setting->position); break;
    default: break;
    }
}

/* Index of the part's pin with the meaning of the type's pin: by word, and for kinds with two sets of words by position. */
static int
pin_for (const MlPart *part, const char *word)
{
  int pin = ml_part_find_pin (part, word);

  for (guint i = 0; pin < 0 && part->kind->pins[i] && part->kind->pins_also && part->kind->pins_also[i]; i++)
    if (g_str_equal (part->kind->pins[i], word))
      pin = ml_part_find_pin (part, part->kind->pins_also[i]);
  return pin;
}

static void
add_plain_part (MlBuilder *builder, int index, const MlNodalType *type)
{
  MlModel *model = builder->model;
  MlAttribute *attributes;
  MlPart part = fitted_part (builder, index, &attributes);
  int n_pins = ml_nodal_type_n_pins (type), n_parameters = ml_nodal_type_n_parameters (type);
  g_autofree double *centres = g_new0 (double, MAX (n_parameters, 1));
  g_autofree double *values = g_new0 (double, MAX (n_parameters, 1));
  g_autofree int *nets = g_new (int, n_pins);

  model->first_device[index] = builder->n_devices;
  for (int p = 0; p < n_pins; p++)
    {
      int pin = pin_for (&part, ml_nodal_type_pin (type, p));
      if (pin >= 0)
        model->pins[index][pin] = (MlDevicePin){ builder->n_devices, p };
    }
  for (int k = 0; k < n_parameters; k++)
    {
      MlParameter parameter;

      centres[k] = ml_nodal_type_default (type, k);
      if (!ml_part_parameter (&part, ml_nodal_type_parameter (type, k), &parameter))
        continue;
      centres[k] = parameter.centre;
      if (strcmp (parameter.name, "position") == 0 && is_set_somewhere (model->board, index))
        add_position_unknowns (builder, builder->n_devices, k, index, &parameter);
      else
        add_unknown (builder, builder->n_devices, k, index, &parameter);
    }
  for (guint c = 0; c < model->board->n_conditions; c++)
    {
      for (int p = 0; p < n_pins; p++)
        {
          int pin = pin_for (&part, ml_nodal_type_pin (type, p));
          nets[p] = pin < 0 ? -1 : ml_builder_net_at (builder, c, index, pin);
        }
      if (n_parameters)
        memcpy (values, centres, n_parameters * sizeof *values);
      apply_setting (type, &part, ml_condition_setting (&model->board->conditions[c], index), values);
      ml_builder_note_status (&model->conditions[c], ml_nodal_circuit_add_device (model->conditions[c].circuit, type, nets, values));
    }
  builder->n_devices++;
  g_free (attributes);
  ml_builder_add_free_currents (builder, index);
}

/* ---- blocks ---- */

/* A device between two of the engine's nets; they and its value are per condition (values NULL: 0 in each). */
static void
add_between (MlBuilder *builder, const MlNodalType *type, const int *net_a, const int *net_b, const char *name, const double *values)
{
  int n = ml_nodal_type_n_parameters (type);
  g_autofree double *parameters = g_new0 (double, MAX (n, 1));

  for (int k = 0; k < n; k++)
    parameters[k] = ml_nodal_type_default (type, k);
  for (guint c = 0; c < builder->model->board->n_conditions; c++)
    {
      int nets[2] = { net_a[c], net_b[c] };
      ml_builder_set_parameter (type, parameters, name, values ? values[c] : 0);
      ml_builder_note_status (&builder->model->conditions[c],
                   ml_nodal_circuit_add_device (builder->model->conditions[c].circuit, type, nets, parameters));
    }
  builder->n_devices++;
}

static void
add_conductance (MlBuilder *builder, int index, const int *net_a, const int *net_b, gboolean signal, gboolean high)
{
  const MlNodalType *type = ml_nodal_type_find ("resistor");
  const MlBoard *board = builder->model->board;
  g_autofree double *centres = g_new (double, MAX (board->n_conditions, 1));
  g_autofree double *spreads = g_new (double, MAX (board->n_conditions, 1));

  for (guint c = 0; c < board->n_conditions; c++)
    {
      const char *ohm = "block.centre-ohm", *spread = "block.spread";
      if (signal)
        ohm = "block.signal-ohm", spread = "block.signal-spread";
      else if (ml_condition_is_cold (&board->conditions[c]))
        ohm = "block.cold-ohm", spread = "block.cold-spread"; /* a sound chip without supply takes next to nothing of a meter's small voltage */
      centres[c] = ml_assumption (ohm);
      spreads[c] = ml_assumption (spread);
    }
  add_block_unknowns (builder, builder->n_devices, ml_nodal_type_find_parameter (type, "value"), index, centres, spreads, signal, high);
  add_between (builder, type, net_a, net_b, "value", centres);
}

/* A block's pin is a short to an inner net, so that a joint there, or the part's own metal, is one pin of one device. Inside,
 * conductances from every pin to the block's ground and supply; beside them current sources of 0 A for a block that misbehaves. */
static void
add_block (MlBuilder *builder, int index)
{
  MlModel *model = builder->model;
  const MlPart *part = &model->board->parts[index];
  guint n_conditions = model->board->n_conditions;
  int ground = part->ground_pin >= 0 ? part->ground_pin : 0;
  int supply = part->supply_pin != ground ? part->supply_pin : -1;
  g_autoptr (GPtrArray) inner = g_ptr_array_new_with_free_func (g_free);

  if (part->n_pins < 2)
    return;
  model->first_device[index] = builder->n_devices;
  model->block_current[index] = g_new (int, part->n_pins);
  for (guint p = 0; p < part->n_pins; p++)
    {
      int *own = g_new0 (int, MAX (n_conditions, 1));
      g_autofree int *outer = g_new0 (int, MAX (n_conditions, 1));

      for (guint c = 0; c < n_conditions; c++)
        {
          own[c] = ml_nodal_circuit_add_net (model->conditions[c].circuit);
          outer[c] = ml_builder_net_at (builder, c, index, p);
        }
      g_ptr_array_add (inner, own);
      model->pins[index][p] = (MlDevicePin){ builder->n_devices, 0 };
      add_between (builder, ml_nodal_type_find ("link"), outer, own, "resistance", NULL);
    }
  if (supply >= 0)
    add_conductance (builder, index, inner->pdata[supply], inner->pdata[ground], FALSE, FALSE);
  for (guint p = 0; p < part->n_pins; p++)
    {
      model->block_current[index][p] = -1;
      if ((int) p == ground)
        continue;
      model->block_current[index][p] = builder->n_devices;
      add_between (builder, ml_nodal_type_find ("current-source"), inner->pdata[ground], inner->pdata[p], "current", NULL);
      if ((int) p == supply)
        continue;
      add_conductance (builder, index, inner->pdata[p], inner->pdata[ground], TRUE, FALSE);
      if (supply >= 0)
        add_conductance (builder, index, inner->pdata[p], inner->pdata[supply], TRUE, TRUE);
    }
  for (guint k = 0; model->chopped->paths[index] && k < model->chopped->paths[index]->len; k++)
    {
      const MlChoppedPath *path = &g_array_index (model->chopped->paths[index], MlChoppedPath, k);
      ml_builder_add_free_current (builder, index, path, inner->pdata[path->from], inner->pdata[path->to]);
    }
}

void
ml_builder_add_part (MlBuilder *builder, int index)
{
  const MlPart *part = &builder->model->board->parts[index];
  const MlNodalType *type;

  for (guint p = 0; p < part->n_pins; p++)
    builder->model->pins[index][p] = (MlDevicePin){ -1, -1 };
  if (part->kind->kind == ML_KIND_CONNECTOR || part->kind->kind == ML_KIND_TESTPOINT)
    return;
  if (part->kind->kind == ML_KIND_BLOCK)
    {
      add_block (builder, index);
      return;
    }
  type = ml_nodal_type_find (part->kind->word);
  if (type)
    add_plain_part (builder, index, type);
}
