/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What an unknown chip's pin does. The fit takes the resistance from a pin to the chip's supply and ground as one broad normal distribution of
 * its logarithm, so that it can be linearised. Pins are rather one of two things, an input that takes no current or an output with some
 * tens of ohms, and seldom something between or a dead short. That is put in afterwards: the evidence is multiplied by the mean, over what
 * the readings leave of the resistance, of the density it should have over the one it was given. Both are sums of normal densities, so the
 * mean is a closed form; pins are taken one by one, none for more than a little: it speaks for a chip that does what chips do, but the fit
 * was linear. A pin that the readings say nothing about changes nothing.
 * Two outputs of one chip that drive to the same rail are often made alike: that they stand at nearly the same resistance is then no chance, and
 * needs no connection between them to explain it. The likest go together, in the order of their resistances, each pair weighed the same way. */
#include "verdict/case.h"

#include "verdict/assumptions.h"
#include "verdict/exps.h"

#include <math.h>
#include <string.h>

enum { INPUT, OUTPUT, N_STATES };

void
ml_pin_figures_find (MlPinFigures *ret)
{
  ret->states[INPUT] = (MlPinState){ ml_assumption ("block.input"), log (ml_assumption ("block.input-ohm")), pow (ml_assumption ("block.input-spread"), -2) };
  ret->states[OUTPUT]
    = (MlPinState){ ml_assumption ("block.output"), log (ml_assumption ("block.output-ohm")), pow (ml_assumption ("block.output-spread"), -2) };
  ret->most = exp (ml_assumption ("block.pin-most"));
  ret->node_step = ml_assumption ("block.node-step");
  ret->alike = ml_assumption ("block.alike");
  ret->alike_spread = ml_assumption ("block.alike-spread");
  ret->alike_most = exp (ml_assumption ("block.alike-most"));
  ret->ln_drives_most = log (ml_assumption ("block.drives-most-ohm"));
}

/* Mean of N(z; mean, sigma) / N(z; 0, 1) over z ~ N(m, v), 0 < v <= 1, as e^power times a factor; over = 1 / v, precision = 1 / sigma^2. */
static inline void
find_mean_ratio (double m, double over, double mean, double precision, double *ret_power, double *ret_factor)
{
  double at = mean * precision, per_a = 1 / (over + precision - 1), b = m * over + at;

  *ret_power = (b * b * per_a - m * m * over - mean * at) / 2;
  *ret_factor = sqrt (over * precision * per_a);
}

/* The readings behind an expansion, without the one that seems not to belong to them: it would say something absurd of the pins. */
typedef struct
{
  const MlEvidence *evidence;
  const MlPrediction **predictions;
  int odd;      /* -1: none */
  double *of;   /* C^-1 e_odd */
  double *a;    /* C^-1 d without it */
} Behind;

static void
look_behind (MlCase *own, MlExpansion *at, const MlEvidence *evidence, Behind *ret)
{
  const guint n = evidence->n;

  *ret = (Behind){ evidence, g_new (const MlPrediction *, MAX (n, 1)), -1, g_new0 (double, MAX (n, 1)), g_memdup2 (evidence->a, n * sizeof (double)) };
  for (guint i = 0; i < n; i++)
    {
      ret->predictions[i] = ml_case_predict_at (own, at, g_array_index (own->taken, MlTaken, i).place);
      if (evidence->ln_gross[i] > (ret->odd < 0 ? 0 : evidence->ln_gross[ret->odd]))
        ret->odd = (int) i;
    }
  if (ret->odd < 0)
    return;
  ml_mix_column (evidence->white, n, (guint) ret->odd, ret->of);
  for (guint i = 0; i < n; i++)
    ret->a[i] -= ret->of[i] / ret->of[ret->odd] * evidence->a[ret->odd];
}

static void
behind_clear (Behind *own)
{
  g_free (own->predictions);
  g_free (own->of);
  g_free (own->a);
}

/* The unknowns that are pins and that a reading hangs on: where each signal is among them, -1 where none does; how many. */
static guint
find_signals (const MlCase *own, const Behind *behind, int *ret_at)
{
  guint n = 0;

  for (guint s = 0; s < own->n_signals; s++)
    ret_at[s] = -1;
  for (guint i = 0; i < behind->evidence->n; i++)
    for (guint k = 0; k < behind->predictions[i]->n; k++)
      {
        guint column = behind->predictions[i]->column[k];
        int signal = column < own->dictionary->model->n_unknowns ? own->signal_of[column] : -1;

        if (signal >= 0 && ret_at[signal] < 0)
          ret_at[signal] = (int) n++;
      }
  return n;
}

