/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "nodal/kit.h"

#include "nodal/device.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const as_other_things[] = {
  "comparator/pull_up/0.02", "thyristor/state/1", "triac/state/1", "switch/state/1", "changeover/state/1", "changeover/state/2", "contact/state/1",
  "thermistor/temperature/310", "potentiometer/position/0", "current-source/current/0.01", "npn/polarity/-1",
  "opamp/bias/-3e-8", "comparator/bias/-3e-8", "switch/worn/20", "changeover/worn_a/20", "contact/worn_nc/20",
};
#define N_OTHERS ((int) (sizeof as_other_things / sizeof as_other_things[0]))

const char *
kit_word_at (int i)
{
  int n = 0;

  for (; ml_nodal_type_at (n); n++)
    if (n == i)
      return ml_nodal_type_at (n)->word;
  return i - n < N_OTHERS ? as_other_things[i - n] : NULL;
}

const MlNodalType *
kit_word_type (const char *word, double *ret_parameters)
{
  char name[32] = "", parameter[32] = "";
  double value;
  int n_found = sscanf (word, "%31[^/]/%31[^/]/%lf", name, parameter, &value);
  const MlNodalType *type = ml_nodal_type_find (name);

  assert_non_null (type);
  for (int k = 0; k < type->n_parameters; k++)
    ret_parameters[k] = type->parameters[k].initial;
  assert_true (n_found == 1 || n_found == 3);
  if (n_found == 3)
    {
      int index = ml_nodal_type_find_parameter (type, parameter);
      assert_true (index >= 0);
      ret_parameters[index] = value;
    }
  return type;
}

void
kit_begin (Kit *kit, int n_nets)
{
  memset (kit, 0, sizeof *kit);
  kit->circuit = ml_nodal_circuit_new ();
  assert_non_null (kit->circuit);
  for (int i = 1; i <= n_nets; i++)
    assert_int_equal (ml_nodal_circuit_add_net (kit->circuit), i);
}

int
kit_add (Kit *kit, const char *word, const int *nets, ...)
{
  const MlNodalType *type = ml_nodal_type_find (word);
  double parameters[16];
  va_list list;
  const char *name;

  if (!type)
    print_error ("no type %s\n", word);
  assert_non_null (type);
  for (int i = 0; i < ml_nodal_type_n_parameters (type); i++)
    parameters[i] = ml_nodal_type_default (type, i);
  va_start (list, nets);
  while ((name = va_arg (list, const char *)))
    {
      int index = ml_nodal_type_find_parameter (type, name);
      assert_true (index >= 0);
      parameters[index] = va_arg (list, double);
    }
  va_end (list);
  int device = ml_nodal_circuit_add_device (kit->circuit, type, nets, parameters);
  assert_true (device >= 0);
  return device;
}

int
kit_two (Kit *kit, const char *word, int a, int b, double value)
{
  const MlNodalType *type = ml_nodal_type_find (word);
  assert_non_null (type);
  return kit_add (kit, word, NETS (a, b), ml_nodal_type_parameter (type, 0), value, NULL);
}

void
kit_ready (Kit *kit)
{
  MlNodalStatus status;

  assert_int_equal (ml_nodal_circuit_finish (kit->circuit), ML_NODAL_OK);
  kit->solver = ml_nodal_solver_new (kit->circuit, &status);
  assert_int_equal (status, ML_NODAL_OK);
  assert_int_equal (ml_nodal_solution_init (&kit->at, kit->circuit), ML_NODAL_OK);
}

void
kit_solve (Kit *kit, const MlNodalChange *changes, int n_changes)
{
  if (!kit->solver)
    kit_ready (kit);
  MlNodalStatus status = ml_nodal_solve (kit->solver, changes, n_changes, NULL, &kit->at);
  if (status < 0)
    print_error ("%s: net %d device %d\n", ml_nodal_status_text (status), kit->at.failed_net, kit->at.failed_device);
  assert_true (status >= 0);
}

int
kit_parameter_index (const Kit *kit, int device, const char *name)
{
  return ml_nodal_type_find_parameter (ml_nodal_circuit_type (kit->circuit, device), name);
}

double
kit_parameter (const Kit *kit, int device, const char *name)
{
  return ml_nodal_circuit_parameter (kit->circuit, device, kit_parameter_index (kit, device, name));
}

double
kit_pin_a (const Kit *kit, int device, int pin)
{
  return kit->at.pin_a[ml_nodal_circuit_first_pin (kit->circuit, device) + pin];
}

double
kit_volts (Kit *kit, const MlNodalChange *changes, int n_changes, int red, int black, double input_ohm)
{
  MlNodalMeter meter = { .reads = ML_NODAL_READ_VOLTS, .red = { red, -1, 0 }, .black = { black, -1, 0 }, .input_ohm = input_ohm };
  double value = NAN;

  kit_solve (kit, changes, n_changes);
  MlNodalStatus status = ml_nodal_measure (kit->solver, changes, n_changes, &kit->at, &meter, NULL, 0, &value, NULL, NULL, NULL);
  assert_int_equal (status, ML_NODAL_OK);
  return value;
}

void
kit_end (Kit *kit)
{
  ml_nodal_solution_clear (&kit->at);
  ml_nodal_solver_free (kit->solver);
  ml_nodal_circuit_free (kit->circuit);
}

double
kit_random (unsigned long *state)
{
  /* Knuth, MMIX linear congruential generator */
  *state = *state * 6364136223846793005UL + 1442695040888963407UL;
  return (double) (*state >> 11) / 9007199254740992.0;
}
