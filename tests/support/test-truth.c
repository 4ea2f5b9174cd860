/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The truth program's solver against closed forms and published circuits: a witness must be examined too. */
#include "support/models.h"
#include "support/truth-case.h"
#include "support/truth-circuit.h"
#include "support/truth-loose.h"

#include <math.h>

/* Kuphaldt, Lessons in Electric Circuits, DC, ch. 10: unbalanced bridge, 17.66 V, 19.31 V, 136.092 mA in all. */
static void
test_network_bridge_published_voltages (void **state)
{
  Case c;
  begin (&c, 3);
  add (&c, ML_LAW_SUPPLY, 1, 0, 24, 3, 0);
  add (&c, ML_LAW_RESISTOR, 1, 2, 150, 0, 0);
  add (&c, ML_LAW_RESISTOR, 1, 3, 50, 0, 0);
  add (&c, ML_LAW_RESISTOR, 2, 3, 100, 0, 0);
  add (&c, ML_LAW_RESISTOR, 2, 0, 300, 0, 0);
  add (&c, ML_LAW_RESISTOR, 3, 0, 250, 0, 0);
  solve (&c);
  assert_near (c.x[1], 17.66, 0, 0.005);
  assert_near (c.x[2], 19.31, 0, 0.005);
  assert_near (c.x[3], 136.092e-3, 0, 1e-6);
  end (&c);
}

/* A series regulator whose ground pin hangs in the air gives its input less its dropout (common practice, no source): it regulates nothing,
 * and its pass transistor still needs its voltage. 12 V, dropout 2 V, 1 kohm: 10 V. With the pin on ground: 5 V. */
static void
test_network_regulator_without_ground_keeps_its_dropout (void **state)
{
  for (guint grounded = 0; grounded < 2; grounded++)
    {
      Case c;
      begin (&c, 3);
      add (&c, ML_LAW_SUPPLY, 1, 0, 12, 1, 0);
      add (&c, ML_LAW_RESISTOR, 2, 0, 1e3, 0, 0);
      add (&c, ML_LAW_RESISTOR, 3, 0, grounded ? 1e-3 : 1e12, 0, 0);
      ml_truth_network_add (&c.network, ML_LAW_REGULATOR, (int[]) { 1, 2, 3 }, (double[]) { 5, 2, 4.5e-3, 1 });
      add (&c, ML_LAW_RESISTOR, 2, 3, 60e6, 0, 0);
      solve (&c);
      assert_near (c.x[1], grounded ? 5 : 10, 0, 0.05);
      end (&c);
    }
}

/* Lambert W closed forms of a diode (Is 1e-14 A, n 1, VT 25.85 mV) behind a resistor, computed apart from any solver. */
static void
test_network_diode_closed_form (void **state)
{
  static const struct { double supply_v, ohm, diode_v; } CASES[] = {
    { 5, 1e3, 0.692490375224185 }, { 12, 10e3, 0.657995309222073 }, { 3, 100, 0.735391732215764 },
  };
  for (guint i = 0; i < G_N_ELEMENTS (CASES); i++)
    {
      Case c;
      begin (&c, 2);
      add (&c, ML_LAW_SUPPLY, 1, 0, CASES[i].supply_v, 100, 0);
      add (&c, ML_LAW_RESISTOR, 1, 2, CASES[i].ohm, 0, 0);
      add (&c, ML_LAW_JUNCTION, 2, 0, 1e-14, 0.02585, 1e18);
      solve (&c);
      assert_near (c.x[1], CASES[i].diode_v, 0, 2e-7);
      end (&c);
    }
}

/* Sedra and Smith ex. 3.8: 10 V, 0.5 k, zener 6.8 V at 5 mA, 20 ohm: 6.83 V unloaded (straight-line model: within 1 %); with 0.5 k, 5 V. */
static void
test_network_zener_published_voltages (void **state)
{
  for (guint loaded = 0; loaded < 2; loaded++)
    {
      Case c;
      begin (&c, 2);
      add (&c, ML_LAW_SUPPLY, 1, 0, 10, 100, 0);
      add (&c, ML_LAW_RESISTOR, 1, 2, 500, 0, 0);
      add (&c, ML_LAW_BREAKDOWN, 0, 2, 6.8, 5e-3, 20 * 6.36e-3);
      if (loaded)
        add (&c, ML_LAW_RESISTOR, 2, 0, 500, 0, 0);
      solve (&c);
      assert_near (c.x[1], loaded ? 5.0 : 6.83, loaded ? 1e-3 : 0.01, 0);
      end (&c);
    }
}

