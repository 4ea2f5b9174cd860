/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/cold.h"

#include "verdict/judge-private.h"
#include "verdict/assumptions.h"

#include <math.h>

double
ml_cold_ln (double ohm, gboolean *ret_inside)
{
  double least = ml_assumption ("cold.least-ohm"), most = ml_meter_figure ("ohms-over");

  if (ret_inside)
    *ret_inside = ohm > least && ohm < most;
  return log (CLAMP (ohm, least, most));
}

double
ml_shown_of (MlReads reads, double value, double compliance_v)
{
  if (reads == ML_READS_OHMS)
    return value > log (0.999 * ml_meter_figure ("ohms-over")) ? INFINITY : exp (value);
  if (reads == ML_READS_DIODE && value > 0.97 * compliance_v)
    return INFINITY;
  return fabs (value) < ml_assumption (reads == ML_READS_AMPS ? "cold.nothing-amps" : "cold.nothing-volts") ? 0 : value;
}

/* Its top may be another than is thought. */
gboolean
ml_cold_is_beyond (const MlReading *reading)
{
  return reading->measured.over || (reading->reads == ML_READS_OHMS && reading->measured.value >= ml_meter_figure ("ohms-over"));
}

/* Over-range says only that there is more than the meter can show: it stands at the end of the scale, as every prediction beyond it does. */
static void
take_ohms (MlTaken *taken, const MlReading *reading)
{
  gboolean over = ml_cold_is_beyond (reading);
  double ohm = MAX (fabs (reading->measured.value), ml_assumption ("cold.least-ohm"));
  double leads = ml_meter_figure ("ohms-leads");

  taken->observed = ml_cold_ln (over ? INFINITY : reading->measured.value, NULL);
  taken->variance = over ? pow (ml_assumption ("cold.over-spread"), 2) : MIN ((taken->variance + leads * leads) / (ohm * ohm), 1);
  taken->class.mild_variance = pow (ml_assumption ("cold.mild-share"), 2);
  taken->class.span = log (ml_meter_figure ("ohms-over") / ml_assumption ("cold.least-ohm"));
}

/* dV = n V_T dI / I of the junction under test: what the test current may be beside what the meter's sheet says. */
static double
current_variance (void)
{
  return pow (ml_assumption ("cold.junction-volts") * ml_meter_figure ("diode-share"), 2);
}

static void
take_diode (MlTaken *taken, const MlReading *reading, const MlMeter *meter)
{
  gboolean over = reading->measured.over;

  taken->observed = over ? meter->diode_v : reading->measured.value;
  taken->variance = (over ? pow (ml_assumption ("cold.over-volts"), 2) : taken->variance) + current_variance ();
  taken->class.mild_variance = pow (ml_assumption ("reading.mild-volts"), 2);
  taken->class.span = meter->diode_v;
}

void
ml_taken_cold (MlTaken *taken, const MlJob *job, const MlReading *reading)
{
  if (reading->reads == ML_READS_OHMS)
    take_ohms (taken, reading);
  else
    take_diode (taken, reading, &job->meters[reading->meter]);
}

/* ---- cautions ---- */

/* The largest capacitor that may still hold a charge, or -1. */
static int
largest_capacitor (const MlBoard *board)
{
  double most = ml_assumption ("cold.charge-farad");
  int found = -1;

  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlAttribute *value = board->parts[i].kind->kind == ML_KIND_CAPACITOR ? ml_part_attribute (&board->parts[i], ML_KEY_VALUE) : NULL;

      if (value && value->quantity.value >= most)
        {
          most = value->quantity.value;
          found = i;
        }
    }
  return found;
}

void
ml_verdict_warn_cold (MlCase *own, GPtrArray *cautions)
{
  const MlJob *job = own->job;
  guint n_cold = 0, n_powered = 0;
  int capacitor = largest_capacitor (job->board);

  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];

      if (reading->unit != own->unit || reading->pass != own->pass || reading->replaced || !ml_reading_needs_cold (reading))
        continue;
      n_cold += ml_condition_is_cold (&job->board->conditions[reading->condition]);
      n_powered += !ml_condition_is_cold (&job->board->conditions[reading->condition]);
    }
  if (n_powered)
    g_ptr_array_add (cautions, g_strdup_printf ("%u ohms or diode reading%s taken in a condition with a supply: left out, since the meter shows anything "
                                                "there and may be harmed", n_powered, n_powered > 1 ? "s" : ""));
  if (n_cold && capacitor >= 0)
    g_ptr_array_add (cautions, g_strdup_printf ("%s keeps its charge: discharge it before an ohms or diode reading; one that keeps climbing is still charging it",
                                                job->board->parts[capacitor].name));
}
