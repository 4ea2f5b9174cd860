/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "verdict/model.h"

#include "verdict/assumptions.h"
#include "verdict/judge.h"
#include "verdict/modes.h"
#include "verdict/wrong-part.h"

#include <math.h>

/* Sizes taken when a supposed fault names none. */
#define DEFAULT_JOINT_OHM 300.0
#define DEFAULT_LEAK_OHM 1000.0
#define DEFAULT_LINK_OHM 0.0

MlChanges *
ml_changes_new (void)
{
  MlChanges *changes = g_new (MlChanges, 1);

  changes->array = g_array_new (FALSE, TRUE, sizeof (MlNodalChange));
  changes->owned = g_ptr_array_new_with_free_func (g_free);
  return changes;
}

void
ml_changes_free (MlChanges *changes)
{
  g_array_unref (changes->array);
  g_ptr_array_unref (changes->owned);
  g_free (changes);
}

void
ml_changes_clear (MlChanges *changes)
{
  g_array_set_size (changes->array, 0);
  g_ptr_array_set_size (changes->owned, 0);
}

void
ml_changes_add (MlChanges *changes, MlNodalChangeKind kind, int device, int index, int index_b, double value)
{
  MlNodalChange change = { .kind = kind, .device = device, .index = index, .index_b = index_b, .value = value };

  g_array_append_val (changes->array, change);
}

void
ml_changes_add_unknowns (MlChanges *changes, const MlModel *model, int condition, guint node, const double *z)
{
  const MlModelCondition *own = &model->conditions[condition];

  for (guint i = 0; i < own->n_refs; i++)
    {
      const MlUnknown *unknown = &model->unknowns[own->unknown[i]];
      double value = ml_model_parameter_value (model, own->unknown[i], z, node);

      if (value != unknown->centre && !unknown->leak && !unknown->chopped)
        ml_changes_add (changes, ML_NODAL_SET_PARAMETER, unknown->device, unknown->parameter, 0, value);
    }
}

/* ---- free average currents ---- */

static gboolean
cuts_off (const MlFault *fault, int part)
{
  for (guint i = 0; i < fault->n_cut; i++)
    if ((int) fault->cut_parts[i] == part)
      return TRUE;
  return FALSE;
}

/* Whether the pulses end at the fault: an open or turned part, an open resistor before its input, one on other nets, a short between a transistor's input and its other pins, and a
 * chip that does not switch whatever it drives. */
static gboolean
ends_switching (const MlModel *model, const MlFault *fault, int part)
{
  const MlChoppedPath *path = &g_array_index (model->chopped->paths[part], MlChoppedPath, 0);

  if (fault->kind == ML_FAULT_STOPPED || cuts_off (fault, part) || (fault->kind == ML_FAULT_OPEN && fault->part >= 0 && fault->part == model->chopped->drive[part]))
    return TRUE;
  if (fault->part != part || model->board->parts[part].kind->kind == ML_KIND_BLOCK
      || (fault->kind == ML_FAULT_WRONG_PART && ml_is_of_other_type (&model->board->parts[part])))
    return FALSE;
  switch (fault->kind)
    {
    case ML_FAULT_OPEN: case ML_FAULT_REVERSED: case ML_FAULT_PINS_EXCHANGED: case ML_FAULT_DRAWN_REVERSED: case ML_FAULT_WRONG_PART: case ML_FAULT_WRONG_NET:
      return TRUE;
    case ML_FAULT_SHORT:
      for (guint i = 0; i < fault->n_pins; i++)
        if (fault->pins[i] != path->from && fault->pins[i] != path->to)
          return TRUE;
      return FALSE;
    default:
      return FALSE;
    }
}

static gboolean
is_part_free (const MlModel *model, int part, int condition, guint node, const MlFault *const *faults, guint n)
{
  if (!ml_model_runs (model, node, condition))
    return FALSE;
  for (guint i = 0; i < n; i++)
    if (ends_switching (model, faults[i], part))
      return FALSE;
  return TRUE;
}

gboolean
ml_model_is_free (const MlModel *model, guint unknown, guint node, const MlFault *const *faults, guint n)
{
  return is_part_free (model, model->unknowns[unknown].part, model->unknowns[unknown].condition, node, faults, n);
}

