/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where drawing and title block stand on a sheet of paper. Lengths in g of 2.5 mm on that paper. */
#pragma once

#include "drawing/export.h"
#include "drawing/overlay-plan.h"

G_BEGIN_DECLS

typedef struct
{
  const MlScene *scene;     /* borrowed */
  const MlOverlay *overlay; /* borrowed; may be NULL */
  MlPaintStyle style;
  MlPlan *plan;             /* owned; NULL without an overlay */
  MlBox drawing;            /* scene and marks */
  double width, height;     /* of the sheet */
  double margin;
  double scale;             /* of the drawing; 1: full size */
  double block, block_scale; /* height of the title block as set, and by how much it is made smaller; block 0: none */
} MlExportSheet;

MlExportSheet ml_export_sheet (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options);
/** ml_export_sheet_on: on paper of that size; margin is what a printer already leaves. */
MlExportSheet ml_export_sheet_on (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, double width, double height,
                                  double margin);
/** ml_export_sheet_paint: the context's unit is g; fills the paper's ground too when ground. */
void ml_export_sheet_paint (cairo_t *cr, const MlExportSheet *sheet, gboolean ground);
void ml_export_sheet_clear (MlExportSheet *sheet);

G_END_DECLS
