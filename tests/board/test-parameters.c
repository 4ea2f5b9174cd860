/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Centre and spread of parameters. Rectangular half-width a gives a / sqrt 3: JCGM 100:2008 4.3.7. Device figures name their source. */
#include "support/near.h"

#include <math.h>
#include <string.h>

#include "board/parameters.h"

static MlBoard *
read_part (const char *words)
{
  g_autofree char *bytes = g_strconcat ("part X1 ", words, NULL);
  g_autoptr (MlText) text = ml_text_new ("test", bytes, -1);
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();
  MlBoard *board = ml_board_read (text, diagnostics);

  assert_int_equal (ml_diagnostics_n (diagnostics), 0);
  return board;
}

static MlParameter
parameter (const char *words, const char *name)
{
  g_autoptr (MlBoard) board = read_part (words);
  MlParameter it;

  if (!ml_part_parameter (&board->parts[0], name, &it))
    print_error ("%s has no %s\n", words, name);
  assert_true (ml_part_parameter (&board->parts[0], name, &it));
  return it;
}

static void
test_written_values_and_their_spread (void **state)
{
  static const struct { const char *words, *name; double centre, half_width; } table[] = {
    { "resistor value=4k7", "value", 4700, 0.05 },               /* 5 % unless written: common practice */
    { "resistor value=4k7 tolerance=1%", "value", 4700, 0.01 },
    { "resistor value=4K7K", "value", 4700, 0.10 },              /* IEC 60062: K is 10 % */
    { "resistor value=4K7K tolerance=2%", "value", 4700, 0.02 }, /* the key wins over the letter */
    { "zener voltage=5.6", "voltage", 5.6, 0.05 },               /* E24 zener diodes: common practice */
    { "zener voltage=5.6 tolerance=2%", "voltage", 5.6, 0.02 },
    { "regulator voltage=5", "voltage", 5, 0.03 },
    { "coil resistance=270", "resistance", 270, 0.10 },
    { "coil resistance=270 tolerance=5%", "resistance", 270, 0.05 },
    { "fuse resistance=2 tolerance=10%", "resistance", 2, 0.10 },
    { "fuse resistance=2", "resistance", 2, 0.30 },               /* from here on: half-widths of what a part says without a tolerance, common practice */
    { "inductor resistance=1", "resistance", 1, 0.30 },
    { "potentiometer value=10k", "value", 10e3, 0.20 },
    { "thermistor value=10k", "value", 10e3, 0.20 },
    { "tvs clamp=12", "clamp", 12, 0.10 },
    { "lamp voltage=6 power=3", "power", 3, 0.20 },
    { "coil pull=9", "pull", 9, 0.20 },
    { "coil release=1", "release", 1, 0.30 },
    { "battery voltage=9", "voltage", 9, 0.05 },
    { "shunt voltage=2.495", "reference", 2.495, 0.02 },
    { "diode drop=0.7@10m tolerance=4%", "drop", 0.7, 0.04 },
    { "opamp headroom=1.5", "upper_loss", 1.5, 0.60 }, /* TL07x at 10 kohm: 1.5 V typical, 3 V at most (data sheet, from memory) */
    { "opamp footroom=20m", "lower_loss", 0.02, 0.80 },
    { "npn gain=200 tolerance=20%", "gain", 200, 0.20 },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlParameter it = parameter (table[i].words, table[i].name);
      assert_true (it.centre == table[i].centre);
      assert_true (it.log);
      assert_near (it.spread, table[i].half_width / sqrt (3), 1e-12, 0);
      assert_int_equal (it.origin, ML_ORIGIN_WRITTEN);
      assert_null (it.source);
    }
}

/* A bias current may well be none or the other way round: its spread is linear. Limits of data sheets lie a few times above what is typical. */
static void
test_bias_current_may_be_either_way (void **state)
{
  MlParameter out = parameter ("opamp bias=45n", "bias"), into = parameter ("comparator bias=-80n", "bias"), none = parameter ("opamp bias=0", "bias");
  MlParameter unknown = parameter ("opamp", "bias");

  assert_true (!out.log && out.centre == 45e-9 && !into.log && into.centre == -80e-9 && none.centre == 0 && none.spread == 0);
  assert_near (into.spread, 0.8 * 80e-9 / sqrt (3), 1e-12, 0);
  assert_true (unknown.centre > 10e-9 && unknown.centre < 100e-9 && unknown.spread > 0.5 * unknown.centre);
}

static void
test_unknown_values_are_wide (void **state)
{
  MlParameter it = parameter ("resistor", "value");

  assert_true (it.log && it.centre == 2200 && it.spread == 2.3);
  assert_int_equal (it.origin, ML_ORIGIN_DEFAULT);
  assert_non_null (it.source);
}

