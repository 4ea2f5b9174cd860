/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/ask.h"
#include "desktop/focus-seen.h"
#include "desktop/said.h"

#define MARGIN 18
#define TEXT_CHARS 44

typedef struct
{
  GtkWindow *window;
  GtkWidget *entries[ML_ASK_MAX_FIELDS];
  GtkWidget *trouble;
  guint n;
  MlAskFunc func;
  gpointer data;
  GDestroyNotify destroy;
} Question;

static GtkWidget *
wrapped_label (const char *text)
{
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (label), TEXT_CHARS);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  return label;
}

static GtkWindow *
dialog_new (GtkWindow *parent, const char *title, GtkWidget **ret_box)
{
  GtkWidget *window = gtk_window_new (), *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 10);

  gtk_window_set_title (GTK_WINDOW (window), title);
  gtk_window_set_transient_for (GTK_WINDOW (window), parent);
  gtk_window_set_modal (GTK_WINDOW (window), TRUE);
  gtk_window_set_destroy_with_parent (GTK_WINDOW (window), TRUE);
  gtk_window_set_resizable (GTK_WINDOW (window), FALSE);
  gtk_widget_add_css_class (window, "question");
  gtk_widget_set_margin_start (box, MARGIN);
  gtk_widget_set_margin_end (box, MARGIN);
  gtk_widget_set_margin_top (box, MARGIN);
  gtk_widget_set_margin_bottom (box, MARGIN);
  gtk_window_set_child (GTK_WINDOW (window), box);
  ml_focus_seen_keep (GTK_WINDOW (window));
  *ret_box = box;
  return GTK_WINDOW (window);
}

static void
close_on_escape (GtkWindow *window)
{
  GtkEventController *keys = gtk_shortcut_controller_new ();

  gtk_shortcut_controller_add_shortcut (GTK_SHORTCUT_CONTROLLER (keys),
                                        gtk_shortcut_new (gtk_shortcut_trigger_parse_string ("Escape"), gtk_named_action_new ("window.close")));
  gtk_widget_add_controller (GTK_WIDGET (window), keys);
}

static void
accept_question (Question *question)
{
  const char *answers[ML_ASK_MAX_FIELDS + 1] = { NULL };

  for (guint i = 0; i < question->n; i++)
    answers[i] = gtk_editable_get_text (GTK_EDITABLE (question->entries[i]));
  g_autofree char *trouble = question->func (answers, question->data);
  if (trouble == NULL)
    {
      gtk_window_destroy (question->window);
      return;
    }
  g_autofree char *said = ml_said (NULL, trouble);
  gtk_label_set_text (GTK_LABEL (question->trouble), said);
  gtk_widget_set_visible (question->trouble, TRUE);
}

static void
accept_cb (GtkWidget *widget, gpointer data)
{
  accept_question (data);
}

static void
question_gone_cb (gpointer data, GObject *window)
{
  Question *question = data;

  if (question->destroy != NULL)
    question->destroy (question->data);
  g_free (question);
}

static void
add_field (Question *question, GtkGrid *grid, const MlAskField *field)
{
  GtkWidget *label = gtk_label_new (field->label), *entry = gtk_entry_new ();
  g_autofree char *name = g_strdup_printf ("ask-%u", question->n);

  gtk_label_set_xalign (GTK_LABEL (label), 1.0f);
  gtk_entry_set_placeholder_text (GTK_ENTRY (entry), field->hint);
  gtk_editable_set_text (GTK_EDITABLE (entry), field->initial != NULL ? field->initial : "");
  gtk_editable_set_width_chars (GTK_EDITABLE (entry), 28);
  gtk_widget_set_hexpand (entry, TRUE);
  gtk_widget_set_name (entry, name);
  gtk_accessible_update_property (GTK_ACCESSIBLE (entry), GTK_ACCESSIBLE_PROPERTY_LABEL, field->label, -1);
  g_signal_connect (entry, "activate", G_CALLBACK (accept_cb), question);
  gtk_grid_attach (grid, label, 0, (int) question->n, 1, 1);
  gtk_grid_attach (grid, entry, 1, (int) question->n, 1, 1);
  question->entries[question->n++] = entry;
}

static GtkWidget *
button_row (GtkWidget *box)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 8);

  gtk_widget_set_halign (row, GTK_ALIGN_END);
  gtk_widget_set_margin_top (row, 6);
  gtk_box_append (GTK_BOX (box), row);
  return row;
}

void
ml_ask (GtkWindow *parent, const MlAsk *ask, MlAskFunc func, gpointer data, GDestroyNotify destroy)
{
  Question *question = g_new0 (Question, 1);
  GtkWidget *box, *grid = gtk_grid_new (), *row, *cancel, *accept;

  *question = (Question){ .func = func, .data = data, .destroy = destroy };
  question->window = dialog_new (parent, ask->title, &box);
  if (ask->explain != NULL)
    gtk_box_append (GTK_BOX (box), wrapped_label (ask->explain));
  gtk_grid_set_row_spacing (GTK_GRID (grid), 8);
  gtk_grid_set_column_spacing (GTK_GRID (grid), 10);
  for (guint i = 0; i < ask->n_fields; i++)
    add_field (question, GTK_GRID (grid), &ask->fields[i]);
  gtk_box_append (GTK_BOX (box), grid);
  question->trouble = wrapped_label ("");
  gtk_widget_add_css_class (question->trouble, "trouble");
  gtk_widget_set_name (question->trouble, "ask-trouble");
  gtk_widget_set_visible (question->trouble, FALSE);
  gtk_box_append (GTK_BOX (box), question->trouble);
  row = button_row (box);
  cancel = gtk_button_new_with_label ("Cancel");
  accept = gtk_button_new_with_label (ask->accept);
  gtk_widget_set_name (accept, "ask-accept");
  gtk_widget_add_css_class (accept, "suggested-action");
  gtk_actionable_set_action_name (GTK_ACTIONABLE (cancel), "window.close");
  g_signal_connect (accept, "clicked", G_CALLBACK (accept_cb), question);
  gtk_box_append (GTK_BOX (row), cancel);
  gtk_box_append (GTK_BOX (row), accept);
  close_on_escape (question->window);
  g_object_weak_ref (G_OBJECT (question->window), question_gone_cb, question);
  gtk_window_present (question->window);
  gtk_widget_grab_focus (question->entries[ask->first]);
}

