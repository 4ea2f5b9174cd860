/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every allocation of building, solving and measuring fails in turn: a clear status each time, no crash, nothing lost. The program's own
 * malloc family is wrapped by the linker; the linear algebra's goes through its own table of functions. */
#include "nodal/kit.h"

#include <math.h>
#include <stdlib.h>

#include <suitesparse/SuiteSparse_config.h>

static long countdown = -1; /* allocations until one fails; negative: none does */
static long live;           /* blocks not freed */

void *__real_malloc (size_t size);
void *__real_calloc (size_t n, size_t size);
void *__real_realloc (void *block, size_t size);
void __real_free (void *block);
void *__wrap_malloc (size_t size);
void *__wrap_calloc (size_t n, size_t size);
void *__wrap_realloc (void *block, size_t size);
void __wrap_free (void *block);

static bool
fails (void)
{
  return countdown >= 0 && countdown-- == 0;
}

static void *
counted (void *block)
{
  live += block != NULL;
  return block;
}

void *
__wrap_malloc (size_t size)
{
  return fails () ? NULL : counted (__real_malloc (size));
}

void *
__wrap_calloc (size_t n, size_t size)
{
  return fails () ? NULL : counted (__real_calloc (n, size));
}

void *
__wrap_realloc (void *block, size_t size)
{
  if (fails ())
    return NULL;
  void *moved = __real_realloc (block, size);
  live += block == NULL && moved != NULL;
  return moved;
}

void
__wrap_free (void *block)
{
  live -= block != NULL;
  __real_free (block);
}

/* Build, solve a fault and a joint, measure with slopes; the first bad status. */
static MlNodalStatus
work (double *ret_value)
{
  static const char *const words[] = { "supply", "resistor", "diode", "npn", "regulator", "switch", "opamp" };
  static const int nets[][5] = { { 1, 0 }, { 1, 2 }, { 2, 3 }, { 4, 3, 0 }, { 1, 4, 0 }, { 4, 5 }, { 3, 4, 5, 1, 0 } };
  MlNodalSolution at = { 0 }, loaded = { 0 };
  MlNodalSolver *solver = NULL;
  MlNodalStatus status = ML_NODAL_NO_MEMORY;
  MlNodalCircuit *circuit = ml_nodal_circuit_new ();

  if (!circuit)
    return ML_NODAL_NO_MEMORY;
  for (int k = 0; k < 5; k++)
    if (ml_nodal_circuit_add_net (circuit) < 0)
      goto out;
  for (int d = 0; d < 7; d++)
    {
      const MlNodalType *type = ml_nodal_type_find (words[d]);
      double parameters[16];
      for (int p = 0; p < ml_nodal_type_n_parameters (type); p++)
        parameters[p] = ml_nodal_type_default (type, p);
      int device = ml_nodal_circuit_add_device (circuit, type, nets[d], parameters);
      if (device < 0)
        {
          status = (MlNodalStatus) device;
          goto out;
        }
    }
  const MlNodalChange changes[2] = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 1, .index = 0, .value = 50 },
                                     { .kind = ML_NODAL_BRIDGE_PINS, .device = 3, .index = 0, .index_b = 1, .value = 0 } };
  const MlNodalMeter meter = { .red = { 5, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 10e6 };
  const MlNodalParameterRef ref = { 1, 0 };
  double slope, sizes[2];
  if ((status = ml_nodal_circuit_finish (circuit)) < 0 || (status = ml_nodal_solution_init (&at, circuit)) < 0
      || (status = ml_nodal_solution_init (&loaded, circuit)) < 0)
    goto out;
  solver = ml_nodal_solver_new (circuit, &status);
  if (!solver || (status = ml_nodal_solve (solver, NULL, 0, NULL, &at)) < 0 || (status = ml_nodal_solve (solver, changes, 2, &at, &at)) < 0)
    goto out;
  const MlNodalVariant variants[2] = { { changes, 1, NULL, &loaded }, { changes, 2, &at, &at } };
  if ((status = ml_nodal_solve_variants (solver, variants, 2)) < 0)
    goto out;
  if ((status = ml_nodal_measure (solver, changes, 2, &at, &meter, &ref, 1, ret_value, &slope, sizes, NULL)) < 0)
    goto out;
  MlNodalReading reading = { .meter = &meter, .slope = &slope, .size_slope = sizes };
  status = ml_nodal_measure_all (solver, changes, 2, &at, &ref, 1, &reading, 1);
  *ret_value += reading.value;

out:
  ml_nodal_solution_clear (&loaded);
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
  return status;
}

static void
test_every_failing_allocation_is_reported (void **state)
{
  double value = NAN, expected = NAN;
  long n = 0, spared = 0;

  SuiteSparse_config.malloc_func = __wrap_malloc;
  SuiteSparse_config.calloc_func = __wrap_calloc;
  SuiteSparse_config.realloc_func = __wrap_realloc;
  SuiteSparse_config.free_func = __wrap_free;
  assert_int_equal (work (&expected), ML_NODAL_OK);
  assert_int_equal (live, 0);
  for (;; n++)
    {
      assert_true (n < 100000);
      countdown = n;
      MlNodalStatus status = work (&value);
      bool reached = countdown < 0;
      countdown = -1;
      assert_int_equal (live, 0);
      if (!reached)
        {
          assert_int_equal (status, ML_NODAL_OK);
          break;
        }
      if (status == ML_NODAL_OK) /* the linear algebra could do without: it was giving memory back */
        {
          assert_memory_equal (&value, &expected, sizeof value);
          spared++;
          continue;
        }
      if (status != ML_NODAL_NO_MEMORY)
        print_error ("allocation %ld: %s\n", n, ml_nodal_status_text (status));
      assert_int_equal (status, ML_NODAL_NO_MEMORY);
    }
  assert_true (n > 30 && spared * 10 < n);
  assert_near (value, expected, 0, 0);
  print_message ("%ld allocations failed in turn\n", n);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_every_failing_allocation_is_reported) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
