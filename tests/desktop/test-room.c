/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who gets which part of the room over the drawing. Expected values by plain geometry. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "desktop/room.h"

static void
assert_covers_nothing (GdkRectangle box, const MlBusy *busy, guint n)
{
  for (guint i = 0; i < n; i++)
    assert_false (gdk_rectangle_intersect (&box, &busy[i].at, NULL));
}

static void
test_beside_stands_below_in_the_middle_while_nothing_is_there (void **state)
{
  GdkRectangle box = ml_room_beside (800, 500, 400, 40, 10, FALSE, NULL, 0);

  assert_int_equal (box.x, 200);
  assert_int_equal (box.y, 450);
  assert_int_equal (box.width, 400);
  assert_int_equal (box.height, 40);
}

static void
test_beside_keeps_off_an_entry_wherever_it_is (void **state)
{
  static const int xs[] = { 0, 150, 300, 450, 560 }, ys[] = { 0, 100, 200, 280 };

  for (guint i = 0; i < G_N_ELEMENTS (xs); i++)
    for (guint k = 0; k < G_N_ELEMENTS (ys); k++)
      {
        const MlBusy busy[] = { { { xs[i], ys[k], 240, 220 }, TRUE } };
        GdkRectangle box = ml_room_beside (800, 500, 400, 40, 10, FALSE, busy, 1);
        assert_covers_nothing (box, busy, 1);
        assert_true (box.x >= 0 && box.y >= 0 && box.x + box.width <= 800 && box.y + box.height <= 500);
      }
}

static void
test_beside_covers_the_least_where_it_cannot_help_it (void **state)
{
  /* the upper edge is free but for 50 px, the lower one is not free at all */
  const MlBusy busy[] = { { { 0, 60, 300, 240 }, TRUE }, { { 0, 0, 50, 60 }, TRUE } };
  GdkRectangle box = ml_room_beside (300, 300, 280, 50, 10, FALSE, busy, 2);

  assert_int_equal (box.y, 10);
}

static void
test_beside_stands_above_where_that_is_asked_for_and_free (void **state)
{
  const MlBusy drawn[] = { { { 200, 5, 300, 40 }, FALSE } };
  GdkRectangle free = ml_room_beside (800, 500, 400, 40, 10, TRUE, NULL, 0), taken = ml_room_beside (800, 500, 400, 40, 10, TRUE, drawn, 1);

  assert_int_equal (free.x, 200);
  assert_int_equal (free.y, 10);
  assert_int_equal (taken.x, 200);
  assert_int_equal (taken.y, 450);
}

static void
test_beside_would_rather_cover_bare_paper (void **state)
{
  /* a part stands below in the middle; above there is an entry */
  const MlBusy busy[] = { { { 350, 440, 60, 60 }, FALSE }, { { 200, 0, 300, 200 }, TRUE } };
  GdkRectangle box = ml_room_beside (800, 500, 300, 40, 10, FALSE, busy, 2);

  assert_covers_nothing (box, busy, 2);
  assert_int_equal (box.y, 450);
}

static void
test_beside_covers_much_of_a_part_before_a_little_of_an_entry (void **state)
{
  /* the entry's corner reaches into the lower edge, a part takes all of the upper one, the middle is another entry's */
  const MlBusy busy[] = { { { 10, 270, 20, 30 }, TRUE }, { { 0, 0, 300, 70 }, FALSE }, { { 0, 100, 300, 100 }, TRUE } };
  GdkRectangle box = ml_room_beside (300, 300, 280, 50, 10, FALSE, busy, 3);

  assert_int_equal (box.y, 10);
}

static void
test_beside_is_never_larger_than_the_room (void **state)
{
  GdkRectangle box = ml_room_beside (200, 30, 400, 80, 10, FALSE, NULL, 0);

  assert_int_equal (box.x, 0);
  assert_int_equal (box.y, 0);
  assert_int_equal (box.width, 200);
  assert_int_equal (box.height, 30);
}

static void
test_share_puts_two_wide_ones_above_each_other (void **state)
{
  gboolean stacked;
  /* 3:1 in 600 x 400: 300 x 100 side by side, 600 x 200 one above the other */
  int first = ml_room_share (3.0, 3.0, 600, 400, &stacked);

  assert_true (stacked);
  assert_int_equal (first, 200);
}

static void
test_share_puts_two_tall_ones_side_by_side (void **state)
{
  gboolean stacked;
  int first = ml_room_share (0.5, 0.5, 600, 400, &stacked);

  assert_false (stacked);
  assert_int_equal (first, 300);
}

static void
test_share_gives_more_width_to_the_wider_one (void **state)
{
  gboolean stacked;
  /* side by side in 900 x 300 both are 300 high when the wider one has two thirds */
  int first = ml_room_share (2.0, 1.0, 900, 300, &stacked);

  assert_false (stacked);
  assert_true (first >= 500 && first <= 620);
}

static void
test_share_leaves_each_a_quarter (void **state)
{
  gboolean stacked;
  int first = ml_room_share (100.0, 0.01, 1000, 1000, &stacked);

  assert_true (first >= 249 && first <= 751);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_beside_stands_below_in_the_middle_while_nothing_is_there),
    cmocka_unit_test (test_beside_keeps_off_an_entry_wherever_it_is),
    cmocka_unit_test (test_beside_covers_the_least_where_it_cannot_help_it),
    cmocka_unit_test (test_beside_stands_above_where_that_is_asked_for_and_free),
    cmocka_unit_test (test_beside_would_rather_cover_bare_paper),
    cmocka_unit_test (test_beside_covers_much_of_a_part_before_a_little_of_an_entry),
    cmocka_unit_test (test_beside_is_never_larger_than_the_room),
    cmocka_unit_test (test_share_puts_two_wide_ones_above_each_other),
    cmocka_unit_test (test_share_puts_two_tall_ones_side_by_side),
    cmocka_unit_test (test_share_gives_more_width_to_the_wider_one),
    cmocka_unit_test (test_share_leaves_each_a_quarter),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