/* Mean and variance of each one's z as the readings leave it, into the first 2 room numbers of memory[room (n + 3)], which are all 0. */
static void
find_posteriors (const MlCase *own, const Behind *behind, const int *at, guint room, double *memory)
{
  const MlEvidence *evidence = behind->evidence;
  double *mean = memory, *variance = mean + room, *along = variance + room, *slopes = along + room;

  for (guint i = 0; i < evidence->n; i++)
    for (guint k = 0; k < behind->predictions[i]->n; k++)
      {
        guint column = behind->predictions[i]->column[k];
        int signal = column < own->dictionary->model->n_unknowns ? own->signal_of[column] : -1;

        if (signal >= 0)
          slopes[i * room + (guint) at[signal]] = behind->predictions[i]->slope[k];
      }
  ml_evidence_posteriors (evidence->white, behind->a, behind->of, evidence->n, slopes, room, mean, variance, along);
  for (guint s = 0; behind->odd >= 0 && s < room; s++)
    variance[s] += along[s] * along[s] / behind->of[behind->odd];
}

/* Sum of logarithms, taken of the product as long as it can be held. */
typedef struct { double product, ln; } Product;

static void
multiply (Product *own, double factor)
{
  own->product *= factor;
  if (own->product < 1e-200 || own->product > 1e200)
    {
      own->ln += log (own->product);
      own->product = 1;
    }
}

/* An unknown that is a pin, and what the readings leave of its z. */
typedef struct { guint unknown; double mean, variance; } Pin;

/* By how much those make the evidence better or worse: the product of their ratios. memory: four numbers for each. */
static double
ratios_ln (const MlCase *own, const Pin *pins, guint n, double shift, double *memory)
{
  const MlPinFigures *figures = &own->figures.pins;
  double *power = memory, *factor = memory + N_STATES * n;
  Product product = { 1, 0 };

  for (guint i = 0; i < n; i++)
    {
      double spread = own->dictionary->model->unknowns[pins[i].unknown].spread, per_spread = 1 / spread, over = 1 / CLAMP (pins[i].variance, 1e-6, 1);
      double ln_centre = own->ln_centre[pins[i].unknown] + shift;

      for (guint k = 0; k < N_STATES; k++)
        find_mean_ratio (pins[i].mean, over, (figures->states[k].mean - ln_centre) * per_spread, figures->states[k].precision * spread * spread,
                         &power[N_STATES * i + k], &factor[N_STATES * i + k]);
    }
  ml_exps (power, N_STATES * n);
  for (guint i = 0; i < n; i++)
    {
      double ratio = 1;

      for (guint k = 0; k < N_STATES; k++)
        ratio += figures->states[k].share * (power[N_STATES * i + k] * factor[N_STATES * i + k] - 1);
      multiply (&product, MIN (ratio, figures->most));
    }
  return product.ln + log (product.product);
}

/* A pin that drives, as the readings leave it: the logarithm of its resistance, and the variance of that. */
typedef struct { guint unknown; double ln_ohm, variance; } Driver;

static gint
by_resistance (gconstpointer a, gconstpointer b)
{
  const Driver *x = a, *y = b;

  if (x->ln_ohm != y->ln_ohm)
    return x->ln_ohm < y->ln_ohm ? -1 : 1;
  return x->unknown < y->unknown ? -1 : x->unknown > y->unknown;
}

/* Those known well enough to say that they drive; how many. */
static guint
find_drivers (const MlCase *own, const Pin *pins, guint n_pins, double shift, Driver *ret)
{
  guint n = 0;

  for (guint i = 0; i < n_pins; i++)
    {
      double spread = own->dictionary->model->unknowns[pins[i].unknown].spread, ln_ohm = own->ln_centre[pins[i].unknown] + shift + spread * pins[i].mean;
      double square = CLAMP (pins[i].variance, 1e-6, 1) * spread * spread;

      if (ln_ohm <= own->figures.pins.ln_drives_most && square < 1)
        ret[n++] = (Driver){ pins[i].unknown, ln_ohm, square };
    }
  return n;
}

