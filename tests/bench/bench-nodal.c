/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the engine costs beside its linear algebra, as ratios within one run: a Newton step against klu_refactor and klu_solve of the same
 * matrix, a fault from the healthy solution against a cold solve, and growth with size. Prints a table; asserts nothing. */
#include "nodal/solver.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static double
now_s (void)
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

/* Stages fed from one rail, each with resistors, a diode or LED or zener, and a transistor with a relay coil: the mix of small boards. */
static MlNodalCircuit *
stages (int n_nets)
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

/* A square grid of resistors with a diode to the reference at every fourth net. */
static MlNodalCircuit *
grid (int side)
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

static int
compare (const void *a, const void *b)
{
  double x = *(const double *) a, y = *(const double *) b;
  return (x > y) - (x < y);
}

/* Seconds of one klu_refactor and klu_solve of the solver's current matrix. */
static double
bare_step_s (MlNodalSolver *solver, int rounds)
{
  MlNodalMatrix *m = &solver->matrix;
  double *b = malloc ((size_t) m->n * sizeof *b), best = INFINITY;

  for (int batch = 0; batch < 5; batch++)
    {
      double start = now_s ();
      for (int i = 0; i < rounds; i++)
        {
          memcpy (b, solver->f + 1, (size_t) m->n * sizeof *b);
          klu_refactor ((int *) m->circuit->column, (int *) m->circuit->row, m->values, m->symbolic, m->numeric, &m->common);
          klu_solve (m->symbolic, m->numeric, m->n, 1, b, &m->common);
        }
      best = fmin (best, (now_s () - start) / rounds);
    }
  free (b);
  return best;
}

static void
report_step (int n_nets)
{
  MlNodalCircuit *circuit = stages (n_nets);
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution at;
  int rounds = 20000 / n_nets + 3;
  double best = INFINITY;

  if (!solver || ml_nodal_solution_init (&at, circuit) != ML_NODAL_OK)
    abort ();
  for (int batch = 0; batch < 5; batch++)
    {
      long steps = ml_nodal_solver_counts (solver).newton_steps;
      double start = now_s ();
      for (int i = 0; i < rounds; i++)
        if (ml_nodal_solve (solver, NULL, 0, NULL, &at) < 0)
          abort ();
      best = fmin (best, (now_s () - start) / (double) (ml_nodal_solver_counts (solver).newton_steps - steps));
    }
  int cold_steps = at.iterations;
  double bare = bare_step_s (solver, rounds * 10);
  printf ("%6d nets: Newton step %8.2f us, klu_refactor + klu_solve %8.2f us, ratio %.2f (cold solve: %d steps)\n", n_nets, 1e6 * best,
          1e6 * bare, best / bare, cold_steps);
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
}

static void
report_faults (int n_nets)
{
  MlNodalCircuit *circuit = stages (n_nets);
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution healthy, at;
  double *ratios = malloc (8 * (size_t) circuit->n_devices * sizeof *ratios), cold = INFINITY;
  int n = 0;
  long steps = 0;

  if (!solver || ml_nodal_solution_init (&at, circuit) != ML_NODAL_OK || ml_nodal_solution_init (&healthy, circuit) != ML_NODAL_OK)
    abort ();
  for (int i = 0; i < 50; i++)
    {
      double start = now_s ();
      ml_nodal_solve (solver, NULL, 0, NULL, &healthy);
      cold = fmin (cold, now_s () - start);
    }
  for (int d = 1; d < circuit->n_devices; d++)
    {
      const MlNodalChange faults[] = {
        { .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = 0, .value = INFINITY },
        { .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = 1, .value = 1e3 },
        { .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = 0, .index_b = 1, .value = 0 },
        { .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = 0, .index_b = 1, .value = 500 },
        { .kind = ML_NODAL_SET_PARAMETER, .device = d, .index = 0, .value = 3 * circuit->parameters[circuit->devices[d].first_parameter] },
      };
      for (size_t k = 0; k < sizeof faults / sizeof faults[0]; k++)
        {
          double best = INFINITY;
          for (int i = 0; i < 5; i++)
            {
              double start = now_s ();
              ml_nodal_solve (solver, &faults[k], 1, &healthy, &at);
              best = fmin (best, now_s () - start);
            }
          steps += at.iterations;
          ratios[n++] = best / cold;
        }
    }
  qsort (ratios, (size_t) n, sizeof *ratios, compare);
  printf ("%6d nets: fault from healthy / cold solve: median %.2f, 95 %% %.2f, over %d faults, %.1f steps each (cold %.1f us)\n", n_nets,
          ratios[n / 2], ratios[n * 95 / 100], n, (double) steps / n, 1e6 * cold);
  free (ratios);
  ml_nodal_solution_clear (&at);
  ml_nodal_solution_clear (&healthy);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
}

static double
grid_s (int side)
{
  double start = now_s ();
  MlNodalCircuit *circuit = grid (side);
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution at;
  struct rusage usage;

  if (!solver || ml_nodal_solution_init (&at, circuit) != ML_NODAL_OK)
    abort ();
  double ready = now_s ();
  status = ml_nodal_solve (solver, NULL, 0, NULL, &at);
  double end = now_s ();
  getrusage (RUSAGE_SELF, &usage);
  printf ("%6d nets (grid with diodes): built and analysed %.3f s, solved %.3f s, %d steps, %s; %.2f kB a net at the peak\n", side * side,
          ready - start, end - ready, at.iterations, ml_nodal_status_text (status), (double) usage.ru_maxrss / (side * side));
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
  return end - start;
}

int
main (void)
{
  static const int sizes[] = { 20, 50, 200, 1000, 5000 };
  static const int sides[] = { 10, 32, 100, 316 };
  double times[4];

  for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
    report_step (sizes[i]);
  report_faults (50);
  report_faults (200);
  for (int i = 0; i < 4; i++)
    times[i] = grid_s (sides[i]);
  printf ("growth from 1000 to 100 000 nets: time ~ nets^%.2f\n", log (times[3] / times[1]) / log (316.0 * 316 / (32 * 32)));
  return 0;
}
