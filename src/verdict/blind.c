/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the readings cannot see, and what to beware of. */
#include "verdict/judge-private.h"

#include "board/assume.h"
#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/compare.h"
#include "verdict/good-unit.h"
#include "verdict/remember.h"

#include <math.h>
#include <string.h>

#define MOST_NAMED 10 /* parts in one reason; all of them stand in what the readings cannot tell */

/* Windings of every sort; what moves, or does not. */
static const char *
coil_blindness (const MlPart *part)
{
  const MlAttribute *show = ml_part_attribute (part, ML_KEY_SHOW);

  if (show && g_str_equal (show->text, "motor"))
    return "a few shorted turns, worn brushes and a stiff bearing do not show in d.c. readings: turn it by hand";
  if (show && (g_str_equal (show->text, "heater") || g_str_equal (show->text, "winding")))
    return "a few shorted turns do not show in d.c. readings";
  return "a few shorted turns, or a sticking armature, do not show in d.c. readings: listen for the click";
}

/* What no d.c. reading tells about a kind. Common practice, no source. */
static const char *
d_c_blindness (const MlPart *part)
{
  switch (part->kind->kind)
    {
    case ML_KIND_CAPACITOR: return "an open or weak capacitor, and ripple, do not show in d.c. readings: fit another across it or swap it";
    case ML_KIND_INDUCTOR: return "shorted turns do not show in d.c. readings";
    case ML_KIND_COIL: return coil_blindness (part);
    case ML_KIND_CONVERTER: return "oscillation and ripple do not show in d.c. readings";
    case ML_KIND_BLOCK:
      return part->n_pins > 1 && part->supply_pin < 0
               ? "its insides are unknown, and which pin is its supply: it is thought to drive nothing. Say supply=PIN if it has one"
               : "its insides are unknown: only what it draws and drives is judged";
    default: return NULL;
    }
}

#define UNTOUCHED "no reading taken so far would show a fault here"

static void
add_blind (GArray *blind, int part, char *why)
{
  MlBlind own = { part, why };

  g_array_append_val (blind, own);
}

/* Whether an item moves one of the readings taken, from the first on, by more than twice its spread. */
static gboolean
touches (MlCase *own, guint item, guint first)
{
  guint middle = ml_model_usual (own->dictionary->model), node = own->dictionary->items[item].node;

  for (guint k = first; k < own->taken->len; k++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, k);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
      const MlPrediction *fine = ml_dictionary_predict (own->dictionary, node < own->dictionary->model->n_nodes ? node : middle, taken->place);
      const MlPrediction *faulty = ml_dictionary_predict (own->dictionary, item, taken->place);

      if (fine->valid && faulty->valid && fabs (fine->value - faulty->value) > 2 * ml_case_spread (own, fine, reads))
        return TRUE;
    }
  return FALSE;
}

/* What fewer readings touched stays so. */
const gboolean *
ml_case_touched (MlCase *own)
{
  MlRemembered *remembered = ml_case_remember (own);
  guint first = own->glancing ? own->taken->len : remembered->n_touching;

  for (guint i = 0; i < own->dictionary->n_items && first < own->taken->len; i++)
    {
      const MlHypothesis *hypothesis = ml_dictionary_hypothesis (own->dictionary, i);
      int part = hypothesis->fault.part;

      if (hypothesis->explains == ML_EXPLAINS_FAULT && part >= 0 && !remembered->touched[part])
        remembered->touched[part] = touches (own, i, first);
    }
  if (!own->glancing)
    remembered->n_touching = own->taken->len;
  return remembered->touched;
}

char **
ml_verdict_blind_lines (const MlVerdict *verdict)
{
  GPtrArray *lines = g_ptr_array_new ();

  for (guint i = 0; i < verdict->n_blind; i++)
    {
      g_autoptr (GString) names = g_string_new (NULL);
      gboolean said = FALSE;

      for (guint k = 0; k < verdict->n_blind; k++)
        if (g_str_equal (verdict->blind[k].why, verdict->blind[i].why))
          {
            said |= k < i;
            g_string_append_printf (names, "%s%s", names->len ? ", " : "", verdict->job->board->parts[verdict->blind[k].part].name);
          }
      if (!said)
        g_ptr_array_add (lines, g_strdup_printf ("%s: %s", names->str, verdict->blind[i].why));
    }
  g_ptr_array_add (lines, NULL);
  return (char **) g_ptr_array_free (lines, FALSE);
}

char *
ml_verdict_say_unseen (const MlVerdict *verdict, guint most)
{
  g_autoptr (GString) names = g_string_new (NULL);
  guint n = 0;

  for (guint i = 0; i < verdict->n_blind; i++)
    if (g_str_equal (verdict->blind[i].why, UNTOUCHED) && n++ < most)
      g_string_append_printf (names, "%s%s", names->len ? ", " : "", verdict->job->board->parts[verdict->blind[i].part].name);
  if (n > most)
    g_string_append_printf (names, " and %u more", n - most);
  return n ? g_string_free (g_steal_pointer (&names), FALSE) : NULL;
}

