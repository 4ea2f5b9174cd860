/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/verdict.h"

static const char *const fault_words[ML_N_FAULTS] = {
  [ML_FAULT_OPEN] = "open",
  [ML_FAULT_JOINT] = "joint",
  [ML_FAULT_SHORT] = "short",
  [ML_FAULT_LEAK] = "leak",
  [ML_FAULT_HIGH] = "high",
  [ML_FAULT_LOW] = "low",
  [ML_FAULT_REVERSED] = "reversed",
  [ML_FAULT_DEAD] = "dead",
  [ML_FAULT_THROUGH] = "through",
  [ML_FAULT_STUCK_HIGH] = "stuck-high",
  [ML_FAULT_STUCK_LOW] = "stuck-low",
  [ML_FAULT_MISBEHAVING] = "misbehaving",
  [ML_FAULT_STOPPED] = "stopped",
  [ML_FAULT_WRONG_PART] = "wrong-part",
  [ML_FAULT_STRAY_LINK] = "stray-link",
  [ML_FAULT_BROKEN_TRACK] = "broken-track",
  [ML_FAULT_PINS_EXCHANGED] = "pins-exchanged",
  [ML_FAULT_DRAWN_REVERSED] = "drawn-reversed",
  [ML_FAULT_MISSING_LINK] = "missing-link",
  [ML_FAULT_EXTRA_LINK] = "extra-link",
  [ML_FAULT_WRONG_NET] = "wrong-net",
};

const char *
ml_fault_word (MlFaultKind kind)
{
  return (guint) kind < ML_N_FAULTS ? fault_words[kind] : "";
}

int
ml_fault_find (const char *word)
{
  for (int i = 0; i < ML_N_FAULTS; i++)
    if (g_str_equal (word, fault_words[i]))
      return i;
  return -1;
}

const char *
ml_verdict_word (MlVerdictWord word)
{
  switch (word)
    {
    case ML_VERDICT_CLEARED: return "cleared";
    case ML_VERDICT_POSSIBLE: return "possible";
    case ML_VERDICT_SUSPECT: return "suspect";
    case ML_VERDICT_UNPROVEN:
    default: return "unproven";
    }
}

char *
ml_verdict_percent (double probability)
{
  if (probability < 0.01)
    return g_strdup ("under 1 %");
  if (probability >= 0.995)
    return g_strdup ("over 99 %");
  return g_strdup_printf ("%.0f %%", 100 * probability);
}

const char *
ml_slip_word (MlSlip slip)
{
  switch (slip)
    {
    case ML_SLIP_SWAPPED: return "swapped";
    case ML_SLIP_THOUSANDFOLD: return "thousandfold";
    case ML_SLIP_WRONG_PIN: return "wrong-pin";
    case ML_SLIP_WRONG_CONDITION: return "wrong-condition";
    case ML_SLIP_UNCLEAR: return "unclear";
    case ML_SLIP_NONE:
    default: return NULL;
    }
}
