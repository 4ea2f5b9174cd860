/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a sound board would show on this bench: the chips that nobody has a diagram of do what the leading explanation found them to do,
 * the supplies give what they were seen to give, a part whose value nobody could read has the value that was found, every other part is as
 * drawn. A chip's output at 4.2 V is no news about the transistor behind it, nor is the tap of a divider without values about the amplifier
 * behind that; what these should then do is what a person compares with. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"
#include "verdict/expansion-private.h"
#include "verdict/pairs.h"

#include <math.h>

static gboolean
is_bench (const MlUnknown *unknown)
{
  return unknown->block || unknown->chopped || unknown->part < 0;
}

gboolean
ml_case_is_blamed (const MlCase *own, const MlExpansion *at, int part)
{
  return ml_dictionary_hypothesis (own->dictionary, (guint) at->item)->fault.part == part
         || (at->second >= 0 && ml_dictionary_hypothesis (own->dictionary, (guint) at->second)->fault.part == part);
}

/* What is spread about zero, an amplifier's offset, is nothing that is read off a part. */
static gboolean
is_unread (const MlUnknown *unknown, double least)
{
  return unknown->log ? unknown->spread > least : unknown->centre != 0 && unknown->spread > least * fabs (unknown->centre);
}

/* Which columns a sound board takes over from the leading explanation; new array. */
static gboolean *
find_taken_over (const MlCase *own, const MlExpansion *leader)
{
  const MlModel *model = own->dictionary->model;
  const double least = ml_assumption ("found.unread");
  gboolean *taken_over = g_new0 (gboolean, own->dictionary->n_columns);

  for (guint i = 0; i < model->n_unknowns; i++)
    {
      const MlUnknown *unknown = &model->unknowns[i];

      if (is_bench (unknown))
        taken_over[i] = TRUE;
      else if (!unknown->leak && is_unread (unknown, least) && !ml_case_is_blamed (own, leader, unknown->part))
        {
          taken_over[i] = TRUE;
          if (unknown->group >= 0)
            taken_over[unknown->group] = TRUE;
        }
    }
  return taken_over;
}

/* The same columns of that fit's z, where it has any; the values nobody could read only when they were found far from what they were taken to be:
 * near it everything is linear. */
static double *
z_taken_over (const MlCase *own, const MlExpansion *leader, const gboolean *taken_over, double least_moved, gboolean *ret_moved)
{
  const MlModel *model = own->dictionary->model;
  const double most = ml_assumption ("found.most");
  double *z = g_new0 (double, own->dictionary->n_columns);

  *ret_moved = FALSE;
  for (guint i = 0; leader->z && i < own->dictionary->n_columns; i++)
    *ret_moved |= taken_over[i] && (i >= model->n_unknowns || !is_bench (&model->unknowns[i])) && fabs (leader->z[i]) >= least_moved;
  for (guint i = 0; leader->z && i < own->dictionary->n_columns; i++)
    if (taken_over[i] && i < model->n_unknowns && is_bench (&model->unknowns[i]))
      z[i] = leader->z[i];
    else if (taken_over[i] && *ret_moved)
      z[i] = CLAMP (leader->z[i], -most, most);
  return z;
}

/* Moved by so little that everything is there as it is at the centre. */
static gboolean
is_centre (const double *z, guint n)
{
  double least = ml_assumption ("refine.moved");

  for (guint i = 0; i < n; i++)
    if (fabs (z[i]) >= least)
      return FALSE;
  return TRUE;
}

