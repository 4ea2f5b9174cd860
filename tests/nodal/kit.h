/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A circuit under test in a few lines. */
#pragma once

#include "support/near.h"

#include "nodal/nodal.h"

typedef struct
{
  MlNodalCircuit *circuit;
  MlNodalSolver *solver; /* made by kit_solve or kit_ready */
  MlNodalSolution at;
} Kit;

/** kit_begin: nets 1..n_nets beside the reference. */
void kit_begin (Kit *kit, int n_nets);
/** kit_add: pins is a list of net numbers; then name, value pairs of parameters ending in NULL. Returns the device number. */
int kit_add (Kit *kit, const char *word, const int *nets, ...);
/** kit_two: a two-pin device with its first parameter. */
int kit_two (Kit *kit, const char *word, int a, int b, double value);
void kit_ready (Kit *kit);
/** kit_solve: with changes, cold; fails the test when it does not solve. */
void kit_solve (Kit *kit, const MlNodalChange *changes, int n_changes);
double kit_parameter (const Kit *kit, int device, const char *name);
int kit_parameter_index (const Kit *kit, int device, const char *name);
double kit_pin_a (const Kit *kit, int device, int pin);
/** kit_volts: a voltmeter reading between two nets. */
double kit_volts (Kit *kit, const MlNodalChange *changes, int n_changes, int red, int black, double input_ohm);
void kit_end (Kit *kit);
/**
 * kit_word_at: every kind of the engine's table, one after the other, then kinds that a parameter makes another thing, as "KIND/PARAMETER/VALUE";
 * NULL beyond the last one. What a test goes through with this it cannot miss when a kind is added.
 */
const char *kit_word_at (int i);
/** kit_word_type: the kind, and its parameters as the word says, else its defaults: ret_parameters[ML_NODAL_MAX_PARAMETERS]. */
const MlNodalType *kit_word_type (const char *word, double *ret_parameters);
/** kit_random: the next of a seeded sequence, 0 to 1. */
double kit_random (unsigned long *state);
#define NETS(...) ((const int[]){ __VA_ARGS__ })
