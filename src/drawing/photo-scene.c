/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/photo-scene.h"

#include <math.h>
#include <string.h>

#include "drawing/notes.h"
#include "drawing/paint-private.h"
#include "drawing/scene-private.h"

#define SIDE_PER_ROOT_PIN_G 11.0 /* the sheet grows with the board, so that names and pads have room whatever the camera */
#define SMALLEST_SIDE_G 56.0
#define LARGEST_SIDE_G 600.0
#define SIDE_STEP 1.25 /* it grows in steps: one more part changes nothing as a rule */
#define MIDDLE_HALF_G 1.4 /* of a part of which only the middle is pinned */
#define BLANK_MARGIN_PX 40.0
#define NAME_REACH_G 6.0
#define SLANTED_G 5.0   /* a two-legged part whose hull is at least that high and wide lies across */
#define SLANTED_HALF_G 2.2
#define BODY_HALF_G 1.0 /* a part is wider than its pads */
#define LONGEST_LETTERS 6

/* ---- from pixels to the sheet ---- */

static double
longer_side_g (const MlBoard *board)
{
  double wanted = 0, side = SMALLEST_SIDE_G;

  for (guint i = 0; i < board->n_parts; i++)
    wanted += board->parts[i].n_pins;
  wanted = MIN (SIDE_PER_ROOT_PIN_G * sqrt (wanted), LARGEST_SIDE_G);
  while (side * SIDE_STEP <= wanted)
    side *= SIDE_STEP;
  return side;
}

/* What a missing picture would have to show: all pads of it. */
static MlBox
pixels_of (const MlPicture *picture, MlPhoto *photo)
{
  MlBox box = { 0, 0, 4 * BLANK_MARGIN_PX, 3 * BLANK_MARGIN_PX };

  if (photo != NULL)
    {
      ml_photo_size (photo, &box.x1, &box.y1);
      return box;
    }
  for (guint i = 0; i < picture->n_pads; i++)
    {
      box.x1 = MAX (box.x1, picture->pads[i].x_px + BLANK_MARGIN_PX);
      box.y1 = MAX (box.y1, picture->pads[i].y_px + BLANK_MARGIN_PX);
    }
  return box;
}

static MlPoint
map (const MlScenePicture *way, double x, double y)
{
  return (MlPoint) { way->xx * x + way->xy * y + way->x0, way->yx * x + way->yy * y + way->y0 };
}

static MlBox
map_box (const MlScenePicture *way, MlBox box)
{
  const MlPoint corners[] = { map (way, box.x0, box.y0), map (way, box.x1, box.y0), map (way, box.x0, box.y1), map (way, box.x1, box.y1) };
  MlBox hull = { corners[0].x, corners[0].y, corners[0].x, corners[0].y };

  for (guint i = 1; i < G_N_ELEMENTS (corners); i++)
    hull = ml_box_union (hull, (MlBox) { corners[i].x, corners[i].y, corners[i].x, corners[i].y });
  return hull;
}

/* Turned clockwise first, then mirrored left to right, then shifted so that the sheet begins at the origin. */
static void
find_way (MlScenePicture *way, const MlBoard *board, const MlPicture *picture, double magnify)
{
  const MlBox pixels = pixels_of (picture, way->photo);
  const double k = magnify * longer_side_g (board) / MAX (pixels.x1 - pixels.x0, pixels.y1 - pixels.y0);
  const double angle = picture->turn_deg * G_PI / 180;
  const double quarter = fmod (picture->turn_deg, 90) == 0; /* exactly zero where it must be */
  const double c = quarter ? round (cos (angle)) : cos (angle), s = quarter ? round (sin (angle)) : sin (angle);
  const double left_right = picture->mirror ? -1 : 1;

  way->xx = k * c * left_right;
  way->xy = -k * s * left_right;
  way->yx = k * s;
  way->yy = k * c;
  way->x0 = way->y0 = 0;
  way->sheet = map_box (way, pixels);
  way->x0 = -way->sheet.x0;
  way->y0 = -way->sheet.y0;
  way->sheet = (MlBox) { 0, 0, way->sheet.x1 - way->sheet.x0, way->sheet.y1 - way->sheet.y0 };
}