/* Sedra and Smith ex. 5.4: VCC 10, VB 4, RE 3.3 k, RC 4.7 k: VE 3.3, VC 5.3, IC 0.99 mA; ex. 5.5, VB 6: saturated, VC 5.5. VBE 0.7 V at 1 mA.
 * The book takes 0.2 V for the saturated transistor, the junctions alone give a tenth of it: hence 4 %. */
static void
test_network_transistor_published_voltages (void **state)
{
  static const struct { double base_v, emitter_v, collector_v; } CASES[] = { { 4, 3.3, 5.3 }, { 6, 5.3, 5.5 } };
  for (guint i = 0; i < G_N_ELEMENTS (CASES); i++)
    {
      Case c;
      begin (&c, 4);
      add (&c, ML_LAW_SUPPLY, 1, 0, 10, 100, 0);
      add (&c, ML_LAW_SUPPLY, 2, 0, CASES[i].base_v, 100, 0);
      add (&c, ML_LAW_RESISTOR, 1, 3, 4700, 0, 0);
      add (&c, ML_LAW_RESISTOR, 4, 0, 3300, 0, 0);
      double figures[] = { 1e-3 * exp (-0.7 / 0.02585), 0.02585, 100, 1, 1e9, 1 };
      ml_truth_network_add (&c.network, ML_LAW_TRANSISTOR, (int[]) { 3, 2, 4 }, figures);
      solve (&c);
      assert_near (c.x[3], CASES[i].emitter_v, 0.03, 0);
      assert_near (c.x[2], CASES[i].collector_v, 0.04, 0);
      end (&c);
    }
}

/* Constant voltage, then constant current: 12 V, 0.4 A into 100 ohm and into 10 ohm (Ohm's law). */
static void
test_network_supply_limits (void **state)
{
  for (guint shorted = 0; shorted < 2; shorted++)
    {
      Case c;
      begin (&c, 1);
      add (&c, ML_LAW_SUPPLY, 1, 0, 12, 0.4, 0);
      add (&c, ML_LAW_RESISTOR, 1, 0, shorted ? 10 : 100, 0, 0);
      solve (&c);
      assert_near (c.x[0], shorted ? 4 : 12, 1e-4, 0);
      assert_near (c.x[1], shorted ? 0.4 : 0.12, 1e-4, 0);
      end (&c);
    }
}

/* ---- whole boards with faults ---- */

static MlTruth *
board_truth (const char *text)
{
  g_autoptr (MlBoard) board = ml_test_board (text);
  return ml_truth_new (board, board, ML_TRUTH_NOMINAL, 0, NULL);
}

/* The voltage across a two-pin part with another part at fault. */
static double
across_with_fault (MlTruth *truth, const char *part, const char *faulty, MlFaultKind kind)
{
  const MlBoard *board = ml_truth_board (truth);
  int p = ml_board_find_part (board, part);
  MlTruthPlace place = { 0, ML_READS_VOLTS, { -1, p, 0, FALSE }, { -1, p, 1, FALSE }, -1 };
  MlFault fault = { .part = ml_board_find_part (board, faulty), .kind = kind, .n_pins = kind == ML_FAULT_SHORT ? 2 : 1, .pins = { 0, 1 }, .size = NAN };
  ml_truth_set_faults (truth, &fault, 1);
  return ml_truth_read (truth, &place, 1e12);
}

/* Grob, ex. 4-6: 24 V, series 150, 120, 180, 150; third resistor open: readings 0, 0, 24, 0. */
static void
test_truth_open_series_resistor_published_readings (void **state)
{
  static const double EXPECTED_V[] = { 0, 0, 24, 0 };
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart R1 resistor 1=A 2=B value=150\npart R2 resistor 1=B 2=C value=120\n"
                                           "part R3 resistor 1=C 2=D value=180\npart R4 resistor 1=D 2=M value=150\n"
                                           "condition on\n  supply plus=A minus=M voltage=24 limit=3\n");
  static const char *const PARTS[] = { "R1", "R2", "R3", "R4" };
  for (guint i = 0; i < 4; i++)
    assert_near (across_with_fault (truth, PARTS[i], "R3", ML_FAULT_OPEN), EXPECTED_V[i], 0, 1e-3);
}

/* Kuphaldt, DC, ch. 5: 9 V, series 100, 300, 50; the 300 shorted: readings 6, 0, 3. */
static void
test_truth_shorted_series_resistor_published_readings (void **state)
{
  static const double EXPECTED_V[] = { 6, 0, 3 };
  static const char *const PARTS[] = { "R1", "R2", "R3" };
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart R1 resistor 1=A 2=B value=100\npart R2 resistor 1=B 2=C value=300\n"
                                           "part R3 resistor 1=C 2=M value=50\ncondition on\n  supply plus=A minus=M voltage=9 limit=3\n");
  for (guint i = 0; i < 3; i++)
    assert_near (across_with_fault (truth, PARTS[i], "R2", ML_FAULT_SHORT), EXPECTED_V[i], 0, 0.02);
}

