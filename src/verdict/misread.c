/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Naming slips of the person. Under each leading state of affairs every reading has a mean and a spread given all other readings; the
 * measured value is held against that, and against what swapped probes, a lost or added m, another pin or another condition would have
 * given. One further reading that is far off is let go meanwhile, so that two slips in one job do not hide each other. */
#include "verdict/misread-private.h"

#include "verdict/assumptions.h"

#include <math.h>
#include <string.h>

#define MOST_LEADERS 24

static const MlSlip slip_of[N_TERMS] = { ML_SLIP_SWAPPED, ML_SLIP_THOUSANDFOLD, ML_SLIP_WRONG_PIN, ML_SLIP_WRONG_CONDITION, ML_SLIP_UNCLEAR };

typedef struct { guint item; double weight; } Leader;

typedef struct
{
  MlCase *own;
  Leader leaders[MOST_LEADERS];
  guint n_leaders;
  gboolean *let_go; /* [taken]: already found to be a slip */
} Search;

/* ---- which readings to look at ---- */

typedef struct { double *a, *inverse; } Inverse; /* C^-1 d, C^-1 */

static void
invert (const Given *given, Inverse *ret)
{
  guint n = given->n;
  g_autofree double *unit = g_new0 (double, MAX (n, 1));

  ret->a = given->evidence.a;
  ret->inverse = g_new0 (double, MAX (n * n, 1));
  for (guint i = 0; i < n; i++)
    {
      unit[i] = 1;
      ml_evidence_solve (&given->evidence, unit, ret->inverse + i * n);
      unit[i] = 0;
    }
}

/* How far reading j is off, in standard deviations, given all others but r (r < 0: given all others). */
static double
off_without (const Inverse *inverse, guint n, int r, guint j)
{
  double a = inverse->a[j], v = inverse->inverse[j * n + j];

  if (r >= 0)
    {
      double c = inverse->inverse[j * n + (guint) r], v_r = inverse->inverse[(guint) r * n + (guint) r];
      a -= c * inverse->a[r] / v_r;
      v -= c * c / v_r;
    }
  return v > 0 ? fabs (a) / sqrt (v) : 0;
}

/* The reading furthest off beside r, if it is far enough off to be let go: index among the given, or -1. */
static int
worst_beside (const Inverse *inverse, guint n, guint r)
{
  double most = ml_assumption ("misread.let-go-sigma");
  int found = -1;

  for (guint j = 0; j < n; j++)
    if (j != r && off_without (inverse, n, (int) r, j) > most)
      {
        most = off_without (inverse, n, (int) r, j);
        found = (int) j;
      }
  return found;
}

/* An opinion on every reading that looks off in this state of affairs; opinions[taken], odds 0 where nothing is to say. */
static void
look_at_leader (Search *search, guint item, Opinion *opinions)
{
  const double look_sigma = ml_assumption ("misread.look-sigma");
  Given all;
  Inverse inverse;

  if (!ml_given_init (&all, search->own, search->let_go, item, -1, -1))
    return;
  invert (&all, &inverse);
  for (guint i = 0; i < all.n; i++)
    {
      guint r = all.which[i];
      int beside = worst_beside (&inverse, all.n, i);
      Given given;

      /* Off by itself, or off once the other one is let go. */
      if (g_array_index (search->own->taken, MlTaken, r).shown
          || MAX (off_without (&inverse, all.n, -1, i), beside >= 0 ? off_without (&inverse, all.n, beside, i) : 0) < look_sigma
          || !ml_given_init (&given, search->own, search->let_go, item, (int) r, beside >= 0 ? (int) all.which[beside] : -1))
        continue;
      ml_opinion_form (&given, r, &opinions[r]);
      ml_given_clear (&given);
    }
  g_free (inverse.inverse);
  ml_given_clear (&all);
}

/* ---- the leaders ---- */

static void
find_leaders (Search *search)
{
  MlCase *own = search->own;
  guint most = MIN ((guint) ml_assumption ("misread.leaders"), MOST_LEADERS);
  double total = 0;

  search->n_leaders = 0;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      guint at = search->n_leaders;

      if (ml_case_same_as_twin (own, i) || !(own->probability[i] > 0))
        continue;
      while (at > 0 && own->probability[i] > search->leaders[at - 1].weight)
        at--;
      if (at >= most)
        continue;
      memmove (search->leaders + at + 1, search->leaders + at, (MIN (search->n_leaders, most - 1) - at) * sizeof (Leader));
      search->leaders[at] = (Leader){ i, own->probability[i] };
      search->n_leaders = MIN (search->n_leaders + 1, most);
    }
  for (guint i = 0; i < search->n_leaders; i++)
    total += search->leaders[i].weight;
  for (guint i = 0; i < search->n_leaders && total > 0; i++)
    search->leaders[i].weight /= total;
}

