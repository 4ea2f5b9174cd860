/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every kind of device by itself: Kirchhoff's law over its pins, derivatives against finite differences, passivity, limits. */
#include "nodal/kit.h"

#include "nodal/device.h"
#include "nodal/junction.h"

#include <float.h>
#include <math.h>
#include <string.h>

typedef struct
{
  const MlNodalType *type;
  double parameters[ML_NODAL_MAX_PARAMETERS], derived[ML_NODAL_MAX_DERIVED];
  int n;
} Bench;

static Bench
bench (const char *word)
{
  Bench b = { 0 };

  b.type = kit_word_type (word, b.parameters);
  b.n = ml_nodal_type_n_local (b.type);
  assert_true (b.n <= ML_NODAL_MAX_LOCAL && b.type->n_derived <= ML_NODAL_MAX_DERIVED);
  b.type->prepare (b.parameters, b.derived);
  return b;
}

static void
evaluate (const Bench *b, unsigned open, const double *x, double *f, double *jacobian)
{
  memset (f, 0, (size_t) b->n * sizeof *f);
  memset (jacobian, 0, (size_t) (b->n * b->n) * sizeof *jacobian);
  b->type->eval (b->derived, open, x, f, jacobian);
}

/* A point within `volts`; a supply's current within its limit. */
static void
draw_point (const Bench *b, double volts, unsigned long *seed, double *x)
{
  for (int k = 0; k < b->n; k++)
    x[k] = k < b->type->n_pins ? volts * (2 * kit_random (seed) - 1) : 0.9 * (2 * kit_random (seed) - 1);
}

static void
test_device_pin_currents_sum_to_zero (void **state)
{
  unsigned long seed = 11;
  double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], j[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];

  const char *word;
  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      for (int t = 0; t < 300; t++)
        {
          draw_point (&b, t % 3 == 0 ? 1 : 15, &seed, x);
          evaluate (&b, 0, x, f, j);
          double sum = 0, largest = 0;
          for (int k = 0; k < b.type->n_pins; k++)
            {
              sum += f[k];
              largest = fmax (largest, fabs (f[k]));
            }
          assert_near (sum, 0, 0, 1e-15 + 8 * DBL_EPSILON * largest);
        }
    }
}

/* A branch that assembling takes to be plain: its one inner unknown is, closed or open, the very current that flows in at one pin and out at the other
 * (Kirchhoff's law), and its own row is linear. */
static void
test_plain_branch_carries_its_own_current (void **state)
{
  unsigned long seed = 12;
  double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], j[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL], at_zero[ML_NODAL_MAX_LOCAL];
  const double zeros[ML_NODAL_MAX_LOCAL] = { 0 };
  const char *word;
  int n_plain = 0;

  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      for (int t = 0; ml_nodal_type_is_plain_branch (b.type) && t < 100; t++)
        {
          evaluate (&b, t % 2, zeros, at_zero, j);
          draw_point (&b, 15, &seed, x);
          evaluate (&b, t % 2, x, f, j);
          assert_true (f[0] == x[2] && f[1] == -x[2]);
          assert_near (f[2], at_zero[2] + j[6] * x[0] + j[7] * x[1] + j[8] * x[2], 1e-14, 1e-13);
          n_plain++;
        }
    }
  assert_true (n_plain > 0);
}

/* Second method: fourth-order central differences. */
static void
test_device_derivatives_agree_with_differences (void **state)
{
  unsigned long seed = 5;
  static const double volts[] = { 0.8, 3, 15, 0.05, 60, 400 };
  const char *word;
  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      double worst = 0;
      for (int t = 0; t < 400; t++)
        {
          double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], j[64], at[4][ML_NODAL_MAX_LOCAL], waste[64];
          unsigned open = t % 5 == 4 && b.type->n_elements > 0 ? 1u << (t % b.type->n_elements) : 0;
          draw_point (&b, volts[t % 6], &seed, x);
          evaluate (&b, open, x, f, j);
          for (int c = 0; c < b.n; c++)
            {
              double was = x[c], h = 2e-5;
              static const double steps[4] = { -2, -1, 1, 2 };
              for (int s = 0; s < 4; s++)
                {
                  x[c] = was + steps[s] * h;
                  evaluate (&b, open, x, at[s], waste);
                }
              x[c] = was;
              for (int r = 0; r < b.n; r++)
                {
                  double slope = (at[0][r] - 8 * at[1][r] + 8 * at[2][r] - at[3][r]) / (12 * h);
                  double size = 1e-9 + 1e-3 * fabs (j[r * b.n + c]);
                  for (int s = 0; s < 4; s++) /* rounding of the currents, and curvature within the step */
                    size += 1e-14 * fabs (at[s][r]) / h + 2e-4 * fabs (at[s][r] - f[r]) / h;
                  double off = fabs (slope - j[r * b.n + c]) / size;
                  if (!(off <= 1))
                    print_error ("%s: d f%d / d x%d: %.9g, by differences %.9g\n", word, r, c, j[r * b.n + c], slope);
                  assert_true (off <= 1);
                  worst = fmax (worst, off);
                }
            }
        }
      assert_true (isfinite (worst));
    }
}

