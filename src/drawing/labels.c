/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where texts go: a list of candidates for every label, then sweeps that take for each the cheapest one given the others
 * (after Christensen, Marks and Shieber 1995, from memory). */
#include "drawing/layout-plan.h"
#include "drawing/layout-circuit.h"

#include <math.h>
#include <string.h>

#define BUCKET 4.0
#define SWEEPS 12
#define COLLISION 60.0
#define KEPT 40
#define BEHIND 9.0
#define NET_HEIGHT (0.85 * ML_TEXT_HEIGHT)

typedef struct
{
  double cost;
  MlBox box;
  gboolean one_line;
  int align;
} Candidate;

typedef struct
{
  int part; /* board's */
  char *name, *value;
  double name_w, value_w, joint_w, gap_w;
  GArray *candidates; /* of Candidate */
  guint chosen;
  gboolean inside, dropped;
} Item;

typedef struct
{
  MlScene *scene;
  GArray *obstacles; /* of MlBox */
  GHashTable *buckets; /* key -> GArray of guint */
  GArray *items;
  GArray *labels; /* of MlSceneLabel */
  gboolean last_resort; /* rather no value, or no label at all, than one on top of something */
} Labelling;

static gboolean
boxes_meet (const MlBox *a, const MlBox *b)
{
  return a->x0 < b->x1 - 1e-6 && b->x0 < a->x1 - 1e-6 && a->y0 < b->y1 - 1e-6 && b->y0 < a->y1 - 1e-6;
}

/* ---- obstacles ---- */

static gpointer
bucket_key (int x, int y)
{
  return GINT_TO_POINTER ((x + 16384) * 32768 + y + 16384);
}

static void
add_obstacle (Labelling *l, MlBox box)
{
  int x, y;
  guint index = l->obstacles->len;

  g_array_append_val (l->obstacles, box);
  for (x = (int) floor (box.x0 / BUCKET); x <= (int) floor (box.x1 / BUCKET); x++)
    for (y = (int) floor (box.y0 / BUCKET); y <= (int) floor (box.y1 / BUCKET); y++)
      {
        GArray *list = g_hash_table_lookup (l->buckets, bucket_key (x, y));
        if (list == NULL)
          {
            list = g_array_new (FALSE, FALSE, sizeof (guint));
            g_hash_table_insert (l->buckets, bucket_key (x, y), list);
          }
        g_array_append_val (list, index);
      }
}

static gboolean
hits_obstacle (const Labelling *l, const MlBox *box)
{
  int x, y;
  guint i;

  for (x = (int) floor (box->x0 / BUCKET); x <= (int) floor (box->x1 / BUCKET); x++)
    for (y = (int) floor (box->y0 / BUCKET); y <= (int) floor (box->y1 / BUCKET); y++)
      {
        const GArray *list = g_hash_table_lookup (l->buckets, bucket_key (x, y));
        for (i = 0; list != NULL && i < list->len; i++)
          if (boxes_meet (box, &g_array_index (l->obstacles, MlBox, g_array_index (list, guint, i))))
            return TRUE;
      }
  return FALSE;
}

void
ml_scene_inks (const MlScene *scene, guint index, GArray *ret_boxes)
{
  const MlSceneSymbol *symbol = &scene->symbols[index];
  const MlSymbolGeometry *geometry = symbol->shape == ML_SHAPE_SYMBOL ? ml_symbol_geometry (symbol->name) : NULL;
  guint i;

  for (i = 0; geometry != NULL && i < geometry->n_inks; i++)
    {
      MlBox box = ml_place_box (&symbol->place, geometry->inks[i]);
      g_array_append_val (ret_boxes, box);
    }
  if (geometry == NULL)
    g_array_append_val (ret_boxes, symbol->body);
  for (i = 0; i < symbol->n_pins && symbol->shape != ML_SHAPE_TERMINAL; i++)
    {
      const MlScenePin *pin = &scene->pins[symbol->first_pin + i];
      MlPoint step = ml_side_step (pin->side);
      double x = pin->at.x - step.x, y = pin->at.y - step.y;
      MlBox box = { MIN (pin->at.x, x) - 0.08, MIN (pin->at.y, y) - 0.08, MAX (pin->at.x, x) + 0.08, MAX (pin->at.y, y) + 0.08 };
      g_array_append_val (ret_boxes, box);
    }
}

