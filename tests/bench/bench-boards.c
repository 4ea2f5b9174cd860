/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The engine on boards: each demo board's operating points, against general solvers and against its own linear algebra; and the fault
 * dictionary of a board of 50 parts. Prints a table; asserts nothing. */
#include "bench/bench-kit.h"
#include "bench/other-solvers.h"
#include "support/generate.h"
#include "support/models.h"
#include "verdict/dictionary.h"

#include <math.h>
#include <string.h>

/* Whether another solver's net voltages are the engine's to a microvolt. */
static gboolean
agrees (const MlNodalCircuit *circuit, const MlNodalSolution *at, const double *x)
{
  for (int u = 1; u < ml_nodal_circuit_n_nets (circuit); u++)
    if (!at->floating[u] && !(fabs (x[u] - at->net_v[u]) <= 1e-6 * (1 + fabs (at->net_v[u]))))
      return FALSE;
  return TRUE;
}

typedef struct { double best_s; int calls; gboolean right; } Timed;

static Timed
time_other (MlNodalSolver *solver, int which, const MlNodalSolution *at, int rounds)
{
  Timed timed = { INFINITY, 0, FALSE };
  g_autofree double *x = NULL;
  MlNodalSolution scratch;

  if (ml_nodal_solution_init (&scratch, solver->circuit) != ML_NODAL_OK)
    return timed;
  for (int i = 0; i < rounds; i++)
    {
      ml_nodal_run_begin (solver, NULL, 0, NULL, NULL, &scratch);
      g_free (x);
      x = g_new0 (double, solver->n_unknowns);
      double start = bench_now_s ();
      timed.calls = which == 0 ? bench_gsl_solve (solver, x) : bench_kinsol_solve (solver, which == 1, x);
      timed.best_s = MIN (timed.best_s, bench_now_s () - start);
    }
  timed.right = timed.calls > 0 && agrees (solver->circuit, at, x);
  ml_nodal_solution_clear (&scratch);
  return timed;
}

/* The engine with all it needs from the circuit on, and once that is made. */
static void
time_engine (const MlNodalCircuit *circuit, MlNodalSolution *at, int rounds, double *ret_whole_s, double *ret_solve_s)
{
  MlNodalStatus status;

  *ret_whole_s = *ret_solve_s = INFINITY;
  for (int i = 0; i < rounds; i++)
    {
      double start = bench_now_s ();
      MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
      double made = bench_now_s ();
      if (!solver || ml_nodal_solve (solver, NULL, 0, NULL, at) < 0)
        g_error ("%s", ml_nodal_status_text (status));
      double end = bench_now_s ();
      *ret_whole_s = MIN (*ret_whole_s, end - start);
      *ret_solve_s = MIN (*ret_solve_s, end - made);
      ml_nodal_solver_free (solver);
    }
}

static void
print_other (const char *name, Timed timed, double engine_s)
{
  if (timed.right)
    g_print ("; %s %.1f us, %.1f times", name, 1e6 * timed.best_s, timed.best_s / engine_s);
  else
    g_print ("; %s %s after %.1f us", name, timed.calls ? "wrong" : "failed", 1e6 * timed.best_s);
}

static void
report_point (const char *what, const MlNodalCircuit *circuit, int rounds, gboolean dense)
{
  MlNodalStatus status;
  MlNodalSolver *solver = ml_nodal_solver_new (circuit, &status);
  MlNodalSolution at;
  double whole, alone;

  if (!solver || ml_nodal_solution_init (&at, circuit) != ML_NODAL_OK)
    g_error ("%s", ml_nodal_status_text (status));
  time_engine (circuit, &at, rounds, &whole, &alone);
  g_print ("(d) %s, %d unknowns: engine %.1f us with analysis and pivots, %.1f us without", what, circuit->n_unknowns - 1, 1e6 * whole,
           1e6 * alone);
  print_other ("GSL hybridsj", time_other (solver, 0, &at, dense ? rounds : 1), whole);
  print_other (dense ? "KINSOL dense" : "KINSOL with KLU", time_other (solver, dense ? 1 : 2, &at, dense ? rounds : 3), whole);
  g_print ("\n");
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
}

