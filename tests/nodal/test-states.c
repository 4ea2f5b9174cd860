/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Circuits with more than one operating point: that it is said, that the point reported is one that lasts, that what is wanted is given. */
#include "nodal/kit.h"

#include <math.h>

/* The flip-flop of Eccles and Jordan (GB 148582, 1918) with transistors: 5 V (net 1), collectors 2 and 3 through 1 k, bases 4 and 5 from the
 * other collector through 10 k. */
static void
draw_flip_flop (Kit *kit, double collector_ohm)
{
  kit_begin (kit, 5);
  kit_add (kit, "supply", NETS (1, 0), "voltage", 5.0, NULL);
  kit_two (kit, "resistor", 1, 2, collector_ohm);
  kit_two (kit, "resistor", 1, 3, 1e3);
  kit_two (kit, "resistor", 3, 4, 10e3);
  kit_two (kit, "resistor", 2, 5, 10e3);
  kit_add (kit, "npn", NETS (2, 4, 0), NULL);
  kit_add (kit, "npn", NETS (3, 5, 0), NULL);
}

/* One transistor saturated, the other off: its collector stands at the divider of 1 k and 10 k between 5 V and the base of the first,
 * 0.6 to 0.75 V: 4.60 to 4.614 V (Ohm's law). */
static void
check_one_on (const Kit *kit)
{
  double low = fmin (kit->at.net_v[2], kit->at.net_v[3]), high = fmax (kit->at.net_v[2], kit->at.net_v[3]);

  assert_true (low > 0 && low < 0.2);
  assert_true (high > 4.59 && high < 4.62);
}

static void
test_symmetric_flip_flop_leaves_its_edge (void **state)
{
  Kit kit;

  draw_flip_flop (&kit, 1e3);
  kit_solve (&kit, NULL, 0);
  assert_int_equal (ml_nodal_seek_states (kit.solver, NULL, 0, &kit.at), ML_NODAL_AMBIGUOUS);
  check_one_on (&kit);
  kit_end (&kit);
}

static void
test_unequal_flip_flop_says_two_states (void **state)
{
  Kit kit;

  draw_flip_flop (&kit, 1.5e3);
  kit_solve (&kit, NULL, 0);
  assert_int_equal (ml_nodal_seek_states (kit.solver, NULL, 0, &kit.at), ML_NODAL_AMBIGUOUS);
  double low = fmin (kit.at.net_v[2], kit.at.net_v[3]);
  assert_true (low > 0 && low < 0.2);
  kit_end (&kit);
}

static void
test_flip_flop_prefers_what_is_wanted (void **state)
{
  for (int net = 2; net <= 3; net++)
    for (int high = -1; high <= 1; high += 2)
      {
        Kit kit;
        draw_flip_flop (&kit, 1e3);
        assert_int_equal (ml_nodal_circuit_prefer (kit.circuit, net, high), ML_NODAL_OK);
        kit_ready (&kit);
        assert_true (ml_nodal_solve (kit.solver, NULL, 0, NULL, &kit.at) >= 0);
        assert_int_equal (ml_nodal_seek_states (kit.solver, NULL, 0, &kit.at), ML_NODAL_AMBIGUOUS);
        check_one_on (&kit);
        assert_true ((kit.at.net_v[net] > 2.5) == (high > 0));
        kit_end (&kit);
      }
}

/* The same as changes: one base resistor open makes a single state. */
static void
test_broken_flip_flop_has_one_state (void **state)
{
  Kit kit;
  const MlNodalChange open = { .kind = ML_NODAL_PIN_RESISTANCE, .device = 3, .index = 0, .value = INFINITY };

  draw_flip_flop (&kit, 1e3);
  kit_solve (&kit, &open, 1);
  assert_int_equal (ml_nodal_seek_states (kit.solver, &open, 1, &kit.at), ML_NODAL_OK);
  assert_true (kit.at.net_v[2] > 4.5 && kit.at.net_v[3] < 0.2); /* base 4 hangs loose, 5 is driven */
  kit_end (&kit);
}

/* Push-pull trigger between 0 and 10 V with feedback of 100 k against 100 k to 5 V: thresholds at about 2.5 V and 7.5 V (divider of output
 * 0 or 10 V and 5 V; Sedra and Smith, Microelectronic Circuits, bistable circuits, from memory). */
