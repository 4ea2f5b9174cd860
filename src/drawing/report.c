/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/report.h"

#include <cairo-pdf.h>
#include <gio/gio.h>
#include <math.h>

#include "board/file.h"
#include "drawing/note-text.h"
#include "drawing/paint-private.h"
#include "drawing/report-flow.h"
#include "drawing/title-block.h"

#define MARGIN 6.0            /* g: 15 mm, room for holes */
#define DRAWING_SHARE 0.42    /* of the page's height */
#define MOST_EXPLANATIONS 5
#define LEAST_PROBABILITY 0.005

static const MlFlowText plain = { 0 }, faint = { .faint = TRUE }, indented = { .indent = 1.5 };

static const MlUnitOnBench *
unit_of (const MlReport *self)
{
  return &self->record->job->units[self->record->unit];
}

static MlOverlay
overlay_for (const MlReport *self, guint pass, int condition)
{
  const MlRecord *record = self->record;
  const MlVerdict *verdict = pass <= record->n_passes ? record->verdicts[pass - 1] : NULL;
  MlOverlay overlay = { .verdict = verdict, .job = record->job, .unit = record->unit, .pass = pass, .condition = condition, .other_unit = self->other_unit,
                        .called = self->called, .show_expected = TRUE, .show_flow = TRUE, .selected_part = -1, .selected_pin = -1, .hover_part = -1, .hover_pin = -1 };

  overlay.point = ml_verdict_point (verdict, condition);
  if (overlay.point == NULL && condition >= 0 && condition < (int) record->n_points)
    overlay.point = record->points[condition];
  return overlay;
}

/* ---- the head of the first page ---- */

static const char *
title_of (const MlReport *self)
{
  const MlJob *job = self->record->job;

  return job->title != NULL ? job->title : job->board->title != NULL ? job->board->title : self->called != NULL ? self->called : "Repair";
}

static void
head (MlReportFlow *flow, const MlReport *self)
{
  const MlJob *job = self->record->job;
  const MlBoard *board = job->board;
  const MlUnitOnBench *unit = unit_of (self);
  const MlOverlay overlay = overlay_for (self, 1, -1);
  g_autofree char *date = ml_title_date (&overlay);
  const char *title = title_of (self);
  GString *line = g_string_new (board->title != NULL && strcmp (board->title, title) != 0 ? board->title : "");

  if (board->revision != NULL)
    g_string_append_printf (line, "%srevision %s", line->len > 0 ? ", " : "", board->revision);
  if (!ml_title_is_undated (date))
    g_string_append_printf (line, "%s%.10s", line->len > 0 ? ", " : "", date);
  ml_flow_text (flow, title, &(MlFlowText) { .height = 2.2, .bold = TRUE });
  if (line->len > 0)
    ml_flow_text (flow, line->str, &faint);
  g_string_printf (line, "Unit %s%s%s", unit->name, unit->symptom != NULL ? ": " : "", unit->symptom != NULL ? unit->symptom : "");
  if (self->other_unit >= 0)
    g_string_append_printf (line, ". Compared with unit %s%s.", job->units[self->other_unit].name,
                            job->units[self->other_unit].state == ML_UNIT_STATE_GOOD ? ", which works" : "");
  ml_flow_text (flow, line->str, &(MlFlowText) { .height = 1.3 });
  g_string_free (line, TRUE);
}

/* The last judged pass has the most to say; without any the board's own hazards. */
static void
cautions (MlReportFlow *flow, const MlReport *self)
{
  const MlRecord *record = self->record;
  const MlBoard *board = record->job->board;
  const MlVerdict *verdict = NULL;
  GString *text = g_string_new (NULL);

  for (guint i = 0; i < record->n_passes; i++)
    verdict = record->verdicts[i] != NULL ? record->verdicts[i] : verdict;
  for (guint i = 0; verdict != NULL && verdict->cautions != NULL && verdict->cautions[i] != NULL; i++)
    g_string_append_printf (text, "%sCaution, %s", text->len > 0 ? "\n" : "", verdict->cautions[i]);
  for (guint i = 0; verdict == NULL && i < board->n_hazards; i++)
    g_string_append_printf (text, "%sCaution, %s: %s", text->len > 0 ? "\n" : "", board->hazards[i].what, board->hazards[i].text);
  g_string_append_printf (text, "%sThis record says what was computed from readings. It is no proof of safety; local codes and licensed practice prevail.",
                          text->len > 0 ? "\n" : "");
  ml_flow_gap (flow, 0.6);
  ml_flow_box (flow, text->str);
  g_string_free (text, TRUE);
}

