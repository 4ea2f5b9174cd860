/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a job: statements by a table, in two rounds, so that units and meters may be named before they are written. */
#include "job/job-private.h"

#include <string.h>

typedef struct
{
  const char *word, *parent; /* parent: blank-separated; NULL: it starts in column one */
  guint round;
  void (*read) (MlJobReader *reader, const MlStatement *statement);
} Rule;

#define NOTHING_MORE "nothing more"

/* ---- saying what is wrong ---- */

void
ml_job_reader_unknown (MlJobReader *reader, const MlWord *word, const char *known)
{
  g_auto (GStrv) words = g_strsplit (known, " ", -1);
  const char *found = word->key != NULL ? word->key : word->text;
  g_autofree char *meant = NULL;
  MlNearest nearest;

  ml_nearest_start (&nearest, found);
  for (guint i = 0; words[i] != NULL; i++)
    ml_nearest_offer (&nearest, words[i]);
  meant = ml_meant (&nearest);
  if (strcmp (known, NOTHING_MORE) == 0)
    SAID (reader, word, "'%s' is not expected here: the line ends before it; several words that belong together are put in quotes", found);
  else
    SAID (reader, word, "'%s' is not expected here; expected: %s%s", found, known, meant);
}

const MlWord *
ml_job_reader_bare (MlJobReader *reader, const MlStatement *statement, guint i, const char *what)
{
  const MlWord *last = &statement->words[statement->n_words - 1];

  for (guint k = 1; k < statement->n_words; k++)
    if (statement->words[k].key == NULL && i-- == 0)
      return &statement->words[k];
  if (what != NULL)
    SAID_AT (reader, last->line, last->column, "%s: %s is missing", statement->words[0].text, what);
  return NULL;
}

/* ---- names ---- */

int
ml_job_reader_want_unit (MlJobReader *reader, const MlWord *word)
{
  g_autofree char *meant = NULL;
  MlNearest nearest;
  int unit = ml_job_find_unit (reader->job, word->text);

  if (unit >= 0)
    return unit;
  ml_nearest_start (&nearest, word->text);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < reader->job->n_units; i++)
    ml_nearest_offer (&nearest, reader->job->units[i].name);
  meant = ml_meant (&nearest);
  SAID (reader, word, "there is no unit '%s'%s", word->text, meant);
  return -1;
}

int
ml_job_reader_want_condition (MlJobReader *reader, const MlWord *word)
{
  const MlBoard *board = reader->job->board;
  g_autofree char *meant = NULL;
  MlNearest nearest;
  int condition = ml_board_find_condition (board, word->text);

  if (condition >= 0)
    return condition;
  ml_nearest_start (&nearest, word->text);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < board->n_conditions; i++)
    ml_nearest_offer (&nearest, board->conditions[i].name);
  meant = ml_meant (&nearest);
  SAID (reader, word, "the board has no condition '%s'%s", word->text, meant);
  return -1;
}

int
ml_job_reader_want_part (MlJobReader *reader, const MlWord *word, const char *name)
{
  const MlBoard *board = reader->job->board;
  g_autofree char *meant = NULL;
  MlNearest nearest;
  int part = ml_board_find_part (board, name);

  if (part >= 0)
    return part;
  ml_nearest_start (&nearest, name);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < board->n_parts; i++)
    ml_nearest_offer (&nearest, board->parts[i].name);
  meant = ml_meant (&nearest);
  SAID_OF_VALUE (reader, word, "the board has no part '%s'%s", name, meant);
  return -1;
}

int
ml_job_reader_want_net (MlJobReader *reader, const MlWord *word, const char *name)
{
  const MlBoard *board = reader->job->board;
  g_autofree char *meant = NULL;
  MlNearest nearest;
  int net = ml_board_find_net (board, name);

  if (net >= 0)
    return net;
  if (ml_board_find_part (board, name) >= 0)
    {
      SAID_OF_VALUE (reader, word, "%s is a part: name its pin, as in %s.%s", name, name,
                     board->parts[ml_board_find_part (board, name)].n_pins > 0 ? board->parts[ml_board_find_part (board, name)].pins[0].name : "1");
      return -1;
    }
  ml_nearest_start (&nearest, name);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < board->n_nets; i++)
    ml_nearest_offer (&nearest, board->nets[i].name);
  meant = ml_meant (&nearest);
  SAID_OF_VALUE (reader, word, "the board has no net '%s'%s", name, meant);
  return -1;
}

