/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures as files: size, repeatability, text for readers and searchers, errors. */
#include "drawing/export.h"

#include <cairo.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

#include "drawing/layout.h"
#include "support/near.h"

static const char *const divider = "board \"Divider <&> test\" revision=B\nreference G\nhazard mains \"unplug first\"\n"
                                   "part R1 resistor 1=P 2=M value=4k7\npart R2 resistor 1=M 2=G value=10k\npart J1 connector 1=P 2=G\n"
                                   "condition on\n  supply plus=P minus=G voltage=10 limit=1\n";
static const char *const readings = "job \"Two resistors\"\nunit one suspect \"no output\"\nreading one on red=M volts=3.21\n";

typedef struct
{
  MlBoard *board;
  MlJob *job;
  MlScene *scene;
  MlOverlay overlay;
  char *folder;
} Kit;

static int
set_up (void **state)
{
  Kit *kit = g_new0 (Kit, 1);
  g_autoptr (MlText) board = ml_text_new ("divider.leafboard", divider, -1);
  g_autoptr (MlText) job = ml_text_new ("divider.leafjob", readings, -1);
  const MlLayoutOptions options = { .effort = 1 };

  kit->board = ml_board_read (board, NULL);
  kit->job = ml_job_read (job, kit->board, NULL);
  kit->scene = ml_layout (kit->board, &options, NULL, NULL);
  kit->overlay = (MlOverlay) { .job = kit->job, .unit = 0, .condition = 0, .pass = 1, .other_unit = -1, .selected_part = -1,
                               .selected_pin = -1, .hover_part = -1, .hover_pin = -1 };
  kit->folder = g_dir_make_tmp ("meterleaf-XXXXXX", NULL);
  *state = kit;
  return kit->folder == NULL;
}

static int
tear_down (void **state)
{
  Kit *kit = *state;
  g_autoptr (GDir) dir = g_dir_open (kit->folder, 0, NULL);
  const char *name;

  while ((name = g_dir_read_name (dir)) != NULL)
    {
      g_autofree char *path = g_build_filename (kit->folder, name, NULL);
      g_unlink (path);
    }
  g_rmdir (kit->folder);
  g_free (kit->folder);
  ml_scene_unref (kit->scene);
  ml_job_unref (kit->job);
  ml_board_unref (kit->board);
  g_free (kit);
  return 0;
}

static char *
export (Kit *kit, const char *name, const MlExportOptions *options)
{
  char *path = g_build_filename (kit->folder, name, NULL);
  g_autoptr (GError) error = NULL;

  if (!ml_export_picture (path, kit->scene, &kit->overlay, options, &error))
    fail_msg ("%s", error->message);
  return path;
}

/* The sheet is to scale, 2.5 mm a grid unit, so pixels grow as the resolution does. */
static void
test_png_size_follows_the_resolution (void **state)
{
  const double dpi[] = { 72, 150, 600 };
  int width[3], height[3];

  for (guint i = 0; i < 3; i++)
    {
      const MlExportOptions options = { .dpi = dpi[i], .title_block = TRUE };
      g_autofree char *path = export (*state, "p.png", &options);
      cairo_surface_t *surface = cairo_image_surface_create_from_png (path);

      assert_int_equal (cairo_surface_status (surface), CAIRO_STATUS_SUCCESS);
      width[i] = cairo_image_surface_get_width (surface);
      height[i] = cairo_image_surface_get_height (surface);
      cairo_surface_destroy (surface);
    }
  assert_near (width[1], width[0] * 150 / 72.0, 0.03, 2);
  assert_near (width[2], width[0] * 600 / 72.0, 0.03, 9);
  assert_near (height[2], height[0] * 600 / 72.0, 0.03, 9);
}

static void
test_pictures_repeat_byte_for_byte (void **state)
{
  const char *const endings[] = { "png", "pdf", "svg" };
  const MlExportOptions options = { .title_block = TRUE };

  for (guint i = 0; i < G_N_ELEMENTS (endings); i++)
    {
      g_autofree char *first_name = g_strconcat ("a.", endings[i], NULL), *second_name = g_strconcat ("b.", endings[i], NULL);
      g_autofree char *first = export (*state, first_name, &options), *second = export (*state, second_name, &options);
      g_autofree char *a = NULL, *b = NULL;
      gsize n_a = 0, n_b = 0;

      assert_true (g_file_get_contents (first, &a, &n_a, NULL) && g_file_get_contents (second, &b, &n_b, NULL));
      assert_int_equal (n_a, n_b);
      assert_memory_equal (a, b, n_a);
    }
}

