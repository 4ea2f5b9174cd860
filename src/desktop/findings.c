/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/findings.h"

#include <math.h>
#include <string.h>

#include "desktop/findings-text.h"
#include "desktop/glyph.h"

#define MOST_ROWS 5u
#define MOST_REASONS 8u
#define MOST_BLIND 6u
#define WIDTH 330

struct _MlFindings
{
  GtkWidget parent_instance;

  /* owned */
  MlDocument *document;
  char *next_words, *rows_words; /* what `next` and `explanations` were built from: a button must not go away between press and release */
  char *chosen_title; /* the explanation chosen by hand, kept through later verdicts; NULL: the first */

  /* template: built once, filled anew with every verdict */
  GtkWidget *scrolled;
  GtkWidget *progress_row, *progress;
  GtkWidget *sentence;
  GtkWidget *cautions;
  GtkWidget *next;
  GtkWidget *explanations;
  GtkWidget *reasons;
  GtkWidget *blind;

  guint chosen;
  int next_index; /* which of the suggested readings is shown */
  gboolean filling;
  gboolean held_back; /* an early verdict that is not shown yet */
};

G_DEFINE_FINAL_TYPE (MlFindings, ml_findings, GTK_TYPE_WIDGET)

enum { CHOSEN, PROBE, N_SIGNALS };
static guint signals[N_SIGNALS];

/* ---- small pieces ---- */

static GtkWidget *
text_new (const char *text, const char *style)
{
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_wrap_mode (GTK_LABEL (label), PANGO_WRAP_WORD_CHAR);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  gtk_label_set_selectable (GTK_LABEL (label), FALSE);
  gtk_widget_set_hexpand (label, TRUE);
  if (style != NULL)
    gtk_widget_add_css_class (label, style);
  return label;
}

static void
clear_box (GtkWidget *box)
{
  GtkWidget *child;

  while ((child = gtk_widget_get_first_child (box)) != NULL)
    gtk_box_remove (GTK_BOX (box), child);
}

static GtkWidget *
section_new (GtkWidget *column, const char *style)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4);

  gtk_widget_add_css_class (box, style);
  gtk_box_append (GTK_BOX (column), box);
  return box;
}

static void
add_heading (GtkWidget *box, const char *text)
{
  GtkWidget *label = text_new (text, "heading-small");

  gtk_box_append (GTK_BOX (box), label);
}

/* ---- the sentence ---- */

/* verdict NULL: there is none that may be shown. */
static void
fill_sentence (MlFindings *self, const MlVerdict *verdict)
{
  const char *guide = ml_findings_guide (ml_document_board (self->document), ml_document_unit (self->document), verdict,
                                         ml_document_progress (self->document) >= 0.0);

  gtk_label_set_text (GTK_LABEL (self->sentence), guide != NULL ? guide : verdict->sentence);
}

static void
fill_cautions (MlFindings *self, const MlVerdict *verdict)
{
  clear_box (self->cautions);
  for (char **caution = verdict != NULL ? verdict->cautions : NULL; caution != NULL && *caution != NULL; caution++)
    {
      g_autofree char *text = g_strconcat ("⚠ ", *caution, NULL);
      gtk_box_append (GTK_BOX (self->cautions), text_new (text, "caution"));
    }
  gtk_widget_set_visible (self->cautions, gtk_widget_get_first_child (self->cautions) != NULL);
}

/* ---- next ---- */

static void
probe_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;

  g_signal_emit (self, signals[PROBE], 0, self->next_index);
}

static void
other_next_cb (GtkButton *button, gpointer data);

static GtkWidget *
probe_row (const char *tip_style, const char *who, char *where)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8), *tip = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 0);
  g_autofree char *text = g_strdup_printf ("%s on %s", who, where);

  gtk_widget_add_css_class (tip, "tip");
  gtk_widget_add_css_class (tip, tip_style);
  gtk_widget_set_valign (tip, GTK_ALIGN_CENTER);
  gtk_box_append (GTK_BOX (row), tip);
  gtk_box_append (GTK_BOX (row), text_new (text, "place"));
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
      gtk_box_append (GTK_BOX (self->next), text_new (place, "place"));
      return;
    }
  gtk_box_append (GTK_BOX (self->next), probe_row ("red-tip", "Red", ml_probe_label (board, &next->red)));
  gtk_box_append (GTK_BOX (self->next), probe_row ("black-tip", "Black", ml_probe_label (board, &next->black)));
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

