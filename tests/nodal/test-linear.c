/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Linear networks against a dense solution by LAPACK, digits at nanoamperes, floating nets, ideal loops. */
#include "nodal/kit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <lapacke.h>

#define MOST 40

static void
add_conductance (double *a, int n, int p, int q, double g)
{
  if (p > 0)
    a[(p - 1) * n + p - 1] += g;
  if (q > 0)
    a[(q - 1) * n + q - 1] += g;
  if (p > 0 && q > 0)
    {
      a[(p - 1) * n + q - 1] -= g;
      a[(q - 1) * n + p - 1] -= g;
    }
}

static void
test_random_networks_against_lapack (void **state)
{
  unsigned long seed = 3;
  double worst = 0;

  for (int round = 0; round < 300; round++)
    {
      Kit kit;
      int nets = 2 + (int) (kit_random (&seed) * (MOST - 6)), n = nets + 2; /* two batteries as branch unknowns */
      double a[MOST * MOST] = { 0 }, b[MOST] = { 0 };
      lapack_int pivot[MOST];
      kit_begin (&kit, nets);
      for (int k = 1; k <= nets; k++) /* a tree keeps all nets in one piece */
        for (int again = 0; again < 2; again++)
          {
            int other = again ? (int) (kit_random (&seed) * (nets + 1)) : (int) (kit_random (&seed) * k);
            double ohm = pow (10, 1 + 4 * kit_random (&seed));
            if (other == k)
              continue;
            kit_two (&kit, "resistor", k, other, ohm);
            add_conductance (a, n, k, other, 1 / ohm);
          }
      for (int s = 0; s < 2; s++) /* batteries with resistance in random places */
        {
          int p = 1 + (int) (kit_random (&seed) * nets), m = (p + 1) % (nets + 1), row = nets + s;
          double e = 10 * kit_random (&seed), r = 0.1 + kit_random (&seed);
          kit_add (&kit, "battery", NETS (p, m), "voltage", e, "resistance", r, NULL);
          a[(p - 1) * n + row] += 1;
          a[row * n + p - 1] += 1;
          if (m > 0)
            {
              a[(m - 1) * n + row] -= 1;
              a[row * n + m - 1] -= 1;
            }
          a[row * n + row] = -r;
          b[row] = e;
        }
      kit_solve (&kit, NULL, 0);
      assert_int_equal (LAPACKE_dgesv (LAPACK_ROW_MAJOR, n, 1, a, n, pivot, b, 1), 0);
      for (int k = 1; k <= nets; k++)
        {
          assert_near (kit.at.net_v[k], b[k - 1], 1e-10, 1e-9);
          worst = fmax (worst, fabs (kit.at.net_v[k] - b[k - 1]));
        }
      kit_end (&kit);
    }
  print_message ("against LAPACK dgesv: worst difference %.2g V\n", worst);
}

static void
test_nanoamperes_keep_their_digits (void **state)
{
  /* Ohm's law: 10 V over 3.3 Gohm and 1 ohm, beside a branch that carries 1 A. */
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 10.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 0, 10);
  int big = kit_two (&kit, "resistor", 1, 2, 3.3e9);
  kit_two (&kit, "resistor", 2, 0, 1);
  kit_solve (&kit, NULL, 0);
  assert_near (kit_pin_a (&kit, big, 0), 10 / (3.3e9 + 1), 1e-13, 0);
  assert_near (kit.at.net_v[2], 10 / (3.3e9 + 1), 1e-10, 0);
  MlNodalChange joint = { .kind = ML_NODAL_PIN_RESISTANCE, .device = big, .index = 0, .value = 1e9 };
  kit_solve (&kit, &joint, 1);
  assert_near (kit_pin_a (&kit, big, 0), 10 / (4.3e9 + 1), 1e-13, 0);
  kit_end (&kit);
}

