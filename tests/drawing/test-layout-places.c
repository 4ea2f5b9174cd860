/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where on a sheet a draughtsman puts what no structure holds: connectors, capacitors of chips, rings of a supply, pins of a chip (common practice of
 * the drawing office). */
#include "drawing/layout-boards.h"

#include <math.h>
#include <string.h>

#include "support/near.h"
#include "support/size.h"

static const MlScenePin *
pin_of (const MlScene *scene, const char *part, const char *pin)
{
  const int i = ml_board_find_part (scene->board, part);

  assert_true (i >= 0);
  for (guint k = 0; k < scene->board->parts[i].n_pins; k++)
    if (strcmp (scene->board->parts[i].pins[k].name, pin) == 0)
      return &scene->pins[ml_scene_pin (scene, i, (int) k)];
  fail_msg ("%s has no pin %s", part, pin);
  return NULL;
}

/* Cables leave a sheet at its edges: nothing stands beyond a connector in its rows. */
static void
test_layout_nothing_stands_beyond_a_connector (void **state)
{
  static const struct { const char *name, *part; gboolean leaves_right; } at[]
      = { { "glue-pot.leafboard", "J2", FALSE },         { "glue-pot.leafboard", "J3", TRUE }, { "greenhouse-fan.leafboard", "J2", FALSE },
          { "intercom.leafboard", "J3", TRUE } /* behind its coupling capacitor */,
          { "winch-half-bridge.leafboard", "J2", FALSE } };

  for (guint k = 0; k < G_N_ELEMENTS (at); k++)
    {
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (at[k].name, &board);
      int part = ml_board_find_part (board, at[k].part);
      const MlBox *box = NULL;
      for (guint i = 0; i < scene->n_symbols; i++)
        if (scene->symbols[i].part == part)
          box = &scene->symbols[i].body;
      assert_non_null (box);
      for (guint i = 0; i < scene->n_symbols; i++)
        {
          const MlBox *other = &scene->symbols[i].body;
          if (scene->symbols[i].part == part || other->y1 < box->y0 || other->y0 > box->y1)
            continue;
          if (at[k].leaves_right ? other->x1 > box->x1 : other->x0 < box->x0)
            fail_msg ("%s: %s stands beyond %s", at[k].name, board->parts[scene->symbols[i].part].name, at[k].part);
        }
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* The capacitor that guards a chip's supply hangs no lower than the pin that it guards. */
static void
test_layout_capacitor_hangs_above_its_chip (void **state)
{
  static const struct { const char *name, *capacitor, *chip, *pin; } at[] = { { "chain-lubricator.leafboard", "C3", "U2", "VCC" },
                                                                               { "relay-card.leafboard", "C3", "U2", "VDD" },
                                                                               { "aspect-driver.leafboard", "C3", "U2", "VDD" },
                                                                               { "lamp-matrix.leafboard", "C3", "U2", "VDD" } };

  for (guint k = 0; k < G_N_ELEMENTS (at); k++)
    {
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (at[k].name, &board);
      const MlPoint end = pin_of (scene, at[k].capacitor, "1")->at, supply = pin_of (scene, at[k].chip, at[k].pin)->at;
      if (end.y > supply.y)
        fail_msg ("%s: %s hangs %g below", at[k].name, at[k].capacitor, end.y - supply.y);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* A pin of a connector that is drawn by itself has its supply's bar above, its wire does not bend round the ring. */
static void
test_layout_ring_of_a_supply_hangs_from_its_bar (void **state)
{
  static const struct { const char *name, *part, *pin; } at[]
      = { { "aspect-driver.leafboard", "J3", "COM" }, { "vine-house.leafboard", "J3", "V12" }, { "scale-amplifier.leafboard", "J2", "EXP" } };

  if (ml_test_is_small ())
    return; /* in a first drawing one may stand beside its bar */
  for (guint k = 0; k < G_N_ELEMENTS (at); k++)
    {
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (at[k].name, &board);
      assert_int_equal (pin_of (scene, at[k].part, at[k].pin)->side, ML_SIDE_UP);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* A ring before a chip's input, of which nothing else is known, looks at it: what stands on the chip's left has its wire on the right. */
static void
test_layout_ring_looks_at_what_it_leads_to (void **state)
{
  static const char *const rings[][2] = { { "D0", "IN" }, { "D1", "CK" }, { "D2", "LT" } };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("track-diagram.leafboard", &board);

  for (guint k = 0; k < G_N_ELEMENTS (rings); k++)
    {
      const MlScenePin *ring = pin_of (scene, "J1", rings[k][0]), *input = pin_of (scene, "U1", rings[k][1]);
      assert_int_equal (ring->side, ring->at.x < input->at.x ? ML_SIDE_RIGHT : ML_SIDE_LEFT);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lines that run alike have their pins on one side of a chip, also where one of them could be taken for the chip's ground. */
static void
test_layout_pins_alike_stay_on_one_side (void **state)
{
  static const char *const digits[] = { "K1", "K2", "K3", "K4" };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("layout-clock.leafboard", &board);

  for (guint k = 0; k < G_N_ELEMENTS (digits); k++)
    assert_near (pin_of (scene, "U3", digits[k])->at.x, pin_of (scene, "U3", "A")->at.x, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static gboolean
has_bar (const MlScene *scene, const char *net)
{
  for (guint i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].kind == ML_FLAG_UP_RAIL && strcmp (scene->board->nets[scene->flags[i].net].name, net) == 0)
      return TRUE;
  return FALSE;
}

/* A node that a resistor charges and amplifiers watch is a signal, however high it stands in the end. */
static void
test_layout_timing_node_has_no_bar (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("press-timer.leafboard", &board);

  assert_true (has_bar (scene, "V12"));
  assert_false (has_bar (scene, "RC"));
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* What four diodes feed stays a rail when a follower takes from it and feeds others: the coil's transistor stands below the coil. */
static void
test_layout_rail_before_a_follower_is_one (void **state)
{
  MlBoard *board = ml_test_board ("board \"Points of a yard\"\nreference GND\n"
                                  "part D1 diode anode=FEED cathode=VPLUS\npart D2 diode anode=BACK cathode=VPLUS\n"
                                  "part D3 diode anode=GND cathode=FEED\npart D4 diode anode=GND cathode=BACK\n"
                                  "part R1 resistor 1=VPLUS 2=ZREF value=470\npart D5 zener anode=GND cathode=ZREF voltage=6.8\n"
                                  "part Q1 npn collector=VPLUS base=ZREF emitter=VREG\n"
                                  "part R2 resistor 1=VREG 2=LA\npart LED1 led anode=LA cathode=GND\n"
                                  "part R3 resistor 1=VREG 2=LB\npart LED2 led anode=LB cathode=GND\n"
                                  "part S1 switch 1=VREG 2=ASK\npart R4 resistor 1=ASK 2=B value=4k7\npart R5 resistor 1=B 2=GND value=10k\n"
                                  "part Q2 npn collector=KC base=B emitter=GND\npart K1 coil 1=VPLUS 2=KC resistance=270 show=relay\n"
                                  "part D6 diode anode=KC cathode=VPLUS\n"
                                  "condition on\n  supply plus=FEED minus=BACK voltage=12 limit=300m\n");
  MlScene *scene = ml_test_layout (board, 2);
  const MlPoint foot = pin_of (scene, "K1", "2")->at, collector = pin_of (scene, "Q2", "collector")->at;

  assert_true (has_bar (scene, "VPLUS"));
  assert_near (foot.x, collector.x, 0, 1e-9);
  assert_true (foot.y < collector.y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A resistor that takes some of a regulator's heat lies in the supply's line, before the regulator. */
static void
test_layout_resistor_before_a_regulator_lies_in_line (void **state)
{
  MlBoard *board = ml_test_board ("board \"Bench lamp\"\nreference GND\npart D1 diode anode=PACK cathode=VIN\n"
                                  "part C1 capacitor plus=VIN minus=GND value=220u\npart R1 resistor 1=VIN 2=UREG value=10\n"
                                  "part U1 regulator in=UREG out=V5 ground=GND voltage=5\npart C2 capacitor plus=V5 minus=GND value=100u\n"
                                  "part K1 coil 1=VIN 2=KC resistance=270 show=relay\npart D2 diode anode=KC cathode=VIN\n"
                                  "part S1 switch 1=KC 2=GND\npart R2 resistor 1=V5 2=LA value=470\npart LED1 led anode=LA cathode=GND\n"
                                  "condition on\n  supply plus=PACK minus=GND voltage=12 limit=300m\n");
  MlScene *scene = ml_test_layout (board, 2);
  const MlPoint diode = pin_of (scene, "D1", "cathode")->at, before = pin_of (scene, "R1", "1")->at, behind = pin_of (scene, "R1", "2")->at,
                in = pin_of (scene, "U1", "in")->at;

  assert_true (diode.x < before.x && before.x < behind.x && behind.x < in.x);
  assert_near (before.y, diode.y, 0, 1e-9);
  assert_near (behind.y, diode.y, 0, 1e-9);
  assert_near (in.y, diode.y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The names of what couples two transistors stand at it, also below a lamp. */
static void
test_layout_names_of_a_coupling_stand_at_it (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("crossing-blinker.leafboard", &board);

  for (guint i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      const char *name = label->part < 0 || label->pin >= 0 ? "" : board->parts[label->part].name;
      if (label->kind != ML_LABEL_NAME || (strcmp (name, "C2") != 0 && strcmp (name, "C3") != 0))
        continue;
      const MlBox *body = &scene->symbols[ml_scene_symbol (scene, label->part)].body;
      assert_true (MAX (body->y0 - label->box.y1, label->box.y0 - body->y1) < 1.5);
      assert_true (MAX (body->x0 - label->box.x1, label->box.x0 - body->x1) < 1.5);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
ml_test_layout_places (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_nothing_stands_beyond_a_connector),
    cmocka_unit_test (test_layout_capacitor_hangs_above_its_chip),
    cmocka_unit_test (test_layout_ring_of_a_supply_hangs_from_its_bar),
    cmocka_unit_test (test_layout_ring_looks_at_what_it_leads_to),
    cmocka_unit_test (test_layout_pins_alike_stay_on_one_side),
    cmocka_unit_test (test_layout_timing_node_has_no_bar),
    cmocka_unit_test (test_layout_rail_before_a_follower_is_one),
    cmocka_unit_test (test_layout_resistor_before_a_regulator_lies_in_line),
    cmocka_unit_test (test_layout_names_of_a_coupling_stand_at_it),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
