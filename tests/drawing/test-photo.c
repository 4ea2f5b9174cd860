/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading pictures: what is taken, what is refused and how that is said, and that painting keeps the picture's own pixels. */
#include "drawing/photo.h"

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

#include "support/near.h"

typedef struct { char *folder, *path; } Kit;

static int
set_up (void **state)
{
  Kit *kit = g_new0 (Kit, 1);

  kit->folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  kit->path = g_build_filename (kit->folder, "picture", NULL);
  *state = kit;
  return kit->folder == NULL;
}

static int
tear_down (void **state)
{
  Kit *kit = *state;

  g_unlink (kit->path);
  g_rmdir (kit->folder);
  g_free (kit->path);
  g_free (kit->folder);
  g_free (kit);
  return 0;
}

/* Left half red, right half blue, and a white line of pixels on top. */
static GdkPixbuf *
two_halves (int width, int height)
{
  GdkPixbuf *pixbuf = gdk_pixbuf_new (GDK_COLORSPACE_RGB, FALSE, 8, width, height);
  g_autoptr (GdkPixbuf) right = gdk_pixbuf_new_subpixbuf (pixbuf, width / 2, 0, width - width / 2, height);
  g_autoptr (GdkPixbuf) top = gdk_pixbuf_new_subpixbuf (pixbuf, 0, 0, width, MAX (1, height / 4));

  gdk_pixbuf_fill (pixbuf, 0xff0000ff);
  gdk_pixbuf_fill (right, 0x0000ffff);
  gdk_pixbuf_fill (top, 0xffffffff);
  return pixbuf;
}

static MlPhoto *
load (const Kit *kit)
{
  g_autoptr (GError) error = NULL;
  MlPhoto *photo = ml_photo_load (kit->path, &error);
  assert_true (ml_photo_check (kit->path, NULL));

  if (photo == NULL)
    print_error ("%s\n", error->message);
  assert_non_null (photo);
  return photo;
}

static void
assert_refused (const Kit *kit, const char *bytes, gsize length, const char *word)
{
  g_autoptr (GError) error = NULL;

  assert_true (g_file_set_contents (kit->path, bytes, (gssize) length, NULL));
  assert_null (ml_photo_load (kit->path, &error));
  if (strstr (word, "PNG") != NULL || strstr (word, "no picture") != NULL) /* seen before it is decoded */
    {
      g_autoptr (GError) sooner = NULL;
      assert_false (ml_photo_check (kit->path, &sooner));
      assert_string_equal (sooner->message, error->message);
    }
  assert_non_null (error);
  assert_non_null (strstr (error->message, kit->path));
  if (strstr (error->message, word) == NULL)
    print_error ("'%s' is not in '%s'\n", word, error->message);
  assert_non_null (strstr (error->message, word));
}

/* The colour at a point of the picture when it is painted at that scale. */
static guint32
painted (const MlPhoto *photo, double scale, double x_px, double y_px)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, 40, 40);
  cairo_t *cr = cairo_create (surface);
  guint32 colour;

  cairo_scale (cr, scale, scale);
  cairo_translate (cr, 20 / scale - x_px, 20 / scale - y_px);
  ml_photo_paint (cr, photo);
  assert_int_equal (cairo_status (cr), CAIRO_STATUS_SUCCESS);
  cairo_destroy (cr);
  cairo_surface_flush (surface);
  colour = ((guint32 *) (void *) (cairo_image_surface_get_data (surface) + 20 * cairo_image_surface_get_stride (surface)))[20] & 0xffffff;
  cairo_surface_destroy (surface);
  return colour;
}

static void
assert_halves (const MlPhoto *photo, double scale, double width, double height)
{
  assert_int_equal (painted (photo, scale, 0.25 * width, 0.6 * height), 0xff0000);
  assert_int_equal (painted (photo, scale, 0.75 * width, 0.6 * height), 0x0000ff);
  assert_int_equal (painted (photo, scale, 0.25 * width, 0.1 * height), 0xffffff);
}

static void
test_png_is_painted_pixel_for_pixel_and_small (void **state)
{
  const Kit *kit = *state;
  g_autoptr (GdkPixbuf) pixbuf = two_halves (600, 400);
  double width, height;

  assert_true (gdk_pixbuf_save (pixbuf, kit->path, "png", NULL, NULL));
  g_autoptr (MlPhoto) photo = load (kit);
  ml_photo_size (photo, &width, &height);
  assert_true (width == 600 && height == 400);
  assert_halves (photo, 1, width, height);
  assert_halves (photo, 0.1, width, height);
  assert_halves (photo, 7, width, height);
}

