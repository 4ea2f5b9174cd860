/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/generate.h"

#include "quantity/quantity.h"
#include "support/random.h"

#include <math.h>
#include <string.h>

#define MAX_RAILS 8
#define MAX_SWITCHES 40
#define SMALL_PARTS 24
#define UNREAD_SHARE 0.5
#define UNREAD_LEAST_PARTS 10 /* room for a rail, a chip, and what it drives */

typedef struct { char *net; double voltage_v; double current_a; } Rail;

typedef struct
{
  MlRandom random;
  GString *text; /* a word between \x01 and \x02 stands only in the board as it is, between \x03 and \x04 only as drawn */
  guint n_parts, wanted;
  guint letter[26];
  guint n_nets;
  Rail rails[MAX_RAILS];
  guint n_rails;
  guint switches[MAX_SWITCHES]; /* numbers of the switches */
  guint n_switches;
  gboolean has_block;  /* its outputs may differ between conditions */
  gboolean either_way; /* a bridge: the supply may come in both ways round */
  double unread;       /* share of the values that nobody could read, beside the few of every board */
  gboolean mystery;    /* the one chip without a part number is still to come */
  MlRandom eyes;       /* what could be read: apart, so that the board is the same whatever of it could */
  double supply_v;
  GPtrArray *strings;
} Maker;

typedef void (*Stage) (Maker *maker);

static const double E12[] = { 1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2 };

static const char *
keep (Maker *maker, char *string)
{
  g_ptr_array_add (maker->strings, string);
  return string;
}

static const char *
new_net (Maker *maker, const char *stem)
{
  return keep (maker, g_strdup_printf ("%s%u", stem, ++maker->n_nets));
}

static guint
number (Maker *maker, char letter)
{
  maker->n_parts++;
  return ++maker->letter[letter - 'A'];
}

/* The nearest value of the E12 series (IEC 60063), on the logarithm. */
static double
preferred (double value)
{
  double decade = pow (10, floor (log10 (value))), best = value, distance = INFINITY;
  for (guint i = 0; i <= G_N_ELEMENTS (E12); i++)
    {
      double candidate = (i < G_N_ELEMENTS (E12) ? E12[i] : 10) * decade;
      if (fabs (log (candidate / value)) >= distance)
        continue;
      distance = fabs (log (candidate / value));
      best = candidate;
    }
  return best;
}

static const char *
value_text (Maker *maker, double value)
{
  char buffer[32];
  ml_quantity_format_marking (value, ML_UNIT_OHM, buffer, sizeof buffer);
  return keep (maker, g_strdup (buffer));
}

/* Of what the board is, only a share stands on the drawing: one draw per value. */
static gboolean
is_unread (Maker *maker)
{
  return ml_random_chance (&maker->eyes, maker->unread);
}

static void
add_resistor (Maker *maker, const char *a, const char *b, double ohm)
{
  const char *text = value_text (maker, preferred (ohm));
  const char *tolerance = ml_random_chance (&maker->random, 0.2) ? "1%" : "5%";
  gboolean unreadable = ml_random_chance (&maker->random, 0.08) | is_unread (maker);
  g_string_append_printf (maker->text, "part R%u resistor 1=%s 2=%s%s value=%s tolerance=%s%s\n", number (maker, 'R'), a, b,
                          unreadable ? "\x01" : "", text, tolerance, unreadable ? "\x02" : "");
}

static void
add_diode (Maker *maker, const char *anode, const char *cathode)
{
  const char *family = ml_random_chance (&maker->random, 0.3) ? "schottky" : "silicon";
  g_string_append_printf (maker->text, "part D%u diode anode=%s cathode=%s family=%s\n", number (maker, 'D'), anode, cathode, family);
}

static void
add_capacitor (Maker *maker, const char *plus, const char *minus)
{
  g_string_append_printf (maker->text, "part C%u capacitor plus=%s minus=%s\x01 value=100u\x02\n", number (maker, 'C'), plus, minus);
}

