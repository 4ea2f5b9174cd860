/* SPDX-License-Identifier: GPL-3.0-or-later */
/* opamp (noninverting inverting out positive negative; offset, upper_loss, lower_loss, quiescent, gain, output_resistance, bias) and comparator
 * (offset, saturation, quiescent, pull_up, bias, leakage). All voltages above the negative pin; u the supply, d = v_noninverting - v_inverting + offset.
 *
 * opamp: the output can reach from lower_loss to u - upper_loss: m the middle of the two, h = 1 mV + softplus (half their distance, 50 mV),
 *     aim  e = m + h tanh (gain d / h)
 *     on   n = 1 / (1 + exp (-(u - lower_loss - upper_loss - 0.6 V) / 40 mV)), below which it does not drive
 *     out  j = (e - v_out) / output_resistance
 *     from positive to out  n softplus (j, 0.1 mA), from out to negative  n (softplus (j, 0.1 mA) - j)
 * comparator: on as above with u - 1.5 V over 50 mV,
 *     from out to negative  n / (1 + exp (d / 0.2 mV)) 20 mA tanh (v_out 5 mA / (saturation 20 mA))
 *     from positive to out  n / (1 + exp (-d / 0.2 mV)) pull_up tanh ((u - v_out) 5 mA / (saturation 20 mA))
 *   pull_up, the most it sources, is 0 for an open collector; a push-pull output, pull_up above 1 uA, also has a diode from out to positive.
 * both: quiescent (u / sqrt (u^2 + 1 V^2) + 1e-6 u / 1 V) from positive to negative, a substrate diode from negative to positive, diodes from
 *   out to positive (not with an open collector) and from negative to out, each 0.7 V at 10 mA, ideality 1.2, series 5 ohm; out to negative leakage (opamp:
 *   1 Gohm).
 *   Each input: 10 Gohm to negative, and its bias current. bias > 0 flows out of it (PNP pairs), from positive, h volts above it; bias < 0 into it (NPN), h
 *   volts above negative:  |bias| (exp (h / 0.1 V) - 1) / (exp (h / 0.1 V) + exp (1.3 V / 0.1 V)), which ends where two junctions and what feeds them
 *   find no room any more; at h = 0 it is 0, below it a millionth the other way.
 * Source: block diagrams, common practice; the comparator's 20 mA, and its saturation at 5 mA, are those of common open-collector types, from
 * memory; protection diodes from memory; the inputs' room from input stages in data sheets (common mode to 1.5 V below the supply), from memory; 1 and 10
 * Gohm are judgement, smooth widths are ours. softplus (x, w) = w ln (1 + exp (x / w)). */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { PLUS, MINUS, OUT, POSITIVE, NEGATIVE, N_PINS };

typedef struct
{
  double offset, upper_loss, lower_loss, quiescent, gain, ohm, bias;
  double put; /* where the output was put, else 0 */
  MlNodalJunction diode;
} Opamp;

typedef struct
{
  double offset, width, quiescent, pull_up, switch_width, bias;
  double put; /* as above */
  double leak_s;
  MlNodalJunction diode;
} Comparator;

static const double opamp_leak_s = 1e-9, cross_a = 1e-4, usual_switch_width = 0.2e-3, sink_a = 20e-3, sink_at_a = 5e-3;
static const double input_s = 1e-10, input_room_v = 1.3, input_width_v = 0.1;
static const double push_pull_a = 1e-6; /* not 0: there the law is to have a slope in pull_up */

/* A current i from pin a to pin b that depends on the pins with slopes[5]. */
static void
stamp (double *f, double *jacobian, int a, int b, double i, const double *slopes)
{
  f[a] += i;
  f[b] -= i;
  for (int c = 0; c < N_PINS; c++)
    {
      jacobian[a * N_PINS + c] += slopes[c];
      jacobian[b * N_PINS + c] -= slopes[c];
    }
}

