/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each kind of observation compares one predicted quantity with one or two thresholds, in the logarithm: ordered probit (McCullagh, Regression
 * models for ordinal data, 1980), mixed with a share of observations that mean nothing. */
#include "verdict/observe.h"

#include "verdict/assumptions.h"
#include "verdict/verdict-private.h"

#include <math.h>
#include <string.h>

typedef struct
{
  double value;       /* predicted: A, W, K or V; NAN unknown */
  double low, high;   /* thresholds between the three things it may be seen to be; equal where there are two */
  double spread;      /* in ln */
  double miss;        /* share of such observations that mean nothing */
  int seen;           /* 0 below low, 1 between, 2 above high */
  MlUnit unit;
} Sight;

static double
normal_below (double x)
{
  return 0.5 * erfc (-x / G_SQRT2);
}

static double
probability (const Sight *sight)
{
  double miss = sight->miss, ln = log (MAX (sight->value, 1e-12));
  double below = normal_below ((log (sight->low) - ln) / sight->spread), within = normal_below ((log (sight->high) - ln) / sight->spread);
  double p = sight->seen == 0 ? below : sight->seen == 1 ? within - below : 1 - within;

  return isfinite (sight->value) ? miss / 3 + (1 - miss) * MAX (p, 0) : 0.5;
}

/* ---- predicted quantities ---- */

static double
pin_volts (const MlModel *model, const MlNodalSolution *at, int c, MlDevicePin pin)
{
  return pin.device >= 0 ? ml_nodal_solution_metal_v (model->conditions[c].circuit, at, pin.device, pin.pin) : NAN;
}

static double
pin_amps (const MlModel *model, const MlNodalSolution *at, int c, MlDevicePin pin)
{
  return pin.device >= 0 ? at->pin_a[ml_nodal_circuit_first_pin (model->conditions[c].circuit, pin.device) + pin.pin] : NAN;
}

double
ml_model_watts (const MlModel *model, const MlNodalSolution *at, int c, int part)
{
  double power = 0;

  for (guint p = 0; p < model->board->parts[part].n_pins; p++)
    if (model->pins[part][p].device >= 0)
      power += pin_volts (model, at, c, model->pins[part][p]) * pin_amps (model, at, c, model->pins[part][p]);
  return fabs (power);
}

gboolean
ml_model_is_limiting (const MlModel *model, const MlNodalSolution *at, int c)
{
  const MlCondition *condition = &model->board->conditions[c];

  for (guint k = 0; k < condition->n_supplies; k++)
    {
      const MlDevicePin plus = { model->conditions[c].supply_device[k], 0 };

      if (fabs (pin_amps (model, at, c, plus)) > (1 - ml_assumption ("seen.limit-share")) * condition->supplies[k].limit_a)
        return TRUE;
    }
  return FALSE;
}

static double
parameter_of (const MlPart *part, const char *name, double otherwise)
{
  MlParameter parameter;

  return ml_part_parameter (part, name, &parameter) && isfinite (parameter.centre) ? parameter.centre : otherwise;
}

/* ---- the kinds of observation ---- */

/* Half of dim is less than what the sound board gives, half is less than what looks bright anyway: the geometric mean of both. */
static void
see_light (Sight *sight, const MlPart *part, const char *what, double fine)
{
  gboolean lamp = part->kind->kind == ML_KIND_LAMP;
  double rated = lamp ? parameter_of (part, "power", 1) : 1;

  sight->unit = lamp ? ML_UNIT_WATT : ML_UNIT_AMPERE;
  sight->low = lamp ? ml_assumption ("seen.lamp-dark") * rated : ml_assumption ("seen.led-dark-amps");
  sight->high = lamp ? ml_assumption ("seen.lamp-lit") * rated : ml_assumption ("seen.led-lit-amps");
  if (fine > sight->low)
    sight->high = sqrt (sight->high * ml_assumption ("seen.dim-share") * fine);
  sight->high = MAX (sight->high, 2 * sight->low);
  sight->spread = ml_assumption ("seen.light-spread");
  sight->seen = g_str_equal (what, "dark") ? 0 : g_str_equal (what, "dim") ? 1 : 2;
}

