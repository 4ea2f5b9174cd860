/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Chips of the truth program's network, and the meter. Their formulas carry their slopes with them (forward differentiation: R. E. Wengert, Comm. ACM 7,
 * 1964), so that none is derived by hand. */
#include "support/truth-assembly.h"

#define CAREFUL ML_ELEMENT_NODES /* place of the slopes to the quantities that are stepped with care */
#define N_CAREFUL 4
#define N_SLOPES (ML_ELEMENT_NODES + N_CAREFUL)
#define RAIL_WIDTH_V 0.05
#define OUTPUT_WIDTH_A 1e-4

/* A value and its slopes to the element's node voltages and to the quantities that are stepped with care. */
typedef struct { double v, by[N_SLOPES]; } Dual;

/* The element of this step; how far its careful quantities were held back. */
typedef struct { Assembly *a; MlTruthElement *e; double held_back[N_CAREFUL]; } Chip;

/* ---- arithmetic ---- */

static Dual
constant (double v)
{
  return (Dual) { .v = v };
}

static Dual
through (Dual x, double v, double slope_of_it)
{
  Dual y = { .v = v };
  for (guint i = 0; i < N_SLOPES; i++)
    y.by[i] = slope_of_it * x.by[i];
  return y;
}

static Dual
times (Dual x, double factor)
{
  return through (x, factor * x.v, factor);
}

static Dual
plus (Dual x, Dual y)
{
  for (guint i = 0; i < N_SLOPES; i++)
    x.by[i] += y.by[i];
  x.v += y.v;
  return x;
}

static Dual
minus (Dual x, Dual y)
{
  return plus (x, times (y, -1));
}

static Dual
above (Dual x, double v)
{
  x.v -= v;
  return x;
}

static Dual
product (Dual x, Dual y)
{
  Dual z = { .v = x.v * y.v };
  for (guint i = 0; i < N_SLOPES; i++)
    z.by[i] = x.by[i] * y.v + x.v * y.by[i];
  return z;
}

static Dual
quotient (Dual x, Dual y)
{
  return product (x, through (y, 1 / y.v, -1 / (y.v * y.v)));
}

/* x above 0, 0 below, rounded over `width`. */
static Dual
positive (Dual x, double width)
{
  double by;
  double v = softplus (x.v, width, &by);
  return through (x, v, by);
}

/* 0 to 1 about x = 0. */
static Dual
share (Dual x, double width)
{
  double s = x.v > 0 ? 1 / (1 + exp (-x.v / width)) : exp (x.v / width) / (1 + exp (x.v / width));
  return through (x, s, s * (1 - s) / width);
}

/* -1 to 1, straight about 0. */
static Dual
saturated (Dual x)
{
  double root = sqrt (1 + x.v * x.v);
  return through (x, x.v / root, 1 / (root * root * root));
}

static Dual
rises_to_one (Dual x)
{
  double t = tanh (x.v);
  return through (x, t, 1 - t * t);
}

/* ---- between the element and the equations ---- */

static Dual
node_voltage (const Chip *c, guint i)
{
  Dual v = constant (ml_truth_at (c->a->x, c->e->node[i]));
  v.by[i] = 1;
  return v;
}

/* x, from here on at `v`; what hangs on it goes on as a straight line from there. */
static Dual
held_at (Chip *c, guint which, Dual x, double v)
{
  c->held_back[which] = x.v - v;
  x.v = v;
  x.by[CAREFUL + which] = 1;
  return x;
}

/* No more than e^stride times as far from 0 as in the last step. */
static Dual
careful (Chip *c, guint which, Dual x)
{
  double *held = &c->e->held[which], at = sinh (CLAMP (asinh (x.v), asinh (*held) - c->a->stride, asinh (*held) + c->a->stride));
  if (fabs (at - x.v) > 1e-9 * (1 + fabs (x.v)))
    c->a->limited = TRUE;
  return held_at (c, which, x, *held = at);
}

static void
current (const Chip *c, guint from, guint to, Dual i)
{
  for (guint k = 0; k < N_CAREFUL; k++)
    i.v += i.by[CAREFUL + k] * c->held_back[k];
  flow (c->a, c->e->node[from], c->e->node[to], i.v);
  for (guint k = 0; k < ML_ELEMENT_NODES; k++)
    {
      slope (c->a, c->e->node[from], c->e->node[k], i.by[k]);
      slope (c->a, c->e->node[to], c->e->node[k], -i.by[k]);
    }
}

/* ---- laws ---- */

enum { PLUS, MINUS, OUT, POSITIVE, NEGATIVE };

static Dual
is_powered (Dual supply_v)
{
  return share (above (supply_v, 2.0), 0.05);
}