/* A transistor's or amplifier's own law has no say in its average, that of its input has. */
static void
open_output (MlChanges *changes, const MlModel *model, int part)
{
  MlKind kind = model->board->parts[part].kind->kind;

  if (kind == ML_KIND_NMOS || kind == ML_KIND_PMOS || kind == ML_KIND_OPAMP || kind == ML_KIND_COMPARATOR)
    ml_changes_add (changes, ML_NODAL_OPEN_ELEMENT, model->first_device[part], 0, 0, INFINITY);
  else if (kind == ML_KIND_NPN || kind == ML_KIND_PNP)
    ml_changes_add (changes, ML_NODAL_OPEN_ELEMENT, model->first_device[part], 1, 0, INFINITY); /* base and collector */
}

void
ml_changes_add_switching (MlChanges *changes, const MlModel *model, int condition, guint node, const double *z, const double *more,
                          const MlFault *const *faults, guint n)
{
  const MlModelCondition *own = &model->conditions[condition];

  for (guint i = 0; i < own->n_refs; i++)
    {
      const MlUnknown *unknown = &model->unknowns[own->unknown[i]];

      if (unknown->chopped && ml_model_is_free (model, own->unknown[i], node, faults, n))
        ml_changes_add (changes, ML_NODAL_SET_PARAMETER, unknown->device, unknown->parameter, 0,
                        (more ? more[own->unknown[i]] : 1) * ml_model_parameter_value (model, own->unknown[i], z, node));
    }
  for (guint i = 0; model->n_states > 1 && i < model->board->n_parts; i++)
    if (model->free_current[i] >= 0 && is_part_free (model, (int) i, condition, node, faults, n))
      open_output (changes, model, (int) i);
}

gboolean
ml_changes_add_free_joint (MlChanges *changes, const MlModel *model, int condition, guint node, const MlFault *fault)
{
  const MlChoppedPath *path;

  if (fault->kind != ML_FAULT_JOINT || fault->part < 0 || !fault->n_pins || model->free_current[fault->part] < 0
      || model->board->parts[fault->part].kind->kind == ML_KIND_BLOCK || !ml_model_runs (model, node, condition))
    return FALSE;
  path = &g_array_index (model->chopped->paths[fault->part], MlChoppedPath, 0);
  if (fault->pins[0] != path->from && fault->pins[0] != path->to)
    return FALSE;
  ml_changes_add (changes, ML_NODAL_PIN_RESISTANCE, model->free_current[fault->part], fault->pins[0] == path->from ? 0 : 1, 0, fault->size);
  return TRUE;
}

/* ---- errors in the user's words ---- */

static gboolean
refuse (GError **error, const MlModel *model, const MlFault *fault, MlJudgeError code, const char *why)
{
  const char *part = fault->part >= 0 ? model->board->parts[fault->part].name : "the board";

  g_set_error (error, ML_JUDGE_ERROR, code, "%s %s: %s", part, ml_fault_word (fault->kind), why);
  return FALSE;
}

static gboolean
refuse_without_pins (GError **error, const MlModel *model, const MlFault *fault)
{
  const MlPart *part = &model->board->parts[fault->part];
  gboolean one = fault->kind == ML_FAULT_JOINT || part->n_pins < 2;
  g_autofree char *text = part->n_pins == 0 ? g_strdup ("it has no pins")
                                            : g_strdup_printf ("say which %s, as in pins=%s%s%s", one ? "pin" : "pins", part->pins[0].name, one ? "" : ",",
                                                               one ? "" : part->pins[1].name);

  return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, text);
}

static gboolean
find_pin (const MlModel *model, const MlFault *fault, guint i, MlDevicePin *ret_pin, GError **error)
{
  guint n = model->board->parts[fault->part].n_pins;

  if (i < fault->n_pins)
    {
      if (fault->pins[i] < 0 || (guint) fault->pins[i] >= n)
        return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "it has no such pin");
      *ret_pin = model->pins[fault->part][fault->pins[i]];
    }
  else if (fault->n_pins == 0 && n == 2)
    *ret_pin = model->pins[fault->part][i];
  else
    return refuse_without_pins (error, model, fault);
  if (ret_pin->device < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_NOT_SIMULATED, "this part has no model");
  return TRUE;
}

/* ---- one function per way a circuit changes ---- */

/* The part's own element between two of its pins; -1: there is none. */
static int
element_between (const MlNodalType *type, int pin_a, int pin_b, int *ret_to)
{
  for (int i = 0; i < ml_nodal_type_n_elements (type); i++)
    {
      int from;

      ml_nodal_type_element (type, i, &from, ret_to);
      if ((from == pin_a && *ret_to == pin_b) || (from == pin_b && *ret_to == pin_a))
        return i;
    }
  return -1;
}

