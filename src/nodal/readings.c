/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several readings of one state of affairs. The meter is one conductance more between two nodes: the circuit is varied and factored once, without
 * a meter, and each reading found from there by a rank-one correction of those factors (Sherman and Morrison, Ann. Math. Statist. 21, 1950), the
 * right-hand sides of several readings side by side. Of what is linear that is exact; a device that bends and stands elsewhere with the meter
 * attached adds what its curve leaves its tangent by, and chord steps see to it. What that does not settle at once is measured alone. */
#include "nodal/readings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ALIGNMENT 64
#define MOST_CHORDS 5
#define MOST_SLOPE_CHORDS 16 /* they are linear: slow ones get there, too, and sooner than by Newton */
#define MOST_MOVED 1e-5       /* by the step that a solution begins with, as Newton measures it */
#define MOST_SHIFT_V 0.02     /* by the meter, of a device that bends: beyond it Newton is the better way */
#define STEP_TOLERANCE 1e-10  /* of what is left, as Newton's */
#define SLOPE_TOLERANCE 1e-9  /* of the largest, left after the last step */

void
ml_nodal_reading_room_free (MlNodalReadingRoom *room)
{
  if (!room)
    return;
  free (room->memory);
  free (room->bent);
  free (room->bent_of);
  free (room->slopes);
  free (room->device_slopes);
  free (room);
}

/* ---- the settled point ---- */

static bool
make_room (MlNodalReadings *own)
{
  MlNodalReadingRoom *room = own->room;
  size_t n = (size_t) own->solver->n_unknowns, lanes = n * (size_t) own->width, n_slopes = (size_t) own->n_refs * (size_t) own->width;
  size_t total = 9 * lanes + 5 * n * N_LANES + n_slopes + 4 * n + 2 * ALIGNMENT / sizeof (double);
  size_t n_bending = (size_t) (own->n_bending * own->width) + 1;

  if (total > room->room)
    {
      free (room->memory);
      room->room = 0;
      room->memory = malloc (2 * total * sizeof *room->memory);
      if (!room->memory)
        return false;
      memset (room->memory, 0, 2 * total * sizeof *room->memory); /* idle lanes are worked on as well */
      room->room = 2 * total;
    }
  if (n_bending > room->room_bent)
    {
      free (room->bent_of);
      room->room_bent = 0;
      room->bent_of = malloc (n_bending * sizeof *room->bent_of);
      if (!room->bent_of)
        return false;
      room->room_bent = n_bending;
    }
  double *at = room->memory;
  while ((size_t) at % ALIGNMENT)
    at++;
  double **wide[] = { &own->gradient, &own->drop, &own->x, &own->lambdas, &own->right, &own->step, &own->work };
  for (size_t i = 0; i < sizeof wide / sizeof wide[0]; i++, at += lanes)
    *wide[i] = at;
  at += 2 * lanes; /* work is three times as long */
  while ((size_t) at % ALIGNMENT)
    at++;
  own->column = at;
  own->answer = at + n * N_LANES;
  own->column_work = at + 2 * n * N_LANES;
  at += 5 * n * N_LANES;
  own->slopes = at;
  at += n_slopes;
  own->settled = at;
  own->lambda = at + n;
  own->least = at + 2 * n;
  own->bends = (bool *) (void *) (at + 3 * n);
  return true;
}


/* Whether the first step is none: what moves did not belong to these changes. The current of a link is not part of a solution and comes of that step. */
static bool
stays (const MlNodalSolver *solver)
{
  for (int u = 1; u < solver->n_unknowns; u++)
    {
      double least = ml_nodal_is_node (solver, u) ? 1.0 : 1e-3;
      if ((u < solver->circuit->n_unknowns || ml_nodal_is_node (solver, u)) && !(fabs (solver->step[u]) <= MOST_MOVED * (least + fabs (solver->x[u]))))
        return false;
    }
  return true;
}