static void
add_zener (Maker *maker, const char *cathode, double zener_v)
{
  gboolean unreadable = is_unread (maker);
  g_string_append_printf (maker->text, "part D%u zener anode=MINUS cathode=%s%s voltage=%.1f%s\n", number (maker, 'D'), cathode,
                          unreadable ? "\x01" : "", zener_v, unreadable ? "\x02" : "");
}

static Rail *
add_rail (Maker *maker, const char *net, double voltage_v, double current_a)
{
  if (maker->n_rails == MAX_RAILS)
    return NULL;
  maker->rails[maker->n_rails] = (Rail) { (char *) net, voltage_v, current_a };
  return &maker->rails[maker->n_rails++];
}

static const Rail *
any_rail (Maker *maker)
{
  return &maker->rails[ml_random_below (&maker->random, maker->n_rails)];
}

static const Rail *
low_rail (Maker *maker)
{
  for (guint i = maker->n_rails; i-- > 0;)
    if (maker->rails[i].voltage_v < 7)
      return &maker->rails[i];
  return NULL;
}

static guint
room (const Maker *maker)
{
  return maker->n_parts < maker->wanted ? maker->wanted - maker->n_parts : 0;
}

/* ---- where the current comes in ---- */

static void
make_feed (Maker *maker)
{
  const char *net = "FEED";
  if (ml_random_chance (&maker->random, 0.5))
    {
      g_string_append_printf (maker->text, "part F%u fuse 1=%s 2=FUSED\n", number (maker, 'F'), net);
      net = "FUSED";
    }
  if (maker->wanted >= 10 && ml_random_chance (&maker->random, 0.2))
    {
      maker->either_way = TRUE;
      add_diode (maker, net, "VPLUS");
      add_diode (maker, "RETURN", "VPLUS");
      add_diode (maker, "MINUS", net);
      add_diode (maker, "MINUS", "RETURN");
      add_rail (maker, "VPLUS", maker->supply_v - 1.4, 0.2);
      return;
    }
  if (ml_random_chance (&maker->random, 0.5))
    {
      add_diode (maker, net, "VIN");
      net = "VIN";
    }
  add_rail (maker, net, maker->supply_v - 0.6, 0.2);
}

/* ---- lower rails ---- */

static void
make_shunt_zener (Maker *maker)
{
  const Rail *from = &maker->rails[0];
  double zener_v = ml_random_chance (&maker->random, 0.5) ? 5.1 : 6.2;
  const char *net = new_net (maker, "VZ");
  add_resistor (maker, from->net, net, (from->voltage_v - zener_v) / 0.02);
  add_zener (maker, net, zener_v);
  add_rail (maker, net, zener_v, 0.008);
}

static void
make_series_regulator (Maker *maker)
{
  const Rail *from = &maker->rails[0];
  double zener_v = ml_random_chance (&maker->random, 0.6) ? 5.6 : 6.8;
  const char *reference = new_net (maker, "ZREF"), *out = new_net (maker, "VREG");
  add_resistor (maker, from->net, reference, (from->voltage_v - zener_v) / 0.008);
  add_zener (maker, reference, zener_v);
  g_string_append_printf (maker->text, "part Q%u npn collector=%s base=%s emitter=%s\n", number (maker, 'Q'), from->net, reference, out);
  add_rail (maker, out, zener_v - 0.7, 0.06);
}

static void
make_regulator (Maker *maker)
{
  const Rail *from = &maker->rails[0];
  const char *out = new_net (maker, "V5_");
  if (maker->mystery && ml_random_chance (&maker->eyes, 0.5))
    {
      maker->mystery = FALSE;
      g_string_append_printf (maker->text, "part U%u \x01regulator in=%s out=%s ground=MINUS voltage=5\x02\x03""block 1=%s 2=MINUS 3=%s\x04\n",
                              number (maker, 'U'), from->net, out, from->net, out);
    }
  else
    g_string_append_printf (maker->text, "part U%u regulator in=%s out=%s ground=MINUS voltage=5\n", number (maker, 'U'), from->net, out);
  if (ml_random_chance (&maker->random, 0.4))
    add_capacitor (maker, out, "MINUS");
  add_rail (maker, out, 5, 0.1);
}

