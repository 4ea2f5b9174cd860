/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/modes.h"

#include "board/parameters.h"
#include "verdict/assumptions.h"
#include "verdict/judge.h"
#include "verdict/wrong-part.h"

#include <math.h>
#include <string.h>

/* Which faults a kind can have. Every kind has a joint at each pin, a short and a leak between each pair of pins unless its weight in
 * the table of assumptions is 0; "ends" kinds are open between their two pins, others at any pin. */
typedef struct
{
  MlKind kind;
  gboolean ends;               /* two pins, open means the element between them */
  const char *main_parameter;  /* what drifts; NULL */
  const char *drift;           /* its size grid: "size.NAME-…" */
  const char *reversal;        /* pairs of pins exchanged when fitted turned round, NULL when polar is by two pins or not at all */
} KindModes;

static const KindModes kind_modes[] = {
  { ML_KIND_RESISTOR, TRUE, "value", "resistor", NULL },
  { ML_KIND_LINK, TRUE, NULL, NULL, NULL },
  { ML_KIND_INDUCTOR, TRUE, NULL, NULL, NULL },
  { ML_KIND_CAPACITOR, TRUE, NULL, NULL, NULL },
  { ML_KIND_POTENTIOMETER, FALSE, "value", "resistor", NULL },
  { ML_KIND_THERMISTOR, TRUE, "value", "resistor", NULL },
  { ML_KIND_VARISTOR, TRUE, NULL, NULL, NULL },
  { ML_KIND_TVS, TRUE, NULL, NULL, NULL },
  { ML_KIND_FUSE, TRUE, NULL, NULL, NULL },
  { ML_KIND_COIL, TRUE, "resistance", "coil", NULL },
  { ML_KIND_SWITCH, TRUE, NULL, NULL, NULL },
  { ML_KIND_CHANGEOVER, FALSE, NULL, NULL, NULL },
  { ML_KIND_CONTACT, FALSE, NULL, NULL, NULL },
  { ML_KIND_LAMP, TRUE, NULL, NULL, NULL },
  { ML_KIND_DIODE, TRUE, NULL, NULL, NULL },
  { ML_KIND_LED, TRUE, NULL, NULL, NULL },
  { ML_KIND_ZENER, TRUE, "voltage", "zener", NULL },
  { ML_KIND_BRIDGE, FALSE, NULL, NULL, "plus minus" },
  { ML_KIND_NPN, FALSE, NULL, NULL, "collector emitter" },
  { ML_KIND_PNP, FALSE, NULL, NULL, "collector emitter" },
  { ML_KIND_NMOS, FALSE, NULL, NULL, "drain source" },
  { ML_KIND_PMOS, FALSE, NULL, NULL, "drain source" },
  { ML_KIND_NJFET, FALSE, NULL, NULL, NULL },
  { ML_KIND_PJFET, FALSE, NULL, NULL, NULL },
  { ML_KIND_THYRISTOR, FALSE, NULL, NULL, "anode cathode" },
  { ML_KIND_TRIAC, FALSE, NULL, NULL, NULL },
  { ML_KIND_REGULATOR, FALSE, "voltage", "regulator", "in out" },
  { ML_KIND_ADJUSTABLE, FALSE, "reference", "regulator", "in out" },
  { ML_KIND_SHUNT, FALSE, "reference", "regulator", "cathode anode" },
  { ML_KIND_OPAMP, FALSE, NULL, NULL, NULL },
  { ML_KIND_COMPARATOR, FALSE, NULL, NULL, NULL },
  { ML_KIND_OPTO, FALSE, NULL, NULL, "anode cathode collector emitter" },
  { ML_KIND_CONVERTER, FALSE, "voltage", "regulator", NULL },
  { ML_KIND_BATTERY, TRUE, "voltage", "battery", NULL },
  { ML_KIND_BLOCK, FALSE, NULL, NULL, NULL },
};

static const KindModes *
find_modes (MlKind kind)
{
  for (guint i = 0; i < G_N_ELEMENTS (kind_modes); i++)
    if (kind_modes[i].kind == kind)
      return &kind_modes[i];
  return NULL;
}

const char *
ml_modes_main_parameter (MlKind kind)
{
  const KindModes *modes = find_modes (kind);

  return modes ? modes->main_parameter : NULL;
}

static int
type_pin (const MlNodalType *type, const char *word)
{
  for (int i = 0; i < ml_nodal_type_n_pins (type); i++)
    if (g_str_equal (ml_nodal_type_pin (type, i), word))
      return i;
  return -1;
}

