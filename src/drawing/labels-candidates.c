/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the text of a part may stand, and how well it stands there. */
#include "drawing/labels-private.h"
#include "drawing/layout-circuit.h"

#include <math.h>
#include <string.h>

#define KEPT 60
#define INWARDS 5.0 /* names stand outside a diamond unless nothing else is left */
#define BEHIND 9.0 /* a wire or part between a part and its text */
#define NEARER 8.0 /* to another part than to its own */
#define NEARER_BY 0.15 /* g */
#define BESIDE_FLAG 4.0 /* level with the name of a rail or net, and near: read as one with it */
#define APART_FROM_FLAG 0.4 /* g */
#define REACH 14 /* g round a body where its text may stand */

void
ml_label_item_add (MlLabelItem *item, double cost, double x0, double y0, double w, double h, gboolean one_line, int align)
{
  MlLabelCandidate candidate = { cost, { x0, y0, x0 + w, y0 + h }, one_line, FALSE, align };

  g_array_append_val (item->candidates, candidate);
}

gboolean
ml_label_item_has_value (const MlLabelItem *item)
{
  return item->value[0] != '\0';
}

static double
text_w (const MlLabelItem *item, gboolean one_line)
{
  return 0.1 + (one_line ? item->joint_w : MAX (item->name_w, item->value_w));
}

static double
text_h (const MlLabelItem *item, gboolean one_line)
{
  return one_line || !ml_label_item_has_value (item) ? ML_TEXT_LINE : 2 * ML_TEXT_LINE;
}

/* Right, left, above and below a body, at 6 gaps and 9 shifts, in two lines or one. */
static void
add_round (MlLabelItem *item, const MlBox *body, gboolean standing, gboolean mirrored)
{
  static const double gaps[] = { 0.25, 0.8, 1.5, 2.5, 3.5, 5 }, shifts[] = { 0, 0.6, -0.6, 1.2, -1.2, 2, -2, 3, -3 };
  double cx = (body->x0 + body->x1) / 2, cy = (body->y0 + body->y1) / 2, hw = (body->x1 - body->x0) / 2, hh = (body->y1 - body->y0) / 2;
  int one_line;
  guint g, s;

  for (one_line = ml_label_item_has_value (item) ? 0 : 1; one_line < 2; one_line++)
    for (g = 0; g < G_N_ELEMENTS (gaps); g++)
      for (s = 0; s < G_N_ELEMENTS (shifts); s++)
        {
          double w = text_w (item, one_line), h = text_h (item, one_line), gap = gaps[g], off = shifts[s];
          double form = ml_label_item_has_value (item) && one_line ? 1 : 0, cost = gap * 1.6 + fabs (off) * 0.8 + form * 1.5 - 0.4;
          double flat = cost - (standing ? 0 : 1.2 * form);
          ml_label_item_add (item, cost + (standing ? 0 : 6) + (mirrored && standing ? 2 : 0), cx + hw + gap, cy - h / 2 + off, w, h, one_line, -1);
          ml_label_item_add (item, cost + (standing ? 1.2 : 6.5), cx - hw - gap - w, cy - h / 2 + off, w, h, one_line, 1);
          ml_label_item_add (item, flat + (standing ? 5 : 0), cx - w / 2 + off, cy - hh - gap - h, w, h, one_line, 0);
          ml_label_item_add (item, flat + (standing ? 5.5 : 1.2), cx - w / 2 + off, cy + hh + gap, w, h, one_line, 0);
        }
}

/* Beside the tip of an amplifier's triangle. */
static void
add_beside_tip (MlLabelItem *item, const MlBox *body, gboolean mirrored)
{
  static const double shifts[] = { -0.3, 0.4, 1, 2 };
  double cx = (body->x0 + body->x1) / 2, cy = (body->y0 + body->y1) / 2, w = text_w (item, FALSE), h = text_h (item, FALSE);
  guint i;

  for (i = 0; i < G_N_ELEMENTS (shifts); i++)
    {
      double x = mirrored ? cx - 0.8 - shifts[i] - w : cx + 0.8 + shifts[i];
      ml_label_item_add (item, -0.5 + shifts[i], x, cy - 2.2 - h / 2, w, h, FALSE, mirrored ? 1 : -1);
      ml_label_item_add (item, -0.3 + shifts[i], x, cy + 2.2 - h / 2, w, h, FALSE, mirrored ? 1 : -1);
    }
}

