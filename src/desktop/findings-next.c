/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The next reading: where the probes go, what to expect there, what is to be done first. */
#include "desktop/findings-private.h"

#include "desktop/findings-text.h"
#include "desktop/repair-text.h"

static void
probe_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;

  g_signal_emit_by_name (self, "probe", ml_document_next (self->document));
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
      place[0] = g_ascii_toupper (place[0]); /* it stands alone */
      gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (place, "place"));
      return;
    }
  gtk_box_append (GTK_BOX (self->next), probe_row ("red-tip", "Red", ml_findings_probe_words (board, &next->red)));
  gtk_box_append (GTK_BOX (self->next), probe_row ("black-tip", "Black", ml_findings_probe_words (board, &next->black)));
}

static void
other_next_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;

  ml_document_set_next (self->document, ml_document_next (self->document) + 1);
  for (GtkWidget *row = gtk_widget_get_last_child (self->next); row != NULL; row = NULL)
    gtk_widget_grab_focus (gtk_widget_get_last_child (row));
}

static void
add_next_buttons (MlFindings *self, const MlVerdict *verdict, const MlNextReading *next)
{
  gboolean supply = next->reads == ML_READS_AMPS;
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 6);
  GtkWidget *probe = gtk_button_new_with_label (supply ? "Type What It Shows" : "Put the Probes There"), *other = gtk_button_new_with_label ("Another");

  gtk_widget_add_css_class (probe, "suggested-action");
  gtk_widget_set_name (probe, supply ? "read-supply" : "put-probes");
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
  int at = verdict != NULL ? ml_document_next (self->document) : -1;
  gtk_widget_set_visible (self->next, at >= 0);
  if (at < 0)
    return;
  const MlNextReading *next = &verdict->next[at];
  if (ml_findings_says_already (&self->next_words, next_words (verdict, next)))
    return;
  ml_findings_clear (self->next);
  const MlBoard *board = verdict->job->board;
  g_autofree char *condition = g_strdup_printf ("Condition: %s", board->conditions[next->condition].name);
  g_autofree char *expect = ml_findings_expect (verdict, next), *left = ml_verdict_left (verdict);
  ml_findings_add_heading (self->next, reads_heading (next->reads));
  if (next->step != NULL)
    {
      g_autofree char *step = g_strdup_printf ("First: %s", next->step);
      gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (step, "place"));
    }
  add_next_place (self, board, next);
  GtkWidget *where = ml_findings_text_new (condition, NULL);
  gtk_widget_set_name (where, "next-condition");
  gtk_box_append (GTK_BOX (self->next), where);
  if (expect[0] != '\0')
    gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (expect, NULL));
  if (left != NULL)
    gtk_box_append (GTK_BOX (self->next), ml_findings_text_new (left, NULL));
  add_next_buttons (self, verdict, next);
}

/* ---- once it is found ---- */

static void
log_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;
  int part = ml_findings_to_mend (ml_document_verdict (self->document));

  if (part < 0)
    return;
  ml_document_select (self->document, part, -1); /* which the question takes its part from */
  gtk_widget_activate_action (GTK_WIDGET (self), self->mend_solders ? "win.log-resoldered" : "win.log-replaced", NULL);
}

static char *
new_part_words (MlFindings *self, int part)
{
  const MlBoard *board = ml_document_board (self->document);
  g_autofree const MlOperatingPoint **points = g_new0 (const MlOperatingPoint *, board->n_conditions + 1);

  for (guint i = 0; i < board->n_conditions; i++)
    points[i] = ml_document_point_of (self->document, (int) i);
  return ml_repair_new_part (board, part, points, board->n_conditions);
}

/* A repair was made and nothing read since. */
static gboolean
powers_up (MlFindings *self)
{
  int unit = ml_document_unit (self->document);

  return unit >= 0 && ml_document_pass (self->document) > 1
         && !ml_job_has_readings (ml_document_job (self->document), unit, ml_document_pass (self->document));
}

static void
fill_power_up (MlFindings *self)
{
  g_autofree char *words = ml_repair_power_up (ml_document_board (self->document),
                                               ml_document_point_of (self->document, ml_document_condition (self->document)));

  gtk_widget_set_visible (self->mend, words != NULL);
  if (words == NULL || ml_findings_says_already (&self->mend_words, g_strdup (words)))
    return;
  ml_findings_clear (self->mend);
  GtkWidget *text = ml_findings_text_new (words, NULL);
  gtk_widget_set_name (text, "power-up");
  gtk_box_append (GTK_BOX (self->mend), text);
}