MlPoint
ml_photo_to_sheet (const MlScene *scene, double x_px, double y_px)
{
  return map (scene->picture, x_px, y_px);
}

MlPoint
ml_photo_to_pixels (const MlScene *scene, MlPoint at)
{
  const MlScenePicture *way = scene->picture;
  const double x = at.x - way->x0, y = at.y - way->y0, det = way->xx * way->yy - way->xy * way->yx;

  return (MlPoint) { (way->yy * x - way->xy * y) / det, (way->xx * y - way->yx * x) / det };
}

/* ---- letters in pads ---- */

static const struct { const char *pin, *letters; } pad_letters[] = {
  { "anode", "A" },     { "cathode", "K" },   { "plus", "+" },       { "minus", "\342\210\222" }, { "collector", "C" }, { "base", "B" },
  { "emitter", "E" },   { "drain", "D" },     { "gate", "G" },       { "source", "S" },           { "wiper", "W" },     { "noninverting", "+" },
  { "inverting", "\342\210\222" }, { "positive", "V+" }, { "negative", "V\342\210\222" }, { "ground", "gnd" }, { "adjust", "adj" },
  { "reference", "ref" }, { "common", "com" }, { "ac1", "~" }, { "ac2", "~" },
};

char *
ml_photo_pad_letters (const MlPart *part, int pin)
{
  const char *name = part->pins[pin].name;

  for (guint i = 0; !part->kind->any_pins && i < G_N_ELEMENTS (pad_letters); i++)
    if (strcmp (pad_letters[i].pin, name) == 0)
      return g_strdup (pad_letters[i].letters);
  if (part->n_pins == 2 && strcmp (name, "2") == 0)
    return g_strdup (""); /* 1 is enough to tell them apart */
  if (g_utf8_strlen (name, -1) <= LONGEST_LETTERS)
    return g_strdup (name);
  g_autofree char *begin = g_utf8_substring (name, 0, LONGEST_LETTERS - 1);
  return g_strconcat (begin, "\342\200\246", NULL);
}

MlBox
ml_photo_pad_box (const MlPart *part, int pin, MlPoint at)
{
  g_autofree char *letters = ml_photo_pad_letters (part, pin);
  const double radius = *letters != '\0' ? ML_PAD_RADIUS : ML_PAD_RADIUS * 0.6;
  const double half_width = MAX (radius, *letters != '\0' ? ml_text_width (letters, ML_PAD_LETTER_HEIGHT) / 2 + 0.3 : 0);

  return (MlBox) { at.x - half_width, at.y - radius, at.x + half_width, at.y + radius };
}

/* ---- the scene ---- */

typedef struct
{
  GArray *symbols, *pins, *labels;
  MlScene *scene;
  const MlPicture *picture;
} Builder;

static MlBox
about (MlPoint at, double half)
{
  return (MlBox) { at.x - half, at.y - half, at.x + half, at.y + half };
}

static MlSide
side_from (MlPoint middle, MlPoint at)
{
  const double dx = at.x - middle.x, dy = at.y - middle.y;

  if (fabs (dx) >= fabs (dy))
    return dx < 0 ? ML_SIDE_LEFT : ML_SIDE_RIGHT;
  return dy < 0 ? ML_SIDE_UP : ML_SIDE_DOWN;
}

static void
set_sides (Builder *self, const MlSceneSymbol *symbol)
{
  const MlPoint middle = { (symbol->body.x0 + symbol->body.x1) / 2, (symbol->body.y0 + symbol->body.y1) / 2 };

  for (guint i = 0; i < symbol->n_pins; i++)
    {
      MlScenePin *pin = &g_array_index (self->pins, MlScenePin, symbol->first_pin + i);
      pin->side = side_from (middle, pin->at);
    }
}

/* Of a part that lies across only the middle is marked: its hull would reach into its neighbours. */
static MlBox
body_of (MlBox hull, guint n_pads)
{
  const double width = hull.x1 - hull.x0, height = hull.y1 - hull.y0;

  if (n_pads != 2 || width < SLANTED_G || height < SLANTED_G)
    return hull;
  return about ((MlPoint) { (hull.x0 + hull.x1) / 2, (hull.y0 + hull.y1) / 2 }, SLANTED_HALF_G);
}