static void
stamp_diode (const MlNodalJunction *diode, const double *x, int a, int b, double *f, double *jacobian)
{
  double g, i = ml_nodal_junction_eval (diode, x[a] - x[b], &g);
  ml_nodal_stamp_branch (f, jacobian, N_PINS, a, b, i, g);
}

/* Where an input's bias current comes from and where it goes to. */
static void
way_of_bias (double bias, int input, int *ret_from, int *ret_to)
{
  *ret_from = bias > 0 ? POSITIVE : input;
  *ret_to = bias > 0 ? input : NEGATIVE;
}

static void
stamp_inputs (double bias, const double *x, double *f, double *jacobian)
{
  double below = exp (-input_room_v / input_width_v), slope;
  int from, to;

  for (int k = PLUS; k <= MINUS; k++)
    {
      way_of_bias (bias, k, &from, &to);
      double share = ml_nodal_logistic ((x[from] - x[to] - input_room_v) / input_width_v, &slope) * (1 + below) - below;
      ml_nodal_stamp_branch (f, jacobian, N_PINS, from, to, fabs (bias) * share, fabs (bias) * slope * (1 + below) / input_width_v);
      ml_nodal_stamp_branch (f, jacobian, N_PINS, k, NEGATIVE, input_s * (x[k] - x[NEGATIVE]), input_s);
    }
}

/* An input that little holds would be sent to and fro across the step where its bias current ends: crossing it, stop there. */
static void
limit_inputs (double bias, const double *old, double *x)
{
  int from, to;

  for (int k = PLUS; old && k <= MINUS; k++)
    {
      way_of_bias (bias, k, &from, &to);
      double h = x[from] - x[to] - input_room_v, was = old[from] - old[to] - input_room_v;
      if ((h > 0) == (was > 0) || fabs (h) < input_width_v || fabs (was) < input_width_v)
        continue;
      x[k] += bias > 0 ? h : -h;
    }
}

static void
stamp_common (const MlNodalJunction *diode, double quiescent, double bias, double leak_s, const double *x, double *f, double *jacobian)
{
  stamp_inputs (bias, x, f, jacobian);
  ml_nodal_stamp_own (f, jacobian, N_PINS, POSITIVE, NEGATIVE, quiescent, x[POSITIVE] - x[NEGATIVE]);
  ml_nodal_stamp_branch (f, jacobian, N_PINS, OUT, NEGATIVE, leak_s * (x[OUT] - x[NEGATIVE]), leak_s);
  stamp_diode (diode, x, NEGATIVE, POSITIVE, f, jacobian);
  stamp_diode (diode, x, NEGATIVE, OUT, f, jacobian);
}

static void
opamp_prepare (const double *parameters, double *derived)
{
  Opamp *u1 = (Opamp *) derived;
  u1->offset = parameters[0];
  u1->upper_loss = parameters[1];
  u1->lower_loss = parameters[2];
  u1->quiescent = parameters[3];
  u1->gain = parameters[4];
  u1->ohm = parameters[5];
  u1->bias = parameters[6];
  u1->put = 0;
  ml_nodal_junction_prepare (&u1->diode, 0.7, 10e-3, 1.2, 5.0);
}

static void
opamp_soften (double *derived, double share)
{
  ((Opamp *) derived)->gain *= share;
}

static void
opamp_put (double *derived, int side)
{
  ((Opamp *) derived)->put = side;
}

/* The diode from out to positive. */
static void
limit_upper_diode (const MlNodalJunction *diode, const double *old, double *x)
{
  double v = x[OUT] - x[POSITIVE];
  v = old ? ml_nodal_junction_limit (diode, v, old[OUT] - old[POSITIVE]) : ml_nodal_junction_clamp (diode, v);
  if (v != x[OUT] - x[POSITIVE])
    x[OUT] = x[POSITIVE] + v;
}

/* Half of what the output can swing. */
static double
half_swing (const Opamp *u1, double u, double *ret_slope)
{
  double h = 1e-3 + ml_nodal_softplus (0.5 * (u - u1->upper_loss - u1->lower_loss), 0.05, ret_slope);
  *ret_slope *= 0.5;
  return h;
}

