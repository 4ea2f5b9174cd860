/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Factors along a schedule against LAPACK's dense ones; several variants at once against each alone, to the last bit; several readings at once
 * against each alone, which the tests of measuring compare with closed forms and differences. */
#include "nodal/kit.h"

#include "nodal/factors.h"

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <lapacke.h>

#define MOST 40

/* A random sparse matrix by columns, its diagonal always there. */
typedef struct
{
  int n, column[MOST + 1], row[MOST * MOST], order[MOST];
  double values[ML_NODAL_LANES][MOST * MOST];
} Sparse;

static void
draw_matrix (Sparse *a, unsigned long *seed)
{
  int kept = 0;

  a->n = 1 + (int) (kit_random (seed) * (MOST - 1));
  for (int c = 0; c < a->n; c++)
    {
      a->column[c] = kept;
      for (int r = 0; r < a->n; r++)
        if (r == c || kit_random (seed) < 3.0 / a->n)
          {
            for (int k = 0; k < ML_NODAL_LANES; k++)
              a->values[k][kept] = r == c ? 4 + kit_random (seed) : kit_random (seed) - 0.5;
            a->row[kept++] = r;
          }
      a->order[c] = c;
    }
  a->column[a->n] = kept;
  for (int k = a->n - 1; k > 0; k--)
    {
      int other = (int) (kit_random (seed) * (k + 1)), t = a->order[k];
      a->order[k] = a->order[other];
      a->order[other] = t;
    }
}

static void
solve_densely (const Sparse *a, int lane, bool transposed, double *x)
{
  double dense[MOST * MOST] = { 0 };
  lapack_int pivot[MOST];

  for (int c = 0; c < a->n; c++)
    for (int e = a->column[c]; e < a->column[c + 1]; e++)
      dense[transposed ? c * a->n + a->row[e] : a->row[e] * a->n + c] = a->values[lane][e];
  assert_int_equal (LAPACKE_dgesv (LAPACK_ROW_MAJOR, a->n, 1, dense, a->n, pivot, x, 1), 0);
}

/* One matrix alone; its solutions of both kinds for that right-hand side. */
static void
solve_alone (const MlNodalSchedule *schedule, const Sparse *a, int lane, const double *right, double *ret_x, double *ret_transposed)
{
  double *factors = malloc ((size_t) schedule->n_slots * sizeof *factors), work[MOST];
  size_t bytes = (size_t) a->n * sizeof (double);

  assert_non_null (factors);
  ml_nodal_schedule_factor (schedule, a->values[lane], factors);
  memcpy (ret_x, right, bytes);
  ml_nodal_schedule_solve (schedule, factors, ret_x, work);
  memcpy (ret_transposed, right, bytes);
  ml_nodal_schedule_solve_transposed (schedule, factors, ret_transposed, work);
  free (factors);
}

/* b - A x by the definition, entry by entry in the order of a row. */
static double
residual_of_row (const Sparse *a, int lane, int row, const double *x, double b)
{
  for (int c = 0; c < a->n; c++)
    for (int e = a->column[c]; e < a->column[c + 1]; e++)
      if (a->row[e] == row)
        b -= a->values[lane][e] * x[c];
  return b;
}

static void
interleave (double *to, const double *from, int n, int lane)
{
  for (int i = 0; i < n; i++)
    to[i * ML_NODAL_LANES + lane] = from[i];
}

static void
test_schedule_against_lapack_and_lanes_against_one (void **state)
{
  unsigned long seed = 11;
  Sparse *a = malloc (sizeof *a);
  double right[ML_NODAL_LANES][MOST], x[ML_NODAL_LANES][MOST], y[ML_NODAL_LANES][MOST];

  assert_non_null (a);
  for (int round = 0; round < 200; round++)
    {
      bool too_long;
      draw_matrix (a, &seed);
      int n = a->n, n_entries = a->column[n];
      MlNodalSchedule *schedule = ml_nodal_schedule_new (n, a->column, a->row, a->order, a->order, 1000000, &too_long);
      assert_non_null (schedule);
      assert_false (too_long);
      size_t size = (size_t) (n_entries + schedule->n_slots + 3 * n) * ML_NODAL_LANES * sizeof (double);
      double *values = aligned_alloc (64, size), *factors = values + n_entries * ML_NODAL_LANES;
      double *together = factors + schedule->n_slots * ML_NODAL_LANES, *transposed = together + n * ML_NODAL_LANES;
      assert_non_null (values);
      for (int k = 0; k < ML_NODAL_LANES; k++)
        {
          double dense[MOST];
          for (int i = 0; i < n; i++)
            right[k][i] = kit_random (&seed) - 0.5;
          solve_alone (schedule, a, k, right[k], x[k], y[k]);
          for (int t = 0; t < 2; t++)
            {
              memcpy (dense, right[k], sizeof dense);
              solve_densely (a, k, t != 0, dense);
              for (int i = 0; i < n; i++)
                assert_near (t ? y[k][i] : x[k][i], dense[i], 1e-11, 1e-13);
            }
          interleave (values, a->values[k], n_entries, k);
          interleave (together, right[k], n, k);
          interleave (transposed, right[k], n, k);
        }
      ml_nodal_schedule_factor_lanes (schedule, values, factors);
      ml_nodal_schedule_solve_lanes (schedule, factors, together, transposed + n * ML_NODAL_LANES);
      ml_nodal_schedule_solve_transposed_lanes (schedule, factors, transposed, transposed + n * ML_NODAL_LANES);
      for (int k = 0; k < ML_NODAL_LANES; k++)
        for (int i = 0; i < n; i++)
          {
            assert_memory_equal (&together[i * ML_NODAL_LANES + k], &x[k][i], sizeof (double));
            assert_memory_equal (&transposed[i * ML_NODAL_LANES + k], &y[k][i], sizeof (double));
          }
      free (values);
      ml_nodal_schedule_free (schedule);
    }
  free (a);
}

