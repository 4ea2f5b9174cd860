/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where texts go: a list of candidates for every label, then sweeps that take for each the cheapest one given the others
 * (after Christensen, Marks and Shieber 1995, from memory). */
#include "drawing/labels-private.h"

#include <math.h>
#include <string.h>

#define BUCKET 4.0
#define SWEEPS 12
#define COLLISION 60.0
#define CROWDED 4.0 /* of two texts that would be read as one */
#define APART_X 1.6 /* g between texts side by side */
#define NO_LESS_X 0.9 /* g: where they come nearer, room is made */
#define APART_Y 0.35 /* g between texts one above the other */
#define POOR 8.0 /* cost of a place */
#define NET_HEIGHT (0.85 * ML_TEXT_HEIGHT)
#define MARKED 3.0 /* of a net's name where the mark round a part would touch it */
#define MARK_REACH 1.0 /* g from a body: gap and stroke of the widest mark */
#define RINGED 0.6 /* of one that the ring round a selected pin would touch: less than what a longer piece of wire is worth */
#define IN_LINE 1.2 /* with another text, closer than words that do not belong together */
#define RAISED 1 /* of the heights that are tried */
#define RING_REACH 0.8 /* g from a pin */

/* ---- obstacles ---- */

static gpointer
bucket_key (int x, int y)
{
  return GINT_TO_POINTER ((x + 16384) * 32768 + y + 16384);
}

static void
add_obstacle (MlLabelling *l, MlBox box)
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

