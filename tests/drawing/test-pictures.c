/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures of fixed scenes against checked-in ones: whatever changes the look of a drawing shows here. Every part has its place and the one
 * font is pictures/test-font.ttf, so that neither a new weight in the layout nor an installed font matters. The pictures are our own output:
 * they say that nothing changed, not that it is right; whoever renews them (METERLEAF_RENEW_PICTURES=1) looks at each. */
#include "drawing/layout-boards.h"
#include "drawing/marks.h"
#include "drawing/paint.h"
#include "drawing/photo-scene.h"

#include <math.h>
#include <string.h>

#include "support/near.h"

#define MARGIN 1.0      /* g */
#define NEAR_ENOUGH 40  /* of 255: rounding of edges by another version of cairo or FreeType */
#define MOST_APART 4000 /* one pixel of so many may differ by more */

typedef struct
{
  const char *name;
  gboolean photo;
  MlPaper paper;
  double scale; /* device pixels per g */
} Picture;

static const Picture pictures[] = {
  { "circuit-light", FALSE, ML_PAPER_LIGHT, 6 },
  { "circuit-light-double", FALSE, ML_PAPER_LIGHT, 12 },
  { "circuit-dark", FALSE, ML_PAPER_DARK, 6 },
  { "photo-light", TRUE, ML_PAPER_LIGHT, 6 },
  { "photo-dark-double", TRUE, ML_PAPER_DARK, 12 },
};

typedef struct
{
  MlBoard *board;
  MlJob *job;
  MlVerdict verdict;
  MlOperatingPoint point;
  MlNextReading next;
  MlScene *circuit, *photo;
} Kit;

static char *
path_of (const char *name)
{
  return g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "pictures", name, NULL);
}

static char *
text_of (const char *name)
{
  g_autofree char *path = path_of (name);
  char *text = NULL;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  return text;
}

static void
mark (Kit *kit, const char *part, MlVerdictWord verdict, double probability)
{
  int i = ml_board_find_part (kit->board, part);

  assert_true (i >= 0);
  kit->verdict.parts[i] = (MlPartVerdict) { verdict, probability, 0 };
}

/* Made-up marks and currents: one of each, so that the legend has every entry. */
static void
kit_init (Kit *kit)
{
  g_autofree char *board = text_of ("board.leafboard"), *readings = text_of ("board.leafjob");

  memset (kit, 0, sizeof *kit);
  kit->board = ml_test_board (board);
  kit->job = ml_test_job (kit->board, readings);
  kit->circuit = ml_test_layout (kit->board, 0);
  kit->photo = ml_photo_scene (kit->board, 0, NULL);
  kit->verdict.job = kit->job;
  kit->verdict.pass = 1;
  kit->verdict.n_parts = kit->board->n_parts;
  kit->verdict.parts = g_new0 (MlPartVerdict, kit->board->n_parts);
  mark (kit, "Q1", ML_VERDICT_SUSPECT, 0.83);
  mark (kit, "R4", ML_VERDICT_POSSIBLE, 0.12);
  mark (kit, "D1", ML_VERDICT_CLEARED, 0.001);
  mark (kit, "F1", ML_VERDICT_CLEARED, 0.001);
  kit->point.solved = TRUE;
  kit->point.net_v = g_new0 (double, kit->board->n_nets);
  kit->point.pin_a = g_new0 (double *, kit->board->n_parts + 1);
  kit->point.pulled = g_new0 (gboolean, kit->board->n_parts);
  kit->point.pulled[ml_board_find_part (kit->board, "K1a")] = TRUE;
  for (guint i = 0; i < kit->board->n_nets; i++)
    kit->point.net_v[i] = (int) i == kit->board->reference ? 0 : 1.5 * i;
  for (guint i = 0; i < kit->board->n_parts; i++)
    {
      kit->point.pin_a[i] = g_new0 (double, MAX (kit->board->parts[i].n_pins, 1));
      for (guint k = 0; k < kit->board->parts[i].n_pins && k < 2; k++)
        kit->point.pin_a[i][k] = (k == 0 ? 1 : -1) * 1e-3 * (1 + i % 5 * i % 5);
    }
  kit->next = (MlNextReading) { .condition = 0, .red = kit->job->readings[1].red, .black = kit->job->readings[1].black, .supply = -1, .healthy = 5.1 };
}

static void
kit_clear (Kit *kit)
{
  for (guint i = 0; i < kit->board->n_parts; i++)
    g_free (kit->point.pin_a[i]);
  g_free (kit->point.pin_a);
  g_free (kit->point.pulled);
  g_free (kit->point.net_v);
  g_free (kit->verdict.parts);
  ml_scene_unref (kit->circuit);
  ml_scene_unref (kit->photo);
  ml_job_unref (kit->job);
  ml_board_unref (kit->board);
}

