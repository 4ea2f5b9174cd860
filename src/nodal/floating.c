/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which pieces of the varied circuit nothing ties to the reference, and the gauges that give them a voltage to count from. */
#include "nodal/solver.h"

#include <limits.h>
#include <string.h>

static int
find (int *group, int u)
{
  while (group[u] != u)
    u = group[u] = group[group[u]];
  return u;
}

/* The lower number becomes the root, so that the reference is the root of all it determines. */
static void
join (int *group, int a, int b)
{
  a = find (group, a);
  b = find (group, b);
  if (a < b)
    group[b] = a;
  else
    group[a] = b;
}

/* What a device ties together, in one of the two. In the core a bordering unknown is held: it counts as the reference. */
static void
join_device (const MlNodalSolver *solver, int *group, int d)
{
  const MlNodalDevice *device = &solver->circuit->devices[d];
  const MlNodalType *type = device->type;
  const int *node = solver->node + device->first_local;
  int n_main = group == solver->core ? solver->circuit->n_unknowns : INT_MAX;

  for (int p = 0; p < type->n_elements + type->n_paths; p++)
    {
      if (type->conducts ? !type->conducts (solver->derived + device->first_derived, solver->open[d], p)
                         : p < type->n_elements && (solver->open[d] & 1u << p))
        continue;
      const MlNodalPair *pair = p < type->n_elements ? &type->elements[p] : &type->paths[p - type->n_elements];
      int a = node[pair->pin_a], b = node[pair->pin_b];
      join (group, a < n_main ? a : 0, b < n_main ? b : 0);
    }
}

/* First what lies in the core and in no border: it is the same for both. */
static void
join_all (MlNodalSolver *solver)
{
  const MlNodalCircuit *circuit = solver->circuit;
  int n_main = circuit->n_unknowns;

  for (int u = 0; u < solver->n_unknowns; u++)
    solver->core[u] = u;
  for (int i = 0; i < solver->n_conductances; i++)
    if (solver->conductances[i].siemens > 0 && solver->conductances[i].a < n_main && solver->conductances[i].b < n_main)
      join (solver->core, solver->conductances[i].a, solver->conductances[i].b);
  for (int i = circuit->law_start[ML_NODAL_LAW_BRANCH]; i < circuit->n_devices; i++)
    if (!solver->moved[circuit->by_law[i]])
      join_device (solver, solver->core, circuit->by_law[i]);
  memcpy (solver->group, solver->core, (size_t) solver->n_unknowns * sizeof *solver->group);
  for (int i = 0; i < solver->n_conductances; i++)
    {
      const MlNodalConductance *c = &solver->conductances[i];
      if (!(c->siemens > 0) || (c->a < n_main && c->b < n_main))
        continue;
      join (solver->group, c->a, c->b);
      join (solver->core, c->a < n_main ? c->a : 0, c->b < n_main ? c->b : 0);
    }
  for (int i = 0; i < solver->n_touched; i++)
    {
      int d = solver->touched_list[i];
      if (!solver->moved[d] || circuit->devices[d].type->flags & (ML_NODAL_CONDUCTANCE | ML_NODAL_CURRENT))
        continue;
      join_device (solver, solver->group, d);
      if (circuit->devices[d].type->n_inner == 0)
        join_device (solver, solver->core, d);
    }
  for (int e = 0; e < solver->n_extras; e++)
    if (solver->extras[e].kind == ML_NODAL_EXTRA_LINK || solver->extras[e].kind == ML_NODAL_EXTRA_METER)
      join (solver->group, solver->extras[e].a, solver->extras[e].b);
}

static bool
add_gauge (MlNodalSolver *solver, int a, int b)
{
  if (!ml_nodal_room_for ((void **) &solver->gauges, &solver->gauge_room, solver->n_gauges + 1, sizeof *solver->gauges))
    return false;
  solver->gauges[solver->n_gauges++] = (MlNodalGauge){ a, b, 0 };
  return true;
}

/* Floating pieces get a gauge. One that only the border determines gets a gauge, and a correction that takes it out again. */
bool
ml_nodal_find_floating (MlNodalSolver *solver)
{
  int n_main = solver->circuit->n_unknowns, n_nodes = solver->circuit->n_nodes;

  join_all (solver);
  /* anchored[root]: that floating group has its lasting gauge already; core is free to hold it once its roots are read */
  int n_known = solver->n_unknowns;
  int *anchored = solver->core + n_known;
  memset (anchored, 0, (size_t) n_known * sizeof *anchored);
  for (int u = 1; u < n_nodes; u++)
    {
      if (find (solver->core, u) != u)
        continue;
      int root = find (solver->group, u);
      if (!add_gauge (solver, u, 0))
        return false;
      if (root != 0 && !anchored[root])
        anchored[root] = 1;
      else
        {
          int y = ml_nodal_add_extra (solver, (MlNodalExtra){ .kind = ML_NODAL_EXTRA_CORRECTION, .a = u, .device = -1, .change = -1 });
          if (!y)
            return false;
          solver->gauges[solver->n_gauges - 1].correction = y;
        }
    }
  for (int e = 0; n_main + e < n_known; e++)
    {
      int u = n_main + e, root = find (solver->group, u);
      const MlNodalExtra *extra = &solver->extras[e];
      if (extra->kind != ML_NODAL_EXTRA_NODE || root == 0 || anchored[root])
        continue;
      const MlNodalDevice *device = &solver->circuit->devices[extra->device];
      int rest = device->type->rest[extra->local];
      if (!add_gauge (solver, u, rest ? solver->node[device->first_local + rest - 1] : 0))
        return false;
      anchored[root] = 1;
    }
  return true;
}

bool
ml_nodal_is_floating (MlNodalSolver *solver, int node)
{
  return find (solver->group, node) != 0;
}
