/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The operating point: start, ladder, solution. */
#include "nodal/solver.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LARGE 10000 /* unknowns */
#define MOST_MOVES 8 /* a relay that switches itself off again never rests */

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

MlNodalStatus
ml_nodal_solution_init (MlNodalSolution *solution, const MlNodalCircuit *circuit)
{
  memset (solution, 0, sizeof *solution);
  solution->failed_net = solution->failed_device = -1;
  int n_nets = circuit->n_nets, n_pins = circuit->n_pins, n_state = circuit->n_unknowns - n_nets;
  solution->net_v = calloc ((size_t) n_nets, sizeof (double));
  solution->floating = calloc ((size_t) n_nets, sizeof (bool));
  solution->pin_a = calloc ((size_t) n_pins + 1, sizeof (double));
  solution->metal_v = calloc ((size_t) n_pins + 1, sizeof (double));
  solution->state = calloc ((size_t) n_state + 1, sizeof (double));
  solution->latched = calloc ((size_t) circuit->n_devices + 1, sizeof (double));
  if (!solution->net_v || !solution->floating || !solution->pin_a || !solution->metal_v || !solution->state || !solution->latched)
    {
      ml_nodal_solution_clear (solution);
      return ML_NODAL_NO_MEMORY;
    }
  solution->n_nets = n_nets;
  solution->n_pins = n_pins;
  solution->n_state = n_state;
  solution->n_devices = circuit->n_devices;
  return ML_NODAL_OK;
}

void
ml_nodal_solution_copy (MlNodalSolution *to, const MlNodalSolution *from)
{
  MlNodalSolution kept = *to;

  if (to == from || to->n_nets != from->n_nets || to->n_pins != from->n_pins || to->n_state != from->n_state || to->n_devices != from->n_devices)
    return;
  *to = *from;
  to->net_v = kept.net_v;
  to->floating = kept.floating;
  to->pin_a = kept.pin_a;
  to->metal_v = kept.metal_v;
  to->state = kept.state;
  to->latched = kept.latched;
  memcpy (to->net_v, from->net_v, (size_t) from->n_nets * sizeof (double));
  memcpy (to->floating, from->floating, (size_t) from->n_nets * sizeof (bool));
  memcpy (to->pin_a, from->pin_a, (size_t) from->n_pins * sizeof (double));
  memcpy (to->metal_v, from->metal_v, (size_t) from->n_pins * sizeof (double));
  memcpy (to->state, from->state, (size_t) from->n_state * sizeof (double));
  memcpy (to->latched, from->latched, (size_t) from->n_devices * sizeof (double));
}

void
ml_nodal_solution_clear (MlNodalSolution *solution)
{
  free (solution->net_v);
  free (solution->floating);
  free (solution->pin_a);
  free (solution->metal_v);
  free (solution->state);
  free (solution->latched);
  memset (solution, 0, sizeof *solution);
}

void
ml_nodal_solver_free (MlNodalSolver *solver)
{
  if (!solver)
    return;
  ml_nodal_matrix_clear (&solver->matrix);
  ml_nodal_solution_clear (&solver->scratch);
  ml_nodal_lanes_free (solver->lanes);
  void *arrays[] = { solver->parameters, solver->derived, solver->prepared, solver->open, solver->known_open, solver->node, solver->position, solver->touched, solver->moved, solver->latched,
                     solver->touched_list, solver->restored_list, solver->others, solver->limited, solver->extras, solver->conductances, solver->gauges,
                     solver->base, solver->group, solver->core, solver->x, solver->step, solver->f, solver->anchor, solver->known, solver->known_x,
                     solver->known_f, solver->known_jacobian, solver->home, solver->home_x, solver->home_f, solver->home_jacobian, solver->slopes,
                     solver->slopes_first, solver->slopes_known };
  for (size_t i = 0; i < sizeof arrays / sizeof arrays[0]; i++)
    free (arrays[i]);
  free (solver);
}