/* The entries by rows. */
static void
list_by_rows (const Sparse *a, int *row_start, int *row_entry, int *row_column)
{
  int n = 0;

  for (int r = 0; r < a->n; r++, row_start[r] = n)
    for (int c = 0; c < a->n; c++)
      for (int e = a->column[c]; e < a->column[c + 1]; e++)
        if (a->row[e] == r)
          {
            row_entry[n] = e;
            row_column[n++] = c;
          }
}

/* What x leaves of column c of the transposed equations. */
static double
residual_of_column (const Sparse *a, int k, int c, const double *x, double b)
{
  for (int e = a->column[c]; e < a->column[c + 1]; e++)
    b -= a->values[k][e] * x[a->row[e]];
  return b;
}

/* Right-hand sides side by side through one matrix's factors: each as alone, to the last bit; one solution is spoilt, and it alone is told. */
static void
test_right_hand_sides_side_by_side_are_what_each_alone_is (void **state)
{
  unsigned long seed = 13;
  Sparse *a = malloc (sizeof *a);
  double *memory = aligned_alloc (64, 5 * MOST * ML_NODAL_LANES * sizeof (double)), *factors = malloc (MOST * MOST * sizeof *factors);
  double *at[2] = { memory, memory + MOST * ML_NODAL_LANES }, *work = at[1] + MOST * ML_NODAL_LANES, *b = work + MOST * ML_NODAL_LANES, *rest = b + MOST * ML_NODAL_LANES;

  assert_true (a && memory && factors);
  for (int round = 0; round < 50; round++)
    {
      int row_start[MOST + 1] = { 0 }, row_entry[MOST * MOST], row_column[MOST * MOST], bad = round % ML_NODAL_LANES;
      double right[MOST], x[2][ML_NODAL_LANES][MOST];
      bool too_long;
      draw_matrix (a, &seed);
      list_by_rows (a, row_start, row_entry, row_column);
      MlNodalSchedule *schedule = ml_nodal_schedule_new (a->n, a->column, a->row, a->order, a->order, 1000000, &too_long);
      assert_non_null (schedule);
      for (int k = 0; k < ML_NODAL_LANES; k++)
        {
          for (int i = 0; i < a->n; i++)
            right[i] = 1 + kit_random (&seed);
          solve_alone (schedule, a, 0, right, x[0][k], x[1][k]);
          interleave (at[0], right, a->n, k);
          interleave (at[1], right, a->n, k);
          interleave (b, right, a->n, k);
        }
      ml_nodal_schedule_factor (schedule, a->values[0], factors);
      ml_nodal_schedule_solve_columns (schedule, factors, at[0], work);
      ml_nodal_schedule_solve_transposed_columns (schedule, factors, at[1], work);
      for (int t = 0; t < 2; t++)
        for (int k = 0; k < ML_NODAL_LANES; k++)
          for (int i = 0; i < a->n; i++)
            assert_memory_equal (&at[t][i * ML_NODAL_LANES + k], &x[t][k][i], sizeof (double));
      at[0][bad] *= 1 + 1e-8;
      assert_int_equal (ml_nodal_columns_solved_well (a->n, row_start, row_entry, row_column, a->values[0], at[0], b, 1e-10, 0, rest), 0xff & ~(1u << bad));
      x[0][bad][0] = at[0][bad];
      for (int k = 0; k < ML_NODAL_LANES; k++)
        for (int i = 0; i < a->n; i++)
          assert_true (rest[i * ML_NODAL_LANES + k] == residual_of_row (a, 0, i, x[0][k], b[i * ML_NODAL_LANES + k]));
      at[1][bad] *= 1 + 1e-8;
      assert_int_equal (ml_nodal_columns_transposed_well (a->n, a->column, a->row, a->values[0], at[1], b, 1e-10, rest), 0xff & ~(1u << bad));
      x[1][bad][0] = at[1][bad];
      for (int k = 0; k < ML_NODAL_LANES; k++)
        for (int i = 0; i < a->n; i++)
          assert_true (rest[i * ML_NODAL_LANES + k] == residual_of_column (a, 0, i, x[1][k], b[i * ML_NODAL_LANES + k]));
      at[1][bad] = INFINITY; /* what is not finite no refinement mends */
      assert_int_equal (ml_nodal_columns_transposed_well (a->n, a->column, a->row, a->values[0], at[1], b, 1e-10, rest), 0xff);
      ml_nodal_schedule_free (schedule);
    }
  free (factors);
  free (memory);
  free (a);
}

