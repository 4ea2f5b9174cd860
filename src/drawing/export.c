/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/export.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <errno.h>
#include <gio/gio.h>
#include <math.h>
#include <string.h>

#include "board/file.h"
#include "drawing/export-sheet.h"
#include "drawing/title-block.h"

#define POINTS_PER_MM (72 / 25.4)
#define POINTS_PER_G (ML_MM_PER_G * POINTS_PER_MM)
#define MOST_PIXELS_A_SIDE 32767.0 /* cairo's image surfaces end there */
#define MOST_PIXELS 2.5e8          /* a gigabyte of them */

static cairo_status_t
append_cb (void *closure, const unsigned char *data, unsigned int length)
{
  g_byte_array_append (closure, data, length);
  return CAIRO_STATUS_SUCCESS;
}

static cairo_status_t
draw_on (cairo_surface_t *surface, const MlExportSheet *sheet, double scale)
{
  cairo_t *cr = cairo_create (surface);
  cairo_status_t status;

  cairo_scale (cr, scale, scale);
  ml_export_sheet_paint (cr, sheet, TRUE);
  status = cairo_status (cr);
  cairo_destroy (cr);
  return status;
}

static gboolean
drawn (cairo_status_t status, GError **error)
{
  if (status == CAIRO_STATUS_SUCCESS)
    return TRUE;
  g_set_error (error, G_IO_ERROR, status == CAIRO_STATUS_NO_MEMORY ? G_IO_ERROR_NO_SPACE : G_IO_ERROR_FAILED, "the picture could not be drawn: %s",
               cairo_status_to_string (status));
  return FALSE;
}

/* The checksum of PNG's chunks: ISO 3309, the polynomial 0xedb88320 (W3C PNG specification, annex D). */
static guint32
png_checksum (const guint8 *data, gsize n)
{
  guint32 sum = 0xffffffff;

  for (gsize i = 0; i < n; i++)
    {
      sum ^= data[i];
      for (int bit = 0; bit < 8; bit++)
        sum = (sum >> 1) ^ (sum & 1 ? 0xedb88320 : 0);
    }
  return sum ^ 0xffffffff;
}

static void
put_be32 (guint8 *at, guint32 value)
{
  for (int i = 0; i < 4; i++)
    at[i] = (guint8) (value >> (24 - 8 * i));
}

/* Says how large the picture is on paper: chunk pHYs, pixels a metre, behind the header chunk (W3C PNG specification, 11.3.5.3). */
static void
say_resolution (GByteArray *bytes, double dpi)
{
  const guint header_end = 8 + 25; /* signature; length, type, 13 bytes, checksum */
  const guint32 per_metre = (guint32) (dpi / 0.0254 + 0.5);
  guint8 chunk[21] = { 0, 0, 0, 9, 'p', 'H', 'Y', 's', [16] = 1 };
  g_autoptr (GByteArray) whole = g_byte_array_sized_new (bytes->len + sizeof chunk);

  put_be32 (chunk + 8, per_metre);
  put_be32 (chunk + 12, per_metre);
  put_be32 (chunk + 17, png_checksum (chunk + 4, 13));
  g_byte_array_append (whole, bytes->data, header_end);
  g_byte_array_append (whole, chunk, sizeof chunk);
  g_byte_array_append (whole, bytes->data + header_end, bytes->len - header_end);
  g_byte_array_set_size (bytes, 0);
  g_byte_array_append (bytes, whole->data, whole->len);
}

/* How many dots per inch would still do, for the message. */
static gboolean
too_many_pixels (double width, double height, double dpi, GError **error)
{
  const double most = MIN (MOST_PIXELS_A_SIDE / MAX (width, height), sqrt (MOST_PIXELS / (width * height)));

  if (most >= 1)
    return FALSE;
  g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_ARGUMENT,
               "at %.0f dots per inch the picture would have %.0f x %.0f pixels, which is too many; take %.0f dots per inch or fewer, or PDF or SVG", dpi,
               width, height, floor (dpi * most));
  return TRUE;
}

static gboolean
make_png (GByteArray *bytes, const MlExportSheet *sheet, double dpi, GError **error)
{
  const double scale = ML_MM_PER_G / 25.4 * dpi, width = sheet->width * scale, height = sheet->height * scale;
  cairo_surface_t *surface;
  cairo_status_t status;

  if (too_many_pixels (width, height, dpi, error))
    return FALSE;
  surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, MAX ((int) (width + 0.5), 1), MAX ((int) (height + 0.5), 1));
  status = draw_on (surface, sheet, scale);
  if (status == CAIRO_STATUS_SUCCESS)
    status = cairo_surface_write_to_png_stream (surface, append_cb, bytes);
  cairo_surface_destroy (surface);
  if (status == CAIRO_STATUS_SUCCESS)
    say_resolution (bytes, dpi);
  return drawn (status, error);
}