static void
add_obstacles (Labelling *l)
{
  MlScene *scene = l->scene;
  GArray *inks = g_array_new (FALSE, FALSE, sizeof (MlBox));
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    ml_scene_inks (scene, i, inks);
  for (i = 0; i < inks->len; i++)
    add_obstacle (l, g_array_index (inks, MlBox, i));
  g_array_unref (inks);
  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *w = &scene->wires[i];
      add_obstacle (l, (MlBox){ MIN (w->a.x, w->b.x) - 0.12, MIN (w->a.y, w->b.y) - 0.12, MAX (w->a.x, w->b.x) + 0.12,
                                MAX (w->a.y, w->b.y) + 0.12 });
    }
  for (i = 0; i < scene->n_dots; i++)
    {
      MlPoint at = scene->dots[i].at;
      add_obstacle (l, (MlBox){ at.x - 0.28, at.y - 0.28, at.x + 0.28, at.y + 0.28 });
    }
  for (i = 0; i < scene->n_flags; i++)
    add_obstacle (l, scene->flags[i].box);
  for (i = 0; i < scene->n_links; i++)
    {
      const MlSceneLink *link = &scene->links[i];
      add_obstacle (l, (MlBox){ MIN (link->a.x, link->b.x), link->a.y - 0.12, MAX (link->a.x, link->b.x), link->a.y + 0.12 });
    }
}

/* ---- texts ---- */

static char *
fitted (const char *text, double height)
{
  GString *cut;
  const char *p;

  if (ml_text_width (text, height) <= ML_TEXT_WIDEST)
    return g_strdup (text);
  cut = g_string_new (NULL);
  for (p = text; *p != '\0'; p = g_utf8_next_char (p))
    {
      g_string_append_len (cut, p, g_utf8_next_char (p) - p);
      if (ml_text_width (cut->str, height) > ML_TEXT_WIDEST - 1.3)
        break;
    }
  g_string_append (cut, "…");
  return g_string_free (cut, FALSE);
}

static void
add_label (Labelling *l, MlLabelKind kind, int part, int pin, int net, const char *text, MlBox box, int align)
{
  MlSceneLabel label = { kind, part, pin, net, g_strdup (text), box, align };

  g_array_append_val (l->labels, label);
}

/* A fixed text: placed first, an obstacle to all others. */
static void
add_fixed (Labelling *l, MlLabelKind kind, int part, int pin, const char *text, MlBox box, int align)
{
  add_label (l, kind, part, pin, -1, text, box, align);
  add_obstacle (l, box);
}

static MlBox
box_beside (MlPoint at, MlSide side, double w, double shift)
{
  const double off = 1.0;

  if ((side & 1) != 0)
    at.x += shift * (w / 2 + 0.3);
  else
    at.y += shift * 0.9;

  switch (side)
    {
    case ML_SIDE_RIGHT:
      return (MlBox){ at.x + off, at.y - 0.65, at.x + w + off + 0.05, at.y + 0.6 };
    case ML_SIDE_LEFT:
      return (MlBox){ at.x - w - off - 0.05, at.y - 0.65, at.x - off, at.y + 0.6 };
    case ML_SIDE_UP:
      return (MlBox){ at.x - w / 2, at.y - off - 1.25, at.x + w / 2, at.y - off };
    case ML_SIDE_DOWN:
    default:
      return (MlBox){ at.x - w / 2, at.y + off, at.x + w / 2, at.y + off + 1.25 };
    }
}

static const int ring_sides[] = { 2, 1, 3, 0 };
static const double ring_shifts[] = { 0, 1, -1 };

