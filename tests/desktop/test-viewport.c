/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The viewport against the geometry of an affine map: view = (sheet - origin) * zoom. Expected numbers are worked by hand beside each check. */
#include "support/near.h"

#include "desktop/viewport.h"

static MlViewport
made (double width_px, double height_px, MlBox content)
{
  MlViewport viewport;
  ml_viewport_init (&viewport);
  ml_viewport_set_size (&viewport, width_px, height_px);
  ml_viewport_set_content (&viewport, content);
  return viewport;
}

static void
test_viewport_fit_fills_and_centres (void **state)
{
  /* 100 x 20 g in 1048 x 648 px: margins of 24 leave 1000 x 600; 10 px/g fills the width. */
  MlViewport viewport = made (1048, 648, (MlBox){ -10, 5, 90, 25 });
  assert_near (viewport.zoom, 10.0, 1e-12, 0);
  MlPoint left = ml_viewport_to_view (&viewport, -10, 15);
  assert_near (left.x, 24.0, 0, 1e-9);
  assert_near (left.y, 324.0, 0, 1e-9);
}

/* In a view of 200 x 200 px one part in twenty is 10 px: 180 px are left for 20 g. */
static void
test_viewport_small_view_has_small_margins (void **state)
{
  MlViewport viewport = made (200, 200, (MlBox){ 0, 0, 20, 20 });
  assert_near (viewport.zoom, 9.0, 1e-12, 0);
}

static void
test_viewport_fit_does_not_blow_up_a_small_drawing (void **state)
{
  MlViewport viewport = made (1000, 1000, (MlBox){ 0, 0, 2, 2 });
  assert_near (viewport.zoom, ML_VIEWPORT_FIT_ZOOM, 0, 0);
  MlPoint middle = ml_viewport_to_view (&viewport, 1, 1);
  assert_near (middle.x, 500.0, 0, 1e-9);
}

static void
test_viewport_fit_keeps_off_what_lies_over_the_corner (void **state)
{
  /* 100 x 60 g in 1048 x 648 px fills 1000 x 600 down to y = 624; a corner of 200 x 64 px begins at y = 584, so that 578 is left above its gap of 6 px,
   * 554 without the upper margin of 24. */
  MlViewport viewport = made (1048, 648, (MlBox){ 0, 0, 100, 60 });
  ml_viewport_set_corner (&viewport, 200, 64);
  assert_near (viewport.zoom, 554.0 / 60.0, 1e-12, 0);
  MlPoint end = ml_viewport_to_view (&viewport, 100, 60), begin = ml_viewport_to_view (&viewport, 0, 0);
  assert_near (end.y, 578.0, 0, 1e-9);
  assert_near (begin.y, 24.0, 0, 1e-9);
  /* what ends left of the corner, or above it, has all of the view */
  ml_viewport_set_content (&viewport, (MlBox){ 0, 0, 20, 60 });
  assert_near (viewport.zoom, 10.0, 1e-12, 0);
  ml_viewport_set_content (&viewport, (MlBox){ 0, 0, 100, 20 });
  assert_near (viewport.zoom, 10.0, 1e-12, 0);
}

static void
test_viewport_empty_sheet_is_harmless (void **state)
{
  MlViewport viewport = made (0, 0, (MlBox){ 0, 0, 0, 0 });
  ml_viewport_zoom_at (&viewport, 2.0, 0, 0);
  ml_viewport_pan_by (&viewport, 1e9, -1e9);
  ml_viewport_set_size (&viewport, 800, 600);
  assert_true (viewport.zoom >= ML_VIEWPORT_MIN_ZOOM && viewport.zoom <= ML_VIEWPORT_MAX_ZOOM);
  assert_near (viewport.origin.x, viewport.origin.x, 0, 0); /* not NAN */
}

static void
test_viewport_fitted_follows_size_until_moved (void **state)
{
  MlViewport viewport = made (1048, 648, (MlBox){ 0, 0, 100, 20 });
  ml_viewport_set_size (&viewport, 548, 648); /* 500 px for 100 g */
  assert_near (viewport.zoom, 5.0, 1e-12, 0);
  ml_viewport_pan_by (&viewport, 1, 0);
  ml_viewport_set_size (&viewport, 1048, 648);
  assert_near (viewport.zoom, 5.0, 1e-12, 0);
  ml_viewport_fit (&viewport);
  assert_near (viewport.zoom, 10.0, 1e-12, 0);
}

