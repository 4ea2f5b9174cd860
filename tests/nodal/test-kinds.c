/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every kind of the engine's table in circuits: the slope of every reading in every parameter against differences of the readings; and what
 * boards do to parts at worst. A kind that is added is tested here without being named; one whose parameters never act is an error. */
#include "nodal/kit.h"

#include "nodal/device.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_KINDS 64
#define LEAST_TRIALS 40
#define MOST_TRIALS 4000
#define SUPPLY 0 /* device */

static FILE *
open_source (const char *name)
{
  char path[1000];

  assert_non_null (getenv ("METERLEAF_SOURCE"));
  snprintf (path, sizeof path, "%s/%s", getenv ("METERLEAF_SOURCE"), name);
  FILE *file = fopen (path, "r");
  if (!file)
    print_error ("%s cannot be read\n", path);
  assert_non_null (file);
  return file;
}

/* ---- slopes ---- */

/* How often each parameter was seen to act on a reading. */
typedef struct
{
  char word[32];
  int acted[ML_NODAL_MAX_PARAMETERS];
} Seen;

typedef struct
{
  Kit kit;
  const MlNodalType *type;
  int device, n_pins;
} Bias;

/* What only decides when a part changes its state, and what says which state or polarity: readings leap with it or not at all. */
static bool
leaps (const MlNodalType *type, int parameter)
{
  static const char *const names[] = { "pull", "release", "trigger", "hold", "state", "polarity" };
  const char *name = ml_nodal_type_parameter (type, parameter);

  for (size_t k = 0; k < sizeof names / sizeof names[0]; k++)
    if (strcmp (names[k], name) == 0)
      return true;
  return false;
}

static double
draw_log (double low, double high, unsigned long *seed)
{
  return low * pow (high / low, kit_random (seed));
}

/* The part with each pin through a resistor to one of two supplies or to the reference, and at times a resistor between two of its pins.
 * Nets: pins 1 to n, supplies n + 1 and n + 2. */
static void
draw_bias (Bias *bias, const char *word, unsigned long *seed)
{
  double parameters[ML_NODAL_MAX_PARAMETERS];
  int nets[ML_NODAL_MAX_LOCAL], n;
  Kit *kit = &bias->kit;

  bias->type = kit_word_type (word, parameters);
  bias->n_pins = n = bias->type->n_pins;
  kit_begin (kit, n + 2);
  assert_int_equal (kit_two (kit, "supply", n + 1, 0, 30 * (2 * kit_random (seed) - 1)), SUPPLY);
  kit_two (kit, "supply", n + 2, 0, 15 * (2 * kit_random (seed) - 1));
  for (int k = 0; k < n; k++)
    {
      int to = (int) (3 * kit_random (seed));
      nets[k] = k + 1;
      kit_two (kit, "resistor", k + 1, to == 0 ? 0 : n + to, draw_log (3, 100e3, seed));
    }
  if (n > 2 && kit_random (seed) < 0.6)
    kit_two (kit, "resistor", 1 + (int) (n * kit_random (seed)), 1 + (int) (n * kit_random (seed)), draw_log (30, 100e3, seed));
  bias->device = ml_nodal_circuit_add_device (kit->circuit, bias->type, nets, parameters);
  assert_true (bias->device >= 0);
  kit_ready (kit);
}

static MlNodalMeter
draw_meter (const Bias *bias, unsigned long *seed)
{
  int red = 1 + (int) (bias->n_pins * kit_random (seed)), black = (int) ((bias->n_pins + 1) * kit_random (seed));

  if (kit_random (seed) < 0.2)
    return (MlNodalMeter){ .reads = ML_NODAL_READ_AMPS, .device = SUPPLY };
  return (MlNodalMeter){ .reads = ML_NODAL_READ_VOLTS, .red = { red, -1, 0 }, .black = { black == red ? 0 : black, -1, 0 }, .input_ohm = 10e6 };
}

