/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/job-private.h"

#include <math.h>
#include <string.h>

/* ---- the table ---- */

static GHashTable *
load_figures (void)
{
  g_autofree char *content = ml_data_lookup ("meters.table");
  g_autoptr (MlText) text = ml_text_new ("meters.table", content, -1);
  g_autoptr (MlScanner) scanner = ml_scanner_new (text, NULL);
  GHashTable *figures = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, g_free);
  const MlStatement *statement;

  while ((statement = ml_scanner_next (scanner)) != NULL)
    {
      double value = statement->n_words == 3 ? g_ascii_strtod (statement->words[1].text, NULL) : NAN;

      if (value > 0)
        g_hash_table_insert (figures, g_strdup (statement->words[0].text), g_memdup2 (&value, sizeof value));
      else
        g_critical ("meters.table:%u: expected: name value \"source\"", statement->line + 1);
    }
  return figures;
}

double
ml_meter_figure (const char *name)
{
  static GHashTable *figures;
  static gsize once;
  const double *value;

  if (g_once_init_enter (&once))
    {
      figures = load_figures ();
      g_once_init_leave (&once, 1);
    }
  value = g_hash_table_lookup (figures, name);
  if (value == NULL)
    g_error ("data/meters.table has no line \"%s\"", name); /* a programming error, as a build without its tables */
  return *value;
}

/* ---- meters ---- */

MlMeter
ml_meter_default (const char *name)
{
  return (MlMeter) { .name = g_strdup (name),
                     .dc_share = ml_meter_figure ("dc-share"),
                     .dc_counts = ml_meter_figure ("dc-counts"),
                     .ohms_share = ml_meter_figure ("ohms-share"),
                     .ohms_counts = ml_meter_figure ("ohms-counts"),
                     .counts = ml_meter_figure ("counts"),
                     .input_ohm = ml_meter_figure ("input-ohm"),
                     .diode_a = ml_meter_figure ("diode-amps"),
                     .diode_v = ml_meter_figure ("diode-volts") };
}

/* The range is the display's: full scale is its counts at the step that shows the value. */
double
ml_meter_ohms_test_a (const MlMeter *meter, double ohm)
{
  double most = ml_meter_figure ("ohms-over");
  double shown = isfinite (ohm) && fabs (ohm) < most ? fabs (ohm) : most;
  double range = meter->counts * fmax (ml_meter_resolution (meter, shown), ml_meter_figure ("least-step-ohm"));

  return fmin (ml_meter_figure ("ohms-full-volts") / range, ml_meter_figure ("ohms-most-amps"));
}

/* The display moves up a range where its counts do not hold the value: 6000 counts show 5.999 V, then 06.00 V. */
double
ml_meter_resolution (const MlMeter *meter, double value)
{
  int power = (int) round (log10 (ml_meter_figure ("least-step-volts")));

  if (!isfinite (value))
    return NAN;
  while (power < 12 && fabs (value) >= meter->counts * pow (10, power) * (1 - 1e-12))
    power++;
  return pow (10, power);
}

/* The place of the last digit written. A bare 0 is what people write for 0.00: it says nothing about tenths. */
static double
written_step (const MlReading *reading)
{
  double step = reading->measured.resolution;

  if (reading->measured.value != 0)
    return step;
  if (reading->reads == ML_READS_VOLTS || reading->reads == ML_READS_DIODE)
    return fmin (step, ml_meter_figure ("zero-step-volts"));
  return reading->reads == ML_READS_AMPS ? fmin (step, ml_meter_figure ("zero-step-amps")) : step;
}

/* What one count stands for. Of a small voltage that is only a few steps of the last digit written, that digit was the meter's last: it stood in a coarser range
 * than it need have, and counts are as coarse there. Of all others people leave digits off. */
static double
count_of_volts (const MlReading *reading, double step)
{
  double written = written_step (reading), steps = fabs (reading->measured.value) / written;
  gboolean shown = written <= ml_meter_figure ("few-steps-volts") && steps > 0 && steps < ml_meter_figure ("few-steps");

  return shown ? fmax (step, written) : step;
}

static void
accuracy (const MlMeter *meter, const MlReading *reading, double *ret_half_width, double *ret_step)
{
  double value = fabs (reading->measured.value);
  double step = ml_meter_resolution (meter, value);

  switch (reading->reads)
    {
    case ML_READS_AMPS:
      *ret_step = written_step (reading);
      *ret_half_width = ml_meter_figure ("supply-share") * value + ml_meter_figure ("supply-counts") * *ret_step;
      return;
    case ML_READS_OHMS:
      step = fmax (step, ml_meter_figure ("least-step-ohm"));
      *ret_half_width = meter->ohms_share * value + meter->ohms_counts * step;
      break;
    default:
      *ret_half_width = meter->dc_share * value + meter->dc_counts * count_of_volts (reading, step);
      break;
    }
  *ret_step = fmax (step, written_step (reading));
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