static void
test_viewport_zoom_keeps_the_point_under_the_pointer (void **state)
{
  MlViewport viewport = made (1048, 648, (MlBox){ 0, 0, 100, 60 });
  MlPoint before = ml_viewport_to_sheet (&viewport, 300, 200);
  for (int i = 0; i < 5; i++)
    ml_viewport_zoom_at (&viewport, 1.25, 300, 200);
  MlPoint after = ml_viewport_to_sheet (&viewport, 300, 200);
  assert_near (after.x, before.x, 0, 1e-9);
  assert_near (after.y, before.y, 0, 1e-9);
  assert_near (viewport.zoom, 10.0 * 3.0517578125, 1e-12, 0); /* 1.25^5 */
}

static void
test_viewport_stretch_keeps_the_point_under_the_pointer (void **state)
{
  MlViewport viewport = made (1048, 648, (MlBox){ 0, 0, 100, 60 });
  MlPoint before = ml_viewport_to_sheet (&viewport, 300, 200);
  double zoom = viewport.zoom;
  ml_viewport_stretch (&viewport, 3.0, 300, 200);
  MlPoint after = ml_viewport_to_sheet (&viewport, 300, 200);
  assert_near (after.x, 3 * before.x, 0, 1e-9);
  assert_near (after.y, 3 * before.y, 0, 1e-9);
  assert_near (viewport.zoom, zoom, 0, 0);
  assert_near (viewport.content.x1, 300, 0, 1e-9);
}

static void
test_viewport_zoom_stays_within_limits (void **state)
{
  MlViewport viewport = made (1000, 600, (MlBox){ 0, 0, 100, 60 });
  for (int i = 0; i < 100; i++)
    ml_viewport_zoom_at (&viewport, 2.0, 0, 0);
  assert_near (viewport.zoom, ML_VIEWPORT_MAX_ZOOM, 0, 0);
  for (int i = 0; i < 100; i++)
    ml_viewport_zoom_at (&viewport, 0.5, 900, 500);
  assert_near (viewport.zoom, ML_VIEWPORT_MIN_ZOOM, 0, 0);
}

/* 2000 x 100 g in 1048 x 648 px: 1000 px for 2000 g, although nobody zooms a small drawing that far out. */
static void
test_viewport_shows_all_of_a_very_large_drawing (void **state)
{
  MlViewport viewport = made (1048, 648, (MlBox){ 0, 0, 2000, 100 });
  assert_near (viewport.zoom, 0.5, 1e-12, 0);
  ml_viewport_zoom_at (&viewport, 4.0, 0, 0);
  for (int i = 0; i < 100; i++)
    ml_viewport_zoom_at (&viewport, 0.5, 500, 300);
  assert_near (viewport.zoom, 0.5, 1e-12, 0);
}

static void
test_viewport_content_is_never_lost (void **state)
{
  MlViewport viewport = made (1000, 600, (MlBox){ 0, 0, 100, 60 });
  ml_viewport_pan_by (&viewport, 1e6, 1e6);
  MlPoint corner = ml_viewport_to_view (&viewport, 100, 60);
  assert_near (corner.x, ML_VIEWPORT_KEPT_PX, 0, 1e-6);
  assert_near (corner.y, ML_VIEWPORT_KEPT_PX, 0, 1e-6);
  ml_viewport_pan_by (&viewport, -1e6, -1e6);
  corner = ml_viewport_to_view (&viewport, 0, 0);
  assert_near (corner.x, 1000 - ML_VIEWPORT_KEPT_PX, 0, 1e-6);
}

static void
test_viewport_reveal_moves_as_little_as_needed (void **state)
{
  MlViewport viewport = made (1000, 600, (MlBox){ 0, 0, 1000, 600 });
  viewport.zoom = 10.0;
  ml_viewport_hold (&viewport);
  viewport.origin = (MlPoint){ 0, 0 };
  assert_false (ml_viewport_reveal (&viewport, (MlBox){ 10, 10, 12, 12 }));
  /* x 105..107 g is 1050..1070 px: 1070 + 24 - 1000 = 94 px to the right. */
  assert_true (ml_viewport_reveal (&viewport, (MlBox){ 105, 10, 107, 12 }));
  assert_near (viewport.origin.x, 9.4, 0, 1e-9);
  assert_near (viewport.origin.y, 0.0, 0, 1e-9);
}

