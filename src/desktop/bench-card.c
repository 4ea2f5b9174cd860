/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/bench-card.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "board/scan.h"
#include "desktop/bench-card-private.h"
#include "desktop/bench-picture.h"
#include "desktop/glyph.h"
#include "desktop/removal.h"

#define CARD_WIDTH 232
#define COUNT_CHARS 11      /* "12 of 18 read" */
#define SHORT_COUNT_CHARS 6 /* "4 of 8" */
#define COLD "cold"

G_DEFINE_FINAL_TYPE (MlBenchCard, ml_bench_card, GTK_TYPE_WIDGET)

static guint failed_signal;

void
ml_bench_count (MlDocument *document, int condition, guint *ret_taken, guint *ret_suggested)
{
  const MlJob *job = ml_document_job (document);
  const MlVerdict *verdict = ml_document_verdict (document);

  *ret_taken = *ret_suggested = 0;
  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];
      if (!reading->replaced && reading->condition == condition && reading->unit == ml_document_unit (document) &&
          reading->pass == ml_document_pass (document))
        ++*ret_taken;
    }
  for (guint i = 0; verdict != NULL && i < verdict->n_next; i++)
    if (verdict->next[i].condition == condition)
      ++*ret_suggested;
}

gboolean
ml_bench_card_apply (MlBenchCard *self, MlText *board_text, MlText *job_text, GError *error, const char *label)
{
  if (board_text == NULL && job_text == NULL)
    {
      g_signal_emit (self, failed_signal, 0, error->message);
      g_error_free (error);
      return FALSE;
    }
  ml_document_apply (self->document, board_text, job_text, label, NULL);
  g_clear_pointer (&board_text, ml_text_unref);
  g_clear_pointer (&job_text, ml_text_unref);
  return TRUE;
}

const MlCondition *
ml_bench_card_shown (MlBenchCard *self)
{
  const MlBoard *board = ml_document_board (self->document);

  return self->condition < (int) board->n_conditions ? &board->conditions[self->condition] : NULL;
}

static void
update_fold (MlBenchCard *self)
{
  gtk_widget_set_visible (self->stack, !self->folded || ml_bench_card_is_editing (self));
}

void
ml_bench_card_set_folded (MlBenchCard *self, gboolean folded)
{
  self->folded = folded;
  update_fold (self);
}

/* The buttons of the card stay where they are when its count changes. */
static void
keep_count_room (MlBenchCard *self)
{
  gtk_label_set_width_chars (GTK_LABEL (self->count), self->is_short ? SHORT_COUNT_CHARS : COUNT_CHARS);
}

static void
show_count (MlBenchCard *self)
{
  guint taken, suggested;

  ml_bench_count (self->document, self->condition, &taken, &suggested);
  g_autofree char *text = suggested > 0 ? g_strdup_printf ("%u of %u%s", taken, taken + suggested, self->is_short ? "" : " read") : g_strdup_printf ("%u read", taken);
  gtk_label_set_text (GTK_LABEL (self->count), text);
}

void
ml_bench_card_set_short (MlBenchCard *self, gboolean is_short)
{
  self->is_short = is_short;
  keep_count_room (self);
  show_count (self);
}

/* What it is; over a form it would cover what is being typed. */
static void
show_tip (MlBenchCard *self)
{
  const MlCondition *condition = ml_bench_card_shown (self);

  if (condition == NULL)
    return;
  g_autofree char *words = ml_bench_picture_words (ml_document_board (self->document), self->condition);
  gtk_widget_set_tooltip_text (self->column, ml_bench_card_is_editing (self) ? NULL : condition->label != NULL ? condition->label : words);
}

void
ml_bench_card_edit (MlBenchCard *self, MlClipped clipped, int index)
{
  gtk_stack_set_visible_child (GTK_STACK (self->stack), self->editors[clipped]);
  update_fold (self);
  show_tip (self);
  ml_clip_editor_open (ML_CLIP_EDITOR (self->editors[clipped]), self->condition, index);
  ml_document_set_up (self->document, self->condition);
}

void
ml_bench_card_edit_supply (MlBenchCard *self, int supply)
{
  ml_bench_card_edit (self, ML_CLIPPED_SUPPLY, supply);
}

gboolean
ml_bench_card_is_editing (MlBenchCard *self)
{
  return ML_IS_CLIP_EDITOR (gtk_stack_get_visible_child (GTK_STACK (self->stack)));
}

