/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/near.h"

#include <math.h>

void
ml_assert_near (double actual, double expected, double rtol, double atol, const char *what, const char *file, int line)
{
  if (fabs (actual - expected) <= atol + rtol * fabs (expected))
    return;
  print_error ("%s is %.17g, expected %.17g (rtol %g, atol %g)\n", what, actual, expected, rtol, atol);
  _fail (file, line);
}
