/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Most faults change nothing that was read: what their straight lines promise holds as far as the sound board's does. Whatever reads at its centre as something
 * else does that has been fitted already is looked at where that one's fit ended, fitted from there where it does worse than that one did, and from its own
 * centre where that does not help. */
#include "verdict/alike.h"

#include "verdict/assumptions.h"

#include <math.h>

static gboolean
reads_alike (MlCase *own, guint a, guint b)
{
  const double most = ml_assumption ("alike.sigma");

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlPrediction *x = ml_dictionary_predict (own->dictionary, a, taken->place), *y = ml_dictionary_predict (own->dictionary, b, taken->place);

      if (x->valid != y->valid || !(pow (x->value - y->value, 2) <= most * most * taken->variance))
        return FALSE;
    }
  return TRUE;
}

/* The one of the items fitted so far, at the same node, that item reads like; -1: none. */
static int
find_alike (MlCase *own, const MlRemembered *remembered, const GArray *fitted, guint item)
{
  const double most = ml_assumption ("alike.nats");

  for (guint i = 0; i < fitted->len; i++)
    {
      const guint other = g_array_index (fitted, guint, i);

      if (own->dictionary->items[other].node == own->dictionary->items[item].node && fabs (remembered->ln[other] - remembered->ln[item]) <= most
          && reads_alike (own, other, item))
        return (int) other;
    }
  return -1;
}

static MlExpansion *
begin_at (const MlCase *own, guint item, const MlExpansion *fit)
{
  const MlExpansion *centre = own->dictionary->expansions[item];
  double *z = fit ? ml_case_z_from (own, fit, centre) : NULL;
  MlExpansion *at = z ? ml_expansion_new (own->dictionary, (int) item, -1, z) : NULL;

  g_free (z);
  return at;
}

gboolean
ml_case_fit_alike (MlCase *own, const MlRemembered *remembered, const GArray *fitted, guint item, MlExpansion **ret_at, double *ret_ln)
{
  const int other = find_alike (own, remembered, fitted, item);
  double expected;

  *ret_at = NULL;
  *ret_ln = -INFINITY;
  if (other < 0)
    return FALSE;
  expected = remembered->fitted_ln[other] + remembered->ln[item] - remembered->ln[other] - ml_assumption ("alike.loss");
  *ret_at = begin_at (own, item, remembered->at[other]);
  *ret_ln = ml_case_settled_ln (own, *ret_at ? *ret_at : own->dictionary->expansions[item]);
  if (*ret_at && *ret_ln < expected)
    *ret_at = ml_case_fit (own, *ret_at, ret_ln);
  return *ret_ln >= expected;
}
