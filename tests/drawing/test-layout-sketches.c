/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards of a few parts whose drawing must show one thing (common practice of the drawing office). */
#include "drawing/layout-boards.h"

#include "support/near.h"

/* ---- which nets are rails ---- */

static const char shed_charger[] = "board \"Charger in the garden shed\"\n"
                                   "reference GND\n"
                                   "part J1 connector PV=PV N=GND\n"
                                   "part D1 diode anode=PV cathode=VD\n"
                                   "part Q1 pmos source=VD gate=G drain=BAT\n"
                                   "part R1 resistor 1=VD 2=G value=100k\n"
                                   "part D2 zener cathode=VD anode=G voltage=12\n"
                                   "part R2 resistor 1=G 2=K value=10k\n"
                                   "part Q2 npn collector=K base=B emitter=GND\n"
                                   "part R3 resistor 1=OUT 2=B value=22k\n"
                                   "part U1 comparator noninverting=REF inverting=IN out=OUT positive=BAT negative=GND\n"
                                   "part R4 resistor 1=BAT 2=IN value=47k\n"
                                   "part R5 resistor 1=IN 2=GND value=10k\n"
                                   "part R6 resistor 1=BAT 2=REF value=4k7\n"
                                   "part D3 zener cathode=REF anode=GND voltage=2.5\n"
                                   "part J2 connector P=BAT N=GND\n"
                                   "condition sun \"sun, no battery\"\n"
                                   "  supply plus=PV minus=GND voltage=18 limit=500m\n";

/* The drawing of a board whose nets have these voltages, one after the other as the board names them; what is left out is 0. */
static MlScene *
drawn_at (MlBoard *board, const char *const *at_18_v)
{
  g_autofree double *net_v = g_new0 (double, board->n_nets);
  MlLayoutOptions options = { .effort = 1, .net_v = net_v };
  MlScene *scene;

  for (; *at_18_v != NULL; at_18_v++)
    net_v[ml_board_find_net (board, *at_18_v)] = 18;
  scene = ml_layout (board, &options, NULL, NULL);
  assert_non_null (scene);
  assert_int_equal (ml_test_hard_faults (scene, "sketch"), 0);
  return scene;
}

/* Resistor and zener hold a gate as high as its supply while nothing pulls it down; it is drawn all the same. */
static void
test_layout_gate_held_at_its_supply_is_no_rail (void **state)
{
  static const char *const high[] = { "PV", "VD", "G", "K", NULL };
  MlBoard *board = ml_test_board (shed_charger);
  MlScene *scene = drawn_at (board, high);

  assert_int_equal (ml_test_flags (scene, "G", ML_FLAG_UP_RAIL), 0);
  assert_true (ml_test_flags (scene, "VD", ML_FLAG_UP_RAIL) > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* No battery, and the transistor does not conduct: what feeds the comparator is its supply all the same. */
static void
test_layout_supply_of_a_chip_is_a_rail_though_nothing_comes_there (void **state)
{
  static const char *const high[] = { "PV", "VD", "G", "K", NULL };
  MlBoard *board = ml_test_board (shed_charger);
  MlScene *scene = drawn_at (board, high);

  assert_true (ml_test_flags (scene, "BAT", ML_FLAG_UP_RAIL) > 0);
  assert_true (ml_test_pin (scene, "R4", "1").y < ml_test_pin (scene, "R4", "2").y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_gate_held_at_its_supply_is_no_rail),
    cmocka_unit_test (test_layout_supply_of_a_chip_is_a_rail_though_nothing_comes_there),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
