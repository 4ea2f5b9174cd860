/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Worked circuits from textbooks, and closed forms. */
#include "nodal/kit.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_sf_lambert.h>

#define VT 0.025692579121493725 /* kT/q at 25 C: k, q exact in the SI of 2019 */

static void
test_kuphaldt_five_resistors (void **state)
{
  Kit kit;
  kit_begin (&kit, 4);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 10.0, "resistance", 0.0, NULL);
  kit_add (&kit, "battery", NETS (0, 4), "voltage", 4.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 2);
  kit_two (&kit, "resistor", 2, 0, 4);
  kit_two (&kit, "resistor", 2, 3, 2.5);
  kit_two (&kit, "resistor", 3, 0, 5);
  kit_two (&kit, "resistor", 3, 4, 1);
  kit_solve (&kit, NULL, 0);
  /* Kuphaldt, Lessons in Electric Circuits, DC, ch. 10 */
  assert_near (kit.at.net_v[2], 3.8095, 0, 1e-4);
  assert_near (kit.at.net_v[3], -1.5476, 0, 1e-4);
  kit_end (&kit);
}

static void
test_kuphaldt_bridge (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  int v = kit_add (&kit, "battery", NETS (1, 0), "voltage", 24.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 150);
  kit_two (&kit, "resistor", 1, 3, 50);
  kit_two (&kit, "resistor", 2, 3, 100);
  kit_two (&kit, "resistor", 2, 0, 300);
  kit_two (&kit, "resistor", 3, 0, 250);
  kit_solve (&kit, NULL, 0);
  /* Kuphaldt, DC, ch. 10 */
  assert_near (kit.at.net_v[2], 17.66, 0, 0.01);
  assert_near (kit.at.net_v[3], 19.31, 0, 0.01);
  assert_near (kit_pin_a (&kit, v, 0), -0.136092, 0, 1e-6);
  kit_end (&kit);
}

static void
test_kuphaldt_series_parallel (void **state)
{
  Kit kit;
  kit_begin (&kit, 2);
  int v = kit_add (&kit, "supply", NETS (1, 0), "voltage", 24.0, "limit", 3.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100);
  kit_two (&kit, "resistor", 1, 2, 250);
  kit_two (&kit, "resistor", 2, 0, 350);
  kit_two (&kit, "resistor", 2, 0, 200);
  kit_solve (&kit, NULL, 0);
  /* Kuphaldt, DC, ch. 7 */
  assert_near (kit.at.net_v[1] - kit.at.net_v[2], 8.6275, 0, 1e-4);
  assert_near (kit.at.net_v[2], 15.373, 0, 1e-3);
  assert_near (-kit_pin_a (&kit, v, 0), 0.12078, 0, 1e-5);
  kit_end (&kit);
}

static void
test_kuphaldt_meter_loads_divider (void **state)
{
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 24.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 250e6);
  kit_two (&kit, "resistor", 2, 0, 250e6);
  /* Kuphaldt, DC, ch. 8: 24 V x (250 M || 10 M) / (250 M + 250 M || 10 M) */
  assert_near (kit_volts (&kit, NULL, 0, 2, 0, 10e6), 0.8889, 0, 1e-4);
  assert_near (kit_volts (&kit, NULL, 0, 2, 0, INFINITY), 12.0, 1e-8, 0);
  /* The meter was taken off again. */
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 12.0, 1e-8, 0);
  kit_end (&kit);
}

/* A diode without series resistance given by its point, in series with a resistor. */
static void
diode_circuit (double supply, double ohm, double drop, double at, double ideality, double *ret_v, double *ret_a)
{
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", supply, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, ohm);
  int d = kit_add (&kit, "diode", NETS (2, 0), "drop", drop, "at", at, "ideality", ideality, "series", 0.0, "leakage", INFINITY, NULL);
  kit_solve (&kit, NULL, 0);
  *ret_v = kit.at.net_v[2];
  *ret_a = kit_pin_a (&kit, d, 0);
  kit_end (&kit);
}

static void
test_textbook_diodes (void **state)
{
  double v, a;

  /* Sedra and Smith, Microelectronic Circuits, ex. 3.4: 0.7 V at 1 mA, 0.1 V per decade */
  diode_circuit (5, 1e3, 0.7, 1e-3, 0.1 / (M_LN10 * VT), &v, &a);
  assert_near (v, 0.7627, 0, 2e-4);
  assert_near (a, 4.237e-3, 0, 1e-6);
  /* Neamen, Microelectronics, ex. 1.6: Is 1e-13 A, n 1, VT 26 mV: its drop at 1 mA is 26 mV ln (1e10 + 1) */
  diode_circuit (5, 2e3, 0.026 * log (1e10 + 1), 1e-3, 0.026 / VT, &v, &a);
  assert_near (v, 0.61906, 0, 2e-5);
  assert_near (a, 2.19047e-3, 0, 1e-8);
}

static void
test_lambert_closed_forms (void **state)
{
  /* Is 1e-14 A, VT 25.85 mV, n 1; Lambert W, computed */
  static const double table[][3] = {
    { 5, 1e3, 0.692490375224185 }, { 12, 10e3, 0.657995309222073 }, { 3, 100, 0.735391732215764 },
  };
  double vt = 0.02585, v, a;

  for (int k = 0; k < 3; k++)
    {
      diode_circuit (table[k][0], table[k][1], vt * log1p (1e-3 / 1e-14), 1e-3, vt / VT, &v, &a);
      assert_near (v, table[k][2], 1e-12, 0);
    }
}

