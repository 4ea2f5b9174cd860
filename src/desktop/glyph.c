/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "desktop/glyph.h"

#include <math.h>

/* Every glyph is drawn in a square of 16 units with lines of 1.6 units. */

static void
curved_arrow (cairo_t *cr)
{
  cairo_move_to (cr, 3, 6);
  cairo_line_to (cr, 10, 6);
  cairo_arc (cr, 10, 9.5, 3.5, -G_PI_2, G_PI_2);
  cairo_line_to (cr, 5, 13);
  cairo_move_to (cr, 6, 3);
  cairo_line_to (cr, 3, 6);
  cairo_line_to (cr, 6, 9);
}

static void
lines (cairo_t *cr, const double *xy, guint n)
{
  for (guint i = 0; i < n; i++)
    {
      cairo_move_to (cr, xy[4 * i], xy[4 * i + 1]);
      cairo_line_to (cr, xy[4 * i + 2], xy[4 * i + 3]);
    }
}

static void
dots (cairo_t *cr)
{
  for (int i = 0; i < 3; i++)
    {
      cairo_new_sub_path (cr);
      cairo_arc (cr, 3.5 + 4.5 * i, 8, 0.7, 0, 2 * G_PI);
    }
}

static void
eye (cairo_t *cr)
{
  cairo_move_to (cr, 1.5, 8);
  cairo_curve_to (cr, 5, 2.5, 11, 2.5, 14.5, 8);
  cairo_curve_to (cr, 11, 13.5, 5, 13.5, 1.5, 8);
  cairo_new_sub_path (cr);
  cairo_arc (cr, 8, 8, 2, 0, 2 * G_PI);
}

static void
turn_round (cairo_t *cr)
{
  static const double xy[] = { 2, 5, 14, 5, 14, 5, 11, 2, 14, 11, 2, 11, 2, 11, 5, 14 };

  lines (cr, xy, 4);
}

static void
pencil (cairo_t *cr)
{
  cairo_move_to (cr, 2.5, 13.5);
  cairo_line_to (cr, 3.5, 10);
  cairo_line_to (cr, 11, 2.5);
  cairo_line_to (cr, 13.5, 5);
  cairo_line_to (cr, 6, 12.5);
  cairo_close_path (cr);
}

static void
board (cairo_t *cr)
{
  static const double xy[] = { 5, 6, 8, 6, 8, 6, 8, 10, 8, 10, 11, 10 };

  cairo_rectangle (cr, 2, 2.5, 12, 11);
  lines (cr, xy, 3);
}

static void
folder (cairo_t *cr)
{
  cairo_move_to (cr, 2, 13);
  cairo_line_to (cr, 2, 3.5);
  cairo_line_to (cr, 6.5, 3.5);
  cairo_line_to (cr, 8, 5.5);
  cairo_line_to (cr, 14, 5.5);
  cairo_line_to (cr, 14, 13);
  cairo_close_path (cr);
}

static void
trace (cairo_t *cr, MlGlyph glyph)
{
  static const double menu[] = { 2.5, 4, 13.5, 4, 2.5, 8, 13.5, 8, 2.5, 12, 13.5, 12 }, plus[] = { 8, 2.5, 8, 13.5, 2.5, 8, 13.5, 8 };
  static const double probes[] = { 2.5, 2.5, 7, 13.5, 13.5, 2.5, 9, 13.5, 1.5, 5.5, 4.5, 3.5, 14.5, 5.5, 11.5, 3.5 };
  static const double cross[] = { 3.5, 3.5, 12.5, 12.5, 12.5, 3.5, 3.5, 12.5 }, tick[] = { 2.5, 8.5, 6.5, 12.5, 6.5, 12.5, 13.5, 3.5 };
  static const double upwards[] = { 3, 10.5, 8, 5.5, 8, 5.5, 13, 10.5 };

  switch (glyph)
    {
    case ML_GLYPH_REDO:
      cairo_translate (cr, 16, 0);
      cairo_scale (cr, -1, 1);
      G_GNUC_FALLTHROUGH;
    case ML_GLYPH_UNDO: curved_arrow (cr); break;
    case ML_GLYPH_MENU: lines (cr, menu, 3); break;
    case ML_GLYPH_EYE: eye (cr); break;
    case ML_GLYPH_PLUS: lines (cr, plus, 2); break;
    case ML_GLYPH_TURN_ROUND: turn_round (cr); break;
    case ML_GLYPH_PENCIL: pencil (cr); break;
    case ML_GLYPH_PROBES: lines (cr, probes, 4); break;
    case ML_GLYPH_MORE: dots (cr); break;
    case ML_GLYPH_BOARD: board (cr); break;
    case ML_GLYPH_FOLDER: folder (cr); break;
    case ML_GLYPH_LENS:
      cairo_arc (cr, 6.5, 6.5, 4.2, 0, 2 * G_PI);
      cairo_move_to (cr, 9.7, 9.7);
      cairo_line_to (cr, 14, 14);
      break;
    case ML_GLYPH_DONE: lines (cr, tick, 2); break;
    case ML_GLYPH_UNFOLD: lines (cr, upwards, 2); break;
    case ML_GLYPH_STOP: cairo_rectangle (cr, 4, 4, 8, 8); break;
    case ML_GLYPH_CLOSE:
    default: lines (cr, cross, 2); break;
    }
}