static void
test_trigger_has_two_states_between_its_thresholds (void **state)
{
  static const struct { double in; MlNodalStatus expected; bool high; } cases[] = {
    { 1.5, ML_NODAL_OK, true }, { 5.0, ML_NODAL_AMBIGUOUS, false }, { 4.0, ML_NODAL_AMBIGUOUS, false }, { 6.0, ML_NODAL_AMBIGUOUS, false },
    { 8.5, ML_NODAL_OK, false },
  };

  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++)
    {
      Kit kit;
      kit_begin (&kit, 5);
      kit_add (&kit, "supply", NETS (1, 0), "voltage", 10.0, NULL);
      kit_add (&kit, "supply", NETS (2, 0), "voltage", 5.0, NULL);
      kit_add (&kit, "supply", NETS (3, 0), "voltage", cases[k].in, NULL);
      kit_two (&kit, "resistor", 2, 4, 100e3);
      kit_two (&kit, "resistor", 5, 4, 100e3);
      kit_add (&kit, "comparator", NETS (4, 3, 5, 1, 0), "pull_up", 0.02, NULL);
      kit_solve (&kit, NULL, 0);
      assert_int_equal (ml_nodal_seek_states (kit.solver, NULL, 0, &kit.at), cases[k].expected);
      if (cases[k].expected == ML_NODAL_OK)
        assert_true ((kit.at.net_v[5] > 5) == cases[k].high);
      assert_true (kit.at.net_v[5] < 2 || kit.at.net_v[5] > 8);
      kit_end (&kit);
    }
}

/* An output that holds itself high through 2.2 kohm, at 12 V 22 k / (22 k + pull-up), against 5 V: from 10.9 V with 2.2 kohm to 8.25 V with 10 kohm it
 * stays high, whatever little changes in the amplifier itself. Between high and low lies the balance at 5 V, which no circuit keeps. */
static void
test_latched_output_stays_where_it_was_when_parameters_move (void **state)
{
  static const struct { const char *type; double from, expected; } cases[] = {
    { "comparator", 12 * 22.0 / 24.2, 12 * 22.0 / 32.0 }, { "opamp", 11.0, 11.0 } /* an op-amp stops 1 V below its supply */
  };

  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++)
    {
      Kit kit;
      MlNodalSolution next;
      kit_begin (&kit, 4);
      kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
      kit_add (&kit, "supply", NETS (2, 0), "voltage", 5.0, NULL);
      int pull_up = kit_two (&kit, "resistor", 1, 3, 2.2e3);
      kit_two (&kit, "resistor", 3, 0, 22e3);
      kit_two (&kit, "resistor", 3, 4, 2.2e3);
      int amplifier = kit_add (&kit, cases[k].type, NETS (4, 2, 3, 1, 0), NULL);
      assert_int_equal (ml_nodal_circuit_prefer (kit.circuit, 3, 1), ML_NODAL_OK);
      kit_solve (&kit, NULL, 0);
      assert_int_equal (ml_nodal_seek_states (kit.solver, NULL, 0, &kit.at), ML_NODAL_AMBIGUOUS);
      assert_near (kit.at.net_v[3], cases[k].from, 0, 0.05);
      const MlNodalChange changes[] = { { .kind = ML_NODAL_SET_PARAMETER, .device = pull_up, .index = 0, .value = 10e3 },
                                        { .kind = ML_NODAL_SET_PARAMETER, .device = amplifier, .index = 0, .value = 1e-3 } };
      assert_int_equal (ml_nodal_solution_init (&next, kit.circuit), ML_NODAL_OK);
      assert_true (ml_nodal_solve (kit.solver, changes, 2, &kit.at, &next) >= 0);
      assert_near (next.net_v[3], cases[k].expected, 0, 0.05);
      ml_nodal_solution_clear (&next);
      kit_end (&kit);
    }
}

/* The trigger above, its input moved from where it stood: it stays as it is until beyond the threshold of that state, (5 V + output) / 2: 7.5 V and 2.5 V where
 * the output goes to the supplies, 7 V and 2.55 V of an op-amp that stops 1 V and 0.1 V short of them. Going over takes no ladder. */
