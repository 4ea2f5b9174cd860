/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Texts that must stand at their pin: names of a box's pins, and of the rings that stand for a pin each. */
#include "drawing/labels-private.h"
#include "drawing/layout-circuit.h"

#define NEARER_BY 0.15 /* g */
#define LEAST_NAME 3.5 /* g: of a part, before its pin */

/* A fixed text: placed first, an obstacle to all others. */
static void
add_fixed (MlLabelling *l, MlLabelKind kind, int part, int pin, const char *text, MlBox box, int align)
{
  ml_labels_add (l, kind, part, pin, -1, text, box, align);
  ml_labels_add_obstacle (l, box);
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
    = { { 0, 1 }, { 0.5, 1 }, { -0.5, 1 }, { 1, 1 }, { -1, 1 }, { 2, 1 }, { -2, 1 }, { 0, 2 }, { 1, 2 }, { -1, 2 }, { 2, 2 }, { -2, 2 }, { 0, 3.5 }, { 1, 3.5 }, { -1, 3.5 } };
#define BEHIND 1 /* place, the way the wire would go on */
#define ALL_PLACES (4 * G_N_ELEMENTS (ring_places))
#define NEAR_PLACES (4 * 7)

/* The eye would give it to another part. */
static gboolean
is_misread (const MlLabelling *l, const MlSceneSymbol *symbol, const MlBox *box)
{
  const double own = ml_boxes_gap (box, &symbol->body);
  guint i;

  for (i = 0; i < l->scene->n_symbols; i++)
    if (&l->scene->symbols[i] != symbol && ml_boxes_gap (box, &l->scene->symbols[i].body) + NEARER_BY < own)
      return TRUE;
  return FALSE;
}

/* Behind the ring as seen along the wire, else beside it, else askew, else farther off. FALSE when none of the n places is free; the first one then. */
static gboolean
find_ring_place (const MlLabelling *l, const MlSceneSymbol *symbol, const char *text, guint n, gboolean or_misread, MlBox *ret_box, MlSide *ret_side)
{
  const MlScenePin *pin = &l->scene->pins[symbol->first_pin];
  double w = ml_text_width (text, ML_TEXT_HEIGHT);
  guint i;

  for (i = 0; i < n; i++)
    {
      MlSide side = (MlSide) ((pin->side + ring_sides[i & 3]) & 3);
      MlBox box = box_beside (pin->at, side, w, ring_places[i / 4].shift, ring_places[i / 4].off);
      gboolean free = !ml_labels_hit (l, &box) && (or_misread || !is_misread (l, symbol, &box));
      if (i > 0 && !free)
        continue;
      *ret_box = box;
      *ret_side = side;
      if (free)
        return TRUE;
    }
  return FALSE;
}

/* "J1:3"; where that is too wide the part's name gives way, not the pin's. */
static char *
ring_text (const MlPart *part, const MlPin *pin, double widest)
{
  g_autofree char *behind = part->n_pins == 1 ? g_strdup ("") : g_strconcat (":", pin->name, NULL);
  g_autofree char *name = ml_text_fitted (part->name, ML_TEXT_HEIGHT, MAX (widest - ml_text_width (behind, ML_TEXT_HEIGHT), LEAST_NAME));
  g_autofree char *text = g_strconcat (name, behind, NULL);

  return ml_text_fitted (text, ML_TEXT_HEIGHT, ML_TEXT_WIDEST);
}

/* Those whose text may stand behind the ring come first; the others see what is left, and with no room for all of it say less of the part, at last
 * the pin alone. FALSE: not yet. */
static gboolean
name_terminal (MlLabelling *l, const MlSceneSymbol *symbol, gboolean only_behind)
{
  static const struct { guint n_places; gboolean or_misread; } rounds[] = { { NEAR_PLACES, FALSE }, { ALL_PLACES, FALSE }, { ALL_PLACES, TRUE } };
  const int index = l->scene->pins[symbol->first_pin].pin;
  const MlPart *part = &l->scene->board->parts[symbol->part];
  g_autofree char *whole = ring_text (part, &part->pins[index], ML_TEXT_WIDEST), *less = ring_text (part, &part->pins[index], ML_TEXT_WIDEST / 2);
  g_autofree char *least = part->n_pins == 1 ? ring_text (part, &part->pins[index], LEAST_NAME)
                                             : ml_text_fitted (part->pins[index].name, ML_TEXT_HEIGHT, ML_TEXT_WIDEST);
  const char *texts[] = { whole, less, least };
  gboolean found;
  guint i, k = 0;
  MlSide side;
  MlBox box;

  found = find_ring_place (l, symbol, whole, BEHIND, FALSE, &box, &side);
  if (!found && only_behind)
    return FALSE;
  for (i = 0; i < G_N_ELEMENTS (rounds) && !found; i++)
    for (k = 0; k < G_N_ELEMENTS (texts) && !found; k++)
      found = find_ring_place (l, symbol, texts[k], rounds[i].n_places, rounds[i].or_misread, &box, &side);
  k = found && k > 0 ? k - 1 : 0;
  if (!found)
    find_ring_place (l, symbol, whole, BEHIND, TRUE, &box, &side);
  add_fixed (l, ML_LABEL_NAME, symbol->part, index, texts[k], box, side == ML_SIDE_LEFT ? 1 : side == ML_SIDE_RIGHT ? -1 : 0);
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
      g_autofree char *text = ml_text_fitted (part->pins[pin->pin].name, ML_TEXT_HEIGHT, ML_TEXT_WIDEST);
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

void
ml_labels_name_pins (MlLabelling *l)
{
  const MlScene *scene = l->scene;
  g_autofree gboolean *named = g_new0 (gboolean, MAX (scene->n_symbols, 1));
  guint i;

  for (i = 0; i < scene->n_symbols; i++)
    {
      const MlSceneSymbol *symbol = &scene->symbols[i];
      if (symbol->shape == ML_SHAPE_TERMINAL)
        named[i] = name_terminal (l, symbol, TRUE);
      else if (symbol->shape == ML_SHAPE_BOX && ml_circuit_is_free_box (scene->board->parts[symbol->part].kind->kind))
        name_pins (l, symbol);
    }
  for (i = 0; i < scene->n_symbols; i++)
    if (scene->symbols[i].shape == ML_SHAPE_TERMINAL && !named[i])
      name_terminal (l, &scene->symbols[i], FALSE);
}
