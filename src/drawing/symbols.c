/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/symbols.h"

#include <librsvg/rsvg.h>
#include <string.h>

#include "drawing/paint-text.h"
#include "drawing/symbol-geometry.h"
#include "meterleaf-data.h"

#define FOLDER "/org/meterleaf/data/symbols/"

/* One parsed file with its ink fixed by a style sheet. */
typedef struct
{
  RsvgHandle *handle;
  MlBox view;
  cairo_surface_t *recording; /* what librsvg draws, as drawing commands */
} Symbol;

/* Letters belong upright, so they are not part of the files. Middle and height in g. */
static const struct { const char *name, *text; double x, y, height; } letters[] = {
  { "coil-motor", "M", 0, 2, 1.3 },
  { "varistor", "U", 0.8, 3.0, 0.75 },
  { "thermistor", "ϑ", 0.8, 3.0, 0.75 },
};

/* A handle must not be used by two threads at once, and a parsed symbol is worth keeping: one table behind one lock. */
static GMutex symbols_lock;
static GHashTable *symbols; /* "name colour" -> Symbol */

static void
symbol_free (gpointer data)
{
  Symbol *symbol = data;

  g_clear_object (&symbol->handle);
  g_clear_pointer (&symbol->recording, cairo_surface_destroy);
  g_free (symbol);
}

/* Walking through the parsed file takes librsvg far longer than drawing what it finds there. */
static cairo_surface_t *
record (RsvgHandle *handle, const RsvgRectangle *port)
{
  const cairo_rectangle_t extents = { port->x, port->y, port->width, port->height };
  cairo_surface_t *recording = cairo_recording_surface_create (CAIRO_CONTENT_COLOR_ALPHA, &extents);
  cairo_t *cr = cairo_create (recording);

  rsvg_handle_render_document (handle, cr, port, NULL);
  cairo_destroy (cr);
  return recording;
}

static Symbol *
symbol_parse (const char *name, guint rgb)
{
  g_autofree char *path = g_strconcat (FOLDER, name, ".svg", NULL);
  g_autofree char *style = g_strdup_printf ("svg { color: #%06x }", rgb);
  g_autoptr (GBytes) bytes = g_resource_lookup_data (ml_data_get_resource (), path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  RsvgHandle *handle;
  RsvgRectangle view;
  gboolean has_view = FALSE;
  Symbol *symbol;
  gsize size;
  gconstpointer data;

  if (bytes == NULL)
    return NULL;
  data = g_bytes_get_data (bytes, &size);
  handle = rsvg_handle_new_from_data (data, size, NULL);
  if (handle == NULL)
    return NULL;
  if (rsvg_handle_set_stylesheet (handle, (const guint8 *) style, strlen (style), NULL))
    rsvg_handle_get_intrinsic_dimensions (handle, NULL, NULL, NULL, NULL, &has_view, &view);
  if (!has_view)
    {
      g_object_unref (handle);
      return NULL;
    }
  symbol = g_new0 (Symbol, 1);
  symbol->handle = handle;
  symbol->view = (MlBox) { view.x, view.y, view.x + view.width, view.y + view.height };
  symbol->recording = record (handle, &view);
  return symbol;
}

/* Call with the lock held. */
static Symbol *
symbol_get (const char *name, const MlColour *ink)
{
  guint rgb = ((guint) (ink->r * 255 + 0.5) << 16) | ((guint) (ink->g * 255 + 0.5) << 8) | (guint) (ink->b * 255 + 0.5);
  g_autofree char *key = g_strdup_printf ("%s %06x", name, rgb);
  Symbol *symbol;

  if (symbols == NULL)
    symbols = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, symbol_free);
  symbol = g_hash_table_lookup (symbols, key);
  if (symbol == NULL && (symbol = symbol_parse (name, rgb)) != NULL)
    g_hash_table_insert (symbols, g_steal_pointer (&key), symbol);
  return symbol;
}

static void
draw_letter (cairo_t *cr, const char *name, const MlPlace *place, const MlColour *ink, const char *font)
{
  for (guint i = 0; i < G_N_ELEMENTS (letters); i++)
    if (strcmp (letters[i].name, name) == 0)
      {
        MlPoint middle = ml_place_point (place, letters[i].x, letters[i].y);
        MlTextStyle style = { .font = font, .height = letters[i].height, .colour = *ink };

        ml_text_draw_middle (cr, letters[i].text, middle.x, middle.y, &style);
      }
}

gboolean
ml_symbol_exists (const char *name)
{
  g_autofree char *path = g_strconcat (FOLDER, name, ".svg", NULL);

  return g_resource_get_info (ml_data_get_resource (), path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL, NULL, NULL);
}

gboolean
ml_symbol_draw (cairo_t *cr, const char *name, const MlPlace *place, const MlColour *ink, const char *font)
{
  Symbol *symbol;

  g_mutex_lock (&symbols_lock);
  symbol = symbol_get (name, ink);
  if (symbol != NULL)
    {
      RsvgRectangle port = { symbol->view.x0, symbol->view.y0, symbol->view.x1 - symbol->view.x0, symbol->view.y1 - symbol->view.y0 };

      cairo_save (cr);
      cairo_translate (cr, place->x, place->y);
      cairo_rotate (cr, (place->turn & 3) * G_PI / 2);
      cairo_scale (cr, place->mirror ? -1 : 1, 1);
      if (cairo_surface_get_type (cairo_get_target (cr)) == CAIRO_SURFACE_TYPE_IMAGE)
        {
          cairo_set_source_surface (cr, symbol->recording, 0, 0);
          cairo_paint (cr);
        }
      else /* files hold paths, not pictures of them */
        rsvg_handle_render_document (symbol->handle, cr, &port, NULL);
      cairo_restore (cr);
    }
  g_mutex_unlock (&symbols_lock);
  if (symbol != NULL)
    draw_letter (cr, name, place, ink, font);
  return symbol != NULL;
}
