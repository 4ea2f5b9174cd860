/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/removal.h"

#include "desktop/ask.h"

typedef struct
{
  MlDocument *document;
  MlBoard *before; /* what the texts were made from */
  MlText *board_text, *job_text;
  char *label;
} Offer;

static void
add_words (GPtrArray *words, guint n, const char *one, const char *several)
{
  if (n > 0)
    g_ptr_array_add (words, g_strdup_printf ("%u %s", n, n == 1 ? one : several));
}

char *
ml_removal_words (const MlDropped *dropped)
{
  g_autoptr (GPtrArray) words = g_ptr_array_new_with_free_func (g_free);
  g_autoptr (GString) all = g_string_new (NULL);

  add_words (words, dropped->n_readings, "reading", "readings");
  add_words (words, dropped->n_observations, "observation", "observations");
  add_words (words, dropped->n_others, "further line", "further lines");
  if (words->len == 0)
    return NULL;
  for (guint i = 0; i < words->len; i++)
    g_string_append_printf (all, "%s%s", i == 0 ? "" : i + 1 < words->len ? ", " : " and ", (const char *) words->pdata[i]);
  return g_strdup (all->str);
}

static void
choice_cb (int choice, gpointer data)
{
  Offer *offer = data;

  if (choice == 0 && ml_document_board (offer->document) == offer->before)
    ml_document_apply (offer->document, offer->board_text, offer->job_text, offer->label, NULL);
  g_object_unref (offer->document);
  ml_board_unref (offer->before);
  g_clear_pointer (&offer->board_text, ml_text_unref);
  ml_text_unref (offer->job_text);
  g_free (offer->label);
  g_free (offer);
}

void
ml_removal_offer (GtkWidget *over, MlDocument *document, MlText *board_text, MlText *job_text, const MlDropped *dropped, const char *what,
                  const char *label)
{
  static const char *const buttons[] = { "Remove", "Keep", NULL };
  g_autofree char *words = ml_removal_words (dropped);
  Offer *offer = g_new (Offer, 1);

  *offer = (Offer){ g_object_ref (document), ml_board_ref (ml_document_board (document)), board_text, job_text, g_strdup (label) };
  if (words == NULL)
    {
      choice_cb (0, offer);
      return;
    }
  g_autofree char *title = g_strdup_printf ("Remove %s?", what);
  g_autofree char *text = g_strdup_printf ("Removing %s takes %s of the job with it. Undo brings everything back.", what, words);
  ml_choose (GTK_WINDOW (gtk_widget_get_root (over)), title, text, buttons, choice_cb, offer);
}

void
ml_removal_offer_board (GtkWidget *over, MlDocument *document, MlText *board_text, const char *what, const char *label)
{
  g_autoptr (MlBoard) after = ml_board_read (board_text, NULL);
  MlDropped dropped;
  MlText *job_text = ml_job_edit_drop_unfit (ml_document_job (document), after, &dropped);

  ml_removal_offer (over, document, board_text, job_text, &dropped, what, label);
}