/* One lane's solution is spoilt in its last but one digit of ten: it alone is told, and what is left is what it lacks. */
static void
test_lanes_tell_who_is_not_solved_well (void **state)
{
  unsigned long seed = 12;
  Sparse *a = malloc (sizeof *a);
  double *memory = aligned_alloc (64, (MOST * MOST + 3 * MOST) * ML_NODAL_LANES * sizeof (double)), x[ML_NODAL_LANES][MOST], b[ML_NODAL_LANES][MOST];
  double *values = memory, *right = values + MOST * MOST * ML_NODAL_LANES, *at = right + MOST * ML_NODAL_LANES, *rest = at + MOST * ML_NODAL_LANES;

  assert_non_null (a);
  assert_non_null (memory);
  for (int round = 0; round < 50; round++)
    {
      int row_start[MOST + 1] = { 0 }, row_entry[MOST * MOST], row_column[MOST * MOST], bad = round % ML_NODAL_LANES;
      draw_matrix (a, &seed);
      list_by_rows (a, row_start, row_entry, row_column);
      for (int k = 0; k < ML_NODAL_LANES; k++)
        {
          for (int i = 0; i < a->n; i++)
            b[k][i] = x[k][i] = 1 + kit_random (&seed);
          solve_densely (a, k, false, x[k]);
          x[k][0] *= k == bad ? 1 + 1e-8 : 1;
          interleave (values, a->values[k], a->column[a->n], k);
          interleave (right, b[k], a->n, k);
          interleave (at, x[k], a->n, k);
        }
      assert_int_equal (ml_nodal_lanes_solved_well (a->n, row_start, row_entry, row_column, values, at, right, 1e-10, 0, rest), 0xff & ~(1u << bad));
      assert_int_equal (ml_nodal_lanes_solved_well (a->n, row_start, row_entry, row_column, values, at, right, 1e-10, 1e-3, rest), 0xff); /* what is left is no error */
      for (int k = 0; k < ML_NODAL_LANES; k++)
        for (int i = 0; i < a->n; i++)
          assert_true (rest[i * ML_NODAL_LANES + k] == residual_of_row (a, k, i, x[k], b[k][i]));
    }
  free (memory);
  free (a);
}

static void
test_schedule_too_long_says_so (void **state)
{
  const int column[] = { 0, 2, 4 }, row[] = { 0, 1, 0, 1 }, order[] = { 0, 1 };
  bool too_long;
  MlNodalSchedule *schedule = ml_nodal_schedule_new (2, column, row, order, order, 1, &too_long);

  assert_non_null (schedule);
  ml_nodal_schedule_free (schedule);
  assert_null (ml_nodal_schedule_new (2, column, row, order, order, 0, &too_long)); /* its one addition is one too many */
  assert_true (too_long);
}

/* A relay that a transistor drives, with all that a small board has. */
enum { FEED = 1, FUSED, FIVE, BASE, COLLECTOR, LED, ZENER, SWITCHED, N_NETS = SWITCHED };

static void
build (Kit *kit, bool relay)
{
  kit_begin (kit, N_NETS);
  kit_two (kit, "supply", FEED, 0, 12);
  kit_two (kit, "fuse", FEED, FUSED, 0.1);
  kit_add (kit, "regulator", NETS (FUSED, FIVE, 0), NULL);
  kit_two (kit, "resistor", FIVE, BASE, 4700);
  kit_two (kit, "resistor", BASE, 0, 100e3);
  kit_add (kit, "npn", NETS (COLLECTOR, BASE, 0), NULL);
  int coil = kit_add (kit, "coil", NETS (FUSED, COLLECTOR), "resistance", 400.0, NULL);
  kit_add (kit, "diode", NETS (COLLECTOR, FUSED), NULL);
  kit_two (kit, "resistor", FUSED, ZENER, 1200);
  kit_add (kit, "zener", NETS (0, ZENER), NULL);
  if (relay)
    {
      int contact = kit_add (kit, "contact", NETS (FUSED, -1, SWITCHED), NULL);
      assert_int_equal (ml_nodal_circuit_drive (kit->circuit, contact, coil), ML_NODAL_OK);
    }
  else
    kit_two (kit, "resistor", FUSED, SWITCHED, 0.05);
  kit_two (kit, "resistor", SWITCHED, LED, 1000);
  kit_add (kit, "led", NETS (LED, 0), NULL);
}

static int
list_faults (const Kit *kit, MlNodalChange *changes)
{
  int n = 0;

  for (int d = 0; d < ml_nodal_circuit_n_devices (kit->circuit); d++)
    for (int p = 0; p < ml_nodal_type_n_pins (ml_nodal_circuit_type (kit->circuit, d)); p++)
      {
        changes[n++] = (MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = p, .value = INFINITY };
        changes[n++] = (MlNodalChange){ .kind = ML_NODAL_PIN_RESISTANCE, .device = d, .index = p, .value = 1200 };
        changes[n++] = (MlNodalChange){ .kind = ML_NODAL_BRIDGE_PINS, .device = d, .index = p, .index_b = 0, .value = p % 2 ? 0 : 300 };
      }
  for (int a = 0; a <= N_NETS; a++)
    for (int b = 0; b < a; b++)
      changes[n++] = (MlNodalChange){ .kind = ML_NODAL_LINK_NETS, .index = a, .index_b = b, .value = 25 };
  return n;
}

