/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How switches and contacts stand in a condition. */
#pragma once

#include "board/board.h"
#include "verdict/verdict.h"

G_BEGIN_DECLS

typedef enum
{
  ML_THROW_REST,   /* a switch open, a changeover at a, a contact whose coil has not pulled in */
  ML_THROW_OTHER,  /* a switch closed, a changeover at b, a contact whose coil has pulled in */
  ML_THROW_MIDDLE  /* a changeover joined to neither side */
} MlThrow;

/**
 * ml_throw_of: how a switch, changeover or contact stands in condition: as set there; a contact that is not set as the operating point says.
 * ML_THROW_REST of every other part, without a condition (NULL), and of a contact without a solved point (NULL: not known).
 */
MlThrow ml_throw_of (const MlBoard *board, int part, const MlCondition *condition, const MlOperatingPoint *point);
/** ml_throw_words: the same in a technician's words: "closed", "at b", "pulled in"; NULL of parts that have no throws. */
const char *ml_throw_words (const MlBoard *board, int part, const MlCondition *condition, const MlOperatingPoint *point);

G_END_DECLS
