/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How many Newton steps each fault of a dictionary takes, by kind of fault and by rung of the ladder, how often pivots are chosen afresh,
 * and which states are the dearest. bench-steps [SEED PARTS]…; without them generated boards of 50 and 120 parts. Prints a table; asserts
 * nothing. METERLEAF_BENCH_DEAREST=N lists the N dearest and METERLEAF_BENCH_MOST=N solves about N states alone. METERLEAF_BENCH_SHARE=0.1
 * also makes that share of the dictionary as the programs do, side by side, and says what all of it would take in time and memory. */
#include "bench/bench-kit.h"
#include "support/generate.h"
#include "support/models.h"
#include "verdict/dictionary.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define N_CONDITIONS 4

typedef struct
{
  long solves, failures, steps, factors, rungs[ML_NODAL_N_RUNGS], steps_of[ML_NODAL_N_RUNGS];
  double spent_s;
} Tally;

typedef struct
{
  guint item, condition;
  long steps, factors;
  MlNodalRung rung;
  MlNodalStatus status;
  double spent_s;
} Solved;

static void
add (Tally *tally, const Solved *solved)
{
  tally->solves++;
  tally->failures += solved->status < 0;
  tally->steps += solved->steps;
  tally->factors += solved->factors;
  tally->rungs[solved->rung]++;
  tally->steps_of[solved->rung] += solved->steps;
  tally->spent_s += solved->spent_s;
}

static void
print_tally (const char *name, const Tally *tally, double whole_s)
{
  if (!tally->solves)
    return;
  g_print ("  %-16s %6ld solves %5.1f %% of the time %6.2f steps each %5.2f pivotings; by rung", name, tally->solves, 100 * tally->spent_s / whole_s,
           (double) tally->steps / (double) tally->solves, (double) tally->factors / (double) tally->solves);
  for (int r = 0; r < ML_NODAL_N_RUNGS; r++)
    if (tally->rungs[r])
      g_print (" %d: %ld (%.1f)", r, tally->rungs[r], (double) tally->steps_of[r] / (double) tally->rungs[r]);
  g_print ("%s", tally->failures ? "" : "\n");
  if (tally->failures)
    g_print ("; %ld failed\n", tally->failures);
}

static int
dearest_first (gconstpointer a, gconstpointer b)
{
  double x = ((const Solved *) a)->spent_s, y = ((const Solved *) b)->spent_s;

  return (x < y) - (x > y);
}

static Solved
solve (MlDictionary *dictionary, guint item, guint condition)
{
  MlNodalSolver *solver = dictionary->model->conditions[condition].solver;
  MlExpansion *expansion = dictionary->expansions[item];
  MlNodalCounts before = ml_nodal_solver_counts (solver), after;
  double start = bench_now_s ();
  Solved solved = { .item = item, .condition = condition };

  ml_expansion_solve (dictionary, expansion, (int) condition, NULL);
  solved.spent_s = bench_now_s () - start;
  after = ml_nodal_solver_counts (solver);
  solved.steps = after.newton_steps - before.newton_steps;
  solved.factors = after.factors - before.factors;
  solved.rung = expansion->at[condition].rung;
  solved.status = expansion->at[condition].status;
  return solved;
}

static void
print_dearest (const MlDictionary *dictionary, GArray *all, guint n)
{
  g_array_sort (all, dearest_first);
  for (guint i = 0; i < MIN (n, all->len); i++)
    {
      const Solved *own = &g_array_index (all, Solved, i);
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, own->item);
      g_autofree char *what = hypothesis->explains == ML_EXPLAINS_HEALTHY ? g_strdup ("healthy") : ml_fault_describe (dictionary->model->board, &hypothesis->fault);

      g_print ("    %6u %8.2f ms %4ld steps, %2ld pivotings, rung %d, status %d: %s, cell %u of %u, node %u, %s\n", own->item, 1e3 * own->spent_s, own->steps, own->factors,
               own->rung, own->status, what, dictionary->items[own->item].cell, hypothesis->n_cells, dictionary->items[own->item].node,
               dictionary->model->board->conditions[own->condition].name);
    }
}

static guint
from_environment (const char *name, guint otherwise)
{
  return g_getenv (name) ? (guint) MAX (atoi (g_getenv (name)), 0) : otherwise;
}

/* Through all nodes. */
static guint
stride_of (const MlDictionary *dictionary)
{
  guint stride = MAX (dictionary->n_early / MAX (from_environment ("METERLEAF_BENCH_MOST", dictionary->n_early), 1), 1);

  return stride > 1 && stride % dictionary->model->n_nodes == 0 ? stride + 1 : stride;
}

/* ---- as the programs make it ---- */

typedef struct
{
  double share, most;
  GCancellable *cancellable;
} Progress;

static void
progress_cb (double share, gpointer data)
{
  Progress *own = data;

  own->share = share;
  if (share >= own->most)
    g_cancellable_cancel (own->cancellable);
}

