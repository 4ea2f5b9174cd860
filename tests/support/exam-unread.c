/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/exam-unread.h"

#include "support/generate.h"
#include "support/near.h"

#include <math.h>

#define COLD_CONDITION "condition unpowered\n"

const char *
ml_unread_way_name (MlUnreadWay way)
{
  static const char *const NAMES[] = { "alone", "beside a good unit", "with cold readings" };
  return NAMES[way];
}

static GArray *
cold_places (const MlBoard *board)
{
  GArray *places = ml_truth_all_places (board);
  for (guint i = 0; i < board->n_nets; i++)
    {
      MlTruthPlace place = { .condition = (int) board->n_conditions - 1, .reads = ML_READS_OHMS, .red = { (int) i, -1, -1, FALSE },
                             .black = { board->reference, -1, -1, FALSE }, .supply = -1 };
      if ((int) i != board->reference)
        g_array_append_val (places, place);
    }
  return places;
}

void
ml_unread_open (MlUnreadBoard *board, guint64 seed, guint n_parts)
{
  g_autofree char *drawn = NULL, *actual = NULL, *actual_text = NULL;
  g_autoptr (GError) error = NULL;
  ml_generate_unread_pair (seed, n_parts, &drawn, &actual);
  *board = (MlUnreadBoard) { .seed = seed, .drawn_text = g_strconcat (drawn, COLD_CONDITION, NULL) };
  actual_text = g_strconcat (actual, COLD_CONDITION, NULL);
  board->drawn = ml_exam_board ("drawn", board->drawn_text);
  board->actual = ml_exam_board ("actual", actual_text);
  board->judge = ml_judge_new (board->drawn);
  assert_true (ml_judge_prepare (board->judge, NULL, NULL, NULL, &error));
  for (MlUnreadWay way = 0; way < ML_UNREAD_N_WAYS; way++)
    {
      board->places[way] = way == ML_UNREAD_COLD ? cold_places (board->actual) : ml_truth_all_places (board->actual);
      board->loose[way] = ml_truth_loose_new (board->drawn, board->actual, board->places[way], way == ML_UNREAD_GOOD_UNIT);
    }
  board->all = ml_truth_case_new (board->drawn, board->actual, board->places[ML_UNREAD_ALONE]);
  assert_true (board->all->solved);
}

void
ml_unread_close (MlUnreadBoard *board)
{
  for (MlUnreadWay way = 0; way < ML_UNREAD_N_WAYS; way++)
    {
      g_array_unref (board->places[way]);
      ml_truth_loose_free (board->loose[way]);
    }
  ml_truth_case_free (board->all);
  ml_judge_free (board->judge);
  ml_board_unref (board->drawn);
  ml_board_unref (board->actual);
  g_free (board->drawn_text);
}

/* What an unknown chip should do nobody knows: that it does not is no question to ask. */
static gboolean
is_unknown_chip (const MlUnreadBoard *board, int part)
{
  return board->drawn->parts[part].kind->kind == ML_KIND_BLOCK;
}

GArray *
ml_unread_faults (MlUnreadBoard *board, MlUnreadWay way, gboolean showing, guint most)
{
  MlRandom random = ml_random_seeded (board->seed + 17);
  guint n = board->all->modes->len, from = ml_random_below (&random, n);
  GArray *chosen = g_array_new (FALSE, TRUE, sizeof (MlFault));
  for (guint i = 0; i < n && chosen->len < most; i++)
    {
      /* 37 is prime to every number of modes that is not its multiple: all of them, far apart from each other. */
      const MlTruthMode *mode = &g_array_index (board->all->modes, MlTruthMode, (from + i * 37) % n);
      MlFault fault = ml_truth_mode_draw (mode, &random);
      if (!is_unknown_chip (board, fault.part) && isfinite (ml_truth_case_shift (board->all, &fault))
          && ml_truth_loose_shows (board->loose[way], &fault) == showing)
        g_array_append_val (chosen, fault);
    }
  return chosen;
}

/* ---- one unit ---- */

static char *
lines_of (const MlUnreadBoard *board, MlTruth *unit, const char *name, const GArray *places, guint64 seed)
{
  MlTruthMeter meter = ml_truth_meter (&board->all->meter, seed);
  GString *text = g_string_new (NULL);
  for (guint i = 0; i < places->len; i++)
    {
      const MlTruthPlace *place = &g_array_index (places, MlTruthPlace, i);
      g_autofree char *line = ml_truth_reading_line (board->actual, unit, &meter, name, place);
      if (!line && place->reads != ML_READS_OHMS) /* a cold board may float anywhere */
        return g_string_free (text, TRUE);
      g_string_append (text, line ? line : "");
    }
  return g_string_free (text, FALSE);
}

