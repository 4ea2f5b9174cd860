/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random circuits, healthy and with faults, against device laws written a second time, straight from their sources: Kirchhoff's
 * law is put together anew, in long double, with series resistances solved by bisection, and one dense Newton correction by LAPACK from
 * the engine's voltages says how far they are from the solution of these equations (Kantorovich). */
#include "nodal/kit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <lapacke.h>

#define MOST_NETS 40
#define MOST_DEVICES 90

/* k/q of the SI of 2019 times 298.15 K */
static const long double vt = 1.380649e-23L / 1.602176634e-19L * 298.15L;

typedef enum { RESISTOR, DIODE, LED, ZENER, NPN, PNP, NMOS, PMOS, BRIDGE, LAMP, N_LAWS } Law;
static const char *const words[N_LAWS] = { "resistor", "diode", "led", "zener", "npn", "pnp", "nmos", "pmos", "bridge", "lamp" };
static const int n_pins[N_LAWS] = { 2, 2, 2, 2, 3, 3, 3, 3, 4, 2 };

typedef struct
{
  Law law;
  int net[4];
  double p[8];
} Part;

typedef struct
{
  int n_nets, n_parts;
  double supply_v;
  Part parts[MOST_DEVICES];
  /* the fault: a resistance between two pins of a part, or between a pin and its net (then one more unknown) */
  int bridged, bridge_a, bridge_b, joint, joint_pin;
  double ohm;
} Circuit;

/* saturation (exp (v / n_vt) - 1), a straight line from 1 kA on: no real junction gets there, and exp would leave the range of numbers. */
static long double
exponential (long double v, long double saturation, long double n_vt)
{
  long double top = n_vt * logl (1000 / saturation);
  return v > top ? 1000 * (1 + (v - top) / n_vt) - saturation : saturation * expm1l (v / n_vt);
}

/* Shockley 1949 with a series resistance: the junction voltage w by bisection of w + r i(w) = v. */
static long double
junction (long double v, long double saturation, long double n_vt, long double r)
{
  long double low = fminl (v, 0), high = fmaxl (v, 0);

  if (r == 0)
    return exponential (v, saturation, n_vt);
  for (int k = 0; k < 200; k++)
    {
      long double w = (low + high) / 2;
      if (w + r * saturation * expm1l (w / n_vt) > v)
        high = w;
      else
        low = w;
    }
  long double w = (low + high) / 2;
  /* where the current is small it is better taken from the junction, else from the resistance */
  long double by_junction = saturation * expm1l (w / n_vt);
  return fabsl (by_junction) * r < n_vt ? by_junction : (v - w) / r;
}

/* Through the data-sheet point. */
static long double
saturation_of (long double drop, long double at, long double n_vt, long double r)
{
  return at / expm1l ((drop - at * r) / n_vt);
}

static long double
diode (const double *p, long double v)
{
  long double n_vt = p[2] * vt;
  return junction (v, saturation_of (p[0], p[1], n_vt, p[3]), n_vt, p[3]) + v / p[4];
}

static long double
zener (const double *p, long double v)
{
  long double forward_vt = 1.7L * vt, back_vt = p[2] * vt;
  return junction (v, saturation_of (p[4], p[5], forward_vt, 0), forward_vt, 0)
         - junction (-v, saturation_of (p[0], p[1], back_vt, p[3]), back_vt, p[3]) + v / p[6];
}

/* Ebers and Moll 1954 with Early 1952; currents into collector and base. */
static void
bipolar (const double *p, long double vbe, long double vbc, long double *ret_c, long double *ret_b)
{
  long double vcb = (sqrtl (vbc * vbc + 0.01L) - vbc) / 2;
  long double f = exponential (vbe, p[0], vt), r = exponential (vbc, p[0], vt);
  long double be = f / p[1] + vbe / 1e12L, bc = r / p[2] + vbc / 1e12L;

  *ret_c = (f - r) * (1 + vcb / p[3]) - bc + (vbe - vbc) / 1e10L;
  *ret_b = be + bc;
}

static long double
log_one_plus_exp (long double x)
{
  return x > 0 ? x + log1pl (expl (-x)) : log1pl (expl (x));
}

/* Enz, Krummenacher, Vittoz 1995 with slope factor 1; drain to source. */
static long double
channel (const double *p, long double vgs, long double vgd)
{
  long double s = 2 * vt * log_one_plus_exp ((vgs - p[0]) / (2 * vt)), d = 2 * vt * log_one_plus_exp ((vgd - p[0]) / (2 * vt));
  long double body_vt = 1.2L * vt, vds = vgs - vgd;
  return p[1] * (s * s - d * d) - junction (-vds, saturation_of (0.75L, 10e-3L, body_vt, 0.1L), body_vt, 0.1L) + vds / 1e10L;
}