/* The pads of one part: n of them, from that one on in `order`. */
static void
add_symbol (Builder *self, const guint *order, guint n)
{
  const int part = self->picture->pads[order[0]].part;
  MlSceneSymbol symbol = { .part = part, .shape = ML_SHAPE_PADS, .name = "pads", .first_pin = self->pins->len };

  for (guint i = 0; i < n; i++)
    {
      const MlPad *pad = &self->picture->pads[order[i]];
      const MlPoint at = ml_photo_to_sheet (self->scene, pad->x_px, pad->y_px);
      const MlBox box = pad->pin < 0 ? about (at, MIDDLE_HALF_G)
                                     : ml_box_union (about (at, BODY_HALF_G), ml_photo_pad_box (&self->scene->board->parts[part], pad->pin, at));
      MlScenePin pin = { .part = part, .pin = pad->pin, .net = -1, .at = at, .symbol = (int) self->symbols->len };

      symbol.body = i == 0 ? box : ml_box_union (symbol.body, box);
      if (pad->pin < 0)
        continue;
      pin.net = self->scene->board->parts[part].pins[pad->pin].net;
      g_array_append_val (self->pins, pin);
      symbol.n_pins++;
    }
  symbol.body = body_of (symbol.body, n);
  set_sides (self, &symbol);
  g_array_append_val (self->symbols, symbol);
}

static int
compare_pads (gconstpointer a, gconstpointer b, gpointer data)
{
  const MlPicture *picture = data;
  const MlPad *p = &picture->pads[*(const guint *) a], *q = &picture->pads[*(const guint *) b];

  return p->part != q->part ? p->part - q->part : p->pin - q->pin;
}

static void
add_symbols (Builder *self)
{
  const guint n = self->picture->n_pads;
  g_autofree guint *order = g_new (guint, n + 1);
  guint i = 0;

  for (guint k = 0; k < n; k++)
    order[k] = k;
  g_qsort_with_data (order, (gint) n, sizeof *order, compare_pads, (gpointer) self->picture);
  while (i < n)
    {
      guint same = 1;

      while (i + same < n && self->picture->pads[order[i + same]].part == self->picture->pads[order[i]].part)
        same++;
      add_symbol (self, order + i, same);
      i += same;
    }
}

/* Names beside their parts, where no pad lies. */
static void
add_names (Builder *self)
{
  MlScene *scene = self->scene;
  MlField *field = ml_field_new (scene);

  for (guint i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      const char *name = scene->board->parts[symbol->part].name;
      MlNote note = { .keeps = { symbol->body }, .n_keeps = 1, .width = ml_text_width (name, ML_TEXT_HEIGHT) + 0.3, .height = ML_TEXT_LINE,
                      .reach = NAME_REACH_G, .must = TRUE, .beside = TRUE };
      MlSceneLabel label = { .kind = ML_LABEL_NAME, .part = symbol->part, .pin = -1, .net = -1 };

      ml_notes_place (field, &note, 1);
      label.text = g_strdup (name);
      label.box = note.box;
      g_array_append_val (self->labels, label);
    }
  ml_field_free (field);
}

static gpointer
take (GArray *array, guint *ret_n)
{
  *ret_n = array->len;
  return g_array_free (array, FALSE);
}

static MlScene *
build (MlScene *scene, const MlPicture *picture)
{
  Builder self = { g_array_new (FALSE, TRUE, sizeof (MlSceneSymbol)), g_array_new (FALSE, TRUE, sizeof (MlScenePin)),
                   g_array_new (FALSE, TRUE, sizeof (MlSceneLabel)), scene, picture };

  add_symbols (&self);
  scene->symbols = take (self.symbols, &scene->n_symbols);
  scene->pins = take (self.pins, &scene->n_pins);
  scene->extent = scene->picture->sheet;
  for (guint i = 0; i < scene->n_symbols; i++) /* a pad may lie beside the picture that was put in place of another */
    scene->extent = ml_box_union (scene->extent, scene->symbols[i].body);
  for (guint i = 0; i < scene->n_pins; i++)
    scene->extent = ml_box_union (scene->extent, about (scene->pins[i].at, ML_PAD_RADIUS));
  add_names (&self);
  scene->labels = take (self.labels, &scene->n_labels);
  return scene;
}

