/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The operating point: varied, solved, and the states of contacts and latches followed until they rest. */
#include "nodal/solver.h"

static const char *const status_texts[] = { "solved", "solved, but more than one state is possible" };

static const char *const failure_texts[] = { "", "out of memory", "nothing determines a net, or ideal sources form a loop",
                                             "did not settle", "bad argument" };

const char *
ml_nodal_status_text (MlNodalStatus status)
{
  if (status >= 0)
    return status_texts[status > 1 ? 1 : status];
  return failure_texts[status < -4 ? 4 : -status];
}

/* The rung that a ladder begins on. */
static MlNodalRung
first_rung (const MlNodalSolution *start)
{
  return start ? ML_NODAL_RUNG_WARM : ML_NODAL_RUNG_COLD;
}

MlNodalStatus
ml_nodal_run_once (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *start,
                   MlNodalSolution *ret_solution)
{
  int row = 0;
  MlNodalStatus status = ml_nodal_vary (solver, changes, n_changes, meter);

  ret_solution->failed_net = ret_solution->failed_device = -1;
  if (status != ML_NODAL_OK)
    return status;
  status = ml_nodal_climb (solver, start, &ret_solution->rung, &ret_solution->iterations, &row);
  if (status >= 0)
    {
      MlNodalStatus checked = ml_nodal_check_gauges (solver, ret_solution);
      status = checked == ML_NODAL_OK ? status : checked;
    }
  else if (status == ML_NODAL_SINGULAR)
    ml_nodal_name_failure (solver, row, ret_solution);
  else if (status == ML_NODAL_NOT_CONVERGED)
    {
      ml_nodal_name_failure (solver, solver->worst_step, ret_solution);
      if (ret_solution->failed_net < 0 && ret_solution->failed_device < 0)
        ret_solution->failed_device = solver->limit_device;
    }
  return ml_nodal_fill_solution (solver, changes, ret_solution) == ML_NODAL_OK ? status : ML_NODAL_NO_MEMORY;
}

MlNodalStatus
ml_nodal_run_begin (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *start,
                    MlNodalSolution *ret_solution)
{
  solver->at_work = start && (meter || solver->measuring);
  ml_nodal_recall_states (solver, start, solver->at_work);
  ret_solution->failed_net = ret_solution->failed_device = -1;
  ret_solution->rung = start ? ML_NODAL_RUNG_WARM : ML_NODAL_RUNG_COLD;
  MlNodalStatus status = ml_nodal_vary (solver, changes, n_changes, meter);
  if (status == ML_NODAL_OK)
    ml_nodal_begin_at (solver, start);
  return status;
}

bool
ml_nodal_run_end (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *ret_solution)
{
  int restless;

  if (ml_nodal_check_gauges (solver, ret_solution) != ML_NODAL_OK)
    return false;
  if (ml_nodal_fill_solution (solver, changes, ret_solution) != ML_NODAL_OK || ml_nodal_move_states (solver, changes, n_changes, &restless))
    return false;
  ret_solution->iterations = solver->newton.steps;
  ret_solution->residual_a = solver->residual_a;
  ret_solution->status = ml_nodal_keeps_states (solver) ? ML_NODAL_AMBIGUOUS : ML_NODAL_OK;
  return true;
}

MlNodalStatus
ml_nodal_run (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *start,
              MlNodalSolution *ret_solution)
{
  if (!ml_nodal_solution_fits (ret_solution, solver->circuit))
    return ML_NODAL_BAD_ARGUMENT;
  solver->counts.solves++;
  /* A solution depends on the circuit, the changes and the start alone, not on what this solver did before. */
  if (ml_nodal_matrix_usual_pivots (&solver->matrix) != ML_NODAL_OK)
    return ret_solution->status = ML_NODAL_NO_MEMORY;
  solver->at_work = start && (meter || solver->measuring);
  ml_nodal_recall_states (solver, start, solver->at_work);
  ret_solution->iterations = solver->failed_steps;
  ret_solution->rung = ML_NODAL_RUNG_COLD;
  start = start && start->status >= 0 ? start : NULL;
  solver->first_rung = solver->patient ? ML_NODAL_RUNG_TRANSIENT : first_rung (start) + (solver->failed_steps > 0);
  MlNodalStatus status = ml_nodal_run_once (solver, changes, n_changes, meter, start, ret_solution);
  /* Where it does not settle with its contacts and latches as built, they begin where the start has them. */
  if (status == ML_NODAL_NOT_CONVERGED && start && start != ret_solution && !solver->at_work && !solver->only_warm
      && ml_nodal_recall_other_states (solver, start))
    {
      solver->first_rung = ML_NODAL_RUNG_WARM;
      status = ml_nodal_run_once (solver, changes, n_changes, meter, start, ret_solution);
    }
  bool in_balance = status == ML_NODAL_AMBIGUOUS;
  int restless = -1;
  for (int k = 1; status >= 0 && ml_nodal_move_states (solver, changes, n_changes, &restless); k++)
    {
      solver->first_rung = ML_NODAL_RUNG_WARM;
      ret_solution->status = status;
      if (k % ML_NODAL_MOST_MOVES != 0)
        status = ml_nodal_run_once (solver, changes, n_changes, meter, ret_solution, ret_solution);
      else if ((status = k < 4 * ML_NODAL_MOST_MOVES ? ml_nodal_balance (solver, changes, n_changes, meter, restless, ret_solution) : ML_NODAL_NOT_CONVERGED) < 0)
        ret_solution->failed_device = restless;
      in_balance = in_balance || status == ML_NODAL_AMBIGUOUS;
    }
  solver->failed_steps = 0;
  if (status >= 0 && (in_balance || ml_nodal_keeps_states (solver)))
    status = ML_NODAL_AMBIGUOUS;
  double residual_a = solver->residual_a;
  if (status >= 0 && !start && !meter && solver->circuit->n_latching > 0)
    {
      MlNodalStatus looked = ml_nodal_look_for_other_states (solver, changes, n_changes, ret_solution);
      status = looked == ML_NODAL_OK ? status : looked;
    }
  if (status < 0)
    solver->counts.failures++;
  else
    solver->counts.solved_by[ret_solution->rung]++;
  ret_solution->status = status;
  ret_solution->residual_a = residual_a;
  return status;
}

MlNodalStatus
ml_nodal_solve (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start,
                MlNodalSolution *ret_solution)
{
  return ml_nodal_run (solver, changes, n_changes, NULL, start, ret_solution);
}

MlNodalStatus
ml_nodal_solve_patiently (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start,
                          MlNodalSolution *ret_solution)
{
  MlNodalStatus status = ml_nodal_run (solver, changes, n_changes, NULL, start, ret_solution);

  if (status != ML_NODAL_NOT_CONVERGED)
    return status;
  solver->counts.failures--;
  solver->patient = true;
  solver->failed_steps = ret_solution->iterations;
  status = ml_nodal_run (solver, changes, n_changes, NULL, NULL, ret_solution);
  solver->patient = false;
  return status;
}
