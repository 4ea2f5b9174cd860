/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Variants of one circuit side by side: each lane runs Newton on its own variant, and the linear systems of all lanes are factored and
 * solved in one pass. A lane that has settled takes the next variant. */
#include "nodal/solver.h"

#include <stdlib.h>
#include <string.h>

#define N_LANES ML_NODAL_LANES
#define ALIGNMENT 64
#define FURTHER_STEPS 30 /* most near starts take ten */

/* A variant that has not settled from its start, after so many steps. */
typedef struct
{
  const MlNodalVariant *variant;
  int steps;
} MlNodalLeft;

struct MlNodalLaneSet
{
  MlNodalSolver *solver[N_LANES];
  const MlNodalVariant *variant[N_LANES]; /* NULL: idle */
  double *memory;                         /* holds the six below */
  double *values, *factors, *f, *right, *rest, *work; /* n_entries, n_slots, n, n, n, n; times N_LANES */
  unsigned well;                          /* bit k: lane k was solved well */
  MlNodalLeft *left;
  int n_left, left_room;
};

void
ml_nodal_lanes_free (MlNodalLaneSet *lanes)
{
  if (!lanes)
    return;
  for (int k = 0; k < N_LANES; k++)
    ml_nodal_solver_free (lanes->solver[k]);
  free (lanes->memory);
  free (lanes->left);
  free (lanes);
}

static MlNodalLaneSet *
new_lanes (const MlNodalSolver *solver)
{
  const MlNodalMatrix *matrix = &solver->matrix;
  MlNodalLaneSet *lanes = calloc (1, sizeof *lanes);

  if (!lanes || !matrix->schedule) /* a set for what is left alone */
    return lanes;
  size_t n_entries = (size_t) matrix->n_entries * N_LANES, n_slots = (size_t) matrix->schedule->n_slots * N_LANES;
  size_t n = (size_t) matrix->n * N_LANES;
  size_t bytes = (n_entries + n_slots + 4 * n) * sizeof (double) + ALIGNMENT;
  lanes->memory = malloc (bytes);
  bool made = lanes->memory != NULL;
  for (int k = 0; k < N_LANES && made; k++)
    made = (lanes->solver[k] = ml_nodal_solver_new_lane (solver)) != NULL;
  if (!made)
    {
      ml_nodal_lanes_free (lanes);
      return NULL;
    }
  memset (lanes->memory, 0, bytes);
  lanes->values = lanes->memory;
  while ((size_t) lanes->values % ALIGNMENT)
    lanes->values++;
  lanes->factors = lanes->values + n_entries;
  lanes->f = lanes->factors + n_slots;
  lanes->right = lanes->f + n;
  lanes->rest = lanes->right + n;
  lanes->work = lanes->rest + n;
  return lanes;
}

static MlNodalStatus
solve_alone (MlNodalSolver *solver, const MlNodalVariant *variant)
{
  return ml_nodal_solve (solver, variant->changes, variant->n_changes, variant->start, variant->ret_solution);
}

static const MlNodalSolution *
start_of (const MlNodalVariant *variant)
{
  return variant->start && variant->start->status >= 0 ? variant->start : NULL;
}

/* The rest of the ladder, after a try from the start. */
static MlNodalStatus
climb_alone (MlNodalSolver *solver, const MlNodalVariant *variant, int steps)
{
  solver->failed_steps = steps;
  return solve_alone (solver, variant);
}

/* ---- those that did not settle from their start ---- */

/* From that start within so many steps, or not at all. */
static MlNodalStatus
try_from (MlNodalSolver *solver, const MlNodalVariant *variant, const MlNodalSolution *start, int most)
{
  long failures = solver->counts.failures;

  solver->only_warm = most;
  MlNodalStatus status = ml_nodal_solve (solver, variant->changes, variant->n_changes, start, variant->ret_solution);
  solver->only_warm = 0;
  solver->counts.failures = failures;
  return status;
}

static int
in_order (const void *a, const void *b)
{
  const MlNodalVariant *x = ((const MlNodalLeft *) a)->variant, *y = ((const MlNodalLeft *) b)->variant;

  return (x > y) - (x < y);
}

/* From its further starts, of which those in the list come before it; else up the ladder. */
static MlNodalStatus
solve_from_further (MlNodalSolver *solver, const MlNodalLeft *left)
{
  for (int k = 0; k < ML_NODAL_MOST_ALSO && left->variant->also[k]; k++)
    {
      MlNodalStatus status = left->variant->also[k]->status;
      if (status >= 0)
        status = try_from (solver, left->variant, left->variant->also[k], FURTHER_STEPS);
      if (status >= 0 || status == ML_NODAL_NO_MEMORY)
        return status;
    }
  return climb_alone (solver, left->variant, left->steps);
}

static MlNodalStatus
solve_left (MlNodalSolver *solver)
{
  MlNodalLaneSet *lanes = solver->lanes;
  MlNodalStatus status = ML_NODAL_OK;

  if (lanes->n_left > 0) /* lanes end in any order */
    qsort (lanes->left, (size_t) lanes->n_left, sizeof *lanes->left, in_order);
  for (int i = 0; i < lanes->n_left && status != ML_NODAL_NO_MEMORY; i++)
    status = solve_from_further (solver, &lanes->left[i]);
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_OK;
}

