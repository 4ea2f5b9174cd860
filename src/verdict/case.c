/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/grown.h"
#include "verdict/misread.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"
#include "verdict/remember.h"
#include "verdict/room.h"
#include "verdict/side-by-side.h"

#include <math.h>
#include <string.h>

#define N_CHUNK 128 /* items between two looks at whether to go on */
#define N_MORE 2 /* readings to come that room is made for */

static void
find_figures (MlCase *own)
{
  own->figures = (MlCaseFigures){ .volts_v = ml_assumption ("floor.volts"),
                                  .zero_v = ml_assumption ("floor.zero"),
                                  .zero_scale = ml_assumption ("floor.zero-scale"),
                                  .volts_share = ml_assumption ("floor.share"),
                                  .switching_v = ml_assumption ("floor.switching-volts"),
                                  .switching_share = ml_assumption ("floor.switching-share"),
                                  .hiccup = ml_assumption ("floor.hiccup"),
                                  .dry = ml_assumption ("leak.none"),
                                  .amps_a = ml_assumption ("floor.amps"),
                                  .amps_share = ml_assumption ("floor.amps-share"),
                                  .unsolved_share = ml_assumption ("reading.unsolved-share"),
                                  .mild = ml_assumption ("reading.mild"),
                                  .gross = ml_assumption ("reading.gross") };
  ml_pin_figures_find (&own->figures.pins);
  own->ln_centre = g_new (double, MAX (own->dictionary->model->n_unknowns, 1));
  own->signal_of = g_new (int, MAX (own->dictionary->model->n_unknowns, 1));
  for (guint i = 0; i < own->dictionary->model->n_unknowns; i++)
    {
      own->ln_centre[i] = log (own->dictionary->model->unknowns[i].centre);
      /* Of a pin that a good unit tells about, it knows better. */
      gboolean told = own->dictionary->model->carried && own->dictionary->model->carried->known[i];
      own->signal_of[i] = own->dictionary->model->unknowns[i].signal && !told ? (int) own->n_signals++ : -1;
    }
}

MlCase *
ml_case_new (MlDictionary *dictionary, MlJob *job, int unit, guint pass)
{
  MlCase *own = g_new0 (MlCase, 1);

  own->dictionary = dictionary;
  find_figures (own);
  own->job = job;
  own->unit = unit;
  own->pass = pass;
  own->taken = g_array_new (FALSE, FALSE, sizeof (MlTaken));
  own->remembered = g_ptr_array_new ();
  own->items = g_new0 (MlWeighed, dictionary->n_items);
  own->probability = g_new0 (double, dictionary->n_items);
  own->hypothesis_probability = g_new0 (double, dictionary->hypotheses->len);
  own->id_of = g_new0 (guint, dictionary->hypotheses->len);
  own->part_probability = g_new0 (double, MAX (job->board->n_parts, 1));
  for (guint i = 0; i < job->n_readings; i++)
    if (job->readings[i].unit == unit && job->readings[i].pass == pass && !job->readings[i].replaced)
      {
        ml_case_take_reading (own, i, FALSE);
        if (job->readings[i].has_shown)
          ml_case_take_reading (own, i, TRUE);
      }
  own->misread = g_new0 (MlMisread, MAX (own->taken->len, 1));
  own->condition_slip = g_new0 (MlConditionSlip, 1);
  own->pairs = ml_pairs_new ();
  own->best_pair = -1;
  own->least_off = INFINITY;
  own->readings_left = NAN;
  return own;
}

void
ml_case_free (MlCase *own)
{
  if (!own)
    return;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      if (!own->items[i].lent)
        ml_expansion_free (own->dictionary, own->items[i].refined);
      ml_expansion_free (own->dictionary, own->items[i].mirrored);
      g_free (own->items[i].z_hat);
    }
  ml_expansion_free (own->dictionary, own->fine);
  g_free (own->taken_over);
  ml_case_forget_remembered (own);
  g_array_unref (own->taken);
  g_free (own->ln_centre);
  g_free (own->signal_of);
  g_clear_pointer (&own->fits, g_hash_table_unref);
  g_free (own->items);
  g_free (own->probability);
  g_free (own->hypothesis_probability);
  g_free (own->part_probability);
  g_free (own->id_of);
  g_free (own->misread);
  g_free (own->condition_slip);
  for (guint i = 0; i < own->pairs->len && own->glancing; i++) /* borrowed */
    g_array_index (own->pairs, MlPair, i).at = NULL;
  ml_pairs_free (own->dictionary, own->pairs);
  g_free (own);
}

