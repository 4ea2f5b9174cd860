/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every kind of change against the same circuit built with the change in it. */
#include "nodal/kit.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A small board: 12 V, fuse, regulator, zener, transistor with a relay coil, LED. extra nets 8.. are for the built equivalents. */
enum { FEED = 1, FUSED, FIVE, BASE, COLLECTOR, LED, ZENER, SPARE, N_NETS = 10 };

typedef struct
{
  Kit kit;
  int supply, fuse, regulator, base_r, pull, npn, coil, flyback, led_r, led, zener_r, zener, sense;
} Board;

typedef struct
{
  int device, pin, net; /* built with that pin on another net */
} Moved;

static void
nets_of (int *nets, int device, const Moved *moved, int n_moved, int n_pins)
{
  for (int i = 0; i < n_moved; i++)
    if (moved[i].device == device && moved[i].pin < n_pins)
      nets[moved[i].pin] = moved[i].net;
}

static const struct
{
  const char *word;
  int n, nets[3];
  double first;
} table[] = {
  { "supply", 2, { FEED, 0 }, 12 },         { "fuse", 2, { FEED, FUSED }, 0.1 },    { "regulator", 3, { FUSED, FIVE, 0 }, 5 },
  { "resistor", 2, { FIVE, BASE }, 4700 },  { "resistor", 2, { BASE, 0 }, 100e3 },  { "npn", 3, { COLLECTOR, BASE, 0 }, 1e-13 },
  { "coil", 2, { FUSED, COLLECTOR }, 400 }, { "diode", 2, { COLLECTOR, FUSED }, 0.65 }, { "resistor", 2, { FIVE, LED }, 680 },
  { "led", 2, { LED, 0 }, 2.0 },            { "resistor", 2, { FUSED, ZENER }, 1200 },  { "zener", 2, { 0, ZENER }, 5.6 },
  { "resistor", 2, { ZENER, 0 }, 10e3 },
};

/* Devices in the order of the struct, numbered from 0. */
static void
build (Board *board, const Moved *moved, int n_moved)
{
  int *numbers = &board->supply;

  kit_begin (&board->kit, N_NETS);
  for (size_t d = 0; d < sizeof table / sizeof table[0]; d++)
    {
      int nets[3];
      const MlNodalType *type = ml_nodal_type_find (table[d].word);
      memcpy (nets, table[d].nets, sizeof nets);
      nets_of (nets, (int) d, moved, n_moved, table[d].n);
      numbers[d] = kit_add (&board->kit, table[d].word, nets, ml_nodal_type_parameter (type, 0), table[d].first, NULL);
    }
}

static void
compare (const Board *changed, const Board *built, const char *what)
{
  for (int net = 0; net <= ZENER; net++)
    {
      assert_int_equal (changed->kit.at.floating[net], built->kit.at.floating[net]);
      double a = changed->kit.at.net_v[net], b = built->kit.at.net_v[net];
      if (changed->kit.at.floating[net])
        continue;
      if (!(fabs (a - b) <= 1e-6 + 1e-7 * fabs (b)))
        print_error ("%s: net %d %.9g, built in %.9g\n", what, net, a, b);
      assert_near (a, b, 1e-7, 1e-6);
    }
  for (int d = 0; d <= changed->sense; d++)
    for (int p = 0; p < ml_nodal_type_n_pins (ml_nodal_circuit_type (changed->kit.circuit, d)); p++)
      assert_near (kit_pin_a (&changed->kit, d, p), kit_pin_a (&built->kit, d, p), 1e-6, 1e-10);
}

static const double joint_ohms[] = { 0, 1e-3, 1, 330, 1e5, 1e9, INFINITY };

