/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/paint-text.h"

#include <pango/pangocairo.h>

/* Text is set at this many units per g and scaled down, so that Pango's own rounding does not show. */
#define UNITS 64.0

/* Setting a word costs ten times what showing it does, and a drawing shows the same words again and again. Pango's objects belong to one
 * thread, so each thread keeps its own; when there are many, all are dropped. */
#define MOST_LAYOUTS 4096

static void
layouts_free (gpointer layouts)
{
  g_hash_table_unref (layouts);
}

static GPrivate layouts_of_thread = G_PRIVATE_INIT (layouts_free);

/* Without hints: they would move glyphs by whole pixels, and text would be as wide as the zoom makes it. */
static PangoContext *
context_new (void)
{
  PangoContext *context = pango_font_map_create_context (pango_cairo_font_map_get_default ());
  cairo_font_options_t *options = cairo_font_options_create ();

  cairo_font_options_set_hint_style (options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics (options, CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_antialias (options, CAIRO_ANTIALIAS_GRAY);
  pango_cairo_context_set_font_options (context, options);
  pango_cairo_context_set_resolution (context, 72);
  pango_context_set_round_glyph_positions (context, FALSE);
  cairo_font_options_destroy (options);
  return context;
}

static PangoLayout *
layout_make (const char *text, const MlTextStyle *style)
{
  PangoContext *context = context_new ();
  PangoFontDescription *font = pango_font_description_from_string (style->font != NULL ? style->font : "Sans");
  PangoLayout *layout;

  pango_font_description_set_absolute_size (font, style->height * UNITS * PANGO_SCALE);
  pango_font_description_set_weight (font, style->bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  layout = pango_layout_new (context);
  pango_layout_set_font_description (layout, font);
  pango_layout_set_text (layout, text, -1);
  if (style->width > 0)
    {
      pango_layout_set_width (layout, (int) (style->width * UNITS * PANGO_SCALE));
      pango_layout_set_wrap (layout, PANGO_WRAP_WORD_CHAR);
    }
  pango_font_description_free (font);
  g_object_unref (context);
  return layout;
}

static GHashTable *
layouts_get (void)
{
  GHashTable *layouts = g_private_get (&layouts_of_thread);

  if (layouts != NULL && g_hash_table_size (layouts) < MOST_LAYOUTS)
    return layouts;
  layouts = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, g_object_unref);
  g_private_replace (&layouts_of_thread, layouts);
  return layouts;
}

/* A reference to the layout of that text. */
static PangoLayout *
layout_new (const char *text, const MlTextStyle *style)
{
  GHashTable *layouts = layouts_get ();
  char *key = g_strdup_printf ("%a %a %d %s\n%s", style->height, style->width, style->bold, style->font != NULL ? style->font : "", text);
  PangoLayout *layout = g_hash_table_lookup (layouts, key);

  if (layout == NULL)
    {
      layout = layout_make (text, style);
      g_hash_table_insert (layouts, key, layout);
    }
  else
    g_free (key);
  return g_object_ref (layout);
}

static void
layout_show (cairo_t *cr, PangoLayout *layout, double x, double y, double scale, const MlColour *colour)
{
  cairo_save (cr);
  cairo_set_source_rgb (cr, colour->r, colour->g, colour->b);
  cairo_translate (cr, x, y);
  cairo_scale (cr, scale / UNITS, scale / UNITS);
  cairo_move_to (cr, 0, 0);
  pango_cairo_show_layout (cr, layout);
  cairo_restore (cr);
}

void
ml_text_size (const char *text, const MlTextStyle *style, double *ret_width, double *ret_height)
{
  PangoLayout *layout = layout_new (text, style);
  int width, height;

  pango_layout_get_size (layout, &width, &height);
  *ret_width = width / UNITS / PANGO_SCALE;
  *ret_height = height / UNITS / PANGO_SCALE;
  g_object_unref (layout);
}

void
ml_text_draw (cairo_t *cr, const char *text, double x, double y, const MlTextStyle *style)
{
  PangoLayout *layout = layout_new (text, style);

  layout_show (cr, layout, x, y, 1, &style->colour);
  g_object_unref (layout);
}

void
ml_text_draw_middle (cairo_t *cr, const char *text, double x, double y, const MlTextStyle *style)
{
  PangoLayout *layout = layout_new (text, style);
  PangoRectangle ink;

  pango_layout_get_extents (layout, &ink, NULL);
  x -= (ink.x + ink.width / 2.0) / UNITS / PANGO_SCALE;
  y -= (ink.y + ink.height / 2.0) / UNITS / PANGO_SCALE;
  layout_show (cr, layout, x, y, 1, &style->colour);
  g_object_unref (layout);
}

void
ml_text_draw_in (cairo_t *cr, const char *text, const MlBox *box, int align, const MlTextStyle *style)
{
  PangoLayout *layout = layout_new (text, style);
  double width, height, room = box->x1 - box->x0, scale = 1;
  int w, h;

  pango_layout_get_size (layout, &w, &h);
  width = w / UNITS / PANGO_SCALE;
  height = h / UNITS / PANGO_SCALE;
  if (width > room && room > 0)
    scale = room / width;
  layout_show (cr, layout, box->x0 + (room - width * scale) * (align + 1) / 2, (box->y0 + box->y1 - height * scale) / 2, scale, &style->colour);
  g_object_unref (layout);
}
