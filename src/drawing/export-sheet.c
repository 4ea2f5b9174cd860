/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/export-sheet.h"

#include "drawing/paint-private.h"
#include "drawing/title-block.h"

#define MARGIN 2.0
#define PAGE_MARGIN 4.0       /* 10 mm: what printers leave */
#define GAP 1.2               /* between drawing and title block */
#define SMALLEST_WIDTH 44.0   /* so that the title block has room for its sentences */
#define LARGEST_BLOCK 0.45    /* share of a page's height that the title block may take before it is made smaller */
#define BLOCK_STEP 0.9
#define SMALLEST_BLOCK 0.5
#define LARGEST_SCALE 2.0     /* of a small board on a page: it is read at arm's length from the bench, and white paper helps nobody */

static MlExportSheet
begin (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  MlExportSheet sheet = { .scene = scene, .overlay = overlay, .style = { .paper = options->paper, .font = options->font, .scale = 1 },
                          .scale = 1, .block_scale = 1 };

  sheet.style = ml_paint_style_take (sheet.style, scene, overlay);
  sheet.style.legend = !options->title_block; /* the block has it at its own size */
  if (overlay != NULL)
    sheet.plan = ml_plan_new (scene, overlay, &sheet.style);
  sheet.drawing = ml_paint_extent (scene, overlay, &sheet.style);
  return sheet;
}

static double
block_height (const MlExportSheet *sheet, double width)
{
  return ml_title_block_paint (NULL, sheet->scene, sheet->overlay, sheet->plan != NULL ? sheet->plan->legend : 0, (MlPoint) { 0, 0 },
                               width / sheet->block_scale, &sheet->style);
}

static void
fit_block (MlExportSheet *sheet)
{
  const double width = sheet->width - 2 * sheet->margin, most = LARGEST_BLOCK * (sheet->height - 2 * sheet->margin);

  for (sheet->block = block_height (sheet, width); sheet->block * sheet->block_scale > most && sheet->block_scale > SMALLEST_BLOCK;)
    {
      sheet->block_scale *= BLOCK_STEP;
      sheet->block = block_height (sheet, width);
    }
}

/* Height that is left for the drawing. */
static double
room (const MlExportSheet *sheet)
{
  return sheet->height - 2 * sheet->margin - (sheet->block > 0 ? sheet->block * sheet->block_scale + GAP : 0);
}

MlExportSheet
ml_export_sheet_on (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, double width, double height, double margin)
{
  MlExportSheet sheet = begin (scene, overlay, options);

  sheet.width = width;
  sheet.height = height;
  sheet.margin = margin;
  if (options->title_block)
    fit_block (&sheet);
  sheet.scale = MIN (LARGEST_SCALE, (width - 2 * margin) / MAX (sheet.drawing.x1 - sheet.drawing.x0, 1));
  sheet.scale = MIN (sheet.scale, MAX (room (&sheet), 1) / MAX (sheet.drawing.y1 - sheet.drawing.y0, 1));
  return sheet;
}

static MlExportSheet
sheet_of_its_own (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  MlExportSheet sheet = begin (scene, overlay, options);

  sheet.margin = MARGIN;
  sheet.width = MAX (sheet.drawing.x1 - sheet.drawing.x0 + 2 * MARGIN, options->title_block ? SMALLEST_WIDTH : 0);
  if (options->title_block)
    sheet.block = block_height (&sheet, sheet.width - 2 * MARGIN);
  sheet.height = sheet.drawing.y1 - sheet.drawing.y0 + 2 * MARGIN + (sheet.block > 0 ? sheet.block + GAP : 0);
  return sheet;
}

static MlExportSheet
sheet_on_page (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, gboolean landscape)
{
  double width_mm, height_mm;

  ml_page_size_mm (options->page, landscape, &width_mm, &height_mm);
  return ml_export_sheet_on (scene, overlay, options, width_mm / ML_MM_PER_G, height_mm / ML_MM_PER_G, PAGE_MARGIN);
}

MlExportSheet
ml_export_sheet (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  MlExportSheet landscape, portrait;

  if (options->page == ML_PAGE_FIT)
    return sheet_of_its_own (scene, overlay, options);
  if (options->turn != ML_PAGE_EITHER)
    return sheet_on_page (scene, overlay, options, options->turn == ML_PAGE_LANDSCAPE);
  landscape = sheet_on_page (scene, overlay, options, TRUE);
  portrait = sheet_on_page (scene, overlay, options, FALSE);
  if (portrait.scale > landscape.scale)
    {
      ml_export_sheet_clear (&landscape);
      return portrait;
    }
  ml_export_sheet_clear (&portrait);
  return landscape;
}

static void
paint_scale (cairo_t *cr, const MlExportSheet *sheet)
{
  const MlTextStyle text = { .font = sheet->style.font, .height = 0.8, .colour = ml_palette (sheet->style.paper)->faint };
  g_autofree char *words = g_strdup_printf ("drawn at %.0f %%", 100 * sheet->scale);
  double width, height;

  if (sheet->scale > 0.995 && sheet->scale < 1.005)
    return;
  ml_text_size (words, &text, &width, &height);
  ml_text_draw (cr, words, sheet->width - sheet->margin - width, sheet->height - sheet->margin + 0.2, &text);
}

void
ml_export_sheet_paint (cairo_t *cr, const MlExportSheet *sheet, gboolean ground)
{
  const double drawn = (sheet->drawing.x1 - sheet->drawing.x0) * sheet->scale, high = (sheet->drawing.y1 - sheet->drawing.y0) * sheet->scale;

  if (ground)
    {
      ml_paint_colour (cr, &ml_palette (sheet->style.paper)->paper);
      cairo_paint (cr);
    }
  cairo_save (cr);
  cairo_translate (cr, (sheet->width - drawn) / 2, sheet->margin + MAX (0, (room (sheet) - high) / 2));
  cairo_scale (cr, sheet->scale, sheet->scale);
  cairo_translate (cr, -sheet->drawing.x0, -sheet->drawing.y0);
  ml_paint_scene (cr, sheet->scene, &sheet->style);
  if (sheet->overlay != NULL)
    ml_plan_paint (cr, sheet->scene, sheet->overlay, sheet->plan, &sheet->style);
  cairo_restore (cr);
  if (sheet->block <= 0)
    return;
  cairo_save (cr);
  cairo_translate (cr, sheet->margin, sheet->height - sheet->block * sheet->block_scale - sheet->margin);
  cairo_scale (cr, sheet->block_scale, sheet->block_scale);
  ml_title_block_paint (cr, sheet->scene, sheet->overlay, sheet->plan != NULL ? sheet->plan->legend : 0, (MlPoint) { 0, 0 },
                        (sheet->width - 2 * sheet->margin) / sheet->block_scale, &sheet->style);
  cairo_restore (cr);
  paint_scale (cr, sheet);
}

void
ml_export_sheet_clear (MlExportSheet *sheet)
{
  g_clear_pointer (&sheet->plan, ml_plan_free);
}
