/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of a board as a scene: where pads come to lie, what is hit, what is left to pin, which nets are neighbours. Expected places
 * follow from the definition of turning and mirroring; distances are Pythagorean triples. */
#include "drawing/photo-scene.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "drawing/overlay-plan.h"
#include "drawing/photo-carry.h"
#include "support/models.h"
#include "support/near.h"

#define PARTS "reference M\npart D4 diode anode=A cathode=B\npart R1 resistor 1=A 2=M\npart Q1 npn collector=B base=C emitter=M\n"

static MlScene *
scene_of (const char *bytes)
{
  g_autoptr (MlBoard) board = ml_test_board (bytes);

  return ml_photo_scene (board, 0, NULL);
}

static MlPoint
at (const MlScene *scene, const char *part, int pin)
{
  int found = ml_scene_pin (scene, ml_board_find_part (scene->board, part), pin);

  assert_true (found >= 0);
  return scene->pins[found].at;
}

/* ---- geometry ---- */

/* Two pads, one to the right of the other: after a turn of 90 degrees clockwise it lies below it, mirrored to its left. */
static void
test_turn_and_mirror_put_pads_where_the_eye_sees_them (void **state)
{
  static const struct { const char *words; double dx, dy; } table[] = {
    { "", 1, 0 }, { "turn=90", 0, 1 }, { "turn=180", -1, 0 }, { "turn=-90", 0, -1 }, { "mirror", -1, 0 }, { "turn=90 mirror", 0, 1 },
    { "turn=30", 0.8660254037844387, 0.5 }, { "turn=30 mirror", -0.8660254037844387, 0.5 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *bytes = g_strdup_printf (PARTS "picture \"p.png\" %s\n pad R1.1 x=100 y=100\n pad R1.2 x=200 y=100\n", table[i].words);
      g_autoptr (MlScene) scene = scene_of (bytes);
      MlPoint a = at (scene, "R1", 0), b = at (scene, "R1", 1);
      double length = hypot (b.x - a.x, b.y - a.y);

      assert_near ((b.x - a.x) / length, table[i].dx, 0, 1e-9);
      assert_near ((b.y - a.y) / length, table[i].dy, 0, 1e-9);
      assert_true (a.x > 0 && a.y > 0 && a.x < scene->extent.x1 && a.y < scene->extent.y1);
      MlPoint back = ml_photo_to_pixels (scene, b);
      assert_near (back.x, 200, 0, 1e-6);
      assert_near (back.y, 100, 0, 1e-6);
    }
}

static void
test_magnified_pads_move_apart_and_keep_their_size (void **state)
{
  g_autoptr (MlScene) scene = scene_of (PARTS "picture \"p.png\" turn=90 mirror\n pad R1.1 x=100 y=100\n pad R1.2 x=200 y=140\n");
  g_autoptr (MlScene) large = ml_photo_scene_magnified (scene, 3);

  for (int pin = 0; pin < 2; pin++)
    {
      assert_near (at (large, "R1", pin).x, 3 * at (scene, "R1", pin).x, 1e-12, 0);
      assert_near (at (large, "R1", pin).y, 3 * at (scene, "R1", pin).y, 1e-12, 0);
      MlPoint px = ml_photo_to_pixels (large, at (large, "R1", pin));
      assert_near (px.x, pin == 0 ? 100 : 200, 0, 1e-6);
    }
  assert_near (large->labels[0].box.x1 - large->labels[0].box.x0, scene->labels[0].box.x1 - scene->labels[0].box.x0, 1e-12, 0);
}

static void
test_only_what_is_pinned_is_shown (void **state)
{
  g_autoptr (MlScene) scene = scene_of (PARTS "picture \"p\"\n pad Q1.base x=300 y=50\n pad D4 x=30 y=30\n pad Q1.emitter x=340 y=50\n");
  int q1 = ml_board_find_part (scene->board, "Q1"), d4 = ml_board_find_part (scene->board, "D4");

  assert_int_equal (scene->n_symbols, 2);
  assert_int_equal (scene->n_pins, 2);
  assert_int_equal (ml_scene_pin (scene, q1, 0), -1);
  assert_int_equal (scene->symbols[ml_scene_symbol (scene, d4)].n_pins, 0);
  assert_int_equal (ml_scene_symbol (scene, ml_board_find_part (scene->board, "R1")), -1);
  assert_int_equal (scene->pins[0].net, ml_board_find_net (scene->board, "C"));
  assert_string_equal (scene->labels[0].text, "D4");
}

static void
test_pads_are_hit_before_parts (void **state)
{
  g_autoptr (MlScene) scene = scene_of (PARTS "picture \"p\"\n pad R1.1 x=100 y=300\n pad R1.2 x=500 y=300\n pad D4 x=300 y=100\n");
  MlPoint a = at (scene, "R1", 0), b = at (scene, "R1", 1);
  MlHit hit = ml_scene_hit (scene, a.x + 0.3, a.y, 0.8);

  assert_int_equal (hit.kind, ML_HIT_PIN);
  assert_int_equal (hit.pin, 0);
  hit = ml_scene_hit (scene, (a.x + b.x) / 2, a.y, 0.8);
  assert_int_equal (hit.kind, ML_HIT_PART);
  assert_int_equal (hit.part, ml_board_find_part (scene->board, "R1"));
  hit = ml_scene_hit (scene, (a.x + b.x) / 2, scene->extent.y1 - 0.1, 0.1);
  assert_int_equal (hit.kind, ML_HIT_NOTHING);
}

static void
test_a_board_without_a_picture_has_an_empty_sheet (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS);
  g_autoptr (MlScene) scene = ml_photo_scene (board, -1, NULL);

  assert_int_equal (scene->n_symbols, 0);
  assert_true (scene->extent.x1 > 0 && scene->extent.y1 > 0);
  assert_int_equal (ml_scene_hit (scene, 5, 5, 2).kind, ML_HIT_NOTHING);
}

