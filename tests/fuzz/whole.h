/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A board and a job in one input, for the targets that go the whole way: what stands behind the line "# ---- job" is the job. */
#pragma once

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "job/job.h"

G_BEGIN_DECLS

/** whole_read: both without the lines that are wrong; NULL when too large for a fuzzer's pace (parts, nets, conditions, readings). */
MlJob *whole_read (const uint8_t *data, size_t size);

G_END_DECLS
