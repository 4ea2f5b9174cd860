/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/note-text.h"

#include <math.h>
#include <string.h>

#include "drawing/paint-text.h"

#define READING_HEIGHT 1.2
#define SMALL_HEIGHT 1.0
#define PERCENT_HEIGHT 1.45
#define MOST_FORETOLD 3 /* values told beside that of a sound board */
#define MOST_CHARS 32   /* of what the next reading may show, in one line */
#define LINE 1.16 /* line height / text height */

static void
add_line (MlNoteText *note, char *text, gboolean bold, gboolean faint, double height)
{
  if (note->n_lines == ML_NOTE_MAX_LINES)
    {
      g_free (text);
      return;
    }
  note->lines[note->n_lines].text = text;
  note->lines[note->n_lines].bold = bold;
  note->lines[note->n_lines].faint = faint;
  note->lines[note->n_lines++].height = height;
}

/* A long one goes on below, lest all of the drawing be made small for it. Takes the text over. */
static void
add_lines (MlNoteText *note, char *text, gboolean bold, double height)
{
  char *from = text;

  for (;;)
    {
      char *at = g_utf8_strlen (from, -1) > MOST_CHARS ? g_utf8_offset_to_pointer (from, MOST_CHARS) : NULL;
      char *blank = at != NULL ? g_strrstr_len (from, at - from + 1, " ") : NULL;

      if (at != NULL && blank == NULL)
        blank = strchr (at, ' ');
      add_line (note, blank != NULL ? g_strndup (from, (gsize) (blank - from)) : g_strdup (from), bold, FALSE, height);
      if (blank == NULL)
        break;
      from = blank + 1;
    }
  g_free (text);
}

void
ml_note_text_clear (MlNoteText *note)
{
  for (guint i = 0; i < note->n_lines; i++)
    g_free (note->lines[i].text);
}

void
ml_note_text_size (const MlNoteText *note, const char *font, double *ret_width, double *ret_height)
{
  const double frame = note->framed ? 0.4 : 0;

  *ret_width = *ret_height = 0;
  for (guint i = 0; i < note->n_lines; i++)
    {
      const MlTextStyle style = { .font = font, .height = note->lines[i].height, .bold = note->lines[i].bold };
      double width, height;

      ml_text_size (note->lines[i].text, &style, &width, &height);
      *ret_width = MAX (*ret_width, width);
      *ret_height += LINE * note->lines[i].height;
    }
  *ret_width += 2 * frame;
  *ret_height += 2 * frame;
}

MlUnit
ml_note_unit (MlReads reads)
{
  static const MlUnit units[] = { [ML_READS_VOLTS] = ML_UNIT_VOLT, [ML_READS_AMPS] = ML_UNIT_AMPERE, [ML_READS_OHMS] = ML_UNIT_OHM,
                                  [ML_READS_DIODE] = ML_UNIT_VOLT };

  return units[reads];
}

static int
digits_typed (double value, double resolution)
{
  if (!(resolution > 0) || value == 0)
    return 3;
  return CLAMP ((int) floor (log10 (fabs (value)) + 1e-9) - (int) floor (log10 (resolution) + 1e-9) + 1, 1, 9);
}

static char *
millivolts (const MlQuantity *measured)
{
  const double resolution = measured->resolution > 0 ? measured->resolution : 1e-4;
  const int decimals = CLAMP ((int) ceil (-log10 (resolution * 1e3) - 1e-9), 0, 6);
  char format[8], number[G_ASCII_DTOSTR_BUF_SIZE];

  g_snprintf (format, sizeof format, "%%.%df", decimals);
  return g_strdup_printf ("%s mV", g_ascii_formatd (number, sizeof number, format, measured->value * 1e3));
}

char *
ml_note_value (const MlQuantity *measured, MlUnit unit)
{
  char low[64], high[64];

  if (measured->over)
    return g_strdup ("OL");
  if (measured->range)
    {
      ml_quantity_format (measured->low, unit, digits_typed (measured->low, measured->resolution), true, low, sizeof low);
      ml_quantity_format (measured->high, unit, digits_typed (measured->high, measured->resolution), true, high, sizeof high);
      return g_strdup_printf ("%s to %s", low, high);
    }
  /* No handheld meter shows microvolts: 0.7 mV is what stood on the display. */
  if (unit == ML_UNIT_VOLT && measured->value != 0 && fabs (measured->value) < 1e-3 && measured->resolution >= 1e-6)
    return millivolts (measured);
  ml_quantity_format (measured->value, unit, digits_typed (measured->value, measured->resolution), measured->value != 0, low, sizeof low);
  return g_strdup (low);
}

