/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/second-system.h"

#include <math.h>
#include <string.h>

#include <kinsol/kinsol.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#define MOST_STEPS 80
#define LONGEST_STEP 200 /* of all unknowns together, V or A */

typedef struct
{
  MlSecondSystem system;
  SUNContext context;
  N_Vector at, ones;
  SUNMatrix jacobian;
  SUNLinearSolver linear;
} Finder;

static int
kinsol_f (N_Vector at, N_Vector f, void *data)
{
  return ml_second_system_f (&((Finder *) data)->system, N_VGetArrayPointer (at), N_VGetArrayPointer (f)) ? 0 : 1;
}

static int
kinsol_slopes (N_Vector at, N_Vector f, SUNMatrix jacobian, void *data, N_Vector one, N_Vector two)
{
  static double a[ML_SECOND_MOST * ML_SECOND_MOST];
  const Finder *finder = data;
  sunindextype n = finder->system.circuit->n - 1;

  if (!ml_second_system_slopes (&finder->system, N_VGetArrayPointer (at), a))
    return 1;
  for (sunindextype r = 0; r < n; r++)
    for (sunindextype c = 0; c < n; c++)
      SM_ELEMENT_D (jacobian, r, c) = a[r * n + c];
  return 0;
}

static void
finder_open (Finder *finder, const MlSecondCircuit *circuit, const long double *start)
{
  sunindextype n = circuit->n - 1;

  *finder = (Finder){ .system = { .circuit = circuit, .start = start } };
  SUNContext_Create (NULL, &finder->context);
  finder->at = N_VNew_Serial (n, finder->context);
  finder->ones = N_VNew_Serial (n, finder->context);
  N_VConst (1, finder->ones);
  finder->jacobian = SUNDenseMatrix (n, n, finder->context);
  finder->linear = SUNLinSol_Dense (finder->at, finder->jacobian, finder->context);
}

static void
finder_close (Finder *finder)
{
  SUNLinSolFree (finder->linear);
  SUNMatDestroy (finder->jacobian);
  N_VDestroy (finder->at);
  N_VDestroy (finder->ones);
  SUNContext_Free (&finder->context);
}

/* One run from x, which moves to where it ends. True at a root as far as double precision goes. */
static bool
run (Finder *finder, long double *x)
{
  int n = finder->system.circuit->n - 1, status;
  double *at = N_VGetArrayPointer (finder->at), norm = INFINITY;
  void *memory = KINCreate (finder->context);

  ml_second_system_weigh (&finder->system, x);
  for (int k = 0; k < n; k++)
    at[k] = (double) x[k + 1];
  KINInit (memory, kinsol_f, finder->at);
  KINSetUserData (memory, finder);
  KINSetLinearSolver (memory, finder->linear, finder->jacobian);
  KINSetJacFn (memory, kinsol_slopes);
  KINSetFuncNormTol (memory, 1e-10);
  KINSetScaledStepTol (memory, 1e-13);
  KINSetNumMaxIters (memory, MOST_STEPS);
  KINSetMaxSetupCalls (memory, 1); /* the exact slopes in every step */
  KINSetMaxNewtonStep (memory, LONGEST_STEP);
  KINSetErrFile (memory, NULL);
  KINSetPrintLevel (memory, 0);
  status = KINSol (memory, finder->at, KIN_LINESEARCH, finder->ones, finder->ones);
  KINGetFuncNorm (memory, &norm);
  KINFree (&memory);
  for (int k = 0; k < n; k++)
    x[k + 1] = at[k];
  return status >= 0 && norm < 1e-8;
}

static bool
take_leak_away (Finder *finder, double leak_s, long double *x)
{
  for (finder->system.leak_s = leak_s; finder->system.leak_s > 1e-13; finder->system.leak_s /= 1000)
    run (finder, x); /* what stops short is a start for the next all the same */
  finder->system.leak_s = 0;
  return run (finder, x) && ml_second_system_sharpen (&finder->system, x);
}

static bool
is_source (const MlSecondKind *kind)
{
  static const char *const words[] = { "battery", "supply", "load-current", "current-source", "chopped-current" };

  for (size_t k = 0; k < sizeof words / sizeof words[0]; k++)
    if (strcmp (kind->word, words[k]) == 0)
      return true;
  return false;
}

/* All sources from nothing to what they are, beside a leak; strides as long as the line search manages. */
static bool
bring_sources_up (Finder *finder, double leak_s, long double *x)
{
  static MlSecondCircuit scaled;
  const MlSecondCircuit *whole = finder->system.circuit;
  long double before[ML_SECOND_MOST];
  double share = 0, stride = 0.1;

  scaled = *whole;
  finder->system.circuit = &scaled;
  finder->system.leak_s = leak_s;
  while (share < 1 && stride > 1e-4)
    {
      double to = fmin (share + stride, 1);
      for (int d = 0; d < whole->n_parts; d++)
        if (is_source (whole->parts[d].kind))
          scaled.parts[d].p[0] = to * whole->parts[d].p[0];
      memcpy (before, x, sizeof before);
      if (run (finder, x))
        {
          share = to;
          stride *= 1.5;
          continue;
        }
      memcpy (x, before, sizeof before);
      stride *= 0.3;
    }
  finder->system.circuit = whole;
  return share >= 1 && take_leak_away (finder, leak_s / 10, x);
}

/* As if each node had a capacitor: implicit steps of time, longer and longer. Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998). */
static bool
let_settle (Finder *finder, double hold, long double *x)
{
  long double anchor[ML_SECOND_MOST];

  finder->system.anchor = anchor;
  for (int k = 0; k < 150 && hold > 1e-13 && hold < 1e6; k++)
    {
      memcpy (anchor, x, sizeof anchor);
      finder->system.hold_s = hold;
      bool found = run (finder, x);
      if (!found)
        memcpy (x, anchor, sizeof anchor);
      hold *= found ? 0.4 : 6;
    }
  finder->system.hold_s = 0;
  return run (finder, x) && ml_second_system_sharpen (&finder->system, x);
}

bool
ml_second_solve_from_nothing (const MlSecondCircuit *circuit, int way, long double *x)
{
  long double start[ML_SECOND_MOST];
  Finder finder;
  bool found = false;

  memcpy (start, x, (size_t) circuit->n * sizeof *start);
  for (int k = 0; k < circuit->n; k++)
    x[k] = circuit->held[k] ? start[k] : 0;
  finder_open (&finder, circuit, start);
  switch (way)
    {
    case 0: found = take_leak_away (&finder, 1e-2, x); break;
    case 1: found = bring_sources_up (&finder, 1e-6, x); break;
    case 2: found = let_settle (&finder, 1, x); break;
    case 3: found = bring_sources_up (&finder, 1e-3, x); break;
    case 4: found = let_settle (&finder, 1e-4, x); break;
    default: break;
    }
  finder_close (&finder);
  return found;
}