static void
test_diode_resistor_against_lambert_w (void **state)
{
  unsigned long seed = 1;
  double worst = 0;

  for (int k = 0; k < 200; k++)
    {
      double is = pow (10, -15 + 8 * kit_random (&seed)), n = 1 + kit_random (&seed);
      double r = pow (10, 1 + 5 * kit_random (&seed)), e = 0.5 + 20 * kit_random (&seed), vt = n * VT, v, a;
      /* i = (vt / r) W (is r / vt exp ((e + is r) / vt)) - is; by the logarithm where the argument is large: GSL, gsl_sf_lambert_W0 */
      double z = log (is * r / vt) + (e + is * r) / vt, w;
      if (z > 600)
        continue;
      w = gsl_sf_lambert_W0 (exp (z));
      diode_circuit (e, r, vt * log1p (1e-3 / is), 1e-3, n, &v, &a);
      double i = vt / r * w - is;
      assert_near (a, i, 1e-8, 1e-15);
      worst = fmax (worst, fabs (a / i - 1));
    }
  print_message ("diode and resistor against Lambert W: worst relative difference %.2g\n", worst);
}

static void
test_kuphaldt_zener (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  int battery = kit_add (&kit, "battery", NETS (1, 0), "voltage", 45.0, "resistance", 0.0, NULL);
  int series = kit_two (&kit, "resistor", 1, 2, 1e3);
  int zener = kit_add (&kit, "zener", NETS (0, 2), "voltage", 12.6, "at", 7.2e-3, "slope", 0.01, "series", 0.0, NULL);
  int load = kit_two (&kit, "resistor", 2, 0, 500);
  kit_solve (&kit, NULL, 0);
  /* Kuphaldt, Semiconductors, ch. 3 (an ideal 12.6 V zener) */
  assert_near (-kit_pin_a (&kit, battery, 0), 32.4e-3, 0, 1e-5);
  assert_near (kit_pin_a (&kit, load, 0), 25.2e-3, 0, 1e-5);
  assert_near (kit_pin_a (&kit, zener, 1), 7.2e-3, 0, 1e-5);
  MlNodalChange high = { .kind = ML_NODAL_SET_PARAMETER, .device = series, .index = 0, .value = 100e3 };
  kit_solve (&kit, &high, 1);
  assert_near (kit.at.net_v[2], 0.224, 0, 1e-3);
  kit_end (&kit);
}

static void
test_sedra_zener (void **state)
{
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 10.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 500);
  int load = kit_two (&kit, "resistor", 2, 0, INFINITY);
  kit_add (&kit, "zener", NETS (0, 2), "voltage", 6.8, "at", 5e-3, "slope", 0.02, "series", 20.0, NULL);
  kit_solve (&kit, NULL, 0);
  /* Sedra and Smith, ex. 3.8: 6.83 V without load; 5 V, zener off, at 0.5 k */
  assert_near (kit.at.net_v[2], 6.83, 0, 0.005);
  MlNodalChange heavy = { .kind = ML_NODAL_SET_PARAMETER, .device = load, .index = 0, .value = 500 };
  kit_solve (&kit, &heavy, 1);
  assert_near (kit.at.net_v[2], 5.0, 0, 0.001);
  kit_end (&kit);
}

/* A transistor of the textbooks: VBE about 0.7 V at 1 mA, no Early effect. */
#define TEXTBOOK_NPN "saturation", 1e-3 * exp (-0.7 / VT), "gain", 100.0, "reverse_gain", 1.0, "early", 1e9, NULL

static void
test_kuphaldt_bias (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 10.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 910e3);
  kit_two (&kit, "resistor", 1, 3, 4.7e3);
  int q = kit_add (&kit, "npn", NETS (3, 2, 0), TEXTBOOK_NPN);
  kit_solve (&kit, NULL, 0);
  /* Kuphaldt, Semiconductors, ch. 4: base bias 1.02 mA */
  assert_near (kit_pin_a (&kit, q, 0), 1.02e-3, 0.03, 0);
  kit_end (&kit);

  kit_begin (&kit, 3);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 10.0, NULL);
  kit_two (&kit, "resistor", 3, 2, 470e3);
  kit_two (&kit, "resistor", 1, 3, 4.7e3);
  q = kit_add (&kit, "npn", NETS (3, 2, 0), TEXTBOOK_NPN);
  kit_solve (&kit, NULL, 0);
  /* the same, collector feedback: emitter current 0.989 mA */
  assert_near (-kit_pin_a (&kit, q, 2), 0.989e-3, 0.03, 0);
  kit_end (&kit);
}

