/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any small board and job judged, solved and said: whatever the figures, probabilities sum to one and every index is in its array. */
#include "fuzz/fuzz.h"

#include <math.h>

#include "command/command.h"
#include "fuzz/whole.h"

static void
check_fault (const MlBoard *board, const MlFault *fault)
{
  g_autofree char *title = ml_fault_describe (board, fault);

  g_assert_cmpint (fault->part, <, (int) board->n_parts);
  g_assert_cmpint (fault->net_a, <, (int) board->n_nets);
  g_assert_cmpint (fault->net_b, <, (int) board->n_nets);
  g_assert_true (title != NULL && *title != '\0');
}

static void
check_verdict (const MlVerdict *verdict)
{
  double sum = verdict->rest_probability;

  g_assert_true (verdict->sentence != NULL && *verdict->sentence != '\0');
  for (guint i = 0; i < verdict->n_explanations; i++)
    {
      g_assert_true (verdict->explanations[i].probability >= 0 && verdict->explanations[i].probability <= 1 + 1e-9);
      sum += verdict->explanations[i].probability;
      for (guint k = 0; k < verdict->explanations[i].n_faults; k++)
        check_fault (verdict->job->board, &verdict->explanations[i].faults[k]);
    }
  g_assert_true (fabs (sum - 1) < 1e-6);
  for (guint i = 0; i < verdict->n_next; i++)
    {
      g_assert_cmpint (verdict->next[i].condition, <, (int) verdict->job->board->n_conditions);
      g_assert_true (isfinite (verdict->next[i].bits) && verdict->next[i].effort > 0);
    }
}

static void
check_json (const MlVerdict *verdict)
{
  g_autoptr (JsonBuilder) builder = json_builder_new ();
  g_autoptr (JsonNode) root = NULL;

  ml_judge_json (builder, verdict);
  root = json_builder_get_root (builder);
  g_assert_true (JSON_NODE_HOLDS_OBJECT (root));
}

static void
solve_all (MlJudge *judge, const MlBoard *board)
{
  for (guint i = 0; i < board->n_conditions; i++)
    {
      g_autoptr (MlOperatingPoint) point = ml_judge_solve (judge, (int) i, NULL, 0, NULL);

      g_assert_true (point->solved == (point->error == NULL));
      for (guint k = 0; point->solved && k < board->n_nets; k++)
        g_assert_false (isinf (point->net_v[k]));
    }
}

int
LLVMFuzzerTestOneInput (const uint8_t *data, size_t size)
{
  g_autoptr (MlJob) job = whole_read (data, size);
  g_autoptr (MlJudge) judge = NULL;
  g_autoptr (MlVerdict) verdict = NULL;
  g_autoptr (GError) error = NULL;

  if (job == NULL)
    return 0;
  judge = ml_judge_new (job->board);
  solve_all (judge, job->board);
  if (ml_job_suspect (job) < 0)
    return 0;
  /* pairs and wrong nets take their time, which grows with the square of the parts */
  if (ml_judge_prepare (judge, NULL, NULL, NULL, &error))
    verdict = ml_judge_run (judge, job, -1, 0, job->board->n_parts <= 9 ? 2 : 0, NULL, &error);
  g_assert_true ((verdict != NULL) == (error == NULL));
  if (verdict == NULL)
    return 0;
  check_verdict (verdict);
  check_json (verdict);
  return 0;
}
