/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The canvas in a real window, with real clicks and keys from xdotool: what a person does must end in the board, the job and the view. The
 * boards are drawn here or are the demo; what must come of a click is common practice of drawing programs and the words of the entry. */
#include "support/near.h"

#include <glib/gstdio.h>
#include <gtk/gtk.h>
#include <stdlib.h>
#include <string.h>

#include "desktop/actions.h"
#include "desktop/canvas-private.h"
#include "desktop/canvas-target.h"
#include "desktop/entry.h"
#include "desktop/status-text.h"

#define PATIENCE_S 60
#define WIDTH 900
#define HEIGHT 600

typedef struct
{
  char *folder;
  MlDocument *document;
  MlCanvas *canvas;
  GtkWidget *window;
} Fixture;

static void
settle (guint rounds)
{
  for (guint i = 0; i < rounds; i++)
    {
      while (g_main_context_iteration (NULL, FALSE))
        ;
      g_usleep (2000);
    }
}

#define WAIT_FOR(condition)                                                                                                                \
  do                                                                                                                                       \
    {                                                                                                                                      \
      gint64 until_ = g_get_monotonic_time () + PATIENCE_S * G_USEC_PER_SEC;                                                               \
      while (!(condition) && g_get_monotonic_time () < until_)                                                                             \
        if (!g_main_context_iteration (NULL, FALSE))                                                                                       \
          g_usleep (1000);                                                                                                                 \
      assert_true (condition);                                                                                                             \
    }                                                                                                                                      \
  while (0)

static void
show (Fixture *fixture)
{
  fixture->canvas = ML_CANVAS (ml_canvas_new (fixture->document));
  fixture->window = gtk_window_new ();
  gtk_window_set_decorated (GTK_WINDOW (fixture->window), FALSE);
  gtk_window_set_default_size (GTK_WINDOW (fixture->window), WIDTH, HEIGHT);
  gtk_window_set_child (GTK_WINDOW (fixture->window), GTK_WIDGET (fixture->canvas));
  gtk_window_present (GTK_WINDOW (fixture->window));
  WAIT_FOR (gtk_widget_get_width (GTK_WIDGET (fixture->canvas)) > 1);
  gtk_widget_grab_focus (GTK_WIDGET (fixture->canvas));
  gdk_display_sync (gdk_display_get_default ());
  settle (30);
}

static int
set_up (void **state)
{
  Fixture *fixture = g_new0 (Fixture, 1);
  fixture->folder = g_dir_make_tmp ("leaf-canvas-XXXXXX", NULL);
  fixture->document = ml_document_new (fixture->folder);
  *state = fixture;
  return 0;
}

static int
tear_down (void **state)
{
  Fixture *fixture = *state;
  GObject *document = G_OBJECT (fixture->document), *canvas = G_OBJECT (fixture->canvas);
  g_object_add_weak_pointer (document, (gpointer *) &fixture->document);
  g_object_add_weak_pointer (canvas, (gpointer *) &fixture->canvas);
  ml_document_abandon (fixture->document);
  gtk_window_destroy (GTK_WINDOW (fixture->window));
  g_object_unref (document);
  settle (5);
  gboolean gone = fixture->canvas == NULL && fixture->document == NULL;
  if (!gone)
    print_error ("canvas %p or document %p is still there\n", (void *) fixture->canvas, (void *) fixture->document);
  g_rmdir (fixture->folder);
  g_free (fixture->folder);
  g_free (fixture);
  return gone ? 0 : -1;
}

/* ---- hands ---- */

static void
run_xdotool (const char *command)
{
  g_autofree char *line = g_strdup_printf ("xdotool %s", command);
  g_autoptr (GError) error = NULL;
  int status = -1;
  assert_true (g_spawn_command_line_sync (line, NULL, NULL, &status, &error));
  assert_int_equal (status, 0);
  gdk_display_sync (gdk_display_get_default ()); /* whatever xdotool did has reached us now */
  settle (30);
}

static void
click_at (double x, double y, const char *how)
{
  g_autofree char *command = g_strdup_printf ("mousemove %d %d %s", (int) x, (int) y, how);
  run_xdotool (command);
}

static MlPoint
middle (Fixture *fixture, const char *part_name, const char *pin_name)
{
  MlBoard *board = ml_document_board (fixture->document);
  int part = ml_board_find_part (board, part_name);
  assert_true (part >= 0);
  int pin = pin_name ? ml_part_find_pin (&board->parts[part], pin_name) : -1;
  MlBox box = ml_canvas_place_box (fixture->canvas, part, pin);
  return ml_viewport_to_view (&fixture->canvas->viewport, (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2);
}

static void
click (Fixture *fixture, const char *part, const char *pin)
{
  MlPoint at = middle (fixture, part, pin);
  click_at (at.x, at.y, "click 1");
}

static void
type (const char *text)
{
  g_autofree char *command = g_strdup_printf ("type --delay 20 -- \"%s\"", text);
  run_xdotool (command);
}

static void
key (const char *name)
{
  g_autofree char *command = g_strdup_printf ("key %s", name);
  run_xdotool (command);
}

static void
open_demo (Fixture *fixture, const char *name)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "boards", name, NULL);
  g_autoptr (GError) error = NULL;
  assert_true (ml_document_open (fixture->document, path, &error));
  show (fixture);
}

/* A board file by itself, shown; the file is gone then. */
static void
open_alone (Fixture *fixture, const char *name, const char *board)
{
  g_autofree char *path = g_build_filename (fixture->folder, name, NULL);
  g_autoptr (GError) error = NULL;
  assert_true (g_file_set_contents (path, board, -1, NULL));
  assert_true (ml_document_open (fixture->document, path, &error));
  g_remove (path);
  show (fixture);
}

/* One resistor on 5 V with a pin left over, to be read at. */
static void
open_divider (Fixture *fixture)
{
  static const char board[] = "meterleaf 1\nreference MINUS\npart J1 connector IN=FEED GND=MINUS\npart R1 resistor 1=FEED 2=MID value=1k\n"
                              "part R2 resistor 1=MID 2=MINUS value=1k\ncondition on\n  supply plus=FEED minus=MINUS voltage=10 limit=100m\n"
                              "condition cold\n";
  open_alone (fixture, "divider.leafboard", board);
  WAIT_FOR (ml_document_point (fixture->document) != NULL && ml_document_judge (fixture->document) != NULL
            && !ml_document_is_drawing (fixture->document)); /* nothing moves any more before it is clicked */
  settle (30);
}

static const MlPart *
part (Fixture *fixture, const char *name)
{
  MlBoard *board = ml_document_board (fixture->document);
  int at = ml_board_find_part (board, name);
  assert_true (at >= 0);
  return &board->parts[at];
}

/* ---- tests ---- */

static MlCanvasTarget *
find_target (Fixture *fixture, const char *part_name, const char *pin_name)
{
  MlBoard *board = ml_document_board (fixture->document);
  int at = ml_board_find_part (board, part_name), pin = pin_name ? ml_part_find_pin (&board->parts[at], pin_name) : -1;
  for (guint i = 0; i < fixture->canvas->targets->len; i++)
    {
      MlCanvasTarget *target = fixture->canvas->targets->pdata[i];
      if (ml_canvas_target_part (target) == at && ml_canvas_target_pin (target) == pin)
        return target;
    }
  fail_msg ("no target for %s", part_name);
  return NULL;
}