static void
part_currents (const Part *part, const long double *v, long double *i)
{
  long double sign = part->law == PNP || part->law == PMOS ? -1 : 1, c, b, u;
  static const int bridge[4][2] = { { 0, 2 }, { 1, 2 }, { 3, 0 }, { 3, 1 } };

  for (int k = 0; k < 4; k++)
    i[k] = 0;
  switch (part->law)
    {
    case RESISTOR:
      i[0] = (v[0] - v[1]) / part->p[0];
      break;
    case DIODE:
    case LED:
      i[0] = diode (part->p, v[0] - v[1]);
      break;
    case ZENER:
      i[0] = zener (part->p, v[0] - v[1]);
      break;
    case LAMP:
      u = (v[0] - v[1]) / part->p[0];
      i[0] = (v[0] - v[1]) * part->p[1] / (part->p[0] * part->p[0]) / powl (1e-4L + (1 - 1e-4L) * u * u, 0.25L);
      break;
    case NPN:
    case PNP:
      bipolar (part->p, sign * (v[1] - v[2]), sign * (v[1] - v[0]), &c, &b);
      i[0] = sign * c;
      i[1] = sign * b;
      i[2] = -sign * (c + b);
      return;
    case NMOS:
    case PMOS:
      i[0] = sign * channel (part->p, sign * (v[1] - v[2]), sign * (v[1] - v[0]));
      i[2] = -i[0];
      return;
    case BRIDGE:
      for (int k = 0; k < 4; k++)
        {
          long double a = diode (part->p, v[bridge[k][0]] - v[bridge[k][1]]);
          i[bridge[k][0]] += a;
          i[bridge[k][1]] -= a;
        }
      return;
    case N_LAWS:
      break;
    }
  i[1] = -i[0];
}

/* v[0] the reference, v[1] the supply, v[n_nets + 1] the metal behind the joint. f[k]: what leaves node k into parts. */
static void
kirchhoff (const Circuit *circuit, const long double *v, long double *f, long double *size)
{
  int n = circuit->n_nets + 2;

  for (int k = 0; k < n; k++)
    f[k] = size[k] = 0;
  for (int d = 0; d < circuit->n_parts; d++)
    {
      const Part *part = &circuit->parts[d];
      long double at[4], i[4];
      int node[4];
      for (int k = 0; k < n_pins[part->law]; k++)
        {
          node[k] = d == circuit->joint && k == circuit->joint_pin ? n - 1 : part->net[k];
          at[k] = v[node[k]];
        }
      part_currents (part, at, i);
      if (d == circuit->bridged)
        {
          long double a = (at[circuit->bridge_a] - at[circuit->bridge_b]) / circuit->ohm;
          i[circuit->bridge_a] += a;
          i[circuit->bridge_b] -= a;
        }
      for (int k = 0; k < n_pins[part->law]; k++)
        {
          f[node[k]] += i[k];
          size[node[k]] += fabsl (i[k]);
        }
    }
  if (circuit->joint >= 0)
    {
      int solder = circuit->parts[circuit->joint].net[circuit->joint_pin];
      long double a = (v[solder] - v[n - 1]) / circuit->ohm;
      f[solder] += a;
      f[n - 1] -= a;
      size[solder] += fabsl (a);
      size[n - 1] += fabsl (a);
    }
}

static void
draw (Circuit *circuit, Kit *kit, unsigned long *seed)
{
  memset (circuit, 0, sizeof *circuit);
  circuit->n_nets = 3 + (int) (kit_random (seed) * (MOST_NETS - 3));
  circuit->n_parts = circuit->n_nets + (int) (kit_random (seed) * circuit->n_nets);
  circuit->supply_v = 3 + 20 * kit_random (seed);
  kit_begin (kit, circuit->n_nets);
  kit_add (kit, "battery", NETS (1, 0), "voltage", circuit->supply_v, "resistance", 0.0, NULL);
  for (int d = 0; d < circuit->n_parts; d++)
    {
      Part *part = &circuit->parts[d];
      double u = kit_random (seed);
      /* first a tree of resistors and diodes that ties every net down, then anything */
      part->law = d < circuit->n_nets - 1 ? (u < 0.8 ? RESISTOR : DIODE) : u < 0.25 ? RESISTOR : (Law) (kit_random (seed) * N_LAWS);
      const MlNodalType *type = ml_nodal_type_find (words[part->law]);
      for (int p = 0; p < ml_nodal_type_n_parameters (type); p++)
        {
          bool fixed = strcmp (ml_nodal_type_parameter (type, p), "drop") == 0 || strcmp (ml_nodal_type_parameter (type, p), "ideality") == 0
                       || strcmp (ml_nodal_type_parameter (type, p), "forward") == 0;
          part->p[p] = ml_nodal_type_default (type, p) * (fixed ? 1 : pow (2, 2 * kit_random (seed) - 1));
        }
      if (part->law == RESISTOR)
        part->p[0] = pow (10, 2 + 4 * kit_random (seed));
      for (int k = 0; k < n_pins[part->law]; k++)
        part->net[k] = (int) (kit_random (seed) * (circuit->n_nets + 1));
      if (d < circuit->n_nets - 1)
        {
          part->net[0] = d + 2;
          part->net[1] = (int) (kit_random (seed) * (d + 2));
        }
      assert_true (ml_nodal_circuit_add_device (kit->circuit, type, part->net, part->p) == d + 1);
    }
  circuit->bridged = circuit->joint = -1;
  kit_ready (kit);
}