static gboolean
add_open (MlChanges *changes, const MlModel *model, const MlFault *fault, GError **error)
{
  const MlNodalType *type = ml_model_type (model, fault->part);
  MlDevicePin a, b;
  int element, to;

  if (!find_pin (model, fault, 0, &a, error))
    return FALSE;
  if (fault->n_pins == 1 || !type)
    {
      ml_changes_add (changes, ML_NODAL_PIN_RESISTANCE, a.device, a.pin, 0, INFINITY);
      return TRUE;
    }
  if (!find_pin (model, fault, 1, &b, error))
    return FALSE;
  element = element_between (type, a.pin, b.pin, &to);
  if (element < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "nothing lies between these pins; name one pin for its lead");
  ml_changes_add (changes, ML_NODAL_OPEN_ELEMENT, a.device, element, 0, INFINITY);
  return TRUE;
}

/* Inside the part, where its contact closes: solder and metal are at one voltage at either pin then. */
static gboolean
add_worn_contact (MlChanges *changes, const MlModel *model, const MlFault *fault, double size, GError **error)
{
  const MlNodalType *type = ml_model_type (model, fault->part);
  g_autofree char *name = NULL;
  MlDevicePin a, b;
  int to, parameter = -1;

  if (!find_pin (model, fault, 0, &a, error) || !find_pin (model, fault, 1, &b, error))
    return FALSE;
  if (type && element_between (type, a.pin, b.pin, &to) >= 0)
    {
      name = ml_nodal_type_n_elements (type) > 1 ? g_strdup_printf ("worn_%s", ml_nodal_type_pin (type, to)) : g_strdup ("worn");
      parameter = ml_nodal_type_find_parameter (type, name);
    }
  if (parameter < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "no contact of its own lies between these pins; name one pin for its solder");
  ml_changes_add (changes, ML_NODAL_SET_PARAMETER, a.device, parameter, 0, size);
  return TRUE;
}

static gboolean
add_joint (MlChanges *changes, const MlModel *model, const MlFault *fault, double size, GError **error)
{
  MlDevicePin pin;

  if (fault->n_pins > 1)
    return add_worn_contact (changes, model, fault, size, error);
  if (!find_pin (model, fault, 0, &pin, error))
    return FALSE;
  ml_changes_add (changes, ML_NODAL_PIN_RESISTANCE, pin.device, pin.pin, 0, size);
  return TRUE;
}

/* A block's pins are devices of their own, links to its inner nets: those are bridged, so that a joint or a lifted leg stays outside. */
static gboolean
add_bridge_of_block (MlChanges *changes, const MlModel *model, int condition, MlDevicePin a, MlDevicePin b, double size)
{
  const MlNodalCircuit *circuit = model->conditions[condition].circuit;

  ml_changes_add (changes, ML_NODAL_LINK_NETS, -1, ml_nodal_circuit_pin_net (circuit, a.device, 1), ml_nodal_circuit_pin_net (circuit, b.device, 1), size);
  return TRUE;
}

static gboolean
add_bridge (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, double size, GError **error)
{
  MlDevicePin a, b;

  if (!find_pin (model, fault, 0, &a, error) || !find_pin (model, fault, 1, &b, error))
    return FALSE;
  if (a.device == b.device && a.pin == b.pin)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "two different pins are needed");
  if (a.device != b.device)
    return add_bridge_of_block (changes, model, condition, a, b, size);
  ml_changes_add (changes, ML_NODAL_BRIDGE_PINS, a.device, a.pin, b.pin, size);
  return TRUE;
}

static gboolean
add_factor_of (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, const char *name, double factor, GError **error)
{
  const MlNodalType *type = ml_model_type (model, fault->part);
  int device = model->first_device[fault->part], parameter;

  if (!type)
    return refuse (error, model, fault, ML_JUDGE_ERROR_NOT_SIMULATED, "this part has no model");
  parameter = name ? ml_nodal_type_find_parameter (type, name) : -1;
  if (parameter < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "parts of this kind have no value that could drift");
  ml_changes_add (changes, ML_NODAL_SET_PARAMETER, device, parameter, 0,
                  factor * ml_nodal_circuit_parameter (model->conditions[condition].circuit, device, parameter));
  return TRUE;
}

static gboolean
add_factor (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, double factor, GError **error)
{
  return add_factor_of (changes, model, condition, fault, ml_modes_main_parameter (model->board->parts[fault->part].kind->kind), factor, error);
}

