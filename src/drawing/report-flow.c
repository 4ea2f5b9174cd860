/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/report-flow.h"

#include "drawing/legend.h"
#include "drawing/overlay-plan.h"
#include "drawing/paint-private.h"

#define BODY 1.1        /* g: 2.75 mm, about 8 points */
#define HEADING 1.5
#define BELOW_TEXT 0.3
#define FOOT 2.4        /* room for the page number */
#define CELL_AIR 0.35
#define COLUMN_AIR 0.6

static double
room (const MlReportFlow *flow)
{
  return flow->width - 2 * flow->margin;
}

static double
bottom (const MlReportFlow *flow)
{
  return flow->height - flow->margin - FOOT;
}

static gboolean
shows (const MlReportFlow *flow)
{
  return flow->cr != NULL && flow->page == flow->wanted;
}

void
ml_flow_begin (MlReportFlow *flow)
{
  flow->page = 0;
  flow->y = flow->margin;
}

void
ml_flow_need (MlReportFlow *flow, double height)
{
  if (flow->y + height <= bottom (flow) || flow->y <= flow->margin)
    return;
  flow->page++;
  flow->y = flow->margin;
}

void
ml_flow_gap (MlReportFlow *flow, double height)
{
  if (flow->y > flow->margin)
    flow->y += height;
}

static MlTextStyle
text_style (const MlReportFlow *flow, double height, gboolean bold, gboolean faint, double width)
{
  const MlPalette *palette = ml_palette (flow->style.paper);

  return (MlTextStyle) { .font = flow->style.font, .height = height, .bold = bold, .width = width, .colour = faint ? palette->faint : palette->ink };
}

static MlTextStyle
style_of (const MlReportFlow *flow, const MlFlowText *look)
{
  return text_style (flow, look->height > 0 ? look->height : BODY, look->bold, look->faint, room (flow) - look->indent);
}

/* What a text takes of the page; 0: there is none. */
static double
text_height (const MlReportFlow *flow, const char *text, const MlFlowText *look)
{
  const MlTextStyle style = style_of (flow, look);
  double width, height;

  if (text == NULL || *text == '\0')
    return 0;
  ml_text_size (text, &style, &width, &height);
  return height + BELOW_TEXT;
}

void
ml_flow_text (MlReportFlow *flow, const char *text, const MlFlowText *look)
{
  const MlTextStyle style = style_of (flow, look);
  const double height = text_height (flow, text, look);

  if (height <= 0)
    return;
  ml_flow_need (flow, height - BELOW_TEXT);
  if (shows (flow))
    ml_text_draw (flow->cr, text, flow->margin + look->indent, flow->y, &style);
  flow->y += height;
}

static void
rule (MlReportFlow *flow, double y, gboolean strong)
{
  const MlPalette *palette = ml_palette (flow->style.paper);

  if (!shows (flow))
    return;
  cairo_new_path (flow->cr);
  cairo_move_to (flow->cr, flow->margin, y);
  cairo_line_to (flow->cr, flow->width - flow->margin, y);
  cairo_set_line_width (flow->cr, strong ? 0.1 : 0.04);
  ml_paint_colour (flow->cr, strong ? &palette->ink : &palette->faint);
  cairo_stroke (flow->cr);
}

void
ml_flow_heading (MlReportFlow *flow, const char *text, double keep)
{
  const MlFlowText look = { .height = HEADING, .bold = TRUE };

  ml_flow_gap (flow, 1.2);
  ml_flow_need (flow, 2 * HEADING + keep);
  ml_flow_text (flow, text, &look);
  rule (flow, flow->y - 0.1, TRUE);
  flow->y += 0.4;
}

static double
column_width (const MlReportFlow *flow, const MlFlowColumn *column)
{
  return column->share * room (flow) - COLUMN_AIR;
}

static double
row_height (const MlReportFlow *flow, const MlFlowColumn *columns, guint n_columns, char *const *cells, gboolean heading)
{
  double most = 0;

  for (guint i = 0; i < n_columns; i++)
    {
      const MlTextStyle style = text_style (flow, BODY, !heading && columns[i].bold, heading, column_width (flow, &columns[i]));
      double width, height;

      ml_text_size (cells[i], &style, &width, &height);
      most = MAX (most, height);
    }
  return most + 2 * CELL_AIR;
}

