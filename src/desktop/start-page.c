/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/start-page.h"

#include <string.h>

#include "desktop/actions.h"
#include "desktop/document.h"
#include "desktop/glyph.h"
#include "desktop/settings.h"

#define PICTURE_WIDTH 180
#define PICTURE_HEIGHT 110
#define WAY_SIGN 34
#define LEFT_OVERS_AT_ONCE 3 /* more would push the three ways in out of sight */

struct _MlStartPage
{
  GtkWidget parent_instance;

  GtkWidget *scrolled, *trouble, *trouble_label, *left_over, *recent_heading, *recent;
  gboolean all_left_overs;
};

G_DEFINE_FINAL_TYPE (MlStartPage, ml_start_page, GTK_TYPE_WIDGET)

enum { OPEN, RECOVER, DISCARD, N_SIGNALS };
static guint signals[N_SIGNALS];

static GtkWidget *
label_new (const char *text, const char *style)
{
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  if (style != NULL)
    gtk_widget_add_css_class (label, style);
  return label;
}

/* ---- buttons in rows ---- */

static void
child_activated_cb (GtkFlowBox *flow, GtkFlowBoxChild *child, gpointer data)
{
  gtk_widget_activate (gtk_flow_box_child_get_child (child));
}

/* Tab goes from one to the next as it does among buttons; the arrows do so by themselves. */
static gboolean
tab_cb (GtkEventControllerKey *keys, guint keyval, guint keycode, GdkModifierType state, gpointer data)
{
  GtkWidget *now = gtk_widget_get_focus_child (data), *next = NULL;

  if (now != NULL && keyval == GDK_KEY_Tab)
    next = gtk_widget_get_next_sibling (now);
  else if (now != NULL && keyval == GDK_KEY_ISO_Left_Tab)
    next = gtk_widget_get_prev_sibling (now);
  return next != NULL && gtk_widget_grab_focus (next);
}

static GtkWidget *
flow_new (guint most_in_row)
{
  GtkWidget *flow = gtk_flow_box_new ();
  GtkEventController *keys = gtk_event_controller_key_new ();

  gtk_event_controller_set_propagation_phase (keys, GTK_PHASE_CAPTURE);
  g_signal_connect (keys, "key-pressed", G_CALLBACK (tab_cb), flow);
  gtk_widget_add_controller (flow, keys);

  gtk_flow_box_set_selection_mode (GTK_FLOW_BOX (flow), GTK_SELECTION_NONE);
  gtk_flow_box_set_activate_on_single_click (GTK_FLOW_BOX (flow), FALSE); /* the button has the click */
  gtk_flow_box_set_max_children_per_line (GTK_FLOW_BOX (flow), most_in_row);
  g_signal_connect (flow, "child-activated", G_CALLBACK (child_activated_cb), NULL);
  return flow;
}

/* The keyboard goes to what the row itself holds, not to that and then to the button in it. */
static void
append_button (GtkWidget *flow, GtkWidget *button, const char *spoken)
{
  GtkWidget *child = gtk_flow_box_child_new ();

  gtk_widget_set_focusable (button, FALSE);
  gtk_flow_box_child_set_child (GTK_FLOW_BOX_CHILD (child), button);
  gtk_accessible_update_property (GTK_ACCESSIBLE (child), GTK_ACCESSIBLE_PROPERTY_LABEL, spoken, -1);
  gtk_flow_box_append (GTK_FLOW_BOX (flow), child);
}

/* ---- three ways in ---- */

static void
append_way (GtkWidget *ways, const char *action, const char *name, MlGlyph glyph)
{
  const MlActionInfo *info = ml_actions_find (action);
  g_autofree char *key = ml_actions_key (info), *words = key != NULL ? g_strdup_printf ("%s (%s)", info->help, key) : g_strdup (info->help);
  GtkWidget *button = gtk_button_new (), *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 8), *help = label_new (words, "faint");
  GtkWidget *sign = ml_glyph_new (glyph, WAY_SIGN), *title = label_new (info->label, "way-name");

  gtk_label_set_max_width_chars (GTK_LABEL (help), 24);
  gtk_widget_set_halign (sign, GTK_ALIGN_START);
  gtk_box_append (GTK_BOX (box), sign);
  gtk_box_append (GTK_BOX (box), title);
  gtk_box_append (GTK_BOX (box), help);
  gtk_button_set_child (GTK_BUTTON (button), box);
  gtk_widget_add_css_class (button, "way");
  gtk_widget_set_name (button, name);
  ml_actions_dress_button (button, action);
  gtk_widget_set_tooltip_text (button, NULL); /* the card says it all; a tip would lie over it and its neighbour */
  append_button (ways, button, info->label);
}