int
ml_job_reader_want_pin (MlJobReader *reader, const MlWord *word, int part, const char *name)
{
  const MlPart *it = &reader->job->board->parts[part];
  g_autofree char *meant = NULL;
  g_autofree char *pins = NULL;
  MlNearest nearest;
  int pin = ml_part_find_pin (it, name);

  if (pin >= 0)
    return pin;
  if (strchr (name, '/') != NULL)
    {
      SAID_OF_VALUE (reader, word, "'%s': only /lead and /lifted may stand behind a pin, as in Q2.emitter/lead", name);
      return -1;
    }
  ml_nearest_start (&nearest, name);
  for (guint i = 0; !ml_diagnostics_is_full (reader->diagnostics) && i < it->n_pins; i++)
    ml_nearest_offer_whole (&nearest, it->pins[i].name);
  meant = ml_meant (&nearest);
  pins = ml_part_pin_words (it);
  SAID_OF_VALUE (reader, word, "%s has no pin '%s'; its pins are: %s%s", it->name, name, pins, meant);
  return -1;
}

gsize
ml_job_reader_tip (const char *text, MlLead *ret_lead)
{
  static const char *const words[] = { "", "/lead", "/lifted" };

  *ret_lead = g_str_has_suffix (text, words[ML_LEAD_LIFTED]) ? ML_LEAD_LIFTED : g_str_has_suffix (text, words[ML_LEAD_SOLDERED]) ? ML_LEAD_SOLDERED : ML_LEAD_NONE;
  return strlen (text) - strlen (words[*ret_lead]);
}

gboolean
ml_job_reader_want_probe (MlJobReader *reader, const MlWord *word, MlProbe *ret_probe)
{
  MlLead lead;
  g_autofree char *name = g_strndup (word->text, ml_job_reader_tip (word->text, &lead));
  char *dot = strchr (name, '.');
  MlProbe probe = { .net = -1, .part = -1, .pin = -1, .lead = lead };

  if (dot == NULL)
    {
      if (lead)
        SAID_OF_VALUE (reader, word, "/%s is written behind a pin, as in Q2.emitter/%s", lead == ML_LEAD_LIFTED ? "lifted" : "lead",
                       lead == ML_LEAD_LIFTED ? "lifted" : "lead");
      else
        probe.net = ml_job_reader_want_net (reader, word, name);
      *ret_probe = probe;
      return !lead && probe.net >= 0;
    }
  *dot = '\0';
  probe.part = ml_job_reader_want_part (reader, word, name);
  probe.pin = probe.part >= 0 ? ml_job_reader_want_pin (reader, word, probe.part, dot + 1) : -1;
  if (probe.pin < 0)
    return FALSE;
  probe.net = reader->job->board->parts[probe.part].pins[probe.pin].net;
  if (probe.net < 0 && !lead)
    {
      SAID_OF_VALUE (reader, word, "nothing is soldered to %s.%s in the drawing: write %s.%s/lead for the pin itself", name, dot + 1, name,
                     dot + 1);
      return FALSE;
    }
  *ret_probe = probe;
  return TRUE;
}

gboolean
ml_job_reader_want_quantity (MlJobReader *reader, const MlWord *word, const char *text, MlUnit unit, MlQuantityFlags flags,
                             MlQuantity *ret_quantity)
{
  gsize where = 0;
  MlQuantityStatus status = ml_quantity_parse (text, strlen (text), unit, flags, ret_quantity, &where);
  const char *symbol = ml_quantity_unit_symbol (unit);

  if (status == ML_QUANTITY_OK)
    return TRUE;
  SAID_AT (reader, word->line, ml_word_column (word, text, where), "%s=%s: %s; expected a number%s%s such as %s", word->key, word->text,
           ml_quantity_status_text (status), *symbol != '\0' ? " in " : "", symbol,
           (flags & ML_QUANTITY_OVER) != 0 ? "2.91, 270m, 1.8..2.1 or OL" : ml_quantity_unit_examples (unit));
  return FALSE;
}

/* TRUE when nothing stands behind the first n bare words and no key is written. */
static gboolean
want_only_bare (MlJobReader *reader, const MlStatement *statement, guint n, const char *known)
{
  for (guint i = 1; i < statement->n_words; i++)
    if (statement->words[i].key != NULL || i > n)
      {
        ml_job_reader_unknown (reader, &statement->words[i], known);
        return FALSE;
      }
  return TRUE;
}

