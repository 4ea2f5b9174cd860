/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading `reading` and `meter`. */
#include "job/job-private.h"

#include <math.h>
#include <string.h>

/* In the order of MlReads. */
static const struct { const char *word; MlReads reads; MlUnit unit; } quantities[] = {
  { "volts", ML_READS_VOLTS, ML_UNIT_VOLT },
  { "amps", ML_READS_AMPS, ML_UNIT_AMPERE },
  { "ohms", ML_READS_OHMS, ML_UNIT_OHM },
  { "diode", ML_READS_DIODE, ML_UNIT_VOLT },
};

MlUnit
ml_reading_unit (MlReads reads)
{
  return quantities[reads].unit;
}

/* The key=value words of one `reading` statement. */
typedef struct
{
  const MlWord *red, *black, *across, *supply, *meter;
  const MlWord *values[G_N_ELEMENTS (quantities)];
} Keys;

static const MlWord **
key_slot (Keys *keys, const char *key)
{
  for (guint i = 0; i < G_N_ELEMENTS (quantities); i++)
    if (strcmp (quantities[i].word, key) == 0)
      return &keys->values[i];
  if (strcmp (key, "red") == 0)
    return &keys->red;
  if (strcmp (key, "black") == 0)
    return &keys->black;
  if (strcmp (key, "across") == 0)
    return &keys->across;
  if (strcmp (key, "supply") == 0)
    return &keys->supply;
  return strcmp (key, "meter") == 0 ? &keys->meter : NULL;
}

/* "mV=450": the prefix goes with the number. */
static void
say_unknown_key (MlJobReader *reader, const MlWord *word)
{
  MlQuantity one;
  g_autofree char *as_number = word->key != NULL ? g_strconcat ("1", word->key, NULL) : NULL;

  for (guint i = 0; as_number != NULL && i < G_N_ELEMENTS (quantities); i++)
    if (ml_quantity_parse (as_number, strlen (as_number), quantities[i].unit, ML_QUANTITY_PLAIN, &one, NULL) == ML_QUANTITY_OK)
      {
        SAID (reader, word, "'%s' is not expected here: write %s=%s with the unit behind the number, as in %s=270m", word->key, quantities[i].word, word->text,
              quantities[i].word);
        return;
      }
  ml_job_reader_unknown (reader, word, "red black across supply volts amps ohms diode meter");
}

static gboolean
collect_keys (MlJobReader *reader, const MlStatement *statement, Keys *keys)
{
  gboolean fine = TRUE;

  for (guint i = 1; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];
      const MlWord **slot = word->key != NULL ? key_slot (keys, word->key) : NULL;

      if (word->key == NULL && i < 3)
        continue;
      fine = FALSE;
      if (slot == NULL)
        say_unknown_key (reader, word);
      else if (*slot != NULL)
        SAID (reader, word, "%s= is given twice", word->key);
      else
        {
          *slot = word;
          fine = TRUE;
        }
      if (!fine)
        return FALSE;
    }
  return TRUE;
}

/* ---- where ---- */

static MlProbe
pin_probe (const MlBoard *board, int part, int pin, MlLead lead)
{
  return (MlProbe) { .net = board->parts[part].pins[pin].net, .part = part, .pin = pin, .lead = lead };
}

/* "base-emitter" into two pins; a pin's own name may hold a hyphen, so that every one is tried. */
static gboolean
split_pair (const MlPart *part, const char *pair, int *ret_a, int *ret_b)
{
  for (const char *hyphen = strchr (pair, '-'); hyphen != NULL; hyphen = strchr (hyphen + 1, '-'))
    {
      g_autofree char *first = g_strndup (pair, (gsize) (hyphen - pair));

      *ret_a = ml_part_find_pin (part, first);
      *ret_b = ml_part_find_pin (part, hyphen + 1);
      if (*ret_a >= 0 && *ret_b >= 0)
        return TRUE;
    }
  return FALSE;
}