/* The part unpowered between an ohmmeter's or diode tester's probes; a source is no part to put an ohmmeter on. */
static MlNodalMeter
draw_cold_meter (const Bias *bias, unsigned long *seed)
{
  bool diode = kit_random (seed) < 0.5;
  int red = 1 + (int) (bias->n_pins * kit_random (seed)), black = 1 + (int) (bias->n_pins * kit_random (seed));

  return (MlNodalMeter){ .reads = diode ? ML_NODAL_READ_DIODE : ML_NODAL_READ_OHMS, .red = { red, -1, 0 },
                         .black = { black == red ? 0 : black, -1, 0 }, .test_a = diode ? 1e-3 : draw_log (1e-6, 1e-3, seed), .compliance_v = 3 };
}

/* The reading with the part's parameter moved; NAN when that does not settle or changes a state. */
static double
read_moved (Bias *bias, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, int parameter, double value)
{
  MlNodalChange more[4];
  MlNodalSolution at;
  double reading = NAN, latched = bias->kit.at.latched[bias->device];

  memcpy (more, changes, (size_t) n_changes * sizeof *more);
  more[n_changes] = (MlNodalChange){ .kind = ML_NODAL_SET_PARAMETER, .device = bias->device, .index = parameter, .value = value };
  assert_int_equal (ml_nodal_solution_init (&at, bias->kit.circuit), ML_NODAL_OK);
  MlNodalStatus status = ml_nodal_measure (bias->kit.solver, more, n_changes + 1, &bias->kit.at, meter, NULL, 0, &reading, NULL, NULL, &at);
  bool same = status >= 0 && at.latched[bias->device] == latched;
  ml_nodal_solution_clear (&at);
  return same && isfinite (reading) ? reading : NAN;
}

/* Second method: central differences of two widths; where those two differ much they are no measure. */
static void
check_parameter (Bias *bias, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, double reading, int parameter, double slope,
                 Seen *seen)
{
  double p = ml_nodal_circuit_parameter (bias->kit.circuit, bias->device, parameter), size = p != 0 ? fabs (p) : 1e-3, d[2];

  if (leaps (bias->type, parameter))
    {
      assert_near (slope, 0, 0, strcmp (ml_nodal_type_parameter (bias->type, parameter), "state") == 0 ? INFINITY : 0);
      seen->acted[parameter]++;
      return;
    }
  for (int k = 0; k < 2; k++)
    {
      double h = size * (k ? 2.5e-5 : 1e-4);
      d[k] = (read_moved (bias, changes, n_changes, meter, parameter, p + h) - read_moved (bias, changes, n_changes, meter, parameter, p - h)) / (2 * h);
    }
  if (isnan (d[0]) || isnan (d[1]))
    return;
  /* What solving to 1e-9 leaves in a difference, for a change of the parameter by itself; an ohmmeter divides volts by its current, an amplifier in
   * balance makes more of it. */
  double left = (bias->type->flags & ML_NODAL_STEEP ? 1e-8 : 1e-9) * (1e-3 + fabs (reading)) + (meter->reads == ML_NODAL_READ_OHMS ? 1e-10 / meter->test_a : 0), noise = left / 2.5e-5, apart = fabs (d[0] - d[1]) * size;
  if (apart > 0.3 * fmax (fabs (d[0]), fabs (d[1])) * size + noise) /* a corner lies within the width */
    return;
  double off = fabs (slope - d[1]) * size, allowed = 2e-4 * fabs (d[1]) * size + apart + noise;
  if (!(off <= allowed))
    print_error ("%s %s: slope %.9g, by differences %.9g and %.9g; reading %g\n", seen->word, ml_nodal_type_parameter (bias->type, parameter), slope,
                 d[0], d[1], reading);
  assert_true (off <= allowed);
  if (allowed < 0.05 * fabs (slope) * size)
    seen->acted[parameter]++;
}

static void
check_bias (Bias *bias, bool cold, unsigned long *seed, Seen *seen)
{
  const MlNodalChange dead[2] = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = SUPPLY, .index = 0, .value = INFINITY },
                                  { .kind = ML_NODAL_PIN_RESISTANCE, .device = SUPPLY + 1, .index = 0, .value = INFINITY } };
  int n_changes = cold ? 2 : 0, n = ml_nodal_type_n_parameters (bias->type);
  MlNodalParameterRef refs[ML_NODAL_MAX_PARAMETERS];
  double slopes[ML_NODAL_MAX_PARAMETERS], reading;

  for (int p = 0; p < n; p++)
    refs[p] = (MlNodalParameterRef){ bias->device, p };
  kit_solve (&bias->kit, dead, n_changes);
  for (int m = 0; m < 3; m++)
    {
      MlNodalMeter meter = cold ? draw_cold_meter (bias, seed) : draw_meter (bias, seed);
      assert_int_equal (ml_nodal_measure (bias->kit.solver, dead, n_changes, &bias->kit.at, &meter, refs, n, &reading, slopes, NULL, NULL), ML_NODAL_OK);
      for (int p = 0; isfinite (reading) && p < n; p++)
        check_parameter (bias, dead, n_changes, &meter, reading, p, slopes[p], seen);
    }
}

