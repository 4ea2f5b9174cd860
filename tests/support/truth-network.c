/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/truth-assembly.h"

#include <string.h>

#define SURFACE_LEAK_S 1e-12 /* dirt and moisture of a board, from every node to the reference */
#define MOST_STEPS 150
#define CAPACITOR_OHM 0.01 /* in series with it: of two side by side each has its share */

void
ml_truth_network_init (MlTruthNetwork *network)
{
  network->elements = g_array_new (FALSE, TRUE, sizeof (MlTruthElement));
  network->n_nodes = 1;
  network->n_branches = 0;
}

void
ml_truth_network_clear (MlTruthNetwork *network)
{
  g_clear_pointer (&network->elements, g_array_unref);
}

int
ml_truth_network_node (MlTruthNetwork *network)
{
  return network->n_nodes++;
}

static int
nodes_of (MlTruthLaw law)
{
  static const int N[] = { 2, 2, 2, 3, 3, 2, 2, 2, 3, 4, 5, 5, 3, 4, 3, 2, 2, 4, 4 };
  return N[law];
}

static int
figures_of (MlTruthLaw law)
{
  static const int N[] = { 1, 3, 3, 6, 3, 2, 1, 2, 4, 3, 8, 7, 3, 3, 5, 2, 2, 2, 2 };
  return N[law];
}

int
ml_truth_network_add (MlTruthNetwork *network, MlTruthLaw law, const int *nodes, const double *figures)
{
  gboolean has_branch = law == ML_LAW_SUPPLY || law == ML_LAW_HELD || law == ML_LAW_WOUND;
  MlTruthElement element = { .law = law, .branch = has_branch ? network->n_branches++ : -1 };
  memcpy (element.node, nodes, nodes_of (law) * sizeof *nodes);
  memcpy (element.p, figures, figures_of (law) * sizeof *figures);
  g_array_append_val (network->elements, element);
  return network->elements->len - 1;
}

int
ml_truth_network_size (const MlTruthNetwork *network)
{
  return network->n_nodes - 1 + network->n_branches;
}

/* ---- laws ---- */

static void
resistor (Assembly *a, const MlTruthElement *e)
{
  double siemens = 1 / e->p[0];
  flow (a, e->node[0], e->node[1], (ml_truth_at (a->x, e->node[0]) - ml_truth_at (a->x, e->node[1])) * siemens);
  controlled (a, e->node[0], e->node[1], e->node[0], e->node[1], siemens);
}

/* W. Shockley 1949: i = Is (exp (v / n Vt) - 1), and a leak. Its series resistance is an element of its own. */
static void
junction (Assembly *a, MlTruthElement *e)
{
  double v = ml_truth_at (a->x, e->node[0]) - ml_truth_at (a->x, e->node[1]);
  double at = limited_voltage (a, v, &e->held[0], e->p[1], e->p[0]);
  double growth, exponential = bounded_exp (at / e->p[1], log (MOST_CURRENT_A / e->p[0]), &growth);
  double siemens = e->p[0] * growth / e->p[1] + 1 / e->p[2];
  flow (a, e->node[0], e->node[1], e->p[0] * (exponential - 1) + at / e->p[2] + siemens * (v - at));
  controlled (a, e->node[0], e->node[1], e->node[0], e->node[1], siemens);
}

/* Reverse breakdown: the stated current at the stated voltage, an exponential about it. */
static void
breakdown (Assembly *a, MlTruthElement *e)
{
  double v = ml_truth_at (a->x, e->node[1]) - ml_truth_at (a->x, e->node[0]) - e->p[0];
  double at = limited_voltage (a, v, &e->held[0], e->p[2], e->p[1]);
  double growth, exponential = bounded_exp (at / e->p[2], log (MOST_CURRENT_A / e->p[1]), &growth);
  double siemens = e->p[1] * growth / e->p[2];
  flow (a, e->node[1], e->node[0], e->p[1] * exponential + siemens * (v - at));
  controlled (a, e->node[1], e->node[0], e->node[1], e->node[0], siemens);
}

