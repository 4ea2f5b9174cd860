/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/side-by-side.h"

#include "verdict/assumptions.h"

#define MOST_THREADS 16

/* Held by the caller and by each helper that was asked; one that comes late finds nothing left to do. `next` hands what the caller wrote before
 * to whoever takes a part, `n_done` what they wrote to the caller: so far the order of memory, and the lock is for sleeping alone. */
typedef struct
{
  gint n_held, next, n_done; /* atomic; next: the first part nobody has taken */
  guint n;
  void (*each) (guint i, gpointer data);
  gpointer data;
  GHashTable *assumed;
  GMutex lock;
  GCond all_done;
} Work;

static void
work_release (Work *work)
{
  if (!g_atomic_int_dec_and_test (&work->n_held))
    return;
  g_mutex_clear (&work->lock);
  g_cond_clear (&work->all_done);
  g_free (work);
}

/* Parts nobody has taken yet, until there are none. */
static void
do_parts (Work *work)
{
  guint done = 0;

  for (guint i; (i = (guint) g_atomic_int_add (&work->next, 1)) < work->n; done++)
    work->each (i, work->data);
  if (!done || (guint) g_atomic_int_add (&work->n_done, (gint) done) + done < work->n)
    return;
  g_mutex_lock (&work->lock);
  g_cond_signal (&work->all_done);
  g_mutex_unlock (&work->lock);
}

static void
help (gpointer data, gpointer unused)
{
  Work *work = data;
  GHashTable *before;

  (void) unused;
  if ((guint) g_atomic_int_get (&work->next) >= work->n) /* too late */
    {
      work_release (work);
      return;
    }
  /* What the board assumes lives as long as the caller waits; with no part left it is not looked at. */
  before = ml_assumptions_use (work->assumed);
  do_parts (work);
  ml_assumptions_use (before);
  work_release (work);
}

guint
ml_side_by_side_threads (void)
{
  static gsize n;

  if (g_once_init_enter (&n))
    {
      const char *wanted = g_getenv ("METERLEAF_THREADS");
      guint64 number = wanted ? g_ascii_strtoull (wanted, NULL, 10) : g_get_num_processors ();

      g_once_init_leave (&n, CLAMP (number, 1, MOST_THREADS));
    }
  return (guint) n;
}

static GThreadPool *
helpers (void)
{
  static GThreadPool *pool;
  static gsize once;

  if (g_once_init_enter (&once))
    {
      pool = g_thread_pool_new (help, NULL, (gint) ml_side_by_side_threads () - 1, FALSE, NULL);
      g_once_init_leave (&once, 1);
    }
  return pool;
}

static Work *
work_new (guint n, void (*each) (guint i, gpointer data), gpointer data)
{
  Work *work = g_new0 (Work, 1);

  work->n_held = 1;
  work->n = n;
  work->each = each;
  work->data = data;
  work->assumed = ml_assumptions_use (NULL);
  ml_assumptions_use (work->assumed);
  g_mutex_init (&work->lock);
  g_cond_init (&work->all_done);
  g_atomic_int_set (&work->next, 0);
  return work;
}

void
ml_side_by_side (guint n, void (*each) (guint i, gpointer data), gpointer data)
{
  guint n_helpers = MIN (n, ml_side_by_side_threads ());
  Work *work;

  if (n_helpers < 2)
    {
      for (guint i = 0; i < n; i++)
        each (i, data);
      return;
    }
  work = work_new (n, each, data);
  for (guint i = 1; i < n_helpers; i++)
    {
      g_atomic_int_inc (&work->n_held);
      g_thread_pool_push (helpers (), work, NULL);
    }
  do_parts (work);
  g_mutex_lock (&work->lock);
  while ((guint) g_atomic_int_get (&work->n_done) < work->n)
    g_cond_wait (&work->all_done, &work->lock);
  g_mutex_unlock (&work->lock);
  work_release (work);
}
