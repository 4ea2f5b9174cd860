/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/factors.h"

#include <stdlib.h>
#include <string.h>

/* ---- the schedule ---- */

/* What a schedule is built with. */
typedef struct
{
  int *start, *entry; /* entries of the matrix by pivot row: pivot column, and index among the values */
  int *entry_index;
  int *next;          /* n: the pattern of the row at hand as a sorted list of pivots; n ends it */
  int *where;         /* n: slot of a pivot of the row at hand */
  bool *ret_too_long;
  int lower_room, upper_room, target_room, n_targets;
} Builder;

static bool
grow (int **array, int *room, int n)
{
  if (n <= *room)
    return true;
  int to = 2 * n + 64;
  int *bigger = realloc (*array, (size_t) to * sizeof *bigger);
  if (!bigger)
    return false;
  *array = bigger;
  *room = to;
  return true;
}

/* Entries by pivot rows. */
static bool
sort_by_rows (Builder *b, MlNodalSchedule *s, const int *column, const int *row)
{
  int n = s->n;
  int *pivot = malloc (((size_t) n + 1) * sizeof *pivot); /* of a matrix row */

  if (!pivot)
    return false;
  for (int k = 0; k < n; k++)
    pivot[s->row[k]] = k;
  for (int e = 0; e < s->n_entries; e++)
    b->start[pivot[row[e]] + 1]++;
  for (int k = 0; k < n; k++)
    b->start[k + 1] += b->start[k];
  for (int k = 0; k < n; k++) /* in the order of pivots, so that each row is sorted */
    for (int e = column[s->column[k]]; e < column[s->column[k] + 1]; e++)
      {
        int to = b->start[pivot[row[e]]]++;
        b->entry[to] = k;
        b->entry_index[to] = e;
      }
  for (int k = n; k > 0; k--)
    b->start[k] = b->start[k - 1];
  b->start[0] = 0;
  free (pivot);
  return true;
}

/* Puts pivot c into the list; where[c] is marked. `after`: an element of the list before it, or -1 to search from the head. */
static int
insert (Builder *b, int *head, int after, int c)
{
  int before = after, at = after >= 0 ? b->next[after] : *head;

  while (at < c)
    {
      before = at;
      at = b->next[at];
    }
  b->next[c] = at;
  if (before >= 0)
    b->next[before] = c;
  else
    *head = c;
  b->where[c] = 0;
  return c;
}

/* The pattern of row k of the factors: that of the matrix, and what its eliminating rows bring along. */
static bool
add_row (Builder *b, MlNodalSchedule *s, int k, int most)
{
  int head = s->n, last = -1;

  for (int e = b->start[k]; e < b->start[k + 1]; e++)
    last = insert (b, &head, last, b->entry[e]);
  if (b->where[k] < 0)
    insert (b, &head, -1, k);
  for (int i = head; i < k; i = b->next[i])
    {
      last = i;
      for (int u = s->upper_start[i]; u < s->upper_start[i + 1]; u++)
        {
          if (b->where[s->upper[u]] < 0)
            insert (b, &head, last, s->upper[u]);
          last = s->upper[u];
        }
    }
  for (int i = head; i < s->n; i = b->next[i])
    {
      if (!grow (i < k ? &s->lower : &s->upper, i < k ? &b->lower_room : &b->upper_room, (i < k ? s->n_lower : s->n_upper) + 1))
        return false;
      if (i < k)
        s->lower[b->where[i] = s->n_lower++] = i;
      else if (i > k)
        s->upper[b->where[i] = s->n_upper++] = i;
      else
        b->where[i] = k;
    }
  s->lower_start[k + 1] = s->n_lower;
  s->upper_start[k + 1] = s->n_upper;
  /* Targets and slots: for now each within its own kind, lower ones -1 - 2 index, diagonals -2 - 2 index. */
  for (int i = head; i < s->n; i = b->next[i])
    b->where[i] = i < k ? -1 - 2 * b->where[i] : i == k ? -2 - 2 * k : b->where[i];
  for (int i = head; i < k; i = b->next[i])
    {
      int more = s->upper_start[i + 1] - s->upper_start[i];
      *b->ret_too_long = b->n_targets + more > most;
      if (*b->ret_too_long || !grow (&s->target, &b->target_room, b->n_targets + more))
        return false;
      for (int u = s->upper_start[i]; u < s->upper_start[i + 1]; u++)
        s->target[b->n_targets++] = b->where[s->upper[u]];
    }
  for (int e = b->start[k]; e < b->start[k + 1]; e++)
    s->slot[b->entry_index[e]] = b->where[b->entry[e]];
  for (int i = head, next; i < s->n; i = next)
    {
      next = b->next[i];
      b->where[i] = -1;
    }
  return true;
}

static int
final_slot (const MlNodalSchedule *s, int slot)
{
  if (slot >= 0)
    return slot;
  int index = (-1 - slot) / 2;
  return s->n_upper + ((-1 - slot) % 2 ? s->n_lower : 0) + index;
}

static bool
build (Builder *b, MlNodalSchedule *s, const int *column, const int *row, int most)
{
  int n = s->n;

  if (!sort_by_rows (b, s, column, row))
    return false;
  for (int k = 0; k < n; k++)
    b->where[k] = -1;
  for (int k = 0; k < n; k++)
    if (!add_row (b, s, k, most))
      return false;
  for (int t = 0; t < b->n_targets; t++)
    s->target[t] = final_slot (s, s->target[t]);
  for (int e = 0; e < s->n_entries; e++)
    s->slot[e] = final_slot (s, s->slot[e]);
  s->n_slots = s->n_upper + s->n_lower + n;
  return true;
}

