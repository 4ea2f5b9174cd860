/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/judge-private.h"

#include "board/assume.h"
#include "verdict/assumptions.h"
#include "verdict/glance.h"
#include "verdict/good-unit.h"
#include "verdict/misread.h"
#include "verdict/pairs.h"

#include <math.h>

G_DEFINE_QUARK (ml-judge-error-quark, ml_judge_error)

MlJudge *
ml_judge_new (MlBoard *board)
{
  MlJudge *judge = g_new0 (MlJudge, 1);

  judge->board = ml_board_ref (board);
  judge->assumed = ml_board_assumptions (board);
  return judge;
}

void
ml_judge_free (MlJudge *judge)
{
  if (!judge)
    return;
  g_clear_pointer (&judge->goods, g_ptr_array_unref); /* before the dictionary that they refer to */
  ml_dictionary_free (judge->base);
  ml_dictionary_free (judge->variant);
  ml_which_state_free (judge->states);
  g_free (judge->variant_key);
  g_hash_table_unref (judge->assumed);
  ml_board_unref (judge->board);
  g_free (judge);
}

MlDictionary *
ml_judge_base (MlJudge *judge)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);

  if (!judge->base)
    judge->base = ml_dictionary_new (ml_model_new (judge->board, NULL));
  ml_assumptions_use (before);
  return judge->base;
}

gboolean
ml_judge_prepare (MlJudge *judge, void (*progress) (double share, gpointer data), gpointer data, GCancellable *cancellable, GError **error)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);

  if (!judge->prepared)
    judge->prepared = ml_dictionary_prepare (ml_judge_base (judge), progress, data, cancellable, error);
  ml_assumptions_use (before);
  return judge->prepared;
}

/* ---- the unit's own circuit ---- */

/* What a supply's display showed; NAN for one in its limit, which shows less than it is set to. */
static double
shown_by (const MlJob *job, const MlReading *reading, guint supply)
{
  const MlSupply *own = &job->board->conditions[reading->condition].supplies[supply];

  if (reading->supply != (int) supply || !reading->has_shown || reading->measured.value > 0.97 * own->limit_a)
    return NAN;
  return reading->shown_v.value;
}

/* What the meter showed from one pin of a supply to the other, as far from its figure as a knob may be; NAN for what is something else. */
static double
measured_across (const MlJob *job, const MlReading *reading, guint supply)
{
  const MlSupply *own = &job->board->conditions[reading->condition].supplies[supply];
  gboolean turned = reading->red.net == own->minus && reading->black.net == own->plus;
  double volts = turned ? -reading->measured.value : reading->measured.value;

  if (reading->reads != ML_READS_VOLTS || !isfinite (volts) || reading->red.lead || reading->black.lead || (!turned && (reading->red.net != own->plus || reading->black.net != own->minus)))
    return NAN;
  return fabs (volts / own->voltage_v - 1) < ml_assumption ("supply.most-off") ? volts : NAN;
}

/* Voltages that the supplies gave in place of the board's figures; NULL when none differs. A reading should be weighed by the verdict: only a clear
 * difference counts, and the supply's own unknown covers less. */
static double *
shown_supplies (const MlJob *job, int unit, guint pass)
{
  guint n = ml_model_supply_index (job->board, job->board->n_conditions, 0);
  g_autofree double *volts = g_new (double, MAX (n, 1));
  gboolean any = FALSE;

  for (guint i = 0; i < n; i++)
    volts[i] = NAN;
  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];
      gboolean counts = reading->unit == unit && reading->pass == pass && !reading->replaced;

      for (guint k = 0; counts && k < job->board->conditions[reading->condition].n_supplies; k++)
        {
          double shown = shown_by (job, reading, k), measured = measured_across (job, reading, k), figure = job->board->conditions[reading->condition].supplies[k].voltage_v;
          double *own = &volts[ml_model_supply_index (job->board, reading->condition, (int) k)], given = isfinite (shown) ? shown : measured;

          if (fabs (given - figure) < 0.02 * fabs (figure) || !isfinite (given) || (isfinite (*own) && !isfinite (shown))) /* its display comes first */
            continue;
          *own = given;
          any = TRUE;
        }
    }
  return any ? g_steal_pointer (&volts) : NULL;
}

