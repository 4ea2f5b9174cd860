/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/paint.h"

#include <string.h>

#include "drawing/paint-photo.h"
#include "drawing/paint-private.h"
#include "drawing/symbols.h"

/* What is drawn now: the scene and what lies within the clip, so that a small part of a large drawing costs little. */
typedef struct
{
  cairo_t *cr;
  const MlScene *scene;
  const MlPaintStyle *style;
  const MlPalette *palette;
  MlBox clip;
} Painter;

static MlBox
clip_box (cairo_t *cr)
{
  MlBox box;

  cairo_clip_extents (cr, &box.x0, &box.y0, &box.x1, &box.y1);
  return box;
}

static gboolean
in_sight (const Painter *self, MlBox box, double margin)
{
  box = ml_box_grown (box, margin);
  return ml_box_meets (&box, &self->clip);
}

static void
paint_wires (const Painter *self)
{
  for (guint i = 0; i < self->scene->n_wires; i++)
    {
      const MlSceneWire *wire = &self->scene->wires[i];

      if (!in_sight (self, ml_box_of_points (wire->a, wire->b), 0.2))
        continue;
      cairo_move_to (self->cr, wire->a.x, wire->a.y);
      cairo_line_to (self->cr, wire->b.x, wire->b.y);
    }
  cairo_set_line_width (self->cr, ML_WIRE_WIDTH);
  cairo_stroke (self->cr);
  for (guint i = 0; i < self->scene->n_dots; i++)
    {
      MlPoint at = self->scene->dots[i].at;

      cairo_new_sub_path (self->cr);
      cairo_arc (self->cr, at.x, at.y, ML_DOT_RADIUS, 0, 2 * G_PI);
    }
  cairo_fill (self->cr);
}

static void
paint_links (const Painter *self)
{
  static const double dashes[] = { 0.45, 0.4 };

  if (self->scene->n_links == 0)
    return;
  cairo_save (self->cr);
  cairo_set_line_width (self->cr, 0.1);
  cairo_set_line_cap (self->cr, CAIRO_LINE_CAP_BUTT);
  cairo_set_dash (self->cr, dashes, 2, 0);
  for (guint i = 0; i < self->scene->n_links; i++)
    {
      const MlSceneLink *link = &self->scene->links[i];
      MlPoint end = ml_paint_link_end (self->scene, link, self->style);

      cairo_move_to (self->cr, link->a.x, link->a.y);
      cairo_line_to (self->cr, end.x, end.y);
    }
  cairo_stroke (self->cr);
  cairo_restore (self->cr);
}

static void
paint_box (const Painter *self, const MlSceneSymbol *symbol)
{
  const MlBox *box = &symbol->box;

  cairo_rectangle (self->cr, box->x0, box->y0, box->x1 - box->x0, box->y1 - box->y0);
  for (guint i = 0; i < symbol->n_pins; i++)
    {
      const MlScenePin *pin = &self->scene->pins[symbol->first_pin + i];
      MlPoint inner = ml_paint_inner_end (self->scene, pin);

      cairo_move_to (self->cr, pin->at.x, pin->at.y);
      cairo_line_to (self->cr, inner.x, inner.y);
    }
  cairo_set_line_width (self->cr, ML_SYMBOL_WIDTH);
  cairo_stroke (self->cr);
}

/* The ring lies behind the pin and touches it. */
static void
paint_terminal (const Painter *self, const MlSceneSymbol *symbol)
{
  const double radius = strcmp (symbol->name, "testpoint") == 0 ? ML_TESTPOINT_RADIUS : ML_TERMINAL_RADIUS;

  for (guint i = 0; i < symbol->n_pins; i++)
    {
      const MlScenePin *pin = &self->scene->pins[symbol->first_pin + i];
      MlPoint step = ml_side_step (pin->side);

      cairo_new_sub_path (self->cr);
      cairo_arc (self->cr, pin->at.x - radius * step.x, pin->at.y - radius * step.y, radius - ML_SYMBOL_WIDTH / 2, 0, 2 * G_PI);
    }
  cairo_set_line_width (self->cr, ML_SYMBOL_WIDTH);
  cairo_stroke (self->cr);
}

