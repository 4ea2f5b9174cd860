/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/bench-card.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/ask.h"
#include "desktop/bench-picture.h"
#include "desktop/glyph.h"

#define CARD_WIDTH 232
#define USUAL_VOLTAGE "12"

typedef enum { LEAD_RED, LEAD_BLACK, N_LEADS } Lead;

struct _MlBenchCard
{
  GtkWidget parent_instance;

  /* owned */
  MlDocument *document;
  char *footer_words; /* what the footer was built from */

  /* borrowed */
  MlCanvas *canvas;

  /* template */
  GtkWidget *column;
  GtkWidget *number, *name, *count;
  GtkWidget *stack, *picture, *footer;
  GtkWidget *lead_buttons[N_LEADS], *volts, *limit, *trouble;

  int condition;
  MlPaper paper;
  int edited_supply; /* -1: a new one */
  int leads[N_LEADS]; /* nets; -1 not chosen yet */
  gboolean updating;
};

G_DEFINE_FINAL_TYPE (MlBenchCard, ml_bench_card, GTK_TYPE_WIDGET)

static guint failed_signal;

static const char *const lead_words[N_LEADS] = { "Red", "Black" };
static const char *const lead_prompts[N_LEADS] = { "Click the pin or wire where the red lead goes", "Click the pin or wire where the black lead goes" };

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

static void
fail (MlBenchCard *self, GError *error)
{
  g_signal_emit (self, failed_signal, 0, error->message);
  g_error_free (error);
}

/* Takes an edit's result: applies it, or tells what stood in the way. */
static gboolean
apply (MlBenchCard *self, MlText *text, GError *error, const char *label)
{
  if (text == NULL)
    {
      fail (self, error);
      return FALSE;
    }
  ml_document_apply (self->document, text, NULL, label, NULL);
  ml_text_unref (text);
  return TRUE;
}

static const MlCondition *
shown (MlBenchCard *self)
{
  const MlBoard *board = ml_document_board (self->document);

  return self->condition < (int) board->n_conditions ? &board->conditions[self->condition] : NULL;
}

/* ---- the editor of a supply ---- */

static void
show_leads (MlBenchCard *self)
{
  const MlBoard *board = ml_document_board (self->document);

  for (int i = 0; i < N_LEADS; i++)
    {
      int net = self->leads[i];
      g_autofree char *label = net >= 0 && net < (int) board->n_nets ? g_strdup_printf ("%s: %s", lead_words[i], board->nets[net].name)
                                                                     : g_strdup_printf ("%s: click a pin", lead_words[i]);
      gtk_button_set_label (GTK_BUTTON (self->lead_buttons[i]), label);
    }
}

static void
say_trouble (MlBenchCard *self, const char *text)
{
  gtk_label_set_text (GTK_LABEL (self->trouble), text);
  gtk_widget_set_visible (self->trouble, text[0] != '\0');
}

/* A pin that is joined to nothing has no net yet: a lead clipped to it makes one. Returns the net, or -1 with the trouble said. */
static int
net_of_pick (MlBenchCard *self, const MlHit *picked)
{
  if (picked->net >= 0)
    return picked->net;
  if (picked->part < 0 || picked->pin < 0)
    return -1;
  GError *error = NULL;
  MlText *text = ml_board_edit_join_pins (ml_document_board (self->document), picked->part, picked->pin, picked->part, picked->pin, &error);
  if (!apply (self, text, error, "Clip a lead to a pin"))
    return -1;
  const MlBoard *board = ml_document_board (self->document);
  return picked->part < (int) board->n_parts ? board->parts[picked->part].pins[picked->pin].net : -1;
}

typedef struct { MlBenchCard *card; Lead lead; } Pick;

static void
pick_free (gpointer data)
{
  Pick *pick = data;

  g_object_unref (pick->card);
  g_free (pick);
}

static void
begin_pick (MlBenchCard *self, Lead lead);

