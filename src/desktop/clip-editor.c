/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/clip-editor.h"

#include <math.h>
#include <string.h>

#include "board/edit.h"
#include "desktop/findings-text.h"
#include "desktop/glyph.h"
#include "desktop/said.h"

#define USUAL_VOLTAGE_V 12.0

typedef enum { LEAD_PLUS, LEAD_MINUS, N_LEADS } Lead;

#define N_NUMBERS 2

/* One number of the form. */
typedef struct
{
  MlUnit unit;
  int chars;
  const char *name, *label, *hint, *behind; /* behind: what stands behind its entry */
  const char *what;                         /* begins what is said of it */
} Number;

/* What the form is about; all that differs between a supply and a load, but for what is written in the end. */
typedef struct
{
  const char *lead_names[N_LEADS], *lead_words[N_LEADS], *lead_prompts[N_LEADS], *lead_classes[N_LEADS];
  Number numbers[N_NUMBERS];
  const char *done, *cancel, *trouble; /* names */
  const char *add, *change;            /* labels of the steps */
} Form;

static const Form forms[] = {
  [ML_CLIPPED_SUPPLY] = {
    .lead_names = { "lead-red", "lead-black" },
    .lead_words = { "Red", "Black" },
    .lead_prompts = { "Click the pin or wire where the red lead goes", "Click the pin or wire where the black lead goes" },
    .lead_classes = { "red-lead", "black-lead" },
    .numbers = { { ML_UNIT_VOLT, 5, "supply-volts", "Volts", "volts", "V, up to", "Volts" },
                 { ML_UNIT_AMPERE, 6, "supply-limit", "Current limit in ampere", "limit", "A", "Limit" } },
    .done = "supply-done", .cancel = "supply-cancel", .trouble = "supply-trouble",
    .add = "Add a supply", .change = "Change the supply",
  },
  [ML_CLIPPED_LOAD] = {
    .lead_names = { "load-plus", "load-minus" },
    .lead_words = { "Plus", "Minus" },
    .lead_prompts = { "Click the pin or wire where the load’s plus end goes", "Click the pin or wire where the load’s minus end goes" },
    .lead_classes = { "load-lead", "load-lead" },
    .numbers = { { ML_UNIT_OHM, 6, "load-ohms", "Resistance of the load in ohm", "ohms", "Ω, or", "Ohms" },
                 { ML_UNIT_AMPERE, 6, "load-amps", "Current the load draws in ampere", "current", "A", "Current" } },
    .done = "load-done", .cancel = "load-cancel", .trouble = "load-trouble",
    .add = "Add a load", .change = "Change the load",
  },
};

struct _MlClipEditor
{
  GtkBox parent_instance;

  MlDocument *document; /* owned */
  MlCanvas *canvas;     /* borrowed */

  /* template */
  guint n_picks; /* a click on the drawing is waited for */
  GtkWidget *lead_buttons[N_LEADS], *numbers[N_NUMBERS], *cancel, *trouble;

  MlClipped clipped;
  int condition, index; /* index -1: a new one */
  int leads[N_LEADS];    /* nets; -1 not chosen yet */
};

G_DEFINE_FINAL_TYPE (MlClipEditor, ml_clip_editor, GTK_TYPE_BOX)

enum { CLOSED, FAILED, N_SIGNALS };
static guint signals[N_SIGNALS];

static const char leave_words[] = "Leave it as it was", cold_words[] = "No supply: the cold board";

static const Form *
form_of (const MlClipEditor *self)
{
  return &forms[self->clipped];
}

static void
say_trouble (MlClipEditor *self, const char *text)
{
  g_autofree char *said = ml_said (ml_document_board (self->document), text);

  gtk_label_set_text (GTK_LABEL (self->trouble), said);
  gtk_widget_set_visible (self->trouble, text[0] != '\0');
}

static gboolean
apply (MlClipEditor *self, MlText *text, GError *error, const char *label)
{
  if (text == NULL)
    {
      say_trouble (self, error->message); /* where it was typed, until it is typed better */
      g_error_free (error);
      return FALSE;
    }
  ml_document_apply (self->document, text, NULL, label, NULL);
  ml_text_unref (text);
  return TRUE;
}

static void
show_leads (MlClipEditor *self)
{
  const MlBoard *board = ml_document_board (self->document);

  for (int i = 0; i < N_LEADS; i++)
    {
      int net = self->leads[i];
      const char *where = net >= 0 && net < (int) board->n_nets ? board->nets[net].words : "click a pin";
      g_autofree char *label = g_strdup_printf ("%s: %s", form_of (self)->lead_words[i], where);
      gtk_button_set_label (GTK_BUTTON (self->lead_buttons[i]), label);
    }
}

