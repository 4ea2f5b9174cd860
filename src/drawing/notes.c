/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/notes.h"

#include <math.h>
#include <string.h>

#include "drawing/paint-private.h"

#define CELL 4.0        /* g: side of a bucket */
#define CLEARANCE 0.18  /* g: air around a note */
#define BESIDE 0.5      /* g: more of it between two notes on one line, which would be read as one */
#define NEAR 1.3        /* g: from here on a line leads to the note */
#define STEP 0.5
#define SEAM 0.2 /* g above and below where two lines of text meet */
#define CROWD 6.0       /* g: where no straight line gets out of that, one with a corner is tried */
#define CORNER 6.0      /* g: how much farther a note stands rather than have its line turn a corner */
#define CORNER_FAR 12.0  /* g: how far from the thing the corner may be */
#define DIRECTIONS 48
#define FAR_CORNERS 60  /* from so many of them the line may go on to a note farther off */
#define CORNERS 240      /* so many of them are tried */
#define FAR 24.0        /* g: how far it may go where all nearer lines would run through a text or a symbol */

#define DEAR 5.0        /* g: a note whose place costs more is tried before the others */
#define ROUNDS 3        /* so many of them at most */
#define MORE_ROUNDS 8   /* where a line runs through something after that: one after the other is brought forward, whether it helps or not */
#define DROPPED 3.0     /* g: what a note costs that need not be shown and finds no place */
#define BELOW 100.0     /* g: what a note costs that stands below everything */

/* By what a line crosses: how much farther a note stands rather than have its line there, in g; `span`: for each such length within it, at least once;
 * `end`: how much of the line is left out where the thing it leads to begins; `air`: passing so near counts as well, lest the line be taken for a wire. */
static const struct { double cost, span, end, air; } crossed[] = {
  [ML_FIELD_HULL] = { 0, 1, 0, 0 }, /* nothing lies there for a line */
  [ML_FIELD_WIRE] = { 1.2, 0.6, 0.6, 0.2 },
  [ML_FIELD_MARK] = { 1.2, 0.4, 0.4, 0 },
  [ML_FIELD_LINE] = { 1.2, 0.6, 0.4, 0.1 },
  [ML_FIELD_BODY] = { 50, INFINITY, ML_TERMINAL_RADIUS + 0.05, 0 },
  [ML_FIELD_TEXT] = { 50, INFINITY, 0.05, 0 },
};

typedef struct { MlBox box; MlFieldIs is; } Thing;

/* Everything that a note must keep off, in buckets: a position is tried in a few comparisons whatever the size of the drawing. */
struct _MlField
{
  const MlScene *scene;
  GArray *things;      /* Thing */
  GArray *met;         /* guint, by thing: the line it was last counted for */
  guint *line;         /* the number of that line */
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
ml_field_add (MlField *field, MlFieldIs is, MlBox box)
{
  const guint index = field->things->len, never = 0;
  const Thing thing = { box, is };

  g_array_append_val (field->things, thing);
  g_array_append_val (field->met, never);
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
          if (ml_box_meets (&g_array_index (field->things, Thing, g_array_index (bucket, guint, i)).box, box))
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

      ml_field_add (field, ML_FIELD_WIRE, ml_box_grown (ml_box_of_points (pin->at, ml_paint_inner_end (scene, pin)), ML_SYMBOL_WIDTH / 2));
    }
}

/* The exact ink of an artwork where the geometry knows it, else the body. A line may cross the empty corners of a slanted symbol's hull. */
static void
add_symbol (MlField *field, const MlSceneSymbol *symbol)
{
  const MlSymbolGeometry *geometry = symbol->shape == ML_SHAPE_SYMBOL ? ml_symbol_geometry (symbol->name) : NULL;

  ml_field_add (field, geometry != NULL && geometry->n_inks > 0 ? ML_FIELD_HULL : ML_FIELD_BODY,
                symbol->shape == ML_SHAPE_BOX ? ml_box_union (symbol->box, symbol->body) : symbol->body);
  for (guint i = 0; geometry != NULL && i < geometry->n_inks; i++)
    ml_field_add (field, ML_FIELD_BODY, ml_place_box (&symbol->place, geometry->inks[i]));
}

