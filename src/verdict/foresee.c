/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/foresee.h"

#include "verdict/remember.h"

#define CHUNK (1u << 16)         /* numbers or unknowns allocated at once */
#define MOST_STEPS (96u << 20)   /* bytes, of all places together: they serve until the next reading */
#define MOST_PREDICTED (96u << 20) /* bytes of predictions beyond those of readings taken: they serve as long as the dictionary */

typedef struct
{
  GPtrArray *blocks;
  gsize size;         /* of an entry */
  guint used, room;   /* of the last block, in entries */
} Arena;

struct _MlForeseen
{
  guint place, n;
  MlPrepared *prepared; /* per item; those not `ready` are left out */
  Arena numbers, fresh;
  gsize bytes;
};

/* The next entries, and to be kept with take. */
static gpointer
arena_offer (Arena *arena, guint n)
{
  if (!arena->blocks->len || arena->used + n > arena->room)
    {
      arena->room = MAX (CHUNK, n);
      arena->used = 0;
      g_ptr_array_add (arena->blocks, g_malloc (arena->room * arena->size));
    }
  return (guint8 *) arena->blocks->pdata[arena->blocks->len - 1] + arena->used * arena->size;
}

static void
foreseen_free (gpointer data)
{
  MlForeseen *own = data;

  g_ptr_array_unref (own->numbers.blocks);
  g_ptr_array_unref (own->fresh.blocks);
  g_free (own->prepared);
  g_free (own);
}

static MlForeseen *
foreseen_new (const MlDictionary *dictionary, guint place, guint n)
{
  MlForeseen *own = g_new0 (MlForeseen, 1);

  own->place = place;
  own->n = n;
  own->prepared = g_new0 (MlPrepared, MAX (dictionary->n_early, 1));
  own->numbers = (Arena){ g_ptr_array_new_with_free_func (g_free), sizeof (double), 0, 0 };
  own->fresh = (Arena){ g_ptr_array_new_with_free_func (g_free), sizeof (guint), 0, 0 };
  own->bytes = dictionary->n_early * sizeof (MlPrepared);
  return own;
}

GPtrArray *
ml_foreseen_new (void)
{
  return g_ptr_array_new_with_free_func (foreseen_free);
}

/* ---- asked for ---- */

const MlForeseen *
ml_foreseen_find (const GPtrArray *foreseen, const MlDictionary *dictionary, guint place, guint n)
{
  guint plain = g_array_index (dictionary->places, MlReadingPlace, place).plain;

  for (guint i = 0; i < foreseen->len; i++)
    {
      const MlForeseen *own = foreseen->pdata[i];
      if (own->n == n && (own->place == place || own->place == plain))
        return own;
    }
  return NULL;
}

const MlPrepared *
ml_foreseen_of (const MlForeseen *foreseen, const MlDictionary *dictionary, guint item, guint place)
{
  const MlPrepared *prepared = foreseen ? &foreseen->prepared[item] : NULL;

  return prepared && prepared->ready && ml_dictionary_read_at (dictionary, item, place) == ml_dictionary_read_at (dictionary, item, foreseen->place) ? prepared
                                                                                                                                                    : NULL;
}

/* ---- worked out ---- */

static void
prepare (MlGrowing *growing, guint item, const MlGrown *grown, MlForeseen *foreseen)
{
  guint n_numbers, n_fresh;
  double *numbers;
  guint *fresh;
  MlPrepared *prepared = &foreseen->prepared[item];

  ml_grown_step_room (growing, grown, &n_numbers, &n_fresh);
  numbers = arena_offer (&foreseen->numbers, n_numbers);
  fresh = arena_offer (&foreseen->fresh, n_fresh);
  ml_grown_prepare (growing, item, grown, foreseen->place, numbers, fresh, prepared);
  n_numbers = prepared->with.n + prepared->with.n_watched + prepared->without.n;
  foreseen->numbers.used += n_numbers;
  foreseen->fresh.used += prepared->with.n_new;
  foreseen->bytes += n_numbers * sizeof (double) + prepared->with.n_new * sizeof (guint);
  prepared->ready = TRUE;
}