/* What the input transistors need flows out of both inputs, as of a PNP pair fed from the positive pin (data sheets of single-supply types, from memory), or
 * into both, as of an NPN pair; it ends where two junctions and what feeds them find no room any more. */
static void
input_currents (Chip *c, double bias_a, double room_v)
{
  for (guint i = PLUS; i <= MINUS; i++)
    {
      guint from = bias_a > 0 ? POSITIVE : i, to = bias_a > 0 ? i : NEGATIVE;
      Dual left = careful (c, 2 + i, times (above (minus (node_voltage (c, from), node_voltage (c, to)), room_v), 1 / 0.3));
      current (c, from, to, times (rises_to_one (positive (left, 0.2)), fabs (bias_a)));
    }
}

/* Boyle, Cohn, Pederson, Solomon 1974: a gain, rails less what the output stage loses, an output resistance and a limit of its current. The supply
 * pin gives what the output gives. */
static void
amplifier (Chip *c)
{
  const double *p = c->e->p;
  Dual negative_v = node_voltage (c, NEGATIVE), supply_v = minus (node_voltage (c, POSITIVE), negative_v);
  Dual room = positive (above (supply_v, p[2] + p[3]), RAIL_WIDTH_V), half = above (times (room, 0.5), -1e-3);
  Dual middle = plus (negative_v, above (times (room, 0.5), -p[3]));
  Dual difference = above (minus (node_voltage (c, PLUS), node_voltage (c, MINUS)), -p[0]);
  Dual asked = quotient (times (difference, p[1] * c->a->gain_share), half), drive = careful (c, 0, asked);
  Dual lacks = minus (plus (middle, product (half, saturated (drive))), node_voltage (c, OUT));
  Dual push = careful (c, 1, times (lacks, 1 / (p[4] * p[5]))), gives = times (saturated (push), p[5]), on = is_powered (supply_v);
  current (c, POSITIVE, OUT, product (on, positive (gives, OUTPUT_WIDTH_A)));
  current (c, OUT, NEGATIVE, product (on, positive (times (gives, -1), OUTPUT_WIDTH_A)));
  input_currents (c, p[6], p[7]);
}

/* An output transistor that sinks, with a resistance while saturated and a limit; a second one that sources in push-pull types. */
static void
comparator (Chip *c)
{
  const double *p = c->e->p;
  Dual negative_v = node_voltage (c, NEGATIVE), supply_v = minus (node_voltage (c, POSITIVE), negative_v);
  Dual difference = above (minus (node_voltage (c, PLUS), node_voltage (c, MINUS)), -p[0]);
  Dual asked = times (difference, c->a->gain_share / 0.1e-3), drive = careful (c, 0, asked);
  Dual high = c->e->forced ? constant (c->e->forced > 0) : share (drive, 1), low = minus (constant (1), high), on = is_powered (supply_v);
  Dual down = minus (node_voltage (c, OUT), negative_v), up = minus (node_voltage (c, POSITIVE), node_voltage (c, OUT));
  Dual sinks = times (saturated (times (down, 1 / (p[1] * p[2]))), p[2]);
  current (c, OUT, NEGATIVE, product (on, product (low, sinks)));
  if (p[4] > 0)
    {
      Dual sources = times (saturated (times (up, 1 / (p[3] * p[4]))), p[4]);
      current (c, POSITIVE, OUT, product (on, product (high, sources)));
    }
  input_currents (c, p[5], p[6]);
}

/* Draws what holds the reference pin at its voltage, as long as the cathode leaves the transistors inside about 1.8 V; 100 mA at most (data
 * sheets of the kind: 2.495 V, 0.2 ohm, 2 uA into the reference pin). */
static void
shunt (Chip *c)
{
  const double *p = c->e->p;
  enum { CATHODE, ANODE, REFERENCE };
  Dual anode_v = node_voltage (c, ANODE), across = minus (node_voltage (c, CATHODE), anode_v);
  Dual over = minus (node_voltage (c, REFERENCE), anode_v), asked = times (above (over, p[0]), 1 / 1e-3);
  Dual drive = careful (c, 0, asked);
  Dual wanted = times (positive (drive, 1), 1e-3 / p[1]), allowed = times (rises_to_one (times (wanted, 10)), 0.1);
  Dual room = rises_to_one (times (positive (above (across, 1.8), 0.03), 10));
  current (c, CATHODE, ANODE, product (allowed, room));
  current (c, REFERENCE, ANODE, times (rises_to_one (positive (above (over, 1.2), 0.05)), p[2]));
}

/* Of an emitter and a transistor: what shines through is `ratio` of the emitter's current (transfer ratio, IEC 60747-5-5, from memory); the
 * transistor saturates. The emitter's own current is an element of its own. */