/* Name and value one below the other are one text: no line runs between them. */
static void
add_between_lines (MlField *field, const MlSceneLabel *name, const MlSceneLabel *value)
{
  const MlBox seam = { MAX (name->box.x0, value->box.x0), name->box.y1 - SEAM, MIN (name->box.x1, value->box.x1), name->box.y1 + SEAM };

  if (name->kind == ML_LABEL_NAME && value->kind == ML_LABEL_VALUE && name->part == value->part && value->box.y0 >= name->box.y1 - SEAM && seam.x0 < seam.x1)
    ml_field_add (field, ML_FIELD_TEXT, seam);
}

MlField *
ml_field_new (const MlScene *scene)
{
  MlField *field = g_new0 (MlField, 1);

  field->scene = scene;
  field->area = ml_box_grown (scene->extent, 30);
  field->columns = MAX (1, (int) ceil ((field->area.x1 - field->area.x0) / CELL));
  field->rows = MAX (1, (int) ceil ((field->area.y1 - field->area.y0) / CELL));
  field->things = g_array_new (FALSE, FALSE, sizeof (Thing));
  field->met = g_array_new (FALSE, FALSE, sizeof (guint));
  field->line = g_new0 (guint, 1);
  field->buckets = g_ptr_array_new_full ((guint) (field->columns * field->rows), bucket_free);
  g_ptr_array_set_size (field->buckets, field->columns * field->rows);
  for (guint i = 0; i < scene->n_wires; i++)
    ml_field_add (field, ML_FIELD_WIRE, ml_box_grown (ml_box_of_points (scene->wires[i].a, scene->wires[i].b), ML_WIRE_WIDTH / 2));
  for (guint i = 0; i < scene->n_links; i++)
    ml_field_add (field, ML_FIELD_WIRE, ml_box_grown (ml_box_of_points (scene->links[i].a, scene->links[i].b), ML_WIRE_WIDTH / 2));
  for (guint i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].led)
      ml_field_add (field, ML_FIELD_WIRE, ml_box_grown (ml_box_of_points (scene->labels[i].lead[0], scene->labels[i].lead[1]), ML_LEAD_WIDTH / 2));
  for (guint i = 0; i < scene->n_dots; i++)
    ml_field_add (field, ML_FIELD_WIRE, (MlBox) { scene->dots[i].at.x - ML_DOT_RADIUS, scene->dots[i].at.y - ML_DOT_RADIUS,
                                                  scene->dots[i].at.x + ML_DOT_RADIUS, scene->dots[i].at.y + ML_DOT_RADIUS });
  for (guint i = 0; i < scene->n_symbols; i++)
    add_symbol (field, &scene->symbols[i]);
  add_leads (field, scene);
  for (guint i = 0; i < scene->n_flags; i++)
    ml_field_add (field, ML_FIELD_TEXT, scene->flags[i].box);
  for (guint i = 0; i < scene->n_labels; i++)
    ml_field_add (field, ML_FIELD_TEXT, scene->labels[i].box);
  for (guint i = 0; i + 1 < scene->n_labels; i++)
    add_between_lines (field, &scene->labels[i], &scene->labels[i + 1]);
  return field;
}

void
ml_field_free (MlField *field)
{
  g_array_unref (field->things);
  g_array_unref (field->met);
  g_free (field->line);
  g_ptr_array_unref (field->buckets);
  g_free (field);
}

/* The point of a box nearest to another point. */
static MlPoint
nearest (const MlBox *box, double x, double y)
{
  return (MlPoint) { CLAMP (x, box->x0, box->x1), CLAMP (y, box->y0, box->y1) };
}

/* Length of the line from a to b within a box, `end` left out before b; negative when it passes by. Liang and Barsky 1984, from memory. */
static double
length_within (const MlBox *box, MlPoint a, MlPoint b, double end)
{
  const double length = hypot (b.x - a.x, b.y - a.y), from[] = { a.x, a.y }, by[] = { b.x - a.x, b.y - a.y };
  const double low[] = { box->x0, box->y0 }, high[] = { box->x1, box->y1 };
  double t0 = 0, t1 = 1 - end / MAX (length, 1e-9);

  for (guint k = 0; k < 2; k++)
    {
      const double enter = (low[k] - from[k]) / by[k], leave = (high[k] - from[k]) / by[k];

      if (fabs (by[k]) < 1e-9 && (from[k] <= low[k] || from[k] >= high[k]))
        return -1;
      if (fabs (by[k]) < 1e-9)
        continue;
      t0 = MAX (t0, MIN (enter, leave));
      t1 = MIN (t1, MAX (enter, leave));
    }
  return t1 > t0 ? (t1 - t0) * length : -1;
}

