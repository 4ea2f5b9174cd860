/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where on the sheet the window looks: an origin and a zoom, kept within limits, apart from any widget.
 * Sheet lengths in g, x right, y down; view lengths in logical pixels from the widget's corner. */
#pragma once

#include <glib.h>

#include "drawing/scene.h"

G_BEGIN_DECLS

typedef struct
{
  double width_px, height_px; /* of the view */
  double corner_width_px, corner_height_px; /* something lies over the view's lower right corner */
  MlBox content;              /* what there is to see, in g */
  double zoom;                /* px per g */
  MlPoint origin;             /* the sheet's point in the view's upper left corner */
  gboolean fitted;            /* follows content and size until moved by hand */
  gboolean held;              /* it would be fitted, but for the time being nothing may move */
} MlViewport;

/* What is looked at, whatever the size of the view. */
typedef struct { double zoom; MlPoint middle; gboolean fitted; } MlLook;

#define ML_VIEWPORT_MIN_ZOOM 1.5 /* or with which all is in view */
#define ML_VIEWPORT_MAX_ZOOM 64.0
#define ML_VIEWPORT_FIT_ZOOM 18.0 /* a small drawing is not blown up beyond this */
#define ML_VIEWPORT_MARGIN_PX 24.0
#define ML_VIEWPORT_LEAST_MARGINS 20.0 /* of a small view a margin takes no more than one part in so many */
#define ML_VIEWPORT_CORNER_GAP_PX 6.0
#define ML_VIEWPORT_KEPT_PX 48.0 /* of the content always stays in view */

/** ml_viewport_init: an empty sheet, fitted. */
void ml_viewport_init (MlViewport *self);
void ml_viewport_set_size (MlViewport *self, double width_px, double height_px);
void ml_viewport_set_content (MlViewport *self, MlBox content);
/** ml_viewport_set_corner: what is fitted keeps off the lower right corner, so far from the view's edges. */
void ml_viewport_set_corner (MlViewport *self, double width_px, double height_px);
/** ml_viewport_fit: all of the content, as large as fits, in the middle; goes on so when size or content change. */
void ml_viewport_fit (MlViewport *self);
/** ml_viewport_hold: stays where it is from now on when size or content change. */
void ml_viewport_hold (MlViewport *self);
/** ml_viewport_release: fitted again if it was before it was held, and no hand has moved it since. */
void ml_viewport_release (MlViewport *self);
/** ml_viewport_zoom_at: the sheet's point under (x_px, y_px) stays there, as far as the limits allow. */
void ml_viewport_zoom_at (MlViewport *self, double factor, double x_px, double y_px);
/** ml_viewport_stretch: everything on the sheet lies factor times as far from its origin now; what was under (x_px, y_px) stays there. */
void ml_viewport_stretch (MlViewport *self, double factor, double x_px, double y_px);
MlLook ml_viewport_look (const MlViewport *self);
/** ml_viewport_look_at: as ml_viewport_look said, as far as the limits allow. */
void ml_viewport_look_at (MlViewport *self, const MlLook *look);
void ml_viewport_pan_by (MlViewport *self, double dx_px, double dy_px);
/** ml_viewport_shows: whether all of the box is in view. ml_viewport_has_room: whether it would be, if the view went there. */
gboolean ml_viewport_shows (const MlViewport *self, MlBox box);
gboolean ml_viewport_has_room (const MlViewport *self, MlBox box);
/** ml_viewport_reveal: moves as little as brings box into view; its middle when it does not fit. Returns whether it moved. */
gboolean ml_viewport_reveal (MlViewport *self, MlBox box);

MlPoint ml_viewport_to_sheet (const MlViewport *self, double x_px, double y_px);
MlPoint ml_viewport_to_view (const MlViewport *self, double x, double y);

G_END_DECLS