/* At each node the likeliest state of affairs of all. */
double **
ml_case_benches (const MlCase *own)
{
  guint n_nodes = own->dictionary->model->n_nodes;
  double **bench = g_new0 (double *, n_nodes);

  for (guint k = 0; k < n_nodes; k++)
    {
      guint best = k; /* the sound board at that node */
      g_autofree gboolean *taken_over = NULL;
      gboolean moved;

      for (guint i = 0; i < own->dictionary->n_early; i++)
        if (own->dictionary->items[i].node == k && own->probability[i] > own->probability[best])
          best = i;
      taken_over = find_taken_over (own, ml_case_expansion (own, best));
      bench[k] = z_taken_over (own, ml_case_expansion (own, best), taken_over, ml_assumption ("refine.unread-moved"), &moved);
      if (is_centre (bench[k], own->dictionary->n_columns) || (n_nodes == 1 && !moved))
        g_clear_pointer (&bench[k], g_free);
    }
  return bench;
}

void
ml_case_benches_free (const MlCase *own, double **benches)
{
  for (guint k = 0; k < own->dictionary->model->n_nodes; k++)
    g_free (benches[k]);
  g_free (benches);
}

/* The farthest that any part's value is from its middle, in standard deviations. */
static double
farthest (const MlCase *own, const MlExpansion *at)
{
  double most = 0;

  for (guint i = 0; at->z && i < own->dictionary->n_columns; i++)
    if (!own->taken_over[i])
      most = MAX (most, fabs (at->z[i]));
  return most;
}

/* What a straight line from the one gives at the other. */
static double
straight_to (const MlExpansion *from, const MlPrediction *prediction, const MlExpansion *to)
{
  double value = prediction->value;

  for (guint k = 0; k < prediction->n; k++)
    value += prediction->slope[k] * (to->z[prediction->column[k]] - (from->z ? from->z[prediction->column[k]] : 0));
  return value;
}

/* A reading far off at the one, and not at the other, where no straight line leads: that would be parts outside their tolerance. */
static gboolean
is_better_read (MlCase *own, MlExpansion *far, MlExpansion *near)
{
  const double odd = ml_assumption ("word.odd");

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlPrediction *a = ml_case_predict_at (own, far, taken->place), *b = ml_case_predict_at (own, near, taken->place);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
      double sigma = sqrt (taken->variance + ml_case_left_out (own, taken->place, taken->observed, 0));

      if (a->valid && b->valid && fabs (taken->observed - a->value) > odd * hypot (sigma, ml_case_spread (own, a, reads))
          && fabs (taken->observed - b->value) <= odd * sigma && fabs (taken->observed - straight_to (far, a, near)) > odd * sigma)
        return TRUE;
    }
  return FALSE;
}

/* Where the sound board leads, and small differences of its parts let an amplifier stand the other way round than at the middle of them all, what is fine is
 * what stands there: no reading is odd for that. */
static void
follow_leader (MlCase *own)
{
  MlExpansion *leader = ml_case_leader (own);

  if (own->best_pair >= 0 || ml_dictionary_hypothesis (own->dictionary, own->best_item)->explains != ML_EXPLAINS_HEALTHY || !leader->z
      || farthest (own, leader) > ml_assumption ("found.most") || !is_better_read (own, own->fine, leader))
    return;
  ml_expansion_free (own->dictionary, own->fine);
  own->fine = ml_expansion_new (own->dictionary, leader->item, -1, leader->z);
}

MlExpansion *
ml_case_fine (MlCase *own)
{
  if (!own->fine)
    {
      gboolean moved;
      g_autofree double *z = NULL;

      own->taken_over = find_taken_over (own, ml_case_leader (own));
      z = z_taken_over (own, ml_case_leader (own), own->taken_over, 0, &moved);
      /* The first items are the sound board's, one at each node of the blocks. */
      own->fine = ml_expansion_new (own->dictionary, (int) own->dictionary->items[ml_case_leader (own)->item].node, -1, z);
      follow_leader (own);
    }
  return own->fine;
}