static void
assert_same_solution (const MlNodalSolution *a, const MlNodalSolution *b)
{
  assert_int_equal (a->status, b->status);
  assert_int_equal (a->rung, b->rung);
  assert_int_equal (a->iterations, b->iterations);
  assert_int_equal (a->failed_net, b->failed_net);
  assert_memory_equal (a->net_v, b->net_v, (size_t) a->n_nets * sizeof (double));
  assert_memory_equal (a->pin_a, b->pin_a, (size_t) a->n_pins * sizeof (double));
  if (a->metal_v && b->metal_v)
    assert_memory_equal (a->metal_v, b->metal_v, (size_t) a->n_pins * sizeof (double));
  assert_memory_equal (a->state, b->state, (size_t) a->n_state * sizeof (double));
}

/* In a room those pins alone are listed whose metal is not where their net is. */
static void
assert_same_metal (const MlNodalCircuit *circuit, const MlNodalSolution *a, const MlNodalSolution *b)
{
  for (int d = 0; d < a->n_devices; d++)
    for (int pin = ml_nodal_circuit_first_pin (circuit, d), k = 0; pin + k < (d + 1 < a->n_devices ? ml_nodal_circuit_first_pin (circuit, d + 1) : a->n_pins); k++)
      assert_true (ml_nodal_solution_metal_v (circuit, a, d, k) == ml_nodal_solution_metal_v (circuit, b, d, k));
}

static void
test_variants_are_what_each_alone_is (void **state)
{
  Kit kit;
  MlNodalChange changes[200];
  MlNodalVariant variants[200];
  MlNodalSolution together[200], alone;

  build (&kit, true);
  kit_solve (&kit, NULL, 0);
  int n = list_faults (&kit, changes);
  assert_true (n > 100 && n <= 200);
  assert_int_equal (ml_nodal_solution_init (&alone, kit.circuit), ML_NODAL_OK);
  for (int warm = 0; warm < 2; warm++)
    {
      for (int i = 0; i < n; i++)
        {
          assert_int_equal (ml_nodal_solution_init (&together[i], kit.circuit), ML_NODAL_OK);
          variants[i] = (MlNodalVariant){ &changes[i], 1, warm ? &kit.at : NULL, &together[i], { NULL } };
        }
      assert_int_equal (ml_nodal_solve_variants (kit.solver, variants, n), ML_NODAL_OK);
      for (int i = 0; i < n; i++)
        {
          ml_nodal_solve (kit.solver, &changes[i], 1, warm ? &kit.at : NULL, &alone);
          assert_same_solution (&together[i], &alone);
          ml_nodal_solution_clear (&together[i]);
        }
    }
  ml_nodal_solution_clear (&alone);
  kit_end (&kit);
}

/* A start from which Newton is lost, and one beside it: then no ladder is climbed, and the answer is the same. The first of the two is itself a
 * variant of the list. */
static void
test_variants_begin_at_further_starts (void **state)
{
  Kit kit;
  MlNodalChange changes[2];
  MlNodalVariant variants[2];
  MlNodalSolution lost, at[2], alone;

  build (&kit, false);
  kit_solve (&kit, NULL, 0);
  MlNodalSolution *all[] = { &lost, &at[0], &at[1], &alone };
  for (int k = 0; k < 4; k++)
    assert_int_equal (ml_nodal_solution_init (all[k], kit.circuit), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solution_copy (&lost, &kit.at, kit.circuit), ML_NODAL_OK);
  for (int u = 1; u < lost.n_nets; u++)
    lost.net_v[u] = NAN;
  for (int i = 0; i < 2; i++)
    {
      changes[i] = (MlNodalChange){ .kind = ML_NODAL_LINK_NETS, .index = ZENER, .index_b = 0, .value = 500 + i };
      variants[i] = (MlNodalVariant){ &changes[i], 1, i ? &lost : &kit.at, &at[i], { i ? &at[0] : NULL } };
    }
  assert_true (ml_nodal_solve_warm (kit.solver, &changes[1], 1, &lost, &alone) < 0);
  assert_int_equal (ml_nodal_solve_variants (kit.solver, variants, 2), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solve (kit.solver, &changes[1], 1, &lost, &alone), ML_NODAL_OK);
  assert_int_equal (at[1].status, ML_NODAL_OK);
  assert_int_equal (at[1].rung, ML_NODAL_RUNG_WARM);
  assert_true (alone.rung > ML_NODAL_RUNG_WARM);
  for (int u = 0; u < alone.n_nets; u++)
    assert_near (at[1].net_v[u], alone.net_v[u], 1e-9, 1e-9);
  for (int k = 0; k < 4; k++)
    ml_nodal_solution_clear (all[k]);
  kit_end (&kit);
}