/* J. J. Ebers and J. L. Moll 1954 in transport form, with J. M. Early's 1952 effect on the transported current. */
static void
transistor (Assembly *a, MlTruthElement *e)
{
  double sign = e->p[5], vt = e->p[1], is = e->p[0];
  double vb = ml_truth_at (a->x, e->node[1]);
  double vbe = sign * (vb - ml_truth_at (a->x, e->node[2])), vbc = sign * (vb - ml_truth_at (a->x, e->node[0]));
  double be = limited_voltage (a, vbe, &e->held[0], vt, is), bc = limited_voltage (a, vbc, &e->held[1], vt, is);
  double most = log (MOST_CURRENT_A / is), growth_e, growth_c, early_slope;
  double forward = is * (bounded_exp (be / vt, most, &growth_e) - 1), reverse = is * (bounded_exp (bc / vt, most, &growth_c) - 1);
  double gf = is * growth_e / vt, gr = is * growth_c / vt;
  double early = 1 + softplus (-bc, 0.05, &early_slope) / e->p[4];
  early_slope /= -e->p[4];
  double carried = (forward - reverse) * early;
  double by_be = gf * early, by_bc = -gr * early + (forward - reverse) * early_slope;
  double base_e = forward / e->p[2], base_c = reverse / e->p[3];
  double dbe = vbe - be, dbc = vbc - bc;
  int c = e->node[0], b = e->node[1], em = e->node[2];
  flow (a, c, em, sign * (carried + by_be * dbe + by_bc * dbc));
  controlled (a, c, em, b, em, by_be);
  controlled (a, c, em, b, c, by_bc);
  flow (a, b, em, sign * (base_e + gf / e->p[2] * dbe));
  controlled (a, b, em, b, em, gf / e->p[2]);
  flow (a, b, c, sign * (base_c + gr / e->p[3] * dbc));
  controlled (a, b, c, b, c, gr / e->p[3]);
}

/* Square law of the insulated-gate transistor (C.-T. Sah 1964), in both directions, threshold rounded over 50 mV. */
static void
field_effect (Assembly *a, const MlTruthElement *e)
{
  double sign = e->p[2], d = sign * ml_truth_at (a->x, e->node[0]), g = sign * ml_truth_at (a->x, e->node[1]);
  double s = sign * ml_truth_at (a->x, e->node[2]), at_s, at_d;
  double us = softplus (g - s - e->p[0], 0.05, &at_s), ud = softplus (g - d - e->p[0], 0.05, &at_d);
  double k = e->p[1] / 2;
  flow (a, e->node[0], e->node[2], sign * k * (us * us - ud * ud));
  controlled (a, e->node[0], e->node[2], e->node[1], e->node[2], 2 * k * us * at_s);
  controlled (a, e->node[0], e->node[2], e->node[1], e->node[0], -2 * k * ud * at_d);
}

/* Constant voltage until the limit, then constant current: the complementary pair of what is missing of each (A. Fischer 1992). */
static void
supply (Assembly *a, const MlTruthElement *e)
{
  const double corner = 1e-3;
  int row = a->network->n_nodes - 1 + e->branch;
  double current = a->x[row];
  double v = ml_truth_at (a->x, e->node[0]) - ml_truth_at (a->x, e->node[1]);
  double lacks_v = a->supply_share - v / e->p[0], lacks_a = 1 - current / e->p[1];
  double root = sqrt (lacks_v * lacks_v + lacks_a * lacks_a + 2 * corner * corner);
  flow (a, e->node[1], e->node[0], current);
  if (e->node[0])
    a->jacobian[row * a->n + e->node[0] - 1] -= 1;
  if (e->node[1])
    a->jacobian[row * a->n + e->node[1] - 1] += 1;
  a->f[row] = lacks_v + lacks_a - root;
  double by_v = -(1 - lacks_v / root) / e->p[0];
  if (e->node[0])
    a->jacobian[(e->node[0] - 1) * a->n + row] += by_v;
  if (e->node[1])
    a->jacobian[(e->node[1] - 1) * a->n + row] -= by_v;
  a->jacobian[row * a->n + row] += -(1 - lacks_a / root) / e->p[1];
}

