/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/second-laws.h"

#include <math.h>
#include <string.h>

/* k/q of the SI of 2019 times 298.15 K */
static const long double vt = 1.380649e-23L / 1.602176634e-19L * 298.15L;

/* ---- common ---- */

static long double
soft (long double x, long double width)
{
  long double u = x / width;
  return width * (u > 0 ? u + log1pl (expl (-u)) : log1pl (expl (u)));
}

static long double
logistic (long double t)
{
  return t > 0 ? 1 / (1 + expl (-t)) : expl (t) / (1 + expl (t));
}

/* saturation (exp (v / n_vt) - 1), a straight line from 1 kA on: no real junction gets there, and exp would leave the range of numbers. */
static long double
exponential (long double v, long double saturation, long double n_vt)
{
  long double top = n_vt * logl (1000 / saturation);
  return v > top ? 1000 * (1 + (v - top) / n_vt) - saturation : saturation * expm1l (v / n_vt);
}

/* Shockley 1949 with a series resistance: the junction voltage w of w + r i(w) = v. The left side is convex, so that Newton started above
 * the root comes down to it. */
static long double
junction (long double v, long double saturation, long double n_vt, long double r)
{
  if (r == 0)
    return exponential (v, saturation, n_vt);
  long double w = v > 0 ? fminl (v, n_vt * log1pl (v / (r * saturation))) : v;
  for (int k = 0; k < 100; k++)
    {
      long double e = saturation * expm1l (w / n_vt), step = (w + r * e - v) / (1 + r * (e + saturation) / n_vt);
      w -= step;
      if (fabsl (step) < 1e-18L * (1e-3L + fabsl (w)))
        break;
    }
  /* where the current is small it is better taken from the junction, else from the resistance */
  long double by_junction = saturation * expm1l (w / n_vt);
  return fabsl (by_junction) * r < n_vt ? by_junction : (v - w) / r;
}

/* The saturation current of a junction that has `drop` at `at`, series resistance included. */
static long double
saturation_of (long double drop, long double at, long double n_vt, long double r)
{
  return at / expm1l (soft (drop - at * r, 0.01L) / n_vt);
}

static long double
through (long double v, long double drop, long double at, long double ideality, long double r)
{
  return junction (v, saturation_of (drop, at, ideality * vt, r), ideality * vt, r);
}

static void
flow (long double *f, int from, int to, long double i)
{
  f[from] += i;
  f[to] -= i;
}

/* ---- two pins ---- */

static void
resistor (const double *p, unsigned open, const long double *x, long double *f)
{
  flow (f, 0, 1, open ? 0 : (x[0] - x[1]) / p[0]);
}

static void
thermistor (const double *p, unsigned open, const long double *x, long double *f)
{
  flow (f, 0, 1, open ? 0 : (x[0] - x[1]) / (p[0] * expl (p[1] * (1 / (long double) p[2] - 1 / 298.15L))));
}

/* Ohm's law with the branch current as an unknown, or no current. */
static void
branch (long double *f, const long double *x, int a, int b, int j, bool closed, long double ohm)
{
  flow (f, a, b, x[j]);
  f[j] = closed ? x[a] - x[b] - ohm * x[j] : x[j];
}

static void
link (const double *p, unsigned open, const long double *x, long double *f)
{
  branch (f, x, 0, 1, 2, !open && isfinite (p[0]), p[0]);
}

static void
switched (const double *p, unsigned open, const long double *x, long double *f)
{
  branch (f, x, 0, 1, 2, !open && p[1] > 0.5, p[0] + p[2]);
}

static void
diode (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1];
  flow (f, 0, 1, open ? 0 : through (v, p[0], p[1], p[2], p[3]) + v / p[4]);
}

static void
zener (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1];
  flow (f, 0, 1, open ? 0 : through (v, p[4], p[5], 1.7L, 0) - through (-v, p[0], p[1], p[2], p[3]) + v / p[6]);
}

static void
tvs (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1];
  flow (f, 0, 1, open ? 0 : through (v, p[0], 1e-3L, 5, 0.3L) - through (-v, p[0], 1e-3L, 5, 0.3L) + v / 1e9L);
}

/* A filament whose resistance goes from a tenth of the hot one, cold, as (c^4 + (1 - c^4) u^2)^(1/4). */
static void
lamp (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1], u = v / p[0], hot = (long double) p[0] * p[0] / p[1];
  flow (f, 0, 1, open ? 0 : v / (hot * sqrtl (sqrtl (1e-4L + (1 - 1e-4L) * u * u))));
}

