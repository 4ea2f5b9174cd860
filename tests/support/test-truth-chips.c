/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The truth program's chips, clamps, relays and thermistors against worked examples, data sheet formulas and closed forms. */
#include "support/models.h"
#include "support/truth-circuit.h"
#include "support/truth.h"

#include <math.h>

static void
supply (Case *c, int plus, double voltage_v)
{
  add (c, ML_LAW_SUPPLY, plus, 0, voltage_v, 100, 0);
}

static void
resistor (Case *c, int a, int b, double ohm)
{
  add (c, ML_LAW_RESISTOR, a, b, ohm, 0, 0);
}

static double
at (const Case *c, int node)
{
  return ml_truth_at (c->x, node);
}

/* Sedra and Smith ex. 2.1: inverting, 1 k and 100 k, open-loop gain 1e3, 1e4, 1e5: 90.83, 99.00, 99.90. */
static void
test_chip_amplifier_published_closed_loop_gains (void **state)
{
  static const struct { double open_loop, closed_loop; } CASES[] = { { 1e3, 90.83 }, { 1e4, 99.00 }, { 1e5, 99.90 } };
  for (guint i = 0; i < G_N_ELEMENTS (CASES); i++)
    {
      Case c;
      begin (&c, 5);
      supply (&c, 1, 15);
      add (&c, ML_LAW_SUPPLY, 0, 2, 15, 100, 0);
      supply (&c, 3, 1e-3);
      resistor (&c, 3, 4, 1e3);
      resistor (&c, 4, 5, 100e3);
      ml_truth_network_add (&c.network, ML_LAW_AMPLIFIER, (int[]) { 0, 4, 5, 1, 2 }, (double[]) { 0, CASES[i].open_loop, 1.3, 1.3, 60, 25e-3, 0, 1.2 });
      solve (&c);
      assert_near (at (&c, 5), -CASES[i].closed_loop * 1e-3, 1e-4, 0);
      end (&c);
    }
}

/* Kuphaldt, Semiconductors ch. 8: follower with an open-loop gain of 200 000, 6 V in: 5.99997 V out. */
static void
test_chip_amplifier_published_follower (void **state)
{
  Case c;
  begin (&c, 4);
  supply (&c, 1, 100);
  supply (&c, 2, 6);
  add (&c, ML_LAW_SUPPLY, 0, 4, 100, 100, 0);
  ml_truth_network_add (&c.network, ML_LAW_AMPLIFIER, (int[]) { 2, 3, 3, 1, 4 }, (double[]) { 0, 200e3, 1.3, 1.3, 60, 25e-3, 0, 1.2 });
  solve (&c);
  assert_near (6 + at (&c, 3) - at (&c, 2), 5.99997, 0, 1e-6); /* the supply itself gives 6 uV less */
  end (&c);
}

/* Conservation of energy: without a supply nothing flows anywhere, whatever resistors tie its pins together. */
static void
test_chip_amplifier_without_supply_drives_nothing (void **state)
{
  Case c;
  begin (&c, 4);
  for (int node = 1; node <= 4; node++)
    resistor (&c, node, 0, 10e3);
  resistor (&c, 1, 2, 820);
  ml_truth_network_add (&c.network, ML_LAW_AMPLIFIER, (int[]) { 2, 3, 4, 1, 0 }, (double[]) { 1e-3, 1e5, 1.5, 0.1, 60, 25e-3, 45e-9, 1.2 });
  solve (&c);
  for (int node = 1; node <= 4; node++)
    assert_near (at (&c, node), 0, 0, 1e-6);
  end (&c);
}

/* Without feedback the output goes to a rail less what the stage loses, and no more current comes out than its limit (data sheets). */
static void
test_chip_amplifier_rails_and_limit (void **state)
{
  for (guint high = 0; high < 2; high++)
    for (guint shorted = 0; shorted < 2; shorted++)
      {
        Case c;
        begin (&c, 4);
        supply (&c, 1, 12);
        supply (&c, 2, 5);
        supply (&c, 3, high ? 6 : 4);
        resistor (&c, 4, high ? 0 : 1, shorted ? 10 : 100e3);
        ml_truth_network_add (&c.network, ML_LAW_AMPLIFIER, (int[]) { 3, 2, 4, 1, 0 }, (double[]) { 0, 1e5, 1.5, 0.1, 60, 25e-3, 0, 1.2 });
        solve (&c);
        double current_a = (high ? at (&c, 4) : 12 - at (&c, 4)) / (shorted ? 10 : 100e3);
        if (shorted)
          assert_near (current_a, 25e-3, 0.02, 0);
        else
          assert_near (at (&c, 4), high ? 10.5 : 0.1, 0, 0.02);
        end (&c);
      }
}

