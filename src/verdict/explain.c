/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the posterior over items to explanations, marks and expected values. */
#include "verdict/judge-private.h"

#include "verdict/assumptions.h"
#include "verdict/cold.h"
#include "verdict/misread.h"
#include "verdict/observe.h"
#include "verdict/pairs.h"
#include "verdict/wrong-part.h"

#include <math.h>

#define MOST_EXPLANATIONS 20
#define LEAST_PROBABILITY 0.001
#define LEAST_AT_A_GLANCE 0.05 /* what is less likely has no reasons yet, and its size from before */

/* ---- items ---- */

/* The items of a hypothesis stand together: the first of them. */
static guint
first_item (const MlDictionary *dictionary, guint hypothesis)
{
  guint low = 0, high = dictionary->n_items;

  while (low < high)
    {
      guint middle = low + (high - low) / 2;

      if (dictionary->items[middle].hypothesis < hypothesis)
        low = middle + 1;
      else
        high = middle;
    }
  return low;
}

guint
ml_case_best_of (const MlCase *own, guint hypothesis)
{
  guint first = first_item (own->dictionary, hypothesis), best = first;

  for (guint i = first; i < own->dictionary->n_items && own->dictionary->items[i].hypothesis == hypothesis; i++)
    if (own->probability[i] > own->probability[best])
      best = i;
  return best;
}

static void
free_evidence (gpointer data)
{
  ml_evidence_clear (data);
  g_free (data);
}

void
ml_case_keep_fits (MlCase *own)
{
  own->fits = g_hash_table_new_full (NULL, NULL, NULL, free_evidence);
}

/* Of the readings but those in doubt, seen from an expansion; empty when it has none. *ret_own: to be cleared by the caller. */
static const MlEvidence *
evidence_at (MlCase *own, MlExpansion *at, MlEvidence *ret_own)
{
  g_autofree double *doubts = NULL;
  MlEvidence *kept = own->fits ? g_hash_table_lookup (own->fits, at) : NULL;

  if (kept)
    return kept;
  doubts = ml_case_doubts (own);
  if (!ml_case_weigh (own, at, NULL, doubts, ret_own))
    *ret_own = (MlEvidence){ 0 };
  if (!own->fits)
    return ret_own;
  kept = g_memdup2 (ret_own, sizeof *ret_own);
  *ret_own = (MlEvidence){ 0 };
  g_hash_table_insert (own->fits, at, kept);
  return kept;
}

/* J' C^-1 d along one prediction and its remaining variance: the posterior of anything linear in z. */
double
ml_case_fitted_along (MlCase *own, MlExpansion *at, const MlPrediction *along, double *ret_variance)
{
  MlEvidence mine = { 0 };
  const MlEvidence *evidence = evidence_at (own, at, &mine);
  g_autofree double *k = g_new0 (double, MAX (evidence->n, 1));
  g_autofree double *solved = g_new0 (double, MAX (evidence->n, 1));
  double mean = 0, variance = ml_prediction_dot (along, along);

  for (guint j = 0; j < evidence->n; j++)
    k[j] = ml_prediction_dot (along, ml_case_predict_at (own, at, g_array_index (own->taken, MlTaken, j).place));
  ml_evidence_solve (evidence, k, solved);
  for (guint j = 0; j < evidence->n; j++)
    {
      mean += k[j] * evidence->a[j];
      variance -= k[j] * solved[j];
    }
  ml_evidence_clear (&mine);
  *ret_variance = MAX (variance, 0);
  return mean;
}

double
ml_case_fitted (MlCase *own, MlExpansion *at, guint place, double *ret_sigma)
{
  const MlPrediction *prediction = ml_case_predict_at (own, at, place);
  const double *z = at->z;
  double variance, value = prediction->value + ml_case_fitted_along (own, at, prediction, &variance);

  for (guint i = 0; z && i < prediction->n; i++)
    value -= prediction->slope[i] * z[prediction->column[i]];
  *ret_sigma = sqrt (variance + ml_case_left_out (own, place, value, prediction->chopped));
  return prediction->valid ? value : NAN;
}

/* ---- sizes ---- */