/* of: NULL, or the solver it is to be a lane of. */
static MlNodalSolver *
solver_alloc (const MlNodalCircuit *circuit, const MlNodalMatrix *of, MlNodalStatus *ret_status)
{
  MlNodalSolver *solver = circuit && circuit->finished ? calloc (1, sizeof *solver) : NULL;

  *ret_status = circuit && circuit->finished ? ML_NODAL_NO_MEMORY : ML_NODAL_BAD_ARGUMENT;
  if (!solver)
    return NULL;
  solver->circuit = circuit;
  solver->attached = -1;
  size_t n = (size_t) circuit->n_devices + 1;
  solver->parameters = malloc (((size_t) circuit->n_parameters + 1) * sizeof (double));
  solver->derived = calloc ((size_t) circuit->n_derived + 1, sizeof (double));
  solver->prepared = malloc (((size_t) circuit->n_parameters + 1) * sizeof (double));
  solver->open = calloc (n, sizeof *solver->open);
  solver->known_open = calloc (n, sizeof *solver->known_open);
  solver->node = malloc (((size_t) circuit->n_locals + 1) * sizeof (int));
  solver->position = malloc (((size_t) circuit->n_positions + 1) * sizeof (int));
  solver->touched = calloc (n, sizeof (bool));
  solver->moved = calloc (n, sizeof (bool));
  solver->latched = malloc (n * sizeof (double));
  solver->touched_list = malloc (n * sizeof (int));
  solver->restored_list = malloc (n * sizeof (int));
  solver->others = malloc (n * sizeof (int));
  solver->limited = calloc ((size_t) circuit->n_locals + 1, sizeof (double));
  solver->known = calloc (n, sizeof (bool));
  solver->known_x = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->known_f = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->known_jacobian = malloc (((size_t) circuit->n_positions + 1) * sizeof (double));
  solver->home = calloc (n, sizeof (bool));
  solver->home_x = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->home_f = malloc (((size_t) circuit->n_locals + 1) * sizeof (double));
  solver->home_jacobian = malloc (((size_t) circuit->n_positions + 1) * sizeof (double));
  if (!solver->home || !solver->home_x || !solver->home_f || !solver->home_jacobian || !solver->prepared || !solver->known_open || !solver->known || !solver->known_x || !solver->known_f || !solver->known_jacobian || !solver->parameters || !solver->derived || !solver->open || !solver->node || !solver->position || !solver->touched || !solver->moved || !solver->latched
      || !solver->touched_list || !solver->restored_list || !solver->others || !solver->limited
      || (*ret_status = of ? ml_nodal_matrix_init_lane (&solver->matrix, of) : ml_nodal_matrix_init (&solver->matrix, circuit)) != ML_NODAL_OK)
    {
      ml_nodal_solver_free (solver);
      return NULL;
    }
  if (circuit->n_parameters > 0)
    {
      memcpy (solver->parameters, circuit->parameters, (size_t) circuit->n_parameters * sizeof (double));
      memcpy (solver->prepared, circuit->parameters, (size_t) circuit->n_parameters * sizeof (double));
    }
  if (circuit->n_locals > 0)
    memcpy (solver->node, circuit->node, (size_t) circuit->n_locals * sizeof (int));
  if (circuit->n_positions > 0)
    memcpy (solver->position, circuit->position, (size_t) circuit->n_positions * sizeof (int));
  for (int d = 0; d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      if (device->type->prepare)
        device->type->prepare (solver->parameters + device->first_parameter, solver->derived + device->first_derived);
    }
  return solver;
}

MlNodalSolver *
ml_nodal_solver_new_lane (const MlNodalSolver *solver)
{
  MlNodalStatus status;

  return solver_alloc (solver->circuit, &solver->matrix, &status);
}

MlNodalCounts
ml_nodal_solver_counts (const MlNodalSolver *solver)
{
  MlNodalCounts counts = solver->counts;
  counts.refactors = solver->matrix.n_refactors;
  counts.factors = solver->matrix.n_factors;
  counts.analyses = solver->matrix.n_analyses;
  counts.transposed_solves = solver->matrix.n_transposed;
  return counts;
}

