/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Putting the verdict to the test: jobs from the truth program, answers marked by the truth program. */
#pragma once

#include "support/models.h"
#include "support/truth-case.h"
#include "verdict/judge.h"

G_BEGIN_DECLS

/* Who leads, as the summed posterior has it. */
typedef struct
{
  MlExplains leads;     /* healthy, fault, drawing, misfit */
  int *group;           /* parts whose probability is within a factor 3 of the likeliest, likeliest first */
  guint n_group;
  double group_mass;
  double largest;       /* of one part */
} MlExamAnswer;

typedef struct { guint right, asked; } MlExamScore;

/** ml_exam_is_readable: whether a board's text reads without errors. */
gboolean ml_exam_is_readable (const char *text);
/** ml_exam_board: fails the test when the text has an error. */
MlBoard *ml_exam_board (const char *name, const char *text);
/** ml_exam_judge_text: the verdict on the first suspect of a job text; fails the test when it cannot be read or judged. */
MlVerdict *ml_exam_judge_text (MlJudge *judge, MlBoard *board, const char *job_text, guint stage);
/** A board, a job of it and the final verdict on its first suspect; open fails the test when a text cannot be read or judged. */
typedef struct { MlBoard *board; MlJudge *judge; MlJob *job /* the verdict's */; MlVerdict *verdict; } MlExamBench;
void ml_exam_bench_open (MlExamBench *bench, const char *board_text, const char *job_text);
void ml_exam_bench_close (MlExamBench *bench);
/** ml_exam_judge_readings: the verdict of stage 2 on unit u, a suspect, read with the usual meter: further lines of a job. */
MlVerdict *ml_exam_judge_readings (const char *board_text, const char *lines);
/** ml_exam_keep: a board and a job of it from the truth program as folder/seed.leafboard and .leafjob; nothing when folder is NULL. */
void ml_exam_keep (const char *folder, guint64 seed, const char *board_text, const char *job_text);
void ml_exam_answer (const MlVerdict *verdict, MlExamAnswer *ret_answer);
void ml_exam_answer_clear (MlExamAnswer *answer);
/** ml_exam_is_right: a fault leads and every part of the leading group is the faulty one or tied with it in the truth program. */
gboolean ml_exam_is_right (MlTruthCase *c, const MlFault *fault, const MlExamAnswer *answer);
gboolean ml_exam_has_part (const MlExamAnswer *answer, int part);

void ml_exam_count (MlExamScore *score, gboolean right);
/** ml_exam_share: right / asked with its 95 % interval (Wilson, JASA 22, 1927). */
double ml_exam_share (const MlExamScore *score, double *ret_low, double *ret_high);
void ml_exam_print (const char *what, const MlExamScore *score);

/** ml_exam_misdraw: the board text with one wrong connection: two pins of a part exchanged or one pin on another net. NULL when the seed hits nothing. *ret_part: the part's name, new. */
char *ml_exam_misdraw (const char *board_text, guint64 seed, char **ret_part);

G_END_DECLS