/* ---- loads ---- */

static const struct { const char *colour; double drop_v; } LEDS[] = { { "red", 1.9 }, { "green", 2.1 }, { "yellow", 2.1 }, { "blue", 3.1 } };

static void
add_led (Maker *maker, const char *anode, const char *cathode, guint colour)
{
  g_string_append_printf (maker->text, "part LED%u led anode=%s cathode=%s colour=%s\n", number (maker, 'L'), anode, cathode,
                          LEDS[colour].colour);
}

/* A ballast resistor and one to three LEDs from a rail down to `to`. */
static void
string_of_leds (Maker *maker, const Rail *rail, const char *to, guint most)
{
  guint colour = ml_random_below (&maker->random, G_N_ELEMENTS (LEDS));
  guint n = ml_random_between (&maker->random, 1, most);
  while (n > 1 && n * LEDS[colour].drop_v > rail->voltage_v - 1.5)
    n--;
  double current_a = ml_random_log (&maker->random, 2e-3, 12e-3);
  const char *net = new_net (maker, "L");
  add_resistor (maker, rail->net, net, MAX ((rail->voltage_v - n * LEDS[colour].drop_v) / current_a, 100));
  for (guint i = 0; i < n; i++)
    {
      const char *next = i + 1 < n ? new_net (maker, "L") : to;
      add_led (maker, net, next, colour);
      net = next;
    }
}

static void
make_led_string (Maker *maker)
{
  string_of_leds (maker, any_rail (maker), "MINUS", MIN (MAX (room (maker), 2) - 1, 3));
}

static void
make_divider (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  double total = ml_random_log (&maker->random, 3e3, 150e3);
  guint n = room (maker) > 2 && ml_random_chance (&maker->random, 0.3) ? 3 : 2;
  const char *net = rail->net;
  for (guint i = 0; i < n; i++)
    {
      const char *next = i + 1 < n ? new_net (maker, "TAP") : "MINUS";
      add_resistor (maker, net, next, total * (0.2 + 0.6 * ml_random_uniform (&maker->random)));
      net = next;
    }
}

/* A switch from a rail, or an existing block's pin: what drives a transistor. */
static const char *
driving_net (Maker *maker, const Rail *rail)
{
  const char *net = new_net (maker, "DRV");
  guint n = number (maker, 'S');
  g_string_append_printf (maker->text, "part S%u switch 1=%s 2=%s\n", n, rail->net, net);
  if (maker->n_switches < MAX_SWITCHES)
    maker->switches[maker->n_switches++] = n;
  return net;
}

static void
load_of_switch (Maker *maker, const Rail *rail, const char *collector)
{
  if (ml_random_chance (&maker->random, 0.5))
    {
      string_of_leds (maker, rail, collector, 1);
      return;
    }
  double ohm = preferred (rail->voltage_v / ml_random_log (&maker->random, 0.012, 0.06));
  g_string_append_printf (maker->text, "part K%u coil 1=%s 2=%s resistance=%s show=relay\n", number (maker, 'K'), rail->net, collector,
                          value_text (maker, ohm));
  if (ml_random_chance (&maker->random, 0.7))
    add_diode (maker, collector, rail->net);
}

static void
low_side_switch (Maker *maker, const Rail *control, const char *drive)
{
  const Rail *rail = &maker->rails[0];
  const char *base = new_net (maker, "B"), *collector = new_net (maker, "K");
  add_resistor (maker, drive, base, control->voltage_v / ml_random_log (&maker->random, 0.8e-3, 3e-3));
  if (ml_random_chance (&maker->random, 0.6))
    add_resistor (maker, base, "MINUS", 10e3);
  g_string_append_printf (maker->text, "part Q%u npn collector=%s base=%s emitter=MINUS\n", number (maker, 'Q'), collector, base);
  load_of_switch (maker, rail, collector);
}

static void
make_low_side_switch (Maker *maker)
{
  const Rail *control = any_rail (maker);
  low_side_switch (maker, control, driving_net (maker, control));
}

