/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two things at once: two faults, or a fault on a board that is drawn wrongly. The best single ones, judged bluntly because each explains only part of
 * the readings, are joined with the second ones that their residuals call for; those are solved, weighed like everything else and refined. A pair is
 * kept only when it fits far better than either of its members. */
#include "verdict/pairs.h"

#include "verdict/assumptions.h"
#include "verdict/observe.h"
#include "verdict/judge-private.h"
#include "verdict/misread.h"

#include <math.h>

#define MOST_SEEDS 32
#define MOST_SHARE 10   /* of what a sound board shows: what shows nothing tells nothing about shares */
#define IDLE 0.3      /* of a reading's own standard deviation */
#define N_ALONE 4 /* pairs whose faults are fitted alone where the pair was found */

typedef struct { guint first, second; double score; } Candidate;

typedef struct
{
  MlCase *own;
  double *extra;          /* per taken: how bluntly seeds and candidates are judged */
  double *healthy;        /* per node and taken: the sound board */
  guint seeds[MOST_SEEDS];
  guint n_seeds;
  guint firsts[2];        /* the best fault by the blunt score and by the plain one */
  double most;            /* that one reading may cost in the rough score */
  double faults;          /* prior of all single faults */
  GArray *candidates;     /* Candidate: two faults */
  GArray *drawn;          /* Candidate: a fault and a slip of the drawing, in any order */
  gboolean moved;         /* a single fault has a better fit now */
} Search;

static double
prior_of (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->prior * own->dictionary->items[item].share;
}

static gboolean
is_fault (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->explains == ML_EXPLAINS_FAULT && !ml_case_same_as_twin (own, item);
}

/* A slip of the drawing that was looked at, and whose freedom is not that of an unknown chip. */
static gboolean
is_slip (const MlCase *own, guint item)
{
  return ml_dictionary_hypothesis (own->dictionary, item)->explains == ML_EXPLAINS_DRAWING && !ml_case_same_as_twin (own, item)
         && isfinite (own->items[item].ln) && !ml_case_is_about_chip (own, item);
}

gboolean
ml_pair_is_drawn (const MlCase *own, const MlPair *pair)
{
  return ml_dictionary_hypothesis (own->dictionary, pair->first)->explains == ML_EXPLAINS_DRAWING
         || ml_dictionary_hypothesis (own->dictionary, pair->second)->explains == ML_EXPLAINS_DRAWING;
}

/* ---- when ---- */

/* Whether the leader leaves something: a reading it calls a little off or gross, a bad fit, or a drawing in doubt. */
static gboolean
leaves_something (MlCase *own)
{
  double good = 1 - ml_assumption ("reading.mild") - ml_assumption ("reading.gross");
  MlEvidence evidence;
  gboolean leaves;

  if (own->misfit_probability + own->drawing_probability > ml_assumption ("pairs.doubt"))
    return TRUE;
  if (!ml_case_weigh (own, ml_case_expansion (own, own->best_item), NULL, NULL, &evidence))
    return TRUE;
  leaves = evidence.ln - (evidence.ln_good + own->taken->len * log (good)) > log (2)
           || ml_chi2_tail (evidence.chi2, own->taken->len) < ml_assumption ("pairs.doubt");
  ml_evidence_clear (&evidence);
  return leaves;
}

/* ---- seeds ---- */

static double
blunt_score (Search *search, guint item)
{
  MlEvidence evidence;
  double ln;

  if (!ml_case_weigh (search->own, ml_case_expansion (search->own, item), NULL, search->extra, &evidence))
    return -INFINITY;
  ln = evidence.ln_good;
  ml_evidence_clear (&evidence);
  return ln + log (prior_of (search->own, item));
}

static gint
best_first (gconstpointer a, gconstpointer b)
{
  const Candidate *x = a, *y = b;

  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  if (x->first != y->first)
    return x->first < y->first ? -1 : 1;
  return x->second < y->second ? -1 : x->second > y->second;
}