static void
begin_at (MlNodalSolver *solver, const MlNodalSolution *start)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memset (solver->x, 0, (size_t) solver->n_unknowns * sizeof (double));
  solver->have_limited = false;
  solver->from_solution = start != NULL;
  solver->leak_s = solver->anchor_s = solver->lean_s = 0;
  for (int e = 0; e < solver->n_extras; e++)
    solver->extras[e].last = solver->extras[e].test_a;
  if (!start)
    return;
  memcpy (solver->x, start->net_v, (size_t) circuit->n_nets * sizeof (double));
  memcpy (solver->x + circuit->n_nets, start->state, (size_t) start->n_state * sizeof (double));
  for (int e = 0; e < solver->n_extras; e++)
    {
      const MlNodalExtra *extra = &solver->extras[e];
      double *x = &solver->x[circuit->n_unknowns + e];
      if (extra->kind == ML_NODAL_EXTRA_NODE)
        *x = start->metal_v[extra->pin];
      else if (extra->kind == ML_NODAL_EXTRA_INNER)
        {
          const MlNodalDevice *device = &circuit->devices[extra->device];
          int own = device->first_inner + extra->local - device->type->n_pins;
          *x = solver->x[own];
          solver->x[own] = 0;
        }
      else if (extra->kind == ML_NODAL_EXTRA_METER)
        *x = extra->test_a;
      else if (extra->kind == ML_NODAL_EXTRA_CORRECTION)
        *x = solver->x[extra->a];
    }
}

static MlNodalStatus
climb_leak (MlNodalSolver *solver, double from, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_OK;

  for (double leak = from; leak > 0 && status == ML_NODAL_OK; leak = leak > 2e-12 ? leak * 0.1 : 0)
    {
      solver->leak_s = leak;
      status = ml_nodal_newton (solver, 60, steps, row);
    }
  solver->leak_s = 0;
  return status == ML_NODAL_OK ? ml_nodal_newton (solver, 60, steps, row) : status;
}

static MlNodalStatus
climb_supply (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_OK;
  double scale = 0, stride = 0.1;

  solver->leak_s = 1e-6;
  while (scale < 1.0)
    {
      double to = fmin (scale + stride, 1.0);
      memcpy (solver->anchor, solver->x, (size_t) solver->n_unknowns * sizeof (double));
      ml_nodal_vary_scale (solver, to);
      status = ml_nodal_newton (solver, 40, steps, row);
      if (status == ML_NODAL_OK)
        {
          scale = to;
          stride *= 1.7;
          continue;
        }
      memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
      solver->have_limited = false;
      stride *= 0.3;
      if (stride < 1e-4 || status == ML_NODAL_NO_MEMORY)
        break;
    }
  ml_nodal_vary_scale (solver, 1.0);
  return scale < 1.0 ? status : climb_leak (solver, 1e-7, steps, row);
}

/* Pseudo-transient continuation: every node is held to where it was by a conductance that fades as the circuit settles.
 * Source: Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998). */
static MlNodalStatus
settle (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;
  double hold = 1.0;

  for (int k = 0; k < 120 && hold < 1e12; k++)
    {
      memcpy (solver->anchor, solver->x, (size_t) solver->n_unknowns * sizeof (double));
      solver->anchor_s = hold;
      status = ml_nodal_newton (solver, 25, steps, row);
      if (status == ML_NODAL_NO_MEMORY)
        return status;
      if (status != ML_NODAL_OK)
        {
          memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
          solver->have_limited = false;
          hold *= 8;
          continue;
        }
      hold *= 0.35;
      if (hold < 1e-12)
        break;
    }
  solver->anchor_s = 0;
  return ml_nodal_newton (solver, 60, steps, row);
}

/* Amplifiers, comparators and regulators with little gain have one gentle answer; their gain then grows to what it is. Where the way turns
 * back (a latch) the point is held to where it was while it settles on the other side. */
static MlNodalStatus
climb_gain (MlNodalSolver *solver, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;
  double share = 1e-4, stride = 3;

  if (!ml_nodal_vary_soften (solver, share))
    return status;
  for (status = climb_leak (solver, 1e-2, steps, row); share < 1 && (status == ML_NODAL_OK || status == ML_NODAL_NOT_CONVERGED);)
    {
      double to = fmin (share * stride, 1);
      memcpy (solver->anchor, solver->x, (size_t) solver->n_unknowns * sizeof (double));
      ml_nodal_vary_soften (solver, to);
      status = ml_nodal_newton (solver, 40, steps, row);
      if (status == ML_NODAL_NOT_CONVERGED && stride < 1.05)
        {
          memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
          solver->have_limited = false;
          status = settle (solver, steps, row);
          if (status != ML_NODAL_OK)
            break;
          stride = 1.5;
        }
      if (status == ML_NODAL_OK)
        {
          share = to;
          stride = fmin (stride * stride, 10);
          continue;
        }
      memcpy (solver->x, solver->anchor, (size_t) solver->n_unknowns * sizeof (double));
      solver->have_limited = false;
      stride = sqrt (stride);
    }
  ml_nodal_vary_soften (solver, 1);
  return share < 1 && status == ML_NODAL_OK ? ML_NODAL_NOT_CONVERGED : status;
}

