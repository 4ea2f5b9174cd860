/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several readings of one state of affairs. The meter is one conductance more between two nodes: the circuit is varied and factored once, without
 * a meter, and each reading found from there by a rank-one correction of those factors (Sherman and Morrison, Ann. Math. Statist. 21, 1950), the
 * right-hand sides of several readings side by side. Of what is linear that is exact; a device that bends and stands elsewhere with the meter
 * attached adds what its curve leaves its tangent by, and chord steps see to it. What that does not settle at once is measured alone. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define N_LANES ML_NODAL_LANES
#define ALIGNMENT 64
#define MOST_CHORDS 5
#define MOST_MOVED 1e-5       /* by the step that a solution begins with, as Newton measures it */
#define MOST_SHIFT_V 0.02     /* by the meter, of a device that bends: beyond it Newton is the better way */
#define STEP_TOLERANCE 1e-10  /* of what is left, as Newton's */
#define SLOPE_TOLERANCE 1e-9  /* of the largest, left after the last step */
#define SAME_V 1e-8           /* a thousandth of the narrowest width, a regulator's: slopes there are those without the meter; currents to as much of themselves */

/* A device that the meter of a lane has moved off its tangent: its law less that tangent. */
typedef struct
{
  double f[ML_NODAL_MAX_LOCAL], jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];
} Bent;

/* How a reading's slope in a parameter comes about. */
typedef enum
{
  SLOPE_NONE,
  SLOPE_CONDUCTANCE, /* (lambda_a - lambda_b) factor (x_a - x_b) */
  SLOPE_LINK,        /* lambda_a x_a */
  SLOPE_CURRENT,     /* lambda_a - lambda_b */
  SLOPE_DEVICE       /* - sum lambda[node[a + k]] slope[first + k], b of them */
} SlopeKind;

typedef struct
{
  SlopeKind kind;
  int a, b;      /* unknowns; of a device its first local one, and how many */
  double factor; /* S^2 */
  int first;     /* where its slopes lie */
} Slope;

struct MlNodalReadingRoom
{
  double *memory;
  size_t room, room_bent;
  Bent *bent;
  int *bent_of; /* N_LANES x devices that may bend: index in bent, or -1 */
  int n_bent, bent_room;
  Slope *slopes;
  int slope_room;
  double *device_slopes;
  int device_slope_room;
};

typedef struct
{
  MlNodalSolver *solver;
  MlNodalReadingRoom *room;
  const MlNodalParameterRef *refs;
  int width;             /* lanes: 1 or N_LANES */
  int n_refs, n_bending; /* devices that may bend: the last of the circuit's by_law */
  bool planned;          /* the room's slopes are found */
  /* n_unknowns */
  double *settled;       /* x without a meter */
  double *lambda, *least; /* of one reading; what a step is measured by */
  bool *bends;           /* a device hangs on it that may bend */
  /* n_unknowns times lanes */
  double *gradient, *drop, *x, *lambdas, *right, *step, *work; /* drop: what an ampere into red and out of black does; work: three times as many */
  double *slopes;        /* n_refs times lanes */
  /* of the lanes at work */
  MlNodalReading *reading[N_LANES]; /* NULL: none */
  int red[N_LANES], black[N_LANES];
  double siemens[N_LANES], between[N_LANES]; /* of the meter; ohm between its probes */
  unsigned poor;         /* lanes that the factors have to be refined for */
} Readings;

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
make_room (Readings *own)
{
  MlNodalReadingRoom *room = own->room;
  size_t n = (size_t) own->solver->n_unknowns, lanes = n * (size_t) own->width, n_slopes = (size_t) own->n_refs * (size_t) own->width;
  size_t total = 9 * lanes + n_slopes + 4 * n + ALIGNMENT / sizeof (double);
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
  own->slopes = at;
  at += n_slopes;
  own->settled = at;
  own->lambda = at + n;
  own->least = at + 2 * n;
  own->bends = (bool *) (void *) (at + 3 * n);
  return true;
}

static const MlNodalDevice *
bending_device (const Readings *own, int i, int *ret_d)
{
  const MlNodalCircuit *circuit = own->solver->circuit;

  *ret_d = circuit->by_law[circuit->law_start[ML_NODAL_LAW_OTHER] + i];
  return &circuit->devices[*ret_d];
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
begin (Readings *own, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at)
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
      const MlNodalDevice *device = bending_device (own, i, &d);
      for (int k = 0; k < device->type->n_pins; k++)
        own->bends[solver->node[device->first_local + k]] = true;
    }
  own->bends[0] = false;
  return ML_NODAL_OK;
}

