/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sizes of paper. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

#define ML_MM_PER_G 2.5 /* the module of the drawing on paper, at full size */

typedef enum { ML_PAGE_FIT, ML_PAGE_A4, ML_PAGE_A5, ML_PAGE_LETTER } MlPageSize; /* fit: as large as the drawing needs */
typedef enum { ML_PAGE_EITHER, ML_PAGE_PORTRAIT, ML_PAGE_LANDSCAPE } MlPageTurn; /* either: the one on which the drawing comes out larger */

/** ml_page_find: "a4", "A5", "letter", "fit". FALSE when unknown; then *ret_size is untouched. */
gboolean ml_page_find (const char *word, MlPageSize *ret_size);
/** ml_page_words: the words known, for messages: "fit, a4, a5 or letter". */
const char *ml_page_words (void);
/** ml_page_size_mm: width and height; not for ML_PAGE_FIT. Source: ISO 216 (A4, A5), ANSI/ASME Y14.1 size A (Letter), from memory. */
void ml_page_size_mm (MlPageSize size, gboolean landscape, double *ret_width_mm, double *ret_height_mm);

G_END_DECLS
