/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slips in words, and into the verdict. */
#include "verdict/misread.h"

#include <math.h>

#define LEAST_SHOWN_V 1e-4 /* half of the last digit of a common meter's 200 mV range; from memory */

/* Nobody reads -813 nV. */
static char *
say_value (MlReads reads, double value)
{
  if (ml_reading_unit (reads) == ML_UNIT_VOLT && fabs (value) < LEAST_SHOWN_V)
    value = 0;
  return ml_say_quantity (reads == ML_READS_OHMS ? exp (value) : value, ml_reading_unit (reads));
}

static char *
say_thousandfold (const MlMisread *own, const MlTaken *taken, MlReads reads, const char *value)
{
  gboolean too_large = reads == ML_READS_OHMS ? taken->observed > own->fitting : fabs (taken->observed) > fabs (own->fitting);

  if (reads == ML_READS_OHMS)
    return g_strdup_printf ("%s? %s would fit", too_large ? "kilohms for ohms" : "ohms for kilohms", value);
  return g_strdup_printf ("%s? %s would fit", too_large ? "typed without its m" : "typed with an m too many", value);
}

char *
ml_misread_say (const MlCase *own, guint taken)
{
  const MlMisread *misread = &own->misread[taken];
  const MlTaken *reading = &g_array_index (own->taken, MlTaken, taken);
  MlReads reads = own->job->readings[reading->reading].reads;
  g_autofree char *value = say_value (reads, misread->fitting);
  g_autofree char *pin = misread->at.net >= 0 ? ml_probe_label (own->job->board, &misread->at) : NULL;

  switch (misread->slip)
    {
    case ML_SLIP_SWAPPED: return g_strdup_printf ("probes swapped? %s would fit", value);
    case ML_SLIP_THOUSANDFOLD: return say_thousandfold (misread, reading, reads, value);
    case ML_SLIP_WRONG_PIN: return g_strdup_printf ("%s probe on %s instead? Here %s would fit", misread->at_black ? "black" : "red", pin, value);
    case ML_SLIP_WRONG_CONDITION:
      return g_strdup_printf ("taken in condition %s instead? In %s %s would fit", own->job->board->conditions[misread->condition].name,
                              own->job->board->conditions[own->job->readings[reading->reading].condition].name, value);
    case ML_SLIP_UNCLEAR: return g_strdup_printf ("at odds with the other readings: %s would fit", value);
    case ML_SLIP_NONE:
    default: return NULL;
    }
}

/* ---- into the verdict ---- */

/* Of a whole condition that was mixed up: what the leader gives where the reading was said to be taken. */
static gboolean
fill_from_condition (MlCase *own, guint taken, MlReadingVerdict *reading)
{
  const MlConditionSlip *what = own->condition_slip;
  const MlTaken *self = &g_array_index (own->taken, MlTaken, taken);
  const MlReading *read = &own->job->readings[self->reading];
  double fits, sigma;

  if (what->slip == ML_SLIP_NONE || (read->condition != what->condition && !(what->exchanged && read->condition == what->other))
      || (what->slip == ML_SLIP_SWAPPED && read->reads != ML_READS_VOLTS))
    return FALSE;
  fits = ml_case_predict (own, own->best_item, self->named)->value;
  sigma = sqrt (self->variance + ml_case_floor (own, read->reads, fits, 0));
  if (fabs (fits - (what->slip == ML_SLIP_SWAPPED ? -self->observed : self->observed)) < 3 * sigma)
    return FALSE; /* it would read the same either way */
  reading->doubtful = TRUE;
  reading->slip = what->slip;
  reading->fits = read->reads == ML_READS_OHMS ? exp (fits) : fits;
  if (what->slip == ML_SLIP_WRONG_CONDITION)
    reading->slip_condition = read->condition == what->condition ? what->other : what->condition;
  own->misread[taken] = (MlMisread){ what->probability, what->slip, fits, { -1, -1, -1, FALSE }, FALSE, reading->slip_condition };
  reading->slip_text = ml_misread_say (own, taken);
  return TRUE;
}

void
ml_misread_fill (MlCase *own, guint taken, MlReadingVerdict *reading)
{
  const MlMisread *misread = &own->misread[taken];

  reading->fits = NAN;
  reading->slip_at = (MlProbe){ -1, -1, -1, FALSE };
  reading->slip_condition = -1;
  if (fill_from_condition (own, taken, reading) || misread->slip == ML_SLIP_NONE)
    return;
  reading->doubtful = TRUE;
  reading->slip = misread->slip;
  reading->fits = own->job->readings[g_array_index (own->taken, MlTaken, taken).reading].reads == ML_READS_OHMS ? exp (misread->fitting)
                                                                                                               : misread->fitting;
  reading->slip_at = misread->at;
  reading->slip_condition = misread->condition;
  reading->slip_text = ml_misread_say (own, taken);
}
