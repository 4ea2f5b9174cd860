/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Paragraphs, tables and drawings flowing over pages. Everything is set on every run; only what falls on the wanted page is painted. */
#pragma once

#include "drawing/paint.h"

G_BEGIN_DECLS

#define ML_FLOW_MAX_COLUMNS 8

typedef struct
{
  cairo_t *cr;              /* NULL: only measured */
  MlPaintStyle style;
  double width, height;     /* of the paper, in g */
  double margin;
  guint wanted;             /* the page that is painted */
  /* running: */
  guint page;
  double y;
} MlReportFlow;

typedef struct { const char *heading; double share; gboolean bold; } MlFlowColumn; /* shares of the width sum to 1 */

void ml_flow_begin (MlReportFlow *flow);
/** ml_flow_need: goes to a new page when less than that height is left. */
void ml_flow_need (MlReportFlow *flow, double height);
void ml_flow_gap (MlReportFlow *flow, double height);
typedef struct { double height, indent; gboolean bold, faint; } MlFlowText;
void ml_flow_text (MlReportFlow *flow, const char *text, const MlFlowText *look);
/** ml_flow_heading: stays with at least `keep` g of what follows. */
void ml_flow_heading (MlReportFlow *flow, const char *text, double keep);
/** ml_flow_table: rows of n_columns strings each, one after another; what they are about and the headings are repeated on each further page. */
void ml_flow_table (MlReportFlow *flow, const char *about, const MlFlowColumn *columns, guint n_columns, char *const *cells, guint n_rows);
/** ml_flow_drawing: the circuit with its marks, as wide as the page and no higher than most g; with its legend, and its title and a note (may be NULL) above it. */
void ml_flow_drawing (MlReportFlow *flow, const char *title, const char *note, const MlScene *scene, const MlOverlay *overlay, double most);
/** ml_flow_box: a paragraph in a frame, for cautions. */
void ml_flow_box (MlReportFlow *flow, const char *text);

G_END_DECLS