/* A pin that is joined to nothing has no net yet: a lead clipped to it makes one. Returns the net, or -1 with the trouble said. */
static int
net_of_pick (MlClipEditor *self, const MlHit *picked)
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

typedef struct { MlClipEditor *editor; Lead lead; } Pick;

static void
pick_free (gpointer data)
{
  Pick *pick = data;

  pick->editor->n_picks--;
  g_object_unref (pick->editor);
  g_free (pick);
}

static void
begin_pick (MlClipEditor *self, Lead lead);

static void
picked_cb (MlCanvas *canvas, const MlHit *picked, gpointer data)
{
  Pick *pick = data;
  MlClipEditor *self = pick->editor;

  if (picked == NULL && gtk_widget_get_mapped (GTK_WIDGET (self)))
    gtk_widget_grab_focus (self->numbers[0]); /* Esc left the click: one more leaves the form */
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
  if (pick->lead == LEAD_PLUS && self->leads[LEAD_MINUS] < 0)
    begin_pick (self, LEAD_MINUS);
  else
    gtk_widget_grab_focus (self->numbers[0]);
}

static void
begin_pick (MlClipEditor *self, Lead lead)
{
  Pick *pick = g_new0 (Pick, 1);

  *pick = (Pick){ .editor = g_object_ref (self), .lead = lead };
  self->n_picks++;
  if (self->canvas != NULL)
    {
      g_autofree char *hint = g_strdup_printf ("%s; or walk to the pin, then Enter", form_of (self)->lead_prompts[lead]);
      ml_canvas_pick (self->canvas, hint, picked_cb, pick, pick_free);
    }
  else
    pick_free (pick);
}

static void
lead_clicked_cb (GtkButton *button, gpointer data)
{
  MlClipEditor *self = data;

  begin_pick (self, GTK_WIDGET (button) == self->lead_buttons[LEAD_PLUS] ? LEAD_PLUS : LEAD_MINUS);
}

static void
close_editor (MlClipEditor *self)
{
  say_trouble (self, "");
  g_signal_emit (self, signals[CLOSED], 0);
}

static void
cancel_clicked_cb (GtkWidget *button, gpointer data)
{
  MlClipEditor *self = data;

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
  if (((MlClipEditor *) data)->n_picks > 0)
    ml_canvas_stop_pick (((MlClipEditor *) data)->canvas);
  else
    cancel_clicked_cb (NULL, data);
  return TRUE;
}

/* The number in an entry; empty gives NAN. FALSE with the trouble said. */
static gboolean
typed_number (MlClipEditor *self, guint which, double *ret_value)
{
  const Number *number = &form_of (self)->numbers[which];
  const char *text = gtk_editable_get_text (GTK_EDITABLE (self->numbers[which]));
  MlQuantity quantity;
  MlQuantityStatus status = ml_quantity_parse (text, strlen (text), number->unit, ML_QUANTITY_COMMA, &quantity, NULL);

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
  g_autofree char *trouble = g_strdup_printf ("%s: %s", number->what, ml_quantity_status_text (status));
  say_trouble (self, trouble);
  gtk_widget_grab_focus (self->numbers[which]);
  return FALSE;
}

/* It is taken all the same: it may be so on the bench. */
static void
warn_of_shared_leads (MlClipEditor *self, int plus, int minus)
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

/* What is wrong with the numbers, and in *ret_which the entry it is said of; NULL: nothing. */
static const char *
supply_trouble (const double values[N_NUMBERS], guint *ret_which)
{
  *ret_which = isnan (values[0]) || values[0] < 0.0 ? 0 : 1;
  if (isnan (values[0]))
    return "How many volts?";
  if (values[0] < 0.0)
    return "The volts are not negative: leave the sign away, and turn the supply round on its card.";
  return values[1] <= 0.0 ? "The limit is above zero." : NULL; /* NAN, no limit, is not */
}

static const char *
load_trouble (const double values[N_NUMBERS], guint *ret_which)
{
  *ret_which = isnan (values[0]) && !isnan (values[1]) ? 1 : 0;
  if (isnan (values[0]) && isnan (values[1]))
    return "How many ohms has the load, or what current does it draw?";
  if (!isnan (values[0]) && !isnan (values[1]))
    return "Type the ohms or the current, not both: leave one of them empty.";
  if (values[0] <= 0.0)
    return "The ohms are above zero: what joins two nets is a wire.";
  return values[1] <= 0.0 ? "The current is above zero: change Plus and Minus for one that feeds the board." : NULL;
}