/* That all reads as it should says nothing about what the readings do not touch. */
static void
add_unseen (MlVerdict *verdict)
{
  g_autofree char *names = ml_verdict_say_unseen (verdict, MOST_NAMED);
  char **reasons;
  guint n;

  for (guint i = 0; names && i < verdict->n_explanations; i++)
    if (verdict->explanations[i].explains == ML_EXPLAINS_HEALTHY)
      {
        reasons = verdict->explanations[i].reasons;
        n = g_strv_length (reasons);
        reasons = g_renew (char *, reasons, n + 2);
        reasons[n] = g_strdup_printf ("but no reading so far would show a fault in %s", names);
        reasons[n + 1] = NULL;
        verdict->explanations[i].reasons = reasons;
      }
}

void
ml_verdict_find_blind (MlVerdict *verdict, MlCase *own)
{
  const MlBoard *board = own->job->board;
  GArray *blind = g_array_new (FALSE, FALSE, sizeof (MlBlind));
  const gboolean *touched = ml_case_touched (own);

  for (guint i = 0; i < board->n_parts; i++)
    {
      const MlPart *part = &board->parts[i];
      const char *why = d_c_blindness (part);

      if (part->kind->kind == ML_KIND_CONNECTOR || part->kind->kind == ML_KIND_TESTPOINT)
        continue;
      if (own->dictionary->model->first_device[i] < 0)
        add_blind (blind, i, g_strdup_printf ("a part of kind %s is not computed yet: its faults are not judged", part->kind->word));
      else if (own->dictionary->model->removed[i])
        add_blind (blind, i, g_strdup ("it is removed on this unit"));
      else if (why)
        add_blind (blind, i, g_strdup (why));
      if (own->dictionary->model->first_device[i] >= 0 && own->taken->len && !touched[i])
        add_blind (blind, i, g_strdup (UNTOUCHED));
    }
  verdict->n_blind = blind->len;
  verdict->blind = (MlBlind *) (gpointer) g_array_free (blind, FALSE);
  add_unseen (verdict);
}

/* ---- cautions ---- */

static void
warn_unsolved (MlCase *own, GPtrArray *cautions)
{
  const MlModel *model = own->dictionary->model;
  MlExpansion *healthy = own->dictionary->expansions[ml_model_usual (model)];

  for (guint c = 0; c < model->board->n_conditions; c++)
    if (!ml_expansion_solve (own->dictionary, healthy, c, NULL))
      g_ptr_array_add (cautions, g_strdup_printf ("condition %s could not be computed (%s): its readings count for little",
                                                  model->board->conditions[c].name,
                                                  ml_nodal_status_text (model->conditions[c].solver ? healthy->at[c].status
                                                                                                    : model->conditions[c].status)));
}

static gboolean
was_read_in (const MlCase *own, int condition)
{
  for (guint i = 0; i < own->taken->len; i++)
    if (g_array_index (own->dictionary->places, MlReadingPlace, g_array_index (own->taken, MlTaken, i).place).condition == condition)
      return TRUE;
  return FALSE;
}

static gboolean
says_which_state (const MlBoard *board)
{
  for (guint i = 0; i < board->n_nets; i++)
    if (board->nets[i].prefer)
      return TRUE;
  return FALSE;
}

/* "A high and B low": in which of its states the board is judged in that condition; NULL: as the engine finds it. */
static char *
say_state (const MlModel *model, guint c)
{
  g_autoptr (GString) words = g_string_new (NULL);

  for (guint i = 0; model->preferred && i < model->preferred->len; i++)
    {
      const MlPreferred *one = &g_array_index (model->preferred, MlPreferred, i);

      if (one->condition == (int) c)
        g_string_append_printf (words, "%s%s %s", words->len ? " and " : "", model->board->nets[one->net].words, one->high > 0 ? "high" : "low");
    }
  return words->len ? g_string_free (g_steal_pointer (&words), FALSE) : NULL;
}

/* A sound board in its other state reads like a faulty one. */
static void
warn_ambiguous (const MlCase *own, GPtrArray *cautions)
{
  const MlModel *model = own->dictionary->model;
  const MlExpansion *healthy = own->dictionary->expansions[ml_model_usual (model)];

  for (guint c = 0; c < model->board->n_conditions && !says_which_state (model->board); c++)
    if (healthy->state[c] == 1 && healthy->at[c].status == ML_NODAL_AMBIGUOUS && was_read_in (own, (int) c))
      {
        g_autofree char *taken = say_state (model, c);

        g_ptr_array_add (cautions, g_strdup_printf ("in condition %s the board as drawn can rest in more than one state (a flip-flop, a latch, a relay that holds "
                                                    "itself), and is judged in %s%s: in the other it reads otherwise without a fault. "
                                                    "“prefer NET high” or “low” in the board file says which is meant",
                                                    model->board->conditions[c].name, taken ? "the one nearest to the readings, with " : "one of them",
                                                    taken ? taken : ""));
      }
}