static char *
pass_name (const MlReport *self, guint pass)
{
  const MlJob *job = self->record->job;

  for (guint i = 0; i < job->n_passes; i++)
    if (job->passes[i].unit == self->record->unit && job->passes[i].pass == pass && job->passes[i].text != NULL && *job->passes[i].text != '\0')
      return g_strdup_printf ("Pass %u, %s", pass, job->passes[i].text);
  return g_strdup_printf ("Pass %u", pass);
}

static void
in_short (MlReportFlow *flow, const MlReport *self)
{
  const MlRecord *record = self->record;

  for (guint pass = 1; pass <= record->n_passes; pass++)
    {
      const MlVerdict *verdict = record->verdicts[pass - 1];
      g_autofree char *name = pass_name (self, pass), *line = NULL;

      if (verdict == NULL && record->troubles[pass - 1] == NULL)
        continue;
      line = g_strdup_printf ("%s: %s", name, verdict != NULL ? verdict->sentence : record->troubles[pass - 1]);
      ml_flow_text (flow, line, &(MlFlowText) { .height = 1.3, .bold = TRUE });
    }
}

/* ---- readings ---- */

static char *
place_text (const MlBoard *board, const MlReading *reading)
{
  const char *prefix = reading->reads == ML_READS_DIODE ? "diode test " : "";
  g_autofree char *red = NULL, *black = NULL;

  if (reading->supply >= 0)
    return g_strdup_printf ("supply %s", board->conditions[reading->condition].supplies[reading->supply].name);
  if (reading->across >= 0 && board->parts[reading->across].n_pins <= 2)
    return g_strdup_printf ("%sacross %s", prefix, board->parts[reading->across].name);
  if (reading->across >= 0 && reading->red.pin >= 0 && reading->black.pin >= 0)
    return g_strdup_printf ("%s%s %s-%s", prefix, board->parts[reading->across].name, board->parts[reading->across].pins[reading->red.pin].name,
                            board->parts[reading->across].pins[reading->black.pin].name);
  red = ml_probe_label (board, &reading->red);
  if (reading->black.net == board->reference && !reading->black.lead)
    return g_strconcat (prefix, red, NULL);
  black = ml_probe_label (board, &reading->black);
  return g_strdup_printf ("%s%s to %s", prefix, red, black);
}

static char *
measured_text (const MlReport *self, const MlVerdict *verdict, guint index)
{
  const MlReading *reading = &self->record->job->readings[index];
  g_autofree char *value = ml_note_value (&reading->measured, ml_note_unit (reading->reads));
  g_autofree char *shown = reading->has_shown ? ml_note_value (&reading->shown_v, ML_UNIT_VOLT) : NULL;
  GString *text = g_string_new (value);

  if (shown != NULL)
    g_string_append_printf (text, ", %s", shown);
  for (guint i = 0; verdict != NULL && i < verdict->n_readings; i++)
    if (verdict->readings[i].reading == (int) index && (verdict->readings[i].doubtful || verdict->readings[i].slip != ML_SLIP_NONE))
      {
        g_autofree char *doubt = ml_note_doubt (&verdict->readings[i], ml_note_unit (reading->reads));
        g_string_append_printf (text, "\n%s", doubt);
      }
  return g_string_free (text, FALSE);
}

static char *
value_or_dash (double value, MlReads reads)
{
  return isnan (value) ? g_strdup ("–") : ml_note_expected (value, ml_note_unit (reads));
}

static double
explained (const MlVerdict *verdict, guint index)
{
  for (guint i = 0; verdict != NULL && i < verdict->n_readings; i++)
    if (verdict->readings[i].reading == (int) index)
      return verdict->readings[i].explained;
  return NAN;
}

static gboolean
belongs (const MlReport *self, const MlReading *reading, guint pass, int condition)
{
  return reading->unit == self->record->unit && reading->pass == pass && reading->condition == condition && !reading->replaced;
}

static gboolean
names_a_fault (const MlVerdict *verdict)
{
  return verdict != NULL && verdict->n_explanations > 0 && verdict->explanations[0].explains != ML_EXPLAINS_HEALTHY
         && verdict->explanations[0].explains != ML_EXPLAINS_MISFIT;
}

