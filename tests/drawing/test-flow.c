/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The current in each drawn wire, from pin currents alone. */
#include "drawing/flow.h"

#include <math.h>

#include "drawing/layout.h"
#include "drawing/marks.h"
#include "support/near.h"

/* A ladder: 10 V, 1 k in series, then 2 k and 2 k in parallel: 5 mA in all, 2.5 mA in each (Ohm's law). */
static const char *const ladder = "board \"Ladder\"\nreference G\n"
                                  "part R1 resistor 1=P 2=M value=1k\npart R2 resistor 1=M 2=G value=2k\npart R3 resistor 1=M 2=G value=2k\n"
                                  "part J1 connector 1=P 2=G\ncondition on\n  supply plus=P minus=G voltage=10 limit=1\n";

typedef struct
{
  MlBoard *board;
  MlScene *scene;
  double **pin_a;
} Kit;

static Kit
make (const char *content)
{
  g_autoptr (MlText) text = ml_text_new ("kit", content, -1);
  Kit kit = { .board = ml_board_read (text, NULL) };
  const MlLayoutOptions options = { .effort = 1 };

  kit.scene = ml_layout (kit.board, &options, NULL, NULL);
  assert_non_null (kit.scene);
  kit.pin_a = g_new0 (double *, kit.board->n_parts);
  for (guint i = 0; i < kit.board->n_parts; i++)
    kit.pin_a[i] = g_new0 (double, MAX (kit.board->parts[i].n_pins, 1));
  return kit;
}

static void
kit_clear (Kit *kit)
{
  for (guint i = 0; i < kit->board->n_parts; i++)
    g_free (kit->pin_a[i]);
  g_free (kit->pin_a);
  ml_scene_unref (kit->scene);
  ml_board_unref (kit->board);
}

static void
set_ladder_currents (Kit *kit)
{
  const double amperes[4][2] = { { 5e-3, -5e-3 }, { 2.5e-3, -2.5e-3 }, { 2.5e-3, -2.5e-3 }, { -5e-3, 5e-3 } };

  for (guint i = 0; i < 4; i++)
    for (guint k = 0; k < 2; k++)
      kit->pin_a[i][k] = amperes[i][k];
}

/* What flows out of a point along the pieces that touch it. */
static double
leaving (const GArray *pieces, const MlScene *scene, int net, MlPoint at)
{
  double sum = 0;

  for (guint i = 0; i < pieces->len; i++)
    {
      const MlFlowPiece *piece = &g_array_index (pieces, MlFlowPiece, i);

      if (scene->wires[piece->wire].net != net)
        continue;
      if (piece->a.x == at.x && piece->a.y == at.y)
        sum += piece->current_a;
      if (piece->b.x == at.x && piece->b.y == at.y)
        sum -= piece->current_a;
    }
  return sum;
}

static void
test_flow_in_a_ladder_obeys_kirchhoff_at_every_pin (void **state)
{
  Kit kit = make (ladder);
  g_autoptr (GArray) pieces = NULL;
  guint checked = 0;

  set_ladder_currents (&kit);
  pieces = ml_flow_pieces (kit.scene, kit.pin_a);
  assert_true (pieces->len > 0);
  for (guint i = 0; i < kit.scene->n_pins; i++)
    {
      const MlScenePin *pin = &kit.scene->pins[i];
      double into_parts = 0;
      gboolean at_flag = FALSE;

      if (pin->net < 0)
        continue;
      for (guint k = 0; k < kit.scene->n_pins; k++)
        if (kit.scene->pins[k].net == pin->net && kit.scene->pins[k].at.x == pin->at.x && kit.scene->pins[k].at.y == pin->at.y)
          into_parts += kit.pin_a[kit.scene->pins[k].part][kit.scene->pins[k].pin];
      for (guint k = 0; k < kit.scene->n_flags; k++)
        at_flag |= kit.scene->flags[k].at.x == pin->at.x && kit.scene->flags[k].at.y == pin->at.y;
      if (at_flag)
        continue;
      /* Kirchhoff: what comes along the wires goes into the parts there */
      assert_near (-leaving (pieces, kit.scene, pin->net, pin->at), into_parts, 0, 1e-12);
      checked++;
    }
  assert_true (checked >= 3);
  kit_clear (&kit);
}