/* The highest voltage a source of the circuit has. */
static double
source_v (const MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;
  double highest = 1;

  for (int d = 0; d < circuit->n_devices; d++)
    if (circuit->devices[d].type->source && circuit->devices[d].type->n_inner > 0)
      highest = fmax (highest, fabs (solver->parameters[circuit->devices[d].first_parameter + circuit->devices[d].type->source - 1]));
  return highest;
}

/* A cold start with the preferred nets held to one side, then let go. */
static MlNodalStatus
lean (MlNodalSolver *solver, double volts, int *steps, int *row)
{
  begin_at (solver, NULL);
  solver->lean_v = volts;
  solver->lean_s = 0.1;
  MlNodalStatus status = ml_nodal_newton (solver, 60, steps, row);
  for (; status == ML_NODAL_OK && solver->lean_s > 1e-5; solver->lean_s *= 0.1)
    status = ml_nodal_newton (solver, 40, steps, row);
  solver->lean_s = 0;
  return status == ML_NODAL_OK ? ml_nodal_newton (solver, 60, steps, row) : status;
}

/* Towards the states that were asked for; whether leaning the other way gives others. Where leaning fails the plain ladder goes on. */
static MlNodalStatus
climb_preferred (MlNodalSolver *solver, int *steps, int *row)
{
  const MlNodalCircuit *circuit = solver->circuit;
  size_t bytes = (size_t) solver->n_unknowns * sizeof (double);
  double volts = source_v (solver);

  bool other = lean (solver, -volts, steps, row) == ML_NODAL_OK, differs = false;
  memcpy (solver->anchor, solver->x, bytes);
  MlNodalStatus status = lean (solver, volts, steps, row);
  for (int u = 1; other && status == ML_NODAL_OK && u < circuit->n_nets; u++)
    differs = differs || (circuit->prefer[u] != 0 && fabs (solver->x[u] - solver->anchor[u]) > 1e-3);
  return differs ? ML_NODAL_AMBIGUOUS : status;
}

static MlNodalStatus
climb (MlNodalSolver *solver, const MlNodalSolution *start, MlNodalRung *ret_rung, int *steps, int *row)
{
  MlNodalStatus status = ML_NODAL_NOT_CONVERGED;

  if (!start && solver->circuit->n_preferred > 0)
    {
      *ret_rung = ML_NODAL_RUNG_COLD;
      status = climb_preferred (solver, steps, row);
      if (status >= 0 || status == ML_NODAL_NO_MEMORY)
        return status;
    }
  for (int rung = solver->first_rung; rung < ML_NODAL_N_RUNGS; rung++)
    {
      begin_at (solver, rung == ML_NODAL_RUNG_WARM ? start : NULL);
      *ret_rung = (MlNodalRung) rung;
      switch ((MlNodalRung) rung)
        {
        case ML_NODAL_RUNG_WARM:
        case ML_NODAL_RUNG_COLD:
          status = ml_nodal_newton (solver, rung == ML_NODAL_RUNG_WARM ? ML_NODAL_WARM_STEPS : ML_NODAL_COLD_STEPS, steps, row);
          break;
        case ML_NODAL_RUNG_LEAK:
          status = climb_leak (solver, 1e-2, steps, row);
          break;
        case ML_NODAL_RUNG_SUPPLY:
          status = climb_supply (solver, steps, row);
          break;
        case ML_NODAL_RUNG_GAIN:
          status = climb_gain (solver, steps, row);
          break;
        case ML_NODAL_RUNG_TRANSIENT:
          status = settle (solver, steps, row);
          break;
        case ML_NODAL_N_RUNGS:
          break;
        }
      if (status == ML_NODAL_OK || status == ML_NODAL_NO_MEMORY)
        break;
    }
  return status;
}