static void
test_sedra_transistors (void **state)
{
  Kit kit;
  kit_begin (&kit, 4);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 10.0, NULL);
  int base = kit_add (&kit, "battery", NETS (2, 0), "voltage", 4.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 3, 4.7e3);
  kit_two (&kit, "resistor", 4, 0, 3.3e3);
  double forced = 0.96 / 0.65, reverse_gain = (1 + forced) / (exp (0.2 / VT) * (1 - forced / 100) - 1);
  int q = kit_add (&kit, "npn", NETS (3, 2, 4), "saturation", 1e-3 * exp (-0.7 / VT), "gain", 100.0, "reverse_gain", reverse_gain,
                   "early", 1e9, NULL);
  kit_solve (&kit, NULL, 0);
  /* Sedra and Smith, ex. 5.4 */
  assert_near (kit.at.net_v[4], 3.3, 0.03, 0);
  assert_near (kit.at.net_v[3], 5.3, 0.03, 0);
  assert_near (kit_pin_a (&kit, q, 0), 0.99e-3, 0.03, 0);
  /* ex. 5.5: base at 6 V, saturated: VC 5.5, IC 0.96 mA, IB 0.65 mA. The book takes 0.2 V across the saturated transistor; Ebers and
   * Moll give kT/q ln ((1 + (1 + IC/IB) / reverse gain) / (1 - IC/IB / gain)) for it, hence the reverse gain. */
  MlNodalChange six = { .kind = ML_NODAL_SET_PARAMETER, .device = base, .index = 0, .value = 6 };
  kit_solve (&kit, &six, 1);
  assert_near (kit.at.net_v[3], 5.5, 0.03, 0);
  assert_near (kit_pin_a (&kit, q, 0), 0.96e-3, 0.03, 0);
  assert_near (kit_pin_a (&kit, q, 1), 0.65e-3, 0.05, 0);
  kit_end (&kit);

  kit_begin (&kit, 4);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 15.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100e3);
  kit_two (&kit, "resistor", 2, 0, 50e3);
  kit_two (&kit, "resistor", 1, 3, 5e3);
  kit_two (&kit, "resistor", 4, 0, 3e3);
  q = kit_add (&kit, "npn", NETS (3, 2, 4), TEXTBOOK_NPN);
  kit_solve (&kit, NULL, 0);
  /* ex. 5.10 */
  assert_near (-kit_pin_a (&kit, q, 2), 1.29e-3, 0.03, 0);
  assert_near (kit.at.net_v[2], 4.57, 0.03, 0);
  assert_near (kit.at.net_v[3], 8.6, 0.03, 0);
  kit_end (&kit);
}

static void
test_cube_of_unit_resistors (void **state)
{
  /* Face diagonal 3/4, body diagonal 5/6 ohm: textbook, by symmetry. Corner k has coordinates the bits of k. */
  static const int ends[2] = { 3, 7 };
  static const double ohms[2] = { 3.0 / 4.0, 5.0 / 6.0 };

  for (int k = 0; k < 2; k++)
    {
      Kit kit;
      kit_begin (&kit, 7);
      for (int a = 0; a < 8; a++)
        for (int bit = 1; bit < 8; bit <<= 1)
          if (!(a & bit))
            kit_two (&kit, "resistor", a, a | bit, 1.0);
      MlNodalMeter meter = { .reads = ML_NODAL_READ_OHMS, .red = { ends[k], -1, 0 }, .black = { 0, -1, 0 }, .test_a = 1e-3,
                             .compliance_v = 2.0 };
      double value;
      kit_solve (&kit, NULL, 0);
      assert_int_equal (ml_nodal_measure (kit.solver, NULL, 0, &kit.at, &meter, NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
      assert_near (value, ohms[k], 1e-12, 0);
      kit_end (&kit);
    }
}

static void
test_grob_open_branch (void **state)
{
  Kit kit;
  kit_begin (&kit, 3);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 36.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 120);
  kit_two (&kit, "resistor", 2, 3, 100);
  int open = kit_two (&kit, "resistor", 2, 3, 150);
  kit_two (&kit, "resistor", 3, 0, 180);
  kit_solve (&kit, NULL, 0);
  /* Grob, Basic Electronics, ex. 6-3: healthy 12/6/18, with the 150 open 10.8/9/16.2 V */
  assert_near (kit.at.net_v[1] - kit.at.net_v[2], 12, 1e-8, 0);
  assert_near (kit.at.net_v[3], 18, 1e-8, 0);
  MlNodalChange change = { .kind = ML_NODAL_PIN_RESISTANCE, .device = open, .index = 0, .value = INFINITY };
  kit_solve (&kit, &change, 1);
  assert_near (kit.at.net_v[1] - kit.at.net_v[2], 10.8, 1e-8, 0);
  assert_near (kit.at.net_v[2] - kit.at.net_v[3], 9, 1e-8, 0);
  assert_near (kit.at.net_v[3], 16.2, 1e-8, 0);
  kit_end (&kit);
}

static void
test_grob_and_kuphaldt_series_faults (void **state)
{
  Kit kit;
  kit_begin (&kit, 4);
  kit_add (&kit, "supply", NETS (1, 0), "voltage", 24.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 150);
  kit_two (&kit, "resistor", 2, 3, 120);
  int third = kit_two (&kit, "resistor", 3, 4, 180);
  kit_two (&kit, "resistor", 4, 0, 150);
  /* Grob, ex. 4-6: the third open: 0, 0, 24, 0 V */
  MlNodalChange open = { .kind = ML_NODAL_PIN_RESISTANCE, .device = third, .index = 1, .value = INFINITY };
  kit_solve (&kit, &open, 1);
  assert_near (kit.at.net_v[3], 24, 1e-8, 0);
  assert_near (kit.at.net_v[4], 0, 0, 1e-9);
  assert_near (kit_pin_a (&kit, third, 0), 0, 0, 1e-15);
  kit_end (&kit);

  kit_begin (&kit, 3);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 9.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100);
  int second = kit_two (&kit, "resistor", 2, 3, 300);
  kit_two (&kit, "resistor", 3, 0, 50);
  kit_solve (&kit, NULL, 0);
  /* Kuphaldt, DC, ch. 5: healthy 2/6/1; the 300 shorted 6/0/3 V */
  assert_near (kit.at.net_v[2] - kit.at.net_v[3], 6, 1e-10, 0);
  MlNodalChange brief = { .kind = ML_NODAL_BRIDGE_PINS, .device = second, .index = 0, .index_b = 1, .value = 0 };
  kit_solve (&kit, &brief, 1);
  assert_near (kit.at.net_v[1] - kit.at.net_v[2], 6, 1e-10, 0);
  assert_near (kit.at.net_v[3], 3, 1e-10, 0);
  assert_near (kit.at.net_v[2] - kit.at.net_v[3], 0, 0, 1e-12);
  assert_near (kit_pin_a (&kit, second, 0), 0.06, 1e-10, 0); /* through the short, and so through the pins */
  kit_end (&kit);
}

