/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/looks.h"

#include "desktop/appearance.h"
#include "meterleaf-ui.h"

#define SHEET "/org/meterleaf/Meterleaf/meterleaf.css"

static MlColour
mix (MlColour a, MlColour b, double share_b)
{
  return (MlColour){ a.r + share_b * (b.r - a.r), a.g + share_b * (b.g - a.g), a.b + share_b * (b.b - a.b) };
}

static void
define (GString *css, const char *name, MlColour colour)
{
  g_string_append_printf (css, "@define-color %s rgb(%d,%d,%d);\n", name, (int) (255.0 * colour.r + 0.5), (int) (255.0 * colour.g + 0.5),
                          (int) (255.0 * colour.b + 0.5));
}

/* Relative luminance by WCAG 2.2: what is readable on that ground, black or white. */
static MlColour
readable_on (MlColour ground)
{
  double luminance = 0.2126 * ground.r * ground.r + 0.7152 * ground.g * ground.g + 0.0722 * ground.b * ground.b; /* gamma about 2 */

  return luminance > 0.18 ? (MlColour){ 0.05, 0.05, 0.05 } : (MlColour){ 1.0, 1.0, 1.0 };
}

static char *
colours (MlPaper paper)
{
  const MlPalette *palette = ml_palette (paper);
  GString *css = g_string_new (NULL);
  gboolean strong = ml_appearance_wants_contrast (ml_appearance_get ()); /* then edges are drawn strongly, too */

  define (css, "ml_paper", palette->paper);
  define (css, "ml_ground", mix (palette->paper, palette->ink, 0.045));
  define (css, "ml_line", mix (palette->paper, palette->ink, strong ? 0.75 : 0.2));
  define (css, "ml_edge", mix (palette->paper, palette->ink, strong ? 0.9 : 0.55)); /* what is found by its edge alone: 3:1 */
  define (css, "ml_hover", mix (palette->paper, palette->ink, 0.1));
  define (css, "ml_pressed", mix (palette->paper, palette->ink, 0.22));
  define (css, "ml_ink", palette->ink);
  define (css, "ml_suspect", palette->suspect);
  define (css, "ml_possible", palette->possible);
  define (css, "ml_warn", palette->warn);
  define (css, "ml_selection", palette->selection);
  define (css, "ml_on_selection", readable_on (palette->selection));
  define (css, "ml_red_probe", palette->red_probe);
  define (css, "ml_black_probe", palette->black_probe);
  return g_string_free (css, FALSE);
}

void
ml_looks_load (void)
{
  g_resources_register (ml_ui_get_resource ()); /* naming it is also what brings it into the program */
}

void
ml_looks_apply (GdkDisplay *display, MlPaper paper)
{
  static GtkCssProvider *provider = NULL;
  g_autofree char *head = colours (paper);
  g_autoptr (GBytes) sheet = g_resources_lookup_data (SHEET, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);

  g_return_if_fail (sheet != NULL);
  g_autofree char *all = g_strdup_printf ("%s%.*s", head, (int) g_bytes_get_size (sheet), (const char *) g_bytes_get_data (sheet, NULL));
  if (provider == NULL)
    {
      provider = gtk_css_provider_new ();
      gtk_style_context_add_provider_for_display (display, GTK_STYLE_PROVIDER (provider), GTK_STYLE_PROVIDER_PRIORITY_APPLICATION);
    }
  gtk_css_provider_load_from_data (provider, all, -1);
  g_object_set (gtk_settings_get_for_display (display), "gtk-application-prefer-dark-theme", paper == ML_PAPER_DARK, NULL);
}
