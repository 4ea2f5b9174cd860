/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings of the job as the evidence takes them: place, value, variance, and what a misreading may have done. */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"

#include <math.h>

static void
take_volts (MlCase *own, MlTaken *taken, double measured)
{
  double span = own->dictionary->model->conditions[own->job->readings[taken->reading].condition].span_v;
  double off = ml_assumption ("reading.mild-share") * measured, least = ml_assumption ("reading.mild-volts");

  taken->observed = measured;
  taken->class.mild_variance = least * least + off * off;
  taken->class.span = MAX (span, ml_assumption ("reading.gross-span-v"));
}

static void
take_amps (MlTaken *taken, double measured, double limit)
{
  taken->observed = measured;
  taken->class.mild_variance = pow (ml_assumption ("reading.mild-amps-share") * measured, 2) + pow (ml_assumption ("reading.mild-amps"), 2);
  taken->class.span = MAX (limit, 0.1);
  taken->class.seldom = ml_assumption ("reading.gross-amps");
}

gboolean
ml_case_is_read_in (const MlCase *own, int condition)
{
  for (guint i = 0; i < own->taken->len; i++)
    if (g_array_index (own->dictionary->places, MlReadingPlace, g_array_index (own->taken, MlTaken, i).place).condition == condition)
      return TRUE;
  return FALSE;
}

gboolean
ml_case_find_place (const MlCase *own, const MlReading *reading, gboolean shown, MlReadingPlace *ret_place)
{
  const MlMeter *meter = &own->job->meters[reading->meter];
  const MlCondition *condition = &own->job->board->conditions[reading->condition];
  MlReadingPlace place = { .condition = reading->condition, .reads = reading->reads, .red = reading->red, .black = reading->black,
                           .supply = reading->reads == ML_READS_AMPS ? reading->supply : -1, .input_ohm = meter->input_ohm,
                           .test_a = 0, .compliance_v = meter->diode_v };

  if (shown)
    {
      const MlSupply *supply = &condition->supplies[reading->supply];
      place.reads = ML_READS_VOLTS;
      place.supply = -1;
      place.red = (MlProbe){ supply->plus, -1, -1, FALSE };
      place.black = (MlProbe){ supply->minus, -1, -1, FALSE };
      place.input_ohm = INFINITY;
    }
  if (place.reads == ML_READS_DIODE)
    place.test_a = meter->diode_a;
  if (place.reads == ML_READS_OHMS)
    {
      place.test_a = ml_meter_ohms_test_a (meter, reading->measured.over ? INFINITY : reading->measured.value);
      place.compliance_v = ml_meter_figure ("ohms-open-volts");
    }
  if (place.reads == ML_READS_AMPS)
    {
      place.red = place.black = (MlProbe){ -1, -1, -1, FALSE };
      place.input_ohm = INFINITY;
    }
  *ret_place = place;
  return place.reads == ML_READS_AMPS || place.red.net >= 0 || place.red.part >= 0;
}

static int
net_of_probe (const MlBoard *board, const MlProbe *probe)
{
  return probe->part >= 0 && probe->pin >= 0 ? board->parts[probe->part].pins[probe->pin].net : probe->net;
}

/* The d.c. value of a chopped net is only an average whose size depends on what nobody measured; one that a capacitor moves may have it beyond a rail. */
static double
average_variance (const MlCase *own, const MlReadingPlace *place, double value)
{
  const MlModel *model = own->dictionary->model;
  int nets[] = { net_of_probe (own->job->board, &place->red), net_of_probe (own->job->board, &place->black) };
  gboolean chopped = FALSE, moved = FALSE;

  for (guint i = 0; place->reads == ML_READS_VOLTS && i < G_N_ELEMENTS (nets); i++)
    {
      chopped |= nets[i] >= 0 && model->chopped->nets[nets[i]];
      moved |= nets[i] >= 0 && model->chopped->moved[nets[i]];
    }
  if (moved)
    return pow (ml_assumption ("reading.moved-share") * model->conditions[place->condition].rails_v, 2);
  return chopped ? pow (ml_assumption ("reading.switching-volts"), 2) + pow (ml_assumption ("reading.switching-share") * value, 2) : 0;
}

double
ml_case_left_out (const MlCase *own, guint place, double value, double chopped)
{
  const MlReadingPlace *at = &g_array_index (own->dictionary->places, MlReadingPlace, place);

  return ml_case_floor (own, at->reads, value, chopped) + average_variance (own, at, value);
}

/* A person who types an m too many still types the digits that the meter shows: the probability that those which the figure has not, of what
 * would stand there without the m, happened to be zeros. 0.1 mV for 0.1000 V: one in a thousand; 2.340 mV for 2.340 V: 1. */
static double
kept_digits (const MlMeter *meter, const MlQuantity *typed)
{
  return fmin (ml_meter_resolution (meter, 1000 * typed->value) / (1000 * typed->resolution), 1);
}

void
ml_case_take_reading (MlCase *own, guint index, gboolean shown)
{
  const MlReading *reading = &own->job->readings[index];
  MlTaken taken = { .reading = index, .shown = shown };
  MlReadingPlace place;
  double sigma = ml_reading_sigma (own->job, reading);

  if (ml_reading_needs_cold (reading) && !ml_condition_is_cold (&own->job->board->conditions[reading->condition]))
    return; /* under power it shows anything; the cautions say so */
  if (!ml_case_find_place (own, reading, shown, &place))
    return;
  taken.variance = sigma * sigma;
  if (shown)
    {
      taken.variance = pow (reading->shown_v.resolution, 2) / 3 + pow (0.005 * reading->shown_v.value, 2) / 3;
      take_volts (own, &taken, reading->shown_v.value);
    }
  else if (ml_reading_needs_cold (reading))
    ml_taken_cold (&taken, own->job, reading);
  else if (reading->measured.over)
    return; /* volts or amps beyond the meter's range tell nothing that could be weighed */
  else if (reading->reads == ML_READS_AMPS)
    take_amps (&taken, reading->measured.value, own->job->board->conditions[reading->condition].supplies[reading->supply].limit_a);
  else
    take_volts (own, &taken, reading->measured.value);
  if (!isfinite (taken.observed) || !isfinite (taken.variance))
    return;
  taken.variance += average_variance (own, &place, taken.observed);
  taken.kept_digits = kept_digits (&own->job->meters[reading->meter], &reading->measured);
  taken.class.observed = taken.observed;
  taken.class.variance = taken.variance;
  if (place.reads == ML_READS_VOLTS && !shown) /* what leaves its mark on the figure */
    {
      taken.class.swapped = ml_assumption ("misread.swapped");
      taken.class.thousandfold = ml_assumption ("misread.thousandfold") / 2;
      taken.class.thousandth = taken.kept_digits * taken.class.thousandfold;
    }
  taken.place = taken.named = ml_dictionary_place (own->dictionary, &place);
  g_array_append_val (own->taken, taken);
}