static void
test_opamp_gain (void **state)
{
  Kit kit;
  /* Kuphaldt, Semiconductors, ch. 8: follower, open-loop gain 200 000, 6 V in: 5.99997 V. The output resistance is made small and the
   * supplies symmetrical about the output, so that only the gain shows. */
  kit_begin (&kit, 4);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 21.0, "resistance", 0.0, NULL);
  kit_add (&kit, "battery", NETS (0, 2), "voltage", 9.0, "resistance", 0.0, NULL);
  kit_add (&kit, "battery", NETS (3, 0), "voltage", 6.0, "resistance", 0.0, NULL);
  kit_add (&kit, "opamp", NETS (3, 4, 4, 1, 2), "gain", 2e5, "upper_loss", 1.0, "lower_loss", 1.0, "output_resistance", 0.001, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[4], 6.0, 0, 3.5e-5); /* the model's open-loop output is measured from mid-supply, 6 V */
  kit_end (&kit);

  /* Sedra and Smith, ex. 2.1: inverting, 1 k and 100 k, gain 1e3, 1e4, 1e5: 90.83, 99.00, 99.90. Between two inputs, so that the current into the
   * amplifier's own input, the same for both, does not show. */
  static const double table[3][2] = { { 1e3, 90.83 }, { 1e4, 99.00 }, { 1e5, 99.90 } };
  for (int k = 0; k < 3; k++)
    {
      double out_v[2];
      for (int sign = 0; sign < 2; sign++)
        {
          kit_begin (&kit, 5);
          kit_add (&kit, "battery", NETS (1, 0), "voltage", 15.0, "resistance", 0.0, NULL);
          kit_add (&kit, "battery", NETS (0, 2), "voltage", 15.0, "resistance", 0.0, NULL);
          kit_add (&kit, "battery", NETS (3, 0), "voltage", sign ? -1e-3 : 1e-3, "resistance", 0.0, NULL);
          kit_two (&kit, "resistor", 3, 4, 1e3);
          kit_two (&kit, "resistor", 4, 5, 100e3);
          kit_add (&kit, "opamp", NETS (0, 4, 5, 1, 2), "gain", table[k][0], "upper_loss", 1.0, "lower_loss", 1.0, "output_resistance", 0.001, NULL);
          kit_solve (&kit, NULL, 0);
          out_v[sign] = kit.at.net_v[5];
          kit_end (&kit);
        }
      assert_near ((out_v[1] - out_v[0]) / 2e-3, table[k][1], 0, 0.006);
    }
}

/* The bias current of an input shows in the resistance that it hangs on, Ohm's law: 45 nA out of it (LM358, typical, data sheet, from memory) lift it by
 * 0.45 V on a meter's 10 Mohm, 80 nA into it (741, from memory) pull it 80 mV down over 1 Mohm; 10 Gohm beside it. Left open it goes to about a volt below
 * the supply that it is fed from, the end of the common-mode range (data sheets, from memory); held above the supply it takes nothing. */
static void
test_bias_current_of_an_input (void **state)
{
  static const struct { const char *word; double bias_a, ohm, to_v, least_v, most_v; } cases[] = {
    { "opamp", 45e-9, 10e6, 0, 0.4495, 0.45 },     { "comparator", 45e-9, 10e6, 0, 0.4495, 0.45 },
    { "opamp", -80e-9, 1e6, 6, 5.9190, 5.9200 },   { "opamp", 45e-9, 1e12, 0, 10.5, 11.5 },
    { "comparator", 10e-9, 1e12, 0, 10.5, 11.5 },  { "comparator", -80e-9, 1e12, 12, 0, 1.5 },
    { "opamp", 45e-9, 1e3, 20, 19.9999, 20.0001 }, { "opamp", 1e-12, 1e6, 3, 2.999, 3.001 },
  };

  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
    for (int input = 0; input < 2; input++)
      {
        Kit kit;
        kit_begin (&kit, 5);
        kit_add (&kit, "battery", NETS (1, 0), "voltage", 12.0, "resistance", 0.0, NULL);
        kit_add (&kit, "battery", NETS (2, 0), "voltage", cases[i].to_v, "resistance", 0.0, NULL);
        kit_two (&kit, "resistor", 2, 3, cases[i].ohm);
        kit_two (&kit, "resistor", 4, 1, 10e3);
        kit_add (&kit, cases[i].word, NETS (input ? 5 : 3, input ? 3 : 5, 4, 1, 0), "bias", cases[i].bias_a, NULL);
        kit_two (&kit, "resistor", 5, 0, 1e3);
        kit_solve (&kit, NULL, 0);
        assert_true (kit.at.net_v[3] > cases[i].least_v && kit.at.net_v[3] < cases[i].most_v);
        assert_false (kit.at.floating[3]);
        kit_end (&kit);
      }
}

static void
test_lamp_and_converter (void **state)
{
  Kit kit;
  /* A lamp at its rating takes its rated current: power = voltage x current. */
  kit_begin (&kit, 1);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 6.0, "resistance", 0.0, NULL);
  int lamp = kit_add (&kit, "lamp", NETS (1, 0), "voltage", 6.0, "power", 3.0, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit_pin_a (&kit, lamp, 0), 0.5, 1e-9, 0);
  kit_end (&kit);

  /* 24 V to 5 V at 90 %, 0.5 A drawn, nothing for itself: 5 x 0.5 / 0.9 / 24 A (balance of power) */
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 24.0, "resistance", 0.0, NULL);
  int converter = kit_add (&kit, "converter", NETS (1, 2, 0), "voltage", 5.0, "efficiency", 0.9, "quiescent", 0.0, NULL);
  kit_two (&kit, "resistor", 2, 0, 10);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 5, 1e-3, 0);
  assert_near (kit_pin_a (&kit, converter, 0), 5 * 0.5 / 0.9 / 24, 2e-3, 0);
  kit_end (&kit);
}

