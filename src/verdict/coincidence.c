/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a pin of an unknown chip stands at is no evidence of a wrong drawing. The sound board leaves it open and pays for every reading that pins it
 * down, in each condition anew; a drawing that ties the pin down pays nothing, and would win by that alone. But chips are built to do something
 * definite: rails of two regulators are alike because both are 5 V, an output rests at ground in every condition. So where the sound board gives all
 * readings, a slip in drawing such a chip's nets is no more than so much the likelier for them. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"

static gboolean
is_chip (const MlCase *own, int part)
{
  return part >= 0 && own->dictionary->model->block_current[part] != NULL;
}

static gboolean
has_chip (const MlCase *own, int net)
{
  const MlBoard *board = own->job->board;

  for (guint i = 0; net >= 0 && i < board->n_parts; i++)
    for (guint p = 0; is_chip (own, (int) i) && p < board->parts[i].n_pins; p++)
      if (board->parts[i].pins[p].net == net)
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
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, i);

      if (hypothesis->explains == ML_EXPLAINS_DRAWING && own->items[i].ln > own->items[best].ln + most && is_about_chip (own, &hypothesis->fault))
        own->items[i].ln = own->items[best].ln + most;
    }
  ml_case_update (own);
  return TRUE;
}