static void
name_failure (const MlNodalSolver *solver, int unknown, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;

  if (unknown >= circuit->n_unknowns)
    {
      const MlNodalExtra *extra = &solver->extras[unknown - circuit->n_unknowns];
      if (extra->device >= 0)
        solution->failed_device = extra->device;
      else if (extra->a > 0 && extra->a < circuit->n_nets)
        solution->failed_net = extra->a;
      return;
    }
  if (unknown > 0 && unknown < circuit->n_nets)
    solution->failed_net = unknown;
  for (int d = 0; unknown >= circuit->n_nets && d < circuit->n_devices; d++)
    for (int k = 0; k < ml_nodal_type_n_local (circuit->devices[d].type); k++)
      if (circuit->node[circuit->devices[d].first_local + k] == unknown)
        solution->failed_device = d;
}

/* A gauge that carries current: a current source drives a piece of circuit that has no way out. */
static MlNodalStatus
check_gauges (const MlNodalSolver *solver, MlNodalSolution *solution)
{
  double tolerance = fmax (1e-8 * solver->largest_a, 1e-11);

  for (int i = 0; i < solver->n_gauges; i++)
    {
      const MlNodalGauge *gauge = &solver->gauges[i];
      if (!gauge->correction && fabs (ML_NODAL_GAUGE_S * (solver->x[gauge->a] - solver->x[gauge->b])) > tolerance)
        {
          name_failure (solver, gauge->a, solution);
          return ML_NODAL_SINGULAR;
        }
    }
  return ML_NODAL_OK;
}

/* Currents of shorts inside a part also flow through its pins. */
static void
add_bridge (const MlNodalSolver *solver, const MlNodalChange *changes, int change, double a, MlNodalSolution *solution)
{
  if (change < 0 || changes[change].kind != ML_NODAL_BRIDGE_PINS)
    return;
  int first = solver->circuit->devices[changes[change].device].first_pin;
  solution->pin_a[first + changes[change].index] += a;
  solution->pin_a[first + changes[change].index_b] -= a;
}

static void
fill_pins (MlNodalSolver *solver, const MlNodalChange *changes, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;
  double f[ML_NODAL_MAX_LOCAL];

  for (int d = 0; d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      const int *node = solver->node + device->first_local;
      bool shorted = device->type->flags & ML_NODAL_CONDUCTANCE && !isfinite (solver->derived[device->first_derived]);
      if (shorted)
        f[0] = f[1] = 0;
      else
        ml_nodal_device_currents (solver, d, f);
      for (int k = 0; k < device->type->n_pins; k++)
        {
          solution->pin_a[device->first_pin + k] = f[k];
          solution->metal_v[device->first_pin + k] = solver->x[node[k]];
        }
      if (device->type->latched)
        solution->latched[d] = solver->parameters[device->first_parameter + device->type->latched - 1];
      for (int k = 0; k < device->type->n_inner; k++)
        solution->state[device->first_inner + k - circuit->n_nets] = solver->x[node[device->type->n_pins + k]];
    }
  for (int e = 0; e < solver->n_extras; e++)
    {
      const MlNodalExtra *extra = &solver->extras[e];
      double j = solver->x[circuit->n_unknowns + e];
      if (extra->kind != ML_NODAL_EXTRA_LINK)
        continue;
      add_bridge (solver, changes, extra->change, j, solution);
      if (extra->device >= 0)
        {
          solution->pin_a[circuit->devices[extra->device].first_pin] += j;
          solution->pin_a[circuit->devices[extra->device].first_pin + 1] -= j;
        }
    }
  for (int i = 0; i < solver->n_conductances; i++)
    {
      const MlNodalConductance *c = &solver->conductances[i];
      add_bridge (solver, changes, c->change, c->siemens * (solver->x[c->a] - solver->x[c->b]), solution);
    }
}

static void
fill_solution (MlNodalSolver *solver, const MlNodalChange *changes, MlNodalSolution *solution)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memcpy (solution->net_v, solver->x, (size_t) circuit->n_nets * sizeof (double));
  memcpy (solution->state, solver->x + circuit->n_nets, (size_t) solution->n_state * sizeof (double));
  for (int u = 0; u < circuit->n_nets; u++)
    solution->floating[u] = ml_nodal_is_floating (solver, u);
  if (!solver->bare)
    fill_pins (solver, changes, solution);
}

/* Ideal sources in a loop drive a current without end; its unknown, or 0. */
static int
runaway (const MlNodalSolver *solver)
{
  for (int u = solver->circuit->n_nodes; u < solver->n_unknowns; u++)
    if (!ml_nodal_is_node (solver, u) && !(fabs (solver->x[u]) < 1e9))
      return u;
  return 0;
}