static void
picked_cb (MlCanvas *canvas, const MlHit *picked, gpointer data)
{
  Pick *pick = data;
  MlBenchCard *self = pick->card;

  if (picked == NULL || self->document == NULL)
    return;
  const MlBoard *before = ml_document_board (self->document);
  int other = self->leads[1 - pick->lead];
  g_autofree char *other_name = other >= 0 ? g_strdup (before->nets[other].name) : NULL;
  int net = net_of_pick (self, picked);
  if (other_name != NULL) /* a fresh net may have moved the others */
    self->leads[1 - pick->lead] = ml_board_find_net (ml_document_board (self->document), other_name);
  if (net < 0)
    {
      begin_pick (self, pick->lead);
      return;
    }
  self->leads[pick->lead] = net;
  show_leads (self);
  say_trouble (self, "");
  if (pick->lead == LEAD_RED && self->leads[LEAD_BLACK] < 0)
    begin_pick (self, LEAD_BLACK);
  else
    gtk_widget_grab_focus (self->volts);
}

static void
begin_pick (MlBenchCard *self, Lead lead)
{
  Pick *pick = g_new0 (Pick, 1);

  *pick = (Pick){ .card = g_object_ref (self), .lead = lead };
  if (self->canvas != NULL)
    ml_canvas_pick (self->canvas, lead_prompts[lead], picked_cb, pick, pick_free);
  else
    pick_free (pick);
}

static void
lead_clicked_cb (GtkButton *button, gpointer data)
{
  MlBenchCard *self = data;

  begin_pick (self, GTK_WIDGET (button) == self->lead_buttons[LEAD_RED] ? LEAD_RED : LEAD_BLACK);
}

static void
close_editor (MlBenchCard *self)
{
  say_trouble (self, "");
  gtk_stack_set_visible_child_name (GTK_STACK (self->stack), "picture");
}

static void
cancel_clicked_cb (GtkWidget *button, gpointer data)
{
  close_editor (data);
}

/* The number in an entry; empty gives NAN. FALSE with the trouble said. */
static gboolean
typed_number (MlBenchCard *self, GtkWidget *entry, MlUnit unit, const char *what, double *ret_value)
{
  const char *text = gtk_editable_get_text (GTK_EDITABLE (entry));
  MlQuantity quantity;
  MlQuantityStatus status = ml_quantity_parse (text, strlen (text), unit, ML_QUANTITY_COMMA, &quantity, NULL);

  if (status == ML_QUANTITY_EMPTY)
    {
      *ret_value = NAN;
      return TRUE;
    }
  if (status == ML_QUANTITY_OK)
    {
      *ret_value = quantity.value;
      return TRUE;
    }
  g_autofree char *trouble = g_strdup_printf ("%s: %s", what, ml_quantity_status_text (status));
  say_trouble (self, trouble);
  gtk_widget_grab_focus (entry);
  return FALSE;
}

static void
accept_supply_cb (GtkWidget *widget, gpointer data)
{
  MlBenchCard *self = data;
  double volts, limit;
  GError *error = NULL;

  if (!typed_number (self, self->volts, ML_UNIT_VOLT, "Volts", &volts) || !typed_number (self, self->limit, ML_UNIT_AMPERE, "Limit", &limit))
    return;
  if (isnan (volts))
    {
      say_trouble (self, "How many volts?");
      gtk_widget_grab_focus (self->volts);
      return;
    }
  for (int i = 0; i < N_LEADS; i++)
    if (self->leads[i] < 0)
      {
        say_trouble (self, lead_prompts[i]);
        begin_pick (self, i);
        return;
      }
  MlText *text = ml_board_edit_set_supply (ml_document_board (self->document), self->condition, self->edited_supply, self->leads[LEAD_RED],
                                           self->leads[LEAD_BLACK], volts, limit, &error);
  if (apply (self, text, error, self->edited_supply < 0 ? "Add a supply" : "Change the supply"))
    close_editor (self);
}