/* ---- statements ---- */

static void
read_version (MlJobReader *reader, const MlStatement *statement)
{
  if (statement->n_words != 2 || strcmp (statement->words[1].text, "1") != 0)
    SAID (reader, &statement->words[statement->n_words - 1], "this program reads version 1 of the language: the line is `meterleaf 1`");
}

static void
read_one_text (MlJobReader *reader, const MlStatement *statement, char **field, const char *what)
{
  const MlWord *word = ml_job_reader_bare (reader, statement, 0, what);

  if (word == NULL || !want_only_bare (reader, statement, 1, NOTHING_MORE))
    return;
  if (*field != NULL)
    SAID (reader, &statement->words[0], "%s was given already", what);
  g_free (*field);
  *field = g_strdup (word->text);
}

static void
read_job (MlJobReader *reader, const MlStatement *statement)
{
  read_one_text (reader, statement, &reader->job->title, "the job's title");
}

static void
read_board (MlJobReader *reader, const MlStatement *statement)
{
  read_one_text (reader, statement, &reader->job->board_file, "the board's file");
}

gboolean
ml_job_reader_want_new_name (MlJobReader *reader, const MlWord *word, const char *what)
{
  const char *wrong = word->quoted ? "a name is never quoted" : ml_name_check (word->text);

  if (wrong != NULL)
    SAID (reader, word, "'%s' cannot be the name of %s: %s", word->text, what, wrong);
  return wrong == NULL;
}

static void
read_unit (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *word = ml_job_reader_bare (reader, statement, 0, "the unit's name");
  MlUnitOnBench unit = { .n_passes = 1, .line = statement->line + 1 };

  if (word == NULL || !ml_job_reader_want_new_name (reader, word, "unit"))
    return;
  if (ml_job_find_unit (reader->job, word->text) >= 0)
    {
      SAID (reader, word, "there is a unit %s already, in line %u", word->text,
            reader->job->units[ml_job_find_unit (reader->job, word->text)].line);
      return;
    }
  if (reader->job->n_units == ML_JOB_MAX_UNITS)
    {
      SAID (reader, word, "a job has at most %u units", ML_JOB_MAX_UNITS);
      return;
    }
  unit.name = g_strdup (word->text);
  for (guint i = 1; i < statement->n_words; i++)
    {
      word = &statement->words[i];
      if (i == 1)
        continue;
      if (word->key == NULL && word->quoted && unit.symptom == NULL)
        unit.symptom = g_strdup (word->text);
      else if (word->key == NULL && strcmp (word->text, "suspect") == 0)
        unit.state = ML_UNIT_STATE_SUSPECT;
      else if (word->key == NULL && strcmp (word->text, "good") == 0)
        unit.state = ML_UNIT_STATE_GOOD;
      else
        ml_job_reader_unknown (reader, word, "suspect good \"symptom\"");
    }
  ML_JOB_APPEND (reader->job->units, reader->job->n_units, unit);
}

/* In the second round a unit only says where indented lines belong. */
static void
enter_unit (MlJobReader *reader, const MlStatement *statement)
{
  reader->unit = statement->n_words > 1 ? ml_job_find_unit (reader->job, statement->words[1].text) : -1;
  reader->pass = 1;
  g_hash_table_remove_all (reader->changed);
  if (reader->unit >= 0 && reader->job->units[reader->unit].line != statement->line + 1)
    reader->unit = -1;
}

static void
read_pass (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *name = ml_job_reader_bare (reader, statement, 0, "the unit"), *number, *text;
  MlQuantity n;
  MlPass pass = { .line = statement->line + 1 };

  number = name != NULL ? ml_job_reader_bare (reader, statement, 1, "the number of the pass") : NULL;
  if (number == NULL || !want_only_bare (reader, statement, 3, "UNIT NUMBER \"text\""))
    return;
  text = ml_job_reader_bare (reader, statement, 2, NULL);
  pass.unit = ml_job_reader_want_unit (reader, name);
  if (pass.unit < 0)
    return;
  if (ml_quantity_parse (number->text, strlen (number->text), ML_UNIT_NONE, ML_QUANTITY_PLAIN, &n, NULL) != ML_QUANTITY_OK
      || n.value != reader->job->units[pass.unit].n_passes + 1)
    {
      SAID (reader, number, "'%s': the next pass of %s is number %u", number->text, name->text, reader->job->units[pass.unit].n_passes + 1);
      return;
    }
  pass.pass = ++reader->job->units[pass.unit].n_passes;
  pass.text = text != NULL ? g_strdup (text->text) : NULL;
  reader->unit = pass.unit;
  reader->pass = pass.pass;
  g_hash_table_remove_all (reader->changed);
  ML_JOB_APPEND (reader->job->passes, reader->job->n_passes, pass);
}

