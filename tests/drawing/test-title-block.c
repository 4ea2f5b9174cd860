/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a picture says of itself in words: the sentences stand here as a person would read them. */
#include "support/models.h"
#include "support/near.h"

#include "drawing/title-block.h"

static const char board_text[] = "board \"Pump switch\"\nreference M\npart R1 resistor 1=IN 2=M value=1k\n"
                                 "condition on \"asked to run\"\n  supply plus=IN minus=M voltage=12 limit=300m\ncondition cold\n";

static MlJob *
read_job (const char *job)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  return ml_test_job (board, job);
}

static void
test_title_names_job_unit_and_condition (void **state)
{
  static const struct { const char *job; int unit, condition; const char *title; } table[] = {
    { "job \"Hall tank\"\nunit tank suspect\n", 0, 0, "Hall tank: unit tank, condition on" },
    { "job \"Hall tank\"\nunit tank suspect\n", 0, -1, "Hall tank: unit tank" },
    { "job \"Hall tank\"\nunit tank suspect\n", -1, 1, "Hall tank: condition cold" },
    { "unit tank suspect\n", -1, -1, "Pump switch" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autoptr (MlJob) job = read_job (table[i].job);
      const MlScene scene = { .board = job->board };
      const MlOverlay overlay = { .job = job, .unit = table[i].unit, .condition = table[i].condition, .pass = 1 };
      g_autofree char *title = ml_title_text (&scene, &overlay);

      assert_string_equal (title, table[i].title);
    }
}

static void
test_condition_says_what_is_connected (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);
  g_autofree char *on = ml_title_condition (board, 0), *cold = ml_title_condition (board, 1);

  assert_string_equal (on, "on: asked to run, supply 12.0 V from IN to M, limit 300 mA");
  assert_string_equal (cold, "cold");
}

/* Nobody who reads the record later sees a load or a lifted leg on the drawing. */
static void
test_condition_says_what_else_is_done_to_the_board (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board ("part R1 resistor 1=A 2=M value=1k\npart R2 resistor 1=A 2=B\npart F1 fuse 1=B 2=M\ncondition on\n"
                                             "  supply plus=A minus=M voltage=5 limit=1\n  load plus=B minus=M value=47\n  load plus=A minus=M current=20m\n"
                                             "  lift R1.2\n  remove F1\n  connect A B\n");
  g_autofree char *on = ml_title_condition (board, 0);

  assert_string_equal (on, "on, supply 5.00 V from A to M, limit 1.00 A, load 47.0 Ω from B to M, load 20.0 mA from A to M, R1.2 lifted, F1 out, A joined with B");
}

/* Files repeat byte for byte: the day is that of the log, and where nothing was logged always the same. */
static void
test_date_is_that_of_the_last_entry (void **state)
{
  g_autoptr (MlJob) logged = read_job ("unit a suspect\nlog 2026-03-04T10:22 a replaced R1\nlog 2026-03-05 a noted \"runs\"\n"), bare = read_job ("unit a\n");
  g_autofree char *last = ml_title_date (&(MlOverlay){ .job = logged }), *none = ml_title_date (&(MlOverlay){ .job = bare }), *nothing = ml_title_date (NULL);

  assert_string_equal (last, "2026-03-05");
  assert_false (ml_title_is_undated (last));
  assert_true (ml_title_is_undated (none) && ml_title_is_undated (nothing));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_title_names_job_unit_and_condition),
    cmocka_unit_test (test_condition_says_what_is_connected),
    cmocka_unit_test (test_condition_says_what_else_is_done_to_the_board),
    cmocka_unit_test (test_date_is_that_of_the_last_entry),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
