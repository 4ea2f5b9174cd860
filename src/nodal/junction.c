/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/junction.h"

#include <math.h>
#include <stdbool.h>

#include "nodal/device.h"

/* Near enough for one step of the iteration: within 4e-5 in r, which it takes to the fourth power. */
static double
omega_start (double z)
{
  if (z < -2.5)
    { /* Lagrange's series, sum of (-n)^(n-1) / n! exp (n z) */
      double e = exp (z);
      return e * (1.0 - e * (1.0 - e * (1.5 - e * (8.0 / 3.0 - 125.0 / 24.0 * e))));
    }
  /* at the nine Chebyshev points of -2.5 to 2 */
  double u = (z + 0.25) / 2.25, u2 = u * u, u4 = u2 * u2;
  return 0.481288466 + 0.731019341 * u + u2 * (0.374810306 + 0.00524482492 * u)
         + u4 * (-0.0478517731 + 0.00613042224 * u + u2 * (0.00982592829 - 0.00186044165 * u) - 0.00146494672 * u4);
}

double
ml_nodal_omega (double z)
{
  double w;

  if (z < -38.0)
    return exp (z); /* the next term, -exp (2 z), is below one rounding */
  if (z < 2.0)
    w = omega_start (z);
  else
    {
      double l = log (z);
      w = z - l + l / z;
    }
  if (z < -7.6)
    return w; /* the series leaves less than three roundings */
  for (int k = 0; k < 2; k++)
    {
      double r = z - w - log (w);
      double t = 1.0 + w;
      double q = 2.0 * t * (t + 2.0 * r / 3.0);
      w *= 1.0 + r / t * (q - r) / (q - 2.0 * r);
      if (fabs (r) < 1e-4) /* what is left goes with the fourth power */
        break;
    }
  return w;
}

double
ml_nodal_softplus (double x, double width, double *ret_slope)
{
  double u = x / width;

  if (u > 0)
    {
      double e = exp (-u);
      *ret_slope = 1.0 / (1.0 + e);
      return x + width * log1p (e);
    }
  double e = exp (u);
  *ret_slope = e / (1.0 + e);
  return width * log1p (e);
}

double
ml_nodal_logistic (double t, double *ret_slope)
{
  double e = exp (-fabs (t));
  *ret_slope = e / ((1.0 + e) * (1.0 + e));
  return (t > 0 ? 1.0 : e) / (1.0 + e);
}

/* ln (exp (y) - 1) for y > 0 */
static double
log_expm1 (double y)
{
  return y > 1.0 ? y + log1p (-exp (-y)) : log (expm1 (y));
}

void
ml_nodal_junction_set (MlNodalJunction *junction, double log_sat, double vt, double series)
{
  junction->vt = vt;
  junction->log_sat = log_sat;
  junction->sat_a = exp (log_sat);
  junction->series = series;
  junction->scale = junction->sat_a * series / vt;
  junction->offset = series > 0 ? junction->scale + log_sat + log (series / vt) : 0.0;
  junction->critical = vt * (log (vt * M_SQRT1_2) - log_sat);
  junction->ceiling = series > 0 ? 0.0 : vt * (log (ML_NODAL_CEILING_A) - log_sat);
}

void
ml_nodal_junction_prepare (MlNodalJunction *junction, double drop, double at, double ideality, double series)
{
  double slope;
  double vj = ml_nodal_softplus (drop - at * series, 0.01, &slope);
  double vt = ideality * ML_NODAL_THERMAL_V;

  ml_nodal_junction_set (junction, log (at) - log_expm1 (fmax (vj / vt, 1e-12)), vt, series);
}

