/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which pins of a chip nobody knows are its supply and its ground, where the board file does not say: by what the pins are called, by the
 * reference, and by the way of least resistance from whatever makes a voltage. What another such chip puts out is no such way, since it may be a
 * signal; but if many hang on it, it is hardly one. */
#include "board/board-private.h"
#include "board/parameters.h"

#include <math.h>
#include <string.h>

/* Ohms to weigh one way against another. Round figures; only their order matters. */
#define CLOSED_OHM 0.1      /* a link, a fuse, a winding, a switch */
#define JUNCTION_OHM 2.0    /* a diode in its forward direction */
#define PASS_OHM 20.0       /* a pass transistor */
#define SUPPLY_MOST_OHM 5e3 /* what comes over more than this is a signal */
#define GROUND_MOST_OHM 100 /* likewise towards the reference: a sense resistor, a low-side transistor */
#define SUPPLY_LEAST_PINS 4 /* on a net, this chip's own among them, for it to be a supply when nothing known feeds it */

/* Written on chips and in data sheets; common practice. */
static const char *const supply_names[] = { "VCC", "VDD", "V+", "VS+", "VCC1", "VDD1", "AVDD", "DVDD", "VIN", "VBAT", "VM", NULL };
static const char *const ground_names[] = { "GND", "VSS", "AGND", "DGND", "PGND", "GND1", "VEE", "V-", "0V", NULL };

/* Ways from what makes a voltage, or against the current from the reference. */
typedef struct { double *ohm; const MlBoard *board; gboolean back, shorter; } Feed;

static void
reach (Feed *feed, int net, double ohm)
{
  if (net < 0 || ohm >= feed->ohm[net] || (net == feed->board->reference && (ohm > 0 || !feed->back)))
    return;
  feed->ohm[net] = ohm;
  feed->shorter = TRUE;
}

static void
pass (Feed *feed, const MlPart *part, guint from, guint to, double ohm)
{
  int start = part->pins[feed->back ? to : from].net;

  if (start >= 0)
    reach (feed, part->pins[feed->back ? from : to].net, feed->ohm[start] + ohm);
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
      if (!feed->back)
        reach (feed, part->pins[1].net, 0);
      break;
    case ML_KIND_BATTERY:
      if (!feed->back)
        reach (feed, part->pins[0].net, 0);
      break;
    default:
      break;
    }
}

/* Every net's least resistance from a supply, a battery, a regulator or a converter, or (back) to the reference; infinite where no way leads. */
static double *
find_ways (MlBoardReader *reader, gboolean back)
{
  Feed feed = { g_new (double, reader->nets->len + 1), reader->board, back, TRUE };

  for (guint i = 0; i <= reader->nets->len; i++)
    feed.ohm[i] = INFINITY;
  if (back)
    reach (&feed, reader->board->reference, 0);
  for (guint i = 0; i < reader->conditions->len; i++)
    {
      const MlCondition *condition = &g_array_index (reader->conditions, MlCondition, i);
      for (guint k = 0; k < condition->n_supplies; k++)
        reach (&feed, back ? condition->supplies[k].minus : condition->supplies[k].plus, 0);
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

/* The joined pin, not `but`, with the shortest way, if that is no more than `most`. */
static int
nearest_pin (const MlPart *part, const double *ohm, int but, double most)
{
  int best = -1;

  for (guint i = 0; i < part->n_pins; i++)
    if (part->pins[i].net >= 0 && (int) i != but && ohm[part->pins[i].net] <= most
        && (best < 0 || ohm[part->pins[i].net] < ohm[part->pins[best].net]))
      best = (int) i;
  return best;
}

/* How many pins are on every net; a capacitor to the reference counts as two more, since it is there to hold a voltage. */
static guint *
count_pins (MlBoardReader *reader)
{
  guint *n = g_new0 (guint, reader->nets->len + 1);

  for (guint i = 0; i < reader->parts->len; i++)
    {
      const MlPart *part = &g_array_index (reader->parts, MlPart, i);
      gboolean holds = part->kind->kind == ML_KIND_CAPACITOR && pin_on (part, reader->board->reference) >= 0;

      for (guint k = 0; k < part->n_pins; k++)
        if (part->pins[k].net >= 0)
          n[part->pins[k].net] += holds ? 3 : 1;
    }
  return n;
}

static int
busiest_pin (const MlPart *part, const guint *n)
{
  int best = -1;

  for (guint i = 0; i < part->n_pins; i++)
    if (part->pins[i].net >= 0 && part->pins[i].net != part->pins[part->ground_pin].net && n[part->pins[i].net] >= SUPPLY_LEAST_PINS
        && (best < 0 || n[part->pins[i].net] > n[part->pins[best].net]))
      best = (int) i;
  return best;
}

static void
feed_block (MlBoardReader *reader, MlPart *part, const double *from_supply, const double *to_reference, const guint *n)
{
  part->supply_pin = named_pin (reader, part, ML_KEY_SUPPLY);
  part->ground_pin = named_pin (reader, part, ML_KEY_GROUND);
  if (part->ground_pin < 0)
    part->ground_pin = pin_on (part, reader->board->reference);
  if (part->ground_pin < 0)
    part->ground_pin = called_pin (part, ground_names);
  if (part->supply_pin < 0)
    part->supply_pin = called_pin (part, supply_names);
  if (part->ground_pin < 0)
    part->ground_pin = nearest_pin (part, to_reference, part->supply_pin, GROUND_MOST_OHM);
  if (part->supply_pin < 0)
    part->supply_pin = nearest_pin (part, from_supply, part->ground_pin, SUPPLY_MOST_OHM);
  if (part->supply_pin < 0 && part->ground_pin >= 0)
    part->supply_pin = busiest_pin (part, n);
}

void
ml_board_reader_feed_blocks (MlBoardReader *reader)
{
  g_autofree double *from_supply = find_ways (reader, FALSE), *to_reference = find_ways (reader, TRUE);
  g_autofree guint *n = count_pins (reader);

  for (guint i = 0; i < reader->parts->len; i++)
    if (g_array_index (reader->parts, MlPart, i).kind->kind == ML_KIND_BLOCK)
      feed_block (reader, &g_array_index (reader->parts, MlPart, i), from_supply, to_reference, n);
}