double
ml_case_predict_fine (MlCase *own, guint place, double *ret_sigma)
{
  const MlPrediction *all = ml_expansion_predict (own->dictionary, ml_case_fine (own), place, NULL);
  g_autofree guint *column = g_new (guint, MAX (all->n, 1));
  g_autofree double *slope = g_new (double, MAX (all->n, 1));
  MlPrediction bench = { .column = column, .slope = slope };
  double variance = 0, known;

  for (guint i = 0; i < all->n; i++)
    if (own->taken_over[all->column[i]])
      {
        column[bench.n] = all->column[i];
        slope[bench.n++] = all->slope[i];
      }
    else
      variance += all->slope[i] * all->slope[i];
  ml_case_fitted_along (own, ml_case_leader (own), &bench, &known);
  *ret_sigma = sqrt (variance + known + ml_case_left_out (own, place, all->value, all->chopped));
  return all->valid ? all->value : NAN;
}

/* ---- the same for a circuit with another fault in it ---- */

struct _MlFound
{
  guint n_conditions;
  MlChanges **changes; /* per condition; NULL: none */
  int *n_devices;      /* per condition, of the circuit they are meant for */
};

static void
clear_found (gpointer data)
{
  MlFound *found = data;

  for (guint c = 0; c < found->n_conditions; c++)
    if (found->changes[c])
      ml_changes_free (found->changes[c]);
  g_free (found->changes);
  g_free (found->n_devices);
}

MlFound *
ml_found_ref (MlFound *found)
{
  return found ? g_atomic_rc_box_acquire (found) : NULL;
}

void
ml_found_unref (MlFound *found)
{
  if (found)
    g_atomic_rc_box_release_full (found, clear_found);
}

/* Wires that this unit has and the drawing has not are devices more. */
static gboolean
is_linked (const MlCase *own)
{
  const MlUnitOnBench *unit = &own->job->units[own->unit];

  for (guint i = 0; i < unit->n_differences; i++)
    if (unit->differences[i].what == ML_DIFFERS_LINKED && unit->differences[i].pass <= own->pass)
      return TRUE;
  return FALSE;
}

static MlFound *
new_found (MlCase *own)
{
  const MlModel *model = own->dictionary->model;
  MlFound *found = g_atomic_rc_box_new0 (MlFound);
  int sized[2];

  found->n_conditions = model->board->n_conditions;
  found->changes = g_new0 (MlChanges *, MAX (found->n_conditions, 1));
  found->n_devices = g_new0 (int, MAX (found->n_conditions, 1));
  for (guint c = 0; c < found->n_conditions; c++)
    if (model->conditions[c].circuit)
      {
        MlChanges *changes = ml_changes_new ();

        if (ml_expansion_list_changes (own->dictionary, changes, ml_case_fine (own), (int) c, sized))
          found->changes[c] = g_steal_pointer (&changes);
        else
          ml_changes_free (changes);
        found->n_devices[c] = ml_nodal_circuit_n_devices (model->conditions[c].circuit);
      }
  return found;
}

void
ml_found_add (const MlFound *found, MlChanges *changes, const MlModel *model, int condition)
{
  if (found && (guint) condition < found->n_conditions && found->changes[condition] && model->conditions[condition].circuit
      && ml_nodal_circuit_n_devices (model->conditions[condition].circuit) == found->n_devices[condition])
    g_array_append_vals (changes->array, found->changes[condition]->array->data, found->changes[condition]->array->len);
}

void
ml_verdict_find_fine (MlVerdict *verdict, MlCase *own)
{
  verdict->n_fine = own->job->board->n_conditions;
  verdict->fine = g_new0 (MlOperatingPoint *, MAX (verdict->n_fine, 1));
  for (guint c = 0; c < verdict->n_fine; c++)
    if (ml_expansion_solve (own->dictionary, ml_case_fine (own), (int) c, NULL))
      verdict->fine[c] = ml_operating_point_of (own->dictionary->model, (int) c, ml_expansion_at (own->dictionary, ml_case_fine (own), (int) c));
  /* Of a net that switches it is the average that was found: a supposed fault would have to bend it along. */
  if (own->dictionary->model->n_states == 1 && !is_linked (own))
    verdict->found = new_found (own);
}