static void
add_round_box (MlLabelItem *item, const MlBox *box)
{
  double w = text_w (item, TRUE), h = ML_TEXT_LINE;

  ml_label_item_add (item, -0.1, box->x0, box->y0 - 0.2 - h, w, h, TRUE, -1);
  ml_label_item_add (item, 0.5, box->x1 - w, box->y0 - 0.2 - h, w, h, TRUE, 1);
  ml_label_item_add (item, 0.6, box->x0, box->y1 + 0.2, w, h, TRUE, -1);
  ml_label_item_add (item, 0.7, box->x1 - w, box->y1 + 0.2, w, h, TRUE, 1);
}

/* Outwards from one arm of a diamond of four diodes. */
static void
add_outwards (MlLabelItem *item, const MlSceneSymbol *symbol)
{
  static const double gaps[] = { 0, 0.3, 0.7, 1.2, 1.8, 2.5, 3.5, 4.5 }, ups[] = { 0, 0.4, 0.9, 1.5, 2.5 };
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
          ml_label_item_add (item, gaps[g] + ups[u] + (one_line && ml_label_item_has_value (item) ? 1.5 : 0), sx > 0 ? x : x - w, sy > 0 ? y : y - h, w, h,
                         one_line, sx > 0 ? -1 : 1);
        }
}

/* Into the diamond, level with its corners, where wires and flags leave no room outside: towards the own arm, lest it be read as its neighbour's. */
static void
add_inwards (MlLabelItem *item, const MlSceneSymbol *symbol)
{
  static const double asides[] = { 0.3, 0.6, 0.9 };
  MlPoint middle = ml_place_point (&symbol->place, 2, -2), centre = ml_place_point (&symbol->place, 4, 0);
  double sx = middle.x > centre.x ? 1 : -1, sy = middle.y > centre.y ? 1 : -1, w = text_w (item, TRUE), h = ML_TEXT_LINE;
  guint i;

  for (i = 0; i < G_N_ELEMENTS (asides); i++)
    {
      double x = centre.x + sx * asides[i];
      ml_label_item_add (item, INWARDS + asides[i], sx > 0 ? x : x - w, centre.y + sy * 0.25 - h / 2, w, h, TRUE, sx > 0 ? -1 : 1);
    }
}

static gboolean
meets_own_pin_name (const MlLabelling *l, int part, const MlBox *box)
{
  guint i;

  for (i = 0; i < l->labels->len; i++)
    {
      const MlSceneLabel *label = &g_array_index (l->labels, MlSceneLabel, i);
      if (label->part == part && ml_boxes_meet (box, &label->box))
        return TRUE;
    }
  return FALSE;
}

static gboolean
fits_inside (const MlLabelling *l, const MlSceneSymbol *symbol, const MlLabelItem *item, MlBox *ret_box)
{
  double cx = (symbol->box.x0 + symbol->box.x1) / 2, cy = (symbol->box.y0 + symbol->box.y1) / 2;
  double w = text_w (item, FALSE), h = text_h (item, FALSE);
  MlBox wide = { cx - w / 2 - 1, cy - h / 2, cx + w / 2 + 1, cy + h / 2 }; /* nearer it would be read as one with a pin's name */

  *ret_box = (MlBox){ cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2 };
  return w < symbol->box.x1 - symbol->box.x0 - 0.6 && h < symbol->box.y1 - symbol->box.y0 - 0.4
         && !meets_own_pin_name (l, symbol->part, &wide);
}

static int
by_cost (gconstpointer a, gconstpointer b)
{
  const MlLabelCandidate *p = a, *q = b;

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
  if ((text->x0 >= body->x1 || text->x1 <= body->x0) && text->y1 <= body->y0) /* askew: what a line from one to the other would cross */
    gap.y1 = body->y0;
  else if ((text->x0 >= body->x1 || text->x1 <= body->x0) && text->y0 >= body->y1)
    gap.y0 = body->y1;
  return gap;
}

/* A wire or another part between a part and its text makes the text look like another's. */
static void
shun_what_is_behind (const MlLabelling *l, const MlBox *body, MlLabelItem *item)
{
  guint i;

  for (i = 0; i < item->candidates->len; i++)
    {
      MlLabelCandidate *candidate = &g_array_index (item->candidates, MlLabelCandidate, i);
      MlBox gap = gap_between (body, &candidate->box);
      if (gap.x1 > gap.x0 && gap.y1 > gap.y0 && ml_labels_hit (l, &gap))
        candidate->cost += BEHIND;
    }
}

