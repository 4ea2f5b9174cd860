/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boards as they mostly lie on a bench, put to the verdict: half of the values unread, one chip without a part number (ml_generate_unread_pair). */
#pragma once

#include "support/exam.h"
#include "support/truth-loose.h"

G_BEGIN_DECLS

/* What is at hand beside every net and supply of the powered unit. */
typedef enum { ML_UNREAD_ALONE, ML_UNREAD_GOOD_UNIT, ML_UNREAD_COLD, ML_UNREAD_N_WAYS } MlUnreadWay;
const char *ml_unread_way_name (MlUnreadWay way);

typedef struct
{
  guint64 seed;
  char *drawn_text;
  MlBoard *drawn, *actual;
  MlJudge *judge;
  MlTruthCase *all;                           /* every net and supply of the powered conditions */
  GArray *places[ML_UNREAD_N_WAYS];           /* MlTruthPlace */
  MlTruthLoose *loose[ML_UNREAD_N_WAYS];
} MlUnreadBoard;

void ml_unread_open (MlUnreadBoard *board, guint64 seed, guint n_parts);
void ml_unread_close (MlUnreadBoard *board);
/** ml_unread_faults: MlFault; at most so many that show in that way, or that do not, evenly spread over the modes; none of the unknown chip itself. */
GArray *ml_unread_faults (MlUnreadBoard *board, MlUnreadWay way, gboolean showing, guint most);

/* How the verdict on one unit did. */
typedef struct
{
  MlExplains leads;
  gboolean right;       /* the faulty part first, and everything in its group tied with it; of a sound unit: called sound */
  gboolean exact;
  double largest;       /* of one part */
  gboolean first_right; /* that part is faulty or tied with it */
  double sound;         /* probability that nothing is wrong */
  gboolean faulty_cleared;
  guint good[2], cleared[2], suspect[2]; /* parts that are not faulty: [0] with their value read or without one to read, [1] unread */
} MlUnreadMarks;

/** ml_unread_judge: a unit with that fault (NULL: none) read and judged as far as it goes. FALSE: its readings could not be computed. */
gboolean ml_unread_judge (MlUnreadBoard *board, MlUnreadWay way, const MlFault *fault, guint64 seed, MlUnreadMarks *ret_marks);

G_END_DECLS
