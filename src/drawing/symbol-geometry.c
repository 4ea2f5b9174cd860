/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/symbol-geometry.h"

#include <string.h>

#define UP ML_SIDE_UP
#define DOWN ML_SIDE_DOWN
#define LEFT ML_SIDE_LEFT
#define RIGHT ML_SIDE_RIGHT

/* Two pins, 4 g apart, drawn standing: pin 1, anode or plus above. */
#define STANDING(file, one, one_also, two, two_also, n, ...) \
  { file, ML_SHAPE_SYMBOL, 2, 1, n, { { one, one_also, 0, 0, UP }, { two, two_also, 0, 4, DOWN } }, { { -1, 1, 1, 3 } }, { __VA_ARGS__ } }
#define PLAIN(file, x0, y0, x1, y1) STANDING (file, "1", "plus", "2", "minus", 1, { x0, y0, x1, y1 })
#define DIODE(file, x0, y0, x1, y1) STANDING (file, "anode", NULL, "cathode", NULL, 1, { x0, y0, x1, y1 })

/* A control electrode on the left, the main path on the right: which electrode stands above depends on the polarity. */
#define TRANSISTOR(file, control, upper, lower) \
  { file, ML_SHAPE_SYMBOL, 3, 1, 1, \
    { { control, NULL, 0, 2, LEFT }, { upper, NULL, 3, 0, UP }, { lower, NULL, 3, 4, DOWN } }, { { 1, 1, 4, 3 } }, { { 0.9, 0.5, 3.9, 3.5 } } }

#define AMPLIFIER(file, upper, lower) \
  { file, ML_SHAPE_SYMBOL, 5, 2, 3, \
    { { upper, NULL, 0, 1, LEFT }, { lower, NULL, 0, 3, LEFT }, { "out", NULL, 6, 2, RIGHT }, \
      { "positive", NULL, 3, 0, UP }, { "negative", NULL, 3, 4, DOWN } }, \
    { { 1, 1, 5, 3 }, { 1, 0, 2, 4 } }, { { 0.9, -0.5, 2.2, 4.5 }, { 2.2, 0.1, 3.5, 3.9 }, { 3.5, 0.7, 5.5, 3.3 } } }

#define THREE_PIN_BOX(file, third) \
  { file, ML_SHAPE_BOX, 3, 1, 1, { { "in", NULL, 0, 2, LEFT }, { "out", NULL, 8, 2, RIGHT }, { third, NULL, 4, 5, DOWN } }, \
    { { 1, 0, 7, 4 } }, { { 1, 0, 7, 4 } } }