void
ml_nodal_junction_prepare_slopes (double drop, double at, double ideality, double series, MlNodalJunction *by_drop, MlNodalJunction *by_at,
                                  MlNodalJunction *by_ideality, MlNodalJunction *by_series)
{
  double slope, vj = ml_nodal_softplus (drop - at * series, 0.01, &slope), vt = ideality * ML_NODAL_THERMAL_V, y = vj / vt;
  bool floored = y < 1e-12;
  double by_y = floored ? 0 : -1.0 / -expm1 (-y), by_vj = by_y * slope / vt; /* of log_sat */

  if (by_drop)
    by_drop->log_sat = by_vj;
  if (by_at)
    by_at->log_sat = 1.0 / at - by_vj * series;
  if (by_ideality)
    {
      by_ideality->vt = ML_NODAL_THERMAL_V;
      by_ideality->log_sat = -by_y * y / ideality;
    }
  if (by_series)
    {
      by_series->series = 1.0;
      by_series->log_sat = -by_vj * at;
    }
}

double
ml_nodal_junction_eval (const MlNodalJunction *junction, double v, double *ret_slope)
{
  if (v < -40.0 * junction->vt) /* exp (-40) is lost beside 1 */
    {
      *ret_slope = 0;
      return -junction->sat_a;
    }
  if (junction->series > 0)
    {
      double w = ml_nodal_omega (v / junction->vt + junction->offset);
      *ret_slope = w / (junction->series * (1.0 + w));
      return junction->vt / junction->series * (w - junction->scale);
    }
  if (fabs (v) < junction->vt && junction->log_sat > -600)
    {
      double e = expm1 (v / junction->vt);
      *ret_slope = junction->sat_a * (e + 1.0) / junction->vt;
      return junction->sat_a * e;
    }
  if (v > junction->ceiling)
    {
      *ret_slope = ML_NODAL_CEILING_A / junction->vt;
      return ML_NODAL_CEILING_A * (1.0 + (v - junction->ceiling) / junction->vt) - junction->sat_a;
    }
  double i = exp (v / junction->vt + junction->log_sat);
  *ret_slope = i / junction->vt;
  return i - junction->sat_a;
}

double
ml_nodal_junction_slope (const MlNodalJunction *junction, const MlNodalJunction *by, double v, double i, double g)
{
  double by_log = i / (1.0 + (i + junction->sat_a) * junction->series / junction->vt);

  if (!(junction->series > 0) && v > junction->ceiling)
    by_log = ML_NODAL_CEILING_A - junction->sat_a;
  return by_log * by->log_sat - g * ((v - i * junction->series) * by->vt / junction->vt + i * by->series);
}

/* The voltage at which the junction carries i > 0. */
static double
voltage_at (const MlNodalJunction *junction, double i)
{
  double ratio = log (i) - junction->log_sat;
  if (junction->series == 0 && i > ML_NODAL_CEILING_A) /* where exp is continued linearly */
    return junction->ceiling + junction->vt * (i / ML_NODAL_CEILING_A - 1.0);
  return junction->vt * (ratio > 30 ? ratio : log1p (exp (ratio))) + i * junction->series;
}

double
ml_nodal_junction_limit (const MlNodalJunction *junction, double v, double old)
{
  /* Where the junction is steep Newton runs on the current instead of the voltage: the current that the linear model asks for is turned
   * back into a voltage through the law. Upwards that keeps the exponential from running away; downwards it saves the many steps of
   * one kT/q each in which plain Newton switches a junction off. */
  double g, change = v - old;

  /* Once there it goes on: what comes back as old has lost its last digits on the way through two pins' voltages. */
  if (change > 2.0 * junction->vt && v > junction->critical && old < junction->critical - 0.01 * junction->vt)
    return junction->critical;
  bool up = change > 2.0 * junction->vt && v > junction->critical, down = change < -0.5 * junction->vt && old > 8.0 * junction->vt;
  if (!up && !down)
    return v;
  double i = ml_nodal_junction_eval (junction, old, &g);
  double asked = i + g * change;
  if (up)
    return fmin (v, voltage_at (junction, asked));
  /* Nothing at all asked for: a good way down, but not so far that the way back starts from nothing and the two alternate. */
  return fmin (v, asked > 0 ? voltage_at (junction, asked) : fmax (old - 6.0 * junction->vt, 0.0));
}

double
ml_nodal_junction_clamp (const MlNodalJunction *junction, double v)
{
  double amperes = 5.0;
  return fmin (v, junction->vt * (log (amperes) - junction->log_sat) + amperes * junction->series);
}