/* Another value, by its factor or as it is written on the part; another type, by that of its drop; or an npn for a pnp. */
static gboolean
add_wrong_part (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, GError **error)
{
  const MlPart *part = &model->board->parts[fault->part];
  const MlNodalType *type = ml_model_type (model, fault->part);
  int polarity = type ? ml_nodal_type_find_parameter (type, "polarity") : -1;
  double factor = isfinite (fault->size) ? fault->size : ml_wrong_part_factor (part, fault->as);

  if (polarity >= 0)
    ml_changes_add (changes, ML_NODAL_SET_PARAMETER, model->first_device[fault->part], polarity, 0, -1);
  else if (!isfinite (factor))
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "say what is fitted, as in as=47k or size=10 (ten times its value)");
  else if (ml_is_of_other_type (part))
    return add_factor_of (changes, model, condition, fault, "drop", factor, error);
  else
    return add_factor (changes, model, condition, fault, factor, error);
  return TRUE;
}

/* The part turned round, or with its pins in another order: every pin gets the net of another. */
static gboolean
add_permutation (MlChanges *changes, const MlModel *model, const MlFault *fault, GError **error)
{
  const MlNodalType *type = ml_model_type (model, fault->part);
  int n, *permutation;
  MlNodalChange change = { .kind = ML_NODAL_PERMUTE_PINS };

  if (!type)
    return refuse (error, model, fault, ML_JUDGE_ERROR_NOT_SIMULATED, "this part has no model");
  n = ml_nodal_type_n_pins (type);
  permutation = g_new (int, n);
  g_ptr_array_add (changes->owned, permutation);
  for (int i = 0; i < n; i++)
    permutation[i] = i;
  if (fault->n_pins >= 2)
    /* pins in a ring: the first gets the net of the second, …, the last that of the first */
    for (guint i = 0; i < fault->n_pins; i++)
      {
        MlDevicePin from, to;
        if (!find_pin (model, fault, i, &from, error) || !find_pin (model, fault, (i + 1) % fault->n_pins, &to, error))
          return FALSE;
        permutation[from.pin] = to.pin;
      }
  else if (n == 2)
    {
      permutation[0] = 1;
      permutation[1] = 0;
    }
  else if (!ml_modes_reversal (type, permutation))
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "say which pins are exchanged, as in pins=collector,emitter");
  change.device = model->first_device[fault->part];
  change.permutation = permutation;
  g_array_append_val (changes->array, change);
  return TRUE;
}

static gboolean
add_stuck (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, double size, GError **error)
{
  const MlPart *part = &model->board->parts[fault->part];
  const char *to = fault->kind == ML_FAULT_STUCK_HIGH ? "positive" : "negative";
  int pin = ml_part_find_pin (part, to), out = ml_part_find_pin (part, "out");
  MlFault bridge = *fault;

  if (pin < 0 || out < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "only a part with an output and supply pins can be stuck");
  bridge.pins[0] = out;
  bridge.pins[1] = pin;
  bridge.n_pins = 2;
  return add_bridge (changes, model, condition, &bridge, size, error);
}

static gboolean
add_regulator_fault (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, double size, GError **error)
{
  const MlPart *part = &model->board->parts[fault->part];
  int in = ml_part_find_pin (part, "in"), out = ml_part_find_pin (part, "out");
  MlFault own = *fault;

  if (in < 0 || out < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "only a part with an input and an output can do that");
  own.pins[0] = out;
  own.pins[1] = in;
  own.n_pins = fault->kind == ML_FAULT_DEAD ? 1 : 2;
  return fault->kind == ML_FAULT_DEAD ? add_joint (changes, model, &own, INFINITY, error) : add_bridge (changes, model, condition, &own, size, error);
}

static gboolean
add_cut (MlChanges *changes, const MlModel *model, const MlFault *fault, GError **error)
{
  if (!fault->n_cut)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "say which pins are cut off, as in pins=U1.1,C3.1");
  for (guint i = 0; i < fault->n_cut; i++)
    {
      MlDevicePin pin = model->pins[fault->cut_parts[i]][fault->cut_pins[i]];
      if (pin.device >= 0)
        ml_changes_add (changes, ML_NODAL_DETACH, pin.device, pin.pin, 0, 0);
    }
  return TRUE;
}

