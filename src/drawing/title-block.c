/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/title-block.h"

#include "drawing/legend.h"
#include "drawing/note-text.h"
#include "drawing/paint-private.h"

#include <math.h>

#define MARGIN 0.8
#define NO_DATE "2000-01-01T00:00:00"

static const char *
board_title (const MlScene *scene, const MlOverlay *overlay)
{
  return scene->board->title != NULL ? scene->board->title : overlay != NULL && overlay->called != NULL ? overlay->called : "Board";
}

static gboolean
has_unit (const MlOverlay *overlay)
{
  return overlay != NULL && overlay->job != NULL && overlay->unit >= 0 && overlay->unit < (int) overlay->job->n_units;
}

static const MlCondition *
condition_of (const MlScene *scene, const MlOverlay *overlay)
{
  if (overlay == NULL || overlay->condition < 0 || overlay->condition >= (int) scene->board->n_conditions)
    return NULL;
  return &scene->board->conditions[overlay->condition];
}

char *
ml_title_text (const MlScene *scene, const MlOverlay *overlay)
{
  const MlCondition *condition = condition_of (scene, overlay);
  GString *text = g_string_new (overlay != NULL && overlay->job != NULL && overlay->job->title != NULL ? overlay->job->title : board_title (scene, overlay));

  if (has_unit (overlay))
    g_string_append_printf (text, ": unit %s", overlay->job->units[overlay->unit].name);
  if (condition != NULL)
    g_string_append_printf (text, "%s condition %s", has_unit (overlay) ? "," : ":", condition->name);
  return g_string_free (text, FALSE);
}

/* What is done to the board beside its supplies: whoever reads the picture or the report later cannot see it on the drawing. */
static void
append_besides (GString *text, const MlBoard *board, const MlCondition *condition)
{
  for (guint i = 0; i < condition->n_loads; i++)
    {
      const MlLoad *load = &condition->loads[i];
      gboolean resistor = isfinite (load->resistance_ohm);
      g_autofree char *size = ml_note_expected (resistor ? load->resistance_ohm : load->current_a, resistor ? ML_UNIT_OHM : ML_UNIT_AMPERE);

      g_string_append_printf (text, ", load %s from %s to %s", size, board->nets[load->plus].words, board->nets[load->minus].words);
    }
  for (guint i = 0; i < condition->n_lifts; i++)
    {
      const MlPart *part = &board->parts[condition->lifts[i].part];
      g_string_append_printf (text, ", %s.%s lifted", part->name, part->pins[condition->lifts[i].pin].name);
    }
  for (guint i = 0; i < condition->n_removals; i++)
    g_string_append_printf (text, ", %s out", board->parts[condition->removals[i].part].name);
  for (guint i = 0; i < condition->n_connects; i++)
    g_string_append_printf (text, ", %s joined with %s", board->nets[condition->connects[i].net_a].words, board->nets[condition->connects[i].net_b].words);
}

char *
ml_title_condition (const MlBoard *board, int index)
{
  const MlCondition *condition = &board->conditions[index];
  GString *text = g_string_new (condition->name);

  if (condition->label != NULL)
    g_string_append_printf (text, ": %s", condition->label);
  for (guint i = 0; i < condition->n_supplies; i++)
    {
      const MlSupply *supply = &condition->supplies[i];
      g_autofree char *volts = ml_note_expected (supply->voltage_v, ML_UNIT_VOLT);
      g_autofree char *amps = ml_note_expected (supply->limit_a, ML_UNIT_AMPERE);

      g_string_append_printf (text, ", supply %s from %s to %s, limit %s", volts, board->nets[supply->plus].words, board->nets[supply->minus].words, amps);
    }
  append_besides (text, board, condition);
  return g_string_free (text, FALSE);
}

/* "Unit bay7 (stuck half open), pass 2, condition running: supply on, vent asked to open" */
static char *
circumstances (const MlScene *scene, const MlOverlay *overlay)
{
  GString *text = g_string_new (NULL);

  if (has_unit (overlay))
    {
      const MlUnitOnBench *unit = &overlay->job->units[overlay->unit];

      g_string_append_printf (text, "Unit %s%s%s%s", unit->name, unit->symptom != NULL ? " (" : "", unit->symptom != NULL ? unit->symptom : "",
                              unit->symptom != NULL ? ")" : "");
      g_string_append_printf (text, ", pass %u", overlay->pass);
    }
  if (condition_of (scene, overlay) != NULL)
    {
      g_autofree char *condition = ml_title_condition (scene->board, overlay->condition);

      g_string_append_printf (text, "%sondition %s", text->len > 0 ? ", c" : "C", condition);
    }
  return g_string_free (text, FALSE);
}