static void
test_square_law_transistors (void **state)
{
  Kit kit;
  /* i = k (vgs - threshold)^2 in saturation and idss with gate on source (Sedra and Smith, ch. 4; k is half of theirs): 1 part in 100,
   * the softplus being half a thermal voltage above its asymptote's foot. */
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 10.0, "resistance", 0.0, NULL);
  kit_add (&kit, "battery", NETS (2, 0), "voltage", 4.0, "resistance", 0.0, NULL);
  int q = kit_add (&kit, "nmos", NETS (1, 2, 0), "threshold", 2.0, "k", 0.01, NULL);
  int j = kit_add (&kit, "njfet", NETS (1, 0, 0), "idss", 5e-3, "threshold", 2.0, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit_pin_a (&kit, q, 0), 0.04, 1e-6, 0);
  assert_near (kit_pin_a (&kit, j, 0), 5e-3, 1e-6, 0);
  kit_end (&kit);

  /* an adjustable regulator: reference (1 + R2 / R1) + adjust current x R2, data sheets; a shunt reference likewise */
  kit_begin (&kit, 4);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 18.0, "resistance", 0.0, NULL);
  kit_add (&kit, "adjustable", NETS (1, 2, 3), "reference", 1.25, "quiescent", 50e-6, NULL);
  kit_two (&kit, "resistor", 2, 3, 240);
  kit_two (&kit, "resistor", 3, 0, 1680);
  kit_two (&kit, "resistor", 2, 0, 470);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 1.25 * (1 + 1680.0 / 240) + 50e-6 * 1680, 2e-3, 0);
  kit_end (&kit);
  kit_begin (&kit, 4);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 12.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 1000);
  kit_add (&kit, "shunt", NETS (2, 0, 3), "reference", 2.5, NULL);
  kit_two (&kit, "resistor", 2, 3, 10e3);
  kit_two (&kit, "resistor", 3, 0, 10e3);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 5.0, 2e-3, 0);
  kit_end (&kit);
}

static void
test_thyristor_latches (void **state)
{
  Kit kit;
  kit_begin (&kit, 4);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 12.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 100);
  int gate = kit_two (&kit, "resistor", 1, 3, 10e3);
  kit_add (&kit, "thyristor", NETS (2, 0, 3), NULL);
  kit_solve (&kit, NULL, 0);
  assert_in_range ((int) (1000 * kit.at.net_v[2]), 600, 1100); /* about its drop */
  /* 1 Mohm gives 11 uA of gate current: below the trigger of 200 uA */
  MlNodalChange weak = { .kind = ML_NODAL_SET_PARAMETER, .device = gate, .index = 0, .value = 1e6 };
  kit_solve (&kit, &weak, 1);
  assert_near (kit.at.net_v[2], 12, 1e-4, 0);
  kit_end (&kit);
}

static void
test_thermistor_follows_the_ambient (void **state)
{
  /* Closed form of the B law (IEC 60539-1, from memory): 10 kohm at 25 C, B 3977 K: 10k exp (3977 (1/273.15 - 1/298.15)) = 33.9 kohm at
   * 0 C, as tables of that curve give to a per cent (32.6 to 33.9 kohm, from memory). Divider with 10 kohm at 5 V. */
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 5.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 10e3);
  kit_add (&kit, "thermistor", NETS (2, 0), "value", 10e3, "beta", 3977.0, "temperature", 273.15, NULL);
  kit_solve (&kit, NULL, 0);
  double r = 10e3 * exp (3977.0 * (1 / 273.15 - 1 / 298.15));
  assert_near (kit.at.net_v[2], 5 * r / (r + 10e3), 1e-12, 0);
  kit_end (&kit);
}

static void
test_comparator_output_by_its_kind (void **state)
{
  /* A 10 kohm resistor to ground is pulled up by a push-pull output alone; 10 kohm to the supply is pulled down by both (trade: what an
   * open collector is). */
  for (int pull_up = 0; pull_up < 2; pull_up++)
    for (int high = 0; high < 2; high++)
      for (int load_at_plus = 0; load_at_plus < 2; load_at_plus++)
        {
          Kit kit;
          kit_begin (&kit, 4);
          kit_add (&kit, "battery", NETS (1, 0), "voltage", 5.0, "resistance", 0.0, NULL);
          kit_add (&kit, "battery", NETS (2, 0), "voltage", high ? 2.1 : 1.9, "resistance", 0.0, NULL);
          kit_add (&kit, "battery", NETS (3, 0), "voltage", 2.0, "resistance", 0.0, NULL);
          kit_two (&kit, "resistor", 4, load_at_plus ? 1 : 0, 10e3);
          kit_add (&kit, "comparator", NETS (2, 3, 4, 1, 0), "pull_up", 0.02 * pull_up, NULL);
          kit_solve (&kit, NULL, 0);
          bool is_high = high && (pull_up || load_at_plus);
          assert_near (kit.at.net_v[4], is_high ? 5 : 0, 0, 0.05);
          kit_end (&kit);
        }
}

/* Ladders and meshes of resistors, as many textbooks work them by hand; every source from memory. */
typedef struct { const char *word; int a, b; double value; } Item;
typedef struct { const char *source; int n_nets; Item items[8]; double volts[6], within; } Worked;