/* Heating above the room per watt: from the rating (85 K from full power at 70 C to none at 155 C), else from the kind. */
static double
kelvin_per_watt (const MlPart *part)
{
  const MlAttribute *rating = ml_part_attribute (part, ML_KEY_POWER);
  MlKind kind = part->kind->kind;

  if (kind == ML_KIND_RESISTOR || (rating && rating->quantity.value > 0))
    return ml_assumption ("seen.rating-kelvin") / (rating && rating->quantity.value > 0 ? rating->quantity.value : ml_assumption ("seen.usual-watts"));
  if (kind == ML_KIND_REGULATOR || kind == ML_KIND_ADJUSTABLE)
    return ml_assumption ("seen.regulator-kelvin-per-watt");
  return ml_assumption (kind == ML_KIND_COIL ? "seen.coil-kelvin-per-watt" : "seen.small-kelvin-per-watt");
}

static void
see_heat (Sight *sight, const MlPart *part, const char *what, double watts)
{
  sight->value = watts;
  sight->unit = ML_UNIT_WATT;
  sight->low = ml_assumption ("seen.warm-kelvin") / kelvin_per_watt (part);
  sight->high = ml_assumption ("seen.hot-kelvin") / kelvin_per_watt (part);
  sight->spread = ml_assumption ("seen.heat-spread");
  sight->seen = g_str_equal (what, "cold") ? 0 : g_str_equal (what, "warm") ? 1 : 2;
}

/* What the coil gets is counted by its current: an open one has all the voltage and does not move. */
static void
see_click (Sight *sight, const MlPart *part, const char *what, double amps)
{
  sight->value = fabs (amps) * parameter_of (part, "resistance", 400);
  sight->unit = ML_UNIT_VOLT;
  sight->low = sight->high = parameter_of (part, "pull", 8);
  sight->spread = ml_assumption ("seen.coil-spread");
  sight->seen = g_str_equal (what, "silent") ? 0 : 2;
}

MlExpansion *
ml_expansion_on_usual_board (const MlDictionary *dictionary, const MlExpansion *expansion)
{
  const MlModel *model = dictionary->model;
  g_autofree double *z = NULL;

  if (!expansion->z || model->carried)
    return NULL;
  z = g_memdup2 (expansion->z, dictionary->n_columns * sizeof *z);
  memset (z, 0, model->n_z * sizeof *z); /* the sizes of the faults stand behind */
  return ml_expansion_new (dictionary, expansion->item, expansion->second, z);
}

/* How far the terminals fall short of what the supply is set to: in its limit it gives less. */
static void
see_limit (Sight *sight, const MlModel *model, const MlNodalSolution *at, const MlObservation *seen)
{
  const MlSupply *supply = &model->board->conditions[seen->condition].supplies[seen->supply];
  const int *net_of = model->conditions[seen->condition].net_of;

  sight->value = MAX (1 - (at->net_v[net_of[supply->plus]] - at->net_v[net_of[supply->minus]]) / supply->voltage_v, 1e-4);
  sight->unit = ML_UNIT_NONE;
  sight->low = sight->high = ml_assumption ("seen.limit-share");
  sight->spread = ml_assumption ("seen.limit-spread");
  sight->miss = ml_assumption ("seen.limit-miss");
  sight->seen = 2;
}

/* A block lights and moves in ways that nobody drew; its heat counts. A contact moves with its coil. */
static gboolean
can_be_computed (MlKind kind, const char *what)
{
  gboolean heat = strchr ("wh", what[0]) != NULL || g_str_equal (what, "cold");

  return heat || (kind != ML_KIND_BLOCK && kind != ML_KIND_CONTACT);
}

static gboolean
is_weighed (const MlCase *own, const MlObservation *seen)
{
  const MlPart *part = seen->part >= 0 ? &own->job->board->parts[seen->part] : NULL;

  if (seen->unit != own->unit || seen->pass != own->pass || !own->dictionary->model->conditions[seen->condition].solver
      || ml_condition_is_cold (&own->job->board->conditions[seen->condition]))
    return FALSE;
  return !part || (own->dictionary->model->first_device[seen->part] >= 0 && ml_observation_suits (part->kind->kind, seen->what)
                   && can_be_computed (part->kind->kind, seen->what));
}

static double
light_of (const MlModel *model, const MlNodalSolution *at, int c, int part)
{
  double amps = pin_amps (model, at, c, model->pins[part][0]);

  return model->board->parts[part].kind->kind == ML_KIND_LAMP ? ml_model_watts (model, at, c, part) : MAX (amps, 0);
}