/* TRUE when *slot says that already; else it says so from now on. Takes words. */
static gboolean
says_already (char **slot, char *words)
{
  gboolean same = g_strcmp0 (*slot, words) == 0;

  g_free (*slot);
  *slot = words;
  return same;
}

static char *
next_words (const MlVerdict *verdict, const MlNextReading *next)
{
  const MlBoard *board = verdict->job->board;
  g_autofree char *place = ml_findings_place (board, next->reads, &next->red, &next->black, next->supply);
  g_autofree char *expect = ml_findings_expect (verdict, next), *left = ml_verdict_left (verdict);

  return g_strjoin ("\n", place, expect, board->conditions[next->condition].name, verdict->n_next > 1 ? "more" : "one", left ? left : "", next->step, NULL);
}

static void
fill_next (MlFindings *self, const MlVerdict *verdict)
{
  gtk_widget_set_visible (self->next, verdict != NULL && verdict->n_next > 0);
  if (verdict == NULL || verdict->n_next == 0)
    return;
  self->next_index = self->next_index % (int) verdict->n_next;
  if (says_already (&self->next_words, next_words (verdict, &verdict->next[self->next_index])))
    return;
  clear_box (self->next);
  const MlBoard *board = verdict->job->board;
  const MlNextReading *next = &verdict->next[self->next_index];
  g_autofree char *condition = g_strdup_printf ("Condition: %s", board->conditions[next->condition].name);
  g_autofree char *expect = ml_findings_expect (verdict, next), *left = ml_verdict_left (verdict);
  add_heading (self->next, reads_heading (next->reads));
  if (next->step != NULL)
    {
      g_autofree char *step = g_strdup_printf ("First: %s", next->step);
      gtk_box_append (GTK_BOX (self->next), text_new (step, "place"));
    }
  add_next_place (self, board, next);
  gtk_box_append (GTK_BOX (self->next), text_new (condition, NULL));
  if (expect[0] != '\0')
    gtk_box_append (GTK_BOX (self->next), text_new (expect, NULL));
  if (left != NULL)
    gtk_box_append (GTK_BOX (self->next), text_new (left, NULL));
  add_next_buttons (self, verdict);
}

static void
other_next_cb (GtkButton *button, gpointer data)
{
  MlFindings *self = data;

  self->next_index++;
  fill_next (self, ml_document_verdict (self->document));
  for (GtkWidget *row = gtk_widget_get_last_child (self->next); row != NULL; row = NULL)
    gtk_widget_grab_focus (gtk_widget_get_last_child (row));
}

/* ---- explanations ---- */

static GtkWidget *
explanation_row_new (const MlVerdict *verdict, const MlFindingsRow *row, guint number)
{
  GtkWidget *item = gtk_list_box_row_new (), *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 3), *line = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8);
  g_autofree char *percent = ml_verdict_percent (row->probability), *name = g_strdup_printf ("explanation-%u", number);
  g_autofree char *spoken = g_strdup_printf ("%s, %s", row->title, percent);
  const MlExplanation *first = &verdict->explanations[g_array_index (row->members, guint, 0)];
  GtkWidget *bar = gtk_progress_bar_new (), *share = gtk_label_new (percent);

  gtk_box_append (GTK_BOX (line), text_new (row->title, "explanation-title"));
  gtk_widget_add_css_class (share, "percent");
  gtk_widget_set_valign (share, GTK_ALIGN_START);
  gtk_box_append (GTK_BOX (line), share);
  gtk_progress_bar_set_fraction (GTK_PROGRESS_BAR (bar), CLAMP (row->probability, 0.0, 1.0));
  gtk_widget_add_css_class (bar, "share");
  gtk_box_append (GTK_BOX (box), line);
  gtk_box_append (GTK_BOX (box), bar);
  gtk_list_box_row_set_child (GTK_LIST_BOX_ROW (item), box);
  gtk_widget_set_name (item, name);
  gtk_accessible_update_property (GTK_ACCESSIBLE (item), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
  g_object_set_data (G_OBJECT (item), "id", GUINT_TO_POINTER (first->id));
  g_object_set_data_full (G_OBJECT (item), "title", g_strdup (row->title), g_free);
  return item;
}