void
ml_bench_card_edit_supply (MlBenchCard *self, int supply)
{
  const MlCondition *condition = shown (self);
  char volts[32] = USUAL_VOLTAGE, limit[32] = "";

  self->edited_supply = supply;
  self->leads[LEAD_RED] = self->leads[LEAD_BLACK] = -1;
  if (condition != NULL && supply >= 0 && supply < (int) condition->n_supplies)
    {
      const MlSupply *edited = &condition->supplies[supply];
      self->leads[LEAD_RED] = edited->plus;
      self->leads[LEAD_BLACK] = edited->minus;
      ml_quantity_format_file (edited->voltage_v, volts, sizeof volts);
      if (edited->limit_written)
        ml_quantity_format_file (edited->limit_a, limit, sizeof limit);
    }
  gtk_editable_set_text (GTK_EDITABLE (self->volts), volts);
  gtk_editable_set_text (GTK_EDITABLE (self->limit), limit);
  say_trouble (self, "");
  show_leads (self);
  gtk_stack_set_visible_child_name (GTK_STACK (self->stack), "editor");
  if (self->leads[LEAD_RED] < 0)
    begin_pick (self, LEAD_RED);
  else
    gtk_widget_grab_focus (self->volts);
}

gboolean
ml_bench_card_is_editing (MlBenchCard *self)
{
  return g_strcmp0 (gtk_stack_get_visible_child_name (GTK_STACK (self->stack)), "editor") == 0;
}

/* ---- actions of the card ---- */

static void
reverse_cb (GtkWidget *widget, gpointer data)
{
  MlBenchCard *self = data;
  GError *error = NULL;
  MlText *text = ml_board_edit_reverse_supply (ml_document_board (self->document), self->condition, 0, &error);

  apply (self, text, error, "Turn the supply round");
}

static void
edit_action_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  ml_bench_card_edit_supply (ML_BENCH_CARD (widget), g_variant_get_int32 (parameter));
}

static void
remove_supply_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  GError *error = NULL;
  int supply = g_variant_get_int32 (parameter);
  MlText *text = NULL;

  if (ml_job_edit_spares_supply (ml_document_job (self->document), self->condition, supply, &error))
    text = ml_board_edit_remove_supply (ml_document_board (self->document), self->condition, supply, &error);
  apply (self, text, error, "Remove the supply");
}

static void
remove_condition_cb (GtkWidget *widget, const char *action, GVariant *parameter)
{
  MlBenchCard *self = ML_BENCH_CARD (widget);
  GError *error = NULL;

  apply (self, ml_board_edit_remove_condition (ml_document_board (self->document), self->condition, &error), error, "Remove the condition");
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
                                              ml_document_pass (self->document), self->condition, -1, 0, "limiting", &error);
  if (text == NULL)
    {
      fail (self, error);
      return;
    }
  ml_document_apply (self->document, NULL, text, "The supply is in its limit", NULL);
  ml_text_unref (text);
}

static GMenuModel *
card_menu (MlBenchCard *self)
{
  const MlCondition *condition = shown (self);
  GMenu *menu = g_menu_new ();

  g_menu_append (menu, "Name…", "card.rename");
  for (guint i = 0; condition != NULL && i < condition->n_supplies; i++)
    {
      g_autofree char *edit = g_strdup_printf ("Supply %s…", condition->supplies[i].name);
      g_autofree char *remove = g_strdup_printf ("Remove Supply %s", condition->supplies[i].name);
      g_autofree char *edit_id = g_strdup_printf ("card.edit-supply(%u)", i), *remove_id = g_strdup_printf ("card.remove-supply(%u)", i);
      g_menu_append (menu, edit, edit_id);
      g_menu_append (menu, remove, remove_id);
    }
  if (condition != NULL && condition->n_supplies > 0)
    g_menu_append (menu, "The Supply Is in Its Limit", "card.limiting");
  g_menu_append (menu, "Add a Supply…", "card.edit-supply(-1)");
  g_menu_append (menu, "Remove This Condition", "card.remove");
  return G_MENU_MODEL (menu);
}

