/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How good and how fast the drawings of boards are: the plain stage (insertion and router only), the first drawing and the final one
 * side by side. bench-layout FILE.leafboard… or, without files, the boards of tests/drawing/boards. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include <glib.h>

#include "board/board.h"
#include "drawing/layout.h"
#include "drawing/measure-texts.h"

#define N_EFFORTS 3

typedef struct { MlLayoutMeasure measure; guint untold, misread; double seconds; } Run;

/* Per-board means of what is compared. */
typedef struct { double faults, crossings, bends, jogs, length, area, named, untold, misread, score, seconds; } Row;

static MlBoard *
read_board (const char *path)
{
  g_autofree char *text = NULL;
  MlDiagnostics *diagnostics = ml_diagnostics_new ();
  MlText *source;
  MlBoard *board = NULL;

  if (g_file_get_contents (path, &text, NULL, NULL))
    {
      source = ml_text_new (path, text, -1);
      board = ml_board_read (source, diagnostics);
      ml_text_unref (source);
    }
  if (ml_diagnostics_n_errors (diagnostics) > 0)
    g_clear_pointer (&board, ml_board_unref);
  ml_diagnostics_free (diagnostics);
  return board;
}

static guint
n_signal_nets (const MlBoard *board)
{
  return MAX (board->n_nets, 2) - 1;
}

static Row
row_of (const MlBoard *board, const Run *run)
{
  const MlLayoutMeasure *m = &run->measure;
  double parts = MAX (board->n_parts, 1), nets = MAX (board->n_nets, 1);

  return (Row){ ml_layout_hard_faults (m),
                m->crossings / parts, m->bends / nets, m->jogs, m->length / parts, m->area / parts,
                100.0 * m->signal_flags / 2 / n_signal_nets (board), run->untold, run->misread, m->score, run->seconds };
}

static void
print_row (const char *name, const Row *row)
{
  printf ("  %-6s faults %2.0f  crossings %.3f  bends %.2f  jogs %.2f  length %.1f  area %3.0f  named %.1f %%  untold %.2f  misread %.2f  score %.2f  %.3f s\n", name, row->faults,
          row->crossings, row->bends, row->jogs, row->length, row->area, row->named, row->untold, row->misread, row->score, row->seconds);
}

static void
add_row (Row *sum, const Row *row)
{
  sum->faults += row->faults;
  sum->crossings += row->crossings;
  sum->bends += row->bends;
  sum->jogs += row->jogs;
  sum->length += row->length;
  sum->area += row->area;
  sum->named += row->named;
  sum->untold += row->untold;
  sum->misread += row->misread;
  sum->score += row->score;
  sum->seconds += row->seconds;
}

static Row
mean_row (const Row *sum, guint n)
{
  double d = MAX (n, 1);

  return (Row){ sum->faults, sum->crossings / d, sum->bends / d, sum->jogs / d, sum->length / d, sum->area / d, sum->named / d, sum->untold / d, sum->misread / d,
                sum->score / d, sum->seconds / d };
}

/* Of the processor, not of the clock on the wall: machines are shared. */
static Run
run_effort (MlBoard *board, guint effort)
{
  MlLayoutOptions options = { .effort = effort };
  clock_t begin = clock ();
  MlScene *scene = ml_layout (board, &options, NULL, NULL);
  Run run = { .seconds = (double) (clock () - begin) / CLOCKS_PER_SEC };

  run.measure = ml_layout_measure (scene);
  run.untold = ml_texts_untold (scene);
  run.misread = ml_texts_misread (scene);
  ml_scene_unref (scene);
  return run;
}

/* The score to stay below, of boards/marks.table; -1 when the table has no such board. */
static double
mark_of (const char *table, const char *name)
{
  g_auto (GStrv) lines = g_strsplit (table, "\n", -1);
  guint i;

  for (i = 0; lines[i] != NULL; i++)
    {
      g_auto (GStrv) words = g_strsplit (lines[i], " ", -1);
      if (g_strv_length (words) == 7 && strcmp (words[0], name) == 0)
        return g_ascii_strtod (words[6], NULL);
    }
  return -1;
}

/* In place: without its ending. */
static const char *
board_name (char *base)
{
  char *dot = strrchr (base, '.');

  if (dot != NULL)
    *dot = '\0';
  return base;
}

static char *
read_marks (void)
{
  const char *source = g_getenv ("METERLEAF_SOURCE");
  g_autofree char *path = g_build_filename (source == NULL ? "." : source, "tests", "drawing", "boards", "marks.table", NULL);
  char *text = NULL;

  return g_file_get_contents (path, &text, NULL, NULL) ? text : g_strdup ("");
}

static int
by_name (gconstpointer a, gconstpointer b)
{
  return strcmp (*(char *const *) a, *(char *const *) b);
}

static void
add_folder (GPtrArray *paths, const char *name)
{
  const char *source = g_getenv ("METERLEAF_SOURCE");
  g_autofree char *folder = g_build_filename (source == NULL ? "." : source, "tests", "drawing", name, NULL);
  GDir *dir = g_dir_open (folder, 0, NULL);
  const char *file;

  while (dir != NULL && (file = g_dir_read_name (dir)) != NULL)
    if (g_str_has_suffix (file, ".leafboard"))
      g_ptr_array_add (paths, g_build_filename (folder, file, NULL));
  if (dir != NULL)
    g_dir_close (dir);
}

static GPtrArray *
boards_of_tests (void)
{
  GPtrArray *paths = g_ptr_array_new_with_free_func (g_free);

  add_folder (paths, "boards");
  add_folder (paths, "boards/generated");
  g_ptr_array_sort (paths, by_name);
  return paths;
}

int
main (int argc, char **argv)
{
  static const char *const names[N_EFFORTS] = { "plain", "first", "final" };
  GPtrArray *paths = argc > 1 ? g_ptr_array_new () : boards_of_tests ();
  Row sums[N_EFFORTS] = { { 0 } }, mean;
  g_autofree char *marks = read_marks ();
  double mark, mark_sum = 0, marked_sum = 0;
  guint i, e, n = 0, n_marked = 0;

  for (i = 1; i < (guint) argc; i++)
    g_ptr_array_add (paths, argv[i]);
  for (i = 0; i < paths->len; i++)
    {
      MlBoard *board = read_board (paths->pdata[i]);
      g_autofree char *base = g_path_get_basename (paths->pdata[i]);
      if (board == NULL)
        {
          printf ("%s cannot be read\n", base);
          continue;
        }
      printf ("%s, %u parts\n", base, board->n_parts);
      for (e = 0; e < N_EFFORTS; e++)
        {
          Run run = run_effort (board, e);
          Row row = row_of (board, &run);
          add_row (&sums[e], &row);
          print_row (names[e], &row);
          if (e + 1 == N_EFFORTS && (mark = mark_of (marks, board_name (base))) > 0)
            {
              printf ("  mark   score %.2f\n", mark);
              mark_sum += mark;
              marked_sum += row.score;
              n_marked++;
            }
        }
      n++;
      fflush (stdout);
      ml_board_unref (board);
    }
  printf ("mean of %u boards\n", n);
  for (e = 0; e < N_EFFORTS; e++)
    {
      mean = mean_row (&sums[e], n);
      print_row (names[e], &mean);
    }
  if (n_marked > 0)
    printf ("%u boards with a mark: final score %.2f, mark %.2f\n", n_marked, marked_sum / n_marked, mark_sum / n_marked);
  g_ptr_array_unref (paths);
  return 0;
}