/* An input that nothing holds. Out of it (PNP pair): it rises to where its transistors have no room, 1.2 V below the supply, or on a meter's 10 Mohm to 25 nA x
 * 10 Mohm = 250 mV. Into it (NPN pair): it falls to 1.2 V above the negative pin. The other input is at 2 V: the output goes to that side. */
static void
test_chip_input_left_open_goes_where_its_bias_takes_it (void **state)
{
  static const struct { double supply_v, bias_a, ohm, least_v, most_v; gboolean high; } CASES[] = {
    { 5, 25e-9, 5e9, 3.6, 4.0, TRUE },  { 24, 25e-9, 5e9, 22.4, 23.0, TRUE },  { 12, 25e-9, 10e6, 0.24, 0.26, FALSE }, { 5, -25e-9, 5e9, 0, 1.2, FALSE },
    { 5, 80e-9, 1e3, 0, 1e-4, FALSE },
  };
  for (guint i = 0; i < G_N_ELEMENTS (CASES); i++)
    for (guint kind = 0; kind < 2; kind++)
      {
        Case c;
        begin (&c, 4);
        supply (&c, 1, CASES[i].supply_v);
        supply (&c, 2, 2);
        resistor (&c, 3, 0, CASES[i].ohm);
        resistor (&c, 4, 1, 10e3);
        if (kind)
          ml_truth_network_add (&c.network, ML_LAW_COMPARATOR, (int[]) { 3, 2, 4, 1, 0 }, (double[]) { 0, 45, 16e-3, 0, 0, CASES[i].bias_a, 1.2 });
        else
          ml_truth_network_add (&c.network, ML_LAW_AMPLIFIER, (int[]) { 3, 2, 4, 1, 0 }, (double[]) { 0, 1e5, 1.5, 0.1, 60, 25e-3, CASES[i].bias_a, 1.2 });
        solve (&c);
        assert_true (at (&c, 3) > CASES[i].least_v - 1e-3 && at (&c, 3) < CASES[i].most_v);
        assert_true ((at (&c, 4) > 2) == CASES[i].high);
        end (&c);
      }
}

/* An open collector: low it sinks 4 mA at 0.1 to 0.4 V (LM393 data sheet, from memory), high it lets the pull-up have its way. */
static void
test_chip_comparator_sinks_and_lets_go (void **state)
{
  for (guint high = 0; high < 2; high++)
    {
      Case c;
      begin (&c, 4);
      supply (&c, 1, 5);
      supply (&c, 2, 2);
      supply (&c, 3, high ? 2.01 : 1.99);
      resistor (&c, 1, 4, 1.2e3);
      ml_truth_network_add (&c.network, ML_LAW_COMPARATOR, (int[]) { 3, 2, 4, 1, 0 }, (double[]) { 0, 45, 16e-3, 0, 0, 0, 1.2 });
      solve (&c);
      if (high)
        assert_near (at (&c, 4), 5, 0, 1e-3);
      else
        assert_in_range (at (&c, 4) * 1000, 100, 400);
      end (&c);
    }
}

/* Fed back from its output, between the two thresholds: 12 V pulled up by 10 k, 100 k back to an input that 10 k joins to 6 V; the other input at
 * 6 V. High: 6 + 6 x 10/120 = 6.5 V; low, near 0 V: 6 - 6 x 10/110 = 5.45 V (voltage divider). Never halfway, where all three would be 6 V. */
static void
test_chip_comparator_with_hysteresis_takes_a_side (void **state)
{
  Case c;
  begin (&c, 4);
  supply (&c, 1, 12);
  supply (&c, 2, 6);
  resistor (&c, 2, 3, 10e3);
  resistor (&c, 3, 4, 100e3);
  resistor (&c, 4, 1, 10e3);
  ml_truth_network_add (&c.network, ML_LAW_COMPARATOR, (int[]) { 3, 2, 4, 1, 0 }, (double[]) { 0, 45, 16e-3, 0, 0, 0, 1.2 });
  solve (&c);
  if (at (&c, 3) > 6)
    assert_near (at (&c, 3), 6.5, 0, 0.01);
  else
    assert_near (at (&c, 3), 5.4595, 0, 0.01);
  end (&c);
}