void
ml_bench_card_begin (MlBenchCard *self)
{
  self->fresh = TRUE;
  ml_bench_card_edit_supply (self, -1);
}

/* Nothing can have been read in it yet. */
static void
name_cold (MlBenchCard *self)
{
  MlBoard *board = ml_document_board (self->document);
  const MlCondition *condition = ml_bench_card_shown (self);
  GError *error = NULL;

  if (condition == NULL || condition->n_supplies > 0 || ml_board_find_condition (board, COLD) >= 0)
    return;
  MlText *text = ml_board_edit_rename_condition (board, self->condition, COLD, condition->label, &error);
  ml_bench_card_apply (self, text, NULL, error, "No supply: the cold board");
}

static void
editor_closed_cb (GtkWidget *editor, gpointer data)
{
  MlBenchCard *self = data;
  gboolean fresh = self->fresh, had_focus = gtk_widget_get_focus_child (self->stack) != NULL;

  self->fresh = FALSE;
  if (had_focus) /* else it would fall on the button that turns the supply round, and one more Enter would do so */
    gtk_widget_grab_focus (self->number);
  gtk_stack_set_visible_child_name (GTK_STACK (self->stack), "picture");
  update_fold (self);
  show_tip (self);
  ml_document_set_up (self->document, -1);
  if (fresh)
    name_cold (self);
}

static void
editor_failed_cb (GtkWidget *editor, const char *text, gpointer data)
{
  g_signal_emit (data, failed_signal, 0, text);
}

/* ---- actions of the card ---- */

static void
edit_action_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  ml_bench_card_edit_supply (ML_BENCH_CARD (widget), g_variant_get_int32 (parameter));
}

static void
remove_supply_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  const MlCondition *condition = ml_bench_card_shown (self);
  GError *error = NULL;
  int supply = g_variant_get_int32 (parameter);

  if (condition == NULL || supply < 0 || supply >= (int) condition->n_supplies)
    return;
  MlText *text = ml_board_edit_remove_supply (ml_document_board (self->document), self->condition, supply, &error);
  if (text == NULL)
    {
      ml_bench_card_apply (self, NULL, NULL, error, NULL);
      return;
    }
  g_autoptr (MlBoard) after = ml_board_read (text, NULL);
  g_autofree char *what = g_strdup_printf ("supply %s of %s", condition->supplies[supply].name, condition->name);
  MlDropped dropped;
  MlText *job_text = ml_job_edit_drop_supply (ml_document_job (self->document), self->condition, supply, after, &dropped);
  ml_removal_offer (widget, self->document, text, job_text, &dropped, what, "Remove the supply");
}

static void
edit_load_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  ml_bench_card_edit (ML_BENCH_CARD (widget), ML_CLIPPED_LOAD, g_variant_get_int32 (parameter));
}

/* No reading names one: nothing of the job goes with it. */
static void
remove_load_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  const MlCondition *condition = ml_bench_card_shown (self);
  GError *error = NULL;
  int load = g_variant_get_int32 (parameter);

  if (condition == NULL || load < 0 || load >= (int) condition->n_loads)
    return;
  MlText *text = ml_board_edit_remove_load (ml_document_board (self->document), self->condition, load, &error);
  ml_bench_card_apply (self, text, NULL, error, "Remove the load");
}

static void
remove_condition_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  const MlCondition *condition = ml_bench_card_shown (self);
  GError *error = NULL;

  if (condition == NULL)
    return;
  g_autofree char *what = g_strdup_printf ("condition %s", condition->name);
  MlText *text = ml_board_edit_remove_condition (ml_document_board (self->document), self->condition, &error);
  if (text == NULL)
    ml_bench_card_apply (self, NULL, NULL, error, NULL);
  else
    ml_removal_offer_board (widget, self->document, text, what, "Remove the condition");
}

