/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Strings alike, each from one rail to a pin of one chip: lamps in a row, under one bar or over one sign, in the order of the chip's pins.
 *
 *     --+----+----+----+--
 *       R    R    R    R
 *       V    V    V    V
 *       |    |    |    |   to the chip
 */
#include "drawing/layout-idioms.h"

#define FEWEST 4
#define MOST_IN_A_ROW 8
#define LONGEST 4 /* parts */
#define STRING_PITCH 5

typedef struct
{
  int parts[LONGEST], nets[LONGEST + 1]; /* from the rail on */
  guint n;
  int chip, pin; /* circuit's part and pin at its end */
} String;

static gboolean
lights (MlKind kind)
{
  return kind == ML_KIND_LED || kind == ML_KIND_LAMP;
}

/* The other joint of a net of two; FALSE for others. */
static gboolean
joint_behind (const MlFinder *finder, int net, int piece, MlCircuitJoint *ret_joint)
{
  guint k;

  if (!ml_idiom_signal (finder, net) || ml_idiom_n_at (finder, net) != 2)
    return FALSE;
  for (k = 0; k < 2; k++)
    {
      MlCircuitJoint joint = finder->circuit->nets[net].joints[k];
      if (finder->kit->plain_of_part[joint.part] != piece)
        {
          *ret_joint = joint;
          return TRUE;
        }
    }
  return FALSE;
}

/* Resistors and lamps one after the other to a chip's pin. */
static gboolean
follow (const MlFinder *finder, int rail, int first, String *string)
{
  MlCircuitJoint joint;
  gboolean any = FALSE;
  int piece = first;

  string->n = 0;
  string->nets[0] = rail;
  while (string->n < LONGEST && !finder->used[piece] && ml_idiom_two (finder, piece)
         && (lights (ml_idiom_kind (finder, piece)) || ml_idiom_kind (finder, piece) == ML_KIND_RESISTOR))
    {
      any |= lights (ml_idiom_kind (finder, piece));
      string->parts[string->n++] = piece;
      string->nets[string->n] = ml_idiom_other (finder, piece, string->nets[string->n - 1]);
      if (!joint_behind (finder, string->nets[string->n], piece, &joint))
        return FALSE;
      if (finder->circuit->parts[joint.part].kind == ML_KIND_BLOCK)
        {
          string->chip = joint.part;
          string->pin = joint.pin;
          return any;
        }
      piece = finder->kit->plain_of_part[joint.part];
    }
  return FALSE;
}

static gboolean
are_alike (const MlFinder *finder, const String *a, const String *b)
{
  guint k;

  for (k = 0; k < a->n && a->n == b->n; k++)
    if (ml_idiom_kind (finder, a->parts[k]) != ml_idiom_kind (finder, b->parts[k]))
      return FALSE;
  return a->n == b->n && a->chip == b->chip;
}

/* As the chip's pins follow each other in the file. */
static int
by_pin (gconstpointer a, gconstpointer b, gpointer data)
{
  const MlCircuit *circuit = data;
  const String *p = a, *q = b;

  return circuit->parts[p->chip].pins[p->pin].pin - circuit->parts[q->chip].pins[q->pin].pin;
}

static void
add_row (MlFinder *finder, const String *strings, guint n, gboolean hangs)
{
  MlMemberList *list = ml_idiom_list ();
  int pitch = 0;
  guint i, k;

  for (i = 0; i < n; i++)
    for (k = 0; k < strings[i].n; k++)
      pitch = MAX (pitch, ml_idiom_label_w (finder, strings[i].parts[k]) + 3);
  for (i = 0; i < n; i++)
    for (k = 0; k < strings[i].n; k++)
      {
        int piece = strings[i].parts[k], net = strings[i].nets[k];
        MlForm *form = ml_idiom_hanging_from (finder, piece, net, hangs);
        if (form != NULL)
          ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net), (int) i * pitch, (hangs ? 1 : -1) * STRING_PITCH * (int) k);
      }
  ml_idiom_keep (ml_idiom_add (finder, list, NULL, FALSE, 0));
}

static void
find_row (MlFinder *finder, int rail, GArray *strings)
{
  GArray *alike = g_array_new (FALSE, FALSE, sizeof (String));
  guint i, at, rows;

  for (i = 0; i < strings->len;)
    if (are_alike (finder, &g_array_index (strings, String, i), &g_array_index (strings, String, 0)) || i == 0)
      {
        g_array_append_val (alike, g_array_index (strings, String, i));
        if (i > 0)
          g_array_remove_index (strings, i);
        else
          i++;
      }
    else
      i++;
  g_array_remove_index (strings, 0);
  g_array_sort_with_data (alike, by_pin, (gpointer) finder->circuit);
  rows = (alike->len + MOST_IN_A_ROW - 1) / MOST_IN_A_ROW;
  for (at = 0; alike->len - at >= FEWEST; rows--)
    {
      guint n = (alike->len - at + rows - 1) / rows;
      add_row (finder, &g_array_index (alike, String, at), n, ml_idiom_up (finder, rail));
      at += n;
    }
  g_array_unref (alike);
}

void
ml_idiom_find_combs (MlFinder *finder)
{
  guint net, k;

  for (net = 0; net < finder->circuit->n_nets; net++)
    {
      GArray *strings;
      if (ml_idiom_signal (finder, (int) net))
        continue;
      strings = g_array_new (FALSE, FALSE, sizeof (String));
      for (k = 0; k < ml_idiom_n_at (finder, (int) net); k++)
        {
          String string;
          int piece, pin;
          if (ml_idiom_at (finder, (int) net, k, &piece, &pin) && follow (finder, (int) net, piece, &string))
            g_array_append_val (strings, string);
        }
      while (strings->len > 0)
        find_row (finder, (int) net, strings);
      g_array_unref (strings);
    }
}
