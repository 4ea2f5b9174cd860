/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A part in all conditions at once: what was read and seen there in each, what should be read, what the other unit gave. Knows no widget. */
#pragma once

#include "desktop/document.h"

G_BEGIN_DECLS

typedef struct
{
  char *measured; /* "2.91 V", "dim"; NULL: nothing taken */
  char *expected; /* "4.93 V"; NULL: not known */
  char *other;    /* "4.75 V": the other unit's; NULL: none */
  gboolean off;   /* measured is not what a fine board gives */
  gboolean doubtful;
} MlPlaceCell;

typedef struct
{
  char *label;        /* "across R4", "R4.1 (V5)", "seen" */
  gboolean is_place;  /* red and black are where its readings are taken */
  MlProbe red, black;
  MlPlaceCell *cells; /* one per condition */
} MlPlaceRow;

typedef struct
{
  char *title;        /* "R4, resistor 1k2, from V5 to OUT" */
  char *other_name;   /* of the unit compared with; NULL: none */
  char **conditions;  /* names, NULL-terminated */
  guint n_conditions;
  MlPlaceRow *rows;
  guint n_rows;
} MlPlaceTable;

/** ml_place_table_new: of the document's unit and pass. pin -1: the whole part; of a part with many pins only the rows of that pin. other_unit -1: none. */
MlPlaceTable *ml_place_table_new (MlDocument *document, int part, int pin, int other_unit);
void ml_place_table_free (MlPlaceTable *table);
/** ml_place_table_words: lines of fields parted by tabs, for a spreadsheet or a letter; new string. */
char *ml_place_table_words (const MlPlaceTable *table);

G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlPlaceTable, ml_place_table_free)
G_END_DECLS
