/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Items whose circuits are the same though they are told apart in words: a diode turned round on the board or in the drawing, a short and a link
 * between the same nets, an open pin and a track that ends at it. What is computed of the first serves for the others, except where a reading
 * names a pin. */
#include "verdict/expansion-private.h"

#include <math.h>

static void
append (GByteArray *key, gconstpointer data, gsize size)
{
  g_byte_array_append (key, data, (guint) size);
}

typedef struct
{
  guint kind;       /* MlNodalChangeKind */
  int device, a, b;
  double value;
} Written;

/* A bridge between two pins as the link between their nets that it is, and a pin that hangs on nothing as one that is cut off; of a part with two
 * pins either one: nothing flows then. Only where nothing else is changed: a joint lies between net and pin. */
static Written
written (const MlNodalChange *change, gboolean alone, const MlNodalCircuit *circuit)
{
  Written own = { change->kind, change->device, change->index, change->index_b, change->value };

  if (!alone)
    return own;
  if (change->kind == ML_NODAL_BRIDGE_PINS || change->kind == ML_NODAL_LINK_NETS)
    {
      int a = change->kind == ML_NODAL_LINK_NETS ? change->index : ml_nodal_circuit_pin_net (circuit, change->device, change->index);
      int b = change->kind == ML_NODAL_LINK_NETS ? change->index_b : ml_nodal_circuit_pin_net (circuit, change->device, change->index_b);

      return a < 0 || b < 0 ? own : (Written){ ML_NODAL_LINK_NETS, -1, MIN (a, b), MAX (a, b), change->value };
    }
  if (change->kind == ML_NODAL_DETACH || (change->kind == ML_NODAL_PIN_RESISTANCE && !isfinite (change->value)))
    return (Written){ ML_NODAL_DETACH, change->device, ml_nodal_type_n_pins (ml_nodal_circuit_type (circuit, change->device)) == 2 ? 0 : change->index, 0, 0 };
  return own;
}

/* Field by field: what lies between them is anything. */
static void
append_change (GByteArray *key, const MlNodalChange *change, gboolean alone, const MlNodalCircuit *circuit)
{
  Written own = written (change, alone, circuit);

  append (key, &own.kind, sizeof own.kind);
  append (key, &own.device, sizeof own.device);
  append (key, &own.a, sizeof own.a);
  append (key, &own.b, sizeof own.b);
  append (key, &own.value, sizeof own.value);
  if (change->permutation)
    append (key, change->permutation, (gsize) ml_nodal_type_n_pins (ml_nodal_circuit_type (circuit, change->device)) * sizeof *change->permutation);
}

/* All that the circuits of an item and what is read at their nets hang on; NULL when there is no such list. */
static GBytes *
key_of (const MlDictionary *dictionary, guint item, MlChanges *changes)
{
  const MlModel *model = dictionary->model;
  const MlHypothesis *hypothesis = ml_dictionary_hypothesis (dictionary, item);
  const MlItem *own = &dictionary->items[item];
  g_autoptr (GByteArray) key = g_byte_array_new ();

  if (hypothesis->explains == ML_EXPLAINS_HEALTHY || hypothesis->fault.kind == ML_FAULT_MISBEHAVING || hypothesis->fault.kind == ML_FAULT_STOPPED)
    return NULL;
  append (key, &own->node, sizeof own->node);
  append (key, &hypothesis->cells[own->cell].spread, sizeof (double));
  for (guint c = 0; c < model->board->n_conditions; c++)
    {
      int sized;

      if (!model->conditions[c].solver)
        continue;
      ml_changes_clear (changes);
      if (!ml_expansion_add_item_fault (dictionary, changes, (int) item, (int) c, 0, &sized))
        return NULL;
      append (key, &sized, sizeof sized);
      append (key, &changes->array->len, sizeof changes->array->len);
      for (guint i = 0; i < changes->array->len; i++)
        append_change (key, &g_array_index (changes->array, MlNodalChange, i), changes->array->len == 1, model->conditions[c].circuit);
    }
  return g_byte_array_free_to_bytes (g_steal_pointer (&key));
}

void
ml_dictionary_find_same (MlDictionary *dictionary)
{
  g_autoptr (GHashTable) first = NULL;
  MlChanges *changes;

  /* Free average currents and what good units tell hang on more than the circuit. */
  if (dictionary->model->n_states > 1 || dictionary->model->carried)
    return;
  first = g_hash_table_new_full (g_bytes_hash, g_bytes_equal, (GDestroyNotify) g_bytes_unref, NULL);
  changes = ml_changes_new ();
  for (guint i = 0; i < dictionary->n_early; i++)
    {
      GBytes *key = key_of (dictionary, i, changes);
      gpointer found;

      if (!key)
        continue;
      if (g_hash_table_lookup_extended (first, key, NULL, &found))
        {
          dictionary->items[i].same = GPOINTER_TO_UINT (found);
          g_bytes_unref (key);
        }
      else
        g_hash_table_insert (first, key, GUINT_TO_POINTER (i));
    }
  ml_changes_free (changes);
}