static void
make_high_side_switch (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  const char *base = new_net (maker, "B"), *collector = new_net (maker, "K"), *pull = new_net (maker, "DRV");
  guint n = number (maker, 'S');
  add_resistor (maker, rail->net, base, 10e3);
  add_resistor (maker, base, pull, rail->voltage_v / ml_random_log (&maker->random, 0.8e-3, 3e-3));
  g_string_append_printf (maker->text, "part S%u switch 1=%s 2=MINUS\n", n, pull);
  if (maker->n_switches < MAX_SWITCHES)
    maker->switches[maker->n_switches++] = n;
  g_string_append_printf (maker->text, "part Q%u pnp collector=%s base=%s emitter=%s\n", number (maker, 'Q'), collector, base, rail->net);
  Rail switched = { (char *) collector, rail->voltage_v - 0.2, 0.05 };
  string_of_leds (maker, &switched, "MINUS", 2);
}

/* A chip nobody has a diagram of: fed from a low rail, one input on a divider, one output to a transistor switch. */
static void
make_block (Maker *maker)
{
  const Rail *rail = low_rail (maker);
  if (!rail)
    {
      make_divider (maker);
      return;
    }
  const char *input = new_net (maker, "IN"), *drive = new_net (maker, "OUT");
  guint n = number (maker, 'U');
  maker->has_block = TRUE;
  if (maker->mystery && ml_random_chance (&maker->eyes, 0.5))
    g_string_append_printf (maker->text, "part U%u block VCC=%s GND=MINUS IN=%s OUT=%s\n", n, rail->net, input, drive);
  else
    g_string_append_printf (maker->text, "part U%u block 1=%s 2=MINUS 3=%s 4=%s%s supply=1 ground=2%s\n", n, rail->net, input, drive,
                            maker->mystery ? "\x01" : "", maker->mystery ? "\x02" : "");
  maker->mystery = FALSE;
  add_resistor (maker, rail->net, input, 10e3);
  if (room (maker) > 3 && ml_random_chance (&maker->random, 0.5))
    add_resistor (maker, input, "MINUS", ml_random_log (&maker->random, 4.7e3, 47e3));
  if (room (maker) > 2)
    low_side_switch (maker, rail, drive);
  else
    add_resistor (maker, drive, "MINUS", 4.7e3);
}

/* Two ways in, one way out: the higher one feeds the load. */
static void
make_steering (Maker *maker)
{
  const Rail *rail = &maker->rails[0];
  const char *tap = new_net (maker, "AUX"), *out = new_net (maker, "SUM");
  add_resistor (maker, rail->net, tap, ml_random_log (&maker->random, 220, 2.2e3));
  add_diode (maker, tap, out);
  add_diode (maker, any_rail (maker)->net, out);
  add_resistor (maker, out, "MINUS", ml_random_log (&maker->random, 1e3, 10e3));
}

static void
make_smoothing (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  const char *net = new_net (maker, "F");
  add_resistor (maker, rail->net, net, ml_random_log (&maker->random, 47, 470));
  add_capacitor (maker, net, "MINUS");
  add_resistor (maker, net, "MINUS", ml_random_log (&maker->random, 2.2e3, 22e3));
}

/* ---- kinds for the drawing's sake, on large boards ---- */

static void
make_fet_switch (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  const char *gate = new_net (maker, "G"), *drain = new_net (maker, "D");
  add_resistor (maker, driving_net (maker, rail), gate, 1e3);
  add_resistor (maker, gate, "MINUS", 100e3);
  g_string_append_printf (maker->text, "part Q%u nmos drain=%s gate=%s source=MINUS\n", number (maker, 'Q'), drain, gate);
  load_of_switch (maker, rail, drain);
}

