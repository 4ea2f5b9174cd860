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

/* In bytes, where the first n letters end. */
static gsize
bytes_of (const char *text, glong n)
{
  return (gsize) (g_utf8_offset_to_pointer (text, n) - text);
}

char *
ml_text_fitted (const char *text, double height, double widest)
{
  const glong n = g_utf8_strlen (text, -1);
  double width = ml_text_width (text, height) + ml_text_width ("…", height);
  glong head = (n + 1) * 2 / 3, tail = head;

  if (width - ml_text_width ("…", height) <= widest || !g_utf8_validate (text, -1, NULL))
    return g_strdup (text);
  while (width > widest && (head > 1 || tail < n)) /* one letter more goes, two in front of the cut for one behind it */
    {
      const gboolean from_head = head > 1 && (tail == n || head > 2 * (n - tail));
      const gsize at = bytes_of (text, from_head ? --head : tail++);
      g_autofree char *letter = g_strndup (text + at, bytes_of (text + at, 1));
      width -= ml_text_width (letter, height);
    }
  return g_strdup_printf ("%.*s…%s", (int) bytes_of (text, head), text, text + bytes_of (text, tail));
}