static void
assert_named (MlCanvasTarget *target, const char *label)
{
  assert_true (gtk_test_accessible_has_role (GTK_ACCESSIBLE (target), GTK_ACCESSIBLE_ROLE_BUTTON));
  g_autofree char *other = gtk_test_accessible_check_property (GTK_ACCESSIBLE (target), GTK_ACCESSIBLE_PROPERTY_LABEL, label);
  if (other)
    fail_msg ("named %s, expected %s", other, label);
}

static void
test_canvas_every_part_and_pin_is_a_named_widget (void **state)
{
  Fixture *fixture = *state;
  open_demo (fixture, "signal-board.leafboard");
  MlBoard *board = ml_document_board (fixture->document);
  guint expected = 0;
  for (guint i = 0; i < board->n_parts; i++)
    expected += 1 + board->parts[i].n_pins;
  assert_int_equal (fixture->canvas->targets->len, expected);
  for (guint i = 0; i < fixture->canvas->targets->len; i++)
    {
      GtkWidget *target = fixture->canvas->targets->pdata[i];
      assert_ptr_equal (gtk_widget_get_parent (target), fixture->canvas);
      assert_true (gtk_widget_get_focusable (target));
      assert_true (gtk_widget_get_width (target) >= 24 && gtk_widget_get_height (target) >= 24); /* WCAG 2.2, 2.5.8 */
    }
}

static void
test_canvas_targets_say_kind_value_and_net (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  assert_named (find_target (fixture, "R1", NULL), "R1, Resistor 1k");
  assert_named (find_target (fixture, "R1", "2"), "R1 2, net MID");
}

/* The canvas as it is painted, its middle third: symbols, no notes at the edge. */
static cairo_surface_t *
painted (Fixture *fixture)
{
  cairo_surface_t *surface = cairo_image_surface_create (CAIRO_FORMAT_RGB24, WIDTH, HEIGHT);
  cairo_t *cr = cairo_create (surface);
  ml_canvas_paint (fixture->canvas, cr);
  cairo_destroy (cr);
  cairo_surface_flush (surface);
  return surface;
}

/* How many pixels of a part's body differ. */
static guint
n_changed (Fixture *fixture, cairo_surface_t *a, cairo_surface_t *b, const char *part_name)
{
  MlBox box = ml_canvas_place_box (fixture->canvas, ml_board_find_part (ml_document_board (fixture->document), part_name), -1);
  MlPoint low = ml_viewport_to_view (&fixture->canvas->viewport, box.x0, box.y0), high = ml_viewport_to_view (&fixture->canvas->viewport, box.x1, box.y1);
  gsize stride = (gsize) cairo_image_surface_get_stride (a);
  guint n = 0;
  for (int y = (int) low.y; y < (int) high.y; y++)
    for (int x = (int) low.x; x < (int) high.x; x++)
      n += memcmp (cairo_image_surface_get_data (a) + y * stride + 4 * x, cairo_image_surface_get_data (b) + y * stride + 4 * x, 3) != 0;
  return n;
}

static void
test_status_kind_keeps_the_capitals_of_its_name (void **state)
{
  static const char text[] = "meterleaf 1\npart Q1 nmos\npart D1 led\npart D2 zener\npart R1 resistor value=4k7\npart Q2 npn\n";
  static const char *const words[] = { "Q1, N-channel MOSFET", "D1, LED", "D2, zener diode", "R1, resistor 4k7", "Q2, NPN transistor" };
  g_autoptr (MlText) board_text = ml_text_new ("", text, -1);
  g_autoptr (MlBoard) board = ml_board_read (board_text, NULL);
  for (guint i = 0; i < G_N_ELEMENTS (words); i++)
    {
      g_autofree char *said = ml_status_part_words (board, (int) i);
      assert_string_equal (said, words[i]);
    }
}

/* A switch and a contact that its coil works: seen in the drawing as in the words for those who do not see it. */
static void
test_canvas_switches_follow_the_condition (void **state)
{
  Fixture *fixture = *state;
  static const char board[] = "meterleaf 1\nreference M\npart S1 switch 1=IN 2=P\npart K1 coil 1=P 2=M resistance=400\npart K1a contact common=IN no=OUT by=K1\n"
                              "part R1 resistor 1=OUT 2=M value=1k\ncondition off\n  supply plus=IN minus=M voltage=12 limit=1\n"
                              "condition on\n  supply plus=IN minus=M voltage=12 limit=1\n  set S1 closed\n";
  g_autofree char *path = g_build_filename (fixture->folder, "relay.leafboard", NULL);
  g_autoptr (GError) error = NULL;
  assert_true (g_file_set_contents (path, board, -1, NULL));
  assert_true (ml_document_open (fixture->document, path, &error));
  g_remove (path);
  show (fixture);
  g_autofree char *by = ml_status_part_words (ml_document_board (fixture->document), ml_board_find_part (ml_document_board (fixture->document), "K1a"));
  assert_string_equal (by, "K1a, relay contact, worked by K1");
  ml_canvas_set_show (fixture->canvas, 0); /* no flow, no values, no suggestion: what differs are the symbols */
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  WAIT_FOR (ml_document_point_of (fixture->document, 1) != NULL && ml_document_verdict (fixture->document) != NULL
            && !ml_document_is_drawing (fixture->document));
  ml_document_set_condition (fixture->document, 0);
  WAIT_FOR (ml_document_point (fixture->document) != NULL);
  settle (30);
  static const char *const parts[] = { "S1", "K1a", "R1" }, *const words[2][3] = { { "open; unproven", "at rest; unproven", "unproven" },
                                                                                       { "closed; unproven", "pulled in; unproven", "unproven" } };
  cairo_surface_t *off = painted (fixture);
  for (int c = 0; c < 2; c++)
    {
      ml_document_set_condition (fixture->document, c);
      settle (30);
      for (guint i = 0; i < G_N_ELEMENTS (parts); i++)
        {
          g_autofree char *other = gtk_test_accessible_check_property (GTK_ACCESSIBLE (find_target (fixture, parts[i], NULL)),
                                                                       GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, words[c][i]);
          if (other)
            fail_msg ("%s is described as %s, expected %s", parts[i], other, words[c][i]);
        }
    }
  cairo_surface_t *on = painted (fixture);
  assert_true (n_changed (fixture, off, on, "S1") > 20 && n_changed (fixture, off, on, "K1a") > 20);
  assert_int_equal (n_changed (fixture, off, on, "R1"), 0);
  ml_document_select (fixture->document, ml_board_find_part (ml_document_board (fixture->document), "S1"), -1);
  g_autofree char *line = ml_status_text (fixture->document);
  assert_true (strstr (line, "· closed") != NULL);
  cairo_surface_destroy (off);
  cairo_surface_destroy (on);
}