static GtkWidget *
small_button (MlGlyph glyph, const char *name, GCallback clicked, MlBenchCard *self)
{
  GtkWidget *button = gtk_button_new ();

  gtk_button_set_child (GTK_BUTTON (button), ml_glyph_new (glyph, 14));
  gtk_button_set_has_frame (GTK_BUTTON (button), FALSE);
  gtk_widget_add_css_class (button, "small");
  gtk_widget_set_tooltip_text (button, name);
  gtk_accessible_update_property (GTK_ACCESSIBLE (button), GTK_ACCESSIBLE_PROPERTY_LABEL, name, -1);
  g_signal_connect (button, "clicked", clicked, self);
  return button;
}

/* ---- what the supply shows ---- */

static char *
shows_answered_cb (const char *const *answers, gpointer data)
{
  MlBenchCard *self = data;
  GError *error = NULL;

  if (self->document == NULL || ml_document_unit (self->document) < 0)
    return g_strdup ("There is no unit to write it to: add one at the top.");
  MlText *text = ml_job_edit_add_supply_reading (ml_document_job (self->document), ml_document_unit (self->document),
                                                 ml_document_pass (self->document), self->condition, 0, answers[0],
                                                 answers[1][0] != '\0' ? answers[1] : NULL, &error);
  if (text == NULL)
    {
      char *trouble = g_strdup (error->message);
      g_error_free (error);
      return trouble;
    }
  ml_document_apply (self->document, NULL, text, "Read the supply", NULL);
  ml_text_unref (text);
  return NULL;
}

static void
shows_clicked_cb (GtkButton *button, gpointer data)
{
  MlBenchCard *self = data;
  MlAsk ask = { .title = "What the supply shows", .accept = "Take It",
                .fields = { { "Current", NULL, "85m" }, { "Volts, if they differ", NULL, "" } }, .n_fields = 2 };

  ml_document_set_condition (self->document, self->condition);
  ml_ask (GTK_WINDOW (gtk_widget_get_root (GTK_WIDGET (self))), &ask, shows_answered_cb, g_object_ref (self), g_object_unref);
}

/* The standing reading of the first supply in this condition, or -1. */
static int
supply_reading (MlBenchCard *self)
{
  const MlJob *job = ml_document_job (self->document);

  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];
      if (!reading->replaced && reading->reads == ML_READS_AMPS && reading->supply == 0 && reading->condition == self->condition &&
          reading->unit == ml_document_unit (self->document) && reading->pass == ml_document_pass (self->document))
        return (int) i;
    }
  return -1;
}

static void
add_shows (MlBenchCard *self)
{
  int reading = supply_reading (self);
  char amps[48];
  g_autofree char *label = NULL;

  if (reading >= 0)
    ml_quantity_format (ml_document_job (self->document)->readings[reading].measured.value, ML_UNIT_AMPERE, 4, false, amps, sizeof amps);
  label = reading >= 0 ? g_strdup_printf ("shows %s", amps) : g_strdup ("shows …");
  GtkWidget *button = gtk_button_new_with_label (label);
  g_autofree char *name = g_strdup_printf ("supply-shows-%d", self->condition + 1);
  gtk_widget_add_css_class (button, "chip");
  gtk_widget_set_name (button, name);
  gtk_widget_set_tooltip_text (button, "Type the current that the supply shows");
  g_signal_connect (button, "clicked", G_CALLBACK (shows_clicked_cb), self);
  gtk_box_append (GTK_BOX (self->footer), button);
}

static const char *
next_state (const MlBoard *board, int part, const char *setting)
{
  if (board->parts[part].kind->kind == ML_KIND_CHANGEOVER)
    return strcmp (setting, "at a") == 0 ? "b" : strcmp (setting, "at b") == 0 ? "middle" : "a";
  return strcmp (setting, "closed") == 0 ? "open" : "closed";
}

typedef struct { MlBenchCard *card; int part; } Turning;

static void
turning_free (gpointer data)
{
  g_object_unref (((Turning *) data)->card);
  g_free (data);
}