/* Most conditions differ from another one by a switch or a few volts. */
static void
copy_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  MlDocument *document = self->document;
  const MlBoard *board = ml_document_board (document);
  const MlCondition *condition = ml_bench_card_shown (self);
  g_autofree char *name = NULL;
  GError *error = NULL;

  if (condition == NULL)
    return;
  for (guint n = 2; name == NULL || ml_board_find_condition (board, name) >= 0; n++)
    {
      g_free (name);
      name = g_strdup_printf ("%s-%u", condition->name, n);
    }
  MlText *text = ml_board_edit_copy_condition (board, self->condition, name, &error);
  if (!ml_bench_card_apply (self, text, NULL, error, "Copy the condition"))
    return;
  int copy = ml_board_find_condition (ml_document_board (document), name);
  g_autofree char *number = g_strdup_printf ("condition-%d", copy + 1);
  ml_document_set_condition (document, copy);
  ml_bench_card_focus_again (gtk_widget_get_parent (widget), number); /* what differs in it is set there */
}

static void
rename_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);

  gtk_editable_label_start_editing (GTK_EDITABLE_LABEL (self->name));
}

static void
limiting_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  GError *error = NULL;

  if (ml_document_unit (self->document) < 0)
    return;
  MlText *text = ml_job_edit_add_observation (ml_document_job (self->document), ml_document_unit (self->document),
                                              ml_document_pass (self->document), self->condition, -1, g_variant_get_int32 (parameter), "limiting", &error);
  ml_bench_card_apply (self, NULL, text, error, "The supply is in its limit");
}

static void
add_supply_items (GMenu *menu, const MlCondition *condition, guint supply)
{
  static const struct { const char *words, *action; } items[]
      = { { "Supply %s…", "edit-supply" }, { "Supply %s Is in Its Limit", "limiting" }, { "Remove Supply %s", "remove-supply" } };
  g_autoptr (GMenu) section = g_menu_new ();

  for (guint i = 0; i < G_N_ELEMENTS (items); i++)
    {
      g_auto (GStrv) words = g_strsplit (items[i].words, "%s", 2);
      g_autofree char *label = g_strconcat (words[0], condition->supplies[supply].name, words[1], NULL);
      g_autofree char *id = g_strdup_printf ("card.%s(%u)", items[i].action, supply);
      g_menu_append (section, label, id);
    }
  g_menu_append_section (menu, NULL, G_MENU_MODEL (section));
}

static void
add_load_items (GMenu *menu, const MlBoard *board, const MlCondition *condition)
{
  g_autoptr (GMenu) section = g_menu_new ();

  for (guint i = 0; i < condition->n_loads; i++)
    {
      g_autofree char *load = ml_bench_load (board, &condition->loads[i]), *change = g_strdup_printf ("Change the %s…", load);
      g_autofree char *remove = g_strdup_printf ("Remove the %s", load);
      g_autofree char *change_id = g_strdup_printf ("card.edit-load(%u)", i), *remove_id = g_strdup_printf ("card.remove-load(%u)", i);
      g_menu_append (section, change, change_id);
      g_menu_append (section, remove, remove_id);
    }
  g_menu_append_section (menu, NULL, G_MENU_MODEL (section));
}

static GMenuModel *
card_menu (MlBenchCard *self)
{
  const MlCondition *condition = ml_bench_card_shown (self);
  GMenu *menu = g_menu_new ();
  g_autoptr (GMenu) last = g_menu_new ();

  g_menu_append (menu, "Name…", "card.rename");
  for (guint i = 0; condition != NULL && i < condition->n_supplies; i++)
    add_supply_items (menu, condition, i);
  if (condition != NULL && condition->n_loads > 0)
    add_load_items (menu, ml_document_board (self->document), condition);
  g_menu_append (last, "Add a Supply…", "card.edit-supply(-1)");
  g_menu_append (last, "Add a Load…", "card.edit-load(-1)");
  g_menu_append (last, "Copy This Condition", "card.copy");
  g_menu_append (last, "Remove This Condition", "card.remove");
  g_menu_append_section (menu, NULL, G_MENU_MODEL (last));
  return G_MENU_MODEL (menu);
}

/* ---- showing ---- */

char *
ml_bench_card_focused (GtkWidget *box)
{
  GtkRoot *root = gtk_widget_get_root (box);
  GtkWidget *focus = root != NULL ? gtk_root_get_focus (root) : NULL;

  return focus != NULL && gtk_widget_is_ancestor (focus, box) ? g_strdup (gtk_widget_get_name (focus)) : NULL;
}

void
ml_bench_card_focus_again (GtkWidget *box, const char *name)
{
  for (GtkWidget *child = gtk_widget_get_first_child (box); child != NULL && name != NULL; child = gtk_widget_get_next_sibling (child))
    {
      if (strcmp (gtk_widget_get_name (child), name) == 0)
        gtk_widget_grab_focus (child);
      ml_bench_card_focus_again (child, name);
    }
}