static void
name_terminal (Labelling *l, const MlSceneSymbol *symbol)
{
  const MlScenePin *pin = &l->scene->pins[symbol->first_pin];
  const MlPart *part = &l->scene->board->parts[symbol->part];
  g_autofree char *full = part->n_pins == 1 ? g_strdup (part->name) : g_strdup_printf ("%s:%s", part->name, part->pins[pin->pin].name);
  g_autofree char *text = fitted (full, ML_TEXT_HEIGHT);
  double w = ml_text_width (text, ML_TEXT_HEIGHT);
  gboolean clash = FALSE;
  MlSide side = pin->side;
  MlBox chosen = { 0 };
  guint i;

  for (i = 0; i < 4 * G_N_ELEMENTS (ring_shifts); i++) /* behind the ring as seen along the wire, else beside it, else askew */
    {
      MlSide to = (MlSide) ((pin->side + ring_sides[i & 3]) & 3);
      MlBox box = box_beside (pin->at, to, w, ring_shifts[i / 4]);
      if (i > 0 && (!clash || hits_obstacle (l, &box)))
        continue;
      chosen = box;
      side = to;
      clash = i == 0 && hits_obstacle (l, &box);
    }
  add_fixed (l, ML_LABEL_NAME, symbol->part, pin->pin, text, chosen, side == ML_SIDE_LEFT ? 1 : side == ML_SIDE_RIGHT ? -1 : 0);
}

static void
name_pins (Labelling *l, const MlSceneSymbol *symbol)
{
  const MlPart *part = &l->scene->board->parts[symbol->part];
  guint i;

  for (i = 0; i < symbol->n_pins; i++)
    {
      const MlScenePin *pin = &l->scene->pins[symbol->first_pin + i];
      g_autofree char *text = fitted (part->pins[pin->pin].name, ML_TEXT_HEIGHT);
      double w = ml_text_width (text, ML_TEXT_HEIGHT), x = pin->at.x, y = pin->at.y;
      MlBox box;
      if (pin->side == ML_SIDE_RIGHT)
        box = (MlBox){ x - 1.3 - w, y - 0.6, x - 1.3, y + 0.6 };
      else if (pin->side == ML_SIDE_LEFT)
        box = (MlBox){ x + 1.3, y - 0.6, x + 1.3 + w, y + 0.6 };
      else if (pin->side == ML_SIDE_UP)
        box = (MlBox){ x - w / 2, y + 1.2, x + w / 2, y + 2.4 };
      else
        box = (MlBox){ x - w / 2, y - 2.4, x + w / 2, y - 1.2 };
      add_fixed (l, ML_LABEL_PIN, symbol->part, pin->pin, text, box, pin->side == ML_SIDE_RIGHT ? 1 : pin->side == ML_SIDE_LEFT ? -1 : 0);
    }
}

/* ---- candidates ---- */

static void
add_candidate (Item *item, double cost, double x0, double y0, double w, double h, gboolean one_line, int align)
{
  Candidate candidate = { cost, { x0, y0, x0 + w, y0 + h }, one_line, align };

  g_array_append_val (item->candidates, candidate);
}

static gboolean
has_value (const Item *item)
{
  return item->value[0] != '\0';
}

static double
text_w (const Item *item, gboolean one_line)
{
  return 0.1 + (one_line ? item->joint_w : MAX (item->name_w, item->value_w));
}

static double
text_h (const Item *item, gboolean one_line)
{
  return one_line || !has_value (item) ? ML_TEXT_LINE : 2 * ML_TEXT_LINE;
}

