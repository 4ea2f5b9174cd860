/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Half and full bridges: two transistors one over the other, with their diodes, what drives their gates, and the load between two of them. */
#include "drawing/layout-idioms.h"

#define HALF_PITCH 8
#define GATE_DIODE_ABOVE 5 /* g over its resistor, whose text stands between */
#define LOWER_DIODE_ABOVE 3 /* g: what holds the upper gate down ends there */
#define CONTROL_PIN 1 /* base or gate: pins are sorted collector, base, emitter */

typedef struct { int upper, lower, middle, top, bottom; } Half;

/* The next part with two pins of which one is on the net, from the k-th pin there on, and where its other pin is. */
static gboolean
next_of_two (const MlFinder *finder, int net, guint *k, int *ret_piece, int *ret_other)
{
  int pin;

  for (; *k < ml_idiom_n_at (finder, net); (*k)++)
    if (ml_idiom_at (finder, net, *k, ret_piece, &pin) && ml_idiom_two (finder, *ret_piece))
      {
        *ret_other = ml_idiom_other (finder, *ret_piece, net);
        (*k)++;
        return TRUE;
      }
  return FALSE;
}

static int
diode_between (const MlFinder *finder, int a, int b)
{
  int piece, other;
  guint k = 0;

  while (next_of_two (finder, a, &k, &piece, &other))
    if (ml_idiom_kind (finder, piece) == ML_KIND_DIODE && other == b)
      return piece;
  return -1;
}

/* The resistor through which a net reaches a lower rail: what measures the current of a bridge; -1. */
static int
sense_of (const MlFinder *finder, int net)
{
  int piece, other;
  guint k = 0;

  while (ml_idiom_signal (finder, net) && next_of_two (finder, net, &k, &piece, &other))
    if (ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && ml_idiom_down (finder, other))
      return piece;
  return -1;
}

static int
only_resistor_on (const MlFinder *finder, int net)
{
  int piece, other, found = -1;
  guint k = 0;

  while (next_of_two (finder, net, &k, &piece, &other))
    if (ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR && !ml_idiom_down (finder, other))
      {
        if (found >= 0)
          return -1;
        found = piece;
      }
  return found;
}

static void
put_series (MlFinder *finder, MlMemberList *list, int net, int x, int y)
{
  int resistor = only_resistor_on (finder, net);
  MlForm *form = resistor < 0 ? NULL : ml_idiom_lying (finder, resistor, ml_idiom_other (finder, resistor, net));

  if (form != NULL)
    ml_idiom_put (finder, list, resistor, form, ml_idiom_pin_on (finder, resistor, net), x, y);
}

/* What a driver chip has between its output and a gate. */
typedef struct { int series, diode, pull; } GateNetwork;

static GateNetwork
gate_network_of (const MlFinder *finder, int gate, int end)
{
  GateNetwork network = { -1, -1, -1 };
  int piece, other;
  guint k = 0;

  while (next_of_two (finder, gate, &k, &piece, &other))
    {
      if (ml_idiom_kind (finder, piece) != ML_KIND_RESISTOR)
        continue;
      if (other == end || ml_idiom_down (finder, other))
        network.pull = piece;
      else if (ml_idiom_signal (finder, other))
        network.series = network.series < 0 ? piece : G_MAXINT; /* several: none is the one */
    }
  if (network.series == G_MAXINT)
    network.series = -1;
  if (network.series >= 0)
    {
      int driver = ml_idiom_other (finder, network.series, gate);
      network.diode = diode_between (finder, gate, driver);
    }
  return network;
}

