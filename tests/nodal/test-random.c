/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random circuits of all kinds, healthy and with faults: they settle, and the pin currents obey Kirchhoff's current law. */
#include "nodal/kit.h"

#include "nodal/device.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_PINS 400
#define N_FAULTS 6

typedef struct
{
  int n_nets, n_devices;
  int nets[MOST_PINS]; /* by pin of the circuit */
} Drawn;

static const char *const kinds[] = {
  "resistor", "resistor", "resistor", "resistor", "diode", "led", "zener", "npn", "pnp", "npn", "pnp", "capacitor", "fuse", "coil", "link",
  "switch", "regulator", "bridge", "potentiometer", "tvs", "load-current", "battery", "changeover", "inductor",
  "lamp", "varistor", "nmos", "pmos", "njfet", "pjfet", "opto", "shunt", "adjustable", "converter", "opamp", "comparator", "thyristor", "triac",
  "supply", "thermistor", "current-source", "contact", "chopped-current",
};
#define N_KINDS ((int) (sizeof kinds / sizeof kinds[0]))
#define N_PLAIN 24 /* those before the lamp: no gain, no latch */

/* The leakage of these is drawn only by test-independent: here it would change every circuit after. */
static bool
leaks_late (const MlNodalType *type)
{
  static const char *const of[] = { "gain", "threshold", "ratio", "pull_up", "trigger" };

  for (int i = 0; i < (int) (sizeof of / sizeof of[0]); i++)
    if (ml_nodal_type_find_parameter (type, of[i]) >= 0)
      return true;
  return false;
}

/* Parameters spread by a decade where that makes sense; resistors from 10 ohm to 1 Mohm. */
static void
draw_parameters (const MlNodalType *type, unsigned long *seed, double *parameters)
{
  for (int p = 0; p < ml_nodal_type_n_parameters (type); p++)
    {
      const char *name = ml_nodal_type_parameter (type, p);
      if (strcmp (name, "bias") == 0 || strcmp (name, "lowest") == 0 || strncmp (name, "worn", 4) == 0
          || (strcmp (name, "leakage") == 0 && leaks_late (type)))
        {
          parameters[p] = ml_nodal_type_default (type, p); /* test-independent draws them; here they would change every circuit after */
          continue;
        }
      double u = kit_random (seed);
      parameters[p] = ml_nodal_type_default (type, p);
      if (strcmp (name, "value") == 0)
        parameters[p] = pow (10, 1 + 5 * u);
      else if (strcmp (name, "state") == 0)
        parameters[p] = floor (2 * u);
      else if (strcmp (name, "position") == 0)
        parameters[p] = u;
      else if (strcmp (name, "temperature") == 0)
        parameters[p] = 273.15 + 50 * u;
      else if (strcmp (name, "beta") == 0)
        parameters[p] *= 0.8 + 0.4 * u;
      else if (strcmp (name, "ideality") != 0 && strcmp (name, "drop") != 0 && strcmp (name, "start") != 0)
        parameters[p] *= pow (3, 2 * u - 1);
    }
}

static void
draw (Kit *kit, Drawn *drawn, int n_kinds, unsigned long *seed)
{
  int n_pins = 0;

  drawn->n_nets = 3 + (int) (kit_random (seed) * 37);
  drawn->n_devices = 1 + (int) (drawn->n_nets * (1.0 + kit_random (seed)));
  kit_begin (kit, drawn->n_nets);
  for (int d = 0; d < drawn->n_devices; d++)
    {
      const char *word = d == 0 ? "supply" : kinds[(int) (kit_random (seed) * n_kinds)];
      const MlNodalType *type = ml_nodal_type_find (word);
      int k = ml_nodal_type_n_pins (type);
      int *nets = drawn->nets + n_pins;
      double parameters[16];
      draw_parameters (type, seed, parameters);
      for (int p = 0; p < k; p++)
        nets[p] = kit_random (seed) < 0.15 ? 0 : 1 + (int) (kit_random (seed) * drawn->n_nets);
      if (d == 0)
        {
          nets[0] = 1;
          nets[1] = 0;
          parameters[0] = 3 + 27 * kit_random (seed);
          parameters[1] = 3;
        }
      assert_true (ml_nodal_circuit_add_device (kit->circuit, type, nets, parameters) == d);
      n_pins += k;
    }
}