/* A Newton step of each condition against klu_refactor and klu_solve. */
static void
report_step (const char *what, MlModelCondition *own)
{
  MlNodalSolution at;
  double best = INFINITY;

  if (ml_nodal_solution_init (&at, own->circuit) != ML_NODAL_OK)
    return;
  for (int batch = 0; batch < 5; batch++)
    {
      long steps = ml_nodal_solver_counts (own->solver).newton_steps;
      double start = bench_now_s ();
      for (int i = 0; i < 500; i++)
        ml_nodal_solve (own->solver, NULL, 0, NULL, &at);
      best = MIN (best, (bench_now_s () - start) / (double) (ml_nodal_solver_counts (own->solver).newton_steps - steps));
    }
  double bare = bench_bare_step_s (own->solver, 5000);
  g_print ("(a) %s: Newton step %.2f us, klu_refactor + klu_solve %.2f us, ratio %.2f\n", what, 1e6 * best, 1e6 * bare, best / bare);
  ml_nodal_solution_clear (&at);
}

static void
report_board (const char *name)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", name, NULL);
  g_autofree char *text = NULL;

  if (!g_file_get_contents (path, &text, NULL, NULL))
    g_error ("%s cannot be read: set METERLEAF_SOURCE", path);
  g_autoptr (MlBoard) board = ml_test_board (text);
  MlModel *model = ml_model_new (board, NULL);
  for (guint c = 0; c < board->n_conditions; c++)
    if (model->conditions[c].solver)
      {
        g_autofree char *what = g_strdup_printf ("%s, %s", name, board->conditions[c].name);
        report_step (what, &model->conditions[c]);
        report_point (what, model->conditions[c].circuit, 200, TRUE);
      }
  ml_model_free (model);
}

/* Newton steps and seconds of bare linear algebra of all conditions' solvers. */
static double
bare_cost (MlModel *model, long *ret_steps)
{
  double bare = 0;

  *ret_steps = 0;
  for (guint c = 0; c < model->board->n_conditions; c++)
    if (model->conditions[c].solver)
      {
        long steps = ml_nodal_solver_counts (model->conditions[c].solver).newton_steps;
        *ret_steps += steps;
        bare += (double) steps * bench_bare_step_s (model->conditions[c].solver, 1000);
      }
  return bare;
}

static void
report_dictionary (guint64 seed)
{
  g_autofree char *text = ml_generate_board (seed, 50);
  g_autoptr (MlBoard) board = ml_test_board (text);
  double best = INFINITY, bare = INFINITY;
  long steps = 0;
  guint n_items = 0;

  for (int round = 0; round < 3; round++)
    {
      MlDictionary *dictionary = ml_dictionary_new (ml_model_new (board, NULL));
      double start = bench_now_s ();
      ml_dictionary_prepare (dictionary, NULL, NULL, NULL, NULL);
      best = MIN (best, bench_now_s () - start);
      bare = MIN (bare, bare_cost (dictionary->model, &steps));
      n_items = dictionary->n_items;
      ml_dictionary_free (dictionary);
    }
  g_print ("(c) dictionary of %u parts, %u conditions: %u states, %ld Newton steps, %.3f s; %.2f times their klu_refactor + klu_solve\n",
           board->n_parts, board->n_conditions, n_items, steps, best, best / bare);
}

int
main (void)
{
  report_board ("dust-switch.leafboard");
  report_board ("signal-board.leafboard");
  report_board ("vent-controller.leafboard");
  MlNodalCircuit *stages = bench_stages (1000);
  report_point ("1000 nets of stages", stages, 5, FALSE);
  ml_nodal_circuit_free (stages);
  for (guint64 seed = 1; seed <= 3; seed++)
    report_dictionary (seed);
  return 0;
}