static gboolean
add_link (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, double size, GError **error)
{
  const int *net_of = model->conditions[condition].net_of;

  if (fault->net_a < 0 || fault->net_b < 0 || fault->net_a == fault->net_b)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "two different nets are needed, as in nets=A,B");
  ml_changes_add (changes, ML_NODAL_LINK_NETS, -1, net_of[fault->net_a], net_of[fault->net_b], size);
  return TRUE;
}

/* A pin that is on another net than drawn. */
static gboolean
add_wrong_net (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, GError **error)
{
  MlDevicePin pin;

  if (fault->n_pins != 1)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "say which pin, as in pins=1");
  if (fault->net_a < 0)
    return refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "say on which net the pin is, as in nets=A");
  if (!find_pin (model, fault, 0, &pin, error))
    return FALSE;
  ml_changes_add (changes, ML_NODAL_MOVE_PIN, pin.device, pin.pin, model->conditions[condition].net_of[fault->net_a], 0);
  return TRUE;
}

static double
size_or (const MlFault *fault, double otherwise)
{
  return isfinite (fault->size) ? fault->size : otherwise;
}

gboolean
ml_changes_add_fault (MlChanges *changes, const MlModel *model, int condition, const MlFault *fault, int *ret_sized, GError **error)
{
  guint before = changes->array->len;
  gboolean done;

  switch (fault->kind)
    {
    case ML_FAULT_OPEN: done = add_open (changes, model, fault, error); break;
    case ML_FAULT_JOINT: done = add_joint (changes, model, fault, size_or (fault, DEFAULT_JOINT_OHM), error); break;
    case ML_FAULT_SHORT: done = add_bridge (changes, model, condition, fault, size_or (fault, 0), error); break;
    case ML_FAULT_LEAK: done = add_bridge (changes, model, condition, fault, size_or (fault, DEFAULT_LEAK_OHM), error); break;
    case ML_FAULT_HIGH: done = add_factor (changes, model, condition, fault, size_or (fault, 3), error); break;
    case ML_FAULT_LOW: done = add_factor (changes, model, condition, fault, size_or (fault, 0.5), error); break;
    case ML_FAULT_DEAD:
    case ML_FAULT_THROUGH:
      done = add_regulator_fault (changes, model, condition, fault, size_or (fault, ml_assumption ("size.through-ohm")), error);
      break;
    case ML_FAULT_STUCK_HIGH:
    case ML_FAULT_STUCK_LOW: done = add_stuck (changes, model, condition, fault, size_or (fault, ml_assumption ("size.stuck-ohm")), error); break;
    case ML_FAULT_REVERSED:
    case ML_FAULT_PINS_EXCHANGED:
    case ML_FAULT_DRAWN_REVERSED: done = add_permutation (changes, model, fault, error); break;
    case ML_FAULT_STRAY_LINK:
    case ML_FAULT_MISSING_LINK: done = add_link (changes, model, condition, fault, size_or (fault, DEFAULT_LINK_OHM), error); break;
    case ML_FAULT_BROKEN_TRACK:
    case ML_FAULT_EXTRA_LINK: done = add_cut (changes, model, fault, error); break;
    case ML_FAULT_WRONG_NET: done = add_wrong_net (changes, model, condition, fault, error); break;
    case ML_FAULT_MISBEHAVING: done = TRUE; break; /* its currents are unknowns of the verdict, the circuit is the healthy one */
    case ML_FAULT_STOPPED: done = TRUE; break;     /* no free currents, see there */
    case ML_FAULT_WRONG_PART: done = add_wrong_part (changes, model, condition, fault, error); break;
    case ML_N_FAULTS:
    default: done = refuse (error, model, fault, ML_JUDGE_ERROR_BAD_SUPPOSE, "not a fault that can be supposed"); break;
    }
  if (ret_sized)
    *ret_sized = done && isfinite (fault->size) && changes->array->len > before ? (int) before : -1;
  return done;
}

void
ml_changes_lift (MlChanges *changes, const MlModel *model, const MlProbe *red, const MlProbe *black)
{
  const MlProbe *tips[] = { red, black };

  for (guint i = 0; i < G_N_ELEMENTS (tips); i++)
    {
      const MlProbe *tip = tips[i];
      MlDevicePin pin = tip->lead == ML_LEAD_LIFTED ? model->pins[tip->part][tip->pin] : (MlDevicePin){ -1, -1 };

      if (pin.device >= 0)
        ml_changes_add (changes, ML_NODAL_DETACH, pin.device, pin.pin, (int) i + 1, 0); /* the first spare net is a broken track's */
    }
}
