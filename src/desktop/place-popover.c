/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/place-popover.h"

#include "desktop/place-table.h"

#define ROOM_PX 60 /* of the window, kept free beside it */

struct _MlPlacePopover
{
  GtkPopover parent_instance;

  MlDocument *document; /* owned */
  MlPlaceTable *table;  /* owned; NULL while closed */

  /* template */
  GtkWidget *title, *scrolled, *grid;

  int part, pin, other_unit;
};

G_DEFINE_FINAL_TYPE (MlPlacePopover, ml_place_popover, GTK_TYPE_POPOVER)

static guint chosen_signal;

static void
place_clicked_cb (GtkWidget *button, gpointer data)
{
  MlPlacePopover *self = data;
  guint row = GPOINTER_TO_UINT (g_object_get_data (G_OBJECT (button), "row"));
  int condition = GPOINTER_TO_INT (g_object_get_data (G_OBJECT (button), "condition"));

  if (self->table == NULL || row >= self->table->n_rows)
    return;
  MlProbe red = self->table->rows[row].red, black = self->table->rows[row].black;
  gtk_popover_popdown (GTK_POPOVER (self));
  g_signal_emit (self, chosen_signal, 0, &red, &black, condition);
}

/* ---- building ---- */

static void
add_line (GtkWidget *box, const char *text, const char *css_class)
{
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_xalign (GTK_LABEL (label), 1.0f);
  gtk_widget_add_css_class (label, css_class);
  gtk_box_append (GTK_BOX (box), label);
}

static GtkWidget *
lines_new (const MlPlaceTable *table, const MlPlaceRow *row, const MlPlaceCell *cell)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 0);

  gtk_widget_set_valign (box, GTK_ALIGN_CENTER);
  if (cell->measured != NULL)
    add_line (box, cell->measured, cell->off ? "measured-off" : "measured");
  else if (row->is_place && cell->expected == NULL)
    add_line (box, "not read", "faint");
  if (cell->doubtful)
    add_line (box, "doubtful", "faint");
  if (cell->expected != NULL)
    {
      g_autofree char *expected = row->is_place ? g_strdup_printf ("expect %s", cell->expected) : g_strdup (cell->expected);
      add_line (box, expected, "faint");
    }
  if (cell->other != NULL)
    {
      g_autofree char *other = g_strdup_printf ("%s %s", table->other_name, cell->other);
      add_line (box, other, "faint");
    }
  return box;
}

/* The cell in one sentence. */
static char *
spoken_words (const MlPlaceTable *table, const MlPlaceRow *row, guint condition)
{
  const MlPlaceCell *cell = &row->cells[condition];
  GString *words = g_string_new (NULL);

  g_string_printf (words, "%s in %s: ", row->label, table->conditions[condition]);
  if (cell->measured != NULL)
    g_string_append_printf (words, "reads %s%s%s", cell->measured, cell->off ? ", not as it should" : "", cell->doubtful ? ", doubtful" : "");
  else
    g_string_append (words, "not read");
  if (cell->expected != NULL)
    g_string_append_printf (words, ", expected %s", cell->expected);
  if (cell->other != NULL)
    g_string_append_printf (words, ", %s %s", table->other_name, cell->other);
  return g_string_free (words, FALSE);
}