/* LM317 data sheet: 1.25 V (1 + R2/R1) + I R2: 240 and 720 ohm, 50 uA: 5.036 V; with 2.4 kohm 13.87 V. */
static void
test_chip_adjustable_data_sheet_formula (void **state)
{
  for (guint high = 0; high < 2; high++)
    {
      Case c;
      double lower_ohm = high ? 2400 : 720;
      begin (&c, 3);
      supply (&c, 1, 20);
      resistor (&c, 2, 3, 240);
      resistor (&c, 3, 0, lower_ohm);
      ml_truth_network_add (&c.network, ML_LAW_REGULATOR, (int[]) { 1, 2, 3 }, (double[]) { 1.25, 2, 50e-6, 1.5 });
      solve (&c);
      assert_near (at (&c, 2), 1.25 * (1 + lower_ohm / 240) + 50e-6 * lower_ohm, 1e-3, 0);
      end (&c);
    }
}

/* TL431 data sheet: Vref (1 + R1/R2) + Iref R1: 2.495 V, 10 k, 10 k, 2 uA: 5.01 V; too little supply, and it lets go. */
static void
test_chip_shunt_data_sheet_formula (void **state)
{
  for (guint starved = 0; starved < 2; starved++)
    {
      Case c;
      begin (&c, 3);
      supply (&c, 1, starved ? 4 : 12);
      resistor (&c, 1, 2, 1e3);
      resistor (&c, 2, 3, 10e3);
      resistor (&c, 3, 0, 10e3);
      ml_truth_network_add (&c.network, ML_LAW_SHUNT, (int[]) { 2, 0, 3 }, (double[]) { 2.495, 0.25, 2e-6 });
      solve (&c);
      assert_near (at (&c, 2), starved ? 4.0 * 20 / 21 : 5.01, 4e-3, 0);
      end (&c);
    }
}

/* Transfer ratio: the collector's current over the emitter's (IEC 60747-5-5, from memory), 0.8 here; into 10 kohm it saturates below 0.3 V. */
static void
test_chip_coupler_transfers_its_ratio (void **state)
{
  for (guint saturated = 0; saturated < 2; saturated++)
    {
      Case c;
      double load_ohm = saturated ? 10e3 : 100;
      begin (&c, 4);
      supply (&c, 1, 5);
      resistor (&c, 1, 2, 390);
      resistor (&c, 1, 3, load_ohm);
      add (&c, ML_LAW_JUNCTION, 2, 0, 1e-16, 0.04, 1e10);
      ml_truth_network_add (&c.network, ML_LAW_COUPLER, (int[]) { 2, 0, 3, 0 }, (double[]) { 1e-16, 0.04, 0.8 });
      resistor (&c, 4, 0, 1);
      solve (&c);
      if (saturated)
        assert_true (at (&c, 3) < 0.3 && at (&c, 3) > 0);
      else
        assert_near ((5 - at (&c, 3)) / load_ohm / ((5 - at (&c, 2)) / 390), 0.8, 2e-3, 0);
      end (&c);
    }
}

/* Conservation of energy: 5 V into 5 ohm from 12 V at 85 %: 5 / (0.85 x 12) = 0.4902 A, and 2 mA of its own. Below its starting voltage: nothing. */
static void
test_chip_converter_balances_power (void **state)
{
  for (guint off = 0; off < 2; off++)
    {
      Case c;
      begin (&c, 2);
      supply (&c, 1, off ? 3 : 12);
      resistor (&c, 2, 0, 5);
      ml_truth_network_add (&c.network, ML_LAW_CONVERTER, (int[]) { 1, 2, 0 }, (double[]) { 5, 0.85, 2, 4, 2e-3 });
      solve (&c);
      double taken_a = c.x[2], out_v = at (&c, 2);
      assert_near (out_v, off ? 0 : 5, 0.01, 1e-3);
      assert_near (taken_a, off ? 2e-3 : out_v * out_v / 5 / (0.85 * 12) + 2e-3, 0.01, 0);
      end (&c);
    }
}