/* Larger than what is kept: the size stays that of the file, in whose pixels the pads are written. */
static void
test_large_picture_keeps_its_own_pixels (void **state)
{
  const Kit *kit = *state;
  g_autoptr (GdkPixbuf) pixbuf = two_halves (9000, 3000);
  double width, height;

  assert_true (gdk_pixbuf_save (pixbuf, kit->path, "png", NULL, "compression", "1", NULL));
  g_autoptr (MlPhoto) photo = load (kit);
  ml_photo_size (photo, &width, &height);
  assert_true (width == 9000 && height == 3000);
  assert_halves (photo, 0.05, width, height);
}

/* A camera held upright stores a lying picture and says so in its Exif data (orientation 6: turn a quarter clockwise to see it; Exif 2.32,
 * tag 0x0112, from memory). The segment is put together here by hand. */
static void
test_jpeg_is_turned_as_its_camera_says (void **state)
{
  static const guint8 exif[] = { 0xff, 0xe1, 0, 34, 'E', 'x', 'i', 'f', 0, 0, 'I', 'I', 42, 0, 8, 0, 0, 0, 1, 0, 0x12, 1, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0, 0, 0, 0, 0 };
  const Kit *kit = *state;
  g_autoptr (GdkPixbuf) pixbuf = two_halves (640, 320);
  g_autofree char *plain = NULL;
  g_autoptr (GByteArray) bytes = g_byte_array_new ();
  gsize length;
  double width, height;

  assert_true (gdk_pixbuf_save_to_buffer (pixbuf, &plain, &length, "jpeg", NULL, "quality", "100", NULL));
  g_byte_array_append (bytes, (const guint8 *) plain, 2);
  g_byte_array_append (bytes, exif, sizeof exif);
  g_byte_array_append (bytes, (const guint8 *) plain + 2, (guint) length - 2);
  assert_true (g_file_set_contents (kit->path, (const char *) bytes->data, bytes->len, NULL));
  g_autoptr (MlPhoto) photo = load (kit);
  ml_photo_size (photo, &width, &height);
  assert_true (width == 320 && height == 640);
  /* clockwise: the left half comes to lie on top, the upper edge at the right */
  assert_true ((painted (photo, 1, 100, 100) & 0xff0000) > 0xf00000 && (painted (photo, 1, 100, 100) & 0xff) < 0x20);
  assert_true ((painted (photo, 1, 100, 540) & 0xff) > 0xf0);
  assert_true ((painted (photo, 1, 300, 100) & 0xff00) > 0xe000);
}

static void
test_svg_is_as_large_as_it_says (void **state)
{
  static const struct { const char *head; double width, height; } table[] = {
    { "<svg xmlns='http://www.w3.org/2000/svg' width='300' height='200' viewBox='0 0 600 400'>", 300, 200 },
    { "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 600 400'>", 600, 400 },
    { "<?xml version='1.0'?>\n<!-- c -->\n<svg xmlns='http://www.w3.org/2000/svg' width='2in' height='1in' viewBox='0 0 600 400'>", 192, 96 }, /* CSS: 96 px to the inch */
  };
  const Kit *kit = *state;

  for (guint i = 0; i < G_N_ELEMENTS (table); i++)
    {
      g_autofree char *svg = g_strconcat (table[i].head, "<rect width='600' height='400' fill='#f00'/><rect x='300' width='300' height='400' fill='#00f'/>"
                                                         "<rect width='600' height='100' fill='#fff'/></svg>", NULL);
      double width, height;

      assert_true (g_file_set_contents (kit->path, svg, -1, NULL));
      g_autoptr (MlPhoto) photo = load (kit);
      ml_photo_size (photo, &width, &height);
      assert_near (width, table[i].width, 0, 1e-9);
      assert_near (height, table[i].height, 0, 1e-9);
      assert_int_equal (painted (photo, 1, 0.3 * width, 0.6 * height), 0xff0000);
      assert_int_equal (painted (photo, 1, 0.7 * width, 0.6 * height), 0x0000ff);
    }
}