gboolean
ml_modes_reversal (const MlNodalType *type, int *permutation)
{
  const MlKindInfo *info = ml_kind_find (ml_nodal_type_word (type));
  const KindModes *modes = info ? find_modes (info->kind) : NULL;
  g_auto (GStrv) words = NULL;

  if (!modes || !modes->reversal)
    return FALSE;
  words = g_strsplit (modes->reversal, " ", -1);
  for (guint i = 0; words[i] && words[i + 1]; i += 2)
    {
      int a = type_pin (type, words[i]), b = type_pin (type, words[i + 1]);
      if (a < 0 || b < 0)
        return FALSE;
      permutation[a] = b;
      permutation[b] = a;
    }
  return TRUE;
}

/* ---- grids ---- */

static double
assume (const char *grid, const char *what)
{
  g_autofree char *name = g_strdup_printf ("size.%s-%s", grid, what);

  return ml_assumption (name);
}

static void
set_no_size (MlHypothesis *own)
{
  own->cells = g_new (MlCell, 1);
  own->cells[0] = (MlCell){ NAN, 0, 1 };
  own->n_cells = 1;
}

static void
set_one_size (MlHypothesis *own, double centre, double spread)
{
  own->cells = g_new (MlCell, 1);
  own->cells[0] = (MlCell){ centre, spread, 1 };
  own->n_cells = 1;
}

/* Cells equal in the logarithm; the overlapping Gaussians approximate a prior flat in ln size. */
static void
set_grid (MlHypothesis *own, double low, double high, guint n)
{
  double width = log (high / low) / n;

  own->cells = g_new (MlCell, n);
  own->n_cells = n;
  for (guint i = 0; i < n; i++)
    own->cells[i] = (MlCell){ low * exp (width * (i + 0.5)), ml_assumption ("size.cell-share") * width, 1.0 / n };
}

/* What goes on beyond the grid without an end between, a resistor from drifting to an open, a capacitor from a leak to sound: wide cells, seldom met. */
static void
add_far_cells (MlHypothesis *own, double low, double high, guint more, double share)
{
  const double width = log (high / low) / more;
  const guint n = own->n_cells;

  own->cells = g_renew (MlCell, own->cells, n + more);
  for (guint i = 0; i < n; i++)
    own->cells[i].share *= 1 - share;
  for (guint i = 0; i < more; i++)
    own->cells[n + i] = (MlCell){ low * exp (width * (i + 0.5)), ml_assumption ("size.cell-share") * width, share / more };
  own->n_cells = n + more;
}

/* Cells of unequal weight: "size.GRID-share-1" … */
static void
set_shares (MlHypothesis *own, const char *grid)
{
  for (guint i = 0; i < own->n_cells; i++)
    {
      g_autofree char *what = g_strdup_printf ("share-%u", i + 1);
      own->cells[i].share = assume (grid, what);
    }
}

static void
set_drift_grid (MlHypothesis *own, const KindModes *modes)
{
  const char *which = own->fault.kind == ML_FAULT_HIGH ? "high" : "low";
  g_autofree char *grid = NULL;

  if (g_str_equal (modes->drift, "resistor") || g_str_equal (modes->drift, "coil") || g_str_equal (modes->drift, "battery"))
    grid = g_strdup (which);
  else if (g_str_equal (modes->drift, "regulator"))
    grid = g_strdup ("regulator-low");
  else
    grid = g_strdup_printf ("%s-%s", modes->drift, which);
  if (g_str_equal (modes->drift, "zener"))
    set_grid (own, assume (grid, "low"), assume (grid, "high"), (guint) ml_assumption ("size.zener-cells"));
  else
    set_grid (own, assume (grid, "low"), assume (grid, "high"), (guint) assume (which, "cells"));
  if (own->fault.kind == ML_FAULT_HIGH && g_str_equal (modes->drift, "resistor"))
    add_far_cells (own, ml_assumption ("size.high-high"), ml_assumption ("size.high-far"), (guint) ml_assumption ("size.high-far-cells"),
                   ml_assumption ("size.high-far-share"));
}

