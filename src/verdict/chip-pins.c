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

#include <math.h>
#include <string.h>

enum { INPUT, OUTPUT };

void
ml_pin_figures_find (MlPinFigures *ret)
{
  ret->states[INPUT] = (MlPinState){ ml_assumption ("block.input"), log (ml_assumption ("block.input-ohm")), ml_assumption ("block.input-spread") };
  ret->states[OUTPUT] = (MlPinState){ ml_assumption ("block.output"), log (ml_assumption ("block.output-ohm")), ml_assumption ("block.output-spread") };
  ret->most = exp (ml_assumption ("block.pin-most"));
  ret->node_step = ml_assumption ("block.node-step");
  ret->alike = ml_assumption ("block.alike");
  ret->alike_spread = ml_assumption ("block.alike-spread");
  ret->alike_most = exp (ml_assumption ("block.alike-most"));
  ret->ln_drives_most = log (ml_assumption ("block.drives-most-ohm"));
}

/* Mean of N(z; mean, sigma) / N(z; 0, 1) over z ~ N(m, v), 0 < v <= 1; over = 1 / v. */
static double
mean_ratio (double m, double v, double over, double mean, double sigma)
{
  double square = sigma * sigma, at = mean / square, a = over + 1 / square - 1, b = m * over + at;

  return exp ((b * b / a - m * m * over - mean * at) / 2) / sqrt (v * square * a);
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

/* The slopes of the readings in the unknowns that are pins: [n_signals * n], and whether any is there. */
static double *
find_slopes (const MlCase *own, const Behind *behind, gboolean *ret_any)
{
  guint n = behind->evidence->n;
  double *slopes = g_new0 (double, MAX (own->n_signals * n, 1));

  for (guint i = 0; i < n; i++)
    for (guint k = 0; k < behind->predictions[i]->n; k++)
      {
        guint column = behind->predictions[i]->column[k];
        int signal = column < own->dictionary->model->n_unknowns ? own->signal_of[column] : -1;

        if (signal >= 0)
          {
            slopes[(guint) signal * n + i] = behind->predictions[i]->slope[k];
            ret_any[signal] = TRUE;
          }
      }
  return slopes;
}

/* Mean and variance of an unknown's z as the readings leave it: 1 - |L^-1 h|^2. */
static void
find_posterior (const Behind *own, const double *slopes, double *ret_mean, double *ret_variance)
{
  double mean = 0, variance = 1, along = 0;

  for (guint i = 0; i < own->evidence->n; i++)
    {
      const double *row = own->evidence->white + ml_white_at (i);
      double y = 0;

      for (guint k = 0; k <= i; k++)
        y += row[k] * slopes[k];
      variance -= y * y;
      mean += slopes[i] * own->a[i];
      along += slopes[i] * own->of[i];
    }
  if (own->odd >= 0)
    variance += along * along / own->of[own->odd];
  *ret_mean = mean;
  *ret_variance = variance;
}

/* By how much an unknown whose z the readings leave with that mean and variance makes the evidence better or worse. */
static double
pin_ratio (const MlCase *own, guint unknown, double shift, double mean, double variance)
{
  const MlPinFigures *figures = &own->figures.pins;
  double over_spread = 1 / own->dictionary->model->unknowns[unknown].spread, ln_centre = own->ln_centre[unknown] + shift, ratio = 1;
  double v = CLAMP (variance, 1e-6, 1), over = 1 / v;

  for (guint k = 0; k < G_N_ELEMENTS (figures->states); k++)
    {
      const MlPinState *state = &figures->states[k];
      ratio += state->share * (mean_ratio (mean, v, over, (state->mean - ln_centre) * over_spread, state->sigma * over_spread) - 1);
    }
  return MIN (ratio, figures->most);
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

/* Notes an unknown when it is known well enough to say that it drives. */
static void
note_driver (const MlCase *own, guint unknown, double shift, double mean, double variance, Driver *drivers, guint *n)
{
  const MlUnknown *it = &own->dictionary->model->unknowns[unknown];
  double ln_ohm = own->ln_centre[unknown] + shift + it->spread * mean, square = CLAMP (variance, 1e-6, 1) * it->spread * it->spread;

  if (ln_ohm <= own->figures.pins.ln_drives_most && square < 1)
    drivers[(*n)++] = (Driver){ unknown, ln_ohm, square };
}

/* By how much it makes the evidence better that two drive alike: their difference in standard deviations of what two broad ones may differ by. */
static double
alike_ratio (const MlCase *own, const Driver *a, const Driver *b)
{
  const MlPinFigures *figures = &own->figures.pins;
  const MlUnknown *unknowns = own->dictionary->model->unknowns;
  double broad = hypot (unknowns[a->unknown].spread, unknowns[b->unknown].spread), variance = (a->variance + b->variance) / (broad * broad);
  double ratio = mean_ratio ((b->ln_ohm - a->ln_ohm) / broad, variance, 1 / variance, 0, G_SQRT2 * figures->alike_spread / broad);

  return CLAMP (1 + figures->alike * (ratio - 1), 1, figures->alike_most);
}

static double
alike_ln (const MlCase *own, Driver *drivers, guint n)
{
  const MlUnknown *unknowns = own->dictionary->model->unknowns;
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
  double shift = shift_of (own, (guint) at->item);
  Product product = { 1, 0 };
  g_autofree gboolean *any = NULL;
  g_autofree double *slopes = NULL;
  g_autofree Driver *drivers = NULL;
  guint n_drivers = 0;
  Behind behind;

  if (!ml_case_weighs_pins (own))
    return 0;
  drivers = g_new (Driver, MAX (own->n_signals, 1));
  any = g_new0 (gboolean, MAX (own->n_signals, 1));
  look_behind (own, at, evidence, &behind);
  slopes = find_slopes (own, &behind, any);
  for (guint u = 0; u < own->dictionary->model->n_unknowns; u++)
    if (own->signal_of[u] >= 0 && any[own->signal_of[u]] && !ml_case_is_input (own, u, at))
      {
        double mean, variance;

        find_posterior (&behind, slopes + (guint) own->signal_of[u] * evidence->n, &mean, &variance);
        multiply (&product, pin_ratio (own, u, shift, mean, variance));
        note_driver (own, u, shift, mean, variance, drivers, &n_drivers);
      }
  behind_clear (&behind);
  return product.ln + log (product.product) + alike_ln (own, drivers, n_drivers) + ml_case_inputs_ln (own, at);
}

double
ml_case_grown_pins_ln (const MlCase *own, guint item, const MlWhitened *grown, const MlMixed *mixed, double *memory)
{
  double shift = shift_of (own, item), of_odd = mixed->odd >= 0 ? grown->v[mixed->odd] : 1, a_odd = mixed->odd >= 0 ? grown->a[mixed->odd] : 0;
  Product product = { 1, 0 };
  g_autofree Driver *drivers = g_new (Driver, MAX (grown->n_watched, 1));
  guint n_drivers = 0;

  if (mixed->odd >= 0)
    ml_whitened_along (grown, (guint) mixed->odd, memory);
  else
    memset (memory, 0, grown->n_watched * sizeof *memory);
  for (guint k = 0; k < grown->n_watched; k++)
    {
      double mean = grown->mean[k] - memory[k] * a_odd / of_odd, variance = grown->variance[k] + memory[k] * memory[k] / of_odd;

      multiply (&product, pin_ratio (own, grown->watched[k], shift, mean, variance));
      note_driver (own, grown->watched[k], shift, mean, variance, drivers, &n_drivers);
    }
  return product.ln + log (product.product) + alike_ln (own, drivers, n_drivers);
}