/* What a device says of its currents' slopes in its parameters. Second method: fourth-order central differences. */
/* Mostly fed, and near its balance; with parameters that are none as such. Bias currents flow either way. */
static void
draw_amplifier (Bench *b, int t, unsigned long *seed, double *x)
{
  int offset = ml_nodal_type_find_parameter (b->type, "offset"), bias = ml_nodal_type_find_parameter (b->type, "bias");
  int pull_up = ml_nodal_type_find_parameter (b->type, "pull_up");

  b->parameters[offset] = 1e-3;
  b->parameters[bias] = t % 4 < 2 ? 30e-9 : -20e-9;
  if (pull_up >= 0)
    b->parameters[pull_up] = 5e-3;
  if (t % 3 == 0)
    return;
  x[3] = x[4] + 12 * kit_random (seed);
  x[2] = x[4] + (x[3] - x[4]) * kit_random (seed);
  x[0] = x[4] + (x[3] - x[4]) * kit_random (seed);
  x[1] = x[0] + 1e-3 + 2e-3 * (kit_random (seed) - 0.5) * (t % 2 ? 1 : 0.1);
}

/* Mostly near where it regulates, or drops out. */
static void
draw_regulator (const Bench *b, int t, unsigned long *seed, double *x)
{
  double aim = b->parameters[0], dropout = b->parameters[1];

  if (t % 3 == 0)
    return;
  x[0] = x[2] + aim + dropout + (t % 3 == 1 ? 3 : 0.02 * (kit_random (seed) - 0.5));
  x[1] = x[2] + aim - (t % 3 == 1 ? 0 : 5e-3) + 1e-3 * (kit_random (seed) - 0.5);
}

static void
test_device_parameter_slopes_agree_with_differences (void **state)
{
  unsigned long seed = 29;
  static const double volts[] = { 0.8, 3, 15, 0.05, 60, 400 }, steps[4] = { -2, -1, 1, 2 };
  const char *word;
  int n_types = 0;

  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      const MlNodalType *type = b.type;
      n_types += type->slopes != NULL;
      for (int t = 0; type->slopes && t < 400; t++)
        {
          double x[ML_NODAL_MAX_LOCAL], d_derived[ML_NODAL_MAX_PARAMETERS * ML_NODAL_MAX_DERIVED] = { 0 }, at[4][ML_NODAL_MAX_LOCAL], waste[64];
          double slopes[ML_NODAL_MAX_PARAMETERS * ML_NODAL_MAX_LOCAL] = { 0 };
          unsigned open = t % 5 == 4 && type->n_elements > 0 ? 1u << (t % type->n_elements) : 0;
          draw_point (&b, volts[t % 6], &seed, x);
          if (type->lean)
            draw_amplifier (&b, t, &seed, x);
          if (ml_nodal_type_find_parameter (type, "dropout") >= 0)
            draw_regulator (&b, t, &seed, x);
          if (strcmp (word, "switch") == 0)
            b.parameters[1] = t % 2; /* closed or not */
          if (strcmp (word, "supply") == 0 && t % 2)
            x[2] = (t % 4 == 1 ? -1 : 1) * b.parameters[1] * (0.98 + 0.04 * kit_random (&seed)); /* near its limit */
          type->prepare (b.parameters, b.derived);
          if (type->prepare_slopes)
            type->prepare_slopes (b.parameters, d_derived);
          type->slopes (b.derived, d_derived, open, x, slopes);
          for (int p = 0; p < type->n_parameters; p++)
            {
              bool leaks = type->lean && strcmp (type->parameters[p].name, "leakage") == 0; /* smooth, and far below what the output's pulls cancel to */
              double was = b.parameters[p], h = (leaks ? 3e-3 : type->flags & ML_NODAL_STEEP ? 3e-7 : 3e-5) * fabs (was), rounding = leaks ? 1e-17 : 1e-21;
              if (!isfinite (was) || was == 0)
                continue;
              for (int s = 0; s < 4; s++)
                {
                  b.parameters[p] = was + steps[s] * h;
                  type->prepare (b.parameters, b.derived);
                  evaluate (&b, open, x, at[s], waste);
                }
              b.parameters[p] = was;
              for (int k = 0; k < b.n; k++)
                {
                  double slope = (at[0][k] - 8 * at[1][k] + 8 * at[2][k] - at[3][k]) / (12 * h), curved = at[3][k] - 2 * at[2][k] + 2 * at[1][k] - at[0][k];
                  /* a saturation current's logarithm, some 40, is rounded to 1e-14, the current itself at zero volts to as much of that */
                  double allowed = 1e-7 * fabs (slope) + (rounding + 1e-13 * fmax (fabs (at[0][k]), fabs (at[3][k])) + 0.1 * fabs (curved)) / h;
                  if (!(fabs (slope - slopes[p * b.n + k]) <= allowed))
                    print_error ("%s: d f%d / d %s: %.12g, by differences %.12g\n", word, k, type->parameters[p].name, slopes[p * b.n + k], slope);
                  assert_true (fabs (slope - slopes[p * b.n + k]) <= allowed);
                }
            }
        }
    }
  assert_true (n_types >= 17); /* kinds of diodes 5, transistor, amplifiers 2, regulators 2, links 5, sources 2, and some under other names */
}