static void
test_canvas_click_and_type_records_a_reading (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", "2");
  assert_non_null (ml_document_red (fixture->document));
  assert_null (ml_document_black (fixture->document));
  type ("4,9");
  assert_true (ml_canvas_entry_is_open (fixture->canvas));
  key ("Return");
  assert_false (ml_canvas_entry_is_open (fixture->canvas));
  MlJob *job = ml_document_job (fixture->document);
  assert_int_equal (job->n_readings, 1);
  assert_near (job->readings[0].measured.value, 4.9, 1e-12, 0);
  assert_near (job->readings[0].measured.resolution, 0.1, 1e-9, 0); /* the digits typed are kept */
  assert_string_equal (ml_document_board (fixture->document)->nets[job->readings[0].red.net].name, "MID");
  /* And on to another place: the nearest not read yet, or, once there is a verdict, where that says. */
  assert_non_null (ml_document_red (fixture->document));
  assert_non_null (ml_document_black (fixture->document));
  assert_false (ml_probe_equal (ml_document_red (fixture->document), &job->readings[0].red)
                && ml_probe_equal (ml_document_black (fixture->document), &job->readings[0].black));
  type ("10.0");
  key ("Return");
  assert_int_equal (ml_document_job (fixture->document)->n_readings, 2);
}

static void
test_canvas_escape_leaves_the_entry_and_records_nothing (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", "2");
  type ("-1.2");
  assert_true (ml_canvas_entry_is_open (fixture->canvas));
  key ("Escape");
  assert_false (ml_canvas_entry_is_open (fixture->canvas));
  assert_int_equal (ml_document_job (fixture->document)->n_readings, 0);
}

static void
test_canvas_what_is_no_reading_stays_in_the_entry (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", "2");
  type ("1.2.3");
  key ("Return");
  assert_true (ml_canvas_entry_is_open (fixture->canvas));
  assert_int_equal (ml_document_job (fixture->document)->n_readings, 0);
  key ("BackSpace BackSpace");
  key ("Return");
  assert_int_equal (ml_document_job (fixture->document)->n_readings, 1);
}

static void
test_canvas_two_pins_clicked_are_red_and_black (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", "1");
  click (fixture, "R2", "1");
  const MlBoard *board = ml_document_board (fixture->document);
  assert_string_equal (board->nets[ml_document_red (fixture->document)->net].name, "FEED");
  assert_string_equal (board->nets[ml_document_black (fixture->document)->net].name, "MID");
  ml_canvas_swap_probes (fixture->canvas);
  assert_string_equal (board->nets[ml_document_red (fixture->document)->net].name, "MID");
}

/* Enter goes on to a place that is not read yet; a pin clicked then begins a reading of its own, and is no black probe to that place. */
static void
test_canvas_a_click_after_moving_on_is_a_red_probe (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", "2");
  type ("4.9");
  key ("Return");
  assert_non_null (ml_document_red (fixture->document));
  assert_non_null (ml_document_black (fixture->document));
  click (fixture, "R1", "2");
  assert_null (ml_document_black (fixture->document));
  type ("5.1");
  key ("Return");
  MlJob *job = ml_document_job (fixture->document);
  assert_int_equal (job->n_readings, 2);
  assert_int_equal (job->readings[1].black.net, ml_document_board (fixture->document)->reference);
}

static gboolean
is_judged (MlDocument *document)
{
  return ml_document_verdict (document) && ml_document_progress (document) < 0.0;
}

/* The verdict on a reading comes later than the Enter that took it: the probes end where it suggests, not where the one before did. */
static void
test_canvas_probes_go_along_with_the_suggestion (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture, "signal-board.leafboard");
  WAIT_FOR (is_judged (document));
  guint n_readings = ml_document_job (document)->n_readings, followed = 0;
  for (guint i = 0; i < 3; i++)
    {
      ml_canvas_take_suggested (fixture->canvas);
      if (!ml_canvas_entry_is_open (fixture->canvas))
        break; /* nothing more to ask here */
      run_xdotool ("type 0");
      run_xdotool ("key Return");
      WAIT_FOR (ml_document_job (document)->n_readings == n_readings + i + 1);
      WAIT_FOR (is_judged (document));
      const MlVerdict *verdict = ml_document_verdict (document);
      const MlProbe *red = ml_document_red (document), *black = ml_document_black (document);
      int at = ml_document_next (document);
      if (at < 0 || !red)
        continue;
      followed++;
      assert_non_null (black);
      assert_true (ml_probe_equal (red, &verdict->next[at].red));
      assert_true (ml_probe_equal (black, &verdict->next[at].black));
      /* none that can be taken here stands before it */
      for (int k = 0; k < at; k++)
        assert_true (verdict->next[k].condition != ml_document_condition (document) || verdict->next[k].step || verdict->next[k].supply >= 0);
    }
  assert_true (followed > 0);
}

/* What the person has begun is left alone. */
static void
test_canvas_an_open_entry_stays_where_it_is (void **state)
{
  Fixture *fixture = *state;
  MlDocument *document = fixture->document;
  open_demo (fixture, "signal-board.leafboard");
  WAIT_FOR (is_judged (document));
  ml_canvas_take_suggested (fixture->canvas);
  assert_true (ml_canvas_entry_is_open (fixture->canvas));
  guint n_readings = ml_document_job (document)->n_readings;
  run_xdotool ("type 0");
  run_xdotool ("key Return 1");
  WAIT_FOR (ml_document_job (document)->n_readings == n_readings + 1);
  WAIT_FOR (ml_canvas_entry_is_open (fixture->canvas));
  const MlProbe red = *ml_document_red (document);
  WAIT_FOR (is_judged (document));
  assert_true (ml_canvas_entry_is_open (fixture->canvas));
  assert_true (ml_probe_equal (ml_document_red (document), &red));
}

static void
test_canvas_two_pin_part_means_across_it_and_r_swaps (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", NULL);
  assert_int_equal (ml_document_red (fixture->document)->pin, 0);
  assert_int_equal (ml_document_black (fixture->document)->pin, 1);
  type ("5.01");
  type ("r");
  assert_int_equal (ml_document_red (fixture->document)->pin, 1);
  key ("Return");
  MlJob *job = ml_document_job (fixture->document);
  assert_int_equal (job->n_readings, 1);
  assert_string_equal (ml_document_board (fixture->document)->nets[job->readings[0].red.net].name, "MID");
}

/* A meter's "OL" looks like "0L", and is typed like that: the L is no key for the probe then, which would leave 0 ohm, the contrary. */
static void
test_canvas_over_range_in_a_cold_condition_is_ohms (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  ml_document_set_condition (fixture->document, 1);
  click (fixture, "R1", NULL);
  type ("0L");
  key ("Return");
  MlJob *job = ml_document_job (fixture->document);
  assert_int_equal (job->n_readings, 1);
  assert_int_equal (job->readings[0].reads, ML_READS_OHMS);
  assert_true (job->readings[0].measured.over);
}