/* By how much it makes the evidence better that two drive alike: their difference in standard deviations of what two broad ones may differ by. */
static double
alike_ratio (const MlCase *own, const Driver *a, const Driver *b)
{
  const MlPinFigures *figures = &own->figures.pins;
  const MlUnknown *unknowns = own->dictionary->model->unknowns;
  double broad = hypot (unknowns[a->unknown].spread, unknowns[b->unknown].spread), variance = (a->variance + b->variance) / (broad * broad);
  double precision = pow (broad / figures->alike_spread, 2) / 2, power, factor;

  find_mean_ratio ((b->ln_ohm - a->ln_ohm) / broad, 1 / variance, 0, precision, &power, &factor);
  return CLAMP (1 + figures->alike * (exp (power) * factor - 1), 1, figures->alike_most);
}

static double
alike_ln (const MlCase *own, const Pin *pins, guint n_pins, double shift)
{
  const MlUnknown *unknowns = own->dictionary->model->unknowns;
  g_autofree Driver *drivers = g_new (Driver, MAX (n_pins, 1));
  guint n = find_drivers (own, pins, n_pins, shift, drivers);
  double ln = 0;

  qsort (drivers, n, sizeof *drivers, by_resistance);
  for (guint i = 1; i < n; i++)
    for (guint j = i; j-- > 0;)
      {
        const MlUnknown *a = &unknowns[drivers[j].unknown], *b = &unknowns[drivers[i].unknown];

        if (a->part == b->part && a->high == b->high && a->condition == b->condition)
          {
            ln += log (alike_ratio (own, &drivers[j], &drivers[i]));
            break;
          }
      }
  return ln;
}

static double
shift_of (const MlCase *own, guint item)
{
  return ((double) ml_model_level (own->dictionary->model, own->dictionary->items[item].node) - 1) * own->figures.pins.node_step;
}

gboolean
ml_case_weighs_pins (const MlCase *own)
{
  return own->dictionary->model->n_levels > 1;
}

double
ml_case_pins_ln (MlCase *own, MlExpansion *at, const MlEvidence *evidence)
{
  double shift = shift_of (own, (guint) at->item), ln;
  g_autofree int *at_signal = NULL;
  g_autofree double *memory = NULL, *posteriors = NULL;
  g_autofree Pin *pins = NULL;
  guint n_pins = 0, n_signals, room;
  Behind behind;

  if (!ml_case_weighs_pins (own))
    return 0;
  at_signal = g_new (int, MAX (own->n_signals, 1));
  look_behind (own, at, evidence, &behind);
  n_signals = find_signals (own, &behind, at_signal);
  pins = g_new (Pin, MAX (n_signals, 1));
  memory = g_new (double, 2 * N_STATES * n_signals + 1);
  room = ml_evidence_posteriors_room (n_signals);
  posteriors = g_new0 (double, room * (evidence->n + 3) + 1);
  find_posteriors (own, &behind, at_signal, room, posteriors);
  for (guint u = 0; u < own->dictionary->model->n_unknowns; u++)
    {
      int signal = own->signal_of[u] >= 0 ? at_signal[own->signal_of[u]] : -1;

      if (signal >= 0 && !ml_case_is_input (own, u, at))
        pins[n_pins++] = (Pin){ u, posteriors[signal], posteriors[room + (guint) signal] };
    }
  behind_clear (&behind);
  ln = ratios_ln (own, pins, n_pins, shift, memory);
  return ln + alike_ln (own, pins, n_pins, shift) + ml_case_inputs_ln (own, at);
}

double
ml_case_grown_pins_ln (const MlCase *own, guint item, const MlWhitened *grown, const MlMixed *mixed, double *memory)
{
  double of_odd = mixed->odd >= 0 ? grown->v[mixed->odd] : 1, a_odd = mixed->odd >= 0 ? grown->a[mixed->odd] : 0, shift = shift_of (own, item), ln;
  g_autofree Pin *pins = g_new (Pin, MAX (grown->n_watched, 1));

  if (mixed->odd >= 0)
    ml_whitened_along (grown, (guint) mixed->odd, memory);
  else
    memset (memory, 0, grown->n_watched * sizeof *memory);
  for (guint k = 0; k < grown->n_watched; k++)
    pins[k] = (Pin){ grown->watched[k], grown->mean[k] - memory[k] * a_odd / of_odd, grown->variance[k] + memory[k] * memory[k] / of_odd };
  ln = ratios_ln (own, pins, grown->n_watched, shift, memory);
  return ln + alike_ln (own, pins, grown->n_watched, shift);
}