static void
paint_symbol (const Painter *self, const MlSceneSymbol *symbol)
{
  if (symbol->shape == ML_SHAPE_BOX)
    paint_box (self, symbol);
  else if (symbol->shape == ML_SHAPE_TERMINAL)
    paint_terminal (self, symbol);
  else
    ml_symbol_draw (self->cr, ml_paint_artwork (self->scene, symbol, self->style), &symbol->place, &self->palette->ink, self->style->font);
}

static void
line (cairo_t *cr, double x0, double y0, double x1, double y1, double width)
{
  cairo_move_to (cr, x0, y0);
  cairo_line_to (cr, x1, y1);
  cairo_set_line_width (cr, width);
  cairo_stroke (cr);
}

/* Three bars, drawn along the flag's side; down where the layout has no other wish. */
static void
paint_reference (const Painter *self, const MlSceneFlag *flag)
{
  static const double half[] = { 0.9, 0.55, 0.22 };
  MlPoint step = ml_side_step (flag->side);

  line (self->cr, flag->at.x, flag->at.y, flag->at.x + 0.8 * step.x, flag->at.y + 0.8 * step.y, ML_WIRE_WIDTH);
  for (guint i = 0; i < G_N_ELEMENTS (half); i++)
    {
      double x = flag->at.x + (0.8 + 0.33 * i) * step.x, y = flag->at.y + (0.8 + 0.33 * i) * step.y;

      line (self->cr, x - half[i] * step.y, y - half[i] * step.x, x + half[i] * step.y, y + half[i] * step.x, ML_SYMBOL_WIDTH);
    }
}

/* A stem, a stroke across its end, and beyond it the net's name. */
static void
paint_named_flag (const Painter *self, const MlSceneFlag *flag, double stem, double half)
{
  const MlTextStyle style = { .font = self->style->font, .height = ML_TEXT_HEIGHT, .colour = self->palette->ink };
  MlPoint step = ml_side_step (flag->side), end = { flag->at.x + stem * step.x, flag->at.y + stem * step.y };
  const MlNet *net = flag->net < 0 ? NULL : &self->scene->board->nets[flag->net];
  g_autofree char *name = net == NULL ? NULL : ml_text_fitted (flag->short_name ? net->name : net->words, ML_TEXT_HEIGHT, ML_TEXT_WIDEST);
  MlBox room = flag->box;
  int align = 0;

  line (self->cr, flag->at.x, flag->at.y, end.x, end.y, ML_WIRE_WIDTH);
  line (self->cr, end.x - half * step.y, end.y - half * step.x, end.x + half * step.y, end.y + half * step.x, ML_BAR_WIDTH);
  if (name == NULL)
    return;
  switch (flag->side)
    {
    case ML_SIDE_RIGHT: room.x0 = end.x + 0.35; align = -1; break;
    case ML_SIDE_LEFT: room.x1 = end.x - 0.35; align = 1; break;
    case ML_SIDE_UP: room.y1 = end.y - 0.1; room.y0 = room.y1 - ML_TEXT_LINE; break;
    case ML_SIDE_DOWN: room.y0 = end.y + 0.15; room.y1 = room.y0 + ML_TEXT_LINE; break;
    }
  ml_text_draw_in (self->cr, name, &room, align, &style);
}

static void
paint_flag (const Painter *self, const MlSceneFlag *flag)
{
  if (flag->kind == ML_FLAG_REFERENCE)
    paint_reference (self, flag);
  else if (flag->kind == ML_FLAG_NET)
    paint_named_flag (self, flag, 0.6, 0.45);
  else
    paint_named_flag (self, flag, 0.8, 0.9);
}

