/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: the search for the next reading. */
#pragma once

#include "verdict/case.h"

G_BEGIN_DECLS

#define MOST_LIVE 48

typedef struct
{
  MlReadingPlace place;
  double effort, score;
  guint order;
} Candidate;

/* A candidate weighed in full: what each live item has it read. */
typedef struct
{
  double effort;
  double mean[MOST_LIVE], sigma[MOST_LIVE]; /* V, A or ln ohm */
} Prospect;

typedef struct
{
  MlCase *own;
  guint n;
  guint item[MOST_LIVE];
  int key[MOST_LIVE];      /* what there would be to work on */
  double weight[MOST_LIVE];
  gboolean leads[MOST_LIVE]; /* its thing to work on is within a factor of the likeliest */
  double leader;           /* probability of the likeliest thing to work on */
  guint8 state[MOST_LIVE]; /* of its evidence: 0 not asked for, 1 there, 2 none */
  MlEvidence evidence[MOST_LIVE];
  GArray *candidates;      /* Candidate */
  GArray *prospects;       /* Prospect: those that are worth taking */
  gboolean tells_leaders;  /* one of them tells two of the leading things to work on apart */
  int last_condition;      /* of the last reading; -1 */
  const MlMeter *meter;
} Search;

/** ml_next_is_safe: whether every explanation of some weight leaves this condition harmless, with the legs lifted that the place has lifted (may be NULL). */
gboolean ml_next_is_safe (Search *search, int condition, const MlReadingPlace *place);
/** ml_next_readings_left: how many of the weighed readings are expected to be needed until one thing to work on is probable; NAN when they will not do. */
double ml_next_readings_left (const Search *search);

G_END_DECLS
