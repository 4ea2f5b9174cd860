/* SPDX-License-Identifier: GPL-3.0-or-later */
/* regulator (in out ground; voltage, dropout, quiescent, limit), a positive fixed voltage regulator. u = v_in - v_ground, v = v_out - v_ground:
 *     aim      e = voltage - softplus (voltage + dropout - u, 5 mV)        the smaller of voltage and u - dropout, smoothly
 *     pass     p = limit / (1 + exp (-(e - v) / d)),  d = 0.2 mV             from in to out; never backwards
 *     own      q = quiescent (u / sqrt (u^2 + 1 V^2) + 1e-6 u / 1 V)       from in to ground
 *     substrate diode from ground to in: 0.7 V at 10 mA, ideality 1.2, series 0.5 ohm (conducts when the input is reversed)
 *     divider  s = 1 uS v u^2 / (u^2 + 1 V^2)                              from out to ground, while it works: some microamperes flow into
 *                an output that nothing else loads, as from a meter between in and out, without lifting it
 *     into in p + q, out s - p, ground -q - s; leakage of 100 Mohm from out to ground, seen when it does not drive.
 * adjustable (in out adjust; reference, dropout, quiescent, limit): the same with reference for voltage and the adjust pin for ground,
 *   quiescent being what flows out of the adjust pin; no divider, no substrate diode.
 * converter (in out ground; voltage, efficiency, limit, start, quiescent), a switching regulator as its average: on where
 *   n = 1 / (1 + exp (-(u - start) / 50 mV)):  out p = n limit / (1 + exp (-(voltage - v) / d)), d = 0.2 mV
 *     into in  p softplus (v, 10 mV) / (efficiency sqrt (u^2 + 1e-4 V^2)) + q,  q as above; a constant power for a constant load.
 *   softplus (x, w) = w ln (1 + exp (x / w)). Unpowered (u < dropout) the aim is below ground: no output.
 * Source: block diagram of three-terminal regulators, common practice; substrate diode from memory; the 100 Mohm are judgement, and so is the
 * divider, which takes milliamperes in common types, microamperes in those for batteries (data sheets, from memory); the smooth widths are
 * ours: 0.2 mV from nothing to the limit is steeper than any load regulation of data sheets. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { IN, OUT, GROUND };
enum { VOLTAGE, DROPOUT, QUIESCENT, LIMIT };

typedef struct
{
  double voltage, dropout, quiescent, limit, pass_width;
  double has_substrate;
  MlNodalJunction substrate;
} Regulator;

typedef struct
{
  double voltage, efficiency, limit, start, quiescent, pass_width;
} Converter;

static const double aim_width = 5e-3, usual_pass_width = 0.2e-3, leak_s = 1e-8, divider_s = 1e-6;

static void
regulator_prepare (const double *parameters, double *derived)
{
  Regulator *u1 = (Regulator *) derived;
  u1->voltage = parameters[VOLTAGE];
  u1->dropout = parameters[DROPOUT];
  u1->quiescent = parameters[QUIESCENT];
  u1->limit = parameters[LIMIT];
  u1->pass_width = usual_pass_width;
  u1->has_substrate = 1;
  ml_nodal_junction_prepare (&u1->substrate, 0.7, 10e-3, 1.2, 0.5);
}

static void
adjustable_prepare (const double *parameters, double *derived)
{
  Regulator *u1 = (Regulator *) derived;
  regulator_prepare (parameters, derived);
  u1->has_substrate = 0;
}

static void
regulator_soften (double *derived, double share)
{
  ((Regulator *) derived)->pass_width /= share;
}

static double
regulator_aim (const Regulator *u1, double u, double *ret_slope)
{
  return u1->voltage - ml_nodal_softplus (u1->voltage + u1->dropout - u, aim_width, ret_slope);
}

/* The divider that a working regulator compares its output by. */
static void
divider_eval (double u, double v, double *f, double *jacobian)
{
  double root = u * u + 1.0, there = divider_s * u * u / root, by_u = divider_s * v * 2.0 * u / (root * root);

  ml_nodal_stamp_branch (f, jacobian, 3, OUT, GROUND, there * v, there);
  jacobian[OUT * 3 + IN] += by_u;
  jacobian[OUT * 3 + GROUND] -= by_u;
  jacobian[GROUND * 3 + IN] -= by_u;
  jacobian[GROUND * 3 + GROUND] += by_u;
}