/* ---- left from last time ---- */

static void
recover_cb (GtkButton *button, gpointer data)
{
  g_signal_emit (data, signals[RECOVER], 0, g_object_get_data (G_OBJECT (button), "journal"));
}

static void
discard_cb (GtkButton *button, gpointer data)
{
  g_signal_emit (data, signals[DISCARD], 0, g_object_get_data (G_OBJECT (button), "journal"));
}

static GtkWidget *
journal_button (MlStartPage *self, const char *label, const char *name, const char *journal, GCallback clicked)
{
  GtkWidget *button = gtk_button_new_with_label (label);

  gtk_widget_set_name (button, name);
  gtk_widget_set_valign (button, GTK_ALIGN_CENTER);
  g_object_set_data_full (G_OBJECT (button), "journal", g_strdup (journal), g_free);
  g_signal_connect (button, "clicked", clicked, self);
  return button;
}

static GtkWidget *
left_over_row (MlStartPage *self, const MlRecoverable *left)
{
  GtkWidget *row = gtk_box_new (GTK_ORIENTATION_HORIZONTAL, 10), *text;
  g_autoptr (GDateTime) local = left->when != NULL ? g_date_time_to_local (left->when) : NULL;
  g_autofree char *when = local != NULL ? g_date_time_format (local, "%-e %B, %H:%M") : g_strdup ("an unknown time");
  g_autofree char *changes = left->n_changes > 0 ? g_strdup_printf ("%u change%s", left->n_changes, left->n_changes == 1 ? "" : "s")
                                                  : g_strdup ("changes taken back");
  g_autofree char *words = g_strdup_printf ("Not saved last time: %s, %s, %s", left->title != NULL ? left->title : "a board without a name", changes,
                                            when);

  text = label_new (words, NULL);
  gtk_widget_set_tooltip_text (text, left->path);
  gtk_widget_set_hexpand (text, TRUE);
  gtk_box_append (GTK_BOX (row), text);
  GtkWidget *go_on = journal_button (self, "Recover", "recover", left->journal, G_CALLBACK (recover_cb));
  gtk_widget_add_css_class (go_on, "suggested-action");
  gtk_box_append (GTK_BOX (row), go_on); /* first, since the first button of the page has the focus: Enter must not throw work away */
  gtk_box_append (GTK_BOX (row), journal_button (self, "Discard", "discard", left->journal, G_CALLBACK (discard_cb)));
  gtk_widget_add_css_class (row, "left-over");
  return row;
}

static void
clear (GtkWidget *box, void (*remove) (GtkWidget *box, GtkWidget *child))
{
  GtkWidget *child;

  while ((child = gtk_widget_get_first_child (box)) != NULL)
    remove (box, child);
}

static void
remove_from_box (GtkWidget *box, GtkWidget *child)
{
  gtk_box_remove (GTK_BOX (box), child);
}

static void
remove_from_flow (GtkWidget *box, GtkWidget *child)
{
  gtk_flow_box_remove (GTK_FLOW_BOX (box), child);
}

static void fill_left_over (MlStartPage *self);

static void
all_left_overs_cb (GtkButton *button, gpointer data)
{
  MlStartPage *self = data;

  self->all_left_overs = TRUE;
  fill_left_over (self);
  gtk_widget_child_focus (self->left_over, GTK_DIR_TAB_FORWARD); /* the button is gone */
}

static GtkWidget *
more_button (MlStartPage *self, guint n)
{
  g_autofree char *label = g_strdup_printf ("Show %u More", n);
  GtkWidget *button = gtk_button_new_with_label (label);

  gtk_widget_set_name (button, "more-left-over");
  gtk_widget_set_halign (button, GTK_ALIGN_START);
  gtk_button_set_has_frame (GTK_BUTTON (button), FALSE);
  g_signal_connect (button, "clicked", G_CALLBACK (all_left_overs_cb), self);
  return button;
}

static void
fill_left_over (MlStartPage *self)
{
  g_autoptr (GPtrArray) left = ml_document_recoverable (NULL);
  guint n = left != NULL ? left->len : 0, shown = self->all_left_overs || n <= LEFT_OVERS_AT_ONCE ? n : LEFT_OVERS_AT_ONCE - 1;

  clear (self->left_over, remove_from_box);
  for (guint i = 0; i < shown; i++)
    gtk_box_append (GTK_BOX (self->left_over), left_over_row (self, g_ptr_array_index (left, i)));
  if (shown < n)
    gtk_box_append (GTK_BOX (self->left_over), more_button (self, n - shown));
  gtk_widget_set_visible (self->left_over, n > 0);
}

