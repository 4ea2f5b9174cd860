/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which pins of a chip nobody knows are its supply and its ground, where the board file does not say: by what the pins are called, by the
 * reference, and by the way of least resistance from whatever makes a voltage. What another such chip puts out is no way: it may be a signal. */
#include "board/board-private.h"
#include "board/parameters.h"

#include <math.h>
#include <string.h>

/* Ohms to weigh one way against another. Round figures; only their order matters. */
#define CLOSED_OHM 0.1      /* a link, a fuse, a winding, a switch */
#define JUNCTION_OHM 2.0    /* a diode in its forward direction */
#define PASS_OHM 20.0       /* a pass transistor */
#define SUPPLY_MOST_OHM 5e3 /* what comes over more than this is a signal */

/* Written on chips and in data sheets; common practice. */
static const char *const supply_names[] = { "VCC", "VDD", "V+", "VS+", "VCC1", "VDD1", "AVDD", "DVDD", "VIN", "VBAT", "VM", NULL };
static const char *const ground_names[] = { "GND", "VSS", "AGND", "DGND", "PGND", "GND1", "VEE", "V-", "0V", NULL };

typedef struct { double *ohm; const MlBoard *board; gboolean shorter; } Feed;

static void
reach (Feed *feed, int net, double ohm)
{
  if (net < 0 || net == feed->board->reference || ohm >= feed->ohm[net])
    return;
  feed->ohm[net] = ohm;
  feed->shorter = TRUE;
}

static void
pass (Feed *feed, const MlPart *part, guint from, guint to, double ohm)
{
  if (part->pins[from].net >= 0)
    reach (feed, part->pins[to].net, feed->ohm[part->pins[from].net] + ohm);
}

static void
pass_both (Feed *feed, const MlPart *part, guint a, guint b, double ohm)
{
  pass (feed, part, a, b, ohm);
  pass (feed, part, b, a, ohm);
}

static double
resistance_of (const MlPart *part)
{
  MlParameter value;

  return ml_part_parameter (part, "value", &value) && value.centre > 0 ? value.centre : INFINITY;
}

/* Where a part lets a supply through, in the direction in which it does. */
static void
pass_part (Feed *feed, const MlPart *part)
{
  switch (part->kind->kind)
    {
    case ML_KIND_LINK: case ML_KIND_FUSE: case ML_KIND_INDUCTOR: case ML_KIND_SWITCH:
      pass_both (feed, part, 0, 1, CLOSED_OHM);
      break;
    case ML_KIND_CHANGEOVER: case ML_KIND_CONTACT:
      pass_both (feed, part, 0, 1, CLOSED_OHM);
      pass_both (feed, part, 0, 2, CLOSED_OHM);
      break;
    case ML_KIND_RESISTOR:
      pass_both (feed, part, 0, 1, resistance_of (part));
      break;
    case ML_KIND_DIODE: case ML_KIND_THYRISTOR:
      pass (feed, part, 0, 1, JUNCTION_OHM);
      break;
    case ML_KIND_BRIDGE:
      pass (feed, part, 0, 2, JUNCTION_OHM);
      pass (feed, part, 1, 2, JUNCTION_OHM);
      break;
    case ML_KIND_NPN: case ML_KIND_NMOS:
      pass (feed, part, 0, 2, PASS_OHM);
      break;
    case ML_KIND_PNP: case ML_KIND_PMOS:
      pass (feed, part, 2, 0, PASS_OHM);
      break;
    case ML_KIND_REGULATOR: case ML_KIND_ADJUSTABLE: case ML_KIND_CONVERTER:
      reach (feed, part->pins[1].net, 0);
      break;
    case ML_KIND_BATTERY:
      reach (feed, part->pins[0].net, 0);
      break;
    default:
      break;
    }
}

/* Every net's least resistance from a supply, a battery, a regulator or a converter; infinite where none reaches it. */
static double *
find_feeds (MlBoardReader *reader)
{
  Feed feed = { g_new (double, reader->nets->len + 1), reader->board, TRUE };

  for (guint i = 0; i <= reader->nets->len; i++)
    feed.ohm[i] = INFINITY;
  for (guint i = 0; i < reader->conditions->len; i++)
    {
      const MlCondition *condition = &g_array_index (reader->conditions, MlCondition, i);
      for (guint k = 0; k < condition->n_supplies; k++)
        reach (&feed, condition->supplies[k].plus, 0);
    }
  while (feed.shorter)
    {
      feed.shorter = FALSE;
      for (guint i = 0; i < reader->parts->len; i++)
        pass_part (&feed, &g_array_index (reader->parts, MlPart, i));
    }
  return feed.ohm;
}

static int
named_pin (MlBoardReader *reader, MlPart *part, MlKey key)
{
  const MlAttribute *attribute = ml_part_attribute (part, key);
  int pin;

  if (attribute == NULL)
    return -1;
  pin = ml_part_find_pin (part, attribute->text);
  if (pin < 0)
    {
      g_autofree char *pins = ml_part_pin_words (part);
      SAID_AT (reader, attribute->line - 1, attribute->column, "%s has no pin '%s'; its pins are: %s", part->name, attribute->text, pins);
    }
  return pin;
}

/* The first of the names that a joined pin has. */
static int
called_pin (const MlPart *part, const char *const *names)
{
  for (guint k = 0; names[k]; k++)
    for (guint i = 0; i < part->n_pins; i++)
      if (part->pins[i].net >= 0 && (int) i != part->ground_pin && g_ascii_strcasecmp (part->pins[i].name, names[k]) == 0)
        return (int) i;
  return -1;
}

static int
pin_on (const MlPart *part, int net)
{
  for (guint i = 0; i < part->n_pins; i++)
    if (net >= 0 && part->pins[i].net == net)
      return (int) i;
  return -1;
}

static int
best_fed_pin (const MlPart *part, const double *ohm)
{
  int best = -1;

  for (guint i = 0; i < part->n_pins; i++)
    if (part->pins[i].net >= 0 && (int) i != part->ground_pin && ohm[part->pins[i].net] <= SUPPLY_MOST_OHM
        && (best < 0 || ohm[part->pins[i].net] < ohm[part->pins[best].net]))
      best = (int) i;
  return best;
}

void
ml_board_reader_feed_blocks (MlBoardReader *reader)
{
  g_autofree double *ohm = NULL;
  g_autoptr (GPtrArray) blocks = g_ptr_array_new ();

  for (guint i = 0; i < reader->parts->len; i++)
    {
      MlPart *part = &g_array_index (reader->parts, MlPart, i);

      if (part->kind->kind != ML_KIND_BLOCK)
        continue;
      g_ptr_array_add (blocks, part);
      part->supply_pin = named_pin (reader, part, ML_KEY_SUPPLY);
      part->ground_pin = named_pin (reader, part, ML_KEY_GROUND);
      if (part->ground_pin < 0)
        part->ground_pin = pin_on (part, reader->board->reference);
      if (part->ground_pin < 0)
        part->ground_pin = called_pin (part, ground_names);
      if (part->supply_pin < 0)
        part->supply_pin = called_pin (part, supply_names);
    }
  if (!blocks->len)
    return;
  ohm = find_feeds (reader);
  for (guint i = 0; i < blocks->len; i++)
    {
      MlPart *part = blocks->pdata[i];

      if (part->supply_pin < 0)
        part->supply_pin = best_fed_pin (part, ohm);
    }
}
