/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The meter, and the slopes of its readings against finite differences of whole solutions (second method). */
#include "nodal/kit.h"

#include <math.h>
#include <string.h>

static void
test_voltmeter_is_a_resistor (void **state)
{
  /* Against the circuit with a 10 Mohm resistor built in; on a junction that only leakage feeds the difference is volts. */
  for (int red = 2; red <= 4; red++)
    {
      double shown, built;
      for (int pass = 0; pass < 2; pass++)
        {
          Kit kit;
          kit_begin (&kit, 4);
          kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
          kit_add (&kit, "diode", NETS (2, 1), NULL);
          kit_add (&kit, "diode", NETS (2, 3), NULL);
          kit_add (&kit, "diode", NETS (3, 4), NULL);
          kit_two (&kit, "resistor", 4, 0, 47e6);
          if (pass == 0)
            shown = kit_volts (&kit, NULL, 0, red, 0, 10e6);
          else
            {
              kit_two (&kit, "resistor", red, 0, 10e6);
              kit_solve (&kit, NULL, 0);
              built = kit.at.net_v[red];
            }
          kit_end (&kit);
        }
      assert_near (shown, built, 1e-8, 1e-9);
    }
}

/* A relay held by a comparator with some feedback, each varied a little: a meter at the divider moves next to nothing, and finding that takes next to no
 * steps; the contact stays as it is. Against the same circuit with the meter built in as a resistor. */
