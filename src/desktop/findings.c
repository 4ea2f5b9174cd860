/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/findings-private.h"

#include "desktop/findings-rows.h"
#include "desktop/findings-text.h"
#include "desktop/glyph.h"

#define MOST_ROWS 5u
#define WIDTH 330

G_DEFINE_FINAL_TYPE (MlFindings, ml_findings, GTK_TYPE_WIDGET)

enum { CHOSEN, PROBE, N_SIGNALS };
static guint signals[N_SIGNALS];

/* ---- small pieces ---- */

GtkWidget *
ml_findings_text_new (const char *text, const char *style)
{
  /* the sentence is what a screen reader should tell by itself */
  GtkAccessibleRole role = g_strcmp0 (style, "sentence") == 0 ? GTK_ACCESSIBLE_ROLE_STATUS : GTK_ACCESSIBLE_ROLE_LABEL;
  GtkWidget *label = g_object_new (GTK_TYPE_LABEL, "accessible-role", role, "label", text, NULL);

  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_wrap_mode (GTK_LABEL (label), PANGO_WRAP_WORD_CHAR);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  gtk_label_set_selectable (GTK_LABEL (label), FALSE);
  gtk_widget_set_hexpand (label, TRUE);
  if (style != NULL)
    gtk_widget_add_css_class (label, style);
  return label;
}

void
ml_findings_clear (GtkWidget *box)
{
  GtkWidget *child;

  while ((child = gtk_widget_get_first_child (box)) != NULL)
    gtk_box_remove (GTK_BOX (box), child);
}

void
ml_findings_add_heading (GtkWidget *box, const char *text)
{
  GtkWidget *label = ml_findings_text_new (text, "heading-small");

  gtk_box_append (GTK_BOX (box), label);
}

gboolean
ml_findings_says_already (char **slot, char *words)
{
  gboolean same = g_strcmp0 (*slot, words) == 0;

  g_free (*slot);
  *slot = words;
  return same;
}

static GtkWidget *
section_new (GtkWidget *column, const char *style)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4);

  gtk_widget_add_css_class (box, style);
  gtk_box_append (GTK_BOX (column), box);
  return box;
}

/* ---- the sentence ---- */

/* verdict NULL: there is none that may be shown. */
static void
fill_sentence (MlFindings *self, const MlVerdict *verdict)
{
  int unit = ml_document_unit (self->document);
  gboolean was_read = unit >= 0 && ml_job_has_readings (ml_document_job (self->document), unit, ml_document_pass (self->document));
  const MlBoard *board = ml_document_board (self->document);
  const char *guide = ml_document_lacks_board (self->document)
                        ? "The board that this job is about is not where the job says. Find the Board… asks for its file."
                        : ml_findings_mend_first (board, ml_diagnostics_n_errors (ml_document_diagnostics (self->document)), was_read);

  if (guide == NULL)
    guide = ml_findings_guide (board, unit, ml_document_pass (self->document), verdict, ml_document_progress (self->document) >= 0.0, was_read);
  gtk_label_set_text (GTK_LABEL (self->sentence), guide != NULL ? guide : verdict->sentence);
}

static void
fill_cautions (MlFindings *self, const MlVerdict *verdict)
{
  ml_findings_clear (self->cautions);
  for (char **caution = verdict != NULL ? verdict->cautions : NULL; caution != NULL && *caution != NULL; caution++)
    {
      g_autofree char *text = g_strconcat ("⚠ ", *caution, NULL);
      gtk_box_append (GTK_BOX (self->cautions), ml_findings_text_new (text, "caution"));
    }
  gtk_widget_set_visible (self->cautions, gtk_widget_get_first_child (self->cautions) != NULL);
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

  gtk_box_append (GTK_BOX (line), ml_findings_text_new (row->title, "explanation-title"));
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

const MlExplanation *
ml_findings_find_chosen (MlFindings *self, const MlVerdict *verdict)
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

  if (ml_findings_says_already (&self->rows_words, rows_words (rows)))
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
  ml_findings_fill_reasons (self, ml_document_verdict (self->document));
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
  ml_findings_fill_next (self, verdict);
  self->held_back = ml_findings_hold_back (verdict, ml_document_progress (self->document) >= 0.0);
  if (self->held_back)
    verdict = NULL;
  fill_cautions (self, verdict);
  ml_findings_fill_mend (self, verdict);
  fill_explanations (self, verdict);
  ml_findings_fill_reasons (self, verdict);
  ml_findings_fill_blind (self, verdict);
  g_signal_emit (self, signals[CHOSEN], 0, self->chosen);
}

static void
changed_cb (MlDocument *document, guint what, gpointer data)
{
  MlFindings *self = data;

  if ((what & (ML_CHANGED_VERDICT | ML_CHANGED_BOARD | ML_CHANGED_JOB)) != 0)
    fill (self);
  else if ((what & ML_CHANGED_PROGRESS) != 0 && self->held_back && ml_document_progress (document) < 0.0)
    fill (self); /* stopped: what there is must do */
  else if ((what & ML_CHANGED_PROGRESS) != 0 && ml_document_verdict (document) == NULL)
    fill_sentence (self, NULL);
  else if ((what & (ML_CHANGED_VIEW | ML_CHANGED_POINT)) != 0)
    {
      ml_findings_fill_next (self, ml_document_verdict (document));
      ml_findings_fill_mend (self, self->held_back ? NULL : ml_document_verdict (document)); /* points and condition say what it tells */
    }
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
  g_clear_pointer (&self->mend_words, g_free);
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
  gtk_widget_set_tooltip_text (stop, "Stop working on the verdict; F5 begins again");
  gtk_accessible_update_property (GTK_ACCESSIBLE (stop), GTK_ACCESSIBLE_PROPERTY_LABEL, "Stop working on the verdict; F5 begins again", -1);
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
  self->sentence = ml_findings_text_new ("", "sentence");
  gtk_widget_set_name (self->sentence, "sentence");
  gtk_box_append (GTK_BOX (column), self->sentence);
  self->cautions = section_new (column, "cautions");
  self->next = section_new (column, "next-card");
  self->mend = section_new (column, "mend-card");
  gtk_box_append (GTK_BOX (self->mend), ml_findings_text_new ("", NULL)); /* of an empty box GTK 4.8 keeps in mind that its height is the same at any width */
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
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->scrolled), GTK_ACCESSIBLE_PROPERTY_LABEL, "Findings", -1);
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
