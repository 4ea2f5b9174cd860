/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/add-list.h"

#include <string.h>

#include "desktop/glyph.h"

#define LIST_WIDTH 300
#define LIST_HEIGHT 300
#define ICON_WIDTH 44
#define ICON_HEIGHT 30

struct _MlAddList
{
  GtkPopover parent_instance;

  GtkWidget *search;
  GtkWidget *list;
  MlPaper paper;
};

G_DEFINE_FINAL_TYPE (MlAddList, ml_add_list, GTK_TYPE_POPOVER)

static guint chosen_signal;

/* ---- matching ---- */

/* Where a word of `words` that begins with `typed` stands: 1 the first, 2 a later one, 0 none. */
static guint
word_place (const char *words, const char *typed)
{
  g_auto (GStrv) list = NULL;
  gsize length = strlen (typed);

  if (words == NULL)
    return 0;
  g_autofree char *folded = g_utf8_casefold (words, -1);
  list = g_strsplit_set (folded, " -/,(", -1);
  for (guint i = 0; list[i] != NULL; i++)
    if (strncmp (list[i], typed, length) == 0)
      return i == 0 ? 1 : 2;
  return 0;
}

static guint
rank_word (const MlKindInfo *kind, const char *typed)
{
  guint in_name = word_place (kind->trade_name, typed), in_word = word_place (kind->word, typed);

  if (in_name == 1 || in_word == 1)
    return 1;
  if (in_name == 2)
    return 2;
  return word_place (kind->search, typed) > 0 ? 3 : 0;
}

guint
ml_add_list_rank (const MlKindInfo *kind, const char *typed)
{
  g_autofree char *folded = g_utf8_casefold (typed, -1);
  g_auto (GStrv) words = g_strsplit_set (folded, " -", -1);
  guint worst = 1;

  for (char **word = words; *word != NULL; word++)
    {
      guint rank = (*word)[0] == '\0' ? 1 : rank_word (kind, *word);
      if (rank == 0)
        return 0;
      worst = MAX (worst, rank);
    }
  return worst;
}

/* ---- the list ---- */

/* What a person calls by a name of its own though it is a capacitor in the file: which pin is plus matters. */
static const MlKindInfo electrolytic = { .kind = ML_KIND_CAPACITOR, .word = "electrolytic", .trade_name = "Electrolytic capacitor",
                                         .search = "tantalum polarised capacitor condenser farad" };

static const MlKindInfo *
row_kind (GtkListBoxRow *row)
{
  return g_object_get_data (G_OBJECT (row), "kind");
}

static gboolean
filter_cb (GtkListBoxRow *row, gpointer data)
{
  MlAddList *self = data;

  return ml_add_list_rank (row_kind (row), gtk_editable_get_text (GTK_EDITABLE (self->search))) > 0;
}

static int
sort_cb (GtkListBoxRow *a, GtkListBoxRow *b, gpointer data)
{
  MlAddList *self = data;
  const char *typed = gtk_editable_get_text (GTK_EDITABLE (self->search));
  int difference = (int) ml_add_list_rank (row_kind (a), typed) - (int) ml_add_list_rank (row_kind (b), typed);

  return difference != 0 ? difference : (int) row_kind (a)->kind - (int) row_kind (b)->kind;
}

/* The first row that the search leaves, by place on screen. */
static GtkListBoxRow *
first_row (MlAddList *self)
{
  for (int i = 0;; i++)
    {
      GtkListBoxRow *row = gtk_list_box_get_row_at_index (GTK_LIST_BOX (self->list), i);
      if (row == NULL || gtk_widget_get_child_visible (GTK_WIDGET (row)))
        return row;
    }
}

static void
take (MlAddList *self, GtkListBoxRow *row)
{
  if (row == NULL)
    return;
  gtk_popover_popdown (GTK_POPOVER (self));
  g_signal_emit (self, chosen_signal, 0, ml_kind_info (row_kind (row)->kind), row_kind (row) == &electrolytic);
}

static void
search_changed_cb (GtkEditable *search, gpointer data)
{
  MlAddList *self = data;

  gtk_list_box_invalidate_filter (GTK_LIST_BOX (self->list));
  gtk_list_box_invalidate_sort (GTK_LIST_BOX (self->list));
  gtk_list_box_select_row (GTK_LIST_BOX (self->list), first_row (self));
}

static void
search_activate_cb (GtkEntry *search, gpointer data)
{
  MlAddList *self = data;

  take (self, first_row (self));
}

static void
row_activated_cb (GtkListBox *list, GtkListBoxRow *row, gpointer data)
{
  take (data, row);
}