/* 1 mA at the stated voltage by definition, of a suppressor and a varistor; the varistor's 10 mA at 10^(1/30) of it (power law). */
static void
test_clamps_definition (void **state)
{
  Case c;
  begin (&c, 4);
  add (&c, ML_LAW_SOURCE, 1, 0, 1e-3, 1000, 0);
  add (&c, ML_LAW_VARISTOR, 1, 0, 40, 30, 0);
  add (&c, ML_LAW_SOURCE, 2, 0, 10e-3, 1000, 0);
  add (&c, ML_LAW_VARISTOR, 2, 0, 40, 30, 0);
  add (&c, ML_LAW_SOURCE, 3, 0, 1e-3, 1000, 0);
  add (&c, ML_LAW_BREAKDOWN, 3, 0, 30, 1e-3, 0.12);
  add (&c, ML_LAW_BREAKDOWN, 0, 3, 30, 1e-3, 0.12);
  add (&c, ML_LAW_SOURCE, 0, 4, 1e-3, 1000, 0);
  add (&c, ML_LAW_BREAKDOWN, 4, 0, 30, 1e-3, 0.12);
  add (&c, ML_LAW_BREAKDOWN, 0, 4, 30, 1e-3, 0.12);
  solve (&c);
  assert_near (at (&c, 1), 40, 1e-4, 0);
  assert_near (at (&c, 2), 40 * pow (10, 1 / 30.0), 1e-4, 0);
  assert_near (at (&c, 3), 30, 1e-4, 0);
  assert_near (at (&c, 4), -30, 1e-4, 0);
  end (&c);
}

/* 12 V, 144 ohm hot: 1/12 A; at half the voltage 0.541 in the exponent leaves 0.687 of the current (lighting handbooks, from memory). */
static void
test_filament_current_exponent (void **state)
{
  static const struct { double voltage_v, current_a; } CASES[] = { { 12, 1 / 12.0 }, { 6, 0.687 / 12 } };
  for (guint i = 0; i < G_N_ELEMENTS (CASES); i++)
    {
      Case c;
      begin (&c, 1);
      supply (&c, 1, CASES[i].voltage_v);
      add (&c, ML_LAW_FILAMENT, 1, 0, 12, 144, 0);
      solve (&c);
      assert_near (c.x[1], CASES[i].current_a, 2e-3, 0);
      end (&c);
    }
}

/* ---- parts of boards ---- */

static MlTruth *
board_truth (const char *text, const MlTruthWorld *world)
{
  g_autoptr (MlBoard) board = ml_test_board (text);
  assert_true (ml_truth_knows (board));
  return ml_truth_new (board, board, ML_TRUTH_NOMINAL, 0, world);
}

static double
net_v (MlTruth *truth, const char *net)
{
  const MlBoard *board = ml_truth_board (truth);
  MlTruthPlace place = { 0, ML_READS_VOLTS, { ml_board_find_net (board, net), -1, -1, FALSE }, { board->reference, -1, -1, FALSE }, -1 };
  return ml_truth_read (truth, &place, 1e12);
}

/* 10 kohm, B 3950 K: at 50 C 10 k exp (3950 (1/323.15 - 1/298.15)) = 3588 ohm (IEC 60539-1, from memory); 10 V over it and 10 kohm. */
static void
test_thermistor_at_fifty_degrees (void **state)
{
  const MlTruthWorld warm = { 50, 1, 1 };
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart R1 resistor 1=A 2=T value=10k\npart RT1 thermistor 1=T 2=M value=10k beta=3950\n"
                                           "condition on\n  supply plus=A minus=M voltage=10 limit=1\n", &warm);
  assert_near (net_v (truth, "T"), 10 * 3588.0 / 13588.0, 1e-3, 0);
}

/* A relay of 9 V pulling voltage closes on 12 V and not on 6 V; its change-over contact is where the coil puts it. */
static void
test_contact_follows_its_coil (void **state)
{
  for (guint pulled = 0; pulled < 2; pulled++)
    {
      g_autofree char *text = g_strdup_printf ("reference M\npart K1 coil 1=A 2=M resistance=400 pull=9 release=2\n"
                                               "part K1A contact common=A no=X nc=Y by=K1\npart R1 resistor 1=X 2=M value=1k\n"
                                               "part R2 resistor 1=Y 2=M value=1k\ncondition on\n  supply plus=A minus=M voltage=%d limit=1\n", pulled ? 12 : 6);
      g_autoptr (MlTruth) truth = board_truth (text, NULL);
      assert_near (net_v (truth, "X"), pulled ? 12 : 0, 1e-3, 1e-3);
      assert_near (net_v (truth, "Y"), pulled ? 0 : 6, 1e-3, 1e-3);
    }
}