/* ---- lanes ---- */

static inline bool
has (unsigned bits, int lane)
{
  return bits & 1u << lane;
}

static void
clear_lane (const Readings *own, double *wide, int lane)
{
  for (int u = 0; u < own->solver->n_unknowns; u++)
    wide[u * own->width + lane] = 0;
}

/* to += share from, lane by lane. */
ML_NODAL_WIDE static void
add_all_lanes (double *restrict to, const double *restrict share, const double *restrict from, int n)
{
  for (int u = 1; u < n; u++)
    for (int k = 0; k < N_LANES; k++)
      to[u * N_LANES + k] += share[k] * from[u * N_LANES + k];
}

static void
add_lanes (const Readings *own, double *to, const double *share, const double *from)
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
size_lanes (const Readings *own, double *ret_size)
{
  if (own->width > 1)
    size_all_lanes (own->step, own->x, own->least, own->solver->n_unknowns, ret_size);
  else
    size_some (own->step, own->x, own->least, own->solver->n_unknowns, ret_size, 1);
}

/* The voltage between the probes, or what else a reading's gradient is of. */
static double
along (const Readings *own, int lane, const double *wide)
{
  return wide[own->red[lane] * own->width + lane] - wide[own->black[lane] * own->width + lane];
}

/* ---- devices that bend ---- */

static Bent *
bent_of (const Readings *own, int lane, int i)
{
  int index = own->room->bent_of[lane * own->n_bending + i];
  return index < 0 ? NULL : &own->room->bent[index];
}

static Bent *
add_bent (const Readings *own, int lane, int i)
{
  MlNodalReadingRoom *room = own->room;

  if (!ml_nodal_room_for ((void **) &room->bent, &room->bent_room, room->n_bent + 1, sizeof *room->bent))
    return NULL;
  room->bent_of[lane * own->n_bending + i] = room->n_bent;
  memset (&room->bent[room->n_bent], 0, sizeof *room->bent);
  return &room->bent[room->n_bent++];
}

/* What the law leaves its tangent by at x. */
static void
leave_tangent (const MlNodalSolver *solver, const MlNodalDevice *device, int d, const double *x, Bent *ret)
{
  const double *known_x = solver->known_x + device->first_local, *known_f = solver->known_f + device->first_local;
  const double *known_jacobian = solver->known_jacobian + device->first_position;
  int n = ml_nodal_type_n_local (device->type);

  memset (ret->f, 0, (size_t) n * sizeof (double));
  memset (ret->jacobian, 0, (size_t) (n * n) * sizeof (double));
  device->type->eval (solver->derived + device->first_derived, solver->open[d], x, ret->f, ret->jacobian);
  for (int r = 0; r < n; r++)
    {
      ret->f[r] -= known_f[r];
      for (int c = 0; c < n; c++)
        {
          ret->f[r] -= known_jacobian[r * n + c] * (x[c] - known_x[c]);
          ret->jacobian[r * n + c] -= known_jacobian[r * n + c];
        }
    }
}

/* Has the lane's devices stand at its x; what that changes of the currents, into right. ret_any: anything. False: no memory. */
static bool
bend (Readings *own, int lane, bool *ret_any)
{
  const MlNodalSolver *solver = own->solver;
  double x[ML_NODAL_MAX_LOCAL];
  int d;

  *ret_any = false;
  for (int i = 0; i < own->n_bending; i++)
    {
      const MlNodalDevice *device = bending_device (own, i, &d);
      const int *node = solver->node + device->first_local;
      const double *known_x = solver->known_x + device->first_local;
      double most = ml_nodal_near_v (device->type);
      int n = ml_nodal_type_n_local (device->type);
      Bent *bent = bent_of (own, lane, i), now;
      bool near = true;

      for (int k = 0; k < n; k++)
        {
          x[k] = own->x[node[k] * own->width + lane];
          near = near && fabs (x[k] - known_x[k]) <= most;
        }
      if (near && !bent)
        continue;
      if (!bent && !(bent = add_bent (own, lane, i)))
        return false;
      if (near)
        memset (&now, 0, sizeof now);
      else
        leave_tangent (solver, device, d, x, &now);
      for (int k = 0; k < n; k++)
        own->right[node[k] * own->width + lane] += now.f[k] - bent->f[k];
      *bent = now;
      *ret_any = true;
    }
  return true;
}

