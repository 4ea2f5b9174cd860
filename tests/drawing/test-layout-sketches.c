/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards of a few parts whose drawing must show one thing (common practice of the drawing office). */
#include "drawing/layout-boards.h"

#include <math.h>

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

/* A chip's two pins, a rheostat's two and a capacitor: three parts, and no supply, however many pins that makes. */
static void
test_layout_timing_node_of_a_chip_is_no_rail (void **state)
{
  MlBoard *board = ml_test_board ("board \"Lamp of a tram shelter\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=V5 N=GND\n"
                                  "part U1 block VCC=V5 GND=GND TRIG=TR OUT=OUT THR=TIME DIS=TIME supply=VCC ground=GND\n"
                                  "part R1 resistor 1=V5 2=RT value=100k\n"
                                  "part RV1 potentiometer 1=RT 2=TIME wiper=TIME value=1M\n"
                                  "part C1 capacitor plus=TIME minus=GND value=100u\n"
                                  "part R2 resistor 1=V5 2=TR value=10k\n"
                                  "part S1 switch 1=TR 2=GND\n"
                                  "part R3 resistor 1=OUT 2=L value=1k\n"
                                  "part LED1 led anode=L cathode=GND colour=yellow\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=V5 minus=GND voltage=5 limit=100m\n");
  MlScene *scene = ml_test_layout (board, 1);

  assert_int_equal (ml_test_flags (scene, "TIME", ML_FLAG_UP_RAIL), 0);
  assert_true (ml_test_flags (scene, "V5", ML_FLAG_UP_RAIL) > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Beyond the optocoupler everything returns to a ground of its own, with its name; no wire of it runs across the sheet, and it is not the reference's
 * sign. */
static void
test_layout_isolated_side_returns_to_its_own_ground (void **state)
{
  MlBoard *board = ml_test_board ("board \"Bus node of a glasshouse\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=V5 N=GND TX=TX\n"
                                  "part R1 resistor 1=V5 2=A value=680\n"
                                  "part U1 opto anode=A cathode=TX collector=DI emitter=GNDB\n"
                                  "part R2 resistor 1=VB 2=DI value=2k2\n"
                                  "part U2 block VCC=VB GND=GNDB DI=DI LINE=LINE supply=VCC ground=GND\n"
                                  "part C1 capacitor 1=VB 2=GNDB value=100n\n"
                                  "part R3 resistor 1=LINE 2=GNDB value=680\n"
                                  "part J2 connector VB=VB LINE=LINE N=GNDB\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=V5 minus=GND voltage=5 limit=100m\n"
                                  "  supply plus=VB minus=GNDB voltage=5 limit=100m\n");
  MlScene *scene = ml_test_layout (board, 1);

  assert_true (ml_test_flags (scene, "GNDB", ML_FLAG_DOWN_RAIL) > 0);
  assert_int_equal (ml_test_flags (scene, "GNDB", ML_FLAG_REFERENCE), 0);
  assert_true (ml_test_flags (scene, "VB", ML_FLAG_UP_RAIL) > 0);
  assert_true (ml_test_pin (scene, "C1", "1").y < ml_test_pin (scene, "C1", "2").y);
  assert_int_equal (ml_test_hard_faults (scene, "isolated side"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* ---- what switches and what comes in ---- */

static const char pump_drive[] = "board \"Pump of a propagator\"\n"
                                 "reference GND\n"
                                 "part J1 connector P=VIN N=GND\n"
                                 "part F1 fuse 1=VIN 2=VM\n"
                                 "part C1 capacitor plus=VM minus=GND value=1000u\n"
                                 "part R1 resistor 1=VM 2=V12 value=220\n"
                                 "part D1 zener cathode=V12 anode=GND voltage=12\n"
                                 "part J2 connector TOP=V12 WIPER=POT END=GND\n"
                                 "part R2 resistor 1=POT 2=SPEED value=10k\n"
                                 "part C2 capacitor 1=SPEED 2=GND value=100n\n"
                                 "part U1 comparator noninverting=SPEED inverting=RAMP out=GATE positive=V12 negative=GND\n"
                                 "part R3 resistor 1=V12 2=RAMP value=47k\n"
                                 "part C3 capacitor 1=RAMP 2=GND value=10n\n"
                                 "part R4 resistor 1=V12 2=GATE value=2k2\n"
                                 "part Q1 nmos drain=MOT gate=GATE source=SRC\n"
                                 "part R5 resistor 1=SRC 2=GND value=R02\n"
                                 "part R6 resistor 1=SRC 2=LIMB value=470\n"
                                 "part Q2 npn collector=SPEED base=LIMB emitter=GND\n"
                                 "part D2 diode anode=MOT cathode=VM\n"
                                 "part R7 resistor 1=VM 2=LA value=4k7\n"
                                 "part LED1 led anode=LA cathode=MOT colour=green\n"
                                 "part R8 resistor 1=VM 2=MOT value=100k\n"
                                 "part J3 connector PLUS=VM PUMP=MOT\n"
                                 "condition run \"running\"\n"
                                 "  supply plus=VIN minus=GND voltage=24 limit=2\n";

/* Under its source a transistor has a few milliohms that show the current: what it pulls down swings as if there were none. */
static void
test_layout_what_is_switched_over_a_sensing_resistor_is_no_rail (void **state)
{
  MlBoard *board = ml_test_board (pump_drive);
  MlScene *scene = ml_test_layout (board, 1);

  assert_int_equal (ml_test_flags (scene, "MOT", ML_FLAG_UP_RAIL), 0);
  assert_true (ml_test_flags (scene, "VM", ML_FLAG_UP_RAIL) > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A potentiometer on a cable is fed from the board and answers: its signal comes in on the left, though a transistor can pull it down behind its
 * resistor; the pump's leaves on the right. */
static void
test_layout_cable_of_a_potentiometer_comes_in_on_the_left (void **state)
{
  MlBoard *board = ml_test_board (pump_drive);
  MlScene *scene = ml_test_layout (board, 1);
  const int in = ml_scene_pin (scene, ml_board_find_part (board, "J2"), 1), out = ml_scene_pin (scene, ml_board_find_part (board, "J3"), 1);

  assert_int_equal (scene->pins[in].side, ML_SIDE_RIGHT);
  assert_int_equal (scene->pins[out].side, ML_SIDE_LEFT);
  assert_true (scene->pins[in].at.x < ml_test_pin (scene, "U1", "noninverting").x);
  assert_true (scene->pins[out].at.x > ml_test_pin (scene, "U1", "out").x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A chip that nobody knows listens to keys and a potentiometer: what it tells goes out at the connector, on the right. */
static void
test_layout_connector_of_a_chip_that_listens_is_an_output (void **state)
{
  static const char *const keys[] = { "K1", "K2", "K3", "POT" };
  MlBoard *board = ml_test_board ("board \"Keyboard of a signal box\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=V5 N=GND\n"
                                  "part U1 block VCC=V5 GND=GND K1=A K2=B K3=C POT=W D0=D0 D1=D1 D2=D2 supply=VCC ground=GND\n"
                                  "part S1 switch 1=A 2=GND\n"
                                  "part S2 switch 1=B 2=GND\n"
                                  "part S3 switch 1=C 2=GND\n"
                                  "part R1 resistor 1=V5 2=A value=10k\n"
                                  "part R2 resistor 1=V5 2=B value=10k\n"
                                  "part R3 resistor 1=V5 2=C value=10k\n"
                                  "part RV1 potentiometer 1=V5 2=GND wiper=W value=10k\n"
                                  "part J2 connector 1=D0 2=D1 3=D2\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=V5 minus=GND voltage=5 limit=100m\n");
  MlScene *scene = ml_test_layout (board, 1);
  MlPoint out = ml_test_pin (scene, "U1", "D0");
  guint i;

  for (i = 0; i < G_N_ELEMENTS (keys); i++)
    assert_true (ml_test_pin (scene, "U1", keys[i]).x < out.x);
  assert_true (ml_test_pin (scene, "J2", "1").x > out.x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* ---- structures ---- */

/* A crystal stands on end, each of its load capacitors in one line with one of its pins. */
static void
test_layout_crystal_stands_between_its_lines (void **state)
{
  MlBoard *board = ml_test_board ("board \"Pace of a layout clock\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=V5 N=GND\n"
                                  "part U1 block VCC=V5 GND=GND X1=X1 X2=X2 OUT=OUT supply=VCC ground=GND\n"
                                  "part Y1 block 1=X1 2=X2\n"
                                  "part C1 capacitor 1=X1 2=GND value=22p\n"
                                  "part C2 capacitor 1=X2 2=GND value=22p\n"
                                  "part C3 capacitor 1=V5 2=GND value=100n\n"
                                  "part R1 resistor 1=OUT 2=L value=470\n"
                                  "part LED1 led anode=L cathode=GND colour=red\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=V5 minus=GND voltage=5 limit=100m\n");
  MlScene *scene = ml_test_layout (board, 1);
  MlPoint first = ml_test_pin (scene, "Y1", "1"), second = ml_test_pin (scene, "Y1", "2");

  assert_int_equal (ml_test_hard_faults (scene, "crystal"), 0);
  assert_near (first.x, second.x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C1", "1").y, first.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C1", "2").y, first.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C2", "1").y, second.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C1", "1").x, ml_test_pin (scene, "C2", "1").x, 0, 1e-9);
  assert_int_equal (ml_test_flags (scene, "X1", ML_FLAG_NET) + ml_test_flags (scene, "X2", ML_FLAG_NET), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Between the halves of a bridge lies the motor; the capacitor that quiets it lies beside it, straight below. */
static void
test_layout_motor_lies_in_the_line_of_its_bridge (void **state)
{
  MlBoard *board = ml_test_board ("board \"Motor of a turntable\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=VM N=GND\n"
                                  "part C1 capacitor plus=VM minus=GND value=470u\n"
                                  "part Q1 pnp emitter=VM base=H1 collector=MA\n"
                                  "part Q2 pnp emitter=VM base=H2 collector=MB\n"
                                  "part Q3 npn collector=MA base=L1 emitter=GND\n"
                                  "part Q4 npn collector=MB base=L2 emitter=GND\n"
                                  "part C2 capacitor 1=MA 2=MB value=100n\n"
                                  "part M1 coil 1=MA 2=MB show=motor\n"
                                  "part J2 connector A=H1 B=H2 C=L1 D=L2\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=VM minus=GND voltage=12 limit=1\n");
  MlScene *scene = ml_test_layout (board, 1);
  MlPoint left = ml_test_pin (scene, "M1", "1"), right = ml_test_pin (scene, "M1", "2");

  assert_int_equal (ml_test_hard_faults (scene, "motor"), 0);
  assert_near (left.y, right.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "Q1", "collector").y, ml_test_pin (scene, "Q2", "collector").y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "Q1", "collector").x + ml_test_pin (scene, "Q2", "collector").x, left.x + right.x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C2", "1").x, left.x, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C2", "2").x, right.x, 0, 1e-9);
  assert_true (ml_test_pin (scene, "C2", "1").y > left.y);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* What a chip steps down flows on to the right: diode and capacitor hang from one line in which the choke lies, and the way out stands behind it,
 * though a divider there tells the chip how high it is. */
static void
test_layout_stepped_down_supply_flows_to_the_right (void **state)
{
  MlBoard *board = ml_test_board ("board \"Supply of a workshop lamp\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=VIN N=GND\n"
                                  "part C1 capacitor plus=VIN minus=GND value=100u\n"
                                  "part U1 block VIN=VIN GND=GND SW=SW FB=FB EN=EN supply=VIN ground=GND\n"
                                  "part R3 resistor 1=VIN 2=EN value=100k\n"
                                  "part D1 diode anode=GND cathode=SW\n"
                                  "part L1 inductor 1=OUT 2=SW value=33u\n"
                                  "part C2 capacitor plus=OUT minus=GND value=220u\n"
                                  "part R1 resistor 1=OUT 2=FB value=31k6\n"
                                  "part R2 resistor 1=FB 2=GND value=10k\n"
                                  "part J2 connector P=OUT N=GND\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=VIN minus=GND voltage=24 limit=1\n");
  MlScene *scene = ml_test_layout (board, 1);
  MlPoint from = ml_test_pin (scene, "L1", "2"), to = ml_test_pin (scene, "L1", "1");

  assert_int_equal (ml_test_hard_faults (scene, "step-down"), 0);
  assert_true (ml_test_pin (scene, "U1", "SW").x < from.x && from.x < to.x && to.x < ml_test_pin (scene, "J2", "P").x);
  assert_near (from.y, to.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "D1", "cathode").y, from.y, 0, 1e-9);
  assert_near (ml_test_pin (scene, "C2", "plus").y, to.y, 0, 1e-9);
  assert_true (ml_test_pin (scene, "D1", "cathode").y < ml_test_pin (scene, "D1", "anode").y);
  assert_true (ml_test_flags (scene, "OUT", ML_FLAG_UP_RAIL) > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* What a chip steps up runs in one line from left to right: capacitor, choke, diode, capacitor, way out. */
static void
test_layout_stepped_up_supply_runs_in_one_line (void **state)
{
  MlBoard *board = ml_test_board ("board \"Booster of a hand lamp\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=VB N=GND\n"
                                  "part F1 fuse 1=VB 2=VIN\n"
                                  "part C1 capacitor plus=VIN minus=GND value=47u\n"
                                  "part U1 block VIN=VIN GND=GND SW=SW FB=FB EN=VIN supply=VIN ground=GND\n"
                                  "part L1 inductor 1=VIN 2=SW value=10u\n"
                                  "part D1 diode anode=SW cathode=VO\n"
                                  "part C2 capacitor plus=VO minus=GND value=47u\n"
                                  "part R1 resistor 1=VO 2=FB value=91k\n"
                                  "part R2 resistor 1=FB 2=GND value=10k\n"
                                  "part J2 connector P=VO N=GND\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=VB minus=GND voltage=3.7 limit=1\n");
  MlScene *scene = ml_test_layout (board, 2);
  const MlPoint line[] = { ml_test_pin (scene, "L1", "1"), ml_test_pin (scene, "L1", "2"), ml_test_pin (scene, "D1", "anode"),
                           ml_test_pin (scene, "D1", "cathode"), ml_test_pin (scene, "C2", "plus") };
  guint i;

  assert_int_equal (ml_test_hard_faults (scene, "step-up"), 0);
  for (i = 1; i < G_N_ELEMENTS (line); i++)
    {
      assert_near (line[i].y, line[0].y, 0, 1e-9);
      assert_true (line[i].x > line[i - 1].x);
    }
  assert_true (ml_test_pin (scene, "C1", "plus").x < line[0].x && ml_test_pin (scene, "J2", "P").x > line[4].x);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A chip's square wave lifts one supply and makes another below the ground: capacitor and second diode lie in one line that begins at the chip, what
 * keeps the charge hangs behind; the supply below has its name under its bars and is on top of nothing but its own capacitor. */
static void
test_layout_charge_pump_runs_in_one_line (void **state)
{
  MlBoard *board = ml_test_board ("board \"Press monitor\"\n"
                                  "reference GND\n"
                                  "part J1 connector V5=V5 N=GND\n"
                                  "part U1 block VCC=V5 GND=GND OSC=OSC IN=AO\n"
                                  "part R1 resistor 1=OSC 2=P1 value=47\n"
                                  "part C3 capacitor plus=P2 minus=P1 value=10u\n"
                                  "part D1 diode anode=V5 cathode=P2\n"
                                  "part D2 diode anode=P2 cathode=V9\n"
                                  "part C4 capacitor plus=V9 minus=GND value=10u\n"
                                  "part R2 resistor 1=OSC 2=N1 value=47\n"
                                  "part C5 capacitor plus=N1 minus=N2 value=10u\n"
                                  "part D3 diode anode=N2 cathode=GND\n"
                                  "part D4 diode anode=VN cathode=N2\n"
                                  "part C6 capacitor plus=GND minus=VN value=10u\n"
                                  "part J2 connector PIEZO=PZ RET=GND\n"
                                  "part R3 resistor 1=PZ 2=GND value=1M\n"
                                  "part U2 opamp noninverting=PZ inverting=GA out=AO positive=V9 negative=VN\n"
                                  "part R5 resistor 1=AO 2=GA value=100k\n"
                                  "part R6 resistor 1=GA 2=GND value=10k\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=V5 minus=GND voltage=5 limit=200m\n");
  MlScene *scene = ml_test_layout (board, 1);

  assert_true (ml_test_flags (scene, "VN", ML_FLAG_DOWN_RAIL) > 0);
  assert_int_equal (ml_test_flags (scene, "VN", ML_FLAG_UP_RAIL), 0);
  assert_near (ml_test_pin (scene, "C3", "plus").y, ml_test_pin (scene, "D2", "anode").y, 0, 1e-9);
  assert_true (ml_test_pin (scene, "C3", "plus").x < ml_test_pin (scene, "D2", "anode").x);
  assert_true (ml_test_pin (scene, "D2", "cathode").x < ml_test_pin (scene, "C4", "plus").x);
  assert_true (ml_test_pin (scene, "D1", "anode").y < ml_test_pin (scene, "D1", "cathode").y);
  assert_near (ml_test_pin (scene, "C5", "minus").y, ml_test_pin (scene, "D4", "cathode").y, 0, 1e-9);
  assert_true (ml_test_pin (scene, "D3", "anode").y < ml_test_pin (scene, "D3", "cathode").y);
  assert_true (ml_test_pin (scene, "U1", "OSC").x < ml_test_pin (scene, "R1", "1").x);
  assert_int_equal (ml_test_hard_faults (scene, "charge pump"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Flip-flops that count stand one behind the other and alike: transistors in one row, under each base its diode and the capacitor to the line that
 * counts. */
static void
test_layout_counting_flip_flops_stand_in_a_row (void **state)
{
  MlBoard *board = ml_test_board ("board \"Axle counter\"\n"
                                  "reference GND\n"
                                  "part J1 connector P=V5 N=GND CLK=CLK\n"
                                  "part R01 resistor 1=V5 2=CA value=1k\n"
                                  "part R02 resistor 1=V5 2=CB value=1k\n"
                                  "part R03 resistor 1=CA 2=BB value=10k\n"
                                  "part R04 resistor 1=CB 2=BA value=10k\n"
                                  "part Q1 npn collector=CA base=BA emitter=GND\n"
                                  "part Q2 npn collector=CB base=BB emitter=GND\n"
                                  "part C1 capacitor 1=CLK 2=SA value=1n\n"
                                  "part C2 capacitor 1=CLK 2=SB value=1n\n"
                                  "part D1 diode anode=BA cathode=SA\n"
                                  "part D2 diode anode=BB cathode=SB\n"
                                  "part R05 resistor 1=CA 2=SA value=22k\n"
                                  "part R06 resistor 1=CB 2=SB value=22k\n"
                                  "part R11 resistor 1=V5 2=CC value=1k\n"
                                  "part R12 resistor 1=V5 2=CD value=1k\n"
                                  "part R13 resistor 1=CC 2=BD value=10k\n"
                                  "part R14 resistor 1=CD 2=BC value=10k\n"
                                  "part Q3 npn collector=CC base=BC emitter=GND\n"
                                  "part Q4 npn collector=CD base=BD emitter=GND\n"
                                  "part C3 capacitor 1=CB 2=SC value=1n\n"
                                  "part C4 capacitor 1=CB 2=SD value=1n\n"
                                  "part D3 diode anode=BC cathode=SC\n"
                                  "part D4 diode anode=BD cathode=SD\n"
                                  "part R15 resistor 1=CC 2=SC value=22k\n"
                                  "part R16 resistor 1=CD 2=SD value=22k\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=V5 minus=GND voltage=5 limit=100m\n");
  MlScene *scene = ml_test_layout (board, 1);
  const double low = ml_test_pin (scene, "Q1", "emitter").y;
  guint i;

  for (i = 1; i <= 4; i++)
    {
      const char transistor[] = { 'Q', (char) ('0' + i), '\0' }, diode[] = { 'D', (char) ('0' + i), '\0' }, capacitor[] = { 'C', (char) ('0' + i), '\0' };
      assert_near (ml_test_pin (scene, transistor, "emitter").y, low, 0, 1e-9);
      assert_near (ml_test_pin (scene, diode, "cathode").x, ml_test_pin (scene, capacitor, "2").x, 0, 1e-9);
      assert_true (ml_test_pin (scene, diode, "anode").y < ml_test_pin (scene, diode, "cathode").y);
      assert_true (ml_test_pin (scene, diode, "cathode").y < ml_test_pin (scene, capacitor, "2").y);
    }
  assert_true (ml_test_pin (scene, "Q2", "collector").x < ml_test_pin (scene, "Q3", "base").x);
  assert_near (ml_test_pin (scene, "R05", "1").y, ml_test_pin (scene, "R16", "1").y, 0, 1e-9);
  assert_int_equal (ml_test_hard_faults (scene, "flip-flops"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A pair of transistors in the line of a supply: the one that carries the current lies in the line with the resistor that measures it, its driver a step
 * lower, what feeds the driver hangs before both; no name stands in the place of a wire. */
static void
test_layout_darlington_lies_in_the_line_of_its_supply (void **state)
{
  MlBoard *board = ml_test_board ("board \"Supply of a locomotive shed, fold-back\"\n"
                                  "reference GND\n"
                                  "part J1 connector AC1=AC1 AC2=AC2\n"
                                  "part F1 fuse 1=AC1 2=AF\n"
                                  "part BR1 bridge ac1=AF ac2=AC2 plus=RAW minus=GND\n"
                                  "part C1 capacitor plus=RAW minus=GND value=4700u\n"
                                  "part R1 resistor 1=RAW 2=B1 value=2k2\n"
                                  "part Q1 npn collector=RAW base=B1 emitter=B2\n"
                                  "part Q2 npn collector=RAW base=B2 emitter=SE\n"
                                  "part R2 resistor 1=B2 2=OUT value=1k\n"
                                  "part R3 resistor 1=SE 2=OUT value=R47\n"
                                  "part R4 resistor 1=SE 2=FB1 value=470\n"
                                  "part R5 resistor 1=FB1 2=GND value=4k7\n"
                                  "part Q3 npn collector=B1 base=FB1 emitter=OUT\n"
                                  "part Q4 npn collector=B1 base=ERR emitter=REF\n"
                                  "part D1 zener cathode=REF anode=GND voltage=5.6\n"
                                  "part R6 resistor 1=OUT 2=REF value=1k\n"
                                  "part R7 resistor 1=OUT 2=RH value=2k2\n"
                                  "part RV1 potentiometer 1=RH 2=RL wiper=ERR value=1k\n"
                                  "part R8 resistor 1=RL 2=GND value=2k7\n"
                                  "part C2 capacitor 1=B1 2=ERR value=1n\n"
                                  "part C3 capacitor plus=OUT minus=GND value=220u\n"
                                  "part D2 1N4007 anode=OUT cathode=RAW\n"
                                  "part R9 resistor 1=OUT 2=LA value=1k\n"
                                  "part LED1 led anode=LA cathode=GND colour=green\n"
                                  "part J2 connector PLUS=OUT MINUS=GND\n"
                                  "condition on \"on\"\n"
                                  "  supply plus=RAW minus=GND voltage=20 limit=2\n");
  MlScene *scene = ml_test_layout (board, 1);
  const double line = ml_test_pin (scene, "BR1", "plus").y;

  assert_near (ml_test_pin (scene, "Q2", "collector").y, line, 0, 1e-9);
  assert_near (ml_test_pin (scene, "Q2", "emitter").y, line, 0, 1e-9);
  assert_near (ml_test_pin (scene, "R3", "1").y, line, 0, 1e-9);
  assert_true (ml_test_pin (scene, "Q2", "emitter").x < ml_test_pin (scene, "R3", "1").x);
  assert_true (ml_test_pin (scene, "Q1", "emitter").y > line);
  assert_near (ml_test_pin (scene, "R2", "1").y, ml_test_pin (scene, "Q1", "emitter").y, 0, 1e-9);
  assert_true (ml_test_pin (scene, "R1", "1").x < ml_test_pin (scene, "Q1", "collector").x);
  assert_int_equal (ml_test_flags (scene, "SE", ML_FLAG_NET), 0);
  assert_int_equal (ml_test_hard_faults (scene, "darlington"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* What protects the upper gate of a half bridge stands at its line, what holds the lower one down hangs there, behind the resistor in line; both halves
 * alike. */
static void
test_layout_gates_of_a_bridge_have_their_parts_beside_them (void **state)
{
  static const struct { const char *upper, *lower, *zener, *series, *pull; } halves[] = { { "Q2", "Q6", "D1", "R11", "R12" }, { "Q4", "Q5", "D2", "R9", "R10" } };
  MlBoard *board = ml_test_board ("board \"Vent motor bridge with level shifters\"\n"
                                  "reference GND\n"
                                  "part J1 connector V24=VIN GND=GND\n"
                                  "part F1 fuse 1=VIN 2=VM\n"
                                  "part C1 capacitor plus=VM minus=GND value=1000u\n"
                                  "part U1 regulator in=VM out=V5 ground=GND voltage=5\n"
                                  "part C2 capacitor 1=V5 2=GND value=100n\n"
                                  "part U2 block VCC=V5 GND=GND FWD=FWD REV=REV LIM=LIM OPEN=KO SHUT=KS\n"
                                  "part S1 switch 1=KO 2=GND\n"
                                  "part S2 switch 1=KS 2=GND\n"
                                  "part R1 resistor 1=V5 2=KO value=10k\n"
                                  "part R2 resistor 1=V5 2=KS value=10k\n"
                                  "part R3 resistor 1=FWD 2=BF value=4k7\n"
                                  "part Q1 npn collector=CF base=BF emitter=GND\n"
                                  "part R4 resistor 1=CF 2=GF value=1k\n"
                                  "part R5 resistor 1=VM 2=GF value=10k\n"
                                  "part D1 zener cathode=VM anode=GF voltage=12\n"
                                  "part Q2 pmos drain=MA gate=GF source=VM\n"
                                  "part R6 resistor 1=REV 2=BR value=4k7\n"
                                  "part Q3 npn collector=CR base=BR emitter=GND\n"
                                  "part R7 resistor 1=CR 2=GR value=1k\n"
                                  "part R8 resistor 1=VM 2=GR value=10k\n"
                                  "part D2 zener cathode=VM anode=GR voltage=12\n"
                                  "part Q4 pmos drain=MB gate=GR source=VM\n"
                                  "part R9 resistor 1=FWD 2=LB value=100\n"
                                  "part Q5 nmos drain=MB gate=LB source=SNS\n"
                                  "part R10 resistor 1=LB 2=GND value=47k\n"
                                  "part R11 resistor 1=REV 2=LA value=100\n"
                                  "part Q6 nmos drain=MA gate=LA source=SNS\n"
                                  "part R12 resistor 1=LA 2=GND value=47k\n"
                                  "part R13 resistor 1=SNS 2=GND value=R1\n"
                                  "part R14 resistor 1=SNS 2=LIM value=1k\n"
                                  "part C3 capacitor 1=LIM 2=GND value=100n\n"
                                  "part M1 coil 1=MA 2=MB resistance=8 show=motor\n"
                                  "part C4 capacitor 1=MA 2=MB value=100n\n"
                                  "condition open \"opening\"\n"
                                  "  supply plus=VIN minus=GND voltage=24 limit=2\n");
  MlScene *scene = ml_test_layout (board, 1);
  guint i;

  for (i = 0; i < G_N_ELEMENTS (halves); i++)
    {
      const MlPoint lower = ml_test_pin (scene, halves[i].lower, "gate"), pull = ml_test_pin (scene, halves[i].pull, "1");

      assert_near (ml_test_pin (scene, halves[i].series, "2").y, lower.y, 0, 1e-9);
      assert_near (pull.x, ml_test_pin (scene, halves[i].pull, "2").x, 0, 1e-9);
      assert_true (pull.y < ml_test_pin (scene, halves[i].pull, "2").y);
      assert_true (fabs (pull.x - lower.x) < fabs (ml_test_pin (scene, halves[i].series, "1").x - lower.x));
      assert_true (fabs (ml_test_pin (scene, halves[i].zener, "anode").y - ml_test_pin (scene, halves[i].upper, "gate").y) < 1.5);
    }
  assert_near (ml_test_pin (scene, "D1", "anode").y, ml_test_pin (scene, "D2", "anode").y, 0, 1e-9);
  assert_int_equal (ml_test_hard_faults (scene, "gates"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_gate_held_at_its_supply_is_no_rail),
    cmocka_unit_test (test_layout_supply_of_a_chip_is_a_rail_though_nothing_comes_there),
    cmocka_unit_test (test_layout_timing_node_of_a_chip_is_no_rail),
    cmocka_unit_test (test_layout_isolated_side_returns_to_its_own_ground),
    cmocka_unit_test (test_layout_what_is_switched_over_a_sensing_resistor_is_no_rail),
    cmocka_unit_test (test_layout_cable_of_a_potentiometer_comes_in_on_the_left),
    cmocka_unit_test (test_layout_connector_of_a_chip_that_listens_is_an_output),
    cmocka_unit_test (test_layout_crystal_stands_between_its_lines),
    cmocka_unit_test (test_layout_motor_lies_in_the_line_of_its_bridge),
    cmocka_unit_test (test_layout_stepped_down_supply_flows_to_the_right),
    cmocka_unit_test (test_layout_stepped_up_supply_runs_in_one_line),
    cmocka_unit_test (test_layout_charge_pump_runs_in_one_line),
    cmocka_unit_test (test_layout_counting_flip_flops_stand_in_a_row),
    cmocka_unit_test (test_layout_darlington_lies_in_the_line_of_its_supply),
    cmocka_unit_test (test_layout_gates_of_a_bridge_have_their_parts_beside_them),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