static void
test_flow_at_every_dot_sums_to_zero (void **state)
{
  Kit kit = make (ladder);
  g_autoptr (GArray) pieces = NULL;

  set_ladder_currents (&kit);
  pieces = ml_flow_pieces (kit.scene, kit.pin_a);
  for (guint i = 0; i < kit.scene->n_dots; i++)
    {
      const MlSceneDot *dot = &kit.scene->dots[i];
      gboolean at_pin = FALSE;

      for (guint k = 0; k < kit.scene->n_pins; k++)
        at_pin |= kit.scene->pins[k].at.x == dot->at.x && kit.scene->pins[k].at.y == dot->at.y;
      for (guint k = 0; k < kit.scene->n_flags; k++)
        at_pin |= kit.scene->flags[k].at.x == dot->at.x && kit.scene->flags[k].at.y == dot->at.y;
      if (at_pin)
        continue;
      assert_near (leaving (pieces, kit.scene, dot->net, dot->at), 0, 0, 1e-12);
    }
  kit_clear (&kit);
}

/* All of the 5 mA passes through R1: the wire at its first pin carries just that, in the direction of the pin. */
static void
test_flow_into_a_series_part_is_its_whole_current (void **state)
{
  Kit kit = make (ladder);
  g_autofree double *current = NULL;
  double largest = 0;

  set_ladder_currents (&kit);
  current = ml_scene_flow (kit.scene, kit.pin_a);
  for (guint i = 0; i < kit.scene->n_wires; i++)
    {
      assert_true (isfinite (current[i]));
      largest = MAX (largest, fabs (current[i]));
    }
  assert_near (largest, 5e-3, 1e-9, 0);
  kit_clear (&kit);
}

static void
test_flow_without_current_is_nothing (void **state)
{
  Kit kit = make (ladder);
  g_autofree double *current = ml_scene_flow (kit.scene, kit.pin_a);

  for (guint i = 0; i < kit.scene->n_wires; i++)
    assert_near (current[i], 0, 0, 1e-15);
  kit_clear (&kit);
}

/* 3 mA come out of R1 and go into two chips of which nothing is known: by symmetry as much into each as into the other (Kirchhoff's current law). */
static void
test_flow_into_unknown_chips_is_shared (void **state)
{
  Kit kit = make ("reference G\npart R1 resistor 1=P 2=M value=1k\npart U1 block A=M B=G\npart U2 block A=M B=G\npart J1 connector 1=P 2=G\n"
                  "condition on\n  supply plus=P minus=G voltage=10 limit=1\n");
  const int net = ml_board_find_net (kit.board, "M");
  g_autoptr (GArray) pieces = NULL;

  kit.pin_a[0][0] = 3e-3;
  kit.pin_a[0][1] = -3e-3;
  for (int part = 1; part <= 2; part++)
    g_clear_pointer (&kit.pin_a[part], g_free);
  pieces = ml_flow_pieces (kit.scene, kit.pin_a);
  for (int part = 0; part <= 2; part++)
    {
      const MlScenePin *pin = &kit.scene->pins[ml_scene_pin (kit.scene, part, part == 0 ? 1 : 0)];
      assert_int_equal (pin->net, net);
      assert_near (-leaving (pieces, kit.scene, net, pin->at), part == 0 ? -3e-3 : 1.5e-3, 0, 1e-12);
    }
  kit_clear (&kit);
}

/* Line weight by the logarithm of the current: as much more for every tenfold, from 10 uA to 3 A; thinner is not drawn, nothing is below 1 uA. */
static void
test_weight_grows_with_the_logarithm (void **state)
{
  const double decade = ml_flow_width (1e-4) - ml_flow_width (1e-5);

  assert_true (ml_flow_width (0) == 0 && ml_flow_width (0.9e-6) == 0 && ml_flow_width (NAN) == 0);
  assert_true (ml_flow_width (1e-6) > 0 && ml_flow_width (1e-6) == ml_flow_width (1e-5));
  assert_true (decade > 0);
  for (double i = 1e-5; i < 0.2; i *= 10)
    assert_near (ml_flow_width (10 * i) - ml_flow_width (i), decade, 1e-9, 0);
  assert_near (ml_flow_width (3) - ml_flow_width (0.3), decade, 1e-9, 0);
  assert_true (ml_flow_width (30) == ml_flow_width (3) && ml_flow_width (-0.01) == ml_flow_width (0.01));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_weight_grows_with_the_logarithm),
    cmocka_unit_test (test_flow_in_a_ladder_obeys_kirchhoff_at_every_pin),
    cmocka_unit_test (test_flow_at_every_dot_sums_to_zero),
    cmocka_unit_test (test_flow_into_a_series_part_is_its_whole_current),
    cmocka_unit_test (test_flow_without_current_is_nothing),
    cmocka_unit_test (test_flow_into_unknown_chips_is_shared),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
