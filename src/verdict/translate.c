/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/model.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

/* What is needed while the circuits are built, all of them device by device. */
typedef struct
{
  MlModel *model;
  const MlVariant *variant;
  GArray *unknowns; /* MlUnknown */
  int n_devices;    /* so far, in every condition */
} Builder;

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
is_lifted (const Builder *builder, const MlCondition *condition, int part, int pin)
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
static int
net_at (const Builder *builder, int condition, int part, int pin)
{
  const MlBoard *board = builder->model->board;
  int net = board->parts[part].pins[pin].net;

  if (net < 0 || is_lifted (builder, &board->conditions[condition], part, pin))
    return -1;
  return builder->model->conditions[condition].net_of[net];
}

static void
note_status (MlModelCondition *own, int device)
{
  if (device < 0 && own->status == ML_NODAL_OK)
    own->status = device;
}

/* ---- unknowns ---- */

static void
add_unknown (Builder *builder, int device, int parameter, int part, const MlParameter *from)
{
  MlUnknown unknown = { .device = device, .parameter = parameter, .part = part, .condition = -1, .centre = from->centre,
                        .spread = from->spread, .most = from->most, .log = from->log, .shared = from->shared, .group = -1, .deviation = -1,
                        .carried = ml_assumption_carried (builder->model->board->parts[part].kind->kind, from->name, from->carried) };

  if (from->spread > 0 && isfinite (from->spread) && isfinite (from->centre) && (!from->log || from->centre > 0))
    g_array_append_val (builder->unknowns, unknown);
}

static void
add_block_unknowns (Builder *builder, int device, int parameter, int part, double centre, double spread, gboolean signal)
{
  double step = ml_assumption ("block.node-step");

  for (guint c = 0; c < builder->model->board->n_conditions; c++)
    {
      MlUnknown unknown = { .device = device, .parameter = parameter, .part = part, .condition = c, .centre = centre, .log = TRUE,
                            .block = TRUE, .signal = signal, .group = -1, .carried = ml_assumption ("carried.block"), .deviation = -1 };
      /* Three equally likely nodes one step apart already hold 2/3 step^2 of the variance. */
      unknown.spread = sqrt (MAX (spread * spread - 2 * step * step / 3, 0.25));
      g_array_append_val (builder->unknowns, unknown);
    }
}

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

/* ---- free average currents ---- */

static void
set_parameter (const MlNodalType *type, double *parameters, const char *name, double value)
{
  int i = ml_nodal_type_find_parameter (type, name);

  if (i >= 0)
    parameters[i] = value;
}

/* From one net of each condition to another. A chopped net stays between the rails, one at the other end may lie as far beyond them as a converter
 * takes it. The circuits hold them at 0 A: nothing switches. */
static void
add_free_current (Builder *builder, int part, const MlChoppedPath *path, const int *from, const int *to)
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

      set_parameter (type, values, "width", transistor ? ml_nodal_type_default (type, ml_nodal_type_find_parameter (type, "width"))
                                                        : ml_assumption ("chopped.width") * MAX (condition->rails_v, 1));
      set_parameter (type, values, "reach", model->chopped->nets[own->pins[path->to].net] ? 0 : beyond * condition->rails_v);
      set_parameter (type, values, "depth", model->chopped->nets[own->pins[path->from].net] ? 0 : beyond * condition->rails_v);
      note_status (&model->conditions[c], ml_nodal_circuit_add_device (condition->circuit, type, nets, values));
      if (condition->rails_v > 0)
        g_array_append_val (builder->unknowns, unknown);
    }
  if (model->free_current[part] < 0)
    model->free_current[part] = builder->n_devices;
  builder->n_devices++;
}