static gboolean
want_pair (MlJobReader *reader, const MlWord *word, const MlPart *part, const char *pair, int *ret_a, int *ret_b)
{
  if (pair == NULL && part->n_pins == 2)
    {
      *ret_a = 0;
      *ret_b = 1;
      return TRUE;
    }
  if (pair != NULL && split_pair (part, pair, ret_a, ret_b))
    return TRUE;
  if (pair == NULL)
    SAID_OF_VALUE (reader, word, "%s has %u pins: name the two, as in across=%s.%s-%s", part->name, part->n_pins, part->name,
                   part->n_pins > 0 ? part->pins[0].name : "1", part->n_pins > 1 ? part->pins[1].name : "2");
  else
    {
      g_autofree char *pins = ml_part_pin_words (part);
      SAID_OF_VALUE (reader, word, "'%s' names no two pins of %s; expected two of its pins with a hyphen between; they are: %s", pair, part->name, pins);
    }
  return FALSE;
}

static gboolean
read_across (MlJobReader *reader, const MlWord *word, MlReading *reading)
{
  const MlBoard *board = reader->job->board;
  MlLead lead;
  g_autofree char *name = g_strndup (word->text, ml_job_reader_tip (word->text, &lead));
  char *dot = strchr (name, '.');
  int a, b;

  if (dot != NULL)
    *dot = '\0';
  reading->across = ml_job_reader_want_part (reader, word, name);
  if (lead == ML_LEAD_LIFTED)
    {
      SAID_OF_VALUE (reader, word, "say which leg is lifted, as in red=D4.cathode/lifted black=D4.anode");
      return FALSE;
    }
  if (reading->across < 0 || !want_pair (reader, word, &board->parts[reading->across], dot != NULL ? dot + 1 : NULL, &a, &b))
    return FALSE;
  reading->red = pin_probe (board, reading->across, a, lead);
  reading->black = pin_probe (board, reading->across, b, lead);
  if (!lead && (reading->red.net < 0 || reading->black.net < 0))
    {
      SAID_OF_VALUE (reader, word, "a pin of %s is soldered to nothing in the drawing: write %s/lead for the part itself", name, word->text);
      return FALSE;
    }
  return TRUE;
}

static gboolean
read_probes (MlJobReader *reader, const MlStatement *statement, const Keys *keys, MlReading *reading)
{
  const MlBoard *board = reader->job->board;

  if (keys->across != NULL && (keys->red != NULL || keys->black != NULL))
    {
      SAID (reader, keys->across, "write either across= or red= and black=");
      return FALSE;
    }
  if (keys->across != NULL)
    return read_across (reader, keys->across, reading);
  if (keys->red == NULL)
    {
      SAID (reader, &statement->words[0], "where was it read? expected red=NET or red=PART.PIN, across=PART, or supply=NAME");
      return FALSE;
    }
  if (!ml_job_reader_want_probe (reader, keys->red, &reading->red))
    return FALSE;
  if (keys->black != NULL)
    return ml_job_reader_want_probe (reader, keys->black, &reading->black);
  reading->black.net = board->reference;
  if (board->reference < 0)
    SAID (reader, keys->red, "the board has no reference: write black= too");
  return board->reference >= 0;
}

static gboolean
read_supply (MlJobReader *reader, const Keys *keys, MlReading *reading)
{
  const MlCondition *condition = &reader->job->board->conditions[reading->condition];

  if (keys->across != NULL || keys->red != NULL || keys->black != NULL || keys->values[ML_READS_AMPS] == NULL)
    {
      SAID (reader, keys->supply, "what a supply shows is written supply=NAME amps=… and perhaps volts=…, without probes");
      return FALSE;
    }
  for (guint i = 0; i < condition->n_supplies; i++)
    if (strcmp (condition->supplies[i].name, keys->supply->text) == 0)
      reading->supply = (int) i;
  if (reading->supply < 0)
    SAID_OF_VALUE (reader, keys->supply, "condition %s has no supply '%s'%s", condition->name, keys->supply->text,
                   condition->n_supplies > 0 ? "; unnamed ones count 1, 2, …" : ": it is cold");
  return reading->supply >= 0;
}

