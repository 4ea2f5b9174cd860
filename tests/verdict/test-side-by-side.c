/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Work in parts on several threads. That verdicts do not depend on them is tested with the program (tests/command). */
#include "support/near.h"
#include "verdict/assumptions.h"
#include "verdict/side-by-side.h"

#define N_PARTS 500

typedef struct
{
  gint times[N_PARTS];  /* atomic: how often each part was done */
  double assumed[N_PARTS];
  guint n_inner;        /* parts of the work within each part */
  gint inner;           /* atomic */
} Seen;

static void
inner_cb (guint i, gpointer data)
{
  (void) i;
  g_atomic_int_inc (&((Seen *) data)->inner);
}

static void
part_cb (guint i, gpointer data)
{
  Seen *seen = data;

  g_atomic_int_inc (&seen->times[i]);
  seen->assumed[i] = ml_assumption ("word.tie");
  ml_side_by_side (seen->n_inner, inner_cb, seen);
}

static void
assert_each_once (const Seen *seen, guint n)
{
  for (guint i = 0; i < N_PARTS; i++)
    assert_int_equal (seen->times[i], i < n);
}

/* By definition: once each, all before it returns; over and over, since a thread that comes late must not find old work. */
static void
test_parts_of_any_number_are_done_once_each (void **state)
{
  static const guint NUMBERS[] = { 0, 1, 2, 3, 4, 5, 64, N_PARTS };

  (void) state;
  assert_int_equal (ml_side_by_side_threads (), 4);
  for (guint round = 0; round < 200; round++)
    for (guint k = 0; k < G_N_ELEMENTS (NUMBERS); k++)
      {
        Seen seen = { 0 };

        ml_side_by_side (NUMBERS[k], part_cb, &seen);
        assert_each_once (&seen, NUMBERS[k]);
      }
}

static void
test_parts_with_parts_of_their_own_end (void **state)
{
  Seen seen = { .n_inner = 7 };

  (void) state;
  ml_side_by_side (64, part_cb, &seen);
  assert_each_once (&seen, 64);
  assert_int_equal (seen.inner, 64 * 7);
}

/* What the board assumes holds in every thread, and only while it is worked on. */
static void
test_parts_on_other_threads_assume_what_the_caller_does (void **state)
{
  g_autoptr (GHashTable) own = g_hash_table_new (g_str_hash, g_str_equal);
  Seen with = { 0 }, without = { 0 };
  double seventeen = 17, usual = ml_assumption_usual ("word.tie");
  GHashTable *before;

  (void) state;
  g_hash_table_insert (own, (gpointer) "word.tie", &seventeen);
  before = ml_assumptions_use (own);
  ml_side_by_side (N_PARTS, part_cb, &with);
  assert_ptr_equal (ml_assumptions_use (before), own);
  ml_side_by_side (N_PARTS, part_cb, &without);
  for (guint i = 0; i < N_PARTS; i++)
    {
      assert_near (with.assumed[i], 17, 0, 0);
      assert_near (without.assumed[i], usual, 0, 0);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_parts_of_any_number_are_done_once_each),
    cmocka_unit_test (test_parts_with_parts_of_their_own_end),
    cmocka_unit_test (test_parts_on_other_threads_assume_what_the_caller_does),
  };

  g_setenv ("METERLEAF_THREADS", "4", TRUE); /* however few processors there are */
  return cmocka_run_group_tests (tests, NULL, NULL);
}