static void
add_free_currents (Builder *builder, int part)
{
  const MlModel *model = builder->model;
  guint n = model->board->n_conditions;
  g_autofree int *from = g_new0 (int, MAX (n, 1)), *to = g_new0 (int, MAX (n, 1));

  for (guint k = 0; model->chopped->paths[part] && k < model->chopped->paths[part]->len; k++)
    {
      const MlChoppedPath *path = &g_array_index (model->chopped->paths[part], MlChoppedPath, k);

      for (guint c = 0; c < n; c++)
        {
          from[c] = net_at (builder, (int) c, part, path->from);
          to[c] = net_at (builder, (int) c, part, path->to);
        }
      add_free_current (builder, part, path, from, to);
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
static void
find_centres (MlModel *model)
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
static void
list_states (MlModel *model)
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

/* ---- parts ---- */

/* The part as fitted on this unit: the attributes of the difference come before those of the board. */
static MlPart
fitted_part (const Builder *builder, int part, MlAttribute **ret_attributes)
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

static const MlSetting *
find_setting (const MlCondition *condition, int part)
{
  for (guint i = 0; i < condition->n_settings; i++)
    if (condition->settings[i].part == part)
      return &condition->settings[i];
  return NULL;
}

/* Switch positions of the condition. The engine's "state": of a switch or contact 1 closed, 0 open; of a changeover 0 a, 1 b, 2 neither. */
static void
apply_setting (const MlNodalType *type, const MlPart *part, const MlSetting *setting, double *parameters)
{
  if (!setting)
    return;
  switch (setting->state)
    {
    case ML_SETTING_OPEN: set_parameter (type, parameters, "state", 0); break;
    case ML_SETTING_CLOSED: set_parameter (type, parameters, "state", 1); break;
    case ML_SETTING_A: set_parameter (type, parameters, "state", 0); break;
    case ML_SETTING_B: set_parameter (type, parameters, "state", 1); break;
    case ML_SETTING_MIDDLE: set_parameter (type, parameters, "state", 2); break;
    case ML_SETTING_POSITION: set_parameter (type, parameters, "position", setting->position); break;
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
add_plain_part (Builder *builder, int index, const MlNodalType *type)
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
      add_unknown (builder, builder->n_devices, k, index, &parameter);
    }
  for (guint c = 0; c < model->board->n_conditions; c++)
    {
      for (int p = 0; p < n_pins; p++)
        {
          int pin = pin_for (&part, ml_nodal_type_pin (type, p));
          nets[p] = pin < 0 ? -1 : net_at (builder, c, index, pin);
        }
      if (n_parameters)
        memcpy (values, centres, n_parameters * sizeof *values);
      apply_setting (type, &part, find_setting (&model->board->conditions[c], index), values);
      note_status (&model->conditions[c], ml_nodal_circuit_add_device (model->conditions[c].circuit, type, nets, values));
    }
  builder->n_devices++;
  g_free (attributes);
  add_free_currents (builder, index);
}

/* ---- blocks ---- */

/* A device between two of the engine's nets that are per condition. */
static void
add_between (Builder *builder, const MlNodalType *type, const int *net_a, const int *net_b, const char *name, double value)
{
  int n = ml_nodal_type_n_parameters (type);
  g_autofree double *parameters = g_new0 (double, MAX (n, 1));

  for (int k = 0; k < n; k++)
    parameters[k] = ml_nodal_type_default (type, k);
  set_parameter (type, parameters, name, value);
  for (guint c = 0; c < builder->model->board->n_conditions; c++)
    {
      int nets[2] = { net_a[c], net_b[c] };
      note_status (&builder->model->conditions[c],
                   ml_nodal_circuit_add_device (builder->model->conditions[c].circuit, type, nets, parameters));
    }
  builder->n_devices++;
}

static void
add_conductance (Builder *builder, int index, const int *net_a, const int *net_b, gboolean signal)
{
  const MlNodalType *type = ml_nodal_type_find ("resistor");
  double centre = ml_assumption (signal ? "block.signal-ohm" : "block.centre-ohm");
  double spread = ml_assumption (signal ? "block.signal-spread" : "block.spread");

  add_block_unknowns (builder, builder->n_devices, ml_nodal_type_find_parameter (type, "value"), index, centre, spread, signal);
  add_between (builder, type, net_a, net_b, "value", centre);
}

/* A block's pin is a short to an inner net, so that a joint there, or the part's own metal, is one pin of one device. Inside,
 * conductances from every pin to the block's ground and supply; beside them current sources of 0 A for a block that misbehaves. */
static void
add_block (Builder *builder, int index)
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
          outer[c] = net_at (builder, c, index, p);
        }
      g_ptr_array_add (inner, own);
      model->pins[index][p] = (MlDevicePin){ builder->n_devices, 0 };
      add_between (builder, ml_nodal_type_find ("link"), outer, own, "resistance", 0);
    }
  if (supply >= 0)
    add_conductance (builder, index, inner->pdata[supply], inner->pdata[ground], FALSE);
  for (guint p = 0; p < part->n_pins; p++)
    {
      model->block_current[index][p] = -1;
      if ((int) p == ground)
        continue;
      model->block_current[index][p] = builder->n_devices;
      add_between (builder, ml_nodal_type_find ("current-source"), inner->pdata[ground], inner->pdata[p], "current", 0);
      if ((int) p == supply)
        continue;
      add_conductance (builder, index, inner->pdata[p], inner->pdata[ground], supply >= 0);
      if (supply >= 0)
        add_conductance (builder, index, inner->pdata[p], inner->pdata[supply], TRUE);
    }
  for (guint k = 0; model->chopped->paths[index] && k < model->chopped->paths[index]->len; k++)
    {
      const MlChoppedPath *path = &g_array_index (model->chopped->paths[index], MlChoppedPath, k);
      add_free_current (builder, index, path, inner->pdata[path->from], inner->pdata[path->to]);
    }
}