/* 4R7 is 4.7 ohm by IEC 60062, and typed small by many: it must not become 47 ohm with the probes swapped. */
static void
test_canvas_the_r_of_an_ohms_reading_swaps_nothing (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  ml_document_set_condition (fixture->document, 1);
  click (fixture, "R1", NULL);
  type ("4r7");
  key ("Return");
  MlJob *job = ml_document_job (fixture->document);
  assert_int_equal (job->n_readings, 1);
  assert_near (job->readings[0].measured.value, 4.7, 1e-12, 0);
  assert_int_equal (job->readings[0].red.pin, 0);
}

static void
test_canvas_click_elsewhere_keeps_what_was_typed (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", "2");
  type ("5.0");
  click (fixture, "R1", NULL);
  assert_int_equal (ml_document_job (fixture->document)->n_readings, 1);
  assert_false (ml_canvas_entry_is_open (fixture->canvas));
}

/* Whatever leads away from an entry: what was typed into it counts. */
static void
test_canvas_going_on_keeps_what_was_typed (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  MlDocument *document = fixture->document;
  click (fixture, "R1", "2");
  type ("5.0");
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  assert_int_equal (ml_document_job (document)->n_readings, 1);
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_MEASURE);
  ml_canvas_select_and_focus (fixture->canvas, ml_board_find_part (ml_document_board (document), "R1"), 0);
  type ("9.9");
  const MlProbe red = ml_document_job (document)->readings[0].red;
  ml_canvas_focus_place (fixture->canvas, &red, NULL, 0); /* as the findings' button does */
  assert_int_equal (ml_document_job (document)->n_readings, 2);
  ml_canvas_select_and_focus (fixture->canvas, ml_board_find_part (ml_document_board (document), "R2"), -1);
  type ("4.9");
  click_at (450, 20, "mousedown 2 mousemove_relative -- 12 6 mousemove_relative -- 28 14 sleep 0.05 mouseup 2");
  assert_int_equal (ml_document_job (document)->n_readings, 3);
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  ml_canvas_select_and_focus (fixture->canvas, ml_board_find_part (ml_document_board (document), "R1"), -1);
  type ("2k2");
  ml_canvas_add_part (fixture->canvas, ml_kind_info (ML_KIND_DIODE), NULL);
  g_autofree char *value = ml_part_value_text (part (fixture, "R1"));
  assert_string_equal (value, "2k2");
}

static void
note_failed_cb (MlCanvas *canvas, const char *text, char **ret_text)
{
  g_free (*ret_text);
  *ret_text = g_strdup (text);
}

/* What cannot be taken goes with the panel, but not without a word. */
static void
test_canvas_what_is_not_taken_is_said (void **state)
{
  Fixture *fixture = *state;
  g_autofree char *said = NULL;
  open_divider (fixture);
  gulong handler = g_signal_connect (fixture->canvas, "failed", G_CALLBACK (note_failed_cb), &said);
  ml_canvas_select_and_focus (fixture->canvas, ml_board_find_part (ml_document_board (fixture->document), "R1"), 1);
  type ("5.0.1");
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  assert_string_equal (said, "“5.0.1” is no reading: nothing was recorded");
  ml_canvas_select_and_focus (fixture->canvas, ml_board_find_part (ml_document_board (fixture->document), "R1"), -1);
  type ("4k7k");
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_MEASURE);
  assert_string_equal (said, "“4k7k” was not taken: nothing was changed");
  assert_int_equal (ml_document_job (fixture->document)->n_readings, 0);
  g_signal_handler_disconnect (fixture->canvas, handler);
}

/* An entry that is open while another condition is chosen is about that one: a board without a supply has ohms to be read, no volts. */
static void
test_canvas_an_open_entry_follows_the_condition (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  click (fixture, "R1", NULL);
  type ("1.0k");
  ml_document_set_condition (fixture->document, 1);
  settle (30);
  key ("Return");
  MlJob *job = ml_document_job (fixture->document);
  assert_int_equal (job->n_readings, 1);
  assert_int_equal (job->readings[0].condition, 1);
  assert_int_equal (job->readings[0].reads, ML_READS_OHMS);
}

static void
test_canvas_arrows_walk_and_tab_goes_by_parts (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  int at, pin, before;
  click (fixture, "R1", NULL);
  ml_document_selected (fixture->document, &before, &pin);
  ml_canvas_walk (fixture->canvas, ML_SIDE_DOWN);
  ml_canvas_walk (fixture->canvas, ML_SIDE_UP);
  ml_document_selected (fixture->document, &at, &pin);
  assert_true (at >= 0);
  ml_canvas_select_and_focus (fixture->canvas, 0, -1);
  for (int i = 1; i < 3; i++)
    {
      key ("Tab");
      ml_document_selected (fixture->document, &at, &pin);
      assert_int_equal (at, i);
      assert_int_equal (pin, -1);
    }
  key ("shift+Tab");
  ml_document_selected (fixture->document, &at, &pin);
  assert_int_equal (at, 1);
}

static void
test_canvas_draws_a_board_by_clicks_and_keys (void **state)
{
  Fixture *fixture = *state;
  show (fixture);
  MlCanvas *canvas = fixture->canvas;
  ml_canvas_set_mode (canvas, ML_CANVAS_DRAW);
  click_at (300, 150, "sleep 0.05");
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
  click_at (300, 200, "click 1");
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 1);
  type ("4k7");
  key ("Return");
  g_autofree char *value = ml_part_value_text (part (fixture, "R1"));
  assert_string_equal (value, "4k7");
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_LED), NULL);
  click_at (500, 200, "click 1");
  type ("red");
  key ("Return");
  assert_string_equal (part (fixture, "LED1")->attributes[0].text, "red");

  click (fixture, "R1", "2");
  click (fixture, "LED1", "anode");
  int net = part (fixture, "R1")->pins[1].net;
  assert_true (net >= 0);
  assert_int_equal (part (fixture, "LED1")->pins[0].net, net);

  /* From pin to pin by dragging. */
  MlPoint from = middle (fixture, "R1", "1"), to = middle (fixture, "LED1", "cathode");
  g_autofree char *drag = g_strdup_printf ("mousedown 1 mousemove_relative -- 10 5 mousemove %d %d sleep 0.05 mouseup 1", (int) to.x, (int) to.y);
  click_at (from.x, from.y, drag);
  assert_true (part (fixture, "R1")->pins[0].net >= 0);
  assert_int_equal (part (fixture, "R1")->pins[0].net, part (fixture, "LED1")->pins[1].net);

  /* The net gets a name, and undo takes everything back. */
  ml_canvas_rename_net (canvas, net);
  type ("ANODE");
  key ("Return");
  assert_true (ml_board_find_net (ml_document_board (fixture->document), "ANODE") >= 0);
  while (ml_document_can_undo (fixture->document))
    ml_document_undo (fixture->document);
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 0);
}