/* ---- a file that could not be opened ---- */

static void
open_cb (GtkButton *button, gpointer data)
{
  ml_start_page_say (data, NULL);
  gtk_widget_activate_action (GTK_WIDGET (button), "win.open", NULL);
}

static GtkWidget *
trouble_new (MlStartPage *self)
{
  GtkWidget *row = g_object_new (GTK_TYPE_BOX, "accessible-role", GTK_ACCESSIBLE_ROLE_ALERT, "spacing", 10, NULL); /* read aloud when it comes */
  GtkWidget *button = gtk_button_new_with_label ("Open Another…");

  self->trouble_label = label_new ("", NULL);
  gtk_label_set_wrap_mode (GTK_LABEL (self->trouble_label), PANGO_WRAP_WORD_CHAR); /* paths have no blanks */
  gtk_widget_set_hexpand (self->trouble_label, TRUE);
  gtk_widget_set_name (self->trouble_label, "start-trouble");
  gtk_widget_set_name (button, "start-trouble-open");
  gtk_widget_set_valign (button, GTK_ALIGN_CENTER);
  g_signal_connect (button, "clicked", G_CALLBACK (open_cb), self);
  gtk_box_append (GTK_BOX (row), self->trouble_label);
  gtk_box_append (GTK_BOX (row), button);
  gtk_widget_add_css_class (row, "notice");
  gtk_widget_set_visible (row, FALSE);
  return row;
}

void
ml_start_page_say (MlStartPage *self, const char *text)
{
  g_autofree char *words = text != NULL ? g_strdup_printf ("Not opened: %s.", text) : NULL;

  gtk_label_set_text (GTK_LABEL (self->trouble_label), words != NULL ? words : "");
  gtk_widget_set_visible (self->trouble, text != NULL);
}

/* ---- recent jobs ---- */

static void
recent_cb (GtkButton *button, gpointer data)
{
  g_signal_emit (data, signals[OPEN], 0, g_object_get_data (G_OBJECT (button), "path"));
}

/* "~/bench/signals", or where else the file lies. */
static char *
folder_words (const char *path)
{
  g_autofree char *folder = g_path_get_dirname (path), *shown = g_filename_display_name (folder);
  const char *home = g_get_home_dir ();

  if (g_str_has_prefix (shown, home) && (shown[strlen (home)] == '\0' || shown[strlen (home)] == G_DIR_SEPARATOR))
    return g_strconcat ("~", shown + strlen (home), NULL);
  return g_steal_pointer (&shown);
}

/* A tip says only what the card has no room for: it would lie over the neighbours. */
static gboolean
recent_tip_cb (GtkWidget *button, int x, int y, gboolean by_keys, GtkTooltip *tip, gpointer data)
{
  GtkLabel *folder = data, *name = g_object_get_data (G_OBJECT (button), "name");

  if (!pango_layout_is_ellipsized (gtk_label_get_layout (folder)) && !pango_layout_is_ellipsized (gtk_label_get_layout (name)))
    return FALSE;
  gtk_tooltip_set_text (tip, g_object_get_data (G_OBJECT (button), "path"));
  return TRUE;
}

static void
append_recent (MlStartPage *self, const char *path)
{
  g_autofree char *folder_text = folder_words (path);
  GtkWidget *folder = label_new (folder_text, "faint");
  g_autofree char *picture_path = ml_recent_picture (path), *base = g_filename_display_basename (path);
  GtkWidget *button = gtk_button_new (), *box = gtk_box_new (GTK_ORIENTATION_VERTICAL, 6), *name = label_new (base, NULL), *picture;

  if (g_file_test (picture_path, G_FILE_TEST_IS_REGULAR))
    picture = gtk_picture_new_for_filename (picture_path);
  else
    picture = ml_glyph_new (ML_GLYPH_BOARD, WAY_SIGN);
  if (GTK_IS_PICTURE (picture))
    gtk_picture_set_can_shrink (GTK_PICTURE (picture), TRUE);
  gtk_widget_set_size_request (picture, PICTURE_WIDTH, PICTURE_HEIGHT);
  gtk_widget_set_vexpand (picture, TRUE); /* names stand in one line, however high the pictures are */
  gtk_widget_set_vexpand (button, FALSE);
  gtk_label_set_ellipsize (GTK_LABEL (name), PANGO_ELLIPSIZE_MIDDLE);
  gtk_label_set_max_width_chars (GTK_LABEL (name), 20);
  gtk_box_append (GTK_BOX (box), picture);
  gtk_label_set_ellipsize (GTK_LABEL (folder), PANGO_ELLIPSIZE_START);
  gtk_label_set_max_width_chars (GTK_LABEL (folder), 20);
  gtk_box_append (GTK_BOX (box), name);
  gtk_box_append (GTK_BOX (box), folder);
  gtk_button_set_child (GTK_BUTTON (button), box);
  gtk_widget_add_css_class (button, "recent");
  gtk_widget_set_has_tooltip (button, TRUE);
  g_object_set_data (G_OBJECT (button), "name", name);
  g_signal_connect_object (button, "query-tooltip", G_CALLBACK (recent_tip_cb), folder, 0);
  gtk_widget_set_halign (button, GTK_ALIGN_START);
  gtk_accessible_update_property (GTK_ACCESSIBLE (button), GTK_ACCESSIBLE_PROPERTY_LABEL, base, -1);
  g_object_set_data_full (G_OBJECT (button), "path", g_strdup (path), g_free);
  g_signal_connect (button, "clicked", G_CALLBACK (recent_cb), self);
  append_button (self->recent, button, base);
}

