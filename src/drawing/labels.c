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
#define APART_Y 0.35 /* g between texts one above the other */
#define POOR 8.0 /* cost of a place */

/* ---- obstacles ---- */

static gpointer
bucket_key (int x, int y)
{
  return GINT_TO_POINTER ((x + 16384) * 32768 + y + 16384);
}

void
ml_labels_add_obstacle (MlLabelling *l, MlBox box)
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
    ml_labels_add_obstacle (l, g_array_index (inks, MlBox, i));
  g_array_unref (inks);
  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *w = &scene->wires[i];
      ml_labels_add_obstacle (l, (MlBox){ MIN (w->a.x, w->b.x) - 0.12, MIN (w->a.y, w->b.y) - 0.12, MAX (w->a.x, w->b.x) + 0.12,
                                MAX (w->a.y, w->b.y) + 0.12 });
    }
  for (i = 0; i < scene->n_dots; i++)
    {
      MlPoint at = scene->dots[i].at;
      ml_labels_add_obstacle (l, (MlBox){ at.x - 0.28, at.y - 0.28, at.x + 0.28, at.y + 0.28 });
    }
  for (i = 0; i < scene->n_flags; i++)
    ml_labels_add_obstacle (l, scene->flags[i].box);
  for (i = 0; i < scene->n_links; i++)
    {
      const MlSceneLink *link = &scene->links[i];
      ml_labels_add_obstacle (l, (MlBox){ MIN (link->a.x, link->b.x), link->a.y - 0.12, MAX (link->a.x, link->b.x), link->a.y + 0.12 });
    }
}

/* ---- texts ---- */

void
ml_labels_add (MlLabelling *l, MlLabelKind kind, int part, int pin, int net, const char *text, MlBox box, int align)
{
  MlSceneLabel label = { .kind = kind, .part = part, .pin = pin, .net = net, .text = g_strdup (text), .box = box, .align = align };

  g_array_append_val (l->labels, label);
}

/* ---- one item per part ---- */

/* How wide a name, or a value, may be where there is ever less room. */
static const double forms_g[] = { ML_TEXT_WIDEST, 10, 6 };
#define FORM_LED 1 /* the one that a line leads from */

static void
write_item (MlLabelling *l, MlLabelItem *item, guint form)
{
  const MlPart *part = &l->scene->board->parts[item->part];
  g_autofree char *value = ml_part_value_text (part);

  g_free (item->name);
  g_free (item->value);
  item->name = ml_text_fitted (part->name, ML_TEXT_HEIGHT, forms_g[form]);
  item->value = ml_text_fitted (value, ML_TEXT_HEIGHT, forms_g[form]);
  item->name_w = ml_text_width (item->name, ML_TEXT_HEIGHT);
  ml_labels_list (l, item->symbol, item);
}