/* Without a pointer the part in hand is seen at once, and not on top of the one that was set before. */
static void
test_canvas_a_part_chosen_by_keys_is_shown_where_there_is_room (void **state)
{
  Fixture *fixture = *state;
  show (fixture);
  MlCanvas *canvas = fixture->canvas;
  ml_canvas_set_mode (canvas, ML_CANVAS_DRAW);
  canvas->pointer_inside = FALSE;
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_FUSE), NULL);
  assert_true (canvas->pointer_inside); /* it is painted there */
  assert_true (ml_canvas_hand_enter (canvas));
  MlPlace first = ml_canvas_place_of (canvas, 0);
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
  MlPlace shown = ml_canvas_hand_place (canvas);
  assert_true (fabs (shown.x - first.x) + fabs (shown.y - first.y) > 3.0);
  assert_true (ml_canvas_hand_enter (canvas));
  MlPlace second = ml_canvas_place_of (canvas, 1);
  assert_near (second.x, shown.x, 0, 1e-9); /* there it stays */
  assert_near (second.y, shown.y, 0, 1e-9);
}

static const char *
text_in_entry (GtkWidget *widget, const char *name)
{
  if (g_str_equal (gtk_widget_get_name (widget), name))
    return gtk_label_get_text (GTK_LABEL (widget));
  const char *found = NULL;
  for (GtkWidget *child = gtk_widget_get_first_child (widget); child && !found; child = gtk_widget_get_next_sibling (child))
    found = text_in_entry (child, name);
  return found;
}

/* Behind 470 ohm an unknown chip may leave almost anything of 12 V: the entry says how little is known, and the number of the drawing and the status line. */
static void
test_canvas_entry_says_how_little_is_known (void **state)
{
  Fixture *fixture = *state;
  g_autoptr (MlText) board = ml_text_new ("b",
                                          "meterleaf 1\nreference M\npart R1 resistor 1=V12 2=VC value=470\npart U1 block 1=VC 2=M 3=OUT\n"
                                          "part R2 resistor 1=OUT 2=B value=1k\npart R3 resistor 1=B 2=M value=10k\ncondition on\n"
                                          "  supply plus=V12 minus=M voltage=12 limit=100m\n", -1);
  g_autoptr (MlText) job = ml_text_new ("j", "meterleaf 1\nboard \"b\"\nunit one suspect\nreading one on red=B volts=1.02\n", -1);
  show (fixture);
  ml_document_apply (fixture->document, board, job, "Begin", NULL);
  WAIT_FOR (ml_document_verdict (fixture->document) && ml_document_verdict (fixture->document)->found && ml_document_progress (fixture->document) < 0
            && ml_document_point (fixture->document) && ml_document_judge (fixture->document));
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_MEASURE);
  settle (30);
  click (fixture, "U1", "1");
  type ("5");
  g_autofree char *status = ml_status_text (fixture->document);
  const char *fine = text_in_entry (fixture->canvas->entry, "entry-fine"), *should = strstr (status, "should read ");
  assert_non_null (strstr (fine, ", give or take "));
  assert_non_null (should);
  assert_near (g_ascii_strtod (strstr (fine, ": ") + 2, NULL), g_ascii_strtod (should + strlen ("should read "), NULL), 0.02, 0);
  key ("Escape");
}

/* Letters that do something to a part, or to the net at a pin, begin its value all the same where they are the beginning of one. */
static void
test_canvas_part_numbers_are_typed_in_small_letters (void **state)
{
  static const struct { MlKind kind; const char *typed, *shown; } parts[] = {
    { ML_KIND_NPN, "bc547", "BC547" },   { ML_KIND_NPN, "tip31", "TIP31" }, { ML_KIND_COMPARATOR, "mcp6541", "MCP6541" },
    { ML_KIND_LED, "white", "white" },   { ML_KIND_LED, "blue", "blue" },   { ML_KIND_SHUNT, "tl431", "TL431" },
  };
  Fixture *fixture = *state;
  show (fixture);
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  ml_actions_add_drawing_keys (GTK_WIDGET (fixture->canvas));
  g_autoptr (GSimpleActionGroup) actions = g_simple_action_group_new ();
  g_autoptr (GSimpleAction) turn = g_simple_action_new ("turn", NULL), mirror = g_simple_action_new ("mirror", NULL);
  g_signal_connect_swapped (turn, "activate", G_CALLBACK (ml_canvas_turn), fixture->canvas);
  g_signal_connect_swapped (mirror, "activate", G_CALLBACK (ml_canvas_mirror), fixture->canvas);
  g_action_map_add_action (G_ACTION_MAP (actions), G_ACTION (turn));
  g_action_map_add_action (G_ACTION_MAP (actions), G_ACTION (mirror));
  gtk_widget_insert_action_group (fixture->window, "win", G_ACTION_GROUP (actions));
  for (guint i = 0; i < G_N_ELEMENTS (parts); i++)
    {
      ml_canvas_add_part (fixture->canvas, ml_kind_info (parts[i].kind), NULL);
      click_at (120 + 120 * i, 300, "click 1");
      type (parts[i].typed);
      key ("Return");
      const MlPart *made = &ml_document_board (fixture->document)->parts[i];
      g_autofree char *value = ml_part_value_text (made);
      assert_string_equal (value, parts[i].shown);
      assert_int_equal (made->place.turn, 0);
      assert_false (made->place.mirror);
    }
  /* what does begin no number turns the part, and what follows is its value */
  ml_canvas_add_part (fixture->canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
  click_at (450, 500, "click 1");
  type ("t4k7");
  key ("Return");
  const MlPart *resistor = part (fixture, "R1");
  g_autofree char *value = ml_part_value_text (resistor);
  assert_string_equal (value, "4k7");
  assert_int_equal (resistor->place.turn, 1);
}

/* A part clicked where another one lies stands beside it, as one that is dropped there: on top of it, pins could not be joined. */
static void
test_canvas_a_new_part_stands_beside_what_is_there (void **state)
{
  Fixture *fixture = *state;
  show (fixture);
  MlCanvas *canvas = fixture->canvas;
  ml_canvas_set_mode (canvas, ML_CANVAS_DRAW);
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_BLOCK), NULL);
  click_at (400, 300, "click 1");
  const MlPoint pin = middle (fixture, "U1", "1");
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
  click_at (pin.x, pin.y, "click 1");
  click (fixture, "R1", "1");
  click (fixture, "U1", "1");
  assert_true (part (fixture, "U1")->pins[0].net >= 0);
  const MlLayoutMeasure measured = ml_layout_measure (ml_canvas_scene (canvas));
  assert_int_equal (measured.symbol_overlaps, 0);
  assert_int_equal (measured.unnamed, 0);
  assert_int_equal (measured.misconnected, 0);
  ml_document_undo (fixture->document); /* the wire */
  ml_document_undo (fixture->document); /* the resistor, in one step */
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 1);
}

