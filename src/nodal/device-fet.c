/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field-effect transistors (drain gate source). S(x) = softplus (x, 2 kT/q) = 2 kT/q ln (1 + exp (x / (2 kT/q))), kT/q at 25 C.
 *
 * nmos (threshold, k, leakage): i = k (S(vgs - threshold)^2 - S(vgd - threshold)^2) from drain to source: the square law in saturation,
 *   1 / (2 k (vgs - threshold)) ohm when switched on, exponential below threshold, the same with drain and source exchanged. Body diode
 *   from source to drain: 0.75 V at 10 mA, ideality 1.2, series 0.1 ohm, and leakage beside it.
 * pmos: all voltages and currents reversed (threshold positive).
 * njfet (idss, threshold, leakage): the same channel with k = idss / threshold^2 and threshold -threshold (positive figure: pinch-off), and a
 *   junction from gate to drain and to source each: 0.7 V at 1 mA, ideality 1, series 1 ohm, leakage. pjfet: reversed.
 * Source: Enz, Krummenacher and Vittoz, Analog Integrated Circuits and Signal Processing 8 (1995), with slope factor 1;
 * the junction and body diodes' points and leakage from memory. */
#include "nodal/device.h"
#include "nodal/junction.h"

#include <math.h>

enum { DRAIN, GATE, SOURCE };

typedef struct
{
  double sign, k, threshold, leak_s;
  MlNodalJunction diode;
} Fet;

static void
mos_prepare (const double *parameters, double *derived, double sign)
{
  Fet *q = (Fet *) derived;
  q->sign = sign;
  q->threshold = parameters[0];
  q->k = parameters[1];
  q->leak_s = 1 / parameters[2];
  ml_nodal_junction_prepare (&q->diode, 0.75, 10e-3, 1.2, 0.1);
}

static void
jfet_prepare (const double *parameters, double *derived, double sign)
{
  Fet *q = (Fet *) derived;
  q->sign = sign;
  q->threshold = -parameters[1];
  q->k = parameters[0] / (parameters[1] * parameters[1]);
  q->leak_s = 1 / parameters[2];
  ml_nodal_junction_prepare (&q->diode, 0.7, 1e-3, 1.0, 1.0);
}

static void
nmos_prepare (const double *parameters, double *derived)
{
  mos_prepare (parameters, derived, 1);
}

static void
pmos_prepare (const double *parameters, double *derived)
{
  mos_prepare (parameters, derived, -1);
}

static void
njfet_prepare (const double *parameters, double *derived)
{
  jfet_prepare (parameters, derived, 1);
}

static void
pjfet_prepare (const double *parameters, double *derived)
{
  jfet_prepare (parameters, derived, -1);
}

static void
channel (const Fet *q, const double *x, double *f, double *jacobian)
{
  double slope_s, slope_d;
  double s = ml_nodal_softplus (q->sign * (x[GATE] - x[SOURCE]) - q->threshold, 2 * ML_NODAL_THERMAL_V, &slope_s);
  double d = ml_nodal_softplus (q->sign * (x[GATE] - x[DRAIN]) - q->threshold, 2 * ML_NODAL_THERMAL_V, &slope_d);
  /* (s - d) (s + d) keeps the digits of a switched-on channel without voltage across it */
  double i = q->sign * q->k * (s - d) * (s + d), by_s = 2 * q->k * s * slope_s, by_d = 2 * q->k * d * slope_d;

  f[DRAIN] += i;
  f[SOURCE] -= i;
  for (int k = 0; k < 2; k++)
    {
      double *row = jacobian + 3 * (k == 0 ? DRAIN : SOURCE), sign = k == 0 ? 1 : -1;
      row[GATE] += sign * (by_s - by_d);
      row[SOURCE] -= sign * by_s;
      row[DRAIN] += sign * by_d;
    }
}

/* A junction from pin a to pin b, reversed with the polarity. */
static void
diode (const Fet *q, const double *x, int a, int b, double *f, double *jacobian)
{
  double v = q->sign * (x[a] - x[b]), g, i = ml_nodal_junction_eval (&q->diode, v, &g);
  ml_nodal_stamp_branch (f, jacobian, 3, a, b, q->sign * (i + q->leak_s * v), g + q->leak_s);
}

static void
mos_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Fet *q = (const Fet *) derived;
  if (!(open & 1u))
    channel (q, x, f, jacobian);
  diode (q, x, SOURCE, DRAIN, f, jacobian);
}

static void
jfet_eval (const double *derived, unsigned open, const double *x, double *f, double *jacobian)
{
  const Fet *q = (const Fet *) derived;
  if (!(open & 1u))
    channel (q, x, f, jacobian);
  if (!(open & 2u))
    diode (q, x, GATE, SOURCE, f, jacobian);
  if (!(open & 4u))
    diode (q, x, GATE, DRAIN, f, jacobian);
}

static double
diode_step (const Fet *q, const double *old, const double *x, int a, int b)
{
  double v = q->sign * (x[a] - x[b]);
  return old ? ml_nodal_junction_limit (&q->diode, v, q->sign * (old[a] - old[b])) : ml_nodal_junction_clamp (&q->diode, v);
}

static void
mos_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Fet *q = (const Fet *) derived;
  double v = diode_step (q, old, x, SOURCE, DRAIN);
  if (v != q->sign * (x[SOURCE] - x[DRAIN]))
    x[DRAIN] = x[SOURCE] - q->sign * v;
}

static void
jfet_limit (const double *derived, unsigned open, const double *old, double *x)
{
  const Fet *q = (const Fet *) derived;
  static const int ends[2] = { SOURCE, DRAIN };

  for (int k = 0; k < 2; k++)
    if (!(open & 2u << k))
      {
        double v = diode_step (q, old, x, GATE, ends[k]);
        if (v != q->sign * (x[GATE] - x[ends[k]]))
          x[ends[k]] = x[GATE] - q->sign * v;
      }
}

#define MOS \
  .n_pins = 3, .output = 1 + DRAIN, .pins = { "drain", "gate", "source" }, .n_parameters = 3, .parameters = { { "threshold", 2.0 }, { "k", 0.5 }, { "leakage", 10e9 } }, \
  .n_elements = 1, .elements = { { DRAIN, SOURCE } }, .n_paths = 1, .paths = { { SOURCE, DRAIN } }, .rest = { 0, 1 + SOURCE, 0 }, \
  .n_derived = 4 + ML_NODAL_JUNCTION_DOUBLES, .eval = mos_eval, .limit = mos_limit

#define JFET \
  .n_pins = 3, .output = 1 + DRAIN, .pins = { "drain", "gate", "source" }, .n_parameters = 3, .parameters = { { "idss", 5e-3 }, { "threshold", 2.0 }, { "leakage", 10e9 } }, \
  .n_elements = 3, .elements = { { DRAIN, SOURCE }, { GATE, SOURCE }, { GATE, DRAIN } }, \
  .n_derived = 4 + ML_NODAL_JUNCTION_DOUBLES, .eval = jfet_eval, .limit = jfet_limit

const MlNodalType ml_nodal_nmos_type = { .word = "nmos", MOS, .prepare = nmos_prepare };
const MlNodalType ml_nodal_pmos_type = { .word = "pmos", MOS, .prepare = pmos_prepare };
const MlNodalType ml_nodal_njfet_type = { .word = "njfet", JFET, .prepare = njfet_prepare };
const MlNodalType ml_nodal_pjfet_type = { .word = "pjfet", JFET, .prepare = pjfet_prepare };