/* A coil pulls its contacts in at its pull voltage and lets them go below its release voltage. */
static bool
contact_state (const MlNodalSolver *solver, const MlNodalDevice *contact, bool was)
{
  const MlNodalDevice *coil = &solver->circuit->devices[contact->coil];
  const double *parameters = solver->parameters + coil->first_parameter;
  double v = fabs (parameters[ML_NODAL_COIL_OHM] * solver->x[solver->node[coil->first_local + coil->type->n_pins]]);

  return v >= parameters[was ? ML_NODAL_COIL_RELEASE : ML_NODAL_COIL_PULL];
}

static void
local_voltages (const MlNodalSolver *solver, int d, double *ret_x)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];

  for (int k = 0; k < ml_nodal_type_n_local (device->type); k++)
    ret_x[k] = solver->x[solver->node[device->first_local + k]];
}

static bool
latch_state (const MlNodalSolver *solver, int d, bool was)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL], jacobian[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];

  local_voltages (solver, d, x);
  ml_nodal_device_eval (solver, d, solver->derived + device->first_derived, f, jacobian);
  return device->type->latch (solver->parameters + device->first_parameter, x, f, was);
}

/* As built; where more than one state is possible, as the start has them. */
static void
recall_states (MlNodalSolver *solver, const MlNodalSolution *start)
{
  for (int d = 0; d < solver->circuit->n_devices; d++)
    {
      bool whole = start && start->status == ML_NODAL_AMBIGUOUS && (start->latched[d] == 0 || start->latched[d] == 1);
      bool moves = solver->circuit->devices[d].coil >= 0 || solver->circuit->devices[d].type->latch;
      solver->latched[d] = whole && moves ? start->latched[d] : -1;
    }
}

static bool
is_set (const MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, int d)
{
  int parameter = solver->circuit->devices[d].type->latched - 1;

  for (int i = 0; i < n_changes; i++)
    if (changes[i].kind == ML_NODAL_SET_PARAMETER && changes[i].device == d && changes[i].index == parameter)
      return true;
  return false;
}

static bool
is_in_balance (double latched)
{
  return latched > 0 && latched < 1;
}

/* A balance holds for the states of all others as they were: once one of them has moved it is to be found anew. */
static void
leave_balances (MlNodalSolver *solver)
{
  for (int d = 0; d < solver->circuit->n_devices; d++)
    if (is_in_balance (solver->latched[d]))
      solver->latched[d] = 0;
}

/* Contacts and latching devices after a solution. True when one changed. */
static bool
move_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, int *ret_device)
{
  const MlNodalCircuit *circuit = solver->circuit;
  bool moved = false;

  for (int d = 0; circuit->n_latching > 0 && d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      int parameter = device->type->latched - 1;
      if ((device->coil < 0 && !device->type->latch) || is_in_balance (solver->latched[d]))
        continue;
      bool was = solver->parameters[device->first_parameter + parameter] > 0.5;
      bool is = device->coil >= 0 ? contact_state (solver, device, was) : latch_state (solver, d, was);
      if (is != was && !is_set (solver, changes, n_changes, d))
        {
          solver->latched[d] = is;
          *ret_device = d;
          moved = true;
        }
    }
  if (moved)
    leave_balances (solver);
  return moved;
}

/* The rung that a ladder begins on. */
static MlNodalRung
first_rung (const MlNodalSolution *start)
{
  return start ? ML_NODAL_RUNG_WARM : ML_NODAL_RUNG_COLD;
}

static MlNodalStatus
run_once (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *start,
          MlNodalSolution *ret_solution)
{
  int row = 0;
  MlNodalStatus status = ml_nodal_vary (solver, changes, n_changes, meter);

  ret_solution->failed_net = ret_solution->failed_device = -1;
  if (status != ML_NODAL_OK)
    return status;
  status = climb (solver, start, &ret_solution->rung, &ret_solution->iterations, &row);
  if (status == ML_NODAL_NOT_CONVERGED && (row = runaway (solver)) > 0)
    status = ML_NODAL_SINGULAR;
  if (status >= 0)
    {
      MlNodalStatus checked = check_gauges (solver, ret_solution);
      status = checked == ML_NODAL_OK ? status : checked;
    }
  else if (status == ML_NODAL_SINGULAR)
    name_failure (solver, row, ret_solution);
  else if (status == ML_NODAL_NOT_CONVERGED)
    {
      name_failure (solver, solver->worst_step, ret_solution);
      if (ret_solution->failed_net < 0 && ret_solution->failed_device < 0)
        ret_solution->failed_device = solver->limit_device;
    }
  fill_solution (solver, changes, ret_solution);
  return status;
}

