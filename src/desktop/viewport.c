/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/viewport.h"

static double
width (MlBox box)
{
  return MAX (box.x1 - box.x0, 0.0);
}

static double
height (MlBox box)
{
  return MAX (box.y1 - box.y0, 0.0);
}

/* Some of the content stays in view, so that it is never lost. */
static double
limit_axis (double origin, double low, double high, double view_px, double zoom)
{
  double kept = MIN (MIN (ML_VIEWPORT_KEPT_PX, view_px / 2.0) / zoom, (high - low) / 2.0);
  return CLAMP (origin, low + kept - view_px / zoom, high - kept);
}

static void
limit (MlViewport *self)
{
  self->origin.x = limit_axis (self->origin.x, self->content.x0, self->content.x1, self->width_px, self->zoom);
  self->origin.y = limit_axis (self->origin.y, self->content.y0, self->content.y1, self->height_px, self->zoom);
}

static double
margin_of (double view_px)
{
  return MIN (ML_VIEWPORT_MARGIN_PX, view_px / ML_VIEWPORT_LEAST_MARGINS);
}

/* With which all of the content is in the view's upper height_px. */
static double
fit_zoom (const MlViewport *self, double height_px)
{
  double room_x = MAX (self->width_px - 2.0 * margin_of (self->width_px), 1.0), room_y = MAX (height_px - 2.0 * margin_of (height_px), 1.0);
  double zoom = MIN (room_x / MAX (width (self->content), 1e-6), room_y / MAX (height (self->content), 1e-6));
  return MIN (zoom, ML_VIEWPORT_FIT_ZOOM);
}

/* All of a very large drawing can be looked at, too. */
static double
limit_zoom (const MlViewport *self, double zoom)
{
  return CLAMP (zoom, MIN (ML_VIEWPORT_MIN_ZOOM, fit_zoom (self, self->height_px)), ML_VIEWPORT_MAX_ZOOM);
}

static void
fit_into (MlViewport *self, double height_px)
{
  self->zoom = fit_zoom (self, height_px);
  self->origin.x = (self->content.x0 + self->content.x1) / 2.0 - self->width_px / 2.0 / self->zoom;
  self->origin.y = (self->content.y0 + self->content.y1) / 2.0 - height_px / 2.0 / self->zoom;
}

static gboolean
reaches_corner (const MlViewport *self)
{
  MlPoint end = ml_viewport_to_view (self, self->content.x1, self->content.y1);
  return end.x > self->width_px - self->corner_width_px && end.y > self->height_px - self->corner_height_px;
}

static void
apply_fit (MlViewport *self)
{
  fit_into (self, self->height_px);
  if (self->corner_height_px > 0.0 && reaches_corner (self))
    fit_into (self, self->height_px - MAX (self->corner_height_px + ML_VIEWPORT_CORNER_GAP_PX - margin_of (self->height_px), 0.0));
}

static void
settle (MlViewport *self)
{
  if (self->fitted)
    apply_fit (self);
  else
    limit (self);
}

void
ml_viewport_init (MlViewport *self)
{
  *self = (MlViewport){ .width_px = 1.0, .height_px = 1.0, .zoom = ML_VIEWPORT_FIT_ZOOM, .fitted = TRUE };
  apply_fit (self);
}

void
ml_viewport_set_size (MlViewport *self, double width_px, double height_px)
{
  self->width_px = MAX (width_px, 1.0);
  self->height_px = MAX (height_px, 1.0);
  settle (self);
}

void
ml_viewport_set_corner (MlViewport *self, double width_px, double height_px)
{
  self->corner_width_px = width_px;
  self->corner_height_px = height_px;
  settle (self);
}

void
ml_viewport_set_content (MlViewport *self, MlBox content)
{
  self->content = content;
  settle (self);
}

void
ml_viewport_fit (MlViewport *self)
{
  self->fitted = TRUE;
  self->held = FALSE;
  apply_fit (self);
}

void
ml_viewport_hold (MlViewport *self)
{
  self->held = self->held || self->fitted;
  self->fitted = FALSE;
}