static int
least_seen (const Seen *seen, int n)
{
  int least = LEAST_TRIALS;

  for (int p = 0; p < n; p++)
    least = seen->acted[p] < least ? seen->acted[p] : least;
  return least;
}

/* One kind: many biases, until each of its parameters was seen to act three times. */
static void
check_kind (const char *word, Seen *seen)
{
  unsigned long seed = 71;
  double parameters[ML_NODAL_MAX_PARAMETERS];
  const MlNodalType *type = kit_word_type (word, parameters);

  for (int t = 0; t < LEAST_TRIALS || (t < MOST_TRIALS && least_seen (seen, type->n_parameters) < 3); t++)
    {
      Bias bias;
      draw_bias (&bias, word, &seed);
      check_bias (&bias, !type->source && t % 4 == 3, &seed, seen);
      kit_end (&bias.kit);
    }
}

static Seen seen[MOST_KINDS];

static Seen *
seen_of (const char *word)
{
  size_t length = strcspn (word, "/");
  int k = 0;

  for (; k < MOST_KINDS && seen[k].word[0]; k++)
    if (strncmp (seen[k].word, word, length) == 0 && seen[k].word[length] == '\0')
      return &seen[k];
  assert_true (k < MOST_KINDS && length < sizeof seen[k].word);
  memcpy (seen[k].word, word, length);
  return &seen[k];
}

static void
test_kind_slopes_agree_with_differences (void **state)
{
  const char *word;

  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      Seen own = { .word = "" };
      double parameters[ML_NODAL_MAX_PARAMETERS];
      int n = ml_nodal_type_n_parameters (kit_word_type (word, parameters));
      snprintf (own.word, sizeof own.word, "%s", word);
      check_kind (word, &own);
      for (int p = 0; p < n; p++)
        seen_of (word)->acted[p] += own.acted[p];
    }
  for (int k = 0; k < MOST_KINDS && seen[k].word[0]; k++)
    {
      const MlNodalType *type = ml_nodal_type_find (seen[k].word);
      for (int p = 0; p < ml_nodal_type_n_parameters (type); p++)
        {
          if (seen[k].acted[p] < 3)
            print_error ("%s %s was seen to act %d times\n", seen[k].word, ml_nodal_type_parameter (type, p), seen[k].acted[p]);
          assert_true (seen[k].acted[p] >= 3);
        }
    }
}

/* The spreads that the verdict works with are those of data/defaults.table: each belongs to a parameter whose slope was tested above. */
static void
test_every_spread_has_a_tested_slope (void **state)
{
  char line[1000], kind[64], parameter[64], unit[32], centre[32], spread[32];
  int n_spreads = 0;
  FILE *file = open_source ("data/defaults.table");

  while (fgets (line, sizeof line, file))
    {
      if (line[0] == '#' || sscanf (line, "%63s %63s %31s %31s %31s", kind, parameter, unit, centre, spread) != 5 || spread[strspn (spread, "0.")] == '\0')
        continue;
      kind[strcspn (kind, ":")] = '\0';
      const MlNodalType *type = ml_nodal_type_find (kind);
      int index = type ? ml_nodal_type_find_parameter (type, parameter) : -1;
      if (index < 0 || seen_of (kind)->acted[index] < 3)
        print_error ("%s %s has a spread and no tested slope\n", kind, parameter);
      assert_true (index >= 0 && seen_of (kind)->acted[index] >= 3);
      n_spreads++;
    }
  fclose (file);
  assert_true (n_spreads > 50);
}

/* ---- where laws and figures come from ---- */

