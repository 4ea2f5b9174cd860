/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What speaks beside the readings for a state of affairs: what was seen, and that nobody fits a resistor that burns. A value that no one can read may be
 * almost anything, and so could excuse almost any current; but a sound board has run, and whoever drew it gave every resistor a value at which it
 * stays below its rating. Nor does a sound board drive a supply into the limit that somebody set, or a chip draw what would take it below the voltage that
 * it runs at. */
#include "verdict/observe.h"

#include "verdict/assumptions.h"
#include "verdict/verdict-private.h"

#include <math.h>

#define MOST_SAID 3

static gboolean
is_powered (const MlCase *own, guint condition)
{
  return own->dictionary->model->conditions[condition].solver && own->job->board->conditions[condition].n_supplies;
}

static gboolean
is_unread_resistor (const MlModel *model, const MlUnknown *unknown)
{
  return unknown->part >= 0 && unknown->log && model->board->parts[unknown->part].kind->kind == ML_KIND_RESISTOR
         && unknown->device == model->first_device[unknown->part] && unknown->spread >= ml_assumption ("found.unread");
}

/* What such a part stands as a rule, W; 0: as much as anybody likes. */
static double
usual_watts (MlKind kind)
{
  return kind == ML_KIND_RESISTOR ? ml_assumption ("unread.watts") : kind == ML_KIND_ZENER ? ml_assumption ("unread.zener-watts")
         : kind == ML_KIND_LED    ? ml_assumption ("unread.led-watts")
                                  : 0;
}

/* How much speaks against a part getting these watts. */
static double
burning (const MlPart *part, double watts)
{
  const MlAttribute *rating = ml_part_attribute (part, ML_KEY_POWER);
  double share = watts / (rating && rating->quantity.value > 0 ? rating->quantity.value : usual_watts (part->kind->kind));

  return log1p (share * share);
}

/* The most it gets in any condition, W. */
static double
most_watts (MlCase *own, MlExpansion *at, int part, const MlExpansion *start)
{
  double most = 0;

  for (guint c = 0; c < own->dictionary->model->board->n_conditions; c++)
    if (is_powered (own, c) && ml_expansion_solve (own->dictionary, at, (int) c, start))
      most = fmax (most, ml_model_watts (own->dictionary->model, ml_expansion_look_at (own->dictionary, at, (int) c), (int) c, part));
  return most;
}

/* Of the unread resistors found below what they were taken to be: what a fault elsewhere makes burn is not its value's doing. *ret_low: how far below
 * the lowest is, at most 1. */
static double
resistors_ln (MlCase *own, MlExpansion *at, const MlExpansion *start, double *ret_low)
{
  const MlModel *model = own->dictionary->model;
  double sum = 0;

  for (guint i = 0; i < model->n_unknowns; i++)
    {
      const MlUnknown *unknown = &model->unknowns[i];
      double below;

      if (!is_unread_resistor (model, unknown) || ml_case_is_blamed (own, at, unknown->part))
        continue;
      below = MIN (log (unknown->centre / ml_model_parameter_value (model, i, at->z, 0)) / unknown->spread, 1);
      *ret_low = MAX (*ret_low, below);
      if (below > 0)
        sum -= below * burning (&model->board->parts[unknown->part], most_watts (own, at, unknown->part, start));
    }
  return sum;
}

/* Nor does a value stand that lets another part burn: of zeners and light-emitting diodes, which live on what a resistor leaves them. What burns on a board
 * of usual values, too, is the fault's doing. */
static double
fed_ln (MlCase *own, MlExpansion *at, const MlExpansion *start)
{
  const MlBoard *board = own->job->board;
  MlExpansion *usual = NULL;
  double sum = 0;

  for (guint part = 0; part < board->n_parts; part++)
    {
      MlKind kind = board->parts[part].kind->kind;
      double here;

      if ((kind != ML_KIND_ZENER && kind != ML_KIND_LED) || ml_case_is_blamed (own, at, (int) part)
          || !((here = burning (&board->parts[part], most_watts (own, at, (int) part, start))) > ml_assumption ("unread.burning")))
        continue;
      if (!usual)
        usual = ml_expansion_on_usual_board (own->dictionary, at);
      sum -= MAX (here - burning (&board->parts[part], most_watts (own, usual, (int) part, at)), 0);
    }
  if (usual)
    ml_expansion_free (own->dictionary, usual);
  return sum;
}

static double
unburnt_ln (MlCase *own, MlExpansion *at, const MlExpansion *start)
{
  double low = 0, sum;

  if (!at->z || own->dictionary->model->carried)
    return 0;
  sum = resistors_ln (own, at, start, &low);
  return low > 0 ? sum + low * fed_ln (own, at, start) : sum;
}

static gboolean
is_faulty (const MlCase *own, const MlExpansion *at)
{
  return ml_dictionary_hypothesis (own->dictionary, (guint) at->item)->explains == ML_EXPLAINS_FAULT
         || (at->second >= 0 && ml_dictionary_hypothesis (own->dictionary, (guint) at->second)->explains == ML_EXPLAINS_FAULT);
}