/* Of one item, in standard deviations of its cell; at a glance only of what matters, the rest as it was fitted to the readings before. */
static double
size_along (MlCase *own, guint item, const MlPrediction *along, double *ret_variance)
{
  MlExpansion *at = ml_case_expansion (own, item);

  if (!own->glancing || own->probability[item] >= LEAST_AT_A_GLANCE)
    return ml_case_fitted_along (own, at, along, ret_variance);
  *ret_variance = 1;
  return at->z ? at->z[along->column[0]] : 0;
}

/* Posterior of ln size: a mixture over the cells of Gaussians; mean and standard deviation of the mixture. */
static void
estimate_size (MlCase *own, guint hypothesis, MlFault *fault)
{
  const MlHypothesis *h = &g_array_index (own->dictionary->hypotheses, MlHypothesis, hypothesis);
  guint column = own->dictionary->model->n_z;
  double one = 1, weight = 0, sum = 0, square = 0, mean, spread;
  MlPrediction along = { .n = 1, .column = &column, .slope = &one };

  for (guint i = first_item (own->dictionary, hypothesis); i < own->dictionary->n_items && own->dictionary->items[i].hypothesis == hypothesis; i++)
    {
      const MlCell *cell = &h->cells[own->dictionary->items[i].cell];
      double variance, ln;

      if (own->probability[i] < 0.01 * own->hypothesis_probability[hypothesis])
        continue;
      ln = log (cell->size) + cell->spread * size_along (own, i, &along, &variance);
      weight += own->probability[i];
      sum += own->probability[i] * ln;
      square += own->probability[i] * (ln * ln + cell->spread * cell->spread * variance);
    }
  if (weight <= 0)
    return;
  mean = sum / weight;
  spread = sqrt (MAX (square / weight - mean * mean, 0));
  fault->size = exp (mean);
  fault->size_low = exp (mean - 1.645 * spread);
  fault->size_high = exp (mean + 1.645 * spread);
}

/* ---- explanations ---- */

typedef struct { int hypothesis, pair; double probability, prior; } Ranked; /* hypothesis -1: a pair; pair -1 too: misfit */

static gint
by_probability (gconstpointer a, gconstpointer b)
{
  const Ranked *x = a, *y = b;

  if (x->probability != y->probability)
    return x->probability < y->probability ? 1 : -1;
  if (x->hypothesis != y->hypothesis)
    return x->hypothesis < y->hypothesis ? -1 : 1;
  return x->pair < y->pair ? -1 : x->pair > y->pair;
}

static double
likelihood (const Ranked *ranked)
{
  return ranked->hypothesis < 0 && ranked->pair < 0 ? NAN : ranked->probability / ranked->prior;
}

static void
find_tied (MlExplanation *explanation, const Ranked *ranked, guint n, guint self)
{
  double factor = ml_assumption ("word.tie"), mine = likelihood (&ranked[self]);

  explanation->tied = g_new (guint, MAX (n, 1));
  for (guint i = 0; i < n; i++)
    {
      double other = likelihood (&ranked[i]);
      if (i != self && (ranked[i].pair >= 0) == (ranked[self].pair >= 0) && other < factor * mine && mine < factor * other)
        explanation->tied[explanation->n_tied++] = i + 1;
    }
}

/* The readings that neither the healthy board nor the leading fault gives. */
static void
find_refusing (MlExplanation *explanation, const MlVerdict *verdict)
{
  explanation->refusing = g_new (guint, MAX (verdict->n_readings, 1));
  for (guint i = 0; i < verdict->n_readings; i++)
    {
      const MlReadingVerdict *own = &verdict->readings[i];
      double observed = verdict->job->readings[own->reading].measured.value;
      if (fabs (observed - own->healthy) > 3 * own->healthy_sigma && !(fabs (observed - own->explained) <= 3 * own->explained_sigma))
        explanation->refusing[explanation->n_refusing++] = i;
    }
}

/* Size of one of a pair's faults: its cell's, moved by what the readings say. column: 0 the first, 1 the second. */
static void
size_of_one (MlCase *own, const MlPair *pair, guint which, MlFault *fault)
{
  guint item = which ? pair->second : pair->first, column = own->dictionary->model->n_z + which;
  const MlCell *cell = &ml_dictionary_hypothesis (own->dictionary, item)->cells[own->dictionary->items[item].cell];
  double one = 1, variance, mean, spread;
  MlPrediction along = { .n = 1, .column = &column, .slope = &one };

  mean = log (cell->size) + cell->spread * ml_case_fitted_along (own, pair->at, &along, &variance);
  spread = cell->spread * sqrt (variance);
  fault->size = exp (mean);
  fault->size_low = exp (mean - 1.645 * spread);
  fault->size_high = exp (mean + 1.645 * spread);
}