static const double on_width_v = 0.04;

/* What the output drives, and how that comes about: names as above, a the argument of tanh, t that, c 1 / cosh, up the current from positive. */
typedef struct
{
  double d, h_u, a, t, c, aim, on, on_slope, j, up, up_slope;
} Output;

static inline Output
drive_output (const Opamp *u1, const double *x)
{
  double u = x[POSITIVE] - x[NEGATIVE], d = x[PLUS] - x[MINUS] + u1->offset;
  Output o = { .d = d };

  double h = half_swing (u1, u, &o.h_u);
  o.a = u1->gain * d / h;
  o.t = u1->put != 0 ? u1->put : tanh (o.a);
  o.c = u1->put != 0 ? 0 : 1 / cosh (fmin (fabs (o.a), 350.0));
  o.aim = 0.5 * (u - u1->upper_loss + u1->lower_loss) + h * o.t;
  o.on = ml_nodal_logistic ((u - u1->lower_loss - u1->upper_loss - 0.6) / on_width_v, &o.on_slope);
  o.j = (o.aim - (x[OUT] - x[NEGATIVE])) / u1->ohm;
  o.up = ml_nodal_softplus (o.j, cross_a, &o.up_slope);
  return o;
}

static void
opamp_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Opamp *u1 = (const Opamp *) derived;

  stamp_common (&u1->diode, u1->quiescent, u1->bias, opamp_leak_s, x, f, jacobian);
  stamp_diode (&u1->diode, x, OUT, POSITIVE, f, jacobian);
  if (open & 1u)
    return;
  const Output o = drive_output (u1, x);
  double aim_d = u1->gain * o.c * o.c, aim_u = 0.5 + o.h_u * (o.t - o.a * o.c * o.c);
  /* slopes of j by pin, of on by pin */
  double by_j[N_PINS] = { aim_d / u1->ohm, -aim_d / u1->ohm, -1 / u1->ohm, aim_u / u1->ohm, (1 - aim_u) / u1->ohm };
  double by_on[N_PINS] = { 0, 0, 0, o.on_slope / on_width_v, -o.on_slope / on_width_v }, source[N_PINS], sink[N_PINS];
  for (int k = 0; k < N_PINS; k++)
    {
      source[k] = o.on * o.up_slope * by_j[k] + o.up * by_on[k];
      sink[k] = o.on * (o.up_slope - 1) * by_j[k] + (o.up - o.j) * by_on[k];
    }
  stamp (f, jacobian, POSITIVE, OUT, o.on * o.up, source);
  stamp (f, jacobian, OUT, NEGATIVE, o.on * (o.up - o.j), sink);
}

/* ---- slopes in the parameters, which the derived quantities are but for a factor ---- */

enum { OFFSET, UPPER_LOSS, LOWER_LOSS, QUIESCENT, GAIN, OHM, BIAS, N_OPAMP_PARAMETERS };
enum { C_OFFSET, SATURATION, C_QUIESCENT, PULL_UP, C_BIAS, LEAKAGE, N_COMPARATOR_PARAMETERS };

/* A current from pin a to pin b has that slope in a parameter. */
static void
add_slope (double *ret, int parameter, int a, int b, double slope)
{
  ml_nodal_add_slope (ret + parameter * N_PINS, a, b, slope);
}

/* Its slope, at 0 that in the middle of both ways. */
static void
add_bias_slopes (double bias, const double *x, int parameter, double *ret)
{
  double below = exp (-input_room_v / input_width_v), waste;
  int from, to;

  for (int k = PLUS; k <= MINUS; k++)
    for (int sign = -1; sign <= 1; sign += 2)
      {
        if (bias * sign < 0)
          continue;
        way_of_bias (sign, k, &from, &to);
        double share = ml_nodal_logistic ((x[from] - x[to] - input_room_v) / input_width_v, &waste) * (1 + below) - below;
        add_slope (ret, parameter, from, to, sign * share * (bias == 0 ? 0.5 : 1));
      }
}