static void
coupler (Chip *c)
{
  const double *p = c->e->p;
  Dual across = minus (node_voltage (c, 0), node_voltage (c, 1));
  double at = limited_voltage (c->a, across.v, &c->e->held[0], p[1], p[0]), growth;
  double exponential = bounded_exp (at / p[1], log (MOST_CURRENT_A / p[0]), &growth);
  Dual light = through (across, p[0] * (exponential - 1 + growth * (across.v - at) / p[1]), p[0] * growth / p[1]);
  Dual collected = saturated (times (minus (node_voltage (c, 2), node_voltage (c, 3)), 1 / 0.12));
  current (c, 2, 3, product (times (positive (light, 1e-8), p[2]), collected));
}

/* Averaged over a cycle: what comes out is what goes in less the loss (conservation of energy); constant voltage, then constant current. */
static void
converter (Chip *c)
{
  const double *p = c->e->p;
  enum { IN, OUTPUT, GROUND };
  Dual ground_v = node_voltage (c, GROUND), in = minus (node_voltage (c, IN), ground_v), out = minus (node_voltage (c, OUTPUT), ground_v);
  Dual runs = share (above (in, p[3]), 0.05), lacks = times (minus (constant (p[0]), out), 1 / 0.03);
  Dual asked = held_at (c, 0, lacks, stepped (c->a, lacks.v, &c->e->held[0], 5e-4, p[2]));
  Dual gives = positive (asked, 5e-4), limited = minus (constant (p[2]), positive (minus (constant (p[2]), gives), 0.01 * p[2]));
  Dual delivered = product (runs, limited), taken = quotient (product (delivered, positive (out, 0.02)), times (positive (in, 0.2), p[1]));
  current (c, GROUND, OUTPUT, delivered);
  current (c, IN, GROUND, taken);
  current (c, IN, GROUND, times (rises_to_one (in), p[4]));
}

/* M. Matsuoka 1971: i = 1 mA (v / V)^alpha, either way. A straight line beyond 100 A. */
static void
varistor (Chip *c)
{
  const double *p = c->e->p;
  Dual across = minus (node_voltage (c, 0), node_voltage (c, 1)), u = times (across, 1 / p[0]), drive = careful (c, 0, u);
  double size = fabs (drive.v), top = pow (1e5, 1 / p[1]), base = MIN (size, top), power = 1e-3 * pow (base, p[1]);
  double by = base > 0 ? p[1] * power / base : 0, i = power + by * (size - base);
  current (c, 0, 1, plus (through (drive, copysign (i, drive.v), by), times (across, 1e-9)));
}

/* A tungsten filament: current with the 0.541st power of the voltage about its rating (from memory, lighting handbooks), a twelfth of the hot
 * resistance when cold. */
static void
filament (Chip *c)
{
  const double *p = c->e->p;
  const double cold = pow (1 / 12.0, 4), power = 4 * (1 - 0.541) / 2;
  Dual across = minus (node_voltage (c, 0), node_voltage (c, 1));
  double u2 = across.v * across.v / (p[0] * p[0]) + 1e-12, inside = cold + (1 - cold) * pow (u2, power);
  double by = (1 - cold) * power * pow (u2, power - 1) * 2 * across.v / (p[0] * p[0]);
  Dual ohm = through (across, p[1] * pow (inside, 0.25), p[1] * 0.25 * pow (inside, -0.75) * by);
  current (c, 0, 1, quotient (across, ohm));
}

/* A meter's test current: out of plus, less and less from nine tenths of its own voltage on, and taken back above that. */
static void
source (Chip *c)
{
  const double *p = c->e->p;
  Dual across = minus (node_voltage (c, 0), node_voltage (c, 1));
  Dual left = careful (c, 0, times (above (across, p[1]), -1 / (0.1 * p[1])));
  current (c, 1, 0, times (rises_to_one (left), p[0]));
}

void
ml_truth_chip_assemble (Assembly *a, MlTruthElement *e)
{
  Chip c = { a, e, { 0 } };
  switch (e->law)
    {
    case ML_LAW_AMPLIFIER: amplifier (&c); break;
    case ML_LAW_COMPARATOR: comparator (&c); break;
    case ML_LAW_SHUNT: shunt (&c); break;
    case ML_LAW_COUPLER: coupler (&c); break;
    case ML_LAW_CONVERTER: converter (&c); break;
    case ML_LAW_VARISTOR: varistor (&c); break;
    case ML_LAW_SOURCE: source (&c); break;
    case ML_LAW_FILAMENT: filament (&c); break;
    default: break;
    }
}

gboolean
ml_truth_chip_is_undecided (const MlTruthElement *e)
{
  return e->law == ML_LAW_COMPARATOR && fabs (e->held[0]) < 4;
}