char *
ml_title_date (const MlOverlay *overlay)
{
  const char *when = NULL;

  for (guint i = 0; overlay != NULL && overlay->job != NULL && i < overlay->job->n_log; i++)
    if (overlay->job->log[i].when != NULL)
      when = overlay->job->log[i].when;
  return g_strdup (when != NULL ? when : NO_DATE);
}

gboolean
ml_title_is_undated (const char *date)
{
  return g_strcmp0 (date, NO_DATE) == 0;
}

static void
append_parts (GString *text, const MlScene *scene, const MlVerdict *verdict)
{
  g_string_append (text, "Parts: ");
  for (guint i = 0; i < scene->board->n_parts; i++)
    {
      const MlPart *part = &scene->board->parts[i];
      g_autofree char *value = ml_part_value_text (part);

      g_string_append_printf (text, "%s%s %s%s%s", i > 0 ? "; " : "", part->name, part->kind->trade_name, *value != '\0' ? " " : "", value);
      if (verdict != NULL && i < verdict->n_parts && verdict->parts[i].verdict != ML_VERDICT_UNPROVEN)
        g_string_append_printf (text, ", %s", ml_verdict_word (verdict->parts[i].verdict));
      if (verdict != NULL && i < verdict->n_parts && verdict->parts[i].verdict >= ML_VERDICT_POSSIBLE)
        {
          g_autofree char *percent = ml_verdict_percent (verdict->parts[i].probability);
          g_string_append_printf (text, " %s", percent);
        }
    }
  g_string_append (text, ".\n");
}

static void
append_reading (GString *text, const MlScene *scene, const MlOverlay *overlay, guint index)
{
  const MlReading *reading = &overlay->job->readings[index];
  g_autofree char *value = ml_note_value (&reading->measured, ml_note_unit (reading->reads));

  if (reading->supply >= 0)
    g_string_append_printf (text, "Reading: supply %s gives %s", scene->board->conditions[reading->condition].supplies[reading->supply].name, value);
  else
    {
      g_autofree char *red = ml_probe_label (scene->board, &reading->red), *black = ml_probe_label (scene->board, &reading->black);

      g_string_append_printf (text, "Reading: red on %s, black on %s, %s", red, black, value);
    }
  for (guint i = 0; overlay->verdict != NULL && i < overlay->verdict->n_readings; i++)
    if (overlay->verdict->readings[i].reading == (int) index && !isnan (overlay->verdict->readings[i].healthy))
      {
        g_autofree char *fine = ml_note_expected (overlay->verdict->readings[i].healthy, ml_note_unit (reading->reads));

        g_string_append_printf (text, ", %s if all were fine", fine);
      }
  g_string_append (text, ".\n");
}

/* The verdict's cautions begin with the board's hazards. */
static void
append_cautions (GString *text, const MlScene *scene, const MlOverlay *overlay, const char *separator)
{
  char *const *cautions = overlay != NULL && overlay->verdict != NULL ? overlay->verdict->cautions : NULL;

  for (guint i = 0; cautions != NULL && cautions[i] != NULL; i++)
    g_string_append_printf (text, "Caution, %s%s", cautions[i], separator);
  for (guint i = 0; cautions == NULL && i < scene->board->n_hazards; i++)
    g_string_append_printf (text, "Caution, %s: %s%s", scene->board->hazards[i].what, scene->board->hazards[i].text, separator);
}

char *
ml_title_description (const MlScene *scene, const MlOverlay *overlay)
{
  GString *text = g_string_new (NULL);
  g_autofree char *where = circumstances (scene, overlay);

  g_string_append_printf (text, "Circuit drawing of %s%s%s.\n", board_title (scene, overlay), scene->board->revision != NULL ? ", revision " : "",
                          scene->board->revision != NULL ? scene->board->revision : "");
  if (*where != '\0')
    g_string_append_printf (text, "%s.\n", where);
  if (overlay != NULL && overlay->verdict != NULL && overlay->verdict->sentence != NULL)
    g_string_append_printf (text, "Verdict: %s\n", overlay->verdict->sentence);
  append_parts (text, scene, overlay != NULL ? overlay->verdict : NULL);
  for (guint i = 0; has_unit (overlay) && i < overlay->job->n_readings; i++)
    {
      const MlReading *reading = &overlay->job->readings[i];

      if (reading->unit == overlay->unit && reading->pass == overlay->pass && reading->condition == overlay->condition && !reading->replaced)
        append_reading (text, scene, overlay, i);
    }
  append_cautions (text, scene, overlay, "\n");
  return g_string_free (text, FALSE);
}

