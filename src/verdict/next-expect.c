/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the meter would tell apart there, and what to expect under each explanation. */
#include "verdict/next-private.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"

#include <math.h>

#define MOST_EXPECTED 5

/* The meter's limit of error there: V, A or ln ohm. */
double
ml_next_meter_error (const Search *search, MlReads reads, double value)
{
  const MlMeter *meter = search->meter;

  if (reads == ML_READS_OHMS)
    return meter->ohms_share + meter->ohms_counts * ml_meter_resolution (meter, exp (value)) / exp (value);
  return meter->dc_share * fabs (value) + meter->dc_counts * ml_meter_resolution (meter, value);
}

/* The explanation that an item belongs to, 0 when it is too unlikely to have a name. */
static guint
id_of (const Search *search, guint i)
{
  return search->own->id_of[search->own->dictionary->items[search->item[i]].hypothesis];
}

/* Whether a reading tells two values apart: by more than the meter's error, and by more than the model leaves out. A millivolt beside 0 V that was read
 * counts, but nobody is sent out for one. */
static gboolean
differ (const Search *search, guint place, double a, double b)
{
  MlReads reads = g_array_index (search->own->dictionary->places, MlReadingPlace, place).reads;
  double most = MAX (fabs (a), fabs (b)), out = ml_case_left_out (search->own, place, most, 0);

  if (reads == ML_READS_VOLTS)
    out = MAX (out, pow (search->own->figures.volts_v, 2));
  return fabs (a - b) > ml_assumption ("next.meter-errors") * hypot (ml_next_meter_error (search, reads, most), sqrt (out));
}

/* Whether the meter could tell two live explanations apart there at all, were every part exactly as it is; one of them must matter. */
gboolean
ml_next_can_be_told (const Search *search, guint place, const double *mean)
{
  double least = ml_assumption ("next.leading");

  for (guint i = 0; i < search->n; i++)
    for (guint j = 0; j < search->n && search->weight[i] >= least; j++)
      if (search->key[i] != search->key[j] && id_of (search, i) && id_of (search, j) && differ (search, place, mean[i], mean[j]))
        return TRUE;
  return FALSE;
}

/* How many things to work on lead. */
guint
ml_next_count_leaders (const Search *search)
{
  guint n = 0;

  for (guint i = 0; i < search->n; i++)
    {
      guint j = 0;

      while (j < i && search->key[j] != search->key[i])
        j++;
      n += j == i && search->leads[i];
    }
  return n;
}

/* Whether two of the leading things to work on read differently there, taken by and large: the likelier half of what each may have. */
gboolean
ml_next_tells_leaders (const Search *search, guint place, const double *mean)
{
  for (guint i = 0; i < search->n; i++)
    {
      double told = 0, all = 0;
      guint first = 0;

      while (search->key[first] != search->key[i])
        first++;
      if (!search->leads[i] || first < i)
        continue;
      for (guint j = 0; j < search->n; j++)
        for (guint k = 0; k < search->n; k++)
          if (search->key[j] == search->key[i] && search->key[k] != search->key[i] && search->leads[k])
            {
              all += search->weight[j] * search->weight[k];
              told += differ (search, place, mean[j], mean[k]) ? search->weight[j] * search->weight[k] : 0;
            }
      if (told > all / 2)
        return TRUE;
    }
  return FALSE;
}

static gboolean
is_listed (const GArray *expect, guint id)
{
  for (guint j = 0; j < expect->len; j++)
    if (g_array_index (expect, MlExpect, j).explanation == id)
      return TRUE;
  return FALSE;
}

/* What to expect under the likeliest explanations; the last place is kept for the likeliest that reads otherwise, if all before read alike. */
void
ml_next_add_expectations (Search *search, MlNextReading *next, guint place, const double *mean)
{
  GArray *expect = g_array_new (FALSE, FALSE, sizeof (MlExpect));
  gboolean apart = FALSE;

  for (guint i = 0; i < search->n && expect->len < MOST_EXPECTED; i++)
    {
      gboolean sound = ml_dictionary_hypothesis (search->own->dictionary, search->item[i])->explains == ML_EXPLAINS_HEALTHY;
      MlExpect own = { id_of (search, i), sound ? next->healthy : ml_shown_of (next->reads, mean[i], search->meter->diode_v) };
      gboolean differs = differ (search, place, mean[i], mean[0]);

      if (own.explanation == 0 || is_listed (expect, own.explanation) || (expect->len + 1 == MOST_EXPECTED && !apart && !differs))
        continue;
      apart |= differs;
      g_array_append_val (expect, own);
    }
  next->n_expect = expect->len;
  next->expect = (MlExpect *) (gpointer) g_array_free (expect, FALSE);
}