/* The best item of each of the best hypotheses, by the blunt score and by the plain one. */
static void
take_seeds (Search *search, GArray *scored, guint most)
{
  MlCase *own = search->own;

  g_array_sort (scored, best_first);
  for (guint i = 0; i < scored->len && most && search->n_seeds < MOST_SEEDS; i++)
    {
      const Candidate *candidate = &g_array_index (scored, Candidate, i);
      guint h = own->dictionary->items[candidate->first].hypothesis;
      gboolean seen = !isfinite (candidate->score);

      for (guint k = 0; k < search->n_seeds; k++)
        seen |= own->dictionary->items[search->seeds[k]].hypothesis == h;
      if (seen)
        continue;
      search->seeds[search->n_seeds++] = candidate->first;
      most--;
    }
}

static void
find_seeds (Search *search, gboolean slips)
{
  MlCase *own = search->own;
  g_autoptr (GArray) blunt = g_array_new (FALSE, FALSE, sizeof (Candidate)), plain = g_array_new (FALSE, FALSE, sizeof (Candidate));

  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      Candidate candidate = { i, 0, own->items[i].ln + log (prior_of (own, i)) };

      if (slips ? !is_slip (own, i) : !is_fault (own, i))
        continue;
      search->faults += slips ? 0 : prior_of (own, i);
      g_array_append_val (plain, candidate);
      candidate.score = blunt_score (search, i);
      g_array_append_val (blunt, candidate);
    }
  take_seeds (search, blunt, (guint) ml_assumption ("pairs.seeds"));
  take_seeds (search, plain, (guint) ml_assumption ("pairs.seeds") / 2);
  if (slips || !search->n_seeds)
    return;
  search->firsts[0] = g_array_index (blunt, Candidate, 0).first;
  search->firsts[1] = g_array_index (plain, Candidate, 0).first;
}

/* ---- candidates ---- */

/* How far from what is read two faults leave it that give `one` and `other`, and none of them `fine`: their shifts add up where currents meet, and
 * each takes its share where one lies behind the other. */
static double
shortfall (const MlCase *own, const MlTaken *taken, double one, double other, double fine)
{
  const MlReadingPlace *place = &g_array_index (own->dictionary->places, MlReadingPlace, taken->place);
  double off = taken->observed - (one + other - fine), in_line;

  if (place->reads == ML_READS_OHMS || !(other * fine > 0) || fabs (other) > MOST_SHARE * fabs (fine))
    return off;
  in_line = taken->observed - one * (other / fine);
  return fabs (in_line) < fabs (off) ? in_line : off;
}

/* What the seed leaves, against what the second fault does to the sound board. */
static double
rough_score (Search *search, guint seed, guint second)
{
  MlCase *own = search->own;
  guint n = own->taken->len, node = own->dictionary->items[second].node;
  double sum = 0;

  for (guint i = 0; i < n; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      const MlPrediction *one = ml_case_predict (own, seed, taken->place), *other = ml_dictionary_predict (own->dictionary, second, taken->place);
      double fine = search->healthy[node * n + i], off = shortfall (own, taken, one->value, other->value, fine);
      double variance = taken->variance + search->extra[i] + pow (0.2 * (other->value - fine), 2);
      const double *z = ml_case_expansion (own, seed)->z;

      if (!z) /* where the seed was not fitted its own spread counts */
        variance += ml_prediction_dot (one, one);
      sum -= MIN (off * off / (2 * variance), search->most);
    }
  return sum + log (prior_of (own, seed)) + log (prior_of (own, second));
}

/* One part may be named only once; a second fault lies at the seed's node. What a slip shows by itself is known of those only that are not late. */
static gboolean
may_join (const MlCase *own, guint seed, guint second)
{
  const MlDictionary *dictionary = own->dictionary;
  const MlFault *a = &ml_dictionary_hypothesis (dictionary, seed)->fault, *b = &ml_dictionary_hypothesis (dictionary, second)->fault;

  return (is_fault (own, second) || (is_fault (own, seed) && second < dictionary->n_early && is_slip (own, second))) && dictionary->items[second].node == dictionary->items[seed].node && b->kind != ML_FAULT_MISBEHAVING
         && dictionary->items[second].share > 0
         && (a->part != b->part || a->part < 0) && dictionary->items[seed].hypothesis != dictionary->items[second].hypothesis;
}

