/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a part can be supposed to be, in trade words. */
#pragma once

#include <gio/gio.h>

#include "verdict/judge.h"

G_BEGIN_DECLS

typedef struct
{
  char *label;      /* "Open", "Bad solder joint at emitter…" */
  char *words;      /* what ml_fault_parse understands: "Q2 open"; of one that has a size without it: ml_suppose_sized */
  const char *size; /* NULL: it has none; otherwise it is asked for, and this is the usual one ("300"), "" when there is none; static */
} MlSuppose;

void ml_suppose_free (MlSuppose *suppose);
/** ml_suppose_list: all that makes sense for a part; elements MlSuppose. */
GPtrArray *ml_suppose_list (const MlBoard *board, int part);
/** ml_suppose_find: the one of these words, borrowed; NULL when there is none. */
const MlSuppose *ml_suppose_find (GPtrArray *list, const char *words);
/**
 * ml_suppose_sized: the words of a supposition of the part with the size that a person typed: ohms ("4k7", "1,5k"), of a value also how many times that
 * ("×10", "/10", "1000 times"). New string; NULL and an error, a sentence for the person, when it is no size.
 */
char *ml_suppose_sized (const MlBoard *board, int part, const MlSuppose *suppose, const char *typed, GError **error);
/** ml_suppose_ribbon: "supposing Q2 open", "supposing solder joint at Q2's emitter, about 300 Ω"; NULL when fault is; new string. */
char *ml_suppose_ribbon (const MlBoard *board, const MlFault *fault);

G_END_DECLS