/* The row of a branch, its derivative to the voltage from one node to another. */
static void
row_slope (Assembly *a, int row, int plus, int minus, double by)
{
  if (plus)
    a->jacobian[(plus - 1) * a->n + row] += by;
  if (minus)
    a->jacobian[(minus - 1) * a->n + row] -= by;
}

/* A current of that many times the branch's own. */
static void
branch_flow (Assembly *a, int row, int from, int to, double times)
{
  flow (a, from, to, times * a->x[row]);
  if (from)
    a->jacobian[row * a->n + from - 1] += times;
  if (to)
    a->jacobian[row * a->n + to - 1] -= times;
}

/* Small ripple (Erickson and Maksimovic, Fundamentals of Power Electronics, ch. 2, from memory): a capacitor's charge and a coil's flux are the same
 * after each period. */
static void
between_phases (Assembly *a, const MlTruthElement *e)
{
  int row = a->network->n_nodes - 1 + e->branch;
  double duty = e->p[0], first = ml_truth_at (a->x, e->node[0]) - ml_truth_at (a->x, e->node[1]);
  double second = ml_truth_at (a->x, e->node[2]) - ml_truth_at (a->x, e->node[3]);
  gboolean held = e->law == ML_LAW_HELD;
  double by_first = held ? 1 : duty, by_second = held ? -1 : 1 - duty, by_current = held ? CAPACITOR_OHM / (1 - duty) : e->p[1];
  branch_flow (a, row, e->node[0], e->node[1], 1);
  branch_flow (a, row, e->node[2], e->node[3], held ? -duty / (1 - duty) : 1);
  a->f[row] = by_first * first + by_second * second - by_current * a->x[row];
  row_slope (a, row, e->node[0], e->node[1], by_first);
  row_slope (a, row, e->node[2], e->node[3], by_second);
  a->jacobian[row * a->n + row] -= by_current;
  for (guint k = 0; held && k < 4; k += 2) /* its leak */
    {
      flow (a, e->node[k], e->node[k + 1], (k ? second : first) / e->p[1]);
      controlled (a, e->node[k], e->node[k + 1], e->node[k], e->node[k + 1], 1 / e->p[1]);
    }
}

static void
sink (Assembly *a, const MlTruthElement *e)
{
  double v = ml_truth_at (a->x, e->node[0]) - ml_truth_at (a->x, e->node[1]), t = tanh (v / 0.1);
  flow (a, e->node[0], e->node[1], e->p[0] * t);
  controlled (a, e->node[0], e->node[1], e->node[0], e->node[1], e->p[0] * (1 - t * t) / 0.1);
}

/* Lets through what holds the output at the smaller of its voltage and the input less the dropout; never takes current back. */
static void
regulator (Assembly *a, MlTruthElement *e)
{
  const double inside_ohm = 0.02, width_v = 0.02, width_a = 5e-4;
  double ground = ml_truth_at (a->x, e->node[2]);
  double in = ml_truth_at (a->x, e->node[0]) - ground, out = ml_truth_at (a->x, e->node[1]) - ground;
  double by_in, gives, below;
  double target = e->p[0] - softplus (e->p[0] - (in - e->p[1]), width_v, &by_in); /* below the ground pin nothing is let through */
  double asked = (target - out) / inside_ohm, at = stepped (a, asked, &e->held[0], width_a, e->p[3]);
  double wanted = softplus (at, width_a, &gives);
  double room = softplus (e->p[3] - wanted, e->p[3] * 0.01, &below);
  double siemens = below * gives / inside_ohm, current = e->p[3] - room + siemens * inside_ohm * (asked - at);
  flow (a, e->node[0], e->node[1], current);
  controlled (a, e->node[0], e->node[1], e->node[0], e->node[2], siemens * by_in);
  controlled (a, e->node[0], e->node[1], e->node[1], e->node[2], -siemens);
  double root = sqrt (in * in + 1); /* its own current: there from about 1 V of input */
  flow (a, e->node[0], e->node[2], e->p[2] * in / root);
  controlled (a, e->node[0], e->node[2], e->node[0], e->node[2], e->p[2] / (root * root * root));
}

