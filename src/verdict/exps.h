/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Exponentials of many numbers at once: most of what a reading costs once everything is predicted. Within 2e-16 of the value, the same to the last bit on every
 * processor. Source: argument reduction by multiples of ln 2 in two parts, Cody and Waite, Software Manual for the Elementary Functions (1980). */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

/** ml_exps: x[n] to exp (x); below -700 nothing, above 700 as at 700. */
void ml_exps (double *x, guint n);
/** ml_exps_add_up: factor[n] e^power[n] over e^*ret_most, the largest power and at least 0, into factor, what is below e^-60 of that as 0; their sum. */
double ml_exps_add_up (const double *power, double *factor, guint n, double *ret_most);
/** ml_exps_bells: weight[n] exp (-((y - mean[n]) per_sigma[n])^2 / 2) per_sigma[n] into ret. */
void ml_exps_bells (double y, const double *mean, const double *per_sigma, const double *weight, guint n, double *ret);

G_END_DECLS
