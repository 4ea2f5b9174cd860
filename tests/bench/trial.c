/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/trial.h"

#include "support/generate.h"

#define DETECTABLE 3.0 /* sigma */

static MlBoard *
board_of (const char *name, const char *text, const char *more)
{
  g_autofree char *whole = g_strconcat (text, more, NULL);
  return ml_exam_board (name, whole);
}

void
ml_trial_open (MlTrial *trial, guint64 seed, guint n_parts, const char *more)
{
  g_autofree char *drawn = NULL, *actual = NULL;
  g_autoptr (GError) error = NULL;
  MlRandom random = ml_random_seeded (seed + 3);
  ml_generate_pair (seed, n_parts, &drawn, &actual);
  *trial = (MlTrial) { .seed = seed, .drawn = board_of ("drawn", drawn, more), .actual = board_of ("actual", actual, more) };
  trial->judge = ml_judge_new (trial->drawn);
  if (!ml_judge_prepare (trial->judge, NULL, NULL, NULL, &error))
    g_error ("board %" G_GUINT64_FORMAT ": %s", seed, error->message);
  g_autoptr (GArray) places = ml_truth_all_places (trial->actual);
  trial->all = ml_truth_case_new (trial->drawn, trial->actual, places);
  trial->visible = g_array_new (FALSE, TRUE, sizeof (MlFault));
  for (guint i = 0; i < trial->all->modes->len; i++)
    {
      MlFault fault = ml_truth_mode_draw (&g_array_index (trial->all->modes, MlTruthMode, i), &random);
      if (ml_truth_case_shift (trial->all, &fault) > DETECTABLE)
        g_array_append_val (trial->visible, fault);
    }
}

void
ml_trial_close (MlTrial *trial)
{
  ml_truth_case_free (trial->all);
  ml_judge_free (trial->judge);
  ml_board_unref (trial->drawn);
  ml_board_unref (trial->actual);
  g_array_unref (trial->visible);
}
