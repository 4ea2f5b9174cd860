/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command-line program: one function per command, what they share, and how a run ends. */
#pragma once

#include <glib.h>
#include <json-glib/json-glib.h>

#include "drawing/page.h"
#include "drawing/scene.h"
#include "verdict/judge.h"

G_BEGIN_DECLS

typedef enum
{
  ML_EXIT_DONE = 0,
  ML_EXIT_USAGE = 2,
  ML_EXIT_INPUT = 3,  /* the input is at fault */
  ML_EXIT_FAILED = 4  /* the computation failed */
} MlExit;

typedef struct
{
  const char *name;
  const char *arguments; /* "BOARD", "JOB" */
  const char *summary;   /* one line of the help */
  MlExit (*run) (int argc, char **argv);
} MlCommand;

MlExit ml_command_check (int argc, char **argv);
MlExit ml_command_solve (int argc, char **argv);
MlExit ml_command_judge (int argc, char **argv);
MlExit ml_command_draw (int argc, char **argv);
MlExit ml_command_report (int argc, char **argv);

/** ml_command_main: the whole program; argv as main has it. Returns the exit status. */
int ml_command_main (int argc, char **argv);
/** ml_command_find: NULL when there is no such command. */
const MlCommand *ml_command_find (const char *name);
/** ml_command_parse: options and then exactly (or, with n_max -1, at least) so many files. FALSE: said what is wrong, exit ML_EXIT_USAGE. */
gboolean ml_command_parse (const char *command, int *argc, char ***argv, const GOptionEntry *entries, int n_min, int n_max);

/** ml_command_say: one line to standard error, with the program's name in front. */
void ml_command_say (const char *format, ...) G_GNUC_PRINTF (1, 2);

/* A file named on the command line: a board, or a job with its board. */
typedef struct
{
  MlBoard *board;
  MlJob *job; /* NULL for a board file */
  MlDiagnostics *diagnostics;
} MlInput;

/** ml_input_read: reads FILE, or standard input where it is "-"; a job brings its board (NULL when that cannot be read). ML_EXIT_INPUT: said why it cannot be read. */
MlExit ml_input_read (MlInput *input, const char *path);
/** ml_input_load: the same, and says its errors on standard error. ML_EXIT_DONE, or ML_EXIT_INPUT when it cannot be used. */
MlExit ml_input_load (MlInput *input, const char *path, gboolean needs_job);
void ml_input_say (const MlInput *input, MlSeverity from);
void ml_input_clear (MlInput *input);
/** ml_input_condition: index of the condition named (NULL: fallback). -1: said that there is none of that name. */
int ml_input_condition (const MlInput *input, const char *name, int fallback);
/** ml_input_unit: index of the unit named (NULL: the first suspect). -1: said why not. */
int ml_input_unit (const MlInput *input, const char *name);
/** ml_input_pass: whether that unit has such a pass (0: none was named). FALSE: said that it has not. */
gboolean ml_input_pass (const MlInput *input, int unit, int pass);
/** ml_pass_read: --pass as it was given; 0 where it was not. FALSE: said what is wrong, exit ML_EXIT_USAGE. */
gboolean ml_pass_read (const char *word, int *ret_pass);
/** ml_input_picture: the picture of the real board with its pads, of that side ("top", "bottom", NULL: the first). NULL: said why not. */
MlScene *ml_input_picture (const MlInput *input, const char *side);
/** ml_input_say_rows: that the board's circuit is only drawn in rows, if it is. */
void ml_input_say_rows (const MlInput *input, const MlScene *scene);

/* --page, --portrait and --landscape. */
typedef struct
{
  char *word;
  gboolean portrait, landscape;
  /* read: */
  MlPageSize size;
  MlPageTurn turn;
} MlPageArguments;
/** ml_page_arguments_read: fills size and turn; FALSE: said what is wrong, exit ML_EXIT_USAGE. fallback: the size when none is named. */
gboolean ml_page_arguments_read (MlPageArguments *self, MlPageSize fallback);

/* JSON in SI units; what is not a finite number is null. */
void ml_json_number (JsonBuilder *builder, const char *name, double value);
void ml_json_text (JsonBuilder *builder, const char *name, const char *value); /* NULL: null */
void ml_json_flag (JsonBuilder *builder, const char *name, gboolean value);
void ml_json_count (JsonBuilder *builder, const char *name, gint64 value);
void ml_json_begin_list (JsonBuilder *builder, const char *name);
/** ml_json_print: to standard output. */
void ml_json_print (JsonBuilder *builder);

/** ml_judge_json: the whole verdict as one object. */
void ml_judge_json (JsonBuilder *builder, const MlVerdict *verdict);

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC (MlInput, ml_input_clear)
G_END_DECLS
