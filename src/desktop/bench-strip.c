/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/bench-strip.h"

#include "board/edit.h"
#include "desktop/bench-card.h"
#include "desktop/glyph.h"

#define ROW_EDGE 8.0 /* what the style leaves free at both ends of the row */

struct _MlBenchStrip
{
  GtkWidget parent_instance;

  MlDocument *document; /* owned */
  MlCanvas *canvas;     /* borrowed */
  GtkWidget *scrolled, *row, *unfold, *add, *add_label;
  GPtrArray *cards;     /* borrowed from row */
  MlPaper paper;
  int revealed;         /* the condition whose card was brought into view last */
  guint reveal_tick;    /* 0: none waits */
};

G_DEFINE_FINAL_TYPE (MlBenchStrip, ml_bench_strip, GTK_TYPE_WIDGET)

static guint failed_signal;

static void
failed_cb (GtkWidget *card, const char *text, gpointer data)
{
  g_signal_emit (data, failed_signal, 0, text);
}

static gboolean
is_folded (MlBenchStrip *self)
{
  return gtk_widget_get_visible (self->unfold) && !gtk_toggle_button_get_active (GTK_TOGGLE_BUTTON (self->unfold));
}

static void
update_fold (MlBenchStrip *self)
{
  for (guint i = 0; i < self->cards->len; i++)
    ml_bench_card_set_folded (g_ptr_array_index (self->cards, i), is_folded (self));
}

void
ml_bench_strip_set_short (MlBenchStrip *self, gboolean is_short)
{
  if (gtk_widget_get_visible (self->unfold) == is_short)
    return;
  gtk_widget_set_visible (self->unfold, is_short);
  for (guint i = 0; i < self->cards->len; i++)
    ml_bench_card_set_short (g_ptr_array_index (self->cards, i), is_short);
  update_fold (self);
}

static void
add_card (MlBenchStrip *self, int condition)
{
  GtkWidget *card = ml_bench_card_new (self->document, self->canvas, condition);

  ml_bench_card_set_paper (ML_BENCH_CARD (card), self->paper);
  ml_bench_card_set_short (ML_BENCH_CARD (card), gtk_widget_get_visible (self->unfold));
  ml_bench_card_set_folded (ML_BENCH_CARD (card), is_folded (self));
  g_signal_connect (card, "failed", G_CALLBACK (failed_cb), self);
  gtk_box_insert_child_after (GTK_BOX (self->row), card, self->cards->len > 0 ? g_ptr_array_index (self->cards, self->cards->len - 1) : NULL);
  g_ptr_array_add (self->cards, card);
}

/* Brings the chosen card into view, in the frame after the one that laid it out: before that a new card has no place, and a form that has just
 * opened in it no width. */
static gboolean
reveal_cb (GtkWidget *row, GdkFrameClock *clock, gpointer data)
{
  MlBenchStrip *self = data;
  GtkWidget *card = self->revealed >= 0 && self->revealed < (int) self->cards->len ? g_ptr_array_index (self->cards, self->revealed) : NULL;
  graphene_rect_t bounds;

  if (card != NULL && gtk_widget_get_width (card) == 0)
    return G_SOURCE_CONTINUE;
  self->reveal_tick = 0;
  if (card != NULL && gtk_widget_compute_bounds (card, self->scrolled, &bounds))
    {
      GtkAdjustment *across = gtk_scrolled_window_get_hadjustment (GTK_SCROLLED_WINDOW (self->scrolled));
      double left = gtk_adjustment_get_value (across) + bounds.origin.x;
      gtk_adjustment_clamp_page (across, left - ROW_EDGE, left + bounds.size.width + ROW_EDGE);
    }
  return G_SOURCE_REMOVE;
}

static void
queue_reveal (MlBenchStrip *self)
{
  if (self->reveal_tick == 0)
    self->reveal_tick = gtk_widget_add_tick_callback (self->row, reveal_cb, self, NULL);
}

static void
reveal_chosen (MlBenchStrip *self)
{
  int condition = ml_document_condition (self->document);

  if (condition == self->revealed)
    return;
  self->revealed = condition;
  queue_reveal (self);
}