static void
varistor (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1], u = fabsl (v) / p[0], top = powl (1e6L, 1 / 30.0L);
  long double i = u < top ? 1e-3L * powl (u, 30) : 1e3L * (1 + 30 * (u - top) / top);
  flow (f, 0, 1, open ? 0 : copysignl (i, v) + v / 1e9L);
}

static void
battery (const double *p, unsigned open, const long double *x, long double *f)
{
  flow (f, 0, 1, x[2]);
  f[2] = open ? x[2] : x[0] - x[1] - p[0] - p[1] * x[2];
}

static long double
knee (long double u)
{
  return u > 30 ? expl (30) * (u - 29) : expl (u);
}

static void
supply (const double *p, unsigned open, const long double *x, long double *f)
{
  long double s = -x[2], w = p[1] / 500.0L, scale = fabsl ((long double) p[0]) + 0.1L;
  flow (f, 0, 1, x[2]);
  f[2] = x[0] - x[1] - p[0] + scale * (knee ((s - p[1]) / w) - knee ((-s - p[1]) / w)) + 1e-9L * scale / p[1] * s;
}

static void
load_current (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1];
  flow (f, 0, 1, p[0] * (tanhl (v / 0.05L) + 1e-6L * v));
}

static void
current_source (const double *p, unsigned open, const long double *x, long double *f)
{
  flow (f, 0, 1, p[0]);
}

/* ---- three pins and more ---- */

static long double
above (long double v, long double width)
{
  return v > 0 ? tanhl (v * v / (width * width)) : 0;
}

static void
chopped (const double *p, unsigned open, const long double *x, long double *f)
{
  flow (f, 0, 1, open ? 0 : p[0] * above (x[0] + p[2] - x[2], p[3]) * above (x[3] + p[1] - x[1], p[3]) + (x[0] - x[1]) / 1e9L);
}

static void
changeover (const double *p, unsigned open, const long double *x, long double *f)
{
  branch (f, x, 0, 1, 3, !(open & 1u) && p[1] < 0.5, p[0] + p[2]);
  branch (f, x, 0, 2, 4, !(open & 2u) && p[1] > 0.5 && p[1] < 1.5, p[0] + p[3]);
}

/* common no nc: coil pulled in joins common to no */
static void
contact (const double *p, unsigned open, const long double *x, long double *f)
{
  branch (f, x, 0, 1, 3, !(open & 1u) && p[1] > 0.5, p[0] + p[2]);
  branch (f, x, 0, 2, 4, !(open & 2u) && p[1] <= 0.5, p[0] + p[3]);
}

static void
potentiometer (const double *p, unsigned open, const long double *x, long double *f)
{
  long double share = fminl (fmaxl (p[1], 1e-4), 1.0 - 1e-4);
  flow (f, 0, 2, open & 1u ? 0 : (x[0] - x[2]) / (p[0] * share));
  flow (f, 2, 1, open & 2u ? 0 : (x[2] - x[1]) / (p[0] * (1 - share)));
}

static void
bridge (const double *p, unsigned open, const long double *x, long double *f)
{
  static const int ends[4][2] = { { 0, 2 }, { 1, 2 }, { 3, 0 }, { 3, 1 } };
  for (int k = 0; k < 4; k++)
    {
      long double v = x[ends[k][0]] - x[ends[k][1]];
      flow (f, ends[k][0], ends[k][1], open & 1u << k ? 0 : through (v, p[0], p[1], p[2], p[3]) + v / p[4]);
    }
}

/* Ebers and Moll 1954 in transport form with Early 1952. */
static void
bipolar (const double *p, unsigned open, const long double *x, long double *f, int sign)
{
  long double vbe = sign * (x[1] - x[2]), vbc = sign * (x[1] - x[0]), vcb = (sqrtl (vbc * vbc + 0.01L) - vbc) / 2;
  long double forward = exponential (vbe, p[0], vt), reverse = exponential (vbc, p[0], vt);

  flow (f, 1, 2, open & 1u ? 0 : sign * (forward / p[1] + vbe / (100 * p[5])));
  flow (f, 1, 0, open & 2u ? 0 : sign * (reverse / p[2] + vbc / (100 * p[5])));
  flow (f, 0, 2, open ? 0 : sign * ((forward - reverse) * (1 + vcb / p[3]) + (vbe - vbc) / p[5]));
}

static void
npn (const double *p, unsigned open, const long double *x, long double *f)
{
  bipolar (p, open, x, f, p[4] < 0 ? -1 : 1);
}