/* The footer is built anew only when it says something else: a button must not go away between press and release. */
static gboolean
footer_is_right (MlBenchCard *self, const MlCondition *condition)
{
  g_autofree char *words = ml_bench_picture_words (ml_document_board (self->document), self->condition);
  g_autoptr (GString) all = g_string_new (words);

  for (int i = 0; i < (int) condition->n_supplies; i++)
    {
      g_autofree char *shows = ml_bench_card_shows (self, i);
      g_string_append_printf (all, "; %s", shows);
    }
  g_autofree char *limits = ml_bench_card_limits (self);
  g_string_append_printf (all, "; %s", limits);
  if (g_strcmp0 (all->str, self->footer_words) == 0)
    return TRUE;
  g_free (self->footer_words);
  self->footer_words = g_strdup (all->str);
  return FALSE;
}

static void
fill_footer (MlBenchCard *self, const MlCondition *condition)
{
  GtkWidget *child;

  if (footer_is_right (self, condition))
    return;
  g_autofree char *focused = ml_bench_card_focused (self->footer);
  while ((child = gtk_widget_get_first_child (self->footer)) != NULL)
    gtk_box_remove (GTK_BOX (self->footer), child);
  ml_bench_card_add_shows (self);
  ml_bench_card_add_settings (self);
  ml_bench_card_add_loads (self);
  ml_bench_card_add_besides (self);
  ml_bench_card_add_limits (self);
  gtk_widget_set_visible (self->footer, gtk_widget_get_first_child (self->footer) != NULL);
  ml_bench_card_focus_again (self->footer, focused);
}

void
ml_bench_card_update (MlBenchCard *self)
{
  const MlCondition *condition = ml_bench_card_shown (self);
  gboolean chosen = ml_document_condition (self->document) == self->condition;

  if (condition == NULL)
    return;
  self->updating = TRUE;
  g_autofree char *words = ml_bench_picture_words (ml_document_board (self->document), self->condition);
  g_autofree char *spoken = g_strdup_printf ("Condition %s: %s", condition->name, words);
  if (!gtk_editable_label_get_editing (GTK_EDITABLE_LABEL (self->name)))
    gtk_editable_set_text (GTK_EDITABLE (self->name), condition->name);
  show_tip (self);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->number), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
  gtk_toggle_button_set_active (GTK_TOGGLE_BUTTON (self->number), chosen);
  if (chosen)
    gtk_widget_add_css_class (GTK_WIDGET (self), "chosen");
  else
    gtk_widget_remove_css_class (GTK_WIDGET (self), "chosen");
  ml_bench_card_update_supplies (self);
  fill_footer (self, condition);
  show_count (self);
  if (ml_bench_card_is_editing (self))
    ml_clip_editor_update (ML_CLIP_EDITOR (gtk_stack_get_visible_child (GTK_STACK (self->stack))));
  self->updating = FALSE;
}

void
ml_bench_card_set_paper (MlBenchCard *self, MlPaper paper)
{
  self->paper = paper;
  if (ml_bench_card_shown (self) != NULL)
    ml_bench_card_update_supplies (self);
}

static void
number_toggled_cb (GtkToggleButton *number, gpointer data)
{
  MlBenchCard *self = data;

  if (self->updating)
    return;
  ml_document_set_condition (self->document, self->condition);
  ml_bench_card_update (self);
}

static gboolean
name_left_idle_cb (gpointer data)
{
  MlBenchCard *self = data;
  GtkRoot *root = gtk_widget_get_root (GTK_WIDGET (self));
  GtkWidget *focus = root ? gtk_root_get_focus (root) : NULL;

  if (!focus || gtk_widget_is_ancestor (focus, self->name) || focus == self->name || !gtk_editable_label_get_editing (GTK_EDITABLE_LABEL (self->name)))
    return G_SOURCE_REMOVE;
  g_object_ref (focus);
  gtk_editable_label_stop_editing (GTK_EDITABLE_LABEL (self->name), TRUE);
  gtk_widget_grab_focus (focus);
  g_object_unref (focus);
  return G_SOURCE_REMOVE;
}