static void
table_row (MlReportFlow *flow, const MlFlowColumn *columns, guint n_columns, char *const *cells, gboolean heading)
{
  const double height = row_height (flow, columns, n_columns, cells, heading);
  double x = flow->margin;

  for (guint i = 0; shows (flow) && i < n_columns; i++)
    {
      const MlTextStyle style = text_style (flow, BODY, !heading && columns[i].bold, heading, column_width (flow, &columns[i]));

      ml_text_draw (flow->cr, cells[i], x, flow->y + CELL_AIR, &style);
      x += columns[i].share * room (flow);
    }
  flow->y += height;
  rule (flow, flow->y, heading);
}

void
ml_flow_table (MlReportFlow *flow, const char *about, const MlFlowColumn *columns, guint n_columns, char *const *cells, guint n_rows)
{
  char *headings[ML_FLOW_MAX_COLUMNS];
  double top;

  for (guint i = 0; i < n_columns; i++)
    headings[i] = (char *) columns[i].heading;
  top = row_height (flow, columns, n_columns, headings, TRUE);
  for (guint r = 0; r < n_rows; r++)
    {
      char *const *row = cells + (gsize) r * n_columns;
      const double height = row_height (flow, columns, n_columns, row, FALSE);
      const guint page = flow->page;

      ml_flow_need (flow, height + (r == 0 ? top : 0));
      if (flow->page != page)
        ml_flow_text (flow, about, &(MlFlowText) { .bold = TRUE, .faint = TRUE });
      if (r == 0 || flow->page != page)
        table_row (flow, columns, n_columns, headings, TRUE);
      table_row (flow, columns, n_columns, row, FALSE);
    }
  flow->y += 0.6;
}

void
ml_flow_drawing (MlReportFlow *flow, const char *title, const char *note, const MlScene *scene, const MlOverlay *overlay, double most)
{
  static const MlFlowText above = { .height = 1.2, .bold = TRUE }, faint = { .faint = TRUE };
  const MlPaintStyle style = ml_paint_style_take (flow->style, scene, overlay);
  g_autoptr (MlPlan) plan = ml_plan_new (scene, overlay, &style);
  const MlBox extent = ml_paint_extent (scene, overlay, &style);
  const double wide = extent.x1 - extent.x0, high = extent.y1 - extent.y0;
  const double scale = MIN (1, MIN (room (flow) / wide, most / high));
  const double legend = ml_legend_paint (NULL, plan->legend, 0, 0, room (flow), &style);

  ml_flow_need (flow, text_height (flow, title, &above) + text_height (flow, note, &faint) + high * scale + legend + 0.4); /* all of it on one page */
  ml_flow_text (flow, title, &above);
  ml_flow_text (flow, note, &faint);
  if (shows (flow))
    {
      cairo_save (flow->cr);
      cairo_translate (flow->cr, flow->margin + (room (flow) - wide * scale) / 2, flow->y);
      cairo_scale (flow->cr, scale, scale);
      cairo_translate (flow->cr, -extent.x0, -extent.y0);
      ml_paint_scene (flow->cr, scene, &style);
      ml_plan_paint (flow->cr, scene, overlay, plan, &style);
      cairo_restore (flow->cr);
      ml_legend_paint (flow->cr, plan->legend, flow->margin, flow->y + high * scale + 0.4, room (flow), &style);
    }
  flow->y += high * scale + legend + 0.8;
}

void
ml_flow_box (MlReportFlow *flow, const char *text)
{
  const MlTextStyle style = text_style (flow, BODY, FALSE, FALSE, room (flow) - 2.6);
  double width, height;

  ml_text_size (text, &style, &width, &height);
  ml_flow_need (flow, height + 1.4);
  if (shows (flow))
    {
      const MlPalette *palette = ml_palette (flow->style.paper);

      cairo_new_path (flow->cr);
      cairo_rectangle (flow->cr, flow->margin, flow->y, room (flow), height + 1);
      cairo_set_line_width (flow->cr, 0.12);
      ml_paint_colour (flow->cr, &palette->warn);
      cairo_stroke (flow->cr);
      cairo_rectangle (flow->cr, flow->margin, flow->y, 0.7, height + 1);
      cairo_fill (flow->cr);
      ml_text_draw (flow->cr, text, flow->margin + 1.5, flow->y + 0.5, &style);
    }
  flow->y += height + 1.6;
}
