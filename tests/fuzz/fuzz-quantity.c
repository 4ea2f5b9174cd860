/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a number, under every unit and flag. */
#include "fuzz/fuzz.h"

#include <math.h>
#include <string.h>

#include "quantity/quantity.h"

int
LLVMFuzzerTestOneInput (const uint8_t *data, size_t size)
{
  char text[80];

  for (int unit = 0; unit < ML_N_UNITS; unit++)
    for (int flags = 0; flags < 8; flags++)
      {
        MlQuantity quantity, again;
        size_t where = 0;
        MlQuantityStatus status = ml_quantity_parse ((const char *) data, size, (MlUnit) unit, (MlQuantityFlags) flags, &quantity, &where);

        if (status != ML_QUANTITY_OK)
          {
            g_assert_true (where <= size);
            continue;
          }
        g_assert_true (quantity.low <= quantity.high);
        ml_quantity_format (quantity.value, quantity.unit, 9, TRUE, text, sizeof text);
        ml_quantity_format_marking (quantity.value, quantity.unit, text, sizeof text);
        ml_quantity_format_file (quantity.value, text, sizeof text);
        g_assert_true (quantity.over
                       || (ml_quantity_parse (text, strlen (text), ML_UNIT_NONE, ML_QUANTITY_PLAIN, &again, NULL) == ML_QUANTITY_OK
                           && again.value == quantity.value));
      }
  return 0;
}