/* ---- all items ---- */

gboolean
ml_case_same_as_twin (const MlCase *own, guint item)
{
  int part = ml_dictionary_hypothesis (own->dictionary, item)->fault.part;

  if (own->dictionary->items[item].twin < 0)
    return FALSE;
  for (guint i = 0; i < own->taken->len; i++)
    {
      guint index = g_array_index (own->taken, MlTaken, i).place;
      const MlReadingPlace *place = &g_array_index (own->dictionary->places, MlReadingPlace, index);
      if ((place->red.lead && place->red.part == part) || (place->black.lead && place->black.part == part))
        return FALSE;
    }
  return TRUE;
}

/* A run of items that are filled together: predicted condition beside condition, then weighed in slices. */
typedef struct
{
  MlCase *own;
  MlRemembered *remembered;
  const MlForeseen **foreseen; /* per taken: what was prepared for it; NULL: nothing */
  MlGrowing growing[ML_N_SLICES];
  guint items[N_CHUNK], n_items;
} Filling;

static const MlPrepared *
prepared_of (const Filling *filling, guint item, guint taken)
{
  return ml_foreseen_of (filling->foreseen[taken], filling->own->dictionary, item, g_array_index (filling->own->taken, MlTaken, taken).place);
}

/* Whether a reading is still to be predicted before the item can be weighed. */
static gboolean
needs_predicting (const Filling *filling, guint item)
{
  const MlGrown *grown = filling->remembered->grown ? &filling->remembered->grown[item] : NULL;

  for (guint i = grown ? grown->with.n : 0; i < filling->own->taken->len; i++)
    if (!prepared_of (filling, item, i))
      return TRUE;
  return FALSE;
}

static void
predict_chunk (const Filling *filling)
{
  guint n_taken = filling->own->taken->len, items[N_CHUNK], n = 0;
  g_autofree guint *places = g_new (guint, MAX (n_taken, 1));

  for (guint i = 0; i < n_taken; i++)
    places[i] = g_array_index (filling->own->taken, MlTaken, i).place;
  for (guint i = 0; i < filling->n_items; i++)
    if (needs_predicting (filling, filling->items[i]))
      items[n++] = filling->items[i];
  if (n)
    ml_dictionary_predict_items (filling->own->dictionary, items, n, places, n_taken);
}

/* The evidence of an item at its centre, grown from that of fewer readings; all that is not prepared is predicted by now. */
static double
weigh_item (const Filling *filling, MlGrowing *growing, MlNodalRoom *room, guint item)
{
  MlGrown fresh = { 0 }, *grown = filling->remembered->grown ? &filling->remembered->grown[item] : &fresh;
  double ln;

  if (!grown->with.n && filling->remembered->grown)
    grown->with.lies_in = grown->without.lies_in = room;
  if (!grown->with.n)
    ml_whitened_reserve (&grown->with, filling->own->taken->len + N_MORE);
  while (grown->with.n < filling->own->taken->len && !grown->lost)
    {
      const MlPrepared *prepared = prepared_of (filling, item, grown->with.n);

      if (prepared)
        ml_grown_take (growing, item, grown, prepared);
      else
        ml_grown_next (growing, item, grown);
    }
  ln = ml_grown_ln (growing, item, grown);
  ml_grown_clear (&fresh);
  return ln;
}

static void
weigh_slice_cb (guint slice, gpointer data)
{
  Filling *filling = data;

  for (guint i = 0; i < filling->n_items; i++)
    if (filling->items[i] % ML_N_SLICES == slice)
      filling->own->items[filling->items[i]].ln = weigh_item (filling, &filling->growing[slice], filling->remembered->rooms[slice], filling->items[i]);
}

/* What speaks beside the readings, to an item at its centre: the observations alone. */
static double
beside_ln (MlCase *own, MlRemembered *remembered, guint item)
{
  double *known = &remembered->beside[item];

  if (isnan (*known))
    *known = ml_case_beside_ln (own, own->dictionary->expansions[item], NULL);
  return *known;
}

/* From item `first` on; the next one left. */
static guint
fill_chunk (Filling *filling, guint first)
{
  MlCase *own = filling->own;
  guint end = first;

  for (filling->n_items = 0; end < own->dictionary->n_early && filling->n_items < N_CHUNK; end++)
    if (!ml_case_same_as_twin (own, end))
      filling->items[filling->n_items++] = end;
  predict_chunk (filling);
  ml_side_by_side (ML_N_SLICES, weigh_slice_cb, filling);
  for (guint i = first; i < end; i++)
    if (ml_case_same_as_twin (own, i))
      own->items[i].ln = own->items[own->dictionary->items[i].twin].ln;
    else
      own->items[i].ln += beside_ln (own, filling->remembered, i);
  return end;
}