/* Left for another place, the label ends by itself a moment later, but takes the keyboard back: what is typed at a pin just clicked would go nowhere. */
static void
name_left_cb (GtkEventControllerFocus *controller, gpointer data)
{
  g_idle_add_full (G_PRIORITY_DEFAULT, name_left_idle_cb, g_object_ref (data), g_object_unref);
}

static void
editing_cb (GtkEditableLabel *name, GParamSpec *spec, gpointer data)
{
  MlBenchCard *self = data;
  const MlCondition *condition = ml_bench_card_shown (self);
  GError *error = NULL;

  if (gtk_editable_label_get_editing (name) || self->updating || condition == NULL)
    return;
  g_autofree char *from = g_strdup (condition->name), *to = ml_name_typed (gtk_editable_get_text (GTK_EDITABLE (name)));
  if (strcmp (to, from) == 0)
    {
      gtk_editable_set_text (GTK_EDITABLE (name), from);
      return;
    }
  MlText *board_text = ml_board_edit_rename_condition (ml_document_board (self->document), self->condition, to, condition->label, &error);
  if (board_text == NULL)
    {
      gtk_editable_set_text (GTK_EDITABLE (name), from);
      ml_bench_card_apply (self, NULL, NULL, error, NULL);
      return;
    }
  MlText *job_text = ml_job_edit_rename (ml_document_job (self->document), "condition", from, to, NULL);
  ml_bench_card_apply (self, board_text, job_text, NULL, "Rename the condition");
}

static void
menu_opened_cb (GtkMenuButton *button, gpointer data)
{
  g_autoptr (GMenuModel) menu = card_menu (data);

  gtk_menu_button_set_popover (button, NULL);
  gtk_menu_button_set_menu_model (button, menu);
}

/* ---- building ---- */

static void
build_header (MlBenchCard *self)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 6), *more = gtk_menu_button_new ();
  g_autofree char *number = g_strdup_printf ("%d", self->condition + 1), *tip = g_strdup_printf ("Show this condition (Alt+%d)", self->condition + 1);

  self->number = gtk_toggle_button_new_with_label (number);
  gtk_widget_add_css_class (self->number, "number");
  gtk_widget_set_focus_on_click (self->number, FALSE); /* keys go on meaning what they meant */
  gtk_widget_set_tooltip_text (self->number, tip);
  self->name = gtk_editable_label_new ("");
  GtkEventController *leaving = gtk_event_controller_focus_new ();
  g_signal_connect (leaving, "leave", G_CALLBACK (name_left_cb), self);
  gtk_widget_add_controller (self->name, leaving);
  gtk_widget_add_css_class (self->name, "card-name");
  g_autofree char *id = g_strdup_printf ("card-name-%d", self->condition + 1), *number_id = g_strdup_printf ("condition-%d", self->condition + 1);
  gtk_widget_set_name (self->name, id);
  gtk_widget_set_name (self->number, number_id);
  gtk_widget_set_hexpand (self->name, TRUE);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->name), GTK_ACCESSIBLE_PROPERTY_LABEL, "Name of the condition", -1);
  self->count = gtk_label_new ("");
  keep_count_room (self);
  gtk_label_set_xalign (GTK_LABEL (self->count), 1.0f);
  gtk_widget_add_css_class (self->count, "faint");
  g_autofree char *more_id = g_strdup_printf ("card-more-%d", self->condition + 1);
  gtk_widget_set_name (more, more_id);
  gtk_menu_button_set_child (GTK_MENU_BUTTON (more), ml_glyph_new (ML_GLYPH_MORE, 14));
  gtk_menu_button_set_has_frame (GTK_MENU_BUTTON (more), FALSE);
  gtk_menu_button_set_create_popup_func (GTK_MENU_BUTTON (more), menu_opened_cb, self, NULL);
  gtk_widget_add_css_class (more, "small");
  gtk_widget_set_tooltip_text (more, "More about this condition");
  gtk_accessible_update_property (GTK_ACCESSIBLE (more), GTK_ACCESSIBLE_PROPERTY_LABEL, "More about this condition", -1);
  gtk_box_append (GTK_BOX (row), self->number);
  gtk_box_append (GTK_BOX (row), self->name);
  gtk_box_append (GTK_BOX (row), self->count);
  gtk_box_append (GTK_BOX (row), more);
  gtk_box_append (GTK_BOX (self->column), row);
  g_signal_connect (self->number, "toggled", G_CALLBACK (number_toggled_cb), self);
  g_signal_connect (self->name, "notify::editing", G_CALLBACK (editing_cb), self);
}

