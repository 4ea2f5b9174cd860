/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/exps.h"

#include "nodal/factors.h"

#include <math.h>
#include <string.h>

#define N ML_NODAL_PART
#define TOO_SMALL 60.0 /* nats below the largest: e^-60 of it; the factors before the exponentials are within e^15 of each other */
#define LOWEST -700.0  /* below it nothing */
#define HIGHEST 700.0

typedef MlNodalPart Wide;
typedef MlNodalPartBits Bits;

/* No functions: passing so wide a number on is not the same on every processor. What is no number stays so: LARGER (a, b) is b where that is larger, else a. */
#define SMALLER(a, b) ((Wide) (((Bits) (b) & ((b) < (a))) | ((Bits) (a) & ~((b) < (a)))))
#define LARGER(a, b) ((Wide) (((Bits) (b) & ((b) > (a))) | ((Bits) (a) & ~((b) > (a)))))
#define KEEP(a, condition) ((Wide) ((Bits) (a) & (condition)))

/* y = exp (x): x = n ln 2 + r, Taylor's series of r; 2^n by its bits, n being the last digits of a number that has none after the point. */
#define EXP(x, y) \
  { \
    const Wide lowest = (Wide){ 0 } + LOWEST, highest = (Wide){ 0 } + HIGHEST, upper = SMALLER ((x), highest), at = LARGER (upper, lowest); \
    const Wide shifted = at * 0x1.71547652b82fep0 + 0x1.8p52, times = shifted - 0x1.8p52; \
    const Wide r = (at - times * 0x1.62e42fee00000p-1) - times * 0x1.a39ef35793c76p-33, r2 = r * r, r4 = r2 * r2; \
    const Wide low = (1.0 + r) + r2 * (1.0 / 2 + r * (1.0 / 6)), middle = (1.0 / 24 + r * (1.0 / 120)) + r2 * (1.0 / 720 + r * (1.0 / 5040)); \
    const Wide high = (1.0 / 40320 + r * (1.0 / 362880)) + r2 * (1.0 / 3628800 + r * (1.0 / 39916800)) + r4 * (1.0 / 479001600); \
    (y) = KEEP ((low + r4 * (middle + r4 * high)) * (Wide) (((Bits) shifted + 1023) << 52), ~((x) < LOWEST)); \
  }

/* The next of n, those beyond the end as said; how many there are. */
static inline __attribute__ ((always_inline)) guint
load (const double *from, guint n, double otherwise, Wide *ret)
{
  if (n >= N)
    {
      memcpy (ret, from, sizeof *ret);
      return N;
    }
  for (guint k = 0; k < N; k++)
    (*ret)[k] = k < n ? from[k] : otherwise;
  return n;
}

static inline __attribute__ ((always_inline)) void
store (const Wide *from, guint n, double *to)
{
  if (n >= N)
    memcpy (to, from, sizeof *from);
  for (guint k = 0; n < N && k < n; k++)
    to[k] = (*from)[k];
}

ML_NODAL_WIDE void
ml_exps (double *x, guint n)
{
  for (guint i = 0; i < n; i += N)
    {
      Wide own, to;
      guint some = load (x + i, n - i, 0, &own);

      EXP (own, to)
      store (&to, some, x + i);
    }
}

ML_NODAL_WIDE double
ml_exps_add_up (const double *power, double *factor, guint n, double *ret_most)
{
  Wide largest = { 0 }, sums[2] = { { 0 }, { 0 } }; /* two: the one need not wait for the other */
  double most = 0, all = 0;

  for (guint i = 0; i < n; i += N)
    {
      Wide own;

      load (power + i, n - i, 0, &own);
      largest = LARGER (largest, own);
    }
  for (guint k = 0; k < N; k++)
    most = MAX (most, largest[k]);
  for (guint i = 0; i < n; i += N)
    {
      Wide own, to, by;
      guint some = load (power + i, n - i, -INFINITY, &own);

      load (factor + i, n - i, 0, &by);
      own -= most;
      EXP (own, to)
      by = KEEP (by * to, ~(own < -TOO_SMALL));
      sums[i / N % 2] += by;
      store (&by, some, factor + i);
    }
  for (guint k = 0; k < 2 * N; k++)
    all += sums[k / N][k % N];
  *ret_most = most;
  return all;
}

ML_NODAL_WIDE void
ml_exps_bells (double y, const double *mean, const double *per_sigma, const double *weight, guint n, double *ret)
{
  for (guint i = 0; i < n; i += N)
    {
      Wide own, per, by, to;
      guint some = load (mean + i, n - i, 0, &own);

      load (per_sigma + i, n - i, 0, &per);
      load (weight + i, n - i, 0, &by);
      own = (y - own) * per;
      own = own * own * -0.5;
      EXP (own, to)
      to *= by * per;
      store (&to, some, ret + i);
    }
}