/* Arrow keys move the part in hand, Enter sets it, and never on top of another. */
static void
test_canvas_parts_are_set_by_keys (void **state)
{
  Fixture *fixture = *state;
  show (fixture);
  MlCanvas *canvas = fixture->canvas;
  ml_canvas_set_mode (canvas, ML_CANVAS_DRAW);
  click_at (300, 200, "sleep 0.05");
  ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
  double before_px = canvas->pointer.x;
  ml_canvas_walk (canvas, ML_SIDE_RIGHT);
  assert_near (canvas->pointer.x - before_px, 2.0 * canvas->viewport.zoom, 0, 1e-9);
  key ("Return");
  assert_int_equal (ml_document_board (fixture->document)->n_parts, 1);
  assert_string_equal (canvas->hint, "");
  for (int i = 0; i < 3; i++)
    {
      ml_canvas_add_part (canvas, ml_kind_info (i == 1 ? ML_KIND_NPN : ML_KIND_RESISTOR), NULL);
      key ("Return");
    }
  const MlScene *scene = ml_document_scene (fixture->document);
  assert_int_equal (scene->n_symbols, 4);
  for (guint i = 0; i < scene->n_symbols; i++)
    for (guint k = 0; k < i; k++)
      {
        const MlBox *a = &scene->symbols[i].body, *b = &scene->symbols[k].body;
        assert_false (a->x0 < b->x1 && b->x0 < a->x1 && a->y0 < b->y1 && b->y0 < a->y1);
      }
  /* and while there is room they stay in view, where who has no pointer sees them */
  for (int i = 0; i < 4; i++)
    {
      ml_canvas_add_part (canvas, ml_kind_info (ML_KIND_RESISTOR), NULL);
      key ("Return");
    }
  scene = ml_document_scene (fixture->document);
  assert_int_equal (scene->n_symbols, 8);
  for (guint i = 0; i < scene->n_symbols; i++)
    {
      const MlBox *body = &scene->symbols[i].body;
      MlPoint from = ml_viewport_to_view (&canvas->viewport, body->x0, body->y0), to = ml_viewport_to_view (&canvas->viewport, body->x1, body->y1);
      assert_true (from.x >= 0 && from.y >= 0 && to.x <= canvas->viewport.width_px && to.y <= canvas->viewport.height_px);
    }
}

/* On the way from pin to pin the keys pass parts: Enter there does not let go of the pin that is being joined. */
static void
test_canvas_pins_are_joined_by_keys (void **state)
{
  Fixture *fixture = *state;
  static const char board[] = "meterleaf 1\npart R1 resistor\npart R2 resistor\nplace R1 x=0 y=0\nplace R2 x=20 y=0\n";
  g_autofree char *path = g_build_filename (fixture->folder, "two.leafboard", NULL);
  g_autoptr (GError) error = NULL;
  assert_true (g_file_set_contents (path, board, -1, NULL));
  assert_true (ml_document_open (fixture->document, path, &error));
  g_remove (path);
  show (fixture);
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  ml_canvas_select_and_focus (fixture->canvas, 0, 0);
  key ("Return");
  assert_int_equal (fixture->canvas->doing, ML_DOING_JOIN);
  ml_canvas_select_and_focus (fixture->canvas, 1, -1);
  key ("Return");
  assert_int_equal (fixture->canvas->doing, ML_DOING_JOIN);
  assert_null (ml_canvas_open_panel (fixture->canvas));
  ml_canvas_select_and_focus (fixture->canvas, 1, 1);
  key ("Return");
  assert_int_equal (fixture->canvas->doing, ML_DOING_NOTHING);
  assert_true (part (fixture, "R1")->pins[0].net >= 0);
  assert_int_equal (part (fixture, "R1")->pins[0].net, part (fixture, "R2")->pins[1].net);
}

/* A wire is drawn to a pin that is out of sight: at the edge the sheet moves on below the hand, and the wire is in sight once it is joined. */
static void
test_canvas_a_wire_can_be_drawn_beyond_the_edge (void **state)
{
  Fixture *fixture = *state;
  static const char board[] = "meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\npart R2 resistor 1=B 2=M\nplace R1 x=0 y=0\nplace R2 x=90 y=0\n";
  open_alone (fixture, "wide.leafboard", board);
  MlViewport *viewport = &fixture->canvas->viewport;
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  ml_canvas_zoom_at (fixture->canvas, 18.0 / viewport->zoom, 0, 0);
  ml_canvas_reveal (fixture->canvas, 0, -1);
  settle (30);
  click (fixture, "R1", "1");
  assert_true (middle (fixture, "R2", "1").x > WIDTH);
  click_at (WIDTH - 8, HEIGHT / 2, "sleep 0.05");
  WAIT_FOR (middle (fixture, "R2", "1").x < WIDTH - 60);
  click (fixture, "R2", "1");
  assert_int_equal (part (fixture, "R1")->pins[0].net, part (fixture, "R2")->pins[0].net);
  settle (30);
  MlPoint joined = middle (fixture, "R2", "1"), still = joined;
  settle (100);
  still = middle (fixture, "R2", "1");
  assert_near (still.x, joined.x, 0, 1e-9); /* nothing is drawn any more, so nothing moves */
  click_at (WIDTH - 8, HEIGHT / 2, "sleep 0.4");
  assert_near (middle (fixture, "R2", "1").x, joined.x, 0, 1e-9);
}

static gboolean
in_view (Fixture *fixture, const char *name)
{
  return ml_viewport_shows (&fixture->canvas->viewport, ml_canvas_place_box (fixture->canvas, ml_board_find_part (ml_document_board (fixture->document), name), -1));
}

/* The same, its drawing ready to be changed. */
static void
open_to_draw (Fixture *fixture, const char *board)
{
  g_autofree char *path = g_build_filename (fixture->folder, "wide.leafboard", NULL);
  g_autoptr (GError) error = NULL;
  assert_true (g_file_set_contents (path, board, -1, NULL));
  assert_true (ml_document_open (fixture->document, path, &error));
  g_remove (path);
  show (fixture);
  WAIT_FOR (!ml_document_is_drawing (fixture->document));
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
}

/* A name that has to stand farther out than the view reaches is brought into it: the part it belongs to could not be told. */
static void
test_canvas_a_value_typed_at_the_edge_is_in_view (void **state)
{
  Fixture *fixture = *state;
  static const char board[] = "meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\npart R2 resistor 1=B 2=M\nplace R1 x=0 y=0\nplace R2 x=60 y=0\n";
  g_autofree char *valued = g_strdup_printf ("meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\npart R2 resistor 1=B 2=M%s\nplace R1 x=0 y=0\nplace R2 x=60 y=0\n", " value=123.456k");
  g_autoptr (MlText) text = ml_text_new ("", valued, -1);
  open_to_draw (fixture, board);
  click (fixture, "R2", NULL);
  ml_document_apply (fixture->document, text, NULL, "Value of R2", NULL);
  const MlScene *scene = ml_document_scene (fixture->document);
  guint n = 0;
  for (guint i = 0; i < scene->n_labels; i++)
    if (scene->labels[i].part == 1)
      {
        assert_true (ml_viewport_shows (&fixture->canvas->viewport, scene->labels[i].box));
        n++;
      }
  assert_int_equal (n, 2);
  assert_true (in_view (fixture, "R1"));
}

