/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The supplies of a condition on its card: each drawn as it stands on the bench, turned round and changed there, and what it shows. */
#include "desktop/bench-card-private.h"

#include "board/edit.h"
#include "desktop/ask.h"
#include "desktop/bench-picture.h"
#include "desktop/glyph.h"

#define PICTURE_WIDTH 196

static int
supply_of (gpointer widget)
{
  return GPOINTER_TO_INT (g_object_get_data (G_OBJECT (widget), "supply"));
}

static void
set_supply (gpointer widget, int supply)
{
  g_object_set_data (G_OBJECT (widget), "supply", GINT_TO_POINTER (supply));
}

/* "the supply" where there is one, else "supply 2". */
static char *
words_for (const MlCondition *condition, int supply)
{
  return condition->n_supplies > 1 ? g_strdup_printf ("supply %s", condition->supplies[supply].name) : g_strdup ("the supply");
}

/* A name for tests: those of the first supply are plain. */
static void
name_widget (GtkWidget *widget, const char *what, int supply)
{
  g_autofree char *name = supply > 0 ? g_strdup_printf ("%s-%d", what, supply + 1) : g_strdup (what);

  gtk_widget_set_name (widget, name);
}

/* ---- the picture of one ---- */

static void
draw_cb (GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  MlBenchCard *self = data;
  const MlCondition *condition = ml_bench_card_shown (self);
  int supply = supply_of (area);

  if (condition != NULL && supply < (int) MAX (condition->n_supplies, 1))
    ml_bench_picture_paint (cr, ml_document_board (self->document), self->condition, supply, self->paper, width, height, ml_glyph_text_scale ());
}

static GtkWidget *
picture_new (MlBenchCard *self, int supply)
{
  GtkWidget *picture = g_object_new (GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_PRESENTATION, NULL);

  set_supply (picture, supply);
  gtk_widget_set_hexpand (picture, TRUE);
  gtk_drawing_area_set_draw_func (GTK_DRAWING_AREA (picture), draw_cb, self, NULL);
  gtk_drawing_area_set_content_width (GTK_DRAWING_AREA (picture), (int) (PICTURE_WIDTH * ml_glyph_text_scale ()));
  gtk_drawing_area_set_content_height (GTK_DRAWING_AREA (picture), (int) (ML_BENCH_ROW_HEIGHT * ml_glyph_text_scale ()));
  return picture;
}

/* ---- its buttons ---- */

static void
reverse_cb (GtkWidget *button, gpointer data)
{
  MlBenchCard *self = data;
  GError *error = NULL;
  MlText *text = ml_board_edit_reverse_supply (ml_document_board (self->document), self->condition, supply_of (button), &error);

  ml_bench_card_apply (self, text, NULL, error, "Turn the supply round");
}

static void
edit_cb (GtkWidget *button, gpointer data)
{
  ml_bench_card_edit_supply (data, supply_of (button));
}

static void
add_button (GtkWidget *row, MlGlyph glyph, const char *label, const char *name, int supply, GCallback clicked, MlBenchCard *self)
{
  GtkWidget *button = ml_glyph_button_new (glyph, 14, label);

  set_supply (button, supply);
  name_widget (button, name, MAX (supply, 0));
  gtk_widget_set_valign (button, GTK_ALIGN_CENTER);
  g_signal_connect (button, "clicked", clicked, self);
  gtk_box_append (GTK_BOX (row), button);
}

static GtkWidget *
row_new (MlBenchCard *self, const MlCondition *condition, int supply)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 0);

  gtk_box_append (GTK_BOX (row), picture_new (self, supply));
  if (condition->n_supplies > 0)
    {
      g_autofree char *which = words_for (condition, supply);
      g_autofree char *turn = g_strdup_printf ("Turn %s round", which), *change = g_strdup_printf ("Change %s", which);
      add_button (row, ML_GLYPH_TURN_ROUND, turn, "turn-supply", supply, G_CALLBACK (reverse_cb), self);
      add_button (row, ML_GLYPH_PENCIL, change, "edit-supply", supply, G_CALLBACK (edit_cb), self);
    }
  else
    add_button (row, ML_GLYPH_PLUS, "Add a supply", "edit-supply", -1, G_CALLBACK (edit_cb), self);
  return row;
}

/* What the rows say that a repaint does not change. */
static char *
rows_words (const MlCondition *condition)
{
  GString *words = g_string_new ("supplies");

  for (guint i = 0; i < condition->n_supplies; i++)
    g_string_append_printf (words, " %s", condition->supplies[i].name);
  return g_string_free (words, FALSE);
}

void
ml_bench_card_update_supplies (MlBenchCard *self)
{
  const MlCondition *condition = ml_bench_card_shown (self);
  g_autofree char *words = rows_words (condition);
  GtkWidget *row;

  if (g_strcmp0 (words, self->rows_words) == 0) /* a button must not go away between press and release */
    {
      for (row = gtk_widget_get_first_child (self->rows); row != NULL; row = gtk_widget_get_next_sibling (row))
        gtk_widget_queue_draw (gtk_widget_get_first_child (row));
      return;
    }
  g_autofree char *focused = ml_bench_card_focused (self->rows);
  while ((row = gtk_widget_get_first_child (self->rows)) != NULL)
    gtk_box_remove (GTK_BOX (self->rows), row);
  for (guint i = 0; i < MAX (condition->n_supplies, 1); i++)
    gtk_box_append (GTK_BOX (self->rows), row_new (self, condition, (int) i));
  ml_bench_card_focus_again (self->rows, focused);
  g_free (self->rows_words);
  self->rows_words = g_steal_pointer (&words);
}

/* ---- what it shows ---- */