/* From a text that stands far off to its part. */
static void
paint_lead (const Painter *self, const MlSceneLabel *label)
{
  const MlPoint end = label->lead[1];

  line (self->cr, label->lead[0].x, label->lead[0].y, end.x, end.y, ML_LEAD_WIDTH);
  cairo_arc (self->cr, end.x, end.y, ML_LEAD_DOT_RADIUS, 0, 2 * G_PI);
  cairo_fill (self->cr);
}

static void
paint_labels (const Painter *self)
{
  const MlTextStyle style = { .font = self->style->font, .height = ML_TEXT_HEIGHT, .colour = self->palette->ink };

  for (guint i = 0; i < self->scene->n_labels; i++)
    {
      const MlSceneLabel *label = &self->scene->labels[i];

      if (label->led)
        paint_lead (self, label);
      if (label->text != NULL && in_sight (self, label->box, 0.3))
        ml_text_draw_in (self->cr, label->text, &label->box, label->align, &style);
    }
}

void
ml_paint_label_on_patch (cairo_t *cr, const MlScene *scene, guint index, const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette (style->paper);
  const MlSceneLabel *label = &scene->labels[index];
  const MlTextStyle text = { .font = style->font, .height = ML_TEXT_HEIGHT, .colour = palette->ink };
  double width, height, x0 = label->box.x0;

  if (label->text == NULL)
    return;
  ml_text_size (label->text, &text, &width, &height);
  width = MIN (width, label->box.x1 - label->box.x0);
  if (label->align >= 0)
    x0 = label->align > 0 ? label->box.x1 - width : (label->box.x0 + label->box.x1 - width) / 2;
  ml_paint_colour (cr, &palette->paper);
  cairo_rectangle (cr, x0 - 0.1, label->box.y0 + 0.1, width + 0.2, label->box.y1 - label->box.y0 - 0.2);
  cairo_fill (cr);
  ml_text_draw_in (cr, label->text, &label->box, label->align, &text);
}

static void
begin (Painter *self, cairo_t *cr, const MlScene *scene, const MlPaintStyle *style)
{
  *self = (Painter) { cr, scene, style, ml_palette (style->paper), clip_box (cr) };
  cairo_save (cr);
  cairo_new_path (cr);
  ml_paint_colour (cr, &self->palette->ink);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_set_line_join (cr, CAIRO_LINE_JOIN_ROUND);
}

void
ml_paint_scene (cairo_t *cr, const MlScene *scene, const MlPaintStyle *style)
{
  Painter self;

  if (scene->picture != NULL)
    {
      ml_paint_photo (cr, scene, style);
      ml_paint_pads (cr, scene, style);
      return;
    }
  begin (&self, cr, scene, style);
  paint_links (&self);
  paint_wires (&self);
  for (guint i = 0; i < scene->n_symbols; i++)
    if (in_sight (&self, scene->symbols[i].body, 3)) /* leads reach beyond the body */
      paint_symbol (&self, &scene->symbols[i]);
  for (guint i = 0; i < scene->n_flags; i++)
    if (in_sight (&self, scene->flags[i].box, 1))
      paint_flag (&self, &scene->flags[i]);
  paint_labels (&self);
  cairo_restore (cr);
}

MlPoint
ml_paint_inner_end (const MlScene *scene, const MlScenePin *pin)
{
  const MlSceneSymbol *symbol = &scene->symbols[pin->symbol];
  const MlBox *body = symbol->shape == ML_SHAPE_BOX ? &symbol->box : &symbol->body;
  MlPoint end = pin->at;

  if (symbol->shape == ML_SHAPE_PADS) /* leads run below the part to its middle */
    return (MlPoint) { (body->x0 + body->x1) / 2, (body->y0 + body->y1) / 2 };
  switch (pin->side)
    {
    case ML_SIDE_RIGHT: end.x = MIN (end.x, body->x1); break;
    case ML_SIDE_LEFT: end.x = MAX (end.x, body->x0); break;
    case ML_SIDE_DOWN: end.y = MIN (end.y, body->y1); break;
    case ML_SIDE_UP: end.y = MAX (end.y, body->y0); break;
    }
  return end;
}

