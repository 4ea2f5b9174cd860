/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names and values: none is left out however long it is, and none stands where the eye gives it to another part (common practice of the drawing
 * office). */
#include "drawing/layout-boards.h"

#include <string.h>

#include "drawing/measure-texts.h"
#include "drawing/symbol-geometry.h"
#include "support/near.h"

static const MlSceneLabel *
name_of (const MlScene *scene, const char *part, int pin)
{
  const int index = ml_board_find_part (scene->board, part);
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].kind == ML_LABEL_NAME && scene->labels[i].part == index && scene->labels[i].pin == pin)
      return &scene->labels[i];
  fail_msg ("%s has no name", part);
  return NULL;
}

/* ---- how a text is cut ---- */

static void
test_text_that_is_too_wide_keeps_both_ends (void **state)
{
  g_autofree char *left = ml_text_fitted ("relay_of_the_vent_on_the_north_side_left", ML_TEXT_HEIGHT, 10);
  g_autofree char *right = ml_text_fitted ("relay_of_the_vent_on_the_north_side_right", ML_TEXT_HEIGHT, 10);
  g_autofree char *short_text = ml_text_fitted ("R17", ML_TEXT_HEIGHT, 10);

  assert_true (g_str_has_prefix (left, "relay") && g_str_has_suffix (left, "ft") && strstr (left, "…") != NULL);
  assert_string_not_equal (left, right);
  assert_true (ml_text_width (left, ML_TEXT_HEIGHT) <= 10 && ml_text_width (left, ML_TEXT_HEIGHT) > 8);
  assert_string_equal (short_text, "R17");
}

/* Letters of two bytes are taken whole; where not even two letters have room those two are left. */
static void
test_text_is_cut_between_letters (void **state)
{
  double widest;

  for (widest = 0; widest < 12; widest += 0.25)
    {
      g_autofree char *cut = ml_text_fitted ("Lüfter_für_Gewächshäuser_Süd", ML_TEXT_HEIGHT, widest);
      assert_true (g_utf8_validate (cut, -1, NULL));
      assert_true (ml_text_width (cut, ML_TEXT_HEIGHT) <= MAX (widest, 2.5));
    }
}

/* ---- long names on a drawing ---- */

