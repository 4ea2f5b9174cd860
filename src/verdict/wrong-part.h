/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A part of another value or kind in a part's place; and what one may be of whose type nobody said. */
#pragma once

#include "verdict/modes.h"

G_BEGIN_DECLS

/** ml_wrong_part_hypothesis: what may be fitted instead of a part; FALSE when nothing usual. The caller owns the cells. */
gboolean ml_wrong_part_hypothesis (const MlModel *model, int part, MlHypothesis *ret);
/** ml_other_type_hypothesis: that a part is of another type than the usual one, where neither its family nor its drop is said; FALSE: none. The caller owns the cells. */
gboolean ml_other_type_hypothesis (const MlModel *model, int part, MlHypothesis *ret);
/** ml_is_of_other_type: whether another part in its place can only mean one of another type: its drop is then a factor of what is usual. */
gboolean ml_is_of_other_type (const MlPart *part);
/** ml_wrong_part_as: what it seems to be at that factor to its written value: "47 kohm", "6.2 V", "pnp", "schottky"; new string, NULL when not known. */
char *ml_wrong_part_as (const MlPart *part, double factor);
/** ml_wrong_part_factor: the factor that `as` ("47k", "6.2") stands for; NAN when it is no value of that kind of part. */
double ml_wrong_part_factor (const MlPart *part, const char *as);

G_END_DECLS