static void
add_reading_row (GPtrArray *cells, const MlReport *self, guint pass, guint index)
{
  const MlJob *job = self->record->job;
  const MlReading *reading = &job->readings[index];
  const MlOverlay overlay = overlay_for (self, pass, reading->condition);
  char *other = NULL, *difference = NULL;

  g_ptr_array_add (cells, place_text (job->board, reading));
  g_ptr_array_add (cells, measured_text (self, overlay.verdict, index));
  g_ptr_array_add (cells, value_or_dash (ml_note_expected_of (&overlay, index), reading->reads));
  if (names_a_fault (overlay.verdict))
    g_ptr_array_add (cells, value_or_dash (explained (overlay.verdict, index), reading->reads));
  if (self->other_unit < 0)
    return;
  if (!ml_note_other_unit (job, self->other_unit, reading, &other, &difference))
    {
      other = g_strdup ("–");
      difference = g_strdup ("–");
    }
  g_ptr_array_add (cells, other);
  g_ptr_array_add (cells, difference);
}

static void
reading_table (MlReportFlow *flow, const MlReport *self, guint pass, int condition)
{
  const MlJob *job = self->record->job;
  const gboolean compares = self->other_unit >= 0, faulty = names_a_fault (self->record->verdicts[pass - 1]);
  g_autofree char *other = compares ? g_strdup_printf ("Unit %s", job->units[self->other_unit].name) : NULL;
  MlFlowColumn columns[6] = { { "Where", 0.24, FALSE }, { "Measured", 0.19, TRUE }, { "If all were fine", 0.14, FALSE } };
  guint n_columns = 3;
  g_autoptr (GPtrArray) cells = g_ptr_array_new_with_free_func (g_free);

  if (faulty)
    columns[n_columns++] = (MlFlowColumn) { "With the fault found", 0.14, FALSE };
  if (compares)
    {
      columns[n_columns++] = (MlFlowColumn) { other, 0.14, FALSE };
      columns[n_columns++] = (MlFlowColumn) { "Difference", 0.15, FALSE };
    }
  for (guint i = 0; i < job->n_readings; i++)
    if (belongs (self, &job->readings[i], pass, condition))
      add_reading_row (cells, self, pass, i);
  g_autofree char *about = g_strdup_printf ("Condition %s, continued", job->board->conditions[condition].name);
  if (cells->len > 0)
    ml_flow_table (flow, about, columns, n_columns, (char *const *) cells->pdata, cells->len / n_columns);
}

static gboolean
seen_in (const MlReport *self, const MlObservation *seen, guint pass, int condition)
{
  return seen->unit == self->record->unit && seen->pass == pass && seen->condition == condition;
}

static void
observations (MlReportFlow *flow, const MlReport *self, guint pass, int condition)
{
  const MlJob *job = self->record->job;
  GString *text = g_string_new (NULL);

  for (guint i = 0; i < job->n_observations; i++)
    {
      const MlObservation *seen = &job->observations[i];

      if (seen_in (self, seen, pass, condition))
        g_string_append_printf (text, "%s%s %s", text->len > 0 ? ", " : "Seen: ", seen->part >= 0 ? job->board->parts[seen->part].name : "supply", seen->what);
    }
  ml_flow_text (flow, text->str, &plain);
  g_string_free (text, TRUE);
}

static gboolean
has_anything (const MlReport *self, guint pass, int condition)
{
  const MlJob *job = self->record->job;

  for (guint i = 0; i < job->n_readings; i++)
    if (belongs (self, &job->readings[i], pass, condition))
      return TRUE;
  for (guint i = 0; i < job->n_observations; i++)
    if (seen_in (self, &job->observations[i], pass, condition))
      return TRUE;
  return FALSE;
}

static void
conditions (MlReportFlow *flow, const MlReport *self, guint pass)
{
  const MlBoard *board = self->record->job->board;
  const double most = DRAWING_SHARE * flow->height;

  for (guint i = 0; i < board->n_conditions; i++)
    if (has_anything (self, pass, (int) i))
      {
        const MlOverlay overlay = overlay_for (self, pass, (int) i);
        g_autofree char *what = ml_title_condition (board, (int) i), *line = g_strdup_printf ("Condition %s", what);

        ml_flow_gap (flow, 0.6);
        ml_flow_drawing (flow, line, self->scene->in_rows ? "So many parts are not laid out: they stand in rows, in the order of their names." : NULL, self->scene,
                         &overlay, most);
        observations (flow, self, pass, (int) i);
        reading_table (flow, self, pass, (int) i);
      }
}

