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

#define MOST_DEVICES 16

/* Circuits that take their own ways through the engine. */
typedef struct
{
  const char *name;
  int n_nets, n_devices;
  struct { const char *word; int nets[5]; } devices[MOST_DEVICES];
  int contact, coil; /* devices; both 0: none */
  int prefer;        /* net; 0: none */
  MlNodalChange changes[2];
} Scenario;

static const int turned[3] = { 2, 1, 0 };

static const Scenario scenarios[] = {
  { .name = "semiconductors and gain", .n_nets = 5, .n_devices = 7,
    .devices = { { "supply", { 1, 0 } }, { "resistor", { 1, 2 } }, { "diode", { 2, 3 } }, { "npn", { 4, 3, 0 } }, { "regulator", { 1, 4, 0 } },
                 { "switch", { 4, 5 } }, { "opamp", { 3, 4, 5, 1, 0 } } },
    .changes = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 1, .index = 0, .value = 50 },
                 { .kind = ML_NODAL_BRIDGE_PINS, .device = 3, .index = 0, .index_b = 1, .value = 0 } } },
  /* a chip's pins are exact links to nets inside, with resistances and sources of no current there */
  { .name = "unknown chip", .n_nets = 6, .n_devices = 9,
    .devices = { { "supply", { 1, 0 } }, { "link", { 1, 2 } }, { "link", { 3, 4 } }, { "resistor", { 2, 0 } }, { "resistor", { 4, 0 } },
                 { "resistor", { 4, 2 } }, { "current-source", { 0, 4 } }, { "resistor", { 3, 5 } }, { "led", { 5, 0 } } },
    .changes = { { .kind = ML_NODAL_DETACH, .device = 2, .index = 0, .index_b = 0 }, { .kind = ML_NODAL_LINK_NETS, .index = 3, .index_b = 5, .value = 0 } } },
  { .name = "chopped net", .n_nets = 3, .n_devices = 6,
    .devices = { { "supply", { 1, 0 } }, { "coil", { 1, 2 } }, { "chopped-current", { 2, 0, 0, 1 } }, { "chopped-current", { 2, 1, 0, 1 } },
                 { "diode", { 2, 1 } }, { "nmos", { 2, 3, 0 } } },
    .changes = { { .kind = ML_NODAL_OPEN_ELEMENT, .device = 1, .index = 0 }, { .kind = ML_NODAL_MOVE_PIN, .device = 4, .index = 1, .index_b = 3 } } },
  /* two transistors across, a relay and a thyristor */
  { .name = "several states", .n_nets = 8, .n_devices = 13, .contact = 10, .coil = 9, .prefer = 2,
    .devices = { { "supply", { 1, 0 } }, { "resistor", { 1, 2 } }, { "resistor", { 1, 3 } }, { "npn", { 2, 4, 0 } }, { "npn", { 3, 5, 0 } },
                 { "resistor", { 2, 5 } }, { "resistor", { 3, 4 } }, { "resistor", { 3, 6 } }, { "npn", { 8, 6, 0 } }, { "coil", { 1, 8 } },
                 { "contact", { 1, 7, -1 } }, { "thyristor", { 7, 0, 3 } }, { "resistor", { 7, 0 } } },
    .changes = { { .kind = ML_NODAL_PIN_RESISTANCE, .device = 1, .index = 0, .value = 2e3 },
                 { .kind = ML_NODAL_PERMUTE_PINS, .device = 8, .permutation = turned } } },
};
#define N_SCENARIOS ((int) (sizeof scenarios / sizeof scenarios[0]))

static MlNodalStatus
build (MlNodalCircuit *circuit, const Scenario *own)
{
  MlNodalStatus status = ML_NODAL_OK;

  for (int k = 0; k < own->n_nets; k++)
    if (ml_nodal_circuit_add_net (circuit) < 0)
      return ML_NODAL_NO_MEMORY;
  for (int d = 0; d < own->n_devices; d++)
    {
      const MlNodalType *type = ml_nodal_type_find (own->devices[d].word);
      double parameters[16];
      for (int p = 0; p < ml_nodal_type_n_parameters (type); p++)
        parameters[p] = ml_nodal_type_default (type, p);
      int device = ml_nodal_circuit_add_device (circuit, type, own->devices[d].nets, parameters);
      if (device < 0)
        return (MlNodalStatus) device;
    }
  if (own->contact && (status = ml_nodal_circuit_drive (circuit, own->contact, own->coil)) < 0)
    return status;
  if (own->prefer && (status = ml_nodal_circuit_prefer (circuit, own->prefer, 1)) < 0)
    return status;
  return ml_nodal_circuit_finish (circuit);
}