static MlNodalChange
draw_change (const Kit *kit, const Drawn *drawn, unsigned long *seed)
{
  int d = 1 + (int) (kit_random (seed) * (drawn->n_devices - 1));
  const MlNodalType *type = ml_nodal_circuit_type (kit->circuit, d);
  int pin = (int) (kit_random (seed) * ml_nodal_type_n_pins (type));
  double u = kit_random (seed), ohm = u < 0.2 ? 0 : u < 0.4 ? INFINITY : pow (10, -1 + 6 * kit_random (seed));

  switch ((int) (kit_random (seed) * 5))
    {
    case 0:
      return (MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = pin, .value = ohm };
    case 1:
      return (MlNodalChange){ .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = pin,
                              .index_b = (pin + 1) % ml_nodal_type_n_pins (type), .value = isfinite (ohm) ? ohm : 0.1 };
    case 2:
      return (MlNodalChange){ .kind = ML_NODAL_SET_PARAMETER, .device = d, .index = 0,
                              .value = ml_nodal_circuit_parameter (kit->circuit, d, 0) * pow (10, 2 * u - 1) };
    case 3:
      if (ml_nodal_type_n_elements (type) > 0)
        return (MlNodalChange){ .kind = ML_NODAL_OPEN_ELEMENT, .device = d, .index = (int) (u * ml_nodal_type_n_elements (type)) };
      return (MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = pin, .value = INFINITY };
    default:
      return (MlNodalChange){ .kind = ML_NODAL_LINK_NETS, .index = (int) (u * (drawn->n_nets + 1)),
                              .index_b = (int) (kit_random (seed) * (drawn->n_nets + 1)), .value = isfinite (ohm) ? fmax (ohm, 0.1) : 10 };
    }
}

/* Kirchhoff's current law from the pin currents alone; how far off, in units of what is promised. */
static double
kirchhoff (const Kit *kit, const Drawn *drawn, const MlNodalChange *change)
{
  double sums[64] = { 0 }, largest = 0, worst = 0;
  int n_pins = ml_nodal_circuit_n_pins (kit->circuit);

  for (int p = 0; p < n_pins; p++)
    {
      sums[drawn->nets[p]] += kit->at.pin_a[p];
      largest = fmax (largest, fabs (kit->at.pin_a[p]));
    }
  if (change && change->kind == ML_NODAL_LINK_NETS)
    {
      double a = (kit->at.net_v[change->index] - kit->at.net_v[change->index_b]) / change->value;
      sums[change->index] += a;
      sums[change->index_b] -= a;
      largest = fmax (largest, fabs (a));
    }
  if (change && change->kind == ML_NODAL_BRIDGE_PINS && change->value > 0) /* a branch as well: what flows inside the part does not show at its pins */
    {
      const double *metal_v = kit->at.metal_v + ml_nodal_circuit_first_pin (kit->circuit, change->device);
      largest = fmax (largest, fabs (metal_v[change->index] - metal_v[change->index_b]) / change->value);
    }
  for (int net = 1; net <= drawn->n_nets; net++)
    worst = fmax (worst, fabs (sums[net]));
  return worst / fmax (1e-9 * largest, 1e-12);
}

/* Draws what a round draws, and solves nothing. */
static void
pass_over (int n_kinds, unsigned long *seed)
{
  Kit kit;
  Drawn drawn;

  draw (&kit, &drawn, n_kinds, seed);
  for (int f = 0; f < N_FAULTS; f++)
    draw_change (&kit, &drawn, seed);
  kit_end (&kit);
}

