/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/remember.h"

#include "verdict/glance.h"

#include <math.h>
#include <string.h>

static void
append_number (GByteArray *bytes, double number)
{
  g_byte_array_append (bytes, (const guint8 *) &number, sizeof number);
}

#define MOST_GROWN (768u << 20) /* bytes kept for readings to come, at most: seldom half of them are needed */

GBytes *
ml_case_list_heard (const MlCase *own)
{
  GByteArray *bytes = g_byte_array_new ();

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);

      append_number (bytes, taken->place);
      append_number (bytes, taken->observed);
      append_number (bytes, taken->variance);
      append_number (bytes, taken->class.mild_variance);
      append_number (bytes, taken->class.span);
      append_number (bytes, taken->class.seldom);
    }
  return g_byte_array_free_to_bytes (bytes);
}

GBytes *
ml_case_list_seen (const MlCase *own)
{
  GByteArray *bytes = g_byte_array_new ();

  for (guint i = 0; i < own->job->n_observations; i++)
    {
      const MlObservation *seen = &own->job->observations[i];

      if (seen->unit != own->unit || seen->pass != own->pass)
        continue;
      append_number (bytes, seen->condition);
      append_number (bytes, seen->part);
      append_number (bytes, seen->supply);
      g_byte_array_append (bytes, (const guint8 *) seen->what, (guint) strlen (seen->what) + 1);
    }
  return g_byte_array_free_to_bytes (bytes);
}

static MlRemembered *
remembered_new (const MlCase *of, GBytes *heard, GBytes *seen)
{
  const MlDictionary *dictionary = of->dictionary;
  MlRemembered *own = g_new0 (MlRemembered, 1);
  double n_taken = of->taken->len;

  own->seen = g_bytes_ref (seen);
  if (dictionary->n_early * n_taken * (n_taken + 1 + of->n_signals) * sizeof (double) <= MOST_GROWN) /* with and without leakage; what is watched */
    own->grown = g_new0 (MlGrown, MAX (dictionary->n_early, 1));
  own->foreseen = ml_foreseen_new ();
  own->misfit = g_array_new (FALSE, FALSE, sizeof (double));
  own->touched = g_new0 (gboolean, MAX (dictionary->model->board->n_parts, 1));
  own->n_held = 1;
  own->heard = g_bytes_ref (heard);
  own->ln = g_new0 (double, MAX (dictionary->n_early, 1));
  own->blunt = g_new (double, MAX (dictionary->n_early, 1));
  own->beside = g_new (double, MAX (dictionary->n_early, 1));
  for (guint i = 0; i < dictionary->n_early; i++)
    own->blunt[i] = own->beside[i] = NAN;
  own->fitted = g_new0 (gboolean, MAX (dictionary->n_items, 1));
  own->at = g_new0 (MlExpansion *, MAX (dictionary->n_items, 1));
  own->fitted_ln = g_new0 (double, MAX (dictionary->n_items, 1));
  own->least_off = g_new0 (double, MAX (dictionary->n_items, 1));
  return own;
}

/* May be NULL. */
static void
free_again (MlDictionary *dictionary, GArray *again)
{
  for (guint i = 0; again && i < again->len; i++)
    ml_expansion_free (dictionary, g_array_index (again, MlAgain, i).at);
  g_clear_pointer (&again, g_array_unref);
}

void
ml_remembered_set_again (MlDictionary *dictionary, MlRemembered *remembered, GBytes *from, GArray *again)
{
  g_clear_pointer (&remembered->again_from, g_bytes_unref);
  free_again (dictionary, remembered->again);
  remembered->again_from = from;
  remembered->again = again;
}

void
ml_remembered_release (MlDictionary *dictionary, MlRemembered *remembered)
{
  if (!remembered || --remembered->n_held)
    return;
  for (guint i = 0; i < dictionary->n_items; i++)
    ml_expansion_free (dictionary, remembered->at[i]);
  for (guint i = 0; i < ML_N_SLICES; i++)
    ml_nodal_room_free (remembered->rooms[i]);
  ml_remembered_set_again (dictionary, remembered, NULL, NULL);
  g_free (remembered->grown);
  g_array_unref (remembered->misfit);
  g_ptr_array_unref (remembered->foreseen);
  g_free (remembered->touched);
  g_bytes_unref (remembered->heard);
  g_bytes_unref (remembered->seen);
  g_free (remembered->ln);
  g_free (remembered->blunt);
  g_free (remembered->beside);
  g_free (remembered->fitted);
  g_free (remembered->at);
  g_free (remembered->fitted_ln);
  g_free (remembered->least_off);
  g_free (remembered);
}

static gboolean
is_of (const MlRemembered *remembered, GBytes *heard, GBytes *seen)
{
  return g_bytes_equal (remembered->heard, heard) && g_bytes_equal (remembered->seen, seen);
}

/* Further readings after those of before: what was made of these goes on, unless a case at work holds it. What was judged last looks at its fits only. */
static void
take_over (MlRemembered *own, MlRemembered *before, const MlJudged *judged)
{
  gsize n, n_before;
  const char *heard = g_bytes_get_data (own->heard, &n), *heard_before = g_bytes_get_data (before->heard, &n_before);

  if (before->n_held > (judged && judged->remembered == before ? 2 : 1) || n_before > n || (n_before && memcmp (heard, heard_before, n_before) != 0))
    return;
  g_array_unref (own->misfit);
  own->misfit = g_array_ref (before->misfit);
  g_free (own->touched);
  own->touched = g_steal_pointer (&before->touched);
  own->n_touching = before->n_touching;
  if (!own->grown || !before->grown)
    return;
  g_free (own->grown);
  own->grown = g_steal_pointer (&before->grown);
  memcpy (own->rooms, before->rooms, sizeof own->rooms);
  memset (before->rooms, 0, sizeof before->rooms);
  g_ptr_array_unref (own->foreseen);
  own->foreseen = g_ptr_array_ref (before->foreseen);
}

MlRemembered *
ml_case_remember (MlCase *own)
{
  MlDictionary *dictionary = own->dictionary;
  g_autoptr (GBytes) heard = ml_case_list_heard (own), seen = ml_case_list_seen (own);

  for (guint i = 0; i < own->remembered->len; i++)
    if (is_of (own->remembered->pdata[i], heard, seen))
      return own->remembered->pdata[i];
  if (!dictionary->remembered || !is_of (dictionary->remembered, heard, seen))
    {
      MlRemembered *before = dictionary->remembered;

      dictionary->remembered = remembered_new (own, heard, seen);
      if (before)
        take_over (dictionary->remembered, before, dictionary->judged);
      if (before && g_bytes_equal (before->seen, seen))
        memcpy (dictionary->remembered->beside, before->beside, dictionary->n_early * sizeof (double));
      ml_remembered_release (dictionary, before);
    }
  dictionary->remembered->n_held++;
  g_ptr_array_add (own->remembered, dictionary->remembered);
  return dictionary->remembered;
}

void
ml_case_forget_remembered (MlCase *own)
{
  MlDictionary *dictionary = own->dictionary;
  MlRemembered *first = own->remembered->len ? own->remembered->pdata[0] : NULL;

  if (first && dictionary->remembered != first)
    {
      ml_remembered_release (dictionary, dictionary->remembered);
      dictionary->remembered = first;
      first->n_held++;
    }
  for (guint i = 0; i < own->remembered->len; i++)
    ml_remembered_release (dictionary, own->remembered->pdata[i]);
  g_ptr_array_unref (own->remembered);
}
