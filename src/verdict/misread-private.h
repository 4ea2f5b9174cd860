/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For this folder only: opinions about single readings. */
#pragma once

#include "verdict/misread.h"

G_BEGIN_DECLS

typedef enum { TERM_SWAPPED, TERM_THOUSANDFOLD, TERM_PIN, TERM_CONDITION, TERM_UNCLEAR, N_TERMS } Term;

/* What one state of affairs says about one reading. */
typedef struct
{
  double odds;            /* slip against read well */
  double term[N_TERMS];   /* share of the slip's density */
  double density;         /* of the reading, given a slip */
  double mean;            /* what would have fitted */
  MlProbe at;             /* the likeliest other pin … */
  gboolean at_black;
  int condition;          /* … and condition */
} Opinion;

/* A reading given the others. */
typedef struct
{
  MlCase *own;
  guint item;
  guint n;
  guint *which;        /* [n] readings taken as good */
  MlEvidence evidence; /* of those */
} Given;

/** ml_given_init: of the readings that are neither let go (per reading taken) nor among the two left out (-1: none). FALSE: no usable covariance; nothing is to be cleared then. */
gboolean ml_given_init (Given *given, MlCase *own, const gboolean *let_go, guint item, int without, int without_too);
void ml_given_clear (Given *given);
/** ml_opinion_form: of reading r, which is not among those given. */
void ml_opinion_form (const Given *given, guint r, Opinion *opinion);

G_END_DECLS