/* Of each second fault only the size that the residuals call for: refinement finds the rest of the way. */
static void
list_candidates_of (Search *search, guint s)
{
  MlCase *own = search->own;
  gboolean slip = is_slip (own, search->seeds[s]);
  Candidate best = { 0 };
  gboolean any = FALSE;

  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      if (may_join (own, search->seeds[s], i))
        {
          Candidate candidate = { search->seeds[s], i, rough_score (search, search->seeds[s], i) };
          if (!any || candidate.score > best.score)
            best = candidate;
          any = TRUE;
        }
      if (any && (i + 1 == own->dictionary->n_items || own->dictionary->items[i + 1].hypothesis != own->dictionary->items[i].hypothesis))
        {
          g_array_append_val (slip || is_slip (own, best.second) ? search->drawn : search->candidates, best);
          any = FALSE;
        }
    }
}

static void
list_candidates (Search *search)
{
  for (guint s = 0; s < search->n_seeds; s++)
    list_candidates_of (search, s);
  g_array_sort (search->candidates, best_first);
  g_array_sort (search->drawn, best_first);
}

/* ---- solving and refining ---- */

static double
node_share (const MlDictionary *dictionary, guint item)
{
  return dictionary->items[item].share / ml_dictionary_hypothesis (dictionary, item)->cells[dictionary->items[item].cell].share;
}

static double
ln_prior (const Search *search, const MlPair *pair)
{
  const MlCase *own = search->own;
  /* At one node: the second one's shares at the other nodes count too. */
  double both = log (prior_of (own, pair->first) * prior_of (own, pair->second)) - log (node_share (own->dictionary, pair->second));

  if (ml_pair_is_drawn (own, pair)) /* who draws a board does not know whether it has a fault */
    return both + own->items[pair->first].heard + own->items[pair->second].heard;
  return log (ml_assumption ("pairs.prior")) + log (2) + both - 2 * log (search->faults); /* unordered */
}

static void
drop (MlCase *own, MlPair *pair)
{
  ml_expansion_free (own->dictionary, pair->at);
  pair->at = NULL;
}

/* Both at once, from where the first stands. FALSE: no usable covariance. */
static gboolean
solve_pair (Search *search, guint first, guint second, MlPair *ret_pair)
{
  MlCase *own = search->own;
  MlExpansion *seed = ml_case_expansion (own, first);
  MlEvidence evidence;

  *ret_pair = (MlPair) { .first = first, .second = second };
  ret_pair->ln_prior = ln_prior (search, ret_pair);
  ret_pair->at = ml_expansion_new (own->dictionary, (int) first, (int) second, seed->z);
  if (ml_case_weigh (own, ret_pair->at, seed, NULL, &evidence))
    {
      ret_pair->ln = evidence.ln + ml_case_beside_ln (own, ret_pair->at, NULL);
      ml_evidence_clear (&evidence);
      if (ml_case_weigh (own, ret_pair->at, NULL, search->extra, &evidence))
        {
          ret_pair->blunt = evidence.ln + ret_pair->ln_prior;
          ml_evidence_clear (&evidence);
          return TRUE;
        }
    }
  drop (own, ret_pair);
  return FALSE;
}

/* Everything read is what one of the two alone gives: the other is hidden, and nothing speaks for it. */
static gboolean
is_idle (MlCase *own, const MlPair *pair)
{
  const guint members[] = { pair->first, pair->second };

  for (guint k = 0; k < G_N_ELEMENTS (members); k++)
    {
      gboolean same = TRUE;

      for (guint i = 0; same && i < own->taken->len; i++)
        {
          const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
          double two = ml_case_predict_at (own, pair->at, taken->place)->value, one = ml_case_predict (own, members[k], taken->place)->value;
          same = fabs (two - one) < IDLE * sqrt (taken->variance);
        }
      if (same)
        return TRUE;
    }
  return FALSE;
}