/* As many cards as conditions; those that stay keep what is being typed in them. */
static void
update (MlBenchStrip *self)
{
  guint n = ml_document_board (self->document)->n_conditions;

  while (self->cards->len > n)
    {
      gtk_box_remove (GTK_BOX (self->row), g_ptr_array_index (self->cards, self->cards->len - 1));
      g_ptr_array_set_size (self->cards, (int) self->cards->len - 1);
    }
  for (guint i = 0; i < self->cards->len; i++)
    ml_bench_card_update (g_ptr_array_index (self->cards, i));
  while (self->cards->len < n)
    add_card (self, (int) self->cards->len);
  gtk_widget_set_can_focus (self->scrolled, n > 0); /* an empty frame is no place for the keyboard */
  gtk_widget_set_visible (self->add_label, n == 0); /* with cards beside it the sign is enough */
  reveal_chosen (self);
}

static void
changed_cb (MlDocument *document, guint what, gpointer data)
{
  if ((what & (ML_CHANGED_BOARD | ML_CHANGED_JOB | ML_CHANGED_VIEW | ML_CHANGED_VERDICT | ML_CHANGED_POINT)) != 0)
    update (data);
}

static char *
free_name (const MlBoard *board)
{
  static const char *const usual[] = { "running", "idle", "loaded", "reversed" };

  for (guint i = 0; i < G_N_ELEMENTS (usual); i++)
    if (ml_board_find_condition (board, usual[i]) < 0)
      return g_strdup (usual[i]);
  for (guint i = 5;; i++)
    {
      g_autofree char *name = g_strdup_printf ("condition%u", i);
      if (ml_board_find_condition (board, name) < 0)
        return g_steal_pointer (&name);
    }
}

void
ml_bench_strip_add (MlBenchStrip *self)
{
  g_autoptr (GError) error = NULL;
  g_autofree char *name = free_name (ml_document_board (self->document));
  MlText *text = ml_board_edit_add_condition (ml_document_board (self->document), name, NULL, &error);

  if (text == NULL)
    {
      g_signal_emit (self, failed_signal, 0, error->message);
      return;
    }
  ml_document_apply (self->document, text, NULL, "Add a condition", NULL);
  ml_text_unref (text);
  int condition = ml_board_find_condition (ml_document_board (self->document), name);
  if (condition < 0 || condition >= (int) self->cards->len)
    return;
  ml_document_set_condition (self->document, condition);
  ml_bench_card_begin (g_ptr_array_index (self->cards, condition));
}

void
ml_bench_strip_turn (MlBenchStrip *self)
{
  g_autoptr (GError) error = NULL;
  const MlBoard *board = ml_document_board (self->document);
  int condition = ml_document_condition (self->document);

  if (condition < 0 || board->conditions[condition].n_supplies == 0)
    return;
  MlText *text = ml_board_edit_reverse_supply (board, condition, 0, &error);
  if (text == NULL)
    {
      g_signal_emit (self, failed_signal, 0, error->message);
      return;
    }
  ml_document_apply (self->document, text, NULL, "Turn the supply round", NULL);
  ml_text_unref (text);
}

void
ml_bench_strip_read_supply (MlBenchStrip *self, int condition, int supply)
{
  if (condition >= 0 && condition < (int) self->cards->len)
    ml_bench_card_read_supply (g_ptr_array_index (self->cards, condition), supply);
}

static void
add_clicked_cb (GtkButton *button, gpointer data)
{
  ml_bench_strip_add (data);
}

void
ml_bench_strip_set_paper (MlBenchStrip *self, MlPaper paper)
{
  self->paper = paper;
  for (guint i = 0; i < self->cards->len; i++)
    ml_bench_card_set_paper (g_ptr_array_index (self->cards, i), paper);
}

static void
ml_bench_strip_dispose (GObject *object)
{
  MlBenchStrip *self = ML_BENCH_STRIP (object);

  if (self->reveal_tick != 0)
    gtk_widget_remove_tick_callback (self->row, self->reveal_tick);
  self->reveal_tick = 0;
  if (self->document != NULL)
    g_signal_handlers_disconnect_by_data (self->document, self);
  g_clear_object (&self->document);
  g_clear_pointer (&self->cards, g_ptr_array_unref);
  g_clear_pointer (&self->scrolled, gtk_widget_unparent);
  g_clear_pointer (&self->unfold, gtk_widget_unparent);
  g_clear_pointer (&self->add, gtk_widget_unparent);
  G_OBJECT_CLASS (ml_bench_strip_parent_class)->dispose (object);
}