static MlScene *
scene_new (MlBoard *board, int picture, MlPhoto *photo, double magnify)
{
  static const MlPicture none = { .file = NULL };
  const MlPicture *shown = picture >= 0 ? &board->pictures[picture] : &none;
  MlScene *scene = ml_scene_new (board);

  scene->picture = g_new0 (MlScenePicture, 1);
  scene->picture->picture = picture;
  scene->picture->photo = photo != NULL ? ml_photo_ref (photo) : NULL;
  find_way (scene->picture, board, shown, magnify);
  return build (scene, shown);
}

MlScene *
ml_photo_scene (MlBoard *board, int picture, MlPhoto *photo)
{
  return scene_new (board, picture, photo, 1);
}

MlScene *
ml_photo_scene_magnified (const MlScene *scene, double magnify)
{
  return scene_new (scene->board, scene->picture->picture, scene->picture->photo, magnify);
}

/* ---- what is left to pin ---- */

static gboolean
wants_a_pad (const MlBoard *board, int picture, int part, int pin)
{
  return board->parts[part].pins[pin].net >= 0 && ml_board_find_pad (board, picture, part, pin) < 0
         && ml_board_find_pad (board, picture, part, -1) < 0;
}

static guint
n_all_pins (const MlBoard *board)
{
  guint n = 0;

  for (guint i = 0; i < board->n_parts; i++)
    n += board->parts[i].n_pins;
  return n;
}

gboolean
ml_photo_next_unpinned (const MlBoard *board, int picture, int part, int pin, int step, int *ret_part, int *ret_pin)
{
  const guint n = n_all_pins (board);

  if (n == 0)
    return FALSE;
  if (part < 0)
    {
      part = step > 0 ? (int) board->n_parts - 1 : 0;
      pin = step > 0 ? (int) board->parts[part].n_pins - 1 : 0;
    }
  for (guint i = 0; i < n; i++)
    {
      pin += step;
      while (pin < 0 || pin >= (int) board->parts[part].n_pins)
        {
          part = (part + step + (int) board->n_parts) % (int) board->n_parts;
          pin = step > 0 ? 0 : (int) board->parts[part].n_pins - 1;
        }
      if (wants_a_pad (board, picture, part, pin))
        {
          *ret_part = part;
          *ret_pin = pin;
          return TRUE;
        }
    }
  return FALSE;
}

guint
ml_photo_n_unpinned (const MlBoard *board, int picture)
{
  guint n = 0;

  for (guint i = 0; i < board->n_parts; i++)
    for (guint k = 0; k < board->parts[i].n_pins; k++)
      n += wants_a_pad (board, picture, (int) i, (int) k);
  return n;
}

/* ---- neighbours ---- */

static gboolean
is_known_pair (const MlBoard *board, int a, int b)
{
  for (guint i = 0; i < board->n_nears; i++)
    if ((board->nears[i].net_a == a && board->nears[i].net_b == b) || (board->nears[i].net_a == b && board->nears[i].net_b == a))
      return TRUE;
  return FALSE;
}

static int
compare_nears (gconstpointer a, gconstpointer b)
{
  const MlPhotoNear *p = a, *q = b;

  if (p->distance_mm != q->distance_mm)
    return p->distance_mm < q->distance_mm ? -1 : 1;
  return p->net_a != q->net_a ? p->net_a - q->net_a : p->net_b - q->net_b;
}

static void
note_near (GHashTable *found, const MlPhotoNear *near, guint n_nets)
{
  gpointer key = GSIZE_TO_POINTER ((gsize) near->net_a * n_nets + (gsize) near->net_b);
  MlPhotoNear *old = g_hash_table_lookup (found, key);

  if (old == NULL)
    g_hash_table_insert (found, key, g_memdup2 (near, sizeof *near));
  else if (near->distance_mm < old->distance_mm)
    *old = *near;
}

