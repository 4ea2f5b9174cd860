/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The artwork meets the geometry: ink at every pin, the same symbol turned and mirrored. */
#include "drawing/symbols.h"

#include <math.h>
#include <string.h>

#include "drawing/symbol-geometry.h"
#include "support/near.h"

#define SCALE 16
#define SIZE 512 /* 32 g square, the origin in its middle */

static cairo_surface_t *
draw (const char *name, const MlPlace *place)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_A8, SIZE, SIZE);
  cairo_t *cr = cairo_create (surface);
  const MlColour ink = { 0, 0, 0 };

  cairo_translate (cr, SIZE / 2, SIZE / 2);
  cairo_scale (cr, SCALE, SCALE);
  assert_true (ml_symbol_draw (cr, name, place, &ink, NULL));
  cairo_destroy (cr);
  cairo_surface_flush (surface);
  return surface;
}

static guint
ink_near (cairo_surface_t *surface, MlPoint at, double reach)
{
  const unsigned char *data = cairo_image_surface_get_data (surface);
  const int stride = cairo_image_surface_get_stride (surface);
  guint most = 0;

  for (int y = (int) (SIZE / 2 + (at.y - reach) * SCALE); y <= SIZE / 2 + (at.y + reach) * SCALE; y++)
    for (int x = (int) (SIZE / 2 + (at.x - reach) * SCALE); x <= SIZE / 2 + (at.x + reach) * SCALE; x++)
      if (x >= 0 && y >= 0 && x < SIZE && y < SIZE)
        most = MAX (most, data[y * stride + x]);
  return most;
}

static gboolean
has_artwork (const MlSymbolGeometry *geometry)
{
  return geometry->shape == ML_SHAPE_SYMBOL;
}

static void
test_every_symbol_has_artwork_whose_ink_reaches_its_pins (void **state)
{
  guint checked = 0;

  for (guint i = 0; i < ml_symbol_geometry_n (); i++)
    {
      const MlSymbolGeometry *geometry = ml_symbol_geometry_at (i);
      const MlPlace upright = { 0, 0, 0, FALSE };
      cairo_surface_t *surface;

      if (!has_artwork (geometry))
        continue;
      if (!ml_symbol_exists (geometry->name))
        fail_msg ("data/symbols has no %s.svg", geometry->name);
      surface = draw (geometry->name, &upright);
      for (guint k = 0; k < geometry->n_pins; k++)
        if (ink_near (surface, (MlPoint) { geometry->pins[k].x, geometry->pins[k].y }, 0.2) < 128)
          fail_msg ("%s: no ink at pin %s", geometry->name, geometry->pins[k].name);
      cairo_surface_destroy (surface);
      checked++;
    }
  assert_true (checked >= 25);
}

static void
test_turned_and_mirrored_symbols_keep_their_ink_at_the_pins (void **state)
{
  for (guint i = 0; i < ml_symbol_geometry_n (); i++)
    for (int variant = 0; variant < 8; variant++)
      {
        const MlSymbolGeometry *geometry = ml_symbol_geometry_at (i);
        const MlPlace place = { 1, -2, variant % 4, variant >= 4 };
        cairo_surface_t *surface;

        if (!has_artwork (geometry))
          continue;
        surface = draw (geometry->name, &place);
        for (guint k = 0; k < geometry->n_pins; k++)
          if (ink_near (surface, ml_place_point (&place, geometry->pins[k].x, geometry->pins[k].y), 0.2) < 128)
            fail_msg ("%s turned %d%s: no ink at pin %s", geometry->name, place.turn, place.mirror ? " mirrored" : "", geometry->pins[k].name);
        cairo_surface_destroy (surface);
      }
}