static void
test_meter_on_a_relay_at_work (void **state)
{
  double shown = NAN, built = NAN;

  for (int pass = 0; pass < 2; pass++)
    {
      Kit kit;
      kit_begin (&kit, 7);
      kit_add (&kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
      kit_two (&kit, "resistor", 1, 2, 10e3);
      kit_two (&kit, "resistor", 2, 0, 8.2e3);
      kit_two (&kit, "resistor", 1, 3, 15e3);
      kit_two (&kit, "resistor", 3, 0, 8.2e3);
      int comparator = kit_add (&kit, "comparator", NETS (2, 3, 4, 1, 0), NULL);
      kit_two (&kit, "resistor", 1, 4, 10e3);
      kit_two (&kit, "resistor", 4, 2, 470e3);
      kit_two (&kit, "resistor", 4, 5, 4.7e3);
      int npn = kit_add (&kit, "npn", NETS (6, 5, 0), NULL);
      int coil = kit_add (&kit, "coil", NETS (1, 6), "resistance", 250.0, NULL);
      int contact = kit_add (&kit, "contact", NETS (1, 7, -1), NULL);
      ml_nodal_circuit_drive (kit.circuit, contact, coil);
      kit_two (&kit, "resistor", 7, 0, 100);
      if (pass == 1)
        kit_two (&kit, "resistor", 2, 0, 10e6);
      MlNodalChange changes[] = { { .kind = ML_NODAL_SET_PARAMETER, .device = comparator, .index = kit_parameter_index (&kit, comparator, "offset"), .value = 2e-3 },
                                  { .kind = ML_NODAL_SET_PARAMETER, .device = npn, .index = kit_parameter_index (&kit, npn, "gain"), .value = 240 } };
      kit_solve (&kit, changes, 2);
      assert_true (kit.at.net_v[7] > 11.5);
      if (pass == 1)
        built = kit.at.net_v[2];
      else
        {
          long before = (long) ml_nodal_solver_counts (kit.solver).newton_steps;
          MlNodalMeter meter = { .reads = ML_NODAL_READ_VOLTS, .red = { 2, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 10e6 };
          assert_int_equal (ml_nodal_measure (kit.solver, changes, 2, &kit.at, &meter, NULL, 0, &shown, NULL, NULL, NULL), ML_NODAL_OK);
          assert_true ((long) ml_nodal_solver_counts (kit.solver).newton_steps - before <= 10);
        }
      kit_end (&kit);
    }
  assert_near (shown, built, 1e-8, 1e-9);
}

/* A crowbar that has fired, its resistor 110 ohm instead of 100: what the supply shows is the current of that state (Ohm's law), not of the one in which the
 * circuit was built. */
static void
test_supply_of_a_latch_that_has_fired (void **state)
{
  Kit kit;
  MlNodalSolution fired;
  double shown;

  kit_begin (&kit, 3);
  int supply = kit_add (&kit, "supply", NETS (1, 0), "voltage", 9.0, NULL), r = kit_two (&kit, "resistor", 1, 2, 100);
  kit_add (&kit, "thyristor", NETS (2, 0, 3), NULL);
  kit_two (&kit, "resistor", 3, 0, 1e3);
  assert_int_equal (ml_nodal_circuit_prefer (kit.circuit, 2, -1), ML_NODAL_OK);
  kit_ready (&kit);
  assert_int_equal (ml_nodal_solve (kit.solver, NULL, 0, NULL, &kit.at), ML_NODAL_AMBIGUOUS);
  MlNodalChange change = { .kind = ML_NODAL_SET_PARAMETER, .device = r, .index = 0, .value = 110 };
  assert_int_equal (ml_nodal_solution_init (&fired, kit.circuit), ML_NODAL_OK);
  assert_true (ml_nodal_solve (kit.solver, &change, 1, &kit.at, &fired) >= 0);
  assert_true (fired.net_v[2] < 2);
  MlNodalMeter meter = { .reads = ML_NODAL_READ_AMPS, .device = supply };
  assert_true (ml_nodal_measure (kit.solver, &change, 1, &fired, &meter, NULL, 0, &shown, NULL, NULL, NULL) >= 0);
  assert_near (shown, (fired.net_v[1] - fired.net_v[2]) / 110, 1e-5, 0);
  /* what is varied once more stays fired as well, and what begins there; a supply that is off puts it out (it falls below its holding current) */
  const MlNodalChange further[] = { { .kind = ML_NODAL_SET_PARAMETER, .device = r, .index = 0, .value = 120 },
                                    { .kind = ML_NODAL_SET_PARAMETER, .device = supply, .index = 0, .value = 0 } };
  for (int k = 0; k < 3; k++)
    {
      assert_int_equal (ml_nodal_solve (kit.solver, further, 1, &fired, &kit.at), ML_NODAL_AMBIGUOUS);
      assert_true (kit.at.net_v[2] < 2);
      assert_int_equal (ml_nodal_solution_copy (&fired, &kit.at, kit.circuit), ML_NODAL_OK);
    }
  assert_int_equal (ml_nodal_solve (kit.solver, &further[1], 1, &fired, &kit.at), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solve (kit.solver, further, 1, &kit.at, &fired), ML_NODAL_OK);
  assert_true (fired.net_v[2] > 8);
  ml_nodal_solution_clear (&fired);
  kit_end (&kit);
}

static void
test_ohmmeter (void **state)
{
  Kit kit;
  double value;
  kit_begin (&kit, 4);
  int r = kit_two (&kit, "resistor", 1, 2, 1200);
  kit_two (&kit, "resistor", 2, 3, 3300);
  kit_add (&kit, "diode", NETS (1, 4), "drop", 0.6, "at", 1e-3, NULL);
  kit_solve (&kit, NULL, 0);
  MlNodalMeter meter = { .reads = ML_NODAL_READ_OHMS, .red = { 1, -1, 0 }, .black = { 3, -1, 0 }, .test_a = 1e-4, .compliance_v = 2.0 };
  MlNodalParameterRef ref = { r, 0 };
  double slope;
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, &ref, 1, &value, &slope, NULL, NULL), ML_NODAL_OK);
  assert_near (value, 4500, 1e-9, 0); /* in series */
  assert_near (slope, 1, 1e-7, 0);
  meter.test_a = 1e-3; /* 4.5 V would be needed */
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, &ref, 1, &value, &slope, NULL, NULL), ML_NODAL_OK);
  assert_true (isinf (value));
  assert_near (slope, 0, 0, 0);
  /* Both probes on one pin: nothing between them. */
  meter.black.net = 1;
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
  assert_near (value, 0, 0, 1e-12);
  /* The diode's data-sheet point is the diode test's reading; the other way round over-range. */
  meter = (MlNodalMeter){ .reads = ML_NODAL_READ_DIODE, .red = { 1, -1, 0 }, .black = { 4, -1, 0 }, .test_a = 1e-3, .compliance_v = 3.0 };
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
  assert_near (value, 0.6, 1e-5, 0);
  meter.red.net = 4;
  meter.black.net = 1;
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
  assert_true (isinf (value));
  kit_end (&kit);
}

/* The top range of common meters ends between 20 and 60 Mohm (common practice): beyond it the display shows over-range, however far the source is
 * from its own voltage (1 V of 3 V here). */