/* right = -(what bent devices add to the Jacobian)' x of that lane; whether there are any. */
static bool
multiply_bent (Readings *own, int lane, const double *wide)
{
  const MlNodalSolver *solver = own->solver;
  bool any = false;
  int d;

  clear_lane (own, own->right, lane);
  for (int i = 0; i < own->n_bending; i++)
    {
      const Bent *bent = bent_of (own, lane, i);
      if (!bent)
        continue;
      const MlNodalDevice *device = bending_device (own, i, &d);
      const int *node = solver->node + device->first_local;
      int n = ml_nodal_type_n_local (device->type);
      for (int c = 0; c < n; c++)
        {
          double sum = 0;
          for (int r = 0; r < n; r++)
            sum += bent->jacobian[r * n + c] * wide[node[r] * own->width + lane];
          own->right[node[c] * own->width + lane] -= sum;
        }
      any = true;
    }
  return any;
}

/* ---- with the meter ---- */

/* The meter's share of what a right-hand side does: x -> x - along (x) / total by, both ways alike. */
static void
find_shares (const Readings *own, unsigned which, const double *wide, double *ret_share)
{
  for (int k = 0; k < own->width; k++)
    ret_share[k] = has (which, k) ? -along (own, k, wide) * own->siemens[k] / (1 + own->siemens[k] * own->between[k]) : 0;
}

/* The drop of an ampere through the probes of the lanes whose meter loads the circuit; the lanes where it is well. */
static unsigned
find_drops (Readings *own, unsigned which)
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

/* x of those lanes with their meters, as if nothing bent; the lanes whose bending devices stay near where they were. ret_size: of the step. */
static unsigned
attach (Readings *own, unsigned which, double *ret_size)
{
  int n = own->solver->n_unknowns;
  _Alignas (ALIGNMENT) double share[N_LANES] = { 0 };

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
        which &= ~(1u << k);
  size_lanes (own, ret_size);
  return which;
}

/* Chord steps until devices that bend agree with x; the lanes that settle. False: no memory. */
static bool
settle (Readings *own, unsigned *which)
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
          if (has (open, k) && last[k] * last[k] > STEP_TOLERANCE * STEP_TOLERANCE && !bend (own, k, &any))
            return false;
          if (!any)
            open &= ~(1u << k);
        }
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
            bool any, done = size[k] * size[k] <= STEP_TOLERANCE * last[k]; /* the next one, as chords converge */
            if (!(size[k] <= 0.2 * last[k]) && size[k] > STEP_TOLERANCE)
              *which &= ~(1u << k);
            else if (done && size[k] > SAME_V && !bend (own, k, &any)) /* the slopes are asked here */
              return false;
            if (done || !has (*which, k))
              open &= ~(1u << k);
            if (done)
              clear_lane (own, own->right, k);
            last[k] = size[k];
          }
    }
  *which &= ~open;
  return true;
}

/* lambda' (J + meter) = gradient' at x; the lanes that settle. */
static unsigned
find_lambdas (Readings *own, unsigned which)
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
      open |= has (which, k) && own->siemens[k] > 0 && multiply_bent (own, k, own->lambdas) ? 1u << k : 0;
      last[k] = INFINITY;
    }
  for (int step = 0; open && step < MOST_CHORDS; step++)
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
            bool done = moved[k] * fmin (moved[k] / fmin (last[k], most[k]), 1) <= SLOPE_TOLERANCE * most[k]; /* the next one, as chords converge */
            if (!done && !(moved[k] <= 0.2 * most[k]))
              which &= ~(1u << k);
            if (done || !has (which, k))
              open &= ~(1u << k);
            else
              multiply_bent (own, k, own->step);
            last[k] = moved[k];
          }
    }
  return which & ~open;
}

/* ---- slopes ---- */