static void
pnp (const double *p, unsigned open, const long double *x, long double *f)
{
  bipolar (p, open, x, f, p[4] < 0 ? 1 : -1);
}

/* Enz, Krummenacher, Vittoz 1995 with slope factor 1. */
static long double
channel (long double k, long double threshold, long double vgs, long double vgd)
{
  long double s = soft (vgs - threshold, 2 * vt), d = soft (vgd - threshold, 2 * vt);
  return k * (s - d) * (s + d);
}

static void
mos (const double *p, unsigned open, const long double *x, long double *f, int sign)
{
  long double back = sign * (x[2] - x[0]);
  flow (f, 0, 2, open ? 0 : sign * channel (p[1], p[0], sign * (x[1] - x[2]), sign * (x[1] - x[0])));
  flow (f, 2, 0, sign * (through (back, 0.75L, 10e-3L, 1.2L, 0.1L) + back / p[2]));
}

static void
nmos (const double *p, unsigned open, const long double *x, long double *f)
{
  mos (p, open, x, f, 1);
}

static void
pmos (const double *p, unsigned open, const long double *x, long double *f)
{
  mos (p, open, x, f, -1);
}

static void
jfet (const double *p, unsigned open, const long double *x, long double *f, int sign)
{
  long double vgs = sign * (x[1] - x[2]), vgd = sign * (x[1] - x[0]);
  flow (f, 0, 2, open & 1u ? 0 : sign * channel (p[0] / ((long double) p[1] * p[1]), -p[1], vgs, vgd));
  flow (f, 1, 2, open & 2u ? 0 : sign * (through (vgs, 0.7L, 1e-3L, 1, 1) + vgs / p[2]));
  flow (f, 1, 0, open & 4u ? 0 : sign * (through (vgd, 0.7L, 1e-3L, 1, 1) + vgd / p[2]));
}

static void
njfet (const double *p, unsigned open, const long double *x, long double *f)
{
  jfet (p, open, x, f, 1);
}

static void
pjfet (const double *p, unsigned open, const long double *x, long double *f)
{
  jfet (p, open, x, f, -1);
}

static void
opto (const double *p, unsigned open, const long double *x, long double *f)
{
  long double v = x[0] - x[1], vce = x[2] - x[3], i = 0;
  if (!(open & 1u))
    {
      i = through (v, p[0], p[1], p[2], 0.012L * p[0] / p[1]);
      flow (f, 0, 1, i + v / 1e10L);
    }
  flow (f, 2, 3, open & 2u ? 0 : p[3] * soft (i, 1e-9L) * tanhl (vce / 0.1L) + vce / p[4]);
}

/* cathode anode reference */
static void
shunt (const double *p, unsigned open, const long double *x, long double *f)
{
  long double u = x[0] - x[1], over = x[2] - x[1] - p[0], w = soft (u - p[3], 0.02L);
  long double i = p[2] * logistic ((over + 0.1L) / 0.02L) + soft (over / p[1], p[2] / 5.0L);
  flow (f, 0, 1, (open ? 0 : i * w / (w + 0.05L)) + u / 1e8L - through (-u, 0.7L, 10e-3L, 1.2L, 0.5L));
}

static long double
drawn (long double quiescent, long double u)
{
  return quiescent * (u / sqrtl (u * u + 1) + 1e-6L * u);
}

static void
regulated (const double *p, unsigned open, const long double *x, long double *f)
{
  long double u = x[0] - x[2], v = x[1] - x[2], aim = p[0] - soft (p[0] + p[1] - u, 5e-3L);
  flow (f, 0, 1, open ? 0 : p[3] * logistic ((aim - v) / 0.2e-3L));
  flow (f, 0, 2, drawn (p[2], u));
  flow (f, 1, 2, v / 1e8L);
}

static void
regulator (const double *p, unsigned open, const long double *x, long double *f)
{
  long double u = x[0] - x[2];
  regulated (p, open, x, f);
  flow (f, 1, 2, open ? 0 : 1e-6L * (x[1] - x[2]) * u * u / (u * u + 1));
  flow (f, 2, 0, through (x[2] - x[0], 0.7L, 10e-3L, 1.2L, 0.5L));
}