/* Title and description for readers who cannot see the picture, behind the opening svg element. */
static void
describe_svg (GByteArray *bytes, const MlExportSheet *sheet)
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

static gboolean
make_svg (GByteArray *bytes, const MlExportSheet *sheet, double dpi, GError **error)
{
  cairo_surface_t *surface = cairo_svg_surface_create_for_stream (append_cb, bytes, sheet->width * POINTS_PER_G, sheet->height * POINTS_PER_G);
  cairo_status_t status;

  cairo_svg_surface_set_document_unit (surface, CAIRO_SVG_UNIT_PT);
  status = draw_on (surface, sheet, POINTS_PER_G);
  cairo_surface_finish (surface);
  status = status == CAIRO_STATUS_SUCCESS ? cairo_surface_status (surface) : status;
  cairo_surface_destroy (surface);
  if (status == CAIRO_STATUS_SUCCESS)
    {
      renumber_surfaces (bytes);
      describe_svg (bytes, sheet);
    }
  return drawn (status, error);
}

static gboolean
make_pdf (GByteArray *bytes, const MlExportSheet *sheet, double dpi, GError **error)
{
  cairo_surface_t *surface = cairo_pdf_surface_create_for_stream (append_cb, bytes, sheet->width * POINTS_PER_G, sheet->height * POINTS_PER_G);
  g_autofree char *title = ml_title_text (sheet->scene, sheet->overlay), *subject = ml_title_description (sheet->scene, sheet->overlay);
  g_autofree char *date = ml_title_date (sheet->overlay);
  cairo_status_t status;

  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_TITLE, title);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_SUBJECT, subject);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_CREATOR, "Meterleaf");
  /* The job's own date, not the clock's: the same job gives the same bytes. */
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
  cairo_pdf_surface_set_metadata (surface, CAIRO_PDF_METADATA_MOD_DATE, date);
  status = draw_on (surface, sheet, POINTS_PER_G);
  cairo_surface_finish (surface);
  status = status == CAIRO_STATUS_SUCCESS ? cairo_surface_status (surface) : status;
  cairo_surface_destroy (surface);
  return drawn (status, error);
}

typedef gboolean (*Make) (GByteArray *bytes, const MlExportSheet *sheet, double dpi, GError **error);

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

GBytes *
ml_export_bytes (const char *ending, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, GError **error)
{
  Make make = maker_for (ending, error);
  GByteArray *bytes;
  MlExportSheet sheet;
  gboolean made;

  if (make == NULL)
    return NULL;
  bytes = g_byte_array_new ();
  sheet = ml_export_sheet (scene, overlay, options);
  made = make (bytes, &sheet, options->dpi > 0 ? options->dpi : ML_EXPORT_DPI, error);
  ml_export_sheet_clear (&sheet);
  if (made)
    return g_byte_array_free_to_bytes (bytes);
  g_byte_array_unref (bytes);
  return NULL;
}

gboolean
ml_export_picture (const char *path, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options, GError **error)
{
  g_autoptr (GBytes) bytes = ml_export_bytes (path, scene, overlay, options, error);

  if (bytes == NULL)
    {
      if (error != NULL && !g_error_matches (*error, G_IO_ERROR, G_IO_ERROR_NOT_SUPPORTED))
        g_prefix_error (error, "%s: ", path);
      return FALSE;
    }
  return ml_file_save (path, bytes, NULL, error);
}

gboolean
ml_export_check_name (const char *path, GError **error)
{
  return maker_for (path, error) != NULL;
}

double
ml_export_scale (const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  MlExportSheet sheet = ml_export_sheet (scene, overlay, options);

  ml_export_sheet_clear (&sheet);
  return sheet.scale;
}

void
ml_export_paint_on (cairo_t *cr, double width_mm, double height_mm, const MlScene *scene, const MlOverlay *overlay, const MlExportOptions *options)
{
  MlExportSheet sheet = ml_export_sheet_on (scene, overlay, options, width_mm / ML_MM_PER_G, height_mm / ML_MM_PER_G, 0.5);

  cairo_save (cr);
  cairo_scale (cr, ML_MM_PER_G, ML_MM_PER_G);
  ml_export_sheet_paint (cr, &sheet, FALSE);
  cairo_restore (cr);
  ml_export_sheet_clear (&sheet);
}
