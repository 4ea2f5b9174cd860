/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files that read a board share. */
#pragma once

#include "board/board.h"
#include "board/nearest.h"
#include "board/scan.h"

G_BEGIN_DECLS

typedef struct
{
  char *name;
  const MlKindInfo *kind;
  MlAttribute *attributes;
  guint n_attributes;
} MlDatasheet;

typedef struct
{
  MlText *text;
  MlDiagnostics *diagnostics; /* may be NULL */
  MlBoard *board;             /* under construction */
  int round;
  gboolean past_first;        /* a statement has been read */
  gboolean parent_fine;       /* indented lines have something to go to */

  GArray *nets, *parts, *conditions, *beeps, *nears, *hazards, *pictures;
  GPtrArray *notes, *pad_lists;
  GHashTable *net_index, *part_index; /* borrowed name -> index */
  GHashTable *condition_index;        /* the same */
  GHashTable *datasheet_index;        /* borrowed name -> MlDatasheet */
  GHashTable *assumed;                /* names of assumptions */
  double priors_added;                /* by `assume`, to the table's healthy, misfit and slips */
  GHashTable *set_parts;              /* parts set in the current condition, index + 1 */
  guint reference_line;
  GPtrArray *datasheets;              /* MlDatasheet, those of this file */
  GArray *pads;                       /* of the current picture */
  GHashTable *padded;                 /* the pins (and parts) pinned on it already */
  GArray *supplies, *loads, *settings, *lifts, *removals, *connects; /* of the current condition */
} MlBoardReader;

void ml_board_reader_start (MlBoardReader *reader, MlText *text, MlDiagnostics *diagnostics);
MlBoard *ml_board_reader_finish (MlBoardReader *reader);
/** ml_board_reader_close_condition: moves what was collected into the last condition. */
void ml_board_reader_close_condition (MlBoardReader *reader);

/** ml_part_pin_words: the names of its pins, for messages: "collector base emitter". */
char *ml_part_pin_words (const MlPart *part);
/** ml_meant: "; did you mean V5?" or "". */
char *ml_meant (const MlNearest *nearest);

int ml_board_reader_net (MlBoardReader *reader, const char *name, gboolean make);
int ml_board_reader_part (MlBoardReader *reader, const char *name);
/* The `want` functions say what is missing and return -1 or FALSE. */
int ml_board_reader_want_net (MlBoardReader *reader, const MlWord *word);
int ml_board_reader_want_part (MlBoardReader *reader, const MlWord *word, const char *name);
gboolean ml_board_reader_want_pin (MlBoardReader *reader, const MlWord *word, int *ret_part, int *ret_pin);
gboolean ml_board_reader_name (MlBoardReader *reader, const MlStatement *statement, guint i, const char *what);
gboolean ml_board_reader_quantity (MlBoardReader *reader, const MlWord *word, const char *text, MlUnit unit, MlQuantity *ret_quantity);
gboolean ml_board_reader_number (MlBoardReader *reader, const MlWord *word, MlUnit unit, double *ret_value);
/** ml_board_reader_plausible: zero, or a figure that a part may have; else says what is expected. */
gboolean ml_board_reader_plausible (MlBoardReader *reader, const MlWord *word, MlUnit unit, double value);
void ml_board_reader_unknown_word (MlBoardReader *reader, const MlWord *word, const char *const *known);

/** ml_board_reader_feed_blocks: which pins of every block are its supply and its ground, written or found; says it when a written one is none. */
void ml_board_reader_feed_blocks (MlBoardReader *reader);

void ml_board_reader_datasheet (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_part_statement (MlBoardReader *reader, const MlStatement *statement);
/** ml_board_reader_attribute: key=value of that kind into attributes; FALSE when it was wrong (said). */
gboolean ml_board_reader_attribute (MlBoardReader *reader, const MlWord *word, const MlKeyInfo *info, GArray *attributes);
void ml_board_reader_condition (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_supply (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_load (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_set (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_lift (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_remove (MlBoardReader *reader, const MlStatement *statement);
void ml_board_reader_connect (MlBoardReader *reader, const MlStatement *statement);

/** ml_datasheets_shipped: the part numbers of data/ (MlDatasheet *), in the order of its table. The result lives for the process. */
const GPtrArray *ml_datasheets_shipped (void);

/** ml_datasheet_find: a part number of data/; NULL when not known. The result lives for the process. */
const MlDatasheet *ml_datasheet_find (const char *name);
void ml_attributes_free (MlAttribute *attributes, guint n);
void ml_datasheet_free (MlDatasheet *datasheet);
/** ml_data_lookup: a table of data/ as text. Never NULL. */
char *ml_data_lookup (const char *name);

G_END_DECLS