static void
converter (const double *p, unsigned open, const long double *x, long double *f)
{
  long double u = x[0] - x[2], v = x[1] - x[2];
  long double out = open ? 0 : p[2] * logistic ((u - p[3]) / 0.05L) * logistic ((p[0] - v) / 0.2e-3L);
  f[1] -= out;
  f[2] += out;
  flow (f, 0, 2, out * soft (v, 0.01L) / (p[1] * sqrtl (u * u + 1e-4L)) + drawn (p[4], u));
  flow (f, 1, 2, v / 1e8L);
}

enum { PLUS, MINUS, OUT, POSITIVE, NEGATIVE };

static void
amplifier_common (long double quiescent, long double bias, long double leakage, bool upper, const long double *x, long double *f)
{
  for (int k = PLUS; k <= MINUS; k++)
    {
      long double h = bias > 0 ? x[POSITIVE] - x[k] : x[k] - x[NEGATIVE], shut = expl (-13);
      long double share = h > 0 ? (1 - expl (-h / 0.1L)) / (1 + expl ((1.3L - h) / 0.1L)) : expm1l (h / 0.1L) * shut / (1 + shut * expl (h / 0.1L));
      flow (f, bias > 0 ? POSITIVE : k, bias > 0 ? k : NEGATIVE, fabsl (bias) * share);
      flow (f, k, NEGATIVE, (x[k] - x[NEGATIVE]) / 1e10L);
    }
  flow (f, POSITIVE, NEGATIVE, drawn (quiescent, x[POSITIVE] - x[NEGATIVE]));
  flow (f, OUT, NEGATIVE, (x[OUT] - x[NEGATIVE]) / leakage);
  flow (f, NEGATIVE, POSITIVE, through (x[NEGATIVE] - x[POSITIVE], 0.7L, 10e-3L, 1.2L, 5));
  flow (f, NEGATIVE, OUT, through (x[NEGATIVE] - x[OUT], 0.7L, 10e-3L, 1.2L, 5));
  if (upper)
    flow (f, OUT, POSITIVE, through (x[OUT] - x[POSITIVE], 0.7L, 10e-3L, 1.2L, 5));
}

static void
opamp (const double *p, unsigned open, const long double *x, long double *f)
{
  long double u = x[POSITIVE] - x[NEGATIVE], d = x[PLUS] - x[MINUS] + p[0];
  long double middle = (p[2] + u - p[1]) / 2, half = 1e-3L + soft ((u - p[1] - p[2]) / 2, 0.05L);
  long double aim = middle + half * tanhl (p[4] * d / half), on = logistic ((u - p[1] - p[2] - 0.6L) / 0.04L);
  long double j = (aim - (x[OUT] - x[NEGATIVE])) / p[5], up = soft (j, 1e-4L);

  amplifier_common (p[3], p[6], 1e9L, true, x, f);
  flow (f, POSITIVE, OUT, open ? 0 : on * up);
  flow (f, OUT, NEGATIVE, open ? 0 : on * soft (-j, 1e-4L));
}

static void
comparator (const double *p, unsigned open, const long double *x, long double *f)
{
  long double u = x[POSITIVE] - x[NEGATIVE], d = (x[PLUS] - x[MINUS] + p[0]) / 0.2e-3L, v = x[OUT] - x[NEGATIVE];
  long double on = open ? 0 : logistic ((u - 1.5L) / 0.05L), steep = 5 / (20 * (long double) p[1]);

  amplifier_common (p[2], p[4], p[5], p[3] > 1e-6, x, f);
  flow (f, OUT, NEGATIVE, on * logistic (-d) * 20e-3L * tanhl (v * steep));
  flow (f, POSITIVE, OUT, on * logistic (d) * p[3] * tanhl ((u - v) * steep));
}

static void
latching (const double *p, unsigned open, const long double *x, long double *f, int a, int b, bool two_way)
{
  long double v = x[a] - x[b], g = x[2] - x[b], drop = p[2];

  if (!(open & 1u))
    {
      flow (f, a, b, v / p[4]);
      if (p[3] > 0)
        flow (f, a, b, p[3] * (through (v, drop, 1, 1.5L, 0.1L * drop) - (two_way ? through (-v, drop, 1, 1.5L, 0.1L * drop) : 0)));
    }
  if (!(open & 2u))
    flow (f, 2, b, g / 1e5L + through (g, 0.7L, 1e-3L, 1.5L, 5) - (two_way ? through (-g, 0.7L, 1e-3L, 1.5L, 5) : 0));
}

static void
thyristor (const double *p, unsigned open, const long double *x, long double *f)
{
  latching (p, open, x, f, 0, 1, false);
}

static void
triac (const double *p, unsigned open, const long double *x, long double *f)
{
  latching (p, open, x, f, 1, 0, true);
}

