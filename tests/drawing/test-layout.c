/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What must hold in every drawing, whatever the board. Rules of orthogonal circuit drawings (common practice); the net list is read back
 * from the geometry alone and compared with the board's. */
#include "board/edit.h"
#include "drawing/layout-boards.h"
#include "drawing/symbol-geometry.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/generate.h"
#include "support/near.h"
#include "support/size.h"

static const char divider[] = "reference GND\n"
                              "part J1 connector 1=IN 2=GND\n"
                              "part R1 resistor 1=IN 2=MID value=10k\n"
                              "part R2 resistor 1=MID 2=GND value=1k\n"
                              "part C1 capacitor 1=MID 2=GND value=100n\n"
                              "condition on\n"
                              "  supply plus=IN minus=GND voltage=12\n";

static void
check_board (MlBoard *board, guint effort, const char *what)
{
  MlScene *scene = ml_test_layout (board, effort);

  assert_int_equal (ml_test_hard_faults (scene, what), 0);
  ml_scene_unref (scene);
}

static void
check_efforts (const char *text, guint below, const char *what)
{
  MlBoard *board = ml_test_board (text);
  guint effort;

  for (effort = 0; effort < below; effort++)
    check_board (board, effort, what);
  ml_board_unref (board);
}

static void
check_text (const char *text, const char *what)
{
  check_efforts (text, 3, what);
}

/* ---- corner cases ---- */

