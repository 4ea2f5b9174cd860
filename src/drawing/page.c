/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/page.h"

static const struct { const char *word; double width_mm, height_mm; } pages[] = {
  [ML_PAGE_FIT] = { "fit", 0, 0 },
  [ML_PAGE_A4] = { "a4", 210, 297 },
  [ML_PAGE_A5] = { "a5", 148, 210 },
  [ML_PAGE_LETTER] = { "letter", 215.9, 279.4 },
};

gboolean
ml_page_find (const char *word, MlPageSize *ret_size)
{
  for (guint i = 0; i < G_N_ELEMENTS (pages); i++)
    if (g_ascii_strcasecmp (pages[i].word, word) == 0)
      {
        *ret_size = (MlPageSize) i;
        return TRUE;
      }
  return FALSE;
}

const char *
ml_page_words (void)
{
  return "fit, a4, a5 or letter";
}

void
ml_page_size_mm (MlPageSize size, gboolean landscape, double *ret_width_mm, double *ret_height_mm)
{
  *ret_width_mm = landscape ? pages[size].height_mm : pages[size].width_mm;
  *ret_height_mm = landscape ? pages[size].width_mm : pages[size].height_mm;
}
