/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A text that finds no place where the eye gives it to its part stands farther off, and a thin line with a dot at its end leads to the part
 * (leader lines of technical drawings, ISO 128, from memory). */
#include "drawing/labels-private.h"

#define DOT_WITHIN 0.3 /* g: how far into the body a line runs, at most to its middle */
#define FIRST_WINDOW 10 /* g round a body; doubled until something is free */
#define WINDOWS 7
#define OVER_PART 6.0 /* g of a longer line that are worth a part less under it */
#define OVER_TEXT 40.0 /* only where nothing else is left */
#define LIKE_WIRE 8.0 /* level or upright */
#define GRAIN 0.4 /* g between the boxes that keep texts off a line */

static double
within (double low, double high, double at)
{
  return low > high ? (low + high) / 2 : CLAMP (at, low, high);
}

/* From the edge of a text's box to a point within the body. */
static void
find_lead (const MlBox *text, const MlBox *body, MlPoint *ret_text, MlPoint *ret_body)
{
  double x = within (body->x0 + DOT_WITHIN, body->x1 - DOT_WITHIN, (text->x0 + text->x1) / 2);
  double y = within (body->y0 + DOT_WITHIN, body->y1 - DOT_WITHIN, (text->y0 + text->y1) / 2);

  *ret_body = (MlPoint){ x, y };
  *ret_text = (MlPoint){ CLAMP (x, text->x0, text->x1), CLAMP (y, text->y0, text->y1) };
}

/* What a line costs beside its length. */
static double
cost_on_the_way (const MlLabelling *l, int part, MlPoint a, MlPoint b)
{
  double cost = fabs (a.x - b.x) < 0.3 || fabs (a.y - b.y) < 0.3 ? LIKE_WIRE : 0;
  guint i;

  for (i = 0; i < l->scene->n_symbols; i++)
    if (l->scene->symbols[i].part != part && ml_box_meets_line (&l->scene->symbols[i].body, a, b))
      cost += OVER_PART;
  for (i = 0; i < l->labels->len; i++)
    if (ml_box_meets_line (&g_array_index (l->labels, MlSceneLabel, i).box, a, b))
      cost += OVER_TEXT;
  return cost;
}

/* The best free place within reach of a body that costs less than least; FALSE when there is none. */
static gboolean
search (const MlLabelling *l, const MlLabelItem *item, double w, double h, int reach, double least, MlBox *ret_box)
{
  const MlBox *body = &item->symbol->body;
  const double cx = (body->x0 + body->x1) / 2, cy = (body->y0 + body->y1) / 2;
  const int step = MAX (1, reach / 32);
  gboolean found = FALSE;
  int dx, dy;

  for (dy = -reach; dy <= reach; dy += step)
    for (dx = -reach; dx <= reach; dx += step)
      {
        MlBox box = { cx + dx - w / 2, cy + dy - h / 2, cx + dx + w / 2, cy + dy + h / 2 };
        double cost = ml_boxes_gap (&box, body);
        MlPoint a, b;
        if (cost >= least || ml_labels_hit (l, &box))
          continue;
        find_lead (&box, body, &a, &b);
        cost += cost_on_the_way (l, item->part, a, b);
        if (cost >= least)
          continue;
        least = cost;
        found = TRUE;
        *ret_box = box;
      }
  return found;
}

gboolean
ml_labels_lead_out (MlLabelling *l, MlLabelItem *item)
{
  const double w = 0.1 + item->joint_w, h = ML_TEXT_LINE;
  int i, reach = FIRST_WINDOW;
  MlBox box;

  for (i = 0; i < WINDOWS; i++, reach *= 2)
    if (search (l, item, w, h, reach, i + 1 < WINDOWS ? OVER_TEXT : G_MAXDOUBLE, &box))
      {
        g_array_set_size (item->candidates, 0);
        ml_label_item_add (item, 0, box.x0, box.y0, w, h, TRUE, 0);
        return TRUE;
      }
  return FALSE;
}

void
ml_labels_draw_lead (MlLabelling *l, const MlLabelItem *item, MlSceneLabel *name)
{
  const MlBox *text = &g_array_index (item->candidates, MlLabelCandidate, item->chosen).box;
  double x, y, length;
  int i, n;

  name->led = TRUE;
  find_lead (text, &item->symbol->body, &name->lead[0], &name->lead[1]);
  x = name->lead[1].x - name->lead[0].x;
  y = name->lead[1].y - name->lead[0].y;
  length = hypot (x, y);
  n = (int) (length / GRAIN);
  for (i = 1; i < n; i++)
    {
      const MlPoint at = { name->lead[0].x + x * i / n, name->lead[0].y + y * i / n };
      ml_labels_add_obstacle (l, (MlBox){ at.x - GRAIN / 4, at.y - GRAIN / 4, at.x + GRAIN / 4, at.y + GRAIN / 4 });
    }
}
