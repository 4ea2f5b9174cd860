/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Switches, changeovers, potentiometers and loads of a condition, as small buttons on its card; beside them what else is done to the board in it. */
#include "desktop/bench-card-private.h"

#include <string.h>

#include "board/edit.h"
#include "desktop/ask.h"
#include "desktop/bench-picture.h"

#define MOST_SETTINGS 4 /* in the row; of more, all but one fewer stand behind a button */
#define MOST_COLUMN_PX 240

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

  if (ml_bench_card_shown (self) == NULL || (guint) turning->part >= board->n_parts)
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
    ml_bench_card_apply (self, ml_board_edit_set_setting (board, self->condition, part, next_state (board, part, setting), &error), NULL, error, label);
}

static GtkWidget *
setting_button (MlBenchCard *self, int part)
{
  const MlBoard *board = ml_document_board (self->document);
  g_autofree char *setting = ml_bench_setting (board, self->condition, part);
  g_autofree char *label = g_strdup_printf ("%s %s", board->parts[part].name, setting);
  g_autofree char *name = g_strdup_printf ("setting-%d-%s", self->condition + 1, board->parts[part].name);
  GtkWidget *button = gtk_button_new_with_label (label);

  gtk_widget_add_css_class (button, "chip");
  gtk_widget_set_tooltip_text (button, board->parts[part].kind->kind == ML_KIND_POTENTIOMETER ? "Click to say where its wiper stands"
                                                                                              : "Click to set it the other way");
  gtk_widget_set_name (button, name);
  g_object_set_data (G_OBJECT (button), "part", GINT_TO_POINTER (part));
  g_signal_connect (button, "clicked", G_CALLBACK (setting_clicked_cb), self);
  return button;
}

/* The rest of them, behind a button of the row. */
static GtkWidget *
more_button (MlBenchCard *self, const GArray *parts, guint first)
{
  GtkWidget *more = gtk_menu_button_new (), *popover = gtk_popover_new (), *scrolled = gtk_scrolled_window_new ();
  GtkWidget *column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 4);
  g_autofree char *label = g_strdup_printf ("%u more", parts->len - first), *name = g_strdup_printf ("more-settings-%d", self->condition + 1);

  for (guint i = first; i < parts->len; i++)
    gtk_box_append (GTK_BOX (column), setting_button (self, g_array_index (parts, int, i)));
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_propagate_natural_height (GTK_SCROLLED_WINDOW (scrolled), TRUE);
  gtk_scrolled_window_set_max_content_height (GTK_SCROLLED_WINDOW (scrolled), MOST_COLUMN_PX);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (scrolled), column);
  gtk_popover_set_child (GTK_POPOVER (popover), scrolled);
  gtk_menu_button_set_label (GTK_MENU_BUTTON (more), label);
  gtk_menu_button_set_direction (GTK_MENU_BUTTON (more), GTK_ARROW_UP); /* the strip is at the window's foot */
  gtk_menu_button_set_popover (GTK_MENU_BUTTON (more), popover);
  gtk_widget_add_css_class (more, "chip");
  gtk_widget_set_tooltip_text (more, "The other switches and contacts as they stand in this condition");
  gtk_widget_set_name (more, name);
  return more;
}

void
ml_bench_card_add_settings (MlBenchCard *self)
{
  g_autoptr (GArray) parts = ml_bench_settings (ml_document_board (self->document), self->condition);
  const guint n_shown = parts->len > MOST_SETTINGS ? MOST_SETTINGS - 1 : parts->len;

  for (guint i = 0; i < n_shown; i++)
    gtk_box_append (GTK_BOX (self->footer), setting_button (self, g_array_index (parts, int, i)));
  if (n_shown < parts->len)
    gtk_box_append (GTK_BOX (self->footer), more_button (self, parts, n_shown));
}

static void
load_clicked_cb (GtkButton *button, gpointer data)
{
  ml_bench_card_edit (data, ML_CLIPPED_LOAD, GPOINTER_TO_INT (g_object_get_data (G_OBJECT (button), "load")));
}

/* One that nobody sees makes every value a riddle. */
void
ml_bench_card_add_loads (MlBenchCard *self)
{
  const MlBoard *board = ml_document_board (self->document);
  const MlCondition *condition = ml_bench_card_shown (self);

  for (guint i = 0; i < condition->n_loads; i++)
    {
      g_autofree char *words = ml_bench_load (board, &condition->loads[i]);
      g_autofree char *name = g_strdup_printf ("load-%d-%u", self->condition + 1, i + 1);
      g_autofree char *tip = g_strdup_printf ("Change the %s", words);
      GtkWidget *button = gtk_button_new_with_label (words), *label = gtk_button_get_child (GTK_BUTTON (button));
      gtk_label_set_ellipsize (GTK_LABEL (label), PANGO_ELLIPSIZE_END);
      gtk_label_set_max_width_chars (GTK_LABEL (label), 28);
      gtk_widget_add_css_class (button, "chip");
      gtk_widget_set_tooltip_text (button, tip);
      gtk_widget_set_name (button, name);
      g_object_set_data (G_OBJECT (button), "load", GINT_TO_POINTER (i));
      g_signal_connect (button, "clicked", G_CALLBACK (load_clicked_cb), self);
      gtk_box_append (GTK_BOX (self->footer), button);
    }
}

/* A leg that is up and nobody sees it makes every value a riddle. */
void
ml_bench_card_add_besides (MlBenchCard *self)
{
  g_autoptr (GPtrArray) besides = ml_bench_besides (ml_document_board (self->document), self->condition);

  for (guint i = 0; i < besides->len; i++)
    {
      GtkWidget *label = gtk_label_new (besides->pdata[i]);
      g_autofree char *name = g_strdup_printf ("besides-%d-%u", self->condition + 1, i + 1);
      gtk_widget_set_name (label, name);
      gtk_label_set_ellipsize (GTK_LABEL (label), PANGO_ELLIPSIZE_END);
      gtk_label_set_width_chars (GTK_LABEL (label), 20);
      gtk_label_set_max_width_chars (GTK_LABEL (label), 28);
      gtk_widget_set_tooltip_text (label, besides->pdata[i]);
      gtk_box_append (GTK_BOX (self->footer), label);
    }
}