/* Build, solve as it is and with changes, look for other states, measure with slopes; the first bad status. */
static MlNodalStatus
work (const Scenario *own, double *ret_value)
{
  MlNodalSolution at = { 0 }, loaded = { 0 };
  MlNodalSolver *solver = NULL;
  MlNodalStatus status = ML_NODAL_NO_MEMORY;
  MlNodalCircuit *circuit = ml_nodal_circuit_new ();
  const MlNodalMeter meter = { .red = { own->n_nets, -1, 0 }, .black = { 0, -1, 0 }, .input_ohm = 10e6 };
  const MlNodalParameterRef ref = { 1, 0 };
  double slope, sizes[2];

  if (!circuit)
    return ML_NODAL_NO_MEMORY;
  if ((status = build (circuit, own)) < 0 || (status = ml_nodal_solution_init (&at, circuit)) < 0
      || (status = ml_nodal_solution_init (&loaded, circuit)) < 0)
    goto out;
  solver = ml_nodal_solver_new (circuit, &status);
  if (!solver || (status = ml_nodal_solve (solver, NULL, 0, NULL, &at)) < 0 || (status = ml_nodal_seek_states (solver, NULL, 0, &at)) < 0
      || (status = ml_nodal_solve (solver, own->changes, 2, &at, &at)) < 0
      || (status = ml_nodal_seek_states (solver, own->changes, 2, &at)) < 0)
    goto out;
  const MlNodalVariant variants[2] = { { own->changes, 1, NULL, &loaded, { NULL } }, { own->changes, 2, &at, &at, { NULL } } };
  if ((status = ml_nodal_solve_variants (solver, variants, 2)) < 0)
    goto out;
  if ((status = ml_nodal_measure (solver, own->changes, 2, &at, &meter, &ref, 1, ret_value, &slope, sizes, NULL)) < 0)
    goto out;
  MlNodalReading reading = { .meter = &meter, .slope = &slope, .size_slope = sizes };
  status = ml_nodal_measure_all (solver, own->changes, 2, &at, &ref, 1, &reading, 1);
  *ret_value += reading.value;

out:
  ml_nodal_solution_clear (&loaded);
  ml_nodal_solution_clear (&at);
  ml_nodal_solver_free (solver);
  ml_nodal_circuit_free (circuit);
  return status;
}

/* One run with allocation n failing; FALSE: it was not reached any more. spared counts where the linear algebra could do without: it was giving memory
 * back. */
static bool
fail_at (const Scenario *own, long n, double expected, long *spared)
{
  double value = NAN;

  countdown = n;
  MlNodalStatus status = work (own, &value);
  bool reached = countdown < 0;
  countdown = -1;
  assert_int_equal (live, 0);
  if (status < 0 && status != ML_NODAL_NO_MEMORY)
    print_error ("%s, allocation %ld: %s\n", own->name, n, ml_nodal_status_text (status));
  if (!reached || status >= 0)
    {
      assert_true (status >= 0);
      assert_memory_equal (&value, &expected, sizeof value);
      *spared += reached;
    }
  else
    assert_int_equal (status, ML_NODAL_NO_MEMORY);
  return reached;
}

static void
test_every_failing_allocation_is_reported (void **state)
{
  SuiteSparse_config.malloc_func = __wrap_malloc;
  SuiteSparse_config.calloc_func = __wrap_calloc;
  SuiteSparse_config.realloc_func = __wrap_realloc;
  SuiteSparse_config.free_func = __wrap_free;
  for (int k = 0; k < N_SCENARIOS; k++)
    {
      double expected = NAN;
      long n = 0, spared = 0;

      assert_true (work (&scenarios[k], &expected) >= 0);
      assert_true (isfinite (expected));
      assert_int_equal (live, 0);
      while (fail_at (&scenarios[k], n, expected, &spared))
        assert_true (n++ < 100000);
      assert_true (n > 30 && spared * 10 < n);
      print_message ("%s: %ld allocations failed in turn\n", scenarios[k].name, n);
    }
}

/* A room that could not grow has what it had, and grows later. */
static void
test_room_without_memory_says_so (void **state)
{
  long before = live;

  countdown = 0;
  assert_null (ml_nodal_room_new ());
  MlNodalRoom *room = ml_nodal_room_new ();
  assert_non_null (room);
  countdown = 0;
  assert_null (ml_nodal_room_take (room, 100));
  char *piece = ml_nodal_room_take (room, 100);
  assert_non_null (piece);
  piece[99] = 1;
  countdown = 0;
  assert_null (ml_nodal_room_take (room, 100000));
  assert_non_null (ml_nodal_room_take (room, 100000));
  countdown = -1;
  assert_int_equal (piece[99], 1);
  ml_nodal_room_free (room);
  assert_int_equal (live, before);
}

int
main (void)
{
  const struct CMUnitTest tests[] = { cmocka_unit_test (test_every_failing_allocation_is_reported), cmocka_unit_test (test_room_without_memory_says_so) };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