static void
set_sizes (MlHypothesis *own, const KindModes *modes)
{
  MlFault *fault = &own->fault;

  fault->size_in = ML_SIZE_OHM;
  switch (fault->kind)
    {
    case ML_FAULT_JOINT:
      set_grid (own, ml_assumption ("size.joint-low-ohm"), ml_assumption ("size.open-from-ohm"), (guint) ml_assumption ("size.joint-cells"));
      set_shares (own, "joint");
      break;
    case ML_FAULT_LEAK:
      set_grid (own, ml_assumption ("size.leak-low-ohm"), ml_assumption ("size.leak-high-ohm"), (guint) ml_assumption ("size.leak-cells"));
      set_shares (own, "leak");
      if (modes->kind == ML_KIND_CAPACITOR)
        add_far_cells (own, ml_assumption ("size.leak-high-ohm"), ml_assumption ("size.leak-far-ohm"), 1, ml_assumption ("size.leak-far-share"));
      break;
    case ML_FAULT_SHORT: set_one_size (own, ml_assumption ("size.short-ohm"), ml_assumption ("size.short-spread")); break;
    case ML_FAULT_THROUGH: set_one_size (own, ml_assumption ("size.through-ohm"), ml_assumption ("size.through-spread")); break;
    case ML_FAULT_STUCK_HIGH:
    case ML_FAULT_STUCK_LOW: set_one_size (own, ml_assumption ("size.stuck-ohm"), ml_assumption ("size.stuck-spread")); break;
    case ML_FAULT_HIGH:
    case ML_FAULT_LOW:
      fault->size_in = ML_SIZE_FACTOR;
      set_drift_grid (own, modes);
      break;
    case ML_FAULT_MISBEHAVING:
      fault->size_in = ML_SIZE_NONE;
      set_grid (own, ml_assumption ("block.faulty-low-a"), ml_assumption ("block.faulty-high-a"), (guint) ml_assumption ("block.faulty-cells"));
      break;
    default:
      fault->size_in = ML_SIZE_NONE;
      set_no_size (own);
      break;
    }
}

/* ---- listing ---- */

typedef struct
{
  GArray *list;
  const MlModel *model;
  int part;
  const KindModes *modes;
} Lister;

static void
clear_hypothesis (gpointer data)
{
  MlHypothesis *own = data;

  ml_fault_clear (&own->fault);
  g_free (own->cells);
}

/* A joint in series with a resistance must add a share of it to be a fault at all: below, it moves nothing that tolerance does not
 * move, nobody would mend it, and a sound board would have to compete with it. Its part of the prior goes with it. */
static void
drop_harmless_joints (MlHypothesis *own, const MlPart *part, const KindModes *modes)
{
  MlParameter resistance;
  double kept = 0;
  guint first = 0;

  if (own->fault.kind != ML_FAULT_JOINT || !modes->ends || !modes->main_parameter || g_str_equal (modes->main_parameter, "voltage")
      || !ml_part_parameter (part, modes->main_parameter, &resistance) || !(resistance.centre > 0))
    return;
  while (first + 1 < own->n_cells && own->cells[first].size < ml_assumption ("size.joint-least-share") * resistance.centre)
    first++;
  own->n_cells -= first;
  memmove (own->cells, own->cells + first, own->n_cells * sizeof *own->cells);
  for (guint i = 0; i < own->n_cells; i++)
    kept += own->cells[i].share;
  for (guint i = 0; i < own->n_cells; i++)
    own->cells[i].share /= kept;
  own->prior *= kept;
}

