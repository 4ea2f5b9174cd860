/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is on the bench in each condition: supplies, loads, links; and the leakage over the board. */
#include "verdict/translate-private.h"

#include "verdict/assumptions.h"

#include <math.h>

static int
add_single (MlModelCondition *own, const MlNodalType *type, int net_a, int net_b, const char *name, double value)
{
  g_autofree double *parameters = NULL;
  int nets[2] = { net_a, net_b }, n, device;

  if (!type)
    {
      ml_builder_note_status (own, ML_NODAL_BAD_ARGUMENT);
      return -1;
    }
  n = ml_nodal_type_n_parameters (type);
  parameters = g_new0 (double, MAX (n, 1));
  for (int k = 0; k < n; k++)
    parameters[k] = ml_nodal_type_default (type, k);
  ml_builder_set_parameter (type, parameters, name, value);
  device = ml_nodal_circuit_add_device (own->circuit, type, nets, parameters);
  ml_builder_note_status (own, device);
  return device;
}

static void
add_bench_unknown (MlBuilder *builder, int condition, int device, const char *type, const char *parameter, double centre, double spread)
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

void
ml_builder_add_supplies (MlBuilder *builder, int c)
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
      ml_builder_set_parameter (type, parameters, "voltage", volts);
      ml_builder_set_parameter (type, parameters, "limit", supply->limit_a);
      nets[0] = own->net_of[supply->plus];
      nets[1] = own->net_of[supply->minus];
      own->supply_device[i] = ml_nodal_circuit_add_device (own->circuit, type, nets, parameters);
      ml_builder_note_status (own, own->supply_device[i]);
      own->span_v += fabs (volts);
      add_bench_unknown (builder, c, own->supply_device[i], "supply", "voltage", volts, ml_assumption ("supply.spread"));
      add_bench_unknown (builder, c, own->supply_device[i], "supply", "limit", supply->limit_a,
                         ml_assumption (supply->limit_written ? "supply.limit-spread" : "supply.unset-spread"));
    }
}

/* Leakage over the board, out of unpowered chips, through cut-off transistors: a current source of 0 A at every net, in doubt by some
 * nanoamperes. It shows only where a net hangs on nothing but the meter. */
void
ml_builder_add_leaks (MlBuilder *builder, int c)
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

void
ml_builder_add_loads_and_links (MlBuilder *builder, int c)
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
