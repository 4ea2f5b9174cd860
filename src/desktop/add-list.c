/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/add-list.h"

#include <string.h>

#include "board/board.h"
#include "desktop/glyph.h"

#define LIST_WIDTH 300
#define LIST_HEIGHT 300
#define ICON_WIDTH 44
#define ICON_HEIGHT 30
#define NONE_CHARS 38
#define ALSO_OPACITY 0.75 /* of what else a kind is called */
#define LEAST_TYPED 2u /* characters before part numbers are offered: one letter begins too many */
#define LEAST_INSIDE 4u /* characters of a part number that a longer one holds: the 7805 in L7805CV */

struct _MlAddList
{
  GtkPopover parent_instance;

  GtkWidget *search;
  GtkWidget *list;
  GtkWidget *scrolled; /* what the list is in */
  GtkWidget *none;     /* shown instead of it: why nothing is, and the two offers */
  GtkWidget *chip;     /* "Add a Chip Marked “xt77”" */
  GtkWidget *marked;   /* "“ac128” Is Printed on Q1" */
  char *selected;      /* the name of the part selected; NULL */
  MlPaper paper;
};

G_DEFINE_FINAL_TYPE (MlAddList, ml_add_list, GTK_TYPE_POPOVER)

static guint chosen_signal, printed_signal;

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
  guint in_search = word_place (kind->search, typed);
  return in_search == 1 ? 1 : in_search > 0 ? 3 : 0; /* the first of them is as good as a name: a relay is its coil before it is a contact */
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

guint
ml_add_list_rank_number (const char *number, const char *typed)
{
  g_autofree char *words = g_strstrip (g_strdup (typed));
  g_autofree char *wanted = g_utf8_casefold (words, -1), *known = g_utf8_casefold (number, -1);

  if (strlen (wanted) < LEAST_TYPED)
    return 0;
  if (g_str_has_prefix (known, wanted))
    return 1;
  return strlen (known) >= LEAST_INSIDE && strstr (wanted, known) != NULL ? 2 : 0;
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

/* The part number that the row stands for; NULL: the kind as such. */
static const char *
row_number (GtkListBoxRow *row)
{
  return g_object_get_data (G_OBJECT (row), "number");
}

static guint
row_rank (MlAddList *self, GtkListBoxRow *row)
{
  const char *typed = gtk_editable_get_text (GTK_EDITABLE (self->search)), *number = row_number (row);

  return number != NULL ? ml_add_list_rank_number (number, typed) : ml_add_list_rank (row_kind (row), typed);
}

static gboolean
filter_cb (GtkListBoxRow *row, gpointer data)
{
  return row_rank (data, row) > 0;
}

static int
sort_cb (GtkListBoxRow *a, GtkListBoxRow *b, gpointer data)
{
  int difference = (int) row_rank (data, a) - (int) row_rank (data, b);

  if (difference == 0 && row_number (a) != NULL && row_number (b) != NULL)
    return strcmp (row_number (a), row_number (b));
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
  g_signal_emit (self, chosen_signal, 0, ml_kind_info (row_kind (row)->kind), row_kind (row) == &electrolytic, row_number (row));
}

/* ---- what no kind and no part number is called ---- */

/* What is typed, trimmed; new string. */
static char *
typed_words (MlAddList *self)
{
  return g_strstrip (g_strdup (gtk_editable_get_text (GTK_EDITABLE (self->search))));
}

char *
ml_add_list_print (const char *typed)
{
  return typed[0] == 'a' || typed[0] == 'A' ? g_strdup (typed) : g_strconcat ("a", typed, NULL);
}

static void
offer (MlAddList *self)
{
  g_autofree char *typed = typed_words (self), *print = ml_add_list_print (typed);
  g_autofree char *chip = g_strdup_printf ("Add a Chip Marked “%s”", typed);
  g_autofree char *marked = self->selected != NULL ? g_strdup_printf ("“%s” Is Printed on %s", print, self->selected) : NULL;

  gtk_button_set_label (GTK_BUTTON (self->chip), chip);
  gtk_button_set_label (GTK_BUTTON (self->marked), marked != NULL ? marked : "");
  gtk_widget_set_visible (self->marked, marked != NULL);
}

static void
chip_clicked_cb (GtkButton *button, gpointer data)
{
  MlAddList *self = data;
  g_autofree char *typed = typed_words (self);

  gtk_popover_popdown (GTK_POPOVER (self));
  g_signal_emit (self, chosen_signal, 0, ml_kind_info (ML_KIND_BLOCK), FALSE, typed);
}

static void
marked_clicked_cb (GtkButton *button, gpointer data)
{
  MlAddList *self = data;
  g_autofree char *typed = typed_words (self), *print = ml_add_list_print (typed);

  gtk_popover_popdown (GTK_POPOVER (self));
  g_signal_emit (self, printed_signal, 0, print);
}

static GtkWidget *
none_new (MlAddList *self)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 6);
  GtkWidget *label = gtk_label_new ("No kind and no part number of that name. Type what kind of part it is (diode, npn, regulator); a chip that "
                                    "nobody knows is a block.");

  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_max_width_chars (GTK_LABEL (label), NONE_CHARS);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  gtk_widget_set_name (label, "add-none");
  self->chip = gtk_button_new_with_label ("");
  self->marked = gtk_button_new_with_label ("");
  gtk_widget_set_name (self->chip, "add-chip");
  gtk_widget_set_name (self->marked, "add-printed");
  g_signal_connect (self->chip, "clicked", G_CALLBACK (chip_clicked_cb), self);
  g_signal_connect (self->marked, "clicked", G_CALLBACK (marked_clicked_cb), self);
  gtk_box_append (GTK_BOX (box), label);
  gtk_box_append (GTK_BOX (box), self->chip);
  gtk_box_append (GTK_BOX (box), self->marked);
  return box;
}

