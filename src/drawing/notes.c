/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/notes.h"

#include <math.h>

#include "drawing/paint-private.h"

#define CELL 4.0        /* g: side of a bucket */
#define CLEARANCE 0.18  /* g: air around a note */
#define NEAR 1.3        /* g: from here on a line leads to the note */
#define STEP 0.5
#define CROSSED 1.2     /* g: how much farther a note stands rather than have its line cross a wire or some letters */

/* Everything that a note must keep off, in buckets: a position is tried in a few comparisons whatever the size of the drawing. */
struct _MlField
{
  const MlScene *scene;
  GArray *boxes;       /* MlBox */
  GPtrArray *buckets;  /* GArray of guint, columns x rows, or NULL */
  MlBox area;
  int columns, rows;
};

static int
column_of (const MlField *field, double x)
{
  return CLAMP ((int) floor ((x - field->area.x0) / CELL), 0, field->columns - 1);
}

static int
row_of (const MlField *field, double y)
{
  return CLAMP ((int) floor ((y - field->area.y0) / CELL), 0, field->rows - 1);
}

void
ml_field_add (MlField *field, MlBox box)
{
  const guint index = field->boxes->len;

  g_array_append_val (field->boxes, box);
  for (int r = row_of (field, box.y0); r <= row_of (field, box.y1); r++)
    for (int c = column_of (field, box.x0); c <= column_of (field, box.x1); c++)
      {
        GArray **bucket = (GArray **) &g_ptr_array_index (field->buckets, r * field->columns + c);

        if (*bucket == NULL)
          *bucket = g_array_new (FALSE, FALSE, sizeof (guint));
        g_array_append_val (*bucket, index);
      }
}

static gboolean
field_is_free (const MlField *field, const MlBox *box)
{
  for (int r = row_of (field, box->y0); r <= row_of (field, box->y1); r++)
    for (int c = column_of (field, box->x0); c <= column_of (field, box->x1); c++)
      {
        const GArray *bucket = g_ptr_array_index (field->buckets, r * field->columns + c);

        for (guint i = 0; bucket != NULL && i < bucket->len; i++)
          if (ml_box_meets (&g_array_index (field->boxes, MlBox, g_array_index (bucket, guint, i)), box))
            return FALSE;
      }
  return TRUE;
}

static void
bucket_free (gpointer data)
{
  if (data != NULL)
    g_array_unref (data);
}

static void
add_leads (MlField *field, const MlScene *scene)
{
  for (guint i = 0; i < scene->n_pins; i++)
    {
      const MlScenePin *pin = &scene->pins[i];

      ml_field_add (field, ml_box_grown (ml_box_of_points (pin->at, ml_paint_inner_end (scene, pin)), ML_SYMBOL_WIDTH / 2));
    }
}

/* The exact ink of an artwork where the geometry knows it, else the body. */
static void
add_symbol (MlField *field, const MlSceneSymbol *symbol)
{
  const MlSymbolGeometry *geometry = symbol->shape == ML_SHAPE_SYMBOL ? ml_symbol_geometry (symbol->name) : NULL;

  ml_field_add (field, symbol->shape == ML_SHAPE_BOX ? ml_box_union (symbol->box, symbol->body) : symbol->body);
  for (guint i = 0; geometry != NULL && i < geometry->n_inks; i++)
    ml_field_add (field, ml_place_box (&symbol->place, geometry->inks[i]));
}

MlField *
ml_field_new (const MlScene *scene)
{
  MlField *field = g_new0 (MlField, 1);

  field->scene = scene;
  field->area = ml_box_grown (scene->extent, 30);
  field->columns = MAX (1, (int) ceil ((field->area.x1 - field->area.x0) / CELL));
  field->rows = MAX (1, (int) ceil ((field->area.y1 - field->area.y0) / CELL));
  field->boxes = g_array_new (FALSE, FALSE, sizeof (MlBox));
  field->buckets = g_ptr_array_new_full ((guint) (field->columns * field->rows), bucket_free);
  g_ptr_array_set_size (field->buckets, field->columns * field->rows);
  for (guint i = 0; i < scene->n_wires; i++)
    ml_field_add (field, ml_box_grown (ml_box_of_points (scene->wires[i].a, scene->wires[i].b), ML_WIRE_WIDTH / 2));
  for (guint i = 0; i < scene->n_links; i++)
    ml_field_add (field, ml_box_grown (ml_box_of_points (scene->links[i].a, scene->links[i].b), ML_WIRE_WIDTH / 2));
  for (guint i = 0; i < scene->n_dots; i++)
    ml_field_add (field, (MlBox) { scene->dots[i].at.x - ML_DOT_RADIUS, scene->dots[i].at.y - ML_DOT_RADIUS,
                                scene->dots[i].at.x + ML_DOT_RADIUS, scene->dots[i].at.y + ML_DOT_RADIUS });
  for (guint i = 0; i < scene->n_symbols; i++)
    add_symbol (field, &scene->symbols[i]);
  add_leads (field, scene);
  for (guint i = 0; i < scene->n_flags; i++)
    ml_field_add (field, scene->flags[i].box);
  for (guint i = 0; i < scene->n_labels; i++)
    ml_field_add (field, scene->labels[i].box);
  return field;
}

void
ml_field_free (MlField *field)
{
  g_array_unref (field->boxes);
  g_ptr_array_unref (field->buckets);
  g_free (field);
}