static Filling *
filling_new (MlCase *own, MlRemembered *remembered)
{
  Filling *filling = g_new (Filling, 1);

  *filling = (Filling){ .own = own, .remembered = remembered, .foreseen = g_new (const MlForeseen *, MAX (own->taken->len, 1)) };
  for (guint i = 0; i < own->taken->len; i++)
    filling->foreseen[i] = ml_foreseen_find (remembered->foreseen, own->dictionary, g_array_index (own->taken, MlTaken, i).place, i);
  for (guint k = 0; k < ML_N_SLICES; k++)
    ml_growing_init (&filling->growing[k], own);
  for (guint k = 0; k < ML_N_SLICES && remembered->grown; k++)
    ml_room_at (&remembered->rooms[k]);
  return filling;
}

static void
filling_free (Filling *filling)
{
  for (guint k = 0; k < ML_N_SLICES; k++)
    ml_growing_clear (&filling->growing[k]);
  g_free (filling->foreseen);
  g_free (filling);
}

void
ml_case_fill_some (MlCase *own, const guint *items, guint n)
{
  Filling *filling = filling_new (own, ml_case_remember (own));

  for (guint i = 0; i < n; i += N_CHUNK)
    {
      filling->n_items = MIN (n - i, N_CHUNK);
      memcpy (filling->items, items + i, filling->n_items * sizeof *items);
      predict_chunk (filling);
      ml_side_by_side (ML_N_SLICES, weigh_slice_cb, filling);
    }
  for (guint i = 0; i < n; i++)
    own->items[items[i]].ln += beside_ln (own, filling->remembered, items[i]);
  filling_free (filling);
}

static gboolean
fill_items (MlCase *own, MlRemembered *remembered, GCancellable *cancellable, GError **error)
{
  Filling *filling = filling_new (own, remembered);
  gboolean going = TRUE;

  for (guint i = 0; i < own->dictionary->n_early && going;)
    {
      going = !g_cancellable_set_error_if_cancelled (cancellable, error);
      if (going)
        i = fill_chunk (filling, i);
    }
  filling_free (filling);
  if (going) /* what they followed upon is past */
    g_ptr_array_set_size (remembered->foreseen, 0);
  return going;
}

gboolean
ml_case_fill (MlCase *own, GCancellable *cancellable, GError **error)
{
  MlRemembered *remembered = ml_case_remember (own);

  for (guint i = own->dictionary->n_early; i < own->dictionary->n_items; i++)
    own->items[i].ln = -INFINITY;
  for (guint i = 0; i < own->dictionary->n_early && remembered->filled; i++)
    own->items[i].ln = remembered->ln[i];
  if (!remembered->filled && !fill_items (own, remembered, cancellable, error))
    return FALSE;
  for (guint i = 0; i < own->dictionary->n_early; i++)
    remembered->ln[i] = own->items[i].ln;
  remembered->filled = TRUE;
  own->misfit_ln = ml_case_misfit (own, remembered->misfit) + ml_case_seen_misfit_ln (own);
  return TRUE;
}

MlExpansion *
ml_case_expansion (const MlCase *own, guint item)
{
  int twin = own->dictionary->items[item].twin;

  if (own->items[item].refined)
    return own->items[item].refined;
  if (twin >= 0 && own->items[twin].refined && ml_case_same_as_twin (own, item))
    return own->items[twin].refined;
  return own->dictionary->expansions[item];
}

/* A joint judged as that of the other pin reads the same from the solder, but not from the part's own metal. */
static MlExpansion *
mirror (MlCase *own, guint item)
{
  MlWeighed *weighed = &own->items[item];

  if (!weighed->mirrored)
    weighed->mirrored = ml_expansion_new (own->dictionary, (int) item, -1, ml_case_expansion (own, item)->z);
  return weighed->mirrored;
}

const MlPrediction *
ml_case_predict (MlCase *own, guint item, guint place)
{
  const MlReadingPlace *at = &g_array_index (own->dictionary->places, MlReadingPlace, place);
  int part = ml_dictionary_hypothesis (own->dictionary, item)->fault.part;

  if (ml_case_expansion (own, item)->item != (int) item && ((at->red.lead && at->red.part == part) || (at->black.lead && at->black.part == part)))
    return ml_case_predict_at (own, mirror (own, item), place);
  return ml_case_predict_at (own, ml_case_expansion (own, item), place);
}