static void
test_joint_is_a_resistor_in_series (void **state)
{
  Board changed, built;

  build (&changed, NULL, 0);
  kit_solve (&changed.kit, NULL, 0);
  MlNodalSolution healthy;
  assert_int_equal (ml_nodal_solution_init (&healthy, changed.kit.circuit), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solution_copy (&healthy, &changed.kit.at, changed.kit.circuit), ML_NODAL_OK);
  for (int d = changed.fuse; d <= changed.sense; d++)
    for (int p = 0; p < ml_nodal_type_n_pins (ml_nodal_circuit_type (changed.kit.circuit, d)); p++)
      for (size_t r = 0; r < sizeof joint_ohms / sizeof joint_ohms[0]; r++)
        {
          MlNodalChange change = { .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = p, .value = joint_ohms[r] };
          Moved moved = { d, p, SPARE };
          char what[80];

          build (&built, &moved, 1);
          kit_two (&built.kit, joint_ohms[r] > 0 ? "resistor" : "link", table[d].nets[p], SPARE, joint_ohms[r]);
          kit_solve (&built.kit, NULL, 0);
          assert_true (ml_nodal_solve (changed.kit.solver, &change, 1, &healthy, &changed.kit.at) >= 0);
          snprintf (what, sizeof what, "device %d pin %d %g ohm", d, p, joint_ohms[r]);
          compare (&changed, &built, what);
          int pin = ml_nodal_circuit_first_pin (changed.kit.circuit, d) + p;
          if (!built.kit.at.floating[SPARE])
            assert_near (changed.kit.at.metal_v[pin], built.kit.at.net_v[SPARE], 1e-6, 1e-6);
          kit_end (&built.kit);
        }
  assert_int_equal (ml_nodal_solver_counts (changed.kit.solver).analyses, 1);
  ml_nodal_solution_clear (&healthy);
  kit_end (&changed.kit);
}

/* A battery, a resistor and an LED tied to nothing: a joint at any of their pins is so much more resistance (Kirchhoff's voltage law), and the piece
 * stays without a voltage against the reference. */
static void
test_joint_in_a_floating_piece_of_circuit (void **state)
{
  static const double ohms[] = { 1, 330, 1e5, INFINITY };

  for (size_t r = 0; r < sizeof ohms / sizeof ohms[0]; r++)
    {
      Kit kit, built;
      int devices[3];

      kit_begin (&kit, 4);
      kit_two (&kit, "resistor", 1, 0, 1e3);
      devices[0] = kit_add (&kit, "battery", NETS (2, 3), "voltage", 9.0, "resistance", 1.0, NULL);
      devices[1] = kit_two (&kit, "resistor", 2, 4, 1e3);
      devices[2] = kit_add (&kit, "led", NETS (4, 3), NULL);
      kit_begin (&built, 3);
      kit_add (&built, "battery", NETS (1, 0), "voltage", 9.0, "resistance", 1.0, NULL);
      int resistor = kit_two (&built, "resistor", 1, 2, isfinite (ohms[r]) ? 1e3 + ohms[r] : 1e30);
      kit_add (&built, "led", NETS (2, 0), NULL);
      kit_solve (&built, NULL, 0);
      for (int pin = 0; pin < 6; pin++)
        {
          MlNodalChange change = { .kind = ML_NODAL_PIN_RESISTANCE, .device = devices[pin / 2], .index = pin % 2, .value = ohms[r] };

          kit_solve (&kit, &change, 1);
          for (int d = 1; d < 3; d++)
            assert_near (kit_pin_a (&kit, devices[d], 0), kit_pin_a (&built, resistor, 0), 1e-8, 1e-12);
          assert_true (kit.at.floating[2] && kit.at.floating[3] && kit.at.floating[4] && !kit.at.floating[1]);
        }
      kit_end (&kit);
      kit_end (&built);
    }
}