static void
compare_pair (const MlBoard *board, const MlPicture *picture, guint i, guint k, double limit_mm, GHashTable *found)
{
  const MlPad *p = &picture->pads[i], *q = &picture->pads[k];
  const double distance_mm = hypot (p->x_px - q->x_px, p->y_px - q->y_px) / picture->scale_px_per_mm;
  int a, b;

  if (p->pin < 0 || q->pin < 0 || distance_mm > limit_mm)
    return;
  a = board->parts[p->part].pins[p->pin].net;
  b = board->parts[q->part].pins[q->pin].net;
  if (a < 0 || b < 0 || a == b || is_known_pair (board, a, b))
    return;
  if (a < b)
    note_near (found, &(MlPhotoNear) { a, b, p->part, p->pin, q->part, q->pin, distance_mm }, board->n_nets);
  else
    note_near (found, &(MlPhotoNear) { b, a, q->part, q->pin, p->part, p->pin, distance_mm }, board->n_nets);
}

static int
compare_by_x (gconstpointer a, gconstpointer b, gpointer data)
{
  const MlPicture *picture = data;
  const double p = picture->pads[*(const guint *) a].x_px, q = picture->pads[*(const guint *) b].x_px;

  return p < q ? -1 : p > q ? 1 : (*(const guint *) a < *(const guint *) b ? -1 : 1);
}

MlPhotoNear *
ml_photo_nears (const MlBoard *board, int picture, double limit_mm, guint *ret_n)
{
  const MlPicture *it = &board->pictures[picture];
  g_autoptr (GHashTable) found = g_hash_table_new_full (NULL, NULL, NULL, g_free);
  g_autofree guint *order = g_new (guint, it->n_pads + 1);
  GArray *all = g_array_new (FALSE, FALSE, sizeof (MlPhotoNear));
  GHashTableIter iter;
  gpointer near;

  for (guint i = 0; i < it->n_pads; i++)
    order[i] = i;
  g_qsort_with_data (order, (gint) it->n_pads, sizeof *order, compare_by_x, (gpointer) it);
  for (guint i = 0; isfinite (it->scale_px_per_mm) && i < it->n_pads; i++)
    for (guint k = i + 1; k < it->n_pads && it->pads[order[k]].x_px - it->pads[order[i]].x_px <= limit_mm * it->scale_px_per_mm; k++)
      compare_pair (board, it, MIN (order[i], order[k]), MAX (order[i], order[k]), limit_mm, found);
  g_hash_table_iter_init (&iter, found);
  while (g_hash_table_iter_next (&iter, NULL, &near))
    g_array_append_vals (all, near, 1);
  g_array_sort (all, compare_nears); /* a total order: what the table's own order was does not show */
  *ret_n = all->len;
  return (MlPhotoNear *) (void *) g_array_free (all, all->len == 0);
}

/* ---- where the file is ---- */

char *
ml_photo_path (const char *board_path, const char *file)
{
  g_autofree char *folder = NULL;

  if (g_path_is_absolute (file) || board_path == NULL)
    return g_strdup (file);
  folder = g_path_get_dirname (board_path);
  return g_build_filename (folder, file, NULL);
}

/* How many folders below each other both paths share; then up from the board and down to the picture. */
char *
ml_photo_relative (const char *board_path, const char *path)
{
  g_autofree char *from = NULL, *to = NULL;
  g_auto (GStrv) above = NULL, below = NULL;
  GString *relative;
  guint same = 0, i;

  if (board_path == NULL)
    return g_canonicalize_filename (path, NULL);
  from = g_canonicalize_filename (board_path, NULL);
  to = g_canonicalize_filename (path, NULL);
  above = g_strsplit (from, G_DIR_SEPARATOR_S, -1);
  below = g_strsplit (to, G_DIR_SEPARATOR_S, -1);
  while (above[same] != NULL && above[same + 1] != NULL && below[same] != NULL && below[same + 1] != NULL && strcmp (above[same], below[same]) == 0)
    same++;
  if (same <= 1) /* nothing in common but the root: the whole path is plainer */
    return g_steal_pointer (&to);
  relative = g_string_new (NULL);
  for (i = same; above[i + 1] != NULL; i++)
    g_string_append (relative, "../");
  for (i = same; below[i] != NULL; i++)
    g_string_append_printf (relative, "%s%s", i > same ? "/" : "", below[i]);
  return g_string_free (relative, FALSE);
}
