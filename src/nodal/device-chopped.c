/* SPDX-License-Identifier: GPL-3.0-or-later */
/* chopped-current (from to low high; current, reach, depth, width): what a switch or diode on a chopped net carries on average. Its d.c. law says nothing of
 * averages: a freewheel diode conducts while its average voltage is reversed. So the average current is free, whoever asks may take it for
 * an unknown; coils and resistors need no such thing, as Ohm's law holds for averages.
 *     i = current L(v_from + depth - v_low) L(v_high + reach - v_to) + (v_from - v_to) / 1 Gohm       from `from` to `to`; low and high take none
 *     L(v) = tanh ((v / width)^2) above zero, else 0; width 20 mV unless given
 *   It takes nothing from a net that has come down to depth below the low rail and pushes nothing into one that is reach above the high rail:
 *   where the coil is open, or the supply off, the current ends by itself. reach is for a step-up converter, whose output lies above its supply;
 *   depth for a diode that feeds the chopped net from the low rail itself, as in a step-down converter, or from below it. With a width of the order
 *   of the supply it is a freewheel diode's: the nearer the average to the rail, the longer the switch is on and the shorter the diode conducts.
 *   The currents of all such parts on a net, and of its coil, sum to zero by Kirchhoff's law; which sums can be is the asker's business.
 * Source: averaged switch model, Middlebrook and Cuk, IEEE PESC (1976), from memory; the limits at the rails are ours. */
#include "nodal/device.h"

#include <math.h>

enum { FROM, TO, LOW, HIGH, N_PINS };
enum { CURRENT, REACH, DEPTH, WIDTH };

static const double leak_s = 1e-9;

static void
chopped_prepare (const double *parameters, double *derived)
{
  derived[CURRENT] = parameters[CURRENT];
  derived[REACH] = parameters[REACH];
  derived[DEPTH] = parameters[DEPTH];
  derived[WIDTH] = parameters[WIDTH];
}

static double
gate (double v, double width, double *ret_slope)
{
  double u = v / width, c = 1 / cosh (fmin (u * u, 350.0));

  *ret_slope = v > 0 ? 2 * u / width * c * c : 0;
  return v > 0 ? tanh (u * u) : 0;
}

static void
chopped_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  double low_slope, high_slope;

  if (open)
    return;
  double low = gate (x[FROM] + derived[DEPTH] - x[LOW], derived[WIDTH], &low_slope);
  double high = gate (x[HIGH] + derived[REACH] - x[TO], derived[WIDTH], &high_slope);
  double i = derived[CURRENT] * low * high, by_low = derived[CURRENT] * low_slope * high, by_high = derived[CURRENT] * low * high_slope;
  double slopes[N_PINS] = { by_low, -by_high, -by_low, by_high };

  f[FROM] += i;
  f[TO] -= i;
  for (int c = 0; c < N_PINS; c++)
    {
      jacobian[FROM * N_PINS + c] += slopes[c];
      jacobian[TO * N_PINS + c] -= slopes[c];
    }
  ml_nodal_stamp_branch (f, jacobian, N_PINS, FROM, TO, leak_s * (x[FROM] - x[TO]), leak_s);
}

/* There is no slope below the rail nor far above it: from one side to the other by way of the steep middle, and down to next to nothing by halves;
 * from there a step below the rail is meant, as Newton's never passes the root of a square from above. */
static double
gate_step (double v, double was, double width)
{
  if (was > 2 * width)
    return v < 0.7 * width ? 0.7 * width : v;
  if (was > 0.01 * width)
    return v < 0.5 * was ? 0.5 * was : v;
  if (was > 0)
    return v;
  return v > width ? width : v;
}

static void
chopped_limit (const double *derived, unsigned open, const double *old, double *x)
{
  if (!old || open)
    return;
  double low = x[FROM] + derived[DEPTH] - x[LOW], to = gate_step (low, old[FROM] + derived[DEPTH] - old[LOW], derived[WIDTH]);
  if (to != low)
    x[FROM] = x[LOW] - derived[DEPTH] + to;
  double high = x[HIGH] + derived[REACH] - x[TO];
  to = gate_step (high, old[HIGH] + derived[REACH] - old[TO], derived[WIDTH]);
  if (to != high)
    x[TO] = x[HIGH] + derived[REACH] - to;
}

const MlNodalType ml_nodal_chopped_type = {
  .word = "chopped-current", .flags = ML_NODAL_STEEP, .n_pins = N_PINS, .pins = { "from", "to", "low", "high" },
  .n_parameters = 4, .parameters = { { "current", 0.1 }, { "reach", 0.0 }, { "depth", 0.0 }, { "width", 20e-3 } },
  .n_elements = 1, .elements = { { FROM, TO } }, .rest = { 0, 0, 1 + TO, 1 + FROM },
  .n_derived = 4, .source = 1 + CURRENT,
  .prepare = chopped_prepare, .eval = chopped_eval, .limit = chopped_limit,
};
