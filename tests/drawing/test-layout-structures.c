/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Structures that a draughtsman draws in one way, and the names that stand at them (common practice of the drawing office). */
#include "drawing/layout-boards.h"
#include "drawing/marks.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/near.h"
#include "support/size.h"

/* The halves of a bridge face each other at one height, the load lies between them, the resistor that both share hangs below. */
static void
test_layout_bridge_over_a_sense_resistor_is_symmetric (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("turntable-drive.leafboard", &board);
  MlPoint upper_l = ml_test_pin (scene, "Q1", "emitter"), upper_r = ml_test_pin (scene, "Q2", "emitter"), lower_l = ml_test_pin (scene, "Q3", "emitter"),
          lower_r = ml_test_pin (scene, "Q4", "emitter"), load_a = ml_test_pin (scene, "M1", "1"), load_b = ml_test_pin (scene, "M1", "2"),
          sense = ml_test_pin (scene, "R11", "1");

  assert_near (upper_l.y, upper_r.y, 0, 1e-9);
  assert_near (lower_l.y, lower_r.y, 0, 1e-9);
  assert_near (load_a.y, load_b.y, 0, 1e-9);
  assert_true (MIN (upper_l.x, upper_r.x) < MIN (load_a.x, load_b.x) && MAX (upper_l.x, upper_r.x) > MAX (load_a.x, load_b.x));
  assert_true (sense.y > lower_l.y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Isolated inputs stand alike: resistor in line with the LED, the diode that guards it beside it, pull-up over the collector. Where a sign of the
 * reference would stand in the way of a line, room is made for it. */
static void
test_layout_isolated_inputs_stand_alike (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("turnout-inputs.leafboard", &board);

  for (guint i = 1; i <= 4; i++)
    {
      g_autofree char *opto = g_strdup_printf ("U%u", i + 1), *series = g_strdup_printf ("R%u", i), *pull_up = g_strdup_printf ("R%u", i + 4),
                      *diode = g_strdup_printf ("D%u", i);
      const MlPoint anode = ml_test_pin (scene, opto, "anode"), cathode = ml_test_pin (scene, opto, "cathode"), collector = ml_test_pin (scene, opto, "collector");
      const double to_left = collector.x > anode.x ? 1 : -1; /* a stage may be mirrored as a whole */

      assert_near (ml_test_pin (scene, series, "1").y, anode.y, 0, 1e-9);
      assert_near (ml_test_pin (scene, series, "2").y, anode.y, 0, 1e-9);
      assert_true (to_left * (ml_test_pin (scene, series, "1").x - anode.x) < 0);
      assert_near (ml_test_pin (scene, diode, "cathode").y, anode.y, 0, 1e-9);
      assert_near (ml_test_pin (scene, diode, "anode").y, cathode.y, 0, 1e-9);
      assert_near (ml_test_pin (scene, pull_up, "1").x, ml_test_pin (scene, pull_up, "2").x, 0, 1e-9);
      assert_true (ml_test_pin (scene, pull_up, "1").y < ml_test_pin (scene, pull_up, "2").y);
    }
  for (guint i = 1; i <= 4 && !ml_test_is_small (); i++) /* the first drawing is not parted */
    {
      g_autofree char *line = g_strdup_printf ("I%u", i);

      assert_int_equal (ml_test_flags (scene, line, ML_FLAG_NET), 0);
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
  MlScene *scene = ml_test_scene_of_file ("signal-shifter.leafboard", &board);

  for (guint i = 0; i < 8; i++)
    {
      const char out[] = { 'Q', (char) ('A' + i), '\0' }, in[] = { 'I', (char) ('1' + i), '\0' };

      assert_int_equal (side_of (scene, "U2", out), ML_SIDE_RIGHT);
      assert_int_equal (side_of (scene, "U3", in), ML_SIDE_LEFT);
      assert_true (ml_test_pin (scene, "U2", out).x < ml_test_pin (scene, "U3", in).x);
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
  MlScene *scene = ml_test_scene_of_file ("winch-half-bridge.leafboard", &board);

  assert_near (ml_test_pin (scene, "Q1", "source").x, ml_test_pin (scene, "Q2", "drain").x, 0, 1e-9);
  assert_true (ml_test_pin (scene, "Q1", "source").y < ml_test_pin (scene, "Q2", "drain").y);
  for (guint i = 0; i < G_N_ELEMENTS (gates); i++)
    {
      const MlPoint gate = ml_test_pin (scene, gates[i].transistor, "gate"), r1 = ml_test_pin (scene, gates[i].resistor, "1"),
                    r2 = ml_test_pin (scene, gates[i].resistor, "2"), anode = ml_test_pin (scene, gates[i].diode, "anode"),
                    cathode = ml_test_pin (scene, gates[i].diode, "cathode");

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
  MlScene *scene = ml_test_scene_of_file ("turntable-drive.leafboard", &board);
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
  MlScene *scene = ml_test_scene_of_file ("workshop-supply.leafboard", &board);
  MlPoint in = ml_test_pin (scene, "Q2", "collector"), out = ml_test_pin (scene, "Q2", "emitter"), shunt = ml_test_pin (scene, "R7", "1"),
          outlet = ml_test_pin (scene, "J2", "PLUS");

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
  MlScene *scene = ml_test_scene_of_file ("crossing-flasher.leafboard", &board);
  guint i;

  for (i = 1; i < G_N_ELEMENTS (resistors); i++)
    assert_near (ml_test_pin (scene, resistors[i], "1").y, ml_test_pin (scene, resistors[0], "1").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "Q1", "emitter").y, ml_test_pin (scene, "Q2", "emitter").y, 0, 1e-9);
  assert_near (MIN (ml_test_pin (scene, "C4", "plus").x, ml_test_pin (scene, "C4", "minus").x),
               MIN (ml_test_pin (scene, "C5", "plus").x, ml_test_pin (scene, "C5", "minus").x), 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Also one that a transistor feeds: its bar is no rail. */
static void
test_layout_switched_multivibrator_stands_in_a_row (void **state)
{
  static const char *const resistors[] = { "R6", "R7", "R8", "R9" };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("level-crossing.leafboard", &board);
  guint i;

  for (i = 1; i < G_N_ELEMENTS (resistors); i++)
    assert_near (ml_test_pin (scene, resistors[i], "1").y, ml_test_pin (scene, resistors[0], "1").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "Q3", "emitter").y, ml_test_pin (scene, "Q4", "emitter").y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lamps in rows and columns stand so; the resistors of the columns lie left of them one over the other, and wires lead on to the chip. */
static void
test_layout_lamp_matrix_stands_in_rows_and_columns (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("track-diagram.leafboard", &board);

  for (guint i = 0; i < 9; i++)
    {
      g_autofree char *lamp = g_strdup_printf ("LED%u", i + 1), *first = g_strdup_printf ("LED%u", i / 3 * 3 + 1),
                      *top = g_strdup_printf ("LED%u", i % 3 + 1);
      const MlPoint anode = ml_test_pin (scene, lamp, "anode");

      assert_near (anode.y, ml_test_pin (scene, first, "anode").y, 0, 1e-9);
      assert_near (anode.x, ml_test_pin (scene, top, "anode").x, 0, 1e-9);
      assert_near (anode.x, ml_test_pin (scene, lamp, "cathode").x, 0, 1e-9);
    }
  assert_true (ml_test_pin (scene, "R4", "1").x < ml_test_pin (scene, "LED7", "anode").x);
  for (guint i = 0; i < 3; i++)
    {
      const char series[] = { 'R', (char) ('4' + i), '\0' }, line[] = { 'Y', (char) ('1' + i), '\0' };

      assert_near (ml_test_pin (scene, series, "1").x, ml_test_pin (scene, "R4", "1").x, 0, 1e-9);
      assert_near (ml_test_pin (scene, series, "1").y, ml_test_pin (scene, series, "2").y, 0, 1e-9);
      assert_true (ml_test_pin (scene, series, "1").y > ml_test_pin (scene, "LED9", "anode").y + 6 * i);
      assert_int_equal (ml_test_flags (scene, line, ML_FLAG_NET), 0);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The difference of two inputs: both transistors at one height and face to face, what feeds them below and between. */
static void
test_layout_two_transistors_on_one_tail_face_each_other (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("track-supply.leafboard", &board);
  MlPoint collector_a = ml_test_pin (scene, "Q1", "collector"), collector_b = ml_test_pin (scene, "Q2", "collector"), base_a = ml_test_pin (scene, "Q1", "base"),
          base_b = ml_test_pin (scene, "Q2", "base"), tail = ml_test_pin (scene, "R2", "1");
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
  MlScene *scene = ml_test_scene_of_file ("scale-amplifier.leafboard", &board);
  MlPoint upper = ml_test_pin (scene, "U1A", "inverting"), lower = ml_test_pin (scene, "U1B", "inverting"), gp = ml_test_pin (scene, "R4", "1"),
          gn = ml_test_pin (scene, "R4", "2");
  double down = lower.y > upper.y ? 1 : -1;

  assert_near (upper.x, lower.x, 0, 1e-9);
  assert_near (gp.x, gn.x, 0, 1e-9);
  assert_true (down * (gp.y - upper.y) > 0 && down * (lower.y - gn.y) > 0);
  assert_true (down * (upper.y - ml_test_pin (scene, "U1A", "noninverting").y) > 0);
  assert_true (down * (ml_test_pin (scene, "U1B", "noninverting").y - lower.y) > 0);
  assert_near (ml_test_pin (scene, "R3", "1").y, ml_test_pin (scene, "R3", "2").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "R3", "1").x, ml_test_pin (scene, "R5", "1").x, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lines between two voltages run straight through their transistors, the gates up to the lower rail; the chip's pins look at the connector. */
static void
test_layout_lines_between_two_voltages_run_through_lying_transistors (void **state)
{
  static const char *const transistors[] = { "Q1", "Q2", "Q3" }, *const pins[] = { "SDA", "SCL", "IRQ" };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("indicator-bus.leafboard", &board);

  for (guint i = 0; i < G_N_ELEMENTS (transistors); i++)
    {
      assert_near (ml_test_pin (scene, transistors[i], "source").y, ml_test_pin (scene, transistors[i], "drain").y, 0, 1e-9);
      assert_true (ml_test_pin (scene, transistors[i], "gate").y < ml_test_pin (scene, transistors[i], "drain").y);
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
  MlScene *scene = ml_test_scene_of_file ("lamp-matrix.leafboard", &board);

  for (guint row = 0; row < 3; row++)
    {
      g_autofree char *driver = g_strdup_printf ("Q%u", row + 1), *lamp = g_strdup_printf ("LED%u", 4 * row + 1),
                      *resistor = g_strdup_printf ("R%u", row + 1);

      assert_near (ml_test_pin (scene, driver, "collector").x, ml_test_pin (scene, "Q1", "collector").x, 0, 1e-9);
      assert_near (ml_test_pin (scene, driver, "collector").y, ml_test_pin (scene, lamp, "anode").y, 0, 1e-9);
      assert_true (ml_test_pin (scene, driver, "collector").x < ml_test_pin (scene, lamp, "anode").x);
      assert_near (ml_test_pin (scene, resistor, "2").y, ml_test_pin (scene, driver, "base").y, 0, 1e-9);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Eight lamps at eight pins of one chip hang in a row, in the order of the pins, and the chip's pins follow them. */
static void
test_layout_lamps_of_one_chip_hang_in_a_row (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("signal-shifter.leafboard", &board);

  for (guint i = 2; i <= 8; i++)
    {
      g_autofree char *lamp = g_strdup_printf ("D%u", 10 + i), *before = g_strdup_printf ("D%u", 9 + i);

      assert_near (ml_test_pin (scene, lamp, "cathode").y, ml_test_pin (scene, before, "cathode").y, 0, 1e-9);
      assert_true (ml_test_pin (scene, lamp, "cathode").x > ml_test_pin (scene, before, "cathode").x);
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

  return ml_test_pin (scene, name, series->pin);
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

/* Two in each row, read like lines of text, all of a unit's parts at the pitch of its first. */
static void
assert_two_by_two (const MlScene *scene, const Series *series, guint n_series, guint n_units)
{
  MlPoint first = pin_of_series (scene, &series[0], 0), right = pin_of_series (scene, &series[0], 1), below = pin_of_series (scene, &series[0], 2);

  assert_near (right.y, first.y, 0, 1e-9);
  assert_near (below.x, first.x, 0, 1e-9);
  assert_true (right.x > first.x && below.y > first.y);
  for (guint i = 0; i < n_series; i++)
    for (guint unit = 1; unit < n_units; unit++)
      {
        MlPoint begin = pin_of_series (scene, &series[i], 0), at = pin_of_series (scene, &series[i], unit);
        assert_near (at.x - begin.x, unit % 2 * (right.x - first.x), 0, 1e-9);
        assert_near (at.y - begin.y, unit / 2 * (below.y - first.y), 0, 1e-9);
      }
}

/* Resistor, transistor and load at each pin of a driver chip: high ones two by two beside it in the order of the pins, and so are the pins. */
static void
test_layout_channels_of_one_chip_stand_alike (void **state)
{
  static const Series valves[] = { { "R%u", "1", 2, 2 }, { "R%u", "2", 3, 2 }, { "Q%u", "gate", 1, 1 }, { "D%u", "cathode", 2, 1 } };
  static const Series solenoids[]
      = { { "R%u", "1", 1, 1 }, { "Q%u", "base", 1, 1 }, { "K%u", "1", 1, 1 }, { "D%u", "cathode", 1, 1 } };
  static const char *const outputs[] = { "O1", "O2", "O3", "O4" };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("irrigation.leafboard", &board);

  assert_two_by_two (scene, valves, G_N_ELEMENTS (valves), 4);
  ml_scene_unref (scene);
  ml_board_unref (board);
  scene = ml_test_scene_of_file ("chain-lubricator.leafboard", &board);
  assert_two_by_two (scene, solenoids, G_N_ELEMENTS (solenoids), 4);
  for (guint i = 0; i < G_N_ELEMENTS (outputs); i++)
    {
      assert_int_equal (side_of (scene, "U2", outputs[i]), ML_SIDE_RIGHT);
      assert_true (i == 0 || ml_test_pin (scene, "U2", outputs[i - 1]).y < ml_test_pin (scene, "U2", outputs[i]).y);
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
  MlScene *scene = ml_test_scene_of_file ("polishing-spindle.leafboard", &board);

  assert_at_one_pitch (scene, halves, G_N_ELEMENTS (halves), 3);
  assert_near (ml_test_pin (scene, "Q1", "drain").x, ml_test_pin (scene, "Q2", "drain").x, 0, 1e-9);
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
  MlScene *scene = ml_test_scene_of_file ("point-discharger.leafboard", &board);

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
  MlScene *scene = ml_test_scene_of_file ("aspect-driver.leafboard", &board);

  assert_at_one_pitch (scene, lines, G_N_ELEMENTS (lines), 8);
  for (guint i = 0; i < 8; i++)
    {
      g_autofree char *resistor = g_strdup_printf ("R%u", 10 + i), *terminal = g_strdup_printf ("A%u", i);

      assert_near (ml_test_pin (scene, resistor, "1").y, ml_test_pin (scene, resistor, "2").y, 0, 1e-9);
      assert_near (ml_test_pin (scene, "J3", terminal).y, ml_test_pin (scene, resistor, "2").y, 0, 1e-9);
      assert_true (ml_test_pin (scene, "J3", terminal).x - ml_test_pin (scene, resistor, "2").x < 6);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Lines that are held at a rail before or behind their resistors come in, left of the chip; what is joined to it alone goes out. */
static void
test_layout_held_lines_come_in_at_the_left (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("signal-shifter.leafboard", &board);

  assert_int_equal (side_of (scene, "J2", "DATA"), ML_SIDE_RIGHT);
  assert_true (ml_test_pin (scene, "J2", "DATA").x < ml_test_pin (scene, "U2", "SER").x);
  assert_int_equal (side_of (scene, "U2", "RCK"), ML_SIDE_LEFT);
  assert_int_equal (side_of (scene, "J3", "NEXT"), ML_SIDE_LEFT);
  ml_scene_unref (scene);
  ml_board_unref (board);
  scene = ml_test_scene_of_file ("irrigation.leafboard", &board);
  assert_int_equal (side_of (scene, "J3", "RAIN"), ML_SIDE_RIGHT);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A negative supply has its fuse below that of the positive, its capacitors below theirs. */
static void
test_layout_fuse_of_a_negative_supply_lies_below_the_positive (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("bearing-amplifier.leafboard", &board);

  assert_near (ml_test_pin (scene, "F1", "1").x, ml_test_pin (scene, "F2", "1").x, 0, 1e-9);
  assert_true (ml_test_pin (scene, "F1", "1").y < ml_test_pin (scene, "F2", "1").y);
  assert_near (ml_test_pin (scene, "C1", "plus").x, ml_test_pin (scene, "C2", "minus").x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C2", "minus").y, ml_test_pin (scene, "F2", "2").y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A zener behind its resistor stands in the line of the supply, the capacitor that steadies it beside it. */
static void
test_layout_steadied_zener_hangs_on_the_line_of_the_supply (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("lamp-dimmer.leafboard", &board);

  assert_near (ml_test_pin (scene, "R1", "1").y, ml_test_pin (scene, "R1", "2").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "R1", "2").y, ml_test_pin (scene, "D2", "cathode").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "D2", "cathode").y, ml_test_pin (scene, "C2", "plus").y, 0, 1e-9);
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
  MlScene *scene = ml_test_scene_of_file ("track-diagram.leafboard", &board);

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

/* Selecting a pin covers no name: BASE, on a wire hardly longer than the word, stands above the ring round the pin at its end. */
static void
test_layout_name_of_a_net_keeps_off_the_ring_of_a_pin (void **state)
{
  MlBoard *board = ml_test_board_of ("boards/vent-controller.leafboard");
  MlScene *scene = ml_test_layout (board, 2);
  guint i, k, n = 0;

  for (i = 0; i < scene->n_labels; i++)
    for (k = 0; k < scene->n_pins && scene->labels[i].kind == ML_LABEL_NET; k++)
      {
        const MlPoint at = scene->pins[k].at;
        const MlBox pin = { at.x - 0.3, at.y - 0.3, at.x + 0.3, at.y + 0.3 }, ring = ml_mark_selection_box (&pin), *box = &scene->labels[i].box;
        if (strcmp (scene->labels[i].text, "BASE") != 0)
          continue;
        assert_false (box->x0 < ring.x1 && box->x1 > ring.x0 && box->y0 < ring.y1 && box->y1 > ring.y0);
        n++;
      }
  assert_int_equal (n, scene->n_pins);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* "REGOUT 100u" is nobody's name: between a regulator and a choke the name of the net stands on the other side of the wire than the choke's value. */
static void
test_layout_name_of_a_net_is_not_in_line_with_another_text (void **state)
{
  MlBoard *board = ml_test_board_of ("boards/dust-switch.leafboard");
  MlScene *scene = ml_test_layout (board, 2);
  guint i, k, n = 0;

  for (i = 0; i < scene->n_labels; i++)
    for (k = 0; k < scene->n_labels && scene->labels[i].kind == ML_LABEL_NET; k++)
      {
        const MlBox *a = &scene->labels[i].box, *b = &scene->labels[k].box;
        if (strcmp (scene->labels[i].text, "REGOUT") != 0 || i == k)
          continue;
        assert_false (a->x0 - 0.8 < b->x1 && a->x1 + 0.8 > b->x0 && a->y0 + 0.2 < b->y1 && a->y1 - 0.2 > b->y0);
        n++;
      }
  assert_int_equal (n, scene->n_labels - 1);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static double
gap_between (const MlBox *a, const MlBox *b)
{
  return MAX (MAX (a->x0 - b->x1, b->x0 - a->x1), 0) + MAX (MAX (a->y0 - b->y1, b->y0 - a->y1), 0);
}

/* D3 stands between a resistor and a coil, R1 over a terminal, U2A over U2B: the name of each stands beside it, not at those. */
static void
test_layout_names_stand_nearest_to_their_own_parts (void **state)
{
  static const struct { const char *file, *part; } crowded[] = { { "press-timer.leafboard", "D3" }, { "nutrient-stirrer.leafboard", "R1" },
                                                                   { "frost-alarm.leafboard", "U2A" } };
  guint i, k, c, n = 0;

  for (c = 0; c < G_N_ELEMENTS (crowded); c++)
    {
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (crowded[c].file, &board);
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
  assert_int_equal (n, G_N_ELEMENTS (crowded));
}

/* J1's V24, MOT and FLOAT lead to nets of these names: said at the terminals, not once more on the wires. What has another name is said. */
static void
test_layout_terminal_tells_the_name_of_its_net (void **state)
{
  static const struct { const char *net; guint n; } nets[] = { { "V24", 0 }, { "MOT", 0 }, { "FLOAT", 0 }, { "VF", 1 }, { "RUN", 1 } };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("nutrient-stirrer.leafboard", &board);
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
  MlScene *scene = ml_test_scene_of_file ("crossing-blinker.leafboard", &board);

  for (guint i = 2; i <= 4; i++)
    {
      const char name[] = { 'R', (char) ('0' + i), '\0' };
      assert_near (ml_test_pin (scene, name, "1").y, ml_test_pin (scene, "R1", "1").y, 0, 1e-9);
    }
  assert_near (ml_test_pin (scene, "LED1", "anode").x, ml_test_pin (scene, "R1", "2").x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "LED2", "anode").x, ml_test_pin (scene, "R2", "2").x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "LED1", "anode").y, ml_test_pin (scene, "LED2", "anode").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "Q1", "emitter").y, ml_test_pin (scene, "Q2", "emitter").y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Behind a bridge of four single diodes the supply goes on in one row: capacitor, regulator, its capacitor. A driver's lamp and resistor stand
 * over its transistor. */
static void
test_layout_supply_goes_on_behind_four_diodes (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("locomotive-decoder.leafboard", &board);
  const MlPoint plus = ml_test_pin (scene, "D1", "cathode"), in = ml_test_pin (scene, "U1", "in");

  assert_near (ml_test_pin (scene, "C1", "plus").y, in.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C2", "1").y, ml_test_pin (scene, "U1", "out").y, 0, 1e-9);
  assert_true (plus.x < ml_test_pin (scene, "C1", "plus").x && ml_test_pin (scene, "C1", "plus").x < in.x && in.x < ml_test_pin (scene, "C2", "1").x);
  assert_near (ml_test_pin (scene, "LED1", "cathode").x, ml_test_pin (scene, "Q7", "collector").x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "R12", "2").x, ml_test_pin (scene, "Q7", "collector").x, 0, 1e-9);
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
      MlScene *scene = ml_test_scene_of_file (files[f], &board);

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
  MlScene *scene = ml_test_scene_of_file ("frost-alarm.leafboard", &board);

  assert_true (ml_test_pin (scene, "J3", "METER").x > ml_test_pin (scene, "U3", "out").x);
  assert_int_equal (scene->pins[ml_scene_pin (scene, ml_board_find_part (board, "J3"), 0)].side, ML_SIDE_LEFT);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The same where a resistor guards the output: a feedback of the amplifier behind it makes the connector no input. */
static void
test_layout_connector_behind_a_guarded_output_is_one (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("hum-generator.leafboard", &board);

  assert_true (ml_test_pin (scene, "J2", "OUT").x > ml_test_pin (scene, "U1B", "out").x);
  assert_int_equal (side_of (scene, "J2", "OUT"), ML_SIDE_LEFT);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The steps of a voltage multiplier feed nobody but each other: wires join them, no bars with their names. */
static void
test_layout_steps_of_a_multiplier_are_no_rails (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("fly-catcher.leafboard", &board);

  for (guint i = 0; i < scene->n_flags; i++)
    assert_false (board->nets[scene->flags[i].net].name[0] == 'N'); /* N1 to N6 */
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Where two supplies come in, the capacitor of the negative one stands straight under that of the positive. */
static void
test_layout_negative_supply_hangs_below_the_positive (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("scale-amplifier.leafboard", &board);
  MlPoint upper = ml_test_pin (scene, "C1", "minus"), lower = ml_test_pin (scene, "C2", "plus");

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
  MlScene *scene = ml_test_scene_of_file ("microphone-amplifier.leafboard", &board);
  guint i, n = 0;

  assert_near (ml_test_pin (scene, "C8", "1").y, ml_test_pin (scene, "C1", "plus").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C9", "1").x, ml_test_pin (scene, "C8", "1").x, 0, 1e-9);
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
  MlScene *scene = ml_test_scene_of_file ("scale-amplifier.leafboard", &board);
  guint i, n = 0;

  for (i = 0; i < G_N_ELEMENTS (chips); i++)
    {
      MlPoint plus_a = ml_test_pin (scene, chips[i][0], "positive"), plus_b = ml_test_pin (scene, chips[i][1], "positive");
      MlPoint minus_a = ml_test_pin (scene, chips[i][0], "negative"), minus_b = ml_test_pin (scene, chips[i][1], "negative");
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
      MlPoint a = ml_test_pin (scene, "U1A", "positive"), b = ml_test_pin (scene, "U1B", "positive");
      assert_true (fabs (a.x - b.x) + fabs (a.y - b.y) > 1);
      assert_int_equal (ml_test_hard_faults (scene, "sections"), 0);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* A strip is hard to read on a screen and on A4 (297 mm by 210 mm, lying or upright): what would be one goes into two rows. */
static void
test_layout_wide_board_is_broken_into_two_rows (void **state)
{
  static const char *const names[] = { "vent-with-block.leafboard", "point-motor.leafboard", "lamp-dimmer.leafboard" };
  guint i;

  for (i = 0; i < G_N_ELEMENTS (names); i++)
    {
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (names[i], &board);
      double ratio = (scene->extent.x1 - scene->extent.x0) / (scene->extent.y1 - scene->extent.y0);
      if (ratio < 0.75 || ratio > 1.9)
        fail_msg ("%s is drawn %.2f times as wide as high", names[i], ratio);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
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
  MlScene *scene = ml_test_scene_of_file ("fume-extractor.leafboard", &board);
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

/* What a transformer feeds is drawn as the supply is: winding, rectifier, capacitors, way out from left to right, on a ground of its own below. */
static void
test_layout_secondary_reads_from_left_to_right (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("valve-supply.leafboard", &board);
  const double xs[] = { ml_test_pin (scene, "L2", "1").x, ml_test_pin (scene, "D4", "anode").x, ml_test_pin (scene, "D4", "cathode").x, ml_test_pin (scene, "L3", "1").x,
                        ml_test_pin (scene, "L3", "2").x, ml_test_pin (scene, "J2", "P24").x };
  int ground = ml_board_find_net (board, "SGND");
  guint i, n = 0;

  for (i = 1; i < G_N_ELEMENTS (xs); i++)
    assert_true (xs[i - 1] < xs[i]);
  assert_true (ml_test_pin (scene, "C7", "plus").y < ml_test_pin (scene, "C7", "minus").y);
  assert_true (ml_test_pin (scene, "C8", "plus").y < ml_test_pin (scene, "C8", "minus").y);
  assert_true (ml_test_pin (scene, "R9", "1").y < ml_test_pin (scene, "R10", "2").y);
  for (i = 0; i < scene->n_flags; i++) /* IEC 60617 keeps the sign of the reference for the reference */
    if (scene->flags[i].net == ground)
      {
        assert_int_equal (scene->flags[i].kind, ML_FLAG_DOWN_RAIL);
        n++;
      }
  assert_true (n > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A display whose digits a chip switches by transistors stands behind that chip: the lines of its segments leave to the right and arrive from the left. */
static void
test_layout_display_stands_behind_its_driver (void **state)
{
  static const char *const segments[] = { "A", "B", "C", "D", "E", "F", "G" };
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("layout-clock.leafboard", &board);
  guint i;

  for (i = 0; i < G_N_ELEMENTS (segments); i++)
    {
      g_autofree char *out = g_strconcat ("S", segments[i], NULL), *resistor = g_strdup_printf ("R%u", i + 1);
      MlPoint from = ml_test_pin (scene, "U2", out), to = ml_test_pin (scene, "U3", segments[i]), a = ml_test_pin (scene, resistor, "1"), b = ml_test_pin (scene, resistor, "2");
      assert_near (from.x, ml_test_pin (scene, "U2", "SA").x, 0, 1e-9);
      assert_near (to.x, ml_test_pin (scene, "U3", "A").x, 0, 1e-9);
      assert_true (from.x < a.x && a.x < b.x && b.x < to.x);
    }
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
assert_push_pull (const MlScene *scene, const char *upper, const char *upper_resistor, const char *lower_resistor, const char *lower)
{
  const MlPoint column[] = { ml_test_pin (scene, upper, "collector"), ml_test_pin (scene, upper, "emitter"), ml_test_pin (scene, upper_resistor, "1"),
                             ml_test_pin (scene, upper_resistor, "2"), ml_test_pin (scene, lower_resistor, "1"), ml_test_pin (scene, lower_resistor, "2"),
                             ml_test_pin (scene, lower, "emitter"), ml_test_pin (scene, lower, "collector") };
  guint i;

  for (i = 1; i < G_N_ELEMENTS (column); i++)
    {
      assert_near (column[i].x, column[0].x, 0, 1e-9);
      assert_true (i % 2 == 1 ? column[i].y > column[i - 1].y : column[i].y >= column[i - 1].y); /* pins of neighbours may meet */
    }
}

/* The followers of a push-pull output and their resistors stand in one column; a negative supply is a lower rail behind its fuse, too. */
static void
test_layout_push_pull_output_stands_in_a_column (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("intercom.leafboard", &board);
  guint i, n = 0;

  assert_push_pull (scene, "Q3", "R12", "R13", "Q4");
  ml_scene_unref (scene);
  ml_board_unref (board);
  scene = ml_test_scene_of_file ("announcer.leafboard", &board);
  assert_push_pull (scene, "Q5", "R8", "R9", "Q6");
  for (i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == ml_board_find_net (board, "VN"))
      {
        assert_int_equal (scene->flags[i].kind, ML_FLAG_DOWN_RAIL);
        n++;
      }
  assert_true (n > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* What a chip's own transistor carries is watched at the side where the transistor stands, not by a wire under the chip. */
static void
test_layout_chip_watches_its_transistor_at_that_side (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("shelf-light.leafboard", &board);

  assert_int_equal (side_of (scene, "U3", "PWM"), ML_SIDE_RIGHT);
  assert_int_equal (side_of (scene, "U3", "SENSE"), ML_SIDE_RIGHT);
  assert_true (ml_test_pin (scene, "R6", "1").x > ml_test_pin (scene, "U3", "SENSE").x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* The transistor that saves a board from a supply the wrong way round lies in the line, what holds its gate hangs below, what protects it beside it. */
static void
test_layout_polarity_guard_lies_in_the_line_of_the_supply (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("vine-house.leafboard", &board);
  MlPoint in = ml_test_pin (scene, "Q1", "drain"), out = ml_test_pin (scene, "Q1", "source"), gate = ml_test_pin (scene, "Q1", "gate");

  assert_near (in.y, out.y, 0, 1e-9);
  assert_near (in.y, ml_test_pin (scene, "J1", "BAT").y, 0, 1e-9);
  assert_near (out.y, ml_test_pin (scene, "U1", "in").y, 0, 1e-9);
  assert_true (ml_test_pin (scene, "J1", "BAT").x < in.x && in.x < out.x && out.x < ml_test_pin (scene, "U1", "in").x);
  assert_near (ml_test_pin (scene, "R1", "1").x, gate.x, 0, 1e-9);
  assert_true (ml_test_pin (scene, "R1", "1").y > gate.y);
  assert_near (ml_test_pin (scene, "D1", "cathode").y, out.y, 0, 1e-9);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Nine lamps of one chip are too many for a row: five and four, not eight and one. */
static void
test_layout_many_lamps_of_one_chip_hang_in_even_rows (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("block-signals.leafboard", &board);
  double first = ml_test_pin (scene, "LED1", "anode").y, last = ml_test_pin (scene, "LED9", "anode").y;
  guint n_first = 0, n_last = 0;

  for (guint i = 1; i <= 9; i++)
    {
      g_autofree char *lamp = g_strdup_printf ("LED%u", i);
      n_first += fabs (ml_test_pin (scene, lamp, "anode").y - first) < 1e-9;
      n_last += fabs (ml_test_pin (scene, lamp, "anode").y - last) < 1e-9;
    }
  assert_int_equal (n_first, 5);
  assert_int_equal (n_last, 4);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* How far a level wire of the net (or of any but that) runs above or below a text; a large number where none does. */
static double
gap_to_wire (const MlScene *scene, const MlBox *box, int net, gboolean of_net)
{
  double least = 1000;
  guint i;

  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *wire = &scene->wires[i];
      if ((wire->net == net) == of_net && fabs (wire->a.y - wire->b.y) < 1e-6 && MIN (wire->a.x, wire->b.x) < box->x1 && MAX (wire->a.x, wire->b.x) > box->x0)
        least = MIN (least, MAX (wire->a.y - box->y1, box->y0 - wire->a.y));
    }
  return least;
}

/* Where wires run closely one below the other the name between two of them stands at its own. */
static void
test_layout_name_of_a_net_stands_nearest_to_its_own_wire (void **state)
{
  static const char *const names[] = { "crossing-flasher", "dust-extractor", "glasshouse-node", "irrigation", "shuttle-train", "spindle-listener" };
  guint i, k;

  for (i = 0; i < G_N_ELEMENTS (names); i++)
    {
      g_autofree char *path = g_strdup_printf ("tests/drawing/boards/%s.leafboard", names[i]);
      MlBoard *board = ml_test_board_of (path);
      MlScene *scene = ml_test_layout (board, 1);

      for (k = 0; k < scene->n_labels; k++)
        {
          const MlSceneLabel *label = &scene->labels[k];
          if (label->kind == ML_LABEL_NET && gap_to_wire (scene, &label->box, label->net, FALSE) < gap_to_wire (scene, &label->box, label->net, TRUE))
            fail_msg ("%s: %s stands at another wire", names[i], label->text);
        }
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* Signs of rails hang straight before the pins that they belong to, also where a wire runs close below. */
static void
test_layout_sign_of_the_ground_hangs_straight_below (void **state)
{
  MlBoard *board = ml_test_board_of ("tests/drawing/boards/vine-house.leafboard");
  MlScene *scene = ml_test_layout (board, 2);
  const MlPoint foot = ml_test_pin (scene, "C7", "2");
  gboolean straight = FALSE;
  guint i;

  for (i = 0; i < scene->n_flags; i++)
    straight |= scene->flags[i].kind == ML_FLAG_REFERENCE && fabs (scene->flags[i].at.x - foot.x) < 1e-6 && scene->flags[i].at.y >= foot.y
                && scene->flags[i].at.y <= foot.y + 3;
  assert_true (straight);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A limiter at the end of a loop turns nothing round: the followers that drive the gate stand before it, the lamp's connector behind, and a wire joins
 * them. */
static void
test_layout_limiter_does_not_turn_the_signal_round (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("lamp-dimmer.leafboard", &board);

  assert_int_equal (ml_test_flags (scene, "DRV", ML_FLAG_NET), 0);
  assert_true (ml_test_pin (scene, "U1", "out").x < ml_test_pin (scene, "U2", "out").x);
  assert_true (ml_test_pin (scene, "U2", "out").x < ml_test_pin (scene, "J2", "LAMP").x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A connector at which a sensor comes in and a heater is switched is drawn pin by pin: the sensor where the amplifier is, the heater at its switch. */
static void
test_layout_connector_of_sensor_and_load_is_drawn_pin_by_pin (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("iron-station.leafboard", &board);

  assert_int_equal (ml_test_flags (scene, "HTR", ML_FLAG_NET), 0);
  assert_true (ml_test_pin (scene, "J2", "TC").x < ml_test_pin (scene, "U3", "out").x);
  assert_true (ml_test_pin (scene, "U3", "out").x < ml_test_pin (scene, "J2", "RET").x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
ml_test_layout_structures (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_bridge_over_a_sense_resistor_is_symmetric),
    cmocka_unit_test (test_layout_supply_of_a_signal_is_no_rail),
    cmocka_unit_test (test_layout_pass_transistor_lies_in_line),
    cmocka_unit_test (test_layout_multivibrator_stands_in_a_row),
    cmocka_unit_test (test_layout_switched_multivibrator_stands_in_a_row),
    cmocka_unit_test (test_layout_lamp_matrix_stands_in_rows_and_columns),
    cmocka_unit_test (test_layout_multivibrator_with_lamps_is_symmetric),
    cmocka_unit_test (test_layout_supply_goes_on_behind_four_diodes),
    cmocka_unit_test (test_layout_names_are_there_and_apart_from_those_of_pins),
    cmocka_unit_test (test_layout_isolated_inputs_stand_alike),
    cmocka_unit_test (test_layout_lines_between_two_chips_face_each_other),
    cmocka_unit_test (test_layout_half_bridge_behind_a_driver_stands_in_a_column),
    cmocka_unit_test (test_layout_connector_behind_a_follower_is_an_output),
    cmocka_unit_test (test_layout_connector_behind_a_guarded_output_is_one),
    cmocka_unit_test (test_layout_steps_of_a_multiplier_are_no_rails),
    cmocka_unit_test (test_layout_limiter_does_not_turn_the_signal_round),
    cmocka_unit_test (test_layout_name_of_a_net_stands_nearest_to_its_own_wire),
    cmocka_unit_test (test_layout_sign_of_the_ground_hangs_straight_below),
    cmocka_unit_test (test_layout_connector_of_sensor_and_load_is_drawn_pin_by_pin),
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
    cmocka_unit_test (test_layout_name_of_a_net_keeps_off_the_ring_of_a_pin),
    cmocka_unit_test (test_layout_name_of_a_net_is_not_in_line_with_another_text),
    cmocka_unit_test (test_layout_negative_supply_hangs_below_the_positive),
    cmocka_unit_test (test_layout_small_capacitors_of_amplifiers_stand_with_the_supply),
    cmocka_unit_test (test_layout_sections_of_a_chip_have_one_pair_of_supply_pins),
    cmocka_unit_test (test_layout_sections_on_supplies_of_their_own_keep_their_pins),
    cmocka_unit_test (test_layout_wide_board_is_broken_into_two_rows),
    cmocka_unit_test (test_layout_trimmer_between_resistors_stands_in_one_column),
    cmocka_unit_test (test_layout_second_regulator_keeps_its_capacitors),
    cmocka_unit_test (test_layout_secondary_reads_from_left_to_right),
    cmocka_unit_test (test_layout_display_stands_behind_its_driver),
    cmocka_unit_test (test_layout_push_pull_output_stands_in_a_column),
    cmocka_unit_test (test_layout_chip_watches_its_transistor_at_that_side),
    cmocka_unit_test (test_layout_polarity_guard_lies_in_the_line_of_the_supply),
    cmocka_unit_test (test_layout_many_lamps_of_one_chip_hang_in_even_rows),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