static void
make_comparator (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  const char *plus = new_net (maker, "CP"), *minus = new_net (maker, "CM"), *out = new_net (maker, "CO");
  g_string_append_printf (maker->text, "part U%u opamp noninverting=%s inverting=%s out=%s positive=%s negative=MINUS\n",
                          number (maker, 'U'), plus, minus, out, rail->net);
  g_string_append_printf (maker->text, "part RV%u potentiometer 1=%s 2=MINUS wiper=%s value=10k\n", number (maker, 'V'), rail->net, plus);
  add_resistor (maker, rail->net, minus, 22e3);
  add_resistor (maker, minus, "MINUS", 22e3);
  add_resistor (maker, out, plus, 470e3);
}

static void
make_isolated_input (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  const char *in = new_net (maker, "X"), *lamp = new_net (maker, "X"), *out = new_net (maker, "X");
  g_string_append_printf (maker->text, "part J%u connector SIGNAL=%s COMMON=MINUS\n", number (maker, 'J'), in);
  add_resistor (maker, in, lamp, 2.2e3);
  g_string_append_printf (maker->text, "part U%u opto anode=%s cathode=MINUS collector=%s emitter=MINUS\n", number (maker, 'U'), lamp, out);
  add_resistor (maker, rail->net, out, 10e3);
}

static void
make_wide_block (Maker *maker)
{
  const Rail *rail = any_rail (maker);
  guint n_pins = ml_random_between (&maker->random, 6, 14);
  GString *line = g_string_new (NULL);
  GPtrArray *nets = g_ptr_array_new ();
  g_string_printf (line, "part U%u block 1=%s 2=MINUS", number (maker, 'U'), rail->net);
  for (guint i = 3; i <= n_pins; i++)
    {
      g_ptr_array_add (nets, (char *) new_net (maker, "P"));
      g_string_append_printf (line, " %u=%s", i, (char *) g_ptr_array_index (nets, nets->len - 1));
    }
  g_string_append_printf (maker->text, "%s supply=1 ground=2\n", line->str);
  for (guint i = 0; i < nets->len; i++)
    add_resistor (maker, g_ptr_array_index (nets, i), i % 3 ? "MINUS" : rail->net, 4.7e3);
  g_ptr_array_unref (nets);
  g_string_free (line, TRUE);
}

/* ---- the whole ---- */

static void
add_conditions (Maker *maker)
{
  guint n = MIN (maker->n_switches, 2) + 1;
  if (maker->either_way || (maker->has_block && ml_random_chance (&maker->random, 0.5)))
    n = MAX (n, 2);
  const char *back = maker->either_way ? "RETURN" : "MINUS";
  for (guint i = 0; i < n; i++)
    {
      gboolean turned = maker->either_way && i % 2 == 1;
      g_string_append_printf (maker->text, "condition c%u\n  supply plus=%s minus=%s voltage=%g limit=500m\n", i + 1,
                              turned ? back : "FEED", turned ? "FEED" : back, maker->supply_v);
      for (guint k = 0; k < maker->n_switches; k++)
        g_string_append_printf (maker->text, "  set S%u %s\n", maker->switches[k], (k + i) % 2 ? "closed" : "open");
    }
}

static void
add_stages (Maker *maker)
{
  static const struct { Stage make; guint least, weight; } SMALL[] = {
    { make_led_string, 2, 4 }, { make_divider, 2, 3 },  { make_low_side_switch, 5, 4 }, { make_high_side_switch, 6, 3 },
    { make_block, 3, 4 },      { make_steering, 4, 2 }, { make_smoothing, 3, 1 },
    { make_fet_switch, 6, 0 }, { make_comparator, 6, 0 }, { make_isolated_input, 4, 0 }, { make_wide_block, 14, 0 },
  };
  gboolean large = maker->wanted > SMALL_PARTS;
  if (maker->mystery)
    make_block (maker);
  while (room (maker) >= 2)
    {
      guint pick = ml_random_below (&maker->random, G_N_ELEMENTS (SMALL));
      guint weight = SMALL[pick].weight ? SMALL[pick].weight : large ? 2 : 0;
      if (SMALL[pick].least <= room (maker) && ml_random_below (&maker->random, 4) < weight)
        SMALL[pick].make (maker);
    }
  if (room (maker)) /* one place left: a bleeder */
    add_resistor (maker, maker->rails[0].net, "MINUS", ml_random_log (&maker->random, 2.2e3, 22e3));
}