static gsize
bytes_of (const MlPrediction *prediction)
{
  return sizeof *prediction + prediction->n * (sizeof *prediction->column + sizeof *prediction->slope) + 3 * 2 * sizeof (gpointer);
}

/* Predictions of one item, and how large they are. */
static gsize
predict (MlDictionary *dictionary, guint item, const guint *places, guint n)
{
  gsize bytes = 0;

  ml_dictionary_predict_all (dictionary, item, places, n);
  for (guint k = 0; k < n; k++)
    bytes += bytes_of (ml_dictionary_predict (dictionary, item, places[k]));
  return bytes;
}

static gboolean
is_known (const MlRemembered *remembered, guint place, guint n)
{
  for (guint i = 0; i < remembered->foreseen->len; i++)
    if (((MlForeseen *) remembered->foreseen->pdata[i])->place == place && ((MlForeseen *) remembered->foreseen->pdata[i])->n == n)
      return TRUE;
  return FALSE;
}

static gsize
steps_bytes (const MlRemembered *remembered)
{
  gsize bytes = 0;

  for (guint i = 0; i < remembered->foreseen->len; i++)
    bytes += ((MlForeseen *) remembered->foreseen->pdata[i])->bytes;
  return bytes;
}

static gboolean
is_counted (const MlDictionary *dictionary, guint place)
{
  for (guint i = 0; i < dictionary->foreseen->len; i++)
    if (g_array_index (dictionary->foreseen, guint, i) == place)
      return TRUE;
  return FALSE;
}

/* One item after the other, so that a cancel is heard soon. What is there by then stays; steps are of use when all of a place are there. */
static gboolean
foresee_items (MlGrowing *growing, MlRemembered *remembered, const guint *places, guint n, GPtrArray *steps, GCancellable *cancellable, GError **error)
{
  MlCase *own = growing->own;
  gsize bytes = 0;

  for (guint i = 0; i < own->dictionary->n_early; i++)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (ml_case_same_as_twin (own, i))
        continue;
      bytes += predict (own->dictionary, i, places, n);
      for (guint k = 0; k < steps->len; k++)
        if (remembered->grown[i].with.n == own->taken->len)
          prepare (growing, i, &remembered->grown[i], steps->pdata[k]);
    }
  for (guint k = 0; k < n; k++)
    if (!is_counted (own->dictionary, places[k]))
      {
        g_array_append_val (own->dictionary->foreseen, places[k]);
        own->dictionary->foreseen_bytes += bytes / n;
      }
  return TRUE;
}

/* Those there is memory for, *ret_n of them; new array. */
static guint *
affordable (const MlDictionary *dictionary, const guint *places, guint n, guint *ret_n)
{
  guint *kept = g_new (guint, MAX (n, 1));

  *ret_n = 0;
  for (guint i = 0; i < n; i++)
    if (dictionary->foreseen_bytes < MOST_PREDICTED || is_counted (dictionary, places[i]))
      kept[(*ret_n)++] = places[i];
  return kept;
}

gboolean
ml_case_foresee (MlCase *own, const guint *wanted, guint n_wanted, GCancellable *cancellable, GError **error)
{
  guint n;
  g_autofree guint *places = affordable (own->dictionary, wanted, n_wanted, &n);
  MlRemembered *remembered = ml_case_remember (own);
  g_autoptr (GPtrArray) steps = ml_foreseen_new ();
  MlGrowing growing;
  gboolean done;

  if (!remembered->filled || !n)
    return TRUE;
  for (guint i = 0; i < n && remembered->grown && steps_bytes (remembered) < MOST_STEPS; i++)
    if (!is_known (remembered, places[i], own->taken->len))
      g_ptr_array_add (steps, foreseen_new (own->dictionary, places[i], own->taken->len));
  ml_growing_init (&growing, own);
  done = foresee_items (&growing, remembered, places, n, steps, cancellable, error);
  ml_growing_clear (&growing);
  while (done && steps->len)
    g_ptr_array_add (remembered->foreseen, g_ptr_array_steal_index (steps, steps->len - 1));
  return done;
}