static void
test_floating_nets_are_reported (void **state)
{
  /* 3 and 4 hang on each other behind an open switch, 5 on nothing. */
  Kit kit;
  kit_begin (&kit, 5);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 5.0, NULL);
  kit_two (&kit, "resistor", 1, 0, 1e3);
  int s = kit_add (&kit, "switch", NETS (1, 3), NULL);
  kit_two (&kit, "resistor", 3, 4, 1e3);
  kit_solve (&kit, NULL, 0);
  assert_true (kit.at.floating[3] && kit.at.floating[4] && kit.at.floating[5] && kit.at.floating[2]);
  assert_false (kit.at.floating[0] || kit.at.floating[1]);
  assert_near (kit.at.net_v[3], kit.at.net_v[4], 0, 1e-12);
  MlNodalChange closed = { .kind = ML_NODAL_SET_PARAMETER, .device = s, .index = 1, .value = 1 };
  kit_solve (&kit, &closed, 1);
  assert_false (kit.at.floating[3]);
  assert_near (kit.at.net_v[4], kit.at.net_v[1], 1e-12, 0);
  /* A meter of 10 Mohm from a floating piece to the reference reads nothing; an ideal one cannot tell. */
  assert_near (kit_volts (&kit, NULL, 0, 4, 0, 10e6), 0, 0, 1e-12);
  MlNodalMeter ideal = { .red = { 4, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = INFINITY };
  double value;
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &ideal, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_SINGULAR);
  ideal.black.net = 3;
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &ideal, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
  assert_near (value, 0, 0, 1e-12);
  kit_end (&kit);
}

static void
test_contradicting_sources_are_refused (void **state)
{
  Kit kit;
  MlNodalStatus status;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 5.0, "resistance", 0.0, NULL);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 6.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 0, 1e3);
  kit_ready (&kit);
  status = ml_nodal_solve (kit.solver, NULL, 0, NULL, &kit.at);
  assert_int_equal (status, ML_NODAL_SINGULAR);
  assert_true (kit.at.failed_net >= 0 || kit.at.failed_device >= 0);
  kit_end (&kit);

  /* A current source into a net with no way out. */
  kit_begin (&kit, 2);
  kit_two (&kit, "current-source", 0, 2, 1e-3);
  kit_two (&kit, "resistor", 2, 1, 1e3);
  kit_ready (&kit);
  status = ml_nodal_solve (kit.solver, NULL, 0, NULL, &kit.at);
  assert_int_equal (status, ML_NODAL_SINGULAR);
  assert_true (kit.at.failed_net > 0);
  kit_end (&kit);
}

static void
test_parallel_exact_shorts (void **state)
{
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 6.0, "resistance", 1.0, NULL);
  int r = kit_two (&kit, "resistor", 1, 2, 100);
  kit_two (&kit, "resistor", 2, 0, 2);
  MlNodalChange twice[2] = { { .kind = ML_NODAL_BRIDGE_PINS, .device = r, .index = 0, .index_b = 1, .value = 0 },
                             { .kind = ML_NODAL_LINK_NETS, .index = 1, .index_b = 2, .value = 0 } };
  kit_solve (&kit, twice, 2);
  assert_near (kit.at.net_v[2], 4, 1e-8, 0); /* 6 V over 1 and 2 ohm */
  kit_end (&kit);

  /* Two closed switches in parallel, and a link with both ends on one net, none with any resistance: Ohm's law is untouched. */
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 6.0, "resistance", 1.0, NULL);
  int a = kit_add (&kit, "switch", NETS (1, 2), "resistance", 0.0, "state", 1.0, NULL);
  int b = kit_add (&kit, "switch", NETS (1, 2), "resistance", 0.0, "state", 1.0, NULL);
  kit_two (&kit, "link", 2, 2, 0);
  kit_two (&kit, "resistor", 2, 0, 2);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 4, 1e-12, 0);
  assert_near (kit.at.net_v[1], 4, 1e-12, 0);
  assert_near (kit_pin_a (&kit, a, 0) + kit_pin_a (&kit, b, 0), 2, 1e-9, 0);
  kit_end (&kit);
}

static void
test_supply_knee (void **state)
{
  /* 12 V, 0.5 A: into 100 ohm 12 V (Ohm's law), into 1 ohm the limit, shorted exactly the limit. */
  Kit kit;
  kit_begin (&kit, 1);
  int s = kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, "limit", 0.5, NULL);
  int r = kit_two (&kit, "resistor", 1, 0, 100);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[1], 12, 1e-8, 0);
  MlNodalChange heavy = { .kind = ML_NODAL_SET_PARAMETER, .device = r, .index = 0, .value = 1 };
  kit_solve (&kit, &heavy, 1);
  assert_near (-kit_pin_a (&kit, s, 0), 0.5, 0.01, 0);
  MlNodalChange brief = { .kind = ML_NODAL_LINK_NETS, .index = 1, .index_b = 0, .value = 0 };
  kit_solve (&kit, &brief, 1);
  assert_near (-kit_pin_a (&kit, s, 0), 0.5, 0.01, 0);
  assert_near (kit.at.net_v[1], 0, 0, 1e-9);
  /* from the healthy solution too */
  kit_solve (&kit, NULL, 0);
  assert_true (ml_nodal_solve (kit.solver, &brief, 1, &kit.at, &kit.at) >= 0);
  assert_int_equal (kit.at.rung, ML_NODAL_RUNG_WARM);
  kit_end (&kit);
}