static void
test_svg_tells_readers_what_it_shows (void **state)
{
  const MlExportOptions options = { .title_block = TRUE };
  g_autofree char *path = export (*state, "p.svg", &options);
  g_autofree char *content = NULL, *command = g_strdup_printf ("xmllint --noout '%s'", path);
  int status = 0;

  assert_true (g_file_get_contents (path, &content, NULL, NULL));
  assert_non_null (strstr (content, "<title>Two resistors"));
  assert_non_null (strstr (content, "Divider &lt;&amp;&gt; test")); /* escaped, not broken */
  assert_non_null (strstr (content, "R1 Resistor 4k7"));
  assert_non_null (strstr (content, "3.21 V"));
  assert_non_null (strstr (content, "unplug first"));
  assert_true (g_spawn_command_line_sync (command, NULL, NULL, &status, NULL));
  assert_int_equal (status, 0); /* well-formed, says libxml2 */
}

static void
test_pdf_text_can_be_searched (void **state)
{
  const MlExportOptions options = { .title_block = TRUE };
  g_autofree char *path = export (*state, "p.pdf", &options);
  g_autofree char *command = g_strdup_printf ("pdftotext '%s' -", path), *text = NULL;

  assert_true (g_spawn_command_line_sync (command, &text, NULL, NULL, NULL));
  assert_non_null (strstr (text, "R1"));
  assert_non_null (strstr (text, "4k7"));
  assert_non_null (strstr (text, "3.21 V"));
  assert_non_null (strstr (text, "Two resistors"));
}

static void
test_dark_paper_is_dark_and_never_black (void **state)
{
  const MlExportOptions options = { .paper = ML_PAPER_DARK, .dpi = 72 };
  g_autofree char *path = export (*state, "p.png", &options);
  cairo_surface_t *surface = cairo_image_surface_create_from_png (path);
  const guint32 corner = *(const guint32 *) (const void *) cairo_image_surface_get_data (surface) & 0xffffff;

  for (guint shift = 0; shift < 24; shift += 8)
    {
      assert_true (((corner >> shift) & 0xff) > 0x18);
      assert_true (((corner >> shift) & 0xff) < 0x60);
    }
  cairo_surface_destroy (surface);
}

static void
test_errors_leave_nothing_behind (void **state)
{
  Kit *kit = *state;
  const MlExportOptions options = { 0 };
  g_autofree char *strange = g_build_filename (kit->folder, "p.bmp", NULL), *nowhere = g_build_filename (kit->folder, "no", "p.png", NULL);
  g_autoptr (GError) first = NULL;
  g_autoptr (GError) second = NULL;

  assert_false (ml_export_picture (strange, kit->scene, &kit->overlay, &options, &first));
  assert_non_null (strstr (first->message, ".bmp"));
  assert_false (g_file_test (strange, G_FILE_TEST_EXISTS));
  assert_false (ml_export_picture (nowhere, kit->scene, &kit->overlay, &options, &second));
  assert_non_null (strstr (second->message, nowhere));
}

static guint32
be32 (const char *at)
{
  const guint8 *p = (const guint8 *) at;

  return (guint32) p[0] << 24 | (guint32) p[1] << 16 | (guint32) p[2] << 8 | p[3];
}

/* Pixels a metre = dots per inch / 0.0254 (W3C PNG specification, 11.3.5.3: unit 1 is the metre); libpng, through cairo, reads the file, so the
 * chunk's checksum is right. Page sizes: ISO 216 and ANSI/ASME Y14.1 (from memory): 210 x 297, 148 x 210, 215.9 x 279.4 mm. */
static void
test_png_pages_have_their_size_and_say_it (void **state)
{
  const struct { MlPageSize page; MlPageTurn turn; double width_mm, height_mm; } pages[] = {
    { ML_PAGE_A4, ML_PAGE_PORTRAIT, 210, 297 }, { ML_PAGE_A4, ML_PAGE_LANDSCAPE, 297, 210 }, { ML_PAGE_A5, ML_PAGE_PORTRAIT, 148, 210 },
    { ML_PAGE_LETTER, ML_PAGE_LANDSCAPE, 279.4, 215.9 },
  };
  const double dpi[] = { 72, 300 };

  for (guint i = 0; i < 2 * G_N_ELEMENTS (pages); i++)
    {
      const MlExportOptions options = { .dpi = dpi[i % 2], .title_block = TRUE, .page = pages[i / 2].page, .turn = pages[i / 2].turn };
      g_autofree char *path = export (*state, "page.png", &options), *content = NULL;
      cairo_surface_t *surface = cairo_image_surface_create_from_png (path);
      const char *chunk;
      gsize size;

      assert_int_equal (cairo_surface_status (surface), CAIRO_STATUS_SUCCESS);
      assert_near (cairo_image_surface_get_width (surface), pages[i / 2].width_mm / 25.4 * dpi[i % 2], 0, 0.51);
      assert_near (cairo_image_surface_get_height (surface), pages[i / 2].height_mm / 25.4 * dpi[i % 2], 0, 0.51);
      cairo_surface_destroy (surface);
      assert_true (g_file_get_contents (path, &content, &size, NULL));
      chunk = content + 8 + 25 + 4;
      assert_memory_equal (chunk, "pHYs", 4);
      assert_near (be32 (chunk + 4), dpi[i % 2] / 0.0254, 0, 0.51);
      assert_int_equal (be32 (chunk + 8), be32 (chunk + 4));
      assert_int_equal (chunk[12], 1);
    }
}