/* ML_NODAL_NOT_CONVERGED: not this way. */
static MlNodalStatus
begin (MlNodalReadings *own, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at)
{
  MlNodalSolver *solver = own->solver;
  int row, d;

  MlNodalStatus status = ml_nodal_matrix_usual_pivots (&solver->matrix);
  if (status == ML_NODAL_OK)
    status = ml_nodal_run_begin (solver, changes, n_changes, NULL, at, &solver->scratch);
  if (status != ML_NODAL_OK)
    return status;
  solver->counts.solves++;
  ml_nodal_newton_begin (solver);
  ml_nodal_newton_settled (solver);
  status = ml_nodal_matrix_solve (&solver->matrix, ML_NODAL_FACTOR_FIRST, solver->f, solver->step, &row);
  if (status != ML_NODAL_OK)
    return status;
  ml_nodal_newton_take_step (solver);
  if (!stays (solver))
    return ML_NODAL_NOT_CONVERGED;
  own->n_bending = solver->circuit->n_devices - solver->circuit->law_start[ML_NODAL_LAW_OTHER];
  if (!make_room (own))
    return ML_NODAL_NO_MEMORY;
  memcpy (own->settled, solver->x, (size_t) solver->n_unknowns * sizeof (double));
  memset (own->bends, 0, (size_t) solver->n_unknowns * sizeof (bool));
  for (int u = 0; u < solver->n_unknowns; u++)
    own->least[u] = ml_nodal_is_node (solver, u) ? 1.0 : 1e-3;
  for (int i = 0; i < own->n_bending; i++)
    {
      const MlNodalDevice *device = ml_nodal_readings_bending_device (own, i, &d);
      for (int k = 0; k < device->type->n_pins; k++)
        own->bends[solver->node[device->first_local + k]] = true;
    }
  own->bends[0] = false;
  return ML_NODAL_OK;
}

/* ---- lanes ---- */

/* to += share from, lane by lane. */
ML_NODAL_WIDE static void
add_all_lanes (double *restrict to, const double *restrict share, const double *restrict from, int n)
{
  for (int u = 1; u < n; u++)
    for (int k = 0; k < N_LANES; k++)
      to[u * N_LANES + k] += share[k] * from[u * N_LANES + k];
}

static void
add_lanes (const MlNodalReadings *own, double *to, const double *share, const double *from)
{
  int n = own->solver->n_unknowns;

  if (own->width > 1)
    add_all_lanes (to, share, from, n);
  for (int u = 1; own->width == 1 && u < n; u++)
    to[u] += share[0] * from[u];
}

static inline __attribute__ ((always_inline)) void
size_some (const double *step, const double *x, const double *least, int n, double *ret_size, const int width)
{
  double worst[N_LANES] = { 0 };

  for (int u = 1; u < n; u++)
    for (int k = 0; k < width; k++)
      {
        double size = fabs (step[u * width + k]) / (least[u] + fabs (x[u * width + k]));
        worst[k] = size > worst[k] ? size : worst[k];
      }
  memcpy (ret_size, worst, (size_t) width * sizeof *worst);
}

ML_NODAL_WIDE static void
size_all_lanes (const double *step, const double *x, const double *least, int n, double *ret_size)
{
  size_some (step, x, least, n, ret_size, N_LANES);
}

/* How large the steps are in units of what is asked of them, as Newton measures them. */
static void
size_lanes (const MlNodalReadings *own, double *ret_size)
{
  if (own->width > 1)
    size_all_lanes (own->step, own->x, own->least, own->solver->n_unknowns, ret_size);
  else
    size_some (own->step, own->x, own->least, own->solver->n_unknowns, ret_size, 1);
}

/* ---- with the meter ---- */

/* The meter's share of what a right-hand side does: x -> x - along (x) / total by, both ways alike. */
static void
find_shares (const MlNodalReadings *own, unsigned which, const double *wide, double *ret_share)
{
  for (int k = 0; k < own->width; k++)
    ret_share[k] = has (which, k) ? -along (own, k, wide) * own->siemens[k] / (1 + own->siemens[k] * own->between[k]) : 0;
}

/* The drop of an ampere through the probes of the lanes whose meter loads the circuit; the lanes where it is well. */
static unsigned
find_drops (MlNodalReadings *own, unsigned which)
{
  unsigned loaded = 0;

  for (int k = 0; k < own->width; k++)
    loaded |= has (which, k) && own->siemens[k] > 0 ? 1u << k : 0;
  own->poor = 0;
  memset (own->drop, 0, (size_t) (own->solver->n_unknowns * own->width) * sizeof (double));
  if (!loaded)
    return which;
  unsigned well = ml_nodal_matrix_solve_columns (&own->solver->matrix, own->width, loaded, loaded, own->gradient, own->drop, own->work, &own->poor);
  for (int k = 0; k < own->width; k++)
    {
      own->between[k] = has (loaded, k) ? along (own, k, own->drop) : 0;
      if (has (loaded, k) && !(has (well, k) && own->siemens[k] * own->between[k] > -0.5 && isfinite (own->between[k])))
        which &= ~(1u << k);
    }
  return which;
}

