/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What must hold in every drawing, whatever the board. Rules of orthogonal circuit drawings (common practice); the net list is read back
 * from the geometry alone and compared with the board's. */
#include "board/edit.h"
#include "drawing/layout-boards.h"
#include "drawing/marks.h"
#include "drawing/symbol-geometry.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/generate.h"
#include "support/near.h"
#include "support/size.h"

static const char divider[] = "reference GND\n"
                              "part J1 connector 1=IN 2=GND\n"
                              "part R1 resistor 1=IN 2=MID value=10k\n"
                              "part R2 resistor 1=MID 2=GND value=1k\n"
                              "part C1 capacitor 1=MID 2=GND value=100n\n"
                              "condition on\n"
                              "  supply plus=IN minus=GND voltage=12\n";

static void
check_board (MlBoard *board, guint effort, const char *what)
{
  MlScene *scene = ml_test_layout (board, effort);

  assert_int_equal (ml_test_hard_faults (scene, what), 0);
  ml_scene_unref (scene);
}

static void
check_efforts (const char *text, guint below, const char *what)
{
  MlBoard *board = ml_test_board (text);
  guint effort;

  for (effort = 0; effort < below; effort++)
    check_board (board, effort, what);
  ml_board_unref (board);
}

static void
check_text (const char *text, const char *what)
{
  check_efforts (text, 3, what);
}

/* ---- corner cases ---- */