static void
add_rails (Maker *maker)
{
  static const Stage RAILS[] = { make_shunt_zener, make_series_regulator, make_regulator };
  guint n = maker->wanted >= 6 ? 1 + (maker->wanted >= 11 && ml_random_chance (&maker->random, 0.3)) + maker->wanted / 40 : 0;
  for (guint i = 0; i < n && maker->n_rails < MAX_RAILS; i++)
    RAILS[ml_random_below (&maker->random, G_N_ELEMENTS (RAILS))](maker);
}

/* What stands between the marks `from` and `to` is left out, other marks are taken away. */
static char *
without (const char *text, char from, char to)
{
  GString *out = g_string_new (NULL);
  gboolean inside = FALSE;
  for (const char *p = text; *p; p++)
    if (*p >= '\x01' && *p <= '\x04')
      inside = *p == from || (inside && *p != to);
    else if (!inside)
      g_string_append_c (out, *p);
  return g_string_free (out, FALSE);
}

static void
generate (guint64 seed, guint n_parts, double unread, gboolean mystery, char **ret_drawn, char **ret_actual)
{
  static const double SUPPLIES_V[] = { 9, 12, 15, 18, 24 };
  Maker maker = { .random = ml_random_seeded (seed), .eyes = ml_random_seeded (seed + 41), .wanted = MAX (n_parts, 5), .unread = unread,
                  .mystery = mystery };
  maker.text = g_string_new (NULL);
  maker.strings = g_ptr_array_new_with_free_func (g_free);
  maker.supply_v = SUPPLIES_V[ml_random_below (&maker.random, G_N_ELEMENTS (SUPPLIES_V))];
  g_string_printf (maker.text, "meterleaf 1\nboard \"Generated board %" G_GUINT64_FORMAT "\"\nreference MINUS\n", seed);
  make_feed (&maker);
  add_rails (&maker);
  add_stages (&maker);
  add_conditions (&maker);
  *ret_drawn = without (maker.text->str, '\x01', '\x02');
  *ret_actual = without (maker.text->str, '\x03', '\x04');
  g_string_free (maker.text, TRUE);
  g_ptr_array_unref (maker.strings);
}

void
ml_generate_pair (guint64 seed, guint n_parts, char **ret_drawn, char **ret_actual)
{
  generate (seed, n_parts, 0, FALSE, ret_drawn, ret_actual);
}

void
ml_generate_unread_pair (guint64 seed, guint n_parts, char **ret_drawn, char **ret_actual)
{
  generate (seed, MAX (n_parts, UNREAD_LEAST_PARTS), UNREAD_SHARE, TRUE, ret_drawn, ret_actual);
}

char *
ml_generate_board (guint64 seed, guint n_parts)
{
  char *drawn, *actual;
  ml_generate_pair (seed, n_parts, &drawn, &actual);
  g_free (actual);
  return drawn;
}

char *
ml_generate_conditions (guint64 seed, guint n_parts, guint n_conditions)
{
  g_autofree char *made = ml_generate_board (seed, n_parts);
  GString *text = g_string_new (made);
  const char *last = g_strrstr (made, "condition ");
  guint n = 0;

  for (const char *at = made; (at = strstr (at, "\ncondition ")); at++)
    n++;
  for (; n < n_conditions; n++)
    {
      g_auto (GStrv) lines = g_strsplit (last, "\n", -1);

      g_string_append_printf (text, "condition extra%u\n", n);
      for (guint i = 1; lines[i] && *lines[i]; i++)
        {
          g_auto (GStrv) halves = g_strsplit (lines[i], "voltage=", 2);
          if (halves[1])
            g_string_append_printf (text, "%svoltage=%d%s\n", halves[0], 4 + 2 * (int) n, strchr (halves[1], ' '));
          else
            g_string_append_printf (text, "%s\n", lines[i]);
        }
    }
  return g_string_free (text, FALSE);
}