/* All lanes at the settled point; the first step from there, its share of the drop. */
static inline __attribute__ ((always_inline)) void
begin_some (const double *settled, const double *share, const double *drop, int n, double *x, double *step, const int width)
{
  for (int u = 0; u < n; u++)
    for (int k = 0; k < width; k++)
      {
        double move = share[k] == 0 ? 0 : share[k] * drop[u * width + k];
        step[u * width + k] = move;
        x[u * width + k] = u == 0 ? settled[0] : settled[u] + move;
      }
}

ML_NODAL_WIDE static void
begin_all_lanes (const double *settled, const double *share, const double *drop, int n, double *x, double *step)
{
  begin_some (settled, share, drop, n, x, step, N_LANES);
}

/* x of those lanes with their meters, as if nothing bent; those of them whose bending devices stay near where they were, or are cut out. ret_size: of the step. */
static unsigned
attach (MlNodalReadings *own, unsigned which, double *ret_size)
{
  int n = own->solver->n_unknowns;
  _Alignas (ALIGNMENT) double share[N_LANES] = { 0 };
  unsigned far = 0;

  for (int k = 0; k < own->width; k++)
    if (has (which, k))
      {
        own->x[own->red[k] * own->width + k] = own->settled[own->red[k]];
        own->x[own->black[k] * own->width + k] = own->settled[own->black[k]];
      }
  find_shares (own, which, own->x, share);
  if (own->width > 1)
    begin_all_lanes (own->settled, share, own->drop, n, own->x, own->step);
  else
    begin_some (own->settled, share, own->drop, n, own->x, own->step, 1);
  for (int u = 0; u < n; u++)
    for (int k = 0; own->bends[u] && k < own->width; k++)
      if (!(fabs (own->step[u * own->width + k]) <= MOST_SHIFT_V))
        far |= 1u << k;
  for (int k = 0; k < own->width; k++)
    if (has (which & far, k) && !ml_nodal_readings_reduce (own, k))
      which &= ~(1u << k);
  size_lanes (own, ret_size);
  return which;
}

/* Whether a step and the one before it are of chords alone: devices cut out go where they belong in one, and what that does to others is the next. */
static bool
ends_by_chord (const MlNodalReadings *own, int lane, int step)
{
  return step > 1 || own->room->reduced[lane].n_devices == 0;
}

/* Chord steps until devices that bend agree with x; the lanes that settle. False: no memory. */
static bool
settle (MlNodalReadings *own, unsigned *which)
{
  int n = own->solver->n_unknowns;
  double last[N_LANES], size[N_LANES];
  _Alignas (ALIGNMENT) double share[N_LANES], minus[N_LANES];
  unsigned open;

  *which = attach (own, *which, last);
  open = *which;
  memset (own->right, 0, (size_t) (n * own->width) * sizeof (double));
  for (int step = 0; open && step < MOST_CHORDS; step++)
    {
      for (int k = 0; k < own->width; k++)
        {
          bool any = false;
          if (has (open, k) && last[k] * last[k] > STEP_TOLERANCE * STEP_TOLERANCE && !ml_nodal_readings_bend (own, k, &any))
            return false;
          if (!any)
            open &= ~(1u << k);
        }
      *which &= ~own->lost;
      open &= *which;
      if (!open)
        return true;
      for (int k = 0; k < own->width; k++)
        own->right[k] = 0; /* the reference takes what it gets */
      *which &= ~(open & ~ml_nodal_matrix_solve_columns (&own->solver->matrix, own->width, open, own->poor, own->right, own->step, own->work, NULL));
      open &= *which;
      find_shares (own, open, own->step, share);
      for (int k = 0; k < own->width; k++)
        minus[k] = has (open, k) ? -1 : 0;
      add_lanes (own, own->step, share, own->drop);
      add_lanes (own, own->x, minus, own->step);
      size_lanes (own, size);
      own->solver->counts.newton_steps++;
      memset (own->right, 0, (size_t) (n * own->width) * sizeof (double));
      for (int k = 0; k < own->width; k++)
        if (has (open, k))
          {
            bool any, by_chord = ends_by_chord (own, k, step);
            bool done = size[k] <= STEP_TOLERANCE || (by_chord && size[k] * size[k] <= STEP_TOLERANCE * last[k]); /* the next one, as chords converge */
            if (by_chord && !(size[k] <= 0.2 * last[k]) && size[k] > STEP_TOLERANCE)
              *which &= ~(1u << k);
            else if (done && size[k] > SAME_V && !ml_nodal_readings_bend (own, k, &any)) /* the slopes are asked here */
              return false;
            if (done || !has (*which, k))
              open &= ~(1u << k);
            if (done)
              clear_lane (own, own->right, k);
            last[k] = size[k];
          }
    }
  *which &= ~(open | own->lost);
  return true;
}