static const MlExplanation *
find_chosen (MlFindings *self, const MlVerdict *verdict)
{
  for (guint i = 0; verdict != NULL && i < verdict->n_explanations; i++)
    if (verdict->explanations[i].id == self->chosen)
      return &verdict->explanations[i];
  return NULL;
}

static char *
rows_words (GPtrArray *rows)
{
  GString *words = g_string_new (NULL);

  for (guint i = 0; rows != NULL && i < rows->len; i++)
    {
      const MlFindingsRow *row = g_ptr_array_index (rows, i);
      g_string_append_printf (words, "%s %.3f %u\n", row->title, row->probability, g_array_index (row->members, guint, 0));
    }
  return g_string_free (words, FALSE);
}

static void
fill_explanations (MlFindings *self, const MlVerdict *verdict)
{
  g_autoptr (GPtrArray) rows = verdict != NULL && verdict->n_readings > 0 ? ml_findings_rows (verdict, MOST_ROWS) : NULL;
  GtkWidget *child;
  GtkListBoxRow *selected = NULL;

  if (says_already (&self->rows_words, rows_words (rows)))
    return;
  self->filling = TRUE;
  while ((child = gtk_widget_get_first_child (self->explanations)) != NULL)
    gtk_list_box_remove (GTK_LIST_BOX (self->explanations), child);
  self->chosen = 0;
  /* without a reading the shares are only those of parts as such: a list of them would look like a finding */
  gtk_widget_set_visible (self->explanations, verdict != NULL && verdict->n_explanations > 0 && verdict->n_readings > 0);
  for (guint i = 0; rows != NULL && i < rows->len; i++)
    {
      const MlFindingsRow *row = g_ptr_array_index (rows, i);
      GtkWidget *item = explanation_row_new (verdict, row, i + 1);
      gtk_list_box_append (GTK_LIST_BOX (self->explanations), item);
      if (selected == NULL || g_strcmp0 (row->title, self->chosen_title) == 0)
        selected = GTK_LIST_BOX_ROW (item);
    }
  if (selected != NULL)
    {
      gtk_list_box_select_row (GTK_LIST_BOX (self->explanations), selected);
      self->chosen = GPOINTER_TO_UINT (g_object_get_data (G_OBJECT (selected), "id"));
    }
  self->filling = FALSE;
}

/* ---- reasons ---- */

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
                                     : ml_judge_expect (judge, reading->condition, explanation->faults, explanation->n_faults, reading->reads,
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
add_slips (MlFindings *self, const MlVerdict *verdict)
{
  if (verdict->condition_slip != NULL)
    gtk_box_append (GTK_BOX (self->reasons), text_new (verdict->condition_slip, "caution"));
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const char *slip = verdict->readings[i].slip_text;
      if (slip == NULL)
        continue;
      g_autofree char *place = reason_place (verdict, &verdict->job->readings[verdict->readings[i].reading]);
      g_autofree char *text = g_strdup_printf ("Look again at %s: %s", place, slip);
      gtk_box_append (GTK_BOX (self->reasons), text_new (text, "caution"));
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
      gtk_box_append (GTK_BOX (self->reasons), text_new (more, "faint"));
    }
}

