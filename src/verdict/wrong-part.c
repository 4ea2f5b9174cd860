/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A part of another value or kind in a part's place: a resistor a decade off or its neighbour in the row, another zener, an npn for a pnp. And what a part may
 * be of whose type nobody said: a Schottky diode, an LED of the newer green. */
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

/* What else a part of a kind may be that works as well; the drop at the stated current is then a factor of what is usual. */
typedef struct
{
  MlKind kind;
  const char *colour;        /* of an LED */
  const char *word;          /* as= in a supposition */
  const char *drop, *spread; /* names of assumptions */
} OtherType;

static const OtherType other_types[] = {
  { ML_KIND_DIODE, NULL, "schottky", "type.schottky-drop", "type.schottky-spread" },
  { ML_KIND_LED, "green", "true-green", "type.true-green-drop", "type.true-green-spread" },
};

static const OtherType *
find_other_type (const MlPart *part)
{
  const MlAttribute *colour = ml_part_attribute (part, ML_KEY_COLOUR);

  for (guint i = 0; i < G_N_ELEMENTS (other_types); i++)
    if (other_types[i].kind == part->kind->kind && (!other_types[i].colour || (colour && g_str_equal (colour->text, other_types[i].colour))))
      return &other_types[i];
  return NULL;
}

static double
other_type_factor (const MlPart *part, const OtherType *type)
{
  MlParameter drop;

  return ml_part_parameter (part, "drop", &drop) && drop.centre > 0 ? ml_assumption (type->drop) / drop.centre : NAN;
}

gboolean
ml_other_type_hypothesis (const MlModel *model, int part, MlHypothesis *ret)
{
  const MlPart *it = &model->board->parts[part];
  const OtherType *type = find_other_type (it);
  gboolean said = ml_part_attribute (it, ML_KEY_FAMILY) || ml_part_attribute (it, ML_KEY_DROP);
  double factor = type && !said ? other_type_factor (it, type) : NAN;

  if (!isfinite (factor))
    return FALSE;
  *ret = ml_modes_new_slip (ML_FAULT_WRONG_PART, part, ml_assumption ("type.prior"));
  ret->fault.size_in = ML_SIZE_FACTOR;
  ret->cells[0] = (MlCell){ factor, ml_assumption (type->spread), 1 };
  return TRUE;
}

gboolean
ml_is_of_other_type (const MlPart *part)
{
  return find_other_type (part) != NULL;
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
  if (find_other_type (part))
    return g_strdup (find_other_type (part)->word);
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

  if (as && find_other_type (part) && g_ascii_strcasecmp (as, find_other_type (part)->word) == 0)
    return other_type_factor (part, find_other_type (part));
  if (!as || !main || ml_quantity_parse (as, strlen (as), zener ? ML_UNIT_VOLT : ML_UNIT_OHM, ML_QUANTITY_PLAIN, &quantity, NULL) != ML_QUANTITY_OK
      || !ml_part_parameter (part, main, &nominal) || !(nominal.centre > 0) || !(quantity.value > 0))
    return NAN;
  return quantity.value / nominal.centre;
}