/* D4 is nowhere on the picture, so it is named below it; where there is no picture at all, nobody has left it out. */
static void
test_a_suspect_is_missing_on_a_picture_only (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS "picture \"p\"\n pad R1.1 x=100 y=300\n");
  MlPartVerdict parts[] = { { .verdict = ML_VERDICT_SUSPECT }, { .verdict = ML_VERDICT_UNPROVEN }, { .verdict = ML_VERDICT_UNPROVEN } };
  MlVerdict verdict = { .pass = 1, .parts = parts, .n_parts = G_N_ELEMENTS (parts) };
  const MlOverlay overlay = { .verdict = &verdict, .unit = -1, .condition = -1, .other_unit = -1, .selected_part = -1, .selected_pin = -1,
                              .hover_part = -1, .hover_pin = -1 };
  const MlPaintStyle style = { .paper = ML_PAPER_LIGHT, .scale = 10 };

  for (int picture = -1; picture < 1; picture++)
    {
      g_autoptr (MlScene) scene = ml_photo_scene (board, picture, NULL);
      g_autoptr (MlPlan) plan = ml_plan_new (scene, &overlay, &style);
      assert_int_equal (plan->notes->len, picture + 1);
    }
}

/* No pad's letters and no name lie on another pad or name: twelve parts in a row, close together. */
static void
test_names_keep_off_pads_and_each_other (void **state)
{
  GString *bytes = g_string_new (NULL);

  for (int i = 0; i < 12; i++)
    g_string_append_printf (bytes, "part R%d resistor 1=A%d 2=B%d\n", i + 10, i, i);
  g_string_append (bytes, "picture \"p\"\n");
  for (int i = 0; i < 12; i++)
    g_string_append_printf (bytes, " pad R%d.1 x=%d y=100\n pad R%d.2 x=%d y=300\n", i + 10, 60 * i + 50, i + 10, 60 * i + 50);
  g_autofree char *text = g_string_free (bytes, FALSE);
  g_autoptr (MlScene) scene = scene_of (text);
  for (guint i = 0; i < scene->n_labels; i++)
    {
      const MlBox *box = &scene->labels[i].box;

      for (guint k = 0; k < i; k++)
        assert_false (box->x0 < scene->labels[k].box.x1 && scene->labels[k].box.x0 < box->x1 && box->y0 < scene->labels[k].box.y1
                      && scene->labels[k].box.y0 < box->y1);
      for (guint k = 0; k < scene->n_pins; k++)
        {
          MlBox pad = ml_photo_pad_box (&scene->board->parts[scene->pins[k].part], scene->pins[k].pin, scene->pins[k].at);
          assert_false (box->x0 < pad.x1 && pad.x0 < box->x1 && box->y0 < pad.y1 && pad.y0 < box->y1);
        }
    }
}