/* A thyristor whose gate is tied down blocks, or conducts once it has: both stay. Cold, each variant has to look for the other state. */
static void
test_cold_variants_look_for_other_states (void **state)
{
  Kit kit;
  MlNodalChange changes[4];
  MlNodalVariant variants[4];
  MlNodalSolution at[4];

  kit_begin (&kit, 3);
  kit_two (&kit, "supply", 1, 0, 12);
  int load = kit_two (&kit, "resistor", 1, 2, 100);
  kit_add (&kit, "thyristor", NETS (2, 0, 3), NULL);
  kit_two (&kit, "resistor", 3, 0, 1000);
  kit_ready (&kit);
  for (int i = 0; i < 4; i++)
    {
      assert_int_equal (ml_nodal_solution_init (&at[i], kit.circuit), ML_NODAL_OK);
      changes[i] = (MlNodalChange){ .kind = ML_NODAL_SET_PARAMETER, .device = load, .index = 0, .value = 100 * (i + 2) };
      variants[i] = (MlNodalVariant){ &changes[i], 1, NULL, &at[i], { NULL } };
    }
  assert_int_equal (ml_nodal_solve_variants (kit.solver, variants, 4), ML_NODAL_OK);
  for (int i = 0; i < 4; i++)
    {
      assert_int_equal (at[i].status, ML_NODAL_AMBIGUOUS);
      ml_nodal_solution_clear (&at[i]);
    }
  kit_end (&kit);
}

/* Packed it serves as before, and all of it comes back. */
static void
test_packed_solution_is_the_same_start_and_comes_back (void **state)
{
  Kit kit;
  MlNodalChange changes[200];
  MlNodalSolution at, packed, from[2], whole;
  MlNodalMeter meter = { ML_NODAL_READ_VOLTS, { ZENER, -1, 0 }, { 0, -1, 0 }, -1, 1e6, 0, 0, 0 };

  build (&kit, true);
  kit_solve (&kit, NULL, 0);
  int n = list_faults (&kit, changes), n_solved = 0;
  MlNodalSolution *all[] = { &at, &from[0], &from[1], &whole };
  for (int k = 0; k < 4; k++)
    assert_int_equal (ml_nodal_solution_init (all[k], kit.circuit), ML_NODAL_OK);
  for (int i = 0; i < n; i++)
    {
      double value[2];
      if (ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &at) < 0)
        continue;
      n_solved++;
      assert_int_equal (ml_nodal_solution_init (&packed, kit.circuit), ML_NODAL_OK);
      assert_int_equal (ml_nodal_solution_copy (&packed, &at, kit.circuit), ML_NODAL_OK);
      assert_int_equal (ml_nodal_solution_pack (&packed, kit.circuit), ML_NODAL_OK);
      assert_null (packed.pin_a);
      assert_int_equal (ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &packed), ML_NODAL_BAD_ARGUMENT); /* no room for a result any more */
      for (int k = 0; k < 2; k++)
        {
          ml_nodal_solve (kit.solver, &changes[i], 1, k ? &packed : &at, &from[k]);
          assert_true (ml_nodal_measure (kit.solver, &changes[i], 1, k ? &packed : &at, &meter, NULL, 0, &value[k], NULL, NULL, NULL) >= 0);
        }
      assert_same_solution (&from[0], &from[1]);
      assert_memory_equal (&value[0], &value[1], sizeof value[0]);
      assert_int_equal (ml_nodal_solution_unpack (kit.solver, &changes[i], 1, &packed, &whole), ML_NODAL_OK);
      assert_memory_equal (whole.net_v, at.net_v, (size_t) at.n_nets * sizeof (double));
      assert_memory_equal (whole.state, at.state, (size_t) at.n_state * sizeof (double));
      assert_memory_equal (whole.metal_v, at.metal_v, (size_t) at.n_pins * sizeof (double));
      assert_memory_equal (whole.floating, at.floating, (size_t) at.n_nets * sizeof (bool));
      assert_memory_equal (whole.latched, at.latched, (size_t) at.n_devices * sizeof (double));
      for (int k = 0; k < at.n_pins; k++)
        assert_near (whole.pin_a[k], at.pin_a[k], 1e-8, 1e-9);
      ml_nodal_solution_clear (&packed);
    }
  assert_true (n_solved * 10 > n * 8);
  for (int k = 0; k < 4; k++)
    ml_nodal_solution_clear (all[k]);
  kit_end (&kit);
}

/* Pieces of all sizes up to far beyond a slab: zero, apart, aligned for anything. */
static void
test_room_gives_zeroed_pieces_that_do_not_touch (void **state)
{
  static const size_t sizes[] = { 1, 8, 63, 64, 65, 1000, 70000, 3000000, 20000000 };
  enum { N_SIZES = sizeof sizes / sizeof *sizes, N = 3 * N_SIZES };
  MlNodalRoom *room = ml_nodal_room_new ();
  unsigned char *pieces[N];

  assert_non_null (room);
  for (int i = 0; i < N; i++)
    {
      size_t bytes = sizes[i % N_SIZES];
      pieces[i] = ml_nodal_room_take (room, bytes);
      assert_non_null (pieces[i]);
      assert_int_equal ((uintptr_t) pieces[i] % _Alignof (max_align_t), 0);
      for (size_t k = 0; k < bytes; k++)
        if (pieces[i][k] != 0)
          fail ();
      memset (pieces[i], i + 1, bytes);
    }
  for (int i = 0; i < N; i++)
    {
      assert_int_equal (pieces[i][0], i + 1);
      assert_int_equal (pieces[i][sizes[i % N_SIZES] - 1], i + 1);
    }
  ml_nodal_room_free (room);
  ml_nodal_room_free (NULL);
}