/* Slopes of the currents with respect to inner unknowns, and the sum over columns: a device only sees voltage differences. */
static void
test_device_depends_on_differences_only (void **state)
{
  unsigned long seed = 17;

  const char *word;
  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      for (int t = 0; t < 100; t++)
        {
          double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], j[64];
          draw_point (&b, 5, &seed, x);
          evaluate (&b, 0, x, f, j);
          for (int r = 0; r < b.n; r++)
            {
              double sum = 0, size = 1e-14;
              for (int c = 0; c < b.type->n_pins; c++)
                {
                  sum += j[r * b.n + c];
                  size += 1e-13 * fabs (j[r * b.n + c]);
                }
              assert_near (sum, 0, 0, size);
            }
        }
    }
}

static bool
is_source (const MlNodalType *type)
{
  return strcmp (type->word, "battery") == 0 || strcmp (type->word, "supply") == 0 || strcmp (type->word, "current-source") == 0
         || strcmp (type->word, "chopped-current") == 0;
}

/* Has each branch current satisfy its equation at these voltages, by bisection: the equation falls (or rises) all along with its own current. */
static void
settle_branches (const Bench *b, unsigned open, double *x)
{
  double f[ML_NODAL_MAX_LOCAL], j[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];

  for (int k = b->type->n_pins; k < b->n; k++)
    {
      double low = -1e8, high = 1e8;
      x[k] = low;
      evaluate (b, open, x, f, j);
      double at_low = f[k];
      x[k] = high;
      evaluate (b, open, x, f, j);
      assert_true ((at_low > 0) != (f[k] > 0));
      for (int round = 0; round < 200; round++)
        {
          x[k] = 0.5 * (low + high);
          evaluate (b, open, x, f, j);
          if ((f[k] > 0) == (at_low > 0))
            low = x[k];
          else
            high = x[k];
        }
    }
}

/* The most that it may give: a battery into its own resistance (maximum power theorem, textbook), a bench supply its voltage at its limit, which
 * the knee rounds by 2 %, a current source its current at whatever voltage is there, as does an average over a switching period, whose energy
 * comes from a coil; anything else nothing (second law of thermodynamics). */
static double
most_given_w (const Bench *b, const double *x)
{
  const double *p = b->parameters;

  if (strcmp (b->type->word, "battery") == 0)
    return p[0] * p[0] / (4 * p[1]);
  if (strcmp (b->type->word, "supply") == 0)
    return 1.02 * p[0] * p[1];
  return is_source (b->type) ? fabs (p[0] * (x[0] - x[1])) : 0;
}

