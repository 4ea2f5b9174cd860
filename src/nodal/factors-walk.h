/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The walks along a schedule, written once for one matrix and for several: FACTOR, an entry of the factors, and NUMBER, one of a right-hand side,
 * are a double or the lanes of one; FACTORS: there is a walk that factors. Included by factors.c only. */

#ifdef FACTORS
WIDE void
NAMED (ml_nodal_schedule_factor) (const MlNodalSchedule *s, const double *values, double *factors)
{
  const NUMBER *from = (const NUMBER *) (const void *) values;
  NUMBER *restrict v = (NUMBER *) (void *) factors;
  const int *t = s->target;
  const int lower_slot = s->n_upper, diagonal_slot = s->n_upper + s->n_lower;

  memset (v, 0, (size_t) s->n_slots * sizeof *v);
  for (int e = 0; e < s->n_entries; e++)
    v[s->slot[e]] = from[e];
  for (int k = 0; k < s->n; k++)
    {
      for (int l = s->lower_start[k]; l < s->lower_start[k + 1]; l++)
        {
          int pivot = s->lower[l], u = s->upper_start[pivot], end = s->upper_start[pivot + 1];
          NUMBER share = v[lower_slot + l] * v[diagonal_slot + pivot];
          v[lower_slot + l] = share;
          for (; u < end; u++, t++)
            v[*t] -= share * v[u];
        }
      v[diagonal_slot + k] = 1.0 / v[diagonal_slot + k];
    }
}
#endif

WIDE void
NAMED (ml_nodal_schedule_solve) (const MlNodalSchedule *s, const double *factors, double *x, double *work)
{
  const FACTOR *v = (const FACTOR *) (const void *) factors;
  const FACTOR *lower = v + s->n_upper, *diagonal = lower + s->n_lower;
  NUMBER *restrict y = (NUMBER *) (void *) work, *to = (NUMBER *) (void *) x;

  for (int k = 0; k < s->n; k++)
    {
      NUMBER sum = to[s->row[k]];
      for (int l = s->lower_start[k]; l < s->lower_start[k + 1]; l++)
        sum -= lower[l] * y[s->lower[l]];
      y[k] = sum;
    }
  for (int k = s->n - 1; k >= 0; k--)
    {
      NUMBER sum = y[k];
      for (int u = s->upper_start[k]; u < s->upper_start[k + 1]; u++)
        sum -= v[u] * y[s->upper[u]];
      y[k] = sum * diagonal[k];
    }
  for (int k = 0; k < s->n; k++)
    to[s->column[k]] = y[k];
}

WIDE void
NAMED (ml_nodal_schedule_solve_transposed) (const MlNodalSchedule *s, const double *factors, double *x, double *work)
{
  const FACTOR *v = (const FACTOR *) (const void *) factors;
  const FACTOR *lower = v + s->n_upper, *diagonal = lower + s->n_lower;
  NUMBER *restrict y = (NUMBER *) (void *) work, *to = (NUMBER *) (void *) x;

  for (int k = 0; k < s->n; k++)
    y[k] = to[s->column[k]];
  for (int k = 0; k < s->n; k++)
    {
      NUMBER own = y[k] * diagonal[k];
      y[k] = own;
      for (int u = s->upper_start[k]; u < s->upper_start[k + 1]; u++)
        y[s->upper[u]] -= v[u] * own;
    }
  for (int k = s->n - 1; k >= 0; k--)
    {
      NUMBER own = y[k];
      for (int l = s->lower_start[k]; l < s->lower_start[k + 1]; l++)
        y[s->lower[l]] -= lower[l] * own;
    }
  for (int k = 0; k < s->n; k++)
    to[s->row[k]] = y[k];
}