static void
add_difference (MlJobReader *reader, MlDifference difference, const MlStatement *statement)
{
  MlUnitOnBench *unit = &reader->job->units[reader->unit];

  difference.pass = reader->pass;
  difference.line = statement->line + 1;
  ML_JOB_APPEND (unit->differences, unit->n_differences, difference);
}

/* A part is fitted otherwise or removed, once in a pass; said where it is not. */
static gboolean
want_unchanged (MlJobReader *reader, const MlWord *word, int part)
{
  gpointer before = g_hash_table_lookup (reader->changed, GINT_TO_POINTER (part));

  if (before != NULL)
    SAID (reader, word, "how %s differs was said already, in line %u", word->text, GPOINTER_TO_UINT (before));
  else
    g_hash_table_insert (reader->changed, GINT_TO_POINTER (part), GUINT_TO_POINTER (word->line + 1));
  return before == NULL;
}

static void
fit_part_number (MlJobReader *reader, const MlWord *word, const MlPart *part, GArray *attributes)
{
  const MlDatasheet *datasheet = ml_datasheet_find (word->text);

  if (datasheet == NULL || datasheet->kind != part->kind)
    {
      SAID (reader, word, "'%s' is no known part number of %s", word->text, ml_kind_called (part->kind));
      return;
    }
  for (guint i = 0; i < datasheet->n_attributes; i++)
    {
      MlAttribute attribute = datasheet->attributes[i];

      attribute.text = g_strdup (attribute.text);
      attribute.from_datasheet = TRUE;
      g_array_append_val (attributes, attribute);
    }
}

static void
say_unknown_key (MlJobReader *reader, const MlWord *word, const MlKindInfo *kind)
{
  const char *found = word->key != NULL ? word->key : word->text;
  g_autofree char *keys = ml_kind_key_words (kind);
  g_autofree char *meant = NULL;
  MlNearest nearest;

  ml_nearest_start (&nearest, found);
  for (guint i = 0; i < kind->n_keys; i++)
    ml_nearest_offer (&nearest, kind->keys[i].word);
  meant = ml_meant (&nearest);
  SAID (reader, word, "'%s' is not a key of %s; its keys are: %s%s", found, ml_kind_called (kind), keys, meant);
}

static void
read_fitted (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *word = ml_job_reader_bare (reader, statement, 0, "the part");
  MlDifference difference = { .what = ML_DIFFERS_FITTED, .pin = -1, .net_a = -1, .net_b = -1 };
  MlBoardReader attribute_reader = { .text = reader->text, .diagnostics = reader->diagnostics };
  const MlPart *part;
  GArray *attributes;

  difference.part = word != NULL ? ml_job_reader_want_part (reader, word, word->text) : -1;
  if (difference.part < 0 || !want_unchanged (reader, word, difference.part))
    return;
  part = &reader->job->board->parts[difference.part];
  attributes = g_array_new (FALSE, TRUE, sizeof (MlAttribute));
  for (guint i = 2; i < statement->n_words; i++)
    {
      const MlKeyInfo *info = statement->words[i].key != NULL ? ml_kind_key (part->kind, statement->words[i].key) : NULL;

      if (info != NULL)
        ml_board_reader_attribute (&attribute_reader, &statement->words[i], info, attributes);
      else if (statement->words[i].key == NULL && attributes->len == 0)
        fit_part_number (reader, &statement->words[i], part, attributes);
      else
        say_unknown_key (reader, &statement->words[i], part->kind);
    }
  difference.n_attributes = attributes->len;
  difference.attributes = (MlAttribute *) (gpointer) g_array_free (attributes, FALSE);
  add_difference (reader, difference, statement);
}