/* At most `share` of the solves may fail, and a fault may take at most so many steps on average. */
static void
settle (unsigned long seed, int n_kinds, int rounds, int first, double share, double most_steps)
{
  int solved = 0, failed = 0, refused = 0;
  long by[ML_NODAL_N_RUNGS] = { 0 }, steps = 0, faults = 0;
  double worst = 0;

  for (int round = 0; round < rounds; round++)
    {
      Kit kit;
      Drawn drawn;
      MlNodalSolution healthy;
      unsigned long before = seed;
      if (round < first)
        {
          pass_over (n_kinds, &seed);
          continue;
        }
      draw (&kit, &drawn, n_kinds, &seed);
      kit_ready (&kit);
      assert_int_equal (ml_nodal_solution_init (&healthy, kit.circuit), ML_NODAL_OK);
      for (int f = -1; f < N_FAULTS; f++)
        {
          MlNodalChange change = f >= 0 ? draw_change (&kit, &drawn, &seed) : (MlNodalChange){ 0 };
          const MlNodalSolution *start = f >= 0 ? &healthy : NULL;
          MlNodalStatus status = f < 0 ? ml_nodal_solve_patiently (kit.solver, NULL, 0, NULL, &kit.at)
                                       : ml_nodal_solve (kit.solver, &change, 1, start, &kit.at);
          if (f < 0)
            assert_int_equal (ml_nodal_solution_copy (&healthy, &kit.at, kit.circuit), ML_NODAL_OK);
          if (status == ML_NODAL_SINGULAR)
            refused++; /* sources that contradict each other, loops of exact shorts */
          else if (status < 0)
            {
              failed++;
              print_message ("round %d (seed %lu) fault %d kind %d: %s, net %d device %d\n", round, before, f, f >= 0 ? (int) change.kind : -1,
                             ml_nodal_status_text (status), kit.at.failed_net, kit.at.failed_device);
            }
          else
            {
              double off = kirchhoff (&kit, &drawn, f >= 0 ? &change : NULL);
              if (off > 1)
                print_message ("round %d (seed %lu) fault %d kind %d: Kirchhoff %g\n", round, before, f, f >= 0 ? (int) change.kind : -1, off);
              worst = fmax (worst, off);
              solved++;
              by[kit.at.rung]++;
              steps += f >= 0 ? kit.at.iterations : 0;
              faults += f >= 0;
            }
        }
      ml_nodal_solution_clear (&healthy);
      kit_end (&kit);
    }
  print_message ("%d solved (warm %ld, held %ld, cold %ld, transient %ld, gain %ld), %d failed, %d refused; %.1f steps a fault; worst residual %.2g "
                 "of what is allowed\n",
                 solved, by[0], by[1], by[2], by[3], by[4], failed, refused, (double) steps / (double) faults, worst);
  assert_true (worst <= 1);
  assert_true (failed <= share * (solved + failed));
  assert_true (refused * 20 <= solved);
  assert_true (steps <= most_steps * faults);
}

static void
settle_many (int n_kinds, double most_steps)
{
  const char *rounds = getenv ("METERLEAF_RANDOM_CIRCUITS");
  const char *first = getenv ("METERLEAF_RANDOM_FIRST"); /* rounds before this one are only drawn */

  settle (20260301, n_kinds, rounds ? atoi (rounds) : 400, first ? atoi (first) : 0, 0.001, most_steps);
}

static void
test_random_plain_circuits_settle (void **state)
{
  settle_many (N_PLAIN, 6);
}

static void
test_random_circuits_of_all_kinds_settle (void **state)
{
  settle_many (N_KINDS, 15);
}

/* Most of their solves did not settle once: loops that take off, steps that walked for ever. */
static void
test_circuits_that_were_hard_settle (void **state)
{
  static const unsigned long seeds[] = {
    8947136400198229904UL, 7598283248480393598UL, 1048686357859398456UL, 14151880748401738989UL, 12619328508821651858UL,
    10300701713344413379UL, 12694636724130251069UL, 8835515298593978680UL, 295323309296084047UL,
  };

  for (size_t i = 0; i < sizeof seeds / sizeof seeds[0]; i++)
    settle (seeds[i], N_KINDS, 1, 0, 0, 2000);
}

/* The point that all else begins from is worth thousands of steps; its thyristors have fired by then, and a fault that does not settle with them as built
 * does so with them on. */
static void
test_a_circuit_that_takes_long_settles (void **state)
{
  settle (15798786464151697175UL, N_KINDS, 1, 0, 0, 1500);
}

static void
test_every_kind_is_drawn (void **state)
{
  for (int i = 0; ml_nodal_type_at (i); i++)
    {
      bool drawn = false;
      for (int k = 0; k < N_KINDS; k++)
        drawn = drawn || strcmp (kinds[k], ml_nodal_type_word (ml_nodal_type_at (i))) == 0;
      if (!drawn)
        print_error ("no random circuit has a %s\n", ml_nodal_type_word (ml_nodal_type_at (i)));
      assert_true (drawn);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_random_plain_circuits_settle),
                                      cmocka_unit_test (test_random_circuits_of_all_kinds_settle),
                                      cmocka_unit_test (test_circuits_that_were_hard_settle),
                                      cmocka_unit_test (test_a_circuit_that_takes_long_settles),
                                      cmocka_unit_test (test_every_kind_is_drawn) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