/* Of the first's sizes (or the second's) the one that serves best beside the other, where the residuals seemed to call for another one. */
static void
try_sizes (Search *search, MlPair *pair, gboolean of_first)
{
  MlCase *own = search->own;
  const MlItem *items = own->dictionary->items;
  const guint from = of_first ? pair->first : pair->second;

  if (ml_dictionary_hypothesis (own->dictionary, from)->n_cells < 2)
    return;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    {
      MlPair other;

      if (i == from || items[i].hypothesis != items[from].hypothesis || items[i].node != items[from].node || !(items[i].share > 0)
          || ml_case_same_as_twin (own, i) || !solve_pair (search, of_first ? i : pair->first, of_first ? pair->second : i, &other))
        continue;
      if (other.blunt > pair->blunt)
        {
          drop (own, pair);
          *pair = other;
        }
      else
        drop (own, &other);
    }
}

static gint
likeliest_first (gconstpointer a, gconstpointer b)
{
  const MlPair *x = a, *y = b;
  double p = x->ln + x->ln_prior, q = y->ln + y->ln_prior;

  if (p != q)
    return p < q ? 1 : -1;
  if (x->first != y->first)
    return x->first < y->first ? -1 : 1;
  return x->second < y->second ? -1 : x->second > y->second;
}

/* A pair that does not fit far better than its better member has not earned its name. */
static gboolean
has_earned (MlCase *own, const MlPair *pair)
{
  return pair->ln > MAX (own->items[pair->first].ln, own->items[pair->second].ln) + ml_assumption ("pairs.nats");
}

static gint
bluntly_first (gconstpointer a, gconstpointer b)
{
  const MlPair *x = a, *y = b;

  return x->blunt != y->blunt ? (x->blunt < y->blunt ? 1 : -1) : likeliest_first (a, b);
}

static void
keep_best (MlCase *own, guint most)
{
  g_array_sort (own->pairs, likeliest_first);
  for (guint i = most; i < own->pairs->len; i++)
    drop (own, &g_array_index (own->pairs, MlPair, i));
  g_array_set_size (own->pairs, MIN (own->pairs->len, most));
}

/* When both are seeds the pair was tried from either, and one of the two fits is the better one. */
static gboolean
was_kept (const MlCase *own, const MlPair *pair, guint n)
{
  const MlItem *items = own->dictionary->items;
  guint a = items[pair->first].hypothesis, b = items[pair->second].hypothesis;

  for (guint i = 0; i < n; i++)
    {
      const MlPair *other = &g_array_index (own->pairs, MlPair, i);
      guint c = items[other->first].hypothesis, d = items[other->second].hypothesis;
      if ((a == c && b == d) || (a == d && b == c))
        return TRUE;
    }
  return FALSE;
}

static void
keep_earned (MlCase *own)
{
  guint kept = 0;

  g_array_sort (own->pairs, likeliest_first);
  for (guint i = 0; i < own->pairs->len; i++)
    {
      MlPair *pair = &g_array_index (own->pairs, MlPair, i);

      if (has_earned (own, pair) && !was_kept (own, pair, kept))
        g_array_index (own->pairs, MlPair, kept++) = *pair;
      else
        drop (own, pair);
    }
  g_array_set_size (own->pairs, kept);
}

/* One of a pair's faults alone where the pair was found, values nobody could read and chips included: what fits there by itself needs no other. */
static void
try_member (Search *search, const MlPair *pair, guint item, guint other, guint size_column)
{
  MlCase *own = search->own;
  const guint n_z = own->dictionary->model->n_z, n = own->dictionary->n_columns;
  g_autofree double *z = g_memdup2 (pair->at->z, n * sizeof *z);
  double before = own->items[item].ln, size = z[size_column];

  if (ml_case_same_as_twin (own, item))
    return;
  z[n_z] = z[n_z + (size_column == n_z)];
  ml_case_fault_as_value (own, other, z);
  for (guint i = n_z; i < n - own->dictionary->model->n_deviations; i++)
    z[i] = 0;
  z[n_z] = size;
  ml_case_keep_better_fit (own, item, ml_expansion_new (own->dictionary, (int) item, -1, z));
  search->moved |= own->items[item].ln > before;
}

static void
try_alone (Search *search, const MlPair *pair, GCancellable *cancellable)
{
  const guint n_z = search->own->dictionary->model->n_z;

  if (!pair->at->z || g_cancellable_is_cancelled (cancellable))
    return;
  try_member (search, pair, pair->first, pair->second, n_z);
  try_member (search, pair, pair->second, pair->first, n_z + 1);
}