/* Gate resistor in line, the diode that empties the gate over it, what holds the gate down beside it; FALSE when there is neither. */
static gboolean
put_gate_network (MlFinder *finder, MlMemberList *list, int transistor, int end, int y, int diode_above)
{
  int gate = ml_idiom_net (finder, transistor, CONTROL_PIN), driver, x = -2;
  GateNetwork network = gate_network_of (finder, gate, end);
  MlForm *lying, *above;

  if (network.series < 0 || (network.diode < 0 && network.pull < 0))
    return FALSE;
  driver = ml_idiom_other (finder, network.series, gate);
  lying = ml_idiom_lying (finder, network.series, driver);
  above = network.diode < 0 ? NULL : ml_idiom_lying (finder, network.diode, driver);
  if (lying == NULL || (network.diode >= 0 && above == NULL))
    return FALSE;
  if (network.pull >= 0 && ml_idiom_standing (finder, network.pull, gate) != NULL)
    {
      x = -2 - ml_idiom_label_w (finder, network.pull);
      ml_idiom_put (finder, list, network.pull, ml_idiom_standing (finder, network.pull, gate), ml_idiom_pin_on (finder, network.pull, gate), x, y);
      x -= 1;
    }
  ml_idiom_put (finder, list, network.series, lying, ml_idiom_pin_on (finder, network.series, gate), x, y);
  if (above != NULL)
    ml_idiom_put (finder, list, network.diode, above, ml_idiom_pin_on (finder, network.diode, gate), x, y - diode_above);
  return TRUE;
}

/* A transistor whose collector or drain pulls at a net; -1. */
static int
puller_of (const MlFinder *finder, int net)
{
  int piece, pin;
  guint k;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    if (ml_idiom_at (finder, net, k, &piece, &pin) && ml_idiom_whole_transistor (finder, piece) && pin != CONTROL_PIN)
      return piece;
  return -1;
}

typedef struct { int pull_up, zener, series, driver; } GateDrive;

/* What pulls the upper gate up and what limits how far below its source it may be; what pulls it down: a transistor, straight or through a resistor. */
static GateDrive
gate_drive_of (const MlFinder *finder, const Half *half)
{
  int gate = ml_idiom_net (finder, half->upper, CONTROL_PIN), piece, other;
  GateDrive drive = { -1, -1, -1, puller_of (finder, gate) };
  guint k = 0;

  while (next_of_two (finder, gate, &k, &piece, &other))
    {
      if (ml_idiom_kind (finder, piece) == ML_KIND_ZENER && other == half->top)
        drive.zener = piece;
      if (ml_idiom_kind (finder, piece) != ML_KIND_RESISTOR)
        continue;
      if (other == half->top)
        drive.pull_up = piece;
      else if (drive.driver < 0 && drive.series < 0 && ml_idiom_signal (finder, other) && puller_of (finder, other) >= 0)
        drive.series = piece;
    }
  if (drive.series >= 0)
    drive.driver = puller_of (finder, ml_idiom_other (finder, drive.series, gate));
  return drive;
}

/* Beside the gate, its text before the transistor; where it stands, 0 when there is none. */
static int
put_gate_zener (MlFinder *finder, MlMemberList *list, int zener, int top, int gate)
{
  const MlForm *form = zener < 0 ? NULL : ml_idiom_standing (finder, zener, top);
  int x = form == NULL ? 0 : -1 - ml_idiom_label_w (finder, zener);

  if (form != NULL)
    ml_idiom_put (finder, list, zener, form, ml_idiom_pin_on (finder, zener, gate), x, 2);
  return x;
}

