/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/place-table.h"

#include <math.h>

#include "desktop/findings-text.h"
#include "desktop/status-text.h"

#define MANY_PINS 4
#define MOST_ROWS 24u
#define LEAST_POWER_W 1e-3

typedef struct
{
  MlDocument *document; /* borrowed */
  const MlBoard *board;
  const MlJob *job;
  int part, pin, other_unit;
  GArray *reasons; /* MlFindingsReason; NULL: no verdict */
  GArray *rows;    /* MlPlaceRow */
} Maker;

/* ---- which places ---- */

static MlProbe
pin_probe (const Maker *maker, int pin)
{
  return (MlProbe){ .net = maker->board->parts[maker->part].pins[pin].net, .part = maker->part, .pin = pin };
}

static gboolean
has_place (const Maker *maker, const MlProbe *red, const MlProbe *black)
{
  for (guint i = 0; i < maker->rows->len; i++)
    {
      const MlPlaceRow *row = &g_array_index (maker->rows, MlPlaceRow, i);
      if ((ml_probe_equal (&row->red, red) && ml_probe_equal (&row->black, black)) || (ml_probe_equal (&row->red, black) && ml_probe_equal (&row->black, red)))
        return TRUE;
    }
  return FALSE;
}

/* Takes label. */
static void
add_place (Maker *maker, char *label, MlProbe red, MlProbe black)
{
  if (red.net < 0 || black.net < 0 || ml_probe_equal (&red, &black) || maker->rows->len >= MOST_ROWS || has_place (maker, &red, &black))
    {
      g_free (label);
      return;
    }
  MlPlaceRow row = { label, TRUE, red, black, NULL };
  g_array_append_val (maker->rows, row);
}

static void
add_pair (Maker *maker, int from, int to)
{
  const MlPart *part = &maker->board->parts[maker->part];

  add_place (maker, g_strdup_printf ("%s to %s", part->pins[from].name, part->pins[to].name), pin_probe (maker, from), pin_probe (maker, to));
}

static void
add_pairs (Maker *maker)
{
  const MlPart *part = &maker->board->parts[maker->part];

  if (part->n_pins == 2)
    add_place (maker, g_strdup_printf ("across %s", part->name), pin_probe (maker, 0), pin_probe (maker, 1));
  switch (part->kind->kind)
    {
    case ML_KIND_NPN:
    case ML_KIND_PNP:
    case ML_KIND_NMOS:
    case ML_KIND_PMOS:
    case ML_KIND_NJFET:
    case ML_KIND_PJFET: /* what drives it, and what it lets through */
      add_pair (maker, 1, 2);
      add_pair (maker, 0, 2);
      break;
    default: break;
    }
}

static void
add_pins (Maker *maker)
{
  const MlPart *part = &maker->board->parts[maker->part];
  MlProbe reference = { .net = maker->board->reference, .part = -1, .pin = -1 };
  gboolean one = maker->pin >= 0 && part->n_pins > MANY_PINS;

  for (int i = one ? maker->pin : 0; i < (one ? maker->pin + 1 : (int) part->n_pins); i++)
    if (part->pins[i].net >= 0)
      {
        g_autofree char *where = ml_findings_joined (maker->board, &part->pins[i]);
        add_place (maker, g_strdup_printf ("%s (%s)", part->pins[i].name, where), pin_probe (maker, i), reference);
      }
}

static gboolean
touches (const Maker *maker, const MlReading *reading)
{
  return reading->supply < 0 && (reading->across == maker->part || reading->red.part == maker->part || reading->black.part == maker->part);
}

/* Where else somebody has put the tips: on its own metal, say. */
static void
add_read (Maker *maker)
{
  for (guint i = 0; i < maker->job->n_readings; i++)
    if (touches (maker, &maker->job->readings[i]))
      add_place (maker, ml_findings_place_short (maker->board, &maker->job->readings[i]), maker->job->readings[i].red, maker->job->readings[i].black);
}

/* ---- what stands in the cells ---- */

static const MlFindingsReason *
reason_of (const Maker *maker, int reading)
{
  for (guint i = 0; maker->reasons != NULL && i < maker->reasons->len; i++)
    if ((int) g_array_index (maker->reasons, MlFindingsReason, i).reading == reading)
      return &g_array_index (maker->reasons, MlFindingsReason, i);
  return NULL;
}

