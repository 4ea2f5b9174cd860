/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two transistors whose emitters (sources) meet at a tail: the difference of two inputs. Drawn face to face, the right one mirrored:
 *
 *       |        |      loads
 *     ( T1      T2 )
 *       +---+----+
 *           R           tail
 *
 * Of the other polarity the same upside down. */
#include "drawing/layout-idioms.h"

#define COLLECTOR_PIN 0
#define BASE_PIN 1
#define EMITTER_PIN 2
#define TRANSISTOR 4    /* g from collector to emitter */
#define GAP 2

typedef struct
{
  int transistor[2];
  int load[2]; /* from a collector to the rail on its side; -1: none */
  int tail;    /* -1: none, or something else than a resistor */
  int joint;   /* the net where the emitters meet */
  gboolean below; /* the tail hangs below: npn, nmos */
} Tailed;

static gboolean
is_candidate (const MlFinder *finder, int i)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);

  return !finder->used[i] && piece->part_kind >= ML_KIND_NPN && piece->part_kind <= ML_KIND_PMOS && piece->n_pins == 3
         && ml_idiom_signal (finder, piece->pins[EMITTER_PIN].net) && piece->pins[BASE_PIN].net >= 0 && piece->pins[COLLECTOR_PIN].net >= 0
         && piece->pins[COLLECTOR_PIN].net != piece->pins[BASE_PIN].net && piece->pins[COLLECTOR_PIN].net != piece->pins[EMITTER_PIN].net;
}

/* The one resistor from a net to a rail above or below; -1 when there is none, or several. */
static int
resistor_to_rail (const MlFinder *finder, int net, gboolean below)
{
  int piece, pin, found = -1;
  guint k, n = 0;

  for (k = 0; k < ml_idiom_n_at (finder, net); k++)
    {
      int other;
      if (!ml_idiom_at (finder, net, k, &piece, &pin) || ml_idiom_kind (finder, piece) != ML_KIND_RESISTOR || !ml_idiom_two (finder, piece))
        continue;
      other = ml_idiom_other (finder, piece, net);
      if (!(below ? ml_idiom_down (finder, other) : ml_idiom_up (finder, other)))
        continue;
      found = piece;
      n++;
    }
  return n == 1 ? found : -1;
}

/* A transistor that switches a load, or one that drives the other: no difference is taken there. */
static gboolean
switches_or_drives (const MlFinder *finder, int collector, int base)
{
  guint k;

  for (k = 0; ml_idiom_signal (finder, collector) && k < ml_idiom_n_at (finder, collector); k++)
    {
      const MlCircuitPart *part = &finder->circuit->parts[finder->circuit->nets[collector].joints[k].part];
      if (part->kind == ML_KIND_COIL || part->kind == ML_KIND_DIODE || part->kind == ML_KIND_LAMP || part->kind == ML_KIND_LED)
        return TRUE;
      if (part->two_terminal && ml_circuit_other (part, collector) == base)
        return TRUE;
    }
  return collector == base;
}

/* The joint carries nothing but the two and what feeds them: a resistor, or one collector. */
static gboolean
is_tailed (const MlFinder *finder, int a, int b, Tailed *ret_tailed)
{
  const MlPiece *first = ml_idiom_piece (finder, a), *second = ml_idiom_piece (finder, b);
  Tailed tailed = { { a, b }, { -1, -1 }, -1, first->pins[EMITTER_PIN].net, first->part_kind == ML_KIND_NPN || first->part_kind == ML_KIND_NMOS };
  int k;

  if (first->part_kind != second->part_kind || second->pins[EMITTER_PIN].net != tailed.joint || ml_idiom_n_at (finder, tailed.joint) != 3
      || first->pins[BASE_PIN].net == second->pins[BASE_PIN].net || first->pins[COLLECTOR_PIN].net == second->pins[COLLECTOR_PIN].net)
    return FALSE;
  for (k = 0; k < 2; k++)
    if (switches_or_drives (finder, ml_idiom_net (finder, tailed.transistor[k], COLLECTOR_PIN),
                            ml_idiom_net (finder, tailed.transistor[1 - k], BASE_PIN)))
      return FALSE;
  tailed.tail = resistor_to_rail (finder, tailed.joint, tailed.below);
  for (k = 0; k < 2; k++)
    if (ml_idiom_signal (finder, ml_idiom_net (finder, tailed.transistor[k], COLLECTOR_PIN)))
      tailed.load[k] = resistor_to_rail (finder, ml_idiom_net (finder, tailed.transistor[k], COLLECTOR_PIN), !tailed.below);
  *ret_tailed = tailed;
  return TRUE;
}

