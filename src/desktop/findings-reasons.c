/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why: the reasons of the chosen explanation, reading by reading; and what these readings cannot tell. */
#include "desktop/findings-private.h"

#include <math.h>

#include "desktop/findings-text.h"
#include "desktop/said.h"

#define MOST_REASONS 8u
#define MOST_BLIND 6u

/* The readings' column `faulty` is that of the first explanation that names a fault; another one is asked of the judge when it is free. */
static void
expect_under (MlFindings *self, const MlVerdict *verdict, const MlExplanation *explanation, GArray *reasons)
{
  MlJudge *judge = ml_document_judge (self->document);
  const MlExplanation *first = NULL;

  for (guint i = 0; i < verdict->n_explanations && first == NULL; i++)
    if (verdict->explanations[i].n_faults > 0)
      first = &verdict->explanations[i];
  if (explanation == first || explanation->n_faults == 0)
    return;
  for (guint i = 0; i < MIN (reasons->len, MOST_REASONS); i++)
    {
      MlFindingsReason *reason = &g_array_index (reasons, MlFindingsReason, i);
      const MlReading *reading = &verdict->job->readings[reason->reading];
      const MlMeter *meter = &verdict->job->meters[reading->meter >= 0 ? reading->meter : 0];
      reason->faulty = judge == NULL ? NAN
                                     : ml_judge_expect (judge, reading->condition, explanation->faults, explanation->n_faults, verdict->found, reading->reads,
                                                        &reading->red, &reading->black, reading->supply, meter, NULL);
    }
}

static void
add_cell (GtkGrid *grid, int column, int row, char *text, const char *style)
{
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_xalign (GTK_LABEL (label), column == 0 ? 0.0f : 1.0f);
  gtk_label_set_yalign (GTK_LABEL (label), 0.0f);
  if (column == 0)
    {
      gtk_label_set_wrap (GTK_LABEL (label), TRUE);
      gtk_label_set_wrap_mode (GTK_LABEL (label), PANGO_WRAP_WORD_CHAR);
      gtk_widget_set_hexpand (label, TRUE);
    }
  if (style != NULL)
    gtk_widget_add_css_class (label, style);
  gtk_grid_attach (grid, label, column, row, 1, 1);
  g_free (text);
}

static char *
reason_place (const MlVerdict *verdict, const MlReading *reading)
{
  const MlBoard *board = verdict->job->board;
  g_autofree char *place = ml_findings_place_short (board, reading);

  return board->n_conditions > 1 ? g_strdup_printf ("%s, %s", place, board->conditions[reading->condition].name) : g_steal_pointer (&place);
}

static void
add_reason_line (GtkGrid *grid, int row, const MlVerdict *verdict, const MlFindingsReason *reason)
{
  const MlReading *reading = &verdict->job->readings[reason->reading];
  gboolean off = isfinite (reason->fine) && fabs (reason->measured - reason->fine) > 3.0 * reason->sigma;

  add_cell (grid, 0, row, reason_place (verdict, reading), NULL);
  add_cell (grid, 1, row, ml_findings_value (reason->measured, reading->reads), "measured");
  add_cell (grid, 2, row, ml_findings_value (reason->fine, reading->reads), off ? "off" : "agrees");
  add_cell (grid, 3, row, ml_findings_value (reason->faulty, reading->reads), NULL);
}

static void
add_sentence (MlFindings *self, const MlVerdict *verdict, const char *text, const char *style)
{
  g_autofree char *said = ml_said (verdict->job->board, text);

  gtk_box_append (GTK_BOX (self->reasons), ml_findings_text_new (said, style));
}

static void
add_slips (MlFindings *self, const MlVerdict *verdict)
{
  if (verdict->condition_slip != NULL)
    add_sentence (self, verdict, verdict->condition_slip, "caution");
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const char *slip = verdict->readings[i].slip_text;
      if (slip == NULL)
        continue;
      g_autofree char *place = reason_place (verdict, &verdict->job->readings[verdict->readings[i].reading]);
      g_autofree char *text = g_strdup_printf ("Look again at %s: %s", place, slip);
      gtk_box_append (GTK_BOX (self->reasons), ml_findings_text_new (text, "caution"));
    }
}

static void
add_reason_table (MlFindings *self, const MlVerdict *verdict, const MlExplanation *explanation)
{
  g_autoptr (GArray) reasons = ml_findings_reasons (verdict);
  GtkWidget *grid = gtk_grid_new ();
  guint n = MIN (reasons->len, MOST_REASONS);

  if (n == 0)
    return;
  expect_under (self, verdict, explanation, reasons);
  gtk_grid_set_column_spacing (GTK_GRID (grid), 10);
  gtk_grid_set_row_spacing (GTK_GRID (grid), 2);
  gtk_widget_add_css_class (grid, "reasons-table");
  add_cell (GTK_GRID (grid), 0, 0, g_strdup ("Reading"), "column");
  add_cell (GTK_GRID (grid), 1, 0, g_strdup ("measured"), "column");
  add_cell (GTK_GRID (grid), 2, 0, g_strdup ("if fine"), "column");
  add_cell (GTK_GRID (grid), 3, 0, g_strdup ("if so"), "column");
  for (guint i = 0; i < n; i++)
    add_reason_line (GTK_GRID (grid), (int) i + 1, verdict, &g_array_index (reasons, MlFindingsReason, i));
  gtk_box_append (GTK_BOX (self->reasons), grid);
  if (reasons->len > n)
    {
      g_autofree char *more = g_strdup_printf ("and %u more that say less", reasons->len - n);
      gtk_box_append (GTK_BOX (self->reasons), ml_findings_text_new (more, "faint"));
    }
}

void
ml_findings_fill_reasons (MlFindings *self, const MlVerdict *verdict)
{
  const MlExplanation *explanation = ml_findings_find_chosen (self, verdict);

  ml_findings_clear (self->reasons);
  gtk_widget_set_visible (self->reasons, explanation != NULL && verdict->n_readings > 0);
  if (explanation == NULL || verdict->n_readings == 0)
    return;
  ml_findings_add_heading (self->reasons, "Why");
  for (char **reason = explanation->reasons; reason != NULL && *reason != NULL; reason++)
    add_sentence (self, verdict, *reason, NULL);
  add_slips (self, verdict);
  add_reason_table (self, verdict, explanation);
}

void
ml_findings_fill_blind (MlFindings *self, const MlVerdict *verdict)
{
  ml_findings_clear (self->blind);
  gboolean says = verdict != NULL && verdict->n_blind > 0 && verdict->n_readings > 0;

  gtk_widget_set_visible (self->blind, says);
  if (!says)
    return;
  ml_findings_add_heading (self->blind, "What these readings cannot tell");
  g_auto (GStrv) lines = ml_verdict_blind_lines (verdict);
  guint n = g_strv_length (lines);
  for (guint i = 0; i < MIN (n, MOST_BLIND); i++)
    {
      g_autofree char *line = ml_findings_shorten (lines[i]);
      gtk_box_append (GTK_BOX (self->blind), ml_findings_text_new (line, "faint"));
    }
  if (n > MOST_BLIND)
    {
      g_autofree char *more = g_strdup_printf ("and %u more", n - MOST_BLIND);
      gtk_box_append (GTK_BOX (self->blind), ml_findings_text_new (more, "faint"));
    }
}
