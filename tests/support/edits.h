/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the tests of both kinds of edits ask of a result. */
#pragma once

#include "board/edit.h"

/** assert_text: the edit succeeded and gave these bytes; unreferences text. error by address: the call that sets it is an argument too. */
void assert_text (MlText *text, GError **error, const char *expected);
/** assert_refused: the edit was refused and its message says that word; clears error. */
void assert_refused (MlText *text, GError **error, const char *word);
