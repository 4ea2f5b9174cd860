/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/photo.h"

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <librsvg/rsvg.h>
#include <math.h>
#include <string.h>

#define KEPT_SIDE_PX 4096   /* of the largest copy kept: more than a screen shows */
#define VECTOR_SIDE_PX 3072 /* an SVG's copy for the screen */
#define PAPER_SIDE_PX 2048  /* of what goes into a PDF or SVG: enough for 200 dpi on A4 */
#define SMALLEST_SIDE_PX 256
#define MAX_LEVELS 6
#define SNIFFED_BYTES 4096

struct _MlPhoto
{
  double width_px, height_px;
  cairo_surface_t *levels[MAX_LEVELS]; /* each half the one before: painting small takes a small one */
  guint n_levels;
  RsvgHandle *vector; /* NULL: pixels only */
};

/* ---- copies in several sizes ---- */

/* GdkPixbuf keeps straight alpha, red first; cairo premultiplied, native order. */
static void
copy_row (const guchar *from, guint32 *to, int width, int n_channels)
{
  for (int x = 0; x < width; x++, from += n_channels)
    {
      guint alpha = n_channels == 4 ? from[3] : 255;

      to[x] = alpha << 24 | (from[0] * alpha + 127) / 255 << 16 | (from[1] * alpha + 127) / 255 << 8 | (from[2] * alpha + 127) / 255;
    }
}

static cairo_surface_t *
surface_of (const GdkPixbuf *pixbuf)
{
  int width = gdk_pixbuf_get_width (pixbuf), height = gdk_pixbuf_get_height (pixbuf), n_channels = gdk_pixbuf_get_n_channels (pixbuf);
  cairo_surface_t *surface = cairo_image_surface_create (n_channels == 4 ? CAIRO_FORMAT_ARGB32 : CAIRO_FORMAT_RGB24, width, height);

  if (cairo_surface_status (surface) != CAIRO_STATUS_SUCCESS)
    return surface;
  cairo_surface_flush (surface);
  for (int y = 0; y < height; y++)
    copy_row (gdk_pixbuf_read_pixels (pixbuf) + (gsize) y * (gsize) gdk_pixbuf_get_rowstride (pixbuf),
              (guint32 *) (void *) (cairo_image_surface_get_data (surface) + (gsize) y * (gsize) cairo_image_surface_get_stride (surface)), width,
              n_channels);
  cairo_surface_mark_dirty (surface);
  return surface;
}

static cairo_surface_t *
halved (cairo_surface_t *from)
{
  int width = cairo_image_surface_get_width (from), height = cairo_image_surface_get_height (from);
  int half_width = MAX (1, width / 2), half_height = MAX (1, height / 2);
  cairo_surface_t *to = cairo_image_surface_create (cairo_image_surface_get_format (from), half_width, half_height);
  cairo_t *cr = cairo_create (to);

  cairo_scale (cr, (double) half_width / width, (double) half_height / height);
  cairo_set_source_surface (cr, from, 0, 0);
  cairo_pattern_set_filter (cairo_get_source (cr), CAIRO_FILTER_GOOD);
  cairo_set_operator (cr, CAIRO_OPERATOR_SOURCE);
  cairo_paint (cr);
  cairo_destroy (cr);
  return to;
}

static int
longer_side (cairo_surface_t *surface)
{
  return MAX (cairo_image_surface_get_width (surface), cairo_image_surface_get_height (surface));
}

/* Takes the largest copy and makes the smaller ones of it. */
static void
fill_levels (MlPhoto *self, cairo_surface_t *largest)
{
  self->levels[self->n_levels++] = largest;
  while (self->n_levels < MAX_LEVELS && longer_side (self->levels[self->n_levels - 1]) > SMALLEST_SIDE_PX)
    {
      self->levels[self->n_levels] = halved (self->levels[self->n_levels - 1]);
      self->n_levels++;
    }
}

/* ---- reading ---- */

static gboolean
size_is_fine (const char *path, double width_px, double height_px, GError **error)
{
  if (!(width_px >= 1 && height_px >= 1))
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_DATA, "%s: the picture says no size of its own; give it one, or take a photo", path);
  else if (width_px > ML_PHOTO_MAX_SIDE_PX || height_px > ML_PHOTO_MAX_SIDE_PX || width_px * height_px > ML_PHOTO_MAX_PX)
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_NO_SPACE,
                 "%s: the picture has %.0f x %.0f pixels; at most %d a side and %.0f million in all are taken: make it smaller first", path, width_px,
                 height_px, ML_PHOTO_MAX_SIDE_PX, ML_PHOTO_MAX_PX / 1e6);
  else
    return TRUE;
  return FALSE;
}

static void
say_damaged (const char *path, const char *why, GError **error)
{
  g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_DATA, "%s: the picture is damaged: %s; take it again or save it anew", path,
               why != NULL ? why : "it cannot be decoded");
}