static void
add_part (Builder *builder, int index)
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

/* ---- supplies, loads, links of a condition ---- */

static int
add_single (MlModelCondition *own, const MlNodalType *type, int net_a, int net_b, const char *name, double value)
{
  g_autofree double *parameters = NULL;
  int nets[2] = { net_a, net_b }, n, device;

  if (!type)
    {
      note_status (own, ML_NODAL_BAD_ARGUMENT);
      return -1;
    }
  n = ml_nodal_type_n_parameters (type);
  parameters = g_new0 (double, MAX (n, 1));
  for (int k = 0; k < n; k++)
    parameters[k] = ml_nodal_type_default (type, k);
  set_parameter (type, parameters, name, value);
  device = ml_nodal_circuit_add_device (own->circuit, type, nets, parameters);
  note_status (own, device);
  return device;
}

static void
add_bench_unknown (Builder *builder, int condition, int device, const char *type, const char *parameter, double centre, double spread)
{
  MlUnknown unknown = { .device = device, .parameter = ml_nodal_type_find_parameter (ml_nodal_type_find (type), parameter), .part = -1,
                        .condition = condition, .centre = centre, .spread = spread * fabs (centre), .group = -1, .deviation = -1,
                        .carried = ml_assumption (g_str_equal (type, "supply") ? "carried.supply" : "carried.load") };

  if (unknown.parameter >= 0 && unknown.spread > 0 && device >= 0)
    g_array_append_val (builder->unknowns, unknown);
}

guint
ml_model_supply_index (const MlBoard *board, int condition, int supply)
{
  guint index = supply;

  for (int c = 0; c < condition; c++)
    index += board->conditions[c].n_supplies;
  return index;
}

static void
add_supplies (Builder *builder, int c)
{
  const MlBoard *board = builder->model->board;
  const MlCondition *condition = &board->conditions[c];
  MlModelCondition *own = &builder->model->conditions[c];
  const MlNodalType *type = ml_nodal_type_find ("supply");
  int n = type ? ml_nodal_type_n_parameters (type) : 0;
  g_autofree double *parameters = g_new0 (double, MAX (n, 1));

  own->supply_device = g_new (int, MAX (condition->n_supplies, 1));
  for (guint i = 0; type && i < condition->n_supplies; i++)
    {
      const MlSupply *supply = &condition->supplies[i];
      const double *other = builder->variant ? builder->variant->supply_v : NULL;
      double volts = supply->voltage_v;
      int nets[2];

      if (other && isfinite (other[ml_model_supply_index (board, c, i)]))
        volts = other[ml_model_supply_index (board, c, i)];
      for (int k = 0; k < n; k++)
        parameters[k] = ml_nodal_type_default (type, k);
      set_parameter (type, parameters, "voltage", volts);
      set_parameter (type, parameters, "limit", supply->limit_a);
      nets[0] = own->net_of[supply->plus];
      nets[1] = own->net_of[supply->minus];
      own->supply_device[i] = ml_nodal_circuit_add_device (own->circuit, type, nets, parameters);
      note_status (own, own->supply_device[i]);
      own->span_v += fabs (volts);
      add_bench_unknown (builder, c, own->supply_device[i], "supply", "voltage", volts, ml_assumption ("supply.spread"));
    }
}

/* Leakage over the board, out of unpowered chips, through cut-off transistors: a current source of 0 A at every net, in doubt by some
 * nanoamperes. It shows only where a net hangs on nothing but the meter. */
static void
add_leaks (Builder *builder, int c)
{
  const MlBoard *board = builder->model->board;
  MlModelCondition *own = &builder->model->conditions[c];

  for (guint i = 0; i < board->n_nets; i++)
    {
      MlUnknown unknown = { .part = -1, .condition = c, .group = -1, .leak = TRUE, .deviation = -1, .spread = ml_assumption ("leak.net-a") };

      if (own->net_of[i] == 0)
        continue;
      unknown.device = add_single (own, ml_nodal_type_find ("current-source"), 0, own->net_of[i], "current", 0);
      if (unknown.device >= 0)
        g_array_append_val (builder->unknowns, unknown);
    }
}