/* How the output hangs on a parameter that moves what it aims at, or how far it is on. */
static void
add_output_slopes (const Output *o, int parameter, double by_j, double by_on, double *ret)
{
  add_slope (ret, parameter, POSITIVE, OUT, o->on * o->up_slope * by_j + o->up * by_on);
  add_slope (ret, parameter, OUT, NEGATIVE, o->on * (o->up_slope - 1) * by_j + (o->up - o->j) * by_on);
}

static void
opamp_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  const Opamp *u1 = (const Opamp *) derived;

  add_slope (ret, QUIESCENT, POSITIVE, NEGATIVE, ml_nodal_own_share (x[POSITIVE] - x[NEGATIVE]));
  add_bias_slopes (u1->bias, x, BIAS, ret);
  if (open & 1u)
    return;
  const Output o = drive_output (u1, x);
  double by_h = o.t - o.a * o.c * o.c, by_loss = -o.h_u * by_h, on_by_loss = -o.on_slope / on_width_v;
  add_output_slopes (&o, OFFSET, u1->gain * o.c * o.c / u1->ohm, 0, ret);
  add_output_slopes (&o, UPPER_LOSS, (by_loss - 0.5) / u1->ohm, on_by_loss, ret);
  add_output_slopes (&o, LOWER_LOSS, (by_loss + 0.5) / u1->ohm, on_by_loss, ret);
  add_output_slopes (&o, GAIN, o.d * o.c * o.c / u1->ohm, 0, ret);
  add_output_slopes (&o, OHM, -o.j / u1->ohm, 0, ret);
}

static void
limit_diodes (const MlNodalJunction *diode, const double *old, double *x)
{
  double v = x[NEGATIVE] - x[POSITIVE];
  v = old ? ml_nodal_junction_limit (diode, v, old[NEGATIVE] - old[POSITIVE]) : ml_nodal_junction_clamp (diode, v);
  if (v != x[NEGATIVE] - x[POSITIVE])
    x[POSITIVE] = x[NEGATIVE] - v;
  v = x[NEGATIVE] - x[OUT];
  v = old ? ml_nodal_junction_limit (diode, v, old[NEGATIVE] - old[OUT]) : ml_nodal_junction_clamp (diode, v);
  if (v != x[NEGATIVE] - x[OUT])
    x[OUT] = x[NEGATIVE] - v;
}

/* Plain Newton bounces from rail to rail: on the same side of balance grow by 1.5 in units of the half swing until the output is well
 * saturated; crossing balance, stop there. */
static double
balance_step (double a, double was)
{
  if (a * was > 0 && fabs (was) > 6)
    return a;
  if ((a > 0) != (was > 0) && fabs (a) > 1.5 && was != 0)
    return a > 0 ? 1.5 : -1.5;
  if (fabs (a) > fabs (was) + 1.5)
    return was + (a > was ? 1.5 : -1.5);
  return a;
}

/* Where Newton begins with an amplifier that is fed it begins from a solution, and the output is where it is: put near its balance, one that feeds
 * back to its input would be led to the balance that no circuit keeps. */
static double
begin (const double *x, double a)
{
  return x[POSITIVE] - x[NEGATIVE] > 1.0 ? a : 0;
}

/* In units of the half swing. */
static double
opamp_lean (const double *derived, const double *x)
{
  const Opamp *u1 = (const Opamp *) derived;
  double slope;

  return u1->gain * (x[PLUS] - x[MINUS] + u1->offset) / half_swing (u1, x[POSITIVE] - x[NEGATIVE], &slope);
}