static gboolean
is_sideways (const GdkPixbuf *pixbuf)
{
  const char *orientation = gdk_pixbuf_get_option ((GdkPixbuf *) pixbuf, "orientation");

  return orientation != NULL && *orientation >= '5' && *orientation <= '8';
}

static gboolean
read_pixels (MlPhoto *self, const char *path, GError **error)
{
  g_autoptr (GError) why = NULL;
  g_autoptr (GdkPixbuf) pixbuf = NULL, upright = NULL;
  int width = 0, height = 0;
  double factor;

  if (gdk_pixbuf_get_file_info (path, &width, &height) == NULL)
    {
      say_damaged (path, NULL, error);
      return FALSE;
    }
  if (!size_is_fine (path, width, height, error))
    return FALSE;
  factor = MIN (1.0, (double) KEPT_SIDE_PX / MAX (width, height));
  pixbuf = factor < 1 ? gdk_pixbuf_new_from_file_at_scale (path, MAX (1, (int) lround (width * factor)), MAX (1, (int) lround (height * factor)), FALSE, &why)
                      : gdk_pixbuf_new_from_file (path, &why);
  if (pixbuf == NULL || gdk_pixbuf_get_bits_per_sample (pixbuf) != 8 || gdk_pixbuf_get_n_channels (pixbuf) < 3)
    {
      say_damaged (path, why != NULL ? why->message : NULL, error);
      return FALSE;
    }
  upright = gdk_pixbuf_apply_embedded_orientation (pixbuf);
  self->width_px = is_sideways (pixbuf) ? height : width;
  self->height_px = is_sideways (pixbuf) ? width : height;
  fill_levels (self, surface_of (upright));
  return TRUE;
}

/* The size in pixels that the file asks for, else that of its viewBox. */
static void
vector_size (RsvgHandle *handle, double *ret_width, double *ret_height)
{
  gboolean has_width, has_height, has_view;
  RsvgLength width, height;
  RsvgRectangle view = { 0 };

  if (rsvg_handle_get_intrinsic_size_in_pixels (handle, ret_width, ret_height))
    return;
  rsvg_handle_get_intrinsic_dimensions (handle, &has_width, &width, &has_height, &height, &has_view, &view);
  *ret_width = has_view ? view.width : 0;
  *ret_height = has_view ? view.height : 0;
}

static gboolean
render_vector (cairo_t *cr, const MlPhoto *self, GError **error)
{
  const RsvgRectangle whole = { 0, 0, self->width_px, self->height_px };

  return rsvg_handle_render_document (self->vector, cr, &whole, error);
}

static gboolean
read_vector (MlPhoto *self, const char *path, GBytes *bytes, GError **error)
{
  g_autoptr (GError) why = NULL;
  gsize length;
  const guint8 *data = g_bytes_get_data (bytes, &length);
  cairo_surface_t *surface;
  double factor;
  gboolean fine;
  cairo_t *cr;

  /* Without a base address it can name no other file. */
  self->vector = rsvg_handle_new_from_data (data, length, &why);
  if (self->vector == NULL)
    {
      say_damaged (path, why->message, error);
      return FALSE;
    }
  rsvg_handle_set_dpi (self->vector, 96); /* CSS: 96 px to the inch */
  vector_size (self->vector, &self->width_px, &self->height_px);
  if (!size_is_fine (path, self->width_px, self->height_px, error))
    return FALSE;
  factor = VECTOR_SIDE_PX / MAX (self->width_px, self->height_px);
  surface = cairo_image_surface_create (CAIRO_FORMAT_ARGB32, MAX (1, (int) lround (self->width_px * factor)),
                                        MAX (1, (int) lround (self->height_px * factor)));
  cr = cairo_create (surface);
  cairo_scale (cr, factor, factor);
  fine = render_vector (cr, self, &why);
  cairo_destroy (cr);
  fill_levels (self, surface);
  if (!fine)
    say_damaged (path, why != NULL ? why->message : NULL, error);
  return fine;
}