void
ml_viewport_release (MlViewport *self)
{
  if (self->held)
    ml_viewport_fit (self);
}

void
ml_viewport_zoom_at (MlViewport *self, double factor, double x_px, double y_px)
{
  MlPoint under = ml_viewport_to_sheet (self, x_px, y_px);
  self->fitted = self->held = FALSE;
  self->zoom = limit_zoom (self, self->zoom * factor);
  self->origin.x = under.x - x_px / self->zoom;
  self->origin.y = under.y - y_px / self->zoom;
  limit (self);
}

void
ml_viewport_stretch (MlViewport *self, double factor, double x_px, double y_px)
{
  MlPoint under = ml_viewport_to_sheet (self, x_px, y_px);
  MlBox *content = &self->content;
  self->fitted = self->held = FALSE;
  *content = (MlBox){ factor * content->x0, factor * content->y0, factor * content->x1, factor * content->y1 };
  self->origin.x = factor * under.x - x_px / self->zoom;
  self->origin.y = factor * under.y - y_px / self->zoom;
  limit (self);
}

MlLook
ml_viewport_look (const MlViewport *self)
{
  return (MlLook){ self->zoom, ml_viewport_to_sheet (self, self->width_px / 2.0, self->height_px / 2.0), self->fitted || self->held };
}

void
ml_viewport_look_at (MlViewport *self, const MlLook *look)
{
  if (look->fitted)
    {
      ml_viewport_fit (self);
      return;
    }
  self->fitted = self->held = FALSE;
  self->zoom = limit_zoom (self, look->zoom);
  self->origin.x = look->middle.x - self->width_px / 2.0 / self->zoom;
  self->origin.y = look->middle.y - self->height_px / 2.0 / self->zoom;
  limit (self);
}

void
ml_viewport_pan_by (MlViewport *self, double dx_px, double dy_px)
{
  self->fitted = self->held = FALSE;
  self->origin.x += dx_px / self->zoom;
  self->origin.y += dy_px / self->zoom;
  limit (self);
}

/* How far the view must go along one axis, in px. */
static double
needed (double low_px, double high_px, double view_px)
{
  double margin = MIN (ML_VIEWPORT_MARGIN_PX, view_px / 4.0);
  if (high_px - low_px > view_px - 2.0 * margin)
    return (low_px + high_px - view_px) / 2.0;
  if (low_px < margin)
    return low_px - margin;
  return high_px > view_px - margin ? high_px - view_px + margin : 0.0;
}

gboolean
ml_viewport_shows (const MlViewport *self, MlBox box)
{
  MlPoint low = ml_viewport_to_view (self, box.x0, box.y0), high = ml_viewport_to_view (self, box.x1, box.y1);
  return low.x >= 0.0 && low.y >= 0.0 && high.x <= self->width_px && high.y <= self->height_px;
}

gboolean
ml_viewport_has_room (const MlViewport *self, MlBox box)
{
  return width (box) * self->zoom <= self->width_px && height (box) * self->zoom <= self->height_px;
}

gboolean
ml_viewport_reveal (MlViewport *self, MlBox box)
{
  MlPoint low = ml_viewport_to_view (self, box.x0, box.y0), high = ml_viewport_to_view (self, box.x1, box.y1);
  double dx_px = needed (low.x, high.x, self->width_px), dy_px = needed (low.y, high.y, self->height_px);
  if (self->fitted || (dx_px == 0.0 && dy_px == 0.0))
    return FALSE; /* fitted: everything is in view already */
  gboolean held = self->held;
  ml_viewport_pan_by (self, dx_px, dy_px);
  self->held = held; /* it was no hand that moved it */
  return TRUE;
}

MlPoint
ml_viewport_to_sheet (const MlViewport *self, double x_px, double y_px)
{
  return (MlPoint){ self->origin.x + x_px / self->zoom, self->origin.y + y_px / self->zoom };
}

MlPoint
ml_viewport_to_view (const MlViewport *self, double x, double y)
{
  return (MlPoint){ (x - self->origin.x) * self->zoom, (y - self->origin.y) * self->zoom };
}