/* What a supply does there was seen, which is weighed by itself. */
static gboolean
is_supply_seen_in (const MlCase *own, int c)
{
  for (guint i = 0; i < own->job->n_observations; i++)
    if (own->job->observations[i].condition == c && own->job->observations[i].part < 0)
      return TRUE;
  return FALSE;
}

/* A chip that takes all there is: whatever has the supply in its limit is no sound board, but for a limit set too low. Still less is one whose crowbar has
 * fired: it rests in another state, too, in which the limit does, and something has brought it here. */
static double
limit_ln (MlCase *own, MlExpansion *at, const MlExpansion *start)
{
  const MlDictionary *dictionary = own->dictionary;
  double least = 0;

  if (!at->z || is_faulty (own, at))
    return 0;
  for (guint c = 0; c < dictionary->model->board->n_conditions; c++)
    if (is_powered (own, c) && ml_case_is_read_in (own, (int) c) && !is_supply_seen_in (own, (int) c)
        && ml_expansion_solve (own->dictionary, at, (int) c, start))
      {
        const MlNodalSolution *solution = ml_expansion_look_at (own->dictionary, at, (int) c);

        if (ml_model_is_limiting (dictionary->model, solution, (int) c))
          least = fmin (least, log (ml_assumption (solution->status == ML_NODAL_AMBIGUOUS ? "limit.fired" : "limit.sound")));
      }
  return least;
}

/* Across the supply pins of an unknown chip, V; NAN where they are not known or nowhere. */
static double
chip_volts (const MlModel *model, const MlNodalSolution *solution, guint condition, guint part)
{
  const MlPart *own = &model->board->parts[part];
  MlDevicePin supply, ground;

  if (own->supply_pin < 0 || own->ground_pin < 0)
    return NAN;
  supply = model->pins[part][own->supply_pin];
  ground = model->pins[part][own->ground_pin];
  if (supply.device < 0 || ground.device < 0)
    return NAN;
  return ml_nodal_solution_metal_v (model->conditions[condition].circuit, solution, supply.device, supply.pin)
         - ml_nodal_solution_metal_v (model->conditions[condition].circuit, solution, ground.device, ground.pin);
}

/* Below two junctions' voltage no chip runs, and a sound one takes next to nothing: what pulls a rail down that far is something else. */
static double
starved_ln (MlCase *own, MlExpansion *at, const MlExpansion *start)
{
  const MlModel *model = own->dictionary->model;
  const double runs = ml_assumption ("block.starved-volts");
  double sum = 0;

  for (guint part = 0; at->z && part < model->board->n_parts; part++)
    {
      double worst = 0;

      if (!model->block_current[part] || ml_case_is_blamed (own, at, (int) part))
        continue;
      for (guint c = 0; c < model->board->n_conditions; c++)
        if (is_powered (own, c) && ml_case_is_read_in (own, (int) c) && ml_expansion_solve (own->dictionary, at, (int) c, start))
          {
            const MlNodalSolution *solution = ml_expansion_look_at (own->dictionary, at, (int) c);
            double volts = chip_volts (model, solution, c, part);
            double amps = ml_model_watts (model, solution, (int) c, (int) part) / volts;

            if (volts > 0 && volts < runs)
              worst = fmax (worst, fmin (2 * (1 - volts / runs), 1) * log1p (pow (amps / ml_assumption ("block.starved-amps"), 2)));
          }
      sum -= worst;
    }
  return sum;
}

double
ml_case_beside_ln (MlCase *own, MlExpansion *at, const MlExpansion *start)
{
  return ml_case_seen_ln (own, at, start) + unburnt_ln (own, at, start) + limit_ln (own, at, start) + starved_ln (own, at, start);
}

void
ml_case_say_unread (MlCase *own, guint item, GPtrArray *reasons)
{
  const MlModel *model = own->dictionary->model;
  MlExpansion *at = ml_case_expansion (own, item);
  const double least = ml_assumption ("word.unread");
  guint n = 0;

  for (guint i = 0; at->z && !model->carried && i < model->n_unknowns && n < MOST_SAID; i++)
    {
      const MlUnknown *unknown = &model->unknowns[i];
      double value = ml_model_parameter_value (model, i, at->z, 0);
      g_autofree char *ohms = NULL, *watts = NULL;

      if (!is_unread_resistor (model, unknown) || ml_case_is_blamed (own, at, unknown->part) || fabs (log (value / unknown->centre)) < least * unknown->spread)
        continue;
      n++;
      ohms = ml_say_quantity (value, ML_UNIT_OHM);
      watts = ml_say_quantity (most_watts (own, at, unknown->part, NULL), ML_UNIT_WATT);
      g_ptr_array_add (reasons, g_strdup_printf ("it takes %s, whose value is not said, for about %s (%s)", model->board->parts[unknown->part].name, ohms, watts));
    }
}