static void
fill_recent (MlStartPage *self)
{
  g_auto (GStrv) list = ml_recent_list ();

  clear (self->recent, remove_from_flow);
  for (char **path = list; *path != NULL; path++)
    append_recent (self, *path);
  gtk_widget_set_visible (self->recent_heading, list[0] != NULL);
  gtk_widget_set_visible (self->recent, list[0] != NULL);
}

void
ml_start_page_refresh (MlStartPage *self)
{
  fill_left_over (self);
  fill_recent (self);
}

static void
ml_start_page_dispose (GObject *object)
{
  g_clear_pointer (&ML_START_PAGE (object)->scrolled, gtk_widget_unparent);
  G_OBJECT_CLASS (ml_start_page_parent_class)->dispose (object);
}

static void
ml_start_page_class_init (MlStartPageClass *klass)
{
  static const char *const names[N_SIGNALS] = { "open", "recover", "discard" };

  G_OBJECT_CLASS (klass)->dispose = ml_start_page_dispose;
  for (int i = 0; i < N_SIGNALS; i++)
    signals[i] = g_signal_new (names[i], ML_TYPE_START_PAGE, G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL, G_TYPE_NONE, 1, G_TYPE_STRING);
  gtk_widget_class_set_layout_manager_type (GTK_WIDGET_CLASS (klass), GTK_TYPE_BIN_LAYOUT);
}

static void
ml_start_page_init (MlStartPage *self)
{
  GtkWidget *column = gtk_box_new (GTK_ORIENTATION_VERTICAL, 12), *ways = flow_new (3);

  gtk_widget_add_css_class (column, "start-page");
  gtk_widget_set_halign (column, GTK_ALIGN_CENTER);
  gtk_widget_set_size_request (column, 720, -1);
  gtk_box_append (GTK_BOX (column), label_new ("Which part is it?", "welcome"));
  gtk_box_append (GTK_BOX (column), label_new ("Draw the board up, type what the meter reads where you read it, and see which fault explains it.", "lead"));
  self->trouble = trouble_new (self);
  gtk_box_append (GTK_BOX (column), self->trouble);
  self->left_over = gtk_box_new (GTK_ORIENTATION_VERTICAL, 6);
  gtk_box_append (GTK_BOX (column), self->left_over);
  gtk_flow_box_set_homogeneous (GTK_FLOW_BOX (ways), TRUE);
  gtk_flow_box_set_column_spacing (GTK_FLOW_BOX (ways), 10);
  append_way (ways, "win.new-board", "start-draw", ML_GLYPH_BOARD);
  append_way (ways, "win.open", "start-open", ML_GLYPH_FOLDER);
  append_way (ways, "win.demo", "start-demo", ML_GLYPH_LENS);
  gtk_box_append (GTK_BOX (column), ways);
  self->recent_heading = label_new ("Recent work", "heading-small");
  self->recent = flow_new (4);
  gtk_box_append (GTK_BOX (column), self->recent_heading);
  gtk_box_append (GTK_BOX (column), self->recent);
  self->scrolled = gtk_scrolled_window_new ();
  gtk_scrolled_window_set_policy (GTK_SCROLLED_WINDOW (self->scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (self->scrolled), column);
  gtk_widget_set_vexpand (GTK_WIDGET (self), TRUE);
  gtk_widget_set_hexpand (GTK_WIDGET (self), TRUE);
  gtk_widget_set_parent (self->scrolled, GTK_WIDGET (self));
  ml_start_page_refresh (self);
}

GtkWidget *
ml_start_page_new (void)
{
  return g_object_new (ML_TYPE_START_PAGE, NULL);
}