static void
add_item (MlLabelling *l, const MlSceneSymbol *symbol)
{
  MlLabelItem item = { .part = symbol->part, .symbol = symbol };

  item.gap_w = ml_text_width (" ", ML_TEXT_HEIGHT);
  item.candidates = g_array_new (FALSE, FALSE, sizeof (MlLabelCandidate));
  write_item (l, &item, 0);
  item.waiting = item.candidates->len == 0;
  if (item.waiting) /* nowhere yet */
    {
      ml_label_item_add (&item, 0, 0, 0, 0, 0, TRUE, 0);
      g_array_index (item.candidates, MlLabelCandidate, 0).nearer = TRUE;
    }
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

gboolean
ml_labels_read_as_one (const MlBox *a, const MlBox *b, double apart_x)
{
  MlBox wide = { a->x0 - apart_x, a->y0 + 0.1, a->x1 + apart_x, a->y1 - 0.1 }, high = { a->x0, a->y0 - APART_Y, a->x1, a->y1 + APART_Y };

  return ml_boxes_meet (&wide, b) || ml_boxes_meet (&high, b);
}

static double
cost_beside (const MlBox *box, const MlBox *other)
{
  return ml_boxes_meet (box, other) ? COLLISION : ml_labels_read_as_one (box, other, APART_X) ? CROWDED : 0;
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

/* Where no other text stands and the eye gives it to its part; as many as there are: none. */
static guint
first_free (const MlLabelling *l, const MlLabelItem *item)
{
  guint k;

  for (k = 0; k < item->candidates->len && !item->inside; k++)
    {
      const MlLabelCandidate *candidate = &g_array_index (item->candidates, MlLabelCandidate, k);
      if (!candidate->nearer && !ml_labels_hit (l, &candidate->box))
        break;
    }
  return k;
}

/* Among texts that stand already, none of which gives way: written shorter if need be, at last somewhere else with a line that leads to its part. */
static void
squeeze_in (MlLabelling *l, MlLabelItem *item)
{
  gboolean led;
  guint i;

  item->chosen = first_free (l, item);
  for (i = 0; i < G_N_ELEMENTS (forms_g) && item->chosen == item->candidates->len; i++)
    {
      write_item (l, item, i);
      item->chosen = first_free (l, item);
    }
  led = item->chosen == item->candidates->len;
  if (led)
    {
      write_item (l, item, FORM_LED);
      item->chosen = 0;
      if (!ml_labels_lead_out (l, item))
        return;
    }
  item->waiting = FALSE;
  emit_item (l, item);
  if (led)
    ml_labels_draw_lead (l, item, &g_array_index (l->labels, MlSceneLabel, l->labels->len - (ml_label_item_has_value (item) ? 2 : 1)));
  if (!item->inside)
    ml_labels_add_obstacle (l, g_array_index (item->candidates, MlLabelCandidate, item->chosen).box);
}

static void
take_first_free (MlLabelling *l)
{
  guint i, n = l->items->len;

  for (i = 0; i < 2 * n; i++) /* those with few places first */
    {
      MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i % n);
      if ((item->candidates->len <= FEW) == (i < n) && !item->settled)
        squeeze_in (l, item);
      item->settled |= (item->candidates->len <= FEW) == (i < n);
    }
}

static void
emit_item (MlLabelling *l, const MlLabelItem *item)
{
  const MlLabelCandidate *c = &g_array_index (item->candidates, MlLabelCandidate, item->chosen);
  double middle = (c->box.x0 + c->box.x1 - item->joint_w) / 2, x;

  if (!ml_label_item_has_value (item))
    {
      ml_labels_add (l, ML_LABEL_NAME, item->part, -1, -1, item->name, c->box, c->align);
      return;
    }
  if (!c->one_line)
    {
      double y = (c->box.y0 + c->box.y1) / 2;
      ml_labels_add (l, ML_LABEL_NAME, item->part, -1, -1, item->name, (MlBox){ c->box.x0, c->box.y0, c->box.x1, y }, c->align);
      ml_labels_add (l, ML_LABEL_VALUE, item->part, -1, -1, item->value, (MlBox){ c->box.x0, y, c->box.x1, c->box.y1 }, c->align);
      return;
    }
  x = c->align < 0 ? c->box.x0 : c->align > 0 ? c->box.x1 - item->joint_w : middle;
  ml_labels_add (l, ML_LABEL_NAME, item->part, -1, -1, item->name, (MlBox){ x, c->box.y0, x + item->name_w, c->box.y1 }, -1);
  x += item->name_w + item->gap_w;
  ml_labels_add (l, ML_LABEL_VALUE, item->part, -1, -1, item->value, (MlBox){ x, c->box.y0, x + item->value_w, c->box.y1 }, -1);
}

/* The eye would give it to another part. */
static gboolean
is_misread (const MlLabelItem *item)
{
  return !item->inside && g_array_index (item->candidates, MlLabelCandidate, item->chosen).nearer;
}

/* So far off, or behind so much, that the eye must look whose it is. */
static gboolean
stands_badly (const MlLabelItem *item)
{
  return !item->inside && g_array_index (item->candidates, MlLabelCandidate, item->chosen).cost > POOR;
}

/* On something drawn, or too near one of the items before it. */
static gboolean
collides (const MlLabelling *l, guint index)
{
  const MlLabelItem *item = &g_array_index (l->items, MlLabelItem, index);
  const MlBox *box = chosen_box (l, index);
  gboolean collides = !item->inside && ml_labels_hit (l, box);
  guint i;

  for (i = 0; i < index && !collides; i++)
    collides = !g_array_index (l->items, MlLabelItem, i).waiting
               && (ml_boxes_meet (box, chosen_box (l, i))
                   || (l->care == ML_LABELS_CHOOSY && ml_labels_read_as_one (box, chosen_box (l, i), ML_LABELS_NO_LESS_X)));
  return collides;
}

static int *
emit_items (MlLabelling *l)
{
  const gboolean last_resort = l->care == ML_LABELS_LAST_RESORT;
  GArray *failed = g_array_new (TRUE, FALSE, sizeof (int));
  int end = -1;
  guint i;

  for (i = 0; i < l->items->len; i++)
    {
      MlLabelItem *item = &g_array_index (l->items, MlLabelItem, i);
      gboolean bad = item->waiting || collides (l, i) || is_misread (item);
      if (bad || (l->care == ML_LABELS_CHOOSY && stands_badly (item)))
        g_array_append_val (failed, item->part);
      item->waiting = bad && last_resort;
      if (!item->waiting)
        emit_item (l, item);
    }
  for (i = 0; i < l->items->len; i++)
    if (!g_array_index (l->items, MlLabelItem, i).inside && !g_array_index (l->items, MlLabelItem, i).waiting)
      ml_labels_add_obstacle (l, *chosen_box (l, i));
  for (i = 0; i < l->items->len; i++)
    if (g_array_index (l->items, MlLabelItem, i).waiting)
      squeeze_in (l, &g_array_index (l->items, MlLabelItem, i));
  if (failed->len == 0)
    {
      g_array_unref (failed);
      return NULL;
    }
  g_array_append_val (failed, end);
  return (int *) (gpointer) g_array_free (failed, FALSE);
}

/* ---- all of them ---- */

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
  int *failed;

  l.obstacles = g_array_new (FALSE, FALSE, sizeof (MlBox));
  l.buckets = g_hash_table_new_full (NULL, NULL, NULL, (GDestroyNotify) g_array_unref);
  l.items = g_array_new (FALSE, FALSE, sizeof (MlLabelItem));
  l.labels = g_array_new (FALSE, FALSE, sizeof (MlSceneLabel));
  add_obstacles (&l);
  ml_labels_name_pins (&l);
  for (i = 0; i < scene->n_symbols; i++)
    order[i] = i;
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
  ml_labels_name_nets (&l, show_generated);
  clear_items (&l);
  replace_labels (scene, l.labels);
  g_array_unref (l.obstacles);
  g_hash_table_unref (l.buckets);
  g_free (order);
  ml_scene_extend (scene);
  return failed;
}