static void
add_fault (Lister *lister, MlFaultKind kind, int pin_a, int pin_b, double share)
{
  MlHypothesis own = { .explains = ML_EXPLAINS_FAULT, .twin = -1 };
  double weight = ml_assumption_weight (lister->model->board->parts[lister->part].kind->kind, kind) * share;

  if (weight <= 0)
    return;
  own.fault = (MlFault){ .part = lister->part, .kind = kind, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  if (pin_a >= 0)
    own.fault.pins[own.fault.n_pins++] = pin_a;
  if (pin_b >= 0)
    own.fault.pins[own.fault.n_pins++] = pin_b;
  own.prior = weight;
  set_sizes (&own, lister->modes);
  drop_harmless_joints (&own, &lister->model->board->parts[lister->part], lister->modes);
  g_array_append_val (lister->list, own);
}

static gboolean
has_net (const Lister *lister, guint pin)
{
  return lister->model->board->parts[lister->part].pins[pin].net >= 0 && lister->model->pins[lister->part][pin].device >= 0;
}

static gboolean
is_bridgeable (const Lister *lister, guint a, guint b)
{
  const MlPart *part = &lister->model->board->parts[lister->part];

  return has_net (lister, a) && has_net (lister, b) && part->pins[a].net != part->pins[b].net
         && lister->model->pins[lister->part][a].device == lister->model->pins[lister->part][b].device;
}

/* A block's signal pin that is open reads the same as a sound chip that holds the pin open: no fault that readings could show. */
static gboolean
opens (const Lister *lister, guint pin)
{
  const MlPart *part = &lister->model->board->parts[lister->part];

  return has_net (lister, pin) && (part->kind->kind != ML_KIND_BLOCK || (int) pin == part->supply_pin || (int) pin == part->ground_pin);
}

/* Whose joint at which pin reads the same from the solder: at the throw, as that of the common pin is in series with the other throw, too. */
static int
joint_at (const Lister *lister, guint first, int pin)
{
  for (guint i = first; i < lister->list->len; i++)
    {
      const MlHypothesis *own = &g_array_index (lister->list, MlHypothesis, i);

      if (own->fault.kind == ML_FAULT_JOINT && own->fault.pins[0] == pin)
        return own->twin >= 0 ? own->twin : (int) i;
    }
  return -1;
}

/* A switch's and a relay's contacts wear and burn. */
static void
add_worn_contacts (Lister *lister, guint first)
{
  const MlPart *part = &lister->model->board->parts[lister->part];
  guint n_joints = lister->list->len;

  for (guint b = 1; ml_part_wears (part) && b < part->n_pins; b++)
    if (has_net (lister, 0) && has_net (lister, b))
      {
        guint before = lister->list->len;

        add_fault (lister, ML_FAULT_JOINT, 0, (int) b, ml_assumption ("weight.worn-share"));
        if (lister->list->len > before)
          set_shares (&g_array_index (lister->list, MlHypothesis, before), "worn");
        if (lister->list->len > before && first < n_joints)
          g_array_index (lister->list, MlHypothesis, before).twin = joint_at (lister, first, (int) b);
      }
}

static void
add_pin_faults (Lister *lister)
{
  const MlPart *part = &lister->model->board->parts[lister->part];
  guint first = lister->list->len;

  if (lister->modes->ends && part->n_pins == 2 && has_net (lister, 0) && has_net (lister, 1))
    add_fault (lister, ML_FAULT_OPEN, 0, 1, 1);
  for (guint p = 0; p < part->n_pins && !lister->modes->ends; p++)
    if (opens (lister, p))
      add_fault (lister, ML_FAULT_OPEN, p, -1, 1);
  first = lister->list->len;
  for (guint p = 0; p < part->n_pins; p++)
    if (has_net (lister, p))
      add_fault (lister, ML_FAULT_JOINT, p, -1, 1);
  /* Seen from the solder, a joint at one end of a two-pin part reads as one at the other. */
  if (part->n_pins == 2 && lister->list->len == first + 2)
    g_array_index (lister->list, MlHypothesis, first + 1).twin = first;
  add_worn_contacts (lister, first);
}

/* From a regulator's output to ground or input: the first reads as whatever else hangs there, the second is "through". */
static gboolean
is_regulator_output (const MlPart *part, guint a, guint b)
{
  int out = part->kind->kind == ML_KIND_REGULATOR ? ml_part_find_pin (part, "out") : -1;

  return out >= 0 && ((int) a == out || (int) b == out);
}

static void
add_pair_faults (Lister *lister)
{
  const MlPart *part = &lister->model->board->parts[lister->part];

  for (guint a = 0; a < part->n_pins; a++)
    for (guint b = a + 1; b < part->n_pins; b++)
      if (is_bridgeable (lister, a, b) && !is_regulator_output (part, a, b))
        {
          add_fault (lister, ML_FAULT_SHORT, a, b, 1);
          add_fault (lister, ML_FAULT_LEAK, a, b, 1);
        }
}

/* Inside a chip that nobody knows, what a person finds with the supply in its limit: its supply is joined to its ground. */
static void
add_chip_shorts (Lister *lister)
{
  const MlPart *part = &lister->model->board->parts[lister->part];
  int supply = part->supply_pin, ground = part->ground_pin;

  if (part->kind->kind != ML_KIND_BLOCK || supply < 0 || ground < 0 || !has_net (lister, supply) || !has_net (lister, ground)
      || part->pins[supply].net == part->pins[ground].net)
    return;
  add_fault (lister, ML_FAULT_SHORT, supply, ground, 1);
  add_fault (lister, ML_FAULT_LEAK, supply, ground, 1);
}

/* A chip with a pin on a chopped net is what makes it so. */
static gboolean
is_switching (const Lister *lister)
{
  const MlPart *part = &lister->model->board->parts[lister->part];

  for (guint p = 0; lister->model->n_states > 1 && p < part->n_pins; p++)
    if (part->pins[p].net >= 0 && lister->model->chopped->nets[part->pins[p].net])
      return TRUE;
  return FALSE;
}

static void
add_kind_faults (Lister *lister)
{
  const MlPart *part = &lister->model->board->parts[lister->part];
  const MlNodalType *type = ml_model_type (lister->model, lister->part);
  MlKind kind = part->kind->kind;
  int in = ml_part_find_pin (part, "in"), out = ml_part_find_pin (part, "out");

  if (lister->modes->main_parameter && type && ml_nodal_type_find_parameter (type, lister->modes->main_parameter) >= 0)
    {
      if (g_str_equal (lister->modes->drift, "resistor") || g_str_equal (lister->modes->drift, "zener"))
        add_fault (lister, ML_FAULT_HIGH, -1, -1, 1);
      add_fault (lister, ML_FAULT_LOW, -1, -1, 1);
    }
  if ((kind == ML_KIND_REGULATOR || kind == ML_KIND_ADJUSTABLE || kind == ML_KIND_CONVERTER) && in >= 0 && out >= 0)
    {
      add_fault (lister, ML_FAULT_DEAD, -1, -1, 1);
      add_fault (lister, ML_FAULT_THROUGH, -1, -1, 1);
    }
  if ((kind == ML_KIND_OPAMP || kind == ML_KIND_COMPARATOR) && out >= 0)
    {
      if (ml_part_find_pin (part, "positive") >= 0)
        add_fault (lister, ML_FAULT_STUCK_HIGH, -1, -1, 1);
      if (ml_part_find_pin (part, "negative") >= 0)
        add_fault (lister, ML_FAULT_STUCK_LOW, -1, -1, 1);
    }
  add_chip_shorts (lister);
  if (kind == ML_KIND_BLOCK)
    add_fault (lister, ML_FAULT_MISBEHAVING, -1, -1, 1);
  if (kind == ML_KIND_BLOCK && is_switching (lister))
    add_fault (lister, ML_FAULT_STOPPED, -1, -1, 1);
  if (part->kind->polar && type && (ml_nodal_type_n_pins (type) == 2 || lister->modes->reversal) && kind != ML_KIND_CAPACITOR)
    add_fault (lister, ML_FAULT_REVERSED, -1, -1, 1);
}

static void
add_wrong_part (Lister *lister)
{
  MlHypothesis own;

  if (ml_model_type (lister->model, lister->part) && ml_wrong_part_hypothesis (lister->model, lister->part, &own))
    g_array_append_val (lister->list, own);
}

/* ---- the whole list ---- */

static void
add_healthy (GArray *list)
{
  MlHypothesis own = { .explains = ML_EXPLAINS_HEALTHY, .twin = -1 };

  own.fault = (MlFault){ .part = -1, .kind = ML_N_FAULTS, .net_a = -1, .net_b = -1, .size = NAN, .size_low = NAN, .size_high = NAN };
  set_no_size (&own);
  g_array_append_val (list, own);
}

/* Healthy, misfit and slips have priors of their own; the faults share the rest by weight. */
static void
share_priors (GArray *list, guint n_faults)
{
  double healthy = ml_assumption ("prior.healthy"), rest = 1 - healthy - ml_assumption ("prior.misfit"), total = 0;

  for (guint i = n_faults; i < list->len; i++)
    rest -= g_array_index (list, MlHypothesis, i).prior;
  for (guint i = 1; i < n_faults; i++)
    total += g_array_index (list, MlHypothesis, i).prior;
  g_array_index (list, MlHypothesis, 0).prior = total > 0 ? healthy : healthy + rest;
  for (guint i = 1; i < n_faults; i++)
    g_array_index (list, MlHypothesis, i).prior *= rest / total;
}

GArray *
ml_modes_list (const MlModel *model)
{
  GArray *list = g_array_new (FALSE, FALSE, sizeof (MlHypothesis));
  guint n_faults;

  g_array_set_clear_func (list, clear_hypothesis);
  add_healthy (list);
  for (guint i = 0; i < model->board->n_parts; i++)
    {
      Lister lister = { list, model, i, find_modes (model->board->parts[i].kind->kind) };

      if (!lister.modes || model->first_device[i] < 0 || model->removed[i])
        continue;
      add_pin_faults (&lister);
      add_pair_faults (&lister);
      add_kind_faults (&lister);
      add_wrong_part (&lister);
    }
  ml_modes_list_links (list, model);
  n_faults = list->len;
  ml_modes_list_slips (list, model);
  share_priors (list, n_faults);
  ml_modes_list_late_slips (list, model);
  return list;
}