/* The standing reading of that unit there, of what means something in this condition; -1: none. */
static int
find_reading (const Maker *maker, int unit, guint pass, int condition, const MlPlaceRow *row, gboolean *ret_swapped)
{
  static const MlReads all[] = { ML_READS_VOLTS, ML_READS_OHMS, ML_READS_DIODE };

  for (guint i = 0; unit >= 0 && i < G_N_ELEMENTS (all); i++)
    {
      int reading = ml_job_find_reading (maker->job, unit, pass, condition, all[i], &row->red, &row->black, ret_swapped);
      if (reading >= 0)
        return reading;
    }
  return -1;
}

static char *
measured_words (const MlReading *reading, gboolean swapped)
{
  gboolean turned = swapped && reading->reads == ML_READS_VOLTS;

  return reading->measured.over ? g_strdup ("OL") : ml_findings_value (turned ? -reading->measured.value : reading->measured.value, reading->reads);
}

static double
potential (const MlOperatingPoint *point, const MlProbe *probe)
{
  return probe->net >= 0 ? point->net_v[probe->net] : NAN;
}

static double
drawn_voltage (const Maker *maker, int condition, const MlPlaceRow *row)
{
  const MlOperatingPoint *point = ml_document_point_of (maker->document, condition);

  if (point == NULL || !point->solved || maker->board->conditions[condition].n_supplies == 0)
    return NAN;
  return potential (point, &row->red) - potential (point, &row->black);
}

static void
fill_place (const Maker *maker, MlPlaceRow *row, int condition)
{
  MlPlaceCell *cell = &row->cells[condition];
  gboolean swapped = FALSE;
  int reading = find_reading (maker, ml_document_unit (maker->document), ml_document_pass (maker->document), condition, row, &swapped);
  const MlFindingsReason *reason = reading >= 0 ? reason_of (maker, reading) : NULL;
  MlReads reads = reading >= 0 ? maker->job->readings[reading].reads : ML_READS_VOLTS;
  double fine = reads == ML_READS_VOLTS ? drawn_voltage (maker, condition, row) : NAN;

  if (reading >= 0)
    cell->measured = measured_words (&maker->job->readings[reading], swapped);
  if (reason != NULL && isfinite (reason->fine)) /* it knows the meter, and what unknown chips were found to do */
    {
      fine = swapped && reads == ML_READS_VOLTS ? -reason->fine : reason->fine;
      cell->off = fabs (reason->measured - reason->fine) > 3.0 * reason->sigma;
      cell->doubtful = reason->doubtful;
    }
  cell->expected = isfinite (fine) ? ml_findings_value (fine, reads) : NULL;
  if (maker->other_unit >= 0)
    {
      int other = find_reading (maker, maker->other_unit, ml_job_last_pass (maker->job, maker->other_unit), condition, row, &swapped);
      cell->other = other >= 0 ? measured_words (&maker->job->readings[other], swapped) : NULL;
    }
}

static char *
seen_words (const Maker *maker, int unit, guint pass, int condition)
{
  char *words = NULL;

  for (guint i = 0; i < maker->job->n_observations; i++)
    {
      const MlObservation *seen = &maker->job->observations[i];
      if (seen->unit == unit && seen->pass == pass && seen->condition == condition && seen->part == maker->part)
        {
          g_free (words); /* the later one stands */
          words = g_strdup (seen->what);
        }
    }
  return words;
}

static gboolean
fill_seen (const Maker *maker, MlPlaceRow *row, int condition)
{
  MlPlaceCell *cell = &row->cells[condition];

  cell->measured = seen_words (maker, ml_document_unit (maker->document), ml_document_pass (maker->document), condition);
  if (maker->other_unit >= 0)
    cell->other = seen_words (maker, maker->other_unit, ml_job_last_pass (maker->job, maker->other_unit), condition);
  return cell->measured != NULL || cell->other != NULL;
}

static gboolean
fill_power (const Maker *maker, MlPlaceRow *row, int condition)
{
  const MlOperatingPoint *point = ml_document_point_of (maker->document, condition);
  char words[48];

  if (point == NULL || !point->solved || !isfinite (point->part_w[maker->part]) || fabs (point->part_w[maker->part]) < LEAST_POWER_W)
    return FALSE;
  ml_quantity_format (point->part_w[maker->part], ML_UNIT_WATT, 2, false, words, sizeof words);
  row->cells[condition].expected = g_strdup (words);
  return TRUE;
}