static void
test_device_dissipates (void **state)
{
  unsigned long seed = 23;
  static const double volts[] = { 0.01, 0.1, 0.7, 3, 12, 60, 400, 1000 };

  const char *word;
  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      for (int t = 0; t < 3000; t++)
        {
          double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], j[64], power = 0, size = 0;
          unsigned open = t % 4 == 3 && b.type->n_elements > 0 ? 1u << (t / 4 % b.type->n_elements) : 0;
          draw_point (&b, volts[t % 8], &seed, x);
          settle_branches (&b, open, x);
          evaluate (&b, open, x, f, j);
          for (int k = 0; k < b.type->n_pins; k++)
            {
              power += f[k] * x[k];
              size += fabs (f[k] * x[k]);
            }
          power += most_given_w (&b, x);
          if (!(power >= -1e-12 * (1 + size)))
            print_error ("%s gives %g W\n", word, -power);
          assert_true (power >= -1e-12 * (1 + size));
        }
    }
}

static void
test_device_finite_at_a_thousand_volts (void **state)
{
  const char *word;
  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      int n_pins = b.type->n_pins;
      for (int t = 0; t < 1 << (2 * n_pins); t++)
        {
          double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], j[64];
          static const double levels[4] = { -1000, 0, 1e-9, 1000 };
          for (int k = 0; k < b.n; k++)
            x[k] = k < n_pins ? levels[t >> (2 * k) & 3] : 1000;
          for (int pass = 0; pass < 2; pass++)
            {
              if (pass == 1 && b.type->limit)
                b.type->limit (b.derived, 0, NULL, x);
              evaluate (&b, 0, x, f, j);
              for (int k = 0; k < b.n; k++)
                assert_true (isfinite (f[k]));
              for (int k = 0; k < b.n * b.n; k++)
                assert_true (isfinite (j[k]));
            }
        }
    }
}

static void
test_device_at_rest_carries_nothing (void **state)
{
  const char *word;
  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Bench b = bench (word);
      double x[ML_NODAL_MAX_LOCAL] = { 0 }, f[ML_NODAL_MAX_LOCAL], j[64];
      if (is_source (b.type))
        continue;
      evaluate (&b, 0, x, f, j);
      for (int k = 0; k < b.type->n_pins; k++)
        assert_near (f[k], 0, 0, 1e-20);
    }
}

static void
test_junction_meets_its_data_sheet_point (void **state)
{
  /* The point given is on the curve, whatever ideality and series resistance; closed form of the law. */
  static const double series[] = { 0, 1e-6, 0.6, 2.4 };
  static const double ideality[] = { 1, 1.7, 3 };

  for (int s = 0; s < 4; s++)
    for (int n = 0; n < 3; n++)
      {
        MlNodalJunction junction;
        double g;
        ml_nodal_junction_prepare (&junction, 0.65, 10e-3, ideality[n], series[s]);
        assert_near (ml_nodal_junction_eval (&junction, 0.65, &g), 10e-3, 1e-6, 0);
        /* i = sat (exp ((v - i series) / vt) - 1), put in again, from reverse to 1 A */
        for (double v = -2; v < 0.9; v += 0.0371)
          {
            double i = ml_nodal_junction_eval (&junction, v, &g);
            double again = junction.sat_a * expm1 ((v - i * series[s]) / junction.vt);
            double slope = (again + junction.sat_a) / junction.vt;
            assert_near (i, again, 1e-10, 1e-12 * junction.sat_a + 1e-14 * slope);
          }
      }
}

/* Closed forms: 1 / (1 + exp (-t)) and ln (1 + exp (x)), whose slope is the former; far out both keep their digits: exp (-40). */
static void
test_smooth_step_and_corner (void **state)
{
  static const double at[] = { -40, -3, -0.1, 0, 0.1, 3, 40 };
  double slope;

  for (size_t i = 0; i < sizeof at / sizeof at[0]; i++)
    {
      double t = at[i], step = ml_nodal_logistic (t, &slope);

      assert_near (step, 1 / (1 + exp (-t)), 1e-15, 0);
      assert_near (slope, step / (1 + exp (t)), 1e-14, 0);
      assert_near (ml_nodal_softplus (2 * t, 2, &slope), 2 * (t > 0 ? t + log1p (exp (-t)) : log1p (exp (t))), 1e-15, 0);
      assert_near (slope, step, 1e-15, 0);
    }
}

static void
test_omega_solves_its_equation (void **state)
{
  /* w + ln w = z (definition). omega (1) = 1 and omega (0) = 0.567143290409784 (omega constant, DLMF 4.13) */
  assert_near (ml_nodal_omega (1.0), 1.0, 1e-15, 0);
  assert_near (ml_nodal_omega (0.0), 0.567143290409783873, 1e-15, 0);
  for (double z = -80; z < 2000; z += 0.731)
    {
      double w = ml_nodal_omega (z);
      assert_near (w + log (w), z, 1e-14, 1e-13);
    }
}