static void
test_bridge_is_a_resistor_across (void **state)
{
  static const double ohms[] = { 0, 0.1, 50, 1e4 };
  Board changed, built;

  build (&changed, NULL, 0);
  kit_ready (&changed.kit);
  for (int d = changed.fuse; d <= changed.sense; d++)
    for (int p = 0; p < ml_nodal_type_n_pins (ml_nodal_circuit_type (changed.kit.circuit, d)); p++)
      for (int q = 0; q < p; q++)
        for (size_t r = 0; r < 4; r++)
          {
            MlNodalChange change = { .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = q, .index_b = p, .value = ohms[r] };
            char what[80];
            build (&built, NULL, 0);
            int across = kit_two (&built.kit, ohms[r] > 0 ? "resistor" : "link", table[d].nets[q], table[d].nets[p], ohms[r]);
            kit_solve (&built.kit, NULL, 0);
            kit_solve (&changed.kit, &change, 1);
            snprintf (what, sizeof what, "device %d pins %d %d %g ohm", d, q, p, ohms[r]);
            /* What flows in the short flows through the part's pins. */
            int first = ml_nodal_circuit_first_pin (built.kit.circuit, d);
            built.kit.at.pin_a[first + q] += kit_pin_a (&built.kit, across, 0);
            built.kit.at.pin_a[first + p] += kit_pin_a (&built.kit, across, 1);
            compare (&changed, &built, what);
            kit_end (&built.kit);
          }
  assert_int_equal (ml_nodal_solver_counts (changed.kit.solver).analyses, 1);
  kit_end (&changed.kit);
}

static void
test_short_behind_a_joint (void **state)
{
  /* Both on one part: the joint lies outside the short. */
  Board changed, built;
  Moved moved;

  build (&changed, NULL, 0);
  kit_ready (&changed.kit);
  for (int k = 0; k < 4; k++)
    {
      int device = k < 2 ? changed.led_r : changed.fuse;
      double ohm = k % 2 ? 0 : 7;
      MlNodalChange changes[2] = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = device, .index = 1, .value = 220 },
                                   { .kind = ML_NODAL_BRIDGE_PINS, .device = device, .index = 0, .index_b = 1, .value = ohm } };
      moved = (Moved){ device, 1, SPARE };
      build (&built, &moved, 1);
      kit_two (&built.kit, "resistor", k < 2 ? LED : FUSED, SPARE, 220);
      kit_two (&built.kit, ohm > 0 ? "resistor" : "link", k < 2 ? FIVE : FEED, SPARE, ohm);
      kit_solve (&built.kit, NULL, 0);
      kit_solve (&changed.kit, changes, 2);
      for (int net = 1; net <= ZENER; net++)
        assert_near (changed.kit.at.net_v[net], built.kit.at.net_v[net], 1e-7, 1e-7);
      kit_end (&built.kit);
    }
  kit_end (&changed.kit);
}

static void
test_link_between_any_two_nets (void **state)
{
  static const double ohms[] = { 0, 20, 1e6 };
  Board changed, built;

  build (&changed, NULL, 0);
  kit_ready (&changed.kit);
  for (int a = 0; a <= N_NETS; a++)
    for (int b = 0; b < a; b++)
      for (int r = 0; r < 3; r++)
        {
          MlNodalChange change = { .kind = ML_NODAL_LINK_NETS, .device = -1, .index = a, .index_b = b, .value = ohms[r] };
          char what[80];
          build (&built, NULL, 0);
          kit_two (&built.kit, ohms[r] > 0 ? "resistor" : "link", a, b, ohms[r]);
          kit_solve (&built.kit, NULL, 0);
          kit_solve (&changed.kit, &change, 1);
          snprintf (what, sizeof what, "nets %d %d %g ohm", a, b, ohms[r]);
          compare (&changed, &built, what);
          kit_end (&built.kit);
        }
  assert_int_equal (ml_nodal_solver_counts (changed.kit.solver).analyses, 1);
  kit_end (&changed.kit);
}