/* Drops by family and colour must lie in the published ranges: Kuphaldt, Lessons in Electric Circuits, Semiconductors ch. 3. */
static void
test_default_drops_lie_in_published_ranges (void **state)
{
  static const struct { const char *words; double low, high; } table[] = {
    { "led colour=red", 1.5, 2.4 },      { "led colour=orange", 2.1, 2.2 }, { "led colour=yellow", 1.7, 2.8 }, { "led colour=green", 1.7, 2.8 },
    { "led colour=blue", 3, 4 },         { "led colour=white", 3, 4 },      { "led colour=infrared", 1.2, 1.7 },
    { "diode", 0.6, 0.8 },               { "diode family=schottky", 0.2, 0.45 }, /* common practice */
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      MlParameter drop = parameter (table[i].words, "drop"), at = parameter (table[i].words, "at");
      assert_true (drop.centre >= table[i].low && drop.centre <= table[i].high);
      assert_true (at.centre > 0 && at.centre <= 0.1);
    }
}

/* 1N4004: 0.70 V at 10 mA (Kuphaldt); BAT54: at most 0.40 V at 10 mA; 1N4148: at most 1.0 V at 10 mA (data sheets). */
static void
test_part_numbers_bring_their_figures (void **state)
{
  MlParameter drop = parameter ("1N4004", "drop");

  assert_true (drop.centre == 0.70);
  assert_int_equal (drop.origin, ML_ORIGIN_DATASHEET);
  assert_true (parameter ("1N4004", "at").centre == 10e-3);
  assert_true (parameter ("BAT54", "drop").centre <= 0.40 && parameter ("BAT54", "at").centre == 10e-3);
  assert_true (parameter ("1N4148", "drop").centre <= 1.0);
  assert_true (parameter ("1N4148 drop=0.6@1m", "drop").centre == 0.6);
  assert_int_equal (parameter ("1N4148 drop=0.6@1m", "drop").origin, ML_ORIGIN_WRITTEN);
  assert_true (parameter ("7805", "voltage").centre == 5);
}

/* 0.6 x family share (3 % silicon, 5 % Schottky, 2 % led) x drop / current. */
static void
test_series_resistance_follows_the_drop (void **state)
{
  assert_near (parameter ("diode drop=0.7@20m", "series").centre, 0.6 * 0.03 * 0.7 / 0.02, 1e-12, 0);
  assert_near (parameter ("diode family=schottky drop=0.3@100m", "series").centre, 0.6 * 0.05 * 0.3 / 0.1, 1e-12, 0);
  assert_near (parameter ("led drop=2@10m", "series").centre, 0.6 * 0.02 * 2 / 0.01, 1e-12, 0);
  assert_true (parameter ("diode", "series").spread == 1.8);
}

/* on=R@V: i = k (2 (v - t) u - u^2) has the slope 2 k (v - t) at u = 0, whose inverse is R. */
static void
test_on_resistance_gives_k (void **state)
{
  MlParameter k = parameter ("nmos threshold=2 on=50m@10", "k");

  assert_near (1 / (2 * k.centre * (10 - 2)), 50e-3, 1e-12, 0);
  assert_int_equal (k.origin, ML_ORIGIN_WRITTEN);
  assert_true (parameter ("nmos", "k").centre == 0.5);
}

/* Data sheets give a p-channel transistor's threshold and an n-channel junction FET's pinch-off below zero, sellers' pages above: both mean
 * the same part. Below zero an nmos is a depletion type, which conducts at 0 V. Common practice. */
static void
test_threshold_with_the_sign_of_its_data_sheet (void **state)
{
  assert_true (parameter ("pmos threshold=-1.8", "threshold").centre == 1.8);
  assert_true (parameter ("pmos threshold=1.8", "threshold").centre == 1.8);
  assert_near (parameter ("pmos threshold=-2 on=50m@-10", "k").centre, parameter ("nmos threshold=2 on=50m@10", "k").centre, 1e-12, 0);
  assert_true (parameter ("njfet threshold=-3", "threshold").centre == 3);
  assert_true (parameter ("pjfet threshold=3", "threshold").centre == 3);
  assert_true (parameter ("nmos threshold=-1", "threshold").centre == -1);
}

static void
test_zener_slope_by_voltage (void **state)
{
  assert_true (parameter ("zener voltage=3.3", "slope").centre == 6);
  assert_true (parameter ("zener voltage=12", "slope").centre == 2.5);
}

/* The tolerance is the voltage's; the current at which it was tested is exact. 1N4733A: 5.1 V at 49 mA, 5 % (data sheets of the series). */
static void
test_zener_voltage_belongs_to_its_current (void **state)
{
  MlParameter voltage = parameter ("1N4733A", "voltage"), at = parameter ("1N4733A", "at");

  assert_true (voltage.centre == 5.1 && at.centre == 49e-3 && at.spread == 0);
  assert_near (voltage.spread, 0.05 / sqrt (3), 1e-12, 0);
  assert_true (parameter ("zener voltage=5.6@20m tolerance=2%", "at").centre == 20e-3);
  assert_true (parameter ("zener voltage=5.6@20m tolerance=2%", "at").spread == 0);
  assert_true (parameter ("zener voltage=5.6", "at").centre == 5e-3);
}

/* A drop's tolerance is not that of its current either. */
static void
test_drop_current_is_exact (void **state)
{
  assert_true (parameter ("diode drop=0.7@10m tolerance=4%", "at").spread == 0);
}