static void
test_viewport_maps_are_inverse (void **state)
{
  MlViewport viewport = made (777, 333, (MlBox){ -3, -4, 61, 40 });
  ml_viewport_zoom_at (&viewport, 1.7, 100, 50);
  MlPoint sheet = ml_viewport_to_sheet (&viewport, 123, 45), view = ml_viewport_to_view (&viewport, sheet.x, sheet.y);
  assert_near (view.x, 123, 0, 1e-9);
  assert_near (view.y, 45, 0, 1e-9);
}

/* While one draws nothing moves; afterwards the whole drawing is in view again, unless a hand has chosen what is. */
static void
test_viewport_held_is_fitted_again_when_released (void **state)
{
  MlViewport viewport = made (1048, 648, (MlBox){ 0, 0, 100, 20 }); /* 10 px/g */
  ml_viewport_hold (&viewport);
  ml_viewport_hold (&viewport);
  ml_viewport_set_size (&viewport, 548, 648);
  assert_near (viewport.zoom, 10.0, 1e-12, 0);
  assert_true (ml_viewport_look (&viewport).fitted);
  ml_viewport_release (&viewport);
  assert_near (viewport.zoom, 5.0, 1e-12, 0);
  ml_viewport_hold (&viewport);
  ml_viewport_zoom_at (&viewport, 2.0, 0, 0);
  ml_viewport_release (&viewport);
  assert_near (viewport.zoom, 10.0, 1e-12, 0);
  assert_false (ml_viewport_look (&viewport).fitted);
}

/* What is in the middle stays there, as large, in a window of another size: 40 px/g shows (30, 8) in the middle of 800 x 400 and of 500 x 300. */
static void
test_viewport_looks_again_at_what_it_looked_at (void **state)
{
  MlViewport viewport = made (800, 400, (MlBox){ 0, 0, 100, 20 }), other = made (500, 300, (MlBox){ 0, 0, 100, 20 });
  const MlLook wanted = { 40.0, { 30.0, 8.0 }, FALSE };
  ml_viewport_look_at (&viewport, &wanted);
  MlLook look = ml_viewport_look (&viewport);
  ml_viewport_look_at (&other, &look);
  assert_near (other.zoom, 40.0, 1e-12, 0);
  assert_near (other.origin.x, 30.0 - 250.0 / 40.0, 1e-12, 0);
  assert_near (other.origin.y, 8.0 - 150.0 / 40.0, 1e-12, 0);
  const MlLook lost = { 1e9, { 1e6, 1e6 }, FALSE }; /* of another drawing, or not a look at all */
  ml_viewport_look_at (&other, &lost);
  assert_near (other.zoom, ML_VIEWPORT_MAX_ZOOM, 0, 0);
  assert_true (other.origin.x < 100.0 && other.origin.y < 20.0);
  const MlLook whole = { 1.0, { 0.0, 0.0 }, TRUE };
  ml_viewport_look_at (&other, &whole);
  assert_true (other.fitted);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_viewport_held_is_fitted_again_when_released),
    cmocka_unit_test (test_viewport_looks_again_at_what_it_looked_at),
    cmocka_unit_test (test_viewport_fit_fills_and_centres),
    cmocka_unit_test (test_viewport_small_view_has_small_margins),
    cmocka_unit_test (test_viewport_fit_keeps_off_what_lies_over_the_corner),
    cmocka_unit_test (test_viewport_fit_does_not_blow_up_a_small_drawing),
    cmocka_unit_test (test_viewport_empty_sheet_is_harmless),
    cmocka_unit_test (test_viewport_fitted_follows_size_until_moved),
    cmocka_unit_test (test_viewport_zoom_keeps_the_point_under_the_pointer),
    cmocka_unit_test (test_viewport_stretch_keeps_the_point_under_the_pointer),
    cmocka_unit_test (test_viewport_zoom_stays_within_limits),
    cmocka_unit_test (test_viewport_shows_all_of_a_very_large_drawing),
    cmocka_unit_test (test_viewport_content_is_never_lost),
    cmocka_unit_test (test_viewport_reveal_moves_as_little_as_needed),
    cmocka_unit_test (test_viewport_maps_are_inverse),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