/* Kuphaldt, DC, ch. 8: 24 V across 250 Mohm + 250 Mohm, a 10 Mohm meter across the lower one reads 0.8889 V. The surface leak of the
 * truth program (1 Tohm) takes half a thousandth of it. */
static void
test_truth_meter_loads_published_reading (void **state)
{
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart R1 resistor 1=A 2=B value=250M\npart R2 resistor 1=B 2=M value=250M\n"
                                           "condition on\n  supply plus=A minus=M voltage=24 limit=3\n");
  MlTruthPlace place = { 0, ML_READS_VOLTS, { 1, -1, -1, FALSE }, { 0, -1, -1, FALSE }, -1 };
  place.red.net = ml_board_find_net (ml_truth_board (truth), "B");
  place.black.net = ml_board_find_net (ml_truth_board (truth), "M");
  assert_near (ml_truth_read (truth, &place, 10e6), 0.8889, 1e-3, 0);
}

#define ROW_OF_TWO "reference M\npart R1 resistor 1=A 2=B value=1k tolerance=1%\npart R2 resistor 1=B 2=M value=1k tolerance=1%\n" \
                   "condition on\n  supply plus=A minus=M voltage=10 limit=1\n"

/* In a row of two equal resistors with no tap read, either may have drifted: tied. With the tap read they are not. */
static void
test_truth_case_ties_what_readings_cannot_tell (void **state)
{
  g_autoptr (MlTruth) truth = board_truth (ROW_OF_TWO);
  MlBoard *board = (MlBoard *) ml_truth_board (truth);
  g_autoptr (GArray) all = ml_truth_all_places (board), current = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  MlFault open = { .part = 0, .kind = ML_FAULT_OPEN, .n_pins = 1, .size = NAN };
  g_array_append_val (current, g_array_index (all, MlTruthPlace, all->len - 1));
  g_autoptr (MlTruthCase) blind = ml_truth_case_new (board, board, current), seeing = ml_truth_case_new (board, board, all);
  assert_true (ml_truth_case_shift (blind, &open) > 3);
  assert_true (ml_truth_case_tied (blind, &open, 1));
  assert_false (ml_truth_case_tied (seeing, &open, 1));
}

/* Ohm's law: behind 1 kohm from 5 V a short of 0.3 ohm leaves 1.5 mV, one of 0.03 ohm 0.15 mV, which the meter cannot tell from the 0 V of an open
 * resistor; the current can. */
static void
test_truth_case_nobody_knows_how_good_a_short_is (void **state)
{
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart R1 resistor 1=A 2=B value=1k\npart C1 capacitor plus=B minus=M value=10u\n"
                                           "condition on\n  supply plus=A minus=M voltage=5 limit=1\n");
  MlBoard *board = (MlBoard *) ml_truth_board (truth);
  g_autoptr (GArray) all = ml_truth_all_places (board), volts = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  MlFault open = { .part = 0, .kind = ML_FAULT_OPEN, .n_pins = 1, .size = NAN };
  for (guint i = 0; i < all->len; i++)
    if (g_array_index (all, MlTruthPlace, i).reads == ML_READS_VOLTS)
      g_array_append_val (volts, g_array_index (all, MlTruthPlace, i));
  g_autoptr (MlTruthCase) voltages = ml_truth_case_new (board, board, volts), whole = ml_truth_case_new (board, board, all);
  assert_true (ml_truth_case_tied (voltages, &open, 1));
  assert_false (ml_truth_case_tied (whole, &open, 1));
}

/* What lies across one supply is tied with it, too, where it seldom fails so: an amplifier shorted from supply to supply. */
static void
test_truth_case_ties_what_seldom_fails (void **state)
{
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart R1 resistor 1=A 2=P value=100\npart C1 capacitor plus=P minus=M value=10u\n"
                                           "part U1 opamp noninverting=M inverting=O out=O positive=P negative=M\n"
                                           "condition on\n  supply plus=A minus=M voltage=9 limit=1\n");
  MlBoard *board = (MlBoard *) ml_truth_board (truth);
  g_autoptr (GArray) all = ml_truth_all_places (board);
  g_autoptr (MlTruthCase) c = ml_truth_case_new (board, board, all);
  MlFault shorted = { .part = ml_board_find_part (board, "C1"), .kind = ML_FAULT_SHORT, .n_pins = 2, .pins = { 0, 1 }, .size = NAN };

  assert_true (ml_truth_case_tied (c, &shorted, ml_board_find_part (board, "U1")));
  assert_false (ml_truth_case_tied (c, &shorted, ml_board_find_part (board, "R1")));
}