char *
ml_note_expected (double value, MlUnit unit)
{
  static const double nothing[ML_N_UNITS] = { [ML_UNIT_VOLT] = 5e-4, [ML_UNIT_AMPERE] = 1e-9, [ML_UNIT_OHM] = 1e-3 };
  char text[64];

  if (fabs (value) < nothing[unit])
    value = 0;
  if (isinf (value) || (unit == ML_UNIT_OHM && value > 1e9))
    return g_strdup ("OL");
  ml_quantity_format (value, unit, value == 0 ? 1 : 3, value != 0, text, sizeof text);
  return g_strdup (text);
}

/* What the reading should be: of the state shown (as drawn or supposed) for volts, else what the verdict computed with the meter. */
double
ml_note_expected_of (const MlOverlay *overlay, guint index)
{
  const MlReading *reading = &overlay->job->readings[index];
  const MlOperatingPoint *point = overlay->point;

  for (guint i = 0; overlay->verdict != NULL && !overlay->supposing && i < overlay->verdict->n_readings; i++)
    if (overlay->verdict->readings[i].reading == (int) index)
      return overlay->verdict->readings[i].healthy;
  if (point == NULL || point->condition != reading->condition)
    return NAN;
  if (reading->reads == ML_READS_AMPS && reading->supply >= 0)
    return point->supply_a != NULL ? point->supply_a[reading->supply] : NAN;
  if (reading->reads != ML_READS_VOLTS || reading->red.net < 0 || reading->black.net < 0 || point->net_v == NULL)
    return NAN;
  return point->net_v[reading->red.net] - point->net_v[reading->black.net];
}

/* Where the black probe stood, when a reader would not guess it. */
static char *
heading (const MlBoard *board, const MlReading *reading, const char *value)
{
  g_autofree char *black = NULL;

  if (reading->reads == ML_READS_AMPS)
    return g_strdup (value);
  if (reading->across >= 0 && board->parts[reading->across].n_pins <= 2)
    return g_strdup (value);
  if (reading->across >= 0 && reading->red.pin >= 0 && reading->black.pin >= 0)
    return g_strdup_printf ("%s %s-%s", value, board->parts[reading->across].pins[reading->red.pin].name,
                            board->parts[reading->across].pins[reading->black.pin].name);
  if (reading->black.net == board->reference && !reading->black.lead)
    return g_strdup_printf ("%s%s", value, reading->red.lead ? " on the lead" : "");
  black = ml_probe_label (board, &reading->black);
  return g_strdup_printf ("%s to %s", value, black);
}

/* Volts as they would have been read with the probes the other way round. */
static void
turn_round (MlQuantity *measured)
{
  const double low = measured->low;

  measured->value = -measured->value;
  measured->low = -measured->high;
  measured->high = -low;
}

/* The other unit's standing reading of the same place; volts turned where they were taken the other way round. */
static gboolean
find_other (const MlJob *job, int unit, const MlReading *reading, MlQuantity *ret_measured)
{
  const guint pass = ml_job_last_pass (job, unit);
  gboolean swapped = FALSE;
  int found = -1;

  if (reading->reads == ML_READS_AMPS)
    {
      for (guint i = 0; i < job->n_readings; i++)
        if (job->readings[i].unit == unit && job->readings[i].pass == pass && job->readings[i].condition == reading->condition
            && job->readings[i].supply == reading->supply && job->readings[i].reads == reading->reads && !job->readings[i].replaced)
          found = (int) i;
    }
  else
    found = ml_job_find_reading (job, unit, pass, reading->condition, reading->reads, &reading->red, &reading->black, &swapped);
  if (found < 0)
    return FALSE;
  *ret_measured = job->readings[found].measured;
  if (swapped && reading->reads == ML_READS_VOLTS)
    turn_round (ret_measured);
  return TRUE;
}

