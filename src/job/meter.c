/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/job-private.h"

#include <math.h>

#define FINEST_STEP 1e-4 /* V; 0.1 mV: the last digit of a handheld meter's lowest range (common practice) */
#define FINEST_OHM 0.1   /* ohm; the same for its lowest resistance range (common practice) */
/* A bench supply's own display: 1 % and 2 of its last digit (common practice, no source). */
#define SUPPLY_SHARE 0.01
#define SUPPLY_COUNTS 2.0

/* 10 Mohm input, diode test about 1 mA from about 3 V: Kuphaldt, Lessons in Electric Circuits, DC ch. 8 and Semiconductors ch. 3.
 * (0.5 % + 2) on d.c. and (0.8 % + 2) on resistance, 6000 counts: a low-cost meter, from memory, common practice. */
MlMeter
ml_meter_default (const char *name)
{
  return (MlMeter) { .name = g_strdup (name), .dc_share = 0.005, .dc_counts = 2, .ohms_share = 0.008, .ohms_counts = 2, .counts = 6000,
                     .input_ohm = 10e6, .diode_a = 1e-3, .diode_v = 3.0 };
}

/* The display moves up a range where its counts do not hold the value: 6000 counts show 5.999 V, then 06.00 V. */
double
ml_meter_resolution (const MlMeter *meter, double value)
{
  int power = -4;

  if (!isfinite (value))
    return NAN;
  while (power < 12 && fabs (value) >= meter->counts * pow (10, power) * (1 - 1e-12))
    power++;
  return pow (10, power);
}

static void
accuracy (const MlMeter *meter, const MlReading *reading, double *ret_half_width, double *ret_step)
{
  double value = fabs (reading->measured.value);
  double step = ml_meter_resolution (meter, value);

  switch (reading->reads)
    {
    case ML_READS_AMPS:
      *ret_step = reading->measured.resolution;
      *ret_half_width = SUPPLY_SHARE * value + SUPPLY_COUNTS * *ret_step;
      return;
    case ML_READS_OHMS:
      step = fmax (step, FINEST_OHM);
      *ret_half_width = meter->ohms_share * value + meter->ohms_counts * step;
      break;
    default:
      *ret_half_width = meter->dc_share * value + meter->dc_counts * step;
      break;
    }
  *ret_step = fmax (step, reading->measured.resolution);
}

/* Half-widths of rectangular distributions over sqrt 3 (JCGM 100:2008, 4.3.7): the meter's accuracy, half the last digit, half a range. */
double
ml_reading_sigma (const MlJob *job, const MlReading *reading)
{
  double half_width, step, half_range = (reading->measured.high - reading->measured.low) / 2;

  if (reading->measured.over)
    return NAN;
  accuracy (&job->meters[reading->meter], reading, &half_width, &step);
  return sqrt ((half_width * half_width + step * step / 4 + half_range * half_range) / 3);
}
