/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A comparator's output is high or low, and no slope leads from the one to the other: where its inputs are near each other in the middle of what the parts may be,
 * the sound board may as well rest on the other side, and no fit from the middle finds that. So it is begun there, too. */
#include "verdict/case.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

/* By how much the non-inverting input is above the other: a place that can be predicted. FALSE: the part has no such inputs. */
static gboolean
find_inputs (MlCase *own, guint part, int condition, guint *ret_place)
{
  const MlPart *it = &own->job->board->parts[part];
  int over = ml_part_find_pin (it, "noninverting"), under = ml_part_find_pin (it, "inverting");
  MlReadingPlace place = { .condition = condition, .reads = ML_READS_VOLTS, .supply = -1, .input_ohm = INFINITY };

  if (over < 0 || under < 0 || it->pins[over].net < 0 || it->pins[under].net < 0 || it->pins[over].net == it->pins[under].net)
    return FALSE;
  place.red = (MlProbe){ it->pins[over].net, -1, -1, ML_LEAD_NONE };
  place.black = (MlProbe){ it->pins[under].net, -1, -1, ML_LEAD_NONE };
  *ret_place = ml_dictionary_place (own->dictionary, &place);
  return TRUE;
}

/* The likeliest values with which the inputs stand just on the other side; NULL when none are likely enough. */
static MlExpansion *
other_side (MlCase *own, guint item, guint place)
{
  const MlModel *model = own->dictionary->model;
  const MlExpansion *from = ml_case_expansion (own, item);
  const MlPrediction *inputs = ml_case_predict_at (own, ml_case_expansion (own, item), place);
  double beyond = ml_assumption ("flip.beyond-volts"), to = inputs->value > 0 ? -beyond : beyond, sum = 0;
  g_autofree double *z = NULL;

  for (guint k = 0; k < inputs->n; k++)
    if (inputs->column[k] < model->n_unknowns && !model->unknowns[inputs->column[k]].leak)
      sum += inputs->slope[k] * inputs->slope[k];
  if (!inputs->valid || !(fabs (to - inputs->value) <= ml_assumption ("flip.most-sigma") * sqrt (sum)))
    return NULL;
  z = from->z ? g_memdup2 (from->z, own->dictionary->n_columns * sizeof *z) : g_new0 (double, own->dictionary->n_columns);
  for (guint k = 0; k < inputs->n; k++)
    if (inputs->column[k] < model->n_unknowns && !model->unknowns[inputs->column[k]].leak)
      z[inputs->column[k]] += (to - inputs->value) / sum * inputs->slope[k];
  return ml_expansion_new (own->dictionary, (int) item, -1, z);
}

gboolean
ml_case_refine_flips (MlCase *own, GCancellable *cancellable, GError **error)
{
  const MlBoard *board = own->job->board;

  for (guint part = 0; part < board->n_parts && own->hypothesis_probability[0] < ml_assumption ("flip.sound"); part++)
    for (guint c = 0; c < board->n_conditions; c++)
      for (guint node = 0; node < own->dictionary->model->n_nodes; node++)
        {
          guint place;
          MlExpansion *start;

          if (g_cancellable_set_error_if_cancelled (cancellable, error))
            return FALSE;
          if (!own->dictionary->model->conditions[c].solver || !ml_case_is_read_in (own, (int) c) || !find_inputs (own, part, (int) c, &place))
            continue;
          start = other_side (own, node, place);
          if (start && ml_case_ln_at (own, start, NULL) > own->items[node].ln) /* its straight line promises that much at least */
            ml_case_keep_better_fit (own, node, start);
          else
            ml_expansion_free (own->dictionary, start);
        }
  ml_case_update (own);
  return TRUE;
}