/* Values come in steps: the likeliest one names the part, not the mean of several. */
static void
name_wrong_part (const MlCase *own, guint item, MlFault *fault)
{
  g_free (fault->as);
  fault->as = ml_wrong_part_as (&own->job->board->parts[fault->part], ml_dictionary_hypothesis (own->dictionary, item)->cells[own->dictionary->items[item].cell].size);
}

/* A slip of the drawing comes first: the fault beside it holds only with the drawing mended. */
static void
fill_pair (MlCase *own, MlExplanation *explanation, const MlPair *pair)
{
  gboolean turned = ml_dictionary_hypothesis (own->dictionary, pair->second)->explains == ML_EXPLAINS_DRAWING;
  char *titles[2];

  explanation->explains = ml_pair_is_drawn (own, pair) ? ML_EXPLAINS_DRAWING : ML_EXPLAINS_FAULT;
  explanation->faults = g_new (MlFault, 2);
  explanation->n_faults = 2;
  for (guint k = 0; k < 2; k++)
    {
      guint which = turned ? 1 - k : k, item = which ? pair->second : pair->first;

      explanation->faults[k] = ml_fault_copy (&ml_dictionary_hypothesis (own->dictionary, item)->fault);
      if (explanation->faults[k].size_in != ML_SIZE_NONE)
        size_of_one (own, pair, which, &explanation->faults[k]);
      if (explanation->faults[k].kind == ML_FAULT_WRONG_PART)
        name_wrong_part (own, item, &explanation->faults[k]);
      titles[k] = ml_fault_title (own->job->board, &explanation->faults[k]);
    }
  explanation->title = g_strdup_printf ("%s, and: %s", titles[0], titles[1]);
  g_free (titles[0]);
  g_free (titles[1]);
}

static void
fill_explanation (MlVerdict *verdict, MlCase *own, MlExplanation *explanation, const Ranked *ranked)
{
  explanation->probability = ranked->probability;
  if (ranked->pair >= 0)
    {
      fill_pair (own, explanation, &g_array_index (own->pairs, MlPair, ranked->pair));
      return;
    }
  if (ranked->hypothesis < 0)
    {
      explanation->explains = ML_EXPLAINS_MISFIT;
      explanation->title = g_strdup ("The circuit as drawn cannot give these readings");
      find_refusing (explanation, verdict);
      return;
    }
  explanation->explains = g_array_index (own->dictionary->hypotheses, MlHypothesis, ranked->hypothesis).explains;
  if (explanation->explains == ML_EXPLAINS_HEALTHY)
    {
      explanation->title = g_strdup ("Nothing is wrong");
      return;
    }
  explanation->faults = g_new (MlFault, 1);
  explanation->n_faults = 1;
  explanation->faults[0] = ml_fault_copy (&g_array_index (own->dictionary->hypotheses, MlHypothesis, ranked->hypothesis).fault);
  if (explanation->faults[0].size_in != ML_SIZE_NONE)
    estimate_size (own, ranked->hypothesis, &explanation->faults[0]);
  if (explanation->faults[0].kind == ML_FAULT_WRONG_PART)
    name_wrong_part (own, ml_case_best_of (own, ranked->hypothesis), &explanation->faults[0]);
  explanation->title = ml_fault_title (own->job->board, &explanation->faults[0]);
}

/* Pairs of the same two faults at other sizes are one explanation, under the likeliest. */
static guint
rank_pairs (const MlCase *own, Ranked *ranked)
{
  const MlItem *items = own->dictionary->items;
  guint n = 0;

  for (guint i = 0; i < own->pairs->len; i++) /* in order of probability */
    {
      const MlPair *pair = &g_array_index (own->pairs, MlPair, i);
      double prior = exp (pair->ln_prior);
      guint k = 0;

      for (; k < n; k++)
        {
          const MlPair *known = &g_array_index (own->pairs, MlPair, ranked[k].pair);
          if (items[known->first].hypothesis == items[pair->first].hypothesis && items[known->second].hypothesis == items[pair->second].hypothesis)
            break;
        }
      if (k == n)
        ranked[n++] = (Ranked){ -1, (int) i, 0, 0 };
      ranked[k].probability += pair->probability;
      ranked[k].prior += prior;
    }
  return n;
}

