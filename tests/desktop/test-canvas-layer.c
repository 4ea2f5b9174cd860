/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kept picture of the drawing: when it is painted anew, and where what was painted stands. The places follow from the definition of the
 * view: a point p of the sheet stands at (p - origin) times zoom. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "desktop/canvas-layer.h"

#define WIDTH 200
#define HEIGHT 100

static guint n_painted;

/* A black square of 2 g at (4, 4), on nothing. */
static void
paint (cairo_t *cr, double device_px_per_g, gpointer data)
{
  n_painted++;
  cairo_rectangle (cr, 4, 4, 2, 2);
  cairo_fill (cr);
}

static gboolean
is_black (cairo_surface_t *surface, double x, double y)
{
  cairo_surface_flush (surface);
  const guint32 *row = (const guint32 *) (const void *) (cairo_image_surface_get_data (surface) + (int) y * cairo_image_surface_get_stride (surface));
  return (row[(int) x] >> 24) > 200;
}

/* Paints and says whether the square's middle is black and a place just outside its edge is not. */
static gboolean
shows_square (MlCanvasLayer *layer, const MlViewport *viewport, guint version, gboolean moving)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_ARGB32, WIDTH, HEIGHT);
  cairo_t *cr = cairo_create (surface);
  MlCanvasLayerSource source = { { 0, 0, 20, 10 }, version, ML_PAPER_LIGHT, paint, NULL };
  MlPoint middle = ml_viewport_to_view (viewport, 5, 5), outside = ml_viewport_to_view (viewport, 6.6, 5);

  ml_canvas_layer_paint (layer, cr, &source, viewport, 1, moving);
  cairo_destroy (cr);
  gboolean right = is_black (surface, middle.x, middle.y) && !is_black (surface, outside.x, outside.y);
  cairo_surface_destroy (surface);
  return right;
}

static void
test_layer_is_stretched_while_zooming_and_sharp_at_rest (void **state)
{
  MlCanvasLayer layer = { 0 };
  MlViewport viewport;

  n_painted = 0;
  ml_viewport_init (&viewport);
  ml_viewport_set_size (&viewport, WIDTH, HEIGHT);
  ml_viewport_set_content (&viewport, (MlBox){ 0, 0, 20, 10 });
  assert_true (shows_square (&layer, &viewport, 1, FALSE));
  assert_true (shows_square (&layer, &viewport, 1, FALSE));
  assert_int_equal (n_painted, 1);
  for (guint i = 0; i < 4; i++) /* closer, and the square where it belongs all the time */
    {
      ml_viewport_zoom_at (&viewport, 1.25, 50, 50);
      assert_true (shows_square (&layer, &viewport, 1, TRUE));
    }
  assert_int_equal (n_painted, 1);
  assert_true (shows_square (&layer, &viewport, 1, FALSE)); /* come to rest */
  assert_int_equal (n_painted, 2);
  assert_true (layer.zoom == viewport.zoom);
  assert_true (shows_square (&layer, &viewport, 2, TRUE)); /* it looks different now: never what was */
  assert_int_equal (n_painted, 3);
  ml_canvas_layer_clear (&layer);
}

static void
test_layer_is_painted_anew_where_it_would_leave_the_view_bare (void **state)
{
  MlCanvasLayer layer = { 0 };
  MlViewport viewport;
  MlPoint square;

  n_painted = 0;
  ml_viewport_init (&viewport);
  ml_viewport_set_size (&viewport, WIDTH, HEIGHT);
  ml_viewport_set_content (&viewport, (MlBox){ 0, 0, 20, 10 });
  square = ml_viewport_to_view (&viewport, 5, 5);
  ml_viewport_zoom_at (&viewport, 6, square.x, square.y);
  assert_true (shows_square (&layer, &viewport, 1, FALSE));
  ml_viewport_zoom_at (&viewport, 0.2, square.x, square.y);
  assert_true (shows_square (&layer, &viewport, 1, TRUE));
  assert_int_equal (n_painted, 2);
  ml_canvas_layer_clear (&layer);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layer_is_stretched_while_zooming_and_sharp_at_rest),
    cmocka_unit_test (test_layer_is_painted_anew_where_it_would_leave_the_view_bare),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
