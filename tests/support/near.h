/* SPDX-License-Identifier: GPL-3.0-or-later */
/* cmocka's own float check casts to float; this one does not. */
#pragma once

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

/** assert_near: fails unless |actual - expected| <= atol + rtol |expected|; NAN never passes. */
#define assert_near(actual, expected, rtol, atol) \
  ml_assert_near ((actual), (expected), (rtol), (atol), #actual, __FILE__, __LINE__)
void ml_assert_near (double actual, double expected, double rtol, double atol, const char *what, const char *file, int line);