gboolean
ml_labels_hit (const MlLabelling *l, const MlBox *box)
{
  int x, y;
  guint i;

  for (x = (int) floor (box->x0 / BUCKET); x <= (int) floor (box->x1 / BUCKET); x++)
    for (y = (int) floor (box->y0 / BUCKET); y <= (int) floor (box->y1 / BUCKET); y++)
      {
        const GArray *list = g_hash_table_lookup (l->buckets, bucket_key (x, y));
        for (i = 0; list != NULL && i < list->len; i++)
          if (ml_boxes_meet (box, &g_array_index (l->obstacles, MlBox, g_array_index (list, guint, i))))
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
add_obstacles (MlLabelling *l)
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
  cut = g_string_new ("…");
  for (p = text; ml_text_width (cut->str, height) <= ML_TEXT_WIDEST; p = g_utf8_next_char (p))
    g_string_insert_len (cut, p - text, p, g_utf8_next_char (p) - p);
  p = g_utf8_prev_char (p); /* the letter that was too much */
  g_string_erase (cut, p - text, g_utf8_next_char (p) - p);
  return g_string_free (cut, FALSE);
}

static void
add_label (MlLabelling *l, MlLabelKind kind, int part, int pin, int net, const char *text, MlBox box, int align)
{
  MlSceneLabel label = { kind, part, pin, net, g_strdup (text), box, align };

  g_array_append_val (l->labels, label);
}

/* A fixed text: placed first, an obstacle to all others. */
static void
add_fixed (MlLabelling *l, MlLabelKind kind, int part, int pin, const char *text, MlBox box, int align)
{
  add_label (l, kind, part, pin, -1, text, box, align);
  add_obstacle (l, box);
}

static MlBox
box_beside (MlPoint at, MlSide side, double w, double shift, double off)
{
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
static const struct { double shift, off; } ring_places[]
    = { { 0, 1 }, { 1, 1 }, { -1, 1 }, { 2, 1 }, { -2, 1 }, { 0, 2 }, { 1, 2 }, { -1, 2 }, { 2, 2 }, { -2, 2 }, { 0, 3.5 }, { 1, 3.5 }, { -1, 3.5 } };

/* The n places tried first: behind the ring as seen along the wire, else beside it, else askew, else farther off. FALSE when none is free; the
 * first one then. */
static gboolean
find_ring_place (const MlLabelling *l, const MlScenePin *pin, const char *text, guint n, MlBox *ret_box, MlSide *ret_side)
{
  double w = ml_text_width (text, ML_TEXT_HEIGHT);
  guint i;

  for (i = 0; i < n; i++)
    {
      MlSide side = (MlSide) ((pin->side + ring_sides[i & 3]) & 3);
      MlBox box = box_beside (pin->at, side, w, ring_places[i / 4].shift, ring_places[i / 4].off);
      gboolean free = !ml_labels_hit (l, &box);
      if (i > 0 && !free)
        continue;
      *ret_box = box;
      *ret_side = side;
      if (free)
        return TRUE;
    }
  return FALSE;
}

/* Those whose text may stand behind the ring come first; the others see what is left, and with no room for all of it say the pin alone.
 * FALSE: not yet. */
static gboolean
name_terminal (MlLabelling *l, const MlSceneSymbol *symbol, gboolean only_behind)
{
  const MlScenePin *pin = &l->scene->pins[symbol->first_pin];
  const MlPart *part = &l->scene->board->parts[symbol->part];
  g_autofree char *full = part->n_pins == 1 ? g_strdup (part->name) : g_strdup_printf ("%s:%s", part->name, part->pins[pin->pin].name);
  g_autofree char *text = fitted (full, ML_TEXT_HEIGHT), *short_text = fitted (part->pins[pin->pin].name, ML_TEXT_HEIGHT);
  const guint all = 4 * G_N_ELEMENTS (ring_places);
  const char *shown = text;
  MlSide side;
  MlBox box;

  if (!find_ring_place (l, pin, text, only_behind ? 1 : all, &box, &side))
    {
      if (only_behind)
        return FALSE;
      if (part->n_pins > 1 && find_ring_place (l, pin, short_text, all, &box, &side))
        shown = short_text;
      else
        find_ring_place (l, pin, text, 1, &box, &side);
    }
  add_fixed (l, ML_LABEL_NAME, symbol->part, pin->pin, shown, box, side == ML_SIDE_LEFT ? 1 : side == ML_SIDE_RIGHT ? -1 : 0);
  return TRUE;
}

static void
name_pins (MlLabelling *l, const MlSceneSymbol *symbol)
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

/* ---- one item per part ---- */

static void
add_item (MlLabelling *l, const MlSceneSymbol *symbol)
{
  const MlPart *part = &l->scene->board->parts[symbol->part];
  g_autofree char *value = ml_part_value_text (part);
  MlLabelItem item = { 0 };

  item.part = symbol->part;
  item.symbol = symbol;
  item.name = fitted (part->name, ML_TEXT_HEIGHT);
  item.value = fitted (value, ML_TEXT_HEIGHT);
  item.name_w = ml_text_width (item.name, ML_TEXT_HEIGHT);
  item.gap_w = ml_text_width (" ", ML_TEXT_HEIGHT);
  item.candidates = g_array_new (FALSE, FALSE, sizeof (MlLabelCandidate));
  ml_labels_list (l, symbol, &item);
  if (item.candidates->len == 0 && ml_label_item_has_value (&item))
    {
      item.value[0] = '\0';
      ml_labels_list (l, symbol, &item);
    }
  item.dropped = item.candidates->len == 0;
  if (item.dropped)
    ml_label_item_add (&item, 0, 0, 0, 0, 0, TRUE, 0);
  g_array_append_val (l->items, item);
}

/* ---- choosing ---- */

static const MlBox *
chosen_box (const MlLabelling *l, guint i)
{
  const MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i);

  return &g_array_index (item->candidates, MlLabelCandidate, item->chosen).box;
}

static void emit_item (MlLabelling *l, const MlLabelItem *item);

/* "R4 R1" on one line, or R8 right below the value of R7. */
static gboolean
reads_as_one (const MlBox *a, const MlBox *b, double apart_x)
{
  MlBox wide = { a->x0 - apart_x, a->y0 + 0.1, a->x1 + apart_x, a->y1 - 0.1 }, high = { a->x0, a->y0 - APART_Y, a->x1, a->y1 + APART_Y };

  return ml_boxes_meet (&wide, b) || ml_boxes_meet (&high, b);
}

static double
cost_beside (const MlBox *box, const MlBox *other)
{
  return ml_boxes_meet (box, other) ? COLLISION : reads_as_one (box, other, APART_X) ? CROWDED : 0;
}

static void
sweep (MlLabelling *l)
{
  int round;
  guint i, k, j;

  for (round = 0; round < SWEEPS; round++)
    {
      gboolean moved = FALSE;
      for (i = 0; i < l->items->len; i++)
        {
          MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i);
          double best = G_MAXDOUBLE;
          guint choice = item->chosen;
          for (k = 0; k < item->candidates->len; k++)
            {
              const MlLabelCandidate *candidate = &g_array_index (item->candidates, MlLabelCandidate, k);
              double cost = candidate->cost;
              for (j = 0; j < l->items->len && cost < best; j++)
                if (j != i)
                  cost += cost_beside (&candidate->box, chosen_box (l, j));
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
#define FEW 24 /* places */

static guint
first_free (const MlLabelling *l, const MlLabelItem *item)
{
  guint k;

  for (k = 0; k < item->candidates->len; k++)
    if (!ml_labels_hit (l, &g_array_index (item->candidates, MlLabelCandidate, k).box))
      break;
  return k;
}

/* With no room left for name and value the name alone is tried: a part that nobody can name is worse than one whose value stands in the list. */
static void
take_first_free (MlLabelling *l)
{
  guint i, n = l->items->len;

  for (i = 0; i < 2 * n; i++) /* those with few places first */
    {
      MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i % n);
      guint k;
      if ((item->candidates->len <= FEW) != (i < n) || (i >= n && item->settled))
        continue;
      item->settled = TRUE;
      k = item->inside || item->dropped ? 0 : first_free (l, item);
      if (!item->inside && k == item->candidates->len && ml_label_item_has_value (item))
        {
          item->value[0] = '\0';
          ml_labels_list (l, item->symbol, item);
          k = first_free (l, item);
        }
      item->dropped |= !item->inside && k == item->candidates->len;
      item->chosen = item->dropped ? 0 : k;
      if (!item->dropped && !item->inside)
        add_obstacle (l, *chosen_box (l, i % n));
      if (!item->dropped)
        emit_item (l, item);
    }
}

static void
emit_item (MlLabelling *l, const MlLabelItem *item)
{
  const MlLabelCandidate *c = &g_array_index (item->candidates, MlLabelCandidate, item->chosen);
  double middle = (c->box.x0 + c->box.x1 - item->joint_w) / 2, x;

  if (!ml_label_item_has_value (item))
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

/* So far off, or behind so much, that it would be read as another part's. */
static gboolean
stands_badly (const MlLabelItem *item)
{
  return !item->inside && g_array_index (item->candidates, MlLabelCandidate, item->chosen).cost > POOR;
}

static int *
emit_items (MlLabelling *l)
{
  GArray *failed = g_array_new (TRUE, FALSE, sizeof (int));
  int end = -1;
  guint i, k;

  for (i = 0; i < l->items->len; i++)
    {
      MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i);
      const MlBox *box = chosen_box (l, i);
      gboolean bad = !item->inside && !item->dropped && ml_labels_hit (l, box);
      for (k = 0; k < i && !bad && !item->dropped; k++)
        bad = !g_array_index (l->items, MlLabelItem, k).dropped
              && (ml_boxes_meet (box, chosen_box (l, k)) || (l->care == ML_LABELS_CHOOSY && reads_as_one (box, chosen_box (l, k), NO_LESS_X)));
      if (bad || item->dropped || (l->care == ML_LABELS_CHOOSY && stands_badly (item)))
        g_array_append_val (failed, item->part);
      item->dropped |= bad && l->care == ML_LABELS_LAST_RESORT;
      if (!item->dropped)
        emit_item (l, item);
    }
  for (i = 0; i < l->items->len; i++)
    if (!g_array_index (l->items, MlLabelItem, i).inside && !g_array_index (l->items, MlLabelItem, i).dropped)
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

static gboolean
is_within_mark (const MlScene *scene, const MlBox *box)
{
  MlBox wide = { box->x0 - MARK_REACH, box->y0 - MARK_REACH, box->x1 + MARK_REACH, box->y1 + MARK_REACH };
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    if (ml_boxes_meet (&wide, &scene->symbols[i].body))
      return TRUE;
  return FALSE;
}

/* The ring that a selected pin is shown by would lie over it. */
static gboolean
is_within_ring (const MlScene *scene, const MlBox *box)
{
  const MlBox wide = { box->x0 - RING_REACH, box->y0 - RING_REACH, box->x1 + RING_REACH, box->y1 + RING_REACH };
  guint i;

  for (i = 0; i < scene->n_pins; i++)
    {
      const MlPoint at = scene->pins[i].at;
      if (at.x > wide.x0 && at.x < wide.x1 && at.y > wide.y0 && at.y < wide.y1)
        return TRUE;
    }
  return FALSE;
}

/* "REGOUT 100u" in one line is read as one. */
static gboolean
is_in_line_with_text (const MlLabelling *l, const MlBox *box)
{
  guint i;

  for (i = 0; i < l->labels->len; i++)
    {
      const MlSceneLabel *label = &g_array_index (l->labels, MlSceneLabel, i);
      if (label->text != NULL && reads_as_one (box, &label->box, NO_LESS_X))
        return TRUE;
    }
  return FALSE;
}

static void
name_net (MlLabelling *l, int net)
{
  static const double along[] = { 0.5, 0.3, 0.7, 0.15, 0.85 }, above[] = { -1.15, -1.85, 0.2 }, dearer[] = { 0, 0.45, 1 };
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
            double cx = x0 + length * along[a], y = wire->a.y + above[b], cost = -length + fabs (along[a] - 0.5) + dearer[b];
            MlBox box = { cx - w / 2, y, cx + w / 2, y + 1.0 };
            if (cost >= best || ml_labels_hit (l, &box))
              continue;
            cost += (is_within_mark (l->scene, &box) ? MARKED : 0) + (is_within_ring (l->scene, &box) ? RINGED : 0);
            cost += is_in_line_with_text (l, &box) ? (b == RAISED ? 2 : 1) * IN_LINE : 0; /* level with a value it is read as one with it most */
            if (cost >= best)
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

/* A way in or out of the board bears the net's own name: said twice on one wire it only fills the paper. */
static gboolean
is_told_by_connector (const MlLabelling *l, int net)
{
  const MlNet *of = &l->scene->board->nets[net];
  guint i;

  for (i = 0; i < l->labels->len && of->label == NULL; i++)
    {
      const MlSceneLabel *label = &g_array_index (l->labels, MlSceneLabel, i);
      const MlPart *part = label->pin < 0 ? NULL : &l->scene->board->parts[label->part];
      if (part == NULL || part->pins[label->pin].net != net || part->kind->kind == ML_KIND_BLOCK)
        continue;
      if (strcmp (part->n_pins == 1 ? part->name : part->pins[label->pin].name, of->name) == 0 && g_str_has_suffix (label->text, of->name))
        return TRUE;
    }
  return FALSE;
}

static gboolean
shows_name (const MlLabelling *l, int net, gboolean show_generated)
{
  const MlNet *of = &l->scene->board->nets[net];

  return (show_generated || of->label != NULL || !of->generated) && !is_flagged (l->scene, net) && !is_told_by_connector (l, net);
}

static void
clear_items (MlLabelling *l)
{
  guint i;

  for (i = 0; i < l->items->len; i++)
    {
      MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i);
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
ml_labels_place (MlScene *scene, gboolean show_generated, MlLabelsCare care)
{
  MlLabelling l = { scene, NULL, NULL, NULL, NULL, care };
  guint i, *order = g_new (guint, MAX (scene->n_symbols, 1));
  g_autofree gboolean *named = g_new0 (gboolean, MAX (scene->n_symbols, 1));
  int *failed;

  l.obstacles = g_array_new (FALSE, FALSE, sizeof (MlBox));
  l.buckets = g_hash_table_new_full (NULL, NULL, NULL, (GDestroyNotify) g_array_unref);
  l.items = g_array_new (FALSE, FALSE, sizeof (MlLabelItem));
  l.labels = g_array_new (FALSE, FALSE, sizeof (MlSceneLabel));
  add_obstacles (&l);
  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      order[i] = i;
      if (symbol->shape == ML_SHAPE_TERMINAL)
        named[i] = name_terminal (&l, symbol, TRUE);
      else if (symbol->shape == ML_SHAPE_BOX && ml_circuit_is_free_box (scene->board->parts[symbol->part].kind->kind))
        name_pins (&l, symbol);
    }
  for (i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[i].shape == ML_SHAPE_TERMINAL && !named[i])
      name_terminal (&l, &scene->symbols[i], FALSE);
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
    if (shows_name (&l, (int) i, show_generated))
      name_net (&l, (int) i);
  clear_items (&l);
  replace_labels (scene, l.labels);
  g_array_unref (l.obstacles);
  g_hash_table_unref (l.buckets);
  g_free (order);
  ml_scene_extend (scene);
  return failed;
}