static void
test_more_than_the_top_range_is_over_range (void **state)
{
  static const struct { double ohm; bool over; } table[] = { { 39e6, false }, { 41e6, true } };

  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
    {
      Kit kit;
      double value;

      kit_begin (&kit, 1);
      kit_two (&kit, "resistor", 1, 0, table[i].ohm);
      kit_solve (&kit, NULL, 0);
      MlNodalMeter meter = { .reads = ML_NODAL_READ_OHMS, .red = { 1, -1, 0 }, .black = { 0, -1, 0 }, .test_a = 1.0 / table[i].ohm, .compliance_v = 3.0, .over_ohm = 40e6 };
      assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
      if (table[i].over)
        assert_true (isinf (value));
      else
        assert_near (value, table[i].ohm, 1e-9, 0);
      meter.over_ohm = 0; /* one that has no top: Ohm's law as far as its voltage reaches */
      assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
      assert_near (value, table[i].ohm, 1e-9, 0);
      kit_end (&kit);
    }
}

/* A meter that has higher ranges shows by Ohm's law what the one that was thought of cannot: 0.1 mA would need 10 V of its 3 V. */
static void
test_a_higher_range_shows_what_the_lower_cannot (void **state)
{
  Kit kit;
  double value, slope;

  kit_begin (&kit, 1);
  MlNodalParameterRef ref = { kit_two (&kit, "resistor", 1, 0, 100e3), 0 };
  kit_solve (&kit, NULL, 0);
  MlNodalMeter meter = { .reads = ML_NODAL_READ_OHMS, .red = { 1, -1, 0 }, .black = { 0, -1, 0 }, .test_a = 1e-4, .compliance_v = 3.0, .over_ohm = 40e6 };
  assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, &ref, 1, &value, &slope, NULL, NULL), ML_NODAL_OK);
  assert_near (value, 100e3, 1e-9, 0);
  assert_near (slope, 1, 1e-6, 0);
  kit_end (&kit);
}

/* A bit of everything. */
enum { FEED = 1, FUSED, FIVE, BASE, COLLECTOR, LED, ZENER, PBASE, PCOLLECTOR, AC1, AC2, DC, SWITCHED, WIPER, N_NETS };

static void
build (Kit *kit)
{
  kit_begin (kit, N_NETS);
  kit_add (kit, "supply", NETS (FEED, 0), "voltage", 12.0, "limit", 0.5, NULL);
  kit_two (kit, "fuse", FEED, FUSED, 0.3);
  kit_add (kit, "regulator", NETS (FUSED, FIVE, 0), NULL);
  kit_two (kit, "resistor", FIVE, BASE, 47e3);
  kit_add (kit, "npn", NETS (COLLECTOR, BASE, 0), NULL);
  kit_two (kit, "coil", FUSED, COLLECTOR, 4700);
  kit_two (kit, "resistor", FIVE, LED, 680);
  kit_add (kit, "led", NETS (LED, 0), NULL);
  kit_two (kit, "resistor", FUSED, ZENER, 1200);
  kit_add (kit, "zener", NETS (0, ZENER), NULL);
  kit_two (kit, "capacitor", ZENER, 0, 2e6);
  kit_two (kit, "resistor", PBASE, 0, 470e3);
  kit_add (kit, "pnp", NETS (PCOLLECTOR, PBASE, FIVE), NULL);
  kit_two (kit, "resistor", PCOLLECTOR, 0, 2200);
  kit_two (kit, "resistor", FUSED, AC1, 100);
  kit_two (kit, "resistor", AC2, 0, 100);
  kit_add (kit, "bridge", NETS (AC1, AC2, DC, 0), NULL);
  kit_two (kit, "resistor", DC, 0, 1000);
  kit_add (kit, "switch", NETS (DC, SWITCHED), "resistance", 2.0, "state", 1.0, NULL);
  kit_add (kit, "diode", NETS (SWITCHED, 0), "drop", 0.65, NULL);
  kit_add (kit, "potentiometer", NETS (FIVE, 0, WIPER), NULL);
  kit_two (kit, "thermistor", WIPER, 0, 20e3);
  kit_two (kit, "load-current", FIVE, 0, 5e-3);
  kit_add (kit, "battery", NETS (N_NETS, 0), "voltage", 3.0, NULL);
  kit_two (kit, "inductor", N_NETS, WIPER, 1000);
  kit_add (kit, "tvs", NETS (FUSED, 0), "clamp", 12.2, NULL);
  kit_two (kit, "current-source", ZENER, LED, 1e-4);
}

