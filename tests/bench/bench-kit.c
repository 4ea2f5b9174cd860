/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/bench-kit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

double
bench_now_s (void)
{
  struct timespec t;
  clock_gettime (CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double) t.tv_sec + 1e-9 * (double) t.tv_nsec;
}

static double
draw (unsigned long *state)
{
  /* Knuth, MMIX linear congruential generator */
  *state = *state * 6364136223846793005UL + 1442695040888963407UL;
  return (double) (*state >> 11) / 9007199254740992.0;
}

static void
add (MlNodalCircuit *circuit, const char *word, const int *nets, double first)
{
  const MlNodalType *type = ml_nodal_type_find (word);
  double parameters[ML_NODAL_MAX_PARAMETERS];

  for (int p = 0; p < type->n_parameters; p++)
    parameters[p] = type->parameters[p].initial;
  if (first > 0)
    parameters[0] = first;
  if (ml_nodal_circuit_add_device (circuit, type, nets, parameters) < 0)
    abort ();
}

MlNodalCircuit *
bench_stages (int n_nets)
{
  MlNodalCircuit *circuit = ml_nodal_circuit_new ();
  unsigned long seed = 7;

  for (int i = 0; i < n_nets; i++)
    ml_nodal_circuit_add_net (circuit);
  add (circuit, "supply", (int[]){ 1, 0 }, 12);
  add (circuit, "fuse", (int[]){ 1, 2 }, 0.2);
  for (int net = 3; net + 4 <= n_nets; net += 5)
    {
      double r = pow (10, 3 + draw (&seed));
      add (circuit, "resistor", (int[]){ 2, net }, r);
      add (circuit, "zener", (int[]){ 0, net }, 0);
      add (circuit, "resistor", (int[]){ net, net + 1 }, 10 * r);
      add (circuit, "npn", (int[]){ net + 2, net + 1, 0 }, 0);
      add (circuit, "coil", (int[]){ 2, net + 2 }, 0);
      add (circuit, "diode", (int[]){ net + 2, 2 }, 0);
      add (circuit, "resistor", (int[]){ 2, net + 3 }, r);
      add (circuit, "led", (int[]){ net + 3, net + 4 }, 0);
      add (circuit, "resistor", (int[]){ net + 4, net > 3 ? net - 1 : 0 }, r);
      add (circuit, "capacitor", (int[]){ net, 0 }, 0);
    }
  if (ml_nodal_circuit_finish (circuit) != ML_NODAL_OK)
    abort ();
  return circuit;
}

MlNodalCircuit *
bench_grid (int side)
{
  MlNodalCircuit *circuit = ml_nodal_circuit_new ();
  unsigned long seed = 9;

  for (int i = 0; i < side * side; i++)
    ml_nodal_circuit_add_net (circuit);
  add (circuit, "supply", (int[]){ 1, 0 }, 12);
  for (int i = 0; i < side * side; i++)
    {
      if (i % side + 1 < side)
        add (circuit, "resistor", (int[]){ i + 1, i + 2 }, 100 + 1000 * draw (&seed));
      if (i + side < side * side)
        add (circuit, "resistor", (int[]){ i + 1, i + 1 + side }, 100 + 1000 * draw (&seed));
      if (i % 4 == 0)
        add (circuit, "diode", (int[]){ i + 1, 0 }, 0);
      else
        add (circuit, "resistor", (int[]){ i + 1, 0 }, 1e5);
    }
  if (ml_nodal_circuit_finish (circuit) != ML_NODAL_OK)
    abort ();
  return circuit;
}

int
bench_compare (const void *a, const void *b)
{
  double x = *(const double *) a, y = *(const double *) b;
  return (x > y) - (x < y);
}

double
bench_bare_step_s (MlNodalSolver *solver, int rounds)
{
  MlNodalMatrix *m = &solver->matrix;
  double *b = malloc ((size_t) m->n * sizeof *b), best = INFINITY;
  klu_numeric *numeric = klu_factor (m->circuit->column, m->circuit->row, m->values, m->symbolic, &m->common);

  if (!b || !numeric)
    abort ();
  for (int batch = 0; batch < 5; batch++)
    {
      double start = bench_now_s ();
      for (int i = 0; i < rounds; i++)
        {
          memcpy (b, solver->f + 1, (size_t) m->n * sizeof *b);
          klu_refactor (m->circuit->column, m->circuit->row, m->values, m->symbolic, numeric, &m->common);
          klu_solve (m->symbolic, numeric, m->n, 1, b, &m->common);
        }
      best = fmin (best, (bench_now_s () - start) / rounds);
    }
  klu_free_numeric (&numeric, &m->common);
  free (b);
  return best;
}

int
bench_faults (const MlNodalCircuit *circuit, MlNodalChange *changes)
{
  int n = 0;

  for (int d = 1; d < circuit->n_devices; d++)
    {
      changes[n++] = (MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = 0, .value = INFINITY };
      changes[n++] = (MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = 1, .value = 1e3 };
      changes[n++] = (MlNodalChange){ .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = 0, .index_b = 1, .value = 0 };
      changes[n++] = (MlNodalChange){ .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = 0, .index_b = 1, .value = 500 };
      changes[n++] = (MlNodalChange){ .kind = ML_NODAL_SET_PARAMETER, .device = d, .index = 0,
                                      .value = 3 * circuit->parameters[circuit->devices[d].first_parameter] };
    }
  return n;
}