/* Which pin it is tells more than the end of a connector's name. */
static void
test_layout_ring_of_a_long_named_connector_names_its_pin (void **state)
{
  MlBoard *board = ml_test_board ("reference GND\n"
                                  "part J1_plug_at_the_long_edge_of_the_board connector P=IN N=GND DRIVE=DRIVE COIL=COIL\n"
                                  "part F1 fuse 1=IN 2=VIN\n"
                                  "part U1 regulator in=VIN out=V5 ground=GND voltage=5\n"
                                  "part U2 block 1=V5 2=GND 3=DRIVE\n"
                                  "part R1 resistor 1=DRIVE 2=BASE value=2k2\n"
                                  "part Q1 npn collector=COIL base=BASE emitter=GND\n"
                                  "part K1 coil 1=VIN 2=COIL show=relay\n"
                                  "part D1 diode anode=COIL cathode=VIN\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=IN minus=GND voltage=12\n");
  MlScene *scene = ml_test_layout (board, 1);
  const MlPart *part = &board->parts[ml_board_find_part (board, "J1_plug_at_the_long_edge_of_the_board")];
  guint i, n_rings = 0;

  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      if (label->kind != ML_LABEL_NAME || label->pin < 0 || &board->parts[label->part] != part)
        continue;
      assert_true (g_str_has_suffix (label->text, part->pins[label->pin].name));
      n_rings++;
    }
  assert_int_equal (n_rings, 4);
  assert_int_equal (ml_test_hard_faults (scene, "long connector"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Resistors side by side where a person put them, 3 g apart, 5 g high: between them there is no room for any name. */
static char *
crowded_board (void)
{
  GString *text = g_string_new ("reference GND\n");
  int i;

  for (i = 0; i < 18; i++)
    g_string_append_printf (text, "part R_of_the_ladder_in_the_greenhouse_%d resistor 1=N%d_%d 2=N%d_%d value=4k7\n", i, i % 6, i / 6, i % 6, i / 6 + 1);
  for (i = 0; i < 18; i++)
    g_string_append_printf (text, "place R_of_the_ladder_in_the_greenhouse_%d x=%d y=%d\n", i, i % 6 * 3, i / 6 * 5);
  return g_string_free (text, FALSE);
}

static void
test_layout_text_without_room_is_led_to_its_part (void **state)
{
  g_autofree char *text = crowded_board ();
  MlBoard *board = ml_test_board (text);
  MlScene *scene = ml_test_layout (board, 2);
  guint i, n_led = 0;

  assert_int_equal (ml_test_hard_faults (scene, "crowded"), 0);
  assert_int_equal (ml_texts_untold (scene), 0);
  assert_int_equal (ml_texts_misread (scene), 0);
  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      const MlBox *body = &scene->symbols[ml_scene_symbol (scene, label->part)].body;
      if (!label->led)
        continue;
      n_led++;
      assert_true (label->lead[1].x > body->x0 && label->lead[1].x < body->x1 && label->lead[1].y > body->y0 && label->lead[1].y < body->y1);
      assert_true (label->lead[0].y >= label->box.y0 && label->lead[0].y <= label->box.y1);
    }
  assert_true (n_led >= 4); /* the four in the middle have no side that is free */
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The line goes with the part while the hand moves it, and where there is room again there is none. */
static void
test_layout_lead_follows_the_hand_and_goes_where_there_is_room (void **state)
{
  g_autofree char *text = crowded_board ();
  MlBoard *board = ml_test_board (text);
  MlScene *scene = ml_test_layout (board, 2), *held, *dropped;
  const int part = ml_board_find_part (board, "R_of_the_ladder_in_the_greenhouse_8");
  const MlPlace far = { .x = 60, .y = 40 };
  const MlSceneLabel *before = name_of (scene, board->parts[part].name, -1), *after;

  assert_true (before->led);
  held = ml_layout_move (scene, part, &far, FALSE);
  after = name_of (held, board->parts[part].name, -1);
  assert_true (after->led);
  assert_near (after->lead[1].x - before->lead[1].x, after->box.x0 - before->box.x0, 0, 1e-9);
  dropped = ml_layout_move (held, part, &far, TRUE);
  assert_false (name_of (dropped, board->parts[part].name, -1)->led);
  ml_scene_unref (dropped);
  ml_scene_unref (held);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A ring between two wires that leave its name just room enough, off the middle: there, not beyond them at somebody else's part. */
static void
test_layout_name_of_a_ring_stays_between_wires (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("aspect-driver.leafboard", &board);
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    if (strcmp (scene->labels[i].text, "J3:COM") == 0)
      break;
  assert_true (i < scene->n_labels);
  assert_false (ml_texts_is_misread (scene, &scene->labels[i]));
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A bar has the room of what it is told by: the net that eight branches hang on has no name, only a pin by which texts tell it, too. */
static void
test_layout_flag_of_a_net_that_nobody_named_has_room_for_a_pin (void **state)
{
  GString *text = g_string_new ("reference MINUS\npart J1 connector IN=PLUS MINUS=MINUS\npart D1 diode anode=PLUS cathode=N1\n");
  guint n = 0, i;

  for (i = 1; i <= 8; i++)
    g_string_append_printf (text, "part R%u resistor 1=N1 2=L%u value=1k\npart LED%u led anode=L%u cathode=MINUS\n", i, i, i, i);
  MlBoard *board = ml_test_board (text->str);
  MlScene *scene = ml_test_layout (board, 1);
  const int net = ml_board_find_net (board, "N1");

  assert_string_equal (board->nets[net].words, "D1.cathode");
  for (i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == net)
      {
        assert_true (scene->flags[i].box.x1 - scene->flags[i].box.x0 >= ml_text_width ("D1.cathode", ML_TEXT_HEIGHT));
        n++;
      }
  assert_true (n > 0);
  assert_int_equal (ml_test_hard_faults (scene, "branches of a net without a name"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
  g_string_free (text, TRUE);
}

/* Parts set by hand, as close as hands set them: D2's cathode has no room for a bar that says "D1.cathode", and is joined to its net all the same. */
static void
test_layout_pin_without_room_for_words_is_joined_all_the_same (void **state)
{
  static const char text[] =
    "part J1 connector 1=N1 2=N4\npart F1 fuse 1=N1 2=N2 current=500m\npart D1 1N4007 anode=N2 cathode=N3\npart C1 capacitor plus=N3 minus=N4 value=220u\n"
    "part U1 7805 in=N3 out=N5 ground=N4\npart C2 capacitor 1=N5 2=N4 value=100n\npart R1 resistor 1=N5 2=N6 value=10k\npart J2 connector 1=N6 2=N4\n"
    "part RV1 potentiometer 1=N5 2=N4 wiper=N7 value=10k\npart U2 LM393 noninverting=N7 inverting=N6 out=N8 positive=N5 negative=N4\n"
    "part R2 resistor 1=N5 2=N8 value=10k\npart R3 resistor 1=N8 2=N9 value=4k7\npart Q1 BC547 collector=N10 base=N9 emitter=N4\n"
    "part K1 coil 1=N3 2=N10 resistance=400\npart D2 1N4148 anode=N10 cathode=N3\npart LED1 led anode=N11 cathode=N10\npart R4 resistor 1=N3 2=N11 value=2k2\n"
    "place J1 x=-21 y=-10\nplace F1 x=-11 y=-13\nplace D1 x=-6 y=-13\nplace C1 x=-2 y=-9\nplace U1 x=0 y=-13\nplace C2 x=10 y=-10\nplace R1 x=14 y=-10\n"
    "place J2 x=11 y=-2\nplace RV1 x=18 y=-10\nplace U2 x=5 y=-2\nplace R2 x=3 y=-2\nplace R3 x=-1 y=-1\nplace Q1 x=-8 y=-1\nplace K1 x=-9 y=-6\n"
    "place D2 x=-13 y=-6\nplace LED1 x=-17 y=-2\nplace R4 x=-21 y=-5\n";
  MlBoard *board = ml_test_board (text);
  MlScene *scene = ml_test_layout (board, 0);
  const MlPlace aside = { 26, -2, 0, FALSE };
  guint n_short = 0, i;

  assert_int_equal (ml_test_hard_faults (scene, "a board with parts set close by hand"), 0);
  for (i = 0; i < scene->n_flags; i++)
    n_short += scene->flags[i].short_name;
  assert_true (n_short > 0);
  MlScene *moved = ml_layout_move (scene, ml_board_find_part (board, "J2"), &aside, TRUE);
  assert_int_equal (ml_test_hard_faults (moved, "a part dragged aside there"), 0);
  ml_scene_unref (moved);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_text_that_is_too_wide_keeps_both_ends),
    cmocka_unit_test (test_text_is_cut_between_letters),
    cmocka_unit_test (test_layout_ring_of_a_long_named_connector_names_its_pin),
    cmocka_unit_test (test_layout_text_without_room_is_led_to_its_part),
    cmocka_unit_test (test_layout_lead_follows_the_hand_and_goes_where_there_is_room),
    cmocka_unit_test (test_layout_name_of_a_ring_stays_between_wires),
    cmocka_unit_test (test_layout_pin_without_room_for_words_is_joined_all_the_same),
    cmocka_unit_test (test_layout_flag_of_a_net_that_nobody_named_has_room_for_a_pin),
  };

  return cmocka_run_group_tests (tests, NULL, ml_test_forget_scenes);
}
