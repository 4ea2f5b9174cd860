/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The annotated picture as a file. Byte-identical on repeat. */
#pragma once

#include <glib.h>

#include "drawing/page.h"
#include "drawing/paint.h"

G_BEGIN_DECLS

#define ML_EXPORT_DPI 150.0

typedef struct
{
  double dpi;             /* PNG; 0: ML_EXPORT_DPI */
  MlPaper paper;
  gboolean title_block;   /* job, unit, condition, date, verdict sentence, cautions, legend */
  MlPageSize page;        /* fit: full size on a sheet of its own size; else as large as it gets on the page, at most full size */
  MlPageTurn turn;
  const char *font;       /* NULL: "Sans" */
} MlExportOptions;

/**
 * ml_export_picture: PNG, SVG or PDF by the ending of path. Nothing is left half written.
 * Errors: G_IO_ERROR_NOT_SUPPORTED for another ending, G_IO_ERROR_INVALID_ARGUMENT when a PNG would have too many pixels, G_FILE_ERROR, G_IO_ERROR.
 */
gboolean ml_export_picture (const char *path, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, GError **error);
/** ml_export_check_name: whether the ending of path says a picture; errors as above. */
gboolean ml_export_check_name (const char *path, GError **error);
/** ml_export_bytes: the same as bytes; ending as ".png", ".svg", ".pdf". NULL on errors. */
GBytes *ml_export_bytes (const char *ending, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, GError **error);
/** ml_export_scale: by how much the drawing is made smaller to fit the page, or larger (at most 2) to fill it; 1: 2.5 mm to the module. */
double ml_export_scale (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options);
/**
 * ml_export_paint_on: the same sheet on a page of any size, for a printer; the context's unit is a millimetre, its origin the page's
 * printable corner. options->page and turn do not count.
 */
void ml_export_paint_on (cairo_t *cr, double width_mm, double height_mm, const MlScene *scene, const MlOverlay *overlay,
                         const MlExportOptions *options);

G_END_DECLS