static void
test_broken_track_is_another_net (void **state)
{
  Board changed, built;
  Moved moved[3];

  build (&changed, NULL, 0);
  kit_ready (&changed.kit);
  MlNodalChange changes[3] = { { .kind = ML_NODAL_DETACH, .device = changed.regulator, .index = 0, .index_b = 1 },
                               { .kind = ML_NODAL_DETACH, .device = changed.zener_r, .index = 0, .index_b = 1 },
                               { .kind = ML_NODAL_DETACH, .device = changed.coil, .index = 0, .index_b = 0 } };
  for (int n = 1; n <= 3; n++)
    {
      moved[0] = (Moved){ changed.regulator, 0, SPARE };
      moved[1] = (Moved){ changed.zener_r, 0, SPARE };
      moved[2] = (Moved){ changed.coil, 0, SPARE + 1 };
      build (&built, moved, n);
      kit_solve (&built.kit, NULL, 0);
      kit_solve (&changed.kit, changes, n);
      compare (&changed, &built, "broken track");
      kit_end (&built.kit);
    }
  assert_int_equal (ml_nodal_solver_counts (changed.kit.solver).analyses, 1);
  kit_end (&changed.kit);
}

/* Every pin on every net, against the board built so; where the built one has no operating point the changed one has none either. */
static void
test_pin_on_another_net (void **state)
{
  Board changed, built;
  int n_solved = 0;

  build (&changed, NULL, 0);
  kit_ready (&changed.kit);
  for (int d = 0; d <= changed.sense; d++)
    for (int p = 0; p < table[d].n; p++)
      for (int net = 0; net < N_NETS; net++)
        {
          Moved moved = { d, p, net };
          MlNodalChange change = { .kind = ML_NODAL_MOVE_PIN, .device = d, .index = p, .index_b = net };
          char what[80];
          build (&built, &moved, 1);
          kit_ready (&built.kit);
          snprintf (what, sizeof what, "device %d pin %d on net %d", d, p, net);
          MlNodalStatus status = ml_nodal_solve (built.kit.solver, NULL, 0, NULL, &built.kit.at);
          MlNodalStatus same = ml_nodal_solve (changed.kit.solver, &change, 1, NULL, &changed.kit.at);
          assert_int_equal (same >= 0, status >= 0);
          if (status >= 0)
            {
              compare (&changed, &built, what);
              n_solved++;
            }
          kit_end (&built.kit);
        }
  assert_int_equal (ml_nodal_solver_counts (changed.kit.solver).analyses, 1);
  assert_true (n_solved > 250); /* of 280 */
  kit_end (&changed.kit);
}

static void
test_exchanged_pins (void **state)
{
  Board changed, built;
  static const int turned[] = { 1, 0 }, orders[5][3] = { { 0, 2, 1 }, { 1, 0, 2 }, { 1, 2, 0 }, { 2, 0, 1 }, { 2, 1, 0 } };
  static const int npn_nets[3] = { COLLECTOR, BASE, 0 };

  build (&changed, NULL, 0);
  kit_ready (&changed.kit);
  MlNodalChange change = { .kind = ML_NODAL_PERMUTE_PINS, .device = changed.led, .permutation = turned };
  Moved led[2] = { { changed.led, 0, 0 }, { changed.led, 1, LED } };
  build (&built, led, 2);
  kit_solve (&built.kit, NULL, 0);
  kit_solve (&changed.kit, &change, 1);
  compare (&changed, &built, "LED turned");
  kit_end (&built.kit);
  for (int o = 0; o < 5; o++)
    {
      Moved moved[3];
      for (int k = 0; k < 3; k++)
        moved[k] = (Moved){ changed.npn, k, npn_nets[orders[o][k]] };
      build (&built, moved, 3);
      kit_solve (&built.kit, NULL, 0);
      change = (MlNodalChange){ .kind = ML_NODAL_PERMUTE_PINS, .device = changed.npn, .permutation = orders[o] };
      kit_solve (&changed.kit, &change, 1);
      compare (&changed, &built, "transistor pins");
      kit_end (&built.kit);
    }
  kit_end (&changed.kit);
}