/* In a room or by itself, solved alike; clearing one leaves the room to others. */
static void
test_solutions_in_a_room_are_the_same (void **state)
{
  Kit kit;
  MlNodalChange changes[200];
  MlNodalSolution own, in, out;
  MlNodalRoom *room = ml_nodal_room_new ();

  build (&kit, true);
  kit_solve (&kit, NULL, 0);
  int n = list_faults (&kit, changes);
  assert_int_equal (ml_nodal_solution_init (&own, kit.circuit), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solution_init (&out, kit.circuit), ML_NODAL_OK);
  for (int i = 0; i < n; i++)
    {
      assert_int_equal (ml_nodal_solution_init_in (&in, kit.circuit, room), ML_NODAL_OK);
      ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &own);
      ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &in);
      assert_same_solution (&own, &in);
      assert_same_metal (kit.circuit, &own, &in);
      /* from elsewhere into the room, and out of it again */
      assert_int_equal (ml_nodal_solution_copy (&in, &kit.at, kit.circuit), ML_NODAL_OK);
      assert_same_metal (kit.circuit, &kit.at, &in);
      assert_int_equal (ml_nodal_solution_copy (&in, &own, kit.circuit), ML_NODAL_OK);
      assert_same_metal (kit.circuit, &own, &in);
      assert_int_equal (ml_nodal_solution_copy (&out, &in, kit.circuit), ML_NODAL_OK);
      assert_same_solution (&own, &out);
      assert_same_metal (kit.circuit, &own, &out);
      assert_true (in.in_room && !own.in_room && in.net_v != own.net_v);
      assert_int_equal (ml_nodal_solution_pack (&in, kit.circuit), ML_NODAL_OK);
      assert_non_null (in.pin_a);
      ml_nodal_solution_clear (&in);
    }
  ml_nodal_solution_clear (&own);
  ml_nodal_solution_clear (&out);
  ml_nodal_room_free (room);
  kit_end (&kit);
}

/* Packed from the start: what is kept is the same, and all of it can be had again; where something latches it has all there is. */
static void
test_solutions_packed_from_the_start_are_the_same (void **state)
{
  for (int latching = 0; latching < 2; latching++)
    {
      Kit kit;
      MlNodalChange changes[200];
      MlNodalSolution own, in, out;
      MlNodalRoom *room = ml_nodal_room_new ();

      build (&kit, latching);
      kit_solve (&kit, NULL, 0);
      int n = list_faults (&kit, changes), n_solved = 0;
      assert_int_equal (ml_nodal_solution_init (&own, kit.circuit), ML_NODAL_OK);
      assert_int_equal (ml_nodal_solution_init (&out, kit.circuit), ML_NODAL_OK);
      for (int i = 0; i < n; i++)
        {
          ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &own);
          assert_int_equal (ml_nodal_solution_init_packed_in (&in, kit.circuit, room), ML_NODAL_OK);
          assert_true (latching ? in.pin_a != NULL : in.pin_a == NULL);
          assert_int_equal (ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &in), own.status);
          assert_memory_equal (in.net_v, own.net_v, (size_t) own.n_nets * sizeof *in.net_v);
          assert_memory_equal (in.state, own.state, (size_t) own.n_state * sizeof *in.state);
          assert_same_metal (kit.circuit, &own, &in);
          n_solved += own.status >= 0;
          if (own.status >= 0 && !latching)
            {
              assert_int_equal (ml_nodal_solution_unpack (kit.solver, &changes[i], 1, &in, &out), ML_NODAL_OK);
              for (int k = 0; k < own.n_pins; k++)
                assert_near (out.pin_a[k], own.pin_a[k], 1e-6, 1e-9);
            }
          ml_nodal_solution_clear (&in);
        }
      assert_true (n_solved > n / 2);
      ml_nodal_solution_clear (&own);
      ml_nodal_solution_clear (&out);
      ml_nodal_room_free (room);
      kit_end (&kit);
    }
}

#define N_READINGS (N_NETS + 4)

static void
list_meters (MlNodalMeter *meters)
{
  for (int u = 1; u <= N_NETS; u++)
    meters[u - 1] = (MlNodalMeter){ ML_NODAL_READ_VOLTS, { u, -1, 0 }, { 0, -1, 0 }, -1, u % 3 ? 10e6 : 1e6, 0, 0, 0 };
  meters[N_NETS] = (MlNodalMeter){ ML_NODAL_READ_VOLTS, { FIVE, -1, 0 }, { BASE, -1, 0 }, -1, INFINITY, 0, 0, 0 };
  meters[N_NETS + 1] = (MlNodalMeter){ ML_NODAL_READ_AMPS, { 0 }, { 0 }, 0, 0, 0, 0, 0 };
  meters[N_NETS + 2] = (MlNodalMeter){ ML_NODAL_READ_VOLTS, { 0, 5, 1 }, { ZENER, -1, 0 }, -1, 10e6, 0, 0, 0 }; /* the transistor's own base */
  meters[N_NETS + 3] = (MlNodalMeter){ ML_NODAL_READ_OHMS, { ZENER, -1, 0 }, { LED, -1, 0 }, -1, 0, 1e-3, 3, 40e6 };
}