/* A PNG's header that claims more pixels than are taken (RFC 2083, 11.2.1: width and height are the first eight bytes of IHDR). */
static void
test_what_is_no_picture_is_refused_and_said (void **state)
{
  static const guint8 huge[] = { 0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n', 0, 0, 0, 13, 'I', 'H', 'D', 'R', 0, 1, 0, 0, 0, 1, 0, 0, 8, 2, 0, 0, 0,
                                 0x7f, 0xbb, 0xdb, 0xe3, 0, 0, 0, 0, 'I', 'D', 'A', 'T' };
  const Kit *kit = *state;
  g_autoptr (GdkPixbuf) pixbuf = two_halves (64, 64);
  g_autofree char *png = NULL;
  g_autoptr (GError) error = NULL;
  gsize length;

  assert_true (gdk_pixbuf_save_to_buffer (pixbuf, &png, &length, "png", NULL, NULL));
  assert_refused (kit, "", 0, "no picture");
  assert_refused (kit, "hello", 5, "PNG, JPEG or SVG");
  assert_refused (kit, "GIF89a;", 7, "PNG, JPEG or SVG");
  assert_refused (kit, png, length / 2, "damaged");
  assert_refused (kit, png, 20, "damaged");
  assert_refused (kit, (const char *) huge, sizeof huge, "damaged"); /* refused by the decoder or by size, never allocated */
  assert_refused (kit, "<svg xmlns='http://www.w3.org/2000/svg' width='40000' height='10'/>", 67, "smaller");
  assert_refused (kit, "<svg xmlns='http://www.w3.org/2000/svg' width='20000' height='20000'/>", 70, "120 million");
  assert_refused (kit, "<svg xmlns='http://www.w3.org/2000/svg'/>", 41, "size");
  assert_refused (kit, "<svg xmlns='http://www.w3.org/2000/svg' width='10' height='10'><g>", 66, "damaged");
  g_unlink (kit->path);
  assert_null (ml_photo_load (kit->path, &error));
  assert_non_null (strstr (error->message, "no such file"));
  g_clear_error (&error);
  assert_null (ml_photo_load (kit->folder, &error));
  assert_non_null (strstr (error->message, "no file"));
}

/* Bytes changed at random (a linear congruential generator of fixed seed): each is refused with a sentence or shown, none ends the program. */
static void
test_damaged_bytes_are_refused_or_shown (void **state)
{
  static const char *const types[] = { "png", "jpeg" };
  const Kit *kit = *state;
  g_autoptr (GdkPixbuf) pixbuf = two_halves (48, 32);
  guint32 seed = 1;

  for (guint t = 0; t < G_N_ELEMENTS (types); t++)
    {
      g_autofree char *bytes = NULL;
      gsize length;

      assert_true (gdk_pixbuf_save_to_buffer (pixbuf, &bytes, &length, types[t], NULL, NULL));
      for (guint i = 0; i < 400; i++)
        {
          g_autofree char *damaged = g_memdup2 (bytes, length);
          g_autoptr (GError) error = NULL;

          for (guint k = 0; k <= i % 8; k++)
            {
              seed = seed * 1664525u + 1013904223u;
              damaged[(seed >> 8) % length] = (char) (seed >> 24);
            }
          assert_true (g_file_set_contents (kit->path, damaged, (gssize) (i % 3 == 0 ? length - i % length : length), NULL));
          g_autoptr (MlPhoto) photo = ml_photo_load (kit->path, &error);
          assert_true ((photo != NULL) == (error == NULL));
        }
    }
}

/* A picture may name no other file: what it would show must not depend on what lies on this computer. */
static void
test_svg_reads_no_other_file (void **state)
{
  const Kit *kit = *state;
  g_autoptr (GdkPixbuf) pixbuf = two_halves (64, 64);
  g_autofree char *other = g_strconcat (kit->path, ".png", NULL);
  g_autofree char *svg = g_strdup_printf ("<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='64' height='64'>"
                                          "<rect width='64' height='64' fill='#0f0'/><image xlink:href='file://%s' width='64' height='64'/></svg>", other);

  assert_true (gdk_pixbuf_save (pixbuf, other, "png", NULL, NULL));
  assert_true (g_file_set_contents (kit->path, svg, -1, NULL));
  g_autoptr (MlPhoto) photo = load (kit);
  assert_int_equal (painted (photo, 1, 16, 40), 0x00ff00);
  g_unlink (other);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_png_is_painted_pixel_for_pixel_and_small, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_large_picture_keeps_its_own_pixels, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_jpeg_is_turned_as_its_camera_says, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_svg_is_as_large_as_it_says, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_what_is_no_picture_is_refused_and_said, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_damaged_bytes_are_refused_or_shown, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_svg_reads_no_other_file, set_up, tear_down),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