static gboolean
solve_first (Search *search, const GArray *candidates, guint most, GCancellable *cancellable, GError **error)
{
  MlCase *own = search->own;

  for (guint i = 0; i < MIN (candidates->len, most); i++)
    {
      const Candidate *candidate = &g_array_index (candidates, Candidate, i);
      MlPair pair;

      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (solve_pair (search, candidate->first, candidate->second, &pair))
        g_array_append_val (own->pairs, pair);
    }
  return TRUE;
}

/* Pins on the wrong net are too many to be tried beside every fault: only beside the first of either kind of seed. */
static gboolean
solve_wrong_nets (Search *search, GCancellable *cancellable, GError **error)
{
  MlCase *own = search->own;
  g_autoptr (GArray) items = g_array_new (FALSE, FALSE, sizeof (guint));
  guint most = (guint) ml_assumption ("pairs.wrong-nets");

  for (guint k = 0; k < 2 && search->n_seeds && (k == 0 || search->firsts[1] != search->firsts[0]); k++)
    {
      g_array_set_size (items, 0);
      if (!ml_case_screen_wrong_nets (own, search->firsts[k], most, items, cancellable, error))
        return FALSE;
      for (guint i = 0; i < items->len; i++)
        {
          guint slip = g_array_index (items, guint, i);
          MlPair pair;

          if (ml_dictionary_hypothesis (own->dictionary, slip)->fault.part != ml_dictionary_hypothesis (own->dictionary, search->firsts[k])->fault.part
              && solve_pair (search, search->firsts[k], slip, &pair))
            g_array_append_val (own->pairs, pair);
        }
    }
  return TRUE;
}

static gboolean
solve_candidates (Search *search, GCancellable *cancellable, GError **error)
{
  MlCase *own = search->own;

  if (!solve_first (search, search->candidates, (guint) ml_assumption ("pairs.solved"), cancellable, error)
      || !solve_first (search, search->drawn, (guint) ml_assumption ("pairs.drawn"), cancellable, error)
      || !solve_wrong_nets (search, cancellable, error))
    return FALSE;
  g_array_sort (own->pairs, bluntly_first);
  for (guint i = 0; i < MIN (own->pairs->len, (guint) ml_assumption ("pairs.sized")); i++)
    {
      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      try_sizes (search, &g_array_index (own->pairs, MlPair, i), FALSE);
      try_sizes (search, &g_array_index (own->pairs, MlPair, i), TRUE);
    }
  return TRUE;
}

static void
leave_out_idle (MlCase *own)
{
  guint kept = 0;

  for (guint i = 0; i < own->pairs->len; i++)
    {
      MlPair *pair = &g_array_index (own->pairs, MlPair, i);

      if (is_idle (own, pair))
        drop (own, pair);
      else
        g_array_index (own->pairs, MlPair, kept++) = *pair;
    }
  g_array_set_size (own->pairs, kept);
}

/* The first n by that order, of two faults or of a fault and a slip, those apart that were fitted before. */
static gboolean
refine_first (Search *search, GCompareFunc order, gboolean drawn, guint n, GCancellable *cancellable, GError **error)
{
  MlCase *own = search->own;

  g_array_sort (own->pairs, order);
  for (guint i = 0; n && i < own->pairs->len; i++)
    {
      MlPair *pair = &g_array_index (own->pairs, MlPair, i);

      if (g_cancellable_set_error_if_cancelled (cancellable, error))
        return FALSE;
      if (pair->fitted || ml_pair_is_drawn (own, pair) != drawn)
        continue;
      ml_case_refine_pair (own, pair);
      pair->fitted = TRUE;
      n--;
    }
  return TRUE;
}

/* Those that lead by a straight line alone, because the fitted ones did not keep what theirs had promised. */
static gboolean
refine_leaders (Search *search, GCancellable *cancellable, GError **error)
{
  GArray *pairs = search->own->pairs;
  guint rounds = (guint) ml_assumption ("refine.rounds");

  g_array_sort (pairs, likeliest_first);
  for (guint round = 0; pairs->len && !g_array_index (pairs, MlPair, 0).fitted && round < rounds; round++)
    {
      gboolean drawn = ml_pair_is_drawn (search->own, &g_array_index (pairs, MlPair, 0));

      if (!refine_first (search, likeliest_first, drawn, (guint) ml_assumption ("pairs.refined"), cancellable, error))
        return FALSE;
      g_array_sort (pairs, likeliest_first);
    }
  return TRUE;
}