static void
build (MlBenchCard *self)
{
  GtkWidget *picture_box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 2);

  self->column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4);
  build_header (self);
  self->stack = gtk_stack_new ();
  self->rows = gtk_box_new (GTK_ORIENTATION_VERTICAL, 0);
  self->footer = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4);
  gtk_box_append (GTK_BOX (picture_box), self->rows);
  gtk_box_append (GTK_BOX (picture_box), self->footer);
  gtk_stack_add_named (GTK_STACK (self->stack), picture_box, "picture");
  gtk_stack_add_named (GTK_STACK (self->stack), self->editors[ML_CLIPPED_SUPPLY], "supply");
  gtk_stack_add_named (GTK_STACK (self->stack), self->editors[ML_CLIPPED_LOAD], "load");
  gtk_box_append (GTK_BOX (self->column), self->stack);
  gtk_widget_set_parent (self->column, GTK_WIDGET (self));
  gtk_widget_set_size_request (GTK_WIDGET (self), CARD_WIDTH, -1);
}

static void
ml_bench_card_dispose (GObject *object)
{
  MlBenchCard *self = ML_BENCH_CARD (object);

  g_clear_object (&self->document);
  g_clear_pointer (&self->rows_words, g_free);
  g_clear_pointer (&self->footer_words, g_free);
  g_clear_pointer (&self->column, gtk_widget_unparent);
  G_OBJECT_CLASS (ml_bench_card_parent_class)->dispose (object);
}

static void
ml_bench_card_class_init (MlBenchCardClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS (klass);

  G_OBJECT_CLASS (klass)->dispose = ml_bench_card_dispose;
  failed_signal = g_signal_new ("failed", ML_TYPE_BENCH_CARD, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
  gtk_widget_class_set_layout_manager_type (widget_class, GTK_TYPE_BIN_LAYOUT);
  gtk_widget_class_set_css_name (widget_class, "benchcard");
  gtk_widget_class_install_action (widget_class, "card.rename", NULL, rename_cb);
  gtk_widget_class_install_action (widget_class, "card.copy", NULL, copy_cb);
  gtk_widget_class_install_action (widget_class, "card.limiting", "i", limiting_cb);
  gtk_widget_class_install_action (widget_class, "card.remove", NULL, remove_condition_cb);
  gtk_widget_class_install_action (widget_class, "card.edit-supply", "i", edit_action_cb);
  gtk_widget_class_install_action (widget_class, "card.edit-load", "i", edit_load_cb);
  gtk_widget_class_install_action (widget_class, "card.remove-load", "i", remove_load_cb);
  gtk_widget_class_install_action (widget_class, "card.remove-supply", "i", remove_supply_cb);
}

static void
ml_bench_card_init (MlBenchCard *self)
{
}

static void
released_cb (GtkGestureClick *gesture, int n, double x, double y, gpointer data)
{
  MlBenchCard *self = data;

  ml_document_set_condition (self->document, self->condition);
}

/* All of the card chooses its condition, but what has a click of its own. */
static void
choose_on_click (MlBenchCard *self)
{
  GtkGesture *click = gtk_gesture_click_new ();

  gtk_gesture_single_set_button (GTK_GESTURE_SINGLE (click), GDK_BUTTON_PRIMARY);
  g_signal_connect (click, "released", G_CALLBACK (released_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), GTK_EVENT_CONTROLLER (click));
}

GtkWidget *
ml_bench_card_new (MlDocument *document, MlCanvas *canvas, int condition)
{
  MlBenchCard *self = g_object_new (ML_TYPE_BENCH_CARD, NULL);
  g_autofree char *name = g_strdup_printf ("card-%d", condition + 1);

  self->document = g_object_ref (document);
  self->condition = condition;
  for (int i = 0; i < (int) G_N_ELEMENTS (self->editors); i++)
    {
      self->editors[i] = ml_clip_editor_new (document, canvas, (MlClipped) i);
      g_signal_connect (self->editors[i], "closed", G_CALLBACK (editor_closed_cb), self);
      g_signal_connect (self->editors[i], "failed", G_CALLBACK (editor_failed_cb), self);
    }
  gtk_widget_set_name (GTK_WIDGET (self), name);
  build (self);
  choose_on_click (self);
  ml_bench_card_update (self);
  return GTK_WIDGET (self);
}