static const MlSymbolGeometry table[] = {
  PLAIN ("resistor", -0.55, 0.7, 0.55, 3.3),
  PLAIN ("link", -0.3, 0.6, 0.3, 3.4),
  PLAIN ("inductor", -0.55, 0.7, 0.55, 3.3),
  PLAIN ("capacitor", -1.0, 1.6, 1.0, 2.4),
  PLAIN ("capacitor-polar", -1.15, 0.8, 1.0, 2.4),
  PLAIN ("thermistor", -1.05, 0.7, 1.0, 3.4),
  PLAIN ("varistor", -1.05, 0.7, 1.0, 3.4),
  PLAIN ("tvs", -0.9, 0.5, 0.9, 3.5),
  PLAIN ("fuse", -0.55, 0.7, 0.55, 3.3),
  PLAIN ("coil", -1.05, 1.2, 1.05, 2.8),
  PLAIN ("coil-motor", -1.1, 0.9, 1.1, 3.1),
  PLAIN ("coil-heater", -0.55, 0.7, 0.55, 3.3),
  PLAIN ("coil-winding", -0.15, 0.4, 0.75, 3.6),
  PLAIN ("switch", -1.15, 0.8, 0.3, 3.2),
  PLAIN ("lamp", -1.1, 0.9, 1.1, 3.1),
  STANDING ("battery", "plus", NULL, "minus", NULL, 1, { -1.15, 0.8, 1.05, 2.4 }),
  DIODE ("diode", -0.85, 1.1, 0.85, 2.9),
  DIODE ("zener", -0.9, 1.1, 0.9, 2.9),
  DIODE ("led", -1.85, 1.0, 0.85, 3.3),
  /* One arm of a bridge of four single diodes drawn as a diamond: anode at the left corner, cathode at the upper one. */
  { "diode-diagonal", ML_SHAPE_SYMBOL, 2, 1, 3, { { "anode", NULL, 0, 0, LEFT }, { "cathode", NULL, 4, -4, UP } }, { { 1, -3, 4, 0 } },
    { { 0.1, -1.3, 1.3, -0.1 }, { 0.9, -3.1, 3.1, -0.9 }, { 2.7, -3.9, 3.9, -2.7 } } },
  { "potentiometer", ML_SHAPE_SYMBOL, 3, 1, 2, { { "1", NULL, 0, 0, UP }, { "2", NULL, 0, 4, DOWN }, { "wiper", NULL, 2, 2, RIGHT } },
    { { -1, 1, 1, 3 } }, { { -0.55, 0.7, 0.6, 3.3 }, { 0.6, 1.5, 1.2, 2.5 } } },
  { "shunt", ML_SHAPE_SYMBOL, 3, 1, 1, { { "cathode", NULL, 0, 0, UP }, { "anode", NULL, 0, 4, DOWN }, { "reference", NULL, -2, 2, LEFT } },
    { { -1, 1, 1, 3 } }, { { -0.95, 1.1, 0.95, 2.9 } } },
  { "thyristor", ML_SHAPE_SYMBOL, 3, 1, 1, { { "anode", NULL, 0, 0, UP }, { "cathode", NULL, 0, 4, DOWN }, { "gate", NULL, -2, 3, LEFT } },
    { { -1, 1, 1, 3 } }, { { -1.1, 1.1, 0.85, 3.1 } } },
  { "triac", ML_SHAPE_SYMBOL, 3, 1, 1, { { "1", NULL, 0, 0, UP }, { "2", NULL, 0, 4, DOWN }, { "gate", NULL, -2, 3, LEFT } },
    { { -1, 1, 1, 3 } }, { { -1.4, 1.1, 1.4, 3.1 } } },
  { "changeover", ML_SHAPE_SYMBOL, 3, 1, 1, { { "common", NULL, 1, 4, DOWN }, { "a", "nc", 0, 0, UP }, { "b", "no", 2, 0, UP } },
    { { 0, 1, 2, 3 } }, { { -0.25, 0.8, 2.25, 3.2 } } },
  { "contact", ML_SHAPE_SYMBOL, 2, 1, 1, { { "no", NULL, 0, 0, UP }, { "common", NULL, 0, 4, DOWN } }, { { -1, 1, 1, 3 } },
    { { -1.15, 0.8, 0.3, 3.2 } } },
  { "contact-nc", ML_SHAPE_SYMBOL, 2, 1, 1, { { "nc", NULL, 0, 0, UP }, { "common", NULL, 0, 4, DOWN } }, { { -1, 1, 1, 3 } },
    { { -0.3, 0.6, 1.15, 3.2 } } },
  { "bridge", ML_SHAPE_SYMBOL, 4, 5, 12,
    { { "ac1", NULL, 0, 4, LEFT }, { "ac2", NULL, 8, 4, RIGHT }, { "plus", NULL, 4, 0, UP }, { "minus", NULL, 4, 8, DOWN } },
    { { 1, 1, 7, 7 }, { 0, 0, 0, 2 }, { 0, 6, 0, 8 }, { 8, 0, 8, 2 }, { 8, 6, 8, 8 } },
    { { 0.1, 2.7, 1.3, 3.9 }, { 0.9, 0.9, 3.1, 3.1 }, { 2.7, 0.1, 3.9, 1.3 }, { 4.1, 0.1, 5.3, 1.3 }, { 4.9, 0.9, 7.1, 3.1 },
      { 6.7, 2.7, 7.9, 3.9 }, { 6.7, 4.1, 7.9, 5.3 }, { 4.9, 4.9, 7.1, 7.1 }, { 4.1, 6.7, 5.3, 7.9 }, { 2.7, 6.7, 3.9, 7.9 },
      { 0.9, 4.9, 3.1, 7.1 }, { 0.1, 4.1, 1.3, 5.3 } } },
  TRANSISTOR ("npn", "base", "collector", "emitter"),
  TRANSISTOR ("pnp", "base", "emitter", "collector"),
  TRANSISTOR ("nmos", "gate", "drain", "source"),
  TRANSISTOR ("pmos", "gate", "source", "drain"),
  TRANSISTOR ("njfet", "gate", "drain", "source"),
  TRANSISTOR ("pjfet", "gate", "source", "drain"),
  AMPLIFIER ("opamp", "inverting", "noninverting"),
  AMPLIFIER ("opamp-plus-above", "noninverting", "inverting"),
  THREE_PIN_BOX ("regulator", "ground"),
  THREE_PIN_BOX ("adjustable", "adjust"),
  THREE_PIN_BOX ("converter", "ground"),
  { "opto", ML_SHAPE_SYMBOL, 4, 1, 1,
    { { "anode", NULL, 0, 1, LEFT }, { "cathode", NULL, 0, 5, LEFT }, { "collector", NULL, 8, 1, RIGHT }, { "emitter", NULL, 8, 5, RIGHT } },
    { { 1, 0, 7, 6 } }, { { 1, 0, 7, 6 } } },
};

