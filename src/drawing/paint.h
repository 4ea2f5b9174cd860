/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Painting a scene with its marks on any cairo_t: window, PNG, SVG, PDF and image tests call the same functions. Nothing changes state. */
#pragma once

#include <cairo.h>
#include <glib.h>

#include "drawing/scene.h"
#include "job/job.h"
#include "verdict/verdict.h"

G_BEGIN_DECLS

typedef enum { ML_PAPER_LIGHT, ML_PAPER_DARK, ML_PAPER_WHITE /* for printers, which have their own */ } MlPaper;

typedef struct { double r, g, b; } MlColour;
typedef struct
{
  MlColour paper, ink, faint, suspect, possible, cleared, selection, red_probe, black_probe, flow, warn;
  double casing; /* g: edge of paper round every stroke of a mark; 0 on paper itself */
} MlPalette;
const MlPalette *ml_palette (MlPaper paper);
/** ml_palette_over_photo: the same colours, each stroke cased in paper, so that it stands out on any ground. */
const MlPalette *ml_palette_over_photo (MlPaper paper);

/* What is laid over the scene. All pointers may be NULL; borrowed for the call. */
typedef struct
{
  const MlVerdict *verdict;        /* marks, and which reading is next */
  const MlJob *job;                /* readings of `unit`, `pass`, `condition` stand at their pins and parts */
  int unit, condition;             /* -1: none */
  guint pass;
  int other_unit;                  /* compare with: its values and the difference; -1 */
  const MlOperatingPoint *point;   /* expected values and flow */
  gboolean show_flow, show_expected;
  int selected_part, selected_pin; /* -1 */
  int hover_part, hover_pin;
  const MlProbe *red, *black;      /* probe tips */
  const MlNextReading *next;       /* drawn as probe tips with the value to expect */
  gboolean supposing;              /* the point is of a board with a fault that is supposed: no reading is expected by the verdict */
  const char *ribbon;              /* "supposing Q2 open", over the drawing; NULL: said elsewhere, or nothing is supposed */
  const char *called;              /* what a board or job without a title is called on paper: its file's name; NULL: none */
  const gboolean *chosen;          /* board->n_parts: parts of the explanation chosen in the findings; NULL */
} MlOverlay;

typedef struct
{
  MlPaper paper;
  const char *font;      /* NULL: "Sans" */
  double scale;          /* device units per g */
  gboolean legend;
  double text_scale;     /* of what is written beside the parts; 0: 1 */
  const MlCondition *condition;  /* switches and contacts are drawn as they stand in it; NULL: at rest. Borrowed for the call, as is point */
  const MlOperatingPoint *point; /* says where coils have put their contacts; NULL: not known */
} MlPaintStyle;

/** ml_paint_style_take: the style with overlay's (may be NULL) condition and operating point. */
MlPaintStyle ml_paint_style_take (MlPaintStyle style, const MlScene *scene, const MlOverlay *overlay);
/** ml_paint_scene: the circuit alone, then ml_paint_overlay: marks. The context's unit is g with the scene's origin: the caller translates and scales. */
void ml_paint_scene (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style);
void ml_paint_overlay (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style);
/** ml_paint_extent: what scene and overlay need, in g. */
MlBox ml_paint_extent (const MlScene *scene, const MlOverlay *overlay, const MlPaintStyle *style);
/** ml_paint_part_icon: one kind's symbol alone, fitted into width x height device units (lists, drag image). */
void ml_paint_part_icon (cairo_t *cr, MlKind kind, double width, double height, MlPaper paper);
/** ml_paint_symbol_icon: the same of an artwork by name ("capacitor-polar"). */
void ml_paint_symbol_icon (cairo_t *cr, const char *name, double width, double height, MlPaper paper);

/** ml_scene_flow: current in each wire (A, positive from a to b) from the pin currents ([part][pin], into the part). New array of scene->n_wires. */
double *ml_scene_flow (const MlScene *scene, double *const *pin_a);

G_END_DECLS