static Ranked *
rank (const MlCase *own, guint *ret_n)
{
  guint n_hypotheses = own->dictionary->hypotheses->len, n = 0, kept = 0;
  Ranked *ranked = g_new (Ranked, n_hypotheses + own->pairs->len + 1);

  for (guint h = 0; h < n_hypotheses; h++)
    ranked[n++] = (Ranked){ h, -1, own->hypothesis_probability[h], g_array_index (own->dictionary->hypotheses, MlHypothesis, h).prior };
  n += rank_pairs (own, ranked + n);
  ranked[n++] = (Ranked){ -1, -1, own->misfit_probability, 1 };
  qsort (ranked, n, sizeof *ranked, by_probability);
  while (kept < MIN (n, MOST_EXPLANATIONS) && ranked[kept].probability >= LEAST_PROBABILITY)
    kept++;
  *ret_n = kept;
  return ranked;
}

static void
fill_explanations (MlVerdict *verdict, MlCase *own)
{
  guint n;
  g_autofree Ranked *ranked = rank (own, &n);
  double listed = 0;

  verdict->explanations = g_new0 (MlExplanation, MAX (n, 1));
  verdict->n_explanations = n;
  for (guint i = 0; i < n; i++)
    {
      verdict->explanations[i].id = i + 1;
      listed += ranked[i].probability;
      if (ranked[i].hypothesis >= 0)
        own->id_of[ranked[i].hypothesis] = i + 1;
      else if (ranked[i].pair >= 0)
        g_array_index (own->pairs, MlPair, ranked[i].pair).id = i + 1;
      fill_explanation (verdict, own, &verdict->explanations[i], &ranked[i]);
      find_tied (&verdict->explanations[i], ranked, n, i);
      if (own->glancing && ranked[i].probability < LEAST_AT_A_GLANCE)
        verdict->explanations[i].reasons = g_new0 (char *, 1);
      else
        ml_verdict_reason (verdict, own, &verdict->explanations[i]);
    }
  verdict->healthy_probability = own->hypothesis_probability[0];
  verdict->misfit_probability = own->misfit_probability;
  verdict->rest_probability = MAX (1 - listed, 0);
}

/* ---- marks ---- */

static gboolean
is_link (const MlCase *own, guint hypothesis)
{
  return g_array_index (own->dictionary->hypotheses, MlHypothesis, hypothesis).fault.kind == ML_FAULT_STRAY_LINK;
}

/* As the parts: within a factor of the first, once a leading group convicts; or at least possible. */
static MlVerdictWord
word_of (double probability, double first, gboolean convicts)
{
  if (convicts && probability * ml_assumption ("word.tie") >= first)
    return ML_VERDICT_SUSPECT;
  if (probability >= 1e-9 && (probability * ml_assumption ("word.possible-factor") >= first || probability >= ml_assumption ("word.possible")))
    return ML_VERDICT_POSSIBLE;
  return ML_VERDICT_UNPROVEN;
}

static void
mark_links (MlVerdict *verdict, const MlCase *own, double first, gboolean convicts)
{
  GArray *links = g_array_new (FALSE, TRUE, sizeof (MlLinkVerdict));

  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (is_link (own, h))
      {
        const MlFault *fault = &g_array_index (own->dictionary->hypotheses, MlHypothesis, h).fault;
        MlLinkVerdict link = { fault->net_a, fault->net_b, ML_VERDICT_UNPROVEN, own->hypothesis_probability[h] };

        if (own->taken->len || ml_case_n_seen (own))
          link.verdict = word_of (link.probability, first, convicts);
        g_array_append_val (links, link);
      }
  verdict->n_links = links->len;
  verdict->links = (MlLinkVerdict *) (gpointer) g_array_free (links, FALSE);
}

