/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is known of a part's electrical parameters: centre and spread, from the board file, a part number's data, or the table of
 * defaults in data/. The names are those of the engine's device types, so that a kind needs no code of its own on the way. */
#pragma once

#include "board/board.h"

G_BEGIN_DECLS

typedef enum { ML_ORIGIN_WRITTEN, ML_ORIGIN_DATASHEET, ML_ORIGIN_DEFAULT } MlOrigin;

/* p = centre + spread z, or centre exp (spread z) when log; z ~ N(0,1). With a bound v = centre exp (spread z) is bent below it:
 * p = v (most + centre) / (most + v), less than most + centre. */
typedef struct
{
  const char *name;
  MlUnit unit;
  double centre;
  double spread;   /* 0: taken as exact; in the parameter's unit, or dimensionless when log */
  gboolean log;
  double most;     /* above the centre and log: what no part of the kind reaches; 0: no such bound */
  double shared;   /* share of the variance common to like parts of one board, 0..1 */
  double carried;  /* share common to a good unit's part and this unit's, 0..1 */
  MlOrigin origin;
  const char *source; /* of the default, for people; NULL when written */
} MlParameter;

/** ml_part_n_parameters / ml_part_parameter_at: all parameters of a part, in the order of the defaults table. */
guint ml_part_n_parameters (const MlPart *part);
MlParameter ml_part_parameter_at (const MlPart *part, guint i);
/** ml_part_parameter: by name; FALSE when this kind has no such parameter. */
gboolean ml_part_parameter (const MlPart *part, const char *name, MlParameter *ret_parameter);
/** ml_position_spread: standard deviation, as a share of the travel, of how far a potentiometer is turned, where that is written. */
double ml_position_spread (void);

G_END_DECLS
