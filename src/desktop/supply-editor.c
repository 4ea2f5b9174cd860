/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/supply-editor.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/findings-text.h"
#include "desktop/glyph.h"

#define USUAL_VOLTAGE "12"

typedef enum { LEAD_RED, LEAD_BLACK, N_LEADS } Lead;

struct _MlSupplyEditor
{
  GtkBox parent_instance;

  MlDocument *document; /* owned */
  MlCanvas *canvas;     /* borrowed */

  /* template */
  guint n_picks; /* a click on the drawing is waited for */
  GtkWidget *lead_buttons[N_LEADS], *volts, *limit, *cancel, *trouble;

  int condition, supply; /* supply -1: a new one */
  int leads[N_LEADS];    /* nets; -1 not chosen yet */
};

G_DEFINE_FINAL_TYPE (MlSupplyEditor, ml_supply_editor, GTK_TYPE_BOX)

enum { CLOSED, FAILED, N_SIGNALS };
static guint signals[N_SIGNALS];

static const char *const lead_words[N_LEADS] = { "Red", "Black" };
static const char *const lead_prompts[N_LEADS] = { "Click the pin or wire where the red lead goes", "Click the pin or wire where the black lead goes" };

static const char leave_words[] = "Leave it as it was", cold_words[] = "No supply: the cold board";

static gboolean
apply (MlSupplyEditor *self, MlText *text, GError *error, const char *label)
{
  if (text == NULL)
    {
      g_signal_emit (self, signals[FAILED], 0, error->message);
      g_error_free (error);
      return FALSE;
    }
  ml_document_apply (self->document, text, NULL, label, NULL);
  ml_text_unref (text);
  return TRUE;
}

static void
show_leads (MlSupplyEditor *self)
{
  const MlBoard *board = ml_document_board (self->document);

  for (int i = 0; i < N_LEADS; i++)
    {
      int net = self->leads[i];
      g_autofree char *where = net >= 0 && net < (int) board->n_nets ? ml_findings_net_words (board, net) : g_strdup ("click a pin");
      g_autofree char *label = g_strdup_printf ("%s: %s", lead_words[i], where);
      gtk_button_set_label (GTK_BUTTON (self->lead_buttons[i]), label);
    }
}

static void
say_trouble (MlSupplyEditor *self, const char *text)
{
  gtk_label_set_text (GTK_LABEL (self->trouble), text);
  gtk_widget_set_visible (self->trouble, text[0] != '\0');
}

/* A pin that is joined to nothing has no net yet: a lead clipped to it makes one. Returns the net, or -1 with the trouble said. */
static int
net_of_pick (MlSupplyEditor *self, const MlHit *picked)
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

typedef struct { MlSupplyEditor *editor; Lead lead; } Pick;

static void
pick_free (gpointer data)
{
  Pick *pick = data;

  pick->editor->n_picks--;
  g_object_unref (pick->editor);
  g_free (pick);
}

static void
begin_pick (MlSupplyEditor *self, Lead lead);

static void
picked_cb (MlCanvas *canvas, const MlHit *picked, gpointer data)
{
  Pick *pick = data;
  MlSupplyEditor *self = pick->editor;

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
begin_pick (MlSupplyEditor *self, Lead lead)
{
  Pick *pick = g_new0 (Pick, 1);

  *pick = (Pick){ .editor = g_object_ref (self), .lead = lead };
  self->n_picks++;
  if (self->canvas != NULL)
    ml_canvas_pick (self->canvas, lead_prompts[lead], picked_cb, pick, pick_free);
  else
    pick_free (pick);
}

static void
lead_clicked_cb (GtkButton *button, gpointer data)
{
  MlSupplyEditor *self = data;

  begin_pick (self, GTK_WIDGET (button) == self->lead_buttons[LEAD_RED] ? LEAD_RED : LEAD_BLACK);
}

static void
close_editor (MlSupplyEditor *self)
{
  say_trouble (self, "");
  g_signal_emit (self, signals[CLOSED], 0);
}

static void
cancel_clicked_cb (GtkWidget *button, gpointer data)
{
  MlSupplyEditor *self = data;

  if (self->canvas != NULL)
    ml_canvas_stop_pick (self->canvas); /* else the next click on the drawing would still be a lead's */
  close_editor (self);
}

/* As everywhere: Esc leaves what is under way, first the click that is waited for, then the form. */
static gboolean
key_cb (GtkEventControllerKey *keys, guint keyval, guint keycode, GdkModifierType state, gpointer data)
{
  if (keyval != GDK_KEY_Escape)
    return FALSE;
  if (((MlSupplyEditor *) data)->n_picks > 0)
    ml_canvas_stop_pick (((MlSupplyEditor *) data)->canvas);
  else
    cancel_clicked_cb (NULL, data);
  return TRUE;
}

/* The number in an entry; empty gives NAN. FALSE with the trouble said. */
static gboolean
typed_number (MlSupplyEditor *self, GtkWidget *entry, MlUnit unit, const char *what, double *ret_value)
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

/* It is taken all the same: it may be so on the bench. */
static void
warn_of_shared_leads (MlSupplyEditor *self, int plus, int minus)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlCondition *condition = self->condition < (int) board->n_conditions ? &board->conditions[self->condition] : NULL;
  guint there = 0;

  for (guint i = 0; condition != NULL && i < condition->n_supplies; i++)
    {
      const MlSupply *supply = &condition->supplies[i];
      there += (supply->plus == plus && supply->minus == minus) || (supply->plus == minus && supply->minus == plus);
    }
  if (there > 1)
    g_signal_emit (self, signals[FAILED], 0, "Two supplies are on the same two places now: one feeds the other, and neither shows what the board draws");
}