static void
mark_parts (MlVerdict *verdict, const MlCase *own, const gboolean *cleared)
{
  guint n = own->job->board->n_parts;
  double first = MAX (own->hypothesis_probability[0], own->misfit_probability + own->drawing_probability), together = 0;
  gboolean convicts;

  verdict->parts = g_new0 (MlPartVerdict, MAX (n, 1));
  verdict->n_parts = n;
  for (guint i = 0; i < n; i++)
    first = MAX (first, own->part_probability[i]);
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++) /* faults that are no part's: a stray link, a broken track */
    if (g_array_index (own->dictionary->hypotheses, MlHypothesis, h).explains == ML_EXPLAINS_FAULT
        && g_array_index (own->dictionary->hypotheses, MlHypothesis, h).fault.part < 0)
      first = MAX (first, own->hypothesis_probability[h]);
  for (guint i = 0; i < n; i++)
    if (own->part_probability[i] * ml_assumption ("word.tie") >= first)
      together += own->part_probability[i];
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    if (is_link (own, h) && own->hypothesis_probability[h] * ml_assumption ("word.tie") >= first)
      together += own->hypothesis_probability[h];
  /* Readings that suit a sound board as well as they did before convict nobody, however many parts share the rest of the prior. */
  convicts = together >= ml_assumption ("word.likeliest") && own->fit_tail >= ml_assumption ("gate.probability")
             && own->hypothesis_probability[0] < g_array_index (own->dictionary->hypotheses, MlHypothesis, 0).prior;
  for (guint i = 0; i < n; i++)
    {
      MlPartVerdict *part = &verdict->parts[i];

      part->probability = own->part_probability[i];
      part->verdict = own->taken->len || ml_case_n_seen (own) ? word_of (part->probability, first, convicts) : ML_VERDICT_UNPROVEN;
      part->group = part->verdict == ML_VERDICT_SUSPECT;
      if (part->verdict == ML_VERDICT_UNPROVEN && cleared && cleared[i])
        part->verdict = ML_VERDICT_CLEARED;
    }
  mark_links (verdict, own, first, convicts);
}

/* ---- readings ---- */

/* A prediction ends where the highest range of most meters does: it is over-range there. A meter with a higher one shows what is more, and that is no
 * difference. */
static double
ohms_beside (const MlReading *read, double predicted)
{
  gboolean beyond = isinf (ml_shown_of (ML_READS_OHMS, log (predicted), INFINITY));

  if (!beyond)
    return predicted;
  return read->measured.over ? INFINITY : MAX (predicted, read->measured.value);
}

static void
fill_readings (MlVerdict *verdict, MlCase *own)
{
  MlExpansion *leader = ml_case_leader (own);

  verdict->readings = g_new0 (MlReadingVerdict, MAX (own->taken->len, 1));
  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlTaken *taken = &g_array_index (own->taken, MlTaken, i);
      MlReads reads = g_array_index (own->dictionary->places, MlReadingPlace, taken->place).reads;
      MlReadingVerdict *reading = &verdict->readings[verdict->n_readings];
      const MlReading *read;

      if (taken->shown) /* what a supply shows belongs to its reading of amperes */
        continue;
      verdict->n_readings++;
      read = &own->job->readings[taken->reading];
      reading->reading = taken->reading;
      reading->healthy = ml_case_predict_fine (own, taken->place, &reading->healthy_sigma);
      reading->explained = ml_case_fitted (own, leader, taken->place, &reading->explained_sigma);
      ml_misread_fill (own, i, reading);
      if (reads == ML_READS_OHMS)
        {
          reading->healthy_sigma *= exp (reading->healthy);
          reading->explained_sigma *= exp (reading->explained);
          reading->healthy = ohms_beside (read, exp (reading->healthy));
          reading->explained = ohms_beside (read, exp (reading->explained));
        }
      else
        {
          reading->healthy = ml_shown_of (reads, reading->healthy, INFINITY);
          reading->explained = ml_shown_of (reads, reading->explained, INFINITY);
        }
    }
  verdict->condition_slip = ml_misread_say_condition (own);
}

void
ml_verdict_fill (MlVerdict *verdict, MlCase *own, const gboolean *cleared)
{
  ml_verdict_find_fine (verdict, own);
  fill_readings (verdict, own);
  fill_explanations (verdict, own);
  mark_parts (verdict, own, cleared);
}