static void
test_layout_empty_board_gives_an_empty_scene (void **state)
{
  MlBoard *board = ml_test_board ("reference GND\n");
  MlScene *scene = ml_test_layout (board, 2);

  assert_int_equal (scene->n_symbols, 0);
  assert_int_equal (scene->n_wires, 0);
  assert_true (scene->extent.x1 >= scene->extent.x0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_layout_corner_cases_have_no_hard_faults (void **state)
{
  check_text ("part R1 resistor 1=A 2=B value=1k\n", "one part");
  check_text ("part R1 resistor 1=- 2=-\n", "one part, open");
  check_text ("part R1 resistor 1=A 2=A\npart Q1 npn collector=A base=A emitter=A\n", "all pins on one net");
  check_text ("part R1 resistor 1=A 2=B\npart R2 resistor 1=B 2=C\npart R3 resistor 1=C 2=A\n", "no supply, no reference");
  check_text ("reference GND\npart R1 resistor 1=A 2=GND\npart R2 resistor 1=B 2=C\npart C1 capacitor plus=D minus=E\npart D1 led anode=D cathode=E\n",
              "islands");
  check_text ("part U1 block\npart J1 connector\npart TP1 testpoint\n", "boxes without pins");
  check_text ("part Q1 npn collector=A\npart U1 opamp out=A\npart K1 coil 1=A 2=B\npart K1a contact common=B nc=A by=K1\n", "pins left out");
  check_text (divider, "divider");
}

/* No text is wider than what room is kept for, and the cut shows. */
static void
check_texts_are_cut (const char *text)
{
  MlBoard *board = ml_test_board (text);
  MlScene *scene = ml_test_layout (board, 1);
  guint i, n_cut = 0;

  for (i = 0; i < scene->n_labels; i++)
    {
      const MlSceneLabel *label = &scene->labels[i];
      assert_true (label->box.x1 - label->box.x0 <= ML_TEXT_WIDEST);
      n_cut += strstr (label->text, "…") != NULL;
    }
  assert_true (n_cut >= 3); /* R and U's names, a pin's */
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_layout_very_long_names_are_cut (void **state)
{
  GString *text = g_string_new ("reference GND\n");
  char *name = g_strnfill (300, 'W');

  g_string_append_printf (text, "part R%s resistor 1=N%s 2=GND value=1k\n", name, name);
  g_string_append_printf (text, "part U1 block P%s=N%s Q=GND\n", name, name);
  g_string_append_printf (text, "part J1 connector A%s=N%s B=GND\n", name, name);
  check_text (text->str, "long names");
  check_texts_are_cut (text->str);
  g_string_free (text, TRUE);
  g_free (name);
}

static void
test_layout_wide_block_and_busy_net (void **state)
{
  GString *text = g_string_new ("reference GND\npart U1 block VDD=VCC GND=GND");
  const guint n_pins = ml_test_size (62, 22);
  guint i;

  for (i = 0; i < n_pins; i++)
    g_string_append_printf (text, " P%u=S%u", i, i);
  for (i = 0; 5 * i < n_pins && i < 12; i++)
    g_string_append_printf (text, "\npart R%u resistor 1=S%u 2=GND value=1k", i, 5 * i);
  g_string_append (text, "\n");
  check_text (text->str, "a block of many pins");
  g_string_assign (text, "reference GND\n");
  for (i = 0; i < 50; i++)
    g_string_append_printf (text, "part R%u resistor 1=BUS 2=BUS2 value=1k\n", i);
  {
    MlBoard *board = ml_test_board (text->str);
    check_board (board, 0, "nets with 50 pins");
    check_board (board, 1, "nets with 50 pins");
    ml_board_unref (board);
  }
  g_string_free (text, TRUE);
}

/* The share of signal nets with two pins that are drawn as a wire, not as a name at either pin. */
static double
share_joined (const MlScene *scene)
{
  guint i, k, n = 0, joined = 0;

  for (i = 0; i < scene->board->n_nets; i++)
    {
      guint pins = 0, flags = 0;
      for (k = 0; k < scene->n_pins; k++)
        pins += scene->pins[k].net == (int) i;
      for (k = 0; k < scene->n_flags; k++)
        flags += scene->flags[k].net == (int) i;
      n += pins == 2;
      joined += pins == 2 && flags == 0;
    }
  assert_true (n > 20);
  return (double) joined / n;
}

/* A first drawing comes at once: that of a large board in rows, where only names join the parts. It says so, and the next is a real one: most wires
 * are drawn. */
static void
test_layout_large_board_is_drawn_in_stages (void **state)
{
  g_autofree char *text = ml_generate_board (7, ml_test_size (600, 340));
  MlBoard *board = ml_test_board (text);
  MlScene *rows = ml_test_layout (board, 0), *scene = ml_test_layout (board, 1);

  assert_true (rows->in_rows);
  assert_int_equal (ml_layout_measure (rows).misconnected, 0);
  assert_false (scene->in_rows);
  assert_int_equal (ml_test_hard_faults (scene, "a large board"), 0);
  print_message ("# a large board: %.0f %% of the nets with two pins are wires, in rows %.0f %%\n", 100 * share_joined (scene), 100 * share_joined (rows));
  assert_true (share_joined (scene) > 0.8);
  ml_scene_unref (rows);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* A board of some hundred parts fills a sheet that lies: no strip, no scatter. The paper is that of ISO 216, 1.41 times as wide as high; a part
 * with its texts takes about 4 g by 5 g, and a sheet of 8 times what its parts take is an empty one (judgement). */
static void
test_layout_large_board_fills_a_sheet (void **state)
{
  g_autofree char *text = ml_generate_board (8, ml_test_size (250, 120));
  MlBoard *board = ml_test_board (text);
  MlScene *scene = ml_test_layout (board, 2);
  double width = scene->extent.x1 - scene->extent.x0, height = scene->extent.y1 - scene->extent.y0;

  assert_int_equal (ml_test_hard_faults (scene, "a sheet"), 0);
  assert_true (width > height && width < 2 * height);
  assert_true (width * height < 8 * 20 * board->n_parts);
  assert_true (share_joined (scene) > 0.8);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* Parts without number are put in rows whatever time there is. */
static void
test_layout_crowd_is_drawn_in_rows (void **state)
{
  GString *text = g_string_new ("reference GND\n");
  MlBoard *board;
  MlScene *scene;
  guint i;

  for (i = 0; i < 2100; i++)
    g_string_append_printf (text, "part R%u resistor 1=N%u 2=N%u value=1k\n", i, i % 900, (i * 7 + 1) % 900);
  board = ml_test_board (text->str);
  scene = ml_test_layout (board, 1);
  assert_int_equal (scene->n_symbols, 2100);
  assert_true (scene->in_rows);
  ml_scene_unref (scene);
  ml_board_unref (board);
  g_string_free (text, TRUE);
}

static void
test_layout_every_kind_is_drawn (void **state)
{
  guint k;

  for (k = 0; k < ML_N_KINDS; k++)
    {
      const MlKindInfo *kind = ml_kind_info ((MlKind) k);
      GString *text = g_string_new ("reference GND\n");
      guint p;
      g_string_append_printf (text, "part X1 %s", kind->word);
      for (p = 0; kind->pins != NULL && kind->pins[p] != NULL; p++)
        g_string_append_printf (text, " %s=N%u", kind->pins[p], p);
      if (kind->any_pins)
        g_string_append (text, " A=N0 B=N1 C=GND");
      if (kind->kind == ML_KIND_CONTACT)
        g_string_append (text, " by=K9\npart K9 coil 1=N0 2=GND");
      for (p = 0; p < 5; p++)
        g_string_append_printf (text, "\npart R%u resistor 1=N%u 2=GND", p, p);
      g_string_append (text, "\n");
      check_efforts (text->str, ml_test_size (3, 2), kind->word);
      g_string_free (text, TRUE);
    }
}

/* ---- the demo boards and generated ones ---- */

static guint
check_folder (const char *name, guint below, guint most)
{
  g_autofree char *folder = g_build_filename (g_getenv ("METERLEAF_SOURCE"), name, NULL);
  GDir *dir = g_dir_open (folder, 0, NULL);
  const char *file;
  guint n = 0;

  assert_non_null (dir);
  while ((file = g_dir_read_name (dir)) != NULL && n < most)
    if (g_str_has_suffix (file, ".leafboard"))
      {
        g_autofree char *path = g_build_filename (folder, file, NULL);
        g_autofree char *text = NULL;
        assert_true (g_file_get_contents (path, &text, NULL, NULL));
        check_efforts (text, below, file);
        n++;
      }
  g_dir_close (dir);
  return n;
}

static void
test_layout_demo_boards_have_no_hard_faults (void **state)
{
  assert_true (check_folder ("boards", 3, ml_test_size (G_MAXUINT, 3)) >= 3);
}

/* Amplifiers, bridges, a charger, a ladder, relays: circuits of our own scenarios with the structures that layout knows. */
static void
test_layout_known_structures_have_no_hard_faults (void **state)
{
  assert_true (check_folder ("tests/drawing/boards", 2, ml_test_size (G_MAXUINT, 4)) >= ml_test_size (9, 4));
}

static void
check_generated (guint64 first, guint n, guint effort, double *ret_score)
{
  guint i;

  for (i = 0; i < n; i++)
    {
      g_autofree char *text = ml_generate_board (first + i, 5 + (guint) ((first + i) * 7 % 50));
      g_autofree char *what = g_strdup_printf ("seed %u, effort %u", (guint) (first + i), effort);
      MlBoard *board = ml_test_board (text);
      MlScene *scene = ml_test_layout (board, effort);
      assert_int_equal (ml_test_hard_faults (scene, what), 0);
      *ret_score += ml_layout_measure (scene).score / n;
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

static void
test_layout_generated_boards_have_no_hard_faults (void **state)
{
  const guint n = ml_test_size (40, 4);
  double plain = 0, polished = 0;

  check_generated (3000, n, 0, &plain);
  check_generated (3000, n, 1, &polished);
  print_message ("# %u generated boards: mean score %.2f with insertion and router only, %.2f polished\n", n, plain, polished);
  assert_true (polished < plain);
}

/* The thirty boards of the verdict's exam, as the pictures of `draw` show them. */
static void
test_layout_boards_of_the_exam_have_no_hard_faults (void **state)
{
  for (guint i = 0; i < ml_test_size (30, 4); i++)
    {
      g_autofree char *drawn = NULL, *actual = NULL, *what = g_strdup_printf ("exam board %u", i);
      MlBoard *board;
      MlScene *scene;

      ml_generate_pair (8001 + i, 5 + i % 11, &drawn, &actual);
      board = ml_test_board (drawn);
      scene = ml_test_layout (board, 2);
      assert_int_equal (ml_test_hard_faults (scene, what), 0);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* ---- determinism ---- */

static void
test_layout_same_board_gives_the_same_scene (void **state)
{
  g_autofree char *text = ml_generate_board (77, 30), *first = NULL, *second = NULL;
  MlBoard *board = ml_test_board (text);
  MlScene *a = ml_test_layout (board, 1), *b = ml_test_layout (board, 1);

  first = ml_test_scene_text (a);
  second = ml_test_scene_text (b);
  assert_string_equal (first, second);
  ml_scene_unref (a);
  ml_scene_unref (b);
  ml_board_unref (board);
}

static void
test_layout_order_of_parts_in_the_file_does_not_matter (void **state)
{
  g_autofree char *reversed = NULL;
  g_auto (GStrv) lines = g_strsplit (divider, "\n", -1);
  MlBoard *board = ml_test_board (divider), *other;
  MlScene *a, *b;
  MlPlace *places_a = g_new0 (MlPlace, 4), *places_b = g_new0 (MlPlace, 4);
  guint i;

  reversed = g_strjoin ("\n", lines[0], lines[4], lines[3], lines[2], lines[1], lines[5], lines[6], "", NULL);
  other = ml_test_board (reversed);
  a = ml_test_layout (board, 1);
  b = ml_test_layout (other, 1);
  ml_layout_places (a, places_a);
  ml_layout_places (b, places_b);
  for (i = 0; i < 4; i++)
    {
      int twin = ml_board_find_part (other, board->parts[i].name);
      assert_near (places_b[twin].x, places_a[i].x, 0, 1e-9);
      assert_near (places_b[twin].y, places_a[i].y, 0, 1e-9);
      assert_int_equal (places_b[twin].turn, places_a[i].turn);
    }
  g_free (places_a);
  g_free (places_b);
  ml_scene_unref (a);
  ml_scene_unref (b);
  ml_board_unref (board);
  ml_board_unref (other);
}

static void
test_layout_cancelled_says_so (void **state)
{
  MlBoard *board = ml_test_board (divider);
  MlLayoutOptions options = { .effort = 2 };
  GCancellable *cancellable = g_cancellable_new ();
  GError *error = NULL;

  g_cancellable_cancel (cancellable);
  assert_null (ml_layout (board, &options, cancellable, &error));
  assert_true (g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED));
  g_clear_error (&error);
  g_object_unref (cancellable);
  ml_board_unref (board);
}

typedef struct { GCancellable *cancellable; double share; guint n; } Watch;

static void
watch_cb (double share, gpointer data)
{
  Watch *watch = data;

  assert_true (share >= watch->share && share <= 1);
  watch->share = share;
  watch->n++;
  if (watch->cancellable != NULL && share > 0.2)
    g_cancellable_cancel (watch->cancellable);
}

/* Says how far it is, and stops when it is told to on the way. */
static void
test_layout_of_a_large_board_tells_how_far_it_is (void **state)
{
  g_autofree char *text = ml_generate_board (5, ml_test_size (500, 250));
  MlBoard *board = ml_test_board (text);
  Watch watch = { NULL, 0, 0 };
  MlLayoutOptions options = { .effort = 1, .progress = watch_cb, .progress_data = &watch };
  MlScene *scene = ml_layout (board, &options, NULL, NULL);
  GError *error = NULL;

  assert_int_equal (ml_test_hard_faults (scene, "a large board"), 0);
  assert_true (watch.n > 5); /* once a stage at least */
  assert_near (watch.share, 1, 0, 0);
  ml_scene_unref (scene);
  watch = (Watch){ g_cancellable_new (), 0, 0 };
  assert_null (ml_layout (board, &options, watch.cancellable, &error));
  assert_true (g_error_matches (error, G_IO_ERROR, G_IO_ERROR_CANCELLED));
  g_clear_error (&error);
  g_object_unref (watch.cancellable);
  ml_board_unref (board);
}

typedef struct { GCancellable *cancellable; gulong after_us; } Impatience;

static gpointer
cancel_thread (gpointer data)
{
  const Impatience *impatience = data;

  g_usleep (impatience->after_us);
  g_cancellable_cancel (impatience->cancellable);
  return NULL;
}

/* Whoever edits on cancels a drawing at any moment of it, while pieces of some attempts stand and others do not. */
static void
test_layout_is_cancelled_at_any_moment (void **state)
{
  g_autoptr (MlBoard) board = ml_test_board_of ("boards/vent-controller.leafboard");
  const guint n = ml_test_size (80, 20);

  for (guint i = 0; i < n; i++)
    {
      Impatience impatience = { g_cancellable_new (), 150 * i };
      MlLayoutOptions options = { .effort = 2 };
      GThread *thread = g_thread_new ("impatient", cancel_thread, &impatience);
      MlScene *scene = ml_layout (board, &options, impatience.cancellable, NULL);

      g_thread_join (thread);
      g_clear_pointer (&scene, ml_scene_unref);
      g_object_unref (impatience.cancellable);
    }
}

/* ---- what stays where it is ---- */

/* The board with the places of its parts written as the window does. */
static MlText *
with_places (const MlScene *scene)
{
  const MlBoard *board = scene->board;
  g_autofree MlPlace *places = g_new0 (MlPlace, board->n_parts);
  g_autofree int *parts = g_new0 (int, board->n_parts);
  g_autoptr (GPtrArray) pins = g_ptr_array_new_with_free_func (g_free);

  ml_layout_places (scene, places);
  for (guint k = 0; k < board->n_parts; k++)
    {
      parts[k] = (int) k;
      g_ptr_array_add (pins, ml_layout_pin_words (scene, (int) k, NULL));
    }
  return ml_board_edit_place_pins (board, parts, places, (const char *const *) pins->pdata, board->n_parts, NULL);
}

static void
assert_drawn_the_same (const MlScene *scene, const MlScene *other, const char *what)
{
  g_autofree char *a = ml_test_scene_text (scene), *b = ml_test_scene_text (other);

  if (strcmp (a, b) != 0)
    print_error ("%s is drawn otherwise\n", what);
  assert_string_equal (a, b);
}

/* Saved with its places and opened again, in the quick drawing and in the final one. */
static void
assert_opened_again_the_same (const MlScene *scene, const char *what)
{
  g_autoptr (MlText) text = with_places (scene);
  MlBoard *placed = ml_board_read (text, NULL);

  for (guint effort = 0; effort <= 2; effort += 2)
    {
      MlScene *again = ml_test_layout (placed, effort);
      assert_drawn_the_same (scene, again, what);
      ml_scene_unref (again);
    }
  ml_board_unref (placed);
}

/* What the window does when a part is dropped. */
static MlScene *
dropped (const MlScene *scene, int part)
{
  g_autofree MlPlace *places = g_new0 (MlPlace, scene->board->n_parts);
  g_autofree char *pins = NULL;
  g_autoptr (MlText) text = NULL;
  MlLayoutOptions options = { .effort = 0 };
  MlBoard *board;
  MlScene *moved, *after;

  ml_layout_places (scene, places);
  places[part].x += 3;
  places[part].y += 1;
  ml_layout_settle (scene, part, &places[part]);
  pins = ml_layout_pin_words (scene, part, &places[part]);
  text = ml_board_edit_place_pins (scene->board, &part, &places[part], (const char *const[]){ pins }, 1, NULL);
  board = ml_board_read (text, NULL);
  moved = ml_layout_move (scene, part, &places[part], TRUE);
  options.previous = moved;
  after = ml_layout (board, &options, NULL, NULL);
  ml_scene_unref (moved);
  ml_board_unref (board);
  return after;
}

/* A board that is saved with its places is drawn the same when it is opened again, also after a part was moved by hand: pins of its blocks, terminals
 * and wires. The connectors moved here are drawn as terminals that stand apart. */
static void
test_layout_opened_again_is_drawn_the_same (void **state)
{
  static const struct { const char *file, *part; } cases[] = { { "railway-signal", "J1" }, { "shelf-light", "R1" }, { "turntable-drive", "J1" },
                                                               { "irrigation", "J3" }, { "vent-with-block", "U1" }, { "track-diagram", "J1" } };
  guint i;

  for (i = 0; i < ml_test_size (G_N_ELEMENTS (cases), 2); i++)
    {
      g_autofree char *file = g_strconcat (cases[i].file, ".leafboard", NULL);
      MlBoard *board;
      MlScene *scene = ml_test_scene_of_file (file, &board), *after = dropped (scene, ml_board_find_part (board, cases[i].part)),
              *another = dropped (scene, (int) board->n_parts / 2);

      assert_opened_again_the_same (scene, cases[i].file);
      assert_opened_again_the_same (after, cases[i].file);
      assert_opened_again_the_same (another, cases[i].file);
      ml_scene_unref (another);
      ml_scene_unref (after);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

/* What was known of the potentials goes on holding for the nets that are still there: a value that changes moves no wire. */
static void
test_layout_edit_keeps_the_potentials (void **state)
{
  MlBoard *board = ml_test_board_of ("tests/drawing/boards/shelf-light.leafboard");
  g_autofree double *net_v = g_new (double, board->n_nets);
  MlLayoutOptions first = { .effort = 1, .net_v = net_v }, then = { .effort = 0 };
  MlScene *scene, *after, *told;

  for (guint i = 0; i < board->n_nets; i++)
    net_v[i] = (int) i == board->reference ? 0 : 24.0 - i;
  scene = ml_layout (board, &first, NULL, NULL);
  then.previous = scene;
  after = ml_layout (board, &then, NULL, NULL);
  first.effort = 0; /* the same anew, so that nothing but the potentials can differ */
  first.previous = scene;
  told = ml_layout (board, &first, NULL, NULL);
  assert_drawn_the_same (told, after, "an edited board");
  ml_scene_unref (told);
  ml_scene_unref (scene);
  ml_scene_unref (after);
  ml_board_unref (board);
}

/* Parts put close together by hand leave their pins little room: a net must be seen or named at each of them all the same. */
static void
test_layout_placed_close_together_loses_no_pin (void **state)
{
  MlBoard *board;
  MlScene *scene = ml_test_scene_of_file ("placed/fume-extractor.leafboard", &board);

  assert_int_equal (ml_test_hard_faults (scene, "placed by hand"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static void
test_layout_placed_parts_stay (void **state)
{
  MlBoard *board = ml_test_board ("reference GND\n"
                                  "part R1 resistor 1=IN 2=MID\npart R2 resistor 1=MID 2=GND\npart Q1 npn collector=IN base=MID emitter=GND\n"
                                  "part U1 opamp noninverting=MID inverting=OUT out=OUT positive=IN negative=GND\n"
                                  "place R1 x=40 y=-7 turn=90\nplace Q1 x=10 y=20 turn=270 mirror\nplace U1 x=-30 y=4 turn=180 mirror\n");
  MlScene *scene = ml_test_layout (board, 2);
  MlPlace places[4];

  ml_layout_places (scene, places);
  assert_near (places[0].x, 40, 0, 0);
  assert_near (places[0].y, -7, 0, 0);
  assert_int_equal (places[0].turn, 1);
  assert_near (places[2].x, 10, 0, 0);
  assert_int_equal (places[2].turn, 3);
  assert_true (places[2].mirror);
  assert_near (places[3].x, -30, 0, 0);
  assert_near (places[3].y, 4, 0, 0);
  assert_int_equal (places[3].turn, 2);
  assert_true (places[3].mirror);
  assert_int_equal (ml_test_hard_faults (scene, "placed"), 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

/* How many of the parts that both boards have stand elsewhere. */
static guint
n_moved (const MlScene *before, const MlScene *after)
{
  MlPlace *old = g_new0 (MlPlace, MAX (before->board->n_parts, 1)), *now = g_new0 (MlPlace, MAX (after->board->n_parts, 1));
  guint i, n = 0;

  ml_layout_places (before, old);
  ml_layout_places (after, now);
  for (i = 0; i < before->board->n_parts; i++)
    {
      int twin = ml_board_find_part (after->board, before->board->parts[i].name);
      if (twin >= 0)
        n += fabs (now[twin].x - old[i].x) > 1e-9 || fabs (now[twin].y - old[i].y) > 1e-9 || now[twin].turn != old[i].turn;
    }
  g_free (old);
  g_free (now);
  return n;
}

static void
check_edit (const MlScene *before, const char *text, const char *what)
{
  MlBoard *board = ml_test_board (text);
  MlLayoutOptions options = { .effort = 1, .previous = before };
  MlScene *after = ml_layout (board, &options, NULL, NULL);

  assert_int_equal (n_moved (before, after), 0);
  assert_int_equal (ml_test_hard_faults (after, what), 0);
  ml_scene_unref (after);
  ml_board_unref (board);
}

/* The statement of the last resistor is left out. */
static char *
without_a_part (const char *text)
{
  const char *begin = g_strrstr (text, "\npart R"), *end = begin == NULL ? NULL : strchr (begin + 1, '\n');

  return begin == NULL || end == NULL ? g_strdup (text) : g_strdup_printf ("%.*s%s", (int) (begin - text), text, end);
}

static void
test_layout_one_part_more_or_less_moves_nothing (void **state)
{
  guint seed;

  for (seed = 40; seed < ml_test_size (90, 44); seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 8 + seed % 25), *more = NULL, *less = without_a_part (text);
      MlBoard *board = ml_test_board (text);
      MlScene *before = ml_test_layout (board, 1);

      more = g_strdup_printf ("%s\npart RX9 resistor 1=%s 2=%s value=1k\n", text, board->nets[seed % board->n_nets].name,
                              board->nets[(seed + 1) % board->n_nets].name);
      check_edit (before, more, "one part more");
      check_edit (before, less, "one part less");
      ml_scene_unref (before);
      ml_board_unref (board);
    }
}

/* Dropped on top of another part, a part comes to stand beside it: nothing may lie on anything. */
static void
test_layout_part_dropped_on_another_stands_beside_it (void **state)
{
  guint seed;

  for (seed = 100; seed < ml_test_size (130, 104); seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 10 + seed % 20);
      MlBoard *board = ml_test_board (text);
      MlScene *before = ml_test_layout (board, 1), *after;
      MlPlace *places = g_new0 (MlPlace, board->n_parts), to;
      int part = (int) (seed % board->n_parts), other = (int) ((seed * 7 + 3) % board->n_parts);

      ml_layout_places (before, places);
      to = places[part];
      to.x = places[other].x;
      to.y = places[other].y + 1;
      ml_layout_settle (before, part, &to);
      assert_true (fabs (to.x - places[other].x) <= 30 && fabs (to.y - places[other].y) <= 30);
      after = ml_layout_move (before, part, &to, TRUE);
      assert_int_equal (ml_test_hard_faults (after, board->parts[part].name), 0);
      ml_scene_unref (before);
      ml_scene_unref (after);
      g_free (places);
      ml_board_unref (board);
    }
}

static const char bridge_of_four[] = "reference MINUS\n"
                                     "part D1 diode anode=ACA cathode=PLUS\npart D2 diode anode=ACB cathode=PLUS\n"
                                     "part D3 diode anode=MINUS cathode=ACA\npart D4 diode anode=MINUS cathode=ACB\n"
                                     "part C1 capacitor plus=PLUS minus=MINUS value=470u\npart R1 resistor 1=PLUS 2=MINUS value=1k\n"
                                     "part J1 connector 1=ACA 2=ACB\n";

/* Four single diodes as a bridge are drawn as a diamond (common practice), also when read back with the places that were written. */
static void
test_layout_diamond_survives_its_places (void **state)
{
  MlBoard *board = ml_test_board (bridge_of_four), *again;
  MlScene *scene = ml_test_layout (board, 1), *second;
  MlPlace *places = g_new0 (MlPlace, board->n_parts);
  GString *text = g_string_new (bridge_of_four);
  guint i;

  ml_layout_places (scene, places);
  for (i = 0; i < board->n_parts; i++)
    g_string_append_printf (text, "place %s x=%g y=%g turn=%d%s\n", board->parts[i].name, places[i].x, places[i].y, 90 * places[i].turn,
                            places[i].mirror ? " mirror" : "");
  again = ml_test_board (text->str);
  second = ml_test_layout (again, 1);
  assert_int_equal (ml_test_hard_faults (scene, "bridge"), 0);
  assert_int_equal (ml_test_hard_faults (second, "bridge, placed"), 0);
  for (i = 0; i < 4; i++)
    {
      assert_string_equal (scene->symbols[ml_scene_symbol (scene, (int) i)].name, "diode-diagonal");
      assert_string_equal (second->symbols[ml_scene_symbol (second, (int) i)].name, "diode-diagonal");
    }
  g_string_free (text, TRUE);
  g_free (places);
  ml_scene_unref (scene);
  ml_scene_unref (second);
  ml_board_unref (board);
  ml_board_unref (again);
}

/* ---- dragging ---- */

static guint
n_wires_in_common (const MlScene *a, const MlScene *b, int net)
{
  guint i, k, n = 0;

  for (i = 0; i < a->n_wires; i++)
    for (k = 0; k < b->n_wires; k++)
      n += a->wires[i].net == net && b->wires[k].net == net && memcmp (&a->wires[i].a, &b->wires[k].a, sizeof (MlPoint)) == 0
           && memcmp (&a->wires[i].b, &b->wires[k].b, sizeof (MlPoint)) == 0;
  return n;
}

static gboolean
has_pin_on (const MlPart *part, int net)
{
  guint i;

  for (i = 0; i < part->n_pins; i++)
    if (part->pins[i].net == net)
      return TRUE;
  return FALSE;
}

static void
test_layout_move_takes_one_part_along (void **state)
{
  guint seed;

  for (seed = 60; seed < ml_test_size (70, 63); seed++)
    {
      g_autofree char *text = ml_generate_board (seed, 10 + seed % 20);
      MlBoard *board = ml_test_board (text);
      MlScene *before = ml_test_layout (board, 1), *after;
      MlPlace *old = g_new0 (MlPlace, board->n_parts), *now = g_new0 (MlPlace, board->n_parts), to;
      int part = (int) (seed % board->n_parts);
      guint i;

      ml_layout_places (before, old);
      to = old[part];
      to.x = ceil (before->extent.x1) + 12; /* out into the open */
      to.y = 0;
      after = ml_layout_move (before, part, &to, TRUE);
      ml_layout_places (after, now);
      for (i = 0; i < board->n_parts; i++)
        if ((int) i != part)
          {
            assert_near (now[i].x, old[i].x, 0, 0);
            assert_near (now[i].y, old[i].y, 0, 0);
          }
      assert_near (now[part].x, to.x, 0, 0);
      assert_int_equal (ml_test_hard_faults (after, "moved"), 0);
      for (i = 0; i < board->n_nets; i++)
        if (!has_pin_on (&board->parts[part], (int) i))
          {
            guint k, n = 0;
            for (k = 0; k < before->n_wires; k++)
              n += before->wires[k].net == (int) i;
            assert_int_equal (n_wires_in_common (before, after, (int) i), n);
          }
      g_free (old);
      g_free (now);
      ml_scene_unref (before);
      ml_scene_unref (after);
      ml_board_unref (board);
    }
}

/* ---- the measure must see what is wrong ---- */

static void
test_measure_sees_faults_put_in_by_hand (void **state)
{
  MlBoard *board = ml_test_board (divider);
  MlScene *scene = ml_test_layout (board, 1);
  MlSceneWire saved;
  MlBox body;

  assert_true (scene->n_wires > 2);
  saved = scene->wires[0];
  scene->wires[0].b.x += 1;
  scene->wires[0].b.y += 1;
  assert_true (ml_layout_measure (scene).slanted > 0);
  body = scene->symbols[1].body;
  scene->wires[0].a = (MlPoint){ body.x0 - 1, floor ((body.y0 + body.y1) / 2) };
  scene->wires[0].b = (MlPoint){ body.x1 + 1, floor ((body.y0 + body.y1) / 2) };
  assert_true (ml_layout_measure (scene).through > 0);
  assert_true (ml_layout_measure (scene).misconnected > 0);
  scene->wires[0] = saved;
  assert_int_equal (ml_test_hard_faults (scene, "mended"), 0);
  scene->labels[0].box = scene->labels[1].box;
  assert_true (ml_layout_measure (scene).text_overlaps > 0);
  ml_scene_unref (scene);
  ml_board_unref (board);
}

static int
by_name (gconstpointer a, gconstpointer b)
{
  return strcmp (*(char *const *) a, *(char *const *) b);
}

/* One part more, kept, opened again: a person finds what was left. */
static void
test_layout_edited_is_opened_again_the_same (void **state)
{
  g_autofree char *folder = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "boards", NULL);
  GDir *dir = g_dir_open (folder, 0, NULL);
  GPtrArray *names = g_ptr_array_new_with_free_func (g_free);
  const char *name;
  guint i, step = ml_test_is_small () ? 12 : 4;

  while ((name = g_dir_read_name (dir)) != NULL)
    if (g_str_has_suffix (name, ".leafboard"))
      g_ptr_array_add (names, g_strdup (name));
  g_dir_close (dir);
  g_ptr_array_sort (names, by_name);
  for (i = 0; i < names->len; i += step)
    {
      g_autofree char *path = g_build_filename ("tests", "drawing", "boards", names->pdata[i], NULL), *text = ml_test_file (path), *more = NULL;
      MlBoard *board = ml_test_board (text), *edited;
      MlScene *before = ml_test_layout (board, 1), *after;
      MlLayoutOptions options = { .effort = 0, .previous = before };

      more = g_strdup_printf ("%s\npart RX9 resistor 1=%s 2=%s value=1k\n", text, board->nets[i % board->n_nets].name,
                              board->nets[(i + 1) % board->n_nets].name);
      edited = ml_test_board (more);
      after = ml_layout (edited, &options, NULL, NULL);
      assert_opened_again_the_same (after, names->pdata[i]);
      ml_scene_unref (after);
      ml_scene_unref (before);
      ml_board_unref (edited);
      ml_board_unref (board);
    }
  g_ptr_array_unref (names);
}

/* Two resistors one above the other: in line by their places, or one step apart, which the wire between them must then go (by hand). */
static void
test_measure_counts_a_step_aside (void **state)
{
  static const struct { const char *where; guint n; } rows[] = { { "x=0", 0 }, { "x=1", 1 }, { "x=-1", 1 }, { "x=5", 0 } };
  guint i;

  for (i = 0; i < G_N_ELEMENTS (rows); i++)
    {
      g_autofree char *text = g_strdup_printf ("part R1 resistor 1=A 2=B\npart R2 resistor 1=B 2=C\nplace R1 x=0 y=0\nplace R2 %s y=9\n", rows[i].where);
      MlBoard *board = ml_test_board (text);
      MlScene *scene = ml_test_layout (board, 2);
      assert_int_equal (ml_layout_measure (scene).jogs, rows[i].n);
      ml_scene_unref (scene);
      ml_board_unref (board);
    }
}

int
main (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_empty_board_gives_an_empty_scene),
    cmocka_unit_test (test_layout_corner_cases_have_no_hard_faults),
    cmocka_unit_test (test_layout_very_long_names_are_cut),
    cmocka_unit_test (test_layout_wide_block_and_busy_net),
    cmocka_unit_test (test_layout_large_board_is_drawn_in_stages),
    cmocka_unit_test (test_layout_large_board_fills_a_sheet),
    cmocka_unit_test (test_layout_crowd_is_drawn_in_rows),
    cmocka_unit_test (test_layout_every_kind_is_drawn),
    cmocka_unit_test (test_layout_demo_boards_have_no_hard_faults),
    cmocka_unit_test (test_layout_known_structures_have_no_hard_faults),
    cmocka_unit_test (test_layout_generated_boards_have_no_hard_faults),
    cmocka_unit_test (test_layout_boards_of_the_exam_have_no_hard_faults),
    cmocka_unit_test (test_layout_same_board_gives_the_same_scene),
    cmocka_unit_test (test_layout_order_of_parts_in_the_file_does_not_matter),
    cmocka_unit_test (test_layout_cancelled_says_so),
    cmocka_unit_test (test_layout_is_cancelled_at_any_moment),
    cmocka_unit_test (test_layout_of_a_large_board_tells_how_far_it_is),
    cmocka_unit_test (test_layout_opened_again_is_drawn_the_same),
    cmocka_unit_test (test_layout_edited_is_opened_again_the_same),
    cmocka_unit_test (test_layout_edit_keeps_the_potentials),
    cmocka_unit_test (test_layout_placed_close_together_loses_no_pin),
    cmocka_unit_test (test_layout_placed_parts_stay),
    cmocka_unit_test (test_layout_one_part_more_or_less_moves_nothing),
    cmocka_unit_test (test_layout_part_dropped_on_another_stands_beside_it),
    cmocka_unit_test (test_layout_diamond_survives_its_places),
    cmocka_unit_test (test_layout_move_takes_one_part_along),
    cmocka_unit_test (test_measure_sees_faults_put_in_by_hand),
    cmocka_unit_test (test_measure_counts_a_step_aside),
  };

  return cmocka_run_group_tests (tests, NULL, ml_test_forget_scenes);
}