/* Member by member into its place: a struct returned is copied sooner than its members are stored, which stalls. */
static void
plan_slope (const Readings *own, MlNodalParameterRef ref, int *n_slopes, Slope *ret)
{
  const MlNodalSolver *solver = own->solver;
  const MlNodalCircuit *circuit = solver->circuit;
  const MlNodalDevice *device = &circuit->devices[ref.device];
  const int *node = solver->node + device->first_local;
  double g = solver->derived[device->first_derived];

  ret->kind = SLOPE_NONE;
  if (device->type->flags & ML_NODAL_CONDUCTANCE && (device->type->n_parameters == 1 || !isfinite (g)))
    {
      ret->a = node[0];
      ret->b = node[1];
      ret->factor = g * g; /* i = v / p: di/dp = -g^2 v */
      if (!solver->open[ref.device] && isfinite (g))
        ret->kind = SLOPE_CONDUCTANCE;
      for (int e = 0; !solver->open[ref.device] && !isfinite (g) && e < solver->n_extras; e++) /* p = 0: a link's row v - p j */
        if (solver->extras[e].kind == ML_NODAL_EXTRA_LINK && solver->extras[e].device == ref.device)
          {
            ret->kind = SLOPE_LINK;
            ret->a = circuit->n_unknowns + e;
            return;
          }
      return;
    }
  if (device->type->flags & ML_NODAL_CURRENT)
    {
      ret->kind = SLOPE_CURRENT;
      ret->a = node[1];
      ret->b = node[0];
      return;
    }
  ret->kind = SLOPE_DEVICE;
  ret->a = device->first_local;
  ret->b = ml_nodal_type_n_local (device->type);
  ret->first = *n_slopes;
  *n_slopes += ret->b;
}

/* The slopes of all devices where they stand at the solver's x. False: no memory. */
static bool
plan_slopes (Readings *own)
{
  MlNodalReadingRoom *room = own->room;
  int n = 0;

  if (!ml_nodal_room_for ((void **) &room->slopes, &room->slope_room, own->n_refs, sizeof *room->slopes))
    return false;
  for (int i = 0; i < own->n_refs; i++)
    plan_slope (own, own->refs[i], &n, &room->slopes[i]);
  if (!ml_nodal_room_for ((void **) &room->device_slopes, &room->device_slope_room, n, sizeof *room->device_slopes))
    return false;
  for (int i = 0; i < own->n_refs; i++)
    if (room->slopes[i].kind == SLOPE_DEVICE)
      {
        const MlNodalParameterRef ref = own->refs[i];
        size_t n_local = (size_t) ml_nodal_type_n_local (own->solver->circuit->devices[ref.device].type);
        if (i == 0 || own->refs[i - 1].device != ref.device)
          ml_nodal_slopes_find_place (own->solver, ref.device);
        memcpy (room->device_slopes + room->slopes[i].first, ml_nodal_slopes_of_parameter (own->solver, ref.device, ref.parameter), n_local * sizeof (double));
      }
  return true;
}

/* The walk over all slopes, written once for a lane and for all: NUMBER is a double or a part of the lanes, of which `parts` make an entry. */
#define MULTIPLY_SLOPES(NUMBER, parts) \
  const double *device_slopes = own->room->device_slopes; \
  const int *node = own->solver->node; \
\
  for (int p = 0; p < (parts); p++) \
    { \
      const NUMBER *lambda = (const NUMBER *) (const void *) own->lambdas + p, *x = (const NUMBER *) (const void *) own->x + p; \
      NUMBER *to = (NUMBER *) (void *) own->slopes + p; \
      for (int i = 0; i < own->n_refs; i++) \
        { \
          const Slope *slope = &own->room->slopes[i]; \
          const int a = slope->a * (parts), b = slope->b * (parts); \
          NUMBER sum = { 0 }; \
          switch (slope->kind) \
            { \
            case SLOPE_CONDUCTANCE: \
              sum = (lambda[a] - lambda[b]) * slope->factor * (x[a] - x[b]); \
              break; \
            case SLOPE_LINK: \
              sum = lambda[a] * x[a]; \
              break; \
            case SLOPE_CURRENT: \
              sum = lambda[a] - lambda[b]; \
              break; \
            case SLOPE_DEVICE: \
              for (int k = 0; k < slope->b; k++) \
                sum -= lambda[node[slope->a + k] * (parts)] * device_slopes[slope->first + k]; \
              break; \
            case SLOPE_NONE: \
              break; \
            } \
          to[i * (parts)] = sum; \
        } \
    }