static void
read_removed (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *word = ml_job_reader_bare (reader, statement, 0, "the part");
  MlDifference difference = { .what = ML_DIFFERS_REMOVED, .part = -1, .pin = -1, .net_a = -1, .net_b = -1 };

  if (word != NULL && want_only_bare (reader, statement, 1, NOTHING_MORE))
    difference.part = ml_job_reader_want_part (reader, word, word->text);
  if (difference.part >= 0 && want_unchanged (reader, word, difference.part))
    add_difference (reader, difference, statement);
}

static void
read_lifted (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *word = ml_job_reader_bare (reader, statement, 0, "the pin");
  MlDifference difference = { .what = ML_DIFFERS_LIFTED, .net_a = -1, .net_b = -1 };
  MlProbe probe;

  if (word == NULL || !want_only_bare (reader, statement, 1, NOTHING_MORE) || !ml_job_reader_want_probe (reader, word, &probe))
    return;
  if (probe.part < 0)
    {
      SAID (reader, word, "'%s' is a net: a pin is lifted, as in D4.cathode", word->text);
      return;
    }
  difference.part = probe.part;
  difference.pin = probe.pin;
  add_difference (reader, difference, statement);
}

static void
read_linked (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *a = ml_job_reader_bare (reader, statement, 0, "the first net"), *b;
  MlDifference difference = { .what = ML_DIFFERS_LINKED, .part = -1, .pin = -1 };

  b = a != NULL ? ml_job_reader_bare (reader, statement, 1, "the second net") : NULL;
  if (b == NULL || !want_only_bare (reader, statement, 2, NOTHING_MORE))
    return;
  difference.net_a = ml_job_reader_want_net (reader, a, a->text);
  difference.net_b = ml_job_reader_want_net (reader, b, b->text);
  if (difference.net_a >= 0 && difference.net_a == difference.net_b)
    SAID (reader, b, "net %s is linked with itself: name two nets", b->text);
  else if (difference.net_a >= 0 && difference.net_b >= 0)
    add_difference (reader, difference, statement);
}

/* ---- what was seen ---- */

static gboolean
want_one_of (MlJobReader *reader, const MlWord *word, const char *choices)
{
  g_auto (GStrv) words = g_strsplit (choices, " ", -1);

  if (g_strv_contains ((const char *const *) words, word->text))
    return TRUE;
  ml_job_reader_unknown (reader, word, choices);
  return FALSE;
}

/* `supply limiting`, or `supply 2 limiting` where there are several. */
static gboolean
read_seen_supply (MlJobReader *reader, const MlStatement *statement, MlObservation *observation)
{
  const MlCondition *condition = &reader->job->board->conditions[observation->condition];
  const MlWord *what = ml_job_reader_bare (reader, statement, 3, "what was seen");
  const MlWord *further = ml_job_reader_bare (reader, statement, 4, NULL);
  const char *name = further != NULL ? what->text : NULL;

  if (what == NULL || !want_one_of (reader, further != NULL ? further : what, "limiting"))
    return FALSE;
  for (guint i = 0; i < condition->n_supplies && observation->supply < 0; i++)
    if (name == NULL || strcmp (condition->supplies[i].name, name) == 0)
      observation->supply = (int) i;
  if (observation->supply < 0)
    SAID (reader, what, "condition %s has no %s%s", condition->name, name != NULL ? "supply " : "supply", name != NULL ? name : "");
  observation->what = g_strdup ("limiting");
  return observation->supply >= 0;
}

static gboolean
read_seen_part (MlJobReader *reader, const MlStatement *statement, const MlWord *subject, MlObservation *observation)
{
  const MlWord *what = ml_job_reader_bare (reader, statement, 3, "what was seen");

  observation->part = ml_job_reader_want_part (reader, subject, subject->text);
  if (what == NULL || observation->part < 0 || !want_one_of (reader, what, "lit dim dark warm hot cold clicks silent"))
    return FALSE;
  observation->what = g_strdup (what->text);
  return want_only_bare (reader, statement, 4, NOTHING_MORE);
}