static void
accept_supply_cb (GtkWidget *widget, gpointer data)
{
  MlSupplyEditor *self = data;
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
  if (volts < 0.0 || limit <= 0.0) /* NAN, no limit, is neither */
    {
      say_trouble (self, volts < 0.0 ? "The volts are not negative: leave the sign away, and turn the supply round on its card." : "The limit is above zero.");
      gtk_widget_grab_focus (volts < 0.0 ? self->volts : self->limit);
      return;
    }
  for (int i = 0; i < N_LEADS; i++)
    if (self->leads[i] < 0)
      {
        say_trouble (self, lead_prompts[i]);
        begin_pick (self, i);
        return;
      }
  MlText *text = ml_board_edit_set_supply (ml_document_board (self->document), self->condition, self->supply, self->leads[LEAD_RED],
                                           self->leads[LEAD_BLACK], volts, limit, &error);
  int plus = self->leads[LEAD_RED], minus = self->leads[LEAD_BLACK];
  if (!apply (self, text, error, self->supply < 0 ? "Add a supply" : "Change the supply"))
    return;
  close_editor (self);
  warn_of_shared_leads (self, plus, minus);
}

/* ---- building ---- */

static GtkWidget *
entry_new (MlSupplyEditor *self, const char *label, const char *name, const char *hint, int chars)
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

static void
ml_supply_editor_dispose (GObject *object)
{
  MlSupplyEditor *self = ML_SUPPLY_EDITOR (object);

  g_clear_object (&self->document);
  G_OBJECT_CLASS (ml_supply_editor_parent_class)->dispose (object);
}

static void
ml_supply_editor_class_init (MlSupplyEditorClass *klass)
{
  GType type = G_TYPE_FROM_CLASS (klass);

  G_OBJECT_CLASS (klass)->dispose = ml_supply_editor_dispose;
  signals[CLOSED] = g_signal_new ("closed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[FAILED] = g_signal_new ("failed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
}

static void
ml_supply_editor_init (MlSupplyEditor *self)
{
  static const char *const names[N_LEADS] = { "lead-red", "lead-black" };
  GtkWidget *leads = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4), *numbers = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4), *done, *cancel;

  gtk_orientable_set_orientation (GTK_ORIENTABLE (self), GTK_ORIENTATION_VERTICAL);
  gtk_box_set_spacing (GTK_BOX (self), 4);
  self->leads[LEAD_RED] = self->leads[LEAD_BLACK] = -1;

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
  done = ml_glyph_button_new (ML_GLYPH_DONE, 14, "Done");
  cancel = self->cancel = ml_glyph_button_new (ML_GLYPH_CLOSE, 14, leave_words);
  gtk_widget_set_name (cancel, "supply-cancel");
  g_signal_connect (done, "clicked", G_CALLBACK (accept_supply_cb), self);
  g_signal_connect (cancel, "clicked", G_CALLBACK (cancel_clicked_cb), self);
  gtk_widget_set_name (done, "supply-done");
  gtk_box_append (GTK_BOX (numbers), self->volts);
  gtk_box_append (GTK_BOX (numbers), gtk_label_new ("V, up to"));
  gtk_box_append (GTK_BOX (numbers), self->limit);
  gtk_box_append (GTK_BOX (numbers), gtk_label_new ("A"));
  gtk_box_append (GTK_BOX (numbers), done);
  gtk_box_append (GTK_BOX (numbers), cancel);
  GtkEventController *keys = gtk_event_controller_key_new ();
  g_signal_connect (keys, "key-pressed", G_CALLBACK (key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), keys);
  self->trouble = gtk_label_new ("");
  gtk_label_set_wrap (GTK_LABEL (self->trouble), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (self->trouble), 30);
  gtk_label_set_xalign (GTK_LABEL (self->trouble), 0.0f);
  gtk_widget_add_css_class (self->trouble, "trouble");
  gtk_widget_set_name (self->trouble, "supply-trouble");
  gtk_widget_set_visible (self->trouble, FALSE);
  gtk_box_append (GTK_BOX (self), leads);
  gtk_box_append (GTK_BOX (self), numbers);
  gtk_box_append (GTK_BOX (self), self->trouble);
}

/* ---- public ---- */

GtkWidget *
ml_supply_editor_new (MlDocument *document, MlCanvas *canvas)
{
  MlSupplyEditor *self = g_object_new (ML_TYPE_SUPPLY_EDITOR, NULL);

  self->document = g_object_ref (document);
  self->canvas = canvas;
  return GTK_WIDGET (self);
}

void
ml_supply_editor_open (MlSupplyEditor *self, int condition, int supply)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlCondition *of = condition < (int) board->n_conditions ? &board->conditions[condition] : NULL;
  char volts[32] = USUAL_VOLTAGE, limit[32] = "";

  self->condition = condition;
  self->supply = supply;
  self->leads[LEAD_RED] = self->leads[LEAD_BLACK] = -1;
  if (of != NULL && supply >= 0 && supply < (int) of->n_supplies)
    {
      const MlSupply *edited = &of->supplies[supply];
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
  gtk_widget_set_tooltip_text (self->cancel, of != NULL && of->n_supplies == 0 ? cold_words : leave_words);
  if (self->leads[LEAD_RED] < 0)
    begin_pick (self, LEAD_RED);
  else
    gtk_widget_grab_focus (self->volts);
}

void
ml_supply_editor_update (MlSupplyEditor *self)
{
  show_leads (self);
}