void
ml_paint_rounded (cairo_t *cr, const MlBox *box, double radius)
{
  const double r = MIN (radius, MIN (box->x1 - box->x0, box->y1 - box->y0) / 2);

  cairo_new_sub_path (cr);
  cairo_arc (cr, box->x1 - r, box->y0 + r, r, -G_PI / 2, 0);
  cairo_arc (cr, box->x1 - r, box->y1 - r, r, 0, G_PI / 2);
  cairo_arc (cr, box->x0 + r, box->y1 - r, r, G_PI / 2, G_PI);
  cairo_arc (cr, box->x0 + r, box->y0 + r, r, G_PI, 3 * G_PI / 2);
  cairo_close_path (cr);
}

/* Where a box stands for the kind, the box; its two pins tell it from a frame. */
static void
paint_box_icon (cairo_t *cr)
{
  cairo_rectangle (cr, -1.5, 0.75, 3, 2.5);
  cairo_move_to (cr, -3, 2);
  cairo_line_to (cr, -1.5, 2);
  cairo_move_to (cr, 1.5, 2);
  cairo_line_to (cr, 3, 2);
  cairo_set_line_width (cr, ML_SYMBOL_WIDTH);
  cairo_stroke (cr);
}

static void
paint_ring_icon (cairo_t *cr)
{
  cairo_arc (cr, 0, 1.2, 0.8, 0, 2 * G_PI);
  cairo_move_to (cr, 0, 2);
  cairo_line_to (cr, 0, 4);
  cairo_set_line_width (cr, ML_SYMBOL_WIDTH);
  cairo_stroke (cr);
}

/* kind ML_N_KINDS: any, the artwork says it. */
static void
paint_icon (cairo_t *cr, MlKind kind, const char *name, double width, double height, MlPaper paper)
{
  const MlColour *ink = &ml_palette (paper)->ink;
  const MlSymbolGeometry *geometry = ml_symbol_geometry (name);
  const MlPlace place = { 0 };
  const gboolean ring = kind == ML_KIND_TESTPOINT || kind == ML_KIND_CONNECTOR;
  MlBox box = ring ? (MlBox) { -0.9, 0.3, 0.9, 4 } : (MlBox) { -3, 0, 3, 4 };
  double scale;

  if (geometry != NULL && geometry->shape == ML_SHAPE_SYMBOL)
    {
      box = ml_symbol_ink (geometry);
      for (guint i = 0; i < geometry->n_pins; i++)
        box = ml_box_union (box, (MlBox) { geometry->pins[i].x, geometry->pins[i].y, geometry->pins[i].x, geometry->pins[i].y });
    }
  box = ml_box_grown (box, 0.15);
  scale = MIN (width / (box.x1 - box.x0), height / (box.y1 - box.y0));
  cairo_save (cr);
  cairo_translate (cr, width / 2, height / 2);
  cairo_scale (cr, scale, scale);
  cairo_translate (cr, -(box.x0 + box.x1) / 2, -(box.y0 + box.y1) / 2);
  ml_paint_colour (cr, ink);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_new_path (cr);
  if (geometry != NULL && geometry->shape == ML_SHAPE_SYMBOL)
    ml_symbol_draw (cr, kind == ML_KIND_COMPARATOR ? "comparator" : geometry->name, &place, ink, NULL);
  else if (ring)
    paint_ring_icon (cr);
  else
    paint_box_icon (cr);
  cairo_restore (cr);
}

void
ml_paint_part_icon (cairo_t *cr, MlKind kind, double width, double height, MlPaper paper)
{
  paint_icon (cr, kind, ml_symbol_name_of_kind (kind), width, height, paper);
}

void
ml_paint_symbol_icon (cairo_t *cr, const char *name, double width, double height, MlPaper paper)
{
  paint_icon (cr, ML_N_KINDS, name, width, height, paper);
}
