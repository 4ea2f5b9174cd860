/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The walks along a schedule, written once for one matrix and for several. An entry of a right-hand side is PARTS times a NUMBER, a double or some of
 * its lanes; one of the factors FACTOR_PARTS times a FACTOR. FACTORS: there is a walk that factors. Included by factors.c only. */

#define EACH_PART for (int p = 0; p < PARTS; p++)
#define OF(array, entry) ((array)[(entry) * PARTS + p])
#define FACTOR_OF(array, entry) ((array)[(entry) * FACTOR_PARTS + (FACTOR_PARTS > 1 ? p : 0)])

#ifdef FACTORS
WIDE void
NAMED (ml_nodal_schedule_factor) (const MlNodalSchedule *s, const double *values, double *factors)
{
  const NUMBER *from = (const NUMBER *) (const void *) values;
  NUMBER *restrict v = (NUMBER *) (void *) factors;
  const int *t = s->target;
  const int lower_slot = s->n_upper, diagonal_slot = s->n_upper + s->n_lower;

  memset (v, 0, (size_t) s->n_slots * PARTS * sizeof *v);
  for (int e = 0; e < s->n_entries; e++)
    EACH_PART
      OF (v, s->slot[e]) = OF (from, e);
  for (int k = 0; k < s->n; k++)
    {
      for (int l = s->lower_start[k]; l < s->lower_start[k + 1]; l++)
        {
          int pivot = s->lower[l], u = s->upper_start[pivot], end = s->upper_start[pivot + 1];
          NUMBER share[PARTS];
          EACH_PART
            OF (v, lower_slot + l) = share[p] = OF (v, lower_slot + l) * OF (v, diagonal_slot + pivot);
          for (; u < end; u++, t++)
            EACH_PART
              OF (v, *t) -= share[p] * OF (v, u);
        }
      EACH_PART
        OF (v, diagonal_slot + k) = 1.0 / OF (v, diagonal_slot + k);
    }
}
#endif

WIDE void
NAMED (ml_nodal_schedule_solve) (const MlNodalSchedule *s, const double *factors, double *x, double *work)
{
  const FACTOR *v = (const FACTOR *) (const void *) factors;
  const FACTOR *lower = v + s->n_upper * FACTOR_PARTS, *diagonal = lower + s->n_lower * FACTOR_PARTS;
  NUMBER *restrict y = (NUMBER *) (void *) work, *to = (NUMBER *) (void *) x;

  for (int k = 0; k < s->n; k++)
    {
      NUMBER sum[PARTS];
      EACH_PART
        sum[p] = OF (to, s->row[k]);
      for (int l = s->lower_start[k]; l < s->lower_start[k + 1]; l++)
        EACH_PART
          sum[p] -= FACTOR_OF (lower, l) * OF (y, s->lower[l]);
      EACH_PART
        OF (y, k) = sum[p];
    }
  for (int k = s->n - 1; k >= 0; k--)
    {
      NUMBER sum[PARTS];
      EACH_PART
        sum[p] = OF (y, k);
      for (int u = s->upper_start[k]; u < s->upper_start[k + 1]; u++)
        EACH_PART
          sum[p] -= FACTOR_OF (v, u) * OF (y, s->upper[u]);
      EACH_PART
        OF (y, k) = sum[p] * FACTOR_OF (diagonal, k);
    }
  for (int k = 0; k < s->n; k++)
    EACH_PART
      OF (to, s->column[k]) = OF (y, k);
}

WIDE void
NAMED (ml_nodal_schedule_solve_transposed) (const MlNodalSchedule *s, const double *factors, double *x, double *work)
{
  const FACTOR *v = (const FACTOR *) (const void *) factors;
  const FACTOR *lower = v + s->n_upper * FACTOR_PARTS, *diagonal = lower + s->n_lower * FACTOR_PARTS;
  NUMBER *restrict y = (NUMBER *) (void *) work, *to = (NUMBER *) (void *) x;

  for (int k = 0; k < s->n; k++)
    EACH_PART
      OF (y, k) = OF (to, s->column[k]);
  for (int k = 0; k < s->n; k++)
    {
      NUMBER own[PARTS];
      EACH_PART
        OF (y, k) = own[p] = OF (y, k) * FACTOR_OF (diagonal, k);
      for (int u = s->upper_start[k]; u < s->upper_start[k + 1]; u++)
        EACH_PART
          OF (y, s->upper[u]) -= FACTOR_OF (v, u) * own[p];
    }
  for (int k = s->n - 1; k >= 0; k--)
    {
      NUMBER own[PARTS];
      EACH_PART
        own[p] = OF (y, k);
      for (int l = s->lower_start[k]; l < s->lower_start[k + 1]; l++)
        EACH_PART
          OF (y, s->lower[l]) -= FACTOR_OF (lower, l) * own[p];
    }
  for (int k = 0; k < s->n; k++)
    EACH_PART
      OF (to, s->row[k]) = OF (y, k);
}

#undef EACH_PART
#undef OF
#undef FACTOR_OF
