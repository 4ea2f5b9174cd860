/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Circuits of the truth program written out by hand, for the tests that examine it. */
#pragma once

#include "support/near.h"
#include "support/truth-network.h"

typedef struct { MlTruthNetwork network; double *x; } Case;

static inline void
begin (Case *c, int n_nodes)
{
  ml_truth_network_init (&c->network);
  for (int i = 0; i < n_nodes; i++)
    ml_truth_network_node (&c->network);
}

static inline void
add (Case *c, MlTruthLaw law, int a, int b, double p0, double p1, double p2)
{
  ml_truth_network_add (&c->network, law, (int[]) { a, b }, (double[]) { p0, p1, p2 });
}

static inline void
solve (Case *c)
{
  c->x = g_new0 (double, ml_truth_network_size (&c->network));
  assert_true (ml_truth_network_solve (&c->network, c->x));
}

static inline void
end (Case *c)
{
  ml_truth_network_clear (&c->network);
  g_free (c->x);
}
