/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of a bench: what it says follows from the board written here; that red is plus is common practice of the trade (no source). */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "desktop/bench-picture.h"
#include "desktop/errors-text.h"
#include "support/models.h"

static const char board_text[] = "meterleaf 1\n"
                                 "part S1 switch 1=A 2=B\n"
                                 "part S2 changeover common=A a=B b=C\n"
                                 "part R1 resistor 1=B 2=C value=1k\n"
                                 "condition ahead\n"
                                 "  supply plus=A minus=C voltage=12 limit=200m\n"
                                 "  set S1 closed\n"
                                 "condition both\n"
                                 "  supply plus=A minus=C voltage=12\n"
                                 "  supply plus=C minus=B voltage=3.3 limit=50m\n"
                                 "  set S2 middle\n"
                                 "condition cold\n";

static void
test_words_name_volts_limit_leads_and_switches (void **state)
{
  static const char *const expected[] = {
    "12 V, up to 200 mA, red on A, black on C; S1 closed; S2 at a",
    "12 V, no limit: 3 A, red on A, black on C; 3.3 V, up to 50 mA, red on C, black on B; S1 open; S2 in the middle",
    "no supply; S1 open; S2 at a",
  };
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  for (int i = 0; i < 3; i++)
    {
      g_autofree char *words = ml_bench_picture_words (board, i);
      assert_string_equal (words, expected[i]);
    }
}

static void
test_words_name_loads_lifted_legs_and_links (void **state)
{
  static const char text[] = "meterleaf 1\nreference C\npart R1 resistor 1=A 2=B value=1k\npart D1 diode anode=B cathode=C\npart F1 fuse 1=A 2=C\n"
                             "condition on\n  supply plus=A minus=C voltage=5 limit=1\n  load plus=B minus=C value=100\n  load plus=A minus=B current=20m\n"
                             "  lift D1.cathode\n  remove F1\n  connect A B\n";
  g_autoptr (MlBoard) board = ml_test_board (text);
  g_autofree char *words = ml_bench_picture_words (board, 0);

  assert_string_equal (words, "5 V, up to 1 A, red on A, black on C; load 100 Ω at B; load 20 mA, A to B; D1.cathode lifted; F1 out; A joined with B");
}

/* A row of switches of which the last one only is worked: it is the one to see. */
static void
test_settings_that_conditions_differ_by_come_first (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board ("meterleaf 1\npart S1 switch 1=A 2=B\npart R1 resistor 1=A 2=B value=1k\npart S2 switch 1=A 2=B\n"
                                             "part S3 switch 1=A 2=B\ncondition off\n  set S1 closed\ncondition on\n  set S1 closed\n  set S3 closed\n");
  static const char *const expected[] = { "S3", "S1", "S2" };

  for (int c = 0; c < 2; c++)
    {
      g_autoptr (GArray) parts = ml_bench_settings (board, c);
      assert_int_equal (parts->len, 3);
      for (guint i = 0; i < 3; i++)
        assert_string_equal (board->parts[g_array_index (parts, int, i)].name, expected[i]);
    }
}

static void
test_setting_a_resistor_has_none (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  assert_null (ml_bench_setting (board, 0, ml_board_find_part (board, "R1")));
}

/* How many pixels have about that colour. */
static guint
count_colour (cairo_surface_t *surface, MlColour colour)
{
  const unsigned char *data = cairo_image_surface_get_data (surface);
  int stride = cairo_image_surface_get_stride (surface);
  guint n = 0;

  for (int y = 0; y < cairo_image_surface_get_height (surface); y++)
    for (int x = 0; x < cairo_image_surface_get_width (surface); x++)
      {
        guint32 pixel = *(const guint32 *) (data + y * stride + 4 * x);
        double r = (pixel >> 16 & 255) / 255.0, g = (pixel >> 8 & 255) / 255.0, b = (pixel & 255) / 255.0;
        n += fabs (r - colour.r) + fabs (g - colour.g) + fabs (b - colour.b) < 0.03;
      }
  return n;
}