static gboolean
search_key_cb (GtkEventControllerKey *controller, guint key, guint code, GdkModifierType modifiers, gpointer data)
{
  MlAddList *self = data;
  GtkListBoxRow *row = first_row (self);

  if (key != GDK_KEY_Down || row == NULL)
    return FALSE;
  gtk_list_box_select_row (GTK_LIST_BOX (self->list), row);
  return gtk_widget_grab_focus (GTK_WIDGET (row));
}

static GtkWidget *
row_new (MlAddList *self, const MlKindInfo *kind)
{
  GtkWidget *row = gtk_list_box_row_new (), *box = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 12), *label = gtk_label_new (kind->trade_name);

  gtk_box_append (GTK_BOX (box), kind == &electrolytic ? ml_symbol_picture_new ("capacitor-polar", ICON_WIDTH, ICON_HEIGHT, self->paper)
                                                       : ml_part_picture_new (kind->kind, ICON_WIDTH, ICON_HEIGHT, self->paper));
  gtk_box_append (GTK_BOX (box), label);
  gtk_list_box_row_set_child (GTK_LIST_BOX_ROW (row), box);
  gtk_accessible_update_property (GTK_ACCESSIBLE (row), GTK_ACCESSIBLE_PROPERTY_LABEL, kind->trade_name, -1);
  g_object_set_data (G_OBJECT (row), "kind", (gpointer) kind);
  g_autofree char *name = g_strconcat ("add-", kind->word, NULL);
  gtk_widget_set_name (row, name);
  return row;
}

static void
fill (MlAddList *self)
{
  GtkWidget *child;

  while ((child = gtk_widget_get_first_child (self->list)) != NULL)
    gtk_list_box_remove (GTK_LIST_BOX (self->list), child);
  for (int i = 0; i < ML_N_KINDS; i++)
    if (ml_kind_info (i) != NULL)
      gtk_list_box_append (GTK_LIST_BOX (self->list), row_new (self, ml_kind_info (i)));
  gtk_list_box_append (GTK_LIST_BOX (self->list), row_new (self, &electrolytic));
}

static void
map_cb (GtkWidget *widget, gpointer data)
{
  gtk_widget_grab_focus (ML_ADD_LIST (widget)->search);
}

static void
ml_add_list_class_init (MlAddListClass *klass)
{
  chosen_signal = g_signal_new ("chosen", ML_TYPE_ADD_LIST, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 2, G_TYPE_POINTER, G_TYPE_BOOLEAN);
}

static void
ml_add_list_init (MlAddList *self)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 6), *scrolled = gtk_scrolled_window_new (), *none = gtk_label_new ("No part of that name");
  GtkEventController *keys = gtk_event_controller_key_new ();

  self->search = gtk_search_entry_new ();
  self->list = gtk_list_box_new ();
  gtk_widget_set_name (self->search, "add-search");
  g_object_set (self->search, "placeholder-text", "Part: resistor, npn, zener …", NULL);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->search), GTK_ACCESSIBLE_PROPERTY_LABEL, "Part to add", -1);
  gtk_list_box_set_selection_mode (GTK_LIST_BOX (self->list), GTK_SELECTION_BROWSE);
  gtk_list_box_set_placeholder (GTK_LIST_BOX (self->list), none);
  gtk_list_box_set_filter_func (GTK_LIST_BOX (self->list), filter_cb, self, NULL);
  gtk_list_box_set_sort_func (GTK_LIST_BOX (self->list), sort_cb, self, NULL);
  gtk_widget_set_size_request (scrolled, LIST_WIDTH, LIST_HEIGHT);
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (scrolled), self->list);
  gtk_box_append (GTK_BOX (box), self->search);
  gtk_box_append (GTK_BOX (box), scrolled);
  gtk_popover_set_child (GTK_POPOVER (self), box);
  gtk_event_controller_set_propagation_phase (keys, GTK_PHASE_CAPTURE);
  gtk_widget_add_controller (self->search, keys);
  g_signal_connect (keys, "key-pressed", G_CALLBACK (search_key_cb), self);
  g_signal_connect (self->search, "changed", G_CALLBACK (search_changed_cb), self);
  g_signal_connect (self->search, "activate", G_CALLBACK (search_activate_cb), self);
  g_signal_connect (self->list, "row-activated", G_CALLBACK (row_activated_cb), self);
  g_signal_connect (self, "map", G_CALLBACK (map_cb), NULL);
  fill (self);
}

GtkWidget *
ml_add_list_new (void)
{
  return g_object_new (ML_TYPE_ADD_LIST, NULL);
}

void
ml_add_list_set_paper (MlAddList *self, MlPaper paper)
{
  if (self->paper == paper)
    return;
  self->paper = paper;
  fill (self);
}

void
ml_add_list_clear (MlAddList *self)
{
  gtk_editable_set_text (GTK_EDITABLE (self->search), "");
  gtk_list_box_select_row (GTK_LIST_BOX (self->list), first_row (self));
}
