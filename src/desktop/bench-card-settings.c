/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Switches, changeovers, potentiometers and loads of a condition, as small buttons on its card; beside them what else is done to the board in it. */
#include "desktop/bench-card-private.h"

#include <string.h>

#include "board/edit.h"
#include "desktop/ask.h"
#include "desktop/bench-picture.h"

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

void
ml_bench_card_add_settings (MlBenchCard *self)
{
  const MlBoard *board = ml_document_board (self->document);

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
