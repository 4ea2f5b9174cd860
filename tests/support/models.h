/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards and jobs from texts that are meant to be right: an error in one fails the test and is printed. */
#pragma once

#include "job/job.h"

G_BEGIN_DECLS

MlBoard *ml_test_board (const char *text);
MlJob *ml_test_job (MlBoard *board, const char *text);
/** ml_test_file: what a file of the project holds; path from its top. */
char *ml_test_file (const char *path);
/** ml_test_board_of: the same for a board in a file. */
MlBoard *ml_test_board_of (const char *path);

G_END_DECLS
