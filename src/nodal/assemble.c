/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kirchhoff's current law where the unknowns are: what is left of it, and its Jacobian. A device whose step was limited is linearised where it was
 * allowed to go and extended along that tangent to where the voltages are, so that Kirchhoff's law stays linear in between. */
#include "nodal/solver.h"

#include <math.h>
#include <string.h>

void
ml_nodal_device_eval (const MlNodalSolver *solver, int d, const double *derived, double *f, double *jacobian)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const int *node = solver->node + device->first_local;
  int n = ml_nodal_type_n_local (device->type);
  double x[ML_NODAL_MAX_LOCAL];

  for (int k = 0; k < n; k++)
    x[k] = solver->x[node[k]];
  memset (f, 0, (size_t) n * sizeof *f);
  memset (jacobian, 0, (size_t) (n * n) * sizeof *jacobian);
  device->type->eval (derived, solver->open[d], x, f, jacobian);
}

/* Kept at hand by whoever adds several: in memory each would wait for the one before. */
static inline double
larger_of (double largest, double i)
{
  return fabs (i) > largest ? fabs (i) : largest;
}

/* The helpers below are written for any number of unknowns and made for each: n is a constant wherever they are called. */
#define FOR_EACH_SIZE static inline __attribute__ ((always_inline))
#define WITH_SIZE(size, call, ...) \
  switch (size) \
    { \
    case 2: call (__VA_ARGS__, 2); break; \
    case 3: call (__VA_ARGS__, 3); break; \
    case 4: call (__VA_ARGS__, 4); break; \
    case 5: call (__VA_ARGS__, 5); break; \
    default: call (__VA_ARGS__, size); break; \
    }

/* Whether the last evaluation serves. Most devices are far from a fault and never move. A start takes over an evaluation at exactly its own place alone, so that it does not depend on what was
 * solved before. */
FOR_EACH_SIZE bool
is_near (const double *x, const double *known_x, double most, const int n)
{
  bool near = true;

  for (int k = 0; k < n; k++)
    near = near && fabs (x[k] - known_x[k]) <= most;
  return near;
}

FOR_EACH_SIZE void
copy (double *to, const double *from, const int n)
{
  for (int k = 0; k < n; k++)
    to[k] = from[k];
}

FOR_EACH_SIZE void
evaluate (MlNodalSolver *solver, const MlNodalDevice *device, int d, const double *at, const int n)
{
  double *f = solver->known_f + device->first_local, *jacobian = solver->known_jacobian + device->first_position;

  for (int k = 0; k < n; k++)
    f[k] = 0;
  for (int k = 0; k < n * n; k++)
    jacobian[k] = 0;
  device->type->eval (solver->derived + device->first_derived, solver->open[d], at, f, jacobian);
  copy (solver->known_x + device->first_local, at, n);
  solver->known[d] = true;
}

/* The same where faults and readings begin one after the other: at a solution, of which they disturb a little. */
FOR_EACH_SIZE void
evaluate_at_home (MlNodalSolver *solver, const MlNodalDevice *device, int d, const double *at, const int n)
{
  double *x = solver->home_x + device->first_local, *f = solver->home_f + device->first_local;
  double *jacobian = solver->home_jacobian + device->first_position;

  if (solver->home[d] && is_near (at, x, 0, n))
    {
      copy (solver->known_x + device->first_local, x, n);
      copy (solver->known_f + device->first_local, f, n);
      copy (solver->known_jacobian + device->first_position, jacobian, n * n);
      solver->known[d] = true;
      return;
    }
  evaluate (solver, device, d, at, n);
  copy (x, at, n);
  copy (f, solver->known_f + device->first_local, n);
  copy (jacobian, solver->known_jacobian + device->first_position, n * n);
  solver->home[d] = true;
}

/* Has known_x, known_f and known_jacobian hold the device near x: as limited, or where it already was. */
FOR_EACH_SIZE void
linearise (MlNodalSolver *solver, const MlNodalDevice *device, int d, const double *x, const int n)
{
  const double *known_x = solver->known_x + device->first_local;
  double *last = solver->limited + device->first_local;
  double at[ML_NODAL_MAX_LOCAL];

  bool first = !solver->have_limited, at_home = first && solver->from_solution && !solver->touched[d];
  bool stands = at_home || (first && solver->from_solution && solver->at_work);
  if (!first && solver->known[d] && is_near (x, known_x, ml_nodal_near_v (device->type), n))
    {
      copy (last, x, n);
      return;
    }
  copy (at, x, n);
  /* Where a solution has an untouched device stand, or any when only a meter is attached, it may be linearised. */
  if (device->type->limit && !stands && !(first && solver->from_anchor))
    device->type->limit (solver->derived + device->first_derived, solver->open[d], first ? NULL : last, at);
  if (!first || !solver->known[d] || !is_near (at, known_x, 0, n))
    {
      if (at_home)
        evaluate_at_home (solver, device, d, at, n);
      else
        evaluate (solver, device, d, at, n);
    }
  copy (last, at, n);
  for (int k = 0; k < n; k++)
    if (x[k] != at[k] && fabs (x[k] - at[k]) > solver->limit_gap * (1.0 + fabs (x[k])))
      {
        solver->limit_gap = fabs (x[k] - at[k]) / (1.0 + fabs (x[k]));
        solver->limit_device = d;
      }
}