static void
test_opened_element_of_a_bridge (void **state)
{
  /* A bridge against four diodes; one of each opened. */
  Kit bridge, diodes;
  static const int pairs[4][2] = { { 1, 3 }, { 2, 3 }, { 0, 1 }, { 0, 2 } };

  for (int open = -1; open < 4; open++)
    for (int turned = 0; turned < 2; turned++)
      {
        kit_begin (&bridge, 3);
        kit_begin (&diodes, 3);
        kit_add (&bridge, "supply", NETS (1 + turned, 2 - turned), "voltage", 9.0, NULL);
        kit_add (&diodes, "supply", NETS (1 + turned, 2 - turned), "voltage", 9.0, NULL);
        kit_two (&bridge, "resistor", 3, 0, 470);
        kit_two (&diodes, "resistor", 3, 0, 470);
        int b = kit_add (&bridge, "bridge", NETS (1, 2, 3, 0), NULL);
        for (int e = 0; e < 4; e++)
          if (e != open)
            kit_add (&diodes, "diode", pairs[e], "drop", 0.75, NULL);
        MlNodalChange change = { .kind = ML_NODAL_OPEN_ELEMENT, .device = b, .index = open };
        kit_solve (&bridge, &change, open >= 0);
        kit_solve (&diodes, NULL, 0);
        for (int net = 1; net < 4; net++)
          assert_near (bridge.at.net_v[net], diodes.at.net_v[net], 1e-7, 1e-7);
        kit_end (&bridge);
        kit_end (&diodes);
      }
}

static void
test_open_ends_float_and_carry_nothing (void **state)
{
  Board board;

  build (&board, NULL, 0);
  MlNodalChange both[2] = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 9, .index = 0, .value = INFINITY },
                            { .kind = ML_NODAL_PIN_RESISTANCE, .device = 9, .index = 1, .value = INFINITY } };
  kit_solve (&board.kit, both, 2);
  assert_near (kit_pin_a (&board.kit, board.led, 0), 0, 0, 1e-18);
  assert_near (board.kit.at.net_v[LED], board.kit.at.net_v[FIVE], 1e-9, 0);
  assert_true (board.kit.at.floating[SPARE]); /* nothing is on it */
  assert_false (board.kit.at.floating[LED]);
  kit_end (&board.kit);
}

static void
test_bad_changes_are_refused (void **state)
{
  Board board;
  build (&board, NULL, 0);
  kit_solve (&board.kit, NULL, 0);
  static const int wrong[] = { 0, 7 };
  const MlNodalChange bad[] = {
    { .kind = ML_NODAL_SET_PARAMETER, .device = 99, .value = 1 },
    { .kind = ML_NODAL_SET_PARAMETER, .device = 1, .index = 5, .value = 1 },
    { .kind = ML_NODAL_SET_PARAMETER, .device = 1, .value = NAN },
    { .kind = ML_NODAL_PIN_RESISTANCE, .device = 1, .index = 2, .value = 1 },
    { .kind = ML_NODAL_PIN_RESISTANCE, .device = 1, .index = 0, .value = -1 },
    { .kind = ML_NODAL_BRIDGE_PINS, .device = 1, .index = 0, .index_b = 9, .value = 1 },
    { .kind = ML_NODAL_LINK_NETS, .index = 0, .index_b = 99, .value = 1 },
    { .kind = ML_NODAL_DETACH, .device = 1, .index = 0, .index_b = ML_NODAL_MAX_SPARE },
    { .kind = ML_NODAL_MOVE_PIN, .device = 1, .index = 0, .index_b = 99 },
    { .kind = ML_NODAL_PERMUTE_PINS, .device = 1 },
    { .kind = ML_NODAL_PERMUTE_PINS, .device = 1, .permutation = wrong },
    { .kind = ML_NODAL_OPEN_ELEMENT, .device = 1, .index = 3 },
  };
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
    assert_int_equal (ml_nodal_solve (board.kit.solver, &bad[i], 1, NULL, &board.kit.at), ML_NODAL_BAD_ARGUMENT);
  kit_solve (&board.kit, NULL, 0);
  kit_end (&board.kit);
}