/* ---- what ---- */

/* The meter drives its own current: a zeroed one may show a little below nothing; more says that the board has a charge or a voltage of its own
 * (common practice). */
static gboolean
is_driven_by_meter (MlJobReader *reader, const MlWord *word, const MlReading *reading)
{
  static const double most_below[] = { [ML_READS_OHMS] = 1, [ML_READS_DIODE] = 50e-3 };

  if (!ml_reading_needs_cold (reading) || reading->measured.low >= -most_below[reading->reads])
    return TRUE;
  SAID_OF_VALUE (reader, word, "%s=%s: %s is not negative; a charge or a voltage is left on the board: discharge it and read again", word->key,
                 word->text, reading->reads == ML_READS_OHMS ? "a resistance" : "what a diode test shows");
  return FALSE;
}

static gboolean
read_value (MlJobReader *reader, const MlStatement *statement, const Keys *keys, MlReading *reading)
{
  int which = -1;

  for (guint i = 0; i < G_N_ELEMENTS (quantities); i++)
    {
      gboolean shown = i == ML_READS_VOLTS && keys->supply != NULL;

      if (keys->values[i] == NULL || shown)
        continue;
      if (which >= 0)
        {
          SAID (reader, keys->values[i], "one reading gives one value: %s= was written already", quantities[which].word);
          return FALSE;
        }
      which = (int) i;
    }
  if (which < 0 || (which == ML_READS_AMPS && keys->supply == NULL))
    {
      SAID (reader, which < 0 ? &statement->words[statement->n_words - 1] : keys->values[which],
            which < 0 ? "the value is missing: volts=, ohms=, diode=, or amps= of a supply" : "amps= is what a supply shows: write supply=NAME too");
      return FALSE;
    }
  reading->reads = quantities[which].reads;
  return ml_job_reader_want_quantity (reader, keys->values[which], keys->values[which]->text, quantities[which].unit,
                                      ML_QUANTITY_RANGE | ML_QUANTITY_OVER, &reading->measured)
         && is_driven_by_meter (reader, keys->values[which], reading);
}

static gboolean
read_shown (MlJobReader *reader, const Keys *keys, MlReading *reading)
{
  const MlWord *word = keys->values[ML_READS_VOLTS];

  reading->has_shown = keys->supply != NULL && word != NULL;
  return !reading->has_shown
         || ml_job_reader_want_quantity (reader, word, word->text, ML_UNIT_VOLT, ML_QUANTITY_RANGE, &reading->shown_v);
}

static gboolean
read_which_meter (MlJobReader *reader, const Keys *keys, MlReading *reading)
{
  g_autofree char *meant = NULL;
  MlNearest nearest;

  if (keys->meter == NULL)
    return TRUE;
  ml_nearest_start (&nearest, keys->meter->text);
  for (guint i = 0; i < reader->job->n_meters; i++)
    {
      if (strcmp (reader->job->meters[i].name, keys->meter->text) == 0)
        {
          reading->meter = (int) i;
          return TRUE;
        }
      ml_nearest_offer (&nearest, reader->job->meters[i].name);
    }
  meant = ml_meant (&nearest);
  SAID_OF_VALUE (reader, keys->meter, "there is no meter '%s'%s", keys->meter->text, meant);
  return FALSE;
}

/* ---- the later one stands ---- */

static int
compare_probes (const MlProbe *a, const MlProbe *b)
{
  int place_a[] = { (int) a->lead, a->lead ? a->part : a->net, a->lead ? a->pin : 0 };
  int place_b[] = { (int) b->lead, b->lead ? b->part : b->net, b->lead ? b->pin : 0 };

  for (guint i = 0; i < G_N_ELEMENTS (place_a); i++)
    if (place_a[i] != place_b[i])
      return place_a[i] < place_b[i] ? -1 : 1;
  return 0;
}