/* idss (1 - vgs/vp)^2 with 8 mA, 4 V and 1 kohm at the source, gate on ground: 0.5 i^2 - 5 i + 8 = 0, 2 mA: 2 V (quadratic formula). */
static void
test_junction_gate_self_bias (void **state)
{
  g_autoptr (MlTruth) truth = board_truth ("reference M\npart Q1 njfet drain=A gate=M source=S idss=8m threshold=4\npart R1 resistor 1=S 2=M value=1k\n"
                                           "condition on\n  supply plus=A minus=M voltage=15 limit=1\n", NULL);
  assert_near (net_v (truth, "S"), 2, 2e-3, 0);
}

/* 25 mohm at 5 V, 24 ohm on 12 V: 0.5 A, 12.5 mV; turned round, the drain's diode carries about 0.7 V (common practice). */
static void
test_insulated_gate_on_resistance_and_diode (void **state)
{
  for (guint turned = 0; turned < 2; turned++)
    {
      g_autofree char *text = g_strdup_printf ("reference M\npart Q1 nmos drain=%s gate=G source=%s threshold=1.6 on=25m@5\npart R1 resistor 1=A 2=D value=24\n"
                                               "condition on\n  supply plus=A minus=M voltage=12 limit=1\n  supply plus=G minus=M voltage=%s limit=1\n",
                                               turned ? "M" : "D", turned ? "D" : "M", turned ? "0.01" : "5");
      g_autoptr (MlTruth) truth = board_truth (text, NULL);
      assert_near (net_v (truth, "D"), turned ? 0.85 : 12.5e-3, turned ? 0.2 : 0.01, 0);
    }
}

/* Volt-second balance (Erickson and Maksimovic, Fundamentals of Power Electronics, ch. 2, from memory): stepped down without losses, 12 V at duty 0.4
 * gives 4.8 V; a capacitor carries nothing on average, so that all of the coil's current goes through the load of 120 ohm: 40 mA. */
static void
test_phases_step_down (void **state)
{
  enum { FEED = 1, SWITCHED, OUTPUT, FEED_2, SWITCHED_2, OUTPUT_2 };
  Case c;
  begin (&c, 6);
  supply (&c, FEED, 12);
  supply (&c, FEED_2, 12);
  add (&c, ML_LAW_RESISTOR, FEED, SWITCHED, 1e-3, 0, 0);
  add (&c, ML_LAW_RESISTOR, SWITCHED_2, 0, 1e-3, 0, 0);
  ml_truth_network_add (&c.network, ML_LAW_WOUND, (int[]) { SWITCHED, OUTPUT, SWITCHED_2, OUTPUT_2 }, (double[]) { 0.4, 1e-3 });
  for (guint k = 0; k < 2; k++) /* two side by side */
    ml_truth_network_add (&c.network, ML_LAW_HELD, (int[]) { OUTPUT, 0, OUTPUT_2, 0 }, (double[]) { 0.4, 1e12 });
  add (&c, ML_LAW_RESISTOR, OUTPUT, 0, 120, 0, 0);
  add (&c, ML_LAW_RESISTOR, OUTPUT_2, 0, 120, 0, 0);
  solve (&c);
  assert_near (c.x[OUTPUT - 1], 4.8, 1e-4, 0);
  assert_near (c.x[OUTPUT_2 - 1], 4.8, 1e-4, 0);
  assert_near (c.x[6], 0.04, 1e-4, 0);      /* the supply's current while it is switched on */
  assert_near (c.x[7], 0, 0, 1e-9);         /* and while it is not */
  end (&c);
}

/* A coil of 60 ohm held by a chip's pulses: while the transistor is off the diode holds its net a diode's drop above the supply, while it is on the
 * net is nearly at the reference; the sense resistor carries the coil's current for that share of the time. */