static double
show (Kit *kit, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *at)
{
  double value = NAN;
  MlNodalStatus status = ml_nodal_measure (kit->solver, changes, n_changes, at, meter, NULL, 0, &value, NULL, NULL, NULL);
  if (status != ML_NODAL_OK)
    print_error ("%s; change %d %d %g\n", ml_nodal_status_text (status), changes[n_changes - 1].device, changes[n_changes - 1].index,
                 changes[n_changes - 1].value);
  assert_int_equal (status, ML_NODAL_OK);
  return value;
}

static void
check_slopes (Kit *kit, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter)
{
  int n_refs = 0;
  MlNodalParameterRef refs[200];
  double slopes[200], sizes[4], value;
  MlNodalChange more[5];

  for (int d = 0; d < ml_nodal_circuit_n_devices (kit->circuit); d++)
    for (int p = 0; p < ml_nodal_type_n_parameters (ml_nodal_circuit_type (kit->circuit, d)); p++)
      if (strcmp (ml_nodal_type_parameter (ml_nodal_circuit_type (kit->circuit, d), p), "state") != 0
          && isfinite (ml_nodal_circuit_parameter (kit->circuit, d, p)))
        refs[n_refs++] = (MlNodalParameterRef){ d, p };
  kit_solve (kit, changes, n_changes);
  assert_int_equal (ml_nodal_measure (kit->solver, changes, n_changes, &kit->at, meter, refs, n_refs, &value, slopes, sizes, NULL),
                    ML_NODAL_OK);
  if (n_changes > 0)
    memcpy (more, changes, (size_t) n_changes * sizeof *more);
  for (int i = 0; i < n_refs; i++)
    {
      double p = ml_nodal_circuit_parameter (kit->circuit, refs[i].device, refs[i].parameter), h = p != 0 ? fabs (p) * 1e-4 : 1e-9;
      double at[2];
      bool set = false;
      for (int k = 0; k < n_changes; k++)
        set = set || (changes[k].kind == ML_NODAL_SET_PARAMETER && changes[k].device == refs[i].device && changes[k].index == refs[i].parameter);
      if (set)
        continue;
      for (int s = 0; s < 2; s++)
        {
          more[n_changes] = (MlNodalChange){ .kind = ML_NODAL_SET_PARAMETER, .device = refs[i].device, .index = refs[i].parameter,
                                             .value = s ? p + h : p - h };
          at[s] = show (kit, more, n_changes + 1, meter, &kit->at);
        }
      double difference = (at[1] - at[0]) / (2 * h);
      /* per relative change of the parameter: 1e-4 of it, or what solving to 1e-9 V leaves in a difference */
      double tolerance = 2e-4 * fabs (difference * p) + 2e-8 * fabs (value) + 1e-9 / 1e-4;
      if (!(fabs (slopes[i] - difference) * fabs (p) <= tolerance))
        print_error ("%s %s: slope %.9g, by differences %.9g\n", ml_nodal_type_word (ml_nodal_circuit_type (kit->circuit, refs[i].device)),
                     ml_nodal_type_parameter (ml_nodal_circuit_type (kit->circuit, refs[i].device), refs[i].parameter), slopes[i], difference);
      assert_near (slopes[i] * p, difference * p, 0, tolerance);
    }
  for (int i = 0; i < n_changes; i++)
    {
      double at[2];
      if (!(changes[i].value > 0) || !isfinite (changes[i].value))
        {
          assert_near (sizes[i], 0, 0, 0);
          continue;
        }
      if (n_changes > 0)
    memcpy (more, changes, (size_t) n_changes * sizeof *more);
      for (int s = 0; s < 2; s++)
        {
          more[i].value = changes[i].value * exp (s ? 1e-4 : -1e-4);
          at[s] = show (kit, more, n_changes, meter, &kit->at);
        }
      double difference = (at[1] - at[0]) / 2e-4;
      assert_near (sizes[i], difference, 2e-4, 2e-8 * fabs (value) + 1e-5);
    }
}

