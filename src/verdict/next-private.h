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

/** ml_next_collect: the readings that may be taken as the board stands, into candidates. */
void ml_next_collect (Search *search);
/** ml_next_add_candidate: unless it has been taken; effort: the assumption's name. */
void ml_next_add_candidate (Search *search, int condition, MlReads reads, MlProbe red, MlProbe black, int supply, const char *effort);
/** ml_next_screen: a rough score of a candidate. */
void ml_next_screen (Search *search, Candidate *candidate);
MlProbe ml_next_on_net (int net);
gboolean ml_next_is_junction (MlKind kind);
/** ml_next_collect_lifted: the readings with a leg of a leading part lifted, into candidates. */
void ml_next_collect_lifted (Search *search);
/** ml_next_say_step: "lift R3.1"; new string, NULL when nothing is to be done before the reading. */
char *ml_next_say_step (const Search *search, const MlReadingPlace *place);
/** ml_next_stands_alone: whether the meter sees nothing there but one part that is sound under live item i. */
gboolean ml_next_stands_alone (const Search *search, const MlReadingPlace *place, guint i);
/** ml_next_meter_error: the meter's limit of error there: V, A or ln ohm. */
double ml_next_meter_error (const Search *search, MlReads reads, double value);
/** ml_next_open_bits: the most that any reading can tell: which of the things to work on it is. */
double ml_next_open_bits (const Search *search);
/** ml_next_count_leaders: how many things to work on lead. */
guint ml_next_count_leaders (const Search *search);
/** ml_next_can_be_told: whether the meter could tell two live explanations apart there at all; mean[n]. */
gboolean ml_next_can_be_told (const Search *search, guint place, const double *mean);
/** ml_next_tells_leaders: whether two of the leading things to work on read differently there, by and large; mean[n]. */
gboolean ml_next_tells_leaders (const Search *search, guint place, const double *mean);
/** ml_next_add_expectations: what to expect under the likeliest explanations; mean[n]. */
void ml_next_add_expectations (Search *search, MlNextReading *next, guint place, const double *mean);
/** ml_next_is_safe: whether every explanation of some weight leaves this condition harmless, with the legs lifted that the place has lifted (may be NULL). */
gboolean ml_next_is_safe (Search *search, int condition, const MlReadingPlace *place);
/** ml_next_readings_left: how many of the weighed readings are expected to be needed until one thing to work on is probable; NAN when they will not do. */
double ml_next_readings_left (const Search *search);

G_END_DECLS