/* Right, left, above and below a body, at 5 gaps and 9 shifts, in two lines or one. */
static void
add_round (Item *item, const MlBox *body, gboolean standing, gboolean mirrored)
{
  static const double gaps[] = { 0.25, 0.8, 1.5, 2.5, 3.5 }, shifts[] = { 0, 0.6, -0.6, 1.2, -1.2, 2, -2, 3, -3 };
  double cx = (body->x0 + body->x1) / 2, cy = (body->y0 + body->y1) / 2, hw = (body->x1 - body->x0) / 2, hh = (body->y1 - body->y0) / 2;
  int one_line;
  guint g, s;

  for (one_line = has_value (item) ? 0 : 1; one_line < 2; one_line++)
    for (g = 0; g < G_N_ELEMENTS (gaps); g++)
      for (s = 0; s < G_N_ELEMENTS (shifts); s++)
        {
          double w = text_w (item, one_line), h = text_h (item, one_line), gap = gaps[g], off = shifts[s];
          double form = has_value (item) && one_line ? 1 : 0, cost = gap * 1.6 + fabs (off) * 0.8 + form * 1.5 - 0.4;
          double flat = cost - (standing ? 0 : 1.2 * form);
          add_candidate (item, cost + (standing ? 0 : 6) + (mirrored && standing ? 2 : 0), cx + hw + gap, cy - h / 2 + off, w, h, one_line, -1);
          add_candidate (item, cost + (standing ? 1.2 : 6.5), cx - hw - gap - w, cy - h / 2 + off, w, h, one_line, 1);
          add_candidate (item, flat + (standing ? 5 : 0), cx - w / 2 + off, cy - hh - gap - h, w, h, one_line, 0);
          add_candidate (item, flat + (standing ? 5.5 : 1.2), cx - w / 2 + off, cy + hh + gap, w, h, one_line, 0);
        }
}

/* Beside the tip of an amplifier's triangle. */
static void
add_beside_tip (Item *item, const MlBox *body, gboolean mirrored)
{
  static const double shifts[] = { -0.3, 0.4, 1, 2 };
  double cx = (body->x0 + body->x1) / 2, cy = (body->y0 + body->y1) / 2, w = text_w (item, FALSE), h = text_h (item, FALSE);
  guint i;

  for (i = 0; i < G_N_ELEMENTS (shifts); i++)
    {
      double x = mirrored ? cx - 0.8 - shifts[i] - w : cx + 0.8 + shifts[i];
      add_candidate (item, -0.5 + shifts[i], x, cy - 2.2 - h / 2, w, h, FALSE, mirrored ? 1 : -1);
      add_candidate (item, -0.3 + shifts[i], x, cy + 2.2 - h / 2, w, h, FALSE, mirrored ? 1 : -1);
    }
}

static void
add_round_box (Item *item, const MlBox *box)
{
  double w = text_w (item, TRUE), h = ML_TEXT_LINE;

  add_candidate (item, -0.1, box->x0, box->y0 - 0.2 - h, w, h, TRUE, -1);
  add_candidate (item, 0.5, box->x1 - w, box->y0 - 0.2 - h, w, h, TRUE, 1);
  add_candidate (item, 0.6, box->x0, box->y1 + 0.2, w, h, TRUE, -1);
  add_candidate (item, 0.7, box->x1 - w, box->y1 + 0.2, w, h, TRUE, 1);
}

/* Outwards from one arm of a diamond of four diodes. */
static void
add_outwards (Item *item, const MlSceneSymbol *symbol)
{
  static const double gaps[] = { 0, 0.3, 0.7, 1.2, 1.8, 2.5 }, ups[] = { 0, 0.4, 0.9, 1.5, 2.5 };
  MlPoint middle = ml_place_point (&symbol->place, 2, -2), out = ml_place_point (&symbol->place, 1, -3);
  double sx = out.x > middle.x ? 1 : -1, sy = out.y > middle.y ? 1 : -1;
  guint g, u;
  int one_line;

  for (one_line = 0; one_line < 2; one_line++)
    for (g = 0; g < G_N_ELEMENTS (gaps); g++)
      for (u = 0; u < G_N_ELEMENTS (ups); u++)
        {
          double w = text_w (item, one_line), h = text_h (item, one_line);
          double x = middle.x + sx * (0.75 + gaps[g]), y = middle.y + sy * (0.4 + ups[u]);
          add_candidate (item, gaps[g] + ups[u] + (one_line && has_value (item) ? 1.5 : 0), sx > 0 ? x : x - w, sy > 0 ? y : y - h, w, h,
                         one_line, sx > 0 ? -1 : 1);
        }
}