static void
read_seen (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *unit = ml_job_reader_bare (reader, statement, 0, "the unit"), *condition, *subject;
  MlObservation observation = { .part = -1, .supply = -1, .line = statement->line + 1 };
  gboolean fine;

  condition = unit != NULL ? ml_job_reader_bare (reader, statement, 1, "the condition") : NULL;
  subject = condition != NULL ? ml_job_reader_bare (reader, statement, 2, "the part") : NULL;
  if (subject == NULL)
    return;
  observation.unit = ml_job_reader_want_unit (reader, unit);
  observation.condition = ml_job_reader_want_condition (reader, condition);
  if (observation.unit < 0 || observation.condition < 0)
    return;
  observation.pass = reader->job->units[observation.unit].n_passes;
  if (strcmp (subject->text, "supply") == 0 && ml_board_find_part (reader->job->board, "supply") < 0)
    fine = read_seen_supply (reader, statement, &observation);
  else
    fine = read_seen_part (reader, statement, subject, &observation);
  if (fine)
    ML_JOB_APPEND (reader->job->observations, reader->job->n_observations, observation);
  else
    g_free (observation.what);
}

/* ---- the log ---- */

static gboolean
two_digits_up_to (const char *digits, int low, int high)
{
  const int n = 10 * (digits[0] - '0') + digits[1] - '0';

  return n >= low && n <= high;
}

/* 2026-03-04 or 2026-03-04T10:22 or with seconds (ISO 8601, local time); not how many days its month has. */
static gboolean
is_time (const char *word)
{
  static const char form[] = "0000-00-00T00:00:00";
  gsize n = strlen (word);

  if (n != 10 && n != 16 && n != 19)
    return FALSE;
  for (gsize i = 0; i < n; i++)
    if (form[i] == '0' ? !g_ascii_isdigit (word[i]) : word[i] != form[i])
      return FALSE;
  return two_digits_up_to (word + 5, 1, 12) && two_digits_up_to (word + 8, 1, 31) && (n < 16 || (two_digits_up_to (word + 11, 0, 23) && two_digits_up_to (word + 14, 0, 59)))
         && (n < 19 || two_digits_up_to (word + 17, 0, 60));
}

static gboolean
want_subject (MlJobReader *reader, const MlWord *word)
{
  const char *dot = strchr (word->text, '.');
  g_autofree char *name = dot != NULL ? g_strndup (word->text, (gsize) (dot - word->text)) : g_strdup (word->text);
  int part = ml_job_reader_want_part (reader, word, name);

  return part >= 0 && (dot == NULL || ml_job_reader_want_pin (reader, word, part, dot + 1) >= 0);
}

static void
read_log (MlJobReader *reader, const MlStatement *statement)
{
  const MlWord *words[5] = { NULL };
  static const char *const whats[] = { "the time", "the unit", "what was done", "the part or the text" };
  MlLogEntry entry = { .line = statement->line + 1 };
  gboolean of_part;

  for (guint i = 0; i < 4; i++)
    if ((words[i] = ml_job_reader_bare (reader, statement, i, whats[i])) == NULL)
      return;
  words[4] = ml_job_reader_bare (reader, statement, 4, NULL);
  if (!want_only_bare (reader, statement, 5, NOTHING_MORE))
    return;
  if (!is_time (words[0]->text))
    SAID (reader, words[0], "'%s' is no time; expected one such as 2026-03-04T10:22", words[0]->text);
  entry.unit = ml_job_reader_want_unit (reader, words[1]);
  if (!is_time (words[0]->text) || entry.unit < 0 || !want_one_of (reader, words[2], "replaced resoldered heated removed noted photo"))
    return;
  of_part = strcmp (words[2]->text, "noted") != 0 && strcmp (words[2]->text, "photo") != 0;
  if (of_part && !want_subject (reader, words[3]))
    return;
  if (!of_part && words[4] != NULL)
    {
      ml_job_reader_unknown (reader, words[4], NOTHING_MORE);
      return;
    }
  entry.when = g_strdup (words[0]->text);
  entry.what = g_strdup (words[2]->text);
  entry.subject = of_part ? g_strdup (words[3]->text) : NULL;
  entry.text = of_part ? g_strdup (words[4] != NULL ? words[4]->text : NULL) : g_strdup (words[3]->text);
  ML_JOB_APPEND (reader->job->log, reader->job->n_log, entry);
}

/* ---- the whole file ---- */

static const Rule rules[] = {
  { "meterleaf", NULL, 0, read_version },    { "job", NULL, 0, read_job },       { "board", NULL, 0, read_board },
  { "meter", NULL, 0, ml_job_reader_meter }, { "unit", NULL, 0, read_unit },     { "reading", NULL, 1, ml_job_reader_reading },
  { "seen", NULL, 1, read_seen },            { "pass", NULL, 1, read_pass },     { "log", NULL, 1, read_log },
  { "fitted", "unit pass", 1, read_fitted }, { "removed", "unit pass", 1, read_removed },
  { "lifted", "unit pass", 1, read_lifted }, { "linked", "unit pass", 1, read_linked },
};

