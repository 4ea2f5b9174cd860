/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/cold.h"

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

/* Over-range says only that there is more than the meter can show: it stands at the end of the scale, as every prediction beyond it does. */
static void
take_ohms (MlTaken *taken, const MlReading *reading)
{
  gboolean over = reading->measured.over;
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
