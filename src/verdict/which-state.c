/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A flip-flop, a latch, a relay that holds itself: the sound board rests in one of several states, and only the readings tell in which. The board as drawn
 * is solved with every net that was read preferred high, then low; the state in which it is nearest to the readings is the one that everything
 * else is then judged in. */
#include "verdict/which-state.h"

#include "verdict/assumptions.h"
#include "verdict/expansion-private.h"

#include <math.h>
#include <string.h>

#define MOST_PREFERRED 4 /* per condition: as many circuits with two states of their own */
#define APART_V 0.1      /* a net that tells two states apart moves by more */
#define SAME_NATS 0.5    /* what is no nearer than this is the same state */

typedef struct { gboolean solved, several; double *net_v; } Rest; /* per net of the board, NAN where it floats */

struct _MlWhichState
{
  MlModel *model;     /* its circuits are ours alone: what is preferred in them comes and goes */
  gboolean asked;     /* the board file says which */
  GHashTable *rests;  /* Rest by "condition net±net±" */
};

static void
free_rest (gpointer data)
{
  Rest *rest = data;

  g_free (rest->net_v);
  g_free (rest);
}

MlWhichState *
ml_which_state_new (MlBoard *board)
{
  MlWhichState *own = g_new0 (MlWhichState, 1);

  own->model = ml_model_new (board, NULL);
  own->rests = g_hash_table_new_full (g_str_hash, g_str_equal, g_free, free_rest);
  for (guint i = 0; i < board->n_nets; i++)
    own->asked |= board->nets[i].prefer != 0;
  return own;
}

void
ml_which_state_free (MlWhichState *own)
{
  if (!own)
    return;
  ml_model_free (own->model);
  g_hash_table_unref (own->rests);
  g_free (own);
}

/* ---- the sound board at rest ---- */

static void
prefer (const MlModelCondition *condition, const GArray *preferred, int c, gboolean on)
{
  for (guint i = 0; i < preferred->len; i++)
    {
      const MlPreferred *one = &g_array_index (preferred, MlPreferred, i);

      if (one->condition == c)
        ml_nodal_circuit_prefer (condition->circuit, condition->net_of[one->net], on ? one->high : 0);
    }
}

static Rest *
solve_rest (MlWhichState *own, MlDictionary *base, int c, const GArray *preferred)
{
  MlModelCondition *condition = &own->model->conditions[c];
  MlChanges *changes = ml_changes_new ();
  Rest *rest = g_new0 (Rest, 1);
  MlNodalSolution at;
  int sized[2];

  if (!condition->solver || !ml_expansion_list_changes (base, changes, base->expansions[ml_model_usual (base->model)], c, sized))
    {
      ml_changes_free (changes);
      return rest;
    }
  if (ml_nodal_solution_init (&at, condition->circuit) != ML_NODAL_OK)
    g_error ("out of memory"); /* as g_malloc does */
  prefer (condition, preferred, c, TRUE);
  if (ml_nodal_solve_patiently (condition->solver, (const MlNodalChange *) (gpointer) changes->array->data, (int) changes->array->len, NULL, &at) >= 0)
    {
      if (ml_nodal_seek_states (condition->solver, (const MlNodalChange *) (gpointer) changes->array->data, (int) changes->array->len, &at)
          == ML_NODAL_NO_MEMORY)
        g_error ("out of memory"); /* as g_malloc does */
      rest->solved = TRUE;
      rest->several = at.status == ML_NODAL_AMBIGUOUS;
      rest->net_v = g_new (double, MAX (own->model->board->n_nets, 1));
      for (guint i = 0; i < own->model->board->n_nets; i++)
        rest->net_v[i] = at.floating[condition->net_of[i]] ? NAN : at.net_v[condition->net_of[i]];
    }
  prefer (condition, preferred, c, FALSE);
  ml_nodal_solution_clear (&at);
  ml_changes_free (changes);
  return rest;
}

/* NULL: not known and not to be solved. */
static const Rest *
rest_with (MlWhichState *own, MlDictionary *base, int c, const GArray *preferred, gboolean may_solve)
{
  g_autoptr (GString) key = g_string_new (NULL);
  Rest *rest;

  g_string_printf (key, "%d", c);
  for (guint i = 0; i < preferred->len; i++)
    if (g_array_index (preferred, MlPreferred, i).condition == c)
      g_string_append_printf (key, " %d%c", g_array_index (preferred, MlPreferred, i).net, g_array_index (preferred, MlPreferred, i).high > 0 ? '+' : '-');
  rest = g_hash_table_lookup (own->rests, key->str);
  if (!rest && may_solve)
    {
      rest = solve_rest (own, base, c, preferred);
      g_hash_table_insert (own->rests, g_strdup (key->str), rest);
    }
  return rest;
}

/* ---- against the readings ---- */

static int
net_of_probe (const MlBoard *board, const MlProbe *probe)
{
  return probe->part >= 0 && probe->pin >= 0 ? board->parts[probe->part].pins[probe->pin].net : probe->net;
}