/* A chip's pin: a conductance that is there while the chip has its supply, and partly without. */
static void
gated (Assembly *a, const MlTruthElement *e)
{
  double powered = ml_truth_at (a->x, e->node[2]) - ml_truth_at (a->x, e->node[3]);
  double on = 1 / (1 + exp (-(powered - e->p[2]) / 0.05));
  double siemens = (e->p[1] + (1 - e->p[1]) * on) / e->p[0], v = ml_truth_at (a->x, e->node[0]) - ml_truth_at (a->x, e->node[1]);
  flow (a, e->node[0], e->node[1], siemens * v);
  controlled (a, e->node[0], e->node[1], e->node[0], e->node[1], siemens);
  controlled (a, e->node[0], e->node[1], e->node[2], e->node[3], v * (1 - e->p[1]) / e->p[0] * on * (1 - on) / 0.05);
}

static void
assemble_element (Assembly *a, MlTruthElement *e)
{
  switch (e->law)
    {
    case ML_LAW_RESISTOR: resistor (a, e); break;
    case ML_LAW_JUNCTION: junction (a, e); break;
    case ML_LAW_BREAKDOWN: breakdown (a, e); break;
    case ML_LAW_TRANSISTOR: transistor (a, e); break;
    case ML_LAW_FET: field_effect (a, e); break;
    case ML_LAW_SUPPLY: supply (a, e); break;
    case ML_LAW_SINK: sink (a, e); break;
    case ML_LAW_REGULATOR: regulator (a, e); break;
    case ML_LAW_GATED: gated (a, e); break;
    case ML_LAW_HELD: case ML_LAW_WOUND: between_phases (a, e); break;
    default: ml_truth_chip_assemble (a, e); break;
    }
}

static void
assemble (Assembly *a)
{
  memset (a->f, 0, a->n * sizeof *a->f);
  memset (a->scale, 0, a->n * sizeof *a->scale);
  memset (a->jacobian, 0, (gsize) a->n * a->n * sizeof *a->jacobian);
  a->limited = FALSE;
  for (int node = 1; node < a->network->n_nodes; node++)
    {
      leave (a, node, (SURFACE_LEAK_S + a->leak_s) * ml_truth_at (a->x, node));
      slope (a, node, node, SURFACE_LEAK_S + a->leak_s);
    }
  for (guint i = 0; i < a->network->elements->len; i++)
    assemble_element (a, &g_array_index (a->network->elements, MlTruthElement, i));
}

/* ---- Newton ---- */

static gboolean
small_residual (const Assembly *a)
{
  double largest = 0;
  for (int i = 0; i < a->n; i++)
    largest = MAX (largest, a->scale[i]);
  for (int i = 0; i < a->n; i++)
    if (!(fabs (a->f[i]) < 1e-11 + 1e-9 * largest))
      return FALSE;
  return TRUE;
}

/* One Newton step; TRUE in *ret_done when nothing moves any more. Steps of node voltages are cut at 20 V. */
static gboolean
step (Assembly *a, double *x, gboolean *ret_done)
{
  gboolean settled = small_residual (a) && !a->limited;
  if (LAPACKE_dgesv (LAPACK_COL_MAJOR, a->n, 1, a->jacobian, a->n, a->pivots, a->f, a->n) != 0)
    return FALSE;
  double longest = 0;
  for (int i = 0; i < a->n; i++)
    {
      if (!isfinite (a->f[i]))
        return FALSE;
      longest = MAX (longest, i < a->network->n_nodes - 1 ? fabs (a->f[i]) : 0);
    }
  double share = longest > 20 ? 20 / longest : 1;
  for (int i = 0; i < a->n; i++)
    {
      x[i] -= share * a->f[i];
      settled = settled && fabs (a->f[i]) < 1e-8 * (1 + fabs (x[i]));
    }
  *ret_done = settled;
  return TRUE;
}