/* With its sign: it must not be taken for what either meter showed. */
static char *
difference_text (double difference, MlUnit unit)
{
  g_autofree char *text = ml_note_expected (difference, unit);

  return g_ascii_strtod (text, NULL) > 0 ? g_strconcat ("+", text, NULL) : g_steal_pointer (&text);
}

gboolean
ml_note_other_unit (const MlJob *job, int other_unit, const MlReading *reading, char **ret_value, char **ret_difference)
{
  const MlUnit unit = ml_note_unit (reading->reads);
  MlQuantity other;

  if (other_unit < 0 || other_unit >= (int) job->n_units || other_unit == reading->unit || !find_other (job, other_unit, reading, &other))
    return FALSE;
  *ret_value = ml_note_value (&other, unit);
  if (other.over || reading->measured.over)
    *ret_difference = g_strdup (other.over && reading->measured.over ? "same" : "differs");
  else
    *ret_difference = difference_text (reading->measured.value - other.value, unit);
  return TRUE;
}

static void
add_other_unit (MlNoteText *note, const MlOverlay *overlay, const MlReading *reading)
{
  g_autofree char *value = NULL, *difference = NULL;

  if (ml_note_other_unit (overlay->job, overlay->other_unit, reading, &value, &difference))
    add_line (note, g_strdup_printf ("%s %s (%s)", overlay->job->units[overlay->other_unit].name, value, difference), FALSE, FALSE, SMALL_HEIGHT);
}

char *
ml_note_doubt (const MlReadingVerdict *reading, MlUnit unit)
{
  static const char *const words[] = { [ML_SLIP_SWAPPED] = "probes swapped?", [ML_SLIP_THOUSANDFOLD] = "a thousandfold off?",
                                       [ML_SLIP_WRONG_PIN] = "another pin?", [ML_SLIP_WRONG_CONDITION] = "another condition?",
                                       [ML_SLIP_UNCLEAR] = "doubtful:" };
  g_autofree char *fits = NULL;

  if (reading->slip == ML_SLIP_NONE || !isfinite (reading->fits))
    return g_strdup ("doubtful");
  fits = ml_note_expected (reading->fits, unit);
  return g_strdup_printf ("%s %s fits", words[reading->slip], fits);
}

MlNoteText
ml_note_of_reading (const MlScene *scene, const MlOverlay *overlay, guint index)
{
  const MlReading *reading = &overlay->job->readings[index];
  const MlUnit unit = ml_note_unit (reading->reads);
  g_autofree char *value = ml_note_value (&reading->measured, unit);
  MlNoteText note = { 0 };

  if (reading->reads == ML_READS_AMPS && reading->has_shown)
    {
      g_autofree char *shown = ml_note_value (&reading->shown_v, ML_UNIT_VOLT);

      add_line (&note, g_strdup_printf ("%s, %s", value, shown), TRUE, FALSE, READING_HEIGHT);
    }
  else if (reading->reads == ML_READS_DIODE)
    add_line (&note, g_strdup_printf ("diode test %s", value), TRUE, FALSE, READING_HEIGHT);
  else
    add_line (&note, heading (scene->board, reading, value), TRUE, FALSE, READING_HEIGHT);
  for (guint i = 0; overlay->verdict != NULL && i < overlay->verdict->n_readings; i++)
    {
      const MlReadingVerdict *v = &overlay->verdict->readings[i];

      if (v->reading == (int) index && (v->doubtful || v->slip != ML_SLIP_NONE))
        add_line (&note, ml_note_doubt (v, unit), FALSE, FALSE, SMALL_HEIGHT);
    }
  add_other_unit (&note, overlay, reading);
  if (overlay->show_expected && !isnan (ml_note_expected_of (overlay, index)))
    {
      g_autofree char *expected = ml_note_expected (ml_note_expected_of (overlay, index), unit);

      add_line (&note, g_strdup_printf ("expect %s", expected), FALSE, TRUE, SMALL_HEIGHT);
    }
  return note;
}

static const MlExplanation *
explanation_by_id (const MlVerdict *verdict, guint id)
{
  for (guint i = 0; verdict != NULL && i < verdict->n_explanations; i++)
    if (verdict->explanations[i].id == id)
      return &verdict->explanations[i];
  return NULL;
}