/* ---- choices ---- */

typedef struct
{
  GtkWindow *window;
  int choice;
  MlChooseFunc func;
  gpointer data;
} Choice;

static void
choice_clicked_cb (GtkButton *button, gpointer data)
{
  Choice *choice = data;

  choice->choice = GPOINTER_TO_INT (g_object_get_data (G_OBJECT (button), "choice"));
  gtk_window_destroy (choice->window);
}

static void
choice_gone_cb (gpointer data, GObject *window)
{
  Choice *choice = data;

  choice->func (choice->choice, choice->data);
  g_free (choice);
}

void
ml_choose (GtkWindow *parent, const char *title, const char *text, const char *const *buttons, MlChooseFunc func, gpointer data)
{
  Choice *choice = g_new0 (Choice, 1);
  GtkWidget *box, *row, *label, *button = NULL;

  *choice = (Choice){ .choice = -1, .func = func, .data = data };
  choice->window = dialog_new (parent, title, &box);
  label = wrapped_label (text);
  gtk_widget_set_name (label, "question-text");
  gtk_box_append (GTK_BOX (box), label);
  row = button_row (box);
  for (int i = 0; buttons[i] != NULL; i++)
    {
      g_autofree char *name = g_strdup_printf ("choice-%d", i);
      button = gtk_button_new_with_label (buttons[i]);
      gtk_widget_set_name (button, name);
      g_object_set_data (G_OBJECT (button), "choice", GINT_TO_POINTER (i));
      g_signal_connect (button, "clicked", G_CALLBACK (choice_clicked_cb), choice);
      gtk_box_append (GTK_BOX (row), button);
    }
  gtk_widget_add_css_class (button, "suggested-action");
  close_on_escape (choice->window);
  g_object_weak_ref (G_OBJECT (choice->window), choice_gone_cb, choice);
  gtk_window_present (choice->window);
  gtk_widget_grab_focus (button);
}

/* ---- which of them ---- */

#define LIST_HEIGHT 280

typedef struct
{
  GtkWindow *window;
  GPtrArray *checks; /* borrowed */
  MlAskWhichFunc func;
  gpointer data;
  GDestroyNotify destroy;
} List;

static void
list_gone_cb (gpointer data, GObject *window)
{
  List *list = data;

  if (list->destroy != NULL)
    list->destroy (list->data);
  g_ptr_array_unref (list->checks);
  g_free (list);
}

static void
list_accept_cb (GtkButton *button, gpointer data)
{
  List *list = data;
  g_autofree gboolean *chosen = g_new0 (gboolean, list->checks->len + 1);

  for (guint i = 0; i < list->checks->len; i++)
    chosen[i] = gtk_check_button_get_active (GTK_CHECK_BUTTON (list->checks->pdata[i]));
  list->func (chosen, list->checks->len, list->data);
  gtk_window_destroy (list->window);
}

static GtkWidget *
list_of_checks (List *list, const char *const *items)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 2), *scrolled = gtk_scrolled_window_new ();

  for (guint i = 0; items[i] != NULL; i++)
    {
      GtkWidget *check = gtk_check_button_new_with_label (items[i]);
      g_autofree char *name = g_strdup_printf ("which-%u", i);

      gtk_check_button_set_active (GTK_CHECK_BUTTON (check), TRUE);
      gtk_widget_set_name (check, name);
      gtk_box_append (GTK_BOX (box), check);
      g_ptr_array_add (list->checks, check);
    }
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_propagate_natural_height (GTK_SCROLLED_WINDOW (scrolled), TRUE);
  gtk_scrolled_window_set_max_content_height (GTK_SCROLLED_WINDOW (scrolled), LIST_HEIGHT);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (scrolled), box);
  return scrolled;
}

void
ml_ask_which (GtkWindow *parent, const MlAsk *ask, const char *const *items, MlAskWhichFunc func, gpointer data, GDestroyNotify destroy)
{
  List *list = g_new0 (List, 1);
  GtkWidget *box, *row, *cancel = gtk_button_new_with_label ("Cancel"), *accept = gtk_button_new_with_label (ask->accept);

  *list = (List){ dialog_new (parent, ask->title, &box), g_ptr_array_new (), func, data, destroy };
  if (ask->explain != NULL)
    gtk_box_append (GTK_BOX (box), wrapped_label (ask->explain));
  gtk_box_append (GTK_BOX (box), list_of_checks (list, items));
  row = button_row (box);
  gtk_widget_set_name (accept, "which-accept");
  gtk_widget_add_css_class (accept, "suggested-action");
  gtk_box_append (GTK_BOX (row), cancel);
  gtk_box_append (GTK_BOX (row), accept);
  g_signal_connect_swapped (cancel, "clicked", G_CALLBACK (gtk_window_destroy), list->window);
  g_signal_connect (accept, "clicked", G_CALLBACK (list_accept_cb), list);
  g_object_weak_ref (G_OBJECT (list->window), list_gone_cb, list);
  close_on_escape (list->window);
  gtk_window_present (list->window);
  gtk_widget_grab_focus (accept);
}