static const Worked worked[] = {
  { "Kuphaldt, DC ch. 5: three resistors in series, 500 uA, drops 1.5, 5, 2.5 V", 3,
    { { "battery", 1, 0, 9 }, { "resistor", 1, 2, 3e3 }, { "resistor", 2, 3, 10e3 }, { "resistor", 3, 0, 5e3 } }, { 9, 7.5, 2.5 }, 1e-9 },
  { "Kuphaldt, DC ch. 6: divider of 45 V, drops 10, 20, 15 V", 3,
    { { "battery", 1, 0, 45 }, { "resistor", 1, 2, 5e3 }, { "resistor", 2, 3, 10e3 }, { "resistor", 3, 0, 7.5e3 } }, { 45, 35, 15 }, 1e-9 },
  { "Kuphaldt, DC ch. 10: 28 V and 7 V through 4 and 1 ohm on 2 ohm, 8 V by Millman, Thevenin and superposition", 3,
    { { "battery", 1, 0, 28 }, { "battery", 3, 0, 7 }, { "resistor", 1, 2, 4 }, { "resistor", 2, 0, 2 }, { "resistor", 3, 2, 1 } }, { 28, 8, 7 }, 1e-9 },
  { "Nilsson and Riedel, Electric Circuits ex. 4.1: 9.09 V and 10.91 V", 3,
    { { "battery", 3, 0, 10 }, { "resistor", 3, 1, 1 }, { "resistor", 1, 0, 5 }, { "resistor", 1, 2, 2 }, { "resistor", 2, 0, 10 },
      { "current-source", 0, 2, 2 } }, { 9.09, 10.91, 10 }, 0.005 },
  { "Nilsson and Riedel, ex. 4.2: 40 V (2, 4, 1 A)", 2,
    { { "battery", 2, 0, 50 }, { "resistor", 2, 1, 5 }, { "resistor", 1, 0, 10 }, { "resistor", 1, 0, 40 }, { "current-source", 0, 1, 3 } },
    { 40, 50 }, 1e-9 },
  { "Alexander and Sadiku, Fundamentals ex. 3.1: 13.333 V and 20 V", 2,
    { { "current-source", 2, 1, 5 }, { "current-source", 0, 2, 10 }, { "resistor", 1, 2, 4 }, { "resistor", 1, 0, 2 }, { "resistor", 2, 0, 6 } },
    { 13.333, 20 }, 0.0005 },
};

static void
test_worked_networks (void **state)
{
  for (size_t w = 0; w < sizeof worked / sizeof worked[0]; w++)
    {
      Kit kit;
      kit_begin (&kit, worked[w].n_nets);
      for (const Item *item = worked[w].items; item->word; item++)
        if (strcmp (item->word, "battery") == 0)
          kit_add (&kit, "battery", NETS (item->a, item->b), "voltage", item->value, "resistance", 0.0, NULL);
        else
          kit_two (&kit, item->word, item->a, item->b, item->value);
      kit_solve (&kit, NULL, 0);
      for (int k = 0; k < worked[w].n_nets; k++)
        assert_near (kit.at.net_v[1 + k], worked[w].volts[k], 0, worked[w].within);
      kit_end (&kit);
    }
}

static void
test_latched_thyristor_has_two_states (void **state)
{
  /* Trade: a thyristor without gate current blocks until fired and then conducts while more than its holding current flows: at 12 V behind
   * 100 ohm (about 110 mA) both are possible; behind 10 kohm (1.1 mA, hold 3 mA) only blocking is. prefer says which is meant. */
  for (int preferred = -1; preferred <= 1; preferred++)
    for (int heavy = 0; heavy < 2; heavy++)
      {
        Kit kit;
        kit_begin (&kit, 3);
        kit_add (&kit, "battery", NETS (1, 0), "voltage", 12.0, "resistance", 0.0, NULL);
        kit_two (&kit, "resistor", 1, 2, heavy ? 100 : 10e3);
        kit_two (&kit, "resistor", 3, 0, 1e3);
        kit_add (&kit, "thyristor", NETS (2, 0, 3), NULL);
        if (preferred)
          assert_int_equal (ml_nodal_circuit_prefer (kit.circuit, 2, preferred), ML_NODAL_OK);
        kit_ready (&kit);
        assert_int_equal (ml_nodal_solve (kit.solver, NULL, 0, NULL, &kit.at), heavy ? ML_NODAL_AMBIGUOUS : ML_NODAL_OK);
        assert_true (heavy && preferred < 0 ? kit.at.net_v[2] < 1.2 : kit.at.net_v[2] > 11.9);
        /* what starts from there stays in that state */
        MlNodalSolution again;
        assert_int_equal (ml_nodal_solution_init (&again, kit.circuit), ML_NODAL_OK);
        assert_true (ml_nodal_solve (kit.solver, NULL, 0, &kit.at, &again) >= 0);
        assert_near (again.net_v[2], kit.at.net_v[2], 0, 1e-9);
        ml_nodal_solution_clear (&again);
        kit_end (&kit);
      }
}

static void
test_kuphaldt_parallel_currents (void **state)
{
  /* Kuphaldt, DC ch. 5 (from memory): 9 V on 10 k, 2 k and 1 k: 0.9, 4.5, 9, in all 14.4 mA */
  Kit kit;
  kit_begin (&kit, 1);
  int battery = kit_add (&kit, "battery", NETS (1, 0), "voltage", 9.0, "resistance", 0.0, NULL);
  int r[3] = { kit_two (&kit, "resistor", 1, 0, 10e3), kit_two (&kit, "resistor", 1, 0, 2e3), kit_two (&kit, "resistor", 1, 0, 1e3) };
  kit_solve (&kit, NULL, 0);
  static const double amps[3] = { 0.9e-3, 4.5e-3, 9e-3 };
  for (int k = 0; k < 3; k++)
    assert_near (kit_pin_a (&kit, r[k], 0), amps[k], 1e-9, 0);
  assert_near (kit_pin_a (&kit, battery, 0), -14.4e-3, 1e-9, 0);
  kit_end (&kit);
}