FOR_EACH_SIZE void
go_along_tangent (double *f, const double *jacobian, const double *from, const double *to, const int n)
{
  for (int c = 0; c < n; c++)
    {
      double distance = to[c] - from[c];
      for (int r = 0; r < n; r++)
        f[r] += jacobian[r * n + c] * distance;
    }
}

FOR_EACH_SIZE void
add_currents (MlNodalSolver *solver, const MlNodalDevice *device, const double *f, const int n)
{
  const int *node = solver->node + device->first_local;
  /* What flows round between two pins on one net is nothing to it; added and taken again it would cost a net of picoamperes its digits. */
  int first = device->type->n_pins == 2 && node[0] == node[1] ? 2 : 0;
  double largest = solver->largest_a;

  for (int k = first; k < n; k++)
    solver->f[node[k]] += f[k];
  for (int k = 0; k < n; k++)
    if (k < device->type->n_pins)
      largest = larger_of (largest, f[k]);
  solver->largest_a = largest;
}

/* A branch is known for good from its place at zero. A conductance is not: it would lose the digits of a small voltage across it. */
FOR_EACH_SIZE void
assemble_branch (MlNodalSolver *solver, const MlNodalDevice *device, const int n)
{
  const int *node = solver->node + device->first_local;
  double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL];

  for (int k = 0; k < n; k++)
    x[k] = solver->x[node[k]];
  copy (f, solver->known_f + device->first_local, n);
  go_along_tangent (f, solver->known_jacobian + device->first_position, solver->known_x + device->first_local, x, n);
  add_currents (solver, device, f, n);
}

/* The same of two pins and the current between them, which flows in at the one and out at the other: that much is not to be multiplied. */
static inline double
assemble_plain_branch (MlNodalSolver *solver, const MlNodalDevice *device)
{
  const int *node = solver->node + device->first_local;
  const double *row = solver->known_jacobian + device->first_position + 6;
  const double a = solver->x[node[0]], b = solver->x[node[1]], j = solver->x[node[2]];

  if (node[0] != node[1])
    {
      solver->f[node[0]] += j;
      solver->f[node[1]] -= j;
    }
  solver->f[node[2]] += solver->known_f[device->first_local + 2] + row[0] * a + row[1] * b + row[2] * j;
  return j;
}

FOR_EACH_SIZE void
assemble_sized (MlNodalSolver *solver, const MlNodalDevice *device, int d, const int n)
{
  const int *node = solver->node + device->first_local;
  const double *known_x = solver->known_x + device->first_local, *jacobian = solver->known_jacobian + device->first_position;
  double x[ML_NODAL_MAX_LOCAL], f[ML_NODAL_MAX_LOCAL];

  for (int k = 0; k < n; k++)
    x[k] = solver->x[node[k]];
  linearise (solver, device, d, x, n);
  copy (f, solver->known_f + device->first_local, n);
  if (!is_near (x, known_x, 0, n)) /* mostly it was evaluated at x itself */
    go_along_tangent (f, jacobian, known_x, x, n);
  add_currents (solver, device, f, n);
  if (device->type->flags & ML_NODAL_LINEAR)
    return;
  const int *position = solver->position + device->first_position;
  for (int k = 0; k < n * n; k++)
    solver->matrix.values[position[k]] += jacobian[k];
}

static void
assemble_device (MlNodalSolver *solver, int d)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];

  WITH_SIZE (ml_nodal_type_n_local (device->type), assemble_sized, solver, device, d)
}

/* As assembled last; anew where that was elsewhere. */
FOR_EACH_SIZE void
currents_sized (const MlNodalSolver *solver, const MlNodalDevice *device, int d, double *f, const int n)
{
  const int *node = solver->node + device->first_local;
  const double *known_x = solver->known_x + device->first_local;
  double x[ML_NODAL_MAX_LOCAL], waste[ML_NODAL_MAX_LOCAL * ML_NODAL_MAX_LOCAL];
  bool linear = device->type->flags & ML_NODAL_LINEAR, branch = linear && n > device->type->n_pins;

  for (int k = 0; k < n; k++)
    x[k] = solver->x[node[k]];
  if (!branch && (linear || !solver->known[d] || !is_near (x, known_x, ml_nodal_near_v (device->type), n)))
    {
      ml_nodal_device_eval (solver, d, solver->derived + device->first_derived, f, waste);
      return;
    }
  copy (f, solver->known_f + device->first_local, n);
  go_along_tangent (f, solver->known_jacobian + device->first_position, known_x, x, n);
}