/* How far the engine is from the solution of the equations above: the largest Newton correction, in units of 1e-6 |v| + 1 uV. -1 when the
 * dense matrix is too ill-conditioned to say. */
static double
distance (const Circuit *circuit, const long double *v)
{
  static long double f[MOST_NETS + 2], moved[MOST_NETS + 2], size[MOST_NETS + 2], waste[MOST_NETS + 2], at[MOST_NETS + 2];
  static double a[MOST_NETS * MOST_NETS + 100], b[MOST_NETS + 2];
  lapack_int pivot[MOST_NETS + 2];
  int first = 2, n = circuit->n_nets + (circuit->joint >= 0 ? 2 : 1) - first;
  double worst = 0;

  kirchhoff (circuit, v, f, size);
  memcpy (at, v, sizeof at);
  for (int c = 0; c < n; c++)
    {
      long double h = 1e-9L;
      at[first + c] += h;
      kirchhoff (circuit, at, moved, waste);
      at[first + c] = v[first + c];
      for (int r = 0; r < n; r++)
        a[r * n + c] = (double) ((moved[first + r] - f[first + r]) / h);
    }
  for (int r = 0; r < n; r++)
    {
      /* rows to order one */
      double largest = 0;
      for (int c = 0; c < n; c++)
        largest = fmax (largest, fabs (a[r * n + c]));
      if (!(largest > 0))
        return -1;
      for (int c = 0; c < n; c++)
        a[r * n + c] /= largest;
      b[r] = (double) (-f[first + r] / largest);
    }
  if (LAPACKE_dgesv (LAPACK_ROW_MAJOR, n, 1, a, n, pivot, b, 1) != 0)
    return -1;
  for (int r = 0; r < n; r++)
    worst = fmax (worst, fabs (b[r]) / (1e-6 + 1e-6 * fabs ((double) v[first + r])));
  return worst;
}

static void
test_engine_agrees_with_laws_written_again (void **state)
{
  unsigned long seed = 77;
  const char *text = getenv ("METERLEAF_RANDOM_CIRCUITS");
  int rounds = text ? atoi (text) : 150, compared = 0, unsolved = 0, unclear = 0;
  double worst = 0;

  for (int round = 0; round < rounds; round++)
    {
      Circuit circuit;
      Kit kit;
      draw (&circuit, &kit, &seed);
      for (int fault = 0; fault < 5; fault++)
        {
          static long double v[MOST_NETS + 2];
          int d = (int) (kit_random (&seed) * circuit.n_parts), pins = n_pins[circuit.parts[d].law], a = (int) (kit_random (&seed) * pins);
          MlNodalChange change = { .device = d + 1, .index = a, .value = pow (10, 5 * kit_random (&seed)) };
          circuit.ohm = change.value;
          circuit.joint = fault == 1 || fault == 2 ? d : -1;
          circuit.joint_pin = a;
          circuit.bridged = fault > 2 ? d : -1;
          circuit.bridge_a = a;
          circuit.bridge_b = change.index_b = (a + 1) % pins;
          change.kind = fault > 2 ? ML_NODAL_BRIDGE_PINS : ML_NODAL_PIN_RESISTANCE;
          if (ml_nodal_solve (kit.solver, &change, fault > 0, fault > 0 ? &kit.at : NULL, &kit.at) < 0)
            {
              unsolved++;
              print_message ("round %d fault %d: %s, net %d device %d\n", round, fault, ml_nodal_status_text (kit.at.status), kit.at.failed_net,
                             kit.at.failed_device);
              continue;
            }
          for (int k = 0; k <= circuit.n_nets; k++)
            v[k] = kit.at.net_v[k];
          v[circuit.n_nets + 1] = circuit.joint >= 0 ? kit.at.metal_v[ml_nodal_circuit_first_pin (kit.circuit, d + 1) + a] : 0;
          bool floats = false;
          for (int k = 0; k <= circuit.n_nets; k++)
            floats = floats || kit.at.floating[k];
          double off = floats ? -1 : distance (&circuit, v);
          if (off < 0)
            unclear++;
          else
            {
              compared++;
              if (off > 1)
                print_message ("round %d fault %d: %g x (1e-6 |v| + 1 uV)\n", round, fault, off);
              worst = fmax (worst, off);
            }
        }
      kit_end (&kit);
    }
  print_message ("%d compared, %d unclear, %d unsolved; worst %.2g of 1e-6 |v| + 1 uV\n", compared, unclear, unsolved, worst);
  assert_true (compared >= 0.95 * (compared + unclear + unsolved));
  assert_true (worst <= 1);
  assert_true (unsolved * 1000 <= compared);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_engine_agrees_with_laws_written_again) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