/* ---- the table ---- */

typedef void (*Law) (const double *p, unsigned open, const long double *x, long double *f);

static const MlSecondKind kinds[] = {
  { "resistor", 2, 0, 1 }, { "capacitor", 2, 0, 1 }, { "thermistor", 2, 0, 3 }, { "link", 2, 1, 1 }, { "inductor", 2, 1, 1 }, { "fuse", 2, 1, 1 },
  { "coil", 2, 1, 3 }, { "switch", 2, 1, 3 }, { "diode", 2, 0, 5 }, { "led", 2, 0, 5 }, { "zener", 2, 0, 7 }, { "tvs", 2, 0, 1 }, { "lamp", 2, 0, 2 },
  { "varistor", 2, 0, 1 }, { "battery", 2, 1, 2 }, { "supply", 2, 1, 2 }, { "load-current", 2, 0, 1 }, { "current-source", 2, 0, 1 },
  { "changeover", 3, 2, 4 }, { "contact", 3, 2, 4 }, { "potentiometer", 3, 0, 2 }, { "bridge", 4, 0, 5 }, { "npn", 3, 0, 6 }, { "pnp", 3, 0, 6 },
  { "nmos", 3, 0, 3 }, { "pmos", 3, 0, 3 }, { "njfet", 3, 0, 3 }, { "pjfet", 3, 0, 3 }, { "opto", 4, 0, 5 }, { "shunt", 3, 0, 4 },
  { "regulator", 3, 0, 4 }, { "adjustable", 3, 0, 4 }, { "converter", 3, 0, 5 }, { "opamp", 5, 0, 7 }, { "comparator", 5, 0, 6 },
  { "thyristor", 3, 0, 5 }, { "triac", 3, 0, 5 },
  { "chopped-current", 4, 0, 4 },
};
static const Law laws[] = {
  resistor, resistor, thermistor, link, link, link, link, switched, diode, diode, zener, tvs, lamp, varistor, battery, supply, load_current,
  current_source, changeover, contact, potentiometer, bridge, npn, pnp, nmos, pmos, njfet, pjfet, opto, shunt, regulator, regulated, converter,
  opamp, comparator, thyristor, triac, chopped,
};
#define N_KINDS ((int) (sizeof kinds / sizeof kinds[0]))
_Static_assert (sizeof kinds / sizeof kinds[0] == sizeof laws / sizeof laws[0], "a law for each kind");

const MlSecondKind *
ml_second_kind_find (const char *word)
{
  for (int k = 0; k < N_KINDS; k++)
    if (strcmp (kinds[k].word, word) == 0)
      return &kinds[k];
  return NULL;
}

void
ml_second_law (const MlSecondKind *kind, const double *p, unsigned open, const long double *x, long double *f)
{
  for (int k = 0; k < kind->n_pins + kind->n_inner; k++)
    f[k] = 0;
  laws[kind - kinds] (p, open, x, f);
}

bool
ml_second_stays (const MlSecondKind *kind, const double *p, const double *coil, double coil_v, const long double *x, const long double *f)
{
  const double slack = 1e-6; /* of a state that is just about to change neither answer is wrong */
  bool on;

  if (strcmp (kind->word, "contact") == 0)
    return !coil || (p[1] > 0.5 ? coil_v >= coil[2] * (1 - slack) : coil_v <= coil[1] * (1 + slack));
  on = p[3] > 0.5;
  if (p[3] > 0 && p[3] < 1) /* in balance: just about to fire */
    {
      long double gate = strcmp (kind->word, "thyristor") == 0 ? f[2] : fabsl (f[2]);
      long double v = strcmp (kind->word, "thyristor") == 0 ? x[0] - x[1] : fabsl (x[1] - x[0]);
      return fabsl (gate / p[0] - 1) < 1e-3L || fabsl (v - 0.5L) < 1e-3L;
    }
  if (strcmp (kind->word, "thyristor") == 0)
    return on ? f[0] >= p[1] * (1 - slack) || (f[2] >= p[0] * (1 - slack) && f[0] >= -1e-12L)
              : f[2] <= p[0] * (1 + slack) || x[0] - x[1] <= 0.5L * (1 + slack);
  return on ? fabsl (f[1]) >= p[1] * (1 - slack) || fabsl (f[2]) >= p[0] * (1 - slack)
            : fabsl (f[2]) <= p[0] * (1 + slack) || fabsl (x[1] - x[0]) <= 0.5L * (1 + slack);
}
