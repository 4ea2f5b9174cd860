/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which file of data/symbols stands for a symbol: finer than its geometry. IEC 60617 draws switches and contacts at rest; so are they here while
 * no condition is shown, and as they stand in the one that is, since flow and readings would belie them otherwise. */
#include "drawing/paint.h"

#include <string.h>

#include "drawing/paint-private.h"
#include "drawing/throw.h"

/* Whether the supply pins of an amplifier are drawn at another section of its chip. */
static gboolean
is_section (const MlScene *scene, const MlSceneSymbol *symbol)
{
  for (guint i = symbol->first_pin + symbol->n_pins; i < scene->n_pins; i++)
    if (scene->pins[i].part == symbol->part)
      return TRUE;
  return FALSE;
}

static const char *
amplifier_artwork (gboolean compares, gboolean plus_above, gboolean section)
{
  static const char *const names[2][2][2] = { { { "opamp", "opamp-section" }, { "opamp-plus-above", "opamp-plus-above-section" } },
                                              { { "comparator", "comparator-section" },
                                                { "comparator-plus-above", "comparator-plus-above-section" } } };

  return names[compares][plus_above][section];
}

/* blade_x: where the middle of the blade is, 2 g below the symbol's origin. */
typedef struct { const char *at_rest; struct { const char *name; double blade_x; } stands[3]; } Throws;

static const Throws throws[] = {
  { "switch", { { "switch", -0.53 }, { "switch-closed", -0.17 }, { "switch", -0.53 } } },
  { "contact", { { "contact", -0.53 }, { "switch-closed", -0.17 }, { "contact", -0.53 } } },
  { "contact-nc", { { "contact-nc", 0.32 }, { "contact-nc-open", 0.58 }, { "contact-nc", 0.32 } } },
  { "changeover", { { "changeover", 0.67 }, { "changeover-b", 1.33 }, { "changeover-middle", 1 } } },
};

static const Throws *
throws_of (const MlSceneSymbol *symbol)
{
  for (guint i = 0; symbol->shape == ML_SHAPE_SYMBOL && i < G_N_ELEMENTS (throws); i++)
    if (strcmp (throws[i].at_rest, symbol->name) == 0)
      return &throws[i];
  return NULL;
}

const char *
ml_paint_artwork (const MlScene *scene, const MlSceneSymbol *symbol, const MlPaintStyle *style)
{
  const MlPart *part = symbol->part >= 0 ? &scene->board->parts[symbol->part] : NULL;
  const Throws *own = throws_of (symbol);
  const MlAttribute *family;

  if (part == NULL || part->kind == NULL)
    return symbol->name;
  if (own != NULL)
    return own->stands[ml_throw_of (scene->board, symbol->part, style->condition, style->point)].name;
  if (symbol->shape == ML_SHAPE_SYMBOL && (part->kind->kind == ML_KIND_OPAMP || part->kind->kind == ML_KIND_COMPARATOR))
    return amplifier_artwork (part->kind->kind == ML_KIND_COMPARATOR, strcmp (symbol->name, "opamp-plus-above") == 0, is_section (scene, symbol));
  if (part->kind->kind != ML_KIND_DIODE || strcmp (symbol->name, "diode") != 0)
    return symbol->name;
  family = ml_part_attribute (part, ML_KEY_FAMILY);
  return family != NULL && g_strcmp0 (family->text, "schottky") == 0 ? "schottky" : symbol->name;
}

MlPaintStyle
ml_paint_style_take (MlPaintStyle style, const MlScene *scene, const MlOverlay *overlay)
{
  const MlBoard *board = scene->board;
  const gboolean shown = overlay != NULL && overlay->condition >= 0 && overlay->condition < (int) board->n_conditions;

  style.condition = shown ? &board->conditions[overlay->condition] : NULL;
  style.point = shown ? overlay->point : NULL;
  return style;
}

MlPoint
ml_paint_link_end (const MlScene *scene, const MlSceneLink *link, const MlPaintStyle *style)
{
  const int at = ml_scene_symbol (scene, link->part_b);
  const MlSceneSymbol *contact = at >= 0 ? &scene->symbols[at] : NULL;
  const Throws *own = contact != NULL ? throws_of (contact) : NULL;
  double blade_x;

  if (own == NULL || (contact->place.turn & 1) != 0) /* lying: its blade runs along the link, not across it */
    return link->b;
  blade_x = own->stands[ml_throw_of (scene->board, link->part_b, style->condition, style->point)].blade_x;
  return (MlPoint) { ml_place_point (&contact->place, blade_x, 2).x, link->b.y };
}