static gboolean
is_pixels (const guint8 *data, gsize length)
{
  static const guint8 png[] = { 0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n' }, jpeg[] = { 0xff, 0xd8, 0xff };

  return (length > sizeof png && memcmp (data, png, sizeof png) == 0) || (length > sizeof jpeg && memcmp (data, jpeg, sizeof jpeg) == 0);
}

static gboolean
is_vector (const guint8 *data, gsize length)
{
  return g_strstr_len ((const char *) data, (gssize) MIN (length, SNIFFED_BYTES), "<svg") != NULL;
}

static GBytes *
read_bytes (const char *path, GError **error)
{
  g_autoptr (GError) why = NULL;
  char *content = NULL;
  gsize length = 0;
  GStatBuf status;

  if (g_stat (path, &status) == 0 && !S_ISREG (status.st_mode)) /* a device or pipe could go on for ever */
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_NOT_REGULAR_FILE, "%s: this is no file; a picture is a PNG, JPEG or SVG file", path);
  else if (g_stat (path, &status) == 0 && status.st_size > ML_PHOTO_MAX_BYTES)
    g_set_error (error, G_IO_ERROR, G_IO_ERROR_NO_SPACE, "%s: the picture is larger than %d MB: make it smaller first", path,
                 ML_PHOTO_MAX_BYTES / 1024 / 1024);
  else if (!g_file_get_contents (path, &content, &length, &why))
    g_set_error (error, why->domain, why->code, "%s: the picture cannot be read: %s", path,
                 why->code == G_FILE_ERROR_NOENT ? "there is no such file" : why->message);
  else
    return g_bytes_new_take (content, length);
  return NULL;
}

static void
say_no_picture (const char *path, GError **error)
{
  g_set_error (error, G_IO_ERROR, G_IO_ERROR_INVALID_DATA, "%s: this is no picture that can be shown; a PNG, JPEG or SVG is expected", path);
}

gboolean
ml_photo_check (const char *path, GError **error)
{
  g_autoptr (GBytes) bytes = read_bytes (path, error);
  gsize length;

  if (bytes == NULL)
    return FALSE;
  const guint8 *data = g_bytes_get_data (bytes, &length);
  if (length > 0 && (is_pixels (data, length) || is_vector (data, length)))
    return TRUE;
  say_no_picture (path, error);
  return FALSE;
}

MlPhoto *
ml_photo_load (const char *path, GError **error)
{
  g_autoptr (MlPhoto) self = g_atomic_rc_box_new0 (MlPhoto);
  g_autoptr (GBytes) bytes = read_bytes (path, error);
  const guint8 *data;
  gsize length;
  gboolean fine = FALSE;

  if (bytes == NULL)
    return NULL;
  data = g_bytes_get_data (bytes, &length);
  if (length > 0 && is_pixels (data, length))
    fine = read_pixels (self, path, error);
  else if (length > 0 && is_vector (data, length))
    fine = read_vector (self, path, bytes, error);
  else
    say_no_picture (path, error);
  return fine ? g_steal_pointer (&self) : NULL;
}

MlPhoto *
ml_photo_ref (MlPhoto *self)
{
  return g_atomic_rc_box_acquire (self);
}

static void
photo_clear (gpointer data)
{
  MlPhoto *self = data;

  for (guint i = 0; i < self->n_levels; i++)
    cairo_surface_destroy (self->levels[i]);
  g_clear_object (&self->vector);
}

void
ml_photo_unref (MlPhoto *self)
{
  if (self != NULL)
    g_atomic_rc_box_release_full (self, photo_clear);
}

void
ml_photo_size (const MlPhoto *self, double *ret_width_px, double *ret_height_px)
{
  *ret_width_px = self->width_px;
  *ret_height_px = self->height_px;
}

/* ---- painting ---- */

static gboolean
is_for_screen (cairo_t *cr)
{
  cairo_surface_type_t type = cairo_surface_get_type (cairo_get_group_target (cr));

  return type != CAIRO_SURFACE_TYPE_PDF && type != CAIRO_SURFACE_TYPE_SVG && type != CAIRO_SURFACE_TYPE_PS;
}

/* The smallest copy that still has a pixel for each of the device's. */
static guint
level_for (cairo_t *cr, const MlPhoto *self)
{
  double dx = 1, dy = 0, wanted;
  guint level = 0;

  cairo_user_to_device_distance (cr, &dx, &dy);
  wanted = is_for_screen (cr) ? hypot (dx, dy) * MAX (self->width_px, self->height_px) : PAPER_SIDE_PX;
  while (level + 1 < self->n_levels && longer_side (self->levels[level + 1]) >= wanted)
    level++;
  return level;
}

void
ml_photo_paint (cairo_t *cr, const MlPhoto *self)
{
  cairo_surface_t *level = self->levels[level_for (cr, self)];

  cairo_save (cr);
  if (self->vector != NULL && !is_for_screen (cr) && render_vector (cr, self, NULL))
    {
      cairo_restore (cr);
      return;
    }
  cairo_scale (cr, self->width_px / cairo_image_surface_get_width (level), self->height_px / cairo_image_surface_get_height (level));
  cairo_set_source_surface (cr, level, 0, 0);
  cairo_pattern_set_filter (cairo_get_source (cr), CAIRO_FILTER_GOOD);
  cairo_pattern_set_extend (cairo_get_source (cr), CAIRO_EXTEND_PAD);
  cairo_rectangle (cr, 0, 0, cairo_image_surface_get_width (level), cairo_image_surface_get_height (level));
  cairo_fill (cr);
  cairo_restore (cr);
}