/* It has not settled from its start: to be tried from others once those are solved. */
static MlNodalStatus
leave (MlNodalSolver *solver, const MlNodalVariant *variant, int steps)
{
  MlNodalLaneSet *lanes = solver->lanes;

  if (!variant->also[0])
    return climb_alone (solver, variant, steps);
  if (!ml_nodal_room_for ((void **) &lanes->left, &lanes->left_room, lanes->n_left + 1, sizeof *lanes->left))
    return ML_NODAL_NO_MEMORY;
  lanes->left[lanes->n_left++] = (MlNodalLeft){ variant, steps };
  return ML_NODAL_OK;
}

static MlNodalStatus
solve_or_leave (MlNodalSolver *solver, const MlNodalVariant *variant)
{
  if (!variant->also[0] || !start_of (variant))
    return solve_alone (solver, variant);
  MlNodalStatus status = try_from (solver, variant, variant->start, ML_NODAL_WARM_STEPS);
  return status >= 0 || status == ML_NODAL_NO_MEMORY ? status : leave (solver, variant, variant->ret_solution->iterations);
}

/* ---- side by side ---- */

/* Has the lane at a step to be solved for, with this variant or one of the next that are left; or idle. */
static MlNodalStatus
advance (MlNodalSolver *solver, int lane, const MlNodalVariant **next, const MlNodalVariant *end)
{
  MlNodalSolver *own = solver->lanes->solver[lane];
  const MlNodalVariant **at = &solver->lanes->variant[lane];

  for (;;)
    {
      MlNodalStatus status = ML_NODAL_OK;
      if (*at && ml_nodal_newton_settled (own))
        {
          if (ml_nodal_run_end (own, (*at)->changes, (*at)->n_changes, (*at)->ret_solution))
            {
              solver->counts.solves++;
              solver->counts.newton_steps += own->newton.steps;
              solver->counts.solved_by[(*at)->ret_solution->rung]++;
              *at = NULL;
            }
          else
            status = solve_or_leave (solver, *at);
        }
      else if (*at)
        {
          if (!ml_nodal_newton_is_lost (own, start_of (*at) ? ML_NODAL_WARM_STEPS : ML_NODAL_COLD_STEPS))
            return ML_NODAL_OK;
          solver->counts.newton_steps += own->newton.steps;
          status = leave (solver, *at, own->newton.steps);
        }
      if (status == ML_NODAL_NO_MEMORY)
        return status;
      *at = NULL;
      if (*next == end)
        return ML_NODAL_OK;
      *at = (*next)++;
      if (ml_nodal_run_begin (own, (*at)->changes, (*at)->n_changes, NULL, start_of (*at), (*at)->ret_solution) != ML_NODAL_OK)
        {
          if (solve_or_leave (solver, *at) == ML_NODAL_NO_MEMORY)
            return ML_NODAL_NO_MEMORY;
          *at = NULL;
          continue;
        }
      ml_nodal_newton_begin (own);
    }
}

/* The lanes that have a column c: right-hand side 0, -f, or one of the borders. */
static unsigned
with_column (const MlNodalLaneSet *lanes, int c)
{
  unsigned bits = 0;

  for (int k = 0; k < N_LANES; k++)
    bits |= lanes->variant[k] && c <= lanes->solver[k]->matrix.m ? 1u << k : 0;
  return bits;
}

/* Solves for one column, which stays in f. */
static void
solve_column (MlNodalLaneSet *lanes, const MlNodalSchedule *schedule, int c)
{
  int n = schedule->n;
  unsigned which = with_column (lanes, c);

  for (int k = 0; k < N_LANES; k++)
    {
      const MlNodalSolver *own = lanes->solver[k];
      if (!(which & 1u << k))
        continue;
      const double *from = c == 0 ? own->f + 1 : own->matrix.values + own->matrix.n_entries + 1 + (size_t) n * (size_t) (c - 1);
      for (int r = 0; r < n; r++)
        lanes->f[r * N_LANES + k] = c == 0 ? -from[r] : from[r];
    }
  memcpy (lanes->right, lanes->f, (size_t) n * N_LANES * sizeof (double));
  ml_nodal_schedule_solve_lanes (schedule, lanes->factors, lanes->right, lanes->work);
}

/* Of these lanes, those that are solved well, at last by refinement as ml_nodal_matrix_solve does it; *ret_poor: those it was needed for. */
static unsigned
refine (MlNodalLaneSet *lanes, const MlNodalSolver *solver, unsigned which, unsigned *ret_poor)
{
  const MlNodalSchedule *schedule = solver->matrix.schedule;
  const MlNodalCircuit *circuit = solver->circuit;
  unsigned left = which;

  for (int round = 0; left; round++)
    {
      left &= ~ml_nodal_lanes_solved_well (schedule->n, circuit->row_start, circuit->row_entry, circuit->row_column, lanes->values, lanes->right,
                                           lanes->f, ML_NODAL_MOST_BACKWARD_ERROR, ML_NODAL_NO_ERROR, lanes->rest);
      if (round == 0)
        *ret_poor = left;
      if (!left || round == ML_NODAL_MOST_REFINEMENTS)
        break;
      ml_nodal_schedule_solve_lanes (schedule, lanes->factors, lanes->rest, lanes->work);
      for (int k = 0; k < N_LANES; k++)
        for (int r = 0; left & 1u << k && r < schedule->n; r++)
          lanes->right[r * N_LANES + k] += lanes->rest[r * N_LANES + k];
    }
  return which & ~left;
}

