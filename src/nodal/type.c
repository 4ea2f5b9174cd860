/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/device.h"

#include <string.h>

/* One line for each kind. */
#define ML_NODAL_TYPES(X) \
  X (resistor) X (link) X (capacitor) X (inductor) X (fuse) X (switch) X (coil) X (potentiometer) X (thermistor) X (changeover) \
  X (contact) X (diode) X (led) X (zener) X (tvs) X (bridge) X (npn) X (pnp) X (regulator) X (battery) X (supply) X (load) X (source) \
  X (lamp) X (varistor) X (nmos) X (pmos) X (njfet) X (pjfet) X (opto) X (shunt) X (adjustable) X (converter) X (opamp) X (comparator) \
  X (thyristor) X (triac) X (chopped)

#define DECLARE(name) extern const MlNodalType ml_nodal_##name##_type;
ML_NODAL_TYPES (DECLARE)

#define LIST(name) &ml_nodal_##name##_type,
static const MlNodalType *const types[] = { ML_NODAL_TYPES (LIST) };

const MlNodalType *
ml_nodal_type_at (int i)
{
  return i >= 0 && (size_t) i < sizeof types / sizeof types[0] ? types[i] : NULL;
}

const MlNodalType *
ml_nodal_type_find (const char *word)
{
  if (word)
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++)
      if (strcmp (types[i]->word, word) == 0)
        return types[i];
  return NULL;
}

const char *
ml_nodal_type_word (const MlNodalType *type)
{
  return type->word;
}

int
ml_nodal_type_n_pins (const MlNodalType *type)
{
  return type->n_pins;
}

const char *
ml_nodal_type_pin (const MlNodalType *type, int pin)
{
  return pin >= 0 && pin < type->n_pins ? type->pins[pin] : NULL;
}

int
ml_nodal_type_n_parameters (const MlNodalType *type)
{
  return type->n_parameters;
}

const char *
ml_nodal_type_parameter (const MlNodalType *type, int parameter)
{
  return parameter >= 0 && parameter < type->n_parameters ? type->parameters[parameter].name : NULL;
}

double
ml_nodal_type_default (const MlNodalType *type, int parameter)
{
  return parameter >= 0 && parameter < type->n_parameters ? type->parameters[parameter].initial : 0.0;
}

int
ml_nodal_type_find_parameter (const MlNodalType *type, const char *name)
{
  for (int i = 0; i < type->n_parameters; i++)
    if (strcmp (type->parameters[i].name, name) == 0)
      return i;
  return -1;
}

int
ml_nodal_type_n_elements (const MlNodalType *type)
{
  return type->n_elements;
}

void
ml_nodal_type_element (const MlNodalType *type, int element, int *ret_pin_a, int *ret_pin_b)
{
  if (element < 0 || element >= type->n_elements)
    return;
  *ret_pin_a = type->elements[element].pin_a;
  *ret_pin_b = type->elements[element].pin_b;
}