/* "Q1 open at its drain", "solder joint at Q1's source": the title of a fault without its size, to stand within a line. part: NULL when
 * the title begins with a name. */
static char *
fault_words (const MlExplanation *explanation, const char *part)
{
  const char *size = strstr (explanation->title, ", about ");
  char *words = g_strndup (explanation->title, size != NULL ? (gsize) (size - explanation->title) : strlen (explanation->title));

  if (part != NULL && (*part == '\0' || !g_str_has_prefix (words, part)))
    words[0] = g_ascii_tolower (words[0]);
  return words;
}

/* What to call an explanation in two words; more where another one names the same part. */
static char *
short_name (const MlVerdict *verdict, const MlExplanation *explanation)
{
  const int part = explanation->n_faults > 0 ? explanation->faults[0].part : -1;
  gboolean begins_with_name;
  guint named = 0;

  for (guint i = 0; part >= 0 && i < verdict->n_explanations; i++)
    named += verdict->explanations[i].n_faults > 0 && verdict->explanations[i].faults[0].part == part
             && verdict->explanations[i].probability >= 0.1 * explanation->probability;
  if (named > 1 && explanation->title != NULL)
    return fault_words (explanation, verdict->job->board->parts[part].name);
  if (part >= 0)
    return g_strdup (verdict->job->board->parts[part].name);
  if (explanation->explains == ML_EXPLAINS_MISFIT)
    return g_strdup ("the drawing is wrong");
  if (explanation->title == NULL || explanation->n_faults == 0)
    return g_strdup ("");
  begins_with_name = explanation->faults[0].kind == ML_FAULT_MISSING_LINK || explanation->faults[0].kind == ML_FAULT_EXTRA_LINK;
  return fault_words (explanation, begins_with_name ? NULL : "");
}

/* What some explanations let the next reading show. */
typedef struct { char *value; GPtrArray *names; } Foretold;

static void
foretold_clear (gpointer data)
{
  Foretold *foretold = data;

  g_free (foretold->value);
  g_ptr_array_unref (foretold->names);
}

static Foretold *
foretold_of (GArray *list, const char *value)
{
  for (guint i = 0; i < list->len; i++)
    if (!strcmp (g_array_index (list, Foretold, i).value, value))
      return &g_array_index (list, Foretold, i);
  if (list->len == MOST_FORETOLD)
    return NULL;
  Foretold fresh = { g_strdup (value), g_ptr_array_new_with_free_func (g_free) };
  g_array_append_val (list, fresh);
  return &g_array_index (list, Foretold, list->len - 1);
}

static int
faulty_part (const MlExplanation *explanation)
{
  return explanation != NULL && explanation->n_faults > 0 ? explanation->faults[0].part : -1;
}

/* Faults of one part that all show the same are that part; else each is called by what it is. New string. */
static char *
name_foretold (const MlVerdict *verdict, const MlNextReading *next, const MlExplanation *explanation, const char *value, MlUnit unit)
{
  const int part = faulty_part (explanation);
  guint alike = 0;

  for (guint i = 0; part >= 0 && i < next->n_expect; i++)
    {
      g_autofree char *other = ml_note_expected (next->expect[i].value, unit);

      if (faulty_part (explanation_by_id (verdict, next->expect[i].explanation)) != part)
        continue;
      if (strcmp (other, value))
        return short_name (verdict, explanation);
      alike++;
    }
  return alike > 1 ? g_strdup (verdict->job->board->parts[part].name) : short_name (verdict, explanation);
}