/* A limit that gives back the place it was given holds Newton there for good, its step being nothing and the way still long. What comes back
 * as the last place has been through two pins' voltages and lost its last digits. */
static void
test_junction_limit_never_stays (void **state)
{
  static const double series[] = { 0, 0.6 }, offsets[] = { -20, 0, 11.97, 400 };

  for (int s = 0; s < 2; s++)
    for (int v = 1; v < 1000; v *= 3)
      for (int o = 0; o < 4; o++)
        {
          MlNodalJunction junction;
          double at = 0, g;
          int steps = 0;
          ml_nodal_junction_prepare (&junction, 0.65, 10e-3, 1, series[s]);
          /* the linear model asks for what v asks for at zero: the law there is a milliampere a volt, so that the end is where it carries that */
          for (; steps < 100 && ml_nodal_junction_eval (&junction, at, &g) < 1e-3 * v; steps++)
            {
              double i = ml_nodal_junction_eval (&junction, at, &g), asked = at + (1e-3 * v - i) / (g + 1e-6);
              double to = ml_nodal_junction_limit (&junction, asked, at), was = at;
              volatile double upper = to + offsets[o];
              at = upper - offsets[o];
              if (!(at > was))
                print_error ("%d V, series %g, step %d: stays at %.17g\n", v, series[s], steps, at);
              assert_true (at > was);
              if (to == asked && fabs (asked - was) < 1e-6)
                break;
            }
          assert_true (steps < 60);
        }
}

/* A converter whose input is ten volts the wrong way round, or a regulator far above its aim, passes nothing: there is no step it could overdo. */
static void
test_limit_lets_a_chip_that_is_off_go_anywhere (void **state)
{
  static const struct { const char *word; double from[3], to[3]; } moves[] = {
    { "converter", { -12, 0, 0 }, { -6, 0, 0 } }, { "converter", { -6, 0, 0 }, { -12, 1, 0 } },
    { "regulator", { 4, 20, 0 }, { 4, 12, 0 } }, { "adjustable", { 4, 12, 0 }, { 4, 20, 0 } },
  };

  for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++)
    {
      const MlNodalType *type = ml_nodal_type_find (moves[i].word);
      double parameters[ML_NODAL_MAX_PARAMETERS], derived[ML_NODAL_MAX_DERIVED] = { 0 }, x[3];
      for (int p = 0; p < type->n_parameters; p++)
        parameters[p] = ml_nodal_type_default (type, p);
      type->prepare (parameters, derived);
      for (int k = 0; k < 3; k++)
        x[k] = moves[i].to[k];
      type->limit (derived, 0, moves[i].from, x);
      for (int k = 0; k < 3; k++)
        assert_near (x[k], moves[i].to[k], 1e-12, 0);
    }
}

static void
test_type_names_are_found (void **state)
{
  assert_null (ml_nodal_type_find ("testpoint"));
  assert_null (ml_nodal_type_find (NULL));
  const MlNodalType *npn = ml_nodal_type_find ("npn");
  assert_int_equal (ml_nodal_type_n_pins (npn), 3);
  assert_string_equal (ml_nodal_type_pin (npn, 2), "emitter");
  assert_null (ml_nodal_type_pin (npn, 3));
  assert_int_equal (ml_nodal_type_find_parameter (npn, "gain"), 1);
  assert_int_equal (ml_nodal_type_find_parameter (npn, "volts"), -1);
  int a = -1, b = -1;
  ml_nodal_type_element (npn, 1, &a, &b);
  assert_int_equal (a, 1);
  assert_int_equal (b, 0);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_device_pin_currents_sum_to_zero), cmocka_unit_test (test_device_derivatives_agree_with_differences),
    cmocka_unit_test (test_device_parameter_slopes_agree_with_differences), cmocka_unit_test (test_plain_branch_carries_its_own_current),
    cmocka_unit_test (test_device_depends_on_differences_only), cmocka_unit_test (test_device_dissipates),
    cmocka_unit_test (test_device_finite_at_a_thousand_volts), cmocka_unit_test (test_device_at_rest_carries_nothing),
    cmocka_unit_test (test_junction_meets_its_data_sheet_point), cmocka_unit_test (test_smooth_step_and_corner),
    cmocka_unit_test (test_omega_solves_its_equation), cmocka_unit_test (test_junction_limit_never_stays),
    cmocka_unit_test (test_limit_lets_a_chip_that_is_off_go_anywhere), cmocka_unit_test (test_type_names_are_found),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