static gboolean
solve_all (Search *search, GCancellable *cancellable, GError **error)
{
  MlCase *own = search->own;

  if (!solve_candidates (search, cancellable, error))
    return FALSE;
  leave_out_idle (own);
  for (guint drawn = 0; drawn < 2; drawn++)
    {
      guint most = (guint) ml_assumption (drawn ? "pairs.refined-drawn" : "pairs.refined");

      if (!refine_first (search, likeliest_first, drawn, most, cancellable, error) || !refine_first (search, bluntly_first, drawn, most, cancellable, error))
        return FALSE;
    }
  if (!refine_leaders (search, cancellable, error))
    return FALSE;
  keep_best (own, (guint) ml_assumption ("pairs.kept"));
  for (guint i = 0; i < MIN (own->pairs->len, N_ALONE); i++)
    try_alone (search, &g_array_index (own->pairs, MlPair, i), cancellable);
  keep_earned (own);
  return !g_cancellable_set_error_if_cancelled (cancellable, error);
}

/* What the single faults could only call misread a pair may give. */
static void
take_back_slips (MlCase *own)
{
  MlExpansion *at = ml_case_leader (own);

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      double sigma, value;

      if (own->misread[i].slip == ML_SLIP_NONE)
        continue;
      value = ml_case_fitted (own, at, taken->place, &sigma);
      if (fabs (taken->observed - value) < 3 * hypot (sigma, sqrt (taken->variance)))
        own->misread[i].slip = ML_SLIP_NONE;
    }
}

gboolean
ml_case_find_pairs (MlCase *own, GCancellable *cancellable, GError **error)
{
  Search search = { .own = own, .most = ml_assumption ("rough.most") };
  guint n = own->taken->len, n_nodes = own->dictionary->model->n_nodes;
  gboolean done;

  if (n < 2 || !leaves_something (own))
    return TRUE;
  search.extra = ml_case_blunted (own, ml_assumption ("pairs.blunt-volts"), ml_assumption ("pairs.blunt-share"));
  search.healthy = g_new0 (double, n * n_nodes);
  for (guint node = 0; node < n_nodes; node++)
    for (guint i = 0; i < n; i++)
      search.healthy[node * n + i] = ml_dictionary_predict (own->dictionary, node, g_array_index (own->taken, MlTaken, i).place)->value;
  search.candidates = g_array_new (FALSE, FALSE, sizeof (Candidate));
  search.drawn = g_array_new (FALSE, FALSE, sizeof (Candidate));
  find_seeds (&search, FALSE);
  find_seeds (&search, TRUE);
  list_candidates (&search);
  done = solve_all (&search, cancellable, error);
  g_array_unref (search.candidates);
  g_array_unref (search.drawn);
  g_free (search.healthy);
  g_free (search.extra);
  if (done && search.moved)
    ml_case_follow_twins (own);
  if (done && (own->pairs->len || search.moved))
    ml_case_update (own);
  if (done && (own->best_pair >= 0 || search.moved))
    take_back_slips (own);
  return done;
}

GArray *
ml_pairs_new (void)
{
  return g_array_new (FALSE, TRUE, sizeof (MlPair));
}

void
ml_pairs_free (MlDictionary *dictionary, GArray *pairs)
{
  for (guint i = 0; i < pairs->len; i++)
    ml_expansion_free (dictionary, g_array_index (pairs, MlPair, i).at);
  g_array_unref (pairs);
}

MlExpansion *
ml_case_leader (const MlCase *own)
{
  return own->best_pair >= 0 ? g_array_index (own->pairs, MlPair, own->best_pair).at : ml_case_expansion (own, own->best_item);
}

double
ml_case_pair_probability (const MlCase *own)
{
  double sum = 0;

  for (guint i = 0; i < own->pairs->len; i++)
    if (!ml_pair_is_drawn (own, &g_array_index (own->pairs, MlPair, i)))
      sum += g_array_index (own->pairs, MlPair, i).probability;
  return sum;
}