static void
test_a_part_that_lies_across_is_marked_in_its_middle (void **state)
{
  g_autoptr (MlScene) scene = scene_of (PARTS "picture \"p\"\n pad R1.1 x=100 y=100\n pad R1.2 x=900 y=900\n pad D4.anode x=100 y=500\n pad D4.cathode x=900 y=500\n");
  const MlBox *slanted = &scene->symbols[ml_scene_symbol (scene, 1)].body, *level = &scene->symbols[ml_scene_symbol (scene, 0)].body;
  MlPoint a = at (scene, "R1", 0), b = at (scene, "R1", 1);

  assert_near ((slanted->x0 + slanted->x1) / 2, (a.x + b.x) / 2, 0, 1e-9);
  assert_true (slanted->x1 - slanted->x0 < (b.x - a.x) / 2);
  assert_true (level->x1 - level->x0 > b.x - a.x);
}

/* ---- letters ---- */

/* Letters of the trade: K for a cathode (IEC 60747 letter symbols), + and the minus sign, B C E, D G S; 1 where only the order matters. */
static void
test_pads_say_which_way_round (void **state)
{
  static const struct { const char *part, *pin, *letters; } table[] = {
    { "diode", "cathode", "K" }, { "diode", "anode", "A" }, { "npn", "base", "B" }, { "nmos", "gate", "G" }, { "resistor", "1", "1" },
    { "resistor", "2", "" }, { "capacitor plus=A minus=B", "minus", "\342\210\222" }, { "opamp", "inverting", "\342\210\222" },
    { "block VDDCORE=A", "VDDCORE", "VDDCO\342\200\246" }, { "block anode=A", "anode", "anode" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *bytes = g_strdup_printf ("part X %s\n", table[i].part);
      g_autoptr (MlBoard) board = ml_test_board (bytes);
      g_autofree char *letters = ml_photo_pad_letters (&board->parts[0], ml_part_find_pin (&board->parts[0], table[i].pin));
      assert_string_equal (letters, table[i].letters);
    }
}

/* ---- what is left ---- */

static void
test_unpinned_pins_come_in_the_order_of_the_file (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS "part S1 switch 1=A\npicture \"p\"\n pad D4.anode x=1 y=1\n pad Q1 x=5 y=5\n");
  int part = -1, pin = -1;

  assert_int_equal (ml_photo_n_unpinned (board, 0), 4); /* D4.cathode, R1.1, R1.2, S1.1: Q1 is pinned whole, S1.2 is on no net */
  assert_true (ml_photo_next_unpinned (board, 0, -1, -1, 1, &part, &pin));
  assert_true (part == 0 && pin == 1);
  assert_true (ml_photo_next_unpinned (board, 0, part, pin, 1, &part, &pin));
  assert_true (part == 1 && pin == 0);
  assert_true (ml_photo_next_unpinned (board, 0, 1, 1, 1, &part, &pin));
  assert_true (part == 3 && pin == 0);
  assert_true (ml_photo_next_unpinned (board, 0, part, pin, 1, &part, &pin)); /* round the end */
  assert_true (part == 0 && pin == 1);
  assert_true (ml_photo_next_unpinned (board, 0, part, pin, -1, &part, &pin));
  assert_true (part == 3 && pin == 0);
  g_autoptr (MlBoard) done = ml_test_board ("part R1 resistor 1=A\npicture \"p\"\n pad R1.1 x=1 y=1\n");
  assert_false (ml_photo_next_unpinned (done, 0, -1, -1, 1, &part, &pin));
  g_autoptr (MlBoard) empty = ml_test_board ("picture \"p\"\n");
  assert_false (ml_photo_next_unpinned (empty, 0, -1, -1, 1, &part, &pin));
}

/* ---- neighbours ---- */