static int
list_parameters (const Kit *kit, MlNodalParameterRef *refs)
{
  int n = 0;

  for (int d = 0; d < ml_nodal_circuit_n_devices (kit->circuit); d++)
    for (int p = 0; p < ml_nodal_type_n_parameters (ml_nodal_circuit_type (kit->circuit, d)); p++)
      refs[n++] = (MlNodalParameterRef){ d, p };
  return n;
}

/* d value / d parameter by central differences of readings taken alone. */
static double
slope_by_differences (Kit *kit, const MlNodalChange *change, const MlNodalSolution *at, const MlNodalMeter *meter, MlNodalParameterRef ref)
{
  double p = ml_nodal_circuit_parameter (kit->circuit, ref.device, ref.parameter), h = 1e-6 * fabs (p), value[2];
  MlNodalSolution moved;

  assert_int_equal (ml_nodal_solution_init (&moved, kit->circuit), ML_NODAL_OK);
  for (int s = 0; s < 2; s++)
    {
      const MlNodalChange changes[2] = { *change, { ML_NODAL_SET_PARAMETER, ref.device, ref.parameter, 0, s ? p + h : p - h, NULL } };
      assert_true (ml_nodal_solve (kit->solver, changes, 2, at, &moved) >= 0);
      assert_true (ml_nodal_measure (kit->solver, changes, 2, &moved, meter, NULL, 0, &value[s], NULL, NULL, NULL) >= 0);
    }
  ml_nodal_solution_clear (&moved);
  return (value[1] - value[0]) / (2 * h);
}

/* Relative changes of a parameter that move a reading by less than 10 uV are left out: differences do not show them well. */
static void
check_slopes (Kit *kit, const MlNodalChange *change, const MlNodalSolution *at, const MlNodalReading *reading, const MlNodalParameterRef *refs, int n_refs)
{
  for (int i = 0; i < n_refs; i++)
    {
      double p = ml_nodal_circuit_parameter (kit->circuit, refs[i].device, refs[i].parameter);
      if (p != 0 && isfinite (p))
        assert_near (reading->slope[i] * p, slope_by_differences (kit, change, at, reading->meter, refs[i]) * p, 2e-3, 1e-5);
    }
}

static void
check_readings (Kit *kit, const MlNodalChange *change, const MlNodalSolution *at, const MlNodalParameterRef *refs, int n_refs, bool with_slopes)
{
  MlNodalMeter meters[N_READINGS];
  MlNodalReading readings[N_READINGS], one;
  double slopes[N_READINGS][100], sizes[N_READINGS], slope[100], size, value;

  assert_true (n_refs <= 100);
  list_meters (meters);
  for (int i = 0; i < N_READINGS; i++)
    readings[i] = (MlNodalReading){ .meter = &meters[i], .slope = slopes[i], .size_slope = &sizes[i] };
  assert_int_equal (ml_nodal_measure_all (kit->solver, change, 1, at, refs, n_refs, readings, N_READINGS), ML_NODAL_OK);
  for (int i = 0; i < N_READINGS; i++)
    {
      one = (MlNodalReading){ .meter = &meters[i], .slope = slope, .size_slope = &size };
      assert_int_equal (ml_nodal_measure_all (kit->solver, change, 1, at, refs, n_refs, &one, 1), ML_NODAL_OK);
      assert_int_equal (one.status, readings[i].status);
      assert_int_equal (one.status, ml_nodal_measure (kit->solver, change, 1, at, &meters[i], NULL, 0, &value, NULL, NULL, NULL));
      if (one.status < 0)
        continue;
      /* To the last bit: a reading does not depend on what else is read. */
      assert_memory_equal (&one.value, &readings[i].value, sizeof (double));
      assert_memory_equal (slope, slopes[i], (size_t) n_refs * sizeof (double));
      assert_memory_equal (&size, &sizes[i], sizeof (double));
      if (!isfinite (value))
        assert_true (one.value == value);
      else
        assert_near (one.value, value, 1e-8, 1e-9);
      if (with_slopes && isfinite (value) && meters[i].reads != ML_NODAL_READ_OHMS)
        check_slopes (kit, change, at, &readings[i], refs, n_refs);
    }
}

static void
test_readings_are_what_each_alone_is (void **state)
{
  MlNodalChange changes[200];
  MlNodalParameterRef refs[100];

  for (int relay = 0; relay < 2; relay++)
    {
      Kit kit;
      MlNodalSolution at;
      build (&kit, relay);
      kit_solve (&kit, NULL, 0);
      int n = list_faults (&kit, changes), n_refs = list_parameters (&kit, refs), n_solved = 0;
      assert_int_equal (ml_nodal_solution_init (&at, kit.circuit), ML_NODAL_OK);
      for (int i = 0; i < n; i++)
        if (ml_nodal_solve (kit.solver, &changes[i], 1, &kit.at, &at) >= 0 && ++n_solved)
          check_readings (&kit, &changes[i], &at, refs, n_refs, !relay && i % 5 == 0);
      assert_true (n_solved * 10 > n * 8);
      ml_nodal_solution_clear (&at);
      kit_end (&kit);
    }
}