/* Whether a bad joint of the part to mend, or a worn contact in it, leads, or is at least half as likely as what does. */
static gboolean
may_be_joint (const MlVerdict *verdict, gboolean worn)
{
  const MlExplanation *first = &verdict->explanations[0];

  for (guint i = 0; first->faults[0].kind == ML_FAULT_JOINT && i < verdict->n_explanations; i++)
    {
      const MlExplanation *one = &verdict->explanations[i];

      if (one->n_faults == 1 && one->faults[0].part == first->faults[0].part && one->faults[0].kind == ML_FAULT_JOINT
          && ml_fault_is_worn_contact (&one->faults[0]) == worn && one->probability >= 0.5 * first->probability)
        return TRUE;
    }
  return FALSE;
}

static void
new_pass_cb (GtkButton *button, gpointer data)
{
  gtk_widget_activate_action (GTK_WIDGET (data), "win.new-pass", NULL);
}

/* The repair is in the log: what is still to be done. */
static void
fill_mended (MlFindings *self, const char *name, const char *what)
{
  g_autofree char *text = g_strdup_printf ("The log says that %s was %s. Measure again in a new pass.", name, what);

  if (ml_findings_says_already (&self->mend_words, g_strdup (text)))
    return;
  ml_findings_clear (self->mend);
  GtkWidget *said = ml_findings_text_new (text, NULL), *button = gtk_button_new_with_label ("New Pass…");
  gtk_widget_set_name (said, "mended");
  gtk_widget_set_name (button, "new-pass");
  gtk_widget_set_halign (button, GTK_ALIGN_START);
  gtk_widget_set_tooltip_text (button, "Readings from now on are after the repair");
  g_signal_connect (button, "clicked", G_CALLBACK (new_pass_cb), self);
  gtk_box_append (GTK_BOX (self->mend), said);
  gtk_box_append (GTK_BOX (self->mend), button);
}

/* Before the first reading after a repair comes the current limit; what is to be mended follows what would make it surer. */
static void
order_cards (MlFindings *self, gboolean mend_first)
{
  GtkBox *column = GTK_BOX (gtk_widget_get_parent (self->mend));

  if (gtk_widget_get_prev_sibling (mend_first ? self->next : self->mend) == (mend_first ? self->mend : self->next))
    return;
  gtk_box_reorder_child_after (column, self->next, mend_first ? self->mend : self->cautions);
  gtk_box_reorder_child_after (column, self->mend, mend_first ? self->cautions : self->next);
}

void
ml_findings_fill_mend (MlFindings *self, const MlVerdict *verdict)
{
  int part = ml_findings_to_mend (verdict);

  order_cards (self, powers_up (self));
  if (powers_up (self))
    {
      fill_power_up (self);
      return;
    }
  gtk_widget_set_visible (self->mend, part >= 0);
  if (part < 0)
    return;
  const char *name = verdict->job->board->parts[part].name, *done = ml_repair_logged (verdict->job, verdict->unit, name);
  if (done != NULL)
    {
      fill_mended (self, name, done);
      return;
    }
  gboolean worn = may_be_joint (verdict, TRUE);
  self->mend_solders = may_be_joint (verdict, FALSE);
  g_autofree char *stands = self->mend_solders ? g_strdup ("") : new_part_words (self, part);
  if (ml_findings_says_already (&self->mend_words, g_strdup_printf ("%s%d%d%s", name, self->mend_solders, worn, stands)))
    return;
  ml_findings_clear (self->mend);
  const char *wears = worn ? "; if that does not help, its contact is worn" : "";
  g_autofree char *text = self->mend_solders ? g_strdup_printf ("Sure enough to solder %s again%s. Log it, then measure again in a new pass.", name, wears)
                                             : g_strdup_printf ("Sure enough to work on %s. Log it, then measure again in a new pass.", name);
  GtkWidget *button = gtk_button_new_with_label (self->mend_solders ? "Resoldered…" : "Replaced…");

  gtk_widget_set_name (button, "log-repair");
  gtk_widget_set_halign (button, GTK_ALIGN_START);
  gtk_widget_set_tooltip_text (button, "Write in the log what was done");
  g_signal_connect (button, "clicked", G_CALLBACK (log_cb), self);
  gtk_box_append (GTK_BOX (self->mend), ml_findings_text_new (text, NULL));
  if (stands[0] != '\0')
    {
      GtkWidget *label = ml_findings_text_new (stands, NULL);
      gtk_widget_set_name (label, "new-part");
      gtk_box_append (GTK_BOX (self->mend), label);
    }
  gtk_box_append (GTK_BOX (self->mend), button);
}
