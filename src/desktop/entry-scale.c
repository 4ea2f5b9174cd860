/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/entry-scale.h"

#include <math.h>

typedef struct
{
  double low, high;
  double left_px, width_px;
} Scale;

static double
scale_x (const Scale *scale, double value)
{
  return scale->left_px + CLAMP ((value - scale->low) / (scale->high - scale->low), 0.0, 1.0) * scale->width_px;
}

static double
sigma_of (const MlExpectation *expectation)
{
  return isfinite (expectation->sigma) ? expectation->sigma : 0.0;
}

static Scale
scale_for (const MlExpectation *expected, guint n, double typed, int width)
{
  Scale scale = { INFINITY, -INFINITY, 8.0, width - 16.0 };
  for (guint i = 0; i < n; i++)
    {
      double reach = 3.0 * sigma_of (&expected[i]);
      scale.low = MIN (scale.low, expected[i].value - reach);
      scale.high = MAX (scale.high, expected[i].value + reach);
    }
  if (isfinite (typed))
    {
      scale.low = MIN (scale.low, typed);
      scale.high = MAX (scale.high, typed);
    }
  double pad = MAX (0.08 * (scale.high - scale.low), MAX (0.02 * MAX (fabs (scale.low), fabs (scale.high)), 1e-3));
  scale.low -= pad;
  scale.high += pad;
  return scale;
}

static void
set_colour (cairo_t *cr, const MlColour *colour, double alpha)
{
  cairo_set_source_rgba (cr, colour->r, colour->g, colour->b, alpha);
}

static void
paint_expected (const MlExpectation *expected, guint n, cairo_t *cr, const Scale *scale, double y, MlPaper paper)
{
  const MlPalette *palette = ml_palette (paper);
  for (guint i = n; i-- > 0;)
    {
      const MlExpectation *expectation = &expected[i];
      const MlColour *colour = i == 0 ? &palette->cleared : &palette->suspect;
      double left = scale_x (scale, expectation->value - 3.0 * sigma_of (expectation));
      double right = scale_x (scale, expectation->value + 3.0 * sigma_of (expectation)), x = scale_x (scale, expectation->value);
      set_colour (cr, colour, 0.3);
      cairo_rectangle (cr, left, y - 5.0, MAX (right - left, 2.0), 10.0);
      cairo_fill (cr);
      set_colour (cr, colour, 1.0);
      cairo_set_line_width (cr, 2.0);
      /* Fine reaches up, faults reach down: not by colour alone. */
      cairo_move_to (cr, x, i == 0 ? y - 10.0 : y);
      cairo_line_to (cr, x, i == 0 ? y : y + 10.0);
      cairo_stroke (cr);
    }
}

void
ml_entry_scale_draw (cairo_t *cr, int width, int height, const MlExpectation *expected, guint n, double typed, const GdkRGBA *ink, MlPaper paper)
{
  double y = height / 2.0;
  if (n == 0)
    return;
  Scale scale = scale_for (expected, n, typed, width);
  gdk_cairo_set_source_rgba (cr, ink);
  cairo_set_line_width (cr, 1.0);
  cairo_move_to (cr, scale.left_px, y);
  cairo_line_to (cr, scale.left_px + scale.width_px, y);
  cairo_stroke (cr);
  paint_expected (expected, n, cr, &scale, y, paper);
  if (!isfinite (typed))
    return;
  gdk_cairo_set_source_rgba (cr, ink);
  cairo_arc (cr, scale_x (&scale, typed), y, 5.0, 0.0, 2.0 * G_PI);
  cairo_fill (cr);
}