static void
fill_reasons (MlFindings *self, const MlVerdict *verdict)
{
  const MlExplanation *explanation = find_chosen (self, verdict);

  clear_box (self->reasons);
  gtk_widget_set_visible (self->reasons, explanation != NULL && verdict->n_readings > 0);
  if (explanation == NULL || verdict->n_readings == 0)
    return;
  add_heading (self->reasons, "Why");
  for (char **reason = explanation->reasons; reason != NULL && *reason != NULL; reason++)
    gtk_box_append (GTK_BOX (self->reasons), text_new (*reason, NULL));
  add_slips (self, verdict);
  add_reason_table (self, verdict, explanation);
}

static void
fill_blind (MlFindings *self, const MlVerdict *verdict)
{
  clear_box (self->blind);
  gtk_widget_set_visible (self->blind, verdict != NULL && verdict->n_blind > 0);
  if (verdict == NULL || verdict->n_blind == 0)
    return;
  add_heading (self->blind, "What these readings cannot tell");
  g_auto (GStrv) lines = ml_verdict_blind_lines (verdict);
  guint n = g_strv_length (lines);
  for (guint i = 0; i < MIN (n, MOST_BLIND); i++)
    gtk_box_append (GTK_BOX (self->blind), text_new (lines[i], "faint"));
  if (n > MOST_BLIND)
    {
      g_autofree char *more = g_strdup_printf ("and %u more", n - MOST_BLIND);
      gtk_box_append (GTK_BOX (self->blind), text_new (more, "faint"));
    }
}

/* ---- following the document ---- */

static void
row_selected_cb (GtkListBox *list, GtkListBoxRow *row, gpointer data)
{
  MlFindings *self = data;

  if (self->filling || row == NULL)
    return;
  self->chosen = GPOINTER_TO_UINT (g_object_get_data (G_OBJECT (row), "id"));
  g_free (self->chosen_title);
  self->chosen_title = g_strdup (g_object_get_data (G_OBJECT (row), "title"));
  fill_reasons (self, ml_document_verdict (self->document));
  g_signal_emit (self, signals[CHOSEN], 0, self->chosen);
}

static void
show_progress (MlFindings *self)
{
  double share = ml_document_progress (self->document);

  gtk_widget_set_opacity (self->progress_row, share >= 0.0 ? 1.0 : 0.0);
  gtk_widget_set_sensitive (self->progress_row, share >= 0.0);
  gtk_progress_bar_set_fraction (GTK_PROGRESS_BAR (self->progress), CLAMP (share, 0.0, 1.0));
}

static void
fill (MlFindings *self)
{
  const MlVerdict *verdict = ml_document_verdict (self->document);

  fill_sentence (self, verdict);
  fill_next (self, verdict);
  self->held_back = ml_findings_hold_back (verdict, ml_document_progress (self->document) >= 0.0);
  if (self->held_back)
    verdict = NULL;
  fill_cautions (self, verdict);
  fill_explanations (self, verdict);
  fill_reasons (self, verdict);
  fill_blind (self, verdict);
  g_signal_emit (self, signals[CHOSEN], 0, self->chosen);
}

static void
changed_cb (MlDocument *document, guint what, gpointer data)
{
  MlFindings *self = data;

  if ((what & (ML_CHANGED_VERDICT | ML_CHANGED_BOARD | ML_CHANGED_JOB)) != 0)
    {
      if ((what & ML_CHANGED_JOB) != 0)
        self->next_index = 0;
      fill (self);
    }
  else if ((what & ML_CHANGED_PROGRESS) != 0 && self->held_back && ml_document_progress (document) < 0.0)
    fill (self); /* stopped: what there is must do */
  else if ((what & ML_CHANGED_PROGRESS) != 0 && ml_document_verdict (document) == NULL)
    fill_sentence (self, NULL);
  if ((what & ML_CHANGED_PROGRESS) != 0)
    show_progress (self);
}

static void
stop_cb (GtkButton *button, gpointer data)
{
  ml_document_stop (ML_FINDINGS (data)->document);
}