/* Base left (or right when mirrored), emitter towards the tail. */
static MlForm *
facing (const MlFinder *finder, int i, gboolean below, gboolean mirror)
{
  const MlPiece *piece = ml_idiom_piece (finder, i);
  guint k;

  for (k = 0; k < piece->forms->len; k++)
    {
      MlForm *form = g_ptr_array_index (piece->forms, k);
      if (form->pins[BASE_PIN].side == (mirror ? ML_SIDE_RIGHT : ML_SIDE_LEFT)
          && form->pins[EMITTER_PIN].side == (below ? ML_SIDE_DOWN : ML_SIDE_UP))
        return form;
    }
  return NULL;
}

static void
put_resistor (MlFinder *finder, MlMemberList *list, int piece, int net, gboolean net_above, int x, int y)
{
  MlForm *form = piece < 0 ? NULL : ml_idiom_hanging_from (finder, piece, net, net_above);

  if (form != NULL)
    ml_idiom_put (finder, list, piece, form, ml_idiom_pin_on (finder, piece, net), x, y);
}

/* The first stands left, or right: what comes in decides. */
static MlMemberList *
tailed_list (MlFinder *finder, const Tailed *tailed, gboolean first_left)
{
  MlMemberList *list = ml_idiom_list ();
  int wide = ml_idiom_label_w (finder, tailed->transistor[0]) + ml_idiom_label_w (finder, tailed->transistor[1]) + 2 * GAP, k;

  for (k = 0; k < 2; k++)
    wide = tailed->load[k] < 0 ? wide : MAX (wide, ml_idiom_label_w (finder, tailed->load[k]) + 2 * GAP);
  wide += wide & 1;
  for (k = 0; k < 2; k++)
    {
      gboolean right = (k == 0) != first_left;
      int x = right ? wide : 0;
      ml_idiom_put (finder, list, tailed->transistor[k], facing (finder, tailed->transistor[k], tailed->below, right), COLLECTOR_PIN, x,
                    tailed->below ? 0 : TRANSISTOR);
      put_resistor (finder, list, tailed->load[k], ml_idiom_net (finder, tailed->transistor[k], COLLECTOR_PIN), !tailed->below, x,
                    tailed->below ? -GAP : TRANSISTOR + GAP);
    }
  put_resistor (finder, list, tailed->tail, tailed->joint, tailed->below, wide / 2, tailed->below ? TRANSISTOR + GAP : -GAP);
  return list;
}

void
ml_idiom_find_tailed (MlFinder *finder)
{
  Tailed tailed;
  guint a, b, n = finder->kit->plain->len;

  for (a = 0; a < n; a++)
    for (b = a + 1; b < n && is_candidate (finder, (int) a); b++)
      if (is_candidate (finder, (int) b) && is_tailed (finder, (int) a, (int) b, &tailed)
          && facing (finder, (int) a, tailed.below, TRUE) != NULL && facing (finder, (int) b, tailed.below, TRUE) != NULL
          && facing (finder, (int) a, tailed.below, FALSE) != NULL && facing (finder, (int) b, tailed.below, FALSE) != NULL)
        {
          MlMemberList *list = tailed_list (finder, &tailed, TRUE);
          ml_idiom_keep (ml_idiom_add (finder, list, tailed_list (finder, &tailed, FALSE), FALSE, 0));
        }
}