/* A place that a probe was held to has a pad on the picture. */
static gboolean
has_pad (const MlScene *picture, int net)
{
  for (guint i = 0; net >= 0 && i < picture->n_pins; i++)
    if (picture->pins[i].net == net)
      return TRUE;
  return FALSE;
}

/* Readings of that pass and condition that the picture can show where they were taken. */
static guint
n_on_picture (const MlReport *self, guint pass, int condition)
{
  const MlJob *job = self->record->job;
  guint n = 0;

  for (guint i = 0; i < job->n_readings; i++)
    n += belongs (self, &job->readings[i], pass, condition) && job->readings[i].supply < 0
         && (has_pad (self->picture, job->readings[i].red.net) || has_pad (self->picture, job->readings[i].black.net));
  return n;
}

/* Where it all lies on the real board, in every condition in which something was measured at its pads. */
static void
on_the_board (MlReportFlow *flow, const MlReport *self, guint pass)
{
  const MlBoard *board = self->record->job->board;
  const double most = DRAWING_SHARE * flow->height;

  for (guint i = 0; self->picture != NULL && i < board->n_conditions; i++)
    if (n_on_picture (self, pass, (int) i) > 0)
      {
        const MlOverlay overlay = overlay_for (self, pass, (int) i);
        g_autofree char *line = g_strdup_printf ("On the board, condition %s", board->conditions[i].name);

        ml_flow_gap (flow, 0.6);
        ml_flow_drawing (flow, line, NULL, self->picture, &overlay, most);
      }
}

/* ---- what they say ---- */

static void
explanations (MlReportFlow *flow, const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_explanations && i < MOST_EXPLANATIONS; i++)
    {
      const MlExplanation *explanation = &verdict->explanations[i];
      g_autofree char *percent = NULL, *line = NULL;

      if (i > 0 && explanation->probability < LEAST_PROBABILITY)
        break;
      percent = ml_verdict_percent (explanation->probability);
      line = g_strdup_printf ("%s: %s", percent, explanation->title);
      ml_flow_text (flow, line, &(MlFlowText) { .bold = i == 0 });
      for (guint k = 0; i == 0 && explanation->reasons != NULL && explanation->reasons[k] != NULL; k++)
        {
          g_autofree char *reason = g_strconcat ("• ", explanation->reasons[k], NULL);
          ml_flow_text (flow, reason, &indented);
        }
    }
  ml_flow_text (flow, verdict->condition_slip, &plain);
}

static void
part_names (MlReportFlow *flow, const MlVerdict *verdict, MlVerdictWord word, const char *title)
{
  GString *text = g_string_new (NULL);

  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == word)
      g_string_append_printf (text, "%s%s", text->len > 0 ? ", " : title, verdict->job->board->parts[i].name);
  ml_flow_text (flow, text->str, &plain);
  g_string_free (text, TRUE);
}

static void
pass_section (MlReportFlow *flow, const MlReport *self, guint pass)
{
  const MlRecord *record = self->record;
  const MlVerdict *verdict = record->verdicts[pass - 1];
  g_autofree char *name = pass_name (self, pass);
  gboolean anything = FALSE;

  for (guint i = 0; i < record->job->board->n_conditions; i++)
    anything |= has_anything (self, pass, (int) i);
  if (!anything)
    return;
  ml_flow_heading (flow, name, 6);
  if (record->troubles[pass - 1] != NULL)
    ml_flow_text (flow, record->troubles[pass - 1], &plain);
  if (verdict != NULL)
    {
      ml_flow_text (flow, verdict->sentence, &(MlFlowText) { .height = 1.3, .bold = TRUE });
      explanations (flow, verdict);
      part_names (flow, verdict, ML_VERDICT_SUSPECT, "Suspect: ");
      part_names (flow, verdict, ML_VERDICT_POSSIBLE, "Possible: ");
      part_names (flow, verdict, ML_VERDICT_CLEARED, "Cleared by the readings: ");
    }
  conditions (flow, self, pass);
  on_the_board (flow, self, pass);
}

/* ---- what was done ---- */