static char *
position_answered_cb (const char *const *answers, gpointer data)
{
  const Turning *turning = data;
  MlBenchCard *self = turning->card;
  const MlBoard *board = ml_document_board (self->document);
  g_autofree char *typed = g_strstrip (g_strdup (answers[0]));
  MlQuantity position;
  g_autoptr (GError) error = NULL;

  if (shown (self) == NULL || (guint) turning->part >= board->n_parts)
    return NULL;
  if (g_str_has_suffix (typed, "%"))
    typed[strlen (typed) - 1] = '\0';
  if (*typed != '\0' && (ml_quantity_parse (typed, strlen (typed), ML_UNIT_NONE, ML_QUANTITY_COMMA, &position, NULL) != ML_QUANTITY_OK
                         || position.value < 0 || position.value > 100))
    return g_strdup ("Type a number from 0 to 100: 0 is at pin 1, 100 at pin 2.");
  char number[G_ASCII_DTOSTR_BUF_SIZE];
  g_autofree char *state = *typed != '\0' ? g_strconcat (g_ascii_formatd (number, sizeof number, "%.6g", position.value), "%", NULL) : NULL;
  g_autofree char *label = g_strdup_printf ("Set %s", board->parts[turning->part].name);
  g_autoptr (MlText) text = ml_board_edit_set_setting (board, self->condition, turning->part, state, &error);
  if (text == NULL)
    return g_strdup (error->message);
  ml_document_apply (self->document, text, NULL, label, NULL);
  return NULL;
}

static void
ask_position (MlBenchCard *self, const MlPart *part, int index, const char *setting)
{
  g_autofree char *title = g_strdup_printf ("Where %s stands", part->name);
  g_autofree char *now = g_strndup (setting + strlen ("at "), strcspn (setting + strlen ("at "), " "));
  const MlAsk ask = { .title = title, .explain = "The way of the wiper from pin 1 (0 %) to pin 2 (100 %) in this condition. Left empty: as written at the part.",
                      .accept = "Set", .fields = { { "Position in %", now, "50" } }, .n_fields = 1 };
  Turning *turning = g_new (Turning, 1);

  *turning = (Turning){ g_object_ref (self), index };
  ml_ask (GTK_WINDOW (gtk_widget_get_root (GTK_WIDGET (self))), &ask, position_answered_cb, turning, turning_free);
}

static void
setting_clicked_cb (GtkButton *button, gpointer data)
{
  MlBenchCard *self = data;
  const MlBoard *board = ml_document_board (self->document);
  int part = GPOINTER_TO_INT (g_object_get_data (G_OBJECT (button), "part"));
  g_autofree char *setting = ml_bench_setting (board, self->condition, part);
  g_autofree char *label = g_strdup_printf ("Set %s", board->parts[part].name);
  GError *error = NULL;

  if (setting != NULL && board->parts[part].kind->kind == ML_KIND_POTENTIOMETER)
    ask_position (self, &board->parts[part], part, setting);
  else if (setting != NULL)
    apply (self, ml_board_edit_set_setting (board, self->condition, part, next_state (board, part, setting), &error), error, label);
}

static void
add_settings (MlBenchCard *self, const MlBoard *board)
{
  for (guint i = 0; i < board->n_parts; i++)
    {
      g_autofree char *setting = ml_bench_setting (board, self->condition, (int) i);
      if (setting == NULL)
        continue;
      g_autofree char *label = g_strdup_printf ("%s %s", board->parts[i].name, setting);
      GtkWidget *button = gtk_button_new_with_label (label);
      gtk_widget_add_css_class (button, "chip");
      gtk_widget_set_tooltip_text (button, board->parts[i].kind->kind == ML_KIND_POTENTIOMETER ? "Click to say where its wiper stands"
                                                                                              : "Click to set it the other way");
      g_autofree char *name = g_strdup_printf ("setting-%d-%s", self->condition + 1, board->parts[i].name);
      gtk_widget_set_name (button, name);
      g_object_set_data (G_OBJECT (button), "part", GINT_TO_POINTER (i));
      g_signal_connect (button, "clicked", G_CALLBACK (setting_clicked_cb), self);
      gtk_box_append (GTK_BOX (self->footer), button);
    }
}

static void
edit_first_cb (GtkWidget *button, gpointer data)
{
  MlBenchCard *self = data;

  ml_bench_card_edit_supply (self, shown (self) != NULL && shown (self)->n_supplies > 0 ? 0 : -1);
}