static void
add_loads_and_links (Builder *builder, int c)
{
  const MlCondition *condition = &builder->model->board->conditions[c];
  const MlUnitOnBench *unit = builder->variant ? builder->variant->unit : NULL;
  MlModelCondition *own = &builder->model->conditions[c];

  for (guint i = 0; i < condition->n_loads; i++)
    {
      const MlLoad *load = &condition->loads[i];
      gboolean resistive = isfinite (load->resistance_ohm);
      const char *type = resistive ? "resistor" : "load-current", *name = resistive ? "value" : "current";
      double value = resistive ? load->resistance_ohm : load->current_a;
      int device = add_single (own, ml_nodal_type_find (type), own->net_of[load->plus], own->net_of[load->minus], name, value);

      add_bench_unknown (builder, c, device, type, name, value, ml_assumption ("load.spread"));
    }
  for (guint i = 0; i < condition->n_connects; i++)
    add_single (own, ml_nodal_type_find ("link"), own->net_of[condition->connects[i].net_a], own->net_of[condition->connects[i].net_b],
                "resistance", 0);
  for (guint i = 0; unit && i < unit->n_differences; i++)
    if (unit->differences[i].what == ML_DIFFERS_LINKED && unit->differences[i].pass <= builder->variant->pass)
      add_single (own, ml_nodal_type_find ("link"), own->net_of[unit->differences[i].net_a], own->net_of[unit->differences[i].net_b],
                  "resistance", 0);
}

/* ---- finishing ---- */

static void
apply_relations (const MlModel *model, int c)
{
  const MlBoard *board = model->board;
  MlModelCondition *own = &model->conditions[c];

  for (guint i = 0; i < board->n_parts; i++)
    if (board->parts[i].by >= 0 && model->first_device[i] >= 0 && model->first_device[board->parts[i].by] >= 0
        && !find_setting (&board->conditions[c], i))
      note_status (own, ml_nodal_circuit_drive (own->circuit, model->first_device[i], model->first_device[board->parts[i].by]));
  for (guint i = 0; i < board->n_nets; i++)
    if (board->nets[i].prefer)
      note_status (own, ml_nodal_circuit_prefer (own->circuit, own->net_of[i], board->nets[i].prefer));
}

static void
collect_refs (const MlModel *model, int c)
{
  MlModelCondition *own = &model->conditions[c];

  own->refs = g_new (MlNodalParameterRef, MAX (model->n_unknowns, 1));
  own->unknown = g_new (guint, MAX (model->n_unknowns, 1));
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].condition < 0 || model->unknowns[i].condition == c)
      {
        own->refs[own->n_refs] = (MlNodalParameterRef){ model->unknowns[i].device, model->unknowns[i].parameter };
        own->unknown[own->n_refs++] = i;
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
  Builder builder = { .model = model, .variant = variant, .unknowns = g_array_new (FALSE, FALSE, sizeof (MlUnknown)) };

  model->board = ml_board_ref (board);
  model->conditions = g_new0 (MlModelCondition, MAX (board->n_conditions, 1));
  model->first_device = g_new (int, MAX (board->n_parts, 1));
  model->pins = g_new0 (MlDevicePin *, MAX (board->n_parts, 1));
  model->block_current = g_new0 (int *, MAX (board->n_parts, 1));
  model->removed = g_new0 (gboolean, MAX (board->n_parts, 1));
  model->n_levels = 1;
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
      add_part (&builder, i);
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
      add_supplies (&builder, c);
      add_loads_and_links (&builder, c);
      add_leaks (&builder, c);
    }
  model->n_unknowns = builder.unknowns->len;
  model->unknowns = (MlUnknown *) (gpointer) g_array_free (builder.unknowns, FALSE);
  group_unknowns (model);
  list_states (model);
  for (guint c = 0; c < board->n_conditions; c++)
    finish_condition (model, c);
  find_centres (model);
  return model;
}

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
  double step = ml_assumption ("block.node-step"), own = model->unknowns[unknown].spread;

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
        double v = pin.device >= 0 ? at->metal_v[ml_nodal_circuit_first_pin (model->conditions[condition].circuit, pin.device) + pin.pin] : NAN;

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
  if (own->block && model->n_levels == 3 && own->deviation < 0)
    shift = ((double) ml_model_level (model, node) - 1) * ml_assumption ("block.node-step");
  if (!own->log)
    return own->centre + own->spread * u;
  return bent (own, own->centre * exp (shift + own->spread * u));
}