/* lambda' (J + meter) = gradient' at x; the lanes that settle. */
static unsigned
find_lambdas (MlNodalReadings *own, unsigned which)
{
  MlNodalSolver *solver = own->solver;
  int n = solver->n_unknowns;
  double last[N_LANES];
  _Alignas (ALIGNMENT) double share[N_LANES], one[N_LANES];
  unsigned open = 0;

  if (!ml_nodal_matrix_solve_transposed_columns (&solver->matrix, own->width, which, own->gradient, own->lambdas, own->work))
    return 0;
  /* What the transposed solve makes of the gradient; from now on each with the meter's share. */
  memcpy (own->drop, own->lambdas, (size_t) (n * own->width) * sizeof (double));
  find_shares (own, which, own->lambdas, share);
  add_lanes (own, own->lambdas, share, own->drop);
  memset (own->right, 0, (size_t) (n * own->width) * sizeof (double));
  for (int k = 0; k < own->width; k++)
    {
      open |= has (which, k) && own->siemens[k] > 0 && ml_nodal_readings_multiply_bent (own, k, own->lambdas) ? 1u << k : 0;
      last[k] = INFINITY;
    }
  for (int step = 0; open && step < MOST_SLOPE_CHORDS; step++)
    {
      double most[N_LANES] = { 0 }, moved[N_LANES] = { 0 };
      for (int k = 0; k < own->width; k++)
        own->right[k] = 0;
      ml_nodal_matrix_solve_transposed_columns (&solver->matrix, own->width, open, own->right, own->step, own->work);
      find_shares (own, open, own->step, share);
      for (int k = 0; k < own->width; k++)
        one[k] = has (open, k) ? 1 : 0;
      add_lanes (own, own->step, share, own->drop);
      add_lanes (own, own->lambdas, one, own->step);
      for (int u = 1; u < n; u++)
        for (int k = 0; k < own->width; k++)
          {
            double a = fabs (own->lambdas[u * own->width + k]), b = fabs (own->step[u * own->width + k]);
            most[k] = a > most[k] ? a : most[k];
            moved[k] = b > moved[k] ? b : moved[k];
          }
      memset (own->right, 0, (size_t) (n * own->width) * sizeof (double));
      for (int k = 0; k < own->width; k++)
        if (has (open, k))
          {
            bool by_chord = ends_by_chord (own, k, step);
            double shrinks = by_chord ? fmin (moved[k] / fmin (last[k], most[k]), 1) : 1; /* the next one, as chords converge */
            bool done = moved[k] * shrinks <= SLOPE_TOLERANCE * most[k];
            if (by_chord && !done && !(moved[k] <= 0.2 * most[k]))
              which &= ~(1u << k);
            if (done || !has (which, k))
              open &= ~(1u << k);
            else
              ml_nodal_readings_multiply_bent (own, k, own->step);
            last[k] = moved[k];
          }
    }
  return which & ~(open | own->lost);
}

/* ---- readings ---- */

/* Takes the reading into a lane. False: not this way. */
static bool
take_reading (MlNodalReadings *own, MlNodalReading *reading, int lane)
{
  MlNodalSolver *solver = own->solver;
  const MlNodalMeter *meter = reading->meter;

  own->siemens[lane] = own->between[lane] = 0;
  if (meter->reads == ML_NODAL_READ_AMPS)
    {
      own->red[lane] = 0;
      own->black[lane] = ml_nodal_current_unknown (solver, meter->device);
    }
  else if (meter->reads == ML_NODAL_READ_VOLTS)
    {
      own->red[lane] = ml_nodal_point_node (solver, meter->red);
      own->black[lane] = ml_nodal_point_node (solver, meter->black);
      if (own->red[lane] == own->black[lane] || ml_nodal_is_floating (solver, own->red[lane]) || ml_nodal_is_floating (solver, own->black[lane]))
        return false;
      if (isfinite (meter->input_ohm))
        own->siemens[lane] = 1 / meter->input_ohm;
    }
  else
    return false;
  own->reading[lane] = reading;
  return true;
}