/* ---- naming ---- */

static void
merge_opinion (MlMisread *own, Opinion *sum, const Opinion *opinion, double weight)
{
  double slip = opinion->odds / (1 + opinion->odds);

  own->probability += weight * slip;
  if (!(opinion->density > 0))
    return;
  for (guint t = 0; t < N_TERMS; t++)
    sum->term[t] += weight * slip * opinion->term[t] / opinion->density;
  if (weight * slip > sum->density) /* the leader that speaks loudest gives value, pin and condition */
    {
      sum->density = weight * slip;
      sum->mean = opinion->mean;
      sum->at = opinion->at;
      sum->at_black = opinion->at_black;
      sum->condition = opinion->condition;
    }
}

static void
name_slip (MlMisread *own, const Opinion *sum)
{
  Term best = TERM_UNCLEAR;

  for (guint t = 0; t < N_TERMS; t++)
    if (sum->term[t] > sum->term[best])
      best = t;
  if (sum->term[best] < ml_assumption ("misread.name") * own->probability)
    best = TERM_UNCLEAR;
  own->slip = slip_of[best];
  own->fitting = sum->mean;
  own->at = best == TERM_PIN ? sum->at : (MlProbe){ -1, -1, -1, FALSE };
  own->at_black = best == TERM_PIN && sum->at_black;
  own->condition = best == TERM_CONDITION ? sum->condition : -1;
}

static gboolean
is_beyond_supplies (const MlCase *own, guint taken, double fitting)
{
  const MlReading *reading = &own->job->readings[g_array_index (own->taken, MlTaken, taken).reading];

  return reading->reads == ML_READS_VOLTS && fabs (fitting) > own->dictionary->model->conditions[reading->condition].span_v;
}

/* The strongest slip among the readings not yet let go; FALSE when none is likelier than not. */
static gboolean
find_strongest (Search *search)
{
  MlCase *own = search->own;
  guint n = own->taken->len, best = 0;
  g_autofree Opinion *opinions = g_new (Opinion, n);
  g_autofree Opinion *sums = g_new0 (Opinion, n);
  g_autofree MlMisread *found = g_new0 (MlMisread, n);

  for (guint l = 0; l < search->n_leaders; l++)
    {
      memset (opinions, 0, n * sizeof *opinions);
      look_at_leader (search, search->leaders[l].item, opinions);
      for (guint r = 0; r < n; r++)
        merge_opinion (&found[r], &sums[r], &opinions[r], search->leaders[l].weight);
    }
  for (guint r = 1; r < n; r++)
    if (found[r].probability > found[best].probability)
      best = r;
  for (guint r = 0; r < n; r++)
    own->misread[r].probability = MAX (own->misread[r].probability, found[r].probability);
  if (!(found[best].probability > ml_assumption ("misread.flag")))
    return FALSE;
  name_slip (&found[best], &sums[best]);
  search->let_go[best] = TRUE;
  if (is_beyond_supplies (own, best, found[best].fitting)) /* from a fit bent to it no straight line leads back so far */
    found[best].fitting = ml_case_fit_without (own, search->leaders[0].item, search->let_go, best);
  own->misread[best] = found[best];
  return TRUE;
}

gboolean
ml_case_misread (MlCase *own, GCancellable *cancellable, GError **error)
{
  guint n = own->taken->len, most = MAX (n / 3, 1);
  g_autofree gboolean *let_go = g_new0 (gboolean, MAX (n, 1));
  Search search = { .own = own, .let_go = let_go };

  if (n < 2)
    return TRUE;
  find_leaders (&search);
  for (guint i = 0; i < most; i++)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (!find_strongest (&search))
        break;
    }
  return TRUE;
}

gboolean
ml_slip_leaves_mark (MlSlip slip)
{
  return slip == ML_SLIP_SWAPPED || slip == ML_SLIP_THOUSANDFOLD || slip == ML_SLIP_WRONG_CONDITION;
}

double *
ml_case_doubts (const MlCase *own)
{
  double *extra = g_new0 (double, MAX (own->taken->len, 1));

  for (guint i = 0; i < own->taken->len; i++)
    if (own->misread[i].slip != ML_SLIP_NONE && own->condition_slip->slip == ML_SLIP_NONE)
      extra[i] = pow (1e3 * g_array_index (own->taken, MlTaken, i).class.span, 2);
  return extra;
}