static void
test_relay_follows_its_coil (void **state)
{
  /* Pull-in above 9 V, release below 1.2 V (the defaults); a lamp resistor on the make contact. */
  Kit kit;
  kit_begin (&kit, 3);
  int supply = kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  int coil = kit_add (&kit, "coil", NETS (1, 0), "resistance", 400.0, "pull", 9.0, "release", 1.2, NULL);
  int contact = kit_add (&kit, "contact", NETS (1, 2, 3), NULL);
  kit_two (&kit, "resistor", 2, 0, 100);
  kit_two (&kit, "resistor", 3, 0, 100);
  assert_int_equal (ml_nodal_circuit_drive (kit.circuit, contact, coil), ML_NODAL_OK);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 12, 1e-2, 0);
  assert_near (kit.at.net_v[3], 0, 0, 1e-9);
  MlNodalChange low = { .kind = ML_NODAL_SET_PARAMETER, .device = supply, .index = 0, .value = 8 };
  kit_solve (&kit, &low, 1);
  assert_near (kit.at.net_v[3], 8, 1e-2, 0);
  MlNodalChange stuck = { .kind = ML_NODAL_SET_PARAMETER, .device = contact, .index = 1, .value = 0 };
  kit_solve (&kit, &stuck, 1);
  assert_near (kit.at.net_v[3], 12, 1e-2, 0);
  kit_end (&kit);
}

/* 12 V through 100 ohm on a coil of 400 ohm: 9.6 V, more than the 9 V it pulls at. Its contact then puts 80 ohm across it: 4.8 V (Ohm's law), less
 * than that and more than the 1.2 V it lets go at. It holds. */
static void
test_relay_holds_below_its_pull_voltage (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  int supply = kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100);
  int coil = kit_add (&kit, "coil", NETS (2, 0), "resistance", 400.0, "pull", 9.0, "release", 1.2, NULL);
  int contact = kit_add (&kit, "contact", NETS (2, 3, -1), NULL);
  kit_two (&kit, "resistor", 3, 0, 80);
  assert_int_equal (ml_nodal_circuit_drive (kit.circuit, contact, coil), ML_NODAL_OK);
  MlNodalChange low = { .kind = ML_NODAL_SET_PARAMETER, .device = supply, .index = 0, .value = 6 };
  kit_solve (&kit, NULL, 0);
  assert_int_equal (kit.at.status, ML_NODAL_OK);
  assert_near (kit.at.net_v[2], 4.8, 1e-2, 0);
  kit_solve (&kit, &low, 1); /* 4.8 V again, but it has never pulled */
  assert_near (kit.at.net_v[2], 4.8, 1e-2, 0);
  assert_near (kit.at.net_v[3], 0, 0, 1e-6);
  kit_end (&kit);
}

/* An open part whose solder is bad as well ties nothing: the net at that end floats as it does with good solder. */
static void
test_open_part_with_a_bad_joint_leaves_its_net_floating (void **state)
{
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  int resistor = kit_two (&kit, "resistor", 1, 2, 1e3);
  MlNodalChange changes[] = { { .kind = ML_NODAL_OPEN_ELEMENT, .device = resistor, .index = 0 },
                              { .kind = ML_NODAL_PIN_RESISTANCE, .device = resistor, .index = 1, .value = 1e3 } };
  for (int n = 1; n <= 2; n++)
    {
      kit_solve (&kit, changes, n);
      assert_true (kit.at.floating[2]);
      assert_false (kit.at.floating[1]);
    }
  kit_end (&kit);
}