/* The eye gives a name to what stands nearest. */
static void
shun_other_parts (const MlLabelling *l, const MlSceneSymbol *symbol, MlLabelItem *item)
{
  const MlBox *body = &symbol->body, around = { body->x0 - REACH, body->y0 - REACH, body->x1 + REACH, body->y1 + REACH };
  g_autofree double *own = g_new (double, MAX (item->candidates->len, 1));
  guint i, k;

  for (k = 0; k < item->candidates->len; k++)
    own[k] = ml_boxes_gap (&g_array_index (item->candidates, MlLabelCandidate, k).box, body);
  for (i = 0; i < l->scene->n_symbols; i++)
    {
      const MlSceneSymbol *other = &l->scene->symbols[i];
      if (other->part == symbol->part || !ml_boxes_meet (&around, &other->body))
        continue;
      for (k = 0; k < item->candidates->len; k++)
        {
          MlLabelCandidate *candidate = &g_array_index (item->candidates, MlLabelCandidate, k);
          candidate->nearer |= ml_boxes_gap (&candidate->box, &other->body) + NEARER_BY < own[k];
        }
    }
  for (k = 0; k < item->candidates->len; k++)
    if (g_array_index (item->candidates, MlLabelCandidate, k).nearer)
      g_array_index (item->candidates, MlLabelCandidate, k).cost += NEARER;
}

/* "V5 yellow" is nobody's name. */
static void
shun_names_of_flags (const MlLabelling *l, const MlBox *body, MlLabelItem *item)
{
  const MlBox around = { body->x0 - REACH, body->y0 - REACH, body->x1 + REACH, body->y1 + REACH };
  guint i, k;

  for (i = 0; i < l->scene->n_flags; i++)
    {
      const MlSceneFlag *flag = &l->scene->flags[i];
      MlBox wide = { flag->box.x0 - APART_FROM_FLAG, flag->box.y0 + 0.2, flag->box.x1 + APART_FROM_FLAG, flag->box.y1 - 0.2 };
      if (flag->kind == ML_FLAG_REFERENCE || !ml_boxes_meet (&around, &flag->box))
        continue;
      for (k = 0; k < item->candidates->len; k++)
        {
          MlLabelCandidate *candidate = &g_array_index (item->candidates, MlLabelCandidate, k);
          if (ml_boxes_meet (&wide, &candidate->box))
            candidate->cost += BESIDE_FLAG;
        }
    }
}

/* Drops candidates that lie on something. FALSE, and all stay, when all do. */
static gboolean
drop_hit (const MlLabelling *l, MlLabelItem *item)
{
  GArray *all = item->candidates;
  guint i, n = 0;

  for (i = 0; i < all->len; i++)
    {
      MlLabelCandidate candidate = g_array_index (all, MlLabelCandidate, i);
      if (ml_labels_hit (l, &candidate.box))
        continue;
      g_array_index (all, MlLabelCandidate, i) = g_array_index (all, MlLabelCandidate, n);
      g_array_index (all, MlLabelCandidate, n++) = candidate;
    }
  if (n > 0)
    g_array_set_size (all, n);
  return n > 0;
}

void
ml_labels_list (MlLabelling *l, const MlSceneSymbol *symbol, MlLabelItem *item)
{
  MlKind kind = l->scene->board->parts[symbol->part].kind->kind;
  gboolean boxy = symbol->shape == ML_SHAPE_BOX || kind == ML_KIND_OPTO || kind == ML_KIND_BRIDGE;
  gboolean free;
  MlBox inside;

  item->value_w = ml_text_width (item->value, ML_TEXT_HEIGHT);
  item->joint_w = ml_label_item_has_value (item) ? item->name_w + item->gap_w + item->value_w : item->name_w;
  g_array_set_size (item->candidates, 0);
  item->inside = symbol->shape == ML_SHAPE_BOX && fits_inside (l, symbol, item, &inside);
  if (item->inside)
    {
      ml_label_item_add (item, 0, inside.x0, inside.y0, inside.x1 - inside.x0, inside.y1 - inside.y0, FALSE, 0);
      return;
    }
  if (strcmp (symbol->name, "diode-diagonal") == 0)
    {
      add_outwards (item, symbol);
      add_inwards (item, symbol);
    }
  else
    add_round (item, &symbol->body,
               !boxy && !ml_circuit_is_amplifier (kind) && (ml_circuit_is_transistor (kind) || (symbol->place.turn & 1) == 0),
               symbol->place.mirror);
  if (ml_circuit_is_amplifier (kind) && (symbol->place.turn & 1) == 0)
    add_beside_tip (item, &symbol->body, symbol->place.mirror);
  if (boxy)
    add_round_box (item, &symbol->body);
  free = drop_hit (l, item);
  if (!boxy)
    shun_what_is_behind (l, &symbol->body, item);
  shun_other_parts (l, symbol, item);
  shun_names_of_flags (l, &symbol->body, item);
  g_array_sort (item->candidates, by_cost);
  /* Where nothing is free the cheapest stays, to be found wanting afterwards. */
  g_array_set_size (item->candidates, free ? MIN (item->candidates->len, KEPT) : l->care == ML_LABELS_LAST_RESORT ? 0 : 1);
}