static void
opamp_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Opamp *u1 = (const Opamp *) derived;
  double slope;

  limit_diodes (&u1->diode, old, x);
  limit_inputs (u1->bias, old, x);
  limit_upper_diode (&u1->diode, old, x);
  if (open || u1->put != 0)
    return;
  double to_a = u1->gain / half_swing (u1, x[POSITIVE] - x[NEGATIVE], &slope), a = opamp_lean (derived, x);
  double was = old ? opamp_lean (derived, old) : begin (x, a);
  double to = balance_step (a, was);
  if (to != a)
    {
      double shift = 0.5 * (to - a) / to_a;
      x[PLUS] += shift;
      x[MINUS] -= shift;
    }
}

static void
comparator_prepare (const double *parameters, double *derived)
{
  Comparator *u1 = (Comparator *) derived;
  u1->offset = parameters[0];
  u1->width = parameters[1] * sink_a / sink_at_a;
  u1->quiescent = parameters[2];
  u1->pull_up = parameters[3];
  u1->bias = parameters[4];
  u1->leak_s = 1 / parameters[5];
  u1->switch_width = usual_switch_width;
  u1->put = 0;
  ml_nodal_junction_prepare (&u1->diode, 0.7, 10e-3, 1.2, 5.0);
}

static void
comparator_soften (double *derived, double share)
{
  ((Comparator *) derived)->switch_width /= share;
}

static void
comparator_put (double *derived, int side)
{
  ((Comparator *) derived)->put = side;
}

static double
comparator_lean (const double *derived, const double *x)
{
  const Comparator *u1 = (const Comparator *) derived;
  return (x[PLUS] - x[MINUS] + u1->offset) / u1->switch_width;
}

/* The output's pull from pin a to pin b, an ampere at most, where d in units of switch_width decides: on times drive times t, names as above. */
typedef struct
{
  double on, on_slope, drive, drive_slope, v, t, c;
} Pull;

static inline Pull
pull (const Comparator *u1, const double *x, int a, int b, double d)
{
  Pull own;

  own.on = ml_nodal_logistic ((x[POSITIVE] - x[NEGATIVE] - 1.5) / 0.05, &own.on_slope);
  own.drive = ml_nodal_logistic (d / u1->switch_width, &own.drive_slope);
  if (u1->put != 0)
    {
      own.drive = (u1->put > 0) == (a == POSITIVE) ? 1 : 0;
      own.drive_slope = 0;
    }
  own.v = (x[a] - x[b]) / u1->width;
  own.t = tanh (own.v);
  own.c = 1 / cosh (fmin (fabs (own.v), 350.0));
  return own;
}

/* most: amperes at once. */
static void
stamp_pull (const Comparator *u1, const double *x, int a, int b, double most, double d, double *f, double *jacobian)
{
  const Pull own = pull (u1, x, a, b, d);
  double by_d = (a == OUT ? -1 : 1) * own.on * own.drive_slope / u1->switch_width * most * own.t;
  double by_u = own.on_slope / 0.05 * own.drive * most * own.t, by_v = own.on * own.drive * most * own.c * own.c / u1->width;
  double slopes[N_PINS] = { by_d, -by_d, 0, by_u, -by_u };

  slopes[a] += by_v;
  slopes[b] -= by_v;
  stamp (f, jacobian, a, b, own.on * own.drive * most * own.t, slopes);
}

static void
add_pull_slopes (const Comparator *u1, const double *x, int a, int b, double most, double d, double *ret)
{
  const Pull own = pull (u1, x, a, b, d);

  add_slope (ret, C_OFFSET, a, b, (a == OUT ? -1 : 1) * own.on * own.drive_slope / u1->switch_width * most * own.t);
  add_slope (ret, SATURATION, a, b, -own.on * own.drive * most * own.c * own.c * own.v / u1->width * sink_a / sink_at_a);
  if (a == POSITIVE)
    add_slope (ret, PULL_UP, a, b, own.on * own.drive * own.t);
}

