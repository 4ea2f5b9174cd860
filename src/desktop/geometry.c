/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/geometry.h"

#include <gdk/x11/gdkx.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

#include "desktop/canvas.h"

/* Where the surface lies on the screen. FALSE where that cannot be known. */
static gboolean
surface_origin (GdkSurface *surface, int *ret_x, int *ret_y)
{
  Window child;

  if (!GDK_IS_X11_SURFACE (surface))
    return FALSE;
  Display *display = gdk_x11_display_get_xdisplay (gdk_surface_get_display (surface));
  return XTranslateCoordinates (display, gdk_x11_surface_get_xid (surface), DefaultRootWindow (display), 0, 0, ret_x, ret_y, &child) != 0;
}

static void
note_text (GString *text, GtkWidget *widget, const char *name)
{
  const char *words = GTK_IS_LABEL (widget) ? gtk_label_get_text (GTK_LABEL (widget))
                      : GTK_IS_EDITABLE (widget) ? gtk_editable_get_text (GTK_EDITABLE (widget)) : NULL;

  if (words == NULL)
    return;
  g_autofree char *line = g_strdelimit (g_strdup (words), "\n", ' ');
  g_string_append_printf (text, "text %s %s\n", name, line);
}

/* What a test calls the widget: its name, "menu:Save-As…" for an entry of a menu, "button:Print" for a button of GTK's own dialogs; new
 * string, NULL when it has none. */
static char *
name_of (GtkWidget *widget)
{
  const char *name = gtk_widget_get_name (widget), *kind = "button:";
  g_autofree char *label = NULL;

  if (strcmp (name, G_OBJECT_TYPE_NAME (widget)) != 0)
    return g_strdup (name);
  if (strcmp (name, "GtkModelButton") == 0)
    {
      g_object_get (widget, "text", &label, NULL);
      kind = "menu:";
    }
  else if (GTK_IS_BUTTON (widget))
    label = g_strdup (gtk_button_get_label (GTK_BUTTON (widget)));
  if (label == NULL)
    return NULL;
  g_auto (GStrv) pieces = g_strsplit (label, "_", -1); /* without the mark of a mnemonic */
  g_autofree char *plain = g_strjoinv ("", pieces);
  return g_strconcat (kind, g_strdelimit (plain, " ", '-'), NULL);
}

static void
note_widget (GString *text, GtkWidget *widget)
{
  g_autofree char *name = name_of (widget);
  GtkNative *native = gtk_widget_get_native (widget);
  double x, y, shift_x, shift_y;
  int left, top;

  if (native == NULL || name == NULL || gtk_native_get_surface (native) == NULL ||
      !surface_origin (gtk_native_get_surface (native), &left, &top))
    return;
  if (!gtk_widget_translate_coordinates (widget, GTK_WIDGET (native), 0, 0, &x, &y))
    return;
  gtk_native_get_surface_transform (native, &shift_x, &shift_y);
  g_string_append_printf (text, "%s %d %d %d %d%s%s\n", name, left + (int) lround (x + shift_x), top + (int) lround (y + shift_y),
                          gtk_widget_get_width (widget), gtk_widget_get_height (widget), gtk_widget_is_sensitive (widget) ? "" : " off",
                          ML_IS_CANVAS (widget) && !ml_canvas_is_settled (ML_CANVAS (widget)) ? " moving" : "");
  note_text (text, widget, name);
}

static void
note_tree (GString *text, GtkWidget *widget)
{
  if (!gtk_widget_get_mapped (widget))
    return;
  note_widget (text, widget);
  for (GtkWidget *child = gtk_widget_get_first_child (widget); child != NULL; child = gtk_widget_get_next_sibling (child))
    note_tree (text, child);
}

/* What the keys of the window go to: its name, or that of its kind. */
static void
note_focus (GString *text, GtkWidget *window)
{
  GtkWidget *focus = gtk_root_get_focus (GTK_ROOT (window));

  if (focus == NULL)
    return;
  g_autofree char *name = name_of (focus);
  g_string_append_printf (text, "focus %s%s\n", name != NULL ? name : gtk_widget_get_name (focus),
                          gtk_window_get_focus_visible (GTK_WINDOW (window)) ? "" : " hidden");
}

static void
write_all (const char *path)
{
  static guint beat = 0;
  g_autoptr (GString) text = g_string_new (NULL);
  g_autofree char *half = g_strconcat (path, ".half", NULL);
  GListModel *windows = gtk_window_get_toplevels ();

  g_string_append_printf (text, "beat %u\n", ++beat);
  for (guint i = 0; i < g_list_model_get_n_items (windows); i++)
    {
      g_autoptr (GtkWidget) window = g_list_model_get_item (windows, i);
      note_tree (text, window);
      note_focus (text, window);
    }
  /* In one piece for who reads, but not down to the disk each time. */
  if (g_file_set_contents_full (half, text->str, (gssize) text->len, G_FILE_SET_CONTENTS_NONE, 0600, NULL))
    g_rename (half, path);
}

static gboolean
write_cb (gpointer data)
{
  write_all (data);
  return G_SOURCE_CONTINUE;
}

void
ml_geometry_watch (GtkWindow *window)
{
  static guint source = 0;
  const char *path = g_getenv ("METERLEAF_TEST_GEOMETRY");

  if (path != NULL && source == 0)
    source = g_timeout_add_full (G_PRIORITY_LOW, 50, write_cb, g_strdup (path), g_free);
}