static void
test_solution_does_not_depend_on_history (void **state)
{
  /* The same fault from the same start, in a new solver and in one that has solved hundreds of others: the same bits. */
  Board used, fresh;
  MlNodalSolution healthy;

  build (&used, NULL, 0);
  kit_solve (&used.kit, NULL, 0);
  assert_int_equal (ml_nodal_solution_init (&healthy, used.kit.circuit), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solution_copy (&healthy, &used.kit.at, used.kit.circuit), ML_NODAL_OK);
  for (int d = 0; d <= used.sense; d++)
    for (size_t r = 0; r < sizeof joint_ohms / sizeof joint_ohms[0]; r++)
      {
        MlNodalChange change = { .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = 0, .value = joint_ohms[r] };
        MlNodalMeter meter = { .red = { FIVE, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 10e6 };
        double a, b;
        build (&fresh, NULL, 0);
        kit_ready (&fresh.kit);
        MlNodalStatus status = ml_nodal_solve (used.kit.solver, &change, 1, &healthy, &used.kit.at);
        assert_int_equal (ml_nodal_solve (fresh.kit.solver, &change, 1, &healthy, &fresh.kit.at), status);
        assert_memory_equal (used.kit.at.net_v, fresh.kit.at.net_v, sizeof (double) * (N_NETS + 1));
        if (status >= 0)
          {
            assert_int_equal (ml_nodal_measure (used.kit.solver, &change, 1, &used.kit.at, &meter, NULL, 0, &a, NULL, NULL, NULL),
                              ml_nodal_measure (fresh.kit.solver, &change, 1, &fresh.kit.at, &meter, NULL, 0, &b, NULL, NULL, NULL));
            assert_memory_equal (&a, &b, sizeof a);
          }
        kit_end (&fresh.kit);
      }
  ml_nodal_solution_clear (&healthy);
  kit_end (&used.kit);
}

static void
test_flip_flop_takes_the_preferred_state (void **state)
{
  /* Two transistors, each holding the other off: textbook bistable. One collector high, one at a saturated transistor's few tenths. */
  for (int high = -1; high <= 1; high += 2)
    {
      Kit kit;
      kit_begin (&kit, 5);
      kit_add (&kit, "supply", NETS (1, 0), "voltage", 9.0, NULL);
      kit_two (&kit, "resistor", 1, 2, 1000);
      kit_two (&kit, "resistor", 1, 3, 1000);
      kit_two (&kit, "resistor", 2, 5, 22e3);
      kit_two (&kit, "resistor", 3, 4, 22e3);
      kit_add (&kit, "npn", NETS (2, 4, 0), NULL);
      kit_add (&kit, "npn", NETS (3, 5, 0), NULL);
      assert_int_equal (ml_nodal_circuit_prefer (kit.circuit, 2, high), ML_NODAL_OK);
      kit_ready (&kit);
      assert_int_equal (ml_nodal_solve (kit.solver, NULL, 0, NULL, &kit.at), ML_NODAL_AMBIGUOUS);
      assert_true (kit.at.net_v[high > 0 ? 2 : 3] > 8 && kit.at.net_v[high > 0 ? 3 : 2] < 0.3);
      kit_end (&kit);
    }
}

static void
test_cut_gate_rests_on_its_source (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 1000);
  int q = kit_add (&kit, "pmos", NETS (2, 0, 1), NULL);
  kit_two (&kit, "resistor", 2, 0, 1000);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 12, 1e-2, 0); /* on: the gate lies 12 V below the source */
  MlNodalChange cut = { .kind = ML_NODAL_PIN_RESISTANCE, .device = q, .index = 1, .value = INFINITY };
  kit_solve (&kit, &cut, 1);
  assert_near (kit.at.net_v[2], 6, 1e-6, 0); /* off: the divider alone */
  assert_near (kit.at.metal_v[ml_nodal_circuit_first_pin (kit.circuit, q) + 1], 12, 1e-6, 0);
  kit_end (&kit);
}