/* One word for the place and quantity of a reading, the same whichever way round the probes are. A diode test is another one the other way. */
static char *
reading_key (const MlReading *reading)
{
  gboolean turn = reading->reads != ML_READS_DIODE && compare_probes (&reading->red, &reading->black) > 0;
  const MlProbe *a = turn ? &reading->black : &reading->red, *b = turn ? &reading->red : &reading->black;

  return g_strdup_printf ("%d %u %d %d %d %d:%d:%d %d:%d:%d", reading->unit, reading->pass, reading->condition, reading->reads, reading->supply,
                          (int) a->lead, a->lead ? a->part : a->net, a->lead ? a->pin : 0, (int) b->lead, b->lead ? b->part : b->net,
                          b->lead ? b->pin : 0);
}

static void
add_reading (MlJobReader *reader, const MlReading *reading)
{
  char *key = reading_key (reading);
  guint earlier = GPOINTER_TO_UINT (g_hash_table_lookup (reader->standing, key));

  if (earlier > 0)
    reader->job->readings[earlier - 1].replaced = TRUE;
  ML_JOB_APPEND (reader->job->readings, reader->job->n_readings, *reading);
  g_hash_table_replace (reader->standing, key, GUINT_TO_POINTER (reader->job->n_readings));
}

void
ml_job_reader_reading (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *unit = ml_job_reader_bare (reader, statement, 0, "the unit"), *condition;
  MlProbe nowhere = { .net = -1, .part = -1, .pin = -1 };
  MlReading reading = { .red = nowhere, .black = nowhere, .across = -1, .supply = -1, .line = statement->line + 1 };
  Keys keys = { 0 };

  condition = unit != NULL ? ml_job_reader_bare (reader, statement, 1, "the condition") : NULL;
  if (condition == NULL || !collect_keys (reader, statement, &keys))
    return;
  reading.unit = ml_job_reader_want_unit (reader, unit);
  reading.condition = ml_job_reader_want_condition (reader, condition);
  if (reading.unit < 0 || reading.condition < 0)
    return;
  reading.pass = reader->job->units[reading.unit].n_passes;
  if (!(keys.supply != NULL ? read_supply (reader, &keys, &reading) : read_probes (reader, statement, &keys, &reading)))
    return;
  if (keys.supply == NULL && ml_probe_equal (&reading.red, &reading.black))
    {
      const MlProbe *pin = reading.red.part >= 0 ? &reading.red : &reading.black;
      g_autofree char *label = pin->part >= 0 && !pin->lead ? ml_probe_label (reader->job->board, pin) : NULL;

      if (label != NULL)
        SAID (reader, keys.red != NULL ? keys.red : keys.across,
              "both probes stand on the same place, since a pin is the solder there, that is its net; for the part's own metal write %s/lead", label);
      else
        SAID (reader, keys.red != NULL ? keys.red : keys.across, "both probes stand on the same place");
      return;
    }
  if (read_value (reader, statement, &keys, &reading) && read_shown (reader, &keys, &reading) && read_which_meter (reader, &keys, &reading))
    add_reading (reader, &reading);
}

/* ---- meter ---- */