/* Both of a divider drifted: the tap alone tells a ratio, which one of them gives as well; the current tells both. */
static void
test_truth_case_two_faults_may_read_as_one (void **state)
{
  g_autoptr (MlTruth) truth = board_truth (ROW_OF_TWO);
  MlBoard *board = (MlBoard *) ml_truth_board (truth);
  g_autoptr (GArray) all = ml_truth_all_places (board), tap = g_array_new (FALSE, TRUE, sizeof (MlTruthPlace));
  const MlFault both[] = { { .part = 0, .kind = ML_FAULT_HIGH, .size = 2 }, { .part = 1, .kind = ML_FAULT_HIGH, .size = 4 } };
  for (guint i = 0; i < all->len; i++)
    if (g_array_index (all, MlTruthPlace, i).reads == ML_READS_VOLTS)
      g_array_append_val (tap, g_array_index (all, MlTruthPlace, i));
  g_autoptr (MlTruthCase) ratio = ml_truth_case_new (board, board, tap), whole = ml_truth_case_new (board, board, all);
  assert_true (ml_truth_case_reads_as_one (ratio, both, 2));
  assert_false (ml_truth_case_reads_as_one (whole, both, 2));
}

/* Ohm's law: the tap of a divider tells a ratio. Of two unread resistors any value is as good; of one that is read and one that is not, too, but not
 * an open one, since the other's end of the range still draws a current. Beside a good unit the ratio is known. */
static void
test_truth_loose_unread_values_hide_drifts (void **state)
{
  static const char actual_text[] = "reference N\npart R1 resistor 1=IN 2=A value=10k tolerance=1%\npart R2 resistor 1=A 2=N value=10k tolerance=1%\n"
                                    "condition c\n  supply plus=IN minus=N voltage=10 limit=1\n";
  static const char drawn_text[] = "reference N\npart R1 resistor 1=IN 2=A\npart R2 resistor 1=A 2=N\n"
                                   "condition c\n  supply plus=IN minus=N voltage=10 limit=1\n";
  g_autoptr (MlBoard) actual = ml_test_board (actual_text), drawn = ml_test_board (drawn_text);
  g_autoptr (GArray) places = ml_truth_all_places (actual);
  g_autoptr (MlTruthLoose) alone = ml_truth_loose_new (drawn, actual, places, FALSE), beside = ml_truth_loose_new (drawn, actual, places, TRUE);
  g_autoptr (MlTruthLoose) read = ml_truth_loose_new (actual, actual, places, FALSE);
  MlFault high = { .part = 0, .kind = ML_FAULT_HIGH, .net_a = -1, .net_b = -1, .size = 3 };
  MlFault open = { .part = 0, .kind = ML_FAULT_OPEN, .pins = { 0 }, .n_pins = 1, .net_a = -1, .net_b = -1, .size = NAN };

  assert_int_equal (ml_truth_loose_n_unread (alone), 2);
  assert_true (ml_truth_loose_is_unread (alone, 1));
  assert_int_equal (ml_truth_loose_n_unread (read), 0);
  assert_false (ml_truth_loose_shows (alone, &high));
  assert_true (ml_truth_loose_shows (alone, &open));
  assert_true (ml_truth_loose_shows (read, &high));
  assert_true (ml_truth_loose_shows (beside, &high));
  /* 2.5 V at the tap of 30 kohm over 10 kohm, 0.25 mA; a lower second resistor, 3.3 kohm, gives that voltage, too, but draws 0.75 mA. */
  assert_false (ml_truth_loose_tied (read, &high, 1));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_network_bridge_published_voltages),
    cmocka_unit_test (test_network_diode_closed_form),
    cmocka_unit_test (test_network_zener_published_voltages),
    cmocka_unit_test (test_network_transistor_published_voltages),
    cmocka_unit_test (test_network_supply_limits),
    cmocka_unit_test (test_network_regulator_without_ground_keeps_its_dropout),
    cmocka_unit_test (test_truth_open_series_resistor_published_readings),
    cmocka_unit_test (test_truth_shorted_series_resistor_published_readings),
    cmocka_unit_test (test_truth_meter_loads_published_reading),
    cmocka_unit_test (test_truth_case_ties_what_readings_cannot_tell),
    cmocka_unit_test (test_truth_case_nobody_knows_how_good_a_short_is),
    cmocka_unit_test (test_truth_case_ties_what_seldom_fails),
    cmocka_unit_test (test_truth_case_two_faults_may_read_as_one),
    cmocka_unit_test (test_truth_loose_unread_values_hide_drifts),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
