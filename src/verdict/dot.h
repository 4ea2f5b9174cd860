/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <glib.h>

/** ml_dot_at: sum of slope[k] dense[column[k]] over n. In four sums: in one, each addition would wait for the one before. */
static inline double
ml_dot_at (const double *slope, const guint *column, guint n, const double *dense)
{
  double a = 0, b = 0, c = 0, d = 0;

  for (; n >= 4; n -= 4, slope += 4, column += 4)
    {
      a += slope[0] * dense[column[0]];
      b += slope[1] * dense[column[1]];
      c += slope[2] * dense[column[2]];
      d += slope[3] * dense[column[3]];
    }
  for (; n; n--)
    a += *slope++ * dense[*column++];
  return (a + b) + (c + d);
}