/* Whether a line comes near a bucket; the outermost ones hold what lies beyond them as well. */
static gboolean
passes_bucket (const MlField *field, int row, int column, MlPoint a, MlPoint b)
{
  const MlBox box = { column == 0 ? -INFINITY : field->area.x0 + column * CELL - 1, row == 0 ? -INFINITY : field->area.y0 + row * CELL - 1,
                      column == field->columns - 1 ? INFINITY : field->area.x0 + (column + 1) * CELL + 1,
                      row == field->rows - 1 ? INFINITY : field->area.y0 + (row + 1) * CELL + 1 };

  return length_within (&box, a, b, 0) >= 0;
}

/* The cost of a line; more than `most` is not told apart. */
static double
line_cost (const MlField *field, MlPoint a, MlPoint b, double most)
{
  const MlBox hull = ml_box_of_points (a, b);
  const guint line = ++*field->line;
  double cost = 0;

  for (int r = row_of (field, hull.y0); r <= row_of (field, hull.y1) && cost < most; r++)
    for (int c = column_of (field, hull.x0); c <= column_of (field, hull.x1) && cost < most; c++)
      {
        const GArray *bucket = g_ptr_array_index (field->buckets, r * field->columns + c);

        if (bucket == NULL || !passes_bucket (field, r, c, a, b))
          continue;
        for (guint i = 0; i < bucket->len; i++)
          {
            const guint index = g_array_index (bucket, guint, i);
            const Thing *thing = &g_array_index (field->things, Thing, index);
            MlBox box;
            double within;

            if (g_array_index (field->met, guint, index) == line)
              continue;
            g_array_index (field->met, guint, index) = line;
            box = ml_box_grown (thing->box, crossed[thing->is].air);
            within = length_within (&box, a, b, crossed[thing->is].end);
            if (within > 0)
              cost += crossed[thing->is].cost * MAX (1, within / crossed[thing->is].span);
          }
      }
  return cost;
}

double
ml_field_line (const MlField *field, MlPoint a, MlPoint b)
{
  return line_cost (field, a, b, INFINITY);
}

typedef struct
{
  double cost;
  gboolean found, bent;
  MlBox box, keep;  /* bent: keep is the corner of the line, which goes on to `to` */
  MlPoint to;
} Best;

/* Where the line from a note to its thing would run; FALSE when it stands so close that none is drawn. */
static gboolean
line_of (const MlBox *box, const MlBox *keep, MlPoint *ret_from, MlPoint *ret_to)
{
  *ret_from = nearest (box, (keep->x0 + keep->x1) / 2, (keep->y0 + keep->y1) / 2);
  *ret_to = nearest (keep, ret_from->x, ret_from->y);
  return hypot (ret_to->x - ret_from->x, ret_to->y - ret_from->y) > NEAR;
}

static void
try_position (const MlField *field, const MlNote *note, const MlBox *keep, double x, double y, double cost, Best *best)
{
  const MlBox box = { x, y, x + note->width, y + note->height }, air = ml_box_grown (box, CLEARANCE);
  MlPoint from, to;

  if (cost >= best->cost || !field_is_free (field, &air))
    return;
  if (line_of (&box, keep, &from, &to))
    cost += line_cost (field, from, to, best->cost - cost);
  if (cost < best->cost)
    *best = (Best) { cost, TRUE, FALSE, box, *keep, to };
}

/* All places whose edge is `gap` away from the thing, slid along its sides by steps; the middle and the aligned ones cost least. squarely: the note's
 * middle stays opposite that side. */
