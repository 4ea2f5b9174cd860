/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All that is asked of the final drawings of the written boards, in one program: each of them is drawn once, which takes a second or two, and looked at
 * by whoever asks. */
#include "drawing/layout-boards.h"

int
main (void)
{
  const int n_failed = ml_test_layout_score () + ml_test_layout_structures () + ml_test_layout_places ();

  ml_test_forget_scenes (NULL);
  return n_failed;
}