static void
test_nets_are_near_by_their_nearest_pads (void **state)
{
  /* 10 px to the millimetre. R1.1 (A) to Q1.base (C): 3-4-5 triangle, 0.5 mm; D4.cathode (B) to Q1.base (C): 5-12-13, 1.3 mm */
  g_autoptr (MlBoard) board = ml_test_board (PARTS "near B M\npicture \"p\" scale=10/mm\n pad R1.1 x=100 y=100\n pad Q1.base x=103 y=104\n"
                                                " pad D4.cathode x=108 y=116\n pad Q1.emitter x=109 y=116\n pad D4.anode x=100 y=101\n pad R1.2 x=900 y=900\n");
  guint n;
  g_autofree MlPhotoNear *nears = ml_photo_nears (board, 0, 1.5, &n);

  /* also A to B and A to M, through the anode: 8-15-17 is 1.7 mm, beyond the limit; C to M: 6-12 apart, 1.34 mm. B and M are known. */
  assert_int_equal (n, 3);
  assert_near (nears[0].distance_mm, hypot (3, 3) / 10, 1e-12, 0); /* the anode is nearer to the base than R1.1 is */
  assert_string_equal (board->parts[nears[0].part_a].name, "D4");
  assert_near (nears[1].distance_mm, 1.3, 1e-12, 0);
  assert_true (nears[1].net_a == ml_board_find_net (board, "B") && nears[1].net_b == ml_board_find_net (board, "C"));
  assert_near (nears[2].distance_mm, hypot (6, 12) / 10, 1e-12, 0);
  g_autoptr (MlBoard) unscaled = ml_test_board (PARTS "picture \"p\"\n pad R1.1 x=1 y=1\n pad R1.2 x=2 y=1\n");
  assert_null (ml_photo_nears (unscaled, 0, 1.5, &n));
  assert_int_equal (n, 0);
}

/* ---- the other side ---- */

/* The map u = 1000 - 2 x + 0.5 y, v = 30 + 0.25 x + 3 y, seen from the other side: three pads tell it, the fourth follows. */
static void
test_pads_go_through_to_the_other_side (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS "picture \"top\"\n pad D4.anode x=10 y=20\n pad D4.cathode x=110 y=20\n pad R1.1 x=10 y=220\n"
                                                " pad R1.2 x=300 y=100\n pad Q1.base x=0 y=0\n pad Q1 x=5 y=5\n"
                                                "picture \"back\" side=bottom\n pad D4.anode x=990 y=92.5\n pad D4.cathode x=790 y=117.5\n pad R1.1 x=1090 y=692.5\n");
  guint n;
  double misfit_px;
  g_autofree MlPad *pads = ml_photo_carry (board, 0, 1, &n, &misfit_px);

  assert_int_equal (n, 2);
  assert_near (misfit_px, 0, 0, 1e-9);
  assert_true (pads[0].part == 1 && pads[0].pin == 1);
  assert_near (pads[0].x_px, 1000 - 600 + 50, 0, 1e-6);
  assert_near (pads[0].y_px, 30 + 75 + 300, 0, 1e-6);
  assert_near (pads[1].x_px, 1000, 0, 1e-6);
  assert_near (pads[1].y_px, 30, 0, 1e-6);
}

/* Four pads at the corners of a square, one of them pinned 8 px beside its place: of a map with a middle and two slopes a quarter of that is left at
 * each corner, with turning signs (residual of a 2 x 2 design: its interaction), so the root mean square is 2 px. */
static void
test_pads_that_do_not_fit_are_measured (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS "picture \"a.png\"\n  pad R1.1 x=0 y=0\n  pad R1.2 x=100 y=0\n  pad D4.anode x=0 y=100\n"
                                             "  pad D4.cathode x=100 y=100\n  pad Q1.base x=50 y=50\npicture \"b.png\" side=bottom\n"
                                             "  pad R1.1 x=0 y=0\n  pad R1.2 x=100 y=0\n  pad D4.anode x=0 y=100\n  pad D4.cathode x=108 y=100\n");
  double misfit_px;
  guint n;
  g_autofree MlPad *pads = ml_photo_carry (board, 0, 1, &n, &misfit_px);

  assert_int_equal (n, 1);
  assert_near (misfit_px, 2, 1e-9, 0);
  assert_near (pads[0].x_px, 52, 1e-9, 0); /* the middle moves by the mean: a quarter of 8 px */
  assert_near (pads[0].y_px, 50, 1e-9, 0);
}

