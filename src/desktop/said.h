/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "board/board.h"

G_BEGIN_DECLS

/** ml_said: what the engine says within a line of its own ("there is a part R1 already") as a sentence that stands by itself: it begins with a capital,
 * unless it begins with a name, since names tell capitals from small letters. board: whose names (NULL: none); new string. */
char *ml_said (const MlBoard *board, const char *text);

G_END_DECLS