static gboolean
newton (MlTruthNetwork *network, double *x, double leak_s, double supply_share, double gain_share)
{
  int n = ml_truth_network_size (network);
  g_autofree double *f = g_new (double, n), *scale = g_new (double, n), *jacobian = g_new (double, (gsize) n *n);
  g_autofree lapack_int *pivots = g_new (lapack_int, n);
  Assembly a = { network, n, x, f, jacobian, pivots, scale, leak_s, supply_share, gain_share, 2, FALSE };
  for (guint i = 0; i < MOST_STEPS; i++)
    {
      gboolean done;
      a.stride = i < 20 ? 2 : MAX (0.05, 2 * pow (0.9, i - 20.0)); /* what swings to and fro is caught between shorter steps */
      assemble (&a);
      if (!step (&a, x, &done))
        return FALSE;
      if (done)
        return TRUE;
    }
  return FALSE;
}

/* The junctions' held voltages start at what x says, cut to what a junction may have; a chip's drive stays where it was. */
static void
hold (MlTruthNetwork *network, const double *x)
{
  for (guint i = 0; i < network->elements->len; i++)
    {
      MlTruthElement *e = &g_array_index (network->elements, MlTruthElement, i);
      if (e->law == ML_LAW_SOURCE || (e->law >= ML_LAW_AMPLIFIER && e->law != ML_LAW_COUPLER))
        continue;
      double v0 = ml_truth_at (x, e->node[0]), v1 = ml_truth_at (x, e->node[1]), v2 = ml_truth_at (x, e->node[2]);
      e->held[0] = e->law == ML_LAW_TRANSISTOR ? e->p[5] * (v1 - v2) : e->law == ML_LAW_BREAKDOWN ? v1 - v0 - e->p[0] : v0 - v1;
      e->held[1] = e->law == ML_LAW_TRANSISTOR ? e->p[5] * (v1 - v0) : 0;
      if (e->law == ML_LAW_REGULATOR)
        e->held[0] = 0;
      e->held[0] = MIN (e->held[0], 4);
      e->held[1] = MIN (e->held[1], 1);
    }
}

static void
start_anew (MlTruthNetwork *network, double *x)
{
  memset (x, 0, ml_truth_network_size (network) * sizeof *x);
  for (guint i = 0; i < network->elements->len; i++)
    memset (g_array_index (network->elements, MlTruthElement, i).held, 0, sizeof (double[4]));
  hold (network, x);
}

static gboolean
with_less_leak (MlTruthNetwork *network, double *x, double first_leak_s, double gain_share)
{
  for (double leak = first_leak_s; leak > 1e-13; leak /= 10)
    if (!newton (network, x, leak, 1, gain_share))
      return FALSE;
  return newton (network, x, 0, 1, gain_share);
}

static gboolean
has_gain (const MlTruthNetwork *network)
{
  for (guint i = 0; i < network->elements->len; i++)
    if (g_array_index (network->elements, MlTruthElement, i).law == ML_LAW_AMPLIFIER
        || g_array_index (network->elements, MlTruthElement, i).law == ML_LAW_COMPARATOR)
      return TRUE;
  return FALSE;
}

static gboolean
with_more_gain (MlTruthNetwork *network, double *x)
{
  if (!with_less_leak (network, x, 1e-2, 1e-4))
    return FALSE;
  for (double gain = 3e-4; gain < 1; gain *= 3)
    if (!newton (network, x, 0, 1, gain))
      return FALSE;
  return newton (network, x, 0, 1, 1);
}