static void
test_slopes_agree_with_differences (void **state)
{
  static const int reds[] = { FIVE, BASE, COLLECTOR, LED, ZENER, PCOLLECTOR, DC, SWITCHED, WIPER };
  Kit kit;

  build (&kit);
  kit_solve (&kit, NULL, 0);
  const MlNodalChange faults[][2] = {
    { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 4, .index = 2, .value = 2200 }, { .kind = ML_NODAL_LINK_NETS, .index = LED, .index_b = ZENER, .value = 5e3 } },
    { { .kind = ML_NODAL_BRIDGE_PINS, .device = 9, .index = 0, .index_b = 1, .value = 800 }, { .kind = ML_NODAL_SET_PARAMETER, .device = 6, .index = 0, .value = 2000 } },
    { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 5, .index = 0, .value = 10e3 }, { .kind = ML_NODAL_PIN_RESISTANCE, .device = 17, .index = 0, .value = INFINITY } },
    { { .kind = ML_NODAL_BRIDGE_PINS, .device = 12, .index = 0, .index_b = 2, .value = 0 }, { .kind = ML_NODAL_OPEN_ELEMENT, .device = 16, .index = 0 } },
  };
  for (size_t r = 0; r < sizeof reds / sizeof reds[0]; r++)
    {
      MlNodalMeter meter = { .reads = ML_NODAL_READ_VOLTS, .red = { reds[r], -1, 0 }, .black = { r % 2 ? FUSED : 0, -1, 0 }, .input_ohm = 10e6 };
      check_slopes (&kit, NULL, 0, &meter);
      for (size_t f = 0; f < 4; f++)
        check_slopes (&kit, faults[f], 2, &meter);
    }
  MlNodalMeter amps = { .reads = ML_NODAL_READ_AMPS, .device = 0 };
  check_slopes (&kit, NULL, 0, &amps);
  check_slopes (&kit, faults[0], 2, &amps);
  /* across a joint: from the solder to the metal */
  MlNodalMeter joint = { .reads = ML_NODAL_READ_VOLTS, .red = { 0, 4, 2 }, .black = { 0, -1, 0 }, .input_ohm = 10e6 };
  check_slopes (&kit, faults[0], 2, &joint);
  kit_end (&kit);
}

/* The other kinds, each biased where it does something. */
static void
build_actives (Kit *kit)
{
  kit_begin (kit, 16);
  kit_add (kit, "supply", NETS (1, 0), "voltage", 12.0, NULL);
  kit_add (kit, "nmos", NETS (2, 3, 0), "k", 0.02, NULL);
  kit_two (kit, "lamp", 1, 2, 12);
  kit_two (kit, "resistor", 1, 3, 30e3);
  kit_two (kit, "resistor", 3, 0, 8e3);
  kit_add (kit, "pmos", NETS (4, 3, 1), "k", 0.001, NULL);
  kit_two (kit, "resistor", 4, 0, 100);
  kit_add (kit, "njfet", NETS (1, 0, 5), NULL);
  kit_two (kit, "resistor", 5, 0, 470);
  kit_add (kit, "pjfet", NETS (0, 1, 6), NULL);
  kit_two (kit, "resistor", 6, 1, 470);
  kit_add (kit, "opto", NETS (5, 0, 7, 0), "drop", 1.0, NULL);
  kit_two (kit, "resistor", 7, 1, 4700);
  kit_add (kit, "adjustable", NETS (1, 8, 9), NULL);
  kit_two (kit, "resistor", 8, 9, 240);
  kit_two (kit, "resistor", 9, 0, 720);
  kit_add (kit, "shunt", NETS (10, 0, 11), NULL);
  kit_two (kit, "resistor", 1, 10, 2200);
  kit_two (kit, "resistor", 10, 11, 10e3);
  kit_two (kit, "resistor", 11, 0, 8200);
  kit_add (kit, "converter", NETS (1, 12, 0), "voltage", 3.3, NULL);
  kit_two (kit, "resistor", 12, 0, 22);
  kit_add (kit, "opamp", NETS (11, 13, 14, 1, 0), NULL);
  kit_two (kit, "resistor", 14, 13, 10e3);
  kit_two (kit, "resistor", 13, 0, 10e3);
  kit_add (kit, "comparator", NETS (13, 8, 15, 1, 0), NULL);
  kit_two (kit, "resistor", 15, 1, 3300);
  kit_add (kit, "thyristor", NETS (16, 0, 4), NULL);
  kit_two (kit, "resistor", 16, 1, 220);
  kit_two (kit, "varistor", 8, 0, 5);
}