static void
ml_findings_dispose (GObject *object)
{
  MlFindings *self = ML_FINDINGS (object);

  if (self->document != NULL)
    g_signal_handlers_disconnect_by_data (self->document, self);
  g_clear_object (&self->document);
  g_clear_pointer (&self->scrolled, gtk_widget_unparent);
  g_clear_pointer (&self->progress_row, gtk_widget_unparent);
  g_clear_pointer (&self->chosen_title, g_free);
  g_clear_pointer (&self->next_words, g_free);
  g_clear_pointer (&self->rows_words, g_free);
  G_OBJECT_CLASS (ml_findings_parent_class)->dispose (object);
}

static void
ml_findings_class_init (MlFindingsClass *klass)
{
  G_OBJECT_CLASS (klass)->dispose = ml_findings_dispose;
  signals[CHOSEN] = g_signal_new ("chosen", ML_TYPE_FINDINGS, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_UINT);
  signals[PROBE] = g_signal_new ("probe", ML_TYPE_FINDINGS, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_INT);
  gtk_widget_class_set_layout_manager_type (GTK_WIDGET_CLASS (klass), GTK_TYPE_BOX_LAYOUT);
  gtk_widget_class_set_css_name (GTK_WIDGET_CLASS (klass), "findings");
}

static void
build_progress (MlFindings *self)
{
  GtkWidget *stop = gtk_button_new ();

  self->progress_row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 6);
  self->progress = gtk_progress_bar_new ();
  gtk_widget_set_hexpand (self->progress, TRUE);
  gtk_widget_set_valign (self->progress, GTK_ALIGN_CENTER);
  gtk_widget_add_css_class (self->progress_row, "working");
  gtk_button_set_child (GTK_BUTTON (stop), ml_glyph_new (ML_GLYPH_STOP, 12));
  gtk_button_set_has_frame (GTK_BUTTON (stop), FALSE);
  gtk_widget_set_tooltip_text (stop, "Stop working on the verdict");
  gtk_accessible_update_property (GTK_ACCESSIBLE (stop), GTK_ACCESSIBLE_PROPERTY_LABEL, "Stop working on the verdict", -1);
  g_signal_connect (stop, "clicked", G_CALLBACK (stop_cb), self);
  gtk_box_append (GTK_BOX (self->progress_row), self->progress);
  gtk_box_append (GTK_BOX (self->progress_row), stop);
  gtk_widget_set_parent (self->progress_row, GTK_WIDGET (self));
}

static void
ml_findings_init (MlFindings *self)
{
  GtkWidget *column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 12);

  gtk_orientable_set_orientation (GTK_ORIENTABLE (gtk_widget_get_layout_manager (GTK_WIDGET (self))), GTK_ORIENTATION_VERTICAL);
  gtk_widget_add_css_class (column, "findings-column");
  self->sentence = text_new ("", "sentence");
  gtk_widget_set_name (self->sentence, "sentence");
  gtk_box_append (GTK_BOX (column), self->sentence);
  self->cautions = section_new (column, "cautions");
  self->next = section_new (column, "next-card");
  self->explanations = gtk_list_box_new ();
  gtk_widget_add_css_class (self->explanations, "explanations");
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->explanations), GTK_ACCESSIBLE_PROPERTY_LABEL, "Explanations", -1);
  g_signal_connect (self->explanations, "row-selected", G_CALLBACK (row_selected_cb), self);
  gtk_box_append (GTK_BOX (column), self->explanations);
  self->reasons = section_new (column, "reasons");
  self->blind = section_new (column, "blind");
  self->scrolled = gtk_scrolled_window_new ();
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (self->scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (self->scrolled), column);
  gtk_widget_set_vexpand (self->scrolled, TRUE);
  build_progress (self);
  gtk_widget_set_parent (self->scrolled, GTK_WIDGET (self));
  gtk_widget_set_size_request (GTK_WIDGET (self), WIDTH, -1);
}

GtkWidget *
ml_findings_new (MlDocument *document)
{
  MlFindings *self = g_object_new (ML_TYPE_FINDINGS, NULL);

  self->document = g_object_ref (document);
  g_signal_connect (document, "changed", G_CALLBACK (changed_cb), self);
  fill (self);
  show_progress (self);
  return GTK_WIDGET (self);
}

guint
ml_findings_chosen (MlFindings *self)
{
  return self->chosen;
}