/* "0.5%+2" */
static gboolean
read_accuracy (MlJobReader *reader, const MlWord *word, double *ret_share, double *ret_counts)
{
  const char *plus = strchr (word->text, '+');
  g_autofree char *share_text = plus != NULL ? g_strndup (word->text, (gsize) (plus - word->text)) : g_strdup (word->text);
  MlQuantity share, counts = { 0 };

  if (!ml_job_reader_want_quantity (reader, word, share_text, ML_UNIT_PERCENT, ML_QUANTITY_PLAIN, &share)
      || (plus != NULL && !ml_job_reader_want_quantity (reader, word, plus + 1, ML_UNIT_NONE, ML_QUANTITY_PLAIN, &counts)))
    return FALSE;
  if (share.value < 0 || share.value > 1 || counts.value < 0)
    {
      SAID_OF_VALUE (reader, word, "%s=%s: expected a share of the reading and counts, as in 0.5%%+2", word->key, word->text);
      return FALSE;
    }
  *ret_share = share.value;
  *ret_counts = counts.value;
  return TRUE;
}

/* "1m/3V" */
static gboolean
read_diode_test (MlJobReader *reader, const MlWord *word, MlMeter *meter)
{
  const char *slash = strchr (word->text, '/');
  g_autofree char *current = slash != NULL ? g_strndup (word->text, (gsize) (slash - word->text)) : g_strdup (word->text);
  MlQuantity amps, volts = { .value = meter->diode_v };

  if (!ml_job_reader_want_quantity (reader, word, current, ML_UNIT_AMPERE, ML_QUANTITY_PLAIN, &amps)
      || (slash != NULL && !ml_job_reader_want_quantity (reader, word, slash + 1, ML_UNIT_VOLT, ML_QUANTITY_PLAIN, &volts)))
    return FALSE;
  if (!(amps.value > 0) || !(volts.value > 0))
    {
      SAID_OF_VALUE (reader, word, "%s=%s: expected test current and open voltage, as in 1m/3V", word->key, word->text);
      return FALSE;
    }
  meter->diode_a = amps.value;
  meter->diode_v = volts.value;
  return TRUE;
}

static void
read_positive (MlJobReader *reader, const MlWord *word, MlUnit unit, double *field)
{
  MlQuantity quantity;

  if (!ml_job_reader_want_quantity (reader, word, word->text, unit, ML_QUANTITY_PLAIN, &quantity))
    return;
  if (quantity.value > 0)
    *field = quantity.value;
  else
    SAID_OF_VALUE (reader, word, "%s=%s: expected a value above zero", word->key, word->text);
}

void
ml_job_reader_meter (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *name = ml_job_reader_bare (reader, statement, 0, "the meter's name");
  MlMeter meter;

  if (name == NULL || !ml_job_reader_want_new_name (reader, name, "meter"))
    return;
  for (guint i = 0; i < reader->job->n_meters; i++)
    if (strcmp (reader->job->meters[i].name, name->text) == 0)
      {
        SAID (reader, name, "there is a meter %s already, in line %u", name->text, reader->job->meters[i].line);
        return;
      }
  if (reader->job->n_meters == ML_JOB_MAX_METERS)
    {
      SAID (reader, name, "a job has at most %u meters", ML_JOB_MAX_METERS);
      return;
    }
  meter = ml_meter_default (name->text);
  meter.line = statement->line + 1;
  for (guint i = 1; i < statement->n_words; i++)
    {
      const MlWord *word = &statement->words[i];

      if (word == name)
        continue;
      if (g_strcmp0 (word->key, "dc") == 0)
        read_accuracy (reader, word, &meter.dc_share, &meter.dc_counts);
      else if (g_strcmp0 (word->key, "ohms") == 0)
        read_accuracy (reader, word, &meter.ohms_share, &meter.ohms_counts);
      else if (g_strcmp0 (word->key, "counts") == 0)
        read_positive (reader, word, ML_UNIT_NONE, &meter.counts);
      else if (g_strcmp0 (word->key, "input") == 0)
        read_positive (reader, word, ML_UNIT_OHM, &meter.input_ohm);
      else if (g_strcmp0 (word->key, "diode") == 0)
        read_diode_test (reader, word, &meter);
      else
        ml_job_reader_unknown (reader, word, "dc ohms counts input diode");
    }
  ML_JOB_APPEND (reader->job->meters, reader->job->n_meters, meter);
}
