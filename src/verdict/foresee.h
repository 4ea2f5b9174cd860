/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings that are likely to be taken next, worked out before they are: once the value is known, little is left to do. */
#pragma once

#include "verdict/grown.h"

G_BEGIN_DECLS

typedef struct _MlForeseen MlForeseen; /* one reading, after those grown so far */

/** ml_case_foresee: predictions at these places (indices of the dictionary, all of one condition) and, as far as memory allows, the steps to take
 *  there, of every item. Nothing that is asked for later depends on it but the time it takes. Errors: cancelled. */
gboolean ml_case_foresee (MlCase *own, const guint *wanted, guint n_wanted, GCancellable *cancellable, GError **error);
/** ml_foreseen_find: for reading number n of those taken; NULL when it was not foreseen. */
const MlForeseen *ml_foreseen_find (const GPtrArray *foreseen, const MlDictionary *dictionary, guint place, guint n);
/** ml_foreseen_of: of that item; NULL when it must be worked out now. */
const MlPrepared *ml_foreseen_of (const MlForeseen *foreseen, const MlDictionary *dictionary, guint item, guint place);
/** ml_foreseen_new: an empty list of them. */
GPtrArray *ml_foreseen_new (void);

G_END_DECLS