/* The footer is built anew only when it says something else: a button must not go away between press and release. */
static gboolean
footer_is_right (MlBenchCard *self)
{
  g_autofree char *words = ml_bench_picture_words (ml_document_board (self->document), self->condition);
  int reading = supply_reading (self);
  g_autofree char *all = g_strdup_printf ("%s %g", words, reading >= 0 ? ml_document_job (self->document)->readings[reading].measured.value : NAN);

  if (g_strcmp0 (all, self->footer_words) == 0)
    return TRUE;
  g_free (self->footer_words);
  self->footer_words = g_steal_pointer (&all);
  return FALSE;
}

static void
fill_footer (MlBenchCard *self)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlCondition *condition = shown (self);
  GtkWidget *child;

  if (condition != NULL && footer_is_right (self))
    return;
  while ((child = gtk_widget_get_first_child (self->footer)) != NULL)
    gtk_box_remove (GTK_BOX (self->footer), child);
  if (condition == NULL)
    return;
  if (condition->n_supplies > 0)
    {
      GtkWidget *turn = small_button (ML_GLYPH_TURN_ROUND, "Turn the supply round", G_CALLBACK (reverse_cb), self);
      gtk_widget_set_name (turn, "turn-supply");
      gtk_box_append (GTK_BOX (self->footer), turn);
    }
  GtkWidget *edit = small_button (condition->n_supplies > 0 ? ML_GLYPH_PENCIL : ML_GLYPH_PLUS,
                                  condition->n_supplies > 0 ? "Change the supply" : "Add a supply", G_CALLBACK (edit_first_cb), self);
  gtk_widget_set_name (edit, "edit-supply");
  gtk_box_append (GTK_BOX (self->footer), edit);
  if (condition->n_supplies > 0)
    add_shows (self);
  add_settings (self, board);
}

/* ---- showing ---- */

static void
draw_cb (GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  MlBenchCard *self = data;

  if (shown (self) != NULL)
    ml_bench_picture_paint (cr, ml_document_board (self->document), self->condition, self->paper, width, height, ml_glyph_text_scale ());
}

static void
show_count (MlBenchCard *self)
{
  guint taken, suggested;

  ml_bench_count (self->document, self->condition, &taken, &suggested);
  g_autofree char *text = suggested > 0 ? g_strdup_printf ("%u of %u read", taken, taken + suggested) : g_strdup_printf ("%u read", taken);
  gtk_label_set_text (GTK_LABEL (self->count), text);
}

void
ml_bench_card_update (MlBenchCard *self)
{
  const MlCondition *condition = shown (self);
  gboolean chosen = ml_document_condition (self->document) == self->condition;

  if (condition == NULL)
    return;
  self->updating = TRUE;
  g_autofree char *words = ml_bench_picture_words (ml_document_board (self->document), self->condition);
  g_autofree char *spoken = g_strdup_printf ("Condition %s: %s", condition->name, words);
  if (!gtk_editable_label_get_editing (GTK_EDITABLE_LABEL (self->name)))
    gtk_editable_set_text (GTK_EDITABLE (self->name), condition->name);
  gtk_widget_set_tooltip_text (self->column, condition->label != NULL ? condition->label : words);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->number), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
  gtk_toggle_button_set_active (GTK_TOGGLE_BUTTON (self->number), chosen);
  if (chosen)
    gtk_widget_add_css_class (GTK_WIDGET (self), "chosen");
  else
    gtk_widget_remove_css_class (GTK_WIDGET (self), "chosen");
  gtk_drawing_area_set_content_height (GTK_DRAWING_AREA (self->picture),
                                       (int) (ML_BENCH_ROW_HEIGHT * ml_glyph_text_scale ()) * (int) MAX (condition->n_supplies, 1));
  gtk_widget_queue_draw (self->picture);
  fill_footer (self);
  show_count (self);
  if (ml_bench_card_is_editing (self))
    show_leads (self);
  self->updating = FALSE;
}

void
ml_bench_card_set_paper (MlBenchCard *self, MlPaper paper)
{
  self->paper = paper;
  gtk_widget_queue_draw (self->picture);
}

