/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The next reading: where the probes go, what to expect there, what is to be done first. */
#include "desktop/findings-private.h"

#include "desktop/findings-text.h"

static void
probe_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;

  g_signal_emit_by_name (self, "probe", self->next_index);
}

static GtkWidget *
probe_row (const char *tip_style, const char *who, char *where)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8), *tip = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 0);
  g_autofree char *text = g_strdup_printf ("%s on %s", who, where);

  gtk_widget_add_css_class (tip, "tip");
  gtk_widget_add_css_class (tip, tip_style);
  gtk_widget_set_valign (tip, GTK_ALIGN_CENTER);
  gtk_box_append (GTK_BOX (row), tip);
  gtk_box_append (GTK_BOX (row), ml_findings_text_new (text, "place"));
  g_free (where);
  return row;
}

static const char *
reads_heading (MlReads reads)
{
  switch (reads)
    {
    case ML_READS_AMPS: return "Next: read the supply";
    case ML_READS_OHMS: return "Next: measure ohms";
    case ML_READS_DIODE: return "Next: diode test";
    case ML_READS_VOLTS: default: return "Next: measure volts";
    }
}

static void
add_next_place (MlFindings *self, const MlBoard *board, const MlNextReading *next)
{
  if (next->reads == ML_READS_AMPS)
    {
      g_autofree char *place = ml_findings_place (board, next->reads, NULL, NULL, next->supply);
      gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (place, "place"));
      return;
    }
  gtk_box_append (GTK_BOX (self->next), probe_row ("red-tip", "Red", ml_probe_label (board, &next->red)));
  gtk_box_append (GTK_BOX (self->next), probe_row ("black-tip", "Black", ml_probe_label (board, &next->black)));
}

static void
other_next_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;

  self->next_index++;
  ml_findings_fill_next (self, ml_document_verdict (self->document));
  for (GtkWidget *row = gtk_widget_get_last_child (self->next); row != NULL; row = NULL)
    gtk_widget_grab_focus (gtk_widget_get_last_child (row));
}

static void
add_next_buttons (MlFindings *self, const MlVerdict *verdict)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 6);
  GtkWidget *probe = gtk_button_new_with_label ("Put the Probes There"), *other = gtk_button_new_with_label ("Another");

  gtk_widget_add_css_class (probe, "suggested-action");
  gtk_widget_set_name (probe, "put-probes");
  gtk_widget_set_name (other, "another-reading");
  gtk_widget_set_tooltip_text (other, "Show the next best reading instead");
  g_signal_connect (probe, "clicked", G_CALLBACK (probe_cb), self);
  g_signal_connect (other, "clicked", G_CALLBACK (other_next_cb), self);
  gtk_box_append (GTK_BOX (row), probe);
  if (verdict->n_next > 1)
    gtk_box_append (GTK_BOX (row), other);
  gtk_box_append (GTK_BOX (self->next), row);
}

static char *
next_words (const MlVerdict *verdict, const MlNextReading *next)
{
  const MlBoard *board = verdict->job->board;
  g_autofree char *place = ml_findings_place (board, next->reads, &next->red, &next->black, next->supply);
  g_autofree char *expect = ml_findings_expect (verdict, next), *left = ml_verdict_left (verdict);

  return g_strjoin ("\n", place, expect, board->conditions[next->condition].name, verdict->n_next > 1 ? "more" : "one", left ? left : "", next->step, NULL);
}

void
ml_findings_fill_next (MlFindings *self, const MlVerdict *verdict)
{
  /* A first verdict does not know yet: what was suggested stays until the refined one tells. */
  if (verdict != NULL && verdict->stage == 0 && ml_document_progress (self->document) >= 0.0)
    return;
  gtk_widget_set_visible (self->next, verdict != NULL && verdict->n_next > 0);
  if (verdict == NULL || verdict->n_next == 0)
    return;
  self->next_index = self->next_index % (int) verdict->n_next;
  if (ml_findings_says_already (&self->next_words, next_words (verdict, &verdict->next[self->next_index])))
    return;
  ml_findings_clear (self->next);
  const MlBoard *board = verdict->job->board;
  const MlNextReading *next = &verdict->next[self->next_index];
  g_autofree char *condition = g_strdup_printf ("Condition: %s", board->conditions[next->condition].name);
  g_autofree char *expect = ml_findings_expect (verdict, next), *left = ml_verdict_left (verdict);
  ml_findings_add_heading (self->next, reads_heading (next->reads));
  if (next->step != NULL)
    {
      g_autofree char *step = g_strdup_printf ("First: %s", next->step);
      gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (step, "place"));
    }
  add_next_place (self, board, next);
  gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (condition, NULL));
  if (expect[0] != '\0')
    gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (expect, NULL));
  if (left != NULL)
    gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (left, NULL));
  add_next_buttons (self, verdict);
}