static void
clear_row (MlPlaceRow *row, guint n_conditions)
{
  for (guint i = 0; i < n_conditions; i++)
    {
      g_free (row->cells[i].measured);
      g_free (row->cells[i].expected);
      g_free (row->cells[i].other);
    }
  g_free (row->cells);
  g_free (row->label);
}

/* A row that is no place; left out when it would be empty. */
static void
add_about (Maker *maker, const char *label, gboolean (*fill) (const Maker *maker, MlPlaceRow *row, int condition))
{
  guint n = maker->board->n_conditions;
  MlPlaceRow row = { g_strdup (label), FALSE, { -1, -1, -1, ML_LEAD_NONE }, { -1, -1, -1, ML_LEAD_NONE }, g_new0 (MlPlaceCell, n + 1) };
  gboolean any = FALSE;

  for (guint i = 0; i < n; i++)
    any |= fill (maker, &row, (int) i);
  if (any)
    g_array_append_val (maker->rows, row);
  else
    clear_row (&row, n);
}

MlPlaceTable *
ml_place_table_new (MlDocument *document, int part, int pin, int other_unit)
{
  const MlBoard *board = ml_document_board (document);
  const MlJob *job = ml_document_job (document);
  const MlVerdict *verdict = ml_document_verdict (document);
  g_autoptr (GArray) reasons = verdict != NULL && verdict->job == job ? ml_findings_reasons (verdict) : NULL; /* it counts that job's readings */
  Maker maker = { document, board, job, part, pin, other_unit, reasons, g_array_new (FALSE, TRUE, sizeof (MlPlaceRow)) };
  MlPlaceTable *table = g_new0 (MlPlaceTable, 1);

  add_pairs (&maker);
  add_pins (&maker);
  add_read (&maker);
  for (guint i = 0; i < maker.rows->len; i++)
    {
      MlPlaceRow *row = &g_array_index (maker.rows, MlPlaceRow, i);
      row->cells = g_new0 (MlPlaceCell, board->n_conditions + 1);
      for (guint j = 0; j < board->n_conditions; j++)
        fill_place (&maker, row, (int) j);
    }
  add_about (&maker, "seen", fill_seen);
  add_about (&maker, "heat", fill_power);
  table->title = ml_status_part_words (board, part);
  table->other_name = other_unit >= 0 ? g_strdup (job->units[other_unit].name) : NULL;
  table->n_conditions = board->n_conditions;
  table->conditions = g_new0 (char *, board->n_conditions + 1);
  for (guint i = 0; i < board->n_conditions; i++)
    table->conditions[i] = g_strdup (board->conditions[i].name);
  table->n_rows = maker.rows->len;
  table->rows = (MlPlaceRow *) (void *) g_array_free (maker.rows, FALSE);
  return table;
}

void
ml_place_table_free (MlPlaceTable *table)
{
  if (table == NULL)
    return;
  for (guint i = 0; i < table->n_rows; i++)
    clear_row (&table->rows[i], table->n_conditions);
  g_free (table->rows);
  g_strfreev (table->conditions);
  g_free (table->title);
  g_free (table->other_name);
  g_free (table);
}

static void
add_field (GString *words, const char *text)
{
  g_string_append_printf (words, "\t%s", text != NULL ? text : "");
}

char *
ml_place_table_words (const MlPlaceTable *table)
{
  GString *words = g_string_new (table->title);

  for (guint i = 0; i < table->n_conditions; i++)
    {
      g_autofree char *expected = g_strdup_printf ("%s, expected", table->conditions[i]);
      g_autofree char *other = table->other_name != NULL ? g_strdup_printf ("%s, %s", table->conditions[i], table->other_name) : NULL;
      add_field (words, table->conditions[i]);
      add_field (words, expected);
      if (other != NULL)
        add_field (words, other);
    }
  for (guint i = 0; i < table->n_rows; i++)
    {
      g_string_append_printf (words, "\n%s", table->rows[i].label);
      for (guint j = 0; j < table->n_conditions; j++)
        {
          add_field (words, table->rows[i].cells[j].measured);
          add_field (words, table->rows[i].cells[j].expected);
          if (table->other_name != NULL)
            add_field (words, table->rows[i].cells[j].other);
        }
    }
  g_string_append_c (words, '\n');
  return g_string_free (words, FALSE);
}