static void
test_trigger_goes_over_beyond_its_threshold_only (void **state)
{
  static const struct { const char *type; double high, low; } cases[] = { { "comparator", 10, 0 }, { "opamp", 9, 0.1 } };
  static const struct { double in; bool high; } moves[] = { { 4, true }, { 6, true }, { 8.5, false }, { 6, false }, { 4, false }, { 1.5, true }, { 9.5, false } };

  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++)
    {
      Kit kit;
      MlNodalSolution next;
      kit_begin (&kit, 5);
      kit_add (&kit, "supply", NETS (1, 0), "voltage", 10.0, NULL);
      kit_add (&kit, "supply", NETS (2, 0), "voltage", 5.0, NULL);
      int in = kit_add (&kit, "supply", NETS (3, 0), "voltage", 1.5, NULL);
      kit_two (&kit, "resistor", 2, 4, 100e3);
      kit_two (&kit, "resistor", 5, 4, 100e3);
      if (k == 0)
        kit_add (&kit, "comparator", NETS (4, 3, 5, 1, 0), "pull_up", 0.02, NULL);
      else
        kit_add (&kit, "opamp", NETS (4, 3, 5, 1, 0), NULL);
      kit_solve (&kit, NULL, 0);
      assert_int_equal (ml_nodal_solution_init (&next, kit.circuit), ML_NODAL_OK);
      for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++)
        {
          const MlNodalChange change = { .kind = ML_NODAL_SET_PARAMETER, .device = in, .index = kit_parameter_index (&kit, in, "voltage"), .value = moves[i].in };
          assert_true (ml_nodal_solve (kit.solver, &change, 1, &kit.at, &next) >= 0);
          assert_near (next.net_v[5], moves[i].high ? cases[k].high : cases[k].low, 0, 0.15);
          assert_true (next.rung <= ML_NODAL_RUNG_FLIPPED);
          assert_int_equal (ml_nodal_solution_copy (&kit.at, &next, kit.circuit), ML_NODAL_OK);
        }
      ml_nodal_solution_clear (&next);
      kit_end (&kit);
    }
}

/* Circuits with gain and no positive feedback have one operating point (Nielsen and Willson, Proc. IEEE 68, 1980, from memory). */
static void
test_plain_amplifiers_have_one_state (void **state)
{
  Kit kit;

  kit_begin (&kit, 7); /* common emitter into follower, an inverting op-amp behind it */
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100e3);
  kit_two (&kit, "resistor", 2, 0, 22e3);
  kit_two (&kit, "resistor", 1, 3, 4.7e3);
  kit_two (&kit, "resistor", 4, 0, 1e3);
  kit_add (&kit, "npn", NETS (3, 2, 4), NULL);
  kit_two (&kit, "resistor", 5, 0, 2.2e3);
  kit_add (&kit, "npn", NETS (1, 3, 5), NULL);
  kit_two (&kit, "resistor", 5, 6, 10e3);
  kit_two (&kit, "resistor", 6, 7, 10e3);
  kit_add (&kit, "opamp", NETS (4, 6, 7, 1, 0), NULL);
  kit_solve (&kit, NULL, 0);
  MlNodalSolution before = kit.at;
  double out = kit.at.net_v[7];
  assert_int_equal (ml_nodal_seek_states (kit.solver, NULL, 0, &kit.at), ML_NODAL_OK);
  assert_true (before.net_v == kit.at.net_v);
  assert_near (kit.at.net_v[7], out, 0, 0);
  kit_end (&kit);
}

/* An optocoupler whose transistor feeds its own LED, cathode through a resistor to the reference: with a ratio above one it lights itself, and
 * what the LED takes the transistor gives: ratio tanh (v / 0.1 V) = 1, so v = 0.1 V atanh (1 / ratio) across it (closed form of the law in
 * device-opto.c; leakages are nanoamperes beside milliamperes). On the way there the currents grow a billionfold by themselves. */
static void
test_opto_that_lights_itself_saturates (void **state)
{
  static const double volts[] = { 3.3, 8.8, 24 }, ohms[] = { 0.1, 1, 10, 1000 }, ratios[] = { 1.05, 1.5, 2.7, 10 };

  for (int k = 0; k < 3 * 4 * 4; k++)
    {
      Kit kit;
      double ratio = ratios[k % 4];
      kit_begin (&kit, 3);
      kit_add (&kit, "supply", NETS (1, 0), "voltage", volts[k / 16], "limit", 100.0, NULL);
      kit_add (&kit, "opto", NETS (2, 3, 1, 2), "ratio", ratio, NULL);
      kit_two (&kit, "resistor", 3, 0, ohms[k / 4 % 4]);
      kit_solve (&kit, NULL, 0);
      assert_near (kit.at.net_v[1] - kit.at.net_v[2], 0.1 * atanh (1 / ratio), 1e-4, 0);
      kit_end (&kit);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_opto_that_lights_itself_saturates), cmocka_unit_test (test_symmetric_flip_flop_leaves_its_edge),
    cmocka_unit_test (test_unequal_flip_flop_says_two_states), cmocka_unit_test (test_flip_flop_prefers_what_is_wanted), cmocka_unit_test (test_broken_flip_flop_has_one_state),
    cmocka_unit_test (test_trigger_has_two_states_between_its_thresholds), cmocka_unit_test (test_plain_amplifiers_have_one_state),
    cmocka_unit_test (test_trigger_goes_over_beyond_its_threshold_only), cmocka_unit_test (test_latched_output_stays_where_it_was_when_parameters_move),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