static void
test_empty_circuits (void **state)
{
  Kit kit;
  kit_begin (&kit, 0);
  kit_solve (&kit, NULL, 0);
  kit_end (&kit);
  kit_begin (&kit, 2);
  kit_solve (&kit, NULL, 0);
  assert_true (kit.at.floating[1] && kit.at.floating[2]);
  kit_end (&kit);
  kit_begin (&kit, 1); /* pins that hang nowhere */
  kit_add (&kit, "battery", NETS (1, -1), NULL);
  kit_add (&kit, "npn", NETS (1, -1, 0), NULL);
  kit_solve (&kit, NULL, 0);
  kit_end (&kit);
}

/* A shorted battery on a piece of circuit that only a transistor's leakage ties to the rest: the last digit of its eight amperes moves that
 * piece by microvolts. Ohm's law with a junction of 0.8 to 0.9 V across 2.215 ohm: 7.86 to 7.91 A. */
static void
test_rounding_beside_large_currents_is_no_failure (void **state)
{
  Kit kit;

  kit_begin (&kit, 8);
  kit_add (&kit, "switch", NETS (6, 2), "resistance", 0.1394, "state", 0.0, NULL);
  kit_add (&kit, "pnp", NETS (7, 0, 2), "saturation", 5.105e-14, "gain", 188.7, "reverse_gain", 1.625, "early", 27.31, NULL);
  kit_add (&kit, "pnp", NETS (8, 3, 2), "saturation", 1.404e-13, "gain", 404.3, "reverse_gain", 1.821, "early", 38.09, NULL);
  int battery = kit_add (&kit, "battery", NETS (2, 3), "voltage", 18.32, "resistance", 2.215, NULL);
  kit_add (&kit, "changeover", NETS (4, 7, 0), "resistance", 0.0657, "state", 1.0, NULL);
  kit_add (&kit, "capacitor", NETS (4, 0), "leakage", 1.697e+09, NULL);
  kit_add (&kit, "npn", NETS (0, 5, 4), "saturation", 1.136e-13, "gain", 114.6, "reverse_gain", 0.7701, "early", 95.1, NULL);
  kit_add (&kit, "potentiometer", NETS (0, 7, 7), "value", 7891.0, "position", 0.3573, NULL);
  kit_add (&kit, "fuse", NETS (5, 6), "resistance", 0.03499, NULL);
  kit_add (&kit, "npn", NETS (7, 0, 4), "saturation", 3.626e-14, "gain", 98.89, "reverse_gain", 2.801, "early", 32.27, NULL);
  kit_add (&kit, "pnp", NETS (0, 5, 0), "saturation", 3.455e-14, "gain", 300.5, "reverse_gain", 3.723, "early", 126.9, NULL);
  kit_add (&kit, "inductor", NETS (0, 6), "resistance", 0.7437, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (-kit_pin_a (&kit, battery, 0), 7.885, 0, 0.03);
  assert_near (kit.at.net_v[2], 0, 0, 1e-3);
  kit_end (&kit);
}

/* What flows round in a battery with both legs on one net is nothing to that net: the nanoamperes that come through 100 Mohm leave by a diode. */
static void
test_shorted_battery_costs_its_net_no_digits (void **state)
{
  Kit kit;

  kit_begin (&kit, 2);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 2.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100e6);
  int battery = kit_add (&kit, "battery", NETS (2, 2), "voltage", 9.0, "resistance", 0.9, NULL);
  int diode = kit_add (&kit, "diode", NETS (2, 0), NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit_pin_a (&kit, diode, 0), (2 - kit.at.net_v[2]) / 100e6, 1e-11, 0);
  assert_near (-kit_pin_a (&kit, battery, 0), 10, 1e-9, 0);
  kit_end (&kit);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_random_networks_against_lapack), cmocka_unit_test (test_nanoamperes_keep_their_digits),
    cmocka_unit_test (test_floating_nets_are_reported), cmocka_unit_test (test_contradicting_sources_are_refused),
    cmocka_unit_test (test_parallel_exact_shorts), cmocka_unit_test (test_supply_knee),
    cmocka_unit_test (test_rounding_beside_large_currents_is_no_failure), cmocka_unit_test (test_shorted_battery_costs_its_net_no_digits),
    cmocka_unit_test (test_empty_circuits),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