static char *
job_text (const MlUnreadBoard *board, MlUnreadWay way, const MlFault *fault, guint64 seed)
{
  g_autoptr (MlTruth) unit = ml_truth_new_of_batch (board->actual, board->drawn, seed, seed * 2 + 1);
  g_autoptr (MlTruth) like = ml_truth_new_of_batch (board->actual, board->drawn, seed + 500, seed * 2 + 1);
  ml_truth_set_faults (unit, fault, fault ? 1 : 0);
  g_autofree char *own = lines_of (board, unit, "u1", board->places[way], seed);
  g_autofree char *good = way == ML_UNREAD_GOOD_UNIT ? lines_of (board, like, "g1", board->places[way], seed + 2) : g_strdup ("");
  if (!own || !good)
    return NULL;
  return g_strconcat ("meterleaf 1\njob \"Unread\"\nboard \"unread.leafboard\"\nmeter bench dc=0.5%+2 ohms=0.8%+3 counts=6000 input=10M\n"
                      "unit u1 suspect\n", way == ML_UNREAD_GOOD_UNIT ? "unit g1 good\n" : "", own, good, NULL);
}

static gboolean
is_tied (MlUnreadBoard *board, MlUnreadWay way, const MlFault *fault, int part)
{
  return fault && ml_truth_loose_tied (board->loose[way], fault, part);
}

static void
mark_parts (const MlUnreadBoard *board, const MlVerdict *verdict, const MlFault *fault, MlUnreadMarks *marks)
{
  for (guint i = 0; i < verdict->n_parts; i++)
    {
      guint unread = ml_truth_loose_is_unread (board->loose[ML_UNREAD_ALONE], (int) i);
      gboolean cleared = verdict->parts[i].verdict == ML_VERDICT_CLEARED;
      if (fault && fault->part == (int) i)
        {
          marks->faulty_cleared = cleared;
          continue;
        }
      marks->good[unread]++;
      marks->cleared[unread] += cleared;
      marks->suspect[unread] += verdict->parts[i].verdict == ML_VERDICT_SUSPECT;
    }
}

static void
tell (const MlUnreadBoard *board, MlUnreadWay way, const MlFault *fault, const MlVerdict *verdict, guint64 seed, const MlUnreadMarks *marks)
{
  if (!g_getenv ("METERLEAF_EXAM_VERBOSE") || (marks->right && !marks->faulty_cleared))
    return;
  g_autofree char *words = fault ? ml_fault_describe (board->actual, fault) : g_strdup ("healthy");
  print_message ("  %s%s: %s, board %" G_GUINT64_FORMAT " unit %" G_GUINT64_FORMAT ": %s, size %g; healthy %.3f misfit %.3f",
                 marks->faulty_cleared ? "cleared, " : "", marks->largest > 0.8 && !marks->first_right ? "CONVICTS WRONGLY" : "wrong", ml_unread_way_name (way),
                 board->seed, seed, words, fault ? fault->size : NAN, verdict->healthy_probability, verdict->misfit_probability);
  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].probability > 0.03)
      print_message (" %s %.3f", board->drawn->parts[i].name, verdict->parts[i].probability);
  print_message (" | %s\n", verdict->n_explanations ? verdict->explanations[0].title : "");
}

gboolean
ml_unread_judge (MlUnreadBoard *board, MlUnreadWay way, const MlFault *fault, guint64 seed, MlUnreadMarks *ret_marks)
{
  g_autofree char *text = job_text (board, way, fault, seed);
  MlExamAnswer answer;
  if (!text)
    return FALSE;
  ml_exam_keep (g_getenv ("METERLEAF_EXAM_KEEP"), seed * 10 + way, board->drawn_text, text);
  g_autoptr (MlVerdict) verdict = ml_exam_judge_text (board->judge, board->drawn, text, 2);
  ml_exam_answer (verdict, &answer);
  *ret_marks = (MlUnreadMarks) { .leads = answer.leads, .largest = answer.largest, .sound = verdict->healthy_probability };
  if (answer.n_group)
    ret_marks->first_right = is_tied (board, way, fault, answer.group[0]);
  ret_marks->right = fault ? answer.leads == ML_EXPLAINS_FAULT && ret_marks->first_right : answer.leads == ML_EXPLAINS_HEALTHY;
  for (guint i = 1; i < answer.n_group && fault && ret_marks->right; i++)
    ret_marks->right = is_tied (board, way, fault, answer.group[i]);
  ret_marks->exact = fault && answer.leads == ML_EXPLAINS_FAULT && answer.group[0] == fault->part;
  mark_parts (board, verdict, fault, ret_marks);
  tell (board, way, fault, verdict, seed, ret_marks);
  ml_exam_answer_clear (&answer);
  return TRUE;
}
