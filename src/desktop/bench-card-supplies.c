/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the supplies of a condition show, typed and shown on its card. */
#include "desktop/bench-card-private.h"

#include "desktop/ask.h"

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

int
ml_bench_card_supply_reading (MlBenchCard *self)
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

void
ml_bench_card_add_shows (MlBenchCard *self)
{
  int reading = ml_bench_card_supply_reading (self);
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
