/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The entry point that libFuzzer calls; replay.c calls it in the ordinary tests. */
#pragma once

#include <glib.h>
#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput (const uint8_t *data, size_t size);