static gboolean
write_it (MlClipEditor *self, const double values[N_NUMBERS])
{
  const MlBoard *board = ml_document_board (self->document);
  const Form *form = form_of (self);
  GError *error = NULL;
  MlText *text = self->clipped == ML_CLIPPED_SUPPLY
                     ? ml_board_edit_set_supply (board, self->condition, self->index, self->leads[LEAD_PLUS], self->leads[LEAD_MINUS], values[0],
                                                 values[1], &error)
                     : ml_board_edit_set_load (board, self->condition, self->index, self->leads[LEAD_PLUS], self->leads[LEAD_MINUS], values[0],
                                               values[1], &error);

  return apply (self, text, error, self->index < 0 ? form->add : form->change);
}

static void
accept_cb (GtkWidget *widget, gpointer data)
{
  MlClipEditor *self = data;
  double values[N_NUMBERS];
  guint which;

  for (guint i = 0; i < N_NUMBERS; i++)
    if (!typed_number (self, i, &values[i]))
      return;
  const char *trouble = self->clipped == ML_CLIPPED_SUPPLY ? supply_trouble (values, &which) : load_trouble (values, &which);
  if (trouble != NULL)
    {
      say_trouble (self, trouble);
      gtk_widget_grab_focus (self->numbers[which]);
      return;
    }
  for (int i = 0; i < N_LEADS; i++)
    if (self->leads[i] < 0)
      {
        say_trouble (self, form_of (self)->lead_prompts[i]);
        begin_pick (self, i);
        return;
      }
  if (self->leads[LEAD_PLUS] == self->leads[LEAD_MINUS])
    {
      say_trouble (self, "Both leads are on one net: click another pin for one of them.");
      begin_pick (self, LEAD_MINUS);
      return;
    }
  int plus = self->leads[LEAD_PLUS], minus = self->leads[LEAD_MINUS];
  if (!write_it (self, values))
    return;
  close_editor (self);
  if (self->clipped == ML_CLIPPED_SUPPLY)
    warn_of_shared_leads (self, plus, minus);
}

/* ---- building ---- */

static GtkWidget *
entry_new (MlClipEditor *self, const Number *number)
{
  GtkWidget *entry = gtk_entry_new ();

  gtk_editable_set_width_chars (GTK_EDITABLE (entry), number->chars);
  gtk_editable_set_max_width_chars (GTK_EDITABLE (entry), number->chars);
  gtk_entry_set_placeholder_text (GTK_ENTRY (entry), number->hint);
  gtk_widget_set_hexpand (entry, TRUE);
  gtk_widget_set_name (entry, number->name);
  gtk_accessible_update_property (GTK_ACCESSIBLE (entry), GTK_ACCESSIBLE_PROPERTY_LABEL, number->label, -1);
  g_signal_connect (entry, "activate", G_CALLBACK (accept_cb), self);
  return entry;
}

static void
add_button (MlClipEditor *self, GtkWidget *row, GtkWidget *button, const char *name, GCallback clicked)
{
  gtk_widget_set_name (button, name);
  g_signal_connect (button, "clicked", clicked, self);
  gtk_box_append (GTK_BOX (row), button);
}

static GtkWidget *
leads_new (MlClipEditor *self)
{
  const Form *form = form_of (self);
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4);

  for (int i = 0; i < N_LEADS; i++)
    {
      GtkWidget *button = self->lead_buttons[i] = gtk_button_new_with_label (form->lead_words[i]);
      gtk_widget_add_css_class (button, form->lead_classes[i]);
      gtk_widget_set_hexpand (button, TRUE);
      gtk_widget_set_tooltip_text (button, form->lead_prompts[i]);
      gtk_label_set_ellipsize (GTK_LABEL (gtk_button_get_child (GTK_BUTTON (button))), PANGO_ELLIPSIZE_END);
      add_button (self, row, button, form->lead_names[i], G_CALLBACK (lead_clicked_cb));
    }
  return row;
}

static GtkWidget *
numbers_new (MlClipEditor *self)
{
  const Form *form = form_of (self);
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 4);

  for (guint i = 0; i < N_NUMBERS; i++)
    {
      self->numbers[i] = entry_new (self, &form->numbers[i]);
      gtk_box_append (GTK_BOX (row), self->numbers[i]);
      gtk_box_append (GTK_BOX (row), gtk_label_new (form->numbers[i].behind));
    }
  self->cancel = ml_glyph_button_new (ML_GLYPH_CLOSE, 14, leave_words);
  add_button (self, row, ml_glyph_button_new (ML_GLYPH_DONE, 14, "Done"), form->done, G_CALLBACK (accept_cb));
  add_button (self, row, self->cancel, form->cancel, G_CALLBACK (cancel_clicked_cb));
  return row;
}