/* A net that was just joined and reaches out of view is brought into it, and no part goes out of view for it that was there: all is drawn smaller. */
static void
test_canvas_a_joined_net_pushes_no_part_out_of_view (void **state)
{
  Fixture *fixture = *state;
  static const char board[] = "meterleaf 1\nreference M\npart R1 resistor 1=A 2=M\npart R2 resistor 1=B 2=M\nplace R1 x=0 y=0\nplace R2 x=60 y=0\n";
  g_autofree char *more = g_strconcat (board, "part R3 resistor 1=A 2=M\nplace R3 x=-12 y=0\n", NULL);
  g_autoptr (MlText) text = ml_text_new ("", more, -1);
  open_to_draw (fixture, board);
  click (fixture, "R2", NULL);
  const double zoom = fixture->canvas->viewport.zoom;
  ml_document_apply (fixture->document, text, NULL, "Add R3", NULL);
  assert_true (in_view (fixture, "R1") && in_view (fixture, "R2") && !in_view (fixture, "R3"));
  ml_canvas_reveal_net (fixture->canvas, part (fixture, "R3")->pins[0].net);
  assert_true (in_view (fixture, "R1") && in_view (fixture, "R2") && in_view (fixture, "R3"));
  assert_true (fixture->canvas->viewport.zoom < zoom);
  /* who came nearer by hand is not sent away again: the net alone is brought into view */
  ml_canvas_zoom_at (fixture->canvas, 1.5, WIDTH, HEIGHT / 2);
  const double near = fixture->canvas->viewport.zoom;
  assert_true (!in_view (fixture, "R3") && in_view (fixture, "R2"));
  ml_canvas_reveal_net (fixture->canvas, part (fixture, "R3")->pins[0].net);
  assert_true (in_view (fixture, "R3"));
  assert_near (fixture->canvas->viewport.zoom, near, 0, 1e-9);
}

static void
test_canvas_part_is_dragged_turned_and_removed (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  MlCanvas *canvas = fixture->canvas;
  ml_canvas_set_mode (canvas, ML_CANVAS_DRAW);
  MlPoint from = middle (fixture, "R2", NULL);
  MlBox before = ml_canvas_place_box (canvas, 2, -1);
  double zoom = canvas->viewport.zoom;
  g_autofree char *drag = g_strdup_printf ("mousedown 1 mousemove_relative -- 8 8 mousemove_relative -- %d %d sleep 0.05 mouseup 1",
                                           (int) (5 * zoom) - 8, (int) (3 * zoom) - 8);
  click_at (from.x, from.y, drag);
  MlBox after = ml_canvas_place_box (canvas, 2, -1);
  assert_near (after.x0 - before.x0, 5.0, 0, 1.0);
  assert_near (after.y0 - before.y0, 3.0, 0, 1.0);
  assert_true (part (fixture, "R2")->placed);
  MlPlace place = part (fixture, "R2")->place;
  ml_canvas_turn (canvas);
  assert_int_equal (part (fixture, "R2")->place.turn, (place.turn + 1) % 4);
  MlBox turned = ml_canvas_place_box (canvas, 2, -1);
  assert_near ((turned.x0 + turned.x1) / 2, (after.x0 + after.x1) / 2, 0, 1.0); /* about its middle */
  ml_canvas_remove (canvas);
  assert_int_equal (ml_board_find_part (ml_document_board (fixture->document), "R2"), -1);
}

typedef struct { guint n_called, n_destroyed; int net; } Picked;

static void
picked_cb (MlCanvas *canvas, const MlHit *picked, gpointer data)
{
  Picked *result = data;
  result->n_called++;
  result->net = picked ? picked->net : -2;
}

static void
pick_destroyed (gpointer data)
{
  ((Picked *) data)->n_destroyed++;
}

static void
test_canvas_pick_gives_one_click_to_who_asked (void **state)
{
  Fixture *fixture = *state;
  static Picked result = { 0, 0, -1 }; /* outlives this function: the last pick ends with the canvas */
  open_divider (fixture);
  ml_canvas_pick (fixture->canvas, "Click where the red lead goes", picked_cb, &result, pick_destroyed);
  click (fixture, "R1", "2");
  assert_int_equal (result.n_called, 1);
  assert_int_equal (result.n_destroyed, 1);
  assert_string_equal (ml_document_board (fixture->document)->nets[result.net].name, "MID");
  ml_canvas_pick (fixture->canvas, "Click again", picked_cb, &result, pick_destroyed);
  assert_true (ml_canvas_cancel (fixture->canvas));
  assert_int_equal (result.n_called, 2);
  assert_int_equal (result.net, -2);
  /* by the keyboard too, where Enter at a pin opens a reading otherwise */
  ml_canvas_pick (fixture->canvas, "Walk there", picked_cb, &result, pick_destroyed);
  ml_canvas_select_and_focus (fixture->canvas, ml_board_find_part (ml_document_board (fixture->document), "R2"), 1);
  key ("Return");
  assert_int_equal (result.n_called, 3);
  assert_string_equal (ml_document_board (fixture->document)->nets[result.net].name, "MINUS");
  assert_false (ml_canvas_entry_is_open (fixture->canvas));
  ml_canvas_pick (fixture->canvas, "And again", picked_cb, &result, pick_destroyed); /* left open when the canvas goes */
}

static void
test_canvas_wheel_zooms_at_the_pointer_and_drag_pans (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  MlViewport *viewport = &fixture->canvas->viewport;
  ml_canvas_zoom_in (fixture->canvas);
  double zoom = viewport->zoom;
  click_at (400, 300, "keydown ctrl click 4 keyup ctrl");
  assert_true (viewport->zoom > zoom);
  for (guint i = 0; i < 400 && fixture->canvas->layer.zoom != viewport->zoom; i++)
    settle (1);
  assert_near (fixture->canvas->layer.zoom, viewport->zoom, 0, 0); /* sharp once it has come to rest */
  MlPoint origin = viewport->origin;
  zoom = viewport->zoom;
  click_at (450, 20, "mousedown 2 mousemove_relative -- 12 6 mousemove_relative -- 28 14 sleep 0.05 mouseup 2");
  assert_near ((origin.x - viewport->origin.x) * zoom, 40.0, 0, 2.0);
  ml_canvas_fit (fixture->canvas);
  assert_true (viewport->fitted);
}

/* The room that notes took once is kept while something is only looked at, and given back when a reading is taken or all is asked for. */
static void
test_canvas_room_of_notes_is_given_back (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  MlViewport *viewport = &fixture->canvas->viewport;
  MlBox tight = viewport->content, wide = { tight.x0 - 60.0, tight.y0 - 60.0, tight.x1 + 60.0, tight.y1 + 60.0 };
  ml_viewport_set_content (viewport, wide);
  double small = viewport->zoom;
  ml_document_set_condition (fixture->document, 1);
  ml_document_set_condition (fixture->document, 0);
  assert_near (viewport->zoom, small, 0, 0);
  ml_canvas_fit (fixture->canvas);
  assert_true (viewport->zoom > 1.5 * small);
  ml_viewport_set_content (viewport, wide);
  click (fixture, "R1", "2");
  type ("4.98");
  key ("Return");
  WAIT_FOR (viewport->zoom > 1.5 * small);
  assert_true (viewport->fitted);
}

static gboolean
lies_within (const MlBox *box, const MlBox *outer)
{
  return box->x0 >= outer->x0 - 1e-9 && box->y0 >= outer->y0 - 1e-9 && box->x1 <= outer->x1 + 1e-9 && box->y1 <= outer->y1 + 1e-9;
}