static void
regulator_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Regulator *u1 = (const Regulator *) derived;
  double u = x[IN] - x[GROUND], v = x[OUT] - x[GROUND];
  double aim_slope, g;

  double aim = regulator_aim (u1, u, &aim_slope);
  if (!(open & 1u))
    {
      double pass = u1->limit * ml_nodal_logistic ((aim - v) / u1->pass_width, &g), gm = u1->limit / u1->pass_width * g;
      f[IN] += pass;
      f[OUT] -= pass;
      for (int k = 0; k < 2; k++)
        {
          int row = k == 0 ? IN : OUT;
          double s = k == 0 ? gm : -gm;
          jacobian[row * 3 + IN] += s * aim_slope;
          jacobian[row * 3 + OUT] -= s;
          jacobian[row * 3 + GROUND] += s * (1.0 - aim_slope);
        }
      if (u1->has_substrate > 0)
        divider_eval (u, v, f, jacobian);
    }
  ml_nodal_stamp_own (f, jacobian, 3, IN, GROUND, u1->quiescent, u);
  if (u1->has_substrate > 0)
    {
      double i = ml_nodal_junction_eval (&u1->substrate, -u, &g);
      ml_nodal_stamp_branch (f, jacobian, 3, GROUND, IN, i, g);
    }
  ml_nodal_stamp_branch (f, jacobian, 3, OUT, GROUND, leak_s * v, leak_s);
}

static void
regulator_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  const Regulator *u1 = (const Regulator *) derived;
  double u = x[IN] - x[GROUND], aim_slope, g;

  ml_nodal_add_slope (ret + QUIESCENT * 3, IN, GROUND, ml_nodal_own_share (u));
  if (open & 1u)
    return;
  double aim = regulator_aim (u1, u, &aim_slope), share = ml_nodal_logistic ((aim - x[OUT] + x[GROUND]) / u1->pass_width, &g);
  double by_aim = u1->limit / u1->pass_width * g;
  ml_nodal_add_slope (ret + VOLTAGE * 3, IN, OUT, by_aim * (1.0 - aim_slope));
  ml_nodal_add_slope (ret + DROPOUT * 3, IN, OUT, -by_aim * aim_slope);
  ml_nodal_add_slope (ret + LIMIT * 3, IN, OUT, share);
}

/* The pass element switches within a millivolt. On the way from blocking to driving, or back, look at the middle first. Else Newton runs on
 * the current: the share that the linear model asks for is turned back through the law, or the tails would be walked one width a step;
 * where it asks for more than there is, it grows by a few widths, so that plain Newton does not bounce from one end to the other. */
static double
pass_step (double t, double was)
{
  const double tail = 30; /* beyond it there is nothing to walk over: less than 1e-13 of the current */

  if (fabs (was) > tail && fabs (t) > tail && t * was > 0)
    return t;
  was = fmin (fmax (was, -tail), tail);
  double slope, sign = was > 0 ? -1 : 1, share = ml_nodal_logistic (sign * was, &slope), asked = share + slope * sign * (t - was);

  if ((was < -4 && t > 4) || (was > 4 && t < -4))
    return 0;
  if (fabs (t - was) < 0.5)
    return t;
  if (asked > 0 && asked < 1)
    return sign * log (asked / (1 - asked));
  if (fabs (was) <= 4 && fabs (t - was) > 4)
    return was + (t > was ? 4 : -4);
  return t;
}

static void
regulator_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Regulator *u1 = (const Regulator *) derived;
  double slope, back = x[GROUND] - x[IN];

  if (u1->has_substrate > 0)
    back = old ? ml_nodal_junction_limit (&u1->substrate, back, old[GROUND] - old[IN]) : ml_nodal_junction_clamp (&u1->substrate, back);
  x[IN] = x[GROUND] - back;
  if (!old || open)
    return;
  double was = (regulator_aim (u1, old[IN] - old[GROUND], &slope) - old[OUT] + old[GROUND]) / u1->pass_width;
  double aim = regulator_aim (u1, x[IN] - x[GROUND], &slope), t = (aim - x[OUT] + x[GROUND]) / u1->pass_width, to = pass_step (t, was);
  if (to != t)
    x[OUT] = aim + x[GROUND] - to * u1->pass_width;
}

static void
converter_prepare (const double *parameters, double *derived)
{
  for (int k = 0; k < 5; k++)
    derived[k] = parameters[k];
  ((Converter *) derived)->pass_width = usual_pass_width;
}

static void
converter_soften (double *derived, double share)
{
  ((Converter *) derived)->pass_width /= share;
}

