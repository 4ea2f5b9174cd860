/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Diodes: diode, led, zener, tvs, bridge.
 *
 * diode, led (anode, cathode), v = v_anode - v_cathode:
 *     i = sat (exp ((v - i series) / (ideality kT/q)) - 1) + v / leakage,   kT/q at 25 C
 *     sat = at / (exp (vj / (ideality kT/q)) - 1),   vj = softplus (drop - at series, 10 mV)
 *   where softplus (x, w) = w ln (1 + exp (x / w)): vj is drop - at series except where that is nearly negative.
 * zener: that law forward (drop = forward at forward_at, ideality 1.7, no series resistance; exp continued linearly from 1 kA) and the
 *   same law backwards (drop = voltage at `at`, ideality = slope, series), plus v / leakage.
 * tvs (two-way): the backward law both ways, drop = clamp at 1 mA, ideality 5, series 0.3 ohm, leakage 1 Gohm.
 * bridge (ac1 ac2 plus minus): four diodes of one law, ac1-plus, ac2-plus, minus-ac1, minus-ac2.
 * Source: W. Shockley, Bell System Technical Journal 28 (1949); the exponential reverse characteristic of zeners is common practice; a clamp's
 * voltage is that at 1 mA, data sheets; its ideality, series resistance and leakage and a zener's forward ideality are judgement. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

#define ZENER_IDEALITY 1.7 /* forward */
#define TVS_AT 1e-3 /* A */
#define TVS_IDEALITY 5.0
#define TVS_SERIES 0.3 /* ohm */

enum { DROP, AT, IDEALITY, SERIES, LEAKAGE };
enum { Z_VOLTAGE, Z_AT, Z_SLOPE, Z_SERIES, Z_FORWARD, Z_FORWARD_AT, Z_LEAKAGE };

typedef struct
{
  MlNodalJunction forward;
  double leak_s;
} Diode;

typedef struct
{
  MlNodalJunction forward, reverse;
  double leak_s;
} Zener;

static void
diode_prepare (const double *parameters, double *derived)
{
  Diode *diode = (Diode *) derived;
  ml_nodal_junction_prepare (&diode->forward, parameters[DROP], parameters[AT], parameters[IDEALITY], parameters[SERIES]);
  diode->leak_s = 1.0 / parameters[LEAKAGE];
}

static void
diode_stamp (const Diode *diode, const double *x, int n, int a, int b, double *f, double *jacobian)
{
  double v = x[a] - x[b], g;
  double i = ml_nodal_junction_eval (&diode->forward, v, &g);
  ml_nodal_stamp_branch (f, jacobian, n, a, b, i + diode->leak_s * v, g + diode->leak_s);
}

static void
diode_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  if (!open)
    diode_stamp ((const Diode *) derived, x, 2, 0, 1, f, jacobian);
}

enum { N_DIODE_PARAMETERS = 5, N_ZENER_PARAMETERS = 7 };

static void
diode_prepare_slopes (const double *parameters, double *ret)
{
  Diode *by = (Diode *) ret;
  ml_nodal_junction_prepare_slopes (parameters[DROP], parameters[AT], parameters[IDEALITY], parameters[SERIES], &by[DROP].forward, &by[AT].forward,
                                    &by[IDEALITY].forward, &by[SERIES].forward);
  by[LEAKAGE].leak_s = -1.0 / (parameters[LEAKAGE] * parameters[LEAKAGE]);
}

static void
diode_add_slopes (const Diode *diode, const Diode *by, const double *x, int n, int a, int b, double *ret)
{
  double v = x[a] - x[b], g, i = ml_nodal_junction_eval (&diode->forward, v, &g);

  for (int p = 0; p < N_DIODE_PARAMETERS; p++)
    ml_nodal_add_slope (ret + p * n, a, b, ml_nodal_junction_slope (&diode->forward, &by[p].forward, v, i, g) + by[p].leak_s * v);
}

static void
diode_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  if (!open)
    diode_add_slopes ((const Diode *) derived, (const Diode *) d_derived, x, 2, 0, 1, ret);
}

static double
diode_limit_voltage (const MlNodalJunction *junction, double v, const double *old)
{
  return old ? ml_nodal_junction_limit (junction, v, *old) : ml_nodal_junction_clamp (junction, v);
}

static void
diode_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Diode *diode = (const Diode *) derived;
  double was = old ? old[0] - old[1] : 0;
  if (open)
    return;
  x[0] = x[1] + diode_limit_voltage (&diode->forward, x[0] - x[1], old ? &was : NULL);
}

