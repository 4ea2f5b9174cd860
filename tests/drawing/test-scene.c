/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Symbols' geometry under turn and mirror, the hit test and the way from part to part. Expected positions follow from turning the
 * paper by hand: y runs downwards, a clockwise quarter turn takes (x, y) to (-y, x), the mirror takes x to -x before it. */
#include "drawing/layout-boards.h"
#include "drawing/notes.h"
#include "drawing/symbol-geometry.h"

#include <math.h>
#include <string.h>

#include "support/near.h"

static void
check_point (MlPoint p, double x, double y)
{
  assert_near (p.x, x, 0, 1e-9);
  assert_near (p.y, y, 0, 1e-9);
}

static void
test_place_turns_clockwise_after_mirroring (void **state)
{
  MlPlace place = { 10, 20, 0, FALSE };

  check_point (ml_place_point (&place, 3, 1), 13, 21);
  place.turn = 1;
  check_point (ml_place_point (&place, 3, 1), 9, 23);
  place.turn = 2;
  check_point (ml_place_point (&place, 3, 1), 7, 19);
  place.turn = 3;
  check_point (ml_place_point (&place, 3, 1), 11, 17);
  place.mirror = TRUE; /* (-3, 1), then three quarters: (1, 3) */
  check_point (ml_place_point (&place, 3, 1), 11, 23);
}

static void
test_place_sides_follow_points (void **state)
{
  int turn, mirror, side;

  for (turn = 0; turn < 4; turn++)
    for (mirror = 0; mirror < 2; mirror++)
      for (side = 0; side < 4; side++)
        {
          MlPlace place = { 0, 0, turn, mirror };
          MlPoint step = ml_side_step ((MlSide) side), to = ml_place_point (&place, step.x, step.y);
          check_point (ml_side_step (ml_place_side (&place, (MlSide) side)), to.x, to.y);
        }
}

static void
test_geometry_pins_lie_outside_cores_and_leave_outwards (void **state)
{
  guint i, p, c;

  for (i = 0; i < ml_symbol_geometry_n (); i++)
    {
      const MlSymbolGeometry *g = ml_symbol_geometry_at (i);
      assert_ptr_equal (ml_symbol_geometry (g->name), g);
      for (p = 0; p < g->n_pins; p++)
        for (c = 0; c < g->n_cores; c++)
          {
            MlPoint step = ml_side_step (g->pins[p].side);
            double x = g->pins[p].x + step.x, y = g->pins[p].y + step.y;
            const MlCells *core = &g->cores[c];
            assert_false (g->pins[p].x >= core->x0 && g->pins[p].x <= core->x1 && g->pins[p].y >= core->y0 && g->pins[p].y <= core->y1);
            assert_false (x >= core->x0 && x <= core->x1 && y >= core->y0 && y <= core->y1);
          }
    }
}

/* npn: collector above, emitter below, base left; pnp the other way round (common practice). */
static void
test_geometry_transistors_have_the_usual_ends_above (void **state)
{
  static const struct { const char *name, *above, *below; } usual[]
      = { { "npn", "collector", "emitter" }, { "pnp", "emitter", "collector" }, { "nmos", "drain", "source" }, { "pmos", "source", "drain" } };
  guint i, p;

  for (i = 0; i < G_N_ELEMENTS (usual); i++)
    {
      const MlSymbolGeometry *g = ml_symbol_geometry (usual[i].name);
      for (p = 0; p < g->n_pins; p++)
        if (strcmp (g->pins[p].name, usual[i].above) == 0)
          assert_int_equal (g->pins[p].side, ML_SIDE_UP);
        else if (strcmp (g->pins[p].name, usual[i].below) == 0)
          assert_int_equal (g->pins[p].side, ML_SIDE_DOWN);
        else
          assert_int_equal (g->pins[p].side, ML_SIDE_LEFT);
    }
}