/* The standing reading of that supply in this condition, or -1. */
static int
supply_reading (MlBenchCard *self, int supply)
{
  const MlJob *job = ml_document_job (self->document);

  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];
      if (!reading->replaced && reading->reads == ML_READS_AMPS && reading->supply == supply && reading->condition == self->condition &&
          reading->unit == ml_document_unit (self->document) && reading->pass == ml_document_pass (self->document))
        return (int) i;
    }
  return -1;
}

typedef struct { MlBenchCard *card; int supply; } Shown;

static void
shown_free (gpointer data)
{
  g_object_unref (((Shown *) data)->card);
  g_free (data);
}

static char *
shows_answered_cb (const char *const *answers, gpointer data)
{
  const Shown *read = data;
  MlBenchCard *self = read->card;
  GError *error = NULL;

  if (self->document == NULL || ml_document_unit (self->document) < 0)
    return g_strdup ("There is no unit to write it to: add one at the top.");
  int standing = supply_reading (self, read->supply);
  if (answers[0][0] == '\0' && answers[1][0] == '\0' && standing >= 0)
    {
      MlDropped dropped;
      g_autoptr (MlText) without = ml_job_edit_drop_reading (ml_document_job (self->document), standing, &dropped);
      ml_document_apply (self->document, NULL, without, "Remove what the supply shows", NULL);
      return NULL;
    }
  MlText *text = ml_job_edit_add_supply_reading (ml_document_job (self->document), ml_document_unit (self->document),
                                                 ml_document_pass (self->document), self->condition, read->supply, answers[0],
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

void
ml_bench_card_read_supply (MlBenchCard *self, int supply)
{
  const MlCondition *condition = ml_bench_card_shown (self);

  if (condition == NULL || supply < 0 || supply >= (int) condition->n_supplies)
    return;
  g_autofree char *which = words_for (condition, supply), *title = g_strdup_printf ("What %s shows", which);
  int standing = supply_reading (self, supply);
  char now[48] = "";
  if (standing >= 0) /* so that it is taken out by emptying only, not by Enter alone */
    ml_quantity_format_file (ml_document_job (self->document)->readings[standing].measured.value, now, sizeof now);
  MlAsk ask = { .title = title, .accept = "Record", .explain = standing >= 0 ? "Left empty, what was recorded here is removed." : NULL,
                .fields = { { "Current", now, "85m" }, { "Volts, if they differ", NULL, "" } }, .n_fields = 2 };
  Shown *read = g_new (Shown, 1);

  *read = (Shown){ g_object_ref (self), supply };
  ml_document_set_condition (self->document, self->condition);
  ml_ask (GTK_WINDOW (gtk_widget_get_root (GTK_WIDGET (self))), &ask, shows_answered_cb, read, shown_free);
}

static void
shows_clicked_cb (GtkButton *button, gpointer data)
{
  ml_bench_card_read_supply (data, supply_of (button));
}

char *
ml_bench_card_shows (MlBenchCard *self, int supply)
{
  const MlCondition *condition = ml_bench_card_shown (self);
  int reading = supply_reading (self, supply);
  char amps[48] = "…";

  if (reading >= 0)
    ml_quantity_format (ml_document_job (self->document)->readings[reading].measured.value, ML_UNIT_AMPERE, 4, false, amps, sizeof amps);
  return condition->n_supplies > 1 ? g_strdup_printf ("%s shows %s", condition->supplies[supply].name, amps) : g_strdup_printf ("shows %s", amps);
}

void
ml_bench_card_add_shows (MlBenchCard *self)
{
  const MlCondition *condition = ml_bench_card_shown (self);

  for (int i = 0; i < (int) condition->n_supplies; i++)
    {
      g_autofree char *label = ml_bench_card_shows (self, i), *which = words_for (condition, i);
      g_autofree char *tip = g_strdup_printf ("Type the current that %s shows", which);
      g_autofree char *name = g_strdup_printf ("supply-shows-%d", self->condition + 1);
      GtkWidget *button = gtk_button_new_with_label (label);
      set_supply (button, i);
      name_widget (button, name, i);
      gtk_widget_add_css_class (button, "chip");
      gtk_widget_set_tooltip_text (button, tip);
      g_signal_connect (button, "clicked", G_CALLBACK (shows_clicked_cb), self);
      gtk_box_append (GTK_BOX (self->footer), button);
    }
}

char *
ml_bench_card_limits (MlBenchCard *self)
{
  const MlCondition *condition = ml_bench_card_shown (self);
  const MlOperatingPoint *point = ml_document_point_of (self->document, self->condition);
  GString *words = g_string_new (NULL);

  for (guint i = 0; point != NULL && point->solved && i < condition->n_supplies; i++)
    if (point->limiting[i])
      {
        char volts[48];
        ml_quantity_format (point->supply_v[i], ML_UNIT_VOLT, 2, false, volts, sizeof volts);
        g_string_append_printf (words, "%s%s%s: %s", words->len > 0 ? "; " : "", condition->n_supplies > 1 ? condition->supplies[i].name : "in its limit",
                                condition->n_supplies > 1 ? " in its limit" : "", volts);
      }
  return g_string_free (words, FALSE);
}

/* Else the drawing would show fewer volts than the card, and nothing why. */
void
ml_bench_card_add_limits (MlBenchCard *self)
{
  g_autofree char *words = ml_bench_card_limits (self), *name = g_strdup_printf ("limits-%d", self->condition + 1);

  if (words[0] == '\0')
    return;
  GtkWidget *label = gtk_label_new (words);
  gtk_widget_set_name (label, name);
  gtk_widget_add_css_class (label, "trouble");
  gtk_widget_set_tooltip_text (label, "The board as drawn takes more than the limit lets through: no more volts than these are left");
  gtk_box_append (GTK_BOX (self->footer), label);
}