/* Marks the kinds that one device file defines; its first comment is to say where their laws come from. */
static void
read_device_file (const char *name, bool *defined)
{
  char path[1000], line[1000], pattern[64];
  bool stated = false;

  snprintf (path, sizeof path, "src/nodal/%s", name);
  FILE *file = open_source (path);
  for (bool head = true; fgets (line, sizeof line, file); )
    {
      head = head && strncmp (line, "#include", 8) != 0;
      stated = stated || (head && strncmp (line, " * Source: ", 11) == 0 && strlen (line) > 30);
      for (int i = 0; ml_nodal_type_at (i); i++)
        {
          snprintf (pattern, sizeof pattern, ".word = \"%s\"", ml_nodal_type_at (i)->word);
          defined[i] = defined[i] || strstr (line, pattern);
        }
    }
  fclose (file);
  if (!stated)
    print_error ("%s does not state the source of its laws\n", path);
  assert_true (stated);
}

static void
test_every_law_states_its_source (void **state)
{
  char path[1000];
  bool defined[MOST_KINDS] = { false };
  struct dirent *entry;

  assert_non_null (getenv ("METERLEAF_SOURCE"));
  snprintf (path, sizeof path, "%s/src/nodal", getenv ("METERLEAF_SOURCE"));
  DIR *folder = opendir (path);
  assert_non_null (folder);
  while ((entry = readdir (folder)))
    if (strncmp (entry->d_name, "device-", 7) == 0)
      read_device_file (entry->d_name, defined);
  closedir (folder);
  for (int i = 0; ml_nodal_type_at (i); i++)
    {
      if (!defined[i])
        print_error ("%s is defined in no src/nodal/device-*.c\n", ml_nodal_type_at (i)->word);
      assert_true (defined[i]);
    }
}

/* A quoted source ends each row; part numbers have it as a comment, since their rows are statements of the board language. */
static void
test_every_figure_states_its_source (void **state)
{
  static const struct { const char *name, *before; } tables[] = {
    { "data/defaults.table", " \"" }, { "data/assumptions.table", " \"" }, { "data/meters.table", " \"" }, { "data/parts.table", " # " },
  };
  char line[2000];

  for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++)
    {
      FILE *file = open_source (tables[t].name);
      int n = 0;
      while (fgets (line, sizeof line, file))
        {
          const char *source = strstr (line, tables[t].before);
          if (line[0] == '#' || line[strspn (line, " \t\r\n")] == '\0')
            continue;
          if (!source || strlen (source) < strlen (tables[t].before) + 5)
            print_error ("%s: no source: %s", tables[t].name, line);
          assert_true (source && strlen (source) >= strlen (tables[t].before) + 5);
          n++;
        }
      fclose (file);
      assert_true (n > 10);
    }
}

/* ---- what boards do to parts at worst ---- */

static const double worst_v[] = { 0, 12, -12, 1000, -1000 };
#define N_WORST ((int) (sizeof worst_v / sizeof worst_v[0]))

/* The part with a kilohm from each pin to the reference, and the supply across two of its pins. */
static int
build_worst (Kit *kit, const char *word, int plus, int minus, double volts)
{
  double parameters[ML_NODAL_MAX_PARAMETERS];
  const MlNodalType *type = kit_word_type (word, parameters);
  int nets[ML_NODAL_MAX_LOCAL];

  kit_begin (kit, type->n_pins);
  kit_two (kit, "supply", plus + 1, minus + 1, volts);
  for (int k = 0; k < type->n_pins; k++)
    {
      nets[k] = k + 1;
      kit_two (kit, "resistor", k + 1, 0, 1e3);
    }
  int device = ml_nodal_circuit_add_device (kit->circuit, type, nets, parameters);
  assert_true (device >= 0);
  kit_ready (kit);
  return device;
}