static GtkWidget *
trouble_new (const char *name)
{
  GtkWidget *trouble = gtk_label_new ("");

  gtk_label_set_wrap (GTK_LABEL (trouble), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (trouble), 30);
  gtk_label_set_xalign (GTK_LABEL (trouble), 0.0f);
  gtk_widget_add_css_class (trouble, "trouble");
  gtk_widget_set_name (trouble, name);
  gtk_widget_set_visible (trouble, FALSE);
  return trouble;
}

static void
ml_clip_editor_dispose (GObject *object)
{
  MlClipEditor *self = ML_CLIP_EDITOR (object);

  g_clear_object (&self->document);
  G_OBJECT_CLASS (ml_clip_editor_parent_class)->dispose (object);
}

static void
ml_clip_editor_class_init (MlClipEditorClass *klass)
{
  GType type = G_TYPE_FROM_CLASS (klass);

  G_OBJECT_CLASS (klass)->dispose = ml_clip_editor_dispose;
  signals[CLOSED] = g_signal_new ("closed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 0);
  signals[FAILED] = g_signal_new ("failed", type, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
}

static void
ml_clip_editor_init (MlClipEditor *self)
{
  GtkEventController *keys = gtk_event_controller_key_new ();

  gtk_orientable_set_orientation (GTK_ORIENTABLE (self), GTK_ORIENTATION_VERTICAL);
  gtk_box_set_spacing (GTK_BOX (self), 4);
  self->leads[LEAD_PLUS] = self->leads[LEAD_MINUS] = -1;
  g_signal_connect (keys, "key-pressed", G_CALLBACK (key_cb), self);
  gtk_widget_add_controller (GTK_WIDGET (self), keys);
}

/* ---- public ---- */

GtkWidget *
ml_clip_editor_new (MlDocument *document, MlCanvas *canvas, MlClipped clipped)
{
  MlClipEditor *self = g_object_new (ML_TYPE_CLIP_EDITOR, NULL);

  self->document = g_object_ref (document);
  self->canvas = canvas;
  self->clipped = clipped;
  self->trouble = trouble_new (form_of (self)->trouble);
  gtk_box_append (GTK_BOX (self), leads_new (self));
  gtk_box_append (GTK_BOX (self), numbers_new (self));
  gtk_box_append (GTK_BOX (self), self->trouble);
  return GTK_WIDGET (self);
}

static void
show_number (MlClipEditor *self, guint which, double value)
{
  char text[32] = "";

  if (!isnan (value))
    ml_quantity_format_file (value, text, sizeof text);
  gtk_editable_set_text (GTK_EDITABLE (self->numbers[which]), text);
}

static void
show_supply (MlClipEditor *self, const MlSupply *supply)
{
  self->leads[LEAD_PLUS] = supply != NULL ? supply->plus : -1;
  self->leads[LEAD_MINUS] = supply != NULL ? supply->minus : -1;
  show_number (self, 0, supply != NULL ? supply->voltage_v : USUAL_VOLTAGE_V);
  show_number (self, 1, supply != NULL && supply->limit_written ? supply->limit_a : NAN);
}

static void
show_load (MlClipEditor *self, const MlLoad *load)
{
  self->leads[LEAD_PLUS] = load != NULL ? load->plus : -1;
  self->leads[LEAD_MINUS] = load != NULL ? load->minus : -1;
  show_number (self, 0, load != NULL ? load->resistance_ohm : NAN);
  show_number (self, 1, load != NULL ? load->current_a : NAN);
}

void
ml_clip_editor_open (MlClipEditor *self, int condition, int index)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlCondition *of = condition < (int) board->n_conditions ? &board->conditions[condition] : NULL;

  self->condition = condition;
  self->index = index;
  if (self->clipped == ML_CLIPPED_SUPPLY)
    show_supply (self, of != NULL && index >= 0 && index < (int) of->n_supplies ? &of->supplies[index] : NULL);
  else
    show_load (self, of != NULL && index >= 0 && index < (int) of->n_loads ? &of->loads[index] : NULL);
  say_trouble (self, "");
  show_leads (self);
  gtk_widget_set_tooltip_text (self->cancel, self->clipped == ML_CLIPPED_SUPPLY && of != NULL && of->n_supplies == 0 ? cold_words : leave_words);
  if (self->leads[LEAD_PLUS] < 0)
    begin_pick (self, LEAD_PLUS);
  else /* the number that is there already */
    gtk_widget_grab_focus (self->numbers[*gtk_editable_get_text (GTK_EDITABLE (self->numbers[0])) == '\0' ? 1 : 0]);
}

void
ml_clip_editor_update (MlClipEditor *self)
{
  show_leads (self);
}