static void
try_ring (const MlField *field, const MlNote *note, const MlBox *keep, gboolean squarely, double gap, double step, double cost, Best *best)
{
  const double w = note->width, h = note->height;
  const double side = note->beside ? 0 : 0.15, upright = note->beside ? 0.2 : 0;
  const double my = (keep->y0 + keep->y1 - h) / 2, mx = (keep->x0 + keep->x1 - w) / 2;
  const double past_y = squarely ? 0 : h / 2 + gap, past_x = squarely ? 0 : w / 2 + gap;
  const double reach_y = (keep->y1 - keep->y0) / 2 + past_y, reach_x = (keep->x1 - keep->x0) / 2 + past_x;

  for (double slide = 0; slide <= reach_y; slide += step)
    for (int sign = -1; sign <= (slide > 0 ? 1 : -1); sign += 2)
      {
        try_position (field, note, keep, keep->x1 + gap, my + sign * slide, cost + side + 0.12 * slide, best);
        try_position (field, note, keep, keep->x0 - gap - w, my + sign * slide, cost + side + 0.1 + 0.12 * slide, best);
      }
  for (double slide = 0; slide <= reach_x; slide += step)
    for (int sign = 1; sign >= (slide > 0 ? -1 : 1); sign -= 2)
      {
        try_position (field, note, keep, mx + sign * slide, keep->y0 - gap - h, cost + upright + 0.12 * slide, best);
        try_position (field, note, keep, mx + sign * slide, keep->y1 + gap, cost + upright + 0.05 + 0.12 * slide, best);
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

      ml_field_add (field, ML_FIELD_LINE, (MlBox) { x - 0.1, y - 0.1, x + 0.1, y + 0.1 });
    }
}

static void
settle (MlField *field, MlNote *note, const Best *best)
{
  note->placed = TRUE;
  note->box = best->box;
  note->leader = line_of (&best->box, &best->keep, &note->from, &note->to) || best->bent;
  note->via = note->to;
  if (best->bent)
    note->to = best->to;
  ml_field_add (field, ML_FIELD_TEXT, best->box);
  ml_field_add (field, ML_FIELD_HULL, (MlBox) { best->box.x0 - BESIDE, best->box.y0, best->box.x1 + BESIDE, best->box.y1 });
  if (note->leader)
    {
      keep_line_free (field, note->from, note->via);
      keep_line_free (field, note->via, note->to);
    }
}