int
ml_bench_card_condition (MlBenchCard *self)
{
  return self->condition;
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

static void
pressed_cb (GtkGestureClick *gesture, int n, double x, double y, gpointer data)
{
  MlBenchCard *self = data;

  ml_document_set_condition (self->document, self->condition);
}

static void
editing_cb (GtkEditableLabel *name, GParamSpec *spec, gpointer data)
{
  MlBenchCard *self = data;
  const MlCondition *condition = shown (self);
  const char *text = gtk_editable_get_text (GTK_EDITABLE (name));
  GError *error = NULL;

  if (gtk_editable_label_get_editing (name) || self->updating || condition == NULL || strcmp (text, condition->name) == 0)
    return;
  g_autofree char *from = g_strdup (condition->name), *to = g_strdup (text);
  MlText *board_text = ml_board_edit_rename_condition (ml_document_board (self->document), self->condition, to, condition->label, &error);
  if (board_text == NULL)
    {
      gtk_editable_set_text (GTK_EDITABLE (name), from);
      fail (self, error);
      return;
    }
  MlText *job_text = ml_job_edit_rename (ml_document_job (self->document), "condition", from, to, NULL);
  ml_document_apply (self->document, board_text, job_text, "Rename the condition", NULL);
  ml_text_unref (board_text);
  g_clear_pointer (&job_text, ml_text_unref);
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
  gtk_widget_set_tooltip_text (self->number, tip);
  self->name = gtk_editable_label_new ("");
  gtk_widget_add_css_class (self->name, "card-name");
  g_autofree char *id = g_strdup_printf ("card-name-%d", self->condition + 1), *number_id = g_strdup_printf ("condition-%d", self->condition + 1);
  gtk_widget_set_name (self->name, id);
  gtk_widget_set_name (self->number, number_id);
  gtk_widget_set_hexpand (self->name, TRUE);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->name), GTK_ACCESSIBLE_PROPERTY_LABEL, "Name of the condition", -1);
  self->count = gtk_label_new ("");
  gtk_widget_add_css_class (self->count, "faint");
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

static GtkWidget *
entry_new (MlBenchCard *self, const char *label, const char *name, const char *hint, int chars)
{
  GtkWidget *entry = gtk_entry_new ();

  gtk_editable_set_width_chars (GTK_EDITABLE (entry), chars);
  gtk_editable_set_max_width_chars (GTK_EDITABLE (entry), chars);
  gtk_entry_set_placeholder_text (GTK_ENTRY (entry), hint);
  gtk_widget_set_hexpand (entry, TRUE);
  gtk_widget_set_name (entry, name);
  gtk_accessible_update_property (GTK_ACCESSIBLE (entry), GTK_ACCESSIBLE_PROPERTY_LABEL, label, -1);
  g_signal_connect (entry, "activate", G_CALLBACK (accept_supply_cb), self);
  return entry;
}

