/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Good units: from the w that is fitted to the z of the parts, and what a block does otherwise here than there. */
#include "verdict/expansion-private.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

static guint
deviation_column (const MlDictionary *dictionary, guint unknown)
{
  return dictionary->n_columns - dictionary->model->n_deviations + (guint) dictionary->model->unknowns[unknown].deviation;
}

/* How far the pins of a block lie elsewhere than on the good unit, as a share of the largest voltage there. */
static double
pin_difference (const MlModel *model, int part, const double *here, const double *there)
{
  guint first = 0, n = model->board->parts[part].n_pins, ground = (guint) MAX (model->board->parts[part].ground_pin, 0);
  double most = ml_assumption ("carried.least-volts"), off = 0;

  for (int i = 0; i < part; i++)
    first += model->block_current[i] ? model->board->parts[i].n_pins : 0;
  for (guint p = 0; p < n; p++)
    {
      double a = here[first + p] - here[first + ground], b = there[first + p] - there[first + ground];

      if (isfinite (b))
        most = MAX (most, fabs (b));
      if (isfinite (a) && isfinite (b))
        off = MAX (off, fabs (a - b));
    }
  return off / most;
}

/* Voltages at the blocks' pins with an item's fault, the chips in the middle of what they may do, else as the item has them; NULL: not solved. */
static double *
pins_of (MlDictionary *dictionary, guint item, int condition)
{
  guint middle = item - dictionary->items[item].node + ml_model_middle (dictionary->model, dictionary->items[item].node);

  if (dictionary->items[middle].twin >= 0)
    middle = (guint) dictionary->items[middle].twin;
  if (!ml_expansion_solve (dictionary, dictionary->expansions[middle], condition, NULL))
    return NULL;
  return ml_model_pin_volts (dictionary->model, condition, ml_expansion_at (dictionary, dictionary->expansions[middle], condition));
}

/* Standard deviation, in ln ohm, of what a block does here otherwise than on the good unit: nothing while its pins see the same voltages,
 * anything once they see others. Found at the middle node, about which the other nodes are then spread. What a fault does to the pins is told
 * against the sound board of this unit: not all that was found on the good one need have come over with the blocks. */
static double
deviation_of (MlDictionary *dictionary, guint item, int condition, guint unknown)
{
  const MlModel *model = dictionary->model;
  double spread = model->unknowns[unknown].spread, half = ml_assumption ("carried.half-difference"), off;
  g_autofree double *here = NULL, *sound = NULL;

  if (!model->carried->pin_v[condition])
    return spread;
  if (model->carried->alike && ml_dictionary_hypothesis (dictionary, item)->explains == ML_EXPLAINS_HEALTHY)
    return 0;
  here = pins_of (dictionary, item, condition);
  sound = model->carried->alike ? pins_of (dictionary, dictionary->items[item].node, condition) : NULL; /* its items come first */
  if (!here || (model->carried->alike && !sound))
    return spread;
  off = pin_difference (model, model->unknowns[unknown].part, here, sound ? sound : model->carried->pin_v[condition]);
  return spread * off * off / (off * off + half * half);
}

/* d ln ohm of a block / d its deviation's z, and its shift at this node. */
static double
deviation_at (MlDictionary *dictionary, const MlExpansion *expansion, int condition, guint unknown, double *ret_shift)
{
  double spread = dictionary->model->unknowns[unknown].spread, step = ml_assumption ("block.node-step") / spread;
  int node = (int) ml_model_level (dictionary->model, dictionary->items[expansion->item].node) - (int) dictionary->model->n_levels / 2;
  gboolean plain = !expansion->z && expansion->second < 0 && node == 0;
  double deviation = plain ? 0 : deviation_of (dictionary, (guint) expansion->item, condition, unknown);

  if (expansion->second >= 0)
    deviation = MAX (deviation, deviation_of (dictionary, (guint) expansion->second, condition, unknown));
  *ret_shift = node * step * deviation;
  return deviation * sqrt (MAX (1 - 2 * step * step / 3, 0.1));
}

/* The z of an expansion; of a good unit's company from its w and the blocks' deviations. *ret_own: to be freed. */
const double *
ml_expansion_unknowns (MlDictionary *dictionary, const MlExpansion *expansion, int condition, double **ret_own)
{
  const MlModel *model = dictionary->model;
  double *z;

  *ret_own = NULL;
  if (!model->carried)
    return expansion->z;
  z = *ret_own = g_new0 (double, dictionary->n_columns);
  if (expansion->z)
    memcpy (z, expansion->z, dictionary->n_columns * sizeof *z);
  ml_carried_to_z (model->carried, expansion->z, z);
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].deviation >= 0 && model->unknowns[i].condition == condition)
      {
        double shift, share = deviation_at (dictionary, expansion, condition, i, &shift);
        double moved = expansion->z ? expansion->z[deviation_column (dictionary, i)] : 0;
        z[i] += (shift + share * moved) / model->unknowns[i].spread;
      }
  return z;
}

/* Slopes in z become slopes in w and in the blocks' deviations. */
void
ml_expansion_carry_slopes (MlDictionary *dictionary, const MlExpansion *expansion, int condition, double *dense)
{
  const MlModel *model = dictionary->model;

  if (!model->carried)
    return;
  for (guint i = 0; i < model->n_unknowns; i++)
    if (model->unknowns[i].deviation >= 0 && model->unknowns[i].condition == condition && dense[i] != 0)
      {
        double shift, spread = model->unknowns[i].spread, share = deviation_at (dictionary, expansion, condition, i, &shift);

        if (!expansion->z && expansion->second < 0 && shift == 0) /* the middle node is solved by now */
          share = deviation_of (dictionary, (guint) expansion->item, condition, i) * sqrt (MAX (1 - 2 * pow (ml_assumption ("block.node-step") / spread, 2) / 3, 0.1));
        dense[deviation_column (dictionary, i)] = dense[i] * share / spread;
      }
  ml_carried_slopes (model->carried, dense);
}
