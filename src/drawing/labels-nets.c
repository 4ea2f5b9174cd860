/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names of nets: above the longest level run of wire, or not at all. */
#include "drawing/labels-private.h"

#include <string.h>

#define NET_HEIGHT (0.85 * ML_TEXT_HEIGHT)
#define MARKED 3.0 /* of a net's name where the mark round a part would touch it */
#define MARK_REACH 1.0 /* g from a body: gap and stroke of the widest mark */
#define RINGED 0.6 /* of one that the ring round a selected pin would touch: less than what a longer piece of wire is worth */
#define IN_LINE 1.2 /* with another text, closer than words that do not belong together */
#define RAISED 1 /* of the heights that are tried */
#define RING_REACH 0.8 /* g from a pin */

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
      if (label->text != NULL && ml_labels_read_as_one (box, &label->box, ML_LABELS_NO_LESS_X))
        return TRUE;
    }
  return FALSE;
}

/* Between two wires it is read with the nearer one. */
static gboolean
is_nearer_to_other (const MlScene *scene, int net, const MlBox *box, double own_y)
{
  const double own = MAX (own_y - box->y1, box->y0 - own_y);
  guint i;

  for (i = 0; i < scene->n_wires; i++)
    {
      const MlSceneWire *wire = &scene->wires[i];
      const double gap = MAX (wire->a.y - box->y1, box->y0 - wire->a.y);
      if (wire->net != net && fabs (wire->a.y - wire->b.y) < 1e-6 && MIN (wire->a.x, wire->b.x) < box->x1 && MAX (wire->a.x, wire->b.x) > box->x0 && gap < own)
        return TRUE;
    }
  return FALSE;
}

static void
name_net (MlLabelling *l, int net)
{
  static const double along[] = { 0.5, 0.3, 0.7, 0.15, 0.85 }, above[] = { -1.15, -1.85, 0.2 }, dearer[] = { 0, 0.45, 1 };
  const MlNet *of = &l->scene->board->nets[net];
  g_autofree char *text = ml_text_fitted (of->label != NULL ? of->label : of->name, NET_HEIGHT, ML_TEXT_WIDEST);
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
            if (cost >= best || is_nearer_to_other (l->scene, net, &box, wire->a.y)) /* rather no name than a wrong one */
              continue;
            best = cost;
            choice = box;
          }
    }
  if (best < G_MAXDOUBLE)
    {
      ml_labels_add (l, ML_LABEL_NET, -1, -1, net, text, choice, 0);
      ml_labels_add_obstacle (l, choice);
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

void
ml_labels_name_nets (MlLabelling *l, gboolean show_generated)
{
  guint i;

  for (i = 0; i < l->scene->board->n_nets; i++)
    if (shows_name (l, (int) i, show_generated))
      name_net (l, (int) i);
}
