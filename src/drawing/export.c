/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/export.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <errno.h>
#include <gio/gio.h>
#include <string.h>

#include "drawing/paint-private.h"
#include "drawing/title-block.h"

#define POINTS_PER_G (2.5 / 25.4 * 72.0) /* 1 g is 2.5 mm */
#define MARGIN_G 2.0
#define SMALLEST_WIDTH_G 44.0 /* so that the title block has room for its sentences */
#define MOST_PIXELS 30000.0   /* cairo's image surfaces end at 32767 */

typedef struct
{
  const MlScene *scene;
  const MlOverlay *overlay;
  MlPaintStyle style;
  MlBox drawing;      /* scene and marks, in g */
  double width, height, block; /* of the whole sheet; of the title block, 0: none */
} Sheet;

static Sheet
plan_sheet (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, double scale)
{
  Sheet sheet = { .scene = scene, .overlay = overlay, .style = { .paper = options->paper, .scale = scale, .legend = TRUE } };

  sheet.drawing = ml_paint_extent (scene, overlay, &sheet.style);
  sheet.width = MAX (sheet.drawing.x1 - sheet.drawing.x0 + 2 * MARGIN_G, options->title_block ? SMALLEST_WIDTH_G : 0);
  if (options->title_block)
    sheet.block = ml_title_block_paint (NULL, scene, overlay, MARGIN_G, 0, sheet.width - 2 * MARGIN_G, &sheet.style);
  sheet.height = sheet.drawing.y1 - sheet.drawing.y0 + 2 * MARGIN_G + (sheet.block > 0 ? sheet.block + MARGIN_G : 0);
  return sheet;
}

static void
paint_sheet (cairo_t *cr, const Sheet *sheet)
{
  const MlPalette *palette = ml_palette (sheet->style.paper);
  const double drawn = sheet->drawing.x1 - sheet->drawing.x0;

  ml_paint_colour (cr, &palette->paper);
  cairo_paint (cr);
  cairo_scale (cr, sheet->style.scale, sheet->style.scale);
  cairo_save (cr);
  cairo_translate (cr, (sheet->width - drawn) / 2 - sheet->drawing.x0, MARGIN_G - sheet->drawing.y0);
  ml_paint_scene (cr, sheet->scene, &sheet->style);
  if (sheet->overlay != NULL)
    ml_paint_overlay (cr, sheet->scene, sheet->overlay, &sheet->style);
  cairo_restore (cr);
  if (sheet->block > 0)
    ml_title_block_paint (cr, sheet->scene, sheet->overlay, MARGIN_G, sheet->height - sheet->block - MARGIN_G, sheet->width - 2 * MARGIN_G,
                          &sheet->style);
}

static cairo_status_t
append_cb (void *closure, const unsigned char *data, unsigned int length)
{
  g_byte_array_append (closure, data, length);
  return CAIRO_STATUS_SUCCESS;
}

static cairo_status_t
draw_on (cairo_surface_t *surface, const Sheet *sheet)
{
  cairo_t *cr = cairo_create (surface);
  cairo_status_t status;

  paint_sheet (cr, sheet);
  status = cairo_status (cr);
  cairo_destroy (cr);
  return status;
}

static cairo_status_t
make_png (GByteArray *bytes, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  const double dpi = options->dpi > 0 ? options->dpi : 150;
  Sheet sheet = plan_sheet (scene, overlay, options, POINTS_PER_G * dpi / 72.0);
  const double largest = MAX (sheet.width, sheet.height);
  cairo_surface_t *surface;
  cairo_status_t status;

  sheet.style.scale = MIN (sheet.style.scale, MOST_PIXELS / largest);
  surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, (int) (sheet.width * sheet.style.scale + 0.5), (int) (sheet.height * sheet.style.scale + 0.5));
  status = draw_on (surface, &sheet);
  if (status == CAIRO_STATUS_SUCCESS)
    status = cairo_surface_write_to_png_stream (surface, append_cb, bytes);
  cairo_surface_destroy (surface);
  return status;
}

/* Title and description for readers who cannot see the picture, behind the opening svg element. */
static void
describe_svg (GByteArray *bytes, const Sheet *sheet)
{
  g_autofree char *title = ml_title_text (sheet->scene, sheet->overlay), *description = ml_title_description (sheet->scene, sheet->overlay);
  g_autofree char *words = g_markup_printf_escaped ("\n<title>%s</title>\n<desc>%s</desc>", title, description);
  const char *text = (const char *) bytes->data;
  const char *open = g_strstr_len (text, bytes->len, "<svg");
  const char *end = open != NULL ? memchr (open, '>', bytes->len - (gsize) (open - text)) : NULL;
  g_autoptr (GByteArray) whole = g_byte_array_new ();

  if (end == NULL)
    return;
  g_byte_array_append (whole, bytes->data, (guint) (end + 1 - text));
  g_byte_array_append (whole, (const guint8 *) words, (guint) strlen (words));
  g_byte_array_append (whole, (const guint8 *) end + 1, bytes->len - (guint) (end + 1 - text));
  g_byte_array_set_size (bytes, 0);
  g_byte_array_append (bytes, whole->data, whole->len);
}