static GtkWidget *
cell_new (MlPlacePopover *self, guint row, guint condition)
{
  const MlPlaceRow *of = &self->table->rows[row];
  GtkWidget *lines = lines_new (self->table, of, &of->cells[condition]);
  g_autofree char *name = g_strdup_printf ("place-%u-%u", row + 1, condition + 1);

  if (!of->is_place)
    {
      gtk_widget_set_name (lines, name);
      gtk_widget_add_css_class (lines, "about");
      return lines;
    }
  GtkWidget *button = gtk_button_new ();
  g_autofree char *spoken = spoken_words (self->table, of, condition);
  gtk_button_set_child (GTK_BUTTON (button), lines);
  gtk_button_set_has_frame (GTK_BUTTON (button), FALSE);
  gtk_widget_set_name (button, name);
  gtk_widget_set_tooltip_text (button, "Put the probes there, in this condition");
  gtk_accessible_update_property (GTK_ACCESSIBLE (button), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
  g_object_set_data (G_OBJECT (button), "row", GUINT_TO_POINTER (row));
  g_object_set_data (G_OBJECT (button), "condition", GINT_TO_POINTER ((int) condition));
  g_signal_connect (button, "clicked", G_CALLBACK (place_clicked_cb), self);
  return button;
}

static void
add_head (MlPlacePopover *self, guint condition)
{
  g_autofree char *text = g_strdup_printf ("%u  %s", condition + 1, self->table->conditions[condition]);
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_xalign (GTK_LABEL (label), 1.0f);
  gtk_widget_add_css_class (label, "head");
  if ((int) condition == ml_document_condition (self->document))
    gtk_widget_add_css_class (label, "chosen");
  gtk_grid_attach (GTK_GRID (self->grid), label, (int) condition + 1, 0, 1, 1);
}

static void
fill (MlPlacePopover *self)
{
  GtkWidget *child;

  while ((child = gtk_widget_get_first_child (self->grid)) != NULL)
    gtk_grid_remove (GTK_GRID (self->grid), child);
  gtk_label_set_text (GTK_LABEL (self->title), self->table->title);
  for (guint i = 0; i < self->table->n_conditions; i++)
    add_head (self, i);
  for (guint row = 0; row < self->table->n_rows; row++)
    {
      GtkWidget *label = gtk_label_new (self->table->rows[row].label);
      gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
      gtk_grid_attach (GTK_GRID (self->grid), label, 0, (int) row + 1, 1, 1);
      for (guint i = 0; i < self->table->n_conditions; i++)
        gtk_grid_attach (GTK_GRID (self->grid), cell_new (self, row, i), (int) i + 1, (int) row + 1, 1, 1);
    }
}

static void
take_table (MlPlacePopover *self)
{
  g_clear_pointer (&self->table, ml_place_table_free);
  self->table = ml_place_table_new (self->document, self->part, self->pin, self->other_unit);
  fill (self);
}

/* ---- following the document ---- */

static GtkWidget *
focused_cell (MlPlacePopover *self)
{
  GtkRoot *root = gtk_widget_get_root (GTK_WIDGET (self));
  GtkWidget *focus = root != NULL ? gtk_root_get_focus (root) : NULL;

  return focus != NULL && gtk_widget_get_parent (focus) == self->grid ? focus : NULL;
}

static void
changed_cb (MlDocument *document, guint what, gpointer data)
{
  MlPlacePopover *self = data;
  int column = 0, row = 0;

  if (self->table == NULL || (what & (ML_CHANGED_BOARD | ML_CHANGED_JOB | ML_CHANGED_VERDICT | ML_CHANGED_POINT | ML_CHANGED_VIEW)) == 0)
    return;
  if ((what & ML_CHANGED_BOARD) != 0) /* what it speaks of may be another part now */
    {
      gtk_popover_popdown (GTK_POPOVER (self));
      return;
    }
  GtkWidget *focused = focused_cell (self);
  if (focused != NULL)
    gtk_grid_query_child (GTK_GRID (self->grid), focused, &column, &row, NULL, NULL);
  take_table (self);
  GtkWidget *cell = row > 0 ? gtk_grid_get_child_at (GTK_GRID (self->grid), column, row) : NULL;
  if (cell != NULL)
    gtk_widget_grab_focus (cell);
}

static void
closed_cb (GtkPopover *popover, gpointer data)
{
  g_clear_pointer (&ML_PLACE_POPOVER (popover)->table, ml_place_table_free);
}

static void
copy_clicked_cb (GtkButton *button, gpointer data)
{
  MlPlacePopover *self = data;
  g_autofree char *words = self->table != NULL ? ml_place_table_words (self->table) : NULL;

  if (words != NULL)
    gdk_clipboard_set_text (gtk_widget_get_clipboard (GTK_WIDGET (self)), words);
}

static void
ml_place_popover_dispose (GObject *object)
{
  MlPlacePopover *self = ML_PLACE_POPOVER (object);

  if (self->document != NULL)
    g_signal_handlers_disconnect_by_data (self->document, self);
  g_clear_object (&self->document);
  g_clear_pointer (&self->table, ml_place_table_free);
  G_OBJECT_CLASS (ml_place_popover_parent_class)->dispose (object);
}

static void
ml_place_popover_class_init (MlPlacePopoverClass *klass)
{
  G_OBJECT_CLASS (klass)->dispose = ml_place_popover_dispose;
  chosen_signal = g_signal_new ("chosen", ML_TYPE_PLACE_POPOVER, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 3, G_TYPE_POINTER,
                                G_TYPE_POINTER, G_TYPE_INT);
}

static void
ml_place_popover_init (MlPlacePopover *self)
{
  GtkWidget *column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 6), *head = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 12);
  GtkWidget *copy = gtk_button_new_with_label ("Copy");

  gtk_widget_add_css_class (GTK_WIDGET (self), "place-table");
  self->title = gtk_label_new ("");
  gtk_label_set_xalign (GTK_LABEL (self->title), 0.0f);
  gtk_label_set_ellipsize (GTK_LABEL (self->title), PANGO_ELLIPSIZE_END);
  gtk_widget_set_hexpand (self->title, TRUE);
  gtk_widget_set_name (self->title, "place-title");
  gtk_widget_add_css_class (self->title, "title");
  gtk_widget_set_name (copy, "place-copy");
  gtk_widget_set_tooltip_text (copy, "Copy the table as text with tabs");
  g_signal_connect (copy, "clicked", G_CALLBACK (copy_clicked_cb), self);
  gtk_box_append (GTK_BOX (head), self->title);
  gtk_box_append (GTK_BOX (head), copy);
  self->grid = gtk_grid_new ();
  gtk_grid_set_column_spacing (GTK_GRID (self->grid), 8);
  self->scrolled = gtk_scrolled_window_new ();
  gtk_scrolled_window_set_propagate_natural_width (GTK_SCROLLED_WINDOW (self->scrolled), TRUE);
  gtk_scrolled_window_set_propagate_natural_height (GTK_SCROLLED_WINDOW (self->scrolled), TRUE);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (self->scrolled), self->grid);
  gtk_box_append (GTK_BOX (column), head);
  gtk_box_append (GTK_BOX (column), self->scrolled);
  gtk_popover_set_child (GTK_POPOVER (self), column);
  g_signal_connect (self, "closed", G_CALLBACK (closed_cb), NULL);
}