/* Pull-up and driver of the upper gate stand in one column to the left; with a resistor between them the column needs more room. */
static void
put_gate_drive (MlFinder *finder, MlMemberList *list, const Half *half)
{
  int gate = ml_idiom_net (finder, half->upper, CONTROL_PIN), net = gate, y = 3, x;
  GateDrive drive = gate_drive_of (finder, half);
  MlForm *above = drive.pull_up < 0 ? NULL : ml_idiom_standing (finder, drive.pull_up, half->top);
  MlForm *between = drive.series < 0 ? NULL : ml_idiom_standing (finder, drive.series, gate);

  if (above == NULL || (drive.series >= 0 && between == NULL))
    return;
  x = between == NULL ? -7 : -8 - ml_idiom_label_w (finder, drive.driver);
  x = MIN (x, put_gate_zener (finder, list, drive.zener, half->top, gate) - 2 - ml_idiom_label_w (finder, drive.pull_up));
  ml_idiom_put (finder, list, drive.pull_up, above, ml_idiom_pin_on (finder, drive.pull_up, gate), x, 1);
  if (between != NULL)
    {
      ml_idiom_put (finder, list, drive.series, between, ml_idiom_pin_on (finder, drive.series, gate), x, y);
      net = ml_idiom_other (finder, drive.series, gate);
      y += 5;
    }
  if (drive.driver < 0)
    return;
  ml_idiom_put (finder, list, drive.driver, ml_idiom_cheapest (finder, drive.driver), ml_idiom_main_pin (finder, drive.driver, net), x, y);
  put_series (finder, list, ml_idiom_net (finder, drive.driver, CONTROL_PIN), x - 5, y + 2);
}

static MlMemberList *
half_list (MlFinder *finder, const Half *half, int *ret_end)
{
  MlMemberList *list = ml_idiom_list ();
  int beside = MAX (ml_idiom_label_w (finder, half->upper), ml_idiom_label_w (finder, half->lower)), diodes[2], x = 6 + beside, k;

  ml_idiom_put (finder, list, half->upper, ml_idiom_cheapest (finder, half->upper), ml_idiom_main_pin (finder, half->upper, half->top), 3, 0);
  ml_idiom_put (finder, list, half->lower, ml_idiom_cheapest (finder, half->lower), ml_idiom_main_pin (finder, half->lower, half->middle), 3,
                HALF_PITCH);
  *ret_end = 3 + beside;
  diodes[0] = diode_between (finder, half->top, half->middle);
  diodes[1] = diode_between (finder, half->middle, half->bottom);
  if (diodes[1] < 0 && finder->reference >= 0)
    diodes[1] = diode_between (finder, half->middle, finder->reference);
  for (k = 0; k < 2; k++)
    {
      int net = k == 0 ? half->top : half->middle;
      if (diodes[k] < 0)
        continue;
      ml_idiom_put (finder, list, diodes[k], ml_idiom_standing (finder, diodes[k], net), ml_idiom_pin_on (finder, diodes[k], net), x,
                    k * HALF_PITCH);
      *ret_end = MAX (*ret_end, x + 2 + ml_idiom_label_w (finder, diodes[k]));
    }
  if (!put_gate_network (finder, list, half->upper, half->middle, 2, GATE_DIODE_ABOVE))
    put_gate_drive (finder, list, half);
  if (!put_gate_network (finder, list, half->lower, half->bottom, HALF_PITCH + 2, LOWER_DIODE_ABOVE))
    put_series (finder, list, ml_idiom_net (finder, half->lower, CONTROL_PIN), -2, HALF_PITCH + 2);
  return list;
}

static GArray *
find_halves (MlFinder *finder)
{
  GArray *halves = g_array_new (FALSE, FALSE, sizeof (Half));
  guint8 *done = g_new0 (guint8, finder->kit->plain->len + 1);
  guint i, k;

  for (i = 0; i < finder->kit->plain->len; i++)
    for (k = 0; k < finder->kit->plain->len && !done[i]; k++)
      {
        int top, middle, middle2, bottom;
        Half half;
        if (i == k || done[k] || finder->used[i] || finder->used[k] || !ml_idiom_whole_transistor (finder, (int) i)
            || !ml_idiom_whole_transistor (finder, (int) k))
          continue;
        ml_idiom_ends (finder, (int) i, &top, &middle);
        ml_idiom_ends (finder, (int) k, &middle2, &bottom);
        if (!ml_idiom_up (finder, top) || !ml_idiom_signal (finder, middle) || middle2 != middle
            || (!ml_idiom_down (finder, bottom) && sense_of (finder, bottom) < 0))
          continue;
        half = (Half){ (int) i, (int) k, middle, top, bottom };
        g_array_append_val (halves, half);
        done[i] = done[k] = 1;
      }
  g_free (done);
  return halves;
}