static void
zener_prepare (const double *parameters, double *derived)
{
  Zener *zener = (Zener *) derived;
  ml_nodal_junction_prepare (&zener->forward, parameters[Z_FORWARD], parameters[Z_FORWARD_AT], ZENER_IDEALITY, 0.0);
  ml_nodal_junction_prepare (&zener->reverse, parameters[Z_VOLTAGE], parameters[Z_AT], parameters[Z_SLOPE], parameters[Z_SERIES]);
  zener->leak_s = 1.0 / parameters[Z_LEAKAGE];
}

static void
tvs_prepare (const double *parameters, double *derived)
{
  Zener *zener = (Zener *) derived;
  ml_nodal_junction_prepare (&zener->reverse, parameters[0], TVS_AT, TVS_IDEALITY, TVS_SERIES);
  zener->forward = zener->reverse;
  zener->leak_s = 1e-9;
}

static void
zener_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Zener *zener = (const Zener *) derived;
  double v = x[0] - x[1], g_forward, g_reverse;

  if (open)
    return;
  double forward = ml_nodal_junction_eval (&zener->forward, v, &g_forward);
  double reverse = ml_nodal_junction_eval (&zener->reverse, -v, &g_reverse);
  ml_nodal_stamp_branch (f, jacobian, 2, 0, 1, forward - reverse + zener->leak_s * v, g_forward + g_reverse + zener->leak_s);
}

static void
zener_prepare_slopes (const double *parameters, double *ret)
{
  Zener *by = (Zener *) ret;
  ml_nodal_junction_prepare_slopes (parameters[Z_FORWARD], parameters[Z_FORWARD_AT], ZENER_IDEALITY, 0.0, &by[Z_FORWARD].forward,
                                    &by[Z_FORWARD_AT].forward, NULL, NULL);
  ml_nodal_junction_prepare_slopes (parameters[Z_VOLTAGE], parameters[Z_AT], parameters[Z_SLOPE], parameters[Z_SERIES], &by[Z_VOLTAGE].reverse,
                                    &by[Z_AT].reverse, &by[Z_SLOPE].reverse, &by[Z_SERIES].reverse);
  by[Z_LEAKAGE].leak_s = -1.0 / (parameters[Z_LEAKAGE] * parameters[Z_LEAKAGE]);
}

static void
tvs_prepare_slopes (const double *parameters, double *ret)
{
  Zener *by = (Zener *) ret;
  ml_nodal_junction_prepare_slopes (parameters[0], TVS_AT, TVS_IDEALITY, TVS_SERIES, &by->reverse, NULL, NULL, NULL);
  by->forward = by->reverse;
}

static void
zener_add_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, int n_parameters, double *ret)
{
  const Zener *zener = (const Zener *) derived, *by = (const Zener *) d_derived;
  double v = x[0] - x[1], g_forward, g_reverse;

  if (open)
    return;
  double forward = ml_nodal_junction_eval (&zener->forward, v, &g_forward);
  double reverse = ml_nodal_junction_eval (&zener->reverse, -v, &g_reverse);
  for (int p = 0; p < n_parameters; p++)
    ml_nodal_add_slope (ret + 2 * p, 0, 1, ml_nodal_junction_slope (&zener->forward, &by[p].forward, v, forward, g_forward)
                                    - ml_nodal_junction_slope (&zener->reverse, &by[p].reverse, -v, reverse, g_reverse) + by[p].leak_s * v);
}

static void
zener_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  zener_add_slopes (derived, d_derived, open, x, N_ZENER_PARAMETERS, ret);
}

static void
tvs_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  zener_add_slopes (derived, d_derived, open, x, 1, ret);
}

static void
zener_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Zener *zener = (const Zener *) derived;
  double v = x[0] - x[1], was = old ? old[0] - old[1] : 0, back = -was;

  if (open)
    return;
  v = diode_limit_voltage (&zener->forward, v, old ? &was : NULL);
  v = -diode_limit_voltage (&zener->reverse, -v, old ? &back : NULL);
  x[0] = x[1] + v;
}

static const MlNodalPair bridge_diodes[4] = { { 0, 2 }, { 1, 2 }, { 3, 0 }, { 3, 1 } };

static void
bridge_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  for (int e = 0; e < 4; e++)
    if (!(open & 1u << e))
      diode_stamp ((const Diode *) derived, x, 4, bridge_diodes[e].pin_a, bridge_diodes[e].pin_b, f, jacobian);
}