/* The notes of each condition take other room, and the eye stays where it is. */
static void
test_canvas_choosing_a_condition_moves_nothing (void **state)
{
  Fixture *fixture = *state;
  open_demo (fixture, "vent-controller.leafjob");
  MlCanvas *canvas = fixture->canvas;
  WAIT_FOR (is_judged (fixture->document) && ml_canvas_is_settled (canvas));
  ml_canvas_fit (canvas);
  const MlBox before = canvas->viewport.content;
  const MlPoint origin = canvas->viewport.origin;
  for (int condition = 2; condition >= 0; condition--)
    {
      ml_document_set_condition (fixture->document, condition);
      WAIT_FOR (ml_canvas_is_settled (canvas));
      assert_memory_equal (&canvas->viewport.content, &before, sizeof before);
      assert_near (canvas->viewport.origin.x, origin.x, 0, 0);
      assert_near (canvas->viewport.origin.y, origin.y, 0, 0);
      ml_canvas_fit (canvas); /* nor is there room for this one alone when all is asked for */
      assert_memory_equal (&canvas->viewport.content, &before, sizeof before);
    }
}

/* Saving writes into the board where its parts stand: no part stands elsewhere after it. With the probes somewhere the suggestion is not shown, but its
 * room stays for it. */
static void
test_canvas_saving_moves_nothing (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  MlCanvas *canvas = fixture->canvas;
  WAIT_FOR (is_judged (fixture->document) && ml_canvas_is_settled (canvas));
  ml_canvas_fit (canvas);
  ml_canvas_select_and_focus (canvas, ml_board_find_part (ml_document_board (fixture->document), "R1"), 1);
  ml_canvas_fit (canvas);
  const MlBox before = canvas->viewport.content;
  g_autofree char *path = g_build_filename (fixture->folder, "kept.leafboard", NULL);
  g_autoptr (GError) error = NULL;
  assert_true (ml_document_save_board (fixture->document, path, FALSE, &error));
  g_remove (path);
  WAIT_FOR (ml_canvas_is_settled (canvas));
  settle (30);
  assert_memory_equal (&canvas->viewport.content, &before, sizeof before);
  ml_canvas_cancel (canvas);
  settle (30);
  assert_memory_equal (&canvas->viewport.content, &before, sizeof before);
}

/* The other unit's readings stand beside this one's: they have room as soon as they are shown. */
static void
test_canvas_comparison_is_in_sight (void **state)
{
  Fixture *fixture = *state;
  open_demo (fixture, "vent-controller.leafjob");
  MlCanvas *canvas = fixture->canvas;
  WAIT_FOR (is_judged (fixture->document) && ml_canvas_is_settled (canvas));
  const MlBox before = canvas->viewport.content;
  int spare = ml_job_find_unit (ml_document_job (fixture->document), "spare");
  assert_true (spare >= 0);
  ml_canvas_set_other_unit (canvas, spare);
  WAIT_FOR (ml_canvas_is_settled (canvas));
  MlBox shown = canvas->viewport.content;
  assert_false (lies_within (&shown, &before));
  ml_canvas_fit (canvas);
  assert_true (lies_within (&canvas->viewport.content, &shown));
}

/* While drawing nothing is suggested; back at measuring, the words of the suggestion must not be cut off at the edge. */
static void
test_canvas_suggestion_is_in_sight_after_drawing (void **state)
{
  Fixture *fixture = *state;
  open_divider (fixture);
  MlCanvas *canvas = fixture->canvas;
  WAIT_FOR (is_judged (fixture->document));
  ml_canvas_set_mode (canvas, ML_CANVAS_DRAW);
  ml_canvas_take_extent (canvas, ML_EXTENT_ANEW);
  MlBox drawn = canvas->viewport.content;
  ml_canvas_set_mode (canvas, ML_CANVAS_MEASURE);
  MlBox shown = canvas->viewport.content;
  ml_canvas_take_extent (canvas, ML_EXTENT_ANEW);
  assert_false (lies_within (&canvas->viewport.content, &drawn));
  assert_true (lies_within (&canvas->viewport.content, &shown));
}

static void
test_canvas_all_is_in_sight_when_a_lead_is_asked_for (void **state)
{
  Fixture *fixture = *state;
  static Picked result = { 0, 0, -1 };
  open_divider (fixture);
  ml_canvas_set_mode (fixture->canvas, ML_CANVAS_DRAW);
  ml_viewport_hold (&fixture->canvas->viewport); /* as after drawing something */
  ml_canvas_pick (fixture->canvas, "Click where the red lead goes", picked_cb, &result, pick_destroyed);
  assert_true (fixture->canvas->viewport.fitted);
  click (fixture, "R1", "2");
  assert_int_equal (result.n_called, 1);
  assert_true (fixture->canvas->viewport.fitted);
}

int
main (int argc, char **argv)
{
  if (!g_getenv ("DISPLAY") || !gtk_init_check ())
    return 77; /* no display: skipped */
  const struct CMUnitTest tests[] = {
    cmocka_unit_test_setup_teardown (test_canvas_every_part_and_pin_is_a_named_widget, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_targets_say_kind_value_and_net, set_up, tear_down),
    cmocka_unit_test (test_status_kind_keeps_the_capitals_of_its_name),
    cmocka_unit_test_setup_teardown (test_canvas_switches_follow_the_condition, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_click_and_type_records_a_reading, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_escape_leaves_the_entry_and_records_nothing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_what_is_no_reading_stays_in_the_entry, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_two_pins_clicked_are_red_and_black, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_a_click_after_moving_on_is_a_red_probe, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_probes_go_along_with_the_suggestion, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_an_open_entry_stays_where_it_is, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_two_pin_part_means_across_it_and_r_swaps, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_over_range_in_a_cold_condition_is_ohms, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_the_r_of_an_ohms_reading_swaps_nothing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_click_elsewhere_keeps_what_was_typed, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_going_on_keeps_what_was_typed, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_what_is_not_taken_is_said, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_an_open_entry_follows_the_condition, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_arrows_walk_and_tab_goes_by_parts, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_a_part_chosen_by_keys_is_shown_where_there_is_room, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_draws_a_board_by_clicks_and_keys, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_a_new_part_stands_beside_what_is_there, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_part_numbers_are_typed_in_small_letters, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_entry_says_how_little_is_known, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_parts_are_set_by_keys, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_pins_are_joined_by_keys, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_a_wire_can_be_drawn_beyond_the_edge, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_a_value_typed_at_the_edge_is_in_view, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_a_joined_net_pushes_no_part_out_of_view, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_part_is_dragged_turned_and_removed, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_pick_gives_one_click_to_who_asked, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_wheel_zooms_at_the_pointer_and_drag_pans, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_room_of_notes_is_given_back, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_choosing_a_condition_moves_nothing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_saving_moves_nothing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_comparison_is_in_sight, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_suggestion_is_in_sight_after_drawing, set_up, tear_down),
    cmocka_unit_test_setup_teardown (test_canvas_all_is_in_sight_when_a_lead_is_asked_for, set_up, tear_down),
  };
  return cmocka_run_group_tests (tests, NULL, NULL);
}