static gboolean
renumber_cb (const GMatchInfo *match, GString *result, gpointer data)
{
  GHashTable *numbers = data;
  g_autofree char *old = g_match_info_fetch (match, 1);
  gpointer number = g_hash_table_lookup (numbers, old);

  if (number == NULL)
    {
      number = GUINT_TO_POINTER (g_hash_table_size (numbers) + 1);
      g_hash_table_insert (numbers, g_strdup (old), number);
    }
  g_string_append_printf (result, "surface%u", GPOINTER_TO_UINT (number));
  return FALSE;
}

/* cairo counts surfaces through the life of a process; counted through the file, the same picture has the same bytes. */
static void
renumber_surfaces (GByteArray *bytes)
{
  g_autoptr (GRegex) regex = g_regex_new ("(?<=[#\"])surface(\\d+)(?=[\")])", 0, 0, NULL);
  g_autoptr (GHashTable) numbers = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, NULL);
  g_autofree char *text
      = g_regex_replace_eval (regex, (const char *) bytes->data, (gssize) bytes->len, 0, 0, renumber_cb, numbers, NULL);

  if (text == NULL)
    return;
  g_byte_array_set_size (bytes, 0);
  g_byte_array_append (bytes, (const guint8 *) text, (guint) strlen (text));
}

static cairo_status_t
make_svg (GByteArray *bytes, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  Sheet sheet = plan_sheet (scene, overlay, options, POINTS_PER_G);
  cairo_surface_t *surface = cairo_svg_surface_create_for_stream (append_cb, bytes, sheet.width * POINTS_PER_G, sheet.height * POINTS_PER_G);
  cairo_status_t status = draw_on (surface, &sheet);

  cairo_surface_finish (surface);
  status = status == CAIRO_STATUS_SUCCESS ? cairo_surface_status (surface) : status;
  cairo_surface_destroy (surface);
  if (status == CAIRO_STATUS_SUCCESS)
    {
      renumber_surfaces (bytes);
      describe_svg (bytes, &sheet);
    }
  return status;
}

static cairo_status_t
make_pdf (GByteArray *bytes, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  Sheet sheet = plan_sheet (scene, overlay, options, POINTS_PER_G);
  cairo_surface_t *surface = cairo_pdf_surface_create_for_stream (append_cb, bytes, sheet.width * POINTS_PER_G, sheet.height * POINTS_PER_G);
  g_autofree char *title = ml_title_text (scene, overlay), *subject = ml_title_description (scene, overlay), *date = ml_title_date (overlay);
  cairo_status_t status;

  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_TITLE, title);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_SUBJECT, subject);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_CREATOR, "Meterleaf");
  /* The job's own date, not the clock's: the same job gives the same bytes. */
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_MOD_DATE, date);
  status = draw_on (surface, &sheet);
  cairo_surface_finish (surface);
  status = status == CAIRO_STATUS_SUCCESS ? cairo_surface_status (surface) : status;
  cairo_surface_destroy (surface);
  return status;
}

typedef cairo_status_t (*Make) (GByteArray *bytes, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options);

static Make
maker_for (const char *path, GError **error)
{
  static const struct { const char *ending; Make make; } makers[] = { { ".png", make_png }, { ".svg", make_svg }, { ".pdf", make_pdf } };
  g_autofree char *lower = g_ascii_strdown (path, -1);
  const char *dot = strrchr (path, '.');

  for (guint i = 0; i < G_N_ELEMENTS (makers); i++)
    if (g_str_has_suffix (lower, makers[i].ending))
      return makers[i].make;
  g_set_error (error, G_IO_ERROR, G_IO_ERROR_NOT_SUPPORTED, "%s: a picture ends in .png, .svg or .pdf%s%s", path, dot != NULL ? ", not " : "",
               dot != NULL ? dot : "");
  return NULL;
}

gboolean
ml_export_picture (const char *path, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, GError **error)
{
  Make make = maker_for (path, error);
  g_autoptr (GByteArray) bytes = g_byte_array_new ();
  cairo_status_t status;

  if (make == NULL)
    return FALSE;
  status = make (bytes, scene, overlay, options);
  if (status != CAIRO_STATUS_SUCCESS)
    {
      g_set_error (error, G_IO_ERROR, status == CAIRO_STATUS_NO_MEMORY ? G_IO_ERROR_NO_SPACE : G_IO_ERROR_FAILED,
                   "%s: the picture could not be drawn: %s", path, cairo_status_to_string (status));
      return FALSE;
    }
  return g_file_set_contents_full (path, (const char *) bytes->data, bytes->len, G_FILE_SET_CONTENTS_CONSISTENT, 0644, error);
}
