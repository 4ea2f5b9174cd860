/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files that read a job share. */
#pragma once

#include "board/board-private.h"
#include "job/job.h"

G_BEGIN_DECLS

/* Room for one more at the end of an array that doubles: its length alone tells when. */
#define ML_JOB_APPEND(array, n, item)                                                                \
  G_STMT_START                                                                                       \
  {                                                                                                  \
    if (((n) & ((n) - 1)) == 0)                                                                      \
      (array) = g_realloc_n ((array), (n) == 0 ? 1 : 2 * (gsize) (n), sizeof *(array));               \
    (array)[(n)++] = (item);                                                                         \
  }                                                                                                  \
  G_STMT_END

typedef struct
{
  MlText *text;
  MlDiagnostics *diagnostics; /* may be NULL */
  MlJob *job;                 /* under construction */
  gboolean no_board;          /* readings cannot be understood */
  GHashTable *standing;       /* key of a reading -> its index + 1: the one that stands so far */
  GHashTable *changed;        /* parts that differ in this unit and pass -> the line that says so */
  int unit;                   /* to which indented lines belong; -1 */
  guint pass;
} MlJobReader;


/** ml_job_reader_bare: bare word number i (0: the first behind the keyword), or NULL and said that `what` is missing (what NULL: not said). */
const MlWord *ml_job_reader_bare (MlJobReader *reader, const MlStatement *statement, guint i, const char *what);
/* The `want` functions say what is wrong and return -1 or FALSE. */
int ml_job_reader_want_unit (MlJobReader *reader, const MlWord *word);
int ml_job_reader_want_condition (MlJobReader *reader, const MlWord *word);
int ml_job_reader_want_part (MlJobReader *reader, const MlWord *word, const char *name);
int ml_job_reader_want_net (MlJobReader *reader, const MlWord *word, const char *name);
int ml_job_reader_want_pin (MlJobReader *reader, const MlWord *word, int part, const char *name);
/** ml_job_reader_tip: what follows the last slash of a place; returns the length without it. */
gsize ml_job_reader_tip (const char *text, MlLead *ret_lead);
/** ml_job_reader_want_probe: "V5", "Q2.emitter", "Q2.emitter/lead", "D4.cathode/lifted". */
gboolean ml_job_reader_want_probe (MlJobReader *reader, const MlWord *word, MlProbe *ret_probe);
gboolean ml_job_reader_want_quantity (MlJobReader *reader, const MlWord *word, const char *text, MlUnit unit, MlQuantityFlags flags,
                                      MlQuantity *ret_quantity);
/** ml_job_reader_want_new_name: FALSE and said when it cannot be the name of a `what`. */
gboolean ml_job_reader_want_new_name (MlJobReader *reader, const MlWord *word, const char *what);
/** ml_job_reader_unknown: this word is not expected; known is a blank-separated list. */
void ml_job_reader_unknown (MlJobReader *reader, const MlWord *word, const char *known);

void ml_job_reader_reading (MlJobReader *reader, const MlStatement *statement);
void ml_job_reader_meter (MlJobReader *reader, const MlStatement *statement);

/** ml_job_alloc: an empty job on that text and board (NULL: an empty one). */
MlJob *ml_job_alloc (MlText *text, MlBoard *board);
/** ml_meter_default: what a meter is taken to be as far as its statement says nothing. */
MlMeter ml_meter_default (const char *name);

G_END_DECLS