static gboolean
meets_own_pin_name (const Labelling *l, int part, const MlBox *box)
{
  guint i;

  for (i = 0; i < l->labels->len; i++)
    {
      const MlSceneLabel *label = &g_array_index (l->labels, MlSceneLabel, i);
      if (label->part == part && boxes_meet (box, &label->box))
        return TRUE;
    }
  return FALSE;
}

static gboolean
fits_inside (const Labelling *l, const MlSceneSymbol *symbol, const Item *item, MlBox *ret_box)
{
  double cx = (symbol->box.x0 + symbol->box.x1) / 2, cy = (symbol->box.y0 + symbol->box.y1) / 2;
  double w = text_w (item, FALSE), h = text_h (item, FALSE);
  MlBox wide = { cx - w / 2 - 0.4, cy - h / 2, cx + w / 2 + 0.4, cy + h / 2 };

  *ret_box = (MlBox){ cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2 };
  return w < symbol->box.x1 - symbol->box.x0 - 0.6 && h < symbol->box.y1 - symbol->box.y0 - 0.4
         && !meets_own_pin_name (l, symbol->part, &wide);
}

static int
by_cost (gconstpointer a, gconstpointer b)
{
  const Candidate *p = a, *q = b;

  if (p->cost < q->cost || p->cost > q->cost)
    return p->cost < q->cost ? -1 : 1;
  if (p->box.x0 < q->box.x0 || p->box.x0 > q->box.x0)
    return p->box.x0 < q->box.x0 ? -1 : 1;
  return p->box.y0 < q->box.y0 ? -1 : p->box.y0 > q->box.y0;
}

/* What lies between a body and a text beside it; empty when they touch. */
static MlBox
gap_between (const MlBox *body, const MlBox *text)
{
  MlBox gap = *text;

  if (text->x0 >= body->x1)
    gap = (MlBox){ body->x1 + 0.1, text->y0 + 0.3, text->x0, text->y1 - 0.3 };
  else if (text->x1 <= body->x0)
    gap = (MlBox){ text->x1, text->y0 + 0.3, body->x0 - 0.1, text->y1 - 0.3 };
  else if (text->y0 >= body->y1)
    gap = (MlBox){ text->x0 + 0.3, body->y1 + 0.1, text->x1 - 0.3, text->y0 };
  else if (text->y1 <= body->y0)
    gap = (MlBox){ text->x0 + 0.3, text->y1, text->x1 - 0.3, body->y0 - 0.1 };
  return gap;
}

/* A wire or another part between a part and its text makes the text look like another's. */
static void
shun_what_is_behind (const Labelling *l, const MlBox *body, Item *item)
{
  guint i;

  for (i = 0; i < item->candidates->len; i++)
    {
      Candidate *candidate = &g_array_index (item->candidates, Candidate, i);
      MlBox gap = gap_between (body, &candidate->box);
      if (gap.x1 > gap.x0 && gap.y1 > gap.y0 && hits_obstacle (l, &gap))
        candidate->cost += BEHIND;
    }
}

/* Drops candidates that lie on something; with none left the cheapest stays, to be found wanting afterwards. */
static void
sift (const Labelling *l, Item *item)
{
  guint i, n = 0;

  g_array_sort (item->candidates, by_cost);
  for (i = 0; i < item->candidates->len && n < KEPT; i++)
    {
      Candidate candidate = g_array_index (item->candidates, Candidate, i);
      if (!hits_obstacle (l, &candidate.box))
        g_array_index (item->candidates, Candidate, n++) = candidate;
    }
  g_array_set_size (item->candidates, l->last_resort ? n : MAX (n, 1));
}