MlNodalSchedule *
ml_nodal_schedule_new (int n, const int *column, const int *row, const int *pivot_row, const int *pivot_column, int most,
                       bool *ret_too_long)
{
  MlNodalSchedule *s = calloc (1, sizeof *s);
  Builder b = { .ret_too_long = ret_too_long };
  size_t room = (size_t) n + 1, entries = (size_t) column[n] + 1;

  *ret_too_long = false;
  if (!s)
    return NULL;
  s->n = n;
  s->n_entries = column[n];
  s->row = malloc (room * sizeof (int));
  s->column = malloc (room * sizeof (int));
  s->slot = malloc (entries * sizeof (int));
  s->lower_start = calloc (room, sizeof (int));
  s->upper_start = calloc (room, sizeof (int));
  b.start = calloc (room + 1, sizeof (int));
  b.entry = malloc (entries * sizeof (int));
  b.entry_index = malloc (entries * sizeof (int));
  b.next = malloc (room * sizeof (int));
  b.where = malloc (room * sizeof (int));
  bool built = s->row && s->column && s->slot && s->lower_start && s->upper_start && b.start && b.entry && b.entry_index
               && b.next && b.where;
  if (built)
    {
      memcpy (s->row, pivot_row, (size_t) n * sizeof (int));
      memcpy (s->column, pivot_column, (size_t) n * sizeof (int));
      built = build (&b, s, column, row, most);
    }
  void *own[] = { b.start, b.entry, b.entry_index, b.next, b.where };
  for (size_t i = 0; i < sizeof own / sizeof own[0]; i++)
    free (own[i]);
  if (built)
    return s;
  ml_nodal_schedule_free (s);
  return NULL;
}

void
ml_nodal_schedule_free (MlNodalSchedule *schedule)
{
  if (!schedule)
    return;
  free (schedule->row);
  free (schedule->column);
  free (schedule->slot);
  free (schedule->lower_start);
  free (schedule->lower);
  free (schedule->upper_start);
  free (schedule->upper);
  free (schedule->target);
  free (schedule);
}

/* ---- one matrix ---- */

#define FACTOR double
#define NUMBER double
#define PARTS 1
#define FACTOR_PARTS 1
#define NAMED(name) name
#define FACTORS
#define WIDE
#include "nodal/factors-walk.h"
#undef FACTOR
#undef NUMBER
#undef PARTS
#undef FACTOR_PARTS
#undef NAMED
#undef FACTORS
#undef WIDE

/* ---- side by side ---- */

#define INFINITE_BITS 0x7ff0000000000000LL /* of infinity; those of any greater size are of no number */

#define PART_LANES 2
#define MADE_FOR
#define BY(name) name##_by_2
#include "nodal/factors-lanes.h"

#ifdef ML_NODAL_WIDTHS
#define PART_LANES 4
#define MADE_FOR __attribute__ ((target ("avx2")))
#define BY(name) name##_by_4
#include "nodal/factors-lanes.h"

/* That of the widest registers there are; twice as wide ones, where a processor has them, gain nothing. */
#define THE(name) (__builtin_cpu_supports ("avx2") ? name##_by_4 : name##_by_2)
#else
#define THE(name) name##_by_2
#endif

void
ml_nodal_schedule_factor_lanes (const MlNodalSchedule *schedule, const double *values, double *factors)
{
  THE (ml_nodal_schedule_factor_lanes) (schedule, values, factors);
}

void
ml_nodal_schedule_solve_lanes (const MlNodalSchedule *schedule, const double *factors, double *x, double *work)
{
  THE (ml_nodal_schedule_solve_lanes) (schedule, factors, x, work);
}

void
ml_nodal_schedule_solve_transposed_lanes (const MlNodalSchedule *schedule, const double *factors, double *x, double *work)
{
  THE (ml_nodal_schedule_solve_transposed_lanes) (schedule, factors, x, work);
}

void
ml_nodal_schedule_solve_columns (const MlNodalSchedule *schedule, const double *factors, double *x, double *work)
{
  THE (ml_nodal_schedule_solve_columns) (schedule, factors, x, work);
}

void
ml_nodal_schedule_solve_transposed_columns (const MlNodalSchedule *schedule, const double *factors, double *x, double *work)
{
  THE (ml_nodal_schedule_solve_transposed_columns) (schedule, factors, x, work);
}

unsigned
ml_nodal_columns_solved_well (int n, const int *row_start, const int *row_entry, const int *row_column, const double *values, const double *x,
                              const double *b, double limit, double least, double *ret_rest)
{
  return THE (ml_nodal_columns_solved_well) (n, row_start, row_entry, row_column, values, x, b, limit, least, ret_rest);
}

unsigned
ml_nodal_lanes_solved_well (int n, const int *row_start, const int *row_entry, const int *row_column, const double *values, const double *x,
                            const double *b, double limit, double least, double *ret_rest)
{
  return THE (ml_nodal_lanes_solved_well) (n, row_start, row_entry, row_column, values, x, b, limit, least, ret_rest);
}

unsigned
ml_nodal_columns_transposed_well (int n, const int *column, const int *row, const double *values, const double *x, const double *b, double limit,
                                  double *ret_rest)
{
  return THE (ml_nodal_columns_transposed_well) (n, column, row, values, x, b, limit, ret_rest);
}