static void
test_boylestad_self_bias (void **state)
{
  /* Boylestad and Nashelsky ex. 7.2 (from memory): 20 V, 3.3 k, 1 k, 8 mA, pinch-off 6 V: read off a drawn curve as 2.6 mA, drain 11.42 V;
   * the square law itself gives 2.588 mA. The gate hangs on 1 M. */
  Kit kit;
  kit_begin (&kit, 4);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 20.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 3.3e3);
  kit_two (&kit, "resistor", 3, 0, 1e3);
  kit_two (&kit, "resistor", 4, 0, 1e6);
  int q = kit_add (&kit, "njfet", NETS (2, 4, 3), "idss", 8e-3, "threshold", 6.0, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit_pin_a (&kit, q, 0), 2.6e-3, 0, 0.03e-3);
  assert_near (kit.at.net_v[2], 11.42, 0, 0.06);
  kit_end (&kit);
}

static void
test_regulators_follow_their_data_sheets (void **state)
{
  Kit kit;
  /* Adjustable regulator, 240 ohm and 5 kohm (data sheet, from memory): 1.25 V (1 + R2 / R1) + 50 uA R2 = 27.54 V */
  kit_begin (&kit, 3);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 35.0, "resistance", 0.0, NULL);
  kit_add (&kit, "adjustable", NETS (1, 2, 3), NULL);
  kit_two (&kit, "resistor", 2, 3, 240);
  kit_two (&kit, "resistor", 3, 0, 5e3);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 1.25 * (1 + 5e3 / 240) + 50e-6 * 5e3, 2e-3, 0);
  kit_end (&kit);
  /* Shunt reference with two equal resistors (data sheet, from memory): 2.495 V (1 + R1 / R2) = 4.99 V */
  kit_begin (&kit, 3);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 12.0, "resistance", 0.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 1e3);
  kit_two (&kit, "resistor", 2, 3, 10e3);
  kit_two (&kit, "resistor", 3, 0, 10e3);
  kit_add (&kit, "shunt", NETS (2, 0, 3), "reference", 2.495, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 4.99, 2e-3, 0);
  kit_end (&kit);
}

/* Load regulation: an output stays at its voltage down to no load, some microamperes into it included, since the regulator's own divider takes
 * more than those (common practice; fixed types, of which none asks for a least load). 10 Mohm from 24 V at its input. */
static void
test_regulator_without_load_keeps_its_voltage_under_a_meter (void **state)
{
  Kit kit;
  kit_begin (&kit, 2);
  kit_add (&kit, "battery", NETS (1, 0), "voltage", 24.0, "resistance", 0.0, NULL);
  kit_add (&kit, "regulator", NETS (1, 2, 0), "voltage", 5.0, NULL);
  kit_two (&kit, "resistor", 1, 2, 10e6);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[2], 5, 2e-3, 0);
  kit_end (&kit);
}

/* A coil of 60 ohm on 12 V chopped to the reference at duty 0.4, a freewheel diode back to 12 V, both without losses: volt-second balance
 * (Erickson and Maksimovic, Fundamentals of Power Electronics, ch. 2, from memory) has the switched net at 0.6 x 12 V on average, the coil
 * at 0.4 x 12 V / 60 ohm; the switch carries 0.4 of that, the diode the rest, against its average voltage. */
enum { CHOPPED_FEED = 1, CHOPPED_NET };

static void
draw_chopped (Kit *kit, double volts, int *ret_coil, int *ret_switch, int *ret_diode)
{
  kit_begin (kit, 2);
  kit_two (kit, "supply", CHOPPED_FEED, 0, volts);
  *ret_coil = kit_two (kit, "coil", CHOPPED_FEED, CHOPPED_NET, 60);
  *ret_switch = kit_add (kit, "chopped-current", NETS (CHOPPED_NET, 0, 0, CHOPPED_FEED), "current", 0.032, NULL);
  *ret_diode = kit_add (kit, "chopped-current", NETS (CHOPPED_NET, CHOPPED_FEED, 0, CHOPPED_FEED), "current", 0.048, "reach", 1.0, NULL);
}

static void
test_chopped_coil_has_its_average (void **state)
{
  Kit kit;
  int coil, transistor, diode;

  draw_chopped (&kit, 12, &coil, &transistor, &diode);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[CHOPPED_NET], 7.2, 1e-6, 0);
  assert_near (kit_pin_a (&kit, coil, 0), 0.08, 1e-6, 0);
  assert_near (kit_pin_a (&kit, transistor, 0) + kit_pin_a (&kit, diode, 0) + kit_pin_a (&kit, coil, 1), 0, 0, 1e-12);
  kit_end (&kit);
}

/* 12 V stepped down at duty 0.5 into 100 ohm without losses, by the same balance: 6 V, 60 mA in the coil, half of it from the supply, half by the diode from
 * the reference. With a width of the supply's order the diode's share falls as the switched net nears the supply; where the coil is open both end
 * with the net at the supply (Kirchhoff's current law). */