static void
list_candidates (Labelling *l, const MlSceneSymbol *symbol, Item *item)
{
  MlKind kind = l->scene->board->parts[symbol->part].kind->kind;
  gboolean boxy = symbol->shape == ML_SHAPE_BOX || kind == ML_KIND_OPTO || kind == ML_KIND_BRIDGE;
  MlBox inside;

  item->value_w = ml_text_width (item->value, ML_TEXT_HEIGHT);
  item->joint_w = has_value (item) ? item->name_w + item->gap_w + item->value_w : item->name_w;
  g_array_set_size (item->candidates, 0);
  item->inside = symbol->shape == ML_SHAPE_BOX && fits_inside (l, symbol, item, &inside);
  if (item->inside)
    {
      add_candidate (item, 0, inside.x0, inside.y0, inside.x1 - inside.x0, inside.y1 - inside.y0, FALSE, 0);
      return;
    }
  if (strcmp (symbol->name, "diode-diagonal") == 0)
    add_outwards (item, symbol);
  else
    add_round (item, &symbol->body,
               !boxy && !ml_circuit_is_amplifier (kind) && (ml_circuit_is_transistor (kind) || (symbol->place.turn & 1) == 0),
               symbol->place.mirror);
  if (ml_circuit_is_amplifier (kind) && (symbol->place.turn & 1) == 0)
    add_beside_tip (item, &symbol->body, symbol->place.mirror);
  if (boxy)
    add_round_box (item, &symbol->body);
  else
    shun_what_is_behind (l, &symbol->body, item);
  sift (l, item);
}

static void
add_item (Labelling *l, const MlSceneSymbol *symbol)
{
  const MlPart *part = &l->scene->board->parts[symbol->part];
  g_autofree char *value = ml_part_value_text (part);
  Item item = { 0 };

  item.part = symbol->part;
  item.name = fitted (part->name, ML_TEXT_HEIGHT);
  item.value = fitted (value, ML_TEXT_HEIGHT);
  item.name_w = ml_text_width (item.name, ML_TEXT_HEIGHT);
  item.gap_w = ml_text_width (" ", ML_TEXT_HEIGHT);
  item.candidates = g_array_new (FALSE, FALSE, sizeof (Candidate));
  list_candidates (l, symbol, &item);
  if (item.candidates->len == 0 && has_value (&item))
    {
      item.value[0] = '\0';
      list_candidates (l, symbol, &item);
    }
  item.dropped = item.candidates->len == 0;
  if (item.dropped)
    add_candidate (&item, 0, 0, 0, 0, 0, TRUE, 0);
  g_array_append_val (l->items, item);
}

/* ---- choosing ---- */

static const MlBox *
chosen_box (const Labelling *l, guint i)
{
  const Item *item = &g_array_index (l->items, Item, i);

  return &g_array_index (item->candidates, Candidate, item->chosen).box;
}

static void emit_item (Labelling *l, const Item *item);

static void
sweep (Labelling *l)
{
  int round;
  guint i, k, j;

  for (round = 0; round < SWEEPS; round++)
    {
      gboolean moved = FALSE;
      for (i = 0; i < l->items->len; i++)
        {
          Item *item = &g_array_index (l->items, Item, i);
          double best = G_MAXDOUBLE;
          guint choice = item->chosen;
          for (k = 0; k < item->candidates->len; k++)
            {
              const Candidate *candidate = &g_array_index (item->candidates, Candidate, k);
              double cost = candidate->cost;
              for (j = 0; j < l->items->len && cost < best; j++)
                if (j != i && boxes_meet (&candidate->box, chosen_box (l, j)))
                  cost += COLLISION;
              if (cost < best - 1e-9)
                {
                  best = cost;
                  choice = k;
                }
            }
          moved |= choice != item->chosen;
          item->chosen = choice;
        }
      if (!moved)
        break;
    }
}

/* So many labels that each takes the first free place. */
#define MANY 400

