/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards half of whose values could not be read, with one chip of which nobody knows anything. Without rivals: these would be told the values. */
#include "bench/bench.h"

#include "support/near.h"

#define FAULTS_PER_HEALTHY 4

static void
mark (const MlUnreadMarks *marks, gboolean faulty, MlTally *tally)
{
  if (faulty)
    {
      ml_tally_count (tally, "right group first", marks->right);
      ml_tally_count (tally, "exact part first", marks->exact);
      ml_tally_count (tally, "faulty part called cleared", marks->faulty_cleared);
      ml_tally_count (tally, "called sound above 0.8", marks->sound > 0.8);
      if (marks->largest >= 0.9)
        ml_tally_count (tally, "said 0.9 or more, right or tied", marks->first_right);
    }
  else
    ml_tally_count (tally, "healthy called healthy", marks->right);
  ml_tally_count (tally, "a good part above 0.8", marks->largest > 0.8 && !marks->first_right);
  for (guint unread = 0; unread < 2; unread++)
    for (guint i = 0; i < marks->good[unread]; i++)
      ml_tally_count (tally, unread ? "good part called cleared, its value unread" : "good part called cleared", i < marks->cleared[unread]);
}

void
ml_stratum_unread (MlUnreadBoard *board, MlUnreadWay way, guint64 seed, guint n, MlTally *tally)
{
  g_autoptr (GArray) faults = ml_unread_faults (board, way, TRUE, n);
  MlUnreadMarks marks;

  for (guint i = 0; i < faults->len; i++)
    if (ml_unread_judge (board, way, &g_array_index (faults, MlFault, i), seed + i, &marks))
      mark (&marks, TRUE, tally);
  for (guint i = 0; i < 1 + n / FAULTS_PER_HEALTHY; i++)
    if (ml_unread_judge (board, way, NULL, seed + 500 + i, &marks))
      mark (&marks, FALSE, tally);
}