/* ---- what is done in it ---- */

static void
search_changed_cb (GtkEditable *search, gpointer data)
{
  MlAddList *self = data;

  gtk_list_box_invalidate_filter (GTK_LIST_BOX (self->list));
  gtk_list_box_invalidate_sort (GTK_LIST_BOX (self->list));
  gtk_list_box_select_row (GTK_LIST_BOX (self->list), first_row (self));
  gtk_widget_set_visible (self->none, first_row (self) == NULL);
  gtk_widget_set_visible (self->scrolled, first_row (self) != NULL);
  offer (self);
}

/* Escape, which the search field keeps to itself. */
static void
search_left_cb (GtkSearchEntry *search, gpointer data)
{
  gtk_popover_popdown (GTK_POPOVER (data));
}

static void
search_activate_cb (GtkEntry *search, gpointer data)
{
  MlAddList *self = data;

  if (first_row (self) != NULL)
    take (self, first_row (self));
  else
    chip_clicked_cb (NULL, self);
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

  if (key != GDK_KEY_Down)
    return FALSE;
  if (row == NULL)
    return gtk_widget_grab_focus (self->chip);
  gtk_list_box_select_row (GTK_LIST_BOX (self->list), row);
  return gtk_widget_grab_focus (GTK_WIDGET (row));
}

static GtkWidget *
row_new (MlAddList *self, const MlKindInfo *kind, const char *number)
{
  g_autofree char *words = number != NULL ? g_strdup_printf ("%s, %s", number, kind->trade_name) : g_strdup (kind->trade_name);
  GtkWidget *row = gtk_list_box_row_new (), *box = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 12), *label = gtk_label_new (words);
  GtkWidget *also = gtk_label_new (number == NULL ? kind->search : NULL);

  gtk_box_append (GTK_BOX (box), kind == &electrolytic ? ml_symbol_picture_new ("capacitor-polar", ICON_WIDTH, ICON_HEIGHT, self->paper)
                                                       : ml_part_picture_new (kind->kind, ICON_WIDTH, ICON_HEIGHT, self->paper));
  gtk_box_append (GTK_BOX (box), label);
  gtk_label_set_ellipsize (GTK_LABEL (also), PANGO_ELLIPSIZE_END);
  gtk_widget_set_opacity (also, ALSO_OPACITY);
  gtk_box_append (GTK_BOX (box), also);
  gtk_list_box_row_set_child (GTK_LIST_BOX_ROW (row), box);
  gtk_accessible_update_property (GTK_ACCESSIBLE (row), GTK_ACCESSIBLE_PROPERTY_LABEL, words, -1);
  g_object_set_data (G_OBJECT (row), "kind", (gpointer) kind);
  g_object_set_data (G_OBJECT (row), "number", (gpointer) number);
  g_autofree char *name = g_strconcat ("add-", number != NULL ? number : kind->word, NULL);
  gtk_widget_set_name (row, name);
  return row;
}