static void
test_chip_holds_a_coil_by_pulses (void **state)
{
  g_autoptr (MlTruth) truth = board_truth ("board \"T\"\nreference M\npart K1 coil 1=A 2=C resistance=60\npart D1 diode anode=C cathode=A\n"
                                           "part U1 block VDD=V VSS=M IN=- OUT=G supply=VDD ground=VSS\npart Q1 nmos drain=C gate=G source=S on=25m@5\n"
                                           "part R1 resistor 1=S 2=M value=1\nnet C switching\nnet G switching\n"
                                           "condition on\n  supply plus=A minus=M voltage=12 limit=1\n  supply plus=V minus=M voltage=5 limit=1\n", NULL);
  double duty = net_v (truth, "G") / 5, coil_a = (12 - net_v (truth, "C")) / 60;

  assert_true (duty > 0.2 && duty < 0.7);
  assert_near (net_v (truth, "C"), (1 - duty) * 12.75 + duty * 0.1, 0.02, 0);
  assert_near (net_v (truth, "S"), duty * coil_a, 5e-3, 0);
  ml_truth_set_faults (truth, &(MlFault) { .part = ml_board_find_part (ml_truth_board (truth), "U1"), .kind = ML_FAULT_STOPPED, .net_a = -1, .net_b = -1 }, 1);
  assert_near (net_v (truth, "C"), 12, 1e-3, 0);
  assert_near (net_v (truth, "S"), 0, 0, 1e-6);
}

/* Off below its trigger current, on above it with about a volt, and on without it only above its holding current (data sheets, common practice):
 * 150 uA and 2.5 mA are the middle of the kind. */
static void
test_thyristor_fires_and_holds (void **state)
{
  static const struct { double gate_v, load_ohm, least, most; } CASES[] = {
    { 1.0, 1e3, 11.9, 12.1 },  /* 0.3 V over 10 kohm: 30 uA */
    { 5.0, 1e3, 0.7, 1.1 },    /* 430 uA */
    { 5.0, 10e3, 0.6, 1.1 },   /* below holding, but fired all the time */
  };
  for (guint i = 0; i < G_N_ELEMENTS (CASES); i++)
    {
      g_autofree char *text = g_strdup_printf ("reference M\npart R1 resistor 1=A 2=X value=%g\npart Q1 thyristor anode=X cathode=M gate=G\n"
                                               "part R2 resistor 1=T 2=G value=10k\ncondition on\n  supply plus=A minus=M voltage=12 limit=1\n"
                                               "  supply plus=T minus=M voltage=%g limit=1\n", CASES[i].load_ohm, CASES[i].gate_v);
      g_autoptr (MlTruth) truth = board_truth (text, NULL);
      assert_true (net_v (truth, "X") > CASES[i].least && net_v (truth, "X") < CASES[i].most);
    }
}

/* Either way round, by either sign of gate current: 100 ohm, 20 mA into the gate. */
static void
test_triac_conducts_either_way (void **state)
{
  for (guint turned = 0; turned < 2; turned++)
    {
      g_autofree char *text = g_strdup_printf ("reference M\npart R1 resistor 1=A 2=X value=100\npart Q1 triac 1=M 2=X gate=G\npart R2 resistor 1=T 2=G value=200\n"
                                               "condition on\n  supply plus=%s minus=%s voltage=12 limit=1\n  supply plus=T minus=M voltage=5 limit=1\n",
                                               turned ? "M" : "A", turned ? "A" : "M");
      g_autoptr (MlTruth) truth = board_truth (text, NULL);
      assert_near (fabs (net_v (truth, "X")), 1, 0.2, 0);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_chip_amplifier_published_closed_loop_gains),
    cmocka_unit_test (test_chip_amplifier_published_follower),
    cmocka_unit_test (test_chip_amplifier_without_supply_drives_nothing), cmocka_unit_test (test_chip_amplifier_rails_and_limit),
    cmocka_unit_test (test_chip_input_left_open_goes_where_its_bias_takes_it),
    cmocka_unit_test (test_chip_comparator_sinks_and_lets_go),
    cmocka_unit_test (test_chip_comparator_with_hysteresis_takes_a_side),
    cmocka_unit_test (test_chip_adjustable_data_sheet_formula),
    cmocka_unit_test (test_chip_shunt_data_sheet_formula),
    cmocka_unit_test (test_chip_coupler_transfers_its_ratio),
    cmocka_unit_test (test_chip_converter_balances_power),
    cmocka_unit_test (test_clamps_definition),
    cmocka_unit_test (test_filament_current_exponent),
    cmocka_unit_test (test_thermistor_at_fifty_degrees),
    cmocka_unit_test (test_contact_follows_its_coil),
    cmocka_unit_test (test_junction_gate_self_bias),
    cmocka_unit_test (test_insulated_gate_on_resistance_and_diode),
    cmocka_unit_test (test_phases_step_down),
    cmocka_unit_test (test_chip_holds_a_coil_by_pulses),
    cmocka_unit_test (test_thyristor_fires_and_holds),
    cmocka_unit_test (test_triac_conducts_either_way),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