/* By kind; the coil's `show`, the polar capacitor, the contact's pins and the amplifier's inputs are told apart in ml_symbol_name. */
static const char *const names_of_kinds[ML_N_KINDS] = {
  [ML_KIND_RESISTOR] = "resistor",     [ML_KIND_LINK] = "link",
  [ML_KIND_INDUCTOR] = "inductor",     [ML_KIND_CAPACITOR] = "capacitor",
  [ML_KIND_POTENTIOMETER] = "potentiometer", [ML_KIND_THERMISTOR] = "thermistor",
  [ML_KIND_VARISTOR] = "varistor",     [ML_KIND_TVS] = "tvs",
  [ML_KIND_FUSE] = "fuse",             [ML_KIND_COIL] = "coil",
  [ML_KIND_SWITCH] = "switch",         [ML_KIND_CHANGEOVER] = "changeover",
  [ML_KIND_CONTACT] = "contact",       [ML_KIND_LAMP] = "lamp",
  [ML_KIND_DIODE] = "diode",           [ML_KIND_LED] = "led",
  [ML_KIND_ZENER] = "zener",           [ML_KIND_BRIDGE] = "bridge",
  [ML_KIND_NPN] = "npn",               [ML_KIND_PNP] = "pnp",
  [ML_KIND_NMOS] = "nmos",             [ML_KIND_PMOS] = "pmos",
  [ML_KIND_NJFET] = "njfet",           [ML_KIND_PJFET] = "pjfet",
  [ML_KIND_THYRISTOR] = "thyristor",   [ML_KIND_TRIAC] = "triac",
  [ML_KIND_REGULATOR] = "regulator",   [ML_KIND_ADJUSTABLE] = "adjustable",
  [ML_KIND_SHUNT] = "shunt",           [ML_KIND_OPAMP] = "opamp",
  [ML_KIND_COMPARATOR] = "opamp",      [ML_KIND_OPTO] = "opto",
  [ML_KIND_CONVERTER] = "converter",   [ML_KIND_BATTERY] = "battery",
  [ML_KIND_CONNECTOR] = "connector",   [ML_KIND_TESTPOINT] = "testpoint",
  [ML_KIND_BLOCK] = "block",
};

guint
ml_symbol_geometry_n (void)
{
  return G_N_ELEMENTS (table);
}

const MlSymbolGeometry *
ml_symbol_geometry_at (guint i)
{
  g_return_val_if_fail (i < G_N_ELEMENTS (table), NULL);
  return &table[i];
}

const MlSymbolGeometry *
ml_symbol_geometry (const char *name)
{
  guint i;

  for (i = 0; i < G_N_ELEMENTS (table); i++)
    if (strcmp (table[i].name, name) == 0)
      return &table[i];
  return NULL;
}

const char *
ml_symbol_name_of_kind (MlKind kind)
{
  return names_of_kinds[kind];
}

static gboolean
has_joined_pin (const MlPart *part, const char *name)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (strcmp (part->pins[i].name, name) == 0)
      return part->pins[i].net >= 0;
  return FALSE;
}