static double
paragraph (cairo_t *cr, const char *text, double x, double y, double width, double height, gboolean bold, const MlColour *colour, const char *font)
{
  const MlTextStyle style = { .font = font, .height = height, .bold = bold, .width = width, .colour = *colour };
  double w, h;

  if (text == NULL || *text == '\0')
    return 0;
  ml_text_size (text, &style, &w, &h);
  if (cr != NULL)
    ml_text_draw (cr, text, x, y, &style);
  return h + 0.35;
}

/* The board's name where the title gives the job's; then the day of the log. */
static char *
board_line (const MlScene *scene, const MlOverlay *overlay)
{
  g_autofree char *date = ml_title_date (overlay);
  const gboolean named = overlay == NULL || overlay->job == NULL || overlay->job->title == NULL;
  GString *text = g_string_new (named ? NULL : board_title (scene, overlay));

  if (scene->board->revision != NULL)
    g_string_append_printf (text, "%sevision %s", text->len > 0 ? ", r" : "R", scene->board->revision);
  if (!ml_title_is_undated (date))
    g_string_append_printf (text, "%s%.10s", text->len > 0 ? ", " : "", date);
  return g_string_free (text, FALSE);
}

static void
rule (cairo_t *cr, double x, double y, double width, const MlColour *colour)
{
  cairo_move_to (cr, x, y);
  cairo_line_to (cr, x + width, y);
  ml_paint_colour (cr, colour);
  cairo_set_line_width (cr, 0.05);
  cairo_stroke (cr);
}

/* The legend under a thin rule, at the foot of the block. */
static double
legend_part (cairo_t *cr, guint legend, double x, double y, double width, const MlPaintStyle *style)
{
  if (legend == 0)
    return 0;
  if (cr != NULL)
    rule (cr, x, y + 0.3, width, &ml_palette (style->paper)->faint);
  return 0.5 + ml_legend_paint (cr, legend, x + MARGIN, y + 0.5, width - 2 * MARGIN, style);
}

double
ml_title_block_paint (cairo_t *cr, const MlScene *scene, const MlOverlay *overlay, guint legend, MlPoint corner, double width,
                      const MlPaintStyle *style)
{
  const MlPalette *palette = ml_palette (style->paper);
  const double room = MAX (width - 2 * MARGIN, 4), left = corner.x + MARGIN;
  const char *font = style->font;
  double y = corner.y + MARGIN;
  g_autofree char *title = ml_title_text (scene, overlay), *board = board_line (scene, overlay), *where = circumstances (scene, overlay);
  GString *cautions = g_string_new (NULL);

  append_cautions (cautions, scene, overlay, "\n");
  g_string_truncate (cautions, cautions->len > 0 ? cautions->len - 1 : 0);
  y += paragraph (cr, title, left, y, room, 1.5, TRUE, &palette->ink, font);
  y += paragraph (cr, board, left, y, room, 1.0, FALSE, &palette->faint, font);
  y += paragraph (cr, where, left, y, room, 1.0, FALSE, &palette->ink, font);
  if (overlay != NULL && overlay->verdict != NULL)
    y += paragraph (cr, overlay->verdict->sentence, left, y, room, 1.3, TRUE, &palette->ink, font);
  y += paragraph (cr, cautions->str, left, y, room, 1.0, FALSE, &palette->ink, font);
  y += legend_part (cr, legend, corner.x, y, width, style);
  y += legend != 0 ? 0.1 : MARGIN - 0.35;
  g_string_free (cautions, TRUE);
  if (cr != NULL)
    {
      ml_paint_colour (cr, &palette->ink);
      cairo_rectangle (cr, corner.x, corner.y, width, y - corner.y);
      cairo_set_line_width (cr, 0.1);
      cairo_stroke (cr);
    }
  return y - corner.y;
}