/* A section of a chip has the outline of the whole, but no leads above and below. */
static void
test_sections_of_chips_have_no_supply_leads (void **state)
{
  static const char *const names[] = { "opamp", "opamp-plus-above", "comparator", "comparator-plus-above" };
  const MlPlace upright = { 0, 0, 0, FALSE };

  for (guint i = 0; i < G_N_ELEMENTS (names); i++)
    {
      g_autofree char *section = g_strconcat (names[i], "-section", NULL);
      cairo_surface_t *whole = draw (names[i], &upright), *part = draw (section, &upright);

      assert_true (ml_symbol_exists (section));
      assert_true (ink_near (whole, (MlPoint) { 3, 0.2 }, 0.2) > 128 && ink_near (whole, (MlPoint) { 3, 3.8 }, 0.2) > 128);
      assert_true (ink_near (part, (MlPoint) { 3, 0.2 }, 0.2) < 16 && ink_near (part, (MlPoint) { 3, 3.8 }, 0.2) < 16);
      assert_true (ink_near (part, (MlPoint) { 0, 1 }, 0.2) > 128 && ink_near (part, (MlPoint) { 0, 3 }, 0.2) > 128);
      assert_true (ink_near (part, (MlPoint) { 6, 2 }, 0.2) > 128);
      cairo_surface_destroy (whole);
      cairo_surface_destroy (part);
    }
}

/* Whether ink leads from one point to the other without a gap: what a person reads as joined. */
static gboolean
ink_joins (cairo_surface_t *surface, MlPoint from, MlPoint to)
{
  const unsigned char *data = cairo_image_surface_get_data (surface);
  const int stride = cairo_image_surface_get_stride (surface);
  const int start = (int) (SIZE / 2 + from.y * SCALE) * SIZE + (int) (SIZE / 2 + from.x * SCALE);
  const int end = (int) (SIZE / 2 + to.y * SCALE) * SIZE + (int) (SIZE / 2 + to.x * SCALE);
  g_autofree gboolean *seen = g_new0 (gboolean, SIZE * SIZE);
  g_autofree int *waiting = g_new (int, SIZE * SIZE);
  int n = 0;

  seen[waiting[n++] = start] = TRUE;
  while (n > 0)
    {
      static const int steps[] = { 1, -1, SIZE, -SIZE, SIZE + 1, SIZE - 1, -SIZE + 1, -SIZE - 1 };
      const int at = waiting[--n];

      for (guint k = 0; k < G_N_ELEMENTS (steps); k++)
        {
          const int next = at + steps[k];

          if (next < 0 || next >= SIZE * SIZE || seen[next] || data[next / SIZE * stride + next % SIZE] < 32)
            continue;
          seen[waiting[n++] = next] = TRUE;
        }
    }
  return seen[end];
}

/* Ink joins the pins between which current can flow, and no others. Kirchhoff could not be broken in a plainer way than by a current through a gap. */
static void
test_ink_joins_the_pins_that_a_throw_joins (void **state)
{
  static const struct { const char *name; MlPoint from, to; gboolean joined; } cases[] = {
    { "switch", { 0, 3.9 }, { 0, 0.1 }, FALSE },
    { "switch-closed", { 0, 3.9 }, { 0, 0.1 }, TRUE },
    { "contact", { 0, 3.9 }, { 0, 0.1 }, FALSE },
    { "contact-nc", { 0, 3.9 }, { 0, 0.1 }, TRUE },
    { "contact-nc-open", { 0, 3.9 }, { 0, 0.1 }, FALSE },
    { "changeover", { 1, 3.9 }, { 0, 0.1 }, TRUE },
    { "changeover", { 1, 3.9 }, { 2, 0.1 }, FALSE },
    { "changeover-b", { 1, 3.9 }, { 0, 0.1 }, FALSE },
    { "changeover-b", { 1, 3.9 }, { 2, 0.1 }, TRUE },
    { "changeover-middle", { 1, 3.9 }, { 0, 0.1 }, FALSE },
    { "changeover-middle", { 1, 3.9 }, { 2, 0.1 }, FALSE },
  };
  const MlPlace upright = { 0, 0, 0, FALSE };

  for (guint i = 0; i < G_N_ELEMENTS (cases); i++)
    {
      cairo_surface_t *surface = draw (cases[i].name, &upright);

      if (ink_joins (surface, cases[i].from, cases[i].to) != cases[i].joined)
        fail_msg ("%s: ink %s the pin at %g, 0", cases[i].name, cases[i].joined ? "does not reach" : "reaches", round (cases[i].to.x));
      cairo_surface_destroy (surface);
    }
}