static void
place_below (MlField *field, MlNote *note)
{
  Best best = { .keep = note->keeps[0] };
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

typedef struct { double cost; MlPoint via, to; } Corner;

static int
cheaper_corner_cb (gconstpointer a, gconstpointer b)
{
  const Corner *p = a, *q = b;

  return (p->cost > q->cost) - (p->cost < q->cost);
}

/* Where a line from the thing may turn: in one of some directions, through no text and no symbol, cheapest first. */
static GArray *
corners_of (const MlField *field, const MlBox *keep, double cost)
{
  GArray *corners = g_array_new (FALSE, FALSE, sizeof (Corner));
  const MlPoint middle = { (keep->x0 + keep->x1) / 2, (keep->y0 + keep->y1) / 2 };
  const double far = keep->x1 - keep->x0 + keep->y1 - keep->y0 + CORNER_FAR;

  for (double out = 1.5; out <= CORNER_FAR; out += 0.75)
    for (guint k = 0; k < DIRECTIONS; k++)
      {
        const double angle = k * 2 * G_PI / DIRECTIONS;
        const MlPoint to = nearest (keep, middle.x + far * cos (angle), middle.y + far * sin (angle));
        Corner corner = { cost + CORNER + out, { to.x + out * cos (angle), to.y + out * sin (angle) }, to };

        corner.cost += ml_field_line (field, corner.via, to);
        if (corner.cost < crossed[ML_FIELD_TEXT].cost)
          g_array_append_val (corners, corner);
      }
  g_array_sort (corners, cheaper_corner_cb);
  return corners;
}

/* Where every straight line would run through something: out of the crowd first, and from there to a note. */
static void
try_corners (const MlField *field, const MlNote *note, const MlBox *keep, double cost, Best *best)
{
  g_autoptr (GArray) corners = corners_of (field, keep, cost);
  const double w = note->width, h = note->height;

  for (guint i = 0; i < MIN (corners->len, CORNERS); i++)
    {
      const Corner *corner = &g_array_index (corners, Corner, i);
      const MlBox spot = ml_box_of_points (corner->via, corner->via);
      const double before = best->cost;

      for (double gap = 0.25; gap < (i < FAR_CORNERS ? CORNER_FAR : NEAR); gap += gap < NEAR ? 0.75 : 2.5)
        for (double slide = -1; slide <= 1; slide++)
          {
            const double dearer = corner->cost + gap + 0.1 * fabs (slide);

            try_position (field, note, &spot, spot.x1 + gap, spot.y0 + (slide - 1) * h / 2, dearer, best);
            try_position (field, note, &spot, spot.x0 - gap - w, spot.y0 + (slide - 1) * h / 2, dearer, best);
            try_position (field, note, &spot, spot.x0 + (slide - 1) * w / 2, spot.y0 - gap - h, dearer, best);
            try_position (field, note, &spot, spot.x0 + (slide - 1) * w / 2, spot.y1 + gap, dearer, best);
          }
      if (best->cost >= before)
        continue;
      best->bent = TRUE;
      best->to = corner->to;
    }
}

static void
try_rings (const MlField *field, const MlNote *note, double from, double reach, double step, Best *best)
{
  for (double gap = from; gap <= reach && gap < best->cost + 0.5; gap += gap < 1.5 ? 0.25 : 1.5 * step)
    for (guint k = 0; k < note->n_keeps; k++)
      try_ring (field, note, &note->keeps[k], FALSE, gap, step, gap + (gap > NEAR ? 1.5 : 0) + 0.15 * k, best);
}

/* So near that no line is drawn, and on one side of its thing. */
static gboolean
place_squarely (MlField *field, MlNote *note, double *ret_cost)
{
  Best best = { .cost = INFINITY };

  for (double gap = 0.25; gap < NEAR; gap += 0.25)
    for (guint k = 0; k < note->n_keeps; k++)
      try_ring (field, note, &note->keeps[k], TRUE, gap, STEP / 2, gap, &best);
  if (!best.found)
    return FALSE;
  settle (field, note, &best);
  *ret_cost = best.cost;
  return TRUE;
}

static double
place (MlField *field, MlNote *note)
{
  const double through = crossed[ML_FIELD_TEXT].cost;
  Best best = { .cost = INFINITY };

  if (note->close && place_squarely (field, note, &best.cost))
    return best.cost;
  try_rings (field, note, 0.25, MIN (CROWD, note->reach), STEP, &best);
  for (guint k = 0; note->must && best.cost >= through && k < note->n_keeps; k++)
    try_corners (field, note, &note->keeps[k], 0.15 * k, &best);
  try_rings (field, note, CROWD, note->reach, STEP, &best);
  if (note->must && best.cost >= through)
    try_rings (field, note, note->reach, FAR, STEP, &best);
  note->placed = FALSE;
  if (best.found && (note->must || best.cost < through))
    settle (field, note, &best);
  else if (note->must && note->n_keeps > 0)
    place_below (field, note);
  return !note->placed ? DROPPED : best.found ? best.cost : BELOW;
}

/* Back to the first n things: those added since are the last ones of their buckets. */
static void
forget_after (MlField *field, guint n)
{
  for (guint i = n; i < field->things->len; i++)
    {
      const MlBox *box = &g_array_index (field->things, Thing, i).box;

      for (int r = row_of (field, box->y0); r <= row_of (field, box->y1); r++)
        for (int c = column_of (field, box->x0); c <= column_of (field, box->x1); c++)
          {
            GArray *bucket = g_ptr_array_index (field->buckets, r * field->columns + c);

            while (bucket->len > 0 && g_array_index (bucket, guint, bucket->len - 1) >= n)
              g_array_set_size (bucket, bucket->len - 1);
          }
    }
  g_array_set_size (field->things, n);
  g_array_set_size (field->met, n);
}

/* One after the other, until they cost more than `most`; what they cost together, and each. */
static double
place_in_order (MlField *field, MlNote *notes, const guint *order, guint n_notes, double most, double *costs)
{
  double sum = 0;

  for (guint i = 0; i < n_notes && sum < most; i++)
    {
      costs[order[i]] = place (field, &notes[order[i]]);
      sum += costs[order[i]];
    }
  return sum;
}

/* Before all others from `first` on. */
static void
bring_forward (guint *order, guint n, guint first, guint note)
{
  guint at;

  for (at = first; at + 1 < n && order[at] != note;)
    at++;
  memmove (order + first + 1, order + first, (at - first) * sizeof *order);
  order[first] = note;
}

/* Those that must stand close, then the others, each as they came. */
static void
first_order (const MlNote *notes, guint n, guint *order)
{
  guint at = 0;

  for (guint i = 0; i < n; i++)
    if (notes[i].close)
      order[at++] = i;
  for (guint i = 0; i < n; i++)
    if (!notes[i].close)
      order[at++] = i;
}

/* The note with the dearest place that was not brought forward yet; -1 when all stand well. */
static int
worst_of (const double *costs, const gboolean *tried, guint n)
{
  int worst = -1;

  for (guint i = 0; i < n; i++)
    if (!tried[i] && costs[i] > DEAR && (worst < 0 || costs[i] > costs[worst]))
      worst = (int) i;
  return worst;
}

/* Where those begin before which a note may be brought: not before those that must stand close, unless it is one of them. */
static guint
first_for (const MlNote *notes, const guint *order, guint n, guint note)
{
  guint first = 0;

  while (first + 1 < n && notes[order[first]].close && !notes[note].close)
    first++;
  return first;
}

static gboolean
runs_through (const double *costs, guint n)
{
  for (guint i = 0; i < n; i++)
    if (costs[i] >= crossed[ML_FIELD_TEXT].cost)
      return TRUE;
  return FALSE;
}

/* From an order in which some line runs through a text or a symbol to one in which none does, over worse ones. TRUE when `order` is now a better one, as
 * which the notes stand. */
static gboolean
shuffle_crowd (MlField *field, MlNote *notes, guint n_notes, guint *order, double *costs, double *sum)
{
  g_autofree guint *other = g_memdup2 (order, n_notes * sizeof *order);
  g_autofree double *other_costs = g_memdup2 (costs, n_notes * sizeof *costs);
  g_autofree gboolean *tried = g_new0 (gboolean, n_notes);
  const guint n_things = field->things->len;

  for (int worst, round = 0; round < MORE_ROUNDS && (worst = worst_of (other_costs, tried, n_notes)) >= 0; round++)
    {
      double other_sum;

      tried[worst] = TRUE;
      bring_forward (other, n_notes, 0, (guint) worst);
      other_sum = place_in_order (field, notes, other, n_notes, INFINITY, other_costs);
      if (other_sum < *sum - 0.01)
        {
          *sum = other_sum;
          memcpy (order, other, n_notes * sizeof *order);
          memcpy (costs, other_costs, n_notes * sizeof *costs);
          if (!runs_through (costs, n_notes))
            return TRUE;
        }
      forget_after (field, n_things);
    }
  return FALSE;
}

void
ml_notes_place (MlField *field, MlNote *notes, guint n_notes)
{
  g_autofree guint *order = g_new0 (guint, n_notes), *other = g_new0 (guint, n_notes);
  g_autofree double *costs = g_new0 (double, n_notes), *other_costs = g_new0 (double, n_notes);
  g_autofree gboolean *tried = g_new0 (gboolean, n_notes);
  const guint n_things = field->things->len;
  gboolean stands = TRUE; /* the notes stand as `order` has them */
  double sum;

  first_order (notes, n_notes, order);
  sum = place_in_order (field, notes, order, n_notes, INFINITY, costs);
  for (int worst, round = 0; round < ROUNDS && (worst = worst_of (costs, tried, n_notes)) >= 0; round++)
    {
      double other_sum;

      tried[worst] = TRUE;
      memcpy (other, order, n_notes * sizeof *order);
      bring_forward (other, n_notes, first_for (notes, other, n_notes, (guint) worst), (guint) worst);
      forget_after (field, n_things);
      other_sum = place_in_order (field, notes, other, n_notes, sum, other_costs);
      stands = other_sum < sum - 0.01;
      if (!stands)
        continue;
      sum = other_sum;
      memcpy (order, other, n_notes * sizeof *order);
      memcpy (costs, other_costs, n_notes * sizeof *costs);
    }
  if (runs_through (costs, n_notes))
    {
      forget_after (field, n_things);
      stands = shuffle_crowd (field, notes, n_notes, order, costs, &sum);
    }
  if (stands)
    return;
  forget_after (field, n_things);
  place_in_order (field, notes, order, n_notes, INFINITY, costs);
}