/* An amplifier turned over keeps its output side; its inputs change places, its supplies do not. */
static void
test_symbol_amplifier_turned_over_exchanges_inputs (void **state)
{
  MlBoard *board = ml_test_board ("part U1 opamp noninverting=A inverting=B out=C positive=D negative=E\nplace U1 x=5 y=9 turn=180 mirror\n");
  MlScene *scene = ml_test_layout (board, 1);
  int plus = ml_scene_pin (scene, 0, ml_part_find_pin (&board->parts[0], "noninverting"));
  int minus = ml_scene_pin (scene, 0, ml_part_find_pin (&board->parts[0], "inverting"));
  int out = ml_scene_pin (scene, 0, ml_part_find_pin (&board->parts[0], "out"));
  int positive = ml_scene_pin (scene, 0, ml_part_find_pin (&board->parts[0], "positive"));

  assert_string_equal (scene->symbols[0].name, "opamp-plus-above");
  assert_true (scene->pins[plus].at.y < scene->pins[minus].at.y);
  assert_int_equal (scene->pins[out].side, ML_SIDE_RIGHT);
  assert_int_equal (scene->pins[positive].side, ML_SIDE_UP);
  check_point (scene->pins[plus].at, 5, 9 - 3);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_scene_pins_stand_where_turn_and_mirror_put_them (void **state)
{
  int turn, mirror;

  for (turn = 0; turn < 4; turn++)
    for (mirror = 0; mirror < 2; mirror++)
      {
        g_autofree char *text = g_strdup_printf ("part Q1 npn collector=A base=B emitter=C\nplace Q1 x=4 y=-3 turn=%d%s\n", 90 * turn,
                                                 mirror ? " mirror" : "");
        MlBoard *board = ml_test_board (text);
        MlScene *scene = ml_test_layout (board, 0);
        MlPlace place = { 4, -3, turn, mirror };
        MlPoint base = ml_place_point (&place, 0, 2), collector = ml_place_point (&place, 3, 0);
        check_point (scene->pins[ml_scene_pin (scene, 0, 1)].at, base.x, base.y);
        check_point (scene->pins[ml_scene_pin (scene, 0, 0)].at, collector.x, collector.y);
        ml_scene_unref (scene);
        ml_board_unref (board);
      }
}

static const char two_parts[] = "reference GND\npart R1 resistor 1=IN 2=MID\npart R2 resistor 1=MID 2=GND\n"
                                "place R1 x=0 y=0\nplace R2 x=0 y=10\n";

static void
test_hit_finds_pins_before_parts_before_wires (void **state)
{
  MlBoard *board = ml_test_board (two_parts);
  MlScene *scene = ml_test_layout (board, 0);
  MlHit hit = ml_scene_hit (scene, 0.2, 4.1, 0.5);

  assert_int_equal (hit.kind, ML_HIT_PIN);
  assert_int_equal (hit.part, 0);
  assert_int_equal (hit.pin, 1);
  hit = ml_scene_hit (scene, 0, 2, 0.5);
  assert_int_equal (hit.kind, ML_HIT_PART);
  assert_int_equal (hit.part, 0);
  hit = ml_scene_hit (scene, 0.1, 7, 0.5);
  assert_int_equal (hit.kind, ML_HIT_WIRE);
  assert_int_equal (hit.net, ml_board_find_net (board, "MID"));
  hit = ml_scene_hit (scene, 300, 300, 0.5);
  assert_int_equal (hit.kind, ML_HIT_NOTHING);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_neighbour_walks_down_a_chain_and_back (void **state)
{
  MlBoard *board = ml_test_board (two_parts);
  MlScene *scene = ml_test_layout (board, 0);
  int part = 0, pin = -1;

  assert_true (ml_scene_neighbour (scene, part, pin, ML_SIDE_DOWN, &part, &pin)); /* R1's lower pin */
  assert_int_equal (part, 0);
  assert_int_equal (pin, 1);
  assert_true (ml_scene_neighbour (scene, part, pin, ML_SIDE_DOWN, &part, &pin)); /* along the wire */
  assert_int_equal (part, 1);
  assert_int_equal (pin, 0);
  assert_true (ml_scene_neighbour (scene, part, pin, ML_SIDE_DOWN, &part, &pin)); /* R2 itself */
  assert_int_equal (part, 1);
  assert_int_equal (pin, -1);
  assert_true (ml_scene_neighbour (scene, 1, 0, ML_SIDE_UP, &part, &pin));
  assert_int_equal (part, 0);
  assert_int_equal (pin, 1);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The switch's lower pin is joined with the resistor's upper one, which stands above: from there down is the resistor, not the switch. */
static void
test_neighbour_towards_the_body_is_the_body_whatever_the_wires_do (void **state)
{
  MlBoard *board = ml_test_board ("reference GND\npart R1 resistor 1=MID 2=GND\npart S1 switch 1=IN 2=MID\nplace R1 x=0 y=0\nplace S1 x=-6 y=6\n");
  MlScene *scene = ml_test_layout (board, 0);
  int part = 0, pin = 0;

  assert_true (ml_scene_neighbour (scene, part, pin, ML_SIDE_DOWN, &part, &pin));
  assert_int_equal (part, 0);
  assert_int_equal (pin, -1);
  assert_true (ml_scene_neighbour (scene, part, pin, ML_SIDE_DOWN, &part, &pin));
  assert_int_equal (part, 0);
  assert_int_equal (pin, 1);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* All places that arrow keys lead to from the first part: who has no mouse gets to every part and every pin. */
static void
test_neighbours_lead_to_every_part_and_pin (void **state)
{
  static const char *const files[] = { "vent-with-block.leafboard", "turnout-decoder.leafboard" };
  GString *missed = g_string_new (NULL);

  for (guint f = 0; f < G_N_ELEMENTS (files); f++)
    {
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (files[f], &board);
      GHashTable *reached = g_hash_table_new (NULL, NULL);
      GQueue ahead = G_QUEUE_INIT;

      g_hash_table_add (reached, GINT_TO_POINTER (scene->symbols[0].part * 1000 + 999));
      g_queue_push_tail (&ahead, GINT_TO_POINTER (scene->symbols[0].part * 1000 + 999));
      while (!g_queue_is_empty (&ahead))
        {
          int at = GPOINTER_TO_INT (g_queue_pop_head (&ahead)), part, pin;
          for (int side = 0; side < 4; side++)
            if (ml_scene_neighbour (scene, at / 1000, at % 1000 == 999 ? -1 : at % 1000, (MlSide) side, &part, &pin)
                && g_hash_table_add (reached, GINT_TO_POINTER (part * 1000 + (pin < 0 ? 999 : pin))))
              g_queue_push_tail (&ahead, GINT_TO_POINTER (part * 1000 + (pin < 0 ? 999 : pin)));
        }
      for (guint i = 0; i < board->n_parts; i++)
        for (int pin = -1; pin < (int) board->parts[i].n_pins; pin++)
          if ((pin < 0 || ml_scene_pin (scene, (int) i, pin) >= 0)
              && !g_hash_table_contains (reached, GINT_TO_POINTER ((int) i * 1000 + (pin < 0 ? 999 : pin))))
            g_string_append_printf (missed, " %s:%s.%s", files[f], board->parts[i].name, pin < 0 ? "itself" : board->parts[i].pins[pin].name);
      g_hash_table_unref (reached);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
  assert_string_equal (missed->str, "");
  g_string_free (missed, TRUE);
}

/* Widths of DejaVu Sans: an em of 1000, digits 636 wide, W 989, i 278 (its horizontal metrics, measured with cairo). */
static void
test_text_width_adds_advances (void **state)
{
  assert_near (ml_text_width ("10", 1.0), 1.272, 0, 1e-9);
  assert_near (ml_text_width ("Wi", 2.0), 2 * (0.989 + 0.278), 0, 1e-9);
  assert_near (ml_text_width ("", 1.0), 0, 0, 1e-9);
  assert_true (ml_text_width ("\xff\xfe", 1.0) > 0);
}

/* The line to a note runs through no text, nor between the two lines of one: it would strike them out. */
static void
test_field_lets_no_line_run_between_name_and_value (void **state)
{
  MlBoard *board = ml_test_board ("meterleaf 1\npart LED1 led anode=A cathode=B colour=green\nplace LED1 x=0 y=0\n");
  MlScene *scene = ml_test_layout (board, 0);
  MlField *field = ml_field_new (scene);
  guint i, n = 0;

  for (i = 0; i + 1 < scene->n_labels; i++)
    if (scene->labels[i].kind == ML_LABEL_NAME && scene->labels[i + 1].kind == ML_LABEL_VALUE)
      {
        const MlBox *name = &scene->labels[i].box, *value = &scene->labels[i + 1].box;
        const double y = (name->y1 + value->y0) / 2;
        assert_near (name->y1, value->y0, 0, 0.3);
        assert_true (ml_field_line (field, (MlPoint) { name->x1 + 3, y }, (MlPoint) { name->x0 - 0.2, y }) > 20);
        n++;
      }
  assert_int_equal (n, 1);
  ml_field_free (field);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_place_turns_clockwise_after_mirroring),
    cmocka_unit_test (test_place_sides_follow_points),
    cmocka_unit_test (test_field_lets_no_line_run_between_name_and_value),
    cmocka_unit_test (test_geometry_pins_lie_outside_cores_and_leave_outwards),
    cmocka_unit_test (test_geometry_transistors_have_the_usual_ends_above),
    cmocka_unit_test (test_symbol_amplifier_turned_over_exchanges_inputs),
    cmocka_unit_test (test_scene_pins_stand_where_turn_and_mirror_put_them),
    cmocka_unit_test (test_hit_finds_pins_before_parts_before_wires),
    cmocka_unit_test (test_neighbour_walks_down_a_chain_and_back),
    cmocka_unit_test (test_neighbour_towards_the_body_is_the_body_whatever_the_wires_do),
    cmocka_unit_test (test_neighbours_lead_to_every_part_and_pin),
    cmocka_unit_test (test_text_width_adds_advances),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
