/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The scale beside a number being typed: what is expected spans three sigma to either side (common practice), and all of it is on the scale. */
#include <math.h>

#include "desktop/entry-scale.h"
#include "support/near.h"

#define WIDTH 400
#define HEIGHT 40

/* First and last column of that row where something is painted; FALSE: nothing. */
static gboolean
painted (const MlExpectation *expected, guint n, double typed, int row, int *ret_first, int *ret_last)
{
  const GdkRGBA none = { 0, 0, 0, 0 };
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_ARGB32, WIDTH, HEIGHT);
  cairo_t *cr = cairo_create (surface);
  const guint32 *line;

  *ret_first = *ret_last = -1;
  ml_entry_scale_draw (cr, WIDTH, HEIGHT, expected, n, typed, &none, ML_PAPER_LIGHT);
  cairo_surface_flush (surface);
  line = (const guint32 *) (const void *) (cairo_image_surface_get_data (surface) + row * cairo_image_surface_get_stride (surface));
  for (int x = 0; x < WIDTH; x++)
    if (line[x] != 0)
      {
        *ret_first = *ret_first < 0 ? x : *ret_first;
        *ret_last = x;
      }
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
  return *ret_first >= 0;
}

/* One expectation: it stands in the middle, its band within the ends and by far the most of the scale. */
static void
test_band_of_three_sigma_is_whole_on_the_scale (void **state)
{
  const MlExpectation expected = { .value = 5, .sigma = 0.5 };
  int first, last;

  assert_true (painted (&expected, 1, NAN, HEIGHT / 2 + 3, &first, &last));
  assert_near (first + last + 1, WIDTH, 0, 2);
  assert_true (first > 8 + 5 && last < WIDTH - 8 - 5);
  assert_true (last - first > WIDTH / 2);
}

/* 9 typed where 5 +- 0.5 is expected: from 3.5 to 9, a twelfth of that and a little beyond on either side; the band is 3 of these 5.5 wide. */
static void
test_number_typed_widens_the_scale (void **state)
{
  const MlExpectation expected = { .value = 5, .sigma = 0.5 };
  int first, last;

  assert_true (painted (&expected, 1, 9, HEIGHT / 2 + 3, &first, &last));
  assert_near (last - first + 1, 3.0 / (5.5 * 1.16) * (WIDTH - 16), 0, 2);
  assert_true (first < WIDTH / 8);
}

/* What a fine board shows reaches up, what a fault would show down. */
static void
test_fine_reaches_up_and_faults_down (void **state)
{
  const MlExpectation both[] = { { .value = 2, .sigma = 0.01 }, { .value = 8, .sigma = 0.01 } };
  int first, last;

  assert_true (painted (both, 2, NAN, HEIGHT / 2 - 8, &first, &last));
  assert_true (last < WIDTH / 2);
  assert_true (painted (both, 2, NAN, HEIGHT / 2 + 8, &first, &last));
  assert_true (first > WIDTH / 2);
}

static void
test_nothing_expected_paints_nothing (void **state)
{
  int first, last;

  assert_false (painted (NULL, 0, 3, HEIGHT / 2, &first, &last));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_band_of_three_sigma_is_whole_on_the_scale),
    cmocka_unit_test (test_number_typed_widens_the_scale),
    cmocka_unit_test (test_fine_reaches_up_and_faults_down),
    cmocka_unit_test (test_nothing_expected_paints_nothing),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