void
ml_nodal_device_currents (const MlNodalSolver *solver, int d, double *f)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const int *node = solver->node + device->first_local;

  if (device->type->flags & (ML_NODAL_CONDUCTANCE | ML_NODAL_CURRENT))
    {
      double a = solver->derived[device->first_derived];
      if (device->type->flags & ML_NODAL_CONDUCTANCE)
        a = solver->open[d] ? 0 : a * (solver->x[node[0]] - solver->x[node[1]]);
      f[0] = a;
      f[1] = -a;
      return;
    }
  WITH_SIZE (ml_nodal_type_n_local (device->type), currents_sized, solver, device, d, f)
}

const double *
ml_nodal_linear_jacobian (MlNodalSolver *solver, int d)
{
  static const double zeros[ML_NODAL_MAX_LOCAL];
  const MlNodalDevice *device = &solver->circuit->devices[d];

  if (!solver->known[d])
    evaluate (solver, device, d, zeros, ml_nodal_type_n_local (device->type));
  return solver->known_jacobian + device->first_position;
}

double
ml_nodal_stand_in_volts (MlNodalSolver *solver, const MlNodalExtra *extra)
{
  const MlNodalDevice *device = &solver->circuit->devices[extra->device];
  const int *node = solver->circuit->node + device->first_local;
  const double *row = ml_nodal_linear_jacobian (solver, extra->device) + extra->local * ml_nodal_type_n_local (device->type);
  double v = row[extra->local] * solver->x[device->first_inner];

  for (int k = 0; k < device->type->n_pins; k++)
    v += row[k] * solver->x[node[k]];
  return v;
}

/* The meter's test source: test_a until the voltage nears the compliance, then none: v = compliance (1 - exp ((j - test_a) / w)),
 * w = ML_NODAL_METER_WIDTH test_a. */
static void
assemble_meter (MlNodalSolver *solver, int e)
{
  MlNodalExtra *meter = &solver->extras[e];
  int u = solver->circuit->n_unknowns + e;
  double j = solver->x[u], w = ML_NODAL_METER_WIDTH * meter->test_a, limit = meter->test_a, at = j;

  if (j > limit && j - meter->last > 2 * w)
    at = meter->last < limit ? limit : meter->last + w * log1p ((j - meter->last) / w);
  meter->last = at;
  double rise = exp (fmin ((at - limit) / w, 50.0)), slope = meter->compliance_v * rise / w + 1e-9 * meter->compliance_v / limit;
  double gap = fabs (j - at) / w;
  if (gap > solver->limit_gap)
    solver->limit_gap = gap;
  solver->f[meter->a] -= j;
  solver->f[meter->b] += j;
  solver->f[u] += solver->x[meter->a] - solver->x[meter->b] - meter->compliance_v * (1.0 - rise)
                  + 1e-9 * meter->compliance_v / limit * at + slope * (j - at);
  solver->matrix.values[ml_nodal_matrix_position (&solver->matrix, u, u)] += slope;
}

static void
assemble_extra (MlNodalSolver *solver, int e)
{
  const MlNodalExtra *extra = &solver->extras[e];
  const double *x = solver->x;
  int u = solver->circuit->n_unknowns + e;

  switch (extra->kind)
    {
    case ML_NODAL_EXTRA_LINK:
      solver->f[extra->a] += x[u];
      solver->f[extra->b] -= x[u];
      solver->f[u] += x[extra->a] - x[extra->b] - extra->ohm * x[u];
      solver->largest_a = larger_of (solver->largest_a, x[u]);
      break;
    case ML_NODAL_EXTRA_METER:
      assemble_meter (solver, e);
      break;
    case ML_NODAL_EXTRA_STAND_IN:
      {
        int old = solver->circuit->devices[extra->device].first_inner;
        solver->f[u] += x[old];
        solver->f[old] += ml_nodal_stand_in_volts (solver, extra) - ML_NODAL_STAND_IN_V * x[u] - x[old];
        break;
      }
    case ML_NODAL_EXTRA_CORRECTION:
      solver->f[u] += x[extra->a] - x[u];
      break;
    case ML_NODAL_EXTRA_NODE:
    case ML_NODAL_EXTRA_INNER:
      break;
    }
}