/* A thyristor that takes its own gate current away when it fires, and then its holding current, neither stays on nor off. In between, where
 * its gate gets just what fires it, there is a balance: the share of the latched law that it conducts there, by bisection. Where the circuit
 * jumps instead of passing through, there is none. */
static MlNodalStatus
balance (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, int device, MlNodalSolution *ret_solution)
{
  double low = log (1e-9), high = 0, x[2][ML_NODAL_MAX_LOCAL] = { { 0 } };
  MlNodalStatus status = ML_NODAL_OK;

  if (!solver->circuit->devices[device].type->latch)
    return ML_NODAL_NOT_CONVERGED;
  while (high - low > 1e-13 && status >= 0)
    {
      double middle = 0.5 * (low + high);
      solver->latched[device] = exp (middle);
      status = run_once (solver, changes, n_changes, meter, ret_solution->status >= 0 ? ret_solution : NULL, ret_solution);
      bool fires = status >= 0 && latch_state (solver, device, false);
      *(fires ? &low : &high) = middle;
      local_voltages (solver, device, x[fires]);
    }
  for (int k = 0; status >= 0 && k < ml_nodal_type_n_local (solver->circuit->devices[device].type); k++)
    if (fabs (x[1][k] - x[0][k]) > 1e-3)
      status = ML_NODAL_NOT_CONVERGED;
  return status >= 0 ? ML_NODAL_AMBIGUOUS : status;
}

double
ml_nodal_preference (const MlNodalCircuit *circuit, const MlNodalSolution *solution)
{
  double sum = 0;

  for (int u = 1; u < circuit->n_nets; u++)
    sum += circuit->prefer[u] * solution->net_v[u];
  return sum;
}

/* Whether a contact or a part that latches would also stay in its other position, one after the other; the state that is preferred. */
static MlNodalStatus
look_for_other_states (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *ret_solution)
{
  const MlNodalCircuit *circuit = solver->circuit;
  MlNodalSolution other;
  MlNodalStatus status = ml_nodal_solution_init (&other, circuit);
  bool found = false;
  int waste;

  for (int d = 0; status == ML_NODAL_OK && d < circuit->n_devices; d++)
    {
      const MlNodalDevice *device = &circuit->devices[d];
      if ((device->coil < 0 && !device->type->latch) || is_set (solver, changes, n_changes, d))
        continue;
      for (int k = 0; k < circuit->n_devices; k++)
        solver->latched[k] = circuit->devices[k].type->latched ? ret_solution->latched[k] : -1;
      leave_balances (solver);
      solver->latched[d] = ret_solution->latched[d] > 0.5 ? 0 : 1;
      solver->first_rung = ML_NODAL_RUNG_WARM;
      MlNodalStatus tried = run_once (solver, changes, n_changes, NULL, ret_solution, &other);
      status = tried == ML_NODAL_NO_MEMORY ? tried : status;
      for (int k = 0; k < MOST_MOVES && tried >= 0 && solver->latched[d] == !(ret_solution->latched[d] > 0.5)
                      && move_states (solver, changes, n_changes, &waste); k++)
        tried = run_once (solver, changes, n_changes, NULL, &other, &other);
      if (tried < 0 || solver->latched[d] != !(ret_solution->latched[d] > 0.5) || move_states (solver, changes, n_changes, &waste))
        continue;
      found = true;
      other.iterations = ret_solution->iterations;
      other.rung = ret_solution->rung;
      if (ml_nodal_preference (circuit, &other) > ml_nodal_preference (circuit, ret_solution))
        ml_nodal_solution_copy (ret_solution, &other);
    }
  ml_nodal_solution_clear (&other);
  return status == ML_NODAL_OK && found ? ML_NODAL_AMBIGUOUS : status;
}

MlNodalStatus
ml_nodal_run_begin (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *start,
                    MlNodalSolution *ret_solution)
{
  recall_states (solver, start);
  ret_solution->failed_net = ret_solution->failed_device = -1;
  ret_solution->rung = start ? ML_NODAL_RUNG_WARM : ML_NODAL_RUNG_COLD;
  MlNodalStatus status = ml_nodal_vary (solver, changes, n_changes, meter);
  if (status == ML_NODAL_OK)
    begin_at (solver, start);
  return status;
}