static gboolean
has_pin (const MlPart *part, const char *name)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (strcmp (part->pins[i].name, name) == 0)
      return TRUE;
  return FALSE;
}

static const char *
coil_name (const MlPart *part)
{
  const MlAttribute *show = ml_part_attribute (part, ML_KEY_SHOW);

  if (show == NULL || show->text == NULL)
    return "coil";
  if (strcmp (show->text, "motor") == 0)
    return "coil-motor";
  if (strcmp (show->text, "heater") == 0)
    return "coil-heater";
  return strcmp (show->text, "winding") == 0 ? "coil-winding" : "coil";
}

static const char *
contact_name (const MlPart *part)
{
  gboolean makes = has_joined_pin (part, "no"), breaks = has_joined_pin (part, "nc");

  /* With neither joined yet all three pins must be there to be joined. */
  if (makes == breaks)
    return "changeover";
  return breaks ? "contact-nc" : "contact";
}

/* Turned by two quarters, or by one with the mirror: the true picture would have the positive supply below. */
static gboolean
is_upside_down (const MlPlace *place)
{
  return place->turn == 2 || (place->mirror && (place->turn & 1) != 0);
}

static MlPlace
turned_over (const MlPlace *place)
{
  MlPoint corner = ml_place_point (place, 0, 4);
  MlPlace over = { corner.x, corner.y, (place->turn + 2) & 3, !place->mirror };

  return over;
}

const char *
ml_symbol_name (const MlPart *part, const MlPlace *place, MlPlace *ret_place)
{
  MlKind kind = part->kind->kind;
  const char *name = names_of_kinds[kind];
  MlPlace drawn = { 0 };

  if (place != NULL)
    drawn = *place;
  if (kind == ML_KIND_COIL)
    name = coil_name (part);
  else if (kind == ML_KIND_CAPACITOR && has_pin (part, "plus"))
    name = "capacitor-polar";
  else if (kind == ML_KIND_CONTACT)
    name = contact_name (part);
  else if ((kind == ML_KIND_OPAMP || kind == ML_KIND_COMPARATOR) && is_upside_down (&drawn))
    {
      name = "opamp-plus-above";
      drawn = turned_over (&drawn);
    }
  if (ret_place != NULL)
    *ret_place = drawn;
  return name;
}

MlPlace
ml_symbol_place_of (const char *name, const MlPlace *drawn)
{
  return strcmp (name, "opamp-plus-above") == 0 ? turned_over (drawn) : *drawn;
}

MlBox
ml_symbol_ink (const MlSymbolGeometry *geometry)
{
  MlBox hull = geometry->inks[0];
  guint i;

  for (i = 1; i < geometry->n_inks; i++)
    {
      hull.x0 = MIN (hull.x0, geometry->inks[i].x0);
      hull.y0 = MIN (hull.y0, geometry->inks[i].y0);
      hull.x1 = MAX (hull.x1, geometry->inks[i].x1);
      hull.y1 = MAX (hull.y1, geometry->inks[i].y1);
    }
  return hull;
}

MlPoint
ml_side_step (MlSide side)
{
  static const MlPoint steps[] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 } };

  return steps[side & 3];
}

MlPoint
ml_place_point (const MlPlace *place, double x, double y)
{
  MlPoint p = { place->mirror ? -x : x, y };
  int i;

  for (i = 0; i < (place->turn & 3); i++)
    {
      double t = p.x;
      p.x = -p.y;
      p.y = t;
    }
  p.x += place->x;
  p.y += place->y;
  return p;
}

MlSide
ml_place_side (const MlPlace *place, MlSide side)
{
  int s = (int) side;

  if (place->mirror && (s & 1) == 0)
    s = 2 - s;
  return (MlSide) ((s + place->turn) & 3);
}

MlBox
ml_place_box (const MlPlace *place, MlBox box)
{
  MlPoint a = ml_place_point (place, box.x0, box.y0), b = ml_place_point (place, box.x1, box.y1);
  MlBox placed = { MIN (a.x, b.x), MIN (a.y, b.y), MAX (a.x, b.x), MAX (a.y, b.y) };

  return placed;
}
