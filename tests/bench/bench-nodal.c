/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the engine costs beside its linear algebra, as ratios within one run: a Newton step against klu_refactor and klu_solve of the same
 * matrix, a fault from the healthy solution against a cold solve, faults side by side, and growth with size. Prints a table; asserts
 * nothing. */
#include "bench/bench-kit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>

static void
report_step (int n_nets)
{
  MlNodalCircuit *circuit = bench_stages (n_nets);
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
      double start = bench_now_s ();
      for (int i = 0; i < rounds; i++)
        if (ml_nodal_solve (solver, NULL, 0, NULL, &at) < 0)
          abort ();
      best = fmin (best, (bench_now_s () - start) / (double) (ml_nodal_solver_counts (solver).newton_steps - steps));
    }
  int cold_steps = at.iterations;
  double bare = bench_bare_step_s (solver, rounds * 10);
  printf ("(a) %6d nets: Newton step %8.2f us, klu_refactor + klu_solve %8.2f us, ratio %.2f (cold solve: %d steps)\n", n_nets, 1e6 * best,
          1e6 * bare, best / bare, cold_steps);
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
}

static void
report_faults (int n_nets)
{
  MlNodalCircuit *circuit = bench_stages (n_nets);
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution healthy, at;
  MlNodalChange *faults = malloc (5 * (size_t) circuit->n_devices * sizeof *faults);
  double *ratios = malloc (5 * (size_t) circuit->n_devices * sizeof *ratios), cold = INFINITY;
  long steps = 0;

  if (!solver || !faults || !ratios || ml_nodal_solution_init (&at, circuit) != ML_NODAL_OK
      || ml_nodal_solution_init (&healthy, circuit) != ML_NODAL_OK)
    abort ();
  int n = bench_faults (circuit, faults);
  for (int i = 0; i < 50; i++)
    {
      double start = bench_now_s ();
      ml_nodal_solve (solver, NULL, 0, NULL, &healthy);
      cold = fmin (cold, bench_now_s () - start);
    }
  for (int k = 0; k < n; k++)
    {
      double best = INFINITY;
      for (int i = 0; i < 5; i++)
        {
          double start = bench_now_s ();
          ml_nodal_solve (solver, &faults[k], 1, &healthy, &at);
          best = fmin (best, bench_now_s () - start);
        }
      steps += at.iterations;
      ratios[k] = best / cold;
    }
  qsort (ratios, (size_t) n, sizeof *ratios, bench_compare);
  printf ("(b) %6d nets: fault from healthy / cold solve: median %.2f, 95 %% %.2f, over %d faults, %.1f steps each (cold %.1f us)\n", n_nets,
          ratios[n / 2], ratios[n * 95 / 100], n, (double) steps / n, 1e6 * cold);
  free (ratios);
  free (faults);
  ml_nodal_solution_clear (&at);
  ml_nodal_solution_clear (&healthy);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
}

/* The same faults one by one and side by side. */
static void
report_variants (int n_nets)
{
  MlNodalCircuit *circuit = bench_stages (n_nets);
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution healthy;
  size_t most = 5 * (size_t) circuit->n_devices;
  MlNodalChange *faults = malloc (most * sizeof *faults);
  MlNodalVariant *variants = malloc (most * sizeof *variants);
  MlNodalSolution *at = malloc (most * sizeof *at);
  double alone = INFINITY, together = INFINITY;
  long steps = 0;

  if (!solver || !faults || !variants || !at || ml_nodal_solution_init (&healthy, circuit) != ML_NODAL_OK
      || ml_nodal_solve (solver, NULL, 0, NULL, &healthy) < 0)
    abort ();
  int n = bench_faults (circuit, faults);
  for (int k = 0; k < n; k++)
    {
      if (ml_nodal_solution_init (&at[k], circuit) != ML_NODAL_OK)
        abort ();
      variants[k] = (MlNodalVariant){ &faults[k], 1, &healthy, &at[k], { NULL } };
    }
  for (int round = 0; round < 5; round++)
    {
      double start = bench_now_s ();
      for (int k = 0; k < n; k++)
        ml_nodal_solve (solver, &faults[k], 1, &healthy, &at[k]);
      alone = fmin (alone, bench_now_s () - start);
      start = bench_now_s ();
      ml_nodal_solve_variants (solver, variants, n);
      together = fmin (together, bench_now_s () - start);
    }
  for (int k = 0; k < n; k++)
    {
      steps += at[k].iterations;
      ml_nodal_solution_clear (&at[k]);
    }
  double bare = (double) steps * bench_bare_step_s (solver, 2000);
  printf ("(c) %6d nets: %d faults, %ld Newton steps: one by one %.2f, side by side %.2f times their klu_refactor + klu_solve (%.1f ms)\n", n_nets,
          n, steps, alone / bare, together / bare, 1e3 * together);
  free (at);
  free (variants);
  free (faults);
  ml_nodal_solution_clear (&healthy);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
}

/* Seconds from building to the solution. */
static double
report_size (const char *what, MlNodalCircuit *(*build) (int size), int size, int n_nets)
{
  double start = bench_now_s ();
  MlNodalCircuit *circuit = build (size);
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution at;
  struct rusage usage, before;

  getrusage (RUSAGE_SELF, &before);
  if (!solver || ml_nodal_solution_init (&at, circuit) != ML_NODAL_OK)
    abort ();
  double ready = bench_now_s ();
  status = ml_nodal_solve (solver, NULL, 0, NULL, &at);
  double end = bench_now_s ();
  getrusage (RUSAGE_SELF, &usage);
  printf ("(e) %6d nets (%s): built and analysed %.4f s, solved %.4f s, %d steps, %s\n", n_nets, what, ready - start, end - ready,
          at.iterations, ml_nodal_status_text (status));
  if (usage.ru_maxrss > before.ru_maxrss) /* the first at this size: the peak is its own */
    printf ("(f) %6d nets: peak %.2f kB a net\n", n_nets, (double) usage.ru_maxrss / n_nets);
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
  return end - start;
}

/* Stages grow as boards do, near-linearly. A square grid is the hardest planar network: its elimination costs nets^1.5 at best in any
 * order. Source: A. J. Hoffman, M. S. Martin, D. J. Rose, SIAM J. Numer. Anal. 10 (1973). */
static void
report_growth (void)
{
  static const int sizes[] = { 100, 1000, 10000, 100000 }, sides[] = { 10, 32, 100, 316 };
  double stages[4], grid[4];

  for (int i = 0; i < 4; i++)
    stages[i] = report_size ("stages on a rail", bench_stages, sizes[i], sizes[i]);
  for (int i = 0; i < 4; i++)
    grid[i] = report_size ("grid with diodes", bench_grid, sides[i], sides[i] * sides[i]);
  printf ("(e) growth from 100 to 100 000 nets: stages time ~ nets^%.2f, grid time ~ nets^%.2f\n", log (stages[3] / stages[0]) / log (1000),
          log (grid[3] / grid[0]) / log (316.0 * 316 / 100));
}

int
main (void)
{
  static const int sizes[] = { 20, 50, 200, 1000, 5000 };

  for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
    report_step (sizes[i]);
  report_faults (50);
  report_faults (200);
  report_variants (50);
  report_variants (200);
  report_growth ();
  return 0;
}