bool
ml_nodal_run_end (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, MlNodalSolution *ret_solution)
{
  int restless;

  if (check_gauges (solver, ret_solution) != ML_NODAL_OK)
    return false;
  fill_solution (solver, changes, ret_solution);
  if (move_states (solver, changes, n_changes, &restless))
    return false;
  ret_solution->iterations = solver->newton.steps;
  ret_solution->residual_a = solver->residual_a;
  ret_solution->status = ML_NODAL_OK;
  return true;
}

MlNodalStatus
ml_nodal_run (MlNodalSolver *solver, const MlNodalChange *changes, int n_changes, const MlNodalMeter *meter, const MlNodalSolution *start,
              MlNodalSolution *ret_solution)
{
  if (ret_solution->n_nets != solver->circuit->n_nets || ret_solution->n_pins != solver->circuit->n_pins)
    return ML_NODAL_BAD_ARGUMENT;
  solver->counts.solves++;
  /* A solution depends on the circuit, the changes and the start alone, not on what this solver did before. */
  if (ml_nodal_matrix_usual_pivots (&solver->matrix) != ML_NODAL_OK)
    return ret_solution->status = ML_NODAL_NO_MEMORY;
  recall_states (solver, start);
  ret_solution->iterations = solver->failed_steps;
  ret_solution->rung = ML_NODAL_RUNG_COLD;
  start = start && start->status >= 0 ? start : NULL;
  solver->first_rung = first_rung (start) + (solver->failed_steps > 0);
  MlNodalStatus status = run_once (solver, changes, n_changes, meter, start, ret_solution);
  bool in_balance = status == ML_NODAL_AMBIGUOUS;
  int restless = -1;
  for (int k = 1; status >= 0 && move_states (solver, changes, n_changes, &restless); k++)
    {
      solver->first_rung = ML_NODAL_RUNG_WARM;
      ret_solution->status = status;
      if (k % MOST_MOVES != 0)
        status = run_once (solver, changes, n_changes, meter, ret_solution, ret_solution);
      else if ((status = k < 4 * MOST_MOVES ? balance (solver, changes, n_changes, meter, restless, ret_solution) : ML_NODAL_NOT_CONVERGED) < 0)
        ret_solution->failed_device = restless;
      in_balance = in_balance || status == ML_NODAL_AMBIGUOUS;
    }
  solver->failed_steps = 0;
  if (status >= 0 && in_balance)
    status = ML_NODAL_AMBIGUOUS;
  double residual_a = solver->residual_a;
  if (status >= 0 && !start && !meter && solver->circuit->n_latching > 0)
    {
      MlNodalStatus looked = look_for_other_states (solver, changes, n_changes, ret_solution);
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

/* The pivots of the healthy circuit serve every variation of it, unless the check of a step says otherwise. */
static MlNodalStatus
choose_pivots (MlNodalSolver *solver)
{
  MlNodalSolution healthy;
  MlNodalStatus status = ml_nodal_solution_init (&healthy, solver->circuit);

  /* In a large circuit a solution costs more than poorer pivots do. */
  if (status == ML_NODAL_OK && solver->circuit->n_unknowns > LARGE)
    status = ml_nodal_run_begin (solver, NULL, 0, NULL, NULL, &healthy);
  else if (status == ML_NODAL_OK)
    status = ml_nodal_run (solver, NULL, 0, NULL, NULL, &healthy);
  if (status != ML_NODAL_NO_MEMORY && solver->x)
    {
      ml_nodal_assemble (solver);
      status = ml_nodal_matrix_keep_pivots (&solver->matrix);
    }
  ml_nodal_solution_clear (&healthy);
  solver->counts = (MlNodalCounts){ 0 };
  solver->matrix.n_factors = solver->matrix.n_refactors = 0;
  return status;
}

MlNodalSolver *
ml_nodal_solver_new (const MlNodalCircuit *circuit, MlNodalStatus *ret_status)
{
  MlNodalSolver *solver = solver_alloc (circuit, NULL, ret_status);

  if (solver && (*ret_status = choose_pivots (solver)) == ML_NODAL_OK)
    return solver;
  ml_nodal_solver_free (solver);
  return NULL;
}