static double
resident_mb (void)
{
  g_autofree char *text = NULL;
  long pages = 0;

  if (g_file_get_contents ("/proc/self/statm", &text, NULL, NULL))
    sscanf (text, "%*s %ld", &pages);
  return (double) pages * (double) sysconf (_SC_PAGESIZE) / 1e6;
}

static void
report_share (MlBoard *board, double most)
{
  MlDictionary *dictionary = ml_dictionary_new (ml_model_new (board, NULL));
  g_autoptr (GCancellable) cancellable = g_cancellable_new ();
  Progress progress = { 0, most, cancellable };
  double before_mb = resident_mb (), start = bench_now_s (), spent_s, bare_s = 0;
  long solves = 0, steps = 0;

  ml_dictionary_prepare (dictionary, progress_cb, &progress, cancellable, NULL);
  spent_s = bench_now_s () - start;
  for (guint c = 0; c < board->n_conditions; c++)
    if (dictionary->model->conditions[c].solver)
      {
        MlNodalCounts counts = ml_nodal_solver_counts (dictionary->model->conditions[c].solver);
        solves += counts.solves;
        steps += counts.newton_steps;
        bare_s += (double) counts.newton_steps * bench_bare_step_s (dictionary->model->conditions[c].solver, 100);
      }
  g_print ("  %.1f %% made in %.2f s: %.1f us a solve, %.2f times the klu_refactor + klu_solve of %.2f steps each; all of it %.1f s and %.0f MB\n", 100 * progress.share, spent_s,
           1e6 * spent_s / (double) solves, spent_s / bare_s, (double) steps / (double) solves, spent_s / progress.share, (resident_mb () - before_mb) / progress.share);
  ml_dictionary_free (dictionary);
}

static void
report (const char *name, MlBoard *board)
{
  double start = bench_now_s (), made, whole_s = 0;
  MlDictionary *dictionary = ml_dictionary_new (ml_model_new (board, NULL));
  Tally sum = { 0 }, kinds[ML_N_FAULTS + 1] = { 0 };
  g_autoptr (GArray) all = g_array_new (FALSE, FALSE, sizeof (Solved));
  guint stride = stride_of (dictionary);
  long unknowns = 0;

  made = bench_now_s () - start;
  for (guint i = 0; i < dictionary->n_early; i++)
    for (guint c = 0; c < board->n_conditions; c++)
      {
        if (dictionary->items[i].twin >= 0 || !dictionary->model->conditions[c].solver || (i >= dictionary->model->n_nodes && i % stride))
          continue;
        const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, i);
        Solved solved = solve (dictionary, i, c);
        unknowns = dictionary->model->conditions[c].solver->matrix.n;
        add (&sum, &solved);
        add (&kinds[hypothesis->explains == ML_EXPLAINS_HEALTHY ? ML_N_FAULTS : hypothesis->fault.kind], &solved);
        g_array_append_val (all, solved);
        whole_s += solved.spent_s;
      }
  g_print ("%s: %u parts, %u conditions, %u states, %ld unknowns; made %.1f ms, solved %.1f ms, %.1f us a solve, %.1f us a step\n", name, board->n_parts,
           board->n_conditions, dictionary->n_early, unknowns, 1e3 * made, 1e3 * whole_s, 1e6 * whole_s / (double) sum.solves,
           1e6 * whole_s / (double) sum.steps);
  print_tally ("all", &sum, whole_s);
  for (guint k = 0; k <= ML_N_FAULTS; k++)
    print_tally (k < ML_N_FAULTS ? ml_fault_word ((MlFaultKind) k) : "healthy", &kinds[k], whole_s);
  print_dearest (dictionary, all, from_environment ("METERLEAF_BENCH_DEAREST", 0));
  ml_dictionary_free (dictionary);
  if (g_getenv ("METERLEAF_BENCH_SHARE"))
    report_share (board, g_ascii_strtod (g_getenv ("METERLEAF_BENCH_SHARE"), NULL));
}

/* As in bench-verdict: the generator's last condition at lower supplies too. */
static void
report_generated (guint64 seed, guint n_parts)
{
  g_autofree char *text = ml_generate_conditions (seed, n_parts, N_CONDITIONS), *name = g_strdup_printf ("generated %u", (guint) seed);
  g_autoptr (MlBoard) board = ml_test_board (text);

  report (name, board);
}

static void
report_file (const char *path)
{
  g_autofree char *text = NULL;

  if (!g_file_get_contents (path, &text, NULL, NULL))
    g_error ("%s cannot be read", path);
  g_autoptr (MlBoard) board = ml_test_board (text);
  report (path, board);
}

int
main (int argc, char **argv)
{
  for (int i = 1; i < argc; i += 2)
    if (i + 1 < argc && g_ascii_isdigit (argv[i][0]))
      report_generated ((guint64) atoi (argv[i]), (guint) atoi (argv[i + 1]));
    else
      report_file (argv[i--]);
  if (argc > 1)
    return 0;
  for (guint64 seed = 1; seed <= 3; seed++)
    report_generated (seed, 50);
  report_generated (1, 120);
  return 0;
}