static const Rule *
find_rule (const MlWord *word, gboolean indented)
{
  for (guint i = 0; word->key == NULL && i < G_N_ELEMENTS (rules); i++)
    if (strcmp (rules[i].word, word->text) == 0 && (rules[i].parent != NULL) == indented)
      return &rules[i];
  return NULL;
}

static void
say_unknown (MlJobReader *reader, const MlWord *word, gboolean indented)
{
  g_autoptr (GString) known = g_string_new (NULL);

  if (find_rule (word, !indented) != NULL)
    {
      SAID (reader, word, indented ? "'%s' starts in column one: take the blanks before it away" : "'%s' is written indented below its unit or pass",
            word->text);
      return;
    }
  for (guint i = 0; i < G_N_ELEMENTS (rules); i++)
    if ((rules[i].parent != NULL) == indented)
      g_string_append_printf (known, "%s%s", known->len > 0 ? " " : "", rules[i].word);
  ml_job_reader_unknown (reader, word, known->str);
}

static void
read_statement (MlJobReader *reader, const MlStatement *statement, guint round)
{
  const MlWord *word = &statement->words[0];
  const Rule *rule = find_rule (word, statement->indented);

  if (!statement->indented)
    reader->unit = -1;
  if (rule == NULL)
    {
      if (round == 0)
        say_unknown (reader, word, statement->indented);
      return;
    }
  if (round == 1 && strcmp (rule->word, "unit") == 0)
    enter_unit (reader, statement);
  if (rule->round != round || (round == 1 && reader->no_board))
    return;
  if (!statement->indented || reader->unit >= 0)
    rule->read (reader, statement);
}

/* An indented line needs a unit or pass above it; said in the first round, whatever became of that statement. */
static void
check_owner (MlJobReader *reader, const MlStatement *statement, gboolean *has_owner)
{
  const char *word = statement->n_words > 0 ? statement->words[0].text : "";

  if (!statement->indented)
    *has_owner = statement->broken || strcmp (word, "unit") == 0 || strcmp (word, "pass") == 0;
  else if (!*has_owner && statement->n_words > 0 && find_rule (&statement->words[0], TRUE) != NULL)
    SAID (reader, &statement->words[0], "'%s' needs a unit or pass above it", word);
}

static void
read_round (MlJobReader *reader, guint round)
{
  g_autoptr (MlScanner) scanner = ml_scanner_new (reader->text, round == 0 ? reader->diagnostics : NULL);
  const MlStatement *statement;
  gboolean has_owner = FALSE;

  reader->unit = -1;
  while ((statement = ml_scanner_next (scanner)) != NULL)
    {
      if (round == 0)
        check_owner (reader, statement, &has_owner);
      if (!statement->broken)
        read_statement (reader, statement, round);
      else if (!statement->indented)
        reader->unit = -1;
    }
}

MlJob *
ml_job_read (MlText *text, MlBoard *board, MlDiagnostics *diagnostics)
{
  MlJobReader reader = { .text = text, .diagnostics = diagnostics, .no_board = board == NULL, .unit = -1 };
  const gboolean trouble = diagnostics != NULL && ml_diagnostics_n_errors (diagnostics) > 0; /* why there is none has been said */

  reader.job = ml_job_alloc (text, board);
  reader.standing = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);
  reader.changed = g_hash_table_new (NULL, NULL);
  read_round (&reader, 0);
  if (reader.job->n_meters == 0)
    {
      MlMeter meter = ml_meter_default ("meter");
      ML_JOB_APPEND (reader.job->meters, reader.job->n_meters, meter);
    }
  if (board == NULL && diagnostics != NULL && !trouble)
    ml_diagnostics_add (diagnostics, ml_text_name (text), 0, 0, ML_SEVERITY_ERROR, "without its board the job's readings cannot be understood");
  read_round (&reader, 1);
  g_hash_table_unref (reader.standing);
  g_hash_table_unref (reader.changed);
  if (diagnostics != NULL)
    ml_diagnostics_sort (diagnostics);
  return reader.job;
}
