/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How good the final drawings are: against the plain stage (insertion and router only) on the same boards, against the marks that an earlier way of
 * laying out set (boards/marks.table), and by rules of the drawing office (common practice). */
#include "drawing/layout-boards.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drawing/measure-texts.h"
#include "support/near.h"
#include "support/size.h"

#define AT_MOST_OF_PLAIN 0.85
#define MOST_STEPS_ASIDE 0.25 /* per board: parts that stand nearly in line had better stand in line (common practice) */

typedef struct { double plain, final, mark; guint n, n_all, steps; } Scores;

static double
mark_of (const char *name)
{
  g_autofree char *path = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "boards", "marks.table", NULL), *text = NULL;
  g_auto (GStrv) lines = NULL;
  guint i;

  assert_true (g_file_get_contents (path, &text, NULL, NULL));
  lines = g_strsplit (text, "\n", -1);
  for (i = 0; lines[i] != NULL; i++)
    {
      g_auto (GStrv) words = g_strsplit (lines[i], " ", -1);
      if (g_strv_length (words) == 7 && strcmp (words[0], name) == 0)
        return g_ascii_strtod (words[6], NULL);
    }
  return -1;
}

/* The two pins of a net that is drawn in two pieces; FALSE when it has not just two. */
static gboolean
pins_of_pair (const MlScene *scene, int net, MlPoint *ret_a, MlPoint *ret_b)
{
  guint i, n = 0;

  for (i = 0; i < scene->n_pins; i++)
    if (scene->pins[i].net == net)
      {
        if (n < 2)
          *(n == 0 ? ret_a : ret_b) = scene->pins[i].at;
        n++;
      }
  return n == 2;
}

/* A name at one place tells where a supply comes in; at two it interrupts. */
static gboolean
is_interrupted (const MlScene *scene, int net)
{
  guint i, n = 0;

  for (i = 0; i < scene->n_flags; i++)
    n += scene->flags[i].net == net && scene->flags[i].kind == ML_FLAG_NET;
  return n > 1;
}

/* No net of two pins that lie within a quarter of the sheet is interrupted. */
static guint
n_near_pairs_named (const MlScene *scene)
{
  double wide = (scene->extent.x1 - scene->extent.x0) / 4, high = (scene->extent.y1 - scene->extent.y0) / 4;
  guint i, n = 0;

  for (i = 0; i < scene->n_flags; i++)
    {
      MlPoint a, b;
      if (!is_interrupted (scene, scene->flags[i].net) || !pins_of_pair (scene, scene->flags[i].net, &a, &b) || fabs (a.x - b.x) > wide
          || fabs (a.y - b.y) > high)
        continue;
      print_error ("net %s is interrupted between (%g, %g) and (%g, %g)\n", scene->board->nets[scene->flags[i].net].name, a.x, a.y, b.x, b.y);
      n++;
    }
  return n;
}

/* name: below tests/drawing/boards. At full size the other tests of written boards look at the same drawing. */
static void
add_board (const char *name, Scores *scores)
{
  g_autofree char *base = g_path_get_basename (name);
  MlBoard *board;
  MlScene *plain, *final = ml_test_scene_of_file (name, &board);
  double mark;

  if (ml_test_is_small ())
    {
      ml_scene_unref (final);
      final = ml_test_layout (board, 2);
    }
  *strrchr (base, '.') = '\0';
  plain = ml_test_layout (board, 0);
  assert_int_equal (ml_test_hard_faults (plain, base), 0);
  assert_int_equal (ml_test_hard_faults (final, base), 0);
  assert_int_equal (n_near_pairs_named (final), 0);
  assert_int_equal (ml_texts_untold (final), 0);
  assert_int_equal (ml_texts_misread (final), 0);
  scores->steps += ml_layout_measure (final).jogs;
  scores->n_all++;
  mark = mark_of (base);
  if (mark > 0)
    {
      scores->plain += ml_layout_measure (plain).score;
      scores->final += ml_layout_measure (final).score;
      scores->mark += mark;
      scores->n++;
    }
  ml_scene_unref (plain);
  ml_scene_unref (final);
  ml_board_unref (board);
}

static int
by_path (gconstpointer a, gconstpointer b)
{
  return strcmp (*(char *const *) a, *(char *const *) b);
}

static void
check_folder (const char *name, guint every)
{
  g_autofree char *folder = g_build_filename (g_getenv ("METERLEAF_SOURCE"), "tests", "drawing", "boards", name, NULL);
  GDir *dir = g_dir_open (folder, 0, NULL);
  GPtrArray *paths = g_ptr_array_new_with_free_func (g_free);
  Scores scores = { 0 };
  const char *file;
  guint i;

  assert_non_null (dir);
  while ((file = g_dir_read_name (dir)) != NULL)
    {
      g_autofree char *base = g_str_has_suffix (file, ".leafboard") ? g_strndup (file, strlen (file) - strlen (".leafboard")) : NULL;

      if (base != NULL && (!ml_test_is_small () || mark_of (base) > 0)) /* a few of them are of those that have a mark, whatever boards are added */
        g_ptr_array_add (paths, g_build_filename (name, file, NULL));
    }
  g_dir_close (dir);
  g_ptr_array_sort (paths, by_path);
  for (i = 0; i < paths->len; i += every)
    add_board (paths->pdata[i], &scores);
  g_ptr_array_unref (paths);
  assert_true (scores.n > 0);
  print_message ("# boards/%s, %u boards: mean score %.2f, plain stage %.2f, mark %.2f; steps aside on %u boards: %u\n", name, scores.n,
                 scores.final / scores.n, scores.plain / scores.n, scores.mark / scores.n, scores.n_all, scores.steps);
  assert_true (scores.final < scores.plain);
  if (ml_test_is_small ())
    return; /* a few boards have no mean */
  assert_true (scores.final <= AT_MOST_OF_PLAIN * scores.plain);
  assert_true (scores.final < scores.mark);
  assert_true (scores.steps <= MOST_STEPS_ASIDE * scores.n_all);
}

static void
test_layout_score_of_written_boards_beats_the_marks (void **state)
{
  check_folder ("", ml_test_size (1, 10));
}

/* All of them are drawn by the benchmark; here every fourth, for time. */
static void
test_layout_score_of_generated_boards_beats_the_marks (void **state)
{
  check_folder ("generated", ml_test_size (4, 36));
}

int
ml_test_layout_score (void)
{
  const struct CMUnitTest tests[] = {
    cmocka_unit_test (test_layout_score_of_written_boards_beats_the_marks),
    cmocka_unit_test (test_layout_score_of_generated_boards_beats_the_marks),
  };

  return cmocka_run_group_tests (tests, NULL, NULL);
}