static void
fill (MlAddList *self)
{
  const MlKindInfo *kind = NULL;
  const char *number;
  GtkWidget *child;

  while ((child = gtk_widget_get_first_child (self->list)) != NULL)
    gtk_list_box_remove (GTK_LIST_BOX (self->list), child);
  for (int i = 0; i < ML_N_KINDS; i++)
    if (ml_kind_info (i) != NULL)
      gtk_list_box_append (GTK_LIST_BOX (self->list), row_new (self, ml_kind_info (i), NULL));
  gtk_list_box_append (GTK_LIST_BOX (self->list), row_new (self, &electrolytic, NULL));
  for (guint i = 0; (number = ml_part_number (i, &kind)) != NULL; i++)
    gtk_list_box_append (GTK_LIST_BOX (self->list), row_new (self, kind, number));
}

static void
map_cb (GtkWidget *widget, gpointer data)
{
  gtk_widget_grab_focus (ML_ADD_LIST (widget)->search);
}

static void
ml_add_list_finalize (GObject *object)
{
  g_free (ML_ADD_LIST (object)->selected);
  G_OBJECT_CLASS (ml_add_list_parent_class)->finalize (object);
}

static void
ml_add_list_class_init (MlAddListClass *klass)
{
  G_OBJECT_CLASS (klass)->finalize = ml_add_list_finalize;
  chosen_signal = g_signal_new ("chosen", ML_TYPE_ADD_LIST, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 3, G_TYPE_POINTER, G_TYPE_BOOLEAN,
                                G_TYPE_STRING);
  printed_signal = g_signal_new ("printed", ML_TYPE_ADD_LIST, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
}

static void
ml_add_list_init (MlAddList *self)
{
  GtkWidget *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 6);
  GtkEventController *keys = gtk_event_controller_key_new ();

  self->search = gtk_search_entry_new ();
  self->list = gtk_list_box_new ();
  self->scrolled = gtk_scrolled_window_new ();
  gtk_widget_set_name (self->search, "add-search");
  g_object_set (self->search, "placeholder-text", "Part: resistor, npn, zener …", NULL);
  gtk_accessible_update_property (GTK_ACCESSIBLE (self->search), GTK_ACCESSIBLE_PROPERTY_LABEL, "Part to add", -1);
  gtk_list_box_set_selection_mode (GTK_LIST_BOX (self->list), GTK_SELECTION_BROWSE);
  self->none = none_new (self);
  gtk_widget_set_visible (self->none, FALSE);
  gtk_list_box_set_filter_func (GTK_LIST_BOX (self->list), filter_cb, self, NULL);
  gtk_list_box_set_sort_func (GTK_LIST_BOX (self->list), sort_cb, self, NULL);
  gtk_widget_set_size_request (self->scrolled, LIST_WIDTH, LIST_HEIGHT);
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (self->scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (self->scrolled), self->list);
  gtk_box_append (GTK_BOX (box), self->search);
  gtk_box_append (GTK_BOX (box), self->none);
  gtk_box_append (GTK_BOX (box), self->scrolled);
  gtk_popover_set_child (GTK_POPOVER (self), box);
  gtk_event_controller_set_propagation_phase (keys, GTK_PHASE_CAPTURE);
  gtk_widget_add_controller (self->search, keys);
  g_signal_connect (keys, "key-pressed", G_CALLBACK (search_key_cb), self);
  g_signal_connect (self->search, "changed", G_CALLBACK (search_changed_cb), self);
  g_signal_connect (self->search, "stop-search", G_CALLBACK (search_left_cb), self);
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
ml_add_list_begin (MlAddList *self, const char *selected)
{
  g_free (self->selected);
  self->selected = g_strdup (selected);
  gtk_editable_set_text (GTK_EDITABLE (self->search), "");
  gtk_list_box_select_row (GTK_LIST_BOX (self->list), first_row (self));
}