static void
ml_bench_strip_class_init (MlBenchStripClass *klass)
{
  G_OBJECT_CLASS (klass)->dispose = ml_bench_strip_dispose;
  failed_signal = g_signal_new ("failed", ML_TYPE_BENCH_STRIP, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
  gtk_widget_class_set_layout_manager_type (GTK_WIDGET_CLASS (klass), GTK_TYPE_BOX_LAYOUT);
  gtk_widget_class_set_css_name (GTK_WIDGET_CLASS (klass), "benchstrip");
}

static void
ml_bench_strip_init (MlBenchStrip *self)
{
  self->cards = g_ptr_array_new ();
  self->revealed = -1;
  self->row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 10);
  gtk_widget_add_css_class (self->row, "bench-row");
  self->add = gtk_button_new ();
  GtkWidget *inside = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 6);
  self->add_label = gtk_label_new ("Add a Condition: how the board is supplied");
  gtk_box_append (GTK_BOX (inside), ml_glyph_new (ML_GLYPH_PLUS, 16));
  gtk_box_append (GTK_BOX (inside), self->add_label);
  gtk_button_set_child (GTK_BUTTON (self->add), inside);
  gtk_widget_set_name (self->add, "add-condition");
  gtk_widget_add_css_class (self->add, "add-card");
  gtk_widget_set_tooltip_text (self->add, "Add a condition: one more way the board is supplied or switched (Ctrl+K)");
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->add), GTK_ACCESSIBLE_PROPERTY_LABEL, "Add a condition", -1);
  gtk_widget_set_valign (self->add, GTK_ALIGN_CENTER);
  g_signal_connect (self->add, "clicked", G_CALLBACK (add_clicked_cb), self);
  self->scrolled = gtk_scrolled_window_new ();
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (self->scrolled), GTK_POLICY_AUTOMATIC, GTK_POLICY_NEVER);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (self->scrolled), self->row);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->scrolled), GTK_ACCESSIBLE_PROPERTY_LABEL, "Conditions", -1);
  gtk_widget_set_hexpand (self->scrolled, TRUE);
  gtk_scrolled_window_set_propagate_natural_height (GTK_SCROLLED_WINDOW (self->scrolled), TRUE);
  /* the cards or the room for them became wider or narrower */
  g_signal_connect_swapped (gtk_scrolled_window_get_hadjustment (GTK_SCROLLED_WINDOW (self->scrolled)), "changed", G_CALLBACK (queue_reveal), self);
  gtk_widget_set_parent (self->scrolled, GTK_WIDGET (self));
  self->unfold = gtk_toggle_button_new ();
  gtk_button_set_child (GTK_BUTTON (self->unfold), ml_glyph_new (ML_GLYPH_UNFOLD, 16));
  gtk_widget_set_name (self->unfold, "unfold-conditions");
  gtk_widget_add_css_class (self->unfold, "add-card");
  gtk_widget_set_tooltip_text (self->unfold, "Show supplies and switches");
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->unfold), GTK_ACCESSIBLE_PROPERTY_LABEL, "Show supplies and switches", -1);
  gtk_widget_set_valign (self->unfold, GTK_ALIGN_CENTER);
  gtk_widget_set_visible (self->unfold, FALSE);
  g_signal_connect_swapped (self->unfold, "toggled", G_CALLBACK (update_fold), self);
  gtk_widget_set_parent (self->unfold, GTK_WIDGET (self));
  gtk_widget_set_parent (self->add, GTK_WIDGET (self));
}

GtkWidget *
ml_bench_strip_new (MlDocument *document, MlCanvas *canvas)
{
  MlBenchStrip *self = g_object_new (ML_TYPE_BENCH_STRIP, NULL);

  self->document = g_object_ref (document);
  self->canvas = canvas;
  g_signal_connect (document, "changed", G_CALLBACK (changed_cb), self);
  update (self);
  return GTK_WIDGET (self);
}