static void
comparator_slopes (const double *derived, const double *d_derived, unsigned open, const double *x, double *ret)
{
  const Comparator *u1 = (const Comparator *) derived;
  double d = x[PLUS] - x[MINUS] + u1->offset;

  add_slope (ret, C_QUIESCENT, POSITIVE, NEGATIVE, ml_nodal_own_share (x[POSITIVE] - x[NEGATIVE]));
  add_bias_slopes (u1->bias, x, C_BIAS, ret);
  add_slope (ret, LEAKAGE, OUT, NEGATIVE, -u1->leak_s * u1->leak_s * (x[OUT] - x[NEGATIVE]));
  if (open & 1u)
    return;
  add_pull_slopes (u1, x, OUT, NEGATIVE, sink_a, -d, ret);
  add_pull_slopes (u1, x, POSITIVE, OUT, u1->pull_up, d, ret);
}

static void
comparator_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Comparator *u1 = (const Comparator *) derived;
  double d = x[PLUS] - x[MINUS] + u1->offset;

  stamp_common (&u1->diode, u1->quiescent, u1->bias, u1->leak_s, x, f, jacobian);
  if (u1->pull_up > push_pull_a)
    stamp_diode (&u1->diode, x, OUT, POSITIVE, f, jacobian);
  if (open & 1u)
    return;
  stamp_pull (u1, x, OUT, NEGATIVE, sink_a, -d, f, jacobian);
  if (u1->pull_up != 0)
    stamp_pull (u1, x, POSITIVE, OUT, u1->pull_up, d, f, jacobian);
}

static void
comparator_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Comparator *u1 = (const Comparator *) derived;

  limit_diodes (&u1->diode, old, x);
  limit_inputs (u1->bias, old, x);
  if (u1->pull_up > push_pull_a)
    limit_upper_diode (&u1->diode, old, x);
  if (open || u1->put != 0)
    return;
  double a = comparator_lean (derived, x), was = old ? comparator_lean (derived, old) : begin (x, a);
  double to = balance_step (a, was);
  if (to != a)
    {
      double shift = 0.5 * (to - a) * u1->switch_width;
      x[PLUS] += shift;
      x[MINUS] -= shift;
    }
}

#define AMPLIFIER \
  .n_pins = N_PINS, .output = 1 + OUT, .pins = { "noninverting", "inverting", "out", "positive", "negative" }, .n_elements = 1, \
  .elements = { { OUT, NEGATIVE } }, .n_paths = 4, \
  .paths = { { POSITIVE, NEGATIVE }, { NEGATIVE, OUT }, { PLUS, NEGATIVE }, { MINUS, NEGATIVE } }

const MlNodalType ml_nodal_opamp_type = {
  .word = "opamp", .flags = ML_NODAL_STEEP, AMPLIFIER, .n_parameters = N_OPAMP_PARAMETERS,
  .parameters = { { "offset", 0.0 }, { "upper_loss", 1.0 }, { "lower_loss", 0.1 }, { "quiescent", 1e-3 }, { "gain", 2e4 },
                  { "output_resistance", 80.0 }, { "bias", 30e-9 } },
  .n_derived = 8 + ML_NODAL_JUNCTION_DOUBLES, .prepare = opamp_prepare, .eval = opamp_eval, .slopes = opamp_slopes, .limit = opamp_limit,
  .soften = opamp_soften, .put = opamp_put, .lean = opamp_lean,
};

const MlNodalType ml_nodal_comparator_type = {
  .word = "comparator", .flags = ML_NODAL_STEEP, AMPLIFIER, .n_parameters = N_COMPARATOR_PARAMETERS,
  .parameters = { { "offset", 0.0 }, { "saturation", 0.15 }, { "quiescent", 0.5e-3 }, { "pull_up", 0.0 }, { "bias", 30e-9 }, { "leakage", 10e9 } },
  .n_derived = 8 + ML_NODAL_JUNCTION_DOUBLES, .prepare = comparator_prepare, .eval = comparator_eval, .slopes = comparator_slopes,
  .limit = comparator_limit, .soften = comparator_soften,  .put = comparator_put, .lean = comparator_lean,
};