/* To each lane's own solver. */
static void
hand_out (MlNodalLaneSet *lanes, int n, int c)
{
  unsigned which = with_column (lanes, c);

  for (int k = 0; k < N_LANES; k++)
    {
      double *to = lanes->solver[k]->matrix.work + (size_t) n * (size_t) c;
      for (int r = 0; which & 1u << k && r < n; r++)
        to[r] = lanes->right[r * N_LANES + k];
    }
}

/* Factors all lanes' matrices, and solves them for all columns. */
static void
solve_together (MlNodalSolver *solver)
{
  MlNodalLaneSet *lanes = solver->lanes;
  const MlNodalSchedule *schedule = solver->matrix.schedule;
  int most = 0;
  unsigned poor = 0, waste;

  for (int k = 0; k < N_LANES; k++)
    if (lanes->variant[k])
      {
        const double *values = lanes->solver[k]->matrix.values;
        most = lanes->solver[k]->matrix.m > most ? lanes->solver[k]->matrix.m : most;
        for (int e = 0; e < schedule->n_entries; e++)
          lanes->values[e * N_LANES + k] = values[e];
      }
  ml_nodal_schedule_factor_lanes (schedule, lanes->values, lanes->factors);
  solve_column (lanes, schedule, 0);
  lanes->well = refine (lanes, solver, with_column (lanes, 0), &poor);
  hand_out (lanes, schedule->n, 0);
  for (int c = 1; c <= most; c++)
    {
      solve_column (lanes, schedule, c);
      unsigned which = poor & lanes->well & with_column (lanes, c);
      lanes->well &= ~(which & ~refine (lanes, solver, which, &waste));
      hand_out (lanes, schedule->n, c);
    }
  solver->matrix.n_refactors++;
}

static MlNodalStatus
run_lanes (MlNodalSolver *solver, const MlNodalVariant *next, const MlNodalVariant *end)
{
  MlNodalLaneSet *lanes = solver->lanes;
  MlNodalStatus status = ML_NODAL_OK;
  bool busy = true;

  memset (lanes->variant, 0, sizeof lanes->variant);
  while (busy && status == ML_NODAL_OK)
    {
      busy = false;
      for (int k = 0; k < N_LANES && status == ML_NODAL_OK; k++)
        {
          status = advance (solver, k, &next, end);
          busy = busy || lanes->variant[k];
        }
      if (!busy || status != ML_NODAL_OK)
        break;
      solve_together (solver);
      for (int k = 0; k < N_LANES && status == ML_NODAL_OK; k++)
        {
          MlNodalSolver *own = lanes->solver[k];
          if (!lanes->variant[k]
              || (lanes->well & 1u << k && ml_nodal_matrix_finish_lane (&own->matrix, own->f, own->step) && ml_nodal_newton_take_step (own)))
            continue;
          /* These pivots are no good for it. */
          if (solve_or_leave (solver, lanes->variant[k]) == ML_NODAL_NO_MEMORY)
            status = ML_NODAL_NO_MEMORY;
          lanes->variant[k] = NULL;
        }
    }
  return status;
}

MlNodalStatus
ml_nodal_solve_warm (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *start, MlNodalSolution *ret_solution)
{
  const MlNodalVariant variant = { changes, n_changes, start, ret_solution, { NULL } };

  return try_from (solver, &variant, start, ML_NODAL_WARM_STEPS);
}

MlNodalStatus
ml_nodal_solve_variants (MlNodalSolver *solver, const MlNodalVariant *variants, int n_variants)
{
  const MlNodalCircuit *circuit = solver->circuit;
  bool alone = n_variants < 2 || !solver->matrix.schedule;
  MlNodalStatus status = ML_NODAL_OK;

  for (int i = 0; i < n_variants; i++)
    {
      const MlNodalSolution *to = variants[i].ret_solution;
      if (!ml_nodal_solution_fits (to, circuit))
        return ML_NODAL_BAD_ARGUMENT;
      alone = alone || (!variants[i].start && (circuit->n_preferred > 0 || circuit->n_latching > 0)); /* other states are looked for */
    }
  if (!solver->lanes && !(solver->lanes = new_lanes (solver)))
    return ML_NODAL_NO_MEMORY;
  solver->lanes->n_left = 0;
  if (!alone)
    status = run_lanes (solver, variants, variants + n_variants);
  for (int i = 0; alone && i < n_variants && status != ML_NODAL_NO_MEMORY; i++)
    status = solve_or_leave (solver, &variants[i]);
  return status == ML_NODAL_NO_MEMORY ? status : solve_left (solver);
}