/* Finite, and Kirchhoff's current law over the pins; pin k of the device lies where permutation says. */
static void
check_point (const Kit *kit, int device, int n_pins, const int *permutation, const char *what)
{
  double sums[ML_NODAL_MAX_LOCAL + 1] = { 0 }, largest = 0;
  int supply = ml_nodal_circuit_first_pin (kit->circuit, 0);

  for (int k = 0; k < n_pins; k++)
    {
      double a = kit_pin_a (kit, device, k), v = kit->at.net_v[k + 1];
      if (!isfinite (a) || !isfinite (v) || fabs (v) > 1100)
        print_error ("%s: pin %d at %g V takes %g A\n", what, k, v, a);
      assert_true (isfinite (a) && isfinite (v) && fabs (v) <= 1100);
      sums[1 + (permutation ? permutation[k] : k)] += a;
      sums[k + 1] += v / 1e3;
      largest = fmax (largest, fmax (fabs (a), fabs (v / 1e3)));
    }
  for (int net = 1; net <= n_pins; net++)
    if (kit->circuit && fabs (sums[net]) > 1e-9 * largest + 1e-11)
      {
        /* what is left over is the supply's, in one of its two pins */
        double off = fmin (fabs (sums[net] + kit->at.pin_a[supply]), fabs (sums[net] - kit->at.pin_a[supply]));
        if (!(off <= 1e-8 * fmax (largest, fabs (kit->at.pin_a[supply])) + 1e-11))
          print_error ("%s: %g A are missing at pin %d\n", what, off, net - 1);
        assert_true (off <= 1e-8 * fmax (largest, fabs (kit->at.pin_a[supply])) + 1e-11);
      }
}

static void
try_change (Kit *kit, int device, const MlNodalChange *change, const char *word, double volts)
{
  const MlNodalType *type = ml_nodal_circuit_type (kit->circuit, device);
  char what[160];

  snprintf (what, sizeof what, "%s at %g V, change %d of %d by %d, %g", word, volts, change ? (int) change->kind : -1, change ? change->index : 0,
            change ? change->index_b : 0, change ? change->value : 0);
  MlNodalStatus status = ml_nodal_solve (kit->solver, change, change != NULL, NULL, &kit->at);
  /* A current that has nowhere to go is refused (Kirchhoff's current law). */
  if (strcmp (type->word, "current-source") == 0 && change && change->kind == ML_NODAL_PIN_RESISTANCE
      && ml_nodal_circuit_parameter (kit->circuit, device, 0) != 0)
    {
      assert_int_equal (status, ML_NODAL_SINGULAR);
      return;
    }
  if (status < 0)
    print_error ("%s: %s\n", what, ml_nodal_status_text (status));
  assert_true (status >= 0);
  check_point (kit, device, type->n_pins, change ? change->permutation : NULL, what);
}

static void
try_all_changes (Kit *kit, int device, const char *word, double volts)
{
  const MlNodalType *type = ml_nodal_circuit_type (kit->circuit, device);
  int n = type->n_pins, turned[ML_NODAL_MAX_LOCAL];

  try_change (kit, device, NULL, word, volts);
  for (int a = 0; a < n; a++)
    {
      turned[a] = n - 1 - a;
      try_change (kit, device, &(MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = device, .index = a, .value = INFINITY }, word, volts);
      for (int b = 0; b < a; b++)
        try_change (kit, device, &(MlNodalChange){ .kind = ML_NODAL_BRIDGE_PINS, .device = device, .index = a, .index_b = b }, word, volts);
    }
  for (int e = 0; e < type->n_elements; e++)
    try_change (kit, device, &(MlNodalChange){ .kind = ML_NODAL_OPEN_ELEMENT, .device = device, .index = e }, word, volts);
  try_change (kit, device, &(MlNodalChange){ .kind = ML_NODAL_PERMUTE_PINS, .device = device, .permutation = turned }, word, volts);
}

/* No supply, one the wrong way round, a thousand volts; each pin open, each two shorted, each element open, turned round. */
static void
test_kind_survives_what_boards_do (void **state)
{
  const char *word;

  for (int w = 0; (word = kit_word_at (w)); w++)
    {
      double parameters[ML_NODAL_MAX_PARAMETERS];
      int n = ml_nodal_type_n_pins (kit_word_type (word, parameters));
      for (int pair = 0; pair < n * n; pair++)
        for (int v = 0; v < N_WORST && pair / n < pair % n; v++)
          {
            Kit kit;
            int device = build_worst (&kit, word, pair / n, pair % n, worst_v[v]);
            try_all_changes (&kit, device, word, worst_v[v]);
            kit_end (&kit);
          }
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_kind_slopes_agree_with_differences), cmocka_unit_test (test_every_spread_has_a_tested_slope),
    cmocka_unit_test (test_kind_survives_what_boards_do), cmocka_unit_test (test_every_law_states_its_source),
    cmocka_unit_test (test_every_figure_states_its_source),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
