/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much the long tests do. Under the sanitizers the question is memory, not how many cases are right: there METERLEAF_TEST_SIZE=small asks for
 * a few of each kind. Whatever takes an average over cases asks it at full size only. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/** ml_test_is_small: whether METERLEAF_TEST_SIZE is "small"; ends the program when it is anything else but "full". */
gboolean ml_test_is_small (void);
/** ml_test_size: how many cases to try. */
guint ml_test_size (guint full, guint small);

G_END_DECLS
