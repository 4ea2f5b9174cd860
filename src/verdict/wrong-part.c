/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A part of another value or kind in a part's place: a resistor a decade off or its neighbour in the row, another zener, an npn for a pnp. */
#include "verdict/wrong-part.h"

#include "board/parameters.h"
#include "quantity/quantity.h"
#include "verdict/assumptions.h"
#include "verdict/verdict-private.h"

#include <math.h>
#include <string.h>

#define MOST_VALUES 4

/* IEC 60063, E24; every second one is E12. */
static const double e24[] = { 1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1 };

/* The member of the row (every step-th of E24) that is `places` beyond the one nearest to value. */
static double
preferred (double value, guint step, int places)
{
  int decade = (int) floor (log10 (value)), best = 0, n = (int) (G_N_ELEMENTS (e24) / step);
  double off = INFINITY;

  for (int k = 0; k <= n; k++) /* the one above belongs to the next decade */
    {
      double candidate = k < n ? e24[k * (int) step] : 10;
      if (fabs (log (value / (candidate * pow (10, decade)))) < off)
        {
          off = fabs (log (value / (candidate * pow (10, decade))));
          best = k;
        }
    }
  best += places;
  decade += best < 0 ? -1 : best / n;
  return e24[((best + n) % n) * (int) step] * pow (10, decade);
}

static gboolean
is_written (const MlPart *part, MlKey key, double *ret_value)
{
  const MlAttribute *value = ml_part_attribute (part, key);

  *ret_value = value ? value->quantity.value : NAN;
  return value && *ret_value > 0;
}

/* The factors to its written value of what may be fitted instead. */
static guint
list_factors (const MlPart *part, double *ret_factors, double *ret_shares)
{
  double value, decade = ml_assumption ("wrong-part.decade");

  if (part->kind->kind == ML_KIND_RESISTOR && is_written (part, ML_KEY_VALUE, &value))
    for (int k = 0; k < MOST_VALUES; k++)
      {
        ret_factors[k] = k == 0 ? 10 : k == 1 ? 0.1 : preferred (value, 2, k == 2 ? 1 : -1) / value;
        ret_shares[k] = k < 2 ? decade / 2 : (1 - decade) / 2;
      }
  else if (part->kind->kind == ML_KIND_ZENER && is_written (part, ML_KEY_VOLTAGE, &value))
    for (int k = 0; k < MOST_VALUES; k++)
      {
        static const int places[] = { 1, -1, 2, -2 };
        ret_factors[k] = preferred (value, 1, places[k]) / value;
        ret_shares[k] = 0.25;
      }
  else
    return 0;
  return MOST_VALUES;
}

static gboolean
is_bipolar (const MlPart *part)
{
  return part->kind->kind == ML_KIND_NPN || part->kind->kind == ML_KIND_PNP;
}

static void
set_cells (MlHypothesis *own, const double *factors, const double *shares, guint n)
{
  own->n_cells = n;
  own->cells = g_new (MlCell, n);
  own->fault.size_in = ML_SIZE_FACTOR;
  for (guint k = 0; k < n; k++)
    own->cells[k] = (MlCell){ factors[k], ml_assumption ("wrong-part.spread"), shares[k] };
}

gboolean
ml_wrong_part_hypothesis (const MlModel *model, int part, MlHypothesis *ret)
{
  const MlPart *it = &model->board->parts[part];
  double weight = ml_assumption_weight (it->kind->kind, ML_FAULT_WRONG_PART), factors[MOST_VALUES], shares[MOST_VALUES];
  guint n = list_factors (it, factors, shares);
  MlHypothesis own = { .explains = ML_EXPLAINS_FAULT, .twin = -1, .prior = weight };

  if (weight <= 0 || (!n && !is_bipolar (it)))
    return FALSE;
  own.fault = (MlFault){ .part = part, .kind = ML_FAULT_WRONG_PART, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  if (n)
    set_cells (&own, factors, shares, n);
  else
    {
      own.n_cells = 1;
      own.cells = g_new (MlCell, 1);
      own.cells[0] = (MlCell){ NAN, 0, 1 };
    }
  *ret = own;
  return TRUE;
}

char *
ml_wrong_part_as (const MlPart *part, double factor)
{
  gboolean zener = part->kind->kind == ML_KIND_ZENER;
  double value;

  if (is_bipolar (part))
    return g_strdup (part->kind->kind == ML_KIND_NPN ? "pnp" : "npn");
  if (!is_written (part, zener ? ML_KEY_VOLTAGE : ML_KEY_VALUE, &value) || !(factor > 0))
    return NULL;
  return ml_say_quantity (preferred (factor * value, 1, 0), zener ? ML_UNIT_VOLT : ML_UNIT_OHM);
}

double
ml_wrong_part_factor (const MlPart *part, const char *as)
{
  gboolean zener = part->kind->kind == ML_KIND_ZENER;
  MlParameter nominal;
  MlQuantity quantity;
  const char *main = ml_modes_main_parameter (part->kind->kind);

  if (!as || !main || ml_quantity_parse (as, strlen (as), zener ? ML_UNIT_VOLT : ML_UNIT_OHM, ML_QUANTITY_PLAIN, &quantity, NULL) != ML_QUANTITY_OK
      || !ml_part_parameter (part, main, &nominal) || !(nominal.centre > 0) || !(quantity.value > 0))
    return NAN;
  return quantity.value / nominal.centre;
}