static void
done (MlReportFlow *flow, const MlReport *self)
{
  static const MlFlowColumn columns[] = { { "When", 0.2, FALSE }, { "What", 0.16, FALSE }, { "Part", 0.14, TRUE }, { "Note", 0.5, FALSE } };
  const MlJob *job = self->record->job;
  g_autoptr (GPtrArray) cells = g_ptr_array_new_with_free_func (g_free);

  for (guint i = 0; i < job->n_log; i++)
    {
      const MlLogEntry *entry = &job->log[i];

      if (entry->unit >= 0 && entry->unit != self->record->unit)
        continue;
      g_ptr_array_add (cells, entry->when != NULL ? g_strdelimit (g_strdup (entry->when), "T", ' ') : g_strdup (""));
      g_ptr_array_add (cells, g_strdup (entry->what));
      g_ptr_array_add (cells, g_strdup (entry->subject != NULL ? entry->subject : ""));
      g_ptr_array_add (cells, g_strdup (entry->text != NULL ? entry->text : ""));
    }
  ml_flow_heading (flow, "What was done", 4);
  if (cells->len > 0)
    ml_flow_table (flow, "What was done, continued", columns, 4, (char *const *) cells->pdata, cells->len / 4);
  else
    ml_flow_text (flow, "Nothing is written in the log of this unit.", &plain);
}

/* Rows for places measured in the first and in the last judged pass. */
static void
before_and_after (MlReportFlow *flow, const MlReport *self)
{
  static const MlFlowColumn columns[] = { { "Condition", 0.2, FALSE }, { "Where", 0.28, FALSE }, { "Before", 0.18, FALSE }, { "After", 0.18, TRUE },
                                          { "If all were fine", 0.16, FALSE } };
  const MlRecord *record = self->record;
  const MlJob *job = record->job;
  const guint last = ml_job_last_pass (job, record->unit);
  g_autoptr (GPtrArray) cells = g_ptr_array_new_with_free_func (g_free);

  for (guint i = 0; last > 1 && i < job->n_readings; i++)
    {
      const MlReading *after = &job->readings[i];
      const MlOverlay overlay = overlay_for (self, last, after->condition);
      int found = -1;

      if (!belongs (self, after, last, after->condition))
        continue;
      for (guint k = 0; k < job->n_readings; k++)
        {
          const MlReading *before = &job->readings[k];

          if (before->unit == record->unit && before->pass < last && !before->replaced && before->condition == after->condition
              && before->reads == after->reads && before->supply == after->supply && ml_probe_equal (&before->red, &after->red)
              && ml_probe_equal (&before->black, &after->black))
            found = (int) k;
        }
      g_ptr_array_add (cells, g_strdup (job->board->conditions[after->condition].name));
      g_ptr_array_add (cells, place_text (job->board, after));
      g_ptr_array_add (cells, found >= 0 ? measured_text (self, NULL, (guint) found) : g_strdup ("–"));
      g_ptr_array_add (cells, measured_text (self, NULL, i));
      g_ptr_array_add (cells, value_or_dash (ml_note_expected_of (&overlay, i), after->reads));
    }
  if (cells->len == 0)
    return;
  ml_flow_heading (flow, "Before and after the repair", 5);
  ml_flow_table (flow, "Before and after the repair, continued", columns, 5, (char *const *) cells->pdata, cells->len / 5);
}

static void
blind (MlReportFlow *flow, const MlReport *self)
{
  const MlRecord *record = self->record;
  const MlVerdict *verdict = NULL;
  g_auto (GStrv) lines = NULL;

  for (guint i = 0; i < record->n_passes; i++)
    verdict = record->verdicts[i] != NULL ? record->verdicts[i] : verdict;
  if (verdict == NULL || verdict->n_blind == 0)
    return;
  ml_flow_heading (flow, "What readings cannot tell", 3);
  lines = ml_verdict_blind_lines (verdict);
  for (guint i = 0; lines[i] != NULL; i++)
    ml_flow_text (flow, lines[i], &plain);
}

/* ---- pages ---- */

static guint
run (MlReportFlow *flow, const MlReport *self)
{
  double width_mm, height_mm;

  ml_page_size_mm (self->page, self->landscape, &width_mm, &height_mm);
  flow->style = (MlPaintStyle) { .paper = ML_PAPER_WHITE, .font = self->font, .scale = 1 };
  flow->width = width_mm / ML_MM_PER_G;
  flow->height = height_mm / ML_MM_PER_G;
  flow->margin = MARGIN;
  ml_flow_begin (flow);
  head (flow, self);
  in_short (flow, self);
  cautions (flow, self);
  for (guint pass = 1; pass <= self->record->n_passes; pass++)
    pass_section (flow, self, pass);
  done (flow, self);
  before_and_after (flow, self);
  blind (flow, self);
  return flow->page + 1;
}