static void
test_stepped_down_output_has_its_average (void **state)
{
  for (int open = 0; open < 2; open++)
    {
      enum { SUPPLY = 1, SWITCHED, OUTPUT };
      Kit kit;

      kit_begin (&kit, 3);
      kit_two (&kit, "supply", SUPPLY, 0, 12);
      int coil = kit_add (&kit, "inductor", NETS (SWITCHED, OUTPUT), "resistance", 1e-3, NULL);
      kit_two (&kit, "resistor", OUTPUT, 0, 100);
      kit_add (&kit, "chopped-current", NETS (SUPPLY, SWITCHED, 0, SUPPLY), "current", 0.03, NULL);
      double width = 8, share = tanh ((12 - 6) / width * (12 - 6) / width);
      kit_add (&kit, "chopped-current", NETS (0, SWITCHED, 0, SUPPLY), "current", 0.03 / share, "depth", 48.0, "width", width, NULL);
      const MlNodalChange lifted = { .kind = ML_NODAL_OPEN_ELEMENT, .device = coil, .index = 0 };
      kit_solve (&kit, &lifted, open);
      assert_near (kit.at.net_v[OUTPUT], open ? 0 : 6, 1e-3, 1e-6);
      assert_near (kit.at.net_v[SWITCHED], open ? 12 : 6, open ? 0.02 : 1e-3, 0);
      kit_end (&kit);
    }
}

/* The coil of 60 ohm carries 32 mA of the switch at 12 - 1.92 - 0.09 V (Ohm's law, 10 kohm to -5 V beside it). With the coil open the net ends below
 * the low rail, at -5 V, and is found there from where it was. */
static void
test_chopped_net_ends_below_its_rail (void **state)
{
  enum { SUPPLY = 1, SWITCHED, NEGATIVE };
  Kit kit;

  kit_begin (&kit, 3);
  kit_two (&kit, "supply", SUPPLY, 0, 12);
  int coil = kit_two (&kit, "coil", SUPPLY, SWITCHED, 60);
  kit_two (&kit, "battery", 0, NEGATIVE, 5);
  kit_two (&kit, "resistor", SWITCHED, NEGATIVE, 10e3);
  kit_add (&kit, "chopped-current", NETS (SWITCHED, 0, 0, SUPPLY), "current", 0.032, NULL);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[SWITCHED], 9.99, 1e-3, 0);
  const MlNodalChange open = { .kind = ML_NODAL_OPEN_ELEMENT, .device = coil, .index = 0 };
  assert_int_equal (ml_nodal_solve (kit.solver, &open, 1, &kit.at, &kit.at), ML_NODAL_OK);
  assert_near (kit.at.net_v[SWITCHED], -5, 1e-4, 0);
  assert_int_equal (kit.at.rung, ML_NODAL_RUNG_WARM);
  kit_end (&kit);
}

/* Nothing feeds the net: the free currents end by themselves (Kirchhoff's current law), the net between the rails. */
static void
test_chopped_currents_end_where_nothing_feeds_them (void **state)
{
  Kit kit;
  int coil, transistor, diode;

  draw_chopped (&kit, 12, &coil, &transistor, &diode);
  const MlNodalChange open = { .kind = ML_NODAL_OPEN_ELEMENT, .device = coil, .index = 0 };
  kit_solve (&kit, &open, 1);
  assert_true (kit.at.net_v[CHOPPED_NET] >= 0 && kit.at.net_v[CHOPPED_NET] < 0.1);
  assert_near (kit_pin_a (&kit, transistor, 0), 0, 0, 1e-7);
  kit_end (&kit);
  draw_chopped (&kit, 0, &coil, &transistor, &diode);
  kit_solve (&kit, NULL, 0);
  assert_near (kit.at.net_v[CHOPPED_NET], 0, 0, 1e-6);
  assert_near (kit_pin_a (&kit, coil, 0), 0, 0, 1e-7);
  kit_end (&kit);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_chopped_coil_has_its_average), cmocka_unit_test (test_chopped_currents_end_where_nothing_feeds_them),
    cmocka_unit_test (test_stepped_down_output_has_its_average), cmocka_unit_test (test_chopped_net_ends_below_its_rail),
    cmocka_unit_test (test_kuphaldt_five_resistors), cmocka_unit_test (test_kuphaldt_bridge),
    cmocka_unit_test (test_kuphaldt_series_parallel), cmocka_unit_test (test_kuphaldt_meter_loads_divider),
    cmocka_unit_test (test_textbook_diodes), cmocka_unit_test (test_lambert_closed_forms),
    cmocka_unit_test (test_diode_resistor_against_lambert_w), cmocka_unit_test (test_kuphaldt_zener),
    cmocka_unit_test (test_sedra_zener), cmocka_unit_test (test_kuphaldt_bias), cmocka_unit_test (test_sedra_transistors),
    cmocka_unit_test (test_cube_of_unit_resistors), cmocka_unit_test (test_grob_open_branch),
    cmocka_unit_test (test_grob_and_kuphaldt_series_faults), cmocka_unit_test (test_opamp_gain),
    cmocka_unit_test (test_bias_current_of_an_input), cmocka_unit_test (test_lamp_and_converter),
    cmocka_unit_test (test_square_law_transistors), cmocka_unit_test (test_thyristor_latches),
    cmocka_unit_test (test_worked_networks), cmocka_unit_test (test_latched_thyristor_has_two_states), cmocka_unit_test (test_kuphaldt_parallel_currents),
    cmocka_unit_test (test_boylestad_self_bias), cmocka_unit_test (test_regulators_follow_their_data_sheets),
    cmocka_unit_test (test_regulator_without_load_keeps_its_voltage_under_a_meter),
    cmocka_unit_test (test_thermistor_follows_the_ambient), cmocka_unit_test (test_comparator_output_by_its_kind),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