static guint
painted (const MlBoard *board, int condition, int supply, MlPaper paper)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, 250, 50);
  cairo_t *cr = cairo_create (surface);
  const MlPalette *palette = ml_palette (paper);

  cairo_set_source_rgb (cr, palette->paper.r, palette->paper.g, palette->paper.b);
  cairo_paint (cr);
  ml_bench_picture_paint (cr, board, condition, supply, paper, 250, 50, 1.0);
  cairo_destroy (cr);
  cairo_surface_flush (surface);
  guint n = count_colour (surface, palette->red_probe);
  cairo_surface_destroy (surface);
  return n;
}

/* The bytes of a narrow card's picture whose red lead ends at that net. */
static GBytes *
narrow_picture (const char *net)
{
  g_autofree char *text = g_strdup_printf ("meterleaf 1\npart R1 resistor 1=%s 2=M value=1k\ncondition on\n  supply plus=%s minus=M voltage=12 limit=1\n", net, net);
  g_autoptr (MlBoard) board = ml_test_board (text);
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, 190, 50);
  cairo_t *cr = cairo_create (surface);

  ml_bench_picture_paint (cr, board, 0, 0, ML_PAPER_LIGHT, 190, 50, 1.0);
  cairo_destroy (cr);
  cairo_surface_flush (surface);
  GBytes *bytes = g_bytes_new (cairo_image_surface_get_data (surface), (gsize) cairo_image_surface_get_stride (surface) * 50);
  cairo_surface_destroy (surface);
  return bytes;
}

/* Three cards stand side by side: names that differ at their end only are still told apart, the lead gives them its room. */
static void
test_paint_a_narrow_card_tells_nets_apart (void **state)
{
  g_autoptr (GBytes) one = narrow_picture ("FEED-12"), other = narrow_picture ("FEED-13");

  assert_false (g_bytes_equal (one, other));
}

static void
test_paint_one_red_lead_for_each_supply (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board (board_text);

  for (MlPaper paper = ML_PAPER_LIGHT; paper <= ML_PAPER_DARK; paper++)
    {
      assert_true (painted (board, 0, 0, paper) > 30);
      assert_true (painted (board, 1, 0, paper) > 30);
      assert_true (painted (board, 1, 1, paper) > 30);
      assert_int_equal (painted (board, 2, 0, paper), 0);
    }
}

static void
test_summary_counts_errors_and_warnings_apart (void **state)
{
  g_autoptr (MlDiagnostics) diagnostics = ml_diagnostics_new ();

  ml_diagnostics_add (diagnostics, "/home/a/vent.leafboard", 3, 1, ML_SEVERITY_NOTE, "a note");
  assert_null (ml_errors_summary (diagnostics));
  ml_diagnostics_add (diagnostics, "/home/a/vent.leafboard", 4, 6, ML_SEVERITY_ERROR, "unknown kind");
  ml_diagnostics_add (diagnostics, "/home/a/vent.leafboard", 9, 1, ML_SEVERITY_ERROR, "unknown key");
  g_autofree char *errors = ml_errors_summary (diagnostics);
  assert_string_equal (errors, "2 errors in vent.leafboard");
  ml_diagnostics_add (diagnostics, "/home/a/vent.leafjob", 2, 1, ML_SEVERITY_WARNING, "no unit");
  g_autofree char *both = ml_errors_summary (diagnostics);
  assert_string_equal (both, "2 errors and 1 warning");
  g_autoptr (MlDiagnostics) of_no_file = ml_diagnostics_new ();
  ml_diagnostics_add (of_no_file, "", 0, 0, ML_SEVERITY_WARNING, "no reference");
  g_autofree char *nameless = ml_errors_summary (of_no_file);
  assert_string_equal (nameless, "1 warning in what is not saved yet");
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_words_name_volts_limit_leads_and_switches),
    cmocka_unit_test (test_words_name_loads_lifted_legs_and_links),
    cmocka_unit_test (test_settings_that_conditions_differ_by_come_first),
    cmocka_unit_test (test_setting_a_resistor_has_none),
    cmocka_unit_test (test_paint_a_narrow_card_tells_nets_apart),
    cmocka_unit_test (test_paint_one_red_lead_for_each_supply),
    cmocka_unit_test (test_summary_counts_errors_and_warnings_apart),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