static void
bridge_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  for (int e = 0; e < 4; e++)
    if (!(open & 1u << e))
      diode_add_slopes ((const Diode *) derived, (const Diode *) d_derived, x, 4, bridge_diodes[e].pin_a, bridge_diodes[e].pin_b, ret);
}

static void
bridge_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Diode *diode = (const Diode *) derived;
  double to[4] = { x[0], x[1], x[2], x[3] };

  /* Four junctions on three voltages: move along the step until the first of them reaches its limit. */
  double share = 1.0;
  for (int e = 0; e < 4; e++)
    {
      int a = bridge_diodes[e].pin_a, b = bridge_diodes[e].pin_b;
      if (open & 1u << e)
        continue;
      double was = old ? old[a] - old[b] : 0, v = x[a] - x[b];
      double may = diode_limit_voltage (&diode->forward, v, old ? &was : NULL);
      if (may < v && v > was)
        share = fmin (share, (may - was) / (v - was));
    }
  if (share < 1.0)
    for (int k = 0; k < 4; k++)
      {
        double was = old ? old[k] : 0;
        x[k] = was + fmax (share, 0.0) * (to[k] - was);
      }
}

const MlNodalType ml_nodal_diode_type = {
  .word = "diode", .n_pins = 2, .pins = { "anode", "cathode" },
  .n_parameters = N_DIODE_PARAMETERS,
  .parameters = { { "drop", 0.65 }, { "at", 10e-3 }, { "ideality", 1.7 }, { "series", 0.6 }, { "leakage", 10e9 } },
  .n_elements = 1, .elements = { { 0, 1 } },
  .n_derived = ML_NODAL_JUNCTION_DOUBLES + 1,
  .prepare = diode_prepare, .eval = diode_eval, .prepare_slopes = diode_prepare_slopes, .slopes = diode_slopes, .limit = diode_limit,
};

const MlNodalType ml_nodal_led_type = {
  .word = "led", .n_pins = 2, .pins = { "anode", "cathode" },
  .n_parameters = N_DIODE_PARAMETERS,
  .parameters = { { "drop", 2.0 }, { "at", 10e-3 }, { "ideality", 2.0 }, { "series", 2.4 }, { "leakage", 10e9 } },
  .n_elements = 1, .elements = { { 0, 1 } },
  .n_derived = ML_NODAL_JUNCTION_DOUBLES + 1,
  .prepare = diode_prepare, .eval = diode_eval, .prepare_slopes = diode_prepare_slopes, .slopes = diode_slopes, .limit = diode_limit,
};

const MlNodalType ml_nodal_bridge_type = {
  .word = "bridge", .n_pins = 4, .pins = { "ac1", "ac2", "plus", "minus" },
  .n_parameters = N_DIODE_PARAMETERS,
  .parameters = { { "drop", 0.75 }, { "at", 10e-3 }, { "ideality", 1.7 }, { "series", 0.6 }, { "leakage", 10e9 } },
  .n_elements = 4, .elements = { { 0, 2 }, { 1, 2 }, { 3, 0 }, { 3, 1 } },
  .n_derived = ML_NODAL_JUNCTION_DOUBLES + 1,
  .prepare = diode_prepare, .eval = bridge_eval, .prepare_slopes = diode_prepare_slopes, .slopes = bridge_slopes, .limit = bridge_limit,
};

const MlNodalType ml_nodal_zener_type = {
  .word = "zener", .n_pins = 2, .pins = { "anode", "cathode" },
  .n_parameters = N_ZENER_PARAMETERS,
  .parameters = { { "voltage", 5.6 }, { "at", 5e-3 }, { "slope", 2.5 }, { "series", 1.5 }, { "forward", 0.75 },
                  { "forward_at", 10e-3 }, { "leakage", 10e9 } },
  .n_elements = 1, .elements = { { 0, 1 } },
  .n_derived = 2 * ML_NODAL_JUNCTION_DOUBLES + 1,
  .prepare = zener_prepare, .eval = zener_eval, .prepare_slopes = zener_prepare_slopes, .slopes = zener_slopes, .limit = zener_limit,
};

const MlNodalType ml_nodal_tvs_type = {
  .word = "tvs", .n_pins = 2, .pins = { "1", "2" },
  .n_parameters = 1, .parameters = { { "clamp", 30.0 } },
  .n_elements = 1, .elements = { { 0, 1 } },
  .n_derived = 2 * ML_NODAL_JUNCTION_DOUBLES + 1,
  .prepare = tvs_prepare, .eval = zener_eval, .prepare_slopes = tvs_prepare_slopes, .slopes = tvs_slopes, .limit = zener_limit,
};