/* The point of a box nearest to another point. */
static MlPoint
nearest (const MlBox *box, double x, double y)
{
  return (MlPoint) { CLAMP (x, box->x0, box->x1), CLAMP (y, box->y0, box->y1) };
}

guint
ml_field_line (const MlField *field, MlPoint a, MlPoint b)
{
  const double length = hypot (b.x - a.x, b.y - a.y);
  guint hits = 0;

  for (double s = 0.4; s < length - 0.4; s += 0.4)
    {
      const double x = a.x + (b.x - a.x) * s / length, y = a.y + (b.y - a.y) * s / length;
      const MlBox spot = { x - 0.05, y - 0.05, x + 0.05, y + 0.05 };

      hits += !field_is_free (field, &spot);
    }
  return hits;
}

typedef struct { double cost; MlBox box; const MlBox *keep; } Best;

static void
try_position (const MlField *field, const MlNote *note, const MlBox *keep, double gap, double x, double y, double cost, Best *best)
{
  const MlBox box = { x, y, x + note->width, y + note->height }, air = ml_box_grown (box, CLEARANCE);

  if (cost >= best->cost || !field_is_free (field, &air))
    return;
  if (gap > NEAR)
    {
      MlPoint from = nearest (&box, (keep->x0 + keep->x1) / 2, (keep->y0 + keep->y1) / 2);

      cost += CROSSED * ml_field_line (field, from, nearest (keep, from.x, from.y));
    }
  if (cost < best->cost)
    *best = (Best) { cost, box, keep };
}

/* All places whose edge is `gap` away from the thing, slid along its sides; the middle and the aligned ones cost least. */
static void
try_ring (const MlField *field, const MlNote *note, const MlBox *keep, double gap, double cost, Best *best)
{
  const double w = note->width, h = note->height;
  const double side = note->beside ? 0 : 0.15, upright = note->beside ? 0.2 : 0;
  const double my = (keep->y0 + keep->y1 - h) / 2, mx = (keep->x0 + keep->x1 - w) / 2;
  const double reach_y = (keep->y1 - keep->y0 + h) / 2 + gap, reach_x = (keep->x1 - keep->x0 + w) / 2 + gap;

  for (double slide = 0; slide <= reach_y; slide += STEP)
    for (int sign = -1; sign <= (slide > 0 ? 1 : -1); sign += 2)
      {
        try_position (field, note, keep, gap, keep->x1 + gap, my + sign * slide, cost + side + 0.12 * slide, best);
        try_position (field, note, keep, gap, keep->x0 - gap - w, my + sign * slide, cost + side + 0.1 + 0.12 * slide, best);
      }
  for (double slide = 0; slide <= reach_x; slide += STEP)
    for (int sign = 1; sign >= (slide > 0 ? -1 : 1); sign -= 2)
      {
        try_position (field, note, keep, gap, mx + sign * slide, keep->y0 - gap - h, cost + upright + 0.12 * slide, best);
        try_position (field, note, keep, gap, mx + sign * slide, keep->y1 + gap, cost + upright + 0.05 + 0.12 * slide, best);
      }
}

/* What is placed later keeps off the line as well. */
static void
keep_line_free (MlField *field, MlPoint a, MlPoint b)
{
  const double length = hypot (b.x - a.x, b.y - a.y);

  for (double s = 0.2; s < length - 0.2; s += 0.2)
    {
      const double x = a.x + (b.x - a.x) * s / length, y = a.y + (b.y - a.y) * s / length;

      ml_field_add (field, (MlBox) { x - 0.1, y - 0.1, x + 0.1, y + 0.1 });
    }
}

static void
settle (MlField *field, MlNote *note, const Best *best)
{
  const MlPoint middle = { (best->keep->x0 + best->keep->x1) / 2, (best->keep->y0 + best->keep->y1) / 2 };

  note->placed = TRUE;
  note->box = best->box;
  note->from = nearest (&best->box, middle.x, middle.y);
  note->to = nearest (best->keep, note->from.x, note->from.y);
  note->leader = hypot (note->to.x - note->from.x, note->to.y - note->from.y) > NEAR;
  ml_field_add (field, best->box);
  if (note->leader)
    keep_line_free (field, note->from, note->to);
}

static void
place_below (MlField *field, MlNote *note)
{
  Best best = { .keep = &note->keeps[0] };
  MlBox air;

  best.box = (MlBox) { note->keeps[0].x0, field->scene->extent.y1 + 1, note->keeps[0].x0 + note->width, field->scene->extent.y1 + 1 + note->height };
  for (guint i = 0; i < 200; i++)
    {
      air = ml_box_grown (best.box, CLEARANCE);
      if (field_is_free (field, &air))
        break;
      best.box.y0 += STEP;
      best.box.y1 += STEP;
    }
  settle (field, note, &best);
}

static void
place (MlField *field, MlNote *note)
{
  Best best = { .cost = INFINITY };

  for (double gap = 0.25; gap <= note->reach && gap < best.cost + 0.5; gap += gap < 1.5 ? 0.25 : 0.75)
    for (guint k = 0; k < note->n_keeps; k++)
      try_ring (field, note, &note->keeps[k], gap, gap + (gap > NEAR ? 1.5 : 0) + 0.15 * k, &best);
  if (best.keep != NULL)
    settle (field, note, &best);
  else if (note->must && note->n_keeps > 0)
    place_below (field, note);
}

void
ml_notes_place (MlField *field, MlNote *notes, guint n_notes)
{
  for (guint i = 0; i < n_notes; i++)
    place (field, &notes[i]);
}