GtkWidget *
ml_place_popover_new (MlDocument *document)
{
  MlPlacePopover *self = g_object_new (ML_TYPE_PLACE_POPOVER, NULL);

  self->document = g_object_ref (document);
  g_signal_connect (document, "changed", G_CALLBACK (changed_cb), self);
  return GTK_WIDGET (self);
}

void
ml_place_popover_open (MlPlacePopover *self, int part, int pin, int other_unit, const GdkRectangle *at)
{
  GtkWidget *window = GTK_WIDGET (gtk_widget_get_root (gtk_widget_get_parent (GTK_WIDGET (self))));

  self->part = part;
  self->pin = pin;
  self->other_unit = other_unit;
  take_table (self);
  gtk_scrolled_window_set_max_content_width (GTK_SCROLLED_WINDOW (self->scrolled), MAX (gtk_widget_get_width (window) - ROOM_PX, 200));
  gtk_scrolled_window_set_max_content_height (GTK_SCROLLED_WINDOW (self->scrolled), MAX (gtk_widget_get_height (window) / 2, 160));
  gtk_popover_set_pointing_to (GTK_POPOVER (self), at);
  gtk_popover_popup (GTK_POPOVER (self));
  int shown = ml_document_condition (self->document);
  GtkWidget *cell = shown >= 0 ? gtk_grid_get_child_at (GTK_GRID (self->grid), shown + 1, 1) : NULL;
  if (cell != NULL)
    gtk_widget_grab_focus (cell);
}
