/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a pin of an unknown chip stands at is no evidence of a wrong drawing. The sound board leaves it open and pays for every reading that pins it
 * down, in each condition anew; a drawing that ties the pin down pays nothing, and would win by that alone. But chips are built to do something
 * definite: rails of two regulators are alike because both are 5 V, an output rests at ground in every condition. So where the sound board gives all
 * readings, a slip in drawing such a chip's nets is no more than so much the likelier for them. Nor is a chip without its supply or its ground: many
 * draw next to nothing, and the sound board pays for that in each condition anew; nor one that misbehaves, being as free but the same in every
 * condition; nor a link between two outputs that rest at the chip's rails. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"

#include <math.h>

static gboolean
is_chip (const MlCase *own, int part)
{
  return part >= 0 && own->dictionary->model->block_current[part] != NULL;
}

static gboolean
has_chip (const MlCase *own, int net)
{
  const MlBoard *board = own->job->board;

  for (guint i = 0; i < board->n_parts; i++)
    if (is_chip (own, (int) i) && ml_part_pin_on (&board->parts[i], net) >= 0)
      return TRUE;
  return FALSE;
}

static gboolean
is_about_chip (const MlCase *own, const MlFault *fault)
{
  for (guint i = 0; i < fault->n_cut; i++)
    if (is_chip (own, fault->cut_parts[i]))
      return TRUE;
  return is_chip (own, fault->part) || (fault->kind == ML_FAULT_MISSING_LINK && (has_chip (own, fault->net_a) || has_chip (own, fault->net_b)));
}

/* A fault that parts an unknown chip from its supply or its ground, all or in part, or that lets it do anything. */
static gboolean
frees_chip (const MlCase *own, const MlFault *fault)
{
  const MlPart *part = is_chip (own, fault->part) ? &own->job->board->parts[fault->part] : NULL;

  if (!part)
    return FALSE;
  return fault->kind == ML_FAULT_MISBEHAVING
         || ((fault->kind == ML_FAULT_OPEN || fault->kind == ML_FAULT_JOINT) && fault->n_pins == 1
             && (fault->pins[0] == part->supply_pin || fault->pins[0] == part->ground_pin));
}

/* ---- two pins of one chip at its rails ---- */

/* Whether a sound board that rests `at` has that net near the chip's supply or its ground. */
static gboolean
is_at_rail (const MlCase *own, const MlNodalSolution *at, int c, const MlPart *chip, int net)
{
  const int *net_of = own->dictionary->model->conditions[c].net_of;
  double low = at->net_v[net_of[chip->pins[chip->ground_pin].net]], high = at->net_v[net_of[chip->pins[chip->supply_pin].net]];
  double near = ml_assumption ("block.rail-share") * fabs (high - low), v = at->net_v[net_of[net]];

  return fabs (v - low) <= near || fabs (v - high) <= near;
}

static gboolean
is_at_rails (MlCase *own, MlExpansion *sound, const MlPart *chip, int net_a, int net_b)
{
  const MlBoard *board = own->job->board;

  for (guint c = 0; c < board->n_conditions; c++)
    if (ml_case_is_read_in (own, (int) c) && !ml_condition_is_cold (&board->conditions[c]) && ml_expansion_solve (own->dictionary, sound, (int) c, NULL))
      {
        const MlNodalSolution *at = ml_expansion_look_at (own->dictionary, sound, (int) c);

        if (!is_at_rail (own, at, (int) c, chip, net_a) || !is_at_rail (own, at, (int) c, chip, net_b))
          return FALSE;
      }
  return TRUE;
}

static gboolean
links_rails (MlCase *own, MlExpansion *sound, const MlFault *fault)
{
  const MlBoard *board = own->job->board;

  for (guint i = 0; fault->kind == ML_FAULT_STRAY_LINK && i < board->n_parts; i++)
    if (is_chip (own, (int) i) && board->parts[i].supply_pin >= 0 && board->parts[i].ground_pin >= 0 && ml_part_pin_on (&board->parts[i], fault->net_a) >= 0
        && ml_part_pin_on (&board->parts[i], fault->net_b) >= 0)
      return is_at_rails (own, sound, &board->parts[i], fault->net_a, fault->net_b);
  return FALSE;
}

/* Whether it is one of those for which readings may speak by coincidence only. */
static gboolean
may_coincide (MlCase *own, MlExpansion *sound, const MlHypothesis *hypothesis)
{
  if (hypothesis->explains == ML_EXPLAINS_DRAWING)
    return is_about_chip (own, &hypothesis->fault);
  return hypothesis->explains == ML_EXPLAINS_FAULT && (frees_chip (own, &hypothesis->fault) || links_rails (own, sound, &hypothesis->fault));
}

gboolean
ml_case_is_about_chip (const MlCase *own, guint item)
{
  return is_about_chip (own, &ml_dictionary_hypothesis (own->dictionary, item)->fault);
}

gboolean
ml_case_weigh_coincidences (MlCase *own, double most)
{
  guint best = 0;

  if (own->dictionary->model->n_levels < 2 || !own->taken->len)
    return TRUE;
  for (guint i = 1; i < own->dictionary->model->n_nodes; i++) /* the sound board's items come first */
    if (own->items[i].ln > own->items[best].ln)
      best = i;
  if (ml_case_fit_tail (own, ml_case_expansion (own, best), NULL, own->taken->len) < ml_assumption ("block.coincidence-fit"))
    return TRUE;
  for (guint i = own->dictionary->model->n_nodes; i < own->dictionary->n_items; i++)
    {
      if (own->items[i].ln > own->items[best].ln + most && may_coincide (own, ml_case_expansion (own, best), ml_dictionary_hypothesis (own->dictionary, i)))
        own->items[i].ln = own->items[best].ln + most;
    }
  ml_case_update (own);
  return TRUE;
}