static void
foot (cairo_t *cr, const MlReportFlow *flow, const MlReport *self, guint page, guint n_pages)
{
  const MlTextStyle style = { .font = self->font, .height = 0.9, .colour = ml_palette (ML_PAPER_WHITE)->faint };
  g_autofree char *left = g_strdup_printf ("%s, unit %s", title_of (self), unit_of (self)->name);
  g_autofree char *right = g_strdup_printf ("page %u of %u", page + 1, n_pages);
  double width, height;

  ml_text_size (right, &style, &width, &height);
  ml_text_draw (cr, left, flow->margin, flow->height - flow->margin, &style);
  ml_text_draw (cr, right, flow->width - flow->margin - width, flow->height - flow->margin, &style);
}

guint
ml_report_n_pages (const MlReport *report)
{
  MlReportFlow flow = { 0 };

  return run (&flow, report);
}

void
ml_report_paint (cairo_t *cr, const MlReport *report, guint page, guint n_pages)
{
  MlReportFlow flow = { .cr = cr, .wanted = page };

  cairo_save (cr);
  cairo_scale (cr, ML_MM_PER_G, ML_MM_PER_G);
  run (&flow, report);
  foot (cr, &flow, report, page, n_pages);
  cairo_restore (cr);
}

static cairo_status_t
append_cb (void *closure, const unsigned char *data, unsigned int length)
{
  g_byte_array_append (closure, data, length);
  return CAIRO_STATUS_SUCCESS;
}

static void
say_what_it_is (cairo_surface_t *surface, const MlReport *self)
{
  const MlOverlay overlay = overlay_for (self, ml_job_last_pass (self->record->job, self->record->unit), -1);
  g_autofree char *title = ml_title_text (self->scene, &overlay), *subject = ml_title_description (self->scene, &overlay);
  g_autofree char *date = ml_title_date (&overlay);

  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_TITLE, title);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_SUBJECT, subject);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_CREATOR, "Meterleaf");
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_MOD_DATE, date);
}

static cairo_status_t
paint_pages (cairo_surface_t *surface, const MlReport *report)
{
  const guint n_pages = ml_report_n_pages (report);
  cairo_t *cr = cairo_create (surface);
  cairo_status_t status;

  cairo_scale (cr, 72 / 25.4, 72 / 25.4);
  for (guint page = 0; page < n_pages; page++)
    {
      ml_report_paint (cr, report, page, n_pages);
      cairo_show_page (cr);
    }
  status = cairo_status (cr);
  cairo_destroy (cr);
  return status;
}

gboolean
ml_report_check_name (const char *path, GError **error)
{
  g_autofree char *lower = g_ascii_strdown (path, -1);

  if (g_str_has_suffix (lower, ".pdf"))
    return TRUE;
  g_set_error (error, G_IO_ERROR, G_IO_ERROR_NOT_SUPPORTED, "%s: a report is a PDF: its name ends in .pdf", path);
  return FALSE;
}

gboolean
ml_report_write (const char *path, const MlReport *report, GError **error)
{
  g_autoptr (GByteArray) bytes = g_byte_array_new ();
  g_autoptr (GBytes) written = NULL;
  double width_mm, height_mm;
  cairo_surface_t *surface;
  cairo_status_t status;

  if (!ml_report_check_name (path, error))
    return FALSE;
  ml_page_size_mm (report->page, report->landscape, &width_mm, &height_mm);
  surface = cairo_pdf_surface_create_for_stream (append_cb, bytes, width_mm * 72 / 25.4, height_mm * 72 / 25.4);
  say_what_it_is (surface, report);
  status = paint_pages (surface, report);
  cairo_surface_finish (surface);
  status = status == CAIRO_STATUS_SUCCESS ? cairo_surface_status (surface) : status;
  cairo_surface_destroy (surface);
  if (status != CAIRO_STATUS_SUCCESS)
    {
      g_set_error (error, G_IO_ERROR, G_IO_ERROR_FAILED, "%s: the report could not be written: %s", path, cairo_status_to_string (status));
      return FALSE;
    }
  written = g_byte_array_free_to_bytes (g_steal_pointer (&bytes));
  return ml_file_save (path, written, NULL, error);
}
