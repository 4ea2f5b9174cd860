/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether a condition may be powered for one more reading, whatever is wrong with the board. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"

#include <math.h>

static double
metal_v (const MlCase *own, const MlNodalSolution *at, int condition, MlDevicePin pin, double *ret_a)
{
  const MlNodalCircuit *circuit = own->dictionary->model->conditions[condition].circuit;

  *ret_a = at->pin_a[ml_nodal_circuit_first_pin (circuit, pin.device) + pin.pin];
  return ml_nodal_solution_metal_v (circuit, at, pin.device, pin.pin);
}

/* A part's load: power, the largest current into a pin, and what stands across it the way round that `reverse` means: a junction's cathode
 * over its anode; between the first two pins of anything else. */
typedef struct { double power, current, reverse; } Load;

static Load
load_of (const MlCase *own, const MlNodalSolution *at, int condition, int part)
{
  const MlModel *model = own->dictionary->model;
  Load load = { 0 };
  double volts[2] = { NAN, NAN };

  for (guint p = 0; p < model->board->parts[part].n_pins; p++)
    if (model->pins[part][p].device >= 0)
      {
        double a, v = metal_v (own, at, condition, model->pins[part][p], &a);

        if (p < 2)
          volts[p] = v;
        if (a != 0 && isfinite (v))
          load.power += a * v;
        load.current = MAX (load.current, fabs (a));
      }
  load.power = fabs (load.power);
  load.reverse = isfinite (volts[1] - volts[0]) ? volts[1] - volts[0] : 0;
  return load;
}

static gboolean
exceeds (const MlPart *part, MlKey key, double value, double times)
{
  const MlAttribute *rating = ml_part_attribute (part, key);

  return rating && value > times * rating->quantity.value;
}

static gboolean
is_part_safe (const MlCase *own, const MlNodalSolution *at, int condition, int part)
{
  const MlPart *it = &own->job->board->parts[part];
  double times = ml_assumption ("next.unsafe-power");
  Load load;

  if (own->dictionary->model->first_device[part] < 0)
    return TRUE;
  load = load_of (own, at, condition, part);
  return !exceeds (it, ML_KEY_POWER, load.power, times)
         && (it->kind->kind == ML_KIND_FUSE || !exceeds (it, ML_KEY_CURRENT, load.current, times)) /* a fuse is there to blow */
         && !exceeds (it, ML_KEY_REVERSE, load.reverse, times);
}

/* Outside the condition's figures: pushed above its voltage or fed backwards; or in a limit that nobody has set. In a limit that was set it
 * does what it was set for. */
static gboolean
is_supply_safe (const MlCase *own, const MlNodalSolution *at, int condition, guint supply)
{
  const MlSupply *it = &own->job->board->conditions[condition].supplies[supply];
  MlDevicePin plus = { own->dictionary->model->conditions[condition].supply_device[supply], 0 }, minus = { plus.device, 1 };
  double into, a, volts = metal_v (own, at, condition, plus, &into), share = ml_assumption ("next.unsafe-supply");

  volts -= metal_v (own, at, condition, minus, &a);
  return !(volts > it->voltage_v + share * fabs (it->voltage_v) || into > share * it->limit_a || (!it->limit_written && -into > 0.95 * it->limit_a));
}

static gboolean
is_safe_under (const MlCase *own, const MlNodalSolution *at, int condition)
{
  const MlBoard *board = own->job->board;
  double most = ml_assumption ("next.unsafe-volts");

  for (int i = 0; i < at->n_nets; i++)
    if (!at->floating[i] && fabs (at->net_v[i]) > most)
      return FALSE;
  for (guint i = 0; i < board->conditions[condition].n_supplies; i++)
    if (!is_supply_safe (own, at, condition, i))
      return FALSE;
  for (guint i = 0; i < board->n_parts; i++)
    if (!is_part_safe (own, at, condition, (int) i))
      return FALSE;
  return TRUE;
}

static gboolean
is_item_safe (MlCase *own, guint item, int condition, const MlReadingPlace *place)
{
  MlExpansion *at = ml_case_expansion (own, item);
  MlNodalSolution lifted;
  gboolean safe;

  if (!place)
    return !ml_expansion_solve (own->dictionary, at, condition, NULL) || is_safe_under (own, ml_expansion_at (own->dictionary, at, condition), condition);
  if (!ml_expansion_solve_lifted (own->dictionary, at, place, &lifted))
    return TRUE;
  safe = is_safe_under (own, &lifted, condition);
  ml_nodal_solution_clear (&lifted);
  return safe;
}

gboolean
ml_next_is_safe (Search *search, int condition, const MlReadingPlace *place)
{
  MlCase *own = search->own;

  if (!own->job->board->conditions[condition].n_supplies)
    return TRUE;
  for (guint i = 0; i < search->n; i++)
    if (own->hypothesis_probability[own->dictionary->items[search->item[i]].hypothesis] >= ml_assumption ("next.unsafe-probability")
        && !is_item_safe (own, search->item[i], condition, place))
      return FALSE;
  return TRUE;
}