static void
take_first_free (Labelling *l)
{
  guint i, k;

  for (i = 0; i < l->items->len; i++)
    {
      Item *item = &g_array_index (l->items, Item, i);
      for (k = 0; k < item->candidates->len && !item->inside && !item->dropped; k++)
        if (!hits_obstacle (l, &g_array_index (item->candidates, Candidate, k).box))
          break;
      item->dropped |= !item->inside && k == item->candidates->len;
      item->chosen = item->inside || item->dropped ? 0 : k;
      if (!item->dropped && !item->inside)
        add_obstacle (l, *chosen_box (l, i));
      if (!item->dropped)
        emit_item (l, item);
    }
}

static void
emit_item (Labelling *l, const Item *item)
{
  const Candidate *c = &g_array_index (item->candidates, Candidate, item->chosen);
  double middle = (c->box.x0 + c->box.x1 - item->joint_w) / 2, x;

  if (!has_value (item))
    {
      add_label (l, ML_LABEL_NAME, item->part, -1, -1, item->name, c->box, c->align);
      return;
    }
  if (!c->one_line)
    {
      double y = (c->box.y0 + c->box.y1) / 2;
      add_label (l, ML_LABEL_NAME, item->part, -1, -1, item->name, (MlBox){ c->box.x0, c->box.y0, c->box.x1, y }, c->align);
      add_label (l, ML_LABEL_VALUE, item->part, -1, -1, item->value, (MlBox){ c->box.x0, y, c->box.x1, c->box.y1 }, c->align);
      return;
    }
  x = c->align < 0 ? c->box.x0 : c->align > 0 ? c->box.x1 - item->joint_w : middle;
  add_label (l, ML_LABEL_NAME, item->part, -1, -1, item->name, (MlBox){ x, c->box.y0, x + item->name_w, c->box.y1 }, -1);
  x += item->name_w + item->gap_w;
  add_label (l, ML_LABEL_VALUE, item->part, -1, -1, item->value, (MlBox){ x, c->box.y0, x + item->value_w, c->box.y1 }, -1);
}

static int *
emit_items (Labelling *l)
{
  GArray *failed = g_array_new (TRUE, FALSE, sizeof (int));
  int end = -1;
  guint i, k;

  for (i = 0; i < l->items->len; i++)
    {
      Item *item = &g_array_index (l->items, Item, i);
      const MlBox *box = chosen_box (l, i);
      gboolean bad = !item->inside && !item->dropped && hits_obstacle (l, box);
      for (k = 0; k < i && !bad && !item->dropped; k++)
        bad = !g_array_index (l->items, Item, k).dropped && boxes_meet (box, chosen_box (l, k));
      if (bad || item->dropped)
        g_array_append_val (failed, item->part);
      item->dropped |= bad && l->last_resort;
      if (!item->dropped)
        emit_item (l, item);
    }
  for (i = 0; i < l->items->len; i++)
    if (!g_array_index (l->items, Item, i).inside && !g_array_index (l->items, Item, i).dropped)
      add_obstacle (l, *chosen_box (l, i));
  if (failed->len == 0)
    {
      g_array_unref (failed);
      return NULL;
    }
  g_array_append_val (failed, end);
  return (int *) (gpointer) g_array_free (failed, FALSE);
}

/* ---- net names: above the longest level run of wire, or not at all ---- */

static gboolean
is_flagged (const MlScene *scene, int net)
{
  guint i;

  for (i = 0; i < scene->n_flags; i++)
    if (scene->flags[i].net == net)
      return TRUE;
  return FALSE;
}

