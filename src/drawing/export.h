/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The annotated picture as a file. Byte-identical on repeat. */
#pragma once

#include <glib.h>

#include "drawing/paint.h"

G_BEGIN_DECLS

typedef struct
{
  double dpi;             /* PNG; 0: 150 */
  MlPaper paper;
  gboolean title_block;   /* job, unit, condition, verdict sentence, cautions, legend */
} MlExportOptions;

/** ml_export_picture: PNG, SVG or PDF by the ending of path. Errors: G_FILE_ERROR, G_IO_ERROR; nothing is left half written. */
gboolean ml_export_picture (const char *path, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, GError **error);

G_END_DECLS