static void
test_slopes_of_active_parts (void **state)
{
  Kit kit;

  build_actives (&kit);
  for (int net = 2; net <= 16; net++)
    {
      MlNodalMeter meter = { .reads = ML_NODAL_READ_VOLTS, .red = { net, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 10e6 };
      check_slopes (&kit, NULL, 0, &meter);
    }
  kit_end (&kit);
}

static void
test_slopes_of_cold_readings (void **state)
{
  Kit kit;
  build (&kit);
  kit_ready (&kit);
  /* cold: no supply, no battery, no source */
  MlNodalChange cold[4] = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 0, .index = 0, .value = INFINITY },
                            { .kind = ML_NODAL_PIN_RESISTANCE, .device = 23, .index = 0, .value = INFINITY },
                            { .kind = ML_NODAL_SET_PARAMETER, .device = 26, .index = 0, .value = 0 },
                            { .kind = ML_NODAL_SET_PARAMETER, .device = 22, .index = 0, .value = 0 } };
  MlNodalMeter ohms = { .reads = ML_NODAL_READ_OHMS, .red = { FIVE, -1, 0 }, .black = { LED, -1, 0 }, .test_a = 1e-4, .compliance_v = 2 };
  check_slopes (&kit, cold, 4, &ohms);
  MlNodalMeter diode = { .reads = ML_NODAL_READ_DIODE, .red = { BASE, -1, 0 }, .black = { 0, -1, 0 }, .test_a = 1e-3, .compliance_v = 3 };
  check_slopes (&kit, cold, 4, &diode);
  kit_end (&kit);
}

/* d value / d ln test_a, against the same reading with a little more and a little less current (second method). A resistor shows none. */
static void
test_slope_in_the_test_current (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  int r = kit_two (&kit, "resistor", 1, 2, 1200);
  kit_add (&kit, "diode", NETS (2, 3), "drop", 0.6, "at", 1e-3, NULL);
  kit_solve (&kit, NULL, 0);
  for (int i = 0; i < 3; i++)
    {
      MlNodalReads reads = i == 2 ? ML_NODAL_READ_DIODE : ML_NODAL_READ_OHMS;
      MlNodalParameterRef ref = { r, 0 };
      double value[3], slope[3];
      for (int k = 0; k < 3; k++)
        {
          double test_a = 1e-4 * exp ((k - 1) * 1e-3);
          MlNodalMeter meter = { .reads = reads, .red = { 1, -1, 0 }, .black = { i == 0 ? 2 : 3, -1, 0 }, .test_a = test_a, .compliance_v = 3 };
          MlNodalReading reading = { .meter = &meter, .value = NAN, .slope = &slope[k], .test_slope = NAN };
          assert_int_equal (ml_nodal_measure_all (kit.solver, NULL, 0, &kit.at, &ref, 1, &reading, 1), ML_NODAL_OK);
          assert_int_equal (reading.status, ML_NODAL_OK);
          value[k] = reading.value;
          slope[k] = reading.test_slope;
        }
      assert_near (slope[1], (value[2] - value[0]) / 2e-3, 1e-3, 1e-6);
    }
  kit_end (&kit);
}

static void
test_measure_refuses_nonsense (void **state)
{
  Kit kit;
  double value;
  build (&kit);
  kit_solve (&kit, NULL, 0);
  const MlNodalMeter bad[] = {
    { .reads = ML_NODAL_READ_VOLTS, .red = { 99, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 1e7 },
    { .reads = ML_NODAL_READ_VOLTS, .red = { 1, -1, 0 }, .black = { 0, 2, 7 }, .input_ohm = 1e7 },
    { .reads = ML_NODAL_READ_VOLTS, .red = { 1, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 0 },
    { .reads = ML_NODAL_READ_OHMS, .red = { 1, -1, 0 }, .black = { 0, -1, 0 }, .test_a = 0, .compliance_v = 2 },
    { .reads = ML_NODAL_READ_AMPS, .device = 3 },
    { .reads = ML_NODAL_READ_AMPS, .device = 300 },
  };
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
    assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &bad[i], NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_BAD_ARGUMENT);
  kit_end (&kit);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_meter_on_a_relay_at_work), cmocka_unit_test (test_supply_of_a_latch_that_has_fired),
    cmocka_unit_test (test_voltmeter_is_a_resistor), cmocka_unit_test (test_ohmmeter),
    cmocka_unit_test (test_more_than_the_top_range_is_over_range),
    cmocka_unit_test (test_a_higher_range_shows_what_the_lower_cannot),
                                      cmocka_unit_test (test_a_higher_range_shows_what_the_lower_cannot), cmocka_unit_test (test_slopes_agree_with_differences),
    cmocka_unit_test (test_slopes_of_active_parts), cmocka_unit_test (test_slope_in_the_test_current), cmocka_unit_test (test_slopes_of_cold_readings), cmocka_unit_test (test_measure_refuses_nonsense),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