static void
draw_glyph_cb (GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  GdkRGBA colour;
  double scale = MIN (width, height) / 16.0;

  gtk_style_context_get_color (gtk_widget_get_style_context (GTK_WIDGET (area)), &colour);
  gdk_cairo_set_source_rgba (cr, &colour);
  cairo_translate (cr, (width - 16.0 * scale) / 2, (height - 16.0 * scale) / 2);
  cairo_scale (cr, scale, scale);
  cairo_set_line_width (cr, 1.6);
  cairo_set_line_cap (cr, CAIRO_LINE_CAP_ROUND);
  cairo_set_line_join (cr, CAIRO_LINE_JOIN_ROUND);
  trace (cr, GPOINTER_TO_UINT (data));
  cairo_stroke (cr);
}

double
ml_glyph_text_scale (void)
{
  GtkSettings *settings = gtk_settings_get_default ();
  int dpi = -1;

  if (settings != NULL)
    g_object_get (settings, "gtk-xft-dpi", &dpi, NULL);
  return dpi > 0 ? CLAMP (dpi / 1024.0 / 96.0, 1.0, 3.0) : 1.0;
}

GtkWidget *
ml_glyph_new (MlGlyph glyph, int size)
{
  GtkWidget *area = g_object_new (GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_PRESENTATION, "can-target", FALSE, NULL);
  int pixels = (int) lround (size * ml_glyph_text_scale ());

  gtk_drawing_area_set_content_width (GTK_DRAWING_AREA (area), pixels);
  gtk_drawing_area_set_content_height (GTK_DRAWING_AREA (area), pixels);
  gtk_widget_set_valign (area, GTK_ALIGN_CENTER);
  gtk_widget_set_halign (area, GTK_ALIGN_CENTER);
  gtk_drawing_area_set_draw_func (GTK_DRAWING_AREA (area), draw_glyph_cb, GUINT_TO_POINTER (glyph), NULL);
  return area;
}

typedef struct { MlKind kind; const char *name; MlPaper paper; } PartPicture;

static void
draw_part_cb (GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  const PartPicture *picture = data;

  if (picture->name != NULL)
    ml_paint_symbol_icon (cr, picture->name, width, height, picture->paper);
  else
    ml_paint_part_icon (cr, picture->kind, width, height, picture->paper);
}

static GtkWidget *
picture_new (PartPicture of, int width, int height)
{
  GtkWidget *area = g_object_new (GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_PRESENTATION, NULL);
  PartPicture *picture = g_new (PartPicture, 1);

  *picture = of;
  gtk_drawing_area_set_content_width (GTK_DRAWING_AREA (area), width);
  gtk_drawing_area_set_content_height (GTK_DRAWING_AREA (area), height);
  gtk_drawing_area_set_draw_func (GTK_DRAWING_AREA (area), draw_part_cb, picture, g_free);
  return area;
}

GtkWidget *
ml_glyph_button_new (MlGlyph glyph, int size, const char *name)
{
  GtkWidget *button = gtk_button_new ();

  gtk_button_set_child (GTK_BUTTON (button), ml_glyph_new (glyph, size));
  gtk_button_set_has_frame (GTK_BUTTON (button), FALSE);
  gtk_widget_add_css_class (button, "small");
  gtk_widget_set_tooltip_text (button, name);
  gtk_accessible_update_property (GTK_ACCESSIBLE (button), GTK_ACCESSIBLE_PROPERTY_LABEL, name, -1);
  return button;
}

GtkWidget *
ml_part_picture_new (MlKind kind, int width, int height, MlPaper paper)
{
  return picture_new ((PartPicture){ kind, NULL, paper }, width, height);
}

GtkWidget *
ml_symbol_picture_new (const char *name, int width, int height, MlPaper paper)
{
  return picture_new ((PartPicture){ ML_N_KINDS, name, paper }, width, height);
}