/* The readings in the lanes. False: no memory. */
static bool
read_lanes (MlNodalReadings *own, const MlNodalChange *changes, int n_changes)
{
  int n = own->solver->n_unknowns;
  unsigned which = 0, asked = 0;

  memset (own->gradient, 0, (size_t) (n * own->width) * sizeof (double));
  memset (own->room->bent_of, -1, (size_t) (own->n_bending * own->width) * sizeof (int));
  own->room->n_bent = 0;
  own->lost = 0;
  for (int k = 0; k < own->width; k++)
    own->room->reduced[k].n = own->room->reduced[k].n_devices = 0;
  for (int k = 0; k < own->width; k++)
    if (own->reading[k])
      {
        own->gradient[own->red[k] * own->width + k] += 1;
        own->gradient[own->black[k] * own->width + k] -= 1;
        which |= 1u << k;
        asked |= own->reading[k]->slope || own->reading[k]->size_slope ? 1u << k : 0;
      }
  for (int k = 0; k < own->width; k++)
    own->gradient[k] = 0;
  which = find_drops (own, which);
  if (!settle (own, &which))
    return false;
  for (int k = 0; k < own->width; k++)
    {
      own->x[k] = 0;
      if (has (which, k))
        own->reading[k]->value = along (own, k, own->x);
      if (has (which, k) && !isfinite (own->reading[k]->value))
        which &= ~(1u << k);
    }
  if (which & asked)
    {
      which &= ~(asked & ~find_lambdas (own, which & asked));
      if (!ml_nodal_readings_find_slopes (own, which & asked, changes, n_changes))
        return false;
    }
  for (int k = 0; k < own->width; k++)
    if (has (which, k))
      own->reading[k]->status = ML_NODAL_OK;
  return true;
}

static MlNodalStatus
read_side_by_side (MlNodalReadings *own, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at, MlNodalReading *readings, int n_readings)
{
  MlNodalStatus status = begin (own, changes, n_changes, at);

  for (int i = 0; status == ML_NODAL_OK && i < n_readings;)
    {
      int n = 0;
      memset (own->reading, 0, sizeof own->reading);
      for (; n < own->width && i < n_readings; i++)
        if (readings[i].status == ML_NODAL_NOT_CONVERGED)
          n += take_reading (own, &readings[i], n);
      if (n > 0 && !read_lanes (own, changes, n_changes))
        status = ML_NODAL_NO_MEMORY;
    }
  return status;
}

MlNodalStatus
ml_nodal_measure_all (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at,
                      const MlNodalParameterRef *refs, int n_refs, MlNodalReading *readings, int n_readings)
{
  MlNodalStatus status = ML_NODAL_OK;
  bool any = false, refs_are_valid = ml_nodal_refs_are_valid (solver->circuit, refs, n_refs);

  for (int i = 0; i < n_readings; i++)
    {
      bool valid = refs_are_valid && ml_nodal_meter_is_valid (solver->circuit, readings[i].meter);
      readings[i].status = valid ? ML_NODAL_NOT_CONVERGED : ML_NODAL_BAD_ARGUMENT;
      any = any || valid;
    }
  if (!solver->scratch.net_v)
    status = ml_nodal_solution_init (&solver->scratch, solver->circuit);
  if (status == ML_NODAL_OK)
    status = ml_nodal_slopes_make_room (solver);
  if (status == ML_NODAL_OK && !solver->reading_room && !(solver->reading_room = calloc (1, sizeof *solver->reading_room)))
    status = ML_NODAL_NO_MEMORY;
  if (status != ML_NODAL_OK)
    return status;
  /* A contact or a part that latches may move when a meter is attached; where a state is one of several, only that way is known. */
  if (any && solver->circuit->n_latching == 0 && at->status == ML_NODAL_OK)
    {
      MlNodalReadings own = { .solver = solver, .room = solver->reading_room, .refs = refs, .n_refs = n_refs, .width = n_readings > 1 ? N_LANES : 1 };
      status = read_side_by_side (&own, changes, n_changes, at, readings, n_readings);
    }
  for (int i = 0; i < n_readings; i++)
    readings[i].test_slope = 0;
  for (int i = 0; status != ML_NODAL_NO_MEMORY && i < n_readings; i++)
    if (readings[i].status == ML_NODAL_NOT_CONVERGED)
      {
        status = ml_nodal_measure_reading (solver, changes, n_changes, at, refs, n_refs, &readings[i]);
        if (readings[i].status >= 0 && isfinite (readings[i].value) && (readings[i].slope || readings[i].size_slope))
          readings[i].test_slope = ml_nodal_read_test_slope (solver, readings[i].meter);
      }
  return status == ML_NODAL_NO_MEMORY ? status : ML_NODAL_OK;
}
