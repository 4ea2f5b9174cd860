/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/shortcuts.h"

#include "desktop/actions.h"

/* "<Control>z <Control>y" as a person reads it: "Ctrl+Z or Ctrl+Y". */
static char *
keys_text (const char *keys)
{
  g_auto (GStrv) list = g_strsplit (keys, " ", -1);
  GString *text = g_string_new (NULL);

  for (char **item = list; *item != NULL; item++)
    {
      guint key;
      GdkModifierType modifiers;
      g_autofree char *label = gtk_accelerator_parse (*item, &key, &modifiers) ? gtk_accelerator_get_label (key, modifiers) : g_strdup (*item);
      g_string_append_printf (text, "%s%s", text->len > 0 ? " or " : "", label);
    }
  return g_string_free (text, FALSE);
}

static GtkWidget *
label_new (const char *text, const char *style)
{
  GtkWidget *label = gtk_label_new (text);

  gtk_label_set_xalign (GTK_LABEL (label), 0.0f);
  gtk_label_set_wrap (GTK_LABEL (label), TRUE);
  if (style != NULL)
    gtk_widget_add_css_class (label, style);
  return label;
}

static gboolean
has_keys (const MlActionInfo *table, guint n, MlActionGroup group)
{
  for (guint i = 0; i < n; i++)
    if (table[i].group == group && table[i].keys != NULL)
      return TRUE;
  return FALSE;
}

static void
add_action (GtkGrid *grid, int row, const MlActionInfo *info)
{
  /* nine numbered keys are one line */
  gboolean many = g_str_has_prefix (info->keys, "<Alt>1 ");
  g_autofree char *keys = keys_text (many ? "<Alt>1" : info->keys), *range = many ? g_strconcat (keys, " … 9", NULL) : NULL;
  GtkWidget *key = label_new (many ? range : keys, "key");

  gtk_label_set_max_width_chars (GTK_LABEL (key), 26);
  gtk_grid_attach (grid, key, 0, row, 1, 1);
  gtk_grid_attach (grid, label_new (info->label, NULL), 1, row, 1, 1);
  gtk_grid_attach (grid, label_new (info->help, "faint"), 2, row, 1, 1);
}

void
ml_shortcuts_present (GtkWindow *parent)
{
  GtkWidget *window = gtk_window_new (), *scrolled = gtk_scrolled_window_new (), *grid = gtk_grid_new ();
  GtkEventController *keys = gtk_shortcut_controller_new ();
  guint n, row = 0;
  const MlActionInfo *table = ml_actions_table (&n);

  for (MlActionGroup group = 0; group < ML_N_ACTION_GROUPS; group++)
    {
      if (!has_keys (table, n, group))
        continue;
      gtk_grid_attach (GTK_GRID (grid), label_new (ml_actions_group_label (group), "heading-small"), 0, (int) row++, 3, 1);
      for (guint i = 0; i < n; i++)
        if (table[i].group == group && table[i].keys != NULL)
          add_action (GTK_GRID (grid), (int) row++, &table[i]);
    }
  gtk_grid_set_column_spacing (GTK_GRID (grid), 18);
  gtk_grid_set_row_spacing (GTK_GRID (grid), 4);
  gtk_widget_add_css_class (grid, "keys-page");
  gtk_widget_add_css_class (window, "keys");
  gtk_scrolled_window_set_child (GTK_SCROLLED_WINDOW (scrolled), grid);
  gtk_window_set_child (GTK_WINDOW (window), scrolled);
  gtk_window_set_title (GTK_WINDOW (window), "Keys");
  gtk_window_set_default_size (GTK_WINDOW (window), 780, 560);
  gtk_window_set_transient_for (GTK_WINDOW (window), parent);
  gtk_window_set_destroy_with_parent (GTK_WINDOW (window), TRUE);
  gtk_shortcut_controller_add_shortcut (GTK_SHORTCUT_CONTROLLER (keys),
                                        gtk_shortcut_new (gtk_shortcut_trigger_parse_string ("Escape"), gtk_named_action_new ("window.close")));
  gtk_widget_add_controller (window, keys);
  gtk_window_present (GTK_WINDOW (window));
}