/* A line for each value: "if R2 or R3: 2.4 V", "if R2, R3 or others: 2.4 V". */
static void
add_expected (MlNoteText *note, const MlVerdict *verdict, const MlNextReading *next, MlUnit unit)
{
  g_autoptr (GArray) list = g_array_new (FALSE, FALSE, sizeof (Foretold));

  g_array_set_clear_func (list, foretold_clear);
  for (guint i = 0; i < next->n_expect; i++)
    {
      const MlExplanation *explanation = explanation_by_id (verdict, next->expect[i].explanation);
      Foretold *foretold;

      if (explanation == NULL || explanation->explains == ML_EXPLAINS_HEALTHY || isnan (next->expect[i].value))
        continue;
      g_autofree char *value = ml_note_expected (next->expect[i].value, unit);
      g_autofree char *name = name_foretold (verdict, next, explanation, value, unit);
      foretold = foretold_of (list, value);
      if (foretold != NULL && !g_ptr_array_find_with_equal_func (foretold->names, name, g_str_equal, NULL))
        g_ptr_array_add (foretold->names, g_steal_pointer (&name));
    }
  for (guint i = 0; i < list->len; i++)
    {
      const Foretold *foretold = &g_array_index (list, Foretold, i);
      const char *first = foretold->names->pdata[0], *second = foretold->names->len > 1 ? foretold->names->pdata[1] : NULL;
      g_autofree char *names = second == NULL ? g_strdup (first)
                               : g_strdup_printf (foretold->names->len == 2 ? "%s or %s" : "%s, %s or others", first, second);

      add_lines (note, g_strdup_printf ("if %s: %s", names, foretold->value), FALSE, SMALL_HEIGHT);
    }
}

MlNoteText
ml_note_of_next (const MlScene *scene, const MlOverlay *overlay)
{
  const MlNextReading *next = overlay->next;
  const MlUnit unit = ml_note_unit (next->reads);
  MlNoteText note = { .framed = TRUE };

  if (next->step != NULL)
    add_lines (&note, g_strdup_printf ("next: %s", next->step), TRUE, SMALL_HEIGHT);
  else if (next->condition >= 0 && next->condition != overlay->condition)
    add_line (&note, g_strdup_printf ("next, in %s", scene->board->conditions[next->condition].name), TRUE, FALSE, SMALL_HEIGHT);
  else
    add_line (&note, g_strdup ("next"), TRUE, FALSE, SMALL_HEIGHT);
  if (!isnan (next->healthy))
    {
      g_autofree char *fine = ml_note_expected (next->healthy, unit);

      add_line (&note, g_strdup_printf ("fine: %s", fine), FALSE, FALSE, SMALL_HEIGHT);
    }
  add_expected (&note, overlay->verdict, next, unit);
  return note;
}

/* "and R2" where two faults at once lead: each of the two is faulty then, not one of them. NULL where they do not. */
static char *
partner_text (const MlScene *scene, const MlVerdict *verdict, guint part)
{
  const MlExplanation *first = verdict->n_explanations > 0 ? &verdict->explanations[0] : NULL;
  int partner = -1;
  gboolean own = FALSE;

  for (guint i = 0; first != NULL && i < first->n_faults; i++)
    if (first->faults[i].part == (int) part)
      own = TRUE;
    else if (first->faults[i].part >= 0)
      partner = first->faults[i].part;
  return own && partner >= 0 ? g_strdup_printf ("and %s", scene->board->parts[partner].name) : NULL;
}

/* "one of D3, D4" for parts that no reading tells apart. */
static char *
group_text (const MlScene *scene, const MlVerdict *verdict, guint part)
{
  char *partner = partner_text (scene, verdict, part);
  if (partner != NULL)
    return partner;
  GString *text = g_string_new ("one of ");
  guint members = 0;

  for (guint i = 0; verdict->parts[part].group > 0 && i < verdict->n_parts; i++)
    if (verdict->parts[i].group == verdict->parts[part].group)
      g_string_append_printf (text, "%s%s", members++ > 0 ? ", " : "", scene->board->parts[i].name);
  if (members > 3)
    g_string_printf (text, "one of %u", members);
  if (members > 1)
    return g_string_free (text, FALSE);
  g_string_free (text, TRUE);
  return NULL;
}

MlNoteText
ml_note_of_part (const MlScene *scene, const MlVerdict *verdict, guint part)
{
  const MlPartVerdict *v = &verdict->parts[part];
  char *group = group_text (scene, verdict, part);
  MlNoteText note = { 0 };

  add_line (&note, ml_verdict_percent (v->probability), TRUE, FALSE,
            v->verdict == ML_VERDICT_SUSPECT ? PERCENT_HEIGHT : READING_HEIGHT);
  if (group != NULL)
    add_line (&note, group, FALSE, FALSE, SMALL_HEIGHT);
  return note;
}

MlNoteText
ml_note_plain (const char *text, gboolean bold, gboolean faint, double height)
{
  MlNoteText note = { 0 };

  add_line (&note, g_strdup (text), bold, faint, height);
  return note;
}