/* FALSE: the condition could not be computed. */
static gboolean
sight_of (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const MlObservation *seen, Sight *ret_sight)
{
  MlDictionary *dictionary = own->dictionary;
  const MlModel *model = dictionary->model;
  MlExpansion *fine = dictionary->expansions[ml_model_usual (model)];
  const MlPart *part = seen->part >= 0 ? &model->board->parts[seen->part] : NULL;
  int c = seen->condition;
  const MlNodalSolution *at;

  if (!ml_expansion_solve (dictionary, expansion, c, start))
    return FALSE;
  at = ml_expansion_look_at (dictionary, expansion, c);
  *ret_sight = (Sight) { .value = NAN, .miss = ml_assumption ("seen.miss") };
  if (!part)
    {
      /* A limit is set above what the sound board takes, so a supply in its limit is no sign of a thirsty chip or of a resistor that nobody can read
       * being next to nothing. */
      MlExpansion *usual = ml_expansion_on_usual_board (dictionary, expansion);

      see_limit (ret_sight, model, usual && ml_expansion_solve (dictionary, usual, c, expansion) ? ml_expansion_at (dictionary, usual, c) : at, seen);
      if (usual)
        ml_expansion_free (dictionary, usual);
    }
  else if (strchr ("ld", seen->what[0]))
    {
      see_light (ret_sight, part, seen->what, ml_expansion_solve (dictionary, fine, c, NULL) ? light_of (model, ml_expansion_at (dictionary, fine, c), c, seen->part) : 0);
      ret_sight->value = light_of (model, at, c, seen->part);
    }
  else if (g_str_equal (seen->what, "clicks") || g_str_equal (seen->what, "silent"))
    see_click (ret_sight, part, seen->what, pin_amps (model, at, c, model->pins[seen->part][0]));
  else
    see_heat (ret_sight, part, seen->what, ml_model_watts (model, at, c, seen->part));
  ret_sight->spread = hypot (ret_sight->spread, ml_assumption ("seen.prediction-spread"));
  return TRUE;
}

/* ---- asked for ---- */

static double
seen_probability (MlCase *own, MlExpansion *expansion, const MlExpansion *start, const MlObservation *seen)
{
  Sight sight;

  return sight_of (own, expansion, start, seen, &sight) ? probability (&sight) : 0.5;
}

double
ml_case_seen_ln (MlCase *own, MlExpansion *expansion, const MlExpansion *start)
{
  double sum = 0;

  for (guint i = 0; i < own->job->n_observations; i++)
    if (is_weighed (own, &own->job->observations[i]))
      sum += log (seen_probability (own, expansion, start, &own->job->observations[i]));
  return sum;
}

guint
ml_case_n_seen (const MlCase *own)
{
  guint n = 0;

  for (guint i = 0; i < own->job->n_observations; i++)
    n += is_weighed (own, &own->job->observations[i]);
  return n;
}

double
ml_case_seen_misfit_ln (const MlCase *own)
{
  double sum = 0;

  for (guint i = 0; i < own->job->n_observations; i++)
    if (is_weighed (own, &own->job->observations[i]))
      sum += log (0.5); /* a wrong drawing says nothing about it */
  return sum;
}

void
ml_case_say_seen (MlCase *own, guint item, GPtrArray *reasons)
{
  MlDictionary *dictionary = own->dictionary;
  MlExpansion *fine = dictionary->expansions[ml_model_usual (dictionary->model)], *at = ml_case_expansion (own, item);

  for (guint i = 0; i < own->job->n_observations; i++)
    {
      const MlObservation *seen = &own->job->observations[i];
      Sight here, there;
      g_autofree char *faulty = NULL, *sound = NULL;

      if (!is_weighed (own, seen) || !sight_of (own, at, NULL, seen, &here) || !sight_of (own, fine, NULL, seen, &there)
          || probability (&here) < ml_assumption ("word.tie") * probability (&there))
        continue;
      if (seen->part < 0)
        {
          g_ptr_array_add (reasons, g_strdup_printf ("the supply is seen limiting (%s); it would not if all were fine", own->job->board->conditions[seen->condition].name));
          continue;
        }
      faulty = ml_say_quantity (here.value, here.unit);
      sound = ml_say_quantity (there.value, there.unit);
      g_ptr_array_add (reasons, g_strdup_printf ("%s %s%s (%s); it would get %s if all were fine, %s with this fault", own->job->board->parts[seen->part].name,
                                                 g_str_equal (seen->what, "clicks") ? "" : "is ", seen->what,
                                                 own->job->board->conditions[seen->condition].name, sound, faulty));
    }
}
