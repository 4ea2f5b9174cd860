/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/symbol-geometry.h"

/* Advance widths in 1/1000 em of U+0020..U+007E, measured once with cairo on DejaVu Sans. */
static const guint16 ascii_widths[] = {
  318,  401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, /* space to slash */
  636,  636, 636, 636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, /* 0 to ? */
  1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863, 748, 787, /* @ to O */
  603,  787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500, /* P to _ */
  500,  613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, /* ` to o */
  635,  635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,      /* p to ~ */
};

static int
advance_of (gunichar c)
{
  if (c >= 0x20 && c < 0x20 + G_N_ELEMENTS (ascii_widths))
    return ascii_widths[c - 0x20];
  if (g_unichar_iszerowidth (c) || c < 0x20)
    return 0;
  if (g_unichar_iswide (c))
    return 1000;
  if (c == 0xb5 || c == 0x3bc) /* micro */
    return 636;
  return c < 0x250 ? 640 : 850;
}

double
ml_text_width (const char *text, double height)
{
  int sum = 0;
  const char *p;

  for (p = text; *p != '\0';)
    {
      gunichar c = g_utf8_get_char_validated (p, -1);
      if (c == (gunichar) -1 || c == (gunichar) -2)
        {
          sum += 640;
          p++;
          continue;
        }
      sum += advance_of (c);
      p = g_utf8_next_char (p);
    }
  return height * sum / 1000.0;
}