/* An electrolytic capacitor may leak through some megohms, a film or ceramic one not. */
static void
test_polar_capacitors_leak_more (void **state)
{
  MlParameter polar = parameter ("capacitor plus=A minus=B", "leakage"), plain = parameter ("capacitor 1=A 2=B", "leakage");

  assert_true (polar.centre * exp (-3 * polar.spread) < 5e6 && plain.centre * exp (-3 * plain.spread) > 20e6);
}

/* The engine's parameter names, kind by kind. */
static void
test_every_kind_has_its_parameters (void **state)
{
  static const struct { const char *kind, *names; } table[] = {
    { "resistor", "value" }, { "link", "resistance" }, { "inductor", "resistance" }, { "fuse", "resistance" },
    { "coil", "resistance pull release" }, { "capacitor", "leakage" }, { "switch", "resistance" }, { "changeover", "resistance" },
    { "contact", "resistance" }, { "potentiometer", "value position" }, { "thermistor", "value beta temperature" }, { "varistor", "clamp" },
    { "tvs", "clamp" }, { "lamp", "voltage power" }, { "diode", "drop at ideality series leakage" },
    { "led", "drop at ideality series leakage" }, { "zener", "voltage at slope series forward forward_at leakage" },
    { "bridge", "drop at ideality series leakage" }, { "npn", "saturation gain reverse_gain early leakage" },
    { "pnp", "saturation gain reverse_gain early leakage" }, { "nmos", "threshold k leakage" }, { "pmos", "threshold k leakage" },
    { "njfet", "idss threshold leakage" }, { "pjfet", "idss threshold leakage" }, { "thyristor", "trigger hold drop leakage" },
    { "triac", "trigger hold drop leakage" },
    { "regulator", "voltage dropout quiescent limit" }, { "adjustable", "reference dropout quiescent limit" },
    { "shunt", "reference slope minimum lowest" }, { "opamp", "offset upper_loss lower_loss quiescent gain output_resistance bias" },
    { "comparator", "offset saturation quiescent pull_up bias leakage" }, { "opto", "drop at ideality ratio leakage" },
    { "converter", "voltage efficiency limit start quiescent" }, { "battery", "voltage resistance" }, { "connector", "" },
    { "testpoint", "" }, { "block", "" },
  };

  assert_int_equal (G_N_ELEMENTS (table), ML_N_KINDS);
  for (guint i = 0; i < ML_N_KINDS; i++)
    {
      g_autoptr (MlBoard) board = read_part (table[i].kind);
      g_auto (GStrv) names = *table[i].names != '\0' ? g_strsplit (table[i].names, " ", -1) : g_new0 (char *, 1);

      assert_int_equal (ml_part_n_parameters (&board->parts[0]), g_strv_length (names));
      for (guint k = 0; names[k] != NULL; k++)
        {
          MlParameter it;

          assert_true (ml_part_parameter (&board->parts[0], names[k], &it));
          assert_true (isfinite (it.centre) && it.spread >= 0 && it.shared >= 0 && it.shared <= 1 && it.carried >= 0 && it.carried <= 1);
          assert_true (!it.log || it.centre > 0);
          assert_string_equal (it.name, names[k]);
        }
    }
}

/* Two parts of one value differ by their tolerance alone, half-width 5 % for resistors and zeners (common practice): of the variance of a value that
 * nobody read, (0.05 / sqrt 3)^2 is each one's own but for what written ones have in common. A trimmer's setting is its own. */
static void
test_unread_values_are_common_to_all_units (void **state)
{
  double own = pow (0.05 / sqrt (3), 2);
  MlParameter unread = parameter ("resistor", "value"), read = parameter ("resistor value=1k", "value"), zener = parameter ("zener", "voltage");

  assert_near (unread.carried, 1 - (1 - read.carried) * own / pow (unread.spread, 2), 1e-12, 0);
  assert_near (zener.carried, 1 - (1 - parameter ("zener voltage=5V6", "voltage").carried) * own / pow (zener.spread, 2), 1e-12, 0);
  assert_true (read.carried < 0.5 && unread.carried > 0.999 && zener.carried > 0.99);
  assert_true (parameter ("potentiometer value=10k", "position").carried < 0.5);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_polar_capacitors_leak_more),
    cmocka_unit_test (test_written_values_and_their_spread),
    cmocka_unit_test (test_unknown_values_are_wide), cmocka_unit_test (test_bias_current_may_be_either_way),
    cmocka_unit_test (test_default_drops_lie_in_published_ranges),
    cmocka_unit_test (test_part_numbers_bring_their_figures),
    cmocka_unit_test (test_series_resistance_follows_the_drop),
    cmocka_unit_test (test_on_resistance_gives_k),
    cmocka_unit_test (test_threshold_with_the_sign_of_its_data_sheet),
    cmocka_unit_test (test_zener_slope_by_voltage),
    cmocka_unit_test (test_zener_voltage_belongs_to_its_current),
    cmocka_unit_test (test_drop_current_is_exact),
    cmocka_unit_test (test_unread_values_are_common_to_all_units),
    cmocka_unit_test (test_every_kind_has_its_parameters),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