/* Labels and marks go by the ink that the geometry states, whichever way a switch stands. */
static void
test_other_throws_keep_within_their_symbols_ink (void **state)
{
  static const char *const pairs[][2] = { { "switch-closed", "switch" }, { "switch-closed", "contact" }, { "contact-nc-open", "contact-nc" },
                                          { "changeover-b", "changeover" }, { "changeover-middle", "changeover" } };
  const MlPlace upright = { 0, 0, 0, FALSE };

  for (guint i = 0; i < G_N_ELEMENTS (pairs); i++)
    {
      cairo_surface_t *surface = draw (pairs[i][0], &upright);
      const MlSymbolGeometry *geometry = ml_symbol_geometry (pairs[i][1]);
      const MlBox ink = ml_symbol_ink (geometry);

      for (int y = 0; y < SIZE; y++)
        for (int x = 0; x < SIZE; x++)
          {
            const double gx = (x + 0.5 - SIZE / 2.0) / SCALE, gy = (y + 0.5 - SIZE / 2.0) / SCALE;
            gboolean fine = gx > ink.x0 - 0.05 && gx < ink.x1 + 0.05 && gy > ink.y0 - 0.05 && gy < ink.y1 + 0.05;

            for (guint k = 0; k < geometry->n_pins; k++) /* leads */
              fine |= fabs (gx - geometry->pins[k].x) < 0.2 && gy > -0.2 && gy < 4.2;
            if (!fine && cairo_image_surface_get_data (surface)[y * cairo_image_surface_get_stride (surface) + x] > 32)
              fail_msg ("%s has ink at %.2f, %.2f, outside the body of %s", pairs[i][0], gx, gy, pairs[i][1]);
          }
      cairo_surface_destroy (surface);
    }
}

/* Mirroring twice and turning four times are the identity: the pictures agree to the pixel. */
static void
test_a_whole_turn_gives_the_same_picture (void **state)
{
  const MlPlace upright = { 0, 0, 0, FALSE }, whole = { 0, 0, 4, FALSE };
  cairo_surface_t *a = draw ("npn", &upright), *b = draw ("npn", &whole);

  assert_memory_equal (cairo_image_surface_get_data (a), cairo_image_surface_get_data (b), (size_t) cairo_image_surface_get_stride (a) * SIZE);
  cairo_surface_destroy (a);
  cairo_surface_destroy (b);
}

static void
test_an_unknown_symbol_draws_nothing (void **state)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_A8, 8, 8);
  cairo_t *cr = cairo_create (surface);
  const MlPlace place = { 0 };
  const MlColour ink = { 0, 0, 0 };

  assert_false (ml_symbol_draw (cr, "no-such-symbol", &place, &ink, NULL));
  assert_int_equal (cairo_status (cr), CAIRO_STATUS_SUCCESS);
  cairo_destroy (cr);
  cairo_surface_destroy (surface);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_every_symbol_has_artwork_whose_ink_reaches_its_pins),
    cmocka_unit_test (test_turned_and_mirrored_symbols_keep_their_ink_at_the_pins),
    cmocka_unit_test (test_sections_of_chips_have_no_supply_leads),
    cmocka_unit_test (test_ink_joins_the_pins_that_a_throw_joins),
    cmocka_unit_test (test_other_throws_keep_within_their_symbols_ink),
    cmocka_unit_test (test_a_whole_turn_gives_the_same_picture),
    cmocka_unit_test (test_an_unknown_symbol_draws_nothing),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