static void
warn_voltage (MlCase *own, GPtrArray *cautions)
{
  const MlModel *model = own->dictionary->model;
  const MlExpansion *healthy = own->dictionary->expansions[ml_model_usual (model)];
  double most = ml_assumption ("next.unsafe-volts");
  g_autofree char *limit = ml_say_quantity (most, ML_UNIT_VOLT);

  for (guint c = 0; c < model->board->n_conditions; c++)
    for (guint i = 0; healthy->state[c] == 1 && i < model->board->n_nets; i++)
      {
        int net = model->conditions[c].net_of[i];
        if (!healthy->at[c].floating[net] && fabs (healthy->at[c].net_v[net]) > most)
          {
            g_ptr_array_add (cautions, g_strdup_printf ("more than %s d.c. on %s in condition %s: dangerous to touch",
                                                        limit, model->board->nets[i].words, model->board->conditions[c].name));
            break;
          }
      }
}

static gint
by_name (gconstpointer a, gconstpointer b)
{
  return strcmp (a, b);
}

void
ml_verdict_say_assumed (const MlBoard *board, GPtrArray *cautions)
{
  g_autoptr (GHashTable) own = ml_board_assumptions (board);
  GList *names = g_list_sort (g_hash_table_get_keys (own), by_name);

  for (GList *at = names; at; at = at->next)
    {
      char value[G_ASCII_DTOSTR_BUF_SIZE], usual[G_ASCII_DTOSTR_BUF_SIZE];

      g_ascii_formatd (value, sizeof value, "%.6g", *(double *) g_hash_table_lookup (own, at->data));
      g_ascii_formatd (usual, sizeof usual, "%.6g", ml_assumption_usual (at->data));
      g_ptr_array_add (cautions, g_strdup_printf ("the board file assumes %s = %s in place of the usual %s", (const char *) at->data, value, usual));
    }
  g_list_free (names);
}

static gboolean
is_fault_likely (const MlVerdict *verdict)
{
  const MlExplanation *first = verdict->n_explanations ? &verdict->explanations[0] : NULL;

  return first && first->explains == ML_EXPLAINS_FAULT && first->probability >= ml_assumption ("word.likeliest");
}

/* One for all of them: a coil between two of them makes it two nets at once. */
static void
warn_chopped (const MlCase *own, GPtrArray *cautions)
{
  const MlBoard *board = own->job->board;
  const MlChopped *chopped = own->dictionary->model->chopped;
  g_autoptr (GString) names = g_string_new (NULL);
  guint n = 0, left = 0;

  for (guint i = 0; i < board->n_nets; i++)
    left += chopped->nets[i] || chopped->moved[i];
  for (guint i = 0; i < board->n_nets; i++)
    if (chopped->nets[i] || chopped->moved[i])
      g_string_append_printf (names, "%s%s", n++ == 0 ? "" : n == left ? " and " : ", ", board->nets[i].words);
  if (n)
    g_ptr_array_add (cautions, g_strdup_printf (n == 1 ? "%s is switched: its reading is only an average and weighs little"
                                                       : "%s are switched: their readings are only averages and weigh little", names->str));
}

static gboolean
has_suspects (const MlVerdict *verdict)
{
  for (guint i = 0; i < verdict->n_parts; i++)
    if (verdict->parts[i].verdict == ML_VERDICT_SUSPECT)
      return TRUE;
  return FALSE;
}

void
ml_verdict_find_cautions (MlVerdict *verdict, MlCase *own)
{
  const MlBoard *board = own->job->board;
  GPtrArray *cautions = g_ptr_array_new ();

  for (guint i = 0; i < board->n_hazards; i++)
    g_ptr_array_add (cautions, g_strdup_printf ("%s: %s", board->hazards[i].what, board->hazards[i].text ? board->hazards[i].text : ""));
  warn_voltage (own, cautions);
  warn_unsolved (own, cautions);
  warn_ambiguous (own, cautions);
  ml_verdict_warn_cold (own, cautions);
  ml_verdict_say_assumed (board, cautions);
  if (own->goods)
    ml_good_units_warn (own->goods, cautions);
  warn_chopped (own, cautions);
  /* What differs says where to look while nothing better does: most of it only follows from the fault. */
  if (own->goods && own->goods->len && !has_suspects (verdict) && !is_fault_likely (verdict))
    {
      char *compared;
      verdict->compared = ml_case_compare (own, &verdict->n_compared);
      compared = ml_case_say_compared (own, verdict->compared, verdict->n_compared);
      if (compared)
        g_ptr_array_add (cautions, compared);
    }
  g_ptr_array_add (cautions, NULL);
  verdict->cautions = (char **) g_ptr_array_free (cautions, FALSE);
}