static cairo_surface_t *
painted (const Kit *kit, const Picture *picture)
{
  const MlScene *scene = picture->photo ? kit->photo : kit->circuit;
  const MlColour *paper = &ml_palette (picture->paper)->paper;
  const MlOverlay overlay = { .verdict = &kit->verdict, .job = kit->job, .pass = 1, .other_unit = -1, .point = &kit->point, .show_expected = TRUE,
                              .show_flow = TRUE, .selected_part = ml_board_find_part (kit->board, "C1"), .selected_pin = -1, .hover_part = -1,
                              .hover_pin = -1, .next = &kit->next };
  const MlPaintStyle style = ml_paint_style_take ((MlPaintStyle) { .paper = picture->paper, .scale = picture->scale, .legend = TRUE }, scene, &overlay);
  const MlBox extent = ml_paint_extent (scene, &overlay, &style);
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, (int) ceil ((extent.x1 - extent.x0 + 2 * MARGIN) * picture->scale),
                                                         (int) ceil ((extent.y1 - extent.y0 + 2 * MARGIN) * picture->scale));
  cairo_t *cr = cairo_create (surface);

  cairo_set_source_rgb (cr, paper->r, paper->g, paper->b);
  cairo_paint (cr);
  cairo_scale (cr, picture->scale, picture->scale);
  cairo_translate (cr, MARGIN - extent.x0, MARGIN - extent.y0);
  ml_paint_scene (cr, scene, &style);
  ml_paint_overlay (cr, scene, &overlay, &style);
  assert_int_equal (cairo_status (cr), CAIRO_STATUS_SUCCESS);
  cairo_destroy (cr);
  cairo_surface_flush (surface);
  return surface;
}

static gboolean
pixels_differ (const guint8 *a, const guint8 *b)
{
  for (guint channel = 0; channel < 3; channel++)
    if (ABS ((int) a[channel] - (int) b[channel]) > NEAR_ENOUGH)
      return TRUE;
  return FALSE;
}

/* Pixels that differ when b is moved to the right by `moved`; pictures of different size differ altogether. */
static guint
n_different (cairo_surface_t *a, cairo_surface_t *b, int moved)
{
  int width = cairo_image_surface_get_width (a), height = cairo_image_surface_get_height (a);
  guint n = 0;

  if (cairo_image_surface_get_width (b) != width || cairo_image_surface_get_height (b) != height)
    return (guint) (width * height);
  for (int y = 0; y < height; y++)
    for (int x = moved; x < width; x++)
      n += pixels_differ (cairo_image_surface_get_data (a) + y * cairo_image_surface_get_stride (a) + 4 * x,
                          cairo_image_surface_get_data (b) + y * cairo_image_surface_get_stride (b) + 4 * (x - moved));
  return n;
}

static guint
most_different (cairo_surface_t *surface)
{
  return (guint) (cairo_image_surface_get_width (surface) * cairo_image_surface_get_height (surface) / MOST_APART);
}

/* What was painted, for a look: beside the test in the build folder. */
static char *
keep (cairo_surface_t *surface, const char *name)
{
  g_autofree char *file = g_strconcat (name, "-painted.png", NULL);
  char *path = g_build_filename (g_getenv ("METERLEAF_BUILD"), "tests", "drawing", file, NULL);

  assert_int_equal (cairo_surface_write_to_png (surface, path), CAIRO_STATUS_SUCCESS);
  return path;
}

static void
check_picture (const Kit *kit, const Picture *picture)
{
  g_autofree char *file = g_strconcat (picture->name, ".png", NULL), *path = path_of (file);
  cairo_surface_t *surface = painted (kit, picture), *reference;
  guint n;

  if (g_getenv ("METERLEAF_RENEW_PICTURES") != NULL)
    assert_int_equal (cairo_surface_write_to_png (surface, path), CAIRO_STATUS_SUCCESS);
  reference = cairo_image_surface_create_from_png (path);
  assert_int_equal (cairo_surface_status (reference), CAIRO_STATUS_SUCCESS);
  n = n_different (surface, reference, 0);
  if (n > most_different (surface))
    {
      g_autofree char *kept = keep (surface, picture->name);
      fail_msg ("%s: %u pixels are not as in %s (%d x %d, now %d x %d); painted now: %s", picture->name, n, path,
                cairo_image_surface_get_width (reference), cairo_image_surface_get_height (reference), cairo_image_surface_get_width (surface),
                cairo_image_surface_get_height (surface), kept);
    }
  /* The tolerance lets no picture through that lies one pixel beside. */
  assert_true (n_different (surface, reference, 1) > most_different (surface));
  cairo_surface_destroy (reference);
  cairo_surface_destroy (surface);
}

static void
test_fixed_scenes_look_as_before (void **state)
{
  Kit kit;

  kit_init (&kit);
  for (guint i = 0; i < G_N_ELEMENTS (pictures); i++)
    check_picture (&kit, &pictures[i]);
  kit_clear (&kit);
}

/* One word set larger, or one mark of another kind, is more than the tolerance. */
static void
test_a_changed_mark_is_seen (void **state)
{
  g_autofree char *path = path_of ("circuit-light.png");
  cairo_surface_t *surface, *reference = cairo_image_surface_create_from_png (path);
  Kit kit;

  kit_init (&kit);
  mark (&kit, "D1", ML_VERDICT_POSSIBLE, 0.06);
  surface = painted (&kit, &pictures[0]);
  assert_true (n_different (surface, reference, 0) > most_different (surface));
  cairo_surface_destroy (surface);
  cairo_surface_destroy (reference);
  kit_clear (&kit);
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_fixed_scenes_look_as_before),
    cmocka_unit_test (test_a_changed_mark_is_seen),
  };
  g_autofree char *fonts = path_of ("fonts.conf");

  g_setenv ("FONTCONFIG_FILE", fonts, TRUE); /* before anything asks for a font */
  return cmocka_run_group_tests (tests, NULL, NULL);
}
