/* SPDX-License-Identifier: GPL-3.0-or-later */
/* regulator (in out ground; voltage, dropout, quiescent, limit), a positive fixed voltage regulator. u = v_in - v_ground, v = v_out - v_ground:
 *     aim      e = voltage - softplus (voltage + dropout - u, 5 mV)        the smaller of voltage and u - dropout, smoothly
 *     pass     p = limit / (1 + exp (-(e - v) / d)),  d = 0.2 mV             from in to out; never backwards
 *     own      q = quiescent u / sqrt (u^2 + 1 V^2)                        from in to ground
 *     substrate diode from ground to in: 0.7 V at 10 mA, ideality 1.2, series 0.5 ohm (conducts when the input is reversed)
 *     into in p + q, out -p, ground -q; leakage of 100 Mohm from out to ground (its own divider, seen when it does not drive).
 *   softplus (x, w) = w ln (1 + exp (x / w)). Unpowered (u < dropout) the aim is below ground: no output.
 * Source: block diagram of three-terminal regulators, common practice; the smooth widths are ours. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { IN, OUT, GROUND };
enum { VOLTAGE, DROPOUT, QUIESCENT, LIMIT };

typedef struct
{
  double voltage, dropout, quiescent, limit;
  MlNodalJunction substrate;
} Regulator;

static const double aim_width = 5e-3, pass_width = 0.2e-3, leak_s = 1e-8;

static void
regulator_prepare (const double *parameters, double *derived)
{
  Regulator *u1 = (Regulator *) derived;
  u1->voltage = parameters[VOLTAGE];
  u1->dropout = parameters[DROPOUT];
  u1->quiescent = parameters[QUIESCENT];
  u1->limit = parameters[LIMIT];
  ml_nodal_junction_prepare (&u1->substrate, 0.7, 10e-3, 1.2, 0.5);
}

static double
regulator_aim (const Regulator *u1, double u, double *ret_slope)
{
  return u1->voltage - ml_nodal_softplus (u1->voltage + u1->dropout - u, aim_width, ret_slope);
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
      double t = (aim - v) / pass_width, e = exp (-fabs (t));
      double pass = u1->limit * (t > 0 ? 1.0 : e) / (1.0 + e);
      double gm = u1->limit / pass_width * e / ((1.0 + e) * (1.0 + e));
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
    }
  double root = sqrt (u * u + 1.0);
  ml_nodal_stamp_branch (f, jacobian, 3, IN, GROUND, u1->quiescent * u / root, u1->quiescent / (root * root * root));
  double i = ml_nodal_junction_eval (&u1->substrate, -u, &g);
  ml_nodal_stamp_branch (f, jacobian, 3, GROUND, IN, i, g);
  ml_nodal_stamp_branch (f, jacobian, 3, OUT, GROUND, leak_s * v, leak_s);
}

/* The pass element switches within a millivolt. On the way from blocking to driving, or back, look at the middle first; beyond it grow
 * by a few widths, so that plain Newton does not bounce from one to the other. */
static void
regulator_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Regulator *u1 = (const Regulator *) derived;
  double slope;
  double u = -(x[IN] - x[GROUND]);

  u = old ? ml_nodal_junction_limit (&u1->substrate, u, -(old[IN] - old[GROUND])) : ml_nodal_junction_clamp (&u1->substrate, u);
  x[IN] = x[GROUND] - u;
  double was = old ? (regulator_aim (u1, old[IN] - old[GROUND], &slope) - old[OUT] + old[GROUND]) / pass_width : -100;
  double aim = regulator_aim (u1, x[IN] - x[GROUND], &slope);
  double t = (aim - x[OUT] + x[GROUND]) / pass_width;
  double to = t;
  if (!old || open)
    return;
  if ((was < -4 && t > 4) || (was > 4 && t < -4))
    to = 0;
  else if (fabs (was) <= 4 && fabs (t - was) > 4)
    to = was + (t > was ? 4 : -4);
  x[OUT] = aim + x[GROUND] - to * pass_width;
}

const MlNodalType ml_nodal_regulator_type = {
  .word = "regulator", .n_pins = 3, .pins = { "in", "out", "ground" },
  .n_parameters = 4, .parameters = { { "voltage", 5.0 }, { "dropout", 2.0 }, { "quiescent", 5e-3 }, { "limit", 1.0 } },
  .n_elements = 1, .elements = { { IN, OUT } }, .n_paths = 2, .paths = { { IN, GROUND }, { OUT, GROUND } },
  .n_derived = 4 + ML_NODAL_JUNCTION_DOUBLES,
  .prepare = regulator_prepare, .eval = regulator_eval, .limit = regulator_limit,
};