static GtkWidget *
build_editor (MlBenchCard *self)
{
  static const char *const names[N_LEADS] = { "lead-red", "lead-black" };
  GtkWidget *grid = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4), *leads = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4);
  GtkWidget *numbers = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4), *done, *cancel;

  for (int i = 0; i < N_LEADS; i++)
    {
      self->lead_buttons[i] = gtk_button_new_with_label (lead_words[i]);
      gtk_widget_add_css_class (self->lead_buttons[i], i == LEAD_RED ? "red-lead" : "black-lead");
      gtk_widget_set_hexpand (self->lead_buttons[i], TRUE);
      gtk_widget_set_name (self->lead_buttons[i], names[i]);
      gtk_widget_set_tooltip_text (self->lead_buttons[i], lead_prompts[i]);
      gtk_label_set_ellipsize (GTK_LABEL (gtk_button_get_child (GTK_BUTTON (self->lead_buttons[i]))), PANGO_ELLIPSIZE_END);
      g_signal_connect (self->lead_buttons[i], "clicked", G_CALLBACK (lead_clicked_cb), self);
      gtk_box_append (GTK_BOX (leads), self->lead_buttons[i]);
    }
  self->volts = entry_new (self, "Volts", "supply-volts", "volts", 5);
  self->limit = entry_new (self, "Current limit in ampere", "supply-limit", "limit", 6);
  done = small_button (ML_GLYPH_DONE, "Done", G_CALLBACK (accept_supply_cb), self);
  cancel = small_button (ML_GLYPH_CLOSE, "Leave it as it was", G_CALLBACK (cancel_clicked_cb), self);
  gtk_widget_set_name (done, "supply-done");
  gtk_box_append (GTK_BOX (numbers), self->volts);
  gtk_box_append (GTK_BOX (numbers), gtk_label_new ("V, up to"));
  gtk_box_append (GTK_BOX (numbers), self->limit);
  gtk_box_append (GTK_BOX (numbers), gtk_label_new ("A"));
  gtk_box_append (GTK_BOX (numbers), done);
  gtk_box_append (GTK_BOX (numbers), cancel);
  self->trouble = gtk_label_new ("");
  gtk_label_set_wrap (GTK_LABEL (self->trouble), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (self->trouble), 30);
  gtk_widget_add_css_class (self->trouble, "trouble");
  gtk_widget_set_visible (self->trouble, FALSE);
  gtk_box_append (GTK_BOX (grid), leads);
  gtk_box_append (GTK_BOX (grid), numbers);
  gtk_box_append (GTK_BOX (grid), self->trouble);
  return grid;
}

static void
build (MlBenchCard *self)
{
  GtkWidget *picture_box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 2);
  GtkGesture *press = gtk_gesture_click_new ();

  self->column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4);
  build_header (self);
  self->stack = gtk_stack_new ();
  self->picture = g_object_new (GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_PRESENTATION, NULL);
  gtk_drawing_area_set_draw_func (GTK_DRAWING_AREA (self->picture), draw_cb, self, NULL);
  gtk_gesture_single_set_button (GTK_GESTURE_SINGLE (press), GDK_BUTTON_PRIMARY);
  g_signal_connect (press, "pressed", G_CALLBACK (pressed_cb), self);
  gtk_widget_add_controller (self->picture, GTK_EVENT_CONTROLLER (press));
  self->footer = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4);
  gtk_box_append (GTK_BOX (picture_box), self->picture);
  gtk_box_append (GTK_BOX (picture_box), self->footer);
  gtk_stack_add_named (GTK_STACK (self->stack), picture_box, "picture");
  gtk_stack_add_named (GTK_STACK (self->stack), build_editor (self), "editor");
  gtk_box_append (GTK_BOX (self->column), self->stack);
  gtk_widget_set_parent (self->column, GTK_WIDGET (self));
  gtk_widget_set_size_request (GTK_WIDGET (self), CARD_WIDTH, -1);
}

static void
ml_bench_card_dispose (GObject *object)
{
  MlBenchCard *self = ML_BENCH_CARD (object);

  g_clear_object (&self->document);
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
  gtk_widget_class_install_action (widget_class, "card.limiting", NULL, limiting_cb);
  gtk_widget_class_install_action (widget_class, "card.remove", NULL, remove_condition_cb);
  gtk_widget_class_install_action (widget_class, "card.edit-supply", "i", edit_action_cb);
  gtk_widget_class_install_action (widget_class, "card.remove-supply", "i", remove_supply_cb);
}

static void
ml_bench_card_init (MlBenchCard *self)
{
  self->leads[LEAD_RED] = self->leads[LEAD_BLACK] = -1;
}

GtkWidget *
ml_bench_card_new (MlDocument *document, MlCanvas *canvas, int condition)
{
  MlBenchCard *self = g_object_new (ML_TYPE_BENCH_CARD, NULL);
  g_autofree char *name = g_strdup_printf ("card-%d", condition + 1);

  self->document = g_object_ref (document);
  self->canvas = canvas;
  self->condition = condition;
  gtk_widget_set_name (GTK_WIDGET (self), name);
  build (self);
  ml_bench_card_update (self);
  return GTK_WIDGET (self);
}