/* A regulator without its load: the law of its pass element, i = limit / (1 + exp (t)) at t widths of 0.2 mV above what it aims for, has its own
 * 100 Mohm take 12.5 nA of 1 A at t = 18.2, in closed form. Newton on the voltage walks one width a step from half an ampere on. */
static void
test_idle_regulator_is_not_walked_down_its_tail (void **state)
{
  Kit kit;
  MlNodalSolution idle;

  kit_begin (&kit, 2);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  kit_add (&kit, "adjustable", NETS (1, 2, 0), "reference", 1.25, "limit", 1.0, "dropout", 2.0, NULL);
  int load = kit_two (&kit, "resistor", 2, 0, 2.5);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 1.25, 1e-6, 0);
  assert_int_equal (ml_nodal_solution_init (&idle, kit.circuit), ML_NODAL_OK);
  MlNodalChange open = { .kind = ML_NODAL_PIN_RESISTANCE, .device = load, .index = 0, .value = INFINITY };
  assert_int_equal (ml_nodal_solve (kit.solver, &open, 1, &kit.at, &idle), ML_NODAL_OK);
  assert_near (idle.net_v[2] - 1.25, 0.2e-3 * log (1 / 12.5e-9), 1e-3, 0);
  assert_int_equal (idle.rung, ML_NODAL_RUNG_WARM);
  assert_true (idle.iterations < 10);
  ml_nodal_solution_clear (&idle);
  kit_end (&kit);
}

/* More is drawn out of an unfed input than an adjustable regulator takes itself: the net ends where the slope of what it takes, a millionth
 * a volt as of a load, makes up for the rest: 950 uA / 50e-12 S. With no slope it ended at -1e82 V, where rounding excused every residual. */
static void
test_unfed_regulator_ends_at_a_finite_voltage (void **state)
{
  Kit kit;

  kit_begin (&kit, 4);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  int u1 = kit_add (&kit, "adjustable", NETS (2, 3, 0), "quiescent", 50e-6, NULL);
  kit_two (&kit, "resistor", 2, 4, 1e4);
  kit_add (&kit, "current-source", NETS (2, 0), "current", 1e-3, NULL);
  MlNodalChange opened = { .kind = ML_NODAL_OPEN_ELEMENT, .device = u1, .index = 0 };
  kit_solve (&kit, &opened, 1);
  assert_near (kit.at.net_v[2], -950e-6 / 50e-12, 1, 0);
  kit_end (&kit);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_joint_is_a_resistor_in_series), cmocka_unit_test (test_joint_in_a_floating_piece_of_circuit),
    cmocka_unit_test (test_bridge_is_a_resistor_across),
    cmocka_unit_test (test_short_behind_a_joint), cmocka_unit_test (test_link_between_any_two_nets),
    cmocka_unit_test (test_broken_track_is_another_net), cmocka_unit_test (test_pin_on_another_net),
    cmocka_unit_test (test_exchanged_pins),
    cmocka_unit_test (test_opened_element_of_a_bridge), cmocka_unit_test (test_open_ends_float_and_carry_nothing),
    cmocka_unit_test (test_bad_changes_are_refused), cmocka_unit_test (test_relay_follows_its_coil),
    cmocka_unit_test (test_relay_holds_below_its_pull_voltage),
    cmocka_unit_test (test_open_part_with_a_bad_joint_leaves_its_net_floating),
    cmocka_unit_test (test_solution_does_not_depend_on_history), cmocka_unit_test (test_flip_flop_takes_the_preferred_state),
    cmocka_unit_test (test_cut_gate_rests_on_its_source), cmocka_unit_test (test_idle_regulator_is_not_walked_down_its_tail),
    cmocka_unit_test (test_unfed_regulator_ends_at_a_finite_voltage),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