/* The reading of that index when it is a voltage between two nets in that condition, taken of that unit in that pass. */
static gboolean
is_voltage (const MlJob *job, guint i, int unit, guint pass, int c, int ret_net[2])
{
  const MlReading *reading = &job->readings[i];

  if (reading->unit != unit || reading->pass != pass || reading->replaced || reading->condition != c || reading->reads != ML_READS_VOLTS
      || reading->measured.over || !isfinite (reading->measured.value))
    return FALSE;
  ret_net[0] = net_of_probe (job->board, &reading->red);
  ret_net[1] = net_of_probe (job->board, &reading->black);
  return ret_net[0] >= 0 && ret_net[1] >= 0;
}

/* ln of how well that state goes with the readings, by a rough look: no reading may cost more than rough.most, so that a fault hides nothing. */
static double
rough_ln (const Rest *rest, const MlJob *job, int unit, guint pass, int c)
{
  const double most = ml_assumption ("rough.most"), volts = ml_assumption ("misread.screen-volts"), share = ml_assumption ("misread.screen-share");
  double sum = 0;
  int net[2];

  for (guint i = 0; i < job->n_readings; i++)
    if (is_voltage (job, i, unit, pass, c, net))
      {
        double measured = job->readings[i].measured.value, off = measured - (rest->net_v[net[0]] - rest->net_v[net[1]]);

        sum -= isfinite (off) ? MIN (most, off * off / (2 * (volts * volts + share * share * measured * measured))) : ml_assumption ("rough.unknown");
      }
  return sum;
}

/* By how much that net lies where it is preferred, rather than where it was; 0 or less: it is none of those that tell the states apart. */
static double
moved (const Rest *from, const Rest *to, const MlPreferred *one)
{
  double by = one->high * (to->net_v[one->net] - from->net_v[one->net]);

  return by > APART_V ? by : 0;
}

typedef struct
{
  MlWhichState *own;
  MlDictionary *base;
  const MlJob *job;
  int unit;
  guint pass;
  int condition;
  gboolean may_solve; /* else only nets are preferred that were before: nearly always the same */
  gboolean known;     /* FALSE: it cannot be said without solving */
} Search;

/* With one more net preferred, whether that brings the sound board nearer to the readings than `least`, or as near with a net that moves by more. */
static void
try_preferred (Search *search, GArray *preferred, const MlPreferred *one, const Rest *from, double *least, double *most_moved, MlPreferred *best)
{
  const Rest *rest;
  double ln, by;

  g_array_append_val (preferred, *one);
  rest = rest_with (search->own, search->base, search->condition, preferred, search->may_solve);
  g_array_set_size (preferred, preferred->len - 1);
  if (!rest || !rest->solved)
    return;
  ln = rough_ln (rest, search->job, search->unit, search->pass, search->condition);
  by = moved (from, rest, one);
  if (!(by > 0) || ln < *least || (ln < *least + SAME_NATS && by <= *most_moved))
    return;
  *least = ln;
  *most_moved = by;
  *best = *one;
}

/* One more net preferred, if that brings the sound board nearer to the readings; FALSE: none. */
static gboolean
prefer_another (Search *search, GArray *preferred)
{
  const MlJob *job = search->job;
  const Rest *from = rest_with (search->own, search->base, search->condition, preferred, search->may_solve);
  g_autofree gboolean *seen = g_new0 (gboolean, MAX (job->board->n_nets, 1));
  MlPreferred best = { .condition = -1 };
  double least, most_moved = 0;
  int net[2];

  search->known = from != NULL;
  if (!from || !from->solved || !from->several)
    return FALSE;
  least = rough_ln (from, job, search->unit, search->pass, search->condition) + ml_assumption ("states.nats");
  for (guint i = 0; i < job->n_readings && least < 0; i++)
    for (guint k = 0; k < 2 && is_voltage (job, i, search->unit, search->pass, search->condition, net); k++)
      for (int high = 1; high >= -1 && !seen[net[k]]; high -= 2)
        {
          const MlPreferred one = { search->condition, net[k], high };

          if (search->own->model->conditions[search->condition].net_of[net[k]] > 0)
            try_preferred (search, preferred, &one, from, &least, &most_moved, &best);
          seen[net[k]] = high < 0;
        }
  if (best.condition >= 0)
    g_array_append_val (preferred, best);
  return best.condition >= 0;
}

gboolean
ml_which_state_find (MlWhichState *own, MlDictionary *base, const MlJob *job, int unit, guint pass, gboolean may_solve, GArray **ret_preferred)
{
  GArray *preferred = g_array_new (FALSE, FALSE, sizeof (MlPreferred));
  Search search = { own, base, job, unit, pass, 0, may_solve, TRUE };
  int net[2];

  for (; search.condition < (int) job->board->n_conditions && search.known && !own->asked; search.condition++)
    {
      gboolean read = FALSE;

      for (guint i = 0; i < job->n_readings && !read; i++)
        read = is_voltage (job, i, unit, pass, search.condition, net);
      if (may_solve) /* also where nothing was read so far: the next reading's glance asks */
        rest_with (own, base, search.condition, preferred, TRUE);
      for (guint n = 0; n < MOST_PREFERRED && read && prefer_another (&search, preferred); n++)
        ;
    }
  if (!search.known || !preferred->len)
    g_clear_pointer (&preferred, g_array_unref);
  if (search.known)
    *ret_preferred = preferred;
  return search.known;
}