/* Nor do pads that lie in one line but for the pixel that a hand misses them by: what is off by a pixel there would be off by hundreds beside it. */
static void
test_pads_in_one_line_tell_nothing_of_the_other_side (void **state)
{
  static const char *const fronts[] = { " pad D4.anode x=0 y=0\n pad D4.cathode x=1000 y=1000\n pad R1.1 x=2000 y=2000\n",
                                        " pad D4.anode x=0 y=0\n pad D4.cathode x=1000 y=1001\n pad R1.1 x=2000 y=1999\n" };

  for (guint i = 0; i < G_N_ELEMENTS (fronts); i++)
    {
      g_autofree char *text = g_strconcat (PARTS "picture \"top\"\n", fronts[i], " pad R1.2 x=30 y=10\npicture \"back\"\n pad D4.anode x=0 y=0\n"
                                           " pad D4.cathode x=500 y=0\n pad R1.1 x=1000 y=1\n", NULL);
      g_autoptr (MlBoard) board = ml_test_board (text);
      guint n;
      double misfit_px;

      assert_null (ml_photo_carry (board, 0, 1, &n, &misfit_px));
      assert_int_equal (n, 0);
    }
}

/* ---- the file ---- */

static void
test_picture_is_named_from_the_board (void **state)
{
  static const struct { const char *board, *picture, *relative; } table[] = {
    { "/home/a/boards/vent.leafboard", "/home/a/boards/vent.jpg", "vent.jpg" },
    { "/home/a/boards/vent.leafboard", "/home/a/boards/photos/vent 1.jpg", "photos/vent 1.jpg" },
    { "/home/a/boards/vent.leafboard", "/home/a/photos/vent.jpg", "../photos/vent.jpg" },
    { "/home/a/boards/x/vent.leafboard", "/home/a/vent.jpg", "../../vent.jpg" },
    { "/home/a/vent.leafboard", "/media/card/vent.jpg", "/media/card/vent.jpg" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *relative = ml_photo_relative (table[i].board, table[i].picture);
      g_autofree char *found = ml_photo_path (table[i].board, relative);
      g_autofree char *whole = g_canonicalize_filename (found, NULL);

      assert_string_equal (relative, table[i].relative);
      assert_string_equal (whole, table[i].picture);
    }
  g_autofree char *unsaved = ml_photo_relative (NULL, "/home/a/vent.jpg");
  assert_string_equal (unsaved, "/home/a/vent.jpg");
}

/* ---- marks ---- */

/* A reading stands at its pad, and its probe mark keeps off the pad's letters. */
static void
test_overlay_finds_pads (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS "condition on\n supply plus=A minus=M voltage=5 limit=1\n"
                                                "picture \"p\"\n pad R1.1 x=100 y=300\n pad R1.2 x=500 y=300\n pad Q1.base x=300 y=100\n");
  g_autoptr (MlText) text = ml_text_new ("job", "unit one suspect\nreading one on red=Q1.base volts=0.6\n", -1);
  g_autoptr (MlJob) job = ml_job_read (text, board, NULL);
  g_autoptr (MlScene) scene = ml_photo_scene (board, 0, NULL);
  const MlOverlay overlay = { .job = job, .unit = 0, .condition = 0, .pass = 1, .other_unit = -1, .selected_part = -1, .selected_pin = -1,
                              .hover_part = -1, .hover_pin = -1 };
  const MlPaintStyle style = { .paper = ML_PAPER_LIGHT, .scale = 10 };
  g_autoptr (MlPlan) plan = ml_plan_new (scene, &overlay, &style);
  MlPoint base = at (scene, "Q1", 1);

  assert_int_equal (plan->notes->len, 1);
  assert_true (g_array_index (plan->notes, MlNote, 0).placed);
  assert_int_equal (plan->tips->len, 1);
  const MlPlanTip *tip = &g_array_index (plan->tips, MlPlanTip, 0);
  assert_near (tip->at.x, base.x, 0, 1e-12);
  assert_true (hypot (tip->point.x - base.x, tip->point.y - base.y) > ML_PAD_RADIUS);
}

