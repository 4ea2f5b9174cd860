/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing/layout-piece.h"
void ml_kit_find_idioms (MlKit *kit)
{
  guint i;
    for (i = 0; i < kit->plain->len; i++)
      g_ptr_array_add (kit->pieces, g_ptr_array_index (kit->plain, i));
}