static void
name_net (Labelling *l, int net)
{
  static const double along[] = { 0.5, 0.3, 0.7, 0.15, 0.85 }, above[] = { -1.15, 0.2 };
  const MlNet *of = &l->scene->board->nets[net];
  g_autofree char *text = fitted (of->label != NULL ? of->label : of->name, NET_HEIGHT);
  double w = ml_text_width (text, NET_HEIGHT), best = G_MAXDOUBLE;
  MlBox choice = { 0 };
  guint i, a, b;

  for (i = 0; i < l->scene->n_wires; i++)
    {
      const MlSceneWire *wire = &l->scene->wires[i];
      double length = fabs (wire->b.x - wire->a.x), x0 = MIN (wire->a.x, wire->b.x);
      if (wire->net != net || length < w * 0.6 || wire->a.y < wire->b.y || wire->a.y > wire->b.y)
        continue;
      for (a = 0; a < G_N_ELEMENTS (along); a++)
        for (b = 0; b < G_N_ELEMENTS (above); b++)
          {
            double cx = x0 + length * along[a], y = wire->a.y + above[b], cost = -length + fabs (along[a] - 0.5) + b;
            MlBox box = { cx - w / 2, y, cx + w / 2, y + 1.0 };
            if (cost >= best || hits_obstacle (l, &box))
              continue;
            best = cost;
            choice = box;
          }
    }
  if (best < G_MAXDOUBLE)
    {
      add_label (l, ML_LABEL_NET, -1, -1, net, text, choice, 0);
      add_obstacle (l, choice);
    }
}

static gboolean
shows_name (const MlNet *net, gboolean show_generated)
{
  return show_generated || net->label != NULL || !net->generated;
}

static void
clear_items (Labelling *l)
{
  guint i;

  for (i = 0; i < l->items->len; i++)
    {
      Item *item = &g_array_index (l->items, Item, i);
      g_free (item->name);
      g_free (item->value);
      g_array_unref (item->candidates);
    }
  g_array_unref (l->items);
}

static void
replace_labels (MlScene *scene, GArray *labels)
{
  guint i;

  for (i = 0; i < scene->n_labels; i++)
    g_free (scene->labels[i].text);
  g_free (scene->labels);
  scene->n_labels = labels->len;
  scene->labels = (MlSceneLabel *) (gpointer) g_array_free (labels, FALSE);
}

static int
symbol_by_name (gconstpointer a, gconstpointer b, gpointer data)
{
  const MlScene *scene = data;
  guint p = *(const guint *) a, q = *(const guint *) b;
  int order = strcmp (scene->board->parts[scene->symbols[p].part].name, scene->board->parts[scene->symbols[q].part].name);

  return order != 0 ? order : (p < q ? -1 : p > q);
}

int *
ml_labels_place (MlScene *scene, gboolean show_generated, gboolean last_resort)
{
  Labelling l = { scene, NULL, NULL, NULL, NULL, last_resort };
  guint i, *order = g_new (guint, MAX (scene->n_symbols, 1));
  int *failed;

  l.obstacles = g_array_new (FALSE, FALSE, sizeof (MlBox));
  l.buckets = g_hash_table_new_full (NULL, NULL, NULL, (GDestroyNotify) g_array_unref);
  l.items = g_array_new (FALSE, FALSE, sizeof (Item));
  l.labels = g_array_new (FALSE, FALSE, sizeof (MlSceneLabel));
  add_obstacles (&l);
  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      order[i] = i;
      if (symbol->shape == ML_SHAPE_TERMINAL)
        name_terminal (&l, symbol);
      else if (symbol->shape == ML_SHAPE_BOX && ml_circuit_is_free_box (scene->board->parts[symbol->part].kind->kind))
        name_pins (&l, symbol);
    }
  g_qsort_with_data (order, (int) scene->n_symbols, sizeof *order, symbol_by_name, scene);
  for (i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[order[i]].shape != ML_SHAPE_TERMINAL)
      add_item (&l, &scene->symbols[order[i]]);
  if (l.items->len > MANY)
    {
      take_first_free (&l);
      failed = NULL;
    }
  else
    {
      sweep (&l);
      failed = emit_items (&l);
    }
  for (i = 0; i < scene->board->n_nets; i++)
    if (!is_flagged (scene, (int) i) && shows_name (&scene->board->nets[i], show_generated))
      name_net (&l, (int) i);
  clear_items (&l);
  replace_labels (scene, l.labels);
  g_array_unref (l.obstacles);
  g_hash_table_unref (l.buckets);
  g_free (order);
  ml_scene_extend (scene);
  return failed;
}