/* Conductances of the ladder, from every node to the reference and to where it was. */
static void
assemble_ladder (MlNodalSolver *solver)
{
  if (solver->leak_s == 0 && solver->anchor_s == 0)
    return;
  for (int u = 1; u < solver->n_unknowns; u++)
    {
      if (!(u < solver->circuit->n_nodes || (u >= solver->circuit->n_unknowns && ml_nodal_is_node (solver, u))))
        continue;
      int diagonal = u < solver->circuit->n_nodes ? solver->circuit->diagonal[u] : ml_nodal_matrix_position (&solver->matrix, u, u);
      solver->f[u] += solver->leak_s * solver->x[u];
      if (solver->anchor_s > 0) /* else anchor may hold anything, and nothing times that need not be nothing */
        solver->f[u] += solver->anchor_s * (solver->x[u] - solver->anchor[u]);
      solver->matrix.values[diagonal] += solver->leak_s + solver->anchor_s;
    }
}

static void
assemble_lean (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;

  for (int u = 1; solver->lean_s > 0 && u < circuit->n_nets; u++)
    if (circuit->prefer[u] != 0)
      {
        double to = circuit->prefer[u] > 0 ? fmax (solver->lean_v, 0) : fmax (-solver->lean_v, 0);
        solver->f[u] += solver->lean_s * (solver->x[u] - to);
        solver->matrix.values[circuit->diagonal[u]] += solver->lean_s;
      }
}

static void
note_residual (MlNodalSolver *solver, int u)
{
  if (!(fabs (solver->f[u]) <= solver->residual_a))
    {
      solver->residual_a = fabs (solver->f[u]);
      solver->worst_row = u;
    }
}

static void
find_residual (MlNodalSolver *solver)
{
  solver->residual_a = 0;
  solver->worst_row = 0;
  for (int u = 1; u < solver->circuit->n_nodes; u++)
    note_residual (solver, u);
  for (int u = solver->circuit->n_unknowns; u < solver->n_unknowns; u++)
    if (ml_nodal_is_node (solver, u))
      note_residual (solver, u);
}

/* What of f the matrix's base belongs to. */
static void
assemble_linear (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;
  const double *x = solver->x;
  double *f = solver->f, largest = solver->largest_a;

  for (int i = 0; i < solver->n_conductances; i++)
    {
      const MlNodalConductance *c = &solver->conductances[i];
      double a = c->siemens * (x[c->a] - x[c->b]);
      f[c->a] += a;
      f[c->b] -= a;
      largest = larger_of (largest, a);
    }
  for (int i = 0; i < solver->n_flowing; i++)
    {
      const MlNodalDevice *device = &circuit->devices[solver->flowing[i]];
      const int *node = solver->node + device->first_local;
      double a = solver->derived[device->first_derived];
      f[node[0]] += a;
      f[node[1]] -= a;
      largest = larger_of (largest, a);
    }
  for (int i = circuit->law_start[ML_NODAL_LAW_BRANCH]; i < circuit->law_start[ML_NODAL_LAW_BRANCH + 1]; i++)
    {
      const MlNodalDevice *device = &circuit->devices[circuit->by_law[i]];
      if (ml_nodal_type_is_plain_branch (device->type))
        {
          largest = larger_of (largest, assemble_plain_branch (solver, device));
          continue;
        }
      solver->largest_a = largest;
      WITH_SIZE (ml_nodal_type_n_local (device->type), assemble_branch, solver, device)
      largest = solver->largest_a;
    }
  solver->largest_a = largest;
}

void
ml_nodal_assemble (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;

  memcpy (solver->matrix.values, solver->base, (size_t) ml_nodal_matrix_n_values (&solver->matrix) * sizeof (double));
  memset (solver->f, 0, (size_t) solver->n_unknowns * sizeof (double));
  solver->largest_a = solver->limit_gap = 0;
  solver->limit_device = -1;
  solver->x[0] = 0;
  assemble_linear (solver);
  for (int i = circuit->law_start[ML_NODAL_LAW_OTHER]; i < circuit->n_devices; i++)
    assemble_device (solver, circuit->by_law[i]);
  solver->have_limited = true;
  for (int i = 0; i < solver->n_touched; i++)
    if (solver->moved[solver->touched_list[i]])
      {
        const MlNodalDevice *device = &circuit->devices[solver->touched_list[i]];
        for (int k = 0; k < device->type->n_inner; k++)
          solver->f[device->first_inner + k] += solver->x[device->first_inner + k];
      }
  for (int e = 0; e < solver->n_extras; e++)
    assemble_extra (solver, e);
  for (int i = 0; i < solver->n_gauges; i++)
    {
      const MlNodalGauge *gauge = &solver->gauges[i];
      double a = ML_NODAL_GAUGE_S * (solver->x[gauge->a] - (gauge->correction ? solver->x[gauge->correction] : solver->x[gauge->b]));
      solver->f[gauge->a] += a;
      solver->f[gauge->b] -= a;
    }
  assemble_ladder (solver);
  assemble_lean (solver);
  find_residual (solver);
}