/* What a bridge is built for before what only protects it. */
static int
rank_as_load (MlKind kind)
{
  return kind == ML_KIND_COIL || kind == ML_KIND_LAMP ? 0 : kind == ML_KIND_RESISTOR ? 1 : 2;
}

static int
load_between (const MlFinder *finder, int a, int b)
{
  int piece, other, found = -1;
  guint k = 0;

  while (next_of_two (finder, a, &k, &piece, &other))
    if (other == b
        && (found < 0 || rank_as_load (ml_idiom_kind (finder, piece)) < rank_as_load (ml_idiom_kind (finder, found))))
      found = piece;
  return found;
}

#define BESIDE_LOAD 4 /* g */

/* What else lies between the halves, below the load. */
static void
put_beside_load (MlFinder *finder, MlMemberList *list, const Half *left, const Half *right, int x, int y)
{
  int piece = load_between (finder, left->middle, right->middle);
  const MlForm *form = piece < 0 ? NULL : ml_idiom_lying (finder, piece, left->middle);

  if (form != NULL)
    ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, left->middle), x, y + BESIDE_LOAD);
}

/* The load lies between two halves, the right one mirrored. */
static gboolean
add_full_bridge (MlFinder *finder, const Half *left, const Half *right)
{
  int load = load_between (finder, left->middle, right->middle), end_a, end_b, x, sense;
  MlForm *form = load < 0 ? NULL : ml_idiom_lying (finder, load, left->middle);
  MlMemberList *list, *other, *mirrored;

  if (form == NULL)
    return FALSE;
  finder->used[load] = TRUE;
  list = half_list (finder, left, &end_a);
  other = half_list (finder, right, &end_b);
  x = MAX (end_a, end_b) + 2;
  ml_idiom_put (finder, list, load, form, ml_idiom_pin_on (finder, load, left->middle), x, HALF_PITCH - 2);
  put_beside_load (finder, list, left, right, x, HALF_PITCH - 2);
  sense = sense_of (finder, left->bottom);
  if (sense >= 0)
    ml_idiom_put (finder, list, sense, ml_idiom_standing (finder, sense, left->bottom), ml_idiom_pin_on (finder, sense, left->bottom), x + 2,
                  2 * HALF_PITCH);
  mirrored = ml_idiom_mirrored (finder, other, 2 * x + 4);
  if (mirrored == NULL)
    {
      ml_idiom_release (finder, other);
      g_array_unref (other);
      ml_idiom_keep (ml_idiom_add (finder, list, NULL, TRUE, 0));
      return TRUE;
    }
  g_array_append_vals (list, mirrored->data, mirrored->len);
  g_array_unref (mirrored);
  g_array_unref (other);
  ml_idiom_keep (ml_idiom_add (finder, list, NULL, FALSE, 0));
  return TRUE;
}

void
ml_idiom_find_bridges (MlFinder *finder)
{
  GArray *halves = find_halves (finder);
  guint8 *done = g_new0 (guint8, halves->len + 1);
  guint a, b;
  int end;

  for (a = 0; a < halves->len; a++)
    for (b = a + 1; b < halves->len && !done[a]; b++)
      if (!done[b] && add_full_bridge (finder, &g_array_index (halves, Half, a), &g_array_index (halves, Half, b)))
        done[a] = done[b] = 1;
  for (a = 0; a < halves->len; a++)
    {
      const Half *half = &g_array_index (halves, Half, a);
      if (!done[a] && !finder->used[half->upper] && !finder->used[half->lower])
        ml_idiom_keep (ml_idiom_add (finder, half_list (finder, half, &end), NULL, TRUE, 0));
    }
  g_array_unref (halves);
  g_free (done);
}