/* poppler measures the page: 1 pt is 1/72 inch. */
static void
test_pdf_pages_have_their_size_and_metadata (void **state)
{
  const struct { MlPageSize page; MlPageTurn turn; const char *said; } pages[] = {
    { ML_PAGE_A4, ML_PAGE_PORTRAIT, "595.276 x 841.89 pts (A4)" },
    { ML_PAGE_A5, ML_PAGE_LANDSCAPE, "595.276 x 419.528 pts" },
    { ML_PAGE_LETTER, ML_PAGE_PORTRAIT, "612 x 792 pts (letter)" },
  };

  for (guint i = 0; i < G_N_ELEMENTS (pages); i++)
    {
      const MlExportOptions options = { .title_block = TRUE, .page = pages[i].page, .turn = pages[i].turn };
      g_autofree char *path = export (*state, "page.pdf", &options);
      g_autofree char *command = g_strdup_printf ("pdfinfo '%s'", path), *text = NULL;

      assert_true (g_spawn_command_line_sync (command, &text, NULL, NULL, NULL));
      if (strstr (text, pages[i].said) == NULL)
        fail_msg ("expected %s in:\n%s", pages[i].said, text);
      assert_non_null (strstr (text, "Title:           Two resistors"));
      assert_non_null (strstr (text, "Creator:         Meterleaf"));
    }
}

/* A small drawing fills the page, twice its size at most; one that does not fit is made smaller, just so that it fits. 297 by 210 mm less two
 * margins of 10 mm (ISO 216). */
static void
test_drawings_are_to_scale_or_fitted (void **state)
{
  Kit *kit = *state;
  const MlExportOptions a4 = { .title_block = TRUE, .page = ML_PAGE_A4 };
  GString *text = g_string_new ("reference N0\n");
  g_autoptr (MlText) board_text = NULL;
  g_autoptr (MlBoard) board = NULL;
  g_autoptr (MlScene) scene = NULL;
  double scale, drawn_mm;

  scale = ml_export_scale (kit->scene, &kit->overlay, &a4);
  assert_true (scale > 1 && scale <= 2);
  assert_true ((kit->scene->extent.x1 - kit->scene->extent.x0) * scale * 2.5 <= 277);
  assert_true ((kit->scene->extent.y1 - kit->scene->extent.y0) * scale * 2.5 <= 190);
  for (guint i = 0; i < 40; i++)
    g_string_append_printf (text, "part R%u resistor 1=N%u 2=N%u\n", i, i, i + 1);
  board_text = ml_text_new ("chain.leafboard", text->str, -1);
  g_string_free (text, TRUE);
  board = ml_board_read (board_text, NULL);
  scene = ml_layout (board, &(MlLayoutOptions) { .effort = 1 }, NULL, NULL);
  scale = ml_export_scale (scene, NULL, &a4);
  drawn_mm = (scene->extent.x1 - scene->extent.x0) * scale * 2.5;
  assert_true (scale < 1 && drawn_mm <= 277);
}

static void
test_too_many_pixels_are_refused_with_advice (void **state)
{
  Kit *kit = *state;
  const MlExportOptions options = { .dpi = 60000, .page = ML_PAGE_A4 };
  g_autofree char *path = g_build_filename (kit->folder, "huge.png", NULL);
  g_autoptr (GError) error = NULL;

  assert_false (ml_export_picture (path, kit->scene, &kit->overlay, &options, &error));
  assert_true (g_error_matches (error, G_IO_ERROR, G_IO_ERROR_INVALID_ARGUMENT));
  assert_non_null (strstr (error->message, "dots per inch or fewer"));
  assert_false (g_file_test (path, G_FILE_TEST_EXISTS));
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_png_size_follows_the_resolution, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_pictures_repeat_byte_for_byte, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_svg_tells_readers_what_it_shows, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_pdf_text_can_be_searched, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_dark_paper_is_dark_and_never_black, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_png_pages_have_their_size_and_say_it, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_pdf_pages_have_their_size_and_metadata, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_drawings_are_to_scale_or_fitted, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_too_many_pixels_are_refused_with_advice, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_errors_leave_nothing_behind, set_up, tear_down),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
