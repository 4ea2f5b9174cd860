/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/tally.h"

#include "support/exam.h"
#include "support/near.h"

#include <math.h>
#include <string.h>

#define N_BANDS 6

static const double BANDS[N_BANDS + 1] = { 0, 0.5, 0.8, 0.9, 0.97, 0.99, 1.0001 };

typedef enum { LINE_SHARE, LINE_MEAN, LINE_STATED } LineKind;

typedef struct
{
  char *what;
  LineKind kind;
  MlExamScore score;
  double sum, squares;
  guint n;
  MlExamScore bands[N_BANDS];
  double stated[N_BANDS];
} Line;

struct _MlTally
{
  char *name;
  GArray *lines; /* Line */
};

static void
clear_line (gpointer data)
{
  g_free (((Line *) data)->what);
}

MlTally *
ml_tally_new (const char *name)
{
  MlTally *tally = g_new0 (MlTally, 1);
  tally->name = g_strdup (name);
  tally->lines = g_array_new (FALSE, TRUE, sizeof (Line));
  g_array_set_clear_func (tally->lines, clear_line);
  return tally;
}

void
ml_tally_free (MlTally *tally)
{
  g_array_unref (tally->lines);
  g_free (tally->name);
  g_free (tally);
}

const char *
ml_tally_name (const MlTally *tally)
{
  return tally->name;
}

static const Line *
find_line (const MlTally *tally, const char *what)
{
  for (guint i = 0; i < tally->lines->len; i++)
    if (!strcmp (g_array_index (tally->lines, Line, i).what, what))
      return &g_array_index (tally->lines, Line, i);
  return NULL;
}

static Line *
line_of (MlTally *tally, const char *what, LineKind kind)
{
  const Line *found = find_line (tally, what);
  Line fresh = { .kind = kind };
  if (found)
    return (Line *) found;
  fresh.what = g_strdup (what);
  g_array_append_val (tally->lines, fresh);
  return &g_array_index (tally->lines, Line, tally->lines->len - 1);
}

void
ml_tally_count (MlTally *tally, const char *what, gboolean right)
{
  ml_exam_count (&line_of (tally, what, LINE_SHARE)->score, right);
}

void
ml_tally_add (MlTally *tally, const char *what, double value)
{
  Line *line = line_of (tally, what, LINE_MEAN);
  line->sum += value;
  line->squares += value * value;
  line->n++;
}

void
ml_tally_state (MlTally *tally, const char *what, double stated, gboolean right)
{
  Line *line = line_of (tally, what, LINE_STATED);
  for (guint i = 0; i < N_BANDS; i++)
    if (stated >= BANDS[i] && stated < BANDS[i + 1])
      {
        ml_exam_count (&line->bands[i], right);
        line->stated[i] += stated;
      }
}

static void
print_mean (const Line *line)
{
  double mean = line->sum / line->n, variance = line->n > 1 ? (line->squares - line->n * mean * mean) / (line->n - 1) : 0;
  double half = 1.959964 * sqrt (MAX (variance, 0) / line->n);
  print_message ("%-64s %12u  %.3f  (95 %%: %.3f to %.3f)\n", line->what, line->n, mean, mean - half, mean + half);
}

static void
print_bands (const Line *line)
{
  print_message ("%-64s mean stated, share right\n", line->what);
  for (guint i = 0; i < N_BANDS; i++)
    {
      double low, high, share = ml_exam_share (&line->bands[i], &low, &high), stated = line->stated[i] / line->bands[i].asked;
      if (line->bands[i].asked)
        print_message ("  %.2f to %.2f %5u answers  %.3f  %.3f  (95 %%: %.3f to %.3f)%s\n", BANDS[i], MIN (BANDS[i + 1], 1), line->bands[i].asked,
                       stated, share, low, high, fabs (share - stated) > 0.02 && (stated < low || stated > high) ? "  OFF" : "");
    }
}

void
ml_tally_print (const MlTally *tally)
{
  if (!tally->lines->len)
    return;
  print_message ("== %s\n", tally->name);
  for (guint i = 0; i < tally->lines->len; i++)
    {
      const Line *line = &g_array_index (tally->lines, Line, i);
      if (line->kind == LINE_SHARE)
        ml_exam_print (line->what, &line->score);
      else if (line->kind == LINE_MEAN)
        print_mean (line);
      else
        print_bands (line);
    }
}

gboolean
ml_tally_reaches (const MlTally *tally, const char *what, double wanted, guint n)
{
  const Line *line = find_line (tally, what);
  double low, high;
  if (!line || line->kind != LINE_SHARE || line->score.asked < n)
    return FALSE;
  ml_exam_share (&line->score, &low, &high);
  return wanted <= high;
}

gboolean
ml_tally_stays_below (const MlTally *tally, const char *what, double limit, guint n)
{
  const Line *line = find_line (tally, what);
  double low, high;
  if (!line || line->kind != LINE_SHARE || line->score.asked < n)
    return FALSE;
  ml_exam_share (&line->score, &low, &high);
  return low <= limit;
}