static void
free_variant (MlVariant *variant)
{
  if (!variant)
    return;
  g_clear_pointer (&variant->preferred, g_array_unref);
  g_free (variant->supply_v);
  g_free (variant);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC (MlVariant, free_variant)

/* How that unit's circuit differs from the board as drawn. NULL: not without solving, and may_solve is FALSE. */
static MlVariant *
find_variant (MlJudge *judge, const MlJob *job, int unit, guint pass, gboolean may_solve)
{
  g_autoptr (MlVariant) variant = g_new0 (MlVariant, 1);

  variant->unit = &job->units[unit];
  variant->pass = pass;
  variant->supply_v = shown_supplies (job, unit, pass);
  if (!judge->states)
    judge->states = ml_which_state_new (judge->board);
  return ml_which_state_find (judge->states, ml_judge_base (judge), job, unit, pass, may_solve, &variant->preferred) ? g_steal_pointer (&variant) : NULL;
}

/* What the circuit of this unit depends on, as a text that is equal for equal circuits. */
static char *
variant_key (const MlJob *job, const MlVariant *variant)
{
  GString *key = g_string_new (NULL);
  const MlUnitOnBench *own = variant->unit;
  guint n = ml_model_supply_index (job->board, job->board->n_conditions, 0);
  char number[G_ASCII_DTOSTR_BUF_SIZE];

  for (guint i = 0; i < own->n_differences; i++)
    {
      const MlDifference *difference = &own->differences[i];

      if (difference->pass > variant->pass)
        continue;
      g_string_append_printf (key, "%d %d %d %d %d;", difference->what, difference->part, difference->pin, difference->net_a, difference->net_b);
      for (guint k = 0; k < difference->n_attributes; k++)
        g_string_append_printf (key, "%s=%s;", difference->attributes[k].info->word, difference->attributes[k].text);
    }
  for (guint i = 0; variant->supply_v && i < n; i++)
    g_string_append_printf (key, "%s;", g_ascii_dtostr (number, sizeof number, variant->supply_v[i]));
  for (guint i = 0; variant->preferred && i < variant->preferred->len; i++)
    {
      const MlPreferred *one = &g_array_index (variant->preferred, MlPreferred, i);
      g_string_append_printf (key, "prefer %d %d %d;", one->condition, one->net, one->high);
    }
  return g_string_free (key, FALSE);
}

/* ---- good units ---- */

static void
append_probe (GString *key, const MlProbe *probe)
{
  g_string_append_printf (key, " %d.%d.%d.%d", probe->net, probe->part, probe->pin, probe->lead);
}

static void
append_quantity (GString *key, const MlQuantity *quantity)
{
  const double numbers[] = { quantity->value, quantity->low, quantity->high, quantity->resolution };
  char text[G_ASCII_DTOSTR_BUF_SIZE];

  for (guint i = 0; i < G_N_ELEMENTS (numbers); i++)
    g_string_append_printf (key, " %s", g_ascii_dtostr (text, sizeof text, numbers[i]));
  g_string_append_printf (key, " %d", quantity->over);
}

static void
append_meter (GString *key, const MlMeter *meter)
{
  const double numbers[] = { meter->dc_share, meter->dc_counts, meter->ohms_share, meter->ohms_counts, meter->counts, meter->input_ohm, meter->diode_a,
                             meter->diode_v };
  char text[G_ASCII_DTOSTR_BUF_SIZE];

  for (guint i = 0; i < G_N_ELEMENTS (numbers); i++)
    g_string_append_printf (key, " %s", g_ascii_dtostr (text, sizeof text, numbers[i]));
}

/* All that a unit's part in the verdict depends on, as a text; NULL when it has no readings. */
static char *
unit_key (const MlJob *job, const MlVariant *variant)
{
  const int unit = (int) (variant->unit - job->units);
  g_autofree char *circuit = variant_key (job, variant);
  GString *key = g_string_new (circuit);
  gboolean any = FALSE;

  g_string_append_printf (key, "|%d %u", unit, variant->pass);
  for (guint i = 0; i < job->n_readings; i++)
    {
      const MlReading *reading = &job->readings[i];

      if (reading->unit != unit || reading->pass != variant->pass || reading->replaced)
        continue;
      any = TRUE;
      g_string_append_printf (key, "|%u %d %d %d", i, reading->condition, reading->reads, reading->supply);
      append_probe (key, &reading->red);
      append_probe (key, &reading->black);
      append_quantity (key, &reading->measured);
      if (reading->has_shown)
        append_quantity (key, &reading->shown_v);
      append_meter (key, &job->meters[reading->meter]);
    }
  return g_string_free (key, !any);
}

static MlGoodUnit *
find_good_unit (MlJudge *judge, MlJob *job, int unit, GCancellable *cancellable, GError **error)
{
  guint pass = ml_job_last_pass (job, unit);
  g_autoptr (MlVariant) variant = find_variant (judge, job, unit, pass, TRUE);
  g_autofree char *variant_text = variant_key (job, variant), *key = unit_key (job, variant);
  MlDictionary *own = NULL;
  MlGoodUnit *good;

  for (guint i = 0; judge->goods && i < judge->goods->len; i++)
    if (g_str_equal (((MlGoodUnit *) judge->goods->pdata[i])->key, key))
      return judge->goods->pdata[i];
  if (*variant_text)
    own = ml_dictionary_new (ml_model_new (judge->board, variant));
  good = ml_good_unit_new (ml_judge_base (judge), own, job, unit, pass, cancellable, error);
  if (good)
    good->key = g_steal_pointer (&key);
  return good;
}

/* The good units of the job that have readings; those of before go. FALSE: cancelled. */
static gboolean
find_good_units (MlJudge *judge, MlJob *job, int suspect, GCancellable *cancellable, GError **error)
{
  GPtrArray *goods = g_ptr_array_new ();
  gboolean fine = TRUE;

  for (guint i = 0; fine && i < job->n_units; i++)
    {
      const MlVariant as_drawn = { &job->units[i], ml_job_last_pass (job, (int) i), NULL, NULL };
      g_autofree char *key = unit_key (job, &as_drawn);
      MlGoodUnit *good;

      if ((int) i == suspect || job->units[i].state != ML_UNIT_STATE_GOOD || !key)
        continue;
      good = find_good_unit (judge, job, (int) i, cancellable, error);
      fine = good != NULL;
      if (good)
        g_ptr_array_add (goods, good);
    }
  for (guint i = 0; judge->goods && i < judge->goods->len; i++)
    if (!g_ptr_array_find (goods, judge->goods->pdata[i], NULL))
      ml_good_unit_free (judge->goods->pdata[i]);
  if (judge->goods)
    {
      g_ptr_array_set_free_func (judge->goods, NULL);
      g_ptr_array_unref (judge->goods);
    }
  g_ptr_array_set_free_func (goods, (GDestroyNotify) ml_good_unit_free);
  judge->goods = goods;
  return fine;
}

static MlModel *
new_model (MlJudge *judge, MlJob *job, const MlVariant *variant, gboolean as_drawn)
{
  MlModel *model = ml_model_new (judge->board, variant);

  if (judge->goods->len)
    ml_good_units_carry (judge->goods, model, job, (int) (variant->unit - job->units), variant->pass, as_drawn);
  return model;
}

static MlDictionary *
find_dictionary (MlJudge *judge, MlJob *job, int unit, guint pass, GCancellable *cancellable, GError **error)
{
  g_autoptr (MlVariant) variant = find_variant (judge, job, unit, pass, TRUE);
  g_autofree char *own_key = variant_key (job, variant);
  g_autoptr (GString) key = g_string_new (own_key);

  if (!find_good_units (judge, job, unit, cancellable, error))
    return NULL;
  for (guint i = 0; i < judge->goods->len; i++)
    g_string_append_printf (key, "|%s", ((MlGoodUnit *) judge->goods->pdata[i])->key);
  if (!key->len)
    return ml_judge_prepare (judge, NULL, NULL, cancellable, error) ? judge->base : NULL;
  if (!judge->variant || g_strcmp0 (judge->variant_key, key->str) != 0)
    {
      g_clear_pointer (&judge->variant, ml_dictionary_free);
      g_free (judge->variant_key);
      judge->variant_key = g_strdup (key->str);
      judge->variant = ml_dictionary_new (new_model (judge, job, variant, !*own_key));
      ml_good_units_doubt (judge->goods, judge->variant);
    }
  return ml_dictionary_prepare (judge->variant, NULL, NULL, cancellable, error) ? judge->variant : NULL;
}

/* ---- the run ---- */

static gboolean
find_unit (MlJudge *judge, MlJob *job, int *unit, guint *pass, GError **error)
{
  /* What was found of a board holds for another arrangement of its circuit: parts were moved, or the file was saved. */
  if (job->board != judge->board && !ml_board_same_circuit (job->board, judge->board))
    {
      g_set_error_literal (error, ML_JUDGE_ERROR, ML_JUDGE_ERROR_NOT_SOLVED, "the job belongs to another board");
      return FALSE;
    }
  if (*unit < 0)
    *unit = ml_job_suspect (job);
  if (*unit < 0 || (guint) *unit >= job->n_units)
    {
      g_set_error_literal (error, ML_JUDGE_ERROR, ML_JUDGE_ERROR_NO_UNIT, "no unit is marked suspect; write \"unit NAME suspect\" or name one");
      return FALSE;
    }
  if (*pass == 0)
    *pass = ml_job_last_pass (job, *unit);
  return TRUE;
}

MlDictionary *
ml_judge_find (MlJudge *judge, MlJob *job, int *unit, guint *pass, GCancellable *cancellable, GError **error)
{
  return find_unit (judge, job, unit, pass, error) ? find_dictionary (judge, job, *unit, *pass, cancellable, error) : NULL;
}

/* What it costs, beyond what is usual, that unknown chips do what the readings say. A driver with eight outputs low is eight times far from what nobody knows about
 * a pin: that speaks neither against the drawing nor against the readings. In the units of chi2. */
static double
cost_of_chips (MlCase *own, MlExpansion *at, const MlEvidence *evidence)
{
  const MlModel *model = own->dictionary->model;
  g_autofree double *z = g_new0 (double, own->dictionary->n_columns);
  double sum = 0;

  for (guint i = 0; i < own->taken->len; i++)
    {
      const MlPrediction *prediction = ml_case_predict_at (own, at, g_array_index (own->taken, MlTaken, i).place);

      for (guint k = 0; k < prediction->n; k++)
        z[prediction->column[k]] += prediction->slope[k] * evidence->a[i];
    }
  for (guint u = 0; u < model->n_unknowns; u++)
    sum += model->unknowns[u].block ? MAX (z[u] * z[u] - 1, 0) : 0;
  return sum;
}

double
ml_case_fit_tail (MlCase *own, MlExpansion *at, const double *extra, guint n)
{
  MlEvidence evidence;
  double tail = 1;

  if (ml_case_weigh (own, at, NULL, extra, &evidence))
    {
      tail = ml_chi2_tail (MAX (evidence.chi2 - cost_of_chips (own, at, &evidence), 0), n);
      ml_evidence_clear (&evidence);
    }
  return tail;
}

/* A leader that needs a reading let go convicts nobody for sure, unless that one is marked as a slip. If it is the sound board, a fault that is nearly
 * as likely may give them all: then the drawing can be right. */
static void
find_fit (MlCase *own)
{
  g_autofree double *doubts = ml_case_doubts (own);
  const double least = ml_assumption ("gate.near") * own->hypothesis_probability[own->dictionary->items[own->best_item].hypothesis];
  guint n = 0;

  own->fit_tail = 1;
  for (guint i = 0; i < own->taken->len; i++)
    {
      if (!ml_slip_leaves_mark (own->misread[i].slip))
        doubts[i] = 0;
      n += doubts[i] == 0;
    }
  if (!n)
    return;
  own->fit_tail = ml_case_fit_tail (own, ml_case_leader (own), doubts, n);
  if (own->best_pair >= 0 || ml_dictionary_hypothesis (own->dictionary, own->best_item)->explains != ML_EXPLAINS_HEALTHY)
    return;
  for (guint h = 0; h < own->dictionary->hypotheses->len && own->fit_tail < ml_assumption ("gate.probability"); h++)
    if (own->hypothesis_probability[h] >= least && g_array_index (own->dictionary->hypotheses, MlHypothesis, h).explains == ML_EXPLAINS_FAULT)
      own->fit_tail = MAX (own->fit_tail, ml_case_fit_tail (own, ml_case_expansion (own, ml_case_best_of (own, h)), doubts, n));
}

/* A leader that does not fit the readings is no better than the drawing: part of its probability goes to the misfit. So it does where the drawing is
 * taken to be wrong and the board to be faulty: there are too many such pairs for all to be looked at, and another one may fit as well. */
static void
doubt_all (MlCase *own)
{
  double share = ml_assumption ("gate.misfit"), keep;
  gboolean drawn = own->best_pair >= 0 && ml_pair_is_drawn (own, &g_array_index (own->pairs, MlPair, own->best_pair));

  if ((own->fit_tail >= ml_assumption ("gate.probability") && !drawn) || own->misfit_probability >= share)
    return;
  keep = (1 - share) / (1 - own->misfit_probability);
  own->misfit_probability = share;
  own->drawing_probability *= keep;
  for (guint i = 0; i < own->dictionary->n_items; i++)
    own->probability[i] *= keep;
  for (guint h = 0; h < own->dictionary->hypotheses->len; h++)
    own->hypothesis_probability[h] *= keep;
  for (guint i = 0; i < own->pairs->len; i++)
    g_array_index (own->pairs, MlPair, i).probability *= keep;
  for (guint i = 0; i < own->job->board->n_parts; i++)
    own->part_probability[i] *= keep;
}

static gboolean
finish (MlVerdict *verdict, MlCase *own, guint stage, GCancellable *cancellable, GError **error)
{
  g_autofree gboolean *cleared = NULL;

  find_fit (own);
  doubt_all (own);
  if (stage >= 2)
    {
      cleared = g_new0 (gboolean, MAX (own->job->board->n_parts, 1));
      if (!ml_case_cleared (own, cleared, cancellable, error))
        return FALSE;
    }
  ml_case_keep_fits (own);
  ml_verdict_fill (verdict, own, cleared);
  if (stage >= 1)
    {
      verdict->next = ml_case_next (own, &verdict->n_next, cancellable, error);
      if (!verdict->next)
        return FALSE;
      verdict->readings_left = own->readings_left;
      verdict->untold = own->untold;
    }
  ml_verdict_find_blind (verdict, own);
  ml_verdict_find_cautions (verdict, own);
  ml_verdict_say (verdict, own);
  verdict->stage = MIN (stage, 2);
  return TRUE;
}

/* Everything that may be the case weighed anew at its fit, two faults apart. FALSE: cancelled. */
static gboolean
settle (MlCase *own, guint stage, GCancellable *cancellable, GError **error)
{
  return ml_case_refine (own, cancellable, error) && ml_case_refine_flips (own, cancellable, error) && ml_case_refine_on_bench (own, cancellable, error)
         && (stage < 2 || (ml_case_refine_more (own, cancellable, error) && ml_case_find_wrong_nets (own, cancellable, error)))
         && ml_case_refine_inputs (own, cancellable, error)
         && ml_case_exchange_fits (own, cancellable, error) && ml_case_refine_on_new_bench (own, cancellable, error)
         && ml_case_weigh_coincidences (own, ml_assumption ("block.coincidence"));
}

/* Where the readings of a whole condition may have been taken otherwise, the case as it is then, when that is likelier; NULL: it is not. FALSE: cancelled. */
static gboolean
settle_otherwise (MlCase *own, guint stage, MlCase **ret_otherwise, GCancellable *cancellable, GError **error)
{
  MlConditionSlip what;
  MlCase *other;
  double ln_prior, ln;

  *ret_otherwise = NULL;
  if (!ml_case_doubt_conditions (own, &what, &ln_prior, cancellable, error))
    return FALSE;
  if (what.slip == ML_SLIP_NONE)
    return TRUE;
  other = ml_case_new (own->dictionary, own->job, own->unit, own->pass);
  other->goods = own->goods;
  ml_case_take_otherwise (other, &what);
  if (!ml_case_fill (other, cancellable, error))
    {
      ml_case_free (other);
      return FALSE;
    }
  ml_case_update (other);
  if (!settle (other, stage, cancellable, error))
    {
      ml_case_free (other);
      return FALSE;
    }
  ln = ml_case_ln_total (other) + ln_prior - ml_case_ln_total (own);
  if (ln <= 0)
    {
      ml_case_free (other);
      return TRUE;
    }
  other->condition_slip->probability = 1 / (1 + exp (-ln));
  *ret_otherwise = other;
  return TRUE;
}

static MlVerdict *
conclude (MlCase *own, guint stage, GCancellable *cancellable, GError **error)
{
  MlVerdict *verdict = ml_verdict_new (own->job, own->unit, own->pass);

  if (!finish (verdict, own, stage, cancellable, error))
    g_clear_pointer (&verdict, ml_verdict_unref);
  else if (stage > 0)
    ml_case_keep_judged (own);
  return verdict;
}

static MlVerdict *
run (MlJudge *judge, MlJob *job, int unit, guint pass, guint stage, GCancellable *cancellable, GError **error)
{
  MlDictionary *dictionary;
  MlVerdict *verdict = NULL;
  MlCase *own, *named, *otherwise = NULL;

  dictionary = ml_judge_find (judge, job, &unit, &pass, cancellable, error);
  if (!dictionary)
    return NULL;
  named = own = ml_case_new (dictionary, job, unit, pass);
  own->goods = judge->goods;
  if (ml_case_fill (own, cancellable, error))
    {
      ml_case_update (own);
      if (stage == 0
          || (ml_case_misread_conditions (own, cancellable, error) && settle (own, stage, cancellable, error)
              && settle_otherwise (own, stage, &otherwise, cancellable, error)))
        {
          own = otherwise ? otherwise : own;
          if (stage == 0
              || (ml_case_misread (own, cancellable, error)
                  && (stage < 2 /* two faults leave better fits of either */
                      || (ml_case_find_pairs (own, cancellable, error) && ml_case_weigh_coincidences (own, ml_assumption ("block.coincidence"))))))
            verdict = conclude (own, stage, cancellable, error);
        }
    }
  ml_case_free (otherwise);
  ml_case_free (named); /* last: the dictionary remembers what was made of the readings as they were named */
  return verdict;
}

/* What find_dictionary would give, where that takes no fitting of good units and no solving; else NULL. */
static MlDictionary *
known_dictionary (MlJudge *judge, const MlJob *job, int unit, guint pass)
{
  g_autoptr (MlVariant) variant = find_variant (judge, job, unit, pass, FALSE);
  g_autofree char *own_key = variant ? variant_key (job, variant) : NULL;
  g_autoptr (GString) key = g_string_new (own_key);

  if (!variant)
    return NULL;
  for (guint i = 0; i < job->n_units; i++)
    {
      const gboolean counts = (int) i != unit && job->units[i].state == ML_UNIT_STATE_GOOD;
      g_autoptr (MlVariant) good = counts ? find_variant (judge, job, (int) i, ml_job_last_pass (job, (int) i), FALSE) : NULL;
      g_autofree char *good_key = good ? unit_key (job, good) : NULL;

      if (counts && !good)
        return NULL;

      if (good_key)
        g_string_append_printf (key, "|%s", good_key);
    }
  if (!key->len)
    return judge->prepared && !(judge->goods && judge->goods->len) ? judge->base : NULL;
  return judge->variant && judge->variant->prepared && g_strcmp0 (judge->variant_key, key->str) == 0 ? judge->variant : NULL;
}

static MlVerdict *
glance (MlJudge *judge, MlJob *job, int unit, guint pass)
{
  MlDictionary *dictionary = find_unit (judge, job, &unit, &pass, NULL) ? known_dictionary (judge, job, unit, pass) : NULL;
  MlVerdict *verdict = NULL;
  MlCase *own;

  if (!dictionary)
    return NULL;
  own = ml_case_new (dictionary, job, unit, pass);
  own->goods = judge->goods;
  if (ml_case_glance (own))
    {
      verdict = ml_verdict_new (job, unit, pass);
      finish (verdict, own, 0, NULL, NULL);
    }
  ml_case_free (own);
  return verdict;
}

MlVerdict *
ml_judge_glance (MlJudge *judge, MlJob *job, int unit, guint pass)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlVerdict *verdict = glance (judge, job, unit, pass);

  ml_assumptions_use (before);
  return verdict;
}

MlVerdict *
ml_judge_run (MlJudge *judge, MlJob *job, int unit, guint pass, guint stage, GCancellable *cancellable, GError **error)
{
  GHashTable *before = ml_assumptions_use (judge->assumed);
  MlVerdict *verdict = run (judge, job, unit, pass, stage, cancellable, error);

  ml_assumptions_use (before);
  return verdict;
}