static void
test_layout_empty_board_gives_an_empty_scene (void **state)
{
  MlBoard *board = ml_test_board ("reference GND\n");
  MlScene *scene = ml_test_layout (board, 2);

  assert_int_equal (scene->n_symbols, 0);
  assert_int_equal (scene->n_wires, 0);
  assert_true (scene->extent.x1 >= scene->extent.x0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_layout_corner_cases_have_no_hard_faults (void **state)
{
  check_text ("part R1 resistor 1=A 2=B value=1k\n", "one part");
  check_text ("part R1 resistor 1=- 2=-\n", "one part, open");
  check_text ("part R1 resistor 1=A 2=A\npart Q1 npn collector=A base=A emitter=A\n", "all pins on one net");
  check_text ("part R1 resistor 1=A 2=B\npart R2 resistor 1=B 2=C\npart R3 resistor 1=C 2=A\n", "no supply, no reference");
  check_text ("reference GND\npart R1 resistor 1=A 2=GND\npart R2 resistor 1=B 2=C\npart C1 capacitor plus=D minus=E\npart D1 led anode=D cathode=E\n",
              "islands");
  check_text ("part U1 block\npart J1 connector\npart TP1 testpoint\n", "boxes without pins");
  check_text ("part Q1 npn collector=A\npart U1 opamp out=A\npart K1 coil 1=A 2=B\npart K1a contact common=B nc=A by=K1\n", "pins left out");
  check_text (divider, "divider");
}

/* No text is wider than what room is kept for, and the cut shows. */
static void
check_texts_are_cut (const char *text)
{
  MlBoard *board = ml_test_board (text);
  MlScene *scene = ml_test_layout (board, 1);
  guint i, n_cut = 0;

  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      assert_true (label->box.x1 - label->box.x0 <= ML_TEXT_WIDEST);
      n_cut += g_str_has_suffix (label->text, "…");
    }
  assert_true (n_cut >= 3); /* R and U's names, a pin's */
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_layout_very_long_names_are_cut (void **state)
{
  GString *text = g_string_new ("reference GND\n");
  char *name = g_strnfill (300, 'W');

  g_string_append_printf (text, "part R%s resistor 1=N%s 2=GND value=1k\n", name, name);
  g_string_append_printf (text, "part U1 block P%s=N%s Q=GND\n", name, name);
  g_string_append_printf (text, "part J1 connector A%s=N%s B=GND\n", name, name);
  check_text (text->str, "long names");
  check_texts_are_cut (text->str);
  g_string_free (text, TRUE);
  g_free (name);
}

static void
test_layout_wide_block_and_busy_net (void **state)
{
  GString *text = g_string_new ("reference GND\npart U1 block VDD=VCC GND=GND");
  const guint n_pins = ml_test_size (62, 22);
  guint i;

  for (i = 0; i < n_pins; i++)
    g_string_append_printf (text, " P%u=S%u", i, i);
  for (i = 0; 5 * i < n_pins && i < 12; i++)
    g_string_append_printf (text, "\npart R%u resistor 1=S%u 2=GND value=1k", i, 5 * i);
  g_string_append (text, "\n");
  check_text (text->str, "a block of many pins");
  g_string_assign (text, "reference GND\n");
  for (i = 0; i < 50; i++)
    g_string_append_printf (text, "part R%u resistor 1=BUS 2=BUS2 value=1k\n", i);
  {
    MlBoard *board = ml_test_board (text->str);
    check_board (board, 0, "nets with 50 pins");
    check_board (board, 1, "nets with 50 pins");
    ml_board_unref (board);
  }
  g_string_free (text, TRUE);
}

/* The share of signal nets with two pins that are drawn as a wire, not as a name at either pin. */
static double
share_joined (const MlScene *scene)
{
  guint i, k, n = 0, joined = 0;

  for (i = 0; i < scene->board->n_nets; i++)
    {
      guint pins = 0, flags = 0;
      for (k = 0; k < scene->n_pins; k++)
        pins += scene->pins[k].net == (int) i;
      for (k = 0; k < scene->n_flags; k++)
        flags += scene->flags[k].net == (int) i;
      n += pins == 2;
      joined += pins == 2 && flags == 0;
    }
  assert_true (n > 20);
  return (double) joined / n;
}

/* A first drawing comes at once: that of a large board in rows, where only names join the parts. It says so, and the next is a real one: most wires
 * are drawn. */
static void
test_layout_large_board_is_drawn_in_stages (void **state)
{
  g_autofree char *text = ml_generate_board (7, ml_test_size (600, 340));
  MlBoard *board = ml_test_board (text);
  MlScene *rows = ml_test_layout (board, 0), *scene = ml_test_layout (board, 1);

  assert_true (rows->in_rows);
  assert_int_equal (ml_layout_measure (rows).misconnected, 0);
  assert_false (scene->in_rows);
  assert_int_equal (ml_test_hard_faults (scene, "a large board"), 0);
  print_message ("# a large board: %.0f %% of the nets with two pins are wires, in rows %.0f %%\n", 100 * share_joined (scene), 100 * share_joined (rows));
  assert_true (share_joined (scene) > 0.8);
  ml_scene_unref (rows);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Parts without number are put in rows whatever time there is. */
static void
test_layout_crowd_is_drawn_in_rows (void **state)
{
  GString *text = g_string_new ("reference GND\n");
  MlBoard *board;
  MlScene *scene;
  guint i;

  for (i = 0; i < 2100; i++)
    g_string_append_printf (text, "part R%u resistor 1=N%u 2=N%u value=1k\n", i, i % 900, (i * 7 + 1) % 900);
  board = ml_test_board (text->str);
  scene = ml_test_layout (board, 1);
  assert_int_equal (scene->n_symbols, 2100);
  assert_true (scene->in_rows);
  ml_scene_unref (scene);
  ml_board_unref (board);
  g_string_free (text, TRUE);
}

static void
test_layout_every_kind_is_drawn (void **state)
{
  guint k;

  for (k = 0; k < ML_N_KINDS; k++)
    {
      const MlKindInfo *kind = ml_kind_info ((MlKind) k);
      GString *text = g_string_new ("reference GND\n");
      guint p;
      g_string_append_printf (text, "part X1 %s", kind->word);
      for (p = 0; kind->pins != NULL && kind->pins[p] != NULL; p++)
        g_string_append_printf (text, " %s=N%u", kind->pins[p], p);
      if (kind->any_pins)
        g_string_append (text, " A=N0 B=N1 C=GND");
      if (kind->kind == ML_KIND_CONTACT)
        g_string_append (text, " by=K9\npart K9 coil 1=N0 2=GND");
      for (p = 0; p < 5; p++)
        g_string_append_printf (text, "\npart R%u resistor 1=N%u 2=GND", p, p);
      g_string_append (text, "\n");
      check_text (text->str, kind->word);
      g_string_free (text, TRUE);
    }
}

/* ---- the demo boards and generated ones ---- */

static guint
check_folder (const char *name, guint below, guint most)
{
  g_autofree char *folder = g_build_filename (g_getenv ("METERLEAF_SOURCE"), name, NULL);
  GDir *dir = g_dir_open (folder, 0, NULL);
  const char *file;
  guint n = 0;

  assert_non_null (dir);
  while ((file = g_dir_read_name (dir)) != NULL && n < most)
    if (g_str_has_suffix (file, ".leafboard"))
      {
        g_autofree char *path = g_build_filename (folder, file, NULL);
        g_autofree char *text = NULL;
        assert_true (g_file_get_contents (path, &text, NULL, NULL));
        check_efforts (text, below, file);
        n++;
      }
  g_dir_close (dir);
  return n;
}

static void
test_layout_demo_boards_have_no_hard_faults (void **state)
{
  assert_true (check_folder ("boards", 3, ml_test_size (G_MAXUINT, 3)) >= 3);
}

/* Amplifiers, bridges, a charger, a ladder, relays: circuits of our own scenarios with the structures that layout knows. */
static void
test_layout_known_structures_have_no_hard_faults (void **state)
{
  assert_true (check_folder ("tests/drawing/boards", 2, ml_test_size (G_MAXUINT, 4)) >= ml_test_size (9, 4));
}

static void
check_generated (guint64 first, guint n, guint effort, double *ret_score)
{
  guint i;

  for (i = 0; i < n; i++)
    {
      g_autofree char *text = ml_generate_board (first + i, 5 + (guint) ((first + i) * 7 % 50));
      g_autofree char *what = g_strdup_printf ("seed %u, effort %u", (guint) (first + i), effort);
      MlBoard *board = ml_test_board (text);
      MlScene *scene = ml_test_layout (board, effort);
      assert_int_equal (ml_test_hard_faults (scene, what), 0);
      *ret_score += ml_layout_measure (scene).score / n;
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

static void
test_layout_generated_boards_have_no_hard_faults (void **state)
{
  const guint n = ml_test_size (40, 4);
  double plain = 0, polished = 0;

  check_generated (3000, n, 0, &plain);
  check_generated (3000, n, 1, &polished);
  print_message ("# %u generated boards: mean score %.2f with insertion and router only, %.2f polished\n", n, plain, polished);
  assert_true (polished < plain);
}

/* The thirty boards of the verdict's exam, as the pictures of `draw` show them. */
static void
test_layout_boards_of_the_exam_have_no_hard_faults (void **state)
{
  for (guint i = 0; i < ml_test_size (30, 4); i++)
    {
      g_autofree char *drawn = NULL, *actual = NULL, *what = g_strdup_printf ("exam board %u", i);
      MlBoard *board;
      MlScene *scene;

      ml_generate_pair (8001 + i, 5 + i % 11, &drawn, &actual);
      board = ml_test_board (drawn);
      scene = ml_test_layout (board, 2);
      assert_int_equal (ml_test_hard_faults (scene, what), 0);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* ---- structures that a draughtsman draws in one way (common practice of the drawing office) ---- */

static MlScene *
scene_of_file (const char *name, MlBoard **ret_board)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "boards", name, NULL), *text = NULL;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  *ret_board = ml_test_board (text);
  return ml_test_layout (*ret_board, 2);
}

static MlPoint
pin_at (const MlScene *scene, const char *part, const char *pin)
{
  int i = ml_board_find_part (scene->board, part);
  guint k;

  assert_true (i >= 0);
  for (k = 0; k < scene->board->parts[i].n_pins; k++)
    if (strcmp (scene->board->parts[i].pins[k].name, pin) == 0)
      return scene->pins[ml_scene_pin (scene, i, (int) k)].at;
  fail_msg ("%s has no pin %s", part, pin);
  return (MlPoint){ 0, 0 };
}

/* The halves of a bridge face each other at one height, the load lies between them, the resistor that both share hangs below. */
static void
test_layout_bridge_over_a_sense_resistor_is_symmetric (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("turntable-drive.leafboard", &board);
  MlPoint upper_l = pin_at (scene, "Q1", "emitter"), upper_r = pin_at (scene, "Q2", "emitter"), lower_l = pin_at (scene, "Q3", "emitter"),
          lower_r = pin_at (scene, "Q4", "emitter"), load_a = pin_at (scene, "M1", "1"), load_b = pin_at (scene, "M1", "2"),
          sense = pin_at (scene, "R11", "1");

  assert_near (upper_l.y, upper_r.y, 0, 1e-9);
  assert_near (lower_l.y, lower_r.y, 0, 1e-9);
  assert_near (load_a.y, load_b.y, 0, 1e-9);
  assert_true (MIN (upper_l.x, upper_r.x) < MIN (load_a.x, load_b.x) && MAX (upper_l.x, upper_r.x) > MAX (load_a.x, load_b.x));
  assert_true (sense.y > lower_l.y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Isolated inputs stand alike: resistor in line with the LED, the diode that guards it beside it, pull-up over the collector. */
static void
test_layout_isolated_inputs_stand_alike (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("turnout-inputs.leafboard", &board);

  for (guint i = 1; i <= 4; i++)
    {
      g_autofree char *opto = g_strdup_printf ("U%u", i + 1), *series = g_strdup_printf ("R%u", i), *pull_up = g_strdup_printf ("R%u", i + 4),
                      *diode = g_strdup_printf ("D%u", i);
      const MlPoint anode = pin_at (scene, opto, "anode"), cathode = pin_at (scene, opto, "cathode"), collector = pin_at (scene, opto, "collector");
      const double to_left = collector.x > anode.x ? 1 : -1; /* a stage may be mirrored as a whole */

      assert_near (pin_at (scene, series, "1").y, anode.y, 0, 1e-9);
      assert_near (pin_at (scene, series, "2").y, anode.y, 0, 1e-9);
      assert_true (to_left * (pin_at (scene, series, "1").x - anode.x) < 0);
      assert_near (pin_at (scene, diode, "cathode").y, anode.y, 0, 1e-9);
      assert_near (pin_at (scene, diode, "anode").y, cathode.y, 0, 1e-9);
      assert_near (pin_at (scene, pull_up, "1").x, pin_at (scene, pull_up, "2").x, 0, 1e-9);
      assert_true (pin_at (scene, pull_up, "1").y < pin_at (scene, pull_up, "2").y);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static MlSide
side_of (const MlScene *scene, const char *part, const char *pin)
{
  const int i = ml_board_find_part (scene->board, part);

  for (guint k = 0; k < scene->board->parts[i].n_pins; k++)
    if (strcmp (scene->board->parts[i].pins[k].name, pin) == 0)
      return scene->pins[ml_scene_pin (scene, i, (int) k)].side;
  fail_msg ("%s has no pin %s", part, pin);
  return ML_SIDE_UP;
}

/* Between two chips whose insides are unknown the one that drives lamps is the later one: its inputs face the outputs of the other. */
static void
test_layout_lines_between_two_chips_face_each_other (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("signal-shifter.leafboard", &board);

  for (guint i = 0; i < 8; i++)
    {
      const char out[] = { 'Q', (char) ('A' + i), '\0' }, in[] = { 'I', (char) ('1' + i), '\0' };

      assert_int_equal (side_of (scene, "U2", out), ML_SIDE_RIGHT);
      assert_int_equal (side_of (scene, "U3", in), ML_SIDE_LEFT);
      assert_true (pin_at (scene, "U2", out).x < pin_at (scene, "U3", in).x);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Two transistors of one kind behind a driver chip: one over the other, each gate's resistor in line and the diode that empties it beside it. */
static void
test_layout_half_bridge_behind_a_driver_stands_in_a_column (void **state)
{
  static const struct { const char *transistor, *resistor, *diode; } gates[] = { { "Q1", "R2", "D3" }, { "Q2", "R4", "D4" } };
  MlBoard *board;
  MlScene *scene = scene_of_file ("winch-half-bridge.leafboard", &board);

  assert_near (pin_at (scene, "Q1", "source").x, pin_at (scene, "Q2", "drain").x, 0, 1e-9);
  assert_true (pin_at (scene, "Q1", "source").y < pin_at (scene, "Q2", "drain").y);
  for (guint i = 0; i < G_N_ELEMENTS (gates); i++)
    {
      const MlPoint gate = pin_at (scene, gates[i].transistor, "gate"), r1 = pin_at (scene, gates[i].resistor, "1"),
                    r2 = pin_at (scene, gates[i].resistor, "2"), anode = pin_at (scene, gates[i].diode, "anode"),
                    cathode = pin_at (scene, gates[i].diode, "cathode");

      assert_near (r1.y, gate.y, 0, 1e-9);
      assert_near (r2.y, gate.y, 0, 1e-9);
      assert_near (anode.x, r2.x, 0, 1e-9);
      assert_near (cathode.x, r1.x, 0, 1e-9);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A bench supply on a control line stands in for a signal: the line is drawn, not hung on bars. */
static void
test_layout_supply_of_a_signal_is_no_rail (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("turntable-drive.leafboard", &board);
  int cw = ml_board_find_net (board, "CW"), vm = ml_board_find_net (board, "VM");
  guint i, bars = 0;

  for (i = 0; i < scene->n_flags; i++)
    {
      assert_false (scene->flags[i].net == cw && scene->flags[i].kind != ML_FLAG_NET);
      bars += scene->flags[i].net == vm && scene->flags[i].kind != ML_FLAG_NET;
    }
  assert_true (bars > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A pass transistor lies in the line of the supply, the shunt behind it level with it; the load's connector stands right of both. */
static void
test_layout_pass_transistor_lies_in_line (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("workshop-supply.leafboard", &board);
  MlPoint in = pin_at (scene, "Q2", "collector"), out = pin_at (scene, "Q2", "emitter"), shunt = pin_at (scene, "R7", "1"),
          outlet = pin_at (scene, "J2", "PLUS");

  assert_near (in.y, out.y, 0, 1e-9);
  assert_true (in.x < out.x);
  assert_near (shunt.y, out.y, 0, 1e-9);
  assert_true (outlet.x > shunt.x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A multivibrator: four resistors in a row, both transistors at one height, the coupling parts one above the other. */
static void
test_layout_multivibrator_stands_in_a_row (void **state)
{
  static const char *const resistors[] = { "R1", "R2", "R3", "R4" };
  MlBoard *board;
  MlScene *scene = scene_of_file ("crossing-flasher.leafboard", &board);
  guint i;

  for (i = 1; i < G_N_ELEMENTS (resistors); i++)
    assert_near (pin_at (scene, resistors[i], "1").y, pin_at (scene, resistors[0], "1").y, 0, 1e-9);
  assert_near (pin_at (scene, "Q1", "emitter").y, pin_at (scene, "Q2", "emitter").y, 0, 1e-9);
  assert_near (MIN (pin_at (scene, "C4", "plus").x, pin_at (scene, "C4", "minus").x),
               MIN (pin_at (scene, "C5", "plus").x, pin_at (scene, "C5", "minus").x), 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lamps in rows and columns stand so, the resistors of the columns below them in one row. */
static void
test_layout_lamp_matrix_stands_in_rows_and_columns (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("track-diagram.leafboard", &board);

  for (guint i = 0; i < 9; i++)
    {
      g_autofree char *lamp = g_strdup_printf ("LED%u", i + 1), *first = g_strdup_printf ("LED%u", i / 3 * 3 + 1),
                      *top = g_strdup_printf ("LED%u", i % 3 + 1);
      const MlPoint anode = pin_at (scene, lamp, "anode");

      assert_near (anode.y, pin_at (scene, first, "anode").y, 0, 1e-9);
      assert_near (anode.x, pin_at (scene, top, "anode").x, 0, 1e-9);
      assert_near (anode.x, pin_at (scene, lamp, "cathode").x, 0, 1e-9);
    }
  assert_near (pin_at (scene, "R4", "2").y, pin_at (scene, "R5", "2").y, 0, 1e-9);
  assert_near (pin_at (scene, "R4", "2").y, pin_at (scene, "R6", "2").y, 0, 1e-9);
  assert_true (pin_at (scene, "R4", "2").y > pin_at (scene, "LED9", "cathode").y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The difference of two inputs: both transistors at one height and face to face, what feeds them below and between. */
static void
test_layout_two_transistors_on_one_tail_face_each_other (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("track-supply.leafboard", &board);
  MlPoint collector_a = pin_at (scene, "Q1", "collector"), collector_b = pin_at (scene, "Q2", "collector"), base_a = pin_at (scene, "Q1", "base"),
          base_b = pin_at (scene, "Q2", "base"), tail = pin_at (scene, "R2", "1");
  double to_right = collector_b.x > collector_a.x ? 1 : -1;

  assert_near (collector_a.y, collector_b.y, 0, 1e-9);
  assert_true (to_right * (base_a.x - collector_a.x) < 0);
  assert_true (to_right * (base_b.x - collector_b.x) > 0);
  assert_true (tail.y > collector_a.y);
  assert_near (tail.x, (collector_a.x + collector_b.x) / 2, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The first stage of an instrumentation amplifier: one amplifier over the other, the resistor that both share upright between their feedbacks. */
static void
test_layout_two_amplifiers_on_one_resistor_mirror_each_other (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("scale-amplifier.leafboard", &board);
  MlPoint upper = pin_at (scene, "U1A", "inverting"), lower = pin_at (scene, "U1B", "inverting"), gp = pin_at (scene, "R4", "1"),
          gn = pin_at (scene, "R4", "2");
  double down = lower.y > upper.y ? 1 : -1;

  assert_near (upper.x, lower.x, 0, 1e-9);
  assert_near (gp.x, gn.x, 0, 1e-9);
  assert_true (down * (gp.y - upper.y) > 0 && down * (lower.y - gn.y) > 0);
  assert_true (down * (upper.y - pin_at (scene, "U1A", "noninverting").y) > 0);
  assert_true (down * (pin_at (scene, "U1B", "noninverting").y - lower.y) > 0);
  assert_near (pin_at (scene, "R3", "1").y, pin_at (scene, "R3", "2").y, 0, 1e-9);
  assert_near (pin_at (scene, "R3", "1").x, pin_at (scene, "R5", "1").x, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lines between two voltages run straight through their transistors, the gates up to the lower rail; the chip's pins look at the connector. */
static void
test_layout_lines_between_two_voltages_run_through_lying_transistors (void **state)
{
  static const char *const transistors[] = { "Q1", "Q2", "Q3" }, *const pins[] = { "SDA", "SCL", "IRQ" };
  MlBoard *board;
  MlScene *scene = scene_of_file ("indicator-bus.leafboard", &board);

  for (guint i = 0; i < G_N_ELEMENTS (transistors); i++)
    {
      assert_near (pin_at (scene, transistors[i], "source").y, pin_at (scene, transistors[i], "drain").y, 0, 1e-9);
      assert_true (pin_at (scene, transistors[i], "gate").y < pin_at (scene, transistors[i], "drain").y);
      assert_int_equal (side_of (scene, "U2", pins[i]), ML_SIDE_RIGHT);
      assert_int_equal (side_of (scene, "J2", pins[i]), ML_SIDE_LEFT);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* What drives the rows of a matrix stands before them, one over the other. */
static void
test_layout_drivers_of_a_matrix_stand_before_their_rows (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("lamp-matrix.leafboard", &board);

  for (guint row = 0; row < 3; row++)
    {
      g_autofree char *driver = g_strdup_printf ("Q%u", row + 1), *lamp = g_strdup_printf ("LED%u", 4 * row + 1),
                      *resistor = g_strdup_printf ("R%u", row + 1);

      assert_near (pin_at (scene, driver, "collector").x, pin_at (scene, "Q1", "collector").x, 0, 1e-9);
      assert_near (pin_at (scene, driver, "collector").y, pin_at (scene, lamp, "anode").y, 0, 1e-9);
      assert_true (pin_at (scene, driver, "collector").x < pin_at (scene, lamp, "anode").x);
      assert_near (pin_at (scene, resistor, "2").y, pin_at (scene, driver, "base").y, 0, 1e-9);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Eight lamps at eight pins of one chip hang in a row, in the order of the pins, and the chip's pins follow them. */
static void
test_layout_lamps_of_one_chip_hang_in_a_row (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("signal-shifter.leafboard", &board);

  for (guint i = 2; i <= 8; i++)
    {
      g_autofree char *lamp = g_strdup_printf ("D%u", 10 + i), *before = g_strdup_printf ("D%u", 9 + i);

      assert_near (pin_at (scene, lamp, "cathode").y, pin_at (scene, before, "cathode").y, 0, 1e-9);
      assert_true (pin_at (scene, lamp, "cathode").x > pin_at (scene, before, "cathode").x);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* ---- circuits of the same function are laid out alike (rule of the drawing office, IEC 61082-1, from memory) ---- */

typedef struct { const char *part, *pin; guint first, step; } Series; /* R2, R4, R6: "R%u", 2, 2 */

static MlPoint
pin_of_series (const MlScene *scene, const Series *series, guint unit)
{
  g_autofree char *name = g_strdup_printf (series->part, series->first + unit * series->step);

  return pin_at (scene, name, series->pin);
}

/* Each unit stands as far from the one before as the second from the first, all of its parts by as much. */
static void
assert_at_one_pitch (const MlScene *scene, const Series *series, guint n_series, guint n_units)
{
  MlPoint a = pin_of_series (scene, &series[0], 0), b = pin_of_series (scene, &series[0], 1);

  assert_true (a.x < b.x || a.y < b.y);
  assert_true (fabs (a.x - b.x) < 1e-9 || fabs (a.y - b.y) < 1e-9);
  for (guint i = 0; i < n_series; i++)
    for (guint unit = 1; unit < n_units; unit++)
      {
        MlPoint before = pin_of_series (scene, &series[i], unit - 1), at = pin_of_series (scene, &series[i], unit);
        assert_near (at.x - before.x, b.x - a.x, 0, 1e-9);
        assert_near (at.y - before.y, b.y - a.y, 0, 1e-9);
      }
}

/* Resistor, transistor and load at each pin of a driver chip: one below the other in the order of the pins, and so are the pins. */
static void
test_layout_channels_of_one_chip_stand_alike (void **state)
{
  static const Series valves[] = { { "R%u", "1", 2, 2 }, { "R%u", "2", 3, 2 }, { "Q%u", "gate", 1, 1 }, { "D%u", "cathode", 2, 1 } };
  static const Series solenoids[]
      = { { "R%u", "1", 1, 1 }, { "Q%u", "base", 1, 1 }, { "K%u", "1", 1, 1 }, { "D%u", "cathode", 1, 1 } };
  static const char *const outputs[] = { "O1", "O2", "O3", "O4" };
  MlBoard *board;
  MlScene *scene = scene_of_file ("irrigation.leafboard", &board);

  assert_at_one_pitch (scene, valves, G_N_ELEMENTS (valves), 4);
  ml_scene_unref (scene);
  ml_board_unref (board);
  scene = scene_of_file ("chain-lubricator.leafboard", &board);
  assert_at_one_pitch (scene, solenoids, G_N_ELEMENTS (solenoids), 4);
  for (guint i = 0; i < G_N_ELEMENTS (outputs); i++)
    {
      assert_int_equal (side_of (scene, "U2", outputs[i]), ML_SIDE_RIGHT);
      assert_true (i == 0 || pin_at (scene, "U2", outputs[i - 1]).y < pin_at (scene, "U2", outputs[i]).y);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Three half bridges stand side by side, though they meet at one resistor. */
static void
test_layout_half_bridges_of_one_driver_stand_alike (void **state)
{
  static const Series halves[] = { { "R%u", "1", 1, 2 }, { "R%u", "2", 2, 2 }, { "Q%u", "gate", 1, 2 }, { "Q%u", "drain", 2, 2 } };
  MlBoard *board;
  MlScene *scene = scene_of_file ("polishing-spindle.leafboard", &board);

  assert_at_one_pitch (scene, halves, G_N_ELEMENTS (halves), 3);
  assert_near (pin_at (scene, "Q1", "drain").x, pin_at (scene, "Q2", "drain").x, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Two are drawn alike as well, where that costs no more than a little wire. */
static void
test_layout_two_of_a_kind_stand_alike (void **state)
{
  static const Series points[]
      = { { "T%u", "gate", 1, 1 }, { "K%u", "1", 1, 1 }, { "D%u", "anode", 6, 1 }, { "R%u", "1", 3, 2 }, { "R%u", "1", 4, 2 }, { "S%u", "1", 1, 1 } };
  MlBoard *board;
  MlScene *scene = scene_of_file ("point-discharger.leafboard", &board);

  assert_at_one_pitch (scene, points, G_N_ELEMENTS (points), 2);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Eight resistors in the lines of a chip lie below each other; the terminal of each stands beside it. */
static void
test_layout_terminals_stand_at_the_lines_they_end (void **state)
{
  static const Series lines[] = { { "R%u", "1", 10, 1 }, { "R%u", "2", 10, 1 } };
  MlBoard *board;
  MlScene *scene = scene_of_file ("aspect-driver.leafboard", &board);

  assert_at_one_pitch (scene, lines, G_N_ELEMENTS (lines), 8);
  for (guint i = 0; i < 8; i++)
    {
      g_autofree char *resistor = g_strdup_printf ("R%u", 10 + i), *terminal = g_strdup_printf ("A%u", i);

      assert_near (pin_at (scene, resistor, "1").y, pin_at (scene, resistor, "2").y, 0, 1e-9);
      assert_near (pin_at (scene, "J3", terminal).y, pin_at (scene, resistor, "2").y, 0, 1e-9);
      assert_true (pin_at (scene, "J3", terminal).x - pin_at (scene, resistor, "2").x < 6);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lines that are held at a rail before or behind their resistors come in, left of the chip; what is joined to it alone goes out. */
static void
test_layout_held_lines_come_in_at_the_left (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("signal-shifter.leafboard", &board);

  assert_int_equal (side_of (scene, "J2", "DATA"), ML_SIDE_RIGHT);
  assert_true (pin_at (scene, "J2", "DATA").x < pin_at (scene, "U2", "SER").x);
  assert_int_equal (side_of (scene, "U2", "RCK"), ML_SIDE_LEFT);
  assert_int_equal (side_of (scene, "J3", "NEXT"), ML_SIDE_LEFT);
  ml_scene_unref (scene);
  ml_board_unref (board);
  scene = scene_of_file ("irrigation.leafboard", &board);
  assert_int_equal (side_of (scene, "J3", "RAIN"), ML_SIDE_RIGHT);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A negative supply has its fuse below that of the positive, its capacitors below theirs. */
static void
test_layout_fuse_of_a_negative_supply_lies_below_the_positive (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("bearing-amplifier.leafboard", &board);

  assert_near (pin_at (scene, "F1", "1").x, pin_at (scene, "F2", "1").x, 0, 1e-9);
  assert_true (pin_at (scene, "F1", "1").y < pin_at (scene, "F2", "1").y);
  assert_near (pin_at (scene, "C1", "plus").x, pin_at (scene, "C2", "minus").x, 0, 1e-9);
  assert_near (pin_at (scene, "C2", "minus").y, pin_at (scene, "F2", "2").y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A zener behind its resistor stands in the line of the supply, the capacitor that steadies it beside it. */
static void
test_layout_steadied_zener_hangs_on_the_line_of_the_supply (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("lamp-dimmer.leafboard", &board);

  assert_near (pin_at (scene, "R1", "1").y, pin_at (scene, "R1", "2").y, 0, 1e-9);
  assert_near (pin_at (scene, "R1", "2").y, pin_at (scene, "D2", "cathode").y, 0, 1e-9);
  assert_near (pin_at (scene, "D2", "cathode").y, pin_at (scene, "C2", "plus").y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The dashed line from a coil to its contact would run through what stands between: then there is none. */
static void
test_layout_link_of_a_relay_runs_through_nothing (void **state)
{
  static const char relay[] = "reference GND\n"
                              "part K1 coil 1=VP 2=GND show=relay\n"
                              "part K1a contact common=A no=B by=K1\n"
                              "place K1 x=0 y=0\nplace K1a x=16 y=0\n";
  static const char between[] = "part R1 resistor 1=A 2=GND value=1k\nplace R1 x=8 y=0\n";
  g_autofree char *both = g_strconcat (relay, between, NULL);
  MlBoard *alone = ml_test_board (relay), *crowded = ml_test_board (both);
  MlScene *scene = ml_test_layout (alone, 1);

  assert_int_equal (scene->n_links, 1);
  ml_scene_unref (scene);
  scene = ml_test_layout (crowded, 1);
  assert_int_equal (scene->n_links, 0);
  ml_scene_unref (scene);
  ml_board_unref (alone);
  ml_board_unref (crowded);
}

/* "V5 yellow" is nobody's name: the text of a part does not stand level with that of a rail and right beside it. */
static void
test_layout_text_of_a_part_keeps_off_the_name_of_a_rail (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("track-diagram.leafboard", &board);

  for (guint i = 0; i < scene->n_labels; i++)
    for (guint k = 0; k < scene->n_flags; k++)
      {
        const MlBox *text = &scene->labels[i].box, *flag = &scene->flags[k].box;
        if (scene->labels[i].kind == ML_LABEL_VALUE && scene->flags[k].kind == ML_FLAG_UP_RAIL)
          assert_false (text->x0 < flag->x1 + 0.4 && text->x1 > flag->x0 - 0.4 && text->y0 < flag->y1 - 0.2 && text->y1 > flag->y0 + 0.2);
      }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The name of a net keeps off the widest mark that a part beside it may get. */
static void
test_layout_name_of_a_net_keeps_off_the_mark_of_a_part (void **state)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", "vent-controller.leafboard", NULL), *text = NULL;
  MlBoard *board;
  MlScene *scene;
  MlBox mark;
  guint i, n = 0;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  board = ml_test_board (text);
  scene = ml_test_layout (board, 2);
  mark = ml_mark_extent (&scene->symbols[ml_scene_symbol (scene, ml_board_find_part (board, "Q1"))].body, ML_VERDICT_SUSPECT);
  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      if (label->kind != ML_LABEL_NET || label->net != ml_board_find_net (board, "ZREF"))
        continue;
      assert_false (label->box.x0 < mark.x1 && label->box.x1 > mark.x0 && label->box.y0 < mark.y1 && label->box.y1 > mark.y0);
      n++;
    }
  assert_int_equal (n, 1);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static double
gap_between (const MlBox *a, const MlBox *b)
{
  return MAX (MAX (a->x0 - b->x1, b->x0 - a->x1), 0) + MAX (MAX (a->y0 - b->y1, b->y0 - a->y1), 0);
}

/* D3 stands between a resistor and a coil, R1 over a terminal: the name of each stands beside it, not at those. */
static void
test_layout_names_stand_nearest_to_their_own_parts (void **state)
{
  static const struct { const char *file, *part; } crowded[] = { { "press-timer.leafboard", "D3" }, { "nutrient-stirrer.leafboard", "R1" } };
  guint i, k, c, n = 0;

  for (c = 0; c < G_N_ELEMENTS (crowded); c++)
    {
      MlBoard *board;
      MlScene *scene = scene_of_file (crowded[c].file, &board);
      int part = ml_board_find_part (board, crowded[c].part);
      for (i = 0; i < scene->n_labels; i++)
        {
          double own = ml_scene_symbol (scene, part) < 0 ? 0 : gap_between (&scene->symbols[ml_scene_symbol (scene, part)].body, &scene->labels[i].box);
          if (scene->labels[i].kind != ML_LABEL_NAME || scene->labels[i].part != part)
            continue;
          n++;
          for (k = 0; k < scene->n_symbols; k++)
            assert_true (scene->symbols[k].part == part || gap_between (&scene->symbols[k].body, &scene->labels[i].box) > own);
        }
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
  assert_int_equal (n, 2);
}

/* J1's V24, MOT and FLOAT lead to nets of these names: said at the terminals, not once more on the wires. What has another name is said. */
static void
test_layout_terminal_tells_the_name_of_its_net (void **state)
{
  static const struct { const char *net; guint n; } nets[] = { { "V24", 0 }, { "MOT", 0 }, { "FLOAT", 0 }, { "VF", 1 }, { "RUN", 1 } };
  MlBoard *board;
  MlScene *scene = scene_of_file ("nutrient-stirrer.leafboard", &board);
  guint i, k;

  for (k = 0; k < G_N_ELEMENTS (nets); k++)
    {
      guint n = 0;
      for (i = 0; i < scene->n_labels; i++)
        n += scene->labels[i].kind == ML_LABEL_NET && scene->labels[i].net == ml_board_find_net (board, nets[k].net);
      assert_int_equal (n, nets[k].n);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A multivibrator stays in its row with lamps in line with the loads: each lamp under its resistor. */
static void
test_layout_multivibrator_with_lamps_is_symmetric (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("crossing-blinker.leafboard", &board);

  for (guint i = 2; i <= 4; i++)
    {
      const char name[] = { 'R', (char) ('0' + i), '\0' };
      assert_near (pin_at (scene, name, "1").y, pin_at (scene, "R1", "1").y, 0, 1e-9);
    }
  assert_near (pin_at (scene, "LED1", "anode").x, pin_at (scene, "R1", "2").x, 0, 1e-9);
  assert_near (pin_at (scene, "LED2", "anode").x, pin_at (scene, "R2", "2").x, 0, 1e-9);
  assert_near (pin_at (scene, "LED1", "anode").y, pin_at (scene, "LED2", "anode").y, 0, 1e-9);
  assert_near (pin_at (scene, "Q1", "emitter").y, pin_at (scene, "Q2", "emitter").y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Behind a bridge of four single diodes the supply goes on in one row: capacitor, regulator, its capacitor. A driver's lamp and resistor stand
 * over its transistor. */
static void
test_layout_supply_goes_on_behind_four_diodes (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("locomotive-decoder.leafboard", &board);
  const MlPoint plus = pin_at (scene, "D1", "cathode"), in = pin_at (scene, "U1", "in");

  assert_near (pin_at (scene, "C1", "plus").y, in.y, 0, 1e-9);
  assert_near (pin_at (scene, "C2", "1").y, pin_at (scene, "U1", "out").y, 0, 1e-9);
  assert_true (plus.x < pin_at (scene, "C1", "plus").x && pin_at (scene, "C1", "plus").x < in.x && in.x < pin_at (scene, "C2", "1").x);
  assert_near (pin_at (scene, "LED1", "cathode").x, pin_at (scene, "Q7", "collector").x, 0, 1e-9);
  assert_near (pin_at (scene, "R12", "2").x, pin_at (scene, "Q7", "collector").x, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static const char *
name_shown (const MlScene *scene, guint part)
{
  for (guint i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].kind == ML_LABEL_NAME && scene->labels[i].part == (int) part)
      return scene->labels[i].text;
  return NULL;
}

/* Every part has its name, and a chip's does not stand beside a pin's as if the two were one: a letter's width (1 g) lies between. */
static void
test_layout_names_are_there_and_apart_from_those_of_pins (void **state)
{
  static const char *const files[] = { "locomotive-decoder.leafboard", "track-diagram.leafboard", "winch-half-bridge.leafboard" };

  for (guint f = 0; f < G_N_ELEMENTS (files); f++)
    {
      MlBoard *board;
      MlScene *scene = scene_of_file (files[f], &board);

      for (guint i = 0; i < board->n_parts; i++)
        assert_non_null (name_shown (scene, i));
      for (guint i = 0; i < scene->n_labels; i++)
        for (guint k = 0; k < scene->n_labels && scene->labels[i].kind == ML_LABEL_NAME; k++)
          {
            const MlBox *a = &scene->labels[i].box, *b = &scene->labels[k].box;
            if (scene->labels[k].kind == ML_LABEL_PIN && scene->labels[k].part == scene->labels[i].part && MIN (a->y1, b->y1) > MAX (a->y0, b->y0))
              assert_true (MAX (a->x0, b->x0) - MIN (a->x1, b->x1) >= 0.9);
          }
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* A follower drives the connector behind it: that is an output and stands right of it. */
static void
test_layout_connector_behind_a_follower_is_an_output (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("frost-alarm.leafboard", &board);

  assert_true (pin_at (scene, "J3", "METER").x > pin_at (scene, "U3", "out").x);
  assert_int_equal (scene->pins[ml_scene_pin (scene, ml_board_find_part (board, "J3"), 0)].side, ML_SIDE_LEFT);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Where two supplies come in, the capacitor of the negative one stands straight under that of the positive. */
static void
test_layout_negative_supply_hangs_below_the_positive (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("scale-amplifier.leafboard", &board);
  MlPoint upper = pin_at (scene, "C1", "minus"), lower = pin_at (scene, "C2", "plus");

  assert_near (upper.x, lower.x, 0, 1e-9);
  assert_true (lower.y > upper.y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Amplifiers leave their small capacitors to the line of the supply: each stands level with the large one, that of the negative supply below. */
static void
test_layout_small_capacitors_of_amplifiers_stand_with_the_supply (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("microphone-amplifier.leafboard", &board);
  guint i, n = 0;

  assert_near (pin_at (scene, "C8", "1").y, pin_at (scene, "C1", "plus").y, 0, 1e-9);
  assert_near (pin_at (scene, "C9", "1").x, pin_at (scene, "C8", "1").x, 0, 1e-9);
  for (i = 0; i < scene->n_flags; i++)
    n += strcmp (board->nets[scene->flags[i].net].name, "VPOS") == 0;
  assert_in_range (n, 1, 4); /* where it comes in, at each of two amplifiers, at the microphone's resistor */
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The supply pins of a chip are drawn once, at its first section; those of the other sections are found at the same legs. */
static void
test_layout_sections_of_a_chip_have_one_pair_of_supply_pins (void **state)
{
  static const char *const chips[][2] = { { "U1A", "U1B" }, { "U2A", "U2B" } };
  MlBoard *board;
  MlScene *scene = scene_of_file ("scale-amplifier.leafboard", &board);
  guint i, n = 0;

  for (i = 0; i < G_N_ELEMENTS (chips); i++)
    {
      MlPoint plus_a = pin_at (scene, chips[i][0], "positive"), plus_b = pin_at (scene, chips[i][1], "positive");
      MlPoint minus_a = pin_at (scene, chips[i][0], "negative"), minus_b = pin_at (scene, chips[i][1], "negative");
      assert_near (plus_a.x, plus_b.x, 0, 0);
      assert_near (plus_a.y, plus_b.y, 0, 0);
      assert_near (minus_a.x, minus_b.x, 0, 0);
      assert_near (minus_a.y, minus_b.y, 0, 0);
    }
  for (i = 0; i < scene->n_flags; i++)
    n += strcmp (board->nets[scene->flags[i].net].name, "VN") == 0;
  assert_in_range (n, 1, 3); /* where it comes in, and at each of two chips */
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* On different supplies, or without a common package, each has its own. */
static void
test_layout_sections_on_supplies_of_their_own_keep_their_pins (void **state)
{
  static const struct { const char *second, *package; } cases[] = { { "VB", " package=U1" }, { "VA", "" } };
  guint i;

  for (i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      g_autofree char *text = g_strdup_printf ("reference GND\npart U1A opamp noninverting=A inverting=B out=B positive=VA negative=GND%s\n"
                                               "part U1B opamp noninverting=B inverting=C out=C positive=%s negative=GND%s\n",
                                               cases[i].package, cases[i].second, cases[i].package);
      MlBoard *board = ml_test_board (text);
      MlScene *scene = ml_test_layout (board, 1);
      MlPoint a = pin_at (scene, "U1A", "positive"), b = pin_at (scene, "U1B", "positive");
      assert_true (fabs (a.x - b.x) + fabs (a.y - b.y) > 1);
      assert_int_equal (ml_test_hard_faults (scene, "sections"), 0);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* A strip is hard to read on a screen and on A4 (297 mm by 210 mm): what would be one goes into two rows. */
static void
test_layout_wide_board_is_broken_into_two_rows (void **state)
{
  static const char *const names[] = { "vent-with-block.leafboard", "point-motor.leafboard", "lamp-dimmer.leafboard" };
  guint i;

  for (i = 0; i < G_N_ELEMENTS (names); i++)
    {
      MlBoard *board;
      MlScene *scene = scene_of_file (names[i], &board);
      double ratio = (scene->extent.x1 - scene->extent.x0) / (scene->extent.y1 - scene->extent.y0);
      if (ratio < 0.9 || ratio > 1.9)
        fail_msg ("%s is drawn %.2f times as wide as high", names[i], ratio);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* ---- determinism ---- */

static void
test_layout_same_board_gives_the_same_scene (void **state)
{
  g_autofree char *text = ml_generate_board (77, 30), *first = NULL, *second = NULL;
  MlBoard *board = ml_test_board (text);
  MlScene *a = ml_test_layout (board, 1), *b = ml_test_layout (board, 1);

  first = ml_test_scene_text (a);
  second = ml_test_scene_text (b);
  assert_string_equal (first, second);
  ml_scene_unref (a);
  ml_scene_unref (b);
  ml_board_unref (board);
}

static void
test_layout_order_of_parts_in_the_file_does_not_matter (void **state)
{
  g_autofree char *reversed = NULL;
  g_auto (GStrv) lines = g_strsplit (divider, "\n", -1);
  MlBoard *board = ml_test_board (divider), *other;
  MlScene *a, *b;
  MlPlace *places_a = g_new0 (MlPlace, 4), *places_b = g_new0 (MlPlace, 4);
  guint i;

  reversed = g_strjoin ("\n", lines[0], lines[4], lines[3], lines[2], lines[1], lines[5], lines[6], "", NULL);
  other = ml_test_board (reversed);
  a = ml_test_layout (board, 1);
  b = ml_test_layout (other, 1);
  ml_layout_places (a, places_a);
  ml_layout_places (b, places_b);
  for (i = 0; i < 4; i++)
    {
      int twin = ml_board_find_part (other, board->parts[i].name);
      assert_near (places_b[twin].x, places_a[i].x, 0, 1e-9);
      assert_near (places_b[twin].y, places_a[i].y, 0, 1e-9);
      assert_int_equal (places_b[twin].turn, places_a[i].turn);
    }
  g_free (places_a);
  g_free (places_b);
  ml_scene_unref (a);
  ml_scene_unref (b);
  ml_board_unref (board);
  ml_board_unref (other);
}

static void
test_layout_cancelled_says_so (void **state)
{
  MlBoard *board = ml_test_board (divider);
  MlLayoutOptions options = { .effort = 2 };
  GCancellable *cancellable = g_cancellable_new ();
  GError *error = NULL;

  g_cancellable_cancel (cancellable);
  assert_null (ml_layout (board, &options, cancellable, &error));
  assert_true (g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED));
  g_clear_error (&error);
  g_object_unref (cancellable);
  ml_board_unref (board);
}

typedef struct { GCancellable *cancellable; double share; guint n; } Watch;

static void
watch_cb (double share, gpointer data)
{
  Watch *watch = data;

  assert_true (share >= watch->share && share <= 1);
  watch->share = share;
  watch->n++;
  if (watch->cancellable != NULL && share > 0.2)
    g_cancellable_cancel (watch->cancellable);
}

/* Says how far it is, and stops when it is told to on the way. */
static void
test_layout_of_a_large_board_tells_how_far_it_is (void **state)
{
  g_autofree char *text = ml_generate_board (5, ml_test_size (500, 250));
  MlBoard *board = ml_test_board (text);
  Watch watch = { NULL, 0, 0 };
  MlLayoutOptions options = { .effort = 1, .progress = watch_cb, .progress_data = &watch };
  MlScene *scene = ml_layout (board, &options, NULL, NULL);
  GError *error = NULL;

  assert_int_equal (ml_test_hard_faults (scene, "a large board"), 0);
  assert_true (watch.n > 100);
  assert_near (watch.share, 1, 0, 0);
  ml_scene_unref (scene);
  watch = (Watch){ g_cancellable_new (), 0, 0 };
  assert_null (ml_layout (board, &options, watch.cancellable, &error));
  assert_true (g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED));
  g_clear_error (&error);
  g_object_unref (watch.cancellable);
  ml_board_unref (board);
}

/* What limits the range of a potentiometer stands in its column, the higher voltage above (common practice). */
static void
test_layout_trimmer_between_resistors_stands_in_one_column (void **state)
{
  static const char *const parts[] = { "R1", "RV1", "R2" };
  MlBoard *board = ml_test_board ("reference M\npart R1 resistor 1=P 2=HI value=4k7\npart RV1 potentiometer 1=LO 2=HI wiper=SET value=10k\n"
                                  "part R2 resistor 1=LO 2=M value=4k7\npart U1 comparator noninverting=IN inverting=SET out=OUT positive=P negative=M\n"
                                  "part R3 resistor 1=P 2=IN value=10k\npart R4 resistor 1=IN 2=M value=10k\npart R5 resistor 1=P 2=OUT value=10k\n"
                                  "condition on\n  supply plus=P minus=M voltage=5 limit=1\n");
  MlScene *scene = ml_test_layout (board, 2);
  MlPoint last = { 0, 0 };

  for (guint i = 0; i < G_N_ELEMENTS (parts); i++)
    for (int end = 0; end < 2; end++) /* from above: R1's pin 1, the potentiometer's pin 2; R2's pin 1 is on its lower end */
      {
        int part = ml_board_find_part (board, parts[i]), pin = i == 1 ? 1 - end : end;
        MlPoint at = scene->pins[ml_scene_pin (scene, part, pin)].at;
        if (i + (guint) end > 0)
          {
            assert_near (at.x, last.x, 0, 0.1);
            assert_true (at.y > last.y);
          }
        last = at;
      }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A second regulator on the supply's rail keeps its capacitors at its output, as the first one does. */
static void
test_layout_second_regulator_keeps_its_capacitors (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("fume-extractor.leafboard", &board);
  int regulator = ml_board_find_part (board, "U1");
  MlPoint out = scene->pins[ml_scene_pin (scene, regulator, 1)].at;

  for (int i = 3; i <= 4; i++)
    {
      g_autofree char *name = g_strdup_printf ("C%d", i);
      MlPoint at = scene->pins[ml_scene_pin (scene, ml_board_find_part (board, name), 0)].at;
      assert_near (at.y, out.y, 0, 0.1);
      assert_true (at.x > out.x && at.x < out.x + 20);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* ---- what stays where it is ---- */

/* The board with the places of its parts written as the window does. */
static MlText *
with_places (const MlScene *scene)
{
  const MlBoard *board = scene->board;
  g_autofree MlPlace *places = g_new0 (MlPlace, board->n_parts);
  g_autofree int *parts = g_new0 (int, board->n_parts);
  g_autoptr (GPtrArray) pins = g_ptr_array_new_with_free_func (g_free);

  ml_layout_places (scene, places);
  for (guint k = 0; k < board->n_parts; k++)
    {
      parts[k] = (int) k;
      g_ptr_array_add (pins, ml_layout_pin_words (scene, (int) k));
    }
  return ml_board_edit_place_pins (board, parts, places, (const char *const *) pins->pdata, board->n_parts, NULL);
}

/* A board that is saved with its places looks the same when it is opened again: pins of its blocks stand where they stood. */
static void
test_layout_opened_again_keeps_the_pins_of_blocks (void **state)
{
  static const char *const names[] = { "shelf-light", "vent-with-block", "dust-extractor", "irrigation", "turntable-motor" };
  guint i, k, p, n = 0, same = 0;

  for (i = 0; i < ml_test_size (G_N_ELEMENTS (names), 1); i++)
    {
      g_autofree char *file = g_strconcat (names[i], ".leafboard", NULL);
      MlBoard *board, *placed;
      MlScene *scene = scene_of_file (file, &board), *again;
      g_autoptr (MlText) text = with_places (scene);

      placed = ml_board_read (text, NULL);
      again = ml_test_layout (placed, 2);
      for (k = 0; k < board->n_parts; k++)
        for (p = 0; board->parts[k].kind->kind == ML_KIND_BLOCK && p < board->parts[k].n_pins; p++)
          {
            MlPoint a = scene->pins[ml_scene_pin (scene, (int) k, (int) p)].at, b = again->pins[ml_scene_pin (again, (int) k, (int) p)].at;
            n++;
            same += fabs (a.x - b.x) < 0.1 && fabs (a.y - b.y) < 0.1;
          }
      ml_scene_unref (again);
      ml_board_unref (placed);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
  print_message ("# %u of %u pins where they were\n", same, n);
  assert_true (n > ml_test_size (20, 3));
  assert_int_equal (same, n);
}

/* Parts put close together by hand leave their pins little room: a net must be seen or named at each of them all the same. */
static void
test_layout_placed_close_together_loses_no_pin (void **state)
{
  MlBoard *board;
  MlScene *scene = scene_of_file ("placed/fume-extractor.leafboard", &board);

  assert_int_equal (ml_test_hard_faults (scene, "placed by hand"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_layout_placed_parts_stay (void **state)
{
  MlBoard *board = ml_test_board ("reference GND\n"
                                  "part R1 resistor 1=IN 2=MID\npart R2 resistor 1=MID 2=GND\npart Q1 npn collector=IN base=MID emitter=GND\n"
                                  "part U1 opamp noninverting=MID inverting=OUT out=OUT positive=IN negative=GND\n"
                                  "place R1 x=40 y=-7 turn=90\nplace Q1 x=10 y=20 turn=270 mirror\nplace U1 x=-30 y=4 turn=180 mirror\n");
  MlScene *scene = ml_test_layout (board, 2);
  MlPlace places[4];

  ml_layout_places (scene, places);
  assert_near (places[0].x, 40, 0, 0);
  assert_near (places[0].y, -7, 0, 0);
  assert_int_equal (places[0].turn, 1);
  assert_near (places[2].x, 10, 0, 0);
  assert_int_equal (places[2].turn, 3);
  assert_true (places[2].mirror);
  assert_near (places[3].x, -30, 0, 0);
  assert_near (places[3].y, 4, 0, 0);
  assert_int_equal (places[3].turn, 2);
  assert_true (places[3].mirror);
  assert_int_equal (ml_test_hard_faults (scene, "placed"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* How many of the parts that both boards have stand elsewhere. */
static guint
n_moved (const MlScene *before, const MlScene *after)
{
  MlPlace *old = g_new0 (MlPlace, MAX (before->board->n_parts, 1)), *now = g_new0 (MlPlace, MAX (after->board->n_parts, 1));
  guint i, n = 0;

  ml_layout_places (before, old);
  ml_layout_places (after, now);
  for (i = 0; i < before->board->n_parts; i++)
    {
      int twin = ml_board_find_part (after->board, before->board->parts[i].name);
      if (twin >= 0)
        n += fabs (now[twin].x - old[i].x) > 1e-9 || fabs (now[twin].y - old[i].y) > 1e-9 || now[twin].turn != old[i].turn;
    }
  g_free (old);
  g_free (now);
  return n;
}

static void
check_edit (const MlScene *before, const char *text, const char *what)
{
  MlBoard *board = ml_test_board (text);
  MlLayoutOptions options = { .effort = 1, .previous = before };
  MlScene *after = ml_layout (board, &options, NULL, NULL);

  assert_int_equal (n_moved (before, after), 0);
  assert_int_equal (ml_test_hard_faults (after, what), 0);
  ml_scene_unref (after);
  ml_board_unref (board);
}

/* The statement of the last resistor is left out. */
static char *
without_a_part (const char *text)
{
  const char *begin = g_strrstr (text, "\npart R"), *end = begin == NULL ? NULL : strchr (begin + 1, '\n');

  return begin == NULL || end == NULL ? g_strdup (text) : g_strdup_printf ("%.*s%s", (int) (begin - text), text, end);
}

static void
test_layout_one_part_more_or_less_moves_nothing (void **state)
{
  guint seed;

  for (seed = 40; seed < ml_test_size (90, 50); seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 8 + seed % 25), *more = NULL, *less = without_a_part (text);
      MlBoard *board = ml_test_board (text);
      MlScene *before = ml_test_layout (board, 1);

      more = g_strdup_printf ("%s\npart RX9 resistor 1=%s 2=%s value=1k\n", text, board->nets[seed % board->n_nets].name,
                              board->nets[(seed + 1) % board->n_nets].name);
      check_edit (before, more, "one part more");
      check_edit (before, less, "one part less");
      ml_scene_unref (before);
      ml_board_unref (board);
    }
}

/* Dropped on top of another part, a part comes to stand beside it: nothing may lie on anything. */
static void
test_layout_part_dropped_on_another_stands_beside_it (void **state)
{
  guint seed;

  for (seed = 100; seed < ml_test_size (130, 110); seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 10 + seed % 20);
      MlBoard *board = ml_test_board (text);
      MlScene *before = ml_test_layout (board, 1), *after;
      MlPlace *places = g_new0 (MlPlace, board->n_parts), to;
      int part = (int) (seed % board->n_parts), other = (int) ((seed * 7 + 3) % board->n_parts);

      ml_layout_places (before, places);
      to = places[part];
      to.x = places[other].x;
      to.y = places[other].y + 1;
      ml_layout_settle (before, part, &to);
      assert_true (fabs (to.x - places[other].x) <= 30 && fabs (to.y - places[other].y) <= 30);
      after = ml_layout_move (before, part, &to, TRUE);
      assert_int_equal (ml_test_hard_faults (after, board->parts[part].name), 0);
      ml_scene_unref (before);
      ml_scene_unref (after);
      g_free (places);
      ml_board_unref (board);
    }
}

static const char bridge_of_four[] = "reference MINUS\n"
                                     "part D1 diode anode=ACA cathode=PLUS\npart D2 diode anode=ACB cathode=PLUS\n"
                                     "part D3 diode anode=MINUS cathode=ACA\npart D4 diode anode=MINUS cathode=ACB\n"
                                     "part C1 capacitor plus=PLUS minus=MINUS value=470u\npart R1 resistor 1=PLUS 2=MINUS value=1k\n"
                                     "part J1 connector 1=ACA 2=ACB\n";

/* Four single diodes as a bridge are drawn as a diamond (common practice), also when read back with the places that were written. */
static void
test_layout_diamond_survives_its_places (void **state)
{
  MlBoard *board = ml_test_board (bridge_of_four), *again;
  MlScene *scene = ml_test_layout (board, 1), *second;
  MlPlace *places = g_new0 (MlPlace, board->n_parts);
  GString *text = g_string_new (bridge_of_four);
  guint i;

  ml_layout_places (scene, places);
  for (i = 0; i < board->n_parts; i++)
    g_string_append_printf (text, "place %s x=%g y=%g turn=%d%s\n", board->parts[i].name, places[i].x, places[i].y, 90 * places[i].turn,
                            places[i].mirror ? " mirror" : "");
  again = ml_test_board (text->str);
  second = ml_test_layout (again, 1);
  assert_int_equal (ml_test_hard_faults (scene, "bridge"), 0);
  assert_int_equal (ml_test_hard_faults (second, "bridge, placed"), 0);
  for (i = 0; i < 4; i++)
    {
      assert_string_equal (scene->symbols[ml_scene_symbol (scene, (int) i)].name, "diode-diagonal");
      assert_string_equal (second->symbols[ml_scene_symbol (second, (int) i)].name, "diode-diagonal");
    }
  g_string_free (text, TRUE);
  g_free (places);
  ml_scene_unref (scene);
  ml_scene_unref (second);
  ml_board_unref (board);
  ml_board_unref (again);
}

/* ---- dragging ---- */

static guint
n_wires_in_common (const MlScene *a, const MlScene *b, int net)
{
  guint i, k, n = 0;

  for (i = 0; i < a->n_wires; i++)
    for (k = 0; k < b->n_wires; k++)
      n += a->wires[i].net == net && b->wires[k].net == net && memcmp (&a->wires[i].a, &b->wires[k].a, sizeof (MlPoint)) == 0
           && memcmp (&a->wires[i].b, &b->wires[k].b, sizeof (MlPoint)) == 0;
  return n;
}

static gboolean
has_pin_on (const MlPart *part, int net)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (part->pins[i].net == net)
      return TRUE;
  return FALSE;
}

static void
test_layout_move_takes_one_part_along (void **state)
{
  guint seed;

  for (seed = 60; seed < 70; seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 10 + seed % 20);
      MlBoard *board = ml_test_board (text);
      MlScene *before = ml_test_layout (board, 1), *after;
      MlPlace *old = g_new0 (MlPlace, board->n_parts), *now = g_new0 (MlPlace, board->n_parts), to;
      int part = (int) (seed % board->n_parts);
      guint i;

      ml_layout_places (before, old);
      to = old[part];
      to.x = ceil (before->extent.x1) + 12; /* out into the open */
      to.y = 0;
      after = ml_layout_move (before, part, &to, TRUE);
      ml_layout_places (after, now);
      for (i = 0; i < board->n_parts; i++)
        if ((int) i != part)
          {
            assert_near (now[i].x, old[i].x, 0, 0);
            assert_near (now[i].y, old[i].y, 0, 0);
          }
      assert_near (now[part].x, to.x, 0, 0);
      assert_int_equal (ml_test_hard_faults (after, "moved"), 0);
      for (i = 0; i < board->n_nets; i++)
        if (!has_pin_on (&board->parts[part], (int) i))
          {
            guint k, n = 0;
            for (k = 0; k < before->n_wires; k++)
              n += before->wires[k].net == (int) i;
            assert_int_equal (n_wires_in_common (before, after, (int) i), n);
          }
      g_free (old);
      g_free (now);
      ml_scene_unref (before);
      ml_scene_unref (after);
      ml_board_unref (board);
    }
}

/* ---- the measure must see what is wrong ---- */

static void
test_measure_sees_faults_put_in_by_hand (void **state)
{
  MlBoard *board = ml_test_board (divider);
  MlScene *scene = ml_test_layout (board, 1);
  MlSceneWire saved;
  MlBox body;

  assert_true (scene->n_wires > 2);
  saved = scene->wires[0];
  scene->wires[0].b.x += 1;
  scene->wires[0].b.y += 1;
  assert_true (ml_layout_measure (scene).slanted > 0);
  body = scene->symbols[1].body;
  scene->wires[0].a = (MlPoint){ body.x0 - 1, floor ((body.y0 + body.y1) / 2) };
  scene->wires[0].b = (MlPoint){ body.x1 + 1, floor ((body.y0 + body.y1) / 2) };
  assert_true (ml_layout_measure (scene).through > 0);
  assert_true (ml_layout_measure (scene).misconnected > 0);
  scene->wires[0] = saved;
  assert_int_equal (ml_test_hard_faults (scene, "mended"), 0);
  scene->labels[0].box = scene->labels[1].box;
  assert_true (ml_layout_measure (scene).text_overlaps > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_empty_board_gives_an_empty_scene),
    cmocka_unit_test (test_layout_corner_cases_have_no_hard_faults),
    cmocka_unit_test (test_layout_very_long_names_are_cut),
    cmocka_unit_test (test_layout_wide_block_and_busy_net),
    cmocka_unit_test (test_layout_large_board_is_drawn_in_stages),
    cmocka_unit_test (test_layout_crowd_is_drawn_in_rows),
    cmocka_unit_test (test_layout_every_kind_is_drawn),
    cmocka_unit_test (test_layout_demo_boards_have_no_hard_faults),
    cmocka_unit_test (test_layout_known_structures_have_no_hard_faults),
    cmocka_unit_test (test_layout_generated_boards_have_no_hard_faults),
    cmocka_unit_test (test_layout_boards_of_the_exam_have_no_hard_faults),
    cmocka_unit_test (test_layout_bridge_over_a_sense_resistor_is_symmetric),
    cmocka_unit_test (test_layout_supply_of_a_signal_is_no_rail),
    cmocka_unit_test (test_layout_pass_transistor_lies_in_line),
    cmocka_unit_test (test_layout_multivibrator_stands_in_a_row),
    cmocka_unit_test (test_layout_lamp_matrix_stands_in_rows_and_columns),
    cmocka_unit_test (test_layout_multivibrator_with_lamps_is_symmetric),
    cmocka_unit_test (test_layout_supply_goes_on_behind_four_diodes),
    cmocka_unit_test (test_layout_names_are_there_and_apart_from_those_of_pins),
    cmocka_unit_test (test_layout_isolated_inputs_stand_alike),
    cmocka_unit_test (test_layout_lines_between_two_chips_face_each_other),
    cmocka_unit_test (test_layout_half_bridge_behind_a_driver_stands_in_a_column),
    cmocka_unit_test (test_layout_connector_behind_a_follower_is_an_output),
    cmocka_unit_test (test_layout_two_transistors_on_one_tail_face_each_other),
    cmocka_unit_test (test_layout_two_amplifiers_on_one_resistor_mirror_each_other),
    cmocka_unit_test (test_layout_lines_between_two_voltages_run_through_lying_transistors),
    cmocka_unit_test (test_layout_drivers_of_a_matrix_stand_before_their_rows),
    cmocka_unit_test (test_layout_lamps_of_one_chip_hang_in_a_row),
    cmocka_unit_test (test_layout_channels_of_one_chip_stand_alike),
    cmocka_unit_test (test_layout_half_bridges_of_one_driver_stand_alike),
    cmocka_unit_test (test_layout_two_of_a_kind_stand_alike),
    cmocka_unit_test (test_layout_names_stand_nearest_to_their_own_parts),
    cmocka_unit_test (test_layout_terminal_tells_the_name_of_its_net),
    cmocka_unit_test (test_layout_terminals_stand_at_the_lines_they_end),
    cmocka_unit_test (test_layout_held_lines_come_in_at_the_left),
    cmocka_unit_test (test_layout_fuse_of_a_negative_supply_lies_below_the_positive),
    cmocka_unit_test (test_layout_steadied_zener_hangs_on_the_line_of_the_supply),
    cmocka_unit_test (test_layout_link_of_a_relay_runs_through_nothing),
    cmocka_unit_test (test_layout_text_of_a_part_keeps_off_the_name_of_a_rail),
    cmocka_unit_test (test_layout_name_of_a_net_keeps_off_the_mark_of_a_part),
    cmocka_unit_test (test_layout_negative_supply_hangs_below_the_positive),
    cmocka_unit_test (test_layout_small_capacitors_of_amplifiers_stand_with_the_supply),
    cmocka_unit_test (test_layout_sections_of_a_chip_have_one_pair_of_supply_pins),
    cmocka_unit_test (test_layout_sections_on_supplies_of_their_own_keep_their_pins),
    cmocka_unit_test (test_layout_wide_board_is_broken_into_two_rows),
    cmocka_unit_test (test_layout_same_board_gives_the_same_scene),
    cmocka_unit_test (test_layout_order_of_parts_in_the_file_does_not_matter),
    cmocka_unit_test (test_layout_cancelled_says_so),
    cmocka_unit_test (test_layout_of_a_large_board_tells_how_far_it_is),
    cmocka_unit_test (test_layout_trimmer_between_resistors_stands_in_one_column),
    cmocka_unit_test (test_layout_second_regulator_keeps_its_capacitors),
    cmocka_unit_test (test_layout_opened_again_keeps_the_pins_of_blocks),
    cmocka_unit_test (test_layout_placed_close_together_loses_no_pin),
    cmocka_unit_test (test_layout_placed_parts_stay),
    cmocka_unit_test (test_layout_one_part_more_or_less_moves_nothing),
    cmocka_unit_test (test_layout_part_dropped_on_another_stands_beside_it),
    cmocka_unit_test (test_layout_diamond_survives_its_places),
    cmocka_unit_test (test_layout_move_takes_one_part_along),
    cmocka_unit_test (test_measure_sees_faults_put_in_by_hand),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