static void
multiply_slopes_of_one (const Readings *own)
{
  MULTIPLY_SLOPES (double, 1)
}

ML_NODAL_WIDE static void
multiply_slopes_of_all (const Readings *own)
{
  MULTIPLY_SLOPES (MlNodalPart, N_LANES / ML_NODAL_PART)
}

/* x and lambda of a lane, as one reading alone has them. Far from the probes a meter moves next to nothing: there x goes back to the settled point. */
static void
take_lane (Readings *own, int lane)
{
  MlNodalSolver *solver = own->solver;

  for (int u = 0; u < solver->n_unknowns; u++)
    {
      double x = own->x[u * own->width + lane], least = own->least[u] == 1.0 ? 1 : fabs (own->settled[u]); /* a node; a branch's current */
      solver->x[u] = fabs (x - own->settled[u]) <= SAME_V * least ? own->settled[u] : x;
      own->lambda[u] = own->lambdas[u * own->width + lane];
    }
}

static bool
stands_elsewhere (const Readings *own, int d)
{
  const MlNodalDevice *device = &own->solver->circuit->devices[d];
  const int *node = own->solver->node + device->first_local;

  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    if (own->solver->x[node[k]] != own->settled[node[k]])
      return true;
  return false;
}

/* Of devices that stand elsewhere than without a meter. The lane is taken. */
static void
correct_slopes (Readings *own, const MlNodalReading *reading)
{
  bool elsewhere = false;

  for (int i = 0; reading->slope && i < own->n_refs; i++)
    if (own->room->slopes[i].kind == SLOPE_DEVICE)
      {
        if (i == 0 || own->refs[i - 1].device != own->refs[i].device)
          {
            elsewhere = stands_elsewhere (own, own->refs[i].device);
            if (elsewhere)
              ml_nodal_slopes_find_place (own->solver, own->refs[i].device);
          }
        if (elsewhere)
          reading->slope[i] = ml_nodal_read_slope (own->solver, own->lambda, own->refs[i]);
      }
}

/* Several readings share the slopes of devices that no meter moves; a single one takes all where its devices stand. */
static bool
find_slopes (Readings *own, unsigned which, const MlNodalChange *changes, int n_changes)
{
  for (int k = 0; k < own->width; k++)
    own->lambdas[k] = own->x[k] = 0;
  if (own->width == 1)
    take_lane (own, 0);
  else if (!own->planned)
    memcpy (own->solver->x, own->settled, (size_t) own->solver->n_unknowns * sizeof (double));
  if (!own->planned && !plan_slopes (own))
    return false;
  own->planned = true;
  if (own->width > 1)
    multiply_slopes_of_all (own);
  else
    multiply_slopes_of_one (own);
  for (int k = 0; k < own->width; k++)
    if (has (which, k))
      {
        MlNodalReading *reading = own->reading[k];
        for (int i = 0; reading->slope && i < own->n_refs; i++)
          reading->slope[i] = own->slopes[i * own->width + k];
        if (own->width > 1)
          {
            take_lane (own, k);
            correct_slopes (own, reading);
          }
        ml_nodal_read_sizes (own->solver, own->lambda, changes, n_changes, reading->sized, reading->size_slope);
      }
  return true;
}

/* ---- readings ---- */

/* Takes the reading into a lane. False: not this way. */
static bool
take_reading (Readings *own, MlNodalReading *reading, int lane)
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
read_lanes (Readings *own, const MlNodalChange *changes, int n_changes)
{
  int n = own->solver->n_unknowns;
  unsigned which = 0, asked = 0;

  memset (own->gradient, 0, (size_t) (n * own->width) * sizeof (double));
  memset (own->room->bent_of, -1, (size_t) (own->n_bending * own->width) * sizeof (int));
  own->room->n_bent = 0;
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
      if (!find_slopes (own, which & asked, changes, n_changes))
        return false;
    }
  for (int k = 0; k < own->width; k++)
    if (has (which, k))
      own->reading[k]->status = ML_NODAL_OK;
  return true;
}

static MlNodalStatus
read_side_by_side (Readings *own, const MlNodalChange *changes, int n_changes, const MlNodalSolution *at, MlNodalReading *readings, int n_readings)
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
      Readings own = { .solver = solver, .room = solver->reading_room, .refs = refs, .n_refs = n_refs, .width = n_readings > 1 ? N_LANES : 1 };
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
