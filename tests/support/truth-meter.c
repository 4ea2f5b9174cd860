/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/random.h"
#include "support/truth.h"

#include <math.h>

/* What the display can show: 6.000 with 6000 counts on the 6 V range, then 60.00; the lowest range 600 mV, 600 ohm, 60 mA. */
static double
lowest_range (MlReads reads)
{
  return reads == ML_READS_OHMS ? 600 : reads == ML_READS_AMPS ? 0.06 : 0.6;
}

static guint
range_of (const MlMeter *figures, MlReads reads, double value, double *ret_count)
{
  double full = lowest_range (reads) * figures->counts / 6000;
  guint range = 0;
  while (fabs (value) >= full * (1 - 0.5 / figures->counts) && range < 7)
    {
      full *= 10;
      range++;
    }
  *ret_count = full / figures->counts;
  return range;
}

static double
share_of (const MlMeter *figures, MlReads reads)
{
  return reads == ML_READS_OHMS ? figures->ohms_share : figures->dc_share;
}

static double
counts_of (const MlMeter *figures, MlReads reads)
{
  return reads == ML_READS_OHMS ? figures->ohms_counts : figures->dc_counts;
}

MlTruthMeter
ml_truth_meter (const MlMeter *figures, guint64 seed)
{
  MlTruthMeter meter = { .figures = figures, .seed = seed };
  MlRandom random = ml_random_seeded (seed);
  for (guint kind = 0; kind < 3; kind++)
    for (guint range = 0; range < 8; range++)
      meter.gain[kind][range] = 2 * ml_random_uniform (&random) - 1;
  return meter;
}

char *
ml_truth_meter_show (const MlTruthMeter *meter, MlReads reads, double value)
{
  double count;
  if (!isfinite (value))
    return g_strdup ("OL");
  guint kind = reads == ML_READS_OHMS ? 1 : reads == ML_READS_AMPS ? 2 : 0, range = range_of (meter->figures, reads, value, &count);
  double error = meter->gain[kind][range] * share_of (meter->figures, reads) * value;
  error += meter->gain[kind][(range + 3) % 8] * counts_of (meter->figures, reads) * count;
  double shown = round ((value + error) / count) * count;
  if (reads == ML_READS_OHMS) /* the range sets the test current, and no display shows more than its counts */
    shown = MIN (shown, (meter->figures->counts - 1) * count);
  char format[16], buffer[G_ASCII_DTOSTR_BUF_SIZE];
  g_snprintf (format, sizeof format, "%%.%df", (int) CLAMP (ceil (-log10 (count) - 1e-6), 0, 9));
  g_ascii_formatd (buffer, sizeof buffer, format, shown == 0 ? 0 : shown);
  return g_strdup (buffer);
}

/* JCGM 100:2008 4.3.7: half-width over the square root of three (from memory); rounding is half a count. */
double
ml_truth_meter_sigma (const MlMeter *figures, MlReads reads, double value)
{
  double count;
  range_of (figures, reads, value, &count);
  double accuracy = share_of (figures, reads) * fabs (value) + counts_of (figures, reads) * count;
  return hypot (accuracy, 0.5 * count) / sqrt (3);
}
