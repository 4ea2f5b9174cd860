/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers 0 to n - 1 in groups that only grow (union-find). parent[i] is i at first; the lowest number of a group stands for it. */
#pragma once

#include <glib.h>

G_BEGIN_DECLS

static inline guint
ml_group_of (guint *parent, guint i)
{
  while (parent[i] != i)
    i = parent[i] = parent[parent[i]];
  return i;
}

static inline void
ml_group_join (guint *parent, guint a, guint b)
{
  a = ml_group_of (parent, a);
  b = ml_group_of (parent, b);
  parent[MAX (a, b)] = MIN (a, b);
}

G_END_DECLS
