/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where on a sheet a draughtsman puts what no structure holds: connectors, capacitors of chips, rings of a supply, pins of a chip (common practice of
 * the drawing office). */
#include "drawing/layout-boards.h"

#include <math.h>
#include <string.h>

#include "support/near.h"

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

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_nothing_stands_beyond_a_connector),
    cmocka_unit_test (test_layout_capacitor_hangs_above_its_chip),
    cmocka_unit_test (test_layout_ring_of_a_supply_hangs_from_its_bar),
    cmocka_unit_test (test_layout_ring_looks_at_what_it_leads_to),
    cmocka_unit_test (test_layout_pins_alike_stay_on_one_side),
  };

  return cmocka_run_group_tests (tests, NULL, ml_test_forget_scenes);
}
