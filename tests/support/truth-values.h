/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The true values of a part's electrical parameters, drawn once per physical board. */
#pragma once

#include "support/random.h"
#include "support/truth.h"

G_BEGIN_DECLS

enum
{
  ML_TRUE_OHM = 0,                                                              /* resistors of all kinds, capacitor's leak */
  ML_TRUE_IS = 0, ML_TRUE_NVT, ML_TRUE_SERIES, ML_TRUE_LEAK,                    /* diode, led, zener's forward side */
  ML_TRUE_ZENER_V, ML_TRUE_ZENER_NVT, ML_TRUE_ZENER_A,
  ML_TRUE_Q_IS = 0, ML_TRUE_Q_GAIN, ML_TRUE_Q_REVERSE, ML_TRUE_Q_EARLY, ML_TRUE_Q_LEAK, /* npn, pnp; ohm */
  ML_TRUE_THRESHOLD = 0, ML_TRUE_K,                                             /* nmos, pmos */
  ML_TRUE_U_V = 0, ML_TRUE_U_DROPOUT, ML_TRUE_U_QUIESCENT, ML_TRUE_U_LIMIT,     /* regulator */
  ML_TRUE_U_EFFICIENCY, ML_TRUE_U_START,                                        /* converter beside these */
  ML_TRUE_T_TRIGGER = 0, ML_TRUE_T_HOLD, ML_TRUE_T_DROP,                        /* thyristor, triac */
  ML_TRUE_B_V = 0, ML_TRUE_B_OHM,                                               /* battery */
  ML_TRUE_PULL_V = 1, ML_TRUE_RELEASE_V,                                        /* coil beside its resistance */
  ML_TRUE_LAMP_V = 1,                                                           /* lamp beside its hot resistance */
  ML_TRUE_C_V = 0, ML_TRUE_C_BEND,                                              /* tvs: volts per e; varistor: exponent */
  ML_TRUE_S_V = 0, ML_TRUE_S_OHM, ML_TRUE_S_BIAS,                               /* shunt */
  ML_TRUE_RATIO = ML_TRUE_LEAK + 1,                                             /* opto beside its emitter */
  ML_TRUE_A_OFFSET = 0, ML_TRUE_A_UPPER, ML_TRUE_A_LOWER, ML_TRUE_A_OHM, ML_TRUE_A_LIMIT, ML_TRUE_A_QUIESCENT, ML_TRUE_A_BIAS, ML_TRUE_A_INPUT_ROOM, /* opamp, comparator */
  ML_N_TRUE = 12
};

typedef struct { double value[ML_N_TRUE]; } MlTrueValues;

/** ml_true_values_draw: random is this part's own; batch is shared by like parts of the board. known: the main value stands on the drawing. */
MlTrueValues ml_true_values_draw (const MlPart *part, MlTruthDraw draw, gboolean known, MlRandom *random, MlRandom *batch,
                                  const MlTruthWorld *world);
double ml_true_thermal_voltage (const MlTruthWorld *world);

G_END_DECLS
