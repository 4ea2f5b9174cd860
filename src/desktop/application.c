/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/application.h"

#include "desktop/actions.h"
#include "desktop/clicks.h"
#include "desktop/popovers.h"
#include "desktop/settings.h"
#include "desktop/window.h"

#define APPLICATION_ID "org.meterleaf.Meterleaf"

struct _MlApplication
{
  GtkApplication parent_instance;
};

G_DEFINE_FINAL_TYPE (MlApplication, ml_application, GTK_TYPE_APPLICATION)

static void
quit_cb (GSimpleAction *action, GVariant *parameter, gpointer data)
{
  g_autoptr (GList) windows = g_list_copy (gtk_application_get_windows (GTK_APPLICATION (data)));

  /* each window asks about its own unsaved work; the program ends with the last of them */
  for (GList *link = windows; link != NULL; link = link->next)
    if (ML_IS_WINDOW (link->data))
      gtk_window_close (GTK_WINDOW (link->data));
}

static void
ml_application_startup (GApplication *application)
{
  static const GActionEntry entries[] = { { .name = "quit", .activate = quit_cb } };

  G_APPLICATION_CLASS (ml_application_parent_class)->startup (application);
  g_action_map_add_action_entries (G_ACTION_MAP (application), entries, G_N_ELEMENTS (entries), application);
  ml_actions_install_keys (GTK_APPLICATION (application));
  ml_popovers_mend ();
  ml_clicks_keep ();
  gtk_window_set_default_icon_name (APPLICATION_ID);
  g_autofree char *icons = ml_icon_folder ();
  if (icons != NULL)
    gtk_icon_theme_add_search_path (gtk_icon_theme_get_for_display (gdk_display_get_default ()), icons);
}

static void
ml_application_activate (GApplication *application)
{
  GtkWindow *active = gtk_application_get_active_window (GTK_APPLICATION (application));

  gtk_window_present (active != NULL ? active : GTK_WINDOW (ml_window_new (GTK_APPLICATION (application))));
}

/* Work that a killed program left is offered even when a file was asked for. */
static void
offer_left_over (MlWindow *window)
{
  g_autoptr (GPtrArray) left = ml_document_recoverable (NULL);

  if (left != NULL && left->len > 0)
    ml_window_offer_left_over (window);
}

static void
ml_application_open (GApplication *application, GFile **files, int n_files, const char *hint)
{
  gboolean first = gtk_application_get_windows (GTK_APPLICATION (application)) == NULL;

  for (int i = 0; i < n_files; i++)
    {
      g_autofree char *path = g_file_get_path (files[i]);
      MlWindow *window = path != NULL ? ml_window_open_for (GTK_APPLICATION (application), NULL, path) : ml_window_new (GTK_APPLICATION (application));
      gtk_window_present (GTK_WINDOW (window));
      if (first && i == 0)
        offer_left_over (window);
    }
}

static void
ml_application_class_init (MlApplicationClass *klass)
{
  G_APPLICATION_CLASS (klass)->startup = ml_application_startup;
  G_APPLICATION_CLASS (klass)->activate = ml_application_activate;
  G_APPLICATION_CLASS (klass)->open = ml_application_open;
}

static void
ml_application_init (MlApplication *self)
{
}

MlApplication *
ml_application_new (void)
{
  return g_object_new (ML_TYPE_APPLICATION, "application-id", APPLICATION_ID, "flags", G_APPLICATION_HANDLES_OPEN, NULL);
}
