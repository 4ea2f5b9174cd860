/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/remember.h"

#include <math.h>
#include <string.h>

static void
append_number (GByteArray *bytes, double number)
{
  g_byte_array_append (bytes, (const guint8 *) &number, sizeof number);
}

/* All that the evidence of an expansion depends on, as bytes that are equal for equal readings. */
static GBytes *
list_heard (const MlCase *own)
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
    }
  append_number (bytes, own->taken->len);
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
remembered_new (const MlDictionary *dictionary, GBytes *heard)
{
  MlRemembered *own = g_new0 (MlRemembered, 1);

  own->n_held = 1;
  own->heard = g_bytes_ref (heard);
  own->ln = g_new0 (double, MAX (dictionary->n_early, 1));
  own->blunt = g_new (double, MAX (dictionary->n_early, 1));
  for (guint i = 0; i < dictionary->n_early; i++)
    own->blunt[i] = NAN;
  own->fitted = g_new0 (gboolean, MAX (dictionary->n_items, 1));
  own->at = g_new0 (MlExpansion *, MAX (dictionary->n_items, 1));
  own->fitted_ln = g_new0 (double, MAX (dictionary->n_items, 1));
  return own;
}

void
ml_remembered_release (MlDictionary *dictionary, MlRemembered *remembered)
{
  if (!remembered || --remembered->n_held)
    return;
  for (guint i = 0; i < dictionary->n_items; i++)
    ml_expansion_free (dictionary, remembered->at[i]);
  g_bytes_unref (remembered->heard);
  g_free (remembered->ln);
  g_free (remembered->blunt);
  g_free (remembered->fitted);
  g_free (remembered->at);
  g_free (remembered->fitted_ln);
  g_free (remembered);
}

MlRemembered *
ml_case_remember (MlCase *own)
{
  MlDictionary *dictionary = own->dictionary;
  g_autoptr (GBytes) heard = list_heard (own);

  for (guint i = 0; i < own->remembered->len; i++)
    if (g_bytes_equal (((MlRemembered *) own->remembered->pdata[i])->heard, heard))
      return own->remembered->pdata[i];
  if (!dictionary->remembered || !g_bytes_equal (dictionary->remembered->heard, heard))
    {
      ml_remembered_release (dictionary, dictionary->remembered);
      dictionary->remembered = remembered_new (dictionary, heard);
    }
  dictionary->remembered->n_held++;
  g_ptr_array_add (own->remembered, dictionary->remembered);
  return dictionary->remembered;
}