/* A tip that may touch its net anywhere goes to the pad next to the other tip: 100 px away, not 510; where the other tip may be anywhere too, to any
 * pad of the net. */
static void
test_tip_goes_to_the_pad_next_to_the_other_tip (void **state)
{
  static const char *const pads[] = { " pad D4.anode x=10 y=510\n pad R1.1 x=100 y=0\n", " pad D4.anode x=510 y=10\n pad R1.1 x=0 y=100\n" };

  for (guint i = 0; i < G_N_ELEMENTS (pads); i++)
    {
      g_autofree char *text = g_strconcat (PARTS "picture \"p\"\n pad R1.2 x=0 y=0\n", pads[i], NULL);
      g_autoptr (MlBoard) board = ml_test_board (text);
      g_autoptr (MlScene) scene = ml_photo_scene (board, 0, NULL);
      const int part = ml_board_find_part (board, "R1"), net = ml_board_find_net (board, "A");
      const MlProbe anywhere = { .net = net, .part = -1, .pin = -1 }, partner = { .net = board->parts[part].pins[1].net, .part = part, .pin = 1 };
      const MlPoint near = at (scene, "R1", 0), far = at (scene, "D4", 0);
      MlPoint point;

      assert_true (ml_plan_probe_point (scene, &anywhere, &partner, &point));
      assert_true (point.x == near.x && point.y == near.y);
      assert_true (ml_plan_probe_point (scene, &anywhere, NULL, &point));
      assert_true ((point.x == near.x && point.y == near.y) || (point.x == far.x && point.y == far.y));
    }
}

/* Where both may be anywhere on their nets, they go to both ends of the part between: D4, not to R1 and Q1, whose pads of these nets lie closer. */
static void
test_tips_on_two_nets_go_across_the_part_between (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (PARTS "picture \"p\"\n pad R1.1 x=10 y=0\n pad Q1.collector x=60 y=0\n pad D4.anode x=0 y=500\n"
                                             " pad D4.cathode x=500 y=500\n");
  g_autoptr (MlScene) scene = ml_photo_scene (board, 0, NULL);
  const MlProbe red = { .net = ml_board_find_net (board, "A"), .part = -1, .pin = -1 };
  const MlProbe black = { .net = ml_board_find_net (board, "B"), .part = -1, .pin = -1 };
  const MlPoint anode = at (scene, "D4", 0), cathode = at (scene, "D4", 1);
  MlPoint point;

  assert_true (ml_plan_probe_point (scene, &red, &black, &point));
  assert_true (point.x == anode.x && point.y == anode.y);
  assert_true (ml_plan_probe_point (scene, &black, &red, &point));
  assert_true (point.x == cathode.x && point.y == cathode.y);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_turn_and_mirror_put_pads_where_the_eye_sees_them),
    cmocka_unit_test (test_magnified_pads_move_apart_and_keep_their_size),
    cmocka_unit_test (test_only_what_is_pinned_is_shown),
    cmocka_unit_test (test_pads_that_do_not_fit_are_measured),
    cmocka_unit_test (test_pads_are_hit_before_parts),
    cmocka_unit_test (test_a_board_without_a_picture_has_an_empty_sheet),
    cmocka_unit_test (test_a_suspect_is_missing_on_a_picture_only),
    cmocka_unit_test (test_names_keep_off_pads_and_each_other),
    cmocka_unit_test (test_a_part_that_lies_across_is_marked_in_its_middle),
    cmocka_unit_test (test_pads_say_which_way_round),
    cmocka_unit_test (test_unpinned_pins_come_in_the_order_of_the_file),
    cmocka_unit_test (test_nets_are_near_by_their_nearest_pads),
    cmocka_unit_test (test_pads_go_through_to_the_other_side),
    cmocka_unit_test (test_pads_in_one_line_tell_nothing_of_the_other_side),
    cmocka_unit_test (test_picture_is_named_from_the_board),
    cmocka_unit_test (test_overlay_finds_pads),
    cmocka_unit_test (test_tip_goes_to_the_pad_next_to_the_other_tip),
    cmocka_unit_test (test_tips_on_two_nets_go_across_the_part_between),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