static void
converter_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Converter *u1 = (const Converter *) derived;
  double u = x[IN] - x[GROUND], v = x[OUT] - x[GROUND], on_slope, slope, positive_slope;

  if (!(open & 1u))
    {
      double on = ml_nodal_logistic ((u - u1->start) / 0.05, &on_slope), share = ml_nodal_logistic ((u1->voltage - v) / u1->pass_width, &slope);
      double out = u1->limit * on * share, out_u = u1->limit * on_slope / 0.05 * share, out_v = -u1->limit * on * slope / u1->pass_width;
      double root = sqrt (u * u + 1e-4), positive = ml_nodal_softplus (v, 0.01, &positive_slope), factor = positive / (u1->efficiency * root);
      double in_u = out_u * factor - out * factor * u / (root * root), in_v = out_v * factor + out * positive_slope / (u1->efficiency * root);
      f[IN] += out * factor;
      f[OUT] -= out;
      f[GROUND] += out - out * factor;
      double by_u[3] = { in_u, -out_u, out_u - in_u }, by_v[3] = { in_v, -out_v, out_v - in_v };
      for (int row = 0; row < 3; row++)
        {
          jacobian[row * 3 + IN] += by_u[row];
          jacobian[row * 3 + OUT] += by_v[row];
          jacobian[row * 3 + GROUND] -= by_u[row] + by_v[row];
        }
    }
  ml_nodal_stamp_own (f, jacobian, 3, IN, GROUND, u1->quiescent, u);
  ml_nodal_stamp_branch (f, jacobian, 3, OUT, GROUND, leak_s * v, leak_s);
}

static void
converter_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Converter *u1 = (const Converter *) derived;

  if (!old || open)
    return;
  double n = (x[IN] - x[GROUND] - u1->start) / 0.05, n_was = (old[IN] - old[GROUND] - u1->start) / 0.05, n_to = pass_step (n, n_was);
  if (n_to != n)
    x[IN] = x[GROUND] + u1->start + 0.05 * n_to;
  double t = (u1->voltage - x[OUT] + x[GROUND]) / u1->pass_width, was = (u1->voltage - old[OUT] + old[GROUND]) / u1->pass_width;
  double to = pass_step (t, was);
  if (to != t)
    x[OUT] = x[GROUND] + u1->voltage - to * u1->pass_width;
}

const MlNodalType ml_nodal_regulator_type = {
  .word = "regulator", .flags = ML_NODAL_STEEP, .n_pins = 3, .pins = { "in", "out", "ground" },
  .n_parameters = 4, .parameters = { { "voltage", 5.0 }, { "dropout", 2.0 }, { "quiescent", 5e-3 }, { "limit", 1.0 } },
  .n_elements = 1, .elements = { { IN, OUT } }, .n_paths = 2, .paths = { { IN, GROUND }, { OUT, GROUND } },
  .n_derived = 6 + ML_NODAL_JUNCTION_DOUBLES,
  .prepare = regulator_prepare, .eval = regulator_eval, .slopes = regulator_slopes, .limit = regulator_limit,
  .soften = regulator_soften,
};

const MlNodalType ml_nodal_adjustable_type = {
  .word = "adjustable", .flags = ML_NODAL_STEEP, .n_pins = 3, .pins = { "in", "out", "adjust" },
  .n_parameters = 4, .parameters = { { "reference", 1.25 }, { "dropout", 2.0 }, { "quiescent", 50e-6 }, { "limit", 1.5 } },
  .n_elements = 1, .elements = { { IN, OUT } }, .n_paths = 2, .paths = { { IN, GROUND }, { OUT, GROUND } },
  .n_derived = 6 + ML_NODAL_JUNCTION_DOUBLES,
  .prepare = adjustable_prepare, .eval = regulator_eval, .slopes = regulator_slopes, .limit = regulator_limit,
  .soften = regulator_soften,
};

const MlNodalType ml_nodal_converter_type = {
  .word = "converter", .flags = ML_NODAL_STEEP, .n_pins = 3, .pins = { "in", "out", "ground" },
  .n_parameters = 5,
  .parameters = { { "voltage", 5.0 }, { "efficiency", 0.85 }, { "limit", 1.0 }, { "start", 4.0 }, { "quiescent", 2e-3 } },
  .n_elements = 1, .elements = { { IN, OUT } }, .n_paths = 2, .paths = { { IN, GROUND }, { OUT, GROUND } }, .n_derived = 6,
  .prepare = converter_prepare, .eval = converter_eval, .limit = converter_limit, .soften = converter_soften,
};