/* A stray link's current is no part of a solution; all the same its state is one to read from, not one reading after the other by Newton. */
static void
test_readings_across_a_link_have_one_solution_in_common (void **state)
{
  const MlNodalChange link = { ML_NODAL_LINK_NETS, -1, FUSED, ZENER, 100, NULL };
  MlNodalMeter meters[3];
  MlNodalReading readings[3];
  MlNodalSolution at;
  Kit kit;

  build (&kit, false);
  kit_solve (&kit, NULL, 0);
  assert_int_equal (ml_nodal_solution_init (&at, kit.circuit), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solve (kit.solver, &link, 1, &kit.at, &at), ML_NODAL_OK);
  assert_true (fabs (at.net_v[FUSED] - at.net_v[ZENER]) > 0.1); /* a milliampere and more through the link */
  for (int i = 0; i < 3; i++)
    {
      meters[i] = (MlNodalMeter){ ML_NODAL_READ_VOLTS, { i == 0 ? ZENER : i == 1 ? FIVE : LED, -1, 0 }, { 0, -1, 0 }, -1, 10e6, 0, 0, 0 };
      readings[i] = (MlNodalReading){ .meter = &meters[i] };
    }
  long before = ml_nodal_solver_counts (kit.solver).solves;
  assert_int_equal (ml_nodal_measure_all (kit.solver, &link, 1, &at, NULL, 0, readings, 3), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solver_counts (kit.solver).solves, before + 1);
  ml_nodal_solution_clear (&at);
  kit_end (&kit);
}

/* A meter that robs a junction of its current moves it far off its tangent: that device alone is cut out, the rest is the one solution still. Expected:
 * Newton with the meter attached, and slopes by differences of what that shows. */
static void
test_readings_that_move_a_junction_far_have_one_solution_in_common (void **state)
{
  enum { SUPPLY = 1, DIODE, OPEN_BASE, LOAD };
  const MlNodalChange none = { ML_NODAL_LINK_NETS, -1, SUPPLY, 0, 1e6, NULL };
  const int read[3] = { DIODE, OPEN_BASE, LOAD };
  MlNodalMeter meters[3];
  MlNodalReading readings[3];
  MlNodalParameterRef refs[100];
  double slopes[3][100], value;
  Kit kit;

  kit_begin (&kit, LOAD);
  kit_two (&kit, "supply", SUPPLY, 0, 10);
  kit_two (&kit, "resistor", SUPPLY, DIODE, 100e6);
  kit_add (&kit, "diode", NETS (DIODE, 0), NULL);
  kit_two (&kit, "resistor", SUPPLY, OPEN_BASE, 22e6);
  kit_two (&kit, "resistor", SUPPLY, LOAD, 4700);
  kit_add (&kit, "npn", NETS (LOAD, OPEN_BASE, 0), NULL);
  kit_solve (&kit, &none, 1);
  int n_refs = list_parameters (&kit, refs);
  for (int i = 0; i < 3; i++)
    {
      meters[i] = (MlNodalMeter){ ML_NODAL_READ_VOLTS, { read[i], -1, 0 }, { 0, -1, 0 }, -1, 1e6, 0, 0, 0 };
      readings[i] = (MlNodalReading){ .meter = &meters[i], .slope = slopes[i] };
    }
  long before = ml_nodal_solver_counts (kit.solver).solves;
  assert_int_equal (ml_nodal_measure_all (kit.solver, &none, 1, &kit.at, refs, n_refs, readings, 3), ML_NODAL_OK);
  assert_int_equal (ml_nodal_solver_counts (kit.solver).solves, before + 1);
  assert_true (readings[0].value < 0.7 * kit.at.net_v[DIODE]);
  assert_true (fabs (readings[1].value - kit.at.net_v[OPEN_BASE]) > 0.03);
  for (int i = 0; i < 3; i++)
    {
      assert_int_equal (ml_nodal_measure (kit.solver, &none, 1, &kit.at, &meters[i], NULL, 0, &value, NULL, NULL, NULL), ML_NODAL_OK);
      assert_near (readings[i].value, value, 1e-8, 1e-9);
      check_slopes (&kit, &none, &kit.at, &readings[i], refs, n_refs);
    }
  kit_end (&kit);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_variants_begin_at_further_starts), cmocka_unit_test (test_cold_variants_look_for_other_states),
    cmocka_unit_test (test_lanes_tell_who_is_not_solved_well), cmocka_unit_test (test_right_hand_sides_side_by_side_are_what_each_alone_is),
    cmocka_unit_test (test_readings_across_a_link_have_one_solution_in_common),
    cmocka_unit_test (test_readings_that_move_a_junction_far_have_one_solution_in_common),
    cmocka_unit_test (test_packed_solution_is_the_same_start_and_comes_back),
    cmocka_unit_test (test_room_gives_zeroed_pieces_that_do_not_touch), cmocka_unit_test (test_solutions_in_a_room_are_the_same),
    cmocka_unit_test (test_solutions_packed_from_the_start_are_the_same),
    cmocka_unit_test (test_readings_are_what_each_alone_is),
    cmocka_unit_test (test_schedule_against_lapack_and_lanes_against_one),
    cmocka_unit_test (test_schedule_too_long_says_so),
    cmocka_unit_test (test_variants_are_what_each_alone_is),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