static gboolean
solve_some_state (MlTruthNetwork *network, double *x)
{
  hold (network, x);
  if (newton (network, x, 0, 1, 1))
    return TRUE;
  start_anew (network, x);
  if (with_less_leak (network, x, 1e-2, 1))
    return TRUE;
  start_anew (network, x);
  if (has_gain (network) && with_more_gain (network, x))
    return TRUE;
  start_anew (network, x);
  for (double share = 0.05; share < 1; share += 0.05)
    if (!newton (network, x, 1e-5, share, 1))
      return FALSE;
  return with_less_leak (network, x, 1e-5, 1);
}

/* x becomes a solution in which comparator i, let go, stays on the side where it was held; FALSE: there is none. */
static gboolean
stays_decided (MlTruthNetwork *network, guint i, int way, double *x)
{
  MlTruthElement *e = &g_array_index (network->elements, MlTruthElement, i);
  double held = e->held[0];
  e->forced = way;
  gboolean solved = solve_some_state (network, x);
  e->forced = 0;
  e->held[0] = 1e3 * way;
  if (solved && solve_some_state (network, x) && !ml_truth_chip_is_undecided (e))
    return TRUE;
  e->held[0] = held;
  return FALSE;
}

/* A comparator fed back to its noninverting input has a third solution halfway, where no real one stays: held low or high for a moment and let go,
 * it stays there if it can. */
static void
decide (MlTruthNetwork *network, double *x)
{
  int n = ml_truth_network_size (network);
  g_autofree double *tried = g_new (double, n);
  for (guint i = 0; i < network->elements->len; i++)
    for (int way = -1; way <= 1 && !g_array_index (network->elements, MlTruthElement, i).forced
                         && ml_truth_chip_is_undecided (&g_array_index (network->elements, MlTruthElement, i)); way += 2)
      {
        memcpy (tried, x, n * sizeof *x);
        if (stays_decided (network, i, way, tried))
          memcpy (x, tried, n * sizeof *x);
      }
}

gboolean
ml_truth_network_solve (MlTruthNetwork *network, double *x)
{
  if (solve_some_state (network, x))
    {
      decide (network, x);
      return TRUE;
    }
  for (guint i = 0; i < network->elements->len; i++) /* none was found from scratch: from a held comparator it may be */
    for (int way = -1; way <= 1 && g_array_index (network->elements, MlTruthElement, i).law == ML_LAW_COMPARATOR
                         && !g_array_index (network->elements, MlTruthElement, i).forced; way += 2)
      {
        start_anew (network, x);
        if (stays_decided (network, i, way, x))
          return TRUE;
      }
  return FALSE;
}

gboolean
ml_truth_network_factor (MlTruthNetwork *network, const double *x, MlTruthFactors *ret_factors)
{
  int n = ml_truth_network_size (network);
  g_autofree double *f = g_new (double, n), *scale = g_new (double, n);
  *ret_factors = (MlTruthFactors) { n, g_new (double, (gsize) n * n), g_new (int, n) };
  Assembly a = { network, n, x, f, ret_factors->jacobian, (lapack_int *) ret_factors->pivots, scale, 0, 1, 1, 2, FALSE };
  assemble (&a);
  if (LAPACKE_dgetrf (LAPACK_COL_MAJOR, n, n, a.jacobian, n, a.pivots) == 0)
    return TRUE;
  ml_truth_factors_clear (ret_factors);
  return FALSE;
}

void
ml_truth_factors_clear (MlTruthFactors *factors)
{
  g_clear_pointer (&factors->jacobian, g_free);
  g_clear_pointer (&factors->pivots, g_free);
}

double
ml_truth_factors_ohm (const MlTruthFactors *factors, int node_a, int node_b)
{
  g_autofree double *v = g_new0 (double, factors->n);
  if (node_a)
    v[node_a - 1] += 1;
  if (node_b)
    v[node_b - 1] -= 1;
  LAPACKE_dgetrs (LAPACK_COL_MAJOR, 'N', factors->n, 1, factors->jacobian, factors->n, (const lapack_int *) factors->pivots, v, factors->n);
  return ml_truth_at (v, node_a) - ml_truth_at (v, node_b);
}
